package form

import (
	"math"
	"testing"

	"aerugo/internal/studio"
	"pgregory.net/rapid"
)

// near reports whether two numbers agree within a relative error.
func alike(got, want, rel float64) bool {
	return math.Abs(got-want) <= rel*max(math.Abs(want), 1e-300)
}

func surfaces(t *testing.T, s Shape) Surfaces {
	t.Helper()
	got, err := s.Surfaces()
	if err != nil {
		t.Fatalf("%+v: %v", s, err)
	}
	return got
}

// The closed formulas, worked here by hand for round sizes, are those of Zwillinger,
// D., CRC Standard Mathematical Tables and Formulae, chapter Geometry (sphere, cap,
// cone, frustum, cylinder; from memory).
func TestShapesMeetTheClosedFormulas(t *testing.T) {
	const pi = math.Pi
	tests := []struct {
		name                  string
		shape                 Shape
		outside, inside, edge float64
	}{
		{"square 50", Rectangle{50, 50, 0}, 2500, 2500, 0},
		{"strip with edges", Rectangle{150, 20, 1}, 3000, 3000, 340},
		{"disc 100", Disc{100, 0, 0.5}, 2500 * pi, 2500 * pi, 50 * pi},
		{"ring 100/60", Disc{100, 60, 1}, 1600 * pi, 1600 * pi, 160 * pi},
		{"3-4-5 triangle", Polygon{[]Point{{0, 0}, {30, 0}, {0, 40}}, 1}, 600, 600, 120},
		{"L, clockwise", Polygon{[]Point{{0, 0}, {0, 20}, {10, 20}, {10, 10}, {20, 10}, {20, 0}}, 0}, 300, 300, 0},
		{"pipe 22x1, 100 long", Tube{22, 100, 1, 0}, 2200 * pi, 2000 * pi, 2 * pi * 21},
		{"cup 22x1, 100 deep", Tube{22, 100, 1, 1}, 2321 * pi, 2080 * pi, pi * 21},
		{"closed tin", Tube{20, 50, 0, 2}, 1200 * pi, 1200 * pi, 0},
		{"pointed cone 3-4-5", Cone{60, 0, 40, 0}, 1500 * pi, 1500 * pi, 0},
		{"frustum 3-4-5", Cone{120, 60, 40, 0}, 4500 * pi, 4500 * pi, 0},
		{"frustum, wide end up", Cone{60, 120, 40, 0}, 4500 * pi, 4500 * pi, 0},
		{"straight cone is a tube", Cone{22, 22, 100, 1}, 2200 * pi, 2000 * pi, 42 * pi},
		{"hemisphere 100x2", Dome{100, 50, 2}, 5000 * pi, 2 * 48 * 48 * pi, pi * 98 * 2},
		{"cap R 50, h 20", Dome{80, 20, 0}, 2000 * pi, 2000 * pi, 0},
		{"ball 100x2", Sphere{100, 2}, 10000 * pi, 9216 * pi, 0},
		{"closed band", Cuff{60, 30, 0, 0}, 1800 * pi, 1800 * pi, 0},
		{"cuff open a sixth", Cuff{60, 30, 30, 1}, 50 * pi * 30, 5. / 3 * pi * 29 * 30, 5./3*pi*59 + 60},
		{"tray", Box{100, 60, 20, 1, false}, 12400, 5684 + 2*19*156, 2 * 158},
		{"box with lid", Box{100, 60, 20, 1, true}, 2 * (6000 + 2000 + 1200), 2 * (5684 + 1764 + 1044), 0},
	}
	for _, tt := range tests {
		got := surfaces(t, tt.shape)
		if !alike(got.OutsideMM2, tt.outside, 1e-12) || !alike(got.InsideMM2, tt.inside, 1e-12) || !alike(got.EdgeMM2, tt.edge, 1e-12) {
			t.Errorf("%s: outside %v, inside %v, edge %v; want %v, %v, %v", tt.name, got.OutsideMM2, got.InsideMM2, got.EdgeMM2, tt.outside, tt.inside, tt.edge)
		}
		if got.SheetMM2 > got.OutsideMM2+1e-9 || got.SheetMM2 < got.InsideMM2-1e-9 {
			t.Errorf("%s: sheet %v does not lie between inside %v and outside %v", tt.name, got.SheetMM2, got.InsideMM2, got.OutsideMM2)
		}
		if a := got.AllMM2(true) - got.AllMM2(false); !alike(a, got.EdgeMM2, 1e-9) {
			t.Errorf("%s: edges add %v, want %v", tt.name, a, got.EdgeMM2)
		}
		if b := got.Blank; !(b.LengthMM > 0 && b.WidthMM > 0) || b.Cut == "" {
			t.Errorf("%s: blank %+v", tt.name, b)
		}
	}
}

