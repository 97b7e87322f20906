package web

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/evidence"
	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) evidenceRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /treatments/{id}/recipe", s.keepSwatch)
	s.on(mux, "POST /recipes/{id}/tolerances", s.keepTolerances)
	s.on(mux, "POST /recipes/{id}/again", s.versionAgain)
}

// madeFace is one finished face that a version made.
type madeFace struct {
	evidence.Made
	Face      studio.Face
	Photo     int64
	Name      string // of its colour
	Settings  string
	Metal     string
	metal     int64
	treatment studio.Treatment
}

// tried is what was done with recipes so far, by version.
type tried struct {
	faces  map[int64][]madeFace // finished and measured with a grey card
	begun  map[int64][]folded   // all that were begun
	metals map[int64]string     // by swatch
}

// triedWith gathers what every version made.
func (s *Server) triedWith(ctx context.Context) (tried, error) {
	t := tried{map[int64][]madeFace{}, map[int64][]folded{}, map[int64]string{}}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return t, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return t, err
	}
	by := map[int64]studio.Swatch{}
	metals := map[int64]string{}
	for _, x := range swatches {
		by[x.Number] = x
		if _, ok := metals[x.MetalID]; !ok {
			m, err := s.metalOf(ctx, x.MetalID)
			if err != nil {
				return t, err
			}
			metals[x.MetalID] = m.Name
		}
		t.metals[x.Number] = metals[x.MetalID]
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return t, err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return t, err
	}
	var stays []fume.Stay
	in := map[faceKey]map[int64]fume.Stay{}
	layers := map[int64][]studio.Treatment{}
	for _, f := range folds {
		x, ok := by[f.Treatment.Swatch]
		if !ok {
			continue // in the bin
		}
		layers[x.Number] = append(layers[x.Number], f.Treatment)
		if !slices.ContainsFunc(f.Treatment.Steps, func(x studio.Step) bool { return x.Kind == studio.Fume }) {
			continue
		}
		for _, stay := range fume.StaysOf(fume.Job{Treatment: f.Treatment, Swatch: x, Record: f.Record}, supplies, s.now()) {
			if !stay.Began || stay.Going {
				continue
			}
			stays = append(stays, stay)
			key := faceKey{stay.Swatch, stay.Face}
			if in[key] == nil {
				in[key] = map[int64]fume.Stay{}
			}
			if _, had := in[key][f.Treatment.ID]; !had {
				in[key][f.Treatment.ID] = stay
			}
		}
	}
	runs := runsOf(stays)
	for _, f := range folds {
		tr := f.Treatment
		x, ok := by[tr.Swatch]
		if !ok || tr.VersionID == 0 || tr.Blank || f.Record.Status == run.Planned {
			continue
		}
		t.begun[tr.VersionID] = append(t.begun[tr.VersionID], f)
		for _, face := range studio.BothFaces {
			look, ok := looks[faceKey{tr.Swatch, face}]
			if !ok || !tr.Faces.Has(face) || f.Record.Status != run.Finished || look.Moment != studio.Finished || look.Measurement == nil || !look.Measurement.Calibrated {
				continue
			}
			if slices.ContainsFunc(layers[tr.Swatch], func(o studio.Treatment) bool { return o.Layer > tr.Layer && o.Faces.Has(face) }) {
				continue // what shows is what was laid over it
			}
			m := madeFace{Face: face, Photo: look.Photo, Name: look.Measurement.Name, Settings: settingsText(tr.Settings), Metal: metals[x.MetalID], metal: x.MetalID, treatment: tr}
			m.Made = evidence.Made{Swatch: tr.Swatch, At: f.Record.Began, Lab: look.Measurement.Lab, Coverage: math.NaN()}
			if c := look.Measurement.Coverage; c != nil {
				m.Coverage = c.Value
			}
			if stay, ok := in[faceKey{tr.Swatch, face}][tr.ID]; ok {
				m.Filling, m.Day = runs[stayKey(stay)], localDay(stay.In)
			} else if !f.Record.Began.IsZero() {
				m.Filling, m.Day = "at the bench", localDay(f.Record.Began)
			}
			m.Kind = kindOf(x.MetalID, face, tr, layers[tr.Swatch])
			t.faces[tr.VersionID] = append(t.faces[tr.VersionID], m)
		}
	}
	return t, nil
}

