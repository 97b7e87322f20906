package measure

import (
	"math"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A real telephone JPEG of a 24-patch target, in Display P3 while its EXIF says
// sRGB. Centres of patches 1, 6, 24 and 19 were marked by hand, to 2 pixels.
// With a gain from one grey patch an independent computation (LittleCMS 2.14
// and numpy) found a mean of 4.12 dE00 over the patches, 8.05 at the 95th
// percentile, and 5.94 without; the profile ignored, 6.67.
func TestGreyPatchOnARealTargetGivesThePublishedError(t *testing.T) {
	img := photo(t, "target24_small_p3.jpg")
	grid := [4]studio.Point{{X: 0, Y: 0}, {X: 5, Y: 0}, {X: 5, Y: 3}, {X: 0, Y: 3}}
	marked := [4]studio.Point{{X: 68.8, Y: 378.3}, {X: 68.8, Y: 92.5}, {X: 239.5, Y: 92.5}, {X: 239.5, Y: 378.3}}
	m, ok := mapping(grid, marked)
	if !ok {
		t.Fatal("no mapping")
	}
	var want [24]colour.Lab
	for i, row := range table(t, "target24_after_nov2014.csv", true) {
		want[i] = colour.Lab{L: number(t, row[2]), A: number(t, row[3]), B: number(t, row[4])}
	}
	window := func(patch int) studio.Rect {
		c := m.to(studio.Point{X: float64((patch - 1) % 6), Y: float64((patch - 1) / 6)})
		return studio.Rect{X: math.Round(c.X) - 4, Y: math.Round(c.Y) - 4, W: 9, H: 9}
	}
	mean := func(l light) float64 {
		sum := 0.0
		for i := range want {
			v := patch(img, window(i+1)).mean
			lab := l.cell([3]float32{float32(v[0]), float32(v[1]), float32(v[2])}).lab
			sum += colour.Difference(lab, want[i]) / 24
		}
		return sum
	}
	if got := mean(newLight(img)); math.Abs(got-5.94) > 0.05 {
		t.Errorf("as it is: %.2f dE00, want 5.94", got)
	}
	l := newLight(img)
	if _, err := l.calibrate(img, window(21), want[20].L); err != nil {
		t.Fatal(err)
	}
	if got := mean(l); math.Abs(got-4.12) > 0.05 {
		t.Errorf("with the grey patch: %.2f dE00, want 4.12", got)
	}
}
