package fume_test

import (
	"math"
	"testing"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/studio"
)

// The salt in a mixed liquid lies on the face as if it had been dissolved alone:
// 80 mL/m² with 5 % of salt in it leave 4 g/m² (water-like liquids are taken as
// 1 g to the mL), and one of unknown strength leaves the forecast unknown.
func TestSaltInAMixedLiquidCounts(t *testing.T) {
	of := func(s studio.Step) fume.Coat {
		s.Kind, s.Amount = studio.Wet, studio.Amount{Value: 80, Unit: studio.MLPerM2}
		stays := fume.StaysOf(fume.Job{Swatch: studio.Swatch{Number: 1, WidthMM: 50, HeightMM: 50},
			Treatment: studio.Treatment{Faces: studio.OnFront, Steps: []studio.Step{s, {Kind: studio.Fume, Material: "ammonia-water", Strength: 9, Duration: time.Hour}}}}, nil, time.Unix(0, 0))
		if len(stays) != 1 {
			t.Fatalf("%d stays", len(stays))
		}
		return stays[0].Coat
	}
	alone := of(studio.Step{Material: "sodium-chloride", Strength: 5})
	mixed := of(studio.Step{Material: "vinegar", Also: []studio.Part{{Material: "sodium-chloride", Strength: 5}}})
	if alone.Salt == "" || mixed.Salt != alone.Salt || math.Abs(mixed.SaltGPerM2-4) > 1e-9 || math.Abs(mixed.WaterGPerM2-alone.WaterGPerM2) > 1e-9 || mixed.Unknown {
		t.Errorf("alone %+v, mixed %+v", alone, mixed)
	}
	if c := of(studio.Step{Material: "vinegar", Also: []studio.Part{{Material: "sodium-chloride"}}}); !c.Unknown {
		t.Errorf("a salt of unknown strength: %+v", c)
	}
	if c := of(studio.Step{Material: "water", Also: []studio.Part{{Material: "alum", Strength: 1}}}); c.Unknown || len(c.Doubt) == 0 {
		t.Errorf("what is no known salt: %+v", c)
	}
}
