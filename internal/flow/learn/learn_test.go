package learn

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// seen is one calibrated front at a level of a minutes ladder.
func seen(swatch int64, minutes float64, l colour.Lab) Point {
	return Point{X: minutes, Level: number(minutes) + " min", Swatch: swatch, Face: studio.Front, Replicate: 1, Lab: l, Calibrated: true}
}

// clear is a ladder of two levels in threes that differ beyond doubt.
func clear() []Point {
	var ps []Point
	for i, d := range []float64{-1, 0, 1} {
		ps = append(ps, seen(int64(i+1), 30, colour.Lab{L: 60 + d, A: 18 - d, B: 22 + d/2}))
		ps = append(ps, seen(int64(i+4), 480, colour.Lab{L: 48 - d, A: -14 + d/2, B: -12 + d}))
	}
	return ps
}

func notes(f Finding) string { return strings.Join(f.Notes, "\n") }

// levelsOf makes one cell of each list, its numbers as L*.
func levelsOf(lists ...[]float64) []cell {
	var cells []cell
	for i, xs := range lists {
		c := cell{x: float64(i)}
		for _, x := range xs {
			c.units = append(c.units, unit{values: [channels]float64{x, 0, 0}})
		}
		cells = append(cells, c)
	}
	return cells
}

// Montgomery and Runger, Applied Statistics and Probability for Engineers, table
// 13-5 (paper strength at four shares of hardwood): 95 % intervals of differences
// between levels, three decimals printed. The data are from memory; their means
// and standard deviations agree with those printed there.
//
// The like example of the NIST/SEMATECH e-Handbook ('Confidence intervals for the
// difference of treatment means') is not used: it prints 2.179 x 0.763 as 1.616,
// where the product is 1.663.
func TestPooledDifferenceMatchesTextbook(t *testing.T) {
	cells := levelsOf([]float64{7, 8, 15, 11, 9, 10}, []float64{12, 17, 13, 18, 19, 15}, []float64{14, 18, 19, 17, 16, 18}, []float64{19, 25, 22, 23, 18, 20})
	for _, tc := range []struct {
		from, to  int
		low, high float64
	}{{0, 1, 2.594, 8.739}, {0, 2, 3.928, 10.072}, {0, 3, 8.094, 14.239}, {1, 2, -1.739, 4.406}, {1, 3, 2.428, 8.572}, {2, 3, 1.094, 7.239}} {
		got, ok := pooledChange("L*", cells, side{cells[tc.from : tc.from+1]}, side{cells[tc.to : tc.to+1]}, channel(0), 1)
		if !ok || math.Abs(got.Low-tc.low) > 6e-4 || math.Abs(got.High-tc.high) > 6e-4 || got.Sure != (tc.low > 0) {
			t.Errorf("level %d less level %d: %+v; want %v to %v", tc.to, tc.from, got, tc.low, tc.high)
		}
	}
}

func TestTitleStatesWhatChanged(t *testing.T) {
	f := LadderPlot(minutesLadder(30, 480), clear())
	if !f.Sure || !strings.HasPrefix(f.Title, "Fuming time from 30 min to 480 min makes the look ") || !strings.Contains(f.Title, "bluer") || !strings.Contains(f.Title, "greener") || !strings.Contains(f.Title, "darker") {
		t.Errorf("%s", f.Title)
	}
	if !strings.Contains(f.Title, "95 % interval") || !strings.HasSuffix(f.Title, ".") {
		t.Errorf("%s", f.Title)
	}
	e := f.Effects[0]
	if !(0 < e.Low && e.Low < e.DE && e.DE < e.High) || e.N != 6 || e.Changes[0].Value != -12 {
		t.Errorf("%+v", e)
	}
	if len(f.Series) != 3 || f.Series[0].Unit != "min" || len(f.Series[0].Levels) != 2 || f.Series[2].Levels[1].Mean != -12 || f.Series[0].Levels[0].N != 3 {
		t.Errorf("%+v", f.Series)
	}
	if len(f.Table.Rows) != 6 || len(f.Table.Rows[0]) != len(f.Table.Columns) {
		t.Errorf("%+v", f.Table)
	}
}

