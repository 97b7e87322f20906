package texture

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// refined returns g with each cell cut into k by k, at the same scale in mm.
func refined(g Grid, k int) Grid {
	f := Grid{W: g.W * k, H: g.H * k, MMPerCell: g.MMPerCell / float64(k)}
	for i := range f.W * f.H {
		at := i/f.W/k*g.W + i%f.W/k
		f.V = append(f.V, g.V[at])
		f.OK = append(f.OK, g.ok(at))
	}
	return f
}

// TestLengthsAreMillimetres: the same surface seen at twice the resolution, asked at
// the same widths in mm, answers the same.
func TestLengthsAreMillimetres(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 4, 0, 100)
		f := refined(g, 2)
		for _, cells := range []float64{1, 2} {
			a, errA := BlockVariances(g, []float64{cells * g.MMPerCell})
			b, errB := BlockVariances(f, []float64{cells * g.MMPerCell})
			if (errA == nil) != (errB == nil) {
				t.Fatalf("errors %v and %v", errA, errB)
			}
			if errA == nil {
				near(t, "variance of blocks", b[0].Variance, a[0].Variance, 1e-9)
				near(t, "width of blocks", b[0].MM, a[0].MM, 1e-9)
			}
		}
		if a, err := Pool(g, WholeFace(g), 1); err == nil {
			b, err := Pool(f, WholeFace(f), 1)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "mean", b.Mean, a.Mean, 1e-9)
			near(t, "right", b.RightMM, a.RightMM, 1e-9)
			near(t, "up", b.UpMM, a.UpMM, 1e-9)
		}
		a, errA := Islands(g, 50, Rook)
		b, errB := Islands(f, 50, Rook)
		if (errA == nil) != (errB == nil) || len(a) != len(b) {
			t.Fatalf("%d and %d islands, errors %v and %v", len(a), len(b), errA, errB)
		}
		for i := range a {
			near(t, "area", b[i].AreaMM2, a[i].AreaMM2, 1e-9)
			near(t, "diameter", b[i].DiameterMM, a[i].DiameterMM, 1e-9)
		}
	})
}

func TestCooccurStaysInItsRanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 3, -20, 120)
		c, err := Cooccur(g, LightnessLevels, g.MMPerCell)
		if errors.Is(err, ErrTooFew) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range []Cooccurrence{c.Deg0, c.Deg45, c.Deg90, c.Deg135, c.Mean} {
			in := func(v, lo, hi float64) bool { return v >= lo-1e-9 && v <= hi+1e-9 }
			if !in(f.Contrast, 0, 31*31) || !in(f.Homogeneity, 1/(1+31.0*31), 1) || !in(f.ASM, 1/(32.0*32), 1) ||
				!in(f.Correlation, -1, 1) || !in(f.Entropy, 0, math.Log(32*32)) {
				t.Fatalf("out of range: %+v", f)
			}
		}
		// A quarter turn to the left brings up what was right.
		turned := g
		turned.W, turned.H = g.H, g.W
		turned.V, turned.OK = make([]float64, len(g.V)), make([]bool, len(g.V))
		for i := range g.V {
			r, c := i/g.W, i%g.W
			at := (g.W-1-c)*turned.W + r
			turned.V[at], turned.OK[at] = g.V[i], g.ok(i)
		}
		d, err := Cooccur(turned, LightnessLevels, g.MMPerCell)
		if err != nil {
			t.Fatal(err)
		}
		for _, pair := range [][2]Cooccurrence{{c.Deg0, d.Deg90}, {c.Deg45, d.Deg135}, {c.Deg90, d.Deg0}, {c.Deg135, d.Deg45}} {
			near(t, "contrast after a quarter turn", pair[1].Contrast, pair[0].Contrast, 1e-9)
			near(t, "entropy after a quarter turn", pair[1].Entropy, pair[0].Entropy, 1e-9)
		}
	})
}

// TestBinaryPatternsIgnoreBrightness: Ojala, Pietikäinen and Mäenpää 2002 ask that a
// pattern survive any rising change of the greys; on a circle read between cells, any
// straight one.
func TestBinaryPatternsIgnoreBrightness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 3, 0, 100).like(math.Round)
		gain, lift := float64(rapid.IntRange(1, 4).Draw(t, "gain")), float64(rapid.IntRange(-50, 50).Draw(t, "lift"))
		a, errA := PatternShares(g, g.MMPerCell)
		b, errB := PatternShares(g.like(func(v float64) float64 { return gain*v + lift }), g.MMPerCell)
		if (errA == nil) != (errB == nil) || a != b {
			t.Fatalf("%v (%v), brighter %v (%v)", a, errA, b, errB)
		}
		total := 0.0
		for _, share := range a {
			total += share
		}
		if errA == nil {
			near(t, "sum of the shares", total, 1, 1e-12)
		}
	})
}

