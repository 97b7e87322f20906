package cost

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// MetalNeed is the sheet of a batch. Sheets is what is or was cut from sheets of the
// shelf; AreaM2 is what the other pieces are cut from, without what is cut away.
type MetalNeed struct {
	Sheets      []SheetPart
	Name        string
	Alloy       string // UNS number, or empty
	ThicknessMM float64
	AreaM2      float64
	Price       *studio.MetalPrice // nil: not entered
}

// A SheetPart is so many pieces cut from sheets of the shelf, and what those cost less
// what is kept of them.
type SheetPart struct {
	Pieces int
	Amount decimal.Decimal
	From   From // Recorded when they are cut, Reckoned when they will be
}

// An Ask is everything a price rests on. Pieces are the good ones wanted; People
// who share the cost, 0 for none. Packs are by supply. SealM2 is the area sealed
// with what has no price of its own.
type Ask struct {
	Rates    studio.Rates
	Pieces   int
	People   int
	Metal    *MetalNeed
	Needs    []Need
	Packs    map[int64]studio.PackPrice
	Hands    Hands
	Fillings []Filling
	SealM2   float64
	Yield    Yield
}

// A Line is one line of a price, for the whole batch, exact. Low and High are
// its range where the minutes or the yield are uncertain, else the amount.
type Line struct {
	What   string
	How    string // "0.0184 m² at 212 EUR/m²"
	Amount decimal.Decimal
	Low    decimal.Decimal
	High   decimal.Decimal
	From   From
	Why    string
	Open   bool // a price is missing, so this counts as nothing
}

// A Price is what a batch costs and sells for. Direct is metal to sealing, Cost
// has failures and overhead in it, Sale the margin too. All exact, but for
// quotients, which have 12 digits behind the point.
type Price struct {
	Currency      studio.Currency
	Pieces        int
	People        int
	Lines         []Line
	Direct        decimal.Decimal
	Cost          decimal.Decimal
	Sale          decimal.Decimal
	SaleLow       decimal.Decimal
	SaleHigh      decimal.Decimal
	Missing       []string // what has no price yet
	PrintedLines  []decimal.Decimal
	PrintedSale   decimal.Decimal
	EachCost      decimal.Decimal // per piece, as paid
	EachSale      decimal.Decimal
	EachLow       decimal.Decimal
	EachHigh      decimal.Decimal
	PerPerson     decimal.Decimal // of the cost, 0 without people
	UncertainFrom []string
}

// metalLine prices the sheet: that of the shelf at what it cost, the rest as it is sold.
func (a Ask) metalLine() Line {
	m := a.Metal
	l := Line{What: "Metal: " + m.Name}
	var hows, whys []string
	for _, p := range m.Sheets {
		how, why := "%d pieces from sheets on the shelf, %s", "what the sheets cost that will be cut, less the offcuts kept"
		if p.From == Recorded {
			how, why = "%d pieces cut from the shelf, %s", "what the sheets cost that were cut, less the offcuts kept"
		}
		hows, whys = append(hows, fmt.Sprintf(how, p.Pieces, a.Rates.Currency.Write(p.Amount))), append(whys, why)
		l.Amount = l.Amount.Add(p.Amount)
		if l.From = worse(l.From, p.From); len(hows) == 1 {
			l.From = p.From
		}
	}
	if m.AreaM2 > 0 || len(m.Sheets) == 0 {
		rest := a.areaLine()
		hows, whys = append(hows, rest.How), append(whys, rest.Why)
		l.Amount, l.Open = l.Amount.Add(rest.Amount), rest.Open
		if l.From = worse(l.From, rest.From); len(hows) == 1 {
			l.From = rest.From
		}
	}
	l.How, l.Why = strings.Join(hows, "; "), strings.Join(whys, "; ")
	return l
}

