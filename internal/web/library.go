package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"

	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/language"
	"aerugo/internal/science"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

func (s *Server) libraryRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /library", s.library)
	s.on(mux, "GET /library/{key}", s.libraryRecipe)
	s.on(mux, "POST /library/{key}/plan", s.planFromLibrary)
}

// useMark is who may carry out a recipe, as a shape and a word.
type useMark struct {
	Sign, Word string
	Use        published.Use
}

// useMarks by use, the most open first.
var useMarks = []useMark{{"○", "For a class", published.ForClass}, {"◐", "Teacher only", published.ByTeacher}, {"■", "For the record only", published.ForRecord}}

func markOf(u published.Use) useMark {
	return useMarks[slices.Index(published.Uses, u)]
}

// libraryPage lists the published recipes that were asked for.
type libraryPage struct {
	Frame
	*form
	Hits            []libraryHit
	All             int
	Metals, Colours []string
	Uses            []useMark
	Asked           bool
}

type libraryHit struct {
	published.Recipe
	Mark    useMark
	Missing string
}

func (s *Server) library(w http.ResponseWriter, r *http.Request) error {
	p := libraryPage{Frame: s.frame(r, "Published recipes", "recipes"), form: readForm(r), All: len(published.All()),
		Metals: published.MetalWords, Colours: published.ColourWords, Uses: useMarks}
	have, err := s.onShelf(r.Context())
	if err != nil {
		return err
	}
	q := published.Query{Words: p.typed(p.Val("q"), language.Ingredients, language.LookWords, language.SeenWords), Metal: p.Val("metal"), Colour: p.Val("colour"), Use: published.Use(p.Val("use")), Heat: p.Val("heat"),
		NoAmmonia: p.Val("noammonia") != "", OnShelf: p.Val("shelf") != "", Have: have}
	if l := p.form.in; q.Words != "" && l != nil && l != language.English {
		q.Read = libraryIn(l)
	}
	for _, h := range published.Search(q) {
		p.Hits = append(p.Hits, libraryHit{h.Recipe, markOf(h.Recipe.Use), strings.Join(h.Missing, ", ")})
	}
	p.Asked = len(p.Hits) < p.All
	s.show(w, http.StatusOK, "library", p)
	return nil
}

// libraryIn is what each published recipe says of itself in l.
func libraryIn(l *language.Language) []string {
	var out []string
	for _, x := range published.All() {
		texts := []string{l.Say(x.Name), l.Say(x.Look), l.Say(x.Metal), l.Say(x.Method)}
		for _, colour := range x.Colours {
			texts = append(texts, l.Say(colour))
		}
		for _, i := range x.Ingredients {
			texts = append(texts, l.Say(i.Name), l.Say(i.Note))
			for _, key := range []string{i.Substance, i.Or} {
				if s, ok := matter.Lookup(key); ok {
					texts = append(texts, l.Say(s.Name))
					for _, name := range s.Also {
						if said := l.Say(name); said != name {
							texts = append(texts, said)
						}
					}
				}
			}
		}
		for _, step := range x.Steps {
			texts = append(texts, l.Say(step.Kind), l.Say(step.Tool), l.Say(step.Note))
		}
		out = append(out, strings.Join(texts, " "))
	}
	return out
}

// dissolved reports whether a supply is a solution of what a recipe weighs dry.
func dissolved(x studio.Supply) bool {
	return published.Dry(x.Material) && x.StrengthUnit != studio.Pure
}

// onShelf names the materials on the shelf that a recipe can be made of.
func (s *Server) onShelf(ctx context.Context) ([]string, error) {
	supplies, err := s.store.Supplies(ctx)
	var have []string
	for _, x := range supplies {
		if !dissolved(x) {
			have = append(have, x.Material)
		}
	}
	return have, err
}

// libraryRecipePage shows one published recipe.
type libraryRecipePage struct {
	Frame
	*form
	Recipe  published.Recipe
	Mark    useMark
	Clashes []matter.Clash
	Care    []matter.Caution // the first lines
	More    []matter.Caution // and the rest, folded
	Parts   []libraryPart
	Steps   []stepView
	Origin  string
	Stop    string // why it can't be planned or mixed here, empty if it can
	NoMix   string // why no batch can be reckoned
	Batch   []published.Weighed
	Of      string
	Unit    string
	Place   placeForm
	Begun   []studio.Recipe // recipes of one's own that were begun from it
}

