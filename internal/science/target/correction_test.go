package target

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
)

// seenBy is the target as a camera would see it that is an exact sRGB device,
// but for what change does to its linear light.
func seenBy(change func(rgb [3]float64) [3]float64) []Sample {
	var out []Sample
	for _, p := range After2014().Patches {
		var rgb [3]float64
		rgb[0], rgb[1], rgb[2] = colour.SRGB.FromLab(p.Lab)
		rgb = change(rgb)
		for c := range rgb {
			rgb[c] = max(0, rgb[c])
		}
		out = append(out, Sample{p, rgb})
	}
	return out
}

// A patch's error left out must be what a fit to the other patches, with a
// choice of its own, makes of it: the definition of nested leave-one-out.
func TestPatchLeftOutTakesNoPart(t *testing.T) {
	all := realSamples(t, "target24_in_case.png")
	c, err := Fit(all, colour.DisplayP3)
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(all); i += 5 {
		others := append(append([]Sample{}, all[:i]...), all[i+1:]...)
		without, err := Fit(others, colour.DisplayP3)
		if err != nil {
			t.Fatal(err)
		}
		want := colour.Difference(without.XYZ(all[i].RGB).Lab(colour.D50), all[i].Patch.Lab)
		if got := c.Patches[i].LeftOut; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %.6f left out, but %.6f by a fit without it", all[i].Patch.Name, got, want)
		}
	}
}

// Rows of an invented camera, and the light of several lamps: a camera that is a
// matrix away from the eye must be brought right, colours off the target too.
func TestExactCameraIsBroughtRight(t *testing.T) {
	mix := [3][3]float64{{0.55, 0.15, 0.02}, {0.12, 0.60, 0.08}, {0.03, 0.14, 0.40}}
	for _, exposure := range []float64{0.3, 0.7, 1} {
		change := func(rgb [3]float64) (out [3]float64) {
			for r := range mix {
				for k := range rgb {
					out[r] += exposure * mix[r][k] * rgb[k]
				}
			}
			return out
		}
		c, err := Fit(seenBy(change), colour.SRGB)
		if err != nil {
			t.Fatal(err)
		}
		if c.LOOMean > 1.0 {
			t.Errorf("exposure %v: %s, %.2f dE00 left out", exposure, c.Method, c.LOOMean)
		}
		for _, lab := range []colour.Lab{{L: 55, A: -25, B: 5}, {L: 30, A: 8, B: 12}, {L: 60, A: 18, B: 30}, {L: 75, A: -15, B: -10}} {
			var rgb [3]float64
			rgb[0], rgb[1], rgb[2] = colour.SRGB.FromLab(lab)
			if d := colour.Difference(c.XYZ(change(rgb)).Lab(colour.D50), lab); d > 1.5 {
				t.Errorf("exposure %v: %+v comes out %.2f off", exposure, lab, d)
			}
		}
	}
}

func TestToneCurveIsUndone(t *testing.T) {
	for name, change := range map[string]func(v float64) float64{
		"gamma":       func(v float64) float64 { return 0.8 * math.Pow(v, 0.75) },
		"stray light": func(v float64) float64 { return 0.04 + 0.7*v },
		"lifted":      func(v float64) float64 { s := math.Cbrt(v); s += 0.25 * s * (1 - s); return s * s * s },
	} {
		c, err := Fit(seenBy(func(rgb [3]float64) [3]float64 {
			for k := range rgb {
				rgb[k] = change(max(0, rgb[k]))
			}
			return rgb
		}), colour.SRGB)
		if err != nil {
			t.Fatal(err)
		}
		if c.LOOMean > 1.5 {
			t.Errorf("%s: %s leaves %.2f dE00", name, c.Method, c.LOOMean)
		}
	}
}

func TestCorrectionNeverRunsWild(t *testing.T) {
	for _, file := range []string{"target24_in_case.png", "target24_small_p3.jpg"} {
		samples := realSamples(t, file)
		c, err := Fit(samples, colour.DisplayP3)
		if err != nil {
			t.Fatal(err)
		}
		// What the picture's own space makes of the light after the tone curve is
		// no extrapolation; what is added to it must stay as small as on the patches.
		share := 0.0
		added := func(rgb [3]float64) (most, light float64) {
			var u [3]float64
			for k := range u {
				u[k] = c.m.tone[k].at(rgb[k])
				light += u[k] / 3
			}
			base, got := c.m.base(u), c.m.share(rgb)
			for k := range got {
				if got[k] > 0 {
					most = max(most, math.Abs(got[k]-base[k]))
				}
			}
			return most, light
		}
		for _, s := range samples {
			d, light := added(s.RGB)
			share = max(share, d/light)
		}
		rapid.Check(t, func(t *rapid.T) {
			var rgb [3]float64
			for k := range rgb {
				rgb[k] = rapid.Float64Range(0, 1).Draw(t, "light")
			}
			xyz := c.XYZ(rgb)
			for _, v := range [3]float64{xyz.X, xyz.Y, xyz.Z} {
				if !(v >= 0 && v <= 2.5) {
					t.Fatalf("%v becomes %+v", rgb, xyz)
				}
			}
			if d, light := added(rgb); d > 3*share*light+1e-9 {
				t.Fatalf("%v: %.3f is added at a light of %.3f; the patches have at most %.3f of theirs", rgb, d, light, share)
			}
		})
		last := -1.0
		for i := range 501 {
			v := float64(i) / 500
			y := c.XYZ([3]float64{v, v, v}).Y
			if y < last {
				t.Errorf("%s: a grey of %.3f comes out darker than one of less", file, v)
			}
			last = y
		}
	}
}

