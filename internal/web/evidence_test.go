package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// recipeVisits are the states of a recipe's pages that its swatches bring.
func recipeVisits(empty, usual, full *bench, s *stock) []visit {
	of := fmt.Sprintf
	done, under := s.planned[0], s.planned[1]
	return []visit{
		{"recipe", "compared", usual, of("/recipes/%d?against=%d", s.recipe, s.version), nil, 200, "Salt and fumes"},
		{"recipe", "compared with nothing", usual, of("/recipes/%d?against=9999", s.recipe), nil, 404, "Not here"},
		{"recipe", "compared with words", usual, of("/recipes/%d?against=first", s.recipe), nil, 404, "Not here"},
		{"recipe", "compared", full, "/recipes/2?against=1", nil, 200, ""},
		{"recipe", "for a class that is none", usual, of("/recipes/%d?class=wizards", s.recipe), nil, 422, "did not work"},
		{"recipe", "no tolerances to keep", usual, of("/recipes/%d/tolerances", s.recipe), url.Values{}, 409, "did not work"},
		{"recipe", "the newest already", usual, of("/recipes/%d/again", s.recipe), url.Values{}, 409, "did not work"},
		{"recipe", "of a swatch under way", usual, of("/treatments/%d/recipe", under.ID), url.Values{}, 409, "did not work"},
		{"recipe", "of no swatch", empty, "/treatments/1/recipe", url.Values{}, 404, "Not here"},
		{"swatch", "to keep as a recipe", usual, of("/swatches/%d", done.Swatch), nil, 200, of("Swatch %d", done.Swatch)},
		{"card", "for a class", usual, of("/recipes/%d/card?class=adults", s.recipe), nil, 422, "did not work"},
		{"card", "for a room that is gone", usual, of("/recipes/%d/card?room=99", s.recipe), nil, 404, "Not here"},
	}
}

func TestASwatchAsItWasRunBecomesARecipe(t *testing.T) {
	s, _ := lived(t)
	had := len(s.versionsOf(t, s.recipe))
	page := s.see(t, fmt.Sprintf("/swatches/%d", s.planned[0].Swatch)).doc(t)
	action := fmt.Sprintf("/treatments/%d/recipe", s.planned[0].ID)
	if len(page.all(`form[action="`+action+`"]`)) != 1 {
		t.Fatalf("the swatch's page does not offer to keep it: %s", page.one("main").words())
	}
	to := s.post(t, action, url.Values{"as": {"version"}}).to(t)
	vs := s.versionsOf(t, s.recipe)
	if len(vs) != had+1 {
		t.Fatalf("%d versions, want %d", len(vs), had+1)
	}
	v := vs[had]
	if v.Steps[2].Kind != studio.Fume || v.Steps[2].Duration >= 2*time.Hour {
		t.Errorf("the time is not as it was run: %+v", v.Steps[2])
	}
	if v.Steps[1].Amount.Value == 0 || v.Steps[1].Amount.Hand != "" {
		t.Errorf("the amount is not a number: %+v", v.Steps[1].Amount)
	}
	text := s.see(t, to).doc(t).one("main").words()
	for _, want := range []string{"The swatch it was kept from", "Never confirmed", "taken as", "shorter"} {
		if !strings.Contains(text, want) {
			t.Errorf("the version's page does not say %q: %.900s", want, text)
		}
	}
	// sent again, it is there once
	s.post(t, action, url.Values{"as": {"version"}}).to(t)
	if n := len(s.versionsOf(t, s.recipe)); n != had+1 {
		t.Errorf("sent twice there are %d versions, want %d", n, had+1)
	}
	// back to the one before: a version of its own, nothing taken away
	s.post(t, fmt.Sprintf("/recipes/%d/again", s.recipe), url.Values{"v": {id(vs[had-1].ID)}}).to(t)
	vs = s.versionsOf(t, s.recipe)
	if last := vs[len(vs)-1]; len(vs) != had+2 || len(last.Steps) != len(vs[had-1].Steps) {
		t.Errorf("%d versions after going back", len(vs))
	}
	// as a recipe of its own, and undone through the bin
	to = s.post(t, action, url.Values{"as": {"own"}}).to(t)
	var own int64
	if _, err := fmt.Sscanf(to, "/recipes/%d", &own); err != nil || own == s.recipe {
		t.Fatalf("kept on its own it leads to %s", to)
	}
	s.post(t, "/bin", url.Values{"kind": {"recipe"}, "id": {id(own)}}).to(t)
	if text := s.see(t, "/recipes").doc(t).one("main").words(); strings.Contains(text, "as swatch") {
		t.Error("it is on the list though it is in the bin")
	}
}

