package web

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/language"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) setRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /sets", s.sets)
	s.on(mux, "GET /sets/new", s.newSet)
	s.on(mux, "POST /sets", s.planSet)
	s.on(mux, "GET /sets/{id}", s.set)
	s.on(mux, "GET /sets/{id}/rows", s.setRows)
}

// setsPage lists the sets.
type setsPage struct {
	Frame
	Sets []setCard
}

type setCard struct {
	Set      studio.Set
	Shape    string
	Count    int
	Standing string
}

// shapeWords says what a set varies: "ladder over minutes".
func shapeWords(set studio.Set) string {
	var names []string
	for _, f := range set.Factors {
		names = append(names, f.Name)
	}
	if set.Design != studio.Full && len(names) > 0 {
		plain, _ := plan.DesignWords(set.Design)
		return strings.Join(names, " × ") + ", " + plain
	}
	switch set.Shape {
	case studio.Ladder:
		return "ladder over " + strings.Join(names, "")
	case studio.Grid:
		return "grid of " + strings.Join(names, " × ")
	}
	return "loose swatches"
}

func (s *Server) sets(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	all, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return err
	}
	counts := map[int64]int{}
	for _, x := range swatches {
		counts[x.SetID]++
	}
	p := setsPage{Frame: s.frame(r, "Plan", "plan")}
	for _, set := range sets {
		tally := map[run.Status]int{}
		for _, t := range all {
			if t.Treatment.SetID == set.ID {
				tally[t.Record.Status]++
			}
		}
		p.Sets = append(p.Sets, setCard{set, shapeWords(set), counts[set.ID], tallyWords(tally)})
	}
	slices.Reverse(p.Sets)
	s.show(w, http.StatusOK, "sets", p)
	return nil
}

func tallyWords(tally map[run.Status]int) string {
	var parts []string
	for _, k := range []struct {
		s    run.Status
		word string
	}{{run.Planned, "to begin"}, {run.Running, "running"}, {run.Finished, "finished"}, {run.Stopped, "given up"}} {
		if n := tally[k.s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, k.word))
		}
	}
	return strings.Join(parts, ", ")
}

// folded is a treatment with what really happened to it.
type folded struct {
	Treatment studio.Treatment
	Events    []studio.Event
	Record    run.Record
}

// treatments reads treatments and folds their events.
func (s *Server) treatments(ctx context.Context, f store.TreatmentFilter) ([]folded, error) {
	ts, err := s.store.Treatments(ctx, f)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(ts))
	for i, t := range ts {
		ids[i] = t.ID
	}
	events, err := s.store.Events(ctx, ids)
	if err != nil {
		return nil, err
	}
	out := make([]folded, len(ts))
	for i, t := range ts {
		out[i] = folded{t, events[t.ID], run.Fold(t, events[t.ID])}
	}
	return out, nil
}

// setForm is the form that plans a set, with what was typed.
type setForm struct {
	*form
	Name, Question, Width, Height, Back, Replicates, Blanks, Seed string
	MetalID, ChamberID, FrontID                                   int64
	Factors                                                       []factorForm
	Place                                                         placeForm
	designForm
}

// factorForm is one line of what is varied.
type factorForm struct {
	Kind    string
	Step    int
	Levels  string
	Liquids []int64
	Shared  bool // all swatches of a filling have the same level
}

// HasLiquid reports whether a liquid is ticked.
func (f factorForm) HasLiquid(id int64) bool { return slices.Contains(f.Liquids, id) }

type kindChoice struct {
	Kind  string
	Label string
}

var kindChoices = []kindChoice{
	{string(studio.ByMinutes), "time of a step, minutes"},
	{string(studio.ByLoading), "amount put on, g/m² or mL/m²"},
	{string(studio.ByStrength), "strength, % by mass"},
	{string(studio.ByLiquid), "which liquid"},
	{string(studio.ByWetting), "wetted first, or dry"},
	{string(studio.ByBrushing), "brushed out, or left"},
}

type stepChoice struct {
	Index int
	Label string
}

