package web_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

// rates are what the tests reckon with.
var rates = url.Values{"currency": {"eur"}, "hour": {"30"}, "chamberhour": {"0,50"}, "sealm2": {"40"}, "overhead": {"15"}, "margin": {"25"}, "loss": {"10"}}

// priced gives a stocked bench its rates and prices, through its pages.
func priced(t *testing.T, s *stock) {
	t.Helper()
	s.post(t, "/costs", rates).to(t)
	s.post(t, fmt.Sprintf("/shelf/supplies/%d/price", s.salt), url.Values{"size": {"500"}, "packunit": {"g"}, "price": {"1,80"}, "grade": {"without iodine"}, "keep": {"200"}}).to(t)
	s.post(t, fmt.Sprintf("/shelf/supplies/%d/price", s.ammonia), url.Values{"size": {"1000"}, "packunit": {"mL"}, "price": {"8.50"}, "keep": {"0"}}).to(t)
	s.post(t, fmt.Sprintf("/shelf/metals/%d/price", s.metal), url.Values{"per": {"sheet"}, "price": {"57"}, "sheetwidth": {"600"}, "sheetheight": {"1000"}}).to(t)
	s.post(t, fmt.Sprintf("/shelf/supplies/%d/stock", s.salt), url.Values{"client": {"b1"}, "kind": {"bought"}, "amount": {"150"}, "unit": {"g"}, "lot": {"A"}}).to(t)
}

// quoteForm is a quote as its form sends it.
func quoteForm(client string) url.Values {
	return url.Values{"client": {client}, "customer": {"A. Buyer\r\nStreet 1"}, "text0": {"Wall lamp"}, "quantity0": {"6"}, "each0": {"24,97"}, "text1": {"Delivery"}, "quantity1": {"1"}, "each1": {"12.50"},
		"text2": {"=Fitting, hours"}, "quantity2": {"2.5"}, "each2": {"31.333"}, "tax": {"21"}, "day": {"2026-03-02"}, "valid": {"30"}, "care": {"Dust it."}}
}

// quoted keeps a quote and returns the path of its page.
func quoted(t *testing.T, s *stock) string {
	t.Helper()
	at, _, _ := strings.Cut(s.post(t, fmt.Sprintf("/sets/%d/quote", s.set), quoteForm("q1")).to(t), "?")
	return at
}

