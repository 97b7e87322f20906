package store

import (
	"math"
	"testing"

	"aerugo/internal/studio"
)

func TestSetIsKeptWithItsSwatches(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	if b.set.Seed != math.MaxUint64 || b.set.Factors[0].Levels[1].Number != 240 || !b.set.Made.Equal(noon) {
		t.Errorf("set is %+v", b.set)
	}
	for i, w := range b.pieces {
		if w.Number != int64(i+1) || w.SetID != b.set.ID || w.MetalID != b.metal.ID || w.Blank != (i == 2) {
			t.Errorf("swatch %d is %+v", i, w)
		}
	}
	same(t, "swatches", must[[]studio.Swatch](t)(s.Swatches(ctx)), b.pieces)
	same(t, "swatches of the set", must[[]studio.Swatch](t)(s.SwatchesOf(ctx, b.set.ID)), b.pieces)
	ts := must[[]studio.Treatment](t)(s.Treatments(ctx, TreatmentFilter{Set: b.set.ID}))
	if len(ts) != 2 || ts[1].SetID != b.set.ID || ts[1].Swatch != 2 || ts[1].Order != 2 {
		t.Fatalf("treatments are %+v", ts)
	}
	same(t, "steps", ts[1].Steps, steps(b.salt.ID, b.chamber.ID))
	same(t, "settings", ts[1].Settings, []studio.Setting{{Factor: "fuming", Kind: studio.ByMinutes, Level: studio.Level{Label: "4 h", Number: 240}}})
	same(t, "treatment", must[studio.Treatment](t)(s.Treatment(ctx, ts[1].ID)), ts[1])
	if err := s.UpdateSwatchNote(ctx, 2, "dropped"); err != nil {
		t.Fatal(err)
	}
	if w := must[studio.Swatch](t)(s.Swatch(ctx, 2)); w.Note != "dropped" {
		t.Errorf("note is %q", w.Note)
	}
	wantProblem(t, s.UpdateSwatchNote(ctx, 9, "x"), studio.NotFound, "no swatch 9")
}

func TestSetIsAllOrNothing(t *testing.T) {
	s := fresh(t)
	good := NewSwatch{Swatch: studio.Swatch{WidthMM: 50, HeightMM: 50}}
	bad := NewSwatch{Swatch: studio.Swatch{WidthMM: 50, HeightMM: 50, MetalID: 77}}
	_, _, err := s.AddSet(ctx, studio.Set{Name: "x", Shape: studio.Loose}, []NewSwatch{good, bad})
	wantProblem(t, err, studio.Conflict, "not in this studio")
	if c := must[Counts](t)(s.Seen(ctx)); !c.Empty {
		t.Errorf("half a set is there: %+v", c)
	}
	_, w, err := s.AddSet(ctx, studio.Set{Name: "x", Shape: studio.Loose}, []NewSwatch{good})
	if err != nil || w[0].Number != 1 {
		t.Errorf("a set that failed took a number: %v, %v", w, err)
	}
	for says, set := range map[string]studio.Set{"name": {Shape: studio.Loose}, "kind of set": {Name: "x", Shape: "heap"}} {
		_, _, err := s.AddSet(ctx, set, []NewSwatch{good})
		wantProblem(t, err, studio.Invalid, says)
	}
	_, _, err = s.AddSet(ctx, studio.Set{Name: "x", Shape: studio.Loose}, nil)
	wantProblem(t, err, studio.Invalid, "at least one swatch")
	_, _, err = s.AddSet(ctx, studio.Set{Name: "x", Shape: studio.Loose}, []NewSwatch{{Swatch: studio.Swatch{WidthMM: math.NaN(), HeightMM: 1}}})
	wantProblem(t, err, studio.Invalid, "can't be cut")
}

func TestLayersGoOnTopOfEachOther(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	over := studio.Treatment{Swatch: 1, Faces: studio.OnFront, Over: studio.OverDry, VersionID: b.recipe.Latest.ID, Steps: steps(0, 0)}
	got := must[studio.Treatment](t)(s.AddTreatment(ctx, over))
	if got.Layer != 2 || got.SetID != b.set.ID {
		t.Errorf("got %+v", got)
	}
	over.Faces = studio.OnBack
	if got := must[studio.Treatment](t)(s.AddTreatment(ctx, over)); got.Layer != 2 {
		t.Errorf("the back's second layer is %d", got.Layer)
	}
	over.Faces, over.Layer = studio.OnBoth, 2
	_, err := s.AddTreatment(ctx, over)
	wantProblem(t, err, studio.Conflict, "Layer 2 is on that face")
	over.Layer = 0
	if got := must[studio.Treatment](t)(s.AddTreatment(ctx, over)); got.Layer != 3 {
		t.Errorf("the layer over both is %d", got.Layer)
	}
	over.Swatch = 99
	_, err = s.AddTreatment(ctx, over)
	wantProblem(t, err, studio.NotFound, "no swatch 99")
	over.Faces = "edge"
	_, err = s.AddTreatment(ctx, over)
	wantProblem(t, err, studio.Invalid, "front, the back or both")
}

func TestNumbersAreNeverGivenOutTwice(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, false)
	if err := s.BinItem(ctx, "set", b.set.ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.AddDate(0, 0, 31)
	must[int](t)(s.PurgeBin(ctx))
	if n := must[int64](t)(number(ctx, s.read, `SELECT count(*) FROM swatch`)); n != 0 {
		t.Fatalf("%d swatches are left", n)
	}
	_, w, err := s.AddSet(ctx, studio.Set{Name: "x", Shape: studio.Loose}, []NewSwatch{{Swatch: studio.Swatch{WidthMM: 1, HeightMM: 1}}})
	if err != nil || w[0].Number != 4 {
		t.Errorf("the next number is %v, want 4 (%v)", w, err)
	}
	if _, err := s.write.Exec(`UPDATE counter SET next = 1`); err == nil {
		t.Error("the counter could go back")
	}
}
