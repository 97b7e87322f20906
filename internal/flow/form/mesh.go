package form

import (
	"bytes"
	"math"
	"sync"
)

// Limits of a model. Looking over a mesh of the largest size takes about 300 MB, the
// file apart.
const (
	mostMeshBytes = 512 << 20
	mostTriangles = 5_000_000
	mostReachMM   = 1e7
)

// Vec is a place or a direction in space, in mm.
type Vec struct{ X, Y, Z float64 }

func (a Vec) sub(b Vec) Vec       { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a Vec) add(b Vec) Vec       { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a Vec) times(k float64) Vec { return Vec{a.X * k, a.Y * k, a.Z * k} }
func (a Vec) dot(b Vec) float64   { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a Vec) cross(b Vec) Vec     { return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X} }
func (a Vec) length() float64     { return math.Sqrt(a.dot(a)) }
func (a Vec) axis(i int) float64  { return [3]float64{a.X, a.Y, a.Z}[i] }
func (a Vec) least(b Vec) Vec     { return Vec{min(a.X, b.X), min(a.Y, b.Y), min(a.Z, b.Z)} }
func (a Vec) most(b Vec) Vec      { return Vec{max(a.X, b.X), max(a.Y, b.Y), max(a.Z, b.Z)} }
func (a Vec) unit() (Vec, bool) {
	l := a.length()
	if !(l > 0) || math.IsInf(l, 0) {
		return Vec{}, false
	}
	return a.times(1 / l), true
}

// Box3 is an upright box in space.
type Box3 struct{ Min, Max Vec }

// Size is the box's length, width and height in mm.
func (b Box3) Size() Vec { return b.Max.sub(b.Min) }

// Mesh is a surface in the round, of triangles that share corners. It does not
// change once it is read, and may be used by several goroutines.
type Mesh struct {
	pts  []float32 // x, y, z of each corner
	tris []int32   // three corners of each triangle, seen from outside going round to the left

	// Assumed is set when the file does not say how large a unit is, as no STL or OBJ
	// does; it is then what the options say, or 1 mm.
	Assumed bool
	// Notes is what the person should know about how the file was read.
	Notes []string

	doubled, collapsed int // triangles left out at reading

	once sync.Once
	topo topology
}

// MeshOptions say how to read a model.
type MeshOptions struct {
	UnitMM float64 // length of the file's unit in mm, over what the file says; 0 to take its word
}

// ReadMesh reads a model: STL (binary or ASCII), OBJ or 3MF, told apart by what is
// in the file. Triangles that stand twice the same way or have shrunk to a line
// are left out and counted in [Mesh.Health].
//
// Coordinates are kept as 32-bit numbers, 7 digits, as STL does.
func ReadMesh(data []byte, opt MeshOptions) (*Mesh, error) {
	if len(data) > mostMeshBytes {
		return nil, bad("model", "The model is %d MB; it can have %d MB.", len(data)>>20, mostMeshBytes>>20)
	}
	if opt.UnitMM != 0 && !(opt.UnitMM > 1e-6 && opt.UnitMM < 1e6) {
		return nil, bad("unit", "A unit of %.4g mm can't be; it has to be between 0.000001 and 1000000 mm.", opt.UnitMM)
	}
	var m *Mesh
	var err error
	unit := 1.0
	switch {
	case len(data) == 0:
		return nil, bad("model", "The file is empty; an STL, OBJ or 3MF model is read here.")
	case bytes.HasPrefix(data, []byte("PK")):
		m, unit, err = read3MF(data)
	case binarySTL(data):
		m, err = readBinarySTL(data)
	case bytes.HasPrefix(bytes.TrimLeft(data, " \t\r\n\xef\xbb\xbf"), []byte("solid")):
		m, err = readASCIISTL(data)
	default:
		m, err = readOBJ(data)
	}
	if err != nil {
		return nil, err
	}
	if len(m.tris) == 0 {
		return nil, bad("model", "The model has no faces.")
	}
	if opt.UnitMM > 0 {
		unit, m.Assumed = opt.UnitMM, false
	} else if m.Assumed {
		m.Notes = append(m.Notes, "The file does not say what its unit is; it is taken as mm. Give a known length to be sure.")
	}
	return m.Scaled(unit)
}

