package benchday

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// Limits that keep a first sheet of twelve swatches within a few seconds and a
// new plan within a fraction of one, in bounds raised.
const (
	finishSteps = 150_000
	largeSteps  = 1_200_000 // of a day in pieces
	tidySteps   = 60_000
	againSteps  = 12_000
)

// Make plans a day. It returns a *studio.Problem where nothing can be planned
// at all. A day that can't fit is a Sheet with Reasons and Fixes and no error.
func Make(a Ask) (Sheet, error) {
	d, err := newDraft(&a, nil)
	if err != nil {
		return Sheet{}, err
	}
	if !d.anything() {
		return Sheet{}, studio.Problemf(studio.Conflict, "t", "Nothing is left to do on the swatches chosen; choose others.")
	}
	levels := d.levels(a.Wish.LaterMin)
	if left := lastOf(levels); left <= d.now {
		return Sheet{}, studio.Problemf(studio.Invalid, "people", "Nobody is there after %s; give hours that are still to come.", clock(a.Now, a.Now))
	}
	o := timetable.Options{Seed: 1, Finish: limit(a.Finish, finishSteps), Tidy: limit(a.Tidy, tidySteps)}
	if a.Found != nil {
		o.Found = func(finish, _ int) { a.Found(d.time(finish)) }
	}
	if len(d.works) > atOnce {
		// too much for one search in the time a person waits: the pieces come first
		if o.Known, err = d.pieced(levels, o); err != nil {
			return Sheet{}, err
		}
		o.Finish = limit(a.Finish, largeSteps)
	}
	tt, day, err := d.solve(levels, o)
	if err != nil {
		return Sheet{}, err
	}
	// What runs already can be past its tolerance, or end when nobody is there:
	// that is as it is, and Breaks says so. Only what has not begun is bound.
	for _, give := range []int{5, 15, 60, 240, 1440, 4320} {
		if tt.State == timetable.Fits || !d.underWay() {
			break
		}
		d.give = give
		next, changed, err := d.solve(levels, o)
		if err != nil {
			return Sheet{}, err
		}
		if next.State == timetable.Fits {
			tt, day = next, changed
		}
	}
	if tt.State == timetable.NotFound && o.Known == nil {
		if o.Known, err = d.pieced(levels, o); err != nil {
			return Sheet{}, err
		}
		if o.Known != nil {
			if tt, day, err = d.solve(levels, o); err != nil {
				return Sheet{}, err
			}
		}
	}
	if tt.State != timetable.Fits {
		s := d.sheet(nil)
		s.Fits, s.Proven = false, tt.State == timetable.CanNot
		s.Reasons = d.reasons(day, tt)
		s.Fixes = d.fixes(day, tt)
		return s, nil
	}
	s := d.sheet(tt.Start[:len(d.works)])
	calm, err := d.calm(levels, tt, o)
	if err != nil {
		return Sheet{}, err
	}
	if calm != nil {
		if c := d.sheet(calm[:len(d.works)]); c.ToOpen() < s.ToOpen() {
			s = c
		}
	}
	s.Bound, s.Proven = d.time(tt.Bound), tt.Proven && d.time(tt.Finish).Equal(s.Finish)
	s.Gap = s.Distance()
	return s, nil
}

// atOnce is how many pieces of work one search takes on first.
const atOnce = 160

// pieced plans a day in pieces; nil where they found no room.
func (d *draft) pieced(levels []level, o timetable.Options) ([]int, error) {
	pieces := d.pieces()
	o.Terse, o.Found = true, nil
	all := o
	o.Finish.Steps, o.Tidy.Steps = max(1, o.Finish.Steps/6), max(1, o.Tidy.Steps/max(1, 4*len(pieces)))
	starts, err := d.inPieces(d.day(levels, 0), pieces, nil, o)
	if err != nil || starts != nil || !d.ask.Wish.AnyOrder {
		return starts, err
	}
	// The random order is one of those that are allowed, and easier to find room for.
	a := *d.ask
	a.Wish.AnyOrder = false
	ordered, err := newDraft(&a, nil)
	if err != nil {
		return nil, err
	}
	if starts, err = ordered.pieced(levels, all); err != nil || starts != nil {
		return starts, err
	}
	all.Finish.Steps *= 2
	tt, _, err := ordered.solve(levels, all)
	return tt.Start, err
}

