package film

import (
	"math"
	"time"

	"aerugo/internal/science"
)

const (
	refViscosity science.Ref = "iapws-sr6-08-2011"
	refDrain     science.Ref = "jeffreys-1930"
)

// WaterViscosity is that of pure water at 0.1 MPa in Pa s, 0 to 100 °C, good to
// about 1 %. Salt and ammonia raise it: a saturated solution of salt is nearly
// twice as thick.
//
// Source: IAPWS SR6-08(2011), equation 7; the coefficients are from memory and
// are held to the handbook's values in the tests.
func WaterViscosity(t science.Celsius) (pascalSeconds float64, err error) {
	if !(t >= 0 && t <= 100) {
		return 0, &science.RangeError{What: "temperature", Got: float64(t), Min: 0, Max: 100, Unit: "°C", Ref: refViscosity}
	}
	r := float64(t.Kelvin()) / 300
	return 1e-6 * (280.68*math.Pow(r, -1.9) + 511.45*math.Pow(r, -7.7) + 61.131*math.Pow(r, -19.6) + 0.45903*math.Pow(r, -40)), nil
}

// A Slope is a wetted face that drains: viscosity 1e-4 to 1 Pa s, density 600 to
// 2000 kg/m3, tilt 0.01 to 90 degrees (90 is upright).
type Slope struct {
	ViscosityPaS   float64
	DensityKgPerM3 float64
	TiltDeg        float64
}

// LeftUM is the thickness in µm of the film so far below the upper edge (0.001
// to 5000 mm) after draining for a millisecond or more: h = sqrt(mu z/(rho g sin(b) t)).
// It holds once that is much less than the film was at first, and takes no
// heed of surface tension and drying; at the lower edge a bead stays.
//
// Source: Jeffreys 1930 (abstract read, formula from memory).
func (s Slope) LeftUM(belowMM float64, after time.Duration) (float64, error) {
	if !(belowMM >= 0.001 && belowMM <= 5000) {
		return 0, &science.RangeError{What: "place below the upper edge", Got: belowMM, Min: 0.001, Max: 5000, Unit: "mm", Ref: refDrain}
	}
	if !(s.ViscosityPaS >= 1e-4 && s.ViscosityPaS <= 1) {
		return 0, &science.RangeError{What: "viscosity", Got: s.ViscosityPaS, Min: 1e-4, Max: 1, Unit: "Pa s", Ref: refDrain}
	}
	if !(s.DensityKgPerM3 >= 600 && s.DensityKgPerM3 <= 2000) {
		return 0, &science.RangeError{What: "density", Got: s.DensityKgPerM3, Min: 600, Max: 2000, Unit: "kg/m³", Ref: refDrain}
	}
	if !(s.TiltDeg >= 0.01 && s.TiltDeg <= 90) {
		return 0, &science.RangeError{What: "tilt", Got: s.TiltDeg, Min: 0.01, Max: 90, Unit: "°", Ref: refDrain}
	}
	if after < time.Millisecond {
		return 0, &science.RangeError{What: "time of draining", Got: after.Seconds(), Min: 0.001, Max: math.MaxFloat64, Unit: "s", Ref: refDrain}
	}
	pull := s.DensityKgPerM3 * standardGravity * math.Sin(radians(s.TiltDeg))
	return 1e6 * math.Sqrt(s.ViscosityPaS*belowMM/1000/(pull*after.Seconds())), nil
}

// MeanUM is the mean thickness over a face of that length, two thirds of that at
// its lower end.
func (s Slope) MeanUM(lengthMM float64, after time.Duration) (float64, error) {
	h, err := s.LeftUM(lengthMM, after)
	return h * 2 / 3, err
}
