// Package guess predicts how a swatch not yet made will look, from those that
// were: a Gaussian process on settings, with how sure it is. It proposes which
// swatches to make next, toward a colour or toward an answer.
//
// Outputs, such as L*, a* and b*, are turned to axes along which they did not
// move together; each axis is a process of its own, with its own noise and block
// offsets, and all share how far a factor reaches. The size of each process is
// integrated out, so that answers are Student's t and few swatches give wide
// intervals.
package guess

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science"
)

// The published methods behind this package.
const (
	SourceProcess     science.Ref = "rasmussen-williams-2006" // Fit, Given
	SourceLeaveOneOut science.Ref = "dubrule-1983"            // LeaveOneOut
	SourceImprovement science.Ref = "jones-1998"              // Next
)

var (
	// ErrTooFew says that there are too few rows to learn from.
	ErrTooFew = errors.New("too few rows to predict from; it takes three")
	// ErrFactors says that factors or rows are not of a piece.
	ErrFactors = errors.New("the rows do not fit the factors")
	// ErrNothingAllowed says that no setting was found that may be tried.
	ErrNothingAllowed = errors.New("no setting was found that is allowed")
)

// Factor is one thing that is set, or computed from what is set. It is
// continuous from Low to High unless it has Levels.
type Factor struct {
	Name      string
	Low, High float64
	Log       bool     // its ratios matter rather than its differences; Low is then above 0
	Levels    []string // categorical: a point holds the index of a level
	Computed  bool     // follows from the others; such factors come last
}

// Row is a swatch that was made: its point (a number for each factor), the block
// it belongs to (a day, a run of the chamber; empty for none) and its outputs.
type Row struct {
	At    []float64
	Block string
	Out   []float64
}

// checkFactors returns how many factors are set rather than computed.
func checkFactors(factors []Factor) (set int, err error) {
	if len(factors) == 0 {
		return 0, fmt.Errorf("%w: there is no factor", ErrFactors)
	}
	for i, f := range factors {
		switch {
		case len(f.Levels) > 0:
			if f.Computed {
				return 0, fmt.Errorf("%w: %s is computed, and so can't have levels", ErrFactors, f.Name)
			}
		case !(f.High > f.Low) || math.IsInf(f.High-f.Low, 0):
			return 0, fmt.Errorf("%w: %s must reach from a number to a higher one", ErrFactors, f.Name)
		case f.Log && f.Low <= 0:
			return 0, fmt.Errorf("%w: %s is judged by ratios, and so must start above 0", ErrFactors, f.Name)
		}
		if f.Computed {
			continue
		}
		if set != i {
			return 0, fmt.Errorf("%w: %s is set, and so must come before what is computed", ErrFactors, f.Name)
		}
		set++
	}
	if set == 0 {
		return 0, fmt.Errorf("%w: nothing is set, all is computed", ErrFactors)
	}
	return set, nil
}

// unit returns where x lies in the factor, 0 at Low and 1 at High; a level stays
// its index.
func (f Factor) unit(x float64) float64 {
	switch {
	case len(f.Levels) > 0:
		return x
	case f.Log:
		return math.Log(x/f.Low) / math.Log(f.High/f.Low)
	}
	return (x - f.Low) / (f.High - f.Low)
}

// value is the inverse of unit.
func (f Factor) value(u float64) float64 {
	switch {
	case len(f.Levels) > 0:
		return u
	case f.Log:
		return min(f.High, max(f.Low, f.Low*math.Pow(f.High/f.Low, u)))
	}
	return min(f.High, max(f.Low, f.Low+u*(f.High-f.Low)))
}

// units returns a whole point in units.
func units(factors []Factor, at []float64) ([]float64, error) {
	if len(at) != len(factors) {
		return nil, fmt.Errorf("%w: %d numbers for %d factors", ErrFactors, len(at), len(factors))
	}
	u := make([]float64, len(at))
	for i, f := range factors {
		x := at[i]
		if n := len(f.Levels); n > 0 && !(x >= 0 && x < float64(n) && x == math.Trunc(x)) {
			return nil, fmt.Errorf("%w: %s has no level %v", ErrFactors, f.Name, x)
		}
		u[i] = f.unit(x)
		if math.IsNaN(u[i]) || math.IsInf(u[i], 0) {
			return nil, fmt.Errorf("%w: %s can't be %v", ErrFactors, f.Name, x)
		}
	}
	return u, nil
}
