package print

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/mat"
	"aerugo/internal/language"
)

// A sheet is something this package prints, with its sample. The tests below hold for
// every one of them, on both papers.
//
// To add one: give it a line in sheets, run
//
//	go test ./internal/print -run TestSamplesAreAsKept -update
//
// and look at the two files it wrote in testdata. One with codes on it needs their
// picture by another program as well, 150 dots to the inch, grey:
//
//	pdftoppm -r 150 -gray -png -singlefile NAME-a4.pdf NAME-a4   (and -letter)
type sheet struct {
	function string // that writes it, as other packages call it
	file     string // in testdata, before -a4.pdf and -letter.pdf
	draw     func(t testing.TB, in *language.Language, p Paper) (*canvas, error)
	tints    func(t testing.TB) int // how often a colour that is no grey is set; nil: never
}

var sheets = []sheet{
	{"Labels", "labels", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawLabels(in, sampleLabels(6), LabelSheet{Date: sampleDay, Start: 3, Paper: p})
	}, nil},
	{"RecipeCard", "recipe-card", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		card := sampleCard(t)
		card.Paper = p
		return drawCard(in, card)
	}, func(testing.TB) int { return 2 }}, // a chip of each face's colour, whose name stands beside it
	{"BenchSheet", "bench-sheet", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		s := sampleSheet(3)
		s.Paper = p
		return drawBench(in, s)
	}, nil},
	{"MixCard", "mix-card", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		m := sampleMix(t)
		m.Paper = p
		return drawMix(in, m)
	}, nil},
	{"CareSheet", "care-sheet", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		s := sampleCare(t)
		s.Paper = p
		return drawCare(in, s)
	}, nil},
	{"Mat", "mat-one", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawMatOn(in, p, mat.OneSwatch)
	}, nil},
	{"Mat", "mat-two", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawMatOn(in, p, mat.TwoSwatches)
	}, nil},
	{"CountdownSheet", "countdown", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		d := sampleCountdown()
		d.Paper = p
		return drawCountdown(in, d)
	}, nil},
	{"BottleLabels", "bottle-labels", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawBottles(in, sampleBottles(), BottleSheet{Date: sampleDay, Paper: p})
	}, func(testing.TB) int { return signsOn(sampleBottles()) }}, // the red frames that hazard signs must have
	{"QuoteSheet", "quote", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		q := sampleQuote()
		q.Paper = p
		return drawQuote(in, q)
	}, nil},
	{"ShoppingList", "shopping-list", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		s := sampleShopping()
		s.Paper = p
		return drawShopping(in, s)
	}, nil},
	{"Cutting", "cutting-list", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		l := sampleCutting(t, batch.Blank{DiscMM: 181, Pieces: 33, SheetWMM: 1000, SheetHMM: 600, KerfMM: 2, EdgeMM: 5})
		l.Paper = p
		return drawCutting(in, l)
	}, nil},
	{"HandoutSheet", "handout", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		h := sampleHandout(t)
		h.Paper = p
		return drawHandout(in, h)
	}, func(t testing.TB) int { return len(sampleHandout(t).Signs) + 3 }}, // red frames, and three swatches by their colour, whose words stand below
	{"HandoutSheet", "handout-large", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		h := sampleHandout(t)
		h.Paper, h.Large = p, true
		return drawHandout(in, h)
	}, func(t testing.TB) int { return len(sampleHandout(t).Signs) + 3 }},
	{"TeacherSheet", "teacher", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		s := sampleTeacher()
		s.Paper = p
		return drawTeacher(in, s)
	}, nil},
	{"RiskDraft", "risk", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		r := sampleRisk()
		r.Paper = p
		return drawRisk(in, r)
	}, nil},
	{"KitList", "kit", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		k := sampleKit()
		k.Paper = p
		return drawKit(in, k)
	}, nil},
	{"StudentCard", "student-card", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		s := sampleStudent(t)
		s.Paper = p
		return drawStudent(in, s)
	}, nil},
	{"Stickers", "stickers", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawStickers(in, sampleStickers(), sampleStickerSheet(p))
	}, nil},
	{"StickerTest", "sticker-test", func(_ testing.TB, in *language.Language, p Paper) (*canvas, error) {
		return drawStickerTest(in, sampleStickerSheet(p))
	}, nil},
	{"SwatchBoard", "board", func(t testing.TB, in *language.Language, p Paper) (*canvas, error) {
		b := sampleBoard(t)
		b.Paper = p
		return drawBoard(in, b)
	}, func(t testing.TB) int { return 9 }}, // a patch of each measured face, whose name stands beside it
}

func drawMatOn(in *language.Language, p Paper, kind mat.Kind) (*canvas, error) {
	l, ok := mat.LayoutOf(string(p), kind)
	if !ok {
		return nil, fmt.Errorf("no mat on %s", p)
	}
	return drawMat(in, l, sampleDay)
}

