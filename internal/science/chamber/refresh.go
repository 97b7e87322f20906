package chamber

import (
	"math"
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/solution"
)

// Halving returns when ammonia's pressure has fallen to half of what it was when
// the lid closed, and false when it has not within 60 days.
func Halving(box Box, pad Pad, openings []Opening, pieces []Piece, opt Options) (time.Duration, bool, error) {
	opt.Step = 30 * time.Minute
	for _, hours := range []float64{24, 168, mostHours} {
		r, err := Run(box, pad, openings, pieces, hours, opt)
		if err != nil || r.Halved {
			return r.HalvedAt, r.Halved, err
		}
		if r.PadDry {
			break
		}
	}
	return 0, false, nil
}

// SolutionFor returns the least solution in g of that strength (above 0) whose
// ammonia pressure after so many hours is still the share keep (above 0, below 1)
// of what the fresh solution gives. Films are left out: they hold little.
func SolutionFor(box Box, strength float64, openings []Opening, hours, keep float64) (float64, error) {
	if !(keep > 0 && keep < 1) {
		return 0, &science.RangeError{What: "share of the pressure to keep", Got: keep, Min: 0, Max: 1}
	}
	if !(strength > 0) {
		return 0, &science.RangeError{What: "strength of the solution", Got: strength, Min: 0, Max: 0.30}
	}
	fresh, err := solution.AmmoniaOver(strength, box.Temp)
	if err != nil {
		return 0, err
	}
	keeps := func(g float64) (bool, error) {
		r, err := Run(box, Pad{SolutionG: g, Strength: strength}, openings, nil, hours, Options{Step: 15 * time.Minute})
		if err == ErrPadTooSmall {
			return false, nil
		}
		if err != nil || r.PadDry {
			return false, err
		}
		return r.Series[len(r.Series)-1].NH3 >= science.Pascal(keep)*fresh.NH3, nil
	}
	const least, most = 0.1, 1e5
	low, high := least, most
	if ok, err := keeps(high); err != nil || !ok {
		if err == nil {
			err = &science.RangeError{What: "solution that lasts so long", Got: math.Inf(1), Min: least, Max: most, Unit: "g"}
		}
		return 0, err
	}
	for high/low > 1.001 {
		mid := math.Sqrt(low * high)
		ok, err := keeps(mid)
		if err != nil {
			return 0, err
		}
		if ok {
			high = mid
		} else {
			low = mid
		}
	}
	return high, nil
}
