package guess

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"aerugo/internal/science/colour"
)

// Goal is what to come near, and what may be tried on the way.
type Goal struct {
	// Loss says how far outputs are from what is wanted, 0 or more, or any number to
	// be made small.
	Loss func(out []float64) float64
	// Target holds the outputs wanted, where they are known; only then is there a rule
	// to stop by.
	Target []float64
	// Near is the loss at which it is as good as reached, such as 3 for dE00. Until
	// one is that near, proposals are judged by how far below Near they may come, which
	// leaves a blind alley sooner than judging them by the best tried. 0 for none.
	Near float64
	// Round puts a setting, in place and within its factors' ranges, to the nearest
	// that hands can make; nil: any can be made. What is allowed and computed is asked
	// of rounded settings.
	Round func(at []float64)
	// Allowed says whether a setting may be tried; nil: all may.
	Allowed func(at []float64) bool
	// Compute returns the computed factors of a setting; it is needed when there are
	// any, and a setting for which it says false is not allowed.
	Compute func(at []float64) ([]float64, bool)
	// Batch is how many to propose at once; 0 for 1.
	Batch int
	// Effort is how many settings are looked at for each proposal; 0 for 1000.
	Effort int
}

// Toward returns the loss that is the difference dE00 (CIEDE2000) from a target,
// of outputs L*, a* and b*.
func Toward(target colour.Lab) func(out []float64) float64 {
	return func(out []float64) float64 {
		return colour.Difference(colour.Lab{L: out[0], A: out[1], B: out[2]}, target)
	}
}

// Reason is why a swatch is proposed.
type Reason string

// The reasons.
const (
	Exploit Reason = "exploit" // it should come nearer than any tried
	Learn   Reason = "learn"   // it may come nearer, and tells more than it promises
)

// Proposal is one swatch to make next.
type Proposal struct {
	At         []float64 // with the computed factors
	Prediction           // 90 % intervals
	Reason     Reason
	Loss       float64 // expected of the swatch, its noise included
	Chance     float64 // that the swatch is within Near
	Gain       float64 // expected improvement on the best tried
}

// Plan is what to do next.
type Plan struct {
	Proposals []Proposal
	Best      int     // row that is taken to be the best tried
	BestLoss  float64 // expected of what it truly is
	Spread    float64 // expected loss of a repeat of something that hits the goal
	// Stop says that the best tried is as near as repeats of one swatch lie to each
	// other: more trials can't be told from luck.
	Stop bool
}

// draws is how many samples of the processes a setting is judged by, dreams how
// many tellings of what is proposed but not yet made.
const (
	draws  = 64
	dreams = 8
)

// dice are the same for all settings, so that settings are compared and not luck.
type dice struct{ truth, noise [][]float64 } // by draw and axis

func (m *Model) roll(r *rand.Rand) dice {
	var d dice
	q := len(m.process)
	// each axis runs through the quantiles in an order of its own
	column := func() []float64 {
		c := make([]float64, draws)
		for i, j := range r.Perm(draws) {
			c[i] = math.Sqrt2 * math.Erfinv(2*(float64(j)+0.5)/draws-1)
		}
		return c
	}
	d.truth, d.noise = make([][]float64, draws), make([][]float64, draws)
	for s := range draws {
		d.truth[s], d.noise[s] = make([]float64, q), make([]float64, q)
	}
	for o := range q {
		truth, noise, widen := column(), column(), column()
		for s := range draws {
			// Student's t from a normal and a chi square (Wilson and Hilferty 1931)
			c := 2 / (9 * m.df)
			chi := 1 - c + widen[s]*math.Sqrt(c)
			t := 1 / math.Sqrt(max(chi*chi*chi, 0.05))
			d.truth[s][o], d.noise[s][o] = truth[s]*t, noise[s]*t
		}
	}
	return d
}

// chooser searches for one proposal after the other.
type chooser struct {
	*Model
	goal  Goal
	r     *rand.Rand
	dice  dice
	best  []float64 // least loss of what was tried, by telling
	width float64   // of the soft step between improving and not
	w     view
	out   []float64
}

