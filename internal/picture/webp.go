package picture

import (
	"bytes"
	"encoding/binary"
	"image"

	"golang.org/x/image/webp"
)

// layWebP returns the chunks of a WebP (RFC 9649), and whether the file is as
// long as it says.
func layWebP(b []byte) (chunks []chunk, whole bool) {
	if len(b) < 12 {
		return nil, false
	}
	end := 8 + int(binary.LittleEndian.Uint32(b[4:]))
	if end > len(b) {
		return nil, false
	}
	for i := 12; i+8 <= end; {
		n := int(binary.LittleEndian.Uint32(b[i+4:]))
		if n > end-i-8 {
			return chunks, false
		}
		c := chunk{string(b[i : i+4]), i + 8, i + 8 + n}
		chunks = append(chunks, c)
		i = c.to + n&1
	}
	return chunks, true
}

// headWebP reads and judges a WebP's head.
func headWebP(b []byte) (head, error) {
	h := head{format: "WebP", depth: 8, channels: 3}
	chunks, whole := layWebP(b)
	lossless := false
	for _, c := range chunks {
		d := b[c.from:c.to]
		switch c.name {
		case "VP8X":
			if len(d) >= 10 {
				h.width = 1 + (int(d[4]) | int(d[5])<<8 | int(d[6])<<16)
				h.height = 1 + (int(d[7]) | int(d[8])<<8 | int(d[9])<<16)
				if d[0]&2 != 0 {
					return h, refuse("This is an animated WebP. Send a single still photograph.")
				}
			}
		case "ANIM", "ANMF":
			return h, refuse("This is an animated WebP. Send a single still photograph.")
		case "ICCP":
			h.icc = d
		case "EXIF":
			h.exif = bytes.TrimPrefix(d, []byte(exifHeader))
		case "VP8L":
			lossless = true
		}
		// What is coded may be larger than the canvas that the file names, and
		// it is the coded size that takes memory.
		if w, v := codedWebP(c.name, d); w > 0 {
			if err := checkSize(w, v); err != nil {
				return h, err
			}
			if h.width > 0 && (w != h.width || v != h.height) {
				return h, refuse("The picture says it is %d x %d pixels but holds %d x %d. Send the photograph again.", h.width, h.height, w, v)
			}
		}
	}
	if !whole {
		return h, errTruncated
	}
	if h.width == 0 {
		config, err := webp.DecodeConfig(bytes.NewReader(b))
		if err != nil {
			return h, refuse("The WebP is damaged (%v). Send the picture again.", err)
		}
		h.width, h.height = config.Width, config.Height
	}
	if err := checkSize(h.width, h.height); err != nil {
		return h, err
	}
	px := int64(h.width) * int64(h.height)
	h.cost = 3*px + 2*px
	if lossless {
		h.cost = 3*px + 8*px
	}
	return h, nil
}

// codedWebP is the size in the head of a chunk of picture data: RFC 6386 section
// 9.1 for VP8, RFC 9649 section 3.4 for VP8L. It is 0 for other chunks.
func codedWebP(name string, d []byte) (w, h int) {
	switch {
	case name == "VP8 " && len(d) >= 10:
		return int(binary.LittleEndian.Uint16(d[6:]) & 0x3fff), int(binary.LittleEndian.Uint16(d[8:]) & 0x3fff)
	case name == "VP8L" && len(d) >= 5:
		bits := binary.LittleEndian.Uint32(d[1:])
		return 1 + int(bits&0x3fff), 1 + int(bits>>14&0x3fff)
	}
	return 0, 0
}

// decodeWebP decodes b into stored-order RGB rows.
func decodeWebP(b []byte) (*samples, error) {
	m, err := webp.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, refuse("The WebP is damaged (%v). Send the picture again.", err)
	}
	var planes *image.YCbCr
	switch v := m.(type) {
	case *image.YCbCr:
		planes = v
	case *image.NYCbCrA:
		planes = &v.YCbCr
	default:
		return samplesFrom(m)
	}
	size := planes.Rect.Size()
	s := newSamples(size.X, size.Y, false)
	for y := 0; y < size.Y; y++ {
		row := s.row8(y)
		for x := 0; x < size.X; x++ {
			c := planes.COffset(x, y)
			row[3*x], row[3*x+1], row[3*x+2] = studioSwing(planes.Y[planes.YOffset(x, y)], planes.Cb[c], planes.Cr[c])
		}
		if v, ok := m.(*image.NYCbCrA); ok {
			for x := 0; x < size.X; x++ {
				s.setAlpha(x, y, v.A[v.AOffset(x, y)])
			}
		}
	}
	return s, nil
}

// studioSwing converts the 16..235 YCbCr of lossy WebP (ITU-R BT.601, as RFC
// 6386 section 9.2 asks) to RGB. The image library would take it for the full
// range of JPEG, which makes every colour too pale.
func studioSwing(y, cb, cr uint8) (r, g, b uint8) {
	// 16.16 fixed point of 255/219, and of 255/224 times the BT.601 factors.
	yy := (int32(y) - 16) * 76309
	u, v := int32(cb)-128, int32(cr)-128
	return clamp8(yy + 104597*v), clamp8(yy - 25675*u - 53279*v), clamp8(yy + 132201*u)
}

func clamp8(v int32) uint8 {
	v = (v + 1<<15) >> 16
	return uint8(max(0, min(255, v)))
}