// on names the sheet's sample on a paper, as it is kept in testdata.
func (s sheet) on(p Paper) string { return s.file + "-" + strings.ToLower(string(p)) }

// eachSheet runs a test for every sheet on every paper.
func eachSheet(t *testing.T, test func(t *testing.T, s sheet, p Paper, c *canvas)) {
	t.Helper()
	for _, s := range sheets {
		for _, p := range Papers {
			t.Run(s.on(p), func(t *testing.T) {
				c, err := s.draw(t, nil, p)
				if err != nil {
					t.Fatal(err)
				}
				test(t, s, p, c)
			})
		}
	}
}

// Whatever the package can write has its line in the table.
func TestEverySheetIsInTheTable(t *testing.T) {
	var got, want []string
	for _, s := range sheets {
		if !slices.Contains(got, s.function) {
			got = append(got, s.function)
		}
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Recv != nil || !f.Name.IsExported() || f.Type.Params.NumFields() == 0 {
				continue
			}
			if x, ok := f.Type.Params.List[0].Type.(*ast.SelectorExpr); ok && x.Sel.Name == "Writer" {
				want = append(want, f.Name.Name)
			}
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("the package writes (-) and the table of sheets holds (+):\n%s", diff)
	}
}

func TestSamplesAreAsKept(t *testing.T) {
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) {
		got := written(t, c, nil)
		path := filepath.Join("testdata", s.on(p)+".pdf")
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Equal(got, want) {
			return
		}
		// Another release of Go may pack the same bytes otherwise, or a picture.
		if diff := cmp.Diff(sorted(objects(t, want)), sorted(objects(t, got))); diff != "" {
			t.Errorf("%s is not as kept; look at it, then run the test with -update\n%s", path, diff)
		}
	})
}

var (
	titleOf     = regexp.MustCompile(`/Title \((?s:.+?)\)\n`)
	anyMediaBox = regexp.MustCompile(`/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]`)
	unicodeRef  = regexp.MustCompile(`/ToUnicode (\d+) 0 R`)
	descendant  = regexp.MustCompile(`/DescendantFonts \[(\d+) 0 R\]`)
	describedBy = regexp.MustCompile(`/FontDescriptor (\d+) 0 R`)
	fontFile    = regexp.MustCompile(`/FontFile2 (\d+) 0 R`)
)

// ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: Letter is 8.5 x 11 in; a point is 1/72
// in (ISO 32000-1, 8.3.2.3), and the file writes hundredths of it.
func TestEverySheetHasItsPaper(t *testing.T) {
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) {
		want := map[Paper][2]float64{A4: {210 * 72 / 25.4, 297 * 72 / 25.4}, Letter: {612, 792}}[p]
		file := written(t, c, nil)
		boxes := anyMediaBox.FindAllSubmatch(file, -1)
		if len(boxes) == 0 {
			t.Fatal("no page has a size")
		}
		for _, m := range boxes {
			w, h := number(t, string(m[1])), number(t, string(m[2]))
			if math.Abs(min(w, h)-want[0]) > 0.0051 || math.Abs(max(w, h)-want[1]) > 0.0051 {
				t.Errorf("a page of %v x %v points, want %.2f x %.2f", w, h, want[0], want[1])
			}
		}
	})
}

// Every font is in the file and says which letters its shapes are (ISO 32000-1, 9.8.1,
// FontFile2, and 9.10.3, ToUnicode); language and title are set (14.9.2 and 14.3.3);
// and the text that can be marked and copied is what was set, in the order it was set in.
func TestEverySheetIsText(t *testing.T) {
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) {
		file := written(t, c, nil)
		objs := objects(t, file)
		find := func(re *regexp.Regexp, in, what string) string {
			m := re.FindStringSubmatch(in)
			if m == nil {
				t.Fatalf("no %s in %q", what, in)
			}
			return objs[int(number(t, m[1]))]
		}
		fonts := 0
		for _, o := range objs {
			if !strings.Contains(o, "/Type /Font\n") && !strings.Contains(o, "/Type /Font/") && !strings.Contains(o, "/Type /Font ") {
				continue
			}
			if strings.Contains(o, "/Subtype /CIDFontType2") {
				continue // the half of a font that its other half leads to
			}
			fonts++
			if !strings.Contains(o, "/Subtype /Type0") {
				t.Fatalf("a font that is not in the file: %q", o)
			}
			if m := find(unicodeRef, o, "map to Unicode"); !strings.Contains(m, "<0000> <FFFF> <0000>") {
				t.Errorf("letters are mapped by %q", m)
			}
			held := find(fontFile, find(describedBy, find(descendant, o, "descendant"), "descriptor"), "font file")
			if _, data, ok := strings.Cut(held, "stream\n"); !ok || len(data) < 1000 {
				t.Errorf("a font file of %d bytes", len(data))
			}
		}
		if fonts == 0 {
			t.Error("no font at all")
		}
		if !bytes.Contains(file, []byte("/Lang (en-GB)")) || !titleOf.Match(file) {
			t.Error("language or title is missing")
		}
		var got, want []string
		for i, page := range readPDF(t, file) {
			for _, r := range page.texts {
				got = append(got, fmt.Sprint(i+1, ": ", r.text))
			}
		}
		for _, cell := range c.cells {
			want = append(want, fmt.Sprint(cell.page, ": ", cell.text))
		}
		if diff := cmp.Diff(want, got); diff != "" || len(want) == 0 {
			t.Errorf("set (-) and read (+):\n%s", diff)
		}
	})
}

