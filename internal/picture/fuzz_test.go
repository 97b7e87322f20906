package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"aerugo/internal/studio"
)

func seed(f *testing.F) {
	names, err := filepath.Glob("testdata/*.*")
	if err != nil || len(names) < 20 {
		f.Fatal("no seeds", err)
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
}

func FuzzInspect(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		i, err := Inspect(b)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is not for a person", err)
			}
			return
		}
		if i.Width < 1 || i.Height < 1 || i.Width*i.Height > MaxPixels || i.Profile == "" {
			t.Fatalf("%+v", i)
		}
	})
}

func FuzzDecode(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		i, err := Inspect(b)
		if err != nil || i.Width*i.Height > 1<<20 { // keep the fuzzer quick
			return
		}
		m, err := Decode(b)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is not for a person", err)
			}
			return
		}
		m.At(m.Width-1, m.Height-1)
		if len(Thumbnail(m, 50)) == 0 {
			t.Fatal("no thumbnail")
		}
	})
}

func FuzzWithoutGPS(f *testing.F) {
	seed(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		before := bytes.Clone(b)
		out, removed, err := WithoutGPS(b)
		if !bytes.Equal(b, before) {
			t.Fatal("the input was written on")
		}
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is not for a person", err)
			}
			return
		}
		if len(out) != len(b) || removed == bytes.Equal(out, b) {
			t.Fatalf("removed %v, %d bytes of %d", removed, len(out), len(b))
		}
		if _, again, err := WithoutGPS(out); again || err != nil {
			t.Fatalf("a second time: %v, %v", again, err)
		}
	})
}

// photo12 is a noisy 12-megapixel JPEG, as large as a phone's.
func photo12(b *testing.B) []byte {
	b.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 4032, 3024))
	state := uint32(1)
	for y := range 3024 {
		for x := range 4032 {
			state = state*1664525 + 1013904223
			n := uint8(state >> 28)
			m.SetRGBA(x, y, color.RGBA{uint8(x>>5) + n, uint8(y>>5) + n, 90 + n, 255})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, m, &jpeg.Options{Quality: 90}); err != nil {
		b.Fatal(err)
	}
	return out.Bytes()
}

func BenchmarkDecode12Megapixels(b *testing.B) {
	data := photo12(b)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Decode(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkInspect12Megapixels(b *testing.B) {
	data := photo12(b)
	for b.Loop() {
		if _, err := Inspect(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkThumbnailOf12Megapixels(b *testing.B) {
	m, err := Decode(photo12(b))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		Thumbnail(m, 480)
	}
}
