package demo

import (
	"math/rand/v2"
	"sort"
	"time"

	"aerugo/internal/studio"
)

// A ran is how one treatment went: when it began and when each step ended, as
// far as it got.
type ran struct {
	began time.Time
	ended []time.Time
}

// start returns when step i was begun.
func (r ran) start(i int) time.Time {
	if i == 0 {
		return r.began
	}
	return r.ended[i-1]
}

// work runs treatments begun together by one pair of hands, as a bench day
// goes: whoever is ready first is served first, a step that runs by the clock
// ends when the hands are free to end it, and now and then somebody is at lunch.
func work(treatments []studio.Treatment, start time.Time, rng *rand.Rand) []ran {
	runs := make([]ran, len(treatments))
	ready := make([]time.Time, len(treatments)) // when the current step wants hands
	for i := range runs {
		runs[i].began, ready[i] = start, start
	}
	free := start
	for {
		next := -1
		for i := range runs {
			if len(runs[i].ended) < len(treatments[i].Steps) && (next < 0 || ready[i].Before(ready[next])) {
				next = i
			}
		}
		if next < 0 {
			return runs
		}
		at := ready[next]
		if at.Before(free) {
			at = free
		}
		s := treatments[next].Steps[len(runs[next].ended)]
		if s.Kind.Dwell() {
			at = at.Add(seconds(20 + 50*rng.Float64()))
			if rng.Float64() < 0.04 {
				at = at.Add(seconds(60 * (6 + 12*rng.Float64())))
			}
		} else {
			at = at.Add(seconds(s.Duration.Seconds() * (0.75 + 0.4*rng.Float64())))
		}
		at = at.Truncate(time.Second)
		free = at
		runs[next].ended = append(runs[next].ended, at)
		ready[next] = at
		if k := len(runs[next].ended); k < len(treatments[next].Steps) {
			if s := treatments[next].Steps[k]; s.Kind.Dwell() {
				ready[next] = at.Add(s.Duration)
			}
		}
	}
}

// upTo returns how a treatment went whose step number step is under way and was
// begun at since; the steps before took their own time.
func upTo(t studio.Treatment, step int, since time.Time, rng *rand.Rand) ran {
	r := ran{ended: make([]time.Time, step)}
	at := since
	for k := step - 1; k >= 0; k-- {
		r.ended[k] = at.Truncate(time.Second)
		took := t.Steps[k].Duration.Seconds()
		if t.Steps[k].Kind.Dwell() {
			took += 20 + 90*rng.Float64()
		} else {
			took *= 0.9 + 0.5*rng.Float64()
		}
		at = at.Add(-seconds(took))
	}
	r.began = at.Truncate(time.Second)
	return r
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// taps returns the records of how treatment t of piece n went.
func (r ran) taps(n int, t studio.Treatment, by string) []studio.Event {
	out := []studio.Event{{Treatment: t.ID, Client: tapKey(n, t, "began", 0), Kind: studio.Began, At: r.began.UTC(), By: by}}
	for k, at := range r.ended {
		out = append(out, studio.Event{Treatment: t.ID, Client: tapKey(n, t, "done", k), Kind: studio.Done, Step: k, At: at.UTC(), By: by})
	}
	return out
}

// stepOf returns the place of the first step of a kind, or -1.
func stepOf(steps []studio.Step, kind studio.StepKind) int {
	for i, s := range steps {
		if s.Kind == kind {
			return i
		}
	}
	return -1
}

// sortEvents puts records in the order they happened; those of one moment keep theirs.
func sortEvents(es []studio.Event) {
	sort.SliceStable(es, func(i, j int) bool { return es[i].At.Before(es[j].At) })
}
