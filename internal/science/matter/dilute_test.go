package matter

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func close2(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	t.Logf("%-52s %10.6g %10.6g %9.2g", what, want, got, got-want)
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tolerance)
	}
}

// Worked out by hand with densities of the CRC table: 28 to 10 % takes 1.800 kg of
// water a kg; 1 L of 10 % (957.5 g) is 341.96 g (380.8 mL) of 28 % and 615.54 g
// (616.6 mL) of water, which together measure 997.5 mL; 26 °Bé (29.4 %) to 5 %
// takes 4.880 kg a kg; 10 to 5 % is one to one by mass.
func TestWorkedDilutions(t *testing.T) {
	m, err := MixML("ammonia", 0.28, 0.10, 1000)
	if err != nil {
		t.Fatal(err)
	}
	close2(t, "g of 10 % in 1 L", m.TotalG, 957.5, 0.01)
	close2(t, "g of 28 %", m.StockG, 341.96, 0.01)
	close2(t, "mL of 28 %", m.StockML, 380.8, 0.1)
	close2(t, "g of water", m.WaterG, 615.54, 0.01)
	close2(t, "mL of water", m.WaterML, 616.6, 0.1)
	close2(t, "mL of both apart", m.StockML+m.WaterML, 997.5, 0.2)
	close2(t, "g that 100 mL of it weigh", m.CheckG, 95.75, 0.01)
	close2(t, "kg of water a kg of 28 %", m.WaterG/m.StockG, 1.800, 1e-9)
	w, err := AmmoniaOfBaume(26)
	if err != nil {
		t.Fatal(err)
	}
	m, err = MixGrams("ammonia", w, 0.05, 1000)
	if err != nil {
		t.Fatal(err)
	}
	close2(t, "kg of water a kg of 26 °Bé", m.WaterG/m.StockG, 4.880, 0.01)
	m, _ = MixGrams("household ammonia", 0.10, 0.05, 100)
	close2(t, "10 to 5 %, water over stock", m.WaterG/m.StockG, 1, 1e-12)
}

// A trade handbook's list of aqua ammonia by degrees Baumé, in testdata.
func TestBaumeMatchesTheTradeList(t *testing.T) {
	for _, r := range published(t, "ammonia_baume.csv") {
		w, err := AmmoniaOfBaume(num(t, r["Be_60F"]))
		if err != nil {
			t.Fatal(err)
		}
		// 0.0002 of gravity is 0.0006 of strength
		close2(t, r["Be_60F"]+" °Bé, % by mass", 100*w, num(t, r["wt_pct_NH3"]), 0.06)
		w, err = AmmoniaOfGravity(num(t, r["SG_60_60_from_Be"]))
		if err != nil {
			t.Fatal(err)
		}
		close2(t, "SG "+r["SG_60_60_from_Be"]+", % by mass", 100*w, num(t, r["wt_pct_NH3"]), 0.08)
	}
}

// CuSO4.5H2O: 159.61/249.68 (CRC molar masses); copper in the crystals 0.2545.
func TestCrystalsHoldTheirWater(t *testing.T) {
	for name, want := range map[string]float64{
		"copper-sulfate-pentahydrate": 159.61 / 249.68, "copper chloride dihydrate": 134.45 / 170.48, "copper-nitrate-trihydrate": 187.56 / 241.60,
		"copper-acetate-monohydrate": 181.63 / 199.65, "ferric-chloride-hexahydrate": 162.20 / 270.30, "sodium-thiosulfate-pentahydrate": 158.11 / 248.18,
	} {
		c, ok := CrystalOf(name)
		if !ok {
			t.Errorf("%s is not there", name)
			continue
		}
		close2(t, name, c.Anhydrous, want, 2e-4)
	}
	for _, c := range Crystals() {
		if _, ok := Lookup(c.Key); !ok {
			t.Errorf("%s is a crystal of %s, which is not there", c.Name, c.Key)
		}
		if s, ok := Lookup(c.Name); ok && s.Key != c.Key {
			t.Errorf("%s is both of %s and another name of %s", c.Name, c.Key, s.Key)
		}
	}
}

// Mass and what is dissolved are kept; by mass and by volume are one.
func TestDilutionKeepsMass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(0.01, 1).Draw(t, "from")
		to := from * rapid.Float64Range(0.001, 1).Draw(t, "share")
		grams := rapid.Float64Range(1, 1e5).Draw(t, "grams")
		key := rapid.SampledFrom([]string{"ammonia-water", "vinegar", "salt", "citric-acid"}).Draw(t, "key")
		m, err := MixGrams(key, from, to, grams)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(m.StockG+m.WaterG-grams) > 1e-9*grams || math.Abs(m.StockG*from-grams*to) > 1e-9*grams || m.WaterG < 0 {
			t.Fatalf("%+v loses something", m)
		}
		if m.TotalML > 0 {
			again, err := MixML(key, from, to, m.TotalML)
			if err != nil || math.Abs(again.StockG/m.StockG-1) > 1e-9 {
				t.Fatalf("%+v by volume is %+v, %v", m, again, err)
			}
		}
	})
}

func TestDilutionRefusesWhatCannotBe(t *testing.T) {
	for _, c := range [][3]float64{{0, 0.1, 100}, {0.1, 0.2, 100}, {0.1, 0, 100}, {1.1, 0.1, 100}, {0.3, 0.1, 0}, {math.NaN(), 0.1, 1}, {0.3, math.NaN(), 1}, {0.3, 0.1, math.Inf(1)}} {
		_, err := MixGrams("ammonia", c[0], c[1], c[2])
		refused(t, "mix", err)
	}
	_, err := MixML("ammonia", 0.3, 0.1, math.NaN())
	refused(t, "mL", err)
	if _, err := MixML("citric acid", 1, 0.1, 100); !errors.Is(err, ErrNoDensity) {
		t.Errorf("citric acid by volume: %v", err)
	}
	if _, err := MixGrams("potion", 1, 0.1, 100); !errors.Is(err, ErrUnknown) {
		t.Errorf("potion: %v", err)
	}
	_, err = AmmoniaOfBaume(30)
	refused(t, "Baumé", err)
	_, err = AmmoniaOfGravity(math.NaN())
	refused(t, "gravity", err)
}
