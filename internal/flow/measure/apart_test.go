package measure

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

// Against Table I of Sharma, Wu & Dalal 2005 (Color Res. Appl. 30: 21-30).
func TestDifferenceFromOneColourIsSharmas(t *testing.T) {
	b, err := os.ReadFile("../../science/colour/testdata/ciede2000_sharma2005.csv")
	if err != nil {
		t.Fatal(err)
	}
	pairs := 0
	for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		field := strings.Split(line, ",")
		if strings.HasPrefix(line, "#") || field[0] == "pair" {
			continue
		}
		var v []float64
		for _, s := range field {
			x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, x)
		}
		p, q, want := colour.Lab{L: v[1], A: v[2], B: v[3]}, colour.Lab{L: v[4], A: v[5], B: v[6]}, v[len(v)-1]
		for _, got := range []float64{newFrom(q).difference(p), newFrom(p).difference(q)} {
			if math.Abs(got-want) > 1.5e-4 {
				t.Errorf("pair %s: %.5f, the table has %.4f", field[0], got, want)
			}
		}
		pairs++
	}
	if pairs != 34 {
		t.Errorf("%d pairs, the table has 34", pairs)
	}
}

func TestDifferenceFromOneColourIsDifference(t *testing.T) {
	lab := rapid.Custom(func(t *rapid.T) colour.Lab {
		return colour.Lab{L: rapid.Float64Range(0, 100).Draw(t, "L"), A: rapid.Float64Range(-120, 120).Draw(t, "a"), B: rapid.Float64Range(-120, 120).Draw(t, "b")}
	})
	rapid.Check(t, func(t *rapid.T) {
		p, q := lab.Draw(t, "p"), lab.Draw(t, "q")
		if rapid.Bool().Draw(t, "near") {
			q = colour.Lab{L: p.L + q.L/100, A: p.A + q.A/100, B: p.B + q.B/100}
		}
		if got, want := newFrom(q).difference(p), colour.Difference(p, q); !(math.Abs(got-want) < 1e-4) {
			t.Fatalf("%v from %v: %.7f, want %.7f", p, q, got, want)
		}
	})
}
