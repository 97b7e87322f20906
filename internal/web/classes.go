package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/benchday"
	lesson "aerugo/internal/flow/class"
	"aerugo/internal/flow/run"
	"aerugo/internal/language"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) classRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /classes", s.classList)
	s.on(mux, "GET /classes/new", s.newClass)
	s.on(mux, "POST /classes", s.saveClass)
	s.on(mux, "GET /classes/{id}", s.class)
	s.on(mux, "GET /classes/{id}/edit", s.editClass)
	s.on(mux, "POST /classes/{id}/edit", s.saveClass)
	s.on(mux, "GET /classes/{id}/parts", s.classParts)
	s.on(mux, "POST /classes/{id}/parts", s.saveClassParts)
	s.on(mux, "GET /classes/{id}/ahead", s.classAhead)
	s.on(mux, "POST /classes/{id}/ahead", s.layClassAhead)
	s.on(mux, "POST /classes/{id}/day", s.planClassDay)
	s.on(mux, "POST /classes/{id}/own", s.layClassOwn)
	s.on(mux, "GET /classes/{id}/now", s.classNow)
	s.on(mux, "GET /classes/{id}/now/board", s.classNowBoard)
	s.on(mux, "GET /classes/{id}/after", s.classAfter)
	s.on(mux, "POST /classes/{id}/after", s.saveClassAfter)
	s.on(mux, "POST /classes/{id}/end", s.endClass)
	s.on(mux, "POST /classes/{id}/bin", s.binClass)
	s.on(mux, "GET /classes/{id}/calendar.ics", s.classCalendar)
}

// classesPage lists the classes, those to come first.
type classesPage struct {
	Frame
	Coming, Past []studio.Class
}

func (s *Server) classList(w http.ResponseWriter, r *http.Request) error {
	p := classesPage{Frame: s.frame(r, "Classes", "classes")}
	all, err := s.store.Classes(r.Context())
	if err != nil {
		return err
	}
	for _, c := range all {
		c.Starts = c.Starts.Local()
		if c.Ended.IsZero() && c.Starts.Add(time.Duration(c.Minutes)*time.Minute).After(s.now().Add(-12*time.Hour)) {
			p.Coming = append(p.Coming, c)
		} else {
			p.Past = append([]studio.Class{c}, p.Past...)
		}
	}
	s.show(w, http.StatusOK, "classes", p)
	return nil
}

// classForm asks for a class: who, when and what; the rest can wait.
type classForm struct {
	Frame
	*form
	ID      int64
	Whos    []studio.ClassOf
	Rooms   []studio.Room
	Metals  []studio.Metal
	Recipes []classChoice
	Earlier []studio.Class
}

// classChoice is a recipe that may be taught.
type classChoice struct {
	Version  int64
	Name     string
	Ticked   bool
	Each     string // swatches of each student, 0: the teacher shows it
	Invented bool
}

// classFields are those that the form shows a refusal beside.
var classFields = []string{"name", "who", "heads", "starts", "minutes", "where", "recipes", "aim", "teacher", "skill", "follows"}

func (s *Server) newClass(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	f.set("date", s.now().Local().AddDate(0, 0, 14).Format("2006-01-02"))
	for name, v := range map[string]string{"time": "10:00", "minutes": "3 h", "heads": "8", "who": string(studio.ForAdults), "where": string(studio.Outdoors)} {
		if f.Val(name) == "" {
			f.set(name, v)
		}
	}
	metals, err := s.store.Metals(r.Context())
	if err != nil {
		return err
	}
	for _, m := range metals { // copper, as most classes use, else what there is
		if f.Val("metal") == "" || strings.HasPrefix(m.Alloy, "C11") {
			f.set("metal", strconv.FormatInt(m.ID, 10))
		}
	}
	if by := s.who(r); by != "laptop" && f.Val("teacher") == "" {
		f.set("teacher", by)
	}
	if id := f.whole("set", "set's number", 0); id > 0 {
		set, err := s.store.Set(r.Context(), id)
		if err != nil {
			return err
		}
		for _, v := range []int64{set.FrontID, set.BackID} {
			if v != 0 {
				f.values.Add("r", strconv.FormatInt(v, 10))
			}
		}
		f.set("metal", strconv.FormatInt(set.MetalID, 10))
	}
	return s.showClassForm(w, r, f, 0, http.StatusOK)
}

