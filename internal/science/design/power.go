package design

import (
	"errors"
	"math"

	"aerugo/internal/science"
	"aerugo/internal/science/stat"
)

// Question is the difference a person wants to see and how sure they want to be.
//
// Spread is the standard deviation of swatches made alike, in the unit of
// Difference (such as ΔE00, along the direction in which the looks differ). Sure
// is the confidence of the interval (0.95), Chance how often a difference that is
// there is to be seen (0.8).
type Question struct {
	Difference, Spread, Sure, Chance float64
}

// Usual is the question how few swatches show 3 ΔE00, clear to most eyes side by
// side (common practice, no source), where swatches made alike differ by 2 ΔE00.
var Usual = Question{Difference: 3, Spread: 2, Sure: 0.95, Chance: 0.8}

func (q Question) check() error {
	switch {
	case !(q.Difference > 0) || math.IsInf(q.Difference, 0):
		return askf("a difference to be seen is above 0, not %g", q.Difference)
	case !(q.Spread > 0) || math.IsInf(q.Spread, 0):
		return askf("the spread of swatches made alike is above 0, not %g", q.Spread)
	case !(q.Sure >= 0.5 && q.Sure < 1):
		return askf("how sure lies from 0.5 to below 1, not %g", q.Sure)
	case !(q.Chance > 1-q.Sure && q.Chance < 1):
		return askf("the chance of seeing it lies above %.4g and below 1, not %g", 1-q.Sure, q.Chance)
	}
	return nil
}

// SwatchesToSee is how many swatches of each level show the difference between
// two of so many levels ([stat.SwatchesPerLevel]).
func SwatchesToSee(q Question, levels int) (int, error) {
	if err := q.check(); err != nil {
		return 0, err
	}
	if levels < 2 || levels > MaxLevels {
		return 0, askf("2 to %d levels are compared, not %d", MaxLevels, levels)
	}
	n, err := stat.SwatchesPerLevel(q.Difference, q.Spread, levels, q.Chance, 1-q.Sure)
	var far *science.RangeError
	if errors.As(err, &far) {
		return 0, askf("a difference of %g where swatches made alike differ by %g takes more swatches than anyone makes; make them more alike first", q.Difference, q.Spread)
	}
	return n, err
}

// Power is the chance that a two-sided t test at a confidence of sure sees an
// effect that is so many standard errors large, with df degrees of freedom, 2 or
// more ([stat.PowerOfT]).
func Power(df, size, sure float64) (float64, error) {
	// Two groups of df/2+1 each have these degrees of freedom, and a
	// difference of one spread in them is the root of n/2 standard errors.
	n := df/2 + 1
	return stat.PowerOfT(n, size*math.Sqrt(2/n), 1, 1-sure)
}

// visible is the smallest effect in standard errors seen with the chance asked.
func visible(df float64, q Question) (float64, error) {
	low, high := 0.0, 1.0
	for {
		p, err := Power(df, high, q.Sure)
		if err != nil {
			return 0, err
		}
		if p >= q.Chance {
			break
		}
		low, high = high, 2*high
	}
	for high-low > 1e-6*high {
		mid := (low + high) / 2
		p, err := Power(df, mid, q.Sure)
		if err != nil {
			return 0, err
		}
		if p >= q.Chance {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}
