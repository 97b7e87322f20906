package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A StockUnit is how the strength of a bottle to be let down is written.
type StockUnit string

// The ways a bottle's strength is written. Crystals and Dry have no number.
const (
	ByWeight StockUnit = "wt%"
	Gravity  StockUnit = "sg"
	Baume    StockUnit = "be"
	PerLitre StockUnit = "g/L"
	Dry      StockUnit = "dry"
	Crystals StockUnit = "crystals"
)

// StockUnits lists them in the order shown.
var StockUnits = []StockUnit{ByWeight, Gravity, Baume, PerLitre, Dry, Crystals}

// Words says what the unit is to a person.
func (u StockUnit) Words() string {
	return map[StockUnit]string{ByWeight: "% by mass", Gravity: "specific gravity (ammonia)", Baume: "degrees Baumé (ammonia)", PerLitre: "g in a litre",
		Dry: "dry, without crystal water", Crystals: "crystals, with their water"}[u]
}

// A Stock is what a mix is made from. Strength is a mass fraction of what is
// dissolved; Solid says that it is weighed dry; Words names it on the card.
type Stock struct {
	Substance matter.Substance
	Strength  float64
	Solid     bool
	Words     string
	Assumed   string // what nobody said, "" for nothing
}

// StockOf reads a bottle's strength. Field names of its Problems are "material"
// and "strength".
func StockOf(material string, value float64, unit StockUnit) (Stock, error) {
	sub, ok := matter.Lookup(material)
	if !ok || len(sub.Bands) == 0 {
		return Stock{}, studio.Problemf(studio.Invalid, "material", "Choose what it is from the list.")
	}
	s := Stock{Substance: sub}
	bad := func(format string, args ...any) (Stock, error) {
		return Stock{}, studio.Problemf(studio.Invalid, "strength", format, args...)
	}
	switch unit {
	case Dry:
		s.Strength, s.Solid, s.Words = 1, true, sub.Name
		return s, nil
	case Crystals:
		for _, c := range matter.Crystals() {
			if c.Key == sub.Key {
				s.Strength, s.Solid, s.Words = c.Anhydrous, true, fmt.Sprintf("%s (%.4g %% of them is the salt)", c.Words, 100*c.Anhydrous)
				return s, nil
			}
		}
		return bad("%s is not known to hold water in its crystals; choose dry.", sub.Name)
	case Gravity, Baume:
		if sub.Key != "ammonia-water" {
			return bad("Specific gravity and degrees Baumé are read for ammonia only; write the strength of %s in %% by mass.", sub.Name)
		}
		read := matter.AmmoniaOfGravity
		if unit == Baume {
			read = matter.AmmoniaOfBaume
		}
		w, err := read(value)
		if err != nil {
			return bad("%s", outOfRange(err, "strength"))
		}
		s.Strength = w
	case PerLitre:
		w := value / 1000
		for range 40 { // density and strength hang on each other; each round is closer
			d, ok := matter.DensityAt20(sub.Key, w)
			if !ok {
				return bad("No density of %s at that strength is known here, so grams in a litre can't be turned into %% by mass; weigh a litre and write grams in 100 g.", sub.Name)
			}
			w = value / d
		}
		s.Strength = w
	case ByWeight:
		s.Strength = value / 100
	default:
		return bad("%q is no way to write a strength here; choose %% by mass.", string(unit))
	}
	if !(s.Strength > 0 && s.Strength <= 1) {
		return bad("A strength of %.4g %% can't be right; write what stands on the bottle, above 0 and at most 100.", 100*s.Strength)
	}
	if _, err := matter.At(sub.Key, 100*s.Strength); err != nil {
		return bad("%s", outOfRange(err, "strength"))
	}
	s.Words = fmt.Sprintf("%s of %.4g %%", sub.Name, 100*s.Strength)
	return s, nil
}

