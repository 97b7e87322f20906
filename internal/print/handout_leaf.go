package print

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A ClassPaper is what every paper of a class says at its head and foot. Under is one
// line each below the title: when, where, who teaches. With Large all type is of 16
// points or more.
type ClassPaper struct {
	Paper    Paper
	Date     time.Time // of printing
	Studio   string
	Title    string
	Under    []string
	Large    bool
	Invented bool
}

// A ClassSection is a heading and what stands below it, in this order. Ticks have a box
// to tick; Fields are a word and what it says, where an empty text leaves a line to write
// on; Write is how many empty lines follow.
type ClassSection struct {
	Head   string
	Lines  []string
	Ticks  []string
	Fields []ClassField
	Table  *ClassTable
	Write  int
}

// A ClassField is one entry of a form; Own that its text is what a person wrote.
type ClassField struct {
	Word, Text string
	Own        bool
}

// The type sizes tried for a class's papers, in points: the largest with which each side
// keeps to its page. Large print does not give way: it takes more pages.
var (
	leafSizes  = []float64{12, 11.5, 11, 10.5, 10, 9.5, 9, 8.5, 8}
	largeSizes = []float64{16}
)

// leafMargin is the white left round a class's paper, in mm.
const leafMargin = 15.0

// A leaf is a paper of a class: a head, then sides that each begin on a page of their
// own. free lets a side run on over as many pages as it needs at its second size.
type leaf struct {
	ClassPaper
	kind  string // "Handout"
	draft string // stands on every page
	free  bool
	wide  bool // lies on its long side
	sides func(size float64) [][]block
}

func (l leaf) check() error {
	if err := checkDate(l.Date); err != nil {
		return err
	}
	if strings.TrimSpace(l.Title) == "" {
		return studio.Problemf(studio.Invalid, "name", "A paper for a class needs the class's name.")
	}
	return nil
}

func (l leaf) draw(in *language.Language) (*canvas, error) {
	pw, ph, err := l.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := l.check(); err != nil {
		return nil, err
	}
	if l.wide {
		pw, ph = ph, pw
	}
	c := newCanvas(in, pw, ph, document{inventedTitle(l.kind+": "+l.Title, l.Invented), l.Studio, l.Date})
	sizes := leafSizes
	switch {
	case l.Large:
		sizes = largeSizes
	case l.wide:
		sizes = []float64{8.5}
	case l.free:
		sizes = []float64{9.5}
	}
	pages := func(size float64, sides [][]block) int {
		dry := c.dryCopy()
		l.put(dry, size, sides, 0)
		return dry.page
	}
	for _, size := range sizes {
		sides := l.sides(size)
		if pages(size, sides) == len(sides) {
			l.put(c, size, sides, len(sides))
			return c, nil
		}
	}
	if !l.Large && !l.free { // what is too much for one side goes on at the head of the next
		for _, size := range sizes {
			sides := l.sides(size)
			whole := [][]block{slices.Concat(sides...)}
			if pages(size, whole) <= len(sides) {
				l.put(c, size, whole, pages(size, whole))
				return c, nil
			}
		}
	}
	size := sizes[len(sizes)-1]
	sides := l.sides(size)
	l.put(c, size, sides, pages(size, sides))
	return c, nil
}

// put draws the sides; pages is how many there are, 0 while they are counted.
func (l leaf) put(c *canvas, size float64, sides [][]block, pages int) {
	foot := max(size*0.75, 8)
	if l.Large {
		foot = 16
	}
	for i, blocks := range sides {
		for first := true; first || len(blocks) > 0; first = false {
			c.newPage()
			x, y, w := leafMargin, leafMargin, c.w-2*leafMargin
			if i == 0 && first {
				y = l.header(c, x, y, w, size)
			} else {
				name := style{size: max(size, 10), least: 8, bold: true}
				again := c.hush(c.page > 2)
				c.text(box{x, y, w, name.line()}, l.kind+": "+l.Title, name)
				again()
				y += name.line() + 2
			}
			st := style{size: foot, least: 7}
			strong := st
			strong.bold = true
			low := c.h - leafMargin + 5 - st.line()
			bottom := low - 2.5
			again := c.hush(i > 0 || !first)
			if l.draft != "" {
				h := float64(len(c.wrap(strong, l.draft, w))) * strong.line()
				bottom -= h
				c.para(x, low-h, w, l.draft, strong)
			}
			c.rule(x, bottom+1, x+w, bottom+1, 0.4, 0)
			text := "Printed " + day(l.Date)
			if name := strings.TrimSpace(l.Studio); name != "" {
				text = name + " · printed " + day(l.Date)
			}
			number := fmt.Sprintf("page %d of %d", c.page, pages)
			right := st
			right.align = "R"
			wide := c.width(right, "page 00 of 00") + 2
			c.text(box{x, low, w - wide - 2, st.line()}, text, st)
			again()
			c.text(box{x + w - wide, low, wide, st.line()}, number, right)
			col := column{x, y, w, bottom}
			blocks = col.pour(c, blocks, !first || i > 0)
		}
	}
}

