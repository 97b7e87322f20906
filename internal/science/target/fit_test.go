package target

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
)

// rows reads a table of testdata without its comments and heading.
func rows(t testing.TB, name string) [][]string {
	t.Helper()
	b, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	return all[1:]
}

// realSamples are the patches of a real photograph, as an independent program
// (LittleCMS 2.14) brought them to Display P3.
func realSamples(t testing.TB, file string) []Sample {
	t.Helper()
	ref := After2014()
	var out []Sample
	for _, f := range rows(t, "real_chart_patches.csv") {
		if f[0] != file {
			continue
		}
		n, err := strconv.Atoi(f[1])
		if err != nil {
			t.Fatal(err)
		}
		s := Sample{Patch: ref.Patches[n-1]}
		var v [3]float64
		for c := range v {
			if v[c], err = strconv.ParseFloat(f[6+c], 64); err != nil {
				t.Fatal(err)
			}
			v[c] /= 255
		}
		s.RGB[0], s.RGB[1], s.RGB[2] = colour.DisplayP3.Decode(v[0], v[1], v[2])
		out = append(out, s)
	}
	if len(out) != 24 {
		t.Fatalf("%s: %d patches", file, len(out))
	}
	return out
}

// The figures to reach are those of an independent computation over the same
// patches (numpy and LittleCMS), each the best of seven methods for that
// picture; see testdata/real_chart_accuracy.csv.
func TestPatchesLeftOutComeOutBetterThanWithThePlainMethods(t *testing.T) {
	for _, file := range []string{"target24_in_case.png", "target24_small_p3.jpg"} {
		goal := 100.0
		for _, f := range rows(t, "real_chart_accuracy.csv") {
			if v, err := strconv.ParseFloat(f[2], 64); err == nil && f[0] == file {
				goal = min(goal, v)
			}
		}
		c, err := Fit(realSamples(t, file), colour.DisplayP3)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %s: %.2f mean, %.2f at 95 %% (goal %.2f)", file, c.Method, c.LOOMean, c.LOOP95, goal)
		if c.LOOMean > goal {
			t.Errorf("%s: %.2f dE00 over patches left out, want %.2f at most", file, c.LOOMean, goal)
		}
	}
}
