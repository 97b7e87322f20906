package studio

import (
	"strings"
	"time"
	"unicode"

	"github.com/shopspring/decimal"
	"golang.org/x/text/currency"
)

// Currency is the one currency of a studio, by its code in ISO 4217: "EUR".
type Currency string

// ReadCurrency reads a currency's code, in large or small letters.
func ReadCurrency(text string) (Currency, error) {
	code := strings.ToUpper(strings.TrimSpace(text))
	unit, err := currency.ParseISO(code)
	if err != nil || unit == currency.XXX || unit == currency.XTS { // ISO 4217's own codes for "no currency" and "for testing": nobody is paid in them
		return "", Problemf(Invalid, "currency", "%q is not a currency's code; write its three letters, like EUR, USD or GBP.", clip(text))
	}
	return Currency(code), nil
}

// Digits returns how many digits stand behind the point in a sum that is paid:
// 2 for EUR, 0 for JPY, by the table of the Unicode CLDR. An unknown code has 2.
func (c Currency) Digits() int32 {
	unit, err := currency.ParseISO(string(c))
	if err != nil {
		return 2
	}
	scale, _ := currency.Standard.Rounding(unit)
	return int32(scale)
}

// Round returns a sum as it is paid: half a cent goes to the even neighbour.
func (c Currency) Round(sum decimal.Decimal) decimal.Decimal { return sum.RoundBank(c.Digits()) }

// Write writes a sum as it is paid, with thin groups of three and the code:
// "1 234.50 EUR".
func (c Currency) Write(sum decimal.Decimal) string {
	return strings.TrimSpace(c.Number(sum) + " " + string(c))
}

// Number is [Currency.Write] without the code.
func (c Currency) Number(sum decimal.Decimal) string {
	text := c.Round(sum).Abs().StringFixed(c.Digits())
	whole, rest, _ := strings.Cut(text, ".")
	var b strings.Builder
	if c.Round(sum).IsNegative() {
		b.WriteString("−")
	}
	for i, r := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteRune('\u00a0')
		}
		b.WriteRune(r)
	}
	if rest != "" {
		b.WriteString("." + rest)
	}
	return b.String()
}

// Limits of what is typed as money or a share.
const (
	moneyPlaces = 6
	moneyDigits = 9 // before the point
)

// ReadDecimal reads a number from 0 exactly, as people write it: a comma may
// stand for the point and blanks may group the digits. At most 9 digits stand
// before the point and 6 behind it. Empty is 0. what names it in a Problem.
func ReadDecimal(field, what, text string) (decimal.Decimal, error) {
	t := strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, text)
	if t == "" {
		return decimal.Zero, nil
	}
	bad := Problemf(Invalid, field, "%q can't be the %s; write a number from 0 to 999 999 999 with at most 6 digits behind the point, like 12.50.", clip(text), what)
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	// checked digit by digit: an exponent could ask for a number of a million digits
	whole, rest, point := strings.Cut(t, ".")
	if len(whole) > moneyDigits || len(rest) > moneyPlaces || whole+rest == "" || (point && rest == "") {
		return decimal.Zero, bad
	}
	for _, r := range whole + rest {
		if r < '0' || r > '9' {
			return decimal.Zero, bad
		}
	}
	if whole == "" {
		whole = "0"
	}
	d, err := decimal.NewFromString(strings.TrimSuffix(whole+"."+rest, "."))
	if err != nil {
		return decimal.Zero, bad
	}
	return d, nil
}

// clip shortens what somebody typed for a sentence.
func clip(text string) string {
	if r := []rune(text); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return text
}

// CheckDecimal reports a Problem for a number outside what [ReadDecimal] reads.
func CheckDecimal(field, what string, d decimal.Decimal) error {
	// the exponent first: writing a wild one out would take all memory
	if d.Exponent() < -moneyPlaces || d.Exponent() > moneyDigits || d.IsNegative() || d.NumDigits() > moneyDigits+moneyPlaces || d.GreaterThanOrEqual(decimal.New(1, moneyDigits)) {
		return Problemf(Invalid, field, "The %s can't be right; it must be a number from 0 to 999 999 999 with at most 6 digits behind the point.", what)
	}
	return nil
}

// Rates are what a studio reckons its prices with. Hour is for work, ChamberHour
// for a chamber in use, SealM2 for what goes on a square metre when sealing.
// Overhead is percent of the direct cost; Margin percent of the price, below 100;
// Loss percent of a sheet that is cut away.
type Rates struct {
	Currency    Currency
	Hour        decimal.Decimal
	ChamberHour decimal.Decimal
	SealM2      decimal.Decimal
	Overhead    decimal.Decimal
	Margin      decimal.Decimal
	Loss        decimal.Decimal
}

