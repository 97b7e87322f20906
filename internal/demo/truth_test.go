package demo

import (
	"math"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"

	"pgregory.net/rapid"
)

// What was planted must be there to be found: the questions the sets ask have
// these answers in truth.go.
func TestPlantedEffectsAreThere(t *testing.T) {
	chapters, err := told()
	if err != nil {
		t.Fatal(err)
	}
	// cover averages a number over the finished faces with a level.
	mean := func(c *chapter, label string, face studio.Face, of func(Truth) float64) float64 {
		sum, n := 0.0, 0.0
		for _, s := range c.shots {
			if s.moment != studio.Finished || s.face != face {
				continue
			}
			for _, set := range c.layout.Pieces[s.piece].Treatments[0].Settings {
				if set.Level.Label == label {
					sum, n = sum+of(s.look.truth()), n+1
				}
			}
		}
		if n == 0 {
			t.Fatalf("%s has no finished %s with %q", c.layout.Set.Name, face, label)
		}
		return sum / n
	}
	coverage := func(tr Truth) float64 { return tr.Coverage }
	hours, salt, liquids := chapters[0], chapters[1], chapters[2]

	last := 0.0
	for _, label := range []string{"30 min", "60 min", "120 min", "240 min", "480 min"} {
		got := mean(hours, label, studio.Front, coverage)
		if got <= last {
			t.Errorf("coverage after %s is %.2f, not more than %.2f", label, got, last)
		}
		last = got
	}
	if dry, wet := mean(salt, "dry", studio.Front, coverage), mean(salt, "wetted", studio.Front, coverage); wet < dry+0.1 {
		t.Errorf("coverage dry %.2f, wetted %.2f: want wetted at least 0.1 more", dry, wet)
	}
	if light, heavy := mean(salt, studio.Light, studio.Front, coverage), mean(salt, studio.Heavy, studio.Front, coverage); light < heavy+0.1 {
		t.Errorf("coverage light %.2f, heavy %.2f: want light at least 0.1 more, the heavy salt being undissolved", light, heavy)
	}
	b := func(tr Truth) float64 { return tr.Look.Patina.B }
	blue, water, green := mean(liquids, "sal ammoniac", studio.Front, b), mean(liquids, "distilled water", studio.Front, b), mean(liquids, "vinegar", studio.Front, b)
	if !(blue < water-5 && water < green-5) {
		t.Errorf("patina b*: sal ammoniac %.1f, water %.1f, vinegar %.1f: want each 5 bluer than the next", blue, water, green)
	}
}

func TestSoakingRisesWithTimeAndNeverExceedsIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minutes := rapid.Float64Range(0, 3000).Draw(t, "minutes")
		more := rapid.Float64Range(0, 500).Draw(t, "more")
		loading := rapid.Float64Range(0.1, 150).Draw(t, "loading")
		wet := rapid.Bool().Draw(t, "wetted")
		a, left := soaked(minutes, loading, wet)
		b, leftLater := soaked(minutes+more, loading, wet)
		if a < 0 || a > minutes || b < a || left < 0 || left > 1 || leftLater > left {
			t.Fatalf("soaked(%v, %v, %v) = %v, %v; %v later %v, %v", minutes, loading, wet, a, left, more, b, leftLater)
		}
	})
}

// Every colour of the example must be one a screen can show, or the paint would
// not have the mean it claims.
func TestEveryLookIsInsideSRGB(t *testing.T) {
	chapters, err := told()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range chapters {
		for _, s := range c.shots {
			for _, lab := range []colour.Lab{s.look.Ground, s.look.Film, s.look.Patina, s.look.Second} {
				r, g, b := colour.SRGB.FromLab(lab)
				if lo, hi := min(r, g, b), max(r, g, b); lo < 0 || hi > 1 {
					t.Errorf("swatch %d %s %s: %+v is outside sRGB (%.3f %.3f %.3f)", c.piece(s.piece), s.face, s.moment, lab, r, g, b)
				}
			}
		}
	}
}

// The mean of the painted face and the share painted over must be those of the
// look, for any look.
func TestPaintIsWhatTheLookSays(t *testing.T) {
	for seed := range uint64(6) {
		l := lookOf(conditions{alloy: "C26000", liquid: "vinegar", loading: 11, wetted: seed%2 == 0, minutes: 60 + 60*float64(seed), fumed: true}, int(seed)+1, studio.Front)
		f := paint(l, 60, 40, seed)
		var sum [3]float64
		for _, p := range f.px {
			for c := range sum {
				sum[c] += float64(p[c])
			}
		}
		n := float64(len(f.px))
		got := colour.SRGB.Lab(sum[0]/n, sum[1]/n, sum[2]/n)
		if d := colour.Difference(got, l.Mean()); d > 0.02 {
			t.Errorf("seed %d: painted mean %+v, look %+v: %.3f dE00 apart", seed, got, l.Mean(), d)
		}
		covered := 0.0
		for _, p := range f.px {
			if colour.Difference(labOf(p), l.Ground) > 10 {
				covered++
			}
		}
		if got := covered / n; math.Abs(got-l.Covered) > 0.04 {
			t.Errorf("seed %d: %.3f of the face is 10 dE00 or more from its ground, want about %.3f", seed, got, l.Covered)
		}
	}
}

func TestTruthOfKnowsOnlyWhatWasPhotographed(t *testing.T) {
	if got, ok := TruthOf(1, studio.Front, studio.Bare); !ok || got.Coverage != 0 || got.Lab.L < 60 {
		t.Errorf("TruthOf(1, front, bare) = %+v, %v; want bright bare metal", got, ok)
	}
	if _, ok := TruthOf(50, studio.Front, studio.Finished); ok {
		t.Error("TruthOf(50, front, finished) is known, but that set is running")
	}
	if _, ok := TruthOf(51, studio.Front, studio.Bare); ok {
		t.Error("TruthOf(51) is known, but there are 50 swatches")
	}
}

// The story told at another time is the same story, shifted.
func TestStoryShiftsWithTheTime(t *testing.T) {
	at := func(now time.Time) []*chapter {
		b := newBench(now)
		b.number(now)
		c, err := story(b, now)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	first := time.Date(2026, 3, 2, 10, 30, 0, 0, time.UTC)
	later := first.Add(10 * 24 * time.Hour)
	for i, a := range at(first) {
		b := at(later)[i]
		if len(a.shots) != len(b.shots) {
			t.Fatalf("%s: %d and %d photographs", a.layout.Set.Name, len(a.shots), len(b.shots))
		}
		for j := range a.shots {
			if p, q := a.shots[j], b.shots[j]; p.look != q.look || q.taken.Sub(p.taken) != later.Sub(first) {
				t.Fatalf("%s, photograph %d: %+v at %s became %+v at %s", a.layout.Set.Name, j, p.look, p.taken, q.look, q.taken)
			}
		}
	}
}
