package plan

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/science/design"
	"aerugo/internal/studio"
)

// A choice is what a design came to: the factors with the levels it makes, and
// for each run the level of each.
//
// twice is how many of what is made is to be made once more. Where the design
// itself says in which block a run is made, or which runs are the two faces of
// one swatch, blocks or pairs is set.
type choice struct {
	factors []studio.Factor
	runs    [][]int
	twice   int
	times   int // how often each run is made
	blocks  []int
	pairs   bool
}

// refusal is why a run must not be made.
type refusal struct {
	ruledOut string // by the person: which levels
	unsafe   *studio.Problem
	err      error
}

func (r refusal) none() bool { return r.ruledOut == "" && r.unsafe == nil && r.err == nil }

// ruled names what is ruled out in these levels, "" when nothing is.
func (a Ask) ruled(settled []studio.Factor, levels []studio.Level) string {
	for _, never := range a.Never {
		all := true
		for _, p := range never {
			f := settled[p.Factor]
			all = all && sameLevel(f.Kind, f.Levels[p.Level], levels[p.Factor])
		}
		if all {
			var words []studio.Level
			for _, p := range never {
				words = append(words, settled[p.Factor].Levels[p.Level])
			}
			return saysRun(words)
		}
	}
	return ""
}

// choose finds the settings of all runs. made are those that are there already;
// unsafe says why one must not be made.
func (a Ask) choose(settled []studio.Factor, made [][]studio.Level, unsafe func([]studio.Level) refusal) (choice, error) {
	wide, err := a.widened(settled)
	if err != nil {
		return choice{}, err
	}
	c := choice{factors: wide, times: a.Replicates}
	if a.UsualReplicates {
		c.times = 1
		if a.Design == studio.Full {
			c.times = 2
		}
	}
	bad := func(levels []studio.Level) refusal {
		if text := a.ruled(settled, levels); text != "" {
			return refusal{ruledOut: text}
		}
		return unsafe(levels)
	}
	if a.Design == studio.Scattered || a.Design == studio.Chosen {
		var free bool
		if c.factors, free, err = possible(wide, bad); err != nil {
			return c, err
		}
		if free {
			bad = nil // a search asks a million times
		}
	}
	switch a.Design {
	case studio.Scattered:
		return a.scatter(c, made, bad)
	case studio.Chosen:
		return a.search(c, made, bad)
	case studio.Full:
		if n := product(wide); n > MaxSwatches {
			return c, studio.Problemf(studio.Invalid, "replicates", "That makes more than %d swatches; choose fewer levels, replicates or blanks.", MaxSwatches)
		}
		c.runs = slices.DeleteFunc(combinations(wide), func(run []int) bool { return a.ruled(settled, levelsOf(wide, run)) != "" })
		if len(c.runs) == 0 {
			return c, studio.Problemf(studio.Invalid, "never1", "Every combination is ruled out; rule out less.")
		}
	default:
		if c.runs, err = a.textbook(wide); err != nil {
			return c, err
		}
		for _, run := range c.runs {
			if text := a.ruled(settled, levelsOf(wide, run)); text != "" {
				plain, _ := DesignWords(a.Design)
				return c, studio.Problemf(studio.Invalid, "design", "The settings of '%s' hang together, and one of them is ruled out (%s). Choose 'searched for', which works around it.", plain, text)
			}
		}
	}
	if a.UsualReplicates && a.Design != studio.Full {
		c.twice = max(0, 2-(len(c.runs)-distinct(c.runs)))
	}
	return c, nil
}

// mostTried is how many combinations are looked through for levels that can't be
// made with anything.
const mostTried = 5000

// possible returns the factors without the named levels that must not be made with
// anything: a plan can't be asked about those. free says that nothing must not be
// made; between two strengths that are safe all are taken to be, and what is laid
// out is looked at once more.
func possible(factors []studio.Factor, bad func([]studio.Level) refusal) (_ []studio.Factor, free bool, _ error) {
	n := 1
	for _, f := range factors {
		if n *= len(f.Levels); n > mostTried {
			return factors, false, nil
		}
	}
	used := make([]map[int]bool, len(factors))
	for i := range used {
		used[i] = map[int]bool{}
	}
	var last refusal
	for _, run := range combinations(factors) {
		if r := bad(levelsOf(factors, run)); !r.none() {
			last = r
			continue
		}
		for i, l := range run {
			used[i][l] = true
		}
	}
	out := slices.Clone(factors)
	for i, f := range factors {
		if f.Kind.Numeric() && len(used[i]) > 0 {
			continue
		}
		var levels []studio.Level
		for l := range f.Levels {
			if used[i][l] {
				levels = append(levels, f.Levels[l])
			}
		}
		switch {
		case len(levels) > 1:
			out[i].Levels = levels
		case last.unsafe != nil:
			return nil, false, last.unsafe
		case last.err != nil:
			return nil, false, last.err
		default:
			return nil, false, studio.Problemf(studio.Invalid, "never1", "With what is ruled out, %s is left with %d setting to vary; rule out less.", f.Name, len(levels))
		}
	}
	return out, last.none(), nil
}

