package print

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/studio"
)

// A Quote is an offer to a customer, as it is printed: every sum is written
// already, so that what stands on paper is what was kept. Invented marks one of
// the example.
type Quote struct {
	Paper    Paper
	Studio   string
	Number   int64
	Day      time.Time
	Until    time.Time
	Customer string
	Currency string
	Lines    []QuoteLine
	Net      string
	TaxRate  string // "21"
	Tax      string
	Total    string
	Care     string
	Note     string
	Invented bool
}

// A QuoteLine is one line of a quote.
type QuoteLine struct{ Text, Quantity, Each, Amount string }

// QuoteSheet writes a quote on as many pages as it needs. One that can't be printed
// is a *studio.Problem, and nothing is written.
func QuoteSheet(w io.Writer, q Quote) error {
	c, err := drawQuote(languageOf(w), q)
	if err != nil {
		return err
	}
	return c.write(w, "quote")
}

// draftWords stand on every quote.
const draftWords = "Draft made with Aerugo. Check your local rules on tax and on what an invoice must say before you send it."

func drawQuote(in *language.Language, q Quote) (*canvas, error) {
	pw, ph, err := q.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(q.Day); err != nil {
		return nil, err
	}
	if q.Number < 1 || len(q.Lines) == 0 {
		return nil, studio.Problemf(studio.Invalid, "lines", "A quote needs a number and at least one line.")
	}
	c := newCanvas(in, pw, ph, document{fmt.Sprintf("Quote %d", q.Number), q.Studio, q.Day})
	dry := c.dryCopy()
	q.draw(dry, 0)
	q.draw(c, dry.page)
	return c, nil
}

// Where the numbers of a quote stand, in mm from its right edge.
const (
	quoteAmount   = 34.0
	quoteEach     = 32.0
	quoteQuantity = 20.0
)

func (q Quote) draw(c *canvas, pages int) {
	blocks := q.blocks()
	for page := 1; page == 1 || len(blocks) > 0; page++ {
		c.newPage()
		x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
		if page == 1 {
			y = q.header(c)
		} else {
			c.text(box{x, y, w, 6}, fmt.Sprintf("Quote %d, continued", q.Number), style{size: 12, bold: true})
			y += 9
		}
		y = q.columns(c, y)
		col := column{x, y, w, c.h - cardMargin - 11}
		blocks = col.pour(c, blocks, true)
		foot := c.h - cardMargin - 8
		c.rule(x, foot-1, x+w, foot-1, 0.4, 0)
		c.text(box{x, foot, w, 3.8}, draftWords, style{size: 8.5, least: 6.5, bold: true})
		left := "Quote " + strconv.FormatInt(q.Number, 10)
		if name := strings.TrimSpace(q.Studio); name != "" {
			left = name + " · " + left
		}
		if q.Invented {
			left += " · " + invented
		}
		c.text(box{x, foot + 4, w - 32, 3.6}, left, style{size: 7.5, grey: 50})
		c.text(box{x + w - 30, foot + 4, 30, 3.6}, fmt.Sprintf("page %d of %d", page, pages), style{size: 7.5, grey: 50, align: "R"})
	}
}

func (q Quote) header(c *canvas) float64 {
	x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
	c.text(box{x, y - 1, w / 2, 10}, fmt.Sprintf("Quote %d", q.Number), style{size: 23, least: 12, bold: true, head: 1})
	right := style{size: 10, align: "R", least: 7}
	c.text(box{x + w/2, y, w / 2, 4.8}, q.Studio, style{size: 11, least: 7, bold: true, align: "R"})
	c.text(box{x + w/2, y + 5, w / 2, 4.6}, day(q.Day), right)
	c.text(box{x + w/2, y + 9.6, w / 2, 4.6}, "holds until "+day(q.Until), right)
	y += 16
	c.rule(x, y, x+w, y, 0.9, 0)
	y += 3
	c.text(box{x, y, w, 4}, "For", style{size: 8.5, grey: 50})
	y += 4.2
	st := style{size: 11, own: true}
	var lines []string
	for _, l := range strings.Split(q.Customer, "\n") {
		lines = append(lines, c.wrap(st, l, w)...)
	}
	if len(lines) > 8 {
		lines = append(lines[:7], st.shorten(strings.Join(lines[7:], " "), w))
	}
	return y + c.lines(x, y, w, lines, st) + 5
}

// columns draws the head of the table.
func (q Quote) columns(c *canvas, y float64) float64 {
	x, w := cardMargin, c.w-2*cardMargin
	head := style{size: 8.5, grey: 50, align: "R", least: 6}
	c.asHead(func() {
		c.text(box{x, y, 60, 4}, "What", style{size: 8.5, grey: 50})
		c.text(box{x + w - quoteAmount - quoteEach - quoteQuantity, y, quoteQuantity, 4}, "How many", head)
		c.text(box{x + w - quoteAmount - quoteEach, y, quoteEach, 4}, "Each, "+q.Currency, head)
		c.text(box{x + w - quoteAmount, y, quoteAmount, 4}, "Sum, "+q.Currency, head)
	})
	c.rule(x, y+5, x+w, y+5, 0.5, 0)
	return y + 6.5
}

func (q Quote) blocks() []block {
	var out []block
	st := style{size: 10.5}
	num := style{size: 10.5, least: 6, align: "R"}
	for _, l := range q.Lines {
		out = append(out, block{put: func(c *canvas, x, y, w float64) float64 {
			right := quoteAmount + quoteEach + quoteQuantity
			h := st.line()
			c.asRow(func() {
				h = max(h, c.para(x, y, w-right-3, l.Text, st))
				c.text(box{x + w - right, y, quoteQuantity, st.line()}, l.Quantity, num)
				c.text(box{x + w - quoteAmount - quoteEach, y, quoteEach, st.line()}, l.Each, num)
				c.text(box{x + w - quoteAmount, y, quoteAmount, st.line()}, l.Amount, num)
			})
			c.rule(x, y+h+0.9, x+w, y+h+0.9, 0.2, 150)
			return h + 2
		}})
	}
	sum := func(what, amount string, st style, keep bool) block {
		return block{keep: keep, put: func(c *canvas, x, y, w float64) float64 {
			right := st
			right.align, right.least = "R", 6
			c.asRow(func() {
				c.text(box{x, y, w - quoteAmount - 4, st.line()}, what, right)
				c.text(box{x + w - quoteAmount, y, quoteAmount, st.line()}, amount, right)
			})
			return st.line() + 0.8
		}}
	}
	out = append(out, sum("Net", q.Net, st, true), sum("Tax, "+q.TaxRate+" % of it", q.Tax, st, true), sum("Total, "+q.Currency, q.Total, style{size: 13, bold: true}, false))
	for _, part := range []struct{ head, text string }{{"Care", q.Care}, {"", q.Note}} {
		st := style{size: 9.5, own: part.head == ""}
		for i, text := range strings.Split(part.text, "\n") {
			for _, piece := range pieces(text, 800) {
				if strings.TrimSpace(piece) == "" {
					continue
				}
				head := part.head
				if i > 0 {
					head = ""
				}
				out = append(out, block{put: func(c *canvas, x, y, w float64) float64 {
					top := y
					y += 2
					if head != "" {
						c.text(box{x, y, w, 4.6}, head, style{size: 10, bold: true, head: 2})
						y += 5
					}
					return y + c.para(x, y, w, piece, st) - top
				}})
			}
		}
	}
	return out
}
