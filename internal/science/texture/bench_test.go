package texture

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"aerugo/internal/science/colour"
)

// bench runs a measure on a face of 600 by 600 cells of 0.1 mm.
func bench(b *testing.B, measure func(g Grid) error) {
	rng := rand.New(rand.NewPCG(7, 8))
	g := paint(600, 600, func(r, c int) float64 { return 40 + float64((r*r+3*c)/40%30) + 10*rng.Float64() })
	g.MMPerCell = 0.1
	b.ResetTimer()
	for range b.N {
		if err := measure(g); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCooccur(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Cooccur(g, LightnessLevels, 0.5); return err })
}

func BenchmarkPatternShares(b *testing.B) {
	bench(b, func(g Grid) error { _, err := PatternShares(g, 0.2); return err })
}

func BenchmarkBlockVariances(b *testing.B) {
	bench(b, func(g Grid) error { _, err := BlockVariances(g, []float64{0.5, 1, 2, 4, 8}); return err })
}

func BenchmarkContrast(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Contrast(g); return err })
}

func BenchmarkGranularity(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Granularity(g, []float64{0.5, 1.1, 2.1, 4.1, 8.1}); return err })
}

func BenchmarkMoran(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Moran(g, ClusterOptions{Queen, true, 0}, nil); return err })
}

// BenchmarkMoranShuffled makes cells of 1 mm first, as its doc comment advises.
func BenchmarkMoranShuffled(b *testing.B) {
	rng := rand.New(rand.NewPCG(9, 10))
	bench(b, func(g Grid) error {
		blocks, err := g.Blocks(1)
		if err == nil {
			_, err = Moran(blocks, ClusterOptions{Queen, true, 999}, rng)
		}
		return err
	})
}

// BenchmarkMoranShuffledFine is 9 shuffles of all 360,000 cells.
func BenchmarkMoranShuffledFine(b *testing.B) {
	rng := rand.New(rand.NewPCG(11, 12))
	bench(b, func(g Grid) error { _, err := Moran(g, ClusterOptions{Rook, false, 9}, rng); return err })
}

func BenchmarkPool(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Pool(g, WholeFace(g), 10); return err })
}

func BenchmarkIslands(b *testing.B) {
	bench(b, func(g Grid) error { _, err := Islands(g, 60, Queen); return err })
}

func BenchmarkPaletteDistance(b *testing.B) {
	for _, n := range []int{8, 64, 256} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(13, 14))
			var palettes [2][]Part
			for k := range palettes {
				for range n {
					palettes[k] = append(palettes[k], Part{colour.Lab{L: 100 * rng.Float64(), A: 90*rng.Float64() - 45, B: 90*rng.Float64() - 45}, rng.Float64()})
				}
			}
			b.ResetTimer()
			for range b.N {
				if _, err := PaletteDistance(palettes[0], palettes[1], colour.Difference76); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