// Blanks as any sheet metal handbook lays them out (common practice, no source):
// a hemisphere of radius r is raised from a disc of r times the root of 8, a 3-4-5
// cone opens to a sector of 216 degrees.
func TestBlanksAreWhatOneCuts(t *testing.T) {
	if b := surfaces(t, Dome{100, 50, 0}).Blank; !alike(b.LengthMM, 50*math.Sqrt(8), 1e-12) {
		t.Errorf("hemisphere: blank %v", b.LengthMM)
	}
	if b := surfaces(t, Cone{60, 0, 40, 0}).Blank; !alike(b.WidthMM, 100, 1e-12) || !alike(b.LengthMM, 50-50*math.Cos(108*math.Pi/180), 1e-12) {
		t.Errorf("cone: blank %+v", b)
	}
	if b := surfaces(t, Tube{21, 100, 1, 0}).Blank; !alike(b.LengthMM, 20*math.Pi, 1e-12) || b.WidthMM != 100 {
		t.Errorf("tube: blank %+v", b)
	}
	if b := surfaces(t, Box{100, 60, 20, 0, false}).Blank; b.LengthMM != 140 || b.WidthMM != 100 {
		t.Errorf("tray: blank %+v", b)
	}
}

// A cone's blank holds its sector: sampled, no point of it lies outside, and its
// sides are touched.
func TestConeBlankHoldsTheSector(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Cone{rapid.Float64Range(5, 300).Draw(t, "base"), rapid.Float64Range(0, 300).Draw(t, "top"), rapid.Float64Range(1, 300).Draw(t, "height"), 0}
		s, err := c.Surfaces()
		if err != nil {
			t.Fatal(err)
		}
		big, small := max(c.BaseMM, c.TopMM)/2, min(c.BaseMM, c.TopMM)/2
		if big-small < 1e-3*big {
			return // nearly a tube: its sector would be a rectangle
		}
		slant := math.Hypot(big-small, c.HeightMM)
		outer := slant * big / (big - small)
		half := math.Pi * big / outer
		var ps []Point
		for i := range 2001 {
			a := -half + 2*half*float64(i)/2000
			sin, cos := math.Sincos(a)
			ps = append(ps, Point{outer * cos, outer * sin}, Point{(outer - slant) * cos, (outer - slant) * sin})
		}
		b := boxOf(ps)
		if !alike(s.Blank.LengthMM, b.Width(), 1e-4) || !alike(s.Blank.WidthMM, b.Height(), 1e-4) {
			t.Fatalf("%+v: blank %+v, sector %v by %v", c, s.Blank, b.Width(), b.Height())
		}
	})
}

// A turned quarter circle is a hemisphere; the doc's error law holds.
func TestTurnedProfileMeetsTheSphere(t *testing.T) {
	for _, n := range []int{9, 18, 1000} {
		var ps []Point
		for i := range n + 1 {
			sin, cos := math.Sincos(math.Pi / 2 * float64(i) / float64(n))
			ps = append(ps, Point{50 * sin, 50 - 50*cos})
		}
		ps[0].X = 0
		s := surfaces(t, Revolved{ps, 0})
		short := 1 - s.OutsideMM2/(5000*math.Pi)
		if want := sq(math.Pi/2/float64(n)) / 8; !alike(short, want, 0.01) {
			t.Errorf("%d lines: short by %v, want %v", n, short, want)
		}
	}
}

