package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"aerugo/internal/flow/pool"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/film"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) stayRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /chambers/{id}/level", s.level)
	s.on(mux, "POST /chambers/{id}/level", s.keepLevel)
	s.on(mux, "GET /swatches/{id}/{face}/pooling", s.pooling)
}

// wetBench is what liquids and drying are reckoned with, beside a treatment.
type wetBench struct {
	supplies []studio.Supply
	chambers []studio.Chamber
	room     pool.Room
}

// wetBench reads the bench and the room as last read at any tap.
func (s *Server) wetBench(ctx context.Context) (b wetBench, err error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return b, err
	}
	b.room = s.roomNow(folds)
	if b.supplies, err = s.store.Supplies(ctx); err != nil {
		return b, err
	}
	b.chambers, err = s.store.Chambers(ctx)
	return b, err
}

func (s *Server) roomNow(folds []folded) pool.Room {
	records := make([]run.Record, len(folds))
	for i, f := range folds {
		records[i] = f.Record
	}
	return pool.RoomNow(records, s.now())
}

func (b wetBench) job(t studio.Treatment, x studio.Swatch, r run.Record) pool.Job {
	j := pool.Job{Treatment: t, Swatch: x, Record: r, Supplies: b.supplies, Chambers: b.chambers}
	if !b.room.TempAssumed {
		j.TempC = &b.room.TempC
	}
	return j
}

// stays answers 'will it stay where it is put?' for each kind of face, with what
// to do about all of them together.
type stays struct {
	Rows    []stayRow
	Act     bool
	Level   *pool.Lay // the face that wants to lie most level
	Do      []film.Advice
	Doubt   []string
	Assumed []string
}

// stayRow is one kind of face.
type stayRow struct {
	pool.Lay
	Settings []string
	Swatches []int64
}

// Said tells what becomes of it, with how sure that is.
func (r stayRow) Said() string {
	switch {
	case r.Unknown != "":
		return ": " + r.Unknown + "."
	case r.Cause == film.Cohesion:
		return fmt.Sprintf(" over about %s %% of the face (%s to %s %%): it would be %s mm thick, and a puddle of it stands %s mm (%s to %s).", number(100*r.Share.Value, 0), number(100*r.Share.Low, 0), number(100*r.Share.High, 0),
			number(r.FilmUM/1000, 2), number(r.PuddleMM.Value, 1), number(r.PuddleMM.Low, 1), number(r.PuddleMM.High, 1))
	}
	return ": " + r.Why + "."
}

// alike reports whether two kinds of face read the same.
func (r stayRow) alike(o stayRow) bool {
	return r.Faces == o.Faces && r.ChamberID == o.ChamberID && r.Step == o.Step && r.Short() == o.Short() && r.Said() == o.Said()
}

func (v *stays) add(lays []pool.Lay, settings string, swatch int64) {
	for _, l := range lays {
		row := stayRow{Lay: l}
		i := slices.IndexFunc(v.Rows, row.alike)
		if i < 0 {
			i = len(v.Rows)
			v.Rows = append(v.Rows, row)
		}
		r := &v.Rows[i]
		if settings != "" && !slices.Contains(r.Settings, settings) {
			r.Settings = append(r.Settings, settings)
		}
		if swatch != 0 && !slices.Contains(r.Swatches, swatch) {
			r.Swatches = append(r.Swatches, swatch)
		}
	}
}

// done gathers what holds for all rows; nil when there is none.
func (v *stays) done() *stays {
	if len(v.Rows) == 0 {
		return nil
	}
	lays := make([]pool.Lay, len(v.Rows))
	for i, r := range v.Rows {
		lays[i] = r.Lay
		v.Act = v.Act || r.Act()
	}
	if l, ok := pool.Strictest(lays); ok {
		v.Level = &l
		// the strictest first, so that its numbers are the ones in the advice
		slices.SortStableFunc(lays, func(a, b pool.Lay) int { return cmp.Compare(a.LevelDeg, b.LevelDeg) })
	}
	for _, l := range lays {
		for _, a := range l.Do {
			if !slices.ContainsFunc(v.Do, func(o film.Advice) bool { return opening(o.Text) == opening(a.Text) }) {
				v.Do = append(v.Do, a)
			}
		}
		for _, t := range l.Doubt {
			if !slices.Contains(v.Doubt, t) {
				v.Doubt = append(v.Doubt, t)
			}
		}
		for _, t := range l.Assumed {
			if !slices.Contains(v.Assumed, t) {
				v.Assumed = append(v.Assumed, t)
			}
		}
	}
	return v
}

// opening is the first words of an advice, by which it is known whatever
// numbers stand in it.
func opening(text string) string {
	words := strings.Fields(text)
	return strings.Join(words[:min(3, len(words))], " ")
}

