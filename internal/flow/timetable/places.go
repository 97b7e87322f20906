package timetable

import "slices"

// A task takes amount of a resource from the start of variable a until variable
// b has gone on for tail minutes; it lasts at least least minutes.
type task struct {
	a, b, tail, amount, least int
}

// places keeps the tasks of a resource within its capacity: wherever what must
// be going on leaves too little room, the others move aside (time-table
// propagation with pointwise reasons: Schutt, Feydy, Stuckey and Wallace 2011,
// Constraints 16).
type places struct {
	tasks    []task
	capacity int
	most     int // of a task's amount
	// tasks by where the part that must go on begins and ends; near to sorted
	// from one run to the next
	begins, ends []int
	full         []filled
}

// filled is a time in which so much is surely in use that some task finds no room.
type filled struct{ from, till, used int }

func (p *places) run(e *engine) bool {
	if !p.profile(e) {
		return false
	}
	if len(p.full) == 0 {
		return true
	}
	for i, k := range p.tasks {
		if e.fixed(k.a) && e.fixed(k.b) || k.amount == 0 {
			continue
		}
		if !p.later(e, i) || !p.sooner(e, i) {
			return false
		}
	}
	return true
}

// profile finds where what must be going on fills the places.
func (p *places) profile(e *engine) bool {
	if len(p.begins) != len(p.tasks) {
		for i, k := range p.tasks {
			p.begins, p.ends = append(p.begins, i), append(p.ends, i)
			p.most = max(p.most, k.amount)
		}
	}
	begin := func(i int) int { return e.hi(p.tasks[i].a) }
	end := func(i int) int { return e.lo(p.tasks[i].b) + p.tasks[i].tail }
	insertion(p.begins, begin)
	insertion(p.ends, end)
	p.full = p.full[:0]
	used, from := 0, -1
	for b, n := 0, 0; n < len(p.ends); {
		t := end(p.ends[n])
		if b < len(p.begins) {
			t = min(t, begin(p.begins[b]))
		}
		was := used
		for ; n < len(p.ends) && end(p.ends[n]) == t; n++ {
			if i := p.ends[n]; begin(i) < t {
				used -= p.tasks[i].amount
			}
		}
		for ; b < len(p.begins) && begin(p.begins[b]) == t; b++ {
			if i := p.begins[b]; t < end(i) {
				used += p.tasks[i].amount
			}
		}
		if used > p.capacity {
			e.fault = p.going(e, e.fault[:0], t, p.capacity+1, -1)
			return false
		}
		if used == was {
			continue
		}
		if from >= 0 {
			p.full = append(p.full, filled{from, t, was})
		}
		if from = -1; used+p.most > p.capacity {
			from = t
		}
	}
	return true
}

// insertion sorts what is nearly sorted.
func insertion(a []int, key func(int) int) {
	for n := 1; n < len(a); n++ {
		x := a[n]
		k := key(x)
		at := n
		for ; at > 0 && key(a[at-1]) > k; at-- {
			a[at] = a[at-1]
		}
		a[at] = x
	}
}

// after is the first full time that ends after t.
func (p *places) after(t int) int {
	n, _ := slices.BinarySearchFunc(p.full, t, func(f filled, t int) int {
		if f.till <= t {
			return -1
		}
		return 1
	})
	return n
}

// later moves task i behind what leaves it no room where it would start.
func (p *places) later(e *engine, i int) bool {
	k := p.tasks[i]
	for n := p.after(e.lo(k.a)); n < len(p.full); n++ {
		f := p.full[n]
		lo := e.lo(k.a)
		if f.till <= lo {
			continue
		}
		t := max(f.from, lo)
		if t >= max(lo+k.least, e.lo(k.b)+k.tail) {
			break
		}
		if f.used+k.amount <= p.capacity || p.must(e, k, t) {
			continue
		}
		if !p.aside(e, i, t) {
			return false
		}
	}
	return true
}

