package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// foreseeable is a bench with the invented example of which so much is measured that
// looks can be predicted: eight swatches of the first set.
func foreseeable(t *testing.T) *bench {
	t.Helper()
	b := serve(t)
	filled(t, b)
	for number := int64(4); number <= 8; number++ {
		photo, marks := b.photograph(t, number, studio.Front, int(number))
		b.post(t, fmt.Sprintf("/photos/%d/measure", photo), marksForm(marks, true)).to(t)
	}
	return b
}

// nextVisits are what to try next, how a swatch would look and the picking of a colour,
// in their states.
func nextVisits(t *testing.T, empty, full *bench) []visit {
	t.Helper()
	b := foreseeable(t)
	looks, err := b.store.Looks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	photo := looks[0].Photo
	data, _ := sample(1, studio.Front, 0)
	ref := b.upload(t, "/next/reference", "photo", data, url.Values{"set": {"1"}, "face": {"front"}}).to(t)
	at := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	return []visit{
		{"next", "empty", empty, "/next", nil, 200, "What to try next"},
		{"next", "too few", full, "/next?set=1", nil, 200, "What to try next"},
		{"next", "usual", b, "/next", nil, 200, "What to try next"},
		{"next", "toward a swatch", b, "/next?set=1&toward=swatch&swatch=3&n=4&within=9+h", nil, 200, "What to try next"},
		{"next", "more like some", b, "/next?set=1&toward=like&like=1,+3", nil, 200, "What to try next"},
		{"next", "toward a colour", b, "/next?set=1&toward=lab&L=50&a=60&b=40&from=a+spot&loose=1", nil, 200, "What to try next"},
		{"next", "a question", b, "/next?set=1&toward=question&a1=0&b1=-1", nil, 200, "What to try next"},
		{"next", "refused", b, "/next?set=1&toward=lab&L=500&a=red&n=99&within=soon", nil, 422, "What to try next"},
		{"next", "no such swatch", b, "/next?set=1&toward=swatch&swatch=blue", nil, 422, "What to try next"},
		{"next", "compared with itself", b, "/next?set=1&toward=question&a1=0&b1=0", nil, 422, "What to try next"},
		{"next", "no time", b, "/next?set=1&toward=swatch&swatch=3&within=1+min", nil, 422, "What to try next"},
		{"next", "nothing ticked", b, "/next", url.Values{"asked": {"set=1&toward=swatch&swatch=3"}, "name": {"More"}}, 422, "What to try next"},
		{"next", "not there", b, "/next?set=999", nil, 404, "Not here"},
		{"predict", "empty", empty, "/predict", nil, 200, "How would it look?"},
		{"predict", "too few", full, "/predict?set=1", nil, 200, "How would it look?"},
		{"predict", "usual", b, "/predict?set=1", nil, 200, "How would it look?"},
		{"predict", "seen", b, "/predict?set=1&f0=90+min", nil, 200, "How would it look?"},
		{"predict", "past what was tried", b, "/predict?set=1&f0=20+h", nil, 200, "How would it look?"},
		{"predict", "refused", b, "/predict?set=1&f0=a+while", nil, 422, "How would it look?"},
		{"predict", "not there", b, "/predict?set=999", nil, 404, "Not here"},
		{"next_spot", "usual", b, "/next/spot?set=1&face=front", nil, 200, "Pick a colour"},
		{"next_spot", "which photograph", b, "/next/spot?set=1&face=front&of=1", nil, 200, "Pick a colour"},
		{"next_spot", "a photograph", b, at("/next/spot?photo=%d&set=1&face=front", photo), nil, 200, "Pick a colour"},
		{"next_spot", "a picture sent", b, ref, nil, 200, "Pick a colour"},
		{"next_spot", "refused", b, "/next/spot?of=blue", nil, 422, "Pick a colour"},
		{"next_spot", "outside", b, at("/next/spot?photo=%d&across=150&down=5", photo), nil, 422, "Pick a colour"},
		{"next_spot", "not there", b, "/next/spot?photo=99999", nil, 404, "Not here"},
		{"next_spot", "a picture gone", b, "/next/spot?ref=gone", nil, 404, "Not here"},
	}
}

// nextPages are the addresses of these pages on the example studio.
var nextPages = []string{"/next", "/predict", "/next/spot", "/next?toward=lab&L=900"}

