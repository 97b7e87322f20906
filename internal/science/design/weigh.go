package design

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// weigher holds what does not change while runs do: the model, the shifts that
// are found out (columns of their own) and the weights that chance shifts leave.
type weigher struct {
	*shape
	n, q   int         // runs, and columns with those of the shifts
	shifts [][]float64 // each run's columns for the shifts
	weight [][]float64 // the inverse of the runs' covariance, nil for the identity
}

func newWeigher(s *shape, groups []Group, n int) *weigher {
	w := &weigher{shape: s, n: n, q: s.cols, shifts: make([][]float64, n)}
	var cov *mat.SymDense
	for _, g := range groups {
		b := g.count()
		if g.Ratio == 0 {
			f := Factor{Levels: make([]string, b)}
			if b < 2 {
				continue
			}
			for i := range n {
				w.shifts[i] = f.columns(w.shifts[i], float64(g.Of[i]))
			}
			w.q += b - 1
			continue
		}
		if cov == nil {
			cov = mat.NewSymDense(n, nil)
			for i := range n {
				cov.SetSym(i, i, 1)
			}
		}
		for i := range n {
			for j := range i + 1 {
				if g.Of[i] == g.Of[j] {
					cov.SetSym(i, j, cov.At(i, j)+g.Ratio)
				}
			}
		}
	}
	if cov != nil {
		var chol mat.Cholesky
		var inv mat.SymDense
		// The identity plus blocks that are positive: always possible.
		if chol.Factorize(cov) && chol.InverseTo(&inv) == nil {
			w.weight = make([][]float64, n)
			for i := range n {
				for j := range n {
					w.weight[i] = append(w.weight[i], inv.At(i, j))
				}
			}
		}
	}
	return w
}

// line is the whole row of run i.
func (w *weigher) line(i int, run []float64) []float64 {
	return append(w.row(make([]float64, 0, w.q), run), w.shifts[i]...)
}

// information returns X'V⁻¹X.
func (w *weigher) information(x [][]float64) []float64 {
	q := w.q
	m := make([]float64, q*q)
	add := func(a, b []float64, v float64) {
		for i, ai := range a {
			if ai *= v; ai != 0 {
				for j, bj := range b {
					m[i*q+j] += ai * bj
				}
			}
		}
	}
	for i := range x {
		if w.weight == nil {
			add(x[i], x[i], 1)
			continue
		}
		for j := range x {
			if v := w.weight[i][j]; v != 0 {
				add(x[i], x[j], v)
			}
		}
	}
	return m
}

// invert returns the inverse of a q by q information matrix and the logarithm of
// its determinant; ok is false when it has none worth the name.
func invert(m []float64, q int) (inv []float64, logDet float64, ok bool) {
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(q, slices.Clone(m))) {
		return nil, 0, false
	}
	var s mat.SymDense
	if err := chol.InverseTo(&s); err != nil {
		return nil, 0, false
	}
	inv = make([]float64, 0, q*q)
	for i := range q {
		for j := range q {
			inv = append(inv, s.At(i, j))
		}
	}
	// A squared pivot over its column's own is the share of the column that those
	// before it leave open. The library's estimated condition can be far too low.
	var u mat.TriDense
	chol.UTo(&u)
	ok = true
	for j := range q {
		ok = ok && u.At(j, j)*u.At(j, j) > 1e-11*m[j*q+j]
	}
	return inv, chol.LogDet(), ok
}

// mostRegion is how many points the region of a plan is judged at, at most.
const mostRegion = 4096

// region lists the runs the model is asked about: every feasible combination of
// settings when there are few, of three settings a factor when there are more,
// otherwise a sample whose seed never changes.
func region(fs []Factor, forbidden func([]float64) bool) [][]float64 {
	size := func(fs []Factor) int {
		n := 1
		for _, f := range fs {
			if n *= len(f.codes()); n > mostRegion {
				return n
			}
		}
		return n
	}
	few := slices.Clone(fs)
	if size(few) > mostRegion {
		for i, f := range few {
			if c := f.codes(); !f.Category() && len(c) > 3 {
				few[i].Settings = []float64{f.Value(c[0]), f.Value(c[len(c)/2]), f.Value(c[len(c)-1])}
			}
		}
	}
	var all [][]float64
	if size(few) <= mostRegion {
		all = grid(few)
	} else {
		rng := rand.New(rand.NewPCG(1, 1))
		for range mostRegion {
			all = append(all, anyRun(fs, rng))
		}
	}
	if forbidden == nil {
		return all
	}
	return slices.DeleteFunc(all, forbidden)
}

func anyRun(fs []Factor, rng *rand.Rand) []float64 {
	run := make([]float64, len(fs))
	for i, f := range fs {
		c := f.codes()
		run[i] = c[rng.IntN(len(c))]
	}
	return run
}

