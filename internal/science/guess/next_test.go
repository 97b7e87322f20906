package guess

import (
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strconv"
	"testing"
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
