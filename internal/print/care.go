package print

import (
	"io"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Care is a sheet for whoever takes a piece home: headings with their sentences,
// most important first within each. Photo may be nil.
type Care struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Title    string
	Sections []CareSection
	Photo    *CardFace
	Invented bool
}

// A CareSection is a heading with its sentences. Strong sections are framed.
type CareSection struct {
	Head   string
	Lines  []string
	Strong bool
}

// careSizes are the type sizes tried, in points: the largest that needs one page.
var careSizes = []float64{12, 11.5, 11, 10.5, 10, 9.5, 9, 8.5, 8, 7.5}

// CareSheet writes the sheet, on one page wherever type of 7.5 points or more lets
// it. Bad input is a *studio.Problem, and nothing is written.
func CareSheet(w io.Writer, s Care) error {
	c, err := drawCare(languageOf(w), s)
	if err != nil {
		return err
	}
	return c.write(w, "care sheet")
}

func drawCare(in *language.Language, s Care) (*canvas, error) {
	pw, ph, err := s.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(s.Date); err != nil {
		return nil, err
	}
	if strings.TrimSpace(s.Title) == "" {
		return nil, studio.Problemf(studio.Invalid, "name", "A care sheet needs the piece's name.")
	}
	var photos []photo
	if s.Photo != nil {
		if photos, err = readPhotos([]CardFace{*s.Photo}); err != nil {
			return nil, err
		}
	}
	title := inventedTitle("Looking after: "+s.Title, s.Invented)
	c := newCanvas(in, pw, ph, document{title, s.Studio, s.Date})
	for i, size := range careSizes {
		dry := c.dryCopy()
		s.draw(dry, size, photos)
		if dry.page == 1 || i == len(careSizes)-1 {
			s.draw(c, size, photos)
			break
		}
	}
	return c, nil
}

// careSide is the longest side of the picture, in mm.
const careSide = 46.0

func (s Care) draw(c *canvas, size float64, photos []photo) {
	blocks := s.blocks(size)
	for page := 1; page == 1 || len(blocks) > 0; page++ {
		c.newPage()
		x, y, w := cardMargin+5, cardMargin+3, c.w-2*cardMargin-10
		if page == 1 {
			y = s.header(c, x, y, w, photos)
		} else {
			c.text(box{x, y, w, 6}, s.Title+", continued", style{size: 12, least: 9, bold: true})
			y += 9
		}
		col := column{x, y, w, c.h - cardMargin - 8}
		blocks = col.pour(c, blocks, page > 1)
		foot := c.h - cardMargin - 4
		c.rule(x, foot-1.5, x+w, foot-1.5, 0.4, 0)
		text := "Written " + day(s.Date)
		if name := strings.TrimSpace(s.Studio); name != "" {
			text = name + " · written " + day(s.Date)
		}
		if len(blocks) > 0 {
			text += " · goes on overleaf"
		}
		c.text(box{x, foot, w, 3.6}, text, style{size: 8, least: 7})
	}
}

func (s Care) header(c *canvas, x, y, w float64, photos []photo) float64 {
	wide, low := w, y
	if len(photos) == 1 && photos[0].w > 0 {
		p := photos[0]
		wide = w - careSide - 6
		c.picture(box{x + w - careSide, y, careSide, careSide}, "care", p.jpeg, p.w, p.h)
		low = y + careSide + 3
	}
	c.text(box{x, y, wide, 5}, "Looking after", style{size: 11, grey: 50})
	y += 6
	name := style{size: 24, bold: true, head: 1}
	for name.size > 12 && len(c.wrap(name, s.Title, wide)) > 2 {
		name.size -= 0.5
	}
	y += c.lines(x, y, wide, c.wrapAtMost(name, s.Title, wide, 2), name) + 1
	if s.Invented {
		mark := style{size: 8.5, bold: true, align: "C"}
		b := box{x, y, c.width(mark, invented) + 4, 4.8}
		c.frame(b, 0.7, 0)
		c.text(b, invented, mark)
		y += 6.5
	}
	y = max(y+1, low)
	c.rule(x, y, x+w, y, 0.9, 0)
	return y + 3
}

func (s Care) blocks(size float64) []block {
	plain, head := style{size: size}, style{size: size + 1.5, bold: true, head: 2}
	var out []block
	for _, part := range s.Sections {
		out = append(out, block{keep: true, put: func(c *canvas, x, y, w float64) float64 {
			top := y + size/5
			if part.Strong {
				c.rule(x, top+0.8, x+w, top+0.8, 1.4, 0)
				top += 2.6
			}
			c.para(x, top, w, part.Head, head)
			return top - y + head.line() + 0.6
		}})
		for _, text := range part.Lines {
			for _, piece := range pieces(text, 800) {
				out = append(out, block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 {
					return c.para(x, y, w, piece, plain) + size/9
				}})
			}
		}
	}
	return out
}
