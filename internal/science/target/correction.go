// Package target corrects a photograph's colours by a colour target within it:
// it holds the published colours of the 24-patch target, reads and writes such
// colours as CGATS text, and fits corrections to what a picture shows of the
// patches.
package target

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
)

// Sample is what a picture shows of one patch: its linear RGB, 1 at full scale.
type Sample struct {
	Patch Patch
	RGB   [3]float64
}

// Correction turns a picture's linear RGB into XYZ under D50. It may be used by
// many goroutines. The zero Correction is not usable; [Fit] makes one.
type Correction struct {
	Method string // in words, such as "bent tone curve from the greys, then 3 x 3"
	// LOOMean and LOOP95 are the mean and the 95th percentile of the CIEDE2000
	// errors of patches that took no part: each patch in turn is left out of
	// everything, the choice of the method included.
	LOOMean, LOOP95 float64
	Patches         []PatchError
	Methods         []MethodError // best first
	m               *model
}

// PatchError is how far a patch comes out from its published colour, as
// CIEDE2000: with it in the fit, and with it left out of fit and choice.
type PatchError struct {
	ID              string
	Fitted, LeftOut float64
	Lab             colour.Lab // as corrected, with the patch in the fit
}

// MethodError is the leave-one-out error of one method that was tried. The best
// of many is flattered by having been chosen; [Correction.LOOMean] is not.
type MethodError struct {
	Method          string
	LOOMean, LOOP95 float64
}

// The fewest patches and greys that a correction is fitted to. Common practice,
// no source.
const (
	FewestPatches  = 18
	FewestNeutrals = 3
)

// recipes are the ways that are tried. The strengths are in squared CIEDE2000
// per squared coefficient, in steps of ten: errors of a few units against
// coefficients of about a tenth ask for some hundreds.
var recipes = func() (all []recipe) {
	for _, t := range []recipe{{tone: toneGain}, {tone: toneVeil}, {tone: toneBent}, {tone: toneBent, bend: 0.01}} {
		all = append(all, t)
		for _, b := range []basis{basisThree, basisRoot} {
			for _, ridge := range []float64{30, 300, 3000} {
				t.basis, t.ridge = b, ridge
				all = append(all, t)
			}
		}
	}
	return all
}()

func (r recipe) String() string {
	tone := [...]string{"gain from the greys", "gain and stray light from the greys", "bent tone curve from the greys"}[r.tone]
	if r.bend > 0 {
		tone = "gently " + tone
	}
	held := map[float64]string{30: "lightly held", 300: "held", 3000: "firmly held"}[r.ridge]
	switch r.basis {
	case basisThree:
		return tone + ", then 3 x 3, " + held
	case basisRoot:
		return tone + ", then root-polynomial of degree 2, " + held
	}
	return tone
}

