package measure

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// scene is a photograph made by arithmetic: a face of known colours under a
// known perspective, cast and noise, beside a grey card, in sRGB.
type scene struct {
	w, h    int
	corners [4]studio.Point
	face    func(u, v float64) [3]float64 // linear sRGB; u, v from 0 to 1
	grey    studio.Rect
	greyL   float64
	bare    *studio.Rect
	bareRGB [3]float64
	cast    [3]float64 // light per channel
	noise   float64    // standard deviation in code values
}

// desk is a scene with the face taken at an angle, the card at its right.
func desk(face func(u, v float64) [3]float64) scene {
	return scene{
		w: 640, h: 480,
		corners: [4]studio.Point{{X: 60, Y: 40}, {X: 470, Y: 70}, {X: 450, Y: 430}, {X: 35, Y: 400}},
		face:    face, grey: studio.Rect{X: 520, Y: 100, W: 90, H: 90}, greyL: GreyCardL,
		cast: [3]float64{1, 1, 1}, noise: 1,
	}
}

func flat(rgb [3]float64) func(u, v float64) [3]float64 {
	return func(u, v float64) [3]float64 { return rgb }
}

// linearOf is the linear sRGB of an 8-bit sRGB colour (IEC 61966-2-1).
func linearOf(r, g, b uint8) [3]float64 {
	var out [3]float64
	for i, c := range [3]uint8{r, g, b} {
		v := float64(c) / 255
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

func codeOf(v float64) float64 {
	v = math.Max(0, math.Min(1, v))
	if v <= 0.0031308 {
		return 255 * 12.92 * v
	}
	return 255 * (1.055*math.Pow(v, 1/2.4) - 0.055)
}

// take draws the scene; inside the face every pixel is the mean of 2 x 2
// points, as a lens would do it.
func (s scene) take(t testing.TB) *picture.Image {
	t.Helper()
	unit := [4]studio.Point{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 1, Y: 1}, {X: 0, Y: 1}}
	m, ok := mapping(s.corners, unit)
	if !ok {
		t.Fatal("no such perspective")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	out := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	y := lightOfL(s.greyL)
	for py := range s.h {
		for px := range s.w {
			var sum [3]float64
			for i := range 4 {
				x, v := float64(px)+0.25+float64(i%2)/2, float64(py)+0.25+float64(i/2)/2
				rgb := [3]float64{0.45, 0.45, 0.45}
				if inRect(s.grey, x, v) {
					rgb = [3]float64{y, y, y}
				} else if s.bare != nil && inRect(*s.bare, x, v) {
					rgb = s.bareRGB
				} else if p := m.to(studio.Point{X: x, Y: v}); p.X >= 0 && p.X < 1 && p.Y >= 0 && p.Y < 1 {
					rgb = s.face(p.X, p.Y)
				}
				for c := range sum {
					sum[c] += rgb[c] / 4
				}
			}
			var code [3]uint8
			for c := range code {
				v := codeOf(sum[c]*s.cast[c]) + s.noise*rng.NormFloat64()
				code[c] = uint8(math.Max(0, math.Min(255, math.Round(v))))
			}
			out.SetRGBA(px, py, color.RGBA{code[0], code[1], code[2], 255})
		}
	}
	return decoded(t, out)
}

func inRect(r studio.Rect, x, y float64) bool {
	return x >= r.X && x < r.X+r.W && y >= r.Y && y < r.Y+r.H
}

func decoded(t testing.TB, m image.Image) *picture.Image {
	t.Helper()
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	img, err := picture.Decode(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// marks are the marks a careful person would set on the scene.
func (s scene) marks() studio.Marks {
	c, g := s.corners, inset(s.grey)
	m := studio.Marks{Corners: &c, Grey: &g, GreyL: s.greyL}
	if s.bare != nil {
		b := inset(*s.bare)
		m.Bare = &b
	}
	return m
}

func inset(r studio.Rect) studio.Rect {
	return studio.Rect{X: r.X + 4, Y: r.Y + 4, W: r.W - 8, H: r.H - 8}
}

// labOfLinear is the Lab (D50) of linear sRGB.
func labOfLinear(t testing.TB, rgb [3]float64) colour.Lab {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 2, 2))
	l := newLight(decoded(t, m))
	return l.cell([3]float32{float32(rgb[0]), float32(rgb[1]), float32(rgb[2])}).lab
}

func photo(t testing.TB, name string) *picture.Image {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	m, err := picture.Decode(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
