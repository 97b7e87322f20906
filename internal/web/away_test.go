package web_test

import (
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"
)

// englishWords are words that English can hardly do without and German does not have.
var englishWords = regexp.MustCompile(`(?i)\b(the|and|of|with|then|is|are|this|that|not|now|out|done|due|left|latest|open|once|take|swatch|swatches|step|front|back|both|faces|chamber|kept|sent|reached|taps?|laptop’s|away)\b`)

// TestTheBenchSpeaksItsLanguageWhileTheLaptopIsAway: what a phone draws and says by itself
// is in its language, and what else it opens meanwhile too; a language chosen later is taken
// up by what is kept on the phone.
func TestTheBenchSpeaksItsLanguageWhileTheLaptopIsAway(t *testing.T) {
	t.Parallel()
	l := laptopWith(t)
	a, b := l.planned[0], l.planned[1]
	l.post(t, "/begin", url.Values{"client": {"begin"}, "t": {id(a.ID), id(b.ID)}, "at": {time.Now().Add(-10 * time.Minute).UTC().Format(time.RFC3339Nano)}}).to(t)
	ana := join(t, l.bench, "Ana", 360)
	ana.visit("/")
	ana.wait("the service worker", `navigator.serviceWorker && navigator.serviceWorker.controller`)
	ana.wait("English to be noted", `localStorage.getItem('aerugo.lang') === '"en"'`)
	js[bool](ana, `(async () => { await fetch('/language', { method: 'POST', body: new URLSearchParams({ to: 'de', back: '/' }) }); return true })()`)
	ana.visit("/")
	ana.wait("the page in German", `document.documentElement.lang === 'de' && document.querySelectorAll('.task').length === 2`)
	ana.wait("what is kept in German", `(async () => { const c = await caches.open('aerugo-1'); for (const p of ['/away', '/timers', '/today/board', '/static/words.js']) { const a = await c.match(p); if (!a || !/Laptop|Uhren|Probeblech/.test(await a.text())) return false; } return true })()`)

	l.goes()
	ana.wait("the word that the laptop is away", `!document.getElementById('net').hidden`)
	tap := func(x int64) {
		js[bool](ana, fmt.Sprintf(`(() => { const of = document.querySelector('.task .buttons [name=of][value^="%d:"]'); of.form.querySelector('.main').click(); return true })()`, x))
	}
	tap(a.ID)
	ana.wait("the next card", fmt.Sprintf(`document.querySelector('.task .buttons [name=of][value="%d:1"]')`, a.ID))
	tap(a.ID)
	tap(b.ID)
	ana.wait("the chamber", fmt.Sprintf(`document.querySelector('.task[data-dwell] .buttons [name=of][value="%d:2"]')`, a.ID))
	tap(b.ID)
	ana.wait("both in the chamber", fmt.Sprintf(`document.querySelector('.task[data-dwell] .buttons [name=of][value="%d:2"]')`, b.ID))
	german := func(where, text string, wants ...string) {
		t.Helper()
		for _, name := range []string{"Salt", "Table salt", "Chamber A"} {
			text = strings.ReplaceAll(text, name, "")
		}
		if found := englishWords.FindAllString(text, -1); len(found) > 0 {
			t.Errorf("%s holds %q:\n%s", where, found, text)
		}
		for _, want := range wants {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q:\n%s", where, want, text)
			}
		}
	}
	german("the board", js[string](ana, `[...document.querySelectorAll('#board .task')].map(e => e.innerText).join('\n')`), "herausnehmen", "auf diesem Gerät angetippt")
	german("the word of the network", js[string](ana, `document.getElementById('net').textContent`), "nicht zu erreichen seit")
	german("the kept taps", js[string](ana, `document.getElementById('away').textContent`), "entfetten")
	ana.shot("away-de")

	ana.do("a page that is not kept", navigate(l.url+"/recipes"))
	ana.wait("the page that says so", `document.querySelector('h1')`)
	german("the page in its place", js[string](ana, `document.documentElement.lang + ' ' + document.body.innerText`), "de ", "nicht aufgehoben")
	ana.do("the timers", navigate(l.url+"/timers"))
	ana.wait("the timers' cards", `document.querySelectorAll('.task').length > 0`)
	german("the timers", js[string](ana, `document.querySelector('.tasks').textContent`), "herausnehmen")
}