func (s *Server) editClass(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	for name, v := range map[string]string{"name": c.Name, "aim": c.Aim, "teacher": c.Teacher, "skill": c.Skill, "who": string(c.Who), "where": string(c.Where), "heads": strconv.Itoa(c.Heads),
		"date": c.Starts.Format("2006-01-02"), "time": c.Starts.Format("15:04"), "minutes": studio.Span(time.Duration(c.Minutes) * time.Minute),
		"room": strconv.FormatInt(c.RoomID, 10), "follows": strconv.FormatInt(c.FollowsID, 10)} {
		f.set(name, v)
	}
	for _, x := range c.Recipes {
		f.values.Add("r", strconv.FormatInt(x.VersionID, 10))
		f.set(fmt.Sprintf("each%d", x.VersionID), strconv.Itoa(x.PerHead))
		f.set("metal", strconv.FormatInt(x.MetalID, 10))
	}
	return s.showClassForm(w, r, f, c.ID, http.StatusOK)
}

func (s *Server) showClassForm(w http.ResponseWriter, r *http.Request, f *form, id int64, code int) error {
	ctx := r.Context()
	title := "Plan a class"
	if id != 0 {
		title = "Change the class"
	}
	p := classForm{Frame: s.frame(r, title, "classes"), form: f, ID: id, Whos: studio.Classes[1:]}
	var err error
	if p.Rooms, err = s.store.Rooms(ctx); err != nil {
		return err
	}
	if p.Metals, err = s.store.Metals(ctx); err != nil {
		return err
	}
	all, err := s.store.Classes(ctx)
	if err != nil {
		return err
	}
	for _, c := range all {
		if c.ID != id {
			c.Starts = c.Starts.Local()
			p.Earlier = append(p.Earlier, c)
		}
	}
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		return err
	}
	listed := map[int64]bool{}
	add := func(version int64, name string, invented bool) {
		key := strconv.FormatInt(version, 10)
		each := f.Val("each" + key)
		if each == "" {
			each = "1"
		}
		listed[version] = true
		p.Recipes = append(p.Recipes, classChoice{version, name, slices.Contains(f.values["r"], key), each, invented})
	}
	for _, x := range recipes {
		add(x.Latest.ID, fmt.Sprintf("%s, version %d", x.Name, x.Latest.Number), x.Invented)
	}
	for _, text := range f.values["r"] { // one that the class has, of an older version
		version, err := strconv.ParseInt(text, 10, 64)
		if err != nil || listed[version] {
			continue
		}
		v, err := s.store.Version(ctx, version)
		if err != nil {
			continue // gone: not offered
		}
		x, err := s.store.Recipe(ctx, v.RecipeID)
		if err != nil {
			return err
		}
		add(version, fmt.Sprintf("%s, version %d", x.Name, v.Number), x.Invented)
	}
	f.onTop(classFields...)
	s.show(w, code, "class_edit", p)
	return nil
}

