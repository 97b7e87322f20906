package shape

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/flow/form"
)

// Over is a piece looked over: every way up, the best first, and how it lies the way
// it stands.
type Over struct {
	Ways     []form.Way
	Standing form.Way
	Shade    form.Shade
	Thinned  int // triangles that were looked at, where the model has too many; 0: all
}

// most are the triangles up to which a model is looked over as it is.
const most = 40_000

// LookOver judges a piece in every way up and as it stands with up to the sky. Slopes
// as it stands are of the whole mesh; the rest is of a thinned one where it is large.
// The same dice give the same answer.
func LookOver(b Body, up form.Vec, dice *rand.Rand) (Over, error) {
	var o Over
	small, err := Thin(b.Mesh, most)
	if err != nil {
		return o, err
	}
	if small != b.Mesh {
		o.Thinned = small.Triangles()
	}
	if o.Ways, err = small.Ways(b.Both); err != nil {
		return o, err
	}
	o.Standing = form.Way{Name: "as it stands", Up: up}
	for _, w := range o.Ways {
		if dot(norm(w.Up), norm(up)) > 1-1e-9 {
			o.Standing.Name = w.Name
		}
	}
	if o.Standing.Slopes, err = b.Mesh.Slopes(up, b.Both); err != nil {
		return o, err
	}
	if o.Standing.Ponds, err = small.Ponds(up); err != nil {
		return o, err
	}
	for _, p := range o.Standing.Ponds {
		o.Standing.PondMM3 += p.VolumeMM3
		o.Standing.PondMM2 += p.WetMM2
	}
	o.Shade, err = small.Shade(up, b.Both, 800, dice)
	return o, err
}

// standing returns the outline of a piece as seen from above, as a convex hull, and its
// height, with up to the sky.
func standing(m *form.Mesh, up form.Vec) (flat []form.Point, height float64) {
	v := View{Up: up}
	e1, u, near := v.frame()
	low, high := math.Inf(1), math.Inf(-1)
	var pts []form.Point
	for i := range m.Triangles() {
		for _, c := range m.Triangle(i) {
			z := dot(c, u)
			low, high = min(low, z), max(high, z)
			pts = append(pts, form.Point{X: dot(c, e1), Y: dot(c, near)})
		}
		if len(pts) > 1<<16 {
			pts = hull(pts)
		}
	}
	return hull(pts), high - low
}

// hull is the convex hull of points, by Andrew's monotone chain (Information
// Processing Letters 9(5):216-219, 1979).
func hull(p []form.Point) []form.Point {
	slices.SortFunc(p, func(a, b form.Point) int {
		switch {
		case a.X < b.X || a.X == b.X && a.Y < b.Y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	turn := func(o, a, b form.Point) float64 { return (a.X-o.X)*(b.Y-o.Y) - (a.Y-o.Y)*(b.X-o.X) }
	half := func(p []form.Point) (out []form.Point) {
		for _, q := range p {
			for len(out) > 1 && turn(out[len(out)-2], out[len(out)-1], q) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		return out[:len(out)-1]
	}
	low := half(p)
	slices.Reverse(p)
	return append(low, half(p)...)
}

// GapMM is the room kept free round a piece in a chamber, so that vapour gets to all of
// it (common practice, no source).
const GapMM = 10.0

// A Stand is how a piece goes into a chamber standing as it is.
type Stand struct {
	Fits    bool
	TurnDeg float64 // about the upright, from how it is drawn
	SpareMM float64 // of the tightest side, GapMM kept free; below 0 by how much it is too large
	Tight   string  // "length", "width" or "height": the tightest side
}

// Stands tries a piece in a chamber with up to the sky, turned about that by whole
// degrees, and returns the roomiest.
func Stands(m *form.Mesh, up form.Vec, c form.Chamber) Stand {
	pts, height := standing(m, up)
	best := Stand{SpareMM: math.Inf(-1)}
	for deg := range 180 {
		s, k := math.Sincos(float64(deg) * math.Pi / 180)
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range pts {
			x, y := k*p.X-s*p.Y, s*p.X+k*p.Y
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		}
		t := Stand{TurnDeg: float64(deg), SpareMM: c.LengthMM - 2*GapMM - (x1 - x0), Tight: "length"}
		if v := c.WidthMM - 2*GapMM - (y1 - y0); v < t.SpareMM {
			t.SpareMM, t.Tight = v, "width"
		}
		if v := c.HeightMM - 2*GapMM - height; v < t.SpareMM {
			t.SpareMM, t.Tight = v, "height"
		}
		if t.SpareMM > best.SpareMM+1e-6 {
			best = t
		}
	}
	best.Fits = best.SpareMM >= 0
	return best
}

// Words says how it stands in the chamber.
func (s Stand) Words() string {
	turned := ""
	if s.TurnDeg > 0 {
		turned = fmt.Sprintf(", turned %.0f° about the upright", s.TurnDeg)
	}
	if s.Fits {
		return fmt.Sprintf("It fits standing as chosen%s: %.0f mm to spare in the %s, with %.0f mm free all round.", turned, math.Floor(s.SpareMM), s.Tight, GapMM)
	}
	return fmt.Sprintf("Standing as chosen it is %.0f mm too large in the %s, with %.0f mm free all round.", math.Ceil(-s.SpareMM), s.Tight, GapMM)
}

// Advice says what to do about how a piece lies, each as a short sentence (common
// practice, no source).
func (o Over) Advice() (out []string) {
	w := o.Standing
	if w.PondMM3 > 50 {
		n := len(w.Ponds)
		where := "in 1 hollow"
		if n > 1 {
			where = fmt.Sprintf("in %d hollows", n)
		}
		out = append(out, fmt.Sprintf("Up to %.3g mL pools %s. Tip it out, or lay the piece %s, where less is held.", w.PondMM3/1000, where, o.Ways[0].Name))
		if o.Ways[0].PondMM3 >= w.PondMM3 {
			out[len(out)-1] = fmt.Sprintf("Up to %.3g mL pools %s, and no other way up holds less. Use little liquid as a fine mist, and soak up what gathers.", w.PondMM3/1000, where)
		}
	}
	if w.Slopes.Flat > 0.1 {
		out = append(out, fmt.Sprintf("%.0f %% lies level: liquid stays there longest. Mist it thinner there, or turn the piece half way through.", 100*w.Slopes.Flat))
	}
	if w.Slopes.Steep > 0.25 {
		out = append(out, fmt.Sprintf("From %.0f %% liquid runs off. Spray several thin mists and let each dry, or thicken the liquid to a gel, or lay side after side level in turn.", 100*w.Slopes.Steep))
	}
	if w.Slopes.Under > 0.15 {
		out = append(out, fmt.Sprintf("%.0f %% faces down: drops hang there and spray from above misses it. Spray it from below, or turn it over for a second go.", 100*w.Slopes.Under))
	}
	if o.Shade.Dark > 0.03 {
		out = append(out, fmt.Sprintf("%.0f %% lies in deep hollows, where fumes come slowly. Turn openings towards the pad and leave room before them; expect less colour there.", 100*o.Shade.Dark))
	}
	return out
}
