package timetable

import (
	"fmt"
	"slices"
	"strings"
)

// A Kind sorts reasons and fixes.
type Kind string

// The reasons why a day does not fit, and what would make it fit.
const (
	Circle  Kind = "circle"  // the waits between Ops contradict each other
	Hours   Kind = "hours"   // operation Ops[0] has no time at all
	Load    Kind = "load"    // a resource is needed for longer than it is there
	Clash   Kind = "clash"   // each alone has its time, not all together
	Drop    Kind = "drop"    // leave Swatches for another day
	Stretch Kind = "stretch" // let the longest of wait Lag be Minutes longer
	Later   Kind = "later"   // finish, and keep the last hours open, Minutes longer
)

// A Reason is one thing that stands in a day's way.
type Reason struct {
	Kind     Kind
	Ops      []int
	Resource int
	Need     int // unit-minutes of the resource that are needed,
	Have     int // and those there are
}

// A Fix is one change that, by itself, makes a day fit; it was tried.
type Fix struct {
	Kind     Kind
	Swatches []string
	Lag      int
	Minutes  int
	Least    bool // fewer minutes were proven not to do
}

// Text is the reason in one sentence.
func (r Reason) Text(d Day) string {
	var names []string
	for _, i := range r.Ops {
		names = append(names, d.Ops[i].Name)
	}
	switch r.Kind {
	case Circle:
		return fmt.Sprintf("The waits between %s contradict each other.", strings.Join(names, ", "))
	case Hours:
		return fmt.Sprintf("%s has no time left between its earliest start and its latest end.", names[0])
	case Load:
		return fmt.Sprintf("%s: %d min are needed, %d min are there.", d.Resources[r.Resource].Name, r.Need, r.Have)
	}
	return "Each swatch fits alone, but not all of them together."
}

// Text is the fix in one sentence.
func (f Fix) Text(d Day) string {
	switch f.Kind {
	case Drop:
		return fmt.Sprintf("It fits without %s.", strings.Join(f.Swatches, ", "))
	case Stretch:
		l := d.Lags[f.Lag]
		return fmt.Sprintf("It fits if %s may wait up to %d min after %s, %d min more than now.", d.Ops[l.To].Name, l.Max+f.Minutes, d.Ops[l.From].Name, f.Minutes)
	}
	return fmt.Sprintf("It fits if the day is %d min longer.", f.Minutes)
}

// loads lists the resources that are asked for too much.
func loads(d Day) []Reason {
	end := d.horizon()
	var out []Reason
	least, circle := paths(d)
	for r, res := range d.Resources {
		need, have := 0, end*res.Capacity
		if len(res.Windows) > 0 {
			have = 0
			for _, w := range res.Windows {
				have += max(0, min(w.Till, end)-w.From) * (res.Capacity - w.Fewer)
			}
		}
		for _, h := range holdsOf(d, r) {
			long := d.Ops[h.To].Minutes
			if h.From != h.To && circle == nil && least[h.From][h.To] > 0 {
				long += least[h.From][h.To]
			}
			need += h.Amount * long
		}
		if need > have {
			out = append(out, Reason{Kind: Load, Resource: r, Need: need, Have: have})
		}
	}
	return out
}

// why says what stands in the way of a day that can't fit.
func why(d Day) []Reason {
	out := loads(d)
	if least, circle := paths(d); circle == nil {
		for i := range d.Ops {
			alone := d
			alone.Ops = slices.Clone(d.Ops)
			for j := range alone.Ops {
				if j != i && (d.Ops[j].Swatch == "" || d.Ops[j].Swatch != d.Ops[i].Swatch) {
					alone.Ops[j].Needs = nil
				}
			}
			alone.Holds = nil
			if build(alone, least).broken {
				out = append(out, Reason{Kind: Hours, Ops: []int{i}})
				break
			}
		}
	}
	if len(out) == 0 {
		out = append(out, Reason{Kind: Clash})
	}
	return out
}

// tryOut looks for any timetable of a changed day, in few steps.
func tryOut(d Day, seed uint64, clock *meter) ([]int, outcome) {
	least, circle := paths(d)
	if circle != nil {
		return nil, nothing
	}
	steps := 300_000
	if clock.limit.Steps > 0 {
		steps = max(1, min(steps, clock.limit.Steps-clock.spent))
	}
	short := &meter{limit: Limit{Steps: steps, Stop: func() bool { return !clock.left(0) }}}
	s := newSearch(build(d, least), dice(seed), short)
	r := s.first()
	clock.left(short.spent)
	return s.best, r
}

