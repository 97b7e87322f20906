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
