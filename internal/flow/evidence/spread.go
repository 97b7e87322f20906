package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science/colour"
)

// A Made is the look of one swatch. Those of one Kind were made alike. Filling is what
// went into the chamber together, Day when; "" when nobody knows. Coverage is a
// fraction, NaN when not known.
type Made struct {
	Swatch             int64
	Kind, Filling, Day string
	At                 time.Time
	Lab                colour.Lab
	Coverage           float64
}

// A Figure is how far two swatches made alike differ (root mean square) with its 95 %
// interval; Why says in a sentence why it is not known.
type Figure struct {
	Value, Low, High float64
	Known            bool
	Why              string
}

// Parts are a Figure for two swatches out of one filling, of two fillings on one day,
// and of two days. Alone says that every filling had a day of its own: Day is then that
// of two fillings.
type Parts struct {
	Together, Fillings, Days Figure
	Alone                    bool
}

// A Repeat is how repeatable a recipe is: Colour in ΔE00, Coverage as a fraction.
// Swatches and Kinds count those of which two or more were made alike.
type Repeat struct {
	Colour, Coverage                Parts
	Swatches, Kinds, Fillings, Days int
	First, Last                     time.Time
}

// Fewest degrees of freedom from which a spread is told: below them its interval is so
// wide that the number only misleads (common practice, no source).
const (
	fewestTogether = 3
	fewestBetween  = 2
)

// RepeatOf splits how far swatches of one kind differ into what happens within a
// filling, from filling to filling and from day to day. The look of each swatch, less
// that of its kind, is taken as long as its ΔE00; variances are those of the three
// coordinates together. The parts are Henderson's third method: each stratum is what
// days, then fillings, explain after the kinds. Intervals of the sums are those of
// Graybill and Wang 1980, with the degrees of freedom of a sum of unlike variances (Box
// 1954). How often they hold the truth is measured in spread_test.go.
func RepeatOf(all []Made) Repeat {
	count := map[string]int{}
	for _, m := range all {
		if usable(m) {
			count[m.Kind]++
		}
	}
	var rows []Made
	for _, m := range all {
		if usable(m) && count[m.Kind] > 1 {
			rows = append(rows, m)
		}
	}
	var out Repeat
	fillings, days, kinds := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, m := range rows {
		if !m.At.IsZero() && (out.First.IsZero() || m.At.Before(out.First)) {
			out.First = m.At
		}
		if m.At.After(out.Last) {
			out.Last = m.At
		}
		fillings[m.Day+" / "+m.Filling], days[m.Day], kinds[m.Kind] = true, true, true
	}
	out.Swatches, out.Kinds, out.Fillings, out.Days = len(rows), len(kinds), len(fillings), len(days)
	means := map[string]colour.Lab{}
	for _, m := range rows {
		n := float64(count[m.Kind])
		c := means[m.Kind]
		means[m.Kind] = colour.Lab{L: c.L + m.Lab.L/n, A: c.A + m.Lab.A/n, B: c.B + m.Lab.B/n}
	}
	colours := make([][]float64, 3)
	for _, m := range rows {
		for k, v := range stretched(means[m.Kind], m.Lab) {
			colours[k] = append(colours[k], v)
		}
	}
	out.Colour = partsOf(rows, colours)
	var covered []Made
	coverage := make([][]float64, 1)
	for _, m := range rows {
		if !math.IsNaN(m.Coverage) {
			covered, coverage[0] = append(covered, m), append(coverage[0], m.Coverage)
		}
	}
	out.Coverage = partsOf(covered, coverage)
	return out
}

