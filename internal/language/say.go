package language

import (
	"iter"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Say returns an English text in this language. It knows a text that is a
// message, one that a message with verbs (%s, %d) made, a day, a number with
// its units, and what is put together of such. Anything else, and a person's
// own words, stay as they are.
func (l *Language) Say(text string) string {
	if l.exact == nil || text == "" {
		return text
	}
	if t, ok := l.memo.get(text); ok {
		return t
	}
	t := l.sayAround(text)
	if len(text) < 2000 {
		l.memo.put(text, t)
	}
	return t
}

// sayAround says a text round people's own words in it, which may hold commas and
// words like those of a sentence; then, if that is not known, as it stands.
func (l *Language) sayAround(text string) string {
	t, known := l.around(text, l.phrases)
	if !known {
		if t, known := l.talk().say(text, 0); known {
			return t
		}
	}
	return t
}

// mark is the first of the private characters that stand for phrases while the text
// round them is said.
const mark = '\ue000'

// around says a text in which each phrase is one mark.
func (l *Language) around(text string, phrases []string) (string, bool) {
	var held []string
	for _, p := range phrases {
		for at := 0; len(held) < 100; {
			i := strings.Index(text[at:], p)
			if i < 0 {
				break
			}
			i += at
			if endsWithLetter(text[:i]) || startsWithLetter(text[i+len(p):]) {
				at = i + 1
				continue
			}
			text = text[:i] + string(mark+rune(len(held))) + text[i+len(p):]
			at = i + 3
			held = append(held, p)
		}
	}
	t, known := l.talk().say(text, 0)
	for i, p := range held {
		t = strings.Replace(t, string(mark+rune(i)), p, 1)
	}
	return t, known
}

// Any says what an action of a page writes: words as Say does, numbers in the
// language's form; what is markup already passes.
func (l *Language) Any(v any) any {
	switch v := v.(type) {
	case nil:
		return v
	case string:
		return l.Say(v)
	case float64:
		return l.numbers(strconv.FormatFloat(v, 'g', -1, 64))
	case error:
		return l.Say(v.Error())
	case interface{ String() string }:
		return l.Say(v.String())
	}
	// the types of html/template hold what is markup already
	if r := reflect.ValueOf(v); r.Kind() == reflect.String && r.Type().PkgPath() != "html/template" {
		return l.kind(r.Type().Name(), r.String())
	}
	return v
}

// kind says a word of a type of Go: a word that has another sense elsewhere has
// the type as its context, like StepKind for 'dry', which is what is done.
func (l *Language) kind(of, word string) string {
	if l.exact != nil && word != "" {
		for _, w := range []string{word, lower(word)} {
			if m, ok := l.exact[of+"\x04"+w]; ok {
				if w != word {
					return upper(first(m.Text))
				}
				return first(m.Text)
			}
		}
	}
	return l.Say(word)
}

// deepest is how far parts are taken apart within parts.
const deepest = 6

// A talk is one text being said: what its parts were found to be is kept, since
// the ways to take a text apart meet the same parts again and again.
type talk struct {
	*Language
	heard map[string]heard
}

type heard struct {
	text  string
	known bool
	depth int // at which it was looked for
}

func (l *Language) talk() *talk { return &talk{l, map[string]heard{}} }

// say also reports whether all of text was known.
func (l *talk) say(text string, depth int) (string, bool) {
	if h, ok := l.heard[text]; ok && (h.known || h.depth <= depth) {
		return h.text, h.known
	}
	t, known := l.takenApart(text, depth)
	l.heard[text] = heard{t, known, depth}
	return t, known
}

func (l *talk) takenApart(text string, depth int) (string, bool) {
	core := strings.TrimSpace(text)
	if core == "" {
		return text, true
	}
	if core != text {
		t, ok := l.say(core, depth)
		i := strings.Index(text, core)
		return text[:i] + t + text[i+len(core):], ok
	}
	if l.own[text] {
		return text, true
	}
	if t, ok := l.whole(text); ok {
		return t, true
	}
	if l.own[upper(text)] {
		return text, true // a name within a sentence
	}
	if !lettered(text) || onlyUnits(text) || money.MatchString(text) {
		return l.numbers(text), true
	}
	if t, ok := l.date(text); ok {
		return t, true
	}
	if depth > deepest {
		return text, false
	}
	// the same with another first letter
	if low := lower(text); low != text && !l.own[low] {
		if t, ok := l.whole(low); ok {
			return upper(t), true
		}
	} else if t, ok := l.whole(upper(text)); ok && low == text {
		return l.within(t), true
	}
	if t, ok := l.counted(text); ok {
		return t, true
	}
	// clauses and sentences that are each known are no value of a format round them
	if strings.Contains(text, "; ") {
		if t, ok := l.joined(text, "; ", depth); ok {
			return t, true
		}
	}
	if t, ok := l.referred(text, depth); ok {
		return t, true
	}
	if t, ok := l.sentences(text, depth); ok {
		return t, true
	}
	if t, ok := l.filled(text, depth); ok {
		return t, true
	}
	for _, mark := range []string{". ", " × "} { // of a list, and how many
		if n, item, ok := strings.Cut(text, mark); ok && wholeNumber.MatchString(n) {
			t, known := l.say(item, depth+1)
			return n + mark + t, known
		}
	}
	if low := lower(text); low != text && !l.own[low] {
		if t, ok := l.filled(low, depth); ok {
			return upper(t), true
		}
	} else if low == text && upper(text) != text {
		if t, ok := l.filled(upper(text), depth); ok {
			return l.within(t), true
		}
	}
	// an end that was put on
	for _, end := range []string{".", ":", "!", "?", ","} {
		if cut, ok := strings.CutSuffix(text, end); ok && cut != "" {
			if t, known := l.say(cut, depth+1); known {
				return t + end, true
			}
		}
	}
	if t, ok := l.headed(text, depth); ok {
		return t, true
	}
	if t, ok := l.sentences(text, depth); ok || t != text {
		return t, ok
	}
	return l.parts(text, depth)
}

func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

func lower(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToLower(r)) + s[n:]
}

