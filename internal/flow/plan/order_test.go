package plan

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A recorded seed gives the order it gave when the set was made, for ever. The
// orders were worked out apart, in Python, from the definition of the generator:
// PCG-DXSM, 128 bit (O'Neill, pcg-random.org; the constants of Go's
// math/rand/v2), Lemire's bounded numbers and Fisher-Yates.
func TestSeedGivesItsOrderForEver(t *testing.T) {
	for _, tc := range []struct {
		seed uint64
		want []int
	}{
		{1, []int{5, 7, 8, 4, 9, 10, 2, 3, 6, 1, 0}},
		{42, []int{3, 0, 7, 2, 4, 10, 8, 5, 1, 9, 6}},
		{1<<64 - 1, []int{3, 1, 6, 9, 5, 7, 10, 8, 2, 4, 0}},
	} {
		if got := randomOrder(11, tc.seed); !reflect.DeepEqual(got, tc.want) {
			t.Errorf("seed %d: %#v, want %#v", tc.seed, got, tc.want)
		}
	}
}

func TestEverySeedPermutes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 200).Draw(t, "n")
		got := randomOrder(n, rapid.Uint64().Draw(t, "seed"))
		again := slices.Clone(got)
		slices.Sort(again)
		for i, v := range again {
			if v != i {
				t.Fatalf("%v is no permutation", got)
			}
		}
	})
}

// The shuffle favours no order: Pearson's chi-square over all 24 orders of four,
// for seeds 0 to 23999, and over who stands where of eleven. The bounds are the
// 99.9 % points of chi-square, 23 and 100 degrees of freedom: 49.728 and 149.449
// (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4).
func TestShuffleIsUniform(t *testing.T) {
	const seeds = 24000
	orders := map[[4]int]float64{}
	var where [11][11]float64
	for seed := uint64(0); seed < seeds; seed++ {
		orders[[4]int(randomOrder(4, seed))]++
		for place, who := range randomOrder(11, seed) {
			where[place][who]++
		}
	}
	chi := 0.0
	for _, n := range orders {
		chi += (n - seeds/24) * (n - seeds/24) / (seeds / 24)
	}
	if len(orders) != 24 || chi > 49.728 {
		t.Errorf("%d orders of 4, chi-square %.1f on 23 degrees of freedom", len(orders), chi)
	}
	chi = 0
	for _, row := range where {
		for _, n := range row {
			chi += (n - seeds/11.0) * (n - seeds/11.0) / (seeds / 11.0)
		}
	}
	if chi > 149.449 {
		t.Errorf("places of 11: chi-square %.1f on 100 degrees of freedom", chi)
	}
}

// below gives each number equally often where rejection matters: just above
// half of the range, a plain product would give some numbers twice as often.
func TestBelowIsFair(t *testing.T) {
	const n = 3 << 62
	src := rand.NewPCG(7, 7)
	low, draws := 0, 30000
	for range draws {
		if v := below(src, n); v >= n {
			t.Fatalf("%d is not below %d", v, uint64(n))
		} else if v < n/3 {
			low++
		}
	}
	if low < draws/3-330 || low > draws/3+330 { // four standard deviations of a fair count
		t.Errorf("%d of %d in the lowest third", low, draws)
	}
}
