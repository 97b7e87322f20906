package measure

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// 8-bit sRGB colours that look like a bench's: invented, not measured.
var (
	verdigris = linearOf(67, 179, 174)
	copperish = linearOf(195, 135, 112)
	brownish  = linearOf(123, 78, 58)
)

func measured(t testing.TB, img *picture.Image, m studio.Marks) studio.Measurement {
	t.Helper()
	got, err := Measure(img, m, Size{})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func scaled(rgb [3]float64, by [3]float64) [3]float64 {
	return [3]float64{rgb[0] * by[0], rgb[1] * by[1], rgb[2] * by[2]}
}

// The truth is the colour the scene was drawn with. Noise of one code value
// averages out; what is left is 8-bit rounding of face and card (up to 0.5
// dE00 for one pixel).
func TestFlatColourIsRecoveredThroughPerspectiveAndCast(t *testing.T) {
	for _, c := range []struct {
		what string
		rgb  [3]float64
		cast [3]float64
	}{
		{"verdigris in even light", verdigris, [3]float64{1, 1, 1}},
		{"verdigris in warm light", verdigris, [3]float64{1.2, 1, 0.7}},
		{"copper, dark picture", copperish, [3]float64{0.5, 0.5, 0.5}},
		{"brown, cold bright light", brownish, [3]float64{1.1, 1.3, 1.6}},
	} {
		s := desk(flat(c.rgb))
		s.cast = c.cast
		m := measured(t, s.take(t), s.marks())
		want := labOfLinear(t, c.rgb)
		if d := colour.Difference(m.Lab, want); d > 0.3 || !m.Calibrated {
			t.Errorf("%s: %.2f dE00 off (%v, want %v)", c.what, d, m.Lab, want)
		}
		if len(m.Palette) != 1 || m.Palette[0].Share != 1 || m.SD > 2 || m.Method != Version {
			t.Errorf("%s: palette %v, SD %.2f", c.what, m.Palette, m.SD)
		}
	}
}

func TestWithoutGreyTheNumbersAreMarkedUncalibrated(t *testing.T) {
	s := desk(flat(verdigris))
	marks := s.marks()
	marks.Grey = nil
	m := measured(t, s.take(t), marks)
	if m.Calibrated || !anyHas(m.Warnings, "Uncalibrated") {
		t.Errorf("calibrated %v, warnings %q", m.Calibrated, m.Warnings)
	}
	if d := colour.Difference(m.Lab, labOfLinear(t, verdigris)); d > 0.3 {
		t.Errorf("%.2f dE00 off in true light", d)
	}
}

func anyHas(texts []string, word string) bool {
	return slices.ContainsFunc(texts, func(s string) bool { return strings.Contains(s, word) })
}

// A fine chequer reads as the mean of its light, and its two colours as two.
func TestMixedFaceIsTheMeanOfItsLight(t *testing.T) {
	s := desk(func(u, v float64) [3]float64 {
		if (int(u*4)+int(v*4))%2 == 0 {
			return verdigris
		}
		return copperish
	})
	m := measured(t, s.take(t), s.marks())
	var mean [3]float64
	for c := range mean {
		mean[c] = (verdigris[c] + copperish[c]) / 2
	}
	if d := colour.Difference(m.Lab, labOfLinear(t, mean)); d > 0.5 {
		t.Errorf("%.2f dE00 off", d)
	}
	if len(m.Palette) < 2 {
		t.Fatalf("palette %v", m.Palette)
	}
	for i, want := range [][3]float64{verdigris, copperish} {
		near := math.Inf(1)
		for _, p := range m.Palette[:2] {
			near = math.Min(near, colour.Difference(p.Lab, labOfLinear(t, want)))
		}
		if near > 1.5 {
			t.Errorf("colour %d is not in the palette: nearest %.2f dE00", i, near)
		}
	}
	if p := m.Palette; p[0].Share < p[1].Share || p[0].Share > 0.55 || p[1].Share < 0.4 {
		t.Errorf("shares %v", p)
	}
}

func TestGreyPatchCancelsExposureAndCast(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		colourOf := rapid.Float64Range(0.03, 0.45)
		rgb := [3]float64{colourOf.Draw(r, "r"), colourOf.Draw(r, "g"), colourOf.Draw(r, "b")}
		cast := rapid.Float64Range(0.6, 1.6)
		s := scene{
			w: 160, h: 100, corners: [4]studio.Point{{X: 5, Y: 5}, {X: 90, Y: 8}, {X: 88, Y: 92}, {X: 4, Y: 95}},
			face: flat(rgb), grey: studio.Rect{X: 100, Y: 20, W: 50, H: 50}, greyL: GreyCardL, cast: [3]float64{1, 1, 1}, noise: 1,
		}
		before := measured(t, s.take(t), s.marks())
		s.cast = [3]float64{cast.Draw(r, "R"), cast.Draw(r, "G"), cast.Draw(r, "B")}
		after := measured(t, s.take(t), s.marks())
		if d := colour.Difference(before.Lab, after.Lab); d > 0.5 {
			r.Fatalf("colour moved by %.2f dE00 from %v to %v under %v", d, before.Lab, after.Lab, s.cast)
		}
	})
}

