package timetable

import "slices"

// Openings counts how often lids are opened: operations of one lid that follow
// within its gap share an opening.
func Openings(d Day, start []int) int {
	n := 0
	for _, l := range d.Lids {
		ops := slices.Clone(l.Ops)
		slices.SortFunc(ops, func(a, b int) int { return start[a] - start[b] })
		till := -1 << 30
		for _, i := range ops {
			if start[i] > till {
				n++
			}
			till = max(till, start[i]+d.Ops[i].Minutes+l.Gap)
		}
	}
	return n
}

// shared adds a variable that counts openings: an operation needs none of its
// own when another of the lid's is going on or has just ended.
func (m *model) shared() int {
	d := m.day
	var own []lit
	for _, l := range d.Lids {
		for _, k := range l.Ops {
			mine := m.variable(0, 1)
			own = append(own, atLeast(mine, 1))
			either := []lit{atLeast(mine, 1)}
			for _, j := range l.Ops {
				reach := d.Ops[j].Minutes + l.Gap
				tie := 0
				if j > k {
					tie = 1 // two that start together do not wait for each other
				}
				if j == k || m.lo(k) > m.hi(j)+reach || m.hi(k) < m.lo(j)+tie ||
					m.least[j][k] != far && m.least[j][k] > reach || m.least[k][j] != far && m.least[k][j]+tie > 0 {
					continue
				}
				with := m.variable(0, 1)
				m.follow(j, k, tie, atLeast(with, 1))
				m.follow(k, j, -reach, atLeast(with, 1))
				either = append(either, atLeast(with, 1))
			}
			m.clause(either...)
		}
	}
	return m.counting(own)
}

// fewer looks for fewer openings at the same finish; true says there are none.
func fewer(d Day, t *Timetable, least [][]int, seed uint64, clock *meter) bool {
	now := Openings(d, t.Start)
	if now == 0 {
		return true
	}
	m := build(d.ended(t.Finish), least)
	goal := m.shared()
	m.atRoot(atMost(goal, now-1))
	if m.broken {
		return true
	}
	s := newSearch(m, dice(seed+1), clock)
	s.start(t.Start)
	best, bound := s.improve(goal, func(b []int) int { return Openings(d, b) })
	t.Start = s.best
	return best == bound
}

// start takes a known timetable as the best so far.
func (s *search) start(starts []int) {
	s.best = slices.Clone(starts)
	for len(s.phase) < len(s.act) {
		s.phase = append(s.phase, -1)
	}
	for i, b := range starts {
		s.phase[i] = int32(b)
	}
	for _, o := range s.orders {
		s.phase[o.x] = 0
		if o.a1 < s.n && o.b1 < s.n && o.a2 < s.n {
			if starts[o.b1]+o.t1 <= starts[o.a2] {
				s.phase[o.x] = 1
			}
			continue
		}
		at := func(x int) int {
			if x < s.n {
				return starts[x]
			}
			return s.lo(x)
		}
		if at(o.b1)+o.t1 <= at(o.a2) {
			s.phase[o.x] = 1
		}
	}
}
