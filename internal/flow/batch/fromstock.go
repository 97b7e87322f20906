package batch

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// A Sheet is sheets alike that are there to be cut. ID names them to the caller, 0 for
// an offcut that the cutting itself leaves.
type Sheet struct {
	ID       int64
	WMM, HMM float64
	Count    int
	Offcut   bool
}

// A Taking is so many sheets of one kind, each cut alike. RestW and RestH are what
// stays whole of each, 0 where nothing is worth keeping.
type Taking struct {
	Sheet        Sheet
	Count        int
	Spots        []Spot
	RestW, RestH float64
}

// Pieces is how many come out of a taking.
func (t Taking) Pieces() int { return t.Count * len(t.Spots) }

// A StockCut is pieces cut from sheets that are there. Missing is how many find no
// sheet; Left are the sheets there are afterwards, offcuts included.
type StockCut struct {
	Takings []Taking
	Pieces  int
	Missing int
	Left    []Sheet
	Words   string
}

// leastKept is the shorter side from which what is left of a sheet is kept: common
// practice, no source.
const leastKept = 30.0

// CutFrom lays pieces on sheets that are there, as [Cut] does on each: offcuts before
// whole sheets and of each the smaller before the larger. The size of a sheet in b is
// not used. A *studio.Problem when the pieces can't be.
func CutFrom(b Blank, there []Sheet) (StockCut, error) {
	b.SheetWMM, b.SheetHMM = 10000, 10000
	if err := b.check(); err != nil {
		return StockCut{}, err
	}
	sheets := slices.DeleteFunc(slices.Clone(there), func(s Sheet) bool { return s.Count < 1 || !(s.WMM >= 1) || !(s.HMM >= 1) })
	slices.SortStableFunc(sheets, func(x, y Sheet) int {
		if x.Offcut != y.Offcut {
			if x.Offcut {
				return -1
			}
			return 1
		}
		return cmp.Compare(x.WMM*x.HMM, y.WMM*y.HMM)
	})
	out := StockCut{Missing: b.Pieces}
	offcuts, whole := 0, 0
	var fresh []Sheet
	for _, s := range sheets {
		b.SheetWMM, b.SheetHMM = s.WMM, s.HMM
		var spots []Spot
		if out.Missing > 0 {
			spots = b.layout()
		}
		take := func(n int, spots []Spot) {
			t := Taking{Sheet: s, Count: n, Spots: spots}
			if w, h := b.rest(spots); min(w, h) >= leastKept {
				t.RestW, t.RestH = w, h
				fresh = append(fresh, Sheet{WMM: w, HMM: h, Count: n, Offcut: true})
			}
			out.Takings = append(out.Takings, t)
			out.Missing -= t.Pieces()
			s.Count -= n
			if s.Offcut {
				offcuts += n
			} else {
				whole += n
			}
		}
		if len(spots) > 0 {
			if n := min(s.Count, out.Missing/len(spots)); n > 0 {
				take(n, spots)
			}
			if out.Missing > 0 && s.Count > 0 {
				take(1, spots[:min(len(spots), out.Missing)])
			}
		}
		if s.Count > 0 {
			out.Left = append(out.Left, s)
		}
	}
	out.Left = append(out.Left, fresh...)
	out.Pieces = b.Pieces - out.Missing
	out.Words = stockWords(out, offcuts, whole)
	return out, nil
}

// SheetsText counts sheets, "" for none.
func SheetsText(n int) string {
	switch {
	case n < 1:
		return ""
	case n == 1:
		return "1 sheet"
	}
	return fmt.Sprintf("%d sheets", n)
}

// OffcutsText counts offcuts, "" for none.
func OffcutsText(n int) string {
	switch {
	case n < 1:
		return ""
	case n == 1:
		return "1 offcut"
	}
	return fmt.Sprintf("%d offcuts", n)
}

// stockWords say what is cut from what.
func stockWords(c StockCut, offcuts, whole int) string {
	from := slices.DeleteFunc([]string{OffcutsText(offcuts), SheetsText(whole)}, func(t string) bool { return t == "" })
	if len(from) == 0 {
		return "No sheet that is there is large enough."
	}
	words := fmt.Sprintf("%d pieces from %s.", c.Pieces, strings.Join(from, " and "))
	if c.Pieces == 1 {
		words = fmt.Sprintf("1 piece from %s.", from[0])
	}
	switch {
	case c.Missing == 1:
		words += " 1 piece still lacks a sheet."
	case c.Missing > 1:
		words += fmt.Sprintf(" %d pieces still lack a sheet.", c.Missing)
	}
	return words
}
