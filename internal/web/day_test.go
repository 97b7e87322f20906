package web_test

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// dayForm asks for a day of all that is planned, from now on for so many hours.
func (s *stock) dayForm(hours int, more ...string) url.Values {
	now := s.now().Local()
	f := url.Values{"date": {now.Format("2006-01-02")}, "days": {"1"}, "name1": {"Maren"}, "from1": {now.Format("15:04")}, "till1": {now.Add(time.Duration(hours) * time.Hour).Format("15:04")}}
	for _, x := range s.planned {
		f.Add("t", id(x.ID))
	}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// planDay plans a day and returns its address.
func (s *stock) planDay(t *testing.T, form url.Values) string {
	t.Helper()
	to := s.post(t, "/day", form).to(t)
	if !strings.HasPrefix(to, "/day/") {
		t.Fatalf("the day leads to %q", to)
	}
	return to
}

func dayVisits(t *testing.T, empty, full *bench) []visit {
	t.Helper()
	s := atNine(t)
	b := s.bench
	day := s.planDay(t, s.dayForm(9))
	gone := atNine(t)
	goneDay := gone.planDay(t, gone.dayForm(9))
	gone.begin(t, "b", gone.planned[0].ID).to(t)
	gone.post(t, "/taps", tapForm("d", "done", gone.planned[0].ID, 0)).to(t)
	return []visit{
		{"day", "empty", empty, "/day", nil, 200, "Plan a bench day"},
		{"day", "usual", b, "/day", nil, 200, "Plan a bench day"},
		{"day", "planned anew", b, "/day?change=" + strings.TrimPrefix(day, "/day/"), nil, 200, "Plan a bench day"},
		{"day", "full", full, "/day", nil, 200, "Plan a bench day"},
		{"day", "refused", b, "/day", s.dayForm(9, "name1", "", "drying", "few"), 422, "Plan a bench day"},
		{"day", "does not fit", b, "/day", s.dayForm(2), 422, "Plan a bench day"},
		{"day_sheet", "usual", b, day, nil, 200, s.now().Local().Format("Monday")},
		{"day_sheet", "begun", gone.bench, goneDay, nil, 200, gone.now().Local().Format("Monday")},
		{"day_sheet", "not there", empty, "/day/1", nil, 404, "Not here"},
		{"day_after", "nothing done", b, day + "/after", nil, 200, "planned against done"},
		{"day_after", "usual", gone.bench, goneDay + "/after", nil, 200, "planned against done"},
		{"day_after", "not there", empty, "/day/1/after", nil, 404, "Not here"},
		{"today", "with a timetable", b, "/", nil, 200, "Today"},
	}
}

// atNine is a stocked bench at nine in the morning, local time, to the second.
func atNine(t *testing.T) *stock {
	t.Helper()
	s := stocked(t)
	s.atMorning()
	c, err := s.store.Chamber(t.Context(), s.chamber)
	if err != nil {
		t.Fatal(err)
	}
	c.PadML = 60
	if _, err := s.store.SaveChamber(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	return s
}

func TestADayIsPlannedRunAndPlannedAgain(t *testing.T) {
	s := atNine(t)
	day := s.planDay(t, s.dayForm(9, "name2", "Odile", "from2", "09:00", "till2", "18:00"))
	sheet := s.see(t, day).doc(t)
	if n := len(sheet.all(".task")); n < 8 {
		t.Errorf("%d steps by the clock for four swatches of four steps each", n)
	}
	text := sheet.one("main").words()
	for _, want := range []string{"it can't be done before", "Chamber A is opened", "g of ammonia", "Maren"} {
		if !strings.Contains(text, want) {
			t.Errorf("the timetable does not say %q: %s", want, text)
		}
	}
	if next := s.see(t, "/").doc(t).one("#daynext"); !strings.Contains(next.words(), "Next by the timetable") || !strings.Contains(next.words(), "Degrease") {
		t.Errorf("Today does not say what is next: %q", next.words())
	}
	ics := s.see(t, day+"/calendar.ics")
	if kind := ics.header.Get("Content-Type"); kind != "text/calendar; charset=utf-8" || !bytes.HasPrefix(ics.body, []byte("BEGIN:VCALENDAR\r\n")) || bytes.Count(ics.body, []byte("BEGIN:VEVENT")) < 8 {
		t.Errorf("the calendar is %q: %.80s", kind, ics.body)
	}

	// someone else takes the first steps
	f := url.Values{"client": {"c1"}, "person": {"Odile"}}
	for _, x := range s.planned {
		f.Add("of", fmt.Sprintf("%d:0", x.ID))
	}
	s.post(t, day+"/claim", f).to(t)
	if who := s.see(t, day).doc(t).one(".task .state").words(); !strings.Contains(who, "Odile") {
		t.Errorf("the first step is for %q, Odile took it", who)
	}
	f.Set("person", "Nobody")
	if a := s.post(t, day+"/claim", f); a.code != 422 {
		t.Errorf("a person who is not there took steps: status %d", a.code)
	}

	// the first two go in half an hour late, which the laptop hears from a tap
	x := s.planned[0]
	s.begin(t, "b", s.planned[0].ID, s.planned[1].ID).to(t)
	s.pass(30 * time.Minute)
	s.post(t, "/taps", tapForm("d0", "done", x.ID, 0)).to(t)
	number := int64(1)
	plans := func() []studio.BenchPlan {
		all, err := s.store.BenchPlans(t.Context(), number)
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	s.see(t, "/day/next")
	eventually(t, "another plan", func() bool { return len(plans()) == 2 })
	last := plans()[1]
	if last.Moved == 0 || last.MovedMin < 20 || !strings.Contains(last.Why, "late") {
		t.Errorf("the second plan moved %d by up to %d min: %q", last.Moved, last.MovedMin, last.Why)
	}
	for _, st := range last.Starts {
		if st.Treatment == x.ID && st.Step > 0 && st.At.Before(s.now().Truncate(time.Minute)) {
			t.Errorf("step %d of the late swatch is planned at %v, it is %v", st.Step, st.At, s.now())
		}
	}
	if text := s.see(t, "/day/next").doc(t).words(); !strings.Contains(text, "moved by up to") {
		t.Errorf("Today does not say what moved: %q", text)
	}
	// looked at again, nothing new was tapped: no further plan
	s.see(t, "/day/next")
	s.see(t, day)
	s.web.Close()
	if n := len(plans()); n != 2 {
		t.Errorf("%d plans are kept after looking twice", n)
	}
	after := s.see(t, day+"/after").doc(t).one("main").words()
	for _, want := range []string{"degrease was done 2", "Planned againonce", "Hands on each swatch"} {
		if !strings.Contains(after, want) {
			t.Errorf("afterwards it does not say %q: %s", want, after)
		}
	}
	s.post(t, day+"/end", url.Values{}).to(t)
	if next := s.see(t, "/").doc(t).one("#daynext"); next.words() != "" {
		t.Errorf("a day that is over is still next: %q", next.words())
	}
}

// A phone that bears a person's name shows what that person does next; what was
// finished stays with a day that is planned anew.
func TestADayForEachPersonAndPlannedAnew(t *testing.T) {
	s := atNine(t)
	day := s.planDay(t, s.dayForm(9, "name2", "Odile", "from2", "09:00", "till2", "18:00"))
	joined := s.post(t, "/join", url.Values{"code": {s.web.JoinCode()}, "name": {"Odile"}})
	cookie, _, _ := strings.Cut(joined.header.Get("Set-Cookie"), ";")
	hers := s.see(t, "/day/next", "Cookie", cookie).doc(t).all(".task .state")
	if len(hers) == 0 {
		t.Fatal("nothing is next for Odile")
	}
	for _, x := range hers {
		if !strings.Contains(x.words(), "Odile") {
			t.Errorf("Odile's phone shows %q", x.words())
		}
	}
	x := s.planned[0]
	s.begin(t, "b", x.ID).to(t)
	for step := range x.Steps {
		s.pass(time.Minute)
		s.post(t, "/taps", tapForm(fmt.Sprint("d", step), "done", x.ID, step)).to(t)
	}
	form := submitted(s.see(t, "/day?change="+strings.TrimPrefix(day, "/day/")).doc(t).one("form[action='/day']"))
	form.Set("till1", "19:00")
	if to := s.planDay(t, form); to != day {
		t.Errorf("planned anew it is %s, not %s", to, day)
	}
	s.web.Close()
	last, err := s.store.LastBenchPlan(t.Context(), 1)
	if err != nil || len(last.Ask.Treatments) != 4 {
		t.Errorf("%d treatments are the day's (%v), one of them finished; want 4", len(last.Ask.Treatments), err)
	}
}

// A day too short says why, and each button under it makes it fit.
func TestADayThatDoesNotFitOffersWhatMakesItFit(t *testing.T) {
	s := atNine(t)
	form := s.dayForm(2)
	a := s.post(t, "/day", form)
	if a.code != 422 {
		t.Fatalf("two hours for four swatches: status %d", a.code)
	}
	doc := a.doc(t)
	if text := doc.one("main").words(); !strings.Contains(text, "It does not fit") || !strings.Contains(text, "within the hours in which someone is there") {
		t.Errorf("it says %q", text)
	}
	buttons := doc.all("button[name=fix]")
	if len(buttons) == 0 {
		t.Fatal("no change is offered")
	}
	if ticked := len(doc.all("input[name=t][checked]")); ticked != 4 {
		t.Errorf("%d swatches are ticked in the form that came back", ticked)
	}
	for _, b := range buttons {
		with := submitted(doc.one("form[action='/day']"))
		with.Set("fix", b.attr["value"])
		s.planDay(t, with)
	}
	for _, bad := range []string{"drop:x", "later:-3", "stretch:1", "what"} {
		with := s.dayForm(2, "fix", bad)
		if a := s.post(t, "/day", with); a.code != 422 || a.problem() == "" {
			t.Errorf("fix %q: status %d, %q", bad, a.code, a.problem())
		}
	}
}

// The same on a phone: plan, tap late, read what moved.
func TestADayInTheBrowser(t *testing.T) {
	t.Parallel()
	for _, width := range []int{360, 1280} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			t.Parallel()
			s := atNine(t)
			tb := open(t, s.url, "phone", width)
			tb.visit("/day")
			js[bool](tb, `(() => { for (const d of document.querySelectorAll('main details')) d.open = true; for (const b of document.querySelectorAll('[name=t]')) b.checked = true; return true })()`)
			tb.fill("date", s.now().Local().Format("2006-01-02"))
			tb.fill("from1", "09:00")
			tb.fill("till1", "20:00")
			tb.fill("breakfrom1", "12:00")
			tb.fill("breaktill1", "12:30")
			tb.shot("day-form")
			tb.pressThrough("Plan the day")
			tb.wait("the timetable", `document.querySelectorAll('.task').length > 6 && document.querySelector('.strips svg')`)
			tb.shot("day-sheet")
			tb.tap("the surround", `document.querySelector('.lightness button')`)
			tb.wait("the dark surround", `document.documentElement.className === 'bench' && document.querySelector('.strips svg')`)
			tb.shot("day-sheet-dark")
			tb.visit("/")
			tb.press("Start")
			tb.wait("that it began", `[...document.querySelectorAll('#daynext button')].some(b => /done/i.test(b.textContent))`)
			tb.settled()
			s.pass(25 * time.Minute)
			tb.visit("/")
			tb.inStep(s.bench)
			tb.wait("that it is late", `/behind|late/.test(document.querySelector('#daynext').innerText)`)
			tb.press("Done")
			tb.wait("what moved", `/moved by up to/.test(document.querySelector('#daynext').innerText)`)
			tb.noSideways()
			tb.shot("moved")
			tb.visit("/day/1/after")
			tb.shot("after")
		})
	}
}

