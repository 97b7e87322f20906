package measure

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/science/colour"
)

// axisBox is the smallest box around points along their principal axes.
type axisBox struct {
	mean      [3]float64
	axes      [3][3]float64 // rows
	low, high [3]float64
}

func newBox(points []colour.Lab) axisBox {
	var b axisBox
	n := float64(len(points))
	for _, p := range points {
		for i, v := range [3]float64{p.L, p.A, p.B} {
			b.mean[i] += v / n
		}
	}
	covariance := mat.NewSymDense(3, nil)
	for _, p := range points {
		d := [3]float64{p.L - b.mean[0], p.A - b.mean[1], p.B - b.mean[2]}
		for i := range d {
			for j := i; j < 3; j++ {
				covariance.SetSym(i, j, covariance.At(i, j)+d[i]*d[j]/n)
			}
		}
	}
	b.axes = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	var eigen mat.EigenSym
	if eigen.Factorize(covariance, true) {
		var v mat.Dense
		eigen.VectorsTo(&v)
		for i := range b.axes {
			for j := range b.axes[i] {
				b.axes[i][j] = v.At(j, i)
			}
		}
	}
	for i, axis := range b.axes {
		b.low[i], b.high[i] = math.Inf(1), math.Inf(-1)
		for _, p := range points {
			d := axis[0]*(p.L-b.mean[0]) + axis[1]*(p.A-b.mean[1]) + axis[2]*(p.B-b.mean[2])
			b.low[i], b.high[i] = math.Min(b.low[i], d), math.Max(b.high[i], d)
		}
	}
	return b
}

// uniform scatters n points evenly in the box.
func (b axisBox) uniform(n int, rng *rand.Rand) []colour.Lab {
	out := make([]colour.Lab, n)
	for i := range out {
		v := b.mean
		for j, axis := range b.axes {
			d := b.low[j] + rng.Float64()*(b.high[j]-b.low[j])
			for c := range v {
				v[c] += d * axis[c]
			}
		}
		out[i] = colour.Lab{L: v[0], A: v[1], B: v[2]}
	}
	return out
}
