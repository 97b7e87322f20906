package timetable

import "aerugo/internal/studio"

// Replan makes a timetable for the rest of a day that moves as few of the
// operations as can be from where they were before, and of those finishes
// earliest. What has started is Started in d, with the minutes it took; nothing
// else starts before now. Few moves may finish late: d.FinishBy sets an end. It
// returns a *studio.Problem for a day that Check refuses and for starts that
// are not the day's.
func Replan(d Day, before []int, now int, o Options) (Timetable, error) {
	if err := d.Check(); err != nil {
		return Timetable{}, err
	}
	if len(before) != len(d.Ops) {
		return Timetable{}, studio.Problemf(studio.Invalid, "before", "the timetable before has %d starts and the day %d operations; give one for each", len(before), len(d.Ops))
	}
	ops := make([]Op, len(d.Ops))
	for i, op := range d.Ops {
		if !op.Started {
			op.Earliest = max(op.Earliest, now)
		}
		ops[i] = op
	}
	d.Ops = ops
	clock := &meter{limit: o.Finish}
	tidy := &meter{limit: o.Tidy}
	least, circle := paths(d)
	if circle != nil {
		return o.cannot(d, circle, tidy), nil
	}
	m := build(d, least)
	var lits []lit
	for i, op := range d.Ops {
		if op.Started {
			continue
		}
		x := m.variable(0, 1)
		lits = append(lits, atLeast(x, 1))
		m.clause(atLeast(x, 1), atLeast(i, before[i]))
		m.clause(atLeast(x, 1), atMost(i, before[i]))
		m.more(int32(x)) // whether it moves is settled before where it goes
	}
	goal := m.counting(lits)
	s := newSearch(m, dice(o.Seed), clock)
	s.start(before)
	for _, l := range lits {
		s.phase[l.v>>1] = 0
	}
	r := gaveUp
	for k := 1; r == gaveUp && !clock.over; k++ {
		if k > 3 {
			r = s.first()
			break
		}
		r = s.run(byFault, nil, 100*k)
	}
	switch r {
	case nothing:
		t := o.cannot(d, nil, tidy)
		t.Steps = clock.spent
		return t, nil
	case gaveUp:
		return Timetable{State: NotFound, Steps: clock.spent, Reasons: loads(d)}, nil
	}
	moves := func(b []int) int {
		n := 0
		for i := range b {
			if !d.Ops[i].Started && b[i] != before[i] {
				n++
			}
		}
		return n
	}
	t := Timetable{State: Fits}
	best, bound := s.improve(goal, moves)
	t.FewestMoves = best == bound

	// Of those with as few moves, the earliest finish.
	m = build(d, least)
	lits = lits[:0]
	for i, op := range d.Ops {
		if !op.Started {
			x := m.variable(0, 1)
			lits = append(lits, atLeast(x, 1))
			m.clause(atLeast(x, 1), atLeast(i, before[i]))
			m.clause(atLeast(x, 1), atMost(i, before[i]))
		}
	}
	m.atRoot(atMost(m.counting(lits), best))
	f := newSearch(m, dice(o.Seed), tidy)
	f.start(s.best)
	t.Finish, t.Bound = f.improve(m.finish, func(b []int) int { return finishOf(d, b) })
	t.Start, t.Proven = f.best, t.Finish == t.Bound
	for i := range t.Start {
		if !d.Ops[i].Started && t.Start[i] != before[i] {
			t.Moved = append(t.Moved, i)
		}
	}
	t.Openings = Openings(d, t.Start)
	t.Waits = waits(d, t.Start)
	t.Spare, _ = spareOf(d, t.Start)
	t.Steps = clock.spent + tidy.spent
	return t, nil
}
