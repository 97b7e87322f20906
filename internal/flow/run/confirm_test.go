package run

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func tap(kind studio.EventKind, step, min int) Tap {
	return Tap{Kind: kind, Step: step, At: at(min), By: "Ines", Client: "tap"}
}

func TestConfirmMakesTheEvent(t *testing.T) {
	temp := 19.0
	in := tap(studio.Done, 2, 130)
	in.TempC, in.Note = &temp, "late, phone rang"
	got, err := Confirm(onBench(5, 12, 2, 0), in)
	if err != nil {
		t.Fatal(err) // an hour late is recorded, not refused
	}
	want := []studio.Event{{Treatment: 5, Client: "tap", Kind: studio.Done, Step: 2, At: at(130), By: "Ines", TempC: &temp, Note: "late, phone rang"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
	for _, e := range got {
		if err := e.Check(at(140)); err != nil {
			t.Errorf("the store would refuse it: %v", err)
		}
	}
}

func TestDoneWithAnotherAmountIsTwoRecords(t *testing.T) {
	in := tap(studio.Done, 1, 3)
	in.Amount = &studio.Amount{Value: 20, Unit: studio.GramPerM2}
	entry := onBench(5, 12, 1, 2)
	got, err := Confirm(entry, in)
	if err != nil || len(got) != 2 || got[0].Kind != studio.Changed || got[1].Kind != studio.Done || got[0].Client == got[1].Client {
		t.Fatalf("%+v, %v", got, err)
	}
	r := Fold(entry.Treatment, append(got, studio.Event{Treatment: 5, Client: "b", Kind: studio.Began, At: at(0)}))
	if r.Current != 2 || r.Steps[1].Amount.Value != 20 {
		t.Errorf("%+v", r)
	}
}

func TestConfirmRefusesWhatCannotBe(t *testing.T) {
	planned := Entry{Treatment: treatment(), Record: fold()}
	var all []studio.Event
	for i := 0; i < 5; i++ {
		all = append(all, event(int64(i+2), studio.Done, i, i+1))
	}
	finished := Entry{Treatment: treatment(), Record: fold(append(all, event(1, studio.Began, 0, 0))...)}
	stopped := Entry{Treatment: treatment(), Record: fold(event(1, studio.Began, 0, 0), event(2, studio.Stopped, 0, 3))}
	blank := planned
	blank.Treatment.Blank = true
	run := onBench(5, 12, 2, 0)
	noKey, noTime, longKey := tap(studio.Done, 2, 5), tap(studio.Done, 2, 5), tap(studio.Done, 2, 5)
	noKey.Client, noTime.At, longKey.Client = "", time.Time{}, strings.Repeat("k", MaxKey+1)
	badAmount := tap(studio.Done, 2, 5)
	badAmount.Amount = &studio.Amount{Value: -1, Unit: studio.Gram}
	for _, tc := range []struct {
		name string
		e    Entry
		tap  Tap
		kind studio.Kind
	}{
		{"done, not started", planned, tap(studio.Done, 0, 5), studio.Conflict},
		{"stopped, not started", planned, tap(studio.Stopped, 0, 5), studio.Conflict},
		{"done, finished", finished, tap(studio.Done, 4, 50), studio.Conflict},
		{"done, given up", stopped, tap(studio.Done, 0, 50), studio.Conflict},
		{"stopped twice", stopped, tap(studio.Stopped, 0, 50), studio.Conflict},
		{"started twice", run, tap(studio.Began, 0, 50), studio.Conflict},
		{"a blank started", blank, tap(studio.Began, 0, 50), studio.Conflict},
		{"no such step", run, tap(studio.Done, 5, 50), studio.Invalid},
		{"a step below the first", run, tap(studio.Done, -1, 50), studio.Invalid},
		{"before it began", run, tap(studio.Done, 2, -30), studio.Invalid},
		{"changed to nothing", run, tap(studio.Changed, 2, 5), studio.Invalid},
		{"a note without words", run, tap(studio.Noted, 2, 5), studio.Invalid},
		{"a correction of nothing", run, tap(studio.Corrected, 2, 5), studio.Invalid},
		{"an amount below nought", run, badAmount, studio.Invalid},
		{"no key", run, noKey, studio.Invalid},
		{"a key too long", run, longKey, studio.Invalid},
		{"no time", run, noTime, studio.Invalid},
		{"no kind", run, tap("", 2, 5), studio.Invalid},
	} {
		got, err := Confirm(tc.e, tc.tap)
		p := studio.ProblemIn(err)
		if p == nil || p.Kind != tc.kind || len(got) != 0 {
			t.Errorf("%s: %v, %v", tc.name, got, err)
			continue
		}
		if !strings.HasSuffix(p.Text, ".") || strings.Contains(p.Text, "%!") {
			t.Errorf("%s: not a sentence: %s", tc.name, p.Text)
		}
	}
}

// A tap sent again because its answer was lost is not refused, though the
// treatment has gone on since.
func TestTapSentAgainIsWelcome(t *testing.T) {
	last := event(6, studio.Done, 4, 9)
	last.Client = "tap"
	e := Entry{Treatment: treatment(), Record: fold(event(1, studio.Began, 0, 0), last)}
	if e.Record.Status != Finished {
		t.Fatalf("%s", e.Record.Status)
	}
	got, err := Confirm(e, tap(studio.Done, 4, 9))
	if err != nil || len(got) != 1 || got[0].Client != "tap" {
		t.Errorf("%v, %v", got, err)
	}
	again := tap(studio.Done, 4, 9)
	again.Client = "another"
	if _, err := Confirm(e, again); err == nil {
		t.Error("another tap on what is finished")
	}
}

// A tap that a phone kept while another finished the treatment is the only word
// on its step, so it counts; one made after the end would turn the times round.
func TestTapOnAnUnconfirmedStepCountsAfterTheEnd(t *testing.T) {
	all := []studio.Event{event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 2), event(3, studio.Done, 1, 3), event(4, studio.Done, 4, 70)}
	e := Entry{Treatment: treatment(), Record: fold(all...)}
	if e.Record.Status != Finished || e.Record.Steps[2].State != Unconfirmed {
		t.Fatalf("%s, step 3 %s", e.Record.Status, e.Record.Steps[2].State)
	}
	got, err := Confirm(e, tap(studio.Done, 2, 62))
	if err != nil {
		t.Fatal(err)
	}
	r := fold(append(all, got...)...)
	if s := r.Steps[2]; s.State != Done || !s.Ended.Equal(at(62)) || len(r.Repeats) != 0 || r.Status != Finished || !r.Ended.Equal(at(70)) {
		t.Errorf("step 3: %+v; the treatment: %s at %v, %d repeats", s, r.Status, r.Ended, len(r.Repeats))
	}
	again := tap(studio.Done, 2, 63)
	again.Client = "another"
	if _, err := Confirm(Entry{Treatment: e.Treatment, Record: r}, again); studio.ProblemIn(err) == nil {
		t.Errorf("a second tap on that step: %v", err)
	}
	if _, err := Confirm(e, tap(studio.Done, 2, 200)); studio.ProblemIn(err) == nil {
		t.Errorf("a tap made after the end: %v", err)
	}
}

func TestConfirmToleratesRealBenches(t *testing.T) {
	run := onBench(5, 12, 2, 0)
	amount := tap(studio.Changed, 1, 30)
	amount.Amount = &studio.Amount{Value: 14, Unit: studio.GramPerM2}
	note := tap(studio.Noted, 2, 30)
	note.Note = "smells of vinegar"
	fix := tap(studio.Corrected, 2, 30)
	fix.Corrects = 2
	for name, in := range map[string]Tap{
		"a step skipped":                 tap(studio.Done, 4, 30),
		"a step done already":            tap(studio.Done, 1, 30),
		"a day late":                     tap(studio.Done, 2, 1440),
		"a clock a minute slow":          tap(studio.Done, 2, -2),
		"an amount remembered afterward": amount,
		"a note":                         note,
		"a correction":                   fix,
	} {
		if _, err := Confirm(run, in); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestStartTogether(t *testing.T) {
	a, b := Entry{Treatment: treatment(), Record: fold()}, Entry{Treatment: treatment(), Record: fold()}
	b.Treatment.ID, b.Treatment.Swatch = 6, 13
	got, err := StartTogether([]Entry{a, b, a}, at(0), "tap", "Ines")
	if err != nil || len(got) != 2 || got[0].Client == got[1].Client || got[0].Kind != studio.Began || !got[1].At.Equal(at(0)) {
		t.Fatalf("%+v, %v", got, err)
	}
	again, err := StartTogether([]Entry{a, b}, at(0), "tap", "Ines")
	if err != nil || !reflect.DeepEqual(got, again) {
		t.Errorf("the same tap makes other events: %+v", again)
	}
	started := onBench(6, 13, 1, 0)
	if got, err := StartTogether([]Entry{a, started}, at(0), "tap2", "Ines"); studio.ProblemIn(err) == nil || got != nil {
		t.Errorf("one was started already: %v, %v", got, err)
	}
	if _, err := StartTogether(nil, at(0), "tap", "Ines"); studio.ProblemIn(err) == nil {
		t.Errorf("nothing to start: %v", err)
	}
	if _, err := StartTogether([]Entry{a}, at(0), "", "Ines"); studio.ProblemIn(err) == nil {
		t.Errorf("no key: %v", err)
	}
}

func TestConfirmTogether(t *testing.T) {
	entries := []Entry{onBench(1, 3, 2, 0), onBench(2, 5, 2, 1)}
	task := Board(at(62), entries, boxes)[0]
	got, err := ConfirmTogether(entries, task.Members, tap(studio.Done, 0, 62))
	if err != nil || len(got) != 2 || got[0].Step != 2 || got[0].Treatment != 1 || got[1].Treatment != 2 || got[0].Client == got[1].Client {
		t.Errorf("%+v, %v", got, err)
	}
	one, err := ConfirmTogether(entries, task.Members[:1], tap(studio.Done, 0, 62))
	if err != nil || one[0].Client != "tap" {
		t.Errorf("%+v, %v", one, err)
	}
	if _, err := ConfirmTogether(entries[:1], task.Members, tap(studio.Done, 0, 62)); studio.ProblemIn(err) == nil {
		t.Errorf("a treatment that is gone: %v", err)
	}
}
