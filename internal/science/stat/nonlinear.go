package stat

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrNoFit says that no curve of the asked shape was found from the given start.
var ErrNoFit = errors.New("no fit was found from this start")

// Curve is a model that is not linear in its parameters.
type Curve struct {
	Names []string
	// At returns the curve's height for the parameters at row i.
	At func(p []float64, i int) float64
	// Slope fills out with the derivatives of At by the parameters; nil takes
	// differences instead.
	Slope func(p []float64, i int, out []float64)
	// Allowed says whether parameters make sense; nil allows all.
	Allowed func(p []float64) bool
}

// CurveFit is a curve fitted by least squares.
type CurveFit struct {
	Coefficients []Coefficient // with linearised (Wald) intervals
	Sigma        float64
	RSS          float64
	DF           int
	Steps        int
	Fitted       []float64
	Covariance   [][]float64 // of the parameters

	params []float64
}

// FitCurve fits a curve to y from a start by Levenberg and Marquardt's method, with
// Moré's scaling and geodesic acceleration, each step solved by Householder QR.
// Source: Moré 1978; Transtrum and Sethna 2012. It meets the certified values of the
// NIST StRD nonlinear sets to 10 digits from both starts (nonlinear_test.go).
// ErrNoFit means that the steps did not settle, or that the parameters found cannot
// be told apart.
func FitCurve(c Curve, y, start []float64) (*CurveFit, error) {
	// A bold first step may leap into a flat corner that a timid or a short one avoids,
	// and a scale that never shrinks may crawl where one that does walks: all are tried.
	return fitCurve(c, y, start, []attempt{{1e-3, false, math.Inf(1), mostSteps}, {1, false, math.Inf(1), mostSteps}, {1e-3, true, math.Inf(1), mostSteps}, {1e-3, false, 1, mostSteps}})
}

// attempt is one way to go down.
type attempt struct {
	damp float64 // at the start
	// remember keeps the largest length of each slope as its scale (Moré), otherwise
	// the present one is (Marquardt)
	remember bool
	stride   float64 // largest change of a parameter in one step, relative to it
	most     int     // steps
}

// fitCurve returns the best of several attempts.
func fitCurve(c Curve, y, start []float64, attempts []attempt) (*CurveFit, error) {
	n, p := len(y), len(start)
	if err := need(p+1, y); err != nil {
		return nil, err
	}
	if err := need(1, start); err != nil {
		return nil, err
	}
	if len(c.Names) != p {
		return nil, ErrUnequal
	}
	var best *CurveFit
	var first error
	for _, try := range attempts {
		s := &descent{c: c, y: y, at: append([]float64(nil), start...), scale: make([]float64, p), attempt: try}
		if s.r, s.rss = s.miss(s.at); math.IsInf(s.rss, 1) {
			return nil, fmt.Errorf("%w: the curve has no height at the start", ErrNoFit)
		}
		err := s.run()
		var f *CurveFit
		if err == nil {
			f, err = s.result(n, p)
		}
		if err != nil {
			if first == nil {
				first = err
			}
			continue
		}
		if best == nil || f.RSS < best.RSS*(1-1e-9) {
			best = f
		}
	}
	if best == nil {
		return nil, first
	}
	return best, nil
}

type descent struct {
	c     Curve
	y     []float64
	at    []float64
	r     []float64 // y less the curve
	rss   float64
	scale []float64
	steps int
	attempt
}

// miss returns y less the curve, and an infinite sum where the curve has no height.
func (s *descent) miss(p []float64) ([]float64, float64) {
	r := make([]float64, len(s.y))
	if s.c.Allowed != nil && !s.c.Allowed(p) {
		return r, math.Inf(1)
	}
	sum := 0.0
	for i, y := range s.y {
		r[i] = y - s.c.At(p, i)
		sum += r[i] * r[i]
	}
	if math.IsNaN(sum) {
		sum = math.Inf(1)
	}
	return r, sum
}

// slopes returns the curve's derivatives.
func (s *descent) slopes(p []float64) *mat.Dense {
	n, k := len(s.y), len(p)
	j := mat.NewDense(n, k, nil)
	if s.c.Slope != nil {
		out := make([]float64, k)
		for i := range n {
			s.c.Slope(p, i, out)
			j.SetRow(i, out)
		}
		return j
	}
	q := append([]float64(nil), p...)
	for a := range k {
		// a fourth-order difference: its error is about 1e-12 of the slope
		h := 1e-4 * math.Abs(p[a])
		if h == 0 {
			h = 1e-6
		}
		value := func(f float64, i int) float64 { q[a] = p[a] + f*h; return s.c.At(q, i) }
		for i := range n {
			j.Set(i, a, (8*(value(1, i)-value(-1, i))-(value(2, i)-value(-2, i)))/(12*h))
		}
		q[a] = p[a]
	}
	return j
}

const (
	mostSteps  = 2000
	settled    = 1e-12 // relative length of a full step at which the search stops
	mostDamped = 1e20
	flat       = 1e-3 // share of the residual that a full step could still remove, near the end
)

