package propose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/plan"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

var (
	salt    = studio.Supply{ID: 1, Name: "table salt", Material: "sodium-chloride", Strength: 100, StrengthUnit: studio.Pure}
	ammonia = studio.Supply{ID: 2, Name: "shop ammonia", Material: "ammonia-water", Strength: 10, StrengthUnit: studio.WtPercent}
	water   = studio.Supply{ID: 3, Name: "distilled water", Material: "distilled-water", Strength: 100, StrengthUnit: studio.Pure}
	vinegar = studio.Supply{ID: 4, Name: "white vinegar", Material: "vinegar", Strength: 5, StrengthUnit: studio.WtPercent}
	sulfur  = studio.Supply{ID: 5, Name: "liver of sulfur", Material: "liver-of-sulfur", Strength: 2, StrengthUnit: studio.WtPercent}
	shelf   = []studio.Supply{salt, ammonia, water, vinegar, sulfur}
	copper  = studio.Metal{ID: 7, Name: "copper 0.5 mm", Alloy: "C11000", ThicknessMM: 0.5}
	tub     = studio.Chamber{ID: 9, Name: "tub", VolumeL: 50, PadML: 200, GapMM: 40, Places: 6}
	noon    = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	hands   = []studio.HandAmount{
		{Word: studio.Light, Material: "sodium-chloride", Mean: 11, SD: 4, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Medium, Material: "sodium-chloride", Mean: 25, SD: 8, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Heavy, Material: "sodium-chloride", Mean: 80, SD: 25, Unit: studio.GramPerM2, N: 10},
		{Word: studio.Light, Material: "water", Mean: 40, SD: 15, Unit: studio.MLPerM2, N: 10},
	}
)

// version wets with water, sprinkles salt and fumes for 4 h.
func version() studio.Version {
	return studio.Version{ID: 20, RecipeID: 2, Number: 1, Steps: []studio.Step{
		{Kind: studio.Wet, SupplyID: water.ID, Material: water.Material, Amount: studio.Amount{Value: 40, Unit: studio.MLPerM2}, Duration: time.Minute},
		{Kind: studio.Sprinkle, SupplyID: salt.ID, Material: salt.Material, Amount: studio.Amount{Value: 12, Unit: studio.GramPerM2}, Duration: time.Minute},
		{Kind: studio.Fume, SupplyID: ammonia.ID, Material: ammonia.Material, Duration: 4 * time.Hour, ChamberID: tub.ID},
		{Kind: studio.Rinse, Duration: time.Minute},
	}}
}

func workbench() Bench {
	return Bench{Front: version(), Metal: copper, Supplies: shelf, Hands: hands, Chambers: []fume.Bench{{Chamber: tub, Supplies: shelf}}, Chamber: tub,
		Place: plan.PlaceOf(studio.Set{RoomID: 1}, []studio.Room{{ID: 1, Name: "yard", Outdoors: true}}), Now: noon, WidthMM: 50, HeightMM: 50}
}

var (
	byTime  = studio.Factor{Name: "fuming time", Kind: studio.ByMinutes, Step: 2}
	bySalt  = studio.Factor{Name: "amount of salt", Kind: studio.ByLoading, Step: 1}
	byWater = studio.Factor{Name: "wetting", Kind: studio.ByWetting, Step: 0}
	byWhat  = studio.Factor{Name: "liquid", Kind: studio.ByLiquid, Step: 0}
)

func minutes(m float64) studio.Level { return studio.Level{Label: spanOf(m), Number: m} }
func grams(g float64) studio.Level {
	return studio.Level{Label: number(g) + " g/m²", Number: g}
}

var wettedOrNot = []studio.Level{{Label: "dry"}, {Label: "wetted first", Yes: true}}

// A world is an invented bench whose colours are known: while it is dry the metal
// browns, once its salt has dissolved a layer grows that turns from green to blue the
// more ammonia it meets. Its numbers are drawn; its chamber is not the one reckoned with.
type world struct {
	way                      *plan.Way
	real                     fume.Bench
	rate, brown, blue, limit float64
	hand, day                float64
	dayOff                   [3]float64
	r                        *rand.Rand
}

func newWorld(t testing.TB, seed uint64, factors ...studio.Factor) *world {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 5))
	within := func(low, high float64) float64 { return low * math.Pow(high/low, r.Float64()) }
	b := workbench()
	way, err := plan.NewWay(plan.Ask{Name: "truth", Replicates: 1, WidthMM: 50, HeightMM: 50, Chamber: tub, Front: b.Front}, factors, shelf, hands, copper)
	if err != nil {
		t.Fatal(err)
	}
	hidden := tub
	hidden.GapMM *= within(0.7, 1.4)
	return &world{way: way, real: fume.Bench{Chamber: hidden, Supplies: shelf}, r: r, hand: 1.2, day: 0.8,
		rate: within(0.1, 0.3), brown: within(8, 30), blue: within(0.5e5, 4e5), limit: within(0.5, 1)}
}

func mixed(a, b colour.Lab, share float64) colour.Lab {
	x, y := a.XYZ(colour.D50), b.XYZ(colour.D50)
	return colour.XYZ{X: x.X + share*(y.X-x.X), Y: x.Y + share*(y.Y-x.Y), Z: x.Z + share*(y.Z-x.Z)}.Lab(colour.D50)
}