func TestWithoutReplicatesItCannotTell(t *testing.T) {
	f := LadderPlot(minutesLadder(30, 60, 480), []Point{seen(1, 30, copper), seen(2, 60, part(0.5)), seen(3, 480, bluish)})
	if f.Sure || !strings.HasPrefix(f.Title, "Can't tell from these swatches") || !strings.Contains(f.Title, "once each") || f.Effects[0].Interval || f.Series[0].Levels[0].Interval || f.Series[0].Slope != nil {
		t.Errorf("%s %+v", f.Title, f.Effects[0])
	}
	// two faces of one swatch are no replicates
	both := []Point{seen(1, 30, copper), seen(1, 30, part(0.01)), seen(2, 480, bluish), seen(2, 480, part(0.99))}
	both[1].Face, both[3].Face = studio.Back, studio.Back
	if f := LadderPlot(minutesLadder(30, 480), both); f.Sure || f.Effects[0].Interval || f.Effects[0].N != 2 {
		t.Errorf("two faces counted as two swatches: %s", f.Title)
	}
}

func TestFacesTreatedApartAreNotMixed(t *testing.T) {
	ps := clear()
	back := seen(1, 30, bluish)
	back.Face = studio.Back
	set := minutesLadder(30, 480)
	set.SameFaces = false
	f := LadderPlot(set, append(ps, back))
	if got := f.Series[0].Levels[0].Mean; math.Abs(got-60) > 1e-9 || !strings.Contains(notes(f), "1 look of backs is not counted") {
		t.Errorf("mean %v\n%s", got, notes(f))
	}
	set.SameFaces = true
	if got := LadderPlot(set, append(ps, back)).Series[0].Levels[0].Mean; got >= 60 {
		t.Errorf("with both faces alike the back counts too: mean %v", got)
	}
}

func TestUncalibratedPhotographsAreLeftOut(t *testing.T) {
	ps := clear()
	wild := seen(9, 480, colour.Lab{L: 99, A: 60, B: 60})
	wild.Calibrated = false
	with, without := LadderPlot(minutesLadder(30, 480), append(clear(), wild)), LadderPlot(minutesLadder(30, 480), ps)
	if with.Title != without.Title || !reflect.DeepEqual(with.Effects, without.Effects) || with.LeftOut != 1 {
		t.Errorf("%s\n%s", with.Title, without.Title)
	}
	if !strings.Contains(notes(with), "1 photograph without a grey patch is left out") || len(with.Table.Rows) != 7 || !strings.Contains(strings.Join(with.Table.Rows[6], " "), "left out") {
		t.Errorf("%s\n%v", notes(with), with.Table.Rows)
	}
	for i := range ps {
		ps[i].Calibrated = false
	}
	if f := LadderPlot(minutesLadder(30, 480), ps); f.Sure || !strings.Contains(f.Title, "none of the photographs has a grey patch") || !strings.Contains(notes(f), "6 photographs") {
		t.Errorf("%s\n%s", f.Title, notes(f))
	}
}

func TestLittleIsSaidOfLittle(t *testing.T) {
	set := minutesLadder(30, 480)
	if f := LadderPlot(set, nil); f.Sure || f.Title != "Nothing is measured yet in this set." {
		t.Errorf("%s", f.Title)
	}
	if f := LadderPlot(set, clear()[:1]); f.Sure || !strings.Contains(f.Title, "only 30 min is measured") {
		t.Errorf("%s", f.Title)
	}
	if f := LadderPlot(minutesLadder(30, 60, 480, 960), clear()); !strings.Contains(notes(f), "Not measured yet: 60 min and 960 min.") {
		t.Errorf("%s", notes(f))
	}
	if f := Find(studio.Set{}, clear()); f.Sure || !strings.Contains(f.Title, "Nothing was varied") {
		t.Errorf("%s", f.Title)
	}
	if f := GridPlot(gridSet(), nil); f.Sure || f.Title == "" {
		t.Errorf("%s", f.Title)
	}
}

