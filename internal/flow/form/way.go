package form

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Way is one way up of a piece and how liquid lies on it so.
type Way struct {
	Name   string // such as "upside down", from how the model is drawn
	Up     Vec    // the direction in the model that points up
	Slopes Slopes
	Ponds  []Pond
	PondMM3,
	PondMM2 float64 // of all pools together
	// Held is what the ways are ranked by: the share of the metal that is under pools,
	// half the share that lies level, where puddles stay, and a quarter of what faces
	// down (common practice, no source).
	Held float64
}

// ways are the six sides that may be up and the twelve half way between two of
// them, as a model with z up and its front towards -y names them.
var ways = []struct {
	name string
	up   Vec
}{
	{"as drawn", Vec{Z: 1}}, {"upside down", Vec{Z: -1}},
	{"on its back", Vec{Y: -1}}, {"on its front", Vec{Y: 1}},
	{"on its left side", Vec{X: 1}}, {"on its right side", Vec{X: -1}},
	{"leaning back half way", Vec{Y: -1, Z: 1}}, {"leaning forward half way", Vec{Y: 1, Z: 1}},
	{"leaning left half way", Vec{X: 1, Z: 1}}, {"leaning right half way", Vec{X: -1, Z: 1}},
	{"upside down, leaning back half way", Vec{Y: -1, Z: -1}}, {"upside down, leaning forward half way", Vec{Y: 1, Z: -1}},
	{"upside down, leaning left half way", Vec{X: 1, Z: -1}}, {"upside down, leaning right half way", Vec{X: -1, Z: -1}},
	{"standing on its edge, front left down", Vec{X: 1, Y: 1}}, {"standing on its edge, front right down", Vec{X: -1, Y: 1}},
	{"standing on its edge, back left down", Vec{X: 1, Y: -1}}, {"standing on its edge, back right down", Vec{X: -1, Y: -1}},
}

// Ways tries the piece eighteen ways up and returns them, the one on which the least
// liquid is held first. Whether it stands so is not judged: a rack or wire holds it.
// For a thin skin both counts both faces. It floods the mesh eighteen times, which
// takes seconds for a million triangles.
func (m *Mesh) Ways(both bool) ([]Way, error) {
	out := make([]Way, 0, len(ways))
	for _, w := range ways {
		way := Way{Name: w.name, Up: w.up}
		var err error
		if way.Slopes, err = m.Slopes(w.up, both); err != nil {
			return nil, err
		}
		if way.Ponds, err = m.Ponds(w.up); err != nil {
			return nil, err
		}
		for _, p := range way.Ponds {
			way.PondMM3 += p.VolumeMM3
			way.PondMM2 += p.WetMM2
		}
		if way.Slopes.AreaMM2 > 0 {
			way.Held = way.PondMM2/way.Slopes.AreaMM2 + way.Slopes.Flat/2 + way.Slopes.Under/4
		}
		out = append(out, way)
	}
	slices.SortStableFunc(out, func(a, b Way) int {
		return cmp.Compare(math.Round(a.Held*1e4), math.Round(b.Held*1e4)) // alike: the plainer way first
	})
	return out, nil
}

// Words says what becomes of liquid with the piece this way up.
func (w Way) Words() string {
	pools := "nothing pools"
	if w.PondMM3 > 0 {
		pools = fmt.Sprintf("%.3g mL pools, %.1f mm deep at most", w.PondMM3/1000, w.deepest())
	}
	return fmt.Sprintf("%s: %s; %.0f %% lies level, %.0f %% faces down.", capital(w.Name), pools, 100*w.Slopes.Flat, 100*w.Slopes.Under)
}

func (w Way) deepest() float64 {
	var d float64
	for _, p := range w.Ponds {
		d = max(d, p.DeepestMM)
	}
	return d
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}
