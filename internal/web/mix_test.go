package web_test

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/textproto"
	"net/url"
	"strings"
	"testing"

	"aerugo/internal/studio"
)

// TestAMixIsToldByMassAndVolume: a litre of 10 % ammonia of 957.5 g takes 342.0 g
// (380.8 mL) of 28 % and 615.5 g of water (CRC table of densities, 20 °C); 26
// degrees Baumé is 29.4 % (trade table).
func TestAMixIsToldByMassAndVolume(t *testing.T) {
	s := stocked(t)
	for query, says := range map[string][]string{
		"material=ammonia-water&strength=28&unit=wt%25&to=10&amount=1000&amountunit=mL":                      {"615.5 g", "342.0 g", "957.5 g", "volumes do not add up", "380.8 mL", "make 1000.0 mL, not 997.5 mL", "ammonia into water", "Gloves", "First aid", "from memory"},
		"material=ammonia-water&strength=26&unit=be&to=5&amount=1000&amountunit=g":                           {"169.9 g", "830.1 g", "ammonia into water"},
		"material=copper-sulfate&unit=crystals&to=5&amount=100&amountunit=g":                                 {"7.82 g", "92.2 g", "crystals"},
		fmt.Sprintf("supply=%d&to=5&amount=90&amountunit=g", s.ammonia):                                      {"50.0 g", "40.0 g", "one percent weaker or stronger"},
		fmt.Sprintf("supply=%d&unit=wt%%25&to=2&loading=150&facewidth=50&faceheight=50&faces=24", s.vinegar): {"9 mL lie on them", "makes", "acid into water"},
		fmt.Sprintf("supply=%d&to=12&amount=500&amountunit=g", s.salt):                                       {"60.0 g", "440.0 g"},
	} {
		a := s.see(t, "/mix?"+query)
		said := a.doc(t).one("main").words()
		if a.code != 200 {
			t.Errorf("%s: status %d: %s", query, a.code, a.problem())
		}
		for _, want := range says {
			if !strings.Contains(strings.ToLower(said), strings.ToLower(want)) {
				t.Errorf("%s does not say %q: %.900s", query, want, said)
			}
		}
		pdf := s.see(t, "/mix/card.pdf?"+query+"&sheet=letter")
		if pdf.code != 200 || !bytes.HasPrefix(pdf.body, []byte("%PDF-")) {
			t.Errorf("%s as a card: status %d: %s", query, pdf.code, pdf.problem())
		}
	}
	for query, says := range map[string]string{
		"material=ammonia-water&strength=28&to=30&amount=100":               "at most its own 28 %",
		"material=ammonia-water&strength=strong&to=5&amount=100":            `"strong"`,
		"material=ammonia-water&to=5&amount=100":                            "how strong",
		"to=5&amount=100&strength=5":                                        "from the list",
		"material=ammonia-water&strength=28&to=&amount=100":                 "strength you want",
		"material=ammonia-water&strength=28&to=5":                           "how much",
		"material=ammonia-water&strength=28&to=5&loading=150&faces=2":       "above 0",
		"material=vinegar&strength=26&unit=be&to=5&amount=100":              "ammonia only",
		"material=ammonium-chloride&unit=dry&to=5&amount=100&amountunit=mL": "how many grams",
		"material=sulfuric-acid&strength=96&to=10&amount=100":               "Safer:",
		"supply=999&to=5&amount=100":                                        "999",
	} {
		a := s.see(t, "/mix?"+query)
		if a.code != 422 || !strings.Contains(a.problem(), says) {
			t.Errorf("%s: status %d: %q, want %q", query, a.code, a.problem(), says)
		}
		if pdf := s.see(t, "/mix/card.pdf?"+query); pdf.code != 422 || bytes.Contains(pdf.body, []byte("%PDF-")) {
			t.Errorf("%s as a card: status %d", query, pdf.code)
		}
	}
	if a := s.see(t, "/mix/card.pdf"); a.code != 404 {
		t.Errorf("a card of nothing: status %d", a.code)
	}
}

