package published

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
)

func keys(hits []Hit) []string {
	var out []string
	for _, h := range hits {
		out = append(out, h.Recipe.Key)
	}
	return out
}

// British and American words, trade and chemists' names find the same recipes.
// Which names belong together: common practice, no source.
func TestNamesFindAlike(t *testing.T) {
	for _, pair := range [][2]string{
		{"sal ammoniac", "ammonium chloride"}, {"copper nitrate", "cupric nitrate"}, {"vinegar", "acetic acid"}, {"grey", "gray"},
		{"copper sulphate", "copper sulfate"}, {"liver of sulphur", "liver of sulfur"}, {"blue vitriol", "bluestone"}, {"vapour", "vapor"},
		{"NH4Cl", "sal-ammoniac"}, {"table salt", "sodium chloride"}, {"cat litter", "granular litter"}, {"hypo", "sodium thiosulphate"},
		{"muriatic acid", "hydrochloric acid"}, {"lye", "caustic soda"}, {"peroxide", "hydrogen peroxide"}, {"Sal Ammoniac, green", "green; ammonium chloride"},
	} {
		a, b := keys(Search(Query{Words: pair[0]})), keys(Search(Query{Words: pair[1]}))
		if len(a) == 0 || !slices.Equal(sorted(a), sorted(b)) {
			t.Errorf("%q finds %v, %q finds %v", pair[0], a, pair[1], b)
		}
	}
}

func sorted(s []string) []string { s = slices.Clone(s); slices.Sort(s); return s }

func TestMisspeltWordsFind(t *testing.T) {
	for typed, want := range map[string]string{"rokushu": "R68", "verdigirs": "R29", "statuery": "R53", "sawdsut": "R04", "tourquoise": "R31", "ammonnia": "R32", "vinager": "R04", "apple gren": "R36", "permangante": "R60"} {
		if got := keys(Search(Query{Words: typed})); !slices.Contains(got, want) {
			t.Errorf("%q finds %v, not %s", typed, got, want)
		}
	}
	for _, nonsense := range []string{"xylophone", "quux", "zzzz zzzz"} {
		if got := keys(Search(Query{Words: nonsense})); len(got) > 0 {
			t.Errorf("%q finds %v", nonsense, got)
		}
	}
}

func TestBestComesFirst(t *testing.T) {
	for words, want := range map[string]string{"statuary brown": "R53", "apple green": "R36", "rokusho": "R68", "sawdust": "R04", "blue brass ammonia": "R32", "salt mist": "R30", "R14": "R14"} {
		got := keys(Search(Query{Words: words}))
		if len(got) == 0 || got[0] != want {
			t.Errorf("%q finds %v, want %s first", words, got, want)
		}
	}
	open := Search(Query{})
	if len(open) != 75 || open[0].Recipe.Use != ForClass || open[74].Recipe.Use != ForRecord {
		t.Errorf("without words: %d found, %s first", len(open), open[0].Recipe.Use)
	}
}

