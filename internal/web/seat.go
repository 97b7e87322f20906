package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
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
		return h(w, r.WithContext(context.WithValue(r.Context(), seatKey{}, seat)), seat, class)
	}
}

// seatFrame is the Frame of a student's pages: dark, unless the phone was told otherwise.
func (s *Server) seatFrame(r *http.Request, title string, seat studio.Seat) Frame {
	f := Frame{Title: title, Room: "seat", Now: s.now(), Path: r.URL.RequestURI(), Said: r.URL.Query().Get("said"), Phone: true, Seat: seat.Said(), Who: seat.By(), Bench: true}
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
		if v.Ahead, err = aheadOf(t, byID, chambers, now); err != nil {
			return p, err
		}
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

// ownSwatch reads the swatch in the path, which must be the seat's.
func ownSwatch(r *http.Request, seat studio.Seat) (int64, error) {
	n, err := idIn(r, "number")
	if err == nil && !slices.Contains(seat.Swatches, n) {
		err = studio.Problemf(studio.NotFound, "", "Swatch %d is not one of yours. Yours are listed on your first page.", n)
	}
	return n, err
}

// seatSwatchPage is one swatch of a student.
type seatSwatchPage struct {
	Frame
	Number int64
	Stands string
	Steps  []seatStep
	Faces  []seatFace
	Hints  []string // words to choose from
	Usual  studio.Face
}

type seatStep struct {
	Faces string
	Lines []seatLine
}

type seatLine struct {
	Words, State string
	Done, Now    bool
}

// seatFace is one face with what the student said of it.
type seatFace struct {
	Face    studio.Face
	Photos  []studio.Photo
	Words   [3]string
	Covered string
	Note    string
	Said    bool
}

// wordHints are offered for a face; any other word can be written.
var wordHints = []string{"even", "mottled", "streaky", "grainy", "velvety", "glossy", "dry", "crystalline", "deep", "pale", "green", "blue", "turquoise", "brown", "black", "bare spots"}

func (s *Server) seatSwatch(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	n, err := ownSwatch(r, seat)
	if err != nil {
		return err
	}
	p, err := s.fillSeatSwatch(r, seat, class, n)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "seat_swatch", p)
	return nil
}

func (s *Server) fillSeatSwatch(r *http.Request, seat studio.Seat, class studio.Class, n int64) (seatSwatchPage, error) {
	ctx := r.Context()
	p := seatSwatchPage{Frame: s.seatFrame(r, fmt.Sprintf("Swatch %d", n), seat), Number: n, Hints: wordHints, Usual: studio.Front}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
	if err != nil {
		return p, err
	}
	p.Stands = seatStanding(folds)
	for _, f := range folds {
		step := seatStep{Faces: facesWord(f.Treatment.Faces)}
		for i, x := range f.Treatment.Steps {
			st := f.Record.Steps[i]
			step.Lines = append(step.Lines, seatLine{Words: capital(run.Words(x)), State: string(st.State), Done: st.State == run.Done, Now: f.Record.Status == run.Running && i == f.Record.Current})
		}
		p.Steps = append(p.Steps, step)
	}
	photos, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return p, err
	}
	said, err := s.store.SeatWords(ctx, class.ID)
	if err != nil {
		return p, err
	}
	for _, face := range studio.BothFaces {
		v := seatFace{Face: face}
		for _, x := range photos {
			if x.Swatch == n && x.Face == face {
				v.Photos = append(v.Photos, x)
			}
		}
		for _, x := range said {
			if x.Seat == seat.ID && x.Face == (studio.FaceOf{Swatch: n, Face: face}) {
				v.take(x)
			}
		}
		p.Faces = append(p.Faces, v)
	}
	return p, nil
}

func (v *seatFace) take(x studio.SeatWords) {
	v.Said, v.Note, v.Covered, v.Words = true, x.Note, "", [3]string{}
	copy(v.Words[:], x.Words)
	if x.Covered != nil {
		v.Covered = number(*x.Covered*100, 0)
	}
}

