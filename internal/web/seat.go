package web

import (
	"context"
	"net/http"
	"slices"
	"time"

	"aerugo/internal/studio"
)

// seatRoutes are the pages of a class's students and of its teacher. A student's phone
// reaches those under /seat and nothing else.
func (s *Server) seatRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /seat", s.seatHome)
	s.on(mux, "POST /seat/join", s.joinSeat)
	s.on(mux, "GET /seat/board", s.atSeat(s.seatBoard))
	s.on(mux, "POST /seat/begin", s.atSeat(s.seatBegin))
	s.on(mux, "POST /seat/taps", s.atSeat(s.seatTap))
	s.on(mux, "POST /seat/undo", s.atSeat(s.seatUndo))
	s.on(mux, "POST /seat/hand", s.atSeat(s.seatHand))
	s.on(mux, "POST /seat/take", s.atSeat(s.seatTake))
	s.on(mux, "GET /seat/swatches/{number}", s.atSeat(s.seatSwatch))
	s.on(mux, "POST /seat/swatches/{number}/words", s.atSeat(s.seatSays))
	s.on(mux, "POST /seat/photos", s.atSeat(s.seatPhotograph))
	s.on(mux, "GET /seat/photos/{id}/{made}", s.atSeat(s.seatPicture))
	s.on(mux, "GET /seat/taste/{id}", s.atSeat(s.seatChooses))
	s.on(mux, "GET /seat/taste/{id}/ahead", s.atSeat(s.seatAhead))
	s.on(mux, "POST /seat/taste/{id}/choices", s.atSeat(s.seatChose))
	s.on(mux, "POST /seat/taste/{id}/undo", s.atSeat(s.seatUnchose))
	s.on(mux, "GET /seat/taste/{id}/order", s.atSeat(s.seatOrder))
	s.on(mux, "GET /seat/card", s.atSeat(s.seatCard))
	s.on(mux, "GET /seat/card.pdf", s.atSeat(s.seatCardPDF))
	s.on(mux, "GET /seat/mine.zip", s.atSeat(s.seatZip))
	s.on(mux, "GET /seat/about", s.atSeat(s.seatAbout))
	s.on(mux, "POST /seat/about", s.atSeat(s.seatPhotosTo))
	s.on(mux, "POST /seat/erase", s.atSeat(s.seatErase))
	s.studentRoutes(mux)
}

// seatHandler answers for one seat.
type seatHandler func(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error

// atSeat finds the seat whose phone asks. After the class the pages stay open for the
// days that were promised.
func (s *Server) atSeat(h seatHandler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		seat, ok := s.seatOf(r)
		if !ok {
			if wantsJSON(r) || r.Method != http.MethodGet {
				return studio.Problemf(studio.NotFound, "", "This phone has no seat in a class any more. Ask your teacher.")
			}
			http.Redirect(w, r, "/seat", http.StatusSeeOther)
			return nil
		}
		class, err := s.store.Class(r.Context(), seat.Class)
		if err != nil {
			return err
		}
		terms, err := s.store.SeatTerms(r.Context(), class)
		if err != nil {
			return err
		}
		if till := terms.LinkTill(class); s.now().After(till) {
			return studio.Problemf(studio.Conflict, "", "The pages of this class were open until %s. Your teacher can still give you a file with everything of yours until %s.", localDay(till), localDay(terms.Erased(class)))
		}
		ctx := context.WithValue(r.Context(), seatKey{}, seat)
		if mark, there, err := s.newsOf(ctx, seat, s.live.now()); err == nil && there {
			ctx = context.WithValue(ctx, editionKey{}, mark)
		}
		return h(w, r.WithContext(ctx), seat, class)
	}
}

// seatFrame is the Frame of a student's pages: dark, unless the phone was told otherwise.
func (s *Server) seatFrame(r *http.Request, title string, seat studio.Seat) Frame {
	f := Frame{Title: title, Room: "seat", Now: s.now(), Path: r.URL.RequestURI(), Edition: editionOf(r), Said: r.URL.Query().Get("said"), Phone: true, Seat: seat.Said(), Who: seat.By(), Bench: true}
	if c, err := r.Cookie("aerugo_lightness"); err == nil && c.Value == "table" {
		f.Bench = false
	}
	return f
}

// seatJoinPage lets a student in.
type seatJoinPage struct {
	Frame
	*form
	Code   string // as typed
	Class  studio.Class
	Open   bool // the code is good
	Free   []int
	Terms  studio.SeatTerms
	Erased time.Time
	Move   string // who sits at the seat that the code brings to this phone
}

