package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"
)

// TestAClaimOpensItsSwatches: the example's first ladder is read, the first sentence
// on its page is tapped, and faces of that set stand side by side; a wanted look gets
// its hours. The example's truth is invented: more time over ammonia is bluer.
func TestAClaimOpensItsSwatches(t *testing.T) {
	t.Parallel()
	b := serve(t)
	example(t, b, 40)
	for _, width := range []int{1280, 390} {
		tb := open(t, b.url, "claims", width)
		for _, path := range []string{"/findings", "/findings/2", "/findings/1?want=none", "/findings/1"} {
			tb.visit(path)
			tb.noSideways()
			for _, x := range tb.violations() {
				t.Errorf("%s, %d px: %s", path, width, x)
			}
		}
		tb.shot("finding")
		words := js[string](tb, `document.querySelector('.claim').innerText`)
		if !strings.Contains(words, "Fuming time from 30 min to") {
			t.Fatalf("%d px: the first claim is %q", width, words)
		}
		if js[bool](tb, `[...document.querySelectorAll('main details')].some(d => d.open)`) {
			t.Errorf("%d px: numbers stand open above the fold", width)
		}
		tb.pressThrough(words)
		tb.wait("the faces side by side", `location.pathname === '/compare'`)
		if n := js[int](tb, `document.querySelectorAll('.six .tile').length`); n < 4 {
			t.Errorf("%d px: %d faces are compared", width, n)
		}
		tb.visit("/findings/1")
		tb.fill("want", "4")
		tb.pressThrough("Say when")
		if text := js[string](tb, `document.querySelector('.finding').innerText`); !strings.Contains(text, "To look like swatch 4: ") {
			t.Errorf("%d px: %q", width, text)
		}
	}
}

// TestSaltSeenThroughTheLidIsExplained: what was seen of the salt is asked what it goes
// by, and one face seen is said to be too few.
func TestSaltSeenThroughTheLidIsExplained(t *testing.T) {
	s := stocked(t)
	page := fmt.Sprintf("/findings/%d", s.set)
	if text := s.says(t, page); strings.Contains(text, "How soon the salt dissolves") {
		t.Error("salt that nobody watched is explained")
	}
	s.fume(t, "go", s.planned[0].ID)
	s.pass(90 * time.Minute)
	s.post(t, fmt.Sprintf("/chambers/%d/log", s.chamber), url.Values{"client": {"look"}, "kind": {"seen"}, "treatment": {fmt.Sprint(s.planned[0].ID)}, "face": {"front"}, "saw": {"dissolved"}}).to(t)
	wants(t, "the finding", s.says(t, page), "How soon the salt dissolves", "Too few faces were watched", "seen to on 1")
}
