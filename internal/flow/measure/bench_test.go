package measure

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// stage is a face of 12 megapixels' worth, ready for the stage to be timed: specks of
// green on copper, noise, a grey card at the top.
type stage struct {
	img   *picture.Image
	quad  [4]studio.Point
	marks studio.Marks
	size  Size
	light light
	face  *face
}

func newStage(b *testing.B) stage {
	b.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 4000, 3000))
	rng := rand.New(rand.NewPCG(19, 20))
	for y := range 3000 {
		for x := range 4000 {
			n := uint8(rng.Uint32() >> 28)
			c := color.RGBA{60 + n, 140 + n, 130 + n, 255}
			switch {
			case x < 400:
				c = color.RGBA{118 + n, 118 + n, 118 + n, 255}
			case (x/90+y/130)%3 == 0:
				c = color.RGBA{170 + n, 110 + n, 90 + n, 255}
			case (x/70+y/60)%5 == 0:
				c = color.RGBA{80 + n, 60 + n, 50 + n, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	bare := colour.Lab{L: 52, A: 22, B: 20}
	s := stage{
		img:   decoded(b, m),
		quad:  [4]studio.Point{{X: 900, Y: 400}, {X: 2900, Y: 460}, {X: 2850, Y: 2500}, {X: 860, Y: 2420}},
		marks: studio.Marks{BareLab: &bare},
		size:  Size{WidthMM: 50, HeightMM: 50},
	}
	s.light = newLight(s.img)
	if _, err := s.light.calibrate(s.img, studio.Rect{X: 50, Y: 50, W: 300, H: 300}, 0); err != nil {
		b.Fatal(err)
	}
	f, err := straighten(s.img, s.quad, s.size)
	if err != nil {
		b.Fatal(err)
	}
	f.light(s.light)
	f.dropGlare()
	s.face = f
	return s
}

func BenchmarkStraighten(b *testing.B) {
	s := newStage(b)
	for b.Loop() {
		if _, err := straighten(s.img, s.quad, s.size); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLight turns the face's linear RGB into Lab.
func BenchmarkLight(b *testing.B) {
	s := newStage(b)
	for b.Loop() {
		s.face.light(s.light)
	}
}

func BenchmarkPalette(b *testing.B) {
	cells := newStage(b).face.valid()
	for b.Loop() {
		palette(cells)
	}
}

// BenchmarkCountColours is the palette's gap statistic alone.
func BenchmarkCountColours(b *testing.B) {
	rng := rand.New(rand.NewPCG(21, 22))
	sample := thin(newStage(b).face.valid(), gapSample, rng)
	for b.Loop() {
		countColours(sample, rng)
	}
}

func BenchmarkCoverage(b *testing.B) {
	s := newStage(b)
	for b.Loop() {
		if c, _, notes := s.face.coverage(s.img, s.light, s.marks, true); c == nil {
			b.Fatal(notes)
		}
	}
}

func BenchmarkTexture(b *testing.B) {
	s := newStage(b)
	for b.Loop() {
		if s.face.texture(s.size) == nil {
			b.Fatal("no texture was read")
		}
	}
}

func BenchmarkPooling(b *testing.B) {
	s := newStage(b)
	_, weights, _ := s.face.coverage(s.img, s.light, s.marks, true)
	for b.Loop() {
		if s.face.pooling(s.size, weights) == nil {
			b.Fatal("no pooling was read")
		}
	}
}

func BenchmarkClasses(b *testing.B) {
	s := newStage(b)
	_, weights, _ := s.face.coverage(s.img, s.light, s.marks, true)
	for b.Loop() {
		if shares, _, _ := s.face.classes(weights, ""); shares == nil {
			b.Fatal("no class was read")
		}
	}
}
