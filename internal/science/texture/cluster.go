package texture

import (
	"fmt"
	"math"
	"math/rand/v2"

	"aerugo/internal/science"
)

// Neighbours says which cells touch: Rook those that share a side, Queen also those
// that share a corner.
type Neighbours int

const (
	Rook  Neighbours = iota // 4 neighbours
	Queen                   // 8 neighbours
)

// ahead lists the neighbours after a cell in reading order, as right, down; each pair
// of neighbours is met once.
func (n Neighbours) ahead() [][2]int {
	if n == Queen {
		return [][2]int{{1, 0}, {-1, 1}, {0, 1}, {1, 1}}
	}
	return [][2]int{{1, 0}, {0, 1}}
}

// Clustering says whether like values lie together.
type Clustering struct {
	I        float64 // Moran's I: above Expected when like lies by like, below when unlike does
	Expected float64 // what I is on average when the same values lie in random places
	N        int     // cells that count
	Pairs    int     // pairs of neighbours
	P        float64 // chance that random places cluster as much or more, one-sided; 1 when no shuffles were asked for
}

// ClusterOptions are the choices of [Moran].
type ClusterOptions struct {
	Neighbours Neighbours
	Flatten    bool // take a least-squares plane away first, so that a lamp's slope is not seen as clustering
	Shuffles   int  // random layouts for P, 0 to 100000; P cannot be below 1/(Shuffles + 1)
}

