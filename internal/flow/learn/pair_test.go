package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

func twoLevels(names ...string) (out []studio.Factor) {
	for _, n := range names {
		out = append(out, studio.Factor{Name: n, Kind: studio.ByLoading, Levels: []studio.Level{{Label: "light", Number: 10}, {Label: "heavy", Number: 40}}})
	}
	return out
}

// fraction returns the regular fraction of two-level factors in which every factor after
// the free ones is the product of some of them. Source: Box, Hunter and Hunter 2005,
// table 6.22 (generators).
func fraction(free int, generators ...[]int) (out [][]int) {
	for n := range 1 << free {
		var run []int
		for k := range free {
			run = append(run, n>>k&1)
		}
		for _, g := range generators {
			odd := len(g) + 1
			for _, k := range g {
				odd += run[k]
			}
			run = append(run, (odd+1)%2)
		}
		out = append(out, run)
	}
	return out
}

// plackettBurman12 is the design of 12 runs. Source: Plackett and Burman 1946.
func plackettBurman12() (out [][]int) {
	const first = "++-+++---+-"
	for r := range 11 {
		var run []int
		for k := range 11 {
			run = append(run, map[byte]int{'+': 1, '-': 0}[first[(k+11-r)%11]])
		}
		out = append(out, run)
	}
	return append(out, make([]int, 11))
}

var (
	lightHeavy = studio.Factor{Name: "salt", Kind: studio.ByLoading, Levels: []studio.Level{{Label: "light", Number: 10}, {Label: "heavy", Number: 40}}}
	ruledOut   = [][]int{{0, 0, 0}, {0, 0, 1}, {0, 1, 0}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}, {1, 1, 0}, {1, 1, 1}, {2, 0, 0}, {2, 0, 1}}
	half5      = fraction(4, []int{0, 1, 2, 3})
	quarter6   = fraction(4, []int{0, 1, 2}, []int{1, 2, 3})
	eighth6    = fraction(3, []int{0, 1}, []int{0, 2}, []int{1, 2})
)

// TestFractionsAreRegular checks the designs above: every level of every factor equally
// often, any two factors in every combination equally often.
func TestFractionsAreRegular(t *testing.T) {
	for name, runs := range map[string][][]int{"half of five": half5, "quarter of six": quarter6, "eighth of six": eighth6, "Plackett and Burman": plackettBurman12()} {
		for a := range runs[0] {
			for b := range a {
				var seen [2][2]int
				for _, r := range runs {
					seen[r[a]][r[b]]++
				}
				if n := len(runs) / 4; seen != [2][2]int{{n, n}, {n, n}} {
					t.Errorf("%s: factors %d and %d meet %v", name, b, a, seen)
				}
			}
		}
	}
}

func depends(e Explanation, a, b string) *Claim {
	for i, c := range e.Claims {
		if c.With != "" && (c.Factor == a && c.With == b || c.Factor == b && c.With == a) {
			return &e.Claims[i]
		}
	}
	return nil
}

// anyDepends says whether a pair other than a with b is named.
func anyDepends(e Explanation, a, b string) bool {
	return slices.ContainsFunc(e.Claims, func(c Claim) bool {
		return c.With != "" && !(c.Factor == a && c.With == b || c.Factor == b && c.With == a)
	})
}