// sendSheet uploads a data sheet under any name.
func sendSheet(t *testing.T, b *bench, supply int64, name string, data []byte) answer {
	t.Helper()
	var buf bytes.Buffer
	w := multipart.NewWriter(&buf)
	part, err := w.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="sheet"; filename=%q`, name)}, "Content-Type": {"text/html"}})
	if err != nil {
		t.Fatal(err)
	}
	part.Write(data) // a buffer takes everything
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return send(t, request(t, "POST", fmt.Sprintf("%s/shelf/supplies/%d/sheet", b.url, supply), &buf, "Content-Type", w.FormDataContentType()))
}

func TestADataSheetIsKeptAndOnlyServedToBeSaved(t *testing.T) {
	s := stocked(t)
	data := []byte("%PDF-1.7\n<script>alert(1)</script>")
	sendSheet(t, s.bench, s.ammonia, `..\..\<b>am"monia.pdf`, data).to(t)
	page := s.see(t, fmt.Sprintf("/shelf/supplies/%d", s.ammonia)).doc(t)
	link := page.one("main a[download]")
	if link == nil || link.words() != "<b>ammonia.pdf" {
		t.Fatalf("the page links %v", link)
	}
	a := s.see(t, link.attr["href"])
	if a.code != 200 || !bytes.Equal(a.body, data) {
		t.Fatalf("status %d, %q", a.code, a.body)
	}
	for name, want := range map[string]string{"Content-Type": "application/octet-stream", "X-Content-Type-Options": "nosniff", "Content-Security-Policy": "sandbox", "Content-Disposition": "attachment"} {
		if got := a.header.Get(name); !strings.HasPrefix(got, want) {
			t.Errorf("%s is %q", name, got)
		}
	}
	for what, c := range map[string]struct {
		data []byte
		says string
	}{"nothing": {nil, "Choose"}, "a page": {[]byte("<html>"), "no PDF"}, "a big one": {append([]byte("%PDF-"), make([]byte, studio.MaxSheet)...), "25 MB"}, "a huge one": {append([]byte("%PDF-"), make([]byte, studio.MaxSheet+1<<20)...), "25 MB"}} {
		a := sendSheet(t, s.bench, s.vinegar, "x.pdf", c.data)
		if a.code != 422 || !strings.Contains(a.problem(), c.says) {
			t.Errorf("%s: status %d: %q", what, a.code, a.problem())
		}
	}
	if sheets, err := s.store.Sheets(t.Context(), s.vinegar); err != nil || len(sheets) != 0 {
		t.Errorf("refused sheets were kept: %v, %v", sheets, err)
	}
	if a := sendSheet(t, s.bench, 999, "x.pdf", data); a.code != 404 {
		t.Errorf("a sheet of no supply: status %d", a.code)
	}
	if a := s.see(t, "/sheets/999"); a.code != 404 {
		t.Errorf("no such sheet: status %d", a.code)
	}
	cut := request(t, "POST", fmt.Sprintf("%s/shelf/supplies/%d/sheet", s.url, s.vinegar), io.LimitReader(strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"sheet\"; filename=\"a.pdf\"\r\n\r\n%PDF-"), 200), "Content-Type", "multipart/form-data; boundary=x")
	if a := send(t, cut); a.code != 422 {
		t.Errorf("cut short: status %d: %s", a.code, a.problem())
	}
}

// TestFromMemoryStaysMarkedUntilChecked: every glove is from memory until the
// person ticks it against the bottle's own sheet; who and when is kept.
func TestFromMemoryStaysMarkedUntilChecked(t *testing.T) {
	s := stocked(t)
	path := fmt.Sprintf("/shelf/supplies/%d", s.ammonia)
	doubts := func() int { return len(s.see(t, path).doc(t).all("li.doubt")) }
	before := doubts()
	if before == 0 {
		t.Fatal("nothing is marked as from memory")
	}
	row := s.see(t, path).doc(t).one("li.doubt form")
	form := submitted(row)
	form.Set("checked", "1")
	s.post(t, path+"/checked", form).to(t)
	if after := doubts(); after != before-1 {
		t.Errorf("%d are marked, were %d", after, before)
	}
	if said := s.see(t, path).doc(t).one("main").words(); !strings.Contains(said, "✓ Checked against my sheet by") {
		t.Errorf("the page does not say who checked it: %.900s", said)
	}
	form.Set("checked", "0")
	s.post(t, path+"/checked", form).to(t)
	if after := doubts(); after != before {
		t.Errorf("taken back, %d are marked, were %d", after, before)
	}
	for name, change := range map[string][2]string{"another text": {"text", "no gloves needed"}, "no such row": {"row", "hat"}} {
		bad := url.Values{"row": {form.Get("row")}, "text": {form.Get("text")}, "checked": {"1"}}
		bad.Set(change[0], change[1])
		if a := s.post(t, path+"/checked", bad); a.code != 422 && a.code != 409 {
			t.Errorf("%s: status %d", name, a.code)
		}
	}
	// what was checked of one strength is not checked of another
	form.Set("checked", "1")
	s.post(t, path+"/checked", form).to(t)
	s.post(t, "/shelf/supplies", url.Values{"id": {id(s.ammonia)}, "name": {"Ammonia"}, "material": {"ammonia-water"}, "strength": {"28"}, "strengthunit": {"wt%"}}).to(t)
	if said := s.see(t, path).doc(t).one("main").words(); !strings.Contains(said, "something else when it was checked") {
		t.Errorf("a tick of 9 %% holds for 28 %%: %.900s", said)
	}
}