// setNewPage asks what a set is to be, and shows it before it is made.
type setNewPage struct {
	Frame
	Form     setForm
	Recipes  []studio.Recipe
	Metals   []studio.Metal
	Chambers []studio.Chamber
	Liquids  []studio.Supply
	Kinds    []kindChoice
	Steps    []stepChoice
	Preview  *setPreview
	designChoices
}

// setPreview is the set laid out, before it is made.
type setPreview struct {
	Headline  string
	Worth     *worthView
	Notes     []string
	Cautions  []string
	Rows      []previewRow
	Materials []string
	Forecasts []forecastLine
	Assumed   []fume.Assumption
	Shelf     shelfAnswer
	Blocks    bool   // some row is in one
	BlockWord string // filling, day
}

// Dry says in how many settings the salt is not wet in time.
func (p setPreview) Dry() string { return dryWords(p.Forecasts) }

type previewRow struct {
	Order, Block           int
	Settings, Faces, Steps string
	Repeat                 bool
}

// readSetForm takes the form apart; what is missing gets a sensible start.
func (s *Server) readSetForm(r *http.Request) setForm {
	f := setForm{form: readForm(r)}
	def := func(name, otherwise string) string {
		if f.values.Has(name) {
			return f.Val(name)
		}
		return otherwise
	}
	f.Name, f.Question, f.Back = f.Val("name"), f.Val("question"), def("back", "same")
	f.Width, f.Height = def("width", "50"), def("height", "50")
	f.Replicates, f.Blanks = f.Val("replicates"), f.Val("blanks")
	f.Seed = def("seed", strconv.Itoa(1+rand.IntN(9999)))
	f.MetalID, f.ChamberID, f.FrontID = f.whole("metal", "metal", 0), f.whole("chamber", "chamber", 0), f.whole("front", "recipe", 0)
	f.Place = placeForm{Room: f.whole("room", "room", 0), Class: studio.ClassOf(f.Val("class"))}
	f.Factors = f.readLines()
	f.designForm = f.readDesign()
	return f
}

// fillSetForm gives the form its choices.
func (s *Server) fillSetForm(r *http.Request, f setForm) (setNewPage, error) {
	ctx := r.Context()
	p := setNewPage{Frame: s.frame(r, "Plan a set", "plan"), Kinds: kindChoices}
	var err error
	if p.Recipes, err = s.store.Recipes(ctx); err != nil {
		return p, err
	}
	if p.Metals, err = s.store.Metals(ctx); err != nil {
		return p, err
	}
	if p.Chambers, err = s.store.Chambers(ctx); err != nil {
		return p, err
	}
	if p.Liquids, err = s.store.Supplies(ctx); err != nil {
		return p, err
	}
	if f.Place.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, err
	}
	if f.FrontID == 0 && len(p.Recipes) > 0 {
		f.FrontID = p.Recipes[0].Latest.ID
	}
	if f.MetalID == 0 && len(p.Metals) > 0 {
		f.MetalID = p.Metals[0].ID
	}
	back, _ := strconv.ParseInt(f.Back, 10, 64) // 0 where the back is said in words
	if p.Recipes, err = s.withVersions(ctx, p.Recipes, f.FrontID, back); err != nil {
		return p, err
	}
	if f.FrontID != 0 {
		v, err := s.store.Version(ctx, f.FrontID)
		if err != nil {
			return p, err
		}
		for i, step := range v.Steps {
			p.Steps = append(p.Steps, stepChoice{i, fmt.Sprintf("%d. %s%s", i+1, step.Kind, stepHint(step))})
		}
		for i := range f.Factors {
			if f.Factors[i].Step < 0 || f.Factors[i].Step >= len(v.Steps) {
				f.Factors[i].Step = likelyStep(v.Steps, studio.FactorKind(f.Factors[i].Kind))
			}
		}
	}
	p.Form = f
	return p, s.fillDesign(ctx, &p)
}

func stepHint(step studio.Step) string {
	switch {
	case step.Kind.Dwell():
		return ", " + studio.Span(step.Duration)
	case !step.Amount.IsZero():
		return ", " + step.Amount.String()
	}
	return ""
}

