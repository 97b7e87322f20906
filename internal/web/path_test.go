package web_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/store"
	"aerugo/internal/studio"
	"aerugo/internal/web"
)

// A bench is a served studio whose clock the test can put forward.
type bench struct {
	store *store.Store
	web   *web.Server
	url   string
	ahead atomic.Int64
	stood atomic.Int64 // since when the clock stands still, Unix ns; 0 when it goes

	cookie *http.Cookie // of a student's seat; nil on the laptop itself
}

func (b *bench) now() time.Time {
	now := time.Now()
	if ns := b.stood.Load(); ns != 0 {
		now = time.Unix(0, ns)
	}
	return now.Add(time.Duration(b.ahead.Load()))
}

// atMorning puts the clock forward to nine in the morning, local time, so that no test
// depends on the time of day, and midnight does not pass under it.
func (b *bench) atMorning() {
	now := b.now().Local()
	b.pass(time.Date(now.Year(), now.Month(), now.Day()+1, 9, 0, 0, 0, time.Local).Sub(now))
}

// stand stops the clock: it goes on only as the test puts it forward.
func (b *bench) stand() { b.stood.Store(time.Now().UnixNano()) }

// pass puts the clock forward.
func (b *bench) pass(d time.Duration) { b.ahead.Add(int64(d)) }

