package mat

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/boombuler/barcode/datamatrix"

	"aerugo/internal/picture"
)

// sheet is a mat as printed: reflectance of the ink, dots to the mm.
type sheet struct {
	w, h int
	dots float64 // to the mm
	v    []uint8
}

func newSheet(t testing.TB, l Layout) *sheet {
	t.Helper()
	const dots = 8
	s := &sheet{w: int(l.Page.W * dots), h: int(l.Page.H * dots), dots: dots}
	s.v = bytes.Repeat([]byte{255}, s.w*s.h)
	ink, err := l.Ink()
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range ink {
		s.fill(i.Area, i.Grey)
	}
	for y := l.Head.Y; y < l.Head.Y+l.Head.H-1; y += 3 { // in the place of words
		for x := l.Head.X + 2; x < l.Head.X+l.Head.W-6; x += 4 {
			s.fill(Area{x, y, 2.6, 1.7}, 60)
		}
	}
	return s
}

// printedSheet is a mat as package print wrote it and Poppler 22.12's pdftoppm
// drew it, at 100 dots to the inch: words and all.
func printedSheet(t testing.TB, l Layout) *sheet {
	t.Helper()
	kind := map[Kind]string{OneSwatch: "one", TwoSwatches: "two"}[l.Kind]
	file, err := os.Open("../../print/testdata/mat-" + kind + "-" + strings.ToLower(l.Paper) + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	img, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	s := &sheet{w: b.Dx(), h: b.Dy(), dots: 100 / 25.4}
	for y := range s.h {
		for x := range s.w {
			s.v = append(s.v, color.GrayModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.Gray).Y)
		}
	}
	return s
}

// fill paints an area, its rim as far as it covers each dot.
func (s *sheet) fill(a Area, grey uint8) {
	x0, x1, y0, y1 := a.X*s.dots, (a.X+a.W)*s.dots, a.Y*s.dots, (a.Y+a.H)*s.dots
	for y := max(0, int(y0)); y < min(s.h, int(math.Ceil(y1))); y++ {
		cy := math.Min(float64(y+1), y1) - math.Max(float64(y), y0)
		for x := max(0, int(x0)); x < min(s.w, int(math.Ceil(x1))); x++ {
			cx := math.Min(float64(x+1), x1) - math.Max(float64(x), x0)
			i := y*s.w + x
			s.v[i] = uint8(math.Round(float64(s.v[i])*(1-cx*cy) + float64(grey)*cx*cy))
		}
	}
}

func (s *sheet) at(p MM) float64 {
	x, y := p.X*s.dots-0.5, p.Y*s.dots-0.5
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= s.w || j+1 >= s.h {
		return 1
	}
	fx, fy := x-float64(i), y-float64(j)
	r, q := s.v[j*s.w+i:], s.v[(j+1)*s.w+i:]
	return ((1-fy)*((1-fx)*float64(r[0])+fx*float64(r[1])) + fy*((1-fx)*float64(q[0])+fx*float64(q[1]))) / 255
}

// piece is something rectangular that lies on the mat, turned about its middle.
type piece struct {
	middle   MM
	w, h     float64
	cos, sin float64
	colour   [2][3]float64 // linear sRGB reflectance, in two kinds of blotch
	code     [][]bool      // a label's
	blotch   float64
	casts    bool
}

func newPiece(middle MM, w, h, degrees float64) piece {
	return piece{middle: middle, w: w, h: h, cos: math.Cos(degrees * math.Pi / 180), sin: math.Sin(degrees * math.Pi / 180)}
}

// own returns p in the piece's own mm, from its middle.
func (k piece) own(p MM) (x, y float64) {
	dx, dy := p.X-k.middle.X, p.Y-k.middle.Y
	return dx*k.cos + dy*k.sin, -dx*k.sin + dy*k.cos
}

func (k piece) corners() (out [4]MM) {
	for i, s := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
		x, y := s[0]*k.w/2, s[1]*k.h/2
		out[i] = MM{k.middle.X + x*k.cos - y*k.sin, k.middle.Y + x*k.sin + y*k.cos}
	}
	return out
}

