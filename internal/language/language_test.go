package language

import (
	"bytes"
	"html/template"
	"slices"
	"strings"
	"testing"
)

// german is a small catalogue; its forms of numbers and plurals are those of
// Unicode CLDR for de.
const german = `msgid ""
msgstr "Language: de\nX-Native-Name: Deutsch\n"

msgid "front"
msgstr "Vorderseite"

msgid "%s of swatch %d was begun."
msgstr "Probeblech %[2]d, %[1]s, wurde begonnen."

msgid "%d swatch"
msgid_plural "%d swatches"
msgstr[0] "%d Probeblech"
msgstr[1] "%d Probebleche"

msgid "It weighs %.1f g."
msgstr "Es wiegt %s g."

msgid "The set “%s” is ready."
msgstr "Die Reihe „%s“ ist bereit."

msgid "2 Jan 2006, 15:04"
msgstr "2. Jan. 2006, 15:04"

msgid "2 Jan 2006"
msgstr "2. Jan. 2006"

msgid "Nov"
msgstr "Nov."

msgid "and"
msgstr "und"

msgid "<1>Plan a set</1> of {1} swatches."
msgstr "Eine Reihe von {1} Probeblechen <1>planen</1>."

msgid "Nothing is running."
msgstr "Nichts läuft."
`

// moreGerman is for what stands together in one text.
const moreGerman = german + `
msgid "January"
msgstr "Januar"

msgid "November"
msgstr "November"

msgid "Saturday"
msgstr "Samstag"

msgid "Monday 2 January"
msgstr "Monday, 2. Januar"

msgid "2 January 2006"
msgstr "2. Januar 2006"

msgid "dry"
msgstr "trocken"

msgctxt "StepKind"
msgid "dry"
msgstr "trocknen"

msgid "Wash your hands."
msgstr "Waschen Sie die Hände."

msgid "then wash"
msgstr "danach waschen"

msgid "ammonia water"
msgstr "Ammoniakwasser"

msgid "Taken out by %s, %s."
msgstr "Herausgenommen von %s, %s."

msgid ", at %s a kilogram"
msgstr ", zu %s das Kilogramm"

msgid "one of %d lost; the rest is good"
msgstr "eines von %d verloren; der Rest ist gut"

msgid "%s would meet %s."
msgstr "%s würde mit %s zusammenkommen."

msgid "Rinse between."
msgstr "Dazwischen spülen."

msgid "with %s"
msgstr "mit %s"

msgid "with %s %s"
msgstr "mit %s %s"

msgid "soft brush"
msgstr "weicher Pinsel"
`

func TestSayTakesApartWhatStandsTogether(t *testing.T) {
	l := read1(t, moreGerman).Knowing(map[string]bool{"Salt over a wetted face, fumed": true, "Ana": true, "under the roof, yard": true, "Lab Manager, and table 3.9": true})
	for in, want := range map[string]string{
		"2 November 2026":                   "2. November 2026",
		"Saturday 2 November":               "Samstag, 2. November",
		"ammonia water 9 %":                 "Ammoniakwasser 9\u202f%",
		"2. dry":                            "2. trocken",
		"3 × soft brush":                    "3 × weicher Pinsel",
		"12.50 EUR, at 1.20 EUR a kilogram": "12,50 EUR, zu 1,20 EUR das Kilogramm",
		"one of 3 lost; the rest is good; ammonia water":    "eines von 3 verloren; der Rest ist gut; Ammoniakwasser",
		"Taken out by Ana, Salt over a wetted face, fumed.": "Herausgenommen von Ana, Salt over a wetted face, fumed.",
		"with under the roof, yard":                         "mit under the roof, yard",
		"Lab Manager, and table 3.9":                        "Lab Manager, and table 3.9",
		"ammonia water would meet front. Rinse between.":    "Ammoniakwasser würde mit Vorderseite zusammenkommen. Dazwischen spülen.",
		"with good rest":                                    "with good rest", // English, no name
		"wash your hands.":                                  "waschen Sie die Hände.",
	} {
		if got := l.Say(in); got != want {
			t.Errorf("Say(%q) = %q, want %q", in, got, want)
		}
	}
	type StepKind string
	for in, want := range map[StepKind]string{"dry": "trocknen", "Dry": "Trocknen", "front": "Vorderseite"} {
		if got := l.Any(in); got != want {
			t.Errorf("Any(%q) = %q, want %q", in, got, want)
		}
	}
}

