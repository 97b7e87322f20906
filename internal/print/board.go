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

// The larger papers a board can be printed on.
const (
	A3      Paper = "A3"
	Tabloid Paper = "Tabloid"
)

// BoardPapers lists the papers of a board in the order shown.
var BoardPapers = []Paper{A4, Letter, A3, Tabloid}

// boardSize returns the sheet upright in mm: A3 by ISO 216, Tabloid by ANSI/ASME Y14.1
// size B (11 by 17 inches).
func boardSize(p Paper) (w, h float64, err error) {
	switch p {
	case A3:
		return 297, 420, nil
	case Tabloid:
		return 11 * inch, 17 * inch, nil
	}
	return p.size()
}

// A BoardTile is one swatch on a board. Row and Column name the levels it received of
// the factors that the board is arranged by; both are empty where it is not a grid.
type BoardTile struct {
	Number   int64
	Row      string
	Column   string
	Settings string
	Faces    []CardFace // with a picture, a measurement, or neither
}

// A Board is swatches side by side on paper, to hang up: see [BoardPapers]. Cautions are
// in plain words.
type Board struct {
	Paper     Paper
	Date      time.Time
	Studio    string
	Title     string
	Question  string
	Metal     string
	RowName   string // of the factor down, empty for no grid
	ColName   string // of the factor across
	Tiles     []BoardTile
	Cautions  []string
	Invented  bool
	Landscape bool
}

// mostTiles bounds a board, so that its pictures can be held in memory.
const mostTiles = 120

// The measures of a board, in mm.
const (
	boardMargin = 11.0
	boardGap    = 3.0
	tileWide    = 44.0
	tileHigh    = 60.5
	boardFoot   = 13.0
)

// notTheColours is said on every board: paper and ink have their own colours.
const notTheColours = "Printed colours are not the swatches' colours; compare with the swatches themselves. A patch's hatched corner is closer the darker it is."

// SwatchBoard writes a board. What can't be made is a *studio.Problem, and nothing is
// written.
func SwatchBoard(w io.Writer, b Board) error {
	c, err := drawBoard(languageOf(w), b)
	if err != nil {
		return err
	}
	return c.write(w, "board")
}

func drawBoard(in *language.Language, b Board) (*canvas, error) {
	pw, ph, err := boardSize(b.Paper)
	if err != nil {
		return nil, err
	}
	if b.Landscape {
		pw, ph = ph, pw
	}
	if err := checkDate(b.Date); err != nil {
		return nil, err
	}
	if strings.TrimSpace(clean(b.Title)) == "" {
		return nil, studio.Problemf(studio.Invalid, "title", "Give the board a title.")
	}
	if len(b.Tiles) == 0 || len(b.Tiles) > mostTiles {
		return nil, studio.Problemf(studio.Invalid, "numbers", "A board takes from 1 to %d swatches; %d were chosen.", mostTiles, len(b.Tiles))
	}
	var all []CardFace
	for _, t := range b.Tiles {
		if t.Number < 1 || t.Number > maxOnLabel || len(t.Faces) > 2 {
			return nil, studio.Problemf(studio.Invalid, "numbers", "Swatch %d can't stand on a board.", t.Number)
		}
		all = append(all, t.Faces...)
	}
	photos, err := readPhotos(all)
	if err != nil {
		return nil, err
	}
	c := newCanvas(in, pw, ph, document{inventedTitle("Swatch board: "+b.Title, b.Invented), b.Studio, b.Date})
	left, right := boardMargin, pw-boardMargin
	bottom := ph - boardMargin - boardFoot
	columns := max(1, int((right-left+boardGap)/(tileWide+boardGap)))
	wide := (right - left - boardGap*float64(columns-1)) / float64(columns)
	plan := b.lines(columns)

	pages := 0
	var y float64
	begin := func() {
		if pages > 0 {
			b.foot(c)
		}
		pages++
		c.newPage()
		y = b.head(c, pages)
	}
	begin()
	next := 0
	at := map[int]int{} // where the photographs of a tile begin
	for i, t := range b.Tiles {
		at[i] = next
		next += len(t.Faces)
	}
	for _, line := range plan {
		need := tileHigh
		if line.head != "" {
			need += 6
		}
		if y+need > bottom {
			begin()
		}
		if line.head != "" {
			c.text(box{left, y, right - left, 5}, line.head, style{size: 11, least: 8, bold: true, head: 2})
			y += 6
		}
		for k, i := range line.tiles {
			if i < 0 {
				continue
			}
			t := b.Tiles[i]
			if err := c.tile(box{left + float64(k)*(wide+boardGap), y, wide, tileHigh}, b, t, photos[at[i]:at[i]+len(t.Faces)], at[i]); err != nil {
				return nil, err
			}
		}
		y += tileHigh + boardGap
	}
	b.foot(c)
	return c, nil
}