func TestFlatFieldHasNoTexture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Float64Range(0.1, 99).Draw(t, "level")
		g := anyGrid(t, 3, 0, 1).like(func(float64) float64 { return level })
		if c, err := Contrast(g); err == nil {
			near(t, "contrast", c, 0, 1e-12)
		}
		if s, err := PatternShares(g, g.MMPerCell); err == nil && s[8] != 1 {
			t.Fatalf("shares %v, want all of code 8", s)
		}
		if s, err := Granularity(g, []float64{3 * g.MMPerCell}); err == nil {
			near(t, "loss", s[0].Loss, 0, 1e-12)
		}
		if _, err := Moran(g, ClusterOptions{}, nil); err == nil {
			t.Fatal("a flat field has a Moran's I")
		}
		p, err := Pool(g, WholeFace(g), 5)
		if err != nil {
			return
		}
		ratio, ok := p.EdgeRatio()
		near(t, "edge ratio", ratio, 1, 1e-9)
		if !ok || p.Offset != 0 || p.Harmonic != 0 || p.RingCV > 1e-9 {
			t.Fatalf("a flat field pools: %+v", p)
		}
	})
}

// TestContrastOfTwoLevels: half at 0 and half at 10 has the standard deviation 5 and
// the kurtosis 1, the least there is.
func TestContrastOfTwoLevels(t *testing.T) {
	got, err := Contrast(paint(4, 4, func(r, c int) float64 { return float64(10 * (c % 2)) }))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "contrast", got, 5, 1e-12)
}

// TestGranularityLossNeverFalls: openings by growing squares are a granulometry
// (Matheron 1975), and do nothing when done again.
func TestGranularityLossNeverFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 1, 0, 100)
		var widths []float64
		for k := 1; k <= min(g.W, g.H); k += 2 {
			widths = append(widths, float64(k)*g.MMPerCell)
		}
		grains, err := Granularity(g, widths)
		if err != nil {
			return
		}
		for i, s := range grains {
			near(t, "width", s.MM, widths[i], 1e-12)
			if s.Loss < 0 || s.Loss > 1 || i == 0 && s.Loss > 1e-12 || i > 0 && s.Loss < grains[i-1].Loss-1e-12 {
				t.Fatalf("losses %v", grains)
			}
		}
		once := g
		once.V = g.opening(1)
		for i, v := range once.opening(1) {
			if g.ok(i) && (v != once.V[i] || v > g.V[i]) {
				t.Fatalf("cell %d: %v opened %v, again %v", i, g.V[i], once.V[i], v)
			}
		}
	})
}

// TestGranularityRisesAtTheWidthOfTheGrains: dots 0.6 mm wide are lost whole by a
// square of 1 mm and kept whole by one of 0.6 mm.
func TestGranularityRisesAtTheWidthOfTheGrains(t *testing.T) {
	g := paint(60, 60, func(r, c int) float64 {
		if r%10 >= 4 && r%10 < 7 && c%10 >= 4 && c%10 < 7 {
			return 50
		}
		return 0
	})
	g.MMPerCell = 0.2
	grains, err := Granularity(g, []float64{0.2, 0.6, 1})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 0, 1} {
		near(t, "loss", grains[i].Loss, want, 1e-12)
	}
}

func TestWithoutPlaneTakesPlanesAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 4, 0, 100)
		right, down := rapid.Float64Range(-9, 9).Draw(t, "right"), rapid.Float64Range(-9, 9).Draw(t, "down")
		tilted := g
		tilted.V = make([]float64, len(g.V))
		for i := range g.V {
			tilted.V[i] = g.V[i] + right*float64(i%g.W) + down*float64(i/g.W)
		}
		a, errA := g.WithoutPlane()
		b, errB := tilted.WithoutPlane()
		if (errA == nil) != (errB == nil) {
			t.Fatalf("errors %v and %v", errA, errB)
		}
		if errA != nil {
			return
		}
		for i := range a.V {
			near(t, "what is left", b.V[i], a.V[i], 1e-9)
		}
		again, err := a.WithoutPlane()
		if err != nil {
			t.Fatal(err)
		}
		for i := range a.V {
			near(t, "what is left again", again.V[i], a.V[i], 1e-9)
		}
	})
}

