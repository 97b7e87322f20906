package measure

import (
	"image"
	"math"

	"aerugo/internal/studio"
)

// Parts tells which parts of a photograph Measure and MeasureUnder read with such
// marks, for [picture.DecodeParts]: they then answer exactly as with the whole of
// it. It is nil where they read all. What finds a mat or a target must see the
// whole picture, and for it there are no parts.
func Parts(marks studio.Marks) []image.Rectangle {
	if marks.Corners == nil {
		return nil
	}
	low, high := marks.Corners[0], marks.Corners[0]
	for _, p := range marks.Corners[1:] {
		low = studio.Point{X: math.Min(low.X, p.X), Y: math.Min(low.Y, p.Y)}
		high = studio.Point{X: math.Max(high.X, p.X), Y: math.Max(high.Y, p.Y)}
	}
	out := []image.Rectangle{around(low, high)}
	for _, r := range []*studio.Rect{marks.Grey, marks.Bare} {
		if r != nil {
			out = append(out, around(studio.Point{X: r.X, Y: r.Y}, studio.Point{X: r.X + r.W, Y: r.Y + r.H}))
		}
	}
	return out
}

// around is the rectangle of pixels from low to high, and those beside it that
// rounding or interpolation may touch. Marks far outside any picture, which are
// refused later, stay within what a picture's places can be.
func around(low, high studio.Point) image.Rectangle {
	const beside, far = 2, 1 << 20
	whole := func(v float64) int {
		if !(math.Abs(v) < far) { // and what is no number
			return far
		}
		return int(math.Floor(v))
	}
	return image.Rect(whole(low.X)-beside, whole(low.Y)-beside, whole(high.X)+1+beside, whole(high.Y)+1+beside)
}