// Benches 11 to 17: what one thing does depends on another, and sets without repeats.
// Every cause must come out in nine draws of ten; a wrong one may in one of ten, as is said
// of all intervals together, and 3 standard deviations more are allowed.
func TestPlantedPairsAreNamed(t *testing.T) {
	const n = 40
	six := twoLevels("salt", "time", "strength", "gap", "pad", "depth")
	five := twoLevels("salt", "time", "strength", "gap", "pad")
	eleven := twoLevels("salt", "time", "strength", "gap", "pad", "depth", "rinse", "soak", "heat", "rest", "wax")
	for _, tc := range []struct {
		name  string
		bench madeUp
		right func(e Explanation) bool
		wrong func(e Explanation) bool
	}{
		{"11 wetting adds blue with heavy salt only", madeUp{factors: []studio.Factor{wetting, lightHeavy}, replicates: 6, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{0, 0, -12 * float64(l[0]*l[1])}, 0
		}}, func(e Explanation) bool {
			c := depends(e, "wetting", "salt")
			return c != nil && strings.HasPrefix(c.Words, "Wetting matters only with heavy salt: b* ") && strings.Contains(c.Words, "lower there") && strings.Contains(c.Words, "no difference we can see with light salt (") &&
				e.Claims[0].With != "" && saying(e, "wetting", NoDifference) == nil && saying(e, "salt", CantTell) == nil
		}, dependsElsewhere},
		{"12 brine is greener only when wetted first, in fillings that differ", madeUp{factors: []studio.Factor{liquids("ammonia", "vinegar", "brine"), wetting, brushing}, replicates: 2, runs: 4, runSD: 3, effect: func(l []int) ([3]float64, float64) {
			if l[0] == 2 && l[1] == 1 {
				return [3]float64{0, -14, 0}, 0
			}
			return [3]float64{}, 0
		}}, func(e Explanation) bool {
			c := depends(e, "liquid", "wetting")
			return c != nil && strings.Contains(c.Words, "a* ") && strings.Contains(e.Method, "mixed model")
		}, func(e Explanation) bool {
			return anyDepends(e, "liquid", "wetting") || saying(e, "brushing", Shown) != nil
		}},
		{"13 six things in eight swatches, one of them counts", madeUp{factors: six, only: eighth6, replicates: 1, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{0, 0, -40 * float64(l[1])}, 0
		}}, func(e Explanation) bool {
			c := saying(e, "time", Shown)
			return c != nil && strings.Contains(c.Words, "this set can't tell which") && strings.Contains(e.Method, "Lenth") && warned(e, stat.Confounded) && warned(e, stat.NoReplicate)
		}, func(e Explanation) bool {
			return slices.ContainsFunc(e.Claims, func(c Claim) bool { return c.Standing == Shown && c.Factor != "time" })
		}},
		{"14 eleven things in twelve swatches, two of them count", madeUp{factors: eleven, only: plackettBurman12(), replicates: 1, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{16 * float64(l[7]), 0, -18 * float64(l[2])}, 0
		}}, func(e Explanation) bool {
			return saying(e, "strength", Shown) != nil && saying(e, "soak", Shown) != nil && strings.Contains(e.Method, "Lenth") && warned(e, stat.Entangled)
		}, func(e Explanation) bool {
			return slices.ContainsFunc(e.Claims, func(c Claim) bool {
				return c.Standing == Shown && c.Factor != "strength" && c.Factor != "soak"
			})
		}},
		{"15 a half of five, once each: salt needs time", madeUp{factors: five, only: half5, replicates: 1, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{0, 0, -22 * float64(l[0]*l[1])}, 0
		}}, func(e Explanation) bool {
			c := depends(e, "salt", "time")
			return c != nil && strings.Contains(c.Words, "matters only with heavy")
		}, func(e Explanation) bool { return anyDepends(e, "salt", "time") || saying(e, "gap", Shown) != nil }},
		{"16 a quarter of six, twice each: salt needs time, or what goes with it", madeUp{factors: six, only: quarter6, replicates: 2, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{0, 0, -12 * float64(l[0]*l[1])}, 0
		}}, func(e Explanation) bool {
			c := depends(e, "salt", "time")
			return c != nil && strings.Contains(c.Words, "Or it is strength together with pad: this set can't tell which.")
		}, func(e Explanation) bool { return anyDepends(e, "salt", "time") || saying(e, "gap", Shown) != nil }},
		{"17 brushing undoes wetting, the wet heavy ones never made", madeUp{factors: []studio.Factor{salting, wetting, brushing}, only: ruledOut, replicates: 3, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{-4 * float64(l[0]), 0, -12 * float64(l[1]*(1-l[2]))}, 0
		}}, func(e Explanation) bool {
			c := depends(e, "wetting", "brushing")
			return c != nil && strings.HasPrefix(c.Words, "Wetting matters only when left alone: b* ") && saying(e, "salt", Shown) != nil
		}, func(e Explanation) bool { return anyDepends(e, "wetting", "brushing") }},
	} {
		right, wrong := 0, 0
		var said string
		for seed := range uint64(n) {
			e := Explain(tc.bench.rows(seed + 1))
			if tc.right(e) {
				right++
			} else if testing.Verbose() && right == int(seed) {
				t.Logf("%s, seed %d missed: %s / %v / %s", tc.name, seed+1, e.Claims[0].Words, e.Warnings, e.Method)
			}
			if tc.wrong(e) {
				wrong++
			}
			if seed == 0 {
				for _, c := range e.Claims {
					if c.Standing == Shown {
						said += c.Words + " "
					}
				}
				for _, c := range e.Warnings {
					said += "[" + c.Text + "] "
				}
				said += e.Method
			}
		}
		t.Logf("%s: named in %d of %d, a wrong cause in %d. %s", tc.name, right, n, wrong, said)
		if right < n*9/10 || float64(wrong) > n*0.1+3*math.Sqrt(n*0.09) {
			t.Errorf("%s: named in %d of %d, a wrong cause in %d", tc.name, right, n, wrong)
		}
	}
}

