package print

import (
	"bytes"
	"fmt"
	"image/color"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// sampleBoard has two factors of two and three levels, one place empty, one swatch twice.
func sampleBoard(t testing.TB) Board {
	b := Board{Date: sampleDay, Studio: "Studio Verdant", Title: "How much salt, how long", Question: "What do hours buy?", Metal: "brass C26000, 0.8 mm", RowName: "salt", ColName: "fuming",
		Cautions: []string{"Patina is not for food or drink.", "Copper salts are poisonous."}, Invented: true}
	n := int64(41)
	for r, row := range []string{"light", "heavy"} {
		for k, col := range []string{"2 h", "4 h", "8 h"} {
			if r == 1 && k == 1 {
				continue
			}
			n++
			x := BoardTile{Number: n, Row: row, Column: col, Settings: row + " salt · " + col}
			for i, face := range studio.BothFaces {
				f := CardFace{Swatch: n, Face: face}
				if n != 44 || face == studio.Front {
					f.Measured = sampleMeasurement(colour.Lab{L: 20 + 9*float64(n-41), A: -8 - 4*float64(k), B: 6 - 10*float64(r)}, "dark greyish bluish green", i == 0)
					f.Measured.Coverage = &studio.Coverage{Value: 0.7, Low: 0.6, High: 0.8}
				}
				if n < 44 && i == 0 {
					f.JPEG = samplePicture(t, 200+int(n), 200, color.RGBA{60, 110, uint8(90 + 10*k), 255})
				}
				x.Faces = append(x.Faces, f)
			}
			b.Tiles = append(b.Tiles, x)
		}
	}
	return b
}

func TestBoardIsArrangedByItsFactors(t *testing.T) {
	b := sampleBoard(t)
	b.Tiles = append(b.Tiles, BoardTile{Number: 90, Row: "light", Column: "8 h"})
	c, err := drawBoard(nil, b)
	pages := pagesOf(t, c, err)
	at := map[string][2]float64{}
	for _, p := range pages {
		for _, r := range p.texts {
			if r.bold && r.size > 12 && len(r.text) == 2 {
				at[r.text] = [2]float64{r.x0, r.top}
			}
		}
	}
	same := func(a, b string, axis int) {
		if d := at[a][axis] - at[b][axis]; d > 0.01 || d < -0.01 {
			t.Errorf("%s and %s are not in line: %v, %v", a, b, at[a], at[b])
		}
	}
	same("42", "43", 1)
	same("43", "44", 1)
	same("42", "45", 0) // heavy, 2 h below light, 2 h
	same("44", "46", 0) // heavy, 8 h below light, 8 h; heavy, 4 h is empty
	same("44", "90", 0) // made twice
	if at["45"][1] <= at["42"][1] {
		t.Error("the second row is not below the first")
	}
}

func TestBoardSaysWhatItShows(t *testing.T) {
	for _, paper := range BoardPapers {
		for _, turned := range []bool{false, true} {
			b := sampleBoard(t)
			b.Paper, b.Landscape = paper, turned
			for i := range 50 {
				b.Tiles = append(b.Tiles, BoardTile{Number: int64(100 + i), Row: "heavy", Column: fmt.Sprint(i, " h"), Settings: strings.Repeat("long ", 30), Faces: []CardFace{{Face: studio.Front}}})
			}
			c, err := drawBoard(nil, b)
			pages := pagesOf(t, c, err)
			all := ""
			for i, p := range pages {
				if !strings.Contains(p.all(), "not the swatches' colours") || !strings.Contains(p.all(), "Patina is not for food") {
					t.Errorf("%s, page %d does not say its cautions", paper, i+1)
				}
				for _, fault := range p.faults() {
					t.Errorf("%s, page %d: %s", paper, i+1, fault)
				}
				all += p.all() + " "
			}
			for _, x := range b.Tiles {
				if !strings.Contains(all, fmt.Sprint(x.Number)) {
					t.Errorf("%s: swatch %d is not on the board", paper, x.Number)
				}
			}
			if len(c.codes) != len(b.Tiles) {
				t.Errorf("%s: %d codes for %d swatches", paper, len(c.codes), len(b.Tiles))
			}
			for _, want := range []string{"a* −", "± 4.3", "70 % covered", "dark greyish", "salt: light"} {
				if !strings.Contains(all, want) {
					t.Errorf("%s does not say %q", paper, want)
				}
			}
		}
	}
	// ISO 216: A3 is 297 x 420 mm; ANSI/ASME Y14.1: size B is 11 x 17 in.
	for paper, want := range map[Paper][2]float64{A3: {297, 420}, Tabloid: {279.4, 431.8}} {
		if w, h, err := boardSize(paper); err != nil || abs(w-want[0]) > 1e-9 || abs(h-want[1]) > 1e-9 {
			t.Errorf("%s is %v x %v, %v", paper, w, h, err)
		}
	}
}

func TestBoardsThatCannotBeAreRefused(t *testing.T) {
	for name, change := range map[string]func(*Board){
		"no swatch": func(b *Board) { b.Tiles = nil },
		"too many":  func(b *Board) { b.Tiles = make([]BoardTile, mostTiles+1) },
		"no title":  func(b *Board) { b.Title = " " },
		"no day":    func(b *Board) { b.Date = Board{}.Date },
		"no paper":  func(b *Board) { b.Paper = "A2" },
		"no number": func(b *Board) { b.Tiles[0].Number = 0 },
	} {
		b := sampleBoard(t)
		change(&b)
		var out bytes.Buffer
		if err := SwatchBoard(&out, b); studio.ProblemIn(err) == nil || out.Len() > 0 {
			t.Errorf("%s: %v, and %d bytes", name, err, out.Len())
		}
	}
}
