package matter

import (
	"fmt"
	"math"

	"aerugo/internal/science"
)

// The sources of the sheet sizes.
const (
	refGauge science.Ref = "astm-b258"
	refOunce science.Ref = "cda-architecture-1-1-3"
)

// GaugeMM returns the thickness in millimetres of Brown & Sharpe (American)
// gauge bs, the gauge of copper, brass and bronze sheet.
//
// Source: refGauge, 0.005 inch times 92 to the power (36-bs)/39, exact by
// definition; taken from gauge 0 to 40, outside it the error is a
// [science.RangeError]. Sheet as rolled differs by its own tolerance. Steel
// gauges are other sizes.
func GaugeMM(bs int) (float64, error) {
	const lo, hi = 0, 40
	if bs < lo || bs > hi {
		return 0, &science.RangeError{What: "Brown & Sharpe gauge", Got: float64(bs), Min: lo, Max: hi, Ref: refGauge}
	}
	return 0.005 * 25.4 * math.Pow(92, float64(36-bs)/39), nil
}

// ounceDensity is the density in g/cm3 that the table of refOunce implies: 8.899
// in its thin rows and 8.927 in its thick ones.
const ounceDensity = 8.91

// OunceMM returns the nominal thickness in millimetres of sheet copper sold by
// its weight in ounces per square foot.
//
// Source: refOunce, whose rows from 6 to 48 oz/ft2 it meets within 0.3 % and
// the rounding of the print; outside 1 to 100 the error is a
// [science.RangeError]. The sheet itself may be up to a tenth thinner: the
// table gives a minimum too.
func OunceMM(ozPerFt2 float64) (float64, error) {
	const lo, hi = 1, 100
	if !(ozPerFt2 >= lo && ozPerFt2 <= hi) {
		return 0, &science.RangeError{What: "weight of sheet copper", Got: ozPerFt2, Min: lo, Max: hi, Unit: "oz/ft2", Ref: refOunce}
	}
	return ozPerFt2 * gramPerOunce / squareMetrePerSquareFoot / 1000 / ounceDensity, nil
}

// SheetKgPerM2 returns the mass in kilograms of a square metre of sheet of an
// alloy that is mm thick: thickness times density, as good as the density (about
// 1 %). Thickness runs from 0 to 50 mm, outside it the error is a
// [science.RangeError]; an alloy that is not in the table is an error.
func SheetKgPerM2(uns string, mm float64) (float64, error) {
	a, ok := Alloy(uns)
	if !ok {
		return 0, fmt.Errorf("look up alloy %q: not in the table", uns)
	}
	const lo, hi = 0, 50
	if !(mm >= lo && mm <= hi) {
		return 0, &science.RangeError{What: "thickness of sheet", Got: mm, Min: lo, Max: hi, Unit: "mm"}
	}
	return mm * a.DensityGPerCM3, nil
}
