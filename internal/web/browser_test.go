package web_test

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// patience is how long a test waits for what must come. It costs nothing when all is
// well, and a busy machine may stand still for many seconds, and reckon ten times as long.
const patience = 2 * time.Minute

// The browser is one Chromium for all tests of the package; each tab has a
// browser context of its own, so that cookies make it a device of its own.
var browser struct {
	once sync.Once
	ctx  context.Context
	stop func()
	err  error
}

// findBrowser returns the Chromium to test with.
func findBrowser() (string, error) {
	if b := os.Getenv("AERUGO_BROWSER"); b != "" {
		return b, nil
	}
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			return p, nil
		}
	}
	return "", fmt.Errorf("no Chromium: install it (Debian: apt-get install chromium), or set AERUGO_BROWSER")
}

func startBrowser() {
	path, err := findBrowser()
	if err != nil {
		browser.err = err
		return
	}
	dir, err := os.MkdirTemp("", "aerugo-chromium-*")
	if err != nil {
		browser.err = err
		return
	}
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(),
		chromedp.ExecPath(path), chromedp.UserDataDir(dir), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.WSURLReadTimeout(patience),
		// a container's /dev/shm may be small; and a tab behind another one is still a device in someone's hand
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-background-timer-throttling", true),
		chromedp.Flag("disable-backgrounding-occluded-windows", true), chromedp.Flag("disable-renderer-backgrounding", true), chromedp.Flag("disable-hang-monitor", true),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true))
	ctx, cancel := chromedp.NewContext(alloc)
	if err := chromedp.Do(ctx); err != nil {
		browser.err = fmt.Errorf("start %s: %w", path, err)
	}
	browser.ctx, browser.stop = ctx, func() { cancel(); cancelAlloc(); os.RemoveAll(dir) }
}

func TestMain(m *testing.M) {
	// photographs come and go by the hundred; with room for them the collector costs a tenth less of the time
	debug.SetGCPercent(400)
	debug.SetMemoryLimit(1 << 30)
	code := m.Run()
	if browser.stop != nil {
		browser.stop()
	}
	os.Exit(code)
}

// A tab is one page of one device.
type tab struct {
	t     *testing.T
	ctx   context.Context
	base  string
	name  string
	width int
	shots int
}

