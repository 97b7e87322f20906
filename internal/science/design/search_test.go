package design

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"aerugo/internal/science/stat"
	"pgregory.net/rapid"
)

// all returns the best score over every way to make the search's runs that are
// not fixed, each run any allowed combination and held factors the same within
// their groups. It is slow, and shares only the scoring with the search.
func exhaust(t *testing.T, s Search) float64 {
	t.Helper()
	x, err := newExchange(s, chance(1))
	if err != nil {
		t.Fatal(err)
	}
	all := slices.DeleteFunc(grid(s.Factors), x.bad)
	// Runs of the same groups can change places: take them in rising order.
	alike := func(i, j int) bool {
		for _, g := range s.Groups {
			if g.Of[i] != g.Of[j] {
				return false
			}
		}
		return true
	}
	best := math.Inf(-1)
	x.runs = slices.Clone(s.Fixed)
	var try func(i, from int)
	try = func(i, from int) {
		if i == s.Runs {
			if score, ok := x.exact(); ok {
				best = max(best, score)
			}
			return
		}
		if i == len(s.Fixed) || !alike(i, i-1) {
			from = 0
		}
		for k := from; k < len(all); k++ {
			fits := true
			for f, g := range x.held {
				for j := range i {
					if g >= 0 && s.Groups[g].Of[i] == s.Groups[g].Of[j] && x.runs[j][f] != all[k][f] {
						fits = false
					}
				}
			}
			if fits {
				x.runs = append(x.runs[:i], all[k])
				try(i+1, k)
			}
		}
	}
	try(len(s.Fixed), 0)
	return best
}

// In small cases with forbidden combinations, runs already made, blocks and
// settings held in a group, the search finds what trying every plan finds.
func TestOptimalEqualsExhaustiveSearch(t *testing.T) {
	ab := []Factor{{Name: "time", Low: 0, High: 8, Settings: []float64{0, 4, 8}}, {Name: "liquid", Levels: []string{"a", "b", "c"}}}
	held := []Factor{{Name: "hours", Low: 1, High: 9, Settings: []float64{1, 5, 9}, HeldIn: "chamber run"}, {Name: "salt", Low: 0, High: 1, Settings: []float64{0, 0.5, 1}}}
	heldLiquid := []Factor{{Name: "liquid", Levels: []string{"a", "b"}, HeldIn: "swatch"}, {Name: "wet", Levels: []string{"dry", "sprayed"}}, {Name: "salt", Low: 0, High: 1, Settings: []float64{0, 1}}}
	curve := []stat.Term{{"hours"}, {"salt"}, {"hours", "salt"}, {"salt", "salt"}}
	for name, s := range map[string]Search{
		"plain":     {Factors: ab, Model: Quadratic(ab)[:2], Runs: 6},
		"forbidden": {Factors: ab, Model: []stat.Term{{"time"}, {"liquid"}, {"time", "time"}}, Runs: 6, Forbidden: func(r []float64) bool { return r[1] == 2 && r[0] > -1 || r[1] == 0 && r[0] == 1 }},
		"fixed":     {Factors: ab, Model: Main(ab), Runs: 7, Fixed: [][]float64{{-1, 0}, {-1, 0}, {-1, 1}}},
		"blocks":    {Factors: ab, Model: Main(ab), Runs: 6, Groups: []Group{Evenly("day", 6, 2)}},
		"chance":    {Factors: ab, Model: Main(ab), Runs: 6, Groups: []Group{{Name: "day", Of: []int{0, 0, 1, 1, 2, 2}, Ratio: 2}}},
		"split":     {Factors: held, Model: curve, Runs: 6, Groups: []Group{{Name: "chamber run", Of: []int{0, 0, 1, 1, 2, 2}, Ratio: 1}}},
		"two faces": {Factors: heldLiquid, Model: Main(heldLiquid), Runs: 6, Groups: []Group{{Name: "swatch", Of: []int{0, 0, 1, 1, 2, 2}, Ratio: 0.5}}},
		"all of it": {Factors: held, Model: []stat.Term{{"hours"}, {"salt"}}, Runs: 7, Fixed: [][]float64{{-1, 0}, {-1, 1}, {1, 1}},
			Groups:    []Group{{Name: "chamber run", Of: []int{0, 0, 1, 1, 2, 2, 2}, Ratio: 3}, {Name: "day", Of: []int{0, 0, 0, 0, 1, 1, 1}, Ratio: 1}},
			Forbidden: func(r []float64) bool { return r[0] == 1 && r[1] == -1 }},
	} {
		for _, c := range []Criterion{D, I, A} {
			s.Criterion, s.Starts = c, 100
			got, err := Optimal(s, chance(2))
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			want := exhaust(t, s)
			t.Logf("%-10s criterion %d: found %.6f in %d of %d starts, the best of all %.6f", name, c, got.Score, got.Hits, got.Starts, want)
			if math.Abs(got.Score-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("%s, criterion %d: %.9f, the best of all plans has %.9f", name, c, got.Score, want)
			}
		}
	}
}

