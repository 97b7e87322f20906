package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

// dayOf is a bench day of a treatment, all fields filled.
func dayOf(treatment int64) studio.BenchPlan {
	return studio.BenchPlan{By: "laptop", Made: noon, Finish: noon.Add(5 * time.Hour), Bound: noon.Add(4 * time.Hour), Openings: 2,
		Ask: studio.BenchAsk{Treatments: []int64{treatment}, Overnight: true, AnyOrder: true, DryingPlaces: 4, LaterMin: 20,
			Stretch: []studio.BenchStretch{{Treatment: treatment, Step: 2, Minutes: 15}},
			People: []studio.BenchPerson{{Name: "Maren", There: []studio.Hours{{From: noon, Till: noon.Add(6 * time.Hour)}},
				Away: []studio.Hours{{From: noon.Add(time.Hour), Till: noon.Add(2 * time.Hour), Why: "class <1>"}}}}},
		Starts: []studio.BenchStart{{Treatment: treatment, Step: 0, What: "do", At: noon, Minutes: 2}, {Treatment: treatment, Step: 2, What: "put in", At: noon.Add(time.Hour), Minutes: 1}}}
}

func TestBenchDayIsKeptAsGiven(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	tr := treatmentOf(t, s, b.pieces[0].Number)
	plan := dayOf(tr.ID)
	day, first, err := s.AddBenchDay(ctx, studio.BenchDay{Name: "Saturday", By: "laptop"}, plan)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "day", day, studio.BenchDay{ID: 1, Name: "Saturday", Made: noon, By: "laptop"})
	plan.ID, plan.Day = 1, day.ID
	same(t, "first plan", first, plan)
	again := plan
	again.Why, again.Moved, again.MovedMin, again.Made = "12 min late", 3, 12, noon.Add(time.Minute)
	again = must[studio.BenchPlan](t)(s.AddBenchPlan(ctx, again))
	same(t, "plans", must[[]studio.BenchPlan](t)(s.BenchPlans(ctx, day.ID)), []studio.BenchPlan{plan, again})
	same(t, "the plan that counts", must[studio.BenchPlan](t)(s.LastBenchPlan(ctx, day.ID)), again)
	if _, err := s.write.ExecContext(ctx, `UPDATE bench_plan SET why = 'other'`); err == nil {
		t.Error("a plan was changed")
	}
	claim := studio.BenchClaim{Day: day.ID, Treatment: tr.ID, Step: 2, Person: "Odile", Client: "k1", At: noon, By: "phone"}
	for range 2 {
		if err := s.AddBenchClaims(ctx, []studio.BenchClaim{claim}); err != nil {
			t.Fatal(err)
		}
	}
	claim.ID = 1
	same(t, "claims", must[[]studio.BenchClaim](t)(s.BenchClaims(ctx, day.ID)), []studio.BenchClaim{claim})
	for _, at := range []time.Time{noon.Add(7 * time.Hour), noon.Add(9 * time.Hour)} {
		if err := s.EndBenchDay(ctx, day.ID, at); err != nil {
			t.Fatal(err)
		}
	}
	if d := must[studio.BenchDay](t)(s.BenchDay(ctx, day.ID)); !d.Ended.Equal(noon.Add(7 * time.Hour)) {
		t.Errorf("ended %v, the first end counts", d.Ended)
	}
	same(t, "days", len(must[[]studio.BenchDay](t)(s.BenchDays(ctx))), 1)
}

func TestBenchDayRefusesWhatCannotBe(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	tr := treatmentOf(t, s, b.pieces[0].Number)
	for _, c := range []struct {
		change func(*studio.BenchPlan)
		says   string
	}{
		{func(p *studio.BenchPlan) { p.Ask.People = nil }, "pair of hands"},
		{func(p *studio.BenchPlan) { p.Ask.Treatments = nil }, "at least one swatch"},
		{func(p *studio.BenchPlan) { p.Starts[0].Minutes = -1 }, "can't be kept"},
		{func(p *studio.BenchPlan) { p.Ask.DryingPlaces = -2 }, "places to dry"},
		{func(p *studio.BenchPlan) { p.Ask.People[0].There[0].Till = noon.Add(-time.Hour) }, "not after they begin"},
	} {
		p := dayOf(tr.ID)
		c.change(&p)
		_, _, err := s.AddBenchDay(ctx, studio.BenchDay{Name: "x"}, p)
		wantProblem(t, err, studio.Invalid, c.says)
	}
	_, _, err := s.AddBenchDay(ctx, studio.BenchDay{}, dayOf(tr.ID))
	wantProblem(t, err, studio.Invalid, "a name")
	p := dayOf(tr.ID)
	p.Day = 99
	_, err = s.AddBenchPlan(ctx, p)
	wantProblem(t, err, studio.NotFound, "bench day 99")
	_, err = s.LastBenchPlan(ctx, 99)
	wantProblem(t, err, studio.NotFound, "bench day 99")
	wantProblem(t, s.EndBenchDay(ctx, 99, noon), studio.NotFound, "bench day 99")
	wantProblem(t, s.AddBenchClaims(ctx, []studio.BenchClaim{{Day: 99, Treatment: tr.ID, Client: "a", At: noon}}), studio.Conflict, "not in this studio")
	if n := len(must[[]studio.BenchDay](t)(s.BenchDays(ctx))); n != 0 {
		t.Errorf("%d days were kept", n)
	}
}

// What is planned of the example alone goes with it; a day that holds a swatch of the
// person's own stays, with what it says of that one.
func TestRemovingTheExampleTakesItsBenchDays(t *testing.T) {
	s := fresh(t)
	theirs, mine := furnish(t, s, true), furnish(t, s, false)
	a, b := treatmentOf(t, s, theirs.pieces[0].Number), treatmentOf(t, s, mine.pieces[0].Number)
	both := dayOf(a.ID)
	both.Ask.Treatments = []int64{a.ID, b.ID}
	for _, plan := range []studio.BenchPlan{dayOf(a.ID), dayOf(b.ID), both} {
		if _, _, err := s.AddBenchDay(ctx, studio.BenchDay{Name: "Saturday"}, plan); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	var left []int64
	for _, d := range must[[]studio.BenchDay](t)(s.BenchDays(ctx)) {
		left = append(left, d.ID)
	}
	same(t, "days left", left, []int64{3, 2})
	same(t, "plans of the day that went", len(must[[]studio.BenchPlan](t)(s.BenchPlans(ctx, 1))), 0)
	wantSound(t, s)
}
