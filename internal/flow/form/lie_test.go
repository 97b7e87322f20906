package form

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"aerugo/internal/studio"
	"pgregory.net/rapid"
)

// Archimedes, On the Sphere and Cylinder: a zone of a sphere has the area of its
// height on the cylinder, so the share of a ball that faces up within an angle a of
// level is (1 - cos a)/2.
func TestSlopesOfABall(t *testing.T) {
	m := ball(50, 200).model(t) // a ring of it holds 0.8 % at most
	for _, up := range []Vec{{Z: 1}, {X: -3}, {1, 2, 3}} {
		s, err := m.Slopes(up, false)
		if err != nil {
			t.Fatal(err)
		}
		zone := func(a, b float64) float64 { return (math.Cos(a*math.Pi/180) - math.Cos(b*math.Pi/180)) / 2 }
		for name, v := range map[string][2]float64{"flat": {s.Flat, zone(0, FlatDeg)}, "sloping": {s.Sloping, zone(FlatDeg, SteepDeg)}, "steep": {s.Steep, zone(SteepDeg, 180-SteepDeg)}, "under": {s.Under, zone(180-SteepDeg, 180)}} {
			if math.Abs(v[0]-v[1]) > 5e-3 {
				t.Errorf("up %v: %s %v, want %v", up, name, v[0], v[1])
			}
		}
		for i, b := range s.Bins {
			if want := zone(float64(i*10), float64(i*10+10)); math.Abs(b-want) > 5.5e-3 {
				t.Errorf("up %v: bin %d holds %v, want %v", up, i, b, want)
			}
		}
	}
	if s, err := m.Slopes(Vec{}, false); studio.ProblemIn(err) == nil {
		t.Errorf("no way up: %+v, %v", s, err)
	}
}

// The back of a skin faces the other way.
func TestSkinCountsBothFaces(t *testing.T) {
	sheet := faces{{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}}, {{0, 0, 0}, {10, 10, 0}, {0, 10, 0}}}.model(t)
	s, err := sheet.Slopes(Vec{Z: 1}, true)
	if err != nil || s.AreaMM2 != 200 || s.Flat != 0.5 || s.Under != 0.5 {
		t.Errorf("%+v, %v", s, err)
	}
}

// Liquid in a bowl stands to the rim: a hemisphere holds 2/3 pi r³, a vase of frusta
// the sum of h/3 (A1 + A2 + sqrt(A1 A2)) of its regular sixteen-sided levels, up to
// the lip and past the belly that leans in (CRC, as above).
func TestPondsHoldWhatTheyShould(t *testing.T) {
	m := bowl(50, 2, 60).model(t)
	p, err := m.Ponds(Vec{Z: 1})
	if err != nil || len(p) != 1 || !alike(p[0].VolumeMM3, 2./3*math.Pi*48*48*48, 2e-3) || !alike(p[0].DeepestMM, 48, 1e-6) || !alike(p[0].WetMM2, 2*math.Pi*48*48, 2e-3) || math.Abs(p[0].At.Z-2) > 1e-5 {
		t.Errorf("bowl: %+v, %v", p, err)
	}
	if p, err = m.Ponds(Vec{Z: -1}); err != nil || len(p) != 0 {
		t.Errorf("bowl upside down: %+v, %v", p, err)
	}
	// laid on its side, and leaning by 30 degrees: below the lowest place of the inner
	// rim a cap of height r (1 - sin 30) is left, pi h² (3 r - h)/3
	if p, err = m.Ponds(Vec{X: 1}); err != nil || len(p) != 0 {
		t.Errorf("bowl on its side: %+v, %v", p, err)
	}
	lean := Vec{math.Sin(math.Pi / 6), 0, math.Cos(math.Pi / 6)}
	h := 48 * (1 - math.Sin(math.Pi/6))
	if p, err = m.Ponds(lean); err != nil || len(p) != 1 || !alike(p[0].VolumeMM3, math.Pi*h*h*(3*48-h)/3, 5e-3) || !alike(p[0].DeepestMM, h, 5e-3) {
		t.Errorf("bowl leaning: %+v, %v; want %v, %v deep", p, err, math.Pi*h*h*(3*48-h)/3, h)
	}
	area := func(r float64) float64 { return 16. / 2 * math.Sin(2*math.Pi/16) * r * r }
	var want float64
	inner := []Point{{28, 2.5}, {42.6, 25}, {45.5, 50}, {27.7, 80}, {31.5, 95}}
	for i := 1; i < len(inner); i++ {
		a, b := area(inner[i-1].X), area(inner[i].X)
		want += (inner[i].Y - inner[i-1].Y) / 3 * (a + b + math.Sqrt(a*b))
	}
	vase := readModel(t, file(t, "vase.obj"))
	if p, err = vase.Ponds(Vec{Z: 1}); err != nil || len(p) != 1 || !alike(p[0].VolumeMM3, want, 1e-5) || !alike(p[0].DeepestMM, 92.5, 1e-6) {
		t.Errorf("vase: %+v, %v; want %v", p, err, want)
	}
	if w := p[0].Words(); !strings.Contains(w, "92.5 mm deep") {
		t.Error(w)
	}
}

