package plan

import (
	"testing"

	"aerugo/internal/studio"

	"pgregory.net/rapid"
)

// Every set is balanced: each combination Replicates times, so each level
// equally often; the order is a permutation; blanks get no treatment.
func TestSetsAreBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var times []float64
		for i := 0; i < rapid.IntRange(2, 5).Draw(t, "levels"); i++ {
			times = append(times, float64(30*(i+1)))
		}
		fs := append([]studio.Factor{minutes(times...)}, []studio.Factor{wetting(), brushing()}[:rapid.IntRange(0, 2).Draw(t, "more factors")]...)
		a := ladder(fs...)
		a.Replicates = rapid.IntRange(1, 4).Draw(t, "replicates")
		a.Blanks = rapid.IntRange(0, 6).Draw(t, "blanks")
		a.Seed = rapid.Uint64().Draw(t, "seed")
		l, err := Lay(a, shelf, hands, copper)
		if err != nil {
			t.Fatalf("Lay: %v", err)
		}
		combos := 1
		for _, f := range fs {
			combos *= len(f.Levels)
		}
		if len(l.Pieces) != combos*a.Replicates+a.Blanks {
			t.Fatalf("%d pieces, want %d x %d + %d", len(l.Pieces), combos, a.Replicates, a.Blanks)
		}
		combo, level, blanks := map[string]map[int]bool{}, map[string]int{}, 0
		for i, p := range l.Pieces {
			if p.Swatch.Blank {
				blanks++
				continue
			}
			tr := p.Treatments[0]
			if tr.Order != i+1 || len(tr.Settings) != len(fs) {
				t.Fatalf("piece %d: order %d, %d settings", i, tr.Order, len(tr.Settings))
			}
			name := settingsOf(p)
			if combo[name] == nil {
				combo[name] = map[int]bool{}
			}
			combo[name][tr.Replicate] = true
			for _, s := range tr.Settings {
				level[s.Factor+s.Level.Label]++
			}
		}
		if blanks != a.Blanks || len(combo) != combos {
			t.Fatalf("%d blanks, %d combinations", blanks, len(combo))
		}
		for name, reps := range combo {
			for r := 1; r <= a.Replicates; r++ {
				if !reps[r] {
					t.Fatalf("%s lacks replicate %d", name, r)
				}
			}
		}
		for _, f := range l.Set.Factors {
			for _, lv := range f.Levels {
				if got, want := level[f.Name+lv.Label], combos*a.Replicates/len(f.Levels); got != want {
					t.Fatalf("%s %s %d times, want %d", f.Name, lv.Label, got, want)
				}
			}
		}
	})
}
