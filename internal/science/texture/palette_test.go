package texture

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
)

func anyPalette(t *rapid.T, name string) []Part {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Part {
		axis := func(name string, lo, hi int) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, name)) }
		return Part{colour.Lab{L: axis("L", 0, 10) * 10, A: axis("a", -3, 3) * 20, B: axis("b", -3, 3) * 20}, axis("weight", 1, 5)}
	}), 1, 7).Draw(t, name)
}

func distance(t *rapid.T, p, q []Part, ground func(a, b colour.Lab) float64) float64 {
	d, err := PaletteDistance(p, q, ground)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// merged adds up the shares of like colours.
func merged(p []Part) map[colour.Lab]float64 {
	total := 0.0
	for _, part := range p {
		total += part.Weight
	}
	m := map[colour.Lab]float64{}
	for _, part := range p {
		m[part.Lab] += part.Weight / total
	}
	return m
}

// TestPaletteDistanceIsAMetric: Rubner, Tomasi and Guibas 2000, appendix A, for whole
// palettes and a ground distance that is a metric.
func TestPaletteDistanceIsAMetric(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q, r := anyPalette(t, "p"), anyPalette(t, "q"), anyPalette(t, "r")
		if rapid.Bool().Draw(t, "same") {
			q = rapid.Permutation(p).Draw(t, "q from p")
		}
		pq := distance(t, p, q, colour.Difference76)
		near(t, "the way back", distance(t, q, p, colour.Difference76), pq, 1e-9)
		if qr, pr := distance(t, q, r, colour.Difference76), distance(t, p, r, colour.Difference76); pr > pq+qr+1e-9 {
			t.Fatalf("%v straight, %v round by the third", pr, pq+qr)
		}
		a, b := merged(p), merged(q)
		same := len(a) == len(b)
		for lab, share := range a {
			same = same && math.Abs(b[lab]-share) < 1e-9
		}
		if (pq < 1e-9) != same {
			t.Fatalf("the distance is %v, the palettes are the same: %v", pq, same)
		}
	})
}

// TestPaletteMovesAreABestPlan: the moves ship every share, and no plan is cheaper by
// the prices they leave, which is the dual of the transportation problem (from memory).
func TestPaletteMovesAreABestPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := anyPalette(t, "p"), anyPalette(t, "q")
		d, moves, err := PaletteMoves(p, q, colour.Difference)
		if err != nil {
			t.Fatal(err)
		}
		out, in, cost := make([]float64, len(p)), make([]float64, len(q)), 0.0
		for _, m := range moves {
			if !(m.Share > 0) {
				t.Fatalf("a move of %v", m.Share)
			}
			out[m.From] += m.Share
			in[m.To] += m.Share
			cost += m.Share * colour.Difference(p[m.From].Lab, q[m.To].Lab)
		}
		near(t, "cost of the moves", cost, d, 1e-9)
		sumP, sumQ := 0.0, 0.0
		for _, part := range p {
			sumP += part.Weight
		}
		for _, part := range q {
			sumQ += part.Weight
		}
		costs := make([][]float64, len(p))
		_, supply, _ := units(p)
		_, demand, _ := units(q)
		for i := range p {
			near(t, "share sent", out[i], p[i].Weight/sumP, 1e-9)
			for j := range q {
				costs[i] = append(costs[i], colour.Difference(p[i].Lab, q[j].Lab))
			}
		}
		for j := range q {
			near(t, "share received", in[j], q[j].Weight/sumQ, 1e-9)
		}
		s := newShipping(supply, demand, costs)
		s.solve()
		worth := 0.0
		for i := range p {
			worth += float64(supply[i]) / allOfIt * s.price[i]
			for j := range q {
				if s.price[i]+s.price[len(p)+j] > costs[i][j]+1e-9 {
					t.Fatalf("lane %d, %d is cheaper than its prices", i, j)
				}
			}
		}
		for j := range q {
			worth += float64(demand[j]) / allOfIt * s.price[len(p)+j]
		}
		near(t, "worth at the prices", worth, d, 1e-9)
	})
}

// TestPaletteDistanceOfMovedPalettes: all that goes to one colour goes the weighted
// mean way, and a palette moved as a whole goes as far as it is moved.
func TestPaletteDistanceOfMovedPalettes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, one := anyPalette(t, "p"), anyPalette(t, "one")[:1]
		total, want := 0.0, 0.0
		for _, part := range p {
			total += part.Weight
			want += part.Weight * colour.Difference(part.Lab, one[0].Lab)
		}
		near(t, "all to one colour", distance(t, p, one, colour.Difference), want/total, 1e-9)
		by := colour.Lab{L: 2, A: -3, B: rapid.Float64Range(-6, 6).Draw(t, "by")}
		moved := slices.Clone(p)
		for i, part := range p {
			moved[i].Lab = colour.Lab{L: part.Lab.L + by.L, A: part.Lab.A + by.A, B: part.Lab.B + by.B}
			moved[i].Weight *= 3
		}
		near(t, "moved as a whole", distance(t, p, moved, colour.Difference76), colour.Difference76(colour.Lab{}, by), 1e-9)
	})
}

// TestPaletteDistanceOfTies: many equal distances and shares make swaps that move
// nothing, in which the simplex method could go round for ever.
func TestPaletteDistanceOfTies(t *testing.T) {
	var p, q []Part
	for i := range 64 {
		p = append(p, Part{colour.Lab{L: float64(i % 8)}, 1})
		q = append(q, Part{colour.Lab{L: float64(i/8) + 1}, 1})
	}
	got, err := PaletteDistance(p, q, colour.Difference76)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "distance", got, 1, 1e-9)
}
