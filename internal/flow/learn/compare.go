package learn

import (
	"fmt"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// How far the colour read from one calibrated phone photograph may differ from
// that read from another, in ΔE00. Computed by us from three public photographs
// of a colour target, each levelled with one grey patch: 4 to 6 on average.
const (
	PhotoLow  = 4.0
	PhotoHigh = 6.0
)

// A Comparison is looks compared two by two.
type Comparison struct {
	Pairs []Pair
	Notes []string
}

// A Pair is the difference of looks A and B, given by their place in the list.
//
// OK is false when the difference can't be given; Why then says why in words.
// Low and High allow for PhotoHigh between two photographs. Same says that the
// two can't be told apart from these photographs. Sentence says all of it.
type Pair struct {
	A, B      int
	OK        bool
	Why       string
	DE        float64
	Low, High float64
	Same      bool
	Direction string // of B against A; empty when Same
	Sentence  string
}

// Compare returns the CIEDE2000 differences between looks, each with what the
// photographs can be trusted to. A look that is not measured, or whose
// photograph has no grey patch, has no difference to any other.
func Compare(looks []studio.Look) Comparison {
	var c Comparison
	good := 0
	for i, a := range looks {
		if whyNot(a) == "" {
			good++
		}
		for j := i + 1; j < len(looks); j++ {
			c.Pairs = append(c.Pairs, pair(i, j, a, looks[j]))
		}
	}
	if out := len(looks) - good; out > 0 {
		c.Notes = append(c.Notes, fmt.Sprintf("%s can't be compared in numbers: without a grey patch a photograph shows its lamp as much as the swatch. Photograph again with the grey card beside the swatch, or mark the card if it is in the picture.", count(out, "look")))
	}
	if good > 1 {
		c.Notes = append(c.Notes, fmt.Sprintf("Between two photographs with a grey card the same colour may read ΔE00 %.0f to %.0f apart.", PhotoLow, PhotoHigh))
	}
	return c
}

func pair(i, j int, a, b studio.Look) Pair {
	p := Pair{A: i, B: j}
	for _, l := range []studio.Look{a, b} {
		if why := whyNot(l); why != "" {
			p.Why = why
			p.Sentence = "No difference is given: " + why
			return p
		}
	}
	p.OK = true
	p.DE = colour.Difference(a.Measurement.Lab, b.Measurement.Lab)
	p.Low, p.High = max(0, p.DE-PhotoHigh), p.DE+PhotoHigh
	p.Same = p.DE <= PhotoHigh
	if p.Same {
		p.Sentence = fmt.Sprintf("ΔE00 %s, give or take %.0f to %.0f: can't tell these two apart from their photographs.", one(p.DE), PhotoLow, PhotoHigh)
		return p
	}
	p.Direction = Direction(a.Measurement.Lab, b.Measurement.Lab)
	how := ""
	if p.Direction != "" {
		how = fmt.Sprintf("; %s is %s than %s", name(b), p.Direction, name(a))
	}
	p.Sentence = fmt.Sprintf("ΔE00 %s, give or take %.0f to %.0f%s.", one(p.DE), PhotoLow, PhotoHigh, how)
	return p
}

// whyNot says why a look can't be compared, or nothing if it can.
func whyNot(l studio.Look) string {
	switch {
	case l.Measurement == nil:
		return fmt.Sprintf("%s is not measured.", name(l))
	case !l.Measurement.Calibrated:
		return fmt.Sprintf("the photograph of %s has no grey patch, so its colour depends on the lamp and the camera.", name(l))
	}
	return ""
}

func name(l studio.Look) string { return fmt.Sprintf("swatch %d, %s", l.Swatch, l.Face) }
