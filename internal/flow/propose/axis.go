package propose

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// An axis is a free factor as the search sees it.
type axis struct {
	guess.Factor
	factor int // of the family's
	kind   studio.FactorKind
	words  []float64 // the only amounts there are, where they are words of a hand
	tried  []float64
}

// How far past what was tried a search may go: by a half in ratio, by a quarter of
// the range where there is a nought. A choice of ours.
const (
	pastRatio = 1.5
	pastRange = 0.25
)

// axisOf makes the axis of the i-th factor from the levels tried.
func (f *Family) axisOf(i int) axis {
	x := f.Factors[i]
	a := axis{Factor: guess.Factor{Name: x.Name}, factor: i, kind: x.Kind}
	if !x.Kind.Numeric() {
		for _, l := range x.Levels {
			a.Levels = append(a.Levels, l.Label)
		}
		return a
	}
	hand := x.Kind == studio.ByLoading
	for _, l := range x.Levels {
		a.tried = append(a.tried, l.Number)
		hand = hand && slices.Contains(studio.HandWords, l.Label)
	}
	if hand {
		step := f.bench.Front.Steps[x.Step]
		for _, word := range studio.HandWords {
			if said, ok := studio.Resolve(f.bench.Hands, word, step.HandKey(f.materialOf(step))); ok && said.Unit.PerArea() {
				a.words = append(a.words, said.Value)
			}
		}
		for _, v := range a.tried {
			if !slices.Contains(a.words, v) {
				a.words = append(a.words, v) // weighed anew since
			}
		}
	}
	low, high := a.tried[0], a.tried[len(a.tried)-1]
	if a.Log = low > 0; a.Log {
		a.Low, a.High = low/pastRatio, high*pastRatio
	} else {
		a.Low, a.High = low, high+pastRange*(high-low)
	}
	a.Low, a.High = nice(x.Kind, a.Low), nice(x.Kind, a.High)
	a.Low, a.High = min(a.Low, low), max(a.High, high)
	if x.Kind == studio.ByStrength {
		a.High = max(high, min(a.High, f.bottled(x)))
	}
	return a
}

// bottled returns the strength of the bottle that x dilutes.
func (f *Family) bottled(x studio.Factor) float64 {
	id := f.bench.Front.Steps[x.Step].SupplyID
	for _, l := range x.Levels {
		if l.SupplyID != 0 {
			id = l.SupplyID
		}
	}
	s, _ := f.supply(id)
	if s.WtPercent() == 0 {
		return 100
	}
	return s.WtPercent()
}

// nice rounds to what a hand can make with a clock, a scale and a measuring jug.
func nice(k studio.FactorKind, v float64) float64 {
	step := 1.0
	switch k {
	case studio.ByMinutes:
		switch {
		case v < 10:
		case v < 60:
			step = 5
		case v < 6*60:
			step = 15
		case v < 24*60:
			step = 30
		default:
			step = 60
		}
	case studio.ByLoading:
		switch {
		case v < 2:
			step = 0.5
		case v < 30:
		case v < 100:
			step = 5
		default:
			step = 10
		}
	case studio.ByStrength:
		switch {
		case v < 2:
			step = 0.1
		case v < 10:
			step = 0.5
		}
	}
	return max(step, math.Round(math.Round(v/step)*step*1e6)/1e6)
}

// round puts v to the nearest that can be made and stays in the range.
func (a axis) round(v float64) float64 {
	if a.Levels != nil {
		return v
	}
	if a.words != nil {
		return nearest(a.words, v, a.tried)
	}
	n := nice(a.kind, v)
	if a.Low == 0 && v < n/2 {
		n = 0
	}
	for _, t := range a.tried { // what was made before can be made again
		if math.Abs(t-v) <= 0.04*math.Abs(v) && math.Abs(t-v) <= math.Abs(n-v)+0.02*math.Abs(v) {
			n = t
		}
	}
	return min(a.High, max(a.Low, n))
}

// nearest returns the word's amount nearest to v by ratio.
func nearest(words []float64, v float64, tried []float64) float64 {
	best := tried[0]
	for _, w := range words {
		if math.Abs(math.Log((w+0.1)/(v+0.1))) < math.Abs(math.Log((best+0.1)/(v+0.1))) {
			best = w
		}
	}
	return best
}

// level returns the level at a value of the axis.
func (f *Family) level(a axis, v float64) studio.Level {
	x := f.Factors[a.factor]
	if a.Levels != nil {
		return x.Levels[int(v)]
	}
	l := studio.Level{Number: v}
	for _, t := range x.Levels {
		l.SupplyID = t.SupplyID
		if t.Number == v {
			return t
		}
	}
	if a.words != nil {
		step := f.bench.Front.Steps[x.Step]
		for _, word := range studio.HandWords {
			if said, ok := studio.Resolve(f.bench.Hands, word, step.HandKey(f.materialOf(step))); ok && said.Value == v {
				l.Label = word
				return l
			}
		}
	}
	l.Label = f.label(x, l)
	return l
}

// levels returns a level for every factor of the family at a point of the free ones.
func (f *Family) levels(at []float64) []studio.Level {
	out := slices.Clone(f.fixed)
	for i, a := range f.free {
		out[a.factor] = f.level(a, at[i])
	}
	return out
}

// point is the inverse of levels; the error is a *studio.Problem.
func (f *Family) point(levels []studio.Level) ([]float64, error) {
	if len(levels) != len(f.Factors) {
		return nil, fmt.Errorf("find settings: %d levels for %d factors", len(levels), len(f.Factors))
	}
	var at []float64
	for i, x := range f.Factors {
		v := valueOf(x.Kind, levels[i])
		j := slices.IndexFunc(f.free, func(a axis) bool { return a.factor == i })
		if j < 0 {
			if v != valueOf(x.Kind, f.fixed[i]) {
				return nil, studio.Problemf(studio.Invalid, field(i), "Only %s was made of %s; nothing is known of others.", f.fixed[i].Label, x.Name)
			}
			continue
		}
		switch a := f.free[j]; {
		case a.Levels != nil:
			k := slices.IndexFunc(x.Levels, func(l studio.Level) bool { return valueOf(x.Kind, l) == v })
			if k < 0 {
				return nil, studio.Problemf(studio.Invalid, field(i), "No swatch was made with that %s; choose one of those tried.", x.Name)
			}
			v = float64(k)
		case !(v >= 0) || a.Log && v <= 0 || v > 20*a.High:
			return nil, studio.Problemf(studio.Invalid, field(i), "%s can't be %v; %s to %s was tried.", capital(x.Name), v, x.Levels[0].Label, x.Levels[len(x.Levels)-1].Label)
		}
		at = append(at, v)
	}
	return at, nil
}

// field names the i-th factor in a Problem, from 1.
func field(i int) string { return fmt.Sprintf("factor%d", i+1) }
