package stat

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// sheet reads a CSV file of testdata with its head as columns of text.
func sheet(t testing.TB, name string) map[string][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	r.FieldsPerRecord = -1
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for j, head := range records[0] {
		out[head] = []string{}
		for _, row := range records[1:] {
			if j < len(row) {
				out[head] = append(out[head], row[j])
			}
		}
	}
	return out
}

func floats(t testing.TB, text []string) []float64 {
	t.Helper()
	var out []float64
	for _, s := range text {
		var v float64
		if _, err := fmt.Sscan(strings.TrimPrefix(s, "+"), &v); err != nil {
			t.Fatalf("%q: %v", s, err)
		}
		out = append(out, v)
	}
	return out
}

// certified reads parameter -> numbers of a NIST file.
func certified(t testing.TB, name string) (estimate, sd map[string]float64) {
	t.Helper()
	s := sheet(t, name)
	estimate, sd = map[string]float64{}, map[string]float64{}
	for i, p := range s["parameter"] {
		if s["estimate"][i] == "Infinity" {
			continue
		}
		estimate[p] = floats(t, s["estimate"][i:i+1])[0]
		if s["sd"][i] != "" {
			sd[p] = floats(t, s["sd"][i:i+1])[0]
		}
	}
	return estimate, sd
}

func fitted(t testing.TB, m Model) *LinearFit {
	t.Helper()
	f, err := FitLinear(m)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func polynomial(x []float64, degree int) ([]Column, []Term) {
	var terms []Term
	for k := 1; k <= degree; k++ {
		term := Term{}
		for range k {
			term = append(term, "x")
		}
		terms = append(terms, term)
	}
	return []Column{{Name: "x", Numbers: x}}, terms
}

// TestLinearFitsMeetNIST checks the NIST StRD linear sets of lower (Norris, Pontius),
// average and higher difficulty (Longley, Filip, Wampler) against their certified
// values: 13 digits everywhere, Filip included, where plain float64 has none.
func TestLinearFitsMeetNIST(t *testing.T) {
	for _, c := range []struct {
		name   string
		degree int // 0: several x
	}{{"Norris", 1}, {"Pontius", 2}, {"Longley", 0}, {"Filip", 10}, {"Wampler1", 5}, {"Wampler2", 5}, {"Wampler3", 5}, {"Wampler5", 5}} {
		data := sheet(t, "nist/lls_"+c.name+".csv")
		m := Model{Response: floats(t, data["y"])}
		if c.degree > 0 {
			m.Columns, m.Terms = polynomial(floats(t, data["x"]), c.degree)
		} else {
			for k := 1; k <= 6; k++ {
				name := fmt.Sprintf("x%d", k)
				m.Columns = append(m.Columns, Column{Name: name, Numbers: floats(t, data[name])})
				m.Terms = append(m.Terms, Term{name})
			}
		}
		f := fitted(t, m)
		want, sd := certified(t, "nist/lls_"+c.name+"_certified.csv")
		least, leastSD := 15.0, 15.0
		for k, got := range f.Coefficients {
			name := fmt.Sprintf("B%d", k)
			least = min(least, digits(got.Estimate, want[name]))
			if sd[name] == 0 {
				// an exact polynomial: only the rounding of its decimals is left
				if got.SE > 1e-12 {
					t.Errorf("%s: sd of %s is %g, want 0", c.name, name, got.SE)
				}
				continue
			}
			leastSD = min(leastSD, digits(got.SE, sd[name]))
		}
		if len(f.Coefficients) != len(sd) {
			t.Fatalf("%s: %d coefficients, aliases %v", c.name, len(f.Coefficients), f.Aliases)
		}
		t.Logf("%s: %.1f digits of the coefficients, %.1f of their sd", c.name, least, leastSD)
		if !(least >= 12.5) || !(leastSD >= 12.5) {
			t.Errorf("%s: %.1f digits of the coefficients, %.1f of their sd", c.name, least, leastSD)
		}
		wantDigits(t, c.name+" R2", f.R2, want["r_squared"], 12.5)
		if want["residual_sd"] > 0 {
			wantDigits(t, c.name+" residual sd", f.Sigma, want["residual_sd"], 12.5)
			wantDigits(t, c.name+" F", f.F, want["F"], 12.5)
		}
		if f.DF != int(want["residual_df"]) || f.FDF != int(want["regression_df"]) {
			t.Errorf("%s: %d and %d degrees of freedom", c.name, f.FDF, f.DF)
		}
	}
}

// TestVarianceMeetsNIST checks the NIST StRD analyses of variance. SmLs07 adds 1e12
// to numbers with one decimal, and float64 keeps only 4 digits of the spread there:
// the answer is right for the numbers that float64 holds, which exact fractions show.
func TestVarianceMeetsNIST(t *testing.T) {
	want := sheet(t, "nist/anova_certified.csv")
	for i, name := range want["dataset"] {
		data := sheet(t, "nist/anova_"+name+".csv")
		y := floats(t, data["response"])
		f := fitted(t, Model{Response: y, Columns: []Column{{Name: "treatment", Labels: data["treatment"]}}, Terms: []Term{{"treatment"}}})
		rows, err := f.Anova(1)
		if err != nil {
			t.Fatal(err)
		}
		cert := func(column string) float64 { return floats(t, want[column][i:i+1])[0] }
		least := map[string]float64{"SmLs04": 9, "SmLs07": 4}[name]
		if least == 0 {
			least = 12.5
		}
		t.Logf("%s: F %.1f digits, residual sd %.1f", name, digits(rows[0].F, cert("f")), digits(f.Sigma, cert("residual_sd")))
		wantDigits(t, name+" F", rows[0].F, cert("f"), least)
		wantDigits(t, name+" SS between", rows[0].SS, cert("ss_between"), least)
		wantDigits(t, name+" residual sd", f.Sigma, cert("residual_sd"), least)
		wantDigits(t, name+" R2", f.R2, cert("r_squared"), least)
		between, within := exactVariance(data["treatment"], y)
		wantDigits(t, name+" between, by fractions", rows[0].SS, between, 14)
		wantDigits(t, name+" within, by fractions", f.RSS, within, 14)
		if rows[0].DF != int(cert("df_between")) || f.DF != int(cert("df_within")) {
			t.Errorf("%s: %d and %d degrees of freedom", name, rows[0].DF, f.DF)
		}
	}
}

// exactVariance returns the sums of squares of float64 numbers by exact fractions.
func exactVariance(label []string, y []float64) (between, within float64) {
	sum, count := map[string]*big.Rat{}, map[string]int64{}
	all := new(big.Rat)
	for i, l := range label {
		v := new(big.Rat).SetFloat64(y[i])
		if sum[l] == nil {
			sum[l] = new(big.Rat)
		}
		sum[l].Add(sum[l], v)
		count[l]++
		all.Add(all, v)
	}
	all.Quo(all, big.NewRat(int64(len(y)), 1))
	b, w := new(big.Rat), new(big.Rat)
	for l, s := range sum {
		d := new(big.Rat).Sub(new(big.Rat).Quo(s, big.NewRat(count[l], 1)), all)
		b.Add(b, d.Mul(d, d).Mul(d, big.NewRat(count[l], 1)))
	}
	for i, l := range label {
		d := new(big.Rat).Sub(new(big.Rat).SetFloat64(y[i]), new(big.Rat).Quo(sum[l], big.NewRat(count[l], 1)))
		w.Add(w, d.Mul(d, d))
	}
	between, _ = b.Float64()
	within, _ = w.Float64()
	return between, within
}

// TestUnbalancedVarianceMeetsR checks types 1, 2 and 3 on Moore's conformity data and
// on 17 invented swatches against R 4.2.2 (anova, car::Anova).
func TestUnbalancedVarianceMeetsR(t *testing.T) {
	moore, swatch := sheet(t, "r/moore.csv"), sheet(t, "r/swatch_unbalanced.csv")
	two := func(y []float64, a, b string, from map[string][]string) *LinearFit {
		return fitted(t, Model{Response: y, Columns: []Column{{Name: a, Labels: from[a]}, {Name: b, Labels: from[b]}}, Terms: Cross([]string{a, b}, 2)})
	}
	fits := map[string]*LinearFit{
		"moore":  two(floats(t, moore["conformity"]), "fcategory", "partner.status", moore),
		"swatch": two(floats(t, swatch["L"]), "liquid", "metal", swatch),
	}
	want := sheet(t, "r/case1_unbalanced_anova.csv")
	checked := 0
	for i, name := range want["case"] {
		var kind int
		fmt.Sscan(want["type"][i], &kind)
		rows, err := fits[name].Anova(kind)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if !strings.EqualFold(r.Term, want["term"][i]) {
				continue
			}
			checked++
			wantDigits(t, fmt.Sprint(name, kind, r.Term, " SS"), r.SS, floats(t, want["ss"][i:i+1])[0], 9)
			if want["F"][i] != "NA" {
				wantDigits(t, fmt.Sprint(name, kind, r.Term, " F"), r.F, floats(t, want["F"][i:i+1])[0], 9)
				wantDigits(t, fmt.Sprint(name, kind, r.Term, " p"), r.P, floats(t, want["p"][i:i+1])[0], 8)
			}
		}
	}
	if checked != 24 {
		t.Errorf("%d lines were compared, want 24", checked)
	}
}

