package evidence

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
)

// Pairs of Sharma, Wu and Dalal 2005, table 1.
func TestAShiftIsTheDifferenceOfTheLooks(t *testing.T) {
	for _, c := range []struct {
		a, b colour.Lab
		de   float64
	}{
		{colour.Lab{L: 50, A: 2.5, B: 0}, colour.Lab{L: 61, A: -5, B: 29}, 22.8977},
		{colour.Lab{L: 60.2574, A: -34.0099, B: 36.2677}, colour.Lab{L: 60.4626, A: -34.1751, B: 39.4387}, 1.2644},
	} {
		s, ok := ShiftOf([]Made{{Lab: c.a}}, []Made{{Lab: c.b}})
		if !ok || s.DE < c.de-1e-3 || s.DE > c.de+1e-3 || s.Interval || !strings.Contains(s.Words, "too few") {
			t.Errorf("%+v", s)
		}
	}
	if _, ok := ShiftOf(nil, []Made{{}}); ok {
		t.Error("a version without swatches has a shift")
	}
}

// Fillings scatter: an interval from swatches alone would claim a difference between
// recipes that are one far too often. With fillings as units it does so 5 times in 100
// or less (the direction is chosen by the data, which Welch's test does not know).
func TestFillingsAreNotTakenForTheRecipe(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	draw := func(name string, shift float64) (out []Made) {
		for f := range 6 {
			fv := 2 * r.NormFloat64()
			for range 4 {
				out = append(out, Made{Day: name, Filling: fmt.Sprint(name, f), Lab: colour.Lab{L: 50 + shift + fv + r.NormFloat64(), A: -8, B: 2}})
			}
		}
		return out
	}
	const times = 1000
	wrong, seen := 0, 0
	for range times {
		if s, _ := ShiftOf(draw("a", 0), draw("b", 0)); s.Low > 0 {
			wrong++
		}
		if s, _ := ShiftOf(draw("a", 0), draw("b", 8)); s.Low > 0 {
			seen++
		}
	}
	// 0.05 of 1000 scatters by 7
	if wrong > 75 || seen < 950 {
		t.Errorf("a difference claimed %d times in %d where there is none, and %d times where there is one", wrong, times, seen)
	}
}