// patience is how many minutes later a day may be over when lids are opened
// less often for it, beside a fiftieth of what is left of it: each opening lets
// ammonia out and starts the air of every neighbour afresh.
const patience = 10

// calm looks for fewer openings in a day that may be over a little later than
// the earliest; nil where none was found.
func (d *draft) calm(levels []level, tt timetable.Timetable, o timetable.Options) ([]int, error) {
	day := d.day(levels, 0)
	most := timetable.Openings(day, tt.Start)
	if most <= len(day.Lids) {
		return nil, nil
	}
	end := min(tt.Finish+patience+(tt.Finish-d.now)/50, lastOf(levels))
	day = d.day(cut(levels, end), 0)
	day.FinishBy = end
	// A moment at the end takes the finish out of the search; what is left to
	// better is how often lids are opened.
	day.Ops = append(day.Ops, timetable.Op{Name: "the end", Earliest: end, LatestEnd: end})
	o.Finish.Steps = max(1, o.Finish.Steps/4)
	o.Tidy.Steps *= 4
	calm, err := timetable.Plan(day, o)
	if err != nil || calm.State != timetable.Fits || calm.Openings >= most {
		return nil, err
	}
	return calm.Start, nil
}

func limit(l timetable.Limit, steps int) timetable.Limit {
	if l.Steps == 0 {
		l.Steps = steps
	}
	return l
}

func lastOf(levels []level) int {
	if len(levels) == 0 {
		return 0
	}
	return levels[len(levels)-1].till
}

// anything reports whether some work is still to do.
func (d *draft) anything() bool {
	for _, w := range d.works {
		if !w.done {
			return true
		}
	}
	return false
}

// underWay reports whether something of the day runs already.
func (d *draft) underWay() bool {
	for _, w := range d.works {
		if !w.done && d.ask.Entries[w.entry].Record.Status == run.Running {
			return true
		}
	}
	return false
}

// day is the timetable's day. Every limit that is not a night's or a lid's is
// loosened by so many minutes; what has broken its limit already has a few more.
func (d *draft) day(levels []level, loosened int) timetable.Day {
	most, open := windows(levels)
	day := timetable.Day{Resources: []timetable.Resource{{Name: "hands", Capacity: max(1, most), Windows: open}}, FinishBy: lastOf(levels)}
	for _, w := range d.works {
		op := timetable.Op{Name: d.name(w), Minutes: w.minutes, Earliest: d.now}
		if w.what != onRack && w.what != offRack {
			op.Needs = []timetable.Need{{Resource: 0, Amount: 1}}
		}
		if d.ask.Entries[w.entry].Record.Status == run.Planned {
			op.Swatch = fmt.Sprint("swatch ", d.treatment(w).Swatch)
		}
		if w.done {
			op.Started, op.Start, op.Minutes, op.Earliest = true, w.start, w.end-w.start, 0
			day.FinishBy = max(day.FinishBy, w.end)
		}
		day.Ops = append(day.Ops, op)
	}
	for i := range d.ties {
		if l, ok := d.lag(levels, i, loosened); ok {
			day.Lags = append(day.Lags, l)
		}
	}
	d.hold(&day)
	d.lids(&day)
	return day
}

