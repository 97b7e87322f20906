package stat

import (
	"fmt"
	"math"
)

func (s *descent) result(n, p int) (*CurveFit, error) {
	j := s.slopes(s.at)
	columns := make([][]exact, p)
	for a := range columns {
		columns[a] = make([]exact, n)
		for i := range n {
			columns[a][i] = exact{j.At(i, a), 0}
		}
	}
	q := factorise(columns, nil, n)
	if len(q.dropped) > 0 {
		return nil, fmt.Errorf("%w: the data do not tell %s apart from the rest", ErrNoFit, s.c.Names[q.dropped[0]])
	}
	f := &CurveFit{RSS: s.rss, DF: n - p, Steps: s.steps, params: s.at}
	f.Sigma = math.Sqrt(f.RSS / float64(f.DF))
	inverse := make([][]float64, p)
	for k := range p {
		e := make([]exact, p)
		e[k] = exact{1, 0}
		for _, v := range q.solve(e) {
			inverse[k] = append(inverse[k], v.float())
		}
	}
	f.Covariance = make([][]float64, p)
	for a := range p {
		f.Covariance[a] = make([]float64, p)
		for b := range p {
			for k := range p {
				f.Covariance[a][b] += inverse[k][a] * inverse[k][b]
			}
			f.Covariance[a][b] *= f.Sigma * f.Sigma
		}
	}
	for a, name := range s.c.Names {
		f.Coefficients = append(f.Coefficients, coefficient(name, name, s.at[a], math.Sqrt(f.Covariance[a][a]), float64(f.DF), 0.95))
	}
	for i := range n {
		f.Fitted = append(f.Fitted, s.c.At(s.at, i))
	}
	return f, nil
}
