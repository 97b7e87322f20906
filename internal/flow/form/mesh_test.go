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

// A turned vase as another program (Assimp) writes it in four formats: its area by
// numpy, its volume by ADMesh; testdata/README names both.
func TestFormatsMeetTheReferencePrograms(t *testing.T) {
	for _, name := range []string{"vase.obj", "vase_ascii.stl", "vase_binary.stl", "vase.3mf"} {
		m := readModel(t, file(t, name))
		v, closed := m.VolumeMM3()
		if a := m.AreaMM2(); !alike(a, 54911.34, 1e-6) || !alike(v, 62503.99, 3e-6) || !closed || m.Triangles() != 316 || m.Corners() != 160 {
			t.Errorf("%s: area %v, volume %v, closed %v, %d triangles, %d corners", name, a, v, closed, m.Triangles(), m.Corners())
		}
		if w := m.Health().Words(); len(w) != 0 {
			t.Errorf("%s: %q", name, w)
		}
		if s := m.Box().Size(); !alike(s.X, 96, 1e-6) || !alike(s.Z, 95, 1e-6) {
			t.Errorf("%s: size %v", name, s)
		}
		if m.Assumed != (name != "vase.3mf") {
			t.Errorf("%s: unit assumed %v", name, m.Assumed)
		}
	}
}

// Finer and finer meshes come to the closed formulas, with the square of the step:
// ball 4 pi r² and 4/3 pi r³, torus 4 pi² R r and 2 pi² R r² (CRC Standard
// Mathematical Tables and Formulae, from memory).
func TestMeshesComeToTheClosedFormulas(t *testing.T) {
	torus := func(n int) faces {
		return grid3(2*n, n, func(u, v float64) Vec {
			s, c := math.Sincos(2 * math.Pi * math.Mod(u, 1))
			sv, cv := math.Sincos(2 * math.Pi * math.Mod(v, 1))
			r := 40 + 10*cv
			return Vec{r * c, r * s, 10 * sv}
		})
	}
	for _, tt := range []struct {
		name         string
		make         func(n int) faces
		area, volume float64
	}{
		{"ball", func(n int) faces { return ball(50, n) }, 10000 * math.Pi, 4. / 3 * math.Pi * 125000},
		{"torus", torus, 1600 * math.Pi * math.Pi, 8000 * math.Pi * math.Pi},
	} {
		var before float64
		for _, n := range []int{20, 40, 80} {
			m := tt.make(n).model(t)
			v, closed := m.VolumeMM3()
			miss := 1 - m.AreaMM2()/tt.area
			if !closed || miss < 0 || n > 20 && !(miss < before/3.5 && miss > before/4.5) {
				t.Errorf("%s of %d: closed %v, area short by %v after %v", tt.name, n, closed, miss, before)
			}
			if n == 80 && (miss > 1e-3 || math.Abs(v/tt.volume-1) > 2e-3) {
				t.Errorf("%s of %d: area short by %v, volume %v, want %v", tt.name, n, miss, v, tt.volume)
			}
			before = miss
		}
	}
}

// Dodecahedron of edge a by its pentagons: area 3 sqrt(25 + 10 sqrt 5) a², volume
// (15 + 7 sqrt 5)/4 a³ (CRC, as above); corners 0, ±1/phi, ±phi and ±1, ±1, ±1 have a = 2/phi.
func TestPentagonsOfADodecahedron(t *testing.T) {
	phi := (1 + math.Sqrt(5)) / 2
	var v []Vec
	for _, x := range []float64{-1, 1} {
		for _, y := range []float64{-1, 1} {
			for _, z := range []float64{-1, 1} {
				v = append(v, Vec{x, y, z})
			}
			v = append(v, Vec{0, x / phi, y * phi}, Vec{x / phi, y * phi, 0}, Vec{x * phi, 0, y / phi})
		}
	}
	var b strings.Builder
	for _, p := range v {
		fmt.Fprintf(&b, "v %v %v %v\n", p.X, p.Y, p.Z)
	}
	for _, x := range []float64{-1, 1} { // the faces look towards the corners of an icosahedron
		for _, y := range []float64{-1, 1} {
			for _, n := range []Vec{{0, x * phi, y}, {x * phi, y, 0}, {x, 0, y * phi}} {
				var ring []int
				for i, p := range v {
					if p.dot(n) > 2.3*phi/2+0.5 {
						ring = append(ring, i)
					}
				}
				if len(ring) != 5 {
					t.Fatalf("%d corners", len(ring))
				}
				side, up := frame(n.times(1 / n.length()))
				angle := func(i int) float64 { return math.Atan2(v[i].dot(up), v[i].dot(side)) }
				for i := range ring { // round the face
					for j := i + 1; j < 5; j++ {
						if angle(ring[j]) < angle(ring[i]) {
							ring[i], ring[j] = ring[j], ring[i]
						}
					}
				}
				fmt.Fprintf(&b, "f %d %d %d %d %d\n", ring[0]+1, ring[1]+1, ring[2]+1, ring[3]+1, ring[4]+1)
			}
		}
	}
	m := readModel(t, []byte(b.String()))
	a := 2 / phi
	vol, closed := m.VolumeMM3()
	if !closed || !alike(m.AreaMM2(), 3*math.Sqrt(25+10*math.Sqrt(5))*a*a, 1e-6) || !alike(vol, (15+7*math.Sqrt(5))/4*a*a*a, 1e-6) {
		t.Errorf("area %v, volume %v, closed %v", m.AreaMM2(), vol, closed)
	}
}

