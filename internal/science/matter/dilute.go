package matter

import (
	"fmt"
	"sync"

	"aerugo/internal/science"
)

// A Mix is one bottle or salt let down with water, by mass. Strengths are mass
// fractions of what is dissolved, without its crystal water. Volumes at 20 °C do
// not add up; they are 0 where no density is known. CheckML of the finished mix
// weigh CheckG, 0 when its density is unknown.
type Mix struct {
	Key                       string
	From, To                  float64
	StockG, WaterG, TotalG    float64
	StockML, WaterML, TotalML float64
	CheckG                    float64
}

// CheckML is the volume whose weight checks a mix.
const CheckML = 100

// MixGrams returns what to weigh for so many grams (above 0, to 1e6) of a mix of
// the given strength from a stock at least as strong.
func MixGrams(key string, from, to, grams float64) (Mix, error) {
	s, ok := Lookup(key)
	if !ok {
		return Mix{}, fmt.Errorf("dilute %q: %w", key, ErrUnknown)
	}
	if !(from > 0 && from <= 1) {
		return Mix{}, &science.RangeError{What: "strength of the stock", Got: 100 * from, Min: 0, Max: 100, Unit: "% by mass"}
	}
	if !(to > 0 && to <= from) {
		return Mix{}, &science.RangeError{What: "strength wanted", Got: 100 * to, Min: 0, Max: 100 * from, Unit: "% by mass"}
	}
	if !(grams > 0 && grams <= 1e6) {
		return Mix{}, &science.RangeError{What: "amount wanted", Got: grams, Min: 0, Max: 1e6, Unit: "g"}
	}
	m := Mix{Key: s.Key, From: from, To: to, TotalG: grams, StockG: grams * to / from}
	m.WaterG = grams * (1 - to/from)
	water, _ := DensityAt20("ammonia-water", 0)
	m.WaterML = 1000 * m.WaterG / water
	if d, ok := DensityAt20(s.Key, from); ok {
		m.StockML = 1000 * m.StockG / d
	}
	if d, ok := DensityAt20(s.Key, to); ok {
		m.TotalML, m.CheckG = 1000*m.TotalG/d, CheckML*d/1000
	}
	return m, nil
}

// MixML is [MixGrams] for so many millilitres at 20 °C; it needs the density of
// the mix, and returns [ErrNoDensity] where none is known.
func MixML(key string, from, to, ml float64) (Mix, error) {
	if !(ml > 0 && ml <= 1e6) {
		return Mix{}, &science.RangeError{What: "amount wanted", Got: ml, Min: 0, Max: 1e6, Unit: "mL"}
	}
	s, ok := Lookup(key)
	if !ok {
		return Mix{}, fmt.Errorf("dilute %q: %w", key, ErrUnknown)
	}
	d, ok := DensityAt20(s.Key, to)
	if !ok {
		return Mix{}, fmt.Errorf("dilute %s to %.4g %%: %w", s.Key, 100*to, ErrNoDensity)
	}
	return MixGrams(key, from, to, ml*d/1000)
}

// A knot is one row of a table to draw lines through.
type knot struct{ x, y float64 }

// densities are the tables of density by key, read once.
var densities = sync.OnceValue(func() map[string][]knot {
	m := map[string][]knot{}
	for _, r := range table("densities.tsv") {
		m[r["key"]] = append(m[r["key"]], knot{r.number("wt_percent") / 100, r.number("kg_m3")})
	}
	return m
})

// DensityAt20 returns the density of a solution in kg/m3 at 20 °C by straight
// lines through a published table, within 0.1 % for the rows' spacing, and false
// outside it. A dry salt has none here.
func DensityAt20(key string, strength float64) (kgPerM3 float64, ok bool) {
	return between(densities()[key], strength)
}

// between draws a line through the two knots about x, which rise.
func between(knots []knot, x float64) (float64, bool) {
	for i := 1; i < len(knots); i++ {
		a, b := knots[i-1], knots[i]
		if x >= a.x && x <= b.x {
			return a.y + (b.y-a.y)*(x-a.x)/(b.x-a.x), true
		}
	}
	return 0, false
}

// A Crystal is a salt with water in its crystals. Anhydrous is the mass fraction
// of the salt alone.
type Crystal struct {
	Name, Key, Words string
	Anhydrous        float64
}

// waterMolarMass in g/mol.
const waterMolarMass = 18.015

// crystals is the table of hydrates, read once.
var crystals = sync.OnceValue(func() []Crystal {
	var all []Crystal
	for _, r := range table("hydrates.tsv") {
		m := r.number("anhydrous_g_mol")
		all = append(all, Crystal{r["crystals"], r["key"], r["name"], m / (m + r.number("waters")*waterMolarMass)})
	}
	return all
})

// Crystals returns the table of hydrates.
func Crystals() []Crystal { return append([]Crystal(nil), crystals()...) }

// CrystalOf finds a hydrate by its name, such as copper-sulfate-pentahydrate.
func CrystalOf(name string) (Crystal, bool) {
	for _, c := range crystals() {
		if normal(name) == c.Name {
			return c, true
		}
	}
	return Crystal{}, false
}

// AmmoniaOfGravity returns the strength of ammonia water (0 to 0.36) from its
// specific gravity at 60/60 °F (0.878 to 1): the cubic below is our fit, within
// 0.0002 of a trade list by degrees Baumé. Old tables of the 19th century differ
// by up to 0.015 of strength.
func AmmoniaOfGravity(sg float64) (strength float64, err error) {
	at := func(w float64) float64 { return 1 + w*(-0.004387525+w*(4.250559e-5-w*4.031606e-7)) }
	if !(sg >= 0.879 && sg <= 1) {
		return 0, &science.RangeError{What: "specific gravity of ammonia", Got: sg, Min: 0.879, Max: 1}
	}
	lo, hi := 0.0, 36.0
	for range 60 {
		mid := (lo + hi) / 2
		if at(mid) > sg {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo / 100, nil
}

// AmmoniaOfBaume is [AmmoniaOfGravity] for degrees Baumé of light liquids, 10 (water)
// to 29: SG = 140/(130 + Be).
func AmmoniaOfBaume(degrees float64) (strength float64, err error) {
	if !(degrees >= 10 && degrees <= 29) {
		return 0, &science.RangeError{What: "degrees Baumé of ammonia", Got: degrees, Min: 10, Max: 29, Unit: "°Bé"}
	}
	return AmmoniaOfGravity(140 / (130 + degrees))
}