// solid leaves only what is seen of a text.
func solid(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, text)
}

// What stands on the paper stands in its words too, under a heading of the first level.
func TestWordsSayWhatTheSheetSays(t *testing.T) {
	eachSheet(t, func(t *testing.T, s sheet, _ Paper, c *canvas) { holdWords(t, s, c) })
}

func holdWords(t *testing.T, s sheet, c *canvas) {
	t.Helper()
	var w Words
	if err := c.write(&w, s.file); err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	heads, rows := 0, 0
	for _, part := range w.Parts {
		if part.Level > 0 {
			heads++
		}
		all.WriteString(part.Text + "\n" + strings.Join(part.Head, "\n") + "\n")
		for _, row := range part.Rows {
			rows++
			if len(row) < 2 || len(part.Head) > 0 && len(row) != len(part.Head) {
				t.Errorf("a row of %d cells under %d heads: %q", len(row), len(part.Head), row)
			}
			all.WriteString(strings.Join(row, "\n") + "\n")
		}
	}
	text := solid(all.String())
	for _, cell := range c.cells {
		part := solid(strings.TrimSuffix(cell.text, "…"))
		if !strings.Contains(text, part) {
			t.Errorf("page %d says %q, the words don't", cell.page, cell.text)
		}
	}
	if w.Title == "" || heads == 0 {
		t.Errorf("title %q, %d headings", w.Title, heads)
	}
	if n, err := w.Write([]byte("x")); n > 0 || err == nil {
		t.Error("words took bytes")
	}
}

// In another language a sheet keeps to its cells as well, is in that language to those who
// read it aloud, and takes a page more, of many half as many more: German runs a third longer.
func TestEverySheetInGerman(t *testing.T) {
	all, err := language.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	de := all[slices.IndexFunc(all, func(l *language.Language) bool { return l.Tag == "de" })]
	english := map[string]*canvas{}
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) { english[s.on(p)] = c })
	for _, s := range sheets {
		for _, p := range Papers {
			t.Run(s.on(p), func(t *testing.T) {
				c, err := s.draw(t, de, p)
				if err != nil {
					t.Fatal(err)
				}
				same := 0
				for i, cell := range c.cells {
					if cell.used.x < cell.room.x-hair || cell.used.x+cell.used.w > cell.room.x+cell.room.w+hair {
						t.Errorf("page %d: %q leaves its cell", cell.page, cell.text)
					}
					if i < len(english[s.on(p)].cells) && cell.text == english[s.on(p)].cells[i].text && lettered.MatchString(cell.text) {
						same++
					}
				}
				if same > len(c.cells)*2/3 {
					t.Errorf("%d of %d texts are as in English", same, len(c.cells))
				}
				if was := english[s.on(p)].page; c.page > was+max(1, was/2) {
					t.Errorf("%d pages; English takes %d", c.page, was)
				}
				file := written(t, c, nil)
				if !bytes.Contains(file, []byte("/Lang (de)")) {
					t.Error("the file does not name its language")
				}
				holdWords(t, s, c)
			})
		}
	}
}

var lettered = regexp.MustCompile(`[a-z]{3}`)

// On a printer without colour everything is still told apart: text stands out from what
// is below it by 4.5 to 1 (WCAG 2.2, 1.4.3), and colours other than grey are set only
// where the table says so.
func TestNothingIsLostInGrey(t *testing.T) {
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) {
		tinted, want := 0, 0
		if s.tints != nil {
			want = s.tints(t)
		}
		for i, page := range pagesOf(t, c, nil) {
			for _, v := range page.tints {
				if v[0] != v[1] || v[1] != v[2] {
					tinted++
				}
			}
			for _, r := range page.texts {
				under := 1.0
				for _, f := range page.fills {
					if (r.x0+r.x1)/2 > f.x && (r.x0+r.x1)/2 < f.x+f.w && (r.top+r.end)/2 > f.y && (r.top+r.end)/2 < f.y+f.h {
						under = greyOf(f.r, f.g, f.b)
					}
				}
				if got := contrast(r.ink, under); got < 4.5 {
					t.Errorf("page %d: %q stands out by %.1f to 1", i+1, r.text, got)
				}
			}
		}
		if tinted != want {
			t.Errorf("%d colours are set, want %d", tinted, want)
		}
	})
}

