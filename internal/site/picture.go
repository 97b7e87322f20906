package site

import (
	"bytes"
	"fmt"
	"image/jpeg"

	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// faceJPEG is the part of a photograph that the face takes, as an sRGB JPEG without
// any notes, at most side pixels long. With no corners it is the whole photograph.
func faceJPEG(m *picture.Image, corners *[4]studio.Point, side int) []byte {
	x0, y0, x1, y1 := 0, 0, m.Width, m.Height
	if corners != nil {
		lox, loy, hix, hiy := corners[0].X, corners[0].Y, corners[0].X, corners[0].Y
		for _, c := range corners {
			lox, loy, hix, hiy = min(lox, c.X), min(loy, c.Y), max(hix, c.X), max(hiy, c.Y)
		}
		x0, y0, x1, y1 = max(0, int(lox)), max(0, int(loy)), min(m.Width, int(hix)+1), min(m.Height, int(hiy)+1)
		if x1-x0 < 2 || y1-y0 < 2 {
			x0, y0, x1, y1 = 0, 0, m.Width, m.Height
		}
	}
	w, h := x1-x0, y1-y0
	ow, oh := w, h
	if long := max(w, h); long > side {
		ow, oh = max(1, w*side/long), max(1, h*side/long)
	}
	return picture.ScreenJPEG(ow, oh, m.Space, func(x, y int) [3]float32 {
		var sum [3]float32
		n := float32(0)
		left, right, top, bottom := x0+x*w/ow, x0+max((x+1)*w/ow, x*w/ow+1), y0+y*h/oh, y0+max((y+1)*h/oh, y*h/oh+1)
		stepX, stepY := max(1, (right-left)/4), max(1, (bottom-top)/4) // sixteen places of a pixel are enough
		for py := top; py < bottom; py += stepY {
			for px := left; px < right; px += stepX {
				rgb, _ := m.At(px, py)
				for i := range sum {
					sum[i] += rgb[i]
				}
				n++
			}
		}
		for i := range sum {
			sum[i] /= n
		}
		return sum
	})
}

// alt says in words what a photograph shows, from what was measured.
func (r *Records) alt(l studio.Look) string {
	text := fmt.Sprintf("Swatch %d, %s", l.Swatch, l.Face)
	if name := r.metals[r.swatches[l.Swatch].MetalID].Name; name != "" {
		text = fmt.Sprintf("Swatch %d, %s, on %s", l.Swatch, l.Face, name)
	}
	if g := l.Measurement; g != nil && g.Calibrated {
		lab := minus(fmt.Sprintf("L* %.0f, a* %.0f, b* %.0f", g.Lab.L, g.Lab.A, g.Lab.B))
		if g.Coverage == nil {
			return fmt.Sprintf("%s: %s, %s", text, g.Name, lab)
		}
		return fmt.Sprintf("%s: %s, %s, %.0f %% of the face covered", text, g.Name, lab, g.Coverage.Value*100)
	}
	return text
}

// sizeOf returns the size of a JPEG in pixels.
func sizeOf(b []byte) (w, h int, err error) {
	c, err := jpeg.DecodeConfig(bytes.NewReader(b))
	return c.Width, c.Height, err
}