func usable(m Made) bool {
	sum := m.Lab.L + m.Lab.A + m.Lab.B
	return m.Filling != "" && m.Day != "" && !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// stretched is the way from one look to another, as long as its ΔE00.
func stretched(from, to colour.Lab) [3]float64 {
	v := [3]float64{to.L - from.L, to.A - from.A, to.B - from.B}
	size := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
	if size == 0 {
		return v
	}
	by := colour.Difference(from, to) / size
	return [3]float64{v[0] * by, v[1] * by, v[2] * by}
}

// A stratum is the mean square of what days, or fillings within them, or swatches
// within fillings explain. fillings and days are how many times their variance counts
// in it.
type stratum struct {
	df             int
	mean           float64
	fillings, days float64
}

func partsOf(rows []Made, values [][]float64) Parts {
	var p Parts
	n := len(rows)
	label := func(of func(Made) string) []string {
		out := make([]string, n)
		for i, m := range rows {
			out[i] = of(m)
		}
		return out
	}
	kinds := label(func(m Made) string { return m.Kind })
	days := label(func(m Made) string { return m.Day })
	fillings := label(func(m Made) string { return m.Day + " / " + m.Filling })
	base := directions(nil, kinds)
	byDay := directions(base, days)
	byFilling := directions(append(slices.Clone(base), byDay...), fillings)
	known := append(append(slices.Clone(base), byDay...), byFilling...)
	rest := directions(known, eachAlone(n))

	var total [3][3]float64
	make1 := func(q [][]float64) stratum {
		s := stratum{df: len(q)}
		for _, col := range q {
			var dot [3]float64
			for k, v := range values {
				for i := range v {
					dot[k] += col[i] * v[i]
				}
			}
			for i := range dot {
				s.mean += dot[i] * dot[i] / float64(len(q))
				for j := range dot {
					total[i][j] += dot[i] * dot[j]
				}
			}
			s.fillings += squares(col, fillings) / float64(len(q))
			s.days += squares(col, days) / float64(len(q))
		}
		return s
	}
	d, f, w := make1(byDay), make1(byFilling), make1(rest)
	// of how many equal coordinates the scatter is worth (Box 1954)
	trace, square := 0.0, 0.0
	for i := range total {
		trace += total[i][i]
		for j := range total {
			square += total[i][j] * total[i][j]
		}
	}
	worth := 1.0
	if square > 0 {
		worth = trace * trace / square
	}
	if trace <= 1e-18 && n > 0 {
		why := "All read the same to the last digit, so there is no spread to tell."
		return Parts{Together: Figure{Why: why}, Fillings: Figure{Why: why}, Days: Figure{Why: why}}
	}
	p.Together = figure(worth, fewestTogether, part{w, 1})
	p.Alone = f.df == 0 && d.df > 0
	switch {
	case w.df > 0 && f.df > 0:
		p.Fillings = figure(worth, fewestBetween, part{f, 1 / f.fillings}, part{w, 1 - 1/f.fillings})
	case f.df > 0: // one of a kind in each filling
		p.Fillings = figure(worth, fewestBetween, part{f, 1})
	}
	switch {
	case d.df == 0:
	case w.df > 0 && f.df > 0:
		a, b := 1/d.days, d.fillings/(d.days*f.fillings)
		p.Days = figure(worth, fewestBetween, part{d, a}, part{f, 1/f.fillings - b}, part{w, 1 - 1/f.fillings - a + b})
	case f.df > 0:
		p.Days = figure(worth, fewestBetween, part{d, 1 / d.days}, part{f, 1 - 1/d.days})
	case w.df > 0:
		p.Days = figure(worth, fewestBetween, part{d, 1 / d.days}, part{w, 1 - 1/d.days})
	default:
		p.Days = figure(worth, fewestBetween, part{d, 1})
	}
	// nothing is nearer from day to day than within a filling
	for _, pair := range [][2]*Figure{{&p.Together, &p.Fillings}, {&p.Fillings, &p.Days}, {&p.Together, &p.Days}} {
		if a, b := pair[0], pair[1]; a.Known && b.Known {
			b.Value, b.High = max(a.Value, b.Value), max(a.Value, b.High)
		}
	}
	p.reasons(n, len(byDay), f.df)
	return p
}

func (p *Parts) reasons(n, days, fillings int) {
	if !p.Together.Known {
		p.Together.Why = "Too few were made alike in one filling to tell; make the same one three or four times together."
		if n == 0 {
			p.Together.Why = "No two were made alike and measured with a grey card yet."
		}
	}
	if !p.Fillings.Known {
		p.Fillings.Why = "Too few fillings of one day hold the same one to tell them from each other."
		if p.Alone {
			p.Fillings.Why = "Each filling had a day of its own, so the two can't be told apart."
		}
		if fillings == 0 && days == 0 {
			p.Fillings.Why = "All that were made alike lay in one filling, so from filling to filling is not known."
		}
	}
	if !p.Days.Known {
		p.Days.Why = "Made alike on too few days to tell; three or more would do."
		if days == 0 {
			p.Days.Why = "All that were made alike were made on one day, so from day to day is not known."
		}
	}
	if n == 0 {
		p.Fillings.Why, p.Days.Why = "", ""
	}
}

// A part is a stratum and its weight in a sum of variances.
type part struct {
	stratum
	weight float64
}

// figure is the root mean square difference of two swatches whose variance is a
// weighted sum of mean squares, the first of which decides whether it is known.
func figure(worth float64, fewest int, parts ...part) Figure {
	if parts[0].df < fewest {
		return Figure{}
	}
	var v, low, high float64
	for _, p := range parts {
		if p.df == 0 || p.weight == 0 {
			continue
		}
		df := float64(p.df) * worth
		chi := distuv.ChiSquared{K: df}
		g, h := 1-df/chi.Quantile(0.975), df/chi.Quantile(0.025)-1
		if p.weight < 0 {
			g, h = h, g
		}
		x := p.weight * p.mean
		v += x
		low += g * x * g * x
		high += h * x * h * x
	}
	size := func(v float64) float64 { return math.Sqrt(2 * max(0, v)) }
	return Figure{Value: size(v), Low: size(v - math.Sqrt(low)), High: size(v + math.Sqrt(high)), Known: true}
}

// directions returns vectors of length 1 at right angles to each other and to those known that
// together with them span the groups of the labels.
func directions(known [][]float64, labels []string) [][]float64 {
	var order []string
	of := map[string][]int{}
	for i, l := range labels {
		if of[l] == nil {
			order = append(order, l)
		}
		of[l] = append(of[l], i)
	}
	var out [][]float64
	for _, l := range order {
		col := make([]float64, len(labels))
		for _, i := range of[l] {
			col[i] = 1
		}
		size := math.Sqrt(float64(len(of[l])))
		for range 2 { // twice is enough (Giraud and others 2005)
			for _, group := range [][][]float64{known, out} {
				for _, q := range group {
					dot := 0.0
					for i := range q {
						dot += q[i] * col[i]
					}
					for i := range q {
						col[i] -= dot * q[i]
					}
				}
			}
		}
		left := 0.0
		for _, v := range col {
			left += v * v
		}
		if left = math.Sqrt(left); left < 1e-9*size {
			continue
		}
		for i := range col {
			col[i] /= left
		}
		out = append(out, col)
	}
	return out
}

func eachAlone(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprint(i)
	}
	return out
}

