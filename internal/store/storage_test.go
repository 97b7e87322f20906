package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

func place(t *testing.T, s *Store, p studio.Place) studio.Place {
	t.Helper()
	if p.Client == "" {
		p.Client = "place " + p.Name
	}
	if p.Kind == "" {
		p.Kind = studio.Keeps
	}
	return must[studio.Place](t)(s.SavePlace(ctx, p))
}

func TestSwatchStandsWhereItWasPutLast(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, true)
	cabinet := place(t, s, studio.Place{Name: "Cabinet by the door", Invented: true})
	drawer := place(t, s, studio.Place{Name: "drawer 2", Parent: cabinet.ID, Rows: 3, Columns: 4, Note: "=oak", Invented: true})
	ana := place(t, s, studio.Place{Name: "lent to Ana", Kind: studio.Lent})
	due := time.Date(2026, 12, 3, 0, 0, 0, 0, time.Local)
	put := studio.SwatchMove{Client: "m1", Swatch: b.pieces[0].Number, Place: drawer.ID, Row: 3, Column: 4, At: noon, By: "Ana", Note: "-"}
	first := must[[]studio.SwatchMove](t)(s.AddSwatchMoves(ctx, []studio.SwatchMove{put, {Client: "m2", Swatch: b.pieces[1].Number, Place: drawer.ID, At: noon}}))
	again := must[[]studio.SwatchMove](t)(s.AddSwatchMoves(ctx, []studio.SwatchMove{put}))
	same(t, "the same tap again", again[0], first[0])
	lent := must[[]studio.SwatchMove](t)(s.AddSwatchMoves(ctx, []studio.SwatchMove{{Client: "m3", Swatch: b.pieces[0].Number, Place: ana.ID, Due: due, At: noon}}))
	same(t, "where they are", must[map[int64]studio.SwatchMove](t)(s.WhereSwatches(ctx)), map[int64]studio.SwatchMove{b.pieces[0].Number: lent[0], b.pieces[1].Number: first[1]})
	if !lent[0].Due.Equal(due) {
		t.Errorf("it is due %v, want %v", lent[0].Due, due)
	}
	must[[]studio.SwatchMove](t)(s.AddSwatchMoves(ctx, []studio.SwatchMove{{Client: "m4", Swatch: b.pieces[1].Number, At: noon}}))
	if where := must[map[int64]studio.SwatchMove](t)(s.WhereSwatches(ctx)); len(where) != 1 {
		t.Errorf("%d swatches have a place, want 1: %v", len(where), where)
	}
	if moves := must[[]studio.SwatchMove](t)(s.MovesOf(ctx, b.pieces[0].Number)); len(moves) != 2 || moves[0].ID != lent[0].ID || moves[1].ID != first[0].ID {
		t.Errorf("the moves are %+v", moves)
	}

	if _, err := s.write.Exec(`UPDATE swatch_move SET by = 'x'`); err == nil {
		t.Error("a move was changed")
	}
	if err := s.BinItem(ctx, "swatch", b.pieces[0].Number); err != nil {
		t.Fatal(err)
	}
	if where := must[map[int64]studio.SwatchMove](t)(s.WhereSwatches(ctx)); len(where) != 0 {
		t.Errorf("what is in the bin is in %v", where)
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	if left := must[[]studio.Place](t)(s.Places(ctx)); len(left) != 1 || left[0].ID != ana.ID {
		t.Errorf("the places left are %+v", left)
	}
	wantSound(t, s)
}

