package measure

import (
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Portrait returns the straightened face as an sRGB JPEG whose long side is at
// most longSide pixels, in the colours Measure reads: with a grey patch marked,
// exposure and cast are taken out, with more known of the light (under) that too.
// Glare stays in, as the eye sees it. Errors are those of MeasureUnder.
func Portrait(img *picture.Image, marks studio.Marks, size Size, longSide int, under Under) ([]byte, error) {
	quad := wholePicture(img)
	if marks.Corners != nil {
		quad = *marks.Corners
		if err := checkCorners(quad, img.Width, img.Height); err != nil {
			return nil, err
		}
	}
	light := newLight(img)
	if under.Correct == nil && marks.Grey != nil {
		if _, err := light.calibrate(img, *marks.Grey, marks.GreyL); err != nil {
			return nil, err
		}
	}
	f, err := straighten(img, quad, size)
	if err != nil {
		return nil, err
	}
	if under.Gain != nil {
		f.even(quad, under.Gain)
	}
	space, toSpace := img.Space, func(rgb [3]float32) [3]float32 { return rgb }
	if under.Correct != nil {
		space = colour.SRGB
		toSpace = func(rgb [3]float32) [3]float32 {
			r, g, b := space.FromXYZ(under.Correct([3]float64{float64(rgb[0]), float64(rgb[1]), float64(rgb[2])}))
			return [3]float32{float32(r), float32(g), float32(b)}
		}
	}
	x0, y0, x1, y1 := f.inner()
	w, h := x1-x0, y1-y0
	outW, outH := w, h
	if long := max(w, h); long > longSide {
		outW, outH = max(1, w*longSide/long), max(1, h*longSide/long)
	}
	gain := [3]float32{float32(light.gain[0]), float32(light.gain[1]), float32(light.gain[2])}
	return picture.ScreenJPEG(outW, outH, space, func(x, y int) [3]float32 {
		// the mean of the cells that fall into this pixel
		var sum [3]float32
		n := float32(0)
		for v := y0 + y*h/outH; v < max(y0+(y+1)*h/outH, y0+y*h/outH+1); v++ {
			for u := x0 + x*w/outW; u < max(x0+(x+1)*w/outW, x0+x*w/outW+1); u++ {
				c := f.rgb[v*f.w+u]
				sum[0], sum[1], sum[2] = sum[0]+c[0], sum[1]+c[1], sum[2]+c[2]
				n++
			}
		}
		return toSpace([3]float32{sum[0] / n * gain[0], sum[1] / n * gain[1], sum[2] / n * gain[2]})
	}), nil
}

// inner returns the part of the grid that lies inside the edge band.
func (f *face) inner() (x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = f.w, f.h, 0, 0
	for y := 0; y < f.h; y++ {
		for x := 0; x < f.w; x++ {
			if f.usable[y*f.w+x] {
				x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			}
		}
	}
	if x0 >= x1 {
		return 0, 0, f.w, f.h
	}
	return x0, y0, x1, y1
}