func TestFindingIsTheSameEveryTime(t *testing.T) {
	w := straight(0.3, 3, 30, 60, 120)
	ps := w.points(rand.New(rand.NewPCG(3, 3)))
	want := Find(w.set, ps)
	if got := Find(w.set, ps); !reflect.DeepEqual(got, want) {
		t.Error("the same swatches say two things")
	}
	rand.New(rand.NewPCG(4, 4)).Shuffle(len(ps), func(i, j int) { ps[i], ps[j] = ps[j], ps[i] })
	got := Find(w.set, ps)
	if got.Sure != want.Sure || math.Abs(got.Effects[0].DE-want.Effects[0].DE) > 1e-9 || math.Abs(got.Effects[0].High-want.Effects[0].High) > 1e-6 {
		t.Errorf("the order of the points matters: %s\n%s", got.Title, want.Title)
	}
}

func TestCoverageHasItsSentence(t *testing.T) {
	ps := clear()
	for i := range ps {
		v := 0.2 + 0.01*float64(i%3)
		if ps[i].X == 480 {
			v += 0.5
		}
		ps[i].Coverage = &studio.Coverage{Value: v, Low: v - 0.05, High: v + 0.05}
	}
	f := LadderPlot(minutesLadder(30, 480), ps)
	if c := f.Effects[0].Coverage; c == nil || math.Abs(c.Value-0.5) > 1e-9 || !c.Sure {
		t.Errorf("%+v", c)
	}
	if len(f.Series) != 4 || f.Series[3].Name != "coverage" || !strings.Contains(notes(f), "Coverage rises from 30 min to 480 min by 50.0 points") {
		t.Errorf("%s", notes(f))
	}
	for _, l := range f.Series[3].Levels {
		if l.Low < 0 || l.High > 1 {
			t.Errorf("coverage %v to %v", l.Low, l.High)
		}
	}
	ps[0].Coverage = nil // a face whose bare metal is not known does not spoil the rest
	if c := LadderPlot(minutesLadder(30, 480), ps).Effects[0].Coverage; c == nil {
		t.Error("one unknown coverage took all away")
	}
}

func TestDifferenceInsideTheLadderIsSaid(t *testing.T) {
	var ps []Point
	for i, d := range []float64{-1, 0, 1} {
		ps = append(ps, seen(int64(i+1), 30, colour.Lab{L: 60 + d, A: 18, B: 22 - d}),
			seen(int64(i+4), 120, colour.Lab{L: 50 - d, A: -15, B: -12 + d}), seen(int64(i+7), 480, colour.Lab{L: 60 + d, A: 18 + d, B: 21}))
	}
	f := LadderPlot(minutesLadder(30, 120, 480), ps)
	if f.Sure || !strings.Contains(notes(f), "not at the end: at 120 min the look is") {
		t.Errorf("%s\n%s", f.Title, notes(f))
	}
}