// Scaled is the model made larger by a factor, such as 25.4 for one in inches.
func (m *Mesh) Scaled(by float64) (*Mesh, error) {
	if !(by > 1e-6 && by < 1e9) {
		return nil, bad("scale", "A model can't be made %.4g times as large; the factor has to be between 0.000001 and 1000000000.", by)
	}
	box := m.Box()
	if reach := max(box.Max.most(box.Min.times(-1)).X, box.Max.most(box.Min.times(-1)).Y, box.Max.most(box.Min.times(-1)).Z); reach*by > mostReachMM {
		return nil, bad("scale", "The model reaches %.4g mm from its origin; it has to lie within %g mm.", reach*by, mostReachMM)
	}
	if by == 1 {
		return m, nil
	}
	out := &Mesh{tris: m.tris, Assumed: m.Assumed, Notes: m.Notes, doubled: m.doubled, collapsed: m.collapsed, pts: make([]float32, len(m.pts))}
	for i, v := range m.pts {
		out.pts[i] = float32(float64(v) * by)
	}
	return out, nil
}

// ScaledTo is the model scaled so that the longest of length, width and height is
// longestMM.
func (m *Mesh) ScaledTo(longestMM float64) (*Mesh, error) {
	s := m.Box().Size()
	longest := max(s.X, s.Y, s.Z)
	if !(longest > 0) || !(longestMM > 0) {
		return nil, bad("scale", "The longest side of the piece is %.4g mm; it has to be more than 0.", longestMM)
	}
	out, err := m.Scaled(longestMM / longest)
	if err == nil && out != m {
		out.Assumed = false
	}
	return out, err
}

// Triangles is how many triangles the mesh has, Corners how many corners.
func (m *Mesh) Triangles() int { return len(m.tris) / 3 }

// Corners is how many different corners the mesh has.
func (m *Mesh) Corners() int { return len(m.pts) / 3 }

func (m *Mesh) at(corner int32) Vec {
	p := m.pts[3*corner : 3*corner+3 : 3*corner+3]
	return Vec{float64(p[0]), float64(p[1]), float64(p[2])}
}

// corners returns the places of triangle i's corners.
func (m *Mesh) corners(i int) (a, b, c Vec) {
	t := m.tris[3*i : 3*i+3 : 3*i+3]
	return m.at(t[0]), m.at(t[1]), m.at(t[2])
}

// normal is twice the area of triangle i, as a vector outward.
func (m *Mesh) normal(i int) Vec {
	a, b, c := m.corners(i)
	return b.sub(a).cross(c.sub(a))
}

// AreaMM2 is the area of all triangles: outside and inside of a piece modelled with
// its thickness, one face of one modelled as a thin surface. Exact for the mesh;
// a mesh of a curved piece lies a little within it.
func (m *Mesh) AreaMM2() float64 {
	var a float64
	for i := range m.Triangles() {
		a += m.normal(i).length()
	}
	return a / 2
}

// VolumeMM3 is the volume of the metal, by the divergence theorem, and whether the
// mesh is closed: it means nothing when it is not.
func (m *Mesh) VolumeMM3() (mm3 float64, closed bool) {
	t := m.topology()
	for _, p := range t.parts {
		mm3 += p.VolumeMM3
	}
	return mm3, t.closed()
}

