package design

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Everything still to make is made once, repeats and blanks besides; blocks
// stay together; the same seed gives the same order.
func TestBenchMakesEverythingOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fs := []Factor{{Name: "a", Low: 0, High: 1}}
		n := rapid.IntRange(2, 20).Draw(t, "n")
		p := Plan{Factors: fs, Model: Main(fs), Groups: []Group{Evenly("day", n, rapid.IntRange(1, 3).Draw(t, "days")), Evenly("chamber run", n, rapid.IntRange(1, n).Draw(t, "runs"))}}
		p.Groups[0].Of = slices.Clone(p.Groups[1].Of)
		for i := range p.Groups[0].Of {
			p.Groups[0].Of[i] /= 2 // chamber runs lie within days
		}
		for range n {
			p.Runs = append(p.Runs, []float64{rapid.SampledFrom([]float64{-1, 0, 1}).Draw(t, "code")})
		}
		ask := p.UsualBench(rapid.IntRange(0, n-1).Draw(t, "made"))
		seed := rapid.Uint64().Draw(t, "seed")
		got, err := p.Bench(ask, chance(seed))
		if err != nil {
			t.Fatal(err)
		}
		again, _ := p.Bench(ask, chance(seed))
		if !slices.EqualFunc(got, again, func(a, b Swatch) bool { return a.Run == b.Run && a.Repeat == b.Repeat }) {
			t.Fatal("the same seed gave another order")
		}
		made := map[int]int{}
		repeats, blanks := 0, map[int]int{}
		for i, s := range got {
			switch {
			case s.Run < 0:
				blanks[s.Blocks[0]]++
			case s.Repeat:
				repeats++
			default:
				made[s.Run]++
			}
			if s.Run >= 0 && s.Blocks[1] != p.Groups[1].Of[s.Run] {
				t.Fatalf("%+v is not in its block", s)
			}
			for j := range i {
				for g := range p.Groups {
					if got[j].Blocks[g] == s.Blocks[g] && got[i-1].Blocks[g] != s.Blocks[g] {
						t.Fatalf("%s %d is torn apart", p.Groups[g].Name, s.Blocks[g])
					}
				}
			}
		}
		if len(made) != n-ask.Made || repeats != ask.Repeats {
			t.Fatalf("%d made of %d, %d repeats of %d", len(made), n-ask.Made, repeats, ask.Repeats)
		}
		for run, times := range made {
			if times != 1 || run < ask.Made || blanks[p.Groups[0].Of[run]] != ask.Blanks {
				t.Fatalf("run %d made %d times, %d blanks", run, times, blanks[p.Groups[0].Of[run]])
			}
		}
	})
}
