package print

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func sampleStickerSheet(p Paper) StickerSheet {
	s := StickerSheet{Start: 3, Date: sampleDay, RightMM: 0.5, DownMM: -0.5}
	s.Format, _ = SheetFormatOf("a4-21")
	if p == Letter {
		s.Format = SheetFormat{Paper: Letter, Columns: 3, Rows: 8, W: 62, H: 31, Left: 12, Top: 12, PitchX: 64, PitchY: 31.5}
	}
	return s
}

func sampleStickers() []Sticker {
	var out []Sticker
	for i := range 5 {
		for _, face := range studio.BothFaces {
			n := int64(42 + i)
			out = append(out, Sticker{Title: fmt.Sprint(n), Word: string(face), Code: studio.Code(n, face), Lines: []string{"Salt and fumes", "brass C26000, 0.8 mm", "240 min · 25 g/m²", "2 March 2026"}, Invented: i == 4})
		}
	}
	return append(out, Sticker{Title: "Cabinet, drawer 2", Code: studio.PlaceCode(2), Lines: []string{"3 rows, 4 columns"}}, Sticker{Title: "Aqua ammonia", Lines: []string{"9.5 wt%, lot 12B"}})
}

func extremeStickers() []Sticker {
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 4)
	return []Sticker{
		{Title: "9876543210", Word: "back", Code: studio.Code(9876543210, studio.Back), Lines: []string{long, long, long, long, long, long, long, long, long}, Invented: true},
		{Title: long, Lines: []string{strings.Repeat("W", 100), "銅の緑青 🎨"}},
		{Title: "1"},
	}
}

// The first label's middle and the middle of the last, in points, worked out from the
// template database of gLabels, templates/avery-iso-templates.xml and
// avery-us-templates.xml (Jim Evins and others, MIT licence;
// github.com/jimevins/glabels): x0, y0, dx, dy, width, height as they stand there.
func TestFormatsAgreeWithAPublishedDatabase(t *testing.T) {
	const in = 72.0
	for key, d := range map[string]struct{ nx, ny, x0, y0, dx, dy, w, h float64 }{
		"a4-21":     {3, 7, 21.2, 43.9, 187.2, 108.0, 181.4, 108.0},
		"a4-14":     {2, 7, 9.5, 43, 292, 108, 280.9, 108},
		"a4-65":     {5, 13, 13.32, 30.90, 115.09, 60.09, 108, 60.09},
		"letter-30": {3, 10, 0.1875 * in, 0.5 * in, 2.75 * in, in, 2.625 * in, in},
		"letter-80": {4, 20, 0.28125 * in, 0.5 * in, 2.0625 * in, 0.5 * in, 1.75 * in, 0.5 * in},
		"letter-20": {2, 10, 0.15625 * in, 0.5 * in, 4.1875 * in, in, 4 * in, in},
		"letter-10": {2, 5, 0.1625 * in, 0.5 * in, 4.1875 * in, 2 * in, 4 * in, 2 * in},
	} {
		f, ok := SheetFormatOf(key)
		if !ok || float64(f.Columns) != d.nx || float64(f.Rows) != d.ny {
			t.Fatalf("%s has %d x %d labels, want %v x %v", key, f.Columns, f.Rows, d.nx, d.ny)
		}
		for _, n := range []int{0, f.Per() - 1} {
			at := f.at(n, 0, 0)
			x := (d.x0 + float64(n%f.Columns)*d.dx + d.w/2) * mmPerPoint
			y := (d.y0 + float64(n/f.Columns)*d.dy + d.h/2) * mmPerPoint
			if math.Abs(at.x+at.w/2-x) > 1.5 || math.Abs(at.y+at.h/2-y) > 1.5 {
				t.Errorf("%s, label %d: its middle is at %.2f, %.2f mm, the database has %.2f, %.2f", key, n+1, at.x+at.w/2, at.y+at.h/2, x, y)
			}
		}
		if math.Abs(f.W-d.w*mmPerPoint) > 0.6 || math.Abs(f.H-d.h*mmPerPoint) > 0.6 {
			t.Errorf("%s: labels of %.2f x %.2f mm, the database has %.2f x %.2f", key, f.W, f.H, d.w*mmPerPoint, d.h*mmPerPoint)
		}
	}
}

