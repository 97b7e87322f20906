package print

import (
	"fmt"
	"strconv"
	"strings"
)

// The card's page in mm.
const (
	cardMargin = 13.0
	cardSide   = 54.0 // width of the column with photographs and cautions
	cardGutter = 6.0
	cardFooter = 12.5 // height kept for the last lines
	cardInset  = 2.4  // of the cautions in their box
)

// sizes are the type sizes tried for the steps, in points, the most readable first.
var sizes = []float64{9.5, 9, 8.5, 8, 7.5}

// A block is something that stands in a column as a whole. It draws itself with
// its top left corner at x, y, w mm wide, and returns its height.
//
// keep says that it must not be the last of a column; boxed that it stands in
// the cautions' box; what it is in words is said when it goes overleaf.
//
// over is drawn above it where it comes first on a page: the heads of its table.
type block struct {
	put   func(c *canvas, x, y, w float64) float64
	over  func(c *canvas, x, y, w float64) float64
	keep  bool
	boxed bool
	step  int // from 1; 0 for what is no step
	what  string
}

// height measures b.
func (b block) height(c *canvas, w float64) float64 {
	was := c.dry
	c.dry = true
	h := b.put(c, 0, 0, w)
	c.dry = was
	return h
}

// boxAgain is how the box of the cautions is headed where it goes on.
var boxAgain = style{size: 9, least: 7.5, bold: true}

// A column is the room left on a page for blocks.
type column struct{ x, y, w, bottom float64 }

// pour draws blocks in the column until one has no room, and returns the rest.
// A block that has no room in a fresh column either is drawn all the same: it
// could never be placed otherwise.
func (col *column) pour(c *canvas, blocks []block, fresh bool) []block {
	var boxTop float64
	open := false
	closeBox := func() {
		if open {
			col.y += 1.2
			c.frame(box{col.x, boxTop, col.w, col.y - boxTop}, 0.8, 0)
			col.y += 2.6
			open = false
		}
	}
	for i := 0; i < len(blocks); i++ {
		b := blocks[i]
		x, w := col.x, col.w
		if b.boxed {
			x, w = x+cardInset, w-2*cardInset
		}
		need := b.height(c, w)
		if b.over != nil && fresh && i == 0 {
			col.y += b.over(c, x, col.y, w)
		}
		if b.boxed && !open {
			need += 3.4
			if !b.keep {
				need += boxAgain.line() + 0.4
			}
		}
		for j := i; blocks[j].keep && j+1 < len(blocks); j++ {
			need += blocks[j+1].height(c, w)
		}
		if col.y+need > col.bottom && !(fresh && i == 0) {
			closeBox()
			return blocks[i:]
		}
		if b.boxed && !open {
			boxTop, open = col.y, true
			col.y += 1.8
			if !b.keep { // its title stands in another column
				c.text(box{x, col.y, w, boxAgain.line()}, "Cautions, continued", boxAgain)
				col.y += boxAgain.line() + 0.4
			}
		}
		if !b.boxed {
			closeBox()
		}
		col.y += b.put(c, x, col.y, w)
	}
	closeBox()
	return nil
}

// A layout is one way of putting a card on its pages.
type layout struct {
	card   Card
	photos []photo
	safety safety
	size   float64 // of the steps, points
	notes  bool    // notes stand in their steps
	pages  int     // 0 while they are being counted
}

// An outcome is what a layout came to.
type outcome struct {
	pages    int
	allSteps bool // every step is on the first page
	allSafe  bool // every caution is too
}

// bestLayout returns the first layout that needs one page; failing that the
// first that leaves only notes to the steps for a second; failing that the
// smallest with every step on the first page, and else the smallest.
func bestLayout(c *canvas, card Card, photos []photo, s safety) layout {
	var best layout
	found := false
	noted := false
	for _, step := range card.Steps {
		noted = noted || strings.TrimSpace(step.Step.Note) != ""
	}
	for _, notes := range []bool{true, false} {
		if !notes && !noted {
			break
		}
		for _, size := range sizes {
			l := layout{card: card, photos: photos, safety: s, size: size, notes: notes}
			got := l.draw(c.dryCopy())
			l.pages = got.pages
			switch {
			case got.pages == 1, !notes && got.allSteps && got.allSafe:
				return l
			case notes && got.allSteps:
				best, found = l, true
			case !found:
				best = l
			}
		}
	}
	return best
}