// Faces with inward corners: an L and a star, by the surveyor's formula.
func TestFacesWithInwardCorners(t *testing.T) {
	m := readModel(t, []byte("v 0 0 7\nv 20 0 7\nv 20 10 7\nv 10 10 7\nv 10 20 7\nv 0 20 7\nf 1 2 3 4 5 6\nv 0 0 0\nv 4 1 0\nv 0 4 0\nv 1 1 0\nf 7 \\\n 8 9 10\n"))
	if !alike(m.AreaMM2(), 300+6, 1e-6) { // the dart 0,0 4,1 0,4 1,1: (4·4 - 1·4)/2
		t.Errorf("area %v", m.AreaMM2())
	}
}

// The same piece is the same in every format, turned any way, its triangles in any
// order; and its area goes with the square of its size.
func TestPieceIsTheSameInEveryFormat(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := bowl(rapid.Float64Range(10, 90).Draw(rt, "r"), rapid.Float64Range(0.5, 4).Draw(rt, "t"), rapid.IntRange(2, 8).Draw(rt, "n"))
		x, y, z := rows([3]float64{rapid.Float64Range(0, 360).Draw(rt, "x"), rapid.Float64Range(0, 360).Draw(rt, "y"), rapid.Float64Range(0, 360).Draw(rt, "z")})
		k := rapid.Float64Range(0.1, 30).Draw(rt, "k")
		plain := f.model(t)
		vol, _ := plain.VolumeMM3()
		turned := f.moved(func(v Vec) Vec { return Vec{v.dot(x) + 100, v.dot(y), v.dot(z) - 50} })
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(turned), func(i, j int) { turned[i], turned[j] = turned[j], turned[i] })
		for name, data := range map[string][]byte{"stl": turned.stl(), "ascii": turned.ascii(), "obj": turned.obj(), "3mf": turned.threeMF("millimeter", "0 1 0 -1 0 0 0 0 1 5 6 7")} {
			m := readModel(t, data)
			v, closed := m.VolumeMM3()
			if !closed || !alike(m.AreaMM2(), plain.AreaMM2(), 1e-4) || math.Abs(v-vol) > 1e-3*vol || m.Corners() != plain.Corners() {
				rt.Fatalf("%s: area %v, want %v; volume %v, want %v; %d corners, want %d; closed %v", name, m.AreaMM2(), plain.AreaMM2(), v, vol, m.Corners(), plain.Corners(), closed)
			}
		}
		big, err := plain.Scaled(k)
		if err != nil || !alike(big.AreaMM2(), k*k*plain.AreaMM2(), 1e-5) {
			rt.Fatalf("%v times as large: %v, want %v (%v)", k, big.AreaMM2(), k*k*plain.AreaMM2(), err)
		}
		to, err := plain.ScaledTo(123)
		if s := to.Box().Size(); err != nil || !alike(max(s.X, s.Y, s.Z), 123, 1e-5) || to.Assumed {
			rt.Fatalf("scaled to 123: %v, %v", s, err)
		}
	})
}

// 3MF Core Specification, 3.4: the units; a transform that mirrors keeps the outside out.
func TestUnitsAndMirrorsOf3MF(t *testing.T) {
	f := block(1, 2, 3)
	for unit, mm := range map[string]float64{"micron": 1e-3, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000} {
		m := readModel(t, f.threeMF(unit, "-1 0 0 0 1 0 0 0 1 0 0 0"))
		if v, closed := m.VolumeMM3(); !closed || !alike(v, 6*mm*mm*mm, 1e-5) || m.Health().InsideOut != 0 {
			t.Errorf("%s: volume %v, closed %v, inside out %d", unit, v, closed, m.Health().InsideOut)
		}
	}
	m, err := ReadMesh(f.stl(), MeshOptions{UnitMM: 25.4})
	if err != nil || !alike(m.AreaMM2(), 22*25.4*25.4, 1e-6) || m.Assumed {
		t.Errorf("STL in inches: %v, %v", m.AreaMM2(), err)
	}
}