// A skin without thickness holds the same, whichever way its faces look; a ball and a
// block hold nothing, nor does what is closed in.
func TestPondsOfSkinsAndSolids(t *testing.T) {
	ps := arcPoints(48, 50, 0, 90, 60)
	ps[0].X = 0
	skin := turned(240, ps...)
	for name, f := range map[string]faces{"looking out": skin, "looking in": skin.flipped()} {
		p, err := f.model(t).Ponds(Vec{Z: 1})
		if err != nil || len(p) != 1 || !alike(p[0].VolumeMM3, 2./3*math.Pi*48*48*48, 2e-3) {
			t.Errorf("%s: %+v, %v", name, p, err)
		}
	}
	// a face the wrong way round does not let liquid in or out
	bad := bowl(50, 2, 20)
	whole, err := bad.model(t).Ponds(Vec{Z: 1})
	bad[7] = bad[7:8].flipped()[0]
	if p, err2 := bad.model(t).Ponds(Vec{Z: 1}); err != nil || err2 != nil || len(p) != 1 || !alike(p[0].VolumeMM3, whole[0].VolumeMM3, 0.01) {
		t.Errorf("a bowl with a face turned: %+v, %v; want %+v", p, err2, whole)
	}
	shell := append(ball(50, 20), ball(40, 20).flipped()...)
	for name, f := range map[string]faces{"ball": ball(50, 20), "block": block(10, 20, 30), "hollow ball": shell} {
		for _, up := range []Vec{{Z: 1}, {X: 1}, {1, 2, 3}} {
			if p, err := f.model(t).Ponds(up); err != nil || len(p) != 0 {
				t.Errorf("%s with %v up: %+v, %v", name, up, p, err)
			}
		}
	}
	if p, err := block(1, 1, 1).model(t).Ponds(Vec{}); studio.ProblemIn(err) == nil {
		t.Errorf("no way up: %v, %v", p, err)
	}
}

// Two dents of a plate, each of depth d (1 - (r/R)²)² and so of volume pi R² d/3, fill
// apart; moved together until they overlap they are one pool.
func TestPondsApartAndTogether(t *testing.T) {
	const depth, radius = 5.0, 14.0
	for off, want := range map[float64]int{15: 2, 7: 1} {
		f := grid3(160, 80, func(u, v float64) Vec {
			x, y := 80*u-40, 40*v-20
			dent := func(r2 float64) float64 { return depth * sq(max(0, 1-r2/sq(radius))) }
			return Vec{x, y, -max(dent(sq(x-off)+y*y), dent(sq(x+off)+y*y))}
		})
		p, err := f.model(t).Ponds(Vec{Z: 1})
		if err != nil || len(p) != want {
			t.Fatalf("%v apart: %d pools, want %d (%+v, %v)", 2*off, len(p), want, p, err)
		}
		if want == 2 {
			for _, q := range p {
				if !alike(q.VolumeMM3, math.Pi*sq(radius)*depth/3, 5e-3) || math.Abs(q.DeepestMM-depth) > 0.01 {
					t.Errorf("a dent holds %+v, want %v", q, math.Pi*sq(radius)*depth/3)
				}
			}
		}
	}
}

