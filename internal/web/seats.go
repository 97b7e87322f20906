package web

import (
	"context"
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// studentRoutes are the teacher's: who sits where and how far they are.
func (s *Server) studentRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /classes/{id}/students", s.students)
	s.on(mux, "GET /classes/{id}/students/board", s.studentsBoard)
	s.on(mux, "POST /classes/{id}/students/door", s.studentsDoor)
	s.on(mux, "POST /classes/{id}/students/deal", s.studentsDeal)
	s.on(mux, "POST /classes/{id}/students/terms", s.studentsTerms)
	s.on(mux, "POST /classes/{id}/students/sitting", s.studentsSitting)
	s.on(mux, "POST /classes/{id}/students/{seat}", s.changeStudent)
	s.on(mux, "GET /classes/{id}/students/{seat}/seat.zip", s.studentZip)
}

// studentsPage is all seats at once.
type studentsPage struct {
	Frame
	*form
	Class    studio.Class
	Door     studio.Door
	IsOpen   bool
	Doors    []door // of the class
	Move     string // who the one-time code is for
	MoveCode string
	Moves    []door
	Terms    studio.SeatTerms
	Erased   time.Time
	Till     time.Time
	Rows     []studentRow
	Taken    int
	Hands    int
	Seats    int
	Loose    []int64 // the class's swatches nobody has
	HasSet   bool
	Sittings []sittingView
	Backups  int
}

// studentRow is one seat as the teacher sees it.
type studentRow struct {
	studio.Seat
	Number2  int // its number, also for a seat nobody has yet
	HandFor  time.Duration
	Work     []studentWork
	Quiet    bool // nothing under way
	Finished bool
}

// studentWork is one swatch of a seat.
type studentWork struct {
	Swatch int64
	Stands string
	Due    int64 // ms; 0 for none
	Act    bool
	Of     string // what a tap would confirm
	Begin  int64  // the treatment that would begin
	Button string
}

func (s *Server) students(w http.ResponseWriter, r *http.Request) error {
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	return s.showStudents(w, r, http.StatusOK, class, readForm(r), nil)
}

func (s *Server) showStudents(w http.ResponseWriter, r *http.Request, code int, class studio.Class, f *form, more func(*studentsPage)) error {
	p, err := s.fillStudents(r, class, f)
	if err != nil {
		return err
	}
	if more != nil {
		more(&p)
	}
	f.onTop("keepdays", "linkdays", "numbers")
	s.show(w, code, "students", p)
	return nil
}

func (s *Server) studentsBoard(w http.ResponseWriter, r *http.Request) error {
	class, err := s.classIn(r)
	if err != nil {
		return err
	}
	p := studentsPage{Class: class, Seats: studio.SeatsOf(class)}
	if p.Terms, err = s.store.SeatTerms(r.Context(), class); err != nil {
		return err
	}
	if err := s.fillSeats(r.Context(), &p); err != nil {
		return err
	}
	return s.part(w, "students", "seats", p)
}

// doorsAt draws the codes of an address for each of the laptop's networks.
func (s *Server) doorsAt(path string) ([]door, error) {
	var out []door
	for _, a := range s.share.open() {
		drawn, err := codeSVG(a + path)
		if err != nil {
			return nil, err
		}
		out = append(out, door{a + path, template.HTML(drawn)})
	}
	return out, nil
}

func (s *Server) fillStudents(r *http.Request, class studio.Class, f *form) (studentsPage, error) {
	ctx, now := r.Context(), s.now()
	p := studentsPage{Frame: s.frame(r, "Students of "+class.Name, "classes"), form: f, Class: class, Seats: studio.SeatsOf(class), HasSet: class.SetID != 0}
	var err error
	if p.Terms, err = s.store.SeatTerms(ctx, class); err != nil {
		return p, err
	}
	p.Erased, p.Till = p.Terms.Erased(class), p.Terms.LinkTill(class)
	if p.Door, err = s.store.Door(ctx, class.ID); err != nil {
		return p, err
	}
	if p.IsOpen = p.Door.OpenAt(now) && len(s.share.open()) > 0; p.IsOpen {
		if p.Doors, err = s.doorsAt("/seat?code=" + p.Door.Code); err != nil {
			return p, err
		}
	}
	if err := s.fillSeats(ctx, &p); err != nil {
		return p, err
	}
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return p, err
	}
	sittings, err := s.store.ClassSittings(ctx, class.ID)
	if err != nil {
		return p, err
	}
	for _, x := range sittings {
		v, err := s.viewSitting(ctx, x, sets)
		if err != nil {
			return p, err
		}
		p.Sittings = append(p.Sittings, v)
	}
	backups, err := s.store.Backups()
	p.Backups = len(backups)
	return p, err
}

