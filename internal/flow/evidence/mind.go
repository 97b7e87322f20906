package evidence

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/learn"
	"aerugo/internal/studio"
)

// Seen is the difference in ΔE00 below which two looks pass for the same side by side:
// a choice of ours.
const Seen = 2.0

// An Effect is what one set showed of one thing it varied on a step of a version.
type Effect struct {
	Set, Version  int64
	Steps         []studio.Step // of the version, for Mind to find the step again
	Step          int           // from 0
	Kind          studio.FactorKind
	From, To      string
	Low, High     float64 // the levels on the scale of the factor, for numbers
	DE            float64
	DELow, DEHigh float64
	Most          float64 // the difference stays below it
	With          string  // what it depends on
	Standing      learn.Standing
}

// EffectsOf takes from what a set explained what it says of the colour. Steps are those
// of the version on whose front the set's factors act.
func EffectsOf(set studio.Set, steps []studio.Step, claims []learn.Claim) []Effect {
	var out []Effect
	for _, c := range claims {
		if c.Aspect != learn.OfColour {
			continue
		}
		for _, f := range set.Factors {
			if f.Name != c.Factor {
				continue
			}
			e := Effect{Set: set.ID, Version: set.FrontID, Steps: steps, Step: f.Step, Kind: f.Kind, From: c.From, To: c.To,
				DE: c.DE, DELow: c.Low, DEHigh: c.High, Most: c.Most, With: c.With, Standing: c.Standing}
			for _, l := range f.Levels {
				if l.Label == c.From {
					e.Low = l.Number
				}
				if l.Label == c.To {
					e.High = l.Number
				}
			}
			out = append(out, e)
		}
	}
	return out
}

// Standing says how much a thing is to be minded.
type Standing string

// The standings, the most pressing first.
const (
	Tight  Standing = "keep tight"
	Free   Standing = "doesn't matter"
	Unsure Standing = "can't tell"
	Never  Standing = "not known"
)

// A Care is one thing about a step that could be done otherwise. Step is from 0. Within
// is how far it may be off before the look changes by Seen: minutes for a time, the
// unit of the amount, or percent by mass; 0 when it isn't told.
type Care struct {
	Step   int
	Kind   studio.FactorKind
	What   string
	Stands Standing
	Within float64
	Set    int64
	Words  string
}

// Mind says of everything about the steps that could be done otherwise whether it has
// to be kept tight, after what sets showed of it. The look is taken to follow a straight
// line between the levels that were tried.
func Mind(steps []studio.Step, effects []Effect) []Care {
	var out []Care
	for i, s := range steps {
		for _, kind := range knobs(s) {
			out = append(out, Care{Step: i, Kind: kind, What: whatOf(kind, s) + which(steps, i), Stands: Never})
		}
	}
	best := map[int]Effect{}
	for _, e := range effects {
		at := -1
		for _, m := range Align(e.Steps, steps) {
			if m.From == e.Step && m.From >= 0 {
				at = m.To
			}
		}
		if at < 0 {
			continue
		}
		i := slices.IndexFunc(out, func(c Care) bool { return c.Step == at && c.Kind == e.Kind })
		if i < 0 {
			out = append(out, Care{Step: at, Kind: e.Kind, What: whatOf(e.Kind, steps[at]) + which(steps, at), Stands: Never})
			i = len(out) - 1
		}
		if old, ok := best[i]; !ok || e.before(old, steps[at]) {
			best[i] = e
		}
	}
	for i := range out {
		if e, ok := best[i]; ok {
			out[i].tell(e, steps[out[i].Step])
		} else {
			out[i].Words = fmt.Sprintf("Not known: the %s was never varied.", out[i].What)
		}
	}
	order := []Standing{Tight, Free, Unsure, Never}
	slices.SortStableFunc(out, func(a, b Care) int { return slices.Index(order, a.Stands) - slices.Index(order, b.Stands) })
	return out
}

// around reports whether the setting of the step lies between the levels of e; what is no
// number always does.
func (e Effect) around(s studio.Step) bool {
	own, known := value(e.Kind, s)
	return !known || own >= min(e.Low, e.High) && own <= max(e.Low, e.High)
}

// before reports whether e says more of the step than o: what was tried around its own
// setting first, then what was seen, then the steepest.
func (e Effect) before(o Effect, s studio.Step) bool {
	if a, b := e.around(s), o.around(s); a != b {
		return a
	}
	order := []learn.Standing{learn.Shown, learn.NoDifference, learn.CantTell}
	if a, b := slices.Index(order, e.Standing), slices.Index(order, o.Standing); a != b {
		return a < b
	}
	if e.Standing == learn.Shown {
		return e.steep() > o.steep()
	}
	return e.Most < o.Most
}

func (e Effect) steep() float64 {
	if r := math.Abs(e.High - e.Low); e.Kind.Numeric() && r > 0 {
		return e.DEHigh / r
	}
	return e.DEHigh
}