func TestFaultsOfAModelAreFound(t *testing.T) {
	cube := block(10, 10, 10)
	far := cube.moved(func(v Vec) Vec { return v.add(Vec{X: 100}) })
	inner := cube.moved(func(v Vec) Vec { return v.times(0.5).add(Vec{2, 2, 2}) }).flipped()
	turned1 := append(faces{}, cube...)
	turned1[0] = [3]Vec{cube[0][0], cube[0][2], cube[0][1]}
	wall := append(append(faces{}, cube...), cube.moved(func(v Vec) Vec { return v.add(Vec{X: 10}) })...)
	tests := []struct {
		name  string
		f     faces
		check func(h Health) bool
		words string
	}{
		{"whole", cube, func(h Health) bool { return h.Closed && h.PartCount == 1 }, ""},
		{"a face is missing", cube[1:], func(h Health) bool {
			return !h.Closed && h.OpenEdges == 3 && alike(h.OpenMM, 20+10*math.Sqrt2, 1e-6)
		}, "open edges"},
		{"inside out", cube.flipped(), func(h Health) bool { return h.Closed && h.InsideOut == 1 && h.Hollows == 0 }, "inside out"},
		{"a face is turned", turned1, func(h Health) bool { return !h.Closed && h.TurnedEdges == 3 && h.OpenEdges == 0 }, "opposite ways"},
		{"two parts, one inside out", append(append(faces{}, cube...), far.flipped()...), func(h Health) bool { return h.PartCount == 2 && h.InsideOut == 1 }, "2 separate parts"},
		{"a hollow", append(append(faces{}, cube...), inner...), func(h Health) bool { return h.Closed && h.Hollows == 1 && h.InsideOut == 0 }, "closed in"},
		{"a wall within", wall, func(h Health) bool { return h.CrowdEdges == 5 && h.OpenEdges == 0 }, "More than two faces"},
		{"faces twice, beginning elsewhere", begunAnew(cube), func(h Health) bool { return h.Closed && h.Doubled == 24 }, "stood twice"},
		{"a face without area", append(append(faces{}, cube...), [3]Vec{cube[0][0], cube[0][0], cube[0][1]}), func(h Health) bool { return h.Closed && h.Collapsed == 1 }, "no width"},
	}
	for _, tt := range tests {
		h := tt.f.model(t).Health()
		if !tt.check(h) {
			t.Errorf("%s: %+v", tt.name, h)
		}
		if w := strings.Join(h.Words(), " "); (w == "") != (tt.words == "") || !strings.Contains(w, tt.words) {
			t.Errorf("%s: says %q", tt.name, w)
		}
	}
	// what is inside out is put right where it matters
	s, err := cube.flipped().model(t).Slopes(Vec{Z: 1}, false)
	if err != nil || !alike(s.Flat, 1./6, 1e-6) || !alike(s.Under, 1./6, 1e-6) {
		t.Errorf("slopes of a cube inside out: %+v, %v", s, err)
	}
}

// begunAnew is each face three times, beginning at each of its corners.
func begunAnew(f faces) faces {
	var out faces
	for _, t := range f {
		out = append(out, t, [3]Vec{t[1], t[2], t[0]}, [3]Vec{t[2], t[0], t[1]})
	}
	return out
}

