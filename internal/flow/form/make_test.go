package form

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"testing"
)

// faces is a mesh as a list of triangles, for tests to write out.
type faces [][3]Vec

// grid3 makes the faces of a surface x(u, v) over nu by nv squares; a seam closes
// by itself where the surface does.
func grid3(nu, nv int, x func(u, v float64) Vec) faces {
	var f faces
	at := func(i, j int) Vec { return x(float64(i)/float64(nu), float64(j)/float64(nv)) }
	for i := range nu {
		for j := range nv {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			for _, t := range [][3]Vec{{a, b, c}, {a, c, d}} {
				if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
					f = append(f, t)
				}
			}
		}
	}
	return f
}

// turned is a profile of radius and height swept round z in n steps: faces look to
// the right of the profile.
func turned(n int, profile ...Point) faces {
	var f faces
	at := func(p Point, k int) Vec {
		sin, cos := math.Sincos(2 * math.Pi * float64(k%n) / float64(n))
		return Vec{p.X * cos, p.X * sin, p.Y}
	}
	for i := 1; i < len(profile); i++ {
		p, q := profile[i-1], profile[i]
		for k := range n {
			if p.X > 0 {
				f = append(f, [3]Vec{at(p, k), at(p, k+1), at(q, k)})
			}
			if q.X > 0 {
				f = append(f, [3]Vec{at(q, k), at(p, k+1), at(q, k+1)})
			}
		}
	}
	return f
}

// arcPoints are the points of an arc round 0, h, angles in degrees from straight down.
func arcPoints(r, h, from, to float64, n int) []Point {
	var ps []Point
	for i := range n + 1 {
		sin, cos := sincosDeg(from + (to-from)*float64(i)/float64(n))
		ps = append(ps, Point{max(0, r*sin), h - r*cos})
	}
	return ps
}

func ball(r float64, n int) faces {
	ps := arcPoints(r, 0, 0, 180, n)
	ps[0].X, ps[n].X = 0, 0
	return turned(2*n, ps...)
}

// bowl is a hemispherical bowl, open above, of outer radius r and thickness t.
func bowl(r, t float64, n int) faces {
	ps := append(arcPoints(r, r, 0, 90, n), arcPoints(r-t, r, 90, 0, n)...)
	ps[0].X, ps[len(ps)-1].X = 0, 0
	return turned(4*n, ps...)
}

func block(l, w, h float64) faces {
	return grid6(func(x, y, z float64) Vec { return Vec{x * l, y * w, z * h} })
}

// grid6 is the six sides of a cube that is mapped by x.
func grid6(x func(x, y, z float64) Vec) faces {
	var f faces
	for _, q := range [][4][3]float64{
		{{0, 0, 0}, {0, 1, 0}, {1, 1, 0}, {1, 0, 0}}, {{0, 0, 1}, {1, 0, 1}, {1, 1, 1}, {0, 1, 1}},
		{{0, 0, 0}, {1, 0, 0}, {1, 0, 1}, {0, 0, 1}}, {{0, 1, 0}, {0, 1, 1}, {1, 1, 1}, {1, 1, 0}},
		{{0, 0, 0}, {0, 0, 1}, {0, 1, 1}, {0, 1, 0}}, {{1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {1, 0, 1}},
	} {
		var v [4]Vec
		for i, c := range q {
			v[i] = x(c[0], c[1], c[2])
		}
		f = append(f, [3]Vec{v[0], v[1], v[2]}, [3]Vec{v[0], v[2], v[3]})
	}
	return f
}

func (f faces) moved(by func(Vec) Vec) faces {
	out := make(faces, len(f))
	for i, t := range f {
		out[i] = [3]Vec{by(t[0]), by(t[1]), by(t[2])}
	}
	return out
}

func (f faces) flipped() faces {
	out := make(faces, len(f))
	for i, t := range f {
		out[i] = [3]Vec{t[0], t[2], t[1]}
	}
	return out
}

func (f faces) stl() []byte {
	b := make([]byte, stlHead, stlHead+stlFace*len(f))
	copy(b, "solid in name only") // as some writers begin binary files
	binary.LittleEndian.PutUint32(b[80:], uint32(len(f)))
	for _, t := range f {
		b = append(b, make([]byte, 12)...)
		for _, v := range t {
			for _, c := range [3]float64{v.X, v.Y, v.Z} {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(c)))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

func (f faces) ascii() []byte {
	var b bytes.Buffer
	b.WriteString("solid x\n")
	for _, t := range f {
		b.WriteString("facet normal 0 0 0\n outer loop\n")
		for _, v := range t {
			fmt.Fprintf(&b, "  vertex %.9e %.9e %.9e\n", float32(v.X), float32(v.Y), float32(v.Z))
		}
		b.WriteString(" endloop\nendfacet\n")
	}
	b.WriteString("endsolid x\n")
	return b.Bytes()
}

func (f faces) obj() []byte {
	var b bytes.Buffer
	for i, t := range f {
		for _, v := range t {
			fmt.Fprintf(&b, "v %v %v %v\n", float32(v.X), float32(v.Y), float32(v.Z))
		}
		if i%2 == 0 {
			fmt.Fprintf(&b, "f %d/1/2 %d//3 %d\n", 3*i+1, 3*i+2, 3*i+3)
		} else {
			b.WriteString("f -3 -2 -1\n")
		}
	}
	return b.Bytes()
}

// threeMF writes a 3MF whose object stands as a component under a transform.
func (f faces) threeMF(unit, transform string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<?xml version="1.0"?><model unit="%s" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1"><mesh><vertices>`, unit)
	for _, t := range f {
		for _, v := range t {
			fmt.Fprintf(&b, `<vertex x="%v" y="%v" z="%v"/>`, float32(v.X), float32(v.Y), float32(v.Z))
		}
	}
	b.WriteString(`</vertices><triangles>`)
	for i := range f {
		fmt.Fprintf(&b, `<triangle v1="%d" v2="%d" v3="%d"/>`, 3*i, 3*i+1, 3*i+2)
	}
	fmt.Fprintf(&b, `</triangles></mesh></object><object id="2"><components><component objectid="1" transform="%s"/></components></object></resources><build><item objectid="2"/></build></model>`, transform)
	return packed(map[string]string{usualModel3MF: b.String()})
}

func packed(files map[string]string) []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for name, text := range files {
		w, err := z.Create(name)
		if err != nil {
			panic(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			panic(err)
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// model reads faces back as a mesh.
func (f faces) model(t testing.TB) *Mesh {
	t.Helper()
	return readModel(t, f.stl())
}

func readModel(t testing.TB, data []byte) *Mesh {
	t.Helper()
	m, err := ReadMesh(data, MeshOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}
