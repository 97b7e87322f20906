package shape

import (
	"encoding/binary"
	"fmt"
	"image/color"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/flow/form"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: %v, want %v within %v %%", what, got, want, 100*share)
	}
}

// Areas by the formulas of solid geometry (Bronshtein, I. N. et al., Handbook of
// Mathematics, 6th ed., Springer 2015, 3.3, from memory), once for the sizes and once
// for the triangles that are drawn.
func TestShapesHaveTheirArea(t *testing.T) {
	for _, x := range []struct {
		kind    string
		dims    map[string]float64
		outside float64
	}{
		{"rectangle", map[string]float64{"length": 120, "width": 80}, 9600},
		{"disc", map[string]float64{"diameter": 100, "hole": 40}, math.Pi / 4 * (100*100 - 40*40)},
		{"dome", map[string]float64{"diameter": 180, "height": 60}, math.Pi * (90*90 + 60*60)},
		{"tube", map[string]float64{"diameter": 50, "length": 200, "ends": 1}, math.Pi*50*200 + math.Pi/4*2500},
		{"cone", map[string]float64{"base": 60, "top": 0, "height": 40}, math.Pi * 30 * 50},
		{"sphere", map[string]float64{"diameter": 100}, math.Pi * 1e4},
		{"box", map[string]float64{"length": 100, "width": 60, "height": 40}, 6000 + 2*40*160},
		{"box", map[string]float64{"length": 100, "width": 60, "height": 40, "lid": 1}, 12000 + 2*40*160},
		{"cuff", map[string]float64{"diameter": 60, "width": 20, "gap": 30}, (2*math.Pi - math.Pi/3) * 30 * 20},
		{Turned, Dims([]form.Point{{X: 0, Y: 0}, {X: 30, Y: 40}, {X: 30, Y: 90}}), math.Pi*30*50 + 2*math.Pi*30*50},
	} {
		f, err := Of(x.kind, x.dims)
		if err != nil {
			t.Errorf("%s: %v", x.kind, err)
			continue
		}
		near(t, x.kind+" by its sizes", f.OutsideMM2, x.outside, 1e-9)
		b, err := Again(f, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, x.kind+" as drawn", b.Mesh.AreaMM2(), x.outside, 0.004)
		if b.Mesh.Health().InsideOut > 0 {
			t.Errorf("%s is drawn inside out", x.kind)
		}
		for i, l := range f.SizeMM {
			if !(l >= 0) || i < 2 && l == 0 {
				t.Errorf("%s has sizes %v", x.kind, f.SizeMM)
			}
		}
	}
	for _, x := range []struct {
		kind, field string
		dims        map[string]float64
	}{{"pot", "kind", nil}, {"disc", "hole", map[string]float64{"diameter": 10, "hole": 20}}, {"rectangle", "width", map[string]float64{"length": 5}}, {Turned, "profile", nil}} {
		_, err := Of(x.kind, x.dims)
		if p := studio.ProblemIn(err); p == nil || p.Field != x.field {
			t.Errorf("%s %v: %v, want a Problem at %s", x.kind, x.dims, err, x.field)
		}
	}
}

// Every shape of the list can be made from its own sizes, and what can be made has
// triangles; nothing that can be typed stops the program.
func TestAnySizesAreAnsweredOrRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Kinds()).Draw(t, "kind")
		d := map[string]float64{Thickness: rapid.SampledFrom([]float64{0, 0.8, 5}).Draw(t, "thick")}
		for _, x := range k.Dims {
			d[x.Key] = rapid.SampledFrom([]float64{0, 1, 2, 20, 55.5, 300, -4, math.NaN(), math.Inf(1), 1e300}).Draw(t, x.Key)
		}
		f, err := Of(k.Key, d)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%s %v: %v", k.Key, d, err)
			}
			return
		}
		if b, err := Again(f, nil); err != nil || b.Mesh.Triangles() == 0 {
			t.Fatalf("%s %v: no triangles, %v", k.Key, d, err)
		}
	})
}

