// Package texture says how a coloured surface is spread out: how coarse and how
// strong its pattern is, whether it clusters, whether the liquid pooled, and how far
// apart two palettes are. It reads fields with a real scale: every length that goes
// in or comes out is in millimetres, so that two photographs can be compared.
//
// Angles are in degrees with 0 to the right and 90 towards the top of the picture.
package texture

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science"
)

// The published methods behind the numbers of this package.
const (
	SourceCooccurrence science.Ref = "haralick-1973"      // Cooccur
	SourcePattern      science.Ref = "ojala-2002"         // BinaryPatterns and PatternShares
	SourceContrast     science.Ref = "tamura-1978"        // Contrast
	SourceOpening      science.Ref = "serra-1982"         // Granularity
	SourceGranularity  science.Ref = "matheron-1975"      // why openings of growing size measure grain
	SourceClustering   science.Ref = "moran-1950"         // Moran
	SourceResiduals    science.Ref = "cliff-ord-1981"     // Moran's expected value after a plane fit
	SourcePermutation  science.Ref = "phipson-smyth-2010" // Moran's p-value
	SourceRing         science.Ref = "deegan-1997"        // why a drop dries with an edge; Pool measures it
	SourceMover        science.Ref = "rubner-2000"        // PaletteDistance
)

var (
	// ErrGrid says that the lists of a grid do not have its width times its height.
	ErrGrid = errors.New("the grid's lists do not hold its width times its height")
	// ErrTooFew says that too few cells can be used for an answer.
	ErrTooFew = errors.New("too few cells to say")
	// ErrNoSpread says that values which had to differ are all the same.
	ErrNoSpread = errors.New("the values do not differ, so nothing can be said about their order")
)

// maxValue bounds a cell's value, so that no fourth power or sum overflows.
const maxValue = 1e9

// Grid is a field of W columns and H rows of square cells, row by row from the top
// left. V holds the values, such as L*, in -1e9 to 1e9. OK tells the cells that count;
// nil means all of them, and what V holds elsewhere does not matter. MMPerCell is the
// side of a cell in millimetres, 0.0001 to 1000. The centre of the top left cell lies
// half a cell right of and below the corner from which places are measured.
type Grid struct {
	W, H      int
	V         []float64
	OK        []bool
	MMPerCell float64
}

func (g *Grid) ok(i int) bool { return g.OK == nil || g.OK[i] }

// check says what is wrong with a grid and returns how many cells count.
func (g Grid) check() (n int, err error) {
	if g.W < 1 || g.H < 1 || len(g.V)%g.W != 0 || len(g.V)/g.W != g.H || g.OK != nil && len(g.OK) != len(g.V) {
		return 0, fmt.Errorf("%w: %d by %d with %d values", ErrGrid, g.W, g.H, len(g.V))
	}
	if !(g.MMPerCell >= 1e-4 && g.MMPerCell <= 1000) {
		return 0, &science.RangeError{What: "side of a cell", Got: g.MMPerCell, Min: 1e-4, Max: 1000, Unit: "mm"}
	}
	for i, v := range g.V {
		if !g.ok(i) {
			continue
		}
		if !(math.Abs(v) <= maxValue) {
			return 0, &science.RangeError{What: "value of a cell", Got: v, Min: -maxValue, Max: maxValue}
		}
		n++
	}
	if n == 0 {
		return 0, fmt.Errorf("%w: none counts", ErrTooFew)
	}
	return n, nil
}

// need is check for a measure that needs at least so many cells.
func (g Grid) need(least int) (n int, err error) {
	if n, err = g.check(); err == nil && n < least {
		err = fmt.Errorf("%w: %d count, %d needed", ErrTooFew, n, least)
	}
	return n, err
}

// cells returns a length as a whole number of cells from lo to hi, to the nearest.
func (g Grid) cells(what string, mm float64, lo, hi int) (int, error) {
	if hi < lo {
		return 0, fmt.Errorf("%w: the grid is %d by %d", ErrTooFew, g.W, g.H)
	}
	n := math.Round(mm / g.MMPerCell)
	if !(n >= float64(lo) && n <= float64(hi)) {
		return 0, &science.RangeError{What: what, Got: mm, Min: float64(lo) * g.MMPerCell, Max: float64(hi) * g.MMPerCell, Unit: "mm"}
	}
	return int(n), nil
}

// moments returns the mean and the population variance of the cells that count, of
// which there are n.
func (g Grid) moments(n int) (mean, variance float64) {
	for i, v := range g.V {
		if g.ok(i) {
			mean += v
		}
	}
	mean /= float64(n)
	for i, v := range g.V {
		if g.ok(i) {
			variance += (v - mean) * (v - mean)
		}
	}
	return mean, variance / float64(n)
}

// Blocks returns the grid of the means of square blocks mm wide, rounded to whole
// cells; the MMPerCell of the answer is the width used. Blocks lie side by side from
// the top left; what is left over at the right and the bottom is dropped. A block
// counts when at least half of its cells do. mm is from one cell to the smaller side
// of the grid; outside it the error is a [science.RangeError].
func (g Grid) Blocks(mm float64) (Grid, error) {
	if _, err := g.check(); err != nil {
		return Grid{}, err
	}
	k, err := g.cells("width of a block", mm, 1, min(g.W, g.H))
	if err != nil {
		return Grid{}, err
	}
	b := Grid{W: g.W / k, H: g.H / k, MMPerCell: float64(k) * g.MMPerCell}
	b.V, b.OK = make([]float64, b.W*b.H), make([]bool, b.W*b.H)
	for at := range b.V {
		sum, n := 0.0, 0
		corner := at/b.W*k*g.W + at%b.W*k
		for r := range k {
			for i := corner + r*g.W; i < corner+r*g.W+k; i++ {
				if g.ok(i) {
					sum += g.V[i]
					n++
				}
			}
		}
		if 2*n >= k*k {
			b.V[at], b.OK[at] = sum/float64(n), true
		}
	}
	return b, nil
}
