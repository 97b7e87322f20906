package studio

import (
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"golang.org/x/text/currency"
	"pgregory.net/rapid"
)

// Minor units by ISO 4217:2015, list one (from memory): those here are the same in
// the Unicode CLDR, which is what the program reads.
func TestCurrencyHasItsDigits(t *testing.T) {
	for code, want := range map[Currency]int32{"EUR": 2, "USD": 2, "GBP": 2, "CHF": 2, "JPY": 0, "KRW": 0, "ISK": 0, "KWD": 3, "TND": 3, "BHD": 3} {
		if got := code.Digits(); got != want {
			t.Errorf("%s has %d digits, want %d", code, got, want)
		}
	}
	for text, want := range map[string]Currency{" eur": "EUR", "USD": "USD"} {
		if got, err := ReadCurrency(text); err != nil || got != want {
			t.Errorf("%q is %s, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "EURO", "€", currency.XXX.String(), currency.XTS.String(), "ZZZ", strings.Repeat("E", 1e5)} { // XXX is ISO 4217's code for "no currency", XTS its code for testing
		if _, err := ReadCurrency(text); ProblemIn(err) == nil {
			t.Errorf("%.9q: %v", text, err)
		}
	}
}

func TestMoneyIsReadAndWritten(t *testing.T) {
	for text, want := range map[string]string{"": "0", "12,50": "12.5", " 1 234.5 ": "1234.5", ".5": "0.5", "999999999.999999": "999999999.999999", "007": "7"} {
		if got, err := ReadDecimal("price", "price", text); err != nil || !got.Equal(decimal.RequireFromString(want)) {
			t.Errorf("%q is %s, %v", text, got, err)
		}
	}
	for _, text := range []string{"-1", "1e999999999", "1E2", "0x10", "1.234,50", "1,234.50", "1.", "NaN", "Inf", "1234567890", "0.1234567", "٣", strings.Repeat("9", 1e6), "1 EUR"} {
		if _, err := ReadDecimal("price", "price", text); ProblemIn(err) == nil || len(err.Error()) > 300 {
			t.Errorf("%.20q: %v", text, err)
		}
	}
	for text, want := range map[string]string{"1234567.891": "1\u00a0234\u00a0567.89 EUR", "-12": "−12.00 EUR", "0": "0.00 EUR"} {
		if got := Currency("EUR").Write(decimal.RequireFromString(text)); got != want {
			t.Errorf("%s is written %q, want %q", text, got, want)
		}
	}
}

func FuzzReadDecimal(f *testing.F) {
	for _, text := range []string{"12,50", "1e9", "-0", ".", "1 000.5"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := ReadDecimal("x", "number", text)
		if err != nil {
			if ProblemIn(err) == nil {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		if err := CheckDecimal("x", "number", d); err != nil {
			t.Fatalf("%q was read as %s, which is refused: %v", text, d, err)
		}
		if again, err := ReadDecimal("x", "number", d.String()); err != nil || !again.Equal(d) {
			t.Fatalf("%q is %s, read again %s, %v", text, d, again, err)
		}
	})
}

func TestForgedDecimalsAreRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := decimal.New(rapid.Int64().Draw(t, "digits"), rapid.Int32().Draw(t, "exponent"))
		if err := CheckDecimal("x", "number", d); err == nil && (d.Exponent() > 9 || d.Exponent() < -6 || d.IsNegative() || d.GreaterThanOrEqual(decimal.New(1, 9))) {
			t.Fatalf("a number with exponent %d was taken", d.Exponent())
		}
	})
}

func TestQuotesThatCantBeAreRefused(t *testing.T) {
	good := func() Quote {
		return Quote{Client: "k", Currency: "EUR", Day: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), ValidDays: 30, Customer: "A. Buyer", Tax: decimal.NewFromInt(21), Lines: []QuoteLine{{"Lamp", decimal.NewFromInt(1), decimal.NewFromInt(25)}}}
	}
	if err := good().Check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Quote){
		"no key":        func(q *Quote) { q.Client = "" },
		"no customer":   func(q *Quote) { q.Customer = " " },
		"no lines":      func(q *Quote) { q.Lines = nil },
		"no words":      func(q *Quote) { q.Lines[0].Text = "" },
		"none of it":    func(q *Quote) { q.Lines[0].Quantity = decimal.Zero },
		"minus":         func(q *Quote) { q.Lines[0].Each = decimal.NewFromInt(-1) },
		"huge":          func(q *Quote) { q.Lines[0].Each = decimal.New(1, 1e9) },
		"too much tax":  func(q *Quote) { q.Tax = decimal.NewFromInt(101) },
		"no day":        func(q *Quote) { q.Day = time.Time{} },
		"for ever":      func(q *Quote) { q.ValidDays = 9999 },
		"small letters": func(q *Quote) { q.Currency = "eur" },
		"long care":     func(q *Quote) { q.Care = strings.Repeat("x", 2001) },
	} {
		q := good()
		change(&q)
		if ProblemIn(q.Check()) == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

func TestStockThatCantBeIsRefused(t *testing.T) {
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	good := StockMove{Client: "k", Kind: Bought, Amount: 500, Unit: Gram, At: now}
	if err := good.Check(now); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*StockMove){
		"no key":          func(m *StockMove) { m.Client = "" },
		"nothing bought":  func(m *StockMove) { m.Amount = 0 },
		"huge":            func(m *StockMove) { m.Amount = 1e300 },
		"by area":         func(m *StockMove) { m.Unit = GramPerM2 },
		"stolen":          func(m *StockMove) { m.Kind = "stolen" },
		"tomorrow":        func(m *StockMove) { m.At = now.Add(24 * time.Hour) },
		"nothing to undo": func(m *StockMove) { m.Kind = Uncounted },
		"long lot":        func(m *StockMove) { m.Lot = strings.Repeat("x", 81) },
	} {
		m := good
		change(&m)
		if ProblemIn(m.Check(now)) == nil {
			t.Errorf("%s was taken", name)
		}
	}
	loss := decimal.NewFromInt(96)
	for name, err := range map[string]error{
		"a pack of nothing":  PackPrice{Unit: Gram}.Check(),
		"a pack in m²":       PackPrice{Unit: GramPerM2, Size: 1}.Check(),
		"a sheet of no size": MetalPrice{Per: BySheet, Price: decimal.NewFromInt(3)}.Check(),
		"by the yard":        MetalPrice{Per: "yard"}.Check(),
		"all cut away":       MetalPrice{Per: ByKilogram, Loss: &loss}.Check(),
	} {
		if ProblemIn(err) == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
