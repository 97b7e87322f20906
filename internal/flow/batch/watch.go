package batch

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aerugo/internal/science/stat"
)

// A Series is one number read from each piece, in the order made. Up and Down say
// what more and less of it is: "lighter", "darker".
type Series struct {
	Name, Unit string
	Up, Down   string
	Values     []float64
}

// A Chart is a series with its limits: the pieces one by one, and the moving mean
// that shows a slow drift sooner.
type Chart struct {
	Series   Series
	Singles  stat.ControlChart
	Weighted stat.ControlChart
	Alone    []int // single pieces outside their limits, from 0
	Drifts   bool  // the moving mean left its limits
}

// A Drift is where the pieces began to be different: From is the first such piece, in
// the order made from 0, and it lies between Low and High (95 %). Before and After are
// the means of Series.
type Drift struct {
	Series         Series
	From, Low      int
	High           int
	Before, After  float64
	Words, Caution string
}

// Fewest pieces that a chart is drawn of.
const FewestWatched = 8

// weight of the newest piece in the moving mean. 0.2 to 0.3 are common (e-Handbook
// 6.3.2.4).
const weight = 0.2

// width is how many standard errors out the moving mean's limits lie for a batch of n.
// It was found by drawing steady batches of 8 to 60 pieces, four numbers of each: with
// the limits learnt from the batch itself, about one in twenty is called.
func width(n int) float64 { return 2.5 + 0.25*math.Log(float64(n)) }

// Watch charts series of equal length and looks for a drift; drift is nil when there
// is none to speak of. Series that don't vary or have fewer than [FewestWatched]
// values are left out. Limits rest on how much one piece differs from the next, which
// a slow drift hardly touches.
//
// Where it began is the split into two levels that leaves the least squares, with all
// splits as likely as a χ² of one degree of freedom allows (Hinkley 1970).
func Watch(all []Series) (charts []Chart, drift *Drift) {
	worst := 0.0
	for _, s := range all {
		n := len(s.Values)
		if n < FewestWatched {
			continue
		}
		singles, _, err := stat.ChartSingles(s.Values, 0)
		if err != nil || !(singles.SD > 0) {
			continue
		}
		weighted, err := stat.ChartWeighted(s.Values, singles.Centre, singles.SD, weight, width(n))
		if err != nil {
			continue
		}
		c := Chart{Series: s, Singles: singles, Weighted: weighted, Alone: singles.Beyond()}
		c.Drifts = len(weighted.Beyond()) > 0
		charts = append(charts, c)
		if !c.Drifts {
			continue
		}
		if d := split(s); math.Abs(d.After-d.Before)/singles.SD > worst {
			worst = math.Abs(d.After-d.Before) / singles.SD
			drift = &d
		}
	}
	return charts, drift
}

func split(s Series) Drift {
	n := len(s.Values)
	left := make([]float64, n) // squares left by a split before each piece
	mean := func(xs []float64) (m, squares float64) {
		for _, x := range xs {
			m += x / float64(len(xs))
		}
		for _, x := range xs {
			squares += (x - m) * (x - m)
		}
		return m, squares
	}
	best := 1
	for k := 1; k < n; k++ {
		_, a := mean(s.Values[:k])
		_, b := mean(s.Values[k:])
		left[k] = a + b
		if left[k] < left[best] {
			best = k
		}
	}
	d := Drift{Series: s, From: best, Low: best, High: best}
	const chi95 = 3.841
	for k := 1; k < n; k++ {
		if float64(n)*math.Log(left[k]/left[best]) <= chi95 || left[k] == left[best] {
			d.Low, d.High = min(d.Low, k), max(d.High, k)
		}
	}
	d.Before, _ = mean(s.Values[:best])
	d.After, _ = mean(s.Values[best:])
	how := s.Up
	if d.After < d.Before {
		how = s.Down
	}
	where := fmt.Sprintf("about piece %d", d.From+1)
	if d.High > d.Low {
		where += fmt.Sprintf(" (somewhere from %d to %d)", d.Low+1, d.High+1)
	}
	d.Words = fmt.Sprintf("From %s on, the pieces are %s: %s %s before, %s after.", where, how, s.Name, value(d.Before, s.Unit), value(d.After, s.Unit))
	d.Caution = "What changed at the same time may have done it, or not: it is a coincidence in time, not proof."
	return d
}

func value(v float64, unit string) string {
	out := strings.Replace(strconv.FormatFloat(v, 'f', 1, 64), "-", "−", 1)
	if unit != "" {
		out += " " + unit
	}
	return out
}
