package web_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"

	"github.com/PuerkitoBio/goquery"
)

// TestASeatSeesOnlyTheClass asks for every registered route as a student's phone.
func TestASeatSeesOnlyTheClass(t *testing.T) {
	c := classroomOf(t, 2)
	ana := c.sits(t, 1, "Ana")
	c.sits(t, 2, "")
	mine, theirs := c.give(t, 0, 1), c.give(t, 1, 2)
	foreign, _ := c.photograph(t, theirs.Swatch, studio.Front, 0)
	own := []string{"GET /live", "GET /clock", "POST /lightness", "POST /language", "GET /join", "POST /join"}
	fill := regexp.MustCompile(`\{[a-z0-9]+\}`)
	asked := 0
	for _, pattern := range c.web.Patterns() {
		method, path, ok := strings.Cut(pattern, " ")
		if !ok { // the page of no page
			method, path = "GET", "/no-such-page"
		}
		if slices.Contains(own, pattern) || strings.HasPrefix(path, "/seat") || strings.HasPrefix(path, "/static/") || strings.HasPrefix(path, "/words") && strings.HasSuffix(path, ".js") {
			continue
		}
		path = strings.TrimSuffix(fill.ReplaceAllString(path, "1"), "{$}")
		var form url.Values
		if method == "POST" {
			form = url.Values{}
		}
		a := ana.ask(t, method, path, form)
		if a.code != http.StatusForbidden || !bytes.Contains(a.body, []byte("shows the class only")) {
			t.Errorf("%s: status %d, want 403 and why: %.120s", pattern, a.code, a.body)
		}
		asked++
	}
	if asked < 100 {
		t.Errorf("only %d routes were asked for", asked)
	}
	// its own are there, those of another seat are not
	for path, want := range map[string]int{
		"/seat": 200, "/seat/board": 200, "/seat/card": 200, "/seat/card.pdf": 200, "/seat/card.pdf?as=page": 200, "/seat/about": 200, "/seat/mine.zip": 200, "/clock": 200,
		fmt.Sprintf("/seat/swatches/%d", mine.Swatch): 200, fmt.Sprintf("/seat/swatches/%d", theirs.Swatch): 404,
		fmt.Sprintf("/seat/photos/%d/thumb.jpg", foreign): 404, fmt.Sprintf("/seat/photos/%d/preview.jpg", foreign): 404, "/seat/taste/1": 404, "/seat/taste/1/order": 404, "/seat/taste/1/ahead": 404,
	} {
		if a := ana.ask(t, "GET", path, nil); a.code != want {
			t.Errorf("%s: status %d, want %d: %s", path, a.code, want, a.problem())
		}
	}
	for path, form := range map[string]url.Values{
		"/seat/begin": {"t": {id(theirs.ID)}, "client": {"x1"}},
		"/seat/taps":  {"of": {id(theirs.ID) + ":0"}, "kind": {"done"}, "client": {"x2"}},
		fmt.Sprintf("/seat/swatches/%d/words", theirs.Swatch): {"face": {"front"}, "word": {"blue"}, "client": {"x3"}},
		"/seat/take": {"swatch": {id(theirs.Swatch)}},
	} {
		if a := ana.ask(t, "POST", path, form, "Accept", "application/json"); a.code != http.StatusConflict && a.code != http.StatusNotFound {
			t.Errorf("%s on another's swatch: status %d: %s", path, a.code, a.problem())
		}
	}
	if a, err := ana.photo("x4", theirs.Swatch, "front", []byte("x")); err != nil || a.code != http.StatusNotFound {
		t.Errorf("a photograph of another's swatch: status %d, %v", a.code, err)
	}
	if n := len(c.events(t, theirs.ID)); n != 0 {
		t.Errorf("%d taps reached another's swatch", n)
	}
	// from a page elsewhere nothing counts
	if a := ana.ask(t, "POST", "/seat/hand", url.Values{"hand": {"up"}}, "Origin", "http://evil.example", "Sec-Fetch-Site", "cross-site"); a.code != http.StatusForbidden {
		t.Errorf("a tap from another site: status %d", a.code)
	}
	if !c.seat(t, 1).Hand.IsZero() {
		t.Error("another site raised a hand")
	}
}

