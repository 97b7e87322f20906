package web_test

import (
	"fmt"
	"math"
	"net/url"
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

// keepTarget keeps the usual target's values as a file of one's own.
func keepTarget(t *testing.T, b *bench, name string) {
	t.Helper()
	text, err := target.WriteCGATS(target.After2014().Table())
	if err != nil {
		t.Fatal(err)
	}
	b.upload(t, "/setups/targets", "file", []byte(text), url.Values{"targetname": {name}}).to(t)
}

// The lamp of the pictures below, warm, and another, cold, that the camera did not
// balance away.
var warmLamp, coldLamp = [3]float64{0.9, 0.8, 0.6}, [3]float64{0.72, 0.78, 0.82}

// sendShot sends a photograph on the mat and returns it as measured by itself.
func (b *bench) sendShot(t *testing.T, client string, number int64, lab colour.Lab, shot matShot, fields ...string) studio.Photo {
	t.Helper()
	f := url.Values{"client": {client}, "swatch": {""}, "face": {"front"}, "moment": {"finished"}}
	for i := 0; i+1 < len(fields); i += 2 {
		f.Set(fields[i], fields[i+1])
	}
	to := b.upload(t, "/photos", "photo", shotOnMat(t, number, studio.Front, lab, shot), f).to(t)
	photos, err := b.store.PhotosOf(t.Context(), number)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range photos {
		if p.Client == client {
			if p.Measurement == nil {
				t.Fatalf("%s was not measured; it leads to %s", client, to)
			}
			return p
		}
	}
	t.Fatalf("%s is not there", client)
	return studio.Photo{}
}

// A photograph with a target keeps camera and lamp; the next one, with neither
// target nor card, is set right by them through the mat's white border; under
// another lamp the page says that the setup has drifted; a photograph with its own
// target is set right by that, and says so too. The swatch's true colour is the
// one drawn.
func TestCameraAndLampAreKeptReusedAndWatched(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	brown, green := colour.Lab{L: 42, A: 12, B: 18}, colour.Lab{L: 55, A: -22, B: 4}
	n := [4]int64{s.planned[0].Swatch, s.planned[1].Swatch, s.planned[2].Swatch, s.planned[3].Swatch}
	first := s.sendShot(t, "with target", n[0], brown, matShot{lamp: warmLamp, target: true}, "target", "after-2014")
	m := first.Measurement
	if m.Marks.Target != "after-2014" || m.Correction == nil || m.Correction.Setup != "" || colour.Difference(m.Lab, brown) > 2 {
		t.Fatalf("with its target it reads %.1f by %+v (%q)", m.Lab, m.Correction, m.Warnings)
	}
	to := s.post(t, fmt.Sprintf("/photos/%d/setup", first.ID), url.Values{"setupname": {"Bench, warm lamp"}, "lamp": {"two desk lamps"}}).to(t)
	if text := s.see(t, to).doc(t).one(".said").words(); !strings.Contains(text, "Bench, warm lamp is kept") {
		t.Errorf("it says %q", text)
	}
	setups, err := s.store.Setups(t.Context())
	if err != nil || len(setups) != 1 {
		t.Fatalf("%d setups, %v", len(setups), err)
	}
	if x := setups[0]; x.Photo != first.ID || x.White == nil || math.Abs(x.LOOMean-m.Correction.LOOMean) > 1e-9 {
		t.Errorf("kept of photograph %d (want %d), white %v, %v dE00 left out (want %v)", x.Photo, first.ID, x.White, x.LOOMean, m.Correction.LOOMean)
	}
	form := s.see(t, "/photos/new").doc(t)
	if o := form.one("select[name=setup] option[selected]"); o == nil || o.words() != "Bench, warm lamp" {
		t.Errorf("the next photograph is not offered the setup")
	}
	setup := id(setups[0].ID)

	next := s.sendShot(t, "same lamp", n[1], green, matShot{lamp: warmLamp}, "setup", setup)
	m = next.Measurement
	c := m.Correction
	if c == nil || c.Setup != "Bench, warm lamp" || c.By != "the mat's white border" || len(c.Drift) > 0 || !m.Calibrated || m.Marks.Setup != setups[0].ID {
		t.Fatalf("read by %+v (%q)", c, m.Warnings)
	}
	if de := colour.Difference(m.Lab, green); de > 2 {
		t.Errorf("by the kept setup it reads %.1f for %.1f: %.1f dE00", m.Lab, green, de)
	}
	page := s.see(t, fmt.Sprintf("/photos/%d", next.ID)).doc(t)
	if text := page.one("#main").words(); !strings.Contains(text, "kept camera and lamp “Bench, warm lamp”, less than an hour") || strings.Contains(text, "drifted") {
		t.Errorf("the page says %q", text)
	}

	other := s.sendShot(t, "other lamp", n[2], green, matShot{lamp: coldLamp, card: true}, "setup", setup)
	if c := other.Measurement.Correction; c == nil || len(c.Drift) == 0 || !strings.Contains(strings.Join(c.Drift, " "), "bluer") {
		t.Errorf("under another lamp: %+v", c)
	}
	box := s.see(t, fmt.Sprintf("/photos/%d", other.ID)).doc(t).one("#main .problem")
	if box == nil || !strings.Contains(box.words(), "This setup has drifted") || !strings.Contains(box.words(), "Take a new target photograph") {
		t.Errorf("the page does not warn")
	}

	if text := s.see(t, fmt.Sprintf("/compare?p=%d&p=%d", next.ID, other.ID)).doc(t).one("#main").words(); strings.Count(text, "setup drifted") != 1 {
		t.Errorf("side by side it says %q", text)
	}

	own := s.sendShot(t, "other lamp, target", n[3], green, matShot{lamp: coldLamp, target: true}, "setup", setup, "target", "after-2014")
	c = own.Measurement.Correction
	if c == nil || c.By != "" || len(c.Drift) == 0 || colour.Difference(own.Measurement.Lab, green) > 2 {
		t.Errorf("with its own target: %.1f by %+v", own.Measurement.Lab, c)
	}

	// in the bin the setup is offered no more, but what it read can be read again
	s.post(t, "/bin", url.Values{"kind": {"setup"}, "id": {setup}}).to(t)
	if s.see(t, "/photos/new").doc(t).one("select[name=setup]") != nil {
		t.Error("a setup in the bin is offered")
	}
	s.post(t, "/remeasure", url.Values{"all": {"1"}}).to(t)
	s.settle(t)
	again, err := s.store.Photo(t.Context(), next.ID)
	if err != nil || again.Measurement.ID == next.Measurement.ID || colour.Difference(again.Measurement.Lab, next.Measurement.Lab) > 0.01 {
		t.Errorf("read again: %+v, %v", again.Measurement, err)
	}
}

// settle waits until no long work is under way.
func (b *bench) settle(t *testing.T) {
	t.Helper()
	eventually(t, "the end of the work", func() bool { return b.see(t, "/studio").doc(t).one("aside.work") == nil })
}

// A setup can't be kept of a photograph without target and card, nor used on one
// that shows nothing it knows.
func TestSetupsAreRefusedInPlainWords(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	first := s.sendShot(t, "plain", s.planned[0].Swatch, colour.Lab{L: 42, A: 12, B: 18}, matShot{lamp: warmLamp})
	a := s.post(t, fmt.Sprintf("/photos/%d/setup", first.ID), url.Values{"setupname": {"x"}, "lamp": {"y"}})
	if a.code != 422 || !strings.Contains(a.problem(), "colour target or a grey card") {
		t.Errorf("status %d: %s", a.code, a.problem())
	}
	card := s.sendShot(t, "card", s.planned[1].Swatch, colour.Lab{L: 42, A: 12, B: 18}, matShot{lamp: warmLamp, card: true})
	for name, c := range map[string]struct{ setupname, lamp, says string }{"no name": {"", "y", "name"}, "no lamp": {"x", " ", "lamp"}} {
		a := s.post(t, fmt.Sprintf("/photos/%d/setup", card.ID), url.Values{"setupname": {c.setupname}, "lamp": {c.lamp}})
		if a.code != 422 || !strings.Contains(a.problem(), c.says) {
			t.Errorf("%s: status %d: %s", name, a.code, a.problem())
		}
	}
	s.post(t, fmt.Sprintf("/photos/%d/setup", card.ID), url.Values{"setupname": {"card"}, "lamp": {"lamp"}}).to(t)
	setups, err := s.store.Setups(t.Context())
	if err != nil || len(setups) != 1 || setups[0].Kind != studio.ByGrey {
		t.Fatalf("%+v, %v", setups, err)
	}
	// a photograph off the mat, without a card
	number, marks := s.photograph(t, s.planned[2].Swatch, studio.Front, 0)
	f := marksForm(marks, false)
	f.Set("setup", id(setups[0].ID))
	a = s.post(t, fmt.Sprintf("/photos/%d/measure", number), f)
	if a.code != 422 || !strings.Contains(a.problem(), "white border") {
		t.Errorf("status %d: %s", a.code, a.problem())
	}
	if o := a.doc(t).one("select[name=setup] option[selected]"); o == nil || o.words() != "card" {
		t.Error("the choice did not come back")
	}
	for _, bad := range []url.Values{{"setup": {"99"}}, {"target": {"file-99"}}, {"target": {"moon"}}} {
		f := marksForm(marks, true)
		for name, v := range bad {
			f[name] = v
		}
		if a := s.post(t, fmt.Sprintf("/photos/%d/measure", number), f); a.code != 422 {
			t.Errorf("%v: status %d: %s", bad, a.code, a.problem())
		}
	}
}

// One's own values are used as the published ones are: these are the same.
func TestOwnTargetIsUsedAndRefused(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	keepTarget(t, s.bench, "Mine")
	files, err := s.store.TargetFiles(t.Context())
	if err != nil || len(files) != 1 {
		t.Fatalf("%v, %v", files, err)
	}
	brown := colour.Lab{L: 42, A: 12, B: 18}
	p := s.sendShot(t, "own", s.planned[0].Swatch, brown, matShot{lamp: warmLamp, target: true}, "target", fmt.Sprintf("file-%d", files[0].ID))
	if c := p.Measurement.Correction; c == nil || !strings.HasPrefix(c.Target, "Mine") || colour.Difference(p.Measurement.Lab, brown) > 2 {
		t.Errorf("read %.1f by %+v", p.Measurement.Lab, c)
	}
	missing := s.sendShot(t, "none there", s.planned[1].Swatch, brown, matShot{lamp: warmLamp, card: true}, "target", "before-2014")
	if m := missing.Measurement; m.Marks.Target != "" || !strings.Contains(strings.Join(m.Warnings, " "), "without the colour target") {
		t.Errorf("a target that is not in the picture: %q", m.Warnings)
	}
	for name, c := range map[string]struct{ name, text, says string }{
		"no file":    {"Other", "", "empty"},
		"no name":    {"", "x", "name"},
		"a letter":   {"Other", "Dear customer, your target", "CGATS"},
		"known name": {"Mine", "x", "CGATS"},
	} {
		a := s.upload(t, "/setups/targets", "file", []byte(c.text), url.Values{"targetname": {c.name}})
		if a.code != 422 || !strings.Contains(a.problem(), c.says) {
			t.Errorf("%s: status %d: %s", name, a.code, a.problem())
		}
	}
}

// The face is drawn 50 mm wide on a page of true size. By the mat it measures
// that, and by a print whose line is 1 % long, 1 % more; a line far off is
// refused with advice; a print from after the photograph is not asked.
func TestRulerSetsTheScale(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	brown := colour.Lab{L: 42, A: 12, B: 18}
	width := func(p studio.Photo) float64 {
		c := p.Measurement.Marks.Corners
		return p.Measurement.MMPerPixel * (c[1].X - c[0].X)
	}
	p := s.sendShot(t, "first", s.planned[0].Swatch, brown, matShot{lamp: warmLamp, card: true})
	if w := width(p); w < 49.7 || w > 50.3 || !strings.Contains(p.Measurement.ScaleOf, "not measured yet") {
		t.Errorf("the face is %.2f mm wide by %q", w, p.Measurement.ScaleOf)
	}
	for ruler, says := range map[string]string{"97": "fit to page", "103,5": "fit to page", "long": "not a number", "1000": "ruler shows"} {
		a := s.post(t, "/mat", url.Values{"mat": {"A4-1"}, "printed": {"2026-01-02"}, "ruler": {ruler}})
		if a.code != 422 || !strings.Contains(a.problem(), says) {
			t.Errorf("%s: status %d: %s", ruler, a.code, a.problem())
		}
	}
	s.post(t, "/mat", url.Values{"mat": {"Letter-1"}, "printed": {"2020-01-02"}, "ruler": {"98"}}).to(t)
	s.post(t, "/mat", url.Values{"mat": {"A4-1"}, "printed": {"2020-01-02"}, "ruler": {"101"}}).to(t)
	second := s.sendShot(t, "second", s.planned[1].Swatch, brown, matShot{lamp: warmLamp, card: true})
	if k := width(second) / width(p); k < 1.0095 || k > 1.0105 || !strings.Contains(second.Measurement.ScaleOf, "measures 101 mm") {
		t.Errorf("the scale changed by %.4f, by %q", k, second.Measurement.ScaleOf)
	}
	if text := s.see(t, fmt.Sprintf("/photos/%d", second.ID)).doc(t).one("#main").words(); !strings.Contains(text, "101 mm") {
		t.Error("the page does not say where the scale came from")
	}
	// 50 x 40 mm as entered, 50 x 50 as drawn
	if text := strings.Join(p.Measurement.Warnings, " "); !strings.Contains(text, "but the swatch is entered as 50 × 40 mm") {
		t.Errorf("the warnings are %q", p.Measurement.Warnings)
	}
}

// The whole way by hand in a real browser, on a laptop and on a telephone: a
// photograph with the target, camera and lamp kept, the next photograph set right
// by them, and one under another lamp that warns.
func TestKeepingCameraAndLampInABrowser(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 390} {
		s := stocked(t)
		tb := open(t, s.url, "setup", width)
		send := func(i int, shot matShot) {
			tb.attach("photo", fmt.Sprintf("%d.jpg", i), shotOnMat(t, s.planned[i].Swatch, studio.Front, colour.Lab{L: 55, A: -22, B: 4}, shot))
			tb.pressThrough("Keep it, then mark")
			tb.wait("the reading", `document.querySelector('.measured')`)
		}
		shot := func(what string) {
			tb.shot(what)
			for _, x := range tb.violations() {
				t.Errorf("%s, %d px: %s", what, width, x)
			}
		}
		text := func() string { return js[string](tb, `document.querySelector('main').innerText`) }
		tb.visit("/photos/new")
		tb.choose("target", "from November 2014")
		shot("new")
		send(0, matShot{lamp: warmLamp, target: true})
		js[bool](tb, `([...document.querySelectorAll('summary')].find(s => s.innerText.includes('Keep this camera and lamp')).click(), true)`)
		shot("to-keep")
		tb.pressThrough("Keep camera and lamp") // the lamp is not named yet
		if !strings.Contains(text(), "which lamp or window") {
			t.Errorf("without a lamp it says %.300q", text())
		}
		tb.fill("lamp", "two desk lamps")
		tb.fill("setupname", "Bench, evenings")
		tb.pressThrough("Keep camera and lamp")

		tb.visit("/photos/new")
		send(1, matShot{lamp: warmLamp})
		if said := text(); !strings.Contains(said, "the kept camera and lamp “Bench, evenings”") || strings.Contains(said, "drifted") {
			t.Errorf("the next photograph: %.800q", said)
		}
		shot("reused")
		tb.visit("/photos/new")
		send(2, matShot{lamp: coldLamp})
		if said := text(); !strings.Contains(said, "This setup has drifted") || !strings.Contains(said, "Take a new target photograph") {
			t.Errorf("under another lamp: %.800q", said)
		}
		shot("drifted")
		tb.visit("/setups")
		shot("setups")
		tb.visit("/mat")
		tb.fill("ruler", "97")
		tb.pressThrough("Keep it")
		if !strings.Contains(text(), "fit to page") {
			t.Error("a line of 97 mm was not refused")
		}
		shot("ruler-refused")
		tb.fill("ruler", "99,2")
		tb.pressThrough("Keep it")
		shot("ruler")
		tb.visit("/studio")
		shot("studio")
		tb.visit("/photos/many")
		shot("many")
		tb.visit("/photos/3/mark")
		shot("mark")
	}
}