// Within a sphere every place sees a part of it by its share of the whole sphere, so
// a hemispherical bowl's inside is half open (Howell, J. R., A Catalog of Radiation
// Heat Transfer Configuration Factors, sphere to itself); a ball and a block are
// wholly open, and spray from above hits the half of a ball.
func TestShadeOfBowlAndBall(t *testing.T) {
	dice := rand.New(rand.NewPCG(7, 8))
	s, err := ball(50, 40).model(t).Shade(Vec{Z: 1}, false, 2000, dice)
	if err != nil || s.Open < 0.999 || s.Dark != 0 || math.Abs(s.Missed-0.5) > 0.03 || s.Places != 2000 {
		t.Errorf("ball: %+v, %v", s, err)
	}
	if w := s.Words(); !strings.Contains(w, "freely") {
		t.Error(w)
	}
	ps := arcPoints(48, 50, 0, 90, 40)
	ps[0].X = 0
	inside := turned(160, ps...).flipped().model(t)
	s, err = inside.Shade(Vec{Z: 1}, false, 2000, dice)
	if err != nil || math.Abs(s.Open-0.5) > 0.01 || s.Missed > 0.01 {
		t.Errorf("inside of a bowl: %+v, %v", s, err)
	}
	s, err = inside.Shade(Vec{Z: 1}, true, 4000, dice)
	if err != nil || math.Abs(s.Open-0.75) > 0.02 || math.Abs(s.Missed-0.5) > 0.03 {
		t.Errorf("both sides of a bowl: %+v, %v", s, err)
	}
	s, err = block(10, 10, 10).flipped().model(t).Shade(Vec{Z: 1}, false, 200, dice)
	if err != nil || s.Open < 0.99 { // inside out is put right
		t.Errorf("block inside out: %+v, %v", s, err)
	}
	shell := append(ball(50, 20), ball(40, 20).flipped()...).model(t)
	s, err = shell.Shade(Vec{Z: 1}, false, 4000, dice)
	if err != nil || math.Abs(s.Dark-1600./4100) > 0.02 || math.Abs(s.Open-2500./4100) > 0.02 {
		t.Errorf("hollow ball: %+v, %v", s, err)
	}
	for _, bad := range []func() (Shade, error){
		func() (Shade, error) { return shell.Shade(Vec{}, false, 1000, dice) },
		func() (Shade, error) { return shell.Shade(Vec{Z: 1}, false, 5, dice) },
	} {
		if s, err := bad(); studio.ProblemIn(err) == nil {
			t.Errorf("%+v, %v; want a problem", s, err)
		}
	}
}

// A coaxial disc at the end of a cylinder: from the middle of the bottom of a tube of
// radius r and depth h the mouth is r²/(r² + h²) of the half-sphere (Howell's
// catalog, element to parallel disc on its axis).
func TestMouthOfATubeFromItsBottom(t *testing.T) {
	for _, h := range []float64{10, 30} {
		// a disc of 1 mm at the bottom, no more, stands for the middle
		ps := []Point{{0, 0}, {1, 0}}
		wall := []Point{{1, 0}, {10, 0}, {10, h}}
		bottom := turned(64, ps...).flipped()
		m := append(bottom, turned(256, wall...).flipped()...).model(t)
		tr := m.tree()
		dice := rand.New(rand.NewPCG(3, 4))
		const rays = 40000
		free := 0
		for range rays {
			r, a := math.Sqrt(dice.Float64()), 2*math.Pi*dice.Float64()
			sin, cos := math.Sincos(a)
			if !tr.hits(Vec{Z: 0.001}, Vec{r * cos, r * sin, math.Sqrt(1 - r*r)}, 0) {
				free++
			}
		}
		if want := 100 / (100 + h*h); math.Abs(float64(free)/rays-want) > 0.01 {
			t.Errorf("depth %v: %v open, want %v", h, float64(free)/rays, want)
		}
	}
}