// Box is the box round the model as it lies in the file.
func (m *Mesh) Box() Box3 {
	if len(m.pts) == 0 {
		return Box3{}
	}
	lo := [3]float32{m.pts[0], m.pts[1], m.pts[2]}
	hi := lo
	for i := 0; i < len(m.pts); i += 3 {
		for k := range 3 {
			v := m.pts[i+k]
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	return Box3{Vec{float64(lo[0]), float64(lo[1]), float64(lo[2])}, Vec{float64(hi[0]), float64(hi[1]), float64(hi[2])}}
}

// builder gathers triangles and gives corners at the same place one number.
type builder struct {
	m     *Mesh
	table []int32 // corner + 1 by hash of its place
}

func newBuilder(triangles int) *builder {
	b := &builder{m: &Mesh{}}
	size := 64
	for size < triangles { // a closed mesh has half as many corners as triangles
		size *= 2
	}
	b.table = make([]int32, size)
	b.m.pts = make([]float32, 0, 3*(triangles/2+16))
	b.m.tris = make([]int32, 0, 3*triangles)
	return b
}

// corner returns the number of the corner at a place; ok is false where a
// coordinate is no number or too far away.
func (b *builder) corner(x, y, z float32) (n int32, ok bool) {
	for _, v := range [3]float32{x, y, z} {
		if !(v >= -mostReachMM*1e3 && v <= mostReachMM*1e3) {
			return 0, false
		}
	}
	x, y, z = x+0, y+0, z+0 // -0 is 0
	at := b.slot(x, y, z)
	if b.table[at] != 0 {
		return b.table[at] - 1, true
	}
	n = int32(len(b.m.pts) / 3)
	b.m.pts = append(b.m.pts, x, y, z)
	b.table[at] = n + 1
	if 2*int(n) >= len(b.table) {
		b.table = make([]int32, 2*len(b.table))
		for i := range n + 1 {
			p := b.m.pts[3*i:]
			b.table[b.slot(p[0], p[1], p[2])] = i + 1
		}
	}
	return n, true
}

func (b *builder) slot(x, y, z float32) int {
	h := uint64(math.Float32bits(x))*0x9E3779B97F4A7C15 ^ uint64(math.Float32bits(y))*0xC2B2AE3D27D4EB4F ^ uint64(math.Float32bits(z))*0x165667B19E3779F9
	h ^= h >> 29
	h *= 0xBF58476D1CE4E5B9
	h ^= h >> 32
	mask := len(b.table) - 1
	i := int(h) & mask
	for {
		k := b.table[i]
		if k == 0 {
			return i
		}
		if p := b.m.pts[3*(k-1):]; p[0] == x && p[1] == y && p[2] == z {
			return i
		}
		i = (i + 1) & mask
	}
}

func (b *builder) triangle(i, j, k int32) {
	if i == j || j == k || k == i {
		b.m.collapsed++
		return
	}
	b.m.tris = append(b.m.tris, i, j, k)
}

// mesh returns what was built, less the triangles that stand twice the same way
// round. The other way round is the back of a sheet and stays.
func (b *builder) mesh() *Mesh {
	m := b.m
	b.table = nil
	size := 64
	for size < 2*m.Triangles() {
		size *= 2
	}
	table := make([]int32, size)
	kept := m.tris[:0]
	for t := 0; t < len(m.tris); t += 3 {
		i, j, k := m.tris[t], m.tris[t+1], m.tris[t+2]
		for i > j || i > k { // begin with the least: the sense stays
			i, j, k = j, k, i
		}
		h := uint64(i)*0x9E3779B97F4A7C15 ^ uint64(j)*0xC2B2AE3D27D4EB4F ^ uint64(k)*0x165667B19E3779F9
		h ^= h >> 31
		h *= 0xBF58476D1CE4E5B9
		at := int(h>>20) & (size - 1)
		double := false
		for table[at] != 0 {
			if q := kept[table[at]-1:]; q[0] == i && q[1] == j && q[2] == k {
				double = true
				break
			}
			at = (at + 1) & (size - 1)
		}
		if double {
			m.doubled++
			continue
		}
		table[at] = int32(len(kept)) + 1
		kept = append(kept, i, j, k)
	}
	m.tris = kept
	return m
}
