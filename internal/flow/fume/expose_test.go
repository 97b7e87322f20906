package fume

import (
	"math"
	"slices"
	"testing"

	"aerugo/internal/studio"
)

// What is reckoned once agrees with the whole forecast, whose times are held against
// figures computed apart from this program, within its longer steps.
func TestExposureAgreesWithTheForecast(t *testing.T) {
	swatch := studio.Swatch{Number: 1, WidthMM: 50, HeightMM: 70}
	bench := Bench{Chamber: tub}
	for _, tc := range []struct{ wet, salt float64 }{{0, 15}, {0, 8}, {150, 80}, {60, 15}, {60, 0}} {
		planned := salted(1, tc.wet, tc.salt, 12)
		if tc.salt == 0 {
			planned.Steps = slices.Delete(planned.Steps, 1, 2)
		}
		f := Foretell(bench, planned, swatch, nil)[0]
		e, ok := Expose(bench, planned, swatch, studio.Front, nil)
		if !ok {
			t.Fatalf("%v: not reckoned", tc)
		}
		want := max(f.Takes.Value, 0)
		if tc.salt == 0 {
			want = 0
		}
		if math.Abs(e.TakesH-want) > 0.04*want+0.1 {
			t.Errorf("%v: dissolved after %.2f h, the forecast says %.2f", tc, e.TakesH, want)
		}
		if math.Abs(e.WetH-(12-want)) > 0.04*want+0.1 {
			t.Errorf("%v: wet for %.2f h, the forecast says %.2f", tc, e.WetH, 12-want)
		}
		if e.PPMH <= 0 {
			t.Errorf("%v: no ammonia met", tc)
		}
	}
	if _, ok := Expose(Bench{Chamber: studio.Chamber{ID: 99, VolumeL: 5}}, salted(1, 0, 15, 12), swatch, studio.Front, nil); ok {
		t.Error("exposed in a chamber that it is not put into")
	}
}

func BenchmarkExpose(b *testing.B) {
	planned := salted(1, 0, 15, 6)
	for b.Loop() {
		Expose(Bench{Chamber: tub}, planned, studio.Swatch{Number: 1, WidthMM: 50, HeightMM: 70}, studio.Front, nil)
	}
}
