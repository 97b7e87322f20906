package film

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

// TestPlainWaterDriesAsFickSays: W / (k c (1 - RH)) with 17.3 g/m³ over water at
// 20 °C (IAPWS-95, 17.31) and k 0.0035 m/s: 50 g/m² at 50 % take 459 s x 1000/1000.
func TestPlainWaterDriesAsFickSays(t *testing.T) {
	d, err := Drying(Wet{WaterGPerM2: 50, Temperature: 20, RoomRH: 0.5, K: 0.0035})
	if err != nil {
		t.Fatal(err)
	}
	want := 50 / (0.0035 * 17.31 * 0.5) / 3600
	if d.Outlook != Dries || math.Abs(d.Hours.Value/want-1) > 0.002 {
		t.Errorf("%v after %v h, want %v", d.Outlook, d.Hours.Value, want)
	}
}

// TestRoomKIsBetweenTwoFormulas: free convection over a plate of 10 cm facing up
// (Lloyd and Moran 1974, Sh = 0.54 Ra^(1/4) on area over perimeter) and the
// evaporation of still pools (Carrier as ASHRAE prints it, 0.089 W/(m² Pa) over
// the heat of evaporation); both from memory. Room at 20 °C and 50 %.
func TestRoomKIsBetweenTwoFormulas(t *testing.T) {
	const diffusivity, viscosity, length = 2.475e-5, 1.51e-5, 0.1 / 4
	// Moist air is lighter: 0.378 of the difference of vapour pressures over p.
	lift := 0.378 * 0.5 * 2339 / 101325
	rayleigh := 9.80665 * lift * math.Pow(length, 3) / (viscosity * diffusivity)
	plate := 0.54 * math.Pow(rayleigh, 0.25) * diffusivity / length
	pool := 0.089 * 0.5 * 2339 / 2.45e6 * 1000 / (0.5 * 17.31)
	t.Logf("plate %.4f m/s, pool %.4f m/s, ours %.4f", plate, pool, RoomK)
	if !(RoomK >= 0.8*min(plate, pool) && RoomK <= 1.2*max(plate, pool)) || max(plate, pool)/RoomK > RoomKFactor || RoomK/min(plate, pool) > RoomKFactor {
		t.Errorf("RoomK %v lies outside %v and %v", RoomK, plate, pool)
	}
}

// TestSaltStaysWetAbove75Percent: NaCl deliquesces at 75.5 % at 20 °C (Greenspan
// 1977); within 2 % no one can tell.
func TestSaltStaysWetAbove75Percent(t *testing.T) {
	for _, c := range []struct {
		rh   float64
		want Outlook
	}{{0.30, Dries}, {0.50, Dries}, {0.73, Dries}, {0.745, Unclear}, {0.765, Unclear}, {0.78, Never}, {0.95, Never}, {1, Never}} {
		d, err := Drying(Wet{Salt: "sodium-chloride", SaltGPerM2: 15, WaterGPerM2: 60, Temperature: 20, RoomRH: c.rh})
		if err != nil {
			t.Fatal(err)
		}
		if d.Outlook != c.want {
			t.Errorf("at %v: %v, want %v", c.rh, d.Outlook, c.want)
		}
		if math.Abs(d.Deliquescence-0.7548) > 0.0005 {
			t.Errorf("deliquescence %v", d.Deliquescence)
		}
		if len(d.Assumed) < 3 || len(d.Cautions) == 0 {
			t.Errorf("at %v: too little said of what it rests on: %v %v", c.rh, d.Assumed, d.Cautions)
		}
	}
}

// TestBrineThatStays: water left at 80 to 98 % and 25 °C against an independent
// computation from the same activities; the pull to Greenspan's humidity moves it
// by up to 1 %.
func TestBrineThatStays(t *testing.T) {
	for _, row := range figures(t, "brine_at_rest.csv") {
		if row[0] < 78 || row[0] > 98 {
			continue
		}
		d, err := Drying(Wet{Salt: "sodium-chloride", SaltGPerM2: 10, WaterGPerM2: 300, Temperature: 25, RoomRH: row[0] / 100})
		if err != nil {
			t.Fatal(err)
		}
		if want := 10 * row[3]; math.Abs(d.StaysGPerM2/want-1) > 0.01 {
			t.Errorf("%v %%: %.2f g/m² stay, the table says %.2f", row[0], d.StaysGPerM2, want)
		}
	}
}

