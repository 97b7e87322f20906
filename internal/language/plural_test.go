package language

import (
	"strconv"
	"strings"
	"testing"

	"golang.org/x/text/language"
)

// The forms of whole numbers are those of the Unicode CLDR's table
// (common/supplemental/plurals.xml, plurals of type cardinal): the @integer
// samples of each rule, in the table's words, in its order, which is msgstr[n].
var cldrIntegers = map[string][]string{
	"de": {"1", "0, 2~16, 100, 1000, 10000, 100000, 1000000"},
	"hi": {"0, 1", "2~17, 100, 1000, 10000, 100000, 1000000"},
	"ja": {"0~15, 100, 1000, 10000, 100000, 1000000"},
	"lv": {"0, 10~20, 30, 40, 50, 60, 100, 1000, 10000, 100000, 1000000", "1, 21, 31, 41, 51, 61, 71, 81, 101, 1001", "2~9, 22~29, 102, 1002"},
	"ro": {"1", "0, 2~16, 102, 1002", "20~35, 100, 1000, 10000, 100000, 1000000"},
	"hr": {"1, 21, 31, 41, 51, 61, 71, 81, 101, 1001", "2~4, 22~24, 32~34, 42~44, 52~54, 62, 102, 1002", "0, 5~19, 100, 1000, 10000, 100000, 1000000"},
	"sl": {"1, 101, 201, 301, 401, 501, 601, 701, 1001", "2, 102, 202, 302, 402, 502, 602, 702, 1002", "3, 4, 103, 104, 203, 204, 303, 304, 1003", "0, 5~19, 100, 1000, 10000, 100000, 1000000"},
	"cs": {"1", "2~4", "0, 5~19, 100, 1000, 10000, 100000, 1000000"},
	"ar": {"0", "1", "2", "3~10, 103~110, 1003", "11~26, 111, 1011", "100~102, 200~202, 300~302, 400~402, 500~502, 600, 1000, 10000, 100000, 1000000"},
	"cy": {"0", "1", "2", "3", "6", "4, 5, 7~20, 100, 1000, 10000, 100000, 1000000"},
}

func TestPluralsAreThoseOfCLDR(t *testing.T) {
	for tag, forms := range cldrIntegers {
		l := &Language{tag: language.MustParse(tag)}
		l.forms = pluralForms(l.tag)
		if len(l.forms) != len(forms) {
			t.Errorf("%s has %d forms, and CLDR gives %d", tag, len(l.forms), len(forms))
		}
		for want, samples := range forms {
			for _, sample := range strings.Split(samples, ", ") {
				first, last, ok := strings.Cut(sample, "~")
				if !ok {
					last = first
				}
				from, err1 := strconv.Atoi(first)
				to, err2 := strconv.Atoi(last)
				if err1 != nil || err2 != nil {
					t.Fatalf("%s: %q is no sample", tag, sample)
				}
				for n := from; n <= to; n++ {
					if got := l.form(n); got != want {
						t.Errorf("%s: %d takes form %d, and CLDR says %d", tag, n, got, want)
					}
				}
			}
		}
	}
}

// With the machinery in it, English is what it was: byte for byte.
func TestEnglishIsLeftAlone(t *testing.T) {
	for _, file := range glob(t, "../web/pages/*.html") {
		if src := string(read(t, file)); English.Page("any", src) != src {
			t.Errorf("English changes %s", file)
		}
	}
	for _, m := range collected(t) {
		if got := English.Say(m.ID); got != m.ID {
			t.Errorf("English says %q as %q", m.ID, got)
		}
	}
	if len(English.Script()) != 0 {
		t.Error("English gives the scripts other texts")
	}
}