func TestACodeCantBeGuessed(t *testing.T) {
	c := classroomOf(t, 2)
	stranger := &pupil{b: c.bench}
	if a := stranger.ask(t, "GET", "/seat", nil); a.code != http.StatusOK || bytes.Contains(a.body, []byte("First blues")) {
		t.Errorf("the page for a code: status %d; it must not name the class", a.code)
	}
	for i := range 10 {
		if a := stranger.ask(t, "POST", "/seat/join", url.Values{"code": {"AAAAAA"}, "number": {"1"}}); a.code != http.StatusUnprocessableEntity {
			t.Fatalf("guess %d: status %d", i, a.code)
		}
	}
	a := stranger.ask(t, "POST", "/seat/join", url.Values{"code": {c.code(t)}, "number": {"1"}})
	if a.code != http.StatusUnprocessableEntity || !strings.Contains(a.problem(), "too often") {
		t.Errorf("the right code after ten guesses: status %d, %s", a.code, a.problem())
	}
	c.pass(11 * time.Minute)
	// typed as people type: small letters, spaces, digits that look like letters
	code := strings.ToLower(strings.NewReplacer("S", "5", "B", "8").Replace(c.code(t)))
	if a := stranger.ask(t, "POST", "/seat/join", url.Values{"code": {code[:3] + " " + code[3:]}, "number": {"1"}}); a.code != http.StatusSeeOther {
		t.Errorf("the code in small letters: status %d, %s", a.code, a.problem())
	}
	for number, want := range map[string]int{"1": 422, "5": 422, "0": 422, "x": 422, "4": 303} {
		if a := stranger.ask(t, "POST", "/seat/join", url.Values{"code": {c.code(t)}, "number": {number}}); a.code != want {
			t.Errorf("seat %s of four, the first taken: status %d, want %d", number, a.code, want)
		}
	}
	// an hour after the class the door is shut by itself
	open := c.code(t)
	c.pass(4 * time.Hour)
	if a := stranger.ask(t, "POST", "/seat/join", url.Values{"code": {open}, "number": {"2"}}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("four hours later: status %d", a.code)
	}
}

func TestASeatMovesToAnotherPhone(t *testing.T) {
	c := classroomOf(t, 2)
	first := c.sits(t, 2, "Ana")
	a := c.post(t, c.at("/"+id(c.seat(t, 2).ID)), url.Values{"do": {"move"}})
	doc, err := parse(a.body)
	if err != nil {
		t.Fatal(err)
	}
	code := doc.one("strong.doorcode").words()
	second := &pupil{b: c.bench}
	if a := second.ask(t, "GET", "/seat?code="+code, nil); !bytes.Contains(a.body, []byte("Seat 2, Ana")) {
		t.Error("the code does not say whose seat it brings")
	}
	a = second.ask(t, "POST", "/seat/join", url.Values{"code": {code}})
	if a.to(t) != "/seat" {
		t.Fatal("the other phone did not sit down")
	}
	second.cookie = (&http.Response{Header: a.header}).Cookies()[0]
	if a := second.ask(t, "GET", "/seat/about", nil); a.code != http.StatusOK {
		t.Errorf("the other phone: status %d", a.code)
	}
	if a := first.ask(t, "GET", "/seat/about", nil); a.code != http.StatusForbidden {
		t.Errorf("the first phone: status %d, want 403", a.code)
	}
	if a := (&pupil{b: c.bench}).ask(t, "POST", "/seat/join", url.Values{"code": {code}}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("the code again: status %d, want 422", a.code)
	}
}