// TestTheShelfSaysWhatStandsApart: ammonia and bleach (X01), vinegar and liver of
// sulfur (X03) of the never-meet table.
func TestTheShelfSaysWhatStandsApart(t *testing.T) {
	s := stocked(t)
	s.post(t, "/shelf/supplies", url.Values{"name": {"Bleach"}, "material": {"bleach"}, "strengthunit": {"wt%"}}).to(t)
	for _, path := range []string{"/shelf", fmt.Sprintf("/shelf/supplies/%d", s.ammonia)} {
		said := s.see(t, path).doc(t).one("ul.clashes").words()
		for _, want := range []string{"Never together", "bleach", "hloramine", "different shelves", "Safer:"} {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q: %s", path, want, said)
			}
		}
	}
	if said := s.see(t, "/shelf").doc(t).one("ul.clashes").words(); !strings.Contains(said, "ydrogen sulfide") {
		t.Errorf("acid and sulfide may stand together: %s", said)
	}
}

// TestTheRinseIsCollected: 50 x 40 mm swatches, salt and fumes; the bound is held
// to stoichiometry in package plan.
func TestTheRinseIsCollected(t *testing.T) {
	s := stocked(t)
	for _, path := range []string{fmt.Sprintf("/sets/%d", s.set), fmt.Sprintf("/recipes/%d", s.recipe)} {
		said := s.see(t, path).doc(t).one("details.waste").words()
		for _, want := range []string{"at most", "g of copper", "do not pour", "litres of water", "no answer", "copper and ammonia", "40 CFR 433.15", "Assumed"} {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q: %s", path, want, said)
			}
		}
	}
}

// TestMixingInABrowser asks for a mix as a person would, on a phone, and is
// stopped where it must be.
func TestMixingInABrowser(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	p := stopPair{materials: []string{"liver-of-sulfur", "vinegar"}}
	p.keep(t, s.bench, s.metal)
	tb := open(t, s.url, "mixing", 390)
	tb.visit("/shelf")
	tb.pressThrough("Mix a solution")
	tb.choose("supply", "none")
	tb.choose("material", "ammonia water")
	tb.fill("strength", "28")
	tb.fill("to", "10")
	tb.fill("amount", "1000")
	tb.choose("amountunit", "mL")
	tb.pressThrough("Say what to weigh")
	if said := js[string](tb, `document.querySelector('main').innerText`); !strings.Contains(said, "342.0 g") || !strings.Contains(said, "do not add up") {
		t.Errorf("the page says %.900s", said)
	}
	tb.shot("mix")
	for _, x := range tb.violations() {
		t.Errorf("mix: %s", x)
	}
	tb.fill("to", "40")
	tb.pressThrough("Say what to weigh")
	if js[string](tb, `document.querySelector('main [name=to]').value`) != "40" || !strings.Contains(js[string](tb, `document.querySelector('.wrong').innerText`), "28") {
		t.Error("a refused mix does not come back as typed")
	}
	tb.visit(fmt.Sprintf("/sets/%d", p.set))
	if said := js[string](tb, `document.querySelector('.problem').innerText`); !strings.Contains(said, "neither printed nor begun") || js[bool](tb, `!!document.querySelector('main [formaction*="bench.pdf"]')`) {
		t.Errorf("the stopped set says %q", said)
	}
	tb.shot("stop")
	for _, x := range tb.violations() {
		t.Errorf("stopped set: %s", x)
	}
	if js[bool](tb, `!!document.querySelector('main form[action="/begin"] button')`) {
		t.Error("the stopped set offers to be started")
	}
	tb.visit("/")
	js[bool](tb, fmt.Sprintf(`(document.querySelector('input[name=t][value="%d"]').click(), true)`, p.treatment))
	js[bool](tb, fmt.Sprintf(`(document.querySelector('input[name=t][value="%d"]').form.querySelector('button.main').click(), true)`, p.treatment))
	tb.wait("the refusal", `document.querySelector('.refused')?.innerText.includes('ydrogen sulfide')`)
	tb.wait("the board drawn again, with the reason still there", `!document.querySelector('input[name=t]:checked')?.form.querySelector('button:disabled') && document.querySelector('.refused') && !document.querySelector('#board .refused')`)
	if n := len(s.events(t, p.treatment)); n != 0 {
		t.Errorf("%d events were recorded", n)
	}
}
