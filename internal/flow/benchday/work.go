package benchday

import (
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// What a piece of work is, beside the step itself.
const (
	Do      = "do"       // the step, by hand
	PutIn   = "put in"   // into a chamber, a bath or a heap of salt; the dwell begins
	TakeOut = "take out" // the dwell ends
	SeeTo   = "see to"   // a wait ends and the next one begins, or it was the last
	Begin   = "begin"    // a treatment that begins with a wait
	onRack  = "on"       // the moment it takes a place to dry
	offRack = "off"
)

// why a wait between two pieces of work has the bounds it has.
type why int

const (
	follows why = iota // one step after the other
	dwells             // a step that runs by itself
	stands             // a face that can't wait long for the next step
	chained            // a block goes in together
	ordered            // the set's random order
	over               // an overlay on its base
	racked             // a moment beside another
)

// A work is one piece of it: what an operation of the timetable stands for.
type work struct {
	entry   int
	step    int
	what    string
	minutes int
	assumed bool
	silent  bool // has no tap of its own: the next one says that it was done
	lid     bool // a chamber is opened for it
	chamber int64

	done       bool // or under way: its times are facts
	start, end int  // minutes from zero, of facts
	going      bool
}

// A tie holds two pieces of work together.
type tie struct {
	from, to    int
	least, most int
	why         why
	entry, step int // whose step it is about
	assumed     bool
}

// A place is held from one piece of work to another.
type place struct {
	chamber  int64 // 0 a place to dry
	from, to int
}

// A draft is a day's work before it is a timetable.Day.
type draft struct {
	ask      *Ask
	zero     time.Time
	now      int
	hands    int // when the only pair of hands was last done with anything that is a fact
	works    []work
	ties     []tie
	places   []place
	of       [][]int // the works of each entry, in order
	notes    []string
	fillings [][]int     // entries of one block
	atMost   map[int]int // minutes by which single ties may be loosened; nil: all as they are
	give     int         // minutes by which what runs already may break its limits
}

func inside(k studio.StepKind) bool {
	return k == studio.Fume || k == studio.Bury || k == studio.Pickle
}

// turned reports whether step i is a flip between two stays in one chamber, so
// that the lid is opened once for it.
func turned(steps []studio.Step, i int) bool {
	return i > 0 && i+1 < len(steps) && steps[i].Kind == studio.Flip && steps[i-1].Kind == studio.Fume && steps[i+1].Kind == studio.Fume &&
		steps[i-1].ChamberID == steps[i+1].ChamberID
}

// lay adds the work of one treatment.
func (d *draft) lay(e int) {
	t := d.ask.Entries[e].Treatment
	prev, in := -1, -1
	var wait *tie // the wait under way, for what ends it
	add := func(step int, what string, minutes int, assumed bool) int {
		d.works = append(d.works, work{entry: e, step: step, what: what, minutes: minutes, assumed: assumed})
		n := len(d.works) - 1
		d.of[e] = append(d.of[e], n)
		return n
	}
	var link func(n int)
	link = func(n int) {
		switch {
		case wait != nil:
			w := *wait
			w.from, w.to = prev, n
			if t.Steps[w.step].Kind == studio.Dry && d.ask.Wish.DryingPlaces > 0 {
				wait = nil
				from := d.works[n] // the moments stand before it in the order of work
				d.works, d.of[e] = d.works[:n], d.of[e][:len(d.of[e])-1]
				on := add(w.step, onRack, 0, false)
				off := add(w.step, offRack, 0, false)
				d.works = append(d.works, from)
				n = len(d.works) - 1
				d.of[e] = append(d.of[e], n)
				w.to = n
				d.ties = append(d.ties, tie{from: prev, to: on, why: racked, entry: e, step: w.step}, tie{from: off, to: n, why: racked, entry: e, step: w.step})
				d.places = append(d.places, place{0, on, off})
			}
			d.ties = append(d.ties, w)
			wait = nil
		case prev >= 0:
			l := tie{from: prev, to: n, most: timetable.NoLimit, entry: e, step: d.works[prev].step}
			if s := t.Steps[l.step]; d.works[prev].what == Do {
				if m, ok := standing[s.Kind]; ok {
					l.most, l.why, l.assumed = m, stands, true
					if s.Late > 0 {
						l.most, l.assumed = int(s.Late/time.Minute), false
					}
					for _, x := range d.ask.Wish.Stretch {
						if x.Treatment == t.ID && x.Step == l.step {
							l.most += x.Minutes
						}
					}
				}
			}
			d.ties = append(d.ties, l)
		}
		prev = n
	}
	for i, s := range t.Steps {
		switch {
		case inside(s.Kind):
			if i == 0 || !turned(t.Steps, i-1) { // else it lies in the chamber still
				n := add(i, PutIn, handling, false)
				d.works[n].lid, d.works[n].chamber = s.ChamberID != 0, s.ChamberID
				if prev >= 0 && wait == nil && d.works[prev].what == Do {
					d.works[prev].silent = true
				}
				link(n)
				in = prev
			}
			ends := handling
			if turned(t.Steps, i+1) {
				ends = 0
			}
			least, most, assumed := d.ask.bounds(t.ID, i, s, ends)
			wait = &tie{least: least, most: most, why: dwells, entry: e, step: i, assumed: assumed}
			if ends == 0 {
				continue
			}
			n := add(i, TakeOut, handling, false)
			d.works[n].lid, d.works[n].chamber = s.ChamberID != 0, s.ChamberID
			link(n)
			if s.ChamberID != 0 {
				d.places = append(d.places, place{s.ChamberID, in, prev})
			}
		case s.Kind.Dwell():
			if wait != nil {
				n := add(i-1, SeeTo, 1, false)
				link(n)
			} else if prev < 0 {
				n := add(i, Begin, 1, false)
				link(n)
			}
			ends := 0
			if i+1 == len(t.Steps) || t.Steps[i+1].Kind.Dwell() {
				ends = 1 // the tap that ends it comes when that minute is over
			}
			least, most, assumed := d.ask.bounds(t.ID, i, s, ends)
			wait = &tie{least: least, most: most, why: dwells, entry: e, step: i, assumed: assumed}
			if i+1 == len(t.Steps) {
				n := add(i, SeeTo, 1, false)
				link(n)
			}
		default:
			minutes, assumed := d.ask.minutesOf(s)
			n := add(i, Do, minutes, assumed)
			if turned(t.Steps, i) {
				d.works[n].lid, d.works[n].chamber = t.Steps[i-1].ChamberID != 0, t.Steps[i-1].ChamberID
			}
			link(n)
		}
	}
}

// tell fills in what the record of an entry says was done, and when. planned
// gives the start the timetable before had, or false.
func (d *draft) tell(e int, planned func(w work) (start, minutes int, ok bool)) {
	entry := d.ask.Entries[e]
	r, steps := entry.Record, entry.Treatment.Steps
	if r.Status == run.Planned {
		return
	}
	at := func(t time.Time, after int) int {
		if t.IsZero() {
			return after
		}
		return min(max(int(t.Sub(d.zero)/time.Minute), after), d.now)
	}
	last := at(r.Began, 0)
	all := true
	for _, n := range d.of[e] {
		w := &d.works[n]
		s := r.Steps[w.step]
		var done bool
		var ended time.Time
		switch w.what {
		case Begin:
			done, ended = true, r.Began
		case PutIn, onRack:
			done, ended = w.step <= r.Current, s.Began
		default:
			done, ended = w.step < r.Current, s.Ended
		}
		if !done {
			if !all {
				return
			}
			all = false
			start, minutes, ok := planned(*w)
			switch {
			case !ok || w.what != Do || w.step != r.Current || start > d.minute(d.ask.Now) || start < last || start < d.hands:
			case start+minutes > d.now:
				w.done, w.going, w.start, w.end = true, true, start, start+minutes
			case w.silent:
				w.done, w.start, w.end = true, start, start+minutes
				last, all = w.end, true
				continue
			}
			return
		}
		w.done, w.end = true, at(ended, last)
		switch {
		case w.what == Do && (w.step == 0 || steps[w.step-1].Kind.Dwell()):
			w.start = max(last, w.end-2*w.minutes) // begun by a tap; long waits before it are not work
		default:
			w.start = max(last, w.end-w.minutes)
		}
		last = w.end
	}
}