func TestAStudentTapsTheirOwnSteps(t *testing.T) {
	c := classroomOf(t, 2)
	ana := c.sits(t, 1, "Ana")
	x := c.give(t, 0, 1)
	ana.ask(t, "POST", "/seat/begin", url.Values{"t": {id(x.ID)}, "client": {"b"}}).to(t)
	for range 2 { // sent twice
		ana.ask(t, "POST", "/seat/taps", url.Values{"of": {id(x.ID) + ":0"}, "kind": {"done"}, "client": {"d"}}).to(t)
	}
	events := c.events(t, x.ID)
	if len(events) != 2 || events[0].By != "seat 1" || events[1].By != "seat 1" {
		t.Fatalf("events = %+v", events)
	}
	if a := ana.ask(t, "POST", "/seat/taps", url.Values{"of": {id(x.ID) + ":1"}, "kind": {"stopped"}, "client": {"s"}}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("giving up: status %d", a.code)
	}
	// the last tap can be taken back for a minute, and once
	for range 2 {
		ana.ask(t, "POST", "/seat/undo", url.Values{"event": {id(events[1].ID)}, "client": {"u"}}).to(t)
	}
	after := c.events(t, x.ID)
	if len(after) != 3 || after[2].Kind != studio.Voided || after[2].Corrects != events[1].ID {
		t.Fatalf("after the undo: %+v", after)
	}
	ana.ask(t, "POST", "/seat/taps", url.Values{"of": {id(x.ID) + ":0"}, "kind": {"done"}, "client": {"d2"}}).to(t)
	c.pass(61 * time.Second)
	last := c.events(t, x.ID)
	if a := ana.ask(t, "POST", "/seat/undo", url.Values{"event": {id(last[len(last)-1].ID)}, "client": {"u2"}}); a.code != http.StatusConflict {
		t.Errorf("a minute later: status %d", a.code)
	}
	// the teacher's taps are not a student's to take back
	c.post(t, "/taps", url.Values{"of": {id(x.ID) + ":1"}, "kind": {"done"}, "client": {"teacher"}, "back": {c.at("")}}).to(t)
	events = c.events(t, x.ID)
	if a := ana.ask(t, "POST", "/seat/undo", url.Values{"event": {id(events[len(events)-1].ID)}, "client": {"u3"}}); a.code != http.StatusConflict {
		t.Errorf("the teacher's tap: status %d", a.code)
	}
	ana.ask(t, "POST", "/seat/hand", url.Values{"hand": {"up"}}).to(t)
	if !bytes.Contains(c.see(t, c.at("")).body, []byte("Hands up: 1.")) {
		t.Error("the teacher does not see the hand")
	}
}

// TestTheClassSwatchesGoRound hands four swatches to two seats.
func TestTheClassSwatchesGoRound(t *testing.T) {
	c := classroomOf(t, 2)
	c.post(t, c.at("/deal"), url.Values{"do": {"round"}}).to(t)
	one, two := c.seat(t, 1).Swatches, c.seat(t, 2).Swatches
	if len(one) != 2 || len(two) != 2 || slices.Contains(append(one, two...), c.blank) {
		t.Errorf("seat 1 has %v, seat 2 has %v; the blank %d stays with the teacher", one, two, c.blank)
	}
	if a := c.post(t, c.at("/deal"), url.Values{"do": {"numbers"}, "numbers": {"999, x"}, "seat": {"1"}}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("wrong numbers: status %d", a.code)
	}
}

// inZip reads a file of an archive.
func inZip(t *testing.T, data []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	return out
}

