package print

import (
	"fmt"
	"strconv"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// stepBlocks are the steps of the card, each with a hairline above it.
func (l layout) stepBlocks() []block {
	var out []block
	for i, s := range l.card.Steps {
		out = append(out, block{step: i + 1, put: func(c *canvas, x, y, w float64) float64 {
			if i == 0 {
				c.say("Steps", box{}, style{head: 2})
			}
			h := 0.0
			c.asRow(func() { h = l.step(c, x, y, w, i+1, s) })
			return h
		}})
	}
	return out
}

// step draws one step: its number, what the hands do, with what and where, and
// the time at the right.
func (l layout) step(c *canvas, x, y, w float64, n int, s CardStep) float64 {
	plain := style{size: l.size}
	strong := style{size: l.size, bold: true}
	small := style{size: max(l.size-1, 7.5), grey: 50}
	theirs := small
	theirs.own = true
	const pad = 0.9
	number := c.width(strong, "00") + 2.2
	kind := c.width(strong, "neutralise") + 2.5
	clock := max(c.width(small, "−10 min, +20 min"), c.width(plain, "00 d 00 h")) + 1
	details := w - number - kind - clock - 2

	if n > 1 {
		c.rule(x, y, x+w, y, 0.25, 120)
	}
	top := y + pad
	c.text(box{x, top, number - 2.2, strong.line()}, strconv.Itoa(n), strong)
	c.text(box{x + number, top, kind - 2, strong.line()}, string(s.Step.Kind), strong)

	dx, dy := x+number+kind, top
	put := func(text string, st style, most int) {
		if strings.TrimSpace(text) != "" {
			dy += c.lines(dx, dy, details, c.wrapAtMost(st, text, details, most), st)
		}
	}
	noted := strings.TrimSpace(s.Step.Note) != ""
	put(s.with(), plain, 3)
	put(joined(s.strength(), amountLine(s.Step.Amount)), plain, 3)
	where := s.where()
	if noted && !l.notes {
		where = joined("note at the end", where)
	}
	put(where, plain, 3)
	if noted && l.notes {
		put(s.Step.Note, theirs, 12)
	}

	ty := top
	if s.Step.Duration > 0 {
		right := strong
		right.align, right.least = "R", 7.5
		c.text(box{x + w - clock, ty, clock, right.line()}, studio.Span(s.Step.Duration), right)
		ty += right.line()
		if tol := tolerance(s.Step); tol != "" {
			soft := small
			soft.align = "R"
			ty += c.lines(x+w-clock, ty, clock, c.wrapAtMost(soft, tol, clock, 2), soft)
		}
	}
	return max(dy, ty, top+strong.line()) + pad - y
}

// noteBlocks are the notes that were moved out of the steps, in pieces that fit
// any column.
func (l layout) noteBlocks() []block {
	head := block{keep: true, what: "notes to the steps", put: func(c *canvas, x, y, w float64) float64 {
		st := style{size: 10, bold: true, head: 2}
		c.para(x, y+4, w, "Notes to the steps", st)
		return 4 + st.line() + 1.5
	}}
	out := []block{head}
	st := style{size: 9, own: true}
	for i, s := range l.card.Steps {
		if strings.TrimSpace(s.Step.Note) == "" {
			continue
		}
		for j, piece := range pieces(s.Step.Note, 600) {
			out = append(out, block{what: "notes to the steps", put: func(c *canvas, x, y, w float64) float64 {
				if j == 0 {
					piece = fmt.Sprintf("%d %s: %s", i+1, c.said(string(s.Step.Kind), style{}), piece)
				}
				return c.para(x, y, w, piece, st) + 1.4
			}})
		}
	}
	return out
}

// pieces cuts text into pieces of at most n characters, at spaces but for words
// longer than that.
func pieces(text string, n int) []string {
	var out []string
	var piece []rune
	end := func() {
		if len(piece) > 0 {
			out = append(out, string(piece))
			piece = nil
		}
	}
	for _, field := range strings.Fields(text) {
		word := []rune(field)
		if len(piece) > 0 && len(piece)+1+len(word) > n {
			end()
		}
		for len(word) > n {
			out = append(out, string(word[:n]))
			word = word[n:]
		}
		if len(piece) > 0 {
			piece = append(piece, ' ')
		}
		piece = append(piece, word...)
	}
	end()
	return out
}

// joined puts two parts of a line together.
func joined(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + " · " + b
}

// with says what the step uses.
func (s CardStep) with() string {
	text := strings.TrimSpace(s.Supply)
	if text == "" && s.Step.Material != "" {
		text = s.Step.Material
		if sub, ok := matter.Lookup(text); ok {
			text = sub.Name
		}
		for _, p := range s.Step.Also {
			name := p.Material
			if sub, ok := matter.Lookup(name); ok {
				name = sub.Name
			}
			text += " + " + name
		}
	}
	return text
}

// strength says how strong the supply is used, unless its own words do.
func (s CardStep) strength() string {
	if s.Step.Strength <= 0 || s.Step.Strength >= 100 || saysStrength(s.Supply, s.Step.Strength) {
		return ""
	}
	return "at " + strconv.FormatFloat(s.Step.Strength, 'f', -1, 64) + " % by mass"
}

// saysStrength reports whether a supply's words hold the strength already, as
// the bottle is used as it is.
func saysStrength(text string, wtPercent float64) bool {
	number := strconv.FormatFloat(wtPercent, 'f', -1, 64)
	for _, unit := range []string{" wt%", " % by mass"} {
		before, _, ok := strings.Cut(text, number+unit)
		if ok && (before == "" || !strings.ContainsAny(before[len(before)-1:], "0123456789.")) {
			return true
		}
	}
	return false
}

// where says in which chamber or place, with what tool and on which face.
func (s CardStep) where() string {
	var parts []string
	add := func(text string) {
		if text = strings.TrimSpace(text); text != "" {
			parts = append(parts, text)
		}
	}
	if s.Chamber != "" {
		add("in " + s.Chamber)
	}
	add(s.Step.Place)
	add(s.Step.Tool)
	switch s.Step.Faces {
	case studio.OnFront, studio.OnBack:
		add(string(s.Step.Faces) + " only")
	case studio.OnBoth:
		add("both faces")
	}
	return strings.Join(parts, " · ")
}

// tolerance says how much sooner or later a step may end.
func tolerance(s studio.Step) string {
	var parts []string
	if s.Early > 0 {
		parts = append(parts, "−"+studio.Span(s.Early))
	}
	if s.Late > 0 {
		parts = append(parts, "+"+studio.Span(s.Late))
	}
	return strings.Join(parts, ", ")
}

// amountLine writes an amount in metric and US units: "light, 11 ± 4 g/m²
// (assumed) · 0.036 ± 0.013 oz/ft²". It is empty where there is none.
func amountLine(a studio.Amount) string {
	if a.IsZero() {
		return ""
	}
	us := usAmount(a)
	if us == "" {
		return a.String()
	}
	return a.String() + " · " + us
}

// usUnit returns the US unit an amount is also shown in. Volumes up to two
// tablespoons are spooned, larger ones poured.
func usUnit(a studio.Amount) matter.Unit {
	switch a.Unit {
	case studio.GramPerM2:
		return matter.OuncePerFt2
	case studio.MLPerM2:
		return matter.FluidOunceFt2
	case studio.Gram:
		return matter.Ounce
	case studio.Millilitre:
		if a.Value <= 30 {
			return matter.Teaspoon
		}
		return matter.FluidOunce
	}
	return ""
}

// usAmount writes a in US units, or "" when it has none.
func usAmount(a studio.Amount) string {
	to := usUnit(a)
	mean, err := matter.Convert(a.Value, matter.Unit(a.Unit), to)
	if err != nil {
		return ""
	}
	if a.SD <= 0 {
		return mean.Text
	}
	sd, err := matter.Convert(a.SD, matter.Unit(a.Unit), to)
	if err != nil {
		return mean.Text
	}
	number := strings.TrimSuffix(mean.Text, " "+to.Label())
	spread := strings.TrimSuffix(sd.Text, " "+to.Label())
	if _, decimals, ok := strings.Cut(number, "."); ok && !strings.Contains(spread, "/") {
		if same := strconv.FormatFloat(sd.Value, 'f', len(decimals), 64); strings.Trim(same, "0.") != "" {
			spread = same // no finer than the mean
		}
	}
	return number + " ± " + spread + " " + to.Label()
}
