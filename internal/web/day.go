package web

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/run"
	"aerugo/internal/flow/timetable"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) dayRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /day", s.dayForm)
	s.on(mux, "POST /day", s.planDay)
	s.on(mux, "GET /day/next", s.dayNextPart)
	s.on(mux, "GET /day/{id}", s.daySheet)
	s.on(mux, "GET /day/{id}/now", s.daySheetPart)
	s.on(mux, "GET /day/{id}/after", s.dayAfter)
	s.on(mux, "GET /day/{id}/calendar.ics", s.dayCalendar)
	s.on(mux, "GET /day/{id}/countdown.pdf", s.dayPDF)
	s.on(mux, "POST /day/{id}/again", s.dayAgain)
	s.on(mux, "POST /day/{id}/claim", s.dayClaim)
	s.on(mux, "POST /day/{id}/end", s.endDay)
}

// dayPage is the form that plans a bench day, with why it did not fit.
type dayPage struct {
	Frame
	*form
	Sets    []daySet
	People  []dayPerson
	Current []studio.BenchDay // planned and not over
	Past    []studio.BenchDay
	Reasons []string
	Proven  bool
	Fixes   []dayFix
	Change  int64 // the day that is planned anew
}

// daySet is what of a set can run.
type daySet struct {
	ID       int64
	Name     string
	Invented bool
	Items    []dayItem
	Ticked   int
}

type dayItem struct {
	Treatment, Swatch int64
	Faces, Settings   string
	After             string // what must be done before, on the same swatch
	Ticked            bool
}

// dayPerson is one row of who is there; N counts from 1.
type dayPerson struct {
	N                                                                int
	Name, From, Till, BreakFrom, BreakTill, ClassFrom, ClassTill, Is string
}

type dayFix struct{ Text, Button, Value string }

const dayPeople = 3 // rows offered on the form

// dayForm is GET /day.
func (s *Server) dayForm(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	now := s.now().Local()
	f.set("date", now.Format("2006-01-02"))
	if now.Hour() >= 17 {
		f.set("date", now.AddDate(0, 0, 1).Format("2006-01-02"))
	}
	f.set("days", "1")
	name := s.who(r)
	if name == "laptop" {
		name = "Me"
	}
	for field, v := range map[string]string{"name1": name, "from1": "09:00", "till1": "18:00", "breakfrom1": "12:00", "breaktill1": "12:45"} {
		f.set(field, v)
	}
	if id := f.whole("change", "day's number", 0); id > 0 && f.ok() {
		if _, err := s.store.BenchDay(r.Context(), id); err != nil {
			return err
		}
		plan, err := s.store.LastBenchPlan(r.Context(), id)
		if err != nil {
			return err
		}
		fillDayForm(f, plan.Ask)
	}
	if err := s.takeWhole(r.Context(), f); err != nil {
		return err
	}
	return s.showDayForm(w, r, f, http.StatusOK, nil)
}

// fillDayForm writes what was asked for back into the form.
func fillDayForm(f *form, a studio.BenchAsk) {
	hm := func(t time.Time) string { return t.Local().Format("15:04") }
	days := 1
	for i, p := range a.People {
		if i >= dayPeople || len(p.There) == 0 {
			break
		}
		n := strconv.Itoa(i + 1)
		f.set("date", p.There[0].From.Local().Format("2006-01-02"))
		days = max(days, len(p.There))
		f.set("name"+n, p.Name)
		f.set("from"+n, hm(p.There[0].From))
		f.set("till"+n, hm(p.There[0].Till))
		for _, kind := range []string{"break", "class"} {
			f.set(kind+"from"+n, "")
			f.set(kind+"till"+n, "")
			if k := slices.IndexFunc(p.Away, func(h studio.Hours) bool { return h.Why == kind }); k >= 0 {
				f.set(kind+"from"+n, hm(p.Away[k].From))
				f.set(kind+"till"+n, hm(p.Away[k].Till))
			}
		}
	}
	f.set("days", strconv.Itoa(days))
	if a.DryingPlaces > 0 {
		f.set("drying", strconv.Itoa(a.DryingPlaces))
	}
	if a.AnyOrder {
		f.set("anyorder", "1")
	}
	f.values["t"] = nil
	for _, id := range a.Treatments {
		f.values.Add("t", strconv.FormatInt(id, 10))
	}
	putFixes(f, a)
}

