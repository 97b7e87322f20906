package demo

import (
	"strings"
	"testing"

	"aerugo/internal/flow/learn"
	"aerugo/internal/studio"
)

// looksOf returns the finished faces of a chapter as perfectly measured, and
// the treatments with swatch numbers.
func looksOf(c *chapter) (looks []studio.Look, treatments []studio.Treatment) {
	for _, s := range c.shots {
		if s.moment == studio.Finished {
			truth := s.look.truth()
			looks = append(looks, studio.Look{
				Swatch: int64(c.piece(s.piece)), Face: s.face, Moment: s.moment, Taken: s.taken,
				Measurement: &studio.Measurement{
					Calibrated: true, Lab: truth.Lab, SD: 1,
					Coverage: &studio.Coverage{Value: truth.Coverage, Low: truth.Coverage, High: truth.Coverage},
				},
			})
		}
	}
	for i, p := range c.layout.Pieces {
		for _, t := range p.Treatments {
			t.Swatch = int64(c.piece(i))
			treatments = append(treatments, t)
		}
	}
	return looks, treatments
}

// Told what is true of its finished faces, learn must find what was planted in
// each set, and be sure of it.
func TestLearnFindsWhatWasPlanted(t *testing.T) {
	chapters, err := told()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"fuming time", "salt", "liquid"} {
		c := chapters[i]
		looks, treatments := looksOf(c)
		f := learn.Find(c.layout.Set, learn.Points(c.layout.Set, treatments, looks))
		t.Logf("%s: %s", c.layout.Set.Name, f.Title)
		if !f.Sure {
			t.Errorf("%s: %q is not sure, but the effect was planted", c.layout.Set.Name, f.Title)
		}
		if !strings.Contains(strings.ToLower(f.Title), want) {
			t.Errorf("%s: %q does not speak of %s", c.layout.Set.Name, f.Title, want)
		}
	}
}
