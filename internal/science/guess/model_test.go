package guess

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// table reads a CSV file of testdata as maps by column.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range records[1:] {
		row := map[string]string{}
		for i, name := range records[0] {
			row[name] = rec[i]
		}
		out = append(out, row)
	}
	return out
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

var square = []Factor{{Name: "x1", High: 1}, {Name: "x2", High: 1}}

func braninRows(t testing.TB) []Row {
	var rows []Row
	for _, r := range table(t, "branin_train.csv") {
		rows = append(rows, Row{At: []float64{number(t, r["x1"]), number(t, r["x2"])}, Out: []float64{number(t, r["y"])}})
	}
	return rows
}

// The hyperparameters and answers are those of DiceKriging 1.6.0 (Roustant,
// Ginsbourger and Deville 2012), Matern 5/2: theta 0.35 and 0.6, variance 4000.
func TestPredictionsMeetDiceKriging(t *testing.T) {
	rows, checked := braninRows(t), 0
	for _, want := range table(t, "gp_predictions.csv") {
		if want["kernel"] != "matern5_2" || want["mode"] == "mle_UK" {
			continue
		}
		m, err := prepare(square, rows)
		if err != nil {
			t.Fatal(err)
		}
		h := Hyper{Lengths: []float64{0.35, 0.6}, Noise: []float64{0}}
		if want["mode"] != "fixed_UK" { // the mean is told: 50
			m.known, m.centre = true, []float64{50}
			m.project()
		}
		if want["mode"] == "noise100_SK" {
			h.Noise[0] = 100.0 / 4000
		}
		if err := m.settle(h); err != nil {
			t.Fatal(err)
		}
		m.process[0].scale2 = 4000
		got, err := m.At([]float64{number(t, want["x1"]), number(t, want["x2"])}, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		for _, pair := range [][2]float64{{got.Mean[0], number(t, want["mean"])}, {got.SD[0], number(t, want["sd"])}} {
			if math.Abs(pair[0]-pair[1]) > 1e-7*math.Abs(pair[1]) {
				t.Errorf("%s at %s, %s: %.10g, want %.10g", want["mode"], want["x1"], want["x2"], pair[0], pair[1])
			}
		}
		if want["mode"] == "fixed_UK" {
			for _, params := range table(t, "gp_params.csv") {
				if gls := number(t, params["fixed_trend_gls"]); params["kernel"] == "matern5_2" && math.Abs(m.centre[0]+m.axes[0][0]*m.process[0].mean[0]-gls) > 1e-6 {
					t.Errorf("the mean is %v, want %v", m.centre[0]+m.process[0].mean[0], gls)
				}
			}
		}
		checked++
	}
	if checked != 18 {
		t.Errorf("%d answers were checked, not 18", checked)
	}
}

// mixed returns rows of a smooth function of two numbers and a label, in blocks.
func mixed(n int, noise float64, r *rand.Rand) ([]Factor, []Row) {
	factors := []Factor{{Name: "time", Low: 1, High: 24, Log: true}, {Name: "salt", High: 100}, {Name: "metal", Levels: []string{"copper", "brass", "bronze"}}}
	rows := make([]Row, n)
	shift := [][]float64{{1, 0, -1}, {-1, 1, 0}, {0, -1, 1}}
	for i := range rows {
		time, salt, metal := 1+23*r.Float64(), 100*r.Float64(), float64(r.IntN(3))
		b := r.IntN(3)
		out := []float64{60 - 10*math.Log(time) + 3*metal, 20 - salt/3 + 2*metal, 10 + 10*math.Sin(salt/20+math.Log(time))}
		for a := range out {
			out[a] += noise * (r.NormFloat64() + shift[b][a])
		}
		rows[i] = Row{[]float64{time, salt, metal}, fmt.Sprintf("day %d", b), out}
	}
	return factors, rows
}

func TestGradientIsThatOfTheDensity(t *testing.T) {
	factors, rows := mixed(14, 1, rand.New(rand.NewPCG(1, 2)))
	m, err := prepare(factors, rows)
	if err != nil {
		t.Fatal(err)
	}
	for _, opt := range []Options{{RepeatSD: 1.5}, {}, {Exact: true}} {
		f := newFitter(m, opt)
		r := rand.New(rand.NewPCG(3, 4))
		at := make([]float64, len(f.middle))
		for i := range at {
			at[i] = f.middle[i] + 0.5*r.NormFloat64()
		}
		f.eval(at)
		grad := f.grad
		for i := range at {
			const step = 1e-5
			ends := [2]float64{}
			for e, sign := range []float64{-1, 1} {
				moved := append([]float64{}, at...)
				moved[i] += sign * step
				ends[e] = f.eval(moved)
			}
			if want := (ends[1] - ends[0]) / (2 * step); math.Abs(grad[i]-want) > 1e-4*(1+math.Abs(want)) {
				t.Errorf("%+v, by number %d: %v, differences say %v", opt, i, grad[i], want)
			}
		}
	}
}

// Dubrule's formula against leaving each row out in fact.
func TestLeaveOneOutIsLeavingOut(t *testing.T) {
	factors, rows := mixed(12, 1, rand.New(rand.NewPCG(5, 6)))
	h := Hyper{Lengths: []float64{0.7, 0.5}, Same: []float64{0.6}, Noise: []float64{0.01, 0.02, 0.03}, Block: []float64{0.01, 0.01, 0.02}}
	m, err := Given(factors, rows, h)
	if err != nil {
		t.Fatal(err)
	}
	left := m.LeaveOneOut()
	for i := range rows {
		rest := append(append([]Row{}, rows[:i]...), rows[i+1:]...)
		less, err := prepare(factors, rest)
		if err != nil {
			t.Fatal(err)
		}
		less.axes, less.centre = m.axes, m.centre
		less.project()
		if err := less.settle(h); err != nil {
			t.Fatal(err)
		}
		// within its block, which At leaves out: tell the offset as one more point
		u, _ := units(factors, rows[i].At)
		got := m.outputs(func(o int) float64 {
			p := less.process[o]
			sum := p.mean[0]
			for j, x := range less.x {
				k := less.kernel.at(less.scale, u, x)
				if less.Blocks[less.block[j]] == rows[i].Block {
					k += p.block
				}
				sum += k * p.alpha[0][j]
			}
			return sum
		})
		for a := range got {
			if math.Abs(got[a]-left[i].Mean[a]) > 1e-8 {
				t.Errorf("row %d, output %d: %v, left out in fact %v", i, a, left[i].Mean[a], got[a])
			}
		}
	}
}

// A model of 60 rows meets what made them: blocks, noise and shape.
func TestFitFindsNoiseAndShape(t *testing.T) {
	factors, rows := mixed(60, 1, rand.New(rand.NewPCG(7, 8)))
	m, err := Fit(factors, rows, Options{RepeatSD: 1.5}, rand.New(rand.NewPCG(9, 9)))
	if err != nil {
		t.Fatal(err)
	}
	for a, sd := range m.RepeatSD() {
		if sd < 0.6 || sd > 1.5 {
			t.Errorf("output %d: repeats differ by %v, made with 1", a, sd)
		}
	}
	got, err := m.At([]float64{5, 40, 1}, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{60 - 10*math.Log(5) + 3, 20 - 40.0/3 + 2, 10 + 10*math.Sin(2+math.Log(5))}
	for a := range want {
		if math.Abs(got.Mean[a]-want[a]) > 2 {
			t.Errorf("output %d: %v, in truth %v", a, got.Mean[a], want[a])
		}
		if !(got.Low[a] < got.Mean[a] && got.Mean[a] < got.High[a] && got.SD[a] < got.SwatchSD[a]) {
			t.Errorf("output %d: %+v", a, got)
		}
	}
}

func TestTurningTheOutputsTurnsThePrediction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		factors, rows := mixed(rapid.IntRange(4, 15).Draw(t, "rows"), 1, r)
		for i := range rows {
			rows[i].Block = ""
		}
		h := Hyper{Lengths: []float64{0.7, 0.5}, Same: []float64{0.6}, Noise: []float64{0.02, 0.02, 0.02}}
		a, err := Given(factors, rows, h)
		if err != nil {
			t.Fatal(err)
		}
		angle := rapid.Float64Range(0, 6).Draw(t, "angle")
		sin, cos := math.Sincos(angle)
		turned := make([]Row, len(rows))
		for i, row := range rows {
			y := row.Out
			turned[i] = Row{row.At, "", []float64{cos*y[0] - sin*y[1], sin*y[0] + cos*y[1], y[2] + 7}}
		}
		b, err := Given(factors, turned, h)
		if err != nil {
			t.Fatal(err)
		}
		at := []float64{3, 50, 2}
		p, _ := a.At(at, 0.9)
		q, _ := b.At(at, 0.9)
		want := []float64{cos*p.Mean[0] - sin*p.Mean[1], sin*p.Mean[0] + cos*p.Mean[1], p.Mean[2] + 7}
		for i := range want {
			if math.Abs(want[i]-q.Mean[i]) > 1e-6*(1+math.Abs(want[i])) {
				t.Fatalf("output %d: %v, want %v", i, q.Mean[i], want[i])
			}
		}
	})
}

