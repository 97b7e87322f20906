package mat

import "testing"

// The truth is the renderer's: a shadow of 20 % with a soft edge over the upper
// left quarter of the left or only swatch and all beyond, light that falls off by 25 % and no shadow, and a
// grey card that reaches beyond its place.
func TestShadowOverASwatchIsSeenAndASlopeIsNone(t *testing.T) {
	for _, l := range Layouts[:2] {
		for _, shaded := range []bool{false, true} {
			s := plainScene(t, l)
			s.slope = MM{0.1 / 210, -0.25 / 297}
			card := newPiece(l.Grey.Centre(), l.Grey.W+5, l.Grey.H+5, 2)
			card.colour = [2][3]float64{{0.18, 0.18, 0.18}, {0.18, 0.18, 0.18}}
			s.others = []piece{card}
			if shaded {
				middle := l.Swatches[0].Centre()
				s.shadow = func(p MM) float64 { return 1 - 0.2*clamp((middle.X-p.X)/8, 0, 1)*clamp((middle.Y-p.Y)/8, 0, 1) }
			}
			img := s.photograph(t, newSheet(t, l))
			f, err := Find(img)
			if err != nil {
				t.Fatal(err)
			}
			flat, err := FlatField(img, f)
			if err != nil {
				t.Fatal(err)
			}
			share, depth := flat.Shade(img, f, l.Swatches[0])
			if _, got := flat.Shaded(img, f, l.Swatches[0]); got != shaded {
				t.Errorf("%s: shadow %v; %.2f of the paper round the swatch is darker, by %.2f", l.Name(), shaded, share, depth)
			}
			if shaded && depth > 0.22 { // less is likely: so large a shadow bends the surface after it
				t.Errorf("%s: a shadow of 0.20 reads as %.2f", l.Name(), depth)
			}
			if _, got := flat.Shaded(img, f, l.Target); got && !shaded {
				t.Errorf("%s: the target's place lies in the light", l.Name())
			}
		}
	}
}
