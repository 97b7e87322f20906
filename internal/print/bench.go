package print

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/language"

	"aerugo/internal/flow/run"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Sheet is a set on paper for the bench: Run is what [run.BenchSheet] returned.
// Clashes are what was found between what it uses, where it is done and for whom:
// a stop is not printed, a hood and a caution are. Place says where and for whom
// in words.
type Sheet struct {
	Paper    Paper
	Date     time.Time
	Studio   string
	Run      run.Sheet
	Place    string
	Clashes  []matter.Clash
	Invented bool // part of the example data
}

// The bench sheet's page in mm, on its long side.
const (
	benchMargin = 12.0
	benchLeft   = 42.0 // number, face and settings of a swatch
	benchGap    = 3.0
	benchRow    = 10.5 // least height of a step: room for handwriting
)

// BenchSheet writes the set in its order of work, on its long side: each step
// with what is planned and empty boxes for what was done. A sheet without
// treatments is a *studio.Problem, and nothing is written.
func BenchSheet(w io.Writer, sheet Sheet) error {
	c, err := drawBench(languageOf(w), sheet)
	if err != nil {
		return err
	}
	return c.write(w, "bench sheet")
}

func drawBench(in *language.Language, sheet Sheet) (*canvas, error) {
	short, long, err := sheet.Paper.size()
	if err != nil {
		return nil, err
	}
	if err := checkDate(sheet.Date); err != nil {
		return nil, err
	}
	if err := stopped(sheet.Clashes); err != nil {
		return nil, err
	}
	if len(sheet.Run.Rows) == 0 {
		return nil, studio.Problemf(studio.Invalid, "set", "The set %s has no treatment to put on a bench sheet; plan its swatches first.", sheet.Run.Title)
	}
	c := newCanvas(in, long, short, document{inventedTitle("Bench sheet: "+sheet.Run.Title, sheet.Invented), sheet.Studio, sheet.Date})
	dry := c.dryCopy()
	b := bench{Sheet: sheet, minds: sheet.minds()}
	b.draw(dry)
	b.pages = dry.page
	b.draw(c)
	return c, nil
}

// A bench is a sheet being drawn.
type bench struct {
	Sheet
	minds []string // on the first page
	pages int      // 0 while they are being counted
	y     float64  // how far the page is filled
	top   float64  // where its header ends
}

// The columns of the steps, from the left; those of width 0 share what is left.
type benchColumn struct {
	head string
	w    float64
}

func (b *bench) columns(c *canvas) []benchColumn {
	cols := []benchColumn{{"", 7}, {"step", 0}, {"planned", 31}, {"began", 21}, {"ended", 21}, {"amount used", 30}, {"room °C, %", 22}, {"notes", 0}}
	left := c.w - 2*benchMargin - benchLeft - benchGap
	for _, col := range cols {
		left -= col.w
	}
	cols[1].w, cols[7].w = left*0.6, left*0.4
	return cols
}

func (b *bench) bottom(c *canvas) float64 { return c.h - benchMargin }

// draw puts all pages on the canvas.
func (b *bench) draw(c *canvas) {
	b.page(c)
	for _, row := range b.Run.Rows {
		b.treatment(c, row)
	}
	b.end(c)
}

// page begins a page with its header.
func (b *bench) page(c *canvas) {
	c.newPage()
	x, y, w := benchMargin, benchMargin, c.w-2*benchMargin
	const aside = 62.0
	aloud := c.hush(c.page > 1)
	title := b.Run.Title
	c.text(box{x, y - 1, w - aside, 7.5}, title, style{size: 17, least: 12, bold: true, head: 1})
	c.text(box{x, y + 6.6, w - aside, 5}, b.Run.Question, style{size: 10.5, least: 9, own: true})
	aloud()
	number := "page " + strconv.Itoa(c.page) + " of " + strconv.Itoa(b.pages)
	c.text(box{x + w - aside + 2, y - 0.6, aside - 2, 4.4}, number, style{size: 9.5, bold: true, align: "R"})
	defer c.hush(c.page > 1)()
	right := style{size: 9.5, least: 8, align: "R"}
	printed := day(b.Date)
	if name := strings.TrimSpace(b.Studio); name != "" {
		printed = name + " · " + printed
	}
	c.text(box{x + w - aside + 2, y + 3.6, aside - 2, 4.4}, printed, right)
	if b.Invented {
		c.text(box{x + w - aside + 2, y + 7.6, aside - 2, 4.4}, invented, style{size: 9.5, bold: true, align: "R"})
	}
	y += 13
	if b.Run.Caution != "" {
		st := style{size: 11, bold: true}
		lines := c.wrapAtMost(st, "When a chamber is opened: "+b.Run.Caution, w-6, 4)
		h := float64(len(lines))*st.line() + 2.4
		c.frame(box{x, y, w, h}, 1.1, 0)
		c.lines(x+3, y+1.2, w-6, lines, st)
		y += h + 2
	}
	if c.page == 1 {
		st := style{size: 10}
		for _, text := range b.minds {
			y += c.lines(x, y, w, c.wrapAtMost(st, text, w, 3), st) + 0.6
		}
		if len(b.minds) > 0 {
			y += 1.6
		}
	}
	cx := x + benchLeft + benchGap
	head := style{size: 9, least: 7.5, grey: 40, run: true}
	c.text(box{x, y, benchLeft, 4.5}, "swatch", head)
	for _, col := range b.columns(c) {
		c.text(box{cx + 1, y, col.w - 1.5, 4.5}, col.head, head)
		cx += col.w
	}
	y += 5
	c.rule(x, y, x+w, y, 0.9, 0)
	b.y, b.top = y, y
}

