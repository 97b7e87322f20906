package demo

import (
	"bytes"
	"image"
	"image/draw"
	"sort"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"

	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// allRolls returns the example's photographs as in a fresh studio.
func allRolls(t testing.TB) []roll {
	chapters, err := told()
	if err != nil {
		t.Fatal(err)
	}
	var all []roll
	for _, c := range chapters {
		var swatches []studio.Swatch
		for i, p := range c.layout.Pieces {
			p.Swatch.Number = int64(c.piece(i))
			swatches = append(swatches, p.Swatch)
		}
		all = append(all, c.rolls(swatches)...)
	}
	return all
}

// A photograph measured as a careful person would mark it must give back what
// was painted: within 2 dE00 for every photograph and 1 for the median, and the
// true coverage inside the stated range for at least nine in ten. Lamp slope,
// corners, noise, 8 bits, JPEG and the edge left out make the rest.
func TestMeasuringGivesBackTheTruth(t *testing.T) {
	var apart []float64
	inside, ranges := 0, 0
	for i, r := range allRolls(t) {
		if i%12 != 5 {
			continue // every twelfth face: all of them take minutes
		}
		var bare *studio.Measurement
		for j, s := range r.shots {
			m, err := s.measure(Render(s), bare)
			if err != nil {
				t.Fatalf("swatch %d %s %s: %v", s.Number, s.Face, r.moment[j], err)
			}
			if bare == nil && r.moment[j] == studio.Bare {
				bare = &m
			}
			truth := s.Look.truth()
			d := colour.Difference(m.Lab, truth.Lab)
			apart = append(apart, d)
			if d > 2 {
				t.Errorf("swatch %d %s %s: measured %+v, true %+v, %.2f dE00 apart", s.Number, s.Face, r.moment[j], m.Lab, truth.Lab, d)
			}
			if !m.Calibrated {
				t.Errorf("swatch %d %s %s: the grey card was not used", s.Number, s.Face, r.moment[j])
			}
			if m.Coverage != nil {
				ranges++
				if m.Coverage.Low <= truth.Coverage && truth.Coverage <= m.Coverage.High {
					inside++
				}
			}
		}
	}
	sort.Float64s(apart)
	if median := apart[len(apart)/2]; median > 1 {
		t.Errorf("the median of %d photographs is %.2f dE00 from the truth, want below 1", len(apart), median)
	}
	if ranges < 10 || inside*10 < ranges*9 {
		t.Errorf("the true coverage is inside its range in %d of %d photographs, want nine in ten of at least 10", inside, ranges)
	}
	t.Logf("%d photographs: median %.2f, worst %.2f dE00; coverage inside its range in %d of %d", len(apart), apart[len(apart)/2], apart[len(apart)-1], inside, ranges)
}

func TestSameShotSameBytes(t *testing.T) {
	rolls := allRolls(t)
	s := rolls[30].shots[1]
	first := Render(s)
	if !bytes.Equal(first, Render(s)) {
		t.Error("the same shot was drawn differently the second time")
	}
	s.Chance++
	if bytes.Equal(first, Render(s)) {
		t.Error("another chance gave the same bytes")
	}
}

// The file must read back as what it claims, by our reader, which is tested
// against files written by others.
func TestFileSaysWhenHowAndBywhat(t *testing.T) {
	for _, upright := range []bool{false, true} {
		s := allRolls(t)[3].shots[0]
		s.Upright = upright
		s.Taken = time.Date(2026, 4, 5, 16, 7, 8, 0, time.FixedZone("", 2*60*60))
		info, err := picture.Inspect(Render(s))
		if err != nil {
			t.Fatal(err)
		}
		w, h := s.size()
		orientation := 1
		if upright {
			orientation = 6
		}
		if info.Width != w || info.Height != h || info.Orientation != orientation {
			t.Errorf("upright %v: %d x %d, orientation %d; want %d x %d, %d", upright, info.Width, info.Height, info.Orientation, w, h, orientation)
		}
		if !info.Taken.Equal(s.Taken) {
			t.Errorf("taken %s, want %s", info.Taken, s.Taken)
		}
		if info.GPS {
			t.Error("an invented photograph has a place on earth")
		}
	}
}

// A label drawn by one library must be read by another (gozxing, a port of
// ZXing), or it is only an ornament.
func TestLabelReadsBack(t *testing.T) {
	for _, number := range []int64{1, 42, 12345} {
		for _, side := range studio.BothFaces {
			drawn := drawLabel(number, side)
			img := image.NewGray(image.Rect(0, 0, drawn.Rect.Dy()+40, drawn.Rect.Dy()+40)) // the code alone, with a quiet border
			draw.Draw(img, img.Rect, image.White, image.Point{}, draw.Src)
			draw.Draw(img, img.Rect.Inset(20), drawn, image.Pt(drawn.Rect.Dx()-drawn.Rect.Dy(), 0), draw.Src)
			bits, err := gozxing.NewBinaryBitmapFromImage(img)
			if err != nil {
				t.Fatal(err)
			}
			got, err := datamatrix.NewDataMatrixReader().Decode(bits, nil)
			if err != nil {
				t.Errorf("label %d %s can't be read: %v", number, side, err)
				continue
			}
			if want := studio.Code(number, side); got.GetText() != want {
				t.Errorf("label reads %q, want %q", got.GetText(), want)
			}
		}
	}
}

// The corners given as marks must be where the swatch is drawn: just inside is
// swatch, just outside is not.
func TestMarksAreWhereTheSwatchIs(t *testing.T) {
	s := allRolls(t)[0].shots[0]
	for chance := range uint64(20) {
		s.Chance, s.Upright = chance, chance%3 == 0
		l, sc, m := s.lens(), s.scene(), s.Marks()
		w, h := s.size()
		for i, c := range m.Corners {
			x, y := through(l.from, c.X, c.Y)
			wantX, wantY := []float64{0, sc.swatch.w, sc.swatch.w, 0}[i], []float64{0, 0, sc.swatch.h, sc.swatch.h}[i]
			if dx, dy := x-wantX, y-wantY; dx*dx+dy*dy > 1e-12 {
				t.Errorf("chance %d, corner %d lies at %v, %v mm, want %v, %v", chance, i, x, y, wantX, wantY)
			}
			if c.X < 8 || c.Y < 8 || c.X > float64(w)-8 || c.Y > float64(h)-8 {
				t.Errorf("chance %d, corner %d at %.0f, %.0f is at or over the edge of the picture", chance, i, c.X, c.Y)
			}
		}
		for _, p := range [][2]float64{{m.Grey.X, m.Grey.Y}, {m.Grey.X + m.Grey.W, m.Grey.Y + m.Grey.H}} {
			x, y := through(l.from, p[0], p[1])
			if d := sc.card.bounds().distance(float32(x), float32(y)); d > -1.5 {
				t.Errorf("chance %d: the grey mark's corner is %.1f mm from the inside of the card's edge, want at least 1.5", chance, -d)
			}
		}
	}
}

func BenchmarkRender(b *testing.B) {
	s := allRolls(b)[10].shots[1]
	Render(s)
	for b.Loop() {
		Render(s)
	}
}
