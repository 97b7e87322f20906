package benchday

import (
	"slices"
	"testing"
)

// twice is twenty-four swatches, more than the search finds at once.
func twice() Ask {
	a := twelve()
	a.Wish.People[0].There[0].Till = at(22, 0)
	for _, e := range twelve().Entries {
		t := e.Treatment
		t.ID, t.Swatch, t.SetID, t.Steps = t.ID+100, t.Swatch+100, t.SetID+5, slices.Clone(t.Steps)
		a.Entries = append(a.Entries, entry(t))
		a.Wish.Treatments = append(a.Wish.Treatments, t.ID)
	}
	return a
}

func TestALargeDayIsPlannedInPieces(t *testing.T) {
	a := twice()
	s, err := Make(a)
	if err != nil || !s.Fits {
		t.Fatal(s.Reasons, err)
	}
	if err := broken(a, s, 0); err != nil {
		t.Error(err)
	}
	if len(s.Starts) != 192 || s.Bound.After(s.Finish) {
		t.Errorf("%d pieces of work, done %v, not before %v", len(s.Starts), s.Finish, s.Bound)
	}
	t.Log(s.Gap, s.Openings())
	late := a
	late.Now = at(11, 0)
	late.Entries = asPlanned(a, s, at(10, 57), 0)
	again, err := Again(late, s.Starts)
	if err != nil || !again.Fits {
		t.Fatal(again.Reasons, err)
	}
	loose := 0
	if len(again.Breaks) > 0 || !again.Over.IsZero() {
		loose = 1 << 20
	}
	if err := broken(late, again, loose); err != nil {
		t.Error(err)
	}
	if len(again.Breaks) > 0 || again.Moved > 20 {
		t.Errorf("three minutes late move %d steps and break %q", again.Moved, again.Breaks)
	}
}