// without is the day less some swatches.
func (d Day) without(swatches []string) Day {
	at := make([]int, len(d.Ops))
	out := Day{Resources: d.Resources, FinishBy: d.FinishBy}
	for i, o := range d.Ops {
		at[i] = -1
		if o.Swatch == "" || !slices.Contains(swatches, o.Swatch) {
			at[i] = len(out.Ops)
			out.Ops = append(out.Ops, o)
		}
	}
	for _, l := range d.Lags {
		if at[l.From] >= 0 && at[l.To] >= 0 {
			out.Lags = append(out.Lags, Lag{at[l.From], at[l.To], l.Min, l.Max})
		}
	}
	for _, h := range d.Holds {
		if at[h.From] >= 0 && at[h.To] >= 0 {
			out.Holds = append(out.Holds, Hold{h.Resource, h.Amount, at[h.From], at[h.To]})
		}
	}
	return out
}

// longer is the day with its end and the last hours put off.
func (d Day) longer(by int) Day {
	if d.FinishBy > 0 {
		d.FinishBy = min(d.FinishBy+by, MaxMinutes)
	}
	res := slices.Clone(d.Resources)
	for r := range res {
		if n := len(res[r].Windows); n > 0 {
			res[r].Windows = slices.Clone(res[r].Windows)
			res[r].Windows[n-1].Till += by
		}
	}
	d.Resources = res
	return d
}

// fixes tries what would make the day fit: one swatch less (or as few as do),
// one wait longer, a longer day.
func fixes(d Day, seed uint64, clock *meter) []Fix {
	var out []Fix
	work := map[string]int{}
	var swatches []string
	for _, o := range d.Ops {
		if o.Swatch == "" || o.Started {
			continue
		}
		if _, ok := work[o.Swatch]; !ok {
			swatches = append(swatches, o.Swatch)
		}
		work[o.Swatch] += o.Minutes
	}
	for _, o := range d.Ops {
		if o.Started {
			swatches = slices.DeleteFunc(swatches, func(s string) bool { return s == o.Swatch })
		}
	}
	fits := func(d Day) bool {
		if len(d.Ops) == 0 {
			return false
		}
		_, r := tryOut(d, seed, clock)
		return r == found
	}
	for _, s := range swatches {
		if !clock.left(0) {
			return out
		}
		if fits(d.without([]string{s})) {
			out = append(out, Fix{Kind: Drop, Swatches: []string{s}})
		}
	}
	if len(out) == 0 {
		slices.SortStableFunc(swatches, func(a, b string) int { return work[b] - work[a] })
		for k := 2; k < len(swatches) && clock.left(0); k++ {
			if fits(d.without(swatches[:k])) {
				out = append(out, Fix{Kind: Drop, Swatches: slices.Clone(swatches[:k])})
				break
			}
		}
	}
	stretched := func(k, by int) Day {
		e := d
		e.Lags = slices.Clone(d.Lags)
		e.Lags[k].Max = min(NoLimit, e.Lags[k].Max+by)
		return e
	}
	for k, l := range d.Lags {
		if l.Max == NoLimit || !clock.left(0) {
			continue
		}
		starts, r := tryOut(stretched(k, NoLimit), seed, clock)
		if r != found {
			continue
		}
		most := starts[l.To] - starts[l.From] - d.Ops[l.From].Minutes - l.Max
		f := shortest(most, func(by int) outcome {
			_, r := tryOut(stretched(k, by), seed, clock)
			return r
		})
		f.Kind, f.Lag = Stretch, k
		out = append(out, f)
	}
	const day = 24 * 60
	if _, r := tryOut(d.longer(day), seed, clock); r == found {
		f := shortest(day, func(by int) outcome {
			_, r := tryOut(d.longer(by), seed, clock)
			return r
		})
		f.Kind = Later
		out = append(out, f)
	}
	return out
}

// shortest halves the way down from minutes that do.
func shortest(do int, try func(by int) outcome) Fix {
	f := Fix{Minutes: do, Least: true}
	for not := 0; f.Minutes-not > 1; {
		by := not + (f.Minutes-not)/2
		switch try(by) {
		case found:
			f.Minutes, f.Least = by, true
		case nothing:
			not = by
		default:
			not, f.Least = by, false
		}
	}
	return f
}
