package scene_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"
	"testing"
	"time"

	"github.com/boombuler/barcode/datamatrix"

	"aerugo/internal/demo"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

var day = time.Date(2026, 6, 1, 10, 0, 0, 0, time.UTC)

func decoded(t *testing.T, data []byte) *picture.Image {
	t.Helper()
	img, err := picture.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// plain is the drawn photograph as an ordinary image.
func plain(t *testing.T, number int64, face studio.Face, n int) *image.RGBA {
	t.Helper()
	data, _, _ := demo.Sample(number, face, n, day)
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Rect, img, image.Point{}, draw.Src)
	return out
}

// turned returns img turned by an angle about its middle and k times as large,
// on a grey table.
func turned(t *testing.T, img *image.RGBA, degrees, k float64) *picture.Image {
	t.Helper()
	b := img.Bounds()
	side := int(k * math.Hypot(float64(b.Dx()), float64(b.Dy())))
	out := image.NewRGBA(image.Rect(0, 0, side, side))
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	for y := range side {
		for x := range side {
			u, v := (float64(x)-float64(side)/2)/k, (float64(y)-float64(side)/2)/k
			px, py := u*cos+v*sin+float64(b.Dx())/2-0.5, v*cos-u*sin+float64(b.Dy())/2-0.5
			x0, y0 := int(math.Floor(px)), int(math.Floor(py))
			if x0 < 0 || y0 < 0 || x0+1 >= b.Dx() || y0+1 >= b.Dy() {
				out.SetRGBA(x, y, color.RGBA{120, 118, 115, 255})
				continue
			}
			fx, fy := px-float64(x0), py-float64(y0)
			var sum [3]float64
			for _, c := range [4]struct {
				x, y int
				w    float64
			}{{x0, y0, (1 - fx) * (1 - fy)}, {x0 + 1, y0, fx * (1 - fy)}, {x0, y0 + 1, (1 - fx) * fy}, {x0 + 1, y0 + 1, fx * fy}} {
				p := img.Pix[img.PixOffset(c.x, c.y):]
				for i := range sum {
					sum[i] += c.w * float64(p[i])
				}
			}
			out.SetRGBA(x, y, color.RGBA{uint8(sum[0] + .5), uint8(sum[1] + .5), uint8(sum[2] + .5), 255})
		}
	}
	return coded(t, out)
}

func coded(t *testing.T, img image.Image) *picture.Image {
	t.Helper()
	var buf bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&buf, img); err != nil {
		t.Fatal(err)
	}
	return decoded(t, buf.Bytes())
}

// The codes are drawn by one library (boombuler/barcode) and read by another
// (a port of ZXing), both after ISO/IEC 16022. A wrong number is worse than none.
func TestLabelsAreReadAnywhereInAPicture(t *testing.T) {
	type way struct {
		name    string
		degrees float64
		k       float64
		least   int // of 5
	}
	ways := []way{{"as drawn", 0, 1, 5}, {"half as large", 0, 0.5, 4}, {"twice as large", 10, 2, 4}}
	for _, a := range []float64{15, 30, 45, 70, 90, 135, 160, 200, 250, 315} {
		ways = append(ways, way{fmt.Sprintf("turned by %.0f degrees", a), a, 1, 4})
	}
	read, all := 0, 0
	for n := range 5 {
		number, face := int64(1+n*n*n*29), studio.BothFaces[n%2]
		img := plain(t, number, face, n)
		for i := range ways {
			all++
			got, side, ok := scene.AnyLabel(turned(t, img, ways[i].degrees, ways[i].k))
			if !ok {
				continue
			}
			if got != number || side != face {
				t.Errorf("%s: swatch %d %s was read as %d %s", ways[i].name, number, face, got, side)
			}
			read++
			ways[i].least--
		}
	}
	for _, w := range ways {
		if w.least > 0 {
			t.Errorf("%s: %d labels fewer were read than should be", w.name, w.least)
		}
	}
	t.Logf("%d of %d labels read", read, all)
}

// onPaper draws a code of its own on white paper into the picture.
func onPaper(t *testing.T, img draw.Image, text string, at image.Point, module int) {
	t.Helper()
	m, err := datamatrix.Encode(text)
	if err != nil {
		t.Fatal(err)
	}
	b := m.Bounds()
	draw.Draw(img, image.Rect(at.X-3*module, at.Y-3*module, at.X+(b.Dx()+3)*module, at.Y+(b.Dy()+3)*module), image.White, image.Point{}, draw.Src)
	for y := range b.Dy() {
		for x := range b.Dx() {
			if v, _, _, _ := m.At(b.Min.X+x, b.Min.Y+y).RGBA(); v == 0 {
				draw.Draw(img, image.Rect(at.X+x*module, at.Y+y*module, at.X+(x+1)*module, at.Y+(y+1)*module), image.Black, image.Point{}, draw.Src)
			}
		}
	}
}

// Two labels that differ, none at all, another's code and a label whose check
// character is wrong all leave the filing to the person.
func TestWhatIsNoOneLabelIsLeftToThePerson(t *testing.T) {
	good := studio.Code(7, studio.Front)
	wrong := good[:len(good)-1] + "0"
	if wrong == good {
		wrong = good[:len(good)-1] + "1"
	}
	for name, c := range map[string]struct {
		texts []string
		ok    bool
	}{
		"one":                     {[]string{good}, true},
		"the same twice":          {[]string{good, good}, true},
		"one and another's code":  {[]string{"https://example.org/7", good}, true},
		"both faces of one":       {[]string{good, studio.Code(7, studio.Back)}, false},
		"two swatches":            {[]string{good, studio.Code(8, studio.Front)}, false},
		"another's code":          {[]string{"https://example.org/7"}, false},
		"a wrong check character": {[]string{wrong}, false},
		"none":                    {nil, false},
	} {
		img := image.NewRGBA(image.Rect(0, 0, 900, 600))
		draw.Draw(img, img.Rect, image.NewUniform(color.RGBA{130, 120, 110, 255}), image.Point{}, draw.Src)
		for i, text := range c.texts {
			onPaper(t, img, text, image.Pt(120+380*i, 200), 5)
		}
		number, face, ok := scene.AnyLabel(coded(t, img))
		if ok != c.ok || ok && (number != 7 || face != studio.Front) {
			t.Errorf("%s: %d %s %v", name, number, face, ok)
		}
	}
}

// Pictures too small for a code, and of nothing but noise, are looked through
// without harm.
func TestSmallAndNoisyPicturesHaveNoLabel(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {3, 200}, {200, 3}, {640, 480}} {
		img := image.NewRGBA(image.Rect(0, 0, size.X, size.Y))
		for i := range img.Pix {
			img.Pix[i] = uint8(i * i * 2654435761 >> 13)
			if i%4 == 3 {
				img.Pix[i] = 255
			}
		}
		if n, f, ok := scene.AnyLabel(coded(t, img)); ok {
			t.Errorf("%v: read %d %s in noise", size, n, f)
		}
	}
}

func BenchmarkAnyLabel(b *testing.B) {
	img := image.NewRGBA(image.Rect(0, 0, 4000, 3000)) // as a telephone takes it
	for i := range img.Pix {
		img.Pix[i] = uint8(90 + i%37)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, nil); err != nil {
		b.Fatal(err)
	}
	p, err := picture.Decode(buf.Bytes())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		scene.AnyLabel(p)
	}
}
