package picture

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"io"

	jpegpart "aerugo/internal/picture/jpeg"
)

// decodeJPEG decodes the first picture in b into RGB rows, turned as an EXIF
// orientation says. With parts, places of the displayed picture, only what lies in
// them need be right. Our own decoder reads the baseline files of cameras; what it
// leaves is read, or called damaged, by the standard library's.
func decodeJPEG(b []byte, orientation int, parts []image.Rectangle) (*samples, error) {
	switch d, err := jpegpart.New(b); err {
	case nil:
		if s, err := decodeTiles(d, orientation, parts); err == nil {
			return s, nil
		}
	case jpegpart.ErrShort: // before any memory is taken for it
		return nil, errTruncated
	}
	s, err := decodeAnyJPEG(b)
	if err != nil {
		return nil, err
	}
	return s.turn(orientation), nil
}

// decodeTiles puts each unit of the picture's grid straight in its displayed place,
// so that neither planes nor an unturned picture are held as well.
func decodeTiles(d *jpegpart.Decoder, orientation int, parts []image.Rectangle) (*samples, error) {
	w, h := d.Width, d.Height
	if orientation >= 5 {
		w, h = h, w
	}
	to := place(orientation, d.Width, d.Height)
	s := newSamples(w, h, false)
	stored := parts
	if orientation > 1 && parts != nil {
		stored = make([]image.Rectangle, len(parts))
		for i, p := range parts {
			stored[i] = unturned(p, orientation, d.Width, d.Height)
		}
	}
	err := d.Decode(stored, func(t *jpegpart.Tile) {
		for y := range min(t.H, d.Height-t.Y) {
			i := 3 * (to.first + t.X*to.right + (t.Y+y)*to.down)
			luma := t.Luma[y*t.W:][:min(t.W, d.Width-t.X)]
			c := y >> t.DownShift * 8
			blue, red := t.Blue[c:][:8], t.Red[c:][:8]
			switch d.Kind {
			case jpegpart.Grey:
				for _, v := range luma {
					p := s.p8[i : i+3 : i+3]
					p[0], p[1], p[2] = v, v, v
					i += 3 * to.right
				}
			case jpegpart.RGB:
				for x, v := range luma {
					p := s.p8[i : i+3 : i+3]
					p[0], p[1], p[2] = v, blue[x>>t.AcrossShift&7], red[x>>t.AcrossShift&7]
					i += 3 * to.right
				}
			default:
				for x, v := range luma {
					yy := int32(v)<<16 + 1<<15
					cb, cr := int32(blue[x>>t.AcrossShift&7])-128, int32(red[x>>t.AcrossShift&7])-128
					p := s.p8[i : i+3 : i+3]
					p[0], p[1], p[2] = code8(yy+redByCr*cr), code8(yy-greenByCb*cb-greenByCr*cr), code8(yy+blueByCb*cb)
					i += 3 * to.right
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return s, nil
}

// unturned is a rectangle of the displayed picture in the stored one, which is
// w x h.
func unturned(p image.Rectangle, orientation, w, h int) image.Rectangle {
	if orientation >= 5 {
		p = image.Rect(p.Min.Y, p.Min.X, p.Max.Y, p.Max.X)
	}
	if orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8 {
		p.Min.X, p.Max.X = w-p.Max.X, w-p.Min.X
	}
	if orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7 {
		p.Min.Y, p.Max.Y = h-p.Max.Y, h-p.Min.Y
	}
	return p
}

// decodeAnyJPEG decodes the first picture in b into stored-order RGB rows.
func decodeAnyJPEG(b []byte) (*samples, error) {
	m, err := jpeg.Decode(bytes.NewReader(b))
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		return nil, errTruncated
	case err != nil:
		return nil, refuse("The JPEG is damaged (%v). Send the photograph again.", err)
	}
	size := m.Bounds().Size()
	s := newSamples(size.X, size.Y, false)
	switch m := m.(type) {
	case *image.YCbCr:
		for y := 0; y < size.Y; y++ {
			rowFromYCbCr(s.row8(y), m, y)
		}
	case *image.Gray:
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x, v := range m.Pix[y*m.Stride : y*m.Stride+size.X] {
				row[3*x], row[3*x+1], row[3*x+2] = v, v, v
			}
		}
	case *image.RGBA: // JPEGs that hold RGB itself
		for y := 0; y < size.Y; y++ {
			row := s.row8(y)
			for x := 0; x < size.X; x++ {
				copy(row[3*x:3*x+3], m.Pix[y*m.Stride+4*x:])
			}
		}
	default:
		return nil, refuse("This is an unusual kind of JPEG that cannot be read. Export it as sRGB JPEG.")
	}
	return s, nil
}

// rowFromYCbCr converts row y by the JFIF equations (ITU-T T.871), rounded to
// the nearest code; the image library's own conversion rounds dark pixels down.
// Chroma of subsampled pictures is repeated, not smoothed: smoothing would move
// colour across the edges of the patches.
func rowFromYCbCr(row []uint8, m *image.YCbCr, y int) {
	luma := m.Y[m.YOffset(m.Rect.Min.X, m.Rect.Min.Y+y):]
	c := m.COffset(m.Rect.Min.X, m.Rect.Min.Y+y)
	blue, red := m.Cb[c:], m.Cr[c:]
	shift := 0
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420:
		shift = 1
	case image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410:
		shift = 2
	}
	for x := 0; 3*x+2 < len(row); x++ {
		yy := int32(luma[x]) << 16
		cb, cr := int32(blue[x>>shift])-128, int32(red[x>>shift])-128
		row[3*x] = clamp8(yy + redByCr*cr)
		row[3*x+1] = clamp8(yy - greenByCb*cb - greenByCr*cr)
		row[3*x+2] = clamp8(yy + blueByCb*cb)
	}
}

// 1.402, 0.344136, 0.714136 and 1.772 of ITU-T T.871 with 16 bits behind the point.
const (
	redByCr   = 91881
	greenByCb = 22554
	greenByCr = 46802
	blueByCb  = 116130
)

// code8 is clamp8 of a value that has its half added.
func code8(v int32) uint8 {
	if uint32(v) < 256<<16 {
		return uint8(v >> 16)
	}
	return uint8(^(v >> 31))
}
