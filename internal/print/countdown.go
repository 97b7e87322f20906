package print

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Countdown is a planned bench day on paper, for those without a phone at the
// bench: what is to be done at which time, as it was planned at Date. Caution is
// what to mind when a chamber is opened. Clashes of its sets are as on a [Sheet].
type Countdown struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Name     string
	Moments  []Moment
	Done     int // moments that were over when it was planned, and are left out
	Caution  string
	Clashes  []matter.Clash
	Invented bool
}

// A Moment is one thing to do. Does are the pieces of one opening, which are
// seen to with the lid up once: "take out 41, 42", "put in 45"; empty for
// anything else. Latest is zero where nothing is spoilt by waiting; Miss says
// what being later than that means.
type Moment struct {
	At, Latest time.Time
	What       string
	Does       []string
	Who        string
	Miss       string
}

// The countdown's page in mm.
const (
	countMargin = 14.0
	countTime   = 31.0 // width of the time
	countBox    = 9.0  // side of the box to tick
	countTell   = 37.0 // width of the latest time and of where the real one is written
	countLeast  = 17.0 // least height of a moment: a finger's breadth, and room for handwriting
)

var (
	countBig    = style{size: 27, least: 20, bold: true}
	countWhat   = style{size: 14, least: 12, bold: true}
	countPlain  = style{size: 11.5, least: 10}
	countSmall  = style{size: 9.5, least: 9, grey: 30}
	countLatest = style{size: 13, least: 10, bold: true}
	countDay    = style{size: 14, least: 11, bold: true, head: 2}
)

// CountdownSheet writes a planned day to hang at the bench, upright. A day
// without anything to do is a *studio.Problem, and nothing is written.
func CountdownSheet(w io.Writer, day Countdown) error {
	c, err := drawCountdown(languageOf(w), day)
	if err != nil {
		return err
	}
	return c.write(w, "countdown")
}

func drawCountdown(in *language.Language, day Countdown) (*canvas, error) {
	wide, high, err := day.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(day.Date); err != nil {
		return nil, err
	}
	if err := stopped(day.Clashes); err != nil {
		return nil, err
	}
	if len(day.Moments) == 0 {
		return nil, studio.Problemf(studio.Invalid, "day", "Nothing is left to do on %s; plan a day with work in it and print that.", day.Name)
	}
	day.Moments = slices.Clone(day.Moments)
	slices.SortStableFunc(day.Moments, func(a, b Moment) int { return a.At.Compare(b.At) })
	c := newCanvas(in, wide, high, document{inventedTitle("Countdown: "+day.Name, day.Invented), day.Studio, day.Date})
	dry := c.dryCopy()
	d := countdown{Countdown: day, minds: Sheet{Clashes: day.Clashes}.minds()}
	d.draw(dry)
	d.pages = dry.page
	d.draw(c)
	return c, nil
}

// A countdown is one being drawn.
type countdown struct {
	Countdown
	minds []string
	pages int // 0 while they are being counted
	y     float64
}

func (d *countdown) draw(c *canvas) {
	d.page(c)
	date := func(t time.Time) string { return t.Format("Monday 2 January") }
	last := ""
	several := date(d.Moments[0].At) != date(d.Moments[len(d.Moments)-1].At)
	for _, m := range d.Moments {
		h := d.height(c, m)
		room := h
		fresh := several && date(m.At) != last
		if fresh {
			room += countDay.line() + 5
		}
		if d.y+room > c.h-countMargin-6 {
			d.page(c)
		}
		if fresh {
			last = date(m.At)
			c.text(box{countMargin, d.y + 2, c.w - 2*countMargin, countDay.line()}, last, countDay)
			d.y += countDay.line() + 3
			c.rule(countMargin, d.y, c.w-countMargin, d.y, 0.9, 0)
			d.y += 2
		}
		c.asRow(func() { d.moment(c, m, h) })
		d.y += h
	}
}

