package design

import (
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/science/stat"
)

// Criterion is what a searched plan is best at.
type Criterion int

// The criteria: D makes all effects sharp together, I makes predictions sharp
// over the whole region, A makes the effects sharp on average.
const (
	D Criterion = iota
	I
	A
)

// Search is what a plan is searched for.
//
// Fixed runs are made already and stay as they are; they come first. Forbidden
// says of a run's codes that it must not be made. Starts is the number of random
// beginnings, 0 for as many as take about a second: 4 to 2000.
type Search struct {
	Factors   []Factor
	Model     []stat.Term
	Runs      int // with the fixed ones
	Fixed     [][]float64
	Forbidden func(run []float64) bool
	Groups    []Group // over all runs, the fixed ones first
	Criterion Criterion
	Starts    int
}

// Found is a searched plan. Hits is how many of the Starts ended as good.
type Found struct {
	Plan
	Score  float64
	Starts int
	Hits   int
}

// Optimal searches the plan by coordinate exchange from random beginnings (Meyer
// & Nachtsheim 1995), most of them near the best of a few, and, where there are at most 400 combinations, by whole
// runs after that. Factors held in groups change for the whole group (Jones &
// Goos 2007). The best known plan need not be found; more Starts help.
//
// Score is the logarithm of the determinant of the information for D, minus the
// mean variance of a prediction for I, minus the sum of the coefficients'
// variances for A. The error is ErrSingular when no beginning led to a plan that
// tells all effects apart.
func Optimal(s Search, rng *rand.Rand) (Found, error) {
	x, err := newExchange(s, rng)
	if err != nil {
		return Found{}, err
	}
	starts := s.Starts
	if starts == 0 {
		budget := 3_000_000
		if x.weight != nil {
			budget /= 4 // runs that share chance shifts take longer to weigh
		}
		starts = min(max(budget/(x.n*x.q*x.q), 4), 2000)
	}
	best := Found{Score: math.Inf(-1), Starts: starts}
	var near [][]float64 // the best of this chain
	nearScore := math.Inf(-1)
	for start := range starts {
		if start%chain == 0 || near == nil {
			near, nearScore = nil, math.Inf(-1)
			if !x.begin() {
				return Found{}, askf("no way was found to give every run a setting that is allowed; forbid less, or let fewer things stay the same in a block")
			}
		} else if !x.shake(near) {
			continue
		}
		x.climb()
		score, ok := x.exact()
		if !ok {
			continue
		}
		if score > nearScore {
			near, nearScore = copied(x.runs), score
		}
		switch slack := 1e-7 * (1 + math.Abs(score)); {
		case score > best.Score+slack:
			best.Score, best.Hits, best.Runs = score, 1, copied(x.runs)
		case score > best.Score-slack:
			best.Hits++
		}
	}
	if best.Runs == nil {
		return Found{}, ErrSingular
	}
	best.Factors, best.Model, best.Groups = s.Factors, s.Model, s.Groups
	return best, nil
}

// chain is how many beginnings hang together: the first is random, each next one
// the best of them so far with a few runs drawn anew, which leads on more often
// than another random one.
const chain = 50

func copied(runs [][]float64) [][]float64 {
	out := make([][]float64, len(runs))
	for i, r := range runs {
		out[i] = slices.Clone(r)
	}
	return out
}

// exchange is a search under way.
type exchange struct {
	Search
	*weigher
	rng   *rand.Rand
	codes [][]float64
	held  []int       // the group each factor is held in, -1 for none
	whole [][]float64 // all feasible runs, when they are few
	prize []float64   // what the inverse is weighed with for I and A

	runs, rows [][]float64
	inv        []float64 // (X'V⁻¹X + a little)⁻¹
	back       []float64 // inv·prize·inv
}

// little keeps the inverse alive while runs can't tell effects apart yet.
const little = 1e-7