// TestJointMeetsR: an interaction tested as coefficients together is its line of type 2.
func TestJointMeetsR(t *testing.T) {
	moore := sheet(t, "r/moore.csv")
	f := fitted(t, Model{Response: floats(t, moore["conformity"]), Columns: []Column{{Name: "fcategory", Labels: moore["fcategory"]}, {Name: "partner.status", Labels: moore["partner.status"]}}, Terms: Cross([]string{"fcategory", "partner.status"}, 2)})
	var names []string
	for _, c := range f.Coefficients {
		if c.Term == "fcategory:partner.status" {
			names = append(names, c.Name)
		}
	}
	got, err := f.Joint(names)
	if err != nil || got.DF != 2 {
		t.Fatal(got, err)
	}
	want := sheet(t, "r/case1_unbalanced_anova.csv")
	checked := 0
	for i, term := range want["term"] {
		if want["case"][i] == "moore" && want["type"][i] == "2" && term == "fcategory:partner.status" {
			wantDigits(t, "SS", got.SS, floats(t, want["ss"][i:i+1])[0], 9)
			wantDigits(t, "F", got.F, floats(t, want["F"][i:i+1])[0], 9)
			checked++
		}
	}
	if checked != 1 {
		t.Errorf("%d lines were compared", checked)
	}
	for _, names := range [][]string{nil, {"nothing"}} {
		if _, err := f.Joint(names); err == nil {
			t.Errorf("%q were tested", names)
		}
	}
}

