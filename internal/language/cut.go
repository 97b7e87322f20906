package language

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// A Unit is one text of a page's source: a run of words with what stands
// inside it, the values as {1} {2}, the tags as <1>…</1>.
type Unit struct {
	ID    string
	Notes []string // what the marks stand for
	Line  int      // where it begins, from 1
}

// Units returns the texts of a page's source in their order, and after them
// the words its actions hand on, like "label" "Today".
func Units(src string) []Unit {
	c := &cutter{src: src}
	c.rewrite(scan(src))
	return append(c.units, literals(src)...)
}

// page returns the source of a page in another language. name is the page's,
// by which a message may have a context. A text without a translation, or with
// one whose marks are not those of the English, stays English.
func (l *Language) page(name, src string) string {
	c := &cutter{src: src, say: true, translate: func(id string) string { return l.text(name, id) }}
	return c.rewrite(scan(src))
}

type kind int

const (
	words   kind = iota
	opening      // of an inline element
	closing
	single // an inline element without content
	value
	boundary // any other tag, and actions that steer
)

// A piece is what the source is made of, in order.
type piece struct {
	kind kind
	src  string
	at   int
	name string // of a tag
}

// inline are the elements that stand inside a sentence.
var inline = []string{"b", "strong", "em", "i", "span", "small", "abbr", "a", "code", "kbd", "time", "sub", "sup", "mark", "output", "q", "cite", "var"}

// raw are the elements whose content is no text of the page.
var raw = []string{"script", "style", "textarea"}

// spoken are the attributes that people read or hear.
var spoken = []string{"title", "aria-label", "alt", "placeholder", "label", "aria-valuetext", "aria-roledescription"}

func isSpoken(name string) bool {
	return slices.Contains(spoken, name) || strings.HasPrefix(name, "data-say")
}

// actionEnd returns where the action that begins at i is over.
func actionEnd(src string, i int) int {
	if strings.HasPrefix(strings.TrimLeft(src[i+2:], "- \n\t"), "/*") {
		if end := strings.Index(src[i:], "*/"); end >= 0 {
			i += end
		}
		if end := strings.Index(src[i:], "}}"); end >= 0 {
			return i + end + 2
		}
		return len(src)
	}
	for j := i + 2; j < len(src); j++ {
		switch src[j] {
		case '"', '\'':
			q := src[j]
			for j++; j < len(src) && src[j] != q; j++ {
				if src[j] == '\\' {
					j++
				}
			}
		case '`':
			for j++; j < len(src) && src[j] != '`'; j++ {
			}
		case '}':
			if strings.HasPrefix(src[j:], "}}") {
				return j + 2
			}
		}
	}
	return len(src)
}

// tagEnd returns where the tag that begins at i is over.
func tagEnd(src string, i int) int {
	if strings.HasPrefix(src[i:], "<!--") {
		if end := strings.Index(src[i:], "-->"); end >= 0 {
			return i + end + 3
		}
		return len(src)
	}
	var q byte
	for j := i + 1; j < len(src); j++ {
		switch {
		case strings.HasPrefix(src[j:], "{{"):
			j = actionEnd(src, j) - 1
		case q != 0:
			if src[j] == q {
				q = 0
			}
		case src[j] == '"' || src[j] == '\'':
			q = src[j]
		case src[j] == '>':
			return j + 1
		}
	}
	return len(src)
}

var tagName = regexp.MustCompile(`^</?([a-zA-Z][a-zA-Z0-9-]*)`)

var steering = regexp.MustCompile(`^(if|else|end|range|with|template|block|define|break|continue)\b|^/\*|^\$\w*(, *\$\w+)? *:?= `)

func inside(action string) string {
	return strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(strings.TrimSuffix(strings.TrimPrefix(action, "{{"), "}}"), "-"), "-"))
}

