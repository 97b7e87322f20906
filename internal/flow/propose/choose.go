package propose

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

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

// Code writes levels in one word, such as "240,12,1", for [Family.Read].
func (f *Family) Code(levels []studio.Level) string {
	var parts []string
	for i, x := range f.Factors {
		parts = append(parts, strconv.FormatFloat(valueOf(x.Kind, levels[i]), 'f', -1, 64))
	}
	return strings.Join(parts, ",")
}

// Read is the inverse of [Family.Code]; the error is a *studio.Problem.
func (f *Family) Read(code string) ([]studio.Level, error) {
	parts := strings.Split(code, ",")
	bad := studio.Problemf(studio.Invalid, "take", "%q names no settings of this recipe any more. Ask again, then plan.", code)
	if len(parts) != len(f.Factors) {
		return nil, bad
	}
	var levels []studio.Level
	for i, x := range f.Factors {
		v, err := strconv.ParseFloat(parts[i], 64)
		if err != nil {
			return nil, bad
		}
		l := studio.Level{Number: v}
		if !x.Kind.Numeric() {
			j := slices.IndexFunc(x.Levels, func(y studio.Level) bool { return valueOf(x.Kind, y) == v })
			if j < 0 {
				return nil, bad
			}
			l = x.Levels[j]
		}
		levels = append(levels, l)
	}
	at, err := f.point(levels)
	if err != nil {
		return nil, fmt.Errorf("read settings %s: %w", code, err)
	}
	return f.levels(at), nil
}

// Treatments returns what is done to a swatch with these levels.
func (f *Family) Treatments(levels []studio.Level) ([]studio.Treatment, error) {
	all, _, err := f.way.Treatments(levels)
	return all, err
}

// Refused says why a swatch with these levels must not or can't be made now; it is
// empty where it can.
func (f *Family) Refused(levels []studio.Level) (string, error) {
	at, err := f.point(levels)
	if err != nil {
		return "", err
	}
	return newMaker(f).look(at).stop, nil
}