// putFixes keeps what was given in to for the next send of the form.
func putFixes(f *form, a studio.BenchAsk) {
	f.values["stretch"] = nil
	for _, x := range a.Stretch {
		f.values.Add("stretch", fmt.Sprintf("%d:%d:%d", x.Treatment, x.Step, x.Minutes))
	}
	f.set("later", "")
	if a.LaterMin > 0 {
		f.set("later", strconv.Itoa(a.LaterMin))
	}
}

// Stretches and Drops are read by the page.
func (p dayPage) Stretches() []string { return p.form.values["stretch"] }

// showDayForm shows the form; sheet, if any, is one that does not fit.
func (s *Server) showDayForm(w http.ResponseWriter, r *http.Request, f *form, code int, sheet *benchday.Sheet) error {
	ctx := r.Context()
	p := dayPage{Frame: s.frame(r, "Plan a bench day", "today"), form: f, Change: f.whole("change", "day's number", 0)}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return err
	}
	if p.Sets, err = s.daySets(ctx, folds, f.values["t"]); err != nil {
		return err
	}
	for n := 1; n <= dayPeople; n++ {
		v := func(name string) string { return f.Val(name + strconv.Itoa(n)) }
		p.People = append(p.People, dayPerson{N: n, Name: v("name"), From: v("from"), Till: v("till"), BreakFrom: v("breakfrom"), BreakTill: v("breaktill"), ClassFrom: v("classfrom"), ClassTill: v("classtill")})
	}
	days, err := s.store.BenchDays(ctx)
	if err != nil {
		return err
	}
	for _, d := range days {
		if d.Ended.IsZero() {
			p.Current = append(p.Current, d)
		} else if len(p.Past) < 12 {
			p.Past = append(p.Past, d)
		}
	}
	if sheet != nil {
		p.Reasons, p.Proven = sheet.Reasons, sheet.Proven
		for _, x := range sheet.Fixes {
			p.Fixes = append(p.Fixes, dayFix{x.Text, x.Button, fixValue(x)})
		}
	}
	f.onTop("date", "people", "t", "drying")
	s.show(w, code, "day", p)
	return nil
}

// takeWhole ticks all that can run of the sets that were ticked as a whole.
func (s *Server) takeWhole(ctx context.Context, f *form) error {
	whole := f.values["whole"]
	if len(whole) == 0 {
		return nil
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return err
	}
	sets, err := s.daySets(ctx, folds, nil)
	if err != nil {
		return err
	}
	for _, set := range sets {
		if !slices.Contains(whole, strconv.FormatInt(set.ID, 10)) {
			continue
		}
		for _, x := range set.Items {
			if id := strconv.FormatInt(x.Treatment, 10); !slices.Contains(f.values["t"], id) {
				f.values.Add("t", id)
			}
		}
	}
	return nil
}

