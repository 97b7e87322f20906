package web

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) swatchRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /swatches", s.wall)
	s.on(mux, "GET /swatches/{id}", s.swatch)
	s.on(mux, "POST /swatches/{id}/note", s.swatchNote)
	s.on(mux, "POST /swatches/{id}/overlay", s.overlay)
	s.on(mux, "GET /compare", s.compare)
}

// wallPage shows the swatches side by side.
type wallPage struct {
	Frame
	By, Face, Family string
	MetalID, SetID   int64
	Orders           []orderChoice
	Faces            []studio.Face
	Metals           []studio.Metal
	Sets             []studio.Set
	Families         []string
	Groups           []wallGroup
	Any              bool
}

type orderChoice struct{ Key, Label string }

var wallOrders = []orderChoice{{"number", "number"}, {"hue", "hue"}, {"lightness", "lightness"}, {"metal", "metal"}, {"liquid", "liquid"}, {"set", "set"}, {"age", "newest first"}}

type wallGroup struct {
	Name  string
	Tiles []wallTile
}

// wallTile is one face on the wall.
type wallTile struct {
	Swatch     int64
	Face       studio.Face
	Photo      int64
	Measured   bool
	Calibrated bool
	Lab        colour.Lab
	Name       string
	State      string
	Line       string
	Invented   bool
	Beside     []besideTile // faces on the wall that lie in the same photograph
	brick      learn.Brick
}

func (s *Server) wall(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	p := wallPage{Frame: s.frame(r, "Swatches", "swatches"), By: f.Val("by"), Face: f.Val("face"), Family: f.Val("family"),
		MetalID: f.whole("metal", "metal", 0), SetID: f.whole("set", "set", 0), Orders: wallOrders, Faces: studio.BothFaces}
	if p.By == "" {
		p.By = "number"
	}
	var err error
	if p.Metals, err = s.store.Metals(ctx); err != nil {
		return err
	}
	if p.Sets, err = s.store.Sets(ctx); err != nil {
		return err
	}
	tiles, err := s.tiles(ctx, p.Metals, p.Sets)
	if err != nil {
		return err
	}
	p.Any = len(tiles) > 0
	families := map[string]bool{}
	for _, t := range tiles {
		if t.Measured {
			families[colour.Family(t.Lab)] = true
		}
	}
	for name := range families {
		p.Families = append(p.Families, name)
	}
	slices.Sort(p.Families)
	tiles = slices.DeleteFunc(tiles, func(t wallTile) bool {
		return (p.Face != "" && string(t.Face) != p.Face) || (p.MetalID != 0 && t.brick.Swatch.MetalID != p.MetalID) || (p.SetID != 0 && t.brick.Swatch.SetID != p.SetID) ||
			(p.Family != "" && (!t.Measured || colour.Family(t.Lab) != p.Family))
	})
	p.Groups = arrange(tiles, p.By)
	s.show(w, http.StatusOK, "swatches", p)
	return nil
}

// tiles gathers every face for the wall.
func (s *Server) tiles(ctx context.Context, metals []studio.Metal, sets []studio.Set) ([]wallTile, error) {
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, err
	}
	looks, err := s.looksByFace(ctx)
	if err != nil {
		return nil, err
	}
	newest, err := s.store.NewestPhotos(ctx)
	if err != nil {
		return nil, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return nil, err
	}
	metalName, setOf := map[int64]string{}, map[int64]studio.Set{}
	for _, m := range metals {
		metalName[m.ID] = m.Name
	}
	for _, x := range sets {
		setOf[x.ID] = x
	}
	onSwatch := map[int64][]folded{}
	for _, f := range folds {
		onSwatch[f.Treatment.Swatch] = append(onSwatch[f.Treatment.Swatch], f)
	}
	var out []wallTile
	for _, x := range swatches {
		for _, face := range studio.BothFaces {
			t := wallTile{Swatch: x.Number, Face: face, Invented: setOf[x.SetID].Invented, State: "to begin"}
			t.brick = learn.Brick{Swatch: x, Metal: metalName[x.MetalID], Set: setOf[x.SetID].Name, Look: studio.Look{Swatch: x.Number, Face: face, Taken: x.Made}}
			var lines []string
			for _, f := range onSwatch[x.Number] {
				if !f.Treatment.Faces.Has(face) {
					continue
				}
				if text := settingsText(f.Treatment.Settings); text != "" {
					lines = append(lines, text)
				}
				for _, step := range f.Treatment.Steps {
					if step.Material != "" && (step.Kind == studio.Fume || step.Kind == studio.Wet || step.Kind == studio.Bury) {
						t.brick.Liquid = substanceName(step.Material)
					}
				}
				t.State = string(f.Record.Status)
			}
			if len(onSwatch[x.Number]) == 0 {
				t.State = "bare"
				lines = []string{"blank"}
			}
			t.Line = strings.Join(lines, ", then ")
			if t.Line == "" {
				t.Line = metalName[x.MetalID]
			}
			if look, ok := looks[faceKey{x.Number, face}]; ok && look.Measurement != nil {
				t.Photo, t.Measured, t.Calibrated, t.Lab, t.Name = look.Photo, true, look.Measurement.Calibrated, look.Measurement.Lab, look.Measurement.Name
				t.brick.Look = look
			} else if id := newest[store.FaceKey{Swatch: x.Number, Face: face}]; id != 0 {
				t.Photo, t.State = id, "not measured"
			}
			out = append(out, t)
		}
	}
	return out, s.findBeside(ctx, out)
}

