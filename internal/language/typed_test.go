package language

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// everySet are the sets that a field may hold.
func everySet() []string { return append(slices.Sorted(maps.Keys(typedWords())), Numbers, Ingredients) }

// TestWhatIsShownIsAcceptedBack: in every language each word that may be typed, as it is
// shown there and in any case, becomes the program's own: the same, or one that the language
// has no other word for.
func TestWhatIsShownIsAcceptedBack(t *testing.T) {
	all, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range all {
		for set, words := range typedWords() {
			for _, w := range words {
				shown := l.Say(w)
				if l != English && l.text("", w) == "" {
					t.Errorf("%s: %q of [%s] has no translation", l.Tag, w, set)
				}
				if verb.MatchString(w) {
					continue
				}
				for _, typed := range []string{shown, strings.ToUpper(shown), strings.ToLower(shown), w} {
					got := l.Typed(typed, set)
					if !strings.EqualFold(got, w) && l.Say(got) != shown {
						t.Errorf("%s: %q is shown as %q, and %q is read as %q", l.Tag, w, shown, typed, got)
					}
					if in := l.Typed("3 "+typed+", 5", set); in != "3 "+got+", 5" {
						t.Errorf("%s: within other text %q is read as %q", l.Tag, typed, in)
					}
				}
				if in := l.Typed("x"+shown+"x", set); in != "x"+shown+"x" {
					t.Errorf("%s: inside a word %q is read as %q", l.Tag, shown, in)
				}
			}
		}
	}
}

// TestNumbersAreAcceptedAsShown: numbers, lists and ranges of them, written as the language
// shows them, are read as they were.
func TestNumbersAreAcceptedAsShown(t *testing.T) {
	all, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	chance := rand.New(rand.NewPCG(3, 2026))
	number := func() string {
		return fmt.Sprintf("%.*f", chance.IntN(3), chance.Float64()*float64(chance.IntN(2000)))
	}
	for _, l := range all {
		for range 2000 {
			list := make([]string, 1+chance.IntN(5))
			for i := range list {
				list[i] = number()
			}
			for _, text := range []string{strings.Join(list, ", "), strings.Join(list, "; "), number() + " to " + number()} {
				if got := l.Typed(l.Say(text), Numbers, Ranges); got != text {
					t.Fatalf("%s: %q is shown as %q and read as %q", l.Tag, text, l.Say(text), got)
				}
			}
		}
	}
}

func TestTypedInGerman(t *testing.T) {
	all, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	var de *Language
	for _, l := range all {
		if l.Tag == "de" {
			de = l
		}
	}
	for _, x := range []struct {
		typed, want string
		sets        []string
	}{
		{"30 bis 240", "30 to 240", []string{Ranges}},
		{"0,5 Std bis 2 Tage", "0.5 hr to 2 days", []string{Ranges, Times, Numbers}},
		{"30–240", "30–240", []string{Ranges, Numbers}},
		{"2Std 30Min", "2hr 30mins", []string{Times}},
		{"leicht, 12,5", "light, 12.5", []string{HandWords, Numbers}},
		{"30,60,120", "30,60,120", []string{Numbers}},
		{"1.200,5", "1.200,5", []string{Numbers}},
		{"Blaugrün, halb bedeckt, MATT", "blue-green, half covered, matte", []string{LookWords}},
		{"gru\u0308n", "green", []string{LookWords}}, // as two characters
		{"3, 5, 7 Rückseite", "3, 5, 7 back", []string{FaceWords}},
		{"Grünspan", "Grünspan", []string{LookWords}},
		{"blau", "blau", nil},
	} {
		if got := de.Typed(x.typed, x.sets...); got != x.want {
			t.Errorf("%q is read as %q, want %q", x.typed, got, x.want)
		}
		if got := English.Typed(x.typed, x.sets...); got != x.typed {
			t.Errorf("in English %q is read as %q", x.typed, got)
		}
	}
}

// FuzzTyped: whatever is typed, nothing panics, text stays text, and what holds none of the
// language's words and numbers stays as it is.
func FuzzTyped(f *testing.F) {
	for _, s := range []string{"30 bis 240", "2 Std 30 Min", "0,5; 1,2", "blau, matt", "bis bis", "İ", "\xff", "12,", ",5"} {
		f.Add(s)
	}
	all, err := Shipped()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, l := range all {
			got := l.Typed(s, everySet()...)
			if utf8.ValidString(s) && !utf8.ValidString(got) {
				t.Errorf("%q is read as %q", s, got)
			}
			if l.Typed(s) != s && !utf8.ValidString(s) {
				continue // what is no text is put right
			}
			if strings.IndexFunc(s, func(r rune) bool { return r != ' ' && (r < '0' || r > '9') }) < 0 && got != s {
				t.Errorf("numbers alone, %q, are read as %q", s, got)
			}
		}
	})
}
