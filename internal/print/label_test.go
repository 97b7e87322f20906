package print

import (
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"
	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// picture paints what is filled in a part of the page at dots per mm, as a
// printer would.
func picture(p readPage, at box, dots float64) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, int(at.w*dots), int(at.h*dots)))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, f := range p.fills {
		x0, y0 := int(math.Round((f.x-at.x)*dots)), int(math.Round((f.y-at.y)*dots))
		x1, y1 := int(math.Round((f.x+f.w-at.x)*dots)), int(math.Round((f.y+f.h-at.y)*dots))
		for y := max(y0, 0); y < min(y1, img.Rect.Dy()); y++ {
			for x := max(x0, 0); x < min(x1, img.Rect.Dx()); x++ {
				img.SetGray(x, y, color.Gray{uint8(f.r * 255)})
			}
		}
	}
	return img
}

// read decodes the Data Matrix in img with a reader that is not ours. alone
// says that nothing else is in img: the reader need not look for the code, at
// which it fails once in a thousand times.
func read(t testing.TB, img image.Image, alone bool) string {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	var hints map[gozxing.DecodeHintType]any
	if alone {
		hints = map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_PURE_BARCODE: true}
	}
	got, err := datamatrix.NewDataMatrixReader().Decode(bitmap, hints)
	if err != nil {
		return "not read: " + err.Error()
	}
	return got.GetText()
}

// cellOf returns where the n-th place (from 0) of a sheet is, worked out from the
// page alone: the grid stands in its middle.
func cellOf(p readPage, n, rows int) box {
	left, top := (p.w-4*46)/2, (p.h-float64(rows)*27)/2
	return box{left + float64(n%4)*46, top + float64(n/4)*27, 46, 27}
}

func TestLabelsReadBack(t *testing.T) {
	for _, paper := range Papers {
		rows := map[Paper]int{A4: 10, Letter: 9}[paper]
		labels := append(sampleLabels(15), extremeLabels()...)
		const start = 7
		c, err := drawLabels(nil, labels, LabelSheet{Paper: paper, Date: sampleDay, Start: start})
		pages := pagesOf(t, c, err)
		for i, l := range labels {
			place := start - 1 + i
			at := cellOf(pages[place/(4*rows)], place%(4*rows), rows)
			p := pages[place/(4*rows)]
			// the right of the label, where no black bar is
			code := read(t, picture(p, box{at.x + 29, at.y + 0.2, 16.8, 15.4}, 12), false)
			if want := studio.Code(l.Number, l.Face); code != want {
				t.Fatalf("%s, label %d: the code says %q, want %q", paper, i, code, want)
			}
			number, face, err := studio.ReadCode(code)
			if err != nil || number != l.Number || face != l.Face {
				t.Errorf("%s, label %d: the code is of %d %s, %v", paper, i, number, face, err)
			}
			var said []string
			for _, r := range p.texts {
				if r.x0 >= at.x && r.x1 <= at.x+at.w && r.top >= at.y && r.end <= at.y+at.h {
					said = append(said, r.text)
				}
			}
			all := strings.Join(said, "|")
			for _, want := range []string{strconv.FormatInt(l.Number, 10), string(l.Face), code} {
				if !strings.Contains("|"+all+"|", "|"+want+"|") {
					t.Errorf("%s, label %d says %q, not %q", paper, i, all, want)
				}
			}
			if l.Invented != strings.Contains(all, invented) {
				t.Errorf("%s, label %d: invented is %v, it says %q", paper, i, l.Invented, all)
			}
		}
	}
}

func TestAnyNumberReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := Label{Number: rapid.Int64Range(1, maxOnLabel).Draw(rt, "number"), Face: rapid.SampledFrom(studio.BothFaces).Draw(rt, "face")}
		m, err := codeOf(studio.Code(l.Number, l.Face))
		if err != nil {
			rt.Fatal(err)
		}
		const dots = 6
		img := image.NewGray(image.Rect(0, 0, (len(m)+2*quiet)*dots, (len(m)+2*quiet)*dots))
		for i := range img.Pix {
			x, y := i%img.Stride/dots-quiet, i/img.Stride/dots-quiet
			img.Pix[i] = 255
			if y >= 0 && y < len(m) && x >= 0 && x < len(m) && m[y][x] {
				img.Pix[i] = 0
			}
		}
		if got := read(t, img, true); got != studio.Code(l.Number, l.Face) {
			rt.Fatalf("read %q, want %q", got, studio.Code(l.Number, l.Face))
		}
	})
}

