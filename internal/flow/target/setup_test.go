package target

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

var shotAt = time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)

// spectra are reflectances by name, 380 to 730 nm in steps of 10: the patches of
// the target (Ohta 1997, see testdata/README.md).
func spectra(t testing.TB) [][]float64 {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(file(t, "target24_reflectance_10nm.csv")))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, row := range rows[1:] {
		if row[0] != "Ohta1997" {
			continue
		}
		var s []float64
		for _, v := range row[2:] {
			s = append(s, float(t, v))
		}
		out = append(out, s)
	}
	if len(out) != 24 || len(out[0]) != 36 {
		t.Fatalf("%d spectra", len(out))
	}
	return out
}

// planck is the light of a black body at a temperature (Planck's law with the
// exact constants of the SI), relative to 560 nm.
func planck(kelvin float64) []float64 {
	const c2 = 6.62607015e-34 * 299792458 / 1.380649e-23
	at := func(nm float64) float64 {
		m := nm * 1e-9
		return math.Pow(m, -5) / (math.Exp(c2/(m*kelvin)) - 1)
	}
	out := make([]float64, 36)
	for i := range out {
		out[i] = at(380+10*float64(i)) / at(560)
	}
	return out
}

// studioLamp is one photograph: an invented camera (bell curves about 600, 540
// and 460 nm, as wide as published ones), an invented telephone's tone curve,
// noise of 3 codes a pixel averaged over a patch, and steps of 8 bits.
type studioLamp struct {
	kelvin  float64
	light   float64    // 1 is as it was kept
	balance [3]float64 // what the camera multiplies its channels by
	tone    float64    // how strong an S the tone curve makes
}

func (s studioLamp) raw(reflectance []float64) (rgb [3]float64) {
	for i, p := range planck(s.kelvin) {
		nm := 380 + 10*float64(i)
		for c, k := range [3][2]float64{{600, 38}, {540, 38}, {460, 30}} {
			rgb[c] += p * reflectance[i] * math.Exp(-math.Pow((nm-k[0])/k[1], 2)/2)
		}
	}
	return rgb
}

// neutralFor is the balance that makes a grey card grey under a lamp.
func neutralFor(kelvin float64) (gain [3]float64) {
	flat := make([]float64, 36)
	for i := range flat {
		flat[i] = 1
	}
	v := studioLamp{kelvin: kelvin}.raw(flat)
	for c := range gain {
		gain[c] = 0.5 / v[c] // white at half of full light
	}
	return gain
}

func (s studioLamp) pixel(reflectance []float64, r *rand.Rand) (rgb [3]float64) {
	v := s.raw(reflectance)
	for c := range v {
		x, _, _ := colour.SRGB.Encode(min(1, max(0, v[c]*s.balance[c]*s.light)), 0, 0)
		x += s.tone * (x*x*(3-2*x) - x)
		if r != nil {
			x += r.NormFloat64() * 3 / 255 / 20 // the mean of 400 pixels
		}
		x = math.Round(255*x*8) / 8 / 255 // steps, dithered by the noise
		rgb[c], _, _ = colour.SRGB.Decode(min(1, max(0, x)), 0, 0)
	}
	return rgb
}

// seen is what the photograph shows: paper of 88 %, a card of 18 %, the target.
func (s studioLamp) seen(t testing.TB, withTarget bool, r *rand.Rand) Seen {
	level := func(v float64) []float64 {
		out := make([]float64, 36)
		for i := range out {
			out[i] = v
		}
		return out
	}
	white, grey := s.pixel(level(0.88), r), s.pixel(level(0.184), r)
	out := Seen{Camera: "Phone 7", Space: colour.SRGB, White: &white, Grey: &grey}
	if withTarget {
		ref := target.Before2014()
		for i, p := range spectra(t) {
			out.Target = append(out.Target, target.Sample{Patch: ref.Patches[i], RGB: s.pixel(p, r)})
		}
	}
	return out
}

