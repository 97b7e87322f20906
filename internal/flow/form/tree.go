package form

import "math"

// tree finds what a ray hits: boxes within boxes, split at the middle triangle of
// the longest side, so that it is as deep as the logarithm of their number whatever
// the mesh.
type tree struct {
	m     *Mesh
	order []int32 // triangles, those of a leaf side by side
	nodes []node
	work  int64 // boxes and triangles looked at
}

// node is a box; a leaf has n triangles from at on, another has its two children
// at at and at+1.
type node struct {
	lo, hi [3]float32
	at, n  int32
}

const leafSize = 8

func (m *Mesh) tree() *tree {
	n := m.Triangles()
	t := &tree{m: m, order: make([]int32, n)}
	mid := make([]float32, 3*n) // three times the middle of each triangle
	for i := range t.order {
		t.order[i] = int32(i)
		for k := range 3 {
			mid[3*i+k] = m.pts[3*m.tris[3*i]+int32(k)] + m.pts[3*m.tris[3*i+1]+int32(k)] + m.pts[3*m.tris[3*i+2]+int32(k)]
		}
	}
	t.nodes = make([]node, 1, 2*(n/leafSize+1))
	t.split(0, 0, n, mid)
	return t
}

func (t *tree) split(at, from, to int, mid []float32) {
	nd := node{lo: [3]float32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}, hi: [3]float32{-math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32}}
	lo, hi := nd.lo, nd.hi
	for _, i := range t.order[from:to] {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], mid[3*int(i)+k]), max(hi[k], mid[3*int(i)+k])
			for _, c := range t.m.tris[3*i : 3*i+3] {
				v := t.m.pts[3*c+int32(k)]
				nd.lo[k], nd.hi[k] = min(nd.lo[k], v), max(nd.hi[k], v)
			}
		}
	}
	if to-from <= leafSize {
		nd.at, nd.n = int32(from), int32(to-from)
		t.nodes[at] = nd
		return
	}
	axis := 0
	for k := 1; k < 3; k++ {
		if hi[k]-lo[k] > hi[axis]-lo[axis] {
			axis = k
		}
	}
	half := (from + to) / 2
	pick(t.order[from:to], half-from, func(i int32) float32 { return mid[3*int(i)+axis] })
	kids := len(t.nodes)
	t.nodes = append(t.nodes, node{}, node{})
	nd.at = int32(kids)
	t.nodes[at] = nd
	t.split(kids, from, half, mid)
	t.split(kids+1, half, to, mid)
}

// pick reorders s so that the k lowest by key come first (Hoare, C. A. R., Algorithm
// 65: Find, Communications of the ACM 4(7):321-322, 1961), the pivot being the
// middle of three.
func pick(s []int32, k int, key func(int32) float32) {
	for lo, hi := 0, len(s)-1; lo < hi; {
		a, b, c := key(s[lo]), key(s[(lo+hi)/2]), key(s[hi])
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for key(s[i]) < pivot {
				i++
			}
			for key(s[j]) > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
}

// hits reports whether a ray from a point meets the mesh farther off than near.
func (t *tree) hits(from, dir Vec, near float64) bool {
	inv := [3]float64{1 / dir.X, 1 / dir.Y, 1 / dir.Z}
	o := [3]float64{from.X, from.Y, from.Z}
	var stack [128]int32
	top := 1
	for top > 0 {
		top--
		nd := &t.nodes[stack[top]]
		t.work++
		t0, t1 := near, math.Inf(1)
		for k := range 3 {
			a, b := (float64(nd.lo[k])-o[k])*inv[k], (float64(nd.hi[k])-o[k])*inv[k]
			if a > b {
				a, b = b, a
			}
			if a > t0 { // NaN, a ray within a side, leaves it as it is
				t0 = a
			}
			if b < t1 {
				t1 = b
			}
		}
		if t0 > t1*(1+1e-6) {
			continue
		}
		if nd.n == 0 {
			stack[top], stack[top+1] = nd.at, nd.at+1
			top += 2
			continue
		}
		for _, i := range t.order[nd.at : nd.at+nd.n] {
			t.work++
			a, b, c := t.m.corners(int(i))
			if d, ok := meetTriangle(from, dir, a, b, c); ok && d > near {
				return true
			}
		}
	}
	return false
}

// meetTriangle returns how far along a ray it meets a triangle.
//
// Source: Möller, T. and Trumbore, B., Fast, Minimum Storage Ray/Triangle
// Intersection, Journal of Graphics Tools 2(1):21-28, 1997.
func meetTriangle(from, dir, a, b, c Vec) (float64, bool) {
	e1, e2 := b.sub(a), c.sub(a)
	p := dir.cross(e2)
	det := e1.dot(p)
	if det == 0 {
		return 0, false
	}
	s := from.sub(a)
	u := s.dot(p) / det
	if !(u >= 0 && u <= 1) {
		return 0, false
	}
	q := s.cross(e1)
	v := dir.dot(q) / det
	if !(v >= 0 && u+v <= 1) {
		return 0, false
	}
	return e2.dot(q) / det, true
}
