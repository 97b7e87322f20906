package room

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/matter"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	t.Logf("%-64s %12.6g %12.6g %9.2g", what, want, got, got-want)
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tolerance)
	}
}

// CDC, MMWR 1994;43(RR-13), Table S3-1, in testdata: minutes to remove 90, 99
// and 99.9 % with perfect mixing, all 26 rows, as printed (rounded).
func TestClearingTimesMatchTheCDCTable(t *testing.T) {
	f, err := os.Open("testdata/cdc_air_changes.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 27 {
		t.Fatalf("%d rows, want a head and 26", len(rows))
	}
	for _, row := range rows[1:] {
		ach, _ := strconv.ParseFloat(row[0], 64)
		for i, left := range []PPM{0.1, 0.01, 0.001} {
			got, ok := Clearing(1, left, ach, 1)
			if printed := strconv.Itoa(int(math.Round(got.Minutes()))); !ok || printed != row[i+1] {
				t.Errorf("%s air changes to %v: %s min, the table has %s", row[0], left, printed, row[i+1])
			}
			// the table's note: multiply by K, 1 to 10, for imperfect mixing
			if badly, _ := Clearing(1, left, ach, 3); math.Abs(badly.Hours()/got.Hours()-3) > 1e-6 {
				t.Errorf("%s air changes: K 3 gives %v, not thrice %v", row[0], badly, got)
			}
		}
	}
}

// Published worked examples: an HVAC design guide, p. 106 (20 % to 1.4 % with a
// mixing factor of 0.2, its 1/K: 13.3 changes, 6.65 min at 2 a minute); a tracer
// example (20 m3, half-life 1.4 h: 9.9 m3/h).
func TestWorkedExamplesOfVentilation(t *testing.T) {
	n, err := Changes(20e4, 1.4e4, 1/0.2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "air changes, 20 % to 1.4 %, K 5", n, 13.3, 0.05)
	wait, ok := Clearing(20e4, 1.4e4, 120, 5)
	if !ok {
		t.Fatal("never clears")
	}
	near(t, "minutes at 2 changes a minute", wait.Minutes(), 6.65, 0.01)
	q, err := FlowFromHalfLife(20, 84*time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tracer flow, m3/h", q, 9.9, 0.01)
}

// Rows of CCOHS (ppm M p/(62.36 T)) and of NIOSH's pocket guide (1 ppm of
// ammonia = 0.70 mg/m3), made with 24.45 L at 25 °C and rounded as printed.
func TestPPMRowsMatchPublished(t *testing.T) {
	for _, c := range []struct {
		gas       string
		molarMass float64
		ppm, mg   float64
		within    float64 // relative
	}{
		{"ammonia 100 ppm", 17.03, 100, 69.65, 0.001},
		{"ammonia 50 mg/m3", 17.03, 71.785, 50, 0.001},
		{"ammonia 1 ppm", 17.03, 1, 0.70, 0.01},
		{"carbon dioxide 5000 ppm", 44.01, 5000, 9000, 0.001},
		{"benzene 30 mg/m3", 78.11, 9.4, 30, 0.005},
		{"toluene 100 ppm", 92.14, 100, 377, 0.0014}, // printed to three digits
	} {
		mg, err := ToMgPerM3(PPM(c.ppm), c.molarMass, 25, AtmosphereKPa)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.gas+", mg/m3", float64(mg), c.mg, c.within*c.mg)
		ppm, err := ToPPM(MgPerM3(c.mg), c.molarMass, 25, AtmosphereKPa)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.gas+", ppm", float64(ppm), c.ppm, c.within*c.ppm)
	}
}

// Rows worked out by hand with 24.47 L at 25 °C: 1 g of ammonia in 100 m3 is
// 14.4 ppm, a 20 L box at 10 % by volume holds 1.4 g, 20 ppm in 100 m3; 10 g/h
// held at 25 ppm takes 575 m3/h times K; 137 ppm falls to 25 in 17 min at 6 air
// changes. At 20 °C: 10.332 L of ammonia in 30 m3 is 344 ppm, 26.2 min to 25 ppm
// at 6 air changes, 79 min with K = 3.
func TestRoomRowsWorkedByHand(t *testing.T) {
	warm := Room{VolumeM3: 100, AirChangesPerH: 6, Mixing: 1, Temp: 25}
	peak := func(r Room, grams float64) float64 {
		c, err := r.Run(AmmoniaMolarMass, []Release{{Grams: grams}})
		if err != nil {
			t.Fatal(err)
		}
		p, _ := c.Peak()
		return float64(p)
	}
	near(t, "ppm of 1 g in 100 m3", peak(warm, 1), 14.4, 0.05)
	near(t, "ppm of 2.4 g in 100 m3", peak(warm, 2.4), 35, 0.7)
	near(t, "ppm of the 20 L box in 100 m3", peak(warm, 2/24.47*17.03), 20, 0.05)
	q, err := FlowToDilute(10, 25, AmmoniaMolarMass, 1, 25)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "m3/h for 10 g/h at 25 ppm", q, 575, 1)
	q, _ = FlowToDilute(10, 25, AmmoniaMolarMass, 3, 25)
	near(t, "m3/h for 10 g/h at 25 ppm, K 3", q, 1724, 2)
	wait, _ := Clearing(137, 25, 6, 1)
	near(t, "minutes from 137 to 25 ppm", wait.Minutes(), 17, 0.1)

	cool := Room{VolumeM3: 30, AirChangesPerH: 6, Mixing: 1, Temp: 20}
	c, err := cool.Run(AmmoniaMolarMass, []Release{{Grams: 7.3148}})
	if err != nil {
		t.Fatal(err)
	}
	p, _ := c.Peak()
	near(t, "ppm of 100 L over 10 % ammonia in 30 m3", float64(p), 344, 1)
	wait, _ = c.ClearAfter(25)
	near(t, "minutes to 25 ppm", wait.Minutes(), 26.2, 0.1)
	cool.Mixing = 3
	c, _ = cool.Run(AmmoniaMolarMass, []Release{{Grams: 7.3148}})
	wait, _ = c.ClearAfter(25)
	near(t, "minutes to 25 ppm, K 3", wait.Minutes(), 79, 0.5)
}

