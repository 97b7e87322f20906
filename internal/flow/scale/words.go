package scale

import (
	"fmt"
	"math"

	"aerugo/internal/science/chamber"
	"aerugo/internal/studio"
)

// Fits reports whether a piece as it stands goes into a chamber, as far as sizes are
// known.
func Fits(c studio.Chamber, sizeMM [3]float64) bool {
	return most(c, sizeMM) != 0 && (c.VolumeL == 0 || sizeMM[0]*sizeMM[1]*sizeMM[2]*1e-6 <= c.VolumeL)
}

// Amount writes so many grams or millilitres with the figures that count.
func Amount(v float64, u studio.Unit) string {
	if math.IsInf(v, 1) {
		return "no amount"
	}
	return fmt.Sprintf("%s %s", figures(v), u.Label())
}

// Range writes the bounds of an amount: "9.2 to 15 mL", or the amount where they are one.
func Range(s Span, u studio.Unit) string {
	if s.High-s.Low <= 0.02*s.Value {
		return Amount(s.Value, u)
	}
	if math.IsInf(s.High, 1) {
		return fmt.Sprintf("%s %s or more", figures(s.Low), u.Label())
	}
	if figures(s.Low) == figures(s.High) {
		return Amount(s.Value, u)
	}
	return fmt.Sprintf("%s to %s %s", figures(s.Low), figures(s.High), u.Label())
}

// figures writes a number with two figures, or all before the point.
func figures(v float64) string {
	switch a := math.Abs(v); {
	case a >= 10 || a == 0:
		return fmt.Sprintf("%.0f", v)
	case a >= 1:
		return fmt.Sprintf("%.1f", v)
	default:
		return fmt.Sprintf("%.2g", v)
	}
}

// PadWords says what one stay's pad takes.
func (s Stay) PadWords() string {
	text := fmt.Sprintf("%s of %.3g %% ammonia", Amount(RoundUp(s.Pad.SolutionG), studio.Gram), 100*s.Pad.Strength)
	if s.Pad.Charges > 1 {
		text += fmt.Sprintf(", %d times, every %s", s.Pad.Charges, spoken(s.Pad.EveryH))
	}
	return text
}

// PadRange is the bounds of one charge in words; empty where there are none.
func (s Stay) PadRange() string {
	if s.Solution.High-s.Solution.Low < 0.02*s.Solution.Value {
		return ""
	}
	return Range(s.Solution, studio.Gram)
}

// TimeWords says how long it stays in.
func (s Stay) TimeWords() string { return spoken(math.Round(s.H.Value*12) / 12) }

// TimeRange is the bounds of the time in words; empty where there are none.
func (s Stay) TimeRange() string {
	if s.H.High-s.H.Low < 1.0/60 {
		return ""
	}
	if math.IsInf(s.H.High, 1) {
		return spoken(s.H.Low) + " or more"
	}
	return spoken(s.H.Low) + " to " + spoken(s.H.High)
}

// SaltWords says when a stay's salt has dissolved, and how long the face is then wet.
func (a Air) SaltWords() string {
	switch {
	case !a.Wet:
		return "dry: the fume meets bare metal"
	case !a.Salt:
		return "wet for all " + spoken(a.WetH.Value)
	case math.IsInf(a.TakesH.Value, 1):
		return "not dissolved within a day more"
	}
	high := "more than a day"
	if !math.IsInf(a.TakesH.High, 1) {
		high = spoken(a.TakesH.High)
	}
	if a.TakesH.Value < 1.0/60 {
		return "dissolved at once, then wet for " + spoken(a.WetH.Value)
	}
	return fmt.Sprintf("dissolved after %s (%s to %s), then wet for %s", spoken(a.TakesH.Value), spoken(a.TakesH.Low), high, spoken(a.WetH.Value))
}

// FillWords says how long vapour takes to fill the piece's chamber.
func (s Stay) FillWords() string {
	return "up to " + chamber.Spoken(s.Filling) + ", less where the air moves"
}
