// Package stat does the small statistics of the bench: means and differences with
// Student t intervals, straight lines, quantiles and shares. Every function says
// with an error when the numbers cannot carry an answer.
package stat

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
)

// The published methods behind the numbers of this package.
const (
	SourceInterval science.Ref = "nist-ehandbook"   // MeanInterval and SlopeFit
	SourceWelch    science.Ref = "welch-1947"       // WelchDifference
	SourceQuantile science.Ref = "hyndman-fan-1996" // Quantile
	SourceWilson   science.Ref = "wilson-1927"      // WilsonInterval
)

var (
	// ErrTooFew says that there are too few numbers for an answer with an interval.
	ErrTooFew = errors.New("too few numbers to say")
	// ErrNoSpread says that numbers which had to differ are all the same.
	ErrNoSpread = errors.New("the numbers do not differ, so nothing can be said from their spread")
	// ErrNotFinite says that one of the numbers is infinite or not a number.
	ErrNotFinite = errors.New("one of the numbers is infinite or not a number")
	// ErrUnequal says that two lists that go together have different lengths.
	ErrUnequal = errors.New("the two lists do not have the same length")
)

func need(n int, lists ...[]float64) error {
	for _, xs := range lists {
		if len(xs) < n {
			return fmt.Errorf("%w: %d given, %d needed", ErrTooFew, len(xs), n)
		}
		for _, x := range xs {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return ErrNotFinite
			}
		}
	}
	return nil
}

// critical returns the two-sided t value of a confidence between 0 and 1; endless
// degrees of freedom make it that of the normal distribution.
func critical(conf, df float64) (float64, error) {
	if !(conf > 0 && conf < 1) {
		return 0, &science.RangeError{What: "confidence", Got: conf, Min: 0, Max: 1}
	}
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Quantile(0.5 + conf/2), nil
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.5 + conf/2), nil
}

// meanAndSquares returns the mean and the sum of squared distances from it, in two
// passes so that numbers alike in their leading digits keep the rest.
func meanAndSquares(xs []float64) (mean, squares float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	rest := 0.0
	for _, x := range xs {
		rest += x - mean
		squares += (x - mean) * (x - mean)
	}
	n := float64(len(xs))
	return mean + rest/n, max(0, squares-rest*rest/n)
}

// MeanInterval returns the mean of two or more numbers and its Student t interval
// at a confidence such as 0.95. The numbers must be independent and roughly normal.
// Source: NIST/SEMATECH e-Handbook, 1.3.5.2.
func MeanInterval(xs []float64, conf float64) (mean, lo, hi float64, err error) {
	if err := need(2, xs); err != nil {
		return 0, 0, 0, err
	}
	df := float64(len(xs) - 1)
	t, err := critical(conf, df)
	if err != nil {
		return 0, 0, 0, err
	}
	mean, squares := meanAndSquares(xs)
	half := t * math.Sqrt(squares/df/float64(len(xs)))
	return mean, mean - half, mean + half, nil
}

// Contrast is the difference of two means: that of b less that of a.
type Contrast struct {
	Difference float64
	SE         float64 // standard error of Difference
	DF         float64 // degrees of freedom by Welch and Satterthwaite, not a whole number
	P          float64 // two-sided probability of a difference this far from 0 by chance alone
}

// Interval returns the interval of the difference at a confidence such as 0.95.
func (c Contrast) Interval(conf float64) (lo, hi float64, err error) {
	return interval(c.Difference, c.SE, c.DF, conf)
}

func interval(middle, se, df, conf float64) (lo, hi float64, err error) {
	t, err := critical(conf, df)
	if err != nil {
		return 0, 0, err
	}
	return middle - t*se, middle + t*se, nil
}

// WelchDifference compares the means of two groups of two or more numbers that may
// spread differently. Source: Welch 1947.
func WelchDifference(a, b []float64) (Contrast, error) {
	if err := need(2, a, b); err != nil {
		return Contrast{}, err
	}
	meanA, squaresA := meanAndSquares(a)
	meanB, squaresB := meanAndSquares(b)
	dfA, dfB := float64(len(a)-1), float64(len(b)-1)
	varA, varB := squaresA/dfA/float64(len(a)), squaresB/dfB/float64(len(b))
	sum := varA + varB
	if allSame(a) && allSame(b) || sum == 0 {
		return Contrast{}, ErrNoSpread
	}
	c := Contrast{Difference: meanB - meanA, SE: math.Sqrt(sum)}
	shareA, shareB := varA/sum, varB/sum
	c.DF = 1 / (shareA*shareA/dfA + shareB*shareB/dfB)
	c.P = 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: c.DF}.Survival(math.Abs(c.Difference)/c.SE)
	return c, nil
}

// WeightedMean returns the mean of xs with weights ws, none negative and not all 0.
func WeightedMean(xs, ws []float64) (float64, error) {
	if len(xs) != len(ws) {
		return 0, ErrUnequal
	}
	if err := need(1, xs, ws); err != nil {
		return 0, err
	}
	mean, total := 0.0, 0.0
	for i, w := range ws {
		if w < 0 {
			return 0, &science.RangeError{What: "weight", Got: w, Min: 0, Max: math.Inf(1)}
		}
		if w > 0 {
			total += w
			mean += (xs[i] - mean) * (w / total)
		}
	}
	if total == 0 {
		return 0, fmt.Errorf("%w: every weight is 0", ErrTooFew)
	}
	return mean, nil
}

// Quantile returns the value below which the share p (0 to 1) of the numbers lies,
// with straight lines between the sorted numbers: definition 7 of Hyndman and Fan
// 1996.
func Quantile(xs []float64, p float64) (float64, error) {
	if err := need(1, xs); err != nil {
		return 0, err
	}
	if !(p >= 0 && p <= 1) {
		return 0, &science.RangeError{What: "share", Got: p, Min: 0, Max: 1}
	}
	sorted := append([]float64(nil), xs...)
	sort.Float64s(sorted)
	at := p * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	part := at - float64(i)
	if part == 0 {
		return sorted[i], nil
	}
	return sorted[i]*(1-part) + sorted[i+1]*part, nil
}

// WilsonInterval returns the score interval of the share hits/n at a confidence
// such as 0.95, when the n trials are independent. Source: Wilson 1927.
func WilsonInterval(hits, n int, conf float64) (lo, hi float64, err error) {
	switch {
	case n < 1:
		return 0, 0, fmt.Errorf("%w: %d trials", ErrTooFew, n)
	case hits < 0 || hits > n:
		return 0, 0, &science.RangeError{What: "number of hits", Got: float64(hits), Min: 0, Max: float64(n)}
	case !(conf > 0 && conf < 1):
		return 0, 0, &science.RangeError{What: "confidence", Got: conf, Min: 0, Max: 1}
	}
	z := distuv.UnitNormal.Quantile(0.5 + conf/2)
	p, m, zz := float64(hits)/float64(n), float64(n), z*z
	middle := p + zz/(2*m)
	half := z * math.Sqrt(p*(1-p)/m+zz/(4*m*m))
	return max(0, (middle-half)/(1+zz/m)), min(1, (middle+half)/(1+zz/m)), nil
}
