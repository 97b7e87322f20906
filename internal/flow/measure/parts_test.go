package measure

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// asJPEG is a decoded picture as a camera's JPEG, stored turned (EXIF 2.3, tag 0x0112).
func asJPEG(t testing.TB, m *picture.Image, orientation uint16) []byte {
	t.Helper()
	pixels := image.NewRGBA(image.Rect(0, 0, m.Width, m.Height))
	for y := range m.Height {
		for x := range m.Width {
			rgb, _ := m.At(x, y)
			for c, v := range rgb {
				pixels.Pix[pixels.PixOffset(x, y)+c] = uint8(math.Round(codeOf(float64(v))))
			}
			pixels.Pix[pixels.PixOffset(x, y)+3] = 255
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, pixels, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	exif := []byte("\xff\xe1\x00\x22Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01")
	exif = binary.BigEndian.AppendUint16(exif, orientation)
	exif = append(exif, 0, 0, 0, 0, 0, 0)
	return append(append([]byte{0xff, 0xd8}, exif...), b.Bytes()[2:]...)
}

// What is read from the parts is what is read from the whole, to the last digit,
// whichever way the picture was stored: a copy of the picture serves as the outside.
func TestPartsAnswerAsTheWhole(t *testing.T) {
	s := desk(spotted(0.4))
	s.w, s.h = 320, 240 // small, as it is measured two hundred times
	for i := range s.corners {
		s.corners[i] = studio.Point{X: s.corners[i].X / 2, Y: s.corners[i].Y / 2}
	}
	s.grey = studio.Rect{X: 260, Y: 50, W: 45, H: 45}
	bare := studio.Rect{X: 270, Y: 150, W: 30, H: 30}
	s.bare, s.bareRGB = &bare, linearOf(190, 120, 90)
	var files [9][]byte
	var wholes [9]*picture.Image
	for o := range files {
		if o == 0 {
			continue
		}
		files[o] = asJPEG(t, s.take(t), uint16(o))
		whole, err := picture.Decode(files[o])
		if err != nil {
			t.Fatal(err)
		}
		if turned := o >= 5; turned != (whole.Height > whole.Width) {
			t.Fatalf("orientation %d was read as %d x %d", o, whole.Width, whole.Height)
		}
		wholes[o] = whole
	}
	rapid.Check(t, func(t *rapid.T) {
		o := rapid.IntRange(1, 8).Draw(t, "orientation")
		w, h := float64(wholes[o].Width), float64(wholes[o].Height)
		at := func(name string, x, y float64) studio.Point {
			return studio.Point{X: w * (x + rapid.Float64Range(-0.1, 0.1).Draw(t, name)), Y: h * (y + rapid.Float64Range(-0.1, 0.1).Draw(t, name))}
		}
		quad := [4]studio.Point{at("tl", 0.2, 0.2), at("tr", 0.7, 0.2), at("br", 0.7, 0.6), at("bl", 0.2, 0.6)}
		rect := func(name string) *studio.Rect {
			if rapid.Bool().Draw(t, "no "+name) {
				return nil
			}
			p := at(name, 0.5, 0.5)
			return &studio.Rect{X: p.X, Y: p.Y, W: rapid.Float64Range(8, 60).Draw(t, name), H: rapid.Float64Range(8, 60).Draw(t, name)}
		}
		marks := studio.Marks{Corners: &quad, Grey: rect("grey"), Bare: rect("bare")}
		some, err := picture.DecodeParts(files[o], Parts(marks))
		if err != nil {
			t.Fatal(err)
		}
		size := Size{WidthMM: 50, HeightMM: 50}
		want, wantErr := Measure(wholes[o], marks, size)
		got, gotErr := Measure(some, marks, size)
		if (gotErr == nil) != (wantErr == nil) || gotErr != nil && gotErr.Error() != wantErr.Error() {
			t.Fatalf("%v, from the whole %v", gotErr, wantErr)
		}
		if d := cmp.Diff(want, got); gotErr == nil && d != "" {
			t.Fatalf("the parts answer otherwise than the whole:\n%s", d)
		}
	})
}

func TestPartsLeaveTheRestOut(t *testing.T) {
	s := desk(flat([3]float64{0.3, 0.2, 0.1}))
	file := asJPEG(t, s.take(t), 1)
	m, err := picture.DecodeParts(file, Parts(s.marks()))
	if err != nil {
		t.Fatal(err)
	}
	if rgb, _ := m.At(600, 470); rgb != [3]float32{} {
		t.Errorf("a corner far from all marks was decoded: %v", rgb)
	}
	for _, marks := range []studio.Marks{{}, {Grey: &studio.Rect{X: 1, Y: 1, W: 20, H: 20}}} {
		if got := Parts(marks); got != nil {
			t.Errorf("without corners all is read; got %v", got)
		}
	}
	wild := [4]studio.Point{{X: math.NaN(), Y: math.Inf(1)}, {X: -1e300, Y: 2}, {X: 1e300, Y: 3}, {X: 0, Y: 0}}
	if _, err := picture.DecodeParts(file, Parts(studio.Marks{Corners: &wild})); err != nil {
		t.Errorf("marks that cannot be are the measurement's to refuse: %v", err)
	}
}
