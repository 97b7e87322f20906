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
// [batch.Cut] made of Blank.
type CuttingList struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Name     string // of the batch
	Metal    string
	Blank    batch.Blank
	Plan     batch.CutPlan
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
	if len(list.Plan.Sheets) == 0 {
		return nil, studio.Problemf(studio.Invalid, "pieces", "There is no sheet to cut for %s; lay its pieces on a sheet first.", list.Name)
	}
	c := newCanvas(in, w, h, document{inventedTitle("Cutting list: "+list.Name, list.Invented), list.Studio, list.Date})
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
	c.newPage()
	x, y, w := cuttingMargin, cuttingMargin, c.w-2*cuttingMargin
	spots := l.Plan.Sheets[first]
	c.text(box{x, y, w, 8}, "Cutting list: "+l.Name, style{size: 17, least: 10, bold: true, head: 1})
	y += 10
	b := l.Blank
	size := mm(b.WidthMM) + " × " + mm(b.HeightMM) + " mm"
	if b.DiscMM > 0 {
		size = "discs, " + mm(b.DiscMM) + " mm across"
	}
	plain := style{size: 10.5, least: 8}
	which := fmt.Sprintf("Sheet %d", first+1)
	if count > 1 {
		which = fmt.Sprintf("Sheets %d to %d, each", first+1, first+count)
	}
	y += c.para(x, y, w, fmt.Sprintf("%s of %d: %d pieces, %s, from %s × %s mm %s. The cut takes %s mm; %s mm are left along the edges.",
		which, len(l.Plan.Sheets), len(spots), size, mm(b.SheetWMM), mm(b.SheetHMM), l.Metal, mm(b.KerfMM), mm(b.EdgeMM)), plain) + 2
	y += c.para(x, y, w, l.Plan.Words+" Sizes are finished sizes: cut beside the line.", plain) + 4
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
