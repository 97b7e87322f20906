package last

import (
	"fmt"
	"slices"
	"time"

	"aerugo/internal/calendar"
	"aerugo/internal/studio"
)

// A Due is the next look at a test.
type Due struct {
	Test     studio.WearTest
	Protocol Protocol
	At       time.Time
	Now      bool // it is time
	Words    string
}

// early is how much before its time a look counts: a tenth of the wait, at most a
// week, so that who comes on Friday for what is due on Monday is not asked again.
func early(wait time.Duration) time.Duration { return min(wait/10, 7*day) }

// DueOf returns when a test is to be looked at next, and false when nothing more is:
// it has ended, or every look was made. Each reading serves the latest look that was
// due by then.
func DueOf(t studio.WearTest, readings []studio.WearReading, now time.Time) (Due, bool) {
	p, ok := ProtocolOf(t.Protocol, t.Version)
	if !ok {
		return Due{}, false
	}
	var last time.Time
	for _, r := range studio.StandingWear(readings) {
		switch r.Kind {
		case studio.WearEnded:
			return Due{}, false
		case studio.WearRead:
			last = r.At
		}
	}
	next, ok := p.next(t.Start, last)
	if !ok {
		return Due{}, false
	}
	d := Due{Test: t, Protocol: p, At: next, Now: !next.After(now)}
	late := now.Sub(next)
	switch {
	case late >= 2*day && p.Upkeep:
		d.Words = fmt.Sprintf("wax it again: due %s ago", longSpan(late))
	case late >= 2*day:
		d.Words = fmt.Sprintf("look at it: due %s ago", longSpan(late))
	case d.Now && p.Upkeep:
		d.Words = "wax it again now"
	case d.Now:
		d.Words = "look at it now"
	case p.Upkeep:
		d.Words = fmt.Sprintf("wax it again in %s", longSpan(-late))
	default:
		d.Words = fmt.Sprintf("look at it in %s", longSpan(-late))
	}
	return d, true
}

// next is the first time due that no reading at or before last has served.
func (p Protocol) next(start, last time.Time) (time.Time, bool) {
	served := func(wait, gap time.Duration) bool {
		return !last.IsZero() && !last.Before(start.Add(wait-early(gap)))
	}
	if p.Upkeep && !last.IsZero() { // counted from when it was done, not from a calendar
		return last.Add(p.Again), true
	}
	before := time.Duration(0)
	for _, wait := range p.After {
		if !served(wait, wait-before) {
			return start.Add(wait), true
		}
		before = wait
	}
	if p.Again == 0 {
		return time.Time{}, false
	}
	for wait := before + p.Again; ; wait += p.Again {
		if !served(wait, p.Again) {
			return start.Add(wait), true
		}
	}
}

// longSpan says a wait in the unit people use for it.
func longSpan(d time.Duration) string {
	say := func(n float64, unit string) string {
		k := int(n + 0.5)
		if k == 1 {
			return "1 " + unit
		}
		return fmt.Sprintf("%d %ss", k, unit)
	}
	switch {
	case d < 2*day:
		return say(max(1, d.Hours()), "hour")
	case d < 21*day:
		return say(d.Hours()/24, "day")
	case d < 60*day:
		return say(d.Hours()/24/7, "week")
	case d < 2*year:
		return say(d.Hours()/24/30.44, "month")
	}
	return say(d.Hours()/24/365.25, "year")
}

// DueList returns what is due of every test, soonest first.
func DueList(tests []studio.WearTest, readings map[int64][]studio.WearReading, now time.Time) []Due {
	var out []Due
	for _, t := range tests {
		if d, ok := DueOf(t, readings[t.ID], now); ok {
			out = append(out, d)
		}
	}
	slices.SortStableFunc(out, func(a, b Due) int { return a.At.Compare(b.At) })
	return out
}

// Calendar returns what is due as reminders: one for each day in local time, which rings
// that morning.
func Calendar(due []Due, local *time.Location) []calendar.Entry {
	var out []calendar.Entry
	for _, d := range due {
		out = append(out, calendar.Entry{UID: fmt.Sprintf("wear-%d-%s", d.Test.ID, d.At.UTC().Format("20060102")),
			What: fmt.Sprintf("%s: swatch %d, %s", d.Protocol.Name, d.Test.Face.Swatch, d.Test.Face.Face), Text: d.Protocol.Look, From: d.At.In(local), Day: true, Bell: 9 * time.Hour})
	}
	return out
}

// monthsOf is a number of months as a wait.
func monthsOf(m float64) time.Duration { return time.Duration(m * 30.44 * float64(day)) }

// Months returns the time from a to b in months.
func Months(a, b time.Time) float64 { return b.Sub(a).Hours() / 24 / 30.44 }
