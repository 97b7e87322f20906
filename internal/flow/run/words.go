package run

import (
	"fmt"
	"strconv"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// order of doing, per kind: what is said when the step is to be done, or for a
// dwell when it is to be ended.
var doing = map[studio.StepKind]string{
	studio.Degrease: "Degrease", studio.Abrade: "Abrade", studio.Pickle: "Take out of the pickle",
	studio.Rinse: "Rinse", studio.Dry: "See whether dry:", studio.Wet: "Wet", studio.Sprinkle: "Sprinkle",
	studio.Bury: "Dig out", studio.Fume: "Take out", studio.Rest: "End the rest of", studio.BrushOut: "Brush out",
	studio.Flip: "Turn over", studio.Heat: "Heat", studio.Neutralise: "Neutralise", studio.Seal: "Seal",
}

// verb returns the words a task of this kind begins with.
func verb(k studio.StepKind) string {
	if v, ok := doing[k]; ok {
		return v
	}
	return string(k)
}

// piece names a swatch and the faces worked on: "swatch 12, front".
func piece(t studio.Treatment) string {
	return fmt.Sprintf("swatch %d, %s", t.Swatch, facesWord(t.Faces))
}

func facesWord(f studio.Faces) string {
	if f == studio.OnBoth {
		return "both faces"
	}
	return string(f)
}

// Words writes one step as a line for the bench: "Fume 4 h (−10 min, +20 min)
// with ammonia water 10 %".
func Words(s studio.Step) string {
	text := strings.ToUpper(string(s.Kind[:min(1, len(s.Kind))])) + string(s.Kind[min(1, len(s.Kind)):])
	if s.Duration > 0 {
		text += " " + studio.Span(s.Duration)
		if tol := tolerance(s); tol != "" {
			text += " (" + tol + ")"
		}
	}
	if !s.Amount.IsZero() {
		text += ", " + s.Amount.String()
	}
	if s.Material != "" {
		text += " with " + material(s.Material)
		if s.Strength > 0 && s.Strength < 100 {
			text += " " + strconv.FormatFloat(s.Strength, 'f', -1, 64) + " %"
		}
		for _, p := range s.Also {
			text += " + " + material(p.Material)
			if p.Strength > 0 {
				text += " " + strconv.FormatFloat(p.Strength, 'f', -1, 64) + " %"
			}
		}
	}
	if s.Tool != "" {
		text += ", " + s.Tool
	}
	if s.Faces != "" {
		text += ", on " + facesWord(s.Faces)
	}
	return text
}

func tolerance(s studio.Step) string {
	switch {
	case s.Early > 0 && s.Late > 0:
		return "−" + studio.Span(s.Early) + ", +" + studio.Span(s.Late)
	case s.Late > 0:
		return "+" + studio.Span(s.Late)
	case s.Early > 0:
		return "−" + studio.Span(s.Early)
	}
	return ""
}

// material returns the plain name of a material.
func material(key string) string {
	if s, ok := matter.Lookup(key); ok {
		return s.Name
	}
	return key
}

// SettingsLine writes the levels of a treatment: "240 min · wetted".
func SettingsLine(settings []studio.Setting) string {
	var labels []string
	for _, s := range settings {
		labels = append(labels, s.Level.Label)
	}
	return strings.Join(labels, " · ")
}
