package web_test

import (
	"fmt"
	"image"
	"image/color"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// TestEveryAnswerCarriesItsHeaders looks at pages, parts, files and refusals.
func TestEveryAnswerCarriesItsHeaders(t *testing.T) {
	s, photos := lived(t)
	for _, path := range []string{"/", "/today/board", "/sets", "/join", "/nowhere", "/static/app.css", "/export.zip",
		fmt.Sprintf("/photos/%d/original", photos[0]), fmt.Sprintf("/photos/%d/thumb.jpg", photos[0]), fmt.Sprintf("/sets/%d/labels.pdf", s.set), fmt.Sprintf("/recipes/%d/card.pdf", s.recipe)} {
		h := s.see(t, path).header
		csp := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: the content policy %q lacks %q", path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") {
			t.Errorf("%s: the content policy is open: %q", path, csp)
		}
		if got := h.Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: X-Content-Type-Options: %q", path, got)
		}
		if got := h.Get("Referrer-Policy"); got != "same-origin" {
			t.Errorf("%s: Referrer-Policy: %q", path, got)
		}
		if h.Get("Cache-Control") == "" {
			t.Errorf("%s: nothing says whether it may be kept", path)
		}
	}
}

// TestAForeignPageCannotPost: a page elsewhere, opened in the same browser,
// can send forms here; the browser says where they come from (Fetch Metadata,
// W3C; Origin, RFC 6454).
func TestAForeignPageCannotPost(t *testing.T) {
	s := stocked(t)
	tap := url.Values{"client": {"evil"}, "kind": {"began"}, "of": {fmt.Sprintf("%d:0", s.planned[0].ID)}}
	for _, path := range []string{"/taps", "/begin", "/bin", "/shelf/metals", "/phones/code", "/import", "/photos", "/example/remove", "/join", "/lightness"} {
		for _, heads := range [][]string{
			{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "http://evil.example"}, {"Origin", "null"},
			{"Sec-Fetch-Site", "cross-site", "Origin", s.url, "Accept", "application/json"},
		} {
			if a := s.post(t, path, tap, heads...); a.code != http.StatusForbidden {
				t.Errorf("POST %s with %v: status %d, want 403", path, heads, a.code)
			}
		}
	}
	if n := len(s.events(t, s.planned[0].ID)); n != 0 {
		t.Errorf("a foreign tap left %d records", n)
	}
	for _, heads := range [][]string{{"Sec-Fetch-Site", "same-origin"}, {"Sec-Fetch-Site", "none"}, {"Origin", s.url}, nil} {
		if a := s.post(t, "/lightness", url.Values{"to": {"bench"}}, heads...); a.code != http.StatusSeeOther {
			t.Errorf("POST /lightness with %v: status %d, want 303", heads, a.code)
		}
	}
}

// TestNobodyIsSentElsewhere: addresses that forms carry lead only to pages here.
func TestNobodyIsSentElsewhere(t *testing.T) {
	s := stocked(t)
	for back, want := range map[string]string{
		"//evil.example": "/", "///evil.example": "/", `/\evil.example`: "/", `\\evil.example`: "/", "https://evil.example/": "/", "javascript:alert(1)": "/",
		"evil": "/", "": "/", "/\t/evil.example": "/", "/sets": "/sets", "/swatches?by=hue": "/swatches?by=hue", "/findings/1#charts": "/findings/1#charts",
	} {
		a := s.post(t, "/lightness", url.Values{"to": {"bench"}, "back": {back}})
		if got := a.to(t); got != want {
			t.Errorf("/lightness back=%q leads to %q, want %q", back, got, want)
		}
		a = s.post(t, "/taps", url.Values{"client": {"back" + back}, "kind": {"noted"}, "note": {"x"}, "of": {fmt.Sprintf("%d:0", s.planned[0].ID)}, "back": {back}})
		if got := a.to(t); got != want {
			t.Errorf("/taps back=%q leads to %q, want %q", back, got, want)
		}
	}
	a := s.post(t, "/lightness", url.Values{"to": {"bench"}, "back": {"/sets"}})
	cookie := a.header.Get("Set-Cookie")
	if got := s.see(t, "/sets", "Cookie", strings.SplitN(cookie, ";", 2)[0]).doc(t).one("html").attr["class"]; got != "bench" {
		t.Errorf("after choosing the dark surround the page is %q", got)
	}
}

// TestThePhonesCodeReadsBack reads the drawn code with another program's reader
// (gozxing, a port of ZXing; ISO/IEC 18004) and joins with what it says.
func TestThePhonesCodeReadsBack(t *testing.T) {
	b := serve(t)
	b.web.OpenDoor("http://192.0.2.7:8737")
	doc := b.post(t, "/phones/code", url.Values{}).doc(t)
	svg := doc.one("figure.qr svg")
	if svg == nil {
		t.Fatal("there is no code on the page")
	}
	var x, y, w, h int
	if _, err := fmt.Sscanf(svg.attr["viewBox"], "%d %d %d %d", &x, &y, &w, &h); err != nil {
		t.Fatal(err)
	}
	const scale = 6
	img := image.NewGray(image.Rect(0, 0, w*scale, h*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range strings.Split(svg.one("path").attr["d"], "z") {
		if m == "" {
			continue
		}
		if _, err := fmt.Sscanf(m, "M%d %dh1v1h-1", &x, &y); err != nil {
			t.Fatalf("%q: %v", m, err)
		}
		for i := range scale * scale {
			img.SetGray(x*scale+i%scale, y*scale+i/scale, color.Gray{})
		}
	}
	bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	read, err := qrcode.NewQRCodeReader().Decode(bitmap, nil)
	if err != nil {
		t.Fatal(err)
	}
	if shown := doc.one("main strong").words(); read.GetText() != shown || !strings.HasPrefix(shown, "http://192.0.2.7:8737/join?code=") {
		t.Fatalf("the code reads %q beside %q", read.GetText(), shown)
	}
	u, err := url.Parse(read.GetText())
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest("POST", "http://192.0.2.7:8737/join", strings.NewReader(url.Values{"code": {u.Query().Get("code")}, "name": {"Ana"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.RemoteAddr = "192.0.2.9:5000"
	w2 := httptest.NewRecorder()
	b.web.ServeHTTP(w2, r)
	if w2.Code != http.StatusSeeOther || len(w2.Result().Cookies()) != 1 {
		t.Fatalf("joining with the code: status %d", w2.Code)
	}
	// on the phone, what opens the door or replaces records is refused
	for _, path := range []string{"/phones/code", "/phones/close", "/phones/1/out", "/import", "/example/remove"} {
		r := httptest.NewRequest("POST", "http://192.0.2.7:8737"+path, nil)
		r.RemoteAddr = "192.0.2.9:5000"
		r.AddCookie(w2.Result().Cookies()[0])
		w := httptest.NewRecorder()
		b.web.ServeHTTP(w, r)
		if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "on the laptop") {
			t.Errorf("POST %s from a phone: status %d, want 409", path, w.Code)
		}
	}
}
