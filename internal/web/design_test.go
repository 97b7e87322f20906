package web_test

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// four varies four things of two levels on the stocked recipe.
func (s *stock) four(change map[string][]string) url.Values {
	f := s.setForm(map[string][]string{"levels0": {"30 to 240"}, "kind1": {"loading"}, "step1": {"1"}, "levels1": {"light, heavy"}, "kind2": {"wetting"}, "step2": {"1"},
		"kind3": {"minutes"}, "step3": {"3"}, "levels3": {"10, 30"}, "replicates": {""}, "blanks": {""}})
	for name, v := range change {
		f[name] = v
	}
	return f
}

// TestWaysThatFitAreOffered: the form offers what fits what is varied, one of it
// recommended and ticked, and names what can be ruled out.
func TestWaysThatFitAreOffered(t *testing.T) {
	s := stocked(t)
	if fresh := s.see(t, "/sets/new").doc(t); len(fresh.all("input[name=design]")) != 0 {
		t.Error("ways are offered before anything is varied")
	}
	doc := s.post(t, "/sets", s.four(map[string][]string{"do": {"steps"}})).doc(t)
	var offered []string
	for _, x := range doc.all("input[name=design]") {
		offered = append(offered, x.attr["value"])
		if x.has("checked") != (x.attr["value"] == "fraction") {
			t.Errorf("%q is ticked: %v", x.attr["value"], x.has("checked"))
		}
	}
	if want := []string{"", "fraction", "screening", "scattered", "chosen"}; !slices.Equal(offered, want) {
		t.Errorf("offered are %q, want %q", offered, want)
	}
	if text := doc.one("#ways").words(); strings.Count(text, "recommended") != 1 || !strings.Contains(text, "Plackett-Burman") {
		t.Errorf("the ways say %q", text)
	}
	if n := len(doc.all("select[name=never0a] option")); n != 9 {
		t.Errorf("%d levels can be ruled out, want 8 and nothing", n-1)
	}
}

// TestAFractionIsShownAndMade: what is shown before metal is cut says what can't be
// told apart; what is made is the same plan, and the set's page says the same.
func TestAFractionIsShownAndMade(t *testing.T) {
	s := stocked(t)
	ask := map[string][]string{"design": {"fraction"}, "blocks": {"2"}}
	shown := s.post(t, "/sets", s.four(ask))
	if shown.code != 200 {
		t.Fatalf("status %d: %s", shown.code, shown.problem())
	}
	preview := shown.doc(t).one("#preview").words()
	for _, want := range []string{"What fuming time and amount of salt do together can't be told from what wetting and drying time do together", "4 times in 5", "assumed", "repeat", "Filling"} {
		if !strings.Contains(preview, want) {
			t.Errorf("the preview does not say %q: %.1500s", want, preview)
		}
	}
	ask["do"] = []string{"make"}
	n := s.plan(t, s.four(ask))
	set, err := s.store.Set(t.Context(), n)
	if err != nil || set.Design != studio.Fraction || set.Shape != studio.Grid || set.Blanks != 1 {
		t.Fatalf("set = %+v, %v", set, err)
	}
	ts, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Set: n})
	if err != nil || len(ts) != 10 {
		t.Fatalf("%d treatments, %v; want 8 and 2 repeats", len(ts), err)
	}
	blocks := map[int]int{}
	for _, x := range ts {
		blocks[x.Block]++
	}
	if blocks[1] != 5 || blocks[2] != 5 {
		t.Errorf("the fillings hold %v", blocks)
	}
	page := s.see(t, fmt.Sprintf("/sets/%d", n)).doc(t).one("main").words()
	for _, want := range []string{"part of them (fractional factorial)", "can't be told from", "Fillings", "repeat"} {
		if !strings.Contains(page, want) {
			t.Errorf("the set's page does not say %q", want)
		}
	}
	if a := s.see(t, fmt.Sprintf("/sets/%d?difference=none", n)); a.code != 422 {
		t.Errorf("no difference: status %d", a.code)
	}
	if a := s.see(t, fmt.Sprintf("/sets/%d?difference=30", n)); a.code != 200 || !strings.Contains(a.doc(t).one("main").words(), "It shows a difference seen at once in fuming time") {
		t.Errorf("a difference of 30 is not shown: status %d", a.code)
	}
}

