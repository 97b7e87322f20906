package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/url"
	"strings"
	"testing"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/datamatrix"

	"aerugo/internal/studio"
)

// storagePages are the addresses of the example's places and of finding.
var storagePages = []string{"/storage", "/storage/1", "/storage/2", "/storage/2/put", "/storage/6/put", "/find?q=14", "/find?q=brass", "/find?q=blue-green", "/labels?of=places", "/engrave?numbers=1-3", "/board?set=2"}

// storageVisits are the states of the pages about where things are.
func storageVisits(t *testing.T, empty, full *bench, usual *stock) []visit {
	t.Helper()
	u, of := usual.bench, fmt.Sprintf
	n := usual.planned[0].Swatch
	unseen := stocked(t) // nothing in it is photographed
	drawer := u.post(t, "/storage", url.Values{"client": {"p1"}, "name": {"Drawer 2"}, "kind": {"keeps"}, "rows": {"2"}, "columns": {"3"}}).to(t)
	drawer, _, _ = strings.Cut(drawer, "?")
	u.post(t, drawer+"/put", url.Values{"client": {"m1"}, "numbers": {of("%d", n)}, "cell": {"b2"}}).to(t)
	round := u.post(t, drawer+"/rounds", url.Values{"client": {"r1"}}).to(t)
	u.post(t, round+"/seen", url.Values{"client": {"s1"}, "numbers": {of("%d", usual.blank)}}).to(t)
	over := u.post(t, drawer+"/rounds", url.Values{"client": {"r2"}}).to(t)
	u.post(t, over+"/end", url.Values{}).to(t)
	return []visit{
		{"storage", "empty", empty, "/storage", nil, 200, "Where things are"},
		{"storage", "usual", u, "/storage", nil, 200, "Where things are"},
		{"storage", "full", full, "/storage", nil, 200, "Where things are"},
		{"storage", "refused", empty, "/storage", url.Values{"client": {"x"}, "name": {""}, "rows": {"many"}}, 422, "Where things are"},
		{"storage_place", "usual", u, drawer, nil, 200, "Drawer 2"},
		{"storage_place", "full", full, "/storage/1", nil, 200, "Cabinet by the door"},
		{"storage_place", "lent", full, "/storage/6", nil, 200, "Lent to Odile"},
		{"storage_place", "refused", u, drawer, url.Values{"name": {"Drawer"}, "kind": {"keeps"}, "rows": {"1"}, "columns": {"1"}}, 422, "Drawer 2"},
		{"storage_place", "still full", u, drawer, url.Values{"do": {"close"}}, 422, "Drawer 2"},
		{"storage_place", "not there", empty, "/storage/1", nil, 404, "Not here"},
		{"storage_put", "usual", u, drawer + "/put", nil, 200, "Put away: Drawer 2"},
		{"storage_put", "lent", full, "/storage/6/put", nil, 200, "Put away: Lent to Odile"},
		{"storage_put", "refused", u, drawer + "/put", url.Values{"client": {"x"}, "numbers": {"some"}}, 422, "Put away: Drawer 2"},
		{"storage_put", "no such cell", u, drawer + "/put", url.Values{"client": {"x"}, "numbers": {of("%d", n)}, "cell": {"Z9"}}, 422, "Put away: Drawer 2"},
		{"storage_round", "usual", u, round, nil, 200, "What is missing"},
		{"storage_round", "over", u, over, nil, 200, "What is missing"},
		{"storage_round", "refused", u, over + "/seen", url.Values{"client": {"x"}, "numbers": {of("%d", n)}}, 422, "What is missing"},
		{"storage_round", "not there", empty, "/rounds/1", nil, 404, "Not here"},
		{"labels", "empty", empty, "/labels", nil, 200, "Labels on ready-cut sheets"},
		{"labels", "usual", u, of("/labels?set=%d&format=own", usual.set), nil, 200, "Labels on ready-cut sheets"},
		{"words", "ready-cut labels", u, of("/labels.pdf?set=%d&as=page", usual.set), nil, 200, "Labels"},
		{"words", "of a place", u, "/labels.pdf?of=places&format=letter-30&as=page", nil, 200, "Labels"},
		{"words", "of bottles", u, "/labels.pdf?of=bottles&format=a4-65&as=page", nil, 200, "Labels"},
		{"words", "a test page", u, "/labels/test.pdf?format=a4-14&as=page", nil, 200, "Test page for labels"},
		{"words", "a board", u, of("/board.pdf?set=%d&as=page", usual.set), nil, 200, "How long"},
		{"fail", "labels of nothing", u, "/labels.pdf", nil, 422, "did not work"},
		{"fail", "labels that overlap", u, of("/labels.pdf?set=%d&format=own&columns=3&rows=3&width=50&height=30&pitchx=40", usual.set), nil, 422, "did not work"},
		{"fail", "no such list", u, of("/engrave/marks.dxf?set=%d", usual.set), nil, 404, "Not here"},
		{"engrave", "empty", empty, "/engrave", nil, 200, "Numbers to stamp"},
		{"engrave", "usual", u, of("/engrave?set=%d&from=behind&high=2", usual.set), nil, 200, "Numbers to stamp"},
		{"engrave", "refused", u, "/engrave?numbers=some", nil, 422, "Numbers to stamp"},
		{"board", "empty", empty, "/board", nil, 200, "A board to hang up"},
		{"board", "usual", u, of("/board?set=%d", usual.set), nil, 200, "How long"},
		{"board", "full", full, "/board?numbers=1-6", nil, 200, ""},
		{"board", "refused", u, "/board?numbers=some", nil, 422, "A board to hang up"},
		{"find", "where it is", u, of("/find?q=%d", n), nil, 200, "Find a swatch"},
		{"find", "words", full, "/find?q=salt+brass", nil, 200, "Find a swatch"},
		{"find", "a look", full, "/find?q=blue-green&covered=covered", nil, 200, "Find a swatch"},
		{"find", "like another", u, of("/find?q=like+%d", n), nil, 200, "Find a swatch"},
		{"find", "a place", u, "/find?q=" + studio.PlaceCode(1), nil, 200, "Find a swatch"},
		{"find", "a spot", full, "/find?L=50&a=-20&b=5&from=a+spot", nil, 200, "Find a swatch"},
		{"find", "not measured", unseen.bench, of("/find?q=like+%d", unseen.blank), nil, 422, "Find a swatch"},
	}
}

