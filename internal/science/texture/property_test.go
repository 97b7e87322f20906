package texture

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science"
	"aerugo/internal/science/colour"
)

// rectangle is the deposit of pooling_rectangle.csv.
func rectangle() Grid {
	g := paint(60, 40, func(r, c int) float64 {
		x, y := (float64(c)+0.5)/2, (float64(r)+0.5)/2
		depth := min(x, 30-x, y, 20-y)
		return 1 + math.Exp(-depth/2) + 0.01*float64(c) + 0.02*float64(r)
	})
	g.MMPerCell = 0.5
	return g
}

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

// TestPoolTurnsWithTheFace: turned a quarter to the left, offset and harmonic keep
// their size and turn by 90 degrees.
func TestPoolTurnsWithTheFace(t *testing.T) {
	g := drops()["blob"]
	turned := paint(101, 101, func(r, c int) float64 { return g.V[c*101+100-r] })
	face := Disc(50.5, 50.5, 45)
	a, errA := Pool(g, face, 10)
	b, errB := Pool(turned, face, 10)
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	near(t, "offset", b.Offset, a.Offset, 1e-9)
	near(t, "harmonic", b.Harmonic, a.Harmonic, 1e-9)
	near(t, "ring variation", b.RingCV, a.RingCV, 1e-9)
	near(t, "direction of the offset", b.OffsetDeg, a.OffsetDeg+90, 1e-9)
	near(t, "direction of the harmonic", b.HarmonicDeg, a.HarmonicDeg+90, 1e-9)
	// The blob lies 10 right of and 15 above the middle.
	near(t, "direction of the blob", a.OffsetDeg, math.Atan2(15, 10)*180/math.Pi, 0.01)
}

// TestPoolEdgeIsAFifthOfTheArea: for round and square-cornered faces, of any place and
// size, the edge holds 20 % of the cells to within those its outline cuts.
func TestPoolEdgeIsAFifthOfTheArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := paint(120, 90, func(r, c int) float64 { return 0 })
		f := Face{60, 45, rapid.Float64Range(20, 60).Draw(t, "half width"), rapid.Float64Range(20, 45).Draw(t, "half height"), rapid.Bool().Draw(t, "round")}
		edge, all := 0, 0
		for i := range g.V {
			u := f.within(float64(i%g.W)+0.5-f.X, float64(i/g.W)+0.5-f.Y)
			if u <= 1 {
				all++
			}
			if u <= 1 && u >= 1-EdgeShare {
				edge++
			}
		}
		around := 4 * (f.HalfW + f.HalfH)
		if math.Abs(float64(edge)-EdgeShare*float64(all)) > around {
			t.Fatalf("%d of %d cells are edge, on a face %v round", edge, all, around)
		}
	})
}

// TestPoolOfOneCornerPointsThere: all of it in one cell is an offset and a harmonic of
// its own direction, and the harmonic is 1.
func TestPoolOfOneCornerPointsThere(t *testing.T) {
	g := paint(11, 11, func(r, c int) float64 { return float64(max(0, r-9) * max(0, c-9)) })
	p, err := Pool(g, WholeFace(g), 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "right", p.RightMM, 5, 1e-12)
	near(t, "up", p.UpMM, -5, 1e-12)
	near(t, "direction", p.OffsetDeg, 315, 1e-9)
	near(t, "harmonic", p.Harmonic, 1, 1e-12)
	if _, ok := p.EdgeRatio(); ok {
		t.Error("a bare middle has an edge ratio")
	}
}

func TestQueenJoinsWhatRookDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := anyGrid(t, 1, 0, 100)
		rook, err := Islands(g, 60, Rook)
		if err != nil {
			return
		}
		queen, err := Islands(g, 60, Queen)
		if err != nil {
			t.Fatal(err)
		}
		reach := 0
		for i, v := range g.V {
			if g.ok(i) && v >= 60 {
				reach++
			}
		}
		for _, islands := range [][]Island{rook, queen} {
			cells := 0
			for _, land := range islands {
				cells += land.Cells
				near(t, "area of the disc", math.Pi/4*land.DiameterMM*land.DiameterMM, land.AreaMM2, 1e-9)
			}
			if cells != reach {
				t.Fatalf("%d cells in islands, %d reach the value", cells, reach)
			}
		}
		if len(queen) > len(rook) {
			t.Fatalf("%d islands by corners, %d by sides", len(queen), len(rook))
		}
	})
}

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

