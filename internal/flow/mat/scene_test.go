package mat

import (
	"math"
	"math/rand/v2"
	"testing"

	"aerugo/internal/studio"
)

// scene is one photograph to be.
type scene struct {
	layout   Layout
	w, h     int
	toPixels Homography
	tilt     float64 // degrees
	bend     float64 // of the lens: how far half the long side's end is moved, as a share
	swatches []piece
	labels   []piece
	others   []piece // grey card, target, what covers marks
	numbers  []int64
	covered  int
	light    [3]float64 // paper white, linear
	slope    MM         // of the light, for each mm
	shadow   func(p MM) float64
	blur     float64 // pixels
	noise    float64
	quality  int
	p3       bool
	upside   bool
	seed     uint64
}

// looks are linear sRGB reflectances of metal and patinas; invented.
var looks = [][3]float64{
	{0.45, 0.22, 0.13}, {0.50, 0.36, 0.14}, {0.10, 0.05, 0.03}, {0.16, 0.36, 0.30},
	{0.02, 0.02, 0.02}, {0.30, 0.48, 0.52}, {0.22, 0.10, 0.05}, {0.05, 0.14, 0.20},
}

// warmth is the colour of a lamp beside one of 6500 K by Planck's law at 610,
// 550 and 465 nm; the telephone takes half of it out.
func warmth(kelvin float64) (out [3]float64) {
	for i, nm := range [3]float64{610, 550, 465} {
		planck := func(k float64) float64 { return 1 / (math.Exp(1.4388e7/(nm*k)) - 1) }
		out[i] = math.Sqrt(planck(kelvin) / planck(6500))
	}
	g := out[1]
	for i := range out {
		out[i] /= g
	}
	return out
}

// camera returns the picture of the page under a pinhole camera.
func camera(l Layout, w, h int, tilt, axis, roll, fill float64, shift MM) Homography {
	rad := math.Pi / 180
	st, ct := math.Sin(tilt*rad), math.Cos(tilt*rad)
	sa, ca := math.Sin(axis*rad), math.Cos(axis*rad)
	sr, cr := math.Sin(roll*rad), math.Cos(roll*rad)
	focal := 1.15 * float64(max(w, h))
	project := func(d float64, p MM) [2]float64 {
		x, y := p.X-l.Page.W/2+shift.X, p.Y-l.Page.H/2+shift.Y
		u, v := ca*x+sa*y, -sa*x+ca*y // turned so that the tilt's axis is u
		v, z := v*ct, d+v*st
		x, y = ca*u-sa*v, sa*u+ca*v
		x, y = cr*x-sr*y, sr*x+cr*y
		return [2]float64{float64(w)/2 + focal*x/z, float64(h)/2 + focal*y/z}
	}
	fits := func(d float64) bool {
		for _, c := range l.Page.Corners() {
			p := project(d, c)
			if math.Abs(p[0]-float64(w)/2) > fill*float64(w)/2 || math.Abs(p[1]-float64(h)/2) > fill*float64(h)/2 {
				return false
			}
		}
		return true
	}
	d := 250.0
	for !fits(d) {
		d *= 1.02
	}
	var from, to [][2]float64
	for _, c := range l.Page.Corners() {
		from = append(from, [2]float64{c.X, c.Y})
		to = append(to, project(d, c))
	}
	hm, _ := fitHomography(from, to)
	return hm
}

// bent returns where the lens puts what a straight one puts at (x, y).
func (s *scene) bent(x, y float64) (u, v float64) {
	r := float64(max(s.w, s.h)) / 2
	x, y = x-float64(s.w)/2, y-float64(s.h)/2
	k := 1 + s.bend*(x*x+y*y)/(r*r)
	return float64(s.w)/2 + k*x, float64(s.h)/2 + k*y
}

// straight is the inverse of bent.
func (s *scene) straight(u, v float64) (x, y float64) {
	x, y = u, v
	for range 4 {
		a, b := s.bent(x, y)
		x, y = x+u-a, y+v-b
	}
	return x, y
}

// pixel is where the camera sees a place of the page; page is the way back.
func (s *scene) pixel(p MM) studio.Point {
	x, y := s.bent(s.toPixels.at(p.X, p.Y))
	return studio.Point{X: x, Y: y}
}