// product is the number of combinations, or more than MaxSwatches.
func product(factors []studio.Factor) int {
	n := 1
	for _, f := range factors {
		if n *= len(f.Levels); n > MaxSwatches {
			return n
		}
	}
	return n
}

func distinct(runs [][]int) int {
	seen := map[string]bool{}
	for _, r := range runs {
		seen[fmt.Sprint(r)] = true
	}
	return len(seen)
}

// textbook lays out the designs that are made by construction.
func (a Ask) textbook(factors []studio.Factor) ([][]int, error) {
	switch a.Design {
	case studio.Fraction:
		return a.fraction(factors)
	case studio.Screening:
		return a.screening(factors)
	case studio.Curve:
		return curve(factors)
	}
	return square(factors)
}

// fromCodes turns codes of -1 and 1 (and 0 in between) into levels.
func fromCodes(factors []studio.Factor, runs [][]float64) [][]int {
	var out [][]int
	for _, run := range runs {
		var levels []int
		for i, v := range run {
			order := ascending(factors[i])
			at := int(v+1) / 2 * (len(order) - 1)
			if len(order) == 3 {
				at = int(v) + 1
			}
			levels = append(levels, order[at])
		}
		out = append(out, levels)
	}
	return out
}

// each is how many are made of a setting as far as the person says so.
func (a Ask) each() int {
	if a.UsualReplicates {
		return 1
	}
	return a.Replicates
}

// fraction takes the largest fraction within the swatches wanted, or else the
// smallest in which no single effect is mixed up with a pair.
func (a Ask) fraction(factors []studio.Factor) ([][]int, error) {
	k := len(factors)
	var best *design.Fraction
	least := 0
	for p := 1; p < k; p++ {
		f, err := design.Fractional(design.TwoLevels(k), p)
		if err != nil {
			continue // not every part is a good one
		}
		n := len(f.Runs)
		least = n
		switch {
		case a.Swatches > 0:
			if n*a.each() <= a.Swatches && best == nil {
				best = &f
			}
		case best == nil || f.Resolution() >= 4:
			best = &f
		}
	}
	switch {
	case least == 0:
		return nil, studio.Problemf(studio.Invalid, "design", "There is no good part of all combinations of %d things; 3 to 8 can be made so.", k)
	case best == nil:
		return nil, studio.Problemf(studio.Invalid, "swatches", "The smallest part of all combinations of %d things has %d settings; make that many, or vary less.", k, least)
	}
	return fromCodes(factors, best.Runs), nil
}

func (a Ask) screening(factors []studio.Factor) ([][]int, error) {
	if len(factors) < 4 {
		return nil, studio.Problemf(studio.Invalid, "design", "A first look is for 4 things or more; every combination of %d two-level things is only %d.", len(factors), 1<<len(factors))
	}
	n := 12
	for _, more := range []int{20, 24} {
		if a.Swatches >= more*a.each() {
			n = more
		}
	}
	p, err := design.PlackettBurman(design.TwoLevels(len(factors)), n)
	if err != nil {
		return nil, asProblem("design", err)
	}
	return fromCodes(factors, p.Runs), nil
}

// curve lays out a face-centred composite for two factors and for six or more,
// and Box and Behnken's plan between.
func curve(factors []studio.Factor) ([][]int, error) {
	k := len(factors)
	fs := design.TwoLevels(k)
	for i := range fs {
		fs[i].Settings = []float64{-1, 0, 1}
	}
	var p design.Plan
	var err error
	switch {
	case k < 2:
		return nil, studio.Problemf(studio.Invalid, "design", "For one thing a ladder of four levels or more shows the bend; take every level.")
	case k >= 3 && k <= 5:
		p, err = design.BoxBehnken(fs, -1)
	default:
		ask := design.CompositeAsk{Star: design.Faced, CentreCorner: 3}
		if k >= 6 {
			ask.P = 1
		}
		p, err = design.Composite(fs, ask)
	}
	if err != nil {
		return nil, asProblem("design", err)
	}
	return fromCodes(factors, p.Runs), nil
}