func read1(t testing.TB, po string) *Language {
	t.Helper()
	l, err := Read([]byte(po))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestSayKnowsWhatEnglishWasMadeBy(t *testing.T) {
	l := read1(t, german).Knowing(map[string]bool{"Nothing is running.": true, "Blue front": true})
	for in, want := range map[string]string{
		"front":                         "Vorderseite",
		"Front":                         "Vorderseite",
		"front of swatch 12 was begun.": "Probeblech 12, Vorderseite, wurde begonnen.",
		"1 swatch":                      "1 Probeblech",
		"3 swatches":                    "3 Probebleche",
		"It weighs 1.5 g.":              "Es wiegt 1,5 g.",
		"It weighs 1.5 g. 3 swatches":   "Es wiegt 1,5 g. 3 Probebleche",
		"1 swatch and 3 swatches":       "1 Probeblech und 3 Probebleche",
		"The set “front” is ready.":     "Die Reihe „front“ ist bereit.", // a name somebody gave
		"Nothing is running.":           "Nothing is running.",           // a name in this studio
		"Blue front":                    "Blue front",
		"25 Nov 2026, 14:05":            "25. Nov. 2026, 14:05",
		"12.5 %":                        "12,5\u202f%",
		"1.25 mL/m²":                    "1,25 mL/m²",
		"192.168.1.25":                  "192.168.1.25",
		"Somebody wrote this, and nobody knows it.": "Somebody wrote this, and nobody knows it.",
	} {
		if got := l.Say(in); got != want {
			t.Errorf("%q is said %q, not %q", in, got, want)
		}
		if got := English.Say(in); got != in {
			t.Errorf("English says %q as %q", in, got)
		}
	}
}

// The long forms are those of CLDR 46 for German: EEEE, d. MMMM y and d. MMMM y.
func TestGermanDays(t *testing.T) {
	all, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	de := all[slices.IndexFunc(all, func(l *Language) bool { return l.Tag == "de" })]
	for in, want := range map[string]string{
		"Thursday 26 November 2026": "Donnerstag, 26. November 2026",
		"26 November 2026":          "26. November 2026",
		"Monday 4 May":              "Montag, 4. Mai",
		"Tuesday 1 December 2026":   "Dienstag, 1. Dezember 2026",
		"1 March 2026, 09:05":       "1. März 2026, 09:05",
		"Wed 2 Sep 2026":            "Mi 2. Sept. 2026",
		"26 Nov 2026":               "26. Nov. 2026",
		"Friday":                    "Freitag",
		"Wed 23:50":                 "Mi 23:50",
		"Monday 2 January, 15:04":   "Montag, 2. Januar, 15:04",
	} {
		if got := de.Say(in); got != want {
			t.Errorf("%q is said %q, not %q", in, got, want)
		}
	}
}

func TestPageIsPutTogetherAgain(t *testing.T) {
	const page = `<p title="Nothing is running.">{{if .N}}<a href="/x?a={{.N}}">Plan a set</a> of {{.N}}
 swatches.{{else}}Nothing is running.{{end}} <b>{{.Face}}</b> {{.Note}}</p>`
	l := read1(t, german)
	tmpl, err := template.New("p").Funcs(template.FuncMap{"say": l.Any}).Parse(l.Page("p", page))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := tmpl.Execute(&b, map[string]any{"N": 3, "Face": "front", "Note": "front"}); err != nil {
		t.Fatal(err)
	}
	want := `<p title="Nichts läuft.">Eine Reihe von 3 Probeblechen <a href="/x?a=3">planen</a>. <b>Vorderseite</b> front</p>`
	if b.String() != want {
		t.Errorf("the page is\n%s\nnot\n%s", b.String(), want)
	}
	if got := English.Page("p", page); got != page {
		t.Errorf("English changed the page to %s", got)
	}
}

// GNU gettext's manual, 'The Format of PO Files', is what the reader follows.
func FuzzReadCatalogue(f *testing.F) {
	f.Add(german)
	f.Add("msgid \"a\"\nmsgstr \"b\\n\"\n\"c\"\n")
	f.Fuzz(func(t *testing.T, po string) {
		c, err := ReadCatalogue([]byte(po))
		if err != nil {
			return
		}
		for _, m := range c.Messages {
			if strings.ContainsAny(strings.Join(append(m.Notes, m.Places...), ""), "\r\v\f\u0085\u00a0") {
				return // a comment's own spaces are not kept
			}
		}
		once := c.Write()
		again, err := ReadCatalogue(once)
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%s", err, once)
		}
		if twice := again.Write(); !bytes.Equal(once, twice) {
			t.Errorf("written again it differs:\n%s\n%s", once, twice)
		}
	})
}

func BenchmarkSay(b *testing.B) {
	all, err := Shipped()
	if err != nil {
		b.Fatal(err)
	}
	l := all[len(all)-1]
	for b.Loop() {
		l.talk().say("Swatch 12 of the set Blue has lain in 12.5 % ammonia for 3 h, and nobody knows why. Its front was wetted.", 0)
	}
}
