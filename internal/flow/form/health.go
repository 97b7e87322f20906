package form

import (
	"cmp"
	"fmt"
	"slices"
)

// Part is one connected piece of a mesh.
type Part struct {
	Triangles int
	AreaMM2   float64
	VolumeMM3 float64 // below 0 when its faces look inward
	Closed    bool
	Box       Box3
}

// Health says whether a mesh is what it should be: a skin without holes round each
// part, its faces looking outward.
type Health struct {
	Closed      bool
	OpenEdges   int // that only one triangle has
	OpenMM      float64
	OpenAt      Vec // the middle of one of them
	TurnedEdges int // where neighbours look opposite ways
	CrowdEdges  int // that more than two triangles share
	Doubled     int // triangles that stood twice, left out
	Collapsed   int // triangles without area; those with two corners the same are left out
	InsideOut   int // closed parts whose faces look inward and that lie in no other
	Hollows     int // closed parts whose faces look inward within another: cavities
	Parts       []Part
	PartCount   int // Parts holds the largest 100
}

// topology is what the edges of a mesh tell, worked out once.
type topology struct {
	part    []int32 // of each corner
	parts   []Part
	open    []uint64  // a bit for each corner on an open edge
	holed   []bool    // of each part: it has open edges
	sign    []float64 // of each part: -1 if it is inside out
	openAt  [2]int32
	edges   struct{ open, turned, crowd int }
	flat    int
	openMM  float64
	inside  int
	hollows int
}

func (t *topology) closed() bool { return t.edges.open == 0 && t.edges.turned == 0 }

func (t *topology) onEdge(corner int32) bool { return t.open[corner/64]>>(corner%64)&1 != 0 }

// edgeKeys lists each triangle's edges as least corner, other corner and a bit for
// the direction, sorted.
func (m *Mesh) edgeKeys() []uint64 {
	keys := make([]uint64, 0, len(m.tris))
	for t := 0; t < len(m.tris); t += 3 {
		for k := range 3 {
			a, b := uint64(m.tris[t+k]), uint64(m.tris[t+(k+1)%3])
			if a < b {
				keys = append(keys, a<<32|b<<1)
			} else {
				keys = append(keys, b<<32|a<<1|1)
			}
		}
	}
	slices.Sort(keys)
	return keys
}

func (m *Mesh) topology() *topology {
	m.once.Do(func() {
		t := &m.topo
		n := m.Corners()
		root := make([]int32, n)
		for i := range root {
			root[i] = int32(i)
		}
		find := func(i int32) int32 {
			for root[i] != i {
				root[i] = root[root[i]]
				i = root[i]
			}
			return i
		}
		for i := 0; i < len(m.tris); i += 3 {
			a, b, c := find(m.tris[i]), find(m.tris[i+1]), find(m.tris[i+2])
			low := min(a, b, c)
			root[a], root[b], root[c] = low, low, low
		}
		t.part = make([]int32, n)
		seen := make([]int32, n)
		for i := range m.tris {
			if r := find(m.tris[i]); seen[r] == 0 {
				t.parts = append(t.parts, Part{Closed: true})
				seen[r] = int32(len(t.parts))
			}
		}
		for i := range t.part {
			t.part[i] = max(seen[find(int32(i))]-1, 0)
		}
		m.walkEdges(t)
		m.sumParts(t)
	})
	return &m.topo
}

// walkEdges counts the edges that are not shared by two triangles the same way round.
func (m *Mesh) walkEdges(t *topology) {
	t.open = make([]uint64, m.Corners()/64+1)
	t.holed = make([]bool, len(t.parts))
	keys := m.edgeKeys()
	for i := 0; i < len(keys); {
		edge := keys[i] >> 1
		var n [2]int
		for ; i < len(keys) && keys[i]>>1 == edge; i++ {
			n[keys[i]&1]++
		}
		a, b := int32(edge>>31), int32(edge&(1<<31-1))
		part := &t.parts[t.part[a]]
		switch {
		case n[0] == 1 && n[1] == 1:
		case n[0]+n[1] == 1:
			if t.edges.open == 0 {
				t.openAt = [2]int32{a, b}
			}
			t.edges.open++
			t.openMM += m.at(a).sub(m.at(b)).length()
			t.open[a/64] |= 1 << (a % 64)
			t.open[b/64] |= 1 << (b % 64)
			t.holed[t.part[a]] = true
			part.Closed = false
		case n[0]+n[1] > 2:
			t.edges.crowd++
			if n[0] != n[1] {
				part.Closed = false
				t.edges.turned++
			}
		default:
			t.edges.turned++
			part.Closed = false
		}
	}
}