// likelyStep is the step a factor of this kind most often acts on.
func likelyStep(steps []studio.Step, kind studio.FactorKind) int {
	want := func(s studio.Step) bool { return s.Kind == studio.Fume }
	switch kind {
	case studio.ByLoading:
		want = func(s studio.Step) bool { return !s.Amount.IsZero() }
	case studio.ByLiquid, studio.ByStrength:
		want = func(s studio.Step) bool { return s.Material != "" && s.Kind != studio.Degrease }
	}
	for _, w := range []func(studio.Step) bool{want, func(s studio.Step) bool { return s.Kind.Dwell() }} {
		for i, s := range steps {
			if w(s) {
				return i
			}
		}
	}
	return 0
}

func (s *Server) newSet(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillSetForm(r, s.readSetForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "set_new", p)
	return nil
}

// factors turns the lines of the form into factors; what can't be read is said
// beside its line. between says which of them are ranges, like "30 to 240".
func (f *setForm) factors(steps []studio.Step, supplies []studio.Supply) (out []studio.Factor, between []bool) {
	for i, line := range f.Factors {
		if line.Kind == "" {
			continue
		}
		field := fmt.Sprintf("factor%d", i)
		kind := studio.FactorKind(line.Kind)
		x := studio.Factor{Name: factorName(kind, steps, line.Step), Kind: kind, Step: line.Step}
		ranged := false
		for _, other := range out {
			switch {
			case other.Kind == x.Kind && other.Step == x.Step:
				f.say(field, "This varies the %s once more; vary something else, or leave the line out.", x.Name)
			case other.Name == x.Name:
				x.Name += fmt.Sprintf(", step %d", x.Step+1) // the recipe fumes twice, say
			}
		}
		switch kind {
		case studio.ByWetting:
			x.Levels = []studio.Level{{Label: "dry"}, {Label: "wetted first", Yes: true}}
		case studio.ByBrushing:
			x.Levels = []studio.Level{{Label: "left"}, {Label: "brushed out", Yes: true}}
		case studio.ByLiquid:
			for _, id := range line.Liquids {
				for _, sup := range supplies {
					if sup.ID == id {
						x.Levels = append(x.Levels, studio.Level{Label: sup.Name, SupplyID: id})
					}
				}
			}
			if len(x.Levels) < 2 {
				f.say(field, "Tick at least two liquids to compare.")
			}
		default:
			levels := f.typed(line.Levels, language.Ranges, language.Times, language.HandWords, language.Numbers)
			// with semicolons between, a comma within a number is its decimal mark: 1,5; 2
			decimals := strings.Contains(levels, ";") && !strings.Contains(levels, ", ")
			typed := strings.FieldsFunc(levels, func(c rune) bool { return c == ',' && !decimals || c == ';' })
			if low, high, ok := rangeOf(levels); ok {
				typed, ranged = []string{low, high}, true
			}
			for _, t := range typed {
				t = strings.TrimSpace(t)
				if t == "" {
					continue
				}
				if kind == studio.ByLoading && slices.Contains(studio.HandWords, strings.ToLower(t)) {
					x.Levels = append(x.Levels, studio.Level{Label: strings.ToLower(t)})
					continue
				}
				if kind == studio.ByMinutes {
					d, err := span(t)
					if err != nil {
						f.say(field, "%q is not a time; write minutes, like 30, 60, 120, or 4 h.", t)
						break
					}
					x.Levels = append(x.Levels, studio.Level{Label: studio.Span(d), Number: d.Minutes()})
					continue
				}
				v, err := decimal(t)
				if err != nil {
					f.say(field, "%q is not a number; write levels like 5, 12, 30.", t)
					break
				}
				unit := kind.Unit()
				if kind == studio.ByLoading && line.Step >= 0 && line.Step < len(steps) && steps[line.Step].Amount.Unit.PerArea() {
					unit = steps[line.Step].Amount.Unit.Label()
				}
				x.Levels = append(x.Levels, studio.Level{Label: number(v, 3) + " " + unit, Number: v})
			}
			if len(x.Levels) == 0 {
				f.say(field, "Write the levels with commas between, like 30, 60, 120.")
			}
		}
		out, between = append(out, x), append(between, ranged)
	}
	if len(out) == 0 {
		f.say("factor0", "Choose at least one thing to vary.")
	}
	return out, between
}

