package heif

import "errors"

// refSet is a short-term reference picture set: order count distances back and
// forth. A still picture uses none, but its length must be known to read past
// it, and a set may be written as a change to another.
type refSet struct{ before, after []int }

// parseRefSet reads a short-term reference picture set (clause 7.3.7): the set
// number idx of total, or one of a slice's own if idx is total.
func parseRefSet(r *bitReader, idx, total int, sets []refSet) (refSet, error) {
	bad := errors.New("reference picture set outside the standard")
	var s refSet
	if idx > 0 && r.flag() {
		back := 1
		if idx == total {
			back = int(min(r.ue(), 64)) + 1
		}
		if back > idx || idx-back >= len(sets) {
			return s, bad
		}
		sign := r.flag()
		move := int(min(r.ue(), 1<<15)) + 1
		if sign {
			move = -move
		}
		ref := sets[idx-back]
		all := append(append([]int(nil), ref.before...), ref.after...)
		all = append(all, 0)
		use := make([]bool, len(all))
		for i := range use {
			use[i] = r.flag() || r.flag() // used_by_curr_pic, else use_delta
		}
		keep := func(i int, list *[]int, wantBefore bool) {
			if d := all[i] + move; use[i] && d != 0 && d < 0 == wantBefore {
				*list = append(*list, d)
			}
		}
		// The order of equations 7-61 and 7-62.
		n, last := len(ref.before), len(all)-1
		for i := last - 1; i >= n; i-- {
			keep(i, &s.before, true)
		}
		keep(last, &s.before, true)
		for i := range n {
			keep(i, &s.before, true)
		}
		for i := n - 1; i >= 0; i-- {
			keep(i, &s.after, false)
		}
		keep(last, &s.after, false)
		for i := n; i < last; i++ {
			keep(i, &s.after, false)
		}
	} else {
		neg, pos := r.ue(), r.ue()
		if neg > 16 || pos > 16 {
			return s, bad
		}
		d := 0
		for range neg {
			d -= int(min(r.ue(), 1<<15)) + 1
			r.skip(1)
			s.before = append(s.before, d)
		}
		d = 0
		for range pos {
			d += int(min(r.ue(), 1<<15)) + 1
			r.skip(1)
			s.after = append(s.after, d)
		}
	}
	if len(s.before)+len(s.after) > 16 {
		return s, bad
	}
	return s, nil
}