// square lays out Latin and Graeco-Latin squares, L9 and L18.
func square(factors []studio.Factor) ([][]int, error) {
	k := len(factors)
	no := studio.Problemf(studio.Invalid, "design", "Evened out over rows and columns are 3 or 4 things of as many levels each (3, 4, 5 ...), or up to 8 of which one has two levels and the others three. Change the levels, or choose another way.")
	var twos []int
	n := 0 // the levels all others have
	for i, f := range factors {
		switch {
		case len(f.Levels) == 2:
			twos = append(twos, i)
		case n != 0 && n != len(f.Levels):
			return nil, no
		default:
			n = len(f.Levels)
		}
	}
	// The square's columns are drawn up as if all levels had a number.
	plain := func(levels ...int) []design.Factor {
		var fs []design.Factor
		for i, n := range levels {
			f := design.Factor{Name: fmt.Sprint("column ", i)}
			for l := range n {
				f.Levels = append(f.Levels, fmt.Sprint(l))
			}
			fs = append(fs, f)
		}
		return fs
	}
	columns := make([]int, 0, k) // which column of the plan each factor takes
	var p design.Plan
	var err error
	switch {
	case len(twos) == 0 && n == 3 && (k == 3 || k == 4):
		p, err = design.L9(plain(slices.Repeat([]int{3}, k)...))
	case len(twos) == 0 && n > 3 && (k == 3 || k == 4):
		p, err = design.LatinPlan(plain(slices.Repeat([]int{n}, k)...))
	case len(twos) <= 1 && n == 3 && k >= 4 && k-len(twos) <= 7:
		p, err = design.L18(plain(append([]int{2}, slices.Repeat([]int{3}, k-len(twos))...)...))
		next := 1
		for i := range factors {
			if slices.Contains(twos, i) {
				columns = append(columns, 0)
				continue
			}
			columns = append(columns, next)
			next++
		}
	default:
		return nil, no
	}
	if err != nil {
		return nil, asProblem("design", err)
	}
	if len(columns) == 0 {
		for i := range factors {
			columns = append(columns, i)
		}
	}
	var out [][]int
	for _, run := range p.Runs {
		var levels []int
		for i, f := range factors {
			levels = append(levels, ascending(f)[int(run[columns[i]])])
		}
		out = append(out, levels)
	}
	return out, nil
}

// designStream seeds searches apart from the order.
const designStream = 0x64657369676e2d31

func (a Ask) chance() *rand.Rand { return rand.New(rand.NewPCG(a.Seed, designStream)) }

// asDesign makes science/design's factors of ours.
func (a Ask) asDesign(factors []studio.Factor, open bool) []design.Factor {
	var out []design.Factor
	for i, f := range factors {
		d := design.Factor{Name: f.Name}
		if f.Kind.Numeric() {
			low, high := ends(f)
			d.Low, d.High = low.Number, high.Number
			if !open || !a.between(i) {
				for _, l := range f.Levels {
					d.Settings = append(d.Settings, l.Number)
				}
			}
		} else {
			for _, l := range f.Levels {
				d.Levels = append(d.Levels, l.Label)
			}
		}
		out = append(out, d)
	}
	return out
}

// forbids is bad for codes; nil when nothing is.
func (a Ask) forbids(factors []studio.Factor, fs []design.Factor, bad func([]studio.Level) refusal) func([]float64) bool {
	if bad == nil {
		return nil
	}
	known := map[string]bool{} // each setting is asked about many times
	var key []byte
	return func(run []float64) bool {
		key = key[:0]
		for _, v := range run {
			key = binary.LittleEndian.AppendUint64(key, math.Float64bits(v))
		}
		is, ok := known[string(key)]
		if !ok {
			is = !bad(a.levelsAt(factors, fs, run)).none()
			known[string(key)] = is
		}
		return is
	}
}

// levelsAt returns the levels that codes stand for, numbers as hands keep them.
func (a Ask) levelsAt(factors []studio.Factor, fs []design.Factor, run []float64) []studio.Level {
	out := make([]studio.Level, len(run))
	for i, code := range run {
		f := factors[i]
		if !f.Kind.Numeric() {
			out[i] = f.Levels[int(code)]
			continue
		}
		v := fs[i].Value(code)
		at := slices.IndexFunc(f.Levels, func(l studio.Level) bool { return abs(l.Number-v) <= 1e-9*(1+abs(v)) })
		if at >= 0 {
			out[i] = f.Levels[at]
			continue
		}
		out[i] = levelAt(f, min(max(keepable(f.Kind, v), fs[i].Low), fs[i].High), unitOf(f, a.Front.Steps))
	}
	return out
}

