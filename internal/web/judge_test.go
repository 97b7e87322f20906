package web_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

var (
	cleanMetal = color.RGBA{195, 135, 112, 255}
	stain      = color.RGBA{150, 96, 74, 255}
	verdigris  = color.RGBA{67, 179, 174, 255}
)

// panel draws a photograph of a face beside an 18 % grey card (L* 49.5 is the
// sRGB code 118), with a little noise, and the marks of it.
func panel(t *testing.T, seed uint64, face func(u, v float64) color.RGBA) ([]byte, url.Values) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			c := color.RGBA{180, 180, 180, 255}
			u, v := (float64(x)+0.5-40)/400, (float64(y)+0.5-40)/400
			switch {
			case x >= 500 && x < 600 && y >= 60 && y < 160:
				c = color.RGBA{118, 118, 118, 255}
			case u >= 0 && u < 1 && v >= 0 && v < 1:
				c = face(u, v)
			}
			for _, k := range []*uint8{&c.R, &c.G, &c.B} {
				*k = uint8(max(0, min(255, math.Round(float64(*k)+1.5*rng.NormFloat64()))))
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	c := [4]studio.Point{{X: 40, Y: 40}, {X: 440, Y: 40}, {X: 440, Y: 440}, {X: 40, Y: 440}}
	f := marksForm(studio.Marks{Corners: &c, Grey: &studio.Rect{X: 510, Y: 70, W: 80, H: 80}}, true)
	return b.Bytes(), f
}

// spoilt is copper whose left half is stained, with patina on 24 % of it.
func spoilt(u, v float64) color.RGBA {
	switch {
	case v >= 0.5 && v < 0.9 && (u >= 0.1 && u < 0.4 || u >= 0.6 && u < 0.9):
		return verdigris
	case u < 0.5:
		return stain
	}
	return cleanMetal
}

// clean is the top right of spoilt, as its bare spot.
func clean(f url.Values) url.Values {
	f.Set("usebare", "1")
	for name, v := range map[string]string{"bare1x": "300", "bare1y": "80", "bare2x": "400", "bare2y": "180"} {
		f.Set(name, v)
	}
	return f
}

// keep sends a photograph and returns its number.
func (b *bench) keep(t *testing.T, client string, swatch int64, moment string, data []byte) int64 {
	t.Helper()
	to := b.upload(t, "/photos", "photo", data, url.Values{"client": {client}, "swatch": {id(swatch)}, "face": {"front"}, "moment": {moment}}).to(t)
	text, _, _ := strings.Cut(strings.TrimPrefix(to, "/photos/"), "/")
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		t.Fatalf("the photograph leads to %q", to)
	}
	return n
}

func (b *bench) newest(t *testing.T, photo int64) studio.Measurement {
	t.Helper()
	p, err := b.store.Photo(t.Context(), photo)
	if err != nil || p.Measurement == nil {
		t.Fatalf("photograph %d has no reading: %v", photo, err)
	}
	return *p.Measurement
}

// pulled paints a stroke from one place to another, in shares of a face of mm.
func pulled(class string, mm [2]float64, x0, y0, x1, y1 float64) map[string]any {
	return map[string]any{"class": class, "radius": 0.03 * mm[0], "points": [][2]float64{{x0 * mm[0], y0 * mm[1]}, {x1 * mm[0], y1 * mm[1]}}}
}

