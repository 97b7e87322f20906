package recipefile

import (
	"regexp"
	"slices"
)

// measured is a number with what it measures, in a text.
var measured = regexp.MustCompile(`(?i)[~±<>≈]*\s*\d+(?:[.,]\d+)?(?:\s*(?:-|–|to|±)\s*\d+(?:[.,]\d+)?)?\s*(?:%|°\s?c?|(?:g|mg|kg|ml|l|cl|oz|lb|qt|tsp|tbsp|cup|pinch|drop|spray|s|sec|second|min|minute|h|hr|hour|d|day|week|wt%|vol%)(?:e?s)?(?:\s*/\s*(?:m2|m²|l|ml))?)(?:\b|$|[\s,.;:)])`)

var digits = regexp.MustCompile(`\d+(?:[.,]\d+)?`)

// HideIn takes figures of amounts, strengths and times out of a text.
func HideIn(text string) string {
	text = measured.ReplaceAllString(text, " some ")
	return digits.ReplaceAllString(text, "…")
}

// Hide returns the file without exact amounts, strengths and times: figures become
// words, and what people wrote freely, where a figure may stand, is left out.
func Hide(f File) File {
	f.Recipes = slices.Clone(f.Recipes)
	for i, r := range f.Recipes {
		r.Amounts = Hidden
		r.Name = HideIn(r.Name)
		if r.BasedOn != nil {
			b := *r.BasedOn
			b.Name = HideIn(b.Name)
			r.BasedOn = &b
		}
		r.Versions = slices.Clone(r.Versions)
		for j, v := range r.Versions {
			v.Why = ""
			steps := make([]Step, len(v.Steps))
			for k, s := range v.Steps {
				steps[k] = hideStep(s)
			}
			v.Steps = steps
			r.Versions[j] = v
		}
		if e := r.Evidence; e != nil {
			h := Evidence{Swatches: e.Swatches, Looks: slices.Clone(e.Looks)}
			for j := range h.Looks {
				h.Looks[j].Setting = ""
			}
			r.Evidence = &h
		}
		r.Cautions = slices.Clone(r.Cautions)
		for j := range r.Cautions {
			r.Cautions[j] = HideIn(r.Cautions[j])
		}
		r.Pictures = slices.Clone(r.Pictures)
		for j := range r.Pictures {
			r.Pictures[j].Alt = HideIn(r.Pictures[j].Alt)
		}
		f.Recipes[i] = r
	}
	return f
}

// hideStep turns the figures of a step into words.
func hideStep(s Step) Step {
	out := Step{Kind: s.Kind, Substance: s.Substance, Words: HideIn(s.Words), Tool: HideIn(s.Tool), Faces: s.Faces, Place: HideIn(s.Place)}
	for _, p := range s.Also {
		out.Also = append(out.Also, Part{Substance: p.Substance, Words: HideIn(p.Words)})
	}
	r := Rough{}
	if s.Amount != nil {
		r.Amount = "an amount that is not told"
		if s.Amount.Hand != "" {
			r.Amount = HideIn(s.Amount.Hand)
		}
	}
	switch {
	case s.Strength == 0 || s.Strength == 100:
	case s.Strength < 5:
		r.Strength = "weak"
	case s.Strength < 20:
		r.Strength = "of middling strength"
	default:
		r.Strength = "strong"
	}
	switch d := s.Duration; {
	case d == 0:
	case d < 60:
		r.Duration = "seconds"
	case d < 3600:
		r.Duration = "minutes"
	case d < 86400:
		r.Duration = "hours"
	default:
		r.Duration = "days"
	}
	if r != (Rough{}) {
		out.Rough = &r
	}
	return out
}