// open returns a fresh tab with its own cookies, width px wide.
func open(t *testing.T, base, name string, width int) *tab {
	t.Helper()
	browser.once.Do(startBrowser)
	if browser.err != nil {
		t.Fatal(browser.err)
	}
	ctx, cancel := chromedp.NewContext(browser.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	ctx, cancelTime := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(cancelTime)
	tb := &tab{t: t, ctx: ctx, base: base, name: name, width: width}
	height := int64(900)
	if width < 600 {
		height = 740
	}
	tb.do("set the window's size", chromedp.EmulateViewport(int64(width), height))
	return tb
}

func (tb *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	tb.t.Helper()
	if err := chromedp.Do(tb.ctx, steps...); err != nil {
		tb.t.Fatalf("%s: %s: %v", tb.name, what, err)
	}
}

// visit loads a page of the studio and holds it to what every page must keep.
func (tb *tab) visit(path string) {
	tb.t.Helper()
	tb.do("visit "+path, chromedp.Navigate(tb.base+path))
	tb.noSideways()
}

// js runs an expression in the page.
func js[T any](tb *tab, expr string) T {
	tb.t.Helper()
	v, err := chromedp.Run(tb.ctx, chromedp.Evaluate[T](expr, chromedp.EvalAwaitPromise))
	if err != nil {
		tb.t.Fatalf("%s: %s: %v", tb.name, expr, err)
	}
	return v
}

// wait polls until the expression is true.
func (tb *tab) wait(what, expr string) {
	tb.t.Helper()
	for began := time.Now(); ; time.Sleep(15 * time.Millisecond) {
		// asked in the middle of a change of page, the browser answers with an error
		yes, err := chromedp.Run(tb.ctx, chromedp.Evaluate[bool]("(async () => !!(await ("+expr+")))()", chromedp.EvalAwaitPromise))
		if err == nil && yes {
			return
		}
		if tb.ctx.Err() != nil {
			tb.t.Fatalf("%s: %s: %v", tb.name, what, err)
		}
		if time.Since(began) > patience {
			tb.shot("gave-up")
			tb.t.Fatalf("%s: %s did not come within %v; the page says: %s", tb.name, what, patience, js[string](tb, `document.body.innerText.slice(0, 1500)`))
		}
	}
}

// noSideways fails when the page can be scrolled sideways.
func (tb *tab) noSideways() {
	tb.t.Helper()
	const measure = `document.documentElement.scrollWidth - document.documentElement.clientWidth`
	over := js[int](tb, measure)
	for tries := 0; over > 0 && tries < 20; tries++ { // the page may be in the middle of being drawn
		time.Sleep(100 * time.Millisecond)
		over = js[int](tb, measure)
	}
	if over > 0 {
		who := js[string](tb, `[...document.querySelectorAll('body *')].filter(e => (e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 || e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0 && getComputedStyle(e).overflowX === 'visible') && !e.closest('.scroll')).map(e => e.tagName + '.' + e.className + ' ' + (e.textContent || '').trim().slice(0, 30)).slice(0, 5).join(' | ')`)
		tb.shot("sideways")
		tb.t.Errorf("%s: the page %s is %d px wider than the window: %s", tb.name, js[string](tb, `location.pathname`), over, who)
	}
}

// fill types into a field by its name.
func (tb *tab) fill(name, value string) {
	tb.t.Helper()
	ok := js[bool](tb, fmt.Sprintf(`(() => { const f = document.querySelector('main [name=%q]'); if (!f) return false; f.value = %s; f.dispatchEvent(new Event('input', {bubbles: true})); return true })()`, name, quote(value)))
	if !ok {
		tb.t.Fatalf("%s: no field %q on %s", tb.name, name, js[string](tb, `location.href`))
	}
}

// choose picks an option by part of its text.
func (tb *tab) choose(name, text string) {
	tb.t.Helper()
	ok := js[bool](tb, fmt.Sprintf(`(() => { const s = document.querySelector('main select[name=%q]'); const o = s && [...s.options].find(o => o.text.includes(%s)); if (!o) return false; s.value = o.value; return true })()`, name, quote(text)))
	if !ok {
		tb.t.Fatalf("%s: no choice %q in %q on %s", tb.name, text, name, js[string](tb, `location.href`))
	}
}

// press clicks the first visible button or link whose words begin with text. If that
// leads to another page, by a form that is sent or a link, it waits until that page is
// there: until then the old one still answers, and may say what the test waits for.
func (tb *tab) press(text string) {
	tb.t.Helper()
	tb.pressed(text)
}

// pressThrough presses what must lead to another page, if need be by a script.
func (tb *tab) pressThrough(text string) {
	tb.t.Helper()
	if !tb.pressed(text) {
		tb.arrived(text)
	}
}

func (tb *tab) pressed(text string) (led bool) {
	tb.t.Helper()
	there, led := tb.tap(text, fmt.Sprintf(`[...document.querySelectorAll('main button, main a, header a, header button')].find(b => b.offsetParent && !b.disabled && b.innerText.trim().startsWith(%s))`, quote(text)))
	if !there {
		tb.shot("no-button")
		tb.t.Fatalf("%s: no button %q on %s: %s", tb.name, text, js[string](tb, `location.href`), js[string](tb, `document.querySelector('main').innerText.slice(0, 800)`))
	}
	return led
}

// tap clicks the element of an expression and reports whether it was there, and whether
// it led to another page, which is there then.
func (tb *tab) tap(what, element string) (there, led bool) {
	tb.t.Helper()
	// the page's own scripts hear of a click and of a form before the window does, and take over what they do themselves
	did := js[string](tb, fmt.Sprintf(`(() => {
		const b = %s;
		if (!b) return 'missing';
		let leads = false;
		const sent = e => { leads ||= !e.defaultPrevented && (e.submitter?.formTarget || e.target.target) !== '_blank' };
		const followed = e => { const a = e.target.closest('a[href]'); leads ||= !e.defaultPrevented && !!a && a.target !== '_blank' && !a.hasAttribute('download') && !a.getAttribute('href').startsWith('#') };
		addEventListener('submit', sent); addEventListener('click', followed);
		window.__old = true;
		b.click();
		removeEventListener('submit', sent); removeEventListener('click', followed);
		return leads ? 'leads' : 'stays' })()`, element))
	if did == "leads" {
		tb.arrived(what)
	}
	return did != "missing", did == "leads"
}

// arrived waits for the page that what was tapped leads to.
func (tb *tab) arrived(what string) {
	tb.t.Helper()
	tb.wait("the page after "+what, `!window.__old && document.readyState === 'complete'`)
	tb.noSideways()
}

// settled waits until the studio has answered every tap made here. A page that waits
// longer than a blink for the answer already draws what will come of the tap.
func (tb *tab) settled() {
	tb.t.Helper()
	tb.wait("every tap to be answered", `JSON.parse(localStorage.getItem('aerugo.taps') || '[]').length === 0 && !document.body.classList.contains('ahead')`)
}

// inStep waits until the page has compared its clock with the studio's, which the test
// put forward.
func (tb *tab) inStep(b *bench) {
	tb.t.Helper()
	tb.wait("the clocks to be compared", fmt.Sprintf(`Math.abs(JSON.parse(localStorage.getItem('aerugo.clock') || '{}').offset - %d) < 60000`, time.Duration(b.ahead.Load()).Milliseconds()))
}

// attach puts a file into the page's file field.
func (tb *tab) attach(file, name string, data []byte) {
	tb.t.Helper()
	js[bool](tb, fmt.Sprintf(`(() => { const raw = atob(%q); const bytes = Uint8Array.from(raw, c => c.charCodeAt(0)); const dt = new DataTransfer(); dt.items.add(new File([bytes], %q, {type: 'image/jpeg'})); document.querySelector('input[name=%q]').files = dt.files; return true })()`,
		base64.StdEncoding.EncodeToString(data), name, file))
}

// shot keeps a picture of the page for a person to look at, when AERUGO_SHOTS
// names a folder.
func (tb *tab) shot(what string) {
	tb.t.Helper()
	dir := os.Getenv("AERUGO_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(tb.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		tb.t.Logf("%s: no picture of %s: %v", tb.name, what, err)
		return
	}
	tb.shots++
	name := fmt.Sprintf("%s-%d-%02d-%s.png", strings.ReplaceAll(tb.name, " ", "-"), tb.width, tb.shots, what)
	if err := os.WriteFile(filepath.Join(dir, name), png, 0o644); err != nil {
		tb.t.Error(err)
	}
}

func quote(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

func navigate(url string) chromedp.Action[chromedp.Void] { return chromedp.Navigate(url) }
