package cli

import (
	"math"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

const smallSpec = `{"factors": [{"name": "hours", "low": 2, "high": 48, "ratio": true}, {"name": "metal", "levels": ["copper", "brass"]}], "block": "day"}`

// FuzzSpec: whatever the bytes, there is a spec that holds together or a Problem.
func FuzzSpec(f *testing.F) {
	for _, seed := range []string{
		"", "{}", smallSpec, smallSpec + smallSpec, `{"factors": [{"name": "h", "low": 1e999, "high": 2}]}`, `{"factors": [{"name": "L", "low": 1, "high": 2}]}`,
		`{"factors": [{"name": "h", "low": 1, "high": 2}], "wet": {"hours": "h", "salt_g_m2": 40, "ammonia_wt": 0.09, "salt": "none"}}`,
		`{"factors": [{"name": "h", "low": 1, "high": 2}], "never": [{"h": "x"}], "at_most": [{"sum": {"h": 1}, "is": 1}]}`,
		`{"factors": [{"name": "h", "low": 1, "high": 2}], "wet": {"hours": null, "salt_g_m2": [], "ammonia_wt": {}}}`,
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, factors, err := readSpec(strings.NewReader(text))
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(factors) == 0 || len(s.Outputs) == 0 {
			t.Fatalf("%+v names nothing", s)
		}
		at := make([]float64, len(factors))
		for i, f := range factors {
			if len(f.Levels) == 0 {
				at[i] = f.Low
			}
		}
		s.allowed(factors, at) // whatever it says, it says it
	})
}

// FuzzSwatches: whatever the bytes, there are whole finite rows or a Problem.
func FuzzSwatches(f *testing.F) {
	s, factors, err := readSpec(strings.NewReader(smallSpec))
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range []string{
		"", "hours,metal,day,L,a,b\n", "hours,metal,day,L,a,b\n2,copper,1,50,0,0\n4,brass,1,51,0,0\n8,copper,2,52,0,−1\n",
		"\ufeffb,a,L,day,metal,hours\r\n1,2,3,x,brass,4\r\n", "hours,hours\n1,2\n", "hours,metal\n-1,copper\n", "hours,metal\n\"1,copper\n", "hours,metal,day,L,a,b\nNaN,copper,1,1e999,0,0\n",
	} {
		f.Add(seed, true)
		f.Add(seed, false)
	}
	f.Fuzz(func(t *testing.T, text string, withOut bool) {
		rows, err := s.swatchesIn(strings.NewReader(text), "DATA.csv", factors, withOut)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(rows) == 0 {
			t.Fatal("no rows and no Problem")
		}
		for _, r := range rows {
			if len(r.At) != len(factors) || withOut && (len(r.Out) != 3 || r.Block == "") {
				t.Fatalf("%+v is not whole", r)
			}
			for _, v := range append(append([]float64{}, r.At...), r.Out...) {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v is not finite", r)
				}
			}
		}
	})
}
