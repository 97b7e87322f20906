package benchday

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// quick keeps a random day to a few thousand bounds.
var quick = timetable.Limit{Steps: 3000}

func TestSheetsOfRandomDaysHold(t *testing.T) {
	fit, not, again := 0, 0, 0
	for seed := range 1000 {
		r := rand.New(rand.NewPCG(uint64(seed), 77))
		a := randomAsk(r)
		a.Finish, a.Tidy = quick, quick
		s, err := Make(a)
		if err != nil {
			t.Fatalf("day %d: %v", seed, err)
		}
		if !s.Fits {
			not++
			if len(s.Reasons) == 0 {
				t.Errorf("day %d does not fit for no reason", seed)
			}
			continue
		}
		fit++
		if err := broken(a, s, 0); err != nil {
			t.Fatalf("day %d: %v", seed, err)
		}
		if s.Bound.After(s.Finish) {
			t.Fatalf("day %d is done %v and can't be before %v", seed, s.Finish, s.Bound)
		}
		if seed%3 > 0 {
			continue
		}
		// some of it happens, late; the rest is planned again
		later := a
		later.Now = a.Now.Add(time.Duration(20+r.IntN(240)) * time.Minute)
		later.Entries = happen(a, s, later.Now, r)
		t2, err := Again(later, s.Starts)
		if err != nil {
			t.Fatalf("day %d again: %v", seed, err)
		}
		if !t2.Fits {
			t.Errorf("day %d again: %v", seed, t2.Reasons)
			continue
		}
		again++
		loose := 0
		if len(t2.Breaks) > 0 || !t2.Over.IsZero() {
			loose = 1 << 20
		}
		if err := broken(later, t2, loose); err != nil {
			t.Fatalf("day %d again: %v", seed, err)
		}
		for _, p := range partsOf(t2) {
			if !p.Done && !p.Going && p.Start.Before(later.Now.Truncate(time.Minute)) {
				t.Fatalf("day %d again: %d step %d is planned at %v, it is %v", seed, p.Treatment, p.Step, p.Start, later.Now)
			}
		}
	}
	t.Logf("%d fit, %d do not, %d planned again", fit, not, again)
	if fit < 700 || not < 15 || again < 200 {
		t.Errorf("%d fit, %d do not, %d planned again: too few of a kind were tried", fit, not, again)
	}
}

func partsOf(s Sheet) []Part {
	var out []Part
	for _, a := range s.Actions {
		out = append(out, a.Parts...)
	}
	return out
}

// asPlanned makes the taps of a sheet up to a time, all late by as much.
func asPlanned(a Ask, s Sheet, now time.Time, late time.Duration) []run.Entry {
	return tapped(a, s, now, func() time.Duration { return late })
}

// happen makes the taps of a sheet up to a time, each a little later than the one before.
func happen(a Ask, s Sheet, now time.Time, r *rand.Rand) []run.Entry {
	return tapped(a, s, now, func() time.Duration { return time.Duration(r.IntN(2)*r.IntN(6)) * time.Minute })
}

func tapped(a Ask, s Sheet, now time.Time, more func() time.Duration) []run.Entry {
	var out []run.Entry
	for _, e := range a.Entries {
		tr := e.Treatment
		var events []studio.Event
		late := time.Duration(0)
		parts := slices.DeleteFunc(partsOf(s), func(p Part) bool { return p.Treatment != tr.ID })
		slices.SortStableFunc(parts, func(x, y Part) int { return x.Start.Compare(y.Start) })
		tap := func(kind studio.EventKind, step int, at time.Time) bool {
			if at.After(now) {
				return false
			}
			events = append(events, studio.Event{ID: int64(len(events) + 1), Treatment: tr.ID, Client: "c" + string(rune('a'+len(events))), Kind: kind, Step: step, At: at, By: "A"})
			return true
		}
		for i, p := range parts {
			late += more()
			if i == 0 && !tap(studio.Began, 0, p.Start.Add(late)) {
				break
			}
			if i > 0 && p.What == Do && p.Step > 0 && tr.Steps[p.Step-1].Kind.Dwell() && tr.Steps[p.Step-1].Kind != studio.Fume && tr.Steps[p.Step-1].Kind != studio.Bury && tr.Steps[p.Step-1].Kind != studio.Pickle {
				if !tap(studio.Done, p.Step-1, p.Start.Add(late)) {
					break
				}
			}
			if p.Tap == -2 || p.Tap == -1 {
				continue
			}
			if !tap(studio.Done, p.Tap, p.End.Add(late)) {
				break
			}
		}
		out = append(out, entry(tr, events...))
	}
	return out
}
