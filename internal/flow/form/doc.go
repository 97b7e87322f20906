// Package form tells how large a real object is, so that a recipe tried on a
// swatch can be made on it: how much face it has outside and inside, what metal
// it takes, how it lies in the chamber and where liquid will stay on it.
//
//	Shape       a sheet, disc, tube, dome, bowl ... by its sizes -> [Surfaces]
//	ReadSVG,
//	ReadDXF     an outline drawn flat -> [Outline]: area, cut edge, holes, gaps
//	ReadMesh    a model in the round (STL, OBJ, 3MF) -> [Mesh]: area, slopes,
//	            pools, shadow, which way up, does it fit the chamber
//	MassG       area, thickness and alloy -> grams
//
// All lengths are millimetres. A drawing or model that can't be read is a
// [studio.Problem]; the work done on any file is bounded by its size.
package form

import (
	"fmt"
	"math"

	"aerugo/internal/science"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// longestMM is the longest size that a shape may have: what no bench holds is a
// slip of the pen.
const longestMM = 10000.0

// bad is a size or a file that can't be worked with, in the person's words.
func bad(field, format string, args ...any) error {
	return studio.Problemf(studio.Invalid, field, format, args...)
}

// size refuses a length that is not above 0 and at most longestMM.
func size(field, what string, mm float64) error {
	if !(mm > 0 && mm <= longestMM) {
		return bad(field, "The %s is %.4g mm; it has to be more than 0 and at most %g mm.", what, mm, longestMM)
	}
	return nil
}

// thin refuses a thickness that is negative or leaves no hollow in a shape whose
// smallest size across is given.
func thin(mm, across float64) error {
	if !(mm >= 0 && mm < across/2) {
		return bad("thickness", "Metal %.4g mm thick does not go into a shape %.4g mm across; it has to be at least 0 and less than half of that.", mm, across)
	}
	return nil
}

// MassG returns the mass in grams of sheet of an alloy (UNS number, such as
// "C26000") that has areaMM2 on one face and is thickMM thick, 0 to 50 mm: as good
// as the alloy's density, about 1 %. [matter.GaugeMM] and [matter.OunceMM] turn the
// shop's sizes into millimetres.
func MassG(uns string, areaMM2, thickMM float64) (float64, error) {
	if !(areaMM2 >= 0) || math.IsInf(areaMM2, 0) {
		return 0, &science.RangeError{What: "area of sheet", Got: areaMM2, Min: 0, Max: math.MaxFloat64, Unit: "mm²"}
	}
	perM2, err := matter.SheetKgPerM2(uns, thickMM)
	if err != nil {
		return 0, fmt.Errorf("weigh sheet %s: %w", uns, err)
	}
	return perM2 * areaMM2 / 1000, nil
}
