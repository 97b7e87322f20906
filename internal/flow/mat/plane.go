package mat

import (
	"math"

	"aerugo/internal/picture"
)

// plane is the lightness of a picture: linear light, 1 at full scale.
type plane struct {
	w, h int
	v    []float32
}

func lightOf(img *picture.Image) *plane {
	p := &plane{img.Width, img.Height, make([]float32, img.Width*img.Height)}
	for y := range p.h {
		row := p.v[y*p.w : (y+1)*p.w]
		for x := range row {
			rgb, _ := img.At(x, y)
			row[x] = 0.25*rgb[0] + 0.65*rgb[1] + 0.1*rgb[2]
		}
	}
	return p
}

// at returns the light at (x, y) between the middles of four pixels; outside
// the picture its rim goes on.
func (p *plane) at(x, y float64) float64 {
	x, y = clamp(x-0.5, 0, float64(p.w-1)), clamp(y-0.5, 0, float64(p.h-1))
	i, j := min(int(x), p.w-2), min(int(y), p.h-2)
	if i < 0 || j < 0 {
		return float64(p.v[0])
	}
	fx, fy := x-float64(i), y-float64(j)
	r := p.v[j*p.w+i:]
	s := p.v[(j+1)*p.w+i:]
	return (1-fy)*((1-fx)*float64(r[0])+fx*float64(r[1])) + fy*((1-fx)*float64(s[0])+fx*float64(s[1]))
}

// inside reports whether (x, y) lies in the picture.
func (p *plane) inside(x, y float64) bool {
	return x >= 0 && y >= 0 && x <= float64(p.w) && y <= float64(p.h)
}

// smaller returns p in about long pixels, square-rooted (nearer to how a
// picture is seen), and how many pixels of p one of it spans.
func (p *plane) smaller(long int) (*plane, float64) {
	f := max(1, (max(p.w, p.h)+long-1)/long)
	s := &plane{w: p.w / f, h: p.h / f}
	s.v = make([]float32, s.w*s.h)
	for y := range s.h {
		for x := range s.w {
			sum := float32(0)
			for j := range f {
				for _, v := range p.v[(y*f+j)*p.w+x*f:][:f] {
					sum += v
				}
			}
			s.v[y*s.w+x] = float32(math.Sqrt(float64(sum) / float64(f*f)))
		}
	}
	return s, float64(f)
}

// sums holds, at (x, y), the sum of all above and left of it.
type sums struct {
	w, h int
	v    []float64
}

func (p *plane) sums() *sums {
	s := &sums{p.w + 1, p.h + 1, make([]float64, (p.w+1)*(p.h+1))}
	for y := range p.h {
		row := 0.0
		for x := range p.w {
			row += float64(p.v[y*p.w+x])
			s.v[(y+1)*s.w+x+1] = s.v[y*s.w+x+1] + row
		}
	}
	return s
}

// dark marks what is darker than ratio times the mean of its surroundings, a
// square of 2*reach+1.
func (p *plane) dark(s *sums, reach int, ratio float64) []bool {
	out := make([]bool, p.w*p.h)
	for y := range p.h {
		y0, y1 := max(0, y-reach), min(p.h, y+reach+1)
		for x := range p.w {
			x0, x1 := max(0, x-reach), min(p.w, x+reach+1)
			mean := (s.v[y1*s.w+x1] - s.v[y0*s.w+x1] - s.v[y1*s.w+x0] + s.v[y0*s.w+x0]) / float64((x1-x0)*(y1-y0))
			out[y*p.w+x] = float64(p.v[y*p.w+x]) < ratio*mean
		}
	}
	return out
}

func clamp(v, low, high float64) float64 { return math.Min(math.Max(v, low), high) }
