package film

import (
	"math"

	"aerugo/internal/science"
)

// standardGravity in m/s2, exact by convention (BIPM, SI Brochure, 9th edition).
const standardGravity = 9.80665

const refPuddle science.Ref = "de-gennes-2004"

// Liquid is a liquid as far as its shape on metal goes, at its temperature.
type Liquid struct {
	Name           string
	TensionNPerM   float64
	DensityKgPerM3 float64
}

// DetergentTension is the surface tension in N/m to which a trace of detergent takes
// water, about 0.030 N/m: 0.005 mol/L of sodium dodecyl sulfate, or 40 % of
// alcohol (Birdi, as quoted in an abstract).
const DetergentTension = 0.030

// check refuses a liquid that cannot be: tension 0.01 to 0.1 N/m, density 600 to
// 2000 kg/m3 hold every liquid of the bench.
func (l Liquid) check() error {
	if !(l.TensionNPerM >= 0.01 && l.TensionNPerM <= 0.1) {
		return &science.RangeError{What: "surface tension", Got: l.TensionNPerM, Min: 0.01, Max: 0.1, Unit: "N/m"}
	}
	if !(l.DensityKgPerM3 >= 600 && l.DensityKgPerM3 <= 2000) {
		return &science.RangeError{What: "density", Got: l.DensityKgPerM3, Min: 600, Max: 2000, Unit: "kg/m³"}
	}
	return nil
}

// CapillaryMM is the capillary length sqrt(sigma/(rho g)) in mm: below it surface
// tension shapes a liquid, above it weight does. Tension 0.01 to 0.1 N/m,
// density 600 to 2000 kg/m3; as good as half the error of the tension.
//
// Source: de Gennes, Brochard-Wyart and Quéré 2004.
func (l Liquid) CapillaryMM() (float64, error) {
	if err := l.check(); err != nil {
		return 0, err
	}
	return 1000 * math.Sqrt(l.TensionNPerM/(l.DensityKgPerM3*standardGravity)), nil
}

// PuddleMM is the height in mm at which a wide puddle with the given contact
// angle (0.1 to 180 degrees) stops spreading, e = 2 lc sin(theta/2), from
// sigma (1 - cos theta) = rho g e²/2. It holds for puddles much wider than the
// capillary length; smaller ones are lower.
//
// Source: de Gennes, Brochard-Wyart and Quéré 2004.
func (l Liquid) PuddleMM(contactDeg float64) (float64, error) {
	lc, err := l.CapillaryMM()
	if err != nil {
		return 0, err
	}
	if err := angle(contactDeg); err != nil {
		return 0, err
	}
	return 2 * lc * math.Sin(radians(contactDeg)/2), nil
}

// FilmUM is the thickness in µm of so many grams a square metre (0 to 10 000),
// if they were spread evenly.
func (l Liquid) FilmUM(filmGPerM2 float64) (float64, error) {
	if err := l.check(); err != nil {
		return 0, err
	}
	if !(filmGPerM2 >= 0 && filmGPerM2 <= 10000) {
		return 0, &science.RangeError{What: "liquid on the face", Got: filmGPerM2, Min: 0, Max: 10000, Unit: "g/m²"}
	}
	return 1000 * filmGPerM2 / l.DensityKgPerM3, nil
}

// IslandShare is the share of the face, 0 to 1, that liquid covers once it has
// gathered into puddles of full height, h/e: 1 when there is enough to flood the
// face. Islands smaller than a few capillary lengths are lower than e and cover
// somewhat more. A film on metal that wets, or held by its edges, stays spread.
func (l Liquid) IslandShare(filmGPerM2, contactDeg float64) (float64, error) {
	h, err := l.FilmUM(filmGPerM2)
	if err != nil {
		return 0, err
	}
	e, err := l.PuddleMM(contactDeg)
	if err != nil {
		return 0, err
	}
	return min(1, h/1000/e), nil
}

// PuddleG is what one face can hold, in grams, before liquid runs over an edge
// that pins it: height times area.
func (l Liquid) PuddleG(contactDeg, areaM2 float64) (float64, error) {
	e, err := l.PuddleMM(contactDeg)
	if err != nil {
		return 0, err
	}
	if !(areaM2 >= 1e-6 && areaM2 <= 100) {
		return 0, &science.RangeError{What: "area of the face", Got: areaM2, Min: 1e-6, Max: 100, Unit: "m²"}
	}
	return e / 1000 * areaM2 * l.DensityKgPerM3 * 1000, nil
}

// CriticalTiltDeg is the tilt in degrees at which a face of the given length
// along the slope (0.1 to 5000 mm) gathers its liquid at the low side:
// L tan(alpha) = e. It is an order of magnitude, not an edge: at half of it the
// pools lean already.
func (l Liquid) CriticalTiltDeg(contactDeg, lengthMM float64) (float64, error) {
	e, err := l.PuddleMM(contactDeg)
	if err != nil {
		return 0, err
	}
	if err := length(lengthMM); err != nil {
		return 0, err
	}
	return degrees(math.Atan(e / lengthMM)), nil
}

// BareEdgeTiltDeg is the tilt in degrees at which a film spread evenly, held by
// its edges and not by the metal, leaves the upper edge dry: its surface lies
// level, a wedge of twice the thickness at the low side, L tan(alpha) = 2h.
// Surface tension and grain hold it somewhat longer.
func (l Liquid) BareEdgeTiltDeg(filmGPerM2, lengthMM float64) (float64, error) {
	h, err := l.FilmUM(filmGPerM2)
	if err != nil {
		return 0, err
	}
	if err := length(lengthMM); err != nil {
		return 0, err
	}
	return degrees(math.Atan(2 * h / 1000 / lengthMM)), nil
}

// angle refuses a contact angle that cannot be.
func angle(deg float64) error {
	if !(deg >= 0.1 && deg <= 180) {
		return &science.RangeError{What: "contact angle", Got: deg, Min: 0.1, Max: 180, Unit: "°", Ref: refPuddle}
	}
	return nil
}

// length refuses a face longer than a roof.
func length(mm float64) error {
	if !(mm >= 0.1 && mm <= 5000) {
		return &science.RangeError{What: "length of the face", Got: mm, Min: 0.1, Max: 5000, Unit: "mm"}
	}
	return nil
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }

func degrees(rad float64) float64 { return rad * 180 / math.Pi }
