package web_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// sheeted puts sheets of the stock's metal on its shelf: two of 300 x 200 mm at 12 EUR,
// and an offcut of 120 x 60 mm that nobody knows the price of.
func sheeted(t testing.TB, s *stock) {
	t.Helper()
	s.post(t, "/costs", rates).to(t)
	at := fmt.Sprintf("/shelf/metals/%d/sheets", s.metal)
	s.post(t, at, url.Values{"client": {"s1"}, "kind": {"bought"}, "count": {"2"}, "sheetwidth": {"300"}, "sheetheight": {"200"}, "price": {"12,00"}, "lot": {"M7"}, "supplier": {"Mill"}, "state": {"degreased"}}).to(t)
	s.post(t, at, url.Values{"client": {"s2"}, "kind": {"found"}, "count": {"1"}, "sheetwidth": {"120"}, "sheetheight": {"60"}}).to(t)
}

// sheetVisits are the pages of sheets and of cutting from the shelf in their states.
func sheetVisits(t *testing.T, empty, full *bench) []visit {
	t.Helper()
	of := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	none, s := stocked(t), stocked(t)
	sheeted(t, s)
	set, _ := s.batchOf(t, s.lamp(t).ID)
	few := stocked(t)
	few.post(t, of("/shelf/metals/%d/sheets", few.metal), url.Values{"client": {"s"}, "kind": {"found"}, "count": {"1"}, "sheetwidth": {"70"}, "sheetheight": {"60"}}).to(t)
	return []visit{
		{"stock_sheets", "never counted", none.bench, of("/shelf/metals/%d/sheets", none.metal), nil, 200, "Sheets of "},
		{"stock_sheets", "usual", s.bench, of("/shelf/metals/%d/sheets", s.metal), nil, 200, "Sheets of "},
		{"stock_sheets", "full", full, "/shelf/metals/1/sheets", nil, 200, "Sheets of "},
		{"stock_sheets", "refused", s.bench, of("/shelf/metals/%d/sheets", s.metal), url.Values{"client": {"x"}, "kind": {"bought"}, "count": {"0"}, "sheetwidth": {"wide"}, "price": {"much"}}, 422, "Sheets of "},
		{"stock_sheets", "no currency yet", none.bench, of("/shelf/metals/%d/sheets", none.metal), url.Values{"client": {"x"}, "kind": {"bought"}, "count": {"1"}, "sheetwidth": {"9"}, "sheetheight": {"9"}, "price": {"2"}}, 422, "Sheets of "},
		{"stock_sheets", "not there", empty, "/shelf/metals/9/sheets", nil, 404, "Not here"},
		{"stock_cutting", "never counted", none.bench, of("/sets/%d/cutting", none.set), nil, 200, "Cut from the shelf: How long"},
		{"stock_cutting", "usual", s.bench, of("/sets/%d/cutting", s.set), nil, 200, "Cut from the shelf: How long"},
		{"stock_cutting", "of a batch", s.bench, of("/sets/%d/cutting", set.ID), nil, 200, "Cut from the shelf: Six lamps"},
		{"stock_cutting", "too few", few.bench, of("/sets/%d/cutting", few.set), nil, 200, "Cut from the shelf: How long"},
		{"stock_cutting", "begun", full, "/sets/1/cutting", nil, 200, "Cut from the shelf: "},
		{"stock_cutting", "refused", s.bench, of("/sets/%d/cutting?width=wide&laid=yes", s.set), nil, 422, "Cut from the shelf: How long"},
		{"stock_cutting", "changed meanwhile", s.bench, of("/sets/%d/cutting", s.set), url.Values{"client": {"c"}, "stack0": {"99"}, "count0": {"1"}}, 422, "Cut from the shelf: How long"},
		{"stock_cutting", "not there", empty, "/sets/9/cutting", nil, 404, "Not here"},
		{"stock_shopping", "for a plan not made", s.bench, of("/shopping?for=More&need=%d:sodium-chloride:700&need=0:wax:20&cut=%d:50:40:0:90", s.salt, s.metal), nil, 200, "Shopping list"},
		{"fail", "nothing that can be bought", s.bench, "/shopping?need=x", nil, 422, "did not work"},
	}
}

