package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"aerugo/internal/science/design"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// Worth is what a set can tell, and what it can not, before any metal is cut.
//
// Untold names what is mixed up with what, Blind what is not seen at all, each a
// plain sentence. Shows is the smallest difference shown for each factor; a factor
// for which next to nothing is left to judge chance by is not on it.
type Worth struct {
	Untold   []string
	Blind    []string
	Shows    []Shown
	Swatches int // swatches that were counted, those made earlier with them
}

// Shown is the smallest difference, in ΔE00, that a set shows between two levels
// of a factor.
type Shown struct {
	Factor, From, To string
	Least            float64
	Enough           bool // Least is no more than the difference wanted
	Words            string
}

// How often a difference that is there is to be seen, and how sure its interval
// is (common practice, no source).
const (
	usualChance = 0.8
	usualSure   = 0.95
)

// Weigh says what the treatments of a set can tell of its factors, together with
// swatches made earlier, for a difference in ΔE00 that is wanted. It reckons with
// what the treatments hold and not with how they were chosen, so that it is as true
// of a set made long ago. The error is a *studio.Problem.
func Weigh(set studio.Set, treatments []studio.Treatment, made [][]studio.Setting, s Spread, difference float64) (Worth, error) {
	w, err := newWeighing(set, treatments, made)
	if err != nil {
		return Worth{}, err
	}
	q := design.Question{Difference: difference, Spread: s.SD, Sure: usualSure, Chance: usualChance}
	out := Worth{Swatches: w.swatches}
	if out.Untold, err = w.untold(); err != nil {
		return Worth{}, asProblem("design", err)
	}
	if err := w.fit(q); err != nil {
		return Worth{}, asProblem("difference", err)
	}
	if out.Blind, err = w.blind(q); err != nil {
		return Worth{}, asProblem("difference", err)
	}
	sights, err := w.plan.Sees(q)
	if err != nil && !errors.Is(err, design.ErrSingular) {
		return Worth{}, asProblem("difference", err)
	}
	for _, s := range sights {
		x := Shown{Factor: s.Factor, From: w.label(s.Factor, s.From), To: w.label(s.Factor, s.To), Least: s.Least, Enough: s.Least <= difference}
		x.Words = fmt.Sprintf("%s: shows a difference of %.1f ΔE00 or more between %s and %s, 4 times in 5.", capitalised(x.Factor), x.Least, x.From, x.To)
		out.Shows = append(out.Shows, x)
	}
	return out, nil
}

// ToSee is how many swatches of each level show a difference in ΔE00 between two of
// so many levels, 4 times in 5, where swatches made alike scatter by s. The error is
// a *studio.Problem.
func ToSee(difference float64, s Spread, levels int) (int, error) {
	n, err := design.SwatchesToSee(design.Question{Difference: difference, Spread: s.SD, Sure: usualSure, Chance: usualChance}, levels)
	if err != nil {
		return 0, asProblem("difference", err)
	}
	return n, nil
}

// A weighing holds a set as a plan of science/design.
type weighing struct {
	set      studio.Set
	plan     design.Plan
	swatches int
	words    map[string]string // what an effect's name says to a person
}