// staysOfSet judges the faces of a set, each kind once; nil when none is ever wet.
func (s *Server) staysOfSet(ctx context.Context, set int64) (*stays, error) {
	b, err := s.wetBench(ctx)
	if err != nil {
		return nil, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: set})
	if err != nil {
		return nil, err
	}
	swatches, err := s.store.SwatchesOf(ctx, set)
	if err != nil {
		return nil, err
	}
	return b.staysOf(folds, swatches), nil
}

func (b wetBench) staysOf(folds []folded, swatches []studio.Swatch) *stays {
	by := map[int64]studio.Swatch{}
	for _, x := range swatches {
		by[x.Number] = x
	}
	var v stays
	for _, f := range folds {
		// as planned: what a minute more did is no other setting
		v.add(pool.Lays(b.job(f.Treatment, by[f.Treatment.Swatch], run.Record{})), settingsText(f.Treatment.Settings), f.Treatment.Swatch)
	}
	return v.done()
}

// staysOfRecipe judges a recipe on both faces, on a swatch as large as the last
// that was made with it.
func (s *Server) staysOfRecipe(ctx context.Context, v studio.Version, made []int64) (*stays, error) {
	b, err := s.wetBench(ctx)
	if err != nil {
		return nil, err
	}
	var x studio.Swatch
	if len(made) > 0 {
		if x, err = s.store.Swatch(ctx, slices.Max(made)); err != nil {
			return nil, err
		}
	}
	var out stays
	out.add(pool.Lays(b.job(studio.Treatment{Faces: studio.OnBoth, Steps: v.Steps}, x, run.Record{})), "", 0)
	return out.done(), nil
}

// levelPage keeps how far a chamber's floor is from level.
type levelPage struct {
	Frame
	*form
	Chamber studio.Chamber
	Stays   *stays
	Planned bool // the faces are of treatments; else of recipes
}

func (s *Server) fillLevel(r *http.Request, f *form) (levelPage, error) {
	ctx := r.Context()
	p := levelPage{form: f}
	id, err := idIn(r, "id")
	if err != nil {
		return p, err
	}
	if p.Chamber, err = s.store.Chamber(ctx, id); err != nil {
		return p, err
	}
	p.Frame = s.frame(r, "Level "+p.Chamber.Name, "chambers")
	b, err := s.wetBench(ctx)
	if err != nil {
		return p, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return p, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return p, err
	}
	here := func(x studio.Step) bool { return x.ChamberID == id }
	folds = slices.DeleteFunc(folds, func(x folded) bool {
		return x.Record.Status == run.Finished || x.Record.Status == run.Stopped || !slices.ContainsFunc(x.Treatment.Steps, here)
	})
	if p.Stays = b.staysOf(folds, swatches); p.Stays != nil {
		p.Planned = true
		return p, nil
	}
	recipes, err := s.store.Recipes(ctx)
	if err != nil {
		return p, err
	}
	var v stays
	for _, rec := range recipes {
		if slices.ContainsFunc(rec.Latest.Steps, here) {
			v.add(pool.Lays(b.job(studio.Treatment{Faces: studio.OnBoth, Steps: rec.Latest.Steps}, studio.Swatch{}, run.Record{})), rec.Name, 0)
		}
	}
	p.Stays = v.done()
	return p, nil
}

func (s *Server) level(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillLevel(r, readForm(r))
	if err != nil {
		return err
	}
	if p.Val("tilt") == "" && p.Chamber.TiltDeg > 0 {
		p.set("tilt", number(p.Chamber.TiltDeg, 1))
	}
	s.show(w, http.StatusOK, "level", p)
	return nil
}

func (s *Server) keepLevel(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	p, err := s.fillLevel(r, f)
	if err != nil {
		return err
	}
	c := p.Chamber
	if f.Val("tilt") == "" {
		f.say("tilt", "Write the tilt in degrees, 0 to 45, or read it from a phone laid on the floor of the chamber.")
	}
	c.TiltDeg = f.number("tilt", "tilt", "degrees", 0)
	if f.ok() {
		err := c.Check()
		if err == nil {
			_, err = s.store.SaveChamber(r.Context(), c)
		}
		if err := f.blame(err, "tilt"); err != nil {
			return err
		}
	}
	if !f.ok() {
		s.show(w, http.StatusUnprocessableEntity, "level", p)
		return nil
	}
	s.live.changed()
	said := fmt.Sprintf("%s is kept as tilted by %s°.", c.Name, number(c.TiltDeg, 1))
	if p.Stays != nil && p.Stays.Level != nil {
		if want := p.Stays.Level.LevelDeg; c.TiltDeg <= want {
			said += fmt.Sprintf(" That is level enough: within %s°.", number(want, 1))
		} else {
			said += fmt.Sprintf(" Its faces want it within %s°: shim the low side.", number(want, 1))
		}
	}
	return backSaying(w, r, fmt.Sprintf("/chambers/%d/level", c.ID), strings.TrimSpace(said))
}
