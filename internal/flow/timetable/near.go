package timetable

import (
	"cmp"
	"slices"
)

// A frame is what stays of a timetable while some of its operations are planned
// again: the others keep their order, not their times.
type frame struct {
	start []int
	free  []bool
	reach int // minutes: one that is free keeps its order with what starts farther off
}

// loose reports whether the order of two operations is open.
func (f *frame) loose(m *model, p, q task) bool {
	if f == nil {
		return true
	}
	free := func(k task) bool { return k.a < m.n && (f.free[k.a] || f.free[k.b]) }
	far := f.at(m, p.a) - f.at(m, q.a)
	return (free(p) || free(q)) && max(far, -far) <= f.reach
}

// at is when a variable's operation starts in the frame's timetable.
func (f *frame) at(m *model, x int) int {
	if x < m.n {
		return f.start[x]
	}
	return m.lo(x)
}

// keep lets the tasks of a resource that are not free follow each other as they
// do: each unit of the resource passes from one to the next (a partial order
// schedule: Policella, Cesta, Oddi and Smith 2007, AI Communications 20). Those
// that are free follow what is out of their reach.
func (f *frame) keep(m *model, tasks []task, capacity int) {
	order := slices.Clone(tasks)
	slices.SortStableFunc(order, func(p, q task) int {
		return cmp.Or(cmp.Compare(f.at(m, p.a), f.at(m, q.a)), cmp.Compare(f.at(m, p.b)+p.tail, f.at(m, q.b)+q.tail))
	})
	free := func(k task) bool { return k.a < m.n && (f.free[k.a] || f.free[k.b]) }
	after := func(p, q task) {
		if f.at(m, p.b)+p.tail <= f.at(m, q.a) {
			m.follow(p.b, q.a, p.tail, always)
		}
	}
	type unit struct {
		last task
		used bool
	}
	units := make([]unit, capacity)
	var linked []task
	for _, k := range order {
		if free(k) {
			continue
		}
		linked = linked[:0]
		left := k.amount
		for u := range units {
			if left == 0 {
				break
			}
			if o := units[u]; o.used && f.at(m, o.last.b)+o.last.tail > f.at(m, k.a) {
				continue
			}
			left--
			if o := units[u]; o.used && !slices.Contains(linked, o.last) {
				linked = append(linked, o.last)
				after(o.last, k)
			}
			units[u] = unit{k, true}
		}
	}
	// Where no two fit beside each other, what is free keeps its place among all
	// that starts out of its reach.
	unary := !slices.ContainsFunc(tasks, func(k task) bool { return 2*k.amount <= capacity })
	for n, p := range order {
		if !free(p) {
			continue
		}
		for step := -1; step <= 1; step += 2 {
			tied := false
			for k := n + step; k >= 0 && k < len(order); k += step {
				q := order[k]
				if p.amount+q.amount <= capacity || tied && !free(q) || f.loose(m, p, q) {
					continue
				}
				if step < 0 {
					after(q, p)
				} else {
					after(p, q)
				}
				// Those beyond that are not free follow from it.
				tied = tied || !free(q) && unary
			}
		}
	}
}

// crowd is how many operations make a day too much for one neighbourhood model.
const crowd = 160

// A nearby plans parts of a large timetable again, each with a model that is
// small since the rest keeps its order.
type nearby struct {
	*search
	free float64 // about how many operations are free
}

// again frees a stretch of time or a few swatches that are close in time, and
// looks for an earlier finish than best. It reports what came of it.
func (b *nearby) again(best int) outcome {
	f := frame{start: b.best, free: make([]bool, b.n)}
	order := make([]int, 0, b.n)
	for i := range b.n {
		if !b.day.Ops[i].Started {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return b.best[i] - b.best[j] })
	size := min(len(order), int(b.free))
	from := b.dice.IntN(len(order) - size + 1)
	if b.dice.IntN(2) == 0 {
		for _, i := range order[from : from+size] {
			f.free[i] = true
		}
		f.reach = 1 << 20
	} else {
		groups := map[int]bool{}
		count := 0
		for k := 0; k < len(order) && count < size; k++ {
			i := order[(from+k)%len(order)]
			if groups[b.group[i]] || b.dice.IntN(2) == 0 {
				continue
			}
			groups[b.group[i]] = true
			for _, j := range order {
				if b.group[j] == b.group[i] {
					f.free[j] = true
					count++
				}
			}
		}
		f.reach = 20 + b.dice.IntN(60)
	}
	m := buildIn(b.day, b.least, &f)
	m.atRoot(atMost(m.finish, best-1))
	m.atRoot(atLeast(m.finish, b.rootLow(b.finish)))
	s := newSearch(m, b.dice, b.meter)
	s.start(b.best)
	r := gaveUp
	for {
		next := s.run(byFault, nil, 60)
		if next != found {
			if r != found {
				r = next
			}
			break
		}
		r = found
		s.atRoot(atMost(m.finish, finishOf(b.day, s.best)-1))
	}
	s.spend()
	switch r {
	case found:
		b.start(s.best)
	case nothing:
		b.free = min(b.free*1.02, float64(b.n))
	default:
		b.free = max(8, b.free*0.98)
	}
	return r
}
