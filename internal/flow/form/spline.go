package form

import (
	"math"
	"strconv"
)

// spline draws a SPLINE, a rational B-spline by its control points, knots and
// weights, or smoothly through its fit points where it has only those; false means
// that it makes no sense.
//
// Source of the evaluation: de Boor, C., A Practical Guide to Splines, Springer,
// 1978, chapter X.
func (d *dxfDrawing) spline(t tags) bool {
	degree := t.whole(71)
	var knots, weights []float64
	var ps, fit []Point
	for _, pair := range t {
		switch pair.code {
		case 40, 41, 10, 20, 11, 21:
		default:
			continue
		}
		v, err := strconv.ParseFloat(pair.value, 64)
		if err != nil || !(math.Abs(v) < 1e12) {
			return false
		}
		switch pair.code {
		case 40:
			knots = append(knots, v)
		case 41:
			weights = append(weights, v)
		case 10:
			ps = append(ps, Point{X: v})
		case 20:
			if len(ps) > 0 {
				ps[len(ps)-1].Y = v
			}
		case 11:
			fit = append(fit, Point{X: v})
		case 21:
			if len(fit) > 0 {
				fit[len(fit)-1].Y = v
			}
		}
	}
	n := len(ps)
	if n == 0 && len(fit) > 2 {
		return d.fitted(fit, t.whole(70)&1 != 0)
	}
	if degree < 1 || degree > 10 || n <= degree || len(knots) != n+degree+1 || len(weights) != 0 && len(weights) != n {
		return false
	}
	for i := 1; i < len(knots); i++ {
		if knots[i] < knots[i-1] {
			return false
		}
	}
	for _, w := range weights {
		if !(w > 0) {
			return false
		}
	}
	if !(knots[n] > knots[degree]) {
		return false
	}
	p := d.pen(false)
	begun := false
	for k := degree; k < n; k++ {
		a, b := knots[k], knots[k+1]
		if !(b > a) {
			continue
		}
		// lines per span as for a Bézier curve, whose bend is at most the frame's length
		var frame float64
		for i := k - degree; i < k; i++ {
			frame += ps[i].to(ps[i+1])
		}
		lines := steps(math.Sqrt(float64(degree)*frame*p.m.stretch()/chordMM), 16)
		for i := 0; i <= lines; i++ {
			q := deBoor(degree, k, a+(b-a)*float64(i)/float64(lines), knots, ps, weights)
			if !begun {
				p.start(q)
				begun = true
			}
			p.to(q)
			if *p.ink < 0 {
				return true
			}
		}
	}
	return begun
}

// fitted draws a smooth curve through points; the standard leaves it to the program
// which, so that this is noted.
func (d *dxfDrawing) fitted(fit []Point, closed bool) bool {
	const note = "A curve is given by the points it runs through only; it is drawn smoothly through them, which may differ a little from your program."
	seen := false
	for _, n := range d.notes {
		seen = seen || n == note
	}
	if !seen {
		d.notes = append(d.notes, note)
	}
	p := d.pen(false)
	n := len(fit)
	at := func(i int) Point {
		switch {
		case closed:
			return fit[(i+n)%n]
		case i < 0:
			return Point{2*fit[0].X - fit[1].X, 2*fit[0].Y - fit[1].Y}
		case i >= n:
			return Point{2*fit[n-1].X - fit[n-2].X, 2*fit[n-1].Y - fit[n-2].Y}
		}
		return fit[i]
	}
	p.start(fit[0])
	last := n - 1
	if closed {
		last = n
	}
	for i := range last {
		q := [4]Point{at(i - 1), at(i), at(i + 1), at(i + 2)}
		var k [4]float64
		for j := 1; j < 4; j++ {
			k[j] = k[j-1] + max(math.Sqrt(q[j-1].to(q[j])), 1e-9)
		}
		const lines = 64
		for s := 1; s < lines; s++ {
			p.to(catmull(q, k, k[1]+(k[2]-k[1])*float64(s)/lines))
		}
		p.to(q[2])
	}
	if closed {
		p.close()
	}
	return true
}

// deBoor evaluates a rational B-spline at u within the knots k and k+1.
func deBoor(degree, k int, u float64, knots []float64, ps []Point, weights []float64) Point {
	type weighted struct{ x, y, w float64 }
	var d [11]weighted
	for j := 0; j <= degree; j++ {
		i := j + k - degree
		w := 1.0
		if len(weights) > 0 {
			w = weights[i]
		}
		d[j] = weighted{ps[i].X * w, ps[i].Y * w, w}
	}
	for r := 1; r <= degree; r++ {
		for j := degree; j >= r; j-- {
			lo, hi := knots[j+k-degree], knots[j+1+k-r]
			a := 0.0
			if hi > lo {
				a = (u - lo) / (hi - lo)
			}
			d[j] = weighted{d[j-1].x + a*(d[j].x-d[j-1].x), d[j-1].y + a*(d[j].y-d[j-1].y), d[j-1].w + a*(d[j].w-d[j-1].w)}
		}
	}
	return Point{d[degree].x / d[degree].w, d[degree].y / d[degree].w}
}
