package web

import (
	"encoding/json"
	"net/http"
	"time"

	"aerugo/internal/studio"
)

// seatAboutPage says what is kept of a student, who sees it, until when, and how to have
// it gone.
type seatAboutPage struct {
	Frame
	Sits   studio.Seat
	Class  studio.Class
	Terms  studio.SeatTerms
	Erased time.Time
	Till   time.Time
	Photos int
	Taps   int
	Words  int
}

func (s *Server) seatAbout(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	ctx := r.Context()
	p := seatAboutPage{Frame: s.seatFrame(r, "What is kept of you", seat), Sits: seat, Class: class}
	p.Room = "seatabout"
	var err error
	if p.Terms, err = s.store.SeatTerms(ctx, class); err != nil {
		return err
	}
	p.Erased, p.Till = p.Terms.Erased(class), p.Terms.LinkTill(class)
	photos, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return err
	}
	p.Photos = len(photos)
	folds, _, err := s.seatFolds(ctx, seat)
	if err != nil {
		return err
	}
	for _, f := range folds {
		for _, e := range f.Events {
			if e.By == seat.By() {
				p.Taps++
			}
		}
	}
	said, err := s.store.SeatWords(ctx, class.ID)
	if err != nil {
		return err
	}
	for _, x := range said {
		if x.Seat == seat.ID {
			p.Words++
		}
	}
	s.show(w, http.StatusOK, "seat_about", p)
	return nil
}

func (s *Server) seatPhotosTo(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	if err := s.store.SetSeatPhotos(r.Context(), seat.ID, studio.SeatPhotos(r.FormValue("photos"))); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, "/seat/about", "Kept.")
}

// seatErase is POST /seat/erase: the student is taken out of everything, at once.
func (s *Server) seatErase(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	if r.FormValue("sure") == "" {
		return studio.Problemf(studio.Invalid, "sure", "Tick that you are sure; it can’t be undone.")
	}
	if err := s.store.EraseSeat(r.Context(), seat.ID); err != nil {
		return err
	}
	http.SetCookie(w, &http.Cookie{Name: seatCookie, Value: "", Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, MaxAge: -1})
	s.live.changed()
	f := s.doorFrame(r)
	f.Title, f.Path, f.Bench = "You are erased", "/seat", true
	backups, err := s.store.Backups()
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "seat_gone", seatGonePage{Frame: f, Backups: len(backups)})
	return nil
}

// seatGonePage is the last a student sees.
type seatGonePage struct {
	Frame
	Backups int
}

// asJSONFile writes v as a file that people can read too.
func asJSONFile(v any) ([]byte, error) {
	b, err := json.MarshalIndent(v, "", "  ")
	return append(b, '\n'), err
}
