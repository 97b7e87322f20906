package heif

import "math"

// Picture is a decoded picture. Its samples stay as the file holds them, luma
// and chroma, until RGB asks for pixels.
type Picture struct {
	Width, Height int // as displayed
	BitDepth      int // of the luma samples: 8 to 12

	view       view
	plane      [3]plane
	depth      [3]int
	chroma     int // chroma_format_idc
	subX, subY int
	matrix     int
	kr, kb     float64
	fullRange  bool
}

// setColour notes how the samples become RGB.
func (p *Picture) setColour(info Info) error {
	p.matrix, p.fullRange = info.Matrix, info.FullRange
	// ITU-T H.273 table 4.
	switch info.Matrix {
	case 0: // the samples are green, blue and red
	case 1:
		p.kr, p.kb = 0.2126, 0.0722
	case 2, 5, 6: // unspecified is taken as BT.601
		p.kr, p.kb = 0.299, 0.114
	case 4:
		p.kr, p.kb = 0.30, 0.11
	case 7:
		p.kr, p.kb = 0.212, 0.087
	case 9:
		p.kr, p.kb = 0.2627, 0.0593
	default:
		return unsupported("the colour matrix of the picture")
	}
	return nil
}

// RGB returns the pixels, row by row, three bytes each, in the RGB space the
// file's colour profile describes.
func (p *Picture) RGB() []uint8 {
	out := make([]uint8, 3*p.Width*p.Height)
	conv := p.converter()
	for y := range p.Height {
		p.row(conv, y, out[3*p.Width*y:][:3*p.Width])
	}
	return out
}

// converter holds the numbers that turn samples into 8-bit RGB, as tables by
// sample of values scaled by 2^16.
type converter struct {
	luma    []int32 // with one half added for rounding
	redCr   []int32
	greenCb []int32
	greenCr []int32
	blueCb  []int32
}

func (p *Picture) converter() *converter {
	c := &converter{}
	table := func(depth int, zero, span, factor, add float64) []int32 {
		t := make([]int32, 1<<depth)
		s := float64(int(1) << (depth - 8))
		if p.fullRange {
			s = float64(int(1)<<depth - 1)
		}
		for i := range t {
			t[i] = int32(math.Round((255*factor*(float64(i)-zero)/(s*span) + add) * 65536))
		}
		return t
	}
	level := func(depth int) []int32 {
		if p.fullRange {
			return table(depth, 0, 1, 1, 0.5)
		}
		return table(depth, float64(int(16)<<(depth-8)), 219, 1, 0.5)
	}
	c.luma = level(p.depth[0])
	if p.chroma == 0 {
		return c
	}
	if p.matrix == 0 {
		c.blueCb, c.redCr = level(p.depth[1]), level(p.depth[2])
		return c
	}
	span := 224.0
	if p.fullRange {
		span = 1
	}
	zero := func(i int) float64 { return float64(int(1) << (p.depth[i] - 1)) }
	kg := 1 - p.kr - p.kb
	c.redCr = table(p.depth[2], zero(2), span, 2*(1-p.kr), 0)
	c.greenCr = table(p.depth[2], zero(2), span, -2*p.kr*(1-p.kr)/kg, 0)
	c.greenCb = table(p.depth[1], zero(1), span, -2*p.kb*(1-p.kb)/kg, 0)
	c.blueCb = table(p.depth[1], zero(1), span, 2*(1-p.kb), 0)
	return c
}

// row writes one row of pixels. A chroma sample serves all the pixels it covers.
func (p *Picture) row(c *converter, y int, out []uint8) {
	at := p.view.at(0, y)
	step := p.view.right
	yp, cb, cr := &p.plane[0], &p.plane[1], &p.plane[2]
	for x := 0; x < len(out); x += 3 {
		px := out[x : x+3 : x+3]
		l := c.luma[yp.pix[at.y*yp.stride+at.x]]
		if p.chroma == 0 {
			v := eight(l)
			px[0], px[1], px[2] = v, v, v
		} else {
			i := (at.y>>p.subY)*cb.stride + at.x>>p.subX
			u, v := cb.pix[i], cr.pix[i]
			if p.matrix == 0 {
				px[0], px[1], px[2] = eight(c.redCr[v]), eight(l), eight(c.blueCb[u])
			} else {
				px[0] = eight(l + c.redCr[v])
				px[1] = eight(l + c.greenCb[u] + c.greenCr[v])
				px[2] = eight(l + c.blueCb[u])
			}
		}
		at.x += step.x
		at.y += step.y
	}
}

func eight(v int32) uint8 { return uint8(min(max(v>>16, 0), 255)) }