func strokesOf(t *testing.T, all ...map[string]any) string {
	t.Helper()
	b, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// sides are a swatch's width and height in mm.
func (b *bench) sides(t *testing.T, swatch int64) [2]float64 {
	t.Helper()
	x, err := b.store.Swatch(t.Context(), swatch)
	if err != nil {
		t.Fatal(err)
	}
	return [2]float64{x.WidthMM, x.HeightMM}
}

func good(t *testing.T, mm [2]float64) string {
	return strokesOf(t, pulled("bare", mm, 0.08, 0.1, 0.42, 0.1), pulled("bare", mm, 0.58, 0.3, 0.92, 0.3),
		pulled("patina", mm, 0.15, 0.6, 0.35, 0.6), pulled("patina", mm, 0.65, 0.8, 0.85, 0.8))
}

// judged adds to a bench a painted photograph of a planned swatch, the bare
// reference it is judged by, and a salted one that was weighed.
func judged(t *testing.T, s *stock) {
	t.Helper()
	data, marks := panel(t, 40, func(u, v float64) color.RGBA { return cleanMetal })
	bare := s.keep(t, "judged-bare", s.blank, "bare", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", bare), marks).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/reference", bare), url.Values{"whole": {"1"}}).to(t)
	data, marks = panel(t, 41, spoilt)
	photo := s.keep(t, "judged", s.planned[2].Swatch, "finished", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", photo), clean(marks)).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/paint", photo), url.Values{"strokes": {good(t, s.sides(t, s.planned[2].Swatch))}}).to(t)
	data, marks = panel(t, 42, grainsOn(3, 120))
	salted := s.keep(t, "salted", s.planned[1].Swatch, "salted", data)
	s.post(t, fmt.Sprintf("/photos/%d/salt", salted), marks).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/weighed", salted), url.Values{"mass": {"0.05"}, "area": {"25"}}).to(t)
}

// sentAs finds one of the photographs that judged adds, by its key.
func sentAs(t *testing.T, b *bench, key string) int64 {
	t.Helper()
	swatches, err := b.store.Swatches(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range swatches {
		photos, err := b.store.PhotosOf(t.Context(), x.Number)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range photos {
			if p.Client == key {
				return p.ID
			}
		}
	}
	t.Fatalf("no photograph was sent as %q", key)
	return 0
}

// eventually waits until something is so.
func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for began := time.Now(); !is(); time.Sleep(20 * time.Millisecond) {
		if time.Since(began) > patience {
			t.Fatalf("%s did not come within %v", what, patience)
		}
	}
}

// Stained metal that the plain rule takes for patina is bare once it was painted
// so; the old reading stays; contradicting strokes come back with a reason.
func TestPaintedExamplesSetCoverageRight(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	swatch, mm := s.planned[0].Swatch, s.sides(t, s.planned[0].Swatch)
	data, marks := panel(t, 1, spoilt)
	photo := s.keep(t, "spoilt", swatch, "finished", data)
	paint := fmt.Sprintf("/photos/%d/paint", photo)
	if a := s.post(t, paint, url.Values{"strokes": {good(t, mm)}}); a.code != 409 {
		t.Errorf("painted before it was measured: status %d", a.code)
	}
	s.post(t, fmt.Sprintf("/photos/%d/measure", photo), clean(marks)).to(t)
	before := s.newest(t, photo)
	if before.Coverage == nil || before.Coverage.Value < 0.5 {
		t.Fatalf("the plain rule says %+v; the stain should mislead it", before.Coverage)
	}
	for name, c := range map[string]struct{ strokes, says string }{
		"the opposite":  {strokesOf(t, pulled("bare", mm, 0.55, 0.1, 0.9, 0.1), pulled("patina", mm, 0.55, 0.25, 0.9, 0.25)), "contradict each other"},
		"one kind":      {strokesOf(t, pulled("bare", mm, 0.55, 0.1, 0.9, 0.1)), "Nothing is painted as patina"},
		"no JSON":       {"a picture", "can't be read"},
		"no such class": {strokesOf(t, pulled("gold", mm, 0.55, 0.1, 0.9, 0.1)), "gold"},
	} {
		a := s.post(t, paint, url.Values{"strokes": {c.strokes}})
		if a.code != 422 || !strings.Contains(a.problem(), c.says) {
			t.Errorf("%s: status %d, %s", name, a.code, a.problem())
		}
	}
	if m := s.newest(t, photo); m.ID != before.ID {
		t.Error("a refused painting left a reading")
	}
	s.post(t, paint, url.Values{"strokes": {good(t, mm)}}).to(t)
	after := s.newest(t, photo)
	if math.Abs(after.Coverage.Value-0.24) > 0.015 || after.Marks.Trained == nil {
		t.Errorf("coverage by examples is %+v, want 0.24", after.Coverage)
	}
	page := string(s.see(t, fmt.Sprintf("/photos/%d", photo)).body)
	if !strings.Contains(page, "Told apart by") || !strings.Contains(page, "Earlier readings") {
		t.Error("the photograph's page does not say what told it apart, or lost the earlier reading")
	}
	if body := string(s.see(t, paint).body); !strings.Contains(body, "Told wrong when left out") || !strings.Contains(body, "&#34;patina&#34;") {
		t.Error("the painting page does not show the strokes and their errors again")
	}
	s.post(t, paint, url.Values{"strokes": {"[]"}}).to(t)
	if plain := s.newest(t, photo); plain.Marks.Trained != nil || plain.Coverage.Value != before.Coverage.Value {
		t.Errorf("with all strokes taken back: %+v", plain.Coverage)
	}
}