// factorName says in the trade's words what is varied, so that a sentence can
// be made of it: "fuming time", "amount of salt".
func factorName(kind studio.FactorKind, steps []studio.Step, i int) string {
	var step studio.Step
	if i >= 0 && i < len(steps) {
		step = steps[i]
	}
	material := substanceName(step.Material)
	switch kind {
	case studio.ByMinutes:
		if noun := map[studio.StepKind]string{studio.Fume: "fuming", studio.Rest: "resting", studio.Dry: "drying", studio.Bury: "burying", studio.Pickle: "pickling", studio.Heat: "heating"}[step.Kind]; noun != "" {
			return noun + " time"
		}
		return string(step.Kind) + " time"
	case studio.ByLoading:
		if step.Material == "" {
			return "amount"
		}
		return "amount of " + material
	case studio.ByStrength:
		if step.Material == "" {
			return "strength"
		}
		return "strength of " + material
	}
	return string(kind)
}

// below returns the versions v lies over, the one at the metal first.
func (s *Server) below(ctx context.Context, v studio.Version) ([]studio.Version, error) {
	var out []studio.Version
	for id := v.OverID; id != 0; {
		b, err := s.store.Version(ctx, id)
		if err != nil {
			return nil, err
		}
		if len(out) > 20 {
			return nil, studio.Problemf(studio.Invalid, "front", "This recipe lies over more than 20 others; that can't be planned.")
		}
		out = append([]studio.Version{b}, out...)
		id = b.OverID
	}
	return out, nil
}

// ask turns the form into what flow/plan is asked; problems land beside fields.
func (s *Server) ask(ctx context.Context, f *setForm, supplies []studio.Supply) (plan.Ask, error) {
	front, err := s.store.Version(ctx, f.FrontID)
	if err != nil {
		return plan.Ask{}, err
	}
	a := plan.Ask{Name: f.Name, Question: f.Question, Front: front, SameFaces: f.Back == "same", FacesApart: f.Back == "apart"}
	a.Factors, a.Between = f.factors(front.Steps, supplies)
	a.Shape = studio.Ladder
	if len(a.Factors) > 1 {
		a.Shape = studio.Grid
	}
	a.UsualReplicates, a.UsualBlanks = f.Replicates == "", f.Blanks == ""
	a.Replicates = int(f.whole("replicates", "number of each kind", 0))
	a.Blanks = int(f.whole("blanks", "number of blanks", 0))
	seed, err := strconv.ParseUint(f.Seed, 10, 64)
	if err != nil {
		f.say("seed", "%q is not a whole number; write one like 4711.", f.Seed)
	}
	a.Seed = seed
	a.WidthMM = f.number("width", "width", "mm", 50)
	a.HeightMM = f.number("height", "height", "mm", 50)
	if f.ChamberID != 0 {
		if a.Chamber, err = s.store.Chamber(ctx, f.ChamberID); err != nil {
			return a, err
		}
	}
	if a.FrontBelow, err = s.below(ctx, a.Front); err != nil {
		return a, err
	}
	if id, err := strconv.ParseInt(f.Back, 10, 64); err == nil {
		v, err := s.store.Version(ctx, id)
		if err != nil {
			return a, err
		}
		a.Back = &v
		if a.BackBelow, err = s.below(ctx, v); err != nil {
			return a, err
		}
	}
	return a, s.askDesign(ctx, f, &a)
}

