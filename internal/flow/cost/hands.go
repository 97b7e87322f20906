package cost

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// Hands are the minutes of work that one piece takes: the median of what was
// recorded, or the planned times, and the least and most.
type Hands struct {
	Minutes, Low, High float64
	N                  int // recorded treatments behind it
	From               From
	Why                string
}

// longestHand is the longest that a step by hand is believed to have taken; what
// is longer was a pause that nobody noted.
const longestHand = 4 * time.Hour

// HandsOf reads the work of one piece of a batch from the records of the same
// recipes, which are given by recipe version: for each finished treatment, the
// time of its steps by hand. While steps of several pieces were under way at once,
// also of other recipes that are given, they share the time. A version that was never
// run is taken from those that kin names for it, the others of its recipe. A step that
// was not timed counts as planned; a recipe without any record counts as planned, which
// is marked. pieces is how many the batch has; a piece's treatments add up, and so do
// their ranges.
func HandsOf(batch []studio.Treatment, pieces int, finished map[int64][]run.Entry, kin map[int64][]int64) Hands {
	out := Hands{From: Recorded}
	if pieces < 1 {
		return out
	}
	kept := map[int64]recorded{}
	shares := share(finished)
	counted, planned, gaps, others := 0, 0, false, false
	for _, t := range batch {
		r, ok := kept[t.VersionID]
		if !ok {
			r = recordedMinutes(finished[t.VersionID], shares)
			if len(r.minutes) == 0 {
				var of []run.Entry
				for _, v := range kin[t.VersionID] {
					of = append(of, finished[v]...)
				}
				r = recordedMinutes(of, shares)
				others = others || len(r.minutes) > 0
			}
			kept[t.VersionID] = r
			counted += len(r.minutes)
		}
		if t.VersionID == 0 || len(r.minutes) == 0 {
			planned++
			m := plannedMinutes(t)
			out.Minutes, out.Low, out.High = out.Minutes+m, out.Low+m, out.High+m
			continue
		}
		mid, _ := stat.Quantile(r.minutes, 0.5) // of at least one number, so it never fails
		out.Minutes, out.Low, out.High = out.Minutes+mid, out.Low+slices.Min(r.minutes), out.High+slices.Max(r.minutes)
		gaps = gaps || r.gaps
	}
	n := float64(pieces)
	out.Minutes, out.Low, out.High, out.N = out.Minutes/n, out.Low/n, out.High/n, counted
	switch {
	case planned == len(batch):
		out.From, out.Why = Assumed, "the times planned for the steps by hand; no record of this recipe has them timed"
	case planned > 0:
		out.From, out.Why = Assumed, fmt.Sprintf("%d of %d treatments from records, the others as planned", len(batch)-planned, len(batch))
	default:
		out.Why = fmt.Sprintf("the median of %d recorded, from the shortest to the longest; what was done to several at once is shared", counted)
		if counted == 1 {
			out.Why = "the one recorded; a range needs more"
		}
	}
	if others {
		out.Why += "; of other versions of the recipe, as this one was never run"
	}
	if gaps {
		out.Why += "; steps nobody timed count as planned"
	}
	return out
}

// recorded are the minutes by hand of each finished treatment of a recipe.
type recorded struct {
	minutes []float64
	gaps    bool // some steps were not timed
}

// spent is when a step by hand was done.
type spent struct{ from, till time.Time }

// timeOf returns when a step by hand was done, false where that is not known or
// can't be believed.
func timeOf(e run.Entry, i int) (spent, bool) {
	if i >= len(e.Record.Steps) || e.Treatment.Steps[i].Kind.Dwell() {
		return spent{}, false
	}
	r := e.Record.Steps[i]
	d := r.Ended.Sub(r.Began)
	return spent{from: r.Began, till: r.Ended}, !r.Began.IsZero() && !r.Ended.IsZero() && r.Doubt == "" && d > 0 && d <= longestHand
}

// stepKey names one step of one treatment.
type stepKey struct {
	treatment int64
	step      int
}