// lag is a tie as the timetable minds it, or false for one between facts.
func (d *draft) lag(levels []level, i, loosened int) (timetable.Lag, bool) {
	t := d.ties[i]
	from, to := d.works[t.from], d.works[t.to]
	l := timetable.Lag{From: t.from, To: t.to, Min: t.least, Max: t.most}
	if to.done || t.why == racked && from.done {
		return l, false // facts are not planned
	}
	if t.most < timetable.NoLimit && t.why != racked {
		if from.done {
			// the first minute in which someone can see to it
			at := whenThere(levels, max(d.now, from.end+max(0, t.least)))
			if late := at - from.end; late > l.Max {
				l.Max = late + grace
			}
		}
		if by, ok := d.atMost[i]; ok || d.atMost != nil {
			l.Max += min(by, loosened)
		} else {
			l.Max += loosened
		}
		if d.ask.Entries[t.entry].Record.Status == run.Running {
			l.Max += d.give
		}
	}
	if from.done && from.end+l.Min < 0 {
		l.Min = -from.end
	}
	return l, true
}

// whenThere is the first minute from at on in which there are hands; at itself
// where there are none any more.
func whenThere(levels []level, at int) int {
	for _, l := range levels {
		if l.till > at {
			return max(at, l.from)
		}
	}
	return at
}

// hold takes places in chambers and on the rack. More may lie in a chamber than
// it has places for: that is a fact, and those that went in first, which are
// likely the first to come out, are not counted.
func (d *draft) hold(day *timetable.Day) {
	at := map[int64]int{}
	room := func(chamber int64) (string, int) {
		if chamber == 0 {
			return "places to dry", d.ask.Wish.DryingPlaces
		}
		c, _ := d.ask.chamber(chamber)
		return "places in " + d.ask.chamberName(chamber), c.Places
	}
	held := slices.DeleteFunc(slices.Clone(d.places), func(p place) bool { return d.works[p.to].done })
	slices.SortStableFunc(held, func(p, q place) int { return d.works[q.from].end - d.works[p.from].end })
	in := map[int64]int{}
	for _, p := range held {
		name, n := room(p.chamber)
		if n == 0 {
			continue
		}
		if d.works[p.from].done {
			if in[p.chamber]++; in[p.chamber] > n {
				continue
			}
		}
		r, ok := at[p.chamber]
		if !ok {
			r = len(day.Resources)
			day.Resources = append(day.Resources, timetable.Resource{Name: name, Capacity: n})
			at[p.chamber] = r
		}
		day.Holds = append(day.Holds, timetable.Hold{Resource: r, Amount: 1, From: p.from, To: p.to})
	}
}

func (d *draft) lids(day *timetable.Day) {
	at := map[int64]int{}
	for n, w := range d.works {
		if !w.lid || w.done {
			continue
		}
		i, ok := at[w.chamber]
		if !ok {
			i = len(day.Lids)
			at[w.chamber] = i
			day.Lids = append(day.Lids, timetable.Lid{Name: d.ask.chamberName(w.chamber), Gap: lidGap})
		}
		day.Lids[i].Ops = append(day.Lids[i].Ops, n)
	}
}

// solve plans the day as it is.
func (d *draft) solve(levels []level, o timetable.Options) (timetable.Timetable, timetable.Day, error) {
	day := d.day(levels, 0)
	tt, err := timetable.Plan(day, o)
	return tt, day, err
}

// leastFinish is when the day could be over at best: if hands and places were
// without number, or if hands never waited, whichever is later.
func (d *draft) leastFinish() int {
	start := make([]int, len(d.works))
	last := 0
	for range d.works {
		for n, w := range d.works {
			if w.done {
				start[n] = w.start
			} else {
				start[n] = max(start[n], d.now)
			}
		}
		for _, t := range d.ties {
			if !d.works[t.to].done {
				start[t.to] = max(start[t.to], start[t.from]+d.minutes(d.works[t.from])+t.least)
			}
		}
	}
	work := 0
	for n, w := range d.works {
		last = max(last, start[n]+d.minutes(w))
		if !w.done {
			work += d.handMinutes(w)
		}
	}
	for _, l := range d.levels(d.ask.Wish.LaterMin) {
		from := max(l.from, d.now)
		if room := max(0, l.till-from) * l.hands; work > room {
			work -= room
			continue
		}
		return max(last, from+(work+l.hands-1)/l.hands)
	}
	return last
}

