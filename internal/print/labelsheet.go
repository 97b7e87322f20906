package print

import (
	"fmt"
	"math"
	"time"

	"aerugo/internal/studio"
)

// A SheetFormat is a sheet of ready-cut labels by its measures in mm: the first label's
// corner from the top left, and the pitch from one label to the next.
type SheetFormat struct {
	Key            string
	Name           string
	Paper          Paper
	Columns, Rows  int
	W, H           float64
	Left, Top      float64
	PitchX, PitchY float64
	Source         string
}

const inch = 25.4

// Where measures come from. The database's own points are rounded; each sheet here is
// set in the middle of its paper, which differs from it by less than 1.5 mm.
const (
	fromDatabase = "the label template database of gLabels (Jim Evins, MIT licence), avery-iso-templates.xml and avery-us-templates.xml"
	fromMemory   = "size and count as printed on the packet, from memory; set in the middle of the paper"
)

// SheetFormats are common sheets of labels, A4 first. A format is known by its measures;
// no maker is meant.
var SheetFormats = []SheetFormat{
	centred("a4-21", "A4, 21 labels 63.5 × 38.1 mm", A4, 3, 7, 63.5, 38.1, 66.04, 38.1, fromDatabase),
	centred("a4-24", "A4, 24 labels 70 × 37 mm", A4, 3, 8, 70, 37, 70, 37, fromMemory),
	centred("a4-24s", "A4, 24 labels 64.6 × 33.8 mm", A4, 3, 8, 64.6, 33.8, 64.6, 33.8, fromMemory),
	centred("a4-65", "A4, 65 labels 38.1 × 21.2 mm", A4, 5, 13, 38.1, 21.2, 40.6, 21.2, fromDatabase),
	centred("a4-40", "A4, 40 labels 45.7 × 25.4 mm", A4, 4, 10, 45.7, 25.4, 48.3, 25.4, fromMemory),
	centred("a4-40w", "A4, 40 labels 48.5 × 25.4 mm", A4, 4, 10, 48.5, 25.4, 48.5, 25.4, fromMemory),
	centred("a4-14", "A4, 14 labels 99.1 × 38.1 mm", A4, 2, 7, 99.1, 38.1, 101.6, 38.1, fromDatabase),
	centred("a4-189", "A4, 189 labels 25.4 × 10 mm", A4, 7, 27, 25.4, 10, 27.9, 10, fromMemory),
	centred("letter-30", "US Letter, 30 labels 2 5/8 × 1 in", Letter, 3, 10, 2.625*inch, inch, 2.75*inch, inch, fromDatabase),
	centred("letter-80", "US Letter, 80 labels 1 3/4 × 1/2 in", Letter, 4, 20, 1.75*inch, 0.5*inch, 2.0625*inch, 0.5*inch, fromDatabase),
	centred("letter-20", "US Letter, 20 labels 4 × 1 in", Letter, 2, 10, 4*inch, inch, 4.1875*inch, inch, fromDatabase),
	centred("letter-10", "US Letter, 10 labels 4 × 2 in", Letter, 2, 5, 4*inch, 2*inch, 4.1875*inch, 2*inch, fromDatabase),
}

// centred sets a grid of labels in the middle of its paper.
func centred(key, name string, p Paper, columns, rows int, w, h, pitchX, pitchY float64, source string) SheetFormat {
	pw, ph, _ := p.size() // A4 or Letter
	return SheetFormat{Key: key, Name: name, Paper: p, Columns: columns, Rows: rows, W: w, H: h, PitchX: pitchX, PitchY: pitchY, Source: source,
		Left: (pw - float64(columns-1)*pitchX - w) / 2, Top: (ph - float64(rows-1)*pitchY - h) / 2}
}

// SheetFormatOf returns the format with a key.
func SheetFormatOf(key string) (SheetFormat, bool) {
	for _, f := range SheetFormats {
		if f.Key == key {
			return f, true
		}
	}
	return SheetFormat{}, false
}

// The smallest label that holds a number to be read, and the most on a sheet.
const (
	leastLabelW = 18.0
	leastLabelH = 8.0
	mostLabels  = 500
)

// Per returns how many labels a sheet has.
func (f SheetFormat) Per() int { return f.Columns * f.Rows }

// at returns where place n (from 0, row by row) is, moved by a correction.
func (f SheetFormat) at(n int, dx, dy float64) box {
	return box{f.Left + dx + float64(n%f.Columns)*f.PitchX, f.Top + dy + float64(n/f.Columns)*f.PitchY, f.W, f.H}
}

