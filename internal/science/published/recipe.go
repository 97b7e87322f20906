package published

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"aerugo/internal/science"
	"aerugo/internal/science/matter"
)

// A Use is who may carry out a recipe.
type Use string

// The uses, the most open first.
const (
	ForClass  Use = "class"
	ByTeacher Use = "teacher only"
	ForRecord Use = "for the record only"
)

// Uses lists the uses, the most open first.
var Uses = []Use{ForClass, ByTeacher, ForRecord}

// uses reads the column class_use.
var uses = map[string]Use{"yes": ForClass, "demo": ByTeacher, "reference": ForRecord}

// Stricter reports whether u lets fewer people do it than v.
func (u Use) Stricter(v Use) bool { return slices.Index(Uses, u) > slices.Index(Uses, v) }

// Roles of an ingredient.
const (
	In       = "in"       // dissolved or stirred in
	Base     = "base"     // the liquid the others go into
	Final    = "final"    // the liquid it is made up with, to so much in all
	Optional = "optional" // may be left out
	Over     = "over"     // lies below the piece, its vapour works
	Litter   = "litter"   // lies round the piece
)

// Heats, the coldest first.
const (
	Cold    = "cold"
	Warm    = "warm"
	Hot     = "hot"
	Boiling = "boiling"
	Torch   = "torch"
)

// A Recipe is one published recipe.
//
// Name, Look, Colours and Steps are our words; the fields from Metal to Note are
// the source's facts. Taken says what was taken, or could not be put into steps.
// FileUse is what the file allows, Use what it comes to here, never less strict;
// Why is the reason. Standing is how far the source was read.
type Recipe struct {
	Key         string // "R14"
	Name        string
	Look        string
	Colours     []string
	Metals      []string // of copper, brass and bronze
	Heat        string
	Steps       []Step
	Taken       string
	Ingredients []Ingredient

	Metal, Method, Time, Temperature string
	Quantities, Basis, Colour        string
	Source, Page, Standing, Note     string
	FileUse, Use                     Use
	Why                              string

	text map[field][]string // folded words, for Search
}

// HowKnown says how far the source was read, in words.
func (r Recipe) HowKnown() string {
	if w, ok := standings[r.Standing]; ok {
		return w
	}
	return r.Standing
}

var standings = map[string]string{
	"seen":            "read in the source",
	"seen (quoted)":   "read as another source quotes it",
	"seen (anecdote)": "read as one person's account, untested",
	"seen (weak)":     "read, but the page names no source of its own",
	"part seen":       "only part of it could be read",
	"from memory":     "from memory, not checked against the source",
}

// A Step is one step of the way of working. Kind is a word of the bench
// ("wet", "fume"). Taken marks a time that the source does not say; Again a
// coat that was said before.
type Step struct {
	Kind, Tool, Note string
	Minutes          float64
	Taken, Again     bool
}

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
	of := " of " + r.liquidWords()
	if final {
		of = " in all"
	}
	return spread(low, high) + " " + string(unit) + " per " + per + of
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

// CanMix reports whether the source gives all amounts that a batch needs, and if
// not, why in words.
func (r Recipe) CanMix() (bool, string) {
	has := false
	for _, i := range r.Ingredients {
		if (i.Role == In || i.Role == Optional) && i.Amount > 0 {
			has = true
		}
	}
	if _, _, _, ok := r.base(); !ok || !has {
		return false, "The source gives no amounts to reckon from, or only some of them."
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

// library is the recipes in the order of the file and the way to them by key.
type library struct {
	all   []Recipe
	byKey map[string]int
}

// shelf is the library, read once. The tables are part of the program: a broken
// one stops it at once, in the first test.
var shelf = sync.OnceValue(func() library {
	must := func(rows []Row, err error) []Row {
		if err != nil {
			panic(err)
		}
		return rows
	}
	l := library{byKey: map[string]int{}}
	for _, row := range must(ReadRows(recipesCSV)) {
		l.byKey[row["id"]] = len(l.all)
		l.all = append(l.all, recipeOf(row))
	}
	for _, row := range must(tabbed(wordsTSV)) {
		r := &l.all[l.byKey[row["id"]]]
		r.Name, r.Look, r.Heat, r.Taken = row["name"], row["look"], row["heat"], row["taken"]
		r.Colours = strings.Fields(row["colours"])
		steps, err := ReadSteps(row["steps"])
		if err != nil {
			panic(fmt.Errorf("recipe %s: %w", r.Key, err))
		}
		r.Steps = steps
	}
	for _, row := range must(tabbed(ingredientsTSV)) {
		i, err := ingredientOf(row)
		if err != nil {
			panic(fmt.Errorf("recipe %s: %w", row["id"], err))
		}
		r := &l.all[l.byKey[row["id"]]]
		r.Ingredients = append(r.Ingredients, i)
	}
	for i := range l.all {
		l.all[i].judge()
		l.all[i].index()
	}
	return l
})

// All returns every recipe in the order of the file. Inner slices are shared and
// must not be changed.
func All() []Recipe { return slices.Clone(shelf().all) }

// ByKey finds a recipe by its key, "R14".
func ByKey(key string) (Recipe, bool) {
	i, ok := shelf().byKey[key]
	if !ok {
		return Recipe{}, false
	}
	return shelf().all[i], true
}

var metalWord = regexp.MustCompile(`copper|brass|bronze`)

func recipeOf(row Row) Recipe {
	r := Recipe{Key: row["id"], Metal: row["metal"], Method: row["method"], Time: row["time"], Temperature: row["temperature"], Quantities: row["original_quantities"],
		Basis: row["basis"], Colour: row["colour"], Source: row["source"], Page: row["page"], Standing: row["seen"], Note: row["note"], FileUse: uses[row["class_use"]]}
	for _, m := range metalWord.FindAllString(row["metal"], -1) {
		if !slices.Contains(r.Metals, m) {
			r.Metals = append(r.Metals, m)
		}
	}
	return r
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
