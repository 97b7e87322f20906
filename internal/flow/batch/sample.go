package batch

import (
	"fmt"
	"math"

	"aerugo/internal/studio"
)

// Which says which pieces of a batch are photographed.
type Which string

// Ways to choose pieces. EveryKth takes the first and then every k-th.
const (
	All             Which = "all"
	FirstMiddleLast Which = "first, middle and last"
	EveryKth        Which = "every k-th"
)

// Pick returns the places, from 0 in the order made, to photograph out of n.
func Pick(n int, which Which, k int) ([]int, error) {
	if n < 1 {
		return nil, studio.Problemf(studio.Invalid, "pieces", "A batch of %d pieces has none to photograph; it needs 1 or more.", n)
	}
	switch which {
	case All:
		k = 1
	case FirstMiddleLast:
		out := []int{0}
		for _, i := range []int{(n - 1) / 2, n - 1} {
			if i > out[len(out)-1] {
				out = append(out, i)
			}
		}
		return out, nil
	case EveryKth:
		if k < 1 || k > n {
			return nil, studio.Problemf(studio.Invalid, "every", "Every %d-th of %d pieces can't be taken; write a number from 1 to %d.", k, n, n)
		}
	default:
		return nil, studio.Problemf(studio.Invalid, "which", "%q is no way to choose pieces; choose %s, %s or %s.", string(which), All, FirstMiddleLast, EveryKth)
	}
	var out []int
	for i := 0; i < n; i += k {
		out = append(out, i)
	}
	return out, nil
}

// A Promise is what pieces looked at tell of those not looked at. AtMost bad pieces
// are in the whole batch with the confidence, if bad ones are scattered by chance.
// MissOne is the chance that a single bad piece is not among those looked at.
type Promise struct {
	AtMost     int
	Confidence float64
	MissOne    float64
	Words      string
}

// PromiseOf tells what it means that bad pieces were found among seen of n, drawn
// by chance: the exact bound of the hypergeometric distribution (e-Handbook 6.2).
func PromiseOf(n, seen, bad int, confidence float64) (Promise, error) {
	if n < 1 || seen < 0 || seen > n || bad < 0 || bad > seen {
		return Promise{}, studio.Problemf(studio.Invalid, "pieces", "%d bad among %d looked at of %d can't be; look at no more than there are.", bad, seen, n)
	}
	if !(confidence > 0 && confidence < 1) {
		return Promise{}, studio.Problemf(studio.Invalid, "confidence", "A confidence of %v can't be held; choose one between 0 and 1.", confidence)
	}
	p := Promise{Confidence: confidence, MissOne: 1 - float64(seen)/float64(n)}
	for p.AtMost = bad; p.AtMost < n-(seen-bad) && atMost(bad, n, p.AtMost+1, seen) > 1-confidence; {
		p.AtMost++
	}
	switch {
	case seen == n:
		p.Words = fmt.Sprintf("All %d were looked at.", n)
	case seen == 0:
		p.Words = "None was looked at, so nothing can be said."
	default:
		p.Words = fmt.Sprintf("%d of %d were looked at and %s. If bad ones are scattered by chance, at most %d of the %d are bad (%.0f %% sure). A single bad piece would be missed %.0f times in 100. A slow drift shows; one dropped or double-dipped piece between those looked at does not.",
			seen, n, badWords(bad), p.AtMost, n, 100*confidence, 100*p.MissOne)
	}
	return p, nil
}

func badWords(bad int) string {
	switch bad {
	case 0:
		return "all were good"
	case 1:
		return "1 was not good"
	}
	return fmt.Sprintf("%d were not good", bad)
}

// atMost is the chance to draw at most hits bad pieces in seen of n, when bad are.
func atMost(hits, n, bad, seen int) float64 {
	sum := 0.0
	for k := max(0, seen-(n-bad)); k <= min(hits, min(bad, seen)); k++ {
		sum += math.Exp(choose(bad, k) + choose(n-bad, seen-k) - choose(n, seen))
	}
	return sum
}

// choose is the logarithm of the binomial coefficient.
func choose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n) + 1)
	b, _ := math.Lgamma(float64(k) + 1)
	c, _ := math.Lgamma(float64(n-k) + 1)
	return a - b - c
}
