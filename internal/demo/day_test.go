package demo

import (
	"slices"
	"testing"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A bench day is on that holds what runs and what is left of its set, and goes when
// the example goes. A set laid out by a fraction waits, each setting once or twice.
func TestABenchDayIsOn(t *testing.T) {
	s := filled(t)
	days, err := s.BenchDays(t.Context())
	if err != nil || len(days) != 1 || !days[0].Ended.IsZero() {
		t.Fatalf("%+v, %v", days, err)
	}
	plan, err := s.LastBenchPlan(t.Context(), days[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	var want []int64
	waiting := 0
	running := int64(0)
	all := records(t, s)
	for _, r := range all {
		if r.Status == run.Running {
			running = r.treatment.SetID
		}
	}
	for _, r := range all {
		switch {
		case r.treatment.SetID == running && (r.Status == run.Running || r.Status == run.Planned):
			want = append(want, r.treatment.ID)
		case r.Status == run.Planned:
			waiting++
		}
	}
	got := slices.Clone(plan.Ask.Treatments)
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) || len(want) != 11 {
		t.Errorf("the day holds treatments %v, want %v", got, want)
	}
	for _, x := range plan.Starts {
		if !slices.Contains(got, x.Treatment) || x.At.After(plan.Finish) {
			t.Errorf("%+v is no start of the day", x)
		}
	}
	if !plan.Finish.After(testNow) || plan.Finish.After(plan.Ask.People[0].There[0].Till) || len(plan.Ask.People) != 2 {
		t.Errorf("the day is over at %v, with %+v", plan.Finish, plan.Ask.People)
	}
	sets, err := s.Sets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(sets, func(x studio.Set) bool { return x.Design == studio.Fraction && len(x.Factors) == 4 }) || waiting != 10 {
		t.Errorf("no set by a fraction of four things, or %d to begin of it", waiting)
	}
	if err := s.RemoveInvented(t.Context()); err != nil {
		t.Fatal(err)
	}
	if days, err := s.BenchDays(t.Context()); err != nil || len(days) != 0 {
		t.Errorf("without the example: %+v, %v", days, err)
	}
}
