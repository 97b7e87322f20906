package measure

import (
	"math"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// sampler does what sampleCell does, for cells wide enough to need no
// interpolation in a plain 8-bit picture, as nearly all are: straightening looks
// at millions of pixels.
type sampler struct {
	w, h   int
	codes  []uint8
	linear [3]*[256]float32
	// kinds counts, for each largest code value of a pixel, clipped, glaring and
	// crushed pixels in 16 bits each.
	kinds [256]uint64
	steps [65][]float64 // middles of n equal parts of 1
}

// newSampler is nil when the picture is not of the plain kind.
func newSampler(img *picture.Image) *sampler {
	codes, linear, ok := img.Codes()
	if !ok {
		return nil
	}
	s := &sampler{w: img.Width, h: img.Height, codes: codes, linear: linear}
	for peak := range s.kinds {
		if peak >= clippedCode {
			s.kinds[peak] |= 1
		}
		if peak >= glareCode {
			s.kinds[peak] |= 1 << 16
		}
		if peak <= 3 {
			s.kinds[peak] |= 1 << 32
		}
	}
	for n := range s.steps {
		for i := range n {
			s.steps[n] = append(s.steps[n], (float64(i)+0.5)/float64(n))
		}
	}
	return s
}

// cell samples the picture over the cell with corners p.
func (s *sampler) cell(p [4]studio.Point, span float64) tally {
	steps := s.steps[samplesAcross(span)]
	var red, green, blue float32
	var kinds uint64
	for _, v := range steps {
		lx, ly := p[0].X+v*(p[3].X-p[0].X), p[0].Y+v*(p[3].Y-p[0].Y)
		rx, ry := p[1].X+v*(p[2].X-p[1].X), p[1].Y+v*(p[2].Y-p[1].Y)
		dx, dy := rx-lx, ry-ly
		for _, u := range steps {
			x := max(0, min(s.w-1, int(lx+u*dx)))
			y := max(0, min(s.h-1, int(ly+u*dy)))
			at := s.codes[3*(y*s.w+x):][:3:3]
			r, g, b := at[0], at[1], at[2]
			kinds += s.kinds[max(r, g, b)]
			red += s.linear[0][r]
			green += s.linear[1][g]
			blue += s.linear[2][b]
		}
	}
	n := len(steps) * len(steps)
	return tally{
		sum: [3]float32{red, green, blue}, taken: n, seen: n,
		clipped: int(kinds & math.MaxUint16), glare: int(kinds >> 16 & math.MaxUint16), crushed: int(kinds >> 32),
	}
}
