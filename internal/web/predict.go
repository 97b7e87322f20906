package web

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/propose"
	"aerugo/internal/language"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// predictPage says how a swatch not yet made would look.
type predictPage struct {
	nextPage
	Settings []settingField
	Look     *propose.Look
	Pic      template.HTML
	ColourOf string
	Code     string
	Near     []nearView
}

// settingField asks for one setting: a choice, or a number within what was tried.
type settingField struct {
	Field, Label, Value, Hint string
	Only                      string // the only level there is
	Choices                   []studio.Level
}

// nearView is a swatch that was made much like it.
type nearView struct {
	propose.Tried
	Words, Name string
	DE          float64 // from what is predicted
}

// settingFields are the fields of a family's settings, as typed.
func settingFields(g gathered, f *form) []settingField {
	var out []settingField
	for i, x := range g.Factors {
		s := settingField{Field: fmt.Sprintf("f%d", i), Label: capital(x.Name), Value: f.Val(fmt.Sprintf("f%d", i))}
		first, middle, last := x.Levels[0], x.Levels[len(x.Levels)/2], x.Levels[len(x.Levels)-1]
		switch {
		case len(x.Levels) == 1:
			s.Only = first.Label
		case !x.Kind.Numeric():
			s.Choices = x.Levels
			if s.Value == "" {
				s.Value = first.Label
			}
		default:
			s.Hint = fmt.Sprintf("%s to %s was tried", asTyped(x, first), asTyped(x, last))
			if s.Value == "" {
				s.Value = asTyped(x, middle)
			}
		}
		out = append(out, s)
	}
	return out
}

// asTyped writes a level as a person would type it.
func asTyped(x studio.Factor, l studio.Level) string {
	if x.Kind == studio.ByMinutes {
		return studio.Span(time.Duration(l.Number * float64(time.Minute)))
	}
	return l.Label
}

// levels reads the settings; what can't be read is said beside its field.
func (f *form) levels(g gathered, fields []settingField) []studio.Level {
	var out []studio.Level
	for i, x := range g.Factors {
		s, l := fields[i], studio.Level{}
		j := slices.IndexFunc(x.Levels, func(y studio.Level) bool { return y.Label == s.Value })
		switch {
		case s.Only != "":
			l = x.Levels[0]
		case j >= 0:
			l = x.Levels[j]
		case s.Choices != nil:
			f.say(s.Field, "%q was not made; choose one from the list.", s.Value)
		case x.Kind == studio.ByMinutes:
			d, err := span(f.typed(s.Value, language.Times))
			if err != nil || d <= 0 {
				f.say(s.Field, "%q is not a time; write it like 90 min, 4 h or 1 h 30 min.", s.Value)
			}
			l.Number = d.Minutes()
		case x.Kind == studio.ByLoading && slices.Contains(studio.HandWords, strings.ToLower(f.typed(s.Value, language.HandWords))):
			step := g.bench.Front.Steps[x.Step]
			said, ok := studio.Resolve(g.bench.Hands, strings.ToLower(f.typed(s.Value, language.HandWords)), step.HandKey(step.Material))
			if !ok {
				f.say(s.Field, "Nobody has said what %q weighs; write a number.", s.Value)
			}
			l.Number = said.Value
		default:
			text, _, _ := strings.Cut(s.Value, " ")
			v, err := decimal(strings.TrimSuffix(text, "%"))
			if err != nil {
				f.say(s.Field, "%q is not a number; write it like 12.5.", s.Value)
			}
			l.Number = v
		}
		out = append(out, l)
	}
	return out
}

// predict is GET /predict.
func (s *Server) predict(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	next, g, ok, err := s.fillNext(r, f, "How would it look?")
	if err != nil {
		return err
	}
	p := predictPage{nextPage: next}
	if g.Family != nil {
		p.Settings = settingFields(g, f)
	}
	if !ok || !f.values.Has("f0") {
		s.show(w, f.code(), "predict", p)
		return nil
	}
	levels := f.levels(g, p.Settings)
	if f.ok() {
		type answer struct {
			look  propose.Look
			basis basis
		}
		got, done, err := asked(ctx, s, g, "look "+g.Code(levels), func(m *propose.Model) (answer, error) {
			l, err := m.Look(levels)
			return answer{l, basisOf(m)}, err
		})
		if problem := studio.ProblemIn(err); problem != nil {
			if n, ok := strings.CutPrefix(problem.Field, "factor"); ok { // from 1 there, from 0 here
				i, _ := strconv.Atoi(n)
				f.say(fmt.Sprintf("f%d", i-1), "%s", problem.Text)
			} else {
				f.say("", "%s", problem.Text)
			}
		} else if err != nil {
			return err
		}
		if p.Working = !done; done && f.ok() {
			p.fill(g, got.look, got.basis)
		}
	}
	s.show(w, f.code(), "predict", p)
	return nil
}

func (p *predictPage) fill(g gathered, l propose.Look, b basis) {
	p.Look, p.Basis, p.Pic, p.ColourOf, p.Code = &l, b, rangePicture(l.Mean, l.Could), colour.Name(l.Mean), g.Code(l.Levels)
	p.Name = "As predicted: " + l.Words
	if len([]rune(p.Name)) > 120 {
		p.Name = "As predicted"
	}
	for _, t := range l.Near {
		p.Near = append(p.Near, nearView{t, g.InWords(t.Levels), colour.Name(t.Lab), colour.Difference(t.Lab, l.Mean)})
	}
}
