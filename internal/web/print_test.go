package web_test

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// TestThePrintedSheets asks for every sheet on both papers.
func TestThePrintedSheets(t *testing.T) {
	t.Parallel()
	s, _ := lived(t)
	// points of 1/72 in: A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in
	for sheet, size := range map[string][2]string{"a4": {"595.28", "841.89"}, "letter": {"612.00", "792.00"}, "LETTER": {"612.00", "792.00"}, "": {"595.28", "841.89"}} {
		for _, path := range []string{fmt.Sprintf("/sets/%d/labels.pdf", s.set), fmt.Sprintf("/sets/%d/bench.pdf", s.set), fmt.Sprintf("/recipes/%d/card.pdf", s.recipe), fmt.Sprintf("/recipes/%d/card.pdf?v=%d", s.recipe, s.version)} {
			mark := "?"
			if strings.Contains(path, "?") {
				mark = "&"
			}
			a := s.see(t, path+mark+"sheet="+sheet)
			if a.code != 200 || a.header.Get("Content-Type") != "application/pdf" || !bytes.HasPrefix(a.body, []byte("%PDF-")) || !bytes.Contains(a.body[max(0, len(a.body)-32):], []byte("%%EOF")) {
				t.Errorf("%s: status %d, %s, %.8q", a.what, a.code, a.header.Get("Content-Type"), a.body)
				continue
			}
			upright, lying := "[0 0 "+size[0]+" "+size[1]+"]", "[0 0 "+size[1]+" "+size[0]+"]"
			if !bytes.Contains(a.body, []byte(upright)) && !bytes.Contains(a.body, []byte(lying)) {
				t.Errorf("%s: no page of %s points", a.what, upright)
			}
			if d := a.header.Get("Content-Disposition"); !strings.HasPrefix(d, "inline; filename=") || !strings.HasSuffix(d, `.pdf"`) {
				t.Errorf("%s: %q", a.what, d)
			}
		}
	}
	for _, path := range []string{"/sets/999/labels.pdf", "/sets/x/bench.pdf", "/recipes/999/card.pdf", fmt.Sprintf("/recipes/%d/card.pdf?v=999", s.recipe), fmt.Sprintf("/recipes/%d/card.pdf?v=x", s.recipe)} {
		if a := s.see(t, path); a.code != 404 || a.problem() == "" {
			t.Errorf("%s: status %d: %s", path, a.code, a.problem())
		}
	}
	for start, ok := range map[string]bool{"1": true, "3": true, "x": false, "2.5": false, "-4": false, "100000": false} {
		a := s.see(t, fmt.Sprintf("/sets/%d/labels.pdf?start=%s", s.set, start))
		if ok != (a.code == 200) || !ok && (a.code != 422 || a.problem() == "") {
			t.Errorf("labels from %s: status %d: %s", start, a.code, a.problem())
		}
	}
}

// TestARecipeThatMustNotBeDoneIsNotPrinted: kept before anyone checked it, it
// is shown with its reason, and neither a card nor a set comes of it.
func TestARecipeThatMustNotBeDoneIsNotPrinted(t *testing.T) {
	b := stopped(t)
	page := b.see(t, "/recipes/1").doc(t)
	if !strings.Contains(page.one(".problem").words(), "ydrogen sulfide") {
		t.Errorf("the recipe's page says %q", page.one(".problem").words())
	}
	for _, a := range page.all("a[href]") {
		if strings.Contains(a.attr["href"], "/card") {
			t.Errorf("the page offers %s", a.attr["href"])
		}
	}
	for _, path := range []string{"/recipes/1/card.pdf?sheet=a4", "/recipes/1/card.pdf?sheet=letter", "/recipes/1/card"} {
		a := b.see(t, path)
		if a.code != 422 || !strings.Contains(a.problem(), "ydrogen sulfide") || bytes.Contains(a.body, []byte("%PDF-")) {
			t.Errorf("%s: status %d: %s", path, a.code, a.problem())
		}
	}
	metal, err := b.store.SaveMetal(t.Context(), studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
	if err != nil {
		t.Fatal(err)
	}
	a := b.post(t, "/sets", url.Values{"name": {"No"}, "metal": {id(metal.ID)}, "front": {"1"}, "back": {"none"}, "width": {"50"}, "height": {"50"}, "replicates": {"1"},
		"blanks": {"0"}, "seed": {"1"}, "kind0": {"loading"}, "step0": {"0"}, "levels0": {"5, 10"}, "do": {"make"}})
	if a.code != 422 || !strings.Contains(a.problem(), "ydrogen sulfide") {
		t.Errorf("a set of it: status %d: %s", a.code, a.problem())
	}
}