// SupplyStock is [StockOf] for a bottle on the shelf. A dry salt that is sold as
// crystals is taken as those, which is said.
func SupplyStock(x studio.Supply) (Stock, error) {
	var s Stock
	var err error
	switch x.StrengthUnit {
	case studio.Pure:
		sub, _ := matter.Lookup(x.Material)
		if slices.ContainsFunc(matter.Crystals(), func(c matter.Crystal) bool { return c.Key == sub.Key }) {
			s, err = StockOf(x.Material, 0, Crystals)
			s.Assumed = "that it is the crystals with their water; if it is the dry powder, choose so"
		} else {
			s, err = StockOf(x.Material, 0, Dry)
		}
	case studio.GramPerLitre:
		s, err = StockOf(x.Material, x.Strength, PerLitre)
	case studio.VolPercent:
		return s, studio.Problemf(studio.Invalid, "strength", "%s is written in %% by volume, which can't be turned into mass here. Type its strength in %% by mass instead.", x.Name)
	default:
		if x.Strength == 0 {
			return s, studio.Problemf(studio.Invalid, "strength", "Nobody wrote down how strong %s is. Read its label or data sheet and write it on the supply's page, or type it here.", x.Name)
		}
		s, err = StockOf(x.Material, x.Strength, ByWeight)
	}
	if err == nil {
		s.Words = bottle(x, s)
	}
	return s, err
}

// bottle names a supply on a card: its name, its strength unless that stands in
// the name, and its lot.
func bottle(x studio.Supply, s Stock) string {
	var more []string
	if strength := fmt.Sprintf("%.4g %%", 100*s.Strength); !s.Solid && !strings.Contains(x.Name, strength) {
		more = append(more, strength)
	}
	if s.Solid && s.Strength < 1 {
		more = append(more, fmt.Sprintf("crystals, %.4g %% of them is the salt", 100*s.Strength))
	}
	if x.Lot != "" {
		more = append(more, "lot "+x.Lot)
	}
	if len(more) == 0 {
		return x.Name
	}
	return x.Name + " (" + strings.Join(more, ", ") + ")"
}

// Named says which bottle of the shelf a stock is.
func (s Stock) Named(x studio.Supply) Stock {
	s.Words = bottle(x, s)
	return s
}

// Grams writes a mass as a bench scale shows it: hundredths below 10 g, else tenths.
func Grams(g float64) string {
	if g < 10 {
		return fmt.Sprintf("%.2f g", g)
	}
	return fmt.Sprintf("%.1f g", g)
}

// Volumes says that volumes do not add up, with the figures, or that they are
// not known.
func (c MixCard) Volumes() string {
	m := c.Mix
	if m.StockML == 0 || m.TotalML == 0 {
		return "For one of these no density is known here, so that volumes can't be told: weigh it."
	}
	sum := m.StockML + m.WaterML
	for decimals := 1; decimals <= 3; decimals++ {
		makes, adds := fmt.Sprintf("%.*f", decimals, m.TotalML), fmt.Sprintf("%.*f", decimals, sum)
		if makes != adds {
			return fmt.Sprintf("Volumes do not add up: %.*f mL and %.*f mL make %s mL, not %s mL.", decimals, m.StockML, decimals, m.WaterML, makes, adds)
		}
	}
	return "Volumes do not add up, though here the difference is too small to see."
}

// outOfRange puts a RangeError into a sentence.
func outOfRange(err error, what string) string {
	var out *science.RangeError
	if errors.As(err, &out) {
		return fmt.Sprintf("A %s of %.4g can't be; it lies from %.4g to %.4g %s.", what, out.Got, out.Min, out.Max, out.Unit)
	}
	return err.Error() + "."
}

// A MixCard is a mix with all that stands on its card.
//
// Low and High are the strengths it may have, if the bottle's own is one percent
// either way, as fractions; both 0 for a dry salt. Order is what to do, in order.
type MixCard struct {
	Stock     Stock
	Mix       matter.Mix
	Low, High float64
	Order     []string
	Cautions  []matter.Caution
	Measures  []matter.Measure
	Label     []string
}

