package mat

import (
	"math"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"

	"aerugo/internal/studio"
)

// plainScene is a mat in even light with nothing on it.
func plainScene(t testing.TB, l Layout) scene {
	s := newScene(t, 0)
	s.layout, s.w, s.h = l, 900, 1200
	s.toPixels = camera(l, s.w, s.h, 15, 30, 4, 0.95, MM{})
	s.swatches, s.labels, s.others, s.numbers = nil, nil, nil, nil
	s.light = [3]float64{0.7, 0.66, 0.5}
	s.slope, s.shadow = MM{}, func(MM) float64 { return 1 }
	s.blur, s.noise, s.quality, s.p3, s.bend = 0.6, 0.003, 90, false, 0
	return s
}

// The truth is the renderer's: a slope of 25 % over the page's height, and a
// shadow of 40 % over a fifth of the page.
func TestFlatFieldFollowsTheLightAndLeavesOutShadow(t *testing.T) {
	for _, l := range Layouts[:2] {
		for _, shaded := range []bool{false, true} {
			s := plainScene(t, l)
			s.slope = MM{0.1 / 210, -0.25 / 297}
			if shaded {
				s.shadow = func(p MM) float64 { return 1 - 0.4*clamp((p.Y-0.8*l.Page.H)/6, 0, 1)*clamp((l.Page.W/2-p.X)/6, 0, 1) }
				s.others = []piece{newPiece(MM{l.Page.W - 14, 90}, 14, 50, 3)} // black card on the right field
			}
			img := s.photograph(t, newSheet(t, l))
			f, err := Find(img)
			if err != nil {
				t.Fatal(err)
			}
			flat, err := FlatField(img, f)
			if err != nil {
				t.Fatal(err)
			}
			for _, place := range l.Swatches {
				for _, p := range append(cornersOf(place), place.Centre()) {
					light := 1 + s.slope.X*(p.X-l.Page.W/2) + s.slope.Y*(p.Y-l.Page.H/2)
					got := flat.Paper(p)
					for c := range got {
						if off := got[c]/(s.light[c]*light) - 1; math.Abs(off) > 0.015 {
							t.Errorf("%s, shaded %v: channel %d at %v is %.1f %% off", l.Name(), shaded, c, p, 100*off)
						}
					}
				}
			}
			if flat.Residual > 0.02 {
				t.Errorf("%s, shaded %v: residual %.3f", l.Name(), shaded, flat.Residual)
			}
			if shaded != (flat.Covered > 0.03) {
				t.Errorf("%s, shaded %v: %.2f of the fields are said to be covered", l.Name(), shaded, flat.Covered)
			}
			g := flat.Gain(l.Grey.Centre(), l.Grey.Centre())
			for _, v := range g {
				if math.Abs(v-1) > 1e-9 {
					t.Errorf("the gain of a place on itself is %v", g)
				}
			}
		}
	}
}

func TestBurntOutPaperIsRefused(t *testing.T) {
	s := plainScene(t, Layouts[0])
	s.light = [3]float64{1.3, 1.3, 1.3}
	img := s.photograph(t, newSheet(t, Layouts[0]))
	f, err := Find(img)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := FlatField(img, f); studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "burnt out") {
		t.Errorf("the answer is %v", err)
	}
}

func TestEmptyMatHasNoSwatchNoLabelAndNoGreyCard(t *testing.T) {
	for _, l := range Layouts[2:] {
		s := plainScene(t, l)
		img := s.photograph(t, newSheet(t, l))
		f, err := Find(img)
		if err != nil {
			t.Fatal(err)
		}
		if len(f.Codes) != 0 {
			t.Errorf("%s: labels %v", l.Name(), f.Codes)
		}
		if got, err := SwatchQuads(img, f); studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "white paper") {
			t.Errorf("%s: %v, %v", l.Name(), got, err)
		}
		flat, err := FlatField(img, f)
		if err != nil {
			t.Fatal(err)
		}
		if r := greyPatch(img, f, flat); r != nil {
			t.Errorf("%s: a grey card was seen at %v", l.Name(), *r)
		}
	}
}

