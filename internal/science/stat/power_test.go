package stat

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestPowerMeetsR: the examples of R's help pages power.t.test (n = 20, delta = 1:
// 0.8689528) and power.anova.test (4 groups of 5, variances 1 and 3: 0.3535594), from
// memory of their printed output. R leaves out the far tail of t, 2e-7 here.
func TestPowerMeetsR(t *testing.T) {
	p, err := PowerOfT(20, 1, 1, 0.05)
	if err != nil || math.Abs(p-0.8689528) > 3e-7 {
		t.Errorf("t: %.8f (%v)", p, err)
	}
	p, err = PowerOfF(4, 5, 1, 3, 0.05)
	if err != nil || math.Abs(p-0.3535594) > 1e-7 {
		t.Errorf("F: %.8f (%v)", p, err)
	}
	// power = 0.90, delta = 1 asks for n = 22.02110; 4 groups, power 0.80 for 11.92613
	if p, err = PowerOfT(22.02110, 1, 1, 0.05); err != nil || math.Abs(p-0.9) > 1e-6 {
		t.Errorf("t: %.8f (%v)", p, err)
	}
	if p, err = PowerOfF(4, 11.92613, 1, 3, 0.05); err != nil || math.Abs(p-0.8) > 1e-6 {
		t.Errorf("F: %.8f (%v)", p, err)
	}
}

// TestSwatchesMeetCohen: Cohen 1988, table 2.4.1 (two-sided 0.05), from memory: n for
// power 0.80 at d = 0.20, 0.50, 0.80 is 393, 64, 26; for power 0.90 at 0.50 it is 85
// (86 by exact sums).
func TestSwatchesMeetCohen(t *testing.T) {
	for _, c := range []struct {
		d, power float64
		n, off   int
	}{{0.2, 0.8, 393, 1}, {0.5, 0.8, 64, 0}, {0.8, 0.8, 26, 0}, {0.5, 0.9, 86, 1}} {
		n, err := SwatchesPerLevel(c.d, 1, 2, c.power, 0.05)
		if err != nil || n < c.n-c.off || n > c.n+c.off {
			t.Errorf("d %v, power %v: %d (%v), want %d", c.d, c.power, n, err, c.n)
		}
	}
}

// TestTwoGroupsMakeFTheSquareOfT: with two groups both tests are one.
func TestTwoGroupsMakeFTheSquareOfT(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(2, 60).Draw(t, "n")
		d := rapid.Float64Range(0, 3).Draw(t, "d")
		a, err := PowerOfT(n, d, 1.3, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		b, err := PowerOfF(2, n, d*d/2, 1.3*1.3, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a-b) > 1e-6 {
			t.Fatalf("n %v, d %v: t %.9f, F %.9f", n, d, a, b)
		}
	})
}

func TestPowerThatCannotBeIsRefused(t *testing.T) {
	for name, f := range map[string]func() error{
		"one swatch": func() error { _, err := PowerOfT(1, 1, 1, 0.05); return err },
		"no spread":  func() error { _, err := PowerOfT(5, 1, 0, 0.05); return err },
		"level 2":    func() error { _, err := PowerOfT(5, 1, 1, 2); return err },
		"one group":  func() error { _, err := PowerOfF(1, 5, 1, 1, 0.05); return err },
		"nothing":    func() error { _, err := SwatchesPerLevel(0, 1, 2, 0.8, 0.05); return err },
		"too fine":   func() error { _, err := SwatchesPerLevel(1e-4, 1, 2, 0.8, 0.05); return err },
		"certain":    func() error { _, err := SwatchesPerLevel(1, 1, 2, 1, 0.05); return err },
		"nan":        func() error { _, err := SwatchesPerLevel(math.NaN(), 1, 2, 0.8, 0.05); return err },
	} {
		if f() == nil {
			t.Errorf("%s was answered", name)
		}
	}
}
