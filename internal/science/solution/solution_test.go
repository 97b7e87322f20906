package solution

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
)

// rows reads a published table of testdata; its first line names the source.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	source, rest, _ := strings.Cut(string(b), "\n")
	if !strings.HasPrefix(source, "# source:") {
		t.Fatalf("%s names no source", name)
	}
	r := csv.NewReader(strings.NewReader(rest))
	r.FieldsPerRecord = -1
	r.LazyQuotes = true
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, head := range all[0] {
			if i < len(cells) {
				row[head] = cells[i]
			}
		}
		out = append(out, row)
	}
	return out
}

func num(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A board notes each check as it is made and shows the table with -v.
type board struct {
	*testing.T
	made int
}

// near checks a value against a published one, within rel of it or abs.
func (b *board) near(what string, ours, published, rel, abs float64) {
	b.Helper()
	b.made++
	off := ours - published
	if published != 0 {
		b.Logf("%-52s %12.6g %12.6g %+9.3g %+8.3f %%", what, published, ours, off, 100*off/published)
	} else {
		b.Logf("%-52s %12.6g %12.6g %+9.3g", what, published, ours, off)
	}
	if !(math.Abs(off) <= max(rel*math.Abs(published), abs)) {
		b.Errorf("%s: %v, published %v", what, ours, published)
	}
}

func must[T any](b *board) func(T, error) T {
	return func(v T, err error) T {
		b.Helper()
		if err != nil {
			b.Error(err)
		}
		return v
	}
}

// The sources and tolerances are those of each table's first line.
func TestTableOfChecks(t *testing.T) {
	b := &board{T: t}
	b.Logf("%-52s %12s %12s %9s %10s", "check", "published", "ours", "off", "")

	// IAPWS: IF97 at 300 K, IAPWS-95 at 275 K, SR1-86 at 400 K.
	b.near("water vapour 275 K, Pa", float64(must[science.Pascal](b)(WaterPressure(1.85))), 698.451167, 2e-4, 0)
	b.near("water vapour 300 K, Pa", float64(must[science.Pascal](b)(WaterPressure(26.85))), 3536.58941, 2e-4, 0)
	b.near("water vapour 400 K, Pa", float64(must[science.Pascal](b)(WaterPressure(126.85))), 245765.26, 2e-6, 0)
	for _, r := range rows(t, "water_properties.csv") {
		c := science.Celsius(num(t, r["t_C"]))
		b.near("water vapour "+r["t_C"]+" C, IAPWS-95, Pa", float64(must[science.Pascal](b)(WaterPressure(c))), num(t, r["psat_IAPWS95_Pa"]), 1.5e-4, 0)
		b.near("D of water in air "+r["t_C"]+" C, cm2/s", 1e4*float64(must[science.M2PerS](b)(WaterInAir(c))), num(t, r["D_H2O_air_cm2_s"]), 0, 6e-5)
		b.near("D of ammonia in air "+r["t_C"]+" C, cm2/s", 1e4*float64(must[science.M2PerS](b)(AmmoniaInAir(c))), num(t, r["D_NH3_air_cm2_s"]), 0, 6e-5)
		b.near("water density "+r["t_C"]+" C, IAPWS-95, kg/m3", float64(must[science.KgPerM3](b)(WaterDensity(c))), num(t, r["rho_liq_sat_kg_m3"]), 0, 0.1)
	}
	b.near("D of water in air 20 C, CRC, cm2/s", 1e4*float64(must[science.M2PerS](b)(WaterInAir(20))), 0.242, 0.03, 0)
	for _, r := range rows(t, "dewpoint_examples.csv") {
		p := science.Pascal(num(t, r["RH_pct"])/100) * must[science.Pascal](b)(WaterPressure(science.Celsius(num(t, r["t_C"]))))
		b.near("dew point "+r["t_C"]+" C "+r["RH_pct"]+" %, C", float64(must[science.Celsius](b)(DewPoint(p))), num(t, r["dew_IAPWS_C"]), 0, 0.001)
		if r["dew_published_C"] != "" {
			b.near("the same, worked example with Magnus, C", float64(must[science.Celsius](b)(DewPoint(p))), num(t, r["dew_published_C"]), 0, 0.04)
		}
	}
	b.near("tension 300 K, IAPWS, mN/m", 1e3*float64(must[science.NPerM](b)(WaterTension(26.85))), 71.6859625, 1e-8, 0)
	for _, r := range rows(t, "surface_tension_water.csv") {
		if r["sigma_table_mN_m"] != "" {
			b.near("tension of water "+r["t_C"]+" C, mN/m", 1e3*float64(must[science.NPerM](b)(WaterTension(science.Celsius(num(t, r["t_C"]))))), num(t, r["sigma_table_mN_m"]), 0, 0.06)
		}
	}
	for _, r := range rows(t, "surface_tension_solutions.csv") {
		if r["solute"] == "NH3" && num(t, r["wt_pct"]) <= 35 {
			b.near("tension of "+r["wt_pct"]+" % ammonia, mN/m", 1e3*float64(must[science.NPerM](b)(AmmoniaTension(num(t, r["wt_pct"])/100, 19.4))), num(t, r["sigma_mN_m"]), 0, 0.2)
		}
	}

	// Ammonia at 20 °C: 1 %, the last row 2 % (its strength is given to three digits).
	for i, r := range rows(t, "nh3_partial_pressure_20C.csv") {
		tol := 0.01
		if i == 11 {
			tol = 0.02
		}
		g := num(t, r["g_NH3_per_100g_H2O"])
		v := must[AmmoniaVapour](b)(AmmoniaOver(g/(100+g), 20))
		b.near("ammonia over "+r["g_NH3_per_100g_H2O"]+" g in 100 g, 20 C, kPa", float64(v.NH3)/1000, num(t, r["p_kPa"]), tol, 0)
	}
	v := must[AmmoniaVapour](b)(AmmoniaOver(0.10, 25))
	b.near("molality of 10 %", v.Molality, 6.5243, 0, 5e-5)
	b.near("ammonia over 10 %, 25 C, kPa", float64(v.NH3)/1000, 13.203, 0, 6e-4)
	b.near("water activity of 10 %, 25 C", v.WaterActivity, 0.8791, 0, 6e-5)
	b.near("water over 10 %, 25 C, kPa", float64(v.H2O)/1000, 2.787, 0, 6e-4)
	for _, r := range rows(t, "nh3_vle_compare.csv") {
		c, w := num(t, r["t_C"]), num(t, r["wt_pct"])
		if c > 40 || w > 30 {
			continue
		}
		v := must[AmmoniaVapour](b)(AmmoniaOver(w/100, science.Celsius(c)))
		if c >= 10 && w >= 15 {
			b.near("total over "+r["wt_pct"]+" % at "+r["t_C"]+" C, IAPWS G4-01, kPa", float64(v.NH3+v.H2O)/1000, num(t, r["TRF_ptot"]), 0.03, 0)
		}
		if c >= 10 && c <= 30 && w <= 28 {
			b.near("water over "+r["wt_pct"]+" % at "+r["t_C"]+" C, IAPWS G4-01, kPa", float64(v.H2O)/1000, num(t, r["TRF_pH2O"]), 0.02, 0)
		}
	}
	// Flammable from 15 to 28 % by volume: strengths worked apart.
	for _, tc := range []struct{ c, from, to float64 }{{20, 13.1, 19.3}, {25, 11.1, 16.9}, {10, 17.6, 24.4}} {
		from, to, err := AmmoniaFlammable(science.Celsius(tc.c))
		if err != nil {
			t.Fatal(err)
		}
		b.near("flammable from, % ammonia", 100*from, tc.from, 0, 0.06)
		b.near("flammable to, % ammonia", 100*to, tc.to, 0, 0.06)
	}

	names := map[string]string{"NaCl": "sodium-chloride", "KCl": "potassium-chloride", "KNO3": "potassium-nitrate", "NaNO3": "sodium-nitrate", "NH4Cl": "ammonium-chloride", "Na2CO3": "washing-soda",
		"HCH3CO2": "acetic-acid", "CuSO4": "copper-sulfate", "(NH4)2SO4": "ammonium-sulfate"}
	for _, r := range rows(t, "drh_greenspan.csv") {
		if s, ok := SaltOf(names[r["salt"]]); ok {
			for _, c := range []string{"10", "20", "25", "30"} {
				b.near("deliquescence of "+r["salt"]+" at "+c+" C, Greenspan, %", 100*must[float64](b)(s.Deliquescence(science.Celsius(num(t, c)))), num(t, r["RH"+c]), 0, 0.006)
			}
		}
	}
	for _, r := range rows(t, "drh_crc_wexler.csv") {
		if s, ok := SaltOf(names[r["salt"]]); ok {
			b.near("deliquescence of "+r["salt"]+" at 20 C, Wexler, %", 100*must[float64](b)(s.Deliquescence(20)), num(t, r["RH20"]), 0, 1.6) // ±2 % of the source
		}
	}
	salt, _ := SaltOf("sodium-chloride")
	for _, r := range rows(t, "nacl_water_activity.csv") {
		for _, c := range []string{"5", "15", "25", "35"} {
			b.near("water activity, "+r["molality"]+" mol/kg of salt, "+c+" C", must[float64](b)(salt.WaterActivity(num(t, r["molality"]), science.Celsius(num(t, c)))), num(t, r["aw_"+c+"C"]), 0, 1.2e-4)
		}
	}
	b.near("water activity at 6 mol/kg, Robinson and Stokes", must[float64](b)(salt.WaterActivity(6, 25)), 0.760, 0, 0.002)
	for _, r := range rows(t, "nacl_nh3_mutual.csv") {
		b.near("salt brine beside "+r["bath_wt_pct"]+" % ammonia, activity", must[float64](b)(salt.FilmActivity(num(t, r["film_mNaCl"]), num(t, r["film_mNH3"]), 25)), num(t, r["film_aw_sat"]), 0, 2e-4)
	}
	for _, r := range rows(t, "solubility.csv") {
		if s, ok := SaltOf(names[r["substance"]]); ok && r["t40"] != "" {
			for _, c := range []string{"0", "20", "40"} {
				b.near("solubility of "+r["substance"]+" at "+c+" C, g/100 g", 100*must[float64](b)(s.Solubility(science.Celsius(num(t, c)))), num(t, r["t"+c]), 1e-12, 0)
			}
		}
	}
	for _, r := range rows(t, "density_checks_20C.csv") {
		w, want := num(t, r["wt_pct"])/100, 1000*num(t, r["rho_table_g_cm3"])
		if r["solute"] == "NH3" {
			b.near("density of "+r["wt_pct"]+" % ammonia, kg/m3", float64(must[science.KgPerM3](b)(AmmoniaDensity(w, 20))), want, 0, 0.1)
			continue
		}
		tol := 0.6
		switch {
		case r["solute"] == "(NH4)2SO4":
			tol = 1.2
		case w > 0.4:
			tol = 2.4
		}
		b.near("density of "+r["wt_pct"]+" % "+r["solute"]+", kg/m3", float64(must[science.KgPerM3](b)(Density(names[r["solute"]], w, 20))), want, 0, tol)
	}
	// Handbook table of Tillner-Roth and Friend's formulation, 20 °C, and the trade's
	// statement of the slope: -0.27 kg/m3 a kelvin at 5 %, -0.75 at 30 %.
	for _, tc := range []struct{ w, slope float64 }{{0.05, -0.27}, {0.30, -0.75}} {
		lo, hi := float64(must[science.KgPerM3](b)(AmmoniaDensity(tc.w, 20))), float64(must[science.KgPerM3](b)(AmmoniaDensity(tc.w, 30)))
		b.near("slope of the density of ammonia, kg/m3 a kelvin", (hi-lo)/10, tc.slope, 0.12, 0)
	}
	for _, r := range rows(t, "nacl_density_20C.csv") {
		b.near("density of "+r["wt_pct"]+" % salt, kg/m3", float64(must[science.KgPerM3](b)(Density("sodium-chloride", num(t, r["wt_pct"])/100, 20))), num(t, r["rho_20C_kg_m3"]), 0, 0.6)
	}
	t.Logf("%d checks", b.made)
	if b.made < 330 {
		t.Errorf("%d checks were made: a table was not read", b.made)
	}
}

func TestAmmoniaBehavesAsItMust(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, c := rapid.Float64Range(0.0001, 0.299).Draw(t, "w"), science.Celsius(rapid.Float64Range(0, 39.9).Draw(t, "t"))
		v, err := AmmoniaOver(w, c)
		if err != nil {
			t.Fatal(err)
		}
		pure, _ := WaterPressure(c)
		stronger, _ := AmmoniaOver(w+0.001, c)
		warmer, _ := AmmoniaOver(w, c+0.1)
		switch {
		case !(v.H2O < pure):
			t.Fatalf("water over %v at %v is %v, over pure water %v", w, c, v.H2O, pure)
		case !(stronger.WaterActivity < v.WaterActivity), !(stronger.NH3 > v.NH3), !(warmer.NH3 > v.NH3):
			t.Fatalf("at %v, %v: %+v, stronger %+v, warmer %+v", w, c, v, stronger, warmer)
		}
		m, err := AmmoniaMolalityAt(v.NH3, c)
		if err != nil || math.Abs(m/v.Molality-1) > 1e-9 || math.Abs(StrengthOf(m)/w-1) > 1e-9 {
			t.Fatalf("back from %v: %v, %v", v, m, err)
		}
		// The limit of Henry: at a hundred thousandth the pair term is gone.
		thin, _ := AmmoniaOver(1e-7, c)
		if got := thin.Molality / float64(thin.NH3); math.Abs(got/henryAt(c)-1) > 1e-6 {
			t.Fatalf("Henry's constant at %v is %v, want %v", c, got, henryAt(c))
		}
		// By Gibbs and Duhem: n_w d ln aw = -n_s d ln p of ammonia, by differences.
		const h = 1e-4
		a, b := v.Molality*(1-h), v.Molality*(1+h)
		lo, _ := AmmoniaOver(StrengthOf(a), c)
		hi, _ := AmmoniaOver(StrengthOf(b), c)
		left := math.Log(hi.WaterActivity / lo.WaterActivity)
		right := -molarWater / 1000 * v.Molality * math.Log(float64(hi.NH3/lo.NH3))
		if math.Abs(left-right) > 1e-6*math.Abs(right)+1e-13 {
			t.Fatalf("Gibbs and Duhem at %v, %v: %v against %v", w, c, left, right)
		}
	})
}

