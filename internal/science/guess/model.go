package guess

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// errNotPositive says that a matrix could not be factored.
var errNotPositive = errors.New("points too alike for so little noise")

// priorDF is how many observations' worth the size of a process is held near the
// spread of the outputs.
const priorDF = 3

// process is one axis of the outputs. It may hold several tellings of the same
// points: outputs that differ where they were dreamt (see Next).
type process struct {
	lower  triangle
	ones   []float64 // lower over a column of ones
	weight float64   // sum of the inverse
	alpha  [][]float64
	mean   []float64
	scale2 float64 // variance of the process
	noise  float64 // shares of it
	block  float64
}

// Model is what was learnt from rows.
type Model struct {
	Hyper   Hyper
	Blocks  []string // names of the blocks, sorted
	factors []Factor
	set     int
	kernel  kernel
	scale   scale
	x       [][]float64 // in units
	block   []int       // -1 for none
	axes    [][]float64 // axes[o] is the direction of axis o among the outputs
	centre  []float64
	out     [][]float64 // rows as given
	z       [][]float64 // outputs along the axes, by axis
	df      float64
	known   bool // the mean is the centre and not estimated
	process []process
	told    [][][]float64 // outputs along each axis, by telling; only where dreams are added
}

// prepare turns rows into a model without processes.
func prepare(factors []Factor, rows []Row) (*Model, error) {
	set, err := checkFactors(factors)
	if err != nil {
		return nil, err
	}
	if len(rows) < 3 {
		return nil, ErrTooFew
	}
	m := &Model{factors: factors, set: set, kernel: kernelOf(factors)}
	outs := len(rows[0].Out)
	for i, r := range rows {
		u, err := units(factors, r.At)
		if err != nil {
			return nil, fmt.Errorf("row %d: %w", i+1, err)
		}
		if len(r.Out) != outs || outs == 0 {
			return nil, fmt.Errorf("row %d: %w: %d outputs, where the first has %d", i+1, ErrFactors, len(r.Out), outs)
		}
		for _, y := range r.Out {
			if !(math.Abs(y) <= 1e12) {
				return nil, fmt.Errorf("row %d: %w: an output can't be %v", i+1, ErrFactors, y)
			}
		}
		m.x, m.out = append(m.x, u), append(m.out, r.Out)
		if r.Block != "" {
			m.Blocks = append(m.Blocks, r.Block)
		}
	}
	slices.Sort(m.Blocks)
	m.Blocks = slices.Compact(m.Blocks)
	for _, r := range rows {
		m.block = append(m.block, slices.Index(m.Blocks, r.Block))
	}
	if len(m.Blocks) < 2 {
		m.Blocks = nil // one block for all is no other than the mean
		for i := range m.block {
			m.block[i] = -1
		}
	}
	m.turn()
	m.df = float64(len(rows) - 1 + priorDF)
	return m, nil
}

// turn finds the axes along which the outputs vary independently and sets z.
func (m *Model) turn() {
	n, q := len(m.out), len(m.out[0])
	m.centre = make([]float64, q)
	for _, y := range m.out {
		floats.AddScaled(m.centre, 1/float64(n), y)
	}
	spread := mat.NewSymDense(q, nil)
	for i := range q {
		for j := range i + 1 {
			sum := 0.0
			for _, y := range m.out {
				sum += (y[i] - m.centre[i]) * (y[j] - m.centre[j])
			}
			spread.SetSym(i, j, sum)
		}
	}
	var eigen mat.EigenSym
	m.axes = make([][]float64, q)
	if eigen.Factorize(spread, true) {
		var v mat.Dense
		eigen.VectorsTo(&v)
		for o := range q {
			m.axes[o] = mat.Col(nil, q-1-o, &v)
		}
	} else {
		for o := range q {
			m.axes[o] = make([]float64, q)
			m.axes[o][o] = 1
		}
	}
	m.project()
}

// project sets z from the axes.
func (m *Model) project() {
	m.z = make([][]float64, len(m.axes))
	for o := range m.z {
		m.z[o] = make([]float64, len(m.out))
		for i, y := range m.out {
			for a, d := range m.axes[o] {
				m.z[o][i] += d * (y[a] - m.centre[a])
			}
		}
	}
}