// TestDryingAgreesWithSteppingThroughIt holds the integral against the same film
// stepped in time.
func TestDryingAgreesWithSteppingThroughIt(t *testing.T) {
	const k = 0.003
	d, err := Drying(Wet{Salt: "sodium-chloride", SaltGPerM2: 15, WaterGPerM2: 120, Temperature: 20, RoomRH: 0.5, K: k})
	if err != nil {
		t.Fatal(err)
	}
	b := brine(t, "sodium-chloride", 20)
	air := Air{H2O: b.pressure / 2}
	hours := 0.0
	for w := 120.0; w > 0; hours += 1.0 / 3600 {
		w = b.Advance(1, k, air, air, 20, 15, w)
	}
	if math.Abs(d.Hours.Value/hours-1) > 0.01 {
		t.Errorf("integral %v h, steps %v h", d.Hours.Value, hours)
	}
}

func TestDryingOrders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := science.Celsius(rapid.Float64Range(0, 40).Draw(t, "t"))
		w := Wet{
			Salt: rapid.SampledFrom(wettable(temp)).Draw(t, "salt"), SaltGPerM2: rapid.Float64Range(0, 300).Draw(t, "salt g"),
			WaterGPerM2: rapid.Float64Range(0.01, 1000).Draw(t, "water"), Temperature: temp,
			RoomRH: rapid.Float64Range(0, 1).Draw(t, "rh"), K: rapid.SampledFrom([]float64{0, 0.001, 0.01}).Draw(t, "k"),
		}
		dry := func(w Wet) Dried {
			d, err := Drying(w)
			if err != nil {
				t.Fatal(err)
			}
			if !(d.Hours.Low <= d.Hours.Value && d.Hours.Value <= d.Hours.High) || d.Hours.Low < 0 {
				t.Fatalf("%+v gave %+v", w, d.Hours)
			}
			if (d.Outlook == Dries) == math.IsInf(d.Hours.Value, 1) {
				t.Fatalf("%v after %v h", d.Outlook, d.Hours.Value)
			}
			return d
		}
		base := dry(w)
		more := w
		more.WaterGPerM2 *= 1.5
		if d := dry(more); d.Hours.Value < base.Hours.Value*(1-1e-9) {
			t.Fatalf("more water dries sooner: %v, %v", d.Hours.Value, base.Hours.Value)
		}
		damper := w
		damper.RoomRH = min(1, w.RoomRH+0.05)
		if d := dry(damper); d.Hours.Value < base.Hours.Value*(1-1e-9) {
			t.Fatalf("a damper room dries sooner: %v, %v", d.Hours.Value, base.Hours.Value)
		}
	})
}

func TestDryingRefuses(t *testing.T) {
	for _, w := range []Wet{
		{WaterGPerM2: -1, Temperature: 20, RoomRH: 0.5}, {WaterGPerM2: 10, Temperature: 20, RoomRH: 1.2},
		{WaterGPerM2: math.NaN(), Temperature: 20, RoomRH: 0.5}, {WaterGPerM2: 10, Temperature: 60, RoomRH: 0.5},
		{WaterGPerM2: 10, SaltGPerM2: -2, Salt: "sodium-chloride", Temperature: 20, RoomRH: 0.5},
	} {
		_, err := Drying(w)
		var out *science.RangeError
		if !errors.As(err, &out) {
			t.Errorf("%+v gave %v", w, err)
		}
	}
	if _, err := Drying(Wet{Salt: "dust", SaltGPerM2: 3, WaterGPerM2: 10, Temperature: 20}); err == nil {
		t.Error("it knew a salt that is not")
	}
}
