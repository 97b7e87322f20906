package form

import "math"

// Point is a place on a flat drawing, or radius and height of a profile, in mm.
type Point struct{ X, Y float64 }

func (p Point) to(q Point) float64 { return math.Hypot(q.X-p.X, q.Y-p.Y) }

// Rect is an upright rectangle.
type Rect struct{ Min, Max Point }

// Width is the size from left to right in mm.
func (r Rect) Width() float64 { return r.Max.X - r.Min.X }

// Height is the size from bottom to top in mm.
func (r Rect) Height() float64 { return r.Max.Y - r.Min.Y }

func boxOf(ps []Point) Rect {
	if len(ps) == 0 {
		return Rect{}
	}
	r := Rect{ps[0], ps[0]}
	for _, p := range ps[1:] {
		r.Min.X, r.Max.X = min(r.Min.X, p.X), max(r.Max.X, p.X)
		r.Min.Y, r.Max.Y = min(r.Min.Y, p.Y), max(r.Max.Y, p.Y)
	}
	return r
}

func (r Rect) with(o Rect) Rect {
	return Rect{
		Point{min(r.Min.X, o.Min.X), min(r.Min.Y, o.Min.Y)},
		Point{max(r.Max.X, o.Max.X), max(r.Max.Y, o.Max.Y)},
	}
}

// signedArea is the surveyor's formula: above 0 when the corners go round from x
// to y. It is taken from the first corner, so that far from the origin no digits
// are lost.
func signedArea(ps []Point) float64 {
	var a float64
	for i := 2; i < len(ps); i++ {
		p, q := ps[i-1], ps[i]
		a += (p.X-ps[0].X)*(q.Y-ps[0].Y) - (q.X-ps[0].X)*(p.Y-ps[0].Y)
	}
	return a / 2
}

// perimeter is the length of the closed line.
func perimeter(ps []Point) float64 {
	var s float64
	for i, p := range ps {
		s += p.to(ps[(i+1)%len(ps)])
	}
	return s
}

// crossing returns two sides of a closed line that cross or touch without being
// neighbours.
func crossing(ps []Point) (int, int, bool) {
	n := len(ps)
	for i := range n {
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 {
				continue
			}
			if meet(ps[i], ps[i+1], ps[j], ps[(j+1)%n]) {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

// meet reports whether two stretches have a point in common.
func meet(a, b, c, d Point) bool {
	side := func(p, q, r Point) float64 { return (q.X-p.X)*(r.Y-p.Y) - (r.X-p.X)*(q.Y-p.Y) }
	within := func(p, q, r Point) bool {
		return min(p.X, q.X) <= r.X && r.X <= max(p.X, q.X) && min(p.Y, q.Y) <= r.Y && r.Y <= max(p.Y, q.Y)
	}
	s1, s2, s3, s4 := side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)
	if (s1 > 0) != (s2 > 0) && (s3 > 0) != (s4 > 0) && s1 != 0 && s2 != 0 && s3 != 0 && s4 != 0 {
		return true
	}
	return s1 == 0 && within(a, b, c) || s2 == 0 && within(a, b, d) || s3 == 0 && within(c, d, a) || s4 == 0 && within(c, d, b)
}

// matrix maps x, y to a x + c y + e, b x + d y + f.
type matrix struct{ a, b, c, d, e, f float64 }

var unmoved = matrix{a: 1, d: 1}

func (m matrix) point(p Point) Point {
	return Point{m.a*p.X + m.c*p.Y + m.e, m.b*p.X + m.d*p.Y + m.f}
}

// after is m applied to what o made.
func (m matrix) after(o matrix) matrix {
	return matrix{
		m.a*o.a + m.c*o.b, m.b*o.a + m.d*o.b, m.a*o.c + m.c*o.d, m.b*o.c + m.d*o.d,
		m.a*o.e + m.c*o.f + m.e, m.b*o.e + m.d*o.f + m.f,
	}
}

// stretch is no less than the most by which m lengthens anything.
func (m matrix) stretch() float64 { return math.Hypot(math.Hypot(m.a, m.b), math.Hypot(m.c, m.d)) }

// chordMM is how far a drawn curve may lie from the straight lines that stand for it.
const chordMM = 0.0005

// A pen draws curves as straight lines under a matrix, as long as there is ink: its
// lines are bounded, whatever a file asks for.
type pen struct {
	m     matrix
	lines *[]chain
	ink   *int
}

// chain is a line drawn without lifting the pen.
type chain struct {
	pts    []Point
	closed bool
}

const mostPoints = 400_000

func (p pen) start(q Point) { *p.lines = append(*p.lines, chain{}); p.to(q) }

func (p pen) to(q Point) {
	if *p.ink--; *p.ink < 0 {
		return
	}
	c := &(*p.lines)[len(*p.lines)-1]
	q = p.m.point(q)
	if n := len(c.pts); n == 0 || c.pts[n-1] != q {
		c.pts = append(c.pts, q)
	}
}

func (p pen) close() { (*p.lines)[len(*p.lines)-1].closed = true }

// cubic draws a Bézier curve from where the pen is, a. The number of lines is from
// the bound |B”|/(8 n²) on a chord's distance.
func (p pen) cubic(a, b, c, d Point) {
	bend := max(math.Hypot(a.X-2*b.X+c.X, a.Y-2*b.Y+c.Y), math.Hypot(b.X-2*c.X+d.X, b.Y-2*c.Y+d.Y)) * p.m.stretch()
	if bend == 0 {
		p.to(d)
		return
	}
	n := steps(math.Sqrt(6*bend/(8*chordMM)), 16)
	for i := 1; i < n; i++ {
		t := float64(i) / float64(n)
		u := 1 - t
		w0, w1, w2, w3 := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
		p.to(Point{w0*a.X + w1*b.X + w2*c.X + w3*d.X, w0*a.Y + w1*b.Y + w2*c.Y + w3*d.Y})
	}
	p.to(d)
}

// ellipse draws the part of an ellipse from parameter t0 to t1, both ends included
// but for the first when the pen is there already. Axes are the vectors u and v.
func (p pen) ellipse(c, u, v Point, t0, t1 float64) {
	r := max(math.Hypot(u.X, u.Y), math.Hypot(v.X, v.Y)) * p.m.stretch()
	step := 2 * math.Acos(max(1-chordMM/max(r, chordMM), -1))
	n := steps(math.Abs(t1-t0)/step, int(math.Ceil(math.Abs(t1-t0)/(2*math.Pi)*128)))
	for i := 1; i <= n; i++ {
		sin, cos := math.Sincos(t0 + (t1-t0)*float64(i)/float64(n))
		p.to(Point{c.X + cos*u.X + sin*v.X, c.Y + cos*u.Y + sin*v.Y})
	}
}

// steps is a number of lines, at least least and at most 20 000.
func steps(n float64, least int) int {
	const most = 20000
	if !(n < most) {
		return most
	}
	return min(max(int(math.Ceil(n)), least, 1), most)
}
