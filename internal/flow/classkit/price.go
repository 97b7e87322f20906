package classkit

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"aerugo/internal/flow/cost"
	"aerugo/internal/studio"
)

// A Cost is what a class uses up: Rows its metal and what is put on it, exact; Breakage
// the part of it that is there for what breaks, spills or fails. Each is one student's
// share. Missing has no price yet and counts as nothing.
type Cost struct {
	Currency studio.Currency
	Rows     []cost.Line
	Breakage decimal.Decimal
	Class    decimal.Decimal
	Each     decimal.Decimal
	Missing  []string
}

// CostOf prices the lines of a kit that are used up; tools and what is worn are not. What
// is struck out costs nothing. Rates that can't be are a *studio.Problem.
func CostOf(a Ask, lines []Line, rates studio.Rates, packs map[int64]studio.PackPrice, metals map[int64]studio.MetalPrice) (Cost, error) {
	bare := studio.Rates{Currency: rates.Currency, Loss: rates.Loss}
	out := Cost{Currency: rates.Currency}
	for _, l := range lines {
		if l.Left || l.Own || l.Need == 0 || l.Group != groupMetal && l.Group != groupMatter {
			continue
		}
		ask := cost.Ask{Rates: bare, Pieces: 1, Packs: packs}
		what := l.What
		if l.Group == groupMetal {
			m := a.metalOf(l.Metal)
			ask.Metal = &cost.MetalNeed{Name: l.What, Alloy: m.Alloy, ThicknessMM: m.ThicknessMM, AreaM2: l.Need * a.WidthMM * a.HeightMM * 1e-6}
			if p, ok := metals[l.Metal]; ok {
				ask.Metal.Price = &p
			}
		} else {
			density := a.density(l)
			ask.Needs = []cost.Need{{Supply: l.Supply, Material: l.Material, Name: l.What, G: l.In(density), GPerML: density, From: cost.Reckoned}}
		}
		price, err := cost.Reckon(ask)
		if err != nil {
			return Cost{}, fmt.Errorf("price kit: %w", err)
		}
		row := price.Lines[0]
		row.What = what
		out.Rows = append(out.Rows, row)
		if row.Open {
			if !slices.Contains(out.Missing, what) {
				out.Missing = append(out.Missing, what)
			}
			continue
		}
		out.Class = out.Class.Add(row.Amount)
		if l.Spare > 1 {
			spare := cost.Quantity(l.Spare)
			out.Breakage = out.Breakage.Add(row.Amount.Mul(spare.Sub(decimal.NewFromInt(1))).DivRound(spare, 12))
		}
	}
	out.Each = out.Class.DivRound(decimal.NewFromInt(int64(max(a.Class.Heads, 1))), 12)
	return out, nil
}

// metalOf is a metal of the class, by its number.
func (a Ask) metalOf(id int64) studio.Metal {
	for _, l := range a.Lessons {
		if l.Metal.ID == id {
			return l.Metal
		}
	}
	return studio.Metal{}
}

// density is the g in a mL of what a line is taken from.
func (a Ask) density(l Line) float64 {
	for _, s := range a.Supplies {
		if s.ID == l.Supply && s.ID != 0 {
			d, _ := cost.DensityOf(s)
			return d
		}
	}
	d, _ := cost.DensityOf(studio.Supply{Material: l.Material})
	return d
}

// WantsOf lists what of a kit comes from the shelf, for [cost.Shop]: what is there and
// how it is sold are by supply.
func WantsOf(a Ask, lines []Line, stock map[int64]cost.Stock, packs map[int64]studio.PackPrice) []cost.Want {
	var out []cost.Want
	for _, l := range lines {
		if l.Left || l.Group != groupMatter || l.Need == 0 {
			continue
		}
		density := a.density(l)
		w := cost.Want{Name: capital(l.What), Need: cost.Need{Supply: l.Supply, Material: l.Material, Name: l.What, G: l.In(density), GPerML: density, From: cost.Reckoned}, Stock: stock[l.Supply]}
		if p, ok := packs[l.Supply]; ok {
			w.Pack = &p
		}
		out = append(out, w)
	}
	return out
}
