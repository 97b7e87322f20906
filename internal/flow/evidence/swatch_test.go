package evidence

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

func TestASwatchAsRunBecomesTheRecipe(t *testing.T) {
	began := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	tr := studio.Treatment{ID: 1, Swatch: 12, Faces: studio.OnFront, Layer: 1, VersionID: 4, Steps: []studio.Step{
		{Kind: studio.Wet, Material: "water", Amount: studio.Amount{Value: 40, SD: 8, Unit: studio.MLPerM2, Hand: studio.Light, Assumed: true}},
		{Kind: studio.Fume, Material: "ammonia-water", Duration: 4 * time.Hour, Early: 10 * time.Minute, Late: 10 * time.Minute},
		{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 25, Unit: studio.GramPerM2}},
		{Kind: studio.Rinse},
		{Kind: studio.BrushOut, Duration: 2 * time.Minute},
	}}
	used := studio.Amount{Value: 31, Unit: studio.GramPerM2}
	event := func(id int64, kind studio.EventKind, step int, after time.Duration, amount *studio.Amount) studio.Event {
		return studio.Event{ID: id, Treatment: 1, Client: string(rune('a' + id)), Kind: kind, Step: step, At: began.Add(after), Recorded: began.Add(after), Amount: amount}
	}
	events := []studio.Event{
		event(1, studio.Began, 0, 0, nil), event(2, studio.Done, 0, 10*time.Second, nil), event(3, studio.Done, 1, 4*time.Hour+20*time.Minute+20*time.Second, nil),
		event(4, studio.Changed, 2, 4*time.Hour+21*time.Minute, &used), event(5, studio.Done, 2, 4*time.Hour+22*time.Minute, nil), // the rinse was never tapped
		event(6, studio.Done, 4, 5*time.Hour, nil),
	}
	r := run.Fold(tr, events)
	k, err := FromSwatch(tr, r, nil)
	if err != nil {
		t.Fatal(err)
	}
	s := k.Version.Steps
	if len(s) != 5 || s[1].Duration != 4*time.Hour+20*time.Minute || s[1].Late != 10*time.Minute || s[2].Amount.Value != 31 || s[0].Amount.Hand != "" || s[0].Amount.Value != 40 {
		t.Errorf("%+v", s)
	}
	if !strings.Contains(s[1].Note, "On swatch 12: 20 min longer") {
		t.Errorf("the note is %q", s[1].Note)
	}
	if s[4].Duration != 2*time.Minute {
		t.Errorf("waiting for the hands became part of the recipe: %v", s[4].Duration)
	}
	if !strings.Contains(s[2].Note, "used 31 g/m² instead of 25 g/m²") {
		t.Errorf("the amount used is not noted: %q", s[2].Note)
	}
	all := strings.Join(k.Unconfirmed, "; ")
	for _, want := range []string{"'light', taken as 40 mL/m²", "rinsing (step 4) was never tapped"} {
		if !strings.Contains(all, want) {
			t.Errorf("what nobody confirmed is %q, without %q", all, want)
		}
	}
	ref, ok := ReferenceIn(k.Version)
	if !ok || ref.Swatch != 12 || ref.Faces != studio.OnFront || !strings.Contains(k.Version.Why, "fuming 20 min") {
		t.Errorf("%q gives %+v, %v", k.Version.Why, ref, ok)
	}
	// two taps put at one minute by hand
	once := append(events[:2:2], event(3, studio.Done, 1, 10*time.Second, nil), event(6, studio.Done, 4, 5*time.Hour, nil))
	k, err = FromSwatch(tr, run.Fold(tr, once), nil)
	if err != nil || k.Version.Steps[1].Duration != 4*time.Hour || !strings.Contains(strings.Join(k.Unconfirmed, "; "), "how long fuming (step 2) took, taken as planned") {
		t.Errorf("of a fuming that took no time: %v, %+v, %q", err, k.Version.Steps, k.Unconfirmed)
	}
	tr.Blank = true
	if _, err := FromSwatch(tr, r, nil); studio.ProblemIn(err) == nil {
		t.Errorf("a blank became a recipe: %v", err)
	}
	tr.Blank = false
	if _, err := FromSwatch(tr, run.Fold(tr, events[:2]), nil); studio.ProblemIn(err) == nil {
		t.Errorf("a swatch under way became a recipe: %v", err)
	}
	tr.Layer = 2
	if _, err := FromSwatch(tr, r, nil); studio.ProblemIn(err) == nil {
		t.Errorf("a layer over nothing became a recipe: %v", err)
	}
	tr.Over = studio.OverDry
	if k, err := FromSwatch(tr, r, &studio.Treatment{VersionID: 9}); err != nil || k.Version.OverID != 9 || k.Version.Over != studio.OverDry {
		t.Errorf("%+v, %v", k.Version, err)
	}
}

func TestReferencesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Reference{rapid.Int64Range(1, 1e15).Draw(t, "n"), rapid.SampledFrom([]studio.Faces{studio.OnFront, studio.OnBack, studio.OnBoth}).Draw(t, "faces")}
		got, ok := ReferenceIn(studio.Version{Why: want.String() + rapid.SampledFrom([]string{"", ": fuming 1 min longer"}).Draw(t, "more")})
		if !ok || got != want {
			t.Fatalf("%+v came back as %+v, %v", want, got, ok)
		}
	})
}

func FuzzReferenceIn(f *testing.F) {
	f.Add("As swatch 12, front, was run")
	f.Add("As swatch 99999999999999999999, back, was run")
	f.Fuzz(func(t *testing.T, why string) {
		if ref, ok := ReferenceIn(studio.Version{Why: why}); ok && ref.Faces != studio.OnFront && ref.Faces != studio.OnBack && ref.Faces != studio.OnBoth {
			t.Errorf("%q gives %+v", why, ref)
		}
	})
}
