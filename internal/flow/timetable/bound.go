package timetable

import "slices"

// handsBound is a finish that no timetable is before, from the work one
// resource of capacity 1 has to do: each task may be interrupted, starts no
// earlier than its waits let it and is followed by its own longest tail
// (Jackson's preemptive schedule: Carlier 1982, EJOR 11), and nothing is done
// outside the hours.
func (m *model) handsBound(r int) int {
	d := m.day
	if d.Resources[r].Capacity != 1 {
		return 0
	}
	type job struct{ head, left, tail int }
	var jobs []job
	for _, h := range holdsOf(d, r) {
		if h.From != h.To {
			return 0 // a place, whose time is not fixed
		}
		i := h.From
		if d.Ops[i].Started {
			continue
		}
		tail := 0
		for j, o := range d.Ops {
			if w := m.least[i][j]; w != far && !o.Started {
				tail = max(tail, w+o.Minutes-d.Ops[i].Minutes)
			}
		}
		jobs = append(jobs, job{m.lo(i), d.Ops[i].Minutes, tail})
	}
	slices.SortFunc(jobs, func(a, b job) int { return a.head - b.head })
	shut := taken(d, r)
	at, next, bound := 0, 0, 0
	var ready []job
	for next < len(jobs) || len(ready) > 0 {
		if len(ready) == 0 {
			at = max(at, jobs[next].head)
		}
		for next < len(jobs) && jobs[next].head <= at {
			ready = append(ready, jobs[next])
			next++
		}
		till := 1 << 30
		if next < len(jobs) {
			till = jobs[next].head
		}
		open := true
		for _, s := range shut {
			if s.from <= at && at < s.till {
				at, open = s.till, false
				break
			}
			if s.from > at {
				till = min(till, s.from)
			}
		}
		if !open {
			continue
		}
		best := 0
		for k := range ready {
			if ready[k].tail > ready[best].tail {
				best = k
			}
		}
		step := min(ready[best].left, till-at)
		at += step
		ready[best].left -= step
		if ready[best].left == 0 {
			bound = max(bound, at+ready[best].tail)
			ready = slices.Delete(ready, best, best+1)
		}
	}
	return bound
}

// bounded raises the finish to what every pair of hands' work asks for.
func (m *model) bounded() {
	if m.broken {
		return
	}
	for r := range m.day.Resources {
		if b := m.handsBound(r); b > m.lo(m.finish) {
			m.atRoot(atLeast(m.finish, b))
		}
		if m.broken {
			return
		}
	}
}
