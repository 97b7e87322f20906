package run

import (
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestAsRunSaysTheDifferences(t *testing.T) {
	amount := event(9, studio.Changed, 1, 3)
	amount.Amount = &studio.Amount{Value: 20, Unit: studio.GramPerM2}
	tr := treatment()
	lines := AsRun(tr, fold(
		event(1, studio.Began, 0, 0), event(2, studio.Done, 0, 1), amount, event(3, studio.Done, 1, 3),
		event(4, studio.Done, 2, 75), event(5, studio.Done, 4, 90),
	))
	want := []string{"", "used 20 g/m² instead of light, 11 ± 4 g/m²", "12 min longer; outside its tolerance", "not confirmed", "how long it took is not known"}
	for i, l := range lines {
		if l.Difference != want[i] || l.N != i+1 {
			t.Errorf("line %d: %q, want %q", l.N, l.Difference, want[i])
		}
	}
	if l := lines[2]; l.Took != 72*time.Minute || l.Within || l.Late != 12*time.Minute || l.Step.Duration != 72*time.Minute || !strings.HasPrefix(l.Run, "Fume 1 h 12 min") || !strings.HasPrefix(l.Planned, "Fume 1 h (−5 min, +10 min)") {
		t.Errorf("%+v", l)
	}
	if l := lines[3]; l.Confirmed || l.Run != "" {
		t.Errorf("%+v", l)
	}
	if l := lines[1]; l.Step.Amount.Value != 20 || !l.Within {
		t.Errorf("%+v", l)
	}
	if tr.Steps[2].Duration != time.Hour {
		t.Error("AsRun changed the plan")
	}
	if l := AsRun(tr, fold(event(1, studio.Began, 0, 0), event(2, studio.Done, 1, 1), event(3, studio.Done, 2, 58), event(4, studio.Stopped, 3, 60)))[2:]; l[0].Difference != "3 min shorter" || l[1].Difference != "not done" {
		t.Errorf("%q, %q", l[0].Difference, l[1].Difference)
	}
}

func TestBenchSheetFollowsTheRunOrder(t *testing.T) {
	set := studio.Set{ID: 3, Name: "how long", Question: "bluer?"}
	a, b, over, back := treatment(), treatment(), treatment(), treatment()
	a.Swatch, a.Order, a.Replicate = 14, 1, 1
	a.Settings = []studio.Setting{{Level: studio.Level{Label: "240 min"}}, {Level: studio.Level{Label: "wetted"}}}
	b.Swatch, b.Order, b.Faces = 12, 2, studio.OnBoth
	over.Swatch, over.Order, over.Layer = 14, 1, 2
	back.Swatch, back.Order, back.Faces = 14, 1, studio.OnBack
	s := BenchSheet(set, []studio.Swatch{{Number: 14}, {Number: 16, Blank: true}, {Number: 12}, {Number: 15, Blank: true}}, []studio.Treatment{b, over, back, a})
	if s.Title != "how long" || len(s.Rows) != 4 || len(s.Blanks) != 2 || s.Blanks[0] != 15 || s.Caution == "" {
		t.Fatalf("%+v", s)
	}
	var order []string
	for _, r := range s.Rows {
		order = append(order, strings.Join(r.Codes, "+")[1:5]+string(r.Faces)+string(rune('0'+r.Layer)))
	}
	if got := strings.Join(order, " "); got != "0014front1 0014back1 0014front2 0012both1" {
		t.Errorf("%s", got)
	}
	r := s.Rows[0]
	if r.Settings != "240 min · wetted" || len(r.Steps) != 5 || r.Codes[0] != studio.Code(14, studio.Front) {
		t.Errorf("%+v", r)
	}
	if f := r.Steps[2]; f.N != 3 || f.Time != "1 h" || f.Tolerance != "−5 min, +10 min" || !f.Dwell || f.Words != "Fume 1 h (−5 min, +10 min) with ammonia water 10 %" {
		t.Errorf("%+v", f)
	}
	if got := r.Steps[1]; got.Amount != "light, 11 ± 4 g/m²" || got.Time != "" {
		t.Errorf("%+v", got)
	}
	if len(s.Rows[3].Codes) != 2 {
		t.Errorf("both faces have two labels: %v", s.Rows[3].Codes)
	}
}

func TestEveryStepHasWords(t *testing.T) {
	for _, k := range studio.StepKinds {
		if _, ok := doing[k]; !ok {
			t.Errorf("nothing is said for %s", k)
		}
		if w := Words(studio.Step{Kind: k}); !strings.EqualFold(w, string(k)) || w == string(k) {
			t.Errorf("%s is written %q", k, w)
		}
	}
	if Words(studio.Step{}) != "" {
		t.Error("no kind, no words")
	}
}
