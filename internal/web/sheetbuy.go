package web

import (
	"context"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	exact "github.com/shopspring/decimal"

	"aerugo/internal/flow/batch"
	"aerugo/internal/flow/cost"
	"aerugo/internal/print"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// mostExtra is how much a plan that is not made yet may send along.
const mostExtra = 100

// unmadePlan reads what a plan that is not made yet takes, as atShelf sends it along:
// need=SUPPLY:MATERIAL:GRAMS and cut=METAL:WIDTH:HEIGHT:DISC:PIECES.
func unmadePlan(form url.Values) (needs []cost.Need, cuts []cutClaim, err error) {
	if len(form["need"])+len(form["cut"]) > mostExtra {
		return nil, nil, studio.Problemf(studio.Invalid, "need", "That asks for too many things at once; plan the set first, then ask for its list.")
	}
	numbers := func(text string, n int) ([]float64, bool) {
		parts := strings.Split(text, ":")
		if len(parts) != n {
			return nil, false
		}
		out := make([]float64, n)
		for i, p := range parts {
			v, err := strconv.ParseFloat(p, 64)
			if err != nil || !(v >= 0 && v <= 1e9) {
				return nil, false
			}
			out[i] = v
		}
		return out, true
	}
	bad := func(text string) error {
		return studio.Problemf(studio.Invalid, "need", "%q names nothing that can be bought. Go back to the plan and ask again.", text)
	}
	for _, text := range form["need"] {
		parts := strings.Split(text, ":")
		if len(parts) != 3 || len(parts[1]) > 60 {
			return nil, nil, bad(text)
		}
		v, ok := numbers(parts[0]+":"+parts[2], 2)
		if !ok || v[0] != math.Trunc(v[0]) || v[0] == 0 && parts[1] == "" {
			return nil, nil, bad(text)
		}
		needs = append(needs, cost.Need{Supply: int64(v[0]), Material: parts[1], G: v[1], From: cost.Reckoned})
	}
	for _, text := range form["cut"] {
		v, ok := numbers(text, 5)
		if !ok || v[0] != math.Trunc(v[0]) || v[4] != math.Trunc(v[4]) || v[4] < 1 || v[4] > 10*batch.MaxPieces {
			return nil, nil, bad(text)
		}
		cuts = append(cuts, cutClaim{metal: int64(v[0]), blank: batch.Blank{WidthMM: v[1], HeightMM: v[2], DiscMM: v[3], Pieces: int(v[4]), KerfMM: usualKerfMM, EdgeMM: usualEdgeMM, Turn: true}})
	}
	return needs, cuts, nil
}

// known fills in what the shelf knows of needs that were sent along.
func (x shelfStock) known(needs []cost.Need) []cost.Need {
	out := slices.Clone(needs)
	for i := range out {
		n := &out[i]
		sup := x.supply(n.Supply)
		n.Supply, n.GPerML = sup.ID, 1
		if sup.ID != 0 {
			n.Material, n.Name = sup.Material, sup.Name
			n.GPerML, _ = cost.DensityOf(sup)
		} else {
			n.Name = substanceName(n.Material)
		}
	}
	return out
}

// usableStock is what is there of a supply without what is past its day.
func (x shelfStock) usableStock(sup studio.Supply, now time.Time) cost.Stock {
	st := x.stockOf(sup)
	if g, _, old := cost.Usable(sup, st, now); len(old) > 0 {
		const past = "What is past its day is not counted."
		if st.G = g; st.Doubt == "" {
			st.Doubt = past
		} else {
			st.Doubt += " " + past
		}
	}
	return st
}

// sheetsToBuy lists the sheets that are lacking to cut sets and plans, in whole sheets
// as they are sold, after what is on the shelf, offcuts first. What was cut already is
// not bought again. open names the metals that have no price by the sheet.
func (s *Server) sheetsToBuy(ctx context.Context, x shelfStock, prices map[int64]studio.MetalPrice, sets []studio.Set, cuts []cutClaim) (rows []print.ShoppingRow, total exact.Decimal, open []string, err error) {
	slices.SortFunc(sets, func(a, b studio.Set) int { return int(a.ID - b.ID) })
	var all []cutClaim
	for _, set := range sets {
		if set.MetalID == 0 {
			continue
		}
		b, _, err := s.stillToCut(ctx, x, set)
		if err != nil {
			return nil, total, nil, err
		}
		if b.Pieces > 0 {
			all = append(all, cutClaim{set.ID, set.Name, set.MetalID, b})
		}
	}
	all = append(all, cuts...)
	for _, m := range x.metals {
		var mine []cutClaim
		for _, c := range all {
			if c.metal == m.ID {
				mine = append(mine, c)
			}
		}
		if len(mine) == 0 {
			continue
		}
		row, sum, priced, err := x.sheetRow(m, prices[m.ID], mine)
		if err != nil {
			return nil, total, nil, err
		}
		if row.Packs == "" {
			continue // the shelf is enough
		}
		if total = total.Add(sum); !priced {
			open = append(open, m.Name)
		}
		rows = append(rows, row)
	}
	return rows, total, open, nil
}

// sheetRow is the line of a shopping list for one metal: cut from what is there first,
// the rest laid out on sheets as they are sold.
func (x shelfStock) sheetRow(m studio.Metal, price studio.MetalPrice, mine []cutClaim) (row print.ShoppingRow, sum exact.Decimal, priced bool, err error) {
	row = print.ShoppingRow{Name: m.Name, Grade: strings.Trim(m.Alloy+", "+m.Temper, ", ")}
	_, known := cost.Counted(x.sheets[m.ID])
	left := x.sheetsThere(m.ID)
	wanted, there, areaM2 := 0, 0, 0.0
	sheets, sold := 0, price.WidthMM > 0 && price.HeightMM > 0
	for _, c := range mine {
		cut, err := batch.CutFrom(c.blank, left)
		if err != nil {
			return row, sum, false, err
		}
		left = cut.Left
		wanted, there = wanted+c.blank.Pieces, there+cut.Pieces
		if cut.Missing == 0 {
			continue
		}
		b := c.blank
		b.Pieces = cut.Missing
		areaM2 += float64(cut.Missing) * pieceM2(b)
		if !sold {
			continue
		}
		// what stays of a sheet that is bought serves the next plan
		from, err := batch.CutFrom(b, []batch.Sheet{{WMM: price.WidthMM, HMM: price.HeightMM, Count: mostBought}})
		if err != nil {
			return row, sum, false, err
		}
		if from.Pieces == 0 {
			return row, sum, false, studio.Problemf(studio.Conflict, "sheetwidth", "%s is sold in sheets of %s × %s mm; no piece of the plan fits on one. Enter a larger sheet at its price.", m.Name, number(price.WidthMM, 0), number(price.HeightMM, 0))
		}
		for _, t := range from.Takings {
			sheets += t.Count
		}
		for _, l := range from.Left {
			if l.Offcut {
				left = append(left, l)
			}
		}
	}
	if areaM2 == 0 {
		return row, sum, true, nil
	}
	row.Why = fmt.Sprintf("for %d pieces, sheet for %d is on the shelf", wanted, there)
	if !known {
		row.Why = fmt.Sprintf("for %d pieces; sheet on the shelf is not counted, so look before you buy", wanted)
	}
	if !sold {
		row.Packs = number(areaM2*1e4, 0) + " cm²"
		row.Why += "; without what is cut away"
		return row, sum, false, nil
	}
	row.Packs = fmt.Sprintf("%d × sheet of %s × %s mm", sheets, number(price.WidthMM, 0), number(price.HeightMM, 0))
	each := price.Price
	if price.Per == studio.ByKilogram {
		kg, err := matter.SheetKgPerM2(m.Alloy, m.ThicknessMM)
		if err != nil {
			return row, sum, false, nil // the alloy's density is not known here
		}
		each = price.Price.Mul(cost.Quantity(kg * price.WidthMM * price.HeightMM * 1e-6))
	}
	sum = each.Mul(exact.NewFromInt(int64(sheets)))
	row.Each, row.Cost = x.rates.Currency.Write(each), x.rates.Currency.Write(sum)
	return row, sum, true, nil
}

// mostBought is how many sheets one plan may lack.
const mostBought = 10_000

// pieceM2 is the area of one piece.
func pieceM2(b batch.Blank) float64 {
	if b.DiscMM > 0 {
		return math.Pi / 4 * b.DiscMM * b.DiscMM * 1e-6
	}
	return b.WidthMM * b.HeightMM * 1e-6
}
