package demo

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

var testNow = time.Date(2026, 5, 20, 14, 0, 0, 0, time.FixedZone("", 2*60*60))

// filled returns a fresh studio holding the example at testNow.
func filled(t *testing.T) *store.Store {
	t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "studio"), store.Options{Now: func() time.Time { return testNow }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if err := Fill(ctx, s, testNow); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFillingTwiceIsRefused(t *testing.T) {
	ctx := context.Background()
	s := filled(t)
	before, err := s.Swatches(ctx)
	if err != nil {
		t.Fatal(err)
	}
	err = Fill(ctx, s, testNow)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Conflict {
		t.Errorf("filling in twice gave %v, want a Conflict", err)
	}
	after, err := s.Swatches(ctx)
	if err != nil || len(after) != len(before) {
		t.Errorf("%d swatches became %d (%v)", len(before), len(after), err)
	}
}

func TestFillAmongOwnSwatchesIsRefused(t *testing.T) {
	ctx := context.Background()
	s := filled(t)
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	if err := Fill(ctx, s, testNow); err != nil {
		t.Fatalf("filling in again after taking the example out: %v", err)
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	metal, err := s.SaveMetal(ctx, studio.Metal{Name: "own", ThicknessMM: 1})
	if err != nil {
		t.Fatal(err)
	}
	own := studio.Set{Name: "own", Shape: studio.Loose, MetalID: metal.ID, WidthMM: 40, HeightMM: 40, Replicates: 1, Made: testNow.UTC()}
	if _, _, err := s.AddSet(ctx, own, []store.NewSwatch{{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 40, HeightMM: 40}}}); err != nil {
		t.Fatal(err)
	}
	err = Fill(ctx, s, testNow)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Conflict {
		t.Errorf("filling in among own swatches gave %v, want a Conflict", err)
	}
}

func TestEveryRecordOfTheExampleChecks(t *testing.T) {
	ctx := context.Background()
	s := filled(t)
	check := func(what string, err error) {
		t.Helper()
		if err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	metals, err := s.Metals(ctx)
	check("metals", err)
	for _, m := range metals {
		check(m.Name, m.Check())
		if !m.Invented {
			t.Errorf("metal %s is not marked invented", m.Name)
		}
	}
	supplies, err := s.Supplies(ctx)
	check("supplies", err)
	for _, m := range supplies {
		check(m.Name, m.Check())
		if !m.Invented {
			t.Errorf("supply %s is not marked invented", m.Name)
		}
	}
	chambers, err := s.Chambers(ctx)
	check("chambers", err)
	for _, m := range chambers {
		check(m.Name, m.Check())
		if !m.Invented {
			t.Errorf("chamber %s is not marked invented", m.Name)
		}
	}
	recipes, err := s.Recipes(ctx)
	check("recipes", err)
	versions, overlays := 0, 0
	for _, r := range recipes {
		if !r.Invented {
			t.Errorf("recipe %s is not marked invented", r.Name)
		}
		vs, err := s.Versions(ctx, r.ID)
		check(r.Name, err)
		for _, v := range vs {
			check(r.Name, v.Check())
			versions++
			if v.OverID != 0 {
				overlays++
			}
		}
	}
	if len(recipes) != 5 || versions != 6 || overlays != 1 {
		t.Errorf("%d recipes, %d versions, %d overlays; want 5, 6, 1", len(recipes), versions, overlays)
	}
	pieces, err := s.Pieces(ctx)
	check("pieces", err)
	if len(pieces) != 1 || !pieces[0].Invented || pieces[0].OutsideID == 0 || pieces[0].Form.Check() != nil {
		t.Errorf("the example's pieces are %+v", pieces)
	}
	sets, err := s.Sets(ctx)
	check("sets", err)
	swatches, err := s.Swatches(ctx)
	check("swatches", err)
	if len(sets) != 6 || len(swatches) != 61 {
		t.Errorf("%d sets of %d swatches, want 6 of 61", len(sets), len(swatches))
	}
	for _, set := range sets {
		if !set.Invented {
			t.Errorf("set %s is not marked invented", set.Name)
		}
	}
	kinds := map[studio.EventKind]int{}
	for _, r := range records(t, s) {
		for _, step := range r.treatment.Steps {
			check("step", step.Check(1))
		}
		for _, e := range r.events {
			check(e.Client, e.Check(testNow))
			kinds[e.Kind]++
		}
		if r.Odd != nil || r.Repeats != nil {
			t.Errorf("swatch %d has events that make no sense: %v %v", r.treatment.Swatch, r.Odd, r.Repeats)
		}
	}
	for _, k := range []studio.EventKind{studio.Began, studio.Done, studio.Changed, studio.Noted, studio.Stopped, studio.Corrected} {
		if kinds[k] == 0 {
			t.Errorf("no event %q in the example", k)
		}
	}
}

type record struct {
	run.Record
	treatment studio.Treatment
	events    []studio.Event
}

// records returns every treatment of s with what happened to it.
func records(t *testing.T, s *store.Store) (out []record) {
	t.Helper()
	ctx := context.Background()
	ts, err := s.Treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		t.Fatal(err)
	}
	var ids []int64
	for _, tr := range ts {
		ids = append(ids, tr.ID)
	}
	events, err := s.Events(ctx, ids)
	if err != nil {
		t.Fatal(err)
	}
	for _, tr := range ts {
		out = append(out, record{run.Fold(tr, events[tr.ID]), tr, events[tr.ID]})
	}
	return out
}

// Four sets are done, one is to come and one runs: what its bench shows at testNow is the point
// of the example.
func TestTheBenchIsBusy(t *testing.T) {
	s := filled(t)
	ctx := context.Background()
	sets, err := s.Sets(ctx)
	if err != nil {
		t.Fatal(err)
	}
	running, planned := int64(0), int64(0)
	for _, set := range sets {
		if set.Design == studio.Fraction {
			planned = set.ID
		}
		if set.Name == "Hours over ammonia, bronze" {
			running = set.ID
		}
	}
	status := map[run.Status]int{}
	var entries []run.Entry
	for _, r := range records(t, s) {
		if r.treatment.SetID != running {
			if want := r.treatment.SetID == planned; (r.Status == run.Planned) != want || !want && r.Status != run.Finished {
				t.Errorf("treatment %d of a past set is %s", r.treatment.ID, r.Status)
			}
			continue
		}
		status[r.Status]++
		entries = append(entries, run.Entry{Treatment: r.treatment, Swatch: studio.Swatch{Number: r.treatment.Swatch}, Record: r.Record})
	}
	if status[run.Running] != 7 || status[run.Stopped] != 1 || status[run.Planned] != 4 {
		t.Errorf("the running set has %v, want 7 running, 1 stopped, 4 planned", status)
	}
	chambers, err := s.Chambers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	overdue, brush, hour := false, false, 0
	for _, task := range run.Board(testNow, entries, chambers) {
		overdue = overdue || task.Kind == studio.Fume && task.Overdue > 5*time.Minute && !task.Missed
		brush = brush || task.Kind == studio.BrushOut && !task.Dwell
		if task.Kind == studio.Fume && task.Left > 55*time.Minute && task.Left < 65*time.Minute {
			hour += len(task.Members)
		}
	}
	if !overdue || !brush || hour != 3 {
		t.Errorf("overdue in the chamber %v, one to brush out %v, %d with an hour left; want true, true, 3", overdue, brush, hour)
	}
}

// One past step was tapped late and corrected, and one amount was changed: both
// must be in what the records say, as they are in the truth.
func TestCorrectionAndChangeCount(t *testing.T) {
	s := filled(t)
	late, changed := 0, 0
	for _, r := range records(t, s) {
		fume := stepOf(r.treatment.Steps, studio.Fume)
		for _, e := range r.events {
			if e.Kind == studio.Corrected {
				late++
				if got := r.Steps[fume].Late; got < 0 || got > 5*time.Minute {
					t.Errorf("swatch %d: %s late after the correction, want a minute or so", r.treatment.Swatch, got)
				}
			}
		}
		for _, step := range r.Steps {
			if step.AmountNoted {
				changed++
				if step.Amount.Value != 19 {
					t.Errorf("swatch %d: the amount noted is %v, want 19", r.treatment.Swatch, step.Amount.Value)
				}
			}
		}
	}
	if late != 1 || changed != 1 {
		t.Errorf("%d corrections, %d amounts changed; want 1 and 1", late, changed)
	}
}

// Developing may be stopped and taken up again, and then has nothing left to do.
func TestDevelopTakesUpWhereItStopped(t *testing.T) {
	ctx := context.Background()
	s := filled(t)
	sets, err := s.Sets(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range sets {
		if set.Name != "Green over brown, bronze" { // three swatches: quick
			if err := s.BinItem(ctx, "set", set.ID); err != nil {
				t.Fatal(err)
			}
		}
	}
	short, stop := context.WithCancel(ctx)
	defer stop()
	err = Develop(short, s, 2, func(done, total int) {
		if total != 18 {
			t.Errorf("%d photographs to make, want 18", total)
		}
		if done == 4 {
			stop()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("stopped after four, Develop said %v", err)
	}
	photos := func() (all []studio.Photo) {
		for _, r := range records(t, s) {
			if r.treatment.Layer == 1 {
				p, err := s.PhotosOf(ctx, r.treatment.Swatch)
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, p...)
			}
		}
		return all
	}
	if n := len(photos()); n < 4 || n > 6 {
		t.Errorf("%d photographs kept when stopped after the fourth", n)
	}
	for range 2 {
		if err := Develop(ctx, s, 2, nil); err != nil {
			t.Fatal(err)
		}
		all := photos()
		if len(all) != 18 {
			t.Fatalf("%d photographs, want 18", len(all))
		}
		for _, p := range all {
			if p.Measurement == nil || !p.Measurement.Calibrated {
				t.Errorf("photograph %d of swatch %d is not measured", p.ID, p.Swatch)
			}
		}
	}
	if got, err := s.Looks(ctx); err != nil || len(got) != 6 {
		t.Errorf("%d looks (%v), want 6", len(got), err)
	}
}
