package web_test

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"aerugo/internal/studio"
)

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

// TestAClassIsJoinedInTheLanguageOfThePhone offers the languages where a class is
// joined, and comes back to the code that was scanned.
func TestAClassIsJoinedInTheLanguageOfThePhone(t *testing.T) {
	c := classroomOf(t, 1)
	join := "/seat?code=" + c.code(t)
	form := c.see(t, join).doc(t).one("form[action='/language']")
	if form == nil || form.one("button[name=to][value=de][lang=de]") == nil {
		t.Fatal("the page where a class is joined has no menu of languages")
	}
	if to := c.post(t, "/language", url.Values{"to": {"de"}, "back": {form.one("input[name=back]").attr["value"]}}).to(t); to != join {
		t.Errorf("the choice of a language leads to %s, want %s", to, join)
	}
	if h := c.see(t, join, "Cookie", "aerugo_language=de").doc(t).one("h1"); h.words() != "Am Kurs teilnehmen" {
		t.Errorf("in German the page is headed %q", h.words())
	}
}