// kindOf names what faces made alike have in common: metal, and all that was put on and
// done, in whichever filling.
func kindOf(metal int64, face studio.Face, t studio.Treatment, layers []studio.Treatment) string {
	var b strings.Builder
	fmt.Fprint(&b, metal, " ", face)
	for _, o := range layers {
		if o.ID != t.ID && (o.Layer >= t.Layer || !o.Faces.Has(face)) {
			continue
		}
		fmt.Fprint(&b, " | ", o.Layer, o.Over, o.Faces)
		for _, s := range o.Steps {
			fmt.Fprint(&b, "; ", s.Kind, s.Material, s.Strength, s.Also, s.Amount.Value, s.Amount.Unit, s.Tool, s.Faces, s.Duration)
		}
	}
	return b.String()
}

// oneFace keeps one face of each swatch, that of which most are known: both went through
// the same hands.
func oneFace(all []madeFace) []evidence.Made {
	count := map[studio.Face]int{}
	for _, m := range all {
		count[m.Face]++
	}
	face := studio.Front
	if count[studio.Back] > count[studio.Front] {
		face = studio.Back
	}
	var out []evidence.Made
	for _, m := range all {
		if m.Face == face {
			out = append(out, m.Made)
		}
	}
	return out
}

// madeRow is the faces made at one setting on one metal.
type madeRow struct {
	Title string
	Faces []madeFace
	More  int
}

// How many pictures of one setting, and how many settings, are shown unasked.
const (
	mostInRow = 6
	mostRows  = 4
)

func rowsOf(all []madeFace) []madeRow {
	var out []madeRow
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b madeFace) int {
		if by := cmp.Compare(a.Metal, b.Metal); by != 0 {
			return by
		}
		return slices.CompareFunc(a.treatment.Settings, b.treatment.Settings, func(x, y studio.Setting) int {
			return cmp.Or(cmp.Compare(x.Factor, y.Factor), cmp.Compare(x.Level.Number, y.Level.Number), cmp.Compare(x.Level.Label, y.Level.Label))
		})
	})
	for _, m := range all {
		title := m.Metal
		if m.Settings != "" {
			title = m.Settings + ", on " + m.Metal
		} else {
			title = "as written, on " + m.Metal
		}
		i := slices.IndexFunc(out, func(r madeRow) bool { return r.Title == title })
		if i < 0 {
			i, out = len(out), append(out, madeRow{Title: title})
		}
		if len(out[i].Faces) < mostInRow {
			out[i].Faces = append(out[i].Faces, m)
		} else {
			out[i].More++
		}
	}
	return out
}

// evidenceView is what a version's page says of what is known.
type evidenceView struct {
	Rows     []madeRow
	MoreRows []madeRow
	Tried    string
	Words    []string
	Tight    []evidence.Care
	Free     []evidence.Care
	Unsure   []evidence.Care
	Never    string
	Suggest  string // the tolerances that would be put in
	Others   []int64
	Line     string
	repeat   evidence.Repeat
	cares    []evidence.Care
}

// evidenceOf gathers what is known of a version.
func (s *Server) evidenceOf(ctx context.Context, t tried, v studio.Version, versions []studio.Version) (evidenceView, error) {
	var e evidenceView
	mine := t.faces[v.ID]
	if e.Rows = rowsOf(mine); len(e.Rows) > mostRows+1 {
		e.Rows, e.MoreRows = e.Rows[:mostRows], e.Rows[mostRows:]
	}
	e.repeat = evidence.RepeatOf(oneFace(mine))
	if len(mine) > 0 {
		e.Words, e.Line = e.repeat.Words(), e.repeat.Line()
	}
	e.Tried = standingOf(t, []int64{v.ID})
	for _, o := range versions {
		for _, f := range t.begun[o.ID] {
			if o.ID != v.ID && !slices.Contains(e.Others, f.Treatment.Swatch) {
				e.Others = append(e.Others, f.Treatment.Swatch)
			}
		}
	}
	slices.Sort(e.Others)
	effects, err := s.effectsOn(ctx, versions)
	if err != nil {
		return e, err
	}
	e.cares = evidence.Mind(v.Steps, effects)
	var never []string
	for _, c := range e.cares {
		switch c.Stands {
		case evidence.Tight:
			e.Tight = append(e.Tight, c)
		case evidence.Free:
			e.Free = append(e.Free, c)
		case evidence.Unsure:
			e.Unsure = append(e.Unsure, c)
		default:
			never = append(never, "the "+c.What)
		}
	}
	if len(never) > 0 {
		e.Never = "Not known, as it was never varied: " + strings.Join(never, "; ") + "."
	}
	steps, changed := evidence.Tolerances(v.Steps, e.cares)
	var suggest []string
	for _, i := range changed {
		suggest = append(suggest, fmt.Sprintf("step %d (%s) %s sooner to %s later", i+1, steps[i].Kind, studio.Span(steps[i].Early), studio.Span(steps[i].Late)))
	}
	e.Suggest = strings.Join(suggest, "; ")
	return e, nil
}

