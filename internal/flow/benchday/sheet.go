package benchday

import (
	"cmp"
	"slices"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/studio"
)

// A Part is one piece of work on one treatment.
//
// Step counts from 0 and is the step the work belongs to; Tap is the step that
// a tap confirms when the work is over, -1 where the treatment begins with it
// and -2 where the next part's tap tells. Latest is when it must start before a
// tolerance breaks, zero for no such time; Miss says what a miss will mean.
type Part struct {
	Treatment, Swatch int64
	Faces             studio.Faces
	Step              int
	Kind              studio.StepKind
	What              string
	Tap               int
	Begun             bool // the treatment
	Start, End        time.Time
	Ready             time.Time // not before this
	Latest            time.Time
	Miss              string
	Done, Going       bool
	Person            string
	Assumed           bool // its minutes
}

// An Action is what one person does in one go, or what is done in one opening
// of a chamber: take out 3, flip 5, put in 9.
//
// Hands is how many pairs of hands it needs at once. Latest is the first of its
// parts' and Miss what that will mean. First says why this comes before another
// that is due at the same time. Late is how far its start lies back, undone.
type Action struct {
	Start, End time.Time
	Title      string
	Opening    bool
	Chamber    int64
	Parts      []Part
	Hands      int
	People     []string
	Swatches   []int64
	Latest     time.Time
	Miss       string
	First      string
	Done       bool
	Going      bool
	Late       time.Duration
}

// An Opened is how often one chamber is opened in all, and how much ammonia the
// openings still to come let out together, in grams.
type Opened struct {
	Chamber  int64
	Name     string
	Times    int
	ToCome   int
	AmmoniaG float64
}

// A Dwell is a step that runs by itself, from when it begins to when it is
// planned to be ended, for drawing.
type Dwell struct {
	Treatment, Swatch int64
	Step              int
	Kind              studio.StepKind
	Chamber           int64
	From, Till        time.Time
}

// A Sheet is a bench day by the clock.
type Sheet struct {
	Now     time.Time
	Fits    bool
	Starts  []studio.BenchStart // what to keep
	Actions []Action            // in order of time
	Dwells  []Dwell
	Finish  time.Time
	Bound   time.Time // it can't be done before; zero when not reckoned
	Proven  bool      // it can't be done before Finish; or, of a day that does not fit, that it can't
	Gap     string    // that in words
	Opened  []Opened
	Work    time.Duration // of hands, still to come
	Free    time.Duration // of hands that are there, until it is done
	Reasons []string      // why it does not fit
	Fixes   []Fix
	Breaks  []string  // tolerances that can't be kept, in words
	Over    time.Time // when the hours ask for an end, if it comes later
	Notes   []string  // what was assumed
	Moved   int       // by Again: starts that moved
	MovedBy time.Duration
	Why     string // by Again: what came latest against the timetable before; empty if nothing did
}

// Openings is how often lids are opened, all chambers together.
func (s Sheet) Openings() int {
	n := 0
	for _, o := range s.Opened {
		n += o.Times
	}
	return n
}

// ToOpen is how often lids are still to be opened.
func (s Sheet) ToOpen() int {
	n := 0
	for _, o := range s.Opened {
		n += o.ToCome
	}
	return n
}

// Next returns the actions that are not done, the one to see to first leading.
func (s Sheet) Next() []Action {
	var out []Action
	for _, a := range s.Actions {
		if !a.Done {
			out = append(out, a)
		}
	}
	return out
}

// Late is how far the day lies behind: the longest that a work of hands is late.
func (s Sheet) Late() time.Duration {
	var most time.Duration
	for _, a := range s.Actions {
		most = max(most, a.Late)
	}
	return most
}

// latest is when a work must start, the tie that asks it, and false for none.
func (d *draft) latest(starts []int, n int) (int, tie, bool) {
	least, by, ok := 0, tie{}, false
	for _, t := range d.ties {
		if t.to != n || t.most >= timetable.NoLimit || t.why == racked || t.why == chained && !d.works[t.from].done {
			continue
		}
		if at := starts[t.from] + d.minutes(d.works[t.from]) + t.most; !ok || at < least {
			least, by, ok = at, t, true
		}
	}
	return least, by, ok
}

