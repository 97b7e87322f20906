package web

import (
	"cmp"
	"context"
	"fmt"
	"hash/fnv"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"aerugo/internal/calendar"
	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// days remembers for which records each day was last planned, so that it is
// planned again once after each tap, and by one at a time.
type days struct {
	mu   sync.Mutex
	seen map[int64]uint64
	work sync.Mutex
}

// saw keeps that a day is planned for these records, and says whether that is new.
func (d *days) saw(day int64, records uint64) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.seen == nil {
		d.seen = map[int64]uint64{}
	}
	was, ok := d.seen[day]
	d.seen[day] = records
	return !ok || was != records
}

// knows reports whether a day is planned for these records.
func (d *days) knows(day int64, records uint64) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	was, ok := d.seen[day]
	return ok && was == records
}

// recordsOf changes when anything was tapped.
func recordsOf(a benchday.Ask) uint64 {
	h := fnv.New64a()
	for _, e := range a.Entries {
		fmt.Fprintf(h, "%d %v %v;", e.Treatment.ID, e.Record.Status, e.Record.Keys)
	}
	return h.Sum64()
}

// dayView is a planned day as it stands now.
type dayView struct {
	Frame
	Day     studio.BenchDay
	Plan    studio.BenchPlan
	Plans   int
	Sheet   benchday.Sheet
	Ask     benchday.Ask
	Acts    []dayAct
	Done    int // actions that are done
	People  []string
	Chart   template.HTML
	Moved   string // what the last plan moved
	Behind  string // how late the day is
	Openers []string
	Place   string // where refused taps are told
}

// soon is how many actions of a day stand open by the clock; the rest is folded.
const soon = 9

// Soon and Later are what is still to be done.
func (v dayView) Soon() []dayAct  { return v.toDo()[:min(soon, len(v.toDo()))] }
func (v dayView) Later() []dayAct { return v.toDo()[min(soon, len(v.toDo())):] }

func (v dayView) toDo() (out []dayAct) {
	for _, a := range v.Acts {
		if !a.Done {
			out = append(out, a)
		}
	}
	return out
}

// dayAct is one action with its buttons.
type dayAct struct {
	benchday.Action
	Of      []string // what "done" confirms
	Begin   []int64  // treatments it begins
	Button  string
	When    string
	Until   string
	Behind  string
	Next    bool
	Silent  bool // no tap of its own
	Who     string
	Steps   []string // "treatment:step" for who takes it
	Summary []string // each swatch's Miss, where there are several
}

