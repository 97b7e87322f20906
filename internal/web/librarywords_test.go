package web

import (
	"slices"
	"testing"

	"aerugo/internal/language"
	"aerugo/internal/science/published"
)

// The library finds a recipe by what its page says in German, and what the field gives for
// an example finds what the English example finds.
func TestTheLibraryIsSearchedInGerman(t *testing.T) {
	german := shippedGerman(t)
	read := libraryIn(german)
	typed := func(words string) string {
		return typedIn(german).typed(words, language.Ingredients, language.LookWords, language.SeenWords)
	}
	all := published.All()
	for i, x := range all {
		name := german.Say(x.Name)
		if !slices.ContainsFunc(published.Search(published.Query{Words: typed(name), Read: read}), func(h published.Hit) bool { return h.Recipe.Key == x.Key }) {
			t.Errorf("%q does not find %s (%q)", name, x.Key, all[i].Name)
		}
	}
	keys := func(words string, read []string) (out []string) {
		for _, h := range published.Search(published.Query{Words: words, Read: read}) {
			out = append(out, h.Recipe.Key)
		}
		slices.Sort(out)
		return out
	}
	for _, word := range []string{"blue", "sal ammoniac", "sawdust"} {
		said := map[string]string{"blue": "blau", "sal ammoniac": "Salmiak", "sawdust": "Sägespäne"}[word]
		got, want := keys(typed(said), read), keys(word, nil)
		missing := slices.ContainsFunc(want, func(key string) bool { return !slices.Contains(got, key) })
		if missing || len(got) > len(want)+1 { // Salmiakgeist begins as Salmiak does
			t.Errorf("%q finds %q, %q finds %q", said, got, word, want)
		}
	}
	if got := keys(typed("blau Messing"), read); len(got) == 0 || len(got) == len(all) {
		t.Errorf("blau Messing finds %d recipes", len(got))
	}
}