// saveClass is POST /classes and POST /classes/{id}/edit.
func (s *Server) saveClass(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	var id int64
	if r.PathValue("id") != "" {
		c, err := s.classIn(r)
		if err != nil {
			return err
		}
		id = c.ID
	}
	var typed studio.Class
	typed.Name, typed.Aim, typed.Teacher, typed.Skill = f.Val("name"), f.Val("aim"), f.Val("teacher"), f.Val("skill")
	typed.Who, typed.Where = studio.ClassOf(f.Val("who")), studio.ClassWhere(f.Val("where"))
	typed.Heads = int(f.whole("heads", "number of students", 0))
	typed.RoomID, typed.FollowsID = f.whole("room", "room", 0), f.whole("follows", "class", 0)
	lasts, err := span(f.typed(f.Val("minutes"), language.Times))
	if err != nil {
		f.say("minutes", "%s.", err)
	}
	typed.Minutes = int(lasts.Minutes())
	if at, err := time.ParseInLocation("2006-01-02 15:04", f.Val("date")+" "+f.Val("time"), time.Local); err != nil {
		f.say("starts", "Write the day like 2026-11-25 and the hour like 10:00.")
	} else {
		typed.Starts = at
	}
	metal := f.whole("metal", "metal", 0)
	for _, text := range f.values["r"] {
		v, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			f.say("recipes", "A ticked recipe can't be read; reload the page.")
			continue
		}
		each := int(f.whole("each"+text, "number of swatches", 1))
		x := studio.ClassRecipe{VersionID: v, PerHead: each, MetalID: metal}
		if each == 0 {
			x.Shown = 1
		}
		if !slices.ContainsFunc(typed.Recipes, func(y studio.ClassRecipe) bool { return y.VersionID == v }) {
			typed.Recipes = append(typed.Recipes, x)
		}
	}
	if len(typed.Recipes) == 0 {
		f.say("recipes", "Tick at least one recipe to teach.")
	}
	if f.ok() {
		if err := f.blame(typed.Check(), classFields...); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showClassForm(w, r, f, id, http.StatusUnprocessableEntity)
	}
	var kept studio.Class
	if id == 0 {
		kept, err = s.store.SaveClass(ctx, typed)
	} else {
		kept, err = s.store.ChangeClass(ctx, id, func(c *studio.Class) error {
			same := slices.EqualFunc(c.Recipes, typed.Recipes, func(x, y studio.ClassRecipe) bool { return x.VersionID == y.VersionID })
			if !same {
				c.Parts = nil // they name recipes that are taught no more
			}
			c.Name, c.Aim, c.Teacher, c.Skill, c.Who, c.Where = typed.Name, typed.Aim, typed.Teacher, typed.Skill, typed.Who, typed.Where
			c.Heads, c.RoomID, c.FollowsID, c.Minutes, c.Starts, c.Recipes = typed.Heads, typed.RoomID, typed.FollowsID, typed.Minutes, typed.Starts, typed.Recipes
			return nil
		})
	}
	if err := f.blame(err, classFields...); err != nil {
		return err
	}
	if !f.ok() {
		return s.showClassForm(w, r, f, id, http.StatusUnprocessableEntity)
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/classes/%d", kept.ID))
}

// classIn is the class that a path names, on this machine's clock.
func (s *Server) classIn(r *http.Request) (studio.Class, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Class{}, err
	}
	c, err := s.store.Class(r.Context(), id)
	c.Starts = c.Starts.Local()
	return c, err
}

// classAsk puts together what a class is planned from.
func (s *Server) classAsk(ctx context.Context, c studio.Class) (lesson.Ask, error) {
	return s.classAskAfter(ctx, c, 3)
}

// classAskAfter is [Server.classAsk], looking back at so many classes before it.
func (s *Server) classAskAfter(ctx context.Context, c studio.Class, back int) (lesson.Ask, error) {
	c.Starts = c.Starts.Local()
	a := lesson.Ask{Class: c, Hands: map[studio.StepKind]float64{}}
	var err error
	if a.Supplies, err = s.store.Supplies(ctx); err != nil {
		return a, err
	}
	for _, x := range c.Recipes {
		var one lesson.Recipe
		if one.Version, err = s.store.Version(ctx, x.VersionID); err != nil {
			return a, err
		}
		recipe, err := s.store.Recipe(ctx, one.Version.RecipeID)
		if err != nil {
			return a, err
		}
		one.Name = recipe.Name
		if one.Below, err = s.below(ctx, one.Version); err != nil {
			return a, err
		}
		if x.MetalID != 0 {
			if one.Metal, err = s.store.Metal(ctx, x.MetalID); err != nil {
				return a, err
			}
		}
		a.Recipes = append(a.Recipes, one)
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return a, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return a, err
	}
	metalOf := map[int64]int64{}
	for _, x := range swatches {
		metalOf[x.Number] = x.MetalID
	}
	var entries []run.Entry
	for _, f := range folds {
		entries = append(entries, run.Entry{Treatment: f.Treatment, Record: f.Record})
		if f.Record.Status == run.Finished && f.Treatment.SetID != c.SetID && !f.Treatment.Blank {
			a.Made = append(a.Made, lesson.Made{Swatch: f.Treatment.Swatch, VersionID: f.Treatment.VersionID, Minutes: stayed(f), MetalID: metalOf[f.Treatment.Swatch], Steps: f.Treatment.Steps})
		}
	}
	for kind, t := range benchday.Learn(entries) {
		if t.N >= benchday.LearntFrom && !kind.Dwell() {
			a.Hands[kind] = t.Median
		}
	}
	if c.FollowsID == 0 || back == 0 {
		return a, nil
	}
	before, err := s.store.Class(ctx, c.FollowsID)
	if err != nil {
		return a, err
	}
	ask, err := s.classAskAfter(ctx, before, back-1)
	if err != nil {
		return a, err
	}
	p, err := lesson.Make(ask)
	if err != nil {
		return a, err
	}
	a.Before = map[int64]lesson.Begun{}
	for _, d := range p.Recipes {
		if d.Open >= 0 {
			a.Before[ask.Recipes[d.Index].Version.ID] = lesson.Begun{Step: d.Open, Since: d.Since}
		}
	}
	return a, nil
}

