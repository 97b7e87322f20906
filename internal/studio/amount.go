package studio

import (
	"fmt"
	"math"
	"strings"
)

// Unit is how an amount is counted. Loadings are per area of one treated face.
type Unit string

// The units a step's amount may carry.
const (
	GramPerM2  Unit = "g/m2"
	MLPerM2    Unit = "mL/m2"
	Gram       Unit = "g"
	Millilitre Unit = "mL"
)

// Units lists the units a person may choose, in the order shown.
var Units = []Unit{GramPerM2, MLPerM2, Gram, Millilitre}

// PerArea reports whether u is a loading (an amount on an area).
func (u Unit) PerArea() bool { return u == GramPerM2 || u == MLPerM2 }

// Label returns u as it is written for people.
func (u Unit) Label() string { return strings.Replace(string(u), "m2", "m²", 1) }

// An Amount is how much of something goes on, with its spread.
//
// Value and SD are in Unit. Hand is the word it was said with ("light"), empty
// if it was weighed or measured out. Assumed marks a default nobody has checked.
// The zero Amount means none.
type Amount struct {
	Value   float64
	SD      float64
	Unit    Unit
	Hand    string
	Assumed bool
}

// IsZero reports whether a means no amount at all.
func (a Amount) IsZero() bool { return a.Value == 0 && a.Hand == "" }

// Check reports a Problem when a cannot be used.
func (a Amount) Check(field string) error {
	if math.IsNaN(a.Value) || math.IsInf(a.Value, 0) || a.Value < 0 || a.Value > 1e5 {
		return Problemf(Invalid, field, "The amount %v can't be used; write a number from 0 to 100000.", a.Value)
	}
	if math.IsNaN(a.SD) || a.SD < 0 || a.SD > 1e5 {
		return Problemf(Invalid, field, "The spread %v can't be used; write a number from 0 to 100000, in the same unit as the amount.", a.SD)
	}
	if a.IsZero() {
		return nil
	}
	for _, u := range Units {
		if a.Unit == u {
			return nil
		}
	}
	return Problemf(Invalid, field, "%q is not a unit used here; choose g/m², mL/m², g or mL.", string(a.Unit))
}

// String returns a as written on the bench: "light, 11 ± 4 g/m² (assumed)".
func (a Amount) String() string {
	if a.IsZero() {
		return "none"
	}
	s := trim(a.Value)
	if a.SD > 0 {
		s += " ± " + trim(a.SD)
	}
	s += " " + a.Unit.Label()
	if a.Hand != "" {
		s = a.Hand + ", " + s
	}
	if a.Assumed {
		s += " (assumed)"
	}
	return s
}

// trim writes v with at most three significant digits and no trailing zeros.
func trim(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// Hand words, from least to most.
const (
	Light  = "light"
	Medium = "medium"
	Heavy  = "heavy"
)

// HandWords lists the hand words from least to most.
var HandWords = []string{Light, Medium, Heavy}

// A HandAmount says what a word like 'light' weighs in this person's hand.
//
// Material is the matter key it was weighed with ("sodium-chloride", "water").
// N counts the weighings behind it; 0 means an assumed default.
type HandAmount struct {
	ID       int64
	Word     string
	Material string
	Mean     float64
	SD       float64
	Unit     Unit
	N        int
}

// Assumed reports whether h is a default the person has not weighed.
func (h HandAmount) Assumed() bool { return h.N == 0 }

// Resolve returns the Amount that word stands for with this material, and false
// if no hand amount is kept for the pair. A material that has never been weighed
// falls back to the row kept for every material ("").
func Resolve(hands []HandAmount, word, material string) (Amount, bool) {
	var fallback *HandAmount
	for i := range hands {
		h := &hands[i]
		if h.Word != word {
			continue
		}
		if h.Material == material {
			return Amount{Value: h.Mean, SD: h.SD, Unit: h.Unit, Hand: word, Assumed: h.Assumed()}, true
		}
		if h.Material == "" {
			fallback = h
		}
	}
	if fallback == nil {
		return Amount{}, false
	}
	return Amount{Value: fallback.Mean, SD: fallback.SD, Unit: fallback.Unit, Hand: word, Assumed: true}, true
}

// Weighed returns the hand amount for a list of weighings (at least 3), each in
// unit: their mean and standard deviation.
func Weighed(word, material string, unit Unit, weighings []float64) (HandAmount, error) {
	n := len(weighings)
	if n < 3 {
		return HandAmount{}, Problemf(Invalid, "weighings", "%d weighings are too few to know a spread; weigh at least 3, better 10.", n)
	}
	sum := 0.0
	for _, w := range weighings {
		if !(w > 0) || w > 1e5 {
			return HandAmount{}, Problemf(Invalid, "weighings", "The weighing %v can't be used; each must be a number above 0.", w)
		}
		sum += w
	}
	mean := sum / float64(n)
	ss := 0.0
	for _, w := range weighings {
		ss += (w - mean) * (w - mean)
	}
	return HandAmount{Word: word, Material: material, Mean: mean, SD: math.Sqrt(ss / float64(n-1)), Unit: unit, N: n}, nil
}
