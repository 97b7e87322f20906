package class

import (
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/studio"
)

// Ahead is swatches that must be there, finished, when the class begins. Steps are
// those of the recipe with the changes that What tells. Have are the numbers of
// swatches that are there already and count; Count less those are to be made.
type Ahead struct {
	Index int // of the recipe
	Name  string
	What  string
	For   string // what they are for in the class
	Count int
	Have  []int64
	Steps []studio.Step
}

// Words says the line in one sentence: how many, of what, what for.
func (h Ahead) Words() string {
	switch n := h.ToMake(); {
	case n == 0:
		return fmt.Sprintf("%s, %s: all there. For: %s.", h.Name, h.What, h.For)
	case n == 1:
		return fmt.Sprintf("%s, %s: one swatch to make. For: %s.", h.Name, h.What, h.For)
	default:
		return fmt.Sprintf("%s, %s: %d swatches to make. For: %s.", h.Name, h.What, n, h.For)
	}
}

// ToMake is how many are still to be made.
func (h Ahead) ToMake() int { return max(0, h.Count-len(h.Have)) }

// ladder is how long swatches made ahead stay in, to show what time does: 1, 4, 24
// and 48 h. Common practice, no source.
var ladder = []time.Duration{time.Hour, 4 * time.Hour, 24 * time.Hour, 48 * time.Hour}

// ahead is what of a recipe must be made before the class, so that it can be seen
// finished there.
func (a Ask) ahead(d Doing) []Ahead {
	if d.Finished {
		return nil
	}
	r := a.Recipes[d.Index]
	if d.Who == Nobody {
		if a.Class.Recipes[d.Index].PerHead+a.Class.Recipes[d.Index].Shown == 0 || !a.mayShow(d.Index) {
			return nil
		}
		return []Ahead{a.with(d, "finished, front and back", "handed round: it is not made here", 2, r.Version.Steps)}
	}
	k := d.Open
	if k < 0 {
		k = plan.LongestStep(r.Version)
	}
	steps := r.Version.Steps
	if k < 0 || k < d.Next && d.Open < 0 {
		return []Ahead{a.with(d, "finished", "shown beside what is half done", 2, steps)}
	}
	var out []Ahead
	switch s := steps[k]; s.Kind {
	case studio.Fume:
		times := []time.Duration{s.Duration}
		for _, t := range ladder {
			if t <= 2*s.Duration && t != s.Duration {
				times = append(times, t)
			}
		}
		slices.Sort(times)
		for _, t := range times {
			out = append(out, a.with(d, fmt.Sprintf("fumed %s", studio.Span(t)), "what time does", 1, lasting(steps, k, t)))
		}
	case studio.Bury:
		out = append(out, a.with(d, "dug up, with its litter", "what the litter does", 2, steps))
	case studio.Dry:
		out = append(out, a.with(d, "dry", "beside one that is wet: the look changes", 1, steps))
	default:
		out = append(out, a.with(d, "finished", "shown beside what is half done", 2, steps))
	}
	if i := slices.IndexFunc(steps[:k], func(s studio.Step) bool { return s.Kind == studio.Wet }); i >= 0 && steps[k].Kind == studio.Fume && slices.ContainsFunc(steps[:k], func(s studio.Step) bool { return s.Kind == studio.Sprinkle }) {
		out = append(out, a.with(d, "not wetted first, else the same", "one of a pair: wetted or dry", 1, slices.Delete(slices.Clone(steps), i, i+1)))
	}
	if slices.ContainsFunc(steps[k:], func(s studio.Step) bool { return s.Kind == studio.Seal }) {
		row := slices.Clone(steps)
		for i := range row {
			if row[i].Kind == studio.Seal {
				row[i].Note = halfOnly
			}
		}
		out = append(out, a.with(d, "sealed on one half", "what sealing does", 1, row))
	}
	if len(r.Below) > 0 {
		out = append(out, a.with(d, "the base alone", "coat by coat", 1, nil))
	}
	return out
}

// mayShow reports whether finished swatches of a recipe may be made for this class
// at all: not where it is for the record only.
func (a Ask) mayShow(i int) bool {
	_, problem := plan.Safety(append(slices.Clone(a.Recipes[i].Below), a.Recipes[i].Version), a.Supplies, a.Recipes[i].Metal)
	return problem == nil && !recordOnly(a.Recipes[i].Version.Source)
}

// aheadToFinish is what students seal half of: one swatch for two, of the first
// recipe that is not finished in class.
func (a Ask) aheadToFinish(all []Doing) []Ahead {
	for _, d := range all {
		if d.Finished || d.Who == Nobody {
			continue
		}
		steps := slices.DeleteFunc(slices.Clone(a.Recipes[d.Index].Version.Steps), func(s studio.Step) bool { return s.Kind == studio.Seal })
		if len(steps) == 0 {
			continue
		}
		return []Ahead{a.with(d, "finished but not sealed", "two students each seal half of one face", (a.Class.Heads+1)/2, steps)}
	}
	return nil
}

// halfOnly marks a sealing that leaves one half of a face as it is.
const halfOnly = "one half only"

