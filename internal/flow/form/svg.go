package form

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Limits of a drawing: far above any that is cut from metal.
const (
	mostDrawingBytes = 32 << 20
	mostElements     = 100_000
	mostDepth        = 64
	mostSheet        = 1 << 20
)

// DefaultJoinMM is how far apart the ends of two lines may be to count as joined
// (common practice, no source): no cut follows a smaller step.
const DefaultJoinMM = 0.05

// DrawingOptions say how to read a drawing.
type DrawingOptions struct {
	// JoinMM is how far apart ends of lines may be to count as joined; 0 for
	// [DefaultJoinMM].
	JoinMM float64
	// UnitMM is the length of the drawing's unit in mm, over what the file says; 0 to
	// take the file's word.
	UnitMM float64
	// Lines takes every closed line as a cut: what lies within an even number of them
	// is a hole, whatever is painted. A DXF drawing is always read so, an SVG drawing
	// where it is only stroked.
	Lines bool
}

func (o DrawingOptions) check() (DrawingOptions, error) {
	if o.JoinMM == 0 {
		o.JoinMM = DefaultJoinMM
	}
	if !(o.JoinMM > 0 && o.JoinMM <= 100) {
		return o, bad("join", "Ends of lines can be joined over 0 to 100 mm, not %.4g mm.", o.JoinMM)
	}
	if o.UnitMM != 0 && !(o.UnitMM > 1e-6 && o.UnitMM < 1e6) {
		return o, bad("unit", "A unit of %.4g mm can't be; it has to be between 0.000001 and 1000000 mm.", o.UnitMM)
	}
	return o, nil
}

// ReadSVG reads an outline drawn as SVG (1.1 and 2): paths, basic shapes, groups,
// transforms, clones, nested drawings, fill rules and plain style sheets. What is
// painted is metal, what is painted white over it is not, and elements that are
// only stroked are cut lines. Text, pictures, clips and masks are not measured and
// noted. A drawing with scripts, entities of its own or parts in other files is
// refused. y goes down, as on the page.
//
// Curves are off by at most 0.0005 mm, so that an outline 5 mm across is good to
// 0.03 %.
func ReadSVG(data []byte, opt DrawingOptions) (Outline, error) {
	opt, err := opt.check()
	if err != nil {
		return Outline{}, err
	}
	root, err := parseSVG(data)
	if err != nil {
		return Outline{}, err
	}
	d := svgDrawing{opt: opt, ids: map[string]*svgNode{}, seen: map[string]bool{}, ink: mostPoints, budget: mostElements}
	d.index(root)
	m, w, h := d.page(root)
	d.walk(root.kids, m, look{fill: "black", stroke: "none", visible: "visible"}, w, h, 0)
	if d.err != nil {
		return Outline{}, d.err
	}
	if d.ink < 0 {
		return Outline{}, bad("drawing", "The drawing has more than %d points; take a simpler one.", mostPoints)
	}
	if d.budget < 0 {
		return Outline{}, bad("drawing", "The drawing has more than %d parts, clones counted; take a simpler one.", mostElements)
	}
	// stroked lines are one paint of their own, in which lines within lines are holes
	stroked, open := join(d.stroked, opt.JoinMM)
	for _, l := range stroked {
		d.lines = append(d.lines, closedLine{l, len(d.paints)})
	}
	d.paints = append(d.paints, paint{evenOdd: true})
	o, err := finish(d.lines, d.paints, open, d.notes)
	o.Assumed = d.assumed
	return o, err
}

// svgDrawing gathers the lines of a drawing.
type svgDrawing struct {
	opt     DrawingOptions
	ids     map[string]*svgNode
	sheet   []svgRule
	lines   []closedLine
	paints  []paint
	stroked []chain
	notes   []string
	seen    map[string]bool // notes
	assumed bool
	ink     int
	budget  int
	err     error
}

func (d *svgDrawing) note(s string) {
	if !d.seen[s] {
		d.seen[s] = true
		d.notes = append(d.notes, s)
	}
}

// index finds ids and style sheets.
func (d *svgDrawing) index(n *svgNode) {
	if id := n.attr["id"]; id != "" && d.ids[id] == nil {
		d.ids[id] = n
	}
	if n.name == "style" {
		d.sheet = append(d.sheet, readSheet(string(n.text))...)
		d.sheet = d.sheet[:min(len(d.sheet), mostRules)]
	}
	for _, k := range n.kids {
		d.index(k)
	}
}

