package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"mime"
	"net/http"
	"net/url"
	"path"
	"reflect"
	"regexp"
	"strings"
	"sync"
	"time"

	"aerugo/internal/flow/plan"
	"aerugo/internal/fonts"
	"aerugo/internal/language"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

//go:embed pages/*.html
var pageFiles embed.FS

//go:embed static
var staticFiles embed.FS

// Frame is what every page has round its own matter.
type Frame struct {
	Title    string
	Room     string // which entry of the menu is lit
	Bench    bool   // dark surround; else the light table
	Invented bool   // the studio holds example data
	Phone    bool   // shown on a device that joined, not on the laptop
	Who      string
	Now      time.Time
	Work     string // long work under way, in words; empty if none
	WorkDone int
	WorkAll  int
	CanStop  bool
	Said     string // what the last action did, in one sentence
	Door     bool   // not let in yet: no menu
	Seat     string // on a student's phone, who sits there; empty elsewhere
	Path     string
	Edition  string // the version of the studio this page was made from, as /live counts them
	// Languages are those to choose from, none if there is but English
	Languages []*language.Language
}

// frame fills a page's Frame.
func (s *Server) frame(r *http.Request, title, room string) Frame {
	if x, ok := r.Context().Value(seatKey{}).(studio.Seat); ok {
		return s.seatFrame(r, title, x)
	}
	f := Frame{Title: title, Room: room, Now: s.now(), Path: r.URL.RequestURI(), Edition: editionOf(r), Languages: s.tongues.choice(), Said: r.URL.Query().Get("said")}
	if c, err := r.Cookie("aerugo_lightness"); err == nil && c.Value == "bench" {
		f.Bench = true
	}
	if d, ok := s.device(r); ok {
		f.Phone, f.Who = true, d.Name
	}
	if has, err := s.store.HasInvented(r.Context()); err == nil {
		f.Invented = has
	}
	s.work.mu.Lock()
	f.Work, f.WorkDone, f.WorkAll, f.CanStop = s.work.what, s.work.done, s.work.total, s.work.stop != nil
	s.work.mu.Unlock()
	return f
}

// doorFrame is the Frame of pages shown to those not let in: it tells them
// nothing about the studio.
func (s *Server) doorFrame(r *http.Request) Frame {
	f := Frame{Title: "Join this studio", Now: s.now(), Door: true, Path: "/join", Languages: s.tongues.choice()}
	if c, err := r.Cookie("aerugo_lightness"); err == nil && c.Value == "bench" {
		f.Bench = true
	}
	return f
}

type pages struct {
	byName map[string]*template.Template
}

// layout names the files every page is parsed with.
var layout = []string{"pages/layout.html", "pages/parts.html"}

// loadPages parses the pages, once for all studios served by one program.
var loadPages = sync.OnceValues(func() (*pages, error) {
	entries, err := pageFiles.ReadDir("pages")
	if err != nil {
		return nil, err
	}
	p := &pages{byName: map[string]*template.Template{}}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), ".html")
		if name == "layout" || name == "parts" {
			continue
		}
		t, err := template.New("layout.html").Funcs(functions).ParseFS(pageFiles, append(layout[:2:2], "pages/"+e.Name())...)
		if err != nil {
			return nil, err
		}
		p.byName[name] = t
	}
	return p, nil
})

// render fills a page in l into memory, so that a broken one is never half sent.
// block is "layout.html" for the whole page, or the name of one part of it.
func (t *tongues) render(l *language.Language, name, block string, data any) ([]byte, error) {
	p, err := t.page(name, l)
	if err != nil {
		return nil, err
	}
	return fill(p, name, block, data)
}

// render fills a page in English.
func (p *pages) render(name, block string, data any) ([]byte, error) {
	t, ok := p.byName[name]
	if !ok {
		return nil, fmt.Errorf("there is no page %q", name)
	}
	return fill(t, name, block, data)
}

func fill(t *template.Template, name, block string, data any) ([]byte, error) {
	var buf bytes.Buffer
	if err := t.ExecuteTemplate(&buf, block, data); err != nil {
		return nil, fmt.Errorf("fill page %s: %w", name, err)
	}
	return buf.Bytes(), nil
}

