package mat

import (
	"math"
	"slices"
	"strings"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// Found is a mat found in a photograph.
type Found struct {
	Layout     Layout
	ToPixels   Homography // mm on the page to displayed pixels
	ToMM       Homography // the way back
	MMPerPx    float64    // in the middle of the first swatch's place
	ErrorMM    float64    // standard error of a place on the page, the worst swatch corner
	MarksSeen  int        // 3 or 4
	Missing    string     // the corner that was not seen, "top left"; empty when all were
	UpsideDown bool       // the mat's top is below in the picture
	Codes      []Label    // swatch labels that could be read
}

// Pixel returns where a place on the page is in the photograph.
func (f Found) Pixel(p MM) studio.Point {
	x, y := f.ToPixels.at(p.X, p.Y)
	return studio.Point{X: x, Y: y}
}

// Page returns which place on the page a point of the photograph shows.
func (f Found) Page(p studio.Point) MM {
	x, y := f.ToMM.at(p.X, p.Y)
	return MM{x, y}
}

// Limits of use; common practice, no source.
const (
	shortestPicture = 400.0 // pixels along the short side
	errorFloor      = 0.1   // pixels: edges are never seen better than this

	// What may be left of the marks' corners, in mm, root mean square. Four marks
	// shifted against each other still fit some plane: only their shapes tell, and
	// by little. By the renders of the tests, a mark shifted by 1.3 mm leaves 0.12
	// (of three marks, by 2 mm, 0.09); a lens that bends by 0.4 % leaves 0.07.
	fourResidual  = 0.12
	threeResidual = 0.09
	pixelResidual = 0.3 // pixels; the limit in a coarse picture

	// bias is how much more than the marks' own corners a swatch's may be off when
	// a lens bends the page: 3 to 4 times in the same renders.
	bias = 4.0
)

// Find finds the mat in a photograph, whichever way round it lies, tilted up to
// about 40 degrees, with at least three of its corner marks in sight and clear.
// ErrorMM grows where a mark is missing. The lens is taken to draw straight
// lines, as telephones make it; one that bends the page by more than about 0.6 %
// at its ends is refused. A *studio.Problem says what was not seen.
func Find(img *picture.Image) (Found, error) {
	if min(img.Width, img.Height) < shortestPicture {
		return Found{}, refuse("The picture is only %d x %d pixels; to find the photo mat at least %.0f are needed along each side.", img.Width, img.Height, shortestPicture)
	}
	p := lightOf(img)
	marks, err := p.marks()
	if err != nil {
		return Found{}, err
	}
	f, err := fromMarks(marks)
	if err != nil {
		return Found{}, err
	}
	f.Codes = f.readLabels(p)
	return f, nil
}

func refuse(format string, args ...any) error {
	return studio.Problemf(studio.Invalid, "photo", format, args...)
}

// marks finds and reads the corner marks: one at most for each corner, all of
// one mat.
func (p *plane) marks() ([]sighting, error) {
	var all []sighting
	var unread []studio.Point // frames whose code could not be read
next:
	for _, q := range p.frames() {
		c := q.centre()
		short, _ := q.sides()
		for _, s := range all {
			if m := s.frame.centre(); math.Hypot(m.X-c.X, m.Y-c.Y) < short/2 {
				continue next
			}
		}
		sharp, ok := p.sharpen(q)
		if !ok {
			continue
		}
		s, ok := p.read(sharp)
		if !ok {
			if !slices.ContainsFunc(unread, func(m studio.Point) bool { return math.Hypot(m.X-c.X, m.Y-c.Y) < short/2 }) {
				unread = append(unread, c)
			}
			continue
		}
		all = append(all, s)
	}
	var byCorner [4]*sighting
	for i := range all {
		s := &all[i]
		if s.layout.Name() != all[0].layout.Name() {
			return nil, refuse("Two different mats are in the picture, a %s and a %s; only one may be.", all[0].layout.Name(), s.layout.Name())
		}
		if byCorner[s.corner] != nil {
			return nil, refuse("Two %s corner marks are in the picture; only one mat may be.", cornerNames[s.corner])
		}
		byCorner[s.corner] = s
	}
	var out []sighting
	var seen, missing []string
	for i, s := range byCorner {
		if s == nil {
			missing = append(missing, cornerNames[i])
			continue
		}
		out = append(out, *s)
		seen = append(seen, cornerNames[i])
	}
	switch {
	case len(out) >= 3:
		return out, nil
	case len(out) == 0 && len(unread) > 0:
		return nil, refuse("No corner mark of the photo mat could be read, though %d square %s seen; at least three must be. Hold the camera still and closer, and turn the lamp so that nothing shines.", len(unread), map[bool]string{true: "frame was", false: "frames were"}[len(unread) == 1])
	case len(out) == 0:
		return nil, refuse("No corner mark of the photo mat was seen; at least three must be. Photograph the whole mat, from above, with its corners uncovered.")
	}
	return nil, refuse("Only the %s corner %s of the photo mat could be read; at least three must be. Uncover the %s and take the whole mat into the picture.", and(seen), plural(len(seen), "mark"), and(missing))
}

func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}