// variances returns the variance along each axis, none below a millionth of the
// greatest nor 0.
func (m *Model) variances() []float64 {
	v := make([]float64, len(m.z))
	for o, z := range m.z {
		v[o] = floats.Dot(z, z) / float64(len(z)-1)
	}
	least := max(1e-6*slices.Max(v), 1e-12)
	for o := range v {
		v[o] = max(v[o], least)
	}
	return v
}

// Given returns the model of rows with hyperparameters that are already known.
func Given(factors []Factor, rows []Row, h Hyper) (*Model, error) {
	m, err := prepare(factors, rows)
	if err != nil {
		return nil, err
	}
	return m, m.settle(h)
}

// settle computes the processes for h.
func (m *Model) settle(h Hyper) error {
	q := len(m.z)
	if len(h.Lengths) != len(m.kernel.numbers) || len(h.Same) != len(m.kernel.labels) || len(h.Noise) != q || m.Blocks != nil && len(h.Block) != q {
		return fmt.Errorf("%w: the hyperparameters are for others", ErrFactors)
	}
	for _, v := range slices.Concat(h.Lengths, h.Same, h.Noise, h.Block) {
		if !(v >= 0) || math.IsInf(v, 1) {
			return fmt.Errorf("%w: a hyperparameter can't be %v", ErrFactors, v)
		}
	}
	m.Hyper, m.scale = h, h.scale()
	variance := m.variances()
	k := make([]float64, len(m.x))
	rows := make([][]float64, len(m.x))
	for i := range m.x {
		rows[i] = slices.Clone(m.cover(m.x[i], k[:i]))
	}
	m.process = make([]process, q)
	for o := range m.process {
		p := process{noise: h.Noise[o]}
		if m.Blocks != nil {
			p.block = h.Block[o]
		}
		for i, row := range rows {
			row = slices.Clone(row)
			own := 1 + p.noise
			if m.block[i] >= 0 {
				own += p.block
				for j := range row {
					if m.block[j] == m.block[i] {
						row[j] += p.block
					}
				}
			}
			if !p.lower.grow(row, own) {
				return errNotPositive
			}
		}
		p.tell([][]float64{m.z[o]}, m.known)
		n := len(m.x)
		rss := 0.0
		for i, z := range m.z[o] {
			rss += p.alpha[0][i] * (z - p.mean[0])
		}
		p.scale2 = (rss + priorDF*variance[o]) / float64(n-1+priorDF)
		m.process[o] = p
	}
	return nil
}

// cover fills k with the correlations of u with the model's first points.
func (m *Model) cover(u, k []float64) []float64 {
	for i := range k {
		k[i] = m.kernel.at(m.scale, u, m.x[i])
	}
	return k
}

// tell conditions on outputs, one or several tellings of them.
func (p *process) tell(zs [][]float64, known bool) {
	n := len(p.lower)
	p.ones = make([]float64, n)
	for i := range p.ones {
		p.ones[i] = 1
	}
	p.lower.solve(slices.Clone(p.ones), p.ones)
	p.weight = floats.Dot(p.ones, p.ones)
	p.alpha, p.mean = nil, nil
	for _, z := range zs {
		a := make([]float64, n)
		p.lower.solve(z, a)
		mean := 0.0
		if !known {
			mean = floats.Dot(p.ones, a) / p.weight
			floats.AddScaled(a, -mean, p.ones)
		}
		p.lower.solveBack(a)
		p.alpha, p.mean = append(p.alpha, a), append(p.mean, mean)
	}
	if known {
		p.weight = math.Inf(1)
	}
}

// view is what the processes say at one point: along each axis the mean of each
// telling, and the variance of what a swatch there would truly be, as a share of
// the process's own.
type view struct {
	mean  [][]float64
	share []float64
	k, v  []float64
}

