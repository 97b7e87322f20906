package published

import (
	"fmt"
	"strings"

	"aerugo/internal/science"
)

// base returns the liquid that all is reckoned on: how much of it in grams,
// millilitres or parts, and whether the whole is made up to that. ok is false
// where the source gives no amount.
func (r Recipe) base() (amount float64, unit Unit, final, ok bool) {
	for _, i := range r.Ingredients {
		if i.Role != Base && i.Role != Final {
			continue
		}
		v, _, u := i.metric()
		if u == "" || unit != "" && u != unit {
			return 0, "", false, false
		}
		amount, unit, final = amount+v, u, i.Role == Final
	}
	return amount, unit, final, amount > 0
}

// PerBase writes how much of an ingredient goes on a litre or a kilogram of the
// liquid: "35.06 g per litre of water". It is "" for the liquid itself, and
// where the source gives no amount.
func (r Recipe) PerBase(i Ingredient) string {
	low, high, unit, per := r.ratio(i)
	if unit == "" {
		return ""
	}
	_, _, final, _ := r.base()
	amount := spread(low, high) + " " + string(unit)
	switch {
	case final && per == "litre":
		return fmt.Sprintf("%s per litre in all", amount)
	case final:
		return fmt.Sprintf("%s per kg in all", amount)
	case per == "litre":
		return fmt.Sprintf("%s per litre of %s", amount, r.liquidWords())
	}
	return fmt.Sprintf("%s per kg of %s", amount, r.liquidWords())
}

// ratio is an ingredient's amount on a litre or a kilogram.
func (r Recipe) ratio(i Ingredient) (low, high float64, unit Unit, per string) {
	if i.Role != In && i.Role != Optional {
		return 0, 0, "", ""
	}
	total, baseUnit, _, ok := r.base()
	low, high, unit = i.metric()
	if !ok || unit == "" {
		return 0, 0, "", ""
	}
	per = "kg"
	switch {
	case unit == Part && (baseUnit == Part || baseUnit == Gram):
		unit = Gram
	case unit == PartVolume && baseUnit == PartVolume:
		unit, per = Millilitre, "litre"
	case baseUnit == Millilitre && (unit == Gram || unit == Millilitre):
		per = "litre"
	case baseUnit == Gram && unit == Gram:
	default:
		return 0, 0, "", ""
	}
	return 1000 * low / total, 1000 * high / total, unit, per
}

// liquidWords names the liquid: "water", "vinegar and acetic acid".
func (r Recipe) liquidWords() string {
	var names []string
	for _, i := range r.Ingredients {
		if i.Role == Base || i.Role == Final {
			names = append(names, i.Name)
		}
	}
	return strings.Join(names, " and ")
}

// A Weighed is one line of a batch: Text is what to weigh or measure.
type Weighed struct {
	Ingredient
	Low, High float64
	In        Unit // g or mL; empty where the source gives no amount
	Text      string
}

// CanMix reports whether the source gives amounts to reckon a batch from, and if
// not, says so in words.
func (r Recipe) CanMix() (bool, string) {
	has := false
	for _, i := range r.Ingredients {
		if (i.Role == In || i.Role == Optional) && i.Amount > 0 {
			has = true
		}
	}
	if _, _, _, ok := r.base(); !ok || !has {
		return false, "The source gives no amounts to reckon from."
	}
	return true, ""
}

// BatchUnit is the unit a batch is asked for in: mL where the source measures
// its liquid, g where it weighs it.
func (r Recipe) BatchUnit() Unit {
	switch _, unit, _, _ := r.base(); unit {
	case Millilitre, PartVolume:
		return Millilitre
	}
	return Gram
}

// BatchOf says what the amount of a batch counts: "of water", "in all".
func (r Recipe) BatchOf() string {
	if _, _, final, _ := r.base(); final {
		return "in all"
	}
	return "of " + r.liquidWords()
}

// Batch returns what to take of each for so much of the liquid, or so much in
// all where the source makes up to a volume: plain proportion. amount is in
// [Recipe.BatchUnit], above 0 and at most 1e5, else the error is a
// [science.RangeError].
func (r Recipe) Batch(amount float64) ([]Weighed, error) {
	if ok, why := r.CanMix(); !ok {
		return nil, fmt.Errorf("mix %s: %s", r.Key, why)
	}
	if !(amount > 0 && amount <= 1e5) {
		return nil, &science.RangeError{What: "amount", Got: amount, Min: 0, Max: 1e5, Unit: string(r.BatchUnit())}
	}
	total, _, _, _ := r.base()
	var out []Weighed
	for _, i := range r.Ingredients {
		if i.Role == Over || i.Role == Litter {
			continue
		}
		low, high, unit := i.metric()
		w := Weighed{Ingredient: i, Low: low * amount / total, High: high * amount / total, In: unit}
		switch unit {
		case Part:
			w.In = Gram
		case PartVolume:
			w.In = Millilitre
		}
		switch {
		case unit == "":
			w.Text = "the source does not say how much"
		case i.Role == Final:
			w.Text = "up to " + figures(w.Low) + " " + string(w.In) + " in all"
		default:
			w.Text = spread(w.Low, w.High) + " " + string(w.In)
		}
		out = append(out, w)
	}
	return out, nil
}
