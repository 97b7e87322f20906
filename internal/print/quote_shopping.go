package print

import (
	"fmt"
	"io"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Shopping is a list of what to buy, its sums written already.
type Shopping struct {
	Paper    Paper
	Studio   string
	Date     time.Time
	For      string // the plans it is for, in words
	Currency string
	Rows     []ShoppingRow
	Total    string
	Open     string // what has no price, in words
}

// A ShoppingRow is one thing to buy: "Salt", "technical", "2 packs of 500 g",
// "need 1300 g, keep 200 g, have 900 g".
type ShoppingRow struct{ Name, Grade, Packs, Why, Each, Cost string }

// ShoppingList writes what to buy with a box to tick, on as many pages as it needs.
// A list without rows is a *studio.Problem, and nothing is written.
func ShoppingList(w io.Writer, s Shopping) error {
	c, err := drawShopping(languageOf(w), s)
	if err != nil {
		return err
	}
	return c.write(w, "shopping list")
}

func drawShopping(in *language.Language, s Shopping) (*canvas, error) {
	pw, ph, err := s.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(s.Date); err != nil {
		return nil, err
	}
	if len(s.Rows) == 0 {
		return nil, studio.Problemf(studio.Invalid, "sets", "There is nothing to buy for that.")
	}
	c := newCanvas(in, pw, ph, document{"Shopping list", s.Studio, s.Date})
	blocks := s.blocks()
	for page := 1; page == 1 || len(blocks) > 0; page++ {
		c.newPage()
		x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
		if page == 1 {
			c.text(box{x, y - 1, w, 10}, "Shopping list", style{size: 22, bold: true, head: 1})
			y += 10.5
			y += c.lines(x, y, w, c.wrapAtMost(style{size: 10.5}, s.For, w, 3), style{size: 10.5}) + 1
			c.rule(x, y, x+w, y, 0.9, 0)
			y += 3
		} else {
			c.text(box{x, y, w, 6}, fmt.Sprintf("Shopping list, page %d", page), style{size: 12, bold: true})
			y += 9
		}
		col := column{x, y, w, c.h - cardMargin - 8}
		blocks = col.pour(c, blocks, true)
		foot := c.h - cardMargin - 4
		c.rule(x, foot-1, x+w, foot-1, 0.4, 0)
		text := "Printed " + day(s.Date)
		if s.Studio != "" {
			text += " · " + s.Studio
		}
		c.text(box{x, foot, w, 3.6}, text, style{size: 8, least: 7, grey: 50})
	}
	return c, nil
}

func (s Shopping) blocks() []block {
	name, plain := style{size: 11, least: 8, bold: true}, style{size: 9}
	num := style{size: 10.5, least: 6, align: "R"}
	var out []block
	const sums = 34.0
	for _, r := range s.Rows {
		out = append(out, block{put: func(c *canvas, x, y, w float64) float64 {
			top := y
			c.frame(box{x, y + 0.4, 3.6, 3.6}, 0.7, 0)
			left, wide := x+6, w-6-sums-3
			c.asRow(func() {
				c.text(box{left, y, wide, 5}, r.Name, name)
				c.text(box{x + w - sums, y, sums, 5}, r.Cost, num)
				y += 5.2
				if r.Each != "" {
					c.text(box{x + w - sums, y, sums, 4}, r.Each+" each", style{size: 8.5, least: 6, align: "R", grey: 50})
				}
				line := r.Packs
				if r.Grade != "" {
					line += ", " + r.Grade
				}
				y += max(c.para(left, y, wide, line, style{size: 10}), 4)
				y += c.para(left, y, wide, r.Why, plain) + 1
			})
			c.rule(x, y, x+w, y, 0.2, 150)
			return y + 1.6 - top
		}})
	}
	return append(out, block{put: func(c *canvas, x, y, w float64) float64 {
		st := style{size: 13, bold: true, align: "R", least: 7}
		c.text(box{x, y, w, st.line()}, "Together "+s.Total, st)
		h := st.line() + 1
		if s.Open != "" {
			h += c.para(x, y+h, w, s.Open, plain)
		}
		return h
	}})
}
