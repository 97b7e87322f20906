package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	lesson "aerugo/internal/flow/class"
	"aerugo/internal/studio"
)

// classPartsPage edits the parts of a class, one row each.
type classPartsPage struct {
	Frame
	*form
	Class   studio.Class
	Rows    []classPartRow
	Recipes []classChoice
	Kinds   []partChoice
	Steps   []classSteps
	Plan    lesson.Plan
}

// classPartRow is a part as it is typed; N counts from 1. From and To are steps from
// 1, both ends counted in.
type classPartRow struct {
	N               int
	Kind, Words     string
	Minutes         string
	Version         int64
	From, To, Where string
	Clock           string
	Least           int
	First, Last     bool
	OfRecipe        bool
}

type partChoice struct{ Key, Name string }

// classSteps tells the steps of a recipe by their numbers.
type classSteps struct{ Name, Steps string }

// partNames are the kinds of part as they are chosen.
var partNames = map[studio.PartKind]string{
	studio.PartWelcome: "Welcome", studio.PartSafety: "Safety", studio.PartTalk: "Talk: why it colours", studio.PartPrepare: "Clean the metal", studio.PartNumber: "Number and card",
	studio.PartMake: "Recipe, by every student", studio.PartShow: "Recipe, shown by the teacher", studio.PartBreak: "Break", studio.PartFinish: "Finish: seal, wax, heat",
	studio.PartJudge: "Judge what was made ahead", studio.PartClear: "Clear up", studio.PartOther: "Something else",
}

func (s *Server) classParts(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	a, err := s.classAsk(r.Context(), c)
	if err != nil {
		return err
	}
	parts := c.Parts
	if len(parts) == 0 {
		if parts, err = lesson.Parts(a); err != nil {
			return err
		}
	}
	return s.showParts(w, r, readForm(r), a, parts, http.StatusOK)
}

func (s *Server) showParts(w http.ResponseWriter, r *http.Request, f *form, a lesson.Ask, parts []studio.ClassPart, code int) error {
	p := classPartsPage{Frame: s.frame(r, "Parts of the class", "classes"), form: f, Class: a.Class}
	for _, k := range studio.PartKinds {
		p.Kinds = append(p.Kinds, partChoice{string(k), partNames[k]})
	}
	for _, x := range a.Recipes {
		p.Recipes = append(p.Recipes, classChoice{Version: x.Version.ID, Name: x.Name})
		var steps []string
		for i, step := range x.Version.Steps {
			steps = append(steps, fmt.Sprintf("%d. %s", i+1, step.Kind))
		}
		p.Steps = append(p.Steps, classSteps{x.Name, strings.Join(steps, ", ")})
	}
	a.Class.Parts = parts
	plan, err := lesson.Make(a)
	if problem := studio.ProblemIn(err); problem != nil {
		f.say("", "%s", problem.Text)
	} else if err != nil {
		return err
	}
	p.Plan = plan
	at := a.Class.Starts
	for i, x := range parts {
		row := classPartRow{N: i + 1, Kind: string(x.Kind), Words: x.Words, Minutes: strconv.Itoa(x.Minutes), Version: x.VersionID, Where: string(x.Where),
			Clock: at.Format("15:04"), First: i == 0, Last: i == len(parts)-1, OfRecipe: x.Kind == studio.PartMake || x.Kind == studio.PartShow}
		if x.To > x.From {
			row.From, row.To = strconv.Itoa(x.From+1), strconv.Itoa(x.To)
		}
		if i < len(plan.Parts) {
			row.Least = plan.Parts[i].Least
		}
		at = at.Add(time.Duration(x.Minutes) * time.Minute)
		p.Rows = append(p.Rows, row)
	}
	f.onTop()
	s.show(w, code, "class_parts", p)
	return nil
}

// saveClassParts is POST /classes/{id}/parts: do says which button was pressed.
func (s *Server) saveClassParts(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return err
	}
	f := readForm(r)
	parts := readParts(f)
	do, row, _ := strings.Cut(f.Val("do"), ":")
	n, _ := strconv.Atoi(row)
	n-- // from 0
	there := n >= 0 && n < len(parts)
	show := true
	switch {
	case do == "up" && there && n > 0:
		parts[n-1], parts[n] = parts[n], parts[n-1]
	case do == "down" && there && n+1 < len(parts):
		parts[n+1], parts[n] = parts[n], parts[n+1]
	case do == "drop" && there:
		parts = slices.Delete(parts, n, n+1)
	case do == "add":
		parts = append(parts, studio.ClassPart{Kind: studio.PartOther, Minutes: 10})
	case do == "fit":
		a.Class.Parts = parts
		if fitted, err := lesson.Fit(a); f.blame(err) != nil {
			return err
		} else if err == nil {
			parts = fitted
		}
	case do == "usual":
		a.Class.Parts = nil
		if parts, err = lesson.Parts(a); err != nil {
			return err
		}
	default:
		show = do == "see"
	}
	if f.ok() {
		kept := c
		kept.Parts = parts
		if err := f.blame(kept.Check()); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showParts(w, r, f, a, parts, http.StatusUnprocessableEntity)
	}
	if show {
		return s.showParts(w, r, f, a, parts, http.StatusOK)
	}
	a.Class.Parts = parts
	if _, err := lesson.Make(a); f.blame(err) != nil {
		return err
	} else if !f.ok() {
		return s.showParts(w, r, f, a, parts, http.StatusUnprocessableEntity)
	}
	if _, err := s.store.ChangeClass(ctx, c.ID, func(x *studio.Class) error { x.Parts = parts; return nil }); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/classes/%d", c.ID))
}

// readParts reads the rows as they were typed.
func readParts(f *form) []studio.ClassPart {
	var parts []studio.ClassPart
	for n := 1; n <= 80; n++ {
		v := func(name string) string { return f.Val(fmt.Sprintf("%s%d", name, n)) }
		if v("kind") == "" {
			break
		}
		p := studio.ClassPart{Kind: studio.PartKind(v("kind")), Words: v("words"), Where: studio.ClassWhere(v("where"))}
		p.Minutes = int(f.whole(fmt.Sprintf("minutes%d", n), "minutes", 0))
		if p.Kind == studio.PartMake || p.Kind == studio.PartShow {
			p.VersionID = f.whole(fmt.Sprintf("version%d", n), "recipe", 0)
			if from, to := f.whole(fmt.Sprintf("from%d", n), "first step", 0), f.whole(fmt.Sprintf("to%d", n), "last step", 0); from >= 1 && from <= to && to <= 60 {
				p.From, p.To = int(from)-1, int(to)
			} else if from != 0 || to != 0 {
				f.say("", "Part %d: its steps must go from the first to the last, like 4 to 6.", n)
			}
		}
		parts = append(parts, p)
	}
	return parts
}
