package web_test

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/studio"
)

// throughTime keeps and measures drawn photographs of one face on which the
// patina grows, an hour apart; the last is taken through the lid.
func throughTime(t *testing.T, b *bench, swatch int64) (photos []int64) {
	t.Helper()
	truth, ok := demo.TruthOf(3, studio.Front, studio.Finished)
	if !ok {
		t.Fatal("the drawn face is gone")
	}
	for i, covered := range []float64{0.01, 0.01, 0.5, 0.8, 0.8} {
		look := truth.Look
		look.Covered = covered
		x := demo.Shot{Number: swatch, Face: studio.Back, Look: look, WidthMM: 50, HeightMM: 40, Taken: b.now().Add(time.Duration(i-6) * time.Hour).Truncate(time.Second),
			Light: demo.Light{Cast: [3]float64{1, 1, 1}, Exposure: 0.9}, Piece: 5, Chance: uint64(i + 1)}
		form := url.Values{"client": {fmt.Sprintf("time-%d-%d", swatch, i)}, "swatch": {id(swatch)}, "face": {"back"}, "moment": {"under way"}}
		if i == 4 {
			form.Set("lid", "1")
		}
		to := b.upload(t, "/photos", "photo", demo.Render(x), form).to(t)
		number, err := strconv.ParseInt(strings.TrimSuffix(strings.TrimPrefix(to, "/photos/"), "/mark"), 10, 64)
		if err != nil {
			t.Fatalf("the photograph leads to %q", to)
		}
		b.post(t, fmt.Sprintf("/photos/%d/measure", number), marksForm(x.Marks(), true)).to(t)
		photos = append(photos, number)
	}
	return photos
}

// The truth is what was drawn: the patina came between the second photograph and
// the third.
func TestFaceThroughTimeSaysWhenItChanged(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	photos := throughTime(t, s.bench, 1)
	page := s.see(t, "/swatches/1/back/series")
	var shown []studio.Photo
	for _, n := range photos {
		p, err := s.store.Photo(t.Context(), n)
		if err != nil {
			t.Fatal(err)
		}
		shown = append(shown, p)
	}
	if !shown[4].ThroughLid || shown[3].ThroughLid {
		t.Error("the tick for the lid is lost, or is where it was not set")
	}
	clock := func(i int) string { return shown[i].Taken.Local().Format("15:04") }
	text := page.doc(t).one(".first-change").words()
	if !strings.HasPrefix(text, "First change seen between ") || !strings.Contains(text, clock(1)) || !strings.Contains(text, clock(2)) {
		t.Errorf("%q; it changed between %s and %s", text, clock(1), clock(2))
	}
	figures := page.doc(t).all("[data-scrub-shot]")
	if len(figures) != 5 || !strings.Contains(figures[4].words(), "through the lid") || strings.Contains(figures[0].words(), "through the lid") {
		t.Errorf("%d pictures: %q", len(figures), figures[len(figures)-1].words())
	}
	side := 0
	for _, n := range photos {
		a := s.see(t, fmt.Sprintf("/swatches/1/back/series/%d.jpg", n))
		c, err := jpeg.DecodeConfig(bytes.NewReader(a.body))
		if err != nil {
			t.Fatal(err)
		}
		if side != 0 && c.Width*10000+c.Height != side {
			t.Error("the pictures have different sizes")
		}
		side = c.Width*10000 + c.Height
	}
	if link := s.see(t, "/swatches/1").doc(t).one(`a[href="/swatches/1/back/series"]`); link == nil {
		t.Error("the swatch's page does not lead to it")
	}
}

func TestScrubbingThroughTimeInABrowser(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	throughTime(t, s.bench, 1)
	for _, width := range []int{390, 1280} {
		tb := open(t, s.url, "scrub", width)
		tb.visit("/swatches/1/back/series")
		const seen = `[...document.querySelectorAll('[data-scrub-shot]')].map(f => f.hidden ? '-' : 'x').join('')`
		tb.wait("one picture at a time", seen+` === 'x----'`)
		tb.shot("first")
		js[bool](tb, `(() => { const r = document.querySelector('[data-scrub-at]'); r.value = 4; r.dispatchEvent(new Event('input', {bubbles: true})); return true })()`)
		if got := js[string](tb, seen); got != "----x" {
			t.Errorf("%d px: after dragging to the end the pictures show as %s", width, got)
		}
		if got := js[string](tb, `document.querySelector('[data-scrub-words]').textContent`); !strings.Contains(got, "through the lid") {
			t.Errorf("%d px: the words are %q", width, got)
		}
		if !js[bool](tb, `(async () => { const i = document.querySelector('[data-scrub-shot]:not([hidden]) img'); await i.decode(); return i.naturalWidth > 100 })()`) {
			t.Errorf("%d px: the picture is not there", width)
		}
		tb.shot("last")
		for _, x := range tb.violations() {
			t.Errorf("%d px: %s", width, x)
		}
	}
}