// Common practice, no source: a* from green to red, b* from blue to yellow, L*
// from dark to light, chroma from grey to vivid (CIE 015 defines the axes).
func TestDirectionInWords(t *testing.T) {
	for _, tc := range []struct {
		from, to colour.Lab
		want     string
	}{
		{copper, bluish, "bluer, greener and darker"},
		{colour.Lab{L: 50}, colour.Lab{L: 40}, "darker"},
		{colour.Lab{L: 50}, colour.Lab{L: 60, A: -4}, "lighter and greener"},
		{colour.Lab{L: 50, A: 20, B: 20}, colour.Lab{L: 50, A: 6, B: 6}, "greyer"},
		{colour.Lab{L: 50, A: 6, B: 6}, colour.Lab{L: 50, A: 20, B: 20}, "more vivid"},
		{colour.Lab{L: 68, A: 2, B: 29}, colour.Lab{L: 68, A: -13, B: 3}, "bluer and greener"}, // past the grey axis to another hue
		{colour.Lab{L: 68, A: 2, B: 29}, colour.Lab{L: 68, A: -1, B: 2}, "greyer"},
		{colour.Lab{L: 50, A: -20, B: -5}, colour.Lab{L: 50, A: -19.5, B: -25}, "bluer"},
		{colour.Lab{L: 50, A: -20, B: 5}, colour.Lab{L: 50, A: -2, B: 25}, "yellower and redder"},
		{colour.Lab{L: 50, A: 10, B: 10}, colour.Lab{L: 50.5, A: 10.4, B: 9.6}, ""},
	} {
		if got := Direction(tc.from, tc.to); got != tc.want {
			t.Errorf("from %v to %v: %q, want %q", tc.from, tc.to, got, tc.want)
		}
	}
}

func gridSet() studio.Set {
	return studio.Set{ID: 4, Shape: studio.Grid, SameFaces: true, Seed: 2, Factors: []studio.Factor{
		minutesLadder(30, 480).Factors[0],
		{Name: "wetting", Kind: studio.ByWetting, Levels: []studio.Level{{Label: "dry"}, {Label: "wetted", Yes: true}}},
	}}
}

func TestGridAveragesOverTheOtherFactor(t *testing.T) {
	w := world{set: gridSet(), hand: [channels]float64{1, 1, 1}, replicates: 3, truth: func(l []int) colour.Lab {
		return colour.Lab{L: 60 - 10*float64(l[0]), A: 10, B: 20 - 30*float64(l[1])}
	}}
	ps := w.points(rand.New(rand.NewPCG(1, 1)))
	f := Find(w.set, ps)
	if !f.Sure || !strings.HasPrefix(f.Title, "Wetting: wetted looks bluer than dry, averaged over fuming time: ΔE00") {
		t.Errorf("%s", f.Title)
	}
	if !strings.Contains(notes(f), "Fuming time from 30 min to 480 min makes the look darker, averaged over wetting") || len(f.Effects) != 2 || f.Effects[0].Factor != "wetting" {
		t.Errorf("%s", notes(f))
	}
	if len(f.Series) != 6 || f.Series[0].Levels[0].N != 6 || f.Series[0].Slope != nil {
		t.Errorf("%d series, %+v", len(f.Series), f.Series[0])
	}
	// the spread is that of swatches made alike: the other factor's effect is not in it
	b := f.Series[2] // b* along fuming time, where wetting moves b* by 30
	if l := b.Levels[0]; l.High-l.Low > 4 {
		t.Errorf("b* at 30 min: %v to %v; the wetting is in its interval", l.Low, l.High)
	}
	var some []Point
	for _, p := range ps {
		if !(p.Settings[0].Level.Number == 480 && p.Settings[1].Level.Yes) {
			some = append(some, p)
		}
	}
	part := Find(w.set, some)
	if !strings.Contains(notes(part), "Some combinations are not measured yet") {
		t.Errorf("%s", notes(part))
	}
	for _, e := range part.Effects {
		if e.Factor == "fuming time" && math.Abs(e.Changes[2].Value) > 4 {
			t.Errorf("the wetting leaks into the fuming time: %+v", e.Changes)
		}
	}
	once := w
	once.replicates = 1
	if f := Find(w.set, once.points(rand.New(rand.NewPCG(1, 1)))); f.Sure || !strings.Contains(f.Title, "once each") {
		t.Errorf("%s", f.Title)
	}
}