func abs(v float64) float64 { return max(v, -v) }

// codesOf returns the codes of levels.
func codesOf(factors []studio.Factor, fs []design.Factor, levels []studio.Level) []float64 {
	out := make([]float64, len(levels))
	for i, l := range levels {
		f := factors[i]
		if f.Kind.Numeric() {
			out[i] = fs[i].Code(l.Number)
			continue
		}
		out[i] = float64(slices.IndexFunc(f.Levels, func(x studio.Level) bool { return sameLevel(f.Kind, x, l) }))
	}
	return out
}

// taken turns runs of levels into a choice, whose factors have the levels made.
func (c choice) taken(runs [][]studio.Level) choice {
	used := make([]studio.Factor, len(c.factors))
	for i, f := range c.factors {
		used[i] = f
		if !f.Kind.Numeric() {
			continue
		}
		// Typed levels stay in their order; what lies between joins them by number.
		levels := slices.Clone(f.Levels)
		for _, run := range runs {
			if !slices.ContainsFunc(levels, func(l studio.Level) bool { return l.Number == run[i].Number }) {
				levels = append(levels, run[i])
			}
		}
		if len(levels) > len(f.Levels) {
			slices.SortFunc(levels, func(x, y studio.Level) int {
				if x.Number < y.Number {
					return -1
				}
				return 1
			})
		}
		used[i].Levels = levels
	}
	c.factors, c.runs = used, nil
	for _, run := range runs {
		var at []int
		for i, l := range run {
			at = append(at, slices.IndexFunc(used[i].Levels, func(x studio.Level) bool { return sameLevel(used[i].Kind, x, l) }))
		}
		c.runs = append(c.runs, at)
	}
	return c
}

// shareOut says how many runs are found and how many of those made once more
// when so many swatches are wanted and at least least runs are needed.
func (a Ask) shareOut(least int) (runs, twice, times int, problem *studio.Problem) {
	if !a.UsualReplicates {
		if a.Swatches%a.Replicates != 0 || a.Swatches/a.Replicates < 2 {
			return 0, 0, 0, studio.Problemf(studio.Invalid, "swatches", "%d swatches can't be made of %d of each kind; write a multiple of %d, at least %d.", a.Swatches, a.Replicates, a.Replicates, 2*a.Replicates)
		}
		return a.Swatches / a.Replicates, 0, a.Replicates, nil
	}
	if a.Swatches-2 >= max(least, 4) {
		return a.Swatches - 2, 2, 1, nil
	}
	return a.Swatches, 0, 1, nil
}

// scatter leaves no part of the settings far from a swatch.
func (a Ask) scatter(c choice, made [][]studio.Level, bad func([]studio.Level) refusal) (choice, error) {
	no := func(field, format string, args ...any) (choice, error) {
		return choice{}, studio.Problemf(studio.Invalid, field, format, args...)
	}
	switch {
	case len(made) > 0:
		return no("made", "Swatches spread out can't count those made already; choose 'searched for', which builds on them.")
	case len(a.Shared) > 0:
		return no("shared", "Swatches spread out can't share a setting within a filling; choose 'searched for', which heeds that.")
	case a.FacesApart:
		return no("faces", "Swatches spread out can't share a time between front and back; choose 'searched for', which heeds that.")
	}
	n, twice, times, problem := a.shareOut(4)
	if problem != nil {
		return choice{}, problem
	}
	fs := a.asDesign(c.factors, true)
	p, err := design.SpaceFilling(fs, n, a.forbids(c.factors, fs, bad), a.chance())
	if err != nil {
		return choice{}, asProblem("design", err)
	}
	var runs [][]studio.Level
	for _, run := range p.Runs {
		runs = append(runs, a.levelsAt(c.factors, fs, run))
	}
	c = c.taken(runs)
	c.twice, c.times = twice, times
	return c, nil
}

// modelOf is what a searched plan is to answer.
func (a Ask) modelOf(fs []design.Factor) (terms [][]string) {
	model := design.Main(fs)
	switch a.Model {
	case Pairs:
		model = design.TwoFactor(fs)
	case Bends:
		model = design.Quadratic(fs)
	}
	for _, t := range model {
		terms = append(terms, t)
	}
	return terms
}

// columns is the number of a model's columns, the mean counted.
func columns(fs []design.Factor, terms [][]string) int {
	q := 1
	for _, t := range terms {
		w := 1
		for _, name := range t {
			f := fs[slices.IndexFunc(fs, func(f design.Factor) bool { return f.Name == name })]
			if f.Category() {
				w *= len(f.Levels) - 1
			}
		}
		q += w
	}
	return q
}
