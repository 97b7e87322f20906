package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/calendar"
	"aerugo/internal/flow/benchday"
	lesson "aerugo/internal/flow/class"
	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// ownSize is the swatch of a class: 50 x 75 mm, common practice, no source.
var ownSize = lesson.Size{WidthMM: 50, HeightMM: 75}

// classAheadPage is what is made ahead and when to begin with it.
type classAheadPage struct {
	Frame
	*form
	Class   studio.Class
	Plan    lesson.Plan
	ToMake  int
	Lays    string
	Set     *studio.Set
	Night   *lesson.Night
	Days    []studio.Hours
	Day     *studio.BenchDay
	CanPlan bool
}

func (s *Server) classAhead(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	return s.showAhead(w, r, f, c, http.StatusOK)
}

func (s *Server) showAhead(w http.ResponseWriter, r *http.Request, f *form, c studio.Class, code int) error {
	ctx := r.Context()
	for name, v := range map[string]string{"from": "09:00", "till": "18:00"} {
		if f.Val(name) == "" {
			f.set(name, v)
		}
	}
	p := classAheadPage{Frame: s.frame(r, "Made ahead of "+c.Name, "classes"), form: f, Class: c}
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return err
	}
	if p.Plan, err = lesson.Make(a); err != nil {
		return err
	}
	for _, h := range p.Plan.Ahead {
		p.ToMake += h.ToMake()
	}
	p.Lays = fmt.Sprintf("Lay these %d swatches", p.ToMake)
	if p.ToMake == 1 {
		p.Lays = "Lay this swatch"
	}
	if c.AheadID != 0 {
		set, err := s.store.Set(ctx, c.AheadID)
		if err != nil {
			return err
		}
		p.Set = &set
	}
	if c.DayID != 0 {
		day, err := s.store.BenchDay(ctx, c.DayID)
		if err != nil {
			return err
		}
		p.Day = &day
	}
	if f.ok() && (p.ToMake > 0 || p.Set != nil) {
		night, err := s.night(ctx, f, a, p.Plan)
		if err := f.blame(err, "from"); err != nil {
			return err
		}
		if night != nil {
			p.Night = night
			if len(night.Wish.People) > 0 {
				for _, h := range night.Wish.People[0].There {
					p.Days = append(p.Days, studio.Hours{From: h.From.Local(), Till: h.Till.Local()})
				}
			}
			p.CanPlan = p.Set != nil && p.Day == nil && night.Fits
		}
	}
	f.onTop("from")
	s.show(w, code, "class_ahead", p)
	return nil
}

// night finds when to begin with what is made ahead: of the set that was laid, else
// of what would be laid. It is nil when all of that is done.
func (s *Server) night(ctx context.Context, f *form, a lesson.Ask, p lesson.Plan) (*lesson.Night, error) {
	n := lesson.NightAsk{Now: s.now().Local().Truncate(time.Minute), Starts: a.Class.Starts, Person: a.Class.Teacher}
	if strings.TrimSpace(n.Person) == "" || len(n.Person) > 60 {
		n.Person = "The teacher"
	}
	for _, x := range []struct {
		field string
		to    *int
	}{{"from", &n.From}, {"till", &n.Till}} {
		t, err := time.Parse("15:04", f.Val(x.field))
		if err != nil {
			return nil, studio.Problemf(studio.Invalid, "from", "%q is not a time of day; write it like 09:00.", f.Val(x.field))
		}
		*x.to = t.Hour()*60 + t.Minute()
	}
	var entries []run.Entry
	if a.Class.AheadID != 0 {
		folds, err := s.treatments(ctx, store.TreatmentFilter{Set: a.Class.AheadID})
		if err != nil {
			return nil, err
		}
		for _, x := range folds {
			if x.Record.Status == run.Planned && !x.Treatment.Blank {
				n.Treatments = append(n.Treatments, x.Treatment)
			}
		}
		if len(n.Treatments) == 0 {
			return nil, nil
		}
	} else {
		hands, err := s.store.HandAmounts(ctx)
		if err != nil {
			return nil, err
		}
		lay, err := lesson.LayAhead(a, p, hands, ownSize)
		if err != nil {
			return nil, err
		}
		n.Treatments = lay.Treatments()
		for i := range n.Treatments {
			n.Treatments[i].ID = int64(i + 1)
		}
	}
	for _, t := range n.Treatments {
		entries = append(entries, run.Entry{Treatment: t, Record: run.Fold(t, nil)})
	}
	var err error
	if n.Chambers, err = s.dayChambers(ctx, entries); err != nil {
		return nil, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return nil, err
	}
	var all []run.Entry
	for _, x := range folds {
		all = append(all, run.Entry{Treatment: x.Treatment, Record: x.Record})
	}
	n.Learnt = benchday.Learn(all)
	begun := time.Now()
	n.Finish = timetable.Limit{Steps: 6000, Stop: func() bool { return time.Since(begun) > 6*time.Second }}
	night, err := lesson.MakeNight(n)
	return &night, err
}

