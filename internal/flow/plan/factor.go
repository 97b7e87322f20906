package plan

import (
	"strconv"
	"strings"

	"aerugo/internal/studio"
)

// settle checks the factors against the steps they act on, and returns them
// with what was left open filled in: labels, and the number behind a hand word.
func settle(factors []studio.Factor, steps []studio.Step, sup []studio.Supply, hands []studio.HandAmount) ([]studio.Factor, error) {
	var out []studio.Factor
	for i, f := range factors {
		if f.Step < 0 || f.Step >= len(steps) {
			return nil, studio.Problemf(studio.Invalid, factorField(i, "step"), "The recipe has no step %d; choose one from 1 to %d.", f.Step+1, len(steps))
		}
		at, problem := target(f, steps)
		if problem != nil {
			problem.Field = factorField(i, "step")
			return nil, problem
		}
		f.Step = at
		if strings.TrimSpace(f.Name) == "" {
			f.Name = factorName(f.Kind, steps[at].Kind)
		}
		f.Levels = append([]studio.Level{}, f.Levels...)
		if problem := checkLevels(f, steps[at], sup, hands); problem != nil {
			problem.Field = factorField(i, "levels")
			return nil, problem
		}
		for j, g := range out {
			if g.Name == f.Name {
				return nil, studio.Problemf(studio.Invalid, factorField(i, ""), "Two of the things varied are both called %q; give each a name of its own.", f.Name)
			}
			if g.Kind == f.Kind && g.Step == f.Step {
				return nil, studio.Problemf(studio.Invalid, factorField(i, ""), "%s and %s vary the same thing on step %d; leave one out.", g.Name, f.Name, f.Step+1)
			}
			if g.Step == f.Step && (removes(f, steps) || removes(g, steps)) {
				return nil, studio.Problemf(studio.Invalid, factorField(i, "step"), "%s and %s act on the same step %d, and one of them leaves that step out on some swatches; then the other has nothing to vary.", out[j].Name, f.Name, f.Step+1)
			}
			if g.Step == f.Step && pairOf(f.Kind, g.Kind, studio.ByLiquid, studio.ByStrength) {
				return nil, studio.Problemf(studio.Invalid, factorField(i, ""), "A level of strength belongs to one liquid, so liquid and strength of step %d can't be combined; make a ladder of each.", f.Step+1)
			}
		}
		out = append(out, f)
	}
	return out, nil
}

func pairOf(a, b, x, y studio.FactorKind) bool { return a == x && b == y || a == y && b == x }

// removes reports whether some level of f leaves the step it names out.
func removes(f studio.Factor, steps []studio.Step) bool {
	switch f.Kind {
	case studio.ByWetting:
		return steps[f.Step].Kind == studio.Wet
	case studio.ByBrushing:
		return steps[f.Step].Kind == studio.BrushOut
	case studio.ByLoading:
		for _, l := range f.Levels {
			if l.Number == 0 {
				return true
			}
		}
	}
	return false
}

// target returns the step f really acts on, or why it can't act on the one it
// names. Wetting and brushing look for their step when another one is named.
func target(f studio.Factor, steps []studio.Step) (int, *studio.Problem) {
	s, n := steps[f.Step], f.Step+1
	no := func(format string, args ...any) (int, *studio.Problem) {
		return 0, studio.Problemf(studio.Invalid, "", format, args...)
	}
	switch f.Kind {
	case studio.ByMinutes:
		if !s.Kind.Dwell() && s.Duration == 0 {
			return no("Step %d (%s) has no time to vary; choose a step with a time.", n, s.Kind)
		}
	case studio.ByLoading:
		if !s.Amount.Unit.PerArea() && !(s.Amount.Hand != "" && s.Amount.Unit == "") {
			return no("Step %d (%s) has no amount in g/m² or mL/m² to vary; choose a step that puts something on the face.", n, s.Kind)
		}
	case studio.ByStrength:
		if s.SupplyID == 0 && s.Material == "" {
			return no("Step %d (%s) uses no supply, so there is no strength to vary; choose a step that uses one.", n, s.Kind)
		}
	case studio.ByLiquid:
		if s.SupplyID == 0 && s.Material == "" && !usesSupply(s.Kind) {
			return no("Step %d (%s) uses no liquid; choose a step that does.", n, s.Kind)
		}
	case studio.ByWetting:
		return findStep(f.Step, steps, studio.Wet, studio.Sprinkle, studio.Bury, studio.Fume)
	case studio.ByBrushing:
		return findStep(f.Step, steps, studio.BrushOut, studio.Fume, studio.Bury, studio.Rest, studio.Dry)
	default:
		return no("%q is not a thing a set can vary here.", string(f.Kind))
	}
	return f.Step, nil
}

