package web_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"mime/multipart"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"

	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
	"aerugo/internal/web"
)

// became is what the server says became of one of many.
type became struct {
	Photo, Swatch  int64
	Face           studio.Face
	Measured       bool
	Go             string
	Problem, Field string
}

// sendOne sends one of many photographs, with further fields in pairs.
func (s *stock) sendOne(t *testing.T, client string, data []byte, more ...string) (int, became) {
	t.Helper()
	f := url.Values{"client": {client}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	a := s.upload(t, "/photos/many", "photo", data, f)
	var b became
	if err := json.Unmarshal(a.body, &b); err != nil {
		t.Fatalf("%s: status %d, not JSON: %s", client, a.code, a.body)
	}
	return a.code, b
}

// photos counts all entries of the studio's swatches.
func (s *stock) photos(t *testing.T) int {
	t.Helper()
	seen, err := s.store.Seen(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return seen.Photos
}

// Without a number, the label in the picture says whose it is, the back too; the
// form's own face gives way to it.
func TestOneOfManyIsFiledByItsLabel(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	for i, face := range []studio.Face{studio.Front, studio.Back} {
		swatch := s.planned[i].Swatch
		data, _ := sample(swatch, face, i)
		code, b := s.sendOne(t, fmt.Sprint("label", i), data, "face", "front")
		if code != 200 || b.Swatch != swatch || b.Face != face || b.Measured || b.Go != fmt.Sprintf("/photos/%d/mark", b.Photo) {
			t.Errorf("swatch %d %s: status %d, %+v", swatch, face, code, b)
		}
		p, err := s.store.Photo(t.Context(), b.Photo)
		if err != nil || p.Swatch != swatch || p.Face != face || p.Moment != studio.Finished {
			t.Errorf("kept as %+v, %v", p, err)
		}
	}
	// on the mat it is measured too
	code, b := s.sendOne(t, "mat", onTheMat(t, s.blank, studio.Back, colour.Lab{L: 45, A: 18, B: 30}))
	if code != 200 || b.Swatch != s.blank || b.Face != studio.Back || !b.Measured || b.Go != fmt.Sprintf("/photos/%d", b.Photo) {
		t.Errorf("on the mat: status %d, %+v", code, b)
	}
	// the page for one photograph reads the same label
	data, _ := sample(s.planned[2].Swatch, studio.Front, 2)
	to := s.upload(t, "/photos", "photo", data, photoForm("alone", 0, "swatch", "")).to(t)
	if text := s.see(t, to).doc(t).one("h1").words(); !strings.Contains(text, fmt.Sprintf("swatch %d, front", s.planned[2].Swatch)) {
		t.Errorf("sent alone it is at %q", text)
	}
	// a label of no swatch here is named
	data, _ = sample(4711, studio.Front, 0)
	code, b = s.sendOne(t, "stranger", data)
	if code != 422 || b.Field != "swatch" || !strings.Contains(b.Problem, "4711") {
		t.Errorf("another studio's label: status %d, %+v", code, b)
	}
}

// A batch sent again, whole or while it is still being sent, keeps nothing twice.
func TestABatchSentAgainKeepsNothingTwice(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	var keys []string
	var data [][]byte
	for i, x := range s.planned {
		d, _ := sample(x.Swatch, studio.Front, i)
		keys, data = append(keys, fmt.Sprint("batch", i)), append(data, d)
	}
	code, b := s.sendOne(t, "unlabelled", grey(t), "swatch", id(s.blank), "face", "back")
	if code != 200 || b.Swatch != s.blank || b.Face != studio.Back {
		t.Fatalf("with its number: status %d, %+v", code, b)
	}
	keys, data = append(keys, "unlabelled"), append(data, grey(t))
	first := make([][2]became, len(keys)) // what each of the two that raced was told
	for round := range 2 {
		var wait sync.WaitGroup
		for i := range keys {
			for racer := range 2 {
				wait.Go(func() { // the last one has no number this time: its key is enough
					code, b := s.sendOne(t, keys[i], data[i])
					if code != 200 {
						t.Errorf("round %d, %s: status %d, %+v", round, keys[i], code, b)
					}
					if round == 0 {
						first[i][racer] = b
					} else if b != first[i][racer] {
						t.Errorf("%s was %+v and is %+v", keys[i], first[i][racer], b)
					}
				})
			}
		}
		wait.Wait()
		if n, f := s.photos(t), len(s.files(t)); n != len(keys) || f != len(keys) {
			t.Errorf("round %d: %d entries and %d files, want %d", round, n, f, len(keys))
		}
	}
	// asked beforehand, the studio knows those, and no others
	a := s.post(t, "/photos/many/there", url.Values{"client": append(keys, "never sent", "")})
	var told struct{ There map[string]became }
	if err := json.Unmarshal(a.body, &told); err != nil || len(told.There) != len(keys) {
		t.Fatalf("status %d: %s (%v)", a.code, a.body, err)
	}
	for i, k := range keys {
		if told.There[k] != first[i][0] {
			t.Errorf("%s is told as %+v, was %+v", k, told.There[k], first[i][0])
		}
	}
	// what the person threw away is not quietly taken for kept
	s.post(t, "/bin", url.Values{"kind": {"photo"}, "id": {id(first[0][0].Photo)}}).to(t)
	if code, b := s.sendOne(t, keys[0], data[0]); code != 409 || !strings.Contains(b.Problem, "bin") {
		t.Errorf("in the bin: status %d, %+v", code, b)
	}
}

// Among good files, bad ones are refused each with its own reason, and change
// nothing for the others; the refused one is kept once the person says where.
func TestBadFilesDoNotHoldUpGoodOnes(t *testing.T) {
	s := stocked(t)
	good, _ := sample(s.planned[0].Swatch, studio.Front, 0)
	other, _ := sample(s.planned[1].Swatch, studio.Front, 1)
	for _, c := range []struct {
		client string
		data   []byte
		more   []string
		code   int
		field  string
		says   string
	}{
		{"good", good, nil, 200, "", ""},
		{"words", []byte("Dear diary, today it turned blue.\n"), nil, 422, "photo", "JPEG"},
		{"empty", nil, nil, 422, "photo", "empty"},
		{"half", good[:len(good)/2], nil, 422, "photo", "breaks off"},
		{"unlabelled", grey(t), nil, 422, "swatch", "none could be read"},
		{"no such", grey(t), []string{"swatch", "4711", "face", "front"}, 422, "swatch", "no swatch 4711"},
		{"no number", grey(t), []string{"swatch", "blue", "face", "front"}, 422, "swatch", `"blue"`},
		{"no face", grey(t), []string{"swatch", id(s.blank)}, 422, "", "which face"},
		{"a key taken", other, []string{"client", "good"}, 200, "", ""}, // by its key it is there
		{"other", other, nil, 200, "", ""},
		{"unlabelled", grey(t), []string{"swatch", id(s.blank), "face", "back"}, 200, "", ""},
	} {
		code, b := s.sendOne(t, c.client, c.data, c.more...)
		if code != c.code || b.Field != c.field || !strings.Contains(b.Problem, c.says) || (code == 200) != (b.Photo > 0) || (code == 200) == (b.Problem != "") {
			t.Errorf("%s: status %d, %+v", c.client, code, b)
		}
	}
	if n, f := s.photos(t), len(s.files(t)); n != 3 || f != 3 {
		t.Errorf("%d entries and %d files, want 3", n, f)
	}
	a := s.post(t, "/photos/many", url.Values{"client": {"x"}})
	if a.code != 422 || !json.Valid(a.body) {
		t.Errorf("not a form of parts: status %d: %s", a.code, a.body)
	}
}

// While two photographs are held as pixels, a third waits, whichever page it
// comes by; then it is kept.
func TestNoMoreThanTwoPhotographsAreReadAtOnce(t *testing.T) {
	for _, path := range []string{"/photos", "/photos/many"} {
		synctest.Test(t, func(t *testing.T) {
			ctx := context.Background()
			st, err := store.Open(ctx, t.TempDir()+"/studio", store.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer st.Close()
			metal, err := st.SaveMetal(ctx, studio.Metal{Name: "Copper", Alloy: "C11000", ThicknessMM: 0.8})
			if err != nil {
				t.Fatal(err)
			}
			if _, _, err := st.AddSet(ctx, studio.Set{Name: "One", Shape: studio.Loose}, []store.NewSwatch{{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 50, HeightMM: 50}}}); err != nil {
				t.Fatal(err)
			}
			w, err := web.New(web.Config{Store: st})
			if err != nil {
				t.Fatal(err)
			}
			defer w.Close()
			var leave [2]func()
			for i := range leave {
				if leave[i], err = w.TakeSeat(ctx); err != nil {
					t.Fatal(err)
				}
			}
			gone, cancel := context.WithCancel(ctx)
			cancel()
			if _, err := w.TakeSeat(gone); !errors.Is(err, context.Canceled) {
				t.Errorf("a third seat for one who left: %v", err)
			}
			var body bytes.Buffer
			form := multipart.NewWriter(&body)
			for name, v := range map[string]string{"client": "a", "swatch": "1", "face": "front", "moment": "finished"} {
				if err := form.WriteField(name, v); err != nil {
					t.Fatal(err)
				}
			}
			part, err := form.CreateFormFile("photo", "IMG.jpg")
			if err != nil {
				t.Fatal(err)
			}
			part.Write(grey(t))
			form.Close()
			r := httptest.NewRequest("POST", "http://127.0.0.1"+path, &body)
			r.RemoteAddr = "127.0.0.1:5000"
			r.Header.Set("Content-Type", form.FormDataContentType())
			rec := httptest.NewRecorder()
			done := false
			go func() { w.ServeHTTP(rec, r); done = true }()
			synctest.Wait()
			seen, err := st.Seen(ctx)
			if done || err != nil || seen.Photos != 0 {
				t.Errorf("%s: the third did not wait: done %v, %d photographs, %v", path, done, seen.Photos, err)
			}
			leave[0]()
			synctest.Wait()
			leave[1]()
			if seen, err = st.Seen(ctx); !done || err != nil || seen.Photos != 1 || rec.Code >= 400 {
				t.Errorf("%s: with a place free: done %v, status %d, %d photographs, %v", path, done, rec.Code, seen.Photos, err)
			}
		})
	}
}

// give chooses files in the page's field, or drops them onto its heading.
func (tb *tab) give(drop bool, names []string, files [][]byte) {
	tb.t.Helper()
	var list []string
	for i, name := range names {
		list = append(list, fmt.Sprintf(`[%s, %q]`, quote(name), base64.StdEncoding.EncodeToString(files[i])))
	}
	js[bool](tb, fmt.Sprintf(`(() => { const dt = new DataTransfer();
		for (const [name, b64] of [%s]) dt.items.add(new File([Uint8Array.from(atob(b64), c => c.charCodeAt(0))], name, {type: 'image/jpeg', lastModified: 1700000000000}));
		if (%v) {
			for (const type of ['dragover', 'drop']) if (document.querySelector('h1').dispatchEvent(new DragEvent(type, {dataTransfer: dt, bubbles: true, cancelable: true}))) throw new Error(type + ' was left to the browser');
			return true;
		}
		const input = document.querySelector('input[name=photos]'); input.files = dt.files; input.dispatchEvent(new Event('change', {bubbles: true})); return true })()`, strings.Join(list, ","), drop))
}

// rows returns what the page says of each file.
func (tb *tab) rows() []string {
	tb.t.Helper()
	return js[[]string](tb, `[...document.querySelectorAll('.many > li')].map(li => li.innerText)`)
}

// TestManyPhotographsInTheBrowser drops six files: four with labels, a text
// called .jpg and a picture without a label, which is then filed by the form.
// Dropped again, nothing is sent; without a network it waits; it can be stopped.
func TestManyPhotographsInTheBrowser(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 360} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			manyInTheBrowser(t, width)
		})
	}
}