// squares is how many times the variance of a group's shift counts in a direction.
func squares(col []float64, labels []string) float64 {
	sum := map[string]float64{}
	for i, l := range labels {
		sum[l] += col[i]
	}
	out := 0.0
	for _, v := range sum {
		out += v * v
	}
	return out
}

// Words says how repeatable the recipe is, a sentence for each thing known or not.
func (r Repeat) Words() []string {
	var out []string
	c, k := r.Colour, r.Coverage
	say := func(who string, f, cover Figure) {
		if !f.Known {
			if f.Why != "" {
				out = append(out, f.Why)
			}
			return
		}
		text := fmt.Sprintf("%s differ by about %.1f ΔE00 (%.1f to %.1f)", who, f.Value, f.Low, f.High)
		if cover.Known && cover.Value >= 0.005 {
			text += fmt.Sprintf(" and %.0f points of coverage (%.0f to %.0f)", 100*cover.Value, 100*cover.Low, math.Min(100, 100*cover.High))
		}
		out = append(out, text+".")
	}
	say("Two made alike in one filling", c.Together, k.Together)
	if c.Alone && c.Days.Known {
		say("Two made alike in different fillings, each on its own day,", c.Days, k.Days)
		return out
	}
	if c.Fillings.Known || r.Fillings > r.Days {
		say("Two made alike in different fillings of one day", c.Fillings, k.Fillings)
	}
	say("Two made alike on different days", c.Days, k.Days)
	return slices.Compact(out)
}

// Line is Words on one line of a card, "" when nothing is known.
func (r Repeat) Line() string {
	var parts []string
	if f := r.Colour.Together; f.Known {
		parts = append(parts, fmt.Sprintf("two made alike differ by about %.1f (%.1f to %.1f)", f.Value, f.Low, f.High))
	}
	if f := r.Colour.Days; f.Known {
		parts = append(parts, fmt.Sprintf("on different days by %.1f (%.1f to %.1f)", f.Value, f.Low, f.High))
	}
	if len(parts) == 0 {
		return ""
	}
	return "In ΔE00, " + strings.Join(parts, ", ") + fmt.Sprintf("; %d swatches of %d kinds", r.Swatches, r.Kinds)
}
