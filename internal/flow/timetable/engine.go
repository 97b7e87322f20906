package timetable

import "slices"

// A lit says that a signed variable is at least b. Variable x is 2x; 2x+1 is its
// negative, so an upper bound is a lower bound of the other sign.
type lit struct{ v, b int32 }

// not is the opposite claim: x >= b fails when -x >= 1-b.
func (l lit) not() lit { return lit{l.v ^ 1, 1 - l.b} }

func atLeast(x int, b int) lit { return lit{int32(2 * x), int32(b)} }
func atMost(x int, b int) lit  { return lit{int32(2*x + 1), int32(-b)} }

// A clause is a list of which at least one must hold; the first two are watched.
type clause struct {
	lits    []lit
	act     float64
	learned bool
	gone    bool
}

type watch struct {
	c    *clause
	thr  int32
	help lit // if it holds, the clause need not be looked at
}

// An edge says to >= from + w where its gate holds.
type edge struct {
	from, to, w int32
	gate        lit // v < 0: always
}

// An entry is one bound that rose, and why.
type entry struct {
	v, b, prev int32
	below      int32 // the entry of v before this one
	level      int32
	from, to   int32 // its reason in the arena
	c          *clause
	shift      bool // the first of the reason may be weaker by as much as the bound is
}

type propagator interface {
	// run raises bounds by set and returns false once one of them failed.
	run(e *engine) bool
}

// The engine holds bounds, raises them as far as the constraints say, and
// learns from every failure a clause that prevents it (lazy clause generation:
// Ohrimenko, Stuckey and Codish 2009, Constraints 14; bounds as literals and
// never as variables of their own).
type engine struct {
	lb, top []int32
	trail   []entry
	arena   []lit
	head    int
	starts  []int // of each level in the trail
	arenas  []int // of each level in the arena
	watches [][]watch
	edges   [][]edge
	gates   [][]edge
	wake    [][]int32
	props   []propagator
	queue   []int32
	queued  []bool
	fault   []lit // all hold and can't together
	buf     []lit
	broken  bool // nothing fits

	learned  []*clause
	clauseUp float64

	act   []float64
	bump  float64
	heap  []int32
	place []int32

	pend, need []int32
	touched    []int32

	steps     int // bounds raised
	conflicts int
}

func newEngine() *engine { return &engine{bump: 1, clauseUp: 1} }

// variable adds one between lo and hi.
func (e *engine) variable(lo, hi int) int {
	x := len(e.act)
	e.lb = append(e.lb, int32(lo), int32(-hi))
	e.top = append(e.top, -1, -1)
	e.watches = append(e.watches, nil, nil)
	e.edges = append(e.edges, nil, nil)
	e.gates = append(e.gates, nil, nil)
	e.wake = append(e.wake, nil, nil)
	e.pend = append(e.pend, -1, -1)
	e.need = append(e.need, 0, 0)
	e.act = append(e.act, 0)
	e.place = append(e.place, -1)
	e.push(int32(x))
	if lo > hi {
		e.broken = true
	}
	return x
}

func (e *engine) lo(x int) int       { return int(e.lb[2*x]) }
func (e *engine) hi(x int) int       { return -int(e.lb[2*x+1]) }
func (e *engine) fixed(x int) bool   { return e.lb[2*x] == -e.lb[2*x+1] }
func (e *engine) level() int         { return len(e.starts) }
func (e *engine) holds(l lit) bool   { return e.lb[l.v] >= l.b }
func (e *engine) fails(l lit) bool   { return e.lb[l.v^1] >= 1-l.b }
func (e *engine) decided(l lit) bool { return e.holds(l) || e.fails(l) }

// atRoot sets a bound for good.
func (e *engine) atRoot(l lit) {
	e.backTo(0)
	if !e.broken && (!e.set(l, nil, nil, false) || !e.propagate()) {
		e.broken = true
	}
}

// follow adds to >= from + w for start variables, where gate holds.
func (e *engine) follow(from, to, w int, gate lit) {
	for _, ed := range []edge{
		{int32(2 * from), int32(2 * to), int32(w), gate},
		{int32(2*to + 1), int32(2*from + 1), int32(w), gate},
	} {
		e.edges[ed.from] = append(e.edges[ed.from], ed)
		if gate.v >= 0 {
			e.gates[gate.v] = append(e.gates[gate.v], ed)
		} else if !e.along(ed) {
			e.broken = true
		}
	}
}

var always = lit{-1, 0}

func (e *engine) add(p propagator, wakes ...int32) {
	id := int32(len(e.props))
	e.props = append(e.props, p)
	e.queued = append(e.queued, true)
	e.queue = append(e.queue, id)
	for _, v := range wakes {
		if !slices.Contains(e.wake[v], id) {
			e.wake[v] = append(e.wake[v], id)
		}
	}
}

// clause adds a clause at the root.
func (e *engine) clause(lits ...lit) {
	e.backTo(0)
	kept := lits[:0:0]
	for _, l := range lits {
		if e.holds(l) {
			return
		}
		if !e.fails(l) {
			kept = append(kept, l)
		}
	}
	switch len(kept) {
	case 0:
		e.broken = true
	case 1:
		if !e.set(kept[0], nil, nil, false) {
			e.broken = true
		}
	default:
		e.watch(&clause{lits: kept})
	}
}

func (e *engine) watch(c *clause) {
	for k := range 2 {
		n := c.lits[k].not()
		e.watches[n.v] = append(e.watches[n.v], watch{c, n.b, c.lits[1-k]})
	}
}

