package cli

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
)

const pictures = "../picture/testdata"

// rowsOf reads a table with a header and comments as one map a row.
func rowsOf(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, record := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = record[i]
		}
		out = append(out, row)
	}
	return out
}

func numberIn(t *testing.T, row map[string]string, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[name], 64)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return v
}

// The pictures hold eight flat patches of 40 x 60 pixels; expected.csv beside
// them gives the Lab (D50) that the stored values mean. The command reads each
// patch by its corners. The limits are what a careful reader reaches: the 8-bit
// values are exact in a PNG (the small profile of p8_srgb.png draws the sRGB
// curve by 42 points, up to 0.06 off), JPEG at quality 98 moves sRGB by up to
// 0.7 and Display P3 by up to 1.2 dE00.
func TestMeasureReadsThePatchesAsTheyAre(t *testing.T) {
	rows := rowsOf(t, filepath.Join(pictures, "expected.csv"))
	columns := map[string][3]string{
		"aimed": {"L", "a", "b"}, "srgb": {"L_srgb8", "a_srgb8", "b_srgb8"}, "p3": {"L_p38", "a_p38", "b_p38"},
	}
	for _, c := range []struct {
		file, want string
		limit      float64
	}{
		{"p8_p3.png", "p3", 0.01},
		{"p8_srgb_16bit.png", "aimed", 0.01},
		{"p8_srgb.png", "srgb", 0.06},
		{"p8_lossless.webp", "srgb", 0.06},
		{"p8_srgb.jpg", "srgb", 0.7},
		{"p8_untagged.jpg", "srgb", 0.7},
		{"p8_with_gps.jpg", "srgb", 0.7},
		{"p8_p3_v2.jpg", "p3", 1.2},
		{"p8_p3_v4.jpg", "p3", 1.2},
		{"p8_p3_exif_says_srgb.jpg", "p3", 1.2},
		{"p8_p3_trailing_second_jpeg.jpg", "p3", 1.2},
		{"p8_lossy.webp", "srgb", 1.2},
		{"p8_p3.heic", "p3", 1.2},
	} {
		worst := 0.0
		for i, row := range rows {
			names := columns[c.want]
			want := colour.Lab{L: numberIn(t, row, names[0]), A: numberIn(t, row, names[1]), B: numberIn(t, row, names[2])}
			got := measured(t, c.file, i)
			if got.Width != 160 || got.Height != 120 {
				t.Errorf("%s is %d x %d", c.file, got.Width, got.Height)
			}
			worst = math.Max(worst, colour.Difference(colour.Lab{L: got.Lab.L, A: got.Lab.A, B: got.Lab.B}, want))
		}
		t.Logf("%-32s worst patch %.4f dE00", c.file, worst)
		if !(worst <= c.limit) {
			t.Errorf("%s: worst patch %.3f dE00, at most %.2f", c.file, worst, c.limit)
		}
	}
}

// measured reads patch i (from 0) of one of the pictures.
func measured(t *testing.T, file string, i int) reading {
	t.Helper()
	x, y := i%4*40, i/4*60
	corners := fmt.Sprintf("%d,%d,%d,%d,%d,%d,%d,%d", x, y, x+40, y, x+40, y+60, x, y+60)
	out, errs, status := at("measure", filepath.Join(pictures, file), "--corners", corners, "--json")
	var list []reading
	if err := json.Unmarshal([]byte(out), &list); err != nil || len(list) != 1 || status != 0 || errs != "" {
		t.Fatalf("%s, patch %d: status %d, %v\n%s%s", file, i+1, status, err, out, errs)
	}
	return list[0]
}

// A grey JPEG has lightness only: neutral, and patch 8 is the neutral of L*
// 50.034 (expected.csv).
func TestMeasureReadsAGreyJPEGAsNeutral(t *testing.T) {
	for i := range 8 {
		if got := measured(t, "p8_grey.jpg", i); math.Hypot(got.Lab.A, got.Lab.B) > 0.01 {
			t.Errorf("patch %d: %+v", i+1, got.Lab)
		}
	}
	if got := measured(t, "p8_grey.jpg", 7); math.Abs(got.Lab.L-50.034) > 0.7 {
		t.Errorf("L* %.3f", got.Lab.L)
	}
}

// EXIF 2.32, tag 0x0112: all eight pictures show the same scene.
func TestMeasureTurnsPicturesOnce(t *testing.T) {
	for i := range 8 {
		first := measured(t, "orient_1.jpg", i)
		for o := 2; o <= 8; o++ {
			got := measured(t, fmt.Sprintf("orient_%d.jpg", o), i)
			d := colour.Difference(colour.Lab{L: got.Lab.L, A: got.Lab.A, B: got.Lab.B}, colour.Lab{L: first.Lab.L, A: first.Lab.A, B: first.Lab.B})
			if d > 0.7 {
				t.Errorf("orientation %d, patch %d is off by %.2f dE00", o, i+1, d)
			}
		}
	}
}

func TestMeasureRefusesCMYK(t *testing.T) {
	out, _, status := at("measure", filepath.Join(pictures, "p8_cmyk.jpg"), "--json")
	if status != exitMend || !strings.Contains(out, `"error": "A CMYK picture`) {
		t.Errorf("status %d: %s", status, out)
	}
}

// The 34 pairs of Sharma, Wu and Dalal, Color Res. Appl. 30(1):21-30 (2005),
// Table I, both ways round; the paper prints 4 decimals.
func TestDifferenceCommandMeetsThePublishedPairs(t *testing.T) {
	const table = "../science/colour/testdata/ciede2000_sharma2005.csv"
	rows := rowsOf(t, table)
	if len(rows) != 34 {
		t.Fatalf("%d pairs", len(rows))
	}
	var back strings.Builder
	for _, r := range rows {
		fmt.Fprintf(&back, "%s,%s,%s,%s,%s,%s\n", r["L2"], r["a2"], r["b2"], r["L1"], r["a1"], r["b1"])
	}
	turned := filepath.Join(t.TempDir(), "turned.csv")
	if err := os.WriteFile(turned, []byte(back.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{table, turned} {
		out, errs, status := at("colour", "difference", "--csv", file, "--json")
		var got []float64
		if err := json.Unmarshal([]byte(out), &got); err != nil || status != 0 || errs != "" || len(got) != 34 {
			t.Fatalf("%s: status %d, %v, %d numbers, %s", file, status, err, len(got), errs)
		}
		for i, r := range rows {
			if want := numberIn(t, r, "dE00"); math.Abs(got[i]-want) > 0.00005+1e-9 {
				t.Errorf("%s, pair %s: %.6f, want %.4f", file, r["pair"], got[i], want)
			}
		}
		out, _, _ = at("colour", "difference", "--csv", file)
		for i, line := range strings.Fields(out) {
			if line != fmt.Sprintf("%.4f", numberIn(t, rows[i], "dE00")) {
				t.Errorf("%s, pair %s is printed as %s", file, rows[i]["pair"], line)
			}
		}
	}
}
