package stat

import (
	"math"
	"testing"
)

// TestVectorTestsMeetR: plastic film (Johnson and Wichern) in R 4.2.2, summary.manova.
func TestVectorTestsMeetR(t *testing.T) {
	s := sheet(t, "r/plastic_manova.csv")
	m := Model{Columns: []Column{{Name: "rate", Labels: s["rate"]}, {Name: "additive", Labels: s["additive"]}}, Terms: Cross([]string{"rate", "additive"}, 2)}
	got, err := VectorTests(m, [][]float64{floats(t, s["tear"]), floats(t, s["gloss"]), floats(t, s["opacity"])})
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case6_manova.csv")
	checked := 0
	for i, test := range w["test"] {
		for _, g := range got {
			if g.Criterion != test || g.Term != w["term"][i] {
				continue
			}
			checked++
			for what, v := range map[string]float64{"stat": g.Statistic, "approxF": g.F, "numdf": g.NumDF, "dendf": g.DenDF, "p": g.P} {
				wantDigits(t, test+" "+g.Term+" "+what, v, floats(t, w[what][i:i+1])[0], 8)
			}
		}
	}
	if checked != 12 {
		t.Errorf("%d lines compared", checked)
	}
}

// TestDesirabilityMeetsTyres: Derringer and Suich's tyre tread (1980), as the
// NIST/SEMATECH e-Handbook 5.5.3.2.2 works it, computed with R 4.2.2.
func TestDesirabilityMeetsTyres(t *testing.T) {
	data := sheet(t, "handbook/tyre_ccd_derringer.csv")
	linear := Cross([]string{"x1", "x2", "x3"}, 1)
	quadratic := append(Cross([]string{"x1", "x2", "x3"}, 2), Term{"x1", "x1"}, Term{"x2", "x2"}, Term{"x3", "x3"})
	open := math.Inf(1)
	w := sheet(t, "handbook/tyre_desirability.csv")
	for i := range w["where"] {
		number := func(k string) float64 { return floats(t, w[k][i:i+1])[0] }
		var ds []float64
		for k, r := range []struct {
			y     string
			terms []Term
			wish  Wish
		}{{"y1", quadratic, Wish{120, 170, open, 1}}, {"y2", quadratic, Wish{1000, 1300, open, 0}}, {"y3", linear, Wish{400, 500, 600, 0}}, {"y4", quadratic, Wish{60, 67.5, 75, 1}}} {
			m := Model{Response: floats(t, data[r.y]), Terms: r.terms}
			for _, n := range []string{"x1", "x2", "x3"} {
				m.Columns = append(m.Columns, Column{Name: n, Numbers: floats(t, data[n])})
			}
			p, err := fitted(t, m).Predict(Setting{Numbers: map[string]float64{"x1": number("x1"), "x2": number("x2"), "x3": number("x3")}})
			if err != nil {
				t.Fatal(err)
			}
			d, err := r.wish.Desirability(p.Estimate)
			if err != nil {
				t.Fatal(err)
			}
			wantDigits(t, w["where"][i]+" "+r.y, d, number([]string{"d1", "d2", "d3", "d4"}[k]), 8)
			ds = append(ds, d)
		}
		all, err := Together(ds)
		if err != nil {
			t.Fatal(err)
		}
		wantDigits(t, w["where"][i], all, number("D"), 8)
	}
}
