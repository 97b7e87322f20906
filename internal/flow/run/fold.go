// Package run says what the hands do next, turns taps into events, and reads
// from the events what really happened.
//
//	Confirm, StartTogether   a tap -> events
//	Fold                     events -> Record
//	Board                    records, now -> tasks
//	AsRun                    planned against what was done
//	BenchSheet               the same on paper
package run

import (
	"sort"
	"time"

	"aerugo/internal/studio"
)

// Status says how far a treatment has got.
type Status string

// The states of a treatment.
const (
	Planned  Status = "planned"
	Running  Status = "running"
	Finished Status = "finished"
	Stopped  Status = "stopped"
)

// State says how far a step has got.
type State string

// The states of a step.
const (
	Waiting     State = "waiting"
	Current     State = "under way"
	Done        State = "done"
	Unconfirmed State = "not confirmed" // a later step is done, this one was never tapped
	Dropped     State = "not done"      // the treatment was stopped before it
)

// A Remark is a note made on a treatment. Step is -1 when it belongs to none.
type Remark struct {
	At   time.Time
	By   string
	Step int
	Text string
}

// A Reading is the room as read at a step: degrees Celsius, and a fraction.
type Reading struct {
	At    time.Time
	Step  int
	TempC *float64
	RH    *float64
}

// A StepRecord is what is known of one step. Began and Ended are zero when not
// known: a later step that was confirmed says nothing about earlier times.
//
// Amount is what was really used if AmountNoted, else what was planned. Late is
// how much longer the step took than planned, negative when shorter; it is 0
// unless both times are known and a duration was planned. Doubt says in words
// why the times can't be right.
type StepRecord struct {
	State       State
	Began       time.Time
	Ended       time.Time
	Amount      studio.Amount
	AmountNoted bool
	Notes       []Remark
	Late        time.Duration
	Doubt       string
	By          string // who confirmed it
}

// Within reports whether the step took its planned time within its tolerance,
// and false in ok when that is not known.
func (r StepRecord) Within(s studio.Step) (within, ok bool) {
	if r.Began.IsZero() || r.Ended.IsZero() || s.Duration == 0 {
		return false, false
	}
	return r.Late <= s.Late && -r.Late <= s.Early, true
}

// A Record is what the events of a treatment say, all corrections counted.
//
// Current is the step under way, or the number of steps when all are done. Keys
// are the client keys seen, sorted. Repeats are second taps for what was tapped
// already, and Odd are events on a step that is not there; both are kept and
// not counted.
type Record struct {
	Status  Status
	Current int
	Began   time.Time
	Ended   time.Time
	Why     string // why it was stopped
	Steps   []StepRecord
	Notes   []Remark
	Room    []Reading
	Repeats []studio.Event
	Odd     []studio.Event
	Keys    []string
}

// Fold reads the events of t. It depends only on which events there are: their
// order and repeats of the same tap make no difference. Events of other
// treatments are passed over.
//
// A correction replaces the time of the event it names, and the amount, note
// and readings it carries itself; it may be corrected too. What is voided did
// not happen; voiding a correction brings the first words back.
func Fold(t studio.Treatment, events []studio.Event) Record {
	all := distinct(t.ID, events)
	r := Record{Status: Planned, Steps: make([]StepRecord, len(t.Steps))}
	for i, s := range t.Steps {
		r.Steps[i] = StepRecord{State: Waiting, Amount: s.Amount}
	}
	for _, e := range all {
		if e.Client != "" {
			r.Keys = append(r.Keys, e.Client)
		}
	}
	sort.Strings(r.Keys)

	first := map[studio.EventKind]*fact{}
	done := make([]*fact, len(t.Steps))
	for _, f := range facts(all) {
		if f.Step < 0 || f.Step >= len(t.Steps) {
			if f.Kind == studio.Done || f.Kind == studio.Changed {
				r.Odd = append(r.Odd, f.Event)
				continue
			}
			f.Step = -1
		}
		switch f.Kind {
		case studio.Began, studio.Stopped:
			if first[f.Kind] != nil {
				r.Repeats = append(r.Repeats, f.Event)
			} else {
				first[f.Kind] = &f
			}
		case studio.Done:
			if done[f.Step] != nil {
				r.Repeats = append(r.Repeats, f.Event)
			} else {
				done[f.Step] = &f
			}
		}
		r.keep(f)
	}
	if f := first[studio.Began]; f != nil {
		r.Status, r.Began = Running, f.At
	}
	r.times(t.Steps, done)
	if f := first[studio.Stopped]; f != nil {
		r.Status, r.Ended, r.Why = Stopped, f.At, f.Note
		for i := range r.Steps {
			if s := &r.Steps[i]; s.State == Waiting || s.State == Current {
				s.State = Dropped
			}
		}
	}
	r.amounts(all)
	sort.SliceStable(r.Notes, func(i, j int) bool { return r.Notes[i].At.Before(r.Notes[j].At) })
	sort.SliceStable(r.Room, func(i, j int) bool { return r.Room[i].At.Before(r.Room[j].At) })
	for i := range r.Steps {
		notes := r.Steps[i].Notes
		sort.SliceStable(notes, func(a, b int) bool { return notes[a].At.Before(notes[b].At) })
	}
	return r
}

// keep notes the words and readings of a fact.
func (r *Record) keep(f fact) {
	if f.Note != "" {
		m := Remark{At: f.At, By: f.By, Step: f.Step, Text: f.Note}
		r.Notes = append(r.Notes, m)
		if f.Step >= 0 {
			r.Steps[f.Step].Notes = append(r.Steps[f.Step].Notes, m)
		}
	}
	if f.TempC != nil || f.RH != nil {
		r.Room = append(r.Room, Reading{At: f.At, Step: f.Step, TempC: f.TempC, RH: f.RH})
	}
}

// times fills in the state and times of the steps.
func (r *Record) times(steps []studio.Step, done []*fact) {
	last := -1
	for i, f := range done {
		if f != nil {
			last = i
		}
	}
	if last >= 0 {
		r.Status = Running
	}
	r.Current = last + 1
	if last >= 0 && r.Current == len(steps) {
		r.Status, r.Ended = Finished, done[last].At
	}
	before := r.Began
	for i := range steps {
		s := &r.Steps[i]
		s.Began = before
		switch f := done[i]; {
		case f != nil:
			s.State, s.Ended, s.By = Done, f.At, f.By
		case i < last:
			s.State = Unconfirmed
		case i == r.Current && r.Status == Running:
			s.State = Current
		}
		before = s.Ended
		if s.Began.IsZero() || s.Ended.IsZero() {
			continue
		}
		if s.Ended.Before(s.Began) {
			s.Doubt = "it ended before it began; correct one of the two times"
			continue
		}
		if steps[i].Duration > 0 {
			s.Late = s.Ended.Sub(s.Began) - steps[i].Duration
		}
	}
}

// amounts fills in what was really used: of several words on one step, those
// about the latest time.
func (r *Record) amounts(all []studio.Event) {
	latest := make([]*fact, len(r.Steps))
	for _, f := range facts(all) {
		if f.Amount == nil || f.Step < 0 || f.Step >= len(r.Steps) || (f.Kind != studio.Changed && f.Kind != studio.Done) {
			continue
		}
		if old := latest[f.Step]; old == nil || !f.At.Before(old.At) {
			latest[f.Step] = &f
		}
	}
	for i, f := range latest {
		if f != nil {
			r.Steps[i].Amount, r.Steps[i].AmountNoted = *f.Amount, true
		}
	}
}
