package stat

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

func upperChi(x float64, df int) float64 {
	if df < 1 || math.IsNaN(x) {
		return math.NaN()
	}
	return distuv.ChiSquared{K: float64(df)}.Survival(x)
}

// Friedman is the test that judges order things alike, and how far they agree.
type Friedman struct {
	Chi2 float64 // corrected for ties
	DF   int
	P    float64 // by the chi-squared distribution
	W    float64 // Kendall's W: 0 no agreement, 1 the same order by all
}

// FriedmanTest ranks each row (a judge) of scores of two or more things. Source:
// Friedman 1937; Kendall and Babington Smith 1939. Checked against R's friedman.test.
func FriedmanTest(rows [][]float64) (Friedman, error) {
	if len(rows) < 2 {
		return Friedman{}, fmt.Errorf("%w: %d judges given, 2 needed", ErrTooFew, len(rows))
	}
	k := len(rows[0])
	sums, ties := make([]float64, k), 0.0
	for _, row := range rows {
		if len(row) != k {
			return Friedman{}, ErrUnequal
		}
		if err := need(2, row); err != nil {
			return Friedman{}, err
		}
		ranks, t := midRanks(row)
		ties += t
		for j, r := range ranks {
			sums[j] += r
		}
	}
	n, kk := float64(len(rows)), float64(k)
	s := 0.0
	for _, r := range sums {
		s += (r - n*(kk+1)/2) * (r - n*(kk+1)/2)
	}
	below := n*kk*(kk+1) - ties/(kk-1)
	if !(below > 0) {
		return Friedman{}, ErrNoSpread
	}
	f := Friedman{Chi2: 12 * s / below, DF: k - 1}
	f.P = upperChi(f.Chi2, f.DF)
	f.W = f.Chi2 / (n * (kk - 1))
	return f, nil
}

// midRanks returns ranks from 1, equal numbers sharing the mean of theirs, and the sum
// of t^3 - t over the ties.
func midRanks(xs []float64) (ranks []float64, ties float64) {
	order := sorted(xs)
	ranks = make([]float64, len(xs))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && xs[order[j]] == xs[order[i]] {
			j++
		}
		t := float64(j - i)
		ties += t*t*t - t
		for ; i < j; i++ {
			ranks[order[i]] = float64(j) - (t-1)/2
		}
	}
	return ranks, ties
}

// Verdict is one judge's label of one thing.
type Verdict struct{ Judge, Thing, Label string }

// Krippendorff returns the agreement alpha of labels without order: 1 is full
// agreement, 0 that of chance, below 0 worse. Things labelled once do not count.
// Source: Krippendorff 2004, chapter 11.
func Krippendorff(verdicts []Verdict) (float64, error) {
	units := map[string]map[string]float64{}
	for _, v := range verdicts {
		if units[v.Thing] == nil {
			units[v.Thing] = map[string]float64{}
		}
		units[v.Thing][v.Label]++
	}
	var names []string
	for name := range units {
		names = append(names, name)
	}
	sort.Strings(names)
	all := map[string]float64{}
	n, disagree := 0.0, 0.0
	for _, name := range names {
		m, same := 0.0, 0.0
		for _, c := range units[name] {
			m += c
		}
		if m < 2 {
			continue
		}
		for label, c := range units[name] {
			all[label] += c
			same += c * (c - 1)
		}
		n += m
		disagree += (m*(m-1) - same) / (m - 1)
	}
	if n == 0 {
		return 0, fmt.Errorf("%w: nothing was judged twice", ErrTooFew)
	}
	same := 0.0
	for _, c := range all {
		same += c * (c - 1)
	}
	chance := (n*(n-1) - same) / (n - 1)
	if chance == 0 {
		return 0, ErrNoSpread
	}
	return 1 - disagree/chance, nil
}
