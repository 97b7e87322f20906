package batch

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

// Bounds reckoned with R 4's phyper: the largest number bad of which so few would be
// drawn with a chance above 1 less the confidence.
func TestPromiseMeetsTheHypergeometricBound(t *testing.T) {
	for _, c := range []struct {
		n, seen, bad int
		confidence   float64
		want         int
	}{{30, 3, 0, .95, 18}, {30, 6, 0, .95, 10}, {30, 10, 0, .95, 6}, {30, 10, 1, .95, 10}, {100, 20, 2, .9, 23}, {30, 15, 0, .95, 3}, {8, 3, 0, .95, 4}, {30, 30, 2, .95, 2}, {30, 0, 0, .95, 30}} {
		p, err := PromiseOf(c.n, c.seen, c.bad, c.confidence)
		if err != nil || p.AtMost != c.want {
			t.Errorf("%+v: at most %d bad, %v", c, p.AtMost, err)
		}
	}
	p, _ := PromiseOf(30, 3, 0, 0.95)
	if !strings.Contains(p.Words, "at most 18 of the 30") || !strings.Contains(p.Words, "missed 90 times in 100") {
		t.Error(p.Words)
	}
	for _, bad := range [][3]int{{0, 0, 0}, {5, 6, 0}, {5, 2, 3}, {5, -1, 0}} {
		if _, err := PromiseOf(bad[0], bad[1], bad[2], 0.9); err == nil {
			t.Errorf("%v was promised on", bad)
		}
	}
}

func TestPickTakesFirstMiddleLast(t *testing.T) {
	for _, c := range []struct {
		n     int
		which Which
		k     int
		want  []int
	}{{1, FirstMiddleLast, 0, []int{0}}, {2, FirstMiddleLast, 0, []int{0, 1}}, {30, FirstMiddleLast, 0, []int{0, 14, 29}}, {7, EveryKth, 3, []int{0, 3, 6}}, {3, All, 0, []int{0, 1, 2}}} {
		if got, err := Pick(c.n, c.which, c.k); err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, %v", c, got, err)
		}
	}
	for _, c := range []struct {
		n     int
		which Which
		k     int
	}{{0, All, 0}, {5, EveryKth, 0}, {5, EveryKth, 6}, {5, "some", 0}} {
		if _, err := Pick(c.n, c.which, c.k); err == nil {
			t.Errorf("%+v was picked", c)
		}
	}
}

// Counts reckoned with R 4 from choose and beta; with very many pieces behind it the
// answer is that of pbinom with a known share of 0.9.
func TestSparesSufficeNineTimesInTen(t *testing.T) {
	for _, c := range []struct{ want, good, made, pieces int }{{30, 27, 30, 38}, {30, 58, 60, 33}, {6, 5, 6, 11}, {30, 900, 1000, 36}} {
		if got, assumed, err := Spares(c.want, Yield{Good: c.good, Made: c.made}); err != nil || assumed || got != c.pieces {
			t.Errorf("%+v: %d, %v, %v", c, got, assumed, err)
		}
	}
	if got := atLeast(30, 33, 27.5, 3.5); math.Abs(got-0.528874650234) > 1e-9 {
		t.Errorf("the chance of 30 good in 33 is %.12f; R gives 0.528874650234", got)
	}
	if got, assumed, err := Spares(30, Yield{}); got != 33 || !assumed || err != nil {
		t.Errorf("without a past: %d, %v, %v", got, assumed, err)
	}
	if _, _, err := Spares(30, Yield{Good: 0, Made: 50}); err == nil {
		t.Error("spares for a recipe that never came out")
	}
	if _, _, err := Spares(0, Yield{}); err == nil {
		t.Error("spares for no pieces")
	}
}

// Wilson 1927's interval for 9 of 10 at 95 %: 0.596 to 0.982 (e-Handbook 7.2.4.1).
func TestYieldCountsTheNewestVerdict(t *testing.T) {
	var all []studio.Verdict
	for n := int64(1); n <= 10; n++ {
		all = append(all, studio.Verdict{Swatch: n, Outcome: studio.Accepted})
	}
	all = append(all, studio.Verdict{Swatch: 1, Outcome: studio.Reworked}, studio.Verdict{Swatch: 1, Outcome: studio.Rejected}, studio.Verdict{Swatch: 11, Outcome: studio.Reworked})
	y := YieldOf([]int64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, all)
	if y.Good != 9 || y.Made != 10 || y.Open != 2 || math.Abs(y.Low-0.596) > 5e-4 || math.Abs(y.High-0.982) > 5e-4 || !strings.Contains(y.Words, "9 of 10 good") {
		t.Errorf("%+v", y)
	}
	if y := (Yield{}).Plus(Yield{}); y.High != 1 || !strings.Contains(y.Words, "No piece") {
		t.Errorf("%+v", y)
	}
	if two := y.Plus(y); two.Good != 18 || two.Made != 20 || two.Low <= y.Low {
		t.Errorf("%+v", two)
	}
}

func TestFillingsHoldEveryPieceOnce(t *testing.T) {
	start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 100).Draw(t, "n")
		var places []Place
		holds := map[int64]int{}
		for i := range rapid.IntRange(1, 3).Draw(t, "chambers") {
			p := Place{int64(i + 1), "c", rapid.IntRange(1, 9).Draw(t, "holds")}
			places = append(places, p)
			holds[p.Chamber] = p.Holds
		}
		got, err := Fillings(n, places, start, 4*time.Hour, 15*time.Minute)
		if err != nil {
			t.Fatal(err)
		}
		next := 1
		free := map[int64]time.Time{}
		for _, f := range got {
			if f.First != next || f.Last < f.First || f.Last-f.First+1 > holds[f.Chamber] || f.From.Before(free[f.Chamber]) {
				t.Fatalf("%+v in %+v", f, got)
			}
			next, free[f.Chamber] = f.Last+1, f.Till.Add(15*time.Minute)
		}
		if next != n+1 {
			t.Fatalf("%d pieces of %d are filled in", next-1, n)
		}
	})
	got, _ := Fillings(10, []Place{{1, "Box", 4}}, start, 4*time.Hour, 30*time.Minute)
	if len(got) != 3 || got[2].First != 9 || !got[2].From.Equal(start.Add(9*time.Hour)) {
		t.Errorf("%+v", got)
	}
	for _, bad := range [][]Place{nil, {{1, "Box", 0}}} {
		if _, err := Fillings(3, bad, start, 0, 0); err == nil {
			t.Errorf("%v were filled", bad)
		}
	}
	if _, err := Fillings(0, []Place{{1, "Box", 4}}, start, 0, 0); err == nil {
		t.Error("nothing was filled in")
	}
}
