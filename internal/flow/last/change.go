package last

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Change is what a test did to a face between two photographs. DE is CIEDE2000;
// Low and High allow for what the photographs can be trusted to. Lost is the share of
// the coloured area that went, nil where bare metal could not be told in both. Grey is
// the step of ISO 105-A02 with the like difference.
type Change struct {
	DE, Low, High float64
	Shift         colour.Lab
	Seen          bool // more than the photographs alone could differ
	Lost          *studio.Coverage
	Grey          string
	Words         string
}

// ChangeOf compares a face before and after. Errors are *studio.Problem: a
// photograph that was not measured or has no grey card.
func ChangeOf(before, after *studio.Measurement) (Change, error) {
	var c Change
	for _, m := range []*studio.Measurement{before, after} {
		if m == nil {
			return c, studio.Problemf(studio.Invalid, "photo", "A photograph before and one after are needed, both measured.")
		}
		if !m.Calibrated {
			return c, studio.Problemf(studio.Invalid, "photo", "Without a grey card in both photographs they show the lamp as much as the face.")
		}
	}
	c.DE = colour.Difference(before.Lab, after.Lab)
	c.Low, c.High = max(0, c.DE-learn.PhotoHigh), c.DE+learn.PhotoHigh
	c.Shift = minus(after.Lab, before.Lab)
	c.Seen = c.DE > learn.PhotoHigh
	c.Grey = GreyStep(colour.Difference76(before.Lab, after.Lab))
	if c.Seen {
		c.Words = fmt.Sprintf("It became %s: the colour moved by %.0f (%.0f to %.0f).", orChanged(learn.Direction(before.Lab, after.Lab)), c.DE, c.Low, c.High)
	} else {
		c.Words = fmt.Sprintf("No change of colour can be told from these photographs (at most %.0f).", math.Ceil(c.High))
	}
	if c.Lost = lost(before.Coverage, after.Coverage); c.Lost != nil {
		switch {
		case c.Lost.High <= 0.005:
			c.Words += " None of the colour came off."
		case c.Lost.Low <= 0:
			c.Words += fmt.Sprintf(" At most %.0f %% of the coloured area is gone.", math.Ceil(100*c.Lost.High))
		default:
			c.Words += fmt.Sprintf(" %.0f %% of the coloured area is gone (%.0f to %.0f %%).", 100*c.Lost.Value, 100*c.Lost.Low, 100*c.Lost.High)
		}
	}
	return c, nil
}

func orChanged(words string) string {
	if words == "" {
		return "different"
	}
	return words
}

// lost is the share of the coloured area that went. The same rule read both, so what
// the rules differ by is left out where it is known; else the whole ranges count.
func lost(before, after *studio.Coverage) *studio.Coverage {
	if before == nil || after == nil || before.Value < 0.02 {
		return nil
	}
	share := func(b, a float64) float64 { return min(max((b-a)/b, 0), 1) }
	out := studio.Coverage{Value: share(before.Value, after.Value), Rule: after.Rule}
	bl, bh, al, ah := before.Low, before.High, after.Low, after.High
	if before.Sampling != nil && after.Sampling != nil && before.Rule == after.Rule {
		bl, bh, al, ah = before.Sampling.Low, before.Sampling.High, after.Sampling.Low, after.Sampling.High
	}
	out.Low, out.High = out.Value, out.Value
	if bl > 0 {
		out.Low = share(bl, ah)
	}
	if bh > 0 {
		out.High = share(bh, al)
	}
	return &out
}

// A Beyond is what a face changed more than the like one that was kept in the dark.
type Beyond struct {
	DE    float64
	Seen  bool
	Words string
}

