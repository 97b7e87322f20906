package mat

import (
	"math"
	"testing"

	"aerugo/internal/flow/measure"
	"aerugo/internal/science/colour"
)

// What SwatchQuads returns goes straight to measure: with the grey card on the
// mat, a matt swatch in warm light reads as the colour it was given (the
// renderer's linear sRGB, by IEC 61966-2-1 and CIE 15 to Lab for D50).
func TestMarksAreReadyForMeasuring(t *testing.T) {
	for n, look := range looks[:4] {
		l := Layouts[n]
		s := plainScene(t, l)
		card := newPiece(l.Grey.Centre(), l.Grey.W, l.Grey.H, 0)
		card.colour = [2][3]float64{{0.18, 0.18, 0.18}, {0.18, 0.18, 0.18}}
		k := newPiece(l.Swatches[0].Centre(), 60, 40, 2)
		k.colour, k.blotch = [2][3]float64{look, look}, 0.1
		s.others, s.swatches = []piece{card}, []piece{k}
		img := s.photograph(t, newSheet(t, l))
		f, err := Find(img)
		if err != nil {
			t.Fatal(err)
		}
		got, err := SwatchQuads(img, f)
		if err != nil {
			t.Fatal(err)
		}
		m, err := measure.Measure(img, got[0].Marks, measure.Size{WidthMM: got[0].WidthMM, HeightMM: got[0].HeightMM})
		if err != nil {
			t.Fatal(err)
		}
		want := colour.SRGB.Lab(look[0], look[1], look[2])
		off := math.Sqrt(square(m.Lab.L-want.L) + square(m.Lab.A-want.A) + square(m.Lab.B-want.B))
		if !m.Calibrated || off > 2 {
			t.Errorf("%s: %v was measured as %v, %.1f off; calibrated %v", l.Name(), want, m.Lab, off, m.Calibrated)
		}
	}
}