func TestLargerPictureGivesTheSameNumbers(t *testing.T) {
	s := desk(spotted(0.3))
	s.noise = 0
	s.bare, s.bareRGB = &studio.Rect{X: 520, Y: 250, W: 90, H: 90}, copperish
	small := s.take(t)
	marks := s.marks()
	one := measured(t, small, marks)
	const k = 2
	big := image.NewRGBA(image.Rect(0, 0, k*s.w, k*s.h))
	l := scale(marks, float64(k))
	for y := range k * s.h {
		for x := range k * s.w {
			rgb, _ := small.At(x/k, y/k)
			big.SetRGBA(x, y, color.RGBA{uint8(math.Round(codeOf(float64(rgb[0])))), uint8(math.Round(codeOf(float64(rgb[1])))), uint8(math.Round(codeOf(float64(rgb[2])))), 255})
		}
	}
	two := measured(t, decoded(t, big), l)
	// The band left out along the edges is whole cells, so its width differs.
	if d := colour.Difference(one.Lab, two.Lab); d > 0.2 {
		t.Errorf("%d times as large: colour moved by %.3f dE00", k, d)
	}
	if math.Abs(one.Coverage.Value-two.Coverage.Value) > 0.02 || math.Abs(one.SD-two.SD) > 1 {
		t.Errorf("%d times as large: coverage %.3f and %.3f, SD %.2f and %.2f", k, one.Coverage.Value, two.Coverage.Value, one.SD, two.SD)
	}
}

func scale(m studio.Marks, k float64) studio.Marks {
	c := *m.Corners
	for i := range c {
		c[i] = studio.Point{X: c[i].X * k, Y: c[i].Y * k}
	}
	g, b := *m.Grey, *m.Bare
	for _, r := range []*studio.Rect{&g, &b} {
		*r = studio.Rect{X: r.X * k, Y: r.Y * k, W: r.W * k, H: r.H * k}
	}
	return studio.Marks{Corners: &c, Grey: &g, GreyL: m.GreyL, Bare: &b}
}

func TestRealSizeHardlyMovesTheNumbers(t *testing.T) {
	s := desk(spotted(0.3))
	img := s.take(t)
	without := measured(t, img, s.marks())
	with, err := Measure(img, s.marks(), Size{WidthMM: 50, HeightMM: 75})
	if err != nil {
		t.Fatal(err)
	}
	if d := colour.Difference(without.Lab, with.Lab); d > 0.2 {
		t.Errorf("colour moved by %.3f dE00", d)
	}
}

func TestSameFaceGivesTheSameMeasurement(t *testing.T) {
	s := desk(spotted(0.3))
	img := s.take(t)
	one, two := measured(t, img, s.marks()), measured(t, img, s.marks())
	if fmt.Sprintf("%+v %+v", one.Lab, one.Palette) != fmt.Sprintf("%+v %+v", two.Lab, two.Palette) {
		t.Errorf("%+v and %+v", one, two)
	}
}

func TestGlareIsLeftOutAndMuchOfItRefused(t *testing.T) {
	shine := func(share float64) func(u, v float64) [3]float64 {
		return func(u, v float64) [3]float64 {
			if u < share {
				return [3]float64{1, 0.97, 0.95}
			}
			return verdigris
		}
	}
	s := desk(shine(0.1))
	m := measured(t, s.take(t), s.marks())
	if m.GlareShare < 0.08 || m.GlareShare > 0.13 || !anyHas(m.Warnings, "glare and was left out") {
		t.Errorf("glare share %.3f, %q", m.GlareShare, m.Warnings)
	}
	if d := colour.Difference(m.Lab, labOfLinear(t, verdigris)); d > 0.4 {
		t.Errorf("glare moved the colour by %.2f dE00", d)
	}
	s.face = shine(0.3)
	wantProblem(t, "30 % glare", s.take(t), s.marks(), "photo", "glare", "the most is 20 %")
}

func TestTransparentFaceIsRefused(t *testing.T) {
	m := image.NewNRGBA(image.Rect(0, 0, 200, 200))
	for y := range 200 {
		for x := range 200 {
			a := uint8(255)
			if x > 60 {
				a = 0
			}
			m.SetNRGBA(x, y, color.NRGBA{90, 140, 130, a})
		}
	}
	wantProblem(t, "transparent", decoded(t, m), studio.Marks{}, "corners", "transparent")
}

func TestWholePictureIsMeasuredWithoutCorners(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 120, 80))
	for i := range m.Pix {
		m.Pix[i] = []uint8{67, 179, 174, 255}[i%4]
	}
	got := measured(t, decoded(t, m), studio.Marks{})
	if d := colour.Difference(got.Lab, labOfLinear(t, verdigris)); d > 0.01 || got.SD > 0.01 {
		t.Errorf("%.3f dE00 off, SD %.3f", d, got.SD)
	}
	wantProblem(t, "tiny", decoded(t, image.NewRGBA(image.Rect(0, 0, 30, 30))), studio.Marks{}, "photo", "30 x 30")
}