// stlBall is a ball as binary STL, in n rings.
func stlBall(radius float64, n int) []byte {
	at := func(i, k int) form.Vec {
		if i == n {
			return form.Vec{Z: -radius}
		}
		a, b := math.Pi*float64(i)/float64(n), 2*math.Pi*float64(k)/float64(2*n)
		return form.Vec{X: radius * math.Sin(a) * math.Cos(b), Y: radius * math.Sin(a) * math.Sin(b), Z: radius * math.Cos(a)}
	}
	out := make([]byte, 84)
	count := uint32(0)
	put := func(c ...form.Vec) {
		out = append(out, make([]byte, 12)...)
		for _, v := range c {
			for _, x := range []float64{v.X, v.Y, v.Z} {
				out = binary.LittleEndian.AppendUint32(out, math.Float32bits(float32(x)))
			}
		}
		out = append(out, 0, 0)
		count++
	}
	for i := range n {
		for k := range 2 * n {
			k2 := (k + 1) % (2 * n)
			if i > 0 {
				put(at(i, k), at(i+1, k), at(i, k2))
			}
			if i < n-1 {
				put(at(i+1, k), at(i+1, k2), at(i, k2))
			}
		}
	}
	binary.LittleEndian.PutUint32(out[80:], count)
	return out
}

// A ball of 100 mm has pi D² = 31 416 mm², by its unit or by its longest side; the
// shares of its slopes are those of zones of a sphere (Archimedes): (1 - cos 15°)/2 lies
// within 15° of level, half in steps beyond 60°.
func TestBallFromAFile(t *testing.T) {
	data := stlBall(2, 60)
	for _, o := range []Options{{UnitMM: 25}, {LongestMM: 100}} {
		f, b, err := Read("ball.stl", data, o)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "ball", f.OutsideMM2, math.Pi*1e4, 0.002)
		if f.InsideMM2 != 0 || f.Kind != Model || b.Both || len(f.Doubts) != 0 {
			t.Errorf("read as %+v", f)
		}
		over, err := LookOver(b, form.Vec{Z: 1}, rand.New(rand.NewPCG(1, 2)))
		if err != nil {
			t.Fatal(err)
		}
		s := over.Standing.Slopes
		for name, x := range map[string][2]float64{"flat": {s.Flat, (1 - math.Cos(math.Pi/12)) / 2}, "sloping": {s.Sloping, (math.Cos(math.Pi/12) - 0.5) / 2}, "steep": {s.Steep, 0.5}, "under": {s.Under, 0.25}} {
			if math.Abs(x[0]-x[1]) > 0.012 {
				t.Errorf("%s share %v, want %v", name, x[0], x[1])
			}
		}
		if over.Standing.PondMM3 != 0 || over.Shade.Dark > 0.01 {
			t.Errorf("a ball holds %v mm3, dark %v", over.Standing.PondMM3, over.Shade.Dark)
		}
	}
	f, _, err := Read("ball.stl", data, Options{})
	if err != nil || len(f.Doubts) == 0 || !strings.Contains(f.Doubts[0], "does not say how long its unit is") {
		t.Errorf("without a unit: %v, %v", f.Doubts, err)
	}
	again, err := Again(f, data)
	if err != nil || again.Mesh.AreaMM2() != f.OutsideMM2 {
		t.Errorf("read again: %v, %v", again, err)
	}
}

// A hemispherical bowl holds 2/3 pi R³ with its opening up, nothing upside down, and
// the best way up is one that holds nothing.
func TestBowlHoldsItsFill(t *testing.T) {
	f, err := Of("dome", map[string]float64{"diameter": 100, "height": 50})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Again(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	dice := func() *rand.Rand { return rand.New(rand.NewPCG(3, 4)) }
	cup, err := LookOver(b, form.Vec{Z: -1}, dice())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bowl", cup.Standing.PondMM3, 2*math.Pi/3*50*50*50, 0.01)
	if a := cup.Advice(); len(a) == 0 || !strings.Contains(a[0], "pools") {
		t.Errorf("advice: %q", a)
	}
	cap, err := LookOver(b, form.Vec{Z: 1}, dice())
	if err != nil {
		t.Fatal(err)
	}
	if cap.Standing.PondMM3 != 0 || cap.Ways[0].PondMM3 != 0 {
		t.Errorf("upside down it holds %v, the best way %v", cap.Standing.PondMM3, cap.Ways[0].PondMM3)
	}
}

// What is drawn of an outline has its area: a plate of 100 by 60 mm less a hole 40 mm
// across, and a five-pointed star of known corners.
func TestDrawingIsDrawnWithItsHoles(t *testing.T) {
	const head = `<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">`
	for _, x := range []struct {
		svg  string
		area float64
	}{
		{head + `<path fill-rule="evenodd" d="M10 10h100v60h-100z M80 40a20 20 0 1 0-40 0a20 20 0 1 0 40 0z"/></svg>`, 6000 - math.Pi*400},
		{head + `<path d="M10 10 L60 10 L60 60 z"/><path d="M100 100 L150 100 L125 180z"/></svg>`, 1250 + 2000},
	} {
		f, b, err := Read("plate.svg", []byte(x.svg), Options{ThickMM: 1})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "outline", f.OutsideMM2, x.area, 1e-5)
		near(t, "as drawn", b.Mesh.AreaMM2(), x.area, 0.01)
		if f.InsideMM2 != f.OutsideMM2 || !b.Both {
			t.Errorf("a sheet has two faces: %+v", f)
		}
	}
}