func manyInTheBrowser(t *testing.T, width int) {
	s := stocked(t)
	tb := open(t, s.url, "many", width)
	for _, from := range []string{"/swatches", "/photos/new"} {
		if s.see(t, from).doc(t).one("main a[href='/photos/many']") == nil {
			t.Errorf("nothing leads there from %s", from)
		}
	}
	tb.visit("/photos/many")
	tb.shot("before")
	var names []string
	var files [][]byte
	for i, x := range s.planned {
		data, _ := sample(x.Swatch, studio.Front, i)
		names, files = append(names, fmt.Sprintf("IMG_%04d.jpg", i)), append(files, data)
	}
	names, files = append(names, "notes.jpg", "a very long name without any break in it_ünd_mit_Umlauten_"+strings.Repeat("x", 90)+".jpg"), append(files, []byte("Dear diary"), grey(t))
	tb.give(false, names, files)
	tb.wait("all six", `document.querySelector('[data-count]').innerText.startsWith('6 of 6 done, 2 not kept')`)
	tb.noSideways()
	tb.shot("six")
	rows := tb.rows()
	for i, x := range s.planned {
		if !strings.Contains(rows[i], fmt.Sprintf("Filed to swatch %d, front. Not measured yet", x.Swatch)) {
			t.Errorf("file %d: %q", i, rows[i])
		}
	}
	if !strings.Contains(rows[4], "JPEG") || strings.Contains(rows[4], "File it there") {
		t.Errorf("the text: %q", rows[4])
	}
	if !strings.Contains(rows[5], "none could be read") || !strings.Contains(rows[5], "File it there") {
		t.Errorf("without a label: %q", rows[5])
	}
	if said := js[string](tb, `document.querySelector('[role=status][data-say]').textContent`); !strings.HasPrefix(said, "6 of 6 done") {
		t.Errorf("a screen reader was told %q", said)
	}
	for _, x := range tb.violations() {
		t.Errorf("accessibility: %s", x)
	}
	link := js[string](tb, `document.querySelector('.many a').getAttribute('href')`)
	if a := s.see(t, link); a.code != 200 {
		t.Errorf("the link %s: status %d", link, a.code)
	}

	// filed by the form: first under a number that is not there
	tb.fill("swatch", "4711")
	tb.press("File it there")
	tb.wait("the refusal", `document.querySelector('.many > li:last-child').innerText.includes('no swatch 4711')`)
	if kept := js[string](tb, `document.querySelector('.many input[name=swatch]').value`); kept != "4711" {
		t.Errorf("the number came back as %q", kept)
	}
	tb.fill("swatch", id(s.blank))
	js[bool](tb, `(() => { const f = document.querySelector('.many select[name=face]'); f.focus(); f.value = 'back'; document.querySelector('.many form').requestSubmit(); return true })()`)
	tb.wait("the file filed by hand", fmt.Sprintf(`document.querySelector('.many > li:last-child').innerText.includes('Filed to swatch %d, back')`, s.blank))
	if here := js[bool](tb, `document.querySelector('.many > li:last-child').contains(document.activeElement)`); !here {
		t.Error("the keyboard's place was lost")
	}
	if n := s.photos(t); n != 5 {
		t.Errorf("%d photographs are kept, want 5", n)
	}

	// dropped again on a fresh page: what is there is known without being sent
	tb.visit("/photos/many")
	js[bool](tb, `(() => { window.sent = []; const real = window.fetch; window.realFetch = real; window.fetch = (u, o) => { if (u !== '/clock') window.sent.push(u); return real(u, o) }; return true })()`)
	tb.give(true, slices.Concat(names, names[:2]), slices.Concat(files, files[:2]))
	tb.wait("all six again", `document.querySelector('[data-count]').innerText.startsWith('6 of 6 done, 1 not kept')`)
	if sent := js[string](tb, `window.sent.join(' ')`); sent != "/photos/many/there /photos/many" {
		t.Errorf("sent again: %s", sent)
	}
	if rows := tb.rows(); !strings.Contains(rows[0], "There already") {
		t.Errorf("the first again: %q", rows[0])
	}

	// stopped under way, and gone on with; and without a network
	more, _ := sample(s.planned[0].Swatch, studio.Back, 5)
	js[bool](tb, `(window.fetch = (u, o) => u.endsWith('there') ? window.realFetch(u, o) : new Promise((ok, no) => o.signal.addEventListener('abort', () => no(o.signal.reason))), true)`)
	tb.give(true, []string{"more.jpg"}, [][]byte{more})
	tb.wait("the file to be on its way", `document.querySelector('.many > li:last-child').innerText.includes('Sending')`)
	tb.press("Stop")
	tb.wait("it to stop", `document.querySelector('[data-count]').innerText.includes('Stopped') && document.querySelector('.many > li:last-child').innerText.includes('Waiting')`)
	js[bool](tb, `(window.fetch = () => Promise.reject(new TypeError('offline')), true)`)
	tb.press("Go on")
	tb.wait("word of the lost network", `document.querySelector('[data-count]').innerText.includes('can’t be reached')`)
	js[bool](tb, `(window.fetch = window.realFetch, true)`)
	tb.wait("the last", fmt.Sprintf(`document.querySelector('.many > li:last-child').innerText.includes('Filed to swatch %d, back')`, s.planned[0].Swatch))
	if n := s.photos(t); n != 6 {
		t.Errorf("%d photographs are kept, want 6", n)
	}
}
