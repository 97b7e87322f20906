package web_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"aerugo/internal/flow/run"
	"aerugo/internal/studio"
)

// A laptop is a served studio that can go out of reach and come back.
type laptop struct {
	*stock
	t    *testing.T
	addr string
	srv  *http.Server
	busy sync.WaitGroup // requests being answered
}

// laptopWith serves a stocked bench at an address of its own.
func laptopWith(t *testing.T) *laptop {
	t.Helper()
	return laptopOf(t, stocked(t))
}

func laptopOf(t *testing.T, s *stock) *laptop {
	t.Helper()
	l := &laptop{stock: s, t: t, addr: "127.0.0.1:0"}
	l.back()
	l.url = "http://" + l.addr
	t.Cleanup(func() {
		l.goes()
		l.web.Close()
		l.busy.Wait() // before the store is closed
	})
	return l
}

// goes closes the port and every connection.
func (l *laptop) goes() { l.srv.Close() }

func (l *laptop) back() {
	l.t.Helper()
	var ln net.Listener
	var err error
	// meanwhile another connection may have been given the port for a while
	for began := time.Now(); time.Since(began) < patience; time.Sleep(20 * time.Millisecond) {
		if ln, err = net.Listen("tcp", l.addr); err == nil {
			break
		}
	}
	if err != nil {
		l.t.Fatal(err)
	}
	l.addr = ln.Addr().String()
	l.srv = &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		l.busy.Add(1)
		defer l.busy.Done()
		l.web.ServeHTTP(w, r)
	})}
	go l.srv.Serve(ln)
}

// device lets a device in without a browser and returns what posts its taps,
// which reach the studio also while the port is closed.
func (l *laptop) device(name string) func(path string, form url.Values) int {
	send := func(path string, form url.Values, c *http.Cookie) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "http://192.0.2.7:8737"+path, strings.NewReader(form.Encode())) // RFC 5737
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.RemoteAddr = "192.0.2.9:5000"
		if c != nil {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		l.web.ServeHTTP(w, r)
		return w
	}
	w := send("/join", url.Values{"code": {l.web.JoinCode()}, "name": {name}}, nil)
	cookies := w.Result().Cookies()
	if len(cookies) == 0 {
		l.t.Fatalf("%s was not let in: status %d", name, w.Code)
	}
	return func(path string, form url.Values) int { return send(path, form, cookies[0]).Code }
}

// titles lists the cards of the board.
func (tb *tab) titles() []string {
	tb.t.Helper()
	return js[[]string](tb, `[...document.querySelectorAll('.task h3')].map(h => h.textContent).sort()`)
}

// tapCard presses the button of the card whose title holds text.
func (tb *tab) tapCard(text string) {
	tb.t.Helper()
	if !js[bool](tb, fmt.Sprintf(`(() => { const t = [...document.querySelectorAll('.task')].find(t => t.querySelector('h3').textContent.includes(%s)); if (!t) return false; t.querySelector('.buttons .main').click(); return true })()`, quote(text))) {
		tb.shot("no-card")
		tb.t.Fatalf("%s: no card %q among %q", tb.name, text, tb.titles())
	}
}

func hasCard(text string) string {
	return fmt.Sprintf(`[...document.querySelectorAll('.task h3')].some(h => h.textContent.includes(%s))`, quote(text))
}

func noCard(text string) string { return "!" + hasCard(text) }

// script runs in every page the tab opens from now on, before the page's own.
func (tb *tab) script(text string) {
	tb.t.Helper()
	if _, err := chromedp.Call(tb.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: text}); err != nil {
		tb.t.Fatal(err)
	}
}

// doneOf returns the events that say a step was done.
func (l *laptop) doneOf(treatment int64, step int) (out []studio.Event) {
	for _, e := range l.events(l.t, treatment) {
		if e.Kind == studio.Done && e.Step == step {
			out = append(out, e)
		}
	}
	return out
}