// Refusals are Problems at the field of the file, its unit or its length.
func TestWhatIsNoFormIsRefused(t *testing.T) {
	for _, x := range []struct {
		name, data, field string
		o                 Options
	}{
		{"a.exe", "MZ", "file", Options{}},
		{"a.stl", "", "file", Options{}},
		{"a.stl", "solid nothing\nendsolid\n", "file", Options{}},
		{"a.3mf", "solid", "file", Options{}},
		{"a.stl", "PK\x03\x04", "file", Options{}},
		{"a.svg", `<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`, "file", Options{}},
		{"a.svg", `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"></svg>`, "file", Options{}},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "unit", Options{UnitMM: -1}},
		{"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "longest", Options{LongestMM: math.Inf(1)}},
	} {
		_, _, err := Read(x.name, []byte(x.data), x.o)
		if p := studio.ProblemIn(err); p == nil || p.Field != x.field {
			t.Errorf("%s %q: %v, want a Problem at %s", x.name, x.data, err, x.field)
		}
	}
}

// A thinned ball is still the ball: its area within a few percent, its size too.
func TestThinnedModelKeepsItsShape(t *testing.T) {
	m, err := form.ReadMesh(stlBall(50, 150), form.MeshOptions{UnitMM: 1})
	if err != nil {
		t.Fatal(err)
	}
	small, err := Thin(m, 5000)
	if err != nil {
		t.Fatal(err)
	}
	if n := small.Triangles(); n > 5000 || n < 1000 {
		t.Errorf("%d triangles of %d", n, m.Triangles())
	}
	near(t, "area", small.AreaMM2(), m.AreaMM2(), 0.03)
	near(t, "size", small.Box().Size().X, 100, 0.03)
	if same, _ := Thin(m, m.Triangles()); same != m {
		t.Error("a mesh that is small enough is changed")
	}
}

// A strip 100 by 10 mm: a chamber 120 mm square with 10 mm free leaves 0 along it, but
// across the diagonal it takes (100+10)/sqrt 2 = 77.8 mm either way: 22.2 to spare.
func TestStandsTurnedWhereThatGainsRoom(t *testing.T) {
	f, err := Of("rectangle", map[string]float64{"length": 100, "width": 10})
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Again(f, nil)
	s := Stands(b, form.Vec{Z: 1}, studio.Chamber{LengthMM: 120, WidthMM: 120, HeightMM: 90})
	if !s.Fits || s.TurnDeg != 45 && s.TurnDeg != 135 || math.Abs(s.SpareMM-(100-110/math.Sqrt2)) > 1e-3 {
		t.Errorf("flat: %+v", s)
	}
	s = Stands(b, form.Vec{X: 1}, studio.Chamber{LengthMM: 120, WidthMM: 120, HeightMM: 90})
	if s.Fits || s.Tight != "height" || math.Abs(s.SpareMM+30) > 1e-3 {
		t.Errorf("on end, 100 mm in 70: %+v", s)
	}
}

func look(n int64, l colour.Lab) studio.Look {
	return studio.Look{Swatch: n, Measurement: &studio.Measurement{Lab: l}}
}

