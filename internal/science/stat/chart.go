package stat

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/science"
)

// The published methods behind control charts.
const (
	SourceControl   science.Ref = "astm-e2587"             // ChartFactors, ChartSingles, ChartGroups
	SourceRuns      science.Ref = "champ-woodall-1987"     // RunLength
	SourceHotelling science.Ref = "tracy-young-mason-1992" // ChartTogether
)

// ErrChart says that a chart was asked for that can't be drawn.
var ErrChart = errors.New("no control chart can be drawn of these")

// ControlFactors are the constants of control charts for groups of N normal numbers.
// D2 and D3 are mean and standard deviation of their range, C4 the mean of their
// standard deviation, all in units of the spread. The others give limits three
// standard errors out: A2 and A3 of means, by the mean range and the mean standard
// deviation; DLow and DHigh of ranges; BLow and BHigh of standard deviations; E2 of
// single values by their mean moving range.
type ControlFactors struct {
	N                                                int
	C4, D2, D3, A2, A3, BLow, BHigh, DLow, DHigh, E2 float64
}

// ChartFactors returns the constants for groups of n, 2 to 100, to 7 digits: by the
// gamma function, and by integrals over the tail of the range. ASTM E2587 prints them
// to three or four.
func ChartFactors(n int) (ControlFactors, error) {
	if n < 2 || n > 100 {
		return ControlFactors{}, &science.RangeError{What: "size of a group", Got: float64(n), Min: 2, Max: 100, Ref: SourceControl}
	}
	m := float64(n)
	top, _ := math.Lgamma(m / 2)
	bottom, _ := math.Lgamma((m - 1) / 2)
	f := ControlFactors{N: n, C4: math.Sqrt(2/(m-1)) * math.Exp(top-bottom)}
	f.D2 = integral(func(w float64) float64 { return rangeTail(w, n) }, 0, 12, 8)
	square := integral(func(w float64) float64 { return 2 * w * rangeTail(w, n) }, 0, 12, 8)
	f.D3 = math.Sqrt(square - f.D2*f.D2)
	ofS := 3 / f.C4 * math.Sqrt(1-f.C4*f.C4)
	ofR := 3 * f.D3 / f.D2
	f.A2, f.A3 = 3/(f.D2*math.Sqrt(m)), 3/(f.C4*math.Sqrt(m))
	f.BLow, f.BHigh = max(0, 1-ofS), 1+ofS
	f.DLow, f.DHigh = max(0, 1-ofR), 1+ofR
	f.E2 = 3 / f.D2
	return f, nil
}

// A ControlChart is points in the order they were made with the limits they should
// stay within. Low and High hold one limit for each point. SD is the spread of what
// is plotted when nothing but chance is at work.
type ControlChart struct {
	Points    []float64
	Centre    float64
	SD        float64
	Low, High []float64
}

func sameLimits(points []float64, centre, low, high, sd float64) ControlChart {
	c := ControlChart{Points: points, Centre: centre, SD: sd}
	for range points {
		c.Low, c.High = append(c.Low, low), append(c.High, high)
	}
	return c
}

// Beyond returns the points outside their limits.
func (c ControlChart) Beyond() []int {
	var out []int
	for i, x := range c.Points {
		if x < c.Low[i] || x > c.High[i] {
			out = append(out, i)
		}
	}
	return out
}

// Runs returns, for each stretch of at least n points in a row on one side of the
// centre, its first and last point. A point on the centre ends a stretch.
func (c ControlChart) Runs(n int) [][2]int {
	var out [][2]int
	for from := 0; from < len(c.Points); {
		side, to := side(c.Points[from]-c.Centre), from
		for to+1 < len(c.Points) && side != 0 && sideOf(c, to+1) == side {
			to++
		}
		if side != 0 && to-from+1 >= n {
			out = append(out, [2]int{from, to})
		}
		from = to + 1
	}
	return out
}

