package web_test

import (
	"context"
	"fmt"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// holdPage holds a whole page to what every page must keep: one heading, a
// title, a language, a label on every field, a name on every button and link,
// and nothing the content policy would stop or that leads off this machine.
func holdPage(t *testing.T, what string, doc *node) {
	t.Helper()
	if h := doc.all("html"); len(h) != 1 || h[0].attr["lang"] != "en" {
		t.Errorf("%s: the page does not name its language", what)
	}
	if x := doc.all("head title"); len(x) != 1 || strings.TrimSuffix(x[0].words(), " · Aerugo") == "" {
		t.Errorf("%s: %d titles: %q", what, len(x), x[0].words())
	}
	if h := doc.all("h1"); len(h) != 1 || h[0].words() == "" {
		t.Errorf("%s: %d main headings", what, len(h))
	}
	if len(doc.all("main#main")) != 1 {
		t.Errorf("%s: the page has not one main part", what)
	}
	ids := map[string]bool{}
	for _, x := range doc.all("[id]") {
		if ids[x.attr["id"]] {
			t.Errorf("%s: the id %q is there twice", what, x.attr["id"])
		}
		ids[x.attr["id"]] = true
	}
	for _, x := range doc.all("[aria-labelledby]") {
		if !ids[x.attr["aria-labelledby"]] {
			t.Errorf("%s: aria-labelledby=%q leads nowhere", what, x.attr["aria-labelledby"])
		}
	}
	for _, x := range doc.all("input,select,textarea") {
		if kind := x.attr["type"]; kind != "hidden" && !labelled(doc, x) {
			t.Errorf("%s: the field %s %q has no label", what, x.name, x.attr["name"])
		}
	}
	for _, x := range doc.all("button,a[href]") {
		if x.words() == "" && x.attr["aria-label"] == "" && x.attr["aria-hidden"] != "true" {
			if img := x.one("img[alt]"); img == nil || img.attr["alt"] == "" {
				t.Errorf("%s: a %s has no name: %v", what, x.name, x.attr)
			}
		}
	}
	for _, x := range doc.all("img") {
		if !x.has("alt") {
			t.Errorf("%s: the picture %s has no words", what, x.attr["src"])
		}
	}
	for _, x := range doc.all("*") {
		if x.name == "style" || x.name == "script" && (!x.has("src") || x.words() != "") {
			t.Errorf("%s: an inline <%s>, which the content policy stops", what, x.name)
		}
		for name, value := range x.attr {
			if name == "style" || strings.HasPrefix(name, "on") {
				t.Errorf("%s: <%s %s=%q>, which the content policy stops", what, x.name, name, value)
			}
			if slices.Contains([]string{"href", "src", "action", "formaction", "srcset", "poster", "data", "data-fresh", "xlink:href"}, name) {
				if u, err := url.Parse(value); err != nil || u.Scheme != "" || u.Host != "" {
					t.Errorf("%s: <%s %s=%q> leads off this machine", what, x.name, name, value)
				}
			}
		}
	}
}

func labelled(doc, x *node) bool {
	if x.attr["aria-label"] != "" {
		return true
	}
	if l := x.within("label"); l != nil {
		l = &node{Selection: l.Clone()}
		l.Find("select,textarea").Remove()
		return l.words() != ""
	}
	for _, l := range doc.all("label[for]") {
		if l.attr["for"] == x.attr["id"] && l.words() != "" {
			return true
		}
	}
	return false
}

// A visit is one page in one state.
type visit struct {
	page, state string // page: the file in pages/ that draws it
	b           *bench
	path        string
	form        url.Values // nil: only looked at
	code        int
	heading     string // what its heading says, in part
}

// answer makes the visit; heads are names and values of headers.
func (v visit) answer(t *testing.T, heads ...string) answer {
	t.Helper()
	if v.form != nil {
		return v.b.post(t, v.path, v.form, heads...)
	}
	return v.b.see(t, v.path, heads...)
}

// lived returns a stocked bench with a day's work behind it: one treatment
// finished, one running, a note, a device, and two photographs, one of them
// read with its grey card. It returns the photographs too.
func lived(t *testing.T) (*stock, []int64) {
	t.Helper()
	s := stocked(t)
	s.post(t, "/join", url.Values{"code": {s.web.JoinCode()}, "name": {"Ana"}}).to(t)
	s.begin(t, "begin", s.planned[0].ID, s.planned[1].ID).to(t)
	tap := func(client string, form url.Values) {
		form.Set("client", client)
		s.pass(time.Second) // no hand does two steps at one moment
		s.post(t, "/taps", form).to(t)
	}
	for step := range s.planned[0].Steps {
		tap(fmt.Sprint("a", step), url.Values{"kind": {"done"}, "of": {fmt.Sprintf("%d:%d", s.planned[0].ID, step)}})
	}
	for step := range 2 {
		tap(fmt.Sprint("b", step), url.Values{"kind": {"done"}, "of": {fmt.Sprintf("%d:%d", s.planned[1].ID, step)}})
	}
	tap("n", url.Values{"kind": {"noted"}, "of": {fmt.Sprintf("%d:2", s.planned[1].ID)}, "note": {"a <b>drop</b> fell & ran"}, "temp": {"21,5"}, "rh": {"48"}})
	s.post(t, fmt.Sprintf("/recipes/%d", s.recipe), recipeForm("Salt and fumes", line{kind: "sprinkle", supply: id(s.salt), amount: "medium"},
		line{kind: "fume", supply: id(s.ammonia), time: "2 h", where: id(s.chamber)})).to(t)
	first, marks := s.photograph(t, s.planned[0].Swatch, studio.Front, 0)
	s.post(t, fmt.Sprintf("/photos/%d/measure", first), marksForm(marks, true)).to(t)
	second, marks := s.photograph(t, s.planned[0].Swatch, studio.Back, 1)
	s.post(t, fmt.Sprintf("/photos/%d/measure", second), marksForm(marks, false)).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/setup", first), url.Values{"setupname": {"Bench"}, "lamp": {"two lamps"}}).to(t)
	keepTarget(t, s.bench, "Mine, measured in March")
	s.post(t, "/mat", url.Values{"mat": {"A4-1"}, "printed": {"2026-01-02"}, "ruler": {"99,25"}}).to(t)
	third, _ := s.photograph(t, s.blank, studio.Front, 2)
	return s, []int64{first, second, third}
}

// visits lists every page in its states.
func visits(t *testing.T) []visit {
	t.Helper()
	empty, full, running := serve(t), serve(t), serve(t)
	filled(t, full)
	usual, photos := lived(t)
	judged(t, usual)
	running.web.Progress("Drawing photographs", 3, 100, func() {})
	stop := stopped(t)
	metal, err := stop.store.SaveMetal(t.Context(), studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	never := stopPair{materials: []string{"liver-of-sulfur", "vinegar"}}
	never.keep(t, stop, metal.ID)
	apart := stocked(t)
	bleached(t, apart, 0)
	sendSheet(t, usual.bench, usual.salt, "salt.pdf", []byte("%PDF-1.7")).to(t)
	door := serve(t)
	door.web.OpenDoor("http://192.0.2.7:8737") // an address for documents, RFC 5737

	ctx := t.Context()
	looks, err := full.store.Looks(ctx)
	if err != nil || len(looks) < 3 {
		t.Fatalf("%d looks, %v", len(looks), err)
	}
	sets, err := full.store.Sets(ctx)
	if err != nil || len(sets) == 0 {
		t.Fatalf("%d sets, %v", len(sets), err)
	}
	u := usual.bench
	throughTime(t, u, usual.planned[3].Swatch)
	turned := photographTurned(t, usual)
	pair, alone := photographPair(t, usual)
	of := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	tooMany := of("/compare?p=%[1]d&p=%[2]d&p=%[1]d&p=%[2]d&p=%[1]d&p=%[2]d&p=%[1]d", photos[0], photos[1])
	used := usual.web.JoinCode()
	u.post(t, "/join", url.Values{"code": {used}, "name": {"Ben"}}).to(t)
	swatch := usual.planned[0].Swatch
	all := []visit{
		{"bench_sheet", "usual", u, of("/sets/%d/bench", usual.set), nil, 200, "How long"},
		{"bench_sheet", "refused", empty, "/sets/1/bench", nil, 404, "Not here"},
		{"card", "usual", u, of("/recipes/%d/card", usual.recipe), nil, 200, "Salt and fumes"},
		{"card", "older version", u, of("/recipes/%d/card?v=%d", usual.recipe, usual.version), nil, 200, "version 1"},
		{"card", "refused", stop, "/recipes/1/card", nil, 422, "did not work"},
		{"card", "another's version", u, of("/recipes/%d/card?v=99", usual.recipe), nil, 404, "Not here"},
		{"chamber", "empty", empty, "/shelf/chambers/new", nil, 200, "Add a chamber"},
		{"chamber", "usual", u, of("/shelf/chambers/%d", usual.chamber), nil, 200, "Chamber A"},
		{"chamber", "refused", u, "/shelf/chambers", url.Values{"name": {""}, "volume": {"much"}}, 422, "chamber"},
		{"chamber", "not there", u, "/shelf/chambers/99", nil, 404, "Not here"},
		{"chambers", "empty", empty, "/chambers", nil, 200, "Chambers"},
		{"chambers", "usual", u, "/chambers", nil, 200, "Chambers"},
		{"chambers", "full", full, "/chambers", nil, 200, "Chambers"},
		{"chamber_air", "usual", u, of("/chambers/%d", usual.chamber), nil, 200, "Chamber A"},
		{"chamber_air", "full", full, "/chambers/1", nil, 200, "Grey tub"},
		{"chamber_air", "in a room", full, "/chambers/2", nil, 200, "Lidded bucket"},
		{"chamber_air", "refused", u, of("/chambers/%d/log", usual.chamber), url.Values{"kind": {"charged"}, "client": {"c"}, "solution": {"much"}}, 422, "Chamber A"},
		{"chamber_air", "cap that lost", u, of("/chambers/%d/log", usual.chamber), url.Values{"kind": {"weighed"}, "client": {"d"}, "salt": {"sodium-chloride"}, "caparea": {"7"}, "capsalt": {"3"}, "capbefore": {"5"}, "capafter": {"4.9"}, "caphours": {"3"}}, 422, "Chamber A"},
		{"chamber_air", "not there", u, "/chambers/99", nil, 404, "Not here"},
		{"room", "empty", empty, "/shelf/rooms/new", nil, 200, "Add a room"},
		{"room", "full", full, "/shelf/rooms/2", nil, 200, "Back room"},
		{"room", "refused", u, "/shelf/rooms", url.Values{"name": {"Cupboard"}, "roomvolume": {"0.1"}, "mixing": {"3"}}, 422, "room"},
		{"room", "not there", u, "/shelf/rooms/99", nil, 404, "Not here"},
		{"compare", "empty", empty, "/compare", nil, 200, "Side by side"},
		{"compare", "usual", u, of("/compare?p=%d&p=%d&p=%d", photos[0], photos[1], photos[2]), nil, 200, "Side by side"},
		{"compare", "full", full, of("/compare?p=%d&p=%d&p=%d", looks[0].Photo, looks[1].Photo, looks[2].Photo), nil, 200, "Side by side"},
		{"compare", "refused", u, tooMany, nil, 200, "Side by side"},
		{"compare", "not there", u, "/compare?p=99", nil, 404, "Not here"},
		{"compare", "no number", u, "/compare?p=x", nil, 404, "Not here"},
		{"compare", "in one photograph", u, of("/compare?p=%d&p=%d", pair[0], pair[1]), nil, 200, "Side by side"},
		{"compare", "better together", u, of("/compare?p=%d&p=%d", alone, pair[1]), nil, 200, "Side by side"},
		{"fail", "empty", empty, "/nowhere", nil, 404, "Not here"},
		{"fail", "usual", u, "/sets/one", nil, 404, "Not here"},
		{"fail", "full", full, "/swatches/99999", nil, 404, "Not here"},
		{"fail", "refused", u, "/taps", url.Values{"of": {"x"}}, 422, "did not work"},
		{"find", "empty", empty, "/find", nil, 200, "Find a swatch"},
		{"find", "refused", u, "/find?q=S0001FZ", nil, 422, "Find a swatch"},
		{"find", "not there", u, "/find?q=4711", nil, 422, "Find a swatch"},
		{"finding", "usual", u, of("/findings/%d", usual.set), nil, 200, "How long"},
		{"finding", "one face", u, of("/findings/%d?face=back", usual.set), nil, 200, "How long"},
		{"finding", "a wanted look that is none", u, of("/findings/%d?want=blue", usual.set), nil, 422, "How long"},
		{"finding", "a wanted look not measured", u, of("/findings/%d?want=99999", usual.set), nil, 422, "How long"},
		{"finding", "when to stop", u, of("/findings/%d?want=%d", usual.set, swatch), nil, 200, "How long"},
		{"finding", "refused", empty, "/findings/1", nil, 404, "Not here"},
		{"findings", "empty", empty, "/findings", nil, 200, "Findings"},
		{"findings", "usual", u, "/findings", nil, 200, "Findings"},
		{"findings", "full", full, "/findings", nil, 200, "Findings"},
		{"join", "empty", empty, "/join", nil, 200, "Join"},
		{"join", "usual", u, "/join?code=" + u.web.JoinCode(), nil, 200, "Join"},
		{"join", "used code", u, "/join?code=" + used, nil, 200, "Join"},
		{"join", "refused", u, "/join", url.Values{"code": {u.web.JoinCode()}, "name": {""}}, 422, "Join"},
		{"join", "refused code", u, "/join", url.Values{"code": {"guess"}, "name": {"Cleo"}}, 403, "Join"},
		{"level", "usual", u, of("/chambers/%d/level", usual.chamber), nil, 200, "Level Chamber A"},
		{"level", "full", full, "/chambers/1/level", nil, 200, "Level"},
		{"level", "refused", u, of("/chambers/%d/level", usual.chamber), url.Values{"tilt": {"steep"}}, 422, "Level Chamber A"},
		{"level", "not there", empty, "/chambers/1/level", nil, 404, "Not here"},
		{"mat", "empty", empty, "/mat", nil, 200, "The photo mat"},
		{"mat", "usual", u, "/mat", nil, 200, "The photo mat"},
		{"mat", "refused", u, "/mat", url.Values{"mat": {"A4-1"}, "printed": {"2026-01-02"}, "ruler": {"97"}}, 422, "The photo mat"},
		{"mix", "empty", empty, "/mix", nil, 200, "Mix a solution"},
		{"mix", "usual", u, "/mix?material=ammonia-water&strength=28&unit=wt%25&to=10&amount=1000&amountunit=mL", nil, 200, "Mix: ammonia water 10 %"},
		{"mix", "for some faces", u, of("/mix?supply=%d&to=2&loading=150&facewidth=50&faceheight=40&faces=12", usual.vinegar), nil, 200, "Mix: vinegar 2 %"},
		{"mix", "full", full, "/mix?supply=1&to=5&amount=100", nil, 200, "Mix: ammonia water 5 %"},
		{"mix", "refused", u, "/mix?material=ammonia-water&strength=28&to=30&amount=100", nil, 422, "Mix a solution"},
		{"mix", "stopped", u, "/mix?material=sulfuric-acid&strength=96&to=10&amount=100", nil, 422, "Mix a solution"},
		{"bench_sheet", "stopped", stop, of("/sets/%d/bench", never.set), nil, 422, "did not work"},
		{"set", "stopped", stop, of("/sets/%d", never.set), nil, 200, "Pair"},
		{"shelf", "not together", apart.bench, "/shelf", nil, 200, "Shelf"},
		{"supply", "with its sheet", u, of("/shelf/supplies/%d", usual.salt), nil, 200, "Salt"},
		{"supply", "no sheet sent", u, of("/shelf/supplies/%d/sheet", usual.nitrate), url.Values{}, 422, "Copper nitrate"},
		{"today", "not in one room", apart.bench, "/", nil, 200, "Today"},
		{"metal", "empty", empty, "/shelf/metals/new", nil, 200, "Add a metal"},
		{"metal", "usual", u, of("/shelf/metals/%d", usual.metal), nil, 200, "0.8 mm"},
		{"metal", "refused", u, "/shelf/metals", url.Values{"name": {"Sheet"}, "thickness": {"thin"}}, 422, "metal"},
		{"phone", "usual", door, "/phones/code", url.Values{}, 200, "Let a phone in"},
		{"phone", "refused", empty, "/phones/code", url.Values{}, 409, "Studio"},
		{"photo", "usual", u, of("/photos/%d", photos[0]), nil, 200, of("Swatch %d, front", swatch)},
		{"photo", "uncalibrated", u, of("/photos/%d", photos[1]), nil, 200, of("Swatch %d, back", swatch)},
		{"photo", "unmeasured", u, of("/photos/%d", photos[2]), nil, 200, "Swatch"},
		{"photo", "full", full, of("/photos/%d", looks[0].Photo), nil, 200, "Swatch"},
		{"photo", "not kept", u, of("/photos/%d/setup", photos[0]), url.Values{"setupname": {"Bench"}, "lamp": {""}}, 422, of("Swatch %d, front", swatch)},
		{"photo", "nothing to keep", u, of("/photos/%d/setup", photos[1]), url.Values{"setupname": {"Bench"}, "lamp": {"window"}}, 422, of("Swatch %d, back", swatch)},
		{"photo", "one of two", u, of("/photos/%d", pair[1]), nil, 200, of("Swatch %d, back", usual.planned[3].Swatch)},
		{"photo", "one of two, the other not named", u, of("/photos/%d", alone), nil, 200, of("Swatch %d, back", usual.planned[2].Swatch)},
		{"photo", "the other refused", u, of("/photos/%d/second", alone), url.Values{"second": {"4711"}, "secondface": {"back"}}, 422, of("Swatch %d, back", usual.planned[2].Swatch)},
		{"photo", "refused", empty, "/photos/1", nil, 404, "Not here"},
		{"photo_many", "empty", empty, "/photos/many", nil, 200, "Many photographs"},
		{"photo_many", "usual", u, "/photos/many", nil, 200, "Many photographs"},
		{"photo_mark", "usual", u, of("/photos/%d/mark", photos[2]), nil, 200, "Mark swatch"},
		{"photo_mark", "again", u, of("/photos/%d/mark", photos[0]), nil, 200, "Mark swatch"},
		{"photo_mark", "full", full, of("/photos/%d/mark", looks[0].Photo), nil, 200, "Mark swatch"},
		{"photo_mark", "refused", u, of("/photos/%d/measure", photos[2]), url.Values{"tlx": {"left"}}, 422, "Mark swatch"},
		{"photo_paint", "usual", u, of("/photos/%d/paint", photos[0]), nil, 200, "Show what is bare"},
		{"photo_paint", "painted", u, of("/photos/%d/paint", sentAs(t, u, "judged")), nil, 200, "Show what is bare"},
		{"photo_paint", "unmeasured", u, of("/photos/%d/paint", photos[2]), nil, 200, "Show what is bare"},
		{"photo_paint", "salt", u, of("/photos/%d/paint", sentAs(t, u, "salted")), nil, 200, "Show what is bare"},
		{"photo_paint", "refused", u, of("/photos/%d/paint", photos[0]), url.Values{"strokes": {"red"}}, 422, "Show what is bare"},
		{"photo_paint", "not there", empty, "/photos/1/paint", nil, 404, "Not here"},
		{"photo_salt", "to count", u, of("/photos/%d/salt", photos[2]), nil, 200, "Salt on swatch"},
		{"photo_salt", "weighed", u, of("/photos/%d/salt", sentAs(t, u, "salted")), nil, 200, "Salt on swatch"},
		{"photo_salt", "refused", u, of("/photos/%d/weighed", sentAs(t, u, "salted")), url.Values{"mass": {"a pinch"}, "area": {"25"}}, 422, "Salt on swatch"},
		{"photo_salt", "corners that can't be", u, of("/photos/%d/salt", photos[2]), url.Values{"tlx": {"left"}}, 422, "Salt on swatch"},
		{"photo", "salt", u, of("/photos/%d", sentAs(t, u, "salted")), nil, 200, "salt before fuming"},
		{"photo_new", "empty", empty, "/photos/new", nil, 200, "Photograph"},
		{"photo_new", "two swatches", u, of("/photos/new?swatch=%d&face=back&swatch2=%d&face2=front", swatch, usual.blank), nil, 200, "Photograph"},
		{"photo_new", "usual", u, of("/photos/new?swatch=%d&face=back&moment=bare", swatch), nil, 200, "Photograph"},
		{"pooling", "usual", u, of("/swatches/%d/front/pooling", swatch), nil, 200, "where it gathered"},
		{"pooling", "the low side", u, of("/swatches/%d/front/pooling?low=270", swatch), nil, 200, "where it gathered"},
		{"pooling", "nothing measured", u, of("/swatches/%d/front/pooling", usual.blank), nil, 200, "where it gathered"},
		{"pooling", "turned", u, of("/swatches/%d/front/pooling?before=%d&after=%d&turned=180", swatch, photos[0], turned), nil, 200, "where it gathered"},
		{"pooling", "refused", u, of("/swatches/%d/front/pooling?before=%d&after=%d", swatch, photos[0], photos[0]), nil, 422, "where it gathered"},
		{"pooling", "one photograph only", u, of("/swatches/%d/back/pooling?before=%d&after=%d", swatch, photos[1], photos[1]), nil, 422, "where it gathered"},
		{"pooling", "full", full, of("/swatches/%d/front/pooling", looks[0].Swatch), nil, 200, "where it gathered"},
		{"pooling", "no such face", u, of("/swatches/%d/rim/pooling", swatch), nil, 404, "Not here"},
		{"recipe", "usual", u, of("/recipes/%d", usual.recipe), nil, 200, "Salt and fumes"},
		{"recipe", "older version", u, of("/recipes/%d?v=%d", usual.recipe, usual.version), nil, 200, "Salt and fumes"},
		{"recipe", "stopped", stop, "/recipes/1", nil, 200, "Sulfide"},
		{"recipe", "refused", empty, "/recipes/1", nil, 404, "Not here"},
		{"recipe_edit", "empty", empty, "/recipes/new", nil, 200, "Write a recipe"},
		{"recipe_edit", "usual", u, of("/recipes/%d/edit", usual.recipe), nil, 200, "a new version"},
		{"recipe_edit", "more steps", u, "/recipes", url.Values{"name": {"Long"}, "kind": {"rinse"}, "do": {"more"}}, 200, "Write a recipe"},
		{"recipe_edit", "refused", u, "/recipes", url.Values{"name": {"Long"}, "kind": {"fume"}, "time": {"a while"}, "do": {"save"}}, 422, "Write a recipe"},
		{"recipes", "empty", empty, "/recipes", nil, 200, "Recipes"},
		{"recipes", "usual", u, "/recipes", nil, 200, "Recipes"},
		{"recipes", "full", full, "/recipes", nil, 200, "Recipes"},
		{"set", "usual", u, of("/sets/%d", usual.set), nil, 200, "How long"},
		{"words", "usual", u, of("/recipes/%d/card.pdf?as=page", usual.recipe), nil, 200, "Salt and fumes"},
		{"words", "full", full, of("/sets/%d/labels.pdf?as=page&sheet=letter", sets[0].ID), nil, 200, "Swatch labels"},
		{"words", "stopped", stop, "/recipes/1/card.pdf?as=page", nil, 422, "did not work"},
		{"words", "not there", empty, "/sets/1/bench.pdf?as=page", nil, 404, "Not here"},
		{"set", "refused", empty, "/sets/1", nil, 404, "Not here"},
		{"set", "a difference refused", u, of("/sets/%d?difference=some", usual.set), nil, 422, "did not work"},
		{"set_bare", "usual", u, of("/sets/%d/bare", usual.set), nil, 200, "What counts as bare"},
		{"set_bare", "nothing kept", full, of("/sets/%d/bare", sets[0].ID), nil, 200, "What counts as bare"},
		{"set_bare", "refused", u, of("/sets/%d/bare", usual.set), url.Values{"reference": {"99"}}, 404, "Not here"},
		{"set_bare", "not there", empty, "/sets/1/bare", nil, 404, "Not here"},
		{"set_new", "empty", empty, "/sets/new", nil, 200, "Plan a set"},
		{"set_new", "usual", u, "/sets/new", nil, 200, "Plan a set"},
		{"set_new", "shown first", u, "/sets", usual.setForm(nil), 200, "Plan a set"},
		{"set_new", "steps", u, "/sets", usual.setForm(map[string][]string{"do": {"steps"}}), 200, "Plan a set"},
		{"set_new", "full", full, "/sets/new", nil, 200, "Plan a set"},
		{"set_new", "ways that fit", u, "/sets", usual.four(map[string][]string{"do": {"steps"}}), 200, "Plan a set"},
		{"set_new", "a fraction in fillings", u, "/sets", usual.four(map[string][]string{"design": {"fraction"}, "blocks": {"2"}}), 200, "Plan a set"},
		{"set_new", "searched for, some ruled out", u, "/sets", usual.four(map[string][]string{"design": {"chosen"}, "swatches": {"8"}, "never0a": {"0|4 h"}, "never0b": {"2|dry"}}), 200, "Plan a set"},
		{"set_new", "a design refused", u, "/sets", usual.four(map[string][]string{"design": {"curve"}}), 422, "Plan a set"},
		{"set_new", "refused", u, "/sets", usual.setForm(map[string][]string{"width": {"a palm"}}), 422, "Plan a set"},
		{"sets", "empty", empty, "/sets", nil, 200, "Plan"},
		{"sets", "usual", u, "/sets", nil, 200, "Plan"},
		{"sets", "full", full, "/sets", nil, 200, "Plan"},
		{"setups", "empty", empty, "/setups", nil, 200, "Cameras, lamps"},
		{"setups", "usual", u, "/setups", nil, 200, "Cameras, lamps"},
		{"setups", "refused", u, "/setups/targets", url.Values{"targetname": {"Mine"}}, 422, "Cameras, lamps"},
		{"shelf", "empty", empty, "/shelf", nil, 200, "Shelf"},
		{"shelf", "usual", u, "/shelf", nil, 200, "Shelf"},
		{"shelf", "full", full, "/shelf", nil, 200, "Shelf"},
		{"shelf", "refused", u, "/shelf/hands", url.Values{"word": {"light"}, "weighings": {"1; 2"}, "area": {"25"}}, 422, "Shelf"},
		{"studio", "empty", empty, "/studio", nil, 200, "Studio"},
		{"studio", "usual", u, "/studio", nil, 200, "Studio"},
		{"studio", "open to phones", door, "/studio", nil, 200, "Studio"},
		{"studio", "full", full, "/studio", nil, 200, "Studio"},
		{"studio", "refused", u, "/import", url.Values{}, 422, "Studio"},
		{"supply", "empty", empty, "/shelf/supplies/new", nil, 200, "Add a supply"},
		{"supply", "usual", u, of("/shelf/supplies/%d", usual.nitrate), nil, 200, "Copper nitrate"},
		{"supply", "refused", u, "/shelf/supplies", url.Values{"name": {"Water"}}, 422, "supply"},
		{"series", "empty", u, of("/swatches/%d/front/series", usual.planned[3].Swatch), nil, 200, "through time"},
		{"series", "usual", u, of("/swatches/%d/back/series", usual.planned[3].Swatch), nil, 200, "through time"},
		{"series", "no such face", u, of("/swatches/%d/side/series", swatch), nil, 404, "Not here"},
		{"series", "not there", empty, "/swatches/1/front/series", nil, 404, "Not here"},
		{"swatch", "usual", u, of("/swatches/%d", swatch), nil, 200, "Swatch"},
		{"swatch", "running", u, of("/swatches/%d", usual.planned[1].Swatch), nil, 200, "Swatch"},
		{"swatch", "to begin", u, of("/swatches/%d", usual.planned[3].Swatch), nil, 200, "Swatch"},
		{"swatch", "the blank", u, of("/swatches/%d", usual.blank), nil, 200, "Swatch"},
		{"swatch", "full", full, of("/swatches/%d", looks[0].Swatch), nil, 200, "Swatch"},
		{"swatch", "refused", u, of("/swatches/%d/overlay", swatch), url.Values{"version": {id(usual.version)}, "faces": {"front"}, "over": {"burnt"}}, 422, "Swatch"},
		{"swatches", "empty", empty, "/swatches", nil, 200, "Swatches"},
		{"swatches", "usual", u, "/swatches", nil, 200, "Swatches"},
		{"swatches", "none like that", u, "/swatches?family=plaid", nil, 200, "Swatches"},
		{"today", "usual", u, "/", nil, 200, "Today"},
		{"today", "full", full, "/", nil, 200, "Today"},
		{"timers", "empty", empty, "/timers", nil, 200, "Timers"},
		{"timers", "usual", u, "/timers", nil, 200, "Timers"},
		{"timers", "full", full, "/timers", nil, 200, "Timers"},
		{"away", "empty", empty, "/away", nil, 200, "The laptop can’t be reached"},
		{"away", "usual", u, "/away", nil, 200, "The laptop can’t be reached"},
		{"welcome", "empty", empty, "/", nil, 200, "An empty studio"},
		{"welcome", "work under way", running, "/", nil, 200, "An empty studio"},
		{"welcome", "refused", empty, "/start", url.Values{"alloy": {"gold"}}, 422, "An empty studio"},
	}
	all = append(all, libraryVisits(empty, u, full)...)
	all = append(all, recipeVisits(empty, u, full, usual)...)
	all = append(all, dayVisits(t, empty, full)...)
	all = append(all, nextVisits(t, empty, full)...)
	all = append(all, tasteVisits(t, empty, full, usual)...)
	all = append(all, lastVisits(t, empty, full, usual)...)
	all = append(all, moneyVisits(t, usual, empty, full)...)
	all = append(all, sheetVisits(t, empty, full)...)
	all = append(all, classPaperVisits(t, usual, empty, full, stop)...)
	all = append(all, classVisits(t, usual, empty, full, stop)...)
	all = append(all, pieceVisits(t, empty, full, usual)...)
	all = append(all, takesVisits(t, usual, empty)...)
	all = append(all, batchVisits(t, empty)...)
	all = append(all, storageVisits(t, empty, full, usual)...)
	for _, by := range []string{"number", "hue", "lightness", "metal", "liquid", "set", "age", "mood"} {
		all = append(all, visit{"swatches", "by " + by, full, "/swatches?by=" + by, nil, 200, "Swatches"})
	}
	for _, x := range sets {
		all = append(all, visit{"set", "full", full, of("/sets/%d", x.ID), nil, 200, x.Name}, visit{"finding", "full", full, of("/findings/%d", x.ID), nil, 200, x.Name},
			visit{"bench_sheet", "full", full, of("/sets/%d/bench", x.ID), nil, 200, ""})
	}
	all = append(all, publishVisits(t, empty, u, usual.recipe, usual.set)...)
	recipes, err := full.store.Recipes(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range recipes {
		all = append(all, visit{"recipe", "full", full, of("/recipes/%d", x.ID), nil, 200, x.Name}, visit{"card", "full", full, of("/recipes/%d/card", x.ID), nil, 200, x.Name},
			visit{"recipe_edit", "full", full, of("/recipes/%d/edit", x.ID), nil, 200, x.Name})
	}
	return append(all, seatVisits(t)...)
}

// stopped returns a bench whose only recipe lays acid on sulfide; it was kept
// before anyone checked it.
func stopped(t *testing.T) *bench {
	t.Helper()
	b := serve(t)
	steps := []studio.Step{{Kind: studio.Wet, Material: "liver-of-sulfur", Strength: 2, Amount: studio.Amount{Value: 20, Unit: studio.MLPerM2}},
		{Kind: studio.Wet, Material: "vinegar", Strength: 5, Amount: studio.Amount{Value: 20, Unit: studio.MLPerM2}}}
	if _, err := b.store.AddRecipe(t.Context(), studio.Recipe{Name: "Sulfide, then vinegar"}, studio.Version{Steps: steps}); err != nil {
		t.Fatal(err)
	}
	return b
}

var digits = regexp.MustCompile(`\d+`)

// TestEveryPageInEveryState draws every page empty, as usual, full and refused,
// and then follows each kind of link and sends each kind of form found there.
func TestEveryPageInEveryState(t *testing.T) {
	t.Parallel()
	all := visits(t)
	drawn := map[string]map[string]bool{}
	type form struct {
		b      *bench
		action string
		values url.Values
	}
	links, forms := map[string]func() answer{}, map[string]form{}
	for _, v := range all {
		what := v.page + ", " + v.state + " (" + v.path + ")"
		if drawn[v.page] == nil {
			drawn[v.page] = map[string]bool{}
		}
		drawn[v.page][v.state] = true
		a := v.answer(t)
		if a.code != v.code {
			t.Errorf("%s: status %d, want %d: %.300s", what, a.code, v.code, a.problem())
		}
		if kind := a.header.Get("Content-Type"); kind != "text/html; charset=utf-8" {
			t.Errorf("%s: content type %q", what, kind)
		}
		doc := a.doc(t)
		holdPage(t, what, doc)
		if h := doc.one("h1"); h == nil || !strings.Contains(h.words(), v.heading) {
			t.Errorf("%s: the heading is %q, want %q", what, h.words(), v.heading)
		}
		if v.code >= 400 && a.problem() == "" && v.page != "join" {
			t.Errorf("%s: nothing says why it was refused", what)
		}
		if strings.Contains(string(a.body), "ZgotmplZ") {
			t.Errorf("%s: the template engine refused a value", what)
		}
		for _, x := range doc.all("a[href],img[src],link[href],script[src],[data-fresh]") {
			for _, name := range []string{"href", "src", "data-fresh"} {
				if to := x.attr[name]; strings.HasPrefix(to, "/") {
					links[digits.ReplaceAllString(to, "N")] = func() answer { return v.b.see(t, to) }
				}
			}
		}
		for _, f := range doc.all("form") {
			action := f.attr["action"]
			if action == "" {
				action = v.path
			}
			values := submitted(f)
			if f.attr["method"] == "get" {
				to := action + "?" + values.Encode()
				links["form "+digits.ReplaceAllString(action, "N")] = func() answer { return v.b.see(t, to) }
				continue
			}
			if f.attr["method"] != "post" {
				t.Errorf("%s: a form without a method", what)
			}
			for _, button := range f.all("button") {
				with := maps.Clone(values)
				if name := button.attr["name"]; name != "" {
					with[name] = []string{button.attr["value"]}
				}
				key := digits.ReplaceAllString(action, "N") + " " + button.attr["value"] + " " + with.Get("kind")
				if _, there := forms[key]; !there || v.state == "usual" {
					forms[key] = form{v.b, action, with}
				}
			}
		}
	}

	holdGerman(t, all)

	files, err := os.ReadDir("pages")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name := strings.TrimSuffix(f.Name(), ".html")
		if name != "layout" && name != "parts" && len(drawn[name]) < 2 {
			t.Errorf("the page %s is drawn in the states %v only", name, slices.Sorted(maps.Keys(drawn[name])))
		}
	}

	for _, key := range slices.Sorted(maps.Keys(links)) {
		a := links[key]()
		if a.code != 200 && a.code != 303 && !(strings.HasPrefix(key, "form ") && a.code == 422) {
			t.Errorf("the link %s: status %d: %.200s", a.what, a.code, a.problem())
		}
	}

	keys := slices.Sorted(maps.Keys(forms))
	last := func(key string) bool { return strings.HasPrefix(key, "/bin ") || strings.HasPrefix(key, "/example") }
	slices.SortStableFunc(keys, func(a, b string) int { // what takes things away comes last
		if last(a) == last(b) {
			return 0
		}
		if last(b) {
			return -1
		}
		return 1
	})
	for _, key := range keys {
		f := forms[key]
		a := f.b.post(t, f.action, f.values)
		// /example has nothing to fill in with on these benches
		ok := a.code == 303 || a.code == 200 || a.code == 409 || a.code == 422 || f.action == "/example" && strings.Contains(a.problem(), "without example data")
		if !ok {
			t.Errorf("the form %s, sent as it stands: status %d: %.300s", key, a.code, a.problem())
		}
	}
	t.Logf("%d visits, %d kinds of link, %d kinds of form", len(all), len(links), len(forms))
}

// TestWhatIsWrittenIsNotRunAsHTML keeps names, notes and questions as words.
func TestWhatIsWrittenIsNotRunAsHTML(t *testing.T) {
	s := stocked(t)
	const bad = `<script>alert("1")</script><img src=x onerror=alert(1)>`
	s.post(t, "/shelf/metals", url.Values{"name": {bad}, "alloy": {"C26000"}, "thickness": {"1"}, "note": {bad}, "lot": {bad}}).to(t)
	n := s.plan(t, s.setForm(map[string][]string{"name": {bad}, "question": {bad}, "do": {"make"}}))
	s.post(t, fmt.Sprintf("/swatches/%d/note", s.blank), url.Values{"note": {bad + "</textarea>"}}).to(t)
	s.post(t, "/taps", url.Values{"client": {"x"}, "kind": {"noted"}, "of": {fmt.Sprintf("%d:0", s.planned[0].ID)}, "note": {bad}}).to(t)
	for _, path := range []string{"/shelf", fmt.Sprintf("/sets/%d", n), fmt.Sprintf("/sets/%d/bench", n), "/sets", "/", "/findings", "/swatches?by=set",
		fmt.Sprintf("/swatches/%d", s.blank), fmt.Sprintf("/swatches/%d", s.planned[0].Swatch), "/sets?said=" + url.QueryEscape(bad), "/find?q=" + url.QueryEscape(bad), "/" + url.PathEscape(bad)} {
		doc := s.see(t, path).doc(t)
		holdPage(t, path, doc)
		if len(doc.all("[onerror]")) > 0 || len(doc.all("main script")) > 0 {
			t.Errorf("%s: what was written became part of the page", path)
		}
	}
}

// TestWorkUnderWayCanBeStopped shows long work on every page, with its button.
func TestWorkUnderWayCanBeStopped(t *testing.T) {
	s := stocked(t)
	ctx, stop := context.WithCancel(t.Context())
	s.web.Progress("Drawing photographs", 3, 100, stop)
	aside := s.see(t, "/sets").doc(t).one("aside.work")
	if !strings.Contains(aside.words(), "Drawing photographs: 3 of 100") || aside.one("form[action='/progress/stop']") == nil {
		t.Errorf("the page says %q", aside.words())
	}
	s.post(t, "/progress/stop", url.Values{}).to(t)
	if ctx.Err() == nil {
		t.Error("Stop did not stop the work")
	}
	s.web.Progress("Drawing photographs", 100, 100, nil)
	if s.see(t, "/sets").doc(t).one("aside.work") != nil {
		t.Error("the page still shows work that has ended")
	}
}

// What a menu hands in does not depend on the language it is shown in: without a value a
// browser hands in the text (HTML, 4.10.10, the option element).
func TestEveryChoiceHasItsValue(t *testing.T) {
	files, err := filepath.Glob("pages/*.html")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	option := regexp.MustCompile(`<option((?:[^>{]|\{\{.*?\}\})*)>`)
	for _, file := range files {
		src, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range option.FindAllStringSubmatch(string(src), -1) {
			if !strings.Contains(m[1], "value=") {
				t.Errorf("%s: %s has no value", file, m[0])
			}
		}
	}
}
