package scale

import (
	"fmt"
	"slices"
	"time"

	"aerugo/internal/science/chamber"
	"aerugo/internal/studio"
)

// roundTo is how finely a time is written into a recipe.
const roundTo = 5 * time.Minute

// StepsFor returns the steps of a part as they are to be done on the piece: loadings
// per m², the piece's chamber, the pad's strength and time as proposed, and in the note
// what the pad takes. Where nothing changes they are as they were. False for a part
// whose ammonia is refused.
func (t Takes) StepsFor(part int) ([]studio.Step, bool) {
	if part < 0 || part >= len(t.Parts) || t.Safe.Refused != "" {
		return nil, false
	}
	p := t.Parts[part]
	steps := slices.Clone(p.Steps)
	for i := range steps {
		if steps[i].Kind != studio.Fume {
			steps[i].Amount = p.perArea(steps[i])
		}
	}
	for _, s := range t.Stays {
		if s.Part != part {
			continue
		}
		for i := s.First; i <= s.Last; i++ {
			if steps[i].Kind == studio.Fume && t.To.Chamber.ID != 0 {
				steps[i].ChamberID = t.To.Chamber.ID
			}
		}
		last := &steps[s.Last]
		if by := s.H.Value - s.WasH; by > 0.04 || by < -0.04 {
			d := last.Duration + time.Duration(by*float64(time.Hour))
			last.Duration = max(d.Round(roundTo), roundTo)
			last.Early = min(last.Early, last.Duration)
		}
		first := &steps[s.First]
		first.Material = "ammonia-water"
		if s.PadWas.Strength != s.Pad.Strength || first.Strength == 0 {
			first.Strength = round(100*s.Pad.Strength, 2)
		}
		note := fmt.Sprintf("Pad: %.0f g of %.3g %%", RoundUp(s.Pad.SolutionG), 100*s.Pad.Strength)
		if s.Pad.Charges > 1 {
			note += fmt.Sprintf(", wetted afresh every %s", chamber.Spoken(time.Duration(s.Pad.EveryH*float64(time.Hour))))
		}
		note += fmt.Sprintf(" for %s at once.", count(t.Full.Together, "piece"))
		if first.Note != "" {
			note = first.Note + " " + note
		}
		first.Note = note
	}
	return steps, true
}
