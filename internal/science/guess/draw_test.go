package guess

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What is drawn has the mean and the spread that At says: Student's t of df degrees of
// freedom is wider than its standard deviation parameter by the root of df/(df-2).
func TestDrawsSpreadAsPredicted(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	factors := []Factor{{Name: "x", Low: 0, High: 10}, {Name: "y", Low: 0, High: 5}}
	var rows []Row
	for range 20 {
		x, y := 10*r.Float64(), 5*r.Float64()
		rows = append(rows, Row{At: []float64{x, y}, Out: []float64{50 + x*y/3 + r.NormFloat64(), -x + y*y + r.NormFloat64(), 3*y - x + r.NormFloat64()}})
	}
	m, err := Fit(factors, rows, Options{RepeatSD: 1}, r)
	if err != nil {
		t.Fatal(err)
	}
	at := []float64{4, 2}
	p, err := m.At(at, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	var all [][]float64
	for seed := range uint64(40) {
		some, err := m.Draw(at, true, rand.New(rand.NewPCG(seed, 7)))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, some...)
	}
	wide := math.Sqrt(m.df / (m.df - 2))
	for a := range p.Mean {
		mean, square := 0.0, 0.0
		for _, y := range all {
			mean += y[a] / float64(len(all))
		}
		for _, y := range all {
			square += (y[a] - mean) * (y[a] - mean) / float64(len(all))
		}
		if math.Abs(mean-p.Mean[a]) > 0.1*p.SwatchSD[a] {
			t.Errorf("output %d: drawn about %.2f, predicted %.2f", a, mean, p.Mean[a])
		}
		if got := math.Sqrt(square) / (wide * p.SwatchSD[a]); got < 0.9 || got > 1.1 {
			t.Errorf("output %d: drawn with %.2f times the predicted spread", a, got)
		}
	}
	if _, err := m.Draw([]float64{1}, true, r); err == nil {
		t.Error("half a setting was drawn")
	}
}

// Proposals stand where hands can make them, as do the swatches of a question.
func TestRoundedSettingsAreProposed(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	factors := []Factor{{Name: "hours", Low: 1, High: 20, Log: true}, {Name: "double", Low: 0, High: 40, Computed: true}}
	var rows []Row
	for range 12 {
		x := 1 + 19*r.Float64()
		rows = append(rows, Row{At: []float64{x, 2 * x}, Out: []float64{x + 0.3*r.NormFloat64()}})
	}
	m, err := Fit(factors, rows, Options{RepeatSD: 0.3}, r)
	if err != nil {
		t.Fatal(err)
	}
	round := func(at []float64) { at[0] = math.Round(at[0]) }
	compute := func(at []float64) ([]float64, bool) {
		if at[0] != math.Round(at[0]) {
			t.Fatalf("%v was not rounded", at[0])
		}
		return []float64{2 * at[0]}, true
	}
	plan, err := m.Next(Goal{Loss: func(out []float64) float64 { return math.Abs(out[0] - 7.4) }, Round: round, Compute: compute, Batch: 3, Effort: 200}, r)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range plan.Proposals {
		if p.At[0] != math.Round(p.At[0]) || p.At[1] != 2*p.At[0] {
			t.Errorf("proposed %v", p.At)
		}
	}
	got, err := m.Ask(Question{Factor: 0, From: 2, To: 18, Round: round, Compute: compute, Batch: 2, Effort: 200}, r)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range got.Runs {
		if at[0] != math.Round(at[0]) {
			t.Errorf("proposed %v", at)
		}
	}
}
