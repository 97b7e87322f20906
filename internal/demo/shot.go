package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"aerugo/internal/studio"
)

// A Light is the lamp and the exposure of one session: everything photographed
// in that session, the grey card too, is multiplied by it.
type Light struct {
	Cast     [3]float64 // red, green, blue; 1 is neutral
	Exposure float64    // 1 is right
	Slope    float64    // how much brighter one side of the table is than the other, as a fraction
	From     float64    // which side, in radians from the right edge, clockwise
}

// A Shot is everything one photograph depends on. The same Shot gives the same
// bytes, always.
type Shot struct {
	Number            int64
	Face              studio.Face
	Look              Look
	WidthMM, HeightMM float64
	Taken             time.Time
	Light             Light
	Upright           bool   // the phone was held upright: stored turned, orientation 6
	Piece             uint64 // the face's own chance: the same in all its photographs
	Chance            uint64 // this photograph's chance: how it was held, its noise
}

// greyL is L* (D50) of an 18 % grey card.
const greyL = 49.5

// size returns the picture's width and height as displayed.
func (s Shot) size() (w, h int) {
	if s.Upright {
		return 750, 1000
	}
	return 1000, 750
}

// place is an upright rectangle on the table, in mm from the table's top left.
type place struct{ x, y, w, h, round float64 }

// scene says where on the table things lie, and the point the camera looks at.
type scene struct {
	swatch, card, label place
	midX, midY          float64
}

// scene lays out the table for s.
func (s Shot) scene() scene {
	w, h := s.WidthMM, s.HeightMM
	if s.Upright {
		return scene{
			swatch: place{0, 0, w, h, 0.7},
			card:   place{w/2 + 7, h + 12, 25, 30, 1},
			label:  place{w/2 - 32, h + 16, 34, 15, 0.3},
			midX:   w / 2, midY: (h + 42) / 2,
		}
	}
	return scene{
		swatch: place{0, 0, w, h, 0.7},
		card:   place{w + 9, 1, 26, 36, 1},
		label:  place{w/2 - 17, h + 8, 34, 15, 0.3},
		midX:   (w + 35) / 2, midY: (h + 23) / 2,
	}
}

// lens maps a place on the table, in mm, to displayed pixels and back.
type lens struct{ to, from [9]float64 }

// lens returns the camera of s: a plain pinhole about 30 cm above the table,
// 2 to 4 degrees off the vertical and turned a little.
func (s Shot) lens() lens {
	rng := rand.New(rand.NewPCG(s.Chance, 31))
	w, h := s.size()
	sc := s.scene()
	const far = 300.0 // mm
	focal := far * 8.5 * (0.97 + 0.05*rng.Float64())
	tilt := (2 + 2*rng.Float64()) * math.Pi / 180
	side := 2 * math.Pi * rng.Float64()
	roll := 1.6 * rng.NormFloat64()
	roll = max(-3, min(3, roll)) * math.Pi / 180
	offX, offY := sc.midX+1.6*(2*rng.Float64()-1), sc.midY+1.6*(2*rng.Float64()-1)

	// The table's axes as the camera sees them: a turn by tilt about the line
	// at angle side, then a roll.
	ss, cs := math.Sincos(side)
	st, ct := math.Sincos(tilt)
	ex := [3]float64{cs*cs + ss*ss*ct, cs * ss * (1 - ct), -ss * st}
	ey := [3]float64{cs * ss * (1 - ct), ss*ss + cs*cs*ct, cs * st}
	sr, cr := math.Sincos(roll)
	turn := func(v [3]float64) [3]float64 { return [3]float64{cr*v[0] - sr*v[1], sr*v[0] + cr*v[1], v[2]} }
	ex, ey = turn(ex), turn(ey)

	var to [9]float64
	cx, cy := float64(w)/2, float64(h)/2
	at := [3]float64{-offX*ex[0] - offY*ey[0], -offX*ex[1] - offY*ey[1], far - offX*ex[2] - offY*ey[2]}
	for i, v := range [3][3]float64{ex, ey, at} {
		to[i] = focal*v[0] + cx*v[2]
		to[3+i] = focal*v[1] + cy*v[2]
		to[6+i] = v[2]
	}
	return lens{to: to, from: inverse(to)}
}

// inverse returns the inverse of the 3 by 3 matrix m, up to a factor, which a
// homography does not notice.
func inverse(m [9]float64) [9]float64 {
	return [9]float64{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
}

// through maps (x, y) by the homography m.
func through(m [9]float64, x, y float64) (float64, float64) {
	w := m[6]*x + m[7]*y + m[8]
	return (m[0]*x + m[1]*y + m[2]) / w, (m[3]*x + m[4]*y + m[5]) / w
}

// Marks returns what a careful person would mark on the photograph: the face's
// four corners and the middle of the grey card, in displayed pixels.
func (s Shot) Marks() studio.Marks {
	l, sc := s.lens(), s.scene()
	p := sc.swatch
	var corners [4]studio.Point
	for i, c := range [4][2]float64{{p.x, p.y}, {p.x + p.w, p.y}, {p.x + p.w, p.y + p.h}, {p.x, p.y + p.h}} {
		corners[i].X, corners[i].Y = through(l.to, c[0], c[1])
	}
	// The largest upright rectangle about the card's middle is the card less
	// the strip its turn takes away; 60 % of it is safely inside.
	x, y := through(l.to, sc.card.x+sc.card.w/2, sc.card.y+sc.card.h*0.42)
	x1, _ := through(l.to, sc.card.x+sc.card.w*0.8, sc.card.y+sc.card.h*0.42)
	_, y1 := through(l.to, sc.card.x+sc.card.w/2, sc.card.y+sc.card.h*0.68)
	return studio.Marks{
		Corners: &corners,
		Grey:    &studio.Rect{X: math.Round(2*x - x1), Y: math.Round(2*y - y1), W: math.Round(2 * (x1 - x)), H: math.Round(2 * (y1 - y))},
		GreyL:   greyL,
	}
}