// readDayView reads a day. Buttons go to the next three actions: of who, if that
// is one of its people, else of all.
func (s *Server) readDayView(ctx context.Context, id int64, who string) (v dayView, err error) {
	if v.Day, err = s.store.BenchDay(ctx, id); err != nil {
		return v, err
	}
	plans, err := s.store.BenchPlans(ctx, id)
	if err != nil {
		return v, err
	}
	if len(plans) == 0 {
		return v, fmt.Errorf("bench day %d has no plan", id)
	}
	v.Plan, v.Plans = plans[len(plans)-1], len(plans)
	claims, err := s.store.BenchClaims(ctx, id)
	if err != nil {
		return v, err
	}
	if v.Ask, err = s.dayAsk(ctx, v.Plan.Ask, claims); err != nil {
		return v, err
	}
	if len(v.Ask.Wish.Treatments) == 0 {
		return v, nil // all its swatches are gone
	}
	if v.Sheet, err = benchday.Show(v.Ask, v.Plan.Starts); err != nil {
		return v, err
	}
	for _, p := range v.Ask.Wish.People {
		v.People = append(v.People, p.Name)
	}
	now := v.Ask.Now
	v.Sheet.Bound = v.Plan.Bound
	v.Sheet.Gap = v.Sheet.Distance()
	if v.Plan.Moved > 0 {
		v.Moved = fmt.Sprintf("%s by up to %d min", counted(v.Plan.Moved, "step moved", "steps moved"), v.Plan.MovedMin)
		if v.Plan.Why != "" {
			v.Moved += ". " + strings.TrimSuffix(v.Plan.Why, ".")
		}
		v.Moved += fmt.Sprintf(". Planned again at %s.", dayClock(v.Plan.Made, now))
	}
	if late := v.Sheet.Late(); late >= time.Minute {
		v.Behind = studio.Span(late.Round(time.Minute)) + " behind"
	}
	for _, o := range v.Sheet.Opened {
		text := fmt.Sprintf("%s is opened %s", o.Name, counted(o.Times, "time", "times"))
		if o.AmmoniaG > 0 {
			text += fmt.Sprintf("; what is to come lets about %s g of ammonia out", number(o.AmmoniaG, 2))
		}
		v.Openers = append(v.Openers, text)
	}
	records := map[int64]run.Entry{}
	for _, e := range v.Ask.Entries {
		records[e.Treatment.ID] = e
	}
	buttons := 0
	begun := map[int64]bool{} // offered to begin with an action before
	for _, a := range v.Sheet.Actions {
		if a.Done {
			v.Done++
		}
		act := viewAct(a, records, now)
		act.Begin = slices.DeleteFunc(act.Begin, func(id int64) bool { return begun[id] })
		for _, id := range act.Begin {
			begun[id] = true
		}
		mine := !slices.Contains(v.People, who) || len(a.People) == 0 || slices.Contains(a.People, who)
		if !a.Done && mine && buttons < 3 {
			act.Next = true
			buttons++
		}
		v.Acts = append(v.Acts, act)
	}
	return v, nil
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// viewAct puts an action into words and buttons. A tap confirms the step each
// treatment stands at, which is never past the one the action is about.
func viewAct(a benchday.Action, records map[int64]run.Entry, now time.Time) dayAct {
	v := dayAct{Action: a, When: dayClock(a.Start, now), Silent: !a.Done, Who: strings.Join(a.People, " and ")}
	if !a.Latest.IsZero() {
		v.Until = dayClock(a.Latest, now)
	}
	if a.Late >= time.Minute {
		v.Behind = studio.Span(a.Late.Round(time.Minute)) + " late"
	}
	var task run.Task
	for _, p := range a.Parts {
		v.Steps = append(v.Steps, fmt.Sprintf("%d:%d", p.Treatment, p.Step))
		if p.Miss != "" && !slices.Contains(v.Summary, p.Miss) {
			v.Summary = append(v.Summary, p.Miss)
		}
		e, ok := records[p.Treatment]
		if !ok || p.Done {
			continue
		}
		if !p.Begun {
			if !slices.Contains(v.Begin, p.Treatment) {
				v.Begin = append(v.Begin, p.Treatment)
			}
			v.Silent = false
			continue
		}
		at := e.Record.Current
		if p.Tap < 0 || at > p.Tap || at >= len(e.Treatment.Steps) {
			continue
		}
		v.Silent = false
		step := e.Treatment.Steps[at]
		if len(v.Of) == 0 {
			task.Kind = step.Kind
			if at+1 < len(e.Treatment.Steps) {
				task.Next = e.Treatment.Steps[at+1].Kind
			}
		} else if step.Kind != task.Kind || at+1 < len(e.Treatment.Steps) && e.Treatment.Steps[at+1].Kind != task.Next {
			task.Kind, task.Next = "", "rinse" // of several kinds: only "done"
		}
		v.Of = append(v.Of, fmt.Sprintf("%d:%d", p.Treatment, at))
		task.Members = append(task.Members, run.Member{Treatment: p.Treatment})
	}
	if len(v.Of) > 0 {
		v.Button = doneWord(task)
	}
	return v
}

// currentDay is the newest day that is planned, not over, and of about now.
func (s *Server) currentDay(ctx context.Context) (int64, bool, error) {
	all, err := s.store.BenchDays(ctx)
	if err != nil {
		return 0, false, err
	}
	now := s.now()
	for _, d := range all {
		if !d.Ended.IsZero() {
			continue
		}
		plan, err := s.store.LastBenchPlan(ctx, d.ID)
		if err != nil {
			return 0, false, err
		}
		begins := plan.Finish
		for _, p := range plan.Ask.People {
			for _, h := range p.There {
				if h.From.Before(begins) {
					begins = h.From
				}
			}
		}
		if now.After(begins.Add(-12*time.Hour)) && now.Before(plan.Finish.Add(24*time.Hour)) {
			return d.ID, true, nil
		}
	}
	return 0, false, nil
}

// dayNext is the day that is on, for Today of a person's device; nil where none is.
func (s *Server) dayNext(ctx context.Context, who string) (*dayView, error) {
	id, ok, err := s.currentDay(ctx)
	if err != nil || !ok {
		return nil, err
	}
	v, err := s.readDayView(ctx, id, who)
	if err != nil {
		return nil, err
	}
	s.keepDay(v)
	v.Place = "daynext"
	v.Acts = slices.DeleteFunc(v.Acts, func(a dayAct) bool { return !a.Next })
	if len(v.Acts) == 0 {
		return nil, nil
	}
	return &v, nil
}

// dayNextPart is GET /day/next.
func (s *Server) dayNextPart(w http.ResponseWriter, r *http.Request) error {
	v, err := s.dayNext(r.Context(), s.who(r))
	if err != nil {
		return err
	}
	return s.part(w, "day_sheet", "daynext", v)
}

// keepDay plans the rest of the day again in the background when something was
// tapped since it was last planned, and keeps that if anything moves.
func (s *Server) keepDay(v dayView) {
	if !v.Day.Ended.IsZero() || len(v.Sheet.Starts) == 0 || s.days.knows(v.Day.ID, recordsOf(v.Ask)) {
		return
	}
	s.background.Go(func() { s.planTapped(v.Day.ID) })
}

// dayTapped does the same for the day that is on when a tap was kept, so that a
// phone that comes back finds the new plan ready, whoever looked meanwhile.
func (s *Server) dayTapped(ctx context.Context) {
	id, ok, err := s.currentDay(ctx)
	if err != nil {
		s.log.Error("bench day not looked for after a tap", "err", err)
	}
	if ok {
		s.background.Go(func() { s.planTapped(id) })
	}
}

// planTapped plans what is left of a day again, unless that was done since the last tap.
func (s *Server) planTapped(id int64) {
	if err := s.planAgain(context.Background(), id, "timetable", false); err != nil {
		s.log.Error("bench day not planned again", "day", id, "err", err)
	}
}

// planAgain plans what is left of a day and keeps it if anything moved; always
// says to do so even if nothing was tapped since it was last planned.
func (s *Server) planAgain(ctx context.Context, id int64, by string, always bool) error {
	s.days.work.Lock()
	defer s.days.work.Unlock()
	plan, err := s.store.LastBenchPlan(ctx, id)
	if err != nil {
		return err
	}
	claims, err := s.store.BenchClaims(ctx, id)
	if err != nil {
		return err
	}
	ask, err := s.dayAsk(ctx, plan.Ask, claims)
	if err != nil || len(ask.Wish.Treatments) == 0 {
		return err
	}
	if !s.days.saw(id, recordsOf(ask)) && !always {
		return nil
	}
	sheet, err := benchday.Again(ask, plan.Starts)
	if err != nil {
		return err
	}
	if !sheet.Fits || sheet.Moved == 0 {
		return nil
	}
	next := planOf(sheet, plan.Ask, by)
	next.Day = id
	if _, err := s.store.AddBenchPlan(ctx, next); err != nil {
		return err
	}
	s.live.changed()
	return nil
}

func (s *Server) fillDaySheet(r *http.Request) (dayView, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return dayView{}, err
	}
	v, err := s.readDayView(r.Context(), id, "")
	if err != nil {
		return v, err
	}
	s.keepDay(v)
	v.Frame = s.frame(r, v.Day.Name, "today")
	v.Place = "day"
	v.Chart = dayChart(v.Sheet)
	return v, nil
}