// Pieces that scatter along a known direction: it is found, and nine in ten new ones
// lie within the reach, counted over 2000 studios of 8 swatches each.
func TestReachHoldsNineInTen(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	along := [3]float64{2 / 3.0, -2 / 3.0, 1 / 3.0}
	draw := func() colour.Lab {
		k := 8 * r.NormFloat64()
		return colour.Lab{L: 50 + k*along[0] + 0.5*r.NormFloat64(), A: -10 + k*along[1] + 0.5*r.NormFloat64(), B: 5 + k*along[2] + 0.5*r.NormFloat64()}
	}
	within, found := 0, 0
	const trials = 2000
	for range trials {
		var looks []studio.Look
		for i := range 8 {
			looks = append(looks, look(int64(i+1), draw()))
		}
		e, err := Guess(looks)
		if err != nil {
			t.Fatal(err)
		}
		c := e.Along[0]*along[0] + e.Along[1]*along[1] + e.Along[2]*along[2]
		if math.Abs(c) > 0.95 {
			found++
		}
		x := draw()
		d := (x.L-e.Mean.L)*e.Along[0] + (x.A-e.Mean.A)*e.Along[1] + (x.B-e.Mean.B)*e.Along[2]
		if math.Abs(d) <= e.Reach {
			within++
		}
	}
	if share := float64(within) / trials; share < 0.84 || share > 0.94 {
		t.Errorf("%v of new pieces lie within the reach, want about 0.9", share)
	}
	if found < trials*95/100 {
		t.Errorf("the direction was found %d times of %d", found, trials)
	}
}

func TestOneSwatchLeansOnAnAssumedSpread(t *testing.T) {
	e, err := Guess([]studio.Look{look(4, colour.Lab{L: 40, A: -20, B: 2})})
	if err != nil || len(e.Assumed) == 0 || e.Reach < 5 || e.Along != [3]float64{1, 0, 0} || e.Toward(-1) != "darker" {
		t.Errorf("%+v, %v", e, err)
	}
	if _, err := Guess([]studio.Look{{Swatch: 1}}); studio.ProblemIn(err) == nil {
		t.Errorf("no measured swatch: %v", err)
	}
}

// The palette keeps its mean where it is moved to, and the likely look is at 0.
func TestPaletteHasTheExpectedMean(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		var looks []studio.Look
		for i := range rapid.IntRange(1, 6).Draw(t, "n") {
			l := look(int64(i), colour.Lab{L: num("L", 30, 70), A: num("a", -40, 40), B: num("b", -40, 40)})
			left := 1.0
			for range rapid.IntRange(0, 6).Draw(t, "bits") {
				s := left * num("s", 0.1, 0.9)
				left -= s
				l.Measurement.Palette = append(l.Measurement.Palette, studio.PaletteEntry{Share: s, Lab: colour.Lab{L: num("pl", 30, 70), A: num("pa", -40, 40), B: num("pb", -40, 40)}})
			}
			looks = append(looks, l)
		}
		e, err := Guess(looks)
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		var m colour.Lab
		for _, p := range e.At(0) {
			sum += p.Share
			m.L, m.A, m.B = m.L+p.Share*p.Lab.L, m.A+p.Share*p.Lab.A, m.B+p.Share*p.Lab.B
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("shares sum to %v", sum)
		}
		clamped := false
		for _, p := range e.Palette {
			clamped = clamped || p.Lab.L < 0 || p.Lab.L > 100
		}
		if !clamped && colour.Difference76(m, e.Mean) > 1e-6 {
			t.Fatalf("mean %v, want %v", m, e.Mean)
		}
	})
}

