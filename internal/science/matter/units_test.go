package matter

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// NIST SP 811 (2008), appendix B.8, seven digits as printed there (from memory;
// inch, pound, ounce, fluid ounce, teaspoon and gallon also read in copies).
func TestFactorsMatchNIST(t *testing.T) {
	for _, c := range []struct {
		from, to Unit
		want     float64
	}{
		{Inch, Millimetre, 25.4},
		{Ounce, Gram, 28.34952},
		{Pound, Kilogram, 0.4535924},
		{OuncePerFt2, GramPerM2, 305.1517},
		{FluidOunce, Millilitre, 29.57353},
		{Teaspoon, Millilitre, 4.928922},
		{Gallon, Litre, 3.785412},
	} {
		got, err := Convert(1, c.from, c.to)
		if err != nil || math.Abs(got.Value/c.want-1) > 1.5e-7 {
			t.Errorf("1 %s = %v %s, %v; want %v", c.from, got.Value, c.to, err, c.want)
		}
	}
}

// Fixed points of the scales: water freezes and boils, and they cross at -40.
func TestTemperatureScales(t *testing.T) {
	for c, f := range map[float64]float64{0: 32, 100: 212, -40: -40, 20: 68, 37: 98.6} {
		got, err := Convert(c, DegreeC, DegreeF)
		if err != nil || math.Abs(got.Value-f) > 1e-12 {
			t.Errorf("%v °C = %v °F, %v; want %v", c, got.Value, err, f)
		}
		back, err := Convert(f, DegreeF, DegreeC)
		if err != nil || math.Abs(back.Value-c) > 1e-12 {
			t.Errorf("%v °F = %v °C, %v; want %v", f, back.Value, err, c)
		}
	}
}

func TestCardTextIsRoundedForTheBench(t *testing.T) {
	for _, c := range []struct {
		v        float64
		from, to Unit
		want     string
	}{
		{200, GramPerM2, OuncePerFt2, "0.655 oz/ft²"},
		{60, Millilitre, FluidOunce, "2.03 fl oz"},
		{5, Millilitre, Teaspoon, "1 tsp"},
		{6.2, Millilitre, Teaspoon, "1 1/4 tsp"},
		{2.5, Millilitre, Teaspoon, "1/2 tsp"},
		{0.2, Millilitre, Teaspoon, "0.041 tsp"},
		{0, Millilitre, Teaspoon, "0 tsp"},
		{5, Gram, Ounce, "0.176 oz"},
		{0.511, Millimetre, Inch, "0.0201 in"},
		{50, Millimetre, Inch, "1.97 in"},
		{21.4, DegreeC, DegreeF, "71 °F"},
		{-0.2, DegreeC, DegreeC, "0 °C"},
		{20, Litre, Gallon, "5.28 gal"},
		{4.12345, Ounce, Gram, "117 g"},
		{50, Ounce, Gram, "1420 g"},
		{9.999, Gram, Gram, "10 g"},
		{100, MillilitrePerM2, FluidOunceFt2, "0.314 fl oz/ft²"},
	} {
		got, err := Convert(c.v, c.from, c.to)
		if err != nil || got.Text != c.want {
			t.Errorf("%v %s: %q, %v; want %q", c.v, c.from, got.Text, err, c.want)
		}
	}
}

func TestConversionIsRefused(t *testing.T) {
	for _, c := range []struct{ from, to Unit }{{Gram, Millilitre}, {GramPerM2, Gram}, {"cup", Millilitre}, {Gram, "grain"}} {
		if _, err := Convert(1, c.from, c.to); err == nil {
			t.Errorf("%s became %s", c.from, c.to)
		}
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), 1e12} {
		_, err := Convert(v, Gram, Ounce)
		refused(t, "mass", err)
	}
	_, err := Convert(-274, DegreeC, DegreeF)
	refused(t, "below absolute zero", err)
	_, err = Convert(-460, DegreeF, DegreeC)
	refused(t, "below absolute zero", err)
}

func TestConversionsTurnBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pairs := [][2]Unit{{Gram, Ounce}, {Kilogram, Pound}, {Millilitre, Teaspoon}, {Millilitre, FluidOunce}, {Litre, Gallon}, {Millimetre, Inch}, {GramPerM2, OuncePerFt2}, {MillilitrePerM2, FluidOunceFt2}, {DegreeC, DegreeF}}
		p := rapid.SampledFrom(pairs).Draw(t, "units")
		v := rapid.Float64Range(-200, 1e6).Draw(t, "value")
		there, err := Convert(v, p[0], p[1])
		if err != nil {
			t.Fatal(err)
		}
		back, err := Convert(there.Value, p[1], p[0])
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back.Value-v) > 1e-12*(math.Abs(v)+100) {
			t.Fatalf("%v %s came back as %v", v, p[0], back.Value)
		}
	})
}
