package web_test

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// classVisits are the pages of a class in their states. never is a studio whose first
// recipe holds what must never meet.
func classVisits(t *testing.T, s *stock, empty, full, never *bench) []visit {
	t.Helper()
	of := fmt.Sprintf
	c := lessonOf(t, s.bench, s.version, s.metal)
	stopped := lessonOf(t, never, 1, 1)
	u := s.bench
	all := []visit{
		{"classes", "empty", empty, "/classes", nil, 200, "Classes"},
		{"classes", "usual", u, "/classes", nil, 200, "Classes"},
		{"classes", "full", full, "/classes", nil, 200, "Classes"},
		{"class_edit", "empty", empty, "/classes/new", nil, 200, "Plan a class"},
		{"class_edit", "usual", u, "/classes/new", nil, 200, "Plan a class"},
		{"class_edit", "from a set", u, of("/classes/new?set=%d", s.set), nil, 200, "Plan a class"},
		{"class_edit", "to change", u, of("/classes/%d/edit", c.ID), nil, 200, "Change the class"},
		{"class_edit", "full", full, "/classes/1/edit", nil, 200, "Change the class"},
		{"class_edit", "refused", u, "/classes", url.Values{"name": {"Evening"}, "heads": {"many"}, "minutes": {"a while"}, "date": {"soon"}}, 422, "Plan a class"},
		{"class_edit", "a change refused", u, of("/classes/%d/edit", c.ID), url.Values{"name": {""}, "heads": {"200"}, "r": {id(s.version)}}, 422, "Change the class"},
		{"class", "usual", u, of("/classes/%d", c.ID), nil, 200, "Blue for eight"},
		{"class", "full", full, "/classes/1", nil, 200, "Brown and green"},
		{"class", "what must never meet", never, of("/classes/%d", stopped.ID), nil, 200, "Blue for eight"},
		{"class", "not there", empty, "/classes/9", nil, 404, "Not here"},
		{"class", "no number", empty, "/classes/first", nil, 404, "Not here"},
		{"class_parts", "usual", u, of("/classes/%d/parts", c.ID), nil, 200, "Parts of the class"},
		{"class_parts", "full", full, "/classes/1/parts", nil, 200, "Parts of the class"},
		{"class_parts", "too long", u, of("/classes/%d/parts", c.ID), url.Values{"kind1": {"talk"}, "minutes1": {"300"}, "do": {"see"}}, 200, "Parts of the class"},
		{"class_parts", "refused", u, of("/classes/%d/parts", c.ID), url.Values{"kind1": {"talk"}, "minutes1": {"long"}, "do": {"save"}}, 422, "Parts of the class"},
		{"class_ahead", "usual", u, of("/classes/%d/ahead", c.ID), nil, 200, "Made ahead"},
		{"class_ahead", "full", full, "/classes/1/ahead", nil, 200, "Made ahead"},
		{"class_ahead", "hours refused", u, of("/classes/%d/ahead?from=early", c.ID), nil, 200, "Made ahead"},
		{"class_ahead", "days refused", u, of("/classes/%d/day", c.ID), url.Values{"from": {"09:00"}, "till": {"18:00"}}, 409, "Made ahead"},
		{"class_ahead", "what must never meet", never, of("/classes/%d/ahead", stopped.ID), nil, 422, "did not work"},
		{"class_now", "usual", u, of("/classes/%d/now", c.ID), nil, 200, "Blue for eight"},
		{"class_now", "full", full, "/classes/1/now", nil, 200, "Brown and green"},
		{"class_now", "what must never meet", never, of("/classes/%d/now", stopped.ID), nil, 422, "did not work"},
		{"class_after", "usual", u, of("/classes/%d/after", c.ID), nil, 200, "After the class"},
		{"class_after", "full", full, "/classes/1/after", nil, 200, "After the class"},
		{"class_after", "refused", u, of("/classes/%d/after", c.ID), url.Values{"what": {"rinse water"}, "mass": {"some"}}, 422, "After the class"},
	}
	return all
}

// classPages are the addresses of the example's class.
var classPages = []string{"/classes", "/classes/new", "/classes/1", "/classes/1/edit", "/classes/1/parts", "/classes/1/ahead", "/classes/1/now", "/classes/1/after"}