// moneyVisits are the pages of stock, shopping, costs and quotes in their states.
func moneyVisits(t *testing.T, s *stock, empty, full *bench) []visit {
	t.Helper()
	of := fmt.Sprintf
	unpriced := stocked(t)
	priced(t, s)
	at := quoted(t, s)
	u := s.bench
	return []visit{
		{"stock", "never counted", unpriced.bench, of("/shelf/supplies/%d/stock", unpriced.vinegar), nil, 200, "Stock: "},
		{"stock", "usual", u, of("/shelf/supplies/%d/stock", s.salt), nil, 200, "Stock: Salt"},
		{"stock", "full", full, "/shelf/supplies/1/stock", nil, 200, "Stock: "},
		{"stock", "refused", u, of("/shelf/supplies/%d/stock", s.salt), url.Values{"client": {"x"}, "kind": {"bought"}, "amount": {"a bag"}, "unit": {"g"}}, 422, "Stock: Salt"},
		{"stock", "a price refused", u, of("/shelf/supplies/%d/price", s.salt), url.Values{"size": {"500"}, "packunit": {"g"}, "price": {"1e9"}}, 422, "Stock: Salt"},
		{"stock", "no currency yet", unpriced.bench, of("/shelf/supplies/%d/price", unpriced.salt), url.Values{"size": {"500"}, "packunit": {"g"}, "price": {"2"}}, 422, "Stock: Salt"},
		{"stock", "not there", empty, "/shelf/supplies/9/stock", nil, 404, "Not here"},
		{"stock_metal", "usual", u, of("/shelf/metals/%d/price", s.metal), nil, 200, "Price of "},
		{"stock_metal", "not priced", unpriced.bench, of("/shelf/metals/%d/price", unpriced.metal), nil, 200, "Price of "},
		{"stock_metal", "refused", u, of("/shelf/metals/%d/price", s.metal), url.Values{"per": {"sheet"}, "price": {"57"}, "sheetwidth": {"wide"}}, 422, "Price of "},
		{"stock_metal", "not there", empty, "/shelf/metals/9/price", nil, 404, "Not here"},
		{"stock_shopping", "empty", empty, "/shopping", nil, 200, "Shopping list"},
		{"stock_shopping", "usual", u, of("/shopping?set=%d", s.set), nil, 200, "Shopping list"},
		{"stock_shopping", "full", full, "/shopping?set=1&set=2", nil, 200, "Shopping list"},
		{"costs", "empty", empty, "/costs", nil, 200, "Costs and quotes"},
		{"costs", "usual", u, "/costs", nil, 200, "Costs and quotes"},
		{"costs", "refused", u, "/costs", url.Values{"currency": {"money"}, "margin": {"100"}}, 422, "Costs and quotes"},
		{"cost", "no rates yet", unpriced.bench, of("/sets/%d/cost", unpriced.set), nil, 200, "What it costs"},
		{"cost", "usual", u, of("/sets/%d/cost?good=9&made=10&people=5", s.set), nil, 200, "What it costs"},
		{"cost", "full", full, "/sets/1/cost", nil, 200, "What it costs"},
		{"cost", "none came out", u, of("/sets/%d/cost?good=0&made=10", s.set), nil, 422, "What it costs"},
		{"cost", "a quote refused", u, of("/sets/%d/quote", s.set), url.Values{"client": {"z"}, "text0": {"Lamp"}, "quantity0": {"6"}, "each0": {"-1"}, "tax": {"200"}}, 422, "What it costs"},
		{"cost", "not there", empty, "/sets/9/cost", nil, 404, "Not here"},
		{"cost_quote", "usual", u, at, nil, 200, "Quote 1"},
		{"cost_quote", "not there", empty, "/quotes/9", nil, 404, "Not here"},
	}
}

// moneyPages adds a quote to the example and lists the pages of stock and costs.
func moneyPages(t *testing.T, b *bench) []string {
	t.Helper()
	for path, form := range map[string]url.Values{
		"/shelf/metals/1/sheets":  {"client": {"s1"}, "kind": {"found"}, "count": {"2"}, "sheetwidth": {"300"}, "sheetheight": {"200"}},
		"/shelf/supplies/1/stock": {"client": {"b1"}, "kind": {"bought"}, "amount": {"500"}, "unit": {"mL"}},
	} {
		b.post(t, path, form).to(t)
	}
	b.post(t, "/costs", rates).to(t)
	b.post(t, "/shelf/supplies/1/price", url.Values{"size": {"1000"}, "packunit": {"mL"}, "price": {"8.50"}, "keep": {"2000"}}).to(t)
	at, _, _ := strings.Cut(b.post(t, "/sets/1/quote", quoteForm("q1")).to(t), "?")
	return []string{"/shelf/supplies/1/stock", "/shelf/metals/1/price", "/shelf/metals/1/sheets", "/sets/1/cutting", "/sets/5/cutting", "/shopping", "/shopping?set=1&set=2&set=3", "/costs", "/sets/1/cost", at}
}

