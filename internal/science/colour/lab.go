package colour

import "math"

// Lab is a CIE 1976 L*a*b* colour: L is 0 for black and 100 for white, A runs
// from green (negative) to red, B from blue (negative) to yellow.
type Lab struct{ L, A, B float64 }

// The exact fractions of ISO/CIE 11664-4; the rounded 0.008856 and 903.3 leave a
// small step in the curve.
const (
	labEpsilon = 216.0 / 24389
	labKappa   = 24389.0 / 27
)

func labF(t float64) float64 {
	if t > labEpsilon {
		return math.Cbrt(t)
	}
	return (labKappa*t + 16) / 116
}

func labFInverse(f float64) float64 {
	if cube := f * f * f; cube > labEpsilon {
		return cube
	}
	return (116*f - 16) / labKappa
}

// labOf returns the Lab of a colour given as shares of its white.
func labOf(share XYZ) Lab {
	x, y, z := labF(share.X), labF(share.Y), labF(share.Z)
	return Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// shares is the inverse of labOf.
func (l Lab) shares() XYZ {
	y := (l.L + 16) / 116
	return XYZ{labFInverse(y + l.A/500), labFInverse(y), labFInverse(y - l.B/200)}
}

// Lab returns the CIELAB of c seen under white, to the accuracy of float64.
// Source: ISO/CIE 11664-4:2019. Values below zero, which no real surface has,
// follow the straight part of the curve.
func (c XYZ) Lab(white XYZ) Lab { return labOf(XYZ{c.X / white.X, c.Y / white.Y, c.Z / white.Z}) }

// XYZ returns the tristimulus values of l for the white it was measured under.
func (l Lab) XYZ(white XYZ) XYZ {
	s := l.shares()
	return XYZ{s.X * white.X, s.Y * white.Y, s.Z * white.Z}
}

// Chroma returns C*, the distance from grey.
func (l Lab) Chroma() float64 { return math.Hypot(l.A, l.B) }

// Hue returns the hue angle h in degrees, 0 up to but not including 360: about 25
// is red, 90 yellow, 160 green, 270 blue. A colour of no chroma has hue 0.
func (l Lab) Hue() float64 { return hueDegrees(l.B, l.A) }

// FromLCh returns the colour of lightness L*, chroma C* and hue in degrees.
func FromLCh(lightness, chroma, hue float64) Lab {
	sin, cos := math.Sincos(hue * math.Pi / 180)
	return Lab{lightness, chroma * cos, chroma * sin}
}

func hueDegrees(b, a float64) float64 {
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	if h == 360 || a == 0 && b == 0 { // rounding up from just below zero; the sign of a zero
		return 0
	}
	return h
}

func (l Lab) finite() bool {
	sum := l.L + l.A + l.B
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}