func (l leaf) header(c *canvas, x, y, w, size float64) float64 {
	kind := style{size: max(size, 10), grey: 50}
	c.text(box{x, y, w, kind.line()}, l.kind, kind)
	y += kind.line() + 0.6
	name := style{size: max(20, size*1.4), bold: true, head: 1}
	for name.size > max(13, size) && len(c.wrap(name, l.Title, w)) > 2 {
		name.size -= 0.5
	}
	y += c.lines(x, y, w, c.wrapAtMost(name, l.Title, w, 3), name) + 1
	if l.Invented {
		mark := style{size: max(size*0.8, 8.5), bold: true, align: "C"}
		if l.Large {
			mark.size = size
		}
		b := box{x, y, c.width(mark, invented) + 4, mark.line() + 1}
		c.frame(b, 0.7, 0)
		c.text(b, invented, mark)
		y += b.h + 1.2
	}
	st := style{size: size}
	for _, text := range l.Under {
		if strings.TrimSpace(text) != "" {
			y += c.para(x, y, w, text, st)
		}
	}
	y += 1
	c.rule(x, y, x+w, y, 0.9, 0)
	return y + 1.5
}

// headBlock is a heading, which never stands last.
func headBlock(text string, size float64) block {
	st := style{size: size + 2, bold: true, head: 2}
	return block{keep: true, what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
		return size/5 + c.para(x, y+size/5, w, text, st) + 0.6
	}}
}

// paraBlocks set a paragraph; tick puts a box to tick before it.
func paraBlocks(text string, size float64, tick bool) []block {
	st := style{size: size}
	var out []block
	for i, piece := range pieces(text, 700) {
		out = append(out, block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
			in := 0.0
			if tick {
				side := 0.75 * st.line()
				in = side + 2.2
				if i == 0 {
					c.frame(box{x, y + (st.line()-side)/2, side, side}, 0.7, 0)
				}
			}
			return c.para(x+in, y, w-in, piece, st) + size/11
		}})
	}
	return out
}

// fieldBlocks set an entry: its word in bold, its text beside it, or a line to write on.
func fieldBlocks(f ClassField, size float64) []block {
	bold, st := style{size: size, bold: true}, style{size: size, own: f.Own}
	share := 0.27
	if size >= 16 {
		share = 0.36
	}
	texts := pieces(f.Text, 700)
	if len(texts) == 0 {
		texts = []string{""}
	}
	var out []block
	for i, text := range texts {
		out = append(out, block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
			left, high := share*w, st.line()
			if text == "" {
				high = max(high, c.para(x, y, left-3, f.Word, bold)) + 1.6
				c.rule(x+left, y+high-0.8, x+w, y+high-0.8, 0.4, 90)
				return high + size/14
			}
			c.asRow(func() {
				if i == 0 {
					high = max(high, c.para(x, y, left-3, f.Word, bold))
				}
				high = max(high, c.para(x+left, y, w-left, text, st))
			})
			return high + size/14
		}})
	}
	return out
}

// handBlock is a word with a line beside it that leaves room for a hand.
func handBlock(word string, size float64) block {
	bold := style{size: size, bold: true}
	return block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
		share, down := 0.27, max(9-bold.line(), 0)
		if size >= 16 {
			share = 0.36
		}
		high := down + c.para(x, y+down, share*w-3, word, bold)
		c.rule(x+share*w, y+high, x+w, y+high, 0.4, 90)
		return high + 0.5
	}}
}

// writeBlocks leave n lines to write on.
func writeBlocks(n int, size float64) []block {
	var out []block
	for range n {
		out = append(out, block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
			high := max(8, style{size: size}.line()*1.4)
			c.rule(x, y+high, x+w, y+high, 0.4, 90)
			return high
		}})
	}
	return out
}

// sectionBlocks set sections one below the other.
func sectionBlocks(sections []ClassSection, size float64) []block {
	var out []block
	for _, s := range sections {
		if s.Head != "" {
			out = append(out, headBlock(s.Head, size))
		}
		for _, text := range s.Lines {
			out = append(out, paraBlocks(text, size, false)...)
		}
		for _, text := range s.Ticks {
			out = append(out, paraBlocks(text, size, true)...)
		}
		for _, f := range s.Fields {
			out = append(out, fieldBlocks(f, size)...)
		}
		if s.Table != nil {
			out = append(out, tableBlocks(*s.Table, size)...)
		}
		out = append(out, writeBlocks(s.Write, size)...)
	}
	return out
}