// The quote of TestQuoteAddsUpByHand in flow/cost, through the pages: 6 x 24.97 =
// 149.82, 12.50, 2.5 x 31.333 = 78.3325; net 240.65, tax of 21 % 50.54, in all 291.19.
func TestQuoteByHandThroughThePages(t *testing.T) {
	s := stocked(t)
	priced(t, s)
	at := quoted(t, s)
	if again := quoted(t, s); again != at {
		t.Errorf("sent twice it is %s, then %s", at, again)
	}
	rows, err := csv.NewReader(bytes.NewReader(s.see(t, at+"/quote.csv").body)).ReadAll()
	if err != nil || len(rows) != 7 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, want := range []string{"sum", "149.82", "12.50", "78.33", "240.65", "50.54", "291.19"} {
		if got := rows[i][8]; got != want {
			t.Errorf("row %d says %s, want %s", i, got, want)
		}
	}
	if rows[3][5] != "'=Fitting, hours" || rows[1][3] != "A. Buyer\nStreet 1" || rows[1][4] != "EUR" || rows[1][2] != "2026-04-01" {
		t.Errorf("%q", rows)
	}
	words := s.see(t, at).doc(t).one("main").words()
	for _, want := range []string{"149.82", "78.33", "Net240.65", "50.54", "291.19", "Dust it.", "Work by hand"} {
		if !strings.Contains(words, want) {
			t.Errorf("the page does not say %q: %s", want, words)
		}
	}
	for _, path := range []string{at + "/quote.pdf", at + "/quote.pdf?sheet=letter", fmt.Sprintf("/shopping.pdf?set=%d", s.set), fmt.Sprintf("/shelf/supplies/%d/bottle.pdf?mixed=2026-03-02&strong=5&copies=2", s.ammonia)} {
		if a := s.see(t, path); a.code != 200 || !bytes.HasPrefix(a.body, []byte("%PDF-")) {
			t.Errorf("%s: status %d: %.100s", path, a.code, a.body)
		}
	}
}

// Every line of what the set costs, from the page's own table, adds up to what is
// printed below it.
func TestCostLinesAddUpOnThePage(t *testing.T) {
	s := stocked(t)
	priced(t, s)
	doc := s.see(t, fmt.Sprintf("/sets/%d/cost?good=9&made=10", s.set)).doc(t)
	var sum, last decimal.Decimal
	for _, x := range doc.all("main table td.n") {
		d, err := decimal.NewFromString(strings.TrimSuffix(strings.ReplaceAll(x.words(), " ", ""), "EUR"))
		if err != nil {
			if x.words() == "no price" {
				continue
			}
			t.Fatalf("%q: %v", x.words(), err)
		}
		sum, last = sum.Add(d), d
	}
	if sum = sum.Sub(last); !sum.Equal(last) || !last.IsPositive() {
		t.Errorf("the lines add up to %s, the page says %s", sum, last)
	}
	// five pieces of 50 x 40 mm (one kept bare): 0.01 m², of which a tenth is cut away,
	// of a sheet of 0.6 m² at 57 EUR: 1.0556 EUR
	if words := doc.one("main").words(); !strings.Contains(words, "1.06") && !strings.Contains(words, "1.05") {
		t.Errorf("the metal does not cost 1.06 or, rounded with the others, 1.05: %s", words)
	}
}

func TestStockFollowsTheBench(t *testing.T) {
	s := stocked(t)
	priced(t, s)
	before := s.see(t, "/shelf").doc(t).one("main").words()
	if !strings.Contains(before, "150 g") || !strings.Contains(before, "below 200 g") || !strings.Contains(before, "1.80 EUR for 500 g") {
		t.Errorf("the shelf says %s", before)
	}
	s.begin(t, "begin", s.planned[0].ID).to(t)
	salted := -1
	for i, step := range s.planned[0].Steps {
		if step.Kind == studio.Sprinkle {
			salted = i
		}
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint("a", i)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", s.planned[0].ID, i)}}).to(t)
	}
	if salted < 0 {
		t.Fatal("nothing is sprinkled")
	}
	step := s.planned[0].Steps[salted]
	w, err := s.store.Swatch(t.Context(), s.planned[0].Swatch)
	if err != nil {
		t.Fatal(err)
	}
	took := step.Amount.Value * w.FacesM2(s.planned[0].Faces)
	want := fmt.Sprintf("%.2f g taken at the bench", took)
	if words := s.see(t, fmt.Sprintf("/shelf/supplies/%d/stock", s.salt)).doc(t).one("main").words(); !strings.Contains(words, strings.TrimSpace(strings.Replace(want, "0 g", " g", 0))) && !strings.Contains(words, fmt.Sprintf("%.1f g taken", took)) {
		t.Errorf("the page does not say %q: %s", want, words)
	}
	// taken back, nobody has counted it
	moves, err := s.store.StockMoves(t.Context())
	if err != nil || len(moves[s.salt]) != 1 {
		t.Fatalf("%+v, %v", moves, err)
	}
	s.post(t, fmt.Sprintf("/shelf/supplies/%d/stock", s.salt), url.Values{"client": {"tb"}, "kind": {"taken back"}, "corrects": {id(moves[s.salt][0].ID)}}).to(t)
	if words := s.see(t, fmt.Sprintf("/shelf/supplies/%d/stock", s.salt)).doc(t).one("main").words(); !strings.Contains(words, "Nobody has counted it yet") {
		t.Errorf("the page says %s", words)
	}
}