// arrange sorts tiles, and groups them under headings where the order has names.
func arrange(tiles []wallTile, by string) []wallGroup {
	if len(tiles) == 0 {
		return nil
	}
	heading := func(wallTile) string { return "" }
	switch by {
	case "metal":
		heading = func(t wallTile) string { return t.brick.Metal }
	case "set":
		heading = func(t wallTile) string { return t.brick.Set }
	case "liquid":
		heading = func(t wallTile) string {
			if t.brick.Liquid == "" {
				return "No liquid"
			}
			return capital(t.brick.Liquid)
		}
	}
	if by != "number" {
		at := map[faceKey]wallTile{}
		bricks := make([]learn.Brick, len(tiles))
		for i, t := range tiles {
			bricks[i] = t.brick
			at[faceKey{t.Swatch, t.Face}] = t
		}
		for i, b := range learn.Sort(bricks, learn.By(by)) {
			tiles[i] = at[faceKey{b.Swatch.Number, b.Look.Face}]
		}
	}
	var out []wallGroup
	for _, t := range tiles {
		if n := len(out); n == 0 || out[n-1].Name != heading(t) {
			out = append(out, wallGroup{Name: heading(t)})
		}
		last := &out[len(out)-1]
		last.Tiles = append(last.Tiles, t)
	}
	return out
}

// swatchPage shows one swatch: both faces, what was planned and what was done.
type swatchPage struct {
	Frame
	Swatch         studio.Swatch
	MadeUp         bool // part of the example
	Where          string
	PlaceID        int64
	Metal          string
	SetID          int64
	SetName        string
	Sides          []sideView
	Treatments     []treatmentView
	Recipes        []studio.Recipe
	CanOverlay     bool
	Weights        string // how likeness is put together
	OverlayProblem string
	OverlayVersion int64 // as chosen in a refused form
	OverlayFaces   string
	OverlayOver    string
	FacesChoices   []orderChoice
}

var facesChoices = []orderChoice{{string(studio.OnFront), "front"}, {string(studio.OnBack), "back"}, {string(studio.OnBoth), "both faces"}}

type sideView struct {
	Face   studio.Face
	Latest *studio.Photo
	Photos []studio.Photo
	Like   []learn.Likeness
	Salt   *saltView
	Pool   *poolSide
	Series bool // there are enough photographs to see it change
	Score  *scoreSide
}

// mostAlike is how many like faces a swatch's page shows.
const mostAlike = 5

// writtenView is a note, or what the air of the room was.
type writtenView struct {
	At       time.Time
	By       string
	OwnWords string
	Room     []string
}

type treatmentView struct {
	CanKeep  bool // as a recipe, as it was run
	ID       int64
	Faces    studio.Faces
	Layer    int
	Over     studio.LayState
	Status   string
	Settings string
	Recipe   string
	RecipeID int64
	Lines    []lineView
	Wet      []string // how long each face was wet, or will be
	Notes    []writtenView
	Record   []recordView
	Dry      *dryView
}

type lineView struct{ Step, Planned, Run, Different string }

type recordView struct {
	recentView
	Recorded   time.Time
	CanCorrect bool
	AtLocal    string
	Note       string
}

