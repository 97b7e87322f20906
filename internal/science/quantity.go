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
