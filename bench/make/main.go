// Command make draws the photographs that bench/compare.sh measures.
//
//	go run ./bench/make DIR [COUNT]
//
// They are finished faces of the invented example, all on one brass and taken by a
// camera on a stand, so that one set of marks holds for all. The example's pictures
// are enlarged fourfold to 12 megapixels and get a sensor's noise at that size, as a
// JPEG without it would be half as large and far quicker to decode. Every fourth is
// stored turned, as by a phone held upright. The marks go into DIR/marks.
package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"golang.org/x/image/draw"

	"aerugo/internal/demo"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

const (
	scale   = 4
	quality = 97 // makes files of 3 to 4 MB, as phones do
	sideMM  = 50
	noise   = 2.5 // standard deviation in code values
)

// brass is the bare metal of every photograph: the colour the example gives its brass.
var brass = colour.Lab{L: 71.5, A: 2, B: 29}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) < 1 || len(args) > 2 {
		return fmt.Errorf("write: go run ./bench/make DIR [COUNT]")
	}
	count := 40
	if len(args) == 2 {
		n, err := strconv.Atoi(args[1])
		if err != nil || n < 1 || n > 999 {
			return fmt.Errorf("%q is no number of photographs from 1 to 999", args[1])
		}
		count = n
	}
	dir := args[0]
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	looks := finished()
	if len(looks) == 0 {
		return fmt.Errorf("the example has no finished face")
	}
	for i := range count {
		s := shot(looks[i%len(looks)], i)
		photo, err := enlarge(demo.Render(s), i%4 == 3, uint64(i))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("photo-%03d.jpg", i+1)), photo, 0o644); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(dir, "marks"), []byte(marks(shot(looks[0], 0))), 0o644)
}

// finished returns the looks of the example's finished faces.
func finished() (looks []demo.Look) {
	for number := int64(1); number <= 60; number++ {
		for _, face := range []studio.Face{studio.Front, studio.Back} {
			if t, ok := demo.TruthOf(number, face, studio.Finished); ok {
				looks = append(looks, t.Look)
			}
		}
	}
	return looks
}

// shot is photograph i: the same camera and lamp each time, another piece.
func shot(look demo.Look, i int) demo.Shot {
	look.Ground = brass
	return demo.Shot{
		Number: int64(i + 1), Face: studio.Front, Look: look, WidthMM: sideMM, HeightMM: sideMM,
		Taken: time.Date(2026, 5, 20, 14, 0, 0, 0, time.UTC),
		Light: demo.Light{Cast: [3]float64{1.04, 1, 0.95}, Exposure: 0.92, Slope: 0.03},
		Piece: uint64(i + 1), Chance: 7,
	}
}

// enlarge makes a 12-megapixel JPEG of a small one, keeping its EXIF and profile.
func enlarge(small []byte, turned bool, chance uint64) ([]byte, error) {
	from, err := jpeg.Decode(bytes.NewReader(small))
	if err != nil {
		return nil, err
	}
	b := from.Bounds()
	big := image.NewRGBA(image.Rect(0, 0, scale*b.Dx(), scale*b.Dy()))
	draw.CatmullRom.Scale(big, big.Rect, from, b, draw.Src, nil)
	rng := rand.New(rand.NewPCG(chance, 17))
	for i := range big.Pix {
		if i%4 != 3 {
			v := float64(big.Pix[i]) + noise*rng.NormFloat64() + 0.5
			big.Pix[i] = uint8(max(0, min(255, v)))
		}
	}
	head := small[2:scanStart(small)]
	if turned {
		big = turnLeft(big)
		// the EXIF entry of the orientation: tag 0x0112, one short, of value 1
		upright := []byte{0x12, 0x01, 3, 0, 1, 0, 0, 0, 1, 0}
		onSide := []byte{0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0}
		if bytes.Count(head, upright) != 1 {
			return nil, fmt.Errorf("the picture's EXIF names no orientation")
		}
		head = bytes.Replace(head, upright, onSide, 1)
	}
	var body bytes.Buffer
	if err := jpeg.Encode(&body, big, &jpeg.Options{Quality: quality}); err != nil {
		return nil, err
	}
	out := append([]byte(nil), body.Bytes()[:2]...)
	out = append(out, head...)
	return append(out, body.Bytes()[2:]...), nil
}

// scanStart returns where the APP segments of a JPEG end.
func scanStart(b []byte) int {
	i := 2
	for i+4 <= len(b) && b[i] == 0xff && b[i+1] >= 0xe0 && b[i+1] <= 0xef {
		i += 2 + int(b[i+2])<<8 + int(b[i+3])
	}
	return i
}

// turnLeft turns a picture by a quarter anticlockwise; orientation 6 turns it back.
func turnLeft(m *image.RGBA) *image.RGBA {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, h, w))
	for y := range h {
		for x := range w {
			copy(out.Pix[(w-1-x)*out.Stride+4*y:][:4], m.Pix[y*m.Stride+4*x:])
		}
	}
	return out
}

// marks are the options of aerugo measure, one a line as NAME=VALUE, in the pixels of
// the large picture.
func marks(s demo.Shot) string {
	m := s.Marks()
	out := "corners="
	for i, p := range m.Corners {
		if i > 0 {
			out += ","
		}
		out += fmt.Sprintf("%.2f,%.2f", scale*p.X, scale*p.Y)
	}
	g := m.Grey
	return out + fmt.Sprintf("\ngrey=%.0f,%.0f,%.0f,%.0f\nbare=%g,%g,%g\nsize=%d,%d\n",
		scale*g.X, scale*g.Y, scale*g.W, scale*g.H, brass.L, brass.A, brass.B, sideMM, sideMM)
}