// layClassAhead is POST /classes/{id}/ahead: what is made ahead becomes a set.
func (s *Server) layClassAhead(w http.ResponseWriter, r *http.Request) error {
	return s.layClass(w, r, func(c studio.Class) int64 { return c.AheadID }, func(a lesson.Ask, hands []studio.HandAmount) (plan.Layout, error) {
		p, err := lesson.Make(a)
		if err != nil {
			return plan.Layout{}, err
		}
		return lesson.LayAhead(a, p, hands, ownSize)
	}, func(c *studio.Class, set int64) string { c.AheadID = set; return "/ahead" })
}

// layClassOwn is POST /classes/{id}/own: the students' swatches become a set.
func (s *Server) layClassOwn(w http.ResponseWriter, r *http.Request) error {
	return s.layClass(w, r, func(c studio.Class) int64 { return c.SetID }, func(a lesson.Ask, hands []studio.HandAmount) (plan.Layout, error) {
		return lesson.LayOwn(a, hands, ownSize)
	}, func(c *studio.Class, set int64) string { c.SetID = set; return "" })
}

func (s *Server) layClass(w http.ResponseWriter, r *http.Request, has func(studio.Class) int64, lay func(lesson.Ask, []studio.HandAmount) (plan.Layout, error), keep func(*studio.Class, int64) string) error {
	ctx := r.Context()
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	if id := has(c); id != 0 {
		return studio.Problemf(studio.Conflict, "", "Those swatches are laid already, as set %d; put that set into the bin first to lay them anew.", id)
	}
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return err
	}
	hands, err := s.store.HandAmounts(ctx)
	if err != nil {
		return err
	}
	l, err := lay(a, hands)
	if err != nil {
		return err
	}
	l.Set.Made, l.Set.Invented = s.now().UTC(), c.Invented
	if l.Set.RoomID, err = s.roomThatFits(ctx, c); err != nil {
		return err
	}
	pieces := make([]store.NewSwatch, len(l.Pieces))
	for i, x := range l.Pieces {
		x.Swatch.Made = l.Set.Made
		pieces[i] = store.NewSwatch{Swatch: x.Swatch, Treatments: x.Treatments}
	}
	set, made, err := s.store.AddSet(ctx, l.Set, pieces)
	if err != nil {
		return err
	}
	page := ""
	if _, err := s.store.ChangeClass(ctx, c.ID, func(x *studio.Class) error { page = keep(x, set.ID); return nil }); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/classes/%d%s", c.ID, page), fmt.Sprintf("Swatches %d to %d are planned. Print their labels, then start.", made[0].Number, made[len(made)-1].Number))
}

// roomThatFits is the class's room where it has what the class says of it, else
// none: then the set's own page asks.
func (s *Server) roomThatFits(ctx context.Context, c studio.Class) (int64, error) {
	if c.RoomID == 0 {
		return 0, nil
	}
	room, err := s.store.Room(ctx, c.RoomID)
	if err != nil {
		return 0, err
	}
	if c.Where == studio.Outdoors && !room.Outdoors || c.Where == studio.UnderHood && !room.Hood {
		return 0, nil
	}
	return room.ID, nil
}

