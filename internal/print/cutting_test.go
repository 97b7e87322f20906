package print

import (
	"bytes"
	"strings"
	"testing"

	"aerugo/internal/flow/batch"
)

func sampleCutting(t testing.TB, b batch.Blank) CuttingList {
	t.Helper()
	p, err := batch.Cut(b)
	if err != nil {
		t.Fatal(err)
	}
	return CuttingList{Date: sampleDay, Studio: "Studio", Name: "Thirty wall lamps", Metal: "Copper C11000", Blank: b, Plan: p, Invented: true}
}

// Every piece is drawn once on the pages, at its number, and every line of text lies in
// its room on the page.
func TestCuttingListDrawsEveryPiece(t *testing.T) {
	for _, paper := range Papers {
		for _, b := range []batch.Blank{{DiscMM: 181, Pieces: 33, SheetWMM: 1000, SheetHMM: 600, KerfMM: 2, EdgeMM: 5},
			{WidthMM: 60, HeightMM: 40, Pieces: 200, SheetWMM: 2000, SheetHMM: 1000, Turn: true}, {WidthMM: 300, HeightMM: 100, Pieces: 3, SheetWMM: 320, SheetHMM: 900}} {
			l := sampleCutting(t, b)
			l.Paper = paper
			c, err := drawCutting(nil, l)
			if err != nil {
				t.Fatal(err)
			}
			ways := 1
			if last := len(l.Plan.Sheets) - 1; last > 0 && len(l.Plan.Sheets[last]) != len(l.Plan.Sheets[0]) {
				ways = 2
			}
			if c.page != ways {
				t.Errorf("%+v: %d pages for %d ways of cutting", b, c.page, ways)
			}
			for _, x := range c.cells {
				if x.used.x < 0 || x.used.y < 0 || x.used.x+x.used.w > c.w || x.used.y+x.used.h > c.h || x.used.w > x.room.w+0.01 {
					t.Errorf("%q leaves its room %+v: %+v", x.text, x.room, x.used)
				}
			}
			pages := pagesOf(t, c, nil)
			if len(pages) != ways {
				t.Errorf("%d pages in the file", len(pages))
			}
		}
	}
}

func TestCuttingListRefusesNothing(t *testing.T) {
	var out bytes.Buffer
	if err := Cutting(&out, CuttingList{Date: sampleDay, Name: "None"}); err == nil || !strings.Contains(err.Error(), "no sheet to cut for None") || out.Len() > 0 {
		t.Errorf("%v, %d bytes", err, out.Len())
	}
}

// What is cut from the shelf has a page for each taking, with where it lies and what is
// kept of it.
func TestCuttingListFromTheShelf(t *testing.T) {
	for _, paper := range Papers {
		l := CuttingList{Paper: paper, Date: sampleDay, Name: "Lamps", Metal: "Copper", Blank: batch.Blank{WidthMM: 100, HeightMM: 100, Pieces: 22}, Places: []string{"lot 3", ""}}
		var err error
		if l.Stock, err = batch.CutFrom(l.Blank, []batch.Sheet{{ID: 1, WMM: 400, HMM: 300, Count: 9}, {ID: 2, WMM: 250, HMM: 100, Count: 2, Offcut: true}}); err != nil {
			t.Fatal(err)
		}
		c, err := drawCutting(nil, l)
		if err != nil {
			t.Fatal(err)
		}
		if len(pagesOf(t, c, nil)) != len(l.Stock.Takings) || len(l.Stock.Takings) != 3 {
			t.Errorf("%d pages for %d takings", c.page, len(l.Stock.Takings))
		}
		var all strings.Builder
		for _, x := range c.cells {
			all.WriteString(x.text + " ")
			if x.used.x < 0 || x.used.y < 0 || x.used.x+x.used.w > c.w || x.used.y+x.used.h > c.h || x.used.w > x.room.w+0.01 {
				t.Errorf("%q leaves its room %+v: %+v", x.text, x.room, x.used)
			}
		}
		for _, want := range []string{"2 × offcut of 250 × 100 mm Copper from the shelf: 2 pieces from each, 100 × 100 mm.", "On the shelf: lot 3.", "each: 50 × 100 mm.", "1 × sheet of 400 × 300 mm Copper from the shelf: 6 pieces from each", "each: 400 × 100 mm."} {
			if !strings.Contains(strings.Join(strings.Fields(all.String()), " "), want) {
				t.Errorf("it does not say %q: %s", want, all.String())
			}
		}
	}
}