// Pappus: the area swept is the curve's length times the way of its centroid; a
// torus section of tube radius 10 round radius 40 has 4 pi² R r (CRC, as above).
func TestTurnedCircleIsATorus(t *testing.T) {
	const n = 3000
	var ps []Point
	for i := range n + 1 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		ps = append(ps, Point{40 + 10*cos, 10 * sin})
	}
	ps[n] = Point{50, 1e-9} // closed but for a hair
	if s := surfaces(t, Revolved{ps, 0}); !alike(s.OutsideMM2, 4*math.Pi*math.Pi*400, 1e-6) {
		t.Errorf("torus: %v, want %v", s.OutsideMM2, 4*math.Pi*math.Pi*400)
	}
}

// Every shape that can be turned is the same by its own formula and by its profile,
// inside too: cup, frustum and dome.
func TestProfilesAgreeWithTheShapes(t *testing.T) {
	cup := surfaces(t, Revolved{[]Point{{0, 0}, {11, 0}, {11, 100}}, 1})
	want := surfaces(t, Tube{22, 100, 1, 1})
	if !alike(cup.OutsideMM2, want.OutsideMM2, 1e-9) || !alike(cup.InsideMM2, want.InsideMM2, 1e-9) || !alike(cup.EdgeMM2, want.EdgeMM2, 1e-9) {
		t.Errorf("cup by profile %+v, by formula %+v", cup, want)
	}
	down := surfaces(t, Revolved{[]Point{{11, 100}, {11, 0}, {0, 0}}, 1})
	if !alike(down.InsideMM2, cup.InsideMM2, 1e-12) {
		t.Errorf("a profile drawn the other way has inside %v, want %v", down.InsideMM2, cup.InsideMM2)
	}
	var cap []Point
	const n = 2000
	for i := range n + 1 {
		sin, cos := math.Sincos(math.Pi / 3 * float64(i) / n)
		cap = append(cap, Point{50 * sin, 50 * cos})
	}
	dome, byCap := surfaces(t, Dome{100 * math.Sin(math.Pi/3), 25, 2}), surfaces(t, Revolved{cap, 2})
	if !alike(byCap.InsideMM2, dome.InsideMM2, 1e-4) || !alike(byCap.EdgeMM2, dome.EdgeMM2, 1e-4) || !alike(byCap.OutsideMM2, dome.OutsideMM2, 1e-5) {
		t.Errorf("dome by profile %+v, by formula %+v", byCap, dome)
	}
}

// A smooth curve through nine points of a quarter circle is closer to the
// hemisphere than the straight lines, and passes through the points.
func TestSmoothProfileIsRounder(t *testing.T) {
	var ps []Point
	for i := range 9 {
		sin, cos := math.Sincos(math.Pi / 2 * float64(i) / 8)
		ps = append(ps, Point{50 * sin, 50 - 50*cos})
	}
	ps[0].X = 0
	smooth := Smooth(ps, 16)
	if len(smooth) != 8*16+1 || smooth[16*3] != ps[3] {
		t.Fatalf("%d points, the fourth given one is %v, want %v", len(smooth), smooth[16*3], ps[3])
	}
	if s := surfaces(t, Revolved{smooth, 0}); !alike(s.OutsideMM2, 5000*math.Pi, 1e-3) {
		t.Errorf("smooth hemisphere %v, want %v within 0.1 %%", s.OutsideMM2, 5000*math.Pi)
	}
	for _, p := range Smooth([]Point{{0, 0}, {40, 1}, {1, 30}, {30, 60}}, 20) {
		if p.X < 0 {
			t.Errorf("radius %v below 0", p.X)
		}
	}
}

