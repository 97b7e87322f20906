package texture

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

// EdgeShare is the outer part of a face's area that counts as its edge.
const EdgeShare = 0.2

// Face is the outline of a swatch or a drop within a grid, in mm from the grid's top
// left corner: its centre and half its width and height. A round face is a disc (or
// an ellipse when the halves differ), any other an upright rectangle.
type Face struct {
	X, Y         float64
	HalfW, HalfH float64
	Round        bool
}

// Disc returns the round face of a centre and a radius in mm.
func Disc(x, y, radius float64) Face { return Face{x, y, radius, radius, true} }

// WholeFace returns the rectangle that fills the grid.
func WholeFace(g Grid) Face {
	w, h := float64(g.W)*g.MMPerCell/2, float64(g.H)*g.MMPerCell/2
	return Face{w, h, w, h, false}
}

// within returns which share of the face's area lies further from its edge than a
// point x, y mm from its centre: 0 in the middle, 1 on the edge, above 1 outside. From
// a rectangle's edge depth is to the nearest side, from a disc's along the radius.
func (f Face) within(x, y float64) float64 {
	if f.Round {
		return (x*x)/(f.HalfW*f.HalfW) + (y*y)/(f.HalfH*f.HalfH)
	}
	depth := min(f.HalfW-math.Abs(x), f.HalfH-math.Abs(y))
	if depth < 0 {
		return 2
	}
	return max(0, 1-depth/f.HalfW) * max(0, 1-depth/f.HalfH)
}

// Ring is one part of a face between two outlines.
type Ring struct {
	Mean  float64 // deposit, in units of the grid; 0 when no cell of it counts
	Cells int
}

// Pooling says where on a face the deposit lies.
type Pooling struct {
	Cells     int     // cells of the face that count
	Mean      float64 // deposit, in units of the grid
	EdgeMean  float64 // of the outer 20 % of the area
	InnerMean float64 // of the rest
	Rings     []Ring  // of equal area, from the middle outwards
	RingCV    float64 // population standard deviation of the rings' means over their mean: 0 when all are alike

	// The centre of the deposit, from the centre of the cells that count.
	RightMM, UpMM float64
	Offset        float64 // relative to half the face: 0 in the middle
	OffsetDeg     float64 // its direction, 0 up to 360: 0 right, 90 to the top; 0 when Offset is 0

	// The first harmonic round the middle: 0 when no side has more than another, 1 when
	// all lies in one direction on an else bare face.
	Harmonic    float64
	HarmonicDeg float64 // where most of it lies, 0 up to 360; 0 when Harmonic is 0
}

// EdgeRatio returns the mean of the edge over that of the rest: 1 for a flat deposit,
// above for a ring. It is false when the rest is bare, so that there is no ratio.
func (p Pooling) EdgeRatio() (ratio float64, ok bool) {
	if p.InnerMean <= none*p.EdgeMean {
		return 0, false
	}
	return p.EdgeMean / p.InnerMean, true
}

// none is the size below which an offset or a harmonic is rounding, without direction,
// and a share of the deposit is nothing.
const none = 1e-9

