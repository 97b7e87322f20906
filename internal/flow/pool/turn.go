package pool

import (
	"math"

	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// repeatMM is how far a second reading of the same pool would lie from the first,
// as a standard deviation: corners marked by hand. Ours, no source.
const repeatMM = 1.0

// A Turn is the test of turning the piece: what was read before and after it was
// turned by TurnedDeg, anticlockwise seen from above. DrawnDeg is how the second
// picture shows the piece against the first, anticlockwise: 0 the same way up.
type Turn struct {
	Before, After     *studio.Measurement
	WidthMM, HeightMM float64
	TurnedDeg         float64
	DrawnDeg          float64
}

// Place returns where the middle of a deposit lies on a face of that size, in mm
// from the face's middle.
func Place(p studio.Pooling, widthMM, heightMM float64) film.Offset {
	sin, cos := math.Sincos(p.OffsetDeg * math.Pi / 180)
	// Offset is relative to half the face, which is not as wide as it is high.
	r := p.Offset / math.Hypot(cos/(widthMM/2), sin/(heightMM/2))
	return film.Offset{RightMM: r * cos, UpMM: r * sin, SDMM: repeatMM}
}

// Turned reads the test from the two photographs.
func Turned(t Turn) (film.Turned, error) {
	if !(t.WidthMM > 0 && t.HeightMM > 0) {
		return film.Turned{}, studio.Problemf(studio.Invalid, "before", "The swatch's size is not known, so nothing can be placed on it.")
	}
	for _, x := range []struct {
		field string
		m     *studio.Measurement
	}{{"before", t.Before}, {"after", t.After}} {
		if x.m == nil || x.m.Pooling == nil {
			return film.Turned{}, studio.Problemf(studio.Invalid, x.field, "No pooling was read from that photograph. Mark and measure it first.")
		}
	}
	if t.Before.Photo == t.After.Photo {
		return film.Turned{}, studio.Problemf(studio.Invalid, "after", "That is the same photograph twice; choose one from before the turn and one from after it.")
	}
	if t.Before.Pooling.Of != t.After.Pooling.Of {
		return film.Turned{}, studio.Problemf(studio.Invalid, "after", "One was read from %s and the other from %s. Show bare metal in both, or in neither.", t.Before.Pooling.Of, t.After.Pooling.Of)
	}
	if math.Mod(t.DrawnDeg, 180) != 0 && t.WidthMM != t.HeightMM {
		return film.Turned{}, studio.Problemf(studio.Invalid, "drawn", "The swatch is not square, so a quarter-turned picture was measured out of shape. Mark the second photograph again, with the swatch's own top left corner first.")
	}
	after := Place(*t.After.Pooling, t.WidthMM, t.HeightMM)
	sin, cos := math.Sincos(-t.DrawnDeg * math.Pi / 180)
	after.RightMM, after.UpMM = cos*after.RightMM-sin*after.UpMM, sin*after.RightMM+cos*after.UpMM
	return film.TurnedPiece(Place(*t.Before.Pooling, t.WidthMM, t.HeightMM), after, t.TurnedDeg)
}