// dependsElsewhere says whether something other than the colour is said to depend.
func dependsElsewhere(e Explanation) bool {
	return slices.ContainsFunc(e.Claims, func(c Claim) bool { return c.With != "" && c.Aspect != OfColour })
}

// Where nothing happens, pairs and sets without repeats name something in one set of ten
// at most as often as chance says; 3 standard deviations of 250 draws are allowed.
func TestPairsStayQuiet(t *testing.T) {
	const n = 250
	for _, tc := range []struct {
		name  string
		bench madeUp
	}{
		{"three things in a grid, twice", madeUp{factors: []studio.Factor{salting, wetting, brushing}, replicates: 2}},
		{"the same, some never made", madeUp{factors: []studio.Factor{salting, wetting, brushing}, only: ruledOut, replicates: 2}},
		{"the same in fillings, a sixth lost", madeUp{factors: []studio.Factor{salting, wetting, brushing}, replicates: 3, runs: 4, runSD: 3, after: func(rows []Row, rng *rand.Rand) []Row {
			return slices.DeleteFunc(rows, func(Row) bool { return rng.Float64() < 1.0/6 })
		}}},
		{"a half of five, once", madeUp{factors: twoLevels("a", "b", "c", "d", "e"), only: half5, replicates: 1}},
		{"a quarter of six, once", madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f"), only: quarter6, replicates: 1}},
		{"six in eight", madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f"), only: eighth6, replicates: 1}},
		{"eleven in twelve", madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k"), only: plackettBurman12(), replicates: 1}},
		{"three in a grid, once", madeUp{factors: twoLevels("a", "b", "c"), replicates: 1}},
	} {
		alarms, pairs := 0, 0
		for seed := range uint64(n) {
			tr := fitted(tc.bench.rows(seed + 1))
			if tr.named() {
				alarms++
			}
			if slices.ContainsFunc(tr.fits, func(f responseFit) bool { return len(f.shownPairs()) > 0 }) {
				pairs++
			}
		}
		t.Logf("%s: of %d null sets something is named in %.3f, a pair in %.3f", tc.name, n, float64(alarms)/n, float64(pairs)/n)
		if rate := float64(alarms) / n; rate > 0.157 || rate < 0.03 {
			t.Errorf("%s: something is named in %.3f of null sets", tc.name, rate)
		}
	}
}

// Every aspect of a look gives its claim where something was done to it and, but for one
// set in ten (3 standard deviations are allowed), no other does.
func TestEveryAspectIsExplained(t *testing.T) {
	const n = 30
	for aspect, plant := range map[Aspect]func(r *Row, wet float64){
		OfColour:   func(r *Row, wet float64) { r.Lab.A -= 9 * wet },
		OfCoverage: func(r *Row, wet float64) { r.Coverage.Value = expit(logit(r.Coverage.Value) + 1.2*wet) },
		OfTexture:  func(r *Row, wet float64) { r.Mottle += 1.2 * wet },
		OfPooling:  func(r *Row, wet float64) { r.Edge *= math.Exp(0.8 * wet) },
	} {
		named, others := 0, 0
		words, pairs := "", 0
		for seed := range uint64(n) {
			for _, needs := range []bool{false, true} { // in a pair too
				set, rows := madeUp{factors: []studio.Factor{wetting, lightHeavy}, replicates: 5}.rows(seed + 1)
				for i := range rows {
					wet := 0.0
					if rows[i].Settings[0].Level.Yes && (!needs || rows[i].Settings[1].Level.Number == 40) {
						wet = 1
						if needs {
							wet = 1.6
						}
					}
					plant(&rows[i], wet)
				}
				e := Explain(set, rows)
				hit := slices.ContainsFunc(e.Claims, func(c Claim) bool {
					return c.Standing == Shown && c.Aspect == aspect && c.Factor == "wetting" && (c.With == "salt") == needs
				})
				other := slices.ContainsFunc(e.Claims, func(c Claim) bool { return c.Standing == Shown && c.Aspect != aspect })
				switch {
				case needs && hit:
					pairs++
				case hit:
					named++
				}
				if other && !needs {
					others++
				}
				if seed == 0 {
					words += e.Claims[0].Words + " "
				}
			}
		}
		t.Logf("%s: named in %d of %d, as a pair in %d, something else in %d. %s", aspect, named, n, pairs, others, words)
		if named < n*9/10 || pairs < n*9/10 || float64(others) > n*0.1+3*math.Sqrt(n*0.09) {
			t.Errorf("%s: named in %d of %d, as a pair in %d, something else in %d", aspect, named, n, pairs, others)
		}
	}
}

// Every warning is given where its cause was planted and seldom where it was not. Those
// of what the plan lacks are certain; those judged from looks may be wrong in 5 of 100,
// and 3 standard deviations are allowed.
func TestWarnings(t *testing.T) {
	ages := func(slope float64) func(rows []Row, rng *rand.Rand) []Row {
		return func(rows []Row, rng *rand.Rand) []Row {
			for i := range rows {
				rows[i].PadAge = 20 * rng.Float64()
				rows[i].Lab.B += slope * rows[i].PadAge
			}
			return rows
		}
	}
	two, three := []studio.Factor{wetting, brushing}, []studio.Factor{wetting, brushing, lightHeavy}
	plain := madeUp{factors: two, replicates: 5}
	for _, tc := range []struct {
		kind        stat.WarningKind
		planted     madeUp
		null        madeUp
		least, most float64 // shares of the planted and of the null sets
	}{
		{PadWeaker, madeUp{factors: two, replicates: 5, after: ages(0.5)}, madeUp{factors: two, replicates: 5, after: ages(0)}, 0.9, 0.123},
		{stat.Drift, madeUp{factors: two, replicates: 5, after: func(rows []Row, _ *rand.Rand) []Row {
			for i := range rows {
				rows[i].Lab.B += 8 * rows[i].Order / float64(len(rows))
			}
			return rows
		}}, plain, 0.9, 0.123},
		{stat.Odd, madeUp{factors: two, replicates: 5, after: func(rows []Row, _ *rand.Rand) []Row {
			rows[6].Lab.B -= 18
			return rows
		}}, plain, 0.9, 0.123},
		{stat.NoReplicate, madeUp{factors: []studio.Factor{salting, wetting}, replicates: 1}, madeUp{factors: []studio.Factor{salting, wetting}, replicates: 2}, 1, 0},
		{stat.NoReplicate, madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f"), only: quarter6, replicates: 1}, madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f"), only: quarter6, replicates: 2}, 1, 0},
		{stat.Confounded, madeUp{factors: two, replicates: 5, only: [][]int{{0, 0}, {1, 1}}}, plain, 1, 0},
		{stat.Confounded, madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f"), only: eighth6, replicates: 2}, madeUp{factors: twoLevels("a", "b", "c", "d", "e"), only: half5, replicates: 2}, 1, 0},
		{stat.Entangled, madeUp{factors: twoLevels("a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k"), only: plackettBurman12(), replicates: 1}, madeUp{factors: twoLevels("a", "b", "c", "d", "e"), only: half5, replicates: 1}, 1, 0},
		{stat.Misfit, madeUp{factors: three, replicates: 3, effect: func(l []int) ([3]float64, float64) {
			return [3]float64{0, 0, 5 * float64(1-2*((l[0]+l[1]+l[2])%2))}, 0 // all three together
		}}, madeUp{factors: three, replicates: 3}, 0.9, 0.123},
	} {
		n := 80
		if tc.most == 0 { // certain
			n = 8
		}
		rate := func(b madeUp) float64 {
			said := 0
			for seed := range uint64(n) {
				if warned(Explain(b.rows(seed+1)), tc.kind) {
					said++
				}
			}
			return float64(said) / float64(n)
		}
		given, alarm := rate(tc.planted), rate(tc.null)
		t.Logf("%s: given in %.3f of planted sets, in %.3f of null sets", tc.kind, given, alarm)
		if given < tc.least || alarm > tc.most {
			t.Errorf("%s: given in %.3f of planted sets (at least %.2f), in %.3f of null sets (at most %.2f)", tc.kind, given, tc.least, alarm, tc.most)
		}
	}
}

// BenchmarkExplain200By8 explains 200 swatches by 8 factors in ten fillings, six numbers
// of a look each, with all 28 pairs.
func BenchmarkExplain200By8(b *testing.B) {
	rng := rand.New(rand.NewPCG(8, 200))
	var only [][]int
	for range 200 {
		only = append(only, []int{rng.IntN(3), rng.IntN(2), rng.IntN(2), rng.IntN(2), rng.IntN(2), rng.IntN(2), rng.IntN(2), rng.IntN(2)})
	}
	set, rows := madeUp{factors: append([]studio.Factor{salting, wetting, brushing}, twoLevels("a", "b", "c", "d", "e")...), only: only, replicates: 1, runs: 10, runSD: 3, effect: func(l []int) ([3]float64, float64) {
		return [3]float64{0, 0, -6 * float64(l[1]*l[2])}, 0
	}}.rows(1)
	for b.Loop() {
		Explain(set, rows)
	}
}