// cautionsShown is how many cautions stand open; the worst come first.
const cautionsShown = 6

// libraryPart is one line of what goes in.
type libraryPart struct {
	published.Ingredient
	PerBase string
	Strange bool   // not known here
	Shelf   string // what of it is on the shelf
}

// libraryAsked returns the published recipe in the path.
func libraryAsked(r *http.Request) (published.Recipe, error) {
	x, ok := published.ByKey(r.PathValue("key"))
	if !ok {
		return x, studio.Problemf(studio.NotFound, "", "There is no published recipe %q here.", r.PathValue("key"))
	}
	return x, nil
}

func (s *Server) libraryRecipe(w http.ResponseWriter, r *http.Request) error {
	x, err := libraryAsked(r)
	if err != nil {
		return err
	}
	p, err := s.fillLibrary(r, x)
	if err != nil {
		return err
	}
	code := http.StatusOK
	if !p.ok() {
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "library_recipe", p)
	return nil
}

// fillLibrary gathers what stands on the page of a published recipe.
func (s *Server) fillLibrary(r *http.Request, x published.Recipe) (libraryRecipePage, error) {
	ctx := r.Context()
	p := libraryRecipePage{Frame: s.frame(r, x.Name, "recipes"), form: readForm(r), Recipe: x, Mark: markOf(x.Use), Clashes: x.Clashes(), Origin: plan.Origin(x),
		Of: x.BatchOf(), Unit: string(x.BatchUnit())}
	care := x.Cautions()
	p.Care, p.More = care[:min(cautionsShown, len(care))], care[min(cautionsShown, len(care)):]
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return p, err
	}
	for _, i := range x.Ingredients {
		part := libraryPart{Ingredient: i, PerBase: x.PerBase(i), Strange: !i.Known()}
		var have []string
		for _, y := range supplies {
			if y.Material == i.Substance || i.Or != "" && y.Material == i.Or || i.Substance == "water" && y.Material == "distilled-water" {
				name := y.Name
				if dissolved(y) {
					name += " (dissolved already: it can't be weighed out dry)"
				}
				have = append(have, name)
			}
		}
		part.Shelf = strings.Join(have, ", ")
		p.Parts = append(p.Parts, part)
	}
	if p.Place.Rooms, err = s.store.Rooms(ctx); err != nil {
		return p, err
	}
	p.Place.Room, p.Place.Class = p.whole("room", "room", 0), studio.ClassOf(p.Val("class"))
	all, err := s.store.Recipes(ctx)
	if err != nil {
		return p, err
	}
	p.Begun = slices.DeleteFunc(all, func(own studio.Recipe) bool { return own.Latest.Source != x.Key })

	v, err := plan.FromLibrary(x, supplies)
	if problem := studio.ProblemIn(err); problem != nil {
		p.Stop = problem.Text
		return p, nil
	} else if err != nil {
		return p, err
	}
	if p.Steps, err = s.stepViews(ctx, v.Steps); err != nil {
		return p, err
	}
	if _, problem := plan.Safety([]studio.Version{v}, supplies, studio.Metal{}); problem != nil {
		p.Stop = problem.Text
		return p, nil
	}
	if can, why := x.CanMix(); !can {
		p.NoMix = why
		return p, nil
	}
	if p.Val("amount") == "" {
		return p, nil
	}
	amount := p.number("amount", "amount", p.Unit, 0)
	if p.ok() {
		var out *science.RangeError
		if p.Batch, err = x.Batch(amount); errors.As(err, &out) {
			p.say("amount", "%s %s can't be mixed; write a number above 0 and at most %s.", number(out.Got, 2), p.Unit, number(out.Max, 0))
		} else if err != nil {
			return p, err
		}
	}
	return p, nil
}

