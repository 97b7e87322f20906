package propose

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Nine in ten new swatches, on days of their own, fall within the range shown for each
// of L*, a* and b*; invented benches whose chamber is not the one reckoned with.
func TestRangesHoldNewSwatches(t *testing.T) {
	inside, all, nearer := 0, 0, 0
	for seed := range uint64(16) {
		w := newWorld(t, seed, three()...)
		m := fitted(t, workbench(), scattered(t, w, 10+int(seed%3)*8))
		for range 40 {
			levels := anyLevels(w.r)
			l, err := m.Look(levels)
			if err != nil {
				t.Fatal(err)
			}
			w.newDay()
			got := w.measured(t, levels)
			for _, c := range [][3]float64{{l.Low.L, got.L, l.High.L}, {l.Low.A, got.A, l.High.A}, {l.Low.B, got.B, l.High.B}} {
				all++
				if c[0] <= c[1] && c[1] <= c[2] {
					inside++
				}
			}
			if colour.Difference(got, l.Mean) <= l.Spread {
				nearer++
			}
		}
	}
	share, half := float64(inside)/float64(all), 3*float64(nearer)/float64(all)
	t.Logf("%.1f %% of %d inside; %.0f %% within the spread named", 100*share, all, 100*half)
	if share < 0.85 || share > 0.95 {
		t.Errorf("%.1f %% of new swatches lie inside ranges meant for 90 %%", 100*share)
	}
	if half < 0.4 || half > 0.7 {
		t.Errorf("%.0f %% lie within the distance that half should", 100*half)
	}
}

// Looks drawn beside the likely one lie inside what is likely, and not all in one place.
func TestDrawnLooksSpanTheRange(t *testing.T) {
	w := newWorld(t, 3, three()...)
	m := fitted(t, workbench(), scattered(t, w, 20))
	for range 20 {
		l, err := m.Look(anyLevels(w.r))
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Could) != 4 {
			t.Fatalf("%d looks drawn", len(l.Could))
		}
		for i := 0; i < 4; i += 2 {
			if d, e := colour.Difference(l.Could[i], l.Could[i+1]), colour.Difference(l.Could[i], l.Mean); d < e {
				t.Errorf("ends %v and %v do not lie on both sides of %v", l.Could[i], l.Could[i+1], l.Mean)
			}
		}
		for _, c := range l.Could {
			for _, v := range [][3]float64{{l.Low.L, c.L, l.High.L}, {l.Low.A, c.A, l.High.A}, {l.Low.B, c.B, l.High.B}} {
				wide := 0.15 * (v[2] - v[0])
				if v[1] < v[0]-wide || v[1] > v[2]+wide {
					t.Errorf("%v lies outside %v to %v", c, l.Low, l.High)
				}
			}
		}
		if len(l.Near) != 3 || l.Near[0].Swatch == l.Near[1].Swatch {
			t.Errorf("nearest swatches: %v", l.Near)
		}
	}
}

func TestGoingPastWhatWasTriedIsSaid(t *testing.T) {
	w := newWorld(t, 1, three()...)
	var combos [][]studio.Level
	for _, m := range []float64{60, 120, 240} {
		for _, g := range []float64{8, 16} {
			combos = append(combos, []studio.Level{minutes(m), grams(g), wettedOrNot[1]}, []studio.Level{minutes(m), grams(g), wettedOrNot[0]})
		}
	}
	m := fitted(t, workbench(), w.source(t, 1, 4, three(), combos))
	for _, tc := range []struct {
		levels []studio.Level
		want   string
	}{
		{[]studio.Level{minutes(480), grams(8), wettedOrNot[0]}, "No swatch was fumed longer than 4 h."},
		{[]studio.Level{minutes(30), grams(8), wettedOrNot[0]}, "No swatch was fumed less than 1 h."},
		{[]studio.Level{minutes(60), grams(40), wettedOrNot[0]}, "No swatch was given more salt than 16 g/m²."},
		{[]studio.Level{minutes(120), grams(12), wettedOrNot[0]}, ""},
	} {
		l, err := m.Look(tc.levels)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(l.Beyond, " "); got != tc.want {
			t.Errorf("%s: %q, want %q", l.Words, got, tc.want)
		}
	}
	far, err := m.Look([]studio.Level{minutes(3000), grams(300), wettedOrNot[0]})
	if err != nil {
		t.Fatal(err)
	}
	near, _ := m.Look(combos[0])
	if far.Spread < 2*near.Spread {
		t.Errorf("far out the spread is %.1f, at a swatch that was made %.1f", far.Spread, near.Spread)
	}
	for _, levels := range [][]studio.Level{{minutes(-1), grams(8), wettedOrNot[0]}, {minutes(1e6), grams(8), wettedOrNot[0]}, {minutes(math.NaN()), grams(8), wettedOrNot[0]}} {
		if _, err := m.Look(levels); studio.ProblemIn(err) == nil {
			t.Errorf("%v: %v, want a Problem", levels[0].Number, err)
		}
	}
}