// sample calls use with the outputs of each draw at the point last looked at: what
// is truly there, or a swatch in a new block.
func (c *chooser) sample(swatch bool, use func(s int, out []float64)) {
	for s := range draws {
		copy(c.out, c.centre)
		for o, axis := range c.axes {
			p := &c.process[o]
			f := s % len(p.mean)
			y := c.w.mean[o][f] + math.Sqrt(p.scale2*c.w.share[o])*c.dice.truth[s][o]
			if swatch {
				y += math.Sqrt(p.scale2*(p.noise+p.block)) * c.dice.noise[s][o]
			}
			for a, d := range axis {
				c.out[a] += y * d
			}
		}
		use(s, c.out)
	}
}

// gain returns the expected improvement at u. Its step is softened, so that it is
// above 0 everywhere and points the way.
func (c *chooser) gain(u []float64) float64 {
	c.look(u, &c.w)
	sum := 0.0
	c.sample(false, func(s int, out []float64) {
		d := (c.best[s%len(c.best)] - c.goal.Loss(out)) / c.width
		switch {
		case d > 30:
			sum += d
		case d > -700:
			sum += math.Log1p(math.Exp(d))
		}
	})
	return sum / draws
}

// whole returns the point in units of settings in units, and false when it is not
// allowed.
func (m *Model) whole(u []float64, goal Goal) ([]float64, bool) {
	at := make([]float64, m.set, len(m.factors))
	for i := range at {
		at[i] = m.factors[i].value(u[i])
	}
	if goal.Round != nil {
		goal.Round(at)
	}
	if goal.Allowed != nil && !goal.Allowed(at) {
		return nil, false
	}
	if m.set < len(m.factors) {
		more, ok := goal.Compute(at)
		if !ok {
			return nil, false
		}
		at = append(at, more...)
	}
	full, err := units(m.factors, at)
	return full, err == nil
}

// scatter returns settings spread evenly by chance: each number falls once into
// each of n equal parts of its range.
func (m *Model) scatter(n int, r *rand.Rand) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, m.set)
	}
	for j, f := range m.factors[:m.set] {
		for i, k := range r.Perm(n) {
			if levels := len(f.Levels); levels > 0 {
				out[i][j] = float64(k % levels)
			} else {
				out[i][j] = (float64(k) + r.Float64()) / float64(n)
			}
		}
	}
	return out
}

// near returns a setting close to another: some numbers moved, sometimes a label
// changed.
func (m *Model) near(u []float64, reach float64, r *rand.Rand) []float64 {
	v := slices.Clone(u[:m.set])
	must := r.IntN(m.set)
	for j, f := range m.factors[:m.set] {
		if levels := len(f.Levels); levels > 0 {
			if r.Float64() < 0.15 {
				v[j] = float64(r.IntN(levels))
			}
		} else if j == must || r.Float64() < 0.6 {
			x := v[j] + reach*r.NormFloat64()
			v[j] = min(1, max(0, x))
		}
	}
	return v
}

type candidate struct {
	u     []float64
	score float64
}

// climb looks for the setting with the greatest score: many spread over all that is
// allowed and close to the rows in near, then ever closer to the best of these.
func (m *Model) climb(goal Goal, near []int, score func(u []float64) float64, r *rand.Rand) (candidate, error) {
	effort := goal.Effort
	if effort <= 0 {
		effort = 1000
	}
	var pool []candidate
	try := func(v []float64) (candidate, bool) {
		u, ok := m.whole(v, goal)
		if !ok {
			return candidate{}, false
		}
		return candidate{u, score(u)}, true
	}
	for round := 0; round < 20 && len(pool) == 0; round++ { // narrow allowances need more looks
		for _, v := range m.scatter(effort/2, r) {
			if c, ok := try(v); ok {
				pool = append(pool, c)
			}
		}
	}
	if len(pool) == 0 {
		return candidate{}, ErrNothingAllowed
	}
	for i := range effort / 8 {
		if len(near) == 0 {
			break
		}
		reach := 0.3 * math.Pow(0.01, r.Float64())
		if c, ok := try(m.near(m.x[near[i%len(near)]], reach, r)); ok {
			pool = append(pool, c)
		}
	}
	sort.SliceStable(pool, func(a, b int) bool { return pool[a].score > pool[b].score })
	tops := pool[:min(4, len(pool))]
	steps := 3 * effort / 8 / len(tops)
	for t := range tops {
		reach := 0.15
		for range steps {
			if c, ok := try(m.near(tops[t].u, reach, r)); ok && c.score > tops[t].score {
				tops[t], reach = c, min(0.3, reach*1.5)
			} else {
				reach = max(0.0005, reach*0.88)
			}
		}
	}
	return slices.MaxFunc(tops, func(a, b candidate) int {
		switch {
		case a.score < b.score:
			return -1
		case a.score > b.score:
			return 1
		}
		return 0
	}), nil
}

