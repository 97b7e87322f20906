package measure

import (
	"math"

	"aerugo/internal/science/texture"
	"aerugo/internal/studio"
)

// Widths on the face, in mm, at which texture is read; our choice, fixed so
// that any two swatches can be compared.
const (
	textureCell = 0.25 // the grid texture is read on
	pairDist    = 1.0  // between the two places of a pair
	poolBlock   = 2.0  // blocks whose likeness to their neighbours is clustering
	islandLeast = 0.5  // a cell counts to an island when half of it is covered
)

var (
	varianceMM = []float64{0.5, 1, 2, 4}
	grainMM    = []float64{0.75, 1.25, 2.25, 4.25}
)

// grid returns a field over the face with its real scale, coarsened to
// textureCell, and false when the real size is not known or too small.
func (f *face) grid(size Size, value func(i int) float64) (texture.Grid, bool) {
	if size.WidthMM <= 0 || size.HeightMM <= 0 {
		return texture.Grid{}, false
	}
	g := texture.Grid{W: f.w, H: f.h, V: make([]float64, len(f.usable)), OK: f.usable, MMPerCell: size.WidthMM / float64(f.w)}
	for i, ok := range f.usable {
		if ok {
			g.V[i] = value(i)
		}
	}
	if g.MMPerCell < textureCell {
		coarse, err := g.Blocks(textureCell)
		if err != nil {
			return g, false
		}
		g = coarse
	}
	return g, true
}

// texture reads the pattern of L*. It is nil when the real size is not known or
// the face is too small for the widths.
func (f *face) texture(size Size) *studio.Texture {
	g, ok := f.grid(size, func(i int) float64 { return f.cells[i].lab.L })
	if !ok {
		return nil
	}
	pairs, err := texture.Cooccur(g, texture.LightnessLevels, pairDist)
	if err != nil {
		return nil
	}
	t := &studio.Texture{PairMM: pairs.MM, Contrast: pairs.Mean.Contrast, Homogeneity: pairs.Mean.Homogeneity, Entropy: pairs.Mean.Entropy}
	for _, mm := range varianceMM {
		if v, err := texture.BlockVariances(g, []float64{mm}); err == nil {
			t.Variance = append(t.Variance, studio.ScaleValue{MM: v[0].MM, Value: v[0].Variance})
		}
	}
	dark := g
	dark.V = make([]float64, len(g.V))
	for i, v := range g.V {
		dark.V[i] = math.Max(0, 100-v)
	}
	for _, mm := range grainMM {
		if v, err := texture.Granularity(dark, []float64{mm}); err == nil {
			t.Grain = append(t.Grain, studio.ScaleValue{MM: v[0].MM, Value: v[0].Loss})
		}
	}
	return t
}

// pooling reads where the deposit lies: the covered part where bare metal is
// known (weights), else darkness. It is nil when the real size is not known or
// nothing lies there.
func (f *face) pooling(size Size, weights []float64) *studio.Pooling {
	p := &studio.Pooling{Of: "coverage", BlockMM: poolBlock}
	value := func(i int) float64 { return weights[i] }
	if weights == nil {
		p.Of = "darkness, 100 less L*"
		value = func(i int) float64 { return math.Max(0, 100-f.cells[i].lab.L) }
	}
	g, ok := f.grid(size, value)
	if !ok {
		return nil
	}
	pool, err := texture.Pool(g, texture.WholeFace(g), 5)
	if err != nil {
		return nil // bare, or too little of the edge was read
	}
	p.EdgeRatio, _ = pool.EdgeRatio()
	p.Offset, p.OffsetDeg = pool.Offset, pool.OffsetDeg
	if weights != nil {
		if islands, err := texture.Islands(g, islandLeast, texture.Queen); err == nil && len(islands) > 0 {
			p.Islands, p.LargestMM = len(islands), islands[0].DiameterMM
		}
	}
	if blocks, err := g.Blocks(poolBlock); err == nil {
		if c, err := texture.Moran(blocks, texture.ClusterOptions{Neighbours: texture.Queen, Flatten: true}, nil); err == nil {
			p.Clustering = c.I
		}
	}
	return p
}