// draw puts the card on its pages.
func (l layout) draw(c *canvas) outcome {
	main := l.stepBlocks()
	after := l.evidenceBlocks()
	side := append(l.photoBlocks(), l.safety.blocks(min(l.size, 8.5))...)
	var notes []block
	if !l.notes {
		notes = l.noteBlocks()
	}
	out := outcome{}
	for page := 1; page == 1 || len(main)+len(after)+len(side)+len(notes) > 0; page++ {
		c.newPage()
		y := l.header(c, page)
		bottom := c.h - cardMargin - cardFooter
		wide := c.w - 2*cardMargin
		left := column{cardMargin, y, wide - cardSide - cardGutter, bottom}
		right := column{c.w - cardMargin - cardSide, y, cardSide, bottom}
		if page > 1 && len(side) == 0 {
			left.w = wide
		}
		side = right.pour(c, side, page > 1)
		main = left.pour(c, main, page > 1)
		if len(main) == 0 {
			after = left.pour(c, after, false)
		}
		if page > 1 && len(main)+len(after) == 0 {
			notes = left.pour(c, notes, left.y == y)
		}
		if len(main)+len(after) == 0 && (page == 1 || len(notes) == 0) && len(side) > 0 {
			// the column of steps has room left: more of the cautions go there
			trial := left
			trial.y += 3
			side = trial.pour(c, side, false)
		}
		if page == 1 {
			out.allSteps, out.allSafe = len(main) == 0, len(side) == 0
		}
		over := overleaf(main, after, side, notes)
		l.footer(c, page, over)
	}
	out.pages = c.page
	return out
}

// overleaf says what stands on the next page, "" when nothing does.
func overleaf(groups ...[]block) string {
	var words []string
	first, last := 0, 0
	said := map[string]bool{}
	for _, g := range groups {
		for _, b := range g {
			if b.step > 0 {
				if first == 0 {
					first = b.step
				}
				last = b.step
				continue
			}
			if b.what != "" && !said[b.what] {
				said[b.what] = true
				words = append(words, b.what)
			}
		}
	}
	switch {
	case first == 0:
	case first == last:
		words = append([]string{fmt.Sprintf("step %d", first)}, words...)
	default:
		words = append([]string{fmt.Sprintf("steps %d to %d", first, last)}, words...)
	}
	if len(words) > 1 {
		return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
	}
	return strings.Join(words, "")
}

// header draws the head of a page and returns where the columns begin.
func (l layout) header(c *canvas, page int) float64 {
	x, y, w := cardMargin, cardMargin, c.w-2*cardMargin
	if page > 1 {
		text := fmt.Sprintf("%s, version %d, continued", l.card.Name, l.card.Version)
		c.text(box{x, y, w, 6}, text, style{size: 12, least: 9, bold: true})
		c.rule(x, y+8, x+w, y+8, 0.5, 0)
		return y + 11
	}
	const aside = 40.0
	name := style{size: 23, bold: true, head: 1}
	wide := w - aside - 4
	for name.size > 14 && len(c.wrap(name, l.card.Name, wide)) > 1 {
		name.size -= 0.5
	}
	h := c.lines(x, y-1, wide, c.wrapAtMost(name, l.card.Name, wide, 2), name)

	right := style{size: 9, align: "R"}
	c.text(box{x + w - aside, y, aside, 4.6}, fmt.Sprintf("version %d", l.card.Version), style{size: 11, bold: true, align: "R"})
	if !l.card.Made.IsZero() {
		c.text(box{x + w - aside, y + 4.8, aside, 4}, "saved "+day(l.card.Made), right)
	}
	if l.card.Invented {
		mark := style{size: 8.5, bold: true, align: "C"}
		wm := c.width(mark, invented) + 4
		b := box{x + w - wm, y + max(h, 10) + 0.2, wm, 4.8}
		c.frame(b, 0.7, 0)
		c.text(b, invented, mark)
	}
	y += max(h, 10) + 0.6
	plain := style{size: 10}
	y += c.lines(x, y, wide, c.wrapAtMost(plain, l.card.on(), wide, 2), plain)
	where := style{size: 9, bold: true}
	y += c.lines(x, y+0.4, w, c.wrapAtMost(where, l.card.where(), w, 2), where) + 2.6
	c.rule(x, y, x+w, y, 0.9, 0)
	return y + 3
}

