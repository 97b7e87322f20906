package run

import (
	"sort"

	"aerugo/internal/studio"
)

// A Sheet is what the bench sheet of a set says, in the order of work.
type Sheet struct {
	Title    string
	Question string
	Rows     []SheetRow
	Caution  string // empty when nothing is fumed
	Blanks   []int64
}

// A SheetRow is one treatment of one swatch.
type SheetRow struct {
	Order     int
	Number    int64
	Faces     studio.Faces
	FacesWord string
	Codes     []string // of the labels of those faces
	Settings  string
	Replicate int
	Layer     int
	Steps     []SheetStep
}

// A SheetStep is one step with room to write what was done.
type SheetStep struct {
	N         int
	Kind      studio.StepKind
	Words     string // the whole line
	Time      string // "4 h"; empty when none is planned
	Tolerance string // "−10 min, +20 min"
	Amount    string // "light, 11 ± 4 g/m²"; empty when none is planned
	Dwell     bool
}

// BenchSheet returns the sheet of a set for print: its treatments in the random
// order of work, the layer at the metal first, each step with its plan. Swatches
// kept bare are listed in Blanks.
func BenchSheet(set studio.Set, swatches []studio.Swatch, treatments []studio.Treatment) Sheet {
	sheet := Sheet{Title: set.Name, Question: set.Question}
	for _, s := range swatches {
		if s.Blank {
			sheet.Blanks = append(sheet.Blanks, s.Number)
		}
	}
	sort.Slice(sheet.Blanks, func(i, j int) bool { return sheet.Blanks[i] < sheet.Blanks[j] })
	ts := append([]studio.Treatment{}, treatments...)
	sort.SliceStable(ts, func(i, j int) bool {
		a, b := ts[i], ts[j]
		switch {
		case a.Order != b.Order:
			return a.Order < b.Order
		case a.Swatch != b.Swatch:
			return a.Swatch < b.Swatch
		case a.Layer != b.Layer:
			return a.Layer < b.Layer
		case faceRank(a.Faces) != faceRank(b.Faces):
			return faceRank(a.Faces) < faceRank(b.Faces)
		}
		return a.ID < b.ID
	})
	for _, t := range ts {
		row := SheetRow{
			Order: t.Order, Number: t.Swatch, Faces: t.Faces, FacesWord: facesWord(t.Faces), Settings: SettingsLine(t.Settings),
			Replicate: t.Replicate, Layer: t.Layer,
		}
		for _, f := range studio.BothFaces {
			if t.Faces.Has(f) {
				row.Codes = append(row.Codes, studio.Code(t.Swatch, f))
			}
		}
		for i, s := range t.Steps {
			step := SheetStep{N: i + 1, Kind: s.Kind, Words: Words(s), Tolerance: tolerance(s), Dwell: s.Kind.Dwell()}
			if s.Duration > 0 {
				step.Time = studio.Span(s.Duration)
			}
			if !s.Amount.IsZero() {
				step.Amount = s.Amount.String()
			}
			row.Steps = append(row.Steps, step)
			if s.Kind == studio.Fume && sheet.Caution == "" {
				sheet.Caution = OpeningCaution(s.Material)
			}
		}
		sheet.Rows = append(sheet.Rows, row)
	}
	return sheet
}

func faceRank(f studio.Faces) int {
	switch f {
	case studio.OnFront:
		return 0
	case studio.OnBoth:
		return 1
	}
	return 2
}