func (s *stock) versionsOf(t *testing.T, recipe int64) []studio.Version {
	t.Helper()
	vs, err := s.store.Versions(t.Context(), recipe)
	if err != nil {
		t.Fatal(err)
	}
	return vs
}

// A card is refused by what refuses the sheets of a set: a class of children at an
// ammonia chamber.
func TestACardIsHeldToWhomItIsFor(t *testing.T) {
	s := stocked(t)
	for _, path := range []string{fmt.Sprintf("/recipes/%d/card.pdf", s.recipe), fmt.Sprintf("/recipes/%d/card", s.recipe)} {
		if a := s.see(t, path); a.code != 200 {
			t.Errorf("%s for one's own bench: status %d: %s", path, a.code, a.problem())
		}
		if a := s.see(t, path+"?class=under+12"); a.code != 422 || a.problem() == "" || strings.HasPrefix(string(a.body), "%PDF") {
			t.Errorf("%s for children: status %d", path, a.code)
		}
	}
	if text := s.see(t, fmt.Sprintf("/recipes/%d/card", s.recipe)).doc(t).one("main").words(); !strings.Contains(text, "for no class") {
		t.Errorf("the card does not say that it was checked for no class: %.300s", text)
	}
}

func TestVersionsAreComparedInWords(t *testing.T) {
	s, _ := lived(t)
	text := s.see(t, fmt.Sprintf("/recipes/%d?against=%d", s.recipe, s.version)).doc(t).one("main").words()
	for _, want := range []string{"Degreasing left off", "medium of salt instead of light", "Drying left off", "change of look is not known"} {
		if !strings.Contains(strings.ReplaceAll(text, "table salt", "salt"), want) {
			t.Errorf("the difference does not say %q: %s", want, text)
		}
	}
	doc := s.see(t, fmt.Sprintf("/recipes/%d", s.recipe)).doc(t)
	if n := len(doc.all("svg.lineage a")); n != 2 {
		t.Errorf("the drawing links to %d versions, want 2", n)
	}
}

// TestTheSwatchTheVersionTheCard goes the way a person goes: a finished swatch, one
// press, the version, its card; at a phone's width and a laptop's.
func TestTheSwatchTheVersionTheCard(t *testing.T) {
	t.Parallel()
	s, _ := lived(t)
	for _, width := range []int{360, 1280} {
		tb := open(t, s.url, "recipe", width)
		tb.visit(fmt.Sprintf("/swatches/%d", s.planned[0].Swatch))
		tb.pressThrough("Keep it as it was run")
		tb.shot("kept")
		if text := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(text, "The swatch it was kept from") || !strings.Contains(text, "What to keep tight") {
			t.Errorf("%d px: %.500s", width, text)
		}
		for _, v := range tb.violations() {
			t.Errorf("%d px: %s", width, v)
		}
		// the drawing is reached by the keyboard
		if !js[bool](tb, `(() => { const a = document.querySelector('svg.lineage a'); a.focus(); return document.activeElement === a })()`) {
			t.Errorf("%d px: the drawing can't be reached by keys", width)
		}
		tb.pressThrough("Card as a page")
		tb.shot("card")
		if text := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(text, "for no class") {
			t.Errorf("%d px: the card says %.300s", width, text)
		}
		tb.visit("/recipes")
		tb.shot("list")
		for _, v := range tb.violations() {
			t.Errorf("%d px, the list: %s", width, v)
		}
	}
}