// planSet is POST /sets: it shows the steps, shows the set, or makes it.
func (s *Server) planSet(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := s.readSetForm(r)
	p, err := s.fillSetForm(r, f)
	if err != nil {
		return err
	}
	if do := f.Val("do"); do == "steps" || do == "more" || do == "see" {
		p.Form.wrong = map[string]string{}
		s.show(w, http.StatusOK, "set_new", p)
		return nil
	}
	a, err := s.ask(ctx, &p.Form, p.Liquids)
	if err != nil {
		if err := p.Form.blame(err); err != nil {
			return err
		}
	}
	if !p.Form.ok() {
		p.Form.onTop(setFields...)
		s.show(w, http.StatusUnprocessableEntity, "set_new", p)
		return nil
	}
	metal, err := s.store.Metal(ctx, p.Form.MetalID)
	if err != nil {
		return err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return err
	}
	lay, err := plan.Lay(a, p.Liquids, hands, metal)
	if err != nil {
		problem := studio.ProblemIn(err)
		if problem == nil {
			return err
		}
		field := shownAt(problem.Field)
		if rest, ok := strings.CutPrefix(field, "factor"); ok {
			n, _, _ := strings.Cut(rest, ".")
			if i, err := strconv.Atoi(n); err == nil {
				field = fmt.Sprintf("factor%d", p.Form.line(i-1))
			}
		}
		p.Form.say(field, "%s", problem.Text)
		p.Form.onTop(setFields...)
		s.show(w, status(problem.Kind), "set_new", p)
		return nil
	}
	lay.Set.Class, lay.Set.RoomID = p.Form.Place.Class, p.Form.Place.Room
	planned := lay.Treatments()
	err = lay.Set.Class.Check()
	if err == nil {
		var problem *studio.Problem
		if lay.Clashes, problem = plan.PlaceOf(lay.Set, p.Form.Place.Rooms).AllowSet(planned, p.Liquids, metal); problem != nil {
			err = problem
		}
	}
	if err == nil {
		var problem *studio.Problem
		if problem, err = s.inRightHands(ctx, lay.Set.Class, planned); problem != nil {
			err = problem
		}
	}
	if err := p.Form.blame(err); err != nil {
		return err
	}
	if !p.Form.ok() {
		s.show(w, http.StatusUnprocessableEntity, "set_new", p)
		return nil
	}
	if f.Val("do") != "make" {
		p.Preview = preview(lay, p.Liquids)
		p.Preview.Worth = worthOf(lay.Set, planned, a.Made, p.Spread, p.Form.difference())
		var planned []plannedFace
		for _, x := range lay.Pieces {
			for _, t := range x.Treatments {
				planned = append(planned, plannedFace{t, x.Swatch})
			}
		}
		if p.Preview.Forecasts, p.Preview.Assumed, err = s.forecasts(ctx, planned); err != nil {
			return err
		}
		if p.Preview.Shelf, err = s.layoutAtShelf(ctx, lay, blankOf(lay.Set, studio.Form{})); err != nil {
			return err
		}
		s.show(w, http.StatusOK, "set_new", p)
		return nil
	}
	lay.Set.Made = s.now().UTC()
	pieces := make([]store.NewSwatch, len(lay.Pieces))
	for i, x := range lay.Pieces {
		x.Swatch.Made = lay.Set.Made
		pieces[i] = store.NewSwatch{Swatch: x.Swatch, Treatments: x.Treatments}
	}
	set, made, err := s.store.AddSet(ctx, lay.Set, pieces)
	if err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/sets/%d", set.ID), fmt.Sprintf("Swatches %d to %d are planned. Print their labels, then start.", made[0].Number, made[len(made)-1].Number))
}

// setFields are the fields that a problem can stand beside; factor0 to factor7
// are the lines of what is varied.
var setFields = []string{"name", "width", "height", "replicates", "blanks", "seed", "factor0", "factor1", "factor2", "factor3", "factor4", "factor5", "factor6", "factor7",
	"design", "swatches", "model", "difference", "never", "made", "blocks", "shared", "back"}

// line returns the form line the n-th chosen factor stands on.
func (f *setForm) line(n int) int {
	for i, x := range f.Factors {
		if x.Kind == "" {
			continue
		}
		if n == 0 {
			return i
		}
		n--
	}
	return 0
}

