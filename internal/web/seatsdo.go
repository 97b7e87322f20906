package web

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// studentsDoor is POST /classes/{id}/students/door: the way in is opened, or shut.
func (s *Server) studentsDoor(w http.ResponseWriter, r *http.Request) error {
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	if err := s.laptopOnly(r); err != nil {
		return err
	}
	to := fmt.Sprintf("/classes/%d/students", class.ID)
	if r.FormValue("do") == "shut" {
		if err := s.store.CloseDoor(r.Context(), class.ID); err != nil {
			return err
		}
		s.live.changed()
		return backSaying(w, r, to, "Nobody else can join now. Who sits at a seat stays there.")
	}
	f := readForm(r)
	now := s.now()
	closes := class.Over().Add(time.Hour)
	if now.After(closes) {
		closes = now.Add(2 * time.Hour) // the class runs late, or is held on another day
	}
	if earliest := class.Starts.Add(-12 * time.Hour); now.Before(earliest) {
		f.say("", "The class begins on %s. Its door can be opened from twelve hours before.", localTime(class.Starts))
		return s.showStudents(w, r, http.StatusConflict, class, f, nil)
	}
	if _, err := s.share.start(); err != nil {
		if err := f.blame(err); err != nil {
			return err
		}
		return s.showStudents(w, r, http.StatusConflict, class, f, nil)
	}
	d, err := s.store.Door(r.Context(), class.ID)
	if err != nil {
		return err
	}
	if !d.OpenAt(now) || r.FormValue("do") == "fresh" {
		d.Code = doorCode() // else the code on the wall stays good after a crash
	}
	d.Opened, d.Closes = now, closes
	if err := s.store.OpenDoor(r.Context(), d); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, to)
}

