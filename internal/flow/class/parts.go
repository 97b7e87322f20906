package class

import (
	"maps"
	"slices"

	"aerugo/internal/studio"
)

// A span of minutes that a part of a kind takes: the least that it can be done in,
// the usual, and the most that is of use. Common practice, no source: the usual of
// a class of three hours.
type span struct{ least, usual, most int }

var spans = map[studio.PartKind]span{
	studio.PartWelcome: {5, 10, 20},
	studio.PartSafety:  {10, 15, 25},
	studio.PartTalk:    {5, 15, 40},
	studio.PartBreak:   {5, 10, 20},
	studio.PartFinish:  {10, 20, 60},
	studio.PartJudge:   {5, 10, 45},
	studio.PartClear:   {wash, 10, 25},
	studio.PartOther:   {0, 15, 240},
}

// five rounds minutes up to the next five.
func five(m int) int { return (m + 4) / 5 * 5 }

// spanOf is how long a part may take: what it needs where it is reckoned.
func (a Ask) spanOf(p studio.ClassPart) span {
	if s, ok := spans[p.Kind]; ok {
		return s
	}
	each := a.perHead()
	switch p.Kind {
	case studio.PartPrepare:
		return span{5 + 5*each, 5 + 10*each, 15 + 15*each}
	case studio.PartNumber:
		return span{3 * each, 5 * each, 10 * each}
	}
	if i := a.index(p.VersionID); i >= 0 {
		n := a.need(i, p.From, p.To)
		if loads(a.Recipes[i].Version.Steps, p.From, p.To) {
			return span{n, five(n), five(n) + 5}
		}
		return span{n, five(n), five(n * 3 / 2)}
	}
	return span{5, 10, 60}
}

// perHead is how many swatches each student makes clean, at least one.
func (a Ask) perHead() int {
	n := 0
	for i, r := range a.Class.Recipes {
		if _, begun := a.first(i); !begun && a.mode(i).who == byStudents {
			n += r.PerHead
		}
	}
	return max(1, n)
}

// Parts returns the usual parts of a class, fitted to its minutes: to the minute
// where that can be done at all. What there is no time for is left out, the least
// needed first.
func Parts(a Ask) ([]studio.ClassPart, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	drop := map[studio.PartKind]bool{}
	late := map[int64]lateness{}
	for {
		parts := a.fitted(drop, late)
		moved := false
		for i := range a.Recipes {
			v := a.Recipes[i].Version.ID
			if a.follow(i, a.clocked(parts)).early && late[v] < never {
				late[v]++
				moved = true
			}
		}
		if !moved {
			return parts, nil
		}
	}
}

// lateness is where what follows a long wait stands: before judging, before
// clearing up, or nowhere.
type lateness int

const (
	beforeJudging lateness = iota
	beforeClearing
	never
)

// fitted are the usual parts in the hours of the class, less what there is no time
// for: the least needed goes first.
func (a Ask) fitted(drop map[studio.PartKind]bool, late map[int64]lateness) []studio.ClassPart {
	gone := maps.Clone(drop)
	for _, next := range []studio.PartKind{"", studio.PartFinish, studio.PartTalk, studio.PartBreak, studio.PartJudge} {
		if next == studio.PartBreak && a.Class.Minutes >= 120 {
			continue // two hours are not taught without one
		}
		gone[next] = true
		if parts := a.usualParts(gone, late); a.sum(parts, func(s span) int { return s.least }) <= a.Class.Minutes {
			return a.fit(parts)
		}
	}
	return a.fit(a.usualParts(gone, late))
}

func (a Ask) sum(parts []studio.ClassPart, of func(span) int) int {
	n := 0
	for _, p := range parts {
		n += of(a.spanOf(p))
	}
	return n
}

// usualParts are the parts with their usual minutes, whatever the hours.
func (a Ask) usualParts(drop map[studio.PartKind]bool, late map[int64]lateness) []studio.ClassPart {
	var parts []studio.ClassPart
	add := func(k studio.PartKind, words string) {
		if !drop[k] {
			parts = append(parts, studio.ClassPart{Kind: k, Words: words})
		}
	}
	add(studio.PartWelcome, "Finished swatches are handed round")
	add(studio.PartSafety, "Eyewash, gloves that fit, ways out, what gives off gas")
	add(studio.PartTalk, "What makes the colour, shown on two swatches")
	if a.fresh() {
		add(studio.PartPrepare, "Until water runs over it without a break")
		add(studio.PartNumber, "Stamp, hang, write")
	}
	rest, tubs := "Wash hands", "While the tubs work; wash hands"
	if a.Class.Minutes > 300 { // a day: a short break early, and the tubs work through the meal
		add(studio.PartBreak, rest)
		rest, tubs = mealWords, mealWords
	}
	var after [2][]studio.ClassPart
	paused := drop[studio.PartBreak]
	for _, i := range a.inOrder() {
		stretches := a.stretches(i)
		for n, p := range stretches {
			if n == 0 || !a.waits(i, stretches[n-1].To-1) {
				parts = append(parts, p)
			} else if l := late[p.VersionID]; l < never {
				after[l] = append(after[l], p)
				continue
			} else {
				break
			}
			if loads(a.Recipes[i].Version.Steps, p.From, p.To) && !paused {
				add(studio.PartBreak, tubs)
				paused = true
			}
		}
	}
	if !paused && a.Class.Minutes >= 90 {
		add(studio.PartBreak, rest)
	}
	add(studio.PartFinish, "Seal half of a swatch made ahead, or heat colour on spare metal")
	parts = append(parts, after[beforeJudging]...)
	add(studio.PartJudge, "Pairs of swatches made ahead; words are written")
	parts = append(parts, after[beforeClearing]...)
	add(studio.PartClear, "Waste jar, hands washed, who fetches what")
	return parts
}

