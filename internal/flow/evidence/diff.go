package evidence

import (
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// Names are what supplies and chambers are called; either may be nil.
type Names struct {
	Supplies, Chambers map[int64]string
}

// A Field is a part of a step that two versions may do otherwise.
type Field string

// The fields, in the order they are told.
const (
	Time      Field = "time"
	Liquid    Field = "liquid"   // what is put on
	Strength  Field = "strength" // of the same thing
	Bottle    Field = "bottle"   // the same thing from another supply
	HowMuch   Field = "amount"
	Tool      Field = "tool"
	Face      Field = "face"
	Where     Field = "place" // chamber or place
	Tolerance Field = "tolerance"
	Note      Field = "note"
)

// A Change is a step that two versions do otherwise. From and To are its numbers, from
// 1; From is 0 for a step that was added, To for one that was left off. Moved says that
// it comes at another point among the other steps.
type Change struct {
	Kind     studio.StepKind
	From, To int
	Moved    bool
	Fields   []Field
	Words    string
}

// A Match is a step of one list and the same step in another, by place from 0; one of
// them is -1 where the other list has no such step.
type Match struct{ From, To int }

// What a difference costs in Align. Whole numbers, each more than all of the next
// together, so that an alignment and its mirror image cost the same to the last digit.
const (
	gapCost   = 20_000_000_000_000_000
	fieldCost = 1_000_000_000_000_000
	kindCost  = 10_000_000_000 // times a number from 0 to 499 that stands for a step
	shiftCost = 1_000_000
)

// Align matches the steps of two lists in order: steps of one kind, so that as few as
// possible are left over and those matched are as alike as can be (Needleman and Wunsch
// 1970). What is left over on both sides and of one kind is not matched: it moved.
func Align(from, to []studio.Step) []Match {
	n, m := len(from), len(to)
	cost := make([][]int64, n+1)
	for i := range cost {
		cost[i] = make([]int64, m+1)
	}
	matched := func(i, j int) int64 {
		if from[i].Kind != to[j].Kind {
			return math.MaxInt64 / 4
		}
		return cost[i+1][j+1] + int64(len(fields(from[i], to[j])))*fieldCost + int64(max(i-j, j-i))*shiftCost + int64(i+j)
	}
	for i := n; i >= 0; i-- {
		for j := m; j >= 0; j-- {
			if i == n && j == m {
				continue
			}
			best := int64(math.MaxInt64)
			if i < n {
				best = cost[i+1][j] + gap(from[i])
			}
			if j < m {
				best = min(best, cost[i][j+1]+gap(to[j]))
			}
			if i < n && j < m {
				best = min(best, matched(i, j))
			}
			cost[i][j] = best
		}
	}
	var out []Match
	for i, j := 0, 0; i < n || j < m; {
		switch {
		case i < n && j < m && cost[i][j] == matched(i, j):
			out = append(out, Match{i, j})
			i, j = i+1, j+1
		case i < n && cost[i][j] == cost[i+1][j]+gap(from[i]):
			out = append(out, Match{i, -1})
			i++
		default:
			out = append(out, Match{-1, j})
			j++
		}
	}
	return out
}

// gap is what leaving a step out costs: ties are settled by what the step is, whichever
// list it stands in.
func gap(s studio.Step) int64 {
	h := fnv.New32a()
	fmt.Fprint(h, s)
	return gapCost + int64(h.Sum32()%500)*kindCost
}

// Diff says what the steps to do otherwise than the steps from, in the order of to.
// Equal lists have no changes; the changes from b to a name the steps and fields that
// those from a to b do, the other way round.
func Diff(from, to []studio.Step, names Names) []Change {
	matches := Align(from, to)
	lost, added := map[studio.StepKind][]int{}, map[studio.StepKind][]int{}
	for _, m := range matches {
		if m.To < 0 {
			lost[from[m.From].Kind] = append(lost[from[m.From].Kind], m.From)
		} else if m.From < 0 {
			added[to[m.To].Kind] = append(added[to[m.To].Kind], m.To)
		}
	}
	// the k-th left off and the k-th added of a kind are one step that moved
	movedTo, movedFrom := map[int]int{}, map[int]int{}
	for kind, ls := range lost {
		for k := range min(len(ls), len(added[kind])) {
			movedTo[ls[k]], movedFrom[added[kind][k]] = added[kind][k], ls[k]
		}
	}
	var out []Change
	for _, m := range matches {
		switch {
		case m.To < 0:
			if _, moved := movedTo[m.From]; moved {
				continue
			}
			s := from[m.From]
			out = append(out, Change{Kind: s.Kind, From: m.From + 1, Words: noun(s.Kind) + which(from, m.From) + " left off"})
		case m.From < 0:
			s := to[m.To]
			c := Change{Kind: s.Kind, To: m.To + 1, Words: noun(s.Kind) + " added as step " + strconv.Itoa(m.To+1)}
			if i, moved := movedFrom[m.To]; moved {
				c.From, c.Moved, c.Fields = i+1, true, fields(from[i], s)
				c.Words = fmt.Sprintf("%s moved from step %d to step %d", noun(s.Kind), i+1, m.To+1)
				if more := say(from[i], s, names); more != "" {
					c.Words += "; " + more
				}
			}
			out = append(out, c)
		default:
			a, b := from[m.From], to[m.To]
			if fs := fields(a, b); len(fs) > 0 {
				words := say(a, b, names)
				if at := which(to, m.To); at != "" {
					words += at
				}
				out = append(out, Change{Kind: b.Kind, From: m.From + 1, To: m.To + 1, Fields: fs, Words: words})
			}
		}
	}
	return out
}

// which says which of several steps of a kind is meant, "" for the only one.
func which(steps []studio.Step, i int) string {
	n := 0
	for _, s := range steps {
		if s.Kind == steps[i].Kind {
			n++
		}
	}
	if n < 2 {
		return ""
	}
	return fmt.Sprintf(" (step %d)", i+1)
}

// fields lists what two steps of one kind do otherwise.
func fields(a, b studio.Step) []Field {
	var out []Field
	add := func(f Field, differs bool) {
		if differs {
			out = append(out, f)
		}
	}
	same := a.Material == b.Material && slices.Equal(a.Also, b.Also)
	add(Time, a.Duration != b.Duration)
	add(Liquid, !same)
	add(Strength, same && strength(a) != strength(b))
	add(Bottle, same && strength(a) == strength(b) && a.SupplyID != b.SupplyID)
	add(HowMuch, a.Amount != b.Amount)
	add(Tool, a.Tool != b.Tool)
	add(Face, a.Faces != b.Faces)
	add(Where, a.ChamberID != b.ChamberID || a.Place != b.Place)
	add(Tolerance, a.Early != b.Early || a.Late != b.Late)
	add(Note, a.Note != b.Note)
	return out
}

// strength is that of what a step puts on; pure and not said are one.
func strength(s studio.Step) float64 {
	if s.Strength >= 100 {
		return 0
	}
	return s.Strength
}

// say puts what two steps of one kind do otherwise into words.
func say(a, b studio.Step, names Names) string {
	var out []string
	instead := func(is, was, none string) {
		switch {
		case is == "" && was == "":
		case is == "":
			out = append(out, none+" (was "+was+")")
		case was == "":
			out = append(out, is+" (was not said)")
		default:
			out = append(out, is+" instead of "+was)
		}
	}
	for _, f := range fields(a, b) {
		switch f {
		case Time:
			out = append(out, longer(b.Kind, a.Duration, b.Duration))
		case Liquid:
			instead(mixWords(b), mixWords(a), noun(b.Kind)+" with nothing named")
		case Strength:
			switch name := substance(b.Material); {
			case strength(a) == 0:
				out = append(out, percent(b.Strength)+" "+name+" (no strength was said)")
			case strength(b) == 0:
				out = append(out, name+" of no strength named (was "+percent(a.Strength)+")")
			default:
				out = append(out, percent(b.Strength)+" "+name+" instead of "+percent(a.Strength))
			}
		case Bottle:
			is, was := nameOf(names.Supplies, b.SupplyID, "no bottle named"), nameOf(names.Supplies, a.SupplyID, "no bottle named")
			if is == was {
				out = append(out, "another bottle of "+is)
				break
			}
			out = append(out, is+" instead of "+was)
		case HowMuch:
			is, was := amountWords(b.Amount), amountWords(a.Amount)
			if is == was { // a spread, or whether it was weighed
				is, was = b.Amount.String(), a.Amount.String()
			}
			if is == was {
				is, was = exact(b.Amount), exact(a.Amount)
			}
			if b.Material != "" && b.Material == a.Material && b.Amount.IsZero() == a.Amount.IsZero() {
				out = append(out, fmt.Sprintf("%s of %s instead of %s", is, substance(b.Material), was))
			} else {
				out = append(out, is+" instead of "+was)
			}
		case Tool:
			instead(b.Tool, a.Tool, "no tool named")
		case Face:
			out = append(out, "on "+faceWords(b.Faces)+" instead of "+faceWords(a.Faces))
		case Where:
			out = append(out, placeWords(b, names)+" instead of "+placeWords(a, names))
		case Tolerance:
			out = append(out, "may end "+within(b)+" (was "+within(a)+")")
		case Note:
			switch {
			case b.Note == "":
				out = append(out, "its note left off")
			case strings.HasPrefix(b.Note, a.Note):
				out = append(out, "a note: "+strings.TrimSpace(strings.TrimPrefix(b.Note, a.Note)))
			default:
				out = append(out, "another note: "+b.Note)
			}
		}
	}
	if len(out) == 0 {
		return ""
	}
	text := strings.Join(out, "; ")
	if !strings.HasPrefix(text, verbs[b.Kind]) && !strings.Contains(text, noun(b.Kind)) {
		text = noun(b.Kind) + ": " + text
	}
	return text
}

func longer(k studio.StepKind, was, is time.Duration) string {
	switch {
	case was == 0:
		return verbs[k] + " for " + studio.Span(is) + " (no time was said)"
	case is == 0:
		return noun(k) + " without a time (was " + studio.Span(was) + ")"
	}
	by, how := is-was, "longer"
	if by < 0 {
		by, how = -by, "shorter"
	}
	return fmt.Sprintf("%s %s %s (%s instead of %s)", verbs[k], span(by), how, studio.Span(is), studio.Span(was))
}

// span is studio.Span for differences, which may be below a second.
func span(d time.Duration) string {
	if d < time.Second {
		return "a moment"
	}
	return studio.Span(d)
}

func within(s studio.Step) string {
	if s.Early == 0 && s.Late == 0 {
		return "just then, no tolerance said"
	}
	return studio.Span(s.Early) + " sooner to " + studio.Span(s.Late) + " later"
}

func amountWords(a studio.Amount) string {
	if a.IsZero() {
		return "no amount"
	}
	if a.Hand != "" && a.Value == 0 {
		return a.Hand
	}
	text := strconv.FormatFloat(a.Value, 'g', 3, 64)
	if a.Value >= 100 {
		text = strconv.FormatFloat(a.Value, 'f', 0, 64)
	}
	text += " " + a.Unit.Label()
	if a.Hand != "" {
		text = a.Hand + ", " + text
	}
	return text
}

func exact(a studio.Amount) string {
	return fmt.Sprintf("%v ± %v %s", a.Value, a.SD, a.Unit.Label())
}

func faceWords(f studio.Faces) string {
	switch f {
	case "":
		return "the faces being treated"
	case studio.OnBoth:
		return "both faces"
	}
	return "the " + string(f)
}

func placeWords(s studio.Step, names Names) string {
	var parts []string
	if s.ChamberID != 0 {
		parts = append(parts, "in "+nameOf(names.Chambers, s.ChamberID, ""))
	}
	if s.Place != "" {
		parts = append(parts, s.Place)
	}
	if len(parts) == 0 {
		return "no place named"
	}
	return strings.Join(parts, ", ")
}

func nameOf(names map[int64]string, id int64, none string) string {
	switch {
	case id == 0:
		return none
	case names[id] != "":
		return names[id]
	}
	return "number " + strconv.FormatInt(id, 10)
}

// mixWords names what a step puts on, with strengths; "" for nothing.
func mixWords(s studio.Step) string {
	if s.Material == "" {
		return ""
	}
	var parts []string
	for _, p := range append([]studio.Part{{Material: s.Material, Strength: s.Strength}}, s.Also...) {
		text := substance(p.Material)
		if p.Strength > 0 && p.Strength < 100 {
			text += " " + percent(p.Strength)
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, " + ")
}

func substance(key string) string {
	if key == "" {
		return "what is put on"
	}
	if s, ok := matter.Lookup(key); ok {
		return s.Name
	}
	return key
}

func percent(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) + " %" }

var verbs = map[studio.StepKind]string{
	studio.Degrease: "degreases", studio.Abrade: "abrades", studio.Pickle: "pickles", studio.Rinse: "rinses", studio.Dry: "dries",
	studio.Wet: "wets", studio.Sprinkle: "sprinkles", studio.Bury: "buries", studio.Fume: "fumes", studio.Rest: "rests",
	studio.BrushOut: "brushes out", studio.Flip: "turns over", studio.Heat: "heats", studio.Neutralise: "neutralises", studio.Seal: "seals",
}

var nouns = map[studio.StepKind]string{
	studio.Degrease: "degreasing", studio.Abrade: "abrading", studio.Pickle: "pickling", studio.Rinse: "rinsing", studio.Dry: "drying",
	studio.Wet: "wetting", studio.Sprinkle: "sprinkling", studio.Bury: "burying", studio.Fume: "fuming", studio.Rest: "resting",
	studio.BrushOut: "brushing out", studio.Flip: "turning over", studio.Heat: "heating", studio.Neutralise: "neutralising", studio.Seal: "sealing",
}

func noun(k studio.StepKind) string {
	if n, ok := nouns[k]; ok {
		return n
	}
	return string(k)
}

// AsWritten reports whether the steps a swatch was planned with are those of a version:
// the same steps with the same settings, from whichever bottle, a hand word standing for
// whatever it weighed that day.
func AsWritten(version, planned []studio.Step) bool {
	if len(version) != len(planned) {
		return false
	}
	for i, v := range version {
		p := planned[i]
		if v.Kind != p.Kind {
			return false
		}
		for _, f := range fields(v, p) {
			switch {
			case f == Bottle || f == Tolerance || f == Note || f == Where:
			case f == HowMuch && v.Amount.Hand != "" && v.Amount.Hand == p.Amount.Hand:
			case f == HowMuch && v.Amount.Value == p.Amount.Value && v.Amount.Unit == p.Amount.Unit:
			case f == Liquid && v.Material == "", f == Strength && v.Strength == 0:
			default:
				return false
			}
		}
	}
	return true
}
