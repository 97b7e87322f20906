package measure

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/studio"
)

// leastWeighed is the fewest grains a weighed face must show; below it the
// loading would be known to no better than a factor of two.
const leastWeighed = 10

// sure is the two-sided 95 % point of the normal distribution.
const sure = 1.96

// Reference is a face whose salt the person weighed and photographed.
type Reference struct {
	GramPerM2    float64 // what was weighed, over the face's area
	SD           float64 // of the weighing, g/m2; 0 when not known
	Count        int
	CoveredShare float64
	PerCM2       float64 // 0 when the face's real size was not known
}

// Weighed makes a Reference of the count on a face that holds gramPerM2 of salt,
// known to a standard deviation sd (0 when not known). It serves for the same
// salt only: another grain size has another weight for the area it covers. Errors
// are *studio.Problem: a weight that cannot be, or fewer than 10 grains.
func (g GrainCount) Weighed(gramPerM2, sd float64) (Reference, error) {
	if !(gramPerM2 > 0 && gramPerM2 <= 5000) {
		return Reference{}, refuse("reference", "The weighed face is said to hold %v g/m²; write what lay on it, more than 0 and up to 5000 g/m².", gramPerM2)
	}
	if !(sd >= 0 && sd <= gramPerM2) {
		return Reference{}, refuse("reference", "The weighing is said to be good to %v g/m² of %v; write a spread from 0 up to the weight itself.", sd, gramPerM2)
	}
	if g.Count < leastWeighed || !(g.CoveredShare > 0) {
		return Reference{}, refuse("reference", "Only %d grains were found on the weighed face; at least %d are needed. Photograph it closer, or weigh a face with more salt.", g.Count, leastWeighed)
	}
	return Reference{GramPerM2: gramPerM2, SD: sd, Count: g.Count, CoveredShare: g.CoveredShare, PerCM2: g.PerCM2}, nil
}

// Loading is an amount of salt in g/m2, read from a photograph, with the 95 %
// interval from Low to High.
type Loading struct {
	studio.Amount
	Low, High float64
	Rule      string
}

// Loading tells how much salt lies on a face with grains g. Value is in
// proportion to the covered share. The interval spans this and what the count
// tells (where both real sizes are known), widened by the chance that counting
// holds on both faces (Poisson: a share 1/N of the square) and by the spread of
// the weighing; so it is about what this way of sprinkling gives, and wider than
// the error on this one face. With no grain found, High is what three or four
// grains would be (the exact Poisson bound). Errors are *studio.Problem.
func (r Reference) Loading(g GrainCount) (Loading, error) {
	if !(r.GramPerM2 > 0 && r.CoveredShare > 0 && r.Count >= leastWeighed && r.SD >= 0) {
		return Loading{}, refuse("reference", "The weighed face needs its weight, its covered share and at least %d grains. Measure its photograph first.", leastWeighed)
	}
	l := Loading{Amount: studio.Amount{Unit: studio.GramPerM2},
		Rule: fmt.Sprintf("in proportion to the area covered by grains, from %.3g g/m² weighed on a face with %d grains covering %.2g %%", r.GramPerM2, r.Count, 100*r.CoveredShare)}
	other := math.Sqrt(1/float64(r.Count) + square(r.SD/r.GramPerM2))
	if g.Count == 0 {
		_, most := poisson(0)
		l.High = r.GramPerM2 * most / float64(r.Count) * math.Exp(sure*other)
		if g.PerCM2Read > 0 && r.PerCM2 > 0 {
			l.High = r.GramPerM2 * (most * g.PerCM2Read / r.PerCM2) * math.Exp(sure*other)
		}
		l.SD = l.High / sure
		return l, nil
	}
	l.Value = r.GramPerM2 * g.CoveredShare / r.CoveredShare
	byCount := l.Value
	if g.PerCM2 > 0 && r.PerCM2 > 0 {
		byCount = r.GramPerM2 * g.PerCM2 / r.PerCM2
	}
	wide := math.Exp(sure * math.Hypot(other, 1/math.Sqrt(float64(g.Count))))
	l.Low, l.High = math.Min(l.Value, byCount)/wide, math.Max(l.Value, byCount)*wide
	l.SD = (l.High - l.Low) / (2 * sure)
	return l, nil
}

// poisson is the exact 95 % interval of the mean of a Poisson count n (Garwood
// 1936, Biometrika 28: 437-442).
func poisson(n int) (low, high float64) {
	if n > 0 {
		low = distuv.ChiSquared{K: 2 * float64(n)}.Quantile(0.025) / 2
	}
	return low, distuv.ChiSquared{K: 2 * float64(n+1)}.Quantile(0.975) / 2
}
