package stat

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

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

// TestLenthQuantileMeetsTables: the experimentwise 5 % of Ye and Hamada (2000) for 7
// effects, from memory, and the others drawn anew with numpy 1.24.2, 400000 designs each.
func TestLenthQuantileMeetsTables(t *testing.T) {
	for _, tc := range []struct {
		m          int
		conf, want float64
	}{
		{7, 0.95, 4.867}, {7, 0.9, 3.681}, {7, 0.983, 7.694}, {11, 0.95, 4.440}, {11, 0.983, 6.278}, {15, 0.95, 4.230}, {15, 0.9, 3.503}, {15, 0.983, 5.635},
	} {
		got, err := LenthQuantile(tc.m, tc.conf)
		if err != nil || math.Abs(got/tc.want-1) > 0.03 {
			t.Errorf("%d effects, %g: got %.3f (%v), want %.3f", tc.m, tc.conf, got, err, tc.want)
		}
	}
	for _, tc := range []struct {
		m    int
		conf float64
	}{{5, 0.9}, {256, 0.9}, {7, 1}, {7, 0}, {7, math.NaN()}} {
		if q, err := LenthQuantile(tc.m, tc.conf); err == nil {
			t.Errorf("%d effects at %g: %v", tc.m, tc.conf, q)
		}
	}
}