// A square seen from straight above, in a palette of two colours: it covers its share
// of the picture, and each colour its share of it.
func TestPictureKeepsAreasAndShares(t *testing.T) {
	f, _ := Of("rectangle", map[string]float64{"length": 200, "width": 200})
	b, err := Again(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	e := &Expected{Palette: []Patch{{colour.Lab{L: 30}, 0.3}, {colour.Lab{L: 80}, 0.7}}, MottleMM: 4}
	img := Draw(b, View{Up: form.Vec{Z: 1}, FromDeg: 90, Width: 200, Height: 200}, false, AsExpected(e, e, 0))
	dark, light := 0, 0
	for y := range 200 {
		for x := range 200 {
			switch c := img.NRGBAAt(x, y); {
			case c.A < 128:
			case c.R < 130:
				dark++
			default:
				light++
			}
		}
	}
	near(t, "area", float64(dark+light), 0.92*0.92*40000, 0.02)
	if share := float64(dark) / float64(dark+light); math.Abs(share-0.3) > 0.04 {
		t.Errorf("the dark colour covers %v, want 0.3", share)
	}
}

// From the side a ball shows the greys of all slopes that can be seen, and a closed
// body hides its far side; the picture is a disc: pi/4 of its square.
func TestBallIsDrawnAsADisc(t *testing.T) {
	_, b, err := Read("ball.stl", stlBall(50, 60), Options{UnitMM: 1})
	if err != nil {
		t.Fatal(err)
	}
	img := Draw(b, View{Up: form.Vec{Z: 1}, Width: 200, Height: 200}, true, BySlope)
	n := 0
	seen := map[color.NRGBA]bool{}
	for y := range 200 {
		for x := range 200 {
			if c := img.NRGBAAt(x, y); c.A > 127 {
				n++
				seen[c] = true
			}
		}
	}
	near(t, "disc", float64(n), math.Pi/4*0.92*0.92*40000, 0.01)
	for _, g := range Greys {
		if !seen[color.NRGBA{g, g, g, 255}] {
			t.Errorf("the grey %d is not there", g)
		}
	}
}

// sRGB to linear light and back is the same as the one place of colours has it.
func TestScreenColoursComeBack(t *testing.T) {
	for _, l := range []colour.Lab{{L: 50, A: -20, B: 10}, {L: 90}, {L: 5, A: 3}, {L: 62, A: 20, B: 25}} {
		hex, _ := colour.ToScreen(l)
		c := Linear(hex)
		if got := fmt.Sprintf("#%02x%02x%02x", encode(c[0]), encode(c[1]), encode(c[2])); got != hex {
			t.Errorf("%s came back as %s", hex, got)
		}
		r, g, b := colour.SRGB.FromLab(l)
		for i, v := range []float64{r, g, b} {
			if math.Abs(c[i]-v) > 0.006 {
				t.Errorf("%v: linear %v, want %v", l, c, []float64{r, g, b})
			}
		}
	}
}

func plain(s string) (float64, error) { return strconv.ParseFloat(s, 64) }

func TestProfileIsReadAsWritten(t *testing.T) {
	got, err := ReadProfile("0 0\n 45 12.5 \n\n60;80\n", plain)
	if err != nil || len(got) != 3 || got[1] != (form.Point{X: 45, Y: 12.5}) {
		t.Errorf("%v, %v", got, err)
	}
	if back := Profile(Dims(got)); len(back) != 3 || back[2] != got[2] {
		t.Errorf("kept as %v", back)
	}
}

func FuzzReadProfile(f *testing.F) {
	f.Add("0 0\n45 12\n60;80")
	f.Add("a b")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ReadProfile(text, plain)
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatal(err)
			}
			return
		}
		if made, err := Of(Turned, Dims(p)); err == nil && !(made.OutsideMM2 > 0) {
			t.Fatalf("%q has no area", text)
		} else if err != nil && studio.ProblemIn(err) == nil {
			t.Fatal(err)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("a.stl", stlBall(3, 3))
	f.Add("a.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M1 1h5v5z"/></svg>`))
	f.Add("a.obj", []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"))
	f.Add("a.dxf", []byte("0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n10\n0\n20\n0\n40\n5\n0\nENDSEC\n0\nEOF\n"))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		form, b, err := Read(name, data, Options{})
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatal(err)
			}
			return
		}
		if b.Mesh == nil || form.Check() != nil {
			t.Fatalf("%+v", form)
		}
	})
}

// A plate of brass 100 by 100 by 1 mm is 10 cm3 at 8.53 g/cm3 (Copper Development
// Association, C26000), a solid ball of 20 mm 4/3 pi cm3 of it.
func TestMassFromSheetAndFromVolume(t *testing.T) {
	f, err := Of("rectangle", map[string]float64{"length": 100, "width": 100, Thickness: 1})
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Again(f, nil)
	g, err := MassG(f, b, "C26000", 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "plate", g, 85.3, 0.01)
	ball, b, err := Read("ball.stl", stlBall(10, 80), Options{UnitMM: 1})
	if err != nil {
		t.Fatal(err)
	}
	if g, err = MassG(ball, b, "C26000", 0); err != nil {
		t.Fatal(err)
	}
	near(t, "ball", g, 4.0/3*math.Pi*8.53, 0.01)
	if w := ByVolume(f, studio.Chamber{VolumeL: 0.001}); !strings.Contains(w, "can't fit") {
		t.Error(w)
	}
}