// page returns the map from the root's units to mm, y downward as drawn, and the
// size of its view in units.
func (d *svgDrawing) page(root *svgNode) (m matrix, w, h float64) {
	px := svgUnits[""]
	box := numbers(root.attr["viewBox"])
	hasBox := len(box) == 4 && box[2] > 0 && box[3] > 0
	size := func(name string) float64 {
		if s := root.attr[name]; !strings.HasSuffix(strings.TrimSpace(s), "%") {
			if v, ok := svgLength(s, 0); ok && v > 0 {
				return v
			}
		}
		return 0
	}
	w, h = size("width"), size("height")
	switch {
	case d.opt.UnitMM > 0: // one unit of what is drawn
		if hasBox {
			w, h = box[2], box[3]
		}
		return matrix{a: d.opt.UnitMM, d: d.opt.UnitMM}, w, h
	case w == 0 && h == 0:
		d.assumed = true
		d.note("The drawing does not say how large it is; 96 units are taken as an inch. Give a known length to be sure.")
		if hasBox {
			w, h = box[2], box[3]
		}
	case w == 0 && hasBox:
		w = h * box[2] / box[3]
	case h == 0 && hasBox:
		h = w * box[3] / box[2]
	}
	if !d.assumed && (loose(root.attr["width"]) || loose(root.attr["height"])) {
		d.assumed = true
		d.note("The drawing's size is in pixels; 96 are taken as an inch, as the standard says, but some programs mean 72. Give a known length to be sure.")
	}
	m = matrix{a: px, d: px}
	if hasBox {
		m = m.after(fitBox(box, w, h, root.attr["preserveAspectRatio"]))
		w, h = box[2], box[3]
	}
	return m, w, h
}

// loose reports whether a size is in pixels, written or not.
func loose(size string) bool {
	size = strings.ToLower(strings.TrimSpace(size))
	return size != "" && (strings.HasSuffix(size, "px") || strings.Trim(size[len(size)-1:], "0123456789.") == "")
}

// fitBox maps a view box into a rectangle at the origin (SVG 1.1, section 7.8).
func fitBox(box []float64, w, h float64, aspect string) matrix {
	sx, sy := w/box[2], h/box[3]
	if !strings.Contains(aspect, "none") {
		if strings.Contains(aspect, "slice") {
			sx = max(sx, sy)
		} else {
			sx = min(sx, sy)
		}
		sy = sx
	}
	return matrix{sx, 0, 0, sy, -box[0] * sx, -box[1] * sy}
}

// walk draws elements, children after their parents.
func (d *svgDrawing) walk(nodes []*svgNode, m matrix, l look, w, h float64, deep int) {
	if deep > mostDepth {
		d.budget = -1
	}
	for _, n := range nodes {
		if d.budget--; d.budget < 0 || d.ink < 0 || d.err != nil {
			return
		}
		d.element(n, m, l, w, h, deep)
	}
}

func (d *svgDrawing) element(n *svgNode, m matrix, l look, w, h float64, deep int) {
	for _, v := range n.attr { // reading costs ink too: clones may repeat a long element
		d.ink -= len(v) / 256
	}
	says := n.says(d.sheet)
	if says["display"] == "none" {
		return
	}
	l = l.under(says)
	t := n.attr["transform"]
	if s, ok := says["transform"]; ok {
		t = strings.ReplaceAll(strings.ReplaceAll(s, "px", ""), "deg", "")
		t = strings.NewReplacer("skewx", "skewX", "skewy", "skewY").Replace(t)
	}
	if t != "" && t != "none" {
		own, ok := svgTransform(t)
		if !ok {
			d.note(fmt.Sprintf("The transform %q can't be read and was left out.", cut(t)))
		}
		m = m.after(own)
	}
	if n.attr["clip-path"] != "" || n.attr["mask"] != "" || says["clip-path"] != "" && says["clip-path"] != "none" || says["mask"] != "" && says["mask"] != "none" {
		d.note("Part of the drawing is clipped or masked; it is measured as if it were whole.")
	}
	length := func(name string, whole float64) float64 {
		v, _ := svgLength(n.attr[name], whole)
		return v
	}
	switch n.name {
	case "g", "a", "switch":
		d.walk(n.kids, m, l, w, h, deep+1)
	case "svg":
		m = m.after(matrix{1, 0, 0, 1, length("x", w), length("y", h)})
		d.view(n, n, m, l, w, h, deep)
	case "use":
		ref := strings.TrimSpace(n.attr["href"])
		if !strings.HasPrefix(ref, "#") {
			d.err = bad("drawing", "The drawing takes a part from another file (%s); save it in one piece.", cut(ref))
			return
		}
		at := d.ids[ref[1:]]
		if at == nil {
			d.note("A clone's original is missing; it was left out.")
			return
		}
		m = m.after(matrix{1, 0, 0, 1, length("x", w), length("y", h)})
		if at.name == "symbol" {
			d.view(at, n, m, l.under(at.says(d.sheet)), w, h, deep)
		} else {
			d.walk([]*svgNode{at}, m, l, w, h, deep+1)
		}
	case "text", "tspan", "textPath":
		d.note("Text is not measured; turn it into paths first.")
	case "image":
		if ref := strings.TrimSpace(n.attr["href"]); ref != "" && !strings.HasPrefix(ref, "data:") {
			d.err = bad("drawing", "The drawing takes a picture from another file (%s); take it out.", cut(ref))
			return
		}
		d.note("A picture in the drawing is not measured; trace its outline first.")
	default:
		var lines []chain
		if d.outline(n, pen{m, &lines, &d.ink}, w, h) {
			d.take(lines, l)
		}
	}
}

