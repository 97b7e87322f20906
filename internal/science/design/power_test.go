package design

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The power is that of scipy 1.10.1's noncentral t distribution; the last is the
// example of R's power.t.test, 20 a group and one standard deviation: 0.8689528.
func TestPowerIsNoncentralT(t *testing.T) {
	for _, c := range []struct{ df, errors, sure, want float64 }{
		{2, 3, 0.95, 0.387400129}, {5, 1.5, 0.9, 0.365738333}, {10, 0, 0.95, 0.05}, {30, 4, 0.99, 0.884868715},
		{4, 10, 0.95, 0.999999616}, {200, 2.5, 0.95, 0.701260152}, {38, 3.1622776601683795, 0.95, 0.868953028},
	} {
		if got, err := Power(c.df, c.errors, c.sure); err != nil || math.Abs(got-c.want) > 1e-7 {
			t.Errorf("%+v: %.9f, %v", c, got, err)
		}
	}
}

// Cohen (1988), table 2.4.1: 26, 64 and 393 a group for large, middling and small
// differences at 0.05 and power 0.80; the small one is 393.4 with the noncentral
// t of scipy 1.10.1, and so 394 whole swatches. R's help of power.t.test: 22.02
// for one standard deviation at 0.90. Three, four and six levels by scipy's
// noncentral F, the levels between lying half way.
func TestSwatchesToSeeIsPublished(t *testing.T) {
	for _, c := range []struct {
		d, chance    float64
		levels, want int
	}{{0.8, 0.8, 2, 26}, {0.5, 0.8, 2, 64}, {0.2, 0.8, 2, 394}, {1, 0.9, 2, 23}, {1.5, 0.8, 2, 9}, {3, 0.8, 2, 4}, {1.5, 0.8, 3, 10}, {1, 0.8, 4, 23}, {1, 0.8, 3, 21}, {2, 0.8, 6, 8}} {
		got, err := SwatchesToSee(Question{Difference: c.d, Spread: 1, Sure: 0.95, Chance: c.chance}, c.levels)
		if err != nil || got != c.want {
			t.Errorf("%+v: %d, %v", c, got, err)
		}
	}
	for _, q := range []Question{{}, {3, 0, 0.95, 0.8}, {3, 1, 1, 0.8}, {3, 1, 0.95, 1}, {math.NaN(), 1, 0.95, 0.8}, {1e-9, 1, 0.95, 0.8}} {
		if _, err := SwatchesToSee(q, 2); !errors.Is(err, ErrAsk) {
			t.Errorf("%+v: %v", q, err)
		}
	}
}

func TestPowerRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		df := float64(rapid.IntRange(2, 300).Draw(t, "df"))
		e := rapid.Float64Range(0, 8).Draw(t, "errors")
		a, err := Power(df, e, 0.95)
		b, err2 := Power(df, e+0.1, 0.95)
		if err != nil || err2 != nil || b < a-1e-12 || a < 0.05-1e-7 || b > 1 {
			t.Fatalf("df %v: %v at %v, %v a little further", df, a, e, b)
		}
	})
}

// A completely balanced comparison of two levels sees what SwatchesToSee says.
func TestSeesAgreesWithSwatchesToSee(t *testing.T) {
	q := Usual
	n, err := SwatchesToSee(q, 2)
	if err != nil {
		t.Fatal(err)
	}
	see := func(n int) float64 {
		p := Plan{Factors: []Factor{{Name: "liquid", Levels: []string{"a", "b"}}}}
		p.Model = Main(p.Factors)
		for i := range 2 * n {
			p.Runs = append(p.Runs, []float64{float64(i % 2)})
		}
		s, err := p.Sees(q)
		if err != nil {
			t.Fatal(err)
		}
		return s[0].Least
	}
	if see(n) > q.Difference || see(n-1) <= q.Difference {
		t.Errorf("%d a level: sees %.3f, one fewer %.3f; asked %g", n, see(n), see(n-1), q.Difference)
	}
	// scipy 1.10.1: 8.06 a level at 1.5 standard deviations, so 9 whole ones.
	if n != 9 {
		t.Errorf("%d a level, 9 by scipy", n)
	}
}

func BenchmarkSwatchesToSee(b *testing.B) {
	for b.Loop() {
		if _, err := SwatchesToSee(Usual, 3); err != nil {
			b.Fatal(err)
		}
	}
}