// labelsPhoto is a photograph of labels beside each other.
func labelsPhoto(t *testing.T, texts ...string) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 200+300*len(texts), 400))
	for i := range img.Pix {
		img.Pix[i] = 225
	}
	for i, text := range texts {
		code, err := datamatrix.Encode(text)
		if err != nil {
			t.Fatal(err)
		}
		big, err := barcode.Scale(code, 140, 140)
		if err != nil {
			t.Fatal(err)
		}
		for y := range 140 {
			for x := range 140 {
				r, _, _, _ := big.At(x, y).RGBA()
				v := uint8(225)
				if r < 0x8000 {
					v = 30
				}
				img.SetGray(150+300*i+x, 130+y, color.Gray{v})
			}
		}
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 85}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestPutAwayThenFoundThenMissing(t *testing.T) {
	s := stocked(t)
	var n []int64
	for _, p := range s.planned[:3] {
		n = append(n, p.Swatch)
	}
	add := func(name string, more url.Values) string {
		form := url.Values{"client": {name}, "name": {name}, "kind": {"keeps"}}
		for k, v := range more {
			form[k] = v
		}
		to, _, _ := strings.Cut(s.post(t, "/storage", form).to(t), "?")
		return to
	}
	add("Cabinet", nil)
	drawer := add("Drawer 2", url.Values{"parent": {"1"}, "rows": {"2"}, "columns": {"3"}})
	box := add("Class box", nil)

	// many at once fill the grid, and the same tap again changes nothing
	put := url.Values{"client": {"k"}, "numbers": {fmt.Sprintf("%d, %s", n[0], studio.Code(n[1], studio.Back))}}
	for range 2 {
		s.post(t, drawer+"/put", put).to(t)
	}
	if moves, err := s.store.MovesOf(t.Context(), n[0]); err != nil || len(moves) != 1 {
		t.Errorf("a tap sent twice is kept %d times, %v", len(moves), err)
	}
	// a label scanned with the camera
	if to := s.upload(t, drawer+"/scan", "photo", labelsPhoto(t, studio.Code(n[2], studio.Front)), url.Values{"client": {"scan"}}).to(t); !strings.Contains(to, drawer) {
		t.Errorf("the scan leads to %s", to)
	}
	if a := s.see(t, fmt.Sprintf("/find?q=%d", n[1])); !strings.Contains(a.doc(t).one(".answer").words(), fmt.Sprintf("Cabinet, Drawer 2, cell A2; left of it %d, right of it %d.", n[0], n[2])) {
		t.Errorf("it is said to be here: %s", a.doc(t).one(".answer").words())
	}
	// the label of a place goes on there
	if to := s.post(t, drawer+"/put", url.Values{"client": {"go"}, "numbers": {studio.PlaceCode(3)}}).to(t); !strings.HasPrefix(to, box+"/put") {
		t.Errorf("the box's label leads to %s", to)
	}
	round := s.post(t, drawer+"/rounds", url.Values{"client": {"round"}}).to(t)
	s.upload(t, round+"/scan", "photo", labelsPhoto(t, studio.Code(n[0], studio.Front), studio.Code(s.blank, studio.Front)), url.Values{"client": {"seen"}}).to(t)
	words := s.see(t, round).doc(t).one("main").words()
	for _, want := range []string{"1 seen, 2 still to see.", fmt.Sprint(n[1]), fmt.Sprintf("%d should be: nowhere yet.", s.blank)} {
		if !strings.Contains(words, want) {
			t.Errorf("the round does not say %q: %s", want, words)
		}
	}
	if a := s.upload(t, drawer+"/scan", "photo", []byte("no photograph"), url.Values{"client": {"bad"}}); a.code != 422 || a.problem() == "" {
		t.Errorf("what is no photograph: status %d, %q", a.code, a.problem())
	}
}

