package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Seen is one censored observation: the value lies from Low to High. Equal ends are
// an exact value; an infinite end is open.
type Seen struct{ Low, High float64 }

// Exactly is a value that was measured.
func Exactly(v float64) Seen { return Seen{v, v} }

// AtMost is a value known only not to exceed v (left-censored).
func AtMost(v float64) Seen { return Seen{math.Inf(-1), v} }

// AtLeast is a value known only not to fall below v (right-censored), such as the time
// of a change that had not come when the lid was lifted.
func AtLeast(v float64) Seen { return Seen{v, math.Inf(1)} }

// Between is a value that was passed between two looks (interval-censored).
func Between(low, high float64) Seen { return Seen{low, high} }

// CensoredFit is a linear model of censored observations with normal scatter.
type CensoredFit struct {
	Coefficients []Coefficient // judged by the normal distribution
	Sigma        float64
	LogSigma     Coefficient
	LogLik       float64
	Exact        int // observations that were not censored
}

// FitCensored fits the terms of m, whose Response is not read, to censored
// observations by maximum likelihood with normal scatter; for times give logarithms.
// Source: Tobin 1958. Checked against R's survival::survreg.
func FitCensored(m Model, seen []Seen) (*CensoredFit, error) {
	f := &CensoredFit{}
	m.Response = make([]float64, len(seen))
	for i, s := range seen {
		if math.IsNaN(s.Low) || math.IsNaN(s.High) || s.Low > s.High || math.IsInf(s.Low, 1) || math.IsInf(s.High, -1) {
			return nil, fmt.Errorf("%w: row %d runs from %v to %v", ErrNotFinite, i+1, s.Low, s.High)
		}
		switch {
		case s.Low == s.High:
			f.Exact++
			m.Response[i] = s.Low
		case math.IsInf(s.Low, -1) && math.IsInf(s.High, 1):
			return nil, fmt.Errorf("%w: nothing was seen of row %d", ErrModel, i+1)
		case math.IsInf(s.Low, -1):
			m.Response[i] = s.High
		case math.IsInf(s.High, 1):
			m.Response[i] = s.Low
		default:
			m.Response[i] = s.Low + (s.High-s.Low)/2
		}
	}
	plain, err := FitLinear(m)
	if err != nil {
		return nil, err
	}
	if plain.DF < 1 || plain.RSS <= 0 {
		return nil, ErrNoSpread
	}
	n, k := len(seen), len(plain.qr.kept)
	columns := plain.design.matrix(n)
	x := make([][]float64, n)
	// columns are shifted to no intercept's harm and scaled, so that Newton's steps
	// meet numbers near 1
	scale := make([]float64, k)
	for a, j := range plain.qr.kept {
		scale[a] = length(columns[j]).float() / math.Sqrt(float64(n))
	}
	for i := range x {
		for a, j := range plain.qr.kept {
			x[i] = append(x[i], columns[j][i].float()/scale[a])
		}
	}
	unit := plain.Sigma
	l := censoredLikelihood(x, seen, unit)
	start := make([]float64, k+1)
	for a := range k {
		start[a] = plain.b[a].float() * scale[a] / unit
	}
	at, cov, err := l.climb(start)
	if err != nil {
		return nil, err
	}
	for a, c := range plain.Coefficients {
		f.Coefficients = append(f.Coefficients, normalCoefficient(c.Name, c.Term, at[a]*unit/scale[a], math.Sqrt(cov.At(a, a))*unit/scale[a], plain.conf))
	}
	f.Sigma = unit * math.Exp(at[k])
	f.LogSigma = normalCoefficient("log sigma", "sigma", at[k]+math.Log(unit), math.Sqrt(cov.At(k, k)), plain.conf)
	f.LogLik = l.value(at) - float64(f.Exact)*math.Log(unit)
	return f, nil
}

// censoredLikelihood has the coefficients and the log of sigma, in units, as
// parameters.
func censoredLikelihood(x [][]float64, seen []Seen, unit float64) likelihood {
	ends := func(p []float64, i int) (lo, hi, sigma float64) {
		eta := 0.0
		for a, v := range x[i] {
			eta += p[a] * v
		}
		sigma = math.Exp(p[len(p)-1])
		return (seen[i].Low/unit - eta) / sigma, (seen[i].High/unit - eta) / sigma, sigma
	}
	return likelihood{
		value: func(p []float64) float64 {
			sum := 0.0
			for i, s := range seen {
				lo, hi, sigma := ends(p, i)
				if s.Low == s.High {
					sum += -lo*lo/2 - math.Log(sigma) - 0.5*math.Log(2*math.Pi)
				} else {
					sum += logBetween(lo, hi)
				}
			}
			return sum
		},
		gradient: func(p, g []float64) {
			clear(g)
			last := len(p) - 1
			for i, s := range seen {
				lo, hi, sigma := ends(p, i)
				var byEta, byLog float64
				if s.Low == s.High {
					byEta, byLog = lo/sigma, lo*lo-1
				} else {
					whole := logBetween(lo, hi)
					dl, dh := hazard(lo, whole), hazard(hi, whole)
					byEta = (dl - dh) / sigma
					byLog = times(lo, dl) - times(hi, dh)
				}
				for a, v := range x[i] {
					g[a] += byEta * v
				}
				g[last] += byLog
			}
		},
	}
}

// hazard is the normal density at z over exp(log).
func hazard(z, log float64) float64 {
	if math.IsInf(z, 0) {
		return 0
	}
	return math.Exp(-z*z/2 - 0.5*math.Log(2*math.Pi) - log)
}

func times(z, d float64) float64 {
	if math.IsInf(z, 0) {
		return 0
	}
	return z * d
}

// logBetween returns the log of the normal probability from lo to hi, with the digits
// of a small one.
func logBetween(lo, hi float64) float64 {
	if lo > 0 {
		lo, hi = -hi, -lo
	}
	top := logCDF(hi)
	if math.IsInf(lo, -1) {
		return top
	}
	return top + math.Log(-math.Expm1(logCDF(lo)-top))
}

// logCDF returns the log of the normal probability below z.
func logCDF(z float64) float64 {
	if z > -30 {
		return math.Log(distuv.UnitNormal.CDF(z))
	}
	// the continued fraction's first terms (Abramowitz and Stegun 1964, 26.2.12)
	i := 1 / (z * z)
	return -z*z/2 - math.Log(-z) - 0.5*math.Log(2*math.Pi) + math.Log1p(-i*(1-3*i*(1-5*i)))
}