// areaLine prices sheet by its area, as it is sold.
func (a Ask) areaLine() Line {
	m := a.Metal
	l := Line{From: Entered}
	loss, lossFrom := a.Rates.Loss, "the studio's cutting loss"
	if m.Price != nil && m.Price.Loss != nil {
		loss, lossFrom = *m.Price.Loss, "this metal's cutting loss"
	}
	area := Quantity(m.AreaM2)
	gross := over(area.Mul(hundred), hundred.Sub(loss))
	l.How = fmt.Sprintf("%s cm² and %s %% cut away", area.Shift(4).RoundBank(1), loss)
	l.Why = "area of the pieces; " + lossFrom
	if m.Price == nil {
		l.Open = true
		return l
	}
	switch m.Price.Per {
	case studio.BySheet:
		sheet := Quantity(m.Price.WidthMM * m.Price.HeightMM * 1e-6)
		l.Amount = over(m.Price.Price.Mul(gross), sheet)
		l.How += fmt.Sprintf(", at %s for a sheet of %s m²", a.Rates.Currency.Write(m.Price.Price), sheet)
	case studio.ByKilogram:
		kg, err := matter.SheetKgPerM2(m.Alloy, m.ThicknessMM)
		if err != nil {
			// copper's own density, which brass and bronze are near
			kg, l.From = 8.9*m.ThicknessMM, Assumed
			l.Why += "; the alloy's density is not known here, 8.9 g/cm³ is taken"
		}
		mass := gross.Mul(Quantity(kg))
		l.Amount = mass.Mul(m.Price.Price)
		l.How += fmt.Sprintf(", %s g at %s a kg", mass.Shift(3).RoundBank(0), a.Rates.Currency.Write(m.Price.Price))
	}
	return l
}

// needLine prices what is taken of one supply.
func (a Ask) needLine(n Need) Line {
	l := Line{What: n.Name, From: n.From, Why: "what the steps put on"}
	if len(n.Doubts) > 0 {
		l.From = worse(l.From, Assumed)
		for _, d := range n.Doubts {
			l.Why += "; " + d
		}
	}
	p, ok := a.Packs[n.Supply]
	if !ok || n.Supply == 0 {
		l.Open = true
		l.How = Quantity(n.G).RoundBank(2).String() + " g"
		return l
	}
	amount := Quantity(n.In(p.Unit))
	l.Amount = over(p.Price.Mul(amount), Quantity(p.Size))
	l.How = fmt.Sprintf("%s %s at %s for %s %s", amount.RoundBank(2), p.Unit.Label(), a.Rates.Currency.Write(p.Price), Quantity(p.Size), p.Unit.Label())
	return l
}