// A disc has no corners: it must not be given any.
func TestWhatIsNoRectangleIsRefused(t *testing.T) {
	l := Layouts[0]
	s := plainScene(t, l)
	paper := newSheet(t, l)
	c := l.Swatches[0].Centre()
	for y := c.Y - 50; y < c.Y+50; y += 0.25 {
		half := math.Sqrt(2500 - square(y-c.Y))
		paper.fill(Area{c.X - half, y, 2 * half, 0.25}, 40)
	}
	img := s.photograph(t, paper)
	f, err := Find(img)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := SwatchQuads(img, f); studio.ProblemIn(err) == nil {
		t.Errorf("a disc has corners %v, %v", got, err)
	}
}

func TestGreyPatchLiesOnTheCard(t *testing.T) {
	for n := range 4 {
		l := Layouts[n]
		s := plainScene(t, l)
		card := newPiece(l.Grey.Centre(), l.Grey.W, l.Grey.H, 0)
		card.colour = [2][3]float64{{0.18, 0.18, 0.18}, {0.18, 0.18, 0.18}}
		k := newPiece(l.Swatches[0].Centre(), 60, 40, 2)
		k.colour, k.blotch = [2][3]float64{looks[0], looks[3]}, 0.1
		s.others, s.swatches = []piece{card}, []piece{k}
		s.toPixels = camera(l, s.w, s.h, 10, 80, float64(90*n), 0.95, MM{})
		img := s.photograph(t, newSheet(t, l))
		f, err := Find(img)
		if err != nil {
			t.Fatal(err)
		}
		got, err := SwatchQuads(img, f)
		if err != nil {
			t.Fatal(err)
		}
		r := got[0].Marks.Grey
		if r == nil {
			t.Fatalf("%s: the grey card was not seen", l.Name())
		}
		if r.W < 8 || r.H < 8 {
			t.Errorf("%s: the grey patch is %v", l.Name(), *r)
		}
		for _, q := range [4]studio.Point{{X: r.X, Y: r.Y}, {X: r.X + r.W, Y: r.Y}, {X: r.X, Y: r.Y + r.H}, {X: r.X + r.W, Y: r.Y + r.H}} {
			if p := s.page(q); !l.Grey.Contains(p) {
				t.Errorf("%s: the grey patch reaches %v, off the card", l.Name(), p)
			}
		}
		if math.Abs(got[0].WidthMM-60) > 0.6 || math.Abs(got[0].HeightMM-40) > 0.6 {
			t.Errorf("%s: the swatch of 60 x 40 mm is read as %.1f x %.1f", l.Name(), got[0].WidthMM, got[0].HeightMM)
		}
	}
}

// Scraps of any kind must be read or refused, never upset the reader.
func FuzzScrapIsReadOrRefused(f *testing.F) {
	f.Add(uint8(20), []byte{0xff, 0x0f, 0x33})
	f.Add(uint8(3), []byte{0xff})
	m := matrix(f, studio.Code(42, studio.Front))
	var seed []byte
	for _, row := range m {
		for _, v := range row {
			seed = append(seed, map[bool]byte{true: 0xff}[v])
		}
	}
	f.Add(uint8(12), seed)
	f.Fuzz(func(t *testing.T, side uint8, b []byte) {
		n := int(side%60) + 1
		bits, err := gozxing.NewBitMatrix(n, n)
		if err != nil {
			t.Fatal(err)
		}
		grid := make([][]bool, n)
		for y := range n {
			grid[y] = make([]bool, n)
			for x := range n {
				if i := y*n + x; len(b) > 0 && b[i%len(b)]>>(i%8)&1 == 1 {
					bits.Set(x, y)
					grid[y][x] = true
				}
			}
		}
		for _, read := range []func() (string, bool){
			func() (string, bool) { return DetectMatrix(bits) },
			func() (string, bool) { return decode(grid) },
		} {
			if text, ok := read(); !ok && text != "" {
				t.Errorf("refused, yet %q", text)
			}
		}
	})
}
