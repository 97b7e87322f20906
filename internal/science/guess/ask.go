package guess

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// Question asks for the effect of moving one factor, the others as they may be.
type Question struct {
	Factor   int // among those that are set
	From, To float64
	Round    func(at []float64) // as in Goal
	Allowed  func(at []float64) bool
	Offered  func(at []float64) bool // further asked of what is proposed, not of what the effect is averaged over; nil: nothing
	Compute  func(at []float64) ([]float64, bool)
	Batch    int // 0 for 1
	Effort   int // 0 for 1000
}

// Effect is what moving a factor does to each output, on average over the other
// factors, with 90 % intervals.
type Effect struct{ Mean, SD, Low, High []float64 }

// Inquiry is what is known of a question, and which swatches would tell most.
type Inquiry struct {
	Now   Effect
	Runs  [][]float64 // points, with the computed factors
	After []float64   // SD of each output once they are made
}

// others is how many settings of the other factors an effect is averaged over.
const others = 32

// Ask answers a question from what was made, and proposes the swatches that shrink
// the interval of its answer most, one after the other.
func (m *Model) Ask(q Question, r *rand.Rand) (Inquiry, error) {
	if q.Factor < 0 || q.Factor >= m.set || q.From == q.To || m.set < len(m.factors) && q.Compute == nil {
		return Inquiry{}, fmt.Errorf("%w: the question must move one factor that is set, and say how the others are computed", ErrFactors)
	}
	ends := [2]float64{}
	for i, x := range []float64{q.From, q.To} {
		f := m.factors[q.Factor]
		full, err := units([]Factor{f}, []float64{x})
		if err != nil {
			return Inquiry{}, err
		}
		if !(x >= f.Low && x <= f.High) && f.Levels == nil {
			return Inquiry{}, fmt.Errorf("%w: %s reaches from %v to %v", ErrFactors, f.Name, f.Low, f.High)
		}
		ends[i] = full[0]
	}
	goal := Goal{Round: q.Round, Allowed: q.Allowed, Compute: q.Compute, Effort: q.Effort}
	e := &effect{Model: m.copy()}
	for round := 0; round < 20 && len(e.to) < others; round++ {
		for _, u := range m.scatter(others, r) {
			u[q.Factor] = ends[0]
			from, ok := m.whole(u, goal)
			u[q.Factor] = ends[1]
			to, also := m.whole(u, goal)
			if ok && also && len(e.to) < others {
				e.from, e.to = append(e.from, from), append(e.to, to)
			}
		}
	}
	if len(e.to) == 0 {
		return Inquiry{}, ErrNothingAllowed
	}
	e.prior = e.own()
	e.renew()
	found := Inquiry{Now: e.now()}
	if q.Offered != nil {
		goal.Allowed = func(at []float64) bool { return (q.Allowed == nil || q.Allowed(at)) && q.Offered(at) }
	}
	for range max(1, q.Batch) {
		best, err := m.climb(goal, nil, e.shrink, r)
		if errors.Is(err, ErrNothingAllowed) && q.Offered != nil {
			break // what is known is known all the same
		}
		if err != nil {
			return Inquiry{}, err
		}
		at := make([]float64, m.set)
		for i, f := range m.factors[:m.set] {
			at[i] = f.value(best.u[i])
		}
		if q.Round != nil {
			q.Round(at)
		}
		if m.set < len(m.factors) {
			more, _ := q.Compute(at)
			at = append(at, more...)
		}
		found.Runs = append(found.Runs, at)
		e.look(best.u, &e.w)
		ys := make([][]float64, len(e.process))
		for o := range ys {
			ys[o] = []float64{e.w.mean[o][0]}
		}
		if e.add(best.u, ys) {
			e.renew()
		}
	}
	found.After = e.sd()
	return found, nil
}

// effect is a mean difference over pairs of points.
type effect struct {
	*Model
	from, to [][]float64
	prior    float64     // variance before anything was made
	k        []float64   // covariances with the model's points
	v        [][]float64 // columns of lower, by axis
	miss     []float64
	share    []float64 // variance, by axis
	w        view
	row      []float64
}

// with returns the prior covariance of the effect with a point.
func (e *effect) with(u []float64) float64 {
	sum := 0.0
	for i := range e.to {
		sum += e.kernel.at(e.scale, e.to[i], u) - e.kernel.at(e.scale, e.from[i], u)
	}
	return sum / float64(len(e.to))
}

func (e *effect) own() float64 {
	sum := 0.0
	for i := range e.to {
		sum += e.with(e.to[i]) - e.with(e.from[i])
	}
	return sum / float64(len(e.to))
}

// renew computes what follows from the points there are.
func (e *effect) renew() {
	e.k = make([]float64, len(e.x))
	for i, u := range e.x {
		e.k[i] = e.with(u)
	}
	e.v, e.miss, e.share = make([][]float64, len(e.process)), make([]float64, len(e.process)), make([]float64, len(e.process))
	for o := range e.process {
		p := &e.process[o]
		e.v[o] = make([]float64, len(e.k))
		p.lower.solve(e.k, e.v[o])
		e.miss[o] = -floats.Dot(p.ones, e.v[o]) // a mean adds nothing to a difference
		e.share[o] = max(0, p.cross(e.prior, e.v[o], e.v[o], e.miss[o], e.miss[o]))
	}
}

// shrink returns by how much a swatch at u lowers the variance of the effect, all
// outputs together.
func (e *effect) shrink(u []float64) float64 {
	prior := e.with(u)
	k := e.cover(u, slices.Grow(e.row[:0], len(e.x))[:len(e.x)])
	e.row = k
	v := make([]float64, len(k))
	sum := 0.0
	for o := range e.process {
		p := &e.process[o]
		p.lower.solve(k, v)
		miss := 1 - floats.Dot(p.ones, v)
		with := p.cross(prior, e.v[o], v, e.miss[o], miss)
		alone := max(1e-12, p.cross(1, v, v, miss, miss))
		sum += p.scale2 * with * with / (alone + p.noise + p.block)
	}
	return sum
}

// sd returns the standard deviation of the effect on each output.
func (e *effect) sd() []float64 {
	sd := make([]float64, len(e.centre))
	for o, axis := range e.axes {
		for a, d := range axis {
			sd[a] += d * d * e.process[o].scale2 * e.share[o]
		}
	}
	for a := range sd {
		sd[a] = math.Sqrt(sd[a])
	}
	return sd
}

func (e *effect) now() Effect {
	f := Effect{Mean: make([]float64, len(e.centre)), SD: e.sd()}
	for o, axis := range e.axes {
		floats.AddScaled(f.Mean, floats.Dot(e.k, e.process[o].alpha[0]), axis)
	}
	t := distuv.StudentsT{Sigma: 1, Nu: e.df}.Quantile(0.95)
	for a, mean := range f.Mean {
		f.Low, f.High = append(f.Low, mean-t*f.SD[a]), append(f.High, mean+t*f.SD[a])
	}
	return f
}