func newWeighing(set studio.Set, treatments []studio.Treatment, made [][]studio.Setting) (*weighing, error) {
	w := &weighing{set: set, words: map[string]string{}}
	if len(set.Factors) == 0 {
		return nil, studio.Problemf(studio.Invalid, "design", "This set varies nothing on purpose, so there is nothing to tell apart.")
	}
	type row struct {
		levels []studio.Level
		block  int
		swatch int64
	}
	var rows []row
	add := func(settings []studio.Setting, block int, swatch int64) {
		r := row{block: block, swatch: swatch}
		for _, f := range set.Factors {
			at := slices.IndexFunc(settings, func(s studio.Setting) bool { return s.Factor == f.Name && s.Kind == f.Kind })
			if at < 0 {
				return
			}
			l := settings[at].Level
			if !f.Kind.Numeric() && !slices.ContainsFunc(f.Levels, func(x studio.Level) bool { return sameLevel(f.Kind, x, l) }) {
				return
			}
			r.levels = append(r.levels, l)
		}
		rows = append(rows, r)
	}
	for i, settings := range made {
		add(settings, -1, -int64(i)-1)
	}
	for _, t := range treatments {
		add(t.Settings, t.Block, t.Swatch)
	}
	if len(rows) < 2 || len(rows) > design.MaxRuns {
		return nil, studio.Problemf(studio.Invalid, "design", "%d treated faces or swatches can't be weighed; 2 to %d can.", len(rows), design.MaxRuns)
	}
	byName := set.Design == studio.Full || set.Design == studio.Square
	var columns [][]float64
	for i, f := range set.Factors {
		d := design.Factor{Name: f.Name}
		var column []float64
		var used []float64
		for _, r := range rows {
			if !slices.Contains(used, r.levels[i].Number) {
				used = append(used, r.levels[i].Number)
			}
		}
		slices.Sort(used)
		switch {
		case f.Kind.Numeric() && (len(used) < 2 || !byName || len(used) == 2 || len(used) > design.MaxLevels):
			low, high := ends(f)
			d.Low, d.High = min(used[0], low.Number), max(used[len(used)-1], high.Number)
			d.Settings = used
			if len(used) < 2 {
				d.Settings = nil
			}
			if !(d.High > d.Low) {
				return nil, studio.Problemf(studio.Invalid, "design", "%s is the same on every swatch, so there is nothing to tell of it.", f.Name)
			}
			for _, r := range rows {
				column = append(column, d.Code(r.levels[i].Number))
			}
		case f.Kind.Numeric():
			for _, v := range used {
				d.Levels = append(d.Levels, w.labelAt(f, v))
			}
			for _, r := range rows {
				column = append(column, float64(slices.Index(used, r.levels[i].Number)))
			}
		default:
			for _, l := range f.Levels {
				d.Levels = append(d.Levels, l.Label)
			}
			for _, r := range rows {
				column = append(column, float64(slices.IndexFunc(f.Levels, func(x studio.Level) bool { return sameLevel(f.Kind, x, r.levels[i]) })))
			}
		}
		w.plan.Factors = append(w.plan.Factors, d)
		columns = append(columns, column)
	}
	swatchOf, blockOf := map[int64]int{}, map[int]int{}
	swatch, block := design.Group{Name: inSwatch, Ratio: 1}, design.Group{Name: w.blockWord()}
	for r, row := range rows {
		var run []float64
		for _, c := range columns {
			run = append(run, c[r])
		}
		w.plan.Runs = append(w.plan.Runs, run)
		if _, ok := swatchOf[row.swatch]; !ok {
			swatchOf[row.swatch] = len(swatchOf)
		}
		if _, ok := blockOf[row.block]; !ok {
			blockOf[row.block] = len(blockOf)
		}
		swatch.Of = append(swatch.Of, swatchOf[row.swatch])
		block.Of = append(block.Of, blockOf[row.block])
	}
	w.swatches = len(swatchOf)
	if len(blockOf) > 1 {
		w.hold(&block)
	}
	if len(swatchOf) < len(rows) {
		w.hold(&swatch)
	}
	w.say()
	return w, nil
}

// hold adds a group to the plan; a factor that never changes within it, and
// changes otherwise, is held in it.
func (w *weighing) hold(g *design.Group) {
	for i, f := range w.plan.Factors {
		first := map[int]float64{}
		same, varies := true, false
		for r, run := range w.plan.Runs {
			b := g.Of[r]
			if v, ok := first[b]; ok && v != run[i] {
				same = false
			} else if !ok {
				first[b] = run[i]
			}
			varies = varies || run[i] != w.plan.Runs[0][i]
		}
		if f.HeldIn == "" && same && varies {
			w.plan.Factors[i].HeldIn = g.Name
			g.Ratio = 1
		}
	}
	w.plan.Groups = append(w.plan.Groups, *g)
}

func (w *weighing) blockWord() string {
	if w.set.ChamberID != 0 {
		return inFilling
	}
	return "day"
}

// labelAt names a number as the set's levels do.
func (w *weighing) labelAt(f studio.Factor, v float64) string {
	for _, l := range f.Levels {
		if l.Number == v && !slices.ContainsFunc(f.Levels, func(x studio.Level) bool { return x.Label == l.Label && x.Number != v }) {
			return l.Label
		}
	}
	if f.Kind == studio.ByMinutes {
		return studio.Span(time.Duration(v * float64(time.Minute)))
	}
	return number(figure(v)) + " " + f.Kind.Unit()
}

// label turns how science/design says a setting into the set's label.
func (w *weighing) label(factor, said string) string {
	for i, f := range w.set.Factors {
		d := w.plan.Factors[i]
		if f.Name != factor || d.Category() {
			continue
		}
		for _, code := range []float64{-1, 1} {
			if d.Says(code) == said {
				return w.labelAt(f, d.Value(code))
			}
		}
	}
	return said
}

// say puts the names of effects into words: "liquid × time" is what liquid and
// time do together.
func (w *weighing) say() {
	for _, t := range design.Quadratic(w.plan.Factors) {
		name := design.Words(t)
		switch {
		case len(t) == 1:
			w.words[name] = "what " + t[0] + " does"
		case t[0] == t[1]:
			w.words[name] = "the bend of " + t[0]
		default:
			w.words[name] = "what " + t[0] + " and " + t[1] + " do together"
		}
	}
	for _, g := range w.plan.Groups {
		w.words[g.Name] = "the difference between one " + g.Name + " and the next"
	}
}

func (w *weighing) wordsOf(effect string) string {
	if words, ok := w.words[effect]; ok {
		return words
	}
	return effect
}

// mostSaid is how many of the things one effect is mixed up with are named.
const mostSaid = 3