func TestFiltersHold(t *testing.T) {
	shelf := []string{"vinegar", "salt", "sal ammoniac", "sawdust", "ammonia", "unicorn dust"}
	rapid.Check(t, func(t *rapid.T) {
		q := Query{
			Words:  rapid.SampledFrom([]string{"", "green", "brush", "salt", "blue copper"}).Draw(t, "words"),
			Metal:  rapid.SampledFrom(append([]string{""}, MetalWords...)).Draw(t, "metal"),
			Colour: rapid.SampledFrom(append([]string{""}, ColourWords...)).Draw(t, "colour"),
			Use:    rapid.SampledFrom(append([]Use{""}, Uses...)).Draw(t, "use"),
			Heat:   rapid.SampledFrom([]string{"", Cold, Hot}).Draw(t, "heat"), NoAmmonia: rapid.Bool().Draw(t, "no ammonia"), OnShelf: rapid.Bool().Draw(t, "on the shelf"), Have: shelf,
		}
		all := Search(Query{Words: q.Words, Have: shelf})
		hits := Search(q)
		for _, h := range hits {
			r := h.Recipe
			text := ""
			for _, i := range r.Ingredients {
				if i.Role != Optional {
					text += i.Substance + " "
				}
			}
			switch {
			case q.Metal != "" && !strings.Contains(r.Metal, q.Metal), q.Use != "" && r.Use != q.Use, q.Heat == Cold && r.Heat != Cold, q.Heat == Hot && r.Heat == Cold,
				q.NoAmmonia && (strings.Contains(text, "ammonia-water") || strings.Contains(text, "ammonium-carbonate")), q.OnShelf && len(h.Missing) > 0:
				t.Fatalf("%+v finds %s", q, r.Key)
			}
			if h.Missing == nil && (strings.Contains(text, "copper-") || strings.Contains(text, "liver")) {
				t.Fatalf("nothing is missing for %s", r.Key)
			}
		}
		// nothing that fits is left out
		for _, h := range all {
			r := h.Recipe
			fits := (q.Metal == "" || slices.Contains(r.Metals, q.Metal)) && (q.Colour == "" || slices.Contains(r.colourFamilies(), q.Colour)) && (q.Use == "" || q.Use == r.Use) &&
				(q.Heat == "" || (q.Heat == Cold) == (r.Heat == Cold)) && !(q.NoAmmonia && r.GivesAmmonia()) && !(q.OnShelf && len(h.Missing) > 0)
			if found := slices.Contains(keys(hits), r.Key); found != fits {
				t.Fatalf("%+v: %s found %v, fits %v", q, r.Key, found, fits)
			}
		}
	})
}

// Every recipe is found by the name of each of its substances, and by its name.
func TestEveryRecipeIsFoundByWhatIsInIt(t *testing.T) {
	for _, r := range All() {
		if got := keys(Search(Query{Words: r.Name})); !slices.Contains(got, r.Key) {
			t.Errorf("%q does not find %s: %v", r.Name, r.Key, got)
		}
		for _, i := range r.Ingredients {
			s, ok := matter.Lookup(i.Substance)
			if !ok {
				continue
			}
			for _, name := range append([]string{s.Name, i.Name}, s.Also...) {
				if got := keys(Search(Query{Words: name})); !slices.Contains(got, r.Key) {
					t.Errorf("%q does not find %s", name, r.Key)
				}
			}
		}
	}
}

// The restricted distance of "ca" and "abc" is 3, of "kitten" and "sitting" 3:
// the usual examples, as in the literature on string metrics (from memory).
func TestEditsAreCounted(t *testing.T) {
	for _, x := range []struct {
		a, b string
		want int
	}{{"ca", "abc", 3}, {"kitten", "sitting", 3}, {"green", "green", 0}, {"gren", "green", 1}, {"grene", "green", 1}, {"blue", "black", 3}, {"", "ab", 2}, {"a", "abcdef", 4}} {
		if got := edits(x.a, x.b, 3); got != x.want {
			t.Errorf("from %q to %q: %d, want %d", x.a, x.b, got, x.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringMatching(`[a-e]{0,8}`).Draw(t, "a"), rapid.StringMatching(`[a-e]{0,8}`).Draw(t, "b")
		d := edits(a, b, 8)
		if d != edits(b, a, 8) || (d == 0) != (a == b) || d > max(len(a), len(b)) {
			t.Fatalf("%q to %q is %d", a, b, d)
		}
	})
}

func FuzzSearch(f *testing.F) {
	f.Add("sal ammoniac green")
	f.Add("\x00 🟩 ½")
	f.Fuzz(func(t *testing.T, words string) {
		for _, h := range Search(Query{Words: words}) {
			if !(h.Score >= 0) {
				t.Fatalf("%q scores %v", words, h.Score)
			}
		}
	})
}

func BenchmarkSearch(b *testing.B) {
	for b.Loop() {
		Search(Query{Words: "sal amoniac grene for brass", NoAmmonia: true, Have: []string{"vinegar"}})
	}
}