func side(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

func sideOf(c ControlChart, i int) int { return side(c.Points[i] - c.Centre) }

// ChartSingles returns the chart of single values, their spread judged by the mean range
// from one to the next, and the chart of those ranges. base is how many of the first
// values the limits are learnt from, 0 for all; it takes two.
func ChartSingles(x []float64, base int) (values, ranges ControlChart, err error) {
	if base == 0 {
		base = len(x)
	}
	if base < 2 || base > len(x) {
		return values, ranges, fmt.Errorf("%w: %d values to learn limits from; it takes 2 or more of the %d", ErrChart, base, len(x))
	}
	if err := need(2, x); err != nil {
		return values, ranges, err
	}
	var moves []float64
	sum, moved := x[0], 0.0
	for i := 1; i < len(x); i++ {
		moves = append(moves, math.Abs(x[i]-x[i-1]))
		if i < base {
			sum, moved = sum+x[i], moved+moves[i-1]
		}
	}
	f, err := ChartFactors(2)
	if err != nil {
		return values, ranges, err
	}
	mean, move := sum/float64(base), moved/float64(base-1)
	values = sameLimits(x, mean, mean-f.E2*move, mean+f.E2*move, move/f.D2)
	ranges = sameLimits(moves, move, f.DLow*move, f.DHigh*move, f.D3*move/f.D2)
	return values, ranges, nil
}

// ChartGroups returns the chart of the groups' means and that of their standard
// deviations. All groups have the same size, 2 to 100; there are two or more.
func ChartGroups(groups [][]float64) (means, spreads ControlChart, err error) {
	if len(groups) < 2 {
		return means, spreads, fmt.Errorf("%w: %d groups; it takes 2 or more", ErrChart, len(groups))
	}
	n := len(groups[0])
	f, err := ChartFactors(n)
	if err != nil {
		return means, spreads, err
	}
	var m, s []float64
	mean, sd := 0.0, 0.0
	for i, g := range groups {
		if len(g) != n {
			return means, spreads, fmt.Errorf("%w: group %d holds %d, the first %d", ErrChart, i+1, len(g), n)
		}
		if err := need(2, g); err != nil {
			return means, spreads, err
		}
		centre, squares := 0.0, 0.0
		for _, v := range g {
			centre += v / float64(n)
		}
		for _, v := range g {
			squares += (v - centre) * (v - centre)
		}
		m, s = append(m, centre), append(s, math.Sqrt(squares/float64(n-1)))
		mean, sd = mean+centre/float64(len(groups)), sd+s[i]/float64(len(groups))
	}
	means = sameLimits(m, mean, mean-f.A3*sd, mean+f.A3*sd, sd/f.C4/math.Sqrt(float64(n)))
	spreads = sameLimits(s, sd, f.BLow*sd, f.BHigh*sd, sd*math.Sqrt(1-f.C4*f.C4)/f.C4)
	return means, spreads, nil
}

// ChartWeighted returns the chart of the exponentially weighted moving average of x: each
// point is weight of the new value and the rest of the point before, beginning at
// centre. sd is the spread of single values; limits lie width standard errors out,
// narrower for the first points. weight is above 0, at most 1; 0.2 to 0.3 with a
// width of 3 is common. Source: Lucas and Saccucci 1990, e-Handbook 6.3.2.4.
func ChartWeighted(x []float64, centre, sd, weight, width float64) (ControlChart, error) {
	if !(weight > 0 && weight <= 1) {
		return ControlChart{}, &science.RangeError{What: "weight of the new value", Got: weight, Min: 0, Max: 1}
	}
	if !(sd > 0) || !(width > 0) || math.IsNaN(centre) {
		return ControlChart{}, fmt.Errorf("%w: spread %v, width %v, centre %v", ErrChart, sd, width, centre)
	}
	if err := need(1, x); err != nil {
		return ControlChart{}, err
	}
	c := ControlChart{Centre: centre, SD: sd * math.Sqrt(weight/(2-weight))}
	at, left := centre, 1.0
	for _, v := range x {
		at += weight * (v - at)
		left *= (1 - weight) * (1 - weight)
		out := width * c.SD * math.Sqrt(1-left)
		c.Points, c.Low, c.High = append(c.Points, at), append(c.Low, centre-out), append(c.High, centre+out)
	}
	return c, nil
}

// ChartTogether returns the chart of how far each row lies from the mean of known rows in
// all its columns at once, such as L*, a*, b*: Hotelling's T squared, with the one
// upper limit that a new row exceeds with the chance alpha. known has two more rows
// than columns at least and its columns are not proportional. Source: Tracy, Young and
// Mason 1992, equation 2.
func ChartTogether(known, rows [][]float64, alpha float64) (ControlChart, error) {
	m := len(known)
	if m == 0 || !(alpha > 0 && alpha < 1) {
		return ControlChart{}, fmt.Errorf("%w: %d known rows, chance %v", ErrChart, m, alpha)
	}
	p := len(known[0])
	if p < 1 || m < p+2 {
		return ControlChart{}, fmt.Errorf("%w: %d rows of %d columns; it takes %d rows", ErrChart, m, p, p+2)
	}
	for _, r := range append(append([][]float64{}, known...), rows...) {
		if len(r) != p {
			return ControlChart{}, ErrUnequal
		}
		if err := need(1, r); err != nil {
			return ControlChart{}, err
		}
	}
	mean := make([]float64, p)
	for _, r := range known {
		for j, v := range r {
			mean[j] += v / float64(m)
		}
	}
	s := mat.NewSymDense(p, nil)
	for _, r := range known {
		for i := range p {
			for j := i; j < p; j++ {
				s.SetSym(i, j, s.At(i, j)+(r[i]-mean[i])*(r[j]-mean[j])/float64(m-1))
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(s) || chol.Cond() > 1e14 {
		return ControlChart{}, ErrNoSpread
	}
	var points []float64
	for _, r := range rows {
		off, solved := mat.NewVecDense(p, nil), mat.NewVecDense(p, nil)
		for j, v := range r {
			off.SetVec(j, v-mean[j])
		}
		if err := chol.SolveVecTo(solved, off); err != nil {
			return ControlChart{}, fmt.Errorf("measure row: %w", err)
		}
		points = append(points, mat.Dot(off, solved))
	}
	mf, pf := float64(m), float64(p)
	scale := pf * (mf + 1) * (mf - 1) / (mf * (mf - pf))
	limit := scale * distuv.F{D1: pf, D2: mf - pf}.Quantile(1-alpha)
	return sameLimits(points, pf, math.Inf(-1), limit, math.Sqrt(2*pf)), nil
}

// RunLength returns how many points it takes on average until a chart of single
// normal values calls, when the mean has moved by shift spreads: it calls at a point
// three spreads from the centre, and at run points in a row on one side (0: that rule
// is not used). With shift 0 it is how long it takes until a false alarm. The limits
// are taken as known for certain. Source: Champ and Woodall 1987.
func RunLength(shift float64, run int) (float64, error) {
	if math.IsNaN(shift) || math.Abs(shift) > 30 {
		return 0, &science.RangeError{What: "shift in spreads", Got: shift, Min: -30, Max: 30, Ref: SourceRuns}
	}
	if run < 0 || run == 1 || run > 1000 {
		return 0, &science.RangeError{What: "points in a row", Got: float64(run), Min: 2, Max: 1000, Ref: SourceRuns}
	}
	cdf := distuv.UnitNormal.CDF
	up, down := cdf(3-shift)-cdf(-shift), cdf(-shift)-cdf(-3-shift)
	if run == 0 {
		return 1 / (1 - up - down), nil
	}
	// a(k): points still to come after k in a row above, as p + q*b(1) with b(1) the
	// same after the first below; and the other way round.
	after := func(same, other float64) (p, q float64) {
		for range run - 1 {
			p, q = 1+same*p, other+same*q
		}
		return p, q
	}
	pu, qu := after(up, down)
	pd, qd := after(down, up)
	above := (pu + qu*pd) / (1 - qu*qd)
	below := pd + qd*above
	return 1 + up*above + down*below, nil
}