// Pool measures the deposit on a face, in 1 to 100 rings. The deposit is whatever the
// grid holds, such as coverage, C* or a fall in L*, and must be stated with the
// numbers; it is not mass. It must not be negative, and not all 0 (ErrNoSpread). Both
// the edge and the rest need a cell that counts (ErrTooFew). Cells that do not count
// leave a flat deposit at no offset and no harmonic.
//
// The measures are common practice, no source; that a drop with a pinned rim carries
// its load to the rim is Deegan and others 1997.
func Pool(g Grid, f Face, rings int) (Pooling, error) {
	if _, err := g.check(); err != nil {
		return Pooling{}, err
	}
	if rings < 1 || rings > 100 {
		return Pooling{}, &science.RangeError{What: "number of rings", Got: float64(rings), Min: 1, Max: 100}
	}
	for _, v := range []float64{f.X, f.Y} {
		if !(math.Abs(v) <= maxValue) {
			return Pooling{}, &science.RangeError{What: "centre of the face", Got: v, Min: -maxValue, Max: maxValue, Unit: "mm"}
		}
	}
	for _, v := range []float64{f.HalfW, f.HalfH} {
		if !(v >= g.MMPerCell && v <= maxValue) {
			return Pooling{}, &science.RangeError{What: "half the face", Got: v, Min: g.MMPerCell, Max: maxValue, Unit: "mm"}
		}
	}
	p := Pooling{Rings: make([]Ring, rings)}
	var edge, inner Ring
	var deposit, flat moment
	for i, m := range g.V {
		if !g.ok(i) {
			continue
		}
		x, y := (float64(i%g.W)+0.5)*g.MMPerCell-f.X, (float64(i/g.W)+0.5)*g.MMPerCell-f.Y
		u := f.within(x, y)
		if u > 1+none {
			continue
		}
		if m < 0 {
			return Pooling{}, &science.RangeError{What: "deposit", Got: m, Min: 0, Max: maxValue}
		}
		part := &inner
		if u >= 1-EdgeShare-none {
			part = &edge
		}
		part.add(m)
		p.Rings[min(rings-1, int(u*float64(rings)+none))].add(m)
		deposit.add(x, y, m)
		flat.add(x, y, 1)
	}
	if edge.Cells == 0 || inner.Cells == 0 {
		return Pooling{}, fmt.Errorf("%w: %d on the edge of the face and %d on the rest", ErrTooFew, edge.Cells, inner.Cells)
	}
	if deposit.sum == 0 {
		return Pooling{}, ErrNoSpread
	}
	p.Cells = edge.Cells + inner.Cells
	p.Mean = deposit.sum / float64(p.Cells)
	p.EdgeMean, p.InnerMean = edge.mean(), inner.mean()
	p.RingCV = spread(p.Rings)

	p.RightMM = deposit.x/deposit.sum - flat.x/flat.sum
	p.UpMM = flat.y/flat.sum - deposit.y/deposit.sum
	if offset := math.Hypot(p.RightMM/f.HalfW, p.UpMM/f.HalfH); offset >= none {
		p.Offset, p.OffsetDeg = offset, direction(p.RightMM, p.UpMM)
	}
	if deposit.turned > 0 {
		// What the deposit has beyond a flat one of the same mean.
		share := deposit.turned / flat.turned
		right, up := (deposit.cos-share*flat.cos)/deposit.turned, (share*flat.sin-deposit.sin)/deposit.turned
		if size := math.Hypot(right, up); size >= none {
			p.Harmonic, p.HarmonicDeg = size, direction(right, up)
		}
	}
	return p, nil
}

// moment sums a deposit and where it lies, with y downwards.
type moment struct {
	sum, x, y        float64
	turned, cos, sin float64 // only of cells off the middle, which have a direction
}

func (s *moment) add(x, y, m float64) {
	s.sum += m
	s.x += m * x
	s.y += m * y
	if r := math.Hypot(x, y); r > 0 {
		s.turned += m
		s.cos += m * x / r
		s.sin += m * y / r
	}
}

// add counts a cell; until mean is called for, Mean holds the sum.
func (r *Ring) add(m float64) { r.Mean += m; r.Cells++ }

func (r Ring) mean() float64 { return r.Mean / float64(max(1, r.Cells)) }

// spread turns the sums of rings into means and returns the variation between them.
func spread(rings []Ring) (cv float64) {
	n, mean, variance := 0.0, 0.0, 0.0
	for i := range rings {
		rings[i].Mean = rings[i].mean()
		if rings[i].Cells > 0 {
			n++
			mean += rings[i].Mean
		}
	}
	mean /= n
	for _, r := range rings {
		if r.Cells > 0 {
			variance += (r.Mean - mean) * (r.Mean - mean) / n
		}
	}
	return math.Sqrt(variance) / mean
}

// direction is in degrees, 0 up to but not including 360.
func direction(right, up float64) float64 {
	deg := math.Atan2(up, right) * 180 / math.Pi
	if deg < 0 {
		deg += 360
	}
	if deg >= 360 {
		deg = 0
	}
	return deg
}
