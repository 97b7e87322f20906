package plan

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// honest says in plain words what the set as laid out can and can't show.
func (a Ask) honest(c choice, lay Layout, sup []studio.Supply, hands []studio.HandAmount) []string {
	var n noteList
	if c.times == 1 && a.Design == studio.Full {
		n.add("One replicate: a difference between two swatches can't be told from your hand's own spread. Two or more of each would show it.")
	}
	if lay.Set.Blanks == 0 {
		n.add("No blank: there is no bare swatch to compare with, so how much of a face is covered has no reference of this set.")
	}
	for i, f := range c.factors {
		if a.between(i) && len(f.Levels) > 2 {
			var labels []string
			for _, l := range f.Levels {
				labels = append(labels, l.Label)
			}
			text := strings.Join(labels, ", ")
			if len(labels) > 5 {
				text = fmt.Sprintf("%d settings from %s to %s", len(labels), labels[0], labels[len(labels)-1])
			}
			n.add(fmt.Sprintf("%s is made at %s.", capitalised(f.Name), text))
		}
		a.aboutLevels(f, sup, hands, &n)
	}
	if a.SameFaces {
		n.add("Both faces of a swatch go through everything together, so they count as one swatch, not as two.")
	}
	a.aboutBack(&n)
	a.aboutFillings(lay.Pieces, &n)
	return n.texts
}

// aboutLevels says what the levels of one factor can't tell apart.
func (a Ask) aboutLevels(f studio.Factor, sup []studio.Supply, hands []studio.HandAmount, n *noteList) {
	step := a.Front.Steps[f.Step]
	if a.Design == studio.Full && f.Kind.Numeric() && len(f.Levels) == 2 {
		n.add(fmt.Sprintf("Two levels of %s show whether there is a difference, not how it grows in between.", f.Name))
	}
	switch f.Kind {
	case studio.ByLiquid:
		var strengths []float64
		for _, l := range f.Levels {
			s, _ := supplyBy(sup, l.SupplyID)
			strengths = append(strengths, s.WtPercent())
		}
		sort.Float64s(strengths)
		switch {
		case strengths[0] == 0:
			n.add(fmt.Sprintf("The strength of at least one level of %s is not known: the liquid and its strength can't be told apart.", f.Name))
		case strengths[len(strengths)-1] > strengths[0]:
			n.add(fmt.Sprintf("The levels of %s differ in strength too (%s to %s %%): the two can't be told apart.", f.Name, number(strengths[0]), number(strengths[len(strengths)-1])))
		}
	case studio.ByMinutes:
		var at []time.Duration
		for _, l := range f.Levels {
			at = append(at, time.Duration(l.Number*float64(time.Minute)))
		}
		sort.Slice(at, func(i, j int) bool { return at[i] < at[j] })
		for i := 1; i < len(at); i++ {
			if step.Early+step.Late > 0 && at[i-1]+step.Late >= at[i]-step.Early {
				n.add(fmt.Sprintf("With its tolerance (−%s, +%s) step %d may end at the same time for %s and %s; tighten the tolerance or set the levels further apart.",
					studio.Span(step.Early), studio.Span(step.Late), f.Step+1, studio.Span(at[i-1]), studio.Span(at[i])))
				break
			}
		}
	case studio.ByLoading:
		for i, l := range f.Levels {
			for _, m := range f.Levels[:i] {
				if handsOverlap(hands, materialOf(step, sup), m.Label, l.Label) {
					n.add(fmt.Sprintf("%s and %s of %s overlap in this hand; weigh them to keep them apart.", m.Label, l.Label, f.Name))
				}
			}
		}
	}
}

// handsOverlap reports whether two hand words lie within their own spread: their
// means closer than two standard deviations of a difference.
func handsOverlap(hands []studio.HandAmount, material, word, other string) bool {
	if !isHandWord(word) || !isHandWord(other) {
		return false
	}
	a, okA := studio.Resolve(hands, word, material)
	b, okB := studio.Resolve(hands, other, material)
	return okA && okB && math.Abs(a.Value-b.Value) < 2*math.Hypot(a.SD, b.SD)
}

// aboutBack says what it means for the back to have a recipe of its own.
func (a Ask) aboutBack(n *noteList) {
	if a.Back == nil {
		return
	}
	if len(a.Factors) > 0 {
		n.add("What is varied is varied on the front only; the back's recipe is the same on every swatch.")
	}
	if reaches(a.Front.Steps) || reaches(a.Back.Steps) {
		n.add("Fume, heat and burying reach both faces at once, so each face also gets some of the other's treatment: front and back can't be told fully apart unless one is masked.")
	}
}

func reaches(steps []studio.Step) bool {
	for _, s := range steps {
		if oneOf(s.Kind, []studio.StepKind{studio.Fume, studio.Heat, studio.Bury}) && s.Faces != studio.OnFront && s.Faces != studio.OnBack {
			return true
		}
	}
	return false
}

// aboutChamber says when the set does not fit the chamber in one run.
func (a Ask) aboutChamber(kinds [][]studio.Treatment, n *noteList) {
	uses := 0
	for _, kind := range kinds {
		if a.inChamber(kind) {
			uses++
		}
	}
	a.aboutRuns(uses*a.Replicates, n)
}

// aboutFillings is aboutChamber where the set may be planned in several fillings.
func (a Ask) aboutFillings(pieces []Piece, n *noteList) {
	uses := map[int]int{} // by block
	for _, p := range pieces {
		if a.inChamber(p.Treatments) {
			uses[p.Block]++
		}
	}
	if uses[0] > 0 {
		a.aboutRuns(uses[0], n)
		return
	}
	for _, b := range slices.Sorted(maps.Keys(uses)) {
		if a.Chamber.Places > 0 && uses[b] > a.Chamber.Places {
			n.add(fmt.Sprintf("%s holds %d, and %d swatches are planned in one filling or day; put them in by the random order, in %d runs.", a.Chamber.Name, a.Chamber.Places, uses[b], (uses[b]+a.Chamber.Places-1)/a.Chamber.Places))
		}
	}
}

func (a Ask) aboutRuns(uses int, n *noteList) {
	if a.Chamber.ID == 0 || a.Chamber.Places <= 0 || uses <= a.Chamber.Places {
		return
	}
	runs := (uses + a.Chamber.Places - 1) / a.Chamber.Places
	n.add(fmt.Sprintf("%s holds %d; %d swatches take %d runs. Put them in by the random order, so that a difference between runs does not pass for a difference between levels.", a.Chamber.Name, a.Chamber.Places, uses, runs))
}

func (a Ask) inChamber(ts []studio.Treatment) bool {
	for _, t := range ts {
		if a.Chamber.ID != 0 && inChamber(t.Steps, a.Chamber.ID) {
			return true
		}
	}
	return false
}

func inChamber(steps []studio.Step, id int64) bool {
	for _, s := range steps {
		if s.ChamberID == id {
			return true
		}
	}
	return false
}
