package run

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"aerugo/internal/studio"

	"pgregory.net/rapid"
)

var noon = time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC)

func at(min int) time.Time { return noon.Add(time.Duration(min) * time.Minute) }

// treatment is wet 1 min, sprinkle 11 g/m2, fume 60 min (-5, +10), brush out, rinse.
func treatment() studio.Treatment {
	return studio.Treatment{ID: 5, Swatch: 12, Faces: studio.OnFront, Layer: 1, Steps: []studio.Step{
		{Kind: studio.Wet, Material: "water", Duration: time.Minute},
		{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light}},
		{Kind: studio.Fume, Material: "ammonia-water", Strength: 10, Duration: time.Hour, Early: 5 * time.Minute, Late: 10 * time.Minute, ChamberID: 9},
		{Kind: studio.BrushOut, Duration: 2 * time.Minute},
		{Kind: studio.Rinse},
	}}
}

// event is the id-th record of treatment 5, made with a key of its own.
func event(id int64, kind studio.EventKind, step, min int) studio.Event {
	return studio.Event{ID: id, Treatment: 5, Client: fmt.Sprint("key", id), Kind: kind, Step: step, At: at(min), Recorded: at(min), By: "Ines"}
}

func fold(events ...studio.Event) Record { return Fold(treatment(), events) }

func TestRecordFollowsTheTaps(t *testing.T) {
	var events []studio.Event
	check := func(status Status, current int) {
		t.Helper()
		if r := fold(events...); r.Status != status || r.Current != current {
			t.Errorf("after %d events: %s, step %d; want %s, step %d", len(events), r.Status, r.Current, status, current)
		}
	}
	check(Planned, 0)
	events = append(events, event(1, studio.Began, 0, 0))
	check(Running, 0)
	for i, min := range []int{2, 3, 75, 77} {
		events = append(events, event(int64(i+2), studio.Done, i, min))
		check(Running, i+1)
	}
	events = append(events, event(9, studio.Done, 4, 80))
	check(Finished, 5)

	r := fold(events...)
	if !r.Began.Equal(at(0)) || !r.Ended.Equal(at(80)) {
		t.Errorf("began %s, ended %s", r.Began, r.Ended)
	}
	fume := r.Steps[2]
	if !fume.Began.Equal(at(3)) || !fume.Ended.Equal(at(75)) || fume.Late != 12*time.Minute || fume.By != "Ines" {
		t.Errorf("the fume step: %+v", fume)
	}
	if within, ok := fume.Within(treatment().Steps[2]); within || !ok {
		t.Error("72 minutes of 60 (+10) are within the tolerance")
	}
	if fold(events[0]).Steps[0].State != Current || fold(events[0]).Steps[1].State != Waiting {
		t.Error("states of steps under way and to come")
	}
}

func TestSkippedStepsAreNotConfirmed(t *testing.T) {
	r := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 2), event(3, studio.Done, 3, 70))
	if r.Current != 4 || r.Status != Running {
		t.Errorf("current %d, %s", r.Current, r.Status)
	}
	for i := 1; i <= 2; i++ {
		if s := r.Steps[i]; s.State != Unconfirmed || !s.Ended.IsZero() || s.Late != 0 {
			t.Errorf("step %d: %+v", i+1, s)
		}
	}
	if s := r.Steps[3]; !s.Began.IsZero() || s.Late != 0 || !s.Ended.Equal(at(70)) {
		t.Errorf("the step after skipped ones: %+v", s)
	}
}

func TestSecondTapIsKeptNotCounted(t *testing.T) {
	again := event(4, studio.Done, 0, 6)
	again.Note = "tapped on the phone too"
	r := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 2), again, event(3, studio.Began, 0, 1))
	if r.Current != 1 || !r.Steps[0].Ended.Equal(at(2)) || !r.Began.Equal(at(0)) {
		t.Errorf("%+v", r)
	}
	if len(r.Repeats) != 2 || len(r.Notes) != 1 {
		t.Errorf("%d repeats, %d notes", len(r.Repeats), len(r.Notes))
	}
	same := event(2, studio.Done, 0, 2)
	if r := fold(event(1, studio.Began, 0, 0), same, same); len(r.Repeats) != 0 {
		t.Errorf("one tap sent twice counts as %v", r.Repeats)
	}
}

// A tap shown before it is stored and the stored row are one tap.
func TestStoredRowReplacesTheTap(t *testing.T) {
	stored := event(2, studio.Done, 0, 2)
	tap := stored
	tap.ID, tap.Recorded = 0, time.Time{}
	if r := fold(event(1, studio.Began, 0, 0), tap, stored); len(r.Repeats) != 0 || r.Current != 1 {
		t.Errorf("%+v", r)
	}
}