// shareOut lets each swatch that is there count once.
func shareOut(all []Ahead) []Ahead {
	taken := map[int64]bool{}
	for i := range all {
		var mine []int64
		for _, n := range all[i].Have {
			if !taken[n] && len(mine) < all[i].Count {
				taken[n] = true
				mine = append(mine, n)
			}
		}
		all[i].Have = mine
	}
	return all
}

// with is one line of what is made ahead; swatches that are there already count
// where the same was done to the same metal for as long, within a tenth.
func (a Ask) with(d Doing, what, use string, count int, steps []studio.Step) Ahead {
	h := Ahead{Index: d.Index, Name: d.Name, What: what, For: use, Count: count, Steps: steps}
	r := a.Recipes[d.Index]
	if slices.ContainsFunc(steps, func(s studio.Step) bool { return s.Kind == studio.Seal && s.Note == halfOnly }) {
		return h // no record says that only one half was sealed
	}
	want := longest(steps)
	for _, m := range a.Made {
		if m.VersionID == r.Version.ID && m.MetalID == r.Metal.ID && math.Abs(m.Minutes-want) <= want/10 &&
			slices.EqualFunc(steps, m.Steps, func(x, y studio.Step) bool { return x.Kind == y.Kind }) {
			h.Have = append(h.Have, m.Swatch)
		}
	}
	return h
}

// longest is the longest fuming or lying in litter of steps, in minutes; where there
// is none, the longest dwell.
func longest(steps []studio.Step) float64 {
	var most time.Duration
	for _, s := range steps {
		if s.Kind == studio.Fume || s.Kind == studio.Bury {
			most = max(most, s.Duration)
		}
	}
	if most > 0 {
		return most.Minutes()
	}
	if k := plan.LongestStep(studio.Version{Steps: steps}); k >= 0 {
		return steps[k].Duration.Minutes()
	}
	return 0
}

func lasting(steps []studio.Step, k int, d time.Duration) []studio.Step {
	out := slices.Clone(steps)
	out[k].Duration = d
	out[k].Early = min(out[k].Early, d)
	return out
}

// Home is what becomes of a recipe's swatches after the class: who sees to them and
// when, and when they can be fetched.
type Home struct {
	Index    int
	Name     string
	Swatches int
	What     string
	TakeOut  time.Time // when the dwell that still runs is over; zero for none
	Night    string    // said when that is at night; empty when it is by day
	Left     string    // the steps after it
	Fetch    time.Time // when they can be taken home, to the next quarter of an hour; zero where nothing is made
	Read     time.Time // when the next reading is due
}

// quarter is the next full quarter of an hour.
func quarter(t time.Time) time.Time {
	if q := t.Truncate(15 * time.Minute); !q.Equal(t) {
		return q.Add(15 * time.Minute)
	}
	return t
}

// cure is how long lacquer hardens. Common practice, no source.
const cure = 24 * time.Hour

// home is what happens to a recipe's swatches when the class is over.
func (a Ask) home(d Doing) Home {
	h := Home{Index: d.Index, Name: d.Name, Swatches: d.Swatches}
	steps := a.Recipes[d.Index].Version.Steps
	end := a.Class.Starts.Add(time.Duration(a.Class.Minutes) * time.Minute)
	if d.Who == Nobody {
		h.What = fmt.Sprintf("Nothing of %s is made, so nothing goes home.", d.Name)
		return h
	}
	at, next := end, d.Next
	if d.Open >= 0 {
		h.TakeOut = d.Since.Add(steps[d.Open].Duration)
		at = h.TakeOut
		if hour := h.TakeOut.Hour(); hour < 7 || hour >= 22 {
			s := steps[d.Open]
			h.Night = fmt.Sprintf("That is at night: its recipe allows it %s sooner to %s later. If neither is by day, begin it at another hour, or show it another way.", studio.Span(s.Early), studio.Span(s.Late))
		}
	}
	rest := steps[min(next, len(steps)):]
	h.Left = listed(rest)
	dried := false
	for _, s := range steps[min(max(next-1, 0), len(steps)):] {
		dried = s.Kind == studio.Dry || dried && s.Kind != studio.Rinse
	}
	for _, s := range rest {
		at = at.Add(s.Duration)
		if s.Kind == studio.Seal {
			at = at.Add(cure)
		}
	}
	if !dried {
		at = at.Add(fullDry * time.Hour)
	}
	h.Fetch = quarter(at)
	h.Read = end.AddDate(0, 0, 7)
	switch {
	case d.Finished && dried:
		h.What = fmt.Sprintf("Swatches that go home with their makers: %d.", d.Swatches)
		h.Fetch = end
	case d.Finished:
		h.What = fmt.Sprintf("Swatches that go home when they are dry, %d h after the class: %d.", fullDry, d.Swatches)
	case d.Open >= 0 && h.Left == "":
		h.What = fmt.Sprintf("Swatches that stay: %d. The teacher takes them out at %s.", d.Swatches, h.TakeOut.Format("Monday 15:04"))
	case d.Open >= 0:
		h.What = fmt.Sprintf("Swatches that stay: %d. The teacher takes them out at %s. After that: %s.", d.Swatches, h.TakeOut.Format("Monday 15:04"), h.Left)
	default:
		h.What = fmt.Sprintf("Swatches that stay: %d. The teacher does what is left: %s.", d.Swatches, h.Left)
	}
	return h
}