// Check reports a Problem when no sheet can be like f: labels that overlap, or that do
// not fit on the paper.
func (f SheetFormat) Check() error {
	pw, ph, err := f.Paper.size()
	if err != nil {
		return err
	}
	for _, v := range []float64{f.W, f.H, f.Left, f.Top, f.PitchX, f.PitchY} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 || v > 1000 {
			return studio.Problemf(studio.Invalid, "format", "A measure of %v mm can't be right; it must be from 0 to 1000 mm.", v)
		}
	}
	switch {
	case f.Columns < 1 || f.Rows < 1 || f.Columns > mostLabels || f.Rows > mostLabels || f.Per() > mostLabels:
		return studio.Problemf(studio.Invalid, "columns", "A sheet of %d columns and %d rows can't be printed; it must have from 1 to %d labels.", f.Columns, f.Rows, mostLabels)
	case f.W < leastLabelW || f.H < leastLabelH:
		return studio.Problemf(studio.Invalid, "width", "A label of %.1f × %.1f mm is too small to be read; %.0f × %.0f mm is the least.", f.W, f.H, leastLabelW, leastLabelH)
	case f.Columns > 1 && f.PitchX < f.W-1e-9:
		return studio.Problemf(studio.Invalid, "pitchx", "The labels would overlap: from one to the next across are %.2f mm, but each is %.2f mm wide.", f.PitchX, f.W)
	case f.Rows > 1 && f.PitchY < f.H-1e-9:
		return studio.Problemf(studio.Invalid, "pitchy", "The labels would overlap: from one to the next down are %.2f mm, but each is %.2f mm high.", f.PitchY, f.H)
	}
	last := f.at(f.Per()-1, 0, 0)
	if last.x+last.w > pw+1e-6 || last.y+last.h > ph+1e-6 {
		return studio.Problemf(studio.Invalid, "format", "The last label would reach to %.1f × %.1f mm, off the paper of %.1f × %.1f mm; make the margins or the labels smaller.", last.x+last.w, last.y+last.h, pw, ph)
	}
	return nil
}

// mostShift is how far a correction may move the labels, in mm.
const mostShift = 10.0

// CheckShift reports a Problem when a printer can't be off so far to the right and down.
func CheckShift(rightMM, downMM float64) error {
	if !(math.Abs(rightMM) <= mostShift && math.Abs(downMM) <= mostShift) {
		return studio.Problemf(studio.Invalid, "right", "A correction of %.1f and %.1f mm is more than a printer is off; %.0f mm is the most.", rightMM, downMM, mostShift)
	}
	return nil
}

// A StickerSheet is the ready-cut paper that labels go on. Start is the place of the
// first one, from 1, so that a sheet begun before is used up; 0 means 1. RightMM and
// DownMM move everything, for a printer that draws in the paper a little off.
type StickerSheet struct {
	Format  SheetFormat
	Start   int
	RightMM float64
	DownMM  float64
	Studio  string
	Date    time.Time
}

// check reports a Problem, and returns the size of the paper.
func (s StickerSheet) check() (w, h float64, err error) {
	if err := s.Format.Check(); err != nil {
		return 0, 0, err
	}
	if err := checkDate(s.Date); err != nil {
		return 0, 0, err
	}
	if per := s.Format.Per(); s.Start < 0 || s.Start > per {
		return 0, 0, studio.Problemf(studio.Invalid, "start", "The first label can't go at place %d; a sheet of %d has places 1 to %d.", s.Start, per, per)
	}
	if w, h, err = s.Format.Paper.size(); err != nil {
		return 0, 0, err
	}
	if err := CheckShift(s.RightMM, s.DownMM); err != nil {
		return 0, 0, err
	}
	first, last := s.Format.at(0, s.RightMM, s.DownMM), s.Format.at(s.Format.Per()-1, s.RightMM, s.DownMM)
	const edge = 0.5 // of paper that may be lost: sheets without a margin reach to it
	if first.x < -edge || first.y < -edge || last.x+last.w > w+edge || last.y+last.h > h+edge {
		return 0, 0, studio.Problemf(studio.Invalid, "right", "Moved by %.1f mm to the right and %.1f mm down, labels would leave the paper; correct the printer's own setting instead.", s.RightMM, s.DownMM)
	}
	return w, h, nil
}

// shortName is a format's measures in words for the test page.
func (f SheetFormat) shortName() string {
	return fmt.Sprintf("%d × %d labels, %s × %s mm", f.Columns, f.Rows, mm(f.W), mm(f.H))
}