// A class is planned from the three questions, its parts are moved and kept, its
// swatches and those ahead of it are laid, the days for them planned, and it ends.
func TestAClassIsPlannedHeldAndEnded(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	starts := s.now().Local().AddDate(0, 0, 12)
	to := s.post(t, "/classes", url.Values{"name": {"Blue for eight"}, "heads": {"8"}, "who": {"adults"}, "date": {starts.Format("2006-01-02")}, "time": {"10:00"}, "minutes": {"3 h"},
		"where": {"outdoors"}, "r": {id(s.version)}, "each" + id(s.version): {"1"}, "metal": {id(s.metal)}}).to(t)
	if to != "/classes/1" {
		t.Fatalf("the class leads to %s", to)
	}
	page := s.see(t, "/classes/1").doc(t).one("main").words()
	for _, want := range []string{"180 min of 180", "Fuming takes 2 h", "Lay the class’s own 8 swatches", "Plan B"} {
		if !strings.Contains(page, want) {
			t.Errorf("the plan does not say %q", want)
		}
	}
	form := submitted(s.see(t, "/classes/1/parts").doc(t).one(`form[action="/classes/1/parts"]`))
	first, second := form.Get("kind1"), form.Get("kind2")
	form.Set("do", "down:1")
	form = submitted(s.post(t, "/classes/1/parts", form).doc(t).one(`form[action="/classes/1/parts"]`))
	if form.Get("kind1") != second || form.Get("kind2") != first {
		t.Errorf("moved, the parts are %s, %s", form.Get("kind1"), form.Get("kind2"))
	}
	form.Set("words1", "my <b>own</b> words")
	form.Set("do", "save")
	s.post(t, "/classes/1/parts", form).to(t)
	c, err := s.store.Class(ctx, 1)
	if err != nil || len(c.Parts) < 8 || c.Parts[0].Words != "my <b>own</b> words" {
		t.Fatalf("kept are %+v, %v", c.Parts, err)
	}

	s.post(t, "/classes/1/own", nil).to(t)
	s.post(t, "/classes/1/ahead", nil).to(t)
	if again := s.post(t, "/classes/1/own", nil); again.code != 409 {
		t.Errorf("laid twice: status %d", again.code)
	}
	if c, err = s.store.Class(ctx, 1); err != nil || c.SetID == 0 || c.AheadID == 0 {
		t.Fatalf("%+v, %v", c, err)
	}
	own, err := s.store.SwatchesOf(ctx, c.SetID)
	if err != nil || len(own) != 8 {
		t.Fatalf("%d swatches of its own, %v", len(own), err)
	}
	day := s.post(t, "/classes/1/day", url.Values{"from": {"09:00"}, "till": {"18:00"}}).to(t)
	if !strings.HasPrefix(day, "/day/") {
		t.Fatalf("the bench day leads to %s", day)
	}
	if c, err = s.store.Class(ctx, 1); err != nil || c.DayID == 0 {
		t.Fatalf("%+v, %v", c, err)
	}
	plan, err := s.store.LastBenchPlan(ctx, c.DayID)
	if err != nil || len(plan.Starts) == 0 || plan.Finish.After(c.Starts.Add(-2*time.Hour)) {
		t.Errorf("made ahead until %v, the class begins %v; %v", plan.Finish, c.Starts, err)
	}

	s.post(t, "/classes/1/after", url.Values{"surprised": {"so blue"}, "what": {"rinse water", ""}, "mass": {"2500", ""}, "fetched": {id(own[0].Number)}, "done": {"stock"}}).to(t)
	s.post(t, "/classes/1/end", nil).to(t)
	if c, err = s.store.Class(ctx, 1); err != nil || c.Ended.IsZero() || c.After.Surprised != "so blue" || len(c.After.Waste) != 1 || c.After.Waste[0].MassG != 2500 || !slices.Equal(c.After.Fetched, []int64{own[0].Number}) {
		t.Errorf("after the class: %+v, %v", c, err)
	}
	if cal := s.see(t, "/classes/1/calendar.ics"); cal.code != 200 || !strings.Contains(string(cal.body), "SUMMARY:Blue for eight") {
		t.Errorf("the calendar is %d: %s", cal.code, cal.body)
	}
}

// What must never meet has no plan, and nothing is laid.
func TestAClassThatMustNotBeIsStopped(t *testing.T) {
	b := stopped(t)
	metal, err := b.store.SaveMetal(t.Context(), studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	c := lessonOf(t, b, 1, metal.ID)
	page := b.see(t, fmt.Sprintf("/classes/%d", c.ID)).doc(t).one("main").words()
	if !strings.Contains(page, "must not be held") || strings.Contains(page, "Plan B") {
		t.Errorf("the page says %q", page)
	}
	for _, what := range []string{"own", "ahead"} {
		if x := b.post(t, fmt.Sprintf("/classes/%d/%s", c.ID, what), nil); x.code != 422 {
			t.Errorf("%s: status %d", what, x.code)
		}
	}
	if sets, err := b.store.Sets(t.Context()); err != nil || len(sets) > 0 {
		t.Errorf("%d sets were laid, %v", len(sets), err)
	}
}

// During the class the page for the room says which part it is, how long and what
// comes next, and asks for itself again when the part is over.
func TestNowShowsThePart(t *testing.T) {
	s := stocked(t)
	c := lessonOf(t, s.bench, s.version, s.metal)
	now := s.now().Local()
	if _, err := s.store.ChangeClass(t.Context(), c.ID, func(x *studio.Class) error { x.Starts = now.Add(-12 * time.Minute); return nil }); err != nil {
		t.Fatal(err)
	}
	x := s.see(t, fmt.Sprintf("/classes/%d/now", c.ID))
	page := x.doc(t).one("main").words()
	if !strings.Contains(page, "Part 2 of") || !strings.Contains(page, "Safety") || !strings.Contains(page, "Next, at") || x.header.Get("Refresh") == "" {
		t.Errorf("now: %q, again after %q s", page, x.header.Get("Refresh"))
	}
}
