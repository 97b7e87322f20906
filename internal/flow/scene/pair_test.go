package scene_test

import (
	"math"
	"testing"

	"aerugo/internal/flow/scene"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// The differences are pairs 1 and 17 of Sharma, Wu & Dalal 2005 (Color Res. Appl.
// 30: 21-30).
func TestDifferenceWithinOnePhotographIsThePublishedOne(t *testing.T) {
	for _, c := range []struct {
		a, b colour.Lab
		want float64
	}{
		{colour.Lab{L: 50, A: 2.6772, B: -79.7751}, colour.Lab{L: 50, A: 0, B: -82.7485}, 2.0425},
		{colour.Lab{L: 50, A: 2.5, B: 0}, colour.Lab{L: 73, A: 25, B: -18}, 27.1492},
	} {
		last := 0.0
		for i, m := range []studio.Measurement{{Correction: &studio.Correction{Target: "24 patches"}, Calibrated: true}, {Calibrated: true}, {}} {
			first, second := m, m
			first.Lab, second.Lab = c.a, c.b
			d := scene.Between(first, second)
			if math.Abs(d.DE00-c.want) > 5e-5 {
				t.Errorf("%v and %v are %.4f apart, published %.4f", c.a, c.b, d.DE00, c.want)
			}
			if d.L != c.b.L-c.a.L || d.A != c.b.A-c.a.A || d.B != c.b.B-c.a.B {
				t.Errorf("%v less %v is %+v", c.b, c.a, d)
			}
			if !(d.Low >= 0 && d.Low < d.DE00 && d.High > d.DE00) {
				t.Errorf("%+v lies outside its interval", d)
			}
			if wide := d.High - d.DE00; wide <= last {
				t.Errorf("with less known of the light (%d) the interval is no wider: %+v", i, d)
			} else {
				last = wide
			}
		}
		// a lamp kept by a grey card alone is no better than the card
		grey := studio.Measurement{Correction: &studio.Correction{Method: "grey card"}, Calibrated: true, Lab: c.a}
		other := grey
		other.Lab = c.b
		plain := scene.Between(studio.Measurement{Calibrated: true, Lab: c.a}, studio.Measurement{Calibrated: true, Lab: c.b})
		if got := scene.Between(grey, other); got != plain {
			t.Errorf("by a kept grey card %+v, by a grey card %+v", got, plain)
		}
	}
}