// sheet writes starts, one for each work, as a day by the clock; nil is a day
// without a timetable.
func (d *draft) sheet(starts []int) Sheet {
	s := Sheet{Now: d.ask.Now, Fits: starts != nil, Notes: d.assumed()}
	if starts == nil {
		return s
	}
	doers := d.doers(starts)
	parts := make([]Part, len(d.works))
	last := d.now
	var order []int
	for n, w := range d.works {
		t := d.treatment(w)
		s.Starts = append(s.Starts, studio.BenchStart{Treatment: t.ID, Step: w.step, What: w.what, At: d.time(starts[n]), Minutes: d.minutes(w)})
		last = max(last, starts[n]+d.minutes(w))
		p := Part{Treatment: t.ID, Swatch: t.Swatch, Faces: t.Faces, Step: w.step, Kind: d.stepOf(w).Kind, What: w.what, Tap: w.step,
			Begun: d.ask.Entries[w.entry].Record.Status != run.Planned, Start: d.time(starts[n]), End: d.time(starts[n] + d.minutes(w)),
			Done: w.done && !w.going, Going: w.going, Person: doers[n], Assumed: w.assumed}
		switch {
		case w.silent:
			p.Tap = -2
		case w.what == PutIn:
			p.Tap = w.step - 1
		case w.what == Begin:
			p.Tap = -1
		}
		if !w.done {
			ready := d.now
			for _, l := range d.ties {
				if l.to == n {
					ready = max(ready, starts[l.from]+d.minutes(d.works[l.from])+l.least)
				}
			}
			p.Ready = d.time(ready)
			if at, by, ok := d.latest(starts, n); ok {
				p.Latest, p.Miss = d.time(at), d.miss(by, d.time(at))
				if starts[n] > at {
					s.Breaks = append(s.Breaks, d.broken(by, starts[n]-at))
				}
			}
			s.Work += time.Duration(d.handMinutes(w)) * time.Minute
		}
		parts[n] = p
		if w.what != onRack && w.what != offRack {
			order = append(order, n)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(starts[a], starts[b]), cmp.Compare(starts[a]+d.works[a].minutes, starts[b]+d.works[b].minutes))
	})
	s.Finish = d.time(last)
	s.Actions = d.group(order, parts)
	s.Dwells = d.dwells(starts)
	s.Opened = d.opened(s.Actions)
	for i := range s.Actions {
		d.finishAction(&s.Actions[i])
	}
	slices.SortStableFunc(s.Actions, func(a, b Action) int { return a.Start.Compare(b.Start) })
	d.whichFirst(s.Actions)
	for _, l := range d.levels(d.ask.Wish.LaterMin) {
		from, till := max(l.from, d.now), min(l.till, last)
		s.Free += time.Duration(max(0, till-from)*l.hands) * time.Minute
	}
	s.Free = max(0, s.Free-s.Work)
	return s
}

func (d *draft) handMinutes(w work) int {
	if w.what == onRack || w.what == offRack {
		return 0
	}
	return d.minutes(w)
}

// group makes actions of works in order of time: one of each opening, and one
// of what a person does alike in a row.
func (d *draft) group(order []int, parts []Part) []Action {
	var out []Action
	open := map[int64]int{}    // the last opening of each chamber
	doing := map[string]int{}  // the last action of each person
	chamber := map[int]int64{} // of openings, by place in out
	for _, n := range order {
		w, p := d.works[n], parts[n]
		if w.lid {
			i, ok := open[w.chamber]
			if ok && out[i].Parts[0].Done == p.Done && p.Start.Sub(out[i].End) <= lidGap*time.Minute {
				out[i].add(p)
			} else {
				i = len(out)
				out = append(out, Action{Start: p.Start, End: p.End, Opening: true, Chamber: w.chamber, Parts: []Part{p}})
				open[w.chamber], chamber[i] = i, w.chamber
			}
			doing[p.Person] = i
			continue
		}
		i, ok := doing[p.Person]
		if ok && !out[i].Opening {
			f := out[i].Parts[0]
			if f.Kind == p.Kind && f.What == p.What && f.Done == p.Done && f.Going == p.Going && p.Start.Sub(out[i].End) <= time.Minute {
				out[i].add(p)
				continue
			}
		}
		doing[p.Person] = len(out)
		out = append(out, Action{Start: p.Start, End: p.End, Parts: []Part{p}})
	}
	return out
}

func (a *Action) add(p Part) {
	a.Parts = append(a.Parts, p)
	if p.End.After(a.End) {
		a.End = p.End
	}
}

// finishAction fills in what follows from an action's parts.
func (d *draft) finishAction(a *Action) {
	rank := map[string]int{TakeOut: 0, Do: 1, PutIn: 2}
	if a.Opening {
		slices.SortStableFunc(a.Parts, func(x, y Part) int {
			return cmp.Or(cmp.Compare(rank[x.What], rank[y.What]), cmp.Compare(x.Swatch, y.Swatch))
		})
	}
	a.Done, a.Hands = true, 0
	for _, p := range a.Parts {
		a.Done = a.Done && p.Done
		a.Going = a.Going || p.Going
		if !slices.Contains(a.Swatches, p.Swatch) {
			a.Swatches = append(a.Swatches, p.Swatch)
		}
		if p.Person != "" && !slices.Contains(a.People, p.Person) {
			a.People = append(a.People, p.Person)
		}
		if !p.Latest.IsZero() && (a.Latest.IsZero() || p.Latest.Before(a.Latest)) {
			a.Latest, a.Miss = p.Latest, p.Miss
		}
		at := 0
		for _, q := range a.Parts {
			if !q.Start.After(p.Start) && q.End.After(p.Start) {
				at++
			}
		}
		a.Hands = max(a.Hands, at)
	}
	a.Title = d.title(*a)
	if a.Done {
		return
	}
	if a.Miss == "" {
		a.Miss = "Nothing is spoilt if it waits; what follows moves with it."
	}
	if now := d.time(d.now); !a.Going && a.Start.Before(now) {
		a.Late = now.Sub(a.Start)
	}
}

