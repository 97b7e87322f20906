package timetable

import (
	"cmp"
	"math/bits"
	"slices"
)

// loadBound is a finish that no timetable is before, from the work one resource
// has to do: each task may be interrupted and shared among all units, starts no
// earlier than its waits let it and is followed by its own longest tail (Jackson's
// preemptive schedule: Carlier 1982, EJOR 11; for more than one unit the fully
// elastic relaxation of Baptiste, Le Pape and Nuijten 2001, section 3.3.1), and
// nothing is done outside the hours.
func (m *model) loadBound(r int) int {
	d := m.day
	type job struct{ head, left, tail int }
	var jobs []job
	for _, h := range holdsOf(d, r) {
		if d.Ops[h.From].Started && d.Ops[h.To].Started {
			continue
		}
		long := d.Ops[h.To].Minutes
		if h.From != h.To {
			long = max(1, m.least[h.From][h.To]+long, m.lo(h.To)+long-m.hi(h.From))
		}
		jobs = append(jobs, job{m.lo(h.From), h.Amount * long, m.after(h.To)})
	}
	slices.SortFunc(jobs, func(a, b job) int { return a.head - b.head })
	capacity, shut := d.Resources[r].Capacity, taken(d, r)
	at, spent, next, bound := 0, 0, 0, 0 // spent of the units of minute at
	var ready []job
	for next < len(jobs) || len(ready) > 0 {
		if len(ready) == 0 && jobs[next].head > at {
			at, spent = jobs[next].head, 0
		}
		for next < len(jobs) && jobs[next].head <= at {
			ready = append(ready, jobs[next])
			next++
		}
		units, till := unitsAt(capacity, shut, at)
		if next < len(jobs) {
			till = min(till, jobs[next].head)
		}
		if units <= 0 {
			at, spent = till, 0
			continue
		}
		best := 0
		for k := range ready {
			if ready[k].tail > ready[best].tail {
				best = k
			}
		}
		step := min(ready[best].left, units*(till-at)-spent)
		ready[best].left -= step
		spent += step
		at, spent = at+spent/units, spent%units
		if ready[best].left == 0 {
			over := at
			if spent > 0 {
				over++
			}
			bound = max(bound, over+ready[best].tail)
			ready = slices.Delete(ready, best, best+1)
		}
	}
	return bound
}

// after is the least time from the end of operation i to the end of the day.
func (m *model) after(i int) int {
	tail := 0
	for j, o := range m.day.Ops {
		if w := m.least[i][j]; w != far && !o.Started {
			tail = max(tail, w+o.Minutes-m.day.Ops[i].Minutes)
		}
	}
	return tail
}

// bounded raises the finish to what each resource's work asks for.
func (m *model) bounded() {
	if m.broken {
		return
	}
	for r := range m.day.Resources {
		if b := m.loadBound(r); b > m.lo(m.finish) {
			m.atRoot(atLeast(m.finish, b))
		}
		if m.broken {
			return
		}
	}
}

// A wave is a set of holds of one resource that all go on at one time at least:
// any two must overlap, so all do (Helly 1923). It is full from the start of its
// last, which is one of last.
type wave struct {
	holds  []Hold
	amount int
	last   []int // operations of which the one that starts last fills the wave
}

// mostWaves is of how many waves every order is tried.
const mostWaves = 12

// waves are those of a resource of which no two can be full at one time, the
// largest first.
func (m *model) waves(r int) []wave {
	d := m.day
	// least is the least time from one start to another.
	least := func(i, j int) int { return max(m.distance(i, j), m.lo(j)-m.hi(i)) }
	meets := func(g, h Hold) bool {
		return least(g.From, h.To)+d.Ops[h.To].Minutes > 0 && least(h.From, g.To)+d.Ops[g.To].Minutes > 0
	}
	var all []wave
	for _, h := range holdsOf(d, r) {
		if d.Ops[h.From].Started && d.Ops[h.To].Started {
			continue
		}
		k := slices.IndexFunc(all, func(w wave) bool {
			return !slices.ContainsFunc(w.holds, func(g Hold) bool { return !meets(g, h) })
		})
		if k < 0 {
			k = len(all)
			all = append(all, wave{})
		}
		all[k].holds = append(all[k].holds, h)
		all[k].amount += h.Amount
	}
	slices.SortStableFunc(all, func(a, b wave) int { return cmp.Compare(b.amount, a.amount) })
	var out []wave
	for _, w := range all {
		apart := !slices.ContainsFunc(out, func(o wave) bool { return o.amount+w.amount <= d.Resources[r].Capacity })
		if !apart || len(out) == mostWaves {
			continue
		}
		for n, h := range w.holds {
			// One after which another surely starts is not waited for.
			if !slices.ContainsFunc(w.holds, func(g Hold) bool {
				return least(h.From, g.From) > 0 || least(h.From, g.From) == 0 && (least(g.From, h.From) < 0 || slices.Index(w.holds, g) > n)
			}) {
				w.last = append(w.last, h.From)
			}
		}
		if len(w.last) > 0 {
			out = append(out, w)
		}
	}
	return out
}

