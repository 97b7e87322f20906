package web

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/language"
	"aerugo/internal/studio"

	"github.com/google/go-cmp/cmp"
)

func shippedGerman(t *testing.T) *language.Language {
	t.Helper()
	all, err := language.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(l *language.Language) bool { return l.Tag == "de" })
	if i < 0 {
		t.Fatal("no German")
	}
	return all[i]
}

func typedIn(l *language.Language, fields ...string) *form {
	f := &form{values: url.Values{}, wrong: map[string]string{}, in: l}
	for i := 0; i+1 < len(fields); i += 2 {
		f.set(fields[i], fields[i+1])
	}
	return f
}

// What a page shows in German as an example is read as its English.
func TestExamplesOfTheGermanPagesCanBeTyped(t *testing.T) {
	german := shippedGerman(t)
	s := &Server{}
	const hint = "For example: 14 · 14 back · S3-14 · salt brass · drawer 2 · blue-green, matte, half covered · like 14 front · 50, −20, −5. The key / leads here from every page."
	examples := func(l *language.Language) []string {
		text := l.Say(hint)
		_, text, _ = strings.Cut(text, ": ")
		i := strings.LastIndex(text, "5. ")
		return strings.Split(text[:i+1], " · ")
	}
	english, said := examples(language.English), examples(german)
	if len(english) != 8 || len(said) != 8 || slices.Equal(english, said) {
		t.Fatalf("the examples are %q and %q", english, said)
	}
	for i := range english {
		want, err := s.asked(typedIn(language.English, "q", english[i]))
		if err != nil {
			t.Fatal(err)
		}
		got, err := s.asked(typedIn(german, "q", said[i]))
		if want.Words != nil {
			got.Words, want.Words = nil, nil // they are looked for as they are written
		}
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("%q is read otherwise than %q: %v (-want +got):\n%s", said[i], english[i], err, d)
		}
	}
	for _, q := range []string{"Kupfer salz", "weiß der Rabe", "blaue Schublade"} {
		if got, err := s.asked(typedIn(german, "q", q)); err != nil || got.Look != nil || len(got.Words) < 2 {
			t.Errorf("%q, which are words, is read as %+v, %v", q, got, err)
		}
	}
	if got, err := s.asked(typedIn(german, "q", "50,5; −20; −5,25")); err != nil || got.Look == nil || got.Look.Lab.L != 50.5 || got.Look.Lab.B != -5.25 {
		t.Errorf("a colour with commas is read as %+v, %v", got, err)
	}

	steps := []studio.Step{{Kind: studio.Sprinkle, Material: "sodium-chloride", Amount: studio.Amount{Value: 12, Unit: studio.GramPerM2}}, {Kind: studio.Fume, Duration: time.Hour}}
	read := func(l *language.Language, kind studio.FactorKind, levels string) ([]studio.Level, bool, map[string]string) {
		f := setForm{form: typedIn(l)}
		f.Factors = []factorForm{{Kind: string(kind), Levels: levels, Step: map[bool]int{true: 1, false: 0}[kind == studio.ByMinutes]}}
		x, between := f.factors(steps, nil)
		return x[0].Levels, between[0], f.wrong
	}
	for _, c := range []struct {
		kind         studio.FactorKind
		german, want string
	}{
		{studio.ByMinutes, "30 bis 240", "30 to 240"}, {studio.ByMinutes, "30–240", "30 to 240"}, {studio.ByMinutes, "0,5 Std bis 4 Stunden", "30 min to 4 h"},
		{studio.ByMinutes, "30, 60, 120", "30, 60, 120"}, {studio.ByMinutes, "2 Std 30 Min, 1 Tag", "2 h 30 min, 1 d"}, {studio.ByMinutes, "1,5 h; 2,5 h", "90; 150"},
		{studio.ByLoading, "leicht, mittel, stark", "light, medium, heavy"}, {studio.ByLoading, "Leicht; 12,5", "light, 12.5"}, {studio.ByLoading, "5, 12, 30", "5, 12, 30"}, {studio.ByLoading, "0,5, 1, 2,5", "0.5, 1, 2.5"}, {studio.ByLoading, "2,5 bis 30", "2.5 to 30"},
	} {
		want, ranged, wrong := read(language.English, c.kind, c.want)
		if len(wrong) > 0 {
			t.Fatalf("%q is refused in English: %v", c.want, wrong)
		}
		got, gotRanged, wrong := read(german, c.kind, c.german)
		if d := cmp.Diff(want, got); d != "" || ranged != gotRanged || len(wrong) > 0 {
			t.Errorf("%q is read otherwise than %q (a range: %v and %v), %v:\n%s", c.german, c.want, gotRanged, ranged, wrong, d)
		}
	}
	faces, err := facesIn(typedIn(german).typed("3, 5, 7 Rückseite", language.FaceWords))
	if want := []studio.FaceOf{{Swatch: 3, Face: studio.Front}, {Swatch: 5, Face: studio.Front}, {Swatch: 7, Face: studio.Back}}; err != nil || !slices.Equal(faces, want) {
		t.Errorf("3, 5, 7 Rückseite is read as %v, %v", faces, err)
	}
	for typed, want := range map[string]string{"Ofen": "oven", "Heizplatte": "hot plate", "Wachs": "wax", "mein alter Ofen": "mein alter Ofen", "weicher Pinsel": "weicher Pinsel", "": ""} {
		if got := typedIn(german).tool(typed); got != want {
			t.Errorf("the tool %q is kept as %q, want %q", typed, got, want)
		}
	}
	if d, err := span(typedIn(german).typed("1,5 Stunden", language.Times)); err != nil || d != 90*time.Minute {
		t.Errorf("1,5 Stunden is read as %v, %v", d, err)
	}
}
