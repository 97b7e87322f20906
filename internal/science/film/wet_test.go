package film

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

// figures reads a table of numbers from testdata: comments, a header, rows.
func figures(t *testing.T, name string) (out [][]float64) {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range records[1:] {
		var row []float64
		for _, cell := range record {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		out = append(out, row)
	}
	if len(out) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return out
}

func brine(t interface{ Fatal(...any) }, salt string, temp science.Celsius) *Brine {
	b, err := NewBrine(salt, temp)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// wettable are the salts that can be computed at a temperature.
func wettable(temp science.Celsius) (keys []string) {
	for _, s := range solution.Salts() {
		if _, err := NewBrine(s.Key, temp); err == nil {
			keys = append(keys, s.Key)
		}
	}
	return keys
}

func TestSaltAndAmmoniumChlorideAreComputedEverywhere(t *testing.T) {
	for _, temp := range []science.Celsius{0, 12, 20, 28, 40} {
		for _, key := range []string{"sodium-chloride", "ammonium-chloride"} {
			brine(t, key, temp)
		}
	}
}

// TestBrineAtRest: the water that brine holds at each humidity against an
// independent computation (testdata/brine_at_rest.csv), rounded to 4 digits.
func TestBrineAtRest(t *testing.T) {
	b := brine(t, "sodium-chloride", 25)
	for _, row := range figures(t, "brine_at_rest.csv") {
		rh, molality, perG, um := row[0]/100, row[1], row[3], row[5]
		if m := b.Molality(10, 10*perG); math.Abs(m-molality) > 0.002*molality {
			t.Errorf("%v %%: molality %.4f, the table says %v", row[0], m, molality)
		}
		if a := b.Activity(0, 10, 10*perG); math.Abs(a-rh) > 0.0005 {
			t.Errorf("%v %%: activity %.5f", row[0], a)
		}
		if got, err := b.ThicknessUM(0, 10, 10*perG); err != nil || math.Abs(got-um) > 0.005*um {
			t.Errorf("%v %%: %.2f µm (%v), the table says %v", row[0], got, err, um)
		}
	}
}

// TestBrineWithAmmonia: NaCl brine at the bath's ammonia activity against an
// independent computation, rounded to 4 digits. The table lets ammonia lower the
// salt's solubility too, ours holds it: our own saturated film is therefore a
// little stronger, its activity lower by up to 0.02 at 10 wt% and 0.04 beyond.
func TestBrineWithAmmonia(t *testing.T) {
	b, bath := brine(t, "sodium-chloride", 25), brine(t, "", 25)
	for _, row := range figures(t, "brine_with_ammonia.csv") {
		air := bath.Over(row[1])
		if a := bath.Activity(air.NH3, 0, 1); math.Abs(a-row[2]) > 2e-4 {
			t.Errorf("%v wt%%: bath %.5f, the table says %v", row[0], a, row[2])
		}
		if n := b.Ammonia(air.NH3, row[4]); math.Abs(n-row[3]) > 0.001+0.0005*row[3] {
			t.Errorf("%v wt%%: %.4f mol/kg of ammonia in the film, the table says %v", row[0], n, row[3])
		}
		if a := b.Activity(air.NH3, 1, 1000/(row[4]*b.Salt.MolarMass)); math.Abs(a-row[5]) > 5e-4 {
			t.Errorf("%v wt%%: film %.4f, the table says %v", row[0], a, row[5])
		}
		low := 0.02
		if row[0] > 10 {
			low = 0.04
		}
		if a := b.Activity(air.NH3, 1, 0); a > row[5]+0.001 || a < row[5]-low {
			t.Errorf("%v wt%%: saturated film %.4f, the table says %v", row[0], a, row[5])
		}
	}
}

// TestActivityIsThatOfTheSolution: the terms taken apart in NewBrine put together
// again give package solution's own film activity.
func TestActivityIsThatOfTheSolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := science.Celsius(rapid.Float64Range(0, 40).Draw(t, "t"))
		key := rapid.SampledFrom(wettable(temp)).Draw(t, "salt")
		b := brine(t, key, temp)
		m := b.Saturated * rapid.Float64Range(0.001, 1).Draw(t, "of saturation")
		p := science.Pascal(rapid.Float64Range(1, 50000).Draw(t, "p"))
		n := b.Ammonia(p, m)
		if n > 25 {
			return
		}
		want, err := b.Salt.FilmActivity(m, n, temp)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.activity(p, m); math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("%s at %v °C, m %v, n %v: %v, package solution says %v", key, temp, m, n, got, want)
		}
	})
}

