package picture

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
)

const (
	pngMagic = "\x89PNG\r\n\x1a\n"
	maxNotes = 4 << 20 // the most a compressed profile or note may unpack to
)

// chunk is one chunk of a PNG or WebP; data lies between from and to.
type chunk struct {
	name     string
	from, to int
}

// layPNG returns the chunks of a PNG (W3C PNG, 3rd edition) up to its end
// chunk, and whether that was reached.
func layPNG(b []byte) (chunks []chunk, whole bool) {
	for i := len(pngMagic); i+12 <= len(b); {
		n := int(binary.BigEndian.Uint32(b[i:]))
		if n > len(b)-i-12 {
			return chunks, false
		}
		c := chunk{string(b[i+4 : i+8]), i + 8, i + 8 + n}
		chunks = append(chunks, c)
		if c.name == "IEND" {
			return chunks, true
		}
		i = c.to + 4
	}
	return chunks, false
}

// inflate unpacks zlib data, giving up past maxNotes.
func inflate(b []byte) []byte {
	r, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil
	}
	out, err := io.ReadAll(io.LimitReader(r, maxNotes+1))
	if err != nil || len(out) > maxNotes {
		return nil
	}
	return out
}

// mostDeflate is more than how many times deflate can shrink (RFC 1951: a length of
// 258 in two bits, 1032 times), so that fewer data than that are not all.
const mostDeflate = 1040

// headPNG reads and judges a PNG's head.
func headPNG(b []byte) (head, error) {
	h := head{format: "PNG"}
	chunks, whole := layPNG(b)
	if len(chunks) == 0 {
		return h, errTruncated
	}
	if c := chunks[0]; c.name != "IHDR" || c.to-c.from != 13 {
		return h, refuse("The PNG is damaged at its start. Send the picture again.")
	}
	ihdr := b[chunks[0].from:chunks[0].to]
	h.width = int(binary.BigEndian.Uint32(ihdr))
	h.height = int(binary.BigEndian.Uint32(ihdr[4:]))
	h.depth = int(ihdr[8])
	h.channels = map[byte]int{0: 1, 2: 3, 3: 3, 4: 2, 6: 4}[ihdr[9]]
	if err := checkSize(h.width, h.height); err != nil {
		return h, err
	}
	if !whole {
		return h, errTruncated
	}
	gamma := 0.0
	data := 0
	for _, c := range chunks {
		d := b[c.from:c.to]
		switch c.name {
		case "acTL":
			return h, refuse("This is an animated PNG. Send a single still photograph.")
		case "IDAT":
			data += len(d)
		case "iCCP":
			if i := bytes.IndexByte(d, 0); i >= 0 && i+2 <= len(d) {
				if h.icc = inflate(d[i+2:]); h.icc == nil {
					h.icc = []byte{} // there is one, and it is damaged
				}
			}
		case "eXIf":
			h.exif = bytes.TrimPrefix(d, []byte(exifHeader))
		case "sRGB":
			h.fileSpace = spaceSRGB
		case "gAMA":
			if len(d) == 4 {
				gamma = float64(binary.BigEndian.Uint32(d)) / 1e5
			}
		case "cICP": // code points of ITU-T H.273
			if len(d) == 4 {
				h.fileSpace = spaceFromCodes(int(d[0]), int(d[1]))
			}
		}
	}
	if data == 0 {
		return h, errTruncated
	}
	if h.icc == nil && h.fileSpace == "" && gamma != 0 && (gamma < 0.44 || gamma > 0.47) {
		return h, refuse("The PNG states its tones only by a gamma of %.3g, which is not that of sRGB (0.455). Export it with an sRGB or Display P3 profile.", gamma)
	}
	px := int64(h.width) * int64(h.height)
	bytesPer := int64(1)
	if h.depth == 16 {
		bytesPer = 2
	}
	h.cost = px*4*bytesPer + px*3*bytesPer
	if ihdr[12] != 0 { // interlaced: the passes are held beside the picture
		h.cost += px * 4 * bytesPer
	}
	row := (int64(h.width)*int64(h.depth)*map[byte]int64{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[ihdr[9]] + 7) / 8
	if h.cost <= maxMemory && int64(data)*mostDeflate < row*int64(h.height) { // a larger one is refused as such
		return h, errTruncated
	}
	return h, nil
}

// decodePNG decodes b into stored-order RGB rows, 16-bit when the file is.
func decodePNG(b []byte) (*samples, error) {
	m, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, refuse("The PNG is damaged (%v). Send the picture again.", err)
	}
	return samplesFrom(m)
}

