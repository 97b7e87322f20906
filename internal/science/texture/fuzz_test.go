package texture

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"aerugo/internal/science/colour"
)

// FuzzMeasures feeds every measure grids and palettes of any bits: none may panic, and
// what is not refused must be a number.
func FuzzMeasures(f *testing.F) {
	bits := func(vs ...float64) (b []byte) {
		for _, v := range vs {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		return b
	}
	f.Add(3, 0.1, 0.1, uint64(0), bits(1, 2, 3, 4, 5, 6, 7, 8, 9))
	f.Add(2, 1.0, 1.0, uint64(5), bits(1e9, -1e9, 1e-300, 0, math.NaN(), math.Inf(1)))
	f.Add(0, math.NaN(), -1.0, uint64(1), []byte{1})
	f.Add(3, 1e-4, 3e-4, uint64(9), bits(5e-324, 0, 0, 5e-324, 0, 0, 1e9, 1e-160, 1e-160))
	f.Fuzz(func(t *testing.T, width int, scale, mm float64, mask uint64, data []byte) {
		g := Grid{W: width, MMPerCell: scale}
		for ; len(data) >= 8 && len(g.V) < 400; data = data[8:] {
			g.V = append(g.V, math.Float64frombits(binary.LittleEndian.Uint64(data)))
		}
		if width > 0 {
			g.H = len(g.V) / width
		}
		if mask != 0 {
			for i := range g.V {
				g.OK = append(g.OK, mask>>(i%64)&1 == 0)
			}
		}
		number := func(what string, err error, vs ...float64) {
			if err != nil {
				return
			}
			for _, v := range vs {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("%s is %v", what, vs)
				}
			}
		}
		c, err := Cooccur(g, LightnessLevels, mm)
		number("co-occurrence", err, c.Mean.Contrast, c.Mean.Homogeneity, c.Mean.ASM, c.Mean.Correlation, c.Mean.Entropy, c.MM)
		shares, err := PatternShares(g, mm)
		number("patterns", err, shares[:]...)
		if blocks, err := BlockVariances(g, []float64{mm}); err == nil {
			number("block variance", err, blocks[0].Variance, blocks[0].MM)
		}
		contrast, err := Contrast(g)
		number("contrast", err, contrast)
		if grains, err := Granularity(g, []float64{mm}); err == nil {
			number("granularity", err, grains[0].Loss, grains[0].MM)
		}
		for _, o := range []ClusterOptions{{Shuffles: 3}, {Neighbours: Queen, Flatten: true, Shuffles: 3}} {
			m, err := Moran(g, o, rand.New(rand.NewPCG(1, mask)))
			number("clustering", err, m.I, m.Expected, m.P)
		}
		if flat, err := g.WithoutPlane(); err == nil {
			number("what a plane leaves", err, flat.V...)
		}
		for _, face := range []Face{WholeFace(g), Disc(mm, mm, mm)} {
			if p, err := Pool(g, face, 3); err == nil {
				ratio, _ := p.EdgeRatio()
				number("pooling", err, ratio, p.Mean, p.RingCV, p.RightMM, p.UpMM, p.Offset, p.OffsetDeg, p.Harmonic, p.HarmonicDeg, p.Rings[1].Mean)
			}
		}
		if islands, err := Islands(g, mm, Queen); err == nil && len(islands) > 0 {
			number("islands", err, islands[0].AreaMM2, islands[0].DiameterMM, islands[0].X, islands[0].Y)
		}
		var p, q []Part
		for i := 0; i+3 < len(g.V); i += 4 {
			part := Part{colour.Lab{L: g.V[i], A: g.V[i+1], B: g.V[i+2]}, g.V[i+3]}
			p, q = q, append(p, part)
		}
		distance, err := PaletteDistance(p, q, colour.Difference76)
		number("palette distance", err, distance)
	})
}
