package print

import (
	"fmt"
	"io"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Mix is a bottle let down with water, on a card. Mix is what was reckoned, Stock
// names what is weighed, Order is what to do, one after the other; Low and High
// are the strengths it may have as fractions, 0 when not known. Uses is the stock,
// which must not be one that water makes dangerous. Label is what goes on the jar.
type Mix struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Name     string
	Stock    string
	Mix      matter.Mix
	Low      float64
	High     float64
	Assumed  string
	Volumes  string // that volumes do not add up, in words
	Order    []string
	Cautions []matter.Caution
	Measures []matter.Measure
	Uses     []matter.Use
	Label    []string
	Faces    string // what it is for, in words; may be empty
}

// MixCard writes a mix on one page: what to weigh, in which order, how it is
// checked, and the label to cut out. A stock that must not meet water is a
// *studio.Problem of kind Unsafe, and nothing is written.
func MixCard(w io.Writer, m Mix) error {
	c, err := drawMix(languageOf(w), m)
	if err != nil {
		return err
	}
	return c.write(w, "mix card")
}

func drawMix(in *language.Language, m Mix) (*canvas, error) {
	pw, ph, err := m.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(m.Date); err != nil {
		return nil, err
	}
	if !(m.Mix.TotalG > 0) {
		return nil, studio.Problemf(studio.Invalid, "amount", "A mix card needs an amount above 0 g.")
	}
	for _, clash := range matter.Meet(append([]matter.Use{{Key: "water"}}, m.Uses...)) {
		if clash.Level == matter.Stop {
			return nil, stopOf(clash)
		}
	}
	c := newCanvas(in, pw, ph, document{"Mix card: " + m.Name, m.Studio, m.Date})
	for i, size := range []float64{11, 10, 9.5, 9, 8.5, 8} {
		dry := c.dryCopy()
		m.draw(dry, size)
		if dry.page == 1 || i == 5 {
			m.draw(c, size)
			break
		}
	}
	return c, nil
}

// draw puts the card on as many pages as it needs.
func (m Mix) draw(c *canvas, size float64) {
	blocks := m.blocks(size)
	for page := 1; page == 1 || len(blocks) > 0; page++ {
		c.newPage()
		x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
		if page == 1 {
			y = m.header(c)
		} else {
			c.text(box{x, y, w, 6}, "Mix: "+m.Name+", continued", style{size: 12, least: 9, bold: true})
			y += 9
		}
		col := column{x, y, w, c.h - cardMargin - 9}
		blocks = col.pour(c, blocks, page > 1)
		foot := c.h - cardMargin - 4
		c.rule(x, foot-1, x+w, foot-1, 0.4, 0)
		text := "The label and safety data sheet of your own bottle come first. Printed " + day(m.Date)
		if name := strings.TrimSpace(m.Studio); name != "" {
			text += " · " + name
		}
		c.text(box{x, foot, w, 3.6}, text, style{size: 8, least: 7})
	}
}

func (m Mix) header(c *canvas) float64 {
	x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
	name := style{size: 22, least: 12, bold: true, head: 1}
	c.text(box{x, y - 1, w, 10}, "Mix: "+m.Name, name)
	y += 10.5
	if m.Faces != "" {
		c.text(box{x, y, w, 5}, m.Faces, style{size: 10.5, least: 8})
		y += 5.4
	}
	c.rule(x, y, x+w, y, 0.9, 0)
	return y + 3
}

// grams and millilitres as the scale and the jar show them.
func grams(v float64) string {
	if v < 10 {
		return fmt.Sprintf("%.2f g", v)
	}
	return fmt.Sprintf("%.1f g", v)
}

func millilitres(v float64) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf("about %.0f mL at 20 °C", v)
}

