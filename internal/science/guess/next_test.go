package guess

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// branin is Dixon and Szegö 1978's, on the unit square; its minimum is 0.397887.
func branin(u []float64) float64 {
	x, y := 15*u[0]-5, 15*u[1]
	return math.Pow(y-5.1/(4*math.Pi*math.Pi)*x*x+5/math.Pi*x-6, 2) + 10*(1-1/(8*math.Pi))*math.Cos(x) + 10
}

// hartmann6 is Dixon and Szegö 1978's, on the unit cube; its minimum is -3.32237.
func hartmann6(u []float64) float64 {
	weights := []float64{1, 1.2, 3, 3.2}
	rates := [][]float64{{10, 3, 17, 3.5, 1.7, 8}, {0.05, 10, 17, 0.1, 8, 14}, {3, 3.5, 1.7, 10, 17, 8}, {17, 8, 0.05, 10, 0.1, 14}}
	places := [][]float64{{1312, 1696, 5569, 124, 8283, 5886}, {2329, 4135, 8307, 3736, 1004, 9991}, {2348, 1451, 3522, 2883, 3047, 6650}, {4047, 8828, 8732, 5743, 1091, 381}}
	sum := 0.0
	for i, w := range weights {
		d := 0.0
		for j, x := range u {
			d += rates[i][j] * math.Pow(x-places[i][j]/1e4, 2)
		}
		sum -= w * math.Exp(-d)
	}
	return sum
}

// minimise returns the least value found in so many evaluations, the first of them
// scattered.
func minimise(t testing.TB, f func([]float64) float64, dim, first, total int, seed uint64) float64 {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	factors := make([]Factor, dim)
	for i := range factors {
		factors[i] = Factor{Name: strconv.Itoa(i), High: 1}
	}
	var rows []Row
	least := math.Inf(1)
	try := func(at []float64) {
		y := f(at)
		least = min(least, y)
		rows = append(rows, Row{At: at, Out: []float64{y}})
	}
	for _, u := range (&Model{factors: factors, set: dim}).scatter(first, r) {
		try(u)
	}
	opt := Options{Exact: true, Starts: 2}
	for len(rows) < total {
		m, err := Fit(factors, rows, opt, r)
		if err != nil {
			t.Fatal(err)
		}
		opt.Warm = &m.Hyper
		plan, err := m.Next(Goal{Loss: func(out []float64) float64 { return out[0] }}, r)
		if err != nil {
			t.Fatal(err)
		}
		try(plan.Proposals[0].At)
	}
	return least
}

func median(xs []float64) float64 {
	sort.Float64s(xs)
	return (xs[(len(xs)-1)/2] + xs[len(xs)/2]) / 2
}

// seeds is how often the searches run; more with GUESS_SEEDS.
func seeds(few int) int {
	if n, err := strconv.Atoi(os.Getenv("GUESS_SEEDS")); err == nil {
		return n
	}
	return few
}

func TestBraninIsFoundIn40(t *testing.T) {
	var found []float64
	for seed := range seeds(3) {
		found = append(found, minimise(t, branin, 2, 8, 40, uint64(seed)))
	}
	if m := median(found); m > 0.397887+0.01 {
		t.Errorf("the median of %v is %v", found, m)
	}
	t.Log(found)
}

func TestHartmannIsFoundIn100(t *testing.T) {
	var found []float64
	for seed := range seeds(1) {
		found = append(found, minimise(t, hartmann6, 6, 15, 100, uint64(seed)))
	}
	if m := median(found); m > -3.2 {
		t.Errorf("the median of %v is %v", found, m)
	}
	t.Log(found)
}

// three is a bench of one number and a label with three outputs.
func three(n int, noise float64, r *rand.Rand) ([]Factor, []Row) {
	factors := []Factor{{Name: "hours", Low: 1, High: 24, Log: true}, {Name: "metal", Levels: []string{"copper", "brass"}}}
	var rows []Row
	for range n {
		at := []float64{math.Exp(math.Log(24) * r.Float64()), float64(r.IntN(2))}
		out := truth(at)
		for a := range out {
			out[a] += noise * r.NormFloat64()
		}
		rows = append(rows, Row{At: at, Out: out})
	}
	return factors, rows
}

