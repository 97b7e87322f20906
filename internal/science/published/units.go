package published

import (
	"fmt"
	"strconv"
	"strings"

	"aerugo/internal/science"
)

// A Unit is a unit that a source wrote an amount in.
type Unit string

// The units of the sources. Ounce and pound are avoirdupois, a drachm is the
// avoirdupois one. A part is by mass, a part by volume by volume: they convert
// to themselves.
const (
	Gram          Unit = "g"
	Kilogram      Unit = "kg"
	Grain         Unit = "gr"
	Drachm        Unit = "dr"
	Ounce         Unit = "oz"
	Pound         Unit = "lb"
	Millilitre    Unit = "mL"
	Litre         Unit = "L"
	TeaspoonUS    Unit = "tsp US"
	TablespoonUS  Unit = "tbsp US"
	FluidOunceUS  Unit = "fl oz US"
	FluidOunceImp Unit = "fl oz imp"
	CupUS         Unit = "cup US"
	PintUS        Unit = "pt US"
	PintImp       Unit = "pt imp"
	QuartUS       Unit = "qt US"
	QuartImp      Unit = "qt imp"
	GallonUS      Unit = "gal US"
	GallonImp     Unit = "gal imp"
	Part          Unit = "part"
	PartVolume    Unit = "part vol"
	Percent       Unit = "%"
	Celsius       Unit = "°C"
	Fahrenheit    Unit = "°F"
)

// A measure is what a unit is in metric: value = factor * (number - zero).
type measure struct {
	metric Unit
	factor float64
	zero   float64
	words  string
}

// The exact sizes behind the table: the grain and the US gallon of 231 cubic
// inches by NIST SP 811 (2008), appendix B; the imperial gallon of 4.54609 L by
// the UK Weights and Measures Act 1985, schedule 1 (from memory).
const (
	gramPerGrain = 0.06479891
	gramPerPound = 7000 * gramPerGrain
	mlPerGalUS   = 231 * 2.54 * 2.54 * 2.54
	mlPerGalImp  = 4546.09
)

var measures = map[Unit]measure{
	Gram: {Gram, 1, 0, "g"}, Kilogram: {Gram, 1000, 0, "kg"},
	Grain: {Gram, gramPerGrain, 0, "grains"}, Drachm: {Gram, gramPerPound / 256, 0, "drachms (avoirdupois)"},
	Ounce: {Gram, gramPerPound / 16, 0, "oz (avoirdupois)"}, Pound: {Gram, gramPerPound, 0, "lb"},
	Millilitre: {Millilitre, 1, 0, "mL"}, Litre: {Millilitre, 1000, 0, "L"},
	TeaspoonUS: {Millilitre, mlPerGalUS / 768, 0, "teaspoons (US)"}, TablespoonUS: {Millilitre, mlPerGalUS / 256, 0, "tablespoons (US)"},
	FluidOunceUS: {Millilitre, mlPerGalUS / 128, 0, "fl oz (US)"}, FluidOunceImp: {Millilitre, mlPerGalImp / 160, 0, "fl oz (imperial)"},
	CupUS: {Millilitre, mlPerGalUS / 16, 0, "cups (US)"}, PintUS: {Millilitre, mlPerGalUS / 8, 0, "pints (US)"}, PintImp: {Millilitre, mlPerGalImp / 8, 0, "pints (imperial)"},
	QuartUS: {Millilitre, mlPerGalUS / 4, 0, "quarts (US)"}, QuartImp: {Millilitre, mlPerGalImp / 4, 0, "quarts (imperial)"},
	GallonUS: {Millilitre, mlPerGalUS, 0, "gallons (US)"}, GallonImp: {Millilitre, mlPerGalImp, 0, "gallons (imperial)"},
	Part: {Part, 1, 0, "parts by weight"}, PartVolume: {PartVolume, 1, 0, "parts by volume"}, Percent: {Percent, 1, 0, "%"},
	Celsius: {Celsius, 1, 0, "°C"}, Fahrenheit: {Celsius, 5.0 / 9, 32, "°F"},
}

// Words says the unit in full, with the country where that matters.
func (u Unit) Words() string {
	if m, ok := measures[u]; ok {
		return m.words
	}
	return string(u)
}

// Metric turns v of a unit into grams, millilitres or degrees Celsius; parts and
// percent stay what they are. Every factor is exact by definition, so the result
// is good to the rounding of the machine. v runs from -1e9 to 1e9; outside it
// the error is a [science.RangeError], and an unknown unit is an error.
func Metric(v float64, u Unit) (float64, Unit, error) {
	m, ok := measures[u]
	if !ok {
		return 0, "", fmt.Errorf("convert %v %s: unit not known", v, u)
	}
	if !(v >= -1e9 && v <= 1e9) {
		return 0, "", &science.RangeError{What: "amount", Got: v, Min: -1e9, Max: 1e9, Unit: string(u)}
	}
	return m.factor * (v - m.zero), m.metric, nil
}

// Original is [Metric] the other way: a metric v, from -1e13 to 1e13, in the unit
// of a source.
func Original(v float64, u Unit) (float64, error) {
	m, ok := measures[u]
	if !ok {
		return 0, fmt.Errorf("convert %v to %s: unit not known", v, u)
	}
	if !(v >= -1e13 && v <= 1e13) {
		return 0, &science.RangeError{What: "amount", Got: v, Min: -1e13, Max: 1e13, Unit: string(m.metric)}
	}
	return v/m.factor + m.zero, nil
}

// figures writes v with four significant digits, or all before the point, and no
// trailing zeros.
func figures(v float64) string {
	t := strconv.FormatFloat(v, 'g', 4, 64)
	if n, err := strconv.ParseFloat(t, 64); err == nil {
		if n >= 1000 {
			n = v
			return strconv.FormatFloat(n, 'f', 0, 64)
		}
		t = strconv.FormatFloat(n, 'f', -1, 64)
	}
	return t
}

// fractions are how the sources write halves and thirds of a unit.
var fractions = map[float64]string{0.5: "1/2", 0.25: "1/4", 1.0 / 3: "1/3"}

// number reads an amount of the table: "0.5" or "1/3".
func number(cell string) (float64, error) {
	top, bottom, is := strings.Cut(cell, "/")
	a, err := strconv.ParseFloat(top, 64)
	if err != nil || !(a > 0 && a <= 1e6) {
		return 0, fmt.Errorf("read amount %q: not a number above 0", cell)
	}
	if !is {
		return a, nil
	}
	b, err := strconv.ParseFloat(bottom, 64)
	if err != nil || !(b > 0 && b <= 1e6) {
		return 0, fmt.Errorf("read amount %q: not a fraction", cell)
	}
	return a / b, nil
}
