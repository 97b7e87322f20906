package form

import (
	"math"
	"strconv"
)

// pathReader reads path data (SVG 1.1, section 8.3.9).
type pathReader struct {
	s string
	i int
}

func (r *pathReader) space() {
	for r.i < len(r.s) {
		switch r.s[r.i] {
		case ' ', '\t', '\r', '\n', '\f', ',':
			r.i++
		default:
			return
		}
	}
}

// number reads one number as tightly as the grammar allows: "1-2" and "1.5.5" are
// two.
func (r *pathReader) number() (float64, bool) {
	r.space()
	start, i := r.i, r.i
	if i < len(r.s) && (r.s[i] == '+' || r.s[i] == '-') {
		i++
	}
	digits := 0
	for dot := false; i < len(r.s); i++ {
		if c := r.s[i]; c >= '0' && c <= '9' {
			digits++
		} else if c == '.' && !dot {
			dot = true
		} else {
			break
		}
	}
	if digits == 0 {
		return 0, false
	}
	if i < len(r.s) && (r.s[i] == 'e' || r.s[i] == 'E') {
		j := i + 1
		if j < len(r.s) && (r.s[j] == '+' || r.s[j] == '-') {
			j++
		}
		if j < len(r.s) && r.s[j] >= '0' && r.s[j] <= '9' {
			for j < len(r.s) && r.s[j] >= '0' && r.s[j] <= '9' {
				j++
			}
			i = j
		}
	}
	v, err := strconv.ParseFloat(r.s[start:i], 64)
	if err != nil || !(math.Abs(v) < 1e12) {
		return 0, false
	}
	r.i = i
	return v, true
}

// flag reads the 0 or 1 of an arc, which may stand without a space.
func (r *pathReader) flag() (bool, bool) {
	r.space()
	if r.i < len(r.s) && (r.s[r.i] == '0' || r.s[r.i] == '1') {
		r.i++
		return r.s[r.i-1] == '1', true
	}
	return false, false
}

// svgPath draws path data. As the standard asks, a path in error is drawn up to the
// error; ok tells.
func svgPath(d string, p pen) (ok bool) {
	var (
		r                = pathReader{s: d}
		at, begin        Point
		lastC, lastQ     Point // second-last control point of the curve before
		hadC, hadQ, open bool
		cmd              byte
	)
	begun := func() { // a line begins where the last one was closed
		if !open {
			p.start(begin)
			at, open = begin, true
		}
	}
	for {
		r.space()
		if r.i >= len(r.s) {
			return true
		}
		if c := r.s[r.i]; c >= 'A' && c <= 'Z' && c != 'E' || c >= 'a' && c <= 'z' && c != 'e' {
			cmd = c
			r.i++
		} else if cmd == 0 || cmd == 'Z' || cmd == 'z' {
			return false
		}
		var from Point
		if cmd >= 'a' {
			from = at
		}
		num := func(n int) ([]float64, bool) {
			v := make([]float64, n)
			for i := range v {
				var ok bool
				if v[i], ok = r.number(); !ok {
					return nil, false
				}
			}
			return v, true
		}
		rel := func(x, y float64) Point { return Point{from.X + x, from.Y + y} }
		var v []float64
		nowC, nowQ := false, false
		switch cmd | 0x20 {
		case 'm':
			if v, ok = num(2); !ok {
				return false
			}
			at = rel(v[0], v[1])
			begin, open = at, true
			p.start(at)
			cmd-- // further pairs are lines: l comes before m
		case 'z':
			if open {
				p.close()
			}
			at, open = begin, false
		case 'l':
			if v, ok = num(2); !ok {
				return false
			}
			begun()
			at = rel(v[0], v[1])
			p.to(at)
		case 'h', 'v':
			if v, ok = num(1); !ok {
				return false
			}
			begun()
			if cmd|0x20 == 'h' {
				at.X = from.X + v[0]
			} else {
				at.Y = from.Y + v[0]
			}
			p.to(at)
		case 'c', 's':
			var b Point
			if cmd|0x20 == 'c' {
				if v, ok = num(6); !ok {
					return false
				}
				b = rel(v[0], v[1])
				v = v[2:]
			} else {
				if v, ok = num(4); !ok {
					return false
				}
				b = at
				if hadC {
					b = Point{2*at.X - lastC.X, 2*at.Y - lastC.Y}
				}
			}
			begun()
			lastC, nowC = rel(v[0], v[1]), true
			end := rel(v[2], v[3])
			p.cubic(at, b, lastC, end)
			at = end
		case 'q', 't':
			q := at
			if cmd|0x20 == 'q' {
				if v, ok = num(4); !ok {
					return false
				}
				q = rel(v[0], v[1])
				v = v[2:]
			} else {
				if v, ok = num(2); !ok {
					return false
				}
				if hadQ {
					q = Point{2*at.X - lastQ.X, 2*at.Y - lastQ.Y}
				}
			}
			begun()
			end := rel(v[0], v[1])
			p.quadratic(at, q, end)
			lastQ, nowQ, at = q, true, end
		case 'a':
			if v, ok = num(3); !ok {
				return false
			}
			large, ok1 := r.flag()
			sweep, ok2 := r.flag()
			e, ok3 := num(2)
			if !ok1 || !ok2 || !ok3 {
				return false
			}
			begun()
			end := rel(e[0], e[1])
			p.arc(at, end, v[0], v[1], v[2]*math.Pi/180, large, sweep)
			at = end
		default:
			return false
		}
		hadC, hadQ = nowC, nowQ
		if *p.ink < 0 {
			return false
		}
	}
}

