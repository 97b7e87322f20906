package target

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// Seen is what one photograph shows of things that stay the same from one
// photograph to the next. The readings are linear RGB in Space, 1 at full scale,
// all under the light at one place; nil for what is not in the picture.
type Seen struct {
	Camera string // as the file says; empty when it does not
	Space  colour.Space
	White  *[3]float64     // the mat's white border
	Grey   *[3]float64     // a grey card
	GreyL  float64         // its L*; 0 for the usual card
	Target []target.Sample // the patches of a colour target
}

// cardL is L* (D50) of the usual 18 % grey card, midGrey its light.
const (
	cardL   = 49.5
	midGrey = 0.18
)

// Limits for drift. Common practice, no source; by the simulation of the tests,
// noise reaches them in less than one photograph of a hundred, and a lamp of
// 4000 K in place of 3000 K always, even if the camera takes away half of the change.
const (
	mostStops  = 0.5 // by which white may be lighter or darker
	mostTurned = 3.0 // CIELAB units by which a grey may turn coloured
)

// Keep makes a setup of a photograph taken at a time: of the correction fitted to
// the target in it (which, in words), or, if fit is nil, of its grey card alone.
// It refuses with a *studio.Problem what could not be used again. Photo and ID are
// left to the caller.
func Keep(name, lamp string, seen Seen, fit *target.Correction, which string, taken time.Time) (studio.Setup, error) {
	s := studio.Setup{Name: name, Lamp: lamp, Camera: seen.Camera, Kind: studio.ByTarget, Target: which, Taken: taken, White: seen.White, Grey: seen.Grey, Greys: greysOf(seen.Target)}
	if fit == nil {
		if seen.Grey == nil {
			return s, studio.Problemf(studio.Invalid, "setup", "There is neither a colour target nor a grey card in this photograph, so it can't stand for camera and lamp. Put one of them beside the swatch.")
		}
		c, err := target.Gain(*seen.Grey, seen.lightness(), seen.Space)
		if err != nil {
			return s, studio.Problemf(studio.Invalid, "setup", "The grey card can't be used: %v. Photograph it in even light, neither burnt out nor black.", err)
		}
		fit, s.Kind, s.Target, s.Greys = &c, studio.ByGrey, "", nil
	}
	text, err := json.Marshal(*fit)
	if err != nil {
		return s, fmt.Errorf("keep setup %q: %w", name, err)
	}
	s.Fit, s.Method, s.LOOMean, s.LOOP95 = string(text), fit.Method, fit.LOOMean, fit.LOOP95
	return s, s.Check()
}

func (s Seen) lightness() float64 {
	if s.GreyL == 0 {
		return cardL
	}
	return s.GreyL
}

// greysOf returns the geometric mean of the grey patches, nil if there are none.
func greysOf(samples []target.Sample) *[3]float64 {
	var sum [3]float64
	n := 0.0
	for _, s := range samples {
		if !s.Patch.Neutral || !(s.RGB[0] > 0 && s.RGB[1] > 0 && s.RGB[2] > 0) {
			continue
		}
		n++
		for c, v := range s.RGB {
			sum[c] += math.Log(v)
		}
	}
	if n < target.FewestNeutrals {
		return nil
	}
	for c := range sum {
		sum[c] = math.Exp(sum[c] / n)
	}
	return &sum
}

// A Reuse is how a kept setup corrects a later photograph.
type Reuse struct {
	Correct func(rgb [3]float64) colour.XYZ // of linear RGB in the photograph's own space
	Patches int                             // of the target it was fitted to; 0 for a grey card
	By      string                          // what brought the photograph to the setup's light
	Drift   []string                        // how camera or lamp differ, a sentence each; none when they do not
}

// Use brings a later photograph to the light of a kept setup, by what both show:
// the target's greys, else a grey card, else the mat's white border. One gain per
// channel takes out exposure and cast; then the kept correction is applied. What
// has changed by more than a photograph's noise is said in Drift, never corrected
// silently. When nothing is in both, or the kept correction can't be read, the
// error is a *studio.Problem.
func Use(s studio.Setup, seen Seen) (Reuse, error) {
	var fit target.Correction
	if err := json.Unmarshal([]byte(s.Fit), &fit); err != nil {
		return Reuse{}, studio.Problemf(studio.Invalid, "setup", "The kept setup %q can't be used (%v). Keep camera and lamp anew from a photograph with a target.", s.Name, err)
	}
	into := func(rgb [3]float64) [3]float64 { return convert(seen.Space, fit.Space(), rgb) }
	kept, now, by := common(s, fit, seen, into)
	if kept == nil {
		return Reuse{}, studio.Problemf(studio.Invalid, "setup", "The kept setup %q needs a grey card or the mat's white border in this photograph too, to bring it to the same light. Photograph it on the mat or beside the card, or measure it without the setup.", s.Name)
	}
	var gain [3]float64
	for c := range gain {
		gain[c] = kept[c] / now[c]
	}
	u := Reuse{By: by, Patches: len(fit.Patches)}
	u.Correct = func(rgb [3]float64) colour.XYZ {
		v := into(rgb)
		return fit.XYZ([3]float64{v[0] * gain[0], v[1] * gain[1], v[2] * gain[2]})
	}
	if s.Camera != "" && seen.Camera != "" && s.Camera != seen.Camera {
		u.Drift = append(u.Drift, fmt.Sprintf("It was kept with the camera %s, and this photograph was taken with %s.", s.Camera, seen.Camera))
	}
	u.Drift = append(u.Drift, lightDrift(fit.Space(), *kept, *now)...)
	if d, ok := u.residual(seen.Target); ok && s.Kind == studio.ByTarget && d > s.LOOP95 {
		u.Drift = append(u.Drift, fmt.Sprintf("Corrected by it, the target's patches come out %.1f ΔE00 from their own colours on the mean; %.1f was the worst in twenty when it was kept.", d, s.LOOP95))
	}
	return u, nil
}

