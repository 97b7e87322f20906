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

// TestLenthMeetsCeramic: NIST/SEMATECH e-Handbook 5.4.7.1, all 31 effects of a 2^5
// without replicates, computed with R 4.2.2.
func TestLenthMeetsCeramic(t *testing.T) {
	data := sheet(t, "handbook/ceramic_2to5.csv")
	m := Model{Response: floats(t, data["y"])}
	var names []string
	for k := 1; k <= 5; k++ {
		n := fmt.Sprintf("x%d", k)
		names = append(names, n)
		m.Columns = append(m.Columns, Column{Name: n, Numbers: floats(t, data[n])})
	}
	m.Terms = Cross(names, 5)
	f := fitted(t, m)
	want := sheet(t, "handbook/ceramic_effects_lenth.csv")
	published := map[string]float64{}
	for i, term := range want["term"] {
		published[term] = floats(t, want["effect"][i:i+1])[0]
	}
	var effects []float64
	for _, c := range f.Coefficients[1:] {
		effects = append(effects, 2*c.Estimate)
		wantDigits(t, c.Name, 2*c.Estimate, published[c.Name], 7)
		if !math.IsNaN(c.SE) || !math.IsNaN(c.P) {
			t.Errorf("%s has an error although nothing is left", c.Name)
		}
	}
	l, err := LenthMargins(effects, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	wantDigits(t, "s0", l.S0, published["s0"], 9)
	wantDigits(t, "PSE", l.PSE, published["PSE"], 9)
	wantDigits(t, "ME", l.ME, published["ME_95"], 8)
	wantDigits(t, "SME", l.SME, published["SME_95"], 7)

	m.Terms = []Term{{"x1"}, {"x2"}, {"x1", "x2"}, {"x3"}, {"x1", "x3"}, {"x4"}, {"x1", "x4"}, {"x2", "x4"}, {"x1", "x2", "x4"}, {"x3", "x4"}, {"x5"}, {"x4", "x5"}}
	rows, err := fitted(t, m).Anova(1)
	if err != nil {
		t.Fatal(err)
	}
	table := sheet(t, "handbook/ceramic_12term_anova.csv")
	for _, r := range rows {
		for i, term := range table["term"] {
			if strings.EqualFold(term, r.Term) {
				wantDigits(t, term, r.SS, floats(t, table["ss"][i:i+1])[0], 9)
				if i < 12 {
					wantDigits(t, term+" p", r.P, floats(t, table["p"][i:i+1])[0], 7)
				}
			}
		}
	}
}

// handbookNames turns R's names of terms into ours.
func handbookName(term string) string {
	term = strings.TrimSuffix(strings.TrimPrefix(term, "I("), ")")
	if term == "(Intercept" {
		return "intercept"
	}
	return term
}

// TestHandbookFits checks worked cases of the NIST/SEMATECH e-Handbook (catapult
// 5.4.7.2, CVD 5.4.7.3, tyre tread 5.5.3.2.2), computed with R 4.2.2.
func TestHandbookFits(t *testing.T) {
	quadratic := func(a ...string) []Term {
		var out []Term
		for _, n := range a {
			out = append(out, Term{n})
		}
		for _, n := range a {
			out = append(out, Term{n, n})
		}
		return append(out, Cross(a, 2)[len(a):]...)
	}
	load := func(file string, y string, take map[string]string, transform func(float64) float64) Model {
		data := sheet(t, "handbook/"+file)
		m := Model{Response: floats(t, data[y])}
		for i := range m.Response {
			if transform != nil {
				m.Response[i] = transform(m.Response[i])
			}
		}
		for head, name := range take {
			m.Columns = append(m.Columns, Column{Name: name, Numbers: floats(t, data[head])})
		}
		return m
	}
	cvd := map[string]string{"xp": "p", "xh": "h"}
	cat := map[string]string{"x1": "h", "x2": "s", "x3": "b", "x4": "l", "x5": "e"}
	tyre := map[string]string{"x1": "x1", "x2": "x2", "x3": "x3"}
	five := []string{"h", "s", "b", "l", "e"}
	for _, c := range []struct {
		fits, model string
		m           Model
		terms       []Term
	}{
		{"cvd_fits.csv", "uniformity_quadratic", load("cvd_cci.csv", "uniformity", cvd, nil), quadratic("p", "h")},
		{"cvd_fits.csv", "uniformity_reduced", load("cvd_cci.csv", "uniformity", cvd, nil), Cross([]string{"p", "h"}, 2)},
		{"cvd_fits.csv", "stress_quadratic", load("cvd_cci.csv", "stress", cvd, nil), quadratic("p", "h")},
		{"cvd_fits.csv", "stress_reduced", load("cvd_cci.csv", "stress", cvd, nil), []Term{{"p"}, {"h"}, {"p", "p"}}},
		{"catapult_fits.csv", "all_2fi", load("catapult_2to5m1.csv", "y", cat, nil), Cross(five, 2)},
		{"catapult_fits.csv", "reduced", load("catapult_2to5m1.csv", "y", cat, nil), append(Cross(five, 1), Term{"b", "l"})},
		{"catapult_fits.csv", "log_main", load("catapult_2to5m1.csv", "y", cat, math.Log), Cross(five, 1)},
		{"tyre_fits.csv", "y1", load("tyre_ccd_derringer.csv", "y1", tyre, nil), quadratic("x1", "x2", "x3")},
		{"tyre_fits.csv", "y2", load("tyre_ccd_derringer.csv", "y2", tyre, nil), quadratic("x1", "x2", "x3")},
		{"tyre_fits.csv", "y3", load("tyre_ccd_derringer.csv", "y3", tyre, nil), Cross([]string{"x1", "x2", "x3"}, 1)},
		{"tyre_fits.csv", "y4", load("tyre_ccd_derringer.csv", "y4", tyre, nil), quadratic("x1", "x2", "x3")},
	} {
		c.m.Terms = c.terms
		f := fitted(t, c.m)
		got := map[string]Coefficient{}
		for _, k := range f.Coefficients {
			got[k.Name] = k
		}
		want := sheet(t, "handbook/"+c.fits)
		checked := 0
		for i, model := range want["model"] {
			if model != c.model {
				continue
			}
			name := handbookName(want["term"][i])
			k, ok := got[name]
			if !ok {
				t.Fatalf("%s: no %s among %v", c.model, name, got)
			}
			checked++
			for what, v := range map[string][2]float64{"est": {k.Estimate}, "se": {k.SE}, "t": {k.T}, "p": {k.P}, "sigma": {f.Sigma}, "r2": {f.R2}} {
				wantDigits(t, fmt.Sprint(c.model, " ", name, " ", what), v[0], floats(t, want[what][i:i+1])[0], 7)
			}
		}
		if checked != len(got) {
			t.Errorf("%s: %d of %d terms compared", c.model, checked, len(got))
		}
	}
}

// TestEightRunsMeetHandbook checks the eddy current (published estimates) and springs
// (Yates's columns) cases of the e-Handbook.
func TestEightRunsMeetHandbook(t *testing.T) {
	for _, c := range []struct{ data, want, column string }{{"eddy_2to3.csv", "eddy_2to3_published.csv", "estimate"}, {"springs_2to3.csv", "yates_springs.csv", "effect"}} {
		data := sheet(t, "handbook/"+c.data)
		m := Model{Response: floats(t, data["y"]), Terms: Cross([]string{"x1", "x2", "x3"}, 3)}
		for _, n := range []string{"x1", "x2", "x3"} {
			m.Columns = append(m.Columns, Column{Name: n, Numbers: floats(t, data[n])})
		}
		want := sheet(t, "handbook/"+c.want)
		for i, term := range want["term"] {
			w := floats(t, want[c.column][i:i+1])[0]
			for _, k := range fitted(t, m).Coefficients {
				if strings.ReplaceAll(k.Name, ":", "") != strings.Replace(term, "mean", "intercept", 1) {
					continue
				}
				if c.column == "effect" && term != "mean" {
					w /= 2
				}
				if math.Abs(k.Estimate-w) > 1e-12 {
					t.Errorf("%s %s: %v, want %v", c.data, term, k.Estimate, w)
				}
			}
		}
	}
}

// TestBikeIsConfoundedAsGenerated: in the 2^(7-4) of Box, Hunter and Hunter (1978,
// p. 391) x4 = x1x2, x5 = x1x3, x6 = x2x3 and x7 = x1x2x3.
func TestBikeIsConfoundedAsGenerated(t *testing.T) {
	data := sheet(t, "handbook/bike_2to7m4.csv")
	m := Model{Response: floats(t, data["y"])}
	for k := 1; k <= 7; k++ {
		n := fmt.Sprintf("x%d", k)
		m.Columns = append(m.Columns, Column{Name: n, Numbers: floats(t, data[n])})
		m.Terms = append(m.Terms, Term{n})
	}
	m.Terms = append(m.Terms, Cross([]string{"x1", "x2", "x3"}, 3)[3:]...)
	f := fitted(t, m)
	if len(f.Aliases) != 4 {
		t.Fatalf("aliases %v", f.Aliases)
	}
	for i, w := range []Alias{{"x1:x2", []Weighted{{"x4", 1}}}, {"x1:x3", []Weighted{{"x5", 1}}}, {"x2:x3", []Weighted{{"x6", 1}}}, {"x1:x2:x3", []Weighted{{"x7", 1}}}} {
		if a := f.Aliases[i]; a.Name != w.Name || len(a.Of) != 1 || a.Of[0] != w.Of[0] {
			t.Errorf("%v, want %v", a, w)
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