// daySets lists what can run: begun or not, with its base done or listed too.
func (s *Server) daySets(ctx context.Context, folds []folded, ticked []string) ([]daySet, error) {
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return nil, err
	}
	onSwatch := map[int64][]folded{}
	for _, f := range folds {
		onSwatch[f.Treatment.Swatch] = append(onSwatch[f.Treatment.Swatch], f)
	}
	var out []daySet
	for _, set := range sets {
		one := daySet{ID: set.ID, Name: set.Name, Invented: set.Invented}
		var mine []folded
		for _, f := range folds {
			if f.Treatment.SetID == set.ID && !f.Treatment.Blank && len(f.Treatment.Steps) > 0 && (f.Record.Status == run.Planned || f.Record.Status == run.Running) {
				mine = append(mine, f)
			}
		}
		slices.SortStableFunc(mine, func(a, b folded) int {
			return cmp.Or(cmp.Compare(a.Treatment.Order, b.Treatment.Order), cmp.Compare(a.Treatment.Layer, b.Treatment.Layer))
		})
		for _, f := range mine {
			item := dayItem{Treatment: f.Treatment.ID, Swatch: f.Treatment.Swatch, Faces: facesWord(f.Treatment.Faces), Settings: settingsText(f.Treatment.Settings),
				Ticked: slices.Contains(ticked, strconv.FormatInt(f.Treatment.ID, 10))}
			if f.Record.Status == run.Running {
				item.After = "under way"
			} else if !lowerDone(f, onSwatch[f.Treatment.Swatch]) {
				item.After = fmt.Sprintf("layer %d, after what lies below", f.Treatment.Layer)
			}
			if item.Ticked {
				one.Ticked++
			}
			one.Items = append(one.Items, item)
		}
		if len(one.Items) > 0 {
			out = append(out, one)
		}
	}
	return out, nil
}

func fixValue(x benchday.Fix) string {
	switch {
	case len(x.Drop) > 0:
		var ids []string
		for _, id := range x.Drop {
			ids = append(ids, strconv.FormatInt(id, 10))
		}
		return "drop:" + strings.Join(ids, ",")
	case x.Later > 0:
		return fmt.Sprintf("later:%d", x.Later)
	}
	return fmt.Sprintf("stretch:%d:%d:%d", x.Stretch.Treatment, x.Stretch.Step, x.Stretch.Minutes)
}

// readFix reads the button that was pressed under a day that does not fit.
func readFix(text string) (benchday.Fix, error) {
	var f benchday.Fix
	kind, rest, _ := strings.Cut(text, ":")
	bad := studio.Problemf(studio.Invalid, "fix", "That change can't be read; plan the day again.")
	switch kind {
	case "drop":
		for _, x := range strings.Split(rest, ",") {
			id, err := strconv.ParseInt(x, 10, 64)
			if err != nil {
				return f, bad
			}
			f.Drop = append(f.Drop, id)
		}
	case "later":
		n, err := strconv.Atoi(rest)
		if err != nil || n < 0 {
			return f, bad
		}
		f.Later = n
	case "stretch":
		x, err := readStretch(rest)
		if err != nil {
			return f, bad
		}
		f.Stretch = x
	default:
		return f, bad
	}
	return f, nil
}

func readStretch(text string) (x studio.BenchStretch, err error) {
	parts := strings.Split(text, ":")
	if len(parts) != 3 {
		return x, fmt.Errorf("%q is no stretch", text)
	}
	if x.Treatment, err = strconv.ParseInt(parts[0], 10, 64); err != nil {
		return x, err
	}
	if x.Step, err = strconv.Atoi(parts[1]); err != nil {
		return x, err
	}
	x.Minutes, err = strconv.Atoi(parts[2])
	return x, err
}