func (s *scene) page(q studio.Point) MM {
	back, _ := s.toPixels.inverse()
	x, y := back.at(s.straight(q.X, q.Y))
	return MM{x, y}
}

// newScene makes the scene of a number: everything about it is chosen by chance
// from the number.
func newScene(t testing.TB, n uint64) scene {
	t.Helper()
	r := rand.New(rand.NewPCG(n, 2026))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	l := Layouts[int(n)%len(Layouts)]
	s := scene{layout: l, w: 1125, h: 1500, seed: n, tilt: between(0, 40), quality: 60 + r.IntN(36)}
	roll := between(-12, 12)
	switch r.IntN(4) {
	case 0:
		roll += 180
		s.upside = true
	case 1:
		s.w, s.h = s.h, s.w
		roll += 90
	}
	s.toPixels = camera(l, s.w, s.h, s.tilt, between(0, 360), roll, between(0.86, 0.98), MM{between(-4, 4), between(-4, 4)})
	for i, place := range l.Swatches {
		w, h := between(0.4, 0.97)*l.MaxSwatch, between(0.4, 0.97)*l.MaxSwatch
		turn := between(-4, 4)
		room := func(side, long, other float64) float64 {
			return math.Max(0, (side-long-other*0.08)/2-1)
		}
		if room(place.W, w, h) == 0 || room(place.H, h, w) == 0 {
			turn = between(-0.4, 0.4)
		}
		c := place.Centre()
		c.X += between(-1, 1) * room(place.W, w, h)
		c.Y += between(-1, 1) * room(place.H, h, w)
		k := newPiece(c, w, h, turn)
		k.colour = [2][3]float64{looks[r.IntN(len(looks))], looks[r.IntN(len(looks))]}
		k.blotch, k.casts = between(0.05, 0.3), r.IntN(2) == 0
		s.swatches = append(s.swatches, k)
		number := 1 + r.Int64N(9999)
		face := studio.BothFaces[r.IntN(2)]
		lab := newPiece(l.Labels[i].Centre(), 46, 27, between(-3, 3)+float64(180*r.IntN(2)))
		lab.code = matrix(t, studio.Code(number, face))
		s.labels = append(s.labels, lab)
		s.numbers = append(s.numbers, number)
	}
	if r.IntN(5) > 0 {
		k := newPiece(l.Grey.Centre(), l.Grey.W+2, l.Grey.H+2, between(-2, 2))
		k.colour = [2][3]float64{{0.18, 0.18, 0.18}, {0.18, 0.18, 0.18}}
		s.others = append(s.others, k)
	}
	cover := 0
	if r.IntN(4) == 0 {
		cover = 1 + r.IntN(5)/4
	}
	for _, i := range r.Perm(4)[:cover] {
		m := l.Marks[i].Centre()
		k := newPiece(MM{m.X + between(-11, 11), m.Y + between(-11, 11)}, between(8, 25), between(8, 25), between(0, 90))
		k.colour = [2][3]float64{{0.5, 0.3, 0.22}, {0.42, 0.25, 0.18}} // a finger
		if r.IntN(3) == 0 {
			k.colour = [2][3]float64{{0.8, 0.8, 0.8}, {0.8, 0.8, 0.8}} // a slip of paper
		}
		s.others = append(s.others, k)
		s.covered++
	}
	white := between(0.45, 0.85)
	for c, v := range warmth(between(2700, 6500)) {
		s.light[c] = math.Min(white*v, 0.92)
	}
	angle, drop := between(0, 2*math.Pi), between(0, 0.25)
	s.slope = MM{math.Cos(angle) * drop / 297, math.Sin(angle) * drop / 297}
	s.shadow = func(MM) float64 { return 1 }
	if r.IntN(3) == 0 {
		deep, soft, a := between(0.2, 0.5), between(4, 25), between(0, 2*math.Pi)
		at := between(-60, 110)
		s.shadow = func(p MM) float64 {
			d := (p.X-l.Page.W/2)*math.Cos(a) + (p.Y-l.Page.H/2)*math.Sin(a) - at
			return 1 - deep*clamp(0.5+d/soft, 0, 1)
		}
	}
	if r.IntN(3) == 0 {
		s.bend = between(-0.004, 0.004) // what telephones leave after correcting their lens
	}
	s.blur, s.noise, s.p3 = between(0.3, 1.5), between(0.001, 0.006), r.IntN(3) == 0
	return s
}
