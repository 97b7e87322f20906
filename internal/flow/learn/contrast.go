package learn

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"

	"gonum.org/v1/gonum/stat/distuv"
)

// A cell is the swatches made alike: one level of a ladder, one combination of a grid.
type cell struct {
	label string
	x     float64
	units []unit
}

func (c cell) numbers(get func(unit) float64) []float64 {
	var xs []float64
	for _, u := range c.units {
		xs = append(xs, get(u))
	}
	return xs
}

func (c cell) mean(get func(unit) float64) float64 {
	sum := 0.0
	for _, u := range c.units {
		sum += get(u)
	}
	return sum / float64(len(c.units))
}

func channel(i int) func(unit) float64 { return func(u unit) float64 { return u.values[i] } }

func covered(u unit) float64 { return u.covered }

// withCover returns the cells with only those swatches whose coverage is known.
func withCover(cells []cell) []cell {
	out := make([]cell, len(cells))
	for i, c := range cells {
		out[i] = cell{label: c.label, x: c.x}
		for _, u := range c.units {
			if u.hasCover {
				out[i].units = append(out[i].units, u)
			}
		}
	}
	return out
}

// A side is one end of a difference: a mean over cells, weighed equally.
type side struct {
	cells []cell
}

func (s side) n() int {
	n := 0
	for _, c := range s.cells {
		n += len(c.units)
	}
	return n
}

func (s side) whole() bool {
	for _, c := range s.cells {
		if len(c.units) == 0 {
			return false
		}
	}
	return len(s.cells) > 0
}

func (s side) mean(get func(unit) float64) float64 {
	sum := 0.0
	for _, c := range s.cells {
		sum += c.mean(get)
	}
	return sum / float64(len(s.cells))
}

func (s side) look() colour.Lab {
	var v [channels]float64
	for i := range v {
		v[i] = s.mean(channel(i))
	}
	return lab(v)
}

// share is the variance of the side's mean for a spread of 1 between swatches.
func (s side) share() float64 {
	sum, k := 0.0, float64(len(s.cells))
	for _, c := range s.cells {
		sum += 1 / (k * k * float64(len(c.units)))
	}
	return sum
}

// A spread is how swatches made alike differ: the lower triangle whose square is
// the covariance of L*, a* and b* within cells, and its degrees of freedom.
type spread struct {
	root [channels][channels]float64
	df   float64
}

func spreadOf(cells []cell) spread {
	var s spread
	var cov [channels][channels]float64
	for _, c := range cells {
		if len(c.units) < 2 {
			continue
		}
		s.df += float64(len(c.units) - 1)
		var m [channels]float64
		for i := range m {
			m[i] = c.mean(channel(i))
		}
		for _, u := range c.units {
			for i := range m {
				for j := range m {
					cov[i][j] += (u.values[i] - m[i]) * (u.values[j] - m[j])
				}
			}
		}
	}
	if s.df == 0 {
		return s
	}
	// Cholesky; with fewer swatches than channels a pivot is nought, and the
	// column below it is left at nought.
	for j := range channels {
		for i := j; i < channels; i++ {
			v := cov[i][j] / s.df
			for k := range j {
				v -= s.root[i][k] * s.root[j][k]
			}
			switch {
			case i == j:
				s.root[j][j] = math.Sqrt(max(v, 0))
			case s.root[j][j] > 1e-9:
				s.root[i][j] = v / s.root[j][j]
			}
		}
	}
	return s
}

// variance returns the pooled variance of one quantity within cells and its
// degrees of freedom.
func variance(cells []cell, get func(unit) float64) (s2, df float64) {
	for _, c := range cells {
		if len(c.units) < 2 {
			continue
		}
		m := c.mean(get)
		for _, u := range c.units {
			s2 += (get(u) - m) * (get(u) - m)
		}
		df += float64(len(c.units) - 1)
	}
	if df > 0 {
		s2 /= df
	}
	return s2, df
}

