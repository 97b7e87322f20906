package shape

import (
	"fmt"
	"math"
	"slices"

	"aerugo/internal/flow/form"
	"aerugo/internal/studio"
)

// Vec is a place or direction in the piece's own axes.
type Vec = form.Vec

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
func Stands(b Body, up Vec, c studio.Chamber) Stand {
	pts, height := standing(b.Mesh, up)
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

// AnyWay says whether a piece goes into a chamber turned any way, and how.
func AnyWay(b Body, c studio.Chamber) (string, error) {
	f, err := b.Mesh.FitsIn(form.Chamber{LengthMM: c.LengthMM, WidthMM: c.WidthMM, HeightMM: c.HeightMM}, GapMM)
	return f.Words(), err
}

// ByVolume says how a piece compares with a chamber whose inner sizes nobody measured:
// by the volume of the box round it alone.
func ByVolume(f studio.Form, c studio.Chamber) string {
	litres := f.SizeMM[0] * f.SizeMM[1] * f.SizeMM[2] / 1e6
	if litres > c.VolumeL {
		return fmt.Sprintf("It can't fit: the box round it has %.3g L, the chamber %.3g L.", litres, c.VolumeL)
	}
	return fmt.Sprintf("By volume only: the box round it has %.3g L of the chamber's %.3g L. Whether it goes in can't be told until the chamber's inner sizes are typed.", litres, c.VolumeL)
}

// MassG is the mass of a piece in grams from the alloy's density: of its sheet, or of a
// closed model's own volume; 0 where neither is known. ThickMM is the sheet's.
func MassG(f studio.Form, b Body, alloy string, thickMM float64) (float64, error) {
	if f.SheetMM2 > 0 {
		if !(thickMM > 0) {
			return 0, nil
		}
		return form.MassG(alloy, f.SheetMM2, thickMM)
	}
	if mm3, closed := b.Mesh.VolumeMM3(); closed && mm3 > 0 {
		return form.MassG(alloy, mm3, 1)
	}
	return 0, nil
}