// TestAPhoneGoesOnWhileTheLaptopIsAway stops the laptop's server; the phone
// goes on through several steps, begins another swatch, is reloaded, and when
// the laptop is back every tap is there once, with its time, and what
// conflicts is told.
func TestAPhoneGoesOnWhileTheLaptopIsAway(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	a, b, c, d := l.planned[0], l.planned[1], l.planned[2], l.planned[3]
	ben := l.device("Ben")
	started := l.now().Add(-10 * time.Minute)
	l.post(t, "/begin", url.Values{"client": {"begin"}, "t": {id(a.ID), id(b.ID), id(d.ID)}, "at": {started.UTC().Format(time.RFC3339Nano)}}).to(t)
	ana := join(t, l.bench, "Ana", 360)
	ana.visit("/")
	ana.wait("the service worker", `navigator.serviceWorker && navigator.serviceWorker.controller`)
	ana.visit("/") // now through the worker
	ana.wait("three cards", `document.querySelectorAll('.task').length === 3`)
	card := func(verb string, x studio.Treatment) string { return fmt.Sprintf("%s swatch %d,", verb, x.Swatch) }

	l.goes()
	ana.wait("the word that the laptop is away", `document.getElementById('net').innerText.includes('be reached')`)
	type window struct{ from, till time.Time }
	var taps []window
	tap := func(text, then string) {
		from := l.now()
		ana.tapCard(text)
		taps = append(taps, window{from, l.now()})
		ana.wait("the card after "+text, then)
	}
	tap(card("Degrease", a), hasCard(card("Sprinkle", a)))
	tap(card("Sprinkle", a), hasCard(card("take out", a)))
	due := time.UnixMilli(int64(js[float64](ana, `Number(document.querySelector('.task[data-dwell]').dataset.due)`)))
	if began := due.Add(-2 * time.Hour); began.Before(taps[1].from.Add(-3*time.Second)) || began.After(taps[1].till.Add(3*time.Second)) {
		t.Errorf("the fuming of 2 h that began with the tap at %v ends at %v", taps[1].from, due)
	}
	ana.shot("away-1")
	if !js[bool](ana, fmt.Sprintf(`(() => { const box = document.querySelector('input[name=t][value="%d"]'); if (!box) return false; box.checked = true; [...box.form.querySelectorAll('button')].find(b => b.innerText.startsWith('Start')).click(); return true })()`, c.ID)) {
		t.Fatal("the ready swatch can't be ticked")
	}
	ana.wait("the begun swatch", hasCard(card("Degrease", c)))

	// the browser discards the page; the worker brings it back
	ana.do("reload", navigate(l.url+"/"))
	ana.wait("the board after a reload without the laptop", hasCard(card("take out", a))+" && "+hasCard(card("Degrease", c)))
	ana.shot("away-reloaded")
	tap(card("Degrease", b), hasCard(card("Sprinkle", b)))
	tap(card("Degrease", d), hasCard(card("Sprinkle", d)))
	tap(card("Degrease", c), hasCard(card("Sprinkle", c)))
	ana.wait("how many are kept", `document.getElementById('net').innerText.includes('6 taps are kept on this device')`)
	if n := len(l.events(t, c.ID)); n != 0 {
		t.Fatalf("%d records reached the laptop while it was away", n)
	}
	offline := ana.titles()

	// meanwhile Ben confirmed one step a little earlier, and gave up another treatment
	earlier := taps[2].from.Add(-30 * time.Second).UTC().Format(time.RFC3339Nano)
	if code := ben("/taps", tapForm("ben-b0", "done", b.ID, 0, "at", earlier)); code != http.StatusSeeOther {
		t.Fatalf("Ben's tap: status %d", code)
	}
	if code := ben("/taps", tapForm("ben-d", "stopped", d.ID, 0, "note", "dropped it")); code != http.StatusSeeOther {
		t.Fatalf("Ben's giving up: status %d", code)
	}

	l.back()
	ana.wait("all taps sent", `JSON.parse(localStorage.getItem('aerugo.taps')).length === 0 && document.getElementById('net').hidden`)
	ana.wait("what happened", `document.getElementById('away')`)
	ana.shot("away-back")
	for _, x := range ana.violations() {
		t.Error(x)
	}
	told := js[string](ana, `document.getElementById('away').innerText`)
	for _, want := range []string{fmt.Sprintf("Swatch %d, degrease (step 1): Ben tapped it at", b.Swatch), "That of Ben counts. Yours is kept beside it", fmt.Sprintf("Swatch %d, degrease (step 1): ", d.Swatch), "given up", "kept in the record as a note", "correct it"} {
		if !strings.Contains(told, want) {
			t.Errorf("it does not say %q: %s", want, told)
		}
	}
	// every tap once, at its own time
	for i, x := range []struct {
		t    studio.Treatment
		step int
		by   int // how many taps for it there are
	}{{a, 0, 1}, {a, 1, 1}, {b, 0, 2}, {d, 0, 0}, {c, 0, 1}} {
		got := l.doneOf(x.t.ID, x.step)
		if len(got) != x.by {
			t.Errorf("swatch %d, step %d: recorded %d times, want %d", x.t.Swatch, x.step+1, len(got), x.by)
			continue
		}
		for _, e := range got {
			if at := taps[i]; e.By == "Ana" && (e.At.Before(at.from.Add(-3*time.Second)) || e.At.After(at.till.Add(3*time.Second))) {
				t.Errorf("swatch %d, step %d was tapped at %v and is kept as of %v", x.t.Swatch, x.step+1, at.from, e.At)
			}
		}
	}
	if r := l.record(t, b.ID); r.Steps[0].By != "Ben" || len(r.Repeats) != 1 {
		t.Errorf("of two taps %s's counts, %d beside it", r.Steps[0].By, len(r.Repeats))
	}
	if r := l.record(t, d.ID); r.Status != run.Stopped || len(r.Notes) != 2 && len(r.Notes) != 1 || !strings.Contains(r.Notes[len(r.Notes)-1].Text+r.Notes[0].Text, "does not count") {
		t.Errorf("the stopped treatment is %s with the notes %+v", r.Status, r.Notes)
	}
	if r := l.record(t, c.ID); r.Status != run.Running || r.Current != 1 {
		t.Errorf("the swatch begun without the laptop is %s at step %d", r.Status, r.Current+1)
	}
	// what the phone drew by itself is what the studio draws
	want := slices.DeleteFunc(offline, func(s string) bool { return strings.Contains(s, fmt.Sprintf("swatch %d,", d.Swatch)) })
	ana.wait("the studio's own board", noCard(card("Sprinkle", d)))
	ana.wait("every card to be the studio's", `![...document.querySelectorAll('.task .tag')].some(e => e.textContent.includes('not sent'))`)
	if got := ana.titles(); !slices.Equal(got, want) {
		t.Errorf("the phone drew %q, the studio %q", want, got)
	}
	ana.shot("away-settled")
	// read, it goes away, and stays away
	ana.press("I have read this")
	ana.wait("the list to go", `!document.getElementById('away')`)
	ana.visit("/")
	if js[bool](ana, `!!document.getElementById('away')`) {
		t.Error("what was read came back")
	}
}

