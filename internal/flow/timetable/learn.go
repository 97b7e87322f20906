package timetable

import "slices"

// entryOf finds the entry that first made l hold; below 0 for the root.
func (e *engine) entryOf(l lit) int32 {
	i := e.top[l.v]
	for i >= 0 && e.trail[i].prev >= l.b {
		i = e.trail[i].below
	}
	if i >= 0 && e.trail[i].level == 0 {
		return -1
	}
	return i
}

// reason appends why entry i holds, as far as bound b of it is needed.
func (e *engine) reason(out []lit, i int32, b int32) []lit {
	t := &e.trail[i]
	if t.c != nil {
		for _, o := range t.c.lits[1:] {
			out = append(out, o.not())
		}
		return out
	}
	n := len(out)
	out = append(out, e.arena[t.from:t.to]...)
	if t.shift && len(out) > n {
		out[n].b -= t.b - b
	}
	return out
}

// resolve learns from e.fault, goes back and sets what follows. It returns
// false when nothing can fit any more.
func (e *engine) resolve() bool {
	e.conflicts++
	cur := int32(0)
	for _, l := range e.fault {
		if i := e.entryOf(l); i >= 0 {
			cur = max(cur, e.trail[i].level)
		}
	}
	if cur == 0 {
		e.broken = true
		return false
	}
	count := 0
	add := func(l lit) {
		i := e.entryOf(l)
		if i < 0 {
			return
		}
		p := e.pend[l.v]
		switch {
		case p < 0:
			e.pend[l.v], e.need[l.v] = i, l.b
			e.touched = append(e.touched, l.v)
			if e.trail[i].level == cur {
				count++
			}
			e.more(l.v >> 1)
		case e.need[l.v] < l.b:
			if e.trail[p].level != cur && e.trail[i].level == cur {
				count++
			}
			e.pend[l.v], e.need[l.v] = i, l.b
		}
	}
	for _, l := range e.fault {
		add(l)
	}
	var buf []lit
	var uip lit
	for i := int32(len(e.trail) - 1); ; i-- {
		t := &e.trail[i]
		if e.pend[t.v] != i || t.level != cur {
			continue
		}
		if count == 1 {
			uip = lit{t.v, e.need[t.v]}
			break
		}
		count--
		if t.c != nil && t.c.learned {
			t.c.act += e.clauseUp
		}
		e.pend[t.v] = -1
		buf = e.reason(buf[:0], i, e.need[t.v])
		for _, l := range buf {
			add(l)
		}
	}
	lits := []lit{uip.not()}
	for _, v := range e.touched {
		if i := e.pend[v]; i >= 0 && v != uip.v && !e.follows(i, e.need[v], 4) {
			lits = append(lits, lit{v, e.need[v]}.not())
		}
	}
	for _, v := range e.touched {
		e.pend[v] = -1
	}
	e.touched = e.touched[:0]
	lits = once(lits)
	back := int32(0)
	for k := 1; k < len(lits); k++ {
		if l := e.trail[e.entryOf(lits[k].not())].level; l > back {
			back = l
			lits[1], lits[k] = lits[k], lits[1]
		}
	}
	e.backTo(int(back))
	e.bump *= 1 / 0.95
	e.clauseUp *= 1 / 0.999
	if len(lits) == 1 {
		if !e.set(lits[0], nil, nil, false) {
			e.broken = true
			return false
		}
		return true
	}
	c := &clause{lits: lits, learned: true, act: e.clauseUp}
	e.learned = append(e.learned, c)
	e.watch(c)
	if e.clauseUp > 1e100 {
		for _, c := range e.learned {
			c.act *= 1e-100
		}
		e.clauseUp *= 1e-100
	}
	return e.set(lits[0], c, nil, false)
}

// once drops what is said twice: a variable that was pending twice.
func once(lits []lit) []lit {
	out := lits[:1]
	for _, l := range lits[1:] {
		if !slices.Contains(out[1:], l) {
			out = append(out, l)
		}
	}
	return out
}

// follows says whether bound b of entry i is implied by what is pending before it.
func (e *engine) follows(i, b int32, depth int) bool {
	t := &e.trail[i]
	if t.c == nil && t.from == t.to {
		return false
	}
	for _, l := range e.reason(nil, i, b) {
		j := e.entryOf(l)
		if j < 0 {
			continue
		}
		if p := e.pend[l.v]; p >= 0 && p < i && e.need[l.v] >= l.b {
			continue
		}
		if depth == 0 || !e.follows(j, l.b, depth-1) {
			return false
		}
	}
	return true
}

// forget drops the learned clauses that helped least.
func (e *engine) forget() {
	slices.SortFunc(e.learned, func(a, b *clause) int {
		switch {
		case a.act > b.act:
			return -1
		case a.act < b.act:
			return 1
		}
		return 0
	})
	kept := e.learned[:0]
	for k, c := range e.learned {
		if k < len(e.learned)/2 || len(c.lits) <= 3 {
			kept = append(kept, c)
		} else {
			c.gone = true
		}
	}
	clear(e.learned[len(kept):])
	e.learned = kept
}
