package texture

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

// Levels cuts the range Min to Max into N equal steps, 2 to 256 of them. Values
// outside fall into the first or the last step. Keep the range fixed for all pictures
// that are to be compared, whatever each of them holds.
type Levels struct {
	Min, Max float64
	N        int
}

// LightnessLevels are 32 steps of L*.
var LightnessLevels = Levels{0, 100, 32}

func (l Levels) check() error {
	if l.N < 2 || l.N > 256 {
		return &science.RangeError{What: "number of levels", Got: float64(l.N), Min: 2, Max: 256}
	}
	if !(math.Abs(l.Min) <= maxValue && math.Abs(l.Max) <= maxValue && l.Min < l.Max) {
		return &science.RangeError{What: "top of the levels", Got: l.Max, Min: l.Min, Max: maxValue}
	}
	return nil
}

func (l Levels) of(v float64) int {
	step := (v - l.Min) / (l.Max - l.Min) * float64(l.N)
	return int(max(0, min(float64(l.N-1), step)))
}

// Cooccurrence holds the features of how often two grey levels lie a step apart, from
// shares p that add up to 1.
type Cooccurrence struct {
	Contrast    float64 // mean squared difference, in levels²: 0 for a flat field
	Homogeneity float64 // mean of 1/(1 + difference²), above 0 to 1; the paper's inverse difference moment
	ASM         float64 // angular second moment, the sum of p², above 0 to 1: 1 for a flat field
	Correlation float64 // of the two levels, -1 to 1; 1 for a flat field, where it is not defined
	Entropy     float64 // -Σ p ln p in nats, 0 for a flat field
}

// Cooccurrences holds the features in four directions and their mean.
type Cooccurrences struct {
	Deg0, Deg45, Deg90, Deg135 Cooccurrence
	Mean                       Cooccurrence
	MM                         float64 // the distance along rows and columns in whole cells, in mm
}

// Cooccur counts pairs of cells mm apart by grey level, both ways, among the cells
// that count. The distance is rounded to whole cells; on the diagonals it is the true
// length, rounded to whole rows and columns. It is from one cell to the smaller side
// of the grid less one; outside it the error is a [science.RangeError]. A direction
// without one pair is ErrTooFew.
//
// Source: Haralick, Shanmugam and Dinstein 1973, whose directions are used: 45 is up
// to the right. Libraries that count rows downwards, such as scikit-image, call that
// one 135. The features follow scikit-image 0.19.3 to 9 digits.
func Cooccur(g Grid, l Levels, mm float64) (Cooccurrences, error) {
	if _, err := g.check(); err != nil {
		return Cooccurrences{}, err
	}
	if err := l.check(); err != nil {
		return Cooccurrences{}, err
	}
	d, err := g.cells("distance of the pairs", mm, 1, min(g.W, g.H)-1)
	if err != nil {
		return Cooccurrences{}, err
	}
	out := Cooccurrences{MM: float64(d) * g.MMPerCell}
	steep := int(math.Round(float64(d) * math.Sqrt2 / 2))
	levels := g.levels(l)
	for _, to := range []struct {
		right, down int
		into        *Cooccurrence
	}{{d, 0, &out.Deg0}, {steep, -steep, &out.Deg45}, {0, -d, &out.Deg90}, {-steep, -steep, &out.Deg135}} {
		counts := pairs(levels, g.W, g.H, l.N, to.right, to.down)
		f, ok := features(counts, l.N)
		if !ok {
			return Cooccurrences{}, fmt.Errorf("%w: no two of them lie %v mm apart", ErrTooFew, mm)
		}
		*to.into = f
		out.Mean.Contrast += f.Contrast / 4
		out.Mean.Homogeneity += f.Homogeneity / 4
		out.Mean.ASM += f.ASM / 4
		out.Mean.Correlation += f.Correlation / 4
		out.Mean.Entropy += f.Entropy / 4
	}
	return out, nil
}

// levels returns the level of each cell, or -1 where the cell does not count.
func (g Grid) levels(l Levels) []int {
	out := make([]int, len(g.V))
	for i, v := range g.V {
		if out[i] = -1; g.ok(i) {
			out[i] = l.of(v)
		}
	}
	return out
}

// pairs counts, both ways, the pairs of levels so many cells apart; row a, column b
// of the answer is at a*n+b.
func pairs(levels []int, w, h, n, right, down int) []int {
	counts := make([]int, n*n)
	for r := max(0, -down); r < min(h, h-down); r++ {
		for c := max(0, -right); c < min(w, w-right); c++ {
			a, b := levels[r*w+c], levels[(r+down)*w+c+right]
			if a >= 0 && b >= 0 {
				counts[a*n+b]++
				counts[b*n+a]++
			}
		}
	}
	return counts
}

// features is false when nothing was counted. The counts are symmetric.
func features(counts []int, n int) (f Cooccurrence, ok bool) {
	total, sum := 0, 0
	for i, k := range counts {
		total += k
		sum += k * (i / n)
	}
	if total == 0 {
		return f, false
	}
	mean := float64(sum) / float64(total)
	variance, covariance := 0.0, 0.0
	for i, k := range counts {
		if k == 0 {
			continue
		}
		p := float64(k) / float64(total)
		a, b := float64(i/n), float64(i%n)
		f.Contrast += p * (a - b) * (a - b)
		f.Homogeneity += p / (1 + (a-b)*(a-b))
		f.ASM += p * p
		f.Entropy -= p * math.Log(p)
		variance += p * (a - mean) * (a - mean)
		covariance += p * (a - mean) * (b - mean)
	}
	f.Correlation, f.Entropy = 1, max(0, f.Entropy)
	if variance > 0 {
		f.Correlation = covariance / variance
	}
	return f, true
}
