package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// likelihood is a smooth log likelihood to climb.
type likelihood struct {
	// value returns the log likelihood, -Inf where it has none
	value func(p []float64) float64
	// gradient fills g with its derivatives
	gradient func(p, g []float64)
}

// curvature returns the negated second derivatives by fourth-order differences of the
// gradient.
func (l likelihood) curvature(p []float64) *mat.SymDense {
	n := len(p)
	full := mat.NewDense(n, n, nil)
	q := append([]float64(nil), p...)
	g := make([][]float64, 4)
	for k := range g {
		g[k] = make([]float64, n)
	}
	for a := range n {
		h := 1e-3 * max(0.1, math.Abs(p[a]))
		for k, f := range []float64{1, -1, 2, -2} {
			q[a] = p[a] + f*h
			l.gradient(q, g[k])
		}
		q[a] = p[a]
		for b := range n {
			full.Set(a, b, -(8*(g[0][b]-g[1][b])-(g[2][b]-g[3][b]))/(12*h))
		}
	}
	out := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			out.SetSym(a, b, (full.At(a, b)+full.At(b, a))/2)
		}
	}
	return out
}

// climb finds the top of a log likelihood by Newton's method with steps damped until
// it rises. It returns the place and the covariance there (the inverse of the observed
// information). ErrNoFit says that there is no top: an estimate runs off to infinity,
// or the data do not tell two of them apart.
func (l likelihood) climb(start []float64) (at []float64, covariance *mat.SymDense, err error) {
	n := len(start)
	at = append([]float64(nil), start...)
	value := l.value(at)
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return nil, nil, fmt.Errorf("%w: there is no likelihood at the start", ErrNoFit)
	}
	g := make([]float64, n)
	var first *mat.SymDense
	for range 200 {
		l.gradient(at, g)
		h := l.curvature(at)
		if first == nil {
			first = h
		}
		var step mat.VecDense
		damp := 0.0
		for {
			damped := mat.NewSymDense(n, nil)
			damped.CopySym(h)
			for a := range n {
				damped.SetSym(a, a, h.At(a, a)+damp*(math.Abs(h.At(a, a))+1e-10))
			}
			var chol mat.Cholesky
			next := make([]float64, n)
			ok := chol.Factorize(damped) && chol.SolveVecTo(&step, mat.NewVecDense(n, g)) == nil
			if ok {
				for a := range n {
					next[a] = at[a] + step.AtVec(a)
				}
				v := l.value(next)
				if v >= value-1e-13*math.Abs(value) {
					at, value = next, v
					break
				}
			}
			if damp = max(1e-4, damp*4); damp > 1e12 {
				return nil, nil, fmt.Errorf("%w: the likelihood has no top to climb to", ErrNoFit)
			}
		}
		moved := 0.0
		for a := range n {
			moved = max(moved, math.Abs(step.AtVec(a))/max(1, math.Abs(at[a])))
			if math.Abs(at[a]) > 1e8 {
				return nil, nil, fmt.Errorf("%w: an estimate runs off to infinity", ErrNoFit)
			}
		}
		if moved < 1e-11 {
			break
		}
	}
	h := l.curvature(at)
	for a := range n {
		// a slope that flattens out for ever has no top
		if h.At(a, a) < 1e-6*first.At(a, a) {
			return nil, nil, fmt.Errorf("%w: an estimate runs off to infinity, because it parts the rows without exception", ErrNoFit)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(h) || chol.Cond() > 1e13 {
		return nil, nil, fmt.Errorf("%w: the data do not tell the estimates apart, or one runs off to infinity", ErrNoFit)
	}
	covariance = new(mat.SymDense)
	if err := chol.InverseTo(covariance); err != nil {
		return nil, nil, fmt.Errorf("%w: the data do not tell the estimates apart", ErrNoFit)
	}
	return at, covariance, nil
}

// normalCoefficient is a coefficient judged by the normal distribution: DF is infinite.
func normalCoefficient(name, term string, estimate, se, conf float64) Coefficient {
	return coefficient(name, term, estimate, se, math.Inf(1), conf)
}