// on says what the recipe lies on.
func (card Card) on() string {
	metal := strings.TrimSpace(card.Metal)
	if card.Over == "" {
		if metal == "" {
			return "On bare metal"
		}
		return "On bare metal: " + metal
	}
	text := "Over " + card.Over
	if card.OverState != "" {
		text += ", " + string(card.OverState)
	}
	if metal != "" {
		text += ", on " + metal
	}
	return text
}

// where says where the recipe is done and for whom.
func (card Card) where() string {
	if text := strings.TrimSpace(card.Place); text != "" {
		return "Checked for: " + text
	}
	return "Checked for one's own bench; for no class, and for no room."
}

// footer draws the last lines of a page; over says what goes on overleaf.
func (l layout) footer(c *canvas, page int, over string) {
	x, w := cardMargin, c.w-2*cardMargin
	y := c.h - cardMargin - cardFooter + 2
	if over != "" {
		text := fmt.Sprintf("Continued on page %d: %s.", page+1, over)
		c.text(box{x, y - 1, w, 3.6}, text, style{size: 8, least: 7.5, bold: true, align: "R"})
	}
	c.rule(x, y+3, x+w, y+3, 0.4, 0)
	c.text(box{x, y + 3.6, w, 3.6}, l.safety.deferTo, style{size: 8, least: 7.5, bold: true})
	left := "Printed " + day(l.card.Date)
	if name := strings.TrimSpace(l.card.Studio); name != "" {
		left = name + " · " + strings.ToLower(left[:1]) + left[1:]
	}
	c.text(box{x, y + 7.2, w - 32, 3.4}, left, style{size: 7.5, grey: 50})
	number := "page " + strconv.Itoa(page) + " of " + strconv.Itoa(l.pages)
	c.text(box{x + w - 30, y + 7.2, 30, 3.4}, number, style{size: 7.5, grey: 50, align: "R"})
}

// evidenceBlocks say which swatches the recipe made.
func (l layout) evidenceBlocks() []block {
	st := style{size: l.size}
	out := []block{{what: "evidence", put: func(c *canvas, x, y, w float64) float64 {
		c.say("What is known of it", box{}, style{head: 2})
		c.rule(x, y, x+w, y, 0.25, 120)
		return 1.6 + c.lines(x, y+1.6, w, c.wrapAtMost(st, l.card.evidence(c, st, w), w, evidenceLines), st)
	}}}
	for _, text := range l.card.Known {
		out = append(out, block{what: "evidence", put: func(c *canvas, x, y, w float64) float64 {
			return 0.8 + c.lines(x, y+0.8, w, c.wrapAtMost(st, text, w, evidenceLines), st)
		}})
	}
	return out
}

// evidenceLines is how many lines the swatches of a recipe may take.
const evidenceLines = 6

// evidence names as many swatches as have room, and counts the rest.
func (card Card) evidence(c *canvas, st style, w float64) string {
	all := card.Evidence
	if len(all) == 0 {
		return "No swatch has been made with this version yet."
	}
	for n := len(all); ; n-- {
		text := "Swatches made with this version: " + strings.Join(all[:n], " · ")
		if n < len(all) {
			text += fmt.Sprintf(" and %d more", len(all)-n)
		}
		if n == 1 || len(c.wrap(st, text+".", w)) <= evidenceLines {
			return text + "."
		}
	}
}
