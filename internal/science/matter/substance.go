package matter

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"aerugo/internal/science"
)

// A Group is a short code for substances that behave alike when they meet
// others: AMM ammonia, ACD acid, SUL sulfide and so on (data/matrix.tsv).
type Group string

// ErrUnknown is the error for a substance that is not in the table.
var ErrUnknown = errors.New("unknown substance: read its safety data sheet")

// ErrNoDensity is the error for a volume asked for where no density is known.
var ErrNoDensity = errors.New("no density is known; weigh it instead")

// refCLP is cited where a strength lies outside the bands of a substance.
const refCLP science.Ref = "clp-1272-2008"

// A Substance is something a studio owns, meets or could make by mistake.
//
// Kind is "supply" (can be owned), "by-product" (can arise) or "thing" (a tool
// or a place). Use is "class" (adults under the usual controls), "demo" (the
// teacher alone) or "reference" (known here so that it can be refused).
// AssumedWtPercent is the strength taken when the bottle does not say; 0 means
// the strongest sold is taken. Storage says what to keep it apart from.
type Substance struct {
	Key              string
	Name             string
	Also             []string
	Kind             string
	Use              string
	Groups           []Group
	CAS              string
	AssumedWtPercent float64
	Odour            string
	Flammable        string
	Storage          string
	Limits           []Limit
	Bands            []Band
	Source           string
	Standing         string
}

// A Limit is a workplace air limit as the source printed it in that Year (0 if
// the source gave none). Kind is "8 h", "15 min", "ceiling", "immediately
// dangerous" or what the agency calls it.
type Limit struct {
	Agency   string
	Kind     string
	Value    float64
	Unit     string
	Year     int
	Source   string
	Standing string
}

// A Band is how a substance hurts over a range of strength, in percent by mass:
// From is included, Below is not, but for the top of the last band.
//
// HCodes are the hazard codes, Hazards the same in plain words and order,
// Pictograms the GHS signs. Assumed is set by [At] when the strength was not
// known. Eyes, Gloves and the rest are one short line each.
type Band struct {
	Key            string
	Name           string
	FromWtPercent  float64
	BelowWtPercent float64
	Groups         []Group
	HCodes         []string
	Hazards        []string
	Pictograms     []string
	Gloves         string
	Eyes           string
	FirstAid       string
	Disposal       string
	Assumed        bool
	Source         string
	Standing       string
}

// A stock is the substances in table order and the way to them by any name.
type stock struct {
	all    []Substance
	byName map[string]int
}

// shelf is the table of substances, read once.
var shelf = sync.OnceValue(func() stock {
	plain := hazardWords()
	var s stock
	s.byName = make(map[string]int)
	for i, r := range table("substances.tsv") {
		s.all = append(s.all, Substance{
			Key: r["key"], Name: r["name"], Also: r.list("also", "; "), Kind: r["kind"], Use: r["use"],
			Groups: groups(r["groups"]), CAS: r["cas"], AssumedWtPercent: r.number("assumed_wt_percent"),
			Odour: r["odour"], Flammable: r["flammable"], Storage: r["storage"],
			Source: r["source"], Standing: r["standing"],
		})
		for _, name := range append([]string{r["key"], r["name"]}, s.all[i].Also...) {
			n := normal(name)
			if j, taken := s.byName[n]; taken && j != i {
				panic(fmt.Errorf("name %q belongs to %s and %s", name, s.all[j].Key, r["key"]))
			}
			s.byName[n] = i
		}
	}
	for _, r := range table("bands.tsv") {
		sub := &s.all[s.byName[r["key"]]]
		b := Band{
			Key: r["key"], Name: r["name"],
			FromWtPercent: r.number("from_wt_percent"), BelowWtPercent: r.number("below_wt_percent"),
			Groups: append(slices.Clone(sub.Groups), groups(r["extra_groups"])...),
			HCodes: r.list("h_codes", " "), Pictograms: r.list("pictograms", " "),
			Gloves: r["gloves"], Eyes: r["eyes"], FirstAid: r["first_aid"], Disposal: r["disposal"],
			Source: r["source"], Standing: r["standing"],
		}
		for _, h := range b.HCodes {
			if plain[h] == "" {
				panic(fmt.Errorf("%s: no plain words for %s", r["key"], h))
			}
			b.Hazards = append(b.Hazards, plain[h])
		}
		sub.Bands = append(sub.Bands, b)
	}
	for _, r := range table("limits.tsv") {
		sub := &s.all[s.byName[r["key"]]]
		sub.Limits = append(sub.Limits, Limit{
			Agency: r["agency"], Kind: r["kind"], Value: r.number("value"), Unit: r["unit"], Year: r.year(),
			Source: r["source"], Standing: r["standing"],
		})
	}
	return s
})

// hazardWords returns the plain words of each hazard code.
func hazardWords() map[string]string {
	words := make(map[string]string)
	for _, r := range table("hazards.tsv") {
		words[r["code"]] = r["plain"]
	}
	return words
}

// groups splits a cell of group codes.
func groups(cell string) []Group {
	var gs []Group
	for _, g := range strings.Fields(cell) {
		gs = append(gs, Group(g))
	}
	return gs
}

// normal brings a name to the form it is looked up by, so that "Liver of
// Sulfur" and "liver-of-sulfur" are one.
func normal(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '-' || r == '_' || r == '\t'
	}), "-")
}

// Substances returns every substance in table order. The inner slices are
// shared and must not be changed.
func Substances() []Substance { return slices.Clone(shelf().all) }

// Lookup finds a substance by its key, its name or another name it goes by;
// case, spaces and hyphens do not matter.
func Lookup(key string) (Substance, bool) {
	s := shelf()
	i, ok := s.byName[normal(key)]
	if !ok {
		return Substance{}, false
	}
	return s.all[i], true
}

// At returns how a substance hurts at a strength in percent by mass.
//
// Strength 0 means unknown: the assumed strength of the substance is taken, or
// the strongest sold, and Band.Assumed is set. A strength outside the table is
// a [science.RangeError]; a substance not in the table gives [ErrUnknown].
func At(key string, wtPercent float64) (Band, error) {
	s, ok := Lookup(key)
	if !ok {
		return Band{}, fmt.Errorf("look up %q: %w", key, ErrUnknown)
	}
	return s.at(wtPercent)
}

// at is At for a substance already found.
func (s Substance) at(wtPercent float64) (Band, error) {
	last := s.Bands[len(s.Bands)-1]
	if wtPercent == 0 {
		b := last
		if s.AssumedWtPercent > 0 {
			b, _ = s.at(s.AssumedWtPercent)
		}
		// A substance with one band is the same at every strength: nothing was assumed.
		b.Assumed = len(s.Bands) > 1
		return b, nil
	}
	for _, b := range s.Bands {
		if wtPercent >= b.FromWtPercent && wtPercent < b.BelowWtPercent {
			return b, nil
		}
	}
	if wtPercent == last.BelowWtPercent {
		return last, nil
	}
	return Band{}, &science.RangeError{
		What: "strength of " + s.Name, Got: wtPercent,
		Min: s.Bands[0].FromWtPercent, Max: last.BelowWtPercent, Unit: "% by mass", Ref: refCLP,
	}
}
