package guess

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/optimize"
)

// Options of a fit.
type Options struct {
	// RepeatSD is what repeats usually differ by in each output, where that is known
	// before (1 to 2 in CIELAB is common practice, no source); the rows' own repeats
	// overrule it in time. 0 when nothing is known.
	RepeatSD float64
	// Exact says that outputs have no noise at all, as those of a formula.
	Exact bool
	// Starts is how many places the search for hyperparameters starts from; 0 for 3.
	Starts int
	// Warm is where else to start, such as the last fit's; nil for nowhere.
	Warm *Hyper
}

// exactNoise keeps matrices of noiseless outputs in hand.
const exactNoise = 1e-9

// screened is how many rows the starts are compared on.
const screened = 90

// Fit learns from three or more rows: the hyperparameters of greatest posterior
// density, the size of each process and its mean integrated out. The priors, all
// on logarithms, keep few rows sane: outputs stay alike over half of a factor's
// range times the root of the number of factors, within a factor of e; different
// levels correlate by about a half; repeats differ by RepeatSD or a tenth of the
// spread, blocks by somewhat less. Source: Rasmussen and Williams 2006, 5.4.
func Fit(factors []Factor, rows []Row, opt Options, r *rand.Rand) (*Model, error) {
	m, err := prepare(factors, rows)
	if err != nil {
		return nil, err
	}
	if !(opt.RepeatSD >= 0) || math.IsInf(opt.RepeatSD, 1) {
		return nil, fmt.Errorf("%w: repeats can't differ by %v", ErrFactors, opt.RepeatSD)
	}
	starts := opt.Starts
	if starts <= 0 {
		starts = 3
	}
	few := m
	if len(rows) > screened {
		some := make([]Row, screened)
		for i, j := range r.Perm(len(rows))[:screened] {
			some[i] = rows[j]
		}
		if few, err = prepare(factors, some); err != nil {
			return nil, err
		}
		few.axes = m.axes // compared along the same axes
		few.project()
		if (few.Blocks == nil) != (m.Blocks == nil) {
			few = m
		}
	}
	fit := newFitter(few, opt)
	best, bestAt := math.Inf(1), slices.Clone(fit.middle)
	for s := range starts {
		from := slices.Clone(fit.middle)
		if s > 0 {
			for i := range from {
				from[i] += 0.8 * fit.width[i] * r.NormFloat64()
			}
		} else if opt.Warm != nil {
			if warm, ok := fit.pack(*opt.Warm); ok {
				from = warm
			}
		}
		if at, f := fit.search(from, 40); f < best {
			best, bestAt = f, at
		}
	}
	if few != m {
		fit = newFitter(m, opt)
		if at, f := fit.search(bestAt, 25); !math.IsInf(f, 1) {
			bestAt = at
		}
	}
	h := fit.unpack(bestAt)
	for m.settle(h) != nil {
		for o := range h.Noise {
			h.Noise[o] = 10*h.Noise[o] + exactNoise
		}
		if h.Noise[0] > 1e6 {
			return nil, errNotPositive
		}
	}
	return m, nil
}

// fitter is the posterior density of hyperparameters, as packed into a vector:
// logarithms of the lengths, log odds of the correlations, logarithms of the noise
// of each axis and of the blocks.
type fitter struct {
	m             *Model
	middle, width []float64 // of the priors, normal
	variance      []float64
	exact         bool
	at, grad      []float64 // where last computed
	value         float64
	apart         [][]float64 // by continuous factor, distances of pairs i > j, packed
}

