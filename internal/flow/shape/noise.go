package shape

import (
	"math"
	"slices"
	"sync"

	"aerugo/internal/flow/form"
)

// The mottle of a face is drawn by value noise in space: a random number at each
// corner of a lattice, smooth between them, and half as strong again at half the
// width. The page's own renderer draws the same (static/piece.js).

// lattice is a number from 0 to 1 for a corner of the lattice: the corner's place
// folded to one number (Teschner, M. et al., Optimized Spatial Hashing for Collision
// Detection of Deformable Objects, VMV 2003, 47-54), then mixed.
func lattice(x, y, z int32) float64 {
	h := uint32(x)*73856093 ^ uint32(y)*19349663 ^ uint32(z)*83492791
	h ^= h >> 16
	h *= 0x7feb352d
	h ^= h >> 15
	h *= 0x846ca68b
	h ^= h >> 16
	return float64(h>>8) / (1 << 24)
}

func octave(p form.Vec) float64 {
	cell := func(v float64) (int32, float64) {
		f := math.Floor(v)
		t := v - f
		return int32(f), t * t * (3 - 2*t)
	}
	x, u := cell(p.X)
	y, v := cell(p.Y)
	z, w := cell(p.Z)
	mix := func(a, b, t float64) float64 { return a + (b-a)*t }
	return mix(
		mix(mix(lattice(x, y, z), lattice(x+1, y, z), u), mix(lattice(x, y+1, z), lattice(x+1, y+1, z), u), v),
		mix(mix(lattice(x, y, z+1), lattice(x+1, y, z+1), u), mix(lattice(x, y+1, z+1), lattice(x+1, y+1, z+1), u), v), w)
}

// mottle is the noise at a place, lattice corners apart by widthMM, from 0 to 1.
func mottle(p form.Vec, widthMM float64) float64 {
	k := 1 / widthMM
	// turned, so that no face of a piece lies along the lattice, where the noise is not
	// what it is elsewhere
	q := form.Vec{X: k * (0.48*p.X + 0.64*p.Y + 0.6*p.Z), Y: k * (-0.8*p.X + 0.6*p.Y), Z: k * (-0.36*p.X - 0.48*p.Y + 0.8*p.Z)}
	return (octave(q) + 0.5*octave(form.Vec{X: 2*q.X + 17, Y: 2*q.Y + 17, Z: 2*q.Z + 17})) / 1.5
}

// Ranks are how often the noise lies below 0, 1/32, 2/32 ... 1: what turns a value
// into a share of the area, so that each colour covers its own share.
var Ranks = sync.OnceValue(func() (out [33]float64) {
	var all []float64
	for i := range 30_000 { // a low-discrepancy walk through the lattice
		f := float64(i)
		all = append(all, mottle(form.Vec{X: f * 0.754877, Y: f * 0.569840, Z: f * 0.327713}, 1))
	}
	slices.Sort(all)
	for i := range out {
		n, _ := slices.BinarySearch(all, float64(i)/32)
		out[i] = float64(n) / float64(len(all))
	}
	return out
})

// rank is the share of places whose noise lies below v.
func rank(v float64) float64 {
	t := Ranks()
	x := max(0, min(32, v*32))
	i := min(int(x), 31)
	return t[i] + (t[i+1]-t[i])*(x-float64(i))
}
