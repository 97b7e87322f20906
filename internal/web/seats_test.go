package web_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/draw"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// A classroom is a stocked bench with a class over its set.
type classroom struct {
	*stock
	class studio.Class
}

// classroomOf serves a class of so many adults that began half an hour ago, its door
// open.
func classroomOf(t *testing.T, heads int) *classroom {
	t.Helper()
	c := &classroom{stock: stocked(t)}
	c.held(t, heads)
	return c
}

func (c *classroom) held(t testing.TB, heads int) {
	t.Helper()
	c.web.OpenDoor("http://192.0.2.7:8737") // an address for documents, RFC 5737
	var err error
	c.class, err = c.store.SaveClass(t.Context(), studio.Class{Name: "First blues", Teacher: "Mira", Starts: c.now().Add(-30 * time.Minute), Minutes: 180, Heads: heads, Who: studio.ForAdults, Where: studio.UnderHood, SetID: c.set})
	if err != nil {
		t.Fatal(err)
	}
	c.post(t, c.at("/door"), url.Values{"do": {"open"}}).to(t)
}

func (c *classroom) at(rest string) string {
	return fmt.Sprintf("/classes/%d/students%s", c.class.ID, rest)
}

func (c *classroom) code(t testing.TB) string {
	t.Helper()
	d, err := c.store.Door(t.Context(), c.class.ID)
	if err != nil || d.Code == "" {
		t.Fatalf("door = %v, %v", d, err)
	}
	return d.Code
}

// A pupil is a student's phone: it comes over TCP under the laptop's name on the
// network, and has a cookie of its own.
type pupil struct {
	b      *bench
	cookie *http.Cookie
	number int
}

const lanName = "192.168.1.2:8737"