func newFitter(m *Model, opt Options) *fitter {
	f := &fitter{m: m, variance: m.variances(), exact: opt.Exact}
	add := func(middle, width float64) {
		f.middle, f.width = append(f.middle, middle), append(f.width, width)
	}
	for range m.kernel.numbers {
		add(math.Log(0.5*math.Sqrt(float64(len(m.kernel.numbers)))), 1)
	}
	for range m.kernel.labels {
		add(0, 1.5)
	}
	noise := make([]float64, len(m.z))
	for o := range noise {
		noise[o] = math.Log(0.01)
		if opt.RepeatSD > 0 {
			noise[o] = math.Log(opt.RepeatSD * opt.RepeatSD / f.variance[o])
		}
	}
	if !opt.Exact {
		for o := range noise {
			if opt.RepeatSD > 0 {
				add(noise[o], 1)
			} else {
				add(noise[o], 2)
			}
		}
		if m.Blocks != nil {
			for o := range noise {
				add(noise[o]+math.Log(0.5), 1.2)
			}
		}
	}
	for _, j := range m.kernel.numbers {
		var d []float64
		for a := range m.x {
			for b := range a {
				d = append(d, math.Abs(m.x[a][j]-m.x[b][j]))
			}
		}
		f.apart = append(f.apart, d)
	}
	return f
}

func (f *fitter) unpack(t []float64) Hyper {
	h := Hyper{}
	take := func(n int, by func(float64) float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = by(t[i])
		}
		t = t[n:]
		return out
	}
	h.Lengths = take(len(f.m.kernel.numbers), math.Exp)
	h.Same = take(len(f.m.kernel.labels), func(x float64) float64 { return 1 / (1 + math.Exp(-x)) })
	q := len(f.m.z)
	if f.exact {
		h.Noise = make([]float64, q)
		for o := range h.Noise {
			h.Noise[o] = exactNoise
		}
		if f.m.Blocks != nil {
			h.Block = make([]float64, q)
		}
		return h
	}
	h.Noise = take(q, math.Exp)
	if f.m.Blocks != nil {
		h.Block = take(q, math.Exp)
	}
	return h
}

// pack is the inverse of unpack, and false for the hyperparameters of another
// model.
func (f *fitter) pack(h Hyper) ([]float64, bool) {
	var t []float64
	for _, l := range h.Lengths {
		t = append(t, math.Log(l))
	}
	for _, c := range h.Same {
		t = append(t, math.Log(c/(1-c)))
	}
	if !f.exact {
		for _, v := range h.Noise {
			t = append(t, math.Log(v))
		}
		if f.m.Blocks != nil {
			for _, v := range h.Block {
				t = append(t, math.Log(v))
			}
		}
	}
	if len(t) != len(f.middle) {
		return nil, false
	}
	for i, v := range t {
		if !(math.Abs(v-f.middle[i]) < 6*f.width[i]) {
			t[i] = f.middle[i]
		}
	}
	return t, true
}

// search climbs from a place and returns where it came to and the value there.
func (f *fitter) search(from []float64, steps int) ([]float64, float64) {
	f.at = nil
	problem := optimize.Problem{
		Func: func(x []float64) float64 { return f.eval(x) },
		Grad: func(grad, x []float64) { f.eval(x); copy(grad, f.grad) },
	}
	result, err := optimize.Minimize(problem, from, &optimize.Settings{
		MajorIterations: steps, FuncEvaluations: 3 * steps, GradientThreshold: 1e-2,
		Converger: &optimize.FunctionConverge{Absolute: 1e-3, Iterations: 4},
	}, &optimize.BFGS{})
	if result == nil || (err != nil && math.IsInf(result.F, 1)) {
		return from, f.eval(from)
	}
	return result.X, result.F
}

