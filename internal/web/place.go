package web

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) placeRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /sets/{id}/place", s.savePlace)
}

// placeForm asks where a set is done and for whom.
type placeForm struct {
	Room  int64
	Class studio.ClassOf
	Rooms []studio.Room
}

// Classes are the choices of the form.
func (placeForm) Classes() []studio.ClassOf { return studio.Classes }

// placeOf reads where a set is done and for whom.
func (s *Server) placeOf(ctx context.Context, set studio.Set) (plan.Place, error) {
	rooms, err := s.store.Rooms(ctx)
	return plan.PlaceOf(set, rooms), err
}

// savePlace is POST /sets/{id}/place.
func (s *Server) savePlace(w http.ResponseWriter, r *http.Request) error {
	set, err := s.setIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	room := f.whole("room", "room", 0)
	if err := s.store.SaveSetPlace(r.Context(), set.ID, studio.ClassOf(f.Val("class")), room); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/sets/%d", set.ID), "Where and for whom is kept.")
}

// mayPrint returns what must be minded on any sheet of a set, or a Problem when
// the set must not be printed: every page and every PDF of it asks here.
func (s *Server) mayPrint(ctx context.Context, set studio.Set) (plan.Place, []matter.Clash, error) {
	place, clashes, problem, err := s.setSafety(ctx, set)
	if err == nil && problem != nil {
		err = problem
	}
	return place, clashes, err
}

// setSafety checks all treatments of a set where it is done and for whom.
func (s *Server) setSafety(ctx context.Context, set studio.Set) (plan.Place, []matter.Clash, *studio.Problem, error) {
	place, err := s.placeOf(ctx, set)
	if err != nil {
		return place, nil, nil, err
	}
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return place, nil, nil, err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return place, nil, nil, err
	}
	metal, err := s.metalOf(ctx, set.MetalID)
	if err != nil {
		return place, nil, nil, err
	}
	clashes, problem := place.AllowSet(ts, supplies, metal)
	if problem == nil {
		problem, err = s.inRightHands(ctx, set.Class, ts)
	}
	return place, clashes, problem, err
}

// metalOf returns a metal, a nameless one for id 0: it counts as the worst.
func (s *Server) metalOf(ctx context.Context, id int64) (studio.Metal, error) {
	if id == 0 {
		return studio.Metal{}, nil
	}
	return s.store.Metal(ctx, id)
}

// workOf puts treatments into the rooms that their sets name.
func (s *Server) workOf(ctx context.Context, ts []studio.Treatment) ([]plan.Work, error) {
	rooms := map[int64]int64{}
	var out []plan.Work
	for _, t := range ts {
		room, ok := rooms[t.SetID]
		if !ok {
			set, err := s.store.Set(ctx, t.SetID)
			if err != nil {
				return nil, err
			}
			room = set.RoomID
			rooms[t.SetID] = room
		}
		out = append(out, plan.Work{Treatment: t, Room: room})
	}
	return out, nil
}

// todaysRuns lists the treatments that run, or ended on the day of now.
func todaysRuns(folds []folded, now time.Time) []studio.Treatment {
	y, m, d := now.Local().Date()
	midnight := time.Date(y, m, d, 0, 0, 0, 0, time.Local)
	var out []studio.Treatment
	for _, f := range folds {
		over := f.Record.Status == run.Finished || f.Record.Status == run.Stopped
		if f.Record.Status == run.Running || over && !f.Record.Ended.Before(midnight) {
			out = append(out, f.Treatment)
		}
	}
	return out
}

// safeInRoom refuses to begin what must not share a room with today's other work.
func (s *Server) safeInRoom(ctx context.Context, entries []run.Entry, supplies []studio.Supply) error {
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return err
	}
	return s.mayShareRoom(ctx, todaysRuns(folds, s.now()), entries, supplies)
}

// mayShareRoom refuses entries that must not share a room with each other, or with
// the treatments that are there.
func (s *Server) mayShareRoom(ctx context.Context, there []studio.Treatment, entries []run.Entry, supplies []studio.Supply) error {
	for _, e := range entries {
		there = append(there, e.Treatment)
	}
	works, err := s.workOf(ctx, there)
	if err != nil {
		return err
	}
	if _, problem := plan.Day(works, supplies); problem != nil {
		return problem
	}
	return nil
}

// mayBegin asks everything that is asked before treatments start, by whatever way.
func (s *Server) mayBegin(ctx context.Context, entries []run.Entry) error {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := s.safeToBegin(ctx, e, supplies); err != nil {
			return err
		}
		if err := s.inClass(ctx, e); err != nil {
			return err
		}
	}
	return s.safeInRoom(ctx, entries, supplies)
}

// dayCautions says what of today's work, and of what is ready to begin, must not
// share a room.
func (s *Server) dayCautions(ctx context.Context, folds []folded, ready []studio.Treatment, supplies []studio.Supply) ([]string, []string, error) {
	works, err := s.workOf(ctx, append(todaysRuns(folds, s.now()), ready...))
	if err != nil {
		return nil, nil, err
	}
	clashes, _ := plan.Day(works, supplies)
	var stops, minds []string
	for _, c := range clashes {
		text := c.String()
		if c.Level == matter.Stop {
			stops = append(stops, text)
		} else if c.ID != "unknown" {
			minds = append(minds, text)
		}
	}
	return stops, minds, nil
}

// wasteView says how much copper a rinse may hold.
type wasteView struct {
	plan.Waste
	Of string // "this set", "one face of 100 cm²"
}

// Grams writes the copper with two figures.
func (v wasteView) Grams() string { return figures(v.CopperG) }

// Litres writes the water it would take.
func (v wasteView) Litres() string { return figures(v.DiluteL) }

// Limit is what the water is reckoned down to.
func (v wasteView) Limit() float64 { return plan.CopperLimitMgPerL }

// wasteOfSet bounds the copper in the rinse of a whole set.
func (s *Server) wasteOfSet(ctx context.Context, set studio.Set, swatches []studio.Swatch, supplies []studio.Supply) (wasteView, error) {
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return wasteView{}, err
	}
	area := map[int64]float64{}
	for _, x := range swatches {
		area[x.Number] = x.AreaM2()
	}
	w, err := plan.WasteOf(ts, area, supplies)
	return wasteView{w, "this whole set"}, err
}

// wasteOfRecipe bounds it for one face of 100 cm² and all that lies below.
func (s *Server) wasteOfRecipe(ctx context.Context, v studio.Version) (wasteView, error) {
	layers, err := s.below(ctx, v)
	if err != nil {
		return wasteView{}, err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return wasteView{}, err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return wasteView{}, err
	}
	var ts []studio.Treatment
	for _, v := range append(layers, v) {
		steps := append([]studio.Step{}, v.Steps...)
		for i, step := range steps {
			if a, ok := studio.Resolve(hands, step.Amount.Hand, step.HandKey(step.Material)); ok && step.Amount.Hand != "" {
				steps[i].Amount = a
			}
		}
		ts = append(ts, studio.Treatment{Swatch: 1, Faces: studio.OnFront, Steps: steps})
	}
	w, err := plan.WasteOf(ts, map[int64]float64{1: 0.01}, supplies)
	return wasteView{w, "one face of 100 cm²"}, err
}
