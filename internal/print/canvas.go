package print

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"aerugo/internal/language"

	"codeberg.org/go-pdf/fpdf"
)

// A box is an upright rectangle on the sheet, in mm from the top left.
type box struct{ x, y, w, h float64 }

// A cell is a line of text as it was set: the room it had, and what it took.
type cell struct {
	page int
	room box
	used box
	text string
}

// A canvas is the sheets being drawn. Everything on them goes through text, para
// and the few shapes below.
//
// A dry canvas only measures: its pages are counted, nothing is drawn.
//
// What stands on a sheet is written in English and said in the sheet's language when it
// is set or measured, whole: text and para say what they are given, wrap says before it
// breaks, and lines sets what wrap returned.
type canvas struct {
	pdf   *fpdf.Fpdf
	in    *language.Language // nil: English
	w, h  float64            // of the sheet as it lies, mm
	page  int
	dry   bool
	cells []cell
	codes []placedCode

	// what the sheet says, for those who can't read it: see words.go
	title, studio string
	says          []saying
	quiet         bool // lines of a paragraph that was noted whole
	row           int  // of a table, from 1; 0 outside one
	rows          int
}

// A document is what stands in the properties of the file.
type document struct {
	title  string
	studio string
	date   time.Time
}

// newCanvas starts a document on paper of w by h mm, without a page.
func newCanvas(in *language.Language, w, h float64, doc document) *canvas {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(doc.date)
	pdf.SetModificationDate(doc.date)
	pdf.SetProducer("Aerugo", true)
	c := &canvas{pdf: pdf, in: in, w: w, h: h, studio: clean(doc.studio)}
	c.title = clean(c.said(doc.title, style{}))
	pdf.SetTitle(c.title, true)
	pdf.SetAuthor(c.studio, true)
	pdf.SetLang(tagOf(in))
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.AddUTF8FontFromBytes("body", "", faces()[0].file)
	pdf.AddUTF8FontFromBytes("body", "B", faces()[1].file)
	return c
}

// dryCopy returns a canvas of the same size that only measures.
func (c *canvas) dryCopy() *canvas { return &canvas{in: c.in, w: c.w, h: c.h, dry: true} }

// newPage begins a sheet.
func (c *canvas) newPage() {
	c.page++
	if !c.dry {
		c.pdf.AddPage()
	}
}

// write finishes the document. Nothing reaches w before the whole of it is made. A
// [Words] gets what it says.
func (c *canvas) write(w io.Writer, what string) error {
	if tongue, ok := w.(spoken); ok {
		w = tongue.Writer
	}
	if words, ok := w.(*Words); ok {
		*words = c.words()
		return nil
	}
	var buf bytes.Buffer
	if err := c.pdf.Output(&buf); err != nil {
		return fmt.Errorf("print %s: %w", what, err)
	}
	if _, err := w.Write(buf.Bytes()); err != nil {
		return fmt.Errorf("write %s: %w", what, err)
	}
	return nil
}

// text sets one line in room, on the room's vertical middle; it is set smaller
// or shortened until it fits.
func (c *canvas) text(room box, s string, st style) {
	if c.dry {
		return
	}
	s = c.said(s, st)
	whole := s
	if st.aloud != "" {
		whole = c.said(st.aloud, st)
	}
	c.note(whole, room, st)
	c.set(room, s, st)
}

// set sets one line that was said and noted.
func (c *canvas) set(room box, s string, st style) {
	if c.dry {
		return
	}
	s, st = st.fit(s, room.w)
	if s == "" {
		return
	}
	took := st.width(s)
	x := room.x
	switch st.align {
	case "R":
		x += room.w - took
	case "C":
		x += (room.w - took) / 2
	}
	em := st.size * mmPerPoint
	baseline := room.y + room.h/2 + (ascent-descent)/2*em
	weight := ""
	if st.bold {
		weight = "B"
	}
	c.pdf.SetFont("body", weight, st.size)
	c.pdf.SetTextColor(st.grey, st.grey, st.grey)
	c.pdf.Text(x, baseline, s)
	c.cells = append(c.cells, cell{c.page, room, box{x, baseline - ascent*em, took, (ascent + descent) * em}, s})
}

// lines sets lines as [canvas.wrap] broke them, one below the other from y, and returns
// their height.
func (c *canvas) lines(x, y, w float64, lines []string, st style) float64 {
	h := float64(len(lines)) * st.line()
	c.note(strings.Join(lines, " "), box{x, y, w, h}, st)
	for i, l := range lines {
		c.set(box{x, y + float64(i)*st.line(), w, st.line()}, l, st)
	}
	return h
}

// para sets text in as many lines as it needs and returns their height.
func (c *canvas) para(x, y, w float64, text string, st style) float64 {
	lines := c.wrap(st, text, w)
	h := float64(len(lines)) * st.line()
	c.note(c.said(text, st), box{x, y, w, h}, st)
	defer c.hush(true)()
	return c.lines(x, y, w, lines, st)
}

// said returns text in the language of the sheet.
func (c *canvas) said(text string, st style) string {
	if c.in == nil || st.own {
		return text
	}
	return c.in.Say(text)
}

// width returns the length of text on the sheet in mm.
func (c *canvas) width(st style, text string) float64 { return st.width(c.said(text, st)) }

// wrap breaks text as it stands on the sheet into lines of at most w mm.
func (c *canvas) wrap(st style, text string, w float64) []string { return st.wrap(c.said(text, st), w) }

// wrapAtMost is wrap with at most n lines, the last one shortened.
func (c *canvas) wrapAtMost(st style, text string, w float64, n int) []string {
	return st.wrapAtMost(c.said(text, st), w, n)
}

// rule draws a line of width pt, upright or level.
func (c *canvas) rule(x1, y1, x2, y2, pt float64, grey int) {
	if c.dry {
		return
	}
	c.pdf.SetDrawColor(grey, grey, grey)
	c.pdf.SetLineWidth(pt * mmPerPoint)
	c.pdf.Line(x1, y1, x2, y2)
}

// frame draws the outline of b.
func (c *canvas) frame(b box, pt float64, grey int) {
	if c.dry {
		return
	}
	c.pdf.SetDrawColor(grey, grey, grey)
	c.pdf.SetLineWidth(pt * mmPerPoint)
	c.pdf.Rect(b.x, b.y, b.w, b.h, "D")
}

// fill paints b.
func (c *canvas) fill(b box, red, green, blue int) {
	if c.dry {
		return
	}
	c.pdf.SetFillColor(red, green, blue)
	c.pdf.Rect(b.x, b.y, b.w, b.h, "F")
}