// Whatever is asked, a plan that comes back keeps what was fixed, forbidden and
// held, and the same seed gives it again.
func TestOptimalKeepsItsWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(1, 3).Draw(t, "factors")
		var fs []Factor
		for i := range k {
			f := Factor{Name: letter(i), Low: 0, High: 10}
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				f.Levels = []string{"p", "q", "r"}[:rapid.IntRange(2, 3).Draw(t, "levels")]
			case 1:
				f.Settings = []float64{0, 2, 10}
			}
			fs = append(fs, f)
		}
		n := rapid.IntRange(4, 12).Draw(t, "runs")
		s := Search{Factors: fs, Model: Main(fs), Runs: n, Starts: 3, Criterion: Criterion(rapid.IntRange(0, 2).Draw(t, "criterion"))}
		s.Groups = []Group{Evenly("day", n, rapid.IntRange(1, 4).Draw(t, "days"))}
		if rapid.Bool().Draw(t, "chance") {
			s.Groups[0].Ratio = 1
			if rapid.Bool().Draw(t, "held") {
				s.Factors[0].HeldIn = "day"
			}
		}
		never := rapid.Float64Range(-1, 2).Draw(t, "never")
		s.Forbidden = func(r []float64) bool { return r[0] > never && r[len(r)-1] == 1 }
		if rapid.Bool().Draw(t, "fixed") {
			run := make([]float64, k)
			s.Fixed = [][]float64{run}
		}
		seed := rapid.Uint64().Draw(t, "seed")
		got, err := Optimal(s, rand.New(rand.NewPCG(seed, 0)))
		if err != nil {
			if !errors.Is(err, ErrAsk) {
				t.Fatalf("refused without a sentence: %v", err)
			}
			return
		}
		again, _ := Optimal(s, rand.New(rand.NewPCG(seed, 0)))
		if !slices.EqualFunc(got.Runs, again.Runs, slices.Equal) {
			t.Fatal("the same seed gave another plan")
		}
		for i, run := range got.Runs {
			if i < len(s.Fixed) {
				if !slices.Equal(run, s.Fixed[i]) {
					t.Fatalf("fixed run %d became %v", i, run)
				}
				continue
			}
			if s.Forbidden(run) {
				t.Fatalf("run %v is forbidden", run)
			}
			for j := range i {
				if fs[0].HeldIn != "" && s.Groups[0].Of[i] == s.Groups[0].Of[j] && run[0] != got.Runs[j][0] {
					t.Fatalf("held, but %v and %v", run, got.Runs[j])
				}
			}
		}
		if _, err := got.Efficiency(s.Forbidden); err != nil {
			t.Fatalf("its efficiency: %v", err)
		}
	})
}

// Rank-two updates stay true to a fresh inverse.
func TestExchangeUpdatesAreTrue(t *testing.T) {
	s := Search{Factors: benchFactors(), Model: benchModel(true), Runs: 18, Criterion: I, Groups: []Group{{Name: "day", Of: Evenly("", 18, 3).Of, Ratio: 1.5}}}
	x, err := newExchange(s, chance(4))
	if err != nil || !x.begin() {
		t.Fatal(err)
	}
	x.climb()
	for i := range 6 {
		x.put(i, x.draw())
	}
	got, back := slices.Clone(x.inv), slices.Clone(x.back)
	if !x.fresh() {
		t.Fatal("no inverse")
	}
	for i := range got {
		if math.Abs(got[i]-x.inv[i]) > 1e-6*(1+math.Abs(x.inv[i])) || math.Abs(back[i]-x.back[i]) > 1e-6*(1+math.Abs(x.back[i])) {
			t.Fatalf("entry %d: %v and %v, fresh %v and %v", i, got[i], back[i], x.inv[i], x.back[i])
		}
	}
}

func TestOptimalRefusesInWords(t *testing.T) {
	ab := []Factor{{Name: "time", Low: 0, High: 8}, {Name: "liquid", Levels: []string{"a", "b", "c"}}}
	hard := slices.Clone(ab)
	hard[0].HeldIn = "day"
	for name, s := range map[string]Search{
		"too few runs":  {Factors: ab, Model: TwoFactor(ab), Runs: 5},
		"no runs":       {Factors: ab, Model: Main(ab)},
		"all forbidden": {Factors: ab, Model: Main(ab), Runs: 6, Forbidden: func([]float64) bool { return true }},
		"one liquid":    {Factors: ab, Model: Main(ab), Runs: 6, Forbidden: func(r []float64) bool { return r[1] > 0 }},
		"unknown":       {Factors: ab, Model: []stat.Term{{"metal"}}, Runs: 6},
		"square":        {Factors: ab, Model: []stat.Term{{"liquid", "liquid"}}, Runs: 6},
		"twice":         {Factors: ab, Model: []stat.Term{{"liquid"}, {"liquid"}}, Runs: 6},
		"no blocks":     {Factors: hard, Model: Main(hard), Runs: 6},
		"shifted":       {Factors: hard, Model: Main(hard), Runs: 6, Groups: []Group{Evenly("day", 6, 3)}},
		"held apart":    {Factors: hard, Model: Main(hard), Runs: 6, Fixed: [][]float64{{0, 0}, {1, 0}}, Groups: []Group{{Name: "day", Of: Evenly("", 6, 3).Of, Ratio: 1}}},
		"short blocks":  {Factors: ab, Model: Main(ab), Runs: 6, Groups: []Group{Evenly("day", 5, 2)}},
		"wrong fixed":   {Factors: ab, Model: Main(ab), Runs: 6, Fixed: [][]float64{{0, 3}}},
		"no range":      {Factors: []Factor{{Name: "x", Low: 2, High: 2}}, Runs: 6},
		"no factor":     {Runs: 6},
	} {
		if _, err := Optimal(s, chance(1)); !errors.Is(err, ErrAsk) {
			t.Errorf("%s: %v", name, err)
		} else {
			t.Logf("%s: %v", name, err)
		}
	}
}