// settingsText writes settings on one line: "240 min · light".
func settingsText(settings []studio.Setting) string {
	var parts []string
	for _, x := range settings {
		parts = append(parts, x.Level.Label)
	}
	return strings.Join(parts, " · ")
}

// preview puts a layout into words.
func preview(lay plan.Layout, supplies []studio.Supply) *setPreview {
	p := &setPreview{Notes: lay.Notes, Cautions: clashTexts(lay.Clashes), BlockWord: blockWord(lay.Set)}
	treated := 0
	for i, piece := range lay.Pieces {
		row := previewRow{Order: i + 1, Block: piece.Block, Settings: "blank, kept bare"}
		p.Blocks = p.Blocks || piece.Block > 0
		if !piece.Swatch.Blank {
			treated++
			row.Settings, row.Faces = "", ""
			var faces, steps, settings []string
			for _, t := range piece.Treatments {
				if len(t.Settings) > 0 {
					settings = append(settings, settingsText(t.Settings))
					row.Repeat = row.Repeat || t.Replicate > 1
				}
				if t.Layer == 1 {
					faces = append(faces, facesWord(t.Faces))
				}
				steps = append(steps, fmt.Sprintf("%d steps, about %s", len(t.Steps), studio.Span(takes(t.Steps))))
			}
			if row.Settings = strings.Join(settings, ""); len(settings) == 2 {
				row.Settings = "front " + settings[0] + "; back " + settings[1]
			}
			row.Faces, row.Steps = strings.Join(faces, " and "), strings.Join(steps, "; ")
		}
		p.Rows = append(p.Rows, row)
	}
	p.Headline = fmt.Sprintf("%d swatches: %d treated, %d bare", len(lay.Pieces), treated, len(lay.Pieces)-treated)
	p.Materials = materials(lay, supplies)
	return p
}

// materials lists the metal and what the steps use, in all.
func materials(lay plan.Layout, supplies []studio.Supply) []string {
	var out []string
	area := 0.0
	type need struct {
		g, ml float64
	}
	needs := map[string]*need{}
	var order []string
	for _, piece := range lay.Pieces {
		face := piece.Swatch.AreaM2()
		area += face
		for _, t := range piece.Treatments {
			n := 1.0
			if t.Faces == studio.OnBoth {
				n = 2
			}
			for _, step := range t.Steps {
				if step.Material == "" || step.Amount.IsZero() {
					continue
				}
				name := substanceName(step.Material)
				for _, sup := range supplies {
					if sup.ID == step.SupplyID {
						name = sup.Name
					}
				}
				for _, p := range step.Also {
					name += " + " + substanceName(p.Material)
				}
				if needs[name] == nil {
					needs[name] = &need{}
					order = append(order, name)
				}
				amount := step.Amount.Value
				if step.Amount.Unit.PerArea() {
					amount *= face * n
				}
				if step.Amount.Unit == studio.MLPerM2 || step.Amount.Unit == studio.Millilitre {
					needs[name].ml += amount
				} else {
					needs[name].g += amount
				}
			}
		}
	}
	out = append(out, fmt.Sprintf("Sheet: %d pieces, %s cm² in all, without what the cuts take", len(lay.Pieces), number(area*1e4, 0)))
	for _, name := range order {
		if g := needs[name].g; g > 0 {
			out = append(out, fmt.Sprintf("%s: about %s g on the faces", name, figures(g)))
		}
		if ml := needs[name].ml; ml > 0 {
			out = append(out, fmt.Sprintf("%s: about %s mL on the faces", name, figures(ml)))
		}
	}
	return out
}

// figures writes v with two significant figures.
func figures(v float64) string {
	if v == 0 {
		return "0"
	}
	return number(v, max(0, 1-int(math.Floor(math.Log10(math.Abs(v))))))
}