func (s *Server) fillSwatch(r *http.Request) (swatchPage, error) {
	ctx := r.Context()
	number, err := idIn(r, "id")
	if err != nil {
		return swatchPage{}, err
	}
	x, err := s.store.Swatch(ctx, number)
	if err != nil {
		return swatchPage{}, err
	}
	p := swatchPage{Frame: s.frame(r, fmt.Sprintf("Swatch %d", number), "swatches"), Swatch: x, SetID: x.SetID, FacesChoices: facesChoices, Weights: learn.WeightsInWords}
	if m, err := s.store.Metal(ctx, x.MetalID); err == nil {
		p.Metal = m.Name
	}
	if set, err := s.store.Set(ctx, x.SetID); err == nil {
		p.SetName, p.MadeUp = set.Name, set.Invented
	}
	m, _, where, err := s.storageMap(ctx)
	if err != nil {
		return p, err
	}
	p.Where, _ = m.Where(number)
	p.PlaceID = where[number].Place
	photos, err := s.store.PhotosOf(ctx, number)
	if err != nil {
		return p, err
	}
	slices.SortStableFunc(photos, func(a, b studio.Photo) int { return a.Taken.Compare(b.Taken) })
	all, err := s.store.Looks(ctx)
	if err != nil {
		return p, err
	}
	looks := map[faceKey]studio.Look{}
	for _, l := range all {
		looks[faceKey{l.Swatch, l.Face}] = l
	}
	for _, face := range studio.BothFaces {
		side := sideView{Face: face}
		for _, ph := range photos {
			if ph.Face == face {
				side.Photos = append(side.Photos, ph)
			}
		}
		if n := len(side.Photos); n > 0 {
			side.Latest = &side.Photos[n-1]
		}
		of, err := s.ofSeries(ctx, number, face)
		if err != nil {
			return p, err
		}
		side.Series = len(of) > 1
		if side.Salt, err = s.saltOn(ctx, side.Photos); err != nil {
			return p, err
		}
		side.Pool = poolOn(side.Photos, x, face)
		if look, ok := looks[faceKey{number, face}]; ok {
			side.Like = learn.Nearest(look, all, mostAlike)
		}
		p.Sides = append(p.Sides, side)
	}
	if err := s.scoringOf(r, number, p.Sides); err != nil {
		return p, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: number})
	if err != nil {
		return p, err
	}
	p.CanOverlay = len(folds) > 0
	air, err := s.fuming(ctx)
	if err != nil {
		return p, err
	}
	wet, err := s.wetBench(ctx)
	if err != nil {
		return p, err
	}
	for _, f := range folds {
		v, err := s.viewTreatment(ctx, f)
		if err != nil {
			return p, err
		}
		v.Dry = wet.dryOf(f, x, s.now())
		if v.Wet, err = s.wetWords(ctx, air, f, p.Swatch); err != nil {
			return p, err
		}
		p.Treatments = append(p.Treatments, v)
		if f.Record.Status != run.Finished {
			p.CanOverlay = false
		}
	}
	p.Recipes, err = s.store.Recipes(ctx)
	if len(p.Recipes) == 0 {
		p.CanOverlay = false
	}
	return p, err
}

func (s *Server) viewTreatment(ctx context.Context, f folded) (treatmentView, error) {
	t := f.Treatment
	v := treatmentView{ID: t.ID, Faces: t.Faces, Layer: t.Layer, Over: t.Over, Status: standing(f, s.now()), Settings: settingsText(t.Settings),
		CanKeep: !t.Blank && (f.Record.Status == run.Finished || f.Record.Status == run.Stopped)}
	if t.VersionID != 0 {
		link, err := s.recipeLink(ctx, t.VersionID)
		if err != nil {
			return v, err
		}
		v.Recipe, v.RecipeID = link.Name, link.ID
	}
	for _, l := range run.AsRun(t, f.Record) {
		v.Lines = append(v.Lines, lineView{fmt.Sprintf("%d. %s", l.N, l.Kind), l.Planned, l.Run, l.Difference})
	}
	for _, n := range f.Record.Notes {
		v.Notes = append(v.Notes, writtenView{At: n.At, By: n.By, OwnWords: n.Text})
	}
	for _, room := range f.Record.Room {
		w := writtenView{At: room.At}
		if room.TempC != nil {
			w.Room = append(w.Room, fmt.Sprintf("room %s °C", number(*room.TempC, 1)))
		}
		if room.RH != nil {
			w.Room = append(w.Room, fmt.Sprintf("humidity %s %%", number(*room.RH*100, 0)))
		}
		v.Notes = append(v.Notes, w)
	}
	for _, e := range f.Events {
		rec := recordView{recentView: recentView{ID: e.ID, At: e.At, What: fmt.Sprintf("%d. %s", e.ID, eventWords(t, e)), By: e.By, Of: fmt.Sprintf("%d:%d", t.ID, max(e.Step, 0))},
			Recorded: e.Recorded, AtLocal: e.At.Local().Format("2006-01-02T15:04:05"), Note: e.Note}
		rec.CanCorrect = e.Kind != studio.Voided
		v.Record = append(v.Record, rec)
	}
	return v, nil
}

