package form

import (
	"fmt"
	"math"
)

// Outline is a flat drawing as metal: what is within it and not in a hole. Places
// are in mm as the file has them.
type Outline struct {
	AreaMM2 float64 // one face
	// EdgeMM is the length of the cut edge, round the outside and the holes. Spikes and
	// slits thinner than a billionth of the drawing may be left out.
	EdgeMM float64
	Box    Rect   // round the metal
	Loops  []Loop // every closed line that bounds metal, the largest first
	Holes  int
	Open   []Gap    // lines that do not close and so were left out
	Notes  []string // what else the person should know, in plain words
	// Assumed is set when the file does not say how large a unit is.
	Assumed bool
}

// Loop is one closed line of an outline.
type Loop struct {
	Points   []Point
	AreaMM2  float64
	LengthMM float64
	Hole     bool // metal lies outside it
	Box      Rect
}

// Gap is a line whose ends meet nothing: it runs from one Point to the other, and
// the nearest end of another line is MissMM away from At.
type Gap struct {
	At, Other Point
	MissMM    float64
}

// String says where the gap is.
func (g Gap) String() string {
	return fmt.Sprintf("A line does not close: its end at %.2f, %.2f mm is %.2g mm from the nearest other end.", g.At.X, g.At.Y, g.MissMM)
}

// Surfaces is the outline cut from sheet thickMM thick, 0 when it does not matter.
func (o Outline) Surfaces(thickMM float64) (Surfaces, error) {
	if err := thin(thickMM, 2*max(o.Box.Width(), o.Box.Height())); err != nil {
		return Surfaces{}, err
	}
	return flat(o.AreaMM2, o.EdgeMM, thickMM, Blank{o.Box.Width(), o.Box.Height(), "the outline"}), nil
}

// Scaled is the outline drawn larger by a factor above 0, such as a known length
// over the same length in the drawing.
func (o Outline) Scaled(by float64) (Outline, error) {
	if !(by > 1e-6 && by < 1e6) {
		return Outline{}, bad("scale", "A drawing can't be made %.4g times as large; the factor has to be between 0.000001 and 1000000.", by)
	}
	o.AreaMM2, o.EdgeMM = o.AreaMM2*by*by, o.EdgeMM*by
	grow := func(p Point) Point { return Point{p.X * by, p.Y * by} }
	box := func(r Rect) Rect { return Rect{grow(r.Min), grow(r.Max)} }
	o.Box = box(o.Box)
	loops := make([]Loop, len(o.Loops))
	for i, l := range o.Loops {
		pts := make([]Point, len(l.Points))
		for j, p := range l.Points {
			pts[j] = grow(p)
		}
		loops[i] = Loop{pts, l.AreaMM2 * by * by, l.LengthMM * by, l.Hole, box(l.Box)}
	}
	o.Loops = loops
	open := make([]Gap, len(o.Open))
	for i, g := range o.Open {
		open[i] = Gap{grow(g.At), grow(g.Other), g.MissMM * by}
	}
	o.Open = open
	return o, nil
}

// paint is one painted element of a drawing: which of its loops' insides it fills.
type paint struct {
	evenOdd bool
	paper   bool // painted white: it hides metal below
}

// closedLine is a loop of one paint.
type closedLine struct {
	pts   []Point
	paint int // index, later ones lie on top
}

// finish turns the loops of a drawing into its outline.
func finish(lines []closedLine, paints []paint, open []Gap, notes []string) (Outline, error) {
	o := Outline{Open: open, Notes: notes}
	var kept []closedLine
	for _, l := range lines {
		for _, p := range l.pts {
			if !(math.Abs(p.X) <= 1e7 && math.Abs(p.Y) <= 1e7) {
				return Outline{}, bad("drawing", "The drawing has a point at %.4g, %.4g mm; a drawing lies within 10 km.", p.X, p.Y)
			}
		}
		if len(l.pts) >= 3 {
			kept = append(kept, l)
		}
	}
	if len(kept) == 0 {
		if len(open) > 0 {
			return Outline{}, bad("drawing", "No line of the drawing closes, so nothing has an area. %s", open[0])
		}
		return Outline{}, bad("drawing", "The drawing has no closed line, so nothing has an area.")
	}
	s, err := sweep(kept, paints)
	if err != nil {
		return Outline{}, err
	}
	o.AreaMM2, o.EdgeMM = s.area, s.edge
	first := true
	for i, l := range kept {
		in, out := s.metal[i].inside, s.metal[i].outside
		if in == 0 && out == 0 {
			continue // wholly under other paint
		}
		loop := Loop{Points: l.pts, AreaMM2: math.Abs(signedArea(l.pts)), LengthMM: perimeter(l.pts), Hole: out > in, Box: boxOf(l.pts)}
		if loop.Hole {
			o.Holes++
		} else if first {
			o.Box, first = loop.Box, false
		} else {
			o.Box = o.Box.with(loop.Box)
		}
		o.Loops = append(o.Loops, loop)
	}
	sortLoops(o.Loops)
	if o.AreaMM2 <= 0 || len(o.Loops) == 0 {
		return Outline{}, bad("drawing", "The closed lines of the drawing hold no area.")
	}
	return o, nil
}