// TestATapTakenBackBeforeItWasSentIsANote: the bench goes back, the record has both.
func TestATapTakenBackBeforeItWasSentIsANote(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0]
	l.begin(t, "b", x.ID).to(t)
	tb := open(t, l.url, "taken back", 390)
	tb.script(`delete Navigator.prototype.serviceWorker`) // as over plain HTTP on a local network
	tb.visit("/")
	tb.wait("the card", hasCard("Degrease"))
	l.goes()
	tb.tapCard("Degrease")
	tb.wait("the next card", hasCard("Sprinkle"))
	tb.wait("the list", `document.querySelector('#away button')`)
	if text := js[string](tb, `document.getElementById('net').innerText`); !strings.Contains(text, "Keep this page open") {
		t.Errorf("without a service worker it says %q", text)
	}
	for _, x := range tb.violations() {
		t.Error(x)
	}
	js[bool](tb, `(document.querySelector('#away details').open = true)`)
	tb.press("Take back")
	tb.wait("the card again", hasCard("Degrease"))
	l.back()
	tb.wait("sent", `JSON.parse(localStorage.getItem('aerugo.taps')).length === 0`)
	r := l.record(t, x.ID)
	if r.Current != 0 || len(r.Notes) != 1 || !strings.Contains(r.Notes[0].Text, "taken back") {
		t.Errorf("step %d is under way, notes %+v", r.Current+1, r.Notes)
	}
}

// aheadBy7 makes the page's clock seven minutes fast.
const aheadBy7 = `{ const real = Date.now.bind(Date); window.skew = 420000; const D = Date; window.Date = class extends D { constructor(...a) { if (a.length) super(...a); else super(real() + window.skew); } static now() { return real() + window.skew; } }; }`

// TestAPhonesWrongClockIsPutRight: a clock seven minutes fast is measured; one
// set while the laptop is away is found by the steady clock, and the tap says so.
func TestAPhonesWrongClockIsPutRight(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0].ID
	l.begin(t, "b", x).to(t)
	tb := open(t, l.url, "fast clock", 390)
	tb.script(aheadBy7)
	tb.visit("/")
	tb.wait("the card", hasCard("Degrease"))
	tb.wait("the clocks to be compared", `localStorage.getItem('aerugo.clock')`)
	known := js[struct{ Offset, Err float64 }](tb, `JSON.parse(localStorage.getItem('aerugo.clock'))`)
	t.Logf("a clock 420000 ms fast is measured with a doubt of %.1f ms", known.Err)
	truth := float64(time.Duration(l.ahead.Load()).Milliseconds()) - 420000
	if off := math.Abs(known.Offset - truth); off > known.Err+3 || known.Err > 4000 { // both clocks tell whole ms
		t.Errorf("the offset is %.0f ms, want %.0f, and more off than its doubt", known.Offset, truth)
	}
	const doubt = 3 * time.Second
	was := l.now()
	tb.tapCard("Degrease")
	till := l.now()
	tb.wait("the next card", hasCard("Sprinkle"))
	tb.settled()
	done := l.doneOf(x, 0)
	if len(done) != 1 || done[0].At.Before(was.Add(-doubt)) || done[0].At.After(till.Add(doubt)) || done[0].Note != "" {
		t.Fatalf("tapped at %v, kept as %+v", was, done)
	}
	l.goes()
	tb.wait("the word that the laptop is away", `!document.getElementById('net').hidden`)
	js[bool](tb, `(window.skew = 0, true)`) // someone sets the clock right, seven minutes back
	tb.inStep(l.bench)
	was = l.now()
	tb.tapCard("Sprinkle")
	till = l.now()
	tb.wait("the next card", hasCard("take out"))
	l.back()
	tb.wait("sent", `JSON.parse(localStorage.getItem('aerugo.taps')).length === 0`)
	done = l.doneOf(x, 1)
	if len(done) != 1 || done[0].At.Before(was.Add(-doubt)) || done[0].At.After(till.Add(doubt)) || !strings.Contains(done[0].Note, "7 min back") {
		t.Errorf("tapped at %v, kept as %+v", was, done)
	}
}