// whichFirst says, of two actions that are due at once, why one leads.
func (d *draft) whichFirst(all []Action) {
	ready := func(a Action) time.Time {
		var last time.Time
		for _, p := range a.Parts {
			if p.Ready.After(last) {
				last = p.Ready
			}
		}
		return last
	}
	var undone []*Action
	for i := range all {
		if !all[i].Done {
			undone = append(undone, &all[i])
		}
	}
	for i := 1; i < len(undone); i++ {
		a, b := undone[i-1], undone[i]
		if b.Latest.IsZero() || ready(*b).After(a.Start) || a.Going {
			continue
		}
		a.First = d.firstWords(*a, *b)
	}
}

// dwells lists what runs by itself.
func (d *draft) dwells(starts []int) []Dwell {
	var out []Dwell
	for _, t := range d.ties {
		if t.why != dwells {
			continue
		}
		w := d.works[t.from]
		s := d.ask.Entries[t.entry].Treatment
		out = append(out, Dwell{Treatment: s.ID, Swatch: s.Swatch, Step: t.step, Kind: s.Steps[t.step].Kind, Chamber: s.Steps[t.step].ChamberID,
			From: d.time(starts[t.from] + d.minutes(w)), Till: d.time(starts[t.to])})
	}
	slices.SortStableFunc(out, func(a, b Dwell) int { return a.From.Compare(b.From) })
	return out
}

// opened counts openings by chamber.
func (d *draft) opened(actions []Action) []Opened {
	var out []Opened
	for _, a := range actions {
		if !a.Opening {
			continue
		}
		i := slices.IndexFunc(out, func(o Opened) bool { return o.Chamber == a.Chamber })
		if i < 0 {
			i = len(out)
			out = append(out, Opened{Chamber: a.Chamber, Name: d.ask.chamberName(a.Chamber)})
		}
		c, _ := d.ask.chamber(a.Chamber)
		out[i].Times++
		if !a.Parts[0].Done {
			out[i].ToCome++
			out[i].AmmoniaG += c.LossG
		}
	}
	slices.SortFunc(out, func(a, b Opened) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

// doers says who does each work: who did it, who took it, or who is there and
// free, the one who stays to its end before another, then who has the swatch or
// the same work in hand.
func (d *draft) doers(starts []int) []string {
	out := make([]string, len(d.works))
	order := make([]int, 0, len(d.works))
	for n := range d.works {
		order = append(order, n)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(starts[a], starts[b]) })
	there := map[string][]span{}
	for _, p := range d.ask.Wish.People {
		there[p.Name] = d.there(p, d.ask.Wish.LaterMin)
	}
	claimed := map[key]string{}
	for _, c := range d.ask.Claims {
		claimed[key{c.Treatment, c.Step, ""}] = c.Person
	}
	busy := map[string]int{}
	on := map[int]string{}      // entry
	last := map[string]string{} // person: what they did last
	for _, n := range order {
		w := d.works[n]
		from, till := starts[n], starts[n]+d.minutes(w)
		if w.what == onRack || w.what == offRack {
			continue
		}
		what := w.what + string(d.stepOf(w).Kind)
		who := ""
		if w.done && !w.going {
			steps := d.ask.Entries[w.entry].Record.Steps
			switch i := w.step; {
			case w.what == PutIn && i > 0:
				who = steps[i-1].By
			case w.what != PutIn && w.what != Begin:
				who = steps[i].By
			}
		} else if who = claimed[key{d.treatment(w).ID, w.step, ""}]; who == "" {
			best := -1
			for _, p := range d.ask.Wish.People {
				stays := slices.ContainsFunc(there[p.Name], func(s span) bool { return s.from <= from && till <= s.till })
				fits := busy[p.Name] <= from && slices.ContainsFunc(there[p.Name], func(s span) bool { return s.from <= from && from < s.till })
				score := 0
				if stays {
					score += 4
				}
				if on[w.entry] == p.Name {
					score += 2
				}
				if last[p.Name] == what {
					score++
				}
				if fits && score > best {
					who, best = p.Name, score
				}
			}
		}
		out[n] = who
		if who != "" {
			busy[who], on[w.entry], last[who] = max(busy[who], till), who, what
		}
	}
	return out
}
