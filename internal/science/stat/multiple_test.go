package stat

import (
	"math"
	"testing"
)

// TestMeansAndPairsMeetR checks marginal means and Tukey pairs of the unbalanced
// swatches against R 4.2.2 with emmeans.
func TestMeansAndPairsMeetR(t *testing.T) {
	s := sheet(t, "r/swatch_unbalanced.csv")
	f := fitted(t, Model{Response: floats(t, s["L"]), Columns: []Column{{Name: "liquid", Labels: s["liquid"]}, {Name: "metal", Labels: s["metal"]}}, Terms: Cross([]string{"liquid", "metal"}, 2)})
	for _, coding := range []Coding{Treatment, SumToZero} {
		m := f.model
		m.Coding = coding
		means, pairs, err := fitted(t, m).Means("liquid")
		if err != nil || len(means) != 3 || len(pairs) != 3 {
			t.Fatal(means, pairs, err)
		}
		want, wp := sheet(t, "r/case1_emmeans_liquid.csv"), sheet(t, "r/case1_pairs_liquid_tukey.csv")
		for i, m := range means {
			for what, got := range map[string]float64{"emmean": m.Estimate, "se": m.SE, "lower": m.Low, "upper": m.High} {
				wantDigits(t, m.Level+" "+what, got, floats(t, want[what][i:i+1])[0], 8)
			}
		}
		for i, p := range pairs {
			for what, got := range map[string]float64{"estimate": p.Difference, "se": p.SE} {
				wantDigits(t, p.A+p.B+" "+what, got, floats(t, wp[what][i:i+1])[0], 8)
			}
			for what, got := range map[string]float64{"lower_tukey": p.Low, "upper_tukey": p.High} {
				wantDigits(t, p.A+p.B+" "+what, got, floats(t, wp[what][i:i+1])[0], 6)
			}
			// R's ptukey is good to about 2e-10 in size; the two p of mpmath 1.x at 25 digits
			// (the double integral) are met to 9 digits
			if i < 2 {
				wantDigits(t, p.A+p.B+" p", p.P, []float64{4.428371358638134e-5, 1.676577527278243e-9}[i], 9)
			}
			if w := floats(t, wp["p_tukey"][i:i+1])[0]; math.Abs(p.P-w) > 2e-10 {
				t.Errorf("%s%s: p %.10g, want %.10g", p.A, p.B, p.P, w)
			}
		}
	}
}

// TestStudentisedRangeMeetsTables: upper 5 % and 1 % points, NIST/SEMATECH
// e-Handbook 7.4.7.1 and Harter 1960, from memory.
func TestStudentisedRangeMeetsTables(t *testing.T) {
	for _, c := range []struct {
		conf float64
		k    int
		df   float64
		want float64
	}{{0.95, 3, 10, 3.88}, {0.95, 2, 5, 3.64}, {0.95, 4, 20, 3.96}, {0.95, 10, 5, 6.99}, {0.99, 3, 10, 5.27}, {0.99, 5, 30, 5.05}, {0.95, 3, 1e6, 3.31}, {0.95, 2, 2, 6.08}} {
		q, err := StudentisedRangeQuantile(c.conf, c.k, c.df)
		if err != nil || math.Abs(q-c.want) > 0.0061 {
			t.Errorf("q(%v; %d, %v) is %.4f (%v), want %v", c.conf, c.k, c.df, q, err, c.want)
		}
	}
}

// TestTwoMeansRangeIsStudentsT: with two means the range is a t times root 2.
func TestTwoMeansRangeIsStudentsT(t *testing.T) {
	for _, df := range []float64{1, 2, 3, 5, 11, 60} {
		for _, x := range []float64{0.3, 1, 2.5, 6, 12} {
			p, err := StudentisedRangeTail(math.Sqrt2*x, 2, df)
			if err != nil {
				t.Fatal(err)
			}
			least := 7.0
			if df < 2 {
				least = 4
			}
			wantDigits(t, "tail", p, twoSided(x, df), least)
		}
	}
}

// TestHolmRaisesAsPublished: Holm 1979's rule on 0.01, 0.04, 0.03, 0.005, worked by
// hand: 4·0.005, 3·0.01, 2·0.03, and 0.04 raised to the one before.
func TestHolmRaisesAsPublished(t *testing.T) {
	for i, got := range Holm([]float64{0.01, 0.04, 0.03, 0.005}) {
		if want := []float64{0.03, 0.06, 0.06, 0.02}[i]; math.Abs(got-want) > 1e-12 {
			t.Errorf("%d: %v, want %v", i, got, want)
		}
	}
}
