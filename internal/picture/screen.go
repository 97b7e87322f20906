package picture

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"sync"

	"aerugo/internal/science/colour"
)

// PreviewSide is the long side, in pixels, of Preview.
const PreviewSide = 1600

// Thumbnail returns the picture as an sRGB JPEG whose long side is longSide
// pixels, or its own size if that is smaller. Pixels are averaged by area in
// linear light. A colour sRGB cannot show is drawn towards the grey of its own
// luminance until it can be. Transparent parts show as mid grey.
func Thumbnail(m *Image, longSide int) []byte {
	return screenJPEG(m, longSide, 85)
}

// Preview returns a Thumbnail of PreviewSide for marking corners on: a place
// in it, times m.Width over the preview's width, is the place in the picture.
func Preview(m *Image) []byte {
	return screenJPEG(m, PreviewSide, 90)
}

func screenJPEG(m *Image, longSide, quality int) []byte {
	w, h := fit(m.Width, m.Height, longSide)
	toScreen := toSRGB(m.Space)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	m.shrink(w, h, func(y int, row []float32) {
		for x := 0; x < w; x++ {
			p := out.Pix[y*out.Stride+4*x:]
			p[0], p[1], p[2] = screenPixel(toScreen, row[3*x:3*x+3])
			p[3] = 255
		}
	})
	var b bytes.Buffer
	// Writing to memory cannot fail, and the size is within JPEG's 65535.
	_ = jpeg.Encode(&b, out, &jpeg.Options{Quality: quality})
	return b.Bytes()
}

// fit returns w x h made to fit a long side, never enlarged, at least 1 x 1.
func fit(w, h, longSide int) (int, int) {
	long := max(w, h)
	longSide = max(1, min(longSide, long, 16384))
	scale := float64(longSide) / float64(long)
	return max(1, int(math.Round(float64(w)*scale))), max(1, int(math.Round(float64(h)*scale)))
}

// shrink averages the picture over a w x h grid of equal cells in linear light
// and hands each finished row of RGB to emit.
func (m *Image) shrink(w, h int, emit func(y int, row []float32)) {
	const grey = 0.18418651851244416 // linear light of L* 50
	sum := make([]float64, 3*w)
	line := make([]float64, 3*w)
	row := make([]float32, 3*w)
	across := float64(m.Width) / float64(w)
	down := float64(m.Height) / float64(h)
	cellArea := across * down
	next := 0
	for y := 0; y < m.Height; y++ {
		clear(line)
		for x := 0; x < m.Width; x++ {
			rgb, _ := m.At(x, y)
			if !m.Opaque(x, y) {
				rgb = [3]float32{grey, grey, grey}
			}
			// The pixel's width is shared between the one or two cells it lies in.
			first := min(w-1, int(float64(x)/across))
			edge := float64(first+1) * across
			part := math.Min(1, edge-float64(x))
			for c, v := range rgb {
				line[3*first+c] += float64(v) * part
				if part < 1 && first+1 < w {
					line[3*(first+1)+c] += float64(v) * (1 - part)
				}
			}
		}
		edge := float64(next+1) * down
		part := math.Min(1, edge-float64(y))
		for i, v := range line {
			sum[i] += v * part
		}
		if float64(y+1) >= edge-1e-9 || y == m.Height-1 {
			for i, v := range sum {
				row[i] = float32(v / cellArea)
			}
			emit(next, row)
			next++
			for i, v := range line {
				sum[i] = v * (1 - part)
			}
			if next == h {
				return
			}
		}
	}
}

// matrix is a 3 x 3 matrix for RGB columns.
type matrix [3][3]float64

// srgbCode turns linear light, in 4096 steps of its square root, into 8-bit
// sRGB: steps that fine are never more than half a code value off.
var srgbCode = sync.OnceValue(func() *[4097]uint8 {
	var t [4097]uint8
	for i := range t {
		v := float64(i) / 4096
		v *= v
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		t[i] = uint8(math.Round(255 * v))
	}
	return &t
})

// screenPixel turns linear RGB of a picture into an 8-bit sRGB pixel.
func screenPixel(to matrix, rgb []float32) (r, g, b uint8) {
	var v [3]float64
	low, high := math.Inf(1), math.Inf(-1)
	for i := range v {
		v[i] = to[i][0]*float64(rgb[0]) + to[i][1]*float64(rgb[1]) + to[i][2]*float64(rgb[2])
		low, high = math.Min(low, v[i]), math.Max(high, v[i])
	}
	if low < 0 || high > 1 {
		y := math.Max(0, math.Min(1, 0.2126390*v[0]+0.7151687*v[1]+0.0721923*v[2]))
		keep := 1.0
		if low < 0 && y > low {
			keep = math.Min(keep, y/(y-low))
		}
		if high > 1 && high > y {
			keep = math.Min(keep, (1-y)/(high-y))
		}
		for i := range v {
			v[i] = math.Max(0, math.Min(1, y+keep*(v[i]-y)))
		}
	}
	t := srgbCode()
	return t[int(4096*math.Sqrt(v[0])+0.5)], t[int(4096*math.Sqrt(v[1])+0.5)], t[int(4096*math.Sqrt(v[2])+0.5)]
}

// toSRGB returns the matrix from linear RGB of a space to linear sRGB.
func toSRGB(s colour.Space) (m matrix) {
	for j, unit := range [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} {
		m[0][j], m[1][j], m[2][j] = colour.SRGB.FromXYZ(s.XYZ(unit[0], unit[1], unit[2]))
	}
	return m
}
