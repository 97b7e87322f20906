package measure

import (
	"errors"
	"math"
	"strings"
	"testing"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

func wantProblem(t *testing.T, what string, img *picture.Image, m studio.Marks, field string, words ...string) {
	t.Helper()
	_, err := Measure(img, m, Size{})
	var p *studio.Problem
	if !errors.As(err, &p) {
		t.Errorf("%s: %v", what, err)
		return
	}
	if p.Kind != studio.Invalid || p.Field != field {
		t.Errorf("%s: kind %d, field %q", what, p.Kind, p.Field)
	}
	for _, w := range words {
		if !strings.Contains(p.Text, w) {
			t.Errorf("%s: %q does not say %q", what, p.Text, w)
		}
	}
}

func TestImpossibleCornersAreRefusedByName(t *testing.T) {
	s := desk(flat(verdigris))
	img := s.take(t)
	good := s.corners
	for _, c := range []struct {
		what    string
		corners [4]studio.Point
		words   []string
	}{
		{"top swapped", [4]studio.Point{good[1], good[0], good[2], good[3]}, []string{"cross", "top left and top right"}},
		{"right swapped", [4]studio.Point{good[0], good[2], good[1], good[3]}, []string{"cross", "top right and bottom right"}},
		{"anticlockwise", [4]studio.Point{good[0], good[3], good[2], good[1]}, []string{"wrong way round"}},
		{"outside", [4]studio.Point{good[0], {X: 700, Y: 70}, good[2], good[3]}, []string{"top right", "outside the 640 x 480"}},
		{"nowhere", [4]studio.Point{good[0], good[1], good[2], {X: math.NaN(), Y: 3}}, []string{"bottom left", "outside"}},
		{"short", [4]studio.Point{good[0], {X: good[0].X + 12, Y: good[0].Y}, good[2], good[3]}, []string{"top side", "12 pixels", "at least 40"}},
		{"dented", [4]studio.Point{good[0], good[1], {X: 200, Y: 200}, good[3]}, []string{"bottom right", "inside the triangle"}},
		{"in line", [4]studio.Point{good[0], {X: 250, Y: 240}, good[2], good[3]}, []string{"top right"}},
	} {
		m := s.marks()
		m.Corners = &c.corners
		wantProblem(t, c.what, img, m, "corners", c.words...)
	}
}

// Of the 24 orders of four corners only the 4 turns of the face itself (a
// swatch lying on its side) may be measured.
func TestOnlyTurnsOfTheCornersAreTaken(t *testing.T) {
	s := desk(flat(verdigris))
	img := s.take(t)
	taken := 0
	for a := range 4 {
		for b := range 4 {
			for c := range 4 {
				d := 6 - a - b - c
				if a == b || a == c || b == c {
					continue
				}
				m := s.marks()
				m.Corners = &[4]studio.Point{s.corners[a], s.corners[b], s.corners[c], s.corners[d]}
				_, err := Measure(img, m, Size{})
				turned := b == (a+1)%4 && c == (b+1)%4
				if turned != (err == nil) {
					t.Errorf("order %d%d%d%d: %v", a, b, c, d, err)
				}
				if err == nil {
					taken++
				}
			}
		}
	}
	if taken != 4 {
		t.Errorf("%d orders taken", taken)
	}
}

func TestUselessGreyPatchesAreRefused(t *testing.T) {
	s := desk(flat(verdigris))
	img := s.take(t)
	for _, c := range []struct {
		what  string
		rect  studio.Rect
		l     float64
		words []string
	}{
		{"outside", studio.Rect{X: 600, Y: 100, W: 90, H: 90}, 0, []string{"outside the 640 x 480"}},
		{"tiny", studio.Rect{X: 530, Y: 120, W: 4, H: 4}, 0, []string{"at least 8 x 8"}},
		{"half on the card", studio.Rect{X: 480, Y: 100, W: 90, H: 90}, 0, []string{"changes by"}},
		{"of no lightness", s.grey, 3, []string{"between 10 and 98"}},
	} {
		m := s.marks()
		m.Grey, m.GreyL = &c.rect, c.l
		wantProblem(t, c.what, img, m, "grey", c.words...)
	}
	s.greyL, s.cast = 95, [3]float64{1.5, 1.5, 1.5}
	wantProblem(t, "burnt out", s.take(t), s.marks(), "grey", "burnt out")
	s.greyL, s.cast = GreyCardL, [3]float64{0.03, 0.03, 0.03}
	wantProblem(t, "dark", s.take(t), s.marks(), "grey", "too dark")
}

func TestOddGreyPatchIsWarnedOf(t *testing.T) {
	s := desk(flat(verdigris))
	s.cast = [3]float64{1.6, 1, 0.4}
	if m := measured(t, s.take(t), s.marks()); !anyHas(m.Warnings, "strongly coloured") {
		t.Errorf("%q", m.Warnings)
	}
}

func TestBareSpotOutsideThePictureIsRefused(t *testing.T) {
	s := desk(flat(verdigris))
	m := s.marks()
	m.Bare = &studio.Rect{X: 630, Y: 100, W: 40, H: 40}
	wantProblem(t, "bare spot", s.take(t), m, "bare", "spot of bare metal", "outside the 640 x 480")
}

func TestSteepAngleIsWarnedOf(t *testing.T) {
	s := desk(flat(verdigris))
	s.corners = [4]studio.Point{{X: 200, Y: 60}, {X: 330, Y: 60}, {X: 480, Y: 420}, {X: 40, Y: 420}}
	if m := measured(t, s.take(t), s.marks()); !anyHas(m.Warnings, "steep angle") {
		t.Errorf("%q", m.Warnings)
	}
}