func TestPlacesThatCannotBeAreRefused(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	outer := place(t, s, studio.Place{Name: "cabinet"})
	inner := place(t, s, studio.Place{Name: "drawer", Parent: outer.ID, Rows: 2, Columns: 2})
	ana := place(t, s, studio.Place{Name: "Ana", Kind: studio.Lent})
	n := b.pieces[0].Number
	must[[]studio.SwatchMove](t)(s.AddSwatchMoves(ctx, []studio.SwatchMove{{Client: "in", Swatch: n, Place: inner.ID, Row: 2, Column: 2, At: noon}}))
	save := func(p studio.Place, change func(*studio.Place)) error {
		change(&p)
		_, err := s.SavePlace(ctx, p)
		return err
	}
	wantProblem(t, save(outer, func(p *studio.Place) { p.Parent = inner.ID }), studio.Conflict, "inside itself")
	wantProblem(t, save(inner, func(p *studio.Place) { p.Rows = 1 }), studio.Conflict, "leaves out 1")
	wantProblem(t, save(inner, func(p *studio.Place) { p.Closed = noon }), studio.Conflict, "still 1")
	wantProblem(t, save(inner, func(p *studio.Place) { p.Name = " " }), studio.Invalid, "name")
	wantProblem(t, save(inner, func(p *studio.Place) { p.Columns = 0 }), studio.Invalid, "both rows and columns")
	wantProblem(t, save(ana, func(p *studio.Place) { p.Parent = 99 }), studio.NotFound, "no place 99")
	if err := save(ana, func(p *studio.Place) { p.Closed = noon }); err != nil {
		t.Fatal(err)
	}
	for says, m := range map[string]studio.SwatchMove{
		"no cell C1":         {Swatch: n, Place: inner.ID, Row: 3, Column: 1, At: noon},
		"not in use":         {Swatch: n, Place: ana.ID, At: noon},
		"no swatch 4711":     {Swatch: 4711, Place: inner.ID, At: noon},
		"no place 77":        {Swatch: n, Place: 77, At: noon},
		"a day to be back":   {Swatch: n, Place: outer.ID, Due: noon, At: noon},
		"needs a place":      {Swatch: n, Due: noon, At: noon},
		"can't be right":     {Swatch: n, Place: outer.ID, At: noon.Add(time.Hour)},
		"is no cell":         {Swatch: n, Place: inner.ID, Row: 1, At: noon},
		"used for another m": {Client: "in", Swatch: n, Place: outer.ID, At: noon},
	} {
		if m.Client == "" {
			m.Client = says
		}
		_, err := s.AddSwatchMoves(ctx, []studio.SwatchMove{{Client: "good " + says, Swatch: n, Place: outer.ID, At: noon}, m})
		if studio.ProblemIn(err) == nil {
			t.Errorf("%s: error is %v", says, err)
			continue
		}
		wantProblem(t, err, studio.ProblemIn(err).Kind, says)
	}
	if moves := must[[]studio.SwatchMove](t)(s.MovesOf(ctx, n)); len(moves) != 1 {
		t.Errorf("refused moves were half kept: %+v", moves)
	}
}

func TestRoundKeepsWhatWasSeenOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	drawer := place(t, s, studio.Place{Name: "drawer"})
	x := must[studio.Round](t)(s.AddRound(ctx, studio.Round{Client: "r", Place: drawer.ID, By: "Ana"}))
	same(t, "the same round again", must[studio.Round](t)(s.AddRound(ctx, studio.Round{Client: "r", Place: drawer.ID})), x)
	seen := studio.Sighting{Client: "s", Round: x.ID, Swatch: b.pieces[0].Number, By: "Ana"}
	first := must[studio.Sighting](t)(s.AddSighting(ctx, seen))
	same(t, "the same tap again", must[studio.Sighting](t)(s.AddSighting(ctx, seen)), first)
	same(t, "what was seen", must[[]studio.Sighting](t)(s.Sightings(ctx, x.ID)), []studio.Sighting{first})
	if err := s.EndRound(ctx, x.ID); err != nil {
		t.Fatal(err)
	}
	_, err := s.AddSighting(ctx, studio.Sighting{Client: "t", Round: x.ID, Swatch: b.pieces[1].Number})
	wantProblem(t, err, studio.Conflict, "over")
	_, err = s.AddRound(ctx, studio.Round{Client: "q", Place: 77})
	wantProblem(t, err, studio.NotFound, "no place 77")
	if all := must[[]studio.Round](t)(s.Rounds(ctx)); len(all) != 1 || all[0].Ended.IsZero() {
		t.Errorf("the rounds are %+v", all)
	}
}