// Rays hit the same by the tree as by trying every triangle.
func TestTreeHitsWhatTryingAllHits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		seed := rapid.Uint64().Draw(rt, "seed")
		dice := rand.New(rand.NewPCG(seed, 1))
		v := func() Vec { return Vec{dice.Float64() * 10, dice.Float64() * 10, dice.Float64() * 10} }
		var f faces
		for range rapid.IntRange(1, 60).Draw(rt, "n") {
			a := v()
			f = append(f, [3]Vec{a, a.add(v().times(0.3)), a.add(v().times(0.3))})
		}
		m := f.model(t)
		tr := m.tree()
		for range 20 {
			from, dir := v(), v().sub(v())
			want := false
			for i := range m.Triangles() {
				a, b, c := m.corners(i)
				if d, ok := meetTriangle(from, dir, a, b, c); ok && d > 0 {
					want = true
				}
			}
			if got := tr.hits(from, dir, 0); got != want {
				rt.Fatalf("ray from %v to %v: %v, want %v", from, dir, got, want)
			}
		}
	})
}

// A bowl holds least upside down or on edge, never as drawn; the words say what pools.
func TestBestWayUpOfABowl(t *testing.T) {
	w, err := bowl(50, 2, 20).model(t).Ways(false)
	if err != nil || len(w) != len(ways) {
		t.Fatalf("%d ways, %v", len(w), err)
	}
	if w[0].PondMM3 != 0 {
		t.Errorf("best: %s", w[0].Words())
	}
	if last := w[len(w)-1]; last.Name != "as drawn" || !strings.Contains(last.Words(), "mL pools") {
		t.Errorf("worst: %s", last.Words())
	}
	for i := 1; i < len(w); i++ {
		if w[i].Held < w[i-1].Held-1e-4 {
			t.Errorf("%s holds %v, after %v", w[i].Name, w[i].Held, w[i-1].Held)
		}
	}
	if got := w[0].Words(); strings.Contains(got, "%!") || !strings.HasSuffix(got, ".") {
		t.Error(got)
	}
}

