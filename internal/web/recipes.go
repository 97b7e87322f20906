package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/evidence"
	"aerugo/internal/flow/plan"
	"aerugo/internal/language"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) recipeRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /recipes", s.recipes)
	s.on(mux, "GET /recipes/new", s.newRecipe)
	s.on(mux, "POST /recipes", s.saveRecipe)
	s.on(mux, "GET /recipes/{id}", s.recipe)
	s.on(mux, "GET /recipes/{id}/edit", s.editRecipe)
	s.on(mux, "POST /recipes/{id}", s.saveRecipe)
	s.evidenceRoutes(mux)
}

// recipesPage lists the recipes.
type recipesPage struct {
	Frame
	Recipes []recipeCard
}

type recipeCard struct {
	ID            int64
	Name          string
	Invented      bool
	Number, Steps int
	Takes         time.Duration
	Over          string
	Standing      string
	Pictures      []madeFace
}

// mostPictures is how many swatches stand beside a recipe in the list.
const mostPictures = 3

func (s *Server) recipes(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		return err
	}
	t, err := s.triedWith(ctx)
	if err != nil {
		return err
	}
	p := recipesPage{Frame: s.frame(r, "Recipes", "recipes")}
	for _, rec := range recipes {
		c := recipeCard{ID: rec.ID, Name: rec.Name, Invented: rec.Invented, Number: rec.Latest.Number, Steps: len(rec.Latest.Steps), Takes: takes(rec.Latest.Steps)}
		if rec.Latest.OverID != 0 {
			if link, err := s.recipeLink(ctx, rec.Latest.OverID); err == nil {
				c.Over = link.Name
			}
		}
		versions, err := s.store.Versions(ctx, rec.ID)
		if err != nil {
			return err
		}
		var ids []int64
		var faces []madeFace
		for _, v := range versions {
			ids, faces = append(ids, v.ID), append(faces, t.faces[v.ID]...)
		}
		c.Standing, c.Pictures = standingOf(t, ids), newest(faces, mostPictures)
		p.Recipes = append(p.Recipes, c)
	}
	s.show(w, http.StatusOK, "recipes", p)
	return nil
}

// madeWith lists, by recipe, the swatches planned or made with any version of it.
func (s *Server) madeWith(ctx context.Context) (map[int64][]int64, error) {
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return nil, err
	}
	recipeOf := map[int64]int64{}
	out := map[int64][]int64{}
	for _, t := range ts {
		if t.VersionID == 0 {
			continue
		}
		rid, ok := recipeOf[t.VersionID]
		if !ok {
			v, err := s.store.Version(ctx, t.VersionID)
			if err != nil {
				return nil, err
			}
			rid = v.RecipeID
			recipeOf[t.VersionID] = rid
		}
		if !slices.Contains(out[rid], t.Swatch) {
			out[rid] = append(out[rid], t.Swatch)
		}
	}
	return out, nil
}

// recipePage shows one version of a recipe.
type recipePage struct {
	Frame
	Recipe   studio.Recipe
	Version  studio.Version
	Over     string
	OverID   int64
	From     *begunFrom
	Came     *cameFrom
	Stops    []string
	Steps    []stepView
	Cautions []matter.Caution
	Versions []studio.Version
	Waste    wasteView
	Stays    *stays
	Evidence evidenceView
	Kept     *keptFrom
	Diff     *diffView
	Choices  []versionChoice // to compare with
	Lineage  template.HTML
	Twin     []evidence.Node
	TwinText []string
	Place    placeForm // for the card
	Held     []string  // why this version can't go into the bin
}

type stepView struct {
	What  studio.StepKind
	Lines []string
}

