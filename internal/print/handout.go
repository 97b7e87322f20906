package print

import (
	"io"
	"slices"
	"strconv"
	"strings"

	"aerugo/internal/language"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// A Handout is what each student takes home, on two sides. Used names what was used with
// its strength, Safety are the lines of the box and Signs the codes of its pictograms,
// Steps one sentence each. With Stop it is refused: something in it must never meet.
type Handout struct {
	ClassPaper
	Used     []string
	Safety   []string
	Signs    []string
	Steps    []ClassSection
	Outcomes []Outcome
	Care     []string
	Leftover []string
	Read     []string
	Stop     *studio.Problem
}

// An Outcome is a finished swatch to look at: its photograph or else its measured
// colour, its number and words for it.
type Outcome struct {
	Number int64
	Words  string
	JPEG   []byte
	Lab    *colour.Lab
}

// MostOutcomes is how many outcomes a handout has room for.
const MostOutcomes = 6

// HandoutSheet writes the handout on two sides; large print takes the pages it needs. A
// handout with a Stop and other bad input are a *studio.Problem, and nothing is written.
func HandoutSheet(w io.Writer, h Handout) error {
	c, err := drawHandout(languageOf(w), h)
	if err != nil {
		return err
	}
	return c.write(w, "handout")
}

func drawHandout(in *language.Language, h Handout) (*canvas, error) {
	if h.Stop != nil {
		return nil, h.Stop
	}
	h.Outcomes = h.Outcomes[:min(len(h.Outcomes), MostOutcomes)]
	var faces []CardFace
	for _, o := range h.Outcomes {
		faces = append(faces, CardFace{Swatch: o.Number, JPEG: o.JPEG})
	}
	photos, err := readPhotos(faces)
	if err != nil {
		return nil, err
	}
	l := leaf{ClassPaper: h.ClassPaper, kind: "Handout"}
	l.sides = func(size float64) [][]block {
		front := sectionBlocks([]ClassSection{{Head: "What we used", Lines: h.Used}}, size)
		if h.Large { // the box is kept whole, and would leave most of the first page bare
			front = append(h.safetyBox(size), front...)
		} else {
			front = append(front, h.safetyBox(size)...)
		}
		front = append(front, sectionBlocks(h.Steps, size)...)
		back := []block{headBlock("What can come of it", size)}
		if len(h.Outcomes) == 0 {
			back = append(back, paraBlocks("No swatch of these recipes has been made here yet.", size, false)...)
		}
		for at := 0; at < len(h.Outcomes); at += 3 {
			end := min(at+3, len(h.Outcomes))
			back = append(back, outcomeRow(h.Outcomes[at:end], photos[at:end], at, size))
		}
		back = append(back, headBlock("My own swatch", size), handBlock("Number", size), handBlock("Three words for it", size), handBlock("What I would change", size))
		back = append(back, sectionBlocks([]ClassSection{
			{Head: "Looking after it", Lines: h.Care},
			{Head: "Leftovers", Lines: h.Leftover},
			{Head: "Where to read", Lines: h.Read},
		}, size)...)
		return [][]block{front, back}
	}
	return l.draw(in)
}

// SignName is what a hazard pictogram is called, by its code: "Hazard sign: corrosion"; ""
// for a code that is none.
func SignName(code string) string { return signWords[code] }

// safetyBox is the framed box with its pictograms, each with its word.
func (h Handout) safetyBox(size float64) []block {
	title := style{size: size + 2, bold: true, head: 2}
	st := style{size: size, bold: true}
	out := []block{{keep: true, boxed: true, what: "safety", put: func(c *canvas, x, y, w float64) float64 {
		return c.para(x, y, w, "Safety", title) + 0.6
	}}}
	signs := slices.DeleteFunc(slices.Clone(h.Signs), func(code string) bool { return signs[code] == nil })
	if len(signs) > 0 {
		out = append(out, block{keep: true, boxed: true, what: "safety", put: func(c *canvas, x, y, w float64) float64 {
			word := style{size: min(size, 16), least: 6.5, align: "C", run: true}
			if h.Large {
				word.least = 0
			}
			const diagonal = 16.0
			wide := min(w/float64(len(signs)), 30)
			if h.Large {
				wide = min(w/3, 58)
			}
			each := max(int(w/wide+1e-6), 1)
			var names [][]string
			lines := 1
			for _, code := range signs {
				name := c.said(signWords[code], word)
				if _, short, ok := strings.Cut(name, ": "); ok {
					name = short
				}
				set := []string{name} // on one line, set smaller if need be, or on two
				if small := (style{size: word.least}); word.least == 0 || small.width(name) > wide {
					set = word.wrapAtMost(name, wide, 2)
				}
				names = append(names, set)
				lines = max(lines, len(set))
			}
			high := diagonal + float64(lines)*word.line() + 1
			for i, code := range signs {
				at, top := x+float64(i%each)*wide, y+float64(i/each)*high
				c.sign(code, at+(wide-diagonal)/2, top, diagonal)
				for k, name := range names[i] { // not noted: the sign says its word itself
					c.set(box{at, top + diagonal + 0.3 + float64(k)*word.line(), wide, word.line()}, name, word)
				}
			}
			return float64((len(signs)+each-1)/each) * high
		}})
	}
	for i, text := range h.Safety {
		for _, piece := range pieces(text, 700) {
			out = append(out, block{keep: i+1 < len(h.Safety), boxed: true, what: "safety", put: func(c *canvas, x, y, w float64) float64 {
				return c.para(x, y, w, piece, st) + size/11
			}})
		}
	}
	return out
}

// outcomeRow sets up to three outcomes beside each other.
func outcomeRow(all []Outcome, photos []photo, from int, size float64) block {
	return block{what: "pictures", put: func(c *canvas, x, y, w float64) float64 {
		const gap = 5.0
		side := (w - 2*gap) / 3
		high := min(side, 36)
		st, bold := style{size: size}, style{size: size, bold: true}
		low := 0.0
		for i, o := range all {
			at := x + float64(i)*(side+gap)
			b := box{at, y + 1, side, high}
			switch {
			case photos[i].w > 0:
				c.picture(b, "outcome"+strconv.Itoa(from+i), photos[i].jpeg, photos[i].w, photos[i].h)
			case o.Lab != nil && !c.dry:
				c.chip(b, *o.Lab)
				c.pdf.SetFillColor(0, 0, 0) // or a new page would set the colour again
			default:
				c.frame(b, 0.25, 120)
			}
			top := y + high + 1.6
			h := c.para(at, top, side, "No. "+strconv.FormatInt(o.Number, 10), bold)
			lines := c.wrapAtMost(st, o.Words, side, 3)
			h += c.lines(at, top+h, side, lines, st)
			low = max(low, h)
		}
		return high + 2.6 + low
	}}
}