func TestSaltsBehaveAsTheyMust(t *testing.T) {
	for _, s := range Salts() {
		for c := science.Celsius(0); c <= 40; c += 5 {
			full, err := s.Solubility(c)
			if err != nil {
				t.Fatal(err)
			}
			most := 1000 * full / s.MolarMass
			last := 1.0
			for i := range 50 {
				m := most * float64(i+1) / 50
				a, err := s.WaterActivity(m, c)
				if err != nil {
					t.Fatalf("%s at %v mol/kg, %v °C, short of saturation at %v: %v", s.Key, m, c, most, err)
				}
				if !(a < last) {
					t.Fatalf("%s at %v °C: the activity rises from %v to %v at %v mol/kg", s.Key, c, last, a, m)
				}
				last = a
				beside, _ := s.FilmActivity(m, 5, c)
				if !(beside < a) {
					t.Fatalf("%s: ammonia beside it raises the activity", s.Key)
				}
			}
		}
		// Over its saturated brine each salt's activity is its deliquescence humidity.
		for c := science.Celsius(10); c <= 40; c += 10 {
			d, err := s.Deliquescence(c)
			full, _ := s.Solubility(c)
			a, err2 := s.WaterActivity(1000*full/s.MolarMass, c)
			if err != nil || err2 != nil || math.Abs(a-d) > 0.017 {
				t.Errorf("%s at %v °C: %v over the saturated brine, deliquescence %v (%v, %v)", s.Key, c, a, d, err, err2)
			}
		}
		d, err := s.Deliquescence(20)
		if err != nil || !(d > 0.3 && d < 1) {
			t.Errorf("%s: %v, %v", s.Key, d, err)
		}
	}
	if _, ok := SaltOf("sugar"); ok {
		t.Error("sugar is a salt")
	}
}

