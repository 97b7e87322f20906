package class

import (
	"slices"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// A NightAsk is what is to be made before a class, by one pair of hands that are at
// the bench every day From till Till, in minutes after midnight.
type NightAsk struct {
	Now        time.Time
	Starts     time.Time // of the class
	Person     string
	From, Till int
	Treatments []studio.Treatment // with the swatch that each is of
	Chambers   []benchday.Chamber
	Learnt     map[studio.StepKind]benchday.Took
	Finish     timetable.Limit
}

// A Night is when to begin with what is made ahead. Fits says whether there is still
// time; then Begin is the latest beginning found that does, Wish the bench days from
// there, and Sheet their timetable. Ready is when all must be out: the class less
// what drying and hardening take.
type Night struct {
	Fits    bool
	Begin   time.Time
	Ready   time.Time
	Wish    studio.BenchAsk
	Sheet   benchday.Sheet
	Reasons []string
}

// Ready is when swatches must be out of everything, so that they are dry, and
// lacquer hard, when the class begins.
func Ready(starts time.Time, ts []studio.Treatment) time.Time {
	for _, t := range ts {
		if slices.ContainsFunc(t.Steps, func(s studio.Step) bool { return s.Kind == studio.Seal }) {
			return starts.Add(-cure)
		}
	}
	return starts.Add(-fullDry * time.Hour)
}

// limits of one timetable while the latest beginning is looked for.
const nightSteps = 12_000

// MakeNight looks for the latest day, and on it the latest half hour, at which one
// pair of hands can begin and be done in time, by planning each with the bench's own
// timetable. It looks back as far as a bench day may be long.
func MakeNight(n NightAsk) (Night, error) {
	if len(n.Treatments) == 0 {
		return Night{}, studio.Problemf(studio.Conflict, "t", "Nothing is to be made ahead.")
	}
	if n.From < 0 || n.Till > 24*60 || n.Till-n.From < 30 {
		return Night{}, studio.Problemf(studio.Invalid, "from", "Say from when to when you are at the bench, half an hour at least.")
	}
	out := Night{Ready: Ready(n.Starts, n.Treatments)}
	var entries []run.Entry
	for i, t := range n.Treatments {
		if t.ID == 0 {
			t.ID = int64(i + 1)
		}
		entries = append(entries, run.Entry{Treatment: t, Record: run.Fold(t, nil)})
		out.Wish.Treatments = append(out.Wish.Treatments, t.ID)
	}
	out.Wish.Overnight, out.Wish.AnyOrder = true, true
	midnight := func(back int) time.Time {
		y, m, d := out.Ready.Date()
		return time.Date(y, m, d-back, 0, 0, 0, 0, out.Ready.Location())
	}
	at := func(day time.Time, minute int) time.Time { return day.Add(time.Duration(minute) * time.Minute) }
	try := func(back, from int) (bool, error) {
		wish := out.Wish
		var there []studio.Hours
		for b := back; b >= 0; b-- {
			h := studio.Hours{From: at(midnight(b), n.From), Till: at(midnight(b), n.Till)}
			if b == back {
				h.From = at(midnight(b), from)
			}
			if h.From.Before(n.Now) {
				h.From = n.Now
			}
			if h.Till.After(out.Ready) {
				h.Till = out.Ready
			}
			if h.Till.After(h.From) {
				there = append(there, h)
			}
		}
		if len(there) == 0 {
			return false, nil
		}
		wish.People = []studio.BenchPerson{{Name: n.Person, There: there}}
		limit := n.Finish
		if limit.Steps == 0 {
			limit.Steps = nightSteps
		}
		s, err := benchday.Make(benchday.Ask{Now: there[0].From, Wish: wish, Chambers: n.Chambers, Entries: entries, Learnt: n.Learnt, Finish: limit, Tidy: timetable.Limit{Steps: nightSteps / 4}})
		if err != nil {
			return false, err
		}
		if !s.Fits {
			out.Reasons = s.Reasons
			return false, nil
		}
		out.Fits, out.Sheet, out.Wish, out.Reasons = true, s, wish, nil
		out.Begin = there[0].From
		if len(s.Actions) > 0 {
			out.Begin = s.Actions[0].Start
		}
		return true, nil
	}
	for back := range studio.MaxBenchDays {
		if at(midnight(back), n.Till).Before(n.Now) {
			break
		}
		ok, err := try(back, n.From)
		if err != nil {
			return out, err
		}
		if !ok {
			continue
		}
		// later on the same day: halve until half an hour is left
		low, high := n.From, n.Till
		for high-low > 30 {
			mid := (low + high) / 2 / 30 * 30
			if mid <= low {
				break
			}
			ok, err := try(back, mid)
			if err != nil {
				return out, err
			}
			if ok {
				low = mid
			} else {
				high = mid
			}
		}
		return out, nil
	}
	return out, nil
}
