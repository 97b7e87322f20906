package stat

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestTobitMeetsR: Tobin's data (1958) in R 4.2.2, survival::survreg.
func TestTobitMeetsR(t *testing.T) {
	s := sheet(t, "r/tobin.csv")
	var seen []Seen
	for _, y := range floats(t, s["durable"]) {
		if y > 0 {
			seen = append(seen, Exactly(y))
		} else {
			seen = append(seen, AtMost(y))
		}
	}
	f, err := FitCensored(Model{Columns: []Column{{Name: "age", Numbers: floats(t, s["age"])}, {Name: "quant", Numbers: floats(t, s["quant"])}}, Terms: []Term{{"age"}, {"quant"}}}, seen)
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case5_tobit_left_censored.csv")
	for i, c := range append(f.Coefficients, f.LogSigma) {
		wantDigits(t, c.Name, c.Estimate, floats(t, w["est"][i:i+1])[0], 7)
		wantDigits(t, c.Name+" se", c.SE, floats(t, w["se"][i:i+1])[0], 7)
	}
	wantDigits(t, "log likelihood", f.LogLik, floats(t, w["logLik"][:1])[0], 7)
	if f.Exact != 7 {
		t.Errorf("%d exact, want 7", f.Exact)
	}
}

// TestExactValuesGiveLeastSquares: with nothing censored the estimates are those of
// least squares, and sigma is the root of RSS over n.
func TestExactValuesGiveLeastSquares(t *testing.T) {
	data := sheet(t, "nist/lls_Norris.csv")
	m := Model{Response: floats(t, data["y"])}
	m.Columns, m.Terms = polynomial(floats(t, data["x"]), 1)
	var seen []Seen
	for _, y := range m.Response {
		seen = append(seen, Exactly(y))
	}
	f, err := FitCensored(m, seen)
	if err != nil {
		t.Fatal(err)
	}
	// certified by NIST: slope 1.00211681802045, residual SS 26.6173985294224 of 36
	wantDigits(t, "slope", f.Coefficients[1].Estimate, 1.00211681802045, 9)
	wantDigits(t, "sigma", f.Sigma, math.Sqrt(26.6173985294224/36), 9)
}

// TestIntervalsOfLooksFindTheTruth censors a known line to whole numbers, as looks
// through a lid do; the truth must lie within four standard errors.
func TestIntervalsOfLooksFindTheTruth(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	m := Model{Columns: []Column{{Name: "x"}}, Terms: []Term{{"x"}}}
	var seen []Seen
	for i := range 300 {
		x := float64(i%10) / 10
		y := 2 + 5*x + r.NormFloat64()
		m.Columns[0].Numbers = append(m.Columns[0].Numbers, x)
		switch low := math.Floor(y); {
		case low < 1:
			seen = append(seen, AtMost(1))
		case low > 6:
			seen = append(seen, AtLeast(7))
		default:
			seen = append(seen, Between(low, low+1))
		}
	}
	f, err := FitCensored(m, seen)
	if err != nil {
		t.Fatal(err)
	}
	for i, truth := range []float64{2, 5} {
		if c := f.Coefficients[i]; math.Abs(c.Estimate-truth) > 4*c.SE || c.SE > 0.5 {
			t.Errorf("%+v, truth %v", c, truth)
		}
	}
	if math.Abs(f.LogSigma.Estimate) > 4*f.LogSigma.SE {
		t.Errorf("%+v, truth 0", f.LogSigma)
	}
}

// TestFarTailKeepsItsDigits: log of the normal tail, Abramowitz and Stegun 1964, table
// 26.2, from memory: -log10 Q(10) = 23.11805; and the two ways meet where they join.
func TestFarTailKeepsItsDigits(t *testing.T) {
	wantDigits(t, "Q(10)", -logCDF(-10)/math.Ln10, 23.11805, 6)
	wantDigits(t, "at the seam", logCDF(-30.0000001), logCDF(-29.9999999), 7)
}

// TestOrdinalMeetsR: Randall's wine (1989) in R 4.2.2, ordinal::clm.
func TestOrdinalMeetsR(t *testing.T) {
	s := sheet(t, "r/wine.csv")
	var scores []int
	for _, v := range floats(t, s["rating"]) {
		scores = append(scores, int(v)-1)
	}
	f, err := FitOrdinal(Model{Columns: []Column{{Name: "temp", Labels: s["temp"]}, {Name: "contact", Labels: s["contact"]}}, Terms: []Term{{"temp"}, {"contact"}}}, scores)
	if err != nil {
		t.Fatal(err)
	}
	w := sheet(t, "r/case5_ordinal.csv")
	got := append(f.Thresholds, f.Coefficients...)
	checked := 0
	for i, model := range w["model"] {
		if model != "clm_logit" {
			continue
		}
		want := floats(t, w["est"][i:i+1])[0]
		if w["term"][i] == "logLik" {
			wantDigits(t, "log likelihood", f.LogLik, want, 7)
			continue
		}
		c := got[checked]
		if c.Term != "threshold" && strings.ReplaceAll(c.Name, "=", "") != w["term"][i] {
			t.Fatalf("%s is not %s", c.Name, w["term"][i])
		}
		wantDigits(t, c.Name, c.Estimate, want, 7)
		wantDigits(t, c.Name+" se", c.SE, floats(t, w["se"][i:i+1])[0], 7)
		checked++
	}
	if checked != 6 {
		t.Errorf("%d terms compared", checked)
	}
}
