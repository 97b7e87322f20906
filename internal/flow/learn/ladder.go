package learn

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// LadderPlot reads a set that varies one thing.
//
// Levels that are numbers are judged by the difference between the lowest and
// the highest, with the spread of all levels together (Student's t); others by
// every pair, each level with its own spread (Welch). Without replicates there
// is no interval and the title says that these swatches can't tell.
func LadderPlot(set studio.Set, points []Point) Finding {
	used, leftOut, notes := split(set, points)
	f := Finding{LeftOut: leftOut, Table: table(points)}
	if len(set.Factors) == 0 {
		f.Title = "Nothing was varied in this set."
		return f
	}
	factor := set.Factors[0]
	cells := ladderCells(factor, used)
	f.Series = series(factor, rungsOf(cells), !factor.Kind.Numeric())
	switch {
	case len(points) == 0:
		f.Title = "Nothing is measured yet in this set."
		return f
	case len(used) == 0:
		f.Title = fmt.Sprintf("Can't tell from these swatches whether %s changes the look: none of the photographs has a grey patch.", factor.Name)
		f.Notes = notes
		return f
	case len(cells) < 2:
		f.Title = fmt.Sprintf("Can't tell from these swatches whether %s changes the look: only %s is measured so far.", factor.Name, cells[0].label)
		f.Notes = notes
		return f
	}
	if factor.Kind.Numeric() {
		f.Effects = []Effect{ends(set.Seed, factor, cells)}
	} else {
		f.Effects = pairs(set.Seed, factor, cells)
	}
	lead := f.Effects[0]
	f.Title, f.Sure = lead.Sentence, lead.Sure
	f.Notes = append(notes, aboutCoverage(lead)...)
	if factor.Kind.Numeric() {
		f.Notes = append(f.Notes, steady(lead, f.Series)...)
		f.Notes = append(f.Notes, inside(set.Seed, factor, cells, lead)...)
	}
	f.Notes = append(f.Notes, missing(factor, cells)...)
	f.Notes = append(f.Notes, aboutPhotos(lead)...)
	return f
}

// ladderCells sorts the swatches into levels, in order of X.
func ladderCells(f studio.Factor, ps []Point) []cell {
	byX := map[float64][]Point{}
	label := map[float64]string{}
	for _, p := range ps {
		byX[p.X] = append(byX[p.X], p)
		label[p.X] = p.Level
	}
	var cells []cell
	for x, group := range byX {
		cells = append(cells, cell{label: label[x], x: x, units: units(group)})
	}
	sort.Slice(cells, func(i, j int) bool { return cells[i].x < cells[j].x })
	return cells
}

// ends returns the effect between the lowest and the highest level.
func ends(seed uint64, f studio.Factor, cells []cell) Effect {
	from, to := side{cells[:1]}, side{cells[len(cells)-1:]}
	e := pooledEffect(seed, f.Name, cells, from, to, cells[0].label, cells[len(cells)-1].label, channels)
	e.sentence(f)
	return e
}

// pooledEffect returns the effect between two sides with the spread of all cells.
func pooledEffect(seed uint64, factor string, all []cell, from, to side, fromLabel, toLabel string, looks int) Effect {
	e := Effect{Factor: factor, From: fromLabel, To: toLabel, N: from.n() + to.n(), DE: colour.Difference(from.look(), to.look())}
	for i := range e.Changes {
		e.Changes[i], e.Interval = pooledChange(channelNames[i], all, from, to, channel(i), looks)
	}
	if e.Interval {
		s := spreadOf(all)
		e.Low, e.High, _ = differenceInterval(from, to, s, s, true, seed)
	}
	e.judge(from.look())
	if cf, ct := (side{withCover(from.cells)}), (side{withCover(to.cells)}); cf.whole() && ct.whole() {
		if c, ok := pooledChange("coverage", withCover(all), cf, ct, covered, 1); ok {
			e.Coverage = &c
		}
	}
	return e
}

// pairs returns the effect of every pair of levels, the surest and largest first.
func pairs(seed uint64, f studio.Factor, cells []cell) []Effect {
	looks := channels * len(cells) * (len(cells) - 1) / 2
	var es []Effect
	for i := range cells {
		for j := i + 1; j < len(cells); j++ {
			a, b := cells[i], cells[j]
			from, to := side{cells[i : i+1]}, side{cells[j : j+1]}
			e := Effect{Factor: f.Name, From: a.label, To: b.label, N: from.n() + to.n(), DE: colour.Difference(from.look(), to.look())}
			for c := range e.Changes {
				e.Changes[c], e.Interval = welchChange(channelNames[c], a, b, channel(c), looks)
			}
			if e.Interval {
				e.Low, e.High, _ = differenceInterval(from, to, spreadOf([]cell{a}), spreadOf([]cell{b}), false, seed)
			}
			e.judge(from.look())
			ab := withCover([]cell{a, b})
			if len(ab[0].units) > 0 && len(ab[1].units) > 0 {
				if c, ok := welchChange("coverage", ab[0], ab[1], covered, looks/channels); ok {
					e.Coverage = &c
				}
			}
			e.sentence(f)
			es = append(es, e)
		}
	}
	sort.SliceStable(es, func(i, j int) bool {
		if es[i].Sure != es[j].Sure {
			return es[i].Sure
		}
		return es[i].DE > es[j].DE
	})
	return es
}

