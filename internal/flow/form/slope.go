package form

import (
	"fmt"
	"math"
)

// Where the slopes part, in degrees from level (common practice, no source): on
// flatter faces a puddle stays, on steeper ones than the second a film runs down.
const (
	FlatDeg  = 15.0
	SteepDeg = 60.0
)

// Slopes is how a piece's area lies to the horizontal, with one side up.
type Slopes struct {
	AreaMM2 float64
	// Flat faces up within FlatDeg of level: liquid stays. Sloping faces up from there to
	// SteepDeg: it runs slowly. Steep is steeper, either way: it runs off. Under faces
	// down by more than that: liquid hangs in drops and spray from above misses it. The
	// four are shares of the area and sum to 1.
	Flat, Sloping, Steep, Under float64
	// Bins are the shares by the angle between face and level in steps of 10 degrees: the
	// first faces straight up, the last straight down.
	Bins [18]float64
}

// Slopes sorts the area of the mesh by slope, with up the direction that is up.
// For a thin skin (an open mesh that stands for sheet) both counts both faces.
func (m *Mesh) Slopes(up Vec, both bool) (Slopes, error) {
	u, ok := up.unit()
	if !ok {
		return Slopes{}, bad("up", "Say which way is up: that direction has no length.")
	}
	t := m.inward()
	var s Slopes
	for i := range m.Triangles() {
		n := m.normal(i)
		l := n.length()
		if l == 0 {
			continue
		}
		cos := n.dot(u) / l * t(i)
		s.put(l/2, cos)
		if both {
			s.put(l/2, -cos)
		}
	}
	if s.AreaMM2 > 0 {
		for _, v := range []*float64{&s.Flat, &s.Sloping, &s.Steep, &s.Under} {
			*v /= s.AreaMM2
		}
		for i := range s.Bins {
			s.Bins[i] /= s.AreaMM2
		}
	}
	return s, nil
}

func (s *Slopes) put(area, cos float64) {
	deg := math.Acos(max(-1, min(1, cos))) * 180 / math.Pi
	s.AreaMM2 += area
	s.Bins[min(int(deg/10), 17)] += area
	switch {
	case deg <= FlatDeg:
		s.Flat += area
	case deg <= SteepDeg:
		s.Sloping += area
	case deg <= 180-SteepDeg:
		s.Steep += area
	default:
		s.Under += area
	}
}

// inward returns a sign for each triangle: -1 where its part is inside out.
func (m *Mesh) inward() func(triangle int) float64 {
	t := m.topology()
	if t.inside == 0 {
		return func(int) float64 { return 1 }
	}
	return func(i int) float64 { return t.sign[t.part[m.tris[3*i]]] }
}

// Words says in a sentence how the piece lies.
func (s Slopes) Words() string {
	return fmt.Sprintf("%.0f %% of the metal lies level and facing up, where liquid stays; on %.0f %% it runs slowly, from %.0f %% it runs off, and %.0f %% faces down, where drops hang and spray from above does not reach.",
		100*s.Flat, 100*s.Sloping, 100*s.Steep, 100*s.Under)
}
