package measure

import (
	"image"
	"image/color"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// The quick way and the plain one are two ways to the same sums.
func TestQuickSamplesAreThePlainOnes(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 60, 40))
	for y := range 40 {
		for x := range 60 {
			m.SetRGBA(x, y, color.RGBA{uint8(5 * x), uint8(7 * y), uint8(x * y), 255})
		}
	}
	m.SetRGBA(30, 20, color.RGBA{255, 255, 255, 255})
	img := decoded(t, m)
	quick := newSampler(img)
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string) studio.Point {
			return studio.Point{X: rapid.Float64Range(-3, 63).Draw(t, name), Y: rapid.Float64Range(-3, 43).Draw(t, name)}
		}
		p := [4]studio.Point{at("tl"), at("tr"), at("br"), at("bl")}
		span := rapid.Float64Range(blending, 80).Draw(t, "span")
		if got, want := quick.cell(p, span), sampleCell(img, p, span); got != want {
			t.Fatalf("%+v, want %+v", got, want)
		}
	})
	m.SetRGBA(1, 1, color.RGBA{})
	if newSampler(decoded(t, m)) != nil {
		t.Error("a picture with a transparent place is not plain")
	}
}