const mealWords = "Meal, away from the bench, hands washed"

// fresh reports whether students begin on bare metal.
func (a Ask) fresh() bool {
	for i := range a.Recipes {
		if _, begun := a.first(i); !begun && a.mode(i).who == byStudents {
			return true
		}
	}
	return false
}

// inOrder are the recipes of the hours: what must wait long but not too long comes
// first, so that its wait is used; else in the order chosen.
func (a Ask) inOrder() []int {
	var first, rest []int
	for i, r := range a.Recipes {
		if a.mode(i).who == byNobody {
			continue
		}
		from, _ := a.first(i)
		k := slices.IndexFunc(r.Version.Steps[from:], func(s studio.Step) bool { return s.Kind.Dwell() && s.Duration.Minutes() > absorbed })
		if k >= 0 && r.Version.Steps[from+k].Duration.Minutes() <= a.waitsAtMost() {
			first = append(first, i)
		} else {
			rest = append(rest, i)
		}
	}
	return append(first, rest...)
}

// absorbed is the longest wait, in minutes, through which a class stands by.
const absorbed = 15

// waits reports whether step k of recipe i is a wait that other parts are used for.
func (a Ask) waits(i, k int) bool {
	s := a.Recipes[i].Version.Steps[k]
	return s.Kind.Dwell() && (s.Kind == studio.Fume || s.Kind == studio.Bury || s.Duration.Minutes() > absorbed)
}

// stretches cuts the steps of recipe i, from where the class takes it up, into parts:
// hands' work, then the loading of tubs by itself, up to a wait that is too long.
func (a Ask) stretches(i int) []studio.ClassPart {
	kind := studio.PartMake
	from, begun := a.first(i)
	if a.mode(i).who == byTeacher {
		kind = studio.PartShow
		if !begun {
			from = 0 // the teacher cleans the metal too
		}
	}
	v := a.Recipes[i].Version
	var out []studio.ClassPart
	for from < len(v.Steps) {
		to := from
		for to < len(v.Steps) && !a.waits(i, to) {
			to++
		}
		if to < len(v.Steps) && (to == from || v.Steps[to].Kind != studio.Fume && v.Steps[to].Kind != studio.Bury) {
			to++
		}
		out = append(out, studio.ClassPart{Kind: kind, VersionID: v.ID, From: from, To: to, Where: a.whereOf(i, from, to)})
		if a.waits(i, to-1) && v.Steps[to-1].Duration.Minutes() > a.waitsAtMost() {
			break
		}
		from = to
	}
	return out
}

// waitsAtMost is how many minutes a step may run by itself so that its end can
// still come in class: what is left beside welcome, safety, judging and clearing up.
func (a Ask) waitsAtMost() float64 { return float64(a.Class.Minutes) / 3 }

// whereOf is where steps are done: where the vapours go if they give off any, else
// at the bench.
func (a Ask) whereOf(i, from, to int) studio.ClassWhere {
	if a.modeIn(i, studio.OpenRoom, from, to).who == byNobody && a.Class.Where != studio.OpenRoom {
		return a.Class.Where
	}
	return ""
}

// fit gives the parts minutes that sum up to the class's, each from its least to
// its most; what is left over is free bench time before judging.
func (a Ask) fit(parts []studio.ClassPart) []studio.ClassPart {
	var all []span
	left := a.Class.Minutes
	for i := range parts {
		s := a.spanOf(parts[i])
		if parts[i].Kind == studio.PartBreak && parts[i].Words == mealWords {
			s = span{30, 45, 60}
		}
		all = append(all, s)
		parts[i].Minutes = s.usual
		left -= s.usual
	}
	for left != 0 {
		best, most := -1, 0.0
		step := min(5, max(left, -left))
		for whole := step; whole > 0 && best < 0; whole-- { // whole fives while there are any
			for i, s := range all {
				room := s.most - parts[i].Minutes
				if left < 0 {
					room = parts[i].Minutes - s.least
				}
				if share := float64(room) / float64(max(1, s.usual)); room >= whole && share > most {
					best, most = i, share
				}
			}
		}
		if best < 0 {
			break
		}
		if left > 0 {
			step = min(step, all[best].most-parts[best].Minutes)
			parts[best].Minutes += step
			left -= step
		} else {
			step = min(step, parts[best].Minutes-all[best].least)
			parts[best].Minutes -= step
			left += step
		}
	}
	if left > 0 {
		at := slices.IndexFunc(parts, func(p studio.ClassPart) bool { return p.Kind == studio.PartJudge || p.Kind == studio.PartClear })
		if at < 0 {
			at = len(parts)
		}
		parts = slices.Insert(parts, at, studio.ClassPart{Kind: studio.PartOther, Words: "Own trials at the bench, with what was shown", Minutes: left})
	}
	return parts
}

// Fit returns the parts of a class with their minutes changed so that they sum up
// to its own, as far as the least of each allows.
func Fit(a Ask) ([]studio.ClassPart, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	if len(a.Class.Parts) == 0 {
		return Parts(a)
	}
	return a.fit(slices.Clone(a.Class.Parts)), nil
}