// examplesDay plans a day of the example's running set and returns its address.
func examplesDay(t *testing.T, b *bench) string {
	t.Helper()
	now := b.now().Local()
	f := url.Values{"date": {now.Format("2006-01-02")}, "days": {"3"}, "name1": {"Maren"}, "from1": {"00:00"}, "till1": {"23:59"}}
	for _, box := range b.see(t, "/day").doc(t).all("input[name=t]") {
		f.Add("t", box.attr["value"])
	}
	return b.post(t, "/day", f).to(t)
}

// The timetable's Start works while the laptop is away as the list of what is
// ready does, and counts when it is back.
func TestTheTimetableStartsWhileTheLaptopIsAway(t *testing.T) {
	t.Parallel()
	l := laptopOf(t, atNine(t))
	l.planDay(t, l.dayForm(9))
	tb := open(t, l.url, "timetable-away", 390)
	tb.visit("/")
	tb.wait("the timetable", `document.querySelector('#daynext form[action="/begin"] button')`)
	l.goes()
	tb.wait("the word that the laptop is away", `!document.getElementById('net').hidden`)
	begins := js[int](tb, `document.querySelectorAll('#daynext form[action="/begin"]')[0].querySelectorAll('[name=t]').length`)
	js[bool](tb, `document.querySelector('#daynext form[action="/begin"] button').click(), true`)
	tb.wait("the cards of what began", fmt.Sprintf(`document.querySelectorAll('#board .task').length >= 1 && JSON.parse(localStorage.getItem('aerugo.taps')).length === 1 && %d > 0`, begins))
	if text := js[string](tb, `[...document.querySelectorAll('.refused')].map(e => e.innerText).join()`); text != "" {
		t.Errorf("it is refused: %q", text)
	}
	tb.shot("timetable-away")
	l.back()
	eventually(t, "the start", func() bool {
		n := 0
		for _, x := range l.planned {
			n += len(l.events(t, x.ID))
		}
		return n == begins
	})
}

