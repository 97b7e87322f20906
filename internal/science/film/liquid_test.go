package film

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

// IAPWS R1-76(2014), table 1 (300 K: 71.6859625 mN/m), and the handbook's list
// for 0, 10, 20, 25, 30, 40 °C.
func TestWaterTensionMatchesIAPWS(t *testing.T) {
	for c, want := range map[float64]float64{0: 75.7, 10: 74.2, 20: 72.75, 25: 72.0, 30: 71.2, 40: 69.6} {
		l, err := Water(science.Celsius(c))
		if err != nil {
			t.Fatal(err)
		}
		away(t, fmt.Sprintf("tension of water at %g °C, mN/m", c), 1000*l.TensionNPerM, want, 0.06)
	}
	l, err := Water(26.85)
	if err != nil {
		t.Fatal(err)
	}
	away(t, "tension of water at 300 K, mN/m", 1000*l.TensionNPerM, 71.6859625, 1e-6)
}

// CRC Handbook of Chemistry and Physics, density of water in kg/m3 (20 °C read,
// the others from memory).
func TestWaterDensityMatchesTheHandbook(t *testing.T) {
	for c, want := range map[float64]float64{0: 999.84, 4: 999.97, 10: 999.70, 20: 998.21, 30: 995.65, 40: 992.22, 60: 983.20} {
		l, err := Water(science.Celsius(c))
		if err != nil {
			t.Fatal(err)
		}
		away(t, fmt.Sprintf("density of water at %g °C, kg/m3", c), l.DensityKgPerM3, want, 0.02)
	}
}

// Tension: a trade handbook of ammonia water, 19.4 °C. Density: the CRC table at
// 20 °C.
func TestAmmoniaMatchesTheHandbooks(t *testing.T) {
	for w, want := range map[float64]float64{1.72: 71.65, 3.39: 70.65, 4.99: 69.95, 9.51: 67.85, 17.37: 65.25} {
		l, err := Ammonia(w/100, 19.4)
		if err != nil {
			t.Fatal(err)
		}
		away(t, fmt.Sprintf("tension of ammonia of %g %%, mN/m", w), 1000*l.TensionNPerM, want, 0.2)
	}
	for w, want := range map[float64]float64{1: 993.8, 5: 977.0, 10: 957.5, 20: 922.8, 30: 892.0} {
		l, err := Ammonia(w/100, 20)
		if err != nil {
			t.Fatal(err)
		}
		away(t, fmt.Sprintf("density of ammonia of %g %%, kg/m3", w), l.DensityKgPerM3, want, 0.1)
	}
}

// Warmer or stronger is never tighter nor, above 4 °C, heavier; ammonia of no
// strength is water.
func TestLiquidsLoosenWithWarmthAndStrength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp, w := rapid.Float64Range(10, 29).Draw(t, "temperature"), rapid.Float64Range(0, 0.29).Draw(t, "strength")
		here, err1 := Ammonia(w, science.Celsius(temp))
		warmer, err2 := Ammonia(w, science.Celsius(temp+1))
		stronger, err3 := Ammonia(w+0.01, science.Celsius(temp))
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		for _, other := range []Liquid{warmer, stronger} {
			if other.TensionNPerM >= here.TensionNPerM || other.DensityKgPerM3 >= here.DensityKgPerM3 {
				t.Fatalf("%+v after %+v", other, here)
			}
		}
		none, _ := Ammonia(0, science.Celsius(temp))
		water, _ := Water(science.Celsius(temp))
		if none.TensionNPerM != water.TensionNPerM || math.Abs(none.DensityKgPerM3-water.DensityKgPerM3) > 1e-9 {
			t.Fatalf("%+v is not %+v", none, water)
		}
	})
}

func TestLiquidsRefuseWhatCannotBe(t *testing.T) {
	for _, temp := range []float64{-1, 61, math.NaN()} {
		_, err := Water(science.Celsius(temp))
		outside(t, "water", err)
		_, err = SoapyWater(science.Celsius(temp))
		outside(t, "soapy water", err)
		_, err = Ammonia(0.1, science.Celsius(temp))
		outside(t, "ammonia", err)
	}
	for _, w := range []float64{-0.1, 0.31, 10, math.NaN()} {
		_, err := Ammonia(w, 20)
		outside(t, "strength", err)
	}
}