func usesSupply(k studio.StepKind) bool {
	switch k {
	case studio.Wet, studio.Sprinkle, studio.Bury, studio.Fume, studio.Pickle, studio.Degrease, studio.Neutralise, studio.Seal:
		return true
	}
	return false
}

// findStep returns the step of the wanted kind: the one named, else the only
// one there is. With none, it returns a step near which one can be put in.
func findStep(named int, steps []studio.Step, want studio.StepKind, near ...studio.StepKind) (int, *studio.Problem) {
	if steps[named].Kind == want {
		return named, nil
	}
	found, count := 0, 0
	for i, s := range steps {
		if s.Kind == want {
			found, count = i, count+1
		}
	}
	switch {
	case count == 1:
		return found, nil
	case count > 1:
		return 0, studio.Problemf(studio.Invalid, "", "The recipe has %d steps '%s'; choose the one to vary.", count, want)
	}
	if want == studio.Wet { // the face is wetted before the first of these
		for i, s := range steps {
			if oneOf(s.Kind, near) {
				return i, nil
			}
		}
	} else { // brushed out after the last of these, and after it has rested and dried
		for i := len(steps) - 1; i >= 0; i-- {
			if oneOf(steps[i].Kind, []studio.StepKind{studio.Fume, studio.Bury}) {
				for i+1 < len(steps) && oneOf(steps[i+1].Kind, []studio.StepKind{studio.Rest, studio.Dry}) {
					i++
				}
				return i, nil
			}
		}
		for i := len(steps) - 1; i >= 0; i-- {
			if oneOf(steps[i].Kind, near) {
				return i, nil
			}
		}
	}
	return 0, studio.Problemf(studio.Invalid, "", "The recipe has no step '%s' and no place to put one; write it into the recipe first.", want)
}

func oneOf(k studio.StepKind, kinds []studio.StepKind) bool {
	for _, other := range kinds {
		if k == other {
			return true
		}
	}
	return false
}

// checkLevels checks the levels of f in place and fills in what was left open.
func checkLevels(f studio.Factor, step studio.Step, sup []studio.Supply, hands []studio.HandAmount) *studio.Problem {
	no := func(format string, args ...any) *studio.Problem {
		return studio.Problemf(studio.Invalid, "", format, args...)
	}
	switch len(f.Levels) {
	case 0:
		return no("%s has no levels; write at least two.", f.Name)
	case 1:
		return no("%s has one level only, so nothing is varied; write at least two.", f.Name)
	}
	if len(f.Levels) > MaxSwatches {
		return no("%s has %d levels; %d swatches are the most in one set.", f.Name, len(f.Levels), MaxSwatches)
	}
	labels := map[string]bool{}
	for i := range f.Levels {
		l := &f.Levels[i]
		l.Label = strings.TrimSpace(l.Label)
		if problem := checkLevel(f, l, step, sup, hands); problem != nil {
			return problem
		}
		for _, other := range f.Levels[:i] {
			if sameLevel(f.Kind, *l, other) {
				return no("%s has the level %s twice; levels must differ.", f.Name, l.Label)
			}
		}
		if labels[l.Label] {
			return no("Two levels of %s are both called %q; give each its own label.", f.Name, l.Label)
		}
		labels[l.Label] = true
	}
	return nil
}