func TestShoppingIsNeedLessStockInWholePacks(t *testing.T) {
	s := stocked(t)
	priced(t, s)
	rows, err := csv.NewReader(bytes.NewReader(s.see(t, fmt.Sprintf("/shopping.csv?set=%d", s.set)).body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string][]string{}
	for _, r := range rows {
		found[r[0]] = r
	}
	// 200 g are kept and 150 g are there, so whatever the set takes one pack is short
	if r := found["Salt"]; r == nil || r[2] != "1 pack of 500 g" || r[5] != "1.80 EUR" || r[1] != "without iodine" {
		t.Errorf("salt is %q of %q", r, rows)
	}
	if r := found["together"]; r == nil || !strings.HasSuffix(r[5], " EUR") {
		t.Errorf("%q", rows)
	}
	if a := s.see(t, "/shopping.pdf?set=abc"); a.code != 200 {
		t.Errorf("a set that is no number: status %d", a.code)
	}
}

func TestForgedMoneyIsRefused(t *testing.T) {
	s := stocked(t)
	priced(t, s)
	with := func(change map[string]string) url.Values {
		f := quoteForm("f")
		for name, v := range change {
			f.Set(name, v)
		}
		return f
	}
	for name, change := range map[string]map[string]string{
		"an exponent": {"each0": "1e99999999"}, "minus": {"each0": "-5"}, "huge": {"quantity0": strings.Repeat("9", 5000)}, "hex": {"each0": "0xff"}, "none": {"quantity0": "0"}, "tax": {"tax": "101"},
		"no customer": {"customer": " "}, "no day": {"day": "soon"}, "long": {"valid": "99999"}, "no key": {"client": ""}, "nothing": {"text0": "", "text1": "", "text2": ""},
	} {
		if a := s.post(t, fmt.Sprintf("/sets/%d/quote", s.set), with(change)); a.code != 422 || a.problem() == "" {
			t.Errorf("%s: status %d, %q", name, a.code, a.problem())
		}
	}
	if quotes, err := s.store.Quotes(t.Context()); err != nil || len(quotes) != 0 {
		t.Errorf("%d quotes, %v", len(quotes), err)
	}
	for path, form := range map[string]url.Values{
		"/costs": {"currency": {"EUR"}, "hour": {"1e400"}},
		fmt.Sprintf("/shelf/supplies/%d/price", s.salt): {"size": {"1e300"}, "packunit": {"g"}, "price": {"1"}},
		fmt.Sprintf("/shelf/metals/%d/price", s.metal):  {"per": {"sheet"}, "price": {"1"}, "sheetwidth": {"0"}, "sheetheight": {"0"}},
		fmt.Sprintf("/shelf/supplies/%d/stock", s.salt): {"client": {"y"}, "kind": {"bought"}, "amount": {"1e11"}, "unit": {"g"}},
	} {
		if a := s.post(t, path, form); a.code != 422 || a.problem() == "" {
			t.Errorf("%s: status %d, %q", path, a.code, a.problem())
		}
	}
	if a := s.see(t, fmt.Sprintf("/shelf/supplies/%d/bottle.pdf?mixed=2026-03-02&strong=400", s.ammonia)); a.code != 422 {
		t.Errorf("a strength of 400 %%: status %d", a.code)
	}
}