// set raises a bound for a reason: a clause whose first is l, or the conditions
// why. It returns false, with e.fault set, if that can't be.
func (e *engine) set(l lit, c *clause, why []lit, shift bool) bool {
	if e.lb[l.v] >= l.b {
		return true
	}
	if e.fails(l) {
		e.fault = append(e.fault[:0], l.not())
		if c != nil {
			for _, o := range c.lits[1:] {
				e.fault = append(e.fault, o.not())
			}
		} else {
			e.fault = append(e.fault, why...)
		}
		return false
	}
	level := int32(len(e.starts))
	from := int32(len(e.arena))
	if level > 0 {
		e.arena = append(e.arena, why...)
	}
	e.trail = append(e.trail, entry{v: l.v, b: l.b, prev: e.lb[l.v], below: e.top[l.v], level: level,
		from: from, to: int32(len(e.arena)), c: c, shift: shift})
	e.top[l.v] = int32(len(e.trail) - 1)
	e.lb[l.v] = l.b
	e.steps++
	return true
}

// decide opens a level with l.
func (e *engine) decide(l lit) {
	e.starts = append(e.starts, len(e.trail))
	e.arenas = append(e.arenas, len(e.arena))
	e.set(l, nil, nil, false)
}

func (e *engine) backTo(level int) {
	if len(e.starts) <= level {
		return
	}
	for i := len(e.trail) - 1; i >= e.starts[level]; i-- {
		t := &e.trail[i]
		e.lb[t.v] = t.prev
		e.top[t.v] = t.below
		t.c = nil
		e.push(t.v >> 1)
	}
	e.trail = e.trail[:e.starts[level]]
	e.arena = e.arena[:e.arenas[level]]
	e.starts, e.arenas = e.starts[:level], e.arenas[:level]
	e.head = min(e.head, len(e.trail))
	for _, id := range e.queue {
		e.queued[id] = false
	}
	e.queue = e.queue[:0]
	if level == 0 {
		// Nothing at the root is undone, so its entries are needed no more.
		if e.head == len(e.trail) {
			for _, t := range e.trail {
				e.top[t.v] = -1
			}
			e.trail, e.arena, e.head = e.trail[:0], e.arena[:0], 0
		}
	}
}

// along raises what an edge whose gate holds says.
func (e *engine) along(ed edge) bool {
	b := e.lb[ed.from] + ed.w
	if b <= e.lb[ed.to] {
		return true
	}
	e.buf = append(e.buf[:0], lit{ed.from, e.lb[ed.from]})
	if ed.gate.v >= 0 {
		e.buf = append(e.buf, ed.gate)
	}
	if e.set(lit{ed.to, b}, nil, e.buf, true) {
		return true
	}
	// The fault needs no more than one minute too many.
	e.fault[1].b = -e.lb[ed.to^1] + 1 - ed.w
	e.fault[0] = lit{ed.to ^ 1, e.lb[ed.to^1]}
	return false
}

// propagate raises every bound as far as it goes.
func (e *engine) propagate() bool {
	for {
		for e.head < len(e.trail) {
			i := e.head
			e.head++
			t := e.trail[i]
			if !e.clauses(t) {
				return false
			}
			for _, g := range e.gates[t.v] {
				if g.gate.b > t.prev && g.gate.b <= t.b && !e.along(g) {
					return false
				}
			}
			if e.top[t.v] != int32(i) {
				continue
			}
			for k := range e.edges[t.v] {
				ed := &e.edges[t.v][k]
				b := t.b + ed.w
				if b <= e.lb[ed.to] {
					continue
				}
				if ed.gate.v >= 0 && !e.holds(ed.gate) {
					if e.fails(ed.gate) || b <= -e.lb[ed.to^1] {
						continue
					}
					e.buf = append(e.buf[:0], lit{t.v, t.b}, lit{ed.to ^ 1, 1 - b})
					e.set(ed.gate.not(), nil, e.buf, false)
					continue
				}
				if !e.along(*ed) {
					return false
				}
			}
			for _, id := range e.wake[t.v] {
				if !e.queued[id] {
					e.queued[id] = true
					e.queue = append(e.queue, id)
				}
			}
		}
		if len(e.queue) == 0 {
			return true
		}
		id := e.queue[0]
		e.queue = e.queue[1:]
		e.queued[id] = false
		if !e.props[id].run(e) {
			return false
		}
	}
}

// clauses looks at those that watch what the entry made false.
func (e *engine) clauses(t entry) bool {
	ws := e.watches[t.v]
	kept := 0
	for k := 0; k < len(ws); k++ {
		w := ws[k]
		if w.c.gone {
			continue
		}
		if w.thr <= t.prev || w.thr > t.b || e.holds(w.help) {
			ws[kept] = w
			kept++
			continue
		}
		c := w.c
		if c.lits[0].v == t.v^1 && c.lits[0].b == 1-w.thr {
			c.lits[0], c.lits[1] = c.lits[1], c.lits[0]
		}
		first := c.lits[0]
		if first != w.help && e.holds(first) {
			ws[kept] = watch{c, w.thr, first}
			kept++
			continue
		}
		moved := false
		for j := 2; j < len(c.lits); j++ {
			if !e.fails(c.lits[j]) {
				c.lits[1], c.lits[j] = c.lits[j], c.lits[1]
				n := c.lits[1].not()
				// Never the list in hand: a clause has one literal a signed variable.
				e.watches[n.v] = append(e.watches[n.v], watch{c, n.b, first})
				moved = true
				break
			}
		}
		if moved {
			continue
		}
		ws[kept] = watch{c, w.thr, first}
		kept++
		if !e.set(first, c, nil, false) {
			kept += copy(ws[kept:], ws[k+1:])
			e.watches[t.v] = ws[:kept]
			return false
		}
	}
	e.watches[t.v] = ws[:kept]
	return true
}