func scan(src string) []piece {
	var out []piece
	for i := 0; i < len(src); {
		p := piece{at: i}
		end := i
		switch {
		case strings.HasPrefix(src[i:], "{{"):
			end = actionEnd(src, i)
			p.kind = value
			if steering.MatchString(inside(src[i:end])) {
				p.kind = boundary
			}
		case src[i] == '<' && (tagName.MatchString(src[i:]) || strings.HasPrefix(src[i:], "<!")):
			end = tagEnd(src, i)
			p.kind = boundary
			if m := tagName.FindStringSubmatch(src[i:]); m != nil {
				p.name = strings.ToLower(m[1])
			}
			shut := src[i+1] == '/'
			switch {
			case slices.Contains(raw, p.name) && !shut:
				close := strings.Index(strings.ToLower(src[end:]), "</"+p.name)
				if close < 0 {
					end = len(src)
				} else {
					out = append(out, piece{boundary, src[i:end], i, p.name}, piece{boundary, src[end : end+close], end, ""})
					i = end + close
					continue
				}
			case p.name == "br" || p.name == "wbr":
				p.kind = single
			case slices.Contains(inline, p.name) && shut:
				p.kind = closing
			case slices.Contains(inline, p.name):
				p.kind = opening
			}
		default:
			p.kind = words
			for end = i + 1; end < len(src) && src[end] != '<' && !strings.HasPrefix(src[end:], "{{"); end++ {
			}
		}
		p.src = src[i:end]
		out = append(out, p)
		i = end
	}
	return out
}

// A cutter goes once through a source: it notes the units and, where it has a
// translate, writes what they are there.
type cutter struct {
	src       string
	say       bool
	translate func(id string) string
	units     []Unit
}

func (c *cutter) rewrite(pieces []piece) string {
	var out strings.Builder
	for i := 0; i < len(pieces); {
		if pieces[i].kind == boundary {
			out.WriteString(c.tag(pieces[i]))
			i++
			continue
		}
		j := i
		for j < len(pieces) && pieces[j].kind != boundary {
			j++
		}
		c.run(&out, pieces[i:j])
		i = j
	}
	return out.String()
}

// run cuts pieces at tags whose other half is outside.
func (c *cutter) run(out *strings.Builder, run []piece) {
	alone := make([]bool, len(run))
	var open []int
	for i, p := range run {
		switch p.kind {
		case opening:
			open = append(open, i)
		case closing:
			if n := len(open); n > 0 && run[open[n-1]].name == p.name {
				open = open[:n-1]
			} else {
				alone[i] = true
			}
		}
	}
	for _, i := range open {
		alone[i] = true
	}
	from := 0
	for i := range run {
		if alone[i] {
			c.balanced(out, run[from:i])
			out.WriteString(c.tag(run[i]))
			from = i + 1
		}
	}
	c.balanced(out, run[from:])
}

// balanced writes pieces whose tags are all in pairs: as one unit if words or
// values stand between its elements, else each element for itself.
func (c *cutter) balanced(out *strings.Builder, run []piece) {
	parts := elements(run)
	for len(parts) > 0 && !speaks(parts[0]) {
		c.plain(out, parts[0])
		parts = parts[1:]
	}
	last := len(parts)
	for last > 0 && !speaks(parts[last-1]) {
		last--
	}
	rest := parts[last:]
	parts = parts[:last]
	together := false
	for _, p := range parts {
		if len(p) == 1 && speaks(p) {
			together = true
		}
	}
	var all []piece
	for _, p := range parts {
		all = append(all, p...)
	}
	switch {
	case together && hasWords(all):
		c.unit(out, all)
	case together:
		c.plain(out, all)
	default:
		for _, p := range parts {
			if len(p) == 1 {
				c.plain(out, p)
				continue
			}
			out.WriteString(c.tag(p[0]))
			c.balanced(out, p[1:len(p)-1])
			out.WriteString(c.tag(p[len(p)-1]))
		}
	}
	for _, p := range rest {
		c.plain(out, p)
	}
}

// elements groups pieces: an element with its content is one group.
func elements(run []piece) [][]piece {
	var out [][]piece
	depth, from := 0, 0
	for i, p := range run {
		switch p.kind {
		case opening:
			if depth == 0 {
				from = i
			}
			depth++
		case closing:
			if depth--; depth == 0 {
				out = append(out, run[from:i+1])
			}
		default:
			if depth == 0 {
				out = append(out, run[i:i+1])
			}
		}
	}
	return out
}

