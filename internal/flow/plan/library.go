package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

// practice marks a step that the source does not name.
const practice = "Common practice; the source does not say."

// FromLibrary turns a published recipe into the first version of one's own: its
// steps in the kinds known at the bench, its liquid with all that is in it, and
// where it came from. What has no kind of its own is a note on the nearest one.
// A supply on the shelf is taken for what is fumed with. A recipe that is for the
// record only is refused, with a Problem of kind Unsafe; what must never meet is
// for [Safety] to say.
func FromLibrary(r published.Recipe, sup []studio.Supply) (studio.Version, error) {
	if r.Use == published.ForRecord {
		return studio.Version{}, studio.Problemf(studio.Unsafe, "", "%s is kept for the record only and is not planned here: %s.", r.Name, strings.TrimSuffix(r.Why, "."))
	}
	v := studio.Version{Why: "from the library: " + Origin(r), Source: r.Key, Steps: librarySteps(r, sup)}
	return v, v.Check()
}

// Origin names the source of a published recipe on one line.
func Origin(r published.Recipe) string {
	if r.Page == "" || r.Page == "-" || r.Page == "web" {
		return r.Source
	}
	return r.Source + ", " + strings.TrimPrefix(r.Page, "web ")
}

// LongestStep returns the step of a version whose time is most worth varying:
// the longest one that runs by itself, -1 if none does.
func LongestStep(v studio.Version) int {
	best := -1
	for i, s := range v.Steps {
		if s.Kind.Dwell() && (best < 0 || s.Duration > v.Steps[best].Duration) {
			best = i
		}
	}
	return best
}

// librarySteps writes the way of working of a published recipe as steps.
func librarySteps(r published.Recipe, sup []studio.Supply) []studio.Step {
	var out []studio.Step
	if k := studio.StepKind(r.Steps[0].Kind); k != studio.Degrease {
		out = append(out, studio.Step{Kind: studio.Degrease, Note: practice}, studio.Step{Kind: studio.Rinse, Note: practice}, studio.Step{Kind: studio.Dry, Duration: 10 * time.Minute, Note: practice})
	}
	mixed, told := LiquidWords(r), false
	for i, s := range r.Steps {
		step := studio.Step{Kind: studio.StepKind(s.Kind), Tool: s.Tool, Duration: time.Duration(s.Minutes * float64(time.Minute))}
		notes := []string{}
		if s.Note != "" {
			notes = append(notes, s.Note)
		}
		switch step.Kind {
		case studio.Wet, studio.Bury:
			liquid := r.Liquid()
			if step.Kind == studio.Bury {
				for _, x := range r.Ingredients {
					if x.Role == published.Litter {
						liquid = append(liquid, published.Share{Substance: x.Substance})
					}
				}
			}
			for n, x := range liquid {
				p := studio.Part{Material: x.Substance, Strength: threeFigures(x.WtPercent)}
				if n == 0 {
					step.Material, step.Strength = p.Material, p.Strength
				} else if !slices.Contains(step.Also, p) {
					step.Also = append(step.Also, p)
				}
			}
			if step.Kind == studio.Wet && spreads(s.Tool) {
				// the number behind the word is looked up when a set is planned
				step.Amount = studio.Amount{Hand: studio.Medium, Unit: studio.MLPerM2}
			}
			if mixed != "" && !told {
				notes = append(notes, "liquid: "+mixed)
				told = true
			} else if mixed != "" {
				notes = append(notes, "the same liquid")
			}
		case studio.Fume:
			for _, x := range r.Ingredients {
				if x.Role != published.Over {
					continue
				}
				step.Material, step.Strength = x.Substance, x.WtPercent
				if have := slices.IndexFunc(sup, func(y studio.Supply) bool { return y.Material == x.Substance }); have >= 0 {
					step.SupplyID, step.Strength = sup[have].ID, sup[have].WtPercent()
				}
			}
		case studio.Seal:
			step.Material = "wax"
			if strings.Contains(s.Note, "oil") {
				step.Material = "drying-oil"
			}
		}
		if s.Taken && step.Kind.Dwell() {
			notes = append(notes, "time taken here, the source does not say")
		}
		if i == len(r.Steps)-1 && r.Taken != "" {
			notes = append(notes, r.Taken)
		}
		step.Note = sentences(notes)
		out = append(out, step)
	}
	return out
}

