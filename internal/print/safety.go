package print

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A remark is one line of the cautions with the number of its source.
type remark struct {
	text string
	ref  int  // 0: no source
	mind bool // from memory, and no source to check it against
}

// safety is everything a card says about staying well.
type safety struct {
	stop    *studio.Problem // set when the recipe must not be printed
	boxed   []remark        // most important first
	guards  []guard
	sources []string
	deferTo string
}

// A guard is what to wear or do, by what it is for: "Gloves", "First aid".
type guard struct {
	word  string
	lines []remark
}

// safetyOf gathers the cautions for the uses on the metal. What can hurt on
// opening or mixing comes first, then what each substance does, then what only
// harms the piece.
func safetyOf(uses []matter.Use, metal string) safety {
	var s safety
	clashes := matter.Clashes(uses, metal)
	for _, c := range clashes {
		if c.Level == matter.Stop {
			s.stop = stopOf(c)
			return s
		}
	}
	clashLines := func(levels ...string) {
		for _, c := range clashes {
			// that a substance is unknown is among the cautions
			if slices.Contains(levels, c.Level) && c.ID != "unknown" {
				s.boxed = append(s.boxed, s.remark(clashText(c), c.Source, c.Standing))
			}
		}
	}
	bands := bandsOf(uses)
	clashLines(matter.Hood)
	cautions := matter.Cautions(uses, metal)
	for i, c := range cautions {
		if i == len(cautions)-1 {
			s.deferTo = c.Text
			break
		}
		s.boxed = append(s.boxed, s.remark(withoutGuards(c.Text, bands), c.Source, c.Standing))
	}
	clashLines(matter.Care, matter.Product)

	// Water and salt need no gloves. The cautions for ammonia hold its first aid
	// and its leftovers already.
	hurting := slices.DeleteFunc(slices.Clone(bands), func(b matter.Band) bool { return len(b.Hazards) == 0 })
	ammonia := func(b matter.Band) bool { return slices.Contains(b.Groups, "AMM") }
	s.guard("Gloves", hurting, func(b matter.Band) string { return b.Gloves })
	s.guard("Eyes", hurting, func(b matter.Band) string { return b.Eyes })
	s.guard("First aid", slices.DeleteFunc(hurting, ammonia), func(b matter.Band) string { return b.FirstAid })
	s.guard("Leftovers", slices.DeleteFunc(bands, ammonia), func(b matter.Band) string { return b.Disposal })
	return s
}

// stopOf refuses a recipe for a clash.
func stopOf(c matter.Clash) *studio.Problem {
	meeting := c.A
	if c.B != "" {
		meeting += " would meet " + c.B
	}
	text := "This card is not printed: " + meeting + ". " + sentence(c.What) + " Rule: " + sentence(c.Do)
	if c.Instead != "" {
		text += " Safer: " + sentence(c.Instead)
	}
	return studio.Problemf(studio.Unsafe, "", "%s", text)
}

func clashText(c matter.Clash) string {
	text := c.A
	if c.B != "" {
		text += " and " + c.B
	}
	return sentence(text+": "+strings.TrimSuffix(c.What, ".")) + " " + sentence(c.Do)
}

// sentence returns text with a capital and a full stop.
func sentence(text string) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return ""
	}
	if text[0] >= 'a' && text[0] <= 'z' {
		text = strings.ToUpper(text[:1]) + text[1:]
	}
	if !strings.HasSuffix(text, ".") && !strings.HasSuffix(text, "!") {
		text += "."
	}
	return text
}

// bandsOf returns how each substance in use hurts, each once.
func bandsOf(uses []matter.Use) []matter.Band {
	var bands []matter.Band
	for _, u := range uses {
		b, err := matter.At(u.Key, u.WtPercent)
		if err != nil { // unknown, or a strength that can't be: the cautions say so
			continue
		}
		if !slices.ContainsFunc(bands, func(have matter.Band) bool { return have.Name == b.Name }) {
			bands = append(bands, b)
		}
	}
	return bands
}

