package jpeg

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"
)

// tiled decodes b into planes as large as the grid.
func tiled(b []byte, parts []image.Rectangle) (*Decoder, *image.YCbCr, int, error) {
	d, err := New(b)
	if err != nil {
		return nil, nil, 0, err
	}
	ratio := image.YCbCrSubsampleRatio444
	if d.Kind != Grey {
		ratio = map[[2]int]image.YCbCrSubsampleRatio{
			{1, 1}: image.YCbCrSubsampleRatio444, {2, 1}: image.YCbCrSubsampleRatio422,
			{2, 2}: image.YCbCrSubsampleRatio420, {1, 2}: image.YCbCrSubsampleRatio440,
		}[[2]int{d.comps[0].h, d.comps[0].v}]
	}
	m := image.NewYCbCr(image.Rect(0, 0, (d.Width+15)/16*16, (d.Height+15)/16*16), ratio)
	n := 0
	err = d.Decode(parts, func(t *Tile) {
		n++
		for y := range t.H {
			copy(m.Y[(t.Y+y)*m.YStride+t.X:][:t.W], t.Luma[y*t.W:])
		}
		if d.Kind == Grey {
			return
		}
		for y := range 8 {
			at := (t.Y>>t.DownShift+y)*m.CStride + t.X>>t.AcrossShift
			copy(m.Cb[at:][:8], t.Blue[8*y:])
			copy(m.Cr[at:][:8], t.Red[8*y:])
		}
	})
	return d, m, n, err
}

// noisy is a w x h picture of slopes, edges and noise as a JPEG.
func noisy(t testing.TB, w, h, quality int, grey bool, seed uint64) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	g := image.NewGray(m.Rect)
	for y := range h {
		for x := range w {
			n := uint8(rng.IntN(24))
			c := color.RGBA{uint8(x) + n, uint8(2*y) + n, uint8(x+y)/2 + n, 255}
			if (x/9+y/7)%4 == 0 {
				c = color.RGBA{255 - n, n, 128, 255}
			}
			m.SetRGBA(x, y, c)
			g.SetGray(x, y, color.Gray{c.R})
		}
	}
	var b bytes.Buffer
	var err error
	if grey {
		err = jpeg.Encode(&b, g, &jpeg.Options{Quality: quality})
	} else {
		err = jpeg.Encode(&b, m, &jpeg.Options{Quality: quality})
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// agree compares samples with those of the standard library's decoder, which shares
// no code with this one: each rounds the same transform in its own way.
func agree(t interface{ Fatalf(string, ...any) }, b []byte) {
	d, got, _, err := tiled(b, nil)
	if err != nil {
		t.Fatalf("not decoded: %v", err)
	}
	want, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatalf("the standard library: %v", err)
	}
	most := func(p, q []uint8, ps, qs, w, h int) (far int) {
		for y := range h {
			for x := range w {
				v := int(p[y*ps+x]) - int(q[y*qs+x])
				far = max(far, v, -v)
			}
		}
		return far
	}
	far := 0
	switch want := want.(type) {
	case *image.Gray:
		far = most(got.Y, want.Pix, got.YStride, want.Stride, d.Width, d.Height)
	case *image.YCbCr:
		if want.SubsampleRatio != got.SubsampleRatio {
			t.Fatalf("subsampling %v, the standard library has %v", got.SubsampleRatio, want.SubsampleRatio)
		}
		w, h := (d.Width+d.comps[0].h-1)/d.comps[0].h, (d.Height+d.comps[0].v-1)/d.comps[0].v
		far = max(most(got.Y, want.Y, got.YStride, want.YStride, d.Width, d.Height),
			most(got.Cb, want.Cb, got.CStride, want.CStride, w, h), most(got.Cr, want.Cr, got.CStride, want.CStride, w, h))
	default:
		t.Fatalf("the standard library gives a %T", want)
	}
	if far > 1 {
		t.Fatalf("%d x %d: a sample is %d off the standard library's", d.Width, d.Height, far)
	}
}

func TestSamplesAgreeWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 90).Draw(t, "w"), rapid.IntRange(1, 90).Draw(t, "h")
		quality := rapid.IntRange(1, 100).Draw(t, "quality")
		agree(t, noisy(benchmark{}, w, h, quality, rapid.Bool().Draw(t, "grey"), rapid.Uint64().Draw(t, "seed")))
	})
}

// benchmark stands in where a failure cannot be: encoding to memory.
type benchmark struct{ testing.TB }

func (benchmark) Helper()          {}
func (benchmark) Fatal(err ...any) { panic(err) }

// The pictures of testdata were made by libjpeg-turbo 2.1.5 (through Pillow 9.4 and
// OpenCV 4.6): they have the subsampling 4:4:4, 4:2:2 and 4:2:0, restart markers, and
// tables of codes made for them. See testdata/README.md.
func TestFilesOfAnotherWriterAgree(t *testing.T) {
	files, err := filepath.Glob("testdata/*.jpg")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(filepath.Base(file), func(t *testing.T) { agree(t, b) })
	}
}

