package plan

import (
	"errors"
	"fmt"
	"strings"

	"aerugo/internal/science/design"
	"aerugo/internal/studio"
)

// Model is what a searched plan is to answer.
type Model string

// The models, each holding those before it.
const (
	Effects Model = ""      // what each thing does by itself
	Pairs   Model = "pairs" // also what two of them do together
	Bends   Model = "bends" // also bends, and so the best place
)

// A Pick is one level of one factor, by their places in [Ask].
type Pick struct{ Factor, Level int }

// DesignWords says how a set's settings were chosen: in plain words, and by the
// textbook's name.
func DesignWords(d studio.Design) (plain, textbook string) {
	switch d {
	case studio.Fraction:
		return "part of them", "fractional factorial"
	case studio.Screening:
		return "many things, a first look", "Plackett-Burman"
	case studio.Curve:
		return "bends and the best place", "Box-Behnken or central composite"
	case studio.Square:
		return "evened out over rows and columns", "Latin square or orthogonal array"
	case studio.Scattered:
		return "spread out", "space-filling"
	case studio.Chosen:
		return "searched for", "D- or I-optimal"
	case studio.Proposed:
		return "proposed from the swatches that are there", "sequential"
	}
	return "every combination", "full factorial"
}

// checkDesign reports a Problem with the parts of a that say how the settings
// are chosen, as far as that can be told before they are.
func (a Ask) checkDesign() error {
	no := func(field, format string, args ...any) error {
		return studio.Problemf(studio.Invalid, field, format, args...)
	}
	if !a.Design.Known() || a.Design == studio.Proposed {
		return no("design", "%q is not a way to choose the settings; choose every combination or one of the others.", string(a.Design))
	}
	if a.Model != Effects && a.Model != Pairs && a.Model != Bends {
		return no("model", "%q is not something a plan can be searched for; choose single things, pairs or bends.", string(a.Model))
	}
	switch {
	case a.Swatches < 0 || a.Swatches > MaxSwatches:
		return no("swatches", "%d swatches can't be planned; write a number from 2 to %d.", a.Swatches, MaxSwatches)
	case a.Blocks < 0 || a.Blocks > MaxBlocks:
		return no("blocks", "%d fillings or days can't be planned; choose 1 to %d.", a.Blocks, MaxBlocks)
	case a.ByPlaces && (a.Chamber.ID == 0 || a.Chamber.Places < 2):
		return no("blocks", "Choose a chamber with two places or more, or say in how many fillings the set is made.")
	case len(a.Never) > MaxNever:
		return no("never1", "%d things ruled out are too many; %d are the most.", len(a.Never), MaxNever)
	case a.Shape == studio.Loose && (a.Design != studio.Full || a.FacesApart || len(a.Shared) > 0):
		return no("shape", "Loose swatches vary nothing, so there are no settings to choose.")
	}
	for i, never := range a.Never {
		field := fmt.Sprintf("never%d", i+1)
		seen := map[int]bool{}
		for _, p := range never {
			if p.Factor < 0 || p.Factor >= len(a.Factors) || p.Level < 0 || p.Level >= len(a.Factors[p.Factor].Levels) {
				return no(field, "What is ruled out names a level that is not varied; choose it again.")
			}
			if seen[p.Factor] {
				return no(field, "What is ruled out names %s twice, and a swatch has it once; choose another thing.", a.Factors[p.Factor].Name)
			}
			seen[p.Factor] = true
		}
		if len(never) < 2 {
			return no(field, "Rule out two things that must not come together; one level alone is better left out of the levels.")
		}
	}
	for _, i := range a.Shared {
		if i < 0 || i >= len(a.Factors) {
			return no("shared", "What the swatches of a filling share is not among the things varied; choose it again.")
		}
	}
	for i, f := range a.Factors {
		if a.between(i) && (!f.Kind.Numeric() || len(f.Levels) != 2) {
			return no(factorField(i, "levels"), "A range has two ends that are numbers, like 30 to 240.")
		}
	}
	if a.Design == studio.Scattered || a.Design == studio.Chosen {
		if a.Swatches < 2 {
			plain, _ := DesignWords(a.Design)
			return no("swatches", "Say how many swatches to make; '%s' makes as many as you say, from 2.", plain)
		}
	}
	if a.FacesApart && (a.SameFaces || a.Back != nil) {
		return no("faces", "With other settings on the back than on the front, both faces follow the front's recipe; the back can't have one of its own.")
	}
	return nil
}

func (a Ask) between(i int) bool { return i < len(a.Between) && a.Between[i] }

func (a Ask) shares(i int) bool {
	for _, s := range a.Shared {
		if s == i {
			return true
		}
	}
	return false
}

// perFace says whether the faces of one swatch can get different levels of f:
// what lies in the chamber or in a bath is shared, and so is all time.
func perFace(f studio.Factor, steps []studio.Step) bool {
	switch f.Kind {
	case studio.ByWetting, studio.ByBrushing:
		return true
	case studio.ByMinutes:
		return false
	}
	return !oneOf(steps[f.Step].Kind, []studio.StepKind{studio.Fume, studio.Bury, studio.Heat, studio.Pickle, studio.Degrease, studio.Rinse})
}

// asProblem turns what science/design says about an asking into a Problem.
func asProblem(field string, err error) error {
	if !errors.Is(err, design.ErrAsk) {
		return fmt.Errorf("choose settings: %w", err)
	}
	text := err.Error()
	return studio.Problemf(studio.Invalid, field, "%s.", strings.ToUpper(text[:1])+strings.TrimSuffix(text[1:], "."))
}
