package published

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/matter"
)

// Roles of an ingredient.
const (
	In       = "in"       // dissolved or stirred in
	Base     = "base"     // the liquid the others go into
	Final    = "final"    // the liquid it is made up with, to so much in all
	Optional = "optional" // may be left out
	Over     = "over"     // lies below the piece, its vapour works
	Litter   = "litter"   // lies round the piece
)

// An Ingredient is one thing that goes in, as the source has it.
//
// Substance is a key of package matter, or a name it does not know. Amount runs
// to To where the source gives a range; both are 0 where it gives none. MassG is
// what a spoonful weighs; Or another substance that does as well.
type Ingredient struct {
	Role      string
	Substance string
	Name      string
	Amount    float64
	To        float64
	Unit      Unit
	WtPercent float64
	MassG     float64
	Or        string
	Note      string
}

// Known reports whether package matter knows what it is.
func (i Ingredient) Known() bool { _, ok := matter.Lookup(i.Substance); return ok }

// Original writes the amount as the source has it: "1/2 oz (avoirdupois)".
func (i Ingredient) Original() string {
	if i.Amount == 0 {
		return ""
	}
	t := figures(i.Amount)
	if f, ok := fractions[i.Amount]; ok {
		t = f
	}
	if i.To > 0 {
		t += " to " + figures(i.To)
	}
	words := i.Unit.Words()
	if i.Amount <= 1 && i.To == 0 {
		first, rest, _ := strings.Cut(words, " ")
		words = strings.TrimSpace(strings.TrimSuffix(first, "s") + " " + rest)
	}
	return t + " " + words
}

// metric returns the amount in metric: grams where a spoonful was weighed.
func (i Ingredient) metric() (low, high float64, unit Unit) {
	if i.Amount == 0 {
		return 0, 0, ""
	}
	if i.MassG > 0 {
		return i.MassG, i.MassG, Gram
	}
	low, unit, err := Metric(i.Amount, i.Unit)
	if err != nil {
		panic(err) // the tables were held against the units when they were read
	}
	high = low
	if i.To > 0 {
		high, _, _ = Metric(i.To, i.Unit)
	}
	return low, high, unit
}

// Metric writes the amount in grams or millilitres; "" for parts, and where the
// source gives no amount.
func (i Ingredient) Metric() string {
	low, high, unit := i.metric()
	if unit == "" || unit == Part || unit == PartVolume {
		return ""
	}
	return spread(low, high) + " " + string(unit)
}

// spread writes one number, or two with "to" between.
func spread(low, high float64) string {
	if low == high {
		return figures(low)
	}
	return figures(low) + " to " + figures(high)
}

func ingredientOf(row Row) (Ingredient, error) {
	i := Ingredient{Role: row["role"], Substance: row["substance"], Name: row["name"], Unit: Unit(row["unit"]), Or: row["or"], Note: row["note"]}
	if !slices.Contains([]string{In, Base, Final, Optional, Over, Litter}, i.Role) || i.Substance == "" || i.Name == "" {
		return i, fmt.Errorf("ingredient %q has no name, or no role known: %q", i.Name, i.Role)
	}
	for _, n := range []struct {
		cell string
		to   *float64
	}{{row["amount"], &i.Amount}, {row["to"], &i.To}, {row["wt_percent"], &i.WtPercent}, {row["mass_g"], &i.MassG}} {
		if n.cell == "" {
			continue
		}
		v, err := number(n.cell)
		if err != nil {
			return i, err
		}
		*n.to = v
	}
	if _, ok := measures[i.Unit]; !ok && i.Amount > 0 {
		return i, fmt.Errorf("ingredient %s: unit %q not known", i.Name, i.Unit)
	}
	return i, nil
}