// TestASignalIsGivenAndQuietHoursKeepSilent counts what the page asks of the device.
func TestASignalIsGivenAndQuietHoursKeepSilent(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0].ID
	l.begin(t, "b", x).to(t)
	for step := range 2 {
		l.post(t, "/taps", tapForm(fmt.Sprint("d", step), "done", x, step)).to(t)
	}
	due := l.now().Add(2 * time.Hour) // or a moment before
	const counted = `window.tones = []; window.shakes = 0; navigator.vibrate = () => { window.shakes++; return true };
		const level = () => ({ gain: { setValueAtTime() {}, exponentialRampToValueAtTime() {} }, connect: to => to });
		window.AudioContext = class { state = 'running'; currentTime = 0; destination = {}; resume() { return Promise.resolve() } createGain() { return level() }
			createOscillator() { const o = { frequency: {}, connect: to => to, start() { window.tones.push(o.frequency.value) }, stop() {} }; return o } };`
	tb := open(t, l.url, "signals", 390)
	tb.script(counted)
	tb.visit("/timers")
	tb.wait("the signals", `!document.getElementById('signals').hidden`)
	js[bool](tb, `(document.getElementById('signals').open = true)`)
	tb.press("Try the sound")
	tb.wait("the sound tried", `window.tones.length === 2`)
	js[bool](tb, fmt.Sprintf(`(() => { window.tones = []; const s = n => document.querySelector('[data-signal=' + n + ']'); s('vibrate').click(); s('quiet').click(); s('sound').click(); s('from').value = '%s'; s('till').value = '%s'; s('till').dispatchEvent(new Event('change')); window.tones = []; return true })()`, due.Add(-3*time.Hour).Local().Format("15:04"), due.Add(3*time.Hour).Local().Format("15:04")))
	l.pass(due.Add(time.Second).Sub(l.now())) // in a minute it is called for again
	tb.visit("/timers")
	tb.wait("the fuming to be due", `document.querySelector('.task.act') && document.title.startsWith('▲ 1 now')`)
	time.Sleep(2500 * time.Millisecond) // two turns of the page's own clock
	if n, m := js[int](tb, `window.tones.length`), js[int](tb, `window.shakes`); n != 0 || m != 0 {
		t.Errorf("in quiet hours %d tones and %d vibrations", n, m)
	}
	js[bool](tb, `(document.querySelector('[data-signal=quiet]').click(), true)`)
	tb.wait("the signal", `window.tones.length === 2 && window.shakes === 1`)
	low := js[float64](tb, `window.tones[0]`)
	time.Sleep(2500 * time.Millisecond)
	if n := js[int](tb, `window.tones.length`); n != 2 {
		t.Errorf("one call made %d tones", n)
	}
	l.pass(11 * time.Minute)
	tb.visit("/timers")
	tb.wait("the later signal", `window.tones.length === 2`)
	if high := js[float64](tb, `window.tones[0]`); high <= low {
		t.Errorf("the later call sounds at %.0f Hz, the first at %.0f", high, low)
	}
	// the rules by themselves
	for expr, want := range map[string]bool{
		`m.silent({quiet: true, from: '22:00', till: '07:00'}, '23:30')`:                                                     true,
		`m.silent({quiet: true, from: '22:00', till: '07:00'}, '06:59')`:                                                     true,
		`m.silent({quiet: true, from: '22:00', till: '07:00'}, '07:00')`:                                                     false,
		`m.silent({quiet: true, from: '12:00', till: '13:00'}, '12:30')`:                                                     true,
		`m.silent({quiet: true, from: '12:00', till: '13:00'}, '23:30')`:                                                     false,
		`m.silent({quiet: false, from: '22:00', till: '07:00'}, '23:30')`:                                                    false,
		`[-1, 0, 59e3, 60e3, 6e5, 12e5, 18e5].map(m.stage).join() === '-1,0,0,1,4,5,6'`:                                      true,
		`Math.abs(m.tone(24 * 60e3) / m.tone(0) - 2) < 1e-9 && m.tone(3600e3) === m.tone(24 * 60e3) && m.tone(0) === 523.25`: true, // C5 of equal temperament on A4 = 440 Hz (ISO 16)
	} {
		if got := js[bool](tb, `import('/static/signals.js').then(m => `+expr+`)`); got != want {
			t.Errorf("%s is %v", expr, got)
		}
	}
}

