package plan

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// Every combination, chosen one by one, is laid out as Lay lays it out.
func TestEveryCombinationProposedIsWhatLayLays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factors := []studio.Factor{minutes(60, 120, 240), wetting()}[:rapid.IntRange(1, 2).Draw(t, "factors")]
		a := ladder(factors...)
		if len(factors) == 2 {
			a.Shape = studio.Grid
		}
		a.Replicates, a.Blanks = rapid.IntRange(1, 3).Draw(t, "replicates"), rapid.IntRange(0, 2).Draw(t, "blanks")
		a.Seed = rapid.Uint64().Draw(t, "seed")
		want, err := Lay(a, shelf, hands, copper)
		if err != nil {
			t.Fatal(err)
		}
		got, err := LayProposed(a, want.Set.Factors, combinations(want.Set.Factors), shelf, hands, copper)
		if err != nil {
			t.Fatal(err)
		}
		if g, w := fmt.Sprint(got.Pieces), fmt.Sprint(want.Pieces); g != w {
			t.Fatalf("laid out as\n%s\nnot\n%s", g, w)
		}
		if got.Set.Design != studio.Proposed || got.Set.Shape != want.Set.Shape {
			t.Fatalf("a set %q of shape %q", got.Set.Design, got.Set.Shape)
		}
	})
}

func TestProposalsMadeTwiceAreReplicates(t *testing.T) {
	f := minutes(60, 240)
	lay, err := LayProposed(ladder(f), []studio.Factor{f}, [][]int{{1}, {1}, {1}}, shelf, hands, copper)
	if err != nil {
		t.Fatal(err)
	}
	var replicates []int
	for _, p := range lay.Pieces {
		for _, x := range p.Treatments {
			replicates = append(replicates, x.Replicate)
			if x.Settings[0].Level.Label != "240 min" {
				t.Errorf("made for %s", x.Settings[0].Level.Label)
			}
		}
	}
	slices.Sort(replicates)
	for i, r := range replicates {
		if r != i+1 {
			t.Errorf("replicates %v", replicates)
			break
		}
	}
}

// What Lay refuses for its levels, its safety or its number is refused here too.
func TestProposalsAreHeldToTheRules(t *testing.T) {
	liquids := studio.Factor{Name: "liquid", Kind: studio.ByLiquid, Step: 2, Levels: []studio.Level{{SupplyID: 99}}}
	strong := studio.Factor{Name: "strength", Kind: studio.ByStrength, Step: 3, Levels: []studio.Level{{Number: 50}}}
	gone := studio.Factor{Name: "time", Kind: studio.ByMinutes, Step: 17, Levels: []studio.Level{{Number: 50}}}
	for what, tc := range map[string]struct {
		factor studio.Factor
		combos [][]int
		kind   studio.Kind
	}{
		"a supply that is not there": {liquids, [][]int{{0}}, studio.Invalid},
		"more than the bottle holds": {strong, [][]int{{0}}, studio.Invalid},
		"a step that is not there":   {gone, [][]int{{0}}, studio.Invalid},
		"no swatch at all":           {minutes(60), nil, studio.Invalid},
		"more than a set holds":      {minutes(60), slices.Repeat([][]int{{0}}, MaxSwatches+1), studio.Invalid},
	} {
		_, err := LayProposed(ladder(tc.factor), []studio.Factor{tc.factor}, tc.combos, shelf, hands, copper)
		if p := studio.ProblemIn(err); p == nil || p.Kind != tc.kind {
			t.Errorf("%s: %v", what, err)
		}
	}
	acid := fuming()
	acid.Steps[2] = studio.Step{Kind: studio.Wet, Material: "liver-of-sulfur", Strength: 2, Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}}
	a := ladder(minutes(60))
	a.Front = acid
	a.Front.Steps[2].Material = "liver-of-sulfur"
	a.Front.Steps = slices.Insert(a.Front.Steps, 3, studio.Step{Kind: studio.Wet, SupplyID: vinegar.ID, Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}})
	f := minutes(60)
	f.Step = 4
	_, err := LayProposed(a, []studio.Factor{f}, [][]int{{0}}, shelf, hands, copper)
	if p := studio.ProblemIn(err); p == nil || p.Kind != studio.Unsafe {
		t.Errorf("liver of sulfur under vinegar: %v", err)
	}
	for _, combos := range [][][]int{{{0, 0}}, {{3}}, {{-1}}} {
		if _, err := LayProposed(ladder(minutes(60)), []studio.Factor{minutes(60)}, combos, shelf, hands, copper); err == nil {
			t.Errorf("%v was laid out", combos)
		}
	}
}
