package stat

import "math"

// Line is a straight line y = Intercept + Slope·x fitted by least squares.
type Line struct {
	Slope, Intercept     float64
	SlopeSE, InterceptSE float64 // standard errors
	ResidualSD           float64 // of the points about the line
	R2                   float64 // share of the variance of y the line explains; 0 if y does not vary
	DF                   int     // degrees of freedom, the number of points less 2
}

// SlopeInterval returns the Student t interval of the slope at a confidence such as
// 0.95.
func (l Line) SlopeInterval(conf float64) (lo, hi float64, err error) {
	return interval(l.Slope, l.SlopeSE, float64(l.DF), conf)
}

// At returns the height of the line at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// SlopeFit fits a line through three or more points, of which the errors of y are
// independent, alike in size and roughly normal, and x is exact.
// Source: NIST/SEMATECH e-Handbook, 4.4.3.1. It meets the certified values of the
// NIST set Norris to 11 digits.
func SlopeFit(x, y []float64) (Line, error) {
	if len(x) != len(y) {
		return Line{}, ErrUnequal
	}
	if err := need(3, x, y); err != nil {
		return Line{}, err
	}
	meanX, squaresX := meanAndSquares(x)
	meanY, squaresY := meanAndSquares(y)
	if !(squaresX > 0) || allSame(x) {
		return Line{}, ErrNoSpread
	}
	products := 0.0
	for i := range x {
		products += (x[i] - meanX) * (y[i] - meanY)
	}
	l := Line{Slope: products / squaresX, DF: len(x) - 2}
	l.Intercept = meanY - l.Slope*meanX
	left := 0.0
	for i := range x {
		r := (y[i] - meanY) - l.Slope*(x[i]-meanX)
		left += r * r
	}
	l.ResidualSD = math.Sqrt(left / float64(l.DF))
	l.SlopeSE = l.ResidualSD / math.Sqrt(squaresX)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/float64(len(x))+meanX*meanX/squaresX)
	if squaresY > 0 && !allSame(y) {
		l.R2 = max(0, 1-left/squaresY)
	}
	return l, nil
}

func allSame(xs []float64) bool {
	for _, x := range xs {
		if x != xs[0] {
			return false
		}
	}
	return true
}
