package measure

import (
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Straight is a face straightened by its corners: W x H places of equal area,
// row by row, in the colours Measure reads (XYZ under D50). A place outside the
// picture, or in the band along the edges that is never read, is not usable.
type Straight struct {
	W, H       int
	XYZ        []colour.XYZ
	Usable     []bool
	Calibrated bool // a grey patch or target set the colours right
}

// Straighten returns the face with at most most places along its long side.
// Errors are those of MeasureUnder.
func Straighten(img *picture.Image, marks studio.Marks, size Size, most int, under Under) (Straight, error) {
	quad := wholePicture(img)
	if marks.Corners != nil {
		quad = *marks.Corners
		if err := checkCorners(quad, img.Width, img.Height); err != nil {
			return Straight{}, err
		}
	}
	light := newLight(img)
	light.correct, light.even = under.Correct, under.Gain
	out := Straight{Calibrated: under.Correct != nil || marks.Grey != nil}
	if under.Correct == nil && marks.Grey != nil {
		if _, err := light.calibrate(img, *marks.Grey, marks.GreyL); err != nil {
			return out, err
		}
	}
	f, err := resample(img, quad, size, float64(most))
	if err != nil {
		return out, err
	}
	if under.Gain != nil {
		f.even(quad, under.Gain)
	}
	f.light(light)
	out.W, out.H, out.Usable = f.w, f.h, f.usable
	out.XYZ = make([]colour.XYZ, len(f.cells))
	for i, c := range f.cells {
		out.XYZ[i] = c.xyz
	}
	return out, nil
}
