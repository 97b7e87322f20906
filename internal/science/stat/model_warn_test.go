package stat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func kinds(ws []Warning) (out []WarningKind) {
	for _, w := range ws {
		out = append(out, w.Kind)
	}
	return out
}

// factorial makes the rows of reps full 2^3 in a, b, c with a true model and noise.
func factorial(reps int, seed uint64) (Model, *rand.Rand) {
	r := rand.New(rand.NewPCG(seed, 7))
	m := Model{Columns: []Column{{Name: "a"}, {Name: "b"}, {Name: "c"}}, Terms: Cross([]string{"a", "b", "c"}, 1)}
	for range reps {
		for i := range 8 {
			x := []float64{float64(i&1)*2 - 1, float64(i&2) - 1, float64(i&4)/2 - 1}
			for k := range x {
				m.Columns[k].Numbers = append(m.Columns[k].Numbers, x[k])
			}
			m.Response = append(m.Response, 10+3*x[0]-2*x[1]+0.5*r.NormFloat64())
		}
	}
	return m, r
}

func TestCleanDesignGivesNoWarning(t *testing.T) {
	m, _ := factorial(3, 4)
	order := make([]float64, len(m.Response))
	for i, k := range rand.New(rand.NewPCG(1, 1)).Perm(len(order)) {
		order[i] = float64(k)
	}
	if w := fitted(t, m).Warnings(order); len(w) > 0 {
		t.Errorf("%+v", w)
	}
}

func TestWarningsSayWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		kind  WarningKind
		spoil func(m *Model, order []float64)
	}{
		{Drift, func(m *Model, order []float64) {
			for i := range m.Response {
				m.Response[i] += 0.2 * order[i]
			}
		}},
		{Odd, func(m *Model, _ []float64) { m.Response[5] += 6 }},
		{Confounded, func(m *Model, _ []float64) {
			m.Columns[2].Numbers = m.Columns[0].Numbers
		}},
		{Misfit, func(m *Model, _ []float64) {
			for i := range m.Response {
				m.Response[i] += 3 * m.Columns[0].Numbers[i] * m.Columns[1].Numbers[i]
			}
		}},
		{Entangled, func(m *Model, _ []float64) {
			c := slices.Clone(m.Columns[0].Numbers)
			for i := range c {
				c[i] += 0.05 * m.Columns[2].Numbers[i]
			}
			m.Columns[2].Numbers = c
		}},
	} {
		m, _ := factorial(3, 4)
		order := make([]float64, len(m.Response))
		for i, k := range rand.New(rand.NewPCG(1, 1)).Perm(len(order)) {
			order[i] = float64(k)
		}
		c.spoil(&m, order)
		if w := fitted(t, m).Warnings(order); !slices.Contains(kinds(w), c.kind) {
			t.Errorf("%s was not said: %+v", c.kind, w)
		} else if c.kind == Odd && w[slices.Index(kinds(w), Odd)].Rows[0] != 5 {
			t.Errorf("the wrong row: %+v", w)
		}
	}
	m, _ := factorial(1, 4)
	if w := fitted(t, m).Warnings(nil); !slices.Contains(kinds(w), NoReplicate) {
		t.Errorf("no replicate was not said: %+v", w)
	}
	m.Terms = Cross([]string{"a", "b", "c"}, 3)
	if w := fitted(t, m).Warnings(nil); !slices.Contains(kinds(w), NothingLeft) {
		t.Errorf("saturation was not said: %+v", w)
	}
}

// TestConfusionsNameTheBikesPairs: main effects of the 2^(7-4) of Box, Hunter and
// Hunter (1978, p. 391): with I = 124 = 135 = 236 = 1237, x1 is confounded with 24,
// 35 and 67, x4 with 12, 37 and 56.
func TestConfusionsNameTheBikesPairs(t *testing.T) {
	data := sheet(t, "handbook/bike_2to7m4.csv")
	m := Model{Response: floats(t, data["y"])}
	for k := 1; k <= 7; k++ {
		n := fmt.Sprintf("x%d", k)
		m.Columns, m.Terms = append(m.Columns, Column{Name: n, Numbers: floats(t, data[n])}), append(m.Terms, Term{n})
	}
	found := map[string][]string{}
	for _, c := range fitted(t, m).Confusions() {
		for _, w := range c.Of {
			if math.Abs(w.Weight-1) > 1e-12 {
				t.Errorf("%s: weight %v", c.Name, w.Weight)
			}
		}
		found[c.Name] = weightedNames(c.Of)
	}
	for name, want := range map[string][]string{"x1": {"x2:x4", "x3:x5", "x6:x7"}, "x4": {"x1:x2", "x3:x7", "x5:x6"}} {
		if !slices.Equal(found[name], want) {
			t.Errorf("%s with %v, want %v", name, found[name], want)
		}
	}
	if len(found) != 7 {
		t.Errorf("%d factors are confounded, want 7", len(found))
	}
}

// TestPredictMeetsNorris: at x = 500 the line of the NIST set Norris, by its certified
// coefficients; far outside it warns.
func TestPredictMeetsNorris(t *testing.T) {
	data := sheet(t, "nist/lls_Norris.csv")
	m := Model{Response: floats(t, data["y"])}
	m.Columns, m.Terms = polynomial(floats(t, data["x"]), 1)
	f := fitted(t, m)
	p, err := f.Predict(Setting{Numbers: map[string]float64{"x": 500}})
	if err != nil || len(p.Warnings) > 0 {
		t.Fatal(p, err)
	}
	wantDigits(t, "at 500", p.Estimate, -0.262323073774029+500*1.00211681802045, 12)
	if !(p.NewLow < p.Low && p.Low < p.Estimate && p.Estimate < p.High && p.High < p.NewHigh) {
		t.Errorf("%+v", p)
	}
	if p, err = f.Predict(Setting{Numbers: map[string]float64{"x": 5000}}); err != nil || len(p.Warnings) != 1 {
		t.Errorf("%+v (%v)", p, err)
	}
	if _, err = f.Predict(Setting{}); err == nil {
		t.Error("a setting without x was answered")
	}
}

// BenchmarkEffects fits 200 swatches by 8 factors, with the analysis of
// variance, the warnings and the pairs of means.
func BenchmarkEffects(b *testing.B) {
	r := rand.New(rand.NewPCG(3, 3))
	m := Model{}
	var names []string
	for k := range 8 {
		c := Column{Name: fmt.Sprintf("f%d", k)}
		for range 200 {
			if k < 4 {
				c.Labels = append(c.Labels, string(rune('A'+r.IntN(3))))
			} else {
				c.Numbers = append(c.Numbers, float64(r.IntN(5)))
			}
		}
		m.Columns, names = append(m.Columns, c), append(names, c.Name)
	}
	for range 200 {
		m.Response = append(m.Response, r.NormFloat64())
	}
	for order := 1; order <= 2; order++ {
		m.Terms = Cross(names, order)
		b.Run(fmt.Sprintf("order%d", order), func(b *testing.B) {
			for b.Loop() {
				f, err := FitLinear(m)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := f.Anova(2); err != nil {
					b.Fatal(err)
				}
				f.Warnings(nil)
				for _, name := range names[:4] {
					if _, _, err := f.Means(name); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
