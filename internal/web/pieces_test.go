package web_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/png"
	"math"
	"mime/multipart"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"aerugo/internal/flow/form"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// ball is a ball as binary STL: 2n meridians, n rings.
func ball(radius float64, n int) []byte {
	at := func(i, k int) [3]float64 {
		if i == n {
			return [3]float64{0, 0, -radius}
		}
		a, b := math.Pi*float64(i)/float64(n), math.Pi*float64(k%(2*n))/float64(n)
		return [3]float64{radius * math.Sin(a) * math.Cos(b), radius * math.Sin(a) * math.Sin(b), radius * math.Cos(a)}
	}
	out := make([]byte, 84)
	count := uint32(0)
	put := func(c ...[3]float64) {
		out = append(out, make([]byte, 12)...)
		for _, v := range c {
			for _, x := range v {
				out = binary.LittleEndian.AppendUint32(out, math.Float32bits(float32(x)))
			}
		}
		out = append(out, 0, 0)
		count++
	}
	for i := range n {
		for k := range 2 * n {
			if i > 0 {
				put(at(i, k), at(i+1, k), at(i, k+1))
			}
			if i < n-1 {
				put(at(i+1, k), at(i+1, k+1), at(i, k+1))
			}
		}
	}
	binary.LittleEndian.PutUint32(out[80:], count)
	return out
}

