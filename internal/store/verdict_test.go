package store

import (
	"testing"

	"aerugo/internal/studio"
)

// smallBatch adds a batch of two lamps.
func smallBatch(t testing.TB, s *Store, b bench) (studio.Set, []studio.Swatch) {
	t.Helper()
	p := wallLamp()
	p.MetalID = b.metal.ID
	p = must[studio.Piece](t)(s.SavePiece(ctx, p))
	one := NewSwatch{Swatch: studio.Swatch{MetalID: b.metal.ID, WidthMM: 181, HeightMM: 181, OutsideMM2: 12000}}
	set, made, err := s.AddSet(ctx, studio.Set{Name: "Two lamps", Shape: studio.Loose, Replicates: 1, MetalID: b.metal.ID, PieceID: p.ID, WidthMM: 181, HeightMM: 181}, []NewSwatch{one, one})
	if err != nil {
		t.Fatal(err)
	}
	return set, made
}

func TestVerdictsAreOnlyAdded(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	set, made := smallBatch(t, s, b)
	v := studio.Verdict{Client: "a", Swatch: made[0].Number, Outcome: studio.Reworked, Why: "a drop ran", By: "Ana", At: noon}
	first := must[studio.Verdict](t)(s.AddVerdict(ctx, v))
	v.ID, v.Recorded = first.ID, noon
	same(t, "verdict", first, v)
	same(t, "sent twice", must[studio.Verdict](t)(s.AddVerdict(ctx, v)), first)
	other := v
	other.Outcome = studio.Rejected
	wantProblem(t, errorOf(s.AddVerdict(ctx, other)), studio.Conflict, "another verdict")
	second := must[studio.Verdict](t)(s.AddVerdict(ctx, studio.Verdict{Client: "b", Swatch: made[0].Number, Outcome: studio.Accepted, By: "Ben", At: noon}))
	all := must[[]studio.Verdict](t)(s.Verdicts(ctx, set.ID))
	same(t, "verdicts", all, []studio.Verdict{first, second})
	same(t, "standing", studio.StandingVerdicts(all), map[int64]studio.Verdict{made[0].Number: second})
	for says, bad := range map[string]studio.Verdict{
		"no verdict":     {Client: "c", Swatch: made[1].Number, Outcome: "maybe", By: "Ana", At: noon},
		"Write why":      {Client: "c", Swatch: made[1].Number, Outcome: studio.Rejected, Why: " ", By: "Ana", At: noon},
		"Write who":      {Client: "c", Swatch: made[1].Number, Outcome: studio.Accepted, At: noon},
		"its key":        {Swatch: made[1].Number, Outcome: studio.Accepted, By: "Ana", At: noon},
		"can't be right": {Client: "c", Swatch: made[1].Number, Outcome: studio.Accepted, By: "Ana"},
	} {
		wantProblem(t, errorOf(s.AddVerdict(ctx, bad)), studio.Invalid, says)
	}
	wantProblem(t, errorOf(s.AddVerdict(ctx, studio.Verdict{Client: "d", Swatch: b.pieces[0].Number, Outcome: studio.Accepted, By: "Ana", At: noon})), studio.Conflict, "no piece of a batch")
	wantProblem(t, errorOf(s.AddVerdict(ctx, studio.Verdict{Client: "d", Swatch: 9999, Outcome: studio.Accepted, By: "Ana", At: noon})), studio.NotFound, "9999")
	if _, err := s.write.Exec(`UPDATE verdict SET outcome = 'accept'`); err == nil {
		t.Error("a verdict was changed")
	}
	if n := len(must[[]studio.Verdict](t)(s.Verdicts(ctx, set.ID))); n != 2 {
		t.Errorf("%d verdicts are kept, want 2", n)
	}
}