func (k piece) at(p MM) (rgb [3]float64, ok bool) {
	x, y := k.own(p)
	if math.Abs(x) > k.w/2 || math.Abs(y) > k.h/2 {
		return rgb, false
	}
	if k.code != nil { // 13.6 mm with a rim of two modules, at the right, as on the studio's labels
		const side = 13.6
		m := side / float64(len(k.code)+4)
		i, j := int(math.Floor((x-k.w/2+1.2+side)/m))-2, int(math.Floor((y+k.h/2-1.2)/m))-2
		if i >= 0 && j >= 0 && j < len(k.code) && i < len(k.code) && k.code[j][i] {
			return [3]float64{0.04, 0.04, 0.04}, true
		}
		if x < k.w/2-18 && math.Mod(y+k.h/2, 4) > 2 && math.Mod(x+k.w/2, 3) > 1.2 { // words
			return [3]float64{0.06, 0.06, 0.06}, true
		}
		return [3]float64{0.8, 0.8, 0.8}, true
	}
	f := 0.5 + 0.5*math.Sin(x*k.blotch+2*math.Sin(y*k.blotch*0.7))*math.Sin(y*k.blotch+1.3*math.Sin(x*k.blotch*1.1))
	for c := range rgb {
		rgb[c] = k.colour[0][c]*(1-f) + k.colour[1][c]*f
	}
	return rgb, true
}

// beside is how much of the light reaches paper at p beside a thin sheet.
func (k piece) beside(p MM) float64 {
	if !k.casts {
		return 1
	}
	x, y := k.own(MM{p.X - 0.8, p.Y - 0.6})
	d := math.Max(math.Abs(x)-k.w/2, math.Abs(y)-k.h/2)
	return 1 - 0.3*clamp(1-d/1.5, 0, 1)
}

func matrix(t testing.TB, text string) [][]bool {
	t.Helper()
	img, err := datamatrix.Encode(text)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	m := make([][]bool, b.Dy())
	for y := range m {
		m[y] = make([]bool, b.Dx())
		for x := range m[y] {
			v, _, _, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			m[y][x] = v < 0x8000
		}
	}
	return m
}

// reflectance is what a place on the mat sends back, linear sRGB.
func (s *scene) reflectance(paper *sheet, p MM) [3]float64 {
	if !s.layout.Page.Contains(p) { // the bench
		v := 0.16 + 0.05*math.Sin(p.Y*0.4+math.Sin(p.X*0.05))
		return [3]float64{1.25 * v, v, 0.7 * v}
	}
	for _, group := range [][]piece{s.others, s.swatches, s.labels} {
		for _, k := range group {
			if math.Abs(p.X-k.middle.X)+math.Abs(p.Y-k.middle.Y) > k.w+k.h {
				continue
			}
			if rgb, ok := k.at(p); ok {
				return rgb
			}
		}
	}
	v := 0.04 + 0.96*paper.at(p)
	for _, k := range s.swatches {
		v *= k.beside(p)
	}
	return [3]float64{v, v, v}
}