// knobs lists what could be varied on a step that makes the colour.
func knobs(s studio.Step) (out []studio.FactorKind) {
	switch s.Kind {
	case studio.Wet, studio.Sprinkle, studio.Bury, studio.Fume, studio.Rest, studio.BrushOut, studio.Heat, studio.Pickle:
	default:
		return nil
	}
	if s.Kind.Dwell() || s.Kind == studio.Heat && s.Duration > 0 {
		out = append(out, studio.ByMinutes)
	}
	if s.Amount.Unit.PerArea() && !s.Amount.IsZero() {
		out = append(out, studio.ByLoading)
	}
	if s.Material != "" && s.Strength > 0 && s.Strength < 100 {
		out = append(out, studio.ByStrength)
	}
	switch s.Kind {
	case studio.Wet:
		out = append(out, studio.ByWetting)
	case studio.BrushOut:
		out = append(out, studio.ByBrushing)
	}
	return out
}

func whatOf(k studio.FactorKind, s studio.Step) string {
	switch k {
	case studio.ByMinutes:
		return noun(s.Kind) + " time"
	case studio.ByLoading:
		return "amount of " + substance(s.Material)
	case studio.ByStrength:
		return "strength of the " + substance(s.Material)
	case studio.ByLiquid:
		return "liquid of the " + noun(s.Kind)
	case studio.ByWetting:
		return "wetting"
	case studio.ByBrushing:
		return "brushing out"
	}
	return string(k)
}

func (c *Care) tell(e Effect, s studio.Step) {
	c.Set = e.Set
	span := fmt.Sprintf("between %s and %s", e.From, e.To)
	off := math.Abs(e.High - e.Low)
	switch {
	case e.Standing == learn.NoDifference && e.Most <= Seen:
		c.Stands, c.Words = Free, fmt.Sprintf("The %s made no difference we can see %s (less than %.0f ΔE00).", c.What, span, Seen)
	case e.Standing == learn.NoDifference:
		c.Stands, c.Words = Free, fmt.Sprintf("The %s made little or no difference %s (less than %.1f ΔE00).", c.What, span, e.Most)
	case e.Standing != learn.Shown:
		c.Stands, c.Words = Unsure, fmt.Sprintf("Can't tell what the %s does %s.", c.What, span)
		if e.Most > 0 {
			c.Words = fmt.Sprintf("Can't tell what the %s does %s: up to %.1f ΔE00 would not have shown.", c.What, span, e.Most)
		}
	case e.Kind.Numeric() && off > 0 && e.DEHigh > 0:
		c.Stands, c.Within = Tight, nice(min(Seen*off/e.DEHigh, off))
		late := 2 * c.Within
		if e.Kind == studio.ByMinutes && s.Late.Minutes() > c.Within {
			late = s.Late.Minutes()
		}
		late = min(late, off)
		c.Words = fmt.Sprintf("Keep the %s within %s: %s off is about %.1f ΔE00 (%.1f to %.1f).", c.What, c.size(c.Within, s), c.size(late, s), e.DE*late/off, e.DELow*late/off, e.DEHigh*late/off)
		if !e.around(s) {
			c.Words += fmt.Sprintf(" Tried from %s to %s; this recipe lies outside.", e.From, e.To)
		}
	default:
		c.Stands, c.Words = Tight, fmt.Sprintf("Mind the %s: %s against %s is %.1f ΔE00 (%.1f to %.1f).", c.What, e.To, e.From, e.DE, e.DELow, e.DEHigh)
	}
	if e.With != "" {
		c.Words += " It depends on the " + e.With + "."
	}
}

func value(k studio.FactorKind, s studio.Step) (float64, bool) {
	switch k {
	case studio.ByMinutes:
		return s.Duration.Minutes(), s.Duration > 0
	case studio.ByLoading:
		return s.Amount.Value, s.Amount.Value > 0
	case studio.ByStrength:
		return s.Strength, s.Strength > 0
	}
	return 0, false
}

func (c Care) size(v float64, s studio.Step) string {
	switch c.Kind {
	case studio.ByMinutes:
		return studio.Span(time.Duration(v * float64(time.Minute)))
	case studio.ByStrength:
		return strconv.FormatFloat(v, 'g', 2, 64) + " points of %"
	}
	unit := s.Amount.Unit
	if unit == "" {
		unit = studio.GramPerM2
	}
	return strconv.FormatFloat(v, 'g', 3, 64) + " " + unit.Label()
}

// nice rounds down to a number people say: 1, 1.5, 2, 3, 5 or 7 times a power of ten.
func nice(v float64) float64 {
	if v <= 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(v)))
	out := p
	for _, k := range []float64{1, 1.5, 2, 3, 5, 7} {
		if k*p <= v*(1+1e-9) {
			out = k * p
		}
	}
	return out
}

// Tolerances puts into a copy of the steps how far a time may be off, where that is
// known, and says which steps it changed, from 0.
func Tolerances(steps []studio.Step, cares []Care) ([]studio.Step, []int) {
	out := slices.Clone(steps)
	var changed []int
	for _, c := range cares {
		if c.Stands != Tight || c.Kind != studio.ByMinutes || c.Within <= 0 || c.Step >= len(out) {
			continue
		}
		s := &out[c.Step]
		by := time.Duration(c.Within * float64(time.Minute)).Round(time.Second)
		early := min(by, s.Duration)
		if s.Early == early && s.Late == by {
			continue
		}
		s.Early, s.Late = early, by
		changed = append(changed, c.Step)
	}
	return out, changed
}

// CareLine is what a card says of what to keep tight, "" when nothing is known.
func CareLine(cares []Care) string {
	var out []string
	for _, c := range cares {
		if c.Stands == Tight {
			out = append(out, strings.TrimSuffix(c.Words, "."))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return strings.Join(out, ". ") + "."
}