// withoutGuards cuts gloves and eyes off the line of a substance: they stand
// under their own words.
func withoutGuards(text string, bands []matter.Band) string {
	for _, b := range bands {
		hazards := ": " + strings.Join(b.Hazards, "; ") + "."
		if at := len(b.Name); len(b.Hazards) > 0 && len(text) > at && strings.EqualFold(text[:at], b.Name) && strings.HasPrefix(text[at:], hazards) {
			return text[:at+len(hazards)]
		}
	}
	return text
}

// guard gathers what one kind of guard says of the bands; those that say the
// same are named together.
func (s *safety) guard(word string, bands []matter.Band, of func(matter.Band) string) {
	var texts []string
	names := map[string][]string{}
	from := map[string]matter.Band{}
	for _, b := range bands {
		text := of(b)
		if text == "" {
			continue
		}
		if _, seen := names[text]; !seen {
			texts = append(texts, text)
			from[text] = b
		}
		name := b.Name
		if b.Assumed {
			name += " (strength assumed)"
		}
		names[text] = append(names[text], name)
	}
	g := guard{word: word}
	for _, text := range texts {
		b := from[text]
		g.lines = append(g.lines, s.remark(capital(strings.Join(names[text], ", "))+": "+strings.TrimSuffix(text, ".")+".", b.Source, b.Standing))
	}
	if len(g.lines) > 0 {
		s.guards = append(s.guards, g)
	}
}

func capital(text string) string {
	_, n := utf8.DecodeRuneInString(text)
	return strings.ToUpper(text[:n]) + text[n:]
}

// remark makes a remark and puts its source on the list when it is new.
func (s *safety) remark(text, source, standing string) remark {
	r := remark{text: text}
	if source == "" {
		r.mind = standing == "from memory"
		return r
	}
	if standing != "read in source" && standing != "" {
		source += " (" + standing + ")"
	}
	if i := slices.Index(s.sources, source); i >= 0 {
		r.ref = i + 1
		return r
	}
	s.sources = append(s.sources, source)
	r.ref = len(s.sources)
	return r
}

// String writes the remark with the number of its source.
func (r remark) String() string {
	if r.mind {
		return r.text + " (from memory)"
	}
	if r.ref == 0 {
		return r.text
	}
	return fmt.Sprintf("%s [%d]", r.text, r.ref)
}

// blocks are the cautions in their box, then what to wear and do, then the
// sources in small print.
func (s safety) blocks(size float64) []block {
	plain, strong := style{size: size}, style{size: size, bold: true}
	title := style{size: size + 1.5, bold: true, head: 2}
	var out []block
	if len(s.boxed) > 0 {
		out = append(out, block{keep: true, boxed: true, what: "cautions", put: func(c *canvas, x, y, w float64) float64 {
			c.para(x, y, w, "Cautions", title)
			return title.line() + 0.6
		}})
	}
	for i, r := range s.boxed {
		st := plain
		if i == 0 {
			st = strong
		}
		for _, piece := range pieces(r.String(), 800) {
			out = append(out, block{boxed: true, what: "more cautions", put: func(c *canvas, x, y, w float64) float64 {
				return c.para(x, y, w, piece, st) + 0.7
			}})
		}
	}
	for _, g := range s.guards {
		out = append(out, block{what: "what to wear and do", put: func(c *canvas, x, y, w float64) float64 {
			top := y
			y += c.para(x, y, w, g.word, style{size: size, bold: true, head: 3})
			for _, r := range g.lines {
				y += c.para(x, y, w, r.String(), plain) + 0.2
			}
			return y + 1.2 - top
		}})
	}
	small := style{size: 6.5, grey: 40}
	for i, text := range s.sources {
		line := fmt.Sprintf("[%d] %s", i+1, text)
		out = append(out, block{what: "sources", put: func(c *canvas, x, y, w float64) float64 {
			return c.para(x, y, w, line, small) + 0.2
		}})
	}
	if len(s.boxed)+len(s.guards) > 0 {
		out = append(out, block{what: "sources", put: func(c *canvas, x, y, w float64) float64 {
			return c.para(x, y, w, "Lines with no number and no 'from memory' are common practice.", small)
		}})
	}
	return out
}
