package learn

import (
	"math"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func look(swatch int64, lab colour.Lab, coverage, contrast float64) studio.Look {
	return studio.Look{Swatch: swatch, Face: studio.Front, Moment: studio.Finished, Measurement: &studio.Measurement{
		Calibrated: true, Lab: lab, Palette: []studio.PaletteEntry{{Lab: lab, Share: 1}},
		Coverage: &studio.Coverage{Value: coverage, Low: coverage, High: coverage}, Texture: &studio.Texture{Contrast: contrast},
	}}
}

// Between palettes of one colour the earth mover's distance is that of the two
// colours (Rubner, Tomasi & Guibas 2000, by definition).
func TestOneColourPalettesAreAsFarAsTheirColours(t *testing.T) {
	a, b := look(1, colour.Lab{L: 50, A: -20, B: 5}, 0.5, 1), look(2, colour.Lab{L: 60, A: -10, B: 15}, 0.5, 1)
	d, err := PaletteDistance(*a.Measurement, *b.Measurement)
	if want := colour.Difference(a.Measurement.Lab, b.Measurement.Lab); err != nil || math.Abs(d-want) > 1e-9 {
		t.Errorf("%v, %v; want %v", d, err, want)
	}
}

func TestNearestIsByAllThatMakesALook(t *testing.T) {
	green := colour.Lab{L: 50, A: -20, B: 5}
	me := look(1, green, 0.6, 4)
	uncalibrated := look(9, green, 0.6, 4)
	uncalibrated.Measurement.Calibrated = false
	among := []studio.Look{
		me,
		look(2, colour.Lab{L: 40, A: 20, B: 20}, 0.6, 4), // another colour
		look(3, green, 0.1, 4),                           // hardly covered
		look(4, green, 0.6, 40),                          // a much stronger pattern
		look(5, colour.Lab{L: 51, A: -20, B: 5}, 0.61, 4),
		uncalibrated,
	}
	got := Nearest(me, among, 10)
	if len(got) != 4 {
		t.Fatalf("%d looks, want 4: not itself, not the one without a grey patch", len(got))
	}
	if got[0].Look.Swatch != 5 || got[0].Words != "alike in colour, coverage and texture" {
		t.Errorf("nearest is %d, %q", got[0].Look.Swatch, got[0].Words)
	}
	words := map[int64]string{}
	for i, k := range got {
		words[k.Look.Swatch] = k.Words
		if i > 0 && k.Distance < got[i-1].Distance {
			t.Errorf("%d comes after a farther one", k.Look.Swatch)
		}
	}
	for swatch, want := range map[int64]string{2: "alike in coverage and texture, apart in colour", 3: "alike in colour and texture, apart in coverage", 4: "alike in colour and coverage, apart in texture"} {
		if words[swatch] != want {
			t.Errorf("%d: %q, want %q", swatch, words[swatch], want)
		}
	}
	if Nearest(uncalibrated, among, 3) != nil {
		t.Error("a look without a grey patch was held against others")
	}
	if n := len(Nearest(me, among, 2)); n != 2 {
		t.Errorf("asked for 2, got %d", n)
	}
}
