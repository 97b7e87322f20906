package print

import (
	"io"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Teacher is the sheet the teacher holds: its sections in the order of the lesson. With
// Stop it is refused: something in the class must never meet.
type Teacher struct {
	ClassPaper
	Sections []ClassSection
	Stop     *studio.Problem
}

// TeacherSheet writes the teacher's sheet, on as many pages as it needs. One with a Stop
// and other bad input are a *studio.Problem, and nothing is written.
func TeacherSheet(w io.Writer, t Teacher) error {
	c, err := drawTeacher(languageOf(w), t)
	if err != nil {
		return err
	}
	return c.write(w, "teacher's sheet")
}

func drawTeacher(in *language.Language, t Teacher) (*canvas, error) {
	if t.Stop != nil {
		return nil, t.Stop
	}
	l := leaf{ClassPaper: t.ClassPaper, kind: "Teacher's sheet", free: true}
	l.sides = func(size float64) [][]block { return [][]block{sectionBlocks(t.Sections, size)} }
	return l.draw(in)
}
