package mat

import (
	"math"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix/decoder"
	"github.com/makiuchi-d/gozxing/datamatrix/detector"

	"aerugo/internal/studio"
)

// Label is a swatch's label that was read in its place on the mat.
type Label struct {
	Text   string // as studio.Code writes it
	Number int64
	Face   studio.Face
	Place  int // which of the layout's Labels, and so which of its Swatches
	At     MM  // the middle of its code
}

// The code on a label is 10 to 14 mm long with its rim, however it is turned.
const (
	codeLeast, codeMost = 6.0, 17.0 // mm
	labelStray          = 4.0       // mm a label may lie outside its place
)

// readLabels reads the labels in their places.
func (f Found) readLabels(p *plane) []Label {
	var out []Label
	for i, place := range f.Layout.Labels {
		if l, ok := f.readLabel(p, place.Inset(-labelStray)); ok {
			l.Place = i
			out = append(out, l)
		}
	}
	return out
}

// readLabel straightens an area and reads the first swatch code in it.
func (f Found) readLabel(p *plane, area Area) (Label, bool) {
	perMM := clamp(2/f.MMPerPx, 6, 16) // cells of the straightened picture
	s := &plane{w: int(area.W * perMM), h: int(area.H * perMM)}
	s.v = make([]float32, s.w*s.h)
	for y := range s.h {
		for x := range s.w {
			q := f.Pixel(MM{area.X + (float64(x)+0.5)/perMM, area.Y + (float64(y)+0.5)/perMM})
			s.v[y*s.w+x] = float32(p.at(q.X, q.Y))
		}
	}
	sum := s.sums()
	for _, ratio := range []float64{0.75, 0.6, 0.88} {
		dark := s.dark(sum, int(5*perMM), ratio)
		for _, q := range s.squares(dark, perMM) {
			text, ok := s.readSquare(q)
			if !ok {
				continue
			}
			if number, face, err := studio.ReadCode(text); err == nil {
				c := q.centre()
				return Label{Text: text, Number: number, Face: face, At: MM{area.X + c.X/perMM, area.Y + c.Y/perMM}}, true
			}
		}
		// the code's solid border hangs together; what else is dark hardly has its size
		for _, b := range blobs(append([]bool(nil), dark...), s.w, int(4*perMM)) {
			wide, high := float64(b.x1-b.x0+1)/perMM, float64(b.y1-b.y0+1)/perMM
			if math.Min(wide, high) < codeLeast || math.Max(wide, high) > codeMost {
				continue
			}
			rim := int(1.2 * perMM)
			text, ok := readMatrix(s, dark, b.x0-rim, b.y0-rim, b.x1+rim+1, b.y1+rim+1)
			if !ok {
				continue
			}
			number, face, err := studio.ReadCode(text)
			if err != nil {
				continue
			}
			return Label{
				Text: text, Number: number, Face: face,
				At: MM{area.X + float64(b.x0+b.x1+1)/2/perMM, area.Y + float64(b.y0+b.y1+1)/2/perMM},
			}, true
		}
	}
	return Label{}, false
}

// squares returns where the squares of a label's code may be: dark spots less
// than a module apart, together as large as a code.
func (p *plane) squares(dark []bool, perMM float64) []quad {
	reach := int(0.35*perMM + 0.5)
	var out []quad
	for _, b := range blobs(thicken(dark, p.w, reach), p.w, int(30*perMM*perMM)) {
		wide, high := float64(b.x1-b.x0+1)/perMM, float64(b.y1-b.y0+1)/perMM
		if math.Min(wide, high) < codeLeast || math.Max(wide, high) > codeMost {
			continue
		}
		kept := b.pixels[:0]
		for _, i := range b.pixels {
			if dark[i] {
				kept = append(kept, i)
			}
		}
		b.pixels = kept
		q, ok := fourCorners(b.hull(p.w))
		if !ok {
			continue
		}
		if short, long := q.sides(); short > codeLeast*perMM && long < 1.15*short {
			out = append(out, q)
		}
	}
	return out
}

// thicken marks all within reach cells of what is marked, along rows and columns.
func thicken(mask []bool, w, reach int) []bool {
	h := len(mask) / w
	wide, out := make([]bool, len(mask)), make([]bool, len(mask))
	for i, v := range mask {
		if v {
			x := i % w
			for j := max(0, x-reach); j <= min(w-1, x+reach); j++ {
				wide[i-x+j] = true
			}
		}
	}
	for i, v := range wide {
		if v {
			for j := max(0, i/w-reach); j <= min(h-1, i/w+reach); j++ {
				out[j*w+i%w] = true
			}
		}
	}
	return out
}

// readSquare reads the code that fills a square, of any size a label needs
// (10 to 18 modules, ISO/IEC 16022) and whichever way round. Two of its sides
// end in single modules that may be lost in blur, so the square is first moved,
// turned and sized until the code's border stands out best.
func (p *plane) readSquare(q quad) (string, bool) {
	for _, n := range []int{12, 14, 16, 10, 18} {
		for turn := range 4 {
			v := p.settled(q, turn, n)
			for _, blur := range []float64{0, 0.1, 0.2} {
				grid := p.grid(ofSquare(v, n), n, blur)
				if finderFaults(grid) > n/3 {
					continue
				}
				if text, ok := decode(grid); ok {
					return text, true
				}
			}
		}
	}
	return "", false
}