// look fills w for the point u.
func (m *Model) look(u []float64, w *view) {
	n := len(m.x)
	if len(w.k) < n {
		w.k, w.v = make([]float64, n+16), make([]float64, n+16)
	}
	if len(w.mean) != len(m.process) {
		w.mean, w.share = make([][]float64, len(m.process)), make([]float64, len(m.process))
	}
	k, v := m.cover(u, w.k[:n]), w.v[:n]
	for o := range m.process {
		p := &m.process[o]
		p.lower.solve(k, v)
		miss := 1 - floats.Dot(p.ones, v)
		w.share[o] = max(1-floats.Dot(v, v)+miss*miss/p.weight, 1e-12)
		w.mean[o] = w.mean[o][:0]
		for f := range p.alpha {
			w.mean[o] = append(w.mean[o], p.mean[f]+floats.Dot(k, p.alpha[f]))
		}
	}
}

// outputs turns axes back into outputs.
func (m *Model) outputs(along func(o int) float64) []float64 {
	y := slices.Clone(m.centre)
	for o, axis := range m.axes {
		floats.AddScaled(y, along(o), axis)
	}
	return y
}

// Prediction is what is to be expected at one point. SD is that of what is truly
// there, SwatchSD that of one new swatch in a new block; Low and High hold one new
// swatch with the probability asked for, each output by itself.
type Prediction struct {
	Mean, SD, SwatchSD, Low, High []float64
}

// At predicts at a point, with intervals of the probability conf, such as 0.9.
// Source: Rasmussen and Williams 2006, 2.7 (the mean estimated) and 9.9 (Student's
// t). It meets DiceKriging's answers for given hyperparameters to 6 digits.
func (m *Model) At(at []float64, conf float64) (Prediction, error) {
	u, err := units(m.factors, at)
	if err != nil {
		return Prediction{}, err
	}
	if !(conf > 0 && conf < 1) {
		return Prediction{}, fmt.Errorf("%w: an interval can't hold a share of %v", ErrFactors, conf)
	}
	var w view
	m.look(u, &w)
	p := Prediction{Mean: m.outputs(func(o int) float64 { return w.mean[o][0] })}
	t := distuv.StudentsT{Sigma: 1, Nu: m.df}.Quantile((1 + conf) / 2)
	for a := range p.Mean {
		true2, swatch2 := 0.0, 0.0
		for o, axis := range m.axes {
			part := axis[a] * axis[a] * m.process[o].scale2
			true2 += part * w.share[o]
			swatch2 += part * (w.share[o] + m.process[o].noise + m.process[o].block)
		}
		p.SD, p.SwatchSD = append(p.SD, math.Sqrt(true2)), append(p.SwatchSD, math.Sqrt(swatch2))
		reach := t * math.Sqrt(swatch2)
		p.Low, p.High = append(p.Low, p.Mean[a]-reach), append(p.High, p.Mean[a]+reach)
	}
	return p, nil
}

// Left is what the model says of a row when that row is left out.
type Left struct {
	Mean, SD []float64 // of the swatch as measured
	Miss     []float64 // measured less Mean
}

// LeaveOneOut predicts each row from the others, its hyperparameters kept.
// Source: Dubrule 1983.
func (m *Model) LeaveOneOut() []Left {
	n := len(m.x)
	out := make([]Left, n)
	for i := range out {
		out[i] = Left{make([]float64, len(m.centre)), make([]float64, len(m.centre)), make([]float64, len(m.centre))}
	}
	for o := range m.process {
		p := &m.process[o]
		inverse := p.lower.inverse()
		sums := slices.Clone(p.ones)
		p.lower.solveBack(sums) // row sums of the inverse
		for i := range out {
			own := inverse[i][i] - sums[i]*sums[i]/p.weight
			miss := p.alpha[0][i] / own
			for a, d := range m.axes[o] {
				out[i].Miss[a] += d * miss
				out[i].SD[a] += d * d * p.scale2 / own
			}
		}
	}
	for i := range out {
		for a, y := range m.out[i] {
			out[i].Mean[a] = y - out[i].Miss[a]
			out[i].SD[a] = math.Sqrt(out[i].SD[a])
		}
	}
	return out
}

// RepeatSD returns how far repeats of one swatch within a block lie from their
// mean, as standard deviations of each output.
func (m *Model) RepeatSD() []float64 {
	sd := make([]float64, len(m.centre))
	for o, axis := range m.axes {
		for a, d := range axis {
			sd[a] += d * d * m.process[o].scale2 * m.process[o].noise
		}
	}
	for a := range sd {
		sd[a] = math.Sqrt(sd[a])
	}
	return sd
}
