package cost

import (
	"math/big"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// anyMoney draws a sum as one may be typed: at most 6 digits behind the point.
func anyMoney(t *rapid.T, name string) decimal.Decimal {
	return decimal.New(rapid.Int64Range(-1e14, 1e14).Draw(t, name), -int32(rapid.IntRange(0, 6).Draw(t, name+" places")))
}

func d(text string) decimal.Decimal { return decimal.RequireFromString(text) }

func rat(x decimal.Decimal) *big.Rat { return x.Rat() }

// Exact sums, against the exact fractions of the standard library (math/big).
func TestSumsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c, k := anyMoney(t, "a"), anyMoney(t, "b"), anyMoney(t, "c"), anyMoney(t, "k")
		if x, y := a.Add(b).Add(c), a.Add(b.Add(c)); !x.Equal(y) {
			t.Fatalf("(a+b)+c = %s, a+(b+c) = %s", x, y)
		}
		if x := a.Add(b).Sub(b); !x.Equal(a) {
			t.Fatalf("a+b-b = %s, a = %s", x, a)
		}
		if x, y := a.Add(b).Mul(k), a.Mul(k).Add(b.Mul(k)); !x.Equal(y) {
			t.Fatalf("(a+b)k = %s, ak+bk = %s", x, y)
		}
		want := new(big.Rat).Add(rat(a), new(big.Rat).Mul(rat(b), rat(k)))
		if got := rat(Sum(a, b.Mul(k))); got.Cmp(want) != 0 {
			t.Fatalf("a+bk = %s, want %s", got, want)
		}
	})
	ten := make([]decimal.Decimal, 10)
	for i := range ten {
		ten[i] = d("0.1")
	}
	if got := Sum(ten...); !got.Equal(d("1")) { // in binary fractions this is 0.9999999999999999
		t.Errorf("ten times 0.1 is %s", got)
	}
}

// Rounded lines add up to the rounded sum, and none is off by a whole unit.
func TestPrintedLinesAddUpToThePrintedTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := int32(rapid.IntRange(0, 3).Draw(t, "digits"))
		var amounts []decimal.Decimal
		for range rapid.IntRange(0, 12).Draw(t, "n") {
			amounts = append(amounts, anyMoney(t, "amount"))
		}
		rounded, total := RoundTogether(amounts, digits)
		if got := Sum(rounded...); !got.Equal(total) {
			t.Fatalf("the lines add up to %s, the total is %s", got, total)
		}
		if want := Sum(amounts...).RoundBank(digits); !total.Equal(want) {
			t.Fatalf("the total is %s, want %s", total, want)
		}
		unit := decimal.New(1, -digits)
		for i, r := range rounded {
			if !r.Equal(r.Truncate(digits)) || r.Sub(amounts[i]).Abs().GreaterThanOrEqual(unit) {
				t.Fatalf("%s was printed as %s", amounts[i], r)
			}
		}
	})
}

func TestPartsAddUpToWhatWasSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		digits := int32(rapid.IntRange(0, 3).Draw(t, "digits"))
		sum := decimal.New(rapid.Int64Range(-1e12, 1e12).Draw(t, "sum"), -digits)
		n := rapid.IntRange(1, 200).Draw(t, "n")
		parts := Split(sum, n, digits)
		if len(parts) != n || !Sum(parts...).Equal(sum) {
			t.Fatalf("%s split into %d gives %s", sum, n, Sum(parts...))
		}
		unit := decimal.New(1, -digits)
		for _, p := range parts {
			if p.Sub(parts[0]).Abs().GreaterThan(unit) {
				t.Fatalf("%s split into %d has parts %s and %s", sum, n, parts[0], p)
			}
		}
	})
	if Split(d("1"), 0, 2) != nil {
		t.Error("something was split among nobody")
	}
}