func speaks(run []piece) bool {
	for _, p := range run {
		if p.kind == value || p.kind == words && lettered(p.src) {
			return true
		}
	}
	return false
}

// hasWords reports whether there are words to translate, not only values and
// units of measure.
func hasWords(run []piece) bool {
	for _, p := range run {
		if p.kind == words && lettered(p.src) && !onlyUnits(p.src) {
			return true
		}
	}
	return false
}

var entity = regexp.MustCompile(`&#?\w+;`)

func lettered(text string) bool {
	return strings.ContainsFunc(entity.ReplaceAllString(text, " "), unicode.IsLetter)
}

// plain writes pieces that are no unit.
func (c *cutter) plain(out *strings.Builder, run []piece) {
	for _, p := range run {
		switch p.kind {
		case value:
			out.WriteString(c.value(p.src))
		case words:
			out.WriteString(p.src)
		default:
			out.WriteString(c.tag(p))
		}
	}
}

var spaces = regexp.MustCompile(`[ \t\r\n]+`)

func (c *cutter) unit(out *strings.Builder, run []piece) {
	var id strings.Builder
	values, tags := map[int]string{}, map[int][2]string{}
	var notes []string
	var open []int
	text := make([]piece, len(run))
	copy(text, run)
	before, after := "", ""
	if p := &text[0]; p.kind == words {
		t := strings.TrimLeft(p.src, " \t\r\n")
		before, p.src = p.src[:len(p.src)-len(t)], t
	}
	if p := &text[len(text)-1]; p.kind == words {
		t := strings.TrimRight(p.src, " \t\r\n")
		after, p.src = p.src[len(t):], t
	}
	for _, p := range text {
		switch p.kind {
		case words:
			id.WriteString(spaces.ReplaceAllString(p.src, " "))
		case value:
			n := len(values) + 1
			values[n] = c.value(p.src)
			id.WriteString("{" + strconv.Itoa(n) + "}")
			notes = append(notes, "{"+strconv.Itoa(n)+"} = "+spaces.ReplaceAllString(p.src, " "))
		case opening, single:
			n := len(tags) + 1
			tags[n] = [2]string{c.tag(p), ""}
			notes = append(notes, "<"+strconv.Itoa(n)+"> = "+short(p.src))
			if p.kind == single {
				id.WriteString("<" + strconv.Itoa(n) + "/>")
				continue
			}
			open = append(open, n)
			id.WriteString("<" + strconv.Itoa(n) + ">")
		case closing:
			n := open[len(open)-1]
			open = open[:len(open)-1]
			tags[n] = [2]string{tags[n][0], p.src}
			id.WriteString("</" + strconv.Itoa(n) + ">")
		}
	}
	c.units = append(c.units, Unit{id.String(), notes, strings.Count(c.src[:run[0].at], "\n") + strings.Count(before, "\n") + 1})
	put := id.String()
	if c.translate != nil {
		if t := c.translate(put); t != "" && sameMarks(put, t) && !strings.Contains(t, "{{") {
			put = t
		}
	}
	out.WriteString(before)
	out.WriteString(marks.ReplaceAllStringFunc(put, func(m string) string {
		n, _ := strconv.Atoi(strings.Trim(m, "{}</>"))
		switch {
		case m[0] == '{':
			return values[n]
		case m[1] == '/':
			return tags[n][1]
		}
		return tags[n][0]
	}))
	out.WriteString(after)
}

// short is a tag as a note shows it.
func short(tag string) string {
	t := spaces.ReplaceAllString(tag, " ")
	if len(t) > 60 {
		return string([]rune(t)[:50]) + "…"
	}
	return t
}

var marks = regexp.MustCompile(`\{\d+\}|</?\d+/?>`)

