package timetable

import (
	"math/rand/v2"
	"slices"
)

// A Limit ends a search: after so many steps (bounds raised; 0 for no limit) or
// when Stop, asked now and then, says so. Neither gives up what was found.
type Limit struct {
	Steps int
	Stop  func() bool
}

// A meter counts steps over several engines.
type meter struct {
	limit Limit
	spent int
	over  bool
}

// left says whether the search may go on; steps were made since it was asked.
func (t *meter) left(steps int) bool {
	t.spent += steps
	if t.limit.Steps > 0 && t.spent >= t.limit.Steps {
		t.over = true
	}
	if !t.over && t.limit.Stop != nil && t.limit.Stop() {
		t.over = true
	}
	return !t.over
}

type outcome int

const (
	found   outcome = iota + 1
	nothing         // nothing fits (under the assumptions)
	gaveUp
)

// way is how the next decision is chosen.
type way int

const (
	bySwatch way = iota // one swatch after the other, each as early as can be
	byTime              // what can start first, first
	byFault             // what failed most, in the direction of the best so far
)

// search is one engine's search.
type search struct {
	*model
	dice  *rand.Rand
	meter *meter
	seen  int   // steps the meter knows of
	best  []int // the starts found last
	phase []int32
	rank  []int // of groups
	most  int   // learned clauses before half are forgotten
	given []int // how many assumptions hold at each level
}

func newSearch(m *model, dice *rand.Rand, t *meter) *search {
	s := &search{model: m, dice: dice, meter: t, most: 4000}
	s.rank = make([]int, m.n)
	for i := range s.rank {
		s.rank[i] = i
	}
	s.phase = make([]int32, len(m.act))
	for i := range s.phase {
		s.phase[i] = -1
	}
	return s
}

// run looks for starts under assumptions until so many conflicts.
func (s *search) run(w way, assume []lit, conflicts int) outcome {
	s.backTo(0)
	if s.broken {
		return nothing
	}
	until := s.conflicts + conflicts
	last := s.conflicts
	for {
		if !s.propagate() {
			if !s.resolve() {
				return nothing
			}
			if s.conflicts-last >= 16 {
				last = s.conflicts
				if !s.spend() {
					return gaveUp
				}
			}
			if s.conflicts >= until {
				return gaveUp
			}
			continue
		}
		if len(s.learned) > s.most {
			s.forget()
			s.most += 100
		}
		if s.steps-s.seen > 20000 && !s.spend() {
			return gaveUp
		}
		at := 0
		if l := s.level(); l > 0 {
			at = s.given[l-1]
		}
		for at < len(assume) && s.holds(assume[at]) {
			at++
		}
		s.given = append(s.given[:s.level()], at)
		if at < len(assume) {
			if s.fails(assume[at]) {
				return nothing
			}
			s.decide(assume[at])
			continue
		}
		l, more := s.next(w)
		if !more {
			s.keep()
			return found
		}
		s.decide(l)
	}
}

func (s *search) spend() bool {
	ok := s.meter.left(s.steps - s.seen)
	s.seen = s.steps
	return ok
}

// keep remembers the starts found.
func (s *search) keep() {
	s.best = make([]int, s.n)
	for i := range s.n {
		s.best[i] = s.lo(i)
	}
	for len(s.phase) < len(s.act) {
		s.phase = append(s.phase, -1)
	}
	for x := range s.act {
		s.phase[x] = s.lb[2*x]
	}
}

// next chooses a decision; false once everything is decided.
func (s *search) next(w way) (lit, bool) {
	switch w {
	case bySwatch, byTime:
		at := -1
		for i := range s.n {
			if s.fixed(i) {
				continue
			}
			if at < 0 {
				at = i
				continue
			}
			if w == bySwatch {
				if a, b := s.rank[s.group[i]], s.rank[s.group[at]]; a != b {
					if a < b {
						at = i
					}
					continue
				}
			}
			if a, b := s.lo(i), s.lo(at); a < b || a == b && s.hi(i) < s.hi(at) {
				at = i
			}
		}
		if at >= 0 {
			return atMost(at, s.lo(at)), true
		}
	}
	for len(s.heap) > 0 {
		x := int(s.pop())
		if s.fixed(x) || x == s.finish {
			continue
		}
		lo, hi := s.lo(x), s.hi(x)
		if x >= s.n {
			if x < len(s.phase) && s.phase[x] >= 0 {
				if s.phase[x] > 0 {
					return atLeast(x, 1), true
				}
				return atMost(x, 0), true
			}
			return s.likely(x), true
		}
		if b := int32(-1); x < len(s.phase) {
			if b = s.phase[x]; b >= 0 && int(b) >= lo && int(b) < hi {
				return atMost(x, int(b)), true
			}
		}
		// Half-decided starts come back when the heap has run dry.
		return atMost(x, lo), true
	}
	for i := range s.n {
		if !s.fixed(i) {
			return atMost(i, s.lo(i)), true
		}
	}
	for x := s.n; x < len(s.act); x++ {
		if !s.fixed(x) {
			return atMost(x, s.lo(x)), true
		}
	}
	return lit{}, false
}

// likely lets the hold with less time left go first.
func (s *search) likely(x int) lit {
	k, ok := slices.BinarySearchFunc(s.orders, x, func(o order, x int) int { return o.x - x })
	if !ok {
		return atMost(x, 0)
	}
	o := s.orders[k]
	if s.lo(o.a1)+s.hi(o.a1) <= s.lo(o.a2)+s.hi(o.a2) {
		return atLeast(x, 1)
	}
	return atMost(x, 0)
}

// luby is the length of the k-th run between restarts (Luby, Sinclair and
// Zuckerman 1993).
func luby(k int) int {
	for n := 1; ; n++ {
		if k == 1<<n-1 {
			return 1 << (n - 1)
		}
		if k < 1<<n-1 {
			return luby(k - (1<<(n-1) - 1))
		}
	}
}

// shuffle draws a new order of the groups.
func (s *search) shuffle() {
	for i, k := range s.dice.Perm(s.n) {
		s.rank[i] = k
	}
}