func newExchange(s Search, rng *rand.Rand) (*exchange, error) {
	if err := checkFactors(s.Factors); err != nil {
		return nil, err
	}
	if s.Runs < 1 || s.Runs > MaxRuns || len(s.Fixed) >= s.Runs {
		return nil, askf("%d runs with %d made already; a plan has 1 to %d, and at least one still to make", s.Runs, len(s.Fixed), MaxRuns)
	}
	if s.Starts < 0 || s.Starts > 10000 {
		return nil, askf("%d beginnings; take 1 to 10000", s.Starts)
	}
	if s.Criterion < D || s.Criterion > A {
		return nil, askf("the plan is made best at D, I or A")
	}
	if len(s.Fixed) > 0 {
		if err := (Plan{Factors: s.Factors, Runs: s.Fixed}).checkFixed(); err != nil {
			return nil, err
		}
	}
	if err := checkGroups(s.Groups, s.Factors, s.Runs); err != nil {
		return nil, err
	}
	sh, err := newShape(s.Factors, s.Model)
	if err != nil {
		return nil, err
	}
	x := &exchange{Search: s, weigher: newWeigher(sh, s.Groups, s.Runs), rng: rng}
	if x.q > s.Runs {
		return nil, askf("%d runs can't answer for %d effects (the mean and the shifts of blocks counted); take at least %d runs, or ask for less", s.Runs, x.q, x.q)
	}
	size := 1
	for _, f := range s.Factors {
		c := f.codes()
		x.codes = append(x.codes, c)
		size = min(size*len(c), 1<<30)
		x.held = append(x.held, slices.IndexFunc(s.Groups, func(g Group) bool { return g.Name == f.HeldIn && f.HeldIn != "" }))
	}
	for f, g := range x.held {
		if g < 0 {
			continue
		}
		for i := range s.Fixed {
			for j := range i {
				if s.Groups[g].Of[i] == s.Groups[g].Of[j] && s.Fixed[i][f] != s.Fixed[j][f] {
					return nil, askf("runs %d and %d are made already in one %s with two settings of %s, which is said to stay the same", j+1, i+1, s.Groups[g].Name, s.Factors[f].Name)
				}
			}
		}
	}
	if size <= 400 && !slices.ContainsFunc(x.held, func(g int) bool { return g >= 0 }) {
		x.whole = slices.DeleteFunc(grid(s.Factors), x.bad)
		if len(x.whole) == 0 {
			return nil, askf("every combination is forbidden; allow some")
		}
	}
	switch s.Criterion {
	case I:
		points := region(s.Factors, s.Forbidden)
		if len(points) == 0 {
			return nil, askf("every combination is forbidden; allow some")
		}
		x.prize = x.moments(points)
	case A:
		x.prize = make([]float64, x.q*x.q)
		for i := range x.cols {
			x.prize[i*x.q+i] = 1
		}
	}
	return x, nil
}

// checkFixed is check for the runs alone.
func (p Plan) checkFixed() error {
	for i := range p.Factors {
		p.Factors = slices.Clone(p.Factors)
		p.Factors[i].HeldIn = ""
	}
	return p.check()
}

func (x *exchange) bad(run []float64) bool { return x.Forbidden != nil && x.Forbidden(run) }

// begin gives every run that is not fixed a random setting that is allowed; false
// when a thousand tries found none.
func (x *exchange) begin() bool {
	x.runs = make([][]float64, x.n)
	copy(x.runs, x.Fixed)
	const tries = 1000
	for t := range tries {
		// What is held is drawn first, for each group once.
		drawn := make([][]float64, len(x.held))
		for f, g := range x.held {
			if g < 0 {
				continue
			}
			of := x.Groups[g].Of
			for range x.Groups[g].count() {
				drawn[f] = append(drawn[f], x.codes[f][x.rng.IntN(len(x.codes[f]))])
			}
			for i := range x.Fixed {
				drawn[f][of[i]] = x.Fixed[i][f]
			}
		}
		done := true
		for i := len(x.Fixed); i < x.n && done; i++ {
			done = false
			for range 50 {
				run := x.draw()
				for f, g := range x.held {
					if g >= 0 {
						run[f] = drawn[f][x.Groups[g].Of[i]]
					}
				}
				if !x.bad(run) {
					x.runs[i], done = run, true
					break
				}
			}
		}
		if done {
			return x.fresh()
		}
		if t == tries-1 {
			break
		}
	}
	return false
}