// stepViews puts steps into words, with the names of what they use.
func (s *Server) stepViews(ctx context.Context, steps []studio.Step) ([]stepView, error) {
	supplies, err := s.supplyNames(ctx)
	if err != nil {
		return nil, err
	}
	chambers, err := s.chamberNames(ctx)
	if err != nil {
		return nil, err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return nil, err
	}
	var out []stepView
	for _, step := range steps {
		if a, ok := studio.Resolve(hands, step.Amount.Hand, step.HandKey(step.Material)); ok && step.Amount.Value == 0 {
			step.Amount = a // a recipe keeps the word; what it stands for today is shown
		}
		v := stepView{What: step.Kind}
		var with []string
		switch {
		case supplies[step.SupplyID] != "":
			with = append(with, "with "+supplies[step.SupplyID])
		case step.Material != "":
			with = append(with, "with "+substanceName(step.Material))
		}
		if step.Strength > 0 && step.Strength < 100 && !strings.Contains(supplies[step.SupplyID], number(step.Strength, 2)+" % by mass") {
			with = append(with, number(step.Strength, 2)+" % by mass")
		}
		for _, part := range step.Also {
			text := "and " + substanceName(part.Material)
			if part.Strength > 0 {
				text += " " + number(part.Strength, 2) + " % by mass"
			}
			with = append(with, text)
		}
		if !step.Amount.IsZero() {
			with = append(with, step.Amount.String())
		}
		if len(with) > 0 {
			v.Lines = append(v.Lines, strings.Join(with, ", "))
		}
		if step.Duration > 0 {
			text := studio.Span(step.Duration)
			if step.Early > 0 || step.Late > 0 {
				text += fmt.Sprintf(" (%s sooner to %s later is fine)", studio.Span(step.Early), studio.Span(step.Late))
			}
			v.Lines = append(v.Lines, text)
		}
		var where []string
		if chambers[step.ChamberID] != "" {
			where = append(where, "in "+chambers[step.ChamberID])
		}
		if step.Place != "" {
			where = append(where, step.Place)
		}
		if step.Tool != "" {
			where = append(where, "tool: "+step.Tool)
		}
		if step.Faces != "" {
			where = append(where, "on the "+strings.Replace(facesWord(step.Faces), "both faces", "two faces", 1))
		}
		if len(where) > 0 {
			v.Lines = append(v.Lines, strings.Join(where, "; "))
		}
		if step.Note != "" {
			v.Lines = append(v.Lines, step.Note)
		}
		out = append(out, v)
	}
	return out, nil
}

func (s *Server) supplyNames(ctx context.Context) (map[int64]string, error) {
	all, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	m := map[int64]string{}
	for _, x := range all {
		m[x.ID] = x.Name
		if st := strengthText(x); st != "pure" && st != "not known" {
			m[x.ID] += " (" + st + ")"
		}
		if x.Lot != "" {
			m[x.ID] += ", lot " + x.Lot
		}
	}
	return m, nil
}

func (s *Server) chamberNames(ctx context.Context) (map[int64]string, error) {
	all, err := s.store.Chambers(ctx)
	if err != nil {
		return nil, err
	}
	m := map[int64]string{}
	for _, x := range all {
		m[x.ID] = x.Name
	}
	return m, nil
}

// versionAsked returns the recipe in the path and the version asked for with
// ?v=, the newest if none.
func (s *Server) versionAsked(r *http.Request) (studio.Recipe, studio.Version, error) {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Recipe{}, studio.Version{}, err
	}
	rec, err := s.store.Recipe(ctx, id)
	if err != nil {
		return studio.Recipe{}, studio.Version{}, err
	}
	v := rec.Latest
	if text := r.FormValue("v"); text != "" {
		vid, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return rec, v, studio.Problemf(studio.NotFound, "", "There is no version %q of %s.", text, rec.Name)
		}
		if v, err = s.store.Version(ctx, vid); err != nil {
			return rec, v, err
		}
		if v.RecipeID != rec.ID {
			return rec, v, studio.Problemf(studio.NotFound, "", "There is no such version of %s.", rec.Name)
		}
	}
	return rec, v, nil
}

// safety says what must be minded when v is laid on metal, with all it lies over.
func (s *Server) safety(ctx context.Context, v studio.Version, alloy string) ([]matter.Clash, []matter.Caution, *studio.Problem, error) {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	layers, err := s.below(ctx, v)
	if err != nil {
		return nil, nil, nil, err
	}
	layers = append(layers, v)
	metal := studio.Metal{Alloy: alloy}
	clashes, problem := plan.Safety(layers, supplies, metal)
	return clashes, matter.Cautions(plan.Uses(layers, supplies), alloy), problem, nil
}

