package texture

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestBlocksCountWhenHalfTheirCellsDo: a 5 by 4 grid in blocks of 2 has two whole
// columns and rows of blocks; the last column of cells is dropped. Worked by hand.
func TestBlocksCountWhenHalfTheirCellsDo(t *testing.T) {
	g := paint(5, 4, func(r, c int) float64 { return float64(10*r + c) })
	g.MMPerCell = 0.5
	g.OK = slices.Repeat([]bool{true}, 20)
	g.OK[0], g.OK[1] = false, false                 // half of the first block
	g.OK[2], g.OK[3], g.OK[7] = false, false, false // three quarters of the second
	b, err := g.Blocks(1)
	if err != nil {
		t.Fatal(err)
	}
	if b.W != 2 || b.H != 2 || b.MMPerCell != 1 {
		t.Fatalf("%d by %d blocks of %v mm, want 2 by 2 of 1 mm", b.W, b.H, b.MMPerCell)
	}
	if want := []float64{10.5, 0, 25.5, 27.5}; !slices.Equal(b.V, want) {
		t.Errorf("means %v, want %v", b.V, want)
	}
	if want := []bool{true, false, true, true}; !slices.Equal(b.OK, want) {
		t.Errorf("counting %v, want %v", b.OK, want)
	}
}

// TestMaskedValuesDoNotMatter: whatever stands in cells that do not count, even what
// is no number, every measure answers the same, and no measure changes the grid.
func TestMaskedValuesDoNotMatter(t *testing.T) {
	all := func(g Grid) string {
		step := g.MMPerCell
		c, err0 := Cooccur(g, LightnessLevels, step)
		s, err1 := PatternShares(g, step)
		v, err2 := BlockVariances(g, []float64{step, 2 * step})
		k, err3 := Contrast(g)
		l, err4 := Granularity(g, []float64{3 * step})
		m, err5 := Moran(g, ClusterOptions{Queen, true, 5}, rand.New(rand.NewPCG(1, 1)))
		p, err6 := Pool(g, WholeFace(g), 3)
		i, err7 := Islands(g, 50, Rook)
		w, err8 := g.WithoutPlane()
		return fmt.Sprint(c, s, v, k, l, m, p, i, w.V, err0, err1, err2, err3, err4, err5, err6, err7, err8)
	}
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 3, 0, 100)
		filled := g
		filled.V = slices.Clone(g.V)
		for i := range filled.V {
			if !g.ok(i) {
				filled.V[i] = rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), -1e300, 7}).Draw(t, "filling")
			}
		}
		before := slices.Clone(g.V)
		if a, b := all(g), all(filled); a != b {
			t.Fatalf("got\n%s\nand filled\n%s", a, b)
		}
		if !slices.Equal(before, g.V) {
			t.Fatal("a measure changed the grid")
		}
	})
}