// TestFitsMoveWithTheResponse: least squares is linear in the response.
func TestFitsMoveWithTheResponse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 20).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		r := rand.New(rand.NewPCG(seed, 1))
		m := Model{Columns: []Column{{Name: "x"}, {Name: "g"}}, Terms: []Term{{"x"}, {"g"}}}
		for i := range n {
			m.Response = append(m.Response, r.NormFloat64())
			m.Columns[0].Numbers = append(m.Columns[0].Numbers, r.Float64()*100)
			m.Columns[1].Labels = append(m.Columns[1].Labels, string(rune('A'+i%2)))
		}
		a, err := FitLinear(m)
		if err != nil {
			t.Fatal(err)
		}
		scaled := m
		scaled.Response = nil
		for _, y := range m.Response {
			scaled.Response = append(scaled.Response, 7-3*y)
		}
		b, err := FitLinear(scaled)
		if err != nil {
			t.Fatal(err)
		}
		sum, lever := 0.0, 0.0
		for i := range a.Residuals {
			sum += a.Residuals[i]
			lever += a.Leverage[i]
		}
		if math.Abs(sum) > 1e-9 || math.Abs(lever-3) > 1e-9 {
			t.Fatalf("residuals sum to %g, leverage to %g", sum, lever)
		}
		for k := 1; k < 3; k++ {
			if math.Abs(b.Coefficients[k].Estimate+3*a.Coefficients[k].Estimate) > 1e-9 || math.Abs(b.Coefficients[k].T+a.Coefficients[k].T) > 1e-6*(1+math.Abs(a.Coefficients[k].T)) {
				t.Fatalf("%+v and %+v", a.Coefficients[k], b.Coefficients[k])
			}
		}
	})
}
