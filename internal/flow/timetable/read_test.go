package timetable

import (
	"strings"
	"testing"

	"aerugo/internal/studio"
)

const oneSwatch = `{"finish_by_min": 60,
 "resources": [{"name": "hands", "windows_min": [[0, 30], [35, 60]]}, {"name": "places", "capacity": 2}],
 "operations": [
  {"name": "load", "swatch": "S01", "duration_min": 2, "needs": [{"resource": "hands"}]},
  {"name": "unload", "swatch": "S01", "duration_min": 3, "needs": [{"resource": "hands", "amount": 1}], "latest_end_min": 50}],
 "lags": [{"from": "load", "to": "unload", "min_min": 27, "max_min": 40}],
 "holds": [{"resource": "places", "from": "load", "to": "unload"}],
 "lids": [{"name": "chamber", "operations": ["load", "unload"]}]}`

func TestADayIsReadAndPlanned(t *testing.T) {
	d, err := Read([]byte(oneSwatch))
	if err != nil {
		t.Fatal(err)
	}
	tt, err := Plan(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	// By hand: load at 0 to 2, 27 min at least is 29; 29 to 32 runs into the
	// break at 30, so it is taken out from 35 to 38.
	if tt.State != Fits || tt.Finish != 38 || !tt.Proven || tt.Openings != 2 || tt.Start[1] != 35 {
		t.Fatalf("%+v", tt)
	}
}

func TestBadDaysAreRefusedInPlainWords(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{`"duration_min": 2`, `"duration_min": -2`, "lasts -2 minutes"},
		{`"duration_min": 2`, `"duration_min": "2"`, "line 4"},
		{`"duration_min": 2`, `"duration_min": 2.5`, "whole minutes"},
		{`"swatch": "S01"`, `"swotch": "S01"`, `"swotch"`},
		{`"from": "load"`, `"from": "laod"`, `"laod"`},
		{`"min_min": 27`, `"min_min": 41`, "41 to 40"},
		{`[[0, 30], [35, 60]]`, `[[35, 60], [0, 30]]`, "not in order"},
		{`{"resource": "hands"}`, `{"resource": "feet"}`, `"feet"`},
		{`"capacity": 2`, `"capacity": 0`, "there are 0"},
		{`"amount": 1`, `"amount": 2`, "needs 2"},
		{`"name": "unload"`, `"name": "load"`, "twice"},
		{`"finish_by_min": 60,`, `"finish_by_min": 60`, "not JSON"},
		{`["load", "unload"]}]}`, ``, "breaks off"},
		{`["load", "unload"]}]}`, `["load", "unload"]}]} {}`, "one day"},
		{`"finish_by_min": 60`, `"finish_by_min": 99999999`, "99999999"},
	} {
		text := strings.Replace(oneSwatch, c.from, c.to, 1)
		_, err := Read([]byte(text))
		p := studio.ProblemIn(err)
		if p == nil || !strings.Contains(p.Text, c.want) {
			t.Errorf("%s: %v; it must say %q", c.to, err, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(oneSwatch))
	f.Add([]byte(`{"operations":[{"name":"a","duration_min":1}],"lags":[{"from":"a","to":"a"}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := Read(b)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(d.Ops) > 20 {
			return
		}
		tt, err := Plan(d, Options{Finish: Limit{Steps: 2000}, Tidy: Limit{Steps: 2000}})
		if err != nil {
			t.Fatal(err)
		}
		if tt.State == Fits {
			if err := broken(d, tt.Start); err != nil && d.FinishBy < 10000 {
				t.Fatal(err)
			}
		}
	})
}