// A kept reference judges every photograph of its metal without bare metal of its
// own, stays with the set when another is kept, and can be changed for the set.
func TestBareReferenceIsFixedAcrossASet(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	ctx := t.Context()
	data, marks := panel(t, 2, func(u, v float64) color.RGBA { return cleanMetal })
	bare := s.keep(t, "blank", s.blank, "bare", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", bare), marks).to(t)
	if a := s.post(t, fmt.Sprintf("/photos/%d/reference", bare), url.Values{}); a.code != 422 || !strings.Contains(a.problem(), "No bare spot") {
		t.Errorf("without a spot: %d, %s", a.code, a.problem())
	}
	s.post(t, fmt.Sprintf("/photos/%d/reference", bare), url.Values{"whole": {"1"}}).to(t)
	refs, err := s.store.BareReferences(ctx, s.metal)
	if err != nil || len(refs) != 1 || refs[0].Photo != bare || refs[0].Corrected != "grey card" || refs[0].N < 1000 {
		t.Fatalf("references are %+v, %v", refs, err)
	}
	patina, marks := panel(t, 3, func(u, v float64) color.RGBA {
		if u < 0.4 {
			return verdigris
		}
		return cleanMetal
	})
	photo := s.keep(t, "patina", s.planned[0].Swatch, "finished", patina)
	form := fmt.Sprintf("/photos/%d/measure", photo)
	key := fmt.Sprintf("reference-%d", refs[0].ID)
	if body := string(s.see(t, fmt.Sprintf("/photos/%d/mark", photo)).body); !strings.Contains(body, `value="`+key+`" selected`) {
		t.Error("the reference is not offered first")
	}
	marks.Set("barefrom", key)
	s.post(t, form, marks).to(t)
	m := s.newest(t, photo)
	if m.Coverage == nil || math.Abs(m.Coverage.Value-0.4) > 0.015 || m.Marks.Reference != refs[0].ID || !strings.Contains(m.Coverage.Rule, "bare reference kept of swatch") {
		t.Errorf("judged by the reference: %+v", m.Coverage)
	}
	judge, err := s.store.SetJudge(ctx, s.set)
	if err != nil || judge.Reference != refs[0].ID {
		t.Fatalf("the set uses %+v, %v", judge, err)
	}

	// another reference of the lot, taken on stained metal
	data, stained := panel(t, 4, func(u, v float64) color.RGBA { return stain })
	second := s.keep(t, "blank again", s.blank, "bare", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", second), stained).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/reference", second), url.Values{"whole": {"1"}}).to(t)
	if judge, _ = s.store.SetJudge(ctx, s.set); judge.Reference != refs[0].ID {
		t.Error("a new reference changed what the set is judged by")
	}
	if refs, err = s.store.BareReferences(ctx, s.metal); err != nil || len(refs) != 2 {
		t.Fatalf("references are %+v, %v", refs, err)
	}
	if body := string(s.see(t, fmt.Sprintf("/photos/%d/mark", photo)).body); !strings.Contains(body, `value="`+key+`" selected`) {
		t.Error("the set's own reference is not offered first any more")
	}
	s.post(t, fmt.Sprintf("/sets/%d/bare", s.set), url.Values{"reference": {id(refs[0].ID)}, "painting": {"0"}, "again": {"1"}}).to(t)
	eventually(t, "the second reading", func() bool { all, _ := s.store.Measurements(ctx, photo); return len(all) == 2 })
	now := s.newest(t, photo)
	if now.Marks.Reference != refs[0].ID || now.Coverage.Value <= m.Coverage.Value+0.1 {
		t.Errorf("judged by stained metal: %+v", now.Coverage)
	}
	all, err := s.store.Measurements(ctx, photo)
	if err != nil || all[1].Coverage.Value != m.Coverage.Value {
		t.Errorf("the old reading is %+v, %v", all[1].Coverage, err)
	}
	// without a reference the set's blank is bare metal again: the newer, stained one
	eventually(t, "the end of the work before", func() bool { // refused while the set's other photographs are under way
		return s.post(t, fmt.Sprintf("/sets/%d/bare", s.set), url.Values{"reference": {"0"}, "painting": {"0"}, "again": {"1"}}).code == 303
	})
	eventually(t, "the third reading", func() bool { all, _ := s.store.Measurements(ctx, photo); return len(all) == 3 })
	if m := s.newest(t, photo); m.Marks.Reference != 0 || !strings.Contains(m.Marks.BareOf, "the set's blank") {
		t.Errorf("without a reference it is judged by %q", m.Marks.BareOf)
	}
	if body := string(s.see(t, fmt.Sprintf("/photos/%d/mark", photo)).body); strings.Contains(body, `value="`+key+`" selected`) {
		t.Error("the set does without a reference, but one is offered first")
	}
	for _, f := range []url.Values{{"reference": {"99"}}, {"painting": {"99"}}, {"reference": {"the first"}}} {
		if a := s.post(t, fmt.Sprintf("/sets/%d/bare", s.set), f); a.code != 404 && a.code != 422 {
			t.Errorf("%v: status %d", f, a.code)
		}
	}
}

