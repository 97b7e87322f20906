package propose

import (
	"cmp"
	"slices"

	"aerugo/internal/studio"
)

// Choose turns proposals into factors with their levels and combinations of these,
// as plan.LayProposed takes them: one combination for each time a proposal is to be
// made.
func (f *Family) Choose(proposals []Proposal) (factors []studio.Factor, combos [][]int) {
	for i, x := range f.Factors {
		x.Levels = nil
		for _, p := range proposals {
			l := p.Levels[i]
			if l.Label == "" {
				l.Label = f.label(x, l)
			}
			if !slices.ContainsFunc(x.Levels, func(y studio.Level) bool { return valueOf(x.Kind, y) == valueOf(x.Kind, l) }) {
				x.Levels = append(x.Levels, l)
			}
		}
		slices.SortStableFunc(x.Levels, func(a, b studio.Level) int { return cmp.Compare(valueOf(x.Kind, a), valueOf(x.Kind, b)) })
		factors = append(factors, x)
	}
	for _, p := range proposals {
		var combo []int
		for i, x := range factors {
			combo = append(combo, slices.IndexFunc(x.Levels, func(y studio.Level) bool { return valueOf(x.Kind, y) == valueOf(x.Kind, p.Levels[i]) }))
		}
		for range max(1, p.Times) {
			combos = append(combos, combo)
		}
	}
	return factors, combos
}