// A ladder and a grid of one recipe are one family: what the ladder did not vary was
// as the recipe says.
func TestSetsOfOneRecipeAreJoined(t *testing.T) {
	w := newWorld(t, 2, three()...)
	full := w.source(t, 1, 4, three(), [][]studio.Level{
		{minutes(60), grams(8), wettedOrNot[1]}, {minutes(240), grams(8), wettedOrNot[1]}, {minutes(60), grams(24), wettedOrNot[0]}, {minutes(240), grams(24), wettedOrNot[0]}})
	ladder := Source{Set: studio.Set{ID: 2, Name: "ladder", FrontID: 20, MetalID: copper.ID, Factors: []studio.Factor{{Name: "hours in it", Kind: studio.ByMinutes, Step: 2}}}}
	for i, m := range []float64{30, 120, 480} {
		l := minutes(m)
		ladder.Rows = append(ladder.Rows, learn.Row{Chamber: math.NaN(), Point: learn.Point{Swatch: int64(50 + i), Face: studio.Front, Calibrated: i != 1,
			Lab: colour.Lab{L: 50}, Settings: []studio.Setting{{Factor: "hours in it", Kind: studio.ByMinutes, Level: l}}}})
	}
	if !Alike(full.Set, ladder.Set) {
		t.Error("two sets of one recipe and metal are no family")
	}
	f, err := Gather(workbench(), studio.Front, []Source{full, ladder})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Tried) != 6 || len(f.Factors) != 3 {
		t.Fatalf("%d swatches, %d factors", len(f.Tried), len(f.Factors))
	}
	if got := f.InWords(f.Tried[4].Levels); got != "fume 30 min, 12 g/m² of salt, wetted first" {
		t.Errorf("the ladder's swatch is %q", got)
	}
	if !slices.ContainsFunc(f.Notes, func(n string) bool {
		return strings.HasPrefix(n, "1 swatch is left out: photographed without a grey card")
	}) {
		t.Errorf("what is left out is not said: %q", f.Notes)
	}
	for _, sources := range [][]Source{nil, {ladder}} {
		if _, err := Gather(workbench(), studio.Front, sources); studio.ProblemIn(err) == nil {
			t.Errorf("%d sources: %v, want a Problem", len(sources), err)
		}
	}
	if _, err := Gather(workbench(), studio.Back, []Source{full}); studio.ProblemIn(err) == nil {
		t.Errorf("no back was measured, and it is predicted: %v", err)
	}
	liquid := full
	liquid.Set.ID, liquid.Set.Name = 3, "liquids"
	liquid.Set.Factors = []studio.Factor{byWhat}
	f, err = Gather(workbench(), studio.Front, []Source{full, liquid})
	if err != nil || len(f.Factors) != 3 || !strings.Contains(strings.Join(f.Notes, " "), "liquids is left out") {
		t.Errorf("a liquid is varied on a step that is left out elsewhere: %v, %q", err, f.Notes)
	}
}

