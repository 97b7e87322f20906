package design

import (
	"slices"

	"aerugo/internal/science/stat"
)

// Plan is a set of runs and the model it is meant to answer.
type Plan struct {
	Factors []Factor
	Model   []stat.Term
	Runs    [][]float64
	Groups  []Group
}

// Group tells which runs share something: a chamber run, a day, a swatch with
// two faces. Of holds the number of each run's group, from 0.
//
// With Ratio 0 each group may be shifted by an amount of its own, which costs a
// run to find out. A Ratio above 0 takes the shifts as chance: it is their
// variance over that of two swatches made alike in one group.
type Group struct {
	Name  string
	Of    []int
	Ratio float64
}

// Evenly returns a Group of runs dealt one after the other into so many groups
// of nearly the same size.
func Evenly(name string, runs, groups int) Group {
	g := Group{Name: name}
	for i := range runs {
		g.Of = append(g.Of, i*groups/runs)
	}
	return g
}

// count is the number of groups.
func (g Group) count() int { return slices.Max(g.Of) + 1 }

// checkGroups refuses groups that do not fit n runs of the factors.
func checkGroups(gs []Group, fs []Factor, n int) error {
	seen := map[string]bool{}
	for _, g := range gs {
		if g.Name == "" || seen[g.Name] {
			return askf("each kind of block has its own name, and %q is empty or there twice", g.Name)
		}
		seen[g.Name] = true
		if len(g.Of) != n {
			return askf("%s is said for %d runs, and the plan has %d", g.Name, len(g.Of), n)
		}
		if !(g.Ratio >= 0 && g.Ratio <= 1000) {
			return askf("%s varies %g times as much as swatches do; say a number from 0 to 1000", g.Name, g.Ratio)
		}
		have := make([]bool, n)
		for _, b := range g.Of {
			if b < 0 || b >= n {
				return askf("%s has a block numbered %d; they count from 0 and are no more than the runs", g.Name, b)
			}
			have[b] = true
		}
		for b := range g.count() {
			if !have[b] {
				return askf("%s %d has no run in it", g.Name, b+1)
			}
		}
	}
	for _, f := range fs {
		if f.HeldIn == "" {
			continue
		}
		i := slices.IndexFunc(gs, func(g Group) bool { return g.Name == f.HeldIn })
		if i < 0 {
			return askf("%s stays the same within each %s, but no such blocks are given", f.Name, f.HeldIn)
		}
		if gs[i].Ratio == 0 {
			return askf("%s stays the same within each %s, so what it does can't be told from the shift of each %s; say how much one differs from the next (its ratio, such as 1)", f.Name, f.HeldIn, f.HeldIn)
		}
	}
	return nil
}

// Factorial returns every combination of the factors' levels or settings, the
// first factor changing fastest.
func Factorial(fs []Factor) (Plan, error) {
	if err := checkFactors(fs); err != nil {
		return Plan{}, err
	}
	n := 1
	for _, f := range fs {
		if n *= len(f.codes()); n > MaxRuns {
			return Plan{}, askf("every combination is more than %d swatches; take fewer levels, or a plan with fewer runs", MaxRuns)
		}
	}
	return Plan{Factors: fs, Model: TwoFactor(fs), Runs: grid(fs)}, nil
}

// grid is every combination of codes, the first factor changing fastest.
func grid(fs []Factor) [][]float64 {
	out := [][]float64{nil}
	for i := len(fs) - 1; i >= 0; i-- {
		var next [][]float64
		for _, tail := range out {
			for _, c := range fs[i].codes() {
				next = append(next, append([]float64{c}, tail...))
			}
		}
		out = next
	}
	return out
}
