package mat

import (
	"math"
	"sort"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// Swatch is a swatch found in its place on the mat.
type Swatch struct {
	Place             int          // which of the layout's Swatches
	Marks             studio.Marks // Corners in the mat's own order; Grey when a grey card lies on the mat
	WidthMM, HeightMM float64
	ErrorMM           float64         // standard error of a corner
	Problem           *studio.Problem // why its corners could not be found; nil when they were
}

// Limits for a swatch; common practice, no source.
const (
	leastSwatch  = 15.0 // mm along a side
	edgeWidth    = 0.3  // mm an edge may stray from its line
	edgeShare    = 0.5  // of an edge that must be seen
	squareness   = 3.0  // degrees a corner may be off 90
	oppositeMost = 1.0  // mm by which opposite sides may differ, and 1 %
)

// SwatchQuads finds the four corners of what lies in each swatch place, by its
// contrast to the white paper around it; the light is evened first. A sheet of
// d mm in thickness seen at an angle a stands d*tan(a) beside where it lies; this
// is not corrected. When no place holds a swatch whose four straight edges can
// be seen, a *studio.Problem says so; with two places, a Swatch with a Problem
// stands for the one that failed.
func SwatchQuads(img *picture.Image, f Found) ([]Swatch, error) {
	flat, err := FlatField(img, f)
	if err != nil {
		return nil, err
	}
	grey := greyPatch(img, f, flat)
	var out []Swatch
	var first *studio.Problem
	good := 0
	for i, place := range f.Layout.Swatches {
		s, problem := findSwatch(img, f, flat, place, placeWord(f.Layout, i))
		s.Place, s.Problem = i, problem
		s.Marks.Grey = grey
		if problem == nil {
			good++
		} else if first == nil {
			first = problem
		}
		out = append(out, s)
	}
	if good == 0 {
		return nil, first
	}
	return out, nil
}

func placeWord(l Layout, i int) string {
	if len(l.Swatches) == 1 {
		return "swatch's place"
	}
	return [2]string{"left swatch's place", "right swatch's place"}[i]
}

func findSwatch(img *picture.Image, f Found, flat *Flat, place Area, word string) (Swatch, *studio.Problem) {
	problem := func(format string, args ...any) *studio.Problem {
		return studio.Problemf(studio.Invalid, "corners", format, args...)
	}
	rim := 1.0
	if f.Layout.Kind == OneSwatch {
		rim = 1.5
	}
	c := straighten(img, f, flat, place.Inset(-rim))
	values := make([]float64, len(c.rgb))
	for i, v := range c.rgb {
		values[i] = unlike(v)
	}
	level := clamp(otsu(values), 0.12, 0.3)
	mask := make([]bool, len(values))
	for i, v := range values {
		mask[i] = v > level
	}
	var largest blob
	for _, b := range blobs(mask, c.w, int(square(leastSwatch/2/c.step))) {
		if len(b.pixels) > len(largest.pixels) {
			largest = b
		}
	}
	if len(largest.pixels) == 0 {
		return Swatch{}, problem("No swatch was seen in the %s: it is white paper there. Lay the swatch inside it, or mark its corners by hand.", word)
	}
	coarse, ok := fourCorners(largest.hull(c.w))
	if !ok {
		return Swatch{}, problem("What lies in the %s has no four corners; mark them by hand.", word)
	}
	for i := range coarse {
		coarse[i].X *= c.step
		coarse[i].Y *= c.step
	}
	if short, _ := coarse.sides(); short < leastSwatch {
		return Swatch{}, problem("What lies in the %s is only %.0f mm along its shortest side; a swatch needs at least %.0f. Mark its corners by hand.", word, short, leastSwatch)
	}
	var q quad
	var stray float64
	for round := range 2 {
		reach := 5.0
		if round == 1 {
			coarse, reach = q, 1.5
		}
		var edges [4]line
		for i := range coarse {
			l, s, ok := c.edge(coarse[i], coarse[(i+1)%4], 3, reach)
			if !ok {
				return Swatch{}, problem("One side of what lies in the %s is not a straight edge against white paper (shadow, glare or something beside it); move the lamp, or mark the corners by hand.", word)
			}
			edges[i] = l
			stray = math.Max(stray, s)
		}
		for i := range q {
			if q[i], ok = meet(edges[(i+3)%4], edges[i]); !ok {
				return Swatch{}, problem("The sides of what lies in the %s do not meet; mark its corners by hand.", word)
			}
		}
	}
	return q.swatch(f, c, word, stray)
}

// swatch checks that the corners are those of a rectangle inside the place, and
// puts them in the mat's order.
func (q quad) swatch(f Found, c canvas, word string, stray float64) (Swatch, *studio.Problem) {
	problem := func(format string, args ...any) *studio.Problem {
		return studio.Problemf(studio.Invalid, "corners", format, args...)
	}
	first := 0
	for i, p := range q {
		if p.X+p.Y < q[first].X+q[first].Y {
			first = i
		}
		if p.X < 0 || p.Y < 0 || p.X > c.area.W || p.Y > c.area.H {
			return Swatch{}, problem("A corner of what lies in the %s reaches outside it; lay it inside, or mark its corners by hand.", word)
		}
	}
	var t quad
	var sides [4]float64
	for i := range t {
		t[i] = q[(i+first)%4]
	}
	for i := range t {
		a, b, d := t[(i+3)%4], t[i], t[(i+1)%4]
		sides[i] = math.Hypot(d.X-b.X, d.Y-b.Y)
		turn := math.Atan2(cross(a, b, d), (b.X-a.X)*(d.X-b.X)+(b.Y-a.Y)*(d.Y-b.Y)) * 180 / math.Pi
		if math.Abs(turn-90) > squareness {
			return Swatch{}, problem("What lies in the %s has a corner of %.0f degrees as seen, where a swatch has 90; mark its corners by hand.", word, 180-turn)
		}
	}
	for i := range 2 {
		if d := math.Abs(sides[i] - sides[i+2]); d > oppositeMost+0.01*sides[i] {
			return Swatch{}, problem("Opposite sides of what lies in the %s differ by %.1f mm as seen; mark its corners by hand.", word, d)
		}
	}
	if short := math.Min(sides[0], sides[1]); short < leastSwatch {
		return Swatch{}, problem("What lies in the %s is only %.0f mm wide; a swatch needs at least %.0f. Mark its corners by hand.", word, short, leastSwatch)
	}
	var corners [4]studio.Point
	for i, p := range t {
		corners[i] = f.Pixel(MM{c.area.X + p.X, c.area.Y + p.Y})
	}
	return Swatch{
		Marks:    studio.Marks{Corners: &corners},
		WidthMM:  (sides[0] + sides[2]) / 2,
		HeightMM: (sides[1] + sides[3]) / 2,
		ErrorMM:  math.Hypot(f.ErrorMM, stray),
	}, nil
}

// edge fits a line to the strongest change of colour along scans across a to b,
// from out mm outside to in mm inside, and returns how uncertain it is in mm.
func (c canvas) edge(a, b studio.Point, out, in float64) (line, float64, bool) {
	length := math.Hypot(b.X-a.X, b.Y-a.Y)
	dx, dy := (b.X-a.X)/length, (b.Y-a.Y)/length
	nx, ny := dy, -dx
	half := math.Max(0.25, c.step) // mm between the two places a change is taken from
	step := c.step / 2
	n := int(clamp(length/0.5, 30, 200))
	count := int((in + out) / step)
	type change struct {
		p    studio.Point
		size float64
	}
	scans := make([][]change, 0, n)
	var all []float64
	for k := range n {
		s := length * (0.06 + 0.88*(float64(k)+0.5)/float64(n))
		x, y := a.X+s*dx, a.Y+s*dy
		g := make([]float64, count)
		for i := range g {
			t := out - float64(i)*step // from outside inwards
			u, v := c.at(x+(t+half)*nx, y+(t+half)*ny), c.at(x+(t-half)*nx, y+(t-half)*ny)
			for j := range u {
				g[i] += square(u[j] - v[j])
			}
			g[i] = math.Sqrt(g[i])
		}
		var peaks []change
		for i := 1; i+1 < count; i++ {
			if g[i] < 0.06 || g[i] < g[i-1] || g[i] <= g[i+1] {
				continue
			}
			// the middle of the change, by a parabola through three
			shift := 0.0
			if d := g[i-1] - 2*g[i] + g[i+1]; d < 0 {
				shift = clamp(0.5*(g[i-1]-g[i+1])/d, -0.5, 0.5)
			}
			t := out - (float64(i)+shift)*step
			peaks = append(peaks, change{studio.Point{X: x + t*nx, Y: y + t*ny}, g[i]})
		}
		sort.SliceStable(peaks, func(i, j int) bool { return peaks[i].size > peaks[j].size })
		peaks = peaks[:min(3, len(peaks))]
		if len(peaks) > 0 {
			all = append(all, peaks[0].size)
		}
		scans = append(scans, peaks)
	}
	if len(all) < n/2 {
		return line{}, 0, false
	}
	sort.Float64s(all)
	usual := all[len(all)/2]
	best, bestScore := line{}, 0.0
	for _, gap := range []int{n / 2, n * 2 / 3, n * 4 / 5} {
		for i := 0; i+gap < n; i += max(1, n/40) {
			for _, p := range scans[i] {
				for _, q := range scans[i+gap] {
					l, ok := through([]studio.Point{p.p, q.p}, []float64{1, 1})
					if !ok || math.Abs(l.a*nx+l.b*ny) < 0.97 {
						continue
					}
					score := 0.0
					for _, s := range scans {
						gain := 0.0
						for _, r := range s {
							if d := l.off(r.p) / edgeWidth; d*d < 1 {
								gain = math.Max(gain, math.Min(r.size, usual)*(1-d*d))
							}
						}
						score += gain
					}
					if score > bestScore {
						best, bestScore = l, score
					}
				}
			}
		}
	}
	seen, rms := 0, 0.0
	for range 3 {
		var p []studio.Point
		var w []float64
		rms = 0
		for _, s := range scans {
			near := -1
			for i, r := range s {
				if math.Abs(best.off(r.p)) < edgeWidth && (near < 0 || r.size > s[near].size) {
					near = i
				}
			}
			if near >= 0 {
				p, w = append(p, s[near].p), append(w, 1)
				rms += square(best.off(s[near].p))
			}
		}
		l, ok := through(p, w)
		if !ok {
			return line{}, 0, false
		}
		best, seen = l, len(p)
	}
	if float64(seen) < edgeShare*float64(n) {
		return line{}, 0, false
	}
	// neighbouring scans share pixels: about one in four is worth its own
	return best, 2 * math.Sqrt(rms/float64(seen)) / math.Sqrt(float64(seen)/4), true
}

// greyPatch returns the largest upright part of the photograph, within the
// place of the grey card, when a grey card lies there: evenly darker than paper
// and without a hue of its own.
func greyPatch(img *picture.Image, f Found, flat *Flat) *studio.Rect {
	place := f.Layout.Grey
	place = place.Inset(0.15 * math.Min(place.W, place.H))
	var sum [3]float64
	var lights []float64
	const n = 9
	for j := range n {
		for i := range n {
			p := MM{place.X + place.W*(float64(i)+0.5)/n, place.Y + place.H*(float64(j)+0.5)/n}
			v, _, ok := around(img, f, p, 0.7)
			if !ok {
				return nil
			}
			paper := flat.Paper(p)
			for c := range sum {
				sum[c] += v[c] / paper[c] / (n * n)
			}
			lights = append(lights, v[1]/paper[1])
		}
	}
	sort.Float64s(lights)
	low, high := lights[len(lights)/20], lights[len(lights)-1-len(lights)/20]
	least, most := math.Min(sum[0], math.Min(sum[1], sum[2])), math.Max(sum[0], math.Max(sum[1], sum[2]))
	if sum[1] < 0.08 || sum[1] > 0.6 || most > 1.3*least || high > 1.25*low {
		return nil
	}
	// grow an upright square around the middle until a corner leaves the place
	c := f.Pixel(place.Centre())
	inside := func(r float64) bool {
		for _, d := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			if !place.Contains(f.Page(studio.Point{X: c.X + r*d[0], Y: c.Y + r*d[1]})) {
				return false
			}
		}
		return true
	}
	r := 0.0
	for inside(r + 1) {
		r++
	}
	if r < 4 {
		return nil
	}
	return &studio.Rect{X: c.X - r, Y: c.Y - r, W: 2 * r, H: 2 * r}
}
