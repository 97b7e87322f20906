package print

import (
	"io"

	"aerugo/internal/language"
)

// riskDraft stands on every page of a risk assessment.
const riskDraft = "DRAFT for the responsible person to complete and sign under local rules. Not legal advice."

// A Risk is the draft of a risk assessment: Sections are its steps, hazards and
// substances in order.
type Risk struct {
	ClassPaper
	Sections []ClassSection
}

// RiskDraft writes the draft, marked so on every page. Bad input is a *studio.Problem,
// and nothing is written.
func RiskDraft(w io.Writer, r Risk) error {
	c, err := drawRisk(languageOf(w), r)
	if err != nil {
		return err
	}
	return c.write(w, "risk assessment")
}

func drawRisk(in *language.Language, r Risk) (*canvas, error) {
	l := leaf{ClassPaper: r.ClassPaper, kind: "Risk assessment, draft", draft: riskDraft, free: true, wide: true}
	l.sides = func(size float64) [][]block { return [][]block{sectionBlocks(r.Sections, size)} }
	return l.draw(in)
}