func TestFindShowsWhatWasWritten(t *testing.T) {
	s := stocked(t)
	s.post(t, fmt.Sprintf("/swatches/%d/note", s.blank), url.Values{"note": {"kept under the window"}}).to(t)
	found := func(q string) []string {
		var out []string
		for _, x := range s.see(t, "/find?q="+url.QueryEscape(q)).doc(t).all(".tile .no") {
			out = append(out, x.words())
		}
		return out
	}
	if got := found("window kept"); len(got) != 1 || got[0] != fmt.Sprint(s.blank) {
		t.Errorf("by its note: %q", got)
	}
	if got := found(studio.Code(s.blank, studio.Front)); len(got) != 1 {
		t.Errorf("by its label: %q", got)
	}
	if got := found("plaid"); len(got) != 0 {
		t.Errorf("by a word that stands nowhere: %q", got)
	}
	if a := s.see(t, "/swatches/find?code=14"); a.to(t) != "/find?q=14" {
		t.Errorf("the old address leads to %s", a.to(t))
	}
}

// What is printed of a set says what was ticked, and no more.
func TestLabelsSayWhatWasTicked(t *testing.T) {
	s := stocked(t)
	n := s.planned[0].Swatch
	words := func(q string) string {
		return s.see(t, fmt.Sprintf("/labels.pdf?as=page&numbers=%d&%s", n, q)).doc(t).one("main").words()
	}
	all := words("")
	for _, want := range []string{studio.Code(n, studio.Front), studio.Code(n, studio.Back), "front", "back", "Salt and fumes"} {
		if !strings.Contains(all, want) {
			t.Errorf("the labels don't say %q: %s", want, all)
		}
	}
	few := words("chosen=yes&on-metal=yes")
	for _, not := range []string{studio.Code(n, studio.Front), "back", "Salt and fumes"} {
		if strings.Contains(few, not) {
			t.Errorf("the labels say %q, which was not ticked: %s", not, few)
		}
	}
	a := s.see(t, fmt.Sprintf("/labels.pdf?numbers=%d&format=letter-30&start=30", n))
	if a.code != 200 || !bytes.HasPrefix(a.body, []byte("%PDF")) {
		t.Errorf("status %d, %.20q", a.code, a.body)
	}
	list := s.see(t, fmt.Sprintf("/engrave/marks.txt?numbers=%d", n))
	if string(list.body) != fmt.Sprintf("%[1]dF\n%[1]dB\n", n) {
		t.Errorf("the list to stamp is %q", list.body)
	}
}