// waveBound is a finish that no timetable is before, from the waves that a
// chamber's places let in one after the other. A wave that is full after another
// comes when enough of that are out; before it, the hands do all that goes before
// its holds and those of the waves before it. Every order is tried (dynamic
// programming over sets: Held and Karp 1962, J. SIAM 10).
func (m *model) waveBound(r int) int {
	d := m.day
	all := m.waves(r)
	n := len(all)
	if n < 2 {
		return 0
	}
	fit := m.fits()
	// out is when so many of a wave's units are out at the earliest, if it is full
	// at minute at, and when the day is over that ends with it.
	type exit struct{ wait, op, amount, after int }
	exits := make([][]exit, n)
	for w := range all {
		for _, h := range all[w].holds {
			wait := 1 << 30
			for _, l := range all[w].last {
				wait = min(wait, max(m.distance(l, h.To), m.lo(h.To)-m.hi(l)))
			}
			exits[w] = append(exits[w], exit{wait, h.To, h.Amount, m.after(h.To)})
		}
	}
	type end struct{ at, amount int }
	var ends []end
	out := func(w, at, units int) int {
		ends = ends[:0]
		for _, x := range exits[w] {
			ends = append(ends, end{fit(x.op, max(at+x.wait, m.lo(x.op))) + d.Ops[x.op].Minutes, x.amount})
		}
		slices.SortFunc(ends, func(a, b end) int { return a.at - b.at })
		for _, e := range ends {
			if units -= e.amount; units <= 0 {
				return e.at
			}
		}
		return 1 << 30
	}
	full := func(w, at int) int {
		first := 1 << 30
		for _, l := range all[w].last {
			if t := fit(l, max(at, m.lo(l))); t <= m.hi(l) {
				first = min(first, t)
			}
		}
		return first
	}
	heads := m.heads(all)
	const never = 1 << 30
	at := make([]int, n<<n) // set*n + last
	for k := range at {
		at[k] = never
	}
	bound := never
	for set := 1; set < 1<<n; set++ {
		for w := range n {
			if set>>w&1 == 0 {
				continue
			}
			before := set &^ (1 << w)
			begin := never
			if before == 0 {
				begin = 0
			}
			for v := range n {
				if before>>v&1 == 1 && at[before*n+v] < never {
					begin = min(begin, max(at[before*n+v], out(v, at[before*n+v], all[v].amount+all[w].amount-d.Resources[r].Capacity)))
				}
			}
			if begin >= never {
				continue
			}
			t := full(w, max(begin, heads[set]))
			at[set*n+w] = t
			if set == 1<<n-1 && t < never {
				over := t
				for _, x := range exits[w] {
					over = max(over, fit(x.op, max(t+x.wait, m.lo(x.op)))+d.Ops[x.op].Minutes+x.after)
				}
				bound = min(bound, over)
			}
		}
	}
	if bound == never {
		return 0 // no order at all: that is for the search to say
	}
	return bound
}

// fits returns the first minute from at on in which an operation is not kept
// from its resources by the hours and by what has started.
func (m *model) fits() func(op, at int) int {
	d := m.day
	shut := make([][]stretch, len(d.Resources))
	for r := range d.Resources {
		shut[r] = taken(d, r)
	}
	return func(op, at int) int {
		for again := !d.Ops[op].Started; again; {
			again = false
			for _, n := range d.Ops[op].Needs {
				for _, s := range shut[n.Resource] {
					if d.Ops[op].Minutes > 0 && n.Amount > 0 && s.amount+n.Amount > d.Resources[n.Resource].Capacity && s.from < at+d.Ops[op].Minutes && at < s.till {
						at, again = s.till, true
					}
				}
			}
		}
		return at
	}
}

// heads is, for each set of waves, when all that goes before its holds can be
// done at the earliest, by any resource.
func (m *model) heads(all []wave) []int {
	d := m.day
	out := make([]int, 1<<len(all))
	for r := range d.Resources {
		work := make([]int, 1<<len(all)) // by the waves it goes before
		first := 1 << 30
		for i, o := range d.Ops {
			if o.Started || o.Minutes == 0 {
				continue
			}
			amount := 0
			for _, n := range o.Needs {
				if n.Resource == r {
					amount += n.Amount
				}
			}
			of := 0
			for k, w := range all {
				if slices.ContainsFunc(w.holds, func(h Hold) bool { return i != h.From && m.distance(i, h.From) >= o.Minutes }) {
					of |= 1 << k
				}
			}
			if of != 0 && amount > 0 {
				work[of] += amount * o.Minutes
				first = min(first, m.lo(i))
			}
		}
		// What goes before none of a set is what goes before others only.
		total := 0
		for _, w := range work {
			total += w
		}
		shut := taken(d, r)
		within := slices.Clone(work) // of those that go before waves of a set only
		for k := range all {
			for set := range within {
				if set>>k&1 == 1 {
					within[set] += within[set^1<<k]
				}
			}
		}
		for set := range out {
			left := total - within[len(out)-1-set]
			if bits.OnesCount(uint(set)) == 0 || left == 0 {
				continue
			}
			at := first
			for left > 0 {
				units, till := unitsAt(d.Resources[r].Capacity, shut, at)
				if units > 0 {
					need := (left + units - 1) / units
					if need <= till-at {
						at += need
						break
					}
					left -= units * (till - at)
				}
				at = till
			}
			out[set] = max(out[set], at)
		}
	}
	return out
}

// chambered raises the finish to what the waves of each chamber ask for.
func (m *model) chambered() {
	for r := range m.day.Resources {
		if m.broken {
			return
		}
		if b := m.waveBound(r); b > m.lo(m.finish) {
			m.atRoot(atLeast(m.finish, b))
		}
	}
}