// maxMinds is how many lines of care the first page of a bench sheet has room for.
const maxMinds = 7

// minds is what stands above the steps: where and for whom, then what to mind.
func (sheet Sheet) minds() []string {
	var out []string
	if sheet.Place != "" {
		out = append(out, "Where and for whom: "+sheet.Place+".")
	}
	for _, c := range sheet.Clashes {
		if c.ID == "unknown" {
			out = append(out, sentence(c.A+": "+c.What))
			continue
		}
		text := clashText(c)
		if c.Level == matter.Hood {
			text = "Outdoors or under a hood only. " + text
		}
		out = append(out, text)
	}
	if n := len(out) - maxMinds; n > 0 {
		out = append(out[:maxMinds-1], fmt.Sprintf("And %d more to mind: they stand on the set's page.", n+1))
	}
	return out
}

// stopped refuses a sheet for the worst of its clashes.
func stopped(clashes []matter.Clash) error {
	for _, c := range clashes {
		if c.Level == matter.Stop {
			p := stopOf(c)
			p.Text = strings.Replace(p.Text, "This card is not printed", "This is not printed", 1)
			return p
		}
	}
	return nil
}

// treatment draws one treatment, on one page if a page can hold it.
func (b *bench) treatment(c *canvas, row run.SheetRow) {
	heights := make([]float64, len(row.Steps))
	total := 0.0
	for i, s := range row.Steps {
		heights[i] = b.stepHeight(c, s)
		total += heights[i]
	}
	label := b.label(c.dryCopy(), 0, row, false)
	total = max(total, label)
	fresh := b.bottom(c) - b.top
	if b.y+total > b.bottom(c) && (total <= fresh || b.bottom(c)-b.y < fresh/2) {
		b.ruled(c, "notes")
		b.page(c)
	}
	for from := 0; ; {
		to, h := from, 0.0
		for to < len(row.Steps) && (b.y+h+heights[to] <= b.bottom(c) || to == from) {
			h += heights[to]
			to++
		}
		b.label(c, b.y, row, from > 0)
		b.sayColumns(c)
		y := b.y
		for i := from; i < to; i++ {
			c.asRow(func() { b.step(c, y, heights[i], row.Steps[i]) })
			y += heights[i]
		}
		b.y += max(h, min(label, b.bottom(c)-b.y))
		c.rule(benchMargin, b.y, c.w-benchMargin, b.y, 0.9, 0)
		if to >= len(row.Steps) {
			return
		}
		from = to
		b.page(c)
	}
}

// sayColumns heads the table of a treatment's steps for those who can't see that
// the columns go on down the page.
func (b *bench) sayColumns(c *canvas) {
	c.asHead(func() {
		x := benchMargin + benchLeft + benchGap
		for _, col := range b.columns(c) {
			c.say(col.head, box{x: x + 1, w: col.w}, style{})
			x += col.w
		}
	})
}

// label draws what the treatment is of, and returns its height.
func (b *bench) label(c *canvas, y float64, row run.SheetRow, continued bool) float64 {
	x, w, top := benchMargin, benchLeft, y
	y += 1
	c.text(box{x, y, w, 10.5}, strconv.FormatInt(row.Number, 10), style{size: 30, least: 10, bold: true, head: 2, aloud: fmt.Sprintf("Swatch %d, %s", row.Number, row.FacesWord)})
	y += 11
	strong := style{size: 13, least: 10, bold: true}
	c.text(box{x, y, w, strong.line()}, row.FacesWord, strong)
	y += strong.line()
	plain := style{size: 11}
	if row.Settings != "" {
		y += c.lines(x, y, w, c.wrapAtMost(plain, row.Settings, w, 3), plain)
	}
	small := style{size: 9, least: 8, grey: 40}
	for _, text := range b.about(row, continued) {
		y += c.lines(x, y, w, c.wrapAtMost(small, text, w, 2), small)
	}
	return y + 1.5 - top
}