// sooner moves task i before what leaves it no room where it would end.
func (p *places) sooner(e *engine, i int) bool {
	k := p.tasks[i]
	for n := p.after(e.hi(k.b) + k.tail - 1); n >= 0; n-- {
		if n == len(p.full) {
			continue
		}
		f := p.full[n]
		for {
			end := e.hi(k.b) + k.tail
			first := min(end-k.least, e.hi(k.a))
			if f.till <= first {
				return true
			}
			t := max(f.from, first)
			if end <= t || f.used+k.amount <= p.capacity || p.must(e, k, t) {
				break
			}
			if !p.before(e, i, t, p.capacity-k.amount+1) {
				return false
			}
			if e.hi(k.b)+k.tail == end {
				break
			}
		}
	}
	return true
}

// must reports whether a task surely goes on at minute t.
func (p *places) must(e *engine, k task, t int) bool {
	return e.hi(k.a) <= t && t < e.lo(k.b)+k.tail
}

// going appends why at least want is in use at minute t, leaving out one task.
func (p *places) going(e *engine, out []lit, t, want, except int) []lit {
	for i, k := range p.tasks {
		if want <= 0 {
			break
		}
		if i != except && e.hi(k.a) <= t && t < e.lo(k.b)+k.tail {
			out = append(out, atMost(k.a, t), atLeast(k.b, t+1-k.tail))
			want -= k.amount
		}
	}
	return out
}

// aside moves task i off the use that begins at minute t, if it can't end before.
func (p *places) aside(e *engine, i, t int) bool {
	k := p.tasks[i]
	want := p.capacity - k.amount + 1
	for {
		lo := e.lo(k.a)
		late := e.lo(k.b)+k.tail > t
		if lo > t || !(lo+k.least > t || late) {
			break
		}
		// One task that leaves no room is passed in one go.
		if j := p.alone(e, t, want, i); j >= 0 {
			o := p.tasks[j]
			end := e.lo(o.b) + o.tail
			first := atLeast(k.a, t+1-k.least)
			if lo+k.least <= t {
				first = atLeast(k.b, t+1-k.tail)
			}
			e.buf = append(e.buf[:0], first, atMost(o.a, t), atLeast(o.b, end-o.tail))
			if !e.set(atLeast(k.a, end), nil, e.buf, false) {
				return false
			}
			break
		}
		// It can't start at t or before: it would be going on at t.
		till := p.until(e, t, want, i)
		step := min(till-1, max(lo+k.least-1, t))
		if late {
			step = min(till-1, max(step, e.lo(k.b)+k.tail-1))
		}
		buf := e.buf[:0]
		if lo+k.least > step {
			buf = append(buf, atLeast(k.a, step+1-k.least))
		} else {
			buf = append(buf, atLeast(k.b, step+1-k.tail))
		}
		buf = p.going(e, buf, step, want, i)
		e.buf = buf
		if !e.set(atLeast(k.a, step+1), nil, buf, false) {
			return false
		}
		if step+1 >= till {
			break
		}
		t = step + 1
	}
	return true
}

// alone finds another task that surely takes want or more at t; -1 for none.
func (p *places) alone(e *engine, t, want, except int) int {
	for j, o := range p.tasks {
		if j != except && o.amount >= want && e.hi(o.a) <= t && t < e.lo(o.b)+o.tail {
			return j
		}
	}
	return -1
}

// before ends task i by minute t if it can't start after the use there.
func (p *places) before(e *engine, i, t, want int) bool {
	k := p.tasks[i]
	end := e.hi(k.b) + k.tail
	early := e.hi(k.a) <= t
	if end <= t || !(end-k.least <= t || early) {
		return true
	}
	buf := e.buf[:0]
	if end-k.least <= t {
		buf = append(buf, atMost(k.b, t+k.least-k.tail))
	} else {
		buf = append(buf, atMost(k.a, t))
	}
	buf = p.going(e, buf, t, want, i)
	e.buf = buf
	return e.set(atMost(k.b, t-k.tail), nil, buf, false)
}

// until is the first minute after t at which fewer than want are surely in use,
// as far as the tasks going on at t tell.
func (p *places) until(e *engine, t, want, except int) int {
	// The use stays at want until so many have ended; the tasks are few, so the
	// ends are tried one after the other.
	till := t
	for {
		next := 1 << 30
		sum := 0
		for i, k := range p.tasks {
			if i == except || e.hi(k.a) > till {
				continue
			}
			if end := e.lo(k.b) + k.tail; till < end {
				sum += k.amount
				next = min(next, end)
			}
		}
		if sum < want {
			return till
		}
		till = next
	}
}