func TestMoranRefusesWhatOnlyAPlaneHolds(t *testing.T) {
	g := paint(8, 8, func(r, c int) float64 { return 3 + 0.1*float64(c) - 0.7*float64(r) })
	if _, err := Moran(g, ClusterOptions{Flatten: true}, nil); !errors.Is(err, ErrNoSpread) {
		t.Errorf("got %v, want %v", err, ErrNoSpread)
	}
}

// TestMoranExpectedIsTheMeanOfRandomPlaces: over 4000 random layouts the mean of I
// lies within 4 standard errors of the expected value, with and without a plane fit.
func TestMoranExpectedIsTheMeanOfRandomPlaces(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, flatten := range []bool{false, true} {
		g := paint(6, 5, func(r, c int) float64 { return 0 })
		g.OK = make([]bool, len(g.V))
		for i := range g.OK {
			g.OK[i] = i%7 != 3
		}
		const layouts = 4000
		sum, squares, expected := 0.0, 0.0, 0.0
		for range layouts {
			for i := range g.V {
				g.V[i] = rng.NormFloat64()
			}
			c, err := Moran(g, ClusterOptions{Neighbours: Queen, Flatten: flatten}, nil)
			if err != nil {
				t.Fatal(err)
			}
			sum, squares, expected = sum+c.I, squares+c.I*c.I, c.Expected
		}
		mean := sum / layouts
		se := math.Sqrt((squares/layouts - mean*mean) / layouts)
		if math.Abs(mean-expected) > 4*se {
			t.Errorf("flatten %v: mean %v, expected %v, standard error %v", flatten, mean, expected, se)
		}
	}
}

// TestMoranPIsFair: of random layouts a tenth has P of at most 0.1, within 4 standard
// errors; clustered ones have the least P there is, and unlike neighbours the most.
func TestMoranPIsFair(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, flatten := range []bool{false, true} {
		o := ClusterOptions{Flatten: flatten, Shuffles: 99}
		const layouts = 1000
		low := 0
		for range layouts {
			g := paint(7, 7, func(r, c int) float64 { return rng.Float64() })
			c, err := Moran(g, o, rng)
			if err != nil {
				t.Fatal(err)
			}
			if c.P <= 0.1 {
				low++
			}
		}
		if share, se := float64(low)/layouts, math.Sqrt(0.1*0.9/layouts); math.Abs(share-0.1) > 4*se {
			t.Errorf("flatten %v: %v of random layouts have P of at most 0.1", flatten, share)
		}
		spot := paint(20, 20, func(r, c int) float64 { return math.Exp(-math.Hypot(float64(r-6), float64(c-12)) / 3) })
		if c, err := Moran(spot, o, rng); err != nil || c.P != 0.01 {
			t.Errorf("flatten %v: a spot has P %v (%v), want 0.01", flatten, c.P, err)
		}
		checks := paint(20, 20, func(r, c int) float64 { return float64((r + c) % 2) })
		if c, err := Moran(checks, o, rng); err != nil || c.P != 1 {
			t.Errorf("flatten %v: a chequerboard has P %v (%v), want 1", flatten, c.P, err)
		}
	}
}

func TestMoranRepeatsWithItsSeed(t *testing.T) {
	g := picture64()
	o := ClusterOptions{Neighbours: Queen, Shuffles: 19}
	a, errA := Moran(g, o, rand.New(rand.NewPCG(5, 6)))
	b, errB := Moran(g, o, rand.New(rand.NewPCG(5, 6)))
	if errA != nil || errB != nil || a != b {
		t.Errorf("%+v (%v) and %+v (%v)", a, errA, b, errB)
	}
}

// TestMoranCountsTies: where every cell touches every other, all layouts have the same
// I of -1/(n - 1), so that each clusters as much as the one seen.
func TestMoranCountsTies(t *testing.T) {
	g := Grid{W: 2, H: 2, V: []float64{0.1, 0.7, 31.3, 2.9}, MMPerCell: 1}
	c, err := Moran(g, ClusterOptions{Neighbours: Queen, Shuffles: 199}, rand.New(rand.NewPCG(15, 16)))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "I", c.I, -1.0/3, 1e-12)
	near(t, "P", c.P, 1, 0)
}
