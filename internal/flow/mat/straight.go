package mat

import (
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// canvas is a place on the mat, straightened: colours as shares of paper white.
type canvas struct {
	area Area
	step float64 // mm
	w, h int
	rgb  [][3]float32
}

func straighten(img *picture.Image, f Found, flat *Flat, area Area) canvas {
	c := canvas{area: area, step: clamp(f.MMPerPx, 0.12, 0.5)}
	c.w, c.h = int(area.W/c.step), int(area.H/c.step)
	c.rgb = make([][3]float32, c.w*c.h)
	for y := range c.h {
		for x := range c.w {
			p := MM{area.X + (float64(x)+0.5)*c.step, area.Y + (float64(y)+0.5)*c.step}
			v, ok := bilinear(img, f.Pixel(p))
			paper := flat.Paper(p)
			for i := range v {
				if !ok {
					v[i] = float32(paper[i])
				}
				c.rgb[y*c.w+x][i] = v[i] / float32(paper[i])
			}
		}
	}
	return c
}

func bilinear(img *picture.Image, p studio.Point) (out [3]float32, ok bool) {
	x, y := p.X-0.5, p.Y-0.5
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i+1 >= img.Width || j+1 >= img.Height {
		return out, false
	}
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	a, _ := img.At(i, j)
	b, _ := img.At(i+1, j)
	c, _ := img.At(i, j+1)
	d, _ := img.At(i+1, j+1)
	for k := range out {
		out[k] = (1-fy)*((1-fx)*a[k]+fx*b[k]) + fy*((1-fx)*c[k]+fx*d[k])
	}
	return out, true
}

// at returns the colour at (x, y) in mm from the canvas's corner.
func (c canvas) at(x, y float64) [3]float64 {
	x, y = clamp(x/c.step-0.5, 0, float64(c.w-1)), clamp(y/c.step-0.5, 0, float64(c.h-1))
	i, j := min(int(x), c.w-2), min(int(y), c.h-2)
	fx, fy := x-float64(i), y-float64(j)
	var out [3]float64
	for k := range out {
		out[k] = (1-fy)*((1-fx)*float64(c.rgb[j*c.w+i][k])+fx*float64(c.rgb[j*c.w+i+1][k])) +
			fy*((1-fx)*float64(c.rgb[(j+1)*c.w+i][k])+fx*float64(c.rgb[(j+1)*c.w+i+1][k]))
	}
	return out
}

// unlike says how far a colour is from white paper: in lightness, and more so
// in hue, which a shadow does not change.
func unlike(v [3]float32) float64 {
	var s [3]float64
	for i := range s {
		s[i] = math.Sqrt(math.Max(float64(v[i]), 0))
	}
	low, high := math.Min(s[0], math.Min(s[1], s[2])), math.Max(s[0], math.Max(s[1], s[2]))
	return math.Min(1, math.Abs(1-(s[0]+2*s[1]+s[2])/4)+1.5*(high-low))
}

// otsu returns the threshold that parts values (0 to 1) best into two groups
// (Otsu, IEEE Trans. Syst. Man Cybern. 9:62, 1979).
func otsu(values []float64) float64 {
	const bins = 200
	var hist [bins]float64
	total := 0.0
	for _, v := range values {
		b := int(clamp(v*bins, 0, bins-1))
		hist[b]++
		total += float64(b)
	}
	n, under, below := float64(len(values)), 0.0, 0.0
	best, at := -1.0, 0
	for i, h := range hist {
		under += h
		below += h * float64(i)
		if under == 0 || under == n {
			continue
		}
		d := below/under - (total-below)/(n-under)
		if between := under * (n - under) * d * d; between > best {
			best, at = between, i
		}
	}
	return float64(at+1) / bins
}
