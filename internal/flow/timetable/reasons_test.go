package timetable

import (
	"slices"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// Three days worked by hand.
func TestWhyADayDoesNotFit(t *testing.T) {
	hands := []Resource{{Name: "hands", Capacity: 1}}
	op := func(swatch string, minutes int) Op {
		return Op{Name: swatch + " work", Swatch: swatch, Minutes: minutes, Needs: []Need{{0, 1}}}
	}
	late := op("A", 5)
	late.Earliest, late.LatestEnd = 10, 12
	for _, c := range []struct {
		name string
		day  Day
		kind Kind
		text string
		fix  []Fix
	}{
		{"two waits that contradict each other by 5 minutes", Day{Resources: hands, Ops: []Op{op("A", 1), op("A", 1)},
			Lags: []Lag{{0, 1, 10, NoLimit}, {0, 1, 0, 5}}}, Circle, "contradict each other",
			[]Fix{{Kind: Stretch, Lag: 1, Minutes: 5, Least: true}}},
		{"12 minutes of work in 10", Day{Resources: hands, Ops: []Op{op("A", 6), op("B", 6)}, FinishBy: 10}, Load, "12 min are needed, 10 min are there",
			[]Fix{{Kind: Drop, Swatches: []string{"A"}}, {Kind: Drop, Swatches: []string{"B"}}, {Kind: Later, Minutes: 2, Least: true}}},
		{"5 minutes between 10 and 12", Day{Resources: hands, Ops: []Op{late, op("B", 1)}}, Hours, "no time left",
			[]Fix{{Kind: Drop, Swatches: []string{"A"}}}},
	} {
		tt, err := Plan(c.day, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if tt.State != CanNot || len(tt.Reasons) == 0 || tt.Reasons[0].Kind != c.kind || !strings.Contains(tt.Reasons[0].Text(c.day), c.text) {
			t.Errorf("%s: %v, %+v", c.name, tt.State, tt.Reasons)
		}
		if !slices.EqualFunc(tt.Fixes, c.fix, func(a, b Fix) bool {
			return a.Kind == b.Kind && slices.Equal(a.Swatches, b.Swatches) && a.Lag == b.Lag && a.Minutes == b.Minutes && a.Least == b.Least
		}) {
			t.Errorf("%s: fixes %+v, by hand %+v", c.name, tt.Fixes, c.fix)
		}
	}
}

// A night: load at the end of the first day, unload when someone is there again.
func TestADwellOverNightEndsWhenSomeoneIsThere(t *testing.T) {
	d := Day{Resources: []Resource{{Name: "hands", Capacity: 1, Windows: []Window{{0, 480, 0}, {1440, 1920, 0}}}},
		Ops:  []Op{{Name: "load", Minutes: 5, Needs: []Need{{0, 1}}}, {Name: "unload", Minutes: 5, Needs: []Need{{0, 1}}}},
		Lags: []Lag{{0, 1, 600, 1000}}}
	tt, err := Plan(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	// By hand: unloading can't be before 1440, so loading ends at 440 or later,
	// and by 480 at the latest; the longest spare time is the latest loading.
	if tt.State != Fits || tt.Finish != 1445 || !tt.Proven || tt.Start[1] != 1440 || tt.Start[0] < 435 || tt.Start[0] > 475 {
		t.Fatalf("%+v", tt)
	}
	if tt.Start[0] != 475 || tt.Spare != 40 {
		t.Errorf("loaded at %d with %d to spare; 475 and 40 can be had", tt.Start[0], tt.Spare)
	}
}

func TestReplanNeedsAStartForEachOperation(t *testing.T) {
	_, err := Replan(Day{Ops: []Op{{Name: "a", Minutes: 1}}}, nil, 0, Options{})
	if studio.ProblemIn(err) == nil {
		t.Errorf("%v is no Problem", err)
	}
}