// A rod of length 130 fits a box of 120 by 60 by 60 only across; its box is worked out by
// hand. A cube of 100 fits 100 exactly, and not 99.9.
func TestFit(t *testing.T) {
	fit := func(f faces, l, w, h, gap float64) Fit {
		t.Helper()
		got, err := f.model(t).FitsIn(Chamber{l, w, h}, gap)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	cube := block(100, 100, 100)
	if f := fit(cube, 100, 100, 100, 0); !f.Fits || f.TurnDeg != [3]float64{} || !f.Upright || f.SpareMM != 0 {
		t.Errorf("cube in its own box: %+v", f)
	}
	if f := fit(cube, 99.9, 300, 300, 0); f.Fits || f.SpareMM < -0.11 {
		t.Errorf("cube in a box too narrow: %+v", f)
	}
	if f := fit(cube, 110, 110, 110, 6); f.Fits {
		t.Errorf("cube with a gap: %+v", f)
	}
	slab := block(200, 50, 100)
	if f := fit(slab, 60, 210, 110, 0); !f.Fits || !f.Upright || !alike(f.TurnDeg[2], 90, 1e-9) || f.SpareMM < 9.99 {
		t.Errorf("turned a quarter: %+v", f)
	}
	if f := fit(slab, 60, 110, 210, 0); !f.Fits || f.Upright || f.SpareMM < 9.99 {
		t.Errorf("stood on end: %+v, %s", f, f.Words())
	}
	// across: length l turned by a and width w take l cos a + w sin a by l sin a + w cos a
	rod := block(130, 5, 5)
	f := fit(rod, 120, 60, 60, 0)
	if !f.Fits || !f.Upright || !strings.Contains(f.Words(), "about the upright") {
		t.Errorf("rod: %+v, %s", f, f.Words())
	}
	a := f.TurnDeg[2] * math.Pi / 180
	if x := 130*math.Abs(math.Cos(a)) + 5*math.Abs(math.Sin(a)); !alike(f.Size.X, x, 1e-6) {
		t.Errorf("rod turned by %v takes %v, want %v", f.TurnDeg[2], f.Size.X, x)
	}
	// only the room's own diagonal takes it: a box of 80 has 138.6 from corner to corner
	if f := fit(block(130, 1, 1), 80, 80, 80, 0); !f.Fits || f.Upright {
		t.Errorf("rod along the diagonal of a cube: %+v", f)
	}
	// 135 mm along it take (135 + 1·sqrt 2 or less)/sqrt 3, 78.8 mm, each way: little is left
	if f := fit(block(135, 1, 1), 80, 80, 80, 0); !f.Fits || f.SpareMM > 80-135/math.Sqrt(3) {
		t.Errorf("longer rod along the diagonal of a cube: %+v", f)
	}
	if f := fit(ball(50, 60), 99, 200, 200, 0); f.Fits || !strings.Contains(f.Words(), "does not fit") {
		t.Errorf("ball: %+v", f)
	}
	for _, c := range []Chamber{{0, 1, 1}, {1, math.NaN(), 1}, {1e6, 1, 1}} {
		if f, err := cube.model(t).FitsIn(c, 0); studio.ProblemIn(err) == nil {
			t.Errorf("%+v: %+v, %v", c, f, err)
		}
	}
	if _, err := cube.model(t).FitsIn(Chamber{100, 100, 100}, 50); studio.ProblemIn(err) == nil {
		t.Errorf("gap as large as the chamber: %v", err)
	}
}

// The box that a fit reports holds every corner of the turned piece.
func TestFitHoldsEveryCorner(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dice := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 9))
		var f faces
		for range rapid.IntRange(2, 40).Draw(rt, "n") {
			v := func() Vec { return Vec{dice.NormFloat64() * 50, dice.NormFloat64() * 20, dice.NormFloat64() * 5} }
			f = append(f, [3]Vec{v(), v(), v()})
		}
		m := f.model(t)
		side := func(name string) float64 { return rapid.Float64Range(20, 300).Draw(rt, name) }
		got, err := m.FitsIn(Chamber{side("l"), side("w"), side("h")}, 0)
		if err != nil {
			rt.Fatal(err)
		}
		x, y, z := rows(got.TurnDeg)
		lo, hi := Vec{1e9, 1e9, 1e9}, Vec{-1e9, -1e9, -1e9}
		for i := range m.Corners() {
			p := m.at(int32(i))
			q := Vec{p.dot(x), p.dot(y), p.dot(z)}
			lo, hi = lo.least(q), hi.most(q)
		}
		if d := hi.sub(lo).sub(got.Size).length(); d > 1e-4 {
			rt.Fatalf("box %v, corners take %v", got.Size, hi.sub(lo))
		}
	})
}

// The axes of a turn are square to each other and right-handed.
func TestTurnsAreTurns(t *testing.T) {
	for _, d := range [][3]float64{{0, 0, 0}, {90, 0, 0}, {0, 90, 0}, {0, 0, 90}, {10, 20, 30}, {175, 95, 5}} {
		x, y, z := rows(d)
		if x.cross(y).sub(z).length() > 1e-12 || math.Abs(x.length()-1) > 1e-12 || math.Abs(x.dot(y)) > 1e-12 {
			t.Errorf("%v: %v %v %v", d, x, y, z)
		}
	}
	// a quarter about z brings x to y
	x, y, _ := rows([3]float64{0, 0, 90})
	if e := (Vec{X: 1}); fmt.Sprint(e.dot(x), e.dot(y)) != "0 1" {
		t.Errorf("x goes to %v, %v", e.dot(x), e.dot(y))
	}
}
