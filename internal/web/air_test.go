package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// words is what a page says, tags left out.
func (b *bench) says(t *testing.T, path string) string {
	t.Helper()
	a := b.see(t, path)
	if a.code != 200 {
		t.Fatalf("%s: status %d", path, a.code)
	}
	n, err := parse(a.body)
	if err != nil {
		t.Fatal(err)
	}
	return n.words()
}

func wants(t *testing.T, what, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("%s does not say %q; it says: %.1500s", what, w, text)
		}
	}
}

// fuming takes the first treatment of the stock into the chamber.
func (s *stock) fume(t *testing.T, client string, treatment int64) {
	t.Helper()
	s.begin(t, client, treatment).to(t)
	for step := range 2 {
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint(client, step)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", treatment, step)}}).to(t)
	}
}

func TestChamberIsFollowedFromPadToDissolvedSalt(t *testing.T) {
	s := stocked(t)
	page := fmt.Sprintf("/chambers/%d", s.chamber)
	wants(t, "an empty chamber", s.says(t, page), "Empty, as far as was said", "Nothing was put into it yet", "Nobody said where this chamber stands")

	// where it stands
	s.post(t, "/shelf/rooms", url.Values{"id": {"0"}, "name": {"Shed"}, "where": {""}, "roomvolume": {"40"}, "ach": {"2"}, "mixing": {"3"}}).to(t)
	rooms, err := s.store.Rooms(t.Context())
	if err != nil || len(rooms) != 1 {
		t.Fatal(rooms, err)
	}
	s.post(t, "/shelf/chambers", url.Values{"id": {id(s.chamber)}, "name": {"Chamber A"}, "volume": {"20"}, "padml": {"100"}, "gap": {"40"}, "tilt": {"0"}, "places": {"6"}, "leak": {"0.1"}, "openloss": {"50"}, "room": {id(rooms[0].ID)}}).to(t)
	c, err := s.store.Chamber(t.Context(), s.chamber)
	if err != nil || c.LeakPerH != 0.1 || c.OpenLoss != 0.5 || c.RoomID != rooms[0].ID {
		t.Fatalf("the chamber is kept as %+v, %v", c, err)
	}

	log := func(kind string, more ...string) answer {
		f := url.Values{"client": {fmt.Sprint(kind, s.now().UnixNano())}, "kind": {kind}}
		for i := 0; i+1 < len(more); i += 2 {
			f.Set(more[i], more[i+1])
		}
		return s.post(t, page+"/log", f)
	}
	log("charged", "supply", id(s.ammonia), "solution", "100").to(t)
	log("read", "temp", "20", "piecetemp", "20").to(t)
	s.fume(t, "go", s.planned[0].ID)
	s.pass(90 * time.Minute)
	text := s.says(t, page)
	// 9 % ammonia at 20 °C stands at about 9 % by volume; with the room's limit of 25 ppm.
	wants(t, "the chamber while it fumes", text, "Not in the room: carry it out", "limit is 25", "0 of 2 dissolved", "One lifting of the lid now", "Smell is not a meter", "11 g/m² of salt", "(assumed)")
	wants(t, "Today", s.says(t, "/"), "Open it?", "0 of 2 dissolved")
	wants(t, "the list of chambers", s.says(t, "/chambers"), "Chamber A", "carry it out")
	// The forecast on the set's page: an hour of dry salt is not enough.
	wants(t, "the set", s.says(t, fmt.Sprintf("/sets/%d", s.set)), "Forecast: when is the salt wet?", "not enough")
	form := s.setForm(nil)
	if a := s.post(t, "/sets", form); a.code != 200 || !strings.Contains(string(a.body), "When is the salt wet?") || !strings.Contains(string(a.body), "not enough") {
		t.Errorf("the set's preview has no forecast (%d): %s", a.code, a.problem())
	}

	// It looked dissolved sooner than reckoned: the chamber learns.
	swatch := s.planned[0]
	log("seen", "treatment", id(swatch.ID), "face", "front", "saw", "dissolved").to(t)
	wants(t, "the chamber once seen", s.says(t, page), "times as fast as by diffusion alone", "before 1 h 30 min")
	kept, err := s.store.ChamberLog(t.Context(), s.chamber)
	if err != nil || len(kept) != 3 {
		t.Fatal(kept, err)
	}
	log("taken back", "corrects", id(kept[2].ID)).to(t)
	wants(t, "the chamber with that taken back", s.says(t, page), "Nobody has measured it", "(taken back)")

	// Emptied and aired.
	wants(t, "the swatch's page", s.says(t, fmt.Sprintf("/swatches/%d", swatch.Swatch)), "Wet time", "the salt will have dissolved about")
	s.post(t, "/taps", url.Values{"client": {"out"}, "kind": {"done"}, "of": {fmt.Sprintf("%d:2", swatch.ID)}}).to(t)
	log("aired").to(t)
	wants(t, "the aired chamber", s.says(t, page), "Empty, as far as was said", "It was aired on", "pad taken out, chamber aired")
}