func serve(t testing.TB) *bench {
	t.Helper()
	b := &bench{}
	b.atMorning()
	st, err := store.Open(t.Context(), t.TempDir()+"/studio", store.Options{Now: b.now})
	if err != nil {
		t.Fatal(err)
	}
	b.store = st
	b.web, err = web.New(web.Config{Store: st, Now: b.now, Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	ts := httptest.NewServer(b.web)
	b.url = ts.URL
	t.Cleanup(func() {
		b.web.Close()
		ts.Close()
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// get fetches a file of the studio.
func get(t *testing.T, url string) (int, string, []byte) {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header.Get("Content-Type"), body
}

// join lets a tab in as a device with a name.
func join(t *testing.T, b *bench, name string, width int) *tab {
	t.Helper()
	tb := open(t, b.url, name, width)
	tb.visit("/join?code=" + b.web.JoinCode())
	tb.fill("name", name)
	tb.pressThrough("Join")
	return tb
}

// TestWholePath walks the main job in a real browser, on a laptop and on a
// phone: set, labels, run with two phones, photographs of both faces, measure,
// compare, card.
func TestWholePath(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 360} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			wholePath(t, width)
		})
	}
}

func wholePath(t *testing.T, width int) {
	b := serve(t)
	tb := open(t, b.url, "laptop", width)

	// an empty studio, three questions
	tb.visit("/")
	tb.shot("empty")
	tb.fill("thickness", "about a millimetre")
	tb.pressThrough("Start my studio")
	if text := js[string](tb, `document.querySelector('.problem').innerText`); !strings.Contains(text, "about a millimetre") {
		t.Errorf("the refusal %q does not name what was typed", text)
	}
	tb.fill("thickness", "0.8")
	tb.choose("alloy", "C26000")
	tb.fill("ammonia", "9")
	tb.pressThrough("Start my studio")

	// a recipe: degrease, sprinkle, fume, brush out, dry
	tb.fill("name", "Salt and fumes")
	js[bool](tb, `(() => {
		const rows = [...document.querySelectorAll('main fieldset')];
		const want = [['degrease','','','',''],['sprinkle','^Salt','light','','shaker'],['fume','mmonia','','2 h',''],['brush out','','','1 min','soft brush'],['dry','','','30 min','']];
		rows.forEach((row, i) => {
			const q = n => row.querySelector('[name="' + n + '"]');
			const w = want[i];
			if (!w) { q('kind').value = ''; return; }
			q('kind').value = w[0];
			q('amount').value = w[2]; q('time').value = w[3]; q('tool').value = w[4];
			q('late').value = w[3] === '2 h' ? '10 min' : '';
			q('early').value = w[3] === '2 h' ? '5 min' : '';
			if (w[0] === 'fume') { const c = [...q('where').options].find(o => o.text === 'Chamber A'); q('where').value = c.value; }
			if (w[1]) { const o = [...q('supply').options].find(o => new RegExp(w[1], 'i').test(o.text)); q('supply').value = o.value; }
		});
		return true })()`)
	tb.shot("recipe-form")
	tb.pressThrough("Keep the recipe")
	tb.shot("recipe")

	// a ladder over the fuming time
	tb.visit("/sets/new")
	tb.fill("name", "How long in the fumes")
	tb.fill("question", "When does the blue come?")
	tb.choose("kind0", "time of a step")
	tb.choose("step0", "fume")
	tb.fill("levels0", "60, soon")
	tb.fill("replicates", "1")
	tb.fill("seed", "7")
	tb.pressThrough("Show the set before making it")
	if text := js[string](tb, `document.querySelector('.wrong').innerText`); !strings.Contains(text, "soon") {
		t.Errorf("the refusal %q does not name what was typed", text)
	}
	if kept := js[string](tb, `document.querySelector('[name=name]').value`); kept != "How long in the fumes" {
		t.Errorf("the refused form forgot the name: %q", kept)
	}
	tb.fill("levels0", "60, 120")
	tb.choose("chamber", "Chamber A")
	tb.pressThrough("Show the set before making it")
	tb.wait("the preview", `document.querySelector('#preview')`)
	tb.shot("set-preview")
	tb.pressThrough("Make these swatches")
	tb.shot("set")

	// labels and bench sheet are PDFs
	setPath := js[string](tb, `location.pathname`)
	for _, file := range []string{"/labels.pdf?sheet=a4", "/labels.pdf?sheet=letter", "/bench.pdf?sheet=a4", "/bench.pdf?sheet=letter"} {
		code, kind, body := get(t, b.url+setPath+file)
		if code != 200 || kind != "application/pdf" || !strings.HasPrefix(string(body), "%PDF-") {
			t.Errorf("%s: status %d, %s, %d bytes", file, code, kind, len(body))
		}
	}
	tb.visit(setPath + "/bench")
	tb.shot("bench-sheet-page")

	// two phones come in by code
	ana, ben := join(t, b, "Ana", 360), join(t, b, "Ben", 360)
	ana.visit("/")
	ben.visit("/")
	ana.shot("today-ready")
	js[bool](ana, `(() => { for (const c of document.querySelectorAll('input[name=t]')) c.checked = true; return true })()`)
	ana.press("Start together")
	began := time.Now()
	ana.wait("the first task on the phone that tapped", `document.querySelectorAll('.task').length === 2`)
	ben.wait("the same on the other phone", `document.querySelectorAll('.task').length === 2`)
	t.Logf("%d px: both phones showed the start %v after the tap (promised: a second)", width, time.Since(began).Round(time.Millisecond))
	ben.shot("today-running")

	// Ben degreases one, Ana the other, at once; each sees the other's tap
	js[bool](ana, `(() => { document.querySelectorAll('.task form[data-tap] button.main')[0].click(); return true })()`)
	ben.wait("Ana's tap", hasCard("Sprinkle"))
	js[bool](ben, `(() => { const t = [...document.querySelectorAll('.task')].find(t => t.innerText.includes('Degrease')); t.querySelector('button.main').click(); return true })()`)
	ana.wait("Ben's tap", noCard("Degrease"))

	ana.settled()

	// a phone that lost the network keeps the tap and sends it once, with its time
	js[bool](ana, `(() => { window.realFetch = window.fetch; window.fetch = () => Promise.reject(new TypeError('offline')); return true })()`)
	js[bool](ana, `(() => { const t = [...document.querySelectorAll('.task')].find(t => t.innerText.includes('Sprinkle')); t.querySelector('button.main').click(); return true })()`)
	ana.wait("the word that the tap is kept", `document.getElementById('net').innerText.includes('kept on this device')`)
	ana.shot("today-no-network")
	js[bool](ana, `(() => { window.fetch = window.realFetch; return true })()`)
	ana.wait("the tap to be sent", `document.getElementById('net').hidden`)
	ben.wait("Ana's late tap", `[...document.querySelectorAll('.task h3')].filter(h => h.textContent.includes('Sprinkle')).length === 1`)
	js[bool](ben, `(() => { const t = [...document.querySelectorAll('.task')].find(t => t.innerText.includes('Sprinkle')); t.querySelector('button.main').click(); return true })()`)
	ben.wait("both in the chamber", `document.querySelectorAll('.task .time').length >= 1 && `+noCard("Sprinkle"))
	ben.settled()
	ben.shot("today-fuming")

	// hours pass: everything else is confirmed as it comes due
	for range 12 {
		b.pass(61 * time.Minute)
		b.web.Changed()
		ben.visit("/")
		// a page that a busy laptop did not send in time is the one kept on the phone, until it is fetched anew
		board := []string{}
		for _, card := range b.see(t, "/today/board").doc(t).all("ol.tasks h3") {
			board = append(board, card.words())
		}
		if len(board) == 0 {
			break
		}
		ben.wait("the studio's board", fmt.Sprintf(`[...document.querySelectorAll('.task h3')].map(h => h.textContent.replace(/\s+/g, ' ').trim()).join('|') === %s`, quote(strings.Join(board, "|"))))
		ben.inStep(b) // else the tap would be of an hour ago
		if js[bool](ben, `!!document.querySelector('.task.act')`) {
			ben.shot("today-due")
		}
		js[bool](ben, `(() => { const f = document.querySelector('.task.act form[data-tap] button.main'); if (f) f.click(); return true })()`)
		ben.settled()
		b.pass(-30 * time.Minute)
	}
	ben.wait("an empty bench", `document.querySelectorAll('.task').length === 0`)

	// photographs of both faces, drawn by us so that the truth is known
	swatches, err := b.store.Swatches(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var treated []int64
	for _, x := range swatches {
		if !x.Blank {
			treated = append(treated, x.Number)
		}
	}
	var photos []string
	for i, number := range treated {
		for _, face := range studio.BothFaces {
			picture, marks, _ := demo.Sample(number, face, i, b.now().Add(-time.Minute))
			tb.visit(fmt.Sprintf("/photos/new?swatch=%d&face=%s", number, face))
			tb.attach("photo", "IMG.jpg", picture)
			tb.pressThrough("Keep it")
			if i == 0 && face == studio.Front {
				tb.shot("mark-before")
				dragCorner(tb, marks)
			}
			setMarks(tb, marks)
			tb.shot("mark")
			tb.pressThrough("Measure")
			if text := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(text, "L*, a*, b*") || strings.Contains(text, "uncalibrated") {
				t.Errorf("photo of %d %s was not read with its grey card: %.300s", number, face, text)
			}
			tb.shot("measured")
			photos = append(photos, strings.TrimPrefix(js[string](tb, `location.pathname`), "/photos/"))
		}
	}

	tb.visit("/compare?p=" + strings.Join(photos, "&p="))
	tb.shot("compare")
	if n := js[int](tb, `document.querySelectorAll('.six .tile').length`); n != len(photos) {
		t.Errorf("%d faces are compared, want %d", n, len(photos))
	}
	tb.visit("/swatches?by=hue")
	tb.shot("wall")
	tb.visit(fmt.Sprintf("/swatches/%d", treated[0]))
	tb.shot("swatch")
	if text := js[string](tb, `document.querySelector('main').textContent`); !strings.Contains(text, "As planned") || !strings.Contains(text, "Ana") {
		t.Errorf("the swatch's page does not show who did what: %.400s", text)
	}
	tb.visit("/findings/1")
	tb.shot("finding")

	tb.visit("/recipes/1")
	for _, sheet := range []string{"a4", "letter"} {
		code, kind, body := get(t, b.url+"/recipes/1/card.pdf?sheet="+sheet)
		if code != 200 || kind != "application/pdf" || !strings.HasPrefix(string(body), "%PDF-") {
			t.Errorf("card: status %d, %s, %d bytes", code, kind, len(body))
		}
	}
	tb.visit("/recipes/1/card")
	tb.shot("card-page")

	// every tap counted once
	ts, err := b.store.Treatments(t.Context(), store.TreatmentFilter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range ts {
		events, err := b.store.Events(t.Context(), []int64{x.ID})
		if err != nil {
			t.Fatal(err)
		}
		steps := map[int]int{}
		for _, e := range events[x.ID] {
			if e.Kind == studio.Done {
				steps[e.Step]++
			}
		}
		for step := range x.Steps {
			if steps[step] != 1 {
				t.Errorf("swatch %d step %d was recorded %d times, want once", x.Swatch, step+1, steps[step])
			}
		}
	}
}

// setMarks writes marks into the number fields, as the handles would.
func setMarks(tb *tab, m studio.Marks) {
	tb.t.Helper()
	put := func(name string, x, y float64) {
		tb.fill(name+"x", fmt.Sprintf("%.0f", x))
		tb.fill(name+"y", fmt.Sprintf("%.0f", y))
	}
	for i, name := range []string{"tl", "tr", "br", "bl"} {
		put(name, m.Corners[i].X, m.Corners[i].Y)
	}
	js[bool](tb, `(() => { const g = document.querySelector('[name=usegrey]'); g.checked = true; g.dispatchEvent(new Event('change')); return true })()`)
	put("grey1", m.Grey.X, m.Grey.Y)
	put("grey2", m.Grey.X+m.Grey.W, m.Grey.Y+m.Grey.H)
}

// dragCorner moves one corner with a pointer and another with the keyboard, and
// checks that the numbers followed.
func dragCorner(tb *tab, m studio.Marks) {
	tb.t.Helper()
	tb.wait("the handles", `document.querySelectorAll('.handle').length === 8 && document.querySelector('.marker img').complete`)
	moved := js[[]float64](tb, `(async () => {
		const h = document.querySelector('.handle[data-key=tl]');
		h.scrollIntoView({block: 'center'});
		const r = h.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2;
		const before = Number(document.querySelector('[name=tlx]').value);
		const fire = (type, dx, dy) => h.dispatchEvent(new PointerEvent(type, {pointerId: 1, clientX: x + dx, clientY: y + dy, bubbles: true}));
		h.setPointerCapture = () => {};
		fire('pointerdown', 0, 0); fire('pointermove', 30, 12); fire('pointerup', 30, 12);
		const dragged = Number(document.querySelector('[name=tlx]').value) - before;
		const k = document.querySelector('.handle[data-key=br]');
		const was = Number(document.querySelector('[name=bry]').value);
		k.focus();
		k.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowUp', shiftKey: true, bubbles: true}));
		return [dragged, was - Number(document.querySelector('[name=bry]').value)] })()`)
	if moved[0] <= 10 || moved[1] < 10 {
		tb.t.Errorf("dragging moved the corner by %v px and the key by %v px", moved[0], moved[1])
	}
}
