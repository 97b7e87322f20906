package evidence

import (
	"fmt"
	"math"

	"aerugo/internal/flow/learn"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
)

// A Shift is the change in look from the swatches of one version to those of another,
// in ΔE00, with its 95 % interval when Interval is set. Doubt says what else it may be.
type Shift struct {
	DE, Low, High float64
	Interval      bool
	From, To      int // swatches behind it
	Direction     string
	Doubt         string
	Words         string
}

// ShiftOf compares the mean looks of two versions; false when one has no swatch. What
// was fumed together counts as one: with two or more fillings of each, fillings are
// compared, by Welch's test along the way from one mean look to the other.
func ShiftOf(from, to []Made) (Shift, bool) {
	a, b := finite(from), finite(to)
	if len(a) == 0 || len(b) == 0 {
		return Shift{}, false
	}
	x, y := mean(a), mean(b)
	s := Shift{DE: colour.Difference(x, y), From: len(a), To: len(b), Direction: learn.Direction(x, y)}
	way := [3]float64{y.L - x.L, y.A - x.A, y.B - x.B}
	size := math.Sqrt(way[0]*way[0] + way[1]*way[1] + way[2]*way[2])
	along := func(m Made) float64 {
		if size == 0 {
			return 0
		}
		return ((m.Lab.L-x.L)*way[0] + (m.Lab.A-x.A)*way[1] + (m.Lab.B-x.B)*way[2]) / size * s.DE / size
	}
	before, after := byFilling(a, along), byFilling(b, along)
	if len(before) < 2 || len(after) < 2 {
		s.Doubt = "One of the two was made in one filling only: part of the difference may be that of the fillings."
		before, after = eachOf(a, along), eachOf(b, along)
	}
	if c, err := stat.WelchDifference(before, after); err == nil {
		if low, high, err := c.Interval(0.95); err == nil {
			s.Low, s.High, s.Interval = max(0, low), high, true
		}
	}
	switch {
	case !s.Interval:
		s.Words = fmt.Sprintf("The look changed by %.1f ΔE00%s, read from %s: too few to say how sure that is.", s.DE, toward(s.Direction), counted(s.From, s.To))
	case s.Low <= 0:
		s.Words = fmt.Sprintf("No change of look that can be told from chance: %.1f ΔE00, at most %.1f, read from %s.", s.DE, s.High, counted(s.From, s.To))
	default:
		s.Words = fmt.Sprintf("The look changed by %.1f ΔE00 (%.1f to %.1f)%s, read from %s.", s.DE, s.Low, s.High, toward(s.Direction), counted(s.From, s.To))
	}
	return s, true
}

func toward(direction string) string {
	if direction == "" {
		return ""
	}
	return ", " + direction
}

func counted(a, b int) string { return fmt.Sprintf("%d and %d swatches", a, b) }

func finite(all []Made) (out []Made) {
	for _, m := range all {
		if sum := m.Lab.L + m.Lab.A + m.Lab.B; !math.IsNaN(sum) && !math.IsInf(sum, 0) {
			out = append(out, m)
		}
	}
	return out
}

func mean(all []Made) (l colour.Lab) {
	n := float64(len(all))
	for _, m := range all {
		l.L, l.A, l.B = l.L+m.Lab.L/n, l.A+m.Lab.A/n, l.B+m.Lab.B/n
	}
	return l
}

func eachOf(all []Made, value func(Made) float64) (out []float64) {
	for _, m := range all {
		out = append(out, value(m))
	}
	return out
}

// byFilling returns the mean of each filling; swatches of fillings nobody knows stand
// together.
func byFilling(all []Made, value func(Made) float64) (out []float64) {
	var order []string
	sum, n := map[string]float64{}, map[string]float64{}
	for _, m := range all {
		key := m.Day + " / " + m.Filling
		if n[key] == 0 {
			order = append(order, key)
		}
		sum[key] += value(m)
		n[key]++
	}
	for _, key := range order {
		out = append(out, sum[key]/n[key])
	}
	return out
}