// Next proposes a batch of swatches by expected improvement on the best tried, the
// processes sampled, as a loss such as dE00 is not normal. In a batch each is
// chosen as if those before it were made, in several tellings of how they came out.
// Source: Jones, Schonlau and Welch 1998.
func (m *Model) Next(goal Goal, r *rand.Rand) (Plan, error) {
	if goal.Loss == nil || m.set < len(m.factors) && goal.Compute == nil {
		return Plan{}, fmt.Errorf("%w: the goal lacks its loss or what computes the other factors", ErrFactors)
	}
	if goal.Target != nil && len(goal.Target) != len(m.centre) {
		return Plan{}, fmt.Errorf("%w: the target has %d numbers for %d outputs", ErrFactors, len(goal.Target), len(m.centre))
	}
	rolled := m.roll(r)
	made := &chooser{Model: m, goal: goal, dice: rolled, out: make([]float64, len(m.centre))}
	plan := Plan{BestLoss: math.Inf(1)}
	losses, order := make([]float64, len(m.x)), make([]int, len(m.x))
	for i, u := range m.x {
		m.look(u, &made.w)
		order[i] = i
		losses[i] = goal.Loss(m.outputs(func(o int) float64 { return made.w.mean[o][0] }))
		expected := 0.0
		made.sample(false, func(_ int, out []float64) { expected += goal.Loss(out) / draws })
		if expected < plan.BestLoss {
			plan.BestLoss, plan.Best = expected, i
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return losses[order[a]] < losses[order[b]] })
	made.best = []float64{losses[order[0]]}
	aim := made.best
	if goal.Near > 0 { // to better what is far off is of no use unless it comes near
		aim = []float64{min(aim[0], goal.Near)}
	}
	plan.Spread = made.spread()
	plan.Stop = plan.BestLoss <= plan.Spread

	c := &chooser{Model: m.copy(), goal: goal, dice: rolled, best: aim, out: made.out}
	c.width = max(1e-9, 1e-3*(losses[order[len(order)/2]]-losses[order[0]]))
	for b := range max(1, goal.Batch) {
		best, err := m.climb(goal, order[:min(3, len(order))], c.gain, r)
		if err != nil {
			return Plan{}, err
		}
		p, err := made.propose(best.u)
		if err != nil {
			return Plan{}, err
		}
		plan.Proposals = append(plan.Proposals, p)
		if b+1 < goal.Batch {
			c.dream(best.u, r)
		}
	}
	return plan, nil
}

// propose says what is to be expected at u.
func (c *chooser) propose(u []float64) (Proposal, error) {
	p := Proposal{At: make([]float64, len(u)), Reason: Learn}
	for i, f := range c.factors {
		p.At[i] = f.value(u[i])
	}
	if c.goal.Round != nil {
		c.goal.Round(p.At[:c.set])
	}
	if c.set < len(c.factors) { // computed again, as they may lie outside their ranges
		more, _ := c.goal.Compute(p.At[:c.set:c.set])
		copy(p.At[c.set:], more)
	}
	var err error
	if p.Prediction, err = c.At(p.At, 0.9); err != nil {
		return p, err
	}
	if c.goal.Loss(p.Mean) < c.best[0] {
		p.Reason = Exploit
	}
	c.look(u, &c.w)
	c.sample(true, func(_ int, out []float64) {
		loss := c.goal.Loss(out)
		p.Loss += loss / draws
		if loss <= c.goal.Near {
			p.Chance += 1.0 / draws
		}
	})
	c.sample(false, func(_ int, out []float64) { p.Gain += max(0, c.best[0]-c.goal.Loss(out)) / draws })
	return p, nil
}

// spread returns the expected loss of repeats that lie about the target: how near
// one's hands can come. It is 0 without a target.
func (c *chooser) spread() float64 {
	if c.goal.Target == nil {
		return 0
	}
	sum := 0.0
	for s := range draws {
		copy(c.out, c.goal.Target)
		for o, axis := range c.axes {
			y := math.Sqrt(c.process[o].scale2*c.process[o].noise) * c.dice.noise[s][o]
			for a, d := range axis {
				c.out[a] += y * d
			}
		}
		sum += c.goal.Loss(c.out)
	}
	return sum / draws
}
