package guess

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Hyper is what a process is shaped by.
type Hyper struct {
	// Lengths are, for each continuous factor in order, the distance over which
	// outputs stay alike, as a share of the factor's range.
	Lengths []float64
	// Same is, for each categorical factor in order, the correlation of two
	// different levels, above 0 and below 1.
	Same []float64
	// Noise and Block are, for each axis, the variances of a repeat and of a block
	// as shares of the process's own. Block is nil when there are no blocks.
	Noise, Block []float64
}

// kernel correlates points in units: Matern's function of 5/2 along each
// continuous factor, one correlation between different levels along each
// categorical one, all multiplied.
type kernel struct {
	numbers, labels []int // which coordinates are which
}

func kernelOf(factors []Factor) kernel {
	var k kernel
	for i, f := range factors {
		if len(f.Levels) > 0 {
			k.labels = append(k.labels, i)
		} else {
			k.numbers = append(k.numbers, i)
		}
	}
	return k
}

// scale is one kernel ready for use: root 5 over each length, log of each
// correlation.
type scale struct{ rate, log []float64 }

func (h Hyper) scale() scale {
	s := scale{make([]float64, len(h.Lengths)), make([]float64, len(h.Same))}
	for i, l := range h.Lengths {
		s.rate[i] = math.Sqrt(5) / l
	}
	for i, c := range h.Same {
		s.log[i] = math.Log(c)
	}
	return s
}

// at returns the correlation of two points.
func (k kernel) at(s scale, x, y []float64) float64 {
	product, sum := 1.0, 0.0
	for i, j := range k.numbers {
		a := s.rate[i] * math.Abs(x[j]-y[j])
		product *= 1 + a + a*a/3
		sum -= a
	}
	for i, j := range k.labels {
		if x[j] != y[j] {
			sum += s.log[i]
		}
	}
	return product * math.Exp(sum)
}

// triangle is a lower triangular matrix L by rows, with L Lt = K. Rows can be
// added, which conditions on one more point.
type triangle [][]float64

// solve returns v with L v = k, for the first len(k) rows.
func (l triangle) solve(k, v []float64) {
	for i := range k {
		v[i] = (k[i] - floats.Dot(l[i][:i], v[:i])) / l[i][i]
	}
}

// solveBack returns w with Lt w = v, in place.
func (l triangle) solveBack(v []float64) {
	for i := len(v) - 1; i >= 0; i-- {
		v[i] /= l[i][i]
		floats.AddScaled(v[:i], -v[i], l[i][:i])
	}
}

// grow appends the row of a point with covariances k to those before and
// variance own, and returns false when the matrix is no longer positive.
func (l *triangle) grow(k []float64, own float64) bool {
	row := make([]float64, len(k)+1)
	l.solve(k, row[:len(k)])
	left := own - floats.Dot(row[:len(k)], row[:len(k)])
	if !(left > 1e-14*own) {
		return false
	}
	row[len(k)] = math.Sqrt(left)
	*l = append(*l, row)
	return true
}

// inverse returns the lower half of the inverse of K, by rows.
func (l triangle) inverse() [][]float64 {
	n := len(l)
	columns := make([][]float64, n) // columns[j] is column j of the inverse of L, from row j on
	flat := make([]float64, n*(n+1))
	for j := range columns {
		c := flat[:n-j]
		flat = flat[n-j:]
		c[0] = 1 / l[j][j]
		for i := j + 1; i < n; i++ {
			c[i-j] = -floats.Dot(l[i][j:i], c[:i-j]) / l[i][i]
		}
		columns[j] = c
	}
	out := make([][]float64, n)
	for i := range out {
		out[i] = flat[: i+1 : i+1]
		flat = flat[i+1:]
		for j := range out[i] {
			out[i][j] = floats.Dot(columns[i], columns[j][i-j:])
		}
	}
	return out
}
