package colour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// anyLab draws a colour a real surface could nearly have, to three decimals, so
// that two different draws differ by more than rounding.
func anyLab(t *rapid.T, label string) Lab {
	v := func(low, high int, axis string) float64 {
		return float64(rapid.IntRange(low, high).Draw(t, label+axis)) / 1000
	}
	return Lab{v(0, 100000, " L"), v(-120000, 120000, " a"), v(-120000, 120000, " b")}
}

func near(a, b Lab, within float64) bool {
	return math.Abs(a.L-b.L) <= within && math.Abs(a.A-b.A) <= within && math.Abs(a.B-b.B) <= within
}

// TestLabMatchesPublishedVectors holds each set to the accuracy it was rounded
// to: A scikit-image (2 decimals), B colorspacious from the Lindbloom calculator
// (4 decimals from an XYZ of 6), C colour-science (a white of 8 decimals).
func TestLabMatchesPublishedVectors(t *testing.T) {
	within := map[string]float64{"A": 8e-3, "B": 1.2e-3, "C": 5e-7}
	for _, r := range table(t, "lab_vectors.csv", 49) {
		white := XYZ{r.number(t, "Xn"), r.number(t, "Yn"), r.number(t, "Zn")}
		xyz := XYZ{r.number(t, "X"), r.number(t, "Y"), r.number(t, "Z")}
		want := r.lab(t, "L", "a", "b")
		if got := xyz.Lab(white); !near(got, want, within[r["src"]]) {
			t.Errorf("%s %s %v: got %v, want %v", r["src"], r["white"], xyz, got, want)
		}
	}
}

func TestWhitesMatchPublishedOnes(t *testing.T) {
	named := map[string]XYZ{"A_2deg": A, "A_10deg": ATen, "D55_2deg": D55, "D55_10deg": D55Ten,
		"D50_10deg": D50Ten, "D65_10deg": D65Ten, "D50_2deg": D50, "D65_2deg": D65, "D65_2deg_xy0.3127_0.3290": D65}
	for _, r := range table(t, "lab_vectors.csv", 49) {
		got, ok := named[r["white"]]
		if !ok {
			t.Fatalf("no white named %s", r["white"])
		}
		// D50 of ICC profiles and of the CIE tables differ by 3e-4 in Z, D65 from x, y and
		// from the tables by 2.3e-4.
		if off := math.Max(math.Abs(got.X-r.number(t, "Xn")), math.Abs(got.Z-r.number(t, "Zn"))); off > 4e-4 {
			t.Errorf("%s is off by %.1e from %s", r["white"], off, r["src"])
		}
	}
}

func TestLabGoesThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lab := anyLab(t, "lab")
		white := rapid.SampledFrom([]XYZ{D50, D55, D65, A, D50Ten, D65Ten}).Draw(t, "white")
		if got := lab.XYZ(white).Lab(white); !near(got, lab, 1e-9) {
			t.Fatalf("%v came back as %v", lab, got)
		}
	})
}

func TestWhiteAndBlackAreTheEndsOfLab(t *testing.T) {
	for _, white := range []XYZ{D50, D65, A} {
		if got := white.Lab(white); got != (Lab{L: 100}) {
			t.Errorf("white is %v", got)
		}
		if got := (XYZ{}).Lab(white); !near(got, Lab{}, 1e-12) {
			t.Errorf("black is %v", got)
		}
	}
}

// TestChromaAndHueMatchTable checks C* and h of the 17 colours of srgb8_to_lab.csv.
func TestChromaAndHueMatchTable(t *testing.T) {
	for _, r := range table(t, "srgb8_to_lab.csv", 17) {
		lab := r.lab(t, "L_D50", "a_D50", "b_D50")
		if math.Abs(lab.Chroma()-r.number(t, "C_D50")) > 1e-3 {
			t.Errorf("%s: chroma %v, want %s", r["name"], lab.Chroma(), r["C_D50"])
		}
		if lab.Chroma() > 1 && math.Abs(lab.Hue()-r.number(t, "h_D50")) > 2e-3 {
			t.Errorf("%s: hue %v, want %s", r["name"], lab.Hue(), r["h_D50"])
		}
	}
}

func TestLChGoesThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lab := anyLab(t, "lab")
		if h := lab.Hue(); h < 0 || h >= 360 {
			t.Fatalf("hue %v", h)
		}
		if got := FromLCh(lab.L, lab.Chroma(), lab.Hue()); !near(got, lab, 1e-9) {
			t.Fatalf("%v came back as %v", lab, got)
		}
	})
}

func TestGreyHasHueZero(t *testing.T) {
	for _, lab := range []Lab{{L: 50}, {50, math.Copysign(0, -1), 0}, {50, 0, math.Copysign(0, -1)}, {50, math.Copysign(0, -1), math.Copysign(0, -1)}} {
		if h := lab.Hue(); h != 0 {
			t.Errorf("hue of %v is %v", lab, h)
		}
	}
	if h := (Lab{50, 1, -1e-300}).Hue(); h >= 360 {
		t.Errorf("a hue just below zero came out as %v", h)
	}
}

// TestBradfordMatchesPublishedMatrices checks against bradford.csv, whose cone
// matrix is that of ICC.1 annex E and equals colour-science 0.4.6.
func TestBradfordMatchesPublishedMatrices(t *testing.T) {
	iec := XYZ{0.9505, 1, 1.0890}
	got := map[string]Matrix{
		"cone_Bradford": bradford, "D65xy_to_D50icc": BradfordMatrix(D65, D50), "D50icc_to_D65xy": BradfordMatrix(D50, D65),
		"D65iec(0.9505;1;1.0890)_to_D50icc": BradfordMatrix(iec, D50), "D50icc_to_D65iec": BradfordMatrix(D50, iec),
		"sRGBlinear_to_XYZ_D50": SRGB.Matrix(), "DisplayP3linear_to_XYZ_D50": DisplayP3.Matrix(),
	}
	for _, r := range table(t, "bradford.csv", 7) {
		m, ok := got[r["name"]]
		if !ok {
			t.Errorf("no matrix for %s", r["name"])
		}
		sameMatrix(t, r["name"], m, r.numbers(t, "m11", "m12", "m13", "m21", "m22", "m23", "m31", "m32", "m33"), 1e-9)
	}
}

func sameMatrix(t *testing.T, name string, got Matrix, want []float64, within float64) {
	t.Helper()
	for i := range 9 {
		if math.Abs(got[i/3][i%3]-want[i]) > within {
			t.Errorf("%s: element %d,%d is %.10f, want %.10f", name, i/3+1, i%3+1, got[i/3][i%3], want[i])
		}
	}
}

func TestAdaptTurnsWhiteIntoWhite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whites := []XYZ{D50, D55, D65, A}
		from := rapid.SampledFrom(whites).Draw(t, "from")
		to := rapid.SampledFrom(whites).Draw(t, "to")
		if got := Adapt(from, from, to); !nearXYZ(got, to) {
			t.Fatalf("white became %v, want %v", got, to)
		}
		c := anyLab(t, "lab").XYZ(from)
		if got := Adapt(Adapt(c, from, to), to, from); !nearXYZ(got, c) {
			t.Fatalf("%v came back as %v", c, got)
		}
	})
}

func nearXYZ(a, b XYZ) bool {
	return math.Abs(a.X-b.X) < 1e-12 && math.Abs(a.Y-b.Y) < 1e-12 && math.Abs(a.Z-b.Z) < 1e-12
}
