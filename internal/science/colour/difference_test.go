package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestDifferenceMatchesSharmaPairs checks all 34 pairs of Sharma, Wu and Dalal
// 2005, Table I, both ways. In pair 10 the hues are exactly 180 degrees apart
// (2.4900, -0.0010 against -2.4900, 0.0010): rounding must not pick the other mean
// hue, which would give 7.2195 as in pair 11.
func TestDifferenceMatchesSharmaPairs(t *testing.T) {
	for _, r := range table(t, "ciede2000_sharma2005.csv", 34) {
		a, b := r.lab(t, "L1", "a1", "b1"), r.lab(t, "L2", "a2", "b2")
		want := r.number(t, "dE00")
		for _, got := range []float64{Difference(a, b), Difference(b, a)} {
			if math.Abs(got-want) > 0.00005+1e-9 {
				t.Errorf("pair %s: got %.5f, want %.4f", r["pair"], got, want)
			}
		}
	}
}

// TestDifferenceTermsMatchSharmaPairs checks the steps the paper prints, to 4
// decimals; its hues, printed from an a' rounded on the way, are off by up to 0.0011.
func TestDifferenceTermsMatchSharmaPairs(t *testing.T) {
	for _, r := range table(t, "ciede2000_sharma2005.csv", 34) {
		g := Terms(r.lab(t, "L1", "a1", "b1"), r.lab(t, "L2", "a2", "b2"))
		for _, c := range []struct {
			column      string
			got, within float64
		}{
			{"a1p", g.A1P, 1e-4}, {"C1p", g.C1P, 1e-4}, {"h1p", g.H1P, 1.2e-3}, {"a2p", g.A2P, 1e-4}, {"C2p", g.C2P, 1e-4}, {"h2p", g.H2P, 1.2e-3},
			{"hbar", g.HMean, 1.2e-3}, {"G", g.G, 6e-5}, {"T", g.T, 6e-5}, {"SL", g.SL, 6e-5}, {"SC", g.SC, 6e-5}, {"SH", g.SH, 6e-5}, {"RT", g.RT, 6e-5},
		} {
			if want := r.number(t, c.column); math.Abs(c.got-want) > c.within {
				t.Errorf("pair %s: %s is %.6f, want %.4f", r["pair"], c.column, c.got, want)
			}
		}
	}
}

func TestDifferenceIsSymmetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyLab(t, "a"), anyLab(t, "b")
		if rapid.Bool().Draw(t, "opposite hue") {
			b = Lab{b.L, -a.A, -a.B}
		}
		if there, back := Difference(a, b), Difference(b, a); math.Abs(there-back) > 1e-9 {
			t.Fatalf("%v there, %v back", there, back)
		}
	})
}

func TestDifferenceIsZeroOnlyForEqualColours(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyLab(t, "a"), anyLab(t, "b")
		if rapid.Bool().Draw(t, "near") {
			b = Lab{a.L, a.A, a.B + 0.001*float64(rapid.IntRange(-2, 2).Draw(t, "step"))}
		}
		for name, d := range map[string]float64{"CIEDE2000": Difference(a, b), "CIE 1976": Difference76(a, b)} {
			if (d == 0) != (a == b) || d < 0 {
				t.Fatalf("the %s difference of %v and %v is %v", name, a, b, d)
			}
		}
	})
}

// TestDifference76IsTheDistance: a 2-3-6 box has the diagonal 7.
func TestDifference76IsTheDistance(t *testing.T) {
	if got := Difference76(Lab{50, 10, -10}, Lab{52, 13, -4}); got != 7 {
		t.Errorf("got %v, want 7", got)
	}
}

func BenchmarkDifference(b *testing.B) {
	x, y := Lab{62, 22, 22}, Lab{66.6, -33.7, -7.4}
	sum := 0.0
	for b.Loop() {
		x.A += 1e-9
		sum += Difference(x, y)
	}
	if sum == 0 {
		b.Fatal("nothing was measured")
	}
}