// pooledChange returns the difference of two sides in one quantity, with the
// spread of all cells together: Student's t for a contrast of cell means
// (NIST/SEMATECH e-Handbook, 7.4.3.6 and 7.4.3.7). looks is among how many such differences
// it stands. It reports false when nothing was made twice.
func pooledChange(name string, all []cell, from, to side, get func(unit) float64, looks int) (Change, bool) {
	s2, df := variance(all, get)
	c := stat.Contrast{Difference: to.mean(get) - from.mean(get), SE: math.Sqrt(s2 * (from.share() + to.share())), DF: df}
	if df < 1 {
		return Change{Name: name, Value: c.Difference}, false
	}
	return changeOf(name, c, looks), true
}

// welchChange returns the same for two cells, each with its own spread.
func welchChange(name string, from, to cell, get func(unit) float64, looks int) (Change, bool) {
	a, b := from.numbers(get), to.numbers(get)
	c, err := stat.WelchDifference(a, b)
	switch {
	case errors.Is(err, stat.ErrNoSpread): // each level repeats to the last digit
		c = stat.Contrast{Difference: to.mean(get) - from.mean(get), DF: float64(len(a) + len(b) - 2)}
	case err != nil:
		return Change{Name: name, Value: to.mean(get) - from.mean(get)}, false
	}
	return changeOf(name, c, looks), true
}

// changeOf returns c with its interval, and whether it leaves 0 out when looks
// such intervals are read at once (Bonferroni).
func changeOf(name string, c stat.Contrast, looks int) Change {
	ch := Change{Name: name, Value: c.Difference}
	ch.Low, ch.High, _ = c.Interval(Confidence) // its only error is a confidence outside 0 to 1
	low, high, err := c.Interval(1 - (1-Confidence)/float64(looks))
	ch.Sure = err == nil && (low > 0 || high < 0)
	return ch
}

// draws is how often the bootstrap draws: enough that the ends of the interval
// vary by about 2 % of its length from seed to seed.
const draws = 2000

// bootStream is the second half of the bootstrap's seed.
const bootStream = 0x6c6561726e2d6465

// differenceInterval returns the 95 % interval of the CIEDE2000 difference of
// two mean looks by a parametric bootstrap: both means are drawn again with the
// covariance within cells and a t-like tail for their degrees of freedom.
//
// A distance between two noisy looks is too long on average. The quantiles are
// therefore mirrored at the estimate (the basic bootstrap interval), which takes
// that off once; an end below 0 becomes 0.
func differenceInterval(from, to side, a, b spread, common bool, seed uint64) (low, high float64, ok bool) {
	if a.df < 1 || b.df < 1 {
		return 0, 0, false
	}
	rng := rand.New(rand.NewPCG(seed, bootStream))
	x, y := from.look(), to.look()
	est := colour.Difference(x, y)
	wx, wy := math.Sqrt(from.share()), math.Sqrt(to.share())
	got := make([]float64, draws)
	for i := range got {
		ka := widening(a.df, rng)
		kb := ka
		if !common {
			kb = widening(b.df, rng)
		}
		got[i] = colour.Difference(a.shake(x, wx*ka, rng), b.shake(y, wy*kb, rng))
	}
	sort.Float64s(got)
	lowest, highest := got[int(draws*(1-Confidence)/2)], got[draws-1-int(draws*(1-Confidence)/2)]
	return max(0, 2*est-highest), max(0, 2*est-lowest), true
}

// widening draws the factor that turns a normal deviate into one of t.
func widening(df float64, rng *rand.Rand) float64 {
	return math.Sqrt(df / distuv.ChiSquared{K: df, Src: rng}.Rand())
}

// shake returns look plus a normal deviate with the covariance of s.
func (s spread) shake(look colour.Lab, weight float64, rng *rand.Rand) colour.Lab {
	v := values(look)
	var z [channels]float64
	for i := range z {
		z[i] = weight * rng.NormFloat64()
		for j := 0; j <= i; j++ {
			v[i] += s.root[i][j] * z[j]
		}
	}
	return lab(v)
}
