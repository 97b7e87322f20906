package web

import (
	"fmt"
	"net/http"
	"slices"

	"aerugo/internal/flow/taste"
	"aerugo/internal/studio"
)

// classSitting reads a sitting in the path, which must be one of the class's.
func (s *Server) classSitting(r *http.Request, class studio.Class) (studio.Sitting, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Sitting{}, err
	}
	all, err := s.store.ClassSittings(r.Context(), class.ID)
	if err != nil {
		return studio.Sitting{}, err
	}
	for _, x := range all {
		if x.ID == id {
			return x, nil
		}
	}
	return studio.Sitting{}, studio.Problemf(studio.NotFound, "", "The class has no such choosing.")
}

// fromSeat points a pair's pictures to where a student's phone may see them.
func fromSeat(pairs []shownPair) []shownPair {
	for i := range pairs {
		for _, f := range []*shownFace{&pairs[i].Left, &pairs[i].Right} {
			if f.Src != "" {
				f.Src = "/seat" + f.Src
			}
		}
	}
	return pairs
}

// seatTastePage shows a student two faces, of which one is tapped.
type seatTastePage struct {
	choosePage
}

func (s *Server) seatChooses(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	x, err := s.classSitting(r, class)
	if err != nil {
		return err
	}
	p := seatTastePage{choosePage{Frame: s.seatFrame(r, x.Question, seat), Sitting: x, Enough: taste.Enough(len(x.Faces)), Chooser: seat.By(), Gone: len(x.Faces) < 2}}
	if !p.Gone && x.Closed.IsZero() {
		pairs, last, err := s.nextPairs(r, x, seat.By(), nil, 1)
		if err != nil {
			return err
		}
		if pairs = fromSeat(pairs); len(pairs) > 0 {
			p.Pair = &pairs[0]
		}
		if last != nil {
			one := fromSeat([]shownPair{*last})
			p.LastPair = &one[0]
		}
	}
	s.show(w, http.StatusOK, "seat_taste", p)
	return nil
}

// seatAhead is GET /seat/taste/{id}/ahead: the next pairs of this seat as JSON.
func (s *Server) seatAhead(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	x, err := s.classSitting(r, class)
	if err != nil {
		return err
	}
	shown, err := shownPairs(readForm(r).values["shown"])
	if err != nil {
		return err
	}
	pairs := []shownPair{}
	if x.Closed.IsZero() {
		more, _, err := s.nextPairs(r, x, seat.By(), shown, pairsKept)
		if err != nil {
			return err
		}
		pairs = append(pairs, fromSeat(more)...)
	}
	writeJSON(w, http.StatusOK, map[string]any{"pairs": pairs, "enough": taste.Enough(len(x.Faces))})
	return nil
}

func (s *Server) seatChose(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	x, err := s.classSitting(r, class)
	if err != nil {
		return err
	}
	f := readForm(r)
	f.set("who", seat.By()) // whatever the form says
	c, err := s.choiceIn(f, x.ID)
	if err != nil {
		return err
	}
	if c.Chosen = studio.Outcome(f.Val("chosen")); c.Chosen == studio.Undone {
		return studio.Problemf(studio.Invalid, "chosen", "Take the left one, the right one or neither.")
	}
	if _, err := s.store.AddChoice(r.Context(), c); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/seat/taste/%d", x.ID))
}

func (s *Server) seatUnchose(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	x, err := s.classSitting(r, class)
	if err != nil {
		return err
	}
	f := readForm(r)
	f.set("who", seat.By())
	c, err := s.choiceIn(f, x.ID)
	if err != nil {
		return err
	}
	if err := s.takeChoiceBack(r.Context(), c); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/seat/taste/%d", x.ID))
}

// seatOrderPage shows the class how it chose, once the choosing is closed.
type seatOrderPage struct {
	Frame
	Sitting studio.Sitting
	Lead    string
	OneWay  string
	Agree   string
	Unsure  []string
	Places  []placeView
	People  int
	Choices int
}

func (s *Server) seatOrder(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	x, err := s.classSitting(r, class)
	if err != nil {
		return err
	}
	if x.Closed.IsZero() {
		return studio.Problemf(studio.Conflict, "", "The class is still choosing; the order is shown when your teacher closes it.")
	}
	p := seatOrderPage{Frame: s.seatFrame(r, x.Question, seat), Sitting: x}
	all, err := s.store.Choices(r.Context(), x.ID)
	if err != nil {
		return err
	}
	chosen := studio.StandingChoices(all)
	if fit, err := taste.FitChoices(x.Faces, chosen); err == nil {
		shows, err := s.showing(r.Context(), x.Measured)
		if err != nil {
			return err
		}
		o, namer := taste.OrderOf(fit, chosen), taste.NamerOf(x.Faces)
		p.Lead, p.OneWay, p.Unsure, p.Agree, p.People, p.Choices = o.Lead(namer), o.OneOrder(), o.Doubts(namer), taste.AgreementOf(chosen).Words(), len(o.People), o.Choices
		for _, q := range o.Places {
			v := placeView{Place: q, Name: namer.Name(q.Face), Ranks: fmt.Sprint(q.First), Bar: shareBar(q)}
			if q.Last > q.First {
				v.Ranks = fmt.Sprintf("%d–%d", q.First, q.Last)
			}
			if photo := shows.photo(q.Face); photo != 0 {
				v.Thumb = fmt.Sprintf("/seat/photos/%d/thumb.jpg", photo)
			}
			p.Places = append(p.Places, v)
		}
	}
	s.show(w, http.StatusOK, "seat_order", p)
	return nil
}

// seatNumbered finds the seat of a number, and false where it is nobody's yet.
func seatNumbered(seats []studio.Seat, n int) (studio.Seat, bool) {
	i := slices.IndexFunc(seats, func(x studio.Seat) bool { return x.Number == n })
	if i < 0 {
		return studio.Seat{}, false
	}
	return seats[i], true
}