func keptUnder(t testing.TB, s studioLamp, r *rand.Rand) studio.Setup {
	t.Helper()
	seen := s.seen(t, true, r)
	fit, err := target.Fit(seen.Target, seen.Space)
	if err != nil {
		t.Fatal(err)
	}
	x, err := Keep("bench", "one lamp", seen, &fit, "24 patches", shotAt)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func use(t testing.TB, s studio.Setup, seen Seen) Reuse {
	t.Helper()
	u, err := Use(s, seen)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// Photographs of one camera and lamp that differ by noise, a third of a stop of
// automatic exposure and 1 % (standard deviation) of automatic balance in each
// channel are not called drifted: at most
// one in a hundred. All of 3000 K that became 4000 K are, by a camera that keeps
// its balance and by one that takes away half of the change; and so are all that
// are a stop lighter or darker. Of these it says what has changed.
func TestDriftIsSeenAndNoiseIsNot(t *testing.T) {
	var r *rand.Rand
	warm, cold := neutralFor(3000), neutralFor(4000)
	half := warm
	for c := range half {
		half[c] = math.Sqrt(warm[c] * cold[c])
	}
	for _, tone := range []float64{0, 0.5} {
		kept := keptUnder(t, studioLamp{3000, 1, warm, tone}, rand.New(rand.NewPCG(11, 5)))
		shots := map[string]struct {
			lamp  func() studioLamp
			says  string
			least float64 // share that must be said to have drifted
			most  float64
		}{
			"noise alone": {func() studioLamp {
				b := warm
				for c := range b {
					b[c] *= math.Exp(0.01 * r.NormFloat64())
				}
				return studioLamp{3000, math.Exp2((2*r.Float64() - 1) / 3), b, tone}
			}, "", 0, 0.01},
			"4000 K, balance kept":       {func() studioLamp { return studioLamp{4000, 1, warm, tone} }, "bluer", 1, 1},
			"4000 K, half balanced away": {func() studioLamp { return studioLamp{4000, 1, half, tone} }, "bluer", 1, 1},
			"2700 K, balance kept":       {func() studioLamp { return studioLamp{2700, 1, warm, tone} }, "yellower", 1, 1},
			"a stop darker":              {func() studioLamp { return studioLamp{3000, 0.5, warm, tone} }, "darker", 1, 1},
			"lighter by 0.7 stops":       {func() studioLamp { return studioLamp{3000, math.Exp2(0.7), warm, tone} }, "lighter", 1, 1},
		}
		for name, c := range shots {
			for _, by := range []string{"white", "grey", "target"} {
				r = rand.New(rand.NewPCG(uint64(len(name)), uint64(len(by)))) // the same whatever comes first
				n, drifted := 300, 0
				if c.least == 1 {
					n = 20
				}
				for range n {
					seen := c.lamp().seen(t, by == "target", r)
					switch by {
					case "white":
						seen.Grey = nil
					case "grey":
						seen.White = nil
					}
					u := use(t, kept, seen)
					if len(u.Drift) > 0 {
						drifted++
						if !strings.Contains(strings.Join(u.Drift, " "), c.says) {
							t.Errorf("%s by %s: says %q, want %q in it", name, by, u.Drift, c.says)
						}
					}
				}
				share := float64(drifted) / float64(n)
				t.Logf("tone %.1f, %s, by %s: %.1f %% said to have drifted", tone, name, by, 100*share)
				if share < c.least || share > c.most {
					t.Errorf("tone %.1f, %s, by %s: %.1f %%, want %.0f to %.0f %%", tone, name, by, 100*share, 100*c.least, 100*c.most)
				}
			}
		}
	}
}

// Reused on a photograph whose exposure and balance differ a little, the kept
// correction brings the patches nearly as close as a fit to that photograph, by
// white, by grey and by the target's greys.
func TestReusedCorrectionIsNearlyAsGoodAsItsOwn(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	warm := neutralFor(3000)
	for _, tone := range []float64{0, 0.5} {
		kept := keptUnder(t, studioLamp{3000, 1, warm, tone}, r)
		for _, stops := range []float64{-0.33, 0, 0.25} {
			later := studioLamp{3000, math.Exp2(stops), [3]float64{warm[0] * 1.02, warm[1], warm[2] * 0.98}, tone}
			full := later.seen(t, true, r)
			for _, by := range []string{"the mat's white border", "the grey card", "the target's greys"} {
				seen := full
				if by != "the target's greys" {
					seen.Target = nil
				}
				if by == "the mat's white border" {
					seen.Grey = nil
				}
				u := use(t, kept, seen)
				if u.By != by {
					t.Errorf("brought to the light by %s, want %s", u.By, by)
				}
				off, _ := u.residual(full.Target)
				t.Logf("tone %.1f, %+.2f stops, by %s: %.2f dE00 (left out when kept %.2f)", tone, stops, by, off, kept.LOOMean)
				if off > kept.LOOMean+1.2 {
					t.Errorf("tone %.1f, %+.2f stops, by %s: %.2f dE00, kept with %.2f", tone, stops, by, off, kept.LOOMean)
				}
			}
		}
	}
}

// Of two real photographs of the target, a setup kept from one and used on the
// other, which another telephone took elsewhere, must be said to have drifted.
func TestAnotherTelephoneElsewhereIsDrift(t *testing.T) {
	var seen []Seen
	var fits []target.Correction
	for i, name := range realPhotos {
		img := decode(t, file(t, name))
		f, err := Find(img, target.After2014())
		if err != nil {
			t.Fatal(err)
		}
		c, err := f.Correction()
		if err != nil {
			t.Fatal(err)
		}
		seen = append(seen, Seen{Camera: []string{"one", "other"}[i], Space: img.Space, Target: f.Samples()})
		fits = append(fits, c)
	}
	s, err := Keep("case", "window", seen[0], &fits[0], "24 patches", shotAt)
	if err != nil {
		t.Fatal(err)
	}
	same := use(t, s, seen[0])
	if len(same.Drift) > 0 {
		t.Errorf("its own photograph has drifted: %q", same.Drift)
	}
	for i, p := range seen[0].Target {
		want := fits[0].Patches[i].Lab
		if d := colour.Difference(same.Correct(p.RGB).Lab(colour.D50), want); d > 0.01 {
			t.Errorf("patch %s comes out %.3f dE00 otherwise", p.Patch.ID, d)
		}
	}
	u := use(t, s, seen[1])
	t.Logf("the other: %q", u.Drift)
	if len(u.Drift) < 2 || !strings.Contains(u.Drift[0], "one") || !strings.Contains(u.Drift[0], "other") {
		t.Errorf("of another telephone it says %q", u.Drift)
	}
}

// A grey card alone makes a setup by which the mat's white border stands for the
// card in later photographs; a target's setup takes a card of another lightness.
func TestGreyCardStandsInForATarget(t *testing.T) {
	warm := neutralFor(3000)
	at := studioLamp{3000, 1, warm, 0}
	seen := at.seen(t, false, nil)
	s, err := Keep("card", "one lamp", seen, nil, "", shotAt)
	if err != nil {
		t.Fatal(err)
	}
	if s.Kind != studio.ByGrey || s.LOOMean != 0 {
		t.Errorf("kept as %+v", s)
	}
	later := studioLamp{3000, 0.8, [3]float64{1.02 * warm[0], warm[1], 0.97 * warm[2]}, 0}.seen(t, false, nil)
	card := *later.Grey
	later.Grey = nil
	u := use(t, s, later)
	if d := colour.Difference(u.Correct(card).Lab(colour.D50), colour.Lab{L: cardL}); d > 0.6 || u.By != "the mat's white border" {
		t.Errorf("by %s, the card comes out %.2f dE00 off", u.By, d)
	}
	byTarget := keptUnder(t, at, nil)
	light := at.pixel(repeat(0.40), nil) // L* 69.5
	other := Seen{Camera: "Phone 7", Space: colour.SRGB, Grey: &light, GreyL: 69.5}
	if u := use(t, byTarget, other); len(u.Drift) > 0 {
		t.Errorf("a lighter card is taken for drift: %q", u.Drift)
	}
}

func repeat(v float64) []float64 {
	out := make([]float64, 36)
	for i := range out {
		out[i] = v
	}
	return out
}

// The picture's own space does not matter: the same light written as Display P3
// comes out as the same colour.
func TestSetupBridgesColourSpaces(t *testing.T) {
	s := keptUnder(t, studioLamp{3000, 1, neutralFor(3000), 0.3}, nil)
	seen := studioLamp{3000, 1, neutralFor(3000), 0.3}.seen(t, true, nil)
	p3 := Seen{Camera: seen.Camera, Space: colour.DisplayP3}
	move := func(rgb [3]float64) [3]float64 { return convert(colour.SRGB, colour.DisplayP3, rgb) }
	white := move(*seen.White)
	p3.White = &white
	seen.Target, seen.Grey = nil, nil
	a, b := use(t, s, seen), use(t, s, p3)
	for _, rgb := range [][3]float64{{0.3, 0.25, 0.2}, {0.05, 0.2, 0.18}, {0.5, 0.5, 0.5}} {
		if d := colour.Difference(a.Correct(rgb).Lab(colour.D50), b.Correct(move(rgb)).Lab(colour.D50)); d > 0.01 {
			t.Errorf("%v: %.3f dE00 apart", rgb, d)
		}
	}
}

func TestSetupsThatCannotBeUsedSayWhy(t *testing.T) {
	at := studioLamp{3000, 1, neutralFor(3000), 0}
	s := keptUnder(t, at, nil)
	bad := s
	bad.Fit = `{"method":"x"}`
	black := [3]float64{0, 0, 0}
	for name, c := range map[string]struct {
		s    studio.Setup
		seen Seen
		says string
	}{
		"nothing in common":  {s, Seen{Space: colour.SRGB}, "white border"},
		"only black":         {s, Seen{Space: colour.SRGB, White: &black}, "white border"},
		"a damaged fit":      {bad, at.seen(t, false, nil), "can't be used"},
		"a card of no light": {s, Seen{Space: colour.SRGB, Grey: &[3]float64{0.1, 0.1, 0.1}, GreyL: 3}, ""},
	} {
		_, err := Use(c.s, c.seen)
		if c.says != "" {
			if p := studio.ProblemIn(err); p == nil || !strings.Contains(p.Text, c.says) {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	if _, err := Keep("x", "lamp", Seen{Space: colour.SRGB}, nil, "", shotAt); studio.ProblemIn(err) == nil {
		t.Errorf("without target and card: %v", err)
	}
	seen := at.seen(t, false, nil)
	if _, err := Keep("x", "", seen, nil, "", shotAt); studio.ProblemIn(err) == nil || studio.ProblemIn(err).Field != "lamp" {
		t.Errorf("without a lamp: %v", err)
	}
}