// minutes is how long a work takes, or took.
func (d *draft) minutes(w work) int {
	if w.done {
		return w.end - w.start
	}
	return w.minutes
}

// cut leaves out the levels from a minute on.
func cut(levels []level, till int) []level {
	var out []level
	for _, l := range levels {
		if l.till = min(l.till, till); l.till > l.from {
			out = append(out, l)
		}
	}
	return out
}

// Again plans the rest of a day that was planned before, at a.Now: what was
// done is fixed, and as few starts move as can be. Where a tolerance can't be
// kept any more it breaks by as little as is found, and Sheet.Breaks says which;
// where the hours don't do, the day ends later, and Sheet.Over says so.
func Again(a Ask, before []studio.BenchStart) (Sheet, error) {
	kept := keptOf(before)
	d, err := newDraft(&a, kept)
	if err != nil {
		return Sheet{}, err
	}
	if !d.anything() {
		return d.show(kept), nil
	}
	o := timetable.Options{Seed: 1, Terse: true, Finish: limit(a.Finish, againSteps), Tidy: limit(a.Tidy, againSteps/6)}
	// Each try gives in a little more: tolerances, then the end of the day.
	for _, give := range []struct{ tolerance, later int }{{0, 0}, {5, 0}, {15, 0}, {45, 0}, {120, 60}, {480, 240}, {1440, 1440}, {1440, 4320}} {
		levels := d.levels(a.Wish.LaterMin + give.later)
		if lastOf(levels) <= d.now {
			levels = append(levels, level{span{d.now, d.now + max(1, give.later)}, 1})
		}
		day := d.day(levels, give.tolerance)
		starts := make([]int, len(day.Ops))
		for n := range day.Ops {
			switch s, ok := startOf(d, kept, n); {
			case day.Ops[n].Started:
				starts[n] = day.Ops[n].Start
			case n >= len(d.works):
				starts[n] = day.Ops[n].Earliest
			case ok:
				starts[n] = max(0, s)
			default:
				starts[n] = d.now
			}
		}
		tt, err := timetable.Replan(day, starts, d.now, o)
		if err != nil {
			return Sheet{}, err
		}
		if tt.State == timetable.NotFound {
			quick := o
			quick.Finish.Steps, quick.Tidy.Steps = max(1, o.Finish.Steps/8), max(1, o.Finish.Steps/24)
			pieced, err := d.inPieces(day, d.byNext(starts), starts, quick)
			if err != nil {
				return Sheet{}, err
			}
			if pieced != nil {
				tt.State, tt.Start = timetable.Fits, pieced
			}
		}
		if tt.State != timetable.Fits {
			continue
		}
		if give.tolerance > 0 {
			if tt, day, err = d.trade(levels, give.tolerance, tt, day, starts, o); err != nil {
				return Sheet{}, err
			}
			if tt, day, err = d.tighten(levels, give.tolerance+worse, tt, day, starts, o); err != nil {
				return Sheet{}, err
			}
		}
		if tt.Start, err = d.settle(day, tt, starts, o); err != nil {
			return Sheet{}, err
		}
		s := d.sheet(tt.Start[:len(d.works)])
		s.Bound = d.time(d.leastFinish()) // Replan's is for the fewest moves only
		s.Gap = s.Distance()
		d.moved(&s, kept)
		s.Why = d.cause(kept)
		if give.later > 0 {
			if planned := lastOf(d.levels(a.Wish.LaterMin)); d.minute(s.Finish) > planned {
				s.Over = d.time(planned)
			}
		}
		return s, nil
	}
	s := d.show(kept)
	s.Fits = false
	s.Reasons = []string{"No timetable was found for what is left. Go on by what is due first, or plan the day afresh."}
	return s, nil
}

