package web_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"aerugo/internal/recipefile"
)

// hostileFile is a recipe file with markup in every text that may hold any.
func hostileFile(t testing.TB) []byte {
	t.Helper()
	const x = `<script>document.title="x"</script>"><img src=x onerror=alert(1)>`
	f := recipefile.File{Recipes: []recipefile.Recipe{
		{ID: "aaaaaaaaaa", Name: "Blue " + x, By: x, Studio: x, Licence: "CC-BY-4.0", Made: "2026-03-14", Amounts: recipefile.Exact, Source: &recipefile.Source{Text: x, Standing: x},
			BasedOn: &recipefile.BasedOn{ID: "bbbbbbbbbb", Name: x, By: x, Studio: x, Licence: "CC0-1.0"}, Cautions: []string{x},
			Versions: []recipefile.Version{{Number: 3, Why: x, Steps: []recipefile.Step{{Kind: "wet", Words: x, Tool: x, Place: x, Note: x, Also: []recipefile.Part{{Substance: "moon-dust", Words: x}},
				Amount: &recipefile.Amount{Value: 3, Unit: "mL/m2", Hand: "a <b>drop</b>"}}}}},
			Evidence: &recipefile.Evidence{Swatches: 2, Looks: []recipefile.Look{{Swatch: 1, Face: "front", Metal: x, Setting: x, Colour: x, Method: x}}}},
		{ID: "cccccccccc", Name: "Kept back", Licence: recipefile.AllRights, Amounts: recipefile.Hidden, Versions: []recipefile.Version{{Number: 1, Steps: []recipefile.Step{{Kind: "rest", Rough: &recipefile.Rough{Amount: x, Strength: x, Duration: x}}}}}},
	}}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// takenIn takes the hostile file in and returns the page before and the address of the recipe.
func takenIn(t *testing.T, b *bench) (look *node, recipe string) {
	t.Helper()
	look = b.upload(t, "/recipe-file", "file", hostileFile(t), nil).doc(t)
	form := look.one("main form.row[action]")
	if form == nil {
		t.Fatalf("nothing can be taken in: %s", look.words())
	}
	to, _, _ := strings.Cut(b.post(t, form.attr["action"], url.Values{}).to(t), "?")
	return look, to
}

// TestWhatOthersWroteIsOnlyText looks at every page on which a file's words are shown.
func TestWhatOthersWroteIsOnlyText(t *testing.T) {
	b := serve(t)
	look, recipe := takenIn(t, b)
	if !strings.Contains(look.words(), "keeps the amounts back") || !strings.Contains(look.words(), "Not known here") {
		t.Errorf("the page does not say what is refused, or not known: %s", look.words())
	}
	pages := map[string]*node{"the look into it": look}
	for _, path := range []string{recipe, "/recipes", recipe + "/edit", recipe + "/card", "/publish" + strings.Replace(recipe, "/recipes/", "?recipe=", 1)} {
		pages[path] = b.see(t, path).doc(t)
	}
	for what, doc := range pages {
		holdPage(t, what, doc)
		if !strings.Contains(doc.words(), "Blue <script>") && what != recipe+"/edit" {
			t.Errorf("%s does not show the name as it is", what)
		}
	}
	page := pages[recipe].words()
	for _, says := range []string{"Where it came from", "CC BY 4.0", "Its id there", "aaaaaaaaaa", "SHA-256"} {
		if !strings.Contains(page, says) {
			t.Errorf("the recipe's page does not say %q", says)
		}
	}
	// a second time nothing is added
	again := b.upload(t, "/recipe-file", "file", hostileFile(t), nil).doc(t)
	if !strings.Contains(again.words(), "Here already") || again.one("main form.row[action]") != nil {
		t.Errorf("the second time: %s", again.words())
	}
	// changed here, it says so
	id := strings.TrimPrefix(recipe, "/recipes/")
	b.post(t, recipe, recipeForm("Blue", line{kind: "rinse"})).to(t)
	if doc := b.see(t, "/recipes/"+id).doc(t); !strings.Contains(doc.words(), "This version was made here") {
		t.Error("a version made here is not told from those that came")
	}
}

// TestAWebsiteIsMadeInTheBackground makes one, and downloads it.
func TestAWebsiteIsMadeInTheBackground(t *testing.T) {
	s, _ := lived(t)
	form := url.Values{"recipe": {fmt.Sprint(s.recipe)}, "set": {fmt.Sprint(s.set)}, "by": {"Ana"}, "licence": {"CC-BY-4.0"}, "title": {"Mine"}, "findings": {"1"}, "do": {"look"}}
	if words := s.post(t, "/publish", form).doc(t).words(); !strings.Contains(words, "This is what it would hold") {
		t.Errorf("the look first says %s", words)
	}
	form.Set("do", "make")
	s.post(t, "/publish", form).to(t)
	var got answer
	eventually(t, "the site", func() bool { got = s.see(t, "/publish/site.zip"); return got.code == 200 })
	z, err := zip.NewReader(bytes.NewReader(got.body), int64(len(got.body)))
	if err != nil {
		t.Fatalf("status %d: %v", got.code, err)
	}
	if _, err := z.Open("index.html"); err != nil {
		t.Error(err)
	}
	if doc := s.see(t, "/publish").doc(t); doc.one(`main a[download]`) == nil || doc.one(`main input[name="by"]`).attr["value"] != "Ana" {
		t.Error("the page does not offer it, or forgot who it is by")
	}
	form.Set("do", "file")
	file, err := recipefile.Read(bytes.NewReader(s.post(t, "/publish", form).body))
	if err != nil || len(file.Recipes) != 1 || file.Recipes[0].By != "Ana" {
		t.Errorf("the recipes as a file: %v, %v", file, err)
	}
}

// publishVisits are the pages of this file in their states.
func publishVisits(t *testing.T, empty, usual *bench, recipe, set int64) []visit {
	from := serve(t)
	_, came := takenIn(t, from)
	return []visit{
		{"publish", "empty", empty, "/publish", nil, 200, "Share and publish"},
		{"publish", "usual", usual, fmt.Sprintf("/publish?recipe=%d", recipe), nil, 200, "Share and publish"},
		{"publish", "looked at", usual, "/publish", url.Values{"set": {fmt.Sprint(set)}, "licence": {"CC0-1.0"}, "title": {"Mine"}, "do": {"look"}}, 200, "Share and publish"},
		{"publish", "refused", usual, "/publish", url.Values{"licence": {"mine"}, "recipe": {"1"}, "title": {""}}, 422, "Share and publish"},
		{"publish", "no such class", usual, "/publish?class=99", nil, 404, "Not here"},
		{"publish", "not made", empty, "/publish/site.zip", nil, 404, "Not here"},
		{"recipe_file", "usual", empty, "/recipe-file", nil, 200, "Recipes from a file"},
		{"recipe_file", "refused", empty, "/recipe-file", url.Values{}, 422, "Recipes from a file"},
		{"recipe_file", "gone", empty, "/recipe-file/gone", url.Values{}, 404, "Not here"},
		{"recipe", "came from elsewhere", from, came, nil, 200, "Blue"},
	}
}

// TestAFileThatCannotBeUsedIsRefusedInWords sends files of other kinds.
func TestAFileThatCannotBeUsedIsRefusedInWords(t *testing.T) {
	b := serve(t)
	for says, data := range map[string][]byte{
		"Choose the recipe file": {}, "packed file": []byte("PK\x03\x04"), "not JSON": []byte("{"), "does not say that it is a recipe file": []byte("{}"),
		"larger than the 8 MB": bytes.Repeat([]byte("a"), recipefile.MaxBytes+10),
	} {
		a := b.upload(t, "/recipe-file", "file", data, nil)
		if a.code != 422 || !strings.Contains(a.doc(t).words(), says) {
			t.Errorf("%q: status %d", says, a.code)
		}
	}
	if all, err := b.store.Recipes(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("kept: %v, %v", all, err)
	}
}
