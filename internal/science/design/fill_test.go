package design

import (
	"errors"
	"maps"
	"math"
	"slices"
	"testing"
)

// closest is the smallest squared distance of two runs in steps of the ladder.
func closest(runs [][]float64) int {
	n := float64(len(runs) - 1)
	least := math.Inf(1)
	for i := range runs {
		for j := range i {
			d := 0.0
			for f := range runs[i] {
				x := (runs[i][f] - runs[j][f]) / 2 * n
				d += x * x
			}
			least = min(least, d)
		}
	}
	return int(math.Round(least))
}

// bestLatin tries every Latin hypercube of n runs in two factors.
func bestLatin(n int) int {
	perm := make([]int, n)
	for i := range perm {
		perm[i] = i
	}
	best := 0
	var try func(k int)
	try = func(k int) {
		if k == n {
			least := 1 << 30
			for i := range n {
				for j := range i {
					least = min(least, (i-j)*(i-j)+(perm[i]-perm[j])*(perm[i]-perm[j]))
				}
			}
			best = max(best, least)
			return
		}
		for i := k; i < n; i++ {
			perm[k], perm[i] = perm[i], perm[k]
			try(k + 1)
			perm[k], perm[i] = perm[i], perm[k]
		}
	}
	try(0)
	return best
}

// In two factors the closest runs of the plan lie as far apart as those of the
// best of all Latin hypercubes, found by trying them all; for 10 to 14 runs as
// far as van Dam, Husslage, den Hertog & Melissen (2007) publish, from memory.
func TestSpaceFillingIsMaximin(t *testing.T) {
	want := map[int]int{10: 10, 11: 10, 12: 13, 13: 13}
	for n := 3; n <= 8; n++ {
		want[n] = bestLatin(n)
	}
	for n, best := range want {
		p, err := SpaceFilling(bent(2), n, nil, chance(1))
		if err != nil {
			t.Fatal(err)
		}
		if got := closest(p.Runs); got != best {
			t.Errorf("%d runs: squared distance %d, the best has %d", n, got, best)
		}
	}
}

// Each factor takes each of its n values once, settings and levels equally
// often, and nothing forbidden is made.
func TestSpaceFillingIsBalanced(t *testing.T) {
	fs := []Factor{{Name: "time", Low: 1, High: 9}, {Name: "salt", Low: 0, High: 2, Settings: []float64{0, 1, 2}}, {Name: "liquid", Levels: []string{"a", "b"}}}
	forbidden := func(r []float64) bool { return r[2] == 1 && r[0] > 0.8 }
	for _, n := range []int{6, 7, 12, 19, 40} {
		p, err := SpaceFilling(fs, n, forbidden, chance(uint64(n)))
		if err != nil {
			t.Fatal(err)
		}
		for f := range fs {
			count := map[float64]int{}
			for _, run := range p.Runs {
				if forbidden(run) {
					t.Errorf("%v is forbidden", run)
				}
				count[run[f]]++
			}
			times := slices.Collect(maps.Values(count))
			want := len(fs[f].codes())
			if f == 0 {
				want = n
			}
			if slices.Max(times)-slices.Min(times) > 1 || len(times) != want {
				t.Errorf("%d runs: %s %v", n, fs[f].Name, count)
			}
		}
	}
	if _, err := SpaceFilling(fs, 6, func(r []float64) bool { return r[2] == 1 }, chance(1)); !errors.Is(err, ErrAsk) {
		t.Errorf("a level wholly forbidden: %v", err)
	}
}

func BenchmarkSpaceFilling(b *testing.B) {
	for b.Loop() {
		if _, err := SpaceFilling(bent(5), 30, nil, chance(1)); err != nil {
			b.Fatal(err)
		}
	}
}