func truth(at []float64) []float64 {
	h := math.Log(at[0]) / math.Log(24)
	return []float64{70 - 30*h, 15 - 35*h + 5*at[1], 25 - 30*h*h}
}

func TestProposalsKeepToWhatIsAllowed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		factors, rows := three(rapid.IntRange(3, 12).Draw(t, "rows"), 1, r)
		m, err := Fit(factors, rows, Options{RepeatSD: 1, Starts: 1}, r)
		if err != nil {
			t.Fatal(err)
		}
		allowed := func(at []float64) bool { return at[1] == 1 && at[0] > 2 && at[0] < 6 }
		goal := Goal{Loss: Toward(colour.Lab{L: 55, A: 5, B: 20}), Target: []float64{55, 5, 20}, Near: 3, Allowed: allowed, Batch: rapid.IntRange(1, 4).Draw(t, "batch"), Effort: 100}
		plan, err := m.Next(goal, r)
		if err != nil {
			t.Fatal(err)
		}
		if len(plan.Proposals) != goal.Batch {
			t.Fatalf("%d proposals of %d", len(plan.Proposals), goal.Batch)
		}
		for _, p := range plan.Proposals {
			if !allowed(p.At) || !(p.Loss > 0) || !(p.Chance >= 0 && p.Chance <= 1) || !(p.Gain >= 0) {
				t.Fatalf("%+v", p)
			}
		}
		asked, err := m.Ask(Question{Factor: 0, From: 3, To: 5, Allowed: allowed, Batch: 2, Effort: 100}, r)
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range asked.Runs {
			if !allowed(at) {
				t.Fatalf("%v is not allowed", at)
			}
		}
	})
}

func TestNothingAllowedIsSaid(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	factors, rows := three(6, 1, r)
	m, err := Fit(factors, rows, Options{}, r)
	if err != nil {
		t.Fatal(err)
	}
	never := func([]float64) bool { return false }
	if _, err := m.Next(Goal{Loss: Toward(colour.Lab{}), Allowed: never}, r); !errors.Is(err, ErrNothingAllowed) {
		t.Errorf("toward a target: %v", err)
	}
	if _, err := m.Ask(Question{Factor: 0, From: 1, To: 2, Allowed: never}, r); !errors.Is(err, ErrNothingAllowed) {
		t.Errorf("toward a question: %v", err)
	}
	if _, err := m.Ask(Question{Factor: 5, From: 1, To: 2}, r); !errors.Is(err, ErrFactors) {
		t.Errorf("no such factor: %v", err)
	}
}

func TestStopsWithinTheSpreadOfOnesHands(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	factors, rows := three(30, 1, r)
	m, err := Fit(factors, rows, Options{RepeatSD: 1.5}, r)
	if err != nil {
		t.Fatal(err)
	}
	hit := truth(rows[7].At)
	target := colour.Lab{L: hit[0], A: hit[1], B: hit[2]}
	plan, err := m.Next(Goal{Loss: Toward(target), Target: hit, Near: 3}, r)
	if err != nil {
		t.Fatal(err)
	}
	if !plan.Stop || plan.Spread < 0.5 || plan.Spread > 2.5 {
		t.Errorf("a target that was hit: %+v", plan)
	}
	far := []float64{60, -60, 60}
	plan, err = m.Next(Goal{Loss: Toward(colour.Lab{L: far[0], A: far[1], B: far[2]}), Target: far, Near: 3}, r)
	if err != nil {
		t.Fatal(err)
	}
	if plan.Stop {
		t.Errorf("a target that can't be reached: %+v", plan)
	}
}

