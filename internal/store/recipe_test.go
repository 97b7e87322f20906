package store

import (
	"testing"

	"aerugo/internal/studio"
)

func TestVersionsAreNumberedAndStay(t *testing.T) {
	s := fresh(t)
	first := studio.Version{Steps: steps(0, 0), Why: "first"}
	r := must[studio.Recipe](t)(s.AddRecipe(ctx, studio.Recipe{Name: "Brown", Invented: true}, first))
	if r.Latest.Number != 1 || !r.Invented || !r.Latest.Made.Equal(noon) {
		t.Errorf("got %+v", r)
	}
	mixed := append(steps(0, 0)[:1], studio.Step{Kind: studio.Wet, Material: "vinegar", Also: []studio.Part{{Material: "ammonium-chloride", Strength: 4.75}, {Material: "sodium-chloride"}}})
	second := studio.Version{Steps: mixed, Source: "R27", Why: "shorter", OverID: r.Latest.ID, Over: studio.OverWet}
	v := must[studio.Version](t)(s.AddVersion(ctx, r.ID, second))
	same(t, "a mixed liquid", v.Steps, mixed)
	if v.Number != 2 || v.Source != "R27" || v.OverID != r.Latest.ID || v.Over != studio.OverWet {
		t.Errorf("got %+v", v)
	}
	if err := s.RenameRecipe(ctx, r.ID, "Walnut"); err != nil {
		t.Fatal(err)
	}
	now := must[studio.Recipe](t)(s.Recipe(ctx, r.ID))
	if now.Name != "Walnut" || now.Latest.Number != 2 {
		t.Errorf("got %+v", now)
	}
	all := must[[]studio.Version](t)(s.Versions(ctx, r.ID))
	if len(all) != 2 {
		t.Fatalf("%d versions", len(all))
	}
	same(t, "steps of version 1", all[0].Steps, first.Steps)
	same(t, "version 2", must[studio.Version](t)(s.Version(ctx, v.ID)), v)
	same(t, "recipes", must[[]studio.Recipe](t)(s.Recipes(ctx)), []studio.Recipe{now})
	if _, err := s.write.Exec(`UPDATE recipe_version SET why = 'x'`); err == nil {
		t.Error("a version could be changed")
	}

	_, err := s.AddVersion(ctx, 99, first)
	wantProblem(t, err, studio.NotFound, "no recipe 99")
	_, err = s.AddVersion(ctx, r.ID, studio.Version{})
	wantProblem(t, err, studio.Invalid, "at least one step")
	_, err = s.AddVersion(ctx, r.ID, studio.Version{Steps: steps(0, 0), OverID: 99, Over: studio.OverDry})
	wantProblem(t, err, studio.Conflict, "not in this studio")
	_, err = s.AddRecipe(ctx, studio.Recipe{Name: " "}, first)
	wantProblem(t, err, studio.Invalid, "name")
	wantProblem(t, s.RenameRecipe(ctx, 99, "x"), studio.NotFound, "no recipe 99")
	_, err = s.Version(ctx, 99)
	wantProblem(t, err, studio.NotFound, "no recipe version 99")
}