func (s *Server) swatch(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillSwatch(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "swatch", p)
	return nil
}

func (s *Server) swatchNote(w http.ResponseWriter, r *http.Request) error {
	number, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if err := s.store.UpdateSwatchNote(r.Context(), number, strings.TrimSpace(r.FormValue("note"))); err != nil {
		return err
	}
	return backSaying(w, r, fmt.Sprintf("/swatches/%d", number), "The note is kept.")
}

// overlay plans another layer over what is on a swatch.
func (s *Server) overlay(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	p, err := s.fillSwatch(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	vid := f.whole("version", "recipe", 0)
	v, err := s.store.Version(ctx, vid)
	if err != nil {
		return err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: p.Swatch.Number})
	if err != nil {
		return err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return err
	}
	metal, err := s.store.Metal(ctx, p.Swatch.MetalID)
	if err != nil {
		return err
	}
	var below []plan.Below
	for _, x := range folds {
		ended := x.Record.Status == run.Finished || x.Record.Status == run.Stopped
		below = append(below, plan.Below{Treatment: x.Treatment, Begun: x.Record.Status != run.Planned, Ended: ended})
	}
	t, _, err := plan.Over(p.Swatch, studio.Faces(f.Val("faces")), below, v, studio.LayState(f.Val("over")), supplies, hands, metal)
	if err == nil {
		_, err = s.store.AddTreatment(ctx, t)
	}
	if err != nil {
		problem := studio.ProblemIn(err)
		if problem == nil {
			return err
		}
		p.OverlayProblem, p.OverlayVersion, p.OverlayFaces, p.OverlayOver = problem.Text, vid, f.Val("faces"), f.Val("over")
		s.show(w, status(problem.Kind), "swatch", p)
		return nil
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/swatches/%d", p.Swatch.Number), "The layer is planned; start it from Today.")
}

// comparePage shows up to six faces side by side.
type comparePage struct {
	Frame
	Problem string
	Faces   []comparedFace
	Pairs   []pairView
	Notes   []string
	Ones    []oneView // pairs that lie in one photograph
	Advice  []adviceView
}

type comparedFace struct {
	Photo   studio.Photo
	Line    string
	Without string
}

type pairView struct {
	Between, Delta, Words string
	One                   bool // both lie in one photograph
}

// mostCompared is how many faces can stand side by side and still be judged.
const mostCompared = 6

func (s *Server) compare(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	ids := readForm(r).values["p"]
	p := comparePage{Frame: s.frame(r, "Side by side", "swatches")}
	if len(ids) > mostCompared {
		p.Problem = fmt.Sprintf("%d faces are ticked; %d are the most that can be judged side by side. The first %d are shown.", len(ids), mostCompared, mostCompared)
		ids = ids[:mostCompared]
	}
	if len(ids) == 0 {
		p.Problem = "Tick two to six faces on the wall first."
	}
	var looks []studio.Look
	for i, text := range ids {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return studio.Problemf(studio.NotFound, "", "There is no photograph %q.", text)
		}
		photo, err := s.store.Photo(ctx, id)
		if err != nil {
			return err
		}
		rest := url.Values{}
		for j, other := range ids {
			if j != i {
				rest.Add("p", other)
			}
		}
		c := comparedFace{Photo: photo, Without: "/compare?" + rest.Encode()}
		ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Swatch: photo.Swatch})
		if err != nil {
			return err
		}
		for _, t := range ts {
			if t.Faces.Has(photo.Face) {
				c.Line = settingsText(t.Settings)
			}
		}
		p.Faces = append(p.Faces, c)
		looks = append(looks, studio.Look{Swatch: photo.Swatch, Face: photo.Face, Photo: photo.ID, Taken: photo.Taken, Moment: photo.Moment, Measurement: photo.Measurement})
	}
	c := learn.Compare(looks)
	p.Notes = c.Notes
	for _, pair := range c.Pairs {
		a, b := looks[pair.A], looks[pair.B]
		v := pairView{Between: fmt.Sprintf("%d %s and %d %s", a.Swatch, a.Face, b.Swatch, b.Face), Delta: "–", Words: pair.Sentence}
		if pair.OK {
			v.Delta = number(pair.DE, 1)
		} else if v.Words == "" {
			v.Words = pair.Why
		}
		if err := s.fillPair(ctx, &p, &v, p.Faces[pair.A].Photo, p.Faces[pair.B].Photo, pair); err != nil {
			return err
		}
		p.Pairs = append(p.Pairs, v)
	}
	if len(p.Ones) == len(p.Pairs) {
		p.Notes = nil // they are about separate photographs
	}
	s.show(w, http.StatusOK, "compare", p)
	return nil
}
