package matter

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// testdata/alloys.csv: Copper Development Association tables and mill sheets
// where marked S, from memory where marked M.
func TestAlloysMatchTheTable(t *testing.T) {
	rows := published(t, "alloys.csv")
	if len(rows) != len(Alloys()) {
		t.Errorf("%d alloys, %d in the table", len(Alloys()), len(rows))
	}
	for _, r := range rows {
		a, ok := Alloy(strings.ToLower(r["uns"]))
		if !ok {
			t.Errorf("%s is missing", r["uns"])
			continue
		}
		if a.DensityGPerCM3 != num(t, r["density_g_cm3"]) || a.Composition != r["composition_wt_pct"] {
			t.Errorf("%s: %+v, want %v", a.UNS, a, r)
		}
		// The same density in lb/in3: 1 lb/in3 = 27.6799 g/cm3 (NIST SP 811). Both
		// figures are rounded from a handbook's own range, so 0.0012 lb/in3 (0.4 %) apart is agreement.
		if d := a.DensityGPerCM3 / 27.6799; math.Abs(d-num(t, r["density_lb_in3"])) > 0.0012 {
			t.Errorf("%s: %.4f lb/in3, want %s", a.UNS, d, r["density_lb_in3"])
		}
		read := strings.HasPrefix(r["mark"], "S")
		if read != (a.Standing == "read in source") {
			t.Errorf("%s: standing %q, mark %q", a.UNS, a.Standing, r["mark"])
		}
	}
	if _, ok := Alloy("C99999"); ok {
		t.Error("C99999 was found")
	}
}

var least = regexp.MustCompile(`(Cu|Ni|Pb|Sn|Si) (\d+(?:\.\d+)?)(?:-(\d+(?:\.\d+)?))?( max)?`)
var zinc = regexp.MustCompile(`Zn (\d+(?:\.\d+)?-)?(\d+(?:\.\d+)?)`)

// The most zinc is what the least of the others leaves, or what is printed.
func TestZincFollowsFromTheComposition(t *testing.T) {
	for _, a := range Alloys() {
		var want float64
		switch m := zinc.FindStringSubmatch(a.Composition); {
		case m != nil:
			v, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			want = v / 100
		case strings.Contains(a.Composition, "Zn rem"):
			want = 1
			for _, part := range strings.Split(a.Composition, ", ") {
				m := least.FindStringSubmatch(part)
				if m == nil || m[3] == "" { // without a range the least is nought
					continue
				}
				v, err := strconv.ParseFloat(m[2], 64)
				if err != nil {
					t.Fatal(err)
				}
				want -= v / 100
			}
		}
		if math.Abs(a.ZincMax-want) > 1e-9 {
			t.Errorf("%s (%s): zinc up to %v, want %v", a.UNS, a.Composition, a.ZincMax, want)
		}
		if (a.Family == "brass" || a.Family == "nickel silver") != strings.Contains(a.Composition, "Zn rem") {
			t.Errorf("%s is filed under %s", a.UNS, a.Family)
		}
	}
}

// testdata/gauge_bs.csv: printed to 0.001 mm, and kg/m2 to 0.01.
func TestGaugeMatchesTheTable(t *testing.T) {
	for _, r := range published(t, "gauge_bs.csv") {
		n, err := strconv.Atoi(r["gauge_BS_AWG"])
		if err != nil {
			t.Fatal(err)
		}
		mm, err := GaugeMM(n)
		if err != nil || math.Abs(mm-num(t, r["mm"])) > 0.00051 || math.Abs(mm/25.4-num(t, r["inch"])) > 0.000051 {
			t.Errorf("gauge %d: %v mm, %v; want %s", n, mm, err, r["mm"])
		}
		for uns, column := range map[string]string{"C11000": "kg_m2_copper_8.89", "C26000": "kg_m2_C26000_8.53", "C22000": "kg_m2_C22000_8.80"} {
			kg, err := SheetKgPerM2(uns, mm)
			if err != nil || math.Abs(kg-num(t, r[column])) > 0.0051 {
				t.Errorf("gauge %d %s: %v kg/m2, %v; want %s", n, uns, kg, err, r[column])
			}
		}
		kg, _ := SheetKgPerM2("C11000", mm)
		oz, err := Convert(kg*1000, GramPerM2, OuncePerFt2)
		if err != nil || math.Abs(oz.Value-num(t, r["oz_ft2_copper"])) > 0.0051 {
			t.Errorf("gauge %d: %v oz/ft2, %v; want %s", n, oz.Value, err, r["oz_ft2_copper"])
		}
	}
	// The ends of the definition: No. 36 is 0.0050 in, and 92 times that is 4/0 (three steps beyond 0).
	zero, _ := GaugeMM(0)
	if got := zero / 25.4 * math.Pow(92, 3.0/39); math.Abs(got-0.46) > 1e-12 {
		t.Errorf("4/0 would be %v in, want 0.46", got)
	}
}

// Copper Development Association, architecture handbook, table 1.1.3, inches as
// printed to 0.0001 (two rows to 0.001).
func TestOunceCopperMatchesTheTable(t *testing.T) {
	for _, r := range published(t, "gauge_oz.csv") {
		oz := num(t, r["oz_per_ft2"])
		mm, err := OunceMM(oz)
		want := num(t, r["nominal_in"])
		if err != nil || math.Abs(mm/25.4-want) > 0.00005+0.003*want {
			t.Errorf("%v oz: %v in, %v; want %v", oz, mm/25.4, err, want)
		}
		if mm < num(t, r["minimum_mm"]) {
			t.Errorf("%v oz: %v mm is below the minimum %s", oz, mm, r["minimum_mm"])
		}
	}
}

func TestSheetSizesOutsideTheTablesAreRefused(t *testing.T) {
	for _, n := range []int{-1, 41} {
		_, err := GaugeMM(n)
		refused(t, "gauge", err)
	}
	for _, oz := range []float64{0, -3, 101, math.NaN()} {
		_, err := OunceMM(oz)
		refused(t, "ounces", err)
	}
	for _, mm := range []float64{-0.1, 51, math.NaN()} {
		_, err := SheetKgPerM2("C11000", mm)
		refused(t, "thickness", err)
	}
	if _, err := SheetKgPerM2("C00000", 1); err == nil {
		t.Error("C00000 has a mass")
	}
}
