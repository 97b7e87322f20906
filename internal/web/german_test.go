package web_test

import (
	"bytes"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"aerugo/internal/language"
	"aerugo/internal/science/matter"

	"github.com/PuerkitoBio/goquery"
)

// bindingWords bind an English sentence and are no German words, whatever the
// catalogue holds: not in, an, so, also, war, die, am, was, hat, all.
const bindingWords = `the and of with without is are not than which how from your this that there when where to or has have had been no nothing were by for on at as it its
	if but only each every they them their these those would could should what who why you we into onto over under between through while because since until after before`

// A reader tells English from German by the catalogue: a word is English if the
// English texts have it and the German ones never do.
type reader struct {
	english map[string]bool
	said    map[string]bool // whole texts that have a German
}

func newReader(t *testing.T) *reader {
	t.Helper()
	data, err := os.ReadFile("../language/catalogues/de.po")
	if err != nil {
		t.Fatal(err)
	}
	c, err := language.ReadCatalogue(data)
	if err != nil {
		t.Fatal(err)
	}
	r := &reader{map[string]bool{}, map[string]bool{}}
	german := map[string]bool{}
	for _, m := range c.Messages {
		r.said[m.ID] = true
		for _, w := range wordsOf(m.ID) {
			r.english[w] = true
		}
		for _, x := range m.Text {
			if x == m.ID && strings.Count(x, " ") > 2 {
				continue // left in English
			}
			for _, w := range wordsOf(x) {
				german[w] = true
			}
		}
	}
	for w := range german {
		delete(r.english, w)
	}
	for _, w := range strings.Fields(bindingWords) {
		r.english[w] = true
	}
	return r
}

// wordsOf returns the words of a text in small letters, those of one letter left out.
func wordsOf(text string) []string {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && r != '-' })
	return slices.DeleteFunc(words, func(w string) bool { return len(w) < 2 })
}