// daySheet is GET /day/{id}.
func (s *Server) daySheet(w http.ResponseWriter, r *http.Request) error {
	v, err := s.fillDaySheet(r)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "day_sheet", v)
	return nil
}

func (s *Server) daySheetPart(w http.ResponseWriter, r *http.Request) error {
	v, err := s.fillDaySheet(r)
	if err != nil {
		return err
	}
	return s.part(w, "day_sheet", "sheet", v)
}

// dayAgain is POST /day/{id}/again: plan what is left from now.
func (s *Server) dayAgain(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	before, err := s.store.LastBenchPlan(r.Context(), id)
	if err != nil {
		return err
	}
	if err := s.planAgain(r.Context(), id, s.who(r), true); err != nil {
		return err
	}
	after, err := s.store.LastBenchPlan(r.Context(), id)
	if err != nil {
		return err
	}
	said := "Nothing needs to move."
	if after.ID != before.ID {
		said = counted(after.Moved, "step moved", "steps moved") + fmt.Sprintf(" by up to %d min.", after.MovedMin)
	}
	return backSaying(w, r, fmt.Sprintf("/day/%d", id), said)
}

// dayClaim is POST /day/{id}/claim: a person takes steps, or gives them back.
func (s *Server) dayClaim(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	plan, err := s.store.LastBenchPlan(r.Context(), id)
	if err != nil {
		return err
	}
	person := f.Val("person")
	if person != "" && !slices.ContainsFunc(plan.Ask.People, func(p studio.BenchPerson) bool { return p.Name == person }) {
		return studio.Problemf(studio.Invalid, "person", "%s is not among those who are there that day; choose one of them.", person)
	}
	members, err := tapped(f.values["of"])
	if err != nil {
		return err
	}
	if f.Val("client") == "" {
		return studio.Problemf(studio.Invalid, "client", "The tap came without its key; reload the page and tap again.")
	}
	var claims []studio.BenchClaim
	for i, m := range members {
		claims = append(claims, studio.BenchClaim{Day: id, Treatment: m.Treatment, Step: m.Step, Person: person, Client: fmt.Sprintf("%s/%d", f.Val("client"), i), At: s.now(), By: s.who(r)})
	}
	if err := s.store.AddBenchClaims(r.Context(), claims); err != nil {
		return err
	}
	s.live.changed()
	to := fmt.Sprintf("/day/%d", id)
	if b := f.Val("back"); b != "" {
		to = ownPath(b)
	}
	return back(w, r, to)
}

// endDay is POST /day/{id}/end.
func (s *Server) endDay(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if err := s.store.EndBenchDay(r.Context(), id, s.now()); err != nil {
		return err
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/day/%d/after", id))
}

// dayCalendar is GET /day/{id}/calendar.ics.
func (s *Server) dayCalendar(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	v, err := s.readDayView(r.Context(), id, "")
	if err != nil {
		return err
	}
	v.Sheet.Now = cmp.Or(v.Sheet.Now, v.Ask.Now)
	sendCalendar(w, fmt.Sprintf("bench-day-%d.ics", id), "Bench day", v.Sheet.Now, benchday.Calendar(v.Sheet, id, v.Day.Name))
	return nil
}

// sendCalendar writes entries in the language of who asked.
func sendCalendar(w http.ResponseWriter, file, product string, made time.Time, entries []calendar.Entry) {
	l := spokenTo(w)
	for i := range entries {
		entries[i].What, entries[i].Text = l.Say(entries[i].What), l.Say(entries[i].Text)
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", file))
	_, _ = w.Write(calendar.File(product, made, entries)) // the reader may have gone; nothing is lost
}