func TestBadInputIsRefused(t *testing.T) {
	good := picture64()
	bad := func(change func(*Grid)) Grid {
		g := picture64()
		change(&g)
		return g
	}
	masked := bad(func(g *Grid) { g.OK = make([]bool, len(g.V)) })
	sparse := bad(func(g *Grid) { g.OK = make([]bool, len(g.V)); g.OK[0], g.OK[500], g.OK[1000] = true, true, true })
	var outside *science.RangeError
	try := func(_ any, err error) error { return err }
	for name, c := range map[string]struct {
		err  error
		want error // nil for a RangeError
	}{
		"no width":                 {try(Contrast(bad(func(g *Grid) { g.W = 0 }))), ErrGrid},
		"width that does not fit":  {try(Contrast(bad(func(g *Grid) { g.W = 63 }))), ErrGrid},
		"width and height swapped": {try(Contrast(bad(func(g *Grid) { g.W, g.H = 32, 64 }))), ErrGrid},
		"short mask":               {try(Contrast(bad(func(g *Grid) { g.OK = make([]bool, 3) }))), ErrGrid},
		"nothing counts":           {try(Contrast(masked)), ErrTooFew},
		"no scale":                 {try(Contrast(bad(func(g *Grid) { g.MMPerCell = 0 }))), nil},
		"scale not a number":       {try(Contrast(bad(func(g *Grid) { g.MMPerCell = math.NaN() }))), nil},
		"value not a number":       {try(Contrast(bad(func(g *Grid) { g.V[9] = math.NaN() }))), nil},
		"value infinite":           {try(Contrast(bad(func(g *Grid) { g.V[9] = math.Inf(-1) }))), nil},
		"pairs too near":           {try(Cooccur(good, LightnessLevels, 0.4)), nil},
		"pairs too far":            {try(Cooccur(good, LightnessLevels, 64)), nil},
		"distance not a number":    {try(Cooccur(good, LightnessLevels, math.NaN())), nil},
		"one level":                {try(Cooccur(good, Levels{0, 1, 1}, 1)), nil},
		"levels upside down":       {try(Cooccur(good, Levels{1, 0, 8}, 1)), nil},
		"no pair":                  {try(Cooccur(sparse, LightnessLevels, 1)), ErrTooFew},
		"one row has no diagonal":  {try(Cooccur(Grid{W: 3, H: 1, V: make([]float64, 3), MMPerCell: 1}, LightnessLevels, 1)), ErrTooFew},
		"circle inside its cell":   {try(BinaryPatterns(good, 0.9)), nil},
		"circle off the grid":      {try(BinaryPatterns(good, 33)), nil},
		"no whole circle":          {try(PatternShares(sparse, 1)), ErrTooFew},
		"block too wide":           {try(BlockVariances(good, []float64{65})), nil},
		"one block":                {try(BlockVariances(good, []float64{64})), ErrTooFew},
		"square too wide":          {try(Granularity(good, []float64{66})), nil},
		"negative grain":           {try(Granularity(bad(func(g *Grid) { g.V[0] = -1 }), []float64{3})), nil},
		"no grain":                 {try(Granularity(good.like(func(float64) float64 { return 0 }), []float64{3})), ErrNoSpread},
		"too few to shuffle":       {try(Moran(good, ClusterOptions{Shuffles: -1}, nil)), nil},
		"no cell touches another":  {try(Moran(sparse, ClusterOptions{}, nil)), ErrTooFew},
		"too few for a plane":      {try(Moran(sparse, ClusterOptions{Flatten: true}, nil)), ErrTooFew},
		"one value":                {try(Moran(good.like(func(float64) float64 { return 0.1 }), ClusterOptions{}, nil)), ErrNoSpread},
		"plane through a line":     {try(Grid{W: 1, H: 9, V: make([]float64, 9), MMPerCell: 1}.WithoutPlane()), ErrTooFew},
		"no ring":                  {try(Pool(good, WholeFace(good), 0)), nil},
		"no face":                  {try(Pool(good, Disc(32, 32, 0), 5)), nil},
		"face off the grid":        {try(Pool(good, Disc(-99, 32, 9), 5)), ErrTooFew},
		"face nowhere":             {try(Pool(good, Disc(math.NaN(), 32, 9), 5)), nil},
		"negative deposit":         {try(Pool(good.like(func(v float64) float64 { return -v - 1 }), WholeFace(good), 5)), nil},
		"no deposit":               {try(Pool(good.like(func(float64) float64 { return 0 }), WholeFace(good), 5)), ErrNoSpread},
		"island of no value":       {try(Islands(good, math.NaN(), Rook)), nil},
		"no colour":                {try(PaletteDistance(nil, []Part{{Weight: 1}}, colour.Difference)), ErrNoPalette},
		"no weight":                {try(PaletteDistance([]Part{{Weight: 1}}, []Part{{}}, colour.Difference)), ErrNoPalette},
		"negative weight":          {try(PaletteDistance([]Part{{Weight: -1}}, []Part{{Weight: 1}}, colour.Difference)), nil},
		"weight not a number":      {try(PaletteDistance([]Part{{Weight: math.NaN()}}, []Part{{Weight: 1}}, colour.Difference)), nil},
		"colour not a number":      {try(PaletteDistance([]Part{{Weight: 1, Lab: colour.Lab{L: math.NaN()}}}, []Part{{Weight: 1}}, colour.Difference76)), nil},
		"too many colours":         {try(PaletteDistance(slices.Repeat([]Part{{Weight: 1}}, 257), []Part{{Weight: 1}}, colour.Difference)), nil},
	} {
		if c.want != nil && !errors.Is(c.err, c.want) {
			t.Errorf("%s: got %v, want %v", name, c.err, c.want)
		}
		if c.want == nil && !errors.As(c.err, &outside) {
			t.Errorf("%s: got %v, want a RangeError", name, c.err)
		}
	}
	if _, err := Moran(good, ClusterOptions{Shuffles: 9}, nil); err == nil {
		t.Error("shuffles without a source of chance are not refused")
	}
}
