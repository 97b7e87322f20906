package stat

import (
	"fmt"
	"math"
)

// Wish is what is wanted of one response: none of it below Low or above High, all of it
// at Target. An infinite Low takes everything up to the target as fully wanted, an
// infinite High everything beyond it.
type Wish struct {
	Low, Target, High float64
	Weight            float64 // bends the slope; 0 means 1, a straight one
}

// Desirability returns how far a value fulfils the wish, 0 to 1. Source: Derringer and
// Suich 1980; NIST/SEMATECH e-Handbook, 5.5.3.2.2.
func (w Wish) Desirability(v float64) (float64, error) {
	if !(w.Low <= w.Target && w.Target <= w.High) || w.Weight < 0 || math.IsNaN(v) {
		return 0, fmt.Errorf("%w: a wish from %v to %v with its target at %v", ErrModel, w.Low, w.High, w.Target)
	}
	weight := w.Weight
	if weight == 0 {
		weight = 1
	}
	switch {
	case v == w.Target, v < w.Target && math.IsInf(w.Low, -1), v > w.Target && math.IsInf(w.High, 1):
		return 1, nil
	case v <= w.Low || v >= w.High:
		return 0, nil
	case v < w.Target:
		return math.Pow((v-w.Low)/(w.Target-w.Low), weight), nil
	default:
		return math.Pow((w.High-v)/(w.High-w.Target), weight), nil
	}
}

// Together returns the geometric mean of desirabilities: one that is nothing makes all
// nothing.
func Together(ds []float64) (float64, error) {
	if err := need(1, ds); err != nil {
		return 0, err
	}
	sum := 0.0
	for _, d := range ds {
		sum += math.Log(d)
	}
	return math.Exp(sum / float64(len(ds))), nil
}
