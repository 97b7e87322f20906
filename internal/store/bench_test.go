package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestBenchIsKeptAsGiven(t *testing.T) {
	s := fresh(t)
	day := time.Date(2026, 2, 3, 0, 0, 0, 0, time.Local)
	m := studio.Metal{Name: "Bronze", Alloy: "C51000", Temper: "hard", ThicknessMM: 1.2, GaugeWords: "16 gauge", Lot: "L1", Note: "a 'note'"}
	x := studio.Supply{Name: "Ammonia", Material: "ammonia-water", Strength: 9, StrengthUnit: studio.WtPercent, Lot: "A", Opened: day, Note: "cold"}
	c := studio.Chamber{Name: "Box", VolumeL: 20.5, Pad: "felt", PadML: 60, GapMM: 40, TiltDeg: 1.5, Places: 6, Note: "n", Invented: true}
	gotM := must[studio.Metal](t)(s.SaveMetal(ctx, m))
	gotX := must[studio.Supply](t)(s.SaveSupply(ctx, x))
	gotC := must[studio.Chamber](t)(s.SaveChamber(ctx, c))
	m.ID, x.ID, c.ID = gotM.ID, gotX.ID, gotC.ID
	same(t, "metal", gotM, m)
	same(t, "supply", gotX, x)
	same(t, "chamber", gotC, c)

	m.Name, m.ThicknessMM = "Phosphor bronze", 1.25
	same(t, "metal saved again", must[studio.Metal](t)(s.SaveMetal(ctx, m)), m)
	same(t, "metals", must[[]studio.Metal](t)(s.Metals(ctx)), []studio.Metal{m})
	same(t, "supplies", must[[]studio.Supply](t)(s.Supplies(ctx)), []studio.Supply{x})
	same(t, "chambers", must[[]studio.Chamber](t)(s.Chambers(ctx)), []studio.Chamber{c})

	_, err := s.SaveMetal(ctx, studio.Metal{ID: 99, Name: "x", ThicknessMM: 1})
	wantProblem(t, err, studio.NotFound, "no metal 99")
	_, err = s.SaveMetal(ctx, studio.Metal{Name: "x"})
	wantProblem(t, err, studio.Invalid, "thick")
	_, err = s.Chamber(ctx, 99)
	wantProblem(t, err, studio.NotFound, "no chamber 99")
	_, err = s.Supply(ctx, 99)
	wantProblem(t, err, studio.NotFound, "no supply 99")
}

// A day is the day that was chosen, whatever zone it was written in.
func TestDaysStayTheDayTheyWere(t *testing.T) {
	s := fresh(t)
	for _, zone := range []*time.Location{time.UTC, time.FixedZone("east", 14*3600), time.FixedZone("west", -11*3600)} {
		x := must[studio.Supply](t)(s.SaveSupply(ctx, studio.Supply{Name: "x", Material: "vinegar", StrengthUnit: studio.Pure, Expires: time.Date(2026, 3, 29, 0, 0, 0, 0, zone)}))
		if got := x.Expires.Format("2006-01-02"); got != "2026-03-29" {
			t.Errorf("zone %v: got %s", zone, got)
		}
	}
}

// Starting amounts: common practice, no source.
func TestNewStudioHasAssumedHandAmounts(t *testing.T) {
	s := fresh(t)
	hands := must[[]studio.HandAmount](t)(s.HandAmounts(ctx))
	if len(hands) != 9 {
		t.Fatalf("%d hand amounts, want 9", len(hands))
	}
	for _, tc := range []struct {
		word, material string
		mean, sd       float64
		unit           studio.Unit
	}{
		{"light", "sodium-chloride", 11, 4, studio.GramPerM2}, {"heavy", "sodium-chloride", 80, 25, studio.GramPerM2},
		{"medium", "water", 80, 25, studio.MLPerM2}, {"light", "something never weighed", 11, 4, studio.GramPerM2},
	} {
		a, ok := studio.Resolve(hands, tc.word, tc.material)
		if want := (studio.Amount{Value: tc.mean, SD: tc.sd, Unit: tc.unit, Hand: tc.word, Assumed: true}); !ok || a != want {
			t.Errorf("%s of %s is %+v, want %+v", tc.word, tc.material, a, want)
		}
	}
	weighed := must[studio.HandAmount](t)(studio.Weighed("light", "sodium-chloride", studio.GramPerM2, []float64{8, 9, 10}))
	if err := s.SaveHandAmount(ctx, weighed); err != nil {
		t.Fatal(err)
	}
	hands = must[[]studio.HandAmount](t)(s.HandAmounts(ctx))
	if a, _ := studio.Resolve(hands, "light", "sodium-chloride"); a.Value != 9 || a.SD != 1 || a.Assumed || len(hands) != 9 {
		t.Errorf("after weighing, light is %+v of %d", a, len(hands))
	}
	wantProblem(t, s.SaveHandAmount(ctx, studio.HandAmount{Word: "tons", Mean: 1, Unit: studio.Gram}), studio.Invalid, "hand word")
	wantProblem(t, s.SaveHandAmount(ctx, studio.HandAmount{Word: "light", Mean: 1, Unit: "lb"}), studio.Invalid, "not a unit")
}