// clashTexts puts what must be minded into sentences.
func clashTexts(clashes []matter.Clash) []string {
	var out []string
	for _, c := range clashes {
		who := capital(c.A)
		if c.B != "" {
			who += " and " + c.B
		}
		text := fmt.Sprintf("%s: %s. %s.", who, strings.TrimSuffix(c.What, "."), strings.TrimSuffix(capital(c.Do), "."))
		if c.Level == matter.Hood {
			text += " Outdoors or under a hood only."
		}
		if !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out
}

// setPage shows one set.
type setPage struct {
	Frame
	Set         studio.Set
	Shape       string
	Design      string
	Worth       *worthView
	Difference  string
	Blocks      int
	BlockWord   string
	Factors     []factorLine
	Metal       string
	Chamber     string
	RecipeLinks []recipeLink
	Cautions    []string
	Stop        string
	Place       placeForm
	PlaceWords  string
	Waste       wasteView
	Rows        []setRow
	AnyReady    bool
	Begun       bool // some treatment has begun: the forecast is no longer the news
	Forecasts   []forecastLine
	Assumed     []fume.Assumption
	Stays       *stays
	Shelf       shelfAnswer
}

// Dry says in how many settings the salt is not wet in time.
func (p setPage) Dry() string { return dryWords(p.Forecasts) }

type factorLine struct{ Name, Levels string }

type recipeLink struct {
	ID          int64
	Name, Where string
}

type setRow struct {
	Treatment, Swatch         int64
	Order, Block              int
	Repeat                    bool
	Faces, Settings, Standing string
	Ready                     bool
	Front, Back               *studio.Measurement
}

func (s *Server) fillSet(r *http.Request) (setPage, error) {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return setPage{}, err
	}
	set, err := s.store.Set(ctx, id)
	if err != nil {
		return setPage{}, err
	}
	p := setPage{Frame: s.frame(r, set.Name, "plan"), Set: set, Shape: shapeWords(set), Design: designText(set), BlockWord: blockWord(set)}
	if set.Design != studio.Full && len(set.Factors) > 1 {
		p.Shape = fmt.Sprintf("%d things varied together", len(set.Factors))
	}
	for _, f := range set.Factors {
		var labels []string
		for _, l := range f.Levels {
			labels = append(labels, l.Label)
		}
		p.Factors = append(p.Factors, factorLine{capital(f.Name), strings.Join(labels, ", ")})
	}
	if m, err := s.store.Metal(ctx, set.MetalID); err == nil {
		p.Metal = m.Name
	}
	if set.ChamberID != 0 {
		if c, err := s.store.Chamber(ctx, set.ChamberID); err == nil {
			p.Chamber = c.Name
		}
	}
	where := map[int64]string{set.FrontID: "front"}
	if set.SameFaces {
		where[set.FrontID] = "both faces"
	}
	if set.BackID != 0 && set.BackID != set.FrontID {
		where[set.BackID] = "back"
	}
	if set.BackID == set.FrontID && set.BackID != 0 && !set.SameFaces {
		where[set.FrontID] = "front and back, each with its own settings"
	}
	for _, vid := range []int64{set.FrontID, set.BackID} {
		if where[vid] == "" || vid == 0 {
			continue
		}
		link, err := s.recipeLink(ctx, vid)
		if err == nil {
			link.Where = where[vid]
			p.RecipeLinks = append(p.RecipeLinks, link)
		}
		delete(where, vid)
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: id})
	if err != nil {
		return p, err
	}
	swatches, err := s.store.SwatchesOf(ctx, id)
	if err != nil {
		return p, err
	}
	place, clashes, problem, err := s.setSafety(ctx, set)
	if err != nil {
		return p, err
	}
	p.Cautions, p.PlaceWords = clashTexts(clashes), place.Words()
	if problem != nil {
		p.Stop, p.Cautions = problem.Text, nil
	}
	p.Place = placeForm{Room: set.RoomID, Class: set.Class}
	if p.Place.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return p, err
	}
	if p.Waste, err = s.wasteOfSet(ctx, set, swatches, supplies); err != nil {
		return p, err
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return p, err
	}
	bySwatch := map[int64][]folded{}
	for _, f := range folds {
		bySwatch[f.Treatment.Swatch] = append(bySwatch[f.Treatment.Swatch], f)
	}
	for _, x := range swatches {
		front, back := looks[faceKey{x.Number, studio.Front}], looks[faceKey{x.Number, studio.Back}]
		if len(bySwatch[x.Number]) == 0 {
			standing := ""
			if x.Blank {
				standing = "bare, the blank"
			}
			p.Rows = append(p.Rows, setRow{Swatch: x.Number, Standing: standing, Front: front.Measurement, Back: back.Measurement})
		}
		for i, f := range bySwatch[x.Number] {
			p.Blocks = max(p.Blocks, f.Treatment.Block)
			row := setRow{Treatment: f.Treatment.ID, Swatch: x.Number, Order: f.Treatment.Order, Block: f.Treatment.Block, Repeat: f.Treatment.Replicate > 1, Faces: facesWord(f.Treatment.Faces), Settings: settingsText(f.Treatment.Settings)}
			if f.Treatment.Layer > 1 {
				row.Faces += fmt.Sprintf(", layer %d", f.Treatment.Layer)
			}
			row.Standing = standing(f, s.now())
			p.Begun = p.Begun || f.Record.Status != run.Planned
			row.Ready = problem == nil && f.Record.Status == run.Planned && lowerDone(f, bySwatch[x.Number])
			p.AnyReady = p.AnyReady || row.Ready
			if i == 0 {
				row.Front, row.Back = front.Measurement, back.Measurement
			}
			p.Rows = append(p.Rows, row)
		}
	}
	bySize := map[int64]studio.Swatch{}
	for _, x := range swatches {
		bySize[x.Number] = x
	}
	var planned []plannedFace
	for _, f := range folds {
		planned = append(planned, plannedFace{f.Treatment, bySize[f.Treatment.Swatch]})
	}
	if p.Forecasts, p.Assumed, err = s.forecasts(ctx, planned); err != nil {
		return p, err
	}
	slices.SortStableFunc(p.Rows, func(a, b setRow) int {
		if a.Order == 0 || b.Order == 0 {
			return b.Order - a.Order
		}
		return a.Order - b.Order
	})
	return p, nil
}