// The day on paper has every moment of the page, on both papers, and is refused
// where a set of it must not be printed.
func TestADayOnPaper(t *testing.T) {
	s := atNine(t)
	day := s.planDay(t, s.dayForm(9))
	for _, sheet := range []string{"a4", "letter"} {
		a := s.see(t, day+"/countdown.pdf?sheet="+sheet)
		if a.code != 200 || a.header.Get("Content-Type") != "application/pdf" || !bytes.HasPrefix(a.body, []byte("%PDF-")) {
			t.Errorf("%s: status %d: %s", a.what, a.code, a.problem())
		}
	}
	if a := s.see(t, "/day/99/countdown.pdf"); a.code != 404 {
		t.Errorf("a day that is not there: status %d", a.code)
	}
	s.post(t, fmt.Sprintf("/sets/%d/place", s.set), url.Values{"class": {string(studio.ForYoung)}}).to(t)
	if a := s.see(t, day+"/countdown.pdf"); a.code != 422 || !strings.Contains(a.problem(), "Safer:") {
		t.Errorf("9 %% ammonia for children is printed: status %d: %s", a.code, a.problem())
	}
}

// Two people at two phones have the same day before them: what one begins the
// other sees done, and the same tap on both counts once.
func TestTwoPhonesShareADay(t *testing.T) {
	t.Parallel()
	s := atNine(t)
	day := s.planDay(t, s.dayForm(9, "name2", "Odile", "from2", "09:00", "till2", "18:00"))
	maren, odile := open(t, s.url, "maren", 390), open(t, s.url, "odile", 390)
	first := `document.querySelector('#sheet .task form[data-tap] button')`
	for _, tb := range []*tab{maren, odile} {
		tb.visit(day)
		tb.wait("the first step", first+`?.innerText === 'Start'`)
	}
	begins := js[int](maren, first+`.form.querySelectorAll('[name=t]').length`)
	js[bool](maren, first+`.click(), true`)
	odile.wait("what the other began", first+`?.innerText !== 'Start'`)
	maren.wait("what it began", first+`?.innerText !== 'Start'`)
	maren.settled()
	of := js[string](odile, `[...`+first+`.form.querySelectorAll('[name=of]')].map(i => i.value).join()`)
	s.pass(20 * time.Minute)
	// what the other sees must not change under the finger, or the second tap would be on the step after
	js[bool](odile, `(() => { const real = window.fetch, held = new Promise(done => window.release = done); window.fetch = (u, o) => o?.method === 'POST' ? real(u, o) : held.then(() => real(u, o)); return true })()`)
	js[bool](maren, first+`.click(), true`)
	js[bool](odile, first+`.click(), true`)
	odile.settled()
	js[bool](odile, `window.release(), true`)
	eventually(t, "another plan", func() bool {
		all, err := s.store.BenchPlans(t.Context(), 1)
		return err == nil && len(all) > 1
	})
	odile.wait("what moved", `/moved by up to/.test(document.querySelector('#sheet').innerText)`)
	done := 0
	for _, x := range s.planned {
		r := run.Fold(x, s.events(t, x.ID))
		if strings.Contains(of, fmt.Sprintf("%d:0", x.ID)) && r.Steps[0].State == run.Done {
			done++
		}
		if r.Current > 1 {
			t.Errorf("treatment %d stands at step %d after two taps on its first", x.ID, r.Current+1)
		}
	}
	if begins == 0 || done != strings.Count(of, ":") {
		t.Errorf("%d began, %d of %q are done", begins, done, of)
	}
	maren.noSideways()
	maren.shot("two-phones")
}

// A set ticked as a whole runs with all of its swatches that can, from the form and
// from the set's own page.
func TestAWholeSetIsTickedAtOnce(t *testing.T) {
	s := atNine(t)
	set := fmt.Sprint(s.set)
	form := s.dayForm(12)
	want := len(form["t"])
	form.Del("t")
	form.Set("whole", set)
	day := s.planDay(t, form)
	plan, err := s.store.LastBenchPlan(t.Context(), 1)
	if err != nil || len(plan.Ask.Treatments) != want {
		t.Errorf("%s holds %d treatments, %v; want all %d", day, len(plan.Ask.Treatments), err, want)
	}
	page := s.see(t, "/sets/"+set).doc(t)
	link := "/day?whole=" + set
	if len(page.all(`a[href="`+link+`"]`)) != 1 {
		t.Error("the set's page leads to no bench day")
	}
	if n := len(s.see(t, link).doc(t).all("input[name=t][checked]")); n != want {
		t.Errorf("%d are ticked, want %d", n, want)
	}
}