// The red of a hazard sign's frame stands out from the paper by 3 to 1 when it is
// grey (WCAG 2.2, 1.4.11), so the sign keeps its shape.
func TestSignsKeepTheirFrameInGrey(t *testing.T) {
	c, err := drawBottles(nil, sampleBottles(), BottleSheet{Date: sampleDay})
	for _, v := range pagesOf(t, c, err)[0].tints {
		if v[0] != v[1] {
			if got := contrast(greyOf(v[0], v[1], v[2]), 1); got < 3 {
				t.Errorf("the frame %v stands out by %.1f to 1", v, got)
			}
		}
	}
}

// contrast is the ratio of WCAG 2.2 between two greys of sRGB, 0 to 1.
func contrast(a, b float64) float64 {
	light := func(v float64) float64 {
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	x, y := light(a)+0.05, light(b)+0.05
	return max(x, y) / min(x, y)
}

const codeDots = 150 / 25.4 // to the mm

// sameCode tells whether a text read from a sheet is that of the code that was drawn.
func sameCode(t testing.TB, text string, c code) bool {
	t.Helper()
	again, err := codeOf(text)
	return err == nil && cmp.Equal(again, c)
}

// Every code on every sheet is read by a reader that is not ours, at 150 dots to the
// inch: from the page as this test paints it, edges between the dots in grey as any
// program does; and from the page as Poppler 22.12's pdftoppm painted the file that is
// kept.
func TestCodesAreReadFromThePage(t *testing.T) {
	found := 0
	eachSheet(t, func(t *testing.T, s sheet, p Paper, c *canvas) {
		if len(c.codes) == 0 {
			return
		}
		pages := pagesOf(t, c, nil)
		b, err := os.ReadFile(filepath.Join("testdata", s.on(p)+".png"))
		if err != nil {
			t.Fatal(err)
		}
		printed, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if size := printed.Bounds().Size(); math.Abs(float64(size.X)-c.w*codeDots) > 1 || math.Abs(float64(size.Y)-c.h*codeDots) > 1 {
			t.Fatalf("the picture is %v, want a page of %.0f x %.0f mm at 150 dots to the inch", size, c.w, c.h)
		}
		for _, x := range c.codes {
			found++
			if text := read(t, paint(pages[x.page-1], x.at), false); !sameCode(t, text, x.code) {
				t.Errorf("page %d, %+v: painted here, the code says %q", x.page, x.at, text)
			}
			if x.page > 1 {
				continue
			}
			if text := read(t, cut(printed, x.at), false); !sameCode(t, text, x.code) {
				t.Errorf("%+v: painted by Poppler, the code says %q", x.at, text)
			}
		}
	})
	if found < 24 {
		t.Errorf("only %d codes were read", found)
	}
}

// dotsOf are the dots that a part of a page touches at 150 to the inch.
func dotsOf(at box) image.Rectangle {
	return image.Rect(int(math.Floor(at.x*codeDots)), int(math.Floor(at.y*codeDots)), int(math.Ceil((at.x+at.w)*codeDots)), int(math.Ceil((at.y+at.h)*codeDots)))
}

// cut takes a part of a printed page.
func cut(page image.Image, at box) *image.Gray {
	r := dotsOf(at)
	img := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	draw.Draw(img, img.Rect, page, r.Min, draw.Src)
	return img
}

// paint draws what is filled in a part of the page at 150 dots to the inch, each dot as
// dark as it is covered.
func paint(p readPage, at box) *image.Gray {
	area := dotsOf(at)
	x0, y0 := float64(area.Min.X), float64(area.Min.Y)
	img := image.NewGray(image.Rect(0, 0, area.Dx(), area.Dy()))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, f := range p.fills {
		l, r, t, b := f.x*codeDots-x0, (f.x+f.w)*codeDots-x0, f.y*codeDots-y0, (f.y+f.h)*codeDots-y0
		for y := max(int(t), 0); y < min(int(math.Ceil(b)), img.Rect.Dy()); y++ {
			for x := max(int(l), 0); x < min(int(math.Ceil(r)), img.Rect.Dx()); x++ {
				covered := (min(r, float64(x+1)) - max(l, float64(x))) * (min(b, float64(y+1)) - max(t, float64(y)))
				v := float64(img.GrayAt(x, y).Y)
				img.SetGray(x, y, color.Gray{Y: uint8(math.Round(v + (255*greyOf(f.r, f.g, f.b)-v)*covered))})
			}
		}
	}
	return img
}