// A boardLine is a row of tiles by their index, -1 for an empty place.
type boardLine struct {
	head  string
	tiles []int
}

// lines arranges the tiles: where two factors vary, a row for each level of the first
// with a column for each level of the second, as long as they fit across; else one after
// another.
func (b Board) lines(columns int) []boardLine {
	var rows, cols []string
	in := func(list []string, s string) int {
		for i, x := range list {
			if x == s {
				return i
			}
		}
		return -1
	}
	for _, t := range b.Tiles {
		if in(rows, t.Row) < 0 {
			rows = append(rows, t.Row)
		}
		if in(cols, t.Column) < 0 {
			cols = append(cols, t.Column)
		}
	}
	var out []boardLine
	if b.RowName == "" || b.ColName == "" || len(cols) > columns {
		for _, row := range rows {
			var line boardLine
			if b.RowName != "" && row != "" {
				line.head = b.RowName + ": " + row
			}
			for i, t := range b.Tiles {
				if t.Row != row {
					continue
				}
				if len(line.tiles) == columns {
					out = append(out, line)
					line = boardLine{}
				}
				line.tiles = append(line.tiles, i)
			}
			out = append(out, line)
		}
		return out
	}
	for _, row := range rows {
		cells := make([][]int, len(cols))
		most := 0
		for i, t := range b.Tiles {
			if t.Row == row {
				k := in(cols, t.Column)
				cells[k] = append(cells[k], i)
				most = max(most, len(cells[k]))
			}
		}
		for n := range most {
			line := boardLine{tiles: make([]int, len(cols))}
			if n == 0 && row != "" {
				line.head = b.RowName + ": " + row
			}
			for k := range cols {
				line.tiles[k] = -1
				if n < len(cells[k]) {
					line.tiles[k] = cells[k][n]
				}
			}
			out = append(out, line)
		}
	}
	return out
}

// head draws the top of a page and returns where the tiles begin.
func (b Board) head(c *canvas, page int) float64 {
	x, y, w := boardMargin, boardMargin, c.w-2*boardMargin
	if page > 1 {
		c.text(box{x, y, w, 6}, fmt.Sprintf("%s, page %d", b.Title, page), style{size: 12, least: 9, bold: true, head: 2})
		return y + 8
	}
	const aside = 44.0
	c.text(box{x, y - 1, w - aside, 9}, b.Title, style{size: 22, least: 12, bold: true, head: 1})
	c.text(box{x + w - aside, y, aside, 4.6}, day(b.Date), style{size: 9, align: "R"})
	if b.Invented {
		mark := style{size: 8.5, bold: true, align: "C"}
		at := box{x + w - c.width(mark, invented) - 4, y + 4.8, c.width(mark, invented) + 4, 4.6}
		c.frame(at, 0.7, 0)
		c.text(at, invented, mark)
	}
	y += 10
	plain, asked := style{size: 10}, style{size: 10, own: true}
	if b.Question != "" {
		y += c.lines(x, y, w, c.wrapAtMost(asked, b.Question, w, 2), asked)
	}
	if b.Metal != "" {
		y += c.lines(x, y, w, c.wrapAtMost(plain, "Metal: "+b.Metal, w, 1), plain)
	}
	if b.RowName != "" && b.ColName != "" {
		y += c.lines(x, y, w, c.wrapAtMost(plain, fmt.Sprintf("Down: %s. Across: %s.", b.RowName, b.ColName), w, 1), plain)
	}
	c.rule(x, y+1, x+w, y+1, 0.7, 0)
	return y + 3.5
}