// TestDesignRefusalsStandBesideTheirField: what can't be planned comes back at the
// field it is about.
func TestDesignRefusalsStandBesideTheirField(t *testing.T) {
	s := stocked(t)
	for _, c := range []struct {
		name, field, says string
		change            map[string][]string
	}{
		{"a design that is none", "#ways .wrong", "not a way", map[string][]string{"design": {"moon"}}},
		{"a bend of wetting", "#ways .wrong", "named levels", map[string][]string{"design": {"curve"}}},
		{"no number of swatches", "label:has([name=swatches]) .wrong", "how many", map[string][]string{"design": {"scattered"}}},
		{"too few swatches", "label:has([name=swatches]) .wrong", "at least", map[string][]string{"design": {"chosen"}, "swatches": {"4"}, "model": {"pairs"}}},
		{"half a thing ruled out", "#ways .wrong", "choose both", map[string][]string{"design": {"chosen"}, "swatches": {"8"}, "never0a": {"2|dry"}}},
		{"a set not begun", "label:has([name=made]) .wrong", "finished", map[string][]string{"made": {id(s.set)}}},
		{"a difference in words", "label:has([name=difference]) .wrong", "like 3", map[string][]string{"difference": {"some"}}},
		{"a back that shares all", "label:has([name=back]) .wrong", "faces", map[string][]string{"back": {"apart"}, "kind1": {""}, "kind2": {""}}},
	} {
		a := s.post(t, "/sets", s.four(c.change))
		if a.code != 422 {
			t.Errorf("%s: status %d", c.name, a.code)
			continue
		}
		doc := a.doc(t)
		if x := doc.one(c.field); x == nil || !strings.Contains(x.words(), c.says) {
			t.Errorf("%s: nothing at %s says %q; the page says %q", c.name, c.field, c.says, a.problem())
		}
		holdPage(t, c.name, doc)
	}
}

// TestRuledOutAndMadeAlreadyOnThePage: what is ruled out is kept in the form and
// never made; front and back can have settings of their own.
func TestRuledOutOnThePage(t *testing.T) {
	s := stocked(t)
	ask := map[string][]string{"design": {"chosen"}, "swatches": {"8"}, "never0a": {"0|4 h"}, "never0b": {"2|wetted first"}, "back": {"apart"}, "seed": {"3"}}
	doc := s.post(t, "/sets", s.four(ask)).doc(t)
	if x := doc.one("select[name=never0a] option[selected]"); x == nil || x.attr["value"] != "0|4 h" {
		t.Error("what was ruled out is not kept")
	}
	ask["do"] = []string{"make"}
	n := s.plan(t, s.four(ask))
	ts, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Set: n})
	if err != nil || len(ts) != 16 {
		t.Fatalf("%d treatments, %v; want two on each of 8 swatches", len(ts), err)
	}
	for _, x := range ts {
		if x.Settings[0].Level.Number == 240 && x.Settings[2].Level.Yes {
			t.Errorf("swatch %d is wetted for 4 h, which was ruled out", x.Swatch)
		}
		if x.Faces == studio.OnBoth {
			t.Errorf("swatch %d has both faces alike", x.Swatch)
		}
	}
	if page := s.see(t, fmt.Sprintf("/sets/%d", n)).doc(t).one("main").words(); !strings.Contains(page, "each with its own settings") {
		t.Error("the set's page does not say that the faces differ")
	}
}

// TestFractionInABrowser walks from the question to a fraction that is made, by
// buttons alone, on a laptop and on a phone, and looks for barriers on the way.
func TestFractionInABrowser(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 360} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			s := stocked(t)
			tb := open(t, s.url, "designer", width)
			hold := func(where string) {
				t.Helper()
				tb.noSideways()
				for _, x := range tb.violations() {
					t.Errorf("%s, %d px: %s", where, width, x)
				}
				tb.shot(where)
			}
			tb.visit("/sets/new")
			tb.fill("name", "Which of these matter")
			tb.choose("kind0", "time of a step")
			tb.fill("levels0", "30 to 240")
			tb.pressThrough("One more thing to vary")
			tb.choose("kind1", "amount put on")
			tb.choose("step1", "sprinkle")
			tb.fill("levels1", "light, heavy")
			tb.choose("kind2", "wetted first")
			tb.choose("kind3", "time of a step")
			tb.choose("step3", "dry")
			tb.fill("levels3", "10, 30")
			tb.pressThrough("Show the ways that fit")
			hold("ways")
			if chosen := js[string](tb, `document.querySelector('[name=design]:checked').value`); chosen != "fraction" {
				t.Errorf("recommended is %q", chosen)
			}
			tb.pressThrough("Show the set before making it")
			tb.wait("the preview", `document.querySelector('#preview')`)
			hold("preview")
			tb.pressThrough("Make these swatches")
			hold("made")
			if text := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(text, "part of them (fractional factorial)") || !strings.Contains(text, "can't be told from") {
				t.Errorf("the set's page says %.600s", text)
			}
		})
	}
}
