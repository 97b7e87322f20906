package timetable

// A State says how planning ended.
type State string

// The states of a Timetable.
const (
	Fits     State = "fits"
	CanNot   State = "cannot fit" // proven
	NotFound State = "not found"  // neither a timetable nor a proof in the time given
)

// A Timetable is when everything starts.
type Timetable struct {
	State    State
	Start    []int // of each operation, in minutes from the day's start
	Finish   int   // when the last is over
	Bound    int   // it can't be over before
	Proven   bool  // it can't be over before Finish
	Openings int   // of all lids together
	Fewest   bool  // no timetable with this finish has fewer
	Spare    int   // minutes every wait may last longer before it is too long, as far as its own limits allow
	Waits    []Wait
	Reasons  []Reason // why it does not fit
	Fixes    []Fix    // what would make it fit

	Moved       []int // by Replan
	FewestMoves bool  // no timetable moves fewer
	Steps       int   // bounds raised
}

// Options steer Plan; the zero Options plan until everything is proven.
type Options struct {
	Seed   uint64
	Finish Limit // for the earliest finish
	Tidy   Limit // for openings, then spare time, then reasons
	// Terse leaves out the Reasons and Fixes of a day that can't fit.
	Terse bool
	// Known, if set, is a timetable to better, as a start for each operation.
	Known []int
	// Found, if set, is told of each better timetable.
	Found func(finish, bound int)
}

// Plan finds starts for a day: first the earliest finish, then of those the
// fewest openings, then of those the most spare time where a wait has an end.
// It returns a *studio.Problem for a day that Check refuses. A day that can't
// fit is a Timetable with Reasons and no error.
//
// Method: starts set one after the other and taken back with what the failure
// taught (lazy clause generation), time tables for places, edge finding for
// hands, neighbourhoods of the best timetable (in a large day with a model of their
// own each), and a bound from below: from what resources have to do, from the order
// in which chambers are filled, and by refuting earlier finishes.
func Plan(d Day, o Options) (Timetable, error) {
	if err := d.Check(); err != nil {
		return Timetable{}, err
	}
	tidy := &meter{limit: o.Tidy}
	least, circle := paths(d)
	if circle != nil {
		return o.cannot(d, circle, tidy), nil
	}
	m := build(d, least)
	m.chambered()
	clock := &meter{limit: o.Finish}
	s := newSearch(m, dice(o.Seed), clock)
	switch s.from(o.Known) {
	case nothing:
		t := o.cannot(d, nil, tidy)
		t.Steps = clock.spent
		return t, nil
	case gaveUp:
		return Timetable{State: NotFound, Bound: s.rootLow(m.finish), Steps: clock.spent, Reasons: loads(d)}, nil
	}
	value := func(b []int) int {
		f := finishOf(d, b)
		if o.Found != nil {
			o.Found(f, s.rootLow(m.finish))
		}
		return f
	}
	t := Timetable{State: Fits}
	t.Finish, t.Bound = s.improve(m.finish, value)
	t.Start = s.best
	t.Fewest = fewer(d, &t, least, o.Seed, tidy)
	spare(d, &t, o.Seed, tidy)
	t.Finish = finishOf(d, t.Start) // tidying may have shortened it
	t.Proven = t.Finish == t.Bound
	t.Openings = Openings(d, t.Start)
	t.Waits = waits(d, t.Start)
	t.Steps = clock.spent + tidy.spent
	return t, nil
}

// cannot is what is said of a day that can't fit; circle is set where its waits
// alone forbid it.
func (o Options) cannot(d Day, circle []int, tidy *meter) Timetable {
	t := Timetable{State: CanNot}
	switch {
	case o.Terse:
		return t
	case circle != nil:
		t.Reasons = []Reason{{Kind: Circle, Ops: circle}}
	default:
		t.Reasons = why(d)
	}
	t.Fixes = fixes(d, o.Seed, tidy)
	return t
}

// ended is the day with nothing later than a finish.
func (d Day) ended(finish int) Day {
	d.FinishBy = finish
	if finish == 0 {
		d.FinishBy = 1 // a day of nothing but moments; 0 would be no limit
	}
	return d
}