// within writes a translation as it stands within a sentence: small, but for a
// first word that is never small.
func (l *Language) within(t string) string {
	if w := wordsIn(t); len(w) > 0 && l.small[lower(w[0])] {
		return lower(t)
	}
	return t
}

// whole says a text that is a message.
//
// A full stop that was put on or taken off makes no other message.
func (l *Language) whole(text string) (string, bool) {
	if m, ok := l.exact["\x04"+text]; ok {
		return strings.ReplaceAll(first(m.Text), "%%", "%"), true
	}
	cut, stopped := strings.CutSuffix(text, ".")
	if !stopped {
		cut = text + "."
	}
	m, ok := l.exact["\x04"+cut]
	if !ok {
		return "", false
	}
	said := strings.TrimSuffix(strings.ReplaceAll(first(m.Text), "%%", "%"), ".")
	if stopped {
		said += "."
	}
	return said, true
}

// filled says a text that a message with verbs made. One whose parts are not
// all known stays English as a whole: half a sentence in each language helps nobody.
func (l *talk) filled(text string, depth int) (string, bool) {
	for _, m := range l.made.find(text) {
		if t, ok := l.fillIn(m, depth); ok {
			return t, true
		}
	}
	return "", false
}

func (l *talk) fillIn(m made, depth int) (string, bool) {
	which := 0
	if m.message.Plural != "" {
		for i, v := range m.verbs {
			if n, err := strconv.Atoi(m.args[i]); err == nil && v == 'd' {
				which = l.form(n)
				break
			}
		}
	}
	said := make([]string, len(m.args))
	for i, a := range m.args {
		switch m.verbs[i] {
		case 's', 'v':
			said[i] = a
			if quoted(m.format, i) {
				continue
			}
			t, ok := l.say(a, depth+1)
			if !ok && (l.english(a) || m.words < 2 && !isCode(a) && !l.isName(a)) {
				return "", false
			}
			said[i] = t
		case 'q':
			said[i] = a
		default:
			said[i] = l.numbers(a)
		}
	}
	return put(m.message.Text[min(which, len(m.message.Text)-1)], said), true
}

// english reports whether text holds plain English words, and so is no name or
// number. One word with a capital may be a name.
func (l *Language) english(text string) bool {
	words := wordsIn(text)
	for _, w := range words {
		if l.plain[w] || len(words) > 1 && l.plain[lower(w)] {
			return true
		}
	}
	return false
}

// quoted reports whether a verb stands in quotes: then it is a name somebody gave.
func quoted(f *format, i int) bool {
	return strings.HasSuffix(f.literals[i], "“") || strings.HasSuffix(f.literals[i], "'") && strings.HasPrefix(f.literals[i+1], "'") || strings.HasSuffix(f.literals[i], `"`)
}

// sentences says text sentence by sentence, as many at once as are known together.
func (l *talk) sentences(text string, depth int) (string, bool) {
	cut := sentenceEnds(text)
	if len(cut) < 2 {
		return text, false
	}
	var b strings.Builder
	all := true
	for i := 0; i < len(cut); {
		done := false
		for j := min(len(cut), i+4); j > i && !done; j-- {
			if j-i == len(cut) {
				continue
			}
			s := strings.Join(cut[i:j], " ")
			t, ok := l.say(s, depth+1)
			if j-i > 1 {
				// only if it is one message
				if t, ok = l.whole(s); !ok {
					t, ok = l.filled(s, depth+1)
				}
			}
			if ok || j == i+1 {
				if i > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(t)
				all = all && ok
				i, done = j, true
			}
		}
	}
	return b.String(), all
}