func TestShapesThatCannotBeAreRefused(t *testing.T) {
	for _, s := range []Shape{
		Rectangle{0, 10, 0}, Rectangle{10, math.NaN(), 0}, Rectangle{10, 10, -1}, Rectangle{10, 10, 10}, Rectangle{1e5, 10, 0},
		Disc{10, 10, 0}, Disc{10, -1, 0}, Disc{math.Inf(1), 0, 0},
		Polygon{[]Point{{0, 0}, {1, 1}}, 0}, Polygon{[]Point{{0, 0}, {10, 10}, {10, 0}, {0, 10}}, 0}, Polygon{[]Point{{0, 0}, {1, 0}, {math.NaN(), 1}}, 0},
		Tube{20, 100, 10, 0}, Tube{20, 100, 1, 3}, Tube{20, 1.5, 1, 2}, Cone{10, -1, 10, 0}, Cone{10, 0, 10, 6},
		Dome{100, 0, 0}, Sphere{10, 5}, Cuff{60, 20, 60, 0}, Cuff{60, 20, 10, 40}, Box{10, 10, 1, 1, false}, Box{10, 10, 10, 6, true},
		Revolved{[]Point{{1, 0}}, 0}, Revolved{[]Point{{-1, 0}, {1, 1}}, 0}, Revolved{[]Point{{1, 0}, {0, 1}, {1, 2}}, 0},
		Revolved{[]Point{{1, 0}, {1, 0}}, 0}, Revolved{[]Point{{5, 0}, {5, 10}}, 6}, Revolved{[]Point{{20, 0}, {20, 10}, {15, 10}, {15, 0}}, 3},
	} {
		if got, err := s.Surfaces(); studio.ProblemIn(err) == nil {
			t.Errorf("%T %+v: %+v, %v; want a problem", s, s, got, err)
		}
	}
}

// Sizes twice as large have four times the area (thickness too), whatever the shape.
func TestAreaGoesWithTheSquare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string) float64 { return rapid.Float64Range(10, 400).Draw(t, name) }
		k := rapid.Float64Range(0.5, 5).Draw(t, "k")
		a, b, c, th := f("a"), f("b"), f("c"), rapid.Float64Range(0, 2).Draw(t, "thick")
		pairs := [][2]Shape{
			{Rectangle{a, b, th}, Rectangle{k * a, k * b, k * th}},
			{Disc{a + 1, a / 2, th}, Disc{k * (a + 1), k * a / 2, k * th}},
			{Tube{a, b, th, 1}, Tube{k * a, k * b, k * th, 1}},
			{Dome{a, b, th}, Dome{k * a, k * b, k * th}},
			{Sphere{a, th}, Sphere{k * a, k * th}},
			{Cuff{a, b, a / 3, th}, Cuff{k * a, k * b, k * a / 3, k * th}},
			{Box{a, b, c, th, true}, Box{k * a, k * b, k * c, k * th, true}},
		}
		for _, p := range pairs {
			x, err1 := p[0].Surfaces()
			y, err2 := p[1].Surfaces()
			if err1 != nil || err2 != nil {
				t.Fatalf("%+v: %v, %v", p, err1, err2)
			}
			for _, v := range [][2]float64{{x.OutsideMM2, y.OutsideMM2}, {x.InsideMM2, y.InsideMM2}, {x.EdgeMM2, y.EdgeMM2}, {x.SheetMM2, y.SheetMM2}} {
				if !alike(v[1], k*k*v[0], 1e-9) {
					t.Fatalf("%T %+v: %v becomes %v, want %v", p[0], p[0], v[0], v[1], k*k*v[0])
				}
			}
		}
	})
}

// Sheet of an inch of the gauge table weighs what the mill says: 24 gauge copper
// 4.54 kg/m² (ASTM B258 sizes, density 8.89), so a disc of 100 mm 35.7 g; 16 oz copper
// 305.15 g/ft² (16 oz of 28.349523125 g on 0.09290304 m², NIST SP 811) of its nominal
// 0.549 mm, CDA Copper in Architecture table 1.1.3.
func TestPieceWeighsAreaTimesThickness(t *testing.T) {
	g, err := MassG("C11000", surfaces(t, Disc{100, 0, 0}).SheetMM2, 0.511)
	if err != nil || !alike(g, 4.54e3*0.0025*math.Pi, 2e-3) {
		t.Errorf("24 gauge disc: %v g, %v", g, err)
	}
	g, err = MassG("C11000", 92903.04, 0.549)
	if err != nil || !alike(g, 16*28.349523125, 3e-3) {
		t.Errorf("a foot of 16 oz copper: %v g, %v", g, err)
	}
	for _, bad := range []struct {
		uns   string
		a, mm float64
	}{{"C99999", 1, 1}, {"C11000", -1, 1}, {"C11000", math.NaN(), 1}, {"C11000", 1, 51}} {
		if g, err := MassG(bad.uns, bad.a, bad.mm); err == nil {
			t.Errorf("%+v weighs %v g; want an error", bad, g)
		}
	}
}