// Check reports a Problem when r cannot be kept.
func (r Rates) Check() error {
	if _, err := ReadCurrency(string(r.Currency)); err != nil {
		return err
	}
	for _, x := range []struct {
		field, what string
		d           decimal.Decimal
		below       int64
	}{{"hour", "price of an hour", r.Hour, 0}, {"chamberhour", "price of a chamber's hour", r.ChamberHour, 0}, {"sealm2", "price of sealing", r.SealM2, 0},
		{"overhead", "overhead", r.Overhead, 1001}, {"margin", "margin", r.Margin, 96}, {"loss", "cutting loss", r.Loss, 96}} {
		if err := CheckDecimal(x.field, x.what, x.d); err != nil {
			return err
		}
		if x.below > 0 && x.d.GreaterThanOrEqual(decimal.NewFromInt(x.below)) {
			return Problemf(Invalid, x.field, "A %s of %s %% can't be right; write 0 to %d.", x.what, x.d, x.below-1)
		}
	}
	return nil
}

// A QuoteLine is one line of a quote: so many of something at a price each.
type QuoteLine struct {
	Text     string
	Quantity decimal.Decimal
	Each     decimal.Decimal
}

// A Quote is what was offered to a customer, as it was written. It is never
// changed; another one takes its place. Tax is percent of the net sum, as the
// person typed it. Customer is kept here and nowhere else.
type Quote struct {
	ID        int64
	Number    int64 // counted by the store, from 1
	Client    string
	SetID     int64 // the batch it was reckoned from, 0 for none
	Made      time.Time
	By        string
	Currency  Currency
	Day       time.Time
	ValidDays int
	Customer  string
	Lines     []QuoteLine
	Tax       decimal.Decimal
	Care      string
	Note      string
	Basis     []string // how the price came about, for the studio's own copy
}

// MaxQuoteLines is how many lines a quote may have.
const MaxQuoteLines = 20

// Check reports a Problem when q cannot be kept.
func (q Quote) Check() error {
	if q.Client == "" || len(q.Client) > 80 {
		return Problemf(Invalid, "client", "The quote came without its key; reload the page and try again.")
	}
	if c, err := ReadCurrency(string(q.Currency)); err != nil {
		return err
	} else if c != q.Currency {
		return Problemf(Invalid, "currency", "%q is not a currency's code; write its three letters, like EUR.", clip(string(q.Currency)))
	}
	if q.Day.IsZero() || q.Day.Year() < 1990 || q.Day.Year() > 2200 {
		return Problemf(Invalid, "day", "Say which day the quote is of, like 2026-11-25.")
	}
	if q.ValidDays < 1 || q.ValidDays > 365 {
		return Problemf(Invalid, "valid", "A quote that holds for %d days can't be right; write 1 to 365.", q.ValidDays)
	}
	if strings.TrimSpace(q.Customer) == "" {
		return Problemf(Invalid, "customer", "Say who the quote is for.")
	}
	for _, x := range []struct{ field, what, text string }{{"customer", "customer", q.Customer}, {"care", "words on care", q.Care}, {"note", "note", q.Note}} {
		if len([]rune(x.text)) > 2000 {
			return Problemf(Invalid, x.field, "The %s has %d letters; 2000 are the most.", x.what, len([]rune(x.text)))
		}
	}
	if len(q.Lines) == 0 || len(q.Lines) > MaxQuoteLines {
		return Problemf(Invalid, "text0", "A quote needs from 1 to %d lines; this one has %d.", MaxQuoteLines, len(q.Lines))
	}
	for _, l := range q.Lines {
		if strings.TrimSpace(l.Text) == "" || len([]rune(l.Text)) > 300 {
			return Problemf(Invalid, "text0", "Each line of a quote needs words, at most 300 letters.")
		}
		if err := CheckDecimal("quantity", "quantity of "+clip(l.Text), l.Quantity); err != nil {
			return err
		}
		if err := CheckDecimal("each", "price of "+clip(l.Text), l.Each); err != nil {
			return err
		}
		if !l.Quantity.IsPositive() {
			return Problemf(Invalid, "quantity", "Say how many: %s has a quantity of %s.", clip(l.Text), l.Quantity)
		}
	}
	if err := CheckDecimal("tax", "tax", q.Tax); err != nil {
		return err
	}
	if q.Tax.GreaterThan(decimal.NewFromInt(100)) {
		return Problemf(Invalid, "tax", "A tax of %s %% can't be right; write 0 to 100.", q.Tax)
	}
	return nil
}

// Until returns the last day on which the quote holds.
func (q Quote) Until() time.Time { return q.Day.AddDate(0, 0, q.ValidDays) }
