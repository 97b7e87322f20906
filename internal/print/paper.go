package print

import (
	"io"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// Paper is a size of sheet.
type Paper string

// The papers a studio prints on. The empty Paper is A4.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// Papers lists the papers in the order shown.
var Papers = []Paper{A4, Letter}

// size returns the sheet upright in mm: A4 by ISO 216, Letter by ANSI/ASME Y14.1
// (8.5 by 11 inches).
func (p Paper) size() (w, h float64, err error) {
	switch p {
	case A4, "":
		return 210, 297, nil
	case Letter:
		return 8.5 * 25.4, 11 * 25.4, nil
	}
	return 0, 0, studio.Problemf(studio.Invalid, "paper", "%q is not a paper used here; choose A4 or Letter.", string(p))
}

// day writes a date for people.
func day(t time.Time) string { return t.Format("2 January 2006") }

// checkDate reports a Problem for a sheet without a date.
func checkDate(t time.Time) error {
	if t.IsZero() {
		return studio.Problemf(studio.Invalid, "date", "Say which day goes on the sheet; none was given.")
	}
	return nil
}

// A spoken is a writer of a sheet in a language.
type spoken struct {
	io.Writer
	in *language.Language
}

// In returns w for a sheet in l: what is written to it, and what a [Words] is filled
// with, is in that language. A writer that no language is given for takes English.
func In(l *language.Language, w io.Writer) io.Writer { return spoken{w, l} }

// languageOf returns the language of what is written to w.
func languageOf(w io.Writer) *language.Language {
	if s, ok := w.(spoken); ok {
		return s.in
	}
	return nil
}

// tagOf names a language in the properties of a file, by its BCP 47 tag. The texts are
// written in British English.
func tagOf(l *language.Language) string {
	if l == nil || l == language.English {
		return "en-GB"
	}
	return l.Tag
}
