package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// seatDeskPage is a student's bench.
type seatDeskPage struct {
	Frame
	Sits     studio.Seat
	Class    studio.Class
	Tasks    []taskView
	Shape    taskView
	Studio   string
	Ready    []readyItem
	Undo     *seatUndoable
	Swatches []seatSwatchLine
	Sittings []studio.Sitting
	Over     bool
}

// seatUndoable is the tap a student can still take back.
type seatUndoable struct {
	Events []int64
	What   string
	Until  int64 // ms
}

// undoFor is how long a student can take the last tap back.
const undoFor = time.Minute

// seatSwatchLine says how one of a seat's swatches stands.
type seatSwatchLine struct {
	Number int64
	Stands string
	Owed   []studio.Face // finished faces without a photograph
	Thumb  int64
}

// seatFolds reads what is done to a seat's swatches.
func (s *Server) seatFolds(ctx context.Context, seat studio.Seat) ([]folded, map[int64][]folded, error) {
	var all []folded
	on := map[int64][]folded{}
	for _, n := range seat.Swatches {
		folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
		if err != nil {
			return nil, nil, err
		}
		all = append(all, folds...)
		on[n] = folds
	}
	return all, on, nil
}

// seatStanding says how a swatch stands, in a few words.
func seatStanding(folds []folded) string {
	for _, f := range folds {
		if f.Record.Status == run.Running && f.Record.Current < len(f.Treatment.Steps) {
			return fmt.Sprintf("step %d of %d, %s", f.Record.Current+1, len(f.Treatment.Steps), f.Treatment.Steps[f.Record.Current].Kind)
		}
	}
	finished := len(folds) > 0
	for _, f := range folds {
		finished = finished && f.Record.Status == run.Finished
		if f.Record.Status == run.Stopped {
			return "given up"
		}
	}
	switch {
	case finished:
		return "all steps done"
	case len(folds) == 0:
		return "no recipe"
	}
	return "not begun"
}

func (s *Server) fillDesk(r *http.Request, seat studio.Seat, class studio.Class) (seatDeskPage, error) {
	ctx, now := r.Context(), s.now()
	p := seatDeskPage{Frame: s.seatFrame(r, seat.Said(), seat), Sits: seat, Class: class, Shape: cardShape, Studio: s.mark(), Over: now.After(class.Over())}
	folds, on, err := s.seatFolds(ctx, seat)
	if err != nil {
		return p, err
	}
	chambers, err := s.store.Chambers(ctx)
	if err != nil {
		return p, err
	}
	var entries []run.Entry
	byID := map[int64]run.Entry{}
	bySwatch := map[int64]studio.Swatch{}
	for _, n := range seat.Swatches {
		if bySwatch[n], err = s.store.Swatch(ctx, n); err != nil {
			return p, err
		}
	}
	for _, f := range folds {
		if f.Record.Status == run.Running {
			e := run.Entry{Treatment: f.Treatment, Swatch: bySwatch[f.Treatment.Swatch], Record: f.Record}
			entries = append(entries, e)
			byID[f.Treatment.ID] = e
		}
	}
	for _, t := range run.Board(now, entries, chambers) {
		v := viewTask(t)
		v.Ahead = aheadOf(t, byID, chambers, now)
		p.Tasks = append(p.Tasks, v)
	}
	b := benchNow{bySwatch: bySwatch, onSwatch: on, chambers: chambers}
	refused, asked := "", false
	for _, f := range folds {
		if f.Record.Status != run.Planned || !lowerDone(f, on[f.Treatment.Swatch]) {
			continue
		}
		if !asked {
			asked = true
			set, err := s.store.Set(ctx, class.SetID)
			if err != nil {
				return p, err
			}
			if b.supplies, err = s.store.Supplies(ctx); err != nil {
				return p, err
			}
			_, _, problem, err := s.setSafety(ctx, set)
			if err != nil {
				return p, err
			}
			if problem != nil {
				refused = problem.Text
			}
		}
		item := readyItem{Treatment: f.Treatment.ID, Swatch: f.Treatment.Swatch, Faces: facesWord(f.Treatment.Faces), Settings: settingsText(f.Treatment.Settings)}
		if item.Ahead, err = s.aheadOfReady(ctx, f, refused, b); err != nil {
			return p, err
		}
		p.Ready = append(p.Ready, item)
	}
	p.Undo = undoable(folds, seat, now)
	seen, err := s.store.PhotoTimes(ctx)
	if err != nil {
		return p, err
	}
	newest, err := s.store.NewestPhotos(ctx)
	if err != nil {
		return p, err
	}
	for _, n := range seat.Swatches {
		line := seatSwatchLine{Number: n, Stands: seatStanding(on[n])}
		for _, face := range studio.BothFaces {
			if id := newest[store.FaceKey{Swatch: n, Face: face}]; id != 0 && line.Thumb == 0 {
				line.Thumb = id
			}
			for _, f := range on[n] {
				if f.Record.Status == run.Finished && f.Treatment.Faces.Has(face) && seen[store.FaceKey{Swatch: n, Face: face}].Before(f.Record.Ended) {
					line.Owed = append(line.Owed, face)
					break
				}
			}
		}
		p.Swatches = append(p.Swatches, line)
	}
	p.Sittings, err = s.store.ClassSittings(ctx, class.ID)
	return p, err
}

// undoable returns the newest tap of a seat, all that it did at once, while it can be
// taken back.
func undoable(folds []folded, seat studio.Seat, now time.Time) *seatUndoable {
	var last studio.Event
	var of studio.Treatment
	voided := map[int64]bool{}
	for _, f := range folds {
		for _, e := range f.Events {
			if e.Kind == studio.Voided {
				voided[e.Corrects] = true
			}
		}
	}
	taps := func(use func(t studio.Treatment, e studio.Event)) {
		for _, f := range folds {
			for _, e := range f.Events {
				if e.By == seat.By() && !voided[e.ID] && (e.Kind == studio.Began || e.Kind == studio.Done) && now.Sub(e.Recorded) < undoFor {
					use(f.Treatment, e)
				}
			}
		}
	}
	taps(func(t studio.Treatment, e studio.Event) {
		if e.ID > last.ID {
			last, of = e, t
		}
	})
	if last.ID == 0 {
		return nil
	}
	u := &seatUndoable{What: strings.TrimSpace(eventWords(of, last)), Until: last.Recorded.Add(undoFor).UnixMilli()}
	base := func(e studio.Event) string { k, _, _ := strings.Cut(e.Client, "/"); return k }
	taps(func(_ studio.Treatment, e studio.Event) {
		if base(e) == base(last) {
			u.Events = append(u.Events, e.ID)
		}
	})
	return u
}

func (s *Server) seatDesk(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	p, err := s.fillDesk(r, seat, class)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "seat", p)
	return nil
}

func (s *Server) seatBoard(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	p, err := s.fillDesk(r, seat, class)
	if err != nil {
		return err
	}
	return s.part(w, "seat", "board", p)
}