func (s *Server) recipe(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	rec, v, err := s.versionAsked(r)
	if err != nil {
		return err
	}
	p := recipePage{Frame: s.frame(r, rec.Name, "recipes"), Recipe: rec, Version: v}
	if v.OverID != 0 {
		link, err := s.recipeLink(ctx, v.OverID)
		if err != nil {
			return err
		}
		p.Over, p.OverID = link.Name, link.ID
	}
	if p.From, err = s.begunFrom(ctx, v); err != nil {
		return err
	}
	if p.Came, err = s.cameFrom(ctx, v); err != nil {
		return err
	}
	clashes, cautions, problem, err := s.safety(ctx, v, "")
	if err != nil {
		return err
	}
	if problem != nil {
		p.Stops = append(p.Stops, problem.Text)
	}
	for _, text := range clashTexts(clashes) {
		p.Cautions = append(p.Cautions, matter.Caution{Text: text, Standing: "from the table of what must never meet"})
	}
	p.Cautions = append(p.Cautions, cautions...)
	if p.Steps, err = s.stepViews(ctx, v.Steps); err != nil {
		return err
	}
	made, err := s.madeWith(ctx)
	if err != nil {
		return err
	}
	if p.Stays, err = s.staysOfRecipe(ctx, v, made[rec.ID]); err != nil {
		return err
	}
	if p.Versions, err = s.store.Versions(ctx, rec.ID); err != nil {
		return err
	}
	if err := s.fillKnown(r, &p); err != nil {
		return err
	}
	if p.Waste, err = s.wasteOfRecipe(ctx, v); err != nil {
		return err
	}
	if p.Held, err = s.store.VersionHeld(ctx, v.ID); err != nil {
		return err
	}
	s.show(w, http.StatusOK, "recipe", p)
	return nil
}

// fillKnown adds what the swatches know, what the version came from, and what it does
// otherwise than the one asked for with ?against=, the one before it if none.
func (s *Server) fillKnown(r *http.Request, p *recipePage) error {
	ctx, v := r.Context(), p.Version
	t, err := s.triedWith(ctx)
	if err != nil {
		return err
	}
	if p.Evidence, err = s.evidenceOf(ctx, t, v, p.Versions); err != nil {
		return err
	}
	if p.Kept, err = s.referenceOf(ctx, v); err != nil {
		return err
	}
	if p.Place, err = s.cardPlace(r); err != nil {
		return err
	}
	graph, drawing, err := s.lineageOf(ctx, p.Recipe.ID, v.ID)
	if err != nil {
		return err
	}
	p.Lineage, p.Twin, p.TwinText = drawing, graph.Nodes, graph.Words()
	against := int64(0)
	for _, n := range graph.Nodes {
		if n.Version.ID == v.ID {
			continue
		}
		p.Choices = append(p.Choices, versionChoice{n.Version.ID, n.Title()})
		if n.Own && n.Version.Number == v.Number-1 {
			against = n.Version.ID
		}
	}
	if text := r.FormValue("against"); text != "" {
		if against, err = strconv.ParseInt(text, 10, 64); err != nil {
			return studio.Problemf(studio.NotFound, "", "There is no version %q to compare with.", text)
		}
	}
	if against == 0 || against == v.ID {
		return nil
	}
	from, err := s.store.Version(ctx, against)
	if err != nil {
		return err
	}
	p.Diff, err = s.diffOf(ctx, t, from, v)
	return err
}

// recipeForm is the form that writes a recipe or a new version of one.
type recipeForm struct {
	*form
	ID                   int64
	Name, Why, OverState string
	OverID               int64
	Steps                []stepForm
}

type stepForm struct {
	Kind                                                              string
	Supply, Amount, Unit, Time, Early, Late, Where, Tool, Note, Faces string
	Mix                                                               string // what is in a liquid that is no supply; Supply is then asMixed
}

// asMixed stands in the list of supplies for a liquid that keeps what is in it.
const asMixed = "mix"