// Toward a swatch, through the page's own form, to a set that is planned; on a laptop
// and on a phone.
func TestProposalsBecomeASet(t *testing.T) {
	t.Parallel()
	b := foreseeable(t)
	for i, width := range []int{1280, 360} {
		tb := open(t, b.url, fmt.Sprint("next ", width), width)
		accessible := func() {
			t.Helper()
			for _, x := range tb.violations() {
				t.Errorf("%d px: %s", width, x)
			}
		}
		tb.visit("/findings/1")
		tb.pressThrough("What to try next")
		tb.noSideways()
		tb.fill("swatch", "3")
		tb.fill("n", "2")
		tb.pressThrough("Toward this swatch")
		tb.noSideways()
		accessible()
		tb.shot("next")
		ticked := int(js[float64](tb, `(document.querySelectorAll('[name=take]').forEach(x => x.checked = true), document.querySelectorAll('[name=take]').length)`))
		if ticked == 0 {
			t.Fatalf("%d px: nothing is proposed: %s", width, js[string](tb, `document.querySelector('main').innerText`))
		}
		tb.pressThrough("Plan these")
		if h := js[string](tb, `document.querySelector('h1').innerText`); !strings.HasPrefix(h, "Toward the look of swatch 3") {
			t.Errorf("%d px: the way ends at %q", width, h)
		}
		sets, err := b.store.Sets(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		set := sets[len(sets)-1]
		if set.Design != studio.Proposed || set.FrontID == 0 {
			t.Errorf("%d px: the set's design is %q", width, set.Design)
		}
		ts, err := b.store.Treatments(t.Context(), store.TreatmentFilter{Set: set.ID})
		if err != nil || len(ts) < ticked {
			t.Errorf("%d px: %d treatments for %d proposals, %v", width, len(ts), ticked, err)
		}
		tb.visit("/predict?set=1&f0=90+min")
		tb.noSideways()
		accessible()
		tb.visit("/next/spot?photo=1&set=1&face=front")
		tb.noSideways()
		accessible()
		if i == 0 {
			continue
		}
		// a tap in the middle of the picture leads to its colour
		js[bool](tb, `(() => { const x = document.querySelector('input[type=image]'), r = x.getBoundingClientRect(); x.dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true, clientX: r.left + r.width / 2, clientY: r.top + r.height / 2})); return true })()`)
		tb.wait("the colour", `location.pathname === '/next' && location.search.includes('toward=lab')`)
	}
}

// What a person changed by hand in a proposal's form is held to the same rules.
func TestPlannedProposalsAreHeldToTheRules(t *testing.T) {
	t.Parallel()
	b := foreseeable(t)
	before, err := b.store.Sets(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	good := func() url.Values {
		return url.Values{"asked": {"set=1&toward=swatch&swatch=3"}, "name": {"More"}, "replicates": {"1"}, "take": {"90x1"}, "room": {"0"}, "class": {""}}
	}
	for what, change := range map[string]func(url.Values){
		"settings of another recipe":   func(f url.Values) { f.Set("take", "1,2,3x1") },
		"a time below nothing":         func(f url.Values) { f.Set("take", "-90x1") },
		"a time that is none":          func(f url.Values) { f.Set("take", "NaNx1") },
		"no name":                      func(f url.Values) { f.Set("name", " ") },
		"more of each than can be":     func(f url.Values) { f.Set("replicates", "1000") },
		"ammonia for young children":   func(f url.Values) { f.Set("class", string(studio.Classes[len(studio.Classes)-1])) },
		"a class that is none":         func(f url.Values) { f.Set("class", "wizards") },
		"a question that can't be":     func(f url.Values) { f.Set("asked", "%zz") },
		"more proposals than a set is": func(f url.Values) { f["take"] = strings.Split(strings.Repeat("90x1 ", 300)+"90x1", " ") },
	} {
		f := good()
		change(f)
		if a := b.post(t, "/next", f); a.code != http.StatusUnprocessableEntity || a.problem() == "" {
			t.Errorf("%s: status %d, %q", what, a.code, a.problem())
		}
	}
	after, err := b.store.Sets(t.Context())
	if err != nil || len(after) != len(before) {
		t.Errorf("%d sets where there were %d, %v", len(after), len(before), err)
	}
	b.post(t, "/next", good()).to(t)
}

// A spot in the middle of an even face has about the colour that is measured of the
// face; on a picture that was only sent its colour is marked as of unknown light.
func TestPickedSpotIsTheColourThere(t *testing.T) {
	t.Parallel()
	b := foreseeable(t)
	looks, err := b.store.Looks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	l := looks[0]
	u, err := url.Parse(b.see(t, fmt.Sprintf("/next/spot?photo=%d&set=1&face=front&across=50&down=50", l.Photo)).to(t))
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	for name, want := range map[string]float64{"L": l.Measurement.Lab.L, "a": l.Measurement.Lab.A, "b": l.Measurement.Lab.B} {
		got, err := strconv.ParseFloat(strings.Replace(q.Get(name), "−", "-", 1), 64)
		if err != nil || got < want-35 || got > want+35 {
			t.Errorf("%s* of the spot is %q, of the face %.1f", name, q.Get(name), want)
		}
	}
	if q.Get("loose") != "" {
		t.Error("a spot on a photograph with a grey card is marked as loose")
	}
	data, _ := sample(1, studio.Front, 0)
	to := b.upload(t, "/next/reference", "photo", data, url.Values{"set": {"1"}, "face": {"front"}}).to(t)
	to = b.see(t, to+"&across=50&down=50").to(t)
	if !strings.Contains(to, "loose=1") {
		t.Errorf("a sent picture's colour comes as %s", to)
	}
	page := b.see(t, to)
	if !strings.Contains(string(page.body), "only as good as its light") {
		t.Error("the page does not say that the colour is only as good as its light")
	}
	if a := b.upload(t, "/next/reference", "photo", []byte("no picture"), url.Values{}); a.code != http.StatusUnprocessableEntity {
		t.Errorf("a text sent as a picture: status %d", a.code)
	}
	for n := range 5 { // more than are kept
		b.upload(t, "/next/reference", "photo", data, url.Values{"set": {strconv.Itoa(n)}}).to(t)
	}
}