// studentsDeal is POST /classes/{id}/students/deal: the class's swatches go to its seats
// in turn, or numbers to one seat.
func (s *Server) studentsDeal(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	to := map[int64]int{}
	if f.Val("do") == "numbers" {
		seat := f.whole("seat", "seat's number", 0)
		for _, text := range strings.FieldsFunc(f.Val("numbers"), func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
			n, err := strconv.ParseInt(text, 10, 64)
			if err != nil {
				f.say("numbers", "%q is no number of a swatch; write numbers with commas between.", text)
				continue
			}
			to[n] = int(seat)
		}
		if len(to) == 0 {
			f.say("numbers", "Write the numbers of the swatches, with commas between.")
		}
	} else {
		_, numbers, err := s.classFolds(ctx, class)
		if err != nil {
			return err
		}
		if to = studio.DealRound(numbers, class.Heads); len(to) == 0 {
			f.say("", "This class has no swatches of its own yet. Lay them on the class’s page first.")
		}
	}
	if f.ok() {
		if err := f.blame(s.store.GiveSwatches(ctx, class, to, false), "numbers"); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showStudents(w, r, http.StatusUnprocessableEntity, class, f, nil)
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/classes/%d/students", class.ID))
}

// studentsTerms is POST /classes/{id}/students/terms: what is kept of students, and how
// long.
func (s *Server) studentsTerms(w http.ResponseWriter, r *http.Request) error {
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	t := studio.SeatTerms{Class: class.ID, Names: f.Val("names") != "", KeepDays: int(f.whole("keepdays", "days", 60)), LinkDays: int(f.whole("linkdays", "days", 14))}
	if f.ok() {
		if err := f.blame(s.store.SaveSeatTerms(r.Context(), t), "keepdays", "linkdays"); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showStudents(w, r, http.StatusUnprocessableEntity, class, f, nil)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/classes/%d/students", class.ID), "Kept. Students read it where they join.")
}

// studentsSitting is POST /classes/{id}/students/sitting: the class chooses between its
// own swatches, or those made ahead, without seeing whose is whose.
func (s *Server) studentsSitting(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	to := fmt.Sprintf("/classes/%d/students", class.ID)
	if id := f.whole("close", "number", 0); id != 0 {
		all, err := s.store.ClassSittings(ctx, class.ID)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(all, func(x studio.Sitting) bool { return x.ID == id }) {
			return studio.Problemf(studio.NotFound, "", "The class has no such choosing.")
		}
		if err := s.store.CloseSitting(ctx, id, s.now()); err != nil {
			return err
		}
		s.live.changed()
		return backSaying(w, r, to, "Closed. The class sees the order now.")
	}
	set := class.SetID
	if f.Val("of") == "ahead" {
		set = class.AheadID
	}
	x := studio.Sitting{Question: f.Val("question"), Blind: true, Seed: rand.Uint64(), By: s.who(r), Set: set}
	if set == 0 {
		f.say("", "There are no such swatches yet. Lay them on the class’s page first.")
	}
	if f.ok() {
		x.Faces, x.From, err = s.facesOfSet(ctx, set, f.Val("side"), false)
		x.From = studio.FromClass
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if f.ok() {
		if len(x.Faces) > studio.MostToChoose {
			x.Faces = x.Faces[:studio.MostToChoose]
		}
		if x, err = s.store.AddSitting(ctx, x); err == nil {
			err = s.store.AddClassSitting(ctx, class.ID, x.ID)
		}
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showStudents(w, r, http.StatusUnprocessableEntity, class, f, nil)
	}
	s.live.changed()
	return backSaying(w, r, to, "The class can choose now: it stands on every seat’s first page.")
}

// studentIn reads the seat in the path, which must be one of the class's.
func (s *Server) studentIn(r *http.Request, class studio.Class) (studio.Seat, error) {
	id, err := idIn(r, "seat")
	if err != nil {
		return studio.Seat{}, err
	}
	x, err := s.store.Seat(r.Context(), id)
	if err == nil && x.Class != class.ID {
		err = studio.Problemf(studio.NotFound, "", "This class has no such seat.")
	}
	return x, err
}

// changeStudent is POST /classes/{id}/students/{seat}: its hand is lowered, it is
// renamed, freed, brought to another phone, or erased.
func (s *Server) changeStudent(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	x, err := s.studentIn(r, class)
	if err != nil {
		return err
	}
	f := readForm(r)
	said := ""
	switch f.Val("do") {
	case "hand":
		err = s.store.RaiseHand(ctx, x.ID, false)
	case "rename":
		terms, e := s.store.SeatTerms(ctx, class)
		if e != nil {
			return e
		}
		err = s.store.RenameSeat(ctx, x.ID, f.Val("name"), terms)
	case "free":
		err, said = s.store.FreeSeat(ctx, x.ID), fmt.Sprintf("Seat %d is free. What was tapped there stays with the seat.", x.Number)
	case "photos":
		err = s.store.SetSeatPhotos(ctx, x.ID, studio.SeatPhotos(f.Val("photos")))
	case "erase":
		if f.Val("sure") == "" {
			return studio.Problemf(studio.Invalid, "sure", "Tick that you are sure; it can’t be undone.")
		}
		err, said = s.store.EraseSeat(ctx, x.ID), fmt.Sprintf("The student of seat %d is erased. Backups and archives made before today still hold what they held.", x.Number)
	case "move":
		if err := s.laptopOnly(r); err != nil {
			return err
		}
		if _, err := s.share.start(); err != nil {
			if err := f.blame(err); err != nil {
				return err
			}
			return s.showStudents(w, r, http.StatusConflict, class, f, nil)
		}
		code := s.moves.issue(x.ID, s.now())
		doors, err := s.doorsAt("/seat?code=" + code)
		if err != nil {
			return err
		}
		return s.showStudents(w, r, http.StatusOK, class, f, func(p *studentsPage) { p.Move, p.MoveCode, p.Moves = x.Said(), code, doors })
	default:
		return studio.Problemf(studio.Invalid, "do", "Say what is done with seat %d.", x.Number)
	}
	if err := f.blame(err); err != nil {
		return err
	}
	if !f.ok() {
		return s.showStudents(w, r, http.StatusUnprocessableEntity, class, f, nil)
	}
	s.live.changed()
	to := fmt.Sprintf("/classes/%d/students", class.ID)
	if said == "" {
		return back(w, r, to)
	}
	return backSaying(w, r, to, said)
}

func (s *Server) studentZip(w http.ResponseWriter, r *http.Request) error {
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	x, err := s.studentIn(r, class)
	if err != nil {
		return err
	}
	return s.sendSeatZip(w, r, x, class)
}