// MixWords names what is in the liquid, for the list of supplies.
func (t stepForm) MixWords() string {
	step := studio.Step{}
	readMixed(t.Mix, &step)
	var names []string
	for _, p := range append([]studio.Part{{Material: step.Material, Strength: step.Strength}}, step.Also...) {
		name := substanceName(p.Material)
		if p.Strength > 0 {
			name += " " + number(p.Strength, 2) + " %"
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}

// writeMixed writes what is in the liquid of a step: "vinegar; ammonium-chloride 4.75".
func writeMixed(step studio.Step) string {
	var out []string
	for _, p := range append([]studio.Part{{Material: step.Material, Strength: step.Strength}}, step.Also...) {
		text := p.Material
		if p.Strength > 0 {
			text += " " + strconv.FormatFloat(p.Strength, 'g', -1, 64)
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// readMixed is writeMixed the other way; what can't be read is no strength.
func readMixed(text string, step *studio.Step) {
	for i, one := range strings.Split(text, "; ") {
		p := studio.Part{Material: one}
		if at := strings.LastIndexByte(one, ' '); at > 0 {
			if v, err := strconv.ParseFloat(one[at+1:], 64); err == nil && v >= 0 && v <= 1000 {
				p = studio.Part{Material: one[:at], Strength: v}
			}
		}
		if i == 0 {
			step.Material, step.Strength = p.Material, p.Strength
		} else {
			step.Also = append(step.Also, p)
		}
	}
}

// recipeEditPage asks for the steps of a recipe.
type recipeEditPage struct {
	Frame
	Form     recipeForm
	Others   []studio.Recipe
	Kinds    []studio.StepKind
	Supplies []studio.Supply
	Chambers []studio.Chamber
	Units    []studio.Unit
	Faces    []orderChoice
}

// stepFaces are the faces a single step may be held to.
var stepFaces = []orderChoice{{string(studio.OnFront), "the front"}, {string(studio.OnBack), "the back"}, {string(studio.OnBoth), "both faces"}}

func (s *Server) fillRecipeForm(r *http.Request, f recipeForm) (recipeEditPage, error) {
	ctx := r.Context()
	p := recipeEditPage{Frame: s.frame(r, "A recipe", "recipes"), Kinds: studio.StepKinds, Units: studio.Units, Faces: stepFaces}
	var err error
	if p.Others, err = s.store.Recipes(ctx); err != nil {
		return p, err
	}
	p.Others = slices.DeleteFunc(p.Others, func(x studio.Recipe) bool { return x.ID == f.ID })
	if p.Others, err = s.withVersions(ctx, p.Others, f.OverID); err != nil {
		return p, err
	}
	if p.Supplies, p.Chambers, err = s.offered(ctx, f.Steps); err != nil {
		return p, err
	}
	p.Form = f
	return p, nil
}

// withVersions adds the versions that a form has chosen to the latest ones it
// offers, so that an older one is not quietly exchanged for another.
func (s *Server) withVersions(ctx context.Context, recipes []studio.Recipe, chosen ...int64) ([]studio.Recipe, error) {
	for _, id := range chosen {
		if id == 0 || slices.ContainsFunc(recipes, func(x studio.Recipe) bool { return x.Latest.ID == id }) {
			continue
		}
		v, err := s.store.Version(ctx, id)
		if err != nil {
			return nil, err
		}
		x, err := s.store.Recipe(ctx, v.RecipeID)
		if err != nil {
			return nil, err
		}
		x.Latest = v
		recipes = append(recipes, x)
	}
	return recipes, nil
}

// offered returns the supplies and chambers that the steps can choose from: what
// is on the shelf, and what they use already though it is in the bin.
func (s *Server) offered(ctx context.Context, steps []stepForm) ([]studio.Supply, []studio.Chamber, error) {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, nil, err
	}
	chambers, err := s.store.Chambers(ctx)
	if err != nil {
		return nil, nil, err
	}
	for _, t := range steps {
		id, err := strconv.ParseInt(t.Supply, 10, 64)
		if err == nil && !slices.ContainsFunc(supplies, func(x studio.Supply) bool { return x.ID == id }) {
			if x, err := s.store.Supply(ctx, id); err == nil {
				supplies = append(supplies, x)
			}
		}
		id, err = strconv.ParseInt(t.Where, 10, 64)
		if err == nil && !slices.ContainsFunc(chambers, func(x studio.Chamber) bool { return x.ID == id }) {
			if x, err := s.store.Chamber(ctx, id); err == nil {
				chambers = append(chambers, x)
			}
		}
	}
	return supplies, chambers, nil
}

func (s *Server) newRecipe(w http.ResponseWriter, r *http.Request) error {
	f := recipeForm{form: readForm(r)}
	for _, k := range []studio.StepKind{studio.Degrease, studio.Abrade, studio.Rinse, studio.Wet, studio.Sprinkle, studio.Fume, studio.Rinse, studio.Dry} {
		f.Steps = append(f.Steps, stepForm{Kind: string(k), Unit: string(studio.GramPerM2)})
	}
	p, err := s.fillRecipeForm(r, f)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "recipe_edit", p)
	return nil
}

func (s *Server) editRecipe(w http.ResponseWriter, r *http.Request) error {
	rec, v, err := s.versionAsked(r)
	if err != nil {
		return err
	}
	f := recipeForm{form: readForm(r), ID: rec.ID, Name: rec.Name, OverID: v.OverID, OverState: string(v.Over)}
	for _, step := range v.Steps {
		f.Steps = append(f.Steps, typed(step))
	}
	p, err := s.fillRecipeForm(r, f)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "recipe_edit", p)
	return nil
}

// typed writes a step as it would be typed into the form.
func typed(step studio.Step) stepForm {
	spanText := func(d time.Duration) string {
		if d == 0 {
			return ""
		}
		return studio.Span(d)
	}
	t := stepForm{Kind: string(step.Kind), Unit: string(step.Amount.Unit), Tool: step.Tool, Note: step.Note,
		Time: spanText(step.Duration), Early: spanText(step.Early), Late: spanText(step.Late), Where: step.Place, Faces: string(step.Faces)}
	if t.Unit == "" {
		t.Unit = string(studio.GramPerM2)
	}
	switch {
	case step.SupplyID != 0:
		t.Supply = strconv.FormatInt(step.SupplyID, 10)
	case step.Material != "":
		t.Supply, t.Mix = asMixed, writeMixed(step)
	}
	if step.ChamberID != 0 {
		t.Where = strconv.FormatInt(step.ChamberID, 10)
	}
	switch {
	case step.Amount.Hand != "":
		t.Amount = step.Amount.Hand
	case step.Amount.Value != 0:
		t.Amount = number(step.Amount.Value, 3)
	}
	return t
}

// readSteps takes the step lines of the form; lines without a kind are left out.
func (f *recipeForm) readSteps(r *http.Request) {
	at := func(name string, i int) string {
		if v := f.values[name]; i < len(v) {
			return strings.TrimSpace(v[i])
		}
		return ""
	}
	for i := range f.values["kind"] {
		f.Steps = append(f.Steps, stepForm{
			Kind: at("kind", i), Supply: at("supply", i), Amount: at("amount", i), Unit: at("unit", i), Time: at("time", i),
			Early: at("early", i), Late: at("late", i), Where: at("where", i), Tool: at("tool", i), Note: at("stepnote", i), Faces: at("faces", i), Mix: at("mix", i),
		})
	}
}

// steps turns the lines into steps; what can't be read is said at the step. The
// problems of a step stand under its number on the form, counted with those left out.
func (f *recipeForm) steps(supplies []studio.Supply) []studio.Step {
	var out []studio.Step
	for i, t := range f.Steps {
		if t.Kind == "" {
			continue
		}
		field := fmt.Sprintf("step%d", i+1)
		step := studio.Step{Kind: studio.StepKind(t.Kind), Tool: f.tool(t.Tool), Note: t.Note}
		for _, c := range stepFaces {
			if t.Faces == c.Key {
				step.Faces = studio.Faces(c.Key)
			}
		}
		for _, x := range []struct {
			text string
			to   *time.Duration
		}{{t.Time, &step.Duration}, {t.Early, &step.Early}, {t.Late, &step.Late}} {
			d, err := span(f.typed(x.text, language.Times))
			if err != nil {
				f.say(field, "%s.", capital(err.Error()))
			}
			*x.to = d
		}
		if id, err := strconv.ParseInt(t.Supply, 10, 64); err == nil {
			for _, sup := range supplies {
				if sup.ID == id {
					step.SupplyID, step.Material, step.Strength = sup.ID, sup.Material, strengthOf(sup)
				}
			}
		}
		if t.Supply == asMixed && t.Mix != "" {
			readMixed(t.Mix, &step)
		}
		switch word := strings.ToLower(f.typed(t.Amount, language.HandWords)); {
		case word == "":
		case slices.Contains(studio.HandWords, word):
			// the number behind the word is looked up when a swatch is planned,
			// so that a hand weighed later is used
			step.Amount = studio.Amount{Hand: word, Unit: studio.Unit(t.Unit)}
		default:
			v, err := decimal(t.Amount)
			if err != nil {
				f.say(field, "%q is no amount; write a number, or light, medium or heavy.", t.Amount)
			}
			step.Amount = studio.Amount{Value: v, Unit: studio.Unit(t.Unit)}
		}
		if id, err := strconv.ParseInt(t.Where, 10, 64); err == nil {
			step.ChamberID = id
		} else {
			step.Place = t.Where
		}
		if err := step.Check(i + 1); err != nil {
			if p := studio.ProblemIn(err); p != nil {
				f.say(field, "%s", p.Text)
			}
		}
		out = append(out, step)
	}
	return out
}

// strengthOf is the strength a step keeps: only what makes sense below 100 %.
func strengthOf(sup studio.Supply) float64 {
	if v := sup.WtPercent(); v < 100 {
		return v
	}
	return 0
}

// saveRecipe keeps a new recipe, or a new version of the one in the path.
func (s *Server) saveRecipe(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := recipeForm{form: readForm(r)}
	f.Name, f.Why, f.OverState = f.Val("name"), f.Val("why"), f.Val("overstate")
	f.OverID = f.whole("over", "recipe", 0)
	var rec studio.Recipe
	if r.PathValue("id") != "" {
		id, err := idIn(r, "id")
		if err != nil {
			return err
		}
		if rec, err = s.store.Recipe(ctx, id); err != nil {
			return err
		}
		f.ID = rec.ID
	}
	f.readSteps(r)
	if f.Val("do") == "more" {
		for range 3 {
			f.Steps = append(f.Steps, stepForm{Unit: string(studio.GramPerM2)})
		}
		p, err := s.fillRecipeForm(r, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusOK, "recipe_edit", p)
		return nil
	}
	supplies, _, err := s.offered(ctx, f.Steps)
	if err != nil {
		return err
	}
	v := studio.Version{Steps: f.steps(supplies), OverID: f.OverID, Why: f.Why, Made: s.now().UTC()}
	if v.OverID != 0 {
		v.Over = studio.LayState(f.OverState)
	}
	v.Source = rec.Latest.Source
	if f.Name == "" {
		f.say("name", "Give it a name, so that it can be found again.")
	}
	if f.ok() {
		// a recipe that must never be carried out is not kept
		_, _, problem, err := s.safety(ctx, v, "")
		if err != nil {
			return err
		}
		if problem != nil {
			f.say("", "%s", problem.Text)
		}
	}
	if f.ok() {
		err = v.Check()
		if err == nil {
			if f.ID == 0 {
				rec, err = s.store.AddRecipe(ctx, studio.Recipe{Name: f.Name}, v)
			} else {
				if f.Name != rec.Name {
					err = s.store.RenameRecipe(ctx, rec.ID, f.Name)
				}
				if err == nil {
					_, err = s.store.AddVersion(ctx, rec.ID, v)
				}
			}
		}
		if err := f.blame(err, "name", "over"); err != nil {
			return err
		}
	}
	if !f.ok() {
		p, err := s.fillRecipeForm(r, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusUnprocessableEntity, "recipe_edit", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/recipes/%d", rec.ID), "The recipe is kept.")
}