// eval returns the negative log posterior density at t and leaves its gradient in
// f.grad. With S = s0 + z'Pz and P the inverse less what the mean takes, an axis
// has the log density -(log|K| + log 1'K⁻¹1 + df log S)/2.
func (f *fitter) eval(t []float64) float64 {
	if f.at != nil && slices.Equal(f.at, t) {
		return f.value
	}
	f.at, f.grad, f.value = slices.Clone(t), make([]float64, len(t)), 0
	for i, v := range t {
		d := (v - f.middle[i]) / f.width[i]
		if !(math.Abs(d) < 8) { // nothing is to be found so far out, and exponents overflow
			f.value = math.Inf(1)
			return f.value
		}
		f.value += d * d / 2
		f.grad[i] = d / f.width[i]
	}
	m, h := f.m, f.unpack(t)
	n, q := len(m.x), len(m.z)
	pairs := f.correlate(h)
	pull := make([]float64, len(pairs)) // derivative by each correlation, times it
	k := make([]float64, n)
	noiseAt := len(h.Lengths) + len(h.Same)
	for o := range q {
		lower := make(triangle, 0, n)
		for i := range n {
			copy(k, pairs[i*(i-1)/2:i*(i-1)/2+i])
			own := 1 + h.Noise[o]
			if h.Block != nil && m.block[i] >= 0 {
				own += h.Block[o]
				for j := range i {
					if m.block[j] == m.block[i] {
						k[j] += h.Block[o]
					}
				}
			}
			if !lower.grow(k[:i], own) {
				f.value = math.Inf(1)
				return f.value
			}
			f.value += math.Log(lower[i][i])
		}
		p := process{lower: lower}
		p.tell([][]float64{m.z[o]}, m.known)
		rss := floats.Dot(p.alpha[0], m.z[o]) // alpha sums to 0 when the mean is estimated
		size := rss + priorDF*f.variance[o]
		df := m.df
		if !m.known {
			f.value += math.Log(p.weight) / 2
		}
		f.value += df * math.Log(size) / 2
		sums := slices.Clone(p.ones)
		p.lower.solveBack(sums)
		inverse := lower.inverse()
		alpha := p.alpha[0]
		onDiagonal, inBlock := 0.0, 0.0
		for i := range n {
			row := inverse[i]
			base := i * (i - 1) / 2
			for j := range i {
				w := row[j] - sums[i]*sums[j]/p.weight - df/size*alpha[i]*alpha[j]
				pull[base+j] += w * pairs[base+j]
				if m.block[i] >= 0 && m.block[i] == m.block[j] {
					inBlock += w
				}
			}
			w := row[i] - sums[i]*sums[i]/p.weight - df/size*alpha[i]*alpha[i]
			onDiagonal += w
			if m.block[i] >= 0 {
				inBlock += w / 2
			}
		}
		if !f.exact {
			f.grad[noiseAt+o] += onDiagonal / 2 * h.Noise[o]
			if h.Block != nil {
				f.grad[noiseAt+q+o] += inBlock * h.Block[o]
			}
		}
	}
	for c, d := range f.apart {
		rate, sum := math.Sqrt(5)/h.Lengths[c], 0.0
		for i, g := range pull {
			a := rate * d[i]
			sum += g * a * a * (1 + a) / (3 + 3*a + a*a)
		}
		f.grad[c] += sum
	}
	for c, j := range m.kernel.labels {
		sum := 0.0
		i := 0
		for a := range m.x {
			for b := range a {
				if m.x[a][j] != m.x[b][j] {
					sum += pull[i]
				}
				i++
			}
		}
		f.grad[len(h.Lengths)+c] += sum * (1 - h.Same[c])
	}
	return f.value
}

// correlate returns the correlations of all pairs i > j, packed by rows.
func (f *fitter) correlate(h Hyper) []float64 {
	n := len(f.m.x)
	out := make([]float64, n*(n-1)/2)
	s := h.scale()
	sums := make([]float64, len(out))
	for i := range out {
		out[i] = 1
	}
	for c, d := range f.apart {
		for i, v := range d {
			a := s.rate[c] * v
			out[i] *= 1 + a + a*a/3
			sums[i] -= a
		}
	}
	i := 0
	for a := range n {
		for b := range a {
			for c, j := range f.m.kernel.labels {
				if f.m.x[a][j] != f.m.x[b][j] {
					sums[i] += s.log[c]
				}
			}
			out[i] *= math.Exp(sums[i])
			i++
		}
	}
	return out
}
