package language

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// verb matches what fmt replaces in a format.
var verb = regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+|\.\*)?([sdvqgfeExXcTtp%])`)

// A format is a message that Go fills in, taken apart: the text between its
// verbs, and what each verb may have become.
type format struct {
	message  Message
	literals []string // one more than verbs
	verbs    []byte
	weight   int // letters in the literals
	marks    int // all bytes of the literals
	words    int // in the literals
	longest  string
	at       int // in the catalogue
}

// formats finds the formats that a sentence can have been made by.
type formats struct {
	all    []*format
	byWord map[string][]*format // each under the rarest word that it always has
	rest   []*format            // those that have no word for certain
}

// takeApart returns a message as a format; ok is false if it has no verbs or
// too few words of its own to be known by.
func takeApart(m Message, id string) (*format, bool) {
	f := &format{message: m}
	at := 0
	lit := ""
	for _, v := range verb.FindAllStringSubmatchIndex(id, -1) {
		lit += id[at:v[0]]
		at = v[1]
		if id[v[4]] == '%' {
			lit += "%"
			continue
		}
		f.literals = append(f.literals, lit)
		f.verbs = append(f.verbs, id[v[4]])
		lit = ""
	}
	f.literals = append(f.literals, lit+id[at:])
	if len(f.verbs) == 0 {
		return nil, false
	}
	numeric := true
	for _, l := range f.literals {
		for _, w := range strings.FieldsFunc(l, func(r rune) bool { return !unicode.IsLetter(r) }) {
			f.weight += len(w)
			if len(w) > 1 {
				f.words++
			}
		}
		f.marks += len(strings.ReplaceAll(l, " ", ""))
		if len(l) > len(f.longest) {
			f.longest = l
		}
	}
	for _, v := range f.verbs {
		if v != 'd' && v != 'g' && v != 'f' && v != 'q' {
			numeric = false
		}
	}
	// a short word tells enough where the text begins with it
	return f, f.words > 1 || f.words == 1 && (numeric || f.weight > 2 || f.weight == 2 && len(wordsIn(f.literals[0])) == 1)
}

func (fs *formats) add(m Message, id string) {
	if f, ok := takeApart(m, id); ok {
		f.at = len(fs.all)
		fs.all = append(fs.all, f)
	}
}

// index files each format under its rarest word.
func (fs *formats) index() {
	often := map[string]int{}
	for _, f := range fs.all {
		for _, w := range f.certain() {
			often[w]++
		}
	}
	fs.byWord = map[string][]*format{}
	for _, f := range fs.all {
		rarest := ""
		for _, w := range f.certain() {
			if rarest == "" || often[w] < often[rarest] || often[w] == often[rarest] && len(w) > len(rarest) {
				rarest = w
			}
		}
		if rarest == "" {
			fs.rest = append(fs.rest, f)
		} else {
			fs.byWord[rarest] = append(fs.byWord[rarest], f)
		}
	}
}

// certain returns the words that every text made by f has: not those that a
// verb may have lengthened.
func (f *format) certain() []string {
	var out []string
	for i, l := range f.literals {
		ws := wordsIn(l)
		if len(ws) > 0 && i > 0 && startsWithLetter(l) {
			ws = ws[1:]
		}
		if len(ws) > 0 && i < len(f.literals)-1 && endsWithLetter(l) {
			ws = ws[:len(ws)-1]
		}
		out = append(out, ws...)
	}
	return out
}

func wordsIn(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
}

func startsWithLetter(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsLetter(r)
}

func endsWithLetter(s string) bool {
	r, _ := utf8.DecodeLastRuneInString(s)
	return unicode.IsLetter(r)
}

// A made is a format that a sentence can have been made by, and what its verbs
// then became.
type made struct {
	*format
	args []string
}

// mostMade is how many formats are tried for one sentence.
const mostMade = 8

// find returns the formats that s can have been made by, those with most words
// of their own first.
func (fs *formats) find(s string) []made {
	var out []made
	try := func(list []*format) {
		for _, f := range list {
			if a, ok := f.match(s); ok {
				out = append(out, made{f, a})
			}
		}
	}
	words := wordsIn(s)
	for i, w := range words {
		if !slices.Contains(words[:i], w) {
			try(fs.byWord[w])
		}
	}
	try(fs.rest)
	slices.SortFunc(out, func(a, b made) int {
		return cmp.Or(b.weight-a.weight, b.marks-a.marks, len(a.verbs)-len(b.verbs), a.at-b.at)
	})
	return out[:min(len(out), mostMade)]
}

func (f *format) match(s string) ([]string, bool) {
	if !strings.HasPrefix(s, f.literals[0]) || !strings.Contains(s, f.longest) {
		return nil, false
	}
	last := f.literals[len(f.literals)-1]
	if len(s) < len(f.literals[0])+len(last) || !strings.HasSuffix(s, last) {
		return nil, false
	}
	args := make([]string, len(f.verbs))
	steps := 0
	if f.fill(s[len(f.literals[0]):len(s)-len(last)], 0, args, &steps) {
		return args, true
	}
	return nil, false
}

// mostSteps bounds the search through one sentence.
const mostSteps = 200

// fill finds what the verbs from the ith on became in s.
func (f *format) fill(s string, i int, args []string, steps *int) bool {
	if *steps++; *steps > mostSteps {
		return false
	}
	if i == len(f.verbs)-1 {
		args[i] = s
		return fits(f.verbs[i], s)
	}
	next := f.literals[i+1]
	if next == "" {
		// two verbs side by side: the second is nothing, or begins a clause
		args[i] = s
		if fits(f.verbs[i], s) && f.fill("", i+1, args, steps) {
			return true
		}
		for n := range len(s) {
			if !strings.HasPrefix(s[n:], ", ") && !strings.HasPrefix(s[n:], "; ") && !strings.HasPrefix(s[n:], " (") {
				continue
			}
			args[i] = s[:n]
			if fits(f.verbs[i], s[:n]) && f.fill(s[n:], i+1, args, steps) {
				return true
			}
		}
		return false
	}
	for from := 0; ; {
		n := strings.Index(s[from:], next)
		if n < 0 {
			return false
		}
		args[i] = s[:from+n]
		if fits(f.verbs[i], args[i]) && f.fill(s[from+n+len(next):], i+1, args, steps) {
			return true
		}
		from += n + 1
	}
}

var (
	wholeNumber = regexp.MustCompile(`^[+\-−]?\d+$`)
	anyNumber   = regexp.MustCompile(`^[+\-−]?(\d+(\.\d+)?(e[+-]?\d+)?|NaN|[+-]?Inf)$`)
)

func fits(verb byte, s string) bool {
	switch verb {
	case 'd':
		return wholeNumber.MatchString(s)
	case 'g', 'f', 'e', 'E':
		return anyNumber.MatchString(s)
	case 'q':
		return len(s) > 1 && (s[0] == '"' && s[len(s)-1] == '"' || s[0] == '`' && s[len(s)-1] == '`')
	case 't':
		return s == "true" || s == "false"
	}
	return len(s) < 2000
}

// put writes a translation with what the verbs became.
func put(translated string, args []string) string {
	next := 0
	return verb.ReplaceAllStringFunc(translated, func(v string) string {
		if v == "%%" {
			return "%"
		}
		m := verb.FindStringSubmatch(v)
		if m[1] != "" {
			next, _ = strconv.Atoi(m[1])
			next--
		}
		if next < 0 || next >= len(args) {
			return ""
		}
		next++
		return args[next-1]
	})
}
