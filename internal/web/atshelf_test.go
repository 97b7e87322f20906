package web_test

import (
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// shortSection is where a page says what is short on the shelf.
const shortSection = "section[aria-label='What is short on the shelf']"

// A set that is planned takes first; the next one is told what it leaves, in one line,
// and its shopping list buys for both.
func TestPlanAsksTheShelf(t *testing.T) {
	s := stocked(t)
	main := func(path string) string { return s.see(t, path).doc(t).one("main").words() }
	short := func(path string) string { // the lines that say what is short
		if x := s.see(t, path).doc(t).one(shortSection); x != nil {
			return x.words()
		}
		return ""
	}
	set := fmt.Sprintf("/sets/%d", s.set)
	if words := main(set); !strings.Contains(words, "Not counted, so nobody knows whether there is enough: Salt; Ammonia water; ") || short(set) != "" {
		t.Errorf("with nothing counted it says %q", short(set))
	}
	// what one set takes of salt, by the shopping list's own reckoning
	w, err := s.store.Swatch(t.Context(), s.planned[0].Swatch)
	if err != nil {
		t.Fatal(err)
	}
	takes := 0.0
	for _, x := range s.planned {
		for _, step := range x.Steps {
			if step.SupplyID == s.salt {
				takes += step.Amount.Value * w.FacesM2(x.Faces)
			}
		}
	}
	if takes == 0 {
		t.Fatal("the set takes no salt")
	}
	buy := func(client, kind string, g float64, more ...string) {
		t.Helper()
		f := url.Values{"client": {client}, "kind": {kind}, "amount": {fmt.Sprintf("%.4f", g)}, "unit": {"g"}, "lot": {"A"}}
		for i := 0; i+1 < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		s.post(t, fmt.Sprintf("/shelf/supplies/%d/stock", s.salt), f).to(t)
	}
	buy("a", "bought", takes*1.5)
	if words := short(set); words != "" {
		t.Errorf("half as much again is there, and it says %s", words)
	}
	f := s.setForm(map[string][]string{"name": {"How long again"}, "do": {"preview"}})
	page := s.post(t, "/sets", f)
	line := page.doc(t).one(shortSection)
	if line == nil || !strings.Contains(line.words(), "Salt: ") || !strings.Contains(line.words(), "needed, ") || !strings.Contains(line.words(), "left after How long") {
		t.Fatalf("the preview says %s", page.doc(t).one("main").words())
	}
	list := ""
	for _, a := range line.all("a[href]") {
		if strings.HasPrefix(a.attr["href"], "/shopping?") {
			list = a.attr["href"]
		}
	}
	if !strings.Contains(list, fmt.Sprintf("set=%d", s.set)) || !strings.Contains(list, fmt.Sprintf("need=%d%%3A", s.salt)) {
		t.Fatalf("the list is %q", list)
	}
	if words := main(list); !strings.Contains(words, "For what you are planning: How long again") || !strings.Contains(words, "Salt") {
		t.Errorf("the list says %s", words)
	}
	f.Set("do", "make")
	second := s.plan(t, f)
	if words := short(fmt.Sprintf("/sets/%d", second)); !strings.Contains(words, "left after How long") {
		t.Errorf("the second set says %s", words)
	}
	if words := short(set); words != "" {
		t.Errorf("the first set was planned first, and says %s", words)
	}
	if words := main(fmt.Sprintf("/shelf/supplies/%d/stock", s.salt)); !strings.Contains(words, "Promised") || !strings.Contains(words, "to How long again") || !strings.Contains(words, "so 0 g are free") {
		t.Errorf("the stock's page says %s", words)
	}
	// what is past its day is not there
	buy("b", "bought", takes*9, "lot", "B", "expires", "2020-01-31")
	if words := main(fmt.Sprintf("/sets/%d", second)); !strings.Contains(words, "left after How long") || !strings.Contains(words, "past their day, not counted") {
		t.Errorf("with a lot past its day it says %s", words)
	}
	buy("c", "bought", takes, "lot", "C", "expires", "2099-01-31")
	if words := short(fmt.Sprintf("/sets/%d", second)); words != "" {
		t.Errorf("with enough it says %s", words)
	}
}

// With the shelf asked, what can't be made is left out and said so; predictions are the
// same.
func TestProposalsFromTheShelf(t *testing.T) {
	b := foreseeable(t)
	supplies, err := b.store.Supplies(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var ammonia studio.Supply
	for _, x := range supplies {
		if x.Material == "ammonia-water" {
			ammonia = x
		}
	}
	ask := "/next?set=1&toward=swatch&swatch=3&n=2"
	answer := func(more string) string {
		t.Helper()
		words := ""
		for range 60 {
			words = b.see(t, ask+more).doc(t).one("main").words()
			if !strings.Contains(words, "Working it out") {
				break
			}
		}
		return words
	}
	free := answer("")
	if strings.Contains(free, "want of stock") {
		t.Errorf("nobody asked, and it says %s", free)
	}
	if words := answer("&shelf=yes"); !strings.Contains(words, "Nothing was left out for want of stock") {
		t.Errorf("with nothing counted it says %s", words)
	}
	b.post(t, fmt.Sprintf("/shelf/supplies/%d/stock", ammonia.ID), url.Values{"client": {"a"}, "kind": {"counted"}, "amount": {"0"}, "unit": {"mL"}}).to(t)
	a := b.see(t, ask+"&shelf=yes")
	if a.code != 422 || !strings.Contains(a.problem(), "Nothing may be tried with what is on the shelf. "+ammonia.Name) {
		t.Errorf("with no ammonia: status %d, %q", a.code, a.problem())
	}
	words := answer("")
	if !strings.Contains(words, "Not from the shelf: "+ammonia.Name) || !strings.Contains(words, "The shelf is not enough for it.") {
		t.Errorf("without asking it says %s", words)
	}
	best := func(text string) string {
		_, after, _ := strings.Cut(text, "Best so far")
		before, _, _ := strings.Cut(after, "Make next")
		return before
	}
	if best(words) == "" || best(words) != best(free) {
		t.Errorf("the shelf changed what is known: %q, was %q", best(words), best(free))
	}
}

// A version that nothing uses goes into the bin and comes back; one in use says what
// uses it.
func TestVersionGoesIntoTheBin(t *testing.T) {
	s := stocked(t)
	recipe := fmt.Sprintf("/recipes/%d", s.recipe)
	s.post(t, recipe, recipeForm("Salt and fumes", line{kind: "rinse"})).to(t)
	versions, err := s.store.Versions(t.Context(), s.recipe)
	if err != nil || len(versions) != 2 {
		t.Fatalf("%d versions, %v", len(versions), err)
	}
	old, newer := versions[0].ID, versions[1].ID
	if words := s.see(t, fmt.Sprintf("%s?v=%d", recipe, old)).doc(t).one("main").words(); !strings.Contains(words, "This version stays: something uses it") || !strings.Contains(words, "The set How long uses it.") {
		t.Errorf("the page says %s", words)
	}
	if a := s.post(t, "/bin", url.Values{"kind": {"version"}, "id": {id(old)}}); a.code != 409 || !strings.Contains(a.problem(), "The set How long uses it.") {
		t.Errorf("status %d, %q", a.code, a.problem())
	}
	if to := s.post(t, "/bin", url.Values{"kind": {"version"}, "id": {id(newer)}}).to(t); !strings.HasPrefix(to, recipe+"?") {
		t.Errorf("it leads to %s", to)
	}
	if words := s.see(t, recipe).doc(t).one("main").words(); !strings.Contains(words, "Version 1 of 1") {
		t.Errorf("the recipe says %s", words)
	}
	if words := s.see(t, fmt.Sprintf("%s?v=%d", recipe, newer)).doc(t).one("main").words(); !strings.Contains(words, "This version is in the bin.") {
		t.Errorf("its page says %s", words)
	}
	if words := s.see(t, "/studio").doc(t).one("main").words(); !strings.Contains(words, "Version: Salt and fumes, version 2") {
		t.Errorf("the bin says %s", words)
	}
	s.post(t, "/bin/back", url.Values{"kind": {"version"}, "id": {id(newer)}}).to(t)
	if words := s.see(t, recipe).doc(t).one("main").words(); !strings.Contains(words, "Version 2 of 2") {
		t.Errorf("given back, the recipe says %s", words)
	}
}

// The printer's correction is typed once.
func TestCorrectionOfThePrinterIsKept(t *testing.T) {
	s := stocked(t)
	if a := s.post(t, "/labels/correction", url.Values{"right": {"40"}, "down": {"0"}}); a.code != 422 || !strings.Contains(a.problem(), "more than a printer is off") {
		t.Errorf("status %d, %q", a.code, a.problem())
	}
	labels := func(more string) string { // without the second it was made in
		t.Helper()
		a := s.see(t, fmt.Sprintf("/labels.pdf?set=%d%s", s.set, more))
		if a.code != 200 {
			t.Fatalf("%s: status %d", a.what, a.code)
		}
		return madeAt.ReplaceAllString(string(a.body), "")
	}
	plain := labels("")
	s.post(t, "/labels/correction", url.Values{"right": {"−1,5"}, "down": {"0.75"}}).to(t)
	doc := s.see(t, "/labels").doc(t)
	if right, down := doc.one("[name=right]").attr["value"], doc.one("[name=down]").attr["value"]; right != "−1.5" || down != "0.75" {
		t.Errorf("the page has %q and %q", right, down)
	}
	if moved := labels(""); moved == plain || moved != labels("&right=-1.5&down=0.75") {
		t.Error("the kept correction does not move the labels as the typed one does")
	}
	if labels("&right=&down=") != plain {
		t.Error("emptied, the labels are moved all the same")
	}
}

// madeAt is when a PDF was made (ISO 32000-1, 7.9.4).
var madeAt = regexp.MustCompile(`\(D:[0-9]{14}[^)]*\)`)