// sumParts adds up each part's area, volume and box, and finds which look inward.
func (m *Mesh) sumParts(t *topology) {
	box := m.Box()
	mid := box.Min.add(box.Max).times(0.5) // so that no digits are lost far from the origin
	for i := range m.Triangles() {
		a, b, c := m.corners(i)
		p := &t.parts[t.part[m.tris[3*i]]]
		if p.Triangles == 0 {
			p.Box = Box3{a, a}
		}
		p.Triangles++
		n := b.sub(a).cross(c.sub(a))
		l := n.length()
		longest := max(b.sub(a).dot(b.sub(a)), c.sub(a).dot(c.sub(a)), c.sub(b).dot(c.sub(b)))
		if l <= 1e-6*longest { // lower than a millionth of its length: within the rounding of STL
			t.flat++
		}
		p.AreaMM2 += l / 2
		p.VolumeMM3 += a.sub(mid).dot(n) / 6
		p.Box.Min, p.Box.Max = p.Box.Min.least(a).least(b).least(c), p.Box.Max.most(a).most(b).most(c)
	}
	t.sign = make([]float64, len(t.parts))
	var outer []Part // a hollow lies in one of these
	for _, p := range t.parts {
		if p.Closed && p.VolumeMM3 > 0 {
			outer = append(outer, p)
		}
	}
	slices.SortFunc(outer, func(a, b Part) int { return cmp.Compare(b.VolumeMM3, a.VolumeMM3) })
	outer = outer[:min(len(outer), 100)]
	for i, p := range t.parts {
		t.sign[i] = 1
		if !p.Closed || p.VolumeMM3 >= 0 {
			continue
		}
		if slices.ContainsFunc(outer, func(o Part) bool { return o.Box.holds(p.Box) && o.VolumeMM3 > -p.VolumeMM3 }) {
			t.hollows++
		} else {
			t.inside++
			t.sign[i] = -1
		}
	}
}

func (b Box3) holds(o Box3) bool {
	return b.Min.X <= o.Min.X && b.Min.Y <= o.Min.Y && b.Min.Z <= o.Min.Z && b.Max.X >= o.Max.X && b.Max.Y >= o.Max.Y && b.Max.Z >= o.Max.Z
}

// Health looks the mesh over. It takes about a second for a million triangles.
func (m *Mesh) Health() Health {
	t := m.topology()
	h := Health{
		Closed: t.closed(), OpenEdges: t.edges.open, OpenMM: t.openMM, TurnedEdges: t.edges.turned, CrowdEdges: t.edges.crowd,
		Doubled: m.doubled, Collapsed: m.collapsed + t.flat, InsideOut: t.inside, Hollows: t.hollows, PartCount: len(t.parts),
	}
	if h.OpenEdges > 0 {
		h.OpenAt = m.at(t.openAt[0]).add(m.at(t.openAt[1])).times(0.5)
	}
	h.Parts = slices.Clone(t.parts)
	slices.SortStableFunc(h.Parts, func(a, b Part) int { return cmp.Compare(b.AreaMM2, a.AreaMM2) })
	h.Parts = h.Parts[:min(len(h.Parts), 100)]
	return h
}

// Words says in plain sentences what is wrong with the model and what it does to
// the figures; none when all is well.
func (h Health) Words() []string {
	var w []string
	say := func(format string, args ...any) { w = append(w, fmt.Sprintf(format, args...)) }
	if h.OpenEdges > 0 {
		say("The surface has open edges, %.4g mm in all, one of them near %.1f, %.1f, %.1f mm. If the model is a thin skin, count both its faces; if it has a thickness, it has a hole, and its volume and pools mean nothing.",
			h.OpenMM, h.OpenAt.X, h.OpenAt.Y, h.OpenAt.Z)
	}
	if h.TurnedEdges > 0 {
		say("Neighbouring faces look opposite ways along %s. The area is right; slopes, pools and the volume may not be.", count(h.TurnedEdges, "edge", "edges"))
	}
	if h.CrowdEdges > 0 {
		say("More than two faces meet along %s: walls inside the metal, or parts that touch. Walls inside are counted as area.", count(h.CrowdEdges, "edge", "edges"))
	}
	if h.InsideOut > 0 {
		say("%s inside out, its faces looking inward; that is put right here.", count(h.InsideOut, "part is", "parts are"))
	}
	if h.Hollows > 0 {
		say("%s closed in on all sides: no liquid or vapour gets there, but its area is counted.", count(h.Hollows, "hollow is", "hollows are"))
	}
	if h.Doubled > 0 {
		say("%s twice in the file and counted once.", count(h.Doubled, "face stood", "faces stood"))
	}
	if h.Collapsed > 0 {
		say("%s no width and so no area.", count(h.Collapsed, "face has", "faces have"))
	}
	if h.PartCount > 1 {
		say("The model has %d separate parts; where they overlap, the area is counted in both.", h.PartCount)
	}
	return w
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
