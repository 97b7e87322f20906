package print

import (
	"io"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Kit is the list of what a class needs, a section for each kind of thing, its lines in
// Ticks. With Stop it is refused: something in the class must never meet.
type Kit struct {
	ClassPaper
	Sections []ClassSection
	Stop     *studio.Problem
}

// KitList writes the list with a box to tick before each line. A kit with a Stop, an
// empty one and other bad input are a *studio.Problem, and nothing is written.
func KitList(w io.Writer, k Kit) error {
	c, err := drawKit(languageOf(w), k)
	if err != nil {
		return err
	}
	return c.write(w, "kit list")
}

func drawKit(in *language.Language, k Kit) (*canvas, error) {
	if k.Stop != nil {
		return nil, k.Stop
	}
	if len(k.Sections) == 0 {
		return nil, studio.Problemf(studio.Invalid, "kit", "There is nothing on this list. Give the class a recipe, or add a line to its kit.")
	}
	l := leaf{ClassPaper: k.ClassPaper, kind: "Kit list"}
	l.sides = func(size float64) [][]block { return [][]block{sectionBlocks(k.Sections, size)} }
	return l.draw(in)
}