func TestEveryFormatHoldsItsLabels(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range SheetFormats {
		if err := f.Check(); err != nil || seen[f.Key] || f.Source == "" {
			t.Errorf("%s: %v, source %q", f.Key, err, f.Source)
		}
		seen[f.Key] = true
		if !strings.Contains(f.Name, fmt.Sprintf(" %d labels", f.Per())) {
			t.Errorf("%s has %d labels", f.Name, f.Per())
		}
		sheet := StickerSheet{Format: f, Date: sampleDay}
		if _, err := drawStickers(nil, sampleStickers()[:1], sheet); err != nil {
			t.Errorf("%s does not hold a swatch's code: %v", f.Key, err)
		}
		holdStickers(t, sampleStickers(), sheet)
		holdStickers(t, extremeStickers(), sheet)
	}
}

type complainer interface {
	Helper()
	Errorf(string, ...any)
	Fatal(...any)
}

// holdStickers holds a sheet to what every sheet must keep: text and codes inside their
// own label, and modules that are read.
func holdStickers(t complainer, stickers []Sticker, sheet StickerSheet) {
	t.Helper()
	c, err := drawStickers(nil, stickers, sheet)
	if p := studio.ProblemIn(err); p != nil && p.Field == "format" {
		return // it said that the code is too fine
	}
	if err != nil {
		t.Fatal(err)
	}
	var labels []box
	for n := range sheet.Format.Per() {
		labels = append(labels, sheet.Format.at(n, sheet.RightMM, sheet.DownMM))
	}
	within := func(b box) bool {
		for _, l := range labels {
			if b.x >= l.x-1e-6 && b.y >= l.y-1e-6 && b.x+b.w <= l.x+l.w+1e-6 && b.y+b.h <= l.y+l.h+1e-6 {
				return true
			}
		}
		return false
	}
	for _, cell := range c.cells {
		if !within(cell.used) {
			t.Errorf("%s: %q stands at %+v, outside every label", sheet.Format.Name, cell.text, cell.used)
		}
	}
	for _, x := range c.codes {
		if !within(x.at) {
			t.Errorf("%s: a code stands at %+v, outside every label", sheet.Format.Name, x.at)
		}
		if module := x.at.w / float64(len(x.code)+2*quiet); module < leastModule {
			t.Errorf("%s: a module is %.2f mm", sheet.Format.Name, module)
		}
		for _, cell := range c.cells {
			if u, q := cell.used, x.at; cell.page == x.page && u.x < q.x+q.w-1e-6 && q.x < u.x+u.w-1e-6 && u.y < q.y+q.h-1e-6 && q.y < u.y+u.h-1e-6 {
				t.Errorf("%s: %q lies on a code", sheet.Format.Name, cell.text)
			}
		}
	}
}

