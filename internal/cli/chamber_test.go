package cli

import (
	"math"
	"testing"

	"aerugo/internal/studio"
)

// FuzzOpenings: whatever is typed after --open, there are openings that can be or
// a Problem.
func FuzzOpenings(f *testing.F) {
	for _, seed := range []string{"", "2,4.5", "1:0.3, 2", "-1", "NaN", "1:NaN", "1e9", "2:", ",", "1:2:3", "−1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := chamberVerb{Open: text}.openings()
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		for _, o := range got {
			if o.At < 0 || !(o.Lost >= 0 && o.Lost <= 1) {
				t.Fatalf("%+v", o)
			}
		}
	})
}

func TestPercentAndFractionAreOneStrength(t *testing.T) {
	for typed, want := range map[float64]float64{9: 0.09, 0.09: 0.09, 30: 0.30, 0.3: 0.30, 0: 0, 1: 0.01, 1.5: 0.015} {
		if got, err := fraction("ammonia-wt", 0, &typed, 30); err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: %v %v", typed, got, err)
		}
	}
	for typed, want := range map[float64]float64{50: 0.5, 0.5: 0.5, 1: 1, 100: 1, 0: 0} {
		if got, err := fraction("room-rh", 0, &typed, 100); err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("%v %%: %v %v", typed, got, err)
		}
	}
	for _, typed := range []float64{-1, 31, 0.31, 0.9, math.NaN(), math.Inf(1)} {
		if got, err := fraction("ammonia-wt", 0, &typed, 30); studio.ProblemIn(err) == nil {
			t.Errorf("%v was taken as %v", typed, got)
		}
	}
}
