package form

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Shade is how much of a piece vapour and spray get to, judged from places picked
// at random over its area.
type Shade struct {
	Places int // how many were judged
	// Open is the mean share of the half-sphere over a place from which air comes
	// freely: 1 on a ball, a half in a hemispherical bowl. It says where vapour is slow
	// to get, not by how much: air moves.
	Open float64
	// Dark is the share of the area that sees less than a quarter of its half-sphere,
	// and DarkAt the darkest place judged.
	Dark   float64
	DarkAt Vec
	// Missed is the share of the area that spray from the given side does not hit,
	// because it looks away or another part stands before it.
	Missed float64
}

// DarkOpen is the openness below which a place counts as dark (common practice, no
// source).
const DarkOpen = 0.25

// shadeWork bounds the boxes and triangles that rays look at: some seconds.
const shadeWork = 200_000_000

// Shade judges how open the piece lies to vapour from all sides and to spray that
// comes from the side spray points to (from above: the direction up). For a thin skin
// both counts both faces. Places is how many places to judge, 100 to 20 000, each
// by 64 rays: with 1000 the shares are good to 0.03. The same dice give the same
// figures. A mesh on which rays cost too much is judged in fewer places, at least
// one in ten; [Shade.Places] says how many.
func (m *Mesh) Shade(spray Vec, both bool, places int, dice *rand.Rand) (Shade, error) {
	const rays = 64
	if !(places >= 100 && places <= 20000) {
		return Shade{}, bad("places", "Shadow is judged in 100 to 20000 places, not %d.", places)
	}
	from, ok := spray.unit()
	if !ok {
		return Shade{}, bad("up", "Say from which side the spray comes: that direction has no length.")
	}
	n := m.Triangles()
	sum := make([]float64, n) // area of the triangles up to each
	var all float64
	for i := range n {
		all += m.normal(i).length() / 2
		sum[i] = all
	}
	if !(all > 0) {
		return Shade{}, bad("model", "The faces of the model have no area.")
	}
	t := m.tree()
	sign := m.inward()
	size := m.Box().Size().length()
	near := 1e-5 * size // rays begin a little off, so that a face does not shade itself
	var s Shade
	darkest := 2.0
	dark, missed := 0, 0
	// one place in each of as many equal shares of the area, taken in mixed order so
	// that the first of them stand for all
	for _, k := range dice.Perm(places) {
		if t.work > shadeWork && s.Places >= places/10 || t.work > 4*shadeWork {
			break
		}
		x := (float64(k) + dice.Float64()) / float64(places) * all
		i, _ := slices.BinarySearch(sum, x)
		i = min(i, n-1)
		a, b, c := m.corners(i)
		u, v := dice.Float64(), dice.Float64()
		if u+v > 1 {
			u, v = 1-u, 1-v
		}
		at := a.add(b.sub(a).times(u)).add(c.sub(a).times(v))
		normal, ok := m.normal(i).unit()
		if !ok {
			continue
		}
		normal = normal.times(sign(i))
		if both && dice.IntN(2) == 1 {
			normal = normal.times(-1)
		}
		start := at.add(normal.times(near))
		side, up := frame(normal)
		free := 0
		turn := dice.Float64()
		for r := range rays { // spread by equal shares, dense towards the normal as the cosine
			q := (float64(r) + dice.Float64()) / rays
			sin, cos := math.Sincos(2 * math.Pi * (float64(r)*0.6180339887498949 + turn))
			flat := math.Sqrt(q)
			d := side.times(flat * cos).add(up.times(flat * sin)).add(normal.times(math.Sqrt(1 - q)))
			if !t.hits(start, d, 0) {
				free++
			}
		}
		open := float64(free) / rays
		s.Places++
		s.Open += open
		if open < DarkOpen {
			dark++
		}
		if open < darkest {
			darkest, s.DarkAt = open, at
		}
		if normal.dot(from) <= 0 || t.hits(start, from, 0) {
			missed++
		}
	}
	if s.Places > 0 {
		k := float64(s.Places)
		s.Open, s.Dark, s.Missed = s.Open/k, float64(dark)/k, float64(missed)/k
	}
	return s, nil
}

// frame returns two directions square to n and to each other.
func frame(n Vec) (Vec, Vec) {
	a := Vec{X: 1}
	if math.Abs(n.X) > 0.7 {
		a = Vec{Y: 1}
	}
	side, _ := n.cross(a).unit()
	return side, n.cross(side)
}

// Words says in a sentence what vapour and spray get to.
func (s Shade) Words() string {
	if s.Dark < 0.005 {
		return fmt.Sprintf("Vapour gets to all of the metal freely; spray from that side misses %.0f %% of it.", 100*s.Missed)
	}
	return fmt.Sprintf("%.0f %% of the metal lies deep, where vapour is slow to get, most of all near %.0f, %.0f, %.0f mm; spray from that side misses %.0f %%.",
		100*s.Dark, s.DarkAt.X, s.DarkAt.Y, s.DarkAt.Z, 100*s.Missed)
}