// worse is how many minutes more what is past its limit already may take, where
// that keeps another limit.
const worse = 60

// trade keeps limits that tt breaks at the cost of what is past its own limit
// anyway: one more limit that holds is worth more than a few minutes there.
func (d *draft) trade(levels []level, tolerance int, tt timetable.Timetable, day timetable.Day, before []int, o timetable.Options) (timetable.Timetable, timetable.Day, error) {
	defer func() { d.atMost = nil }()
	o.Finish.Steps, o.Tidy.Steps = max(1, o.Finish.Steps/3), max(1, o.Tidy.Steps/3)
	order, by := d.breaks(levels, tt.Start)
	tried := map[int]bool{}
	for range tightenings {
		lost := func(i int) bool { return d.pastHelp(levels, i) }
		try := slices.IndexFunc(order, func(i int) bool { return !tried[i] && !lost(i) })
		if try < 0 {
			break
		}
		i := order[try]
		tried[i] = true
		d.atMost = map[int]int{}
		for k := range d.ties {
			if by[k] > 0 || lost(k) {
				d.atMost[k] = by[k] + worse
			}
		}
		d.atMost[i] = 0
		next := d.day(levels, tolerance+worse)
		kept, err := timetable.Replan(next, before, d.now, o)
		if err != nil {
			return tt, day, err
		}
		d.atMost = nil
		if kept.State == timetable.Fits {
			tt, day = kept, next
			order, by = d.breaks(levels, tt.Start)
		}
	}
	return tt, day, nil
}

// pastHelp reports whether nobody can keep a tie's limit any more, whatever
// else is left undone.
func (d *draft) pastHelp(levels []level, i int) bool {
	t := d.ties[i]
	from, to := d.works[t.from], d.works[t.to]
	if t.most >= timetable.NoLimit || t.why == racked || !from.done || to.done {
		return false
	}
	return whenThere(levels, max(d.now, from.end+max(0, t.least)))-from.end > t.most
}

// tighten keeps every limit that can be kept beside those that can't, and lets
// these break by little: what tt does not break is not loosened, and what it
// breaks is tried with nothing, then with half as much.
func (d *draft) tighten(levels []level, tolerance int, tt timetable.Timetable, day timetable.Day, before []int, o timetable.Options) (timetable.Timetable, timetable.Day, error) {
	defer func() { d.atMost = nil }()
	o.Finish.Steps, o.Tidy.Steps = max(1, o.Finish.Steps/3), max(1, o.Tidy.Steps/3)
	order, by := d.breaks(levels, tt.Start)
	least := map[int]int{} // less than that was not found
	for tries := 0; tries < tightenings; tries++ {
		try := slices.IndexFunc(order, func(i int) bool { return by[i] > least[i] })
		if try < 0 {
			break
		}
		i := order[try]
		d.atMost = maps.Clone(by)
		d.atMost[i] = least[i] + (by[i]-least[i])/2
		if least[i] == 0 {
			d.atMost[i] = 0
		}
		asked := d.atMost[i]
		next := d.day(levels, tolerance)
		kept, err := timetable.Replan(next, before, d.now, o)
		if err != nil {
			return tt, day, err
		}
		if kept.State != timetable.Fits {
			least[i] = asked + 1
			continue
		}
		tt, day = kept, next
		d.atMost = nil
		order, by = d.breaks(levels, tt.Start)
	}
	return tt, day, nil
}

// tightenings is how many times limits that broke are tried to be kept after all.
const tightenings = 16

// breaks lists the ties whose limits starts break, the soonest limit first, and
// by how many minutes.
func (d *draft) breaks(levels []level, starts []int) (order []int, by map[int]int) {
	by, limit := map[int]int{}, map[int]int{}
	for i := range d.ties {
		l, ok := d.lag(levels, i, 0)
		if !ok || l.Max >= timetable.NoLimit {
			continue
		}
		limit[i] = starts[l.From] + d.minutes(d.works[l.From]) + l.Max
		if late := starts[l.To] - limit[i]; late > 0 {
			by[i] = late
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return limit[a] - limit[b] })
	return order, by
}

