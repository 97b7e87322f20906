package print

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/flow/batch"
	"aerugo/internal/studio"
)

// A CuttingList is how pieces lie on their sheets, drawn to scale. Plan is what
// [batch.Cut] made of Blank; Stock, in its place, is what [batch.CutFrom] made of it,
// and Places says of each of its takings which sheets they are ("lot 3").
type CuttingList struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Name     string // of the batch
	Metal    string
	Blank    batch.Blank
	Plan     batch.CutPlan
	Stock    batch.StockCut
	Places   []string
	Invented bool // part of the example data
}

const cuttingMargin = 14.0

// Cutting writes a cutting list, a page for each way a sheet is cut: sheets cut alike
// share one. A list without sheets is a *studio.Problem, and nothing is written.
func Cutting(w io.Writer, list CuttingList) error {
	c, err := drawCutting(languageOf(w), list)
	if err != nil {
		return err
	}
	return c.write(w, "cutting list")
}

func drawCutting(in *language.Language, list CuttingList) (*canvas, error) {
	w, h, err := list.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(list.Date); err != nil {
		return nil, err
	}
	if len(list.Plan.Sheets)+len(list.Stock.Takings) == 0 {
		return nil, studio.Problemf(studio.Invalid, "pieces", "There is no sheet to cut for %s; lay its pieces on a sheet first.", list.Name)
	}
	c := newCanvas(in, w, h, document{inventedTitle("Cutting list: "+list.Name, list.Invented), list.Studio, list.Date})
	for i := range list.Stock.Takings {
		list.taking(c, i)
	}
	for i := 0; i < len(list.Plan.Sheets); {
		same := 1
		for i+same < len(list.Plan.Sheets) && len(list.Plan.Sheets[i+same]) == len(list.Plan.Sheets[i]) {
			same++
		}
		list.page(c, i, same)
		i += same
	}
	return c, nil
}

// page draws sheet number first, from 0, which stands for count sheets cut alike.
func (l CuttingList) page(c *canvas, first, count int) {
	b, spots := l.Blank, l.Plan.Sheets[first]
	which := fmt.Sprintf("Sheet %d", first+1)
	if count > 1 {
		which = fmt.Sprintf("Sheets %d to %d, each", first+1, first+count)
	}
	head := fmt.Sprintf("%s of %d: %d pieces, %s, from %s × %s mm %s. The cut takes %s mm; %s mm are left along the edges.",
		which, len(l.Plan.Sheets), len(spots), l.size(), mm(b.SheetWMM), mm(b.SheetHMM), l.Metal, mm(b.KerfMM), mm(b.EdgeMM))
	l.draw(c, []string{head, l.Plan.Words + " Sizes are finished sizes: cut beside the line."}, spots, b)
}

// taking draws what is cut from sheets of the shelf that are cut alike.
func (l CuttingList) taking(c *canvas, i int) {
	t, b := l.Stock.Takings[i], l.Blank
	b.SheetWMM, b.SheetHMM = t.Sheet.WMM, t.Sheet.HMM
	head := "%d × sheet of %s × %s mm %s from the shelf: %d pieces from each, %s. The cut takes %s mm; %s mm are left along the edges."
	if t.Sheet.Offcut {
		head = "%d × offcut of %s × %s mm %s from the shelf: %d pieces from each, %s. The cut takes %s mm; %s mm are left along the edges."
	}
	says := []string{fmt.Sprintf(head, t.Count, mm(b.SheetWMM), mm(b.SheetHMM), l.Metal, len(t.Spots), l.size(), mm(b.KerfMM), mm(b.EdgeMM))}
	if i < len(l.Places) && l.Places[i] != "" {
		says = append(says, fmt.Sprintf("On the shelf: %s.", l.Places[i]))
	}
	says = append(says, l.Stock.Words+" Sizes are finished sizes: cut beside the line.")
	if t.RestW > 0 {
		says = append(says, fmt.Sprintf("Keep what is left of each: %s × %s mm.", mm(t.RestW), mm(t.RestH)))
	}
	l.draw(c, says, t.Spots, b)
}

// size says what one piece is.
func (l CuttingList) size() string {
	if l.Blank.DiscMM > 0 {
		return "discs, " + mm(l.Blank.DiscMM) + " mm across"
	}
	return mm(l.Blank.WidthMM) + " × " + mm(l.Blank.HeightMM) + " mm"
}

// draw draws one way of cutting sheets like b's, under sentences that say which.
func (l CuttingList) draw(c *canvas, says []string, spots []batch.Spot, b batch.Blank) {
	c.newPage()
	x, y, w := cuttingMargin, cuttingMargin, c.w-2*cuttingMargin
	c.text(box{x, y, w, 8}, "Cutting list: "+l.Name, style{size: 17, least: 10, bold: true, head: 1})
	y += 10
	for _, text := range says {
		y += c.para(x, y, w, text, style{size: 10.5, least: 8}) + 2
	}
	y += 2
	bottom := c.h - cuttingMargin - 8
	scale := min(w/b.SheetWMM, (bottom-y)/b.SheetHMM)
	c.frame(box{x, y, b.SheetWMM * scale, b.SheetHMM * scale}, 1.2, 0)
	for i, s := range spots {
		at := box{x + s.X*scale, y + s.Y*scale, s.W * scale, s.H * scale}
		if b.DiscMM > 0 { // the square it is nibbled out of is only a help
			c.frame(at, 0.25, 150)
			c.circle(at, 0.9)
		} else {
			c.frame(at, 0.5, 0)
		}
		if at.w > 5 && at.h > 3.5 {
			c.text(box{at.x + 0.5, at.y, at.w - 1, at.h}, strconv.Itoa(i+1), style{size: 9, least: 6, align: "C", run: true})
		}
	}
	foot := "Printed " + day(l.Date)
	if name := strings.TrimSpace(l.Studio); name != "" {
		foot = name + " · " + strings.ToLower(foot[:1]) + foot[1:]
	}
	if l.Invented {
		foot += " · " + invented
	}
	c.text(box{x, c.h - cuttingMargin - 4, w, 4}, foot, style{size: 8, grey: 50})
}

// circle draws the circle that fills b.
func (c *canvas) circle(b box, pt float64) {
	if c.dry {
		return
	}
	c.pdf.SetDrawColor(0, 0, 0)
	c.pdf.SetLineWidth(pt * mmPerPoint)
	c.pdf.Circle(b.x+b.w/2, b.y+b.h/2, b.w/2, "D")
}

// mm writes a length with at most one decimal.
func mm(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}
