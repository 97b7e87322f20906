package picture

import (
	"bytes"
	"image"
	"image/jpeg"

	"aerugo/internal/science/colour"
)

// ScreenJPEG encodes a w x h picture for the screen (sRGB), as Thumbnail does:
// at gives each pixel's linear RGB in space, and colours sRGB cannot show are
// drawn towards the grey of their own luminance.
func ScreenJPEG(w, h int, space colour.Space, at func(x, y int) [3]float32) []byte {
	toScreen := toSRGB(space)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			rgb := at(x, y)
			p := out.Pix[y*out.Stride+4*x:]
			p[0], p[1], p[2] = screenPixel(toScreen, rgb[:])
			p[3] = 255
		}
	}
	var b bytes.Buffer
	// Writing to memory cannot fail, and the size is within JPEG's 65535.
	_ = jpeg.Encode(&b, out, &jpeg.Options{Quality: 88})
	return b.Bytes()
}