// shake begins with the runs given, up to a third of them drawn anew.
func (x *exchange) shake(runs [][]float64) bool {
	x.runs = copied(runs)
	free := x.n - len(x.Fixed)
	for range 1 + x.rng.IntN(max(free/3, 1)) {
		i := len(x.Fixed) + x.rng.IntN(free)
		run := x.draw()
		for f, g := range x.held {
			if g >= 0 {
				run[f] = runs[i][f]
			}
		}
		if !x.bad(run) {
			x.runs[i] = run
		}
	}
	return x.fresh()
}

// draw is a random run, an allowed one where they are listed.
func (x *exchange) draw() []float64 {
	if x.whole != nil {
		return slices.Clone(x.whole[x.rng.IntN(len(x.whole))])
	}
	run := make([]float64, len(x.codes))
	for f, c := range x.codes {
		run[f] = c[x.rng.IntN(len(c))]
	}
	return run
}

// fresh reckons rows and inverses from the runs.
func (x *exchange) fresh() bool {
	x.rows = make([][]float64, x.n)
	for i, r := range x.runs {
		x.rows[i] = x.line(i, r)
	}
	m := x.information(x.rows)
	for i := range x.q {
		m[i*x.q+i] += little
	}
	inv, _, _ := invert(m, x.q)
	if inv == nil {
		return false
	}
	x.inv = inv
	x.weighBack()
	return true
}

func (x *exchange) weighBack() {
	if x.prize == nil {
		return
	}
	q := x.q
	half := multiply(x.inv, x.prize, q)
	x.back = multiply(half, x.inv, q)
}

func multiply(a, b []float64, q int) []float64 {
	out := make([]float64, q*q)
	for i := range q {
		for k := range q {
			if v := a[i*q+k]; v != 0 {
				for j := range q {
					out[i*q+j] += v * b[k*q+j]
				}
			}
		}
	}
	return out
}

// exact is the score without the little that was added; false when the runs
// can't tell all effects apart.
func (x *exchange) exact() (float64, bool) {
	rows := make([][]float64, x.n)
	for i, r := range x.runs {
		rows[i] = x.line(i, r)
	}
	inv, logDet, ok := invert(x.information(rows), x.q)
	if !ok {
		return 0, false
	}
	if x.Criterion == D {
		return logDet, true
	}
	return -trace(inv, x.prize, x.q), true
}

// climb exchanges until nothing gets better.
func (x *exchange) climb() {
	for range 100 {
		better := false
		for i := len(x.Fixed); i < x.n; i++ {
			for f := range x.codes {
				if x.held[f] < 0 && x.tryCodes(i, f) {
					better = true
				}
			}
		}
		for f, g := range x.held {
			if g >= 0 && x.tryHeld(f, x.Groups[g]) {
				better = true
			}
		}
		if !better && x.whole != nil {
			for i := len(x.Fixed); i < x.n; i++ {
				if x.tryRows(i, slices.Values(x.whole)) {
					better = true
				}
			}
		}
		if !better || !x.fresh() {
			return
		}
	}
}

// tryCodes tries every setting of one factor in one run.
func (x *exchange) tryCodes(i, f int) bool {
	return x.tryRows(i, func(yield func([]float64) bool) {
		run := slices.Clone(x.runs[i])
		for _, c := range x.codes[f] {
			if run[f] = c; c == x.runs[i][f] || x.bad(run) {
				continue
			}
			if !yield(run) {
				return
			}
		}
	})
}

// tryRows gives run i the best of the offered settings, if one is better.
//
// The change of a row by d adds d u' + u d' + w d d' to the information, of rank
// two, where u = X'V⁻¹e_i and w is that row's weight; the matrix determinant
// lemma and Woodbury's identity give what it gains without a new inverse.
func (x *exchange) tryRows(i int, offers func(func([]float64) bool)) bool {
	u, w := x.pull(i)
	gu := times(nil, x.inv, u)
	ugu := dot(u, gu)
	var hu []float64
	var uhu, total float64
	if x.prize != nil {
		total = trace(x.inv, x.prize, x.q)
		hu = times(nil, x.back, u)
		uhu = dot(u, hu)
	}
	gain, best := 1e-8, []float64(nil)
	row := make([]float64, 0, x.q)
	d, at := make([]float64, x.q), make([]int, 0, x.q)
	for run := range offers {
		row = append(x.row(row[:0], run), x.shifts[i]...)
		at = at[:0]
		for j := range d {
			if d[j] = row[j] - x.rows[i][j]; d[j] != 0 {
				at = append(at, j)
			}
		}
		dgu, dgd := dot(d, gu), quadAt(x.inv, d, at)
		det := (1+dgu)*(1+dgu) - dgd*(ugu-w)
		if !(det > 1e-10) {
			continue
		}
		g := det - 1
		if x.prize != nil {
			dhu, dhd := dot(d, hu), quadAt(x.back, d, at)
			// S = [[dgd, 1+dgu], [1+dgu, ugu-w]], |S| = -det; what is gained is
			// the trace of S⁻¹ [[dhd, dhu], [dhu, uhu]], over what there is.
			g = ((ugu-w)*dhd - 2*(1+dgu)*dhu + dgd*uhu) / -det / total
		}
		if g > gain {
			gain, best = g, slices.Clone(run)
		}
	}
	if best == nil {
		return false
	}
	return x.put(i, best)
}

