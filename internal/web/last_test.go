package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"net/url"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// worn begins a light test of a swatch four months ago, with readings, and returns its
// number.
func worn(t *testing.T, b *bench, swatch int64) int64 {
	t.Helper()
	x, err := b.store.AddWearTest(t.Context(), studio.WearTest{Client: fmt.Sprint("worn", swatch, b.now().UnixNano()), Face: studio.FaceOf{Swatch: swatch, Face: studio.Front}, Protocol: "light", Version: 1,
		Sealer: "wax", Conditions: "south window", Start: b.now().Add(-120 * 24 * time.Hour), By: "Ana"})
	if err != nil {
		t.Fatal(err)
	}
	photos, err := b.store.PhotosOf(t.Context(), swatch)
	if err != nil {
		t.Fatal(err)
	}
	photo := int64(0)
	for _, p := range photos {
		if p.Face == studio.Front && !p.Salted {
			photo = p.ID
		}
	}
	for i, r := range []studio.WearReading{{Kind: studio.WearBefore, Photo: photo}, {Kind: studio.WearRead, Grade: "same", Photo: photo}, {Kind: studio.WearRead, Grade: "slight", Photo: photo}, {Kind: studio.WearRead, Grade: "clear", Photo: photo, Count: 2, Note: "a line"}} {
		if photo == 0 && i == 0 {
			continue
		}
		r.Test, r.Client, r.At = x.ID, fmt.Sprint("worn", x.ID, i), x.Start.Add(time.Duration(i)*32*24*time.Hour)
		if _, err := b.store.AddWearReading(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	return x.ID
}

// lastVisits are the states of the pages about what lasts.
func lastVisits(t *testing.T, empty, full *bench, usual *stock) []visit {
	t.Helper()
	u, of := usual.bench, fmt.Sprintf
	swatch, running, idle := usual.planned[0].Swatch, usual.planned[1].Swatch, usual.planned[3].Swatch
	first := u.post(t, of("/swatches/%d/last", swatch), url.Values{"client": {"w1"}, "protocol": {"tape"}, "face": {"front"}, "sealer": {"none"}}).to(t)
	ended := u.post(t, of("/swatches/%d/last", swatch), url.Values{"client": {"w2"}, "protocol": {"outdoors"}, "face": {"front"}, "sealer": {"wax"}, "site": {"C3"}, "control": {of("%d back", swatch)}}).to(t)
	u.post(t, ended+"/readings", url.Values{"client": {"r1"}, "kind": {"ended"}}).to(t)
	lived := worn(t, full, 1)
	return []visit{
		{"last", "empty", empty, "/last", nil, 200, "Does it last"},
		{"last", "usual", u, "/last", nil, 200, "Does it last"},
		{"last", "full", full, "/last", nil, 200, "Does it last"},
		{"last_swatch", "empty", u, of("/swatches/%d/last", idle), nil, 200, "Does swatch"},
		{"last_swatch", "usual", u, of("/swatches/%d/last", swatch), nil, 200, "Does swatch"},
		{"last_swatch", "full", full, "/swatches/1/last", nil, 200, "Does swatch 1"},
		{"last_swatch", "nothing chosen", u, of("/swatches/%d/last", swatch), url.Values{"client": {"x1"}, "face": {"front"}, "sealer": {"wax"}}, 422, "Does swatch"},
		{"last_swatch", "refused", u, of("/swatches/%d/last", swatch), url.Values{"client": {"x1"}, "protocol": {"light"}, "face": {"rim"}, "sealer": {"wax"}, "control": {"the other"}}, 422, "Does swatch"},
		{"last_swatch", "no such control", u, of("/swatches/%d/last", swatch), url.Values{"client": {"x1"}, "protocol": {"light"}, "face": {"front"}, "sealer": {"wax"}, "control": {"4711"}}, 422, "Does swatch"},
		{"last_swatch", "no such place", u, of("/swatches/%d/last", swatch), url.Values{"client": {"x1"}, "protocol": {"outdoors"}, "face": {"front"}, "sealer": {"wax"}, "site": {"C9"}}, 422, "Does swatch"},
		{"last_swatch", "not there", empty, "/swatches/1/last", nil, 404, "Not here"},
		{"last_test", "usual", u, first, nil, 200, "Tape: swatch"},
		{"last_test", "ended", u, ended, nil, 200, "Outdoors: swatch"},
		{"last_test", "full", full, of("/last/%d", lived), nil, 200, "Light in a window: swatch 1"},
		{"last_test", "refused", u, first + "/readings", url.Values{"client": {"x2"}, "kind": {"read"}}, 422, "Tape: swatch"},
		{"last_test", "words of another test", u, first + "/readings", url.Values{"client": {"x2"}, "kind": {"read"}, "grade": {"smear"}}, 422, "Tape: swatch"},
		{"last_test", "not there", empty, "/last/1", nil, 404, "Not here"},
		{"last_sealing", "empty", empty, "/last/sealing", nil, 200, "What sealing does"},
		{"last_sealing", "usual", u, "/last/sealing", nil, 200, "What sealing does"},
		{"last_sealing", "still running", u, "/last/sealing", url.Values{"numbers": {id(running)}, "sealer": {"wax"}, "side": {"right"}, "face": {"front"}}, 422, "What sealing does"},
		{"last_sealing", "refused", u, "/last/sealing", url.Values{"numbers": {"some"}, "sealer": {"honey"}, "side": {"right"}, "face": {"rim"}}, 422, "What sealing does"},
		{"last_sealing", "no such swatch", u, "/last/sealing", url.Values{"numbers": {"4711"}, "sealer": {"oil"}, "side": {"top"}, "face": {"front"}}, 422, "What sealing does"},
		{"last_care", "usual", u, of("/swatches/%d/care", swatch), nil, 200, "Looking after Piece"},
		{"last_care", "named", u, of("/swatches/%d/care?name=Bowl&sealer=lacquer", swatch), nil, 200, "Looking after Bowl"},
		{"last_care", "full", full, "/swatches/1/care", nil, 200, "Looking after"},
		{"last_care", "not there", empty, "/swatches/1/care", nil, 404, "Not here"},
	}
}

// done taps a treatment through, ended at a time.
func (s *stock) done(t *testing.T, x studio.Treatment, from, to time.Time) {
	t.Helper()
	events := []studio.Event{{Treatment: x.ID, Client: fmt.Sprint("begin", x.ID), Kind: studio.Began, At: from}}
	for i := range x.Steps {
		at := from.Add(to.Sub(from) * time.Duration(i+1) / time.Duration(len(x.Steps)))
		events = append(events, studio.Event{Treatment: x.ID, Client: fmt.Sprint("done", x.ID, i), Kind: studio.Done, Step: i, At: at})
	}
	if _, err := s.store.AddEvents(t.Context(), events); err != nil {
		t.Fatal(err)
	}
}

// halfShot draws a swatch on the mat whose right half has another colour.
func halfShot(t *testing.T, number int64, left, right colour.Lab) []byte {
	t.Helper()
	open := func(l colour.Lab) image.Image {
		img, _, err := image.Decode(bytes.NewReader(shotOnMat(t, number, studio.Front, l, matShot{lamp: warmLamp, card: true})))
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	a, b := open(left), open(right)
	out := image.NewRGBA(a.Bounds())
	draw.Draw(out, out.Bounds(), a, image.Point{}, draw.Src)
	// what differs between the two is the swatch; of that the right half is the other's
	lo, hi := out.Bounds().Max.X, 0
	for y := range out.Bounds().Max.Y {
		for x := range out.Bounds().Max.X {
			r, g, bl, _ := a.At(x, y).RGBA()
			r2, g2, b2, _ := b.At(x, y).RGBA()
			if d := max(r, r2) - min(r, r2) + max(g, g2) - min(g, g2) + max(bl, b2) - min(bl, b2); d > 12<<8 {
				lo, hi = min(lo, x), max(hi, x)
			}
		}
	}
	middle := (lo + hi) / 2
	draw.Draw(out, image.Rect(middle, 0, hi+1, out.Bounds().Max.Y), b, image.Pt(middle, 0), draw.Src)
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, out, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// The colours drawn are the truth: the right half is sealed with wax, and the page
// says by how much it differs, as CIEDE2000 gives it.
func TestHalfSealedSwatchTellsWhatWaxDoes(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	x := s.planned[0]
	plan := url.Values{"numbers": {id(x.Swatch)}, "sealer": {"wax"}, "side": {"right"}, "face": {"front"}}
	a := s.post(t, "/last/sealing", plan)
	if a.code != 422 || !strings.Contains(string(a.body), "has not been started") {
		t.Fatalf("a bare face: %d %s", a.code, a.problem())
	}
	s.done(t, x, s.now().Add(-5*time.Hour), s.now().Add(-3*time.Hour))
	a = s.post(t, "/last/sealing", plan)
	if a.code != 422 || !strings.Contains(string(a.body), "no rinse was tapped") {
		t.Fatalf("with its salt on: %d %s", a.code, a.problem())
	}
	plan.Set("sure", "yes")
	s.post(t, "/last/sealing", plan).to(t)
	all, err := s.store.Treatments(t.Context(), store.TreatmentFilter{Swatch: x.Swatch})
	if err != nil || len(all) != 2 || all[1].Layer != 2 || all[1].Steps[0].Place != "right half" {
		t.Fatalf("planned as %+v, %v", all, err)
	}
	wants(t, "planned", s.says(t, "/last/sealing"), "wax on the right half", "start it from Today")
	s.done(t, all[1], s.now().Add(-2*time.Hour), s.now().Add(-time.Hour))
	bare, wax := colour.Lab{L: 58, A: -20, B: -4}, colour.Lab{L: 48, A: -20, B: -4}
	s.upload(t, "/photos", "photo", halfShot(t, x.Swatch, bare, wax), url.Values{"client": {"half"}, "swatch": {id(x.Swatch)}, "face": {"front"}, "moment": {"finished"}}).to(t)
	truth := colour.Difference(bare, wax)
	says := s.says(t, "/last/sealing")
	wants(t, "sealed", says, "Sealing with wax made it darker", "a second swatch would tell")
	var found float64
	if _, after, ok := strings.Cut(says, "Sealing with wax made it darker, by "); ok {
		fmt.Sscanf(after, "%f", &found)
	}
	if found < truth-1.5 || found > truth+1.5 {
		t.Errorf("it says %v, drawn is %.2f", found, truth)
	}
	tb := open(t, s.url, "sealing", 390)
	tb.visit("/last/sealing")
	if bad := tb.violations(); len(bad) > 0 {
		t.Errorf("%s", strings.Join(bad, "\n"))
	}
	tb.shot("found")
}

// From the phone: a test is begun, counted by taps, and what was found is kept once and
// comes out on the care sheet.
func TestATestOnThePhoneReachesTheCareSheet(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	number := s.planned[0].Swatch
	if says := s.says(t, fmt.Sprintf("/swatches/%d/care", number)); !strings.Contains(says, "has not been tested") {
		t.Errorf("untested, the sheet says %q", says)
	}
	tb := open(t, s.url, "wear", 390)
	tb.visit(fmt.Sprintf("/swatches/%d/last", number))
	js[bool](tb, `(() => { document.querySelector('input[value="rub"]').click(); return true })()`)
	tb.pressThrough("Begin now")
	tb.wait("the counter", `document.querySelector('[data-count]') && !document.querySelector('[data-count]').hidden`)
	for range 10 {
		js[bool](tb, `(() => { document.querySelector('[data-count]').click(); return true })()`)
	}
	if text := js[string](tb, `document.querySelector('[data-count]').textContent`); text != "10 of 10 double rubs" {
		t.Errorf("the counter says %q", text)
	}
	if small := js[string](tb, `[...document.querySelectorAll('main button')].filter(b => b.offsetParent && b.offsetHeight < 44).map(b => b.innerText).join()`); small != "" {
		t.Errorf("too small to tap: %s", small)
	}
	if bad := tb.violations(); len(bad) > 0 {
		t.Errorf("%s", strings.Join(bad, "\n"))
	}
	tb.shot("steps")
	js[bool](tb, `(() => { document.querySelector('input[value="trace"]').click(); return true })()`)
	tb.pressThrough("Keep it")
	readings, err := s.store.WearReadings(t.Context(), 0)
	if err != nil || len(readings) != 1 {
		t.Fatal(readings, err)
	}
	for _, rs := range readings {
		if len(rs) != 1 || rs[0].Grade != "trace" || rs[0].Count != 10 {
			t.Errorf("kept as %+v", rs)
		}
	}
	wants(t, "care sheet", s.says(t, fmt.Sprintf("/swatches/%d/care?sealer=none", number)), "This piece: rubbed with dry white cotton (10 times)", "a trace, that is, seen only on white paper", "Not tested, so nothing is promised: tape")
	for _, sheet := range []string{"a4", "letter"} {
		a := s.see(t, fmt.Sprintf("/swatches/%d/care.pdf?sheet=%s", number, sheet))
		if a.code != 200 || !bytes.HasPrefix(a.body, []byte("%PDF")) {
			t.Errorf("%s: %d, %.20s", sheet, a.code, a.body)
		}
	}
	ics := s.see(t, "/last.ics")
	if ics.code != 200 || !strings.HasPrefix(string(ics.body), "BEGIN:VCALENDAR\r\n") {
		t.Errorf("the calendar is %d %.40q", ics.code, ics.body)
	}
}

func TestAReadingSentTwiceCountsOnceAndCanBeTakenBack(t *testing.T) {
	s := stocked(t)
	number := s.planned[0].Swatch
	to := s.post(t, fmt.Sprintf("/swatches/%d/last", number), url.Values{"client": {"w"}, "protocol": {"damp"}, "face": {"front"}, "sealer": {"lacquer"}}).to(t)
	again := s.post(t, fmt.Sprintf("/swatches/%d/last", number), url.Values{"client": {"w"}, "protocol": {"damp"}, "face": {"front"}, "sealer": {"lacquer"}}).to(t)
	if to != again {
		t.Errorf("sent twice it is %s and %s", to, again)
	}
	wants(t, "due", s.says(t, "/last"), "Damp box: swatch", "Look at it in 48 hours")
	s.pass(49 * time.Hour)
	wants(t, "due", s.says(t, "/last"), "Look at it now")
	for range 2 {
		s.post(t, to+"/readings", url.Values{"client": {"r"}, "kind": {"read"}, "grade": {"plain"}}).to(t)
	}
	readings, err := s.store.WearReadings(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for test, rs := range readings {
		if len(rs) != 1 {
			t.Fatalf("%d readings", len(rs))
		}
		wants(t, "found", s.says(t, "/last"), "A plain mark", "Nothing is waiting")
		s.post(t, fmt.Sprintf("/last/%d/readings", test), url.Values{"client": {"v"}, "kind": {"voided"}, "voids": {id(rs[0].ID)}}).to(t)
	}
	wants(t, "taken back", s.says(t, "/last"), "nothing yet", "Look at it now")
}
