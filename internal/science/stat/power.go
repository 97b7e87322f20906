package stat

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
)

// PowerOfT returns the chance that a two-sided t test at level alpha sees a difference
// between two groups of n each, when the truth differs by d and single rows scatter by
// sd. n is 2 or more and need not be whole. Source: Cohen 1988, chapter 2; checked
// against R's power.t.test to 6 digits.
func PowerOfT(n, d, sd, alpha float64) (float64, error) {
	if !(n >= 2) {
		return 0, &science.RangeError{What: "number of swatches a level", Got: n, Min: 2, Max: math.Inf(1)}
	}
	if err := spread(d, sd, alpha); err != nil {
		return 0, err
	}
	df := 2 * (n - 1)
	t, err := critical(1-alpha, df)
	if err != nil {
		return 0, err
	}
	shift := math.Abs(d) / sd * math.Sqrt(n/2)
	// T = (z + shift) / s with s the root of chi squared over df
	return overScale(df, func(s float64) float64 {
		return distuv.UnitNormal.Survival(t*s-shift) + distuv.UnitNormal.CDF(-t*s-shift)
	}), nil
}

func spread(d, sd, alpha float64) error {
	switch {
	case math.IsNaN(d) || math.IsInf(d, 0):
		return ErrNotFinite
	case !(sd > 0) || math.IsInf(sd, 0):
		return &science.RangeError{What: "spread", Got: sd, Min: math.SmallestNonzeroFloat64, Max: math.MaxFloat64}
	case !(alpha > 0 && alpha < 1):
		return &science.RangeError{What: "level of the test", Got: alpha, Min: 0, Max: 1}
	}
	return nil
}

// SwatchesPerLevel says how many swatches each of so many levels needs to see a
// difference d between two of them, with the chance power, at the level alpha, when
// swatches made alike scatter by sd. With more than two levels it takes the worst case,
// all others half way between (Cohen 1988, 8.2: the least spread with range d), and the
// F test of all levels. The answer is at most 10000.
func SwatchesPerLevel(d, sd float64, levels int, power, alpha float64) (int, error) {
	if err := spread(d, sd, alpha); err != nil {
		return 0, err
	}
	if levels < 2 || levels > 1000 {
		return 0, &science.RangeError{What: "number of levels", Got: float64(levels), Min: 2, Max: 1000}
	}
	if !(power > alpha && power < 1) {
		return 0, &science.RangeError{What: "chance to see it", Got: power, Min: alpha, Max: 1}
	}
	if d == 0 {
		return 0, ErrNoSpread
	}
	of := func(n int) (float64, error) {
		if levels == 2 {
			return PowerOfT(float64(n), d, sd, alpha)
		}
		return PowerOfF(levels, float64(n), d*d/2/float64(levels-1), sd*sd, alpha)
	}
	low, high := 1, 2
	for {
		p, err := of(high)
		if err != nil {
			return 0, err
		}
		if p >= power {
			break
		}
		low = high
		if high *= 2; high > 20000 {
			return 0, &science.RangeError{What: "number of swatches a level", Got: float64(high), Min: 2, Max: 10000}
		}
	}
	for high-low > 1 {
		mid := (low + high) / 2
		p, err := of(mid)
		if err != nil {
			return 0, err
		}
		if p >= power {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}

// PowerOfF returns the chance that the F test at level alpha sees differences between
// groups of n each, whose true means have the variance between (with groups-1 below the
// line) and whose rows have the variance within. Source: Cohen 1988, chapter 8; checked
// against R's power.anova.test to 6 digits.
func PowerOfF(groups int, n, between, within, alpha float64) (float64, error) {
	if groups < 2 {
		return 0, &science.RangeError{What: "number of levels", Got: float64(groups), Min: 2, Max: math.Inf(1)}
	}
	if !(n >= 2) {
		return 0, &science.RangeError{What: "number of swatches a level", Got: n, Min: 2, Max: math.Inf(1)}
	}
	if err := spread(between, within, alpha); err != nil {
		return 0, err
	}
	if between < 0 {
		return 0, &science.RangeError{What: "variance between levels", Got: between, Min: 0, Max: math.Inf(1)}
	}
	d1, d2 := float64(groups-1), float64(groups)*(n-1)
	f := distuv.F{D1: d1, D2: d2}.Quantile(1 - alpha)
	return noncentralF(f, d1, d2, d1*n*between/within), nil
}

// noncentralF returns the probability above f: a Poisson mixture of beta tails, summed
// outwards from its middle. Source: Abramowitz and Stegun 1964, 26.6.20.
func noncentralF(f, d1, d2, lambda float64) float64 {
	x := d1 * f / (d1*f + d2)
	tail := func(k float64) float64 { return mathext.RegIncBeta(d2/2, d1/2+k, 1-x) }
	if lambda == 0 {
		return tail(0)
	}
	weight := func(k float64) float64 {
		g, _ := math.Lgamma(k + 1)
		return math.Exp(-lambda/2 + k*math.Log(lambda/2) - g)
	}
	middle := math.Floor(lambda / 2)
	sum := 0.0
	for k := middle; k >= 0; k-- {
		w := weight(k)
		sum += w * tail(k)
		if w < 1e-17 {
			break
		}
	}
	for k := middle + 1; ; k++ {
		w := weight(k)
		sum += w * tail(k)
		if w < 1e-17 {
			return min(1, sum)
		}
	}
}
