package texture

import (
	"math"
	"testing"

	"pgregory.net/rapid"
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
