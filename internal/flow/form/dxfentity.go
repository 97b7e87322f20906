package form

import (
	"math"
	"strconv"
	"strings"
)

// polyline is a POLYLINE of the old kind, whose corners are entities of their own.
type polyline struct {
	skip   bool
	flip   bool
	closed bool
	ps     []Point
	bulge  []float64
}

// entity draws one entity.
func (d *dxfDrawing) entity(kind string, t tags, poly **polyline) {
	if d.entities++; d.entities > mostElements {
		return
	}
	if *poly != nil {
		switch kind {
		case "VERTEX":
			if flags := t.whole(70); flags&16 == 0 { // not the frame of a spline
				(*poly).ps = append((*poly).ps, Point{t.num(10, 0), t.num(20, 0)})
				(*poly).bulge = append((*poly).bulge, t.num(42, 0))
			}
			return
		case "SEQEND":
			p := *poly
			*poly = nil
			if !p.skip {
				d.bulged(p.ps, p.bulge, p.closed, p.flip)
			}
			return
		}
		*poly = nil
		d.unread++
	}
	if t.whole(67) == 1 { // paper space: title block and frame
		return
	}
	flip, level := d.plane(t)
	if !level && kind != "LINE" && kind != "SPLINE" && kind != "POINT" {
		d.unread++
		return
	}
	p := d.pen(flip)
	at := func(x, y int) Point { return Point{t.num(x, math.NaN()), t.num(y, math.NaN())} }
	fine := func(ps ...Point) bool {
		for _, q := range ps {
			if math.IsNaN(q.X + q.Y) {
				d.unread++
				return false
			}
		}
		return true
	}
	switch kind {
	case "LINE": // in world coordinates, whatever its extrusion
		if a, b := at(10, 20), at(11, 21); fine(a, b) {
			p = d.pen(false)
			p.start(a)
			p.to(b)
		}
	case "CIRCLE", "ARC":
		c, r := at(10, 20), t.num(40, math.NaN())
		if !fine(c, Point{r, r}) || !(r > 0) {
			return
		}
		t0, t1 := 0.0, 2*math.Pi
		if kind == "ARC" {
			t0, t1 = t.num(50, 0)*math.Pi/180, t.num(51, 360)*math.Pi/180
			if !fine(Point{t0, t1}) {
				return
			}
			for t1 = math.Mod(t1-t0, 2*math.Pi); t1 <= 0; t1 += 2 * math.Pi {
			}
			t1 += t0
		}
		d.oval(p, c, Point{r, 0}, Point{0, r}, t0, t1)
	case "ELLIPSE": // in world coordinates; the extrusion turns the sense
		c, u, ratio := at(10, 20), at(11, 21), t.num(40, 1)
		t0, t1 := t.num(41, 0), t.num(42, 2*math.Pi)
		if !fine(c, u, Point{ratio, t0 + t1}) || !(ratio > 0 && ratio <= 1e3) {
			return
		}
		v := Point{-u.Y * ratio, u.X * ratio}
		if flip {
			v = Point{-v.X, -v.Y}
		}
		for t1 = math.Mod(t1-t0, 2*math.Pi); t1 <= 1e-12; t1 += 2 * math.Pi {
		}
		d.oval(d.pen(false), c, u, v, t0, t0+t1)
	case "LWPOLYLINE":
		var ps []Point
		var bulge []float64
		for _, pair := range t {
			v, err := strconv.ParseFloat(pair.value, 64)
			if err != nil || !(math.Abs(v) < 1e12) {
				v = math.NaN()
			}
			switch pair.code {
			case 10:
				ps, bulge = append(ps, Point{X: v}), append(bulge, 0)
			case 20:
				if len(ps) > 0 {
					ps[len(ps)-1].Y = v
				}
			case 42:
				if len(ps) > 0 {
					bulge[len(ps)-1] = v
				}
			}
		}
		if fine(ps...) {
			d.bulged(ps, bulge, t.whole(70)&1 != 0, flip)
		}
	case "POLYLINE":
		flags := t.whole(70)
		*poly = &polyline{closed: flags&1 != 0, flip: flip}
		if flags&(16|64) != 0 { // a mesh in the round
			(*poly).skip = true
			d.unread++
		}
	case "SPLINE":
		if !d.spline(t) {
			d.unread++
		}
	case "INSERT":
		d.insert(t, flip)
	case "POINT", "SEQEND", "VERTEX", "VIEWPORT", "ATTRIB", "ATTDEF", "":
	default:
		if len(d.others) < 100 {
			d.others[kind]++
		}
	}
}