// No label overlaps another, none leaves the sheet, and what stands on it stays within.
func TestAnySheetKeepsItsLabelsApart(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		mm := func(name string, from, to float64) float64 { return rapid.Float64Range(from, to).Draw(rt, name) }
		f := SheetFormat{Name: "own", Paper: rapid.SampledFrom(Papers).Draw(rt, "paper"), W: mm("w", 17, 110), H: mm("h", 7, 110), Left: mm("left", 0, 30), Top: mm("top", 0, 30)}
		f.PitchX, f.PitchY = f.W+mm("gapx", -0.5, 8), f.H+mm("gapy", -0.5, 8)
		f.Columns = rapid.IntRange(1, max(1, int((200-f.Left)/f.PitchX))).Draw(rt, "columns") // most fit
		f.Rows = rapid.IntRange(1, max(1, int((280-f.Top)/f.PitchY))).Draw(rt, "rows")
		s := StickerSheet{Format: f, Date: sampleDay, Start: rapid.IntRange(0, 2).Draw(rt, "start"), RightMM: mm("right", -4, 4), DownMM: mm("down", -4, 4)}
		pw, ph, err := s.check()
		if err != nil {
			if studio.ProblemIn(err) == nil {
				rt.Fatal(err)
			}
			return
		}
		for a := range f.Per() {
			p := f.at(a, s.RightMM, s.DownMM)
			if p.x < -0.5001 || p.y < -0.5001 || p.x+p.w > pw+0.5001 || p.y+p.h > ph+0.5001 {
				rt.Fatalf("label %d leaves the sheet: %+v", a+1, p)
			}
			for _, b := range []int{a + 1, a + f.Columns} {
				if b >= f.Per() {
					continue
				}
				q := f.at(b, s.RightMM, s.DownMM)
				if p.x < q.x+q.w-1e-6 && q.x < p.x+p.w-1e-6 && p.y < q.y+q.h-1e-6 && q.y < p.y+p.h-1e-6 {
					rt.Fatalf("label %d lies on label %d: %+v, %+v", a+1, b+1, p, q)
				}
			}
		}
		x := Sticker{Title: anyText(rt, "title") + "1", Word: rapid.SampledFrom([]string{"", "front", "back"}).Draw(rt, "word"), Lines: []string{anyText(rt, "line"), anyText(rt, "more"), "last"}, Invented: rapid.Bool().Draw(rt, "invented")}
		if rapid.Bool().Draw(rt, "coded") {
			x.Code = studio.Code(rapid.Int64Range(1, maxOnLabel).Draw(rt, "number"), studio.Back)
		}
		holdStickers(rt, []Sticker{x}, s)
	})
}

func TestASheetBegunBeforeIsUsedUp(t *testing.T) {
	s := sampleStickerSheet(A4)
	s.Start, s.RightMM, s.DownMM = 20, 0, 0
	c, err := drawStickers(nil, sampleStickers()[:4], s)
	if err != nil {
		t.Fatal(err)
	}
	var places []string
	for _, x := range c.codes {
		for n := range s.Format.Per() {
			if at := s.Format.at(n, 0, 0); x.at.x >= at.x && x.at.x < at.x+at.w && x.at.y >= at.y && x.at.y < at.y+at.h {
				places = append(places, fmt.Sprintf("%d:%d", x.page, n+1))
			}
		}
	}
	if got := strings.Join(places, " "); got != "1:20 1:21 2:1 2:2" {
		t.Errorf("the labels stand at %s", got)
	}
}

func TestStickersThatCannotBeAreRefused(t *testing.T) {
	good := sampleStickerSheet(A4)
	with := func(change func(*StickerSheet)) StickerSheet { s := good; change(&s); return s }
	one := sampleStickers()[:1]
	for name, run := range map[string]func(*bytes.Buffer) error{
		"nothing": func(b *bytes.Buffer) error { return Stickers(b, nil, good) },
		"no day": func(b *bytes.Buffer) error {
			return Stickers(b, one, with(func(s *StickerSheet) { s.Date = StickerSheet{}.Date }))
		},
		"start off the sheet": func(b *bytes.Buffer) error {
			return Stickers(b, one, with(func(s *StickerSheet) { s.Start = 22 }))
		},
		"moved off the sheet": func(b *bytes.Buffer) error {
			return Stickers(b, one, with(func(s *StickerSheet) { s.RightMM = -9 }))
		},
		"overlapping": func(b *bytes.Buffer) error {
			return Stickers(b, one, with(func(s *StickerSheet) { s.Format.PitchX = 60 }))
		},
		"not a number": func(b *bytes.Buffer) error {
			return StickerTest(b, with(func(s *StickerSheet) { s.Format.W = math.NaN() }))
		},
		"tiny": func(b *bytes.Buffer) error { return StickerTest(b, with(func(s *StickerSheet) { s.Format.H = 4 })) },
		"a label without a title": func(b *bytes.Buffer) error {
			return Stickers(b, []Sticker{{Code: "S0001F0"}}, good)
		},
	} {
		var b bytes.Buffer
		if err := run(&b); studio.ProblemIn(err) == nil || b.Len() > 0 {
			t.Errorf("%s: %v, and %d bytes", name, err, b.Len())
		}
	}
}