// planClassDay is POST /classes/{id}/day: the latest beginning found becomes a bench day.
func (s *Server) planClassDay(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return err
	}
	switch {
	case c.AheadID == 0:
		f.say("", "Lay the swatches first; then their days can be planned.")
	case c.DayID != 0:
		f.say("", "Their bench days are planned already.")
	}
	if !f.ok() {
		return s.showAhead(w, r, f, c, http.StatusConflict)
	}
	p, err := lesson.Make(a)
	if err != nil {
		return err
	}
	night, err := s.night(ctx, f, a, p)
	if err := f.blame(err, "from"); err != nil {
		return err
	}
	if f.ok() && (night == nil || !night.Fits) {
		f.say("", "There is not time enough for that before the class, or nothing is left to make.")
	}
	if !f.ok() {
		return s.showAhead(w, r, f, c, http.StatusUnprocessableEntity)
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return err
	}
	full, err := s.dayAsk(ctx, night.Wish, nil)
	if err != nil {
		return err
	}
	if err := s.mayShareRoom(ctx, nil, full.Entries, supplies); err != nil {
		return err
	}
	name := fmt.Sprintf("Ahead of %s", c.Name)
	if len([]rune(name)) > 120 {
		name = string([]rune(name)[:119]) + "…"
	}
	day, _, err := s.store.AddBenchDay(ctx, studio.BenchDay{Name: name, By: s.who(r)}, planOf(night.Sheet, night.Wish, s.who(r)))
	if err != nil {
		return err
	}
	if _, err := s.store.ChangeClass(ctx, c.ID, func(x *studio.Class) error { x.DayID = day.ID; return nil }); err != nil {
		return err
	}
	s.days.saw(day.ID, recordsOf(full))
	s.live.changed()
	return back(w, r, fmt.Sprintf("/day/%d", day.ID))
}

// classNowPage is the class on the day, read across the room.
type classNowPage struct {
	Frame
	Class  studio.Class
	Before bool // it has not begun
	Over   bool
	Part   *lesson.Part
	N, Of  int
	Next   *lesson.Part
	Run    []string
}

func (s *Server) fillNow(r *http.Request) (classNowPage, error) {
	c, err := s.classIn(r)
	if err != nil {
		return classNowPage{}, err
	}
	p := classNowPage{Frame: s.frame(r, "Now: "+c.Name, "classes"), Class: c}
	a, err := s.classAsk(r.Context(), c)
	if err != nil {
		return p, err
	}
	whole, err := lesson.Make(a)
	if err != nil {
		return p, err
	}
	now := s.now()
	p.Of = len(whole.Parts)
	p.Over = true
	for i := range whole.Parts {
		x := &whole.Parts[i]
		if !now.Before(x.End) {
			continue
		}
		p.Over = false
		if now.Before(x.Start) {
			p.Before, p.Next = true, x
			break
		}
		p.Part, p.N, p.Run = x, i+1, x.Running
		if i+1 < len(whole.Parts) {
			p.Next = &whole.Parts[i+1]
		}
		break
	}
	return p, nil
}

func (s *Server) classNow(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillNow(r)
	if err != nil {
		return err
	}
	// The next part comes by itself: the page is asked for again when this one is over.
	if !p.Over {
		change := p.Class.Starts
		if p.Part != nil {
			change = p.Part.End
		}
		w.Header().Set("Refresh", strconv.Itoa(max(1, int(change.Sub(s.now()).Seconds())+1)))
	}
	s.show(w, http.StatusOK, "class_now", p)
	return nil
}

func (s *Server) classNowBoard(w http.ResponseWriter, r *http.Request) error {
	p, err := s.fillNow(r)
	if err != nil {
		return err
	}
	return s.part(w, "class_now", "board", p)
}

// classAfterPage is what is to be done when the class is over.
type classAfterPage struct {
	Frame
	*form
	Class    studio.Class
	Plan     lesson.Plan
	Swatches []classFetch
	Tasks    []classTask
	Waste    []studio.ClassWaste
}

type classFetch struct {
	Number int64
	Done   bool
}

type classTask struct {
	Key, Text, Link string
	Done            bool
}

func (s *Server) classAfter(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	return s.showAfter(w, r, readForm(r), c, http.StatusOK)
}

