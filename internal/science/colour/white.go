// Package colour measures with CIELAB: it turns camera and screen colours into
// L*, a*, b* and back, says how far apart two colours look, reads the colour
// profiles of pictures and gives colours plain names.
//
// Lab means CIE 1976 L*a*b* (ISO/CIE 11664-4) for the D50 white of colour
// profiles and the 2 degree observer unless another white is passed. The
// standard leaves out surfaces seen as mirrors, so the Lab of bright bare metal
// is only a guide.
package colour

// XYZ is a colour as CIE 1931 tristimulus values, with Y = 1 for a perfect white.
type XYZ struct{ X, Y, Z float64 }

// White points with Y = 1. D50 is the white every ICC profile connects through
// (ICC.1:2022, 7.2.16); D65 is the white of sRGB, Display P3 and Adobe RGB, from
// x 0.3127, y 0.3290 (IEC 61966-2-1). The rest are for the 2 degree observer, or
// where the name ends in Ten the 10 degree one, as scikit-image 0.19.3 tabulates
// them from ASTM E308.
var (
	D50    = XYZ{0.9642, 1, 0.8249}
	D55    = XYZ{0.956797, 1, 0.921481}
	D65    = XYZ{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290}
	A      = XYZ{1.098466, 1, 0.355823}
	D50Ten = XYZ{0.967206, 1, 0.814280}
	D55Ten = XYZ{0.957967, 1, 0.909253}
	D65Ten = XYZ{0.948097, 1, 1.073051}
	ATen   = XYZ{1.111420, 1, 0.351998}
)

// Adapt returns the colour that looks under white to as c looks under white
// from, by the linear Bradford method. Both whites must have positive values.
func Adapt(c, from, to XYZ) XYZ { return BradfordMatrix(from, to).times(c) }

// bradford turns XYZ into the sharpened cone responses of the Bradford method
// (Lam 1985, as printed in ICC.1:2022 annex E).
var bradford = Matrix{
	{0.8951, 0.2664, -0.1614},
	{-0.7502, 1.7135, 0.0367},
	{0.0389, -0.0685, 1.0296},
}

// BradfordMatrix returns the matrix by which [Adapt] turns XYZ under white from
// into XYZ under white to.
func BradfordMatrix(from, to XYZ) Matrix {
	f, t := bradford.times(from), bradford.times(to)
	scaled := bradford
	for i, gain := range [3]float64{t.X / f.X, t.Y / f.Y, t.Z / f.Z} {
		for j := range scaled[i] {
			scaled[i][j] *= gain
		}
	}
	back, _ := bradford.inverse() // fixed and not singular
	return back.multiply(scaled)
}