// convert brings linear RGB of one space into another.
func convert(from, to colour.Space, rgb [3]float64) (out [3]float64) {
	out[0], out[1], out[2] = to.FromXYZ(from.XYZ(rgb[0], rgb[1], rgb[2]))
	for c := range out {
		out[c] = max(0, out[c])
	}
	return out
}

// common returns what a setup and a photograph both show, in the setup's space,
// and its name. What reads as black says nothing and counts as not there.
func common(s studio.Setup, fit target.Correction, seen Seen, into func([3]float64) [3]float64) (kept, now *[3]float64, by string) {
	grey := s.Grey
	if l := seen.lightness(); seen.Grey != nil && s.Kind == studio.ByTarget && (grey == nil || l != cardL) {
		// the setup's photograph had no such card; its target says how one would have read
		grey = nil
		if v, err := fit.Grey(l); err == nil {
			grey = &v
		}
	}
	for _, p := range []struct {
		kept, now *[3]float64
		by        string
	}{{s.Greys, greysOf(seen.Target), "the target's greys"}, {grey, seen.Grey, "the grey card"}, {s.White, seen.White, "the mat's white border"}} {
		if p.kept == nil || p.now == nil {
			continue
		}
		v := into(*p.now)
		if min(v[0], v[1], v[2]) < 1e-3 {
			continue
		}
		return p.kept, &v, p.by
	}
	return nil, nil, ""
}

// lightDrift compares the same white or grey in both photographs, in the setup's
// space: how light it is, and whether it turned coloured.
func lightDrift(space colour.Space, kept, now [3]float64) []string {
	var out []string
	y := func(v [3]float64) float64 { return space.XYZ(v[0], v[1], v[2]).Y }
	ratio := y(now) / y(kept)
	if math.Abs(math.Log2(ratio)) > mostStops {
		times, word := ratio, "lighter"
		if ratio < 1 {
			times, word = 1/ratio, "darker"
		}
		out = append(out, fmt.Sprintf("White and grey are %.1f times %s in the picture than when it was kept: the exposure or the distance of the lamp has changed.", times, word))
	}
	// a grey card that the setup made neutral, under what each channel has become
	var turned [3]float64
	for c := range turned {
		turned[c] = midGrey * now[c] / kept[c] / ratio
	}
	lab := space.Lab(turned[0], turned[1], turned[2])
	da, db := lab.A, lab.B
	if d := math.Hypot(da, db); d > mostTurned {
		words := []string{"redder", "yellower", "greener", "bluer"}
		at := int(math.Round(math.Atan2(db, da)/(math.Pi/2))+4) % 4
		out = append(out, fmt.Sprintf("Greys have turned %s by %.1f CIELAB units: another lamp, daylight mixed in, or another white balance.", words[at], d))
	}
	return out
}

// residual is the mean dE00 of a target's patches from their published colours,
// corrected by the setup; false when there is no target.
func (u Reuse) residual(samples []target.Sample) (float64, bool) {
	if len(samples) < target.FewestPatches {
		return 0, false
	}
	sum := 0.0
	for _, s := range samples {
		sum += colour.Difference(u.Correct(s.RGB).Lab(colour.D50), s.Patch.Lab)
	}
	return sum / float64(len(samples)), true
}

// ReadGrey returns the mean linear RGB of a marked rectangle, and false when it is
// outside the picture, mostly transparent, burnt out or black.
func ReadGrey(img *picture.Image, r studio.Rect) ([3]float64, bool) {
	var sum [3]float64
	x0, y0 := max(0, int(math.Round(r.X))), max(0, int(math.Round(r.Y)))
	x1, y1 := min(img.Width, int(math.Round(r.X+r.W))), min(img.Height, int(math.Round(r.Y+r.H)))
	seen, clipped := 0, 0
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			if !img.Opaque(x, y) {
				continue
			}
			rgb, peak := img.At(x, y)
			seen++
			if peak >= clippedCode {
				clipped++
			}
			for c := range sum {
				sum[c] += float64(rgb[c])
			}
		}
	}
	if seen < 16 || float64(clipped) > mostClipped*float64(seen) {
		return sum, false
	}
	for c := range sum {
		sum[c] /= float64(seen)
	}
	return sum, min(sum[0], sum[1], sum[2]) >= 0.005
}