func (p *pupil) ask(t testing.TB, method, path string, form url.Values, heads ...string) answer {
	t.Helper()
	a, err := p.try(method, path, form, heads...)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// try is ask for goroutines.
func (p *pupil) try(method, path string, form url.Values, heads ...string) (answer, error) {
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, p.b.url+path, body)
	if err != nil {
		return answer{}, err
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return p.sent(r, heads...)
}

func (p *pupil) sent(r *http.Request, heads ...string) (answer, error) {
	r.Host = lanName
	for i := 0; i+1 < len(heads); i += 2 {
		r.Header.Set(heads[i], heads[i+1])
	}
	if p.cookie != nil {
		r.AddCookie(p.cookie)
	}
	return sent(r)
}

// photo sends a photograph of a swatch's face.
func (p *pupil) photo(client string, swatch int64, face string, data []byte) (answer, error) {
	var buf bytes.Buffer
	w := multipart.NewWriter(&buf)
	for name, v := range map[string]string{"client": client, "swatch": id(swatch), "face": face} {
		if err := w.WriteField(name, v); err != nil {
			return answer{}, err
		}
	}
	part, err := w.CreateFormFile("photo", "IMG.jpg")
	if err != nil {
		return answer{}, err
	}
	part.Write(data)
	if err := w.Close(); err != nil {
		return answer{}, err
	}
	r, err := http.NewRequest("POST", p.b.url+"/seat/photos", &buf)
	if err != nil {
		return answer{}, err
	}
	return p.sent(r, "Content-Type", w.FormDataContentType(), "Accept", "application/json")
}

// sits lets a phone sit down.
func (c *classroom) sits(t testing.TB, number int, name string) *pupil {
	t.Helper()
	p := &pupil{b: c.bench, number: number}
	a := p.ask(t, "POST", "/seat/join", url.Values{"code": {c.code(t)}, "number": {strconv.Itoa(number)}, "name": {name}})
	if to := a.to(t); to != "/seat" {
		t.Fatalf("seat %d leads to %s", number, to)
	}
	for _, k := range (&http.Response{Header: a.header}).Cookies() {
		if k.Name == "aerugo_seat" {
			p.cookie = k
		}
	}
	if p.cookie == nil || !p.cookie.HttpOnly || p.cookie.SameSite != http.SameSiteLaxMode {
		t.Fatalf("the seat's cookie is %v", p.cookie)
	}
	return p
}

func (c *classroom) seat(t testing.TB, number int) studio.Seat {
	t.Helper()
	seats, err := c.store.Seats(t.Context(), c.class.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range seats {
		if x.Number == number {
			return x
		}
	}
	t.Fatalf("nobody has seat %d", number)
	return studio.Seat{}
}

// give hands a planned swatch to a seat and returns its treatment.
func (c *classroom) give(t testing.TB, i, seat int) studio.Treatment {
	t.Helper()
	if err := c.store.GiveSwatches(t.Context(), c.class, map[int64]int{c.planned[i].Swatch: seat}, false); err != nil {
		t.Fatal(err)
	}
	return c.planned[i]
}

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

// treatmentsOf returns the treatments of the class's own set, swatch by swatch.
func (c *classroom) treatmentsOf(t testing.TB) ([]studio.Treatment, error) {
	all, err := c.store.Treatments(t.Context(), store.TreatmentFilter{Set: c.set})
	slices.SortFunc(all, func(a, b studio.Treatment) int { return int(a.Swatch - b.Swatch) })
	return all, err
}

// phonePhoto returns photographs as large as a phone takes them: 12 megapixels.
func phonePhoto(t testing.TB) func(int64, studio.Face, int) []byte {
	t.Helper()
	data, _ := sample(1, studio.Front, 0)
	small, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	large := image.NewRGBA(image.Rect(0, 0, 4032, 3024))
	draw.ApproxBiLinear.Scale(large, large.Bounds(), small, small.Bounds(), draw.Src, nil)
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, large, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return func(int64, studio.Face, int) []byte { return buf.Bytes() }
}

// seatVisits lists the pages of a class's students, and of its teacher, in their states.
func seatVisits(t *testing.T) []visit {
	t.Helper()
	c := classroomOf(t, 2)
	c.cookie = c.sits(t, 1, "Ana <b>").cookie
	c.sits(t, 2, "")
	fresh := classroomOf(t, 2) // nobody came, and the door is shut
	fresh.post(t, fresh.at("/door"), url.Values{"do": {"shut"}}).to(t)
	young := classroomOf(t, 2)
	young.class.Who = studio.ForTeens
	if _, err := young.store.SaveClass(t.Context(), young.class); err != nil {
		t.Fatal(err)
	}
	one := young.sits(t, 1, "")
	young.cookie = one.cookie
	x, y := c.give(t, 0, 1), c.give(t, 1, 1)
	c.give(t, 2, 2)
	mine := &pupil{b: c.bench, cookie: c.cookie}
	mine.ask(t, "POST", "/seat/begin", url.Values{"t": {id(x.ID)}, "client": {"b"}}).to(t)
	mine.ask(t, "POST", "/seat/begin", url.Values{"t": {id(y.ID)}, "client": {"b2"}}).to(t)
	for step := range x.Steps {
		mine.ask(t, "POST", "/seat/taps", url.Values{"of": {fmt.Sprintf("%d:%d", x.ID, step)}, "kind": {"done"}, "client": {fmt.Sprint("d", step)}}).to(t)
	}
	data, _ := sample(x.Swatch, studio.Front, 0)
	if a, err := mine.photo("p", x.Swatch, "front", data); err != nil || a.code != http.StatusOK {
		t.Fatalf("photograph: %d %v", a.code, err)
	}
	mine.ask(t, "POST", fmt.Sprintf("/seat/swatches/%d/words", x.Swatch), url.Values{"face": {"front"}, "word": {"sea"}, "covered": {"60"}, "note": {"<i>"}, "client": {"w"}}).to(t)
	mine.ask(t, "POST", "/seat/hand", url.Values{"hand": {"up"}}).to(t)
	for i := range 2 {
		c.photograph(t, c.planned[i+1].Swatch, studio.Front, i)
	}
	for range 2 {
		c.post(t, c.at("/sitting"), url.Values{"question": {"Which one?"}, "of": {"own"}}).to(t)
	}
	c.post(t, "/seat/taste/1/choices", url.Values{"left": {faceKey(x.Swatch)}, "right": {faceKey(y.Swatch)}, "chosen": {"left"}, "client": {"c"}}).to(t)
	c.post(t, c.at("/sitting"), url.Values{"close": {"1"}}).to(t)
	over := classroomOf(t, 2)
	over.cookie = over.sits(t, 1, "").cookie
	over.pass(20 * 24 * time.Hour)
	gone := classroomOf(t, 1)
	gone.cookie = gone.sits(t, 1, "").cookie
	kept := classroomOf(t, 1)
	kept.cookie = kept.sits(t, 1, "").cookie
	kept.post(t, "/backup", url.Values{}).to(t)
	of := fmt.Sprintf
	first := "/" + id(c.seat(t, 1).ID)
	return []visit{
		{"students", "empty", fresh.bench, fresh.at(""), nil, 200, "Students of First blues"},
		{"students", "usual", c.bench, c.at(""), nil, 200, "Students of First blues"},
		{"students", "another phone", c.bench, c.at(first), url.Values{"do": {"move"}}, 200, "Students of First blues"},
		{"students", "refused", c.bench, c.at("/terms"), url.Values{"keepdays": {"9999"}, "linkdays": {"x"}}, 422, "Students of First blues"},
		{"students", "under 18", young.bench, young.at(""), nil, 200, "Students of First blues"},
		{"students", "not there", fresh.bench, "/classes/99/students", nil, 404, "Not here"},
		{"seat_join", "empty", fresh.bench, "/seat", nil, 200, "Join the class"},
		{"seat_join", "usual", c.bench, "/seat?code=" + c.code(t), nil, 200, "Join the class"},
		{"seat_join", "refused", c.bench, "/seat/join", url.Values{"code": {c.code(t)}, "name": {"a@b"}, "number": {"3"}}, 422, "Join the class"},
		{"seat_join", "wrong code", fresh.bench, "/seat?code=AAAAAA", nil, 422, "Join the class"},
		{"seat_join", "under 18", young.bench, "/seat?code=" + young.code(t), nil, 200, "Join the class"},
		{"seat", "empty", young.bench, "/seat", nil, 200, "Seat 1"},
		{"seat", "usual", c.bench, "/seat", nil, 200, "Seat 1, Ana <b>"},
		{"seat", "over", over.bench, "/seat", nil, 409, "did not work"},
		{"seat_swatch", "usual", c.bench, of("/seat/swatches/%d", x.Swatch), nil, 200, of("Swatch %d", x.Swatch)},
		{"seat_swatch", "under way", c.bench, of("/seat/swatches/%d", y.Swatch), nil, 200, of("Swatch %d", y.Swatch)},
		{"seat_swatch", "another's", c.bench, of("/seat/swatches/%d", c.planned[2].Swatch), nil, 404, "Not here"},
		{"seat_card", "empty", young.bench, "/seat/card", nil, 200, "My card"},
		{"seat_card", "usual", c.bench, "/seat/card", nil, 200, "My card"},
		{"seat_about", "empty", young.bench, "/seat/about", nil, 200, "What is kept of you"},
		{"seat_about", "usual", c.bench, "/seat/about", nil, 200, "What is kept of you"},
		{"seat_taste", "usual", c.bench, "/seat/taste/2", nil, 200, "Which one?"},
		{"seat_taste", "closed", c.bench, "/seat/taste/1", nil, 200, "Which one?"},
		{"seat_order", "usual", c.bench, "/seat/taste/1/order", nil, 200, "Which one?"},
		{"seat_order", "still open", c.bench, "/seat/taste/2/order", nil, 409, "did not work"},
		{"seat_gone", "usual", gone.bench, "/seat/erase", url.Values{"sure": {"yes"}}, 200, "You are erased"},
		{"seat_gone", "with backups", kept.bench, "/seat/erase", url.Values{"sure": {"yes"}}, 200, "You are erased"},
	}
}

func faceKey(swatch int64) string { return fmt.Sprintf("%d-front", swatch) }

// seatedToken is the cookie of the seat that seatPages takes.
const seatedToken = "a-seat-in-the-example-for-its-pages"

// seatPages gives the example a class with a student at work, and lists their pages.
func seatPages(t *testing.T, b *bench) []string {
	t.Helper()
	ctx := t.Context()
	b.web.OpenDoor("http://192.0.2.7:8737")
	sets, err := b.store.Sets(ctx)
	if err != nil {
		t.Fatal(err)
	}
	class, err := b.store.SaveClass(ctx, studio.Class{Name: "Two greens", Starts: b.now().Add(-time.Hour), Minutes: 180, Heads: 3, Who: studio.ForAdults, Where: studio.Outdoors, SetID: sets[0].ID})
	if err != nil {
		t.Fatal(err)
	}
	hash := sha256.Sum256([]byte(seatedToken))
	seat, err := b.store.TakeSeat(ctx, class, 1, "Ana", hash[:])
	if err != nil {
		t.Fatal(err)
	}
	swatches, err := b.store.SwatchesOf(ctx, sets[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	to := map[int64]int{}
	for _, x := range swatches[:3] {
		to[x.Number] = 1
	}
	if err := errors.Join(b.store.GiveSwatches(ctx, class, to, false), b.store.RaiseHand(ctx, seat.ID, true), b.store.OpenDoor(ctx, studio.Door{Class: class.ID, Code: "HEWXYZ", Opened: b.now(), Closes: b.now().Add(time.Hour)})); err != nil {
		t.Fatal(err)
	}
	sittings, err := b.store.Sittings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.store.AddClassSitting(ctx, class.ID, sittings[0].ID); err != nil {
		t.Fatal(err)
	}
	return []string{fmt.Sprintf("/classes/%d/students", class.ID), "/seat", "/seat?code=HEWXYZ", "/seat?code=AAAAAA", fmt.Sprintf("/seat/swatches/%d", swatches[0].Number), "/seat/card", "/seat/about", fmt.Sprintf("/seat/taste/%d", sittings[0].ID)}
}
