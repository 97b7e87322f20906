package web_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"io"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"aerugo/internal/demo"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// photoForm is a photograph's form as the page sends it.
func photoForm(client string, swatch int64, more ...string) url.Values {
	f := url.Values{"client": {client}, "swatch": {id(swatch)}, "face": {"front"}, "moment": {"finished"}, "taken": {""}, "note": {"by the window"}}
	for i := 0; i+1 < len(more); i += 2 {
		f.Set(more[i], more[i+1])
	}
	return f
}

// grey returns an ordinary JPEG.
func grey(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	for i := range img.Pix {
		img.Pix[i] = byte(i*7 + i/1280*13)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, nil); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// claimed is a PNG that says it has another size (PNG, third edition, 11.2.1).
func claimed(data []byte, w, h uint32) []byte {
	b := slices.Clone(data)
	binary.BigEndian.PutUint32(b[16:], w)
	binary.BigEndian.PutUint32(b[20:], h)
	binary.BigEndian.PutUint32(b[29:], crc32.ChecksumIEEE(b[12:29]))
	return b
}

// animated is a WebP that says it moves: the animation bit of its VP8X chunk and
// an ANIM chunk (RFC 9649, 2.7.1).
func animated(still []byte) []byte {
	head := append([]byte("VP8X\x0a\x00\x00\x00"), 0x02, 0, 0, 0, 159, 0, 0, 119, 0, 0)
	head = append(head, "ANIM\x06\x00\x00\x00\x00\x00\x00\x00\x00\x00"...)
	b := slices.Concat([]byte("RIFF\x00\x00\x00\x00WEBP"), head, still[12:])
	binary.LittleEndian.PutUint32(b[4:], uint32(len(b)-8))
	return b
}

func moving(t *testing.T) []byte {
	t.Helper()
	frame := image.NewPaletted(image.Rect(0, 0, 40, 30), color.Palette{color.Black, color.White})
	var buf bytes.Buffer
	if err := gif.EncodeAll(&buf, &gif.GIF{Image: []*image.Paletted{frame, frame}, Delay: []int{10, 10}}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// TestARefusedPhotographLeavesNothing: each is refused with its reason beside
// its field, what was typed comes back, and the folder stays as it was.
func TestARefusedPhotographLeavesNothing(t *testing.T) {
	s := stocked(t)
	swatch := s.planned[0].Swatch
	good := grey(t)
	tomorrow, _, _ := demo.Sample(swatch, studio.Front, 0, s.now().AddDate(0, 0, 1)) // by its camera's clock
	damaged := file(t, "p8_srgb.png")                                                // its head is right, its pixels are not
	for i := len(damaged) - 120; i < len(damaged)-40; i++ {
		damaged[i] ^= 0x5a
	}
	kept, _ := s.photograph(t, s.blank, studio.Front, 2)
	files := s.files(t)
	for _, c := range []struct {
		name  string
		data  []byte
		form  url.Values
		field string
		says  []string
	}{
		{"no swatch", good, photoForm("a", swatch, "swatch", ""), "swatch", []string{"number on the swatch's label"}},
		{"an unknown swatch", good, photoForm("b", 4711), "swatch", []string{"4711", "label"}},
		{"words for the swatch", good, photoForm("c", swatch, "swatch", "the blue one"), "swatch", []string{`"the blue one"`}},
		{"taken tomorrow", good, photoForm("d", swatch, "taken", s.now().AddDate(0, 0, 1).Local().Format("2006-01-02T15:04")), "taken", []string{"future", "write when"}},
		{"a camera's clock a day fast", tomorrow, photoForm("d2", swatch), "taken", []string{"future", "camera's clock"}},
		{"taken some day", good, photoForm("e", swatch, "taken", "in spring"), "taken", []string{`"in spring"`, "choose a day"}},
		{"taken before cameras", good, photoForm("f", swatch, "taken", "1812-01-01T10:00"), "taken", []string{"1812"}},
		{"an empty file", nil, photoForm("g", swatch), "photo", []string{"empty"}},
		{"a JPEG that breaks off", good[:len(good)/2], photoForm("h", swatch), "photo", []string{"breaks off"}},
		{"a JPEG of printing inks", file(t, "p8_cmyk.jpg"), photoForm("i", swatch), "photo", []string{"CMYK", "JPEG"}},
		{"a GIF", moving(t), photoForm("j", swatch), "photo", []string{"GIF", "JPEG"}},
		{"a moving WebP", animated(file(t, "p8_lossless.webp")), photoForm("k", swatch), "photo", []string{"animated WebP", "still"}},
		{"words called .jpg", []byte("Dear diary, today it turned blue.\n"), photoForm("l", swatch), "photo", []string{"JPEG"}},
		{"a page called .jpg", []byte("<!doctype html><script>alert(1)</script>"), photoForm("m", swatch), "photo", []string{"JPEG"}},
		{"a PNG of 12000 x 9000", claimed(file(t, "p8_srgb.png"), 12000, 9000), photoForm("n", swatch), "photo", []string{"12000", "9000", "60"}},
		{"a PNG of no size", claimed(file(t, "p8_srgb.png"), 0, 9000), photoForm("o", swatch), "photo", []string{"no size"}},
		{"a PNG that breaks off", file(t, "p8_srgb.png")[:300], photoForm("p", swatch), "photo", nil},
		{"a PNG damaged within", damaged, photoForm("p2", swatch), "photo", []string{"Send"}},
		{"a JPEG cut and closed", slices.Concat(good[:len(good)/2], []byte{0xff, 0xd9}), photoForm("p3", swatch), "photo", []string{"Send"}},
		{"no face", good, photoForm("q", swatch, "face", ""), "", []string{"which face"}},
		{"a third face", good, photoForm("r", swatch, "face", "edge"), "", []string{"which face"}},
		{"no moment", good, photoForm("s", swatch, "moment", "once"), "", []string{"what it shows"}},
	} {
		a := s.upload(t, "/photos", "photo", c.data, c.form)
		if a.code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d, want 422: %s", c.name, a.code, a.problem())
			continue
		}
		doc := a.doc(t)
		holdPage(t, c.name, doc)
		form := doc.one("main form[action='/photos']")
		said := form.one(".problem").words()
		if c.field != "" {
			control := form.one("[name='" + c.field + "']")
			if control.attr["aria-invalid"] != "true" {
				t.Errorf("%s: the field %s is not marked as invalid", c.name, c.field)
			}
			said = control.within("label").one(".wrong").words()
		}
		if said == "" {
			t.Errorf("%s: nothing is said where it belongs: %q", c.name, a.problem())
		}
		for _, w := range c.says {
			if !strings.Contains(said, w) {
				t.Errorf("%s: %q does not say %q", c.name, said, w)
			}
		}
		back := submitted(form)
		for _, name := range []string{"swatch", "note", "taken", "face", "moment"} {
			known := name != "face" && name != "moment" || c.field != ""
			if known && back.Get(name) != c.form.Get(name) {
				t.Errorf("%s: %s was %q and came back as %q", c.name, name, c.form.Get(name), back.Get(name))
			}
		}
		if back.Get("client") == "" {
			t.Errorf("%s: the form came back without a key", c.name)
		}
		// the same for a script
		data := s.upload(t, "/photos", "photo", c.data, c.form, "Accept", "application/json")
		var told struct{ Problem, Field string }
		if err := json.Unmarshal(data.body, &told); err != nil || data.code != 422 || told.Problem == "" || told.Field != c.field {
			t.Errorf("%s as JSON: status %d: %s (%v)", c.name, data.code, data.body, err)
		}
	}
	for name, a := range map[string]answer{
		"not a form of parts":    s.post(t, "/photos", photoForm("t", swatch)),
		"a form that breaks off": send(t, request(t, "POST", s.url+"/photos", strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a\"\r\n\r\nabc"), "Content-Type", "multipart/form-data; boundary=x")),
	} {
		if a.code != 422 || a.problem() == "" {
			t.Errorf("%s: status %d: %s", name, a.code, a.problem())
		}
	}
	if now := s.files(t); !slices.Equal(now, files) {
		t.Errorf("the photographs' folder held %v and holds %v", files, now)
	}
	if p, err := s.store.Photo(t.Context(), kept); err != nil || p.Swatch != s.blank {
		t.Errorf("the photograph that was there: %+v, %v", p, err)
	}
	photos, err := s.store.PhotosOf(t.Context(), swatch)
	if err != nil || len(photos) != 0 {
		t.Errorf("refused photographs left %d entries (%v)", len(photos), err)
	}
}

// endless gives out zeros for ever, and counts them.
type endless struct{ given int64 }

func (e *endless) Read(p []byte) (int, error) {
	clear(p)
	e.given += int64(len(p))
	return len(p), nil
}

// TestAPhotographOfTooManyBytesIsRefused sends more than 80 MB, in the file and
// in another field; the server stops reading and keeps nothing.
func TestAPhotographOfTooManyBytesIsRefused(t *testing.T) {
	s := stocked(t)
	files := s.files(t)
	for field, most := range map[string]int64{"photo": 90 << 20, "note": 1 << 20} {
		var head bytes.Buffer
		w := multipart.NewWriter(&head)
		if err := w.WriteField("swatch", id(s.blank)); err != nil {
			t.Fatal(err)
		}
		if _, err := w.CreateFormFile(field, "IMG.jpg"); err != nil {
			t.Fatal(err)
		}
		rest := &endless{}
		r := httptest.NewRequest("POST", "http://127.0.0.1/photos", io.MultiReader(&head, rest))
		r.RemoteAddr = "127.0.0.1:5000"
		r.Header.Set("Content-Type", w.FormDataContentType())
		rec := httptest.NewRecorder()
		s.web.ServeHTTP(rec, r)
		a := answer{"POST /photos", rec.Code, rec.Header(), rec.Body.Bytes()}
		if a.code != 422 && a.code != 413 {
			t.Errorf("too much in %s: status %d", field, a.code)
		}
		if field == "photo" && !strings.Contains(a.problem(), "80 MB") {
			t.Errorf("too much in %s: %q does not name the limit", field, a.problem())
		}
		if a.problem() == "" || rest.given > most {
			t.Errorf("too much in %s: %q after %d bytes were read", field, a.problem(), rest.given)
		}
		holdPage(t, "too large", a.doc(t))
	}
	if now := s.files(t); !slices.Equal(now, files) {
		t.Errorf("the photographs' folder held %v and holds %v", files, now)
	}
}

// TestAPhotographSentTwiceIsKeptOnce: again by its key, and again as the same
// picture of the same face.
func TestAPhotographSentTwiceIsKeptOnce(t *testing.T) {
	s := stocked(t)
	swatch, good := s.planned[0].Swatch, grey(t)
	var to []string
	for _, key := range []string{"one", "one", "two"} {
		to = append(to, s.upload(t, "/photos", "photo", good, photoForm(key, swatch)).to(t))
	}
	if to[0] != to[1] || to[0] != to[2] {
		t.Errorf("the same photograph leads to %v", to)
	}
	if n := len(s.files(t)); n != 1 {
		t.Errorf("%d files were kept", n)
	}
	// another picture under the same key is not quietly dropped
	other, _ := sample(s.blank, studio.Front, 2)
	if a := s.upload(t, "/photos", "photo", other, photoForm("one", swatch)); a.code != 409 || !strings.Contains(a.problem(), "same key") {
		t.Errorf("another picture under the same key: status %d: %s", a.code, a.problem())
	}
	// filed elsewhere, the file stays and the record says so
	photos, err := s.store.PhotosOf(t.Context(), swatch)
	if err != nil || len(photos) != 1 {
		t.Fatal(photos, err)
	}
	s.post(t, fmt.Sprintf("/photos/%d/file", photos[0].ID), url.Values{"swatch": {id(s.blank)}, "face": {"back"}, "moment": {"bare"}}).to(t)
	p, err := s.store.Photo(t.Context(), photos[0].ID)
	if err != nil || p.Swatch != s.blank || p.Face != studio.Back || p.Moment != studio.Bare || p.SHA256 != photos[0].SHA256 {
		t.Errorf("filed elsewhere it is %+v, %v", p, err)
	}
	for name, f := range map[string]url.Values{
		"an unknown swatch": {"swatch": {"4711"}, "face": {"front"}, "moment": {"bare"}},
		"words":             {"swatch": {"x"}, "face": {"front"}, "moment": {"bare"}},
		"no face":           {"swatch": {id(s.blank)}, "moment": {"bare"}},
	} {
		if a := s.post(t, fmt.Sprintf("/photos/%d/file", p.ID), f); a.code != 404 && a.code != 422 {
			t.Errorf("filed under %s: status %d", name, a.code)
		}
	}
}

// TestWhereItWasTakenIsRemoved: testdata/place_all.jpg carries an invented place
// in EXIF, XMP and IPTC, written by exiftool 12.57. What comes back has none,
// and the same picture to the pixel.
func TestWhereItWasTakenIsRemoved(t *testing.T) {
	s := stocked(t)
	sent := file(t, "place_all.jpg")
	was, err := picture.Inspect(sent)
	if err != nil || !was.GPS {
		t.Fatalf("the test's picture has no place: %+v, %v", was, err)
	}
	to := s.upload(t, "/photos", "photo", sent, photoForm("gps", s.blank)).to(t)
	path := strings.TrimSuffix(to, "/mark")
	a := s.see(t, path+"/original")
	if a.code != 200 || a.header.Get("Content-Type") != "image/jpeg" || !strings.Contains(a.header.Get("Content-Disposition"), "attachment") {
		t.Errorf("status %d, %v", a.code, a.header)
	}
	is, err := picture.Inspect(a.body)
	if err != nil {
		t.Fatal(err)
	}
	if is.GPS {
		t.Error("the place is still in the file as kept")
	}
	was.GPS = false
	if fmt.Sprintf("%+v", is) != fmt.Sprintf("%+v", was) {
		t.Errorf("besides the place it was\n%+v and is\n%+v", was, is)
	}
	before, err := jpeg.Decode(bytes.NewReader(sent))
	if err != nil {
		t.Fatal(err)
	}
	after, err := jpeg.Decode(bytes.NewReader(a.body))
	if err != nil {
		t.Fatal(err)
	}
	if before.Bounds() != after.Bounds() {
		t.Fatalf("%v became %v", before.Bounds(), after.Bounds())
	}
	for y := range before.Bounds().Dy() {
		for x := range before.Bounds().Dx() {
			if before.At(x, y) != after.At(x, y) {
				t.Fatalf("the pixel %d, %d changed", x, y)
			}
		}
	}
	if text := s.see(t, path).doc(t).one("main").words(); !strings.Contains(text, "GPS was in the file and has been removed") {
		t.Error("the page does not say that the place was removed")
	}
	for _, made := range []string{"preview", "face", "thumb"} {
		b := s.see(t, path+"/"+made+".jpg")
		if info, err := picture.Inspect(b.body); err != nil || info.GPS {
			t.Errorf("%s.jpg: %+v, %v", made, info, err)
		}
		if again := s.see(t, path+"/"+made+".jpg", "If-None-Match", b.header.Get("ETag")); again.code != http.StatusNotModified || len(again.body) != 0 {
			t.Errorf("%s.jpg asked for again: status %d, %d bytes", made, again.code, len(again.body))
		}
	}
	if a := s.see(t, path+"/secret.jpg"); a.code != 404 {
		t.Errorf("a picture that is not made: status %d", a.code)
	}
}

// TestAnUncalibratedPhotographGivesNoDifference: three faces, one without its
// grey card. The pairs with it show no ΔE00 and say why; the two others do; the
// set's findings count them alone.
func TestAnUncalibratedPhotographGivesNoDifference(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	var photos []int64
	for i, x := range s.planned[:3] {
		photo, marks := s.photograph(t, x.Swatch, studio.Front, i)
		s.post(t, fmt.Sprintf("/photos/%d/measure", photo), marksForm(marks, i != 1)).to(t)
		photos = append(photos, photo)
	}
	page := s.see(t, fmt.Sprintf("/compare?p=%d&p=%d&p=%d", photos[0], photos[1], photos[2])).doc(t)
	rows := page.all("table tr")
	if len(rows) != 4 { // a head and three pairs
		t.Fatalf("%d rows", len(rows))
	}
	bad := fmt.Sprintf("%d front", s.planned[1].Swatch)
	numbers := 0
	for _, row := range rows[1:] {
		cells := row.all("td")
		between, delta, words := cells[0].words(), cells[1].words(), cells[2].words()
		if strings.Contains(between, bad) {
			if delta != "–" || !strings.Contains(words, "no grey patch") || !strings.Contains(words, "No difference is given") || strings.Contains(words, "ΔE00") {
				t.Errorf("%s: ΔE00 %q: %q", between, delta, words)
			}
			continue
		}
		numbers++
		var de float64
		if n, err := fmt.Sscanf(delta, "%g", &de); n != 1 || err != nil || math.IsNaN(de) || !strings.Contains(words, "give or take") {
			t.Errorf("%s: ΔE00 %q: %q", between, delta, words)
		}
	}
	if numbers != 1 {
		t.Errorf("%d pairs have a difference, want 1", numbers)
	}
	if got := page.all(".tag"); len(got) != 1 || got[0].words() != "uncalibrated" {
		t.Errorf("%d faces are marked as uncalibrated, want 1", len(got))
	}
	if notes := page.one("main").words(); !strings.Contains(notes, "can't be compared in numbers") {
		t.Error("the page does not say what to do about it")
	}
	// the set's finding: the level of the uncalibrated face has one face fewer
	finding := s.see(t, fmt.Sprintf("/findings/%d", s.set)).doc(t)
	text := finding.one("main").words()
	if !strings.Contains(text, "grey patch") || !strings.Contains(text, "left out") {
		t.Errorf("the findings don't say that a photograph is left out: %.600s", text)
	}
	// measured again with its card, it counts
	_, marks := sample(s.planned[1].Swatch, studio.Front, 1)
	s.post(t, fmt.Sprintf("/photos/%d/measure", photos[1]), marksForm(marks, true)).to(t)
	page = s.see(t, fmt.Sprintf("/compare?p=%d&p=%d", photos[0], photos[1])).doc(t)
	if got := page.all("table td")[1].words(); got == "–" {
		t.Error("measured with its grey card it still has no difference")
	}
	if again := s.see(t, fmt.Sprintf("/findings/%d", s.set)).doc(t).one("main").words(); strings.Contains(again, "left out") {
		t.Error("the findings still leave a photograph out")
	}
	if text := s.see(t, fmt.Sprintf("/photos/%d", photos[1])).doc(t).one("main").words(); !strings.Contains(text, "Earlier readings") {
		t.Error("the first reading is gone")
	} else if !strings.Contains(text, "SurfaceShare") || !strings.Contains(text, "bare: ") {
		t.Error("the page does not tell the classes of the surface and their rule")
	}
}
