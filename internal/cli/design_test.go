package cli

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"aerugo/internal/studio"
)

// Whatever stands in a spec, it is read or refused in a sentence; what is read
// can be planned, or refused in a sentence too, and the answer is JSON.
func FuzzReadDesign(f *testing.F) {
	for _, text := range []string{
		`{"factors": [{"name": "hours", "min": 2, "max": 8, "settings": [2, 5, 8]}, {"name": "liquid", "levels": ["a", "b"]}], "runs": 6, "model": ["hours", "hours^2", "liquid", "hours*liquid"], "forbidden": [{"liquid": "b", "hours": {"min": 6}}], "blocks": [{"name": "day", "sizes": [3, 3]}], "seed": 7}`,
		`{"factors": [{"name": "a", "levels": [1, 2, 3]}], "blocks": 2, "criterion": "I", "made": [{"a": 2}]}`,
		`{"plan": "fraction", "runs": 4, "foldover": true, "factors": [{"name": "a", "min": 0, "max": 1}, {"name": "b", "min": 0, "max": 1}, {"name": "c", "levels": ["x", "y"]}]}`,
		`{"plan": "composite", "star": "blocked", "factors": [{"name": "a", "min": 0, "max": 1}, {"name": "b", "min": 0, "max": 1}]}`,
		`{"factors": [{"name": "h", "min": 1, "max": 2, "same_within": "day"}, {"name": "b", "levels": ["x", "y"], "kind": "categorical"}], "runs": 8, "blocks": [{"name": "day", "count": 4, "ratio": 2}]}`,
		`{"factors": [{"name": "h", "min": 1e308, "max": -1e308}]}`, `{"factors": [{"name": "h", "min": 0, "max": 5e-324}]}`, `{"factors": []}`, `[]`, `{} {}`,
		`{"factors": [{"name": "a", "levels": ["x", "y"]}], "blocks": [{"name": "d", "of": [1, 1, 9]}], "runs": 3}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		a, err := readDesign(data)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("refused without a sentence: %v", err)
			}
			return
		}
		if a.Runs > 12 || len(a.Factors) > 4 || len(a.Model) > 8 {
			return // right, but slow
		}
		a.Starts = 2
		v := designVerb{}
		got, err := v.plan(a)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("not planned, without a sentence: %v", err)
			}
			return
		}
		for _, x := range []float64{got.Spread, got.See} {
			if math.IsNaN(x) {
				t.Fatal("not a number")
			}
		}
		if _, err := json.Marshal(got); err != nil {
			t.Fatalf("the answer is no JSON: %v", err)
		}
	})
}

// The same spec gives the same plan and order again, and another seed another order.
func TestDesignSeedIsKept(t *testing.T) {
	spec := func(seed string) designed {
		a, err := readDesign([]byte(`{"factors": [{"name": "hours", "min": 2, "max": 8}, {"name": "liquid", "levels": ["a", "b", "c"]}], "runs": 10, "seed": ` + seed + `}`))
		if err != nil {
			t.Fatal(err)
		}
		got, err := designVerb{}.plan(a)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if a, b := spec("5"), spec("5"); !reflect.DeepEqual(a, b) {
		t.Errorf("%+v\n%+v", a, b)
	}
	if reflect.DeepEqual(spec("5").Order, spec("6").Order) {
		t.Error("seeds 5 and 6 gave one order")
	}
}