// What Ask promises comes true: the swatches it names, once made, leave the effect as
// uncertain as it said, and less than as many scattered ones do.
func TestQuestionsAreAnsweredBest(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	factors, rows := three(6, 0.5, r)
	h := Hyper{Lengths: []float64{0.6}, Same: []float64{0.5}, Noise: []float64{0.02, 0.05, 0.1}}
	m, err := Given(factors, rows, h)
	if err != nil {
		t.Fatal(err)
	}
	q := Question{Factor: 1, From: 0, To: 1, Batch: 4}
	found, err := m.Ask(q, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	after := func(points [][]float64) []float64 {
		more := &effect{Model: m.copy()}
		for i := range others { // a hypercube of the other factor
			at := (float64(i) + 0.5) / others
			more.from, more.to = append(more.from, []float64{at, 0}), append(more.to, []float64{at, 1})
		}
		more.prior = more.own()
		for _, p := range points {
			u, _ := units(factors, p)
			if !more.add(u, [][]float64{{0}, {0}, {0}}) {
				t.Fatal("a point could not be added")
			}
		}
		more.renew()
		return more.sd()
	}
	scattered := [][]float64{{2, 0}, {4, 1}, {9, 0}, {20, 1}}
	for a, sd := range after(found.Runs) {
		if math.Abs(sd-found.After[a]) > 0.03*sd {
			t.Errorf("output %d: %v after, promised %v", a, sd, found.After[a])
		}
		if worse := after(scattered)[a]; sd > worse || sd > 0.95*found.Now.SD[a] {
			t.Errorf("output %d: SD %v after what was asked for, %v after scattered ones, %v before", a, sd, worse, found.Now.SD[a])
		}
	}
	if lo, hi := found.Now.Low[1], found.Now.High[1]; lo > 5 || hi < 5 {
		t.Errorf("brass is 5 redder; the interval says %v to %v", lo, hi)
	}
}

// A batch does not propose one swatch several times while others tell more.
func TestBatchSpreads(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	factors, rows := three(5, 0.5, r)
	m, err := Fit(factors, rows, Options{RepeatSD: 0.5}, r)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := m.Next(Goal{Loss: Toward(colour.Lab{L: 45, A: -10, B: 5}), Near: 3, Batch: 4}, r)
	if err != nil {
		t.Fatal(err)
	}
	least, most := math.Inf(1), 0.0
	for _, p := range plan.Proposals {
		least, most = min(least, p.At[0]), max(most, p.At[0])
	}
	if most/least < 1.1 {
		t.Errorf("four proposals between %v and %v h", least, most)
	}
}

// The 300 swatches of BenchmarkFit stand for years of work; 3 outputs, 8 factors.
func many(n int) ([]Factor, []Row) {
	r := rand.New(rand.NewPCG(11, 12))
	factors := make([]Factor, 8)
	for i := range factors {
		factors[i] = Factor{Name: strconv.Itoa(i), High: 1}
	}
	factors[6], factors[7] = Factor{Name: "metal", Levels: []string{"copper", "brass", "bronze"}}, Factor{Name: "salt", Levels: []string{"a", "b"}}
	rows := make([]Row, n)
	for i := range rows {
		at := make([]float64, 8)
		for j := range at {
			at[j] = r.Float64()
		}
		at[6], at[7] = float64(r.IntN(3)), float64(r.IntN(2))
		grown := 1 - math.Exp(-3*at[0]*at[1]*(1+0.3*at[6]))
		rows[i] = Row{at, "day " + strconv.Itoa(i/8), []float64{
			60 - 25*grown + 5*at[7] + r.NormFloat64(), 15 - 35*grown*at[2] + r.NormFloat64(), 22 - 40*grown*at[3] + 6*math.Sin(4*at[4]) + r.NormFloat64()}}
	}
	return factors, rows
}

func BenchmarkFit300(b *testing.B) {
	factors, rows := many(300)
	for b.Loop() {
		if _, err := Fit(factors, rows, Options{RepeatSD: 1.5}, rand.New(rand.NewPCG(1, 1))); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBatchOfSixAfter300(b *testing.B) {
	factors, rows := many(300)
	m, err := Fit(factors, rows, Options{RepeatSD: 1.5}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := m.Next(Goal{Loss: Toward(colour.Lab{L: 45, A: -5, B: 5}), Near: 3, Batch: 6}, rand.New(rand.NewPCG(1, 1))); err != nil {
			b.Fatal(err)
		}
	}
}
