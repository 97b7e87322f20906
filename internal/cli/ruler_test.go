package cli

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"aerugo/internal/flow/mat"
)

// The mat as it is printed, with a brown square of 60 mm in its middle: by a print
// at 100 % it measures 60 mm, and by one whose line came out 99.2 mm, 0.8 % less.
func TestRulerScalesWhatIsMeasuredOnTheMat(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "print", "testdata", "mat-one-a4.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	page, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	layout, ok := mat.LayoutOf("A4", mat.OneSwatch)
	if !ok {
		t.Fatal("no mat for A4")
	}
	b := page.Bounds()
	px := float64(b.Dx()) / layout.Page.W
	img := image.NewRGBA(b)
	for y := b.Min.Y; y < b.Max.Y; y++ { // paper is never as white as the file
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := page.At(x, y).RGBA()
			img.SetRGBA(x, y, color.RGBA{uint8(r >> 8 * 9 / 10), uint8(g >> 8 * 9 / 10), uint8(bl >> 8 * 9 / 10), 255})
		}
	}
	c := layout.Swatches[0].Centre()
	at := func(mm float64) int { return int(math.Round(mm * px)) }
	square := image.Rect(at(c.X-30), at(c.Y-30), at(c.X+30), at(c.Y+30))
	draw.Draw(img, square, image.NewUniform(color.RGBA{110, 80, 60, 255}), image.Point{}, draw.Src)
	file := filepath.Join(t.TempDir(), "photo.png")
	var buf bytes.Buffer
	if err := png.Encode(&buf, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, buf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	scale := func(more ...string) float64 {
		var out, wrong bytes.Buffer
		if code := Main(append([]string{"measure", file, "--mat", "--json"}, more...), nil, &out, &wrong); code != 0 {
			t.Fatalf("status %d: %s %s", code, out.String(), wrong.String())
		}
		var said []struct {
			Scale float64 `json:"scale_mm_per_px"`
		}
		if err := json.Unmarshal(out.Bytes(), &said); err != nil || len(said) != 1 {
			t.Fatalf("%v: %s", err, out.String())
		}
		return said[0].Scale
	}
	whole, less := scale(), scale("--ruler-mm", "99.2")
	// scale is given to four decimals
	if math.Abs(whole*px-1) > 0.01 || math.Abs(less/whole-0.992) > 0.0015 {
		t.Errorf("%.4f mm a pixel by a true print (drawn %.4f), %.4f by one of 99.2 mm", whole, 1/px, less)
	}
}