// TestTimersAreReadAcrossTheRoom measures the digits.
func TestTimersAreReadAcrossTheRoom(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0].ID
	l.begin(t, "b", x, l.planned[1].ID, l.planned[2].ID).to(t)
	for step := range 2 {
		l.post(t, "/taps", tapForm(fmt.Sprint("d", step), "done", x, step)).to(t)
	}
	for _, lightness := range []string{"table", "bench"} {
		for _, width := range []int{360, 390, 1280} {
			tb := open(t, l.url, "timers "+lightness, width)
			tb.do("visit", navigate(l.url+"/join"))
			js[bool](tb, fmt.Sprintf(`(document.cookie = 'aerugo_lightness=%s; path=/', true)`, lightness))
			tb.visit("/timers")
			tb.wait("the word NOW", `document.querySelector('.across .task:first-child .word')`)
			tb.wait("the page's clock to go", `document.title.startsWith('▲')`)
			tb.shot("hands")
			word := js[float64](tb, `parseFloat(getComputedStyle(document.querySelector('.across .task .word')).fontSize)`)
			if shown := js[bool](tb, `(() => { const e = document.querySelector('.across .task .word'); return e.innerText === '▲ NOW' && e.scrollWidth <= e.clientWidth + 1 && e.getBoundingClientRect().height > 48 })()`); !shown {
				t.Errorf("%d px: NOW does not show with its shape", width)
			}
			// as at the end of the fuming, with the two others waiting for hands
			// and left so: the page would put them in order again with its next tick
			js[bool](tb, `(() => { for (let i = setInterval(() => {}, 1e6); i > 0; i--) clearInterval(i); const list = document.querySelector('.tasks'), d = [...list.children].find(t => t.dataset.dwell); list.prepend(d); return true })()`)
			digits := js[float64](tb, `parseFloat(getComputedStyle(document.querySelector('.across .task:first-child .time')).fontSize)`)
			t.Logf("%s, %d px: digits %.0f px, NOW %.0f px", lightness, width, digits, word)
			if digits < 48 || word < 48 || digits < .2*float64(width) && width < 600 {
				t.Errorf("%d px wide: digits of %.0f px, NOW of %.0f px", width, digits, word)
			}
			if js[bool](tb, `(() => { const e = document.querySelector('.across .task:first-child .time'); return e.scrollWidth > e.clientWidth + 1 })()`) {
				t.Errorf("%d px: the digits %q are cut off", width, js[string](tb, `document.querySelector('.across .task:first-child .time').innerText`))
			}
			tb.noSideways()
			for _, x := range tb.violations() {
				t.Error(x)
			}
			tb.shot("dwell")
		}
	}
	// on its side
	tb := open(t, l.url, "timers on its side", 740)
	tb.do("lay it down", chromedp.EmulateViewport(740, 360))
	tb.visit("/timers")
	tb.wait("the card", `document.querySelector('.across .task:first-child .word')`)
	if px := js[float64](tb, `parseFloat(getComputedStyle(document.querySelector('.across .task .word')).fontSize)`); px < 148 {
		t.Errorf("on its side NOW is %.0f px, want a fifth of 740", px)
	}
	tb.shot("side")
}

// TestTheScreenIsKeptOnWhereItCanBe stubs the Screen Wake Lock API (W3C) and takes it away.
func TestTheScreenIsKeptOnWhereItCanBe(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	tb := open(t, l.url, "awake", 390)
	tb.script(`window.locks = 0; Object.defineProperty(navigator, 'wakeLock', { configurable: true, value: { request: async () => { window.locks++; return { released: false, addEventListener() {}, async release() { window.locks-- } } } } });`)
	tb.visit("/timers")
	tb.wait("the lock", `window.locks === 1 && document.getElementById('awake').innerText.includes('kept on')`)
	js[bool](tb, `(document.querySelector('[data-awake]').click(), true)`)
	tb.wait("it is let go", `window.locks === 0 && document.getElementById('awake').innerText.includes('goes dark')`)
	without := open(t, l.url, "asleep", 390)
	without.script(`delete Navigator.prototype.wakeLock; Object.defineProperty(window, 'isSecureContext', { value: false });`)
	without.visit("/timers")
	without.wait("what to do instead", `document.getElementById('awake').innerText.includes('screen time-out')`)
	if text := js[string](without, `document.getElementById('awake').innerText`); !strings.Contains(text, "over the plain local network") {
		t.Errorf("it says %q", text)
	}
}

// TestAFullStorageIsSaid: nothing is pretended, and the tap still goes out.
func TestAFullStorageIsSaid(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0].ID
	l.begin(t, "b", x).to(t)
	tb := open(t, l.url, "full", 390)
	tb.script(`Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError') };`)
	tb.visit("/")
	tb.wait("the word that nothing is kept", `document.getElementById('nokeep')?.innerText.includes('no room left')`)
	tb.shot("nothing-kept")
	l.goes()
	tb.tapCard("Degrease")
	tb.wait("the next card", hasCard("Sprinkle"))
	tb.wait("no promise", `document.getElementById('net').innerText.includes('only as long as this page stays open')`)
	if text := js[string](tb, `document.getElementById('net').innerText`); strings.Contains(text, "kept on this device") {
		t.Errorf("it promises %q", text)
	}
	l.back()
	tb.wait("sent", `document.getElementById('net').hidden`)
	eventually(t, "the tap", func() bool { return len(l.doneOf(x, 0)) > 0 })
	if n := len(l.doneOf(x, 0)); n != 1 {
		t.Errorf("recorded %d times", n)
	}
}