// stayed is how many minutes a finished treatment was fumed, or lay in litter, as
// it was; else its longest dwell.
func stayed(f folded) float64 {
	var fumed, most float64
	for i, x := range f.Treatment.Steps {
		if !x.Kind.Dwell() {
			continue
		}
		m := x.Duration.Minutes()
		if i < len(f.Record.Steps) && !f.Record.Steps[i].Began.IsZero() && !f.Record.Steps[i].Ended.IsZero() {
			m = f.Record.Steps[i].Ended.Sub(f.Record.Steps[i].Began).Minutes()
		}
		most = max(most, m)
		if x.Kind == studio.Fume || x.Kind == studio.Bury {
			fumed = max(fumed, m)
		}
	}
	if fumed > 0 {
		return fumed
	}
	return most
}

// classPage is the plan of a class on one screen.
type classPage struct {
	Frame
	Class   studio.Class
	Ends    time.Time
	Plan    lesson.Plan
	Stop    string // why it must not be held
	Makes   int    // swatches still to be made ahead
	Own     int    // swatches that students make
	Before  *studio.Class
	HasOwn  bool // parts of its own, not the usual ones
	RoomOf  string
	Teaches string
	ToMake  string // the button that leads to what is made ahead
	Lays    string // the button that lays the students' swatches
}

func (s *Server) class(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillClass(r, c, c.Name)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "class", p)
	return nil
}

// fillClass plans the class for a page. What must never meet is a page, not a failure.
func (s *Server) fillClass(r *http.Request, c studio.Class, title string) (classPage, error) {
	ctx := r.Context()
	p := classPage{Frame: s.frame(r, title, "classes"), Class: c, Ends: c.Starts.Add(time.Duration(c.Minutes) * time.Minute), HasOwn: len(c.Parts) > 0}
	p.Teaches = fmt.Sprintf("%d students, %s", c.Heads, c.Who.Words())
	if c.Heads == 1 {
		p.Teaches = fmt.Sprintf("One student, %s", c.Who.Words())
	}
	if c.RoomID != 0 {
		room, err := s.store.Room(ctx, c.RoomID)
		if err != nil {
			return p, err
		}
		p.RoomOf = room.Name
	}
	if c.FollowsID != 0 {
		before, err := s.store.Class(ctx, c.FollowsID)
		if err != nil {
			return p, err
		}
		before.Starts = before.Starts.Local()
		p.Before = &before
	}
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return p, err
	}
	p.Plan, err = lesson.Make(a)
	if problem := studio.ProblemIn(err); problem != nil {
		p.Stop = problem.Text
		return p, nil
	} else if err != nil {
		return p, err
	}
	for _, h := range p.Plan.Ahead {
		p.Makes += h.ToMake()
	}
	for _, d := range p.Plan.Recipes {
		if d.Who == lesson.Students {
			p.Own += d.Swatches
		}
	}
	switch p.Makes {
	case 0:
		p.ToMake = "All of it is there"
	case 1:
		p.ToMake = "One swatch is made ahead: when to begin"
	default:
		p.ToMake = fmt.Sprintf("%d swatches are made ahead: when to begin", p.Makes)
	}
	p.Lays = fmt.Sprintf("Lay the class’s own %d swatches", p.Own)
	if p.Own == 1 {
		p.Lays = "Lay the class’s own swatch"
	}
	return p, nil
}

// binClass is POST /classes/{id}/bin.
func (s *Server) binClass(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	if err := s.store.BinItem(r.Context(), "class", c.ID); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/classes", "The class is in the bin for 30 days. Its swatches stay.")
}
