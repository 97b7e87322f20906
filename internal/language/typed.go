package language

import (
	_ "embed"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// The sets of words that a field may hold, for Typed. All but Numbers and Ingredients stand
// in typed.txt.
const (
	Numbers     = "number" // the decimal mark, no words
	Times       = "time"
	Ranges      = "range"
	HandWords   = "hand"
	FaceWords   = "face"
	GaugeWords  = "gauge"
	SwatchWords = "swatch"
	LookWords   = "look"
	SeenWords   = "seen"
	ToolWords   = "tool"
	MetalWords  = "metal"
	Ingredients = "science/published/data/ingredients.tsv"
)

//go:embed typed.txt
var typedFile string

// typedWords are the sets of typed.txt.
var typedWords = sync.OnceValue(func() map[string][]string {
	out := map[string][]string{}
	set := ""
	for line := range strings.Lines(typedFile) {
		line = strings.TrimSpace(line)
		switch {
		case line == "" || line[0] == '#':
		case line[0] == '[':
			set = strings.Trim(line, "[]")
		default:
			out[set] = append(out[set], line)
		}
	}
	return out
})

// WordsOf returns the English words of a set of typed.txt.
func WordsOf(set string) []string { return slices.Clone(typedWords()[set]) }

// Typed turns what a person typed in this language into the English that the program reads:
// the words of the sets, found backwards in the catalogue, and with Numbers the decimal
// mark. Whatever else is typed, English above all, stays as it is.
func (l *Language) Typed(text string, sets ...string) string {
	if l.exact == nil || text == "" {
		return text
	}
	text = norm.NFC.String(text) // some keyboards send ü as u and dots
	words, whole := l.heardIn(sets)
	for _, w := range whole {
		if args, ok := w.match(text); ok {
			for i := range args {
				args[i] = l.typed(args[i], words, sets)
			}
			return put(w.english, args)
		}
	}
	return l.typed(text, words, sets)
}

// typed says the words of text in English and sets its decimal marks.
func (l *Language) typed(text string, words []heardWord, sets []string) string {
	if slices.Contains(sets, Numbers) {
		text = l.decimalPoints(text)
	}
	if len(words) == 0 {
		return text
	}
	r := []rune(text)
	low := lowered(r)
	var out strings.Builder
	for i := 0; i < len(r); {
		if i == 0 || !unicode.IsLetter(r[i-1]) || !unicode.IsLetter(r[i]) {
			if w, ok := heardAt(words, low[i:]); ok {
				out.WriteString(w.english)
				i += len(w.theirs)
				continue
			}
		}
		out.WriteRune(r[i])
		i++
	}
	return out.String()
}

// heardAt finds the longest word that begins text and ends with it or before another.
func heardAt(words []heardWord, text []rune) (heardWord, bool) {
	for _, w := range words {
		n := len(w.theirs)
		if n <= len(text) && slices.Equal(w.theirs, text[:n]) && (n == len(text) || !unicode.IsLetter(text[n]) || !unicode.IsLetter(text[n-1])) {
			return w, true
		}
	}
	return heardWord{}, false
}

func lowered(r []rune) []rune {
	out := make([]rune, len(r))
	for i := range r {
		out[i] = unicode.ToLower(r[i])
	}
	return out
}

// A heardWord is a word of the language, in small letters, and its English.
type heardWord struct {
	theirs  []rune
	english string
}

// A heardWhole is a text with verbs, like "%g bis %g", as it is found in what was typed.
type heardWhole struct {
	english string
	theirs  *regexp.Regexp
	order   []int // which verb of the English each of theirs is
}

func (w heardWhole) match(text string) ([]string, bool) {
	m := w.theirs.FindStringSubmatch(text)
	if m == nil {
		return nil, false
	}
	args := make([]string, len(w.order))
	for i, at := range w.order {
		if at < 0 || at >= len(args) {
			return nil, false
		}
		args[at] = m[i+1]
	}
	return args, true
}

// heardIn returns the words of the sets, the longest first, and the texts with verbs. Of
// English words with one translation the first is meant.
func (l *Language) heardIn(sets []string) (words []heardWord, whole []heardWhole) {
	seen := map[string]bool{}
	add := func(english string) {
		theirs := strings.ToLower(norm.NFC.String(l.text("", english)))
		if theirs == "" || seen[theirs] {
			return
		}
		seen[theirs] = true
		if verb.MatchString(english) {
			whole = append(whole, wholeOf(english, l.text("", english)))
			return
		}
		words = append(words, heardWord{[]rune(theirs), english})
	}
	for _, set := range sets {
		for _, english := range typedWords()[set] {
			add(english)
		}
		if strings.Contains(set, "/") {
			for _, english := range l.from(set) {
				add(english)
			}
		}
	}
	slices.SortStableFunc(words, func(a, b heardWord) int { return len(b.theirs) - len(a.theirs) })
	return words, whole
}

// from returns the English texts of a file, in their order of letters.
func (l *Language) from(place string) []string {
	var out []string
	for _, m := range l.exact {
		if slices.Contains(m.Places, place) && !strings.Contains(m.ID, "%") {
			out = append(out, m.ID)
		}
	}
	slices.Sort(out)
	return out
}

func wholeOf(english, theirs string) heardWhole {
	w := heardWhole{english: english}
	pattern, at := `(?is)^\s*`, 0
	for i, v := range verb.FindAllStringSubmatchIndex(theirs, -1) {
		pattern += regexp.QuoteMeta(theirs[at:v[0]]) + `(.+?)`
		at = v[1]
		n := i
		if v[2] >= 0 {
			n, _ = strconv.Atoi(theirs[v[2]:v[3]])
			n--
		}
		w.order = append(w.order, n)
	}
	w.theirs = regexp.MustCompile(pattern + regexp.QuoteMeta(theirs[at:]) + `\s*$`)
	return w
}

// digitRun matches digits with the marks between them.
var digitRun = regexp.MustCompile(`[0-9]+(?:[.,٫][0-9]+)+`)

// decimalPoints puts the English point where the language's decimal mark stands in a number:
// 12,5. In 30,60,120 the commas part numbers, and in 1.200,5 nobody can be sure; both stay.
func (l *Language) decimalPoints(text string) string {
	if l.point == "." {
		return text
	}
	return digitRun.ReplaceAllStringFunc(text, func(run string) string {
		if strings.Count(run, l.point) == 1 && strings.IndexFunc(strings.Replace(run, l.point, "", 1), func(r rune) bool { return r < '0' || r > '9' }) < 0 {
			return strings.Replace(run, l.point, ".", 1)
		}
		return run
	})
}
