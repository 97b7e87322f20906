package class

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"aerugo/internal/flow/plan"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

// by is who does a recipe in class.
type by int

const (
	byStudents by = iota
	byTeacher
	byNobody // it is left out of the hours
)

// mode is who does a recipe, and if not every student, why.
type mode struct {
	who by
	why string
}

// Stop returns a Problem when something in the recipes must never meet, on one
// swatch or in the room that they share; nil when nothing must. Plan and papers
// refuse with it.
func Stop(recipes []Recipe, sup []studio.Supply) *studio.Problem {
	var works []plan.Work
	for _, r := range recipes {
		layers := append(append([]studio.Version{}, r.Below...), r.Version)
		if _, p := plan.Safety(layers, sup, r.Metal); p != nil {
			p.Text = r.Name + ": " + p.Text
			return p
		}
		for _, v := range layers {
			works = append(works, plan.Work{Treatment: studio.Treatment{Steps: v.Steps}, Room: 1})
		}
	}
	_, p := plan.Day(works, sup)
	return p
}

// mode says who does recipe i where the class is now.
func (a Ask) mode(i int) mode { return a.modeIn(i, a.Class.Where, 0, len(a.Recipes[i].Version.Steps)) }

// modeIn is [Ask.mode] for some steps of the recipe, done elsewhere.
func (a Ask) modeIn(i int, where studio.ClassWhere, from, to int) mode {
	r := a.Recipes[i]
	asked := byStudents
	if a.Class.Recipes[i].PerHead == 0 {
		asked = byTeacher
	}
	if p, ok := published.ByKey(r.Version.Source); ok && r.Version.Source != "" {
		switch p.Use {
		case published.ForRecord:
			return mode{byNobody, "The printed recipe is kept for the record only: " + sentence(p.Why)}
		case published.ByTeacher:
			if asked == byStudents {
				asked = byTeacher
			}
		}
	}
	part := studio.Version{Steps: r.Version.Steps[from:to]}
	worst := mode{who: asked}
	if asked == byTeacher && a.Class.Recipes[i].PerHead > 0 {
		worst.why = "The printed recipe is for the teacher's hands: the class watches from a distance."
	}
	for _, c := range matter.MeetInClass(plan.Uses([]studio.Version{part}, a.Supplies), plan.MetalWords(r.Metal), a.who(where)) {
		switch {
		case c.Level == matter.Stop:
			return mode{byNobody, whyNot(c)}
		case (c.ID == "C02" || c.ID == "C04") && worst.who == byStudents:
			worst = mode{byTeacher, whyNot(c)}
		}
	}
	return worst
}

// recordOnly reports whether the printed recipe is kept only for the record.
func recordOnly(source string) bool {
	p, ok := published.ByKey(source)
	return ok && p.Use == published.ForRecord
}

// whyNot is a clash as one sentence or two.
func whyNot(c matter.Clash) string {
	text := c.A + ": " + sentence(c.What)
	if c.B != "" {
		text = c.A + " and " + c.B + ": " + sentence(c.What)
	}
	if c.Instead != "" {
		text += " " + sentence(c.Instead)
	}
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

// sentence ends text with a full stop.
func sentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" || strings.HasSuffix(text, ".") || strings.HasSuffix(text, "!") {
		return text
	}
	return text + "."
}