// quadratic draws a quadratic Bézier curve as the cubic that it is.
func (p pen) quadratic(a, q, b Point) {
	p.cubic(a, Point{a.X + 2*(q.X-a.X)/3, a.Y + 2*(q.Y-a.Y)/3}, Point{b.X + 2*(q.X-b.X)/3, b.Y + 2*(q.Y-b.Y)/3}, b)
}

// arc draws an elliptical arc between two points; phi turns its axes. The centre is
// found as in SVG 1.1, appendix F.6.5, radii too small are enlarged (F.6.6).
func (p pen) arc(a, b Point, rx, ry, phi float64, large, sweep bool) {
	rx, ry = math.Abs(rx), math.Abs(ry)
	if a == b {
		return
	}
	if rx == 0 || ry == 0 {
		p.to(b)
		return
	}
	sin, cos := math.Sincos(phi)
	dx, dy := (a.X-b.X)/2, (a.Y-b.Y)/2
	x, y := cos*dx+sin*dy, -sin*dx+cos*dy
	if grow := sq(x/rx) + sq(y/ry); grow > 1 {
		rx, ry = rx*math.Sqrt(grow), ry*math.Sqrt(grow)
	}
	den := sq(rx*y) + sq(ry*x)
	k := math.Sqrt(max(0, (sq(rx*ry)-den)/den))
	if large == sweep {
		k = -k
	}
	cx, cy := k*rx*y/ry, -k*ry*x/rx
	t0 := math.Atan2((y-cy)/ry, (x-cx)/rx)
	t1 := math.Atan2((-y-cy)/ry, (-x-cx)/rx)
	if sweep && t1 < t0 {
		t1 += 2 * math.Pi
	} else if !sweep && t1 > t0 {
		t1 -= 2 * math.Pi
	}
	centre := Point{cos*cx - sin*cy + (a.X+b.X)/2, sin*cx + cos*cy + (a.Y+b.Y)/2}
	if math.IsNaN(t0 + t1 + centre.X + centre.Y) {
		p.to(b)
		return
	}
	p.ellipse(centre, Point{cos * rx, sin * rx}, Point{-sin * ry, cos * ry}, t0, t1)
}