func TestAmmoniaInTheFilmAnswersItsPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := science.Celsius(rapid.Float64Range(0, 40).Draw(t, "t"))
		b := brine(t, "", temp)
		w := rapid.Float64Range(0.0001, 0.30).Draw(t, "w")
		v, err := solution.AmmoniaOver(w, temp)
		if err != nil {
			t.Fatal(err)
		}
		if n := b.Ammonia(v.NH3, 0); math.Abs(n/v.Molality-1) > 1e-9 {
			t.Fatalf("molality %v, from its own pressure %v", v.Molality, n)
		}
		air := b.Over(v.Molality)
		if math.Abs(float64(air.NH3/v.NH3)-1) > 1e-9 || math.Abs(float64(air.H2O/v.H2O)-1) > 1e-9 {
			t.Fatalf("over %v: %+v, package solution says %+v", w, air, v)
		}
	})
}

// TestSaltDrinksOverAnyBathAsWarm: with ammonia's activity the same, a dissolved
// salt can only lower the water's (Gibbs and Duhem).
func TestSaltDrinksOverAnyBathAsWarm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := science.Celsius(rapid.Float64Range(0, 40).Draw(t, "t"))
		b := brine(t, rapid.SampledFrom(wettable(temp)).Draw(t, "salt"), temp)
		v, err := solution.AmmoniaOver(rapid.Float64Range(0, 0.30).Draw(t, "w"), temp)
		if err != nil {
			t.Fatal(err)
		}
		water := b.Needs(10) * rapid.Float64Range(0.01, 20).Draw(t, "water")
		if j := b.Flux(Air{v.NH3, v.H2O}, temp, 1e-3, 10, water); !(j > 0) {
			t.Fatalf("%s takes up %v", b.Salt.Key, j)
		}
	})
}

func TestFilmsNeverPassTheirRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := science.Celsius(rapid.Float64Range(0, 40).Draw(t, "t"))
		b := brine(t, rapid.SampledFrom(wettable(temp)).Draw(t, "salt"), temp)
		salt := rapid.Float64Range(0.01, 200).Draw(t, "salt g")
		water := rapid.Float64Range(0, 2000).Draw(t, "water")
		h := math.Pow(10, rapid.Float64Range(0, 6).Draw(t, "lg h"))
		k := math.Pow(10, rapid.Float64Range(-5, -1).Draw(t, "lg k"))
		air := Air{H2O: science.Pascal(float64(b.pressure) * rapid.Float64Range(0, 1).Draw(t, "rh"))}
		before := b.Flux(air, temp, k, salt, water)
		after := b.Advance(h, k, air, air, temp, salt, water)
		if after < 0 || math.IsNaN(after) || math.IsInf(after, 0) {
			t.Fatalf("%v g/m²", after)
		}
		slack := 1e-6 * (1 + water)
		if before > 0 && after < water-slack || before < 0 && after > water+slack {
			t.Fatalf("the flux was %v and the water went from %v to %v", before, water, after)
		}
		// The flux may fade to rounding, and not turn.
		if now := b.Flux(air, temp, k, salt, after); after > 0 && now*before < 0 && math.Abs(now) > 1e-7*k*b.VapourGPerM3 {
			t.Fatalf("the flux turned from %v to %v", before, now)
		}
	})
}

func TestAdvanceIsOfSecondOrder(t *testing.T) {
	b := brine(t, "sodium-chloride", 20)
	from, to := Air{9000, 2090}, Air{7000, 2130}
	end := func(n int) float64 {
		w, h := 60.0, 6*3600/float64(n)
		for i := range n {
			at := func(i int) Air {
				s := float64(i) / float64(n)
				return Air{from.NH3 + science.Pascal(s*s)*(to.NH3-from.NH3), from.H2O + science.Pascal(s*s)*(to.H2O-from.H2O)}
			}
			w = b.Advance(h, 2e-3, at(i), at(i+1), 20, 15, w)
		}
		return w
	}
	truth := end(4096)
	order := math.Log2(math.Abs(end(8)-truth) / math.Abs(end(16)-truth))
	t.Logf("order %.3f", order)
	if order < 1.8 {
		t.Errorf("order %.2f, want 2", order)
	}
}

func TestNewBrineRefuses(t *testing.T) {
	if _, err := NewBrine("no-such-salt", 20); err == nil {
		t.Error("it knew a salt that is not")
	}
	for _, temp := range []science.Celsius{-1, 41, science.Celsius(math.NaN())} {
		if _, err := NewBrine("sodium-chloride", temp); err == nil {
			t.Errorf("it took %v °C", temp)
		}
	}
}

func BenchmarkAdvance(b *testing.B) {
	s := brine(b, "sodium-chloride", 20)
	air := Air{9000, 2090}
	b.ReportAllocs()
	for b.Loop() {
		s.Advance(300, 6e-4, air, air, 20, 15, 60)
	}
}