func TestLiquidsAreComparedInPairs(t *testing.T) {
	w := world{set: studio.Set{ID: 1, Shape: studio.Ladder, SameFaces: true, Factors: []studio.Factor{liquids("ammonia", "vinegar", "brine")}},
		hand: [channels]float64{1, 1, 1}, replicates: 4, truth: func(l []int) colour.Lab { return part([]float64{0, 0, 1}[l[0]]) }}
	f := Find(w.set, w.points(rand.New(rand.NewPCG(1, 1))))
	if len(f.Effects) != 3 || !f.Sure || !strings.HasPrefix(f.Title, "Liquid: brine looks ") || f.Series[0].Numeric || f.Series[0].Slope != nil {
		t.Errorf("%s", f.Title)
	}
	last := f.Effects[2]
	if last.Sure || last.To == "brine" || !strings.HasPrefix(last.Sentence, "Can't tell") {
		t.Errorf("%+v", last)
	}
}

func lookOf(swatch int64, face studio.Face, l colour.Lab, calibrated bool) studio.Look {
	return studio.Look{Swatch: swatch, Face: face, Photo: swatch * 10, Moment: studio.Finished, Measurement: &studio.Measurement{Lab: l, Calibrated: calibrated}}
}

func TestPointsJoinLooksToWhatWasVaried(t *testing.T) {
	set := minutesLadder(30, 480)
	setting := func(i int) []studio.Setting {
		return []studio.Setting{{Factor: "fuming time", Kind: studio.ByMinutes, Level: set.Factors[0].Levels[i]}}
	}
	ts := []studio.Treatment{
		{ID: 1, SetID: 1, Swatch: 1, Faces: studio.OnBoth, Layer: 1, Replicate: 2, Settings: setting(1)},
		{ID: 2, SetID: 1, Swatch: 2, Faces: studio.OnFront, Layer: 1, Settings: nil},
		{ID: 3, SetID: 1, Swatch: 2, Faces: studio.OnFront, Layer: 2, Replicate: 1, Settings: setting(0)},
		{ID: 4, SetID: 1, Swatch: 2, Faces: studio.OnBack, Layer: 1},
		{ID: 5, SetID: 9, Swatch: 5, Faces: studio.OnBoth, Layer: 1, Settings: setting(0)},
	}
	underway := lookOf(1, studio.Back, copper, true)
	underway.Moment = studio.Underway
	unmeasured := studio.Look{Swatch: 1, Face: studio.Back, Moment: studio.Finished}
	looks := []studio.Look{lookOf(1, studio.Front, copper, true), lookOf(2, studio.Front, bluish, false), lookOf(2, studio.Back, copper, true),
		lookOf(3, studio.Front, copper, true), lookOf(5, studio.Front, copper, true), underway, unmeasured}
	ps := Points(set, ts, looks)
	if len(ps) != 2 {
		t.Fatalf("%+v", ps)
	}
	if p := ps[0]; p.Swatch != 2 || p.X != 30 || p.Level != "30 min" || p.Replicate != 1 || p.Calibrated || p.Photo != 20 {
		t.Errorf("%+v", p)
	}
	if p := ps[1]; p.Swatch != 1 || p.X != 480 || p.Face != studio.Front || p.Replicate != 2 || !p.Calibrated || p.Lab != copper {
		t.Errorf("%+v", p)
	}
}

