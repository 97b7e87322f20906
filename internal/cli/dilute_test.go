package cli

import (
	"encoding/json"
	"math"
	"testing"

	"aerugo/internal/studio"
)

// FuzzStockIn: whatever is typed, there is a known stock with a strength that
// can be, or a Problem.
func FuzzStockIn(f *testing.F) {
	for _, seed := range []string{"", ":", "ammonia", "ammonia:28", "ammonia:26be", "ammonia:0.9sg", "ammonia:NaNsg", "salt", "salt:5%", "copper-sulfate-pentahydrate", "vinegar:1e999", "ammonia:-be"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		key, from, _, err := stockIn(text)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if key == "" || !(from > 0 && from <= 1) {
			t.Fatalf("%q is read as %s of %v", text, key, from)
		}
	})
}

// FuzzLiquidOf: whatever is typed, there is a liquid that can be, or a Problem.
func FuzzLiquidOf(f *testing.F) {
	for _, seed := range []string{"", "water", "ammonia:10", "ammonia", "ammonia:", "ammonia:NaN", "detergent", "beer:5"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, _, err := liquidOf(text, 20)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if !(l.TensionNPerM > 0.01 && l.DensityKgPerM3 > 800) {
			t.Fatalf("%q is read as %+v", text, l)
		}
	})
}

// Stock and water weigh what the mix weighs, by mass or by volume asked.
func TestDiluteAddsUp(t *testing.T) {
	for _, args := range [][]string{{"--mass-g", "750"}, {"--volume-ml", "750"}, nil} {
		out, errs, status := at(append([]string{"dilute", "--stock", "ammonia:28", "--to", "5", "--json"}, args...)...)
		var d diluted
		if err := json.Unmarshal([]byte(out), &d); err != nil || status != exitFine {
			t.Fatalf("status %d, %v: %s", status, err, errs)
		}
		if math.Abs(d.StockG+d.WaterG-d.TotalG) > 2e-4 || math.Abs(d.StockG*28-d.TotalG*5) > 5e-3 || d.CheckG != d.TotalG {
			t.Errorf("%v: %+v", args, d)
		}
		if len(d.First) == 0 || len(d.Cautions) == 0 {
			t.Errorf("%v is told without care", args)
		}
	}
}
