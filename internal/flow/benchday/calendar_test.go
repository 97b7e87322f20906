package benchday

import (
	"strings"
	"testing"
	"time"
)

// The entries of the day: each action once, at its time, under a UID of its own that stays
// when the day is planned anew (RFC 5545, 3.8.4.7).
func TestCalendarHasEveryAction(t *testing.T) {
	a := few()
	s, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	entries := Calendar(s, 7, "Blue, green; and brown")
	if len(entries) != len(s.Next()) {
		t.Fatalf("%d entries for %d actions", len(entries), len(s.Next()))
	}
	uids := map[string]bool{}
	for i, e := range entries {
		act := s.Next()[i]
		if !e.From.Equal(act.Start) || !e.Till.Equal(act.End) || e.Free || e.Bell >= 0 {
			t.Errorf("%v to %v for an action at %v", e.From, e.Till, act.Start)
		}
		if e.What != act.Title || !strings.Contains(e.Text, act.Miss) || e.Category != "Blue, green; and brown" {
			t.Errorf("it says %q, %q", e.What, e.Text)
		}
		if e.UID == "" || uids[e.UID] {
			t.Errorf("UID %q is empty or another's", e.UID)
		}
		uids[e.UID] = true
	}
	// twenty minutes later the same work has the same UIDs
	a.Now = a.Now.Add(20 * time.Minute)
	moved, err := Again(a, s.Starts)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range Calendar(moved, 7, "x") {
		if !uids[e.UID] {
			t.Errorf("%q has the new UID %q", e.What, e.UID)
		}
	}
}