func sameLevel(k studio.FactorKind, a, b studio.Level) bool {
	switch {
	case k.Numeric():
		return a.Number == b.Number
	case k == studio.ByLiquid:
		return a.SupplyID == b.SupplyID
	}
	return a.Yes == b.Yes
}

func checkLevel(f studio.Factor, l *studio.Level, step studio.Step, sup []studio.Supply, hands []studio.HandAmount) *studio.Problem {
	no := func(format string, args ...any) *studio.Problem {
		return studio.Problemf(studio.Invalid, "", format, args...)
	}
	label := func(text string) {
		if l.Label == "" {
			l.Label = text
		}
	}
	switch f.Kind {
	case studio.ByMinutes:
		low, what := 0.0, "from 0"
		if step.Kind.Dwell() {
			low, what = 1.0/60, "above 0"
		}
		if !(l.Number >= low && l.Number <= 60*24*60) {
			return no("%v minutes can't be a level of %s; write a number %s to 86400 (60 days).", l.Number, f.Name, what)
		}
		label(number(l.Number) + " min")
	case studio.ByLoading:
		if l.Number == 0 && isHandWord(l.Label) {
			a, ok := studio.Resolve(hands, l.Label, step.HandKey(materialOf(step, sup)))
			if !ok {
				return no("Nobody has said what %q weighs; weigh it, or write the level as a number.", l.Label)
			}
			if !a.Unit.PerArea() {
				return no("%q is kept in %s, which is no amount on an area; weigh it in g/m² or mL/m².", l.Label, a.Unit.Label())
			}
			l.Number = a.Value
		}
		unit := step.Amount.Unit
		if unit == "" {
			unit = studio.GramPerM2
		}
		if !(l.Number >= 0 && l.Number <= 20000) {
			return no("%v can't be a level of %s; write a number from 0 to 20000 %s.", l.Number, f.Name, unit.Label())
		}
		label(number(l.Number) + " " + unit.Label())
	case studio.ByStrength:
		if !(l.Number > 0 && l.Number <= 100) {
			return no("A strength of %v %% can't be a level of %s; write a number above 0, at most 100.", l.Number, f.Name)
		}
		id := l.SupplyID
		if id == 0 {
			id = step.SupplyID
		}
		if id != 0 {
			s, ok := supplyBy(sup, id)
			if !ok {
				return no("The supply of the level %s is not on the shelf any more; choose another.", number(l.Number)+" %")
			}
			if has := s.WtPercent(); has > 0 && l.Number > has+1e-9 {
				return no("%s holds %s %%, so %s %% can't be made from it; choose a stronger supply or a lower level.", s.Name, number(has), number(l.Number))
			}
		}
		label(number(l.Number) + " %")
	case studio.ByLiquid:
		s, ok := supplyBy(sup, l.SupplyID)
		if !ok {
			return no("Choose a supply from the shelf for each level of %s.", f.Name)
		}
		label(s.Name)
	case studio.ByWetting:
		label(map[bool]string{true: "wetted", false: "dry"}[l.Yes])
	case studio.ByBrushing:
		label(map[bool]string{true: "brushed out", false: "left alone"}[l.Yes])
	}
	return nil
}

func factorName(k studio.FactorKind, step studio.StepKind) string {
	switch k {
	case studio.ByMinutes:
		if step == studio.Fume {
			return "fuming time"
		}
		return "time of " + string(step)
	case studio.ByLoading:
		return "amount"
	case studio.ByWetting:
		return "wetting"
	case studio.ByBrushing:
		return "brushing out"
	}
	return string(k)
}

func isHandWord(word string) bool {
	for _, w := range studio.HandWords {
		if w == word {
			return true
		}
	}
	return false
}

func supplyBy(sup []studio.Supply, id int64) (studio.Supply, bool) {
	for _, s := range sup {
		if id != 0 && s.ID == id {
			return s, true
		}
	}
	return studio.Supply{}, false
}

// materialOf returns what a step uses: the supply's material, else the step's own.
func materialOf(s studio.Step, sup []studio.Supply) string {
	if have, ok := supplyBy(sup, s.SupplyID); ok && have.Material != "" {
		return have.Material
	}
	return s.Material
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