func (s *Server) showAfter(w http.ResponseWriter, r *http.Request, f *form, c studio.Class, code int) error {
	ctx := r.Context()
	p := classAfterPage{Frame: s.frame(r, "After "+c.Name, "classes"), form: f, Class: c}
	a, err := s.classAsk(ctx, c)
	if err != nil {
		return err
	}
	if p.Plan, err = lesson.Make(a); err != nil {
		return err
	}
	for name, v := range map[string]string{"incident": c.After.Incident, "surprised": c.After.Surprised, "note": c.After.Note} {
		if _, typed := f.values[name]; !typed {
			f.set(name, v)
		}
	}
	p.Waste = append(slices.Clone(c.After.Waste), studio.ClassWaste{}, studio.ClassWaste{})
	if c.SetID != 0 {
		swatches, err := s.store.Swatches(ctx)
		if err != nil {
			return err
		}
		for _, x := range swatches {
			if x.SetID == c.SetID {
				p.Swatches = append(p.Swatches, classFetch{x.Number, slices.Contains(c.After.Fetched, x.Number)})
			}
		}
	}
	add := func(key, text, link string) {
		p.Tasks = append(p.Tasks, classTask{key, text, link, slices.Contains(c.After.Done, key)})
	}
	for i, h := range p.Plan.Home {
		if !h.TakeOut.IsZero() {
			add(fmt.Sprintf("out%d", i), fmt.Sprintf("%s: take out at %s", h.Name, h.TakeOut.Format("Monday 15:04")), "/timers")
		}
		if !h.Read.IsZero() {
			add(fmt.Sprintf("read%d", i), fmt.Sprintf("%s: photograph and read on %s", h.Name, h.Read.Format("Monday 2 January")), "/photos/many")
		}
	}
	add("stock", "Count what is left on the shelf", "/shelf")
	add("cards", "Send or hand out the recipe cards", "/recipes")
	f.onTop("waste")
	s.show(w, code, "class_after", p)
	return nil
}

func (s *Server) saveClassAfter(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	after := studio.ClassAfter{Incident: f.Val("incident"), Surprised: f.Val("surprised"), Note: f.Val("note"), Done: f.values["done"]}
	for i, what := range f.values["what"] {
		mass := ""
		if i < len(f.values["mass"]) {
			mass = f.values["mass"][i]
		}
		if strings.TrimSpace(what) == "" && strings.TrimSpace(mass) == "" {
			continue
		}
		g, err := decimal(mass)
		if err != nil {
			f.say("waste", "%q is not a mass; write grams, like 250.", mass)
			continue
		}
		after.Waste = append(after.Waste, studio.ClassWaste{What: strings.TrimSpace(what), MassG: g})
	}
	for _, text := range f.values["fetched"] {
		if n, err := strconv.ParseInt(text, 10, 64); err == nil {
			after.Fetched = append(after.Fetched, n)
		}
	}
	if f.ok() {
		_, err := s.store.ChangeClass(r.Context(), c.ID, func(x *studio.Class) error { x.After = after; return nil })
		if err := f.blame(err, "waste"); err != nil {
			return err
		}
	}
	if !f.ok() {
		c.After = after
		return s.showAfter(w, r, f, c, http.StatusUnprocessableEntity)
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/classes/%d/after", c.ID), "Kept.")
}

// endClass is POST /classes/{id}/end.
func (s *Server) endClass(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	if err := s.store.EndClass(r.Context(), c.ID, s.now()); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/classes/%d/after", c.ID))
}

// classCalendar is GET /classes/{id}/calendar.ics: the class and what follows it.
func (s *Server) classCalendar(w http.ResponseWriter, r *http.Request) error {
	c, err := s.classIn(r)
	if err != nil {
		return err
	}
	a, err := s.classAsk(r.Context(), c)
	if err != nil {
		return err
	}
	p, err := lesson.Make(a)
	if err != nil {
		return err
	}
	var entries []calendar.Entry
	item := func(step int, title, text string, from, till time.Time) {
		entries = append(entries, calendar.Entry{UID: fmt.Sprintf("class-%d-%d", c.ID, step), What: title, Text: text, From: from, Till: till, Bell: -5 * time.Minute})
	}
	item(0, c.Name, c.Aim, c.Starts, c.Starts.Add(time.Duration(c.Minutes)*time.Minute))
	for i, h := range p.Home {
		if !h.TakeOut.IsZero() {
			item(i+1, fmt.Sprintf("%s: take out", h.Name), h.What, h.TakeOut, h.TakeOut.Add(15*time.Minute))
		}
	}
	sendCalendar(w, fmt.Sprintf("class-%d.ics", c.ID), "Class", s.now(), entries)
	return nil
}