// quadAt is d'Md where d is zero but at some places: one factor changes few
// columns.
func quadAt(m, d []float64, at []int) float64 {
	q := len(d)
	sum := 0.0
	for k, i := range at {
		s := m[i*q+i] * d[i] / 2
		for _, j := range at[:k] {
			s += m[i*q+j] * d[j]
		}
		sum += 2 * d[i] * s
	}
	return sum
}

// pull returns X'V⁻¹e_i and the weight of run i.
func (x *exchange) pull(i int) ([]float64, float64) {
	if x.weight == nil {
		return slices.Clone(x.rows[i]), 1
	}
	u := make([]float64, x.q)
	for k, v := range x.weight[i] {
		if v != 0 {
			for j, r := range x.rows[k] {
				u[j] += v * r
			}
		}
	}
	return u, x.weight[i][i]
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// put sets run i and brings the inverses up to date.
func (x *exchange) put(i int, run []float64) bool {
	u, w := x.pull(i)
	row := x.line(i, run)
	d := make([]float64, x.q)
	for j := range d {
		d[j] = row[j] - x.rows[i][j]
	}
	gd, gu := times(nil, x.inv, d), times(nil, x.inv, u)
	a, b, c := dot(d, gd), 1+dot(d, gu), dot(u, gu)-w
	det := a*c - b*b
	if math.Abs(det) < 1e-12 {
		return false
	}
	x.runs[i], x.rows[i] = run, row
	q := x.q
	for r := range q {
		for k := range q {
			x.inv[r*q+k] -= (c*gd[r]*gd[k] - b*(gd[r]*gu[k]+gu[r]*gd[k]) + a*gu[r]*gu[k]) / det
		}
	}
	x.weighBack()
	return true
}

// tryHeld tries every setting of a held factor in each of its groups.
func (x *exchange) tryHeld(f int, g Group) bool {
	better := false
	score := x.rough()
	for b := range g.count() {
		var members []int
		free := true
		for i, of := range g.Of {
			if of == b {
				members = append(members, i)
				free = free && i >= len(x.Fixed)
			}
		}
		if !free {
			continue
		}
		for _, c := range x.codes[f] {
			was := x.runs[members[0]][f]
			if c == was || !x.setHeld(f, members, c) {
				continue
			}
			if next := x.rough(); next > score+1e-8 {
				score, better = next, true
				continue
			}
			x.setHeld(f, members, was)
		}
	}
	if better {
		x.fresh()
	}
	return better
}

// setHeld gives all members the setting, unless that is forbidden for one.
func (x *exchange) setHeld(f int, members []int, c float64) bool {
	for _, i := range members {
		run := slices.Clone(x.runs[i])
		if run[f] = c; x.bad(run) {
			return false
		}
	}
	for _, i := range members {
		x.runs[i] = slices.Clone(x.runs[i])
		x.runs[i][f] = c
		x.rows[i] = x.line(i, x.runs[i])
	}
	return true
}

// rough is the score with the little added, so that it is there for every plan.
func (x *exchange) rough() float64 {
	m := x.information(x.rows)
	for i := range x.q {
		m[i*x.q+i] += little
	}
	inv, logDet, _ := invert(m, x.q)
	switch {
	case inv == nil:
		return math.Inf(-1)
	case x.prize == nil:
		return logDet
	}
	return -math.Log(trace(inv, x.prize, x.q))
}