// own matches what people wrote into a studio and Aerugo does not say too.
func (r *reader) own(t *testing.T, b *bench) *regexp.Regexp {
	t.Helper()
	names, err := b.store.Names(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	words, err := b.store.OwnWords(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	words = slices.DeleteFunc(words, func(w string) bool { return r.said[w] })
	own := slices.Concat(names, words, matter.Sources(), []string{"a <b>drop</b> fell & ran", "by the window", "Invented camera"})
	slices.SortFunc(own, func(a, b string) int { return len(b) - len(a) })
	for i, w := range own {
		own[i] = strings.Join(strings.Fields(regexp.QuoteMeta(w)), `\s+`)
	}
	return regexp.MustCompile(`(?i)(^|\PL)(` + strings.Join(append(own, "no name at all"), "|") + `)($|\PL)`)
}

// pieces returns each text of a page that is read or heard: its text nodes, and
// the attributes that are spoken. What is marked as another language's is left out.
func pieces(s *goquery.Selection) []string {
	var out []string
	add := func(text string) {
		if text = strings.Join(strings.Fields(text), " "); text != "" {
			out = append(out, text)
		}
	}
	name := goquery.NodeName(s)
	if name == "#text" {
		add(s.Text())
	}
	for _, a := range s.Get(0).Attr {
		switch a.Key {
		case "title", "alt", "aria-label", "placeholder", "label":
			add(a.Val)
		case "lang":
			if a.Val != "de" {
				return nil
			}
		}
	}
	switch name {
	case "script", "style", "code", "textarea":
		return out
	case "noscript": // the reader of pages takes what is in it for text
		add(tag.ReplaceAllString(s.Text(), " "))
		return out
	}
	s.Contents().Each(func(_ int, c *goquery.Selection) { out = append(out, pieces(c)...) })
	return out
}

var tag = regexp.MustCompile(`<[^>]*>`)

// addressed are no sentences: paths, addresses and names of files, and what a
// message quotes of what was typed.
var addressed = regexp.MustCompile(`https?://\S+|(^|\s)/[\w/.-]+|[\w-]+\.(pdf|csv|tsv|json|jpg|png|svg|dxf|stl|obj|ics|zip|html|po|db)\b|"[^"]*"`)

// left returns the English words of a piece that nobody wrote.
func (r *reader) left(piece string, own *regexp.Regexp) []string {
	for range 2 { // neighbours share the sign between them
		piece = own.ReplaceAllString(piece, "$1·$3")
	}
	return slices.DeleteFunc(wordsOf(addressed.ReplaceAllString(piece, " ")), func(w string) bool { return !r.english[w] })
}

// holdGerman makes every visit again in German: no text of a page may hold English
// words but those that people wrote, and what mayStay names.
func holdGerman(t *testing.T, all []visit) {
	t.Helper()
	r := newReader(t)
	own := map[*bench]*regexp.Regexp{}
	read, seen := 0, map[string]bool{}
	stayed := make([]int, len(mayStay))
	for _, v := range all {
		if own[v.b] == nil {
			own[v.b] = r.own(t, v.b)
		}
		doc, err := goquery.NewDocumentFromReader(bytes.NewReader(v.answer(t, "Cookie", "aerugo_language=de").body))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range pieces(doc.Selection) {
			read++
			if seen[p] {
				continue
			}
			seen[p] = true
			if w := r.left(without(v.page, p, stayed), own[v.b]); len(w) > 0 {
				t.Errorf("%s, %s (%s): in German it says %v in %q", v.page, v.state, v.path, w, p)
			}
		}
	}
	for i, n := range stayed {
		if n == 0 {
			t.Errorf("no German page says %v any more: %s", mayStay[i].text, mayStay[i].why)
		}
	}
	t.Logf("%d pieces of text in German, %d different", read, len(seen))
}

// without leaves out of a piece of a page what may stay English there, and counts it.
func without(page, piece string, stayed []int) string {
	for i, x := range mayStay {
		if (x.page == "" || x.page == page) && x.text.MatchString(piece) {
			piece = x.text.ReplaceAllString(piece, " ")
			if stayed != nil {
				stayed[i]++
			}
		}
	}
	return piece
}

// sheetMayStay is what printed sheets may leave English.
var sheetMayStay = regexp.MustCompile(`Minnesota Department of Agriculture|GisChem data sheet[^)]*|[Ss]upplier data sheet[^)]*|\(gloves from memory\)|\[\d+\] (US FDA Food Code|40 CFR|HSE HSG122)[^;]*|NIOSH/OSHA guideline, ammonia; NRC`) // names of offices and titles of what they published

// holdGermanSheet holds that a printed sheet, read as a page, is in German as a whole.
func holdGermanSheet(t *testing.T, b *bench, what string, page []byte) {
	t.Helper()
	doc, err := goquery.NewDocumentFromReader(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	sheet := doc.Find(`main [lang="de"]:not(.button):not(.tag)`)
	if sheet.Length() == 0 {
		t.Fatalf("%s: no part of the page is in German", what)
	}
	r := newReader(t)
	own := r.own(t, b)
	sheet.Each(func(_ int, s *goquery.Selection) {
		for _, p := range pieces(s) {
			if w := r.left(sheetMayStay.ReplaceAllString(without("", p, nil), " "), own); len(w) > 0 {
				t.Errorf("%s: in German it says %v in %q", what, w, p)
			}
		}
	})
}

// mayStay are texts that stay English in German, on one page or, without one, on all.
var mayStay = []struct {
	page string
	text *regexp.Regexp
	why  string
}{
	{"", regexp.MustCompile(`\bCC BY\b`), "the name of a licence"},
	{"", regexp.MustCompile(`\bIT8\b`), "the name of a standard, ISO 12641"},
	{"", regexp.MustCompile(`\bsq in\b`), "the symbol of a unit"},
	{"words", regexp.MustCompile(`Minnesota Department of Agriculture`), "the name of an office, in a source that is said in German"},
	{"card", regexp.MustCompile(`Minnesota Department of Agriculture`), "the name of an office, in a source that is said in German"},
	{"level", regexp.MustCompile(`GSA 0503002S; Henley's Twentieth Century Formulas`), "titles of published sources"},
	{"class_risk", regexp.MustCompile(`US FDA Food Code 4-101.14, copper and food below pH 6|40 CFR 433.15, copper 2.07 mg/L monthly mean|HSE HSG122, New and expectant mothers at work|Lab Manager, incompatible chemical mixtures; NIOSH, Documentation for IDLH concentrations: hydrogen sulfide`), "titles of published sources"},
	{"class_teacher", regexp.MustCompile(`NIOSH/OSHA guideline, ammonia; NRC, AEGLs vol. 6`), "titles of published sources"},
	{"taste", regexp.MustCompile(`Which of these two would you put on the lamp\?`), "a person's own question, which is also the example that the form shows"},
	{"last_test", regexp.MustCompile(`^a line$`), "a person's own note"},
	{"seat_card", regexp.MustCompile(`^sea$`), "a student's own word"},
	{"next", regexp.MustCompile(`^A spot$`), "what the visit itself calls its spot"},
	{"cost_quote", regexp.MustCompile(`^A. Buyer$`), "a customer's name"},
	{"stock_shopping", regexp.MustCompile(`^More$`), "the name that the visit gives its plan"},
	{"storage_place", regexp.MustCompile(`in Drawer stehen`), "the name that the refused form gives"},
	{"recipe", regexp.MustCompile(`(?i).*moon[- ]dust.*`), "of a substance that nobody here knows: it has an English key, so what is said of it stays English as a whole"},
}
