package matter

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aerugo/internal/science"
)

// refSI is the source of the conversion factors: NIST SP 811 (2008), appendix B.
const refSI science.Ref = "nist-sp-811-2008"

// The factors that are exact by definition.
const (
	gramPerOunce             = 28.349523125 // avoirdupois
	squareMetrePerSquareFoot = 0.3048 * 0.3048
	millilitrePerGallon      = 231 * 2.54 * 2.54 * 2.54 // US gallon, 231 cubic inches
	millilitrePerFluidOunce  = millilitrePerGallon / 128
	millilitrePerTeaspoon    = millilitrePerFluidOunce / 6
)

// A Unit is a unit of measure on a recipe card, spelled as the studio stores it.
type Unit string

// The units a card can show. Ounces are avoirdupois; fluid ounces, teaspoons
// and gallons are US.
const (
	Gram            Unit = "g"
	Kilogram        Unit = "kg"
	Ounce           Unit = "oz"
	Pound           Unit = "lb"
	Millilitre      Unit = "mL"
	Litre           Unit = "L"
	Teaspoon        Unit = "tsp"
	FluidOunce      Unit = "fl oz"
	Gallon          Unit = "gal"
	Millimetre      Unit = "mm"
	Inch            Unit = "in"
	GramPerM2       Unit = "g/m2"
	OuncePerFt2     Unit = "oz/ft2"
	MillilitrePerM2 Unit = "mL/m2"
	FluidOunceFt2   Unit = "fl oz/ft2"
	DegreeC         Unit = "°C"
	DegreeF         Unit = "°F"
)

// A measure is what a unit counts and how large it is in the first unit of its
// kind: value = factor * (number - zero).
type measure struct {
	kind   string
	factor float64
	zero   float64
}

var measures = map[Unit]measure{
	Gram: {"mass", 1, 0}, Kilogram: {"mass", 1000, 0}, Ounce: {"mass", gramPerOunce, 0}, Pound: {"mass", 16 * gramPerOunce, 0},
	Millilitre: {"volume", 1, 0}, Litre: {"volume", 1000, 0}, Teaspoon: {"volume", millilitrePerTeaspoon, 0},
	FluidOunce: {"volume", millilitrePerFluidOunce, 0}, Gallon: {"volume", millilitrePerGallon, 0},
	Millimetre: {"length", 1, 0}, Inch: {"length", 25.4, 0},
	GramPerM2: {"mass on an area", 1, 0}, OuncePerFt2: {"mass on an area", gramPerOunce / squareMetrePerSquareFoot, 0},
	MillilitrePerM2: {"liquid on an area", 1, 0}, FluidOunceFt2: {"liquid on an area", millilitrePerFluidOunce / squareMetrePerSquareFoot, 0},
	DegreeC: {"temperature", 1, 0}, DegreeF: {"temperature", 5.0 / 9, 32},
}

// A Reading is a converted amount: the full value, and the text to print, which
// is rounded to what a bench can measure.
type Reading struct {
	Value float64
	Unit  Unit
	Text  string // "0.655 oz/ft²", "1 1/4 tsp"
}

// Convert turns value from one unit into another of the same kind.
//
// Source: refSI; every factor is exact by definition, so Value is good to the
// rounding of the machine (1e-15). Text has three significant digits; teaspoons
// are given in eighths where that is within 5 %, else in two digits;
// temperatures in whole degrees. Values run from -1e9 to 1e9 (no cold below
// absolute zero), outside it the error is a [science.RangeError]. Units of
// different kinds, or unknown ones, are an error.
func Convert(value float64, from, to Unit) (Reading, error) {
	f, ok := measures[from]
	if !ok {
		return Reading{}, fmt.Errorf("convert %v %s: unit not known", value, from)
	}
	t, ok := measures[to]
	if !ok {
		return Reading{}, fmt.Errorf("convert %v %s to %s: unit not known", value, from, to)
	}
	if f.kind != t.kind {
		return Reading{}, fmt.Errorf("convert %v %s to %s: a %s is not a %s", value, from, to, f.kind, t.kind)
	}
	lo, hi := -1e9, 1e9
	if f.kind == "temperature" {
		lo = -273.15/f.factor + f.zero
	}
	if !(value >= lo && value <= hi) {
		return Reading{}, &science.RangeError{What: f.kind, Got: value, Min: lo, Max: hi, Unit: string(from), Ref: refSI}
	}
	v := value
	if from != to {
		v = (value-f.zero)*f.factor/t.factor + t.zero
	}
	return Reading{Value: v, Unit: to, Text: printed(v, to) + " " + to.Label()}, nil
}

// Label returns u as it is printed for people.
func (u Unit) Label() string {
	return strings.NewReplacer("m2", "m²", "ft2", "ft²").Replace(string(u))
}

// printed rounds v to what makes sense in its unit.
func printed(v float64, u Unit) string {
	switch u {
	case DegreeC, DegreeF:
		return plain(math.Round(v), 0)
	case Teaspoon:
		if s, ok := eighths(v); ok {
			return s
		}
		return significant(v, 2)
	}
	return significant(v, 3)
}

// eighths writes v in eighths as spoons are marked, and reports whether that is
// within 5 % of it.
func eighths(v float64) (string, bool) {
	if !(v > 0 && v < 100) {
		return "", false
	}
	n := int(math.Round(v * 8))
	if math.Abs(float64(n)/8-v) > 0.05*v {
		return "", false
	}
	whole, part := n/8, []string{"", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"}[n%8]
	switch {
	case part == "":
		return strconv.Itoa(whole), true
	case whole == 0:
		return part, true
	}
	return strconv.Itoa(whole) + " " + part, true
}

// significant writes v with n significant digits, without an exponent and
// without trailing zeros.
func significant(v float64, n int) string {
	if v == 0 {
		return "0"
	}
	decimals := n - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	if decimals < 0 {
		scale := math.Pow(10, float64(-decimals))
		return plain(math.Round(v/scale)*scale, 0)
	}
	return plain(v, min(decimals, 12))
}

// plain writes v with at most so many decimals and no trailing zeros.
func plain(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
