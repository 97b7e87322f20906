package timetable

import "math/rand/v2"

// count keeps variable sum at or above the number of lits that hold.
type count struct {
	lits []lit
	sum  int
}

func (c *count) run(e *engine) bool {
	buf := e.buf[:0]
	for _, l := range c.lits {
		if e.holds(l) {
			buf = append(buf, l)
		}
	}
	n := len(buf)
	e.buf = buf
	if !e.set(atLeast(c.sum, n), nil, buf, false) {
		return false
	}
	if top := e.hi(c.sum); n == top {
		buf = append(buf, atMost(c.sum, top))
		e.buf = buf
		for _, l := range c.lits {
			if !e.decided(l) && !e.set(l.not(), nil, buf, false) {
				return false
			}
		}
	}
	return true
}

// counting adds a variable that counts lits.
func (m *model) counting(lits []lit) int {
	sum := m.variable(0, len(lits))
	var wakes []int32
	for _, l := range lits {
		wakes = append(wakes, l.v)
	}
	m.add(&count{lits, sum}, append(wakes, int32(2*sum+1))...)
	return sum
}

// from takes a known timetable, or finds any where that is none.
func (s *search) from(known []int) outcome {
	if len(known) == s.n {
		var all []lit
		for i, b := range known {
			all = append(all, atLeast(i, b), atMost(i, b))
		}
		s.start(known)
		if s.run(byFault, all, 100) == found {
			return found
		}
	}
	return s.first()
}

// first finds any timetable.
func (s *search) first() outcome {
	for k := 1; ; k++ {
		if k > 1 {
			s.shuffle()
		}
		w := []way{bySwatch, byTime, byFault}[(k-1)%3]
		if k > 12 {
			w = byFault
		}
		if r := s.run(w, nil, 60*luby(k)); r != gaveUp || s.meter.over {
			return r
		}
	}
}

// improve lowers what goal counts from the timetable at hand until that is
// proven to be the least or the limit is reached. It returns the best value and
// a bound that none can be below.
func (s *search) improve(goal int, value func([]int) int) (best, bound int) {
	best = value(s.best)
	bound = s.rootLow(goal)
	free := 0.15
	effort, leap := 200, 2
	near := &nearby{s, 40}
	for k := 1; ; k++ {
		s.atRoot(atMost(goal, best-1))
		if s.broken {
			return best, best
		}
		bound = max(bound, s.rootLow(goal))
		var r outcome
		switch {
		case goal == s.finish && s.n > crowd && k%64 != 5:
			r = near.again(best)
		case k%8 == 5: // raise the bound
			r = s.run(byFault, []lit{atMost(goal, bound)}, effort)
			if r == nothing {
				s.atRoot(atLeast(goal, bound+1))
			} else if r == gaveUp {
				effort += effort / 4
			}
		case k%2 == 1 && k%8 != 7: // leap
			to := best - 1 - (best-1-bound)/leap
			r = s.run(byFault, []lit{atMost(goal, to)}, 150)
			switch r {
			case nothing:
				s.atRoot(atLeast(goal, to+1))
			case gaveUp:
				leap = min(64, 2*leap)
			default:
				leap = max(2, leap/2)
			}
		case k%8 == 7: // everything
			r = s.run(byFault, nil, 500*luby((k+1)/8))
			if r == nothing {
				return best, best
			}
		default: // a neighbourhood of the best
			r = s.run(byFault, s.around(free), 150)
			if r == gaveUp {
				free = max(0.05, free*0.97)
			} else if r == nothing {
				free = min(0.8, free*1.05)
			}
		}
		if s.broken {
			return best, best
		}
		if r == found {
			best = min(best, value(s.best))
		}
		if s.meter.over || !s.spend() {
			s.backTo(0)
			return best, max(bound, s.rootLow(goal))
		}
	}
}

// rootLow is what goal is at the least.
func (s *search) rootLow(goal int) int {
	s.backTo(0)
	return s.lo(goal)
}

// around keeps the order of all but a share of the operations: those of a
// stretch of time, of a few swatches, or any.
func (s *search) around(share float64) []lit {
	free := make([]bool, len(s.act))
	last := 0
	for _, b := range s.best {
		last = max(last, b)
	}
	switch s.dice.IntN(3) {
	case 0:
		from := s.dice.Float64()*(1+share)*float64(last) - share*float64(last)
		for i, b := range s.best {
			free[i] = float64(b) >= from && float64(b) <= from+share*float64(last)+1
		}
	case 1:
		in := map[int]bool{}
		for i := range s.best {
			g := s.group[i]
			if _, ok := in[g]; !ok {
				in[g] = s.dice.Float64() < share
			}
			free[i] = in[g]
		}
	default:
		from := s.dice.Float64() * float64(last)
		for i, b := range s.best {
			free[i] = s.dice.Float64() < share || (float64(b) >= from && float64(b) <= from+share/2*float64(last))
		}
	}
	var out []lit
	for _, o := range s.orders {
		if o.x >= len(s.phase) || free[o.a1] || free[o.a2] || free[o.b1] || free[o.b2] {
			continue
		}
		if s.phase[o.x] > 0 {
			out = append(out, atLeast(o.x, 1))
		} else {
			out = append(out, atMost(o.x, 0))
		}
	}
	s.dice.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// finishOf is when the last of the operations is over.
func finishOf(d Day, start []int) int {
	last := 0
	for i, b := range start {
		last = max(last, b+d.Ops[i].Minutes)
	}
	return last
}

func dice(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x7469_6d65)) }