func TestOutsideItsRangeNothingIsGiven(t *testing.T) {
	salt, _ := SaltOf("sodium-chloride")
	nan := math.NaN()
	for name, err := range map[string]error{
		"cold water":     second(WaterPressure(-0.1)),
		"no temperature": second(WaterPressure(science.Celsius(nan))),
		"strong ammonia": second(AmmoniaOver(0.301, 20)),
		"hot ammonia":    second(AmmoniaOver(0.1, 40.1)),
		"no ammonia":     second(AmmoniaOver(nan, 20)),
		"its pressure":   second(AmmoniaMolalityAt(2e5, 20)),
		"its density":    second(AmmoniaDensity(-0.01, 20)),
		"its tension":    second(AmmoniaTension(0.36, 20)),
		"too much salt":  second(salt.WaterActivity(7, 20)),
		"hot salt":       second(salt.Solubility(41)),
		"ammonia beside": second(salt.FilmActivity(1, 41, 20)),
		"hot crystals":   second(salt.Deliquescence(81)),
		"a dense brine":  second(Density("sodium-chloride", 0.3, 20)),
		"the dew":        second(DewPoint(1)),
		"hot air":        second(WaterInAir(101)),
		"hot tension":    second(WaterTension(151)),
		"hot density":    second(WaterDensity(101)),
	} {
		if _, ok := err.(*science.RangeError); !ok {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Density("sugar", 0.1, 20); err == nil {
		t.Error("the density of sugar is known")
	}
}

func second[T any](_ T, err error) error { return err }

func BenchmarkAmmoniaOver(b *testing.B) {
	for b.Loop() {
		_, _ = AmmoniaOver(0.09, 20)
	}
}

func BenchmarkFilmActivity(b *testing.B) {
	s, _ := SaltOf("sodium-chloride")
	for b.Loop() {
		_, _ = s.FilmActivity(5, 4, 20)
	}
}
