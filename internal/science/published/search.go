package published

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"aerugo/internal/science/matter"
)

// ColourWords are the colours a search can be held to.
var ColourWords = []string{"green", "blue", "brown", "black", "red", "yellow", "purple", "grey", "white"}

// MetalWords are the metals a search can be held to.
var MetalWords = []string{"copper", "brass", "bronze"}

// A Query says what is looked for; its zero value finds everything.
type Query struct {
	Words     string
	Metal     string // one of MetalWords
	Colour    string // one of ColourWords
	Use       Use    // only this use
	Heat      string // "cold" (nothing is heated) or "hot"
	NoAmmonia bool
	OnShelf   bool     // only those that nothing is missing for
	Have      []string // substances on the shelf, by any name; water is always there
	Read      []string // what each of [All] says in another language, to be looked in as well; nil for none
}

// A Hit is a recipe found, with what the shelf lacks for it.
type Hit struct {
	Recipe  Recipe
	Score   float64
	Missing []string
}

// Search returns the recipes that match all of q, best first; among
// equals, and without words, those that more people may do come first, then
// those with amounts. Spelling may be British or American,
// substances may go by any name, and a word that stands nowhere may be one letter
// wrong from four letters on, two from seven.
func Search(q Query) []Hit {
	var terms [][]float64
	read := map[string][]float64{}
	for n, text := range q.Read[:min(len(q.Read), len(shelf().all))] {
		for _, w := range fold(text) {
			if read[w] == nil {
				read[w] = make([]float64, len(shelf().all))
			}
			read[w][n] = weights[inThings]
		}
	}
	for _, t := range termsOf(q.Words) {
		terms = append(terms, t.scores(read))
	}
	have := map[string]bool{"water": true}
	for _, name := range q.Have {
		if s, ok := matter.Lookup(name); ok {
			have[s.Key] = true
		}
	}
	var out []Hit
	for n, r := range shelf().all {
		if q.Metal != "" && !slices.Contains(r.Metals, q.Metal) ||
			q.Colour != "" && !slices.Contains(r.colourFamilies(), q.Colour) ||
			q.Use != "" && r.Use != q.Use ||
			q.Heat == Cold && r.Heat != Cold || q.Heat == Hot && r.Heat == Cold ||
			q.NoAmmonia && r.GivesAmmonia() {
			continue
		}
		h := Hit{Recipe: r, Missing: r.missing(have)}
		if q.OnShelf && len(h.Missing) > 0 {
			continue
		}
		matched := true
		for _, t := range terms {
			if t[n] == 0 {
				matched = false
				break
			}
			h.Score += t[n]
		}
		if matched {
			out = append(out, h)
		}
	}
	slices.SortStableFunc(out, func(a, b Hit) int {
		switch {
		case a.Score > b.Score:
			return -1
		case a.Score < b.Score:
			return 1
		case a.Recipe.Use != b.Recipe.Use:
			return slices.Index(Uses, a.Recipe.Use) - slices.Index(Uses, b.Recipe.Use)
		}
		mixA, _ := a.Recipe.CanMix()
		mixB, _ := b.Recipe.CanMix()
		switch {
		case mixA && !mixB:
			return -1
		case mixB && !mixA:
			return 1
		}
		return 0
	})
	return out
}

// colourFamilies are the recipe's colours among [ColourWords].
func (r Recipe) colourFamilies() []string {
	out := slices.Clone(r.Colours)
	if slices.Contains(out, "turquoise") {
		out = append(out, "blue", "green")
	}
	return out
}

// GivesAmmonia reports whether ammonia, or a salt that gives it off, is in it.
func (r Recipe) GivesAmmonia() bool {
	for _, i := range r.Ingredients {
		for _, key := range []string{i.Substance, i.Or} {
			if s, ok := matter.Lookup(key); ok && slices.Contains(s.Groups, "AMM") {
				return true
			}
		}
	}
	return false
}

