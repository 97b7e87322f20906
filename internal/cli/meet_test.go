package cli

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// FuzzUseIn: whatever is typed, there is a use with a strength that can be or a
// Problem, and what nobody knows is never passed in silence.
func FuzzUseIn(f *testing.F) {
	for _, seed := range []string{"", ":", "vinegar", "vinegar:5", "hydrogen-peroxide:3%", "a:b:1", "ammonia:NaN", "ammonia:1e999", "ammonia:-3", "green goo:5", " salt : 5 "} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		u, err := useIn(text)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if u.Key == "" || u.WtPercent < 0 || math.IsNaN(u.WtPercent) || math.IsInf(u.WtPercent, 0) {
			t.Fatalf("%q is read as %+v", text, u)
		}
		m := meeting([]matter.Use{u, {Key: "salt"}}, "mixed", "")
		if _, known := matter.Lookup(u.Key); !known && m.Level != levelUnknown {
			t.Fatalf("%q passes with level %q", text, m.Level)
		}
		if _, err := json.Marshal(m); err != nil {
			t.Fatal(err)
		}
	})
}

// The verdict is that of the worst pair, wherever it stands in the order typed.
func TestMeetSaysTheWorstFirst(t *testing.T) {
	for _, args := range [][]string{
		{"meet", "salt", "vinegar:5", "hydrogen-peroxide:3", "bleach", "--json"},
		{"meet", "bleach", "hydrogen-peroxide:3", "vinegar:5", "salt", "--json"},
	} {
		out, errs, status := at(args...)
		var m met
		if err := json.Unmarshal([]byte(out), &m); err != nil || status != exitFine {
			t.Fatalf("status %d, %v: %s", status, err, errs)
		}
		if m.Level != matter.Stop || m.ID != "X02" || len(m.Pairs) < 3 || m.Source == "" {
			t.Errorf("%v: %+v", args, m)
		}
		for i := 1; i < len(m.Pairs); i++ {
			if m.Pairs[i].Level == matter.Stop && m.Pairs[i-1].Level != matter.Stop {
				t.Errorf("%v: a stop stands after %s", args, m.Pairs[i-1].Level)
			}
		}
		if len(m.Cautions) == 0 || !strings.Contains(m.Cautions[len(m.Cautions)-1], "safety data sheet") {
			t.Errorf("cautions do not end by deferring: %v", m.Cautions)
		}
	}
}