// foot draws the last lines of a page.
func (b Board) foot(c *canvas) {
	x, w := boardMargin, c.w-2*boardMargin
	y := c.h - boardMargin - boardFoot + 2
	c.rule(x, y, x+w, y, 0.4, 0)
	plain := style{size: 8, least: 6.5}
	bold := plain
	bold.bold = true
	c.text(box{x, y + 0.8, w, 3.6}, notTheColours, bold)
	caution := strings.Join(b.Cautions, " ")
	if caution != "" {
		c.lines(x, y+4.4, w, c.wrapAtMost(plain, caution, w, 2), plain)
	}
}

// tile draws one swatch. A measured colour is named in words, and a corner of its patch
// is hatched, so that it is told apart without colour too.
func (c *canvas) tile(at box, b Board, t BoardTile, photos []photo, first int) error {
	c.frame(at, 0.4, 120)
	const pad = 1.4
	x, y, w := at.x+pad, at.y+pad, at.w-2*pad
	const side = 12.0
	m, err := codeOf(studio.Code(t.Number, studio.Front))
	if err != nil {
		return err
	}
	c.text(box{x, y, w - side - 1, 6.4}, strconv.FormatInt(t.Number, 10), style{size: 17, least: 9, bold: true, head: 3, aloud: fmt.Sprintf("Swatch %d", t.Number)})
	plain := style{size: 7, least: 5.5}
	line := plain.line()
	settings := t.Settings
	if b.ColName != "" && t.Column != "" && settings == "" {
		settings = t.Column
	}
	c.lines(x, y+6.4, w-side-1, c.wrapAtMost(plain, settings, w-side-1, 2), plain)
	c.code(x+w-side, y, side, m)
	y += max(side, 6.4+2*line) + 0.8
	gap := 1.5
	each := (w - gap) / 2
	pic := min(each, 19.5)
	for k, p := range photos {
		fx := x + float64(k)*(each+gap)
		fy := y
		frame := box{fx, fy, each, pic}
		me := p.face.Measured
		switch {
		case p.w > 0:
			c.picture(frame, strconv.Itoa(first+k), p.jpeg, p.w, p.h)
		case me != nil:
		default:
			c.frame(frame, 0.25, 120)
			none := style{size: 6.5, align: "C"}
			lines := c.wrapAtMost(none, p.why, each-2, 2)
			c.lines(fx+1, fy+pic/2-none.line(), each-2, lines, none)
		}
		fy += pic + 0.5
		if me != nil {
			patch := box{fx, fy, each, 3.4}
			if p.w == 0 {
				patch = frame
			}
			c.chip(patch, me.Lab)
			c.hatch(box{patch.x, patch.y, min(6, patch.w/3), min(patch.h, 3.4)}, me.Lab.L)
		}
		fy += 3.9
		put := func(s string, most int) {
			fy += c.lines(fx, fy, each, c.wrapAtMost(plain, s, each, most), plain)
		}
		word := plain
		word.bold = true
		c.text(box{fx, fy, each, line}, string(p.face.Face), word)
		fy += line
		if me == nil {
			put("not measured", 1)
			continue
		}
		put(me.Name, 2)
		put(fmt.Sprintf("L* %s", decimal(me.Lab.L)), 1)
		put(fmt.Sprintf("a* %s, b* %s", decimal(me.Lab.A), decimal(me.Lab.B)), 1)
		if me.Calibrated {
			put("± "+decimal(me.SD), 1)
		} else {
			put("± "+decimal(me.SD)+", no grey card", 1)
		}
		if cov := me.Coverage; cov != nil {
			put(fmt.Sprintf("%.0f %% covered", cov.Value*100), 1)
		}
	}
	return nil
}

// hatch draws lines over a corner whose distance says how light it is, in four steps by
// L*: none above 75, then wide, middling and close.
func (c *canvas) hatch(b box, lightness float64) {
	step := 0.0
	switch {
	case lightness >= 75:
		return
	case lightness >= 50:
		step = 3.2
	case lightness >= 25:
		step = 1.8
	default:
		step = 1.0
	}
	ink := 0
	if lightness < 50 {
		ink = 255
	}
	for s := step; s < b.w+b.h; s += step {
		x1, y1 := b.x+max(0, s-b.h), b.y+min(s, b.h)
		x2, y2 := b.x+min(s, b.w), b.y+max(0, s-b.w)
		c.rule(x1, y1, x2, y2, 0.2, ink)
	}
}