func TestModelsThatCannotBeReadAreRefused(t *testing.T) {
	cube := block(1, 1, 1)
	nan := cube.stl()
	copy(nan[stlHead+12:], "\xff\xff\xff\xff")
	head := `<model xmlns="x"><resources>`
	tri := `<object id="1"><mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/></vertices><triangles><triangle v1="0" v2="1" v3="2"/></triangles></mesh></object>`
	doubling := head + tri // each object holds the one before ten times
	for i := 2; i < 16; i++ {
		doubling += fmt.Sprintf(`<object id="%d"><components>%s</components></object>`, i, strings.Repeat(fmt.Sprintf(`<component objectid="%d"/>`, i-1), 10))
	}
	doubling += `</resources><build><item objectid="15"/></build></model>`
	one := func(model string) string { return string(packed(map[string]string{usualModel3MF: model})) }
	lots := make([]byte, stlHead+10)
	copy(lots[80:], "\xff\xff\xff\x7f")
	for name, data := range map[string]string{
		"empty": "", "text": "hello", "picture": "\x89PNG\r\n\x1a\n" + strings.Repeat("\x00", 100), "cut off": string(cube.stl()[:300]), "no place": string(nan),
		"claims two thousand million": string(lots), "ascii cut off": "solid x\nfacet\nvertex 0 0 0\n", "ascii four": "solid x\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nvertex 1 1 0\nendloop\nendsolid",
		"ascii no number": "solid x\nvertex 0 a 0\nendsolid", "ascii empty": "solid x\nendsolid x\n", "obj no corner": "v 0 0 0\nf 1 2 3\n", "obj two": "v 0 0 0\nv 1 0 0\nf 1 2\n", "obj word": "v 0 x 0\n",
		"obj comb": comb(),
		"obj far":  "v 1e30 0 0\n", "zip cut off": "PK\x03\x04", "zip of something": string(packed(map[string]string{"a.txt": "b"})), "3mf not xml": one("hello"), "3mf cut off": one(head + tri),
		"3mf doctype": one(`<!DOCTYPE a [<!ENTITY b "c">]>` + head + tri + `</resources><build/></model>`), "3mf corner": one(strings.Replace(head+tri+`</resources><build><item objectid="1"/></build></model>`, `v3="2"`, `v3="3"`, 1)),
		"3mf unit": one(`<model unit="ell"/>`), "3mf nothing placed": one(head + tri + `</resources><build/></model>`), "3mf missing": one(head + tri + `</resources><build><item objectid="9"/></build></model>`),
		"3mf itself": one(head + `<object id="1"><components><component objectid="1"/></components></object></resources><build><item objectid="1"/></build></model>`), "3mf doubling": one(doubling),
		"3mf bomb": one(head + strings.Repeat(" ", 20<<20) + tri + `</resources><build><item objectid="1"/></build></model>`),
		"3mf move": one(head + tri + `</resources><build><item objectid="1" transform="1 2 3"/></build></model>`),
	} {
		if m, err := ReadMesh([]byte(data), MeshOptions{}); studio.ProblemIn(err) == nil {
			t.Errorf("%s: %v, %v; want a problem", name, m, err)
		}
	}
	for _, k := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := cube.model(t).Scaled(k); studio.ProblemIn(err) == nil {
			t.Errorf("scaled by %v: %v", k, err)
		}
		if _, err := cube.model(t).ScaledTo(k); studio.ProblemIn(err) == nil {
			t.Errorf("scaled to %v: %v", k, err)
		}
	}
}

// comb is a face of 1999 corners, again and again, on which ears are rare.
func comb() string {
	var b, f strings.Builder
	f.WriteString("f")
	const n = 1999
	for i := range n { // a spiral out and back
		a, r := 0.1*float64(i), 1+0.01*float64(i)
		if i > n/2 {
			a, r = 0.1*float64(n-i), 0.9985+0.01*float64(n-i)
		}
		fmt.Fprintf(&b, "v %v %v 0\n", r*math.Cos(a), r*math.Sin(a))
		fmt.Fprintf(&f, " %d", i+1)
	}
	return b.String() + strings.Repeat(f.String()+"\n", 2000)
}

func FuzzReadMesh(f *testing.F) {
	f.Add(block(1, 2, 3).stl())
	f.Add(block(1, 2, 3).ascii())
	f.Add([]byte("v 0 0 0\nv 20 0 0\nv 20 10 0\nv 10 10 0\nv 10 20 0\nf 1 2 3 4 -1\n"))
	f.Add(block(1, 2, 3).threeMF("inch", ""))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := ReadMesh(data, MeshOptions{})
		sound(t, m, err)
	})
}

// FuzzRead3MF goes past the packing.
func FuzzRead3MF(f *testing.F) {
	f.Add(`<model unit="inch"><resources><object id="1"><mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/></vertices><triangles><triangle v1="0" v2="1" v3="2"/></triangles></mesh></object></resources><build><item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 0"/></build></model>`)
	f.Fuzz(func(t *testing.T, text string) {
		m := model3MF{objects: map[string]*object3MF{}, unit: 1}
		if err := m.read(strings.NewReader(text)); err != nil {
			sound(t, nil, err)
			return
		}
		mesh, err := m.build()
		sound(t, mesh, err)
	})
}

func sound(t *testing.T, m *Mesh, err error) {
	t.Helper()
	if err != nil {
		if studio.ProblemIn(err) == nil {
			t.Fatalf("not a problem for a person: %v", err)
		}
		return
	}
	if a := m.AreaMM2(); !(a >= 0) || math.IsInf(a, 0) {
		t.Fatalf("area %v", a)
	}
	m.Health()
	if _, err := m.Ponds(Vec{0.1, 0.2, 1}); err != nil {
		t.Fatal(err)
	}
}
