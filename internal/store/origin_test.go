package store

import (
	"strings"
	"testing"

	"aerugo/internal/studio"
)

func TestRecipesFromAFileComeAllOrNone(t *testing.T) {
	ctx, s := t.Context(), fresh(t)
	one := []studio.Version{{Steps: []studio.Step{{Kind: studio.Rinse}}}}
	from := func(id string) studio.RecipeOrigin {
		return studio.RecipeOrigin{OriginID: id, FileName: "a.patina.json", FileSHA256: strings.Repeat("ab", 32), Document: `{"id":"` + id + `"}`, By: "Ana"}
	}
	under := TakenIn{Name: "Under", Versions: one, Over: []*[2]int{nil}, Origin: from("aaaaaaaa")}
	over := TakenIn{Name: "Over", Versions: []studio.Version{{Steps: one[0].Steps, Over: studio.OverDry}}, Over: []*[2]int{{0, 0}}, Origin: from("bbbbbbbb")}
	ids := must[[]int64](t)(s.TakeIn(ctx, []TakenIn{under, over}))
	if got := must[studio.Recipe](t)(s.Recipe(ctx, ids[1])).Latest.OverID; got != must[studio.Recipe](t)(s.Recipe(ctx, ids[0])).Latest.ID {
		t.Errorf("it lies over version %d", got)
	}
	origins := must[map[int64]studio.RecipeOrigin](t)(s.RecipeOrigins(ctx))
	if o := origins[ids[0]]; len(origins) != 2 || o.OriginID != "aaaaaaaa" || len(o.Versions) != 1 || o.At.IsZero() {
		t.Errorf("kept: %+v", origins)
	}
	third := TakenIn{Name: "Third", Versions: one, Over: []*[2]int{nil}, Origin: from("cccccccc")}
	wantProblem(t, errorOf(s.TakeIn(ctx, []TakenIn{third, under})), studio.Conflict, "here already")
	wantProblem(t, errorOf(s.TakeIn(ctx, []TakenIn{third, {Name: "", Versions: one, Over: []*[2]int{nil}, Origin: from("dddddddd")}})), studio.Invalid, "name")
	if all := must[[]studio.Recipe](t)(s.Recipes(ctx)); len(all) != 2 {
		t.Errorf("%d recipes are kept, want 2", len(all))
	}
	if _, err := s.write.Exec(`UPDATE recipe_origin SET by = 'Eve'`); err == nil {
		t.Error("where a recipe came from was changed")
	}
	if _, err := s.write.Exec(`DELETE FROM recipe_version; DELETE FROM recipe`); err != nil {
		t.Errorf("a recipe that came from a file can't be removed: %v", err)
	}
}