// TestTwoBrowsersSideBySide taps on one and looks at the other, twenty times.
func TestTwoBrowsersSideBySide(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0].ID
	l.begin(t, "b", x).to(t)
	ana, ben := join(t, l.bench, "Ana", 390), join(t, l.bench, "Ben", 390)
	ana.visit("/")
	ben.visit("/")
	for _, tb := range []*tab{ana, ben} {
		tb.wait("the card", hasCard("Degrease"))
		// the page itself writes down when its cards change
		js[bool](tb, `(() => { window.changes = []; new MutationObserver(() => { const h = document.querySelector('.task h3')?.textContent || ''; if (window.changes.at(-1)?.[1] !== h) window.changes.push([performance.timeOrigin + performance.now(), h]); }).observe(document.getElementById('board'), { childList: true, subtree: true }); return true })()`)
	}
	var took []time.Duration
	for i := range 10 {
		for _, turn := range []struct{ press, want string }{{"Degrease", "Sprinkle"}, {"", "Degrease"}} {
			var began float64
			if turn.press != "" {
				began = js[float64](ana, `(() => { const t = performance.timeOrigin + performance.now(); document.querySelector('.task .buttons .main').click(); return t })()`)
			} else {
				ana.wait("the newest tap in the list", `document.querySelector('section[aria-labelledby=recent] tr:nth-child(2) button')`)
				began = js[float64](ana, `(() => { const t = performance.timeOrigin + performance.now(); [...document.querySelectorAll('button')].find(b => b.innerText.startsWith('Take back')).click(); return t })()`)
			}
			ben.wait(fmt.Sprintf("tap %d on the other", 2*i+1), hasCard(turn.want))
			seen := js[float64](ben, fmt.Sprintf(`window.changes.filter(([t, h]) => h.includes(%s)).at(-1)[0]`, quote(turn.want)))
			took = append(took, time.Duration((seen-began)*float64(time.Millisecond)))
			ana.settled() // and what it shows is the studio's own list, with the newest tap first
			ana.wait("the same here", hasCard(turn.want)+` && !document.querySelector('.task button:disabled')`)
		}
	}
	slices.Sort(took)
	t.Logf("a tap shows on the other browser after %v (median of %d), at worst %v", took[len(took)/2].Round(time.Millisecond), len(took), took[len(took)-1].Round(time.Millisecond))
}

// A phone that was away brings a step that nobody confirmed before another
// finished the swatch: it counts, once however often it is sent, and says so.
func TestALateTapCountsOnASwatchFinishedMeanwhile(t *testing.T) {
	s := stocked(t)
	x := s.planned[0]
	s.begin(t, "b", x.ID).to(t)
	s.post(t, "/taps", tapForm("x0", "done", x.ID, 0)).to(t)
	s.pass(time.Minute)
	made := s.now()
	s.pass(time.Minute)
	for step := range x.Steps {
		if step > 1 {
			s.post(t, "/taps", tapForm(fmt.Sprint("x", step), "done", x.ID, step)).to(t)
		}
	}
	s.pass(time.Minute)
	for range 2 {
		a := s.post(t, "/taps", tapForm("late", "done", x.ID, 1, "at", made.UTC().Format(time.RFC3339Nano), "away", "1"), "Accept", "application/json")
		var said struct {
			Became []struct {
				How   string
				Words []string
			}
		}
		decode(t, a, &said)
		if a.code != 200 || len(said.Became) != 1 || said.Became[0].How != "counted" || !strings.Contains(strings.Join(said.Became[0].Words, " "), "was finished meanwhile") {
			t.Fatalf("status %d, %+v", a.code, said)
		}
	}
	r := s.record(t, x.ID)
	if r.Status != run.Finished || r.Steps[1].State != run.Done || r.Steps[1].Ended.Sub(made).Abs() > time.Millisecond || len(r.Repeats) != 0 || len(r.Notes) != 0 {
		t.Errorf("%s; step 2 %+v; %d repeats, %d notes", r.Status, r.Steps[1], len(r.Repeats), len(r.Notes))
	}
}