func (s *Server) seatHome(w http.ResponseWriter, r *http.Request) error {
	if r.FormValue("code") == "" {
		if _, ok := s.seatOf(r); ok {
			return s.atSeat(s.seatDesk)(w, r)
		}
	}
	return s.showSeatJoin(w, r, http.StatusOK, readForm(r))
}

// doorOf finds the class or the seat that a code opens. What is wrong is said in the
// form; an address that guesses has to wait.
func (s *Server) doorOf(r *http.Request, f *form) (studio.Class, int64, error) {
	now, from := s.now(), addressOf(r)
	if !onLocalNetwork(r) {
		f.say("code", "A class is joined from the same Wi-Fi as its laptop.")
		return studio.Class{}, 0, nil
	}
	if wait := s.tries.wait(from, now); wait > 0 {
		f.say("code", "That was tried too often from this phone. Wait %s, or ask your teacher.", studio.Span((wait + time.Minute).Truncate(time.Minute)))
		return studio.Class{}, 0, nil
	}
	code := studio.ReadDoorCode(f.Val("code"))
	if seat := s.moves.seat(code, now, false); code != "" && seat != 0 {
		x, err := s.store.Seat(r.Context(), seat)
		if err != nil {
			return studio.Class{}, 0, err
		}
		c, err := s.store.Class(r.Context(), x.Class)
		return c, seat, err
	}
	if code != "" {
		d, ok, err := s.store.DoorByCode(r.Context(), code)
		if err != nil {
			return studio.Class{}, 0, err
		}
		if ok && d.OpenAt(now) {
			c, err := s.store.Class(r.Context(), d.Class)
			return c, 0, err
		}
	}
	s.tries.wrong(from, now)
	f.say("code", "That code opens no class now. Look at the teacher’s screen: six letters.")
	return studio.Class{}, 0, nil
}

func (s *Server) showSeatJoin(w http.ResponseWriter, r *http.Request, code int, f *form) error {
	ctx := r.Context()
	p := seatJoinPage{Frame: s.doorFrame(r), form: f, Code: f.Val("code")}
	p.Title, p.Path, p.Bench = "Join the class", "/seat", true
	if c, err := r.Cookie("aerugo_lightness"); err == nil && c.Value == "table" {
		p.Bench = false
	}
	if p.Code != "" && f.Wrong("code") == "" {
		class, seat, err := s.doorOf(r, f)
		if err != nil {
			return err
		}
		if f.Wrong("code") != "" {
			code = http.StatusUnprocessableEntity
		} else {
			p.Open, p.Class = true, class
			if p.Terms, err = s.store.SeatTerms(ctx, class); err != nil {
				return err
			}
			p.Erased = p.Terms.Erased(class)
			seats, err := s.store.Seats(ctx, class.ID)
			if err != nil {
				return err
			}
			for n := 1; n <= studio.SeatsOf(class); n++ {
				if !slices.ContainsFunc(seats, func(x studio.Seat) bool { return x.Number == n && x.Taken() }) {
					p.Free = append(p.Free, n)
				}
			}
			for _, x := range seats {
				if x.ID == seat {
					p.Move = x.Said()
				}
			}
		}
	}
	f.onTop("code", "number", "name")
	s.show(w, code, "seat_join", p)
	return nil
}

// joinSeat is POST /seat/join: a phone sits down.
func (s *Server) joinSeat(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	class, moved, err := s.doorOf(r, f)
	if err != nil {
		return err
	}
	if f.Wrong("code") != "" {
		return s.showSeatJoin(w, r, http.StatusUnprocessableEntity, f)
	}
	token := random(32)
	if moved != 0 {
		if s.moves.seat(studio.ReadDoorCode(f.Val("code")), s.now(), true) == 0 {
			return studio.Problemf(studio.Conflict, "", "That code was used by another phone just now. Ask your teacher for a fresh one.")
		}
		if _, err := s.store.MoveSeat(r.Context(), moved, tokenHash(token)); err != nil {
			return err
		}
	} else {
		number := f.whole("number", "seat's number", 0)
		if number == 0 {
			f.say("number", "Choose your seat.")
		}
		if f.ok() {
			_, err := s.store.TakeSeat(r.Context(), class, int(number), f.Val("name"), tokenHash(token))
			if err := f.blame(err, "number", "name"); err != nil {
				return err
			}
		}
		if !f.ok() {
			return s.showSeatJoin(w, r, http.StatusUnprocessableEntity, f)
		}
	}
	terms, err := s.store.SeatTerms(r.Context(), class)
	if err != nil {
		return err
	}
	http.SetCookie(w, &http.Cookie{Name: seatCookie, Value: token, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Expires: terms.LinkTill(class), Secure: r.TLS != nil})
	s.live.changed()
	http.Redirect(w, r, "/seat", http.StatusSeeOther)
	return nil
}