// sentenceEnds cuts text after each full stop that a capital, a quote or a
// digit follows.
func sentenceEnds(text string) []string {
	var out []string
	from := 0
	for i := 0; i+2 < len(text); i++ {
		if (text[i] == '.' || text[i] == '?' || text[i] == '!') && text[i+1] == ' ' {
			if r, _ := utf8.DecodeRuneInString(text[i+2:]); unicode.IsUpper(r) || unicode.IsDigit(r) || strings.ContainsRune("“‘\"▲(", r) {
				out = append(out, text[from:i+1])
				from = i + 2
			}
		}
	}
	return append(out, text[from:])
}

// joints are what parts are put together with, the loosest first.
var joints = []string{"\n", " · ", "; ", ": ", " → ", " – ", " = ", ", ", " × ", " and ", " or ", " (", " to "}

// parts says what is put together of parts: if every part is known. Of parts
// that stand for themselves, those that are known.
func (l *talk) parts(text string, depth int) (string, bool) {
	for _, whole := range []bool{true, false} {
		if t, known := l.partsOf(text, depth, whole); known || !whole {
			return t, known
		}
	}
	return text, false
}

// partsOf is parts; with whole, where all of them are known.
func (l *talk) partsOf(text string, depth int, whole bool) (string, bool) {
	for _, j := range joints {
		if !strings.Contains(text, j) {
			continue
		}
		if j == " (" {
			i := openedAt(text)
			if i < 1 || text[i-1] != ' ' {
				continue
			}
			i--
			a, okA := l.say(text[:i], depth+1)
			b, okB := l.say(text[i+2:len(text)-1], depth+1)
			if okA && okB {
				return a + " (" + b + ")", true
			}
			continue
		}
		if j == " to " {
			from, to, _ := strings.Cut(text, j)
			a, okA := l.say(from, depth+1)
			b, okB := l.say(to, depth+1)
			if span := l.text("", "%g to %g"); span != "" && okA && okB && strings.ContainsAny(from, "0123456789") {
				return put(span, []string{a, b}), true
			}
			continue
		}
		if j == ": " { // what stands before it is a heading to all that follows
			head, rest, _ := strings.Cut(text, j)
			a, okA := l.say(head, depth+1)
			b, okB := l.say(rest, depth+1)
			if okA && okB || okB && l.isName(head) {
				return a + j + b, true
			}
			continue
		}
		if t, known := l.joined(text, j, depth); known || !whole && (j == "\n" || j == " · " || j == "; ") {
			return t, known
		}
	}
	// what is measured, and how much: ammonia water 9 %
	for i := strings.Index(text, " "); i > 0; {
		if what, much := text[:i], text[i+1:]; measure(much) {
			if t, ok := l.say(what, depth+1); ok {
				return t + " " + l.numbers(much), true
			}
		}
		next := strings.Index(text[i+1:], " ")
		if next < 0 {
			break
		}
		i += next + 1
	}
	// how many, and of what: 3 swatches
	if n, what, ok := strings.Cut(text, " "); ok && measure(n) && !measure(what) {
		if to, rest, ok := strings.Cut(strings.TrimPrefix(what, "to "), " "); ok && strings.HasPrefix(what, "to ") && measure(to) {
			n, what = n+" to "+to, rest
		}
		if t, ok := l.say(what, depth+1); ok {
			n, _ = l.say(n, depth+1)
			return n + " " + t, true
		}
	}
	return text, isCode(text)
}

// openedAt returns where the bracket is opened that the text ends with, -1 if none.
func openedAt(text string) int {
	open := 0
	for i := len(text) - 1; i >= 0 && text[len(text)-1] == ')'; i-- {
		switch text[i] {
		case ')':
			open++
		case '(':
			if open--; open == 0 {
				return i
			}
		}
	}
	return -1
}

// clause says a text that is one message.
func (l *talk) clause(text string, depth int) (string, bool) {
	if t, ok := l.whole(text); ok {
		return t, true
	}
	if depth > deepest {
		return text, false
	}
	return l.filled(text, depth)
}

// joined says the parts of a text that j joins, and reports whether all were known.
// Those of a row stand for themselves; those of a sentence only if all are known.
func (l *talk) joined(text, j string, depth int) (string, bool) {
	parts := strings.Split(text, j)
	if len(parts) > 40 {
		return text, false
	}
	said, known := l.together(parts, j, j == "\n" || j == " · " || j == "; ", depth)
	if said == nil {
		return text, false
	}
	if j == " and " || j == " or " {
		j = " " + l.or(strings.TrimSpace(j)) + " "
	}
	return strings.Join(said, j), known
}