// sameMarks reports whether a translation has the marks of the English, each
// as often, its tags in pairs, and no other tag.
func sameMarks(english, translated string) bool {
	count := func(text string) (map[string]int, bool) {
		n := map[string]int{}
		var open []string
		ok := true
		for _, m := range marks.FindAllString(text, -1) {
			n[m]++
			switch {
			case m[0] == '{' || strings.HasSuffix(m, "/>"):
			case m[1] == '/':
				if len(open) == 0 || open[len(open)-1] != "<"+m[2:] {
					ok = false
				} else {
					open = open[:len(open)-1]
				}
			default:
				open = append(open, m)
			}
		}
		return n, ok && len(open) == 0 && !strings.ContainsAny(marks.ReplaceAllString(text, ""), "<>")
	}
	want, _ := count(english)
	got, ok := count(translated)
	if !ok || len(want) != len(got) {
		return false
	}
	for m, n := range want {
		if got[m] != n {
			return false
		}
	}
	return true
}

// ownFields are the fields that hold a person's own words.
var ownFields = regexp.MustCompile(`^[$.\w]*\.(Note|Who|By|Question|Customer|OwnWords)$|\bown\b`)

// value makes an action say what it writes.
func (c *cutter) value(action string) string {
	if !c.say || ownFields.MatchString(inside(action)) {
		return action
	}
	body, end := strings.TrimSuffix(action, "}}"), "}}"
	if strings.HasSuffix(body, "-") {
		body, end = strings.TrimSuffix(body, "-"), " -}}"
	}
	return strings.TrimRight(body, " \n\t") + " | say" + end
}

var attribute = regexp.MustCompile(`[\s"'}]([a-zA-Z][a-zA-Z0-9-]*)="`)

// tag writes a tag with the attributes that people read translated.
func (c *cutter) tag(p piece) string {
	if p.name == "" || !strings.HasPrefix(p.src, "<") {
		return p.src
	}
	src := p.src
	var out strings.Builder
	for i := 0; i < len(src); {
		m := attribute.FindStringSubmatchIndex(src[i:])
		if m == nil {
			out.WriteString(src[i:])
			break
		}
		// an action may hold what looks like an attribute
		if a := strings.Index(src[i:], "{{"); a >= 0 && a < m[0] {
			end := actionEnd(src, i+a)
			out.WriteString(src[i:end])
			if i = end - 1; i < 0 || end == len(src) {
				break
			}
			// the attribute after it begins with the action's last brace
			out2 := out.String()
			out.Reset()
			out.WriteString(out2[:len(out2)-1])
			continue
		}
		name := src[i+m[2] : i+m[3]]
		from := i + m[1]
		to := from
		for to < len(src) && src[to] != '"' {
			if strings.HasPrefix(src[to:], "{{") {
				to = actionEnd(src, to)
				continue
			}
			to++
		}
		out.WriteString(src[i:from])
		if isSpoken(name) {
			inner := scan(src[from:to])
			for k := range inner {
				inner[k].at += p.at + from
			}
			out.WriteString(c.rewrite(inner))
		} else {
			out.WriteString(src[from:to])
		}
		i = to
	}
	return out.String()
}

var literal = regexp.MustCompile("\"(?:[^\"\\\\]|\\\\.)*\"|`[^`]*`")

// literals returns the words that the actions of a source hand on: those of
// several words, or with a capital.
func literals(src string) []Unit {
	var out []Unit
	for i := 0; i < len(src); i++ {
		if !strings.HasPrefix(src[i:], "{{") {
			continue
		}
		end := actionEnd(src, i)
		body := inside(src[i:end])
		if !strings.HasPrefix(body, "/*") {
			for _, q := range literal.FindAllString(body, -1) {
				text, err := strconv.Unquote(q)
				if err != nil || !lettered(text) {
					continue
				}
				text = strings.TrimSpace(text)
				if r := []rune(text); unicode.IsUpper(r[0]) || strings.Contains(text, " ") {
					out = append(out, Unit{ID: text, Line: strings.Count(src[:i], "\n") + 1})
				}
			}
		}
		i = end - 1
	}
	return out
}