// spreads reports whether a tool puts on a film that a hand word measures; a
// dipped piece takes what it takes.
func spreads(tool string) bool {
	return !strings.Contains(tool, "dip")
}

// threeFigures rounds a strength to what a scale and a source are good for.
func threeFigures(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// sentences writes each note as a sentence.
func sentences(notes []string) string {
	var out []string
	for _, n := range notes {
		if n = strings.TrimSpace(n); n != "" {
			runes := []rune(period(n))
			out = append(out, strings.ToUpper(string(runes[0]))+string(runes[1:]))
		}
	}
	return strings.Join(out, " ")
}

// LiquidWords says what is in the liquid of a published recipe, in the units of
// its source and in metric: "salt (1/2 lb = 226.8 g), in water (2 quarts (US) = 1893 mL)".
func LiquidWords(r published.Recipe) string {
	var in, base []string
	for _, x := range r.Ingredients {
		text := x.Name
		if o := x.Original(); o != "" {
			m := x.Metric()
			if m != "" && m != o {
				o += " = " + m
			}
			text = fmt.Sprintf("%s (%s)", text, o)
		}
		switch x.Role {
		case published.In:
			in = append(in, text)
		case published.Optional:
			in = append(in, text+", may be left out")
		case published.Base:
			base = append(base, "in "+text)
		case published.Final:
			base = append(base, fmt.Sprintf("with %s to %s in all", x.Name, x.Original()))
		}
	}
	if len(in) == 0 && len(base) == 1 {
		return strings.TrimPrefix(base[0], "in ")
	}
	return strings.Join(append(in, base...), ", ")
}

// Changed says in words what is different in steps from those they were begun
// from: what was added, left out, or changed. Steps are matched by kind, in
// order, so that as few as possible count as added or left out.
func Changed(from, to []studio.Step) []string {
	n, m := len(from), len(to)
	same := make([][]int, n+1) // length of the longest common run of kinds from i and j on
	for i := range same {
		same[i] = make([]int, m+1)
	}
	for i := n - 1; i >= 0; i-- {
		for j := m - 1; j >= 0; j-- {
			same[i][j] = max(same[i+1][j], same[i][j+1])
			if from[i].Kind == to[j].Kind {
				same[i][j] = max(same[i][j], 1+same[i+1][j+1])
			}
		}
	}
	var out []string
	for i, j := 0, 0; i < n || j < m; {
		switch {
		case i < n && j < m && from[i].Kind == to[j].Kind && same[i][j] == 1+same[i+1][j+1]:
			if d := differences(from[i], to[j]); d != "" {
				out = append(out, fmt.Sprintf("step %d (%s): %s", j+1, to[j].Kind, d))
			}
			i, j = i+1, j+1
		case j == m || i < n && same[i+1][j] >= same[i][j+1]:
			out = append(out, fmt.Sprintf("left out: %s", from[i].Kind))
			i++
		default:
			out = append(out, fmt.Sprintf("added as step %d: %s", j+1, to[j].Kind))
			j++
		}
	}
	return out
}

// differences says what changed within a step of one kind.
func differences(a, b studio.Step) string {
	var out []string
	say := func(what, was, is string) {
		if was == is {
			return
		}
		if was == "" {
			was = "not said"
		}
		if is == "" {
			is = "not said"
		}
		out = append(out, what+" "+was+" → "+is)
	}
	span := func(d time.Duration) string {
		if d == 0 {
			return ""
		}
		return studio.Span(d)
	}
	amount := func(x studio.Amount) string {
		if x.Hand != "" {
			return x.Hand
		}
		if x.IsZero() {
			return ""
		}
		return x.String()
	}
	say("liquid", mixWords(a), mixWords(b))
	say("amount", amount(a.Amount), amount(b.Amount))
	say("time", span(a.Duration), span(b.Duration))
	say("tool", a.Tool, b.Tool)
	say("faces", string(a.Faces), string(b.Faces))
	return strings.Join(out, "; ")
}

// mixWords names what a step puts on, with strengths.
func mixWords(s studio.Step) string {
	var names []string
	for _, p := range parts(s) {
		if p.Material == "" {
			continue
		}
		text := p.Material
		if sub, ok := matter.Lookup(text); ok {
			text = sub.Name
		}
		if p.Strength > 0 {
			text += " " + number(p.Strength) + " %"
		}
		names = append(names, text)
	}
	return strings.Join(names, " + ")
}