// ISO/IEC 16022:2006, 5.3: the left and lower sides are solid, the upper and
// right ones alternate; table 7: 3, 5 and 8 data codewords fill 10, 12 and 14
// modules. From memory.
func TestCodeIsADataMatrixOfTheRightSize(t *testing.T) {
	for number, want := range map[int64]int{1: 12, 42: 12, 9999: 12, 123456: 14} {
		m, err := codeOf(studio.Code(number, studio.Back))
		if err != nil {
			t.Fatal(err)
		}
		n := len(m)
		if n != want {
			t.Errorf("the code of %d has %d modules, want %d", number, n, want)
		}
		for i := range n {
			if !m[i][0] || !m[n-1][i] {
				t.Errorf("the code of %d is broken on its solid sides", number)
			}
			if m[0][i] != (i%2 == 0) || m[i][n-1] != (i%2 == 1) {
				t.Errorf("the code of %d does not alternate at module %d", number, i)
			}
		}
	}
}

// ISO/IEC 16022 asks for a quiet zone of one module; nothing else may be in it.
func TestCodeHasAQuietZone(t *testing.T) {
	c, err := drawLabels(nil, extremeLabels(), LabelSheet{Date: sampleDay})
	p := pagesOf(t, c, err)[0]
	for n, l := range extremeLabels() {
		at := cellOf(p, n, 10)
		m, err := codeOf(studio.Code(l.Number, l.Face))
		if err != nil {
			t.Fatal(err)
		}
		var black []box
		for _, f := range p.fills {
			if f.r == 0 && f.x > at.x+30 && f.x < at.x+at.w && f.y > at.y && f.y < at.y+at.h {
				black = append(black, f.box)
			}
		}
		left, top, right, bottom := math.Inf(1), math.Inf(1), 0.0, 0.0
		for _, b := range black {
			left, top, right, bottom = min(left, b.x), min(top, b.y), max(right, b.x+b.w), max(bottom, b.y+b.h)
		}
		module := (right - left) / float64(len(m))
		if module < 0.5 {
			t.Errorf("label %d: a module is %.2f mm, too small for a phone", n, module)
		}
		for _, r := range p.texts {
			if r.x1 > left-module && r.x0 < right+module && r.end > top-module && r.top < bottom+module && r.top < at.y+at.h && r.top > at.y {
				t.Errorf("label %d: %q stands in the quiet zone", n, r.text)
			}
		}
		if at.x+at.w-right < module || top-at.y < module {
			t.Errorf("label %d: a cutting line stands in the quiet zone", n)
		}
	}
}

func TestNumberIsLargeAndWhole(t *testing.T) {
	c, err := drawLabels(nil, extremeLabels(), LabelSheet{Date: sampleDay})
	p := pagesOf(t, c, err)[0]
	for _, l := range extremeLabels() {
		found := false
		for _, r := range p.texts {
			found = found || (r.text == strconv.FormatInt(l.Number, 10) && r.size >= 14 && r.bold)
		}
		if !found {
			t.Errorf("the number %d does not stand whole in 14 points or more", l.Number)
		}
	}
}

func TestAnyLabelKeepsToItsCell(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		l := Label{
			Number: rapid.Int64Range(1, maxOnLabel).Draw(rt, "number"), Face: rapid.SampledFrom(studio.BothFaces).Draw(rt, "face"),
			SetName: anyText(rt, "set"), Metal: anyText(rt, "metal"), Settings: anyText(rt, "settings"), Invented: rapid.Bool().Draw(rt, "invented"),
		}
		start := rapid.IntRange(1, 40).Draw(rt, "start")
		c, err := drawLabels(nil, []Label{l}, LabelSheet{Date: sampleDay, Start: start})
		if err != nil {
			rt.Fatal(err)
		}
		at := cellOf(readPage{w: c.w, h: c.h}, start-1, 10)
		for _, cell := range c.cells {
			if u := cell.used; u.x < at.x || u.y < at.y || u.x+u.w > at.x+at.w || u.y+u.h > at.y+at.h {
				rt.Fatalf("%q leaves its label", cell.text)
			}
			for _, other := range c.cells {
				a, b := cell.used, other.used
				if other != cell && a.x < b.x+b.w && b.x < a.x+a.w && a.y+0.2 < b.y+b.h && b.y+0.2 < a.y+a.h {
					rt.Fatalf("%q lies on %q", cell.text, other.text)
				}
			}
		}
	})
}

func TestSheetTurnsOverWhenItIsFull(t *testing.T) {
	for _, paper := range Papers {
		per := LabelsPerSheet(paper)
		for _, start := range []int{0, 1, 2, per} {
			labels := sampleLabels(per / 2) // just a sheet
			c, err := drawLabels(nil, labels, LabelSheet{Paper: paper, Date: sampleDay, Start: start})
			want := 1
			if start > 1 {
				want = 2
			}
			if got := len(pagesOf(t, c, err)); got != want {
				t.Errorf("%s from place %d: %d sheets, want %d", paper, start, got, want)
			}
		}
	}
}
