package form

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// dxfUnits are the lengths in mm that $INSUNITS names (Autodesk, DXF Reference,
// HEADER section group codes).
var dxfUnits = map[int]float64{
	1: 25.4, 2: 304.8, 4: 1, 5: 10, 6: 1000, 8: 25.4e-6, 9: 0.0254, 10: 914.4, 13: 0.001, 14: 100,
}

// ReadDXF reads an outline drawn as ASCII DXF (R12 and later): LINE, LWPOLYLINE and
// POLYLINE with arcs, ARC, CIRCLE, ELLIPSE and SPLINE of the model space, and blocks
// of them. Lines are joined where their ends meet; lines within lines are holes.
// Other entities that draw something, such as text, are counted in the notes. y goes
// up.
//
// Curves are off by at most 0.0005 mm, as in [ReadSVG].
func ReadDXF(data []byte, opt DrawingOptions) (Outline, error) {
	opt, err := opt.check()
	if err != nil {
		return Outline{}, err
	}
	if len(data) > mostDrawingBytes {
		return Outline{}, bad("drawing", "The drawing is %d MB; a drawing can have %d MB.", len(data)>>20, mostDrawingBytes>>20)
	}
	if bytes.HasPrefix(data, []byte("AutoCAD Binary DXF")) {
		return Outline{}, bad("drawing", "The drawing is a binary DXF; save it as ASCII DXF.")
	}
	d := dxfDrawing{data: data, ink: mostPoints, others: map[string]int{}, blocks: map[string]*placed{}, m: unmoved}
	if err := d.read(opt); err != nil {
		return Outline{}, err
	}
	if d.ink < 0 {
		return Outline{}, bad("drawing", "The drawing has more than %d points; take a simpler one.", mostPoints)
	}
	loops, open := join(d.chains, opt.JoinMM)
	lines := make([]closedLine, len(loops))
	for i, l := range loops {
		lines[i] = closedLine{pts: l}
	}
	if d.unread > 0 {
		d.notes = append(d.notes, fmt.Sprintf("%d lines or curves lie askew to the drawing or can't be read; they were left out.", d.unread))
	}
	names := make([]string, 0, len(d.others))
	for name := range d.others {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names[:min(len(names), 20)] {
		d.notes = append(d.notes, fmt.Sprintf("%d of the kind %s are not measured; turn them into plain lines and arcs (explode them) if they bound metal.", d.others[name], cut(name)))
	}
	o, err := finish(lines, []paint{{evenOdd: true}}, open, d.notes)
	o.Assumed = d.assumed
	return o, err
}

// dxfDrawing reads a file of pairs: a line with a code, a line with a value.
type dxfDrawing struct {
	data     []byte
	line     int
	unit     float64
	chains   []chain
	others   map[string]int
	notes    []string
	unread   int
	entities int
	assumed  bool
	ink      int
	blocks   map[string]*placed
	m        matrix // of the blocks that are being drawn
	deep     int    // how many
}

// placed is a part of a drawing that is placed by name.
type placed struct {
	base  Point
	items []item
}

type item struct {
	kind string
	t    tags
}

// next returns the next pair; ok is false at the end of the file.
func (d *dxfDrawing) next() (code int, value string, ok bool, err error) {
	text := func() (string, bool) {
		if len(d.data) == 0 {
			return "", false
		}
		l, rest, _ := bytes.Cut(d.data, []byte("\n"))
		d.data = rest
		d.line++
		return strings.TrimSpace(string(l)), true
	}
	c, ok := text()
	if !ok {
		return 0, "", false, nil
	}
	if d.line == 1 {
		c = strings.TrimPrefix(c, "\uFEFF")
	}
	value, ok = text()
	if !ok {
		if c == "" {
			return 0, "", false, nil
		}
		return 0, "", false, bad("drawing", "The DXF drawing is cut off at line %d.", d.line)
	}
	if code, err = strconv.Atoi(c); err != nil {
		return 0, "", false, bad("drawing", "The file is not an ASCII DXF drawing: line %d is %q, where a number belongs.", d.line-1, cut(c))
	}
	return code, value, true, nil
}

// tags is one entity: its pairs in order.
type tags []struct {
	code  int
	value string
}

// num returns the first value of a code, or otherwise.
func (t tags) num(code int, otherwise float64) float64 {
	for _, p := range t {
		if p.code == code {
			if v, err := strconv.ParseFloat(p.value, 64); err == nil && math.Abs(v) < 1e12 {
				return v
			}
			return math.NaN()
		}
	}
	return otherwise
}

// text returns the first value of a code, or nothing.
func (t tags) text(code int) string {
	for _, p := range t {
		if p.code == code {
			return p.value
		}
	}
	return ""
}

// whole is num as a whole number.
func (t tags) whole(code int) int {
	if v := t.num(code, 0); v == v {
		return int(v)
	}
	return 0
}

// read goes through the file's sections.
func (d *dxfDrawing) read(opt DrawingOptions) error {
	d.unit = opt.UnitMM
	section, variable := "", ""
	known := opt.UnitMM > 0
	sections := 0
	var kind string
	var body tags
	var poly *polyline
	var in *placed
	flush := func() {
		switch {
		case kind == "" || section != "ENTITIES" && section != "BLOCKS":
		case section == "ENTITIES":
			d.entity(kind, body, &poly)
		case kind == "BLOCK":
			in = &placed{base: Point{body.num(10, 0), body.num(20, 0)}}
			if name := strings.ToLower(body.text(2)); d.blocks[name] == nil {
				d.blocks[name] = in
			}
		case kind == "ENDBLK":
			in = nil
		case in != nil:
			in.items = append(in.items, item{kind, slices.Clone(body)})
		}
	}
	for {
		code, value, ok, err := d.next()
		if err != nil {
			return err
		}
		if !ok {
			break
		}
		switch {
		case code == 0:
			flush()
			if d.unit == 0 && section == "ENTITIES" {
				d.unit = 1 // no header, or none that tells
			}
			kind, body = strings.ToUpper(value), body[:0]
			if kind == "ENDSEC" || kind == "EOF" {
				section = ""
			}
		case kind == "SECTION" && code == 2:
			section, kind = strings.ToUpper(value), ""
			sections++
			if section == "ENTITIES" && d.unit == 0 {
				d.unit = 1
			}
		case section == "HEADER" && code == 9:
			variable = strings.ToUpper(value)
		case section == "HEADER" && variable == "$INSUNITS" && code == 70 && opt.UnitMM == 0:
			if n, err := strconv.Atoi(value); err == nil {
				if mm, ok := dxfUnits[n]; ok {
					d.unit, known = mm, true
				} else if n != 0 {
					d.notes = append(d.notes, fmt.Sprintf("The drawing's unit (number %d) is none that metal is cut in; it is taken as mm.", n))
				}
			}
		case (section == "ENTITIES" || section == "BLOCKS") && kind != "":
			const most = 200_000 // pairs of one entity
			if len(body) >= most {
				return bad("drawing", "One line of the DXF drawing has more than %d numbers; take a simpler one.", most)
			}
			body = append(body, struct {
				code  int
				value string
			}{code, value})
		}
	}
	flush()
	if sections == 0 {
		return bad("drawing", "The file is not a DXF drawing: it has no sections.")
	}
	if d.entities > mostElements {
		return bad("drawing", "The drawing has more than %d parts; take a simpler one.", mostElements)
	}
	if !known {
		d.assumed = true
		d.notes = append(d.notes, "The drawing does not say what its unit is; it is taken as mm. Give a known length to be sure.")
	}
	return nil
}

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
