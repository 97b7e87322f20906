package web_test

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"aerugo/internal/demo"
)

// axe is the accessibility engine axe-core 4.14.1 (MPL-2.0, see
// testdata/axe-LICENSE.txt), unchanged.
//
//go:embed testdata/axe.min.js
var axe string

// example fills a bench with the invented studio and its first photographs.
func example(t *testing.T, b *bench, photographs int) {
	t.Helper()
	if err := demo.Fill(t.Context(), b.store, b.now()); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	err := demo.Develop(ctx, b.store, 2, func(done, total int) {
		if done >= photographs {
			cancel()
		}
	})
	if err != nil && ctx.Err() == nil {
		t.Fatal(err)
	}
}

// everyPage lists an address of every page of the example studio.
func everyPage(t *testing.T, b *bench) []string {
	t.Helper()
	ctx := t.Context()
	pages := []string{"/", "/timers", "/sets", "/sets/new", "/swatches", "/swatches?by=hue", "/swatches?by=set", "/find", "/find?q=S9999F0",
		"/recipes", "/recipes/new", "/findings", "/shelf", "/shelf/metals/new", "/shelf/supplies/new", "/shelf/chambers/new", "/shelf/rooms/new", "/shelf/rooms/2", "/chambers", "/chambers/1", "/chambers/2", "/chambers/1/level",
		"/mix", "/mix?material=ammonia-water&strength=28&unit=wt%25&to=10&amount=1000&amountunit=mL", "/mix?supply=1&to=40&amount=9", "/studio", "/setups", "/mat", "/photos/new", "/photos/many", "/compare", "/no-such-page", "/swatches/999999"}
	pages = append(pages, libraryPages...)
	pages = append(pages, "/day", examplesDay(t, b), "/day/1/after")
	pages = append(pages, nextPages...)
	pages = append(pages, storagePages...)
	pages = append(pages, classPages...)
	pages = append(pages, batchPages(t, b)...)
	pages = append(pages, moneyPages(t, b)...)
	pages = append(pages, classPaperPages(t, b)...)
	pages = append(pages, piecePages(t, b)...)
	pages = append(pages, "/pieces/1/takes", "/pieces/1/takes?count=3&spare=20")
	sets, err := b.store.Sets(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range sets {
		pages = append(pages, fmt.Sprintf("/sets/%d", x.ID), fmt.Sprintf("/findings/%d", x.ID))
	}
	wear := worn(t, b, 1)
	pages = append(pages, "/last", fmt.Sprintf("/last/%d", wear), "/last/sealing", "/swatches/1/last", "/swatches/1/care")
	taste := tasted(t, b)
	pages = append(pages, "/taste", fmt.Sprintf("/taste/%d?someone=else", taste), fmt.Sprintf("/taste/%d?who=Ana", taste), fmt.Sprintf("/taste/%d/order", taste))
	pages = append(pages, seatPages(t, b)...)
	pages = append(pages, fmt.Sprintf("/sets/%d/bench", sets[0].ID), fmt.Sprintf("/sets/%d/bench.pdf?as=page", sets[0].ID), "/recipes/1/card.pdf?as=page", "/mat.pdf?as=page", fmt.Sprintf("/sets/%d/bare", sets[0].ID))
	looks, err := b.store.Looks(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(looks) < 3 {
		t.Fatalf("only %d faces are measured in the example", len(looks))
	}
	var p []string
	for _, l := range looks[:3] {
		p = append(p, fmt.Sprintf("p=%d", l.Photo))
	}
	pages = append(pages, fmt.Sprintf("/swatches/%d", looks[0].Swatch), fmt.Sprintf("/swatches/%d/front/series", looks[0].Swatch), fmt.Sprintf("/swatches/%d/%s/pooling", looks[0].Swatch, looks[0].Face), fmt.Sprintf("/photos/%d", looks[0].Photo), fmt.Sprintf("/photos/%d/mark", looks[0].Photo), fmt.Sprintf("/photos/%d/paint", looks[0].Photo), fmt.Sprintf("/photos/%d/salt", looks[0].Photo), "/compare?"+strings.Join(p, "&"))
	recipes, err := b.store.Recipes(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range recipes {
		pages = append(pages, fmt.Sprintf("/recipes/%d", r.ID))
	}
	pages = append(pages, "/recipes/2?against=1", "/publish?recipe=1", "/recipe-file")
	pages = append(pages, fmt.Sprintf("/recipes/%d/edit", recipes[0].ID), fmt.Sprintf("/recipes/%d/card", recipes[0].ID))
	metals, err := b.store.Metals(ctx)
	if err != nil {
		t.Fatal(err)
	}
	supplies, err := b.store.Supplies(ctx)
	if err != nil {
		t.Fatal(err)
	}
	chambers, err := b.store.Chambers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return append(pages, fmt.Sprintf("/shelf/metals/%d", metals[0].ID), fmt.Sprintf("/shelf/supplies/%d", supplies[0].ID), fmt.Sprintf("/shelf/chambers/%d", chambers[0].ID))
}

// violations runs the engine over the page in the tab.
func (tb *tab) violations() (out []string) {
	tb.t.Helper()
	js[bool](tb, axe+`; true`)
	// what passes is not listed, selectors are not worked out, and style sheets are not fetched once more for rules that are not asked for
	found := js[string](tb, `axe.run(document, {resultTypes: ['violations'], selectors: false, preload: false, runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => JSON.stringify(r.violations.map(v => ({id: v.id, help: v.help, nodes: v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' :: ' + (n.failureSummary || '').slice(0, 200))}))))`)
	var all []struct {
		ID, Help string
		Nodes    []string
	}
	if err := json.Unmarshal([]byte(found), &all); err != nil {
		tb.t.Fatal(err)
	}
	for _, x := range all {
		out = append(out, fmt.Sprintf("%s (%s)\n  %s", x.ID, x.Help, strings.Join(x.Nodes, "\n  ")))
	}
	return out
}

// TestEveryPageIsAccessible runs the engine over every page, empty, full and
// refused: light at the width of a laptop, dark at that of a phone.
func TestEveryPageIsAccessible(t *testing.T) {
	t.Parallel()
	full, empty := serve(t), serve(t)
	example(t, full, 40)
	type visit struct {
		b    *bench
		path string
	}
	var visits []visit
	for _, p := range everyPage(t, full) {
		visits = append(visits, visit{full, p})
	}
	for _, p := range []string{"/", "/sets", "/sets/new", "/swatches", "/recipes", "/findings", "/shelf", "/studio", "/join", "/join?code=used"} {
		visits = append(visits, visit{empty, p})
	}
	// tabs beside each other: a page waits for its browser more than it reckons
	for _, as := range []struct {
		width     int
		lightness string
	}{{1280, "table"}, {360, "bench"}} {
		t.Run(fmt.Sprintf("%d px, %s", as.width, as.lightness), func(t *testing.T) {
			t.Parallel()
			tb := open(t, full.url, "axe "+as.lightness, as.width)
			tb.do("visit", navigate(full.url+"/join")) // cookies go by host, not by port: both studios get it
			js[bool](tb, fmt.Sprintf(`(document.cookie = 'aerugo_lightness=%s; path=/', document.cookie = 'aerugo_seat=%s; path=/', true)`, as.lightness, seatedToken))
			for _, v := range visits {
				tb.base = v.b.url
				tb.visit(v.path)
				if dark := js[bool](tb, `document.documentElement.classList.contains('bench')`); dark != (as.lightness == "bench") {
					t.Errorf("%s is not shown in the setting %s", v.path, as.lightness)
				}
				for _, x := range tb.violations() {
					t.Errorf("%s, %s, %d px: %s", v.path, as.lightness, as.width, x)
				}
				if strings.HasPrefix(v.path, "/") && v.b == full {
					tb.shot(strings.Trim(strings.Map(func(r rune) rune {
						if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
							return r
						}
						return '-'
					}, v.path), "-") + "-" + as.lightness)
				}
			}
			t.Logf("%d pages", len(visits))
		})
	}
}

// TestNobodyComesInWithoutACode asks for pages the way a stranger on the
// network would: from another address, under another name, with another cookie.
func TestNobodyComesInWithoutACode(t *testing.T) {
	b := serve(t)
	for name, change := range map[string]func(*http.Request){
		"another machine":                 func(r *http.Request) { r.RemoteAddr = "192.168.1.77:5000" },
		"this machine under another name": func(r *http.Request) { r.Host = "evil.example:8737" },
		"a made-up cookie": func(r *http.Request) {
			r.RemoteAddr = "192.168.1.77:5000"
			r.AddCookie(&http.Cookie{Name: "aerugo_device", Value: "guess"})
		},
	} {
		for _, path := range []string{"/", "/swatches", "/photos/1/original", "/export.zip", "/live", "/sets/1/labels.pdf"} {
			r := httptest.NewRequest("GET", "http://127.0.0.1"+path, nil)
			r.RemoteAddr = "127.0.0.1:5000"
			change(r)
			w := httptest.NewRecorder()
			b.web.ServeHTTP(w, r)
			if w.Code != http.StatusForbidden {
				t.Errorf("%s, %s: status %d, want 403", name, path, w.Code)
			}
			if body := w.Body.String(); strings.Contains(body, b.store.Dir()) {
				t.Errorf("%s, %s: the refusal tells about the studio", name, path)
			}
		}
		r := httptest.NewRequest("POST", "http://127.0.0.1/taps", strings.NewReader("kind=done"))
		r.RemoteAddr = "127.0.0.1:5000"
		change(r)
		w := httptest.NewRecorder()
		b.web.ServeHTTP(w, r)
		if w.Code != http.StatusForbidden {
			t.Errorf("%s: a tap got status %d, want 403", name, w.Code)
		}
	}
}

// TestACodeLetsOneDeviceIn spends a code once, and not after ten minutes.
func TestACodeLetsOneDeviceIn(t *testing.T) {
	b := serve(t)
	try := func(code string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "http://192.168.1.2:8737/join", strings.NewReader("code="+code+"&name=Phone"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.RemoteAddr = "192.168.1.77:5000"
		w := httptest.NewRecorder()
		b.web.ServeHTTP(w, r)
		return w
	}
	code := b.web.JoinCode()
	first := try(code)
	if first.Code != http.StatusSeeOther || len(first.Result().Cookies()) == 0 {
		t.Fatalf("a good code: status %d", first.Code)
	}
	if again := try(code); again.Code != http.StatusForbidden {
		t.Errorf("the same code again: status %d, want 403", again.Code)
	}
	r := httptest.NewRequest("GET", "http://192.168.1.2:8737/", nil)
	r.RemoteAddr = "192.168.1.77:5000"
	r.AddCookie(first.Result().Cookies()[0])
	w := httptest.NewRecorder()
	b.web.ServeHTTP(w, r)
	if w.Code != http.StatusOK {
		t.Errorf("the device that joined: status %d, want 200", w.Code)
	}
	devices, err := b.store.Devices(t.Context())
	if err != nil || len(devices) != 1 {
		t.Fatalf("devices = %v, %v", devices, err)
	}
	if err := b.store.RevokeDevice(t.Context(), devices[0].ID); err != nil {
		t.Fatal(err)
	}
	w = httptest.NewRecorder()
	b.web.ServeHTTP(w, r)
	if w.Code != http.StatusForbidden {
		t.Errorf("a device shut out: status %d, want 403", w.Code)
	}
	late := b.web.JoinCode()
	b.pass(11 * time.Minute)
	if w := try(late); w.Code != http.StatusForbidden {
		t.Errorf("a code of eleven minutes ago: status %d, want 403", w.Code)
	}
}
