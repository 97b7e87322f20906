package plan

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// Along one direction the spread is the residual standard deviation of a one-way
// analysis of variance: the certified one of NIST's SiRstv (testdata names the
// source). Its values are put on L* near 50, where one L* is one ΔE00.
func TestSpreadIsTheResidualOfReplicates(t *testing.T) {
	var looks []Alike
	for _, row := range publishedTable(t, "sirstv.csv") {
		v, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		looks = append(looks, Alike{Kind: row[0], Lab: colour.Lab{L: 50 + v - 196.15}})
	}
	cert := publishedTable(t, "sirstv_certified.csv")[0]
	want, err := strconv.ParseFloat(cert[len(cert)-1], 64)
	if err != nil {
		t.Fatal(err)
	}
	s := SpreadOf(looks)
	if s.Assumed || s.Kinds != 5 || s.Swatches != 25 || math.Abs(s.SD/want-1) > 1e-3 {
		t.Errorf("%+v, certified %v", s, want)
	}
}

// Too few replicates, or none, are not a spread.
func TestSpreadIsAssumedFromTooFew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var looks []Alike
		left := 0
		count := map[string]int{}
		for range rapid.IntRange(0, 20).Draw(t, "looks") {
			k := rapid.SampledFrom([]string{"a", "b", "c", "d", "e", "f"}).Draw(t, "kind")
			looks = append(looks, Alike{k, colour.Lab{L: rapid.Float64Range(0, 100).Draw(t, "L"), A: rapid.Float64Range(-80, 80).Draw(t, "a"), B: rapid.Float64Range(-80, 80).Draw(t, "b")}})
			if count[k]++; count[k] > 1 {
				left++
			}
		}
		s := SpreadOf(looks)
		if left < 6 && !s.Assumed || !(s.SD > 0) || math.IsInf(s.SD, 0) {
			t.Fatalf("%+v from %d degrees of freedom", s, left)
		}
		if s.Assumed != strings.Contains(s.Words(), "assumed") {
			t.Fatalf("%+v says %q", s, s.Words())
		}
	})
}

// Swatches to see: 16 for two levels and one spread's difference, power 0.8 at
// 0.05, are 17 of each by the exact t (Cohen 1988, table 2.4.1: d = 1.00, n = 17).
func TestSwatchesToSeeADifference(t *testing.T) {
	n, err := ToSee(2, Spread{SD: 2}, 2)
	if err != nil || n != 17 {
		t.Errorf("%d swatches of each, %v; the table has 17", n, err)
	}
	if _, err := ToSee(0, Spread{SD: 2}, 2); problemField(err) != "difference" {
		t.Errorf("a difference of nothing: %v", err)
	}
}
