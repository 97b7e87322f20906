package benchday

import (
	"slices"

	"aerugo/internal/flow/timetable"
)

// inPieces plans a day that is too much at once: piece by piece, each into what
// those before it left. With starts before it moves little, as Replan does. It
// is a timetable, not the best one; nil where a piece found no room.
func (d *draft) inPieces(whole timetable.Day, pieces [][]int, before []int, o timetable.Options) ([]int, error) {
	kept, placed := make([]bool, len(whole.Ops)), make([]bool, len(whole.Ops))
	starts := make([]int, len(whole.Ops))
	for n, op := range whole.Ops {
		if op.Started || n >= len(d.works) {
			kept[n] = true
			starts[n] = max(op.Earliest, op.Start)
		}
	}
	for _, piece := range pieces {
		for _, e := range piece {
			for _, n := range d.of[e] {
				kept[n] = true
			}
		}
		day, at := restrict(whole, kept)
		was := make([]int, len(day.Ops))
		for n := range whole.Ops {
			switch {
			case placed[n]:
				op := &day.Ops[at[n]]
				op.Earliest, op.LatestEnd = starts[n], starts[n]+op.Minutes
				was[at[n]] = starts[n]
			case kept[n] && before != nil:
				was[at[n]] = before[n]
			}
		}
		var tt timetable.Timetable
		var err error
		if before == nil {
			tt, err = timetable.Plan(day, o)
		} else {
			tt, err = timetable.Replan(day, was, d.now, o)
		}
		if err != nil || tt.State != timetable.Fits {
			return nil, err
		}
		for n := range whole.Ops {
			if kept[n] {
				starts[n] = tt.Start[at[n]]
				placed[n] = !whole.Ops[n].Started
			}
		}
	}
	return starts, nil
}

// byNext is the entries one by one, in the order of what is next of each.
func (d *draft) byNext(before []int) [][]int {
	next := map[int]int{}
	var out [][]int
	for e := range d.of {
		if len(d.of[e]) == 0 {
			continue
		}
		next[e] = 1 << 30
		for _, n := range d.of[e] {
			if !d.works[n].done {
				next[e] = before[n]
				break
			}
		}
		out = append(out, []int{e})
	}
	slices.SortStableFunc(out, func(a, b []int) int { return next[a[0]] - next[b[0]] })
	return out
}

// pieces are the entries in the order in which they are planned: what runs
// already, then blocks in their order, then the rest one by one.
func (d *draft) pieces() [][]int {
	var out [][]int
	seen := map[int]bool{}
	add := func(all []int) {
		all = slices.DeleteFunc(slices.Clone(all), func(e int) bool { return seen[e] || len(d.of[e]) == 0 })
		for _, e := range all {
			seen[e] = true
		}
		if len(all) > 0 {
			out = append(out, all)
		}
	}
	var running []int
	for e := range d.of {
		if slices.ContainsFunc(d.of[e], func(n int) bool { return d.works[n].done }) {
			running = append(running, e)
		}
	}
	add(running)
	for _, b := range d.fillings {
		add(b)
	}
	for e := range d.of {
		add([]int{e})
	}
	return out
}

// restrict is a day with the operations kept, and where each of the old stands in it.
func restrict(d timetable.Day, kept []bool) (timetable.Day, []int) {
	at := make([]int, len(d.Ops))
	out := timetable.Day{Resources: d.Resources, FinishBy: d.FinishBy}
	for n, op := range d.Ops {
		if kept[n] {
			at[n] = len(out.Ops)
			out.Ops = append(out.Ops, op)
		}
	}
	for _, l := range d.Lags {
		if kept[l.From] && kept[l.To] {
			out.Lags = append(out.Lags, timetable.Lag{From: at[l.From], To: at[l.To], Min: l.Min, Max: l.Max})
		}
	}
	for _, h := range d.Holds {
		if kept[h.From] && kept[h.To] {
			out.Holds = append(out.Holds, timetable.Hold{Resource: h.Resource, Amount: h.Amount, From: at[h.From], To: at[h.To]})
		}
	}
	for _, l := range d.Lids {
		lid := timetable.Lid{Name: l.Name, Gap: l.Gap}
		for _, n := range l.Ops {
			if kept[n] {
				lid.Ops = append(lid.Ops, at[n])
			}
		}
		out.Lids = append(out.Lids, lid)
	}
	return out, at
}
