package target

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// toneCurve turns the linear light of one channel, as the picture's file has
// it, into the light that the neutral patches say was there. It works on cube
// roots, by which equal steps look about equal: the root of the result is a
// polynomial of the root of the input. Beyond the darkest and the lightest
// neutral patch it goes on as a straight line in roots.
type toneCurve struct {
	c        [3]float64 // coefficients, lowest power first
	low, top float64    // roots between which the polynomial holds
	atLow    [2]float64 // value and slope there
	atTop    [2]float64
}

func (t *toneCurve) at(v float64) float64 {
	x := math.Cbrt(v)
	var y float64
	switch {
	case x < t.low:
		y = t.atLow[0] + t.atLow[1]*(x-t.low)
	case x > t.top:
		y = t.atTop[0] + t.atTop[1]*(x-t.top)
	default:
		y = t.poly(x)
	}
	if y <= 0 {
		return 0
	}
	return y * y * y
}

func (t *toneCurve) poly(x float64) float64 {
	return t.c[0] + x*(t.c[1]+x*t.c[2])
}

func (t *toneCurve) slope(x float64) float64 {
	return t.c[1] + x*2*t.c[2]
}

// toneKind is how free the tone curve is.
type toneKind int

const (
	toneGain toneKind = iota // one gain per channel
	toneVeil                 // gain, and a veil of stray light
	toneBent                 // and a bend
)

// flattest is the least slope a tone curve may have, as a share of its mean
// slope: less would make one colour of two.
const flattest = 0.1

// fitTone fits a curve to the linear light seen and wanted on neutral patches.
// Bends are held back by the strength bend until the curve rises everywhere.
func fitTone(kind toneKind, seen, want []float64, bend float64) (toneCurve, bool) {
	n := len(seen)
	x, y := make([]float64, n), make([]float64, n)
	low, top := math.Inf(1), math.Inf(-1)
	for i := range seen {
		x[i], y[i] = math.Cbrt(max(0, seen[i])), math.Cbrt(max(0, want[i]))
		low, top = min(low, x[i]), max(top, x[i])
	}
	if n == 0 || !(top > 0) {
		return toneCurve{}, false
	}
	t := toneCurve{low: low, top: top}
	if kind == toneGain || n < 3 || top-low < 0.15 {
		var xy, xx float64
		for i := range x {
			xy += x[i] * y[i]
			xx += x[i] * x[i]
		}
		t.c[1] = xy / xx
		t.finish()
		return t, t.c[1] > 0
	}
	// Powers about the middle, so that bends are about straightness there.
	for bend = max(bend, 1e-9); bend < 1e6; bend *= 4 {
		m := 1 + int(kind)
		mid := (low + top) / 2
		ata := mat.NewSymDense(m, nil)
		aty := make([]float64, m)
		for i := range x {
			p := 1.0
			var row [3]float64
			for j := 0; j < m; j++ {
				row[j] = p
				p *= x[i] - mid
			}
			for j := 0; j < m; j++ {
				aty[j] += row[j] * y[i]
				for k := j; k < m; k++ {
					ata.SetSym(j, k, ata.At(j, k)+row[j]*row[k])
				}
			}
		}
		for j := 2; j < m; j++ {
			ata.SetSym(j, j, ata.At(j, j)+bend)
		}
		ata.SetSym(1, 1, ata.At(1, 1)+1e-12)
		var chol mat.Cholesky
		if !chol.Factorize(ata) {
			continue
		}
		var sol mat.VecDense
		if chol.SolveVecTo(&sol, mat.NewVecDense(m, aty)) != nil {
			continue
		}
		var d [3]float64
		for j := 0; j < m; j++ {
			d[j] = sol.AtVec(j)
		}
		t.c = [3]float64{d[0] - d[1]*mid + d[2]*mid*mid, d[1] - 2*d[2]*mid, d[2]}
		if t.rises() {
			t.finish()
			return t, true
		}
	}
	return fitTone(toneGain, seen, want, bend)
}

// rises reports whether the curve is steep enough everywhere between its ends.
func (t *toneCurve) rises() bool {
	mean := (t.poly(t.top) - t.poly(t.low)) / (t.top - t.low)
	if !(mean > 0.05) {
		return false
	}
	for i := 0; i <= 32; i++ {
		if t.slope(t.low+(t.top-t.low)*float64(i)/32) < flattest*mean {
			return false
		}
	}
	return true
}

// finish notes the ends, from which the straight lines go on.
func (t *toneCurve) finish() {
	t.atLow = [2]float64{t.poly(t.low), t.slope(t.low)}
	t.atTop = [2]float64{t.poly(t.top), t.slope(t.top)}
}