// about says the place in the order and what else tells the treatment apart.
func (b *bench) about(row run.SheetRow, continued bool) []string {
	first := "place " + strconv.Itoa(row.Order) + " in the order"
	if row.Layer > 1 {
		first += ", layer " + strconv.Itoa(row.Layer)
	}
	out := []string{first}
	if row.Replicate > 1 {
		out = append(out, "replicate "+strconv.Itoa(row.Replicate))
	}
	if len(row.Codes) > 0 {
		out = append(out, strings.Join(row.Codes, " · "))
	}
	if continued {
		out[0] = "continued from the page before"
	}
	return out
}

// stepWords parts a step into what the hands do and the rest: time, tolerance
// and amount stand in a column of their own.
func stepWords(s run.SheetStep) (do, rest string) {
	do = capital(string(s.Kind))
	rest, ok := strings.CutPrefix(s.Words, do)
	if !ok {
		return do, s.Words
	}
	if s.Time != "" {
		rest = strings.TrimPrefix(rest, " "+s.Time)
		if s.Tolerance != "" {
			rest = strings.TrimPrefix(rest, " ("+s.Tolerance+")")
		}
	}
	if s.Amount != "" {
		rest = strings.TrimPrefix(rest, ", "+s.Amount)
	}
	return do, strings.TrimLeft(rest, " ,")
}

// The type of the bench sheet.
var (
	benchDo      = style{size: 12.5, least: 11, bold: true}
	benchPlain   = style{size: 10.5}
	benchPlanned = style{size: 12.5, least: 10, bold: true}
	benchSmall   = style{size: 9.5}
)

const (
	benchRest   = 3 // lines at most for what is used in a step
	benchAmount = 3 // and for its amount
)

func (b *bench) stepHeight(c *canvas, s run.SheetStep) float64 {
	cols := b.columns(c)
	_, rest := stepWords(s)
	words := benchDo.line() + float64(len(c.wrapAtMost(benchPlain, rest, cols[1].w-2, benchRest)))*benchPlain.line()
	planned := 0.0
	if s.Time != "" {
		planned += benchPlanned.line()
	}
	planned += float64(len(c.wrapAtMost(benchSmall, s.Tolerance, cols[2].w-2, 2))+len(c.wrapAtMost(benchSmall, s.Amount, cols[2].w-2, benchAmount))) * benchSmall.line()
	return max(benchRow, words+2.4, planned+2.4)
}

// step draws one step in a row of height h.
func (b *bench) step(c *canvas, y, h float64, s run.SheetStep) {
	cols := b.columns(c)
	x := benchMargin + benchLeft + benchGap
	top := y + 1.2
	c.text(box{x + 1, top, cols[0].w - 1, benchDo.line()}, strconv.Itoa(s.N), benchDo)
	x += cols[0].w
	do, rest := stepWords(s)
	c.text(box{x + 1, top, cols[1].w - 2, benchDo.line()}, do, benchDo)
	c.lines(x+1, top+benchDo.line(), cols[1].w-2, c.wrapAtMost(benchPlain, rest, cols[1].w-2, benchRest), benchPlain)
	x += cols[1].w
	py, pw := top, cols[2].w-2
	if s.Time != "" {
		c.text(box{x + 1, py, pw, benchPlanned.line()}, s.Time, benchPlanned)
		py += benchPlanned.line()
	}
	py += c.lines(x+1, py, pw, c.wrapAtMost(benchSmall, s.Tolerance, pw, 2), benchSmall)
	c.lines(x+1, py, pw, c.wrapAtMost(benchSmall, s.Amount, pw, benchAmount), benchSmall)
	x += cols[2].w
	for _, col := range cols[3:] {
		c.rule(x, y, x, y+h, 0.5, 0)
		x += col.w
	}
	c.rule(x, y, x, y+h, 0.5, 0)
	c.rule(benchMargin+benchLeft+benchGap, y+h, x, y+h, 0.5, 0)
}

// end says which swatches stay bare and leaves lines for notes on the set.
func (b *bench) end(c *canvas) {
	var bare []string
	for _, n := range b.Run.Blanks {
		bare = append(bare, strconv.FormatInt(n, 10))
	}
	x, w := benchMargin, c.w-2*benchMargin
	st := style{size: 11}
	if len(bare) > 0 {
		text := fmt.Sprintf("Kept bare, for reference: %s.", strings.Join(bare, ", "))
		b.y += 2
		for _, line := range c.wrap(st, text, w) {
			if b.y+st.line() > b.bottom(c) {
				b.page(c)
				b.y += 2
			}
			b.y += c.lines(x, b.y, w, []string{line}, st)
		}
	}
	b.ruled(c, "notes on the set")
}

// ruled fills what is left of the page with lines to write on.
func (b *bench) ruled(c *canvas, word string) {
	x, w := benchMargin, c.w-2*benchMargin
	if b.y+24 > b.bottom(c) {
		return
	}
	c.text(box{x, b.y + 3, w, 4.5}, word, style{size: 9, grey: 40})
	for y := b.y + 13; y <= b.bottom(c); y += 9 {
		c.rule(x, y, x+w, y, 0.3, 100)
	}
}
