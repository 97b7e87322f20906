package plan

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// TestStrengthsAsBottlesWriteThem: 26 degrees Baumé is 29.4 % ammonia (trade table of
// aqua ammonia); blue copper sulfate crystals are 63.93 % salt (159.61/249.68);
// 5 g of acetic acid in 100 mL of vinegar are 4.97 % (density 1.0055 kg/L).
func TestStrengthsAsBottlesWriteThem(t *testing.T) {
	for _, c := range []struct {
		material string
		value    float64
		unit     StockUnit
		want     float64
	}{{"ammonia-water", 28, ByWeight, 0.28}, {"ammonia-water", 26, Baume, 0.294}, {"ammonia-water", 0.9, Gravity, 0.285}, {"copper-sulfate", 0, Crystals, 0.6393}, {"vinegar", 50, PerLitre, 0.0497}, {"sodium-chloride", 0, Dry, 1}} {
		s, err := StockOf(c.material, c.value, c.unit)
		if err != nil {
			t.Errorf("%s %v %s: %v", c.material, c.value, c.unit, err)
			continue
		}
		near(t, c.material+" "+string(c.unit), s.Strength, c.want, 0.01)
	}
	for _, c := range []struct {
		material string
		value    float64
		unit     StockUnit
		field    string
	}{{"", 5, ByWeight, "material"}, {"vinegar", 26, Baume, "strength"}, {"ammonia-water", 99, ByWeight, "strength"}, {"ammonia-water", -1, ByWeight, "strength"}, {"sodium-chloride", 0, Crystals, "strength"},
		{"acetone", 100, PerLitre, "strength"}, {"ammonia-water", 5, Baume, "strength"}, {"vinegar", 5, "cups", "strength"}} {
		_, err := StockOf(c.material, c.value, c.unit)
		if p := studio.ProblemIn(err); p == nil || p.Field != c.field || p.Text == "" {
			t.Errorf("%s %v %s: %v", c.material, c.value, c.unit, err)
		}
	}
}

// A litre of 10 % ammonia is 957.5 g: 341.96 g (380.8 mL) of 28 % and 615.5 g of
// water; the volumes sum to 997.5 mL (CRC table of densities at 20 °C).
func TestALitreOfTenPercentAmmonia(t *testing.T) {
	s, err := StockOf("ammonia-water", 28, ByWeight)
	if err != nil {
		t.Fatal(err)
	}
	c, err := MixOf(s, 10, 1000, true)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ammonia", c.Mix.StockG, 341.96, 0.001)
	near(t, "its volume", c.Mix.StockML, 380.8, 0.001)
	near(t, "water", c.Mix.WaterG, 615.5, 0.001)
	near(t, "volumes", c.Mix.StockML+c.Mix.WaterML, 997.5, 0.001)
	near(t, "weight of 100 mL", c.Mix.CheckG, 95.75, 0.001)
	order := strings.Join(c.Order, "\n")
	if w, a := strings.Index(order, "g of water"), strings.Index(order, "ammonia into water"); w < 0 || a < w {
		t.Errorf("the order is %q", c.Order)
	}
	if len(c.Measures) != 4 || len(c.Cautions) == 0 || !strings.HasPrefix(c.Label[0], "ammonia water 10 %") {
		t.Errorf("got %+v", c)
	}
	if v := c.Volumes(); v != "Volumes do not add up: 380.8 mL and 616.6 mL make 1000.0 mL, not 997.5 mL." {
		t.Errorf("of volumes it says %q", v)
	}
	if small, err := MixOf(s, 10, 9, false); err != nil || !strings.Contains(small.Order[1], "5.79 g of water") || strings.Contains(small.Volumes(), "too small") {
		t.Errorf("of 9 g: %+v, %q, %v", small.Order, small.Volumes(), err)
	}
	near(t, "loading", FaceML(200, 50, 50, 12), 6, 1e-9)
}

func TestMixesThatCannotBe(t *testing.T) {
	s, err := StockOf("ammonia-water", 10, ByWeight)
	if err != nil {
		t.Fatal(err)
	}
	acid, err := StockOf("sulfuric-acid", 96, ByWeight)
	if err != nil {
		t.Fatal(err)
	}
	salt, err := StockOf("ammonium-chloride", 0, Dry)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		s          Stock
		to, amount float64
		ml         bool
		kind       studio.Kind
		field      string
	}{{s, 12, 100, false, studio.Invalid, "to"}, {s, 0, 100, false, studio.Invalid, "to"}, {s, 5, 0, false, studio.Invalid, "amount"}, {s, 5, 1e9, true, studio.Invalid, "amount"}, {salt, 5, 100, true, studio.Invalid, "amount"}, {acid, 10, 100, false, studio.Unsafe, ""}} {
		_, err := MixOf(c.s, c.to, c.amount, c.ml)
		if p := studio.ProblemIn(err); p == nil || p.Kind != c.kind || p.Field != c.field {
			t.Errorf("%s to %v, %v: %v", c.s.Words, c.to, c.amount, err)
		}
	}
	for _, x := range []studio.Supply{{Name: "Spirit", Material: "ethanol", Strength: 70, StrengthUnit: studio.VolPercent}, {Name: "Old bottle", Material: "ammonia-water", StrengthUnit: studio.WtPercent}} {
		if _, err := SupplyStock(x); studio.ProblemIn(err) == nil {
			t.Errorf("%s: %v", x.Name, err)
		}
	}
	blue, err := SupplyStock(studio.Supply{Name: "Blue crystals", Material: "copper-sulfate", StrengthUnit: studio.Pure, Lot: "7"})
	if err != nil || blue.Assumed == "" || !strings.Contains(blue.Words, "lot 7") {
		t.Errorf("got %+v, %v", blue, err)
	}
}

// Whatever is mixed, mass and what is dissolved are kept.
func TestAnyMixKeepsItsMass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key := rapid.SampledFrom([]string{"ammonia-water", "vinegar", "acetic-acid"}).Draw(t, "what")
		sub, _ := matter.Lookup(key)
		top := sub.Bands[len(sub.Bands)-1].BelowWtPercent
		s, err := StockOf(key, rapid.Float64Range(sub.Bands[0].FromWtPercent+0.1, top*0.999).Draw(t, "from"), ByWeight)
		if err != nil {
			t.Fatal(err)
		}
		to := rapid.Float64Range(0.01, 100*s.Strength).Draw(t, "to")
		c, err := MixOf(s, to, rapid.Float64Range(0.1, 1e5).Draw(t, "g"), false)
		if err != nil { // none of these is stopped: of acids only concentrated sulfuric is
			t.Fatal(err)
		}
		if d := c.Mix.StockG + c.Mix.WaterG - c.Mix.TotalG; d > 1e-6*c.Mix.TotalG || d < -1e-6*c.Mix.TotalG {
			t.Fatalf("%v g of the mix are lost", d)
		}
		if d := c.Mix.StockG*s.Strength - c.Mix.TotalG*to/100; d > 1e-6*c.Mix.TotalG || d < -1e-6*c.Mix.TotalG {
			t.Fatalf("%v g of what is dissolved are lost", d)
		}
	})
}