// Moran returns Moran's I of the cells that count, with a weight of 1 for each pair of
// neighbours. A cell without neighbours takes part in the mean only. I depends on the
// size of a cell, so make the cells a stated width first, with [Grid.Blocks]; that also
// makes many shuffles cheap. The rng may be nil when no shuffles are asked for. After a
// plane fit each shuffled layout has its own plane taken away too.
//
// It needs three cells, seven with Flatten, and a pair of neighbours (ErrTooFew), and
// values that differ (ErrNoSpread).
// Source: Moran 1950; the expected value after a fit is Cliff and Ord 1981, P is
// Phipson and Smyth 2010. Equal to libpysal 4.7.0 weights to 10 digits.
func Moran(g Grid, o ClusterOptions, rng *rand.Rand) (Clustering, error) {
	least := 3
	if o.Flatten {
		least = 7
	}
	n, err := g.need(least)
	if err != nil {
		return Clustering{}, err
	}
	if o.Shuffles < 0 || o.Shuffles > 100000 {
		return Clustering{}, &science.RangeError{What: "number of shuffles", Got: float64(o.Shuffles), Min: 0, Max: 100000}
	}
	if o.Shuffles > 0 && rng == nil {
		return Clustering{}, fmt.Errorf("shuffle %d times: no source of chance was given", o.Shuffles)
	}
	if _, variance := g.moments(n); variance == 0 {
		return Clustering{}, ErrNoSpread
	}
	f := newField(g, n, o)
	if f.pairs == 0 {
		return Clustering{}, fmt.Errorf("%w: no two of them touch", ErrTooFew)
	}
	values := make([]float64, 0, n)
	size := 0.0
	for i, v := range g.V {
		if g.ok(i) {
			values = append(values, v)
			size = max(size, math.Abs(v))
		}
	}
	f.trend.remove(values)
	// What is left of a perfect plane is rounding, not a pattern.
	if squares(values) <= float64(n)*(1e-12*size)*(1e-12*size) {
		return Clustering{}, ErrNoSpread
	}
	c := Clustering{N: n, Pairs: f.pairs, I: f.moran(values), Expected: f.expected(), P: 1}
	asMuch := 1
	shuffled, left := append([]float64(nil), values...), make([]float64, n)
	for range o.Shuffles {
		rng.Shuffle(n, func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		copy(left, shuffled)
		if o.Flatten {
			f.trend.remove(left)
		}
		if f.moran(left) >= c.I-1e-12*math.Abs(c.I) {
			asMuch++
		}
	}
	if o.Shuffles > 0 {
		c.P = float64(asMuch) / float64(o.Shuffles+1)
	}
	return c, nil
}

// WithoutPlane returns the grid less its least-squares plane, so that its mean is 0.
// It needs three cells that do not lie on one line (ErrTooFew).
func (g Grid) WithoutPlane() (Grid, error) {
	n, err := g.need(3)
	if err != nil {
		return Grid{}, err
	}
	t := newTrend(g, n, true)
	if len(t.basis) < 3 {
		return Grid{}, fmt.Errorf("%w: they lie on one line", ErrTooFew)
	}
	values := make([]float64, 0, n)
	for i, v := range g.V {
		if g.ok(i) {
			values = append(values, v)
		}
	}
	t.remove(values)
	out := g
	out.V = make([]float64, len(g.V))
	k := 0
	for i := range g.V {
		if g.ok(i) {
			out.V[i] = values[k]
			k++
		}
	}
	return out, nil
}

// field is the layout of the cells that count: their places, pairs and trend.
type field struct {
	w     int
	at    []int // place in laid of each cell that counts
	laid  []float64
	ahead []int // how far on in laid each neighbour is
	trend trend
	pairs int
}

// newField lays the cells out with a border of zeros, right and below, so that no
// neighbour ahead needs a test: left of the first column is the border's column.
func newField(g Grid, n int, o ClusterOptions) *field {
	f := &field{w: g.W + 1, at: make([]int, 0, n), trend: newTrend(g, n, o.Flatten)}
	f.laid = make([]float64, f.w*(g.H+1))
	for _, to := range o.Neighbours.ahead() {
		f.ahead = append(f.ahead, to[1]*f.w+to[0])
	}
	for i := range g.V {
		if g.ok(i) {
			f.at = append(f.at, i/g.W*f.w+i%g.W)
		}
	}
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	f.pairs = int(math.Round(f.products(ones, ones)))
	return f
}

// products returns the sum of a·b over each pair of neighbours once, a for the first
// of the two in reading order.
func (f *field) products(a, b []float64) float64 {
	for k, at := range f.at {
		f.laid[at] = b[k]
	}
	sum := 0.0
	for k, at := range f.at {
		near := 0.0
		for _, ahead := range f.ahead {
			near += f.laid[at+ahead]
		}
		sum += a[k] * near
	}
	return sum
}

func (f *field) moran(z []float64) float64 {
	return float64(len(z)) / float64(f.pairs) * f.products(z, z) / squares(z)
}

// expected is n/W · tr(MW)/(n - k), with k the number of trend terms and M what takes
// the trend away; with the mean alone it is -1/(n - 1).
func (f *field) expected() float64 {
	trace := 0.0
	for _, q := range f.trend.basis {
		trace -= f.products(q, q)
	}
	n, k := float64(len(f.at)), float64(len(f.trend.basis))
	return n / float64(f.pairs) * trace / (n - k)
}

func squares(z []float64) (sum float64) {
	for _, v := range z {
		sum += v * v
	}
	return sum
}

// trend is a mean, or a plane, as perpendicular unit vectors over the cells that count.
type trend struct{ basis [][]float64 }

func newTrend(g Grid, n int, plane bool) trend {
	terms := [][]float64{make([]float64, 0, n)}
	if plane {
		terms = append(terms, make([]float64, 0, n), make([]float64, 0, n))
	}
	for i := range g.V {
		if !g.ok(i) {
			continue
		}
		terms[0] = append(terms[0], 1)
		if plane {
			terms[1] = append(terms[1], float64(i%g.W))
			terms[2] = append(terms[2], float64(i/g.W))
		}
	}
	var t trend
	for _, q := range terms {
		before := squares(q)
		t.remove(q)
		// A term that the others already hold, as columns do when all cells lie in one,
		// leaves only rounding.
		left := squares(q)
		if left <= 1e-20*before {
			continue
		}
		for i := range q {
			q[i] /= math.Sqrt(left)
		}
		t.basis = append(t.basis, q)
	}
	return t
}

// remove takes the trend away from z, twice, as the first pass leaves some rounding.
func (t trend) remove(z []float64) {
	for range 2 {
		for _, q := range t.basis {
			along := 0.0
			for i, v := range q {
				along += v * z[i]
			}
			for i, v := range q {
				z[i] -= along * v
			}
		}
	}
}
