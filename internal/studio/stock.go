package studio

import (
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// A PackPrice is how a supply is sold: so many g or mL in a pack, its price, its
// grade in the seller's words, and the amount below which more is bought. They
// are only ever added; the last one of a supply counts.
type PackPrice struct {
	ID     int64
	Supply int64
	Size   float64
	Unit   Unit // Gram or Millilitre
	Price  decimal.Decimal
	Grade  string
	Keep   float64 // in Unit
	Made   time.Time
	By     string
}

// Check reports a Problem when p cannot be kept.
func (p PackPrice) Check() error {
	if p.Unit != Gram && p.Unit != Millilitre {
		return Problemf(Invalid, "unit", "%q is no unit a pack is counted in; choose g or mL.", string(p.Unit))
	}
	for _, v := range []bounds{
		{"size", "size of a pack", p.Size, 0.01, 1e6, string(p.Unit)},
		{"keep", "amount to keep", p.Keep, 0, 1e6, string(p.Unit)},
	} {
		if err := v.check(); err != nil {
			return err
		}
	}
	if len([]rune(p.Grade)) > 120 {
		return Problemf(Invalid, "grade", "The grade has %d letters; 120 are the most.", len([]rune(p.Grade)))
	}
	return CheckDecimal("price", "price of a pack", p.Price)
}

// SheetUnit is what a metal's price is for.
type SheetUnit string

// How sheet is sold.
const (
	BySheet    SheetUnit = "sheet"
	ByKilogram SheetUnit = "kg"
)

// A MetalPrice is how a metal is sold: by the sheet of so many mm or by the
// kilogram. Loss is the percent of it that is cut away, nil where the studio's
// own share counts. They are only ever added; the last one of a metal counts.
type MetalPrice struct {
	ID       int64
	Metal    int64
	Per      SheetUnit
	Price    decimal.Decimal
	WidthMM  float64 // 0 when sold by the kilogram and not known
	HeightMM float64
	Loss     *decimal.Decimal
	Made     time.Time
	By       string
}

// Check reports a Problem when p cannot be kept.
func (p MetalPrice) Check() error {
	least := 1.0
	switch p.Per {
	case BySheet:
	case ByKilogram:
		if p.WidthMM == 0 && p.HeightMM == 0 {
			least = 0
		}
	default:
		return Problemf(Invalid, "per", "%q is no way metal is sold here; choose by the sheet or by the kg.", string(p.Per))
	}
	for _, v := range []bounds{
		{"sheetwidth", "width of a sheet", p.WidthMM, least, 10000, "mm"},
		{"sheetheight", "length of a sheet", p.HeightMM, least, 10000, "mm"},
	} {
		if err := v.check(); err != nil {
			return err
		}
	}
	if p.Loss != nil {
		if err := CheckDecimal("loss", "cutting loss", *p.Loss); err != nil {
			return err
		}
		if p.Loss.GreaterThan(decimal.NewFromInt(95)) {
			return Problemf(Invalid, "loss", "A cutting loss of %s %% can't be right; write 0 to 95.", *p.Loss)
		}
	}
	return CheckDecimal("price", "price", p.Price)
}

// MoveKind is what happened to the stock of a supply.
type MoveKind string

// What can happen to stock besides use on the bench, which is read from the
// records of the treatments. Uncounted takes back the record it names.
const (
	Bought    MoveKind = "bought"
	UsedUp    MoveKind = "used"
	ThrownOut MoveKind = "thrown away"
	Counted   MoveKind = "counted"
	Uncounted MoveKind = "taken back"
)

// MoveKinds lists what a person may add, in the order shown.
var MoveKinds = []MoveKind{Bought, Counted, UsedUp, ThrownOut}

// A StockMove is one thing that happened to the stock of a supply, of one lot.
//
// Client is the random key of the tap. Amount is in Unit; of Counted it is what
// was found. Expires is the day the lot is to be used by, zero where nobody said it
// here: then the supply's own day counts. At is when it happened, Recorded when it reached the store; both UTC.
type StockMove struct {
	ID       int64
	Supply   int64
	Client   string
	Kind     MoveKind
	Amount   float64
	Unit     Unit // Gram or Millilitre
	Lot      string
	Expires  time.Time // a day, of Bought and Counted
	At       time.Time
	Recorded time.Time
	By       string
	Corrects int64 // of Uncounted
	Note     string
}

// Check reports a Problem when m cannot be kept at the time now.
func (m StockMove) Check(now time.Time) error {
	if strings.TrimSpace(m.Client) == "" || len(m.Client) > 80 {
		return Problemf(Invalid, "client", "That came without its key; reload the page and try again.")
	}
	switch m.Kind {
	case Bought, UsedUp, ThrownOut, Counted:
		least := 0.001
		if m.Kind == Counted {
			least = 0 // the bottle may be empty
		}
		if err := (bounds{"amount", "amount", m.Amount, least, 1e6, string(m.Unit)}).check(); err != nil {
			return err
		}
		if m.Unit != Gram && m.Unit != Millilitre {
			return Problemf(Invalid, "unit", "%q is no unit stock is counted in; choose g or mL.", string(m.Unit))
		}
	case Uncounted:
		if m.Corrects == 0 {
			return Problemf(Invalid, "corrects", "Say which record is taken back.")
		}
	default:
		return Problemf(Invalid, "kind", "%q is nothing that happens to stock here; choose bought, counted, used or thrown away.", clip(string(m.Kind)))
	}
	if m.At.IsZero() || m.At.Year() < 1950 {
		return Problemf(Invalid, "day", "Say when it happened, like 2026-11-25.")
	}
	if m.At.After(now.Add(2 * time.Minute)) {
		return Problemf(Invalid, "day", "%s is in the future; write the day it happened.", m.At.Local().Format("2 January 2006"))
	}
	if !m.Expires.IsZero() && (m.Expires.Year() < 1950 || m.Expires.Year() > 2200) {
		return Problemf(Invalid, "expires", "The year %d can't be right; write the day it is to be used by, like 2027-03-31.", m.Expires.Year())
	}
	if len([]rune(m.Lot)) > 80 {
		return Problemf(Invalid, "lot", "The lot has %d letters; 80 are the most.", len([]rune(m.Lot)))
	}
	if len([]rune(m.Note)) > 400 {
		return Problemf(Invalid, "note", "The note has %d letters; 400 are the most.", len([]rune(m.Note)))
	}
	return nil
}
