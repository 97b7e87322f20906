package scale

import (
	"math"
	"slices"

	"aerugo/internal/studio"
)

// A HandLine is the hands' time of one step over all pieces, in minutes. From says
// whether it rests on steps that were done or on the recipe.
type HandLine struct {
	Part, Step int
	Kind       studio.StepKind
	Minutes    Span
	ByArea     bool
	Done       int // how many done steps it rests on; 0: as the recipe says
}

// setup is the share of a step on a swatch that is taking things up and putting them
// down, which a larger piece does not lengthen, by step (common practice, no source): a
// spray is soon done on a large face too, rubbing is not.
func setup(k studio.StepKind) Span {
	switch k {
	case studio.Abrade:
		return Span{Value: 0.4, Low: 0.2, High: 0.7}
	case studio.BrushOut, studio.Degrease:
		return Span{Value: 0.7, Low: 0.4, High: 0.9}
	}
	return Span{Value: 0.8, Low: 0.5, High: 0.95}
}

// chamberMinutes are the hands at one filling of the chamber: pad wetted, pieces in
// and out, lid lifted with care (common practice, no source).
var chamberMinutes = Span{Value: 6, Low: 3, High: 15}

// byArea reports whether a step takes longer on a larger face.
func byArea(k studio.StepKind) bool {
	switch k {
	case studio.Wet, studio.Sprinkle, studio.BrushOut, studio.Abrade, studio.Degrease, studio.Seal, studio.Neutralise:
		return true
	}
	return false
}

// fewest is how many done steps are needed before they count instead of the recipe.
const fewest = 3

// hands reckons the time that hands need, and the waiting.
func (t *Takes) hands() {
	n := float64(t.Count)
	loads := float64(t.Full.Loads)
	assumed := false
	for i, p := range t.Parts {
		tried, _ := p.tried()
		for k, s := range p.Steps {
			l := HandLine{Part: i, Step: k, Kind: s.Kind}
			switch {
			case s.Kind == studio.Fume:
				l.Minutes = times(chamberMinutes, loads)
				t.Waits += s.Duration.Hours() * loads
			case s.Kind.Dwell():
				t.Waits += s.Duration.Hours() // side by side
				continue
			default:
				one, done, area := t.oneFace(s, tried.FacesM2(p.on(s)))
				l.Done = done
				l.Minutes = times(one, n)
				if byArea(s.Kind) && area > 0 {
					l.ByArea, assumed = true, assumed || t.faceM2(p.on(s)) != area
					l.Minutes = grown(l.Minutes, setup(s.Kind), t.faceM2(p.on(s))/area)
				}
			}
			if l.Minutes.High == 0 {
				continue
			}
			t.Hands = Span{Value: t.Hands.Value + l.Minutes.Value, Low: t.Hands.Low + l.Minutes.Low, High: t.Hands.High + l.Minutes.High}
			t.Hand = append(t.Hand, l)
		}
	}
	if assumed {
		t.assume("share of a step that a larger face does not lengthen", "80 % of wetting and sprinkling (50 to 95), 70 % of degreasing and brushing out (40 to 90), 40 % of abrading (20 to 70)")
	}
}

// oneFace is the time of a step in minutes as done before, or as the recipe says,
// and the area it is for.
func (t *Takes) oneFace(s studio.Step, tried float64) (minutes Span, done int, area float64) {
	var took, areas []float64
	for _, h := range t.Ask.Hands {
		if h.Kind == s.Kind && h.Minutes > 0 && h.AreaM2 > 0 {
			took, areas = append(took, h.Minutes), append(areas, h.AreaM2)
		}
	}
	if len(took) < fewest {
		m := s.Duration.Minutes()
		return Span{Value: m, Low: m, High: m}, 0, tried
	}
	slices.Sort(took)
	slices.Sort(areas)
	n := len(took)
	return Span{Value: middle(took), Low: took[n/10], High: took[n-1-n/10]}, n, middle(areas)
}

func middle(sorted []float64) float64 {
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

// grown is a step's time on a face so many times as large. A smaller face can't take
// less than the setting up.
func grown(m, setup Span, larger float64) Span {
	by := func(fixed float64) float64 { return fixed + (1-fixed)*larger }
	v, a, b := by(setup.Value), by(setup.Low), by(setup.High)
	return Span{Value: m.Value * v, Low: m.Low * math.Min(a, b), High: m.High * math.Max(a, b)}
}