// The set has five pieces of 50 x 40 mm (one kept bare). The sheet of 120 x 60 mm gives
// two that stand: 5 mm of edge, 40, 1 mm of saw and 40 leave 34, and the saw 33. Three come from one sheet of
// 300 x 200 mm at 12 EUR, in one strip: 300 x 154 mm stay, so 0.77 of it, 9.24 EUR, and
// 2.76 EUR went.
func TestCutFromTheShelfThroughThePages(t *testing.T) {
	s := stocked(t)
	sheeted(t, s)
	at := fmt.Sprintf("/sets/%d/cutting", s.set)
	doc := s.see(t, at).doc(t)
	words := doc.one("main").words()
	for _, want := range []string{"5 pieces from 2 sheets.", "1 × sheet of 120 × 60 mm", "1 × sheet of 300 × 200 mm", "lot M7, Mill, degreased", "1 × sheet of 300 × 200 mm1 × offcut of 33 × 60 mm1 × offcut of 300 × 154 mm"} {
		if !strings.Contains(words, want) {
			t.Errorf("the page does not say %q: %s", want, words)
		}
	}
	if a := s.see(t, at+".pdf"); a.code != 200 || !bytes.HasPrefix(a.body, []byte("%PDF-")) {
		t.Errorf("the list: status %d: %.100s", a.code, a.body)
	}
	var form url.Values
	for _, f := range doc.all("form") {
		if f.attr["method"] == "post" && f.attr["action"] == at {
			form = submitted(f)
		}
	}
	if form == nil {
		t.Fatal("the page has no form to record the cut")
	}
	too := url.Values{}
	for k, v := range form {
		too[k] = v
	}
	too.Set("restw0", "5000")
	too.Set("resth0", "5000")
	if a := s.post(t, at, too); a.code != 422 || !strings.Contains(a.problem(), "is more than the sheet") {
		t.Errorf("more left than there was: status %d, %q", a.code, a.problem())
	}
	s.post(t, at, form).to(t)
	s.post(t, at, form) // sent twice
	moves, err := s.store.SheetMoves(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	pieces, cuts := 0, 0
	for _, m := range moves[s.metal] {
		if m.Kind == studio.SheetCut {
			pieces, cuts = pieces+m.Pieces, cuts+1
			if m.SetID != s.set {
				t.Errorf("%+v", m)
			}
		}
	}
	if pieces != 5 || cuts != 2 {
		t.Errorf("%d pieces in %d cuts", pieces, cuts)
	}
	if words := s.see(t, at).doc(t).one("main").words(); !strings.Contains(words, "5 pieces are cut already") || !strings.Contains(words, "Nothing is left to cut") {
		t.Errorf("the page says %s", words)
	}
	if words := s.see(t, fmt.Sprintf("/shelf/metals/%d/sheets", s.metal)).doc(t).one("main").words(); !strings.Contains(words, "300 × 154 mm") || !strings.Contains(words, "9.24") {
		t.Errorf("the sheets' page says %s", words)
	}
	if words := s.see(t, "/shelf").doc(t).one("main").words(); !strings.Contains(words, "1 sheet, ") {
		t.Errorf("the shelf says %s", words)
	}
	// the three from the priced sheet cost 2.76 EUR; the other two are priced as metal is sold
	s.post(t, fmt.Sprintf("/shelf/metals/%d/price", s.metal), url.Values{"per": {"sheet"}, "price": {"57"}, "sheetwidth": {"600"}, "sheetheight": {"1000"}}).to(t)
	if words := s.see(t, fmt.Sprintf("/sets/%d/cost", s.set)).doc(t).one("main").words(); !strings.Contains(words, "3 pieces cut from the shelf, 2.76") || !strings.Contains(words, "40 cm² and 10 % cut away") {
		t.Errorf("the cost says %s", words)
	}
	// taken back, the offcut goes with its cut
	for _, m := range moves[s.metal] {
		if m.Kind == studio.SheetCut {
			s.post(t, fmt.Sprintf("/shelf/metals/%d/sheets", s.metal), url.Values{"client": {fmt.Sprint("u", m.ID)}, "kind": {"taken back"}, "of": {id(m.ID)}}).to(t)
		}
	}
	if words := s.see(t, "/shelf").doc(t).one("main").words(); !strings.Contains(words, "3 sheets") {
		t.Errorf("the shelf says %s", words)
	}
	if a := s.post(t, fmt.Sprintf("/shelf/metals/%d/sheets", s.metal), url.Values{"client": {"z"}, "kind": {"cut"}, "stack": {"1"}, "count": {"1"}}); a.code != 422 {
		t.Errorf("a cut for nothing: status %d", a.code)
	}
}

// Sheets are bought as they are sold, after those that are there. Five pieces of 50 x 40
// mm: the shelf's 70 x 60 gives one, so four are lacking; a sheet of 120 x 100 mm holds
// two to a row and two rows: one sheet. By weight it costs its mass: 0.012 m² of C11000,
// 0.8 mm, at 8.89 g/cm³ (Copper Development Association, C11000) are 85.3 g; at 12 EUR a
// kg 1.02 EUR.
func TestShoppingBuysWholeSheets(t *testing.T) {
	s := stocked(t)
	s.post(t, "/costs", rates).to(t)
	row := func() []string {
		t.Helper()
		rows, err := csv.NewReader(bytes.NewReader(s.see(t, fmt.Sprintf("/shopping.csv?set=%d", s.set)).body)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		m, err := s.store.Metal(t.Context(), s.metal)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			if r[0] == m.Name {
				return r
			}
		}
		return nil
	}
	price := fmt.Sprintf("/shelf/metals/%d/price", s.metal)
	if r := row(); r == nil || r[2] != "100 cm²" || !strings.Contains(r[3], "not counted") {
		t.Errorf("without a size it is sold in: %q", r)
	}
	s.post(t, price, url.Values{"per": {"sheet"}, "price": {"3,10"}, "sheetwidth": {"120"}, "sheetheight": {"100"}}).to(t)
	if r := row(); r == nil || r[2] != "2 × sheet of 120 × 100 mm" || r[5] != "6.20 EUR" {
		t.Errorf("%q", r)
	}
	s.post(t, fmt.Sprintf("/shelf/metals/%d/sheets", s.metal), url.Values{"client": {"s"}, "kind": {"found"}, "count": {"1"}, "sheetwidth": {"70"}, "sheetheight": {"60"}}).to(t)
	if r := row(); r == nil || r[2] != "1 × sheet of 120 × 100 mm" || r[3] != "for 5 pieces, sheet for 1 is on the shelf" {
		t.Errorf("%q", r)
	}
	s.post(t, price, url.Values{"per": {"kg"}, "price": {"12"}, "sheetwidth": {"120"}, "sheetheight": {"100"}}).to(t)
	if r := row(); r == nil || r[5] != "1.02 EUR" {
		t.Errorf("%q", r)
	}
	s.post(t, price, url.Values{"per": {"sheet"}, "price": {"12"}, "sheetwidth": {"20"}, "sheetheight": {"20"}}).to(t)
	if a := s.see(t, fmt.Sprintf("/shopping?set=%d", s.set)); a.code != 409 || !strings.Contains(a.problem(), "no piece of the plan fits") {
		t.Errorf("sheets too small: status %d, %q", a.code, a.problem())
	}
	s.post(t, fmt.Sprintf("/shelf/metals/%d/sheets", s.metal), url.Values{"client": {"s3"}, "kind": {"found"}, "count": {"4"}, "sheetwidth": {"300"}, "sheetheight": {"200"}}).to(t)
	if r := row(); r != nil {
		t.Errorf("the shelf is enough, and it buys %q", r)
	}
}

// Forged numbers of a plan that is not made are refused in words.
func TestForgedPlansAreRefused(t *testing.T) {
	s := stocked(t)
	for _, q := range []string{"need=1", "need=a:b:c", "need=1:x:-3", "need=1:x:NaN", "need=0::5", "need=1.5:x:1", "cut=1:50:40:0", "cut=1:50:40:0:0", "cut=1:50:40:0:1e9", "cut=1:0:0:0:5", "need=1:" + strings.Repeat("x", 99) + ":1", strings.Repeat("need=1:x:1&", 101)} {
		if a := s.see(t, "/shopping?"+q); a.code == 500 || a.code == 200 && !strings.HasPrefix(q, "cut=1:0") {
			t.Errorf("%.40s: status %d", q, a.code)
		}
	}
	if a := s.see(t, fmt.Sprintf("/shopping?cut=%d:0:0:0:5", s.metal)); a.code != 422 {
		t.Errorf("pieces of no size: status %d", a.code)
	}
	if a := s.see(t, "/shopping?need=999:wax:5&for="+url.QueryEscape("<b>x</b>")); a.code != 200 || strings.Contains(string(a.body), "<b>x</b>") {
		t.Errorf("a supply that is gone: status %d", a.code)
	}
}

// The cut is recorded in a browser, on a laptop and on a phone, and the shelf in German
// reads the same.
func TestSheetsAreCutInABrowser(t *testing.T) {
	for _, width := range []int{1280, 360} {
		s := stocked(t)
		sheeted(t, s)
		tb := open(t, s.url, fmt.Sprint("cutting ", width), width)
		held := func() {
			t.Helper()
			tb.noSideways()
			for _, x := range tb.violations() {
				t.Errorf("%d px: %s", width, x)
			}
		}
		tb.visit(fmt.Sprintf("/sets/%d", s.set))
		tb.pressThrough("Cut it from the shelf")
		held()
		tb.shot("cutting")
		tb.pressThrough("It is cut like this")
		if words := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(words, "Nothing is left to cut for it.") {
			t.Errorf("%d px: the page says %s", width, words)
		}
		tb.visit(fmt.Sprintf("/shelf/metals/%d/sheets", s.metal))
		held()
		tb.shot("sheets")
		s.post(t, "/language", url.Values{"to": {"de"}, "all": {"yes"}}).to(t)
		tb.visit(fmt.Sprintf("/shelf/metals/%d/sheets", s.metal))
		if words := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(words, "Reststück") || strings.Contains(words, "each") || strings.Contains(words, "since") {
			t.Errorf("%d px: in German the page says %s", width, words)
		}
		tb.noSideways()
	}
}
