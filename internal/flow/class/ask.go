// Package class plans a lesson so that it fits its hours: which parts it has and
// when, what of each recipe is done there by whom, what cannot be finished and is
// made ahead instead, what goes home, and what is done when the vapours have
// nowhere to go.
//
//	Parts    the usual parts, fitted to the hours
//	Make     the plan of a class, with its own parts or the usual ones
//	Stop     what must never meet in the room
//	LayOwn, LayAhead   the swatches of the class and those made before it
//	Night    when to begin with what is made ahead
package class

import (
	"math"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Recipe is one recipe that is taught: its version, its name, what it lies over
// (the version at the metal first) and the metal of its swatches.
type Recipe struct {
	Version studio.Version
	Name    string
	Below   []studio.Version
	Metal   studio.Metal
}

// A Made is a swatch that is there already: Minutes of its longest fuming as done, or
// of its longest dwell where it was not fumed.
type Made struct {
	Swatch    int64
	VersionID int64
	Minutes   float64
	MetalID   int64
	Steps     []studio.Step // as they were done
}

// A Begun is where an earlier class left a recipe: the step that was running when
// it ended, counted from 0, and since when.
type Begun struct {
	Step  int
	Since time.Time
}

// An Ask is what a plan is made from. Recipes stand in the order of
// Class.Recipes. Hands are the median minutes that a step of a kind really took
// these hands, where known. Before says where the class before this one left its
// recipes, by version.
type Ask struct {
	Class    studio.Class
	Recipes  []Recipe
	Supplies []studio.Supply
	Hands    map[studio.StepKind]float64
	Made     []Made
	Before   map[int64]Begun
}

// Minutes that hands need where neither recipe nor watching says, and what a class
// adds. Common practice, no source.
var usual = map[studio.StepKind]int{
	studio.Degrease: 2, studio.Abrade: 3, studio.Rinse: 1, studio.Wet: 2, studio.Sprinkle: 2,
	studio.BrushOut: 2, studio.Flip: 1, studio.Heat: 3, studio.Neutralise: 2, studio.Seal: 5,
}

const (
	demo      = 5  // minutes in which the teacher shows it first
	beginners = 3  // how many times as long they need at their own place
	handling  = 1  // minutes to put one swatch into a tub, or take it out
	perTub    = 4  // students who share a fume tub, and a rinse bowl
	photo     = 1  // minutes to photograph one wet face, at one place for all
	fullDry   = 2  // hours to dry before a swatch may be touched, where no step says
	wash      = 10 // minutes to clear up and wash hands, at least
)

// check reports a Problem when no plan can be made of a.
func (a Ask) check() error {
	if err := a.Class.Check(); err != nil {
		return err
	}
	if len(a.Recipes) != len(a.Class.Recipes) {
		return studio.Problemf(studio.Invalid, "recipes", "A recipe of this class is not there any more; choose its recipes again.")
	}
	for i, r := range a.Recipes {
		if r.Version.ID != a.Class.Recipes[i].VersionID {
			return studio.Problemf(studio.Invalid, "recipes", "The recipes of this class were mixed up; choose them again.")
		}
		if err := r.Version.Check(); err != nil {
			return err
		}
	}
	for _, p := range a.Class.Parts {
		if p.VersionID == 0 {
			continue
		}
		i := a.index(p.VersionID)
		if i < 0 {
			return studio.Problemf(studio.Invalid, "parts", "A part names a recipe that this class is not taught; choose the recipe again.")
		}
		if n := len(a.Recipes[i].Version.Steps); p.To > n {
			return studio.Problemf(studio.Invalid, "parts", "A part holds steps up to %d, but %s has %d.", p.To, a.Recipes[i].Name, n)
		}
	}
	return nil
}

// index is the place of a recipe among those taught, -1 for none.
func (a Ask) index(version int64) int {
	for i, r := range a.Recipes {
		if r.Version.ID == version {
			return i
		}
	}
	return -1
}

// swatches is how many swatches of a recipe the class makes, and how many of them
// wait for each other at a thing that students share.
func (a Ask) swatches(i int) (all, queue int) {
	c := a.Class.Recipes[i]
	if a.mode(i).who != byStudents {
		n := max(c.Shown, 1)
		return n, n
	}
	all = c.PerHead * a.Class.Heads
	stations := (a.Class.Heads + perTub - 1) / perTub
	return all, (all + stations - 1) / stations
}

// hand is how many minutes a step takes two practised hands on one swatch.
func (a Ask) hand(s studio.Step) float64 {
	if m, ok := a.Hands[s.Kind]; ok && m > 0 {
		return m
	}
	if s.Duration > 0 && !s.Kind.Dwell() {
		return s.Duration.Minutes()
	}
	if m, ok := usual[s.Kind]; ok {
		return float64(m)
	}
	return handling
}

// shared reports whether students stand in a queue for a step: a bowl, a torch, a tub.
func shared(s studio.Step) bool {
	switch s.Kind {
	case studio.Wet:
		return s.Tool == "dip" || s.Tool == "immerse"
	case studio.Rinse, studio.Heat, studio.Neutralise, studio.Pickle, studio.Fume, studio.Bury:
		return true
	}
	return false
}

// need is how many minutes the steps from up to but not to of recipe i take the
// class. A dwell inside counts whole; one that ends the part is only begun in it.
func (a Ask) need(i, from, to int) int {
	steps := a.Recipes[i].Version.Steps
	all, queue := a.swatches(i)
	students := a.mode(i).who == byStudents
	per := max(1, a.Class.Recipes[i].PerHead)
	var sum float64
	for k := from; k < to && k < len(steps); k++ {
		s := steps[k]
		switch {
		case s.Kind == studio.Fume || s.Kind == studio.Bury:
			sum += float64(all * handling)
		case s.Kind.Dwell():
			sum += handling
		case !students:
			sum += a.hand(s) * float64(all)
		case shared(s):
			sum += a.hand(s) * float64(queue)
		default:
			sum += a.hand(s) * float64(beginners*per)
		}
		if s.Kind.Dwell() && k+1 < to {
			sum += s.Duration.Minutes()
		}
	}
	if from < to && !loads(steps, from, to) {
		sum += demo
	} else if from < to {
		sum += 2 // the log, and a look at the seal
	}
	if to < len(steps) && steps[to].Kind == studio.Fume && students && !loads(steps, from, to) {
		sum += float64(all * photo)
	}
	return int(math.Ceil(sum - 1e-9))
}

// loads reports whether a part does nothing but begin a dwell.
func loads(steps []studio.Step, from, to int) bool {
	return to == from+1 && from < len(steps) && steps[from].Kind.Dwell()
}

// ready is how many steps of a recipe only get the metal clean.
func ready(steps []studio.Step) int {
	for i, s := range steps {
		switch s.Kind {
		case studio.Degrease, studio.Abrade, studio.Pickle, studio.Rinse:
		case studio.Dry:
			if s.Duration > 15*time.Minute {
				return i
			}
		default:
			return i
		}
	}
	return len(steps)
}

// first is the step at which the class takes up recipe i, and whether an earlier
// class brought it there.
func (a Ask) first(i int) (int, bool) {
	v := a.Recipes[i].Version
	b, ok := a.Before[v.ID]
	if !ok || b.Step >= len(v.Steps) {
		return ready(v.Steps), false
	}
	if a.Class.Starts.Sub(b.Since) >= v.Steps[b.Step].Duration-v.Steps[b.Step].Early {
		return b.Step + 1, true
	}
	return ready(v.Steps), false
}

// who is who stands there, as safety sees it.
func (a Ask) who(where studio.ClassWhere) matter.Class {
	return matter.Class{YoungestAge: a.Class.Who.YoungestAge(), Hood: where == studio.UnderHood, Outdoors: where == studio.Outdoors}
}