func TestWhatCannotBeIsRefused(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	good := []Row{{[]float64{0, 0}, "", []float64{1}}, {[]float64{1, 0}, "", []float64{2}}, {[]float64{0, 1}, "", []float64{3}}}
	nan := append([]Row{}, good...)
	nan[1].Out = []float64{math.NaN()}
	short := append([]Row{}, good...)
	short[2].At = []float64{1}
	for name, c := range map[string]struct {
		factors []Factor
		rows    []Row
		want    error
	}{
		"two rows":             {square, good[:2], ErrTooFew},
		"no factors":           {nil, good, ErrFactors},
		"not a number":         {square, nan, ErrFactors},
		"too few settings":     {square, short, ErrFactors},
		"an empty range":       {[]Factor{{Name: "a"}, {Name: "b", High: 1}}, good, ErrFactors},
		"ratios from 0":        {[]Factor{{Name: "a", High: 1, Log: true}, {Name: "b", High: 1}}, good, ErrFactors},
		"a level that is none": {[]Factor{{Name: "a", Levels: []string{"x"}}, {Name: "b", High: 1}}, good, ErrFactors},
		"computed first":       {[]Factor{{Name: "a", High: 1, Computed: true}, {Name: "b", High: 1}}, good, ErrFactors},
		"all computed":         {[]Factor{{Name: "a", High: 1, Computed: true}, {Name: "b", High: 1, Computed: true}}, good, ErrFactors},
	} {
		if _, err := Fit(c.factors, c.rows, Options{}, r); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if m, err := Fit(square, good, Options{}, r); err != nil {
		t.Errorf("three rows were refused: %v", err)
	} else if _, err := m.At([]float64{0, math.Inf(1)}, 0.9); !errors.Is(err, ErrFactors) {
		t.Errorf("an infinite setting: %v", err)
	}
	same := []Row{good[0], good[0], good[0], good[0]}
	if m, err := Fit(square, same, Options{Exact: true}, r); err != nil {
		t.Errorf("one swatch four times was refused: %v", err)
	} else if p, err := m.At([]float64{0.5, 0.5}, 0.9); err != nil || math.IsNaN(p.Mean[0]+p.SD[0]) {
		t.Errorf("one swatch four times: %+v, %v", p, err)
	}
}
