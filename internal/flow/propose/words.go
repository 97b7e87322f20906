package propose

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/studio"
)

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func counted(n int, one, more string) string {
	switch n {
	case 0:
		return "no " + one
	case 1:
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func number(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

func spanOf(minutes float64) string {
	return studio.Span(time.Duration(minutes * float64(time.Minute)))
}

// label names a level that nobody named.
func (f *Family) label(x studio.Factor, l studio.Level) string {
	switch x.Kind {
	case studio.ByMinutes:
		return spanOf(l.Number)
	case studio.ByLoading:
		unit := f.bench.Front.Steps[x.Step].Amount.Unit
		if unit == "" {
			unit = studio.GramPerM2
		}
		return number(l.Number) + " " + unit.Label()
	case studio.ByStrength:
		return number(l.Number) + " %"
	case studio.ByLiquid:
		s, ok := f.supply(l.SupplyID)
		if !ok {
			return "a liquid no longer on the shelf"
		}
		return s.Name
	case studio.ByWetting:
		if l.Yes {
			return "wetted first"
		}
		return "dry"
	case studio.ByBrushing:
		if l.Yes {
			return "brushed out"
		}
		return "left"
	}
	return l.Label
}

// InWords says settings in one line: "fume 2 h 30 min, light salt, wetted first".
func (f *Family) InWords(levels []studio.Level) string {
	var parts []string
	for i, x := range f.Factors {
		parts = append(parts, f.part(x, levels[i]))
	}
	return strings.Join(parts, ", ")
}

// part says one setting.
func (f *Family) part(x studio.Factor, l studio.Level) string {
	if l.Label == "" {
		l.Label = f.label(x, l)
	}
	step := f.bench.Front.Steps[x.Step]
	switch x.Kind {
	case studio.ByMinutes:
		return string(step.Kind) + " " + spanOf(l.Number)
	case studio.ByLoading:
		what := strings.TrimPrefix(x.Name, "amount of ")
		switch {
		case l.Number == 0:
			return "no " + what
		case slices.Contains(studio.HandWords, l.Label):
			return l.Label + " " + what
		case what == "amount":
			return l.Label
		}
		return l.Label + " of " + what
	case studio.ByStrength:
		what, named := strings.CutPrefix(x.Name, "strength of ")
		if !named {
			what = x.Name
		}
		return what + " at " + l.Label
	case studio.ByLiquid:
		return l.Label
	case studio.ByBrushing:
		if !l.Yes {
			return "not brushed out"
		}
	}
	return l.Label
}

// tail says a category as it stands at the end of a sentence: "wetted first".
func (f *Family) tail(levels []studio.Level) string {
	var parts []string
	for _, a := range f.free {
		if a.Levels == nil {
			continue
		}
		l := levels[a.factor]
		if a.kind == studio.ByLiquid {
			parts = append(parts, "with "+l.Label)
		} else {
			parts = append(parts, f.part(f.Factors[a.factor], l))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return " " + strings.Join(parts, " and ")
}

// more says what going past the tried end means: "fumed longer than 4 h".
func (f *Family) more(a axis, end studio.Level, over bool) string {
	x := f.Factors[a.factor]
	pick := func(yes, no string) string {
		if over {
			return yes
		}
		return no
	}
	switch a.kind {
	case studio.ByMinutes:
		how := map[studio.StepKind]string{studio.Fume: "fumed ", studio.Rest: "rested ", studio.Dry: "dried ", studio.Bury: "buried ", studio.Pickle: "pickled ", studio.Heat: "heated "}[f.bench.Front.Steps[x.Step].Kind]
		if how == "" {
			how = "given a " + x.Name + " "
		}
		return how + pick("longer than ", "less than ") + spanOf(end.Number)
	case studio.ByLoading:
		what := strings.TrimPrefix(x.Name, "amount of ")
		if what == "amount" {
			what = "of it"
		}
		return "given " + pick("more ", "less ") + what + " than " + end.Label
	}
	return "given " + pick("a stronger liquid than ", "a weaker liquid than ") + end.Label
}

// gap says what was not tried around a setting: nothing past the ends, nothing in
// between, or that it was tried.
func (f *Family) gap(at []float64) string {
	levels := f.levels(at)
	best, words := 0.0, ""
	for i, a := range f.free {
		if a.Levels != nil {
			continue
		}
		lo, hi := math.Inf(-1), math.Inf(1)
		x := f.Factors[a.factor]
		for _, t := range f.Tried {
			if !f.sameKinds(t.at, at) {
				continue
			}
			if v := valueOf(x.Kind, t.Levels[a.factor]); v <= at[i] {
				lo = max(lo, v)
			} else {
				hi = min(hi, v)
			}
			if v := valueOf(x.Kind, t.Levels[a.factor]); v >= at[i] {
				hi = min(hi, v)
			}
		}
		unit := func(v float64) float64 {
			if a.Log {
				return math.Log(v/a.Low) / math.Log(a.High/a.Low)
			}
			return (v - a.Low) / (a.High - a.Low)
		}
		size, text := 0.0, ""
		name := func(v float64) string {
			if a.kind == studio.ByMinutes {
				return spanOf(v)
			}
			return f.level(a, v).Label
		}
		switch {
		case math.IsInf(lo, -1) && math.IsInf(hi, 1):
			return fmt.Sprintf("nothing at all was tried%s", f.tail(levels))
		case math.IsInf(hi, 1):
			size, text = 2+unit(at[i])-unit(lo), fmt.Sprintf("nothing was %s%s", f.more(a, f.level(a, lo), true), f.tail(levels))
		case math.IsInf(lo, -1):
			size, text = 2+unit(hi)-unit(at[i]), fmt.Sprintf("nothing was %s%s", f.more(a, f.level(a, hi), false), f.tail(levels))
		case hi > lo:
			size, text = unit(hi)-unit(lo), fmt.Sprintf("nothing between %s and %s was tried%s", name(lo), name(hi), f.tail(levels))
		}
		if size > best {
			best, words = size, text
		}
	}
	if words != "" {
		return words
	}
	if n := f.madeAt(at); n != 0 {
		return fmt.Sprintf("it repeats swatch %d, so that luck is told from the recipe", n)
	}
	return fmt.Sprintf("these settings were not tried together%s", f.tail(levels))
}

// sameKinds reports whether two points have the same categories.
func (f *Family) sameKinds(a, b []float64) bool {
	for i, x := range f.free {
		if x.Levels != nil && a[i] != b[i] {
			return false
		}
	}
	return true
}

// madeAt returns a swatch that was planned with exactly these settings, 0 for none.
func (f *Family) madeAt(at []float64) int64 {
	levels := f.levels(at)
	for _, t := range f.Tried {
		same := true
		for i, x := range f.Factors {
			same = same && valueOf(x.Kind, t.Levels[i]) == valueOf(x.Kind, levels[i])
		}
		if same {
			return t.Swatch
		}
	}
	return 0
}

// chance says a probability as a person does: "1 in 3".
func chance(p float64) string {
	switch {
	case p < 0.04:
		return "hardly a chance"
	case p > 0.96:
		return "nearly sure"
	}
	best, n, d := math.Inf(1), 1, 2
	for _, f := range [][2]int{{1, 2}, {1, 3}, {2, 3}, {1, 4}, {3, 4}, {1, 5}, {2, 5}, {3, 5}, {4, 5}, {1, 8}, {7, 8}, {1, 10}, {9, 10}, {1, 20}, {19, 20}} {
		if off := math.Abs(float64(f[0])/float64(f[1]) - p); off < best-1e-9 {
			best, n, d = off, f[0], f[1]
		}
	}
	return fmt.Sprintf("%d in %d", n, d)
}