// effectsOn is what the sets showed that used these versions, or those of the recipe
// that a version's swatch was made with.
func (s *Server) effectsOn(ctx context.Context, versions []studio.Version) ([]evidence.Effect, error) {
	for _, v := range slices.Clone(versions) {
		ref, ok := evidence.ReferenceIn(v)
		if !ok {
			continue
		}
		ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Swatch: ref.Swatch})
		if err != nil {
			return nil, err
		}
		for _, t := range ts {
			if t.VersionID == 0 || t.Faces != ref.Faces || slices.ContainsFunc(versions, func(o studio.Version) bool { return o.ID == t.VersionID }) {
				continue
			}
			from, err := s.store.Version(ctx, t.VersionID)
			if err != nil {
				return nil, err
			}
			more, err := s.store.Versions(ctx, from.RecipeID)
			if err != nil {
				return nil, err
			}
			versions = append(slices.Clone(versions), more...)
		}
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return nil, err
	}
	var out []evidence.Effect
	for _, set := range sets {
		i := slices.IndexFunc(versions, func(v studio.Version) bool { return v.ID == set.FrontID })
		if i < 0 || len(set.Factors) == 0 {
			continue
		}
		rows, err := s.rows(ctx, set, false)
		if err != nil {
			return nil, err
		}
		if len(rows) > 0 {
			out = append(out, evidence.EffectsOf(set, versions[i].Steps, learn.Explain(set, rows).Claims)...)
		}
	}
	return out, nil
}

// standingOf says how often versions were tried, on what and when last.
func standingOf(t tried, versions []int64) string {
	swatches, metals := map[int64]bool{}, []string{}
	var first, last time.Time
	for _, id := range versions {
		for _, f := range t.begun[id] {
			swatches[f.Treatment.Swatch] = true
			if m := t.metals[f.Treatment.Swatch]; m != "" && !slices.Contains(metals, m) {
				metals = append(metals, m)
			}
			if at := f.Record.Began; !at.IsZero() {
				if first.IsZero() || at.Before(first) {
					first = at
				}
				if at.After(last) {
					last = at
				}
			}
		}
	}
	if len(swatches) == 0 {
		return ""
	}
	slices.Sort(metals)
	text := fmt.Sprintf("Tried on %d swatches", len(swatches))
	if len(swatches) == 1 {
		text = "Tried on 1 swatch"
	}
	if len(metals) > 0 {
		text += " of " + strings.Join(metals, ", ")
	}
	switch {
	case last.IsZero():
	case localDay(first) == localDay(last):
		text += ", on " + localDay(last)
	default:
		text += ", since " + localDay(first) + ", last on " + localDay(last)
	}
	return text + "."
}

// newest returns the faces made last, one of each swatch.
func newest(all []madeFace, n int) []madeFace {
	sorted := slices.Clone(all)
	slices.SortStableFunc(sorted, func(a, b madeFace) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.Swatch, a.Swatch)) })
	var out []madeFace
	for _, m := range sorted {
		if len(out) < n && !slices.ContainsFunc(out, func(o madeFace) bool { return o.Swatch == m.Swatch }) {
			out = append(out, m)
		}
	}
	return out
}

// diffView is what two versions do otherwise.
type diffView struct {
	From, To versionChoice
	Changes  []evidence.Change
	Over     string
	Shift    string
	Doubt    string
}

type versionChoice struct {
	ID    int64
	Label string
}