// sendPiece posts the form of a piece with a file.
func sendPiece(t testing.TB, b *bench, name string, data []byte, form url.Values) answer {
	t.Helper()
	var buf bytes.Buffer
	w := multipart.NewWriter(&buf)
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	part.Write(data) // a bytes.Buffer takes everything
	for k, vs := range form {
		for _, v := range vs {
			w.WriteField(k, v)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return send(t, request(t, "POST", b.url+"/pieces", &buf, "Content-Type", w.FormDataContentType()))
}

// typed is the form of a piece by its sizes.
func typed(kind, name string, more ...string) url.Values {
	f := url.Values{"kind": {kind}, "name": {name}, "inside": {"same"}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// keptPiece returns the piece that an answer leads to.
func keptPiece(t testing.TB, b *bench, a answer) studio.Piece {
	t.Helper()
	path, _, _ := strings.Cut(a.to(t), "?")
	var id int64
	if _, err := fmt.Sscanf(path, "/pieces/%d", &id); err != nil {
		t.Fatalf("led to %s", path)
	}
	p, err := b.store.Piece(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// lookedOver waits until a piece's page has everything on it.
func lookedOver(t testing.TB, b *bench, id int64) answer {
	t.Helper()
	for began := time.Now(); time.Since(began) < patience; {
		a := b.see(t, fmt.Sprintf("/pieces/%d", id))
		if !strings.Contains(string(a.body), "Looking the piece over") {
			return a
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the piece was never looked over")
	return answer{}
}

func pieceVisits(t *testing.T, empty, full *bench, usual *stock) []visit {
	t.Helper()
	u := usual.bench
	bowl := keptPiece(t, u, u.post(t, "/pieces", typed("dome", "Bowl", "d-diameter", "180", "d-height", "60", "metal", id(usual.metal), "outside", id(usual.version))))
	model := keptPiece(t, u, sendPiece(t, u, "ball.stl", ball(50, 20), url.Values{"kind": {"file"}, "name": {"Ball"}, "unit": {"1"}}))
	lookedOver(t, u, bowl.ID)
	lookedOver(t, u, model.ID)
	all, err := full.store.Pieces(t.Context())
	if err != nil || len(all) == 0 {
		t.Fatalf("the example has %d pieces, %v", len(all), err)
	}
	lookedOver(t, full, all[0].ID)
	of := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	return []visit{
		{"pieces", "empty", empty, "/pieces", nil, 200, "Pieces"},
		{"pieces", "usual", u, "/pieces", nil, 200, "Pieces"},
		{"pieces", "full", full, "/pieces", nil, 200, "Pieces"},
		{"piece_edit", "empty", empty, "/pieces/new", nil, 200, "Add a piece"},
		{"piece_edit", "a shape", u, "/pieces/new?kind=cuff", nil, 200, "Add a piece"},
		{"piece_edit", "a profile", u, "/pieces/new?kind=turned", nil, 200, "Add a piece"},
		{"piece_edit", "a file", u, "/pieces/new?kind=file", nil, 200, "Add a piece"},
		{"piece_edit", "a kept one", u, of("/pieces/%d/edit", bowl.ID), nil, 200, "Change Bowl"},
		{"piece_edit", "a kept file", u, of("/pieces/%d/edit", model.ID), nil, 200, "Change Ball"},
		{"piece_edit", "another shape", u, of("/pieces/%d/edit?kind=ask", model.ID), nil, 200, "Change Ball"},
		{"piece_edit", "refused", u, "/pieces", typed("dome", "", "d-diameter", "wide", "d-height", "-4"), 422, "Add a piece"},
		{"piece_edit", "a size that can't be", u, "/pieces", typed("disc", "Ring", "d-diameter", "10", "d-hole", "20"), 422, "Add a piece"},
		{"piece_edit", "no such swatch", u, "/pieces", typed("sphere", "Ball", "d-diameter", "10", "reference", "99999"), 422, "Add a piece"},
		{"piece_edit", "no file", u, "/pieces", typed("file", "Nothing"), 422, "Add a piece"},
		{"piece_edit", "no shape", u, "/pieces", typed("", "Nothing"), 422, "Add a piece"},
		{"piece", "usual", u, of("/pieces/%d", bowl.ID), nil, 200, "Bowl"},
		{"piece", "a model", u, of("/pieces/%d", model.ID), nil, 200, "Ball"},
		{"piece", "full", full, of("/pieces/%d", all[0].ID), nil, 200, all[0].Name},
		{"piece", "turned, unlucky", full, of("/pieces/%d?show=look&turn=120&luck=-100", all[0].ID), nil, 200, all[0].Name},
		{"piece", "refused", u, of("/pieces/%d/up", bowl.ID), url.Values{"up": {"sideways"}}, 422, "did not work"},
		{"piece", "not there", empty, "/pieces/1", nil, 404, "Not here"},
		{"chamber", "an inside that can't be", u, "/shelf/chambers", url.Values{"name": {"Box"}, "volume": {"20"}, "places": {"4"}, "innerlength": {"20000"}}, 422, "chamber"},
	}
}

func piecePages(t *testing.T, b *bench) []string {
	t.Helper()
	all, err := b.store.Pieces(t.Context())
	if err != nil || len(all) == 0 {
		t.Fatalf("%d pieces, %v", len(all), err)
	}
	lookedOver(t, b, all[0].ID)
	return []string{"/pieces", "/pieces/new", "/pieces/new?kind=dome", "/pieces/new?kind=turned", "/pieces/new?kind=file", fmt.Sprintf("/pieces/%d", all[0].ID), fmt.Sprintf("/pieces/%d/edit", all[0].ID)}
}

// The page shows the areas that the form package reckons, by the formulas of solid
// geometry: a hemisphere of 180 mm has 2 pi R² = 508.9 cm².
func TestPieceShowsItsAreas(t *testing.T) {
	s := stocked(t)
	p := keptPiece(t, s.bench, s.post(t, "/pieces", typed("dome", "Half a ball", "d-diameter", "180", "d-height", "90", "d-thickness", "0.8")))
	want, err := form.Dome{DiameterMM: 180, HeightMM: 90, ThickMM: 0.8}.Surfaces()
	if err != nil {
		t.Fatal(err)
	}
	if p.Form.OutsideMM2 != want.OutsideMM2 || p.Form.InsideMM2 != want.InsideMM2 || math.Abs(want.OutsideMM2-2*math.Pi*8100) > 1e-6 {
		t.Errorf("kept %v and %v, want %v and %v", p.Form.OutsideMM2, p.Form.InsideMM2, want.OutsideMM2, want.InsideMM2)
	}
	a := lookedOver(t, s.bench, p.ID)
	for _, says := range []string{"509 cm² (78.9 sq in)", "180 × 180 × 90 mm", "Standing like this, nothing pools", "no recipe yet"} {
		if !strings.Contains(a.doc(t).one("main").words(), says) {
			t.Errorf("the page does not say %q", says)
		}
	}
}

// A bowl with its opening up fills; turned over by the button on its page it does not.
func TestPieceIsTurnedOver(t *testing.T) {
	s := stocked(t)
	p := keptPiece(t, s.bench, s.post(t, "/pieces", typed("dome", "Bowl", "d-diameter", "100", "d-height", "50")))
	page := fmt.Sprintf("/pieces/%d", p.ID)
	s.post(t, page+"/up", url.Values{"up": {"0,0,-1"}}).to(t)
	// 2/3 pi R³ = 262 mL
	if a := lookedOver(t, s.bench, p.ID); !strings.Contains(a.doc(t).one("main").words(), "A pool up to 50 mm deep holds up to 26") {
		t.Errorf("no pool of 262 mL: %s", a.doc(t).one("#lies").words())
	}
	s.post(t, page+"/up", url.Values{"up": {"0,0,1"}}).to(t)
	a := lookedOver(t, s.bench, p.ID)
	if !strings.Contains(a.doc(t).one("main").words(), "Standing like this, nothing pools") {
		t.Errorf("upside down it still holds: %s", a.doc(t).one("#lies").words())
	}
	kept, err := s.store.Piece(t.Context(), p.ID)
	if err != nil || kept.Form.Up != [3]float64{0, 0, 1} || kept.Form.OutsideMM2 != p.Form.OutsideMM2 {
		t.Errorf("kept as %+v, %v", kept.Form, err)
	}
}

// A disc of 300 mm goes into a chamber 350 by 340 mm with 10 mm free all round and 20
// to spare, into 310 mm not at all; where nobody measured the inside, that is said.
func TestPieceIsTriedInEachChamber(t *testing.T) {
	s := stocked(t)
	c, err := s.store.Chamber(t.Context(), s.chamber)
	if err != nil {
		t.Fatal(err)
	}
	p := keptPiece(t, s.bench, s.post(t, "/pieces", typed("disc", "Plate", "d-diameter", "300")))
	fits := func() string {
		return lookedOver(t, s.bench, p.ID).doc(t).one("[aria-labelledby=fits-head]").words()
	}
	if !strings.Contains(fits(), "By volume only") && !strings.Contains(fits(), "can't fit") {
		t.Errorf("an unmeasured chamber: %s", fits())
	}
	for _, x := range []struct {
		l, w, h float64
		says    string
	}{{350, 340, 100, "20 mm to spare in the width"}, {310, 310, 100, "10 mm too large in the"}} {
		c.LengthMM, c.WidthMM, c.HeightMM = x.l, x.w, x.h
		if _, err := s.store.SaveChamber(t.Context(), c); err != nil {
			t.Fatal(err)
		}
		if got := fits(); !strings.Contains(got, x.says) {
			t.Errorf("%v: %s", x, got)
		}
	}
}

// Files that are none, bombs and lies are refused in a sentence, and leave nothing.
func TestHostilePieceFilesAreRefused(t *testing.T) {
	b := serve(t)
	lying := ball(5, 8)
	binary.LittleEndian.PutUint32(lying[80:], 1<<30)
	nested := []byte("<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'>" + strings.Repeat("<g>", 200_000))
	for _, x := range []struct {
		name string
		data []byte
	}{
		{"run.exe", []byte("MZ")},
		{"empty.stl", nil},
		{"lying.stl", lying},
		{"cut.stl", ball(5, 8)[:300]},
		{"laughs.svg", []byte(`<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><text>&b;</text></svg>`)},
		{"script.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><script>alert(1)</script><path d="M1 1h5v5z"/></svg>`)},
		{"deep.svg", nested},
		{"not.3mf", []byte("PK\x03\x04 no zip at all")},
		{"far.obj", []byte("v 1e30 0 0\nv 0 1e30 0\nv 0 0 1e30\nf 1 2 3\n")},
		{"nan.obj", []byte("v nan 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\n")},
		{"../../../etc/passwd", []byte("root")},
	} {
		a := sendPiece(t, b, x.name, x.data, url.Values{"kind": {"file"}, "name": {"Bad"}, "unit": {"1"}})
		if a.code != http.StatusUnprocessableEntity || a.doc(t).one("[aria-invalid], .problem") == nil {
			t.Errorf("%s: status %d", x.name, a.code)
		}
	}
	all, err := b.store.Pieces(t.Context())
	if err != nil || len(all) != 0 {
		t.Errorf("%d pieces were kept, %v", len(all), err)
	}
	left, err := filepath.Glob(filepath.Join(b.store.Dir(), "pieces", "*", "*"))
	if err != nil || len(left) != 0 {
		t.Errorf("files are left: %v, %v", left, err)
	}
}

// What is wrong with a file that can be used is said on its page, and the file comes
// back byte for byte, never to be shown as a page.
func TestPieceFileComesBackAsSent(t *testing.T) {
	b := serve(t)
	open := []byte("v 0 0 0\nv 40 0 0\nv 40 30 0\nv 0 30 0\nf 1 2 3 4\n")
	p := keptPiece(t, b, sendPiece(t, b, `C:\my "plate".obj`, open, url.Values{"kind": {"file"}, "name": {"Plate"}}))
	a := lookedOver(t, b, p.ID)
	if words := a.doc(t).one("main").words(); !strings.Contains(words, "open edges") || !strings.Contains(words, "does not say how long its unit is") || !strings.Contains(words, "12 cm²") {
		t.Errorf("its page says %s", words)
	}
	f := b.see(t, fmt.Sprintf("/pieces/%d/file", p.ID))
	if string(f.body) != string(open) || !strings.Contains(f.header.Get("Content-Disposition"), "attachment") || !strings.Contains(f.header.Get("Content-Security-Policy"), "sandbox") {
		t.Errorf("%q, %v", f.body, f.header)
	}
	// its scale is put right without sending it again
	s := b.post(t, "/pieces", url.Values{"id": {id(p.ID)}, "kind": {"file"}, "name": {"Plate"}, "d-longest": {"80"}})
	if now := keptPiece(t, b, s); math.Abs(now.Form.OutsideMM2-80*60) > 0.01 || now.Form.SHA256 != p.Form.SHA256 || now.Form.FileName != p.Form.FileName {
		t.Errorf("now %+v", now.Form)
	}
	if a := b.see(t, "/pieces/1/picture.png?size=small&up=0,0,1"); a.code != 200 {
		t.Errorf("its picture: %d", a.code)
	}
}

// The example's lamp: a guess from its swatches is marked as one, and the picture that
// the server draws has the colours that the page's own renderer is given.
func TestGuessIsMarkedAndShownInItsColours(t *testing.T) {
	t.Parallel()
	b := serve(t)
	filled(t, b)
	all, err := b.store.Pieces(t.Context())
	if err != nil || len(all) == 0 {
		t.Fatal(err)
	}
	page := fmt.Sprintf("/pieces/%d", all[0].ID)
	words := lookedOver(t, b, all[0].ID).doc(t).one("main").words()
	if !strings.Contains(words, "A guess from") || !strings.Contains(words, "nine times in ten") {
		t.Fatalf("the guess is not marked: %s", words)
	}
	look := b.see(t, page+"/look", "Accept", "application/json")
	if !strings.Contains(string(look.body), `"colours":[["#`) {
		t.Fatalf("no colours: %.200s", look.body)
	}
	seen := map[string]colour.Lab{}
	for _, luck := range []string{"-100", "0", "100"} {
		a := b.see(t, page+"/picture.png?show=look&luck="+luck)
		img, err := png.Decode(bytes.NewReader(a.body))
		if err != nil {
			t.Fatal(err)
		}
		var r, g, bl, n float64
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if cr, cg, cb, ca := img.At(x, y).RGBA(); ca == 0xffff {
					r, g, bl, n = r+float64(cr), g+float64(cg), bl+float64(cb), n+1
				}
			}
		}
		if n < 10_000 {
			t.Fatalf("luck %s: %v pixels are painted", luck, n)
		}
		seen[luck] = colour.SRGB.Lab(r/n/0xffff, g/n/0xffff, bl/n/0xffff)
	}
	if colour.Difference(seen["-100"], seen["0"]) < 2 || colour.Difference(seen["100"], seen["0"]) < 2 || colour.Difference(seen["100"], seen["-100"]) < 4 {
		t.Errorf("the slider moves little: %v", seen)
	}
}

// In the browser: a model of a ball of 100 mm is sent, and pi D² = 314 cm² stands on its
// page; it is turned by key, by button and by finger.
func TestBallIsSentAndTurnedInTheBrowser(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	tb := open(t, s.url, "piece", 1280)
	tb.visit("/pieces/new")
	tb.press("Drawing or model")
	tb.wait("the form", `!!document.querySelector('input[name=file]')`)
	tb.attach("file", "ball.stl", ball(50, 60))
	tb.fill("name", "Ball")
	tb.choose("unit", "mm")
	tb.pressThrough("Keep")
	tb.wait("the area", `document.querySelector('main').innerText.includes('314 cm²')`)
	tb.wait("how it lies", `!!document.getElementById('lies')`)
	tb.wait("a picture", `!!document.querySelector('form.viewer').dataset.drawn`)
	before := js[string](tb, `document.querySelector('.viewer [name=turn]').value`)
	js[bool](tb, `(() => { const c = document.querySelector('.viewer canvas'); c.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', bubbles: true, cancelable: true})); return true })()`)
	tb.press("↷")
	tb.wait("the turn", fmt.Sprintf(`document.querySelector('.viewer [name=turn]').value !== %q`, before))
	tb.noSideways()
	tb.shot("ball")
}
