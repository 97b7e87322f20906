package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// OrdinalFit is a cumulative logit model of ordered scores: logit P(score <= k) =
// threshold k less the sum of the terms.
type OrdinalFit struct {
	Thresholds   []Coefficient
	Coefficients []Coefficient // log odds of a higher score
	LogLik       float64
}

// FitOrdinal fits ordered scores (scores[i] from 0, every score up to the highest
// occurring) to the terms of m, whose Response is not read. Source: McCullagh 1980.
// Checked against R's ordinal::clm.
func FitOrdinal(m Model, scores []int) (*OrdinalFit, error) {
	m.Response = make([]float64, len(scores))
	top := 0
	for i, s := range scores {
		if s < 0 || s > 1000 {
			return nil, fmt.Errorf("%w: the score %d of row %d is not a rank from 0", ErrModel, s, i+1)
		}
		top = max(top, s)
	}
	count := make([]float64, top+1)
	for _, s := range scores {
		count[s]++
	}
	for s, c := range count {
		if c == 0 {
			return nil, fmt.Errorf("%w: no row has the score %d", ErrModel, s)
		}
	}
	if top == 0 {
		return nil, ErrNoSpread
	}
	m.NoIntercept = false
	conf, err := m.confidence()
	if err != nil {
		return nil, err
	}
	x, places, names, err := m.slopes()
	if err != nil {
		return nil, err
	}
	k := len(places)
	l := cumulative(x, scores, top)
	start := make([]float64, top+k)
	below := 0.0
	for s := range top {
		below += count[s]
		start[s] = math.Log(below / (float64(len(scores)) - below))
	}
	at, cov, err := l.climb(start)
	if err != nil {
		return nil, err
	}
	f := &OrdinalFit{LogLik: l.value(at)}
	for s := range top {
		f.Thresholds = append(f.Thresholds, normalCoefficient(fmt.Sprintf("%d|%d", s, s+1), "threshold", at[s], math.Sqrt(cov.At(s, s)), conf))
	}
	for j, name := range names {
		f.Coefficients = append(f.Coefficients, normalCoefficient(name, places[j], at[top+j], math.Sqrt(cov.At(top+j, top+j)), conf))
	}
	return f, nil
}

// slopes returns the rows of the design without the intercept and without columns that
// others make up.
func (m Model) slopes() (x *mat.Dense, terms, names []string, err error) {
	d, err := m.resolve()
	if err != nil {
		return nil, nil, nil, err
	}
	n := len(m.Response)
	if n == 0 {
		return nil, nil, nil, ErrTooFew
	}
	q := factorise(d.matrix(n), nil, n)
	columns := d.matrix(n)
	var keep []int
	for _, j := range q.kept {
		if d.places[j].term >= 0 {
			keep = append(keep, j)
			names, terms = append(names, d.places[j].name), append(terms, d.terms[d.places[j].term].String())
		}
	}
	x = mat.NewDense(n, max(1, len(keep)), nil)
	for k, j := range keep {
		for i := range n {
			x.Set(i, k, columns[j][i].float())
		}
	}
	return x, terms, names, nil
}

func expit(x float64) float64 {
	if x >= 0 {
		return 1 / (1 + math.Exp(-x))
	}
	e := math.Exp(x)
	return e / (1 + e)
}

// cumulative is the likelihood of the scores 0 to top; the first top parameters are
// the thresholds.
func cumulative(x *mat.Dense, scores []int, top int) likelihood {
	// ends returns the upper and lower bound of row i on the logit scale
	ends := func(p []float64, i int) (hi, lo float64) {
		eta := 0.0
		for j := top; j < len(p); j++ {
			eta += p[j] * x.At(i, j-top)
		}
		hi, lo = math.Inf(1), math.Inf(-1)
		if s := scores[i]; s < top {
			hi = p[s] - eta
		}
		if s := scores[i]; s > 0 {
			lo = p[s-1] - eta
		}
		return hi, lo
	}
	share := func(hi, lo float64) float64 {
		if lo > 0 { // both far up: take the small tails instead
			return expit(-lo) - expit(-hi)
		}
		return expit(hi) - expit(lo)
	}
	density := func(z float64) float64 { return expit(z) * expit(-z) }
	return likelihood{
		value: func(p []float64) float64 {
			sum := 0.0
			for i := range scores {
				s := share(ends(p, i))
				if !(s > 0) {
					return math.Inf(-1)
				}
				sum += math.Log(s)
			}
			return sum
		},
		gradient: func(p, g []float64) {
			clear(g)
			for i, s := range scores {
				hi, lo := ends(p, i)
				all := share(hi, lo)
				dh, dl := density(hi)/all, density(lo)/all
				if s < top {
					g[s] += dh
				}
				if s > 0 {
					g[s-1] -= dl
				}
				for j := top; j < len(p); j++ {
					g[j] -= (dh - dl) * x.At(i, j-top)
				}
			}
		},
	}
}
