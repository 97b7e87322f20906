package web_test

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// lessonOf keeps a class of eight adults outdoors that makes a version's swatches.
func lessonOf(t *testing.T, b *bench, version, metal int64) studio.Class {
	t.Helper()
	c, err := b.store.SaveClass(t.Context(), studio.Class{Name: "Blue for eight", Aim: "Two swatches, one change", Teacher: "Ada", Starts: time.Date(2026, 3, 14, 10, 0, 0, 0, time.Local), Minutes: 180, Heads: 8,
		Who: studio.ForAdults, Where: studio.Outdoors, Recipes: []studio.ClassRecipe{{VersionID: version, PerHead: 2, MetalID: metal}}})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// classPaperVisits are the papers of a class in their states. never is a studio whose first
// recipe holds what must never meet.
func classPaperVisits(t *testing.T, s *stock, empty, full, never *bench) []visit {
	t.Helper()
	of := fmt.Sprintf
	c := lessonOf(t, s.bench, s.version, s.metal)
	stopped := lessonOf(t, never, 1, 1)
	filled := lessonOf(t, full, 1, 1)
	u := s.bench
	var all []visit
	for name, title := range map[string]string{"kit": "Kit: ", "risk": "Risk assessment: ", "handout": "Handout: ", "teacher": "Teacher’s sheet: "} {
		code, said := 422, "did not work"
		if name == "risk" {
			code, said = 200, title // it says what must never meet
		}
		all = append(all,
			visit{"class_" + name, "usual", u, of("/classes/%d/%s", c.ID, name), nil, 200, title},
			visit{"class_" + name, "full", full, of("/classes/%d/%s", filled.ID, name), nil, 200, title},
			visit{"class_" + name, "what must never meet", never, of("/classes/%d/%s", stopped.ID, name), nil, code, said},
			visit{"class_" + name, "not there", empty, of("/classes/9/%s", name), nil, 404, "Not here"})
	}
	return append(all,
		visit{"class_kit", "refused", u, of("/classes/%d/kit", c.ID), url.Values{"addwhat": {"biscuits"}, "addcount": {"many"}}, 422, "Kit: "},
		visit{"class_risk", "refused", u, of("/classes/%d/risk", c.ID), url.Values{"key": {"own-1"}, "whohow": {"all"}}, 422, "Risk assessment: "})
}

// classPaperPages keeps a class of the example's and lists its papers.
func classPaperPages(t *testing.T, b *bench) []string {
	t.Helper()
	c := lessonOf(t, b, 1, 1)
	var out []string
	for _, name := range []string{"kit", "risk", "handout", "teacher"} {
		out = append(out, fmt.Sprintf("/classes/%d/%s", c.ID, name))
	}
	return out
}

// What the teacher writes on the pages is kept, stands on the paper, and goes again.
func TestKitAndRiskAreKeptAsWritten(t *testing.T) {
	s := stocked(t)
	c := lessonOf(t, s.bench, s.version, s.metal)
	kit, risk := fmt.Sprintf("/classes/%d/kit", c.ID), fmt.Sprintf("/classes/%d/risk", c.ID)

	form := submitted(s.see(t, kit).doc(t).one(`form[action="` + kit + `"]`))
	goggles := ""
	for k, v := range form {
		if v[0] == "splash goggles" {
			goggles = strings.TrimPrefix(k, "what")
		}
		if v[0] == "apron" {
			form.Del("bring" + strings.TrimPrefix(k, "what"))
		}
	}
	form.Set("count"+goggles, "2")
	form.Set("addwhat", "Biscuits")
	form.Set("addcount", "3")
	form.Set("addper", "1")
	s.post(t, kit, form).to(t)
	kept, err := s.store.Class(t.Context(), c.ID)
	if err != nil || len(kept.Kit) != 3 {
		t.Fatalf("kept %+v, %v", kept.Kit, err)
	}
	paper := s.see(t, kit+".pdf?as=page").doc(t).one("main").words()
	for _, want := range []string{"18 × splash goggles", "24 × Biscuits"} { // 2 x 8 x 1.1 = 17.6; 3 x 8
		if !strings.Contains(paper, want) {
			t.Errorf("the kit does not say %q", want)
		}
	}
	if strings.Contains(paper, "apron") {
		t.Error("what was struck out is on the list")
	}

	s.post(t, risk, url.Values{"key": {"slips"}, "whohow": {"All."}, "now": {"Mats."}, "more": {"A rail."}, "by": {"Ada"}, "till": {"Friday"}}).to(t)
	s.post(t, risk, url.Values{"key": {"own-1"}, "hazard": {"The dog"}, "whohow": {"It drinks from bowls."}}).to(t)
	paper = s.see(t, risk+".pdf?as=page").doc(t).one("main").words()
	for _, want := range []string{"Mats.", "A rail.", "The dog", "It drinks from bowls.", "DRAFT for the responsible person"} {
		if !strings.Contains(paper, want) {
			t.Errorf("the draft does not say %q", want)
		}
	}
	s.post(t, risk, url.Values{"key": {"own-1"}, "take": {"1"}}).to(t)
	if text := s.see(t, risk).doc(t).one("main").words(); strings.Contains(text, "The dog") {
		t.Error("what was taken out is still there")
	}
	if a := s.post(t, risk, url.Values{"key": {"nothing"}, "now": {"x"}}); a.code != 404 {
		t.Errorf("a hazard that is not there: %d", a.code)
	}
}

// No paper that would teach it is shown or printed when something must never meet.
func TestNoClassPaperOfWhatMustNeverMeet(t *testing.T) {
	b := serve(t)
	metal, err := b.store.SaveMetal(t.Context(), studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	never := stopPair{materials: []string{"liver-of-sulfur", "vinegar"}}
	never.keep(t, b, metal.ID) // X03, hydrogen sulfide
	c := lessonOf(t, b, 1, metal.ID)
	for _, name := range []string{"kit", "kit.pdf", "shopping.pdf", "handout", "handout.pdf", "handout.pdf?as=page", "teacher", "teacher.pdf"} {
		a := b.see(t, fmt.Sprintf("/classes/%d/%s", c.ID, name))
		if a.code != 422 || a.problem() == "" || bytes.HasPrefix(a.body, []byte("%PDF")) {
			t.Errorf("%s: status %d, %q", name, a.code, a.problem())
		}
	}
	if a := b.see(t, fmt.Sprintf("/classes/%d/risk", c.ID)); a.code != 200 || !strings.Contains(a.doc(t).one("main").words(), "must not be held") {
		t.Errorf("the risk assessment does not say it: %d", a.code)
	}
}
