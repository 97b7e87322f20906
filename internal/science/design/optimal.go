package design

import (
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/science/stat"
)

// Criterion is what a searched plan is best at.
type Criterion int

// The criteria: D makes all effects sharp together, I makes predictions sharp
// over the whole region, A makes the effects sharp on average.
const (
	D Criterion = iota
	I
	A
)

// Search is what a plan is searched for.
//
// Fixed runs are made already and stay as they are; they come first. Forbidden
// says of a run's codes that it must not be made. Starts is the number of random
// beginnings, 0 for as many as take about a second: 4 to 2000.
type Search struct {
	Factors   []Factor
	Model     []stat.Term
	Runs      int // with the fixed ones
	Fixed     [][]float64
	Forbidden func(run []float64) bool
	Groups    []Group // over all runs, the fixed ones first
	Criterion Criterion
	Starts    int
}

// Found is a searched plan. Hits is how many of the Starts ended as good.
type Found struct {
	Plan
	Score  float64
	Starts int
	Hits   int
}

// Optimal searches the plan by coordinate exchange from random beginnings (Meyer
// & Nachtsheim 1995), most of them near the best of a few, and, where there are at most 400 combinations, by whole
// runs after that. Factors held in groups change for the whole group (Jones &
// Goos 2007). The best known plan need not be found; more Starts help.
//
// Score is the logarithm of the determinant of the information for D, minus the
// mean variance of a prediction for I, minus the sum of the coefficients'
// variances for A. The error is ErrSingular when no beginning led to a plan that
// tells all effects apart.
func Optimal(s Search, rng *rand.Rand) (Found, error) {
	x, err := newExchange(s, rng)
	if err != nil {
		return Found{}, err
	}
	starts := s.Starts
	if starts == 0 {
		budget := 3_000_000
		if x.weight != nil {
			budget /= 4 // runs that share chance shifts take longer to weigh
		}
		starts = min(max(budget/(x.n*x.q*x.q), 4), 2000)
	}
	best := Found{Score: math.Inf(-1), Starts: starts}
	var near [][]float64 // the best of this chain
	nearScore := math.Inf(-1)
	for start := range starts {
		if start%chain == 0 || near == nil {
			near, nearScore = nil, math.Inf(-1)
			if !x.begin() {
				return Found{}, askf("no way was found to give every run a setting that is allowed; forbid less, or let fewer things stay the same in a block")
			}
		} else if !x.shake(near) {
			continue
		}
		x.climb()
		score, ok := x.exact()
		if !ok {
			continue
		}
		if score > nearScore {
			near, nearScore = copied(x.runs), score
		}
		switch slack := 1e-7 * (1 + math.Abs(score)); {
		case score > best.Score+slack:
			best.Score, best.Hits, best.Runs = score, 1, copied(x.runs)
		case score > best.Score-slack:
			best.Hits++
		}
	}
	if best.Runs == nil {
		return Found{}, ErrSingular
	}
	best.Factors, best.Model, best.Groups = s.Factors, s.Model, s.Groups
	return best, nil
}

// chain is how many beginnings hang together: the first is random, each next one
// the best of them so far with a few runs drawn anew, which leads on more often
// than another random one.
const chain = 50

func copied(runs [][]float64) [][]float64 {
	out := make([][]float64, len(runs))
	for i, r := range runs {
		out[i] = slices.Clone(r)
	}
	return out
}
