package studio

import (
	"strings"
	"time"
)

// A BenchDay is a day, or several with the nights between, planned as one. What
// was asked for and when each step starts stand in its plans: the last counts.
// Ended is zero until someone said that it is over.
type BenchDay struct {
	ID    int64
	Name  string
	Made  time.Time
	By    string
	Ended time.Time
}

// Hours is a time from From up to Till; Why says what for ("lunch", "class").
type Hours struct {
	From, Till time.Time
	Why        string
}

// A BenchPerson is someone whose hands are there at times, less breaks and classes.
type BenchPerson struct {
	Name  string
	There []Hours
	Away  []Hours
}

// A BenchStretch lets one step of one treatment last longer than its recipe says.
type BenchStretch struct {
	Treatment int64
	Step      int // from 0
	Minutes   int
}

// A BenchAsk is what a bench day is to hold and who is there.
//
// Overnight lets steps that run by themselves last over a night. AnyOrder gives
// up the random order of the sets. DryingPlaces is how many swatches dry at
// once, 0 for as many as like. LaterMin keeps the last hours open longer.
type BenchAsk struct {
	People       []BenchPerson
	Treatments   []int64
	Overnight    bool
	AnyOrder     bool
	DryingPlaces int
	Stretch      []BenchStretch
	LaterMin     int
}

// A BenchStart says when one piece of work on one treatment starts, and how
// many minutes it is planned to take. What tells apart the pieces of one step.
type BenchStart struct {
	Treatment int64
	Step      int // from 0
	What      string
	At        time.Time
	Minutes   int
}

// A BenchPlan is a timetable of a bench day as it was made at one time, with
// what was asked for then. It is never changed: a later one is kept beside it.
type BenchPlan struct {
	ID       int64
	Day      int64
	Made     time.Time
	By       string
	Why      string // what the plan before ran into; empty for the first
	Ask      BenchAsk
	Starts   []BenchStart
	Finish   time.Time
	Bound    time.Time // it can't be over before
	Openings int
	Moved    int // starts that are not where the plan before had them
	MovedMin int // by how many minutes the most moved
}

// A BenchClaim says that a person takes one step of a bench day. The newest counts.
type BenchClaim struct {
	ID        int64
	Day       int64
	Treatment int64
	Step      int // from 0
	Person    string
	Client    string
	At        time.Time
	By        string
}

// The largest bench day.
const (
	MaxBenchPeople     = 12
	MaxBenchTreatments = 60
	MaxBenchDays       = 7
)

// Check reports a Problem when no day can be made of a.
func (a BenchAsk) Check() error {
	switch {
	case len(a.Treatments) == 0:
		return Problemf(Invalid, "t", "Tick at least one swatch to run.")
	case len(a.Treatments) > MaxBenchTreatments:
		return Problemf(Invalid, "t", "%d treatments are too many for one timetable; tick %d or fewer.", len(a.Treatments), MaxBenchTreatments)
	case len(a.People) == 0:
		return Problemf(Invalid, "people", "Say who is there: at least one pair of hands.")
	case len(a.People) > MaxBenchPeople:
		return Problemf(Invalid, "people", "%d people are more than one bench holds; name %d or fewer.", len(a.People), MaxBenchPeople)
	case a.DryingPlaces < 0 || a.DryingPlaces > 500:
		return Problemf(Invalid, "drying", "There can't be %d places to dry; write 0 for as many as you like, or up to 500.", a.DryingPlaces)
	case a.LaterMin < 0 || a.LaterMin > 24*60:
		return Problemf(Invalid, "later", "The day can't end %d min later; write 0 to %d.", a.LaterMin, 24*60)
	}
	var first, last time.Time
	names := map[string]bool{}
	for _, p := range a.People {
		if strings.TrimSpace(p.Name) == "" || len(p.Name) > 60 {
			return Problemf(Invalid, "people", "Each person needs a name of up to 60 letters.")
		}
		if names[p.Name] {
			return Problemf(Invalid, "people", "%s is named twice; tell the two apart.", p.Name)
		}
		names[p.Name] = true
		if len(p.There) == 0 {
			return Problemf(Invalid, "people", "Say from when to when %s is there.", p.Name)
		}
		for _, list := range [][]Hours{p.There, p.Away} {
			for _, h := range list {
				if !h.Till.After(h.From) {
					return Problemf(Invalid, "people", "The hours of %s end at %s, which is not after they begin at %s.", p.Name, h.Till.Format("15:04"), h.From.Format("15:04"))
				}
			}
		}
		for _, h := range p.There {
			if first.IsZero() || h.From.Before(first) {
				first = h.From
			}
			if h.Till.After(last) {
				last = h.Till
			}
		}
	}
	if last.Sub(first) > MaxBenchDays*24*time.Hour {
		return Problemf(Invalid, "people", "That is more than %d days; plan a shorter time.", MaxBenchDays)
	}
	for _, s := range a.Stretch {
		if s.Minutes < 0 || s.Minutes > 7*24*60 {
			return Problemf(Invalid, "stretch", "A step can't last %d min longer; write 0 to a week.", s.Minutes)
		}
	}
	return nil
}
