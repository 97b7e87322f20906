package print

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// anyText draws text as people and keyboards make it.
func anyText(t *rapid.T, name string) string {
	return rapid.OneOf(
		rapid.String(),
		rapid.StringMatching(`([A-Za-zéüÅł°²→±µ]{1,30}[ ,·]{1,2}){0,12}`),
		rapid.StringOfN(rapid.Just('W'), 0, 300, -1),
	).Draw(t, name)
}

func TestFittedTextIsNeverTooLong(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := anyText(t, "text")
		st := style{size: rapid.Float64Range(5, 30).Draw(t, "size"), bold: rapid.Bool().Draw(t, "bold")}
		st.least = rapid.Float64Range(0, st.size).Draw(t, "least")
		w := rapid.Float64Range(0.1, 200).Draw(t, "w")
		got, set := st.fit(text, w)
		if set.width(got) > w+1e-6 {
			t.Fatalf("%q takes %v mm of %v", got, set.width(got), w)
		}
		if set.size > st.size || (set.size < st.size && set.size < st.least) {
			t.Fatalf("size went from %v to %v, least %v", st.size, set.size, st.least)
		}
		if got != clean(text) && got != "" && !strings.HasSuffix(got, "…") {
			t.Fatalf("%q was shortened to %q without a sign of it", text, got)
		}
	})
}

func TestWrappingLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := anyText(t, "text")
		st := style{size: rapid.Float64Range(5, 20).Draw(t, "size")}
		w := rapid.Float64Range(8, 180).Draw(t, "w") // a letter of 20 points is 6.5 mm at most
		lines := st.wrap(text, w)
		for _, l := range lines {
			if st.width(l) > w+1e-6 && utf8.RuneCountInString(l) > 1 {
				t.Fatalf("line %q takes %v mm of %v", l, st.width(l), w)
			}
		}
		without := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if got, want := without(strings.Join(lines, "")), without(clean(text)); got != want {
			t.Fatalf("%q became %q", want, got)
		}
		n := rapid.IntRange(1, 4).Draw(t, "n")
		if got := st.wrapAtMost(text, w, n); len(got) > n {
			t.Fatalf("%d lines, %d were allowed", len(got), n)
		}
	})
}

func TestANumberStaysWithItsUnit(t *testing.T) {
	st := style{size: 10}
	text := "The cut takes 2 mm; 5 mm are left, 25 %, or 3 min."
	for w := 20.0; w < 90; w += 0.5 {
		for _, l := range st.wrap(text, w) {
			for _, unit := range []string{"mm", "%", "min"} {
				if strings.HasPrefix(l, unit) {
					t.Errorf("%.1f mm wide, a line begins %q", w, l)
				}
			}
		}
	}
	if got := st.wrap("12345678 mm", 12); len(got) != 2 { // no room for both
		t.Errorf("%q", got)
	}
	if got := capital("ätzt die Haut"); got != "Ätzt die Haut" || capital("") != "" {
		t.Errorf("%q", got)
	}
}

func TestPiecesLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := anyText(t, "text")
		n := rapid.IntRange(1, 80).Draw(t, "n")
		var all strings.Builder
		for _, p := range pieces(text, n) {
			if utf8.RuneCountInString(p) > n {
				t.Fatalf("%q has more than %d characters", p, n)
			}
			all.WriteString(strings.ReplaceAll(p, " ", ""))
		}
		if got, want := all.String(), strings.Join(strings.Fields(strings.ToValidUTF8(text, "\ufffd")), ""); got != want {
			t.Fatalf("%q became %q", want, got)
		}
	})
}

func TestTextIsMadeSafeToSet(t *testing.T) {
	for in, want := range map[string]string{
		"a\tb\r\n  c":                      "a b c",
		"e\u0301":                          "é", // composed: Unicode Standard Annex #15, form C
		"A\u030angström ±11 g/m² → 240 °C": "Ångström ±11 g/m² → 240 °C",
		"緑青":                               "□□",
		"\U0001F3A8":                       "□",
		"✓\ufe0f":                          "✓", // variation selector
		"zero\u200bwidth":                  "zerowidth",
		"\x00\x07bell\xff":                 "bell□",
		" 12\u00a0mm ":                     "12 mm",
		"\U00010000":                       "□",
	} {
		if got := clean(in); got != want {
			t.Errorf("%q is set as %q, want %q", in, got, want)
		}
	}
}
