package plan

import (
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/studio"
)

// keepable rounds a setting to one that hands keep: whole minutes, above half an
// hour steps of five, and two figures of an amount or a strength (common
// practice, no source).
func keepable(kind studio.FactorKind, v float64) float64 {
	if kind == studio.ByMinutes {
		if v > 30 {
			return 5 * math.Round(v/5)
		}
		return math.Max(1, math.Round(v))
	}
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-1)
	return figure(math.Round(v/scale) * scale)
}

// figure takes away the last bits that scaling has put on.
func figure(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// ends are the lowest and the highest level of a numeric factor.
func ends(f studio.Factor) (low, high studio.Level) {
	low, high = f.Levels[0], f.Levels[0]
	for _, l := range f.Levels[1:] {
		if l.Number < low.Number {
			low = l
		}
		if l.Number > high.Number {
			high = l
		}
	}
	return low, high
}

// levelAt is the level of f at a number: one that was typed, or a new one.
func levelAt(f studio.Factor, v float64, unit string) studio.Level {
	for _, l := range f.Levels {
		if l.Number == v {
			return l
		}
	}
	l := studio.Level{Number: v, SupplyID: f.Levels[0].SupplyID}
	if f.Kind == studio.ByMinutes {
		l.Label = studio.Span(time.Duration(v * float64(time.Minute)))
	} else {
		l.Label = number(v) + " " + unit
	}
	return l
}

// unitOf names the unit of a numeric factor's levels.
func unitOf(f studio.Factor, steps []studio.Step) string {
	switch f.Kind {
	case studio.ByLoading:
		if u := steps[f.Step].Amount.Unit; u != "" {
			return u.Label()
		}
		return studio.GramPerM2.Label()
	case studio.ByStrength:
		return "%"
	}
	return f.Kind.Unit()
}

// spread returns f with n levels evenly spread from its lowest to its highest.
func spread(f studio.Factor, n int, steps []studio.Step) (studio.Factor, *studio.Problem) {
	low, high := ends(f)
	levels := []studio.Level{low}
	for i := 1; i < n-1; i++ {
		v := keepable(f.Kind, low.Number+(high.Number-low.Number)*float64(i)/float64(n-1))
		if !(v > levels[i-1].Number && v < high.Number) {
			return f, studio.Problemf(studio.Invalid, "", "From %s to %s there is no room for the %d settings this way of choosing needs; widen %s.", low.Label, high.Label, n, f.Name)
		}
		levels = append(levels, levelAt(f, v, unitOf(f, steps)))
	}
	f.Levels = append(levels, high)
	return f, nil
}

// widened gives each range the settings the design needs, and says what it is
// that does not fit the design.
func (a Ask) widened(factors []studio.Factor) ([]studio.Factor, error) {
	out := slices.Clone(factors)
	most := 0 // levels of what is not a range
	for i, f := range factors {
		if !a.between(i) {
			most = max(most, len(f.Levels))
		}
	}
	for i, f := range factors {
		n := 0
		switch a.Design {
		case studio.Full:
			n = 3
		case studio.Square:
			if n = most; n < 3 {
				n = 3
			}
		case studio.Chosen:
			if a.Model == Bends {
				n = 3
			}
		case studio.Curve:
			if !f.Kind.Numeric() {
				return nil, studio.Problemf(studio.Invalid, "design", "A bend needs numbers, and %s has named levels; leave it out, or choose 'searched for'.", f.Name)
			}
			if len(f.Levels) > 3 {
				return nil, studio.Problemf(studio.Invalid, factorField(i, "levels"), "For a bend, %s is made low, in the middle and high; write a range like 30 to 240, or three levels.", f.Name)
			}
			if len(f.Levels) == 2 {
				n = 3
			}
		}
		if n < 3 || !a.between(i) && a.Design != studio.Curve {
			continue
		}
		wide, problem := spread(f, n, a.Front.Steps)
		if problem != nil {
			problem.Field = factorField(i, "levels")
			return nil, problem
		}
		out[i] = wide
	}
	if a.Design == studio.Fraction || a.Design == studio.Screening {
		for _, f := range out {
			if len(f.Levels) != 2 {
				plain, _ := DesignWords(a.Design)
				return nil, studio.Problemf(studio.Invalid, "design", "'%s' makes two levels of each thing, and %s has %d; leave some out, or choose 'searched for'.", capitalised(plain), f.Name, len(f.Levels))
			}
		}
	}
	return out, nil
}

// ascending are the levels of f by their number, as places in its list; named
// levels stay in their order.
func ascending(f studio.Factor) []int {
	out := make([]int, len(f.Levels))
	for i := range out {
		out[i] = i
	}
	if f.Kind.Numeric() {
		slices.SortStableFunc(out, func(x, y int) int {
			switch a, b := f.Levels[x].Number, f.Levels[y].Number; {
			case a < b:
				return -1
			case a > b:
				return 1
			}
			return 0
		})
	}
	return out
}

// levelsOf returns the levels a run stands for.
func levelsOf(factors []studio.Factor, run []int) []studio.Level {
	out := make([]studio.Level, len(run))
	for i, l := range run {
		out[i] = factors[i].Levels[l]
	}
	return out
}

// saysRun names the levels of a run: "4 h, wetted".
func saysRun(levels []studio.Level) string {
	text := ""
	for i, l := range levels {
		if i > 0 {
			text += ", "
		}
		text += l.Label
	}
	return text
}

func capitalised(text string) string {
	for i, r := range text {
		if i == 0 {
			return fmt.Sprintf("%c%s", upper(r), text[len(string(r)):])
		}
	}
	return text
}

func upper(r rune) rune {
	if r >= 'a' && r <= 'z' {
		return r - 'a' + 'A'
	}
	return r
}