// samplesFrom copies any of the images the PNG and WebP readers return.
func samplesFrom(m image.Image) (*samples, error) {
	size := m.Bounds().Size()
	switch m := m.(type) {
	case *image.RGBA: // both readers use it for opaque pictures only
		s := newSamples(size.X, size.Y, false)
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x := 0; x < size.X; x++ {
				copy(row[3*x:3*x+3], m.Pix[y*m.Stride+4*x:])
			}
		}
		return s, nil
	case *image.NRGBA:
		s := newSamples(size.X, size.Y, false)
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x := 0; x < size.X; x++ {
				p := m.Pix[y*m.Stride+4*x:]
				copy(row[3*x:3*x+3], p)
				s.setAlpha(x, y, p[3])
			}
		}
		return s, nil
	case *image.Gray:
		s := newSamples(size.X, size.Y, false)
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x := 0; x < size.X; x++ {
				v := m.Pix[y*m.Stride+x]
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		}
		return s, nil
	case *image.Paletted:
		s := newSamples(size.X, size.Y, false)
		var lut [256][4]uint8
		for i, c := range m.Palette {
			n := color.NRGBAModel.Convert(c).(color.NRGBA)
			lut[i] = [4]uint8{n.R, n.G, n.B, n.A}
		}
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x := 0; x < size.X; x++ {
				p := lut[m.Pix[y*m.Stride+x]]
				row[3*x], row[3*x+1], row[3*x+2] = p[0], p[1], p[2]
				s.setAlpha(x, y, p[3])
			}
		}
		return s, nil
	case *image.Gray16:
		s := newSamples(size.X, size.Y, true)
		for y := 0; y < size.Y; y++ {
			row := s.row16(y)
			for x := 0; x < size.X; x++ {
				v := binary.BigEndian.Uint16(m.Pix[y*m.Stride+2*x:])
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		}
		return s, nil
	case *image.RGBA64:
		s := newSamples(size.X, size.Y, true)
		for y := 0; y < size.Y; y++ {
			copy16(s.row16(y), m.Pix[y*m.Stride:])
		}
		return s, nil
	case *image.NRGBA64:
		s := newSamples(size.X, size.Y, true)
		for y := 0; y < size.Y; y++ {
			copy16(s.row16(y), m.Pix[y*m.Stride:])
			for x := 0; x < size.X; x++ {
				s.setAlpha(x, y, m.Pix[y*m.Stride+8*x+6])
			}
		}
		return s, nil
	}
	return nil, refuse("This kind of picture cannot be read. Export it as an ordinary 8-bit sRGB PNG.")
}

// copy16 copies the colours of a row of big-endian 16-bit RGBA.
func copy16(row []uint16, pix []uint8) {
	for x := 0; 3*x < len(row); x++ {
		p := pix[8*x:]
		row[3*x] = binary.BigEndian.Uint16(p)
		row[3*x+1] = binary.BigEndian.Uint16(p[2:])
		row[3*x+2] = binary.BigEndian.Uint16(p[4:])
	}
}

// sealChunk writes the check sum of a chunk whose data was changed.
func sealChunk(b []byte, c chunk) {
	binary.BigEndian.PutUint32(b[c.to:], crc32.ChecksumIEEE(b[c.from-4:c.to]))
}