// planFromLibrary is POST /library/{key}/plan: it makes a recipe of one's own and
// goes on to plan a set with it.
func (s *Server) planFromLibrary(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	x, err := libraryAsked(r)
	if err != nil {
		return err
	}
	p, err := s.fillLibrary(r, x)
	if err != nil {
		return err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return err
	}
	v, err := plan.FromLibrary(x, supplies)
	if err == nil {
		err = s.mayPlan(x, v, p.Place, supplies)
	}
	if err := p.blame(err); err != nil {
		return err
	}
	if !p.ok() {
		p.onTop("amount")
		s.show(w, http.StatusUnprocessableEntity, "library_recipe", p)
		return nil
	}
	var own studio.Recipe
	for _, b := range p.Begun {
		if reflect.DeepEqual(b.Latest.Steps, v.Steps) {
			own = b // asked twice, or nothing changed since: not a second one
		}
	}
	said := "It is among your recipes already. Choose what to vary."
	if own.ID == 0 {
		v.Made = s.now().UTC()
		if own, err = s.store.AddRecipe(ctx, studio.Recipe{Name: x.Name}, v); err != nil {
			return err
		}
		said = "It is among your recipes now. Choose what to vary."
		s.live.changed()
	}
	to := url.Values{"front": {fmt.Sprint(own.Latest.ID)}}
	if i := plan.LongestStep(own.Latest); i >= 0 {
		to.Set("step0", fmt.Sprint(i))
	}
	if p.Place.Class != studio.NoClass {
		to.Set("class", string(p.Place.Class))
	}
	if p.Place.Room != 0 {
		to.Set("room", fmt.Sprint(p.Place.Room))
	}
	return backSaying(w, r, "/sets/new?"+to.Encode(), said)
}

// mayPlan asks, for a version made from the library, all that is asked of a set.
func (s *Server) mayPlan(x published.Recipe, v studio.Version, where placeForm, supplies []studio.Supply) error {
	if err := where.Class.Check(); err != nil {
		return err
	}
	if problem := notForClass(x, where.Class); problem != nil {
		return problem
	}
	place := plan.PlaceOf(studio.Set{Class: where.Class, RoomID: where.Room}, where.Rooms)
	if _, problem := place.Allow([]studio.Treatment{{Swatch: 1, Faces: studio.OnBoth, Layer: 1, Steps: v.Steps}}, supplies, studio.Metal{}); problem != nil {
		return problem
	}
	return nil
}

// notForClass refuses a class what only a teacher may do, whatever was changed
// in the recipe since: the changes may have been small.
func notForClass(x published.Recipe, class studio.ClassOf) *studio.Problem {
	if class == studio.NoClass || x.Use == published.ForClass {
		return nil
	}
	return studio.Problemf(studio.Unsafe, "", "%s is for the teacher alone, so it is not made for %s: %s. Show a finished swatch, or choose a recipe marked for a class.", x.Name, class.Words(), strings.TrimSuffix(x.Why, "."))
}

// inRightHands refuses a class the treatments whose recipe began as a published
// one that only a teacher may do.
func (s *Server) inRightHands(ctx context.Context, class studio.ClassOf, ts []studio.Treatment) (*studio.Problem, error) {
	if class == studio.NoClass {
		return nil, nil
	}
	seen := map[int64]bool{0: true}
	for _, t := range ts {
		if seen[t.VersionID] {
			continue
		}
		seen[t.VersionID] = true
		v, err := s.store.Version(ctx, t.VersionID)
		if err != nil {
			return nil, err
		}
		if x, ok := published.ByKey(v.Source); ok {
			if problem := notForClass(x, class); problem != nil {
				return problem, nil
			}
		}
	}
	return nil, nil
}

// inClass is inRightHands for a treatment about to begin.
func (s *Server) inClass(ctx context.Context, e run.Entry) error {
	set, err := s.store.Set(ctx, e.Swatch.SetID)
	if err != nil || set.Class == studio.NoClass {
		return err
	}
	problem, err := s.inRightHands(ctx, set.Class, []studio.Treatment{e.Treatment})
	if problem != nil {
		return problem
	}
	return err
}

// begunFrom says which published recipe a version was begun from, and what is
// different since; nil where there is none.
type begunFrom struct {
	Recipe  published.Recipe
	Mark    useMark
	Origin  string
	Changed []string
}

func (s *Server) begunFrom(ctx context.Context, v studio.Version) (*begunFrom, error) {
	x, ok := published.ByKey(v.Source)
	if !ok {
		return nil, nil
	}
	b := &begunFrom{Recipe: x, Mark: markOf(x.Use), Origin: plan.Origin(x)}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	if first, err := plan.FromLibrary(x, supplies); err == nil {
		b.Changed = plan.Changed(first.Steps, v.Steps)
	}
	return b, nil
}
