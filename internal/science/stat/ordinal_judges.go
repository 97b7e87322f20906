package stat

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
)

// JudgedFit is a cumulative logit model in which judges differ in how high they score.
type JudgedFit struct {
	Thresholds   []Coefficient
	Coefficients []Coefficient
	JudgeSD      float64 // of the judges' shifts, on the logit scale
	LogLik       float64
}

// FitJudged fits ordered scores like FitOrdinal, with a normal shift for every judge,
// whose likelihood is summed by adaptive Gauss-Hermite quadrature of 10 points. Source:
// Liu and Pierce 1994. Checked against R's ordinal::clmm.
func FitJudged(m Model, scores []int, judges []string) (*JudgedFit, error) {
	if len(judges) != len(scores) {
		return nil, ErrUnequal
	}
	plain, err := FitOrdinal(m, scores)
	if err != nil {
		return nil, err
	}
	m.Response = make([]float64, len(scores))
	x, _, _, err := m.slopes()
	if err != nil {
		return nil, err
	}
	rows := map[string][]int{}
	for i, j := range judges {
		rows[j] = append(rows[j], i)
	}
	if len(rows) < 2 || len(rows) == len(scores) {
		return nil, fmt.Errorf("%w: %d judges for %d scores; two or more are needed, each with several scores", ErrModel, len(rows), len(scores))
	}
	var groups [][]int
	for _, g := range rows {
		groups = append(groups, g)
	}
	sort.Slice(groups, func(a, b int) bool { return groups[a][0] < groups[b][0] })
	top := len(plain.Thresholds)
	value := func(p []float64) float64 {
		sum := 0.0
		for _, g := range groups {
			sum += judgeLikelihood(p, g, x, scores, top)
		}
		return sum
	}
	l := likelihood{value: value, gradient: func(p, g []float64) {
		q := append([]float64(nil), p...)
		for a := range p {
			h := 2e-3
			at := func(f float64) float64 { q[a] = p[a] + f*h; return value(q) }
			g[a] = (8*(at(1)-at(-1)) - (at(2) - at(-2))) / (12 * h)
			q[a] = p[a]
		}
	}}
	var start []float64
	for _, c := range append(append([]Coefficient(nil), plain.Thresholds...), plain.Coefficients...) {
		start = append(start, c.Estimate)
	}
	at, cov, err := l.climb(append(start, 0))
	if err != nil {
		return nil, fmt.Errorf("judges: %w", err)
	}
	conf, err := m.confidence()
	if err != nil {
		return nil, err
	}
	f := &JudgedFit{JudgeSD: math.Exp(at[len(at)-1]), LogLik: value(at)}
	for s, c := range plain.Thresholds {
		f.Thresholds = append(f.Thresholds, normalCoefficient(c.Name, c.Term, at[s], math.Sqrt(cov.At(s, s)), conf))
	}
	for j, c := range plain.Coefficients {
		f.Coefficients = append(f.Coefficients, normalCoefficient(c.Name, c.Term, at[top+j], math.Sqrt(cov.At(top+j, top+j)), conf))
	}
	return f, nil
}

// hermite are the points and weights of the 10-point rule for exp(-x^2). Source:
// Abramowitz and Stegun 1964, table 25.10.
var hermite = [5][2]float64{
	{0.3429013272237046, 0.6108626337353258}, {1.0366108297895136, 0.2401386110823147}, {1.7566836492998817, 0.03387439445548106},
	{2.5327316742327897, 0.001343645746781233}, {3.4361591188377376, 7.640432855232621e-06},
}

// judgeLikelihood returns the log likelihood of one judge's scores, with the log of the
// judges' spread as the last parameter.
func judgeLikelihood(p []float64, rows []int, x *mat.Dense, scores []int, top int) float64 {
	last := len(p) - 1
	sd := math.Exp(p[last])
	eta := make([]float64, len(rows))
	for k, i := range rows {
		for j := top; j < last; j++ {
			eta[k] += p[j] * x.At(i, j-top)
		}
	}
	// the log of the integrand at the shift u of this judge, in units of sd, with its
	// slope and curvature
	at := func(u float64) (v, slope, bend float64) {
		v, slope, bend = -u*u/2, -u, -1
		for k, i := range rows {
			hi, lo := math.Inf(1), math.Inf(-1)
			if s := scores[i]; s < top {
				hi = p[s] - eta[k] - sd*u
			}
			if s := scores[i]; s > 0 {
				lo = p[s-1] - eta[k] - sd*u
			}
			fh, fl := expit(hi), expit(lo)
			share := fh - fl
			if lo > 0 {
				share = expit(-lo) - expit(-hi)
			}
			if !(share > 0) {
				return math.Inf(-1), 0, -1
			}
			v += math.Log(share)
			// of log(F(hi) - F(lo)) the slope by the shift is 1 - F(hi) - F(lo) with
			// the sign turned, for the logistic
			slope += sd * (fh + fl - 1)
			bend -= sd * sd * (fh*expit(-hi) + fl*expit(-lo))
		}
		return v, slope, bend
	}
	u := 0.0
	for range 100 {
		_, slope, bend := at(u)
		step := -slope / bend
		u += step
		if math.Abs(step) < 1e-12 {
			break
		}
	}
	_, _, bend := at(u)
	width := 1 / math.Sqrt(-bend)
	peak, _, _ := at(u)
	if math.IsInf(peak, -1) {
		return peak
	}
	sum := 0.0
	for _, h := range hermite {
		for _, z := range []float64{h[0], -h[0]} {
			v, _, _ := at(u + math.Sqrt2*width*z)
			sum += h[1] * math.Exp(v-peak+z*z)
		}
	}
	return peak + math.Log(sum*width*math.Sqrt2) - 0.5*math.Log(2*math.Pi)
}