// share gives each timed step its part of the hands: while several are under way
// at once, one pair of hands goes round, and each gets an equal part.
func share(entries map[int64][]run.Entry) map[stepKey]float64 {
	type edge struct {
		at    time.Time
		key   stepKey
		ended bool
	}
	var edges []edge
	out := map[stepKey]float64{}
	for _, es := range entries {
		for _, e := range es {
			for i := range e.Treatment.Steps {
				if x, ok := timeOf(e, i); ok {
					k := stepKey{e.Treatment.ID, i}
					edges = append(edges, edge{x.from, k, false}, edge{x.till, k, true})
				}
			}
		}
	}
	slices.SortFunc(edges, func(a, b edge) int {
		return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.key.treatment, b.key.treatment), cmp.Compare(a.key.step, b.key.step))
	})
	open := map[stepKey]bool{}
	for i, e := range edges {
		if i > 0 && len(open) > 0 {
			part := e.at.Sub(edges[i-1].at).Minutes() / float64(len(open))
			if part > 0 {
				for k := range open {
					out[k] += part
				}
			}
		}
		if e.ended {
			delete(open, e.key)
		} else {
			open[e.key] = true
		}
	}
	return out
}

func recordedMinutes(finished []run.Entry, shares map[stepKey]float64) recorded {
	var out recorded
	for _, e := range finished {
		if e.Record.Status != run.Finished {
			continue
		}
		sum, some, gap := 0.0, false, false
		for i, step := range e.Treatment.Steps {
			if step.Kind.Dwell() {
				continue
			}
			if minutes, ok := shares[stepKey{e.Treatment.ID, i}]; ok {
				sum += minutes
				some = true
			} else {
				sum += step.Duration.Minutes()
				gap = true
			}
		}
		if some {
			out.minutes = append(out.minutes, sum)
			out.gaps = out.gaps || gap
		}
	}
	return out
}

func plannedMinutes(t studio.Treatment) float64 {
	sum := 0.0
	for _, step := range t.Steps {
		if !step.Kind.Dwell() {
			sum += step.Duration.Minutes()
		}
	}
	return sum
}

// A Yield is how many pieces come out good of those made. Low and High bound the
// share (95 %, Wilson 1927); both are 0 when nothing is known.
type Yield struct {
	Good, Made int
	Low, High  float64
	From       From
	Why        string
}

// MaxMade is how many pieces a yield may be counted on.
const MaxMade = 1_000_000

// YieldOf returns the yield of good among made. With none made, nothing is taken
// to be lost, which is marked. It is a *studio.Problem when the two can't be.
func YieldOf(good, made int, from From) (Yield, error) {
	if made < 0 || good < 0 || good > made || made > MaxMade {
		return Yield{}, studio.Problemf(studio.Invalid, "good", "%d good of %d made can't be right; good can't be more than made, and both are from 0 to %d.", good, made, MaxMade)
	}
	if made == 0 {
		return Yield{From: Assumed, Why: "nothing is recorded of this recipe, so nothing is taken to be lost"}, nil
	}
	if good == 0 {
		return Yield{}, studio.Problemf(studio.Invalid, "good", "None of %d came out good, so no price can be reckoned; make some first.", made)
	}
	lo, hi, err := stat.WilsonInterval(good, made, 0.95)
	if err != nil {
		return Yield{}, fmt.Errorf("reckon yield: %w", err)
	}
	return Yield{Good: good, Made: made, Low: lo, High: min(1, hi), From: from, Why: fmt.Sprintf("%d good of %d made; each good one pays for its share of those lost", good, made)}, nil
}

// CountYield counts the pieces of a recipe. A verdict on a piece decides, accepted or
// rejected; reworked ones wait for another. Without one, a piece whose treatments
// are all finished is good, one of which a treatment was given up is lost. Pieces
// still under way count for nothing. Verdicts are by swatch number.
func CountYield(entries []run.Entry, verdicts map[int64]studio.Verdict) (good, made int) {
	type state struct{ open, lost bool }
	pieces := map[int64]state{}
	for _, e := range entries {
		x := pieces[e.Swatch.Number]
		x.lost = x.lost || e.Record.Status == run.Stopped
		x.open = x.open || e.Record.Status == run.Planned || e.Record.Status == run.Running
		pieces[e.Swatch.Number] = x
	}
	for number, x := range pieces {
		v, judged := verdicts[number]
		switch {
		case judged && v.Outcome == studio.Reworked:
		case judged && v.Outcome == studio.Rejected, !judged && x.lost:
			made++
		case judged && v.Outcome == studio.Accepted, !judged && !x.open:
			good++
			made++
		}
	}
	return good, made
}
