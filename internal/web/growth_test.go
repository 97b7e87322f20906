package web

import (
	"math"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// TestAFaceThroughTimeGrows: photographs that follow a logistic curve with its half-time
// at 3 h say so; photographs through the lid are not mixed with those in the open, and
// five are too few.
func TestAFaceThroughTimeGrows(t *testing.T) {
	began := time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)
	var shots []timeShot
	for i, h := range []float64{0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8} {
		grown := 1 / (1 + math.Exp(-1.5*(h-3)))
		wobble := 0.3 * math.Sin(float64(7*i))
		shots = append(shots, timeShot{Taken: began.Add(time.Duration(h * float64(time.Hour))), Lab: colour.Lab{L: 60 - 10*grown + wobble, A: 15 - 30*grown, B: 20 - 25*grown},
			Coverage: &studio.Coverage{Value: 0.8 * grown}})
	}
	shots = append(shots, timeShot{Taken: began.Add(time.Hour), ThroughLid: true, Lab: colour.Lab{L: 10}})
	gs := growthOf(shots, began)
	if len(gs) != 2 || math.Abs(gs[0].Half.Value-3) > 0.1 || !strings.Contains(gs[0].Words, "is half way at 3 h") && !strings.Contains(gs[0].Words, "is half way at 2 h 5") {
		t.Errorf("%+v", gs)
	}
	if gs := growthOf(shots[:leastGrowth-1], began); gs != nil {
		t.Errorf("%d photographs make %+v", leastGrowth-1, gs)
	}
}