// TestALateTapSaysWhatBecameOfIt asks the handler itself.
func TestALateTapSaysWhatBecameOfIt(t *testing.T) {
	s := stocked(t)
	x, y := s.planned[0], s.planned[1]
	s.begin(t, "b", x.ID, y.ID).to(t)
	type said struct {
		OK      bool
		Problem string
		Became  []struct {
			Swatch int64
			How    string
			Words  []string
		}
	}
	ask := func(path string, f url.Values) (int, said) {
		t.Helper()
		a := s.post(t, path, f, "Accept", "application/json")
		var out said
		decode(t, a, &out)
		return a.code, out
	}
	if code, b := ask("/taps", tapForm("one", "done", x.ID, 0)); code != 200 || len(b.Became) != 1 || b.Became[0].How != "counted" || len(b.Became[0].Words) != 0 || b.Became[0].Swatch != x.Swatch {
		t.Errorf("a tap that counts: status %d, %+v", code, b)
	}
	if code, b := ask("/taps", tapForm("two", "done", x.ID, 0)); code != 200 || b.Became[0].How != "beside" || !slices.Contains(b.Became[0].Words, "The first counts.") {
		t.Errorf("a second tap: status %d, %+v", code, b)
	}
	s.pass(time.Minute)
	early := s.now().Add(-50 * time.Second).UTC().Format(time.RFC3339Nano)
	s.post(t, "/taps", tapForm("three", "done", y.ID, 0)).to(t)
	if code, b := ask("/taps", tapForm("four", "done", y.ID, 0, "at", early, "away", "1")); code != 200 || b.Became[0].How != "first" || !slices.Contains(b.Became[0].Words, "Yours counts; the other is kept beside it.") {
		t.Errorf("a late tap that was the first: status %d, %+v", code, b)
	}
	// one of two can't count: the other does, and the one is a note; sent again, the same
	for step := 1; step < len(x.Steps); step++ {
		s.post(t, "/taps", tapForm(fmt.Sprint("x", step), "done", x.ID, step)).to(t)
	}
	both := tapForm("five", "done", x.ID, 3, "away", "1", "temp", "21")
	both.Add("of", fmt.Sprintf("%d:1", y.ID))
	for range 2 {
		code, b := ask("/taps", both)
		if code != 200 || len(b.Became) != 2 || b.Became[0].How != "refused" || b.Became[1].How != "counted" {
			t.Fatalf("one of two: status %d, %+v", code, b)
		}
	}
	if got := kinds(s.events(t, x.ID)); got[len(got)-1] != studio.Noted || len(got) != 2+len(x.Steps)+1-0 {
		t.Errorf("the finished swatch has %v", got)
	}
	if r := s.record(t, y.ID); r.Current != 2 {
		t.Errorf("the other is at step %d", r.Current+1)
	}
	// before the beginning, and a start that was made already
	long := s.now().Add(-48 * time.Hour).UTC().Format(time.RFC3339Nano)
	if code, b := ask("/taps", tapForm("six", "done", y.ID, 2, "at", long, "away", "1")); code != 200 || b.Became[0].How != "refused" || !strings.Contains(strings.Join(b.Became[0].Words, " "), "before the treatment") {
		t.Errorf("before the beginning: status %d, %+v", code, b)
	}
	if code, b := ask("/begin", url.Values{"client": {"seven"}, "away": {"1"}, "t": {id(y.ID), id(s.planned[2].ID)}}); code != 200 || len(b.Became) != 2 || b.Became[0].How != "refused" || b.Became[1].How != "counted" {
		t.Errorf("begun already: status %d, %+v", code, b)
	}
	// the future can't be kept at all
	if code, b := ask("/taps", tapForm("eight", "done", y.ID, 2, "at", s.now().Add(time.Hour).UTC().Format(time.RFC3339Nano), "away", "1")); code != 422 || !strings.Contains(b.Problem, "future") {
		t.Errorf("in the future: status %d, %+v", code, b)
	}
	// a tap made with the laptop there is refused as before, and leaves nothing
	before := len(s.events(t, x.ID))
	if code, _ := ask("/taps", tapForm("nine", "done", x.ID, 1)); code != http.StatusConflict || len(s.events(t, x.ID)) != before {
		t.Errorf("with the laptop there: status %d", code)
	}
}

func decode(t *testing.T, a answer, into any) {
	t.Helper()
	if err := json.Unmarshal(a.body, into); err != nil {
		t.Fatalf("%s: status %d, not JSON: %s", a.what, a.code, a.body)
	}
}

// TestAnotherStudiosTapIsNotSentHere: two studios opened one after the other at
// one address keep their taps apart.
func TestAnotherStudiosTapIsNotSentHere(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	x := l.planned[0]
	l.begin(t, "b", x.ID).to(t)
	tb := open(t, l.url, "another studio", 390)
	tb.visit("/")
	tb.wait("the card", hasCard("Degrease"))
	js[bool](tb, fmt.Sprintf(`(localStorage.setItem('aerugo.taps', JSON.stringify([{ id: 'theirs', url: location.origin + '/taps', path: '/taps', fields: [['kind', 'done'], ['of', '%d:0']], at: Date.now(), studio: 'another', words: 'Degrease swatch 9' }])), true)`, x.ID))
	tb.visit("/")
	tb.wait("the word whose it is", `document.getElementById('away')?.textContent.includes('another studio')`)
	tb.tapCard("Degrease")
	tb.wait("the next card", hasCard("Sprinkle"))
	eventually(t, "the tap", func() bool { return len(l.events(t, x.ID)) > 1 })
	if got := kinds(l.events(t, x.ID)); !slices.Equal(got, []studio.EventKind{studio.Began, studio.Done}) {
		t.Errorf("recorded %v", got)
	}
	if left := js[string](tb, `localStorage.getItem('aerugo.taps')`); !strings.Contains(left, "theirs") {
		t.Errorf("the other studio's tap is gone: %s", left)
	}
}

// TestThePhonesOwnBoardIsTheStudios gives the same taps, at drawn times and in
// a drawn order, to the phone's script and to the studio: both must ask for the
// same steps in the same order, in the same words of the same language. The reference is
// package run's Board.
func TestThePhonesOwnBoardIsTheStudios(t *testing.T) {
	t.Parallel()
	for tag, together := range map[string]string{"en": "once: take out swatches", "de": "einmal öffnen: Probebleche"} {
		t.Run(tag, func(t *testing.T) {
			t.Parallel()
			ownBoard(t, tag, together)
		})
	}
}