// together says parts that j joins, as many at once as are known together: what is joined
// may hold j itself. Without loose it gives up at the first that is not known.
func (l *talk) together(parts []string, j string, loose bool, depth int) ([]string, bool) {
	var out []string
	known := true
	for i := 0; i < len(parts); {
		n, said, ok := 1, "", false
		for n = min(4, len(parts)-i); n > 1; n-- {
			if n == len(parts) {
				continue
			}
			run := strings.Join(parts[i:i+n], j)
			if l.own[run] {
				said, ok = run, true
			} else if said, ok = l.whole(run); !ok {
				said, ok = l.filled(run, depth+1)
			}
			if ok {
				break
			}
		}
		if !ok {
			n = 1
			said, ok = l.say(parts[i], depth+1)
			if end := strings.TrimSpace(j); !ok && i > 0 && end != "" && strings.HasPrefix(j, end) {
				// a clause that was put on with its comma
				if t, clause := l.clause(end+" "+parts[i], depth+1); clause {
					said, ok = strings.TrimPrefix(t, j), true
				}
			}
			if !ok && !isCode(parts[i]) && !l.isName(parts[i]) {
				if !loose {
					return nil, false
				}
				known = false
			}
		}
		out = append(out, said)
		i += n
	}
	return out, known
}

// headed says a message of some sentences behind a word and a colon, or what stands behind
// its number or code.
func (l *talk) headed(text string, depth int) (string, bool) {
	if head, rest, ok := strings.Cut(text, ": "); ok && !strings.Contains(head, ". ") {
		if said, ok := l.whole(rest); ok {
			if h, ok := l.say(head, depth+1); ok || l.isName(head) {
				return h + ": " + said, true
			}
		}
	}
	for head, rest := range numbered(text) {
		if said, ok := l.say(rest, depth+1); ok {
			return l.numbers(head) + " " + said, true
		}
	}
	return text, false
}

// counted says a message behind its number or code.
func (l *talk) counted(text string) (string, bool) {
	for head, rest := range numbered(text) {
		if said, ok := l.whole(rest); ok {
			return l.numbers(head) + " " + said, true
		}
	}
	return "", false
}

// numbered parts text behind its number, measure or code, as it can be: 3 × goggles, 50 mL
// vinegar, H319 irritates the eyes.
func numbered(text string) iter.Seq2[string, string] {
	return func(yield func(head, rest string) bool) {
		for i, n := 0, 0; n < 3; n++ {
			next := strings.IndexByte(text[i:], ' ')
			if next < 0 {
				return
			}
			i += next + 1
			head := text[:i-1]
			if strings.ContainsAny(head, "0123456789") && (isCode(head) || measure(head)) && !yield(head, text[i:]) {
				return
			}
		}
	}
}

// referred says a text that ends with where it is from, in brackets: [book; standing], or
// (book; standing) after a full stop. The names of sources stay, so that they can be found.
func (l *talk) referred(text string, depth int) (string, bool) {
	for _, pair := range []string{" []", " ()"} {
		i := strings.LastIndex(text, pair[:2])
		if pair[1] == '(' { // the source's own name may hold brackets
			i = strings.LastIndex(text, "."+pair[:2]) + 1
		}
		if i < 1 || text[len(text)-1] != pair[2] {
			continue
		}
		core, ok := l.say(text[:i], depth+1)
		if !ok {
			continue
		}
		refs := strings.Split(text[i+2:len(text)-1], "; ")
		for k := range refs {
			refs[k], _ = l.say(refs[k], depth+1)
		}
		return core + pair[:2] + strings.Join(refs, "; ") + pair[2:], true
	}
	return text, false
}

// isName reports whether text is one word with a capital, which is taken for a
// person's name.
func (l *Language) isName(text string) bool {
	r, _ := utf8.DecodeRuneInString(text)
	return unicode.IsUpper(r) && !strings.ContainsAny(text, " ,.;:") && !slices.ContainsFunc(wordsIn(strings.ToLower(text)), func(w string) bool { return l.plain[w] }) && !l.plain[strings.ToLower(text)]
}

// money matches an amount with its currency's code (ISO 4217).
var money = regexp.MustCompile(`^[-−]?[\d.,]+ [A-Z]{3}$`)

// capitals are names of offices and the like, and marks of their lists.
var capitals = regexp.MustCompile(`^[A-Z][A-Z0-9-]+( [A-Z0-9-]+)*$`)

// isCode reports whether text is a swatch's number, an address or the like, which
// is the same in every language.
func isCode(text string) bool {
	return capitals.MatchString(text) || text != "" && !strings.Contains(text, " ") && (strings.ContainsAny(text, "0123456789") || text[0] == '/')
}