// fillSeats fills in who sits where and how far each is.
func (s *Server) fillSeats(ctx context.Context, p *studentsPage) error {
	class, now := p.Class, s.now()
	seats, err := s.store.Seats(ctx, class.ID)
	if err != nil {
		return err
	}
	on, numbers, err := s.classFolds(ctx, class)
	if err != nil {
		return err
	}
	has := map[int64]bool{}
	for n := 1; n <= p.Seats; n++ {
		row := studentRow{Number2: n}
		if x, ok := seatNumbered(seats, n); ok {
			row.Seat = x
		}
		row.Quiet, row.Finished = true, len(row.Swatches) > 0
		for _, w := range row.Swatches {
			has[w] = true
			work := workOf(w, on[w], now)
			row.Quiet = row.Quiet && work.Of == ""
			row.Finished = row.Finished && work.Of == "" && work.Begin == 0
			row.Work = append(row.Work, work)
		}
		if row.Taken() {
			p.Taken++
		}
		if !row.Hand.IsZero() {
			p.Hands++
			row.HandFor = now.Sub(row.Hand).Truncate(time.Minute)
		}
		p.Rows = append(p.Rows, row)
	}
	for _, n := range numbers {
		if !has[n] {
			p.Loose = append(p.Loose, n)
		}
	}
	return nil
}

// classFolds reads what is done to a class's own swatches, by number, and those numbers
// in the order in which they are handed out: recipe by recipe, so that every seat gets
// of each. Blanks stay with the teacher.
func (s *Server) classFolds(ctx context.Context, class studio.Class) (map[int64][]folded, []int64, error) {
	on := map[int64][]folded{}
	if class.SetID == 0 {
		return on, nil, nil
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Set: class.SetID})
	if err != nil {
		return nil, nil, err
	}
	for _, f := range folds {
		on[f.Treatment.Swatch] = append(on[f.Treatment.Swatch], f)
	}
	swatches, err := s.store.SwatchesOf(ctx, class.SetID)
	if err != nil {
		return nil, nil, err
	}
	var numbers []int64
	recipe := map[int64]int64{}
	for _, w := range swatches {
		if w.Blank {
			continue
		}
		numbers = append(numbers, w.Number)
		if len(on[w.Number]) > 0 {
			recipe[w.Number] = on[w.Number][0].Treatment.VersionID
		}
	}
	slices.SortStableFunc(numbers, func(a, b int64) int {
		if recipe[a] != recipe[b] {
			return int(recipe[a] - recipe[b])
		}
		return int(a - b)
	})
	return on, numbers, nil
}

// workOf says how a swatch stands and what a tap on it would be.
func workOf(n int64, folds []folded, now time.Time) studentWork {
	w := studentWork{Swatch: n, Stands: seatStanding(folds)}
	for _, f := range folds {
		if f.Record.Status == run.Running && f.Record.Current < len(f.Treatment.Steps) {
			step, st := f.Treatment.Steps[f.Record.Current], f.Record.Steps[f.Record.Current]
			w.Of = fmt.Sprintf("%d:%d", f.Treatment.ID, f.Record.Current)
			w.Button = fmt.Sprintf("%s done", capital(string(step.Kind)))
			if step.Kind.Dwell() && !st.Began.IsZero() {
				due := st.Began.Add(step.Duration)
				w.Due, w.Act = due.UnixMilli(), !now.Before(due)
			}
			return w
		}
	}
	for _, f := range folds {
		if f.Record.Status == run.Planned && lowerDone(f, folds) {
			w.Begin, w.Button = f.Treatment.ID, "Begin"
			return w
		}
	}
	return w
}

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