// Fit fits corrections of several kinds to the patches of a target and returns
// the one with the least leave-one-out mean CIEDE2000: a gain or a tone curve
// from the greys, then nothing, a 3 x 3 matrix or a root-polynomial of degree 2.
// Matrix and polynomial are added to what the picture's own space makes of the
// light, and are held back by a ridge.
//
// RGB must be 0 or more, space the one it is in. Patches that are clipped or
// uneven must not be passed. On two real photographs the error of patches left
// out was 3.9 and 3.4 on average; that is for matt patches under the light of
// the target.
func Fit(samples []Sample, space colour.Space) (Correction, error) {
	neutrals := 0
	for _, s := range samples {
		for _, v := range s.RGB {
			if !(v >= 0 && v <= 16) {
				return Correction{}, &science.RangeError{What: "linear light of patch " + s.Patch.ID, Got: v, Min: 0, Max: 16}
			}
		}
		if l := s.Patch.Lab; !(l.L >= 0 && l.L <= 110 && math.Abs(l.A) <= 200 && math.Abs(l.B) <= 200) {
			return Correction{}, &science.RangeError{What: "L* of patch " + s.Patch.ID, Got: l.L, Min: 0, Max: 110}
		}
		if s.Patch.Neutral {
			neutrals++
		}
	}
	if len(samples) < FewestPatches {
		return Correction{}, &science.RangeError{What: "number of patches", Got: float64(len(samples)), Min: FewestPatches, Max: most}
	}
	if len(samples) > most {
		return Correction{}, &science.RangeError{What: "number of patches", Got: float64(len(samples)), Min: FewestPatches, Max: most}
	}
	if neutrals < FewestNeutrals {
		return Correction{}, &science.RangeError{What: "number of grey patches", Got: float64(neutrals), Min: FewestNeutrals, Max: float64(len(samples))}
	}
	all := prepare(samples, space)
	n := len(all)

	// out[r][i] is the error of patch i left out of recipe r; inner[r][i] the mean
	// error of the other patches, each left out together with i, by which r would
	// have been chosen without i.
	out := make([][]float64, len(recipes))
	inner := make([][]float64, len(recipes))
	usable := make([]bool, len(recipes))
	miss := func(m *model, i int) float64 { return colour.Difference(m.lab(all[i].rgb), all[i].lab) }
	for r, rec := range recipes {
		out[r], inner[r] = make([]float64, n), make([]float64, n)
		usable[r] = true
		for i := 0; i < n && usable[r]; i++ {
			m, ok := fit(rec, all, i, -1, space)
			if !ok {
				usable[r] = false
				break
			}
			out[r][i] = miss(m, i)
			for j := 0; j < i; j++ {
				if m, ok = fit(rec, all, i, j, space); !ok {
					usable[r] = false
					break
				}
				inner[r][i] += miss(m, j) / float64(n-1)
				inner[r][j] += miss(m, i) / float64(n-1)
			}
		}
	}
	best := func(score func(r int) float64) int {
		at, least := -1, math.Inf(1)
		for r := range recipes {
			if usable[r] && score(r) < least {
				at, least = r, score(r)
			}
		}
		return at
	}
	chosen := best(func(r int) float64 { return mean(out[r]) })
	if chosen < 0 {
		return Correction{}, fmt.Errorf("fit target: the greys do not rise from dark to light as they should, or are all black")
	}
	m, ok := fit(recipes[chosen], all, -1, -1, space)
	if !ok {
		return Correction{}, fmt.Errorf("fit target: the patches do not determine a correction")
	}
	c := Correction{Method: recipes[chosen].String(), m: m}
	left := make([]float64, n)
	for i := range all {
		left[i] = out[best(func(r int) float64 { return inner[r][i] })][i]
		c.Patches = append(c.Patches, PatchError{ID: samples[i].Patch.ID, Fitted: miss(m, i), LeftOut: left[i], Lab: m.lab(all[i].rgb)})
	}
	c.LOOMean, c.LOOP95 = mean(left), p95(left)
	for r, rec := range recipes {
		if usable[r] {
			c.Methods = append(c.Methods, MethodError{rec.String(), mean(out[r]), p95(out[r])})
		}
	}
	slices.SortStableFunc(c.Methods, func(a, b MethodError) int {
		switch {
		case a.LOOMean < b.LOOMean:
			return -1
		case a.LOOMean > b.LOOMean:
			return 1
		}
		return 0
	})
	return c, nil
}

// most bounds the work of leaving out every pair.
const most = 150

// XYZ returns the corrected colour of linear RGB, 1 at full scale, under D50.
// It is never negative. Lighter or darker than the greys, the tone curve goes on
// as a straight line in cube roots; more colourful than the most colourful
// patch, what matrix or polynomial adds stays that of the patch's colourfulness.
// Values below zero count as zero.
func (c Correction) XYZ(rgb [3]float64) colour.XYZ {
	s := c.m.share(rgb)
	return colour.XYZ{X: s[0] * colour.D50.X, Y: s[1], Z: s[2] * colour.D50.Z}
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// p95 cannot fail: there is always a patch.
func p95(xs []float64) float64 {
	v, _ := stat.Quantile(xs, 0.95)
	return v
}
