package batch

import (
	"fmt"
	"math"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Yield is how many of the pieces made were good. Open ones have no verdict, or
// are to be reworked, and count neither way. Low and High are the 95 % interval of
// the share (Wilson), 0 and 1 when nothing is known.
type Yield struct {
	Good, Made, Open int
	Low, High        float64
	Words            string
}

// YieldOf counts the standing verdicts on pieces. pieces are their numbers.
func YieldOf(pieces []int64, verdicts []studio.Verdict) Yield {
	y := Yield{High: 1}
	last := studio.StandingVerdicts(verdicts)
	for _, n := range pieces {
		switch last[n].Outcome {
		case studio.Accepted:
			y.Good++
			y.Made++
		case studio.Rejected:
			y.Made++
		default:
			y.Open++
		}
	}
	if lo, hi, err := stat.WilsonInterval(y.Good, y.Made, 0.95); err == nil {
		y.Low, y.High = lo, hi
	}
	y.Words = y.words()
	return y
}

// Plus adds up two yields.
func (y Yield) Plus(o Yield) Yield {
	y.Good, y.Made, y.Open = y.Good+o.Good, y.Made+o.Made, y.Open+o.Open
	y.Low, y.High = 0, 1
	if lo, hi, err := stat.WilsonInterval(y.Good, y.Made, 0.95); err == nil {
		y.Low, y.High = lo, hi
	}
	y.Words = y.words()
	return y
}

func (y Yield) words() string {
	if y.Made == 0 {
		return "No piece is accepted or rejected yet."
	}
	return fmt.Sprintf("%d of %d good: likely %.0f to %.0f in 100.", y.Good, y.Made, 100*y.Low, 100*y.High)
}

// The most pieces of one batch, and the chance with which spares suffice.
const (
	MaxPieces    = 200
	SparesChance = 0.9
)

// Spares returns how many pieces to make so that want of them are good with the
// chance [SparesChance], when past pieces came out as y: the number that are good is
// binomial, its share as likely as y and Jeffreys's prior make it. Without any past
// pieces it takes one in ten more, and says that this is assumed.
func Spares(want int, y Yield) (pieces int, assumed bool, err error) {
	if want < 1 || want > MaxPieces {
		return 0, false, studio.Problemf(studio.Invalid, "pieces", "A batch of %d pieces can't be planned; write 1 to %d.", want, MaxPieces)
	}
	if y.Made == 0 {
		return want + (want+9)/10, true, nil
	}
	for pieces = want; pieces <= 10*MaxPieces; pieces++ {
		if atLeast(want, pieces, float64(y.Good)+0.5, float64(y.Made-y.Good)+0.5) >= SparesChance {
			return pieces, false, nil
		}
	}
	return 0, false, studio.Problemf(studio.Conflict, "pieces", "Only %d of %d pieces were good so far; no number of spares makes %d good ones likely. Change the recipe first.", y.Good, y.Made, want)
}

// atLeast is the chance of want or more good ones in n, whose share follows a beta
// distribution.
func atLeast(want, n int, a, b float64) float64 {
	sum := 0.0
	for k := want; k <= n; k++ {
		sum += math.Exp(choose(n, k) + lbeta(float64(k)+a, float64(n-k)+b) - lbeta(a, b))
	}
	return sum
}

func lbeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}
