package print

import (
	"bytes"
	"errors"
	"flag"
	"regexp"
	"sort"
	"strings"
	"testing"
	"time"

	"aerugo/internal/fonts"
	"aerugo/internal/studio"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden are the samples kept in testdata, on both papers.
func golden(t testing.TB) map[string]func() (*canvas, error) {
	out := map[string]func() (*canvas, error){}
	for _, s := range sheets {
		for _, p := range Papers {
			out[s.on(p)] = func() (*canvas, error) { return s.draw(t, nil, p) }
		}
	}
	return out
}

// samples are the golden ones and the extremes.
func samples(t testing.TB) map[string]func() (*canvas, error) {
	out := golden(t)
	add := func(name string, draw func() (*canvas, error)) { out[name] = draw }
	add("full sheets of labels", func() (*canvas, error) {
		return drawLabels(nil, sampleLabels(45), LabelSheet{Date: sampleDay, Paper: Letter})
	})
	add("extreme labels", func() (*canvas, error) {
		return drawLabels(nil, extremeLabels(), LabelSheet{Date: sampleDay, Studio: "É", Paper: Letter})
	})
	add("extreme labels, last place", func() (*canvas, error) {
		return drawLabels(nil, extremeLabels(), LabelSheet{Date: sampleDay, Start: LabelsPerSheet(A4)})
	})
	add("a card of one step", func() (*canvas, error) { return drawCard(nil, bareCard()) })
	for _, paper := range Papers {
		for i, m := range []Mix{sampleMix(t), extremeMix(t)} {
			m.Paper = paper
			add([]string{"mix card on ", "extreme mix card on "}[i]+string(paper), func() (*canvas, error) { return drawMix(nil, m) })
		}
		add("extreme bottle labels on "+string(paper), func() (*canvas, error) {
			return drawBottles(nil, append(extremeBottles(), sampleBottles()...), BottleSheet{Date: sampleDay, Paper: paper, Start: 3})
		})
		q, list := extremeQuote(), extremeShopping()
		q.Paper, list.Paper = paper, paper
		add("extreme quote on "+string(paper), func() (*canvas, error) { return drawQuote(nil, q) })
		add("extreme shopping list on "+string(paper), func() (*canvas, error) { return drawShopping(nil, list) })
		for _, n := range []int{1, 12, 20, 25, 60} {
			for _, notes := range []bool{false, true} {
				c := longCard(t, n, notes)
				c.Paper = paper
				add(string(paper)+" card "+c.Name+map[bool]string{true: " with notes"}[notes], func() (*canvas, error) { return drawCard(nil, c) })
			}
		}
		c := extremeCard(t)
		c.Paper = paper
		add("extreme card on "+string(paper), func() (*canvas, error) { return drawCard(nil, c) })
		s := sampleSheet(5)
		s.Paper = paper
		add("bench sheet on "+string(paper), func() (*canvas, error) { return drawBench(nil, s) })
		for i, day := range []Countdown{sampleCountdown(), extremeCountdown()} {
			day.Paper = paper
			add([]string{"countdown on ", "extreme countdown on "}[i]+string(paper), func() (*canvas, error) { return drawCountdown(nil, day) })
		}
		for i, care := range []Care{sampleCare(t), extremeCare(t)} {
			care.Paper = paper
			add([]string{"care sheet on ", "extreme care sheet on "}[i]+string(paper), func() (*canvas, error) { return drawCare(nil, care) })
		}
		x := extremeSheet(t)
		x.Paper = paper
		add("extreme bench sheet on "+string(paper), func() (*canvas, error) { return drawBench(nil, x) })
	}
	return out
}

func written(t testing.TB, c *canvas, err error) []byte {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	var buf bytes.Buffer
	if err := c.write(&buf, "sample"); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func pagesOf(t testing.TB, c *canvas, err error) []readPage {
	t.Helper()
	return readPDF(t, written(t, c, err))
}

// Every line is in its cell, every cell on its page, and no line lies on another.
func TestNoTextLeavesItsCellOrItsPage(t *testing.T) {
	for name, draw := range samples(t) {
		t.Run(name, func(t *testing.T) {
			c, err := draw()
			pages := pagesOf(t, c, err)
			if len(pages) != c.page || len(c.cells) == 0 {
				t.Fatalf("%d pages in the file, %d drawn, %d cells", len(pages), c.page, len(c.cells))
			}
			const hair = 1e-3
			for _, cell := range c.cells {
				r, u := cell.room, cell.used
				if u.x < r.x-hair || u.x+u.w > r.x+r.w+hair {
					t.Errorf("page %d: %q is %.2f mm long in a cell of %.2f", cell.page, cell.text, u.w, r.w)
				}
				if r.x < 0 || r.y < 0 || r.x+r.w > c.w+hair || r.y+r.h > c.h+hair {
					t.Errorf("page %d: the cell of %q leaves the page", cell.page, cell.text)
				}
			}
			for i, p := range pages {
				for _, fault := range p.faults() {
					t.Errorf("page %d: %s", i+1, fault)
				}
			}
		})
	}
}

// The reader must be able to find what it looks for.
func TestReaderSeesTextThatLeavesOrOverlaps(t *testing.T) {
	c := newCanvas(nil, 100, 100, document{date: sampleDay})
	c.newPage()
	c.pdf.SetFont("body", "", 12)
	c.pdf.Text(20, 50, "one line")
	c.pdf.Text(25, 51, "on another")
	c.pdf.Text(85, 20, "over the edge")
	faults := pagesOf(t, c, nil)[0].faults()
	if len(faults) != 2 || !strings.Contains(faults[0], "lies on") || !strings.Contains(faults[1], "leaves the page") {
		t.Errorf("faults are %q", faults)
	}
}

// sorted returns the objects in the order of their numbers, pictures by their size only.
func sorted(objs map[int]string) []string {
	var ns []int
	for n := range objs {
		ns = append(ns, n)
	}
	sort.Ints(ns)
	var out []string
	for _, n := range ns {
		o := imageName.ReplaceAllString(objs[n], "/I ")
		if head, _, ok := strings.Cut(o, "stream\n"); ok && strings.Contains(head, "/DCTDecode") {
			o = head
		}
		out = append(out, o)
	}
	return out
}

// imageName is how a page calls a picture: by a digest of its bytes.
var imageName = regexp.MustCompile(`/I[0-9a-f]{40} `)

func TestSameInputMakesTheSameFile(t *testing.T) {
	for name, draw := range golden(t) {
		c, err := draw()
		first := written(t, c, err)
		for range 3 {
			c, err := draw()
			if !bytes.Equal(first, written(t, c, err)) {
				t.Errorf("%s comes out differently when it is made again", name)
			}
		}
	}
}

func TestFontsAreLeftAsTheyAre(t *testing.T) {
	regular, bold := bytes.Clone(fonts.Regular), bytes.Clone(fonts.Bold)
	c, err := drawCard(nil, sampleCard(t))
	written(t, c, err)
	if !bytes.Equal(regular, fonts.Regular) || !bytes.Equal(bold, fonts.Bold) {
		t.Error("printing changed the embedded fonts")
	}
}

func TestPaperHasItsStandardSize(t *testing.T) {
	// ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: size A is 8.5 x 11 in.
	for paper, want := range map[Paper][2]float64{A4: {210, 297}, Letter: {215.9, 279.4}, "": {210, 297}} {
		card := bareCard()
		card.Paper = paper
		c, err := drawCard(nil, card)
		if p := pagesOf(t, c, err)[0]; abs(p.w-want[0]) > 0.01 || abs(p.h-want[1]) > 0.01 {
			t.Errorf("%q is %.2f x %.2f mm, want %v", paper, p.w, p.h, want)
		}
	}
}

func abs(v float64) float64 { return max(v, -v) }

func TestNothingIsWrittenOnBadInput(t *testing.T) {
	card, sheet, labels := sampleCard(t), sampleSheet(2), sampleLabels(2)
	with := func(change func(*Card)) Card { c := card; change(&c); return c }
	for name, run := range map[string]func(*bytes.Buffer) error{
		"no labels":           func(b *bytes.Buffer) error { return Labels(b, nil, LabelSheet{Date: sampleDay}) },
		"start below the top": func(b *bytes.Buffer) error { return Labels(b, labels, LabelSheet{Date: sampleDay, Start: -1}) },
		"start off the sheet": func(b *bytes.Buffer) error {
			return Labels(b, labels, LabelSheet{Date: sampleDay, Start: LabelsPerSheet(A4) + 1})
		},
		"label without date": func(b *bytes.Buffer) error { return Labels(b, labels, LabelSheet{}) },
		"label number 0": func(b *bytes.Buffer) error {
			return Labels(b, []Label{{Face: studio.Front}}, LabelSheet{Date: sampleDay})
		},
		"label number too long": func(b *bytes.Buffer) error {
			return Labels(b, []Label{{Number: maxOnLabel + 1, Face: studio.Front}}, LabelSheet{Date: sampleDay})
		},
		"label without face": func(b *bytes.Buffer) error { return Labels(b, []Label{{Number: 3}}, LabelSheet{Date: sampleDay}) },
		"label on no paper": func(b *bytes.Buffer) error {
			return Labels(b, labels, LabelSheet{Date: sampleDay, Paper: "A5"})
		},
		"card without date":  func(b *bytes.Buffer) error { return RecipeCard(b, with(func(c *Card) { c.Date = time.Time{} })) },
		"card without name":  func(b *bytes.Buffer) error { return RecipeCard(b, with(func(c *Card) { c.Name = " " })) },
		"card without steps": func(b *bytes.Buffer) error { return RecipeCard(b, with(func(c *Card) { c.Steps = nil })) },
		"card of three photos": func(b *bytes.Buffer) error {
			return RecipeCard(b, with(func(c *Card) { c.Faces = make([]CardFace, 3) }))
		},
		"card on no paper": func(b *bytes.Buffer) error { return RecipeCard(b, with(func(c *Card) { c.Paper = "a4" })) },
		"card with a step that can't be": func(b *bytes.Buffer) error {
			return RecipeCard(b, with(func(c *Card) { c.Steps = []CardStep{{Step: studio.Step{Kind: "boil"}}} }))
		},
		"sheet without rows": func(b *bytes.Buffer) error { s := sheet; s.Run.Rows = nil; return BenchSheet(b, s) },
		"sheet without date": func(b *bytes.Buffer) error { s := sheet; s.Date = time.Time{}; return BenchSheet(b, s) },
		"sheet on no paper":  func(b *bytes.Buffer) error { s := sheet; s.Paper = "legal"; return BenchSheet(b, s) },
	} {
		var b bytes.Buffer
		err := run(&b)
		if studio.ProblemIn(err) == nil {
			t.Errorf("%s: error is %v, want a problem for the person", name, err)
		}
		if b.Len() > 0 {
			t.Errorf("%s: %d bytes were written", name, b.Len())
		}
	}
}

// A full disk is the caller's to tell; it must not be lost.
func TestFailingWriterIsReported(t *testing.T) {
	full := errors.New("disk full")
	for name, err := range map[string]error{
		"labels": Labels(failing{full}, sampleLabels(1), LabelSheet{Date: sampleDay}),
		"card":   RecipeCard(failing{full}, sampleCard(t)),
		"sheet":  BenchSheet(failing{full}, sampleSheet(1)),
	} {
		if !errors.Is(err, full) || !strings.HasPrefix(err.Error(), "write ") {
			t.Errorf("%s: error is %v", name, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func BenchmarkRecipeCard(b *testing.B) {
	card := longCard(b, 20, true)
	for b.Loop() {
		var buf bytes.Buffer
		if err := RecipeCard(&buf, card); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLabels(b *testing.B) {
	labels := sampleLabels(20)
	for b.Loop() {
		var buf bytes.Buffer
		if err := Labels(&buf, labels, LabelSheet{Date: sampleDay}); err != nil {
			b.Fatal(err)
		}
	}
}
