package main

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/science/colour"
)

// A smaller version of the command; README.md holds the figures of the whole.
func TestModelTakesFewerSwatches(t *testing.T) {
	s, err := compare(3, 4)
	if err != nil {
		t.Fatal(err)
	}
	ours := mean(s.took[0])
	for _, k := range []int{2, 3} { // twelve searches are too few to tell the two models apart
		if got := mean(s.took[k]); got < 1.3*ours {
			t.Errorf("%s took %.1f swatches, the model with physics %.1f", strategies[k], got, ours)
		}
	}
}

// Intervals of 90 % are to hold 85 to 95 % of new swatches.
func TestIntervalsHoldWhatTheySay(t *testing.T) {
	h, err := calibrate(4, 5)
	if err != nil {
		t.Fatal(err)
	}
	if share := h.share(); share < 0.85 || share > 0.95 {
		t.Errorf("intervals of 90 %% held %.1f %%", 100*share)
	}
}

// The table stands for the chamber: it and a chamber run for the setting itself agree.
func TestTableStandsForTheChamber(t *testing.T) {
	a, err := tabulate(1, 0.1, 1)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	for range 10 {
		at := anySetting(r)
		wetH, ppm, share := a.wet(at)
		want, err := direct(at)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(wetH-want) > 0.5+0.05*at[hours] {
			t.Errorf("at %.3g it is wet for %.2f h, the chamber says %.2f", at, wetH, want)
		}
		if !(ppm > 1000 && ppm < 3e5 && share > 0 && share <= 1) {
			t.Errorf("at %.3g: %v ppm, %v dissolved", at, ppm, share)
		}
	}
}

func TestTargetsCanBeReached(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	b, err := draw(r)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		l := b.target(r)
		if l.L < 0 || l.L > 100 || math.IsNaN(colour.Difference(l, colour.Lab{L: 50})) {
			t.Errorf("a target of %v", l)
		}
		if got := b.rarity(l, r); got == 0 && b.rarity(l, r) == 0 {
			t.Errorf("no setting of 8000 comes near %v", l)
		}
	}
}

// direct returns the wet hours of a setting from a chamber run for it alone.
func direct(at []float64) (float64, error) {
	out, err := chamber.Run(
		chamber.Box{VolumeL: 60, LeakPerH: 0.1, Temp: 20, GapMM: at[gap], RoomRH: 0.5},
		chamber.Pad{SolutionG: 400, Strength: at[strength]}, nil,
		[]chamber.Piece{{Name: "one", Faces: []chamber.Face{{Salt: salts[int(at[salt])], SaltGPerM2: at[loading], Out: time.Duration(at[hours] * float64(time.Hour))}}}},
		at[hours], chamber.Options{Step: 10 * time.Minute})
	if err != nil {
		return 0, err
	}
	return out.Pieces[0].Faces[0].WetTime.Hours(), nil
}
