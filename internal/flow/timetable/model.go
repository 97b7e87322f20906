package timetable

import "slices"

const far = -1 << 29 // no path

// A model is a day put to an engine. Variable i is operation i's start.
type model struct {
	*engine
	day    Day
	n      int
	finish int
	orders []order
	group  []int // operations that waits with an end tie together, or one swatch
	least  [][]int
}

// An order is the choice which of two holds goes first; its variable is 1 when
// hold one does.
type order struct {
	x      int
	a1, b1 int
	a2, b2 int
	t1, t2 int
}

// paths gives the least minutes from each start to each other that the waits
// alone ask for. A wait that can't be kept gives its operations instead.
func paths(d Day) (least [][]int, circle []int) {
	n := len(d.Ops)
	least = make([][]int, n)
	via := make([][]int32, n)
	for i := range least {
		least[i], via[i] = make([]int, n), make([]int32, n)
		for j := range least[i] {
			least[i][j], via[i][j] = far, -1
		}
		least[i][i] = 0
	}
	put := func(i, j, w int) { least[i][j] = max(least[i][j], w) }
	for _, l := range d.Lags {
		if d.Ops[l.From].Started && d.Ops[l.To].Started {
			continue
		}
		put(l.From, l.To, d.Ops[l.From].Minutes+l.Min)
		if l.Max < NoLimit {
			put(l.To, l.From, -d.Ops[l.From].Minutes-l.Max)
		}
	}
	for _, h := range d.Holds {
		if h.From != h.To && h.Amount > 0 && !(d.Ops[h.From].Started && d.Ops[h.To].Started) {
			put(h.From, h.To, 1-d.Ops[h.To].Minutes)
		}
	}
	for k := range n {
		for i := range n {
			if least[i][k] == far {
				continue
			}
			for j := range n {
				if least[k][j] != far && least[i][k]+least[k][j] > least[i][j] {
					least[i][j], via[i][j] = least[i][k]+least[k][j], int32(k)
				}
			}
			if least[i][i] > 0 {
				return nil, around(via, i, i, 0)
			}
		}
	}
	return least, nil
}

// around lists the operations on the way from i to j.
func around(via [][]int32, i, j, depth int) []int {
	k := via[i][j]
	if k < 0 || depth > 20 || int(k) == i || int(k) == j {
		return []int{i}
	}
	out := append(around(via, i, int(k), depth+1), around(via, int(k), j, depth+1)...)
	seen := out[:0]
	for _, o := range out {
		if !slices.Contains(seen, o) {
			seen = append(seen, o)
		}
	}
	return seen
}

// holdsOf lists what takes a resource.
func holdsOf(d Day, r int) []Hold {
	var out []Hold
	for i, o := range d.Ops {
		for _, n := range o.Needs {
			if n.Resource == r && n.Amount > 0 && o.Minutes > 0 {
				out = append(out, Hold{r, n.Amount, i, i})
			}
		}
	}
	for _, h := range d.Holds {
		if h.Resource == r && h.Amount > 0 && (h.From != h.To || d.Ops[h.From].Minutes > 0) {
			out = append(out, h)
		}
	}
	return out
}

// A stretch is a time in which so much of a resource is taken whatever is planned.
type stretch struct{ from, till, amount int }

