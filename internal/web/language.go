package web

import (
	"context"
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"io/fs"
	"maps"
	"net/http"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"aerugo/internal/language"
	"aerugo/internal/science/matter"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

const languageCookie = "aerugo_language"

// tongues are the languages of this studio and what is kept for each.
type tongues struct {
	all   []*language.Language
	pages *pages

	mu    sync.Mutex
	own   map[string]map[string]bool // people's own words, by tag
	known map[string]*language.Language
	made  map[string]*template.Template // by tag and page
}

// readTongues returns the languages of a studio; a file that can't be read is told to tell.
func readTongues(s *store.Store, tell func(file string, err error)) (*tongues, error) {
	all, err := s.Languages(tell)
	if err != nil {
		return nil, err
	}
	return &tongues{all: all, own: map[string]map[string]bool{}, known: map[string]*language.Language{}, made: map[string]*template.Template{}}, nil
}

// choice are the languages of the menu, none where there is but one.
func (t *tongues) choice() []*language.Language {
	if len(t.all) < 2 {
		return nil
	}
	return t.all
}

// find returns the language of a tag.
func (t *tongues) find(tag string) (*language.Language, bool) {
	for _, l := range t.all {
		if l.Tag == tag {
			return l, true
		}
	}
	return nil, false
}

// knowing returns l for a studio with these words of its people.
func (t *tongues) knowing(l *language.Language, own map[string]bool) *language.Language {
	t.mu.Lock()
	defer t.mu.Unlock()
	k, ok := t.known[l.Tag]
	if !ok || !maps.Equal(own, t.own[l.Tag]) {
		k = l.Knowing(own)
		t.own[l.Tag], t.known[l.Tag] = own, k
	}
	return k
}

// current is the language as it last was asked for, for templates that outlive it.
func (t *tongues) current(tag string) *language.Language {
	t.mu.Lock()
	defer t.mu.Unlock()
	if k, ok := t.known[tag]; ok {
		return k
	}
	for _, l := range t.all {
		if l.Tag == tag {
			return l
		}
	}
	return language.English
}

// page returns the template of a page in l.
func (t *tongues) page(name string, l *language.Language) (*template.Template, error) {
	if l == language.English {
		if p, ok := t.pages.byName[name]; ok {
			return p, nil
		}
		return nil, fmt.Errorf("there is no page %q", name)
	}
	key := l.Tag + " " + name
	t.mu.Lock()
	made, ok := t.made[key]
	t.mu.Unlock()
	if ok {
		return made, nil
	}
	if _, ok := t.pages.byName[name]; !ok {
		return nil, fmt.Errorf("there is no page %q", name)
	}
	tag := l.Tag
	p := template.New("layout.html").Funcs(functions).Funcs(template.FuncMap{
		"lang": func() string { return tag },
		"say": func(v any) any {
			switch v := v.(type) {
			case template.HTML:
				return sayDrawn(t.current(tag), v)
			case forScript:
				return v.in(t.current(tag))
			}
			return t.current(tag).Any(v)
		},
		"marked": func(text string) template.HTML {
			said := t.current(tag)
			escaped := template.HTMLEscapeString(said.Say(text))
			word := regexp.MustCompile(`[^,;]*\(` + regexp.QuoteMeta(template.HTMLEscapeString(said.Say("assumed"))) + `\)`)
			return template.HTML(word.ReplaceAllString(escaped, `<em class="assumed">$0</em>`))
		},
	})
	for _, file := range append(layout[:2:2], "pages/"+name+".html") {
		src, err := fs.ReadFile(pageFiles, file)
		if err != nil {
			return nil, err
		}
		base := strings.TrimSuffix(filepath.Base(file), ".html")
		part := p
		if base != "layout" {
			part = p.New(base + ".html")
		}
		if _, err := part.Parse(l.Page(base, string(src))); err != nil {
			return nil, fmt.Errorf("page %s in %s: %w", name, tag, err)
		}
	}
	t.mu.Lock()
	t.made[key] = p
	t.mu.Unlock()
	return p, nil
}

// A speaker is an answer that knows the language of its request, and the one that a
// printed sheet is wanted in: a teacher's screen and a class's handouts may differ.
type speaker struct {
	http.ResponseWriter
	language *language.Language
	sheet    *language.Language
}

// spokenKey is where a request keeps the language of who asks, for what is typed.
type spokenKey struct{}

// Unwrap lets http.ResponseController reach the connection.
func (s speaker) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// spokenTo returns the language an answer is to be in.
func spokenTo(w http.ResponseWriter) *language.Language { return speakerOf(w).language }

// printedIn returns the language that a printed sheet is to be in.
func printedIn(w http.ResponseWriter) *language.Language { return speakerOf(w).sheet }

// speakerOf finds the speaker that an answer goes through; without one it is English.
func speakerOf(w http.ResponseWriter) speaker {
	for {
		switch s := w.(type) {
		case speaker:
			return s
		case onPage:
			w = s.ResponseWriter
			continue
		}
		u, ok := w.(interface{ Unwrap() http.ResponseWriter })
		if !ok {
			return speaker{w, language.English, language.English}
		}
		w = u.Unwrap()
	}
}

// languages gives each answer the language of who asked.
func (s *Server) languages(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/static/") && r.URL.Path != wordsPath {
			next.ServeHTTP(w, r)
			return
		}
		l := s.languageOf(r)
		sheet := l
		if tag := r.URL.Query().Get("in"); tag != "" {
			if asked, ok := s.tongues.find(tag); ok {
				sheet = s.knowing(r.Context(), asked)
			}
		}
		next.ServeHTTP(speaker{w, l, sheet}, r.WithContext(context.WithValue(r.Context(), spokenKey{}, l)))
	})
}