// ownBoard compares the boards in a language; words stand in the title of a card of several
// swatches in one chamber.
func ownBoard(t *testing.T, tag, words string) {
	l := laptopWith(t)
	l.post(t, "/language", url.Values{"to": {tag}, "all": {"1"}}).to(t)
	l.plan(t, l.setForm(map[string][]string{"name": {"Many"}, "replicates": {"4"}, "do": {"make"}}))
	tb := open(t, l.url, "own board", 390)
	tb.visit("/")
	tb.wait("the page", `document.querySelector('[data-begin]')`)
	js[bool](tb, `(async () => {
		window.m = await import('/static/bench.js');
		window.base = await (await fetch('/today/board')).text();
		window.taps = [];
		window.cards = root => [...root.querySelectorAll('.tasks .task')].map(c => c.querySelector('h3').textContent + ' | ' + c.querySelector('.main').textContent);
		window.own = now => { const root = document.createElement('div'); root.innerHTML = window.base; const b = m.read(root); for (const t of window.taps) m.advance(b, t); m.draw(root, b, now, () => 'k'); return window.cards(root) };
		window.theirs = async () => { const root = document.createElement('div'); root.innerHTML = await (await fetch('/today/board')).text(); return window.cards(root) };
		return true })()`)
	l.stand() // else a step could fall due between asking the one and the other
	chance := rand.New(rand.NewPCG(7, 2026))
	step := map[int64]int{}
	var waiting, running []int64
	for _, x := range l.planned {
		waiting = append(waiting, x.ID)
	}
	waiting = append(waiting, js[[]int64](tb, fmt.Sprintf(`[...document.querySelectorAll('[data-begin]')].map(b => JSON.parse(b.dataset.begin).t).filter(t => !%s.includes(t))`, quoteAny(waiting)))...)
	last := len(l.planned[0].Steps)
	compared, together := 0, 0
	for i := 0; len(waiting)+len(running) > 0; i++ {
		if chance.IntN(5) == 0 { // else at once, so that several lie in the chamber together
			l.pass(time.Duration(chance.IntN(50)) * time.Minute)
		}
		l.pass(time.Duration(20+chance.IntN(400)) * time.Millisecond)
		at := l.now().Truncate(time.Millisecond)
		begins := len(waiting) > 0 && (len(running) == 0 || chance.IntN(3) == 0)
		kind := "done"
		if begins {
			x := waiting[0]
			waiting, running = waiting[1:], append(running, x)
			l.post(t, "/begin", url.Values{"client": {fmt.Sprint("k", i)}, "t": {id(x)}, "at": {at.UTC().Format(time.RFC3339Nano)}}).to(t)
			js[int](tb, fmt.Sprintf(`window.taps.push({path: '/begin', at: %d, fields: [['t', '%d']]})`, at.UnixMilli(), x))
		} else {
			k := chance.IntN(len(running))
			for range 3 { // hands first, mostly
				if step[running[k]] >= 2 {
					k = chance.IntN(len(running))
				}
			}
			x := running[k]
			if chance.IntN(12) == 0 {
				kind = "stopped"
			}
			l.post(t, "/taps", tapForm(fmt.Sprint("k", i), kind, x, step[x], "at", at.UTC().Format(time.RFC3339Nano))).to(t)
			js[int](tb, fmt.Sprintf(`window.taps.push({path: '/taps', at: %d, fields: [['kind', '%s'], ['of', '%d:%d']]})`, at.UnixMilli(), kind, x, step[x]))
			if step[x]++; step[x] == last || kind == "stopped" {
				running = slices.Delete(running, k, k+1)
			}
		}
		got, want := js[[]string](tb, fmt.Sprintf(`window.own(%d)`, l.now().UnixMilli())), js[[]string](tb, `window.theirs()`)
		if !slices.Equal(got, want) {
			t.Fatalf("after %d taps the phone asks for\n%q, the studio for\n%q", i+1, got, want)
		}
		compared++
		if strings.Contains(strings.Join(got, " "), words) {
			together++
		}
	}
	if together == 0 {
		t.Error("no two swatches were ever to be taken out together")
	}
	t.Logf("%d boards compared, %d with swatches taken out together", compared, together)
}

func quoteAny(v any) string {
	b, _ := json.Marshal(v) // numbers can always be written
	return string(b)
}

// TestNothingBeginsUnaskedWhileTheLaptopIsAway: where today's work holds what
// must not share a room, only the laptop can say what may begin.
func TestNothingBeginsUnaskedWhileTheLaptopIsAway(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	bleached(t, l.stock, 0)
	tb := open(t, l.url, "unasked", 390)
	tb.visit("/")
	tb.wait("the warning", `document.querySelector('[data-apart]') && document.querySelector('[data-begin]')`)
	l.goes()
	tb.wait("the word that the laptop is away", `!document.getElementById('net').hidden`)
	js[bool](tb, `(() => { const box = document.querySelector('[data-begin] input'); box.checked = true; box.form.querySelector('button.main').click(); return true })()`)
	tb.wait("why not", `document.querySelector('.refused')?.innerText.includes('when the laptop is back')`)
	if n := js[int](tb, `JSON.parse(localStorage.getItem('aerugo.taps') || '[]').length`); n != 0 {
		t.Errorf("%d starts wait to be sent", n)
	}
}
