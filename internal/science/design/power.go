package design

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
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

// MostSwatches is the largest answer SwatchesToSee gives.
const MostSwatches = 100000

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
// two of so many levels, every spread known from the swatches themselves (two-
// sided t test; the power is that of the noncentral t distribution).
func SwatchesToSee(q Question, levels int) (int, error) {
	if err := q.check(); err != nil {
		return 0, err
	}
	if levels < 2 || levels > MaxLevels {
		return 0, askf("2 to %d levels are compared, not %d", MaxLevels, levels)
	}
	enough := func(n int) bool {
		p, err := Power(float64(levels*(n-1)), q.Difference/q.Spread*math.Sqrt(float64(n)/2), q.Sure)
		return err == nil && p >= q.Chance
	}
	if !enough(MostSwatches) {
		return 0, askf("a difference of %g where swatches made alike differ by %g takes more than %d swatches a level; make them more alike first", q.Difference, q.Spread, MostSwatches)
	}
	low, high := 1, MostSwatches
	for high-low > 1 {
		if mid := (low + high) / 2; enough(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}

// Power is the chance that a two-sided t test at a confidence of sure sees an
// effect that is so many standard errors large, with df degrees of freedom (1 to
// 2e6). It integrates the normal over the distribution of the estimated spread;
// good to 1e-7.
func Power(df, errors, sure float64) (float64, error) {
	if !(df >= 1 && df <= 2e6) {
		return 0, &science.RangeError{What: "degrees of freedom", Got: df, Min: 1, Max: 2e6}
	}
	if !(errors >= 0) || math.IsInf(errors, 0) {
		return 0, &science.RangeError{What: "size of the effect", Got: errors, Min: 0, Max: math.MaxFloat64, Unit: "standard errors"}
	}
	if !(sure > 0 && sure < 1) {
		return 0, &science.RangeError{What: "confidence", Got: sure, Min: 0, Max: 1}
	}
	crit := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1 + sure) / 2)
	phi := distuv.UnitNormal.CDF
	lg, _ := math.Lgamma(df / 2)
	density := func(s float64) float64 {
		if s == 0 {
			if df == 1 {
				return math.Sqrt(2 / math.Pi)
			}
			return 0
		}
		return math.Exp(math.Ln2 + df/2*math.Log(df/2) - lg + (df-1)*math.Log(s) - df*s*s/2)
	}
	sd := 1 / math.Sqrt(2*df)
	from, to := math.Max(0, 1-9*sd), 1+9*sd
	const steps = 800
	h := (to - from) / steps
	miss, mass := 0.0, 0.0
	for i := range steps + 1 {
		s := from + float64(i)*h
		weight := float64(2 + 2*(i%2))
		if i == 0 || i == steps {
			weight = 1
		}
		d := weight * density(s)
		miss += d * (phi(crit*s-errors) - phi(-crit*s-errors))
		mass += d
	}
	return math.Min(1, math.Max(0, 1-miss/mass)), nil
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