// readDay reads what is asked for from the form; what is wrong is said there.
func readDay(f *form) studio.BenchAsk {
	var a studio.BenchAsk
	for _, text := range f.values["t"] {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			f.say("t", "A ticked swatch can't be read; reload the page.")
			continue
		}
		if !slices.Contains(a.Treatments, id) {
			a.Treatments = append(a.Treatments, id)
		}
	}
	date := f.date("date")
	if date.IsZero() && f.Wrong("date") == "" {
		f.say("date", "Say which day it is to be.")
	}
	days := int(f.whole("days", "number of days", 1))
	if days < 1 || days > 3 {
		f.say("date", "A bench day lasts 1 to 3 days, with the nights between.")
		days = 1
	}
	a.Overnight = days > 1
	a.AnyOrder = f.Val("anyorder") != ""
	a.DryingPlaces = int(f.whole("drying", "number of places to dry", 0))
	a.LaterMin = int(f.whole("later", "minutes later", 0))
	for _, text := range f.values["stretch"] {
		x, err := readStretch(text)
		if err != nil {
			f.say("", "A longer step can't be read; plan the day again.")
			continue
		}
		a.Stretch = append(a.Stretch, x)
	}
	for n := 1; n <= dayPeople; n++ {
		v := func(name string) string { return f.Val(name + strconv.Itoa(n)) }
		p := studio.BenchPerson{Name: v("name")}
		if p.Name == "" {
			if v("from")+v("till") != "" {
				f.say("people", "Person %d has hours and no name; write the name, or leave the row empty.", n)
			}
			continue
		}
		hours := func(from, till, why string, day int) (studio.Hours, bool) {
			if from == "" && till == "" {
				return studio.Hours{}, false
			}
			var at [2]time.Time
			for i, text := range []string{from, till} {
				t, err := time.ParseInLocation("15:04", text, time.Local)
				if err != nil {
					f.say("people", "%q is not a time of day for %s; write it like 14:30.", text, p.Name)
					return studio.Hours{}, false
				}
				at[i] = time.Date(date.Year(), date.Month(), date.Day()+day, t.Hour(), t.Minute(), 0, 0, time.Local)
			}
			return studio.Hours{From: at[0], Till: at[1], Why: why}, true
		}
		for day := range days {
			if h, ok := hours(v("from"), v("till"), "", day); ok {
				p.There = append(p.There, h)
			}
			if h, ok := hours(v("breakfrom"), v("breaktill"), "break", day); ok {
				p.Away = append(p.Away, h)
			}
		}
		if h, ok := hours(v("classfrom"), v("classtill"), "class", 0); ok {
			p.Away = append(p.Away, h)
		}
		a.People = append(a.People, p)
	}
	return a
}

// planDay is POST /day.
func (s *Server) planDay(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	if err := s.takeWhole(ctx, f); err != nil {
		return err
	}
	ask := readDay(f)
	if f.ok() && f.Val("fix") != "" {
		fix, err := readFix(f.Val("fix"))
		if err := f.blame(err); err != nil {
			return err
		}
		ask = fix.Apply(ask)
		f.values["t"] = nil
		for _, id := range ask.Treatments {
			f.values.Add("t", strconv.FormatInt(id, 10))
		}
		putFixes(f, ask)
	}
	if f.ok() {
		if err := f.blame(ask.Check(), "people", "t", "drying"); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.showDayForm(w, r, f, http.StatusUnprocessableEntity, nil)
	}
	change := f.whole("change", "day's number", 0)
	if change > 0 {
		// what was finished stands on the form no more, and stays the day's
		before, err := s.store.LastBenchPlan(ctx, change)
		if err != nil {
			return err
		}
		for _, id := range before.Ask.Treatments {
			if slices.Contains(ask.Treatments, id) {
				continue
			}
			if e, err := s.entry(ctx, id); err == nil && e.Record.Status == run.Finished {
				ask.Treatments = append(ask.Treatments, id)
			}
		}
	}
	full, err := s.dayAsk(ctx, ask, nil)
	if err != nil {
		return err
	}
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return err
	}
	if err := f.blame(s.mayShareRoom(ctx, nil, full.Entries, supplies)); err != nil {
		return err
	}
	if !f.ok() {
		return s.showDayForm(w, r, f, http.StatusUnprocessableEntity, nil)
	}
	sheet, err := benchday.Make(full)
	if err != nil {
		if err := f.blame(err, "people", "t", "drying"); err != nil {
			return err
		}
		return s.showDayForm(w, r, f, http.StatusUnprocessableEntity, nil)
	}
	if !sheet.Fits {
		return s.showDayForm(w, r, f, http.StatusUnprocessableEntity, &sheet)
	}
	plan := planOf(sheet, ask, s.who(r))
	if change > 0 {
		plan.Day, plan.Why = change, "Planned anew by hand."
		if plan, err = s.store.AddBenchPlan(ctx, plan); err != nil {
			return err
		}
	} else {
		name := ask.People[0].There[0].From.Local().Format("Monday 2 January")
		if _, plan, err = s.store.AddBenchDay(ctx, studio.BenchDay{Name: name, By: s.who(r)}, plan); err != nil {
			return err
		}
	}
	s.days.saw(plan.Day, recordsOf(full))
	s.live.changed()
	return back(w, r, fmt.Sprintf("/day/%d", plan.Day))
}