// judge sets whether e is sure, and its direction: only parts that are sure are named.
func (e *Effect) judge(from colour.Lab) {
	v := values(from)
	for i, c := range e.Changes {
		if e.Interval && c.Sure {
			v[i] += c.Value
			e.Sure = true
		}
	}
	mean := values(from)
	for i, c := range e.Changes {
		mean[i] += c.Value
	}
	e.FromLook, e.ToLook = from, lab(mean)
	e.Sure = e.Sure && e.Low > 0
	if e.Sure {
		e.Direction = Direction(from, lab(v))
	}
}

// sentence writes what e says.
func (e *Effect) sentence(f studio.Factor) {
	over := ""
	if len(e.AveragedOver) > 0 {
		over = ", averaged over " + join(e.AveragedOver)
	}
	switch {
	case !e.Interval:
		e.Sentence = fmt.Sprintf("Can't tell from these swatches whether %s changes the look%s: they were made only once each, so a difference can't be told from the hand's own spread.", f.Name, over)
	case !e.Sure:
		e.Sentence = fmt.Sprintf("Can't tell from these swatches whether %s changes the look%s: %s and %s differ by ΔE00 %s, no more than swatches made alike might.", f.Name, over, e.From, e.To, one(e.DE))
	default:
		how := e.Direction
		if how == "" {
			how = "different"
		}
		if a, b := colour.Name(e.FromLook), colour.Name(e.ToLook); a != b && f.Kind.Numeric() {
			over += fmt.Sprintf(" (on the whole from %s to %s)", a, b)
		}
		size := fmt.Sprintf("ΔE00 %s, 95 %% interval %s to %s", one(e.DE), one(e.Low), one(e.High))
		if f.Kind.Numeric() {
			e.Sentence = fmt.Sprintf("%s from %s to %s makes the look %s%s: %s.", upper(f.Name), e.From, e.To, how, over, size)
		} else {
			e.Sentence = fmt.Sprintf("%s: %s looks %s than %s%s: %s.", upper(f.Name), e.To, thanWord(how), e.From, over, size)
		}
	}
}

// thanWord makes "different" go with "than".
func thanWord(how string) string {
	if how == "different" {
		return "other"
	}
	return how
}

// aboutCoverage says what happened to the share of the face covered.
func aboutCoverage(e Effect) []string {
	c := e.Coverage
	if c == nil {
		return nil
	}
	points := func(v float64) string { return one(100 * v) }
	if !c.Sure {
		return []string{fmt.Sprintf("Coverage: can't tell whether it changes from %s to %s (%s points, 95 %% interval %s to %s).", e.From, e.To, points(c.Value), points(c.Low), points(c.High))}
	}
	how := "rises"
	if c.Value < 0 {
		how = "falls"
	}
	return []string{fmt.Sprintf("Coverage %s from %s to %s by %s points of a hundred (95 %% interval %s to %s).", how, e.From, e.To, points(math.Abs(c.Value)), points(min(math.Abs(c.Low), math.Abs(c.High))), points(max(math.Abs(c.Low), math.Abs(c.High))))}
}

// inside says when a level between the ends differs from the lowest although, or
// more than, the highest does.
func inside(seed uint64, f studio.Factor, cells []cell, end Effect) []string {
	var most *Effect
	first := side{cells[:1]}
	for i := 1; i < len(cells)-1; i++ {
		here := side{cells[i : i+1]}
		if de := colour.Difference(first.look(), here.look()); de <= end.DE || most != nil && de <= most.DE {
			continue
		}
		e := pooledEffect(seed, f.Name, cells, first, here, cells[0].label, cells[i].label, channels*(len(cells)-1))
		if e.Sure {
			most = &e
		}
	}
	if most == nil {
		return nil
	}
	return []string{fmt.Sprintf("The largest difference is not at the end: at %s the look is %s than at %s (ΔE00 %s, 95 %% interval %s to %s).", most.To, thanWord(orDifferent(most.Direction)), most.From, one(most.DE), one(most.Low), one(most.High))}
}

// steady says how fast the channel that changes most does so, as a straight line.
func steady(e Effect, all []Series) []string {
	if !e.Sure {
		return nil
	}
	most := -1
	for i, c := range e.Changes {
		if c.Sure && (most < 0 || math.Abs(c.Value) > math.Abs(e.Changes[most].Value)) {
			most = i
		}
	}
	if most < 0 || all[most].Slope == nil || !all[most].Slope.Sure || len(all[most].Levels) < 3 {
		return nil
	}
	s := all[most].Slope
	return []string{fmt.Sprintf("Taken as a straight line, %s changes by %s per %s (95 %% interval %s to %s).", s.Name, signed(s.Value), all[most].Unit, signed(s.Low), signed(s.High))}
}

// signed writes v with three significant digits and a true minus sign.
func signed(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'g', 3, 64), "-", "−", 1)
}

func orDifferent(how string) string {
	if how == "" {
		return "different"
	}
	return how
}

// missing names the levels no counted swatch has.
func missing(f studio.Factor, cells []cell) []string {
	var none []string
	for i, l := range f.Levels {
		x, found := place(f, i), false
		for _, c := range cells {
			found = found || c.x == x
		}
		if !found {
			none = append(none, l.Label)
		}
	}
	if len(none) == 0 {
		return nil
	}
	return []string{"Not measured yet: " + join(none) + "."}
}

// aboutPhotos says what the intervals hold and what they don't.
func aboutPhotos(e Effect) []string {
	if !e.Interval {
		return nil
	}
	return []string{
		"The intervals come from how far swatches made alike differ. A lamp or camera that was otherwise for some levels only is not in them.",
	}
}
