package learn

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A world is a made-up bench whose truth is known.
type world struct {
	set        studio.Set
	truth      func(levels []int) colour.Lab // the mean look of a combination
	hand       [channels]float64             // spread between swatches made alike
	replicates int
}

// minutesLadder is a ladder of fuming times.
func minutesLadder(levels ...float64) studio.Set {
	f := studio.Factor{Name: "fuming time", Kind: studio.ByMinutes}
	for _, n := range levels {
		f.Levels = append(f.Levels, studio.Level{Label: number(n) + " min", Number: n})
	}
	return studio.Set{ID: 1, Name: "ladder", Shape: studio.Ladder, Factors: []studio.Factor{f}, SameFaces: true, Seed: 11}
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func liquids(names ...string) studio.Factor {
	f := studio.Factor{Name: "liquid", Kind: studio.ByLiquid}
	for i, n := range names {
		f.Levels = append(f.Levels, studio.Level{Label: n, SupplyID: int64(i + 1)})
	}
	return f
}

// points makes one set of swatches, photographed on the front.
func (w world) points(rng *rand.Rand) []Point {
	var ps []Point
	combos := [][]int{{}}
	for _, f := range w.set.Factors {
		var next [][]int
		for _, c := range combos {
			for l := range f.Levels {
				next = append(next, append(append([]int{}, c...), l))
			}
		}
		combos = next
	}
	for _, c := range combos {
		for r := 1; r <= w.replicates; r++ {
			v := values(w.truth(c))
			for i := range v {
				v[i] += rng.NormFloat64() * w.hand[i]
			}
			p := Point{Swatch: int64(len(ps) + 1), Face: studio.Front, Replicate: r, Lab: lab(v), Calibrated: true}
			for i, f := range w.set.Factors {
				p.Settings = append(p.Settings, studio.Setting{Factor: f.Name, Kind: f.Kind, Level: f.Levels[c[i]]})
			}
			p.Level, p.X = w.set.Factors[0].Levels[c[0]].Label, place(w.set.Factors[0], c[0])
			ps = append(ps, p)
		}
	}
	return ps
}

// tally is what many sets of one world said.
type tally struct {
	sure, deHolds, channelHolds, sets float64
}

// simulate makes n sets of w, seeds 1 to n, and counts how often the effect
// between the first factor's levels from and to was called sure, and how often
// the intervals held the truth.
func (w world) simulate(n int, from, to string, a, b colour.Lab) tally {
	var t tally
	for seed := 1; seed <= n; seed++ {
		set := w.set
		set.Seed = uint64(seed)
		f := Find(set, w.points(rand.New(rand.NewPCG(uint64(seed), 99))))
		for _, e := range f.Effects {
			if e.Factor != set.Factors[0].Name || e.From != from || e.To != to {
				continue
			}
			t.sets++
			if e.Sure {
				t.sure++
			}
			if de := colour.Difference(a, b); e.Low <= de && de <= e.High {
				t.deHolds++
			}
			for i, c := range e.Changes {
				if d := values(b)[i] - values(a)[i]; c.Low <= d && d <= c.High {
					t.channelHolds += 1.0 / channels
				}
			}
		}
	}
	return t
}

var (
	copper = colour.Lab{L: 60, A: 18, B: 22}
	bluish = colour.Lab{L: 50, A: -15, B: -12}
)

// part returns the look a share of the way from copper to bluish.
func part(share float64) colour.Lab {
	a, b := values(copper), values(bluish)
	for i := range a {
		a[i] += share * (b[i] - a[i])
	}
	return lab(a)
}

// straight makes a ladder whose look goes straight from copper to part(share).
func straight(share float64, replicates int, levels ...float64) world {
	return world{
		set: minutesLadder(levels...), hand: [channels]float64{2, 1.5, 2}, replicates: replicates,
		truth: func(l []int) colour.Lab { return part(share * float64(l[0]) / float64(len(levels)-1)) },
	}
}

func (t tally) rates() (sure, de, channel float64) {
	return t.sure / t.sets, t.deHolds / t.sets, t.channelHolds / t.sets
}

// Intervals hold the truth about as often as they say, at small and large
// differences. Over 400 sets the count of a true 95 % interval varies by 1.1
// points (one standard deviation); the bootstrap of ΔE00 may fall to 88 %.
func TestIntervalsHoldTheTruth(t *testing.T) {
	const sets = 400
	for _, tc := range []struct {
		name     string
		w        world
		share    float64
		from, to string
		least    float64 // how often it must be called sure, at least
	}{
		{"a small change, five levels", straight(0.1, 3, 30, 60, 120, 240, 480), 0.1, "30 min", "480 min", 0.30},
		{"a clear change, five levels in twos", straight(0.3, 2, 30, 60, 120, 240, 480), 0.3, "30 min", "480 min", 0.90},
		{"a clear change, two levels in threes", straight(0.3, 3, 30, 480), 0.3, "30 min", "480 min", 0.90},
		{"a great change", straight(1, 3, 30, 120, 480), 1, "30 min", "480 min", 0.99},
	} {
		got := tc.w.simulate(sets, tc.from, tc.to, copper, part(tc.share))
		sure, de, channel := got.rates()
		t.Logf("%s: ΔE00 %.1f; sure %.3f, ΔE00 interval holds %.3f, channels %.3f", tc.name, colour.Difference(copper, part(tc.share)), sure, de, channel)
		if got.sets != sets || channel < 0.93 || channel > 0.97 || de < 0.88 || sure < tc.least {
			t.Errorf("%s: %v sets, sure %.3f (at least %.2f), ΔE00 interval holds %.3f, channels %.3f", tc.name, got.sets, sure, tc.least, de, channel)
		}
	}
}

// Where nothing happens the finding says it can't tell in about 95 of 100 sets,
// never in fewer than 92; with two of each at two levels it is more careful.
func TestNothingStaysNothing(t *testing.T) {
	const sets = 500
	wells := world{
		set:  studio.Set{ID: 1, Shape: studio.Ladder, Factors: []studio.Factor{liquids("ammonia", "vinegar", "brine")}, SameFaces: true},
		hand: [channels]float64{2, 1.5, 2}, replicates: 6, truth: func([]int) colour.Lab { return copper },
	}
	grid := wells
	grid.set.Factors = []studio.Factor{liquids("ammonia", "vinegar"), minutesLadder(30, 60, 120).Factors[0]}
	grid.set.Shape, grid.replicates = studio.Grid, 3
	for _, tc := range []struct {
		name   string
		w      world
		atMost float64
	}{
		{"five times in fours", straight(0, 4, 30, 60, 120, 240, 480), 0.08},
		{"two times in twos", straight(0, 2, 30, 480), 0.08},
		{"three liquids in sixes", wells, 0.08},
		{"either effect of a grid", grid, 0.08},
	} {
		wrong := 0
		for seed := 1; seed <= sets; seed++ {
			set := tc.w.set
			set.Seed = uint64(seed)
			f := Find(set, tc.w.points(rand.New(rand.NewPCG(uint64(seed), 7))))
			if f.Sure {
				wrong++
			}
			if f.Sure == strings.HasPrefix(f.Title, "Can't tell") {
				t.Fatalf("sure %v, but the title says: %s", f.Sure, f.Title)
			}
		}
		rate := float64(wrong) / sets
		t.Logf("%s: false alarms %.3f", tc.name, rate)
		if rate > tc.atMost {
			t.Errorf("%s: false alarms in %.3f of the sets, at most %.2f", tc.name, rate, tc.atMost)
		}
	}
	if wrong, _, _ := straight(0, 4, 30, 60, 120, 240, 480).simulate(sets, "30 min", "480 min", copper, copper).rates(); wrong < 0.02 {
		t.Errorf("false alarms in %.3f: so few that real differences are missed", wrong)
	}
}

// A planted effect comes back with its direction, in liquids and in grids.
func TestPlantedEffectsAreFound(t *testing.T) {
	const sets = 200
	pots := world{
		set:  studio.Set{ID: 1, Shape: studio.Ladder, Factors: []studio.Factor{liquids("ammonia", "vinegar", "brine")}, SameFaces: true},
		hand: [channels]float64{2, 1.5, 2}, replicates: 4,
		truth: func(l []int) colour.Lab { return part([]float64{0, 0.05, 0.8}[l[0]]) },
	}
	grid := world{
		set: studio.Set{ID: 1, Shape: studio.Grid, SameFaces: true, Factors: []studio.Factor{
			{Name: "salt", Kind: studio.ByLoading, Levels: []studio.Level{{Label: "11 g/m²", Number: 11}, {Label: "25 g/m²", Number: 25}, {Label: "80 g/m²", Number: 80}}},
			{Name: "wetting", Kind: studio.ByWetting, Levels: []studio.Level{{Label: "dry"}, {Label: "wetted", Yes: true}}},
		}},
		hand: [channels]float64{2, 1.5, 2}, replicates: 2,
		truth: func(l []int) colour.Lab { // salt darkens by 6 a level, wetting turns it blue
			look := copper
			look.L -= 6 * float64(l[0])
			look.B -= 20 * float64(l[1])
			return look
		},
	}
	pot, salt, wet, holds := 0, 0, 0, 0
	for seed := 1; seed <= sets; seed++ {
		rng := rand.New(rand.NewPCG(uint64(seed), 5))
		pots.set.Seed, grid.set.Seed = uint64(seed), uint64(seed)
		f := Find(pots.set, pots.points(rng))
		lead := f.Effects[0]
		if f.Sure && lead.To == "brine" && strings.Contains(f.Title, "greener") && strings.Contains(f.Title, "bluer") {
			pot++
		}
		for _, e := range Find(grid.set, grid.points(rng)).Effects {
			switch {
			case e.Factor == "salt" && e.Sure && e.Direction == "darker":
				salt++
			case e.Factor == "wetting" && e.Sure && strings.Contains(e.Direction, "bluer") && !strings.Contains(e.Direction, "greener"):
				wet++
			}
			if e.Factor == "salt" && e.Changes[0].Low <= -12 && -12 <= e.Changes[0].High {
				holds++
			}
		}
	}
	t.Logf("of %d sets: liquid %d, salt %d, wetting %d; the salt's interval held the truth in %d", sets, pot, salt, wet, holds)
	if pot < sets*9/10 || salt < sets*9/10 || wet < sets*9/10 || holds < sets*91/100 || holds > sets*99/100 {
		t.Errorf("of %d sets: liquid %d, salt %d, wetting %d; the salt's interval held the truth in %d", sets, pot, salt, wet, holds)
	}
}
