package site

import (
	"fmt"
	"strings"
	"time"

	"aerugo/internal/recipefile"
	"aerugo/internal/studio"
)

// StepWords puts a step of a recipe file into words: what is done, and how, line by line.
func StepWords(s recipefile.Step) (what string, lines []string) {
	with := func(key, words string) string {
		if name := substanceName(key); name != key {
			return name
		}
		if words != "" {
			return words
		}
		return key
	}
	var parts []string
	if s.Substance != "" || s.Words != "" {
		parts = append(parts, "with "+with(s.Substance, s.Words))
	}
	if s.Strength > 0 && s.Strength < 100 {
		parts = append(parts, fmt.Sprintf("%.3g %% by mass", s.Strength))
	}
	for _, p := range s.Also {
		if p.Strength > 0 {
			parts = append(parts, fmt.Sprintf("and %s, %.3g %% by mass", with(p.Substance, p.Words), p.Strength))
		} else {
			parts = append(parts, "and "+with(p.Substance, p.Words))
		}
	}
	if a := s.Amount; a != nil {
		text := studio.Amount{Value: a.Value, SD: a.Spread, Unit: studio.Unit(a.Unit), Hand: a.Hand, Assumed: a.Assumed}.String()
		if studio.Unit(a.Unit).PerArea() {
			text += " of each treated face"
		}
		parts = append(parts, text)
	}
	if r := s.Rough; r != nil {
		for _, text := range []string{r.Strength, r.Amount} {
			if text != "" {
				parts = append(parts, text)
			}
		}
	}
	if len(parts) > 0 {
		lines = append(lines, strings.Join(parts, ", "))
	}
	if s.Duration > 0 {
		text := studio.Span(seconds(s.Duration))
		switch {
		case s.Sooner <= 0 && s.Later > 0:
			text = fmt.Sprintf("%s (up to %s later is fine)", text, studio.Span(seconds(s.Later)))
		case s.Later <= 0 && s.Sooner > 0:
			text = fmt.Sprintf("%s (up to %s sooner is fine)", text, studio.Span(seconds(s.Sooner)))
		case s.Sooner > 0:
			text = fmt.Sprintf("%s (%s sooner to %s later is fine)", text, studio.Span(seconds(s.Sooner)), studio.Span(seconds(s.Later)))
		}
		lines = append(lines, text)
	} else if s.Rough != nil && s.Rough.Duration != "" {
		lines = append(lines, s.Rough.Duration)
	}
	var where []string
	if s.Place != "" {
		where = append(where, s.Place)
	}
	if s.Tool != "" {
		where = append(where, "tool: "+s.Tool)
	}
	switch s.Faces {
	case "both":
		where = append(where, "on both faces")
	case "front", "back":
		where = append(where, "on the "+s.Faces)
	}
	if len(where) > 0 {
		lines = append(lines, strings.Join(where, ", "))
	}
	if s.Note != "" {
		lines = append(lines, s.Note)
	}
	return s.Kind, lines
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// MakerWords names who a recipe is from.
func MakerWords(by, at string) string {
	switch {
	case by != "" && at != "":
		return by + ", " + at
	case by != "":
		return by
	case at != "":
		return at
	}
	return "somebody who is not named"
}
