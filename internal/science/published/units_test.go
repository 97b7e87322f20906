package published

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestUnitsAreAsPublished(t *testing.T) {
	// NIST SP 811 (2008), appendix B.8, to the figures printed there; imperial
	// from the gallon of 4.546 09 L (exact, same table).
	for _, x := range []struct {
		unit Unit
		want float64
		in   Unit
	}{
		{Grain, 0.06479891, Gram}, {Drachm, 1.771845, Gram}, {Ounce, 28.34952, Gram}, {Pound, 453.5924, Gram},
		{TeaspoonUS, 4.928922, Millilitre}, {TablespoonUS, 14.78676, Millilitre}, {FluidOunceUS, 29.57353, Millilitre}, {CupUS, 236.5882, Millilitre},
		{PintUS, 473.1765, Millilitre}, {QuartUS, 946.3529, Millilitre}, {GallonUS, 3785.412, Millilitre},
		{FluidOunceImp, 28.41306, Millilitre}, {PintImp, 568.26125, Millilitre}, {QuartImp, 1136.5225, Millilitre}, {GallonImp, 4546.09, Millilitre},
	} {
		got, in, err := Metric(1, x.unit)
		if err != nil || in != x.in || math.Abs(got-x.want) > 1e-6*x.want {
			t.Errorf("1 %s is %v %s (%v), want %v", x.unit, got, in, err, x.want)
		}
	}
	// the source of R64 gives 150 and 175 °F, the compiled table 66 and 79 °C
	for f, c := range map[float64]float64{150: 66, 175: 79, 32: 0, 212: 100} {
		if got, _, err := Metric(f, Fahrenheit); err != nil || math.Round(got) != c {
			t.Errorf("%v °F is %v °C (%v), want %v", f, got, err, c)
		}
	}
	if _, _, err := Metric(1, "pinch"); err == nil {
		t.Error("a pinch converts")
	}
	if _, _, err := Metric(math.NaN(), Ounce); err == nil {
		t.Error("no number converts")
	}
	if _, err := Original(math.Inf(1), Ounce); err == nil {
		t.Error("more than there is converts")
	}
}

func TestUnitsConvertBothWays(t *testing.T) {
	var units []Unit
	for u := range measures {
		units = append(units, u)
	}
	slices.Sort(units)
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(units).Draw(t, "unit")
		v := rapid.Float64Range(1e-3, 1e6).Draw(t, "amount")
		m, _, err := Metric(v, u)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Original(m, u)
		if err != nil || math.Abs(back-v) > 1e-12*v+1e-10 {
			t.Fatalf("%v %s comes back as %v (%v)", v, u, back, err)
		}
	})
}