// seatSays is POST /seat/swatches/{number}/words: three words, how much is covered, a
// note.
func (s *Server) seatSays(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	n, err := ownSwatch(r, seat)
	if err != nil {
		return err
	}
	f := readForm(r)
	at, err := s.when(f)
	if err != nil {
		return err
	}
	x := studio.SeatWords{Client: f.Val("client"), Class: class.ID, Seat: seat.ID, Face: studio.FaceOf{Swatch: n, Face: studio.Face(f.Val("face"))}, Note: f.Val("note"), At: at}
	for _, word := range f.values["word"] {
		if word = strings.TrimSpace(word); word != "" && !slices.Contains(x.Words, word) {
			x.Words = append(x.Words, word)
		}
	}
	if f.Val("covered") != "" {
		v := f.number("covered", "covered share", "%", 0) / 100
		x.Covered = &v
	}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	if _, err := s.store.AddSeatWords(r.Context(), x); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/seat/swatches/%d", n), "Kept. You can write it anew as often as you like; the newest counts.")
}

// seatPhotograph is POST /seat/photos: one photograph of one of the seat's faces, kept
// as every other, and once however often it is sent.
func (s *Server) seatPhotograph(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	ctx := r.Context()
	r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
	f, data, err := receive(r)
	if err != nil {
		return err
	}
	n := f.whole("swatch", "swatch's number", 0)
	if !slices.Contains(seat.Swatches, n) {
		return studio.Problemf(studio.NotFound, "swatch", "Swatch %d is not one of yours. Yours are listed on your first page.", n)
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
	if err != nil {
		return err
	}
	moment := studio.Finished
	for _, x := range folds {
		switch x.Record.Status {
		case run.Running:
			moment = studio.Underway
		case run.Planned:
			if moment == studio.Finished {
				moment = studio.Bare
			}
		}
	}
	kept, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return err
	}
	to := fmt.Sprintf("/seat/swatches/%d", n)
	const said = "The photograph is kept. The place it was taken at is not in it."
	if client := f.Val("client"); client != "" && slices.ContainsFunc(kept, func(x studio.Photo) bool { return x.Client == client && x.Swatch == n }) {
		return backSaying(w, r, to, said) // sent twice: it is not read a second time
	}
	// one of the class's photographs is read at a time, so that a core is left for the
	// pages of the others while a whole class sends
	select {
	case s.classSeat <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.classSeat }()
	clean := &form{values: map[string][]string{"client": {f.Val("client")}, "swatch": {f.Val("swatch")}, "face": {f.Val("face")}, "moment": {string(moment)}}, wrong: map[string]string{}}
	got, _, err := s.takePhoto(ctx, clean, data)
	if err != nil {
		return err
	}
	for field, text := range clean.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	for _, x := range got.photos {
		if slices.Contains(seat.Swatches, x.Swatch) {
			if err := s.store.AddSeatPhoto(ctx, seat.ID, x.ID); err != nil {
				return err
			}
		}
	}
	s.live.changed()
	return backSaying(w, r, to, said)
}

// seatPicture is GET /seat/photos/{id}/{made}: of the seat's own swatches, or of a face
// that the class chooses between.
func (s *Server) seatPicture(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	if !slices.Contains(seat.Swatches, photo.Swatch) {
		sittings, err := s.store.ClassSittings(r.Context(), class.ID)
		if err != nil {
			return err
		}
		chosen := slices.ContainsFunc(sittings, func(x studio.Sitting) bool {
			return x.Has(studio.FaceOf{Swatch: photo.Swatch, Face: photo.Face})
		})
		if made := r.PathValue("made"); !chosen || made != "face.jpg" && made != "thumb.jpg" {
			return studio.Problemf(studio.NotFound, "", "There is no such picture here.")
		}
	}
	return s.madePicture(w, r)
}

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