// plane reads the extrusion: flip means seen from below, where x is mirrored (DXF
// Reference, object coordinate systems); level is false for a plane askew.
func (d *dxfDrawing) plane(t tags) (flip, level bool) {
	x, y, z := t.num(210, 0), t.num(220, 0), t.num(230, 1)
	if !(math.Abs(x) < 1e-6 && math.Abs(y) < 1e-6) || z == 0 {
		return false, false
	}
	return z < 0, true
}

func (d *dxfDrawing) pen(flip bool) pen {
	m := matrix{a: d.unit, d: d.unit}.after(d.m)
	if flip {
		m = m.after(matrix{a: -1, d: 1})
	}
	return pen{m, &d.chains, &d.ink}
}

// insert draws a block where it is placed: scaled, turned, and in rows and columns.
func (d *dxfDrawing) insert(t tags, flip bool) {
	b := d.blocks[strings.ToLower(t.text(2))]
	sx, sy, turn := t.num(41, 1), t.num(42, 1), t.num(50, 0)*math.Pi/180
	across, down := t.num(44, 0), t.num(45, 0)
	x, y := t.num(10, 0), t.num(20, 0)
	if b == nil || d.deep >= mostNested || math.IsNaN(sx+sy+turn+across+down+x+y+b.base.X+b.base.Y) {
		d.unread++
		return
	}
	outer := d.m
	if flip {
		d.m = d.m.after(matrix{a: -1, d: 1})
	}
	sin, cos := math.Sincos(turn)
	d.m = d.m.after(matrix{cos, sin, -sin, cos, x, y})
	origin := d.m
	d.deep++
	for col := range max(1, t.whole(70)) {
		for row := range max(1, t.whole(71)) {
			if d.entities++; d.entities > mostElements || d.ink < 0 {
				break
			}
			d.m = origin.after(matrix{sx, 0, 0, sy, float64(col)*across - sx*b.base.X, float64(row)*down - sy*b.base.Y})
			var poly *polyline
			for _, i := range b.items {
				if d.ink -= len(i.t) / 8; d.ink < 0 {
					break
				}
				d.entity(i.kind, i.t, &poly)
			}
		}
		if d.entities > mostElements {
			break
		}
	}
	d.deep--
	d.m = outer
}

// oval draws a whole or part of an ellipse.
func (d *dxfDrawing) oval(p pen, c, u, v Point, t0, t1 float64) {
	sin, cos := math.Sincos(t0)
	p.start(Point{c.X + cos*u.X + sin*v.X, c.Y + cos*u.Y + sin*v.Y})
	p.ellipse(c, u, v, t0, t1)
	if t1-t0 > 2*math.Pi-1e-9 {
		p.close()
	}
}

// bulged draws a polyline whose bulges are the tangents of a quarter of the arcs'
// angles (DXF Reference, LWPOLYLINE).
func (d *dxfDrawing) bulged(ps []Point, bulge []float64, closed, flip bool) {
	for i, q := range ps {
		if math.IsNaN(q.X + q.Y + bulge[i]) {
			d.unread++
			return
		}
	}
	if len(ps) < 2 {
		return
	}
	p := d.pen(flip)
	p.start(ps[0])
	for i, a := range ps {
		if i == len(ps)-1 && !closed {
			break
		}
		b, k := ps[(i+1)%len(ps)], bulge[i]
		if k == 0 || a == b || math.Abs(k) > 1e6 {
			p.to(b)
			continue
		}
		// centre on the chord's normal, at (1 - k²)/(4k) of the chord
		h := (1 - k*k) / (4 * k)
		c := Point{(a.X+b.X)/2 - h*(b.Y-a.Y), (a.Y+b.Y)/2 + h*(b.X-a.X)}
		r := a.to(b) * (1 + k*k) / (4 * math.Abs(k))
		t0 := math.Atan2(a.Y-c.Y, a.X-c.X)
		p.ellipse(c, Point{r, 0}, Point{0, r}, t0, t0+4*math.Atan(k))
		if *p.ink < 0 {
			return
		}
	}
	if closed {
		p.close()
	}
}
