package demo

import (
	"testing"

	"aerugo/internal/studio"
)

// The invented sitting is about one set, asks each maker for as many choices, shows
// nobody a face with itself, and goes when the example goes.
func TestMakersChoseBetweenFaces(t *testing.T) {
	s := filled(t)
	all, err := s.Sittings(t.Context())
	if err != nil || len(all) != 1 || len(all[0].Faces) < 8 {
		t.Fatalf("%+v, %v", all, err)
	}
	choices, err := s.Choices(t.Context(), all[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, c := range choices {
		count[c.Who]++
		if c.At.After(testNow) || c.Took <= 0 || !all[0].Has(c.Left) || !all[0].Has(c.Right) {
			t.Errorf("%+v", c)
		}
	}
	if len(count) != 2 || count[maren] != count[odile] || count[maren] < 16 || len(studio.StandingChoices(choices)) != len(choices) {
		t.Errorf("choices by %v", count)
	}
	if err := s.RemoveInvented(t.Context()); err != nil {
		t.Fatal(err)
	}
	if all, err := s.Sittings(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("without the example: %+v, %v", all, err)
	}
}