// roundTiesToEven of IEEE 754-2019, 4.3.1, on decimals.
func TestHalfACentGoesToTheEvenNeighbour(t *testing.T) {
	for text, want := range map[string]string{"0.125": "0.12", "0.135": "0.14", "0.1250001": "0.13", "2.5": "2.50", "-0.125": "−0.12", "0.005": "0.00", "0.015": "0.02"} {
		if got := studio.Currency("EUR").Number(d(text)); got != want {
			t.Errorf("%s is paid as %s, want %s", text, got, want)
		}
	}
}

func TestQuantityKeepsNineDigits(t *testing.T) {
	for v, want := range map[float64]string{0.1: "0.1", 123456.7891234: "123456.789", 0.000123456789123: "0.000123456789", 0: "0", 1e-300: "0"} {
		if got := Quantity(v); !got.Equal(d(want)) {
			t.Errorf("%v is %s, want %s", v, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		got, _ := Quantity(v).Float64()
		if x := v - got; v > 1e-6 && v < 1e12 && (x > 1e-8*v || x < -1e-8*v) {
			t.Fatalf("%v became %v", v, got)
		}
	})
}

// A quote by hand: 6 x 24.97 = 149.82, 1 x 12.50, and 2.5 h x 31.333 = 78.3325;
// in all 240.6525, printed 240.65; 21 % of that is 50.5365, printed 50.54; in all
// 291.19. The third line is printed down to 78.33, so that the lines add up.
func TestQuoteAddsUpByHand(t *testing.T) {
	q := studio.Quote{Currency: "EUR", Tax: d("21"), Lines: []studio.QuoteLine{
		{Text: "Wall lamp, blue-green", Quantity: d("6"), Each: d("24.97")},
		{Text: "Delivery", Quantity: d("1"), Each: d("12.50")},
		{Text: "Fitting, hours", Quantity: d("2.5"), Each: d("31.333")},
	}}
	got := TotalsOf(q)
	for i, want := range []string{"149.82", "12.50", "78.33"} {
		if !got.Lines[i].Equal(d(want)) {
			t.Errorf("line %d is %s, want %s", i+1, got.Lines[i], want)
		}
	}
	if !got.Net.Equal(d("240.65")) || !got.Tax.Equal(d("50.54")) || !got.Total.Equal(d("291.19")) {
		t.Errorf("net %s, tax %s, total %s", got.Net, got.Tax, got.Total)
	}
	// 0 digits: 6 x 2497 = 14982, 10 % is 1498.2, printed 1498.
	yen := TotalsOf(studio.Quote{Currency: "JPY", Tax: d("10"), Lines: []studio.QuoteLine{{Text: "Lamp", Quantity: d("6"), Each: d("2497")}}})
	if !yen.Tax.Equal(d("1498")) || !yen.Total.Equal(d("16480")) {
		t.Errorf("tax %s, total %s", yen.Tax, yen.Total)
	}
}

func TestAnyQuoteAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := studio.Quote{Currency: studio.Currency(rapid.SampledFrom([]string{"EUR", "JPY", "KWD"}).Draw(t, "currency")), Tax: decimal.New(rapid.Int64Range(0, 100000).Draw(t, "tax"), -3)}
		for range rapid.IntRange(1, studio.MaxQuoteLines).Draw(t, "lines") {
			q.Lines = append(q.Lines, studio.QuoteLine{Text: "x", Quantity: anyMoney(t, "quantity").Abs(), Each: anyMoney(t, "each").Abs()})
		}
		got := TotalsOf(q)
		if !Sum(got.Lines...).Equal(got.Net) || !got.Net.Add(got.Tax).Equal(got.Total) {
			t.Fatalf("%s + %s is not %s", got.Net, got.Tax, got.Total)
		}
		if exact := got.Net.Mul(q.Tax).Shift(-2); exact.Sub(got.Tax).Abs().GreaterThan(decimal.New(5, -q.Currency.Digits()-1)) {
			t.Fatalf("tax of %s became %s", exact, got.Tax)
		}
	})
}
