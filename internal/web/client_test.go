package web_test

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"aerugo/internal/demo"
	"aerugo/internal/store"
	"aerugo/internal/studio"
	"aerugo/internal/web"
)

// An answer is what the server said to one request.
type answer struct {
	what   string // method and path
	code   int
	header http.Header
	body   []byte
}

// plain follows no redirects, so that a test sees the answer itself.
var plain = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

func send(t testing.TB, r *http.Request) answer {
	t.Helper()
	a, err := sent(r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// sent is send for goroutines, which must not end the test.
func sent(r *http.Request) (answer, error) {
	resp, err := plain.Do(r)
	if err != nil {
		return answer{}, err
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	return answer{r.Method + " " + r.URL.RequestURI(), resp.StatusCode, resp.Header, body}, err
}

func request(t testing.TB, method, address string, body io.Reader, heads ...string) *http.Request {
	t.Helper()
	r, err := http.NewRequest(method, address, body)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(heads); i += 2 {
		r.Header.Set(heads[i], heads[i+1])
	}
	return r
}

// with adds the bench's own cookie.
func (b *bench) with(r *http.Request) *http.Request {
	if b.cookie != nil {
		r.AddCookie(b.cookie)
	}
	return r
}

// see fetches a page; heads are names and values of headers.
func (b *bench) see(t testing.TB, path string, heads ...string) answer {
	t.Helper()
	return send(t, b.with(request(t, "GET", b.url+path, nil, heads...)))
}

// post sends a form.
func (b *bench) post(t testing.TB, path string, form url.Values, heads ...string) answer {
	t.Helper()
	r := request(t, "POST", b.url+path, strings.NewReader(form.Encode()), append([]string{"Content-Type", "application/x-www-form-urlencoded"}, heads...)...)
	return send(t, b.with(r))
}

// upload sends a form with one file.
func (b *bench) upload(t testing.TB, path, field string, data []byte, form url.Values, heads ...string) answer {
	t.Helper()
	var buf bytes.Buffer
	w := multipart.NewWriter(&buf)
	part, err := w.CreateFormFile(field, "IMG.jpg")
	if err != nil {
		t.Fatal(err)
	}
	part.Write(data) // a bytes.Buffer takes everything
	for name, values := range form {
		for _, v := range values {
			if err := w.WriteField(name, v); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return send(t, request(t, "POST", b.url+path, &buf, append([]string{"Content-Type", w.FormDataContentType()}, heads...)...))
}

// to returns where the answer leads, which must be another page.
func (a answer) to(t testing.TB) string {
	t.Helper()
	if a.code != http.StatusSeeOther {
		t.Fatalf("%s: status %d, want 303: %s", a.what, a.code, a.problem())
	}
	return a.header.Get("Location")
}

// problem returns what an answer says is wrong, for a page or JSON.
func (a answer) problem() string {
	n, err := parse(a.body)
	if err != nil || !bytes.HasPrefix(a.body, []byte("<!doctype html>")) {
		return string(a.body)
	}
	var all []string
	for _, x := range n.all(".problem,.wrong") {
		all = append(all, x.words())
	}
	return strings.Join(all, " | ")
}

// benchWith serves a studio with what the test changes in its configuration.
func benchWith(t *testing.T, change func(*bench, *web.Config)) *bench {
	t.Helper()
	b := &bench{}
	b.atMorning()
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "studio"), store.Options{Now: b.now})
	if err != nil {
		t.Fatal(err)
	}
	b.store = st
	c := web.Config{Store: st, Now: b.now, Version: "test"}
	change(b, &c)
	if b.web, err = web.New(c); err != nil {
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

// A stock is a bench with something on the shelf, a recipe and a set.
type stock struct {
	*bench
	metal, chamber                           int64
	ammonia, vinegar, salt, sulfide, nitrate int64
	recipe, set                              int64
	version                                  int64 // of the recipe
	planned                                  []studio.Treatment
	blank                                    int64 // the swatch kept bare
}

// A line is one step of a recipe as it is typed.
type line struct{ kind, supply, amount, unit, time, where, late string }

// recipeForm writes a recipe as the page's form sends it.
func recipeForm(name string, lines ...line) url.Values {
	f := url.Values{"name": {name}, "over": {"0"}, "overstate": {"dry"}, "do": {"save"}}
	for _, x := range lines {
		if x.unit == "" {
			x.unit = string(studio.GramPerM2)
		}
		for name, v := range map[string]string{"kind": x.kind, "supply": x.supply, "amount": x.amount, "unit": x.unit, "time": x.time, "where": x.where, "late": x.late, "early": "", "tool": "", "stepnote": ""} {
			f.Add(name, v)
		}
	}
	return f
}

func id(n int64) string { return strconv.FormatInt(n, 10) }

// setForm is a set as the page's form sends it: a ladder over the fuming time.
func (s *stock) setForm(change map[string][]string) url.Values {
	f := url.Values{"name": {"How long"}, "question": {"When does the blue come?"}, "metal": {id(s.metal)}, "width": {"50"}, "height": {"40"}, "chamber": {id(s.chamber)},
		"front": {id(s.version)}, "back": {"same"}, "kind0": {"minutes"}, "step0": {"2"}, "levels0": {"60, 120"}, "kind1": {""}, "kind2": {""},
		"replicates": {"2"}, "blanks": {"1"}, "seed": {"7"}, "do": {"preview"}}
	for name, v := range change {
		f[name] = v
	}
	return f
}

// stocked returns a bench filled through its own pages: the three questions, a
// recipe, and a set of two kinds, two of each and a blank.
func stocked(t testing.TB) *stock {
	t.Helper()
	s := &stock{bench: serve(t)}
	ctx := t.Context()
	s.post(t, "/start", url.Values{"alloy": {"C11000"}, "thickness": {"0.8"}, "volume": {"20"}, "gap": {"40"}, "places": {"6"}, "ammonia": {"9"},
		"liquid": {"ammonia-water", "vinegar", "sodium-chloride", "liver-of-sulfur"}}).to(t)
	s.post(t, "/shelf/supplies", url.Values{"name": {"Copper nitrate 20 %"}, "material": {"copper-nitrate"}, "strength": {"20"}, "strengthunit": {"wt%"}}).to(t)
	metals, err := s.store.Metals(ctx)
	if err != nil || len(metals) != 1 {
		t.Fatalf("metals = %v, %v", metals, err)
	}
	chambers, err := s.store.Chambers(ctx)
	if err != nil || len(chambers) != 1 {
		t.Fatalf("chambers = %v, %v", chambers, err)
	}
	s.metal, s.chamber = metals[0].ID, chambers[0].ID
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range supplies {
		*map[string]*int64{"ammonia-water": &s.ammonia, "vinegar": &s.vinegar, "sodium-chloride": &s.salt, "liver-of-sulfur": &s.sulfide, "copper-nitrate": &s.nitrate}[x.Material] = x.ID
	}
	to := s.post(t, "/recipes", recipeForm("Salt and fumes", line{kind: "degrease"}, line{kind: "sprinkle", supply: id(s.salt), amount: "light"},
		line{kind: "fume", supply: id(s.ammonia), time: "2 h", where: id(s.chamber), late: "10 min"}, line{kind: "dry", time: "30 min"})).to(t)
	recipes, err := s.store.Recipes(ctx)
	if err != nil || len(recipes) != 1 || !strings.HasPrefix(to, fmt.Sprintf("/recipes/%d", recipes[0].ID)) {
		t.Fatalf("the recipe leads to %s; recipes = %v, %v", to, recipes, err)
	}
	s.recipe, s.version = recipes[0].ID, recipes[0].Latest.ID
	s.set = s.plan(t, s.setForm(map[string][]string{"do": {"make"}}))
	if s.planned, err = s.store.Treatments(ctx, store.TreatmentFilter{Set: s.set}); err != nil || len(s.planned) != 4 {
		t.Fatalf("treatments = %v, %v", s.planned, err)
	}
	swatches, err := s.store.SwatchesOf(ctx, s.set)
	if err != nil || len(swatches) != 5 {
		t.Fatalf("swatches = %v, %v", swatches, err)
	}
	for _, x := range swatches {
		if x.Blank {
			s.blank = x.Number
		}
	}
	return s
}

// plan makes a set and returns its number.
func (s *stock) plan(t testing.TB, form url.Values) int64 {
	t.Helper()
	to := s.post(t, "/sets", form).to(t)
	text, _, _ := strings.Cut(strings.TrimPrefix(to, "/sets/"), "?")
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		t.Fatalf("the set leads to %q", to)
	}
	return n
}

// begin starts treatments together.
func (s *stock) begin(t *testing.T, client string, treatments ...int64) answer {
	t.Helper()
	f := url.Values{"client": {client}}
	for _, x := range treatments {
		f.Add("t", id(x))
	}
	return s.post(t, "/begin", f)
}

// events returns what is recorded of a treatment.
func (b *bench) events(t testing.TB, treatment int64) []studio.Event {
	t.Helper()
	all, err := b.store.Events(t.Context(), []int64{treatment})
	if err != nil {
		t.Fatal(err)
	}
	return all[treatment]
}

// files lists the files of the studio's photographs, made pictures left out.
func (b *bench) files(t testing.TB) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(filepath.Join(b.store.Dir(), "photos"), func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if d.Name() == ".made" {
				return filepath.SkipDir
			}
			return nil
		}
		out = append(out, path)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(out)
	return out
}

// photograph keeps a drawn photograph of a face and returns its number and the
// marks that are right for it.
func (b *bench) photograph(t *testing.T, swatch int64, face studio.Face, n int) (int64, studio.Marks) {
	t.Helper()
	data, marks := sample(swatch, face, n)
	to := b.upload(t, "/photos", "photo", data, url.Values{"client": {fmt.Sprintf("photo-%d-%s-%d", swatch, face, n)}, "swatch": {id(swatch)}, "face": {string(face)}, "moment": {"finished"}}).to(t)
	number, err := strconv.ParseInt(strings.TrimSuffix(strings.TrimPrefix(to, "/photos/"), "/mark"), 10, 64)
	if err != nil {
		t.Fatalf("the photograph leads to %q", to)
	}
	return number, marks
}

// samples are the photographs drawn so far, since drawing takes a while.
var samples = struct {
	sync.Mutex
	taken time.Time
	made  map[string]drawn
}{taken: time.Now().Add(-time.Minute), made: map[string]drawn{}}

type drawn struct {
	data  []byte
	marks studio.Marks
}

// sample draws a photograph of a face, taken a minute before the tests began.
func sample(swatch int64, face studio.Face, n int) ([]byte, studio.Marks) {
	samples.Lock()
	defer samples.Unlock()
	key := fmt.Sprint(swatch, face, n)
	d, ok := samples.made[key]
	if !ok {
		d.data, d.marks, _ = demo.Sample(swatch, face, n, samples.taken)
		samples.made[key] = d
	}
	return d.data, d.marks
}

// filled puts the invented example into a bench, and photographs of three of
// its finished faces, read with their grey cards.
func filled(t *testing.T, b *bench) {
	t.Helper()
	if err := demo.Fill(t.Context(), b.store, b.now()); err != nil {
		t.Fatal(err)
	}
	for i, number := range []int64{1, 2, 3} {
		photo, marks := b.photograph(t, number, studio.Front, i)
		b.post(t, fmt.Sprintf("/photos/%d/measure", photo), marksForm(marks, true)).to(t)
	}
}

// marksForm writes marks as the page's form sends them.
func marksForm(m studio.Marks, grey bool) url.Values {
	f := url.Values{"greyl": {"49.5"}}
	put := func(name string, x, y float64) {
		f.Set(name+"x", fmt.Sprintf("%.0f", x))
		f.Set(name+"y", fmt.Sprintf("%.0f", y))
	}
	for i, name := range []string{"tl", "tr", "br", "bl"} {
		put(name, m.Corners[i].X, m.Corners[i].Y)
	}
	if grey {
		f.Set("usegrey", "1")
		put("grey1", m.Grey.X, m.Grey.Y)
		put("grey2", m.Grey.X+m.Grey.W, m.Grey.Y+m.Grey.H)
	}
	return f
}

// file reads one of the test's own files.
func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}
