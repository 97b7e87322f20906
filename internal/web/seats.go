package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
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
	Entry    studio.Door // Frame.Door is another one
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
	if p.Entry, err = s.store.Door(ctx, class.ID); err != nil {
		return p, err
	}
	if p.IsOpen = p.Entry.OpenAt(now) && len(s.share.open()) > 0; p.IsOpen {
		if p.Doors, err = s.doorsAt("/seat?code=" + p.Entry.Code); err != nil {
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
