// Package science holds what the science packages share: quantities whose unit
// is their type, the error of a correlation used outside its range, and the
// list of published sources.
package science

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is a thermodynamic temperature in kelvins.
type Kelvin float64

// zeroCelsius is 0 °C in kelvins, exact by definition (BIPM, SI Brochure, 9th
// edition, 2019, section 2.3.1).
const zeroCelsius = 273.15

// Kelvin returns the same temperature in kelvins.
func (t Celsius) Kelvin() Kelvin { return Kelvin(t + zeroCelsius) }

// Celsius returns the same temperature in degrees Celsius.
func (t Kelvin) Celsius() Celsius { return Celsius(t - zeroCelsius) }

// Pascal is a pressure in pascals.
type Pascal float64

// KgPerM3 is a density in kilograms a cubic metre.
type KgPerM3 float64

// NPerM is a surface tension in newtons a metre.
type NPerM float64

// M2PerS is a diffusivity in square metres a second.
type M2PerS float64
