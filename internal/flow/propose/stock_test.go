package propose

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// saltUpTo is a shelf with so much salt, as the sum of the swatches' g/m².
func saltUpTo(limit float64) Stock {
	return func(swatches [][]studio.Treatment) string {
		sum := 0.0
		for _, all := range swatches {
			for _, t := range all {
				for _, s := range t.Steps {
					if s.Kind == studio.Sprinkle {
						sum += s.Amount.Value
					}
				}
			}
		}
		if sum > limit {
			return fmt.Sprintf("Salt: %v left.", limit)
		}
		return ""
	}
}

func saltOf(m *Model, p Proposal) float64 {
	for i, x := range m.Factors {
		if x.Kind == studio.ByLoading {
			return p.Levels[i].Number
		}
	}
	return 0
}

// The shelf rules out proposals, alone and together, and nothing else: the best so far,
// what it truly is, what can be reached and how settings will look stay as they were.
func TestShelfRulesOutProposalsAndNoPrediction(t *testing.T) {
	w := newWorld(t, 4, three()...)
	m := fitted(t, workbench(), scattered(t, w, 20))
	g := Goal{Target: colour.Lab{L: 55, A: -15, B: -8}, Batch: 3, Seed: 9}
	free, err := m.Toward(g)
	if err != nil {
		t.Fatal(err)
	}
	if free.LeftOut != "" {
		t.Errorf("nobody asked, and it says %q", free.LeftOut)
	}
	most := 0.0
	for _, p := range free.Proposals {
		most = max(most, saltOf(m, p))
	}
	limit := most * 1.5 // enough for the saltiest alone, not for three of them
	g.Stock = saltUpTo(limit)
	got, err := m.Toward(g)
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for _, p := range got.Proposals {
		sum += saltOf(m, p) * float64(p.Times)
	}
	if sum > limit || len(got.Proposals) == 0 {
		t.Errorf("%d proposals take %v of %v", len(got.Proposals), sum, limit)
	}
	if got.Best.Swatch != free.Best.Swatch || got.BestDE != free.BestDE || got.Hands != free.Hands || got.Stop != free.Stop || (got.Reach == "") != (free.Reach == "") {
		t.Errorf("what is known changed:\n%+v\n%+v", got, free)
	}
	for _, p := range got.Proposals {
		l, err := m.Look(p.Levels)
		if err != nil || !reflect.DeepEqual(l, p.Look) {
			t.Errorf("%s is predicted otherwise from the shelf, %v", p.Words, err)
		}
	}
	if !strings.HasPrefix(got.LeftOut, "Left out for want of stock: ") || !strings.Contains(got.LeftOut, fmt.Sprintf("Salt: %v left.", limit)) {
		t.Errorf("it says %q", got.LeftOut)
	}

	g.Stock = saltUpTo(1e9)
	plenty, err := m.Toward(g)
	if err != nil || !strings.HasPrefix(plenty.LeftOut, "Nothing was left out") {
		t.Errorf("with plenty it says %q, %v", plenty.LeftOut, err)
	}
	plenty.LeftOut = ""
	if !reflect.DeepEqual(plenty, free) {
		t.Error("plenty on the shelf changes what is proposed")
	}
	g.Stock = saltUpTo(0.1)
	if _, err := m.Toward(g); studio.ProblemIn(err) == nil || !strings.Contains(err.Error(), "Nothing may be tried with what is on the shelf. Salt: 0.1 left.") {
		t.Errorf("an empty shelf: %v", err)
	}
}

// What a factor does is the same with an empty shelf: only the swatches that would tell
// more are left out.
func TestShelfDoesNotChangeAnAnswer(t *testing.T) {
	w := newWorld(t, 6, three()...)
	m := fitted(t, workbench(), scattered(t, w, 14))
	for _, factor := range []int{0, 1} {
		q := Question{A: factor, B: -1, Batch: 3, Seed: 2}
		free, err := m.Settle(q)
		if err != nil {
			t.Fatal(err)
		}
		if free.Settled != "" {
			t.Fatalf("question %d is settled, so this shows nothing", factor)
		}
		for _, limit := range []float64{0, 30} {
			q.Stock = saltUpTo(limit)
			got, err := m.Settle(q)
			if err != nil {
				t.Fatal(err)
			}
			a, b := got.Effects[0], free.Effects[0]
			if a.Size != b.Size || a.Low != b.Low || a.High != b.High {
				t.Errorf("with salt for %v, %s does %+v, else %+v", limit, a.Factor, a, b)
			}
			if limit == 0 && a.Afterward != "no closer without more on the shelf" {
				t.Errorf("with nothing there it promises to know it %s", a.Afterward)
			}
			sum := 0.0
			for _, p := range got.Proposals {
				sum += saltOf(m, p) * float64(p.Times)
			}
			if sum > limit || !strings.HasPrefix(got.LeftOut, "Left out for want of stock: ") {
				t.Errorf("of %v, %v is taken; it says %q", limit, sum, got.LeftOut)
			}
		}
	}
}
