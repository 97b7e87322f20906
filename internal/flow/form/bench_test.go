package form

import (
	"math"
	"math/rand/v2"
	"runtime"
	"testing"
)

// million is a torus of a million triangles as binary STL, 50 MB.
func million(b *testing.B) []byte {
	b.Helper()
	const nu, nv = 1000, 500
	ring := make([]Vec, nu*nv)
	for i := range nu {
		su, cu := math.Sincos(2 * math.Pi * float64(i) / nu)
		for j := range nv {
			sv, cv := math.Sincos(2 * math.Pi * float64(j) / nv)
			r := 80 + 30*cv
			ring[i*nv+j] = Vec{r * cu, r * su, 30 * sv}
		}
	}
	f := make(faces, 0, 2*nu*nv)
	at := func(i, j int) Vec { return ring[i%nu*nv+j%nv] }
	for i := range nu {
		for j := range nv {
			f = append(f, [3]Vec{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]Vec{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return f.stl()
}

// BenchmarkMillionTriangles reads 50 MB of STL and answers the questions asked of
// every model: area, slopes and whether it fits a chamber in which it has to be
// laid over. With the file itself, MB-all is all the memory it ever asks for, so that
// its peak is less.
func BenchmarkMillionTriangles(b *testing.B) {
	data := million(b)
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	b.ReportAllocs()
	for b.Loop() {
		m, err := ReadMesh(data, MeshOptions{})
		if err != nil {
			b.Fatal(err)
		}
		if a := m.AreaMM2(); !alike(a, 4*math.Pi*math.Pi*80*30, 1e-3) {
			b.Fatal(a)
		}
		if _, err := m.Slopes(Vec{Z: 1}, false); err != nil {
			b.Fatal(err)
		}
		if _, err := m.FitsIn(Chamber{100, 300, 300}, 10); err != nil {
			b.Fatal(err)
		}
	}
	runtime.ReadMemStats(&after)
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/float64(b.N)/1e6+float64(len(data))/1e6, "MB-all")
}

func BenchmarkParts(b *testing.B) {
	data := million(b)
	m, err := ReadMesh(data, MeshOptions{})
	if err != nil {
		b.Fatal(err)
	}
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			if _, err := ReadMesh(data, MeshOptions{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("health", func(b *testing.B) {
		for b.Loop() {
			(&Mesh{pts: m.pts, tris: m.tris}).Health()
		}
	})
	b.Run("fit", func(b *testing.B) {
		for b.Loop() {
			if _, err := m.FitsIn(Chamber{100, 300, 300}, 10); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("pools", func(b *testing.B) {
		for b.Loop() {
			if _, err := m.Ponds(Vec{Z: 1}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("shade", func(b *testing.B) {
		for b.Loop() {
			if _, err := m.Shade(Vec{Z: 1}, false, 1000, rand.New(rand.NewPCG(1, 2))); err != nil {
				b.Fatal(err)
			}
		}
	})
}
