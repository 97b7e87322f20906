package measure

import (
	"bytes"
	"image/jpeg"
	"testing"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// What the pages show of a face must be the colour that was measured: the
// portrait, read back as a picture, gives the same Lab. 8 bits and JPEG cost
// about 1 dE00 (expected.csv of the reader fixtures found 0.7 for sRGB JPEG).
func TestPortraitShowsTheMeasuredColour(t *testing.T) {
	for _, rgb := range [][3]float64{{0.05, 0.22, 0.20}, {0.30, 0.16, 0.10}, {0.45, 0.35, 0.12}} {
		s := desk(flat(rgb))
		img, marks := s.take(t), s.marks()
		m := measured(t, img, marks)
		b, err := Portrait(img, marks, Size{}, 300)
		if err != nil {
			t.Fatal(err)
		}
		shown, err := picture.Decode(b)
		if err != nil {
			t.Fatal(err)
		}
		if max(shown.Width, shown.Height) > 300 {
			t.Errorf("the portrait is %d x %d, wider than asked", shown.Width, shown.Height)
		}
		again := measured(t, shown, studio.Marks{})
		if de := colour.Difference(m.Lab, again.Lab); de > 1.0 {
			t.Errorf("measured %.1f, shown %.1f: %.2f dE00 apart", m.Lab, again.Lab, de)
		}
	}
}

func TestPortraitRefusesWhatMeasureRefuses(t *testing.T) {
	s := desk(flat([3]float64{0.2, 0.2, 0.2}))
	img, marks := s.take(t), s.marks()
	crossed := [4]studio.Point{marks.Corners[0], marks.Corners[2], marks.Corners[1], marks.Corners[3]}
	marks.Corners = &crossed
	if _, err := Portrait(img, marks, Size{}, 300); studio.ProblemIn(err) == nil {
		t.Errorf("crossed corners gave %v", err)
	}
}

func TestPortraitKeepsTheFacesShape(t *testing.T) {
	s := desk(flat([3]float64{0.2, 0.2, 0.2}))
	b, err := Portrait(s.take(t), s.marks(), Size{WidthMM: 60, HeightMM: 30}, 200)
	if err != nil {
		t.Fatal(err)
	}
	c, err := jpeg.DecodeConfig(bytes.NewReader(b))
	if err != nil || c.Width < 190 || c.Width > 200 || c.Height < 90 || c.Height > 105 {
		t.Errorf("a 60 x 30 mm face gives %d x %d, %v", c.Width, c.Height, err)
	}
}