// How far repeats lie apart is taken from repeats where there are enough, and marked
// as assumed where not.
func TestRepeatsAreReadOrAssumed(t *testing.T) {
	w := newWorld(t, 4, three()...)
	w.hand, w.day = 3, 0
	var combos [][]studio.Level
	for _, m := range []float64{60, 120, 240, 480} {
		for range 4 {
			combos = append(combos, []studio.Level{minutes(m), grams(8), wettedOrNot[1]})
		}
	}
	m := fitted(t, workbench(), w.source(t, 1, 16, three(), combos))
	if m.RepeatAssumed || m.Repeat < 2 || m.Repeat > 4 {
		t.Errorf("repeats of a hand with 3 differ by %.1f, assumed %v", m.Repeat, m.RepeatAssumed)
	}
	m = fitted(t, workbench(), w.source(t, 1, 16, three(), combos[2:6]))
	if !m.RepeatAssumed || m.Repeat != assumedRepeat {
		t.Errorf("from two repeats: %.1f, assumed %v", m.Repeat, m.RepeatAssumed)
	}
}

// With the chamber's reckoning looks are predicted closer than by settings alone: as
// where the salt has dissolved in one swatch and not in the next.
func TestPhysicsHelps(t *testing.T) {
	with, without := 0.0, 0.0
	for seed := range uint64(6) {
		w := newWorld(t, 40+seed, three()...)
		s := scattered(t, w, 20)
		m := fitted(t, workbench(), s)
		blind := workbench()
		blind.Chambers = nil
		n := fitted(t, blind, s)
		if len(m.Physics) == 0 || len(n.Physics) != 0 {
			t.Fatalf("used: %q and %q", m.Physics, n.Physics)
		}
		r := rand.New(rand.NewPCG(seed, 1))
		for range 30 {
			levels := anyLevels(r)
			truth := w.truth(t, levels)
			a, err := m.Look(levels)
			if err != nil {
				t.Fatal(err)
			}
			b, err := n.Look(levels)
			if err != nil {
				t.Fatal(err)
			}
			with, without = with+colour.Difference(a.Mean, truth), without+colour.Difference(b.Mean, truth)
		}
	}
	t.Logf("off by %.2f with, %.2f without", with/180, without/180)
	if with > without {
		t.Errorf("with the chamber's reckoning looks are off by %.2f, without by %.2f", with/180, without/180)
	}
}

// Levels are read back from the word they are written in, and nothing else is.
func TestSettingsAreReadBack(t *testing.T) {
	w := newWorld(t, 6, three()...)
	f, err := Gather(workbench(), studio.Front, []Source{scattered(t, w, 12)})
	if err != nil {
		t.Fatal(err)
	}
	for range 50 {
		levels := anyLevels(w.r)
		got, err := f.Read(f.Code(levels))
		if err != nil || f.Code(got) != f.Code(levels) || f.InWords(got) != f.InWords(levels) {
			t.Fatalf("%s comes back as %v, %v", f.Code(levels), got, err)
		}
		if why, err := f.Refused(levels); why != "" || err != nil {
			t.Fatalf("%s is refused: %s, %v", f.Code(levels), why, err)
		}
	}
	for _, code := range []string{"", "1", "1,2,3,4", "x,2,1", "60,10,7", "NaN,10,1", "-5,10,1", "1e99,10,1"} {
		if _, err := f.Read(code); studio.ProblemIn(err) == nil {
			t.Errorf("%q: %v, want a Problem", code, err)
		}
	}
}

// FuzzRead: whatever the word, there are levels that can be predicted or a Problem.
func FuzzRead(f *testing.F) {
	w := newWorld(f, 6, three()...)
	m := fitted(f, workbench(), scattered(f, w, 8))
	for _, code := range []string{"240,12,1", "", "1e308,1,0", "0,0,0", "0x1p-2,3,1"} {
		f.Add(code)
	}
	f.Fuzz(func(t *testing.T, code string) {
		levels, err := m.Read(code)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if l, err := m.Look(levels); err != nil || math.IsNaN(l.Mean.L) {
			t.Fatalf("%q: %v, %v", code, l.Mean, err)
		}
	})
}