func TestTooFewPatchesAndFoulLightAreRefused(t *testing.T) {
	all := realSamples(t, "target24_in_case.png")
	change := func(f func(s []Sample) []Sample) []Sample { return f(append([]Sample{}, all...)) }
	for name, bad := range map[string][]Sample{
		"none":       nil,
		"seventeen":  all[7:],
		"two greys":  all[:20],
		"no number":  change(func(s []Sample) []Sample { s[3].RGB[1] = math.NaN(); return s }),
		"negative":   change(func(s []Sample) []Sample { s[3].RGB[1] = -0.1; return s }),
		"foul patch": change(func(s []Sample) []Sample { s[3].Patch.Lab.L = math.Inf(1); return s }),
	} {
		var out *science.RangeError
		if _, err := Fit(bad, colour.SRGB); !errors.As(err, &out) {
			t.Errorf("%s: %v, want a RangeError", name, err)
		}
	}
	black := change(func(s []Sample) []Sample {
		for i := range s {
			s[i].RGB = [3]float64{}
		}
		return s
	})
	if _, err := Fit(black, colour.SRGB); err == nil {
		t.Error("a black picture was corrected")
	}
}

func TestNoiseNeverBreaksAFit(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 3 {
		c, err := Fit(seenBy(func([3]float64) [3]float64 { return [3]float64{r.Float64(), r.Float64(), r.Float64()} }), colour.SRGB)
		if err != nil {
			continue
		}
		if !(c.LOOMean > 10) {
			t.Errorf("chance is corrected to %.2f dE00", c.LOOMean)
		}
	}
}

func BenchmarkFit(b *testing.B) {
	s := realSamples(b, "target24_in_case.png")
	for b.Loop() {
		if _, err := Fit(s, colour.DisplayP3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkXYZ(b *testing.B) {
	c, err := Fit(realSamples(b, "target24_in_case.png"), colour.DisplayP3)
	if err != nil {
		b.Fatal(err)
	}
	rgb := [3]float64{0.2, 0.5, 0.4}
	for b.Loop() {
		rgb[0] = 0.2 + 1e-6*c.XYZ(rgb).X
	}
}

// phone is an invented telephone: a curve towards contrast and more colour, on
// sRGB values of 8 bits.
func phone(curve, saturation float64) func(rgb [3]float64) [3]float64 {
	return func(rgb [3]float64) [3]float64 {
		r, g, b := colour.SRGB.Encode(rgb[0], rgb[1], rgb[2])
		v := [3]float64{r, g, b}
		grey := (r + g + b) / 3
		for k, x := range v {
			x += curve * (x*x*(3-2*x) - x)
			x = min(1, max(0, grey+saturation*(x-grey)))
			v[k] = math.Round(255*x) / 255
		}
		r, g, b = colour.SRGB.Decode(v[0], v[1], v[2])
		return [3]float64{r, g, b}
	}
}

// A simulation of the same kind with 12 patina-like colours found, by a tone
// curve from the greys and then a 3 x 3: mean 0.8 without processing, 1.5 for a
// mild and 3.0 for a strong one; with a grey gain alone 4.1, 4.2 and 8.2. The
// target's own patches, which are more colourful, left out must do as well.
func TestTelephonesProcessingIsMostlyUndone(t *testing.T) {
	for _, c := range []struct{ curve, saturation, most float64 }{{0, 1, 0.8}, {0.5, 1.15, 1.5}, {1, 1.3, 3.0}} {
		fit, err := Fit(seenBy(phone(c.curve, c.saturation)), colour.SRGB)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("curve %v, saturation %v: %s: %.2f mean, %.2f at 95 %%", c.curve, c.saturation, fit.Method, fit.LOOMean, fit.LOOP95)
		if fit.LOOMean > c.most {
			t.Errorf("curve %v, saturation %v: %.2f dE00 left out, want %.2f", c.curve, c.saturation, fit.LOOMean, c.most)
		}
	}
}