// Reckon prices a batch. It is a *studio.Problem when the batch has no pieces or
// the rates can't be.
func Reckon(a Ask) (Price, error) {
	if err := a.Rates.Check(); err != nil {
		return Price{}, err
	}
	if a.Pieces < 1 || a.Pieces > MaxMade {
		return Price{}, studio.Problemf(studio.Invalid, "pieces", "A batch of %d pieces can't be priced; it needs 1 to %d.", a.Pieces, MaxMade)
	}
	if a.People < 0 || a.People > 1000 {
		return Price{}, studio.Problemf(studio.Invalid, "people", "%d people can't share a batch; write 0 to 1000.", a.People)
	}
	if m := a.Metal; m != nil && !(m.AreaM2 >= 0 && m.AreaM2 <= 1e6) {
		return Price{}, studio.Problemf(studio.Invalid, "metal", "A sheet of %v m² can't be right.", m.AreaM2)
	}
	r := a.Rates
	p := Price{Currency: r.Currency, Pieces: a.Pieces, People: a.People}
	put := func(l Line) {
		if l.Open {
			p.Missing = append(p.Missing, l.What)
		}
		if l.Low.IsZero() && l.High.IsZero() {
			l.Low, l.High = l.Amount, l.Amount
		}
		p.Lines = append(p.Lines, l)
	}
	if a.Metal != nil && (a.Metal.AreaM2 > 0 || len(a.Metal.Sheets) > 0) {
		put(a.metalLine())
	}
	for _, n := range a.Needs {
		put(a.needLine(n))
	}
	n := decimal.NewFromInt(int64(a.Pieces))
	minutes := func(v float64) decimal.Decimal { return over(Quantity(v).Mul(n).Mul(r.Hour), decimal.NewFromInt(60)) }
	work := Line{What: "Work by hand", Amount: minutes(a.Hands.Minutes), Low: minutes(a.Hands.Low), High: minutes(a.Hands.High), From: a.Hands.From, Why: a.Hands.Why}
	work.How = fmt.Sprintf("%s min a piece, %s min in all, at %s an hour", Quantity(a.Hands.Minutes).RoundBank(1), Quantity(a.Hands.Minutes).Mul(n).RoundBank(0), r.Currency.Write(r.Hour))
	work.Open = r.Hour.IsZero() && a.Hands.Minutes > 0
	if a.Hands.Minutes == 0 {
		work.Open, work.Why = true, "no time is written for the steps by hand and none was recorded"
	}
	put(work)
	if len(a.Fillings) > 0 {
		var span time.Duration
		from := Reckoned
		for _, f := range a.Fillings {
			span += f.Span
			if f.Assumed {
				from = Assumed
			}
		}
		hours := Quantity(span.Hours())
		l := Line{What: "Chamber", Amount: hours.Mul(r.ChamberHour), From: from, How: fmt.Sprintf("%d × filled, %s h, at %s an hour", len(a.Fillings), hours.RoundBank(2), r.Currency.Write(r.ChamberHour)), Why: "the fuming times of the recipe"}
		if from == Assumed {
			l.Why += "; which pieces go in together was never planned, so the chamber's places are filled"
		}
		put(l)
	}
	if a.SealM2 > 0 {
		area := Quantity(a.SealM2)
		put(Line{What: "Sealing", Amount: area.Mul(r.SealM2), From: Entered, How: fmt.Sprintf("%s cm² at %s a m²", area.Shift(4).RoundBank(1), r.Currency.Write(r.SealM2)), Why: "area of the sealed faces", Open: r.SealM2.IsZero()})
	}
	var low, high decimal.Decimal
	for _, l := range p.Lines {
		p.Direct, low, high = p.Direct.Add(l.Amount), low.Add(l.Low), high.Add(l.High)
	}
	if !low.Equal(high) {
		p.UncertainFrom = append(p.UncertainFrom, "the minutes of work")
	}
	lost, lostLow, lostHigh := decimal.Zero, decimal.Zero, decimal.Zero
	if y := a.Yield; y.Made > 0 {
		good, made := decimal.NewFromInt(int64(y.Good)), decimal.NewFromInt(int64(y.Made))
		lost = over(p.Direct.Mul(made.Sub(good)), good)
		lostLow, lostHigh = lostShare(low, y.High), lostShare(high, y.Low)
		p.UncertainFrom = append(p.UncertainFrom, "how many come out good")
	}
	how := "nothing taken to be lost"
	if a.Yield.Made > 0 {
		how = fmt.Sprintf("%d of %d lost, between %.0f and %.0f %% come out good", a.Yield.Made-a.Yield.Good, a.Yield.Made, math.Floor(100*a.Yield.Low), math.Ceil(100*a.Yield.High))
	}
	put(Line{What: "Pieces that fail", Amount: lost, Low: lostLow, High: lostHigh, From: a.Yield.From, How: how, Why: a.Yield.Why})
	with, withLow, withHigh := p.Direct.Add(lost), low.Add(lostLow), high.Add(lostHigh)
	share := func(d decimal.Decimal) decimal.Decimal { return d.Mul(r.Overhead).Shift(-2) }
	put(Line{What: "Overhead", Amount: share(with), Low: share(withLow), High: share(withHigh), From: Entered, How: r.Overhead.String() + " % of the above", Why: "rent, light, tools and all that no line names"})
	p.Cost = with.Add(share(with))
	costLow, costHigh := withLow.Add(share(withLow)), withHigh.Add(share(withHigh))
	// a share of the price, so the price is the cost over what is left
	margin := func(d decimal.Decimal) decimal.Decimal { return over(d.Mul(r.Margin), hundred.Sub(r.Margin)) }
	put(Line{What: "Margin", Amount: margin(p.Cost), Low: margin(costLow), High: margin(costHigh), From: Entered, How: r.Margin.String() + " % of the price", Why: "what is left to the studio"})
	p.Sale, p.SaleLow, p.SaleHigh = p.Cost.Add(margin(p.Cost)), costLow.Add(margin(costLow)), costHigh.Add(margin(costHigh))

	amounts := make([]decimal.Decimal, len(p.Lines))
	for i, l := range p.Lines {
		amounts[i] = l.Amount
	}
	p.PrintedLines, p.PrintedSale = RoundTogether(amounts, r.Currency.Digits())
	each := func(d decimal.Decimal) decimal.Decimal { return r.Currency.Round(over(d, n)) }
	p.EachCost, p.EachSale, p.EachLow, p.EachHigh = each(p.Cost), each(p.Sale), each(p.SaleLow), each(p.SaleHigh)
	if a.People > 0 {
		p.PerPerson = r.Currency.Round(over(p.Cost, decimal.NewFromInt(int64(a.People))))
	}
	p.Missing = slices.Compact(p.Missing)
	return p, nil
}

// lostShare is what is lost of an amount when only a share comes out good.
func lostShare(d decimal.Decimal, share float64) decimal.Decimal {
	s := Quantity(share)
	if !s.IsPositive() {
		return decimal.Zero
	}
	return over(d.Mul(decimal.NewFromInt(1).Sub(s)), s)
}
