package language

import (
	"cmp"
	"embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// A Language says English texts in itself. It is safe for use by many at once.
type Language struct {
	Tag  string // BCP 47, like "de"
	Name string // in itself, like "Deutsch"

	exact          map[string]Message // by context, \x04 and English
	made           formats
	own            map[string]bool // a person's own words
	phrases        []string        // those of several words, the longest first
	plain          map[string]bool // words that make a text English
	small          map[string]bool // words of the language that need no capital
	tag            language.Tag
	forms          map[plural.Form]int // which msgstr
	point, percent string
	memo           *memo
}

// English is the source: it says everything as it is.
var English = &Language{Tag: "en", Name: "English", point: ".", percent: " %", tag: language.English}

//go:embed catalogues/*.po
var catalogues embed.FS

// Shipped returns the languages that come with Aerugo, English first.
func Shipped() ([]*Language, error) {
	all, err := shipped()
	return slices.Clone(all), err
}

var shipped = sync.OnceValues(func() ([]*Language, error) {
	out := []*Language{English}
	entries, err := catalogues.ReadDir("catalogues")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		po, err := catalogues.ReadFile("catalogues/" + e.Name())
		if err != nil {
			return nil, err
		}
		l, err := Read(po)
		if err != nil {
			return nil, fmt.Errorf("read catalogue %s: %w", e.Name(), err)
		}
		out = append(out, l)
	}
	return out, nil
})

// Read makes a language of a PO file. Its header names the language (Language,
// by its BCP 47 tag) and how it calls itself (X-Native-Name).
func Read(po []byte) (*Language, error) {
	c, err := ReadCatalogue(po)
	if err != nil {
		return nil, err
	}
	tag, err := language.Parse(c.Header["Language"])
	if err != nil || tag == language.Und {
		return nil, fmt.Errorf("the header names no language: Language is %q", c.Header["Language"])
	}
	l := &Language{Tag: tag.String(), Name: c.Header["X-Native-Name"], exact: map[string]Message{}, tag: tag, forms: pluralForms(tag), memo: &memo{}}
	if l.Name == "" {
		l.Name = l.Tag
	}
	l.point, l.percent = numberForms(tag)
	for _, m := range c.Messages {
		if m.Fuzzy || strings.Join(m.Text, "") == "" {
			continue
		}
		if m.Plural != "" && len(m.Text) != len(l.forms) {
			return nil, fmt.Errorf("%q has %d forms, and %s has %d", m.ID, len(m.Text), l.Tag, len(l.forms))
		}
		l.exact[m.Context+"\x04"+m.ID] = m
		if strings.Contains(m.ID, "%%") {
			l.exact[m.Context+"\x04"+strings.ReplaceAll(m.ID, "%%", "%")] = m
		}
		if m.Context == "" {
			l.made.add(m, m.ID)
			if m.Plural != "" {
				l.exact["\x04"+m.Plural] = Message{ID: m.Plural, Text: m.Text[len(m.Text)-1:]}
				l.made.add(m, m.Plural)
			}
		}
	}
	l.made.index()
	l.plain, l.small = plainWords(c), smallWords(c)
	return l, nil
}

// smallWords returns the words that the translations write in small letters.
func smallWords(c Catalogue) map[string]bool {
	out := map[string]bool{}
	for _, m := range c.Messages {
		for _, t := range m.Text {
			for _, w := range wordsIn(verb.ReplaceAllString(t, " ")) {
				if w == lower(w) {
					out[w] = true
				}
			}
		}
	}
	return out
}

// plainWords returns the words of a catalogue's English texts that its
// translations never use: a text with one of them is English, no name.
func plainWords(c Catalogue) map[string]bool {
	out := map[string]bool{}
	for _, m := range c.Messages {
		for _, w := range wordsIn(verb.ReplaceAllString(m.ID+" "+m.Plural, " ")) {
			out[strings.ToLower(w)] = true
		}
	}
	for _, m := range c.Messages {
		for _, t := range m.Text {
			if t == m.ID && strings.Count(t, " ") > 2 {
				continue // left in English
			}
			for _, w := range wordsIn(verb.ReplaceAllString(t, " ")) {
				delete(out, strings.ToLower(w))
			}
		}
	}
	return out
}

// Knowing returns the language for a studio in which own are names that people
// gave: those are said as they are.
func (l *Language) Knowing(own map[string]bool) *Language {
	if l.exact == nil {
		return l
	}
	k := *l
	k.own, k.phrases, k.memo = own, phrases(own), &memo{}
	return &k
}

// phrases returns those of several words, the longest first.
func phrases(of map[string]bool) []string {
	var out []string
	for w := range of {
		if strings.Contains(w, " ") {
			out = append(out, w)
		}
	}
	slices.SortFunc(out, func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) })
	return out
}

// Own gathers the words that are a person's own: names, and those of words that are no
// message here.
func (l *Language) Own(names, words []string) map[string]bool {
	own := make(map[string]bool, len(names)+len(words))
	for _, n := range names {
		own[n] = true
	}
	for _, w := range words {
		if _, ok := l.exact["\x04"+w]; !ok {
			own[w] = true
		}
	}
	return own
}

// text returns the translation of a whole message, empty if there is none.
func (l *Language) text(context, id string) string {
	if context != "" {
		if m, ok := l.exact[context+"\x04"+id]; ok {
			return first(m.Text)
		}
	}
	return first(l.exact["\x04"+id].Text)
}

// pluralForms numbers the forms that whole numbers take in a language, in
// CLDR's order, which is that of gettext's msgstr[n].
func pluralForms(tag language.Tag) map[plural.Form]int {
	used := map[plural.Form]bool{}
	for n := range 1001 {
		used[plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0)] = true
	}
	out := map[plural.Form]int{}
	for _, f := range []plural.Form{plural.Zero, plural.One, plural.Two, plural.Few, plural.Many, plural.Other} {
		if used[f] {
			out[f] = len(out)
		}
	}
	return out
}

// form returns which msgstr is for n.
func (l *Language) form(n int) int {
	n = max(n, -n)
	if n > 1000000 {
		n = 1000000 + n%1000000 // the rules look at the last digits
	}
	return l.forms[plural.Cardinal.MatchPlural(l.tag, n, 0, 0, 0, 0)]
}

// Page returns the source of a page in this language; name is its file's name
// without .html. What its actions write is piped to the function say, see Any.
func (l *Language) Page(name, src string) string {
	if l.exact == nil {
		return src
	}
	return l.page(name, src)
}

// Point returns the decimal mark.
func (l *Language) Point() string { return l.point }

// Script returns the messages of the scripts, which stand in web/static.
func (l *Language) Script() map[string]string {
	out := map[string]string{}
	for _, m := range l.exact {
		for _, p := range m.Places {
			if strings.HasPrefix(p, "web/static/") {
				out[m.ID] = first(m.Text)
				break
			}
		}
	}
	return out
}

// memo keeps what was said, up to a bound.
type memo struct {
	mu   sync.Mutex
	said map[string]string
}

const memoMost = 8192

func (m *memo) get(s string) (string, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	t, ok := m.said[s]
	return t, ok
}

func (m *memo) put(s, t string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.said == nil || len(m.said) >= memoMost {
		m.said = map[string]string{}
	}
	m.said[s] = t
}
