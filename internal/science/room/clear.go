package room

import (
	"math"
	"time"

	"aerugo/internal/science"
)

// Clearing returns how long a room takes to fall from one concentration to
// another, both over 0, with no more let in: t = K ln(from/to)/ACH. It is 0
// when from is not above to, and false when no air is changed or a number makes
// no sense.
//
// Source: CDC, MMWR 1994;43(RR-13), Table S3-1, whose times for perfect mixing
// are to be multiplied by K, 1 to 10.
func Clearing(from, to PPM, airChangesPerH, mixing float64) (time.Duration, bool) {
	if !(from > 0 && to > 0 && mixing >= 1 && airChangesPerH >= 0) || math.IsInf(float64(from), 1) {
		return 0, false
	}
	if from <= to {
		return 0, true
	}
	if airChangesPerH == 0 {
		return 0, false
	}
	return hours(mixing * math.Log(float64(from/to)) / airChangesPerH), true
}

// Changes returns the air changes that bring a concentration down to another:
// N = K ln(from/to). From is above to, to above 0.
func Changes(from, to PPM, mixing float64) (float64, error) {
	if !(to > 0 && from >= to && !math.IsInf(float64(from), 1)) {
		return 0, &science.RangeError{What: "concentration to start from", Got: float64(from), Min: float64(to), Max: 1e6, Unit: "ppm"}
	}
	if !(mixing >= 1 && mixing <= 10) {
		return 0, &science.RangeError{What: "mixing factor", Got: mixing, Min: 1, Max: 10, Ref: refRoom}
	}
	return mixing * math.Log(float64(from/to)), nil
}

// FlowToDilute returns the fresh air, in m3 an hour, that holds a steady source
// at a limit: Q = K G/C, with G in grams an hour of a gas of the given molar
// mass and t the room's temperature.
func FlowToDilute(gramsPerH float64, limit PPM, molarMass, mixing float64, t science.Celsius) (m3PerH float64, err error) {
	if err := notBelow("gas let out", gramsPerH, "g/h"); err != nil {
		return 0, err
	}
	if !(limit > 0) {
		return 0, &science.RangeError{What: "limit", Got: float64(limit), Min: 0, Max: 1e6, Unit: "ppm"}
	}
	if !(mixing >= 1 && mixing <= 10) {
		return 0, &science.RangeError{What: "mixing factor", Got: mixing, Min: 1, Max: 10, Ref: refRoom}
	}
	c, err := ToMgPerM3(limit, molarMass, t, AtmosphereKPa)
	if err != nil {
		return 0, err
	}
	return mixing * 1000 * gramsPerH / float64(c), nil
}

// FlowFromHalfLife returns the fresh air, in m3 an hour, of a room in which a
// tracer falls to half in a known time: Q = V ln 2/half-life. It is the flow as
// felt, Q/K.
func FlowFromHalfLife(volumeM3 float64, half time.Duration) (m3PerH float64, err error) {
	if !(volumeM3 >= 1 && volumeM3 <= 1e5) {
		return 0, &science.RangeError{What: "volume of the room", Got: volumeM3, Min: 1, Max: 1e5, Unit: "m³"}
	}
	if half <= 0 {
		return 0, &science.RangeError{What: "half-life", Got: half.Hours(), Min: 1.0 / 3600, Max: longest.Hours(), Unit: "h"}
	}
	return volumeM3 * math.Ln2 / half.Hours(), nil
}

// SpillGrams returns the gas that a spill can give off in all, in grams: every
// gram dissolved in it. Density is in kg/m3, strength a mass fraction.
func SpillGrams(litres float64, density, strength float64) (float64, error) {
	if !(litres >= 0 && litres <= 1000) {
		return 0, &science.RangeError{What: "liquid spilt", Got: litres, Min: 0, Max: 1000, Unit: "L"}
	}
	if !(density >= 500 && density <= 3000) {
		return 0, &science.RangeError{What: "density", Got: density, Min: 500, Max: 3000, Unit: "kg/m³"}
	}
	if !(strength >= 0 && strength <= 1) {
		return 0, &science.RangeError{What: "strength", Got: strength, Min: 0, Max: 1}
	}
	return litres * density * strength, nil
}

// mostChanges is more than any workroom has: a paint booth has about 100.
const mostChanges = 300

// ChangesToStayBelow returns the air changes an hour that keep the worst mean
// over span at a limit, for the room's volume, mixing and releases. It is false
// when 300 an hour would not do: then only less gas, a bigger room or the open
// air helps. The answer is right to 0.01 an hour.
func (r Room) ChangesToStayBelow(limit PPM, span time.Duration, molarMass float64, releases []Release) (perH float64, ok bool, err error) {
	worst := func(ach float64) (PPM, error) {
		r.AirChangesPerH = ach
		c, err := r.Run(molarMass, releases)
		if err != nil {
			return 0, err
		}
		return c.Worst(span), nil
	}
	still, err := worst(0)
	if err != nil {
		return 0, false, err
	}
	if still <= limit {
		return 0, true, nil
	}
	if w, err := worst(mostChanges); err != nil || w > limit {
		return 0, false, err
	}
	lo, hi := 0.0, float64(mostChanges)
	for hi-lo > 0.01 {
		mid := (lo + hi) / 2
		w, err := worst(mid)
		if err != nil {
			return 0, false, err
		}
		if w > limit {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi, true, nil
}
