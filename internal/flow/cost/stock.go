package cost

import (
	"fmt"
	"math"
	"sort"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// A Lot is what is left of one lot of a supply, in grams. Expires is the day it is
// to be used by, zero where nobody said one for this lot.
type Lot struct {
	Name    string
	G       float64
	Expires time.Time
}

// A Stock is what is there of a supply, in grams. Known is false until somebody
// has bought or counted some: what the bench took before that counts for nothing.
type Stock struct {
	Known bool
	G     float64
	Since time.Time // the first record, or the last count that stands for all
	Bench float64   // grams the bench took since the first record
	Lots  []Lot
	Doubt string
}

// In returns what is there in g or mL.
func (s Stock) In(u studio.Unit, gPerML float64) float64 { return inUnit(s.G, gPerML, u) }

// StockOf reads movements of one supply and what the bench took of it; the order
// they come in makes no difference. A count sets its lot to what was found. The
// bench takes from the lot that came first; what it took beyond the last lot is
// kept as less than nothing and said in Doubt.
func StockOf(moves []studio.StockMove, uses []Use, gPerML float64) Stock {
	gone := map[int64]bool{}
	for _, m := range moves {
		if m.Kind == studio.Uncounted {
			gone[m.Corrects] = true
		}
	}
	type fact struct {
		at    time.Time
		order int // of what happened at one time: bought, counted, then taken
		id    int64
		lot   string
		until time.Time
		g     float64
		set   bool
		bench bool
	}
	var facts []fact
	for _, m := range moves {
		if gone[m.ID] || m.Kind == studio.Uncounted {
			continue
		}
		f := fact{at: m.At, id: m.ID, lot: m.Lot, until: m.Expires, g: inGrams(m.Amount, gPerML, m.Unit)}
		switch m.Kind {
		case studio.Counted:
			f.set, f.order = true, 1
		case studio.UsedUp, studio.ThrownOut:
			f.g, f.order = -f.g, 2
		}
		facts = append(facts, f)
	}
	var s Stock
	if len(facts) == 0 {
		return s
	}
	for i, u := range uses {
		facts = append(facts, fact{at: u.At, order: 3, id: int64(i), g: u.G, bench: true})
	}
	sort.SliceStable(facts, func(i, j int) bool {
		a, b := facts[i], facts[j]
		if !a.at.Equal(b.at) {
			return a.at.Before(b.at)
		}
		if a.order != b.order {
			return a.order < b.order
		}
		if a.id != b.id {
			return a.id < b.id
		}
		return a.g < b.g
	})
	lot := func(name string) *Lot {
		for i := range s.Lots {
			if s.Lots[i].Name == name {
				return &s.Lots[i]
			}
		}
		s.Lots = append(s.Lots, Lot{Name: name})
		return &s.Lots[len(s.Lots)-1]
	}
	for _, f := range facts {
		if f.bench {
			if !s.Known {
				continue
			}
			s.Bench += f.g
			left := f.g
			for i := range s.Lots {
				take := min(left, max(s.Lots[i].G, 0))
				if i == len(s.Lots)-1 {
					take = left
				}
				s.Lots[i].G -= take
				left -= take
			}
			continue
		}
		if !s.Known {
			s.Known, s.Since = true, f.at
		}
		l := lot(f.lot)
		if !f.until.IsZero() {
			l.Expires = f.until
		}
		if f.set {
			l.G = f.g
			if len(s.Lots) == 1 {
				s.Since, s.Bench = f.at, 0
			}
		} else {
			l.G += f.g
		}
	}
	for _, l := range s.Lots {
		s.G += l.G
	}
	if s.G < -1e-9 {
		s.Doubt = "More was taken than the records say was there; count it."
	}
	return s
}

// A Want is a supply that may have to be bought: what is needed of it, what is
// there, and how it is sold.
type Want struct {
	Name  string
	Grade string
	Need  Need
	Stock Stock
	Pack  *studio.PackPrice // nil: nobody has said how it is sold
}

// A Buy is one line of a shopping list. Amounts are in Unit. Packs is 0 where
// the size of a pack is not known, though Short says that some is needed.
type Buy struct {
	Name  string
	Grade string
	Unit  studio.Unit
	Need  float64
	Keep  float64
	Have  float64
	Short float64
	Size  float64
	Packs int
	Each  decimal.Decimal
	Cost  decimal.Decimal
	Why   []string
}

// maxPacks bounds a line of a shopping list.
const maxPacks = 1_000_000

// Shop lists what to buy: what is needed and what should be kept, less what is
// there, in whole packs. What is not short is left out. Where nobody has counted,
// nothing counts as there. cost is the exact sum.
func Shop(wants []Want) (list []Buy, cost decimal.Decimal) {
	for _, w := range wants {
		unit := studio.Gram
		if w.Pack != nil {
			unit = w.Pack.Unit
		}
		b := Buy{Name: w.Name, Grade: w.Grade, Unit: unit, Need: w.Need.In(unit), Have: max(0, w.Stock.In(unit, w.Need.GPerML))}
		if w.Pack != nil {
			b.Keep, b.Size, b.Each = w.Pack.Keep, w.Pack.Size, w.Pack.Price
			if b.Grade == "" {
				b.Grade = w.Pack.Grade
			}
		}
		b.Short = b.Need + b.Keep - b.Have
		// a billionth of a pack is what sums of fractions are off by
		if b.Short <= 1e-9*max(1, b.Size) {
			continue
		}
		if !w.Stock.Known {
			b.Why = append(b.Why, "nobody has counted what is there")
		}
		if w.Stock.Doubt != "" {
			b.Why = append(b.Why, w.Stock.Doubt)
		}
		b.Why = append(b.Why, w.Need.Doubts...)
		if b.Size > 0 {
			b.Packs = int(min(maxPacks, math.Ceil(b.Short/b.Size-1e-9)))
			b.Cost = b.Each.Mul(decimal.NewFromInt(int64(b.Packs)))
			cost = cost.Add(b.Cost)
		} else {
			b.Why = append(b.Why, "say how it is sold, and its price is reckoned")
		}
		list = append(list, b)
	}
	return list, cost
}

// The openings of a bottle of ammonia water a month, few, usual and many, by
// which its ageing is guessed: common practice, no source.
var openings = [3]float64{2, 10, 30}

// Aged guesses what is left of the strength (mass fraction, above 0 to 0.30) of
// ammonia water some days (0 to 3650) after its bottle was opened: likely, and
// the low and high end for a bottle opened often and seldom.
//
// At each opening the air over the liquid, half the bottle's room, is taken to be
// saturated at 20 °C and lost whole ([solution.AmmoniaOver], within 2 %; density
// by [solution.Density]); what leaks through a closed cap is not in it, so this is
// a guess and not a measurement. Outside its range it is a science.RangeError.
func Aged(strength, days float64) (likely, low, high float64, err error) {
	if !(strength > 0 && strength <= 0.30) {
		return 0, 0, 0, &science.RangeError{What: "strength of ammonia water", Got: strength, Min: 0, Max: 0.30}
	}
	if !(days >= 0 && days <= 3650) {
		return 0, 0, 0, &science.RangeError{What: "time since opening", Got: days, Min: 0, Max: 3650, Unit: "days"}
	}
	var ends [3]float64
	for i, n := range openings {
		w := strength
		times := n * days / 30
		// month by month, as the air over a weaker liquid holds less
		for times > 0 && w > 1e-6 {
			share, err := lostAtOpening(w)
			if err != nil {
				return 0, 0, 0, fmt.Errorf("age ammonia water: %w", err)
			}
			part := min(times, 10)
			w *= math.Exp(-share * part)
			times -= part
		}
		ends[i] = w
	}
	return ends[1], ends[2], ends[0], nil
}

// lostAtOpening is the share of a bottle's ammonia in the air over it, which has
// as much room as the liquid.
func lostAtOpening(w float64) (float64, error) {
	const (
		gasR   = 8.314462618 // J/(mol K), CODATA 2018
		molar  = 17.031e-3   // kg/mol
		kelvin = 293.15
	)
	v, err := solution.AmmoniaOver(w, 20)
	if err != nil {
		return 0, err
	}
	rho, err := solution.AmmoniaDensity(w, 20)
	if err != nil {
		return 0, err
	}
	return float64(v.NH3) * molar / (gasR * kelvin) / (w * float64(rho)), nil
}
