package demo

import (
	"time"

	"aerugo/internal/studio"
)

// The example is the invented workshop of Tarnbeck Lamps: Maren and Odile make
// brass and bronze wall lamps for a town library and look for a blue-green they
// can repeat forty times.
const (
	maren = "Maren"
	odile = "Odile"
)

// Where things stand in the lists of a bench.
const (
	brass = iota
	copper
	bronze
)
const (
	ammonia = iota
	tableSalt
	water
	vinegar
	salAmmoniac
	saltWater
	sulfur
	soap
)
const (
	tub = iota
	bucket
)
const (
	wetted = iota // the recipe versions, in the order they were written
	wettedLonger
	brushed
	saltSponge
	baseBrown
	overBrown
)

// bench is what the workshop owns and knows. IDs are 0 until something gives
// them: the store, or number when no store is meant.
type bench struct {
	metals   []studio.Metal
	supplies []studio.Supply
	chambers []studio.Chamber
	recipes  []studio.Recipe
	versions []studio.Version
	of       []int // the recipe each version belongs to
}

// newBench returns the workshop's bench at now, without recipes.
func newBench(now time.Time) *bench {
	day := func(n int) time.Time {
		y, m, d := now.AddDate(0, 0, -n).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	return &bench{
		metals: []studio.Metal{
			{Name: "Brass sheet 70/30", Alloy: "C26000", Temper: "half hard", ThicknessMM: 0.81, GaugeWords: "20 gauge", Lot: "T-114", Note: "The lamp shades' own sheet.", Invented: true},
			{Name: "Copper sheet", Alloy: "C11000", Temper: "soft", ThicknessMM: 0.51, GaugeWords: "24 gauge", Lot: "T-098", Note: "Offcuts of the gutter job.", Invented: true},
			{Name: "Bronze sheet 90/10", Alloy: "C22000", Temper: "half hard", ThicknessMM: 0.64, GaugeWords: "22 gauge", Lot: "T-121", Note: "For the back plates.", Invented: true},
		},
		supplies: []studio.Supply{
			{Name: "Ammonia water 9 %", Material: "ammonia-water", Strength: 9, StrengthUnit: studio.WtPercent, Lot: "A-3", Opened: day(34), Expires: day(-150), Note: "Kept in the cold shed.", Invented: true},
			{Name: "Fine table salt", Material: "sodium-chloride", StrengthUnit: studio.Pure, Strength: 100, Lot: "S-1", Opened: day(90), Invented: true},
			{Name: "Distilled water", Material: "distilled-water", StrengthUnit: studio.Pure, Strength: 100, Opened: day(12), Invented: true},
			{Name: "White vinegar 5 %", Material: "vinegar", Strength: 5, StrengthUnit: studio.WtPercent, Opened: day(25), Invented: true},
			{Name: "Sal ammoniac water 10 %", Material: "ammonium-chloride", Strength: 10, StrengthUnit: studio.WtPercent, Lot: "mixed by Odile", Opened: day(22), Invented: true},
			{Name: "Salt water 10 %", Material: "sodium-chloride", Strength: 10, StrengthUnit: studio.WtPercent, Lot: "mixed by Maren", Opened: day(22), Invented: true},
			{Name: "Liver of sulfur 2 %", Material: "liver-of-sulfur", Strength: 2, StrengthUnit: studio.WtPercent, Lot: "fresh each time", Opened: day(7), Note: "Mixed fresh; no good on the next day.", Invented: true},
			{Name: "Dish soap", Material: "detergent", StrengthUnit: studio.Pure, Strength: 100, Invented: true},
		},
		chambers: []studio.Chamber{
			{Name: "Grey tub", VolumeL: 54, Pad: "felt, two layers", PadML: 90, GapMM: 40, TiltDeg: 0.5, Places: 14, LengthMM: 520, WidthMM: 360, HeightMM: 240, Note: "Lid sealed with a strip of foam; opened in the yard only.", Invented: true},
			{Name: "Lidded bucket", VolumeL: 12, Pad: "folded towel", PadML: 30, GapMM: 60, TiltDeg: 1, Places: 4, Invented: true},
		},
	}
}

// number gives everything an ID of its own, for when there is no store.
func (b *bench) number(now time.Time) {
	for i := range b.metals {
		b.metals[i].ID = int64(i + 1)
	}
	for i := range b.supplies {
		b.supplies[i].ID = int64(i + 1)
	}
	for i := range b.chambers {
		b.chambers[i].ID = int64(i + 1)
	}
	for i, w := range b.writings(now) {
		v := w.version
		v.ID = int64(i + 1)
		if w.over >= 0 {
			v.OverID = int64(w.over + 1)
		}
		b.versions = append(b.versions, v)
	}
}

// writing is one recipe version as it came to be written: the first of a name
// makes the recipe, a later one of the same name a further version of it. over
// is the place of the version it lies over, -1 for none.
type writing struct {
	name    string
	version studio.Version
	over    int
}

// writings returns the workshop's recipes in the order they were written. They
// are invented, and not a source to colour metal by.
func (b *bench) writings(now time.Time) []writing {
	const min = time.Minute
	use := func(kind studio.StepKind, supply int, a studio.Amount, tool string, d time.Duration) studio.Step {
		s := b.supplies[supply]
		step := studio.Step{Kind: kind, SupplyID: s.ID, Material: s.Material, Amount: a, Tool: tool, Duration: d}
		if s.StrengthUnit == studio.WtPercent {
			step.Strength = s.Strength
		}
		return step
	}
	fume := func(d, late time.Duration) studio.Step {
		s := use(studio.Fume, ammonia, studio.Amount{}, "", d)
		s.ChamberID = b.chambers[tub].ID
		s.Early, s.Late = 5*min, late
		s.Note = "Lid on at once. Open in the yard, face turned away."
		return s
	}
	clean := func() []studio.Step {
		return []studio.Step{
			use(studio.Degrease, soap, studio.Amount{}, "nylon brush", 2*min),
			{Kind: studio.Abrade, Tool: "grey pad", Duration: 3 * min, Note: "Along the long side, until the lines are even."},
			{Kind: studio.Rinse, Duration: 1 * min, Note: "Water must run off as one sheet."},
			{Kind: studio.Dry, Duration: 15 * min, Late: 30 * min, Place: "rack by the window"},
		}
	}
	finish := func() []studio.Step {
		return []studio.Step{
			{Kind: studio.Rest, Duration: 30 * min, Late: 60 * min, Place: "yard, under the roof"},
			{Kind: studio.BrushOut, Tool: "soft brush", Duration: 2 * min, Note: "Loose salt only; over the waste tray."},
			{Kind: studio.Rinse, Duration: 1 * min, Note: "One gentle dip."},
			{Kind: studio.Dry, Duration: 60 * min, Late: 12 * 60 * min, Place: "rack by the window"},
		}
	}
	join := func(parts ...[]studio.Step) (all []studio.Step) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	light := studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light}
	spray := studio.Amount{Value: 40, SD: 15, Unit: studio.MLPerM2, Hand: studio.Light}
	sponge := studio.Amount{Value: 80, SD: 15, Unit: studio.MLPerM2} // a swatch weighed before and after

	ago := func(days int) time.Time { return now.AddDate(0, 0, -days).UTC() }
	return []writing{
		{"Salt over a wetted face, fumed", studio.Version{
			Steps: join(clean(), []studio.Step{
				use(studio.Wet, water, spray, "spray bottle", 1*min),
				use(studio.Sprinkle, tableSalt, light, "fingers, from a hand's width", 1*min),
				fume(120*min, 10*min),
			}, finish()),
			Why: "First try, after the gate hinge that came out so well.", Made: ago(30)}, -1},
		{"Salt over a wetted face, fumed", studio.Version{
			Steps: join(clean(), []studio.Step{
				use(studio.Wet, water, spray, "spray bottle", 1*min),
				use(studio.Sprinkle, tableSalt, light, "tea strainer", 1*min),
				fume(240*min, 10*min),
			}, finish()),
			Why: "Strainer instead of fingers: evener. Twice the time, because two hours gave mostly brown.", Made: ago(26)}, -1},
		{"Brushed liquid and salt, fumed", studio.Version{
			Steps: join(clean(), []studio.Step{
				use(studio.Wet, water, sponge, "wide brush", 1*min),
				use(studio.Sprinkle, tableSalt, light, "tea strainer", 1*min),
				fume(240*min, 10*min),
			}, finish()),
			Why: "To compare liquids under the same salt.", Made: ago(15)}, -1},
		{"Salt water by sponge, overnight", studio.Version{
			Steps: join(clean(), []studio.Step{
				use(studio.Wet, saltWater, sponge, "sponge, dabbed", 2*min),
				{Kind: studio.Rest, Duration: 15 * 60 * min, Early: 60 * min, Late: 180 * min, Place: "shelf, uncovered"},
				{Kind: studio.Rinse, Duration: 1 * min},
				{Kind: studio.Dry, Duration: 60 * min, Late: 12 * 60 * min, Place: "rack by the window"},
			}),
			Why: "What happens with no ammonia at all; for the lamp backs nobody sees.", Made: ago(15)}, -1},
		{"Base brown", studio.Version{
			Steps: join(clean(), []studio.Step{
				use(studio.Wet, sulfur, sponge, "soft brush", 1*min),
				{Kind: studio.Rest, Duration: 4 * min, Early: 1 * min, Late: 2 * min, Place: "bench by the open door"},
				{Kind: studio.Rinse, Duration: 3 * min, Note: "Cold and long, both sides: nothing may stay on."},
				{Kind: studio.Dry, Duration: 60 * min, Late: 24 * 60 * min, Place: "rack by the window"},
			}),
			Why: "A ground for the green to sit on.", Made: ago(9)}, -1},
		{"Salt over dry brown, fumed", studio.Version{
			Steps: join([]studio.Step{
				use(studio.Sprinkle, tableSalt, light, "tea strainer", 1*min),
				fume(300*min, 15*min),
			}, finish()),
			Over: studio.OverDry,
			Why:  "Dry on purpose: islands, not a wash, so that the brown shows between.", Made: ago(8)}, baseBrown},
	}
}