// diffOf compares two versions in words, and what they made.
func (s *Server) diffOf(ctx context.Context, t tried, from, to studio.Version) (*diffView, error) {
	d := &diffView{}
	supplies, err := s.supplyNames(ctx)
	if err != nil {
		return nil, err
	}
	chambers, err := s.chamberNames(ctx)
	if err != nil {
		return nil, err
	}
	d.Changes = evidence.Diff(from.Steps, to.Steps, evidence.Names{Supplies: supplies, Chambers: chambers})
	for _, x := range []struct {
		v  studio.Version
		to *versionChoice
	}{{from, &d.From}, {to, &d.To}} {
		link, err := s.recipeLink(ctx, x.v.ID)
		if err != nil {
			return nil, err
		}
		*x.to = versionChoice{x.v.ID, link.Name}
	}
	if from.OverID != to.OverID || from.Over != to.Over {
		was, is := "bare metal", "bare metal"
		if from.OverID != 0 {
			if link, err := s.recipeLink(ctx, from.OverID); err == nil {
				was = link.Name + ", " + string(from.Over)
			}
		}
		if to.OverID != 0 {
			if link, err := s.recipeLink(ctx, to.OverID); err == nil {
				is = link.Name + ", " + string(to.Over)
			}
		}
		d.Over = "lies over " + is + " instead of " + was
	}
	var best evidence.Shift
	for _, face := range studio.BothFaces {
		byMetal := map[int64][2][]evidence.Made{}
		for side, v := range []studio.Version{from, to} {
			for _, m := range t.faces[v.ID] {
				if m.Face == face && evidence.AsWritten(v.Steps, m.treatment.Steps) {
					pair := byMetal[m.metal]
					pair[side] = append(pair[side], m.Made)
					byMetal[m.metal] = pair
				}
			}
		}
		for _, pair := range byMetal {
			if x, ok := evidence.ShiftOf(pair[0], pair[1]); ok && min(x.From, x.To) > min(best.From, best.To) {
				best = x
			}
		}
	}
	d.Shift, d.Doubt = best.Words, best.Doubt
	if d.Shift == "" {
		d.Shift = "The change of look is not known: both have to be made on the same metal, just as they are written, and measured with a grey card."
	}
	return d, nil
}

// lineageOf draws what came from what.
func (s *Server) lineageOf(ctx context.Context, recipe, version int64) (evidence.Graph, template.HTML, error) {
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		return evidence.Graph{}, "", err
	}
	if !slices.ContainsFunc(recipes, func(x studio.Recipe) bool { return x.ID == recipe }) {
		x, err := s.store.Recipe(ctx, recipe) // in the bin
		if err != nil {
			return evidence.Graph{}, "", err
		}
		recipes = append(recipes, x)
	}
	names := map[int64]string{}
	var all []studio.Version
	have := map[int64]bool{}
	for _, x := range recipes {
		names[x.ID] = x.Name
		vs, err := s.store.Versions(ctx, x.ID)
		if err != nil {
			return evidence.Graph{}, "", err
		}
		all = append(all, vs...)
	}
	for _, v := range all {
		have[v.ID] = true
	}
	for i := 0; i < len(all); i++ { // what lies below, though it is in the bin
		id := all[i].OverID
		if id == 0 || have[id] {
			continue
		}
		v, err := s.store.Version(ctx, id)
		if err != nil {
			return evidence.Graph{}, "", err
		}
		x, err := s.store.Recipe(ctx, v.RecipeID)
		if err != nil {
			return evidence.Graph{}, "", err
		}
		have[id], names[x.ID] = true, x.Name
		all = append(all, v)
	}
	g := evidence.Lineage(recipe, all, names)
	return g, lineageDrawing(g, version), nil
}

// keptFrom is the swatch a version was kept from.
type keptFrom struct {
	Swatch int64
	Faces  studio.Faces
	Photos []madeFace
}

func (s *Server) referenceOf(ctx context.Context, v studio.Version) (*keptFrom, error) {
	ref, ok := evidence.ReferenceIn(v)
	if !ok {
		return nil, nil
	}
	if _, err := s.store.Swatch(ctx, ref.Swatch); err != nil {
		return nil, nil // a person wrote it, of a swatch that is not here
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return nil, err
	}
	out := &keptFrom{Swatch: ref.Swatch, Faces: ref.Faces}
	for _, face := range studio.BothFaces {
		look, ok := looks[faceKey{ref.Swatch, face}]
		if !ok || !ref.Faces.Has(face) {
			continue
		}
		m := madeFace{Face: face, Photo: look.Photo, Made: evidence.Made{Swatch: ref.Swatch}}
		if look.Measurement != nil {
			m.Name, m.Lab = look.Measurement.Name, look.Measurement.Lab
		}
		out.Photos = append(out.Photos, m)
	}
	return out, nil
}