// settled returns the square, as ofSquare takes it, in which the border of a
// code of n modules stands out best, starting from q with the code's top left
// at corner number turn.
func (p *plane) settled(q quad, turn, n int) [4]float64 {
	top, left := q[turn], q[(turn+3)%4]
	right := q[(turn+2)%4]
	short, long := q.sides()
	// corner of the solid border, direction of its lower side, side
	v := [4]float64{left.X, left.Y, math.Atan2(right.Y-left.Y+top.X-left.X, right.X-left.X+left.Y-top.Y), (short + long) / 2}
	best := p.border(v, n)
	for step := v[3] / float64(2*n); step > v[3]/float64(20*n); step /= 2 {
		steps := [4]float64{step, step, 2 * step / v[3], step}
		for moved := true; moved; {
			moved = false
			for i := range v {
				for _, d := range [2]float64{-steps[i], steps[i]} {
					w := v
					w[i] += d
					if got := p.border(w, n); got > best {
						best, v, moved = got, w, true
					}
				}
			}
		}
	}
	return v
}

// ofSquare maps modules of a code to cells: v is its lower left corner, the
// direction of its lower side, and its side.
func ofSquare(v [4]float64, n int) Homography {
	m := v[3] / float64(n)
	s, c := math.Sincos(v[2])
	// (0, n) is the lower left corner
	return Homography{m * c, -m * s, v[0] + m*s*float64(n), m * s, m * c, v[1] - m*c*float64(n), 0, 0, 1}
}

// border says how much lighter what should be white in and around a code's
// border is than what should be black.
func (p *plane) border(v [4]float64, n int) float64 {
	h := ofSquare(v, n)
	at := func(x, y float64) float64 { return p.at(h.at(x, y)) }
	light, dark := 0.0, 0.0
	last := float64(n) - 0.5
	for i := range n {
		s := float64(i) + 0.5
		dark += at(0.5, s) + at(s, last)
		light += at(-0.5, s) + at(s, float64(n)+0.5)
		light += at(s, -0.5) + at(float64(n)+0.5, s)
		if i%2 == 0 {
			dark += at(s, 0.5)
			light += at(last, s)
		} else {
			light += at(s, 0.5)
			dark += at(last, s)
		}
	}
	k := float64(n)
	return light/(5*k) - dark/(3*k)
}

// grid samples a code of n x n modules that h, in modules, puts in the picture.
// blur is the share of its light that each module is thought to have spilt to
// each of its four neighbours, and is taken back; else single modules drown.
func (p *plane) grid(h Homography, n int, blur float64) [][]bool {
	light := make([]float64, n*n)
	white := 0.0
	for i := range light {
		x, y := float64(i%n)+0.5, float64(i/n)+0.5
		for _, d := range [5][2]float64{{0, 0}, {-0.2, -0.2}, {0.2, -0.2}, {-0.2, 0.2}, {0.2, 0.2}} {
			u, v := h.at(x+d[0], y+d[1])
			light[i] += p.at(u, v) / 5
		}
		white = math.Max(white, light[i])
	}
	clear := make([]float64, n*n)
	low, high := math.Inf(1), 0.0
	for i := range clear {
		x, y := i%n, i/n
		sum := 0.0
		for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			if u, v := x+d[0], y+d[1]; u >= 0 && v >= 0 && u < n && v < n {
				sum += light[v*n+u]
			} else {
				sum += white // the rim
			}
		}
		clear[i] = (light[i] - blur*sum) / (1 - 4*blur)
		low, high = math.Min(low, clear[i]), math.Max(high, clear[i])
	}
	if blur > 0 { // what is taken back overshoots at both ends alike; ink and paper lie between
		low, high = math.Max(low, 0), math.Min(high, white)
	}
	grid := make([][]bool, n)
	for y := range grid {
		for x := range n {
			grid[y] = append(grid[y], clear[y*n+x] < (low+high)/2)
		}
	}
	return grid
}

// readMatrix reads the Data Matrix in a window of a mask.
func readMatrix(s *plane, dark []bool, x0, y0, x1, y1 int) (string, bool) {
	bits, err := gozxing.NewBitMatrix(x1-x0, y1-y0)
	if err != nil {
		return "", false
	}
	for y := max(y0, 0); y < min(y1, s.h); y++ {
		for x := max(x0, 0); x < min(x1, s.w); x++ {
			if dark[y*s.w+x] {
				bits.Set(x-x0, y-y0)
			}
		}
	}
	return DetectMatrix(bits)
}

// DetectMatrix finds and reads the code in bits. The reader was written for
// whole pictures; on a scrap it may step over the rim, which is no code either.
func DetectMatrix(bits *gozxing.BitMatrix) (text string, ok bool) {
	defer func() {
		if recover() != nil {
			text, ok = "", false
		}
	}()
	d, err := detector.NewDetector(bits)
	if err != nil {
		return "", false
	}
	found, err := d.Detect()
	if err != nil {
		return "", false
	}
	r, err := decoder.NewDecoder().Decode(found.GetBits())
	if err != nil {
		return "", false
	}
	return r.GetText(), true
}
