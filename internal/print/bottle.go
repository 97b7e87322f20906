package print

import (
	"io"
	"slices"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Bottle is the label of a bottle that something was mixed or poured into.
//
// Key is matter's, WtPercent its strength there, 0 when nobody knows it. Strength
// is how it is written: "10 % by mass". Apart names what it must be kept away
// from. Mixed is required; Discard may be zero.
type Bottle struct {
	Name      string
	Key       string
	WtPercent float64
	Strength  string
	Mixed     time.Time
	By        string
	Discard   time.Time
	Apart     []string
	Note      string
	Invented  bool
}

// A BottleSheet is the paper bottle labels go on. Start is the place of the first
// one, from 1; 0 means 1. Date is the day of printing, kept in the file.
type BottleSheet struct {
	Paper  Paper
	Start  int
	Studio string
	Date   time.Time
}

// A bottle's label in mm, and how many stand on a sheet: it takes four hazard signs
// of 16 mm a side, the size Regulation (EC) 1272/2008, annex I, 1.2.1.4 asks for on
// up to 3 litres (label from 52 x 74 mm).
const (
	bottleW       = 96.0
	bottleH       = 88.0
	bottleColumns = 2
	bottleRows    = 3
	signWide      = 22.63 // diagonal of a square of 16 mm
)

// BottlesPerSheet is how many bottle labels one sheet of paper takes.
const BottlesPerSheet = bottleColumns * bottleRows

// ownSheet is on every label: it says only what is known here.
const ownSheet = "Check the sheet that came with your bottle; it comes first."

// BottleLabels writes sheets of bottle labels with cutting lines. A label that can't
// be made and a start that is not on the sheet are a *studio.Problem, and nothing
// is written.
func BottleLabels(w io.Writer, bottles []Bottle, sheet BottleSheet) error {
	c, err := drawBottles(languageOf(w), bottles, sheet)
	if err != nil {
		return err
	}
	return c.write(w, "bottle labels")
}

func drawBottles(in *language.Language, bottles []Bottle, sheet BottleSheet) (*canvas, error) {
	pw, ph, err := sheet.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(sheet.Date); err != nil {
		return nil, err
	}
	if len(bottles) == 0 || len(bottles) > 500 {
		return nil, studio.Problemf(studio.Invalid, "copies", "%d labels can't be printed; choose 1 to 500.", len(bottles))
	}
	start := max(sheet.Start, 1)
	if sheet.Start < 0 || start > BottlesPerSheet {
		return nil, studio.Problemf(studio.Invalid, "start", "The first label can't go at place %d; a sheet of %d has places 1 to %d.", sheet.Start, BottlesPerSheet, BottlesPerSheet)
	}
	for _, b := range bottles {
		if strings.TrimSpace(b.Name) == "" {
			return nil, studio.Problemf(studio.Invalid, "name", "A bottle's label needs its name.")
		}
		if b.Mixed.IsZero() {
			return nil, studio.Problemf(studio.Invalid, "mixed", "Say which day it was mixed or poured, like 2026-11-25.")
		}
		if !b.Discard.IsZero() && b.Discard.Before(b.Mixed) {
			return nil, studio.Problemf(studio.Invalid, "discard", "It can't be thrown away on %s, before it was mixed.", day(b.Discard))
		}
	}
	c := newCanvas(in, pw, ph, document{"Bottle labels", sheet.Studio, sheet.Date})
	left, top := (pw-bottleColumns*bottleW)/2, (ph-bottleRows*bottleH)/2
	for i, b := range bottles {
		place := (start - 1 + i) % BottlesPerSheet
		if i == 0 || place == 0 {
			c.newPage()
		}
		at := box{left + float64(place%bottleColumns)*bottleW, top + float64(place/bottleColumns)*bottleH, bottleW, bottleH}
		c.frame(at, 0.3, 140)
		c.bottle(at, b)
	}
	return c, nil
}

// said is what a label says of the hazards.
type said struct {
	signs  []string
	signal string
	lines  []string
}

// hazardsOf gathers signs, signal word and statements of a bottle.
func hazardsOf(b Bottle) said {
	band, err := matter.At(b.Key, b.WtPercent)
	if err != nil {
		return said{lines: []string{"Its hazards are not known here: copy them from the sheet that came with it."}}
	}
	s := said{signs: band.Pictograms, signal: signalOf(band.HCodes)}
	for _, code := range band.HCodes {
		if saidByGraver(code, band.HCodes) {
			continue
		}
		if text := statements[code].text; text != "" {
			s.lines = append(s.lines, text)
		}
	}
	if len(s.lines) == 0 {
		s.lines = []string{"No hazard statement is known for it at this strength. Not food or drink."}
	}
	if band.Assumed && len(band.HCodes) > 0 {
		s.lines = append(s.lines, "(Strength not known: "+band.Name+" is assumed.)")
	}
	return s
}

// saidByGraver tells whether a statement only says again, less gravely, what another of
// the codes says: burns and damage to the eyes go before irritation (Regulation (EC)
// 1272/2008, article 27: no evident duplication; which ones, from memory).
func saidByGraver(code string, codes []string) bool {
	graver := map[string][]string{"H315": {"H314"}, "H318": {"H314"}, "H319": {"H314", "H318"}}[code]
	return slices.ContainsFunc(graver, func(g string) bool { return slices.Contains(codes, g) })
}

// bottle draws one label. Statements are never cut: they are set smaller, and then
// what it is kept apart from gives way.
func (c *canvas) bottle(at box, b Bottle) {
	const pad = 3.4
	x, y, w := at.x+pad, at.y+pad, at.w-2*pad
	bottom := at.y + at.h - pad
	c.text(box{x, y - 0.6, w, 7.4}, b.Name, style{size: 18, least: 9, bold: true, head: 2})
	y += 7.2
	what := b.Strength
	if sub, ok := matter.Lookup(b.Key); ok && !strings.EqualFold(sub.Name, b.Name) {
		what = strings.TrimSuffix(sub.Name+", "+b.Strength, ", ")
	}
	c.text(box{x, y, w, 4.8}, what, style{size: 11, least: 7})
	y += 5.4

	h := hazardsOf(b)
	if n := float64(len(h.signs)); n > 0 {
		wide := min(signWide, w/n)
		for i, code := range h.signs {
			c.sign(code, x+float64(i)*wide, y, wide)
		}
		if room := w - n*wide; h.signal != "" && room > 20 {
			c.text(box{x + n*wide + 2, y + wide/2 - 4, room - 2, 8}, h.signal, style{size: 20, least: 12, bold: true})
			h.signal = ""
		}
		y += wide + 0.8
	}
	if h.signal != "" {
		c.text(box{x, y, w, 5.2}, h.signal, style{size: 13, bold: true})
		y += 5.6
	}

	foot := []string{"Mixed " + day(b.Mixed)}
	if b.By != "" {
		foot[0] += " by " + b.By
	}
	if !b.Discard.IsZero() {
		foot = append(foot, "Throw away after "+day(b.Discard))
	}
	if b.Invented {
		foot[len(foot)-1] += " · " + invented
	}
	strong := style{size: 9, least: 6.5, bold: true}
	for i := range foot {
		foot[i] = c.said(foot[i], strong)
	}
	small := style{size: 7, least: 6}
	footTop := bottom - float64(len(foot))*strong.line() - small.line()
	apart := "Keep away from: " + strings.Join(b.Apart, "; ") + "."
	if len(b.Apart) == 0 {
		apart = ""
	}
	if b.Note != "" {
		apart = strings.TrimSpace(apart + " " + b.Note)
	}
	statement := strings.Join(h.lines, " ")
	room := footTop - 1 - y
	for _, size := range []float64{9, 8.5, 8, 7.5, 7, 6.5, 6, 5.5, 5} {
		st, more := style{size: size}, style{size: min(size, 8)}
		lines, rest := c.wrap(st, statement, w), c.wrap(more, apart, w)
		high := float64(len(lines))*st.line() + 0.8
		if high+float64(len(rest))*more.line() > room && size > 5 {
			continue
		}
		y += c.lines(x, y, w, lines, st) + 0.8
		if fit := int((footTop - 1 - y) / more.line()); len(rest) > max(fit, 0) {
			rest = c.wrapAtMost(more, apart, w, max(fit, 1))
		}
		c.lines(x, y, w, slices.Clip(rest), more)
		break
	}
	c.lines(x, footTop, w, foot, strong)
	c.text(box{x, footTop + float64(len(foot))*strong.line(), w, small.line()}, ownSheet, small)
}
