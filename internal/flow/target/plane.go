package target

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// plane maps columns and rows of the target's lattice to pixels of the picture,
// row by row of a 3 x 3 matrix.
type plane [9]float64

func (h plane) to(x, y float64) studio.Point {
	w := h[6]*x + h[7]*y + h[8]
	return studio.Point{X: (h[0]*x + h[1]*y + h[2]) / w, Y: (h[3]*x + h[4]*y + h[5]) / w}
}

func (h plane) times(g plane) (out plane) {
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			for k := 0; k < 3; k++ {
				out[3*i+j] += h[3*i+k] * g[3*k+j]
			}
		}
	}
	return out
}

// middle returns the centroid of points and their mean distance from it.
func middle(p []studio.Point) (c studio.Point, d float64) {
	n := float64(len(p))
	for _, v := range p {
		c.X += v.X / n
		c.Y += v.Y / n
	}
	for _, v := range p {
		d += math.Hypot(v.X-c.X, v.Y-c.Y) / n
	}
	return c, d
}

// fitPlane returns the plane that takes four or more points nearest to others,
// by the normalised direct linear transformation (Hartley and Zisserman,
// Multiple View Geometry, 2nd ed., 2004, algorithm 4.2). ok is false when the
// points lie in one line.
func fitPlane(from, to []studio.Point) (h plane, ok bool) {
	cf, df := middle(from)
	ct, dt := middle(to)
	if len(from) < 4 || !(df > 0) || !(dt > 0) {
		return h, false
	}
	sf, st := math.Sqrt2/df, math.Sqrt2/dt
	m := mat.NewDense(2*len(from), 8, nil)
	v := mat.NewVecDense(2*len(from), nil)
	for i := range from {
		x, y := sf*(from[i].X-cf.X), sf*(from[i].Y-cf.Y)
		u, w := st*(to[i].X-ct.X), st*(to[i].Y-ct.Y)
		m.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y})
		m.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -w * x, -w * y})
		v.SetVec(2*i, u)
		v.SetVec(2*i+1, w)
	}
	var s mat.VecDense
	if s.SolveVec(m, v) != nil {
		return h, false
	}
	for i := 0; i < 8; i++ {
		h[i] = s.AtVec(i)
	}
	h[8] = 1
	h = plane{1 / st, 0, ct.X, 0, 1 / st, ct.Y, 0, 0, 1}.times(h).times(plane{sf, 0, -sf * cf.X, 0, sf, -sf * cf.Y, 0, 0, 1})
	for _, e := range h {
		if math.IsNaN(e) || math.IsInf(e, 0) {
			return h, false
		}
	}
	return h, true
}

// mostAstray is how far, as a share of the pitch, a square may be from where the
// others want it: a patch of which glare hid a part is out by more. Common
// practice, no source.
const mostAstray = 0.07

// steadyPlane is fitPlane without the points that the others speak against; n
// is how many are left.
func steadyPlane(from, to []studio.Point) (h plane, n int, ok bool) {
	for {
		if h, ok = fitPlane(from, to); !ok || len(from) < fewestSquares {
			return h, len(from), ok && len(from) >= fewestSquares
		}
		// Squares that pull the plane towards themselves are judged by one drawn
		// without them; a fit good to a few hundredths needs no such look.
		worst, most := -1, mostAstray
		for i := range from {
			if astray(h, from[i], to[i]) < mostAstray/4 {
				continue
			}
			less, ok := fitPlane(append(append([]studio.Point{}, from[:i]...), from[i+1:]...), append(append([]studio.Point{}, to[:i]...), to[i+1:]...))
			if !ok {
				continue
			}
			if d := astray(less, from[i], to[i]); d > most {
				worst, most = i, d
			}
		}
		if worst < 0 {
			return h, len(from), true
		}
		from = append(append([]studio.Point{}, from[:worst]...), from[worst+1:]...)
		to = append(append([]studio.Point{}, to[:worst]...), to[worst+1:]...)
	}
}

