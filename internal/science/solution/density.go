package solution

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"

	"aerugo/internal/science"
)

const refLaliberte science.Ref = "laliberte-2009"

//go:embed data/density.tsv
var densityTable string

// apparent are the coefficients of a solute's apparent density and their range.
type apparent struct{ c0, c1, c2, c3, c4, tmin, tmax, wmax float64 }

var apparents = sync.OnceValue(func() map[string]apparent {
	out := map[string]apparent{}
	for i, line := range strings.Split(densityTable, "\n") {
		if i < 2 || line == "" {
			continue
		}
		cells := strings.Split(line, "\t")
		var v [8]float64
		for k := range v {
			x, err := strconv.ParseFloat(cells[k+1], 64)
			if err != nil {
				panic(fmt.Sprintf("density.tsv: %s: %v", cells[0], err)) // our own table
			}
			v[k] = x
		}
		out[cells[0]] = apparent{v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7]}
	}
	return out
})

// Density returns the density of a solution of mass fraction w of an anhydrous
// solute, named by its key in package matter. The range is that of the fit,
// at the least 20 to 50 °C and 0 to 0.13; another solute is an error.
//
// Source: Laliberté 2009: within 0.6 kg/m3 of table salt's handbook values, 1.1 of
// ammonium sulfate's, 2.3 of acetic acid's above 40 %.
func Density(solute string, w float64, t science.Celsius) (science.KgPerM3, error) {
	a, ok := apparents()[solute]
	if !ok {
		return 0, fmt.Errorf("the density of solutions of %q is not known", solute)
	}
	if err := within("mass fraction", w, 0, a.wmax, "", refLaliberte); err != nil {
		return 0, err
	}
	if err := within("temperature", float64(t), a.tmin, a.tmax, "°C", refLaliberte); err != nil {
		return 0, err
	}
	return a.density(w, t), nil
}

func (a apparent) density(w float64, t science.Celsius) science.KgPerM3 {
	x := float64(t)
	own := (a.c0*w + a.c1) * math.Exp(1e-6*(x+a.c4)*(x+a.c4)) / (w + a.c2 + a.c3*x)
	return science.KgPerM3(1 / ((1-w)/float64(waterDensity(t)) + w/own))
}
