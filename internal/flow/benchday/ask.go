package benchday

import (
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// A Chamber is what the timetable minds of a chamber: its places (0: nobody
// said, taken as enough) and the ammonia in grams that one opening lets out.
type Chamber struct {
	ID     int64
	Name   string
	Places int
	LossG  float64
}

// A Took is how many minutes a step of one kind takes the hands, as watched: the
// median of N, with the tenth and the ninetieth in a hundred.
type Took struct {
	Median, Low, High float64
	N                 int
}

// LearntFrom is how many times a kind of step must have been watched before its
// median is planned with instead of what the recipe says.
const LearntFrom = 3

// An Ask is what is planned: at Now, what a person asked for, with the
// treatments named there and all others that run, each with its record.
//
// The zero Limits plan with fixed numbers of steps, the same on every machine.
type Ask struct {
	Now      time.Time
	Wish     studio.BenchAsk
	Chambers []Chamber
	Entries  []run.Entry
	Learnt   map[studio.StepKind]Took
	Claims   []studio.BenchClaim
	Finish   timetable.Limit
	Tidy     timetable.Limit
	// Found, if set, is told by Make when the day would be over by each better
	// timetable, as it is found.
	Found func(finish time.Time)
}

// Minutes that hands need where neither recipe nor learning says. Common
// practice, no source; each use is said in Sheet.Assumed.
var usual = map[studio.StepKind]int{
	studio.Degrease: 2, studio.Abrade: 3, studio.Rinse: 1, studio.Wet: 1, studio.Sprinkle: 1,
	studio.BrushOut: 2, studio.Flip: 1, studio.Heat: 3, studio.Neutralise: 2, studio.Seal: 5,
}

// Minutes a face may stand after a step before the next one, where its recipe
// gives no tolerance: a wetted face dries, salt drinks the wetting up. Common
// practice, no source.
var standing = map[studio.StepKind]int{studio.Wet: 10, studio.Sprinkle: 15}

const (
	handling = 1  // minutes to put one swatch in, or take it out; common practice, no source
	lidGap   = 0  // minutes a lid stays up with nothing done under it
	wetOver  = 15 // minutes a base may stand before an overlay that goes on it wet; common practice, no source
	blockGap = 2  // minutes more than it takes to put a block in, as run.Together
	grace    = 2  // minutes in which what can't keep its tolerance is seen to, if it can be
)

// minutesOf is how long the hands need for a step that is no dwell.
func (a *Ask) minutesOf(s studio.Step) (minutes int, assumed bool) {
	if t, ok := a.Learnt[s.Kind]; ok && t.N >= LearntFrom {
		return max(1, int(math.Ceil(t.Median-1e-9))), false
	}
	if s.Duration > 0 {
		return upTo(s.Duration), false
	}
	if m, ok := usual[s.Kind]; ok {
		return m, true
	}
	return 2, true
}

// upTo is a length of time in whole minutes, rounded up.
func upTo(d time.Duration) int { return int((d + time.Minute - 1) / time.Minute) }

// bounds is how long a dwell lasts at least and at most, in minutes; after is
// what ending it takes. Assumed says that the recipe gives no tolerance.
func (a *Ask) bounds(treatment int64, i int, s studio.Step, after int) (least, most int, assumed bool) {
	least = upTo(s.Duration - s.Early)
	late := s.Late
	if s.Early == 0 && s.Late == 0 {
		assumed = true
		late = max(5*time.Minute, s.Duration/10)
	}
	if s.Kind == studio.Dry && s.Late == 0 {
		return least, timetable.NoLimit, false // dry stays dry
	}
	most = int((s.Duration+late)/time.Minute) - after
	for _, x := range a.Wish.Stretch {
		if x.Treatment == treatment && x.Step == i {
			most += x.Minutes
		}
	}
	return least, max(least, most), assumed
}

// check reports a Problem when no day can be made of a.
func (a *Ask) check() error {
	if a.Now.IsZero() {
		return studio.Problemf(studio.Invalid, "now", "The time of planning is missing.")
	}
	if err := a.Wish.Check(); err != nil {
		return err
	}
	for _, id := range a.Wish.Treatments {
		if !slices.ContainsFunc(a.Entries, func(e run.Entry) bool { return e.Treatment.ID == id }) {
			return studio.Problemf(studio.NotFound, "t", "Treatment %d is not there any more; choose again what to run.", id)
		}
	}
	seen := map[int64]bool{}
	for _, e := range a.Entries {
		t := e.Treatment
		if seen[t.ID] {
			return studio.Problemf(studio.Invalid, "t", "The treatment of swatch %d is named twice.", t.Swatch)
		}
		seen[t.ID] = true
		if len(e.Record.Steps) != len(t.Steps) {
			return fmt.Errorf("plan treatment %d: its record has %d steps, not %d", t.ID, len(e.Record.Steps), len(t.Steps))
		}
		for i, s := range t.Steps {
			if err := s.Check(i + 1); err != nil {
				return err
			}
			if s.Duration > longest || s.Late > 2*longest {
				return studio.Problemf(studio.Invalid, "t", "Step %d of swatch %d (%s) lasts %s, longer than a timetable of up to %d days; leave it out and run it by itself.",
					i+1, t.Swatch, s.Kind, studio.Span(s.Duration), studio.MaxBenchDays)
			}
		}
	}
	return nil
}

// longest is the longest step that is planned.
const longest = studio.MaxBenchDays * 24 * time.Hour

func (a *Ask) chamber(id int64) (Chamber, bool) {
	for _, c := range a.Chambers {
		if c.ID == id {
			return c, true
		}
	}
	return Chamber{}, false
}

// chamberName is how a chamber is spoken of.
func (a *Ask) chamberName(id int64) string {
	if c, ok := a.chamber(id); ok && c.Name != "" {
		return c.Name
	}
	return "the chamber"
}
