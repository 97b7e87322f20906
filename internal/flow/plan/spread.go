package plan

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/design"
)

// Alike is the look of one swatch; those of one Kind were made alike.
type Alike struct {
	Kind string
	Lab  colour.Lab
}

// Spread is how far swatches made alike scatter: the standard deviation, in ΔE00,
// in the direction in which they scatter most. Swatches and Kinds are what it was
// read from; Assumed says that there were too few of them.
type Spread struct {
	SD              float64
	Swatches, Kinds int
	Assumed         bool
}

// fewestLeft is what replicates must leave to read a spread from: below it the
// spread itself is known to no better than a third of it (common practice, no
// source).
const fewestLeft = 6

// SpreadOf pools the scatter of swatches within their kinds. Each swatch's
// difference from its kind's mean is taken as long as its ΔE00, in its direction in
// CIELAB; the largest variance over all directions is what counts, since nobody
// knows in which one a difference will be looked for. With fewer than 6 degrees of
// freedom 2 ΔE00 is assumed.
func SpreadOf(looks []Alike) Spread {
	kinds := map[string][]colour.Lab{}
	var order []string
	for _, l := range looks {
		if !finite(l.Lab) {
			continue
		}
		if kinds[l.Kind] == nil {
			order = append(order, l.Kind)
		}
		kinds[l.Kind] = append(kinds[l.Kind], l.Lab)
	}
	slices.Sort(order)
	var s Spread
	left := 0
	sum := mat.NewSymDense(3, nil)
	for _, k := range order {
		labs := kinds[k]
		if len(labs) < 2 {
			continue
		}
		var mean colour.Lab
		for _, l := range labs {
			mean.L += l.L / float64(len(labs))
			mean.A += l.A / float64(len(labs))
			mean.B += l.B / float64(len(labs))
		}
		for _, l := range labs {
			v := mat.NewVecDense(3, []float64{l.L - mean.L, l.A - mean.A, l.B - mean.B})
			if size := mat.Norm(v, 2); size > 0 {
				v.ScaleVec(colour.Difference(mean, l)/size, v)
			}
			sum.SymRankOne(sum, 1, v)
		}
		s.Swatches += len(labs)
		s.Kinds++
		left += len(labs) - 1
	}
	var eigen mat.EigenSym
	if left >= fewestLeft && eigen.Factorize(sum, false) {
		values := eigen.Values(nil)
		if s.SD = math.Sqrt(slices.Max(values) / float64(left)); s.SD > 0.05 {
			return s
		}
	}
	return Spread{SD: design.Usual.Spread, Assumed: true}
}

func finite(l colour.Lab) bool {
	sum := l.L + l.A + l.B
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// Words says the spread and where it comes from.
func (s Spread) Words() string {
	if s.Assumed {
		return fmt.Sprintf("Swatches made alike are taken to differ by %.1f ΔE00 (assumed: too few of yours were made alike and measured with a grey card to read it)", s.SD)
	}
	return fmt.Sprintf("Your swatches made alike differ by %.1f ΔE00 (measured on %d swatches of %d kinds)", s.SD, s.Swatches, s.Kinds)
}