func TestPartsAreAsInTheWhole(t *testing.T) {
	b := noisy(t, 200, 150, 90, false, 3)
	_, whole, all, err := tiled(b, nil)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		var parts []image.Rectangle
		for range rapid.IntRange(1, 3).Draw(t, "parts") {
			x, y := rapid.IntRange(-20, 199).Draw(t, "x"), rapid.IntRange(-20, 149).Draw(t, "y")
			parts = append(parts, image.Rect(x, y, x+rapid.IntRange(1, 300).Draw(t, "w"), y+rapid.IntRange(1, 300).Draw(t, "h")))
		}
		_, some, n, err := tiled(b, parts)
		if err != nil {
			t.Fatal(err)
		}
		if n > all {
			t.Fatalf("%d tiles of %d", n, all)
		}
		for _, p := range parts {
			p = p.Intersect(image.Rect(0, 0, 200, 150))
			for y := p.Min.Y; y < p.Max.Y; y++ {
				for x := p.Min.X; x < p.Max.X; x++ {
					if some.YCbCrAt(x, y) != whole.YCbCrAt(x, y) {
						t.Fatalf("pixel %d, %d differs from that of the whole picture", x, y)
					}
				}
			}
		}
	})
	if _, _, n, err := tiled(b, []image.Rectangle{image.Rect(20, 20, 30, 30)}); err != nil || n != 1 {
		t.Errorf("a part inside one unit took %d units (%v)", n, err)
	}
}

// The inverse transform against the double sum of T.81 A.3.3, rounded.
func TestInverseIsThatOfT81(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b block
		for range rapid.IntRange(0, 64).Draw(t, "n") {
			i := rapid.IntRange(0, 63).Draw(t, "i")
			b.v[i] = int32(rapid.IntRange(-300, 300).Draw(t, "v"))
			if i > 0 {
				b.columns |= 1 << (i & 7)
			}
		}
		var got [64]uint8
		b.inverse(got[:], 8)
		for y := range 8 {
			for x := range 8 {
				sum := 0.0
				for v := range 8 {
					for u := range 8 {
						c := 0.25 * float64(b.v[8*v+u])
						if u == 0 {
							c /= math.Sqrt2
						}
						if v == 0 {
							c /= math.Sqrt2
						}
						sum += c * math.Cos(float64((2*x+1)*u)*math.Pi/16) * math.Cos(float64((2*y+1)*v)*math.Pi/16)
					}
				}
				want := math.Max(0, math.Min(255, 128+sum))
				if d := math.Abs(float64(got[8*y+x]) - want); d > 1 {
					t.Fatalf("sample %d, %d is %d, the sum gives %.2f", x, y, got[8*y+x], want)
				}
			}
		}
	})
}

func TestOtherKindsAreToldApart(t *testing.T) {
	b := noisy(t, 40, 40, 90, false, 1)
	at := bytes.Index(b, []byte{0xff, 0xc0})
	progressive := bytes.Clone(b)
	progressive[at+1] = 0xc2
	if _, err := New(progressive); err != ErrUnusual {
		t.Errorf("a progressive file: %v, want ErrUnusual", err)
	}
	deep := bytes.Clone(b)
	deep[at+4] = 12
	if _, err := New(deep); err != ErrUnusual {
		t.Errorf("a file of 12 bits: %v, want ErrUnusual", err)
	}
	// RGB as it is: 4:4:4 whose components are called so, without the JFIF mark
	rgb, err := os.ReadFile("testdata/s444.jpg")
	if err != nil {
		t.Fatal(err)
	}
	rgb = bytes.Replace(rgb, []byte("JFIF"), []byte("none"), 1)
	frame, scan := bytes.Index(rgb, []byte{0xff, 0xc0}), bytes.Index(rgb, []byte{0xff, 0xda})
	for i, name := range []byte("RGB") {
		rgb[frame+10+3*i], rgb[scan+5+2*i] = name, name
	}
	want, err := jpeg.Decode(bytes.NewReader(rgb))
	if _, ok := want.(*image.RGBA); err != nil || !ok {
		t.Fatalf("the standard library reads %T, %v", want, err)
	}
	if d, err := New(rgb); err != nil || d.Kind != RGB {
		t.Errorf("components named R, G and B: %v, kind %d", err, d.Kind)
	}
	for n := range b[:len(b)-2] {
		d, err := New(b[:n])
		if err == nil {
			err = d.Decode(nil, func(*Tile) {})
		}
		if err == nil {
			t.Fatalf("a file cut to %d of %d bytes was decoded", n, len(b))
		}
	}
}

// FuzzDecode throws damaged files at the decoder: it must not fall over, and what it
// takes as sound must have the size that the standard library reads, if that takes it.
func FuzzDecode(f *testing.F) {
	f.Add(noisy(f, 20, 20, 80, false, 1))
	f.Add(noisy(f, 20, 20, 80, true, 2))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := New(b)
		if err != nil || d.Width*d.Height > 1<<16 {
			return
		}
		if d, _, _, err = tiled(b, nil); err != nil {
			return
		}
		want, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		if size := want.Bounds().Size(); size != image.Pt(d.Width, d.Height) {
			t.Fatalf("%d x %d; the standard library reads %v", d.Width, d.Height, size)
		}
	})
}

func BenchmarkDecode12Megapixels(b *testing.B) {
	photo := noisy(b, 4000, 3000, 90, false, 5)
	for _, c := range []struct {
		name  string
		parts []image.Rectangle
	}{{"whole", nil}, {"a quarter", []image.Rectangle{image.Rect(500, 300, 2232, 2032)}}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				d, err := New(photo)
				if err != nil {
					b.Fatal(err)
				}
				if err := d.Decode(c.parts, func(*Tile) {}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
