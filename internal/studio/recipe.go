package studio

import (
	"fmt"
	"time"
)

// StepKind is what the hands do in a step.
type StepKind string

// The kinds of step, in the order they usually come.
const (
	Degrease   StepKind = "degrease"
	Abrade     StepKind = "abrade"
	Pickle     StepKind = "pickle"
	Rinse      StepKind = "rinse"
	Dry        StepKind = "dry"
	Wet        StepKind = "wet"
	Sprinkle   StepKind = "sprinkle"
	Bury       StepKind = "bury"
	Fume       StepKind = "fume"
	Rest       StepKind = "rest"
	BrushOut   StepKind = "brush out"
	Flip       StepKind = "flip"
	Heat       StepKind = "heat"
	Neutralise StepKind = "neutralise"
	Seal       StepKind = "seal"
)

// StepKinds lists the kinds in the order they usually come.
var StepKinds = []StepKind{Degrease, Abrade, Pickle, Rinse, Dry, Wet, Sprinkle, Bury, Fume, Rest, BrushOut, Flip, Heat, Neutralise, Seal}

// Dwell reports whether the step runs by itself once begun: a timer runs and
// the hands are free.
func (k StepKind) Dwell() bool {
	switch k {
	case Fume, Rest, Dry, Bury, Pickle:
		return true
	}
	return false
}

// Known reports whether k is one of StepKinds.
func (k StepKind) Known() bool {
	for _, s := range StepKinds {
		if s == k {
			return true
		}
	}
	return false
}

// A Step is one line of a recipe.
//
// Duration is how long it takes (a dwell) or about how long the hands need.
// Early and Late are its tolerance: how much sooner or later it may end.
// ChamberID and SupplyID are 0 when none is meant. Material is kept beside the
// supply so that a recipe can be written, and checked, before the bottle is bought.
type Step struct {
	Kind      StepKind
	SupplyID  int64
	Material  string
	Strength  float64 // wt%; 0 when unknown or not meant
	Also      []Part  // what else is in the liquid
	Amount    Amount
	Tool      string
	Faces     Faces // which face it touches; empty means the faces of the treatment
	Duration  time.Duration
	Early     time.Duration
	Late      time.Duration
	ChamberID int64
	Place     string // in words where it is no chamber: "bench", "outdoors"
	Note      string
}

// A Part is one more thing that is mixed into what a step puts on, by its matter
// key. Strength is in percent by mass of the whole, 0 when unknown.
type Part struct {
	Material string
	Strength float64
}

// maxParts is how many things one liquid may be mixed of besides the first.
const maxParts = 20

// Check reports a Problem when s cannot be kept; n is its number, from 1.
func (s Step) Check(n int) error {
	field := fmt.Sprintf("step%d", n)
	if !s.Kind.Known() {
		return Problemf(Invalid, field, "Step %d: %q is not a step known here; choose one from the list.", n, string(s.Kind))
	}
	if s.Duration < 0 || s.Duration > 60*24*time.Hour {
		return Problemf(Invalid, field, "Step %d can't last %s; write a time from 0 to 60 days.", n, Span(s.Duration))
	}
	if s.Kind.Dwell() && s.Duration == 0 {
		return Problemf(Invalid, field, "Step %d (%s) runs by the clock, so it needs a time above 0.", n, s.Kind)
	}
	if s.Early < 0 || s.Late < 0 || s.Early > s.Duration {
		return Problemf(Invalid, field, "Step %d: the tolerance must not be below 0, nor 'early' longer than the step itself.", n)
	}
	if s.Strength < 0 || s.Strength > 100 {
		return Problemf(Invalid, field, "Step %d: a strength of %v %% can't be right; write 0 to 100.", n, s.Strength)
	}
	if len(s.Also) > maxParts {
		return Problemf(Invalid, field, "Step %d: %d things in one liquid are too many; %d besides the first are the most.", n, len(s.Also), maxParts)
	}
	for _, p := range s.Also {
		if p.Material == "" {
			return Problemf(Invalid, field, "Step %d: something in its liquid has no name; say what it is.", n)
		}
		if !(p.Strength >= 0 && p.Strength <= 100) {
			return Problemf(Invalid, field, "Step %d: %v %% of %s in its liquid can't be right; write 0 to 100.", n, p.Strength, p.Material)
		}
	}
	return s.Amount.Check(field)
}

// HandKey returns the material by which a hand word on the step is weighed:
// a wetting is weighed as water, whatever is in the liquid; else the material itself.
func (s Step) HandKey(material string) string {
	if s.Kind == Wet {
		return "water"
	}
	return material
}

// LayState says in which state the patina below was when another is laid over it.
type LayState string

// How an overlay meets the patina below.
const (
	OverDry LayState = "dry"
	OverWet LayState = "still wet"
)

// A Recipe is a named list of steps that has versions; a version, once saved,
// is never changed.
type Recipe struct {
	ID       int64
	Name     string
	Invented bool
	BinnedAt time.Time
	Latest   Version
}

// A Version is one numbered state of a recipe. OverID, when not 0, is the
// version of the recipe it lies over. Source is the key of the published recipe
// it was begun from, empty if none.
type Version struct {
	ID       int64
	RecipeID int64
	Number   int
	Steps    []Step
	OverID   int64
	Over     LayState
	Why      string // what changed and why
	Source   string
	Made     time.Time
	BinnedAt time.Time
}

// Check reports a Problem when v cannot be kept.
func (v Version) Check() error {
	if len(v.Steps) == 0 {
		return Problemf(Invalid, "steps", "A recipe needs at least one step.")
	}
	if len(v.Steps) > 60 {
		return Problemf(Invalid, "steps", "%d steps are too many for one recipe; 60 are the most.", len(v.Steps))
	}
	for i, s := range v.Steps {
		if err := s.Check(i + 1); err != nil {
			return err
		}
	}
	if v.OverID != 0 && v.Over != OverDry && v.Over != OverWet {
		return Problemf(Invalid, "over", "Say whether the patina below is dry or still wet when this one goes over it.")
	}
	return nil
}

// Span writes d the way the bench says it: "1 h 30 min", "45 s", "2 d 3 h".
func Span(d time.Duration) string {
	neg := ""
	if d < 0 {
		neg, d = "−", -d
	}
	d = d.Round(time.Second)
	day, h, m, s := int(d/(24*time.Hour)), int(d/time.Hour)%24, int(d/time.Minute)%60, int(d/time.Second)%60
	switch {
	case day > 0 && h > 0:
		return fmt.Sprintf("%s%d d %d h", neg, day, h)
	case day > 0:
		return fmt.Sprintf("%s%d d", neg, day)
	case h > 0 && m > 0:
		return fmt.Sprintf("%s%d h %d min", neg, h, m)
	case h > 0:
		return fmt.Sprintf("%s%d h", neg, h)
	case m > 0 && s > 0 && m < 5:
		return fmt.Sprintf("%s%d min %d s", neg, m, s)
	case m > 0:
		return fmt.Sprintf("%s%d min", neg, m)
	}
	return fmt.Sprintf("%s%d s", neg, s)
}
