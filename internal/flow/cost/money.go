package cost

import (
	"math"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

// places is how many digits behind the point a quantity or a quotient carries:
// far finer than any scale or coin.
const places = 12

var hundred = decimal.NewFromInt(100)

// Quantity returns a measured or reckoned number as a decimal: nine significant
// digits, which no scale or clock here has. What is not finite becomes 0.
func Quantity(v float64) decimal.Decimal {
	if math.IsNaN(v) || math.IsInf(v, 0) || v == 0 {
		return decimal.Zero
	}
	digits := 8 - int32(math.Floor(math.Log10(math.Abs(v))))
	return decimal.NewFromFloat(v).RoundBank(min(digits, 15))
}

// over divides; the quotient is good to [places] digits, the last one rounded to
// the even neighbour. A divisor of 0 is the caller's to keep away.
func over(a, b decimal.Decimal) decimal.Decimal {
	return a.DivRound(b, places+6).RoundBank(places)
}

// Sum adds exactly.
func Sum(all ...decimal.Decimal) decimal.Decimal {
	out := decimal.Zero
	for _, d := range all {
		out = out.Add(d)
	}
	return out
}

// RoundTogether rounds amounts to so many digits behind the point so that they
// add up to their sum, itself rounded half to even: each is rounded down, and
// the units that are then missing go to the largest remainders, the first of
// equal ones first. No amount is moved by a whole unit or more.
func RoundTogether(amounts []decimal.Decimal, digits int32) (rounded []decimal.Decimal, total decimal.Decimal) {
	total = Sum(amounts...).RoundBank(digits)
	unit := decimal.New(1, -digits)
	rounded = make([]decimal.Decimal, len(amounts))
	rests := make([]decimal.Decimal, len(amounts))
	for i, a := range amounts {
		rounded[i] = floor(a, digits)
		rests[i] = a.Sub(rounded[i])
	}
	missing := total.Sub(Sum(rounded...)).Div(unit).IntPart()
	for range missing {
		best := -1
		for i, r := range rests {
			if r.IsPositive() && (best < 0 || r.GreaterThan(rests[best])) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		rounded[best] = rounded[best].Add(unit)
		rests[best] = decimal.Zero
	}
	return rounded, total
}

// floor rounds towards minus infinity.
func floor(a decimal.Decimal, digits int32) decimal.Decimal {
	t := a.Truncate(digits)
	if t.GreaterThan(a) {
		t = t.Sub(decimal.New(1, -digits))
	}
	return t
}

// Split divides a sum among n so that the parts add up to it and differ by at
// most one unit of so many digits behind the point; the sum must not be finer
// than that. n below 1 gives nothing.
func Split(sum decimal.Decimal, n int, digits int32) []decimal.Decimal {
	if n < 1 {
		return nil
	}
	each := over(sum, decimal.NewFromInt(int64(n)))
	parts := make([]decimal.Decimal, n)
	for i := range parts {
		parts[i] = each
	}
	rounded, _ := RoundTogether(parts, digits)
	// what a quotient without end leaves over
	rounded[0] = rounded[0].Add(sum.Sub(Sum(rounded...)))
	return rounded
}

// Totals are the sums of a quote, each as it is paid.
type Totals struct {
	Lines []decimal.Decimal
	Net   decimal.Decimal
	Tax   decimal.Decimal
	Total decimal.Decimal
}

// TotalsOf adds a quote up: each line is its quantity times its price, and the
// lines are rounded together, so that those printed add up to the net sum. Tax is
// taken on the net sum as printed and rounded once, half to even.
func TotalsOf(q studio.Quote) Totals {
	exact := make([]decimal.Decimal, len(q.Lines))
	for i, l := range q.Lines {
		exact[i] = l.Quantity.Mul(l.Each)
	}
	var t Totals
	t.Lines, t.Net = RoundTogether(exact, q.Currency.Digits())
	t.Tax = q.Currency.Round(t.Net.Mul(q.Tax).Shift(-2))
	t.Total = t.Net.Add(t.Tax)
	return t
}
