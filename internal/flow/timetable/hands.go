package timetable

import "slices"

// hands keeps tasks that need the one pair of hands from each other by edge
// finding: whatever would overfill the time between a set's first start and
// last end comes after the set (Carlier and Pinson 1990; the quadratic form and
// its reasons as in Baptiste, Le Pape and Nuijten 2001, section 2.1.4). A task
// has a fixed length here.
type hands struct {
	tasks []task
	order []int
	ends  []int
	after []int
	est   []int // first starts and last ends, as seen from the side in hand
	lct   []int
}

func (h *hands) run(e *engine) bool {
	return h.side(e, 0) && h.side(e, 1)
}

// first and last are a task's first start and last end, seen from either end of time.
func (h *hands) first(e *engine, i, side int) int {
	k := h.tasks[i]
	if side == 0 {
		return e.lo(k.a)
	}
	return -e.hi(k.a) - k.tail
}

func (h *hands) last(e *engine, i, side int) int {
	k := h.tasks[i]
	if side == 0 {
		return e.hi(k.a) + k.tail
	}
	return -e.lo(k.a)
}

// starts says that task i does not start before b, ends that it ends by b.
func (h *hands) starts(i, side, b int) lit {
	k := h.tasks[i]
	if side == 0 {
		return atLeast(k.a, b)
	}
	return atMost(k.a, -b-k.tail)
}

func (h *hands) endsBy(i, side, b int) lit {
	k := h.tasks[i]
	if side == 0 {
		return atMost(k.a, b-k.tail)
	}
	return atLeast(k.a, -b)
}

func (h *hands) side(e *engine, side int) bool {
	n := len(h.tasks)
	if len(h.order) != n {
		h.order, h.ends, h.after = make([]int, n), make([]int, n), make([]int, n)
		h.est, h.lct = make([]int, n), make([]int, n)
		for i := range n {
			h.order[i] = i
		}
	}
	est, lct := h.est, h.lct
	for i := range n {
		est[i], lct[i] = h.first(e, i, side), h.last(e, i, side)
	}
	slices.SortFunc(h.order, func(a, b int) int { return est[a] - est[b] })
	copy(h.ends, lct)
	slices.Sort(h.ends)
	for _, limit := range slices.Compact(h.ends) {
		const none = -1 << 30
		sum, full := 0, none
		for at := n - 1; at >= 0; at-- {
			i := h.order[at]
			if lct[i] <= limit {
				sum += h.tasks[i].tail
				full = max(full, est[i]+sum)
				if est[i]+sum > limit {
					return h.overfull(e, side, est, lct, limit, est[i])
				}
			}
			h.after[i] = full
		}
		whole, first := none, -1
		for _, i := range h.order {
			if lct[i] <= limit {
				if est[i]+sum > whole {
					whole, first = est[i]+sum, i
				}
				sum -= h.tasks[i].tail
				continue
			}
			switch {
			case sum > 0 && est[i]+sum+h.tasks[i].tail > limit:
				if h.after[i] > est[i] && !h.push(e, side, i, est, lct, limit, est[i], h.after[i]) {
					return false
				}
			case first >= 0 && whole+h.tasks[i].tail > limit:
				if h.after[first] > est[i] && !h.push(e, side, i, est, lct, limit, est[first], h.after[first]) {
					return false
				}
			}
		}
	}
	return true
}

// overfull explains that the tasks between from and limit are too many.
func (h *hands) overfull(e *engine, side int, est, lct []int, limit, from int) bool {
	e.fault = e.fault[:0]
	for i := range h.tasks {
		if est[i] >= from && lct[i] <= limit && h.tasks[i].tail > 0 {
			e.fault = append(e.fault, h.starts(i, side, from), h.endsBy(i, side, limit))
		}
	}
	return false
}

// push lets task i start no earlier than to: with it, the tasks between from
// and limit would be too many unless it came last.
func (h *hands) push(e *engine, side, i int, est, lct []int, limit, from, to int) bool {
	// The set whose work ends at to begins at inner.
	inner, sum := from, 0
	for at := len(h.order) - 1; at >= 0; at-- {
		j := h.order[at]
		if est[j] < from {
			break
		}
		if lct[j] <= limit {
			sum += h.tasks[j].tail
			if est[j]+sum == to {
				inner = est[j]
				break
			}
		}
	}
	buf := append(e.buf[:0], h.starts(i, side, from))
	for j := range h.tasks {
		if j == i || lct[j] > limit || est[j] < from || h.tasks[j].tail == 0 {
			continue
		}
		b := from
		if est[j] >= inner {
			b = inner
		}
		buf = append(buf, h.starts(j, side, b), h.endsBy(j, side, limit))
	}
	e.buf = buf
	return e.set(h.starts(i, side, to), nil, buf, false)
}
