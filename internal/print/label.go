package print

import (
	"fmt"
	"io"
	"strconv"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Label is one face of one swatch. The code on it is [studio.Code] of the two.
//
// Settings is what the face received, in one line: "240 min · 25 g/m²".
type Label struct {
	Number   int64
	Face     studio.Face
	SetName  string
	Metal    string
	Settings string
	Invented bool // part of the example data
}

// A LabelSheet is the paper labels go on. Start is the place of the first one,
// from 1, so that a sheet begun before is used up; 0 means 1. Date is the day of
// printing, kept in the file. Clashes are those of the swatches' recipes: a stop
// is not printed.
type LabelSheet struct {
	Paper   Paper
	Start   int
	Studio  string
	Date    time.Time
	Clashes []matter.Clash
}

// Each label in mm, and how many stand beside each other: front and back of a
// swatch always share a row. The measures are our own.
const (
	labelW       = 46.0
	labelH       = 27.0
	labelColumns = 4
)

// maxOnLabel is the highest number that fits at 14 points: a number is never shortened.
const maxOnLabel = 9_999_999_999

// rows returns how many rows of labels the paper takes.
func (p Paper) rows() int {
	if p == Letter {
		return 9
	}
	return 10
}

// LabelsPerSheet returns how many labels one sheet of paper takes: 40 on A4, 36
// on Letter.
func LabelsPerSheet(p Paper) int { return p.rows() * labelColumns }

// Labels writes sheets of labels with cutting lines. A label that can't be made
// and a start that is not on the sheet are a *studio.Problem, and nothing is written.
func Labels(w io.Writer, labels []Label, sheet LabelSheet) error {
	c, err := drawLabels(languageOf(w), labels, sheet)
	if err != nil {
		return err
	}
	return c.write(w, "labels")
}

func drawLabels(in *language.Language, labels []Label, sheet LabelSheet) (*canvas, error) {
	pw, ph, err := sheet.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(sheet.Date); err != nil {
		return nil, err
	}
	if err := stopped(sheet.Clashes); err != nil {
		return nil, err
	}
	if len(labels) == 0 {
		return nil, studio.Problemf(studio.Invalid, "labels", "There are no swatches to print labels for; choose at least one.")
	}
	per := LabelsPerSheet(sheet.Paper)
	start := max(sheet.Start, 1)
	if sheet.Start < 0 || start > per {
		return nil, studio.Problemf(studio.Invalid, "start", "The first label can't go at place %d; a sheet of %d has places 1 to %d.", sheet.Start, per, per)
	}
	codes := make([]code, len(labels))
	for i, l := range labels {
		if l.Number < 1 || (l.Face != studio.Front && l.Face != studio.Back) {
			return nil, studio.Problemf(studio.Invalid, "labels", "Swatch %d, face %q can't have a label; it needs a number from 1 and the face front or back.", l.Number, string(l.Face))
		}
		if l.Number > maxOnLabel {
			return nil, studio.Problemf(studio.Invalid, "labels", "The number %d is too long for a label; %d is the highest that can be read on one.", l.Number, int64(maxOnLabel))
		}
		if codes[i], err = codeOf(studio.Code(l.Number, l.Face)); err != nil {
			return nil, err
		}
	}
	c := newCanvas(in, pw, ph, document{"Swatch labels", sheet.Studio, sheet.Date})
	left, top := (pw-labelColumns*labelW)/2, (ph-float64(sheet.Paper.rows())*labelH)/2
	for i, l := range labels {
		place := (start - 1 + i) % per
		if i == 0 || place == 0 {
			c.newPage()
		}
		at := box{left + float64(place%labelColumns)*labelW, top + float64(place/labelColumns)*labelH, labelW, labelH}
		c.frame(at, 0.3, 140)
		c.label(at, l, codes[i])
	}
	return c, nil
}

// label draws one label. The back's word stands white in a black bar, the
// front's black in a frame, so that the two are told apart across the bench.
func (c *canvas) label(at box, l Label, m code) {
	const (
		pad  = 2.5
		side = 13.6 // of the code with its rim
		gap  = 0.8
	)
	x, y, wide := at.x+pad, at.y+pad, at.w-2*pad
	right := at.x + at.w - 1.2 - side
	text := right - gap - x

	c.text(box{x, y - 0.6, text, 7.4}, strconv.FormatInt(l.Number, 10), style{size: 21, least: 14, bold: true, head: 2, aloud: fmt.Sprintf("Swatch %d, %s", l.Number, l.Face)})

	word := style{size: 8.5, bold: true, align: "C"}
	bar := box{x, y + 7.2, c.width(word, string(l.Face)) + 3.4, 4}
	if l.Face == studio.Back {
		c.fill(bar, 0, 0, 0)
		word.grey = 255
	} else {
		c.frame(bar, 0.7, 0)
	}
	c.text(bar, string(l.Face), word)
	if l.Invented {
		mark, room, st := invented, text-bar.w-1.2, style{size: 6.5, least: 5}
		if c.width(style{size: st.least}, mark) > room {
			mark = "invented"
		}
		c.text(box{bar.x + bar.w + 1.2, bar.y, room, bar.h}, mark, st)
	}

	c.text(box{x, y + 12.2, text, 3.2}, l.SetName, style{size: 8, least: 6.5})
	c.text(box{x, y + 15.4, wide, 3.2}, l.Metal, style{size: 7.5, least: 6.5, grey: 40})
	c.text(box{x, y + 18.7, wide, 3.4}, l.Settings, style{size: 8.5, least: 6.5, bold: true})
	c.code(right, at.y+1.2, side, m)
	c.text(box{right, at.y + 1.2 + side - 0.6, side, 2.9}, studio.Code(l.Number, l.Face), style{size: 6.5, least: 5, align: "C"})
}

// invented marks what is part of the example data.
const invented = "invented example"

// inventedTitle puts the mark behind a title, for the properties of the file.
func inventedTitle(title string, is bool) string {
	if is {
		return fmt.Sprintf("%s (%s)", title, invented)
	}
	return title
}
