package published

import (
	"slices"

	"aerugo/internal/science/matter"
)

// hydrated is the mass fraction of the salt in its crystals, as it is sold.
func hydrated(key string) float64 {
	for _, c := range matter.Crystals() {
		if c.Key == key {
			return c.Anhydrous
		}
	}
	return 1
}

// bottled are the liquids sold in many strengths, so that a weight of one says
// nothing of what is in it.
var bottled = []string{"ammonia-water", "vinegar", "acetic-acid", "hydrochloric-acid", "hydrogen-peroxide", "ammonium-sulfide"}

// Dry reports whether a substance is weighed dry for a recipe, so that a bottle
// in which it is dissolved already does not do.
func Dry(substance string) bool {
	s, ok := matter.Lookup(substance)
	return ok && !slices.Contains(bottled, s.Key) && !slices.Contains([]string{"water", "distilled-water", "detergent"}, s.Key)
}

// A Share is one substance of a liquid with its strength in percent by mass, 0
// where that can't be told.
type Share struct {
	Substance string
	WtPercent float64
}

// Liquid returns what the liquid of a recipe is made of, water left out, the
// liquid it is made with first. Strengths are of the dry salt, taking for its
// crystals what is sold as crystals, and a litre of liquid for a kilogram
// (within 10 % for what is weaker than 10 %); a range counts at its upper end.
// A vinegar or ammonia whose strength nobody wrote stays at 0.
func (r Recipe) Liquid() []Share {
	total, unit, final, known := r.base()
	whole := total
	grams := func(i Ingredient) float64 { _, high, _ := i.metric(); return high } // a mL counts as a g
	if known && !final && unit != PartVolume {
		for _, i := range r.Ingredients {
			if i.Role == In {
				whole += grams(i)
			}
		}
	}
	var out []Share
	for _, roles := range [][]string{{Base, Final}, {In, Optional}} {
		for _, i := range r.Ingredients {
			if !slices.Contains(roles, i.Role) || i.Substance == "water" {
				continue
			}
			s := Share{Substance: i.Substance}
			sub, ok := matter.Lookup(i.Substance)
			switch {
			case !known || i.Amount == 0 || unit == PartVolume && i.WtPercent == 0:
			case i.WtPercent > 0:
				s.WtPercent = i.WtPercent * grams(i) / whole
			case ok && slices.Contains(bottled, sub.Key):
			default:
				s.WtPercent = 100 * hydrated(i.Substance) * grams(i) / whole
			}
			out = append(out, s)
			if i.Or != "" {
				out = append(out, Share{i.Or, s.WtPercent})
			}
		}
	}
	return out
}