// view draws a nested drawing or symbol; size comes from where it is used.
func (d *svgDrawing) view(n, from *svgNode, m matrix, l look, w, h float64, deep int) {
	box := numbers(n.attr["viewBox"])
	if len(box) == 4 && box[2] > 0 && box[3] > 0 {
		size := func(name string, whole float64) float64 {
			for _, s := range []string{from.attr[name], n.attr[name]} {
				if v, ok := svgLength(s, whole); ok && v > 0 {
					return v
				}
			}
			return whole
		}
		m = m.after(fitBox(box, size("width", w), size("height", h), n.attr["preserveAspectRatio"]))
		w, h = box[2], box[3]
	}
	d.walk(n.kids, m, l, w, h, deep+1)
}

// outline draws one shape; false means that it is none.
func (d *svgDrawing) outline(n *svgNode, p pen, w, h float64) bool {
	diagonal := math.Hypot(w, h) / math.Sqrt2
	length := func(name string, whole float64) float64 {
		v, _ := svgLength(n.attr[name], whole)
		return v
	}
	oval := func(cx, cy, rx, ry float64) bool {
		if !(rx > 0 && ry > 0) {
			return false
		}
		p.start(Point{cx + rx, cy})
		p.ellipse(Point{cx, cy}, Point{rx, 0}, Point{0, ry}, 0, 2*math.Pi)
		p.close()
		return true
	}
	switch n.name {
	case "path":
		if !svgPath(n.attr["d"], p) && *p.ink >= 0 {
			d.note("A path can't be read to its end; it is measured up to the error.")
		}
	case "rect":
		x, y, rw, rh := length("x", w), length("y", h), length("width", w), length("height", h)
		if !(rw > 0 && rh > 0) {
			return false
		}
		rx, okX := svgLength(n.attr["rx"], w)
		ry, okY := svgLength(n.attr["ry"], h)
		if !okX {
			rx = ry
		}
		if !okY {
			ry = rx
		}
		rx, ry = min(max(rx, 0), rw/2), min(max(ry, 0), rh/2)
		if rx == 0 || ry == 0 {
			p.start(Point{x, y})
			p.to(Point{x + rw, y})
			p.to(Point{x + rw, y + rh})
			p.to(Point{x, y + rh})
		} else {
			u, v := Point{rx, 0}, Point{0, ry}
			p.start(Point{x + rx, y})
			for i, c := range []Point{{x + rw - rx, y + ry}, {x + rw - rx, y + rh - ry}, {x + rx, y + rh - ry}, {x + rx, y + ry}} {
				t := float64(i-1) * math.Pi / 2
				sin, cos := math.Sincos(t)
				p.to(Point{c.X + cos*rx, c.Y + sin*ry})
				p.ellipse(c, u, v, t, t+math.Pi/2)
			}
		}
		p.close()
	case "circle":
		r := length("r", diagonal)
		return oval(length("cx", w), length("cy", h), r, r)
	case "ellipse":
		return oval(length("cx", w), length("cy", h), length("rx", w), length("ry", h))
	case "line":
		p.start(Point{length("x1", w), length("y1", h)})
		p.to(Point{length("x2", w), length("y2", h)})
	case "polyline", "polygon":
		v := numbers(n.attr["points"])
		if len(v) < 4 {
			return false
		}
		p.start(Point{v[0], v[1]})
		for i := 2; i+1 < len(v); i += 2 {
			p.to(Point{v[i], v[i+1]})
		}
		if n.name == "polygon" {
			p.close()
		}
	default:
		return false
	}
	return true
}

// take sorts an element's lines by how they are painted.
func (d *svgDrawing) take(lines []chain, l look) {
	if l.visible == "hidden" || l.visible == "collapse" {
		return
	}
	if l.fill == "none" || l.fill == "transparent" || d.opt.Lines {
		if l.stroke != "none" && l.stroke != "transparent" || d.opt.Lines && l.fill != "none" {
			d.stroked = append(d.stroked, lines...)
		} else {
			d.note("Something in the drawing is neither painted nor stroked; it was left out.")
		}
		return
	}
	closed := false
	for _, c := range lines {
		if n := len(c.pts); n >= 3 {
			if !c.closed && c.pts[0].to(c.pts[n-1]) > d.opt.JoinMM {
				p, q := c.pts[0], c.pts[n-1]
				d.note(fmt.Sprintf("A painted line is open between %.2f, %.2f and %.2f, %.2f mm; it is closed there by a straight line, as it shows.", p.X, p.Y, q.X, q.Y))
			}
			d.lines = append(d.lines, closedLine{slices.Clip(c.pts), len(d.paints)})
			closed = true
		}
	}
	if closed {
		d.paints = append(d.paints, paint{evenOdd: l.rule == "evenodd", paper: white(l.fill)})
	}
}
