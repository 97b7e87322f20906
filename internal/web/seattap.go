package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"aerugo/internal/studio"
)

// ownOnly reports a Problem when one of these treatments is not of the seat's swatches.
func (s *Server) ownOnly(ctx context.Context, seat studio.Seat, treatments []int64) error {
	for _, id := range treatments {
		t, err := s.store.Treatment(ctx, id)
		if err != nil {
			return err
		}
		if !slices.Contains(seat.Swatches, t.Swatch) {
			return studio.Problemf(studio.Conflict, "", "Swatch %d is not one of yours. Look at your list, or ask your teacher.", t.Swatch)
		}
	}
	return nil
}

func (s *Server) seatBegin(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	f := readForm(r)
	var ids []int64
	for _, text := range f.values["t"] {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return studio.Problemf(studio.Invalid, "t", "Choose the swatch that starts.")
		}
		ids = append(ids, id)
	}
	if err := s.ownOnly(r.Context(), seat, ids); err != nil {
		return err
	}
	r.Form.Set("back", "/seat")
	return s.begin(w, r)
}

func (s *Server) seatTap(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	f := readForm(r)
	members, err := tapped(f.values["of"])
	if err != nil {
		return err
	}
	var ids []int64
	for _, m := range members {
		ids = append(ids, m.Treatment)
	}
	if err := s.ownOnly(r.Context(), seat, ids); err != nil {
		return err
	}
	if kind := studio.EventKind(f.Val("kind")); kind != studio.Done && kind != studio.Noted {
		return studio.Problemf(studio.Invalid, "kind", "A step can be done here, or a note kept. For anything else ask your teacher.")
	}
	r.Form.Set("back", "/seat")
	return s.tap(w, r)
}

// seatUndo is POST /seat/undo: the last tap is taken back, within a minute. The form
// names its records, so that sending it twice takes nothing else back.
func (s *Server) seatUndo(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	ctx, now := r.Context(), s.now()
	f := readForm(r)
	folds, _, err := s.seatFolds(ctx, seat)
	if err != nil {
		return err
	}
	var out []studio.Event
	for _, text := range f.values["event"] {
		id, _ := strconv.ParseInt(text, 10, 64)
		var of *studio.Event
		voided := false
		for _, x := range folds {
			for _, e := range x.Events {
				if e.ID == id {
					of = &e
				}
				voided = voided || e.Kind == studio.Voided && e.Corrects == id
			}
		}
		switch {
		case voided:
			continue // sent twice
		case of == nil || of.By != seat.By():
			return studio.Problemf(studio.Conflict, "", "That tap is none of yours; reload the page.")
		case now.Sub(of.Recorded) >= undoFor:
			return studio.Problemf(studio.Conflict, "", "A tap can be taken back for one minute. Ask your teacher to put it right.")
		}
		out = append(out, studio.Event{Treatment: of.Treatment, Client: fmt.Sprintf("%s/undo-%d", f.Val("client"), id), Kind: studio.Voided, Step: of.Step, At: now.UTC(), By: seat.By(), Corrects: id})
	}
	if len(out) > 0 {
		if _, err := s.store.AddEvents(ctx, out); err != nil {
			return err
		}
		s.live.changed()
		s.dayTapped(ctx)
	}
	return back(w, r, "/seat")
}

func (s *Server) seatHand(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	if err := s.store.RaiseHand(r.Context(), seat.ID, r.FormValue("hand") == "up"); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, "/seat")
}

// seatTake is POST /seat/take: a student takes a swatch by the number stamped on it.
func (s *Server) seatTake(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	f := readForm(r)
	n := f.whole("swatch", "swatch's number", 0)
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	if err := s.store.GiveSwatches(r.Context(), class, map[int64]int{n: seat.Number}, true); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, "/seat")
}
