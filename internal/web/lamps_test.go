package web_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"aerugo/internal/studio"
)

// TestASwatchBecomesSixLamps goes the way from one finished swatch to a customer's
// quote in a real browser: the swatch as it was run, a piece, what it takes, a batch of
// six, its cost line by line, the quote.
func TestASwatchBecomesSixLamps(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 360} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			sixLamps(t, width)
		})
	}
}

func sixLamps(t *testing.T, width int) {
	s := stocked(t)
	priced(t, s)
	chamber, err := s.store.Chamber(t.Context(), s.chamber)
	if err != nil {
		t.Fatal(err)
	}
	chamber.PadML = 90
	if _, err := s.store.SaveChamber(t.Context(), chamber); err != nil {
		t.Fatal(err)
	}
	// one swatch goes through its two hours; degreasing took 4 min, sprinkling 2, taking out and drying half an hour
	s.post(t, "/join", url.Values{"code": {s.web.JoinCode()}, "name": {"Ana"}}).to(t)
	s.begin(t, "begin", s.planned[0].ID).to(t)
	for step, took := range []time.Duration{4 * time.Minute, 2 * time.Minute, 2 * time.Hour, 30 * time.Minute} {
		s.pass(took)
		s.post(t, "/taps", url.Values{"client": {fmt.Sprint("a", step)}, "kind": {"done"}, "of": {fmt.Sprintf("%d:%d", s.planned[0].ID, step)}}).to(t)
	}
	photo, marks := s.photograph(t, s.planned[0].Swatch, studio.Front, 0)
	s.post(t, fmt.Sprintf("/photos/%d/measure", photo), marksForm(marks, true)).to(t)
	tb := open(t, s.url, "lamps", width)
	main := func() string {
		tb.wait("the page", `document.querySelector('main')`)
		return js[string](tb, `document.querySelector('main').innerText`)
	}
	says := func(want ...string) {
		t.Helper()
		text := main()
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s does not say %q: %.1200s", js[string](tb, `location.pathname`), w, text)
			}
		}
	}

	// this swatch, as it was run, is the recipe
	swatch := s.planned[0].Swatch
	tb.visit(fmt.Sprintf("/swatches/%d", swatch))
	tb.pressThrough("Keep it as it was run: a new version")
	says("The swatch it was kept from")
	tb.shot("recipe")
	versions := s.versionsOf(t, s.recipe)
	version := versions[len(versions)-1]

	// a lamp: a dome 160 mm wide and 60 mm high. A cap's area is pi (r2 + h2): 31416 mm2 outside
	tb.visit("/pieces/new?kind=dome")
	tb.fill("name", "Wall lamp")
	says("Dome or bowl")
	for _, f := range js[[]string](tb, `[...document.querySelectorAll('main input[name^="d-"]')].map(i => i.name + '|' + i.closest('label').innerText)`) {
		name, label, _ := strings.Cut(f, "|")
		switch {
		case strings.Contains(label, "height") || strings.Contains(label, "Height"):
			tb.fill(name, "60")
		case name != "d-thickness":
			tb.fill(name, "160")
		}
	}
	js[bool](tb, fmt.Sprintf(`(() => { document.querySelector('[name=metal]').value = '%d'; document.querySelector('[name=outside]').value = '%d'; document.querySelector('[name=inside]').value = ''; return true })()`, s.metal, version.ID))
	tb.fill("reference", fmt.Sprint(swatch))
	tb.shot("piece-form")
	tb.pressThrough("Keep")
	piece := regexp.MustCompile(`/pieces/\d+`).FindString(js[string](tb, `location.pathname`))
	if piece == "" {
		t.Fatalf("the piece leads to %s: %s", js[string](tb, `location.pathname`), main())
	}
	outside := math.Pi * (80*80 + 60*60) / 100 // cm2
	says(fmt.Sprintf("%.0f cm²", outside))
	tb.shot("piece")

	tb.visit(piece + "/takes?n=6")
	says("Have ready", "In the chamber")
	tb.shot("takes")

	// six of them
	tb.visit(piece + "/batches/new")
	tb.fill("pieces", "6")
	tb.fill("spares", "0")
	tb.pressThrough("Show the batch")
	tb.shot("batch-seen")
	tb.pressThrough("Make it: number the pieces")
	var set int64
	if _, err := fmt.Sscanf(js[string](tb, `location.pathname`), "/batches/%d", &set); err != nil {
		t.Fatalf("the batch leads to %s: %s", js[string](tb, `location.pathname`), main())
	}
	tb.shot("batch")
	made, err := s.store.SwatchesOf(t.Context(), set)
	if err != nil || len(made) != 6 {
		t.Fatalf("%d pieces, %v", len(made), err)
	}
	if got := made[0].OutsideMM2 / 100; math.Abs(got-outside) > 0.001*outside {
		t.Errorf("the outside is kept as %.1f cm2, by the formula it is %.1f", got, outside)
	}

	// what they cost, line by line, adds up in exact decimals
	tb.visit(fmt.Sprintf("/sets/%d/cost", set))
	tb.shot("cost")
	rows := js[[][]string](tb, `[...document.querySelectorAll('[aria-label="Table: lines of the price"] tr')].slice(1).map(r => [...r.cells].slice(0, 2).map(c => c.innerText))`)
	if len(rows) < 4 {
		t.Fatalf("the cost has %d lines: %s", len(rows), main())
	}
	sum := decimal.Zero
	for _, r := range rows[:len(rows)-1] {
		t.Logf("%s: %s", strings.ReplaceAll(r[0], "\n", " / "), r[1])
		if r[1] == "no price" {
			t.Errorf("%s has no price", r[0])
			continue
		}
		sum = sum.Add(decimal.RequireFromString(strings.ReplaceAll(r[1], " ", "")))
	}
	total := decimal.RequireFromString(strings.ReplaceAll(rows[len(rows)-1][1], " ", ""))
	t.Logf("price of all: %s", total)
	if !sum.Equal(total) {
		t.Errorf("the lines add up to %s, the page prints %s", sum, total)
	}

	// the quote: a sixth each, 21 % tax
	each := total.DivRound(decimal.NewFromInt(6), 2)
	tb.fill("customer", "Town library, reading room")
	tb.fill("text0", "Wall lamp, brass green")
	tb.fill("quantity0", "6")
	tb.fill("each0", each.StringFixed(2))
	tb.fill("tax", "21")
	tb.fill("valid", "30")
	tb.pressThrough("Keep this quote")
	tb.shot("quote")
	at := js[string](tb, `location.pathname`)
	net := each.Mul(decimal.NewFromInt(6)).Round(2)
	tax := net.Mul(decimal.RequireFromString("0.21")).RoundBank(2)
	records, err := csv.NewReader(bytes.NewReader(s.see(t, at+"/quote.csv").body)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprint(records)
	for _, want := range []string{net.StringFixed(2), tax.StringFixed(2), net.Add(tax).StringFixed(2), "Wall lamp, brass green"} {
		if !strings.Contains(text, want) {
			t.Errorf("the quote's table does not say %s: %s", want, text)
		}
	}
	for _, sheet := range []string{"a4", "letter"} {
		a := s.see(t, at+"/quote.pdf?sheet="+sheet)
		if a.code != 200 || !bytes.HasPrefix(a.body, []byte("%PDF-")) {
			t.Fatalf("the quote as PDF: status %d: %.200s", a.code, a.body)
		}
		if dir := os.Getenv("AERUGO_SHOTS"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("quote-%d-%s.pdf", width, sheet)), a.body, 0o644); err != nil {
				t.Error(err)
			}
		}
	}
}
