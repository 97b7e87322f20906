package scene

import (
	"math"

	"github.com/makiuchi-d/gozxing"

	"aerugo/internal/flow/mat"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// Where a label's code is looked for; common practice, no source.
const (
	codeLeast = 20  // pixels along its shorter side
	codeShare = 0.5 // of the picture's long side, at most
)

// longSides are the sizes, in pixels along the long side, at which a picture is
// searched: a code is read best where its modules are 3 to 8 pixels wide.
var longSides = []int{1600, 1000, 640}

// AnyLabel reads the label of a swatch wherever it lies in a picture, turned
// anyhow. ok is false when none can be read, and when two are read that differ:
// then nobody can say whose picture it is. A misread code is found out by its own
// error correction (ISO/IEC 16022) and by the check character of the label.
func AnyLabel(img *picture.Image) (number int64, face studio.Face, ok bool) {
	g := shrunk(img.Width, img.Height, longSides[0], func(x, y int) float32 {
		c, _ := img.At(x, y)
		return 0.25*c[0] + 0.6*c[1] + 0.15*c[2]
	})
	for i, long := range longSides {
		if i > 0 {
			if max(g.w, g.h) <= long {
				continue // a small picture is not enlarged
			}
			was := g
			g = shrunk(was.w, was.h, long, func(x, y int) float32 { return was.v[y*was.w+x] })
		}
		seen := 0
		for _, text := range g.codes() {
			n, f, err := studio.ReadCode(text)
			if err != nil || seen > 0 && n == number && f == face {
				continue
			}
			number, face = n, f
			seen++
		}
		if seen > 0 {
			return number, face, seen == 1
		}
	}
	return 0, "", false
}

// grey is the light of a picture, linear, row by row.
type grey struct {
	w, h int
	v    []float32
}

// shrunk returns a picture of w by h with at most the given long side, each of
// its pixels the mean of those it covers.
func shrunk(w, h, long int, light func(x, y int) float32) grey {
	k := min(1, float64(long)/float64(max(w, h)))
	g := grey{w: max(1, int(float64(w)*k)), h: max(1, int(float64(h)*k))}
	g.v = make([]float32, g.w*g.h)
	n := make([]float32, g.w*g.h)
	to := make([]int, w)
	for x := range to {
		to[x] = x * g.w / w
	}
	for y := range h {
		row := y * g.h / h * g.w
		for x := range w {
			i := row + to[x]
			g.v[i] += light(x, y)
			n[i]++
		}
	}
	for i := range g.v {
		g.v[i] /= n[i]
	}
	return g
}

// dark marks what is darker than its surroundings by a good part.
func (g grey) dark() []bool {
	sum := make([]float64, (g.w+1)*(g.h+1))
	for y := range g.h {
		line := 0.0
		for x := range g.w {
			line += float64(g.v[y*g.w+x])
			sum[(y+1)*(g.w+1)+x+1] = sum[y*(g.w+1)+x+1] + line
		}
	}
	reach := max(8, max(g.w, g.h)/24)
	out := make([]bool, len(g.v))
	for y := range g.h {
		y0, y1 := max(0, y-reach), min(g.h, y+reach+1)
		for x := range g.w {
			x0, x1 := max(0, x-reach), min(g.w, x+reach+1)
			s := sum[y1*(g.w+1)+x1] - sum[y0*(g.w+1)+x1] - sum[y1*(g.w+1)+x0] + sum[y0*(g.w+1)+x0]
			out[y*g.w+x] = float64(g.v[y*g.w+x]) < 0.75*s/float64((x1-x0)*(y1-y0))
		}
	}
	return out
}

// codes returns the texts of all Data Matrix codes that can be read. The solid
// border of one hangs together and spans the whole code; what it spans is
// straightened and shown to the reader by itself, since the reader looks in the
// middle only and is led astray by what lies round a turned code.
func (g grey) codes() []string {
	var out []string
	eachSpot(g.dark(), g.w, func(s spot) {
		w, h := s.x1-s.x0+1, s.y1-s.y0+1
		short, long := min(w, h), max(w, h)
		if short < codeLeast || float64(long) > codeShare*float64(max(g.w, g.h)) || 10*long > 23*short || 12*len(s.pixels) < w*h {
			return
		}
		for _, q := range s.squares(g.w) {
			if text, ok := g.readSquare(q); ok {
				out = append(out, text)
				return
			}
		}
	})
	return out
}

// spot is a part of a mask that hangs together.
type spot struct {
	x0, y0, x1, y1 int
	pixels         []int
}

// eachSpot hands over the parts of a mask that hang together, also by corners.
// The pixels are good until the next one.
func eachSpot(mask []bool, w int, use func(spot)) {
	left := append([]bool(nil), mask...)
	h := len(mask) / w
	var pixels []int
	for start, v := range left {
		if !v {
			continue
		}
		s := spot{x0: w, y0: h}
		left[start] = false
		pixels = append(pixels[:0], start)
		for k := 0; k < len(pixels); k++ {
			x, y := pixels[k]%w, pixels[k]/w
			s.x0, s.y0, s.x1, s.y1 = min(s.x0, x), min(s.y0, y), max(s.x1, x), max(s.y1, y)
			for v := max(0, y-1); v <= min(h-1, y+1); v++ {
				for u := max(0, x-1); u <= min(w-1, x+1); u++ {
					if j := v*w + u; left[j] {
						left[j] = false
						pixels = append(pixels, j)
					}
				}
			}
		}
		s.pixels = pixels
		use(s)
	}
}

// square is an upright rectangle in a frame turned by an angle.
type square struct {
	cos, sin       float64
	u0, v0, u1, v1 float64
}

// squares returns the squares that a spot may fill: the tightest one, and that
// turned by 45 degrees, since round the two solid sides of a code both are
// equally tight.
func (s spot) squares(w int) []square {
	// only the ends of each row can touch the rectangle round it
	first, last := make([]int, s.y1-s.y0+1), make([]int, s.y1-s.y0+1)
	for i := range first {
		first[i], last[i] = s.x1+1, s.x0-1
	}
	for _, i := range s.pixels {
		x, y := i%w, i/w-s.y0
		first[y], last[y] = min(first[y], x), max(last[y], x)
	}
	at := func(degrees float64) square {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		q := square{cos, sin, math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for i := range first {
			for _, x := range [2]int{first[i], last[i] + 1} {
				for _, y := range [2]int{s.y0 + i, s.y0 + i + 1} {
					u, v := float64(x)*cos+float64(y)*sin, float64(y)*cos-float64(x)*sin
					q.u0, q.v0, q.u1, q.v1 = min(q.u0, u), min(q.v0, v), max(q.u1, u), max(q.v1, v)
				}
			}
		}
		return q
	}
	best, least := 0.0, math.Inf(1)
	for d := 0.0; d < 90; d += 1.5 {
		if q := at(d); (q.u1-q.u0)*(q.v1-q.v0) < least {
			best, least = d, (q.u1-q.u0)*(q.v1-q.v0)
		}
	}
	var out []square
	for _, d := range []float64{best, best + 45} {
		q := at(d)
		if short, long := min(q.u1-q.u0, q.v1-q.v0), max(q.u1-q.u0, q.v1-q.v0); long < 1.3*short {
			out = append(out, q)
		}
	}
	return out
}

// readSquare reads the code that fills a square.
func (g grey) readSquare(q square) (string, bool) {
	const side, rim = 160, 24 // cells of the straightened code and of white round it
	const near = 0.03         // of the side: how far the code may lie outside its square
	all := side + 2*rim
	light := make([]float32, all*all)
	inside := make([]bool, all*all)
	low, high := float32(math.Inf(1)), float32(0)
	for y := range all {
		for x := range all {
			a, b := (float64(x-rim)+0.5)/side, (float64(y-rim)+0.5)/side
			if a < -near || b < -near || a > 1+near || b > 1+near {
				continue
			}
			u, v := q.u0+a*(q.u1-q.u0), q.v0+b*(q.v1-q.v0)
			l := g.at(u*q.cos-v*q.sin-0.5, u*q.sin+v*q.cos-0.5)
			light[y*all+x], inside[y*all+x] = l, true
			low, high = min(low, l), max(high, l)
		}
	}
	for _, share := range []float32{0.5, 0.4, 0.6, 0.3} { // of the way from ink to paper
		level := low + share*(high-low)
		if text, ok := readBits(all, func(i int) bool { return inside[i] && light[i] < level }); ok {
			return text, true
		}
	}
	return "", false
}

// at returns the light between four pixels; outside, that of the nearest.
func (g grey) at(x, y float64) float32 {
	x, y = max(0, min(x, float64(g.w-1))), max(0, min(y, float64(g.h-1)))
	x0, y0 := int(x), int(y)
	x1, y1 := min(x0+1, g.w-1), min(y0+1, g.h-1)
	fx, fy := float32(x)-float32(x0), float32(y)-float32(y0)
	return (1-fy)*((1-fx)*g.v[y0*g.w+x0]+fx*g.v[y0*g.w+x1]) + fy*((1-fx)*g.v[y1*g.w+x0]+fx*g.v[y1*g.w+x1])
}

// readBits reads the code in a square picture.
func readBits(side int, dark func(i int) bool) (text string, ok bool) {
	bits, err := gozxing.NewBitMatrix(side, side)
	if err != nil {
		return "", false
	}
	for i := range side * side {
		if dark(i) {
			bits.Set(i%side, i/side)
		}
	}
	return mat.DetectMatrix(bits)
}
