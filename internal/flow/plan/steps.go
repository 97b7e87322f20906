package plan

import (
	"fmt"
	"time"

	"aerugo/internal/studio"
)

// A bench is what steps are frozen with.
type bench struct {
	sup     []studio.Supply
	hands   []studio.HandAmount
	chamber int64
}

// Times of a step that a factor puts in where the recipe has none.
// Common practice, no source.
const (
	wettingTime  = time.Minute
	brushingTime = 2 * time.Minute
)

// settled returns the base steps with one combination of levels put in, frozen,
// and the settings that say which levels those are.
func (b bench) settled(base []studio.Step, factors []studio.Factor, combo []int, notes *noteList) ([]studio.Step, []studio.Setting, error) {
	// before[i], at[i] and after[i] are what stands for base step i; nil is left out.
	n := len(base)
	before, after := make([]*studio.Step, n), make([]*studio.Step, n)
	at := make([]*studio.Step, n)
	for i := range base {
		s := base[i]
		at[i] = &s
	}
	var settings []studio.Setting
	for i, f := range factors {
		l := f.Levels[combo[i]]
		settings = append(settings, studio.Setting{Factor: f.Name, Kind: f.Kind, Level: l})
		s := at[f.Step]
		switch f.Kind {
		case studio.ByMinutes:
			s.Duration = time.Duration(l.Number * float64(time.Minute)).Round(time.Second)
			s.Early = min(s.Early, s.Duration)
		case studio.ByLoading:
			if l.Number == 0 {
				at[f.Step] = nil
				break
			}
			s.Amount = loading(s.Amount, l, s.HandKey(materialOf(*s, b.sup)), b.hands)
		case studio.ByStrength:
			s.Strength = l.Number
			if l.SupplyID != 0 {
				s.SupplyID = l.SupplyID
			}
			if have, ok := supplyBy(b.sup, s.SupplyID); ok && have.WtPercent() > l.Number {
				notes.add(fmt.Sprintf("%s is to be diluted from %s %% to %s %% for some of the swatches.", have.Name, number(have.WtPercent()), number(l.Number)))
			}
		case studio.ByLiquid:
			s.SupplyID, s.Material, s.Strength, s.Also = l.SupplyID, "", 0, nil
		case studio.ByWetting:
			switch {
			case s.Kind == studio.Wet && !l.Yes:
				at[f.Step] = nil
			case s.Kind != studio.Wet && l.Yes:
				before[f.Step] = b.wetting()
				notes.add(fmt.Sprintf("The recipe has no wetting, so for the wetted swatches one with water was put before step %d (%s). That is assumed: write it into the recipe if it should be otherwise.", f.Step+1, s.Kind))
			}
		case studio.ByBrushing:
			switch {
			case s.Kind == studio.BrushOut && !l.Yes:
				at[f.Step] = nil
			case s.Kind != studio.BrushOut && l.Yes:
				after[f.Step] = &studio.Step{Kind: studio.BrushOut, Tool: "soft dry brush", Duration: brushingTime, Note: "Assumed: the recipe has no brushing out."}
				notes.add(fmt.Sprintf("The recipe has no brushing out, so for the swatches brushed out one was put after step %d (%s). That is assumed: write it into the recipe if it should be otherwise.", f.Step+1, s.Kind))
			}
		}
	}
	var steps []studio.Step
	for i := range base {
		for _, s := range []*studio.Step{before[i], at[i], after[i]} {
			if s != nil {
				steps = append(steps, *s)
			}
		}
	}
	if len(steps) == 0 {
		return nil, nil, studio.Problemf(studio.Invalid, "front", "With these levels some swatches would have no step at all; keep one in the recipe, and use blanks for bare metal.")
	}
	frozen, err := b.freeze("front", steps, notes)
	return frozen, settings, err
}

// loading returns a with the level put in. A hand word brings its own spread; a
// number is taken as weighed, and keeps the share of spread a weighed amount had.
func loading(a studio.Amount, l studio.Level, material string, hands []studio.HandAmount) studio.Amount {
	if isHandWord(l.Label) {
		if said, ok := studio.Resolve(hands, l.Label, material); ok && said.Value == l.Number {
			return said
		}
	}
	put := studio.Amount{Value: l.Number, Unit: a.Unit}
	if put.Unit == "" {
		put.Unit = studio.GramPerM2
	}
	if a.Hand == "" && a.Value > 0 {
		put.SD = a.SD / a.Value * l.Number
	}
	return put
}

// wetting returns the step put in where a recipe has none.
func (b bench) wetting() *studio.Step {
	s := &studio.Step{Kind: studio.Wet, Material: "water", Tool: "spray", Duration: wettingTime, Note: "Assumed: the recipe has no wetting."}
	if a, ok := studio.Resolve(b.hands, studio.Light, "water"); ok {
		a.Assumed = true
		s.Amount = a
	}
	return s
}

// freeze returns steps with hand words resolved to numbers, supplies to material
// and strength, and the chamber put in where a step fumes and names none.
func (b bench) freeze(field string, steps []studio.Step, notes *noteList) ([]studio.Step, error) {
	out := append([]studio.Step{}, steps...)
	for i := range out {
		s, n := &out[i], i+1
		if s.SupplyID != 0 {
			have, ok := supplyBy(b.sup, s.SupplyID)
			if !ok {
				return nil, studio.Problemf(studio.Invalid, field, "Step %d (%s) uses a supply that is not on the shelf any more; choose another in the recipe.", n, s.Kind)
			}
			s.Material = have.Material
			if s.Strength == 0 {
				s.Strength = have.WtPercent()
			}
			if s.Strength == 0 && have.StrengthUnit != studio.Pure {
				notes.add(fmt.Sprintf("The strength of %s in %% by mass is not known; a difference from another bottle could be its strength.", have.Name))
			}
		}
		if s.Amount.Hand != "" {
			a, ok := studio.Resolve(b.hands, s.Amount.Hand, s.HandKey(s.Material))
			switch {
			case ok:
				s.Amount = a
			case s.Amount.Value == 0:
				return nil, studio.Problemf(studio.Invalid, field, "Nobody has said what %q weighs for step %d (%s); weigh it, or write the amount as a number.", s.Amount.Hand, n, s.Kind)
			}
		}
		if s.Amount.Assumed {
			notes.add(fmt.Sprintf("The amount of step %d (%s) is assumed: nobody has weighed it.", n, s.Kind))
		}
		if s.Kind == studio.Fume && s.ChamberID == 0 {
			s.ChamberID = b.chamber
		}
		if err := s.Check(n); err != nil {
			if p := studio.ProblemIn(err); p != nil {
				return nil, studio.Problemf(p.Kind, field, "%s", p.Text)
			}
			return nil, err
		}
	}
	return out, nil
}
