package picture

import "aerugo/internal/science/colour"

// samples are RGB rows as a decoder leaves them, 8 or 16 bits a channel.
type samples struct {
	w, h  int
	p8    []uint8
	p16   []uint16
	alpha []uint8 // nil when the whole picture is opaque
}

func newSamples(w, h int, deep bool) *samples {
	s := &samples{w: w, h: h}
	if deep {
		s.p16 = make([]uint16, 3*w*h)
	} else {
		s.p8 = make([]uint8, 3*w*h)
	}
	return s
}

func (s *samples) row8(y int) []uint8   { return s.p8[3*s.w*y : 3*s.w*(y+1)] }
func (s *samples) row16(y int) []uint16 { return s.p16[3*s.w*y : 3*s.w*(y+1)] }

// setAlpha notes how opaque a pixel is; opaque pictures never pay for it.
func (s *samples) setAlpha(x, y int, a uint8) {
	if s.alpha == nil {
		if a == 255 {
			return
		}
		s.alpha = make([]uint8, s.w*s.h)
		for i := range s.alpha {
			s.alpha[i] = 255
		}
	}
	s.alpha[y*s.w+x] = a
}

// turned says where pixels go: (x, y) to first + x*right + y*down.
type turned struct{ first, right, down int }

// place is how an EXIF orientation (1 to 8) turns a w x h picture.
func place(orientation, w, h int) turned {
	switch orientation {
	case 2:
		return turned{w - 1, -1, w}
	case 3:
		return turned{w*h - 1, -1, -w}
	case 4:
		return turned{w * (h - 1), 1, -w}
	case 5:
		return turned{0, h, 1}
	case 6:
		return turned{h - 1, h, -1}
	case 7:
		return turned{w*h - 1, -h, -1}
	case 8:
		return turned{h * (w - 1), -h, 1}
	}
	return turned{0, 1, w}
}

// turn returns s as displayed under an EXIF orientation (1 to 8).
func (s *samples) turn(orientation int) *samples {
	if orientation <= 1 || orientation > 8 {
		return s
	}
	w, h := s.w, s.h
	if orientation >= 5 {
		w, h = h, w
	}
	out := newSamples(w, h, s.p16 != nil)
	if s.alpha != nil {
		out.alpha = make([]uint8, w*h)
	}
	at := place(orientation, s.w, s.h)
	// Strips of rows keep both sides of the copy in the processor's cache.
	const strip = 32
	for y0 := 0; y0 < s.h; y0 += strip {
		for x := 0; x < s.w; x++ {
			for y := y0; y < min(y0+strip, s.h); y++ {
				from, to := y*s.w+x, at.first+x*at.right+y*at.down
				if s.p16 != nil {
					copy(out.p16[3*to:3*to+3], s.p16[3*from:3*from+3])
				} else {
					copy(out.p8[3*to:3*to+3], s.p8[3*from:3*from+3])
				}
				if s.alpha != nil {
					out.alpha[to] = s.alpha[from]
				}
			}
		}
	}
	return out
}

// Image is a decoded photograph in displayed order. It is safe for many
// readers at once.
type Image struct {
	Width, Height int
	Info          Info
	Space         colour.Space // of the linear RGB that At returns
	s             *samples
	lut           [3][]float32 // code value to linear light, per channel
}

func newImage(s *samples, space colour.Space, info Info) *Image {
	m := &Image{Width: s.w, Height: s.h, Info: info, Space: space, s: s}
	levels := 256
	if s.p16 != nil {
		levels = 65536
	}
	ramp := make([]float32, 3*levels)
	if s.p16 != nil {
		codes := make([]uint16, 3*levels)
		for i := range codes {
			codes[i] = uint16(i / 3)
		}
		space.Decode16(ramp, codes)
	} else {
		codes := make([]uint8, 3*levels)
		for i := range codes {
			codes[i] = uint8(i / 3)
		}
		space.Decode8(ramp, codes)
	}
	for c := range m.lut {
		m.lut[c] = make([]float32, levels)
		for i := range m.lut[c] {
			m.lut[c][i] = ramp[3*i+c]
		}
	}
	return m
}

// At returns the linear-light RGB of pixel (x, y), 1 at full scale, in m.Space,
// and the largest of its three code values on the 8-bit scale (0 to 255), by
// which clipped pixels are known. x and y must lie inside the picture.
func (m *Image) At(x, y int) (rgb [3]float32, peak uint8) {
	i := 3 * (y*m.Width + x)
	if m.s.p16 != nil {
		p := m.s.p16[i : i+3 : i+3]
		return [3]float32{m.lut[0][p[0]], m.lut[1][p[1]], m.lut[2][p[2]]}, uint8(max(p[0], p[1], p[2]) >> 8)
	}
	p := m.s.p8[i : i+3 : i+3]
	return [3]float32{m.lut[0][p[0]], m.lut[1][p[1]], m.lut[2][p[2]]}, max(p[0], p[1], p[2])
}

// Codes gives an opaque 8-bit picture as it is held, for those who read millions
// of pixels: rows of RGB code values, and the linear light of each code value by
// channel. ok is false for other pictures, which At reads. Neither may be changed.
func (m *Image) Codes() (rgb []uint8, linear [3]*[256]float32, ok bool) {
	if m.s.p8 == nil || m.s.alpha != nil {
		return nil, linear, false
	}
	for c := range linear {
		linear[c] = (*[256]float32)(m.lut[c])
	}
	return m.s.p8, linear, true
}

// Opaque reports whether pixel (x, y) belongs to the picture: transparent
// pixels have no colour to measure.
func (m *Image) Opaque(x, y int) bool {
	return m.s.alpha == nil || m.s.alpha[y*m.Width+x] >= 250
}