// photograph renders the scene and reads it back from a JPEG file.
func (s *scene) photograph(t testing.TB, paper *sheet) *picture.Image {
	t.Helper()
	img, err := picture.Decode(s.file(t, paper))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func (s *scene) file(t testing.TB, paper *sheet) []byte {
	t.Helper()
	back, ok := s.toPixels.inverse()
	if !ok {
		t.Fatal("the camera sees no page")
	}
	n := s.w * s.h
	rgb := make([]float32, 3*n)
	for y := range s.h {
		for x := range s.w {
			var sum [3]float64
			for _, d := range [4][2]float64{{0.25, 0.25}, {0.75, 0.25}, {0.25, 0.75}, {0.75, 0.75}} {
				sx, sy := float64(x)+d[0], float64(y)+d[1]
				if s.bend != 0 {
					sx, sy = s.straight(sx, sy)
				}
				u, v := back.at(sx, sy)
				p := MM{u, v}
				c := s.reflectance(paper, p)
				for i := range sum {
					sum[i] += c[i] / 4
				}
			}
			u, v := back.at(float64(x)+0.5, float64(y)+0.5)
			p := MM{u, v}
			far := 1 + s.slope.X*(u-s.layout.Page.W/2) + s.slope.Y*(v-s.layout.Page.H/2)
			light := math.Max(far, 0.3) * s.shadow(p)
			for i := range sum {
				rgb[3*(y*s.w+x)+i] = float32(sum[i] * light * s.light[i])
			}
		}
	}
	smear(rgb, s.w, s.h, s.blur)
	r := rand.New(rand.NewPCG(s.seed, 7))
	out := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	for i := range n {
		v := [3]float64{float64(rgb[3*i]), float64(rgb[3*i+1]), float64(rgb[3*i+2])}
		for c := range v {
			v[c] += s.noise * (0.5 + math.Sqrt(v[c])) * r.NormFloat64()
		}
		if s.p3 { // sRGB to Display P3, both D65, linear
			v = [3]float64{
				0.8224622*v[0] + 0.1775378*v[1],
				0.0331942*v[0] + 0.9668058*v[1],
				0.0170826*v[0] + 0.0723974*v[1] + 0.9105199*v[2],
			}
		}
		for c := range v {
			out.Pix[4*i+c] = encoded(v[c])
		}
		out.Pix[4*i+3] = 255
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, out, &jpeg.Options{Quality: s.quality}); err != nil {
		t.Fatal(err)
	}
	if !s.p3 {
		return buf.Bytes()
	}
	raw := buf.Bytes()
	body := append([]byte("ICC_PROFILE\x00\x01\x01"), displayP3(t)...)
	file := append([]byte{}, raw[:2]...)
	file = append(file, 0xff, 0xe2)
	file = binary.BigEndian.AppendUint16(file, uint16(len(body)+2))
	file = append(file, body...)
	return append(file, raw[2:]...)
}

// codes are the sRGB codes (IEC 61966-2-1) of 4096 steps of linear light.
var codes = sync.OnceValue(func() []uint8 {
	out := make([]uint8, 4097)
	for i := range out {
		v := float64(i) / 4096
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		out[i] = uint8(math.Round(255 * v))
	}
	return out
})

func encoded(v float64) uint8 { return codes()[int(clamp(v, 0, 1)*4096)] }

// displayP3 is the profile inside a picture of package picture.
func displayP3(t testing.TB) []byte {
	t.Helper()
	b, err := os.ReadFile("../../picture/testdata/p8_p3_v4.jpg")
	if err != nil {
		t.Fatal(err)
	}
	i := bytes.Index(b, []byte("ICC_PROFILE\x00\x01\x01"))
	if i < 2 {
		t.Fatal("the sample has no profile")
	}
	length := int(binary.BigEndian.Uint16(b[i-2:]))
	return b[i+14 : i-2+length]
}

// smear is a Gaussian blur of sigma pixels.
func smear(rgb []float32, w, h int, sigma float64) {
	reach := int(math.Ceil(2.5 * sigma))
	k := make([]float32, 2*reach+1)
	sum := float32(0)
	for i := range k {
		k[i] = float32(math.Exp(-square(float64(i-reach)) / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	line := make([]float32, 3*max(w, h))
	pass := func(n, start, step int) {
		for i := range n {
			copy(line[3*i:3*i+3], rgb[start+i*step:])
		}
		for i := range n {
			var v [3]float32
			for j, f := range k {
				at := 3 * min(max(i+j-reach, 0), n-1)
				v[0] += f * line[at]
				v[1] += f * line[at+1]
				v[2] += f * line[at+2]
			}
			copy(rgb[start+i*step:], v[:])
		}
	}
	for y := range h {
		pass(w, 3*y*w, 3)
	}
	for x := range w {
		pass(h, 3*x, 3*w)
	}
}
