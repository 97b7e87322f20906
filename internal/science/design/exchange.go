package design

import (
	"math/rand/v2"
	"slices"
)

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