func (m Mix) blocks(size float64) []block {
	plain, strong := style{size: size}, style{size: size, bold: true}
	head := style{size: size + 2, bold: true, head: 2}
	para := func(text string, st style) block {
		return block{what: "the rest", put: func(c *canvas, x, y, w float64) float64 { return c.para(x, y, w, text, st) + 1 }}
	}
	title := func(text string) block {
		return block{keep: true, put: func(c *canvas, x, y, w float64) float64 {
			c.para(x, y+2, w, text, head)
			return head.line() + 3
		}}
	}
	out := []block{{put: func(c *canvas, x, y, w float64) float64 {
		c.asRow(func() { m.weigh(c, x, y, w) })
		return weighHigh
	}}}
	out = append(out, para(strings.TrimSpace("Weighing is right. "+m.Volumes), strong))
	if m.High > 0 {
		out = append(out, para(fmt.Sprintf("If the bottle is one percent weaker or stronger than it says, the mix has %.3g to %.3g %%.", 100*m.Low, 100*m.High), plain))
	}
	if m.Assumed != "" {
		out = append(out, para("Assumed: "+m.Assumed+".", plain))
	}
	out = append(out, title("In this order"))
	for i, text := range m.Order {
		out = append(out, block{what: "the rest of the order", put: func(c *canvas, x, y, w float64) float64 {
			h := 0.0
			c.asRow(func() {
				c.text(box{x, y, 8, strong.line()}, fmt.Sprintf("%d.", i+1), strong)
				h = c.para(x+8, y, w-8, text, strong)
			})
			return h + 1
		}})
	}
	out = append(out, block{put: func(c *canvas, x, y, w float64) float64 {
		text := fmt.Sprintf("Jar, empty ________ g  +  %s  =  ________ g with the mix.    Weighed: ________ g", grams(m.Mix.TotalG))
		c.frame(box{x, y + 1, w, 9}, 0.8, 0)
		c.text(box{x + 2, y + 1, w - 4, 9}, text, style{size: 11, least: 8})
		return 13
	}})
	if len(m.Measures) > 0 {
		out = append(out, title("What to wear and do"))
		for _, x := range m.Measures {
			out = append(out, para(capital(x.What)+": "+strings.TrimSuffix(x.Text, ".")+"."+standingOf(x.Source, x.Standing), plain))
		}
	}
	out = append(out, title("Take care"))
	for _, x := range m.Cautions {
		out = append(out, para(x.Text+standingOf(x.Source, x.Standing), plain))
	}
	return append(out, block{put: func(c *canvas, x, y, w float64) float64 { return m.label(c, x, y) }})
}

// standingOf writes where a line comes from, in brackets.
func standingOf(source, standing string) string {
	switch {
	case source == "" && standing == "read in source":
		return ""
	case source == "" && standing == "":
		return ""
	case source == "":
		return " (" + standing + ")"
	case standing == "" || standing == "read in source":
		return " (" + source + ")"
	}
	return " (" + source + "; " + standing + ")"
}

// weighHigh is how high what weigh draws is, with the gap below it, in mm.
const weighHigh = 32.0

// weigh draws the two things to weigh and what they make.
func (m Mix) weigh(c *canvas, x, y, w float64) {
	third := w / 3
	for i, col := range []struct{ what, name, g, ml string }{
		{"weigh first", "water", grams(m.Mix.WaterG), millilitres(m.Mix.WaterML)},
		{"then", m.Stock, grams(m.Mix.StockG), millilitres(m.Mix.StockML)},
		{"makes", m.Name, grams(m.Mix.TotalG), millilitres(m.Mix.TotalML)},
	} {
		left := x + float64(i)*third
		c.frame(box{left, y, third, 29}, 0.8, 0)
		c.text(box{left + 2.5, y + 1.5, third - 5, 4.2}, col.what, style{size: 9, grey: 40})
		name := style{size: 10.5, bold: true}
		c.lines(left+2.5, y+5.6, third-5, c.wrapAtMost(name, col.name, third-5, 2), name)
		c.text(box{left + 2.5, y + 14.6, third - 5, 9}, col.g, style{size: 21, least: 12, bold: true})
		c.text(box{left + 2.5, y + 23.6, third - 5, 4.4}, col.ml, style{size: 10, least: 7})
	}
}

// label draws the label for the jar, to cut out.
func (m Mix) label(c *canvas, x, y float64) float64 {
	const w, pad = 100.0, 3.0
	name, plain := style{size: 15, bold: true}, style{size: 9.5}
	y += 3
	top := y
	y += 2
	for i, text := range m.Label {
		st, most := plain, 3
		if i == 0 {
			st, most = name, 2
		}
		y += c.lines(x+pad, y, w-2*pad, c.wrapAtMost(st, capital(text), w-2*pad, most), st) + 0.6
	}
	c.text(box{x + pad, y + 1, w - 2*pad, 5}, "Mixed on "+day(m.Date)+"   by ____________________", plain)
	c.text(box{x + pad, y + 6, w - 2*pad, 5}, "Not food or drink. Keep from children.", style{size: 9.5, bold: true})
	y += 12.5
	c.frame(box{x, top, w, y - top}, 0.5, 0)
	c.text(box{x + w + 3, top, c.w - cardMargin - x - w - 3, 5}, "cut out: the jar's label", style{size: 9, grey: 40})
	return y - top + 5
}
