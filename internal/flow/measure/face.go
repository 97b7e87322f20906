package measure

import (
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// face is a straightened face: w x h cells of equal area, in linear light.
type face struct {
	w, h      int
	rgb       [][3]float32 // linear, as in the picture
	usable    []bool       // sampled, opaque, inside the edge band; later also free of glare
	shiny     []bool       // a quarter or more of the cell is at the glare code
	cells     []cell
	footprint float64 // picture pixels along a cell's side, on average
	opaque    float64 // share of the samples
	clipped   float64 // share of the samples with a channel clipped
	crushed   float64 // share of the samples whose every channel is nearly zero
}

// straighten resamples the quadrilateral to a grid of gridSide cells along its
// long side, or fewer when the picture has fewer pixels there.
func straighten(img *picture.Image, q [4]studio.Point, size Size) (*face, error) {
	return resample(img, q, size, gridSide)
}

// resample resamples the quadrilateral to a grid of at most most cells along its
// long side. A cell is the mean of
// enough samples to touch every picture pixel in it, in linear light, so that
// fine texture cannot alias; small pictures are interpolated between pixels.
func resample(img *picture.Image, q [4]studio.Point, size Size, most float64) (*face, error) {
	side := func(i, j int) float64 { return math.Hypot(q[j].X-q[i].X, q[j].Y-q[i].Y) }
	across := (side(0, 1) + side(3, 2)) / 2
	down := (side(0, 3) + side(1, 2)) / 2
	long := math.Min(most, math.Max(across, down))
	aspect := across / down
	if size.WidthMM > 0 && size.HeightMM > 0 {
		aspect = size.WidthMM / size.HeightMM
	}
	aspect = math.Max(0.05, math.Min(20, aspect))
	f := &face{}
	if aspect >= 1 {
		f.w, f.h = int(long), max(20, int(long/aspect+0.5))
	} else {
		f.w, f.h = max(20, int(long*aspect+0.5)), int(long)
	}
	w, h := float64(f.w), float64(f.h)
	m, ok := mapping([4]studio.Point{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}, q)
	if !ok {
		return nil, refuse("corners", "The corners lie in one line. Put each on the face's own corner.")
	}
	f.rgb = make([][3]float32, f.w*f.h)
	f.usable = make([]bool, f.w*f.h)
	f.shiny = make([]bool, f.w*f.h)
	bandX := max(1, int(math.Ceil(edgeBand*w)))
	bandY := max(1, int(math.Ceil(edgeBand*h)))
	var taken, seen, clipped, crushed, steps float64
	above := make([]studio.Point, f.w+1)
	below := make([]studio.Point, f.w+1)
	line := func(y int, dst []studio.Point) {
		for x := range dst {
			dst[x] = m.to(studio.Point{X: float64(x), Y: float64(y)})
		}
	}
	quick := newSampler(img)
	line(bandY, below)
	for y := bandY; y < f.h-bandY; y++ {
		above, below = below, above
		line(y+1, below)
		for x := bandX; x < f.w-bandX; x++ {
			p := [4]studio.Point{above[x], above[x+1], below[x+1], below[x]}
			span := math.Sqrt(math.Max(square(p[1].X-p[0].X)+square(p[1].Y-p[0].Y), square(p[3].X-p[0].X)+square(p[3].Y-p[0].Y)))
			steps += span
			var s tally
			if quick != nil && span >= blending {
				s = quick.cell(p, span)
			} else {
				s = sampleCell(img, p, span)
			}
			i := y*f.w + x
			taken += float64(s.taken)
			seen += float64(s.seen)
			clipped += float64(s.clipped)
			crushed += float64(s.crushed)
			if s.seen == 0 {
				continue
			}
			n := 1 / float32(s.seen)
			f.rgb[i] = [3]float32{s.sum[0] * n, s.sum[1] * n, s.sum[2] * n}
			f.usable[i] = 2*s.seen > s.taken
			f.shiny[i] = 4*s.glare >= s.seen
		}
	}
	inner := float64((f.w - 2*bandX) * (f.h - 2*bandY))
	f.footprint = math.Max(1, steps/inner)
	f.opaque = seen / taken
	if seen > 0 {
		f.clipped, f.crushed = clipped/seen, crushed/seen
	}
	return f, nil
}

// tally is the sum over the samples of one cell.
type tally struct {
	sum                                  [3]float32
	taken, seen, clipped, glare, crushed int
}

// blending is the span of a cell, in picture pixels, below which colours are
// interpolated between pixels.
const blending = 1.5

// samplesAcross is how many samples are taken along each side of a cell.
func samplesAcross(span float64) int {
	if span < blending {
		return 2
	}
	return min(64, int(math.Ceil(span-1e-9)))
}

// sampleCell samples the picture over the cell with corners p.
func sampleCell(img *picture.Image, p [4]studio.Point, span float64) tally {
	var t tally
	n := samplesAcross(span)
	for j := 0; j < n; j++ {
		v := (float64(j) + 0.5) / float64(n)
		lx, ly := p[0].X+v*(p[3].X-p[0].X), p[0].Y+v*(p[3].Y-p[0].Y)
		rx, ry := p[1].X+v*(p[2].X-p[1].X), p[1].Y+v*(p[2].Y-p[1].Y)
		for i := 0; i < n; i++ {
			u := (float64(i) + 0.5) / float64(n)
			x, y := lx+u*(rx-lx), ly+u*(ry-ly)
			t.taken++
			px := max(0, min(img.Width-1, int(x)))
			py := max(0, min(img.Height-1, int(y)))
			if !img.Opaque(px, py) {
				continue
			}
			rgb, peak := img.At(px, py)
			t.seen++
			if peak >= clippedCode {
				t.clipped++
			}
			if peak >= glareCode {
				t.glare++
			}
			if peak <= 3 {
				t.crushed++
			}
			if span < blending {
				rgb = bilinear(img, x, y)
			}
			t.sum[0] += rgb[0]
			t.sum[1] += rgb[1]
			t.sum[2] += rgb[2]
		}
	}
	return t
}

// bilinear interpolates linear light between pixel centres.
func bilinear(img *picture.Image, x, y float64) [3]float32 {
	x, y = x-0.5, y-0.5
	x0, y0 := math.Floor(x), math.Floor(y)
	fx, fy := float32(x-x0), float32(y-y0)
	inX := func(i int) int { return max(0, min(img.Width-1, i)) }
	inY := func(i int) int { return max(0, min(img.Height-1, i)) }
	l, r := inX(int(x0)), inX(int(x0)+1)
	t, b := inY(int(y0)), inY(int(y0)+1)
	lt, _ := img.At(l, t)
	rt, _ := img.At(r, t)
	lb, _ := img.At(l, b)
	rb, _ := img.At(r, b)
	var out [3]float32
	for c := range out {
		top := lt[c] + fx*(rt[c]-lt[c])
		bottom := lb[c] + fx*(rb[c]-lb[c])
		out[c] = top + fy*(bottom-top)
	}
	return out
}

// even takes the fall-off of the light over the face out of its linear RGB.
func (f *face) even(q [4]studio.Point, gain func(p studio.Point) [3]float64) {
	w, h := float64(f.w), float64(f.h)
	m, ok := mapping([4]studio.Point{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}}, q)
	if !ok {
		return // straighten has refused such corners
	}
	for i, ok := range f.usable {
		if ok {
			g := gain(m.to(studio.Point{X: float64(i%f.w) + 0.5, Y: float64(i/f.w) + 0.5}))
			for c := range g {
				f.rgb[i][c] *= float32(g[c])
			}
		}
	}
}

