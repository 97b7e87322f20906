// Package plan turns a question into swatches: every combination of what is
// varied, or those that a design chooses, with replicates and blanks in a random
// order, each with its steps frozen as they are to be carried out, and refuses what
// could hurt.
//
//	Ask -> Offers            the ways to choose settings that fit
//	Ask -> Lay -> Layout     a whole set
//	Weigh                    what a set can and can't tell
//	SpreadOf, ToSee          how many swatches show a difference
//	Over                     one recipe over a patina that is already there
//	Safety, SafetyOf         what must never meet, in the order it is laid
package plan

import (
	"fmt"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// Limits of one set.
const (
	MaxSwatches   = 200
	MaxReplicates = 10
	MaxFactors    = 8
	MaxBlocks     = 20
	MaxNever      = 8
)

// An Ask is what the person chose for a set.
//
// Front is the recipe whose steps the factors act on. FrontBelow and BackBelow
// are the versions it lies over, the one at the metal first; they are carried
// out as written. A Back recipe is also carried out as written: the factors do
// not act on it. Problems name the field they belong to: "name", "shape",
// "width", "height", "replicates", "blanks", "front", "back", and for the
// first factor "factor1", "factor1.step" and "factor1.levels"; for how the
// settings are chosen "design", "swatches", "model", "blocks", "shared", "faces",
// "made" and, for the first thing ruled out, "never1".
//
// The fields from Design on may be left out: then every combination is made.
// Swatches is how many to make where the design leaves that open ([studio.Scattered],
// [studio.Chosen]) and, for others, the most that are wanted; 0 says nothing.
// Between marks the factors whose two levels are the ends of a range in which the
// design finds the settings it needs. Never are combinations that are not made. Made
// are the settings of swatches that are there already and count. Blocks are fillings
// of the chamber or days, ByPlaces as many as the chamber's places need. Shared are
// factors that stay the same within a filling. With FacesApart front and back of one
// swatch get different settings of what can differ between faces.
type Ask struct {
	Name       string
	Question   string
	Shape      studio.Shape
	Factors    []studio.Factor
	Replicates int
	Blanks     int
	Seed       uint64
	WidthMM    float64
	HeightMM   float64
	Chamber    studio.Chamber // ID 0: none chosen
	Front      studio.Version
	FrontBelow []studio.Version
	Back       *studio.Version
	BackBelow  []studio.Version
	SameFaces  bool

	Design          studio.Design
	Swatches        int
	Model           Model
	Between         []bool
	Never           [][]Pick
	Made            [][]studio.Setting
	Blocks          int
	ByPlaces        bool
	Shared          []int
	FacesApart      bool
	UsualReplicates bool // in place of Replicates, what is usual for the design
	UsualBlanks     bool // in place of Blanks
	starts          int  // beginnings of a search; 0 for as many as take about a second
}

// A Piece is one swatch and what is to be done to it. Its number, and the
// number in its treatments, are given by the store. A blank has no treatments.
type Piece struct {
	Swatch     studio.Swatch
	Treatments []studio.Treatment
	Block      int
}

// A Layout is a set laid out: its pieces in the random order they are to be
// made in, what to know about it in plain words, and what must be minded.
type Layout struct {
	Set     studio.Set
	Pieces  []Piece
	Notes   []string
	Clashes []matter.Clash
}

// Treatments returns the treatments of all pieces, with the pieces numbered from 1.
func (l Layout) Treatments() []studio.Treatment {
	var out []studio.Treatment
	for i, p := range l.Pieces {
		for _, t := range p.Treatments {
			t.Swatch = int64(i + 1)
			out = append(out, t)
		}
	}
	return out
}

// check reports a Problem with the parts of a that need no supplies.
func (a Ask) check(metal studio.Metal) error {
	if strings.TrimSpace(a.Name) == "" {
		return studio.Problemf(studio.Invalid, "name", "Give the set a name, so that it can be found again.")
	}
	if n := len([]rune(a.Name)); n > 120 {
		return studio.Problemf(studio.Invalid, "name", "That name has %d letters; 120 are the most.", n)
	}
	if metal.ID == 0 {
		return studio.Problemf(studio.Invalid, "metal", "Choose the metal the swatches are cut from.")
	}
	for _, d := range []struct {
		field string
		mm    float64
	}{{"width", a.WidthMM}, {"height", a.HeightMM}} {
		if !(d.mm >= 5 && d.mm <= 1000) {
			return studio.Problemf(studio.Invalid, d.field, "A swatch %v mm in %s can't be right; write a number from 5 to 1000 mm.", d.mm, d.field)
		}
	}
	if !a.UsualReplicates && a.Replicates < 1 || a.Replicates > MaxReplicates {
		return studio.Problemf(studio.Invalid, "replicates", "%d of each kind can't be made; write a number from 1 to %d.", a.Replicates, MaxReplicates)
	}
	if a.Blanks < 0 || a.Blanks > MaxSwatches {
		return studio.Problemf(studio.Invalid, "blanks", "%d blanks can't be kept; write a number from 0 to %d.", a.Blanks, MaxSwatches)
	}
	if err := a.checkShape(); err != nil {
		return err
	}
	if err := a.checkDesign(); err != nil {
		return err
	}
	if err := checkLayers("front", append(append([]studio.Version{}, a.FrontBelow...), a.Front)); err != nil {
		return err
	}
	if a.Back == nil {
		if len(a.BackBelow) > 0 {
			return studio.Problemf(studio.Invalid, "back", "A recipe is chosen below the back's recipe, but none for the back itself; choose one or leave both out.")
		}
		return nil
	}
	if a.SameFaces {
		return studio.Problemf(studio.Invalid, "back", "Both faces get the same treatment, so the back can't have a recipe of its own; choose one or the other.")
	}
	return checkLayers("back", append(append([]studio.Version{}, a.BackBelow...), *a.Back))
}

func (a Ask) checkShape() error {
	n := len(a.Factors)
	switch a.Shape {
	case studio.Ladder:
		if n != 1 {
			return studio.Problemf(studio.Invalid, "shape", "A ladder varies one thing, not %d; choose one thing to vary, or a grid.", n)
		}
	case studio.Grid:
		if n < 2 || n > MaxFactors {
			return studio.Problemf(studio.Invalid, "shape", "A set varies 2 to %d things at once, not %d.", MaxFactors, n)
		}
	case studio.Loose:
		if n != 0 {
			return studio.Problemf(studio.Invalid, "shape", "Loose swatches vary nothing on purpose; choose a ladder or a grid to vary %d.", n)
		}
	default:
		return studio.Problemf(studio.Invalid, "shape", "%q is not a shape a set can have; choose a ladder, a grid or loose swatches.", string(a.Shape))
	}
	return nil
}

// checkLayers reports a Problem when the versions do not lie on each other as
// they say, the one at the metal first.
func checkLayers(field string, layers []studio.Version) error {
	for i, v := range layers {
		if err := v.Check(); err != nil {
			if p := studio.ProblemIn(err); p != nil {
				return studio.Problemf(p.Kind, field, "%s", p.Text)
			}
			return err
		}
		switch {
		case i == 0 && v.OverID != 0:
			return studio.Problemf(studio.Invalid, field, "This recipe lies over another one; choose the recipe below it too, or lay it over swatches that have it.")
		case i > 0 && v.OverID == 0:
			return studio.Problemf(studio.Invalid, field, "This recipe starts at bare metal, so it can't be planned over another; choose a recipe that lies over one.")
		case i > 0 && v.OverID != layers[i-1].ID:
			return studio.Problemf(studio.Invalid, field, "This recipe lies over another one than the one chosen below it; choose the recipe it was written for.")
		}
	}
	return nil
}

// factorField names the form field of the i-th factor, from 0.
func factorField(i int, part string) string {
	if part == "" {
		return fmt.Sprintf("factor%d", i+1)
	}
	return fmt.Sprintf("factor%d.%s", i+1, part)
}
