package design

import (
	"math"
	"slices"
)

// climb exchanges until nothing gets better.
func (x *exchange) climb() {
	for range 100 {
		better := false
		for i := len(x.Fixed); i < x.n; i++ {
			for f := range x.codes {
				if x.held[f] < 0 && x.tryCodes(i, f) {
					better = true
				}
			}
		}
		for f, g := range x.held {
			if g >= 0 && x.tryHeld(f, x.Groups[g]) {
				better = true
			}
		}
		if !better && x.whole != nil {
			for i := len(x.Fixed); i < x.n; i++ {
				if x.tryRows(i, slices.Values(x.whole)) {
					better = true
				}
			}
		}
		if !better || !x.fresh() {
			return
		}
	}
}

// tryCodes tries every setting of one factor in one run.
func (x *exchange) tryCodes(i, f int) bool {
	return x.tryRows(i, func(yield func([]float64) bool) {
		run := slices.Clone(x.runs[i])
		for _, c := range x.codes[f] {
			if run[f] = c; c == x.runs[i][f] || x.bad(run) {
				continue
			}
			if !yield(run) {
				return
			}
		}
	})
}

// tryRows gives run i the best of the offered settings, if one is better.
//
// The change of a row by d adds d u' + u d' + w d d' to the information, of rank
// two, where u = X'V⁻¹e_i and w is that row's weight; the matrix determinant
// lemma and Woodbury's identity give what it gains without a new inverse.
func (x *exchange) tryRows(i int, offers func(func([]float64) bool)) bool {
	u, w := x.pull(i)
	gu := times(nil, x.inv, u)
	ugu := dot(u, gu)
	var hu []float64
	var uhu, total float64
	if x.prize != nil {
		total = trace(x.inv, x.prize, x.q)
		hu = times(nil, x.back, u)
		uhu = dot(u, hu)
	}
	gain, best := 1e-8, []float64(nil)
	row := make([]float64, 0, x.q)
	d, at := make([]float64, x.q), make([]int, 0, x.q)
	for run := range offers {
		row = append(x.row(row[:0], run), x.shifts[i]...)
		at = at[:0]
		for j := range d {
			if d[j] = row[j] - x.rows[i][j]; d[j] != 0 {
				at = append(at, j)
			}
		}
		dgu, dgd := dot(d, gu), quadAt(x.inv, d, at)
		det := (1+dgu)*(1+dgu) - dgd*(ugu-w)
		if !(det > 1e-10) {
			continue
		}
		g := det - 1
		if x.prize != nil {
			dhu, dhd := dot(d, hu), quadAt(x.back, d, at)
			// S = [[dgd, 1+dgu], [1+dgu, ugu-w]], |S| = -det; what is gained is
			// the trace of S⁻¹ [[dhd, dhu], [dhu, uhu]], over what there is.
			g = ((ugu-w)*dhd - 2*(1+dgu)*dhu + dgd*uhu) / -det / total
		}
		if g > gain {
			gain, best = g, slices.Clone(run)
		}
	}
	if best == nil {
		return false
	}
	return x.put(i, best)
}

// quadAt is d'Md where d is zero but at some places: one factor changes few
// columns.
func quadAt(m, d []float64, at []int) float64 {
	q := len(d)
	sum := 0.0
	for k, i := range at {
		s := m[i*q+i] * d[i] / 2
		for _, j := range at[:k] {
			s += m[i*q+j] * d[j]
		}
		sum += 2 * d[i] * s
	}
	return sum
}

// pull returns X'V⁻¹e_i and the weight of run i.
func (x *exchange) pull(i int) ([]float64, float64) {
	if x.weight == nil {
		return slices.Clone(x.rows[i]), 1
	}
	u := make([]float64, x.q)
	for k, v := range x.weight[i] {
		if v != 0 {
			for j, r := range x.rows[k] {
				u[j] += v * r
			}
		}
	}
	return u, x.weight[i][i]
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// put sets run i and brings the inverses up to date.
func (x *exchange) put(i int, run []float64) bool {
	u, w := x.pull(i)
	row := x.line(i, run)
	d := make([]float64, x.q)
	for j := range d {
		d[j] = row[j] - x.rows[i][j]
	}
	gd, gu := times(nil, x.inv, d), times(nil, x.inv, u)
	a, b, c := dot(d, gd), 1+dot(d, gu), dot(u, gu)-w
	det := a*c - b*b
	if math.Abs(det) < 1e-12 {
		return false
	}
	x.runs[i], x.rows[i] = run, row
	q := x.q
	for r := range q {
		for k := range q {
			x.inv[r*q+k] -= (c*gd[r]*gd[k] - b*(gd[r]*gu[k]+gu[r]*gd[k]) + a*gu[r]*gu[k]) / det
		}
	}
	x.weighBack()
	return true
}

// tryHeld tries every setting of a held factor in each of its groups.
func (x *exchange) tryHeld(f int, g Group) bool {
	better := false
	score := x.rough()
	for b := range g.count() {
		var members []int
		free := true
		for i, of := range g.Of {
			if of == b {
				members = append(members, i)
				free = free && i >= len(x.Fixed)
			}
		}
		if !free {
			continue
		}
		for _, c := range x.codes[f] {
			was := x.runs[members[0]][f]
			if c == was || !x.setHeld(f, members, c) {
				continue
			}
			if next := x.rough(); next > score+1e-8 {
				score, better = next, true
				continue
			}
			x.setHeld(f, members, was)
		}
	}
	if better {
		x.fresh()
	}
	return better
}

// setHeld gives all members the setting, unless that is forbidden for one.
func (x *exchange) setHeld(f int, members []int, c float64) bool {
	for _, i := range members {
		run := slices.Clone(x.runs[i])
		if run[f] = c; x.bad(run) {
			return false
		}
	}
	for _, i := range members {
		x.runs[i] = slices.Clone(x.runs[i])
		x.runs[i][f] = c
		x.rows[i] = x.line(i, x.runs[i])
	}
	return true
}

// rough is the score with the little added, so that it is there for every plan.
func (x *exchange) rough() float64 {
	m := x.information(x.rows)
	for i := range x.q {
		m[i*x.q+i] += little
	}
	inv, logDet, _ := invert(m, x.q)
	switch {
	case inv == nil:
		return math.Inf(-1)
	case x.prize == nil:
		return logDet
	}
	return -math.Log(trace(inv, x.prize, x.q))
}