// untold says what is mixed up: first what can't be told apart at all, one
// sentence for all that go together, then what is partly mixed up.
func (w *weighing) untold() ([]string, error) {
	p := w.plan
	p.Model = design.Main(p.Factors)
	// Between effects of one column each, being mixed up goes on from one to the
	// next; between those of several it does not, and each is told by itself.
	single := !slices.ContainsFunc(p.Factors, func(f design.Factor) bool { return len(f.Levels) > 2 })
	if single && w.set.Design != studio.Screening && w.set.Design != studio.Scattered {
		p.Model = design.TwoFactor(p.Factors)
	}
	mixed, err := p.Confounded()
	if err != nil {
		return nil, err
	}
	var out []string
	class := map[string]int{}
	var classes [][]string
	join := func(name string, at int) {
		if was, ok := class[name]; ok && was != at {
			for _, n := range classes[was] {
				class[n] = at
			}
			classes[at] = append(classes[at], classes[was]...)
			classes[was] = nil
		} else if !ok {
			class[name] = at
			classes[at] = append(classes[at], name)
		}
	}
	partly, most := map[string][]string{}, 0.0
	var order []string
	for _, m := range mixed {
		switch {
		case m.Share >= 1-1e-9 && m.With == nil:
			out = append(out, fmt.Sprintf("%s can't be told apart from the rest: these settings hang together.", capitalised(w.wordsOf(m.Effect))))
		case m.Share >= 1-1e-9:
			if !single {
				classes = append(classes, append([]string{m.Effect}, m.With...))
				break
			}
			at, ok := class[m.Effect]
			if !ok {
				at = len(classes)
				classes = append(classes, nil)
				join(m.Effect, at)
			}
			for _, other := range m.With {
				join(other, at)
			}
		case slices.ContainsFunc(w.set.Factors, func(f studio.Factor) bool { return f.Name == m.Effect }):
			order = append(order, m.Effect)
			partly[m.Effect] = m.With
			most = max(most, m.Share)
		}
	}
	var told []string
	for _, names := range classes {
		if len(names) < 2 {
			continue
		}
		rest := make([]string, 0, len(names)-1)
		for _, n := range names[1:] {
			rest = append(rest, w.wordsOf(n))
		}
		told = append(told, fmt.Sprintf("%s can't be told from %s.", capitalised(w.wordsOf(names[0])), someOf(rest, "; nor from ")))
	}
	out = append(told, out...)
	if len(order) > 3 {
		out = append(out, fmt.Sprintf("Each thing by itself is partly mixed up with what two others do together (correlation up to %.2f): where two act strongly together, a third may get the blame.", most))
		return out, nil
	}
	for _, name := range order {
		var with []string
		for _, n := range partly[name] {
			with = append(with, w.wordsOf(n))
		}
		out = append(out, fmt.Sprintf("%s is partly mixed up with %s.", capitalised(w.wordsOf(name)), someOf(with, "; with ")))
	}
	return out, nil
}

func someOf(words []string, between string) string {
	if more := len(words) - mostSaid; more > 0 {
		return strings.Join(words[:mostSaid], between) + fmt.Sprintf(" (and %d more)", more)
	}
	return strings.Join(words, between)
}

// enoughLeft is what is left to judge chance by before a larger model is taken.
const enoughLeft = 4

// fit takes the largest model that the swatches can bear: a curve's with bends,
// else pairs where something is left to judge chance by, else single effects.
func (w *weighing) fit(q design.Question) error {
	fs := w.plan.Factors
	models := [][]stat.Term{design.Main(fs)}
	switch w.set.Design {
	case studio.Full:
		models = [][]stat.Term{design.TwoFactor(fs), models[0]}
	case studio.Curve, studio.Chosen, studio.Proposed:
		models = [][]stat.Term{design.Quadratic(fs), design.TwoFactor(fs), models[0]}
	}
	for i, m := range models {
		w.plan.Model = m
		sights, err := w.plan.Sees(q)
		if errors.Is(err, design.ErrSingular) {
			continue
		}
		if err != nil || i == len(models)-1 {
			return err
		}
		left := math.MaxInt
		for _, s := range sights {
			left = min(left, s.DF)
		}
		if len(sights) == len(fs) && left >= enoughLeft {
			return nil
		}
	}
	return nil
}

// blind says what the set does not tell, apart from what it mixes up and what
// differences are too small for it, which Shows says.
func (w *weighing) blind(q design.Question) ([]string, error) {
	said, err := w.plan.Blind(q)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, text := range said {
		if strings.HasPrefix(text, "It would miss a difference") {
			continue
		}
		if w.set.Design == studio.Full && strings.HasPrefix(text, "It makes ") && strings.Contains(text, "two settings only") {
			continue // Notes say it of a grid
		}
		if w.swatches < len(w.plan.Runs) {
			text = strings.Replace(text, fmt.Sprintf("not by the %d swatches", len(w.plan.Runs)), fmt.Sprintf("not by the %d faces", len(w.plan.Runs)), 1)
		}
		out = append(out, capitalised(text))
	}
	return out, nil
}
