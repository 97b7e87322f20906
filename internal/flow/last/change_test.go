package last_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"aerugo/internal/flow/last"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func measured(lab colour.Lab, covered, low, high float64) *studio.Measurement {
	return &studio.Measurement{Calibrated: true, Lab: lab, Coverage: &studio.Coverage{Value: covered, Low: low, High: high, Rule: "by colour"}}
}

// Pair 17 of Sharma, Wu and Dalal 2005, table 1: 27.1492.
func TestAChangeIsToldWithWhatPhotographsAllow(t *testing.T) {
	a, b := measured(colour.Lab{L: 50, A: 2.5, B: 0}, 0.8, 0.75, 0.85), measured(colour.Lab{L: 73, A: 25, B: -18}, 0.6, 0.55, 0.65)
	c, err := last.ChangeOf(a, b)
	if err != nil || math.Abs(c.DE-27.1492) > 1e-3 || !c.Seen || c.Grey != "1" {
		t.Fatalf("%+v, %v", c, err)
	}
	if c.Lost == nil || math.Abs(c.Lost.Value-0.25) > 1e-9 || c.Lost.Low > 0.25 || c.Lost.High < 0.25 {
		t.Errorf("lost %+v, want a quarter", c.Lost)
	}
	same, err := last.ChangeOf(a, measured(colour.Lab{L: 51, A: 3, B: 0}, 0.8, 0.75, 0.85))
	if err != nil || same.Seen || same.Words != "No change of colour can be told from these photographs (at most 8). At most 12 % of the coloured area is gone." {
		t.Errorf("%s, %v", same.Words, err)
	}
	grey := *b
	grey.Calibrated = false
	for _, bad := range [][2]*studio.Measurement{{nil, b}, {a, nil}, {a, &grey}} {
		if _, err := last.ChangeOf(bad[0], bad[1]); studio.ProblemIn(err) == nil {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func TestTheOneInTheDarkIsTakenOff(t *testing.T) {
	from := colour.Lab{L: 60, A: -20, B: -5}
	shift := func(d colour.Lab) last.Change {
		c, err := last.ChangeOf(measured(from, 1, 1, 1), measured(colour.Lab{L: from.L + d.L, A: from.A + d.A, B: from.B + d.B}, 1, 1, 1))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	b := last.BeyondDark(from, shift(colour.Lab{L: -25}), shift(colour.Lab{L: -5}))
	if want := colour.Difference(from, colour.Lab{L: 40, A: -20, B: -5}); !b.Seen || math.Abs(b.DE-want) > 1e-9 || !contains(b.Words, "darker") {
		t.Errorf("%+v, want %v", b, want)
	}
	if b := last.BeyondDark(from, shift(colour.Lab{L: -14}), shift(colour.Lab{L: -12})); b.Seen || !contains(b.Words, "changed as well") {
		t.Errorf("%+v", b)
	}
}

// Speed and stopping distance of cars (Ezekiel 1930, Methods of Correlation Analysis;
// R's data set 'cars'). R 4.2.2, predict(lm(dist ~ speed), interval = "confidence",
// level = 0.95) gives 29.60981 (24.39514 to 34.82448) at 12 and 76.79872 (68.38765 to
// 85.20978) at 24; with 48 degrees of freedom the 90 % interval is 1.677224/2.010635
// as wide.
func TestCurveIsThatOfAReferenceProgram(t *testing.T) {
	speed := []float64{4, 4, 7, 7, 8, 9, 10, 10, 10, 11, 11, 12, 12, 12, 12, 13, 13, 13, 13, 14, 14, 14, 14, 15, 15, 15, 16, 16, 17, 17, 17, 18, 18, 18, 18, 19, 19, 19, 20, 20, 20, 20, 20, 22, 23, 24, 24, 24, 24, 25}
	dist := []float64{2, 10, 4, 22, 16, 10, 18, 26, 34, 17, 28, 14, 20, 24, 28, 26, 34, 34, 46, 26, 36, 60, 80, 20, 26, 54, 32, 40, 32, 40, 50, 42, 56, 76, 84, 36, 46, 68, 32, 48, 52, 56, 64, 66, 54, 70, 92, 93, 120, 85}
	var times []last.Time
	for i := range speed {
		times = append(times, last.Time{Months: speed[i], Value: dist[i]})
	}
	c, err := last.CurveOf(times, " m")
	if err != nil {
		t.Fatal(err)
	}
	const narrower = 1.677224 / 2.010635
	for _, x := range []struct{ at, fit, low, high float64 }{{12, 29.60981, 24.39514, 34.82448}, {24, 76.79872, 68.38765, 85.20978}} {
		p := c.On(x.at)
		if math.Abs(p.Value-x.fit) > 1e-4 || math.Abs((x.fit-p.Low)-(x.fit-x.low)*narrower) > 1e-3 || math.Abs((p.High-x.fit)-(x.high-x.fit)*narrower) > 1e-3 {
			t.Errorf("at %v: %+v, want %+v", x.at, p, x)
		}
	}
	if math.Abs(c.PerYear.Value-12*3.932409) > 1e-4 || c.At[len(c.At)-1].Months != 25 {
		t.Errorf("a year %v, drawn to %v", c.PerYear, c.At[len(c.At)-1])
	}
}

func TestCurveHoldsTheTruthAndNeedsThreeTimes(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	hits := 0
	const rounds = 1000
	for range rounds {
		var times []last.Time
		for _, m := range []float64{1, 3, 6, 12} {
			times = append(times, last.Time{Months: m, Value: 1 + 0.5*m + 1.5*r.NormFloat64()})
		}
		c, err := last.CurveOf(times, " ΔE00")
		if err != nil {
			t.Fatal(err)
		}
		if p := c.On(6); p.Low <= 4 && 4 <= p.High {
			hits++
		}
	}
	t.Logf("the 90 %% interval of the curve holds the truth in %.1f %%", 100*float64(hits)/rounds)
	if hits < 870 || hits > 930 {
		t.Errorf("%d of %d", hits, rounds)
	}
	for _, few := range [][]last.Time{nil, {{1, 2}, {2, 3}}, {{1, 2}, {1, 3}, {2, 4}}} {
		if _, err := last.CurveOf(few, ""); !errors.Is(err, last.ErrShort) {
			t.Errorf("%v: %v", few, err)
		}
	}
	if _, err := last.CurveOf([]last.Time{{-1, 2}, {1, 3}, {2, 4}}, ""); studio.ProblemIn(err) == nil {
		t.Errorf("a reading before the start: %v", err)
	}
}

func layer(status run.Status, ended time.Time, kinds ...studio.StepKind) last.Layer {
	t := studio.Treatment{Faces: studio.OnFront}
	for _, k := range kinds {
		s := studio.Step{Kind: k}
		if k == studio.Wet {
			s.Material = "ammonia-water"
		}
		t.Steps = append(t.Steps, s)
	}
	return last.Layer{Treatment: t, Record: run.Record{Status: status, Ended: ended}}
}

// Trade rules: seal only when dry and unsalted, else bloom under the lacquer; a crust
// keeps working in damp air if salt is left in it (common practice, no source).
func TestSealingWaitsUntilDryAndRinsed(t *testing.T) {
	now := days(10)
	for _, x := range []struct {
		name   string
		layers []last.Layer
		bars   int
		stop   bool
		says   string
	}{
		{"bare", nil, 1, true, "Nothing"},
		{"on the back only", []last.Layer{{Treatment: studio.Treatment{Faces: studio.OnBack}, Record: run.Record{Status: run.Finished}}}, 1, true, "Nothing"},
		{"running", []last.Layer{layer(run.Running, time.Time{}, studio.Fume)}, 1, true, "running"},
		{"planned", []last.Layer{layer(run.Planned, time.Time{}, studio.Fume)}, 1, true, "not been started"},
		{"rinsed and dried", []last.Layer{layer(run.Finished, days(9.9), studio.Sprinkle, studio.Fume, studio.Rinse, studio.Dry)}, 0, false, ""},
		{"salt left", []last.Layer{layer(run.Finished, days(9.9), studio.Sprinkle, studio.Fume, studio.Dry)}, 1, false, "Salt"},
		{"wet an hour ago", []last.Layer{layer(run.Finished, now.Add(-time.Hour), studio.Sprinkle, studio.Fume, studio.Rinse)}, 1, true, "1 h ago"},
		{"wet and salted", []last.Layer{layer(run.Finished, now.Add(-time.Hour), studio.Wet, studio.Fume)}, 2, true, "drying"},
		{"stood for days", []last.Layer{layer(run.Finished, days(2), studio.Fume, studio.Rinse)}, 1, false, "last wet"},
		{"an older layer salted, the newer rinsed", []last.Layer{layer(run.Finished, days(2), studio.Sprinkle, studio.Fume), layer(run.Finished, days(8), studio.Rinse, studio.Dry)}, 0, false, ""},
	} {
		bars := last.Gate(studio.Front, x.layers, now)
		if len(bars) != x.bars || last.Barred(bars) != x.stop || len(bars) > 0 && !contains(bars[0].What, x.says) {
			t.Errorf("%s: %+v", x.name, bars)
		}
		for _, b := range bars {
			if b.Else == "" || b.Do == "" {
				t.Errorf("%s: %q does not say what goes wrong and what to do", x.name, b.What)
			}
		}
	}
	drying := layer(run.Finished, days(9.9), studio.Rinse, studio.Dry)
	drying.Dry = now.Add(2 * time.Hour)
	if bars := last.Gate(studio.Front, []last.Layer{drying}, now); !last.Barred(bars) || !contains(bars[0].What, "2 h") {
		t.Errorf("still drying: %+v", bars)
	}
	drying.Dry, drying.Never = time.Time{}, true
	if bars := last.Gate(studio.Front, []last.Layer{drying}, now); !last.Barred(bars) {
		t.Errorf("never dries: %+v", bars)
	}
}

func TestHalfASealRoundTrips(t *testing.T) {
	for _, sealer := range studio.Sealers[1:] {
		for _, side := range last.Sides {
			steps, err := last.HalfSteps(sealer, side)
			if err != nil {
				t.Fatal(err)
			}
			if err := steps[0].Check(1); err != nil {
				t.Fatal(err)
			}
			if s, at, ok := last.HalfSealed(studio.Treatment{Steps: steps}); !ok || s != sealer || at != side {
				t.Errorf("%s on the %s came back as %s on the %s", sealer, side, s, at)
			}
		}
	}
	for _, bad := range [][2]string{{"none", "right"}, {"honey", "right"}, {"wax", "rim"}} {
		if _, err := last.HalfSteps(bad[0], bad[1]); studio.ProblemIn(err) == nil {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if _, _, ok := last.HalfSealed(studio.Treatment{Steps: []studio.Step{{Kind: studio.Seal, Tool: "wax"}}}); ok {
		t.Error("a whole seal is taken for half a one")
	}
}
