package print

import (
	"errors"
	"slices"
	"strings"
)

// Words is what a sheet says, for a page that can be read aloud: the PDF has no
// structure that a screen reader could follow, because the library that writes it
// knows none. Give one to any function of this package in place of its writer, and
// it is filled instead of a file being written:
//
//	var words print.Words
//	err := print.RecipeCard(&words, card)
type Words struct {
	Title  string // as in the properties of the file
	Studio string
	Parts  []Part
}

// A Part is a heading, a paragraph or a table, in the order of the sheet.
type Part struct {
	Level int        // of a heading: 1 to 3
	Text  string     // of a heading or a paragraph
	Head  []string   // of a table's columns; may be empty
	Rows  [][]string // of a table; what stands below each other in a cell is parted by line feeds
}

// Write is there so that a Words can stand in a writer's place; nothing is ever
// written to it.
func (w *Words) Write([]byte) (int, error) {
	return 0, errors.New("words of a sheet take no bytes")
}

// A saying is a piece of text as the sheet says it, whole, where it was set.
type saying struct {
	text  string
	room  box
	level int
	run   bool
	row   int
	head  bool // the row is a table's head
}

// say notes text that is written in English and not set.
func (c *canvas) say(text string, room box, st style) { c.note(c.said(text, st), room, st) }

// note notes text that was said.
func (c *canvas) note(text string, room box, st style) {
	text = clean(text)
	if c.dry || c.quiet || text == "" {
		return
	}
	c.says = append(c.says, saying{text: text, room: room, level: st.head, run: st.run, row: c.row})
}

// hush lets what is drawn from here on go unsaid where it only says again what an
// earlier page said, until the function it returns is called.
func (c *canvas) hush(again bool) func() {
	was := c.quiet
	c.quiet = was || again
	return func() { c.quiet = was }
}

// asRow draws a row of a table: what is set in it at the same distance from the left
// is one cell. Rows that follow each other are one table.
func (c *canvas) asRow(put func()) {
	if c.dry || c.row > 0 {
		put()
		return
	}
	c.rows++
	c.row = c.rows
	put()
	c.row = 0
}

// asHead draws the heads of a table's columns, at the same distance from the left as
// the cells below.
func (c *canvas) asHead(put func()) {
	from := len(c.says)
	c.asRow(put)
	for i := from; i < len(c.says); i++ {
		c.says[i].head = true
	}
}

// columnOff is how far the texts of a column may stand from its left, in mm.
const columnOff = 0.6

// words gathers what was said.
func (c *canvas) words() Words {
	out := Words{Title: c.title, Studio: c.studio}
	says := c.says
	for i := 0; i < len(says); {
		s := says[i]
		n := 1
		switch {
		case s.row > 0:
			for i+n < len(says) && says[i+n].row > 0 && (!says[i+n].head || says[i+n].row == s.row) {
				n++
			}
			out.Parts = append(out.Parts, table(says[i:i+n]))
		case s.run:
			var texts []string
			for n = 0; i+n < len(says) && says[i+n].run && says[i+n].row == 0; n++ {
				texts = append(texts, says[i+n].text)
			}
			out.Parts = append(out.Parts, Part{Text: strings.Join(texts, " ")})
		default:
			out.Parts = append(out.Parts, Part{Level: s.level, Text: s.text})
		}
		i += n
	}
	return out
}

// table puts what was said in rows into columns.
func table(says []saying) Part {
	var lefts []float64
	column := func(x float64) int {
		return slices.IndexFunc(lefts, func(l float64) bool { return x > l-columnOff && x < l+columnOff })
	}
	for _, s := range says {
		if column(s.room.x) < 0 {
			lefts = append(lefts, s.room.x)
		}
	}
	slices.Sort(lefts)
	var p Part
	row := 0
	var cells []string
	head := false
	finish := func() {
		switch {
		case cells == nil:
		case head:
			p.Head = cells
		default:
			p.Rows = append(p.Rows, cells)
		}
	}
	for _, s := range says {
		if s.row != row {
			finish()
			row, cells, head = s.row, make([]string, len(lefts)), s.head
		}
		at := &cells[column(s.room.x)]
		*at = strings.TrimSpace(*at + "\n" + s.text)
	}
	finish()
	return p
}
