package studio

import (
	"slices"
	"time"
)

// FactorKind is what a set varies.
type FactorKind string

// What a factor may vary. Each names the step it acts on by the step's kind.
const (
	ByMinutes  FactorKind = "minutes"  // the duration of a step, in minutes
	ByLoading  FactorKind = "loading"  // the amount of a step, g/m2 or mL/m2
	ByStrength FactorKind = "strength" // the strength of a step's supply, wt%
	ByLiquid   FactorKind = "liquid"   // which supply a step uses
	ByWetting  FactorKind = "wetting"  // whether the face is wetted first
	ByBrushing FactorKind = "brushing" // whether the face is brushed out or left
)

// FactorKinds lists the kinds in the order shown.
var FactorKinds = []FactorKind{ByMinutes, ByLoading, ByStrength, ByLiquid, ByWetting, ByBrushing}

// Numeric reports whether the levels of the factor are numbers on a scale.
func (k FactorKind) Numeric() bool { return k == ByMinutes || k == ByLoading || k == ByStrength }

// Unit returns the unit of a numeric factor, "" for others.
func (k FactorKind) Unit() string {
	switch k {
	case ByMinutes:
		return "min"
	case ByLoading:
		return "g/m²"
	case ByStrength:
		return "wt%"
	}
	return ""
}

// A Level is one setting of a factor. Number is set for numeric factors (the
// unit is the factor's), SupplyID for liquids; Label is what people read.
type Level struct {
	Label    string
	Number   float64
	SupplyID int64
	Yes      bool // wetted, brushed out
}

// A Factor is one thing a set varies, on one step of its recipe.
type Factor struct {
	Name   string
	Kind   FactorKind
	Step   int // index of the step of the base recipe it acts on, from 0
	Levels []Level
}

// A Setting is the level of one factor that one treatment received.
type Setting struct {
	Factor string
	Kind   FactorKind
	Level  Level
}

// Shape of a set.
type Shape string

// The shapes a set can have.
const (
	Ladder Shape = "ladder" // one factor
	Grid   Shape = "grid"   // two or three factors, every combination
	Loose  Shape = "loose"  // swatches made one by one
)

// Design says how the settings of a set's swatches were chosen.
type Design string

// The ways to choose settings. Every combination is the empty one.
const (
	Full      Design = ""          // every combination
	Fraction  Design = "fraction"  // a half, a quarter and so on of two levels each
	Screening Design = "screening" // many factors of two levels, main effects only
	Curve     Design = "curve"     // low, middle and high, for bends and the best place
	Square    Design = "square"    // each pair of levels equally often
	Scattered Design = "scattered" // no part of the settings far from a swatch
	Chosen    Design = "chosen"    // searched for one model, some things ruled out
	Proposed  Design = "proposed"  // proposed from the swatches that are there
)

// Designs lists the ways in the order shown.
var Designs = []Design{Full, Fraction, Screening, Curve, Square, Scattered, Chosen, Proposed}

// Known reports whether d is one of Designs.
func (d Design) Known() bool { return slices.Contains(Designs, d) }

// A Set is swatches planned together to answer a question.
type Set struct {
	ID         int64
	Name       string
	Question   string
	Shape      Shape // Grid also where Design leaves combinations out
	Design     Design
	Factors    []Factor
	Replicates int
	Blanks     int
	Seed       uint64 // of the random order
	MetalID    int64
	WidthMM    float64
	HeightMM   float64
	ChamberID  int64
	FrontID    int64 // recipe version on the front, 0 for none
	BackID     int64 // recipe version on the back, 0 for none
	SameFaces  bool  // both faces get the same treatment in one run
	Class      ClassOf
	RoomID     int64 // where it is done, 0: not said
	PieceID    int64 // a batch of this piece, its swatches being the pieces; 0 for none
	Made       time.Time
	Invented   bool
	BinnedAt   time.Time
}
