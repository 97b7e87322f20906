package print

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func TestPictureKeepsItsColourAndLosesWhatTheCameraWrote(t *testing.T) {
	const secret = "GPS 52.5200N 13.4050E"
	file := samplePicture(t, 1800, 1200, color.RGBA{40, 130, 120, 255})
	comment := append([]byte{0xff, 0xd8, 0xff, 0xfe, 0, byte(len(secret) + 2)}, secret...) // ISO/IEC 10918-1, B.2.4.5: COM
	file = append(comment, file[2:]...)
	photos, err := readPhotos([]CardFace{{Swatch: 1, Face: studio.Front, JPEG: file}, {Swatch: 1, Face: studio.Back, JPEG: file}})
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range photos {
		if bytes.Contains(p.jpeg, []byte(secret)) {
			t.Error("what the camera wrote beside the picture is still there")
		}
		img, err := jpeg.Decode(bytes.NewReader(p.jpeg))
		if err != nil {
			t.Fatal(err)
		}
		b := img.Bounds()
		if b.Dx() != p.w || b.Dy() != p.h || max(p.w, p.h) > printPixels+maxCardFaces || math.Abs(float64(p.w)/float64(p.h)-1.5) > 0.01 {
			t.Errorf("picture %d is %v, said to be %d x %d", i, b, p.w, p.h)
		}
		was, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		for k := range 3 {
			if before, after := mean(was, k), mean(img, k); math.Abs(before-after) > 2 {
				t.Errorf("picture %d, channel %d: mean %.1f became %.1f of 255", i, k, before, after)
			}
		}
	}
	if photos[0].w == photos[1].w {
		t.Error("two pictures have one width: their order in the file is left to chance")
	}
}

// mean is the mean of one channel, 0 to 255.
func mean(img image.Image, channel int) float64 {
	b := img.Bounds()
	sum, n := 0.0, 0
	for y := b.Min.Y; y < b.Max.Y; y += 3 {
		for x := b.Min.X; x < b.Max.X; x += 3 {
			r, g, bl, _ := img.At(x, y).RGBA()
			sum += float64([3]uint32{r, g, bl}[channel]) / 257
			n++
		}
	}
	return sum / float64(n)
}

func TestBadPictureIsSaidToBeBad(t *testing.T) {
	good := samplePicture(t, 60, 40, color.RGBA{90, 90, 90, 255})
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"none":       {nil, "no photograph"},
		"noise":      {[]byte("GIF89a not a picture"), "the photograph can't be read"},
		"cut":        {good[:len(good)/2], "the photograph can't be read"},
		"huge":       {huge(good), "the photograph is too large"},
		"head alone": {good[:40], "the photograph can't be read"},
	} {
		card := sampleCard(t)
		card.Faces = []CardFace{{Swatch: 7, Face: studio.Back, JPEG: c.file, Measured: card.Faces[0].Measured}, {Swatch: 7, Face: studio.Front, JPEG: c.file}}
		p := cardPages(t, card)[0]
		if got := strings.Count(p.all(), c.want); got != 2 || p.images != 0 {
			t.Errorf("%s: said %d times %q with %d pictures: %s", name, got, c.want, p.images, p.all())
		}
	}
}

// huge says in a picture's head that it has 65500 x 65500 pixels (ISO/IEC
// 10918-1, B.2.2: SOF0 holds height and width).
func huge(file []byte) []byte {
	file = bytes.Clone(file)
	at := bytes.Index(file, []byte{0xff, 0xc0})
	copy(file[at+5:], []byte{0xff, 0xdc, 0xff, 0xdc})
	return file
}

func TestChipIsTheMeasuredColour(t *testing.T) {
	card := sampleCard(t)
	for lab, want := range map[colour.Lab][3]float64{
		{L: 0}:   {0, 0, 0},
		{L: 100}: {255, 255, 255},
		// CSS Color 4, sample values: lab(46.2775% -47.5621 48.5837) is green, #008000
		{L: 46.2775, A: -47.5621, B: 48.5837}: {0, 128, 0},
	} {
		card.Faces = []CardFace{{Swatch: 1, Face: studio.Front, JPEG: card.Faces[0].JPEG, Measured: sampleMeasurement(lab, "x", true)}}
		found := false
		for _, f := range cardPages(t, card)[0].fills {
			found = found || (math.Abs(f.r*255-want[0]) < 1.2 && math.Abs(f.g*255-want[1]) < 1.2 && math.Abs(f.b*255-want[2]) < 1.2)
		}
		if !found {
			t.Errorf("no chip of %v for %v", want, lab)
		}
	}
	card.Faces[0].Measured = sampleMeasurement(colour.Lab{L: 60, A: -120, B: 90}, "green", true)
	if all := cardPages(t, card)[0].all(); !strings.Contains(all, "stronger than shown") {
		t.Errorf("a colour beyond sRGB is not said to be: %s", all)
	}
}
