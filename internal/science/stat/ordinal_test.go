package stat

import (
	"errors"
	"math"
	"testing"
)

func wine(t testing.TB) (Model, []int, []string) {
	s := sheet(t, "r/wine.csv")
	var scores []int
	for _, v := range floats(t, s["rating"]) {
		scores = append(scores, int(v)-1)
	}
	return Model{Columns: []Column{{Name: "temp", Labels: s["temp"]}, {Name: "contact", Labels: s["contact"]}}, Terms: []Term{{"temp"}, {"contact"}}}, scores, s["judge"]
}

// TestJudgedScoresMeetR: Randall's wine (1989) with its nine judges in R 4.2.2,
// ordinal::clmm with 10 points.
func TestJudgedScoresMeetR(t *testing.T) {
	m, scores, judges := wine(t)
	f, err := FitJudged(m, scores, judges)
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case5_ordinal.csv")
	// R stops climbing when the slope is below 1e-4: our top must be no lower than its
	x, _, _, err := Model{Response: make([]float64, len(scores)), Columns: m.Columns, Terms: m.Terms}.slopes()
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][]int{}
	for i, j := range judges {
		rows[j] = append(rows[j], i)
	}
	top := 0.0
	for _, g := range rows {
		top += judgeLikelihood([]float64{-1.6234875, 1.512796, 4.2270535, 6.0861523, 3.061891, 1.8334334, math.Log(1.1347833)}, g, x, scores, 4)
	}
	if top > f.LogLik {
		t.Errorf("R's estimates are likelier: %.12f, ours %.12f", top, f.LogLik)
	}
	got, k := append(f.Thresholds, f.Coefficients...), 0
	for i, model := range w["model"] {
		if model != "clmm_judge_nAGQ10" {
			continue
		}
		want := floats(t, w["est"][i:i+1])[0]
		switch w["term"][i] {
		case "logLik":
			wantDigits(t, "log likelihood", f.LogLik, want, 7)
		case "judge_sd":
			wantDigits(t, "judges", f.JudgeSD, want, 5)
		default:
			t.Logf("%s %.9g %.9g: %.1f, se %.1f", got[k].Name, got[k].Estimate, want, digits(got[k].Estimate, want), digits(got[k].SE, floats(t, w["se"][i:i+1])[0]))
			wantDigits(t, got[k].Name, got[k].Estimate, want, 5)
			wantDigits(t, got[k].Name+" se", got[k].SE, floats(t, w["se"][i:i+1])[0], 5)
			k++
		}
	}
	if k != 6 {
		t.Errorf("%d terms compared", k)
	}
}

func TestScoresThatCannotBeAreRefused(t *testing.T) {
	m, scores, judges := wine(t)
	if _, err := FitJudged(m, scores, judges[:3]); !errors.Is(err, ErrUnequal) {
		t.Error(err)
	}
	if _, err := FitOrdinal(Model{}, []int{0, 2, 2}); !errors.Is(err, ErrModel) {
		t.Errorf("a score that no row has: %v", err)
	}
	if _, err := FitOrdinal(Model{}, []int{0, 0, 0}); !errors.Is(err, ErrNoSpread) {
		t.Errorf("one score for all: %v", err)
	}
	split := Model{Columns: []Column{{Name: "x", Numbers: []float64{0, 0, 0, 1, 1, 1}}}, Terms: []Term{{"x"}}}
	if f, err := FitOrdinal(split, []int{0, 0, 0, 1, 1, 1}); !errors.Is(err, ErrNoFit) {
		t.Errorf("scores parted fully by x have no finite effect: %+v, %v", f, err)
	}
}
