package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestSheetsAreOnlyAddedToAndCountOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	other := must[studio.Metal](t)(s.SaveMetal(ctx, studio.Metal{Name: "Copper", ThicknessMM: 1}))
	add := func(m ...studio.SheetMove) []studio.SheetMove {
		t.Helper()
		for i := range m {
			if m[i].Metal == 0 {
				m[i].Metal = b.metal.ID
			}
			m[i].At = noon
		}
		return must[[]studio.SheetMove](t)(s.AddSheetMoves(ctx, m))
	}
	price := dec("57.123456")
	sheet := studio.SheetMove{Client: "k", Kind: studio.SheetBought, Count: 3, WidthMM: 600, HeightMM: 1000, Price: &price, Lot: "L1", Supplier: "Mill", State: "degreased", By: "Ann"}
	kept := add(sheet)[0]
	if !kept.Price.Equal(price) || !kept.Recorded.Equal(noon) || kept.Count != 3 {
		t.Errorf("%+v", kept)
	}
	sheet.Count = 9
	same(t, "sent twice", add(sheet)[0], kept)
	cut := add(studio.SheetMove{Client: "c", Kind: studio.SheetCut, Stack: kept.ID, Count: 1, SetID: b.set.ID, Pieces: 12, Price: &price},
		studio.SheetMove{Client: "o", Kind: studio.SheetOffcut, Of: -1, Count: 1, WidthMM: 250, HeightMM: 600})
	if cut[0].Price != nil || cut[1].Of != cut[0].ID || cut[1].SetID != 0 {
		t.Errorf("%+v", cut)
	}
	back := add(studio.SheetMove{Client: "u", Kind: studio.SheetUndone, Of: cut[0].ID, Count: 7, Lot: "x"})[0]
	same(t, "movements", must[map[int64][]studio.SheetMove](t)(s.SheetMoves(ctx))[b.metal.ID], []studio.SheetMove{kept, cut[0], cut[1], back})

	for what, m := range map[string]studio.SheetMove{
		"of another metal":         {Metal: other.ID, Client: "x", Kind: studio.SheetThrown, Stack: kept.ID, Count: 1},
		"of a cut":                 {Metal: b.metal.ID, Client: "x", Kind: studio.SheetThrown, Stack: cut[0].ID, Count: 1},
		"an offcut of a stack":     {Metal: b.metal.ID, Client: "x", Kind: studio.SheetOffcut, Of: kept.ID, Count: 1, WidthMM: 9, HeightMM: 9},
		"taking back a taken back": {Metal: b.metal.ID, Client: "x", Kind: studio.SheetUndone, Of: back.ID},
		"another's key":            {Metal: b.metal.ID, Client: "k", Kind: studio.SheetThrown, Stack: kept.ID, Count: 1},
	} {
		m.At = noon
		_, err := s.AddSheetMoves(ctx, []studio.SheetMove{m})
		if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Conflict {
			t.Errorf("%s: %v", what, err)
		}
	}
	for what, change := range map[string]func(*studio.SheetMove){
		"no width":    func(m *studio.SheetMove) { m.WidthMM = 0 },
		"no sheets":   func(m *studio.SheetMove) { m.Count = 0 },
		"too many":    func(m *studio.SheetMove) { m.Count = 1e6 },
		"a wild day":  func(m *studio.SheetMove) { m.At = noon.Add(time.Hour) },
		"a state":     func(m *studio.SheetMove) { m.State = "shiny" },
		"no key":      func(m *studio.SheetMove) { m.Client = " " },
		"a price":     func(m *studio.SheetMove) { d := dec("-1"); m.Price = &d },
		"no kind":     func(m *studio.SheetMove) { m.Kind = "lent" },
		"which stack": func(m *studio.SheetMove) { m.Kind = studio.SheetCut },
		"which one":   func(m *studio.SheetMove) { m.Kind = studio.SheetUndone },
	} {
		m := studio.SheetMove{Metal: b.metal.ID, Client: "y", Kind: studio.SheetBought, Count: 1, WidthMM: 100, HeightMM: 100, At: noon}
		change(&m)
		_, err := s.AddSheetMoves(ctx, []studio.SheetMove{{Metal: b.metal.ID, Client: "first", Kind: studio.SheetFound, Count: 1, WidthMM: 9, HeightMM: 9, At: noon}, m})
		if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Invalid {
			t.Errorf("%s: %v", what, err)
		}
	}
	if n := len(must[map[int64][]studio.SheetMove](t)(s.SheetMoves(ctx))[b.metal.ID]); n != 4 {
		t.Errorf("what was refused left %d records", n)
	}
	if _, err := s.write.ExecContext(ctx, `UPDATE sheet_move SET count = 1`); err == nil {
		t.Error("a movement was changed")
	}

	// the sheets stay cut when their set is gone for good
	clk := &clock{noon}
	s.now = clk.now
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	clk.t = noon.AddDate(0, 0, 40)
	must[int](t)(s.PurgeBin(ctx))
	moves := must[map[int64][]studio.SheetMove](t)(s.SheetMoves(ctx))[b.metal.ID]
	if len(moves) != 4 || moves[1].SetID != 0 || moves[1].Pieces != 12 {
		t.Errorf("%+v", moves)
	}
	wantSound(t, s)
}

func TestLotHasADayOfItsOwn(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	day := time.Date(2027, 3, 31, 0, 0, 0, 0, time.Local)
	m := studio.StockMove{Supply: b.salt.ID, Client: "k", Kind: studio.Bought, Amount: 5, Unit: studio.Gram, Lot: "A", Expires: day, At: noon}
	if kept := must[studio.StockMove](t)(s.AddStockMove(ctx, m)); !kept.Expires.Equal(day) {
		t.Errorf("%+v", kept)
	}
	m.Client, m.Kind = "u", studio.UsedUp
	if kept := must[studio.StockMove](t)(s.AddStockMove(ctx, m)); !kept.Expires.IsZero() {
		t.Errorf("what was used has a day: %+v", kept)
	}
	m.Client, m.Kind, m.Expires = "w", studio.Bought, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	_, err := s.AddStockMove(ctx, m)
	wantProblem(t, err, studio.Invalid, "year 9999")
	if _, err := s.write.ExecContext(ctx, `UPDATE stock_move SET expires_on = NULL`); err == nil {
		t.Error("a lot's day was changed")
	}
}
