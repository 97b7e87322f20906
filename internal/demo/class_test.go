package demo

import (
	"testing"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/class"
)

// The invented class fills its three hours to the minute, and there is time to make
// ahead what it needs.
func TestTheClassFitsItsHours(t *testing.T) {
	s := filled(t)
	ctx := t.Context()
	all, err := s.Classes(ctx)
	if err != nil || len(all) != 1 || !all[0].Invented || all[0].Starts.Weekday() != time.Saturday {
		t.Fatalf("%+v, %v", all, err)
	}
	a := class.Ask{Class: all[0]}
	if a.Supplies, err = s.Supplies(ctx); err != nil {
		t.Fatal(err)
	}
	for _, x := range all[0].Recipes {
		v, err := s.Version(ctx, x.VersionID)
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.Recipe(ctx, v.RecipeID)
		if err != nil {
			t.Fatal(err)
		}
		m, err := s.Metal(ctx, x.MetalID)
		if err != nil {
			t.Fatal(err)
		}
		a.Recipes = append(a.Recipes, class.Recipe{Version: v, Name: r.Name, Metal: m})
	}
	p, err := class.Make(a)
	if err != nil {
		t.Fatal(err)
	}
	if p.Minutes != 180 || p.Over != 0 || len(p.Faults)+len(p.Advice) > 0 {
		t.Errorf("the parts take %d min: %q, %q", p.Minutes, p.Faults, p.Advice)
	}
	for i, want := range []string{class.Students, class.Students, class.Teacher} {
		if p.Recipes[i].Who != want {
			t.Errorf("%s is done by %s: %s", p.Recipes[i].Name, p.Recipes[i].Who, p.Recipes[i].Why)
		}
	}
	if !p.Recipes[0].Finished || p.Recipes[1].Finished || len(p.Ahead) == 0 || !p.PlanB.Needed {
		t.Errorf("the brown, then the green: %+v", p.Recipes)
	}
	hands, err := s.HandAmounts(ctx)
	if err != nil {
		t.Fatal(err)
	}
	l, err := class.LayAhead(a, p, hands, class.Size{WidthMM: 50, HeightMM: 75})
	if err != nil {
		t.Fatal(err)
	}
	chambers, err := s.Chambers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	n := class.NightAsk{Now: testNow, Starts: all[0].Starts, Person: maren, From: 9 * 60, Till: 18 * 60, Treatments: l.Treatments()}
	for i := range n.Treatments {
		n.Treatments[i].ID = int64(i + 1)
	}
	for _, c := range chambers {
		n.Chambers = append(n.Chambers, benchday.Chamber{ID: c.ID, Name: c.Name, Places: c.Places})
	}
	night, err := class.MakeNight(n)
	if err != nil || !night.Fits || night.Sheet.Finish.After(night.Ready) || night.Begin.Before(testNow) {
		t.Errorf("making ahead: fits %v, from %v, out at %v of %v, %q, %v", night.Fits, night.Begin, night.Sheet.Finish, night.Ready, night.Reasons, err)
	}
	if own, err := class.LayOwn(a, hands, class.Size{WidthMM: 50, HeightMM: 75}); err != nil || len(own.Pieces) != 17 {
		t.Errorf("%d swatches are the class's own, %v", len(own.Pieces), err)
	}
	if err := s.RemoveInvented(ctx); err != nil {
		t.Fatal(err)
	}
	if left, err := s.Classes(ctx); err != nil || len(left) > 0 {
		t.Errorf("with the example gone, %d classes are left, %v", len(left), err)
	}
}