// show sends a page.
func (s *Server) show(w http.ResponseWriter, code int, name string, data any) {
	b, err := s.tongues.render(spokenTo(w), name, "layout.html", data)
	if err != nil {
		s.log.Error("page not filled", "page", name, "err", err)
		http.Error(w, "Aerugo could not draw this page; its own record of why is in the window it was started from.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_, _ = w.Write(b) // the reader may have gone; nothing is lost
}

// part sends one block of a page, for scripts that refresh it in place.
func (s *Server) part(w http.ResponseWriter, name, block string, data any) error {
	b, err := s.tongues.render(spokenTo(w), name, block, data)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b)
	return nil
}

// functions are what templates may call.
var functions = template.FuncMap{
	"span":       studio.Span,
	"age":        ageWords,
	"local":      localTime,
	"day":        localDay,
	"clock":      localClock,
	"iso":        func(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") },
	"ms":         func(t time.Time) int64 { return t.UnixMilli() },
	"num":        number,
	"seen":       seenWords,
	"pct":        func(f float64) string { return number(f*100, 0) + " %" },
	"chip":       chip,
	"cite":       cite,
	"marked":     markAssumed,
	"chipBig":    chipBig,
	"paletteBar": paletteBar,
	"key":        func() string { return random(12) },
	"add":        func(a, b int) int { return a + b },
	"join":       strings.Join,
	"labL":       func(l colour.Lab) string { return number(l.L, 1) },
	"code":       studio.Code,
	"grams":      plan.Grams,
	"kb":         func(n int64) string { return number(float64(n)/1000, 0) + " kB" },
	"faces":      facesWord,
	"cap":        capitalOf,
	"dict":       dict,
	"times":      func(a, b float64) float64 { return a * b },
	"own":        func(v any) any { return v }, // a person's words, the same in every language
	"say":        func(v any) any { return v }, // what stands in no spoken place, in the language of the page
	"lang":       func() string { return language.English.Tag },
	"isZero":     func(t time.Time) bool { return t.IsZero() },
	"minutes": func(d time.Duration) string {
		if d == 0 {
			return ""
		}
		return number(d.Minutes(), 1)
	},
}

// dict builds a map for handing several values to a part.
func dict(kv ...any) (map[string]any, error) {
	if len(kv)%2 != 0 {
		return nil, fmt.Errorf("dict needs pairs, got %d values", len(kv))
	}
	m := map[string]any{}
	for i := 0; i < len(kv); i += 2 {
		k, ok := kv[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict key %v is not text", kv[i])
		}
		m[k] = kv[i+1]
	}
	return m, nil
}

// number writes v with the given decimals and a true minus sign; trailing
// zeros after the point go.
func number(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	t := fmt.Sprintf("%.*f", decimals, v)
	if strings.Contains(t, ".") {
		t = strings.TrimRight(strings.TrimRight(t, "0"), ".")
	}
	if t == "-0" {
		t = "0"
	}
	return strings.Replace(t, "-", "−", 1)
}

func localTime(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.Local().Format("2 Jan 2006, 15:04")
}

func localDay(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.Local().Format("2 Jan 2006")
}

func localClock(t time.Time) string { return t.Local().Format("15:04") }

func facesWord(f studio.Faces) string {
	if f == studio.OnBoth {
		return "both faces"
	}
	return string(f)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}

// capitalOf is capital for templates: it keeps the type of a word, by which
// another language knows which sense it has.
func capitalOf(word any) any {
	v := reflect.ValueOf(word)
	if v.Kind() != reflect.String {
		return word
	}
	return reflect.ValueOf(capital(v.String())).Convert(v.Type()).Interface()
}

// chip draws a measured colour as the screen can show it. It is an SVG so that
// no style attribute is needed; a colour the screen can't show gets a mark and
// says so.
func chip(lab colour.Lab) template.HTML {
	hexColour, in := colour.ToScreen(lab)
	mark, words := "", ""
	if !in {
		mark = `<path d="M14 2 L22 2 L22 10 Z" fill="#fff" stroke="#000" stroke-width=".8"/>`
		words = "; more colourful than this screen can show"
	}
	return template.HTML(fmt.Sprintf(`<svg class="chip" viewBox="0 0 24 24" role="img" aria-label="L* %.0f, a* %.0f, b* %.0f%s"><rect width="24" height="24" fill="%s"/>%s</svg>`,
		lab.L, lab.A, lab.B, words, hexColour, mark))
}

// cite writes a source with its standing; what was read in the source needs no
// further word.
func cite(source, standing string) string {
	switch {
	case source == "" && standing == "read in source":
		return ""
	case source == "":
		return standing
	case standing == "" || standing == "read in source":
		return source
	}
	return source + "; " + standing
}

// assumedPart is an amount nobody has weighed, as Amount writes it.
var assumedPart = regexp.MustCompile(`[^,;]*\(assumed\)`)

// markAssumed sets what is assumed in italics, as everywhere on the pages.
func markAssumed(text string) template.HTML {
	escaped := template.HTMLEscapeString(text)
	return template.HTML(assumedPart.ReplaceAllString(escaped, `<em class="assumed">$0</em>`))
}

// chipBig is a chip as wide as its place.
func chipBig(lab colour.Lab) template.HTML {
	return template.HTML(strings.Replace(string(chip(lab)), `class="chip"`, `class="chip big"`, 1))
}

// paletteBar draws the colours of a face as wide as their shares.
func paletteBar(palette []studio.PaletteEntry) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg viewBox="0 0 1000 40" preserveAspectRatio="none" aria-hidden="true">`)
	x := 0.0
	for _, p := range palette {
		hexColour, _ := colour.ToScreen(p.Lab)
		fmt.Fprintf(&b, `<rect x="%.1f" width="%.1f" height="40" fill="%s"/>`, x, p.Share*1000+.5, hexColour)
		x += p.Share * 1000
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// static serves the files every page uses, with an entity tag of their content.
func (s *Server) static() http.Handler {
	type file struct {
		data      []byte
		tag, kind string
	}
	files := map[string]file{}
	put := func(name string, data []byte) {
		h := sha256.Sum256(data)
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) {
		case ".woff2":
			kind = "font/woff2"
		case ".js":
			kind = "text/javascript; charset=utf-8"
		}
		files["/static/"+name] = file{data, `"` + hex.EncodeToString(h[:8]) + `"`, kind}
	}
	entries, _ := staticFiles.ReadDir("static")
	for _, e := range entries {
		b, err := staticFiles.ReadFile("static/" + e.Name())
		if err == nil {
			put(e.Name(), b)
		}
	}
	put("latin.woff2", fonts.Latin)
	put("latin-ext.woff2", fonts.LatinExt)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, ok := files[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", f.kind)
		w.Header().Set("ETag", f.tag)
		w.Header().Set("Cache-Control", "no-cache")
		if r.Header.Get("If-None-Match") == f.tag {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		_, _ = w.Write(f.data)
	})
}

// wantsJSON reports whether the request came from a script that reads JSON.
func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

func writeJSON(w http.ResponseWriter, code int, v any) {
	if m, ok := v.(map[string]any); ok {
		if text, ok := m["problem"].(string); ok {
			m["problem"] = spokenTo(w).Say(text)
		}
	}
	b, err := json.Marshal(said(spokenTo(w), v))
	if err != nil {
		http.Error(w, "{}", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(code)
	_, _ = w.Write(b)
}

// back answers a form: a script gets {"ok":true}, a browser is sent to path.
func back(w http.ResponseWriter, r *http.Request, path string) error {
	if wantsJSON(r) {
		writeJSON(w, http.StatusOK, map[string]any{"ok": true, "go": path})
		return nil
	}
	http.Redirect(w, r, path, http.StatusSeeOther)
	return nil
}

// backSaying sends the browser to path, which will show one sentence.
func backSaying(w http.ResponseWriter, r *http.Request, path, said string) error {
	sep := "?"
	if strings.Contains(path, "?") {
		sep = "&"
	}
	return back(w, r, path+sep+"said="+url.QueryEscape(said))
}

// setLightness is POST /lightness: 'bench' (dark surround) or 'table' (light).
func (s *Server) setLightness(w http.ResponseWriter, r *http.Request) error {
	to := "table"
	if r.FormValue("to") == "bench" {
		to = "bench"
	}
	http.SetCookie(w, &http.Cookie{Name: "aerugo_lightness", Value: to, Path: "/", Expires: s.now().AddDate(1, 0, 0), SameSite: http.SameSiteLaxMode})
	return back(w, r, ownPath(r.FormValue("back")))
}

// ownPath returns p if it is an address within this site, else "/".
func ownPath(p string) string {
	u, err := url.Parse(p)
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.HasPrefix(p, `/\`) {
		return "/"
	}
	return p
}
