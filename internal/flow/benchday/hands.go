package benchday

import (
	"slices"
	"time"

	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// span is from a minute up to another.
type span struct{ from, till int }

// there is when a person's hands can be used, in minutes from zero, in order.
// Without overnight only the first day counts.
func (d *draft) there(p studio.BenchPerson, later int) []span {
	begins, ends := time.Time{}, time.Time{}
	for _, q := range d.ask.Wish.People {
		for _, h := range q.There {
			if h.Till.After(d.ask.Now) && (begins.IsZero() || h.From.Before(begins)) {
				begins = h.From
			}
		}
	}
	if begins.Before(d.ask.Now) {
		begins = d.ask.Now
	}
	date := func(t time.Time) string { return t.In(d.ask.Now.Location()).Format("2006-01-02") }
	counts := func(h studio.Hours) bool { return d.ask.Wish.Overnight || date(h.From) <= date(begins) }
	for _, q := range d.ask.Wish.People {
		for _, h := range q.There {
			if counts(h) && h.Till.After(ends) {
				ends = h.Till
			}
		}
	}
	var out []span
	for _, h := range p.There {
		if !counts(h) {
			continue
		}
		s := span{upTo(h.From.Sub(d.zero)), d.minute(h.Till)}
		if h.Till.Equal(ends) {
			s.till += later // who stays to the last stays longer
		}
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b span) int { return a.from - b.from })
	for _, h := range p.Away {
		from, till := d.minute(h.From), upTo(h.Till.Sub(d.zero))
		var left []span
		for _, s := range out {
			if till <= s.from || from >= s.till {
				left = append(left, s)
				continue
			}
			if from > s.from {
				left = append(left, span{s.from, from})
			}
			if till < s.till {
				left = append(left, span{till, s.till})
			}
		}
		out = left
	}
	var joined []span
	for _, s := range out {
		s.from = max(s.from, 0)
		switch last := len(joined) - 1; {
		case s.till <= s.from:
		case last >= 0 && s.from <= joined[last].till:
			joined[last].till = max(joined[last].till, s.till)
		default:
			joined = append(joined, s)
		}
	}
	return joined
}

// level is how many pairs of hands there are over a span.
type level struct {
	span
	hands int
}

// levels is how many people are there, where it is one or more.
func (d *draft) levels(later int) []level {
	var cuts []int
	var all [][]span
	for _, p := range d.ask.Wish.People {
		s := d.there(p, later)
		all = append(all, s)
		for _, x := range s {
			cuts = append(cuts, x.from, x.till)
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var out []level
	for i := 1; i < len(cuts); i++ {
		n := 0
		for _, s := range all {
			if slices.ContainsFunc(s, func(x span) bool { return x.from <= cuts[i-1] && cuts[i] <= x.till }) {
				n++
			}
		}
		if n == 0 {
			continue
		}
		if last := len(out) - 1; last >= 0 && out[last].till == cuts[i-1] && out[last].hands == n {
			out[last].till = cuts[i]
			continue
		}
		out = append(out, level{span{cuts[i-1], cuts[i]}, n})
	}
	return out
}

// windows are the levels as a resource's hours, and the most hands at once.
func windows(levels []level) (most int, out []timetable.Window) {
	for _, l := range levels {
		most = max(most, l.hands)
	}
	for _, l := range levels {
		out = append(out, timetable.Window{From: l.from, Till: l.till, Fewer: most - l.hands})
	}
	return most, out
}
