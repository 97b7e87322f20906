package film

import "math"

// Assumption is a value that nobody measured or typed: what it is, the value
// with its unit, and where it comes from.
type Assumption struct{ What, Value, Source string }

// NoSource marks a fact of the trade that nothing published backs.
const NoSource = "common practice, no source"

// Span is a value with the interval it may well lie in. High is +Inf where the
// value may never be reached.
type Span struct{ Value, Low, High float64 }

// Combine returns the span of a value above nought from what it would be if one
// input at a time were a little other than thought. Below and above add up
// apart, as squares of logarithms do for independent inputs; one that would
// make the value infinite makes High so.
func Combine(value float64, others ...float64) Span {
	s := Span{value, value, value}
	if !(value > 0) || math.IsInf(value, 1) {
		for _, o := range others {
			s.Low, s.High = min(s.Low, o), max(s.High, o)
		}
		return s
	}
	var below, above float64
	for _, o := range others {
		if o <= 0 {
			s.Low = 0
			continue
		}
		switch d := math.Log(o / value); {
		case d > 0:
			above += d * d
		case d < 0:
			below += d * d
		}
	}
	if s.Low > 0 {
		s.Low = value * math.Exp(-math.Sqrt(below))
	}
	s.High = value * math.Exp(math.Sqrt(above))
	return s
}