// MixOf reckons a mix of strength to (% by mass) and amount (g, or mL at 20 °C
// when byVolume). What must not be let down with water is a Problem of kind
// Unsafe. Field names of its Problems are "to" and "amount".
func MixOf(s Stock, to, amount float64, byVolume bool) (MixCard, error) {
	key := s.Substance.Key
	if !(to > 0 && to <= 100*s.Strength) {
		return MixCard{}, studio.Problemf(studio.Invalid, "to", "%.4g %% can't be made of this bottle by adding water; write a strength above 0 and at most its own %.4g %%.", to, 100*s.Strength)
	}
	if !(amount > 0 && amount <= 1e6) {
		return MixCard{}, studio.Problemf(studio.Invalid, "amount", "An amount of %.4g can't be mixed; write a number above 0 and at most 1000000.", amount)
	}
	c := MixCard{Stock: s}
	stock, water := matter.Use{Key: key, WtPercent: 100 * s.Strength, Step: 1}, matter.Use{Key: "water", Step: 1}
	for _, clash := range matter.Meet([]matter.Use{stock, water}) {
		if clash.Level == matter.Stop {
			return MixCard{}, studio.Problemf(studio.Unsafe, "", "%s of %.4g %% is not let down here. What comes of it: %s Rule: %s Safer: %s", s.Substance.Name, 100*s.Strength, period(clash.What), period(clash.Do), period(clash.Instead))
		}
		c.Order = append(c.Order, clash.String())
	}
	var err error
	if byVolume {
		c.Mix, err = matter.MixML(key, s.Strength, to/100, amount)
	} else {
		c.Mix, err = matter.MixGrams(key, s.Strength, to/100, amount)
	}
	if errors.Is(err, matter.ErrNoDensity) {
		return MixCard{}, studio.Problemf(studio.Invalid, "amount", "No density of %s at %.4g %% is known here, so millilitres can't be told; say how many grams you want.", s.Substance.Name, to)
	}
	if err != nil {
		return MixCard{}, studio.Problemf(studio.Invalid, "amount", "%s", outOfRange(err, "amount"))
	}
	if !s.Solid && s.Strength < 1 {
		c.Low, c.High = to/100*max(0, s.Strength-0.01)/s.Strength, to/100*(s.Strength+0.01)/s.Strength
	}
	c.Order = append(c.Order, s.order(c.Mix)...)
	c.Cautions = matter.Cautions([]matter.Use{stock}, "copper")
	if band, err := matter.At(key, 100*s.Strength); err == nil {
		c.Measures = band.Measures()
	}
	c.Label = []string{fmt.Sprintf("%s %.3g %%", s.Substance.Name, to)}
	if band, err := matter.At(key, to); err == nil && len(band.Hazards) > 0 {
		c.Label = append(c.Label, strings.Join(band.Hazards, "; ")+".")
	}
	c.Label = append(c.Label, "Made of "+s.Words+".")
	return c, nil
}

// order is what to do, one after the other.
func (s Stock) order(m matter.Mix) []string {
	in := func(groups ...matter.Group) bool {
		return slices.ContainsFunc(groups, func(g matter.Group) bool { return slices.Contains(s.Substance.Groups, g) })
	}
	water, stock := Grams(m.WaterG)+" of water", Grams(m.StockG)+" of "+s.Words
	var out []string
	switch {
	case in("AMM") && s.Strength >= 0.03:
		out = append(out, "Outdoors or under a hood, goggles and gloves on, bottle and water cool.",
			"Weigh "+water+" into the empty jar.", "Pour in "+stock+": ammonia into water, slowly, the lid beside it.")
	case in("ACD", "OXA") && !s.Solid:
		out = append(out, "Goggles and gloves on.", "Weigh "+water+" into the empty jar.", "Pour in "+stock+": acid into water, never water into acid, and stir.")
	case in("BAS"):
		out = append(out, "Goggles and gloves on: it heats up.", "Weigh "+water+", cold, into the empty jar.", "Add "+stock+" a little at a time, and stir.")
	case s.Solid:
		out = append(out, "Weigh "+water+" into the empty jar.", "Add "+stock+" and stir until it is clear; no dust in the air.")
	default:
		out = append(out, "Weigh "+water+" into the empty jar.", "Pour in "+stock+" and stir.")
	}
	check := "Weigh the jar again: what is in it weighs " + Grams(m.TotalG) + "."
	if m.CheckG > 0 {
		check += fmt.Sprintf(" And %d mL of it weigh %.1f g at 20 °C.", matter.CheckML, m.CheckG)
	}
	return append(out, check, "Label it at once: what it is, its strength, the date and who mixed it. Never in a bottle for food or drink.")
}

// FaceML returns the millilitres that so many mL/m² are on n faces of width by
// height mm.
func FaceML(mlPerM2, widthMM, heightMM float64, n int) float64 {
	return mlPerM2 * widthMM * heightMM * 1e-6 * float64(n)
}