// truth is the look that levels give.
func (w *world) truth(t testing.TB, levels []studio.Level) colour.Lab {
	t.Helper()
	all, top, err := w.way.Treatments(append([]studio.Level{}, levels...))
	if err != nil {
		t.Fatal(err)
	}
	e, ok := fume.Expose(w.real, all[top], studio.Swatch{WidthMM: 50, HeightMM: 50}, studio.Front, nil)
	if !ok {
		t.Fatalf("%v can't be reckoned", levels)
	}
	h := 0.0
	for _, s := range all[top].Steps {
		if s.Kind == studio.Fume {
			h = s.Duration.Hours()
		}
	}
	base := mixed(colour.Lab{L: 64, A: 18, B: 22}, colour.Lab{L: 32, A: 8, B: 11}, -math.Expm1(-h/w.brown))
	layer := mixed(colour.Lab{L: 62, A: -28, B: 8}, colour.Lab{L: 52, A: -14, B: -26}, e.PPMH/(e.PPMH+w.blue))
	return mixed(base, layer, w.limit*-math.Expm1(-w.rate*e.WetH))
}

// newDay begins another day, whose air shifts all looks alike.
func (w *world) newDay() {
	for i := range w.dayOff {
		w.dayOff[i] = w.day * w.r.NormFloat64()
	}
}

// measured is the look of one swatch as read.
func (w *world) measured(t testing.TB, levels []studio.Level) colour.Lab {
	l := w.truth(t, levels)
	return colour.Lab{L: l.L + w.dayOff[0] + w.hand*w.r.NormFloat64(), A: l.A + w.dayOff[1] + w.hand*w.r.NormFloat64(), B: l.B + w.dayOff[2] + w.hand*w.r.NormFloat64()}
}

// source makes the swatches of a set, so many a day.
func (w *world) source(t testing.TB, id int64, perDay int, factors []studio.Factor, combos [][]studio.Level) Source {
	t.Helper()
	s := Source{Set: studio.Set{ID: id, Name: fmt.Sprintf("set %d", id), FrontID: 20, MetalID: copper.ID, Factors: factors}}
	for i, levels := range combos {
		if i%perDay == 0 {
			w.newDay()
		}
		r := learn.Row{Point: learn.Point{Swatch: 100*id + int64(i), Photo: 100*id + int64(i), Face: studio.Front, Calibrated: true, Lab: w.measured(t, levels)},
			Day: fmt.Sprint("day ", i/perDay), Chamber: math.NaN(), Wet: math.NaN(), PadAge: math.NaN()}
		for j, f := range factors {
			r.Settings = append(r.Settings, studio.Setting{Factor: f.Name, Kind: f.Kind, Level: levels[j]})
		}
		s.Rows = append(s.Rows, r)
	}
	for j := range s.Set.Factors {
		f := &s.Set.Factors[j]
		f.Levels = nil
		for _, levels := range combos {
			f.Levels = append(f.Levels, levels[j])
		}
	}
	return s
}

// anyLevels draws time, salt and wetting by chance, such as a person would choose.
func anyLevels(r *rand.Rand) []studio.Level {
	return []studio.Level{minutes(nice(studio.ByMinutes, 60*math.Pow(12, r.Float64()))), grams(nice(studio.ByLoading, 5*math.Pow(8, r.Float64()))), wettedOrNot[r.IntN(2)]}
}

// scattered is a set of n swatches of time, salt and wetting, four a day.
func scattered(t testing.TB, w *world, n int) Source {
	var combos [][]studio.Level
	for range n {
		combos = append(combos, anyLevels(w.r))
	}
	return w.source(t, 1, 4, three(), combos)
}

func three() []studio.Factor { return []studio.Factor{byTime, bySalt, byWater} }

func fitted(t testing.TB, b Bench, sources ...Source) *Model {
	t.Helper()
	f, err := Gather(b, studio.Front, sources)
	if err != nil {
		t.Fatal(err)
	}
	m, err := f.Fit(1)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// scatteredRows are swatches of time, salt and liquid whose looks are of no matter.
func scatteredRows(r *rand.Rand, liquids []studio.Level) []learn.Row {
	var rows []learn.Row
	for i := range 9 {
		levels := []studio.Level{minutes(nice(studio.ByMinutes, 60*math.Pow(12, r.Float64()))), grams(nice(studio.ByLoading, 5*math.Pow(8, r.Float64()))), liquids[i%len(liquids)]}
		row := learn.Row{Point: learn.Point{Swatch: int64(i + 1), Face: studio.Front, Calibrated: true,
			Lab: colour.Lab{L: 30 + 40*r.Float64(), A: 20*r.Float64() - 10, B: 20*r.Float64() - 10}}, Day: fmt.Sprint(i / 3), Chamber: math.NaN()}
		for j, f := range []studio.Factor{byTime, bySalt, byWhat} {
			row.Settings = append(row.Settings, studio.Setting{Factor: f.Name, Kind: f.Kind, Level: levels[j]})
		}
		rows = append(rows, row)
	}
	return rows
}