func TestCorrections(t *testing.T) {
	correct := func(id, of int64, min int) studio.Event {
		e := event(id, studio.Corrected, 0, min)
		e.Corrects = of
		return e
	}
	void := func(id, of int64) studio.Event {
		e := event(id, studio.Voided, 0, 500)
		e.Corrects = of
		return e
	}
	began, done := event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 9)
	for _, tc := range []struct {
		name    string
		more    []studio.Event
		current int
		ended   time.Time
	}{
		{"none", nil, 1, at(9)},
		{"a corrected time", []studio.Event{correct(3, 2, 4)}, 1, at(4)},
		{"the newer correction wins", []studio.Event{correct(3, 2, 4), correct(4, 2, 5)}, 1, at(5)},
		{"a correction corrected", []studio.Event{correct(3, 2, 4), correct(4, 3, 6)}, 1, at(6)},
		{"a correction voided", []studio.Event{correct(3, 2, 4), void(4, 3)}, 1, at(9)},
		{"voided", []studio.Event{void(3, 2)}, 0, time.Time{}},
		{"voided, and that voided", []studio.Event{void(3, 2), void(4, 3)}, 1, at(9)},
		{"voided after a correction", []studio.Event{correct(3, 2, 4), void(4, 2)}, 0, time.Time{}},
		{"naming itself", []studio.Event{correct(3, 3, 4)}, 1, at(9)},
		{"naming what is not there", []studio.Event{correct(3, 99, 4), void(4, 98)}, 1, at(9)},
	} {
		r := fold(append([]studio.Event{began, done}, tc.more...)...)
		if r.Current != tc.current || !r.Steps[0].Ended.Equal(tc.ended) {
			t.Errorf("%s: step %d, ended %s", tc.name, r.Current, r.Steps[0].Ended)
		}
	}
	// a second tap does not take the place of the first because that was corrected to later
	r := fold(began, event(2, studio.Done, 0, 3), event(3, studio.Done, 0, 5), correct(4, 2, 8))
	if !r.Steps[0].Ended.Equal(at(8)) || len(r.Repeats) != 1 || r.Repeats[0].ID != 3 {
		t.Errorf("corrected to after the second tap: ended %s, repeats %v", r.Steps[0].Ended, r.Repeats)
	}
	if !fold(began, event(2, studio.Done, 0, 3), correct(4, 1, -5)).Began.Equal(at(-5)) {
		t.Error("the beginning was not corrected")
	}
}

func TestCorrectionReplacesOnlyWhatItCarries(t *testing.T) {
	temp, rh, warmer := 18.0, 0.55, 21.0
	done := event(2, studio.Done, 1, 3)
	done.Amount, done.Note, done.TempC, done.RH = &studio.Amount{Value: 15, Unit: studio.GramPerM2}, "spilled some", &temp, &rh
	fix := event(3, studio.Corrected, 1, 3)
	fix.Corrects, fix.TempC, fix.Amount = 2, &warmer, &studio.Amount{Value: 13, Unit: studio.GramPerM2}
	r := fold(event(1, studio.Began, 0, 0), done, fix)
	if len(r.Room) != 1 || *r.Room[0].TempC != 21 || *r.Room[0].RH != 0.55 {
		t.Errorf("room %+v", r.Room)
	}
	if len(r.Notes) != 1 || r.Notes[0].Text != "spilled some" || r.Notes[0].Step != 1 {
		t.Errorf("notes %+v", r.Notes)
	}
	if s := r.Steps[1]; s.Amount.Value != 13 || !s.AmountNoted || len(s.Notes) != 1 {
		t.Errorf("step %+v", s)
	}
}

func TestAmountsReallyUsed(t *testing.T) {
	changed := event(2, studio.Changed, 1, 3)
	changed.Amount = &studio.Amount{Value: 20, Unit: studio.GramPerM2}
	again := event(3, studio.Changed, 1, 4)
	again.Amount = &studio.Amount{Value: 22, Unit: studio.GramPerM2}
	r := fold(event(1, studio.Began, 0, 0), again, changed)
	if s := r.Steps[1]; s.Amount.Value != 22 || !s.AmountNoted || r.Current != 0 {
		t.Errorf("%+v, step %d", s, r.Current)
	}
	if s := fold().Steps[1]; s.Amount.Value != 11 || s.AmountNoted {
		t.Errorf("as planned: %+v", s)
	}
}

func TestStoppedTreatment(t *testing.T) {
	stop := event(3, studio.Stopped, 1, 30)
	stop.Note = "dropped it"
	r := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 2), stop)
	if r.Status != Stopped || r.Why != "dropped it" || !r.Ended.Equal(at(30)) || r.Steps[0].State != Done || r.Steps[1].State != Dropped {
		t.Errorf("%+v", r)
	}
	void := event(4, studio.Voided, 0, 40)
	void.Corrects = 3
	if r := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 2), stop, void); r.Status != Running || r.Current != 1 {
		t.Errorf("taken back: %s, step %d", r.Status, r.Current)
	}
}