// Examples ticked for the whole set judge its other photographs too, if both have
// a grey card.
func TestExamplesJudgeTheWholeSet(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	ctx := t.Context()
	mm := s.sides(t, s.planned[0].Swatch)
	var photos []int64
	for i := range 2 {
		data, marks := panel(t, uint64(10+i), spoilt)
		photo := s.keep(t, fmt.Sprint("set", i), s.planned[i].Swatch, "finished", data)
		s.post(t, fmt.Sprintf("/photos/%d/measure", photo), clean(marks)).to(t)
		photos = append(photos, photo)
	}
	s.post(t, fmt.Sprintf("/photos/%d/paint", photos[0]), url.Values{"strokes": {good(t, mm)}, "wholeset": {"1"}}).to(t)
	eventually(t, "the other photograph's reading", func() bool { all, _ := s.store.Measurements(ctx, photos[1]); return len(all) == 2 })
	if m := s.newest(t, photos[1]); math.Abs(m.Coverage.Value-0.24) > 0.015 || !strings.Contains(m.Coverage.Rule, fmt.Sprintf("painted on swatch %d front", s.planned[0].Swatch)) {
		t.Errorf("the other photograph reads %+v", m.Coverage)
	}
	data, marks := panel(t, 12, spoilt)
	for name := range marks {
		if strings.HasPrefix(name, "grey") || name == "usegrey" {
			marks.Del(name)
		}
	}
	grey := s.keep(t, "no card", s.planned[2].Swatch, "finished", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", grey), clean(marks)).to(t)
	if m := s.newest(t, grey); m.Coverage == nil || m.Marks.Trained == nil || !strings.Contains(strings.Join(m.Warnings, " "), "painted on a photograph with a grey card") {
		t.Errorf("without a grey card: %+v, %q", m.Coverage, m.Warnings)
	}
	a := s.post(t, fmt.Sprintf("/photos/%d/paint", grey), url.Values{"strokes": {good(t, mm)}, "wholeset": {"1"}})
	if a.code != 422 || !strings.Contains(a.problem(), "hold for that one only") {
		t.Errorf("for the set without a grey card: %d, %s", a.code, a.problem())
	}
}

// grainsOn scatters square white grains over copper, none touching.
func grainsOn(seed uint64, n int) func(u, v float64) color.RGBA {
	rng := rand.New(rand.NewPCG(seed, 5))
	const places = 30 // along each side
	at := map[int]bool{}
	for _, i := range rng.Perm((places - 2) * (places - 2))[:n] {
		at[(i/(places-2)+1)*places+i%(places-2)+1] = true
	}
	return func(u, v float64) color.RGBA {
		x, y := u*places, v*places
		if at[int(y)*places+int(x)] && math.Mod(x, 1) > 0.25 && math.Mod(x, 1) < 0.75 && math.Mod(y, 1) > 0.25 && math.Mod(y, 1) < 0.75 {
			return color.RGBA{235, 235, 230, 255}
		}
		return cleanMetal
	}
}

// Twice the grains are twice the loading; the person keeps it as what went on.
func TestGrainsBecomeALoading(t *testing.T) {
	s := stocked(t)
	ctx := t.Context()
	one, two := s.planned[0], s.planned[1]
	data, marks := panel(t, 20, grainsOn(1, 100))
	first := s.keep(t, "weighed", one.Swatch, "salted", data)
	if p, err := s.store.Photo(ctx, first); err != nil || !p.Salted || p.Moment != studio.Underway {
		t.Fatalf("kept as %+v, %v", p, err)
	}
	if a := s.post(t, fmt.Sprintf("/photos/%d/weighed", first), url.Values{"mass": {"0,1"}, "area": {"25"}}); a.code != 409 {
		t.Errorf("weighed before it was counted: status %d", a.code)
	}
	s.post(t, fmt.Sprintf("/photos/%d/salt", first), marks).to(t)
	g, ok, err := s.store.GrainsOf(ctx, first)
	if err != nil || !ok || g.Count < 97 || g.Count > 103 {
		t.Fatalf("%d grains of 100, %v, %v", g.Count, ok, err)
	}
	for name, f := range map[string]url.Values{"mass": {"area": {"25"}}, "area": {"mass": {"0.05"}, "area": {"a palm"}}, "sd": {"mass": {"0.05"}, "area": {"25"}, "sd": {"2"}}} {
		if a := s.post(t, fmt.Sprintf("/photos/%d/weighed", first), f); a.code != 422 {
			t.Errorf("%s: status %d, %s", name, a.code, a.problem())
		}
	}
	s.post(t, fmt.Sprintf("/photos/%d/weighed", first), url.Values{"mass": {"0,05"}, "area": {"25"}, "sd": {"0,002"}, "material": {"sodium-chloride"}}).to(t)

	data, marks = panel(t, 21, grainsOn(2, 200))
	second := s.keep(t, "counted", two.Swatch, "salted", data)
	s.post(t, fmt.Sprintf("/photos/%d/salt", second), marks).to(t)
	body := string(s.see(t, fmt.Sprintf("/photos/%d/salt", second)).body)
	if !strings.Contains(body, "has not been started") {
		t.Error("before the treatment began, the page does not say so")
	}
	keep := fmt.Sprintf("/photos/%d/loading", second)
	if a := s.post(t, keep, url.Values{"client": {"k"}}); a.code != 409 {
		t.Errorf("kept before it began: status %d", a.code)
	}
	s.begin(t, "begin", two.ID).to(t)
	s.post(t, keep, url.Values{"client": {"k"}}).to(t)
	s.post(t, keep, url.Values{"client": {"k"}}).to(t) // tapped twice
	var amounts []studio.Amount
	for _, e := range s.events(t, two.ID) {
		if e.Kind == studio.Changed {
			amounts = append(amounts, *e.Amount)
			if e.Step != 1 || !strings.Contains(e.Note, "95 %") {
				t.Errorf("recorded as %+v", e)
			}
		}
	}
	// 0.05 g on 25 cm2 is 20 g/m2; twice the grains, each as large, are 40
	if len(amounts) != 1 || math.Abs(amounts[0].Value-40) > 2 || amounts[0].Unit != studio.GramPerM2 || !(amounts[0].SD > 1) {
		t.Fatalf("kept as %v", amounts)
	}
	page := string(s.see(t, fmt.Sprintf("/swatches/%d", two.Swatch)).body)
	if !strings.Contains(page, "Salt before fuming") || !strings.Contains(page, "Kept as what really went on") {
		t.Error("the swatch's page does not tell the loading")
	}
	data, _ = panel(t, 22, grainsOn(3, 50))
	if code, one := s.sendOne(t, "one-of-many", data, "swatch", id(two.Swatch), "face", "back", "moment", "salted"); code != 200 || one.Go != fmt.Sprintf("/photos/%d/salt", one.Photo) {
		t.Errorf("one of many salted faces: %d, %+v", code, one)
	}
	if a := s.post(t, fmt.Sprintf("/photos/%d/measure", second), marks); a.code != 409 {
		t.Errorf("the salt was measured as a colour: status %d", a.code)
	}
}

// TestPaintingInABrowser paints with the mouse and the keyboard and sees the
// coverage change.
func TestPaintingInABrowser(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	data, marks := panel(t, 30, spoilt)
	photo := s.keep(t, "browser", s.planned[0].Swatch, "finished", data)
	s.post(t, fmt.Sprintf("/photos/%d/measure", photo), clean(marks)).to(t)
	before := s.newest(t, photo).Coverage.Value
	for _, width := range []int{1280, 390} {
		tb := open(t, s.url, "painter", width)
		tb.visit(fmt.Sprintf("/photos/%d/paint", photo))
		tb.wait("the picture", `document.querySelector('[data-painter] img').naturalWidth > 0 && document.querySelector('[data-painter] .handle')`)
		tb.press("Take all strokes back")
		pull := func(class string, x0, y0, x1, y1 float64) {
			t.Helper()
			js[bool](tb, fmt.Sprintf(`(() => { const box = document.querySelector('[data-painter]'), r = box.querySelector('img').getBoundingClientRect();
				document.querySelector('[name=paint][value=%q]').click(); box.setPointerCapture = () => {};
				const send = (kind, u, v) => box.dispatchEvent(new PointerEvent(kind, {bubbles: true, button: 0, pointerId: 7, clientX: r.left + u * r.width, clientY: r.top + v * r.height}));
				send('pointerdown', %g, %g); for (let i = 1; i <= 20; i++) send('pointermove', %g + i / 20 * %g, %g + i / 20 * %g); send('pointerup', %g, %g); return true })()`,
				class, x0, y0, x0, x1-x0, y0, y1-y0, x1, y1))
		}
		pull("bare", 0.1, 0.15, 0.4, 0.15)
		pull("patina", 0.15, 0.7, 0.35, 0.7)
		// a dot by the keyboard, which stands on the last place painted
		js[bool](tb, `(() => { const b = document.querySelector('[data-painter] .handle'), key = (k, shiftKey) => b.dispatchEvent(new KeyboardEvent('keydown', {key: k, shiftKey, bubbles: true}));
			document.querySelector('[name=paint][value=bare]').click(); b.focus(); for (let i = 0; i < 8; i++) key('ArrowRight', true); for (let i = 0; i < 11; i++) key('ArrowUp', true); key(' '); return true })()`)
		if n := js[int](tb, `document.querySelectorAll('[data-list] li').length`); n != 3 {
			t.Fatalf("%d px: %d strokes are listed, want 3", width, n)
		}
		tb.shot("painted")
		tb.pressThrough("Judge by these examples")
		after := s.newest(t, photo)
		if after.Marks.Trained == nil || math.Abs(after.Coverage.Value-0.24) > 0.02 || after.Coverage.Value > before-0.2 {
			t.Errorf("%d px: coverage went from %.3f to %+v, want 0.24", width, before, after.Coverage)
		}
		if said := js[string](tb, `document.querySelector('.said').innerText`); !strings.Contains(said, "By your examples coverage is") {
			t.Errorf("%d px: the page says %q", width, said)
		}
		tb.shot("judged")
		s.post(t, fmt.Sprintf("/photos/%d/paint", photo), url.Values{"strokes": {"[]"}}).to(t)
	}
}