// A second tap of the same key is one record, and a refused one none.
func TestChamberLogCountsEachTapOnce(t *testing.T) {
	s := stocked(t)
	page := fmt.Sprintf("/chambers/%d/log", s.chamber)
	f := url.Values{"client": {"once"}, "kind": {"opened"}}
	s.post(t, page, f).to(t)
	s.post(t, page, f).to(t)
	if a := s.post(t, page, url.Values{"client": {"twice"}, "kind": {"boiled"}}); a.code != 422 {
		t.Errorf("status %d", a.code)
	}
	if a := s.post(t, page, url.Values{"client": {"json"}, "kind": {"charged"}, "solution": {"0"}}, "Accept", "application/json"); a.code != 422 || !strings.Contains(string(a.body), "solution on the pad") {
		t.Errorf("status %d: %s", a.code, a.body)
	}
	kept, err := s.store.ChamberLog(t.Context(), s.chamber)
	if err != nil || len(kept) != 1 || kept[0].Kind != studio.LidOpened {
		t.Errorf("kept %+v, %v", kept, err)
	}
}

// On a phone the three answers stand above the fold, and a tap on what is seen
// through the lid changes the page without a reload.
func TestPhoneAnswersInTwoSeconds(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	page := fmt.Sprintf("/chambers/%d", s.chamber)
	s.post(t, page+"/log", url.Values{"client": {"pad"}, "kind": {"charged"}, "supply": {id(s.ammonia)}, "solution": {"100"}}).to(t)
	s.fume(t, "go", s.planned[0].ID)
	s.pass(time.Hour)
	tb := open(t, s.url, "phone", 360)
	tb.visit(page)
	tb.noSideways()
	below := js[float64](tb, `document.querySelector('.three').getBoundingClientRect().bottom`)
	tb.shot("chamber")
	if below > 740 {
		t.Errorf("the third answer ends %v px down, below the fold of a phone of 740", below)
	}
	if size := js[float64](tb, `Math.min(...[...document.querySelectorAll('.three strong')].map(e => parseFloat(getComputedStyle(e).fontSize)))`); size < 24 {
		t.Errorf("an answer is %v px tall", size)
	}
	tb.press("All dissolved")
	var kept []studio.ChamberLog
	eventually(t, "what was seen", func() bool {
		var err error
		if kept, err = s.store.ChamberLog(t.Context(), s.chamber); err != nil {
			t.Fatal(err)
		}
		return len(kept) > 1
	})
	if len(kept) != 2 || kept[1].Saw != studio.Dissolved {
		t.Errorf("kept %+v", kept)
	}
	if got, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Set: s.set}); err != nil || len(got) != 4 {
		t.Errorf("treatments %d, %v", len(got), err)
	}
}
