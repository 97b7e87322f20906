package studio

import (
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// SheetKind is what happened to sheet metal.
type SheetKind string

// What can happen to sheets. The first three put a stack of sheets alike on the
// shelf; the next three take of a stack or count it; SheetUndone takes back the
// record it names, with all that hangs on it.
const (
	SheetBought  SheetKind = "bought"
	SheetFound   SheetKind = "found" // lay there already
	SheetOffcut  SheetKind = "offcut"
	SheetCut     SheetKind = "cut"
	SheetThrown  SheetKind = "thrown away"
	SheetCounted SheetKind = "counted"
	SheetUndone  SheetKind = "taken back"
)

// Puts reports whether the kind puts a stack of its own on the shelf.
func (k SheetKind) Puts() bool { return k == SheetBought || k == SheetFound || k == SheetOffcut }

// SheetState is how clean sheets lie on the shelf; empty where nobody said.
type SheetState string

// SheetStates lists the states in the order shown.
var SheetStates = []SheetState{"", "as bought", "degreased", "abraded", "pickled"}

// MaxSheets is how many sheets one record may be of.
const MaxSheets = 10_000

// A SheetMove is one thing that happened to the sheet of a metal.
//
// Client is the random key of the tap. Count is of sheets; of SheetCounted it is
// what was found. WidthMM, HeightMM, Price (of one sheet, as paid; nil where nobody
// knows), Lot, Supplier and State are of what puts sheets on the shelf, and the id of
// that record is their stack. Stack is the stack that is cut, thrown away or counted.
// Of is the record taken back, or the cut an offcut fell from (0: not known). SetID
// is the set or batch that was cut and Pieces how many blanks of it. At is when it
// happened, Recorded when it reached the store; both UTC.
type SheetMove struct {
	ID       int64
	Metal    int64
	Client   string
	Kind     SheetKind
	Stack    int64
	Of       int64
	Count    int
	WidthMM  float64
	HeightMM float64
	Price    *decimal.Decimal
	Lot      string
	Supplier string
	State    SheetState
	SetID    int64
	Pieces   int
	At       time.Time
	Recorded time.Time
	By       string
	Note     string
}

// Check reports a Problem when m cannot be kept at the time now.
func (m SheetMove) Check(now time.Time) error {
	if strings.TrimSpace(m.Client) == "" || len(m.Client) > 80 {
		return Problemf(Invalid, "client", "That came without its key; reload the page and try again.")
	}
	least := 1
	switch m.Kind {
	case SheetBought, SheetFound, SheetOffcut:
		for _, v := range []bounds{
			{"sheetwidth", "width of a sheet", m.WidthMM, 1, 10000, "mm"},
			{"sheetheight", "length of a sheet", m.HeightMM, 1, 10000, "mm"},
		} {
			if err := v.check(); err != nil {
				return err
			}
		}
		if m.Price != nil {
			if err := CheckDecimal("price", "price of a sheet", *m.Price); err != nil {
				return err
			}
		}
		if !slices.Contains(SheetStates, m.State) {
			return Problemf(Invalid, "state", "%q is no state of a sheet known here; choose one from the list.", clip(string(m.State)))
		}
	case SheetCut, SheetThrown, SheetCounted:
		if m.Stack == 0 {
			return Problemf(Invalid, "stack", "Say which sheets.")
		}
		if m.Kind == SheetCounted {
			least = 0
		}
		if m.Pieces < 0 || m.Pieces > 1_000_000 {
			return Problemf(Invalid, "pieces", "%d pieces can't be cut; write 0 to 1000000.", m.Pieces)
		}
	case SheetUndone:
		if m.Of == 0 {
			return Problemf(Invalid, "of", "Say which record is taken back.")
		}
		least = 0
	default:
		return Problemf(Invalid, "kind", "%q is nothing that happens to sheets here; choose bought, found, offcut, cut, counted or thrown away.", clip(string(m.Kind)))
	}
	if m.Count < least || m.Count > MaxSheets {
		return Problemf(Invalid, "count", "%d sheets can't be right; write a whole number from %d to %d.", m.Count, least, MaxSheets)
	}
	if m.At.IsZero() || m.At.Year() < 1950 {
		return Problemf(Invalid, "day", "Say when it happened, like 2026-11-25.")
	}
	if m.At.After(now.Add(2 * time.Minute)) {
		return Problemf(Invalid, "day", "%s is in the future; write the day it happened.", m.At.Local().Format("2 January 2006"))
	}
	for _, x := range []struct{ field, what, text string }{{"lot", "lot", m.Lot}, {"supplier", "supplier's name", m.Supplier}} {
		if len([]rune(x.text)) > 80 {
			return Problemf(Invalid, x.field, "The %s has %d letters; 80 are the most.", x.what, len([]rune(x.text)))
		}
	}
	if len([]rune(m.Note)) > 400 {
		return Problemf(Invalid, "note", "The note has %d letters; 400 are the most.", len([]rune(m.Note)))
	}
	return nil
}
