package timetable

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
	cuts     []int
}

func (p *places) run(e *engine) bool {
	// The profile is looked at where a part that must go on begins: usage can
	// only rise there.
	cuts := p.cuts[:0]
	for _, k := range p.tasks {
		if from := e.hi(k.a); from < e.lo(k.b)+k.tail {
			cuts = append(cuts, from)
		}
	}
	p.cuts = cuts
	for _, t := range cuts {
		used := 0
		for _, k := range p.tasks {
			if e.hi(k.a) <= t && t < e.lo(k.b)+k.tail {
				used += k.amount
			}
		}
		if used > p.capacity {
			e.fault = p.going(e, e.fault[:0], t, p.capacity+1, -1)
			return false
		}
		for i, k := range p.tasks {
			if used+k.amount <= p.capacity {
				continue
			}
			must := e.hi(k.a) <= t && t < e.lo(k.b)+k.tail
			if must {
				continue
			}
			if !p.aside(e, i, t) {
				return false
			}
		}
	}
	return true
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
	return p.before(e, i, t, want)
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
	if end <= t || !(end-k.least <= t || early) || p.used(e, t, i) < want {
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

// used is what other tasks than one surely take at minute t.
func (p *places) used(e *engine, t, except int) int {
	sum := 0
	for i, k := range p.tasks {
		if i != except && e.hi(k.a) <= t && t < e.lo(k.b)+k.tail {
			sum += k.amount
		}
	}
	return sum
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
