package store

import (
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// What uses a version keeps it out of the bin and is named; what nothing uses goes,
// and its number never comes up again.
func TestVersionIsHeldByWhatUsesIt(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	b := furnish(t, s, false)
	add := func(v studio.Version) studio.Version {
		if v.Steps == nil {
			v.Steps = steps(b.salt.ID, b.chamber.ID)[:1]
		}
		return must[studio.Version](t)(s.AddVersion(ctx, b.recipe.ID, v))
	}
	only := must[studio.Recipe](t)(s.AddRecipe(ctx, studio.Recipe{Name: "Wax"}, studio.Version{Steps: steps(0, 0)[:1]}))
	must[studio.Quote](t)(s.AddQuote(ctx, studio.Quote{Client: "a", SetID: b.set.ID, Currency: "EUR", Day: noon, ValidDays: 3, Customer: "A. Buyer", Lines: []studio.QuoteLine{{Text: "Lamp", Quantity: dec("1"), Each: dec("9")}}}))
	for _, x := range []struct {
		id   int64
		want []string
	}{
		{b.recipe.Latest.ID, []string{"The set How long uses it.", "Quote 1 was reckoned from it.", "It is the only version; put the whole recipe into the bin."}},
		{only.Latest.ID, []string{"It is the only version; put the whole recipe into the bin."}},
	} {
		same(t, "what holds it", must[[]string](t)(s.VersionHeld(ctx, x.id)), x.want)
		wantProblem(t, s.BinItem(ctx, "version", x.id), studio.Conflict, "Version 1 can't go into the bin. "+strings.Join(x.want, " "))
	}

	worn, taught, told, under, spare := add(studio.Version{}), add(studio.Version{}), add(studio.Version{}), add(studio.Version{}), add(studio.Version{Why: "a slip"})
	lamp := wallLamp()
	lamp.MetalID, lamp.OutsideID = b.metal.ID, worn.ID
	must[studio.Piece](t)(s.SavePiece(ctx, lamp))
	class := studio.Class{Name: "Evening", Starts: noon, Minutes: 120, Heads: 6, Who: studio.ForAdults, Where: studio.OpenRoom, Recipes: []studio.ClassRecipe{{VersionID: taught.ID, PerHead: 1, MetalID: b.metal.ID}}}
	must[studio.Class](t)(s.SaveClass(ctx, class))
	class.Name, class.Recipes, class.Parts = "Morning", nil, []studio.ClassPart{{Kind: studio.PartMake, Minutes: 25, VersionID: told.ID, To: 1, Where: studio.UnderHood}}
	must[studio.Class](t)(s.SaveClass(ctx, class))
	must[studio.Recipe](t)(s.AddRecipe(ctx, studio.Recipe{Name: "Glaze"}, studio.Version{Steps: steps(0, 0)[:1], OverID: under.ID, Over: studio.OverDry}))
	came := must[[]int64](t)(s.TakeIn(ctx, []TakenIn{{Name: "From afar", Versions: []studio.Version{{Steps: steps(0, 0)[:1]}, {Steps: steps(0, 0)[:1]}}, Over: []*[2]int{nil, nil},
		Origin: studio.RecipeOrigin{OriginID: "0123456789abcdef", FileName: "a.json", FileSHA256: strings.Repeat("ab", 32), Document: `{}`, By: "Ann"}}}))
	file := must[[]studio.Version](t)(s.Versions(ctx, came[0]))
	for id, want := range map[int64]string{
		worn.ID: "The piece Wall lamp gets it.", taught.ID: "The class Evening teaches it.", told.ID: "The class Morning teaches it.", under.ID: "The recipe Glaze lies over it.", file[0].ID: "It came in the file a.json, which stays whole.",
	} {
		wantProblem(t, s.BinItem(ctx, "version", id), studio.Conflict, want)
		if v := must[studio.Version](t)(s.Version(ctx, id)); !v.BinnedAt.IsZero() {
			t.Errorf("version %d is in the bin", id)
		}
	}

	if held := must[[]string](t)(s.VersionHeld(ctx, spare.ID)); held != nil {
		t.Errorf("it is held: %q", held)
	}
	if err := s.BinItem(ctx, "version", spare.ID); err != nil {
		t.Fatal(err)
	}
	if r := must[studio.Recipe](t)(s.Recipe(ctx, b.recipe.ID)); r.Latest.ID != under.ID {
		t.Errorf("the newest is version %d", r.Latest.Number)
	}
	if in := must[[]BinEntry](t)(s.Binned(ctx)); len(in) != 1 || in[0].Name != "Salt and fume, version 6" {
		t.Errorf("the bin holds %+v", in)
	}
	if v := add(studio.Version{}); v.Number != 7 {
		t.Errorf("beside one in the bin, the next is version %d", v.Number)
	} else if err := s.BinItem(ctx, "version", v.ID); err != nil {
		t.Fatal(err)
	}
	wantProblem(t, s.BinItem(ctx, "version", 999), studio.NotFound, "recipe version 999")

	// one that came into use while it lay in the bin stays
	lamp.Name, lamp.OutsideID = "Late lamp", spare.ID
	must[studio.Piece](t)(s.SavePiece(ctx, lamp))
	c.t = noon.AddDate(0, 0, 31)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 1 {
		t.Errorf("%d things went, want the one nothing uses", n)
	}
	must[studio.Version](t)(s.Version(ctx, spare.ID))
	if err := s.RestoreItem(ctx, "version", spare.ID); err != nil {
		t.Fatal(err)
	}
	if v := add(studio.Version{}); v.Number != 8 {
		t.Errorf("after version 7 is gone for good, the next is version %d", v.Number)
	}
	wantSound(t, s)
}
