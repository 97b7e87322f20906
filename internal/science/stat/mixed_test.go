package stat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func oats(t testing.TB) (map[string][]string, []float64, []Random) {
	o := sheet(t, "r/oats_split_plot.csv")
	return o, floats(t, o["yield"]), []Random{{"Block", o["Block"]}, {"Variety:Block", Nested(o["Block"], o["Variety"])}}
}

func mixedFit(t testing.TB, m Model, r []Random) *MixedFit {
	t.Helper()
	f, err := FitMixed(m, r)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// items reads the answers item -> value.
func items(t testing.TB, name string) map[string]float64 {
	s := sheet(t, name)
	out := map[string]float64{}
	for i, k := range s["item"] {
		out[k] = floats(t, s["value"][i:i+1])[0]
	}
	return out
}

// TestOatsMeetR checks Yates's oats (1935), a split plot, against R 4.2.2 with lme4 and
// lmerTest. lmerTest takes the information by differences, so its degrees of freedom
// are good to 5 digits.
func TestOatsMeetR(t *testing.T) {
	o, y, random := oats(t)
	want := items(t, "r/case4_oats.csv")
	f := mixedFit(t, Model{Response: y, Columns: []Column{{Name: "nitro", Numbers: floats(t, o["nitro"])}, {Name: "Variety", Labels: o["Variety"]}}, Terms: []Term{{"nitro"}, {"Variety"}}}, random)
	for _, v := range f.Variances {
		name := strings.Replace(v.Name, "residual", "Residual", 1)
		// lme4 stops when the variances are good to 5 to 7 digits
		wantDigits(t, "sd "+name, v.SD, want["sd_"+name], 5)
		t.Logf("sd %s: %.1f digits", name, digits(v.SD, want["sd_"+name]))
	}
	wantDigits(t, "criterion", f.Criterion, want["REML_criterion"], 7.9)
	for _, c := range f.Coefficients {
		name := strings.Replace(strings.Replace(c.Name, "intercept", "(Intercept)", 1), "=", "", 1)
		wantDigits(t, "coef "+name, c.Estimate, want["coef_"+name], 7)
		wantDigits(t, "se "+name, c.SE, want["se_"+name], 5.5)
		if c.Term == "Variety" {
			// balanced: twice the whole plots' mean square over the 24 rows of a variety
			wantDigits(t, "se "+name, c.SE, math.Sqrt(2*6013.305556/10/24), 9)
		}
		wantDigits(t, "df "+name, c.DF, want["df_satt_"+name], 5)
		t.Logf("%s: se %.1f digits, df %.1f", name, digits(c.SE, want["se_"+name]), digits(c.DF, want["df_satt_"+name]))
	}
	g := mixedFit(t, Model{Response: y, Coding: SumToZero, Columns: []Column{{Name: "nitro_f", Labels: o["nitro"]}, {Name: "Variety", Labels: o["Variety"]}}, Terms: Cross([]string{"nitro_f", "Variety"}, 2)}, random)
	for _, m := range g.Tests() {
		wantDigits(t, "F "+m.Term, m.F, want["F_satt_"+m.Term], 5.5)
		wantDigits(t, "denominator "+m.Term, m.Residual, want["denDF_satt_"+m.Term], 6)
		t.Logf("F %s: %.9g", m.Term, m.F)
	}
	for _, m := range g.Tests() {
		var names []string
		for _, c := range g.Coefficients {
			if c.Term == m.Term {
				names = append(names, c.Name)
			}
		}
		if j, err := g.Joint(names); err != nil || j.F != m.F || j.Residual != m.Residual {
			t.Errorf("%s together: %+v, %v", m.Term, j, err)
		}
	}
	roger, err := g.TestsByKenwardRoger()
	if err != nil {
		t.Fatal(err)
	}
	r, err := g.ByKenwardRoger()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range roger {
		var names []string
		for _, c := range r.Coefficients {
			if c.Term == m.Term {
				names = append(names, c.Name)
			}
		}
		j, err := r.Joint(names)
		if err != nil {
			t.Fatal(err)
		}
		wantDigits(t, "Kenward-Roger F of coefficients together "+m.Term, j.F, want["F_KR_"+m.Term], 5.5)
		wantDigits(t, "Kenward-Roger F "+m.Term, m.F, want["F_KR_"+m.Term], 5.5)
		wantDigits(t, "Kenward-Roger denominator "+m.Term, m.Residual, want["denDF_KR_"+m.Term], 6)
	}
	// balanced: the F of each stratum of the classical analysis, exactly
	s := sheet(t, "r/case4_oats_strata.csv")
	for i, term := range s["term"] {
		for _, m := range g.Tests() {
			if m.Term == term || term == "Variety:nitro_f" && m.Term == "nitro_f:Variety" {
				wantDigits(t, "stratum F "+term, m.F, floats(t, s["F"][i:i+1])[0], 7)
			}
		}
	}
	plots, rest := 6013.305556/10, 7968.75/45
	for i, w := range []float64{(15875.27778/5 - plots) / 12, (plots - rest) / 4, rest} {
		wantDigits(t, "variance by mean squares", g.Variances[i].SD*g.Variances[i].SD, w, 8)
	}
	if p := f.NeedsRandom(y); !(p < 1e-3) {
		t.Errorf("blocks that differ much are said to be needless: p = %v", p)
	}
}

// TestFurnaceMeetsR checks the nested furnace case of the NIST/SEMATECH e-Handbook:
// wafers in zones in runs, against lme4 and, since it is balanced, against the mean
// squares themselves.
func TestFurnaceMeetsR(t *testing.T) {
	s := sheet(t, "handbook/furnace_nested.csv")
	f := mixedFit(t, Model{Response: floats(t, s["thickness"])}, []Random{{"run", s["run"]}, {"rz", Nested(s["run"], s["zone"])}})
	want := items(t, "r/case4_furnace.csv")
	within, zone, run := want["SS_within"]/84, want["SS_zone_in_run"]/63, want["SS_run"]/20
	for i, w := range []float64{(run - zone) / 8, (zone - within) / 2, within} {
		v := f.Variances[i]
		wantDigits(t, "variance "+v.Name, v.SD*v.SD, w, 8)
		name := strings.Replace(v.Name, "residual", "Residual", 1)
		// lme4 stops at 5 to 6 digits
		t.Logf("%s: %.9g, R %.9g, mean squares %.9g", name, v.SD*v.SD, want["var_"+name], w)
		wantDigits(t, "variance "+v.Name, v.SD*v.SD, want["var_"+name], 5)
	}
	wantDigits(t, "intercept", f.Coefficients[0].Estimate, want["intercept"], 7)
	wantDigits(t, "df", f.Coefficients[0].DF, 20, 6)
}

// TestNoRunEffectIsHeldAtNil: labels that have nothing to do with the response leave
// the plain linear model.
func TestNoRunEffectIsHeldAtNil(t *testing.T) {
	m := Model{}
	var labels []string
	for i := range 12 {
		// every group has the same mean
		m.Response = append(m.Response, []float64{1, 2, 3, 4}[i%4])
		labels = append(labels, fmt.Sprint(i/4))
	}
	f := mixedFit(t, m, []Random{{"run", labels}})
	if !f.Variances[0].AtNil || f.Variances[0].SD != 0 {
		t.Errorf("%+v", f.Variances)
	}
	g := fitted(t, m)
	wantDigits(t, "se", f.Coefficients[0].SE, g.Coefficients[0].SE, 8)
	wantDigits(t, "df", f.Coefficients[0].DF, 11, 6)
}

// TestMixedIntervalsCoverAsOftenAsTheySay draws 400 small split plots from a known
// model; three standard errors of the count are allowed.
func TestMixedIntervalsCoverAsOftenAsTheySay(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const runs = 400
	held := 0
	for range runs {
		m := Model{Columns: []Column{{Name: "x"}}, Terms: []Term{{"x"}}, Conf: 0.9}
		var run []string
		for g := range 8 {
			shift := 2 * r.NormFloat64()
			for range 3 {
				x := float64(g % 2) // set for the whole run
				m.Columns[0].Numbers = append(m.Columns[0].Numbers, x)
				m.Response = append(m.Response, 5+3*x+shift+r.NormFloat64())
				run = append(run, fmt.Sprint(g))
			}
		}
		c := mixedFit(t, m, []Random{{"run", run}}).Coefficients[1]
		if c.Low <= 3 && 3 <= c.High {
			held++
		}
	}
	if math.Abs(float64(held)-0.9*runs) > 3*math.Sqrt(0.09*runs) {
		t.Errorf("the 90%% interval held the truth %d times of %d", held, runs)
	}
}

func TestMixedModelsThatCannotBeAreRefused(t *testing.T) {
	y := []float64{1, 2, 3, 4, 5, 7}
	for name, labels := range map[string][]string{"one group": {"a", "a", "a", "a", "a", "a"}, "a group a row": {"a", "b", "c", "d", "e", "f"}, "too short": {"a", "b"}} {
		if f, err := FitMixed(Model{Response: y}, []Random{{"run", labels}}); err == nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// nestedSwatches are 200 invented swatches by 8 factors, both faces, in ten fillings of a
// chamber on five days.
func nestedSwatches(t testing.TB) (Model, []Random) {
	s := sheet(t, "r/swatches_nested.csv")
	m := Model{Response: floats(t, s["b"])}
	for _, name := range []string{"metal", "liquid", "wetting", "brushing"} {
		m.Columns, m.Terms = append(m.Columns, Column{Name: name, Labels: s[name]}), append(m.Terms, Term{name})
	}
	for _, name := range []string{"salt", "strength", "gap", "hours"} {
		m.Columns, m.Terms = append(m.Columns, Column{Name: name, Numbers: floats(t, s[name])}), append(m.Terms, Term{name})
	}
	return m, []Random{{"day", s["day"]}, {"run", s["run"]}, {"swatch", s["swatch"]}}
}

// TestNestedSwatchesMeetR: lme4 and lmerTest with the optimiser's finest stop.
func TestNestedSwatchesMeetR(t *testing.T) {
	m, random := nestedSwatches(t)
	want, f := items(t, "r/case8_swatches_nested.csv"), mixedFit(t, m, random)
	wantDigits(t, "criterion", f.Criterion, want["criterion"], 12)
	for _, v := range f.Variances {
		wantDigits(t, "sd "+v.Name, v.SD, want["sd_"+v.Name], 6)
	}
	least := [3]float64{99, 99, 99}
	for _, c := range f.Coefficients {
		name := strings.Replace(c.Name, "=", "", 1)
		for i, x := range []struct {
			what      string
			got, want float64
			digits    float64
		}{{"coef ", c.Estimate, want["coef_"+name], 5.5}, {"se ", c.SE, want["se_"+name], 6}, {"df ", c.DF, want["df_"+name], 5.5}} {
			wantDigits(t, x.what+name, x.got, x.want, x.digits)
			least[i] = min(least[i], digits(x.got, x.want))
		}
	}
	t.Logf("digits at least: estimates %.1f, standard errors %.1f, degrees of freedom %.1f", least[0], least[1], least[2])
}

func BenchmarkMixed200By8(b *testing.B) {
	m, random := nestedSwatches(b)
	for b.Loop() {
		if _, err := FitMixed(m, random); err != nil {
			b.Fatal(err)
		}
	}
}