// planOf is a sheet as it is kept.
func planOf(sheet benchday.Sheet, ask studio.BenchAsk, by string) studio.BenchPlan {
	return studio.BenchPlan{By: by, Why: sheet.Why, Ask: ask, Starts: sheet.Starts, Finish: sheet.Finish, Bound: sheet.Bound,
		Openings: sheet.Openings(), Moved: sheet.Moved, MovedMin: int(sheet.MovedBy.Minutes())}
}

// dayAsk puts together what a day is planned from. Treatments that are gone are
// left out of wish.
func (s *Server) dayAsk(ctx context.Context, wish studio.BenchAsk, claims []studio.BenchClaim) (benchday.Ask, error) {
	begun := time.Now()
	most := timetable.Limit{Stop: func() bool { return time.Since(begun) > 8*time.Second }}
	a := benchday.Ask{Now: s.now().Local(), Wish: wish, Claims: claims, Finish: most, Tidy: most}
	folds, err := s.treatments(ctx, store.TreatmentFilter{})
	if err != nil {
		return a, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return a, err
	}
	bySwatch := map[int64]studio.Swatch{}
	for _, x := range swatches {
		bySwatch[x.Number] = x
	}
	var all []run.Entry
	there := map[int64]bool{}
	for _, f := range folds {
		e := run.Entry{Treatment: f.Treatment, Swatch: bySwatch[f.Treatment.Swatch], Record: f.Record}
		all = append(all, e)
		there[f.Treatment.ID] = true
		if f.Record.Status == run.Running || slices.Contains(wish.Treatments, f.Treatment.ID) {
			a.Entries = append(a.Entries, e)
		}
	}
	a.Wish.Treatments = slices.DeleteFunc(slices.Clone(wish.Treatments), func(id int64) bool { return !there[id] })
	a.Learnt = benchday.Learn(all)
	a.Chambers, err = s.dayChambers(ctx, a.Entries)
	return a, err
}

// dayChambers is the chambers with what one opening lets out: of one that runs,
// now; of another, half an hour after its pad is charged as its fume step says.
func (s *Server) dayChambers(ctx context.Context, entries []run.Entry) ([]benchday.Chamber, error) {
	f, err := s.fuming(ctx)
	if err != nil {
		return nil, err
	}
	var out []benchday.Chamber
	for _, c := range f.chambers {
		one := benchday.Chamber{ID: c.ID, Name: c.Name, Places: c.Places}
		var step *studio.Step
		for _, e := range entries {
			for i, x := range e.Treatment.Steps {
				if x.Kind == studio.Fume && x.ChamberID == c.ID {
					step = &e.Treatment.Steps[i]
				}
			}
		}
		if step != nil {
			b, _, err := s.bench(ctx, f, c)
			if err != nil {
				return nil, err
			}
			state := s.airs.look(b, f.jobs, s.now())
			if !state.Live && c.PadML > 0 {
				now := s.now()
				b.Log = append(slices.Clone(b.Log), studio.ChamberLog{Chamber: c.ID, Kind: studio.PadCharged, At: now, SupplyID: step.SupplyID, Strength: step.Strength, SolutionG: c.PadML})
				state = fume.Look(b, nil, now.Add(30*time.Minute))
			}
			one.LossG = state.LooseG
		}
		out = append(out, one)
	}
	return out, nil
}
