package texture

import (
	"math"

	"aerugo/internal/science"
)

// BlockVariance is how much the means of blocks of one width differ.
type BlockVariance struct {
	MM       float64 // width of the blocks used
	Blocks   int     // how many counted
	Variance float64 // population variance of their means, in squared units of the grid
}

// BlockVariances returns the variance of the means of blocks of each width in mm, as
// [Grid.Blocks] makes them. For a field without pattern it falls with the area of the
// block; where it stays high, there is pattern wider than the block. A width at which
// fewer than two blocks count is ErrTooFew. Common practice, no source.
func BlockVariances(g Grid, mm []float64) ([]BlockVariance, error) {
	var out []BlockVariance
	for _, width := range mm {
		b, err := g.Blocks(width)
		if err != nil {
			return nil, err
		}
		n, err := b.need(2)
		if err != nil {
			return nil, err
		}
		_, variance := b.moments(n)
		out = append(out, BlockVariance{b.MMPerCell, n, variance})
	}
	return out, nil
}

// Contrast returns Tamura's contrast, in units of the grid: the standard deviation
// over the fourth root of the kurtosis, so that a few odd cells count for less. It is
// 0 for a flat field. It has no length scale.
// Source: Tamura, Mori and Yamawaki 1978, with their exponent 1/4.
func Contrast(g Grid) (float64, error) {
	n, err := g.check()
	if err != nil {
		return 0, err
	}
	mean, variance := g.moments(n)
	sd := math.Sqrt(variance)
	if sd == 0 {
		return 0, nil
	}
	fourth := 0.0
	for i, v := range g.V {
		if g.ok(i) {
			z := (v - mean) / sd
			fourth += z * z * z * z
		}
	}
	return sd / math.Pow(fourth/float64(n), 0.25), nil
}

// Grain is what bright grains narrower than one width hold.
type Grain struct {
	MM   float64 // width of the square, an odd number of cells
	Loss float64 // share of the grid's sum lost by the opening, 0 to 1
}

// Granularity returns, for each width in mm, which share of the grid's sum is lost
// when bright spots that hold no square of that width are cut down to their
// surroundings: a grey opening with a flat square. The loss never falls as the width
// grows, and it rises fastest at the width of the grains; for dark grains turn the
// values over first. Widths are rounded to odd numbers of cells, from one cell to the
// smaller side of the grid. Cells that do not count are left out as the world beyond
// the edge is. Values must not be negative, and not all 0 (ErrNoSpread); a number out
// of its range is a [science.RangeError].
//
// Source: Serra 1982 for the opening, Matheron 1975 for growing sizes; equal to scipy
// 1.10.1 with reflected edges, which for a square is the same as no world beyond.
func Granularity(g Grid, mm []float64) ([]Grain, error) {
	if _, err := g.check(); err != nil {
		return nil, err
	}
	total := 0.0
	for i, v := range g.V {
		if !g.ok(i) {
			continue
		}
		if v < 0 {
			return nil, &science.RangeError{What: "value of a cell", Got: v, Min: 0, Max: maxValue}
		}
		total += v
	}
	if total == 0 {
		return nil, ErrNoSpread
	}
	var out []Grain
	for _, width := range mm {
		if _, err := g.cells("width of the square", width, 1, min(g.W, g.H)); err != nil {
			return nil, err
		}
		reach := int(math.Round((width/g.MMPerCell - 1) / 2))
		kept := 0.0
		for i, v := range g.opening(reach) {
			if g.ok(i) {
				kept += v
			}
		}
		out = append(out, Grain{float64(2*reach+1) * g.MMPerCell, max(0, 1-kept/total)})
	}
	return out, nil
}

// opening returns the grey opening with a square that reaches so many cells each way.
// A square may be centred on a cell that does not count, as otherwise a wider square
// could lose less than a narrower one.
func (g Grid) opening(reach int) []float64 {
	v := make([]float64, len(g.V))
	for i := range v {
		if v[i] = math.Inf(1); g.ok(i) {
			v[i] = g.V[i]
		}
	}
	g.lowest(v, reach)
	// The highest is the lowest of the opposites. Squares without a cell that counts,
	// at +Inf, cover no cell that counts, so what they spoil is never read.
	for i := range v {
		v[i] = -v[i]
	}
	g.lowest(v, reach)
	for i := range v {
		v[i] = -v[i]
	}
	return v
}

// lowest puts into each cell the lowest value of the square about it.
func (g Grid) lowest(v []float64, reach int) {
	if reach == 0 {
		return
	}
	in, queue := make([]float64, max(g.W, g.H)), make([]int, max(g.W, g.H))
	for r := range g.H {
		slide(v[r*g.W:], in[:g.W], queue, 1, reach)
	}
	for c := range g.W {
		slide(v[c:], in[:g.H], queue, g.W, reach)
	}
}

// slide is lowest for one row or column of len(in) cells, a stride apart in v. The
// queue holds places whose values rise, so that its head is the lowest in reach; each
// place enters and leaves once, whatever the reach.
func slide(v, in []float64, queue []int, stride, reach int) {
	for i := range in {
		in[i] = v[i*stride]
	}
	head, tail, next := 0, 0, 0
	for i := range in {
		for ; next < len(in) && next <= i+reach; next++ {
			for tail > head && in[queue[tail-1]] >= in[next] {
				tail--
			}
			queue[tail] = next
			tail++
		}
		if queue[head] < i-reach {
			head++
		}
		v[i*stride] = in[queue[head]]
	}
}
