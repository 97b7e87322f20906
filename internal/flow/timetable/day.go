package timetable

import (
	"slices"

	"aerugo/internal/studio"
)

// NoLimit as a lag's Max says that the wait may last as long as it likes.
const NoLimit = 1 << 28

// The largest day that is planned.
const (
	MaxOps     = 1000    // operations in a day
	MaxMinutes = 1 << 16 // any time, duration or lag, in minutes: 45 days
)

// A Day is what has to be done and with what. Times are whole minutes from the
// day's start; 0 is its start.
type Day struct {
	Ops       []Op
	Resources []Resource
	Lags      []Lag
	Holds     []Hold
	Lids      []Lid
	FinishBy  int // everything is over by then; 0 for no such time
}

// An Op is one piece of work, done without a pause.
type Op struct {
	Name      string
	Swatch    string // what can be dropped as a whole; empty for what can't
	Minutes   int
	Needs     []Need // held while the operation lasts
	Earliest  int
	LatestEnd int // 0 for no such time
	Started   bool
	Start     int // when it started, for one that has
}

// A Need is so much of a resource.
type Need struct{ Resource, Amount int }

// A Resource is a pair of hands (Capacity 1), helpers (n), or a chamber's places.
type Resource struct {
	Name     string
	Capacity int
	Windows  []Window // when it can be used, in order; empty for always
}

// A Window is the time from From up to Till, in which Fewer of a resource's
// units are missing.
type Window struct{ From, Till, Fewer int }

// A Lag holds the wait from the end of From to the start of To between Min and
// Max. A negative Min lets To start before From has ended.
type Lag struct{ From, To, Min, Max int }

// A Hold takes Amount of a resource from the start of From to the end of To, as
// a swatch takes its place in a chamber from loading to unloading. It lasts a
// minute or more.
type Hold struct{ Resource, Amount, From, To int }

// A Lid is opened by each of its operations. Those that follow each other
// within Gap minutes share one opening.
type Lid struct {
	Name string
	Ops  []int
	Gap  int
}

// Check returns a *studio.Problem for what no day can be: a name that is no
// resource, a negative duration, a need above what there is.
func (d Day) Check() error {
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "spec", format, args...)
	}
	if len(d.Ops) == 0 {
		return bad("the day has no operations; give it at least one")
	}
	if len(d.Ops) > MaxOps {
		return bad("the day has %d operations; at most %d are planned at once", len(d.Ops), MaxOps)
	}
	inside := func(v int) bool { return v >= 0 && v <= MaxMinutes }
	for _, o := range d.Ops {
		switch {
		case !inside(o.Minutes):
			return bad("operation %q lasts %d minutes; write 0 to %d", o.Name, o.Minutes, MaxMinutes)
		case !inside(o.Earliest):
			return bad("operation %q starts at minute %d at the earliest; write 0 to %d", o.Name, o.Earliest, MaxMinutes)
		case !inside(o.LatestEnd):
			return bad("operation %q ends by minute %d; write 0 to %d", o.Name, o.LatestEnd, MaxMinutes)
		case o.Started && !inside(o.Start):
			return bad("operation %q started at minute %d; write 0 to %d", o.Name, o.Start, MaxMinutes)
		}
		for _, n := range o.Needs {
			if n.Resource < 0 || n.Resource >= len(d.Resources) {
				return bad("operation %q needs a resource that is not on the list", o.Name)
			}
			if r := d.Resources[n.Resource]; n.Amount < 0 || n.Amount > r.Capacity {
				return bad("operation %q needs %d of %q and there are %d; write 0 to %d", o.Name, n.Amount, r.Name, r.Capacity, r.Capacity)
			}
		}
	}
	for _, r := range d.Resources {
		if r.Capacity < 1 || r.Capacity > MaxMinutes {
			return bad("there are %d of %q; write 1 or more", r.Capacity, r.Name)
		}
		last := -1
		for _, w := range r.Windows {
			if !inside(w.From) || !inside(w.Till) || w.From >= w.Till || w.From < last {
				return bad("the hours %d to %d of %q are not in order; each must end after it begins and begin after the one before", w.From, w.Till, r.Name)
			}
			if w.Fewer < 0 || w.Fewer >= r.Capacity {
				return bad("%d of %d of %q are missing from %d to %d; write 0 to %d", w.Fewer, r.Capacity, r.Name, w.From, w.Till, r.Capacity-1)
			}
			last = w.Till
		}
	}
	op := func(i int) bool { return i >= 0 && i < len(d.Ops) }
	for _, l := range d.Lags {
		if !op(l.From) || !op(l.To) || l.From == l.To {
			return bad("a wait lies between two different operations of the day")
		}
		if l.Min < -MaxMinutes || l.Min > MaxMinutes || l.Max < l.Min || (l.Max > MaxMinutes && l.Max != NoLimit) {
			return bad("the wait from %q to %q is %d to %d minutes; its longest can't be below its shortest", d.Ops[l.From].Name, d.Ops[l.To].Name, l.Min, l.Max)
		}
	}
	for _, h := range d.Holds {
		if !op(h.From) || !op(h.To) || h.Resource < 0 || h.Resource >= len(d.Resources) {
			return bad("a place is held from one operation of the day to another, on a resource of the list")
		}
		if r := d.Resources[h.Resource]; h.Amount < 0 || h.Amount > r.Capacity {
			return bad("%d of %q are held from %q and there are %d; write 0 to %d", h.Amount, r.Name, d.Ops[h.From].Name, r.Capacity, r.Capacity)
		}
	}
	for _, l := range d.Lids {
		if !inside(l.Gap) {
			return bad("the lid %q is left open for %d minutes; write 0 to %d", l.Name, l.Gap, MaxMinutes)
		}
		for n, i := range l.Ops {
			if !op(i) || slices.Contains(l.Ops[:n], i) {
				return bad("the lid %q is opened once by each of its operations, which are on the list", l.Name)
			}
		}
	}
	if !inside(d.FinishBy) {
		return bad("the day is over by minute %d; write 0 to %d", d.FinishBy, MaxMinutes)
	}
	return nil
}

// horizon is a time by which a day that fits at all can be over: every
// operation and its longest least wait one after the other, in hours that are
// open (Bartusch, Möhring and Radermacher 1988, Annals of OR 16).
func (d Day) horizon() int {
	if d.FinishBy > 0 {
		return d.FinishBy
	}
	longest := make([]int, len(d.Ops))
	first := 0
	for i, o := range d.Ops {
		longest[i] = o.Minutes
		first = max(first, o.Earliest)
		if o.Started {
			first = max(first, o.Start+o.Minutes)
		}
	}
	for _, l := range d.Lags {
		longest[l.From] = max(longest[l.From], d.Ops[l.From].Minutes+l.Min)
		if l.Max < NoLimit {
			longest[l.To] = max(longest[l.To], -d.Ops[l.From].Minutes-l.Max)
		}
	}
	sum := first
	for _, v := range longest {
		sum += v
	}
	for _, r := range d.Resources {
		last := 0
		for _, w := range r.Windows {
			sum += w.From - last
			if w.Fewer > 0 {
				sum += w.Till - w.From
			}
			last = w.Till
		}
	}
	return min(sum, 4*MaxMinutes)
}