// missing names what the shelf lacks; what may be left out does not count.
func (r Recipe) missing(have map[string]bool) []string {
	var out []string
	for _, i := range r.Ingredients {
		if i.Role == Optional || have[i.Substance] || i.Or != "" && have[i.Or] {
			continue
		}
		name := i.Name
		if s, ok := matter.Lookup(i.Substance); ok {
			name = s.Name
		}
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// A field is a part of a recipe that words are looked for in.
type field int

const (
	inName field = iota
	inLook
	inMetal
	inThings
	inWork
	inSource
)

// weights rank the fields: a word of the name says more than one of the source.
var weights = map[field]float64{inName: 5, inLook: 4, inMetal: 3, inThings: 4, inWork: 2, inSource: 1}

// words are the folded words of a recipe for Search, field by field.
func (r Recipe) words() map[field][]string {
	work := r.Method + " " + r.Heat + " " + r.Temperature
	for _, s := range r.Steps {
		work += " " + s.Kind + " " + s.Tool + " " + s.Note
	}
	things := ""
	for _, i := range r.Ingredients {
		things += " " + i.Name + " " + i.Note
		for _, key := range []string{i.Substance, i.Or} {
			if s, ok := matter.Lookup(key); ok {
				things += " " + s.Name
			}
		}
	}
	return map[field][]string{
		inName: fold(r.Name + " " + r.Key), inLook: fold(r.Look + " " + strings.Join(r.Colours, " ") + " " + r.Colour), inMetal: fold(r.Metal),
		inThings: fold(things), inWork: fold(work), inSource: fold(r.Source + " " + r.Page + " " + r.Note + " " + r.Taken),
	}
}

// spellings brings British and American spelling to one.
var spellings = strings.NewReplacer("colour", "color", "grey", "gray", "sulph", "sulf", "aluminium", "aluminum", "vapour", "vapor", "neutralis", "neutraliz", "odour", "odor", "caesium", "cesium")

// fold splits text into words as they are compared: small letters and digits,
// one spelling, no plural.
func fold(text string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(strings.ToLower(text), func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) }) {
		w = spellings.Replace(w)
		if len(w) > 3 && strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss") {
			w = w[:len(w)-1]
		}
		out = append(out, w)
	}
	return out
}

// dull are words that say nothing by themselves.
var dull = map[string]bool{"a": true, "an": true, "and": true, "the": true, "of": true, "on": true, "in": true, "with": true, "for": true, "to": true, "or": true, "by": true, "recipe": true}

// A term is one thing looked for: any of the substances, or any of the texts,
// of which each needs all its words.
type term struct {
	keys  []string
	texts [][]string
}

// synonyms are the words that stand for others, by their folded form.
var synonyms = sync.OnceValue(func() map[string]term {
	out := map[string]term{}
	rows, err := tabbed(synonymsTSV)
	if err != nil {
		panic(err)
	}
	for _, row := range rows {
		var t term
		for _, part := range strings.Split(row["means"], ";") {
			var words []string
			for _, w := range strings.Fields(part) {
				if key, is := strings.CutPrefix(w, "="); is {
					t.keys = append(t.keys, key)
				} else {
					words = append(words, fold(w)...)
				}
			}
			if words != nil {
				t.texts = append(t.texts, words)
			}
		}
		out[strings.Join(fold(row["word"]), " ")] = t
	}
	return out
})

// named are all names of the substances in package matter, folded.
var named = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	for _, s := range matter.Substances() {
		for _, name := range append([]string{s.Name, s.Key}, s.Also...) {
			out[strings.Join(fold(name), " ")] = s.Key
		}
	}
	return out
})

