package scale

import (
	"math"
	"testing"

	"aerugo/internal/science/chamber"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// The whole series of Crank (The Mathematics of Diffusion, 2nd edition, 1975, section
// 4.3, from memory), of which filling takes the first term: nine tenths at that time.
func TestFillingIsNineTenthsByTheWholeSeries(t *testing.T) {
	c := studio.Chamber{HeightMM: 350}
	box := chamber.Box{VolumeL: 80, Temp: 20}
	d, err := solution.AmmoniaInAir(20)
	if err != nil {
		t.Fatal(err)
	}
	at := filling(c, box).Seconds()
	missing := 0.0
	for n := range 200 {
		k := float64(2*n+1) * math.Pi
		missing += 8 / (k * k) * math.Exp(-float64(d)*k*k*at/(4*0.35*0.35))
	}
	if math.Abs(missing-0.1) > 1e-6 {
		t.Errorf("%.6f is missing after %.0f s", missing, at)
	}
	// half as high fills in a quarter of the time
	if got := filling(studio.Chamber{HeightMM: 175}, box).Seconds(); math.Abs(got*4-at) > 1e-6*at {
		t.Errorf("%g s and %g s", got, at)
	}
}

// By hand, copper 1 mm thick: 8.94 kg/m² × 385 J/(kg K) / (2 × 6 W/(m² K)) = 287 s.
// Humidity over 9 % ammonia at 20 °C is near 0.90; air of 90 % at 20 °C has its dew
// point at 18.3 °C (psychrometric tables), 1.7 °C below.
func TestMetalWarmsByHand(t *testing.T) {
	w := warming(8.94, 1)
	if math.Abs(w.Value*60-286.8) > 1 || w.Low >= w.Value || w.High <= w.Value {
		t.Errorf("%+v", w)
	}
	if twice := warming(8.94, 2); math.Abs(twice.Value-2*w.Value) > 1e-9 {
		t.Errorf("twice as thick: %+v", twice)
	}
	x := Takes{Ask: Ask{Metal: studio.Metal{ThicknessMM: 3, Alloy: "C11000"}}, Stays: []Stay{{Pad: Pad{Strength: 0.09}, Temp: 20}}}
	x.warm()
	if x.Warm == nil || math.Abs(x.Warm.MarginC-1.7) > 0.3 || x.Warm.DewMin.Value == 0 {
		t.Fatalf("%+v", x.Warm)
	}
	mild := 1.0
	x.ColderC = &mild
	if x.warm(); x.Warm.DewMin.Value != 0 {
		t.Errorf("dew on metal 1 °C colder: %+v", x.Warm)
	}
}

func TestAmountsAreRoundedUpAsMeasured(t *testing.T) {
	for v, want := range map[float64]float64{0: 0, 12.01: 13, 12: 12, 0.123: 0.13, 1234: 1300, 99.1: 100} {
		if got := RoundUp(v); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g is measured as %g, want %g", v, got, want)
		}
	}
}
