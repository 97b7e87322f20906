// Package scene reads what lies round a swatch in a photograph: the printed mat
// it lies on, its label, a grey card, a 24-patch colour target. From these come
// the marks a person would set, the real scale and what is known of the light.
package scene

import (
	"fmt"
	"math"

	"aerugo/internal/flow/mat"
	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/target"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	sci "aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// Want says what to look for. Target is nil when no colour target is expected.
type Want struct {
	Mat    bool
	Target *sci.Reference
}

// A Scene is what was found.
type Scene struct {
	Mat      *mat.Found
	Flat     *mat.Flat
	Swatches []mat.Swatch
	Notes    []string // what to mind about the light, in plain words

	correction *sci.Correction
	note       *studio.Correction
	samples    []sci.Sample // the target's patches under the light at from
	from       mat.MM       // where on the mat the light is taken as the measure
}

// steepLight is the fall-off over the swatch from which a note is made; common
// practice, no source.
const steepLight = 0.15

// worstTarget is the leave-one-out mean, in dE00, above which a target corrects
// nothing: by the best method it was 3.7 to 4.9 on
// three real photographs. Common practice, no source.
const worstTarget = 7.0

// Look finds what is wanted. What was wanted and is not there is a *studio.Problem.
func Look(img *picture.Image, want Want) (Scene, error) {
	var s Scene
	if want.Mat {
		found, err := mat.Find(img)
		if err != nil {
			return s, err
		}
		s.Mat = &found
		if s.Flat, err = mat.FlatField(img, found); err != nil {
			return s, err
		}
		if s.Swatches, err = mat.SwatchQuads(img, found); err != nil {
			return s, err
		}
		if err := s.clearOfShadow(img); err != nil {
			return s, err
		}
		if s.Flat.Range > steepLight {
			s.Notes = append(s.Notes, fmt.Sprintf("The light falls off by %.0f %% over the swatch; it was evened by the mat's white border. Two lamps, or a window farther away, would be better.", 100*s.Flat.Range))
		}
		if found.Missing != "" {
			s.Notes = append(s.Notes, fmt.Sprintf("The mat's %s mark was not seen; corners are good to about %.1f mm.", found.Missing, found.ErrorMM))
		}
		s.from = found.Layout.Grey.Centre()
		if want.Target != nil {
			s.from = found.Layout.Target.Centre()
		} else if s.grey() {
			if depth, shaded := s.Flat.Shaded(img, found, found.Layout.Grey); shaded {
				return s, shadow("grey", "grey card", depth)
			}
		}
	}
	if want.Target != nil {
		found, err := target.Find(img, *want.Target)
		if err != nil {
			return s, err
		}
		if s.Mat != nil && s.Flat != nil {
			if depth, shaded := s.Flat.Shaded(img, *s.Mat, s.around(found.Centres[:])); shaded {
				return s, shadow("target", "colour target", depth)
			}
		}
		var samples []sci.Sample
		for i, r := range found.Readings {
			if r.Fault != "" {
				continue
			}
			if gain := s.gain(); gain != nil {
				g := gain(found.Centres[i])
				r.RGB = [3]float64{r.RGB[0] * g[0], r.RGB[1] * g[1], r.RGB[2] * g[2]}
			}
			samples = append(samples, sci.Sample{Patch: r.Patch, RGB: r.RGB})
		}
		s.samples = samples
		c, err := sci.Fit(samples, img.Space)
		if err != nil {
			return s, studio.Problemf(studio.Invalid, "target", "The colour target was found, but no correction can be fitted to it: %v. Photograph it in even light, without glare.", err)
		}
		if c.LOOMean > worstTarget {
			return s, studio.Problemf(studio.Invalid, "target", "The colour target was found, but its patches contradict each other: each foretold by the others is off by %.1f ΔE00 on the mean, and at most %.0f may be. Photograph it in even light, clear of shadow and glare, and check which target it is.", c.LOOMean, worstTarget)
		}
		s.correction = &c
		s.note = &studio.Correction{Target: want.Target.Name + ", " + want.Target.Edition, Method: c.Method, Patches: len(c.Patches), LOOMean: c.LOOMean, LOOP95: c.LOOP95}
	}
	return s, nil
}

// clearOfShadow gives every swatch in a shadow its Problem: its corners are seen,
// but its colours would be wrong. When no swatch is left, it returns the first.
func (s *Scene) clearOfShadow(img *picture.Image) error {
	var first *studio.Problem
	left := 0
	for i := range s.Swatches {
		x := &s.Swatches[i]
		if x.Problem == nil {
			what := "swatch"
			if len(s.Swatches) > 1 {
				what = [2]string{"left swatch", "right swatch"}[x.Place]
			}
			if depth, shaded := s.Flat.Shaded(img, *s.Mat, s.Mat.Layout.Swatches[x.Place]); shaded {
				x.Problem = shadow("photo", what, depth)
			}
		}
		if x.Problem == nil {
			left++
		} else if first == nil {
			first = x.Problem
		}
	}
	if left > 0 || first == nil {
		return nil
	}
	return first
}

func shadow(field, what string, depth float64) *studio.Problem {
	return studio.Problemf(studio.Invalid, field, "A shadow lies over the %s or at its edge: the paper there is at least %.0f %% darker than the light over the mat, so colours would be wrong. Move the lamp, or step aside, until the mat lies clear.", what, 100*depth)
}

// grey reports whether a grey card was seen on the mat.
func (s Scene) grey() bool { return len(s.Swatches) > 0 && s.Swatches[0].Marks.Grey != nil }

// around is the upright rectangle on the mat round the target whose patches have
// these centres, gaps and all.
func (s Scene) around(centres []studio.Point) mat.Area {
	low, high := mat.MM{X: math.Inf(1), Y: math.Inf(1)}, mat.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, c := range centres {
		p := s.Mat.Page(c)
		low.X, low.Y, high.X, high.Y = min(low.X, p.X), min(low.Y, p.Y), max(high.X, p.X), max(high.Y, p.Y)
	}
	// the target's frame reaches 0.7 of a pitch beyond the middles of its patches
	rim := 0.7 * (high.X - low.X) / (sci.Columns - 1)
	low, high = mat.MM{X: low.X - rim, Y: low.Y - rim}, mat.MM{X: high.X + rim, Y: high.Y + rim}
	if place := s.Mat.Layout.Target; place.Inset(-rim).Contains(low) && place.Inset(-rim).Contains(high) {
		end := mat.MM{X: max(high.X, place.X+place.W), Y: max(high.Y, place.Y+place.H)} // clear of the place's outline
		low = mat.MM{X: min(low.X, place.X), Y: min(low.Y, place.Y)}
		high = end
	}
	return mat.Area{X: low.X, Y: low.Y, W: high.X - low.X, H: high.Y - low.Y}
}

// gain returns the flat field as a function of picture pixels, nil without a mat.
func (s Scene) gain() func(p studio.Point) [3]float64 {
	if s.Mat == nil || s.Flat == nil {
		return nil
	}
	return func(p studio.Point) [3]float64 { return s.Flat.Gain(s.Mat.Page(p), s.from) }
}

// Under returns what is known of the light, for measuring.
func (s Scene) Under() measure.Under {
	u := measure.Under{Gain: s.gain(), Note: s.note}
	if s.Mat != nil && s.Flat != nil {
		white := s.Flat.Paper(s.from)
		u.White = &white
	}
	if s.correction != nil {
		u.Correct = func(rgb [3]float64) colour.XYZ { return s.correction.XYZ(rgb) }
	}
	return u
}

// Face returns the marks and the real size of the i-th swatch on the mat, and
// false if there is no mat or its corners could not be found.
func (s Scene) Face(i int) (studio.Marks, measure.Size, bool) {
	if i >= len(s.Swatches) || s.Swatches[i].Problem != nil {
		return studio.Marks{}, measure.Size{}, false
	}
	x := s.Swatches[i]
	return x.Marks, measure.Size{WidthMM: x.WidthMM, HeightMM: x.HeightMM}, true
}

// Label returns the label that lies beside the i-th swatch, and false if none
// could be read.
func (s Scene) Label(i int) (mat.Label, bool) {
	if s.Mat == nil {
		return mat.Label{}, false
	}
	for _, l := range s.Mat.Codes {
		if l.Place == i {
			return l, true
		}
	}
	return mat.Label{}, false
}