// lowerDone reports whether every layer below f on its faces is finished.
func lowerDone(f folded, all []folded) bool {
	for _, o := range all {
		if o.Treatment.Layer < f.Treatment.Layer && overlap(o.Treatment.Faces, f.Treatment.Faces) && o.Record.Status != run.Finished {
			return false
		}
	}
	return true
}

func overlap(a, b studio.Faces) bool { return a == b || a == studio.OnBoth || b == studio.OnBoth }

func (s *Server) recipeLink(ctx context.Context, versionID int64) (recipeLink, error) {
	v, err := s.store.Version(ctx, versionID)
	if err != nil {
		return recipeLink{}, err
	}
	rec, err := s.store.Recipe(ctx, v.RecipeID)
	if err != nil {
		return recipeLink{}, err
	}
	return recipeLink{ID: rec.ID, Name: fmt.Sprintf("%s, version %d", rec.Name, v.Number)}, nil
}

func (s *Server) set(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillSet(r)
	if err != nil {
		return err
	}
	if p.Stays, err = s.staysOfSet(r.Context(), p.Set.ID); err != nil {
		return err
	}
	if err := s.weighSet(r, &p); err != nil {
		return err
	}
	if p.Stop == "" {
		if p.Shelf, err = s.setAtShelf(r.Context(), p.Set); err != nil {
			return err
		}
	}
	s.show(w, http.StatusOK, "set", p)
	return nil
}

func (s *Server) setRows(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillSet(r)
	if err != nil {
		return err
	}
	return s.part(w, "set", "rows", p)
}

// faceKey names one face of one swatch.
type faceKey struct {
	Swatch int64
	Face   studio.Face
}

// looksByFace returns the newest look of every measured face.
func (s *Server) looksByFace(ctx context.Context) (map[faceKey]studio.Look, error) {
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return nil, err
	}
	m := make(map[faceKey]studio.Look, len(looks))
	for _, l := range looks {
		m[faceKey{l.Swatch, l.Face}] = l
	}
	return m, nil
}