// mL whose full loss gives 35 ppm in 100 m3 at 25 °C, worked out by hand:
// densities of ammonia water from the CRC table at 20 °C.
func TestSpillsThatReachTheShortLimit(t *testing.T) {
	r := Room{VolumeM3: 100, Mixing: 1, Temp: 25}
	for _, c := range []struct{ percent, density, ml float64 }{
		{3, 985.2, 82}, {5, 977.0, 50}, {10, 957.5, 26}, {25, 906.5, 11}, {28, 897.9, 10},
	} {
		g, err := SpillGrams(c.ml/1000, c.density, c.percent/100)
		if err != nil {
			t.Fatal(err)
		}
		course, err := r.Run(AmmoniaMolarMass, []Release{{Grams: g}})
		if err != nil {
			t.Fatal(err)
		}
		p, _ := course.Peak()
		// the mL are whole numbers: half a mL either way
		near(t, "ppm of "+strconv.FormatFloat(c.ml, 'f', 0, 64)+" mL spilt", float64(p), 35, 35*0.5/c.ml+0.2)
	}
}

// NIOSH, Documentation for IDLH concentrations: ammonia, May 1994: REL 25 and
// 35 ppm, PEL 50, IDLH 300; the table's limits are used, not numbers here.
func TestRoomIsHeldAgainstPublishedLimits(t *testing.T) {
	gas, ok := matter.Lookup("ammonia-gas")
	if !ok {
		t.Fatal("no ammonia")
	}
	r := Room{VolumeM3: 30, AirChangesPerH: 6, Mixing: 1, Temp: 20}
	c, err := r.Run(AmmoniaMolarMass, []Release{{Grams: 7.3148}})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]Standing{}
	for _, s := range c.Against(gas.Limits) {
		seen[s.Agency+" "+s.Kind] = s
	}
	// A puff C0 that decays at q: mean over T is C0 (1 - exp(-qT))/(qT).
	mean := func(h float64) float64 { return 344.4 * -math.Expm1(-6*h) / (6 * h) }
	for _, c := range []struct {
		limit string
		value float64
		worst float64
		over  bool
	}{
		{"NIOSH REL 8 h", 25, mean(8), false},
		{"NIOSH REL 15 min", 35, mean(0.25), true},
		{"OSHA PEL 8 h", 50, mean(8), false},
		{"NIOSH IDLH immediately dangerous", 300, 344.4, true},
	} {
		s, ok := seen[c.limit]
		if !ok || s.Value != c.value || s.Over != c.over || s.Year != 1994 || s.Source == "" {
			t.Errorf("%s: %+v", c.limit, s)
			continue
		}
		near(t, c.limit+" in the example room, ppm", float64(s.Worst), c.worst, 0.5)
	}
	acts := c.Actions(gas.Limits)
	if len(acts) < 4 || acts[0].Text[:5] != "Don't" {
		t.Errorf("over the dangerous limit the first thing to do is %+v", acts)
	}
	calm, _ := r.Run(AmmoniaMolarMass, []Release{{Grams: 0.1}})
	if a := calm.Actions(gas.Limits); a[0].Text[:8] != "Lift the" {
		t.Errorf("a small release starts with %q", a[0].Text)
	}
}

func TestNonsenseIsRefused(t *testing.T) {
	good := Room{VolumeM3: 30, AirChangesPerH: 2, Mixing: 3, Temp: 20}
	nan := math.NaN()
	for _, r := range []Room{
		{0, 2, 3, 20}, {30, -1, 3, 20}, {30, 2, 0.2, 20}, {30, 2, 11, 20}, {30, 2, 3, 90}, {nan, 2, 3, 20}, {30, nan, 3, 20}, {30, 2, nan, 20}, {30, 2, 3, science.Celsius(nan)},
	} {
		_, err := r.Run(AmmoniaMolarMass, nil)
		refused(t, r, err)
	}
	for _, e := range []Release{{Grams: -1}, {Grams: nan}, {At: -time.Second}, {Over: 31 * 24 * time.Hour}} {
		_, err := good.Run(AmmoniaMolarMass, []Release{e})
		refused(t, e, err)
	}
	_, err := good.Run(0, nil)
	refused(t, "molar mass", err)
	_, err = ToPPM(-1, 17, 20, 101.325)
	refused(t, "negative concentration", err)
	_, err = ToMgPerM3(2e6, 17, 20, 101.325)
	refused(t, "above all", err)
	_, err = ToPPM(1, 17, 20, 0)
	refused(t, "no pressure", err)
	_, err = Changes(1, 2, 1)
	refused(t, "rising", err)
	_, err = FlowToDilute(1, 0, 17, 1, 20)
	refused(t, "limit 0", err)
	_, err = FlowFromHalfLife(20, 0)
	refused(t, "half-life 0", err)
	_, err = SpillGrams(1, 900, 28)
	refused(t, "strength in percent", err)
	if _, ok := Clearing(100, 25, 0, 1); ok {
		t.Error("a sealed room cleared")
	}
}

func refused(t *testing.T, what any, err error) {
	t.Helper()
	var r *science.RangeError
	if !errors.As(err, &r) {
		t.Errorf("%v: got error %v, want a RangeError", what, err)
	}
}