// astray is how far a point is from its place, as a share of the pitch there.
func astray(h plane, from, to studio.Point) float64 {
	p := h.to(from.X, from.Y)
	return math.Hypot(p.X-to.X, p.Y-to.Y) / h.pitch(from.X, from.Y)
}

// pitch is the shorter distance between neighbouring patches about (x, y), in
// pixels.
func (h plane) pitch(x, y float64) float64 {
	c, r, d := h.to(x, y), h.to(x+0.5, y), h.to(x, y+0.5)
	return 2 * min(math.Hypot(r.X-c.X, r.Y-c.Y), math.Hypot(d.X-c.X, d.Y-c.Y))
}

// view is a picture at the size in which patches are looked for, as cube roots
// of linear light, by which equal steps look about equal.
type view struct {
	w, h  int
	scale float64 // view pixels to a picture pixel
	px    [][3]float32
}

// Sides of the view, in pixels. A patch must have about 8 to be seen as a
// square, so on a large picture the target may be as small as a tenth of it.
const (
	viewSide    = 1000
	mostEnlarge = 3.0
)

func newView(img *picture.Image) *view {
	scale := min(mostEnlarge, viewSide/float64(max(img.Width, img.Height)))
	v := &view{w: max(1, int(float64(img.Width)*scale)), h: max(1, int(float64(img.Height)*scale)), scale: scale}
	v.px = make([][3]float32, v.w*v.h)
	root := func(c [3]float32) [3]float32 {
		for i := range c {
			c[i] = float32(math.Cbrt(float64(c[i])))
		}
		return c
	}
	for y := 0; y < v.h; y++ {
		for x := 0; x < v.w; x++ {
			var c [3]float32
			if scale >= 1 {
				c = between(img, (float64(x)+0.5)/scale-0.5, (float64(y)+0.5)/scale-0.5)
			} else {
				x0, x1 := int(float64(x)/scale), min(img.Width, max(int(float64(x)/scale)+1, int(float64(x+1)/scale)))
				y0, y1 := int(float64(y)/scale), min(img.Height, max(int(float64(y)/scale)+1, int(float64(y+1)/scale)))
				n := float32((x1 - x0) * (y1 - y0))
				for yy := y0; yy < y1; yy++ {
					for xx := x0; xx < x1; xx++ {
						rgb, _ := img.At(xx, yy)
						for i := range c {
							c[i] += rgb[i] / n
						}
					}
				}
			}
			v.px[y*v.w+x] = root(c)
		}
	}
	return v
}

// between returns linear light between pixels.
func between(img *picture.Image, x, y float64) (c [3]float32) {
	x = min(max(x, 0), float64(img.Width-1))
	y = min(max(y, 0), float64(img.Height-1))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, img.Width-1), min(y0+1, img.Height-1)
	fx, fy := float32(x-float64(x0)), float32(y-float64(y0))
	a, _ := img.At(x0, y0)
	b, _ := img.At(x1, y0)
	d, _ := img.At(x0, y1)
	e, _ := img.At(x1, y1)
	for i := range c {
		c[i] = (a[i]*(1-fx)+b[i]*fx)*(1-fy) + (d[i]*(1-fx)+e[i]*fx)*fy
	}
	return c
}

// smooth returns the view averaged over 3 x 3 pixels, which takes out noise.
func (v *view) smooth() *view {
	out := &view{w: v.w, h: v.h, scale: v.scale, px: make([][3]float32, len(v.px))}
	for y := 0; y < v.h; y++ {
		for x := 0; x < v.w; x++ {
			var s [3]float32
			var n float32
			for yy := max(0, y-1); yy <= min(v.h-1, y+1); yy++ {
				for xx := max(0, x-1); xx <= min(v.w-1, x+1); xx++ {
					for i, c := range v.px[yy*v.w+xx] {
						s[i] += c
					}
					n++
				}
			}
			for i := range s {
				s[i] /= n
			}
			out.px[y*v.w+x] = s
		}
	}
	return out
}