// regions.csv: medians of rectangles marked by hand on real photographs. The
// measurement's colour is a mean of light, so on uneven regions it may lie
// beside the median by about their own spread.
func TestRealPhotographsReadAsTheirRegionsSay(t *testing.T) {
	photos := map[string]*picture.Image{}
	checked := 0
	for _, row := range table(t, "regions.csv", true) {
		img := photos[row[0]]
		if img == nil {
			img = photo(t, row[0])
			photos[row[0]] = img
		}
		var v [10]float64
		for i := range v {
			v[i] = number(t, row[2+i])
		}
		want := colour.Lab{L: v[4], A: v[5], B: v[6]}
		spread := math.Sqrt(square(v[7]) + square(v[8]) + square(v[9]))
		got := medianLab(img, int(v[0]), int(v[1]), int(v[2]), int(v[3]))
		if d := colour.Difference(got, want); d > 0.5 {
			t.Errorf("%s %s: median %v is %.2f dE00 from %v", row[0], row[1], got, d, want)
		}
		checked++
		if v[2]-v[0] < shortestSide || v[3]-v[1] < shortestSide {
			continue
		}
		corners := [4]studio.Point{{X: v[0], Y: v[1]}, {X: v[2], Y: v[1]}, {X: v[2], Y: v[3]}, {X: v[0], Y: v[3]}}
		m := measured(t, img, studio.Marks{Corners: &corners})
		t.Logf("%s %s: %.1f %.1f %.1f, %s, %d colours, SD %.1f; median %.1f %.1f %.1f", row[0], row[1], m.Lab.L, m.Lab.A, m.Lab.B, m.Name, len(m.Palette), m.SD, v[4], v[5], v[6])
		if d := colour.Difference76(m.Lab, want); d > 1+spread {
			t.Errorf("%s %s: measured %v, %.1f from the median, spread %.1f", row[0], row[1], m.Lab, d, spread)
		}
	}
	if checked < 8 {
		t.Fatalf("only %d regions", checked)
	}
}

func medianLab(img *picture.Image, x0, y0, x1, y1 int) colour.Lab {
	l := newLight(img)
	var v [3][]float64
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			rgb, _ := img.At(x, y)
			lab := l.cell(rgb).lab
			v[0], v[1], v[2] = append(v[0], lab.L), append(v[1], lab.A), append(v[2], lab.B)
		}
	}
	for i := range v {
		slices.Sort(v[i])
	}
	n := len(v[0])
	mid := func(s []float64) float64 { return (s[(n-1)/2] + s[n/2]) / 2 }
	return colour.Lab{L: mid(v[0]), A: mid(v[1]), B: mid(v[2])}
}

func BenchmarkMeasure12Megapixels(b *testing.B) {
	m := image.NewRGBA(image.Rect(0, 0, 4032, 3024))
	state := uint32(1)
	for y := range 3024 {
		for x := range 4032 {
			state = state*1664525 + 1013904223
			n := uint8(state >> 28)
			c := color.RGBA{67 + n, 160 + n, 150 + n, 255}
			if (x/100+y/130)%3 == 0 {
				c = color.RGBA{170 + n, 110 + n, 90 + n, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	img := decoded(b, m)
	corners := [4]studio.Point{{X: 200, Y: 150}, {X: 3800, Y: 260}, {X: 3700, Y: 2900}, {X: 120, Y: 2800}}
	marks := studio.Marks{Corners: &corners, Grey: &studio.Rect{X: 500, Y: 1, W: 60, H: 60}, Bare: &studio.Rect{X: 405, Y: 395, W: 90, H: 120}}
	for b.Loop() {
		if _, err := Measure(img, marks, Size{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Without corners nobody said that the picture is a face, so a burnt-out
// background is left out instead of refusing the whole.
func TestGlareInAWholePictureIsLeftOut(t *testing.T) {
	half := image.NewRGBA(image.Rect(0, 0, 200, 160))
	for y := range 160 {
		for x := range 200 {
			c := color.RGBA{120, 80, 60, 255}
			if x < 90 {
				c = color.RGBA{255, 255, 255, 255}
			}
			half.SetRGBA(x, y, c)
		}
	}
	img := decoded(t, half)
	m, err := Measure(img, studio.Marks{}, Size{})
	if err != nil {
		t.Fatal(err)
	}
	if m.GlareShare < 0.4 || m.Lab.L > 45 {
		t.Errorf("glare %.2f, L* %.1f; want the white half left out", m.GlareShare, m.Lab.L)
	}
	corners := [4]studio.Point{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 160}, {X: 0, Y: 160}}
	if _, err := Measure(img, studio.Marks{Corners: &corners}, Size{}); studio.ProblemIn(err) == nil {
		t.Errorf("a face that is nearly half glare was measured: %v", err)
	}
}