func TestOddRecordsBreakNothing(t *testing.T) {
	other := event(7, studio.Done, 4, 3)
	other.Treatment = 6
	r := fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 5, 3), event(3, studio.Done, -1, 3), event(4, "moonrise", 0, 3), other)
	if r.Current != 0 || len(r.Odd) != 2 {
		t.Errorf("step %d, odd %v", r.Current, r.Odd)
	}
	r = fold(event(1, studio.Done, 0, 3))
	if r.Status != Running || r.Current != 1 || !r.Began.IsZero() || !r.Steps[0].Began.IsZero() {
		t.Errorf("done before the beginning arrived: %+v", r)
	}
	r = fold(event(1, studio.Began, 0, 10), event(2, studio.Done, 0, 3))
	if r.Steps[0].Doubt == "" || r.Steps[0].Late != 0 {
		t.Errorf("ended before it began: %+v", r.Steps[0])
	}
	if r := Fold(studio.Treatment{ID: 5}, []studio.Event{event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 3)}); r.Current != 0 || len(r.Odd) != 1 {
		t.Errorf("a treatment without steps: %+v", r)
	}
}

// drawEvents makes up events: every kind, wild steps, corrections of anything
// before or after, keys used twice, some not stored yet.
func drawEvents(t *rapid.T) []studio.Event {
	kinds := []studio.EventKind{studio.Began, studio.Done, studio.Done, studio.Done, studio.Changed, studio.Noted, studio.Stopped, studio.Corrected, studio.Voided}
	n := rapid.IntRange(0, 14).Draw(t, "n")
	var events []studio.Event
	for i := 1; i <= n; i++ {
		e := event(int64(i), rapid.SampledFrom(kinds).Draw(t, "kind"), rapid.IntRange(-1, 5).Draw(t, "step"), rapid.IntRange(0, 8).Draw(t, "minute"))
		e.Recorded = at(i)
		if e.Kind == studio.Corrected || e.Kind == studio.Voided {
			e.Corrects = rapid.Int64Range(0, int64(n+1)).Draw(t, "corrects")
		}
		if rapid.IntRange(0, 5).Draw(t, "stored") == 0 {
			e.ID = 0
		}
		if rapid.IntRange(0, 5).Draw(t, "own key") == 0 {
			e.Client = rapid.SampledFrom([]string{"", "key1", "key2"}).Draw(t, "client")
		}
		if rapid.Bool().Draw(t, "with words") {
			e.Note = fmt.Sprint("note ", i)
			v := float64(i)
			e.TempC = &v
		}
		if rapid.Bool().Draw(t, "with amount") {
			e.Amount = &studio.Amount{Value: float64(i), Unit: studio.GramPerM2}
		}
		events = append(events, e)
	}
	return events
}

// The record depends on which events there are, not on their order or on how
// often each came.
func TestRecordDependsOnTheSetOfEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := drawEvents(t)
		want := fold(events...)
		mixed := slices.Clone(events)
		for _, e := range events {
			for range rapid.IntRange(0, 2).Draw(t, "again") {
				mixed = append(mixed, e)
			}
		}
		mixed = rapid.Permutation(mixed).Draw(t, "order")
		before := slices.Clone(mixed)
		if got := fold(mixed...); !reflect.DeepEqual(got, want) {
			t.Fatalf("in another order:\n%+v\nwant\n%+v", got, want)
		}
		if !reflect.DeepEqual(before, mixed) {
			t.Fatal("Fold changed the events it was given")
		}
	})
}

// Whatever happened, the parts of a record agree with each other.
func TestRecordAgreesWithItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := fold(drawEvents(t)...)
		last := -1
		for i, s := range r.Steps {
			if s.State == Done {
				last = i
			}
			if (s.State == Done) == s.Ended.IsZero() {
				t.Fatalf("step %d is %s, ended %s", i, s.State, s.Ended)
			}
		}
		if r.Current != last+1 {
			t.Fatalf("current %d, last done %d", r.Current, last)
		}
		switch r.Status {
		case Planned:
			if last >= 0 || !r.Began.IsZero() {
				t.Fatal("planned although something happened")
			}
		case Finished:
			if r.Current != len(r.Steps) || r.Ended.IsZero() {
				t.Fatal("finished with steps to go")
			}
		case Running:
			if r.Current >= len(r.Steps) || r.Steps[r.Current].State != Current || !r.Ended.IsZero() {
				t.Fatalf("running: %+v", r)
			}
		case Stopped:
			for _, s := range r.Steps {
				if s.State == Current || s.State == Waiting {
					t.Fatalf("stopped, but a step is %s", s.State)
				}
			}
		}
	})
}
