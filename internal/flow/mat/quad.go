package mat

import (
	"math"
	"sort"

	"aerugo/internal/studio"
)

// quad is four corners, clockwise as seen in the picture.
type quad [4]studio.Point

// blob is a connected part of a mask: its pixels and their bounds.
type blob struct {
	pixels         []int32
	x0, y0, x1, y1 int // bounds, inclusive
}

// blobs returns the parts of mask (w wide) that hang together by sides, with at
// least least pixels. The mask is used up.
func blobs(mask []bool, w int, least int) []blob {
	h := len(mask) / w
	var out []blob
	var stack []int32
	for start := range mask {
		if !mask[start] {
			continue
		}
		b := blob{x0: w, y0: h}
		mask[start] = false
		stack = append(stack[:0], int32(start))
		var seen []int32
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			seen = append(seen, i)
			x, y := int(i)%w, int(i)/w
			b.x0, b.x1, b.y0, b.y1 = min(b.x0, x), max(b.x1, x), min(b.y0, y), max(b.y1, y)
			for _, n := range [4][3]int{{x - 1, y, -1}, {x + 1, y, 1}, {x, y - 1, -w}, {x, y + 1, w}} {
				if n[0] < 0 || n[1] < 0 || n[0] >= w || n[1] >= h {
					continue
				}
				if j := int(i) + n[2]; mask[j] {
					mask[j] = false
					stack = append(stack, int32(j))
				}
			}
		}
		if len(seen) >= least {
			b.pixels = seen
			out = append(out, b)
		}
	}
	return out
}

// hull returns the convex outline of b's pixels, clockwise in the picture.
func (b blob) hull(w int) []studio.Point {
	rows := b.y1 - b.y0 + 1
	left, right := make([]int, rows), make([]int, rows)
	for i := range left {
		left[i], right[i] = math.MaxInt, -1
	}
	for _, i := range b.pixels {
		x, y := int(i)%w, int(i)/w-b.y0
		left[y], right[y] = min(left[y], x), max(right[y], x+1)
	}
	var p []studio.Point
	for y := range rows {
		if right[y] < 0 {
			continue
		}
		for _, x := range []int{left[y], right[y]} {
			p = append(p, studio.Point{X: float64(x), Y: float64(y + b.y0)}, studio.Point{X: float64(x), Y: float64(y + b.y0 + 1)})
		}
	}
	return convex(p)
}

// convex returns the convex hull (Andrew's monotone chain), clockwise where y
// runs down.
func convex(p []studio.Point) []studio.Point {
	sort.Slice(p, func(i, j int) bool {
		if p[i].X != p[j].X {
			return p[i].X < p[j].X
		}
		return p[i].Y < p[j].Y
	})
	var out []studio.Point
	chain := func(q studio.Point, floor int) {
		for len(out) >= floor+2 && cross(out[len(out)-2], out[len(out)-1], q) <= 0 {
			out = out[:len(out)-1]
		}
		out = append(out, q)
	}
	for _, q := range p {
		chain(q, 0)
	}
	floor := len(out) - 1
	for i := len(p) - 2; i >= 0; i-- {
		chain(p[i], floor)
	}
	if len(out) > 1 {
		out = out[:len(out)-1]
	}
	return out
}

func cross(a, b, c studio.Point) float64 {
	return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X)
}

func area(p []studio.Point) float64 {
	sum := 0.0
	for i, a := range p {
		b := p[(i+1)%len(p)]
		sum += a.X*b.Y - a.Y*b.X
	}
	return math.Abs(sum) / 2
}

// fourCorners reduces a convex outline to four corners, by giving up one side
// after the other: the one whose neighbours, made longer until they meet, add
// the least area. So a corner that is rounded or cut comes back.
func fourCorners(hull []studio.Point) (quad, bool) {
	p := append([]studio.Point(nil), hull...)
	for len(p) > 4 {
		n := len(p)
		least, at, corner := math.Inf(1), -1, studio.Point{}
		for i := range p {
			before, a, b, after := p[(i+n-1)%n], p[i], p[(i+1)%n], p[(i+2)%n]
			ux, uy, vx, vy := a.X-before.X, a.Y-before.Y, b.X-after.X, b.Y-after.Y
			d := ux*vy - uy*vx
			if d >= 0 { // the neighbours run apart
				continue
			}
			t := ((b.X-a.X)*vy - (b.Y-a.Y)*vx) / d
			c := studio.Point{X: a.X + t*ux, Y: a.Y + t*uy}
			if gain := math.Abs(cross(a, c, b)); t >= 0 && gain < least {
				least, at, corner = gain, i, c
			}
		}
		if at < 0 {
			return quad{}, false
		}
		p[at] = corner
		p = append(p[:(at+1)%n], p[(at+1)%n+1:]...)
	}
	if len(p) < 4 {
		return quad{}, false
	}
	return quad{p[0], p[1], p[2], p[3]}, true
}

// sides returns the shortest and longest side.
func (q quad) sides() (short, long float64) {
	short = math.Inf(1)
	for i := range q {
		d := math.Hypot(q[(i+1)%4].X-q[i].X, q[(i+1)%4].Y-q[i].Y)
		short, long = math.Min(short, d), math.Max(long, d)
	}
	return short, long
}

func (q quad) centre() studio.Point {
	var c studio.Point
	for _, p := range q {
		c.X += p.X / 4
		c.Y += p.Y / 4
	}
	return c
}