func TestAStudentTakesEverythingHomeAndGoes(t *testing.T) {
	c := classroomOf(t, 2)
	ana, ben := c.sits(t, 1, "Rosalindzebra"), c.sits(t, 2, "Ben")
	x := c.give(t, 0, 1)
	y := c.give(t, 1, 2)
	ana.ask(t, "POST", "/seat/begin", url.Values{"t": {id(x.ID)}, "client": {"b"}}).to(t)
	ben.ask(t, "POST", "/seat/begin", url.Values{"t": {id(y.ID)}, "client": {"bb"}}).to(t)
	ana.ask(t, "POST", fmt.Sprintf("/seat/swatches/%d/words", x.Swatch), url.Values{"face": {"front"}, "word": {"sea", "dry", ""}, "covered": {"62.5"}, "note": {"mine <b>"}, "client": {"w"}}).to(t)
	data, _ := sample(x.Swatch, studio.Front, 0)
	for range 2 {
		if a, err := ana.photo("p1", x.Swatch, "front", data); err != nil || a.code != http.StatusOK {
			t.Fatalf("photograph: status %d, %v: %s", a.code, err, a.body)
		}
	}
	photos, err := c.store.SeatPhotos(t.Context(), c.seat(t, 1).ID)
	if err != nil || len(photos) != 1 || photos[0].Moment != studio.Underway {
		t.Fatalf("photographs = %+v, %v", photos, err)
	}
	file := inZip(t, ana.ask(t, "GET", "/seat/mine.zip", nil).body)
	if teacher := inZip(t, c.see(t, c.at("/"+id(c.seat(t, 1).ID)+"/seat.zip")).body); !bytes.Equal(teacher["seat.json"], file["seat.json"]) {
		t.Error("the teacher's file of the seat is another one")
	}
	var doc struct {
		Name     string
		Swatches []struct {
			Number int64
			Faces  []struct {
				Words   string
				Covered string `json:"covered_percent"`
				Note    string
				Photos  []string
			}
			Taps []struct{ What, By string }
		}
	}
	if err := json.Unmarshal(file["seat.json"], &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Name != "Rosalindzebra" || len(doc.Swatches) != 1 || len(doc.Swatches[0].Faces) != 1 || len(doc.Swatches[0].Taps) != 1 {
		t.Fatalf("seat.json = %s", file["seat.json"])
	}
	if f := doc.Swatches[0].Faces[0]; f.Words != "sea, dry" || f.Covered != "62" && f.Covered != "63" || f.Note != "mine <b>" || len(f.Photos) != 1 || len(file[f.Photos[0]]) == 0 {
		t.Errorf("the face is %+v", f)
	}
	card := string(file["card.html"])
	for _, out := range regexp.MustCompile(`(?:src|href)="([^"]*)"`).FindAllStringSubmatch(card, -1) {
		if file[out[1]] == nil {
			t.Errorf("card.html leads to %q, which is not in the file", out[1])
		}
	}
	if strings.Contains(card, "://") || !strings.Contains(card, "mine &lt;b&gt;") || strings.Contains(card, "Ben") {
		t.Error("card.html leads out of its file, is not escaped or names another student")
	}
	if !bytes.HasPrefix(file["card.pdf"], []byte("%PDF-")) {
		t.Error("card.pdf is no PDF")
	}
	c.cardInGerman(t, ana)

	if a := ana.ask(t, "POST", "/seat/erase", url.Values{}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("erased without being sure: status %d", a.code)
	}
	if a := ana.ask(t, "POST", "/seat/erase", url.Values{"sure": {"yes"}}); a.code != http.StatusOK || !bytes.Contains(a.body, []byte("You are erased")) {
		t.Fatalf("erase: status %d, %s", a.code, a.problem())
	}
	if a := ana.ask(t, "GET", "/seat/about", nil); a.code != http.StatusForbidden {
		t.Errorf("after it the phone gets status %d", a.code)
	}
	if len(c.files(t)) != 0 {
		t.Errorf("photographs are left: %v", c.files(t))
	}
	if e := c.events(t, x.ID); len(e) != 1 || e[0].By != studio.AStudent {
		t.Errorf("the record of the swatch is %+v", e)
	}
	if e := c.events(t, y.ID); e[0].By != "seat 2" {
		t.Errorf("another's record became %+v", e)
	}
	for name, body := range inZip(t, c.see(t, "/export.zip").body) {
		if bytes.Contains(body, []byte("Rosalindzebra")) {
			t.Errorf("the archive's %s still holds the name", name)
		}
	}
}

// cardInGerman holds a seat's card, as a page, as paper and as the file to take home, to
// German: English are only its own words, names, and the keys of its data.
func (c *classroom) cardInGerman(t *testing.T, seat *pupil) {
	t.Helper()
	speak := func(tag string) {
		if err := c.store.SaveSetting(t.Context(), "language", tag); err != nil {
			t.Fatal(err)
		}
	}
	speak("de")
	defer speak("en")
	file := inZip(t, seat.ask(t, "GET", "/seat/mine.zip", nil).body)
	r := newReader(t)
	own := r.own(t, c.bench)
	hold := func(what string, texts ...string) {
		t.Helper()
		for _, text := range texts {
			text = strings.NewReplacer("sea, dry", " ", "mine <b>", " ", "Rosalindzebra", " ").Replace(text)
			if w := r.left(text, own); len(w) > 0 {
				t.Errorf("%s says %v in %q", what, w, text)
			}
		}
	}
	for what, page := range map[string][]byte{"the page": seat.ask(t, "GET", "/seat/card", nil).body, "card.html": file["card.html"], "the print as a page": seat.ask(t, "GET", "/seat/card.pdf?as=page", nil).body} {
		doc, err := goquery.NewDocumentFromReader(bytes.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		all := pieces(doc.Selection)
		if !strings.Contains(strings.Join(all, " "), "bedeckt") {
			t.Errorf("%s says nothing of what is covered: %q", what, all)
		}
		hold(what, all...)
	}
	var doc struct {
		Swatches []struct {
			Layers []struct {
				Faces string
				Steps []string
			}
		}
	}
	if err := json.Unmarshal(file["seat.json"], &doc); err != nil {
		t.Fatal(err)
	}
	for _, layer := range doc.Swatches[0].Layers {
		hold("seat.json", append(layer.Steps, layer.Faces)...)
	}
}

func TestSeatsAreErasedByTheCalendar(t *testing.T) {
	c := classroomOf(t, 2)
	ana := c.sits(t, 1, "Ana")
	c.pass(15 * 24 * time.Hour)
	if a := ana.ask(t, "GET", "/seat/about", nil); a.code != http.StatusConflict || !strings.Contains(a.problem(), "open until") {
		t.Errorf("after the days of the link: status %d, %s", a.code, a.problem())
	}
	c.seat(t, 1)
	c.pass(46 * 24 * time.Hour)
	c.see(t, "/studio") // somebody opens any page
	if seats, err := c.store.Seats(t.Context(), c.class.ID); err != nil || len(seats) != 0 {
		t.Errorf("after 60 days: %v, %v", seats, err)
	}
}

// TestTheClassChoosesBlind lets two seats choose between three faces.
func TestTheClassChoosesBlind(t *testing.T) {
	c := classroomOf(t, 2)
	ana, ben := c.sits(t, 1, "Ana"), c.sits(t, 2, "Ben")
	if a := c.post(t, c.at("/sitting"), url.Values{"question": {"Which one?"}, "of": {"own"}}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("choosing without photographs: status %d", a.code)
	}
	for i := range 3 {
		c.photograph(t, c.planned[i].Swatch, studio.Front, i)
	}
	c.post(t, c.at("/sitting"), url.Values{"question": {"Which one?"}, "of": {"own"}}).to(t)
	for _, p := range []*pupil{ana, ben} {
		for n := range 3 {
			doc, err := parse(p.ask(t, "GET", "/seat/taste/1", nil).body)
			if err != nil {
				t.Fatal(err)
			}
			form := doc.one("form[data-choose=left]")
			f := url.Values{}
			for _, x := range form.all("input") {
				f.Set(x.attr["name"], x.attr["value"])
			}
			if src := form.one("img").attr["src"]; p.ask(t, "GET", src, nil).code != http.StatusOK {
				t.Errorf("the picture %s is not shown", src)
			}
			if strings.Contains(form.words(), "swatch") {
				t.Errorf("it is not blind: %q", form.words())
			}
			f.Set("who", "somebody else")
			f.Set("took", "")
			p.ask(t, "POST", form.attr["action"], f).to(t)
			if n == 0 {
				if a := p.ask(t, "GET", "/seat/taste/1/order", nil); a.code != http.StatusConflict {
					t.Errorf("the order while choosing: status %d", a.code)
				}
			}
		}
	}
	choices, err := c.store.Choices(t.Context(), 1)
	if err != nil || len(choices) != 6 || choices[0].Who != "seat 1" || choices[5].Who != "seat 2" {
		t.Fatalf("choices = %+v, %v", choices, err)
	}
	c.post(t, c.at("/sitting"), url.Values{"close": {"1"}}).to(t)
	if a := ana.ask(t, "GET", "/seat/taste/1/order", nil); a.code != http.StatusOK || !bytes.Contains(a.body, []byte("People: 2.")) {
		t.Errorf("the order: status %d", a.code)
	}
}
