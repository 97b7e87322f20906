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
		b, err := Portrait(img, marks, Size{}, 300, Under{})
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

// A correction and a fall-off of the light, when known, show in the numbers and
// in the picture: here the face had half its light, and the correction halves the
// red.
func TestWhatIsKnownOfTheLightIsUsed(t *testing.T) {
	s := desk(flat([3]float64{0.30, 0.16, 0.10}))
	img, marks := s.take(t), s.marks()
	plain := measured(t, img, studio.Marks{Corners: marks.Corners})
	under := Under{
		Correct: func(rgb [3]float64) colour.XYZ { return img.Space.XYZ(rgb[0]/2, rgb[1], rgb[2]) },
		Note:    &studio.Correction{Target: "made up", Patches: 24},
		Gain:    func(p studio.Point) [3]float64 { return [3]float64{2, 2, 2} },
	}
	m, err := MeasureUnder(img, studio.Marks{Corners: marks.Corners}, Size{}, under)
	if err != nil {
		t.Fatal(err)
	}
	if !m.Calibrated || m.Correction != under.Note {
		t.Errorf("calibrated %v, correction %v", m.Calibrated, m.Correction)
	}
	r, g, b := img.Space.FromXYZ(plain.Lab.XYZ(colour.D50))
	if de := colour.Difference(m.Lab, img.Space.Lab(r, 2*g, 2*b)); de > 0.3 {
		t.Errorf("corrected to %.1f, %.2f dE00 from what the light says", m.Lab, de)
	}
	jpg, err := Portrait(img, studio.Marks{Corners: marks.Corners}, Size{}, 300, under)
	if err != nil {
		t.Fatal(err)
	}
	shown, err := picture.Decode(jpg)
	if err != nil {
		t.Fatal(err)
	}
	if again := measured(t, shown, studio.Marks{}); colour.Difference(m.Lab, again.Lab) > 1.0 {
		t.Errorf("measured %.1f, shown %.1f", m.Lab, again.Lab)
	}
}

func TestPortraitRefusesWhatMeasureRefuses(t *testing.T) {
	s := desk(flat([3]float64{0.2, 0.2, 0.2}))
	img, marks := s.take(t), s.marks()
	crossed := [4]studio.Point{marks.Corners[0], marks.Corners[2], marks.Corners[1], marks.Corners[3]}
	marks.Corners = &crossed
	if _, err := Portrait(img, marks, Size{}, 300, Under{}); studio.ProblemIn(err) == nil {
		t.Errorf("crossed corners gave %v", err)
	}
}

func TestPortraitKeepsTheFacesShape(t *testing.T) {
	s := desk(flat([3]float64{0.2, 0.2, 0.2}))
	b, err := Portrait(s.take(t), s.marks(), Size{WidthMM: 60, HeightMM: 30}, 200, Under{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := jpeg.DecodeConfig(bytes.NewReader(b))
	if err != nil || c.Width < 190 || c.Width > 200 || c.Height < 90 || c.Height > 105 {
		t.Errorf("a 60 x 30 mm face gives %d x %d, %v", c.Width, c.Height, err)
	}
}