// moments is the mean of f f' over the region, in the q columns (shifts 0).
func (w *weigher) moments(points [][]float64) []float64 {
	q := w.q
	b := make([]float64, q*q)
	var f []float64
	for _, p := range points {
		f = w.row(f[:0], p)
		for i, v := range f {
			if v != 0 {
				for j, u := range f {
					b[i*q+j] += v * u / float64(len(points))
				}
			}
		}
	}
	return b
}

// quad is a'Mb.
func quad(m, a, b []float64) float64 {
	q := len(b)
	sum := 0.0
	for i, v := range a {
		if v == 0 {
			continue
		}
		row := m[i*q : i*q+q]
		s := 0.0
		for j, u := range b {
			s += row[j] * u
		}
		sum += v * s
	}
	return sum
}

// times is Mb.
func times(out, m, b []float64) []float64 {
	q := len(b)
	out = out[:0]
	for i := range q {
		s := 0.0
		row := m[i*q : i*q+q]
		for j, u := range b {
			s += row[j] * u
		}
		out = append(out, s)
	}
	return out
}

func trace(a, b []float64, q int) float64 {
	s := 0.0
	for i := range q {
		for j := range q {
			s += a[i*q+j] * b[j*q+i]
		}
	}
	return s
}

// Efficiency is what a plan is worth for its model, as the NIST/SEMATECH
// e-Handbook's section on D-optimal designs reckons it, in the coding of this
// package.
//
// D is |X'X|^(1/p)/n, more is better, 1 the most with two-level orthogonal
// coding. A is the mean variance of the coefficients and I that of a prediction
// over the region, both times n: less is better. G is p/n over the largest
// variance of a prediction in the region, from 0 to 1 when runs do not share
// chance shifts.
//
// With blocks, D counts the coefficients after the shifts are taken out.
type Efficiency struct {
	D, A, G, I float64
}

// ErrSingular says that the runs can't tell all of the model's effects apart.
var ErrSingular = askf("these runs can't tell all effects of the model apart; take more runs or fewer effects")

// Efficiency returns what p is worth for its model over the feasible region;
// forbidden may be nil. It is ErrSingular when effects can't be told apart.
func (p Plan) Efficiency(forbidden func([]float64) bool) (Efficiency, error) {
	w, x, err := p.weigh()
	if err != nil {
		return Efficiency{}, err
	}
	points := region(p.Factors, forbidden)
	if len(points) == 0 {
		return Efficiency{}, askf("every combination is forbidden; allow some")
	}
	inv, ok := w.inverse(x)
	if !ok {
		return Efficiency{}, ErrSingular
	}
	k, n := w.cols, float64(len(x))
	// The coefficients' block of the inverse: its determinant is that of the
	// information left after the shifts.
	part := make([]float64, 0, k*k)
	for i := range k {
		part = append(part, inv[i*w.q:i*w.q+k]...)
	}
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(k, part)) {
		return Efficiency{}, ErrSingular
	}
	e := Efficiency{D: math.Exp(-chol.LogDet()/float64(k)) / n, I: n * trace(inv, w.moments(points), w.q)}
	for i := range k {
		e.A += n * inv[i*w.q+i] / float64(k)
	}
	worst := 0.0
	var f []float64
	for _, pt := range points {
		f = w.row(f[:0], pt)
		f = append(f, make([]float64, w.q-k)...)
		worst = max(worst, quad(inv, f, f))
	}
	e.G = float64(k) / (n * worst)
	return e, nil
}

// weigh makes the plan's weigher and rows.
func (p Plan) weigh() (*weigher, [][]float64, error) {
	if err := p.check(); err != nil {
		return nil, nil, err
	}
	s, err := newShape(p.Factors, p.Model)
	if err != nil {
		return nil, nil, err
	}
	w := newWeigher(s, p.Groups, len(p.Runs))
	x := make([][]float64, len(p.Runs))
	for i, run := range p.Runs {
		x[i] = w.line(i, run)
	}
	return w, x, nil
}

// inverse inverts the information in rows, if it can.
func (w *weigher) inverse(x [][]float64) ([]float64, bool) {
	inv, _, ok := invert(w.information(x), w.q)
	return inv, ok
}

// check refuses a plan whose parts do not fit.
func (p Plan) check() error {
	if err := checkFactors(p.Factors); err != nil {
		return err
	}
	if len(p.Runs) == 0 || len(p.Runs) > MaxRuns {
		return askf("a plan has 1 to %d runs, not %d", MaxRuns, len(p.Runs))
	}
	for i, run := range p.Runs {
		if len(run) != len(p.Factors) {
			return askf("run %d has %d settings for %d factors", i+1, len(run), len(p.Factors))
		}
		for j, v := range run {
			f := p.Factors[j]
			if math.IsNaN(v) || math.IsInf(v, 0) || f.Category() && (v != math.Trunc(v) || v < 0 || int(v) >= len(f.Levels)) {
				return askf("run %d has no setting %v of %s", i+1, v, f.Name)
			}
		}
	}
	return checkGroups(p.Groups, p.Factors, len(p.Runs))
}
