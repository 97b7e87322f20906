package mat

import (
	"math"
	"testing"
)

// Ink that spread by 0.15 mm, or sharpening that ate as much, moves every edge
// of every frame alike: nothing is left after the fit, and no place on the page
// moves.
func TestFramesThatGrewAlikeMoveNothing(t *testing.T) {
	layout, _ := LayoutOf("A4", OneSwatch)
	h := Homography{6.1, 0.4, 120, -0.3, 5.8, 90, 2e-4, 1e-4, 1}
	for _, grown := range []float64{-0.2, 0, 0.15, 0.29} {
		var marks []sighting
		for i := range 4 {
			s := sighting{layout: layout, corner: i}
			for j, c := range layout.Marks[i].Inset(-grown).Corners() {
				x, y := h.at(c.X, c.Y)
				s.frame[j].X, s.frame[j].Y = x, y
			}
			marks = append(marks, s)
		}
		f, off, ok := fit(layout, marks)
		if !ok || off > 0.001 {
			t.Errorf("grown by %.2f mm: %.4f mm are left, %v", grown, off, ok)
			continue
		}
		for _, c := range layout.Swatches[0].Corners() {
			x, y := h.at(c.X, c.Y)
			if p := f.Pixel(c); math.Hypot(p.X-x, p.Y-y) > 0.02 {
				t.Errorf("grown by %.2f mm: a corner moved by %.3f px", grown, math.Hypot(p.X-x, p.Y-y))
			}
		}
	}
}
