// Package propose predicts how a swatch not yet made will look, from those of its
// family that were measured, and says which to make next: toward a look, or to
// settle a question.
//
//	Gather    sets that share recipe and metal -> Family
//	Fit       Family -> Model
//	Look      settings -> the look to expect, with its range
//	Toward    a wanted look -> swatches to make next, or why not to
//	Settle    a question -> what is known, and swatches that would tell
//	Choose    proposals -> factors and combinations for plan.LayProposed
package propose

import (
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/plan"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Bench is what swatches of one family are made with. Supplies are those on the
// shelf; Chambers are all that a step may name, Chamber is put in where a step fumes
// and names none.
type Bench struct {
	Front             studio.Version
	FrontBelow        []studio.Version
	Back              *studio.Version // nil: bare, or as the front
	BackBelow         []studio.Version
	Metal             studio.Metal
	Supplies          []studio.Supply
	Hands             []studio.HandAmount
	Chambers          []fume.Bench
	Chamber           studio.Chamber
	Place             plan.Place
	Now               time.Time
	WidthMM, HeightMM float64
	SameFaces         bool
}

// A Source is one set with the measured faces of its swatches.
type Source struct {
	Set  studio.Set
	Rows []learn.Row
}

// Alike reports whether the swatches of two sets belong to one family: the same
// version of the front's recipe on the same metal.
func Alike(a, b studio.Set) bool {
	return a.FrontID != 0 && a.FrontID == b.FrontID && a.MetalID == b.MetalID && len(a.Factors) > 0 && len(b.Factors) > 0
}

// A Tried is a swatch that was made and measured. Levels stand in the order of the
// family's factors.
type Tried struct {
	Swatch, Photo int64
	Face          studio.Face
	Levels        []studio.Level
	Lab           colour.Lab
	Coverage      *float64
	at            []float64 // the free factors, as it really was
	block         string
}

// A Family is the measured swatches of one recipe on one metal. Factors hold the
// levels that were tried, in order. Notes say what was left out or assumed.
type Family struct {
	Face    studio.Face
	Factors []studio.Factor
	Tried   []Tried
	Notes   []string
	bench   Bench
	free    []axis // the factors of which more than one level was tried
	fixed   []studio.Level
	way     *plan.Way
	removes []bool // whether a factor leaves its step out on some swatches
}

// fewest is how many swatches a prediction takes.
const fewest = 4

// Gather joins the swatches of sets that are [Alike]. A factor that a set did not
// vary had there what the recipe says. The error is a *studio.Problem when there are
// too few swatches or nothing was varied.
func Gather(b Bench, face studio.Face, sources []Source) (*Family, error) {
	f := &Family{Face: face, bench: b}
	var used []Source
	for _, s := range sources {
		if why := f.join(s.Set); why != "" {
			f.note("The set %s is left out: %s.", s.Set.Name, why)
			continue
		}
		used = append(used, s)
	}
	grey, other := 0, 0
	for _, s := range used {
		for _, r := range s.Rows {
			switch {
			case r.Face != face:
			case !r.Calibrated:
				grey++
			default:
				if t, ok := f.tried(s, r); ok {
					f.Tried = append(f.Tried, t)
				} else {
					other++
				}
			}
		}
	}
	if grey > 0 {
		f.note("%s left out: photographed without a grey card, the colour can't be compared.", counted(grey, "swatch is", "swatches are"))
	}
	if other > 0 {
		f.note("%s left out: one of its settings is not known as a number.", counted(other, "swatch is", "swatches are"))
	}
	if len(f.Tried) < fewest {
		return nil, studio.Problemf(studio.Conflict, "", "Swatches of this recipe and metal, measured on the %s with a grey card: %d. It takes %d to predict from.", face, len(f.Tried), fewest)
	}
	return f, f.settle()
}

func (f *Family) note(format string, args ...any) {
	f.Notes = append(f.Notes, fmt.Sprintf(format, args...))
}

// join adds a set's factors to the family's, or says why it can't.
func (f *Family) join(set studio.Set) (why string) {
	all, removes := slices.Clone(f.Factors), slices.Clone(f.removes)
	for _, x := range set.Factors {
		if x.Step < 0 || x.Step >= len(f.bench.Front.Steps) {
			return "it varied a step that the recipe does not have"
		}
		gone := f.removed(x)
		if i := f.index(x); i >= 0 {
			removes[i] = removes[i] || gone
			continue
		}
		x.Levels = nil
		for slices.ContainsFunc(all, func(y studio.Factor) bool { return y.Name == x.Name }) {
			x.Name = fmt.Sprintf("%s, step %d", x.Name, x.Step+1)
		}
		all, removes = append(all, x), append(removes, gone)
	}
	for i, x := range all {
		for j, y := range all[:i] {
			liquid := x.Kind == studio.ByLiquid && y.Kind == studio.ByStrength || x.Kind == studio.ByStrength && y.Kind == studio.ByLiquid
			if x.Step == y.Step && (liquid || removes[i] || removes[j]) {
				return fmt.Sprintf("%s and %s act on the same step and can't be combined", y.Name, x.Name)
			}
		}
	}
	f.Factors, f.removes = all, removes
	return ""
}

// removed reports whether some level of a set's factor leaves its step out.
func (f *Family) removed(x studio.Factor) bool {
	k := f.bench.Front.Steps[x.Step].Kind
	return x.Kind == studio.ByWetting && k == studio.Wet || x.Kind == studio.ByBrushing && k == studio.BrushOut ||
		x.Kind == studio.ByLoading && slices.ContainsFunc(x.Levels, func(l studio.Level) bool { return l.Number == 0 })
}

// index returns which of the family's factors a set's factor is, -1 for none.
func (f *Family) index(x studio.Factor) int {
	return slices.IndexFunc(f.Factors, func(y studio.Factor) bool { return y.Kind == x.Kind && y.Step == x.Step })
}

// tried puts a measured face into the family's factors; false when a setting is not known.
func (f *Family) tried(s Source, r learn.Row) (Tried, bool) {
	t := Tried{Swatch: r.Swatch, Photo: r.Photo, Face: r.Face, Lab: r.Lab, block: fmt.Sprintf("%d/%s/%s", s.Set.ID, r.Day, r.Run)}
	if r.Coverage != nil {
		v := r.Coverage.Value
		t.Coverage = &v
	}
	if r.Day == "" && r.Run == "" {
		t.block = fmt.Sprint("set ", s.Set.ID)
	}
	for _, x := range f.Factors {
		level, ok := f.levelOf(x, s.Set, r.Settings)
		if !ok {
			return t, false
		}
		v := valueOf(x.Kind, level)
		if x.Kind == studio.ByMinutes && f.onlyFume(x.Step) {
			// how long it was really in, where that is near to what was planned
			if m := r.Chamber * 60; m > 0.7*v && m < 1.4*v {
				v = m
			}
		}
		t.Levels, t.at = append(t.Levels, level), append(t.at, v)
	}
	return t, true
}

func (f *Family) onlyFume(step int) bool {
	n := 0
	for _, s := range f.bench.Front.Steps {
		if s.Kind == studio.Fume {
			n++
		}
	}
	return n == 1 && f.bench.Front.Steps[step].Kind == studio.Fume
}

// levelOf returns the level of x that a row of the set had.
func (f *Family) levelOf(x studio.Factor, set studio.Set, settings []studio.Setting) (studio.Level, bool) {
	for _, y := range set.Factors {
		if y.Kind != x.Kind || y.Step != x.Step {
			continue
		}
		for _, s := range settings {
			if s.Factor == y.Name {
				return s.Level, true
			}
		}
		return studio.Level{}, false
	}
	return f.asWritten(x)
}

// asWritten returns the level of x that the recipe itself has.
func (f *Family) asWritten(x studio.Factor) (studio.Level, bool) {
	s := f.bench.Front.Steps[x.Step]
	l := studio.Level{}
	switch x.Kind {
	case studio.ByMinutes:
		l.Number = s.Duration.Minutes()
	case studio.ByLoading:
		a := s.Amount
		if a.Hand != "" {
			if said, ok := studio.Resolve(f.bench.Hands, a.Hand, s.HandKey(f.materialOf(s))); ok {
				a = said
			}
		}
		l.Number, l.Label = a.Value, a.Hand
		if !a.Unit.PerArea() || a.Value == 0 {
			return l, false
		}
	case studio.ByStrength:
		if l.Number = s.Strength; l.Number == 0 {
			supply, _ := f.supply(s.SupplyID)
			l.Number = supply.WtPercent()
		}
		if l.Number == 0 {
			return l, false
		}
	case studio.ByLiquid:
		if l.SupplyID = s.SupplyID; l.SupplyID == 0 {
			return l, false
		}
	case studio.ByWetting:
		l.Yes = s.Kind == studio.Wet
	case studio.ByBrushing:
		l.Yes = s.Kind == studio.BrushOut
	}
	if l.Label == "" {
		l.Label = f.label(x, l)
	}
	return l, true
}

func (f *Family) supply(id int64) (studio.Supply, bool) {
	for _, s := range f.bench.Supplies {
		if id != 0 && s.ID == id {
			return s, true
		}
	}
	return studio.Supply{}, false
}

func (f *Family) materialOf(s studio.Step) string {
	if have, ok := f.supply(s.SupplyID); ok && have.Material != "" {
		return have.Material
	}
	return s.Material
}

// valueOf is a level as a number: what is alike has the same.
func valueOf(k studio.FactorKind, l studio.Level) float64 {
	switch {
	case k.Numeric():
		return l.Number
	case k == studio.ByLiquid:
		return float64(l.SupplyID)
	case l.Yes:
		return 1
	}
	return 0
}

// settle finds the levels tried, which factors are free and how they are made.
func (f *Family) settle() error {
	for i := range f.Factors {
		x := &f.Factors[i]
		for _, t := range f.Tried {
			l := t.Levels[i]
			if !slices.ContainsFunc(x.Levels, func(y studio.Level) bool { return valueOf(x.Kind, y) == valueOf(x.Kind, l) }) {
				x.Levels = append(x.Levels, l)
			}
		}
		slices.SortStableFunc(x.Levels, func(a, b studio.Level) int {
			switch va, vb := valueOf(x.Kind, a), valueOf(x.Kind, b); {
			case va < vb:
				return -1
			case va > vb:
				return 1
			}
			return 0
		})
		if len(x.Levels) > 1 {
			f.free = append(f.free, f.axisOf(i))
		} else {
			f.note("Only %s was made of %s, so nothing can be said of others.", x.Levels[0].Label, x.Name)
		}
		f.fixed = append(f.fixed, x.Levels[0])
	}
	if len(f.free) == 0 {
		return studio.Problemf(studio.Conflict, "", "All measured swatches were made alike; something must have been varied before it can be predicted what it does.")
	}
	for i := range f.Tried {
		t := &f.Tried[i]
		all := t.at
		t.at = nil
		for _, a := range f.free {
			v := all[a.factor]
			if a.Levels != nil {
				v = float64(slices.IndexFunc(f.Factors[a.factor].Levels, func(l studio.Level) bool { return valueOf(a.kind, l) == v }))
			}
			t.at = append(t.at, v)
		}
	}
	var err error
	f.way, err = plan.NewWay(plan.Ask{Name: "proposed", Replicates: 1, WidthMM: f.bench.WidthMM, HeightMM: f.bench.HeightMM, Chamber: f.bench.Chamber,
		Front: f.bench.Front, FrontBelow: f.bench.FrontBelow, Back: f.bench.Back, BackBelow: f.bench.BackBelow, SameFaces: f.bench.SameFaces}, f.Factors, f.bench.Supplies, f.bench.Hands, f.bench.Metal)
	return err
}

// repeats returns how far repeats of one setting lie from their mean, as a standard
// deviation of each of L*, a* and b*, and how many degrees of freedom are behind it.
func (f *Family) repeats() (sd float64, df int) {
	groups := map[string][]colour.Lab{}
	for _, t := range f.Tried {
		key := t.block
		for i, x := range f.Factors {
			key += fmt.Sprint("|", valueOf(x.Kind, t.Levels[i]))
		}
		groups[key] = append(groups[key], t.Lab)
	}
	ss := 0.0
	for _, g := range groups {
		n := float64(len(g))
		var mean colour.Lab
		for _, l := range g {
			mean.L, mean.A, mean.B = mean.L+l.L/n, mean.A+l.A/n, mean.B+l.B/n
		}
		for _, l := range g {
			ss += square(l.L-mean.L) + square(l.A-mean.A) + square(l.B-mean.B)
		}
		df += len(g) - 1
	}
	if df == 0 {
		return 0, 0
	}
	return math.Sqrt(ss / float64(3*df)), df
}

func square(v float64) float64 { return v * v }
