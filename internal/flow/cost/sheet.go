package cost

import (
	"sort"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

// A Stack is sheets of a metal that are alike. Price is of one, nil where nobody
// knows; that of an offcut is its share of the sheet it fell from, by area, unless it
// was given one. Cut and Thrown are how many went. Doubt says why Count can't be right.
type Stack struct {
	Put      studio.SheetMove // what put it there; its ID is the stack's
	Count    int
	Cut      int
	Thrown   int
	Price    *decimal.Decimal
	Doubt    string
	Happened []studio.SheetMove // cut, thrown away and counted, in order of time
}

// ID is what moves name the stack by.
func (s Stack) ID() int64 { return s.Put.ID }

// Offcut reports whether it fell from a sheet that was cut.
func (s Stack) Offcut() bool { return s.Put.Kind == studio.SheetOffcut }

// AreaM2 is the area of one sheet.
func (s Stack) AreaM2() float64 { return s.Put.WidthMM * s.Put.HeightMM * 1e-6 }

// sheetFacts are the moves of a metal that stand: none taken back, none of a stack that
// was taken back, no offcut of a cut that was.
func sheetFacts(moves []studio.SheetMove) []studio.SheetMove {
	gone := map[int64]bool{}
	for _, m := range moves {
		if m.Kind == studio.SheetUndone {
			gone[m.Of] = true
		}
	}
	// what hangs on something gone is gone too; chains are as long as there are moves
	for range moves {
		before := len(gone)
		for _, m := range moves {
			if gone[m.Stack] || m.Kind == studio.SheetOffcut && gone[m.Of] {
				gone[m.ID] = true
			}
		}
		if len(gone) == before {
			break
		}
	}
	var out []studio.SheetMove
	for _, m := range moves {
		if !gone[m.ID] && m.Kind != studio.SheetUndone {
			out = append(out, m)
		}
	}
	order := func(m studio.SheetMove) int { // of what happened at one time
		switch {
		case m.Kind.Puts():
			return 0
		case m.Kind == studio.SheetCounted:
			return 1
		}
		return 2
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if !a.At.Equal(b.At) {
			return a.At.Before(b.At)
		}
		if order(a) != order(b) {
			return order(a) < order(b)
		}
		return a.ID < b.ID
	})
	return out
}

// StacksOf reads the movements of one metal's sheets; the order they come in makes no
// difference. Stacks stand in the order they came, the empty ones too. A count sets
// its stack to what was found.
func StacksOf(moves []studio.SheetMove) []Stack {
	facts := sheetFacts(moves)
	var out []Stack
	at := map[int64]int{}
	for _, m := range facts {
		if m.Kind.Puts() {
			at[m.ID] = len(out)
			out = append(out, Stack{Put: m, Count: m.Count})
		}
	}
	cuts := map[int64]studio.SheetMove{}
	for _, m := range facts {
		i, ok := at[m.Stack]
		if !ok || m.Kind.Puts() {
			continue
		}
		s := &out[i]
		switch m.Kind {
		case studio.SheetCut:
			s.Count, s.Cut = s.Count-m.Count, s.Cut+m.Count
			cuts[m.ID] = m
		case studio.SheetThrown:
			s.Count, s.Thrown = s.Count-m.Count, s.Thrown+m.Count
		case studio.SheetCounted:
			s.Count = m.Count
		}
		s.Happened = append(s.Happened, m)
	}
	for i := range out {
		if out[i].Count < 0 {
			out[i].Count, out[i].Doubt = 0, "More sheets were taken than the records say were there; count them."
		}
		out[i].Price = priceOfStack(out, at, cuts, i, len(out))
	}
	return out
}

// priceOfStack is the price of one sheet of a stack; deep bounds how often offcuts may
// have been cut from offcuts.
func priceOfStack(all []Stack, at map[int64]int, cuts map[int64]studio.SheetMove, i, deep int) *decimal.Decimal {
	s := all[i]
	if s.Put.Price != nil || !s.Offcut() || s.Put.Of == 0 || deep == 0 {
		return s.Put.Price
	}
	from, ok := at[cuts[s.Put.Of].Stack]
	if !ok {
		return nil
	}
	whole := priceOfStack(all, at, cuts, from, deep-1)
	if whole == nil {
		return nil
	}
	share := over(whole.Mul(area(s.Put)), area(all[from].Put))
	return &share
}

// area is the exact area of a sheet in mm².
func area(m studio.SheetMove) decimal.Decimal { return Quantity(m.WidthMM).Mul(Quantity(m.HeightMM)) }

// A SheetUse is what a set or batch took of the sheets: Sheets were cut into Pieces.
// Amount is what they cost less what came back as offcuts, exact; Unpriced counts the
// sheets of which nobody knows the price, which are not in it; Priced are the pieces
// of the others.
type SheetUse struct {
	Sheets, Pieces int
	Priced         int
	Amount         decimal.Decimal
	Unpriced       int
	AreaM2         float64 // cut up: of the sheets without the offcuts
}

// SheetCost returns what was cut for a set from the sheets of one metal.
func SheetCost(moves []studio.SheetMove, set int64) SheetUse {
	var u SheetUse
	if set == 0 {
		return u
	}
	byID := map[int64]Stack{}
	offcuts := map[int64][]Stack{}
	for _, s := range StacksOf(moves) {
		byID[s.ID()] = s
		if s.Offcut() {
			offcuts[s.Put.Of] = append(offcuts[s.Put.Of], s)
		}
	}
	for _, m := range sheetFacts(moves) {
		from, ok := byID[m.Stack]
		if m.Kind != studio.SheetCut || m.SetID != set || !ok {
			continue
		}
		u.Sheets, u.Pieces = u.Sheets+m.Count, u.Pieces+m.Pieces
		u.AreaM2 += float64(m.Count) * from.AreaM2()
		for _, o := range offcuts[m.ID] {
			u.AreaM2 -= float64(o.Put.Count) * o.AreaM2()
		}
		if from.Price == nil {
			u.Unpriced += m.Count
			continue
		}
		u.Priced += m.Pieces
		u.Amount = u.Amount.Add(from.Price.Mul(decimal.NewFromInt(int64(m.Count))))
		for _, o := range offcuts[m.ID] {
			if o.Price != nil {
				u.Amount = u.Amount.Sub(o.Price.Mul(decimal.NewFromInt(int64(o.Put.Count))))
			}
		}
	}
	u.AreaM2 = max(0, u.AreaM2)
	return u
}

// CutUp returns what so many sheets cost less a rectangle that stays of each, exact.
// price is of one sheet; sizes are in mm.
func CutUp(price decimal.Decimal, count int, widthMM, heightMM, restW, restH float64) decimal.Decimal {
	rest := over(price.Mul(Quantity(restW).Mul(Quantity(restH))), Quantity(widthMM).Mul(Quantity(heightMM)))
	return price.Sub(rest).Mul(decimal.NewFromInt(int64(count)))
}

// Counted reports whether anybody has said what sheets of a metal there are, and since
// when.
func Counted(moves []studio.SheetMove) (since time.Time, known bool) {
	for _, m := range sheetFacts(moves) {
		if m.Kind.Puts() {
			return m.At, true
		}
	}
	return time.Time{}, false
}