// keepSwatch is POST /treatments/{id}/recipe: a swatch as it was really run becomes a
// new version of its recipe, or with as=own a recipe of its own.
func (s *Server) keepSwatch(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return err
	}
	i := slices.IndexFunc(folds, func(f folded) bool { return f.Treatment.ID == id })
	if i < 0 {
		return studio.Problemf(studio.NotFound, "", "There is no such treatment.")
	}
	f := folds[i]
	t := f.Treatment
	var below *studio.Treatment
	for _, o := range folds {
		if o.Treatment.Swatch == t.Swatch && o.Treatment.Layer == t.Layer-1 && (o.Treatment.Faces == t.Faces || o.Treatment.Faces == studio.OnBoth) {
			below = &o.Treatment
		}
	}
	kept, err := evidence.FromSwatch(t, f.Record, below)
	if err != nil {
		return err
	}
	v := kept.Version
	v.Made = s.now().UTC()
	name := fmt.Sprintf("As swatch %d, %s", t.Swatch, facesWord(t.Faces))
	var recipe int64
	if t.VersionID != 0 {
		was, err := s.store.Version(ctx, t.VersionID)
		if err != nil {
			return err
		}
		rec, err := s.store.Recipe(ctx, was.RecipeID)
		if err != nil {
			return err
		}
		v.Source, name = was.Source, fmt.Sprintf("%s, as swatch %d, %s", rec.Name, t.Swatch, facesWord(t.Faces))
		if r.FormValue("as") != "own" && rec.BinnedAt.IsZero() {
			recipe = rec.ID
		}
		versions, err := s.store.Versions(ctx, rec.ID)
		if err != nil {
			return err
		}
		effects, err := s.effectsOn(ctx, versions)
		if err != nil {
			return err
		}
		v.Steps, _ = evidence.Tolerances(v.Steps, evidence.Mind(v.Steps, effects))
		// sent twice, it is kept once
		for _, o := range versions {
			if recipe != 0 && o.ID == rec.Latest.ID && o.Why == v.Why && len(evidence.Diff(o.Steps, v.Steps, evidence.Names{})) == 0 {
				return backSaying(w, r, fmt.Sprintf("/recipes/%d?v=%d", recipe, o.ID), fmt.Sprintf("That is version %d already.", o.Number))
			}
		}
	}
	if _, _, problem, err := s.safety(ctx, v, ""); err != nil {
		return err
	} else if problem != nil {
		return problem
	}
	said := ""
	if recipe != 0 {
		if v, err = s.store.AddVersion(ctx, recipe, v); err != nil {
			return err
		}
		said = fmt.Sprintf("Swatch %d, as it was run, is kept as version %d.", t.Swatch, v.Number)
	} else {
		rec, err := s.store.AddRecipe(ctx, studio.Recipe{Name: name}, v)
		if err != nil {
			return err
		}
		recipe, v = rec.ID, rec.Latest
		said = fmt.Sprintf("Swatch %d, as it was run, is kept as a recipe.", t.Swatch)
	}
	if len(kept.Unconfirmed) > 0 {
		said += " Never confirmed: " + strings.Join(kept.Unconfirmed, "; ") + "."
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/recipes/%d?v=%d", recipe, v.ID), said)
}

// keepTolerances is POST /recipes/{id}/tolerances: a new version with the tolerances
// that the swatches suggest.
func (s *Server) keepTolerances(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	rec, v, err := s.versionAsked(r)
	if err != nil {
		return err
	}
	versions, err := s.store.Versions(ctx, rec.ID)
	if err != nil {
		return err
	}
	effects, err := s.effectsOn(ctx, versions)
	if err != nil {
		return err
	}
	steps, changed := evidence.Tolerances(v.Steps, evidence.Mind(v.Steps, effects))
	if len(changed) == 0 {
		return studio.Problemf(studio.Conflict, "", "The swatches suggest no other tolerances than those version %d has.", v.Number)
	}
	v.Steps, v.Made, v.Why = steps, s.now().UTC(), "Tolerances as the swatches showed: within "+strconv.FormatFloat(evidence.Seen, 'f', 0, 64)+" ΔE00"
	kept, err := s.store.AddVersion(ctx, rec.ID, v)
	if err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/recipes/%d?v=%d", rec.ID, kept.ID), fmt.Sprintf("The tolerances are kept as version %d.", kept.Number))
}

// versionAgain is POST /recipes/{id}/again: an older version becomes the newest once
// more, as a version of its own, since nothing kept is ever taken away.
func (s *Server) versionAgain(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	rec, v, err := s.versionAsked(r)
	if err != nil {
		return err
	}
	if v.ID == rec.Latest.ID {
		return studio.Problemf(studio.Conflict, "", "Version %d is the newest already.", v.Number)
	}
	number := v.Number
	v.Made, v.Why = s.now().UTC(), fmt.Sprintf("Back to version %d", number)
	if _, _, problem, err := s.safety(ctx, v, ""); err != nil {
		return err
	} else if problem != nil {
		return problem
	}
	kept, err := s.store.AddVersion(ctx, rec.ID, v)
	if err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/recipes/%d?v=%d", rec.ID, kept.ID), fmt.Sprintf("Version %d is the same as version %d.", kept.Number, number))
}
