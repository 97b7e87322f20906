package evidence

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func TestLineageShowsWhatLiesOverWhat(t *testing.T) {
	names := map[int64]string{1: "Brown", 2: "Green", 3: "Wax", 4: "Alone"}
	versions := []studio.Version{
		{ID: 10, RecipeID: 1, Number: 1}, {ID: 11, RecipeID: 1, Number: 2},
		{ID: 20, RecipeID: 2, Number: 1, OverID: 10, Over: studio.OverDry}, {ID: 21, RecipeID: 2, Number: 2, OverID: 11, Over: studio.OverWet},
		{ID: 30, RecipeID: 3, Number: 1, OverID: 21, Over: studio.OverDry}, {ID: 40, RecipeID: 4, Number: 1},
	}
	g := Lineage(2, versions, names)
	all := strings.Join(g.Words(), "\n")
	want := "Brown, version 1\nBrown, version 2; after version 1\nGreen, version 1; lies over Brown, version 1, dry\nGreen, version 2; after version 1; lies over Brown, version 2, still wet\nWax, version 1; lies over Green, version 2, dry"
	if all != want || g.Lanes != 3 {
		t.Errorf("%d lanes:\n%s", g.Lanes, all)
	}
	if g := Lineage(4, versions, names); len(g.Nodes) != 1 || len(g.Edges) != 0 {
		t.Errorf("%+v", g)
	}
}

// Whatever lies over whatever, every own version is there once, and edges lead down the
// page within it.
func TestLineageHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "n")
		var vs []studio.Version
		number := map[int64]int{}
		own := 0
		for i := range n {
			v := studio.Version{ID: int64(i + 1), RecipeID: rapid.Int64Range(1, 4).Draw(t, "recipe"), OverID: rapid.Int64Range(0, int64(i)).Draw(t, "over"), Over: studio.OverDry}
			number[v.RecipeID]++
			v.Number = number[v.RecipeID]
			if v.RecipeID == 1 {
				own++
			}
			vs = append(vs, v)
		}
		g := Lineage(1, vs, nil)
		got := 0
		for i, x := range g.Nodes {
			if x.Own {
				got++
			}
			if x.Row != i || x.Lane >= g.Lanes {
				t.Fatalf("node %d: %+v of %d lanes", i, x, g.Lanes)
			}
		}
		if got != own {
			t.Fatalf("%d of %d own versions", got, own)
		}
		for _, e := range g.Edges {
			if e.From == e.To || e.From < 0 || e.To < 0 || e.From >= len(g.Nodes) || e.To >= len(g.Nodes) {
				t.Fatalf("edge %+v of %d", e, len(g.Nodes))
			}
		}
	})
}