// frames returns where square frames may be in a picture: dark, connected, with
// four corners and a hollow middle.
func (p *plane) frames() []quad {
	small, f := p.smaller(1600)
	long := max(small.w, small.h)
	s := small.sums()
	var out []quad
	for _, try := range []struct {
		reach int
		ratio float64
	}{{long / 20, 0.8}, {long / 45, 0.8}, {long / 28, 0.6}} {
		for _, b := range blobs(small.dark(s, max(try.reach, 8), try.ratio), small.w, 60) {
			wide, high := b.x1-b.x0+1, b.y1-b.y0+1
			if min(wide, high) < 16 || max(wide, high) > long/2 || max(wide, high) > 5*min(wide, high) {
				continue
			}
			hull := b.hull(small.w)
			q, ok := fourCorners(hull)
			if !ok {
				continue
			}
			whole := area(hull)
			share := float64(len(b.pixels)) / whole
			// a frame of 2.2 in 22 mm fills 36 % of its square; blur and threshold move that
			if area(q[:]) > 1.2*whole || share < 0.18 || share > 0.62 {
				continue
			}
			for i := range q {
				q[i].X *= f
				q[i].Y *= f
			}
			out = append(out, q)
		}
	}
	return out
}

// sharpen moves the corners of a frame to where its outer edges meet, found to
// a part of a pixel. ok is false when a side is not a straight edge from white
// to black, as when something lies on it.
func (p *plane) sharpen(q quad) (quad, bool) {
	for round := range 2 {
		var edges [4]line
		for i := range q {
			a, b := q[i], q[(i+1)%4]
			opposite := math.Hypot(q[(i+2)%4].X-q[(i+3)%4].X, q[(i+2)%4].Y-q[(i+3)%4].Y)
			// the frame's width as seen across this side
			depth := across(q, i) * frameWidth / MarkSide
			reach := 0.85 * depth
			if round == 1 {
				reach = 0.7 * depth
			}
			if opposite < 10 {
				return q, false
			}
			l, ok := p.edge(a, b, reach, reach)
			if !ok {
				return q, false
			}
			edges[i] = l
		}
		for i := range q {
			c, ok := meet(edges[(i+3)%4], edges[i])
			if !ok || !p.inside(c.X, c.Y) {
				return q, false
			}
			q[i] = c
		}
	}
	return q, true
}

// across returns how far the side opposite to side i is from it, in pixels.
func across(q quad, i int) float64 {
	a, b := q[i], q[(i+1)%4]
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	return (math.Abs(cross(a, b, q[(i+2)%4])) + math.Abs(cross(a, b, q[(i+3)%4]))) / 2 / math.Max(length, 1)
}

// edge fits a line to the change from white (left of a to b, in a picture with y
// down: outside a clockwise outline) to black, within reach pixels of it.
func (p *plane) edge(a, b studio.Point, out, in float64) (line, bool) {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	if length < 12 {
		return line{}, false
	}
	dx, dy := (b.X-a.X)/length, (b.Y-a.Y)/length
	nx, ny := dy, -dx // outward of a clockwise outline where y runs down
	n := int(clamp(length*0.8, 12, 120))
	const steps = 24
	var found []studio.Point
	for k := range n {
		s := length * (0.1 + 0.8*(float64(k)+0.5)/float64(n))
		x, y := a.X+s*dx, a.Y+s*dy
		var v [steps + 1]float64
		at := func(i int) float64 { return -in + (in+out)*float64(i)/steps }
		low, lowAt := math.Inf(1), 0
		for i := range v {
			v[i] = p.at(x+at(i)*nx, y+at(i)*ny)
			if i <= steps*3/4 && v[i] < low {
				low, lowAt = v[i], i
			}
		}
		high := 0.0
		for i := steps - steps/5; i <= steps; i++ {
			high += v[i] / float64(steps/5+1)
		}
		if high-low < 0.03 || high < 1.6*low {
			continue
		}
		half := (low + high) / 2
		for i := lowAt; i < steps; i++ {
			if v[i] <= half && v[i+1] > half {
				t := at(i) + (at(i+1)-at(i))*(half-v[i])/(v[i+1]-v[i])
				found = append(found, studio.Point{X: x + t*nx, Y: y + t*ny})
				break
			}
		}
	}
	if len(found) < n*6/10 {
		return line{}, false
	}
	l, share, ok := robustLine(found, 0.7)
	return l, ok && share*float64(len(found)) >= 0.55*float64(n)
}

// robustLine fits a line that most points follow to within about width, and
// returns the share that do. It starts from the line with the most followers
// among those through pairs of points, taken in a fixed order.
func robustLine(p []studio.Point, width float64) (line, float64, bool) {
	if len(p) < 4 {
		return line{}, 0, false
	}
	best, bestCount := line{}, -1.0
	n := len(p)
	for _, gap := range []int{n / 2, n * 2 / 3, n * 4 / 5, n / 3} {
		for i := 0; i+gap < n; i += max(1, n/30) {
			a, b := p[i], p[i+gap]
			l, ok := through([]studio.Point{a, b}, []float64{1, 1})
			if !ok {
				continue
			}
			count := 0.0
			for _, q := range p {
				if d := math.Abs(l.off(q)) / width; d < 1 {
					count += 1 - d*d
				}
			}
			if count > bestCount {
				best, bestCount = l, count
			}
		}
	}
	w := make([]float64, n)
	share := 0.0
	for range 4 {
		share = 0
		for i, q := range p {
			d := best.off(q) / (1.5 * width)
			w[i] = 0
			if d*d < 1 {
				w[i] = (1 - d*d) * (1 - d*d) // Tukey's biweight
				share += 1 / float64(n)
			}
		}
		l, ok := through(p, w)
		if !ok {
			return best, 0, false
		}
		best = l
	}
	return best, share, true
}
