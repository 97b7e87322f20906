package stat

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func citations(t testing.TB) []Choice {
	s := sheet(t, "r/citations_pairs.csv")
	var out []Choice
	for i, a := range s["journal1"] {
		out = append(out, Choice{A: a, B: s["journal2"][i], WinA: floats(t, s["win1"][i:i+1])[0], WinB: floats(t, s["win2"][i:i+1])[0]})
	}
	return out
}

// TestChoicesMeetR: citations between journals (Stigler 1994) in R 4.2.2, BradleyTerry2.
func TestChoicesMeetR(t *testing.T) {
	r, d, err := FitChoices(citations(t), "Biometrika", 0)
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case5_bradley_terry.csv")
	for i, term := range w["term"] {
		for _, a := range r.Abilities {
			if ".."+a.Name == term {
				wantDigits(t, a.Name, a.Estimate, floats(t, w["ability"][i:i+1])[0], 9)
				wantDigits(t, a.Name+" se", a.SE, floats(t, w["se"][i:i+1])[0], 7)
			}
		}
		wantDigits(t, "deviance", r.Deviance, floats(t, w["deviance"][i:i+1])[0], 8)
	}
	// 1.959964 is the two-sided 5 % point of the normal distribution (tables)
	for _, a := range r.Abilities {
		if math.Abs(a.High-a.Estimate-1.959964*a.SE) > 1e-6 || math.Abs(a.Low-a.Estimate+1.959964*a.SE) > 1e-6 {
			t.Errorf("%+v", a)
		}
	}
	if p := d[0].P; !(p >= 0 && p < 1e-6) || d[0].Low >= d[0].High {
		t.Errorf("%+v", d[0])
	}
	if r.DF != 3 || len(d) != 6 || r.Abilities[0].Name != "JRSS-B" || r.Abilities[1].Estimate != 0 || r.Abilities[1].SE != 0 {
		t.Errorf("%+v", r)
	}
	// the reference moves the zero, not the differences
	m, e, err := FitChoices(citations(t), "", 0)
	if err != nil || m.Reference != "mean" {
		t.Fatal(m, err)
	}
	sum := 0.0
	for _, a := range m.Abilities {
		sum += a.Estimate
	}
	if math.Abs(sum) > 1e-12 {
		t.Errorf("the abilities sum to %v", sum)
	}
	for i := range d {
		wantDigits(t, "difference", e[i].Estimate, d[i].Estimate, 10)
		wantDigits(t, "its se", e[i].SE, d[i].SE, 8)
	}
}

// TestTiesFollowDavidson: for two things the likelihood is saturated, so the odds of
// the wins and of a tie against the geometric mean of the wins (Davidson 1970) are
// those counted: ln(8/2) and 6/sqrt(16).
func TestTiesFollowDavidson(t *testing.T) {
	r, d, err := FitChoices([]Choice{{A: "a", B: "b", WinA: 8, WinB: 2, Ties: 6}}, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	wantDigits(t, "ability", d[0].Estimate, math.Log(4), 9)
	wantDigits(t, "tie", r.Tie, 1.5, 9)
	if r.DF != 0 || r.Deviance > 1e-9 {
		t.Errorf("%+v", r)
	}
}

func TestOneSidedChoicesAreRefused(t *testing.T) {
	for name, c := range map[string][]Choice{
		"a won all":        {{A: "a", B: "b", WinA: 3}, {A: "a", B: "c", WinA: 2}, {A: "b", B: "c", WinA: 1, WinB: 1}},
		"two islands":      {{A: "a", B: "b", WinA: 1, WinB: 1}, {A: "c", B: "d", WinA: 1, WinB: 1}},
		"none":             nil,
		"itself":           {{A: "a", B: "a", WinA: 1}},
		"a count below 0":  {{A: "a", B: "b", WinA: -1, WinB: 1}},
		"not even counted": {{A: "a", B: "b"}},
	} {
		if r, _, err := FitChoices(c, "", 0); err == nil {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if _, _, err := FitChoices(citations(t), "nobody", 0); !errors.Is(err, ErrModel) {
		t.Error("an unknown reference was taken")
	}
}

func TestSwappingSidesChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var a, b []Choice
		for i := range 4 {
			for j := i + 1; j < 4; j++ {
				c := Choice{A: strconv.Itoa(i), B: strconv.Itoa(j), WinA: float64(rapid.IntRange(1, 9).Draw(t, "a")), WinB: float64(rapid.IntRange(1, 9).Draw(t, "b")), Ties: float64(rapid.IntRange(0, 3).Draw(t, "ties"))}
				a, b = append(a, c), append([]Choice{{c.B, c.A, c.WinB, c.WinA, c.Ties}}, b...)
			}
		}
		x, _, err := FitChoices(a, "", 0)
		if err != nil {
			t.Fatal(err)
		}
		y, _, err := FitChoices(b, "", 0)
		if err != nil {
			t.Fatal(err)
		}
		// They come by estimate: two that are level may change places by a last digit.
		swapped := map[string]Ability{}
		for _, v := range y.Abilities {
			swapped[v.Name] = v
		}
		for _, v := range x.Abilities {
			if w := swapped[v.Name]; math.Abs(v.Estimate-w.Estimate) > 1e-8 || math.Abs(v.SE-w.SE) > 1e-8 {
				t.Fatalf("%+v and %+v", v, w)
			}
		}
	})
}

// TestFriedmanMeetsR: rounding times (Hollander and Wolfe 1973) in R 4.2.2.
func TestFriedmanMeetsR(t *testing.T) {
	s := sheet(t, "r/rounding_times.csv")
	var rows [][]float64
	for i := range s["V1"] {
		rows = append(rows, []float64{floats(t, s["V1"][i:i+1])[0], floats(t, s["V2"][i:i+1])[0], floats(t, s["V3"][i:i+1])[0]})
	}
	f, err := FriedmanTest(rows)
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case6_friedman.csv")
	wantDigits(t, "chi2", f.Chi2, floats(t, w["chi2"])[0], 9)
	wantDigits(t, "p", f.P, floats(t, w["p"])[0], 9)
	wantDigits(t, "W", f.W, floats(t, w["kendallW"])[0], 9)
	if _, err := FriedmanTest([][]float64{{1, 1}, {2, 2}}); !errors.Is(err, ErrNoSpread) {
		t.Errorf("judges who tell nothing apart: %v", err)
	}
}

// TestKrippendorffMeetsItsExample: Krippendorff 2011, 'Computing Krippendorff's
// Alpha-Reliability', example C: four observers, twelve units with missing labels,
// nominal alpha 0.743 (from memory).
func TestKrippendorffMeetsItsExample(t *testing.T) {
	rows := [][]string{
		{"1", "2", "3", "3", "2", "1", "4", "1", "2", "", "", ""},
		{"1", "2", "3", "3", "2", "2", "4", "1", "2", "5", "", "3"},
		{"", "3", "3", "3", "2", "3", "4", "2", "2", "5", "1", ""},
		{"1", "2", "3", "3", "2", "4", "4", "1", "2", "5", "1", ""},
	}
	var vs []Verdict
	for judge, row := range rows {
		for unit, l := range row {
			if l != "" {
				vs = append(vs, Verdict{strconv.Itoa(judge), strconv.Itoa(unit), l})
			}
		}
	}
	a, err := Krippendorff(vs)
	if err != nil || math.Abs(a-0.743) > 5e-4 {
		t.Errorf("alpha is %.4f (%v), want 0.743", a, err)
	}
}