// taken is what breaks and operations that have started take of resource r.
// What was taken beyond what there is has happened, and is let be.
func taken(d Day, r int) []stretch {
	res := d.Resources[r]
	var all []stretch
	for i, w := range res.Windows {
		if i > 0 && res.Windows[i-1].Till < w.From {
			all = append(all, stretch{res.Windows[i-1].Till, w.From, res.Capacity})
		}
		if w.Fewer > 0 {
			all = append(all, stretch{w.From, w.Till, w.Fewer})
		}
	}
	var cuts []int
	for _, h := range holdsOf(d, r) {
		if d.Ops[h.From].Started && d.Ops[h.To].Started {
			all = append(all, stretch{d.Ops[h.From].Start, d.Ops[h.To].Start + d.Ops[h.To].Minutes, h.Amount})
		}
	}
	for _, s := range all {
		cuts = append(cuts, s.from, s.till)
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var out []stretch
	for i := 1; i < len(cuts); i++ {
		s := stretch{cuts[i-1], cuts[i], 0}
		for _, o := range all {
			if o.from <= s.from && s.till <= o.till {
				s.amount = min(res.Capacity, s.amount+o.amount)
			}
		}
		if n := len(out); n > 0 && out[n-1].till == s.from && out[n-1].amount == s.amount {
			out[n-1].till = s.till
		} else if s.amount > 0 {
			out = append(out, s)
		}
	}
	return out
}

// unitsAt is how many of a resource's units are there at a minute, and till when.
func unitsAt(capacity int, shut []stretch, at int) (units, till int) {
	units, till = capacity, 1<<30
	for _, s := range shut {
		if s.from <= at && at < s.till {
			units -= s.amount
			till = min(till, s.till)
		} else if s.from > at {
			till = min(till, s.from)
		}
	}
	return units, till
}

// build puts a day to a new engine. The day was checked and has no circle.
func build(d Day, least [][]int) *model {
	m := buildIn(d, least, nil)
	m.bounded()
	return m
}

// buildIn is build without bounds on the finish, within a frame unless that is nil.
func buildIn(d Day, least [][]int, f *frame) *model {
	m := &model{engine: newEngine(), day: d, n: len(d.Ops), least: least}
	end := d.horizon()
	for _, o := range d.Ops {
		lo, hi := o.Earliest, end-o.Minutes
		if o.LatestEnd > 0 {
			hi = min(hi, o.LatestEnd-o.Minutes)
		}
		if o.Started {
			lo, hi = o.Start, o.Start
		}
		m.variable(lo, hi)
	}
	m.finish = m.variable(0, max(end, 0))
	for i, o := range d.Ops {
		if o.Started {
			m.lb[2*m.finish] = max(m.lb[2*m.finish], int32(o.Start+o.Minutes))
			m.lb[2*m.finish+1] = min(m.lb[2*m.finish+1], -m.lb[2*m.finish])
			continue
		}
		m.follow(i, m.finish, o.Minutes, always)
	}
	for _, l := range d.Lags {
		if d.Ops[l.From].Started && d.Ops[l.To].Started {
			continue // it was as it was
		}
		w := d.Ops[l.From].Minutes
		m.follow(l.From, l.To, w+l.Min, always)
		if l.Max < NoLimit {
			m.follow(l.To, l.From, -w-l.Max, always)
		}
	}
	seen := map[[4]int]bool{}
	for r := range d.Resources {
		m.resource(r, seen, f)
	}
	m.groups()
	if !m.broken && !m.propagate() {
		m.broken = true
	}
	return m
}

// resource keeps what takes resource r apart.
func (m *model) resource(r int, seen map[[4]int]bool, f *frame) {
	d := m.day
	res := d.Resources[r]
	var tasks []task
	for _, h := range holdsOf(d, r) {
		if d.Ops[h.From].Started && d.Ops[h.To].Started {
			continue
		}
		k := task{h.From, h.To, d.Ops[h.To].Minutes, h.Amount, 0}
		k.least = max(1, m.least[h.From][h.To]+k.tail)
		if h.From == h.To {
			k.least = k.tail
		} else {
			m.follow(h.From, h.To, 1-k.tail, always)
		}
		tasks = append(tasks, k)
	}
	if len(tasks) == 0 {
		return
	}
	if n := len(res.Windows); n > 0 {
		for _, k := range tasks {
			if !d.Ops[k.a].Started && !m.set(atLeast(k.a, res.Windows[0].From), nil, nil, false) ||
				!d.Ops[k.b].Started && !m.set(atMost(k.b, res.Windows[n-1].Till-k.tail), nil, nil, false) {
				m.broken = true
				return
			}
		}
	}
	for _, s := range taken(d, r) {
		x := m.variable(s.from, s.from)
		tasks = append(tasks, task{x, x, s.till - s.from, s.amount, s.till - s.from})
	}
	unary, sum := true, 0
	for i, k := range tasks {
		sum += k.amount
		if k.a != k.b {
			unary = false
		}
		for _, o := range tasks[:i] {
			if k.amount+o.amount <= res.Capacity {
				unary = false
			} else if f.loose(m, o, k) {
				m.apart(o, k, seen)
			}
		}
	}
	if f != nil {
		f.keep(m, tasks, res.Capacity)
	}
	var wakes []int32
	for _, k := range tasks {
		wakes = append(wakes, int32(2*k.a), int32(2*k.a+1), int32(2*k.b), int32(2*k.b+1))
	}
	if unary && len(tasks) > 2 && len(tasks) <= 130 {
		m.add(&hands{tasks: tasks}, wakes...)
	} else if !unary && sum > res.Capacity {
		m.add(&places{tasks: tasks, capacity: res.Capacity}, wakes...)
	}
}

// distance is what the waits ask for between two starts; far for breaks.
func (m *model) distance(a, b int) int {
	if a == b {
		return 0
	}
	if a >= m.n || b >= m.n {
		return far
	}
	return m.least[a][b]
}

// apart lets one of two tasks end before the other starts.
func (m *model) apart(p, q task, seen map[[4]int]bool) {
	started := func(x int) bool { return x >= m.n || m.day.Ops[x].Started }
	if started(p.a) && started(p.b) && started(q.a) && started(q.b) {
		return
	}
	if m.distance(p.b, q.a) >= p.tail || m.distance(q.b, p.a) >= q.tail {
		return
	}
	key := [4]int{p.a, p.b, q.a, q.b}
	if seen[key] {
		return
	}
	seen[key] = true
	first, second := m.distance(q.a, p.b)+p.tail <= 0, m.distance(p.a, q.b)+q.tail <= 0
	first = first || m.distance(q.a, p.b) == far
	second = second || m.distance(p.a, q.b) == far
	switch {
	case first && second:
		x := m.variable(0, 1)
		m.orders = append(m.orders, order{x: x, a1: p.a, b1: p.b, a2: q.a, b2: q.b, t1: p.tail, t2: q.tail})
		m.follow(p.b, q.a, p.tail, atLeast(x, 1))
		m.follow(q.b, p.a, q.tail, atMost(x, 0))
	case first:
		m.follow(p.b, q.a, p.tail, always)
	case second:
		m.follow(q.b, p.a, q.tail, always)
	default:
		m.broken = true
	}
}

// groups numbers operations that belong together: a swatch, or those tied by
// waits that have an end.
func (m *model) groups() {
	m.group = make([]int, m.n)
	for i := range m.group {
		m.group[i] = i
	}
	var root func(int) int
	root = func(i int) int {
		for m.group[i] != i {
			m.group[i] = m.group[m.group[i]]
			i = m.group[i]
		}
		return i
	}
	by := map[string]int{}
	for i, o := range m.day.Ops {
		if o.Swatch == "" {
			continue
		}
		if k, ok := by[o.Swatch]; ok {
			m.group[root(i)] = root(k)
		} else {
			by[o.Swatch] = i
		}
	}
	for _, l := range m.day.Lags {
		if l.Max < NoLimit {
			m.group[root(l.From)] = root(l.To)
		}
	}
	for i := range m.group {
		m.group[i] = root(i)
	}
}