// page begins a page with its head and, at its foot, what it is good for.
func (d *countdown) page(c *canvas) {
	c.newPage()
	x, y, w := countMargin, countMargin, c.w-2*countMargin
	const aside = 58.0
	aloud := c.hush(c.page > 1)
	c.text(box{x, y - 1, w - aside, 7.5}, d.Name, style{size: 18, least: 12, bold: true, head: 1})
	left := fmt.Sprintf("%d things to do", len(d.Moments))
	if len(d.Moments) == 1 {
		left = "one thing to do"
	}
	if d.Done > 0 {
		left += fmt.Sprintf(", %d were done before", d.Done)
	}
	c.text(box{x, y + 6.8, w - aside, 5}, left, style{size: 10.5, least: 9})
	aloud()
	right := style{size: 9.5, least: 8, align: "R"}
	c.text(box{x + w - aside + 2, y - 0.6, aside - 2, 4.4}, "page "+strconv.Itoa(c.page)+" of "+strconv.Itoa(d.pages), style{size: 9.5, bold: true, align: "R"})
	defer c.hush(c.page > 1)()
	planned := "as planned at " + d.Date.Format("15:04") + ", " + day(d.Date)
	c.text(box{x + w - aside + 2, y + 3.6, aside - 2, 4.4}, planned, right)
	if name := strings.TrimSpace(d.Studio); name != "" {
		c.text(box{x + w - aside + 2, y + 7.8, aside - 2, 4.4}, name, right)
	}
	y += 13
	if d.Invented {
		c.text(box{x, y, w, 4.4}, invented, style{size: 9.5, bold: true})
		y += 5
	}
	if d.Caution != "" {
		st := style{size: 11, bold: true}
		lines := c.wrapAtMost(st, "When a chamber is opened: "+d.Caution, w-6, 4)
		h := float64(len(lines))*st.line() + 2.4
		c.frame(box{x, y, w, h}, 1.1, 0)
		c.lines(x+3, y+1.2, w-6, lines, st)
		y += h + 2
	}
	if c.page == 1 {
		st := style{size: 10}
		for _, text := range d.minds {
			y += c.lines(x, y, w, c.wrapAtMost(st, text, w, 3), st) + 0.6
		}
	}
	y += 1
	c.rule(x, y, x+w, y, 1.2, 0)
	d.y = y + 1
	foot := "If something slips, what follows moves too: ask at the laptop for a new sheet, or go on by the latest times."
	c.text(box{x, c.h - countMargin - 4.5, w, 4.5}, foot, style{size: 9, least: 7.5, grey: 40})
}

// words is the room for what is to be done.
func (d *countdown) words(c *canvas) (x, w float64) {
	x = countMargin + countTime + countBox + 6
	return x, c.w - countMargin - countTell - 3 - x
}

// texts are the lines of a moment: what to do, what with the lid up, and the rest.
func (d *countdown) texts(c *canvas, m Moment) (what, does, rest []string) {
	_, w := d.words(c)
	what = c.wrapAtMost(countWhat, m.What, w, 4)
	for _, text := range m.Does {
		does = append(does, countPlain.wrapAtMost("• "+c.said(text, countPlain), w, 4)...)
	}
	tail := m.Miss
	if m.Latest.IsZero() {
		tail = ""
	}
	if m.Who != "" {
		rest = c.wrapAtMost(countSmall, "For "+m.Who+".", w, 1)
	}
	if tail != "" {
		rest = append(rest, c.wrapAtMost(countSmall, tail, w, 3)...)
	}
	return what, does, rest
}

func (d *countdown) height(c *canvas, m Moment) float64 {
	what, does, rest := d.texts(c, m)
	return max(countLeast, 5+float64(len(what))*countWhat.line()+float64(len(does))*countPlain.line()+float64(len(rest))*countSmall.line())
}

func (d *countdown) moment(c *canvas, m Moment, h float64) {
	x, y := countMargin, d.y
	if len(m.Does) > 0 { // a lid goes up: a thick bar beside it, read without colour
		c.fill(box{x, y + 1.5, 1.8, h - 3}, 0, 0, 0)
	}
	c.text(box{x + 3, y + 1.5, countTime - 3, countBig.line()}, m.At.Format("15:04"), countBig)
	c.frame(box{x + countTime + 2, y + 3, countBox, countBox}, 1.2, 0)
	wx, ww := d.words(c)
	what, does, rest := d.texts(c, m)
	wy := y + 2
	wy += c.lines(wx, wy, ww, what, countWhat)
	wy += c.lines(wx, wy, ww, does, countPlain)
	c.lines(wx, wy, ww, rest, countSmall)
	tx := c.w - countMargin - countTell
	if !m.Latest.IsZero() {
		late := m.Latest.Format("15:04")
		if m.Latest.Format("2 Jan") != m.At.Format("2 Jan") {
			late = m.Latest.Format("Mon 15:04")
		}
		c.text(box{tx, y + 2, countTell, countLatest.line()}, "latest "+late, style{size: countLatest.size, least: countLatest.least, bold: true, align: "R"})
	}
	base := y + h - 3.5
	c.text(box{tx, base - 4.5, 12, 4.5}, "done at", countSmall)
	c.rule(tx+13, base, c.w-countMargin, base, 0.6, 60)
	c.rule(x, y+h, c.w-countMargin, y+h, 0.4, 120)
}