// vocabulary is every word of the library, with the weight it has in each recipe:
// that of the best field it stands in.
var vocabulary = sync.OnceValue(func() map[string][]float64 {
	out := map[string][]float64{}
	all := shelf().all
	for n, r := range all {
		for f, words := range r.words() {
			for _, w := range words {
				if out[w] == nil {
					out[w] = make([]float64, len(all))
				}
				out[w][n] = max(out[w][n], weights[f])
			}
		}
	}
	return out
})

// longestTerm is how many words a name may have.
const longestTerm = 4

// termsOf splits what was typed into terms, the longest names first.
func termsOf(text string) []term {
	words := fold(text)
	if len(words) > 30 {
		words = words[:30] // nobody types more; a longer text is no search
	}
	var out []term
	for len(words) > 0 {
		t, used := term{}, 0
		for n := min(longestTerm, len(words)); n > 0; n-- {
			phrase := strings.Join(words[:n], " ")
			syn, isSyn := synonyms()[phrase]
			key, isKey := named()[phrase]
			if !isSyn && !isKey {
				continue
			}
			t, used = syn, n
			if isKey && !slices.Contains(t.keys, key) {
				t.keys = append(slices.Clone(t.keys), key)
			}
			// a name of one word may also stand in the text: "verdigris green"
			if n == 1 && len(t.texts) == 0 {
				t.texts = [][]string{words[:1]}
			}
			break
		}
		if used == 0 {
			used = 1
			if !dull[words[0]] {
				t = term{texts: [][]string{words[:1]}}
			}
		}
		if t.keys != nil || t.texts != nil {
			out = append(out, t)
		}
		words = words[used:]
	}
	return out
}

// scores is how well each recipe answers a term, 0 for not at all. read are the words of the
// recipes in another language.
func (t term) scores(read map[string][]float64) []float64 {
	all := shelf().all
	out := make([]float64, len(all))
	for n, r := range all {
		for _, i := range r.Ingredients {
			for _, key := range []string{i.Substance, i.Or} {
				if key != "" && slices.Contains(t.keys, key) {
					out[n] = weights[inThings]
				}
			}
		}
		if r.Heat == Torch && slices.Contains(t.keys, "torch") {
			out[n] = max(out[n], weights[inWork])
		}
	}
	for _, words := range t.texts {
		var worst []float64 // a text is as good as its worst word
		for _, w := range words {
			found := holds(w, read)
			if worst == nil {
				worst = found
			}
			for n := range worst {
				worst[n] = min(worst[n], found[n])
			}
		}
		for n, v := range worst {
			out[n] = max(out[n], v)
		}
	}
	return out
}

// holds is the best place that a word, or one alike, has in each recipe.
func holds(word string, read map[string][]float64) []float64 {
	known := vocabulary()
	out := make([]float64, len(shelf().all))
	_, right := known[word]
	if !right {
		_, right = read[word]
	}
	for _, words := range []map[string][]float64{known, read} {
		for w, places := range words {
			like := alike(word, w, !right)
			if like == 0 {
				continue
			}
			for n, weight := range places {
				out[n] = max(out[n], weight*like)
			}
		}
	}
	return out
}

// alike is how well a typed word fits one of the text, from 0 to 1.
func alike(typed, word string, misspelt bool) float64 {
	switch {
	case typed == word:
		return 1
	case len(typed) >= 3 && strings.HasPrefix(word, typed):
		return 0.8
	case !misspelt || len(typed) < 4:
		return 0
	}
	most := 1
	if len(typed) >= 7 {
		most = 2
	}
	if d := edits(typed, word, most); d <= most {
		return 0.7 - 0.2*float64(d)
	}
	return 0
}

// edits is the number of letters to add, drop, change or swap with their
// neighbour to come from a to b (the restricted Damerau-Levenshtein distance);
// more than most is returned as most+1.
func edits(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if len(x)-len(y) > most || len(y)-len(x) > most {
		return most + 1
	}
	before, last := make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		now := make([]int, len(y)+1)
		now[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last = last, now
	}
	return min(last[len(y)], most+1)
}
