package room

import (
	"math"

	"aerugo/internal/science"
)

// PPM is a share of the air by volume, in parts a million.
type PPM float64

// MgPerM3 is a concentration by mass, in milligrams a cubic metre.
type MgPerM3 float64

// gasConstant in J/(mol K), exact by definition (BIPM, SI Brochure, 9th
// edition, 2019).
const gasConstant = 8.31446261815324

// AtmosphereKPa is one standard atmosphere (exact).
const AtmosphereKPa = 101.325

// AmmoniaMolarMass is that of NH3 in g/mol (17.03026, IUPAC atomic weights).
const AmmoniaMolarMass = 17.03026

// refRoom is cited where a number lies outside what the sums here are meant for.
const refRoom science.Ref = "cdc-rr13-1994"

// molarVolume is that of an ideal gas in litres: 24.465 L at 25 °C and one
// atmosphere, which handbooks round to 24.45.
func molarVolume(t science.Celsius, kPa float64) (litres float64, err error) {
	if !(t >= -40 && t <= 60) {
		return 0, &science.RangeError{What: "temperature of the air", Got: float64(t), Min: -40, Max: 60, Unit: "°C"}
	}
	if !(kPa >= 50 && kPa <= 110) {
		return 0, &science.RangeError{What: "air pressure", Got: kPa, Min: 50, Max: 110, Unit: "kPa"}
	}
	return gasConstant * float64(t.Kelvin()) / kPa, nil
}

// ToPPM turns milligrams a cubic metre of a gas of the given molar mass (1 to
// 1000 g/mol) into parts a million, at -40 to 60 °C and 50 to 110 kPa, as an
// ideal gas: mg/m3 = ppm M p/(R T), the rule of CCOHS. Handbook rows made with
// 24.45 L at 25 °C agree within 0.1 %.
func ToPPM(c MgPerM3, molarMass float64, t science.Celsius, kPa float64) (PPM, error) {
	per, err := massOf(molarMass, t, kPa)
	if err != nil {
		return 0, err
	}
	if err := notBelow("concentration", float64(c), "mg/m³"); err != nil {
		return 0, err
	}
	return PPM(float64(c) / per), nil
}

// ToMgPerM3 is the inverse of [ToPPM].
func ToMgPerM3(c PPM, molarMass float64, t science.Celsius, kPa float64) (MgPerM3, error) {
	per, err := massOf(molarMass, t, kPa)
	if err != nil {
		return 0, err
	}
	if !(c >= 0 && c <= 1e6) {
		return 0, &science.RangeError{What: "concentration", Got: float64(c), Min: 0, Max: 1e6, Unit: "ppm"}
	}
	return MgPerM3(float64(c) * per), nil
}

// massOf is one part a million in mg/m3.
func massOf(molarMass float64, t science.Celsius, kPa float64) (float64, error) {
	if !(molarMass >= 1 && molarMass <= 1000) {
		return 0, &science.RangeError{What: "molar mass", Got: molarMass, Min: 1, Max: 1000, Unit: "g/mol"}
	}
	litres, err := molarVolume(t, kPa)
	if err != nil {
		return 0, err
	}
	return molarMass / litres, nil
}

// notBelow refuses a number that is negative or not finite.
func notBelow(what string, v float64, unit string) error {
	if !(v >= 0 && v <= math.MaxFloat64) {
		return &science.RangeError{What: what, Got: v, Min: 0, Max: math.MaxFloat64, Unit: unit}
	}
	return nil
}