// languageOf returns the language of a request: that of its device, else the
// studio's, else English.
func (s *Server) languageOf(r *http.Request) *language.Language {
	if len(s.tongues.all) == 1 {
		return language.English
	}
	l := language.English
	found := false
	if c, err := r.Cookie(languageCookie); err == nil {
		l, found = s.tongues.find(c.Value)
	}
	if !found {
		l = s.studioLanguage(r.Context())
	}
	return s.knowing(r.Context(), l)
}

// knowing returns l for what people named in this studio.
func (s *Server) knowing(ctx context.Context, l *language.Language) *language.Language {
	if l == language.English {
		return l
	}
	names, err := s.store.Names(ctx)
	if err != nil {
		s.log.Warn("names not read", "err", err)
		return l
	}
	words, err := s.store.OwnWords(ctx)
	if err != nil {
		s.log.Warn("what people wrote not read", "err", err)
	}
	return s.tongues.knowing(l, l.Own(names, slices.Concat(words, matter.Sources())))
}

// studioLanguage is the language of devices that chose none.
func (s *Server) studioLanguage(ctx context.Context) *language.Language {
	tag, err := s.store.Setting(ctx, "language")
	if err != nil {
		s.log.Warn("language not read", "err", err)
	}
	if l, ok := s.tongues.find(tag); ok {
		return l
	}
	return language.English
}

// setLanguage is POST /language: the device's own language, and with all the studio's.
func (s *Server) setLanguage(w http.ResponseWriter, r *http.Request) error {
	l, ok := s.tongues.find(r.FormValue("to"))
	if !ok {
		return studio.Problemf(studio.Invalid, "to", "There is no language %q here; choose one of the list.", r.FormValue("to"))
	}
	if r.FormValue("all") != "" {
		if err := s.laptopOnly(r); err != nil {
			return err
		}
		if err := s.store.SaveSetting(r.Context(), "language", l.Tag); err != nil {
			return err
		}
	}
	http.SetCookie(w, &http.Cookie{Name: languageCookie, Value: l.Tag, Path: "/", Expires: s.now().AddDate(1, 0, 0), SameSite: http.SameSiteLaxMode})
	return back(w, r, ownPath(r.FormValue("back")))
}

// wordsPath is the module that gives scripts their texts.
const wordsPath = "/static/words.js"

// scriptWords is GET /static/words.js: inWords('English {1}', value), inNumbers('1.5') and
// inHours(ms), the time of day, in the language of who asked.
func (s *Server) scriptWords(w http.ResponseWriter, r *http.Request) error {
	l := spokenTo(w)
	b, err := json.Marshal(l.Script())
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	_, err = fmt.Fprintf(w, `const words = %s;
export function inWords(text, ...values) {
  return (words[text] ?? text).replace(/\{(\d)\}/g, (mark, n) => values[n - 1] ?? mark);
}
export function inNumbers(text) {
  return String(text).replace('.', %q);
}
export function inHours(ms) {
  return new Date(ms).toLocaleTimeString(%q, { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
}
`, b, l.Point(), l.Tag)
	return err
}

// drawnText is what a drawing made here says: between its tags, and to those who
// can't see it.
var drawnText = regexp.MustCompile(`>([^<>]+)<|aria-label="([^"]*)"`)

// sayDrawn says the words of a drawing.
func sayDrawn(l *language.Language, drawn template.HTML) template.HTML {
	return template.HTML(drawnText.ReplaceAllStringFunc(string(drawn), func(part string) string {
		from, till := 1, len(part)-1
		if part[0] == 'a' {
			from = len(`aria-label="`)
		}
		return part[:from] + template.HTMLEscapeString(l.Say(html.UnescapeString(part[from:till]))) + part[till:]
	}))
}