// light fills in the cells' colours.
func (f *face) light(l light) {
	f.cells = make([]cell, len(f.rgb))
	for i, ok := range f.usable {
		if ok {
			f.cells[i] = l.cell(f.rgb[i])
		}
	}
}

// dropGlare makes glaring cells, and all within 2 cells of them, unusable and
// returns the share of the face that was lost. A bare metal's highlight has
// the metal's own colour, so brightness alone decides.
func (f *face) dropGlare() float64 {
	const reach = 2
	before := 0
	glare := make([]bool, len(f.usable))
	for y := 0; y < f.h; y++ {
		for x := 0; x < f.w; x++ {
			i := y*f.w + x
			if !f.usable[i] {
				continue
			}
			before++
			if !f.shiny[i] && f.cells[i].lab.L <= glareL {
				continue
			}
			for v := max(0, y-reach); v <= min(f.h-1, y+reach); v++ {
				for u := max(0, x-reach); u <= min(f.w-1, x+reach); u++ {
					glare[v*f.w+u] = true
				}
			}
		}
	}
	lost := 0
	for i, g := range glare {
		if g && f.usable[i] {
			f.usable[i] = false
			lost++
		}
	}
	if before == 0 {
		return 0
	}
	return float64(lost) / float64(before)
}

// valid returns the usable cells.
func (f *face) valid() []cell {
	out := make([]cell, 0, len(f.cells)) // nearly all are; growing by steps would copy them several times
	for i, ok := range f.usable {
		if ok {
			out = append(out, f.cells[i])
		}
	}
	return out
}