// settle lays what moved anyway so that lids are opened no more often than
// before, where that is found; what stayed, stays.
func (d *draft) settle(day timetable.Day, tt timetable.Timetable, before []int, o timetable.Options) ([]int, error) {
	if len(tt.Moved) == 0 || tt.Openings <= timetable.Openings(day, before) {
		return tt.Start, nil
	}
	end := max(tt.Finish, min(tt.Finish+patience, day.FinishBy))
	ops := slices.Clone(day.Ops)
	for n := range ops {
		if !ops[n].Started && tt.Start[n] == before[n] {
			ops[n].Earliest, ops[n].LatestEnd = before[n], before[n]+ops[n].Minutes
		}
	}
	day.Ops = append(ops, timetable.Op{Name: "the end", Earliest: end, LatestEnd: end})
	o.Finish.Steps, o.Tidy.Steps = max(1, o.Finish.Steps/6), max(1, o.Tidy.Steps)
	calm, err := timetable.Plan(day, o)
	if err != nil || calm.State != timetable.Fits || calm.Openings >= tt.Openings {
		return tt.Start, err
	}
	return calm.Start, nil
}

// Show says what a timetable kept before means at a.Now, without planning.
func Show(a Ask, before []studio.BenchStart) (Sheet, error) {
	kept := keptOf(before)
	d, err := newDraft(&a, kept)
	if err != nil {
		return Sheet{}, err
	}
	return d.show(kept), nil
}

func (d *draft) show(kept map[key]studio.BenchStart) Sheet {
	starts := make([]int, len(d.works))
	for n, w := range d.works {
		s, ok := startOf(d, kept, n)
		switch {
		case w.done:
			starts[n] = w.start
		case ok:
			starts[n] = s
		default:
			starts[n] = d.now
		}
	}
	return d.sheet(starts)
}

func keptOf(before []studio.BenchStart) map[key]studio.BenchStart {
	out := map[key]studio.BenchStart{}
	for _, s := range before {
		out[key{s.Treatment, s.Step, s.What}] = s
	}
	return out
}

func startOf(d *draft, kept map[key]studio.BenchStart, n int) (int, bool) {
	if n >= len(d.works) {
		return 0, false
	}
	s, ok := kept[d.key(d.works[n])]
	if !ok {
		return 0, false
	}
	return int(math.Floor(s.At.Sub(d.zero).Minutes())), true
}

// moved counts which starts are elsewhere than before, and by how much.
func (d *draft) moved(s *Sheet, kept map[key]studio.BenchStart) {
	for n, x := range s.Starts {
		was, ok := kept[key{x.Treatment, x.Step, x.What}]
		if !ok || d.works[n].done || d.handMinutes(d.works[n]) == 0 {
			continue
		}
		if by := x.At.Sub(was.At).Abs(); by >= time.Minute {
			s.Moved++
			s.MovedBy = max(s.MovedBy, by)
		}
	}
}

// cause names what came latest against the timetable before.
func (d *draft) cause(kept map[key]studio.BenchStart) string {
	most, text := 0, ""
	for _, w := range d.works {
		was, ok := kept[d.key(w)]
		if !ok || d.handMinutes(w) == 0 {
			continue
		}
		late := d.now - d.minute(was.At)
		said := " is %s late"
		if w.done {
			late = w.end - d.minute(was.At) - was.Minutes
			said = " came %s late"
		}
		if late > most {
			most = late
			text = fmt.Sprintf("Swatch %s: %s"+said, number(d.treatment(w)), d.doing(w), studio.Span(time.Duration(late)*time.Minute))
		}
	}
	return text
}