// fromMarks straightens the page by three or four marks, four corners each. A
// mark that contradicts the others is left out if three remain.
func fromMarks(marks []sighting) (Found, error) {
	layout := marks[0].layout
	f, off, ok := fit(layout, marks)
	if len(marks) == 4 && (!ok || off > f.limit()) {
		best := math.Inf(1)
		for i := range marks {
			rest := append(append([]sighting(nil), marks[:i]...), marks[i+1:]...)
			if g, o, fine := fit(layout, rest); fine && o <= g.limit() && o < best {
				f, off, ok, best = g, o, true, o
			}
		}
	}
	if !ok {
		return Found{}, refuse("The corner marks of the mat lie in one line as seen; photograph the mat from straighter above.")
	}
	if off > f.limit() {
		return Found{}, refuse("The corner marks of the mat do not lie in one plane (they miss it by %.2f mm; at most %.2f may be). Lay the mat flat, with nothing on its marks, and use the main camera, not a wide-angle one.", off, f.limit())
	}
	return f, nil
}

// limit is what may be left of the marks' corners in mm.
func (f Found) limit() float64 {
	most := fourResidual
	if f.MarksSeen < 4 {
		most = threeResidual
	}
	return math.Max(most, pixelResidual*f.MMPerPx)
}

// growthMost is the most, in mm, by which all frames may look larger or smaller
// than they were drawn: ink spreads, and telephones sharpen and blur in encoded
// values, which moves every dark edge outwards alike. Common practice, no source.
const growthMost = 0.3

// fit returns the page as straightened by marks, with the root mean square of
// what is left of the marks' corners in mm. The frames are taken to have grown by
// one width all round, the one that leaves least; the middle of a mark, and so
// the scale, does not depend on it.
func fit(layout Layout, marks []sighting) (f Found, off float64, ok bool) {
	if f, off, ok = fitGrown(layout, marks, 0); !ok {
		return f, off, ok
	}
	// what is left is smooth in the growth: golden section over the range
	const ratio = 0.6180339887498949
	low, high := -growthMost, growthMost
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	at := func(g float64) (Found, float64) {
		f, off, ok := fitGrown(layout, marks, g)
		if !ok {
			return f, math.Inf(1)
		}
		return f, off
	}
	fa, oa := at(a)
	fb, ob := at(b)
	for range 14 { // to a third of a micrometre
		if oa <= ob {
			high, b, fb, ob = b, a, fa, oa
			a = high - ratio*(high-low)
			fa, oa = at(a)
		} else {
			low, a, fa, oa = a, b, fb, ob
			b = low + ratio*(high-low)
			fb, ob = at(b)
		}
	}
	if oa < off {
		f, off = fa, oa
	}
	return f, off, true
}

// fitGrown is fit with frames grown by grown mm all round.
func fitGrown(layout Layout, marks []sighting, grown float64) (f Found, off float64, ok bool) {
	var from, to [][2]float64
	seen := map[int]bool{}
	for _, s := range marks {
		seen[s.corner] = true
		for i, c := range layout.Marks[s.corner].Inset(-grown).Corners() {
			from = append(from, [2]float64{c.X, c.Y})
			to = append(to, [2]float64{s.frame[i].X, s.frame[i].Y})
		}
	}
	h, ok := fitHomography(from, to)
	if !ok {
		return f, 0, false
	}
	back, ok := h.inverse()
	if !ok {
		return f, 0, false
	}
	// the page must not be folded over the horizon, nor seen from behind
	for _, c := range layout.Page.Corners() {
		ux, uy, vx, vy := h.stretch(c.X, c.Y)
		if w := h[6]*c.X + h[7]*c.Y + h[8]; w <= 0 || ux*vy-uy*vx <= 0 {
			return f, 0, false
		}
	}
	sumPx := 0.0
	for i := range from {
		u, v := h.at(from[i][0], from[i][1])
		sumPx += square(u-to[i][0]) + square(v-to[i][1])
		x, y := back.at(to[i][0], to[i][1])
		off += square(x-from[i][0]) + square(y-from[i][1])
	}
	off = math.Sqrt(off / float64(len(from)))
	f = Found{Layout: layout, ToPixels: h, ToMM: back, MarksSeen: len(marks)}
	for i, name := range cornerNames {
		if !seen[i] {
			f.Missing = name
		}
	}
	sigma := math.Max(errorFloor, math.Sqrt(sumPx/float64(2*len(from)-8)))
	for _, s := range layout.Swatches {
		corners := s.Corners()
		for i, e := range h.spread(from, sigma, corners[:]) {
			f.ErrorMM = math.Max(f.ErrorMM, e/h.scale(corners[i].X, corners[i].Y))
		}
	}
	f.ErrorMM = math.Hypot(f.ErrorMM, bias*off)
	c := layout.Swatches[0].Centre()
	f.MMPerPx = 1 / h.scale(c.X, c.Y)
	top, below := f.Pixel(MM{layout.Page.W / 2, 0}), f.Pixel(MM{layout.Page.W / 2, layout.Page.H})
	f.UpsideDown = top.Y > below.Y
	return f, off, true
}

func square(x float64) float64 { return x * x }
