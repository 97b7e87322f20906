package mat

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/studio"
)

// Homography maps one plane to another, row by row of a 3 x 3 matrix.
type Homography [9]float64

func (h Homography) at(x, y float64) (u, v float64) {
	w := h[6]*x + h[7]*y + h[8]
	return (h[0]*x + h[1]*y + h[2]) / w, (h[3]*x + h[4]*y + h[5]) / w
}

// inverse returns the map back; ok is false when there is none.
func (h Homography) inverse() (g Homography, ok bool) {
	m := mat.NewDense(3, 3, append([]float64(nil), h[:]...))
	var inv mat.Dense
	if err := inv.Inverse(m); err != nil {
		return g, false
	}
	copy(g[:], inv.RawMatrix().Data)
	for i := range g {
		g[i] /= inv.At(2, 2)
	}
	return g, true
}

func (h Homography) times(g Homography) Homography {
	var out Homography
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[3*i+j] += h[3*i+k] * g[3*k+j]
			}
		}
	}
	return out
}

// stretch returns the 2 x 2 derivative of h at (x, y): how far pixels run along
// each mm.
func (h Homography) stretch(x, y float64) (ux, uy, vx, vy float64) {
	w := h[6]*x + h[7]*y + h[8]
	u, v := h.at(x, y)
	return (h[0] - u*h[6]) / w, (h[1] - u*h[7]) / w, (h[3] - v*h[6]) / w, (h[4] - v*h[7]) / w
}

// scale returns the root of the area one unit square at (x, y) is mapped to.
func (h Homography) scale(x, y float64) float64 {
	ux, uy, vx, vy := h.stretch(x, y)
	return math.Sqrt(math.Abs(ux*vy - uy*vx))
}

// normalised moves points to their centroid and scales them to a mean distance
// of the square root of 2 (Hartley & Zisserman, Multiple View Geometry, 2nd
// ed., 2004, section 4.4).
func normalised(p [][2]float64) (q [][2]float64, t, back Homography) {
	var cx, cy, d float64
	n := float64(len(p))
	for _, v := range p {
		cx += v[0] / n
		cy += v[1] / n
	}
	for _, v := range p {
		d += math.Hypot(v[0]-cx, v[1]-cy) / n
	}
	s := math.Sqrt2 / d
	for _, v := range p {
		q = append(q, [2]float64{s * (v[0] - cx), s * (v[1] - cy)})
	}
	return q, Homography{s, 0, -s * cx, 0, s, -s * cy, 0, 0, 1}, Homography{1 / s, 0, cx, 0, 1 / s, cy, 0, 0, 1}
}

// fitHomography returns the map that takes from to to with the least squares of
// distances: the normalised direct linear transformation (Hartley & Zisserman,
// algorithm 4.2), then Gauss-Newton steps. At least four points are needed, no
// three of the four in one line.
func fitHomography(from, to [][2]float64) (h Homography, ok bool) {
	if len(from) < 4 {
		return h, false
	}
	a, ta, _ := normalised(from)
	b, _, back := normalised(to)
	m := mat.NewDense(2*len(a), 8, nil)
	v := mat.NewVecDense(2*len(a), nil)
	for i := range a {
		x, y, u, w := a[i][0], a[i][1], b[i][0], b[i][1]
		m.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
		m.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -w * x, -w * y})
		v.SetVec(2*i, u)
		v.SetVec(2*i+1, w)
	}
	var solved mat.VecDense
	if err := solved.SolveVec(m, v); err != nil {
		return h, false
	}
	for i := range 8 {
		h[i] = solved.AtVec(i)
	}
	h[8] = 1
	if len(a) > 4 {
		for range 4 {
			for i := range a {
				r := h.slopes(a[i][0], a[i][1])
				m.SetRow(2*i, r[0][:])
				m.SetRow(2*i+1, r[1][:])
				u, w := h.at(a[i][0], a[i][1])
				v.SetVec(2*i, b[i][0]-u)
				v.SetVec(2*i+1, b[i][1]-w)
			}
			if err := solved.SolveVec(m, v); err != nil {
				return h, false
			}
			for i := range 8 {
				h[i] += solved.AtVec(i)
			}
		}
	}
	h = back.times(h).times(ta)
	last := h[8]
	for i := range h {
		h[i] /= last
		if math.IsNaN(h[i]) || math.IsInf(h[i], 0) {
			return h, false
		}
	}
	return h, true
}

// slopes are the derivatives of both picture coordinates of (x, y) by the first
// eight elements of h.
func (h Homography) slopes(x, y float64) [2][8]float64 {
	w := h[6]*x + h[7]*y + h[8]
	u, v := h.at(x, y)
	return [2][8]float64{
		{x / w, y / w, 1 / w, 0, 0, 0, -u * x / w, -u * y / w},
		{0, 0, 0, x / w, y / w, 1 / w, -v * x / w, -v * y / w},
	}
}

// spread returns by how many pixels (one standard deviation) the picture of each
// of points is uncertain, when every one of from was seen with sigma pixels.
func (h Homography) spread(from [][2]float64, sigma float64, points []MM) []float64 {
	out := make([]float64, len(points))
	n, t, _ := normalised(from)
	// h in normalised coordinates: g(t(x)) = h(x)
	back, ok := t.inverse()
	if !ok {
		return out
	}
	g := h.times(back)
	last := g[8]
	for i := range g {
		g[i] /= last
	}
	rows := mat.NewDense(2*len(n), 8, nil)
	for i, p := range n {
		r := g.slopes(p[0], p[1])
		rows.SetRow(2*i, r[0][:])
		rows.SetRow(2*i+1, r[1][:])
	}
	var square, cov mat.Dense
	square.Mul(rows.T(), rows)
	if err := cov.Inverse(&square); err != nil {
		for i := range out {
			out[i] = math.Inf(1)
		}
		return out
	}
	for i, p := range points {
		x, y := t.at(p.X, p.Y)
		sum := 0.0
		for _, r := range g.slopes(x, y) {
			v := mat.NewVecDense(8, append([]float64(nil), r[:]...))
			sum += mat.Inner(v, &cov, v)
		}
		out[i] = sigma * math.Sqrt(math.Max(sum, 0))
	}
	return out
}

// line is a straight line a*x + b*y = c with a² + b² = 1.
type line struct{ a, b, c float64 }

func (l line) off(p studio.Point) float64 { return l.a*p.X + l.b*p.Y - l.c }

// meet returns where two lines cross; ok is false when they hardly do.
func meet(l, m line) (studio.Point, bool) {
	d := l.a*m.b - l.b*m.a
	if math.Abs(d) < 0.05 {
		return studio.Point{}, false
	}
	return studio.Point{X: (l.c*m.b - l.b*m.c) / d, Y: (l.a*m.c - l.c*m.a) / d}, true
}

// through fits a line to points with weights by total least squares.
func through(p []studio.Point, w []float64) (line, bool) {
	var n, sx, sy float64
	for i, q := range p {
		n += w[i]
		sx += w[i] * q.X
		sy += w[i] * q.Y
	}
	if n <= 0 {
		return line{}, false
	}
	mx, my := sx/n, sy/n
	var xx, xy, yy float64
	for i, q := range p {
		dx, dy := q.X-mx, q.Y-my
		xx += w[i] * dx * dx
		xy += w[i] * dx * dy
		yy += w[i] * dy * dy
	}
	if xx+yy <= 0 {
		return line{}, false
	}
	angle := 0.5 * math.Atan2(2*xy, xx-yy)
	a, b := -math.Sin(angle), math.Cos(angle)
	return line{a, b, a*mx + b*my}, true
}
