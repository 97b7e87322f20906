package colour

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// families are the basic names of the ISCC-NBS method (NBS Special Publication
// 440, table of hue names).
var families = []string{"pink", "red", "orange", "brown", "yellow", "olive", "green", "blue", "violet", "purple", "white", "grey", "black"}

// munsellValue returns the value V of a notation such as "4.5BG 2.7/5.0" or "N 9.25".
func munsellValue(t *testing.T, notation string) float64 {
	_, v, _ := strings.Cut(notation, " ")
	v, _, _ = strings.Cut(v, "/")
	return row{"value": v}.number(t, "value")
}

// TestCentroidLightnessFollowsMunsellValue: the value V gives Y by the quintic of
// ASTM D1535 (Y = 100 for the perfect white), coefficients from memory. Adapting from illuminant C to D50
// moves the lightness of strong colours by up to 3.
func TestCentroidLightnessFollowsMunsellValue(t *testing.T) {
	all := centroids()
	if len(all) != 267 {
		t.Fatalf("%d centroids, want 267", len(all))
	}
	for i, c := range all {
		if c.number != i+1 {
			t.Errorf("row %d bears the number %d", i+1, c.number)
		}
		v := munsellValue(t, c.munsell)
		y := v * (1.1914 + v*(-0.22533+v*(0.23352+v*(-0.020484+v*0.00081939)))) / 100
		want := (XYZ{Y: y}).Lab(XYZ{1, 1, 1}).L
		if within := 0.3 + 0.03*c.lab.Chroma(); math.Abs(c.lab.L-want) > within {
			t.Errorf("%d %s: L* %.2f, the Munsell value %v gives %.2f", c.number, c.name, c.lab.L, v, want)
		}
	}
}

// TestCentroidsMatchAnotherConversion: centroids of Kelly 1958 turned into 8-bit
// sRGB with colour-science (Munsell renotation by the method of Centore 2014), which
// shares no code with the conversion behind centroids.tsv.
func TestCentroidsMatchAnotherConversion(t *testing.T) {
	for name, hex := range map[string]string{
		"deep pink": "#e56e7b", "dark red": "#742a33", "moderate reddish orange": "#cc6b4f", "moderate reddish brown": "#7b4136",
		"light brown": "#aa7d5e", "moderate brown": "#704b34", "greyish brown": "#654f43", "brownish orange": "#b06832",
		"moderate orange yellow": "#e3a857", "moderate yellowish brown": "#866742", "greyish yellow": "#c2b283",
		"greyish olive": "#59543a", "moderate yellow green": "#899b58", "moderate olive green": "#485a20",
		"light yellowish green": "#95c794", "dark yellowish green": "#305e37", "light green": "#6aae90", "moderate green": "#36795f",
		"pale green": "#8da69c", "blackish green": "#15211d", "light bluish green": "#61aea4", "very light bluish green": "#92e5d6",
		"moderate greenish blue": "#2b7688", "light blue": "#72a5d2", "moderate blue": "#346996", "greyish blue": "#526879",
		"dark bluish grey": "#4d555a", "strong purplish blue": "#525aad", "moderate violet": "#5c4a81", "light purple": "#b893c4",
		"greyish reddish purple": "#846379", "strong purplish red": "#ba3e70", "dark grey": "#545454", "black": "#212121",
	} {
		i := slices.IndexFunc(centroids(), func(c centroid) bool { return c.name == name })
		if i < 0 {
			t.Errorf("no centroid is named %s", name)
			continue
		}
		if c := centroids()[i]; Difference(c.lab, shownLab(hex)) > 0.8 {
			t.Errorf("%s is %v, the other conversion gives %v", name, c.lab, shownLab(hex))
		}
	}
}