// BeyondDark takes from a test's change what the face in the dark went through. Two
// pairs of photographs are in it, so it has to be larger to be told.
func BeyondDark(from colour.Lab, test, dark Change) Beyond {
	to := plus(from, minus(test.Shift, dark.Shift))
	to.L = min(max(to.L, 0), 100)
	b := Beyond{DE: colour.Difference(from, to)}
	b.Seen = b.DE > learn.PhotoHigh*math.Sqrt2
	switch {
	case b.Seen:
		b.Words = fmt.Sprintf("Beyond the one kept in the dark it became %s, by %.0f.", orChanged(learn.Direction(from, to)), b.DE)
	case test.Seen && dark.Seen:
		b.Words = "The one kept in the dark changed as well, so it was not the light or the weather alone."
	default:
		b.Words = "It can't be told from the one kept in the dark."
	}
	return b
}

// A Time is what was found some months after the start of a test: in dE00, or in
// shares of the area lost.
type Time struct{ Months, Value float64 }

// A Curve is how a test goes on: a straight line from what it was at the start, with
// the 90 % interval of the line at each time told.
type Curve struct {
	PerYear Span
	At      []CurvePoint
	Months  float64 // the last time that was looked
	Words   string

	line              stat.Line
	n, middle, spread float64
}

// On returns the line some months after the start with its 90 % interval. Source:
// NIST/SEMATECH e-Handbook, 4.5.1.1.
func (c Curve) On(months float64) CurvePoint {
	t := distuv.StudentsT{Nu: float64(c.line.DF), Sigma: 1}.Quantile((1 + Conf) / 2)
	half := t * c.line.ResidualSD * math.Sqrt(1/c.n+(months-c.middle)*(months-c.middle)/c.spread)
	v := c.line.At(months)
	return CurvePoint{months, v, v - half, v + half}
}

// A CurvePoint is the line at one time.
type CurvePoint struct{ Months, Value, Low, High float64 }

// ErrShort says that three times at the least make a curve.
var ErrShort = errors.New("fewer than three times")

// CurveOf fits a line through three or more times, the start not counted; its 0 is
// where the colour began, so the line need not go through it. It is never drawn past
// the last time looked. unit follows the numbers in Words: " ΔE00", " % of the area".
func CurveOf(times []Time, unit string) (Curve, error) {
	var c Curve
	var x, y []float64
	for _, t := range times {
		if t.Months < 0 || math.IsNaN(t.Value) || math.IsInf(t.Value, 0) {
			return c, studio.Problemf(studio.Invalid, "at", "A reading %.1f months after the start can't be right.", t.Months)
		}
		x, y = append(x, t.Months), append(y, t.Value)
		c.Months = max(c.Months, t.Months)
	}
	distinct := map[float64]bool{}
	for _, m := range x {
		distinct[math.Round(m*30)] = true
	}
	if len(distinct) < 3 {
		return c, ErrShort
	}
	line, err := stat.SlopeFit(x, y)
	if err != nil {
		return c, fmt.Errorf("fit durability: %w", err)
	}
	lo, hi, err := line.SlopeInterval(Conf)
	if err != nil {
		return c, fmt.Errorf("fit durability: %w", err)
	}
	c.PerYear = Span{12 * line.Slope, 12 * lo, 12 * hi, true}
	c.line, c.n = line, float64(len(x))
	for _, v := range x {
		c.middle += v / c.n
	}
	for _, v := range x {
		c.spread += (v - c.middle) * (v - c.middle)
	}
	const steps = 24
	for i := range steps + 1 {
		c.At = append(c.At, c.On(c.Months*float64(i)/steps))
	}
	switch {
	case lo > 0:
		c.Words = fmt.Sprintf("It goes on changing: %.1f%s a year, between %.1f and %.1f.", c.PerYear.Value, unit, c.PerYear.Low, c.PerYear.High)
	case hi < 0:
		c.Words = "What was seen at first is going back."
	default:
		c.Words = fmt.Sprintf("No steady change can be told over %s (between %s and %s a year).", longSpan(monthsOf(c.Months)), strings.ReplaceAll(fmt.Sprintf("%.1f", c.PerYear.Low), "-", "−"), fmt.Sprintf("%.1f%s", c.PerYear.High, unit))
	}
	c.Words += fmt.Sprintf(" Nothing is known past %s.", longSpan(monthsOf(c.Months)))
	return c, nil
}
