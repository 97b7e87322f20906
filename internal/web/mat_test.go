package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/boombuler/barcode/datamatrix"

	"aerugo/internal/flow/mat"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// onTheMat draws a photograph, straight from above, of a flat brown swatch on
// the printed mat with its label and a grey card, under a lamp that is warm and
// falls off by a fifth to the right.
func onTheMat(t *testing.T, number int64, face studio.Face, swatch colour.Lab) []byte {
	t.Helper()
	return shotOnMat(t, number, face, swatch, matShot{lamp: [3]float64{0.9, 0.9 * 0.95, 0.9 * 0.8}, card: true})
}

// matShot is how a photograph on the mat is taken: what the lamp makes of each
// channel, and what lies on the mat besides the swatch.
type matShot struct {
	lamp         [3]float64
	card, target bool
}

func shotOnMat(t *testing.T, number int64, face studio.Face, swatch colour.Lab, shot matShot) []byte {
	t.Helper()
	return drawOnMat(t, mat.OneSwatch, shot, laid{number, face, swatch})
}

// laid is a swatch in its place on the mat; without a number it has no label.
type laid struct {
	number int64
	face   studio.Face
	lab    colour.Lab
}

// drawOnMat draws the photograph of a mat with one swatch in each of its places.
func drawOnMat(t *testing.T, kind mat.Kind, shot matShot, swatches ...laid) []byte {
	t.Helper()
	layout, ok := mat.LayoutOf("A4", kind)
	if !ok {
		t.Fatal("no mat for A4")
	}
	const px = 7.0 // a millimetre
	w, h := int(layout.Page.W*px), int(layout.Page.H*px)
	lab := func(l colour.Lab) color.RGBA {
		r, g, b := colour.SRGB.Encode(colour.SRGB.FromLab(l))
		return color.RGBA{uint8(255*r + .5), uint8(255*g + .5), uint8(255*b + .5), 255}
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	fill := func(a mat.Area, c color.Color) {
		draw.Draw(img, image.Rect(int(a.X*px), int(a.Y*px), int((a.X+a.W)*px), int((a.Y+a.H)*px)), image.NewUniform(c), image.Point{}, draw.Src)
	}
	fill(layout.Page, lab(colour.Lab{L: 93}))
	ink, err := layout.Ink()
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range ink {
		fill(i.Area, color.Gray{i.Grey})
	}
	for i, x := range swatches {
		place := layout.Swatches[i].Centre()
		fill(mat.Area{X: place.X - 25, Y: place.Y - 25, W: 50, H: 50}, lab(x.lab))
	}
	if shot.card {
		fill(layout.Grey, lab(colour.Lab{L: 49.5}))
	}
	if shot.target {
		const pitch = 15.0
		c := layout.Target.Centre()
		fill(mat.Area{X: c.X - 3.1*pitch, Y: c.Y - 2.1*pitch, W: 6.2 * pitch, H: 4.2 * pitch}, lab(colour.Lab{L: 14}))
		for i, p := range target.After2014().Patches {
			x, y := c.X+(float64(i%6)-3)*pitch, c.Y+(float64(i/6)-2)*pitch
			fill(mat.Area{X: x + 0.12*pitch, Y: y + 0.12*pitch, W: 0.76 * pitch, H: 0.76 * pitch}, lab(p.Lab))
		}
	}
	for i, s := range swatches {
		if s.number == 0 {
			continue
		}
		code, err := datamatrix.Encode(studio.Code(s.number, s.face))
		if err != nil {
			t.Fatal(err)
		}
		at, n := layout.Labels[i].Centre(), code.Bounds().Dx()
		side := 12.0 / float64(n)
		fill(layout.Labels[i].Inset(1), color.White)
		for y := range n {
			for x := range n {
				if r, _, _, _ := code.At(x, y).RGBA(); r == 0 {
					fill(mat.Area{X: at.X - 6 + float64(x)*side, Y: at.Y - 6 + float64(y)*side, W: side, H: side}, color.Black)
				}
			}
		}
	}
	// tables, since the sRGB curve (IEC 61966-2-1) costs two powers a channel
	const steps = 1 << 14
	var linear [256]float64
	for i := range linear {
		linear[i], _, _ = colour.SRGB.Decode(float64(i)/255, 0, 0)
	}
	stored := make([]uint8, steps+1)
	for i := range stored {
		v, _, _ := colour.SRGB.Encode(float64(i)/steps, 0, 0)
		stored[i] = uint8(255*v + .5)
	}
	for y := range h {
		for x := range w {
			p := img.Pix[img.PixOffset(x, y):]
			light := 1 - 0.2*float64(x)/float64(w)
			for c, k := range shot.lamp {
				p[c] = stored[min(steps, int(linear[p[c]]*light*k*steps+.5))]
			}
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A photograph on the mat needs no number and no marking: its label files it,
// the mat straightens, evens and measures it, and measuring again from the same
// marks reads the same.
func TestAPhotographOnTheMatIsFiledAndMeasured(t *testing.T) {
	t.Parallel()
	b := serve(t)
	example(t, b, 1)
	brown := colour.Lab{L: 42, A: 12, B: 18}
	const number = 39 // planned in the example, not photographed as finished
	form := url.Values{"swatch": {""}, "face": {"front"}, "moment": {"finished"}, "client": {"mat-1"}}
	to := b.upload(t, "/photos", "photo", onTheMat(t, number, studio.Back, brown), form).to(t)
	if !strings.Contains(to, url.QueryEscape(fmt.Sprintf("swatch %d, back", number))) {
		t.Fatalf("went to %s", to)
	}
	photos, err := b.store.PhotosOf(t.Context(), number)
	if err != nil {
		t.Fatal(err)
	}
	var kept *studio.Photo
	for i := range photos {
		if photos[i].Client == "mat-1" {
			kept = &photos[i]
		}
	}
	if kept == nil || kept.Face != studio.Back || kept.Measurement == nil {
		t.Fatalf("kept as %+v", kept)
	}
	m := kept.Measurement
	// 8 bits, JPEG and the fitted light cost about one unit (reader fixtures: 0.7)
	if de := colour.Difference(m.Lab, brown); !m.Calibrated || !m.Marks.OnMat || de > 2 {
		t.Errorf("read %.1f for %.1f (%.1f dE00), calibrated %v, on the mat %v", m.Lab, brown, de, m.Calibrated, m.Marks.OnMat)
	}
	form = url.Values{"usegrey": {"1"}, "onmat": {"1"}, "greyl": {"49.5"}}
	for i, name := range []string{"tl", "tr", "br", "bl"} {
		form.Set(name+"x", fmt.Sprintf("%.0f", m.Marks.Corners[i].X))
		form.Set(name+"y", fmt.Sprintf("%.0f", m.Marks.Corners[i].Y))
	}
	g := m.Marks.Grey
	form.Set("grey1x", fmt.Sprintf("%.0f", g.X))
	form.Set("grey1y", fmt.Sprintf("%.0f", g.Y))
	form.Set("grey2x", fmt.Sprintf("%.0f", g.X+g.W))
	form.Set("grey2y", fmt.Sprintf("%.0f", g.Y+g.H))
	again := b.post(t, fmt.Sprintf("/photos/%d/measure", kept.ID), form)
	all, err := b.store.Measurements(t.Context(), kept.ID)
	if err != nil || len(all) != 2 {
		t.Fatalf("%d readings, %v (status %d)", len(all), err, again.code)
	}
	if de := colour.Difference(all[0].Lab, m.Lab); de > 0.3 {
		t.Errorf("marked by hand on the same mat it reads %.2f dE00 otherwise", de)
	}
	for _, made := range []string{"face.jpg", "thumb.jpg", "preview.jpg"} {
		if code, kind, _ := get(t, fmt.Sprintf("%s/photos/%d/%s", b.url, kept.ID, made)); code != http.StatusOK || kind != "image/jpeg" {
			t.Errorf("%s: status %d, %s", made, code, kind)
		}
	}
}

// A label that names a swatch of another studio files nothing.
func TestALabelOfAnotherStudioIsRefused(t *testing.T) {
	t.Parallel()
	b := serve(t)
	example(t, b, 1)
	form := url.Values{"swatch": {""}, "face": {"front"}, "moment": {"finished"}, "client": {"mat-2"}}
	a := b.upload(t, "/photos", "photo", onTheMat(t, 4711, studio.Front, colour.Lab{L: 50}), form)
	if a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "4711") {
		t.Errorf("status %d, %q; want a refusal that names the swatch", a.code, a.problem())
	}
}