// TestCentroidsAgreeWithPublishedList compares with the sRGB list of nbs_srgb.csv,
// which was worked out by someone else and dulls colours the screen can't show.
func TestCentroidsAgreeWithPublishedList(t *testing.T) {
	var off []float64
	same := 0
	for _, r := range table(t, "nbs_srgb.csv", 267) {
		c := centroids()[int(r.number(t, "number"))-1]
		if c.name != r["name"] {
			t.Errorf("block %s is %s there, %s here", r["number"], r["name"], c.name)
		}
		listed := shownLab("#" + r["srgb"])
		off = append(off, Difference(c.lab, listed))
		if Name(listed) == c.name {
			same++
		}
	}
	slices.Sort(off)
	if median := off[len(off)/2]; median > 2.5 {
		t.Errorf("the median difference is %.2f", median)
	}
	if same < 200 {
		t.Errorf("only %d of 267 listed colours bear the same name here", same)
	}
	t.Logf("median %.2f, 90th percentile %.2f, same name %d of 267", off[133], off[240], same)
}

func TestEachCentroidBearsItsOwnName(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range centroids() {
		if got := Name(c.lab); got != c.name {
			t.Errorf("the centroid of %s is named %s", c.name, got)
		}
		if seen[c.name] || strings.Contains(c.name, "gray") || c.name != strings.ToLower(c.name) {
			t.Errorf("the name %q is there twice or badly spelled", c.name)
		}
		seen[c.name] = true
		if f := Family(c.lab); !slices.Contains(families, f) {
			t.Errorf("%s has the family %q", c.name, f)
		}
	}
}

// TestChartPatchesBearTheirMakersNames: patches of the 24-patch photographic
// target whose maker calls them by ISCC-NBS words or plain colours (X-Rite 2016,
// values from November 2014 on, D50).
func TestChartPatchesBearTheirMakersNames(t *testing.T) {
	for _, c := range []struct {
		patch string
		lab   Lab
		want  string
	}{
		{"bluish green", Lab{70.48, -32.26, -0.37}, "bluish green"},
		{"purplish blue", Lab{39.43, 10.75, -45.17}, "purplish blue"},
		{"moderate red", Lab{50.57, 48.64, 16.67}, "red"},
		{"purple", Lab{30.10, 22.54, -20.87}, "purple"},
		{"orange", Lab{62.73, 35.83, 56.50}, "orange"},
		{"foliage", Lab{43.46, -12.74, 22.72}, "olive green"},
		{"black", Lab{20.64, 0.07, -0.46}, "black"},
		{"neutral 5", Lab{50.76, -0.13, 0.14}, "grey"},
	} {
		if got := Name(c.lab); !strings.HasSuffix(got, c.want) {
			t.Errorf("%s %v is named %q", c.patch, c.lab, got)
		}
	}
}

func TestFamilyIsTheLastWordOfTheName(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLab(t, "lab")
		f := Family(l)
		if !strings.HasSuffix(Name(l), f) || !slices.Contains(families, f) {
			t.Fatalf("%v is named %q, family %q", l, Name(l), f)
		}
	})
}

// TestNeutralsHaveNeutralNames: the method calls a colour of next to no chroma
// white, grey or black at every lightness (NBS Special Publication 440, name charts:
// black up to value 2.5, white from 8.5; from memory).
func TestNeutralsHaveNeutralNames(t *testing.T) {
	for l, want := range map[float64]string{0: "black", 5: "black", 12: "black", 18: "black", 36: "dark grey", 56: "medium grey", 76: "light grey", 95: "white", 100: "white"} {
		if got := Name(Lab{L: l}); got != want {
			t.Errorf("a neutral of L* %v is named %s, want %s", l, got, want)
		}
	}
}

func TestNoNumberHasNoName(t *testing.T) {
	if n, f := Name(Lab{L: math.NaN()}), Family(Lab{L: math.NaN()}); n != "" || f != "" {
		t.Errorf("not a number is named %q, family %q", n, f)
	}
}

func TestBrokenCentroidLinesAreErrors(t *testing.T) {
	for _, line := range []string{"1 red", "x red 5R 40 1 2 read", "1 red 5R L 1 2 read", "1 red 5R 40 1 b read"} {
		if _, err := readCentroid(strings.Fields(line)); err == nil {
			t.Errorf("%q was read", line)
		}
	}
}

func BenchmarkName(b *testing.B) {
	l := Lab{66.6, -33.7, -7.4}
	for b.Loop() {
		if Name(l) == "" {
			b.Fatal("no name")
		}
	}
}
