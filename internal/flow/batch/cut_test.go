package batch

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Nothing overlaps, everything lies inside, the saw has its room, and a straight cut
// right across parts the pieces again and again.
func TestCutPiecesLieApartAndInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := func(name string) float64 { return rapid.Float64Range(20, 400).Draw(t, name) }
		b := Blank{WidthMM: size("w"), HeightMM: size("h"), Pieces: rapid.IntRange(1, 60).Draw(t, "n"), SheetWMM: rapid.Float64Range(200, 2000).Draw(t, "W"), SheetHMM: rapid.Float64Range(200, 1000).Draw(t, "H"),
			KerfMM: rapid.Float64Range(0, 5).Draw(t, "kerf"), EdgeMM: rapid.Float64Range(0, 20).Draw(t, "edge"), Turn: rapid.Bool().Draw(t, "turn")}
		if rapid.Bool().Draw(t, "disc") {
			b.DiscMM = b.WidthMM
		}
		p, err := Cut(b)
		if err != nil {
			return
		}
		n := 0
		for _, sheet := range p.Sheets {
			n += len(sheet)
			for i, s := range sheet {
				if s.X < b.EdgeMM-1e-6 || s.Y < b.EdgeMM-1e-6 || s.X+s.W > b.SheetWMM-b.EdgeMM+1e-6 || s.Y+s.H > b.SheetHMM-b.EdgeMM+1e-6 {
					t.Fatalf("%+v leaves the sheet of %+v", s, b)
				}
				if !b.Turn && b.DiscMM == 0 && (s.W != b.WidthMM || s.H != b.HeightMM) {
					t.Fatalf("%+v is turned", s)
				}
				for _, o := range sheet[:i] {
					gap := math.Max(math.Max(s.X-o.X-o.W, o.X-s.X-s.W), math.Max(s.Y-o.Y-o.H, o.Y-s.Y-s.H))
					if gap < b.KerfMM-1e-6 {
						t.Fatalf("%+v and %+v are %v apart, the saw takes %v", s, o, gap, b.KerfMM)
					}
				}
			}
			if !shears(sheet) {
				t.Fatalf("no straight cut parts %+v", sheet)
			}
		}
		if n != b.Pieces || p.Waste < 0 || p.Waste > 1 || p.Kept > p.Waste+1e-9 {
			t.Fatalf("%d pieces of %d, waste %v, kept %v", n, b.Pieces, p.Waste, p.Kept)
		}
		area := b.WidthMM * b.HeightMM
		if b.DiscMM > 0 {
			area = b.DiscMM * b.DiscMM
		}
		if most := b.SheetWMM * b.SheetHMM / area; float64(p.PerSheet) > most {
			t.Fatalf("%d on a sheet with room for %v", p.PerSheet, most)
		}
	})
}

// shears reports whether cuts right across part the pieces.
func shears(spots []Spot) bool {
	if len(spots) <= 1 {
		return true
	}
	for _, level := range []bool{true, false} {
		for _, at := range spots {
			edge := at.X + at.W
			if level {
				edge = at.Y + at.H
			}
			var before, after []Spot
			clean := true
			for _, s := range spots {
				lo, hi := s.X, s.X+s.W
				if level {
					lo, hi = s.Y, s.Y+s.H
				}
				switch {
				case hi <= edge+1e-6:
					before = append(before, s)
				case lo >= edge-1e-6:
					after = append(after, s)
				default:
					clean = false
				}
			}
			if clean && len(before) > 0 && len(after) > 0 {
				return shears(before) && shears(after)
			}
		}
	}
	return false
}

// Known counts: eight 1 x 1 blanks lie on 4 x 2; the classic pallet of 5 x 3 boxes on
// 14 x 10 takes 9, by hand: one strip 5 wide with three pieces lying and three strips 3 wide
// with two standing, as many as the area allows.
func TestCutFillsTheSheet(t *testing.T) {
	for _, c := range []struct {
		b    Blank
		want int
	}{
		{Blank{WidthMM: 100, HeightMM: 100, SheetWMM: 400, SheetHMM: 200}, 8},
		{Blank{WidthMM: 100, HeightMM: 100, SheetWMM: 400, SheetHMM: 200, KerfMM: 1}, 3},
		{Blank{WidthMM: 50, HeightMM: 30, SheetWMM: 140, SheetHMM: 100, Turn: true}, 9},
		{Blank{WidthMM: 50, HeightMM: 30, SheetWMM: 140, SheetHMM: 100}, 6},
		{Blank{WidthMM: 70, HeightMM: 50, SheetWMM: 140, SheetHMM: 120, Turn: true}, 4},
		{Blank{DiscMM: 181, SheetWMM: 2000, SheetHMM: 1000, KerfMM: 2}, 50},
	} {
		c.b.Pieces = c.want
		p, err := Cut(c.b)
		if err != nil || p.PerSheet != c.want || len(p.Sheets) != 1 {
			t.Errorf("%+v: %d on a sheet, %v", c.b, p.PerSheet, err)
		}
	}
	p, err := Cut(Blank{WidthMM: 100, HeightMM: 100, Pieces: 8, SheetWMM: 400, SheetHMM: 200})
	if err != nil || p.Waste > 1e-12 || p.Kept != 0 {
		t.Errorf("waste %v, kept %v, %v", p.Waste, p.Kept, err)
	}
	for _, b := range []Blank{{}, {WidthMM: 500, HeightMM: 500, Pieces: 1, SheetWMM: 400, SheetHMM: 400}, {WidthMM: 10, HeightMM: 10, Pieces: 1, SheetWMM: math.NaN(), SheetHMM: 10}, {WidthMM: 10, HeightMM: 10, Pieces: 2000, SheetWMM: 10, SheetHMM: 10}} {
		if _, err := Cut(b); err == nil {
			t.Errorf("%+v was cut", b)
		}
	}
	if !strings.Contains(p.Words, "8 pieces from 1 sheet") {
		t.Error(p.Words)
	}
}
