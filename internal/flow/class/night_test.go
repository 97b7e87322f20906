package class

import (
	"slices"
	"testing"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/studio"
)

// laid is what is made ahead of the three-hour class, in one chamber of eight places.
func laid(t *testing.T, a Ask) []studio.Treatment {
	t.Helper()
	for i := range a.Recipes {
		for k := range a.Recipes[i].Version.Steps {
			if s := &a.Recipes[i].Version.Steps[k]; s.Kind == studio.Fume {
				s.ChamberID = 1
			}
		}
	}
	p, err := Make(a)
	if err != nil {
		t.Fatal(err)
	}
	l, err := LayAhead(a, p, nil, Size{50, 75})
	if err != nil {
		t.Fatal(err)
	}
	ts := l.Treatments()
	for i := range ts {
		ts[i].ID = int64(i + 1)
	}
	return ts
}

func TestMakingAheadIsDoneInTime(t *testing.T) {
	ts := laid(t, three())
	if len(ts) != 9 {
		t.Fatalf("%d treatments are laid, want 9", len(ts))
	}
	n, err := MakeNight(NightAsk{Now: saturday.AddDate(0, 0, -10), Starts: saturday, Person: "Ann", From: 9 * 60, Till: 18 * 60, Treatments: ts,
		Chambers: []benchday.Chamber{{ID: 1, Name: "box", Places: 9}}})
	if err != nil || !n.Fits {
		t.Fatalf("%v, reasons %q", err, n.Reasons)
	}
	if want := saturday.Add(-2 * time.Hour); !n.Ready.Equal(want) || n.Sheet.Finish.After(want) {
		t.Errorf("all is out at %v and must be at %v, want %v", n.Sheet.Finish, n.Ready, want)
	}
	// 48 h in the tub and 2 h to dry, done by Saturday 8 o'clock, by hands that are
	// there from 9 to 18: Wednesday at the latest.
	if n.Begin.After(saturday.AddDate(0, 0, -2).Add(-2*time.Hour)) || n.Begin.Before(saturday.AddDate(0, 0, -4)) {
		t.Errorf("the latest beginning is %v", n.Begin)
	}
	// Nothing twice in one pair of hands, and each stay as long as it is to be.
	starts := slices.Clone(n.Sheet.Starts)
	slices.SortFunc(starts, func(a, b studio.BenchStart) int { return a.At.Compare(b.At) })
	for i, x := range starts {
		if i > 0 && starts[i-1].At.Add(time.Duration(starts[i-1].Minutes)*time.Minute).After(x.At) {
			t.Errorf("two hands are at %v and at %v", starts[i-1], x)
		}
		if x.At.Before(n.Begin) {
			t.Errorf("%v is before the beginning", x)
		}
	}
	for _, treatment := range ts {
		var in, out time.Time
		for _, x := range starts {
			if x.Treatment == treatment.ID && x.What == benchday.PutIn {
				in = x.At.Add(time.Duration(x.Minutes) * time.Minute)
			}
			if x.Treatment == treatment.ID && x.What == benchday.TakeOut {
				out = x.At
			}
		}
		k := slices.IndexFunc(treatment.Steps, func(s studio.Step) bool { return s.Kind == studio.Fume })
		if stay, s := out.Sub(in), treatment.Steps[k]; stay < s.Duration-s.Early || stay > s.Duration+s.Late {
			t.Errorf("treatment %d stays in for %v, its recipe says %v", treatment.ID, stay, s.Duration)
		}
	}
}

func TestTooLateIsSaid(t *testing.T) {
	n, err := MakeNight(NightAsk{Now: saturday.Add(-20 * time.Hour), Starts: saturday, Person: "Ann", From: 9 * 60, Till: 18 * 60, Treatments: laid(t, three()),
		Chambers: []benchday.Chamber{{ID: 1, Name: "box", Places: 9}}})
	if err != nil || n.Fits || len(n.Reasons) == 0 {
		t.Errorf("two days' fuming in twenty hours: fits %v, reasons %q, %v", n.Fits, n.Reasons, err)
	}
	_, err = MakeNight(NightAsk{Starts: saturday, From: 9 * 60, Till: 18 * 60})
	if studio.ProblemIn(err) == nil {
		t.Errorf("nothing to make: %v", err)
	}
}

// Dealt out in turn, each student gets as many of each recipe.
func TestOwnSwatchesAreDealtEvenly(t *testing.T) {
	a := three()
	a.Class.Recipes[1].PerHead = 2
	l, err := LayOwn(a, nil, Size{50, 75})
	if err != nil || len(l.Pieces) != 24 {
		t.Fatalf("%d swatches, %v", len(l.Pieces), err)
	}
	got := make([]map[int64]int, 8)
	for i, p := range l.Pieces {
		if got[i%8] == nil {
			got[i%8] = map[int64]int{}
		}
		got[i%8][p.Treatments[0].VersionID]++
	}
	for i, g := range got {
		if g[1] != 1 || g[2] != 2 {
			t.Errorf("student %d gets %v", i+1, g)
		}
	}
}
