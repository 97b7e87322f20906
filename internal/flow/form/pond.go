package form

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// leastPondMM is the depth below which liquid in a hollow is a film and no pool
// (common practice, no source).
const leastPondMM = 0.1

// Pond is a hollow of a piece that fills with liquid until it spills over.
type Pond struct {
	DeepestMM float64
	VolumeMM3 float64 // when brim full
	WetMM2    float64 // metal under the liquid
	At        Vec     // its lowest place
}

// Ponds finds where liquid collects with one side up: each hollow with the depth
// and the volume that it holds before it spills, the largest first, at most 50.
// Exact for the mesh, as far as liquid follows the surface: what drips from one part
// onto another is not followed. Liquid leaves a solid where its surface looks down and
// goes no lower, and a skin over its open edges. Hollows closed in on all sides are
// left out.
//
// The surface is flooded from where liquid leaves it, always from the lowest place
// reached so far (Barnes, R., Lehman, C. and Mulla, D., Priority-Flood: An Optimal
// Depression-Filling and Watershed-Labeling Algorithm for Digital Elevation Models,
// Computers & Geosciences 62:117-127, 2014).
func (m *Mesh) Ponds(up Vec) ([]Pond, error) {
	u, ok := up.unit()
	if !ok {
		return nil, bad("up", "Say which way is up: that direction has no length.")
	}
	n := m.Corners()
	t := m.topology()
	g := m.neighbours()
	high := make([]float32, n)
	for i := range high {
		high[i] = float32(m.at(int32(i)).dot(u))
	}
	down := make([]float32, n) // how much of the metal round a corner looks down
	for i := range m.Triangles() {
		c := float32(m.normal(i).dot(u) * t.sign[t.part[m.tris[3*i]]])
		for _, k := range m.tris[3*i : 3*i+3] {
			down[k] -= c
		}
	}
	level := make([]float32, n)
	reached := make([]bool, n)
	var q rising
	leave := func(i int32) {
		level[i], reached[i] = high[i], true
		q.push(highCorner{high[i], i})
	}
	for i := range int32(n) {
		if len(g.of(i)) == 0 {
			continue
		}
		if t.holed[t.part[i]] { // a skin: it drips from its edges
			if t.onEdge(i) {
				leave(i)
			}
			continue
		}
		if down[i] <= 0 {
			continue
		}
		lowest := true
		for _, j := range g.of(i) {
			lowest = lowest && high[j] >= high[i]
		}
		if lowest {
			leave(i)
		}
	}
	for len(q) > 0 {
		c := q.pop()
		for _, j := range g.of(c.corner) {
			if !reached[j] {
				level[j], reached[j] = max(high[j], c.h), true
				q.push(highCorner{level[j], j})
			}
		}
	}
	return m.fill(u, high, level, reached, g), nil
}

// fill adds up the hollows: corners next to each other under one level.
func (m *Mesh) fill(u Vec, high, level []float32, reached []bool, g graph) []Pond {
	t := m.topology()
	in := make([]int32, len(high)) // pond + 1 of each corner under liquid
	var ponds []Pond
	var stack []int32
	for i := range in {
		if in[i] != 0 || !reached[i] || !(level[i] > high[i]) {
			continue
		}
		ponds = append(ponds, Pond{})
		id := int32(len(ponds))
		in[i] = id
		stack = append(stack[:0], int32(i))
		low := int32(i)
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if high[c] < high[low] {
				low = c
			}
			for _, j := range g.of(c) {
				if in[j] == 0 && reached[j] && level[j] > high[j] && level[j] == level[c] {
					in[j] = id
					stack = append(stack, j)
				}
			}
		}
		ponds[id-1].DeepestMM = float64(level[low] - high[low])
		ponds[id-1].At = m.at(low)
	}
	for i := range m.Triangles() {
		c := m.tris[3*i : 3*i+3]
		for _, k := range c {
			if in[k] == 0 {
				continue
			}
			n := m.normal(i)
			l := float64(level[k])
			depth, wet := under(l-float64(high[c[0]]), l-float64(high[c[1]]), l-float64(high[c[2]]))
			p := &ponds[in[k]-1]
			p.VolumeMM3 += depth * n.dot(u) / 2 * t.sign[t.part[c[0]]]
			p.WetMM2 += wet * n.length() / 2
			break
		}
	}
	for i := range ponds { // a skin may look either way
		ponds[i].VolumeMM3 = math.Abs(ponds[i].VolumeMM3)
	}
	ponds = slices.DeleteFunc(ponds, func(p Pond) bool { return p.DeepestMM < leastPondMM })
	slices.SortStableFunc(ponds, func(a, b Pond) int { return cmp.Compare(b.VolumeMM3, a.VolumeMM3) })
	return ponds[:min(len(ponds), 50)]
}

// under returns the mean depth over a triangle whose corners are d deep, counting
// 0 where it is dry, and the share that is wet.
func under(d0, d1, d2 float64) (mean, wet float64) {
	d := []float64{d0, d1, d2}
	slices.Sort(d)
	lo, mid, hi := d[0], d[1], d[2]
	switch {
	case hi <= 0:
		return 0, 0
	case lo >= 0:
		return (lo + mid + hi) / 3, 1
	case mid <= 0: // a corner is under: a smaller triangle
		wet = hi / (hi - lo) * hi / (hi - mid)
		return wet * hi / 3, wet
	default: // all but a corner
		dry := lo / (lo - mid) * lo / (lo - hi)
		return (lo+mid+hi)/3 - dry*lo/3, 1 - dry
	}
}

// Words says how deep a pool is and what it holds.
func (p Pond) Words() string {
	return fmt.Sprintf("A pool up to %.1f mm deep holds %.2g mL.", p.DeepestMM, p.VolumeMM3/1000)
}

// graph lists each corner's neighbours.
type graph struct {
	from []int32 // where the neighbours of a corner begin in to
	to   []int32
}

func (g graph) of(i int32) []int32 { return g.to[g.from[i]:g.from[i+1]] }

func (m *Mesh) neighbours() graph {
	keys := m.edgeKeys()
	for i := range keys {
		keys[i] >>= 1
	}
	keys = slices.Compact(keys)
	g := graph{from: make([]int32, m.Corners()+1), to: make([]int32, 2*len(keys))}
	ends := func(k uint64) (int32, int32) { return int32(k >> 31), int32(k & (1<<31 - 1)) }
	for _, k := range keys {
		a, b := ends(k)
		g.from[a+1]++
		g.from[b+1]++
	}
	for i := 1; i < len(g.from); i++ {
		g.from[i] += g.from[i-1]
	}
	at := slices.Clone(g.from)
	for _, k := range keys {
		a, b := ends(k)
		g.to[at[a]], g.to[at[b]] = b, a
		at[a]++
		at[b]++
	}
	return g
}
