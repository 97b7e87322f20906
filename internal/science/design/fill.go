package design

import (
	"math"
	"math/rand/v2"
	"slices"
)

// SpaceFilling returns n runs that leave no part of the settings far from a
// swatch: a Latin hypercube, in which every factor takes n evenly spaced values
// (or its settings and levels equally often), whose two closest runs lie as far
// apart as the search makes them (Johnson, Moore & Ylvisaker 1990; Morris &
// Mitchell 1995). Distances count each continuous factor from 0 to 1, and 1 for
// two different levels. forbidden may be nil.
func SpaceFilling(fs []Factor, n int, forbidden func([]float64) bool, rng *rand.Rand) (Plan, error) {
	if err := checkFactors(fs); err != nil {
		return Plan{}, err
	}
	if n < 2 || n > MaxRuns {
		return Plan{}, askf("a plan that fills the space has 2 to %d runs, not %d", MaxRuns, n)
	}
	for _, f := range fs {
		if f.HeldIn != "" {
			return Plan{}, askf("%s stays the same within each %s; a plan that fills the space can't heed that, so take one that is searched for", f.Name, f.HeldIn)
		}
	}
	s := &filling{factors: fs, n: n, forbidden: forbidden, rng: rng}
	var best [][]float64
	worth := filled{bad: n + 1}
	for range min(max(200/n, 4), 30) {
		s.begin()
		if w := s.anneal(); w.better(worth) {
			best, worth = copied(s.runs), w
		}
	}
	if worth.bad > 0 {
		return Plan{}, askf("%d of the runs can't be kept from what is forbidden while each setting is made equally often; forbid less, or take a plan that is searched for", worth.bad)
	}
	return Plan{Factors: fs, Model: Main(fs), Runs: best}, nil
}

const (
	fillPower = 20 // phi is the 20-norm of inverse distances (Morris & Mitchell)
)

// filling is a search under way.
type filling struct {
	factors   []Factor
	n         int
	forbidden func([]float64) bool
	rng       *rand.Rand
	runs      [][]float64
	bad       int
	close     [][]float64 // distance to the power -fillPower
}

// begin deals every factor's values out at random.
func (s *filling) begin() {
	s.runs = make([][]float64, s.n)
	for i := range s.runs {
		s.runs[i] = make([]float64, len(s.factors))
	}
	for f, fac := range s.factors {
		for rank, i := range s.rng.Perm(s.n) {
			v := 2*float64(rank)/float64(s.n-1) - 1
			if fac.Category() || len(fac.Settings) > 0 {
				c := fac.codes()
				v = c[rank*len(c)/s.n]
				if s.n < len(c) {
					v = c[rank*(len(c)-1)/(s.n-1)]
				}
			}
			s.runs[i][f] = v
		}
	}
	s.close = make([][]float64, s.n)
	s.bad = 0
	for i := range s.runs {
		s.close[i] = make([]float64, s.n)
		s.bad += s.isBad(i)
	}
	for i := range s.runs {
		for j := range i {
			s.close[i][j] = s.closeness(i, j)
			s.close[j][i] = s.close[i][j]
		}
	}
}

func (s *filling) isBad(i int) int {
	if s.forbidden != nil && s.forbidden(s.runs[i]) {
		return 1
	}
	return 0
}

func (s *filling) closeness(i, j int) float64 {
	d := 0.0
	for f, fac := range s.factors {
		x := s.runs[i][f] - s.runs[j][f]
		switch {
		case !fac.Category():
			d += x * x / 4
		case x != 0:
			d++
		}
	}
	// Runs at one place are as close as can be, and still a number.
	d = math.Max(d, 1e-6)
	d2 := d * d
	d8 := d2 * d2 * d2 * d2
	return 1 / (d8 * d2)
}

// filled is what a plan is worth: forbidden runs first, then the closest pair,
// then all others (phi to its power).
type filled struct {
	bad             int
	closest, others float64
}

func (a filled) better(b filled) bool {
	switch {
	case a.bad != b.bad:
		return a.bad < b.bad
	case math.Abs(a.closest-b.closest) > 1e-9*b.closest:
		return a.closest < b.closest
	}
	return a.others < b.others
}

// worth looks at all pairs.
func (s *filling) worth() filled {
	w := filled{bad: s.bad}
	for i := range s.close {
		for j := range i {
			w.others += s.close[i][j]
			w.closest = max(w.closest, s.close[i][j])
		}
	}
	return w
}

// anneal swaps values of one factor between two runs, taking a worse plan now
// and then, less and less often.
func (s *filling) anneal() filled {
	steps := min(20000+400*s.n, 60000)
	best, worth := copied(s.runs), s.worth()
	sum := worth.others
	for step := range steps {
		i, j, f := s.rng.IntN(s.n), s.rng.IntN(s.n), s.rng.IntN(len(s.factors))
		if s.runs[i][f] == s.runs[j][f] {
			continue
		}
		was := s.ofPair(i, j)
		wasBad := s.isBad(i) + s.isBad(j)
		s.runs[i][f], s.runs[j][f] = s.runs[j][f], s.runs[i][f]
		next := s.bad - wasBad + s.isBad(i) + s.isBad(j)
		now := 0.0
		var a, b []float64
		if next <= s.bad {
			a, b = make([]float64, s.n), make([]float64, s.n)
			for k := range s.n {
				if k != i {
					a[k] = s.closeness(i, k)
					now += a[k]
				}
				if k != j {
					b[k] = s.closeness(j, k)
					if k != i {
						now += b[k]
					}
				}
			}
		}
		// Compared as phi, so that heat is a share of the distance: a twentieth
		// at first, three thousandths at last.
		heat := 0.05 * math.Pow(0.06, float64(step)/float64(steps))
		change := math.Log(math.Max(sum-was+now, 1e-300)/sum) / fillPower
		if next > s.bad || next == s.bad && change > 0 && s.rng.Float64() >= math.Exp(-change/heat) {
			s.runs[i][f], s.runs[j][f] = s.runs[j][f], s.runs[i][f]
			continue
		}
		for k := range s.n {
			s.close[i][k], s.close[k][i] = a[k], a[k]
		}
		for k := range s.n {
			s.close[j][k], s.close[k][j] = b[k], b[k]
		}
		sum, s.bad = math.Max(sum-was+now, 1e-300), next
		// A plan whose closest pair is further apart may have a larger sum, though
		// not by much.
		nearest := max(slices.Max(a), slices.Max(b))
		if s.bad < worth.bad || s.bad == worth.bad && sum < 20*worth.others && nearest <= worth.closest*(1+1e-9) {
			if w := s.worth(); w.better(worth) {
				best, worth = copied(s.runs), w
			}
		}
	}
	s.runs = best
	return worth
}

// ofPair is what two runs add to the sum.
func (s *filling) ofPair(i, j int) float64 {
	sum := 0.0
	for k := range s.n {
		sum += s.close[i][k] + s.close[j][k]
	}
	return sum - s.close[i][j]
}