func (s *descent) run() error {
	p := len(s.at)
	damp, grow := s.damp, 2.0
	for s.steps = 0; s.steps < s.most; s.steps++ {
		j := s.slopes(s.at)
		if !finite(j) {
			return fmt.Errorf("%w: the curve's slope has no value", ErrNoFit)
		}
		for a := range p {
			size := mat.Norm(j.ColView(a), 2)
			if s.remember {
				size = max(s.scale[a], size)
			}
			s.scale[a] = size
			if s.scale[a] == 0 {
				s.scale[a] = 1
			}
		}
		for {
			if s.rss == 0 {
				return nil
			}
			step, ok := s.step(j, s.r, damp)
			if ok {
				step = s.shorten(s.bend(j, step, damp))
				next := make([]float64, p)
				for a := range next {
					next[a] = s.at[a] + step[a]
				}
				r, rss := s.miss(next)
				if rss < s.rss {
					gain := (s.rss - rss) / max(s.rss-s.left(j, step), math.SmallestNonzeroFloat64)
					done := s.rss-rss < 1e-12*s.rss && damp < 1e-2
					s.at, s.r, s.rss = next, r, rss
					if done {
						return s.polish()
					}
					damp = max(damp*max(1.0/9, 1-math.Pow(2*min(gain, 1)-1, 3)), 1e-20)
					grow = 2
					break
				}
				if s.small(step) {
					return s.polish()
				}
			}
			damp *= grow
			grow = min(grow*2, 64)
			if damp > mostDamped {
				return s.polish()
			}
		}
	}
	return fmt.Errorf("%w: %d steps did not settle", ErrNoFit, s.most)
}

// shorten keeps a step within the stride.
func (s *descent) shorten(step []float64) []float64 {
	most := 0.0
	for a, d := range step {
		if s.at[a] != 0 {
			most = max(most, math.Abs(d/s.at[a]))
		}
	}
	if most > s.stride {
		for a := range step {
			step[a] *= s.stride / most
		}
	}
	return step
}

// left is the sum of squares that the straightened curve leaves after a step.
func (s *descent) left(j *mat.Dense, step []float64) float64 {
	sum := 0.0
	v := mat.NewVecDense(len(step), step)
	for i, r := range s.r {
		e := r - mat.Dot(j.RowView(i), v)
		sum += e * e
	}
	return sum
}

// polish takes full steps where rounding hides whether the sum of squares still
// drops, as long as they shrink; it refuses a place that is no bottom.
func (s *descent) polish() error {
	last := math.Inf(1)
	for range 50 {
		j := s.slopes(s.at)
		if !finite(j) {
			break
		}
		for a := range s.scale {
			if s.scale[a] = mat.Norm(j.ColView(a), 2); s.scale[a] == 0 {
				return fmt.Errorf("%w: the data do not tell %s at all", ErrNoFit, s.c.Names[a])
			}
		}
		step, ok := s.step(j, s.r, 0)
		if !ok {
			break
		}
		if drop := 1 - s.left(j, step)/s.rss; drop > flat {
			return fmt.Errorf("%w: no step makes it better", ErrNoFit)
		}
		size := 0.0
		next := make([]float64, len(step))
		for a, d := range step {
			next[a] = s.at[a] + d
			size = max(size, math.Abs(d)/(math.Abs(s.at[a])+1e-12))
		}
		if size >= last {
			break
		}
		r, rss := s.miss(next)
		if rss > s.rss*(1+1e-9) {
			break
		}
		last = size
		s.at, s.r, s.rss = next, r, rss
		if size < settled {
			break
		}
	}
	if last > 1e-6 {
		return fmt.Errorf("%w: the steps do not settle", ErrNoFit)
	}
	return nil
}

func finite(m *mat.Dense) bool {
	for _, v := range m.RawMatrix().Data {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

func (s *descent) small(step []float64) bool {
	for a, d := range step {
		if math.Abs(d) > settled*(math.Abs(s.at[a])+settled) {
			return false
		}
	}
	return true
}

// step solves the damped least squares problem for residuals r.
func (s *descent) step(j *mat.Dense, r []float64, damp float64) ([]float64, bool) {
	n, p := j.Dims()
	big := mat.NewDense(n+p, p, nil)
	rhs := mat.NewVecDense(n+p, nil)
	for i := range n {
		for a := range p {
			big.Set(i, a, j.At(i, a)/s.scale[a])
		}
		rhs.SetVec(i, r[i])
	}
	for a := range p {
		big.Set(n+a, a, math.Sqrt(damp))
	}
	var qr mat.QR
	qr.Factorize(big)
	var out mat.VecDense
	var condition mat.Condition
	if err := qr.SolveVecTo(&out, false, rhs); err != nil && !errors.As(err, &condition) {
		return nil, false
	}
	step := make([]float64, p)
	for a := range p {
		step[a] = out.AtVec(a) / s.scale[a]
		if math.IsNaN(step[a]) || math.IsInf(step[a], 0) {
			return nil, false
		}
	}
	return step, true
}

// bend adds the geodesic acceleration, when the curve's second derivative along the
// step is trustworthy: it follows the floor of a bent valley.
func (s *descent) bend(j *mat.Dense, step []float64, damp float64) []float64 {
	const h = 0.1
	n, p := j.Dims()
	ahead := make([]float64, p)
	for a := range ahead {
		ahead[a] = s.at[a] + h*step[a]
	}
	r, rss := s.miss(ahead)
	if math.IsInf(rss, 1) {
		return step
	}
	second := make([]float64, n)
	for i := range n {
		along := mat.Dot(j.RowView(i), mat.NewVecDense(p, step))
		// the residual is y - f, so f'' = -2/h ((r(h) - r)/h + Jv)
		second[i] = 2 / h * ((r[i]-s.r[i])/h + along)
	}
	turn, ok := s.step(j, second, damp)
	if !ok {
		return step
	}
	v, t := 0.0, 0.0
	for a := range p {
		v += step[a] * s.scale[a] * step[a] * s.scale[a]
		t += turn[a] * s.scale[a] * turn[a] * s.scale[a]
	}
	if 2*math.Sqrt(t) > 0.75*math.Sqrt(v) {
		return step
	}
	out := make([]float64, p)
	for a := range out {
		out[a] = step[a] + turn[a]/2
	}
	return out
}