func TestCompareSaysWhatPhotographsCanTell(t *testing.T) {
	near := colour.Lab{L: copper.L + 2, A: copper.A, B: copper.B}
	c := Compare([]studio.Look{
		lookOf(1, studio.Front, copper, true), lookOf(2, studio.Front, bluish, true),
		lookOf(3, studio.Back, near, true), lookOf(4, studio.Front, copper, false), {Swatch: 5, Face: studio.Front},
	})
	if len(c.Pairs) != 10 || len(c.Notes) != 2 || !strings.Contains(c.Notes[0], "2 looks can't be compared") {
		t.Fatalf("%d pairs, %v", len(c.Pairs), c.Notes)
	}
	for _, p := range c.Pairs {
		switch {
		case p.A == 0 && p.B == 1:
			if !p.OK || p.Same || p.Low != p.DE-PhotoHigh || p.High != p.DE+PhotoHigh || !strings.Contains(p.Sentence, "swatch 2, front is bluer") {
				t.Errorf("%+v", p)
			}
		case p.A == 0 && p.B == 2:
			if !p.OK || !p.Same || p.Low != 0 || p.Direction != "" || !strings.Contains(p.Sentence, "can't tell these two apart") {
				t.Errorf("%+v", p)
			}
		case p.B >= 3:
			if p.OK || p.DE != 0 || p.Why == "" {
				t.Errorf("%+v", p)
			}
		}
	}
	if got := c.Pairs[2].Why; !strings.Contains(got, "swatch 4, front has no grey patch") {
		t.Errorf("%s", got)
	}
	if c := Compare(nil); len(c.Pairs)+len(c.Notes) != 0 {
		t.Errorf("%+v", c)
	}
}

func TestWallSorts(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2026, 3, d, 12, 0, 0, 0, time.UTC) }
	brick := func(n int64, l colour.Lab, metal, liquid, set string, age int) Brick {
		look := lookOf(n, studio.Front, l, true)
		look.Taken = day(age)
		return Brick{Look: look, Swatch: studio.Swatch{Number: n}, Metal: metal, Liquid: liquid, Set: set}
	}
	red, green, blue, grey := colour.FromLCh(40, 30, 20), colour.FromLCh(60, 30, 160), colour.FromLCh(50, 30, 250), colour.FromLCh(30, 1, 100)
	wall := []Brick{
		brick(1, blue, "copper", "vinegar", "a", 3), brick(2, grey, "brass", "", "b", 1),
		brick(3, red, "bronze", "ammonia", "", 4), brick(4, green, "Brass", "ammonia", "b", 2),
	}
	bare := brick(5, colour.Lab{}, "copper", "brine", "c", 5)
	bare.Look.Measurement = nil
	wall = append(wall, bare)
	back := wall[0]
	back.Look.Face = studio.Back
	wall = append([]Brick{back}, wall...)
	for by, want := range map[By]string{
		ByHue:       "3f 4f 1f 1b 2f 5f",
		ByLightness: "2f 3f 1f 1b 4f 5f",
		ByMetal:     "2f 4f 3f 1f 1b 5f",
		ByLiquid:    "3f 4f 5f 1f 1b 2f",
		BySet:       "1f 1b 2f 4f 5f 3f",
		ByAge:       "5f 3f 1f 1b 4f 2f",
	} {
		var got []string
		for _, b := range Sort(wall, by) {
			got = append(got, number(float64(b.Swatch.Number))+string(b.Look.Face)[:1])
		}
		if s := strings.Join(got, " "); s != want {
			t.Errorf("by %s: %s, want %s", by, s, want)
		}
	}
	if len(Orders) != 6 {
		t.Errorf("%v", Orders)
	}
}

func TestLiquidThatMakesTheColour(t *testing.T) {
	for want, steps := range map[string][]studio.Step{
		"ammonia-water": {{Kind: studio.Wet, Material: "vinegar"}, {Kind: studio.Fume, Material: "ammonia-water"}},
		"vinegar":       {{Kind: studio.Degrease, Material: "detergent"}, {Kind: studio.Wet, Material: "water"}, {Kind: studio.Wet, Material: "vinegar"}},
		"":              {{Kind: studio.Wet, Material: "water"}, {Kind: studio.Rinse}},
	} {
		if got := Liquid(studio.Treatment{Steps: steps}); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	w := straight(0.3, 3, 30, 60, 120, 240, 480)
	ps := w.points(rand.New(rand.NewPCG(3, 3)))
	for b.Loop() {
		Find(w.set, ps)
	}
}
