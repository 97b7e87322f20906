package print

import (
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func sampleBottles() []Bottle {
	return []Bottle{
		{Name: "Ammonia 10 %", Key: "ammonia-water", WtPercent: 10, Strength: "10 % by mass", Mixed: sampleDay, By: "Ann", Discard: sampleDay.AddDate(0, 6, 0), Apart: []string{"bleach", "acids", "iodine"}},
		{Name: "Copper nitrate", Key: "copper-nitrate", WtPercent: 20, Strength: "20 % by mass", Mixed: sampleDay, Apart: []string{"rags and sawdust"}, Invented: true},
		{Name: "Salt water", Key: "sodium-chloride", WtPercent: 20, Strength: "20 % by mass", Mixed: sampleDay},
	}
}

func extremeBottles() []Bottle {
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 6)
	return []Bottle{
		{Name: long, Key: "potassium-permanganate", Strength: long, Mixed: sampleDay, By: long, Discard: sampleDay, Apart: []string{long, long, long}, Note: long, Invented: true},
		{Name: "X", Key: "nothing known", Mixed: sampleDay},
		{Name: strings.Repeat("W", 200), Key: "ammonium-persulfate", Mixed: sampleDay, By: "Åsa", Apart: []string{long}},
	}
}

func signsOn(bottles []Bottle) int {
	n := 0
	for _, b := range bottles {
		n += len(hazardsOf(b).signs)
	}
	return n
}

// Statements by Regulation (EC) 1272/2008, annex III, English (EUR-Lex), for ammonia
// water as its annex VI entry has it at 10 %: H314 and, by its limits, H335; and
// copper nitrate's oxidiser H272. Signal word of both: Danger.
func TestBottleSaysWhatTheRegulationSays(t *testing.T) {
	c, err := drawBottles(nil, sampleBottles(), BottleSheet{Date: sampleDay})
	pages := pagesOf(t, c, err)
	if len(pages) != 1 {
		t.Fatalf("%d pages", len(pages))
	}
	all := pages[0].all()
	for _, want := range []string{"Ammonia 10 %", "Danger", "Causes severe skin burns and eye damage.", "May cause respiratory irritation.", "Keep away from: bleach; acids; iodine.", "Mixed 2 March 2026 by Ann",
		"Throw away after 2 September 2026", "May intensify fire; oxidiser.", "Very toxic to aquatic life with long lasting effects.", ownSheet, invented} {
		if !strings.Contains(all, want) {
			t.Errorf("the labels do not say %q: %s", want, all)
		}
	}
}

// Every code of matter's tables has its words, every pictogram is drawn, and no
// statement is ever cut off a label, whatever the substance.
func TestEveryStatementStandsOnItsLabel(t *testing.T) {
	labels := 0
	for _, sub := range matter.Substances() {
		for _, band := range sub.Bands {
			for _, code := range band.HCodes {
				if statements[code].text == "" {
					t.Errorf("%s of %s has no words", code, band.Name)
				}
			}
			for _, s := range band.Pictograms {
				if len(signs[s]) == 0 {
					t.Errorf("%s of %s is not drawn", s, band.Name)
				}
			}
			b := Bottle{Name: sub.Name, Key: sub.Key, WtPercent: (band.FromWtPercent + band.BelowWtPercent) / 2, Strength: "of some strength", Mixed: sampleDay, By: "Ann", Discard: sampleDay, Apart: []string{strings.Repeat("a long list of things ", 20)}}
			c, err := drawBottles(nil, []Bottle{b}, BottleSheet{Date: sampleDay})
			page := pagesOf(t, c, err)[0]
			all := page.all()
			for _, line := range hazardsOf(b).lines {
				if !strings.Contains(all, line) {
					t.Errorf("%s: %q does not stand on the label: %s", band.Name, line, all)
				}
			}
			if word := signalOf(band.HCodes); word != "" && !strings.Contains(all, word) {
				t.Errorf("%s: no %s", band.Name, word)
			}
			labels++
		}
	}
	if labels < 50 {
		t.Errorf("only %d labels were looked at", labels)
	}
}

// GHS, annex 1: a red frame as wide as can be seen; the sign inside it is black on
// white. The diamond's own corners are in the file.
func TestSignsAreFramedInRedAndKeepInside(t *testing.T) {
	b := sampleBottles()[:1]
	c, err := drawBottles(nil, b, BottleSheet{Date: sampleDay})
	red := 0
	for _, v := range pagesOf(t, c, err)[0].tints {
		if v[0] > 0.8 && v[1] < 0.25 && v[2] < 0.25 {
			red++
		}
	}
	if want := signsOn(b); red != want || want != 3 {
		t.Errorf("%d red frames for %d signs", red, want)
	}
	for code, parts := range signs {
		if signWords[code] == "" {
			t.Errorf("%s has no words", code)
		}
		for _, part := range parts {
			words := strings.Fields(part.path)
			for i := 0; i < len(words); {
				n := map[string]int{"M": 2, "L": 2, "C": 6, "O": 3, "Z": 0}[words[i]]
				if n == 0 && words[i] != "Z" {
					t.Fatalf("%s: %q is no word of a path", code, words[i])
				}
				v := make([]float64, n)
				for j := range v {
					var err error
					if v[j], err = strconv.ParseFloat(words[i+1+j], 64); err != nil {
						t.Fatalf("%s: %v", code, err)
					}
				}
				reach := 0.0
				if words[i] == "O" {
					reach = v[2] * 1.4142
					v = v[:2]
				}
				for j := 0; j < len(v); j += 2 {
					if abs(v[j]-50)+abs(v[j+1]-50)+reach > 43 { // the frame takes 6.5
						t.Errorf("%s: %v lies on the frame", code, v)
					}
				}
				i += n + 1
			}
		}
	}
}

func TestBottlesThatCantBeAreRefused(t *testing.T) {
	good := sampleBottles()
	for name, x := range map[string]struct {
		bottles []Bottle
		sheet   BottleSheet
	}{
		"none":          {nil, BottleSheet{Date: sampleDay}},
		"a million":     {make([]Bottle, 1000), BottleSheet{Date: sampleDay}},
		"off the sheet": {good, BottleSheet{Date: sampleDay, Start: 7}},
		"no date":       {good, BottleSheet{}},
		"no name":       {[]Bottle{{Mixed: sampleDay}}, BottleSheet{Date: sampleDay}},
		"never mixed":   {[]Bottle{{Name: "X"}}, BottleSheet{Date: sampleDay}},
		"gone before":   {[]Bottle{{Name: "X", Mixed: sampleDay, Discard: sampleDay.AddDate(0, 0, -1)}}, BottleSheet{Date: sampleDay}},
		"on no paper":   {good, BottleSheet{Date: sampleDay, Paper: "A5"}},
	} {
		if _, err := drawBottles(nil, x.bottles, x.sheet); studio.ProblemIn(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAnyBottleKeepsToItsLabel(t *testing.T) {
	keys := []string{"ammonia-water", "copper-sulfate", "potassium-permanganate", "water", "nothing"}
	rapid.Check(t, func(rt *rapid.T) {
		b := Bottle{Name: "x" + anyText(rt, "name"), Key: rapid.SampledFrom(keys).Draw(rt, "key"), Strength: anyText(rt, "strength"), Mixed: sampleDay, By: anyText(rt, "by"), Apart: []string{anyText(rt, "apart")}, Note: anyText(rt, "note")}
		place := rapid.IntRange(1, BottlesPerSheet).Draw(rt, "place")
		c, err := drawBottles(nil, []Bottle{b}, BottleSheet{Date: sampleDay, Start: place, Paper: rapid.SampledFrom(Papers).Draw(rt, "paper")})
		if err != nil {
			rt.Fatal(err)
		}
		at := box{(c.w-192)/2 + float64((place-1)%2)*96, (c.h-264)/2 + float64((place-1)/2)*88, 96, 88}
		for _, cell := range c.cells {
			if u := cell.used; u.x < at.x || u.y < at.y || u.x+u.w > at.x+at.w || u.y+u.h > at.y+at.h {
				rt.Fatalf("%q leaves the label", cell.text)
			}
		}
	})
}

func sampleQuote() Quote {
	return Quote{Studio: "Studio Verdigris", Number: 12, Day: sampleDay, Until: sampleDay.AddDate(0, 0, 30), Customer: "A. Buyer\nStreet 1\nTown", Currency: "EUR",
		Lines: []QuoteLine{{"Wall lamp, blue-green, inside and outside", "6", "24.97", "149.82"}, {"Delivery", "1", "12.50", "12.50"}, {"Fitting, hours", "2.5", "31.333", "78.33"}},
		Net:   "240.65", TaxRate: "21", Tax: "50.54", Total: "291.19", Care: "Dust with a dry cloth; no polish.", Note: "Each piece differs a little.", Invented: true}
}

func extremeQuote() Quote {
	q := sampleQuote()
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 7)
	q.Studio, q.Customer, q.Care, q.Note = long, strings.Repeat(long+"\n", 20), strings.Repeat(long, 6), strings.Repeat("W", 1500)
	for range 17 {
		q.Lines = append(q.Lines, QuoteLine{long, "999 999 999.999999", "999 999 999.999999", "999 999 999 999 999 998.00"})
	}
	q.Net, q.Tax, q.Total, q.TaxRate = "999 999 999 999 999 998.00", "1.00", "999 999 999 999 999 999.00", "99.999999"
	return q
}

func sampleShopping() Shopping {
	return Shopping{Studio: "Studio Verdigris", Date: sampleDay, For: "For: Fuming time, salt; Six lamps", Currency: "EUR", Total: "21.10 EUR", Open: "No price yet: Copper nitrate.",
		Rows: []ShoppingRow{{"Salt", "table, no iodine", "2 packs of 500 g", "needed 1300 g, to keep 200 g, there 900 g", "1.80 EUR", "3.60 EUR"},
			{"Household ammonia", "9.5 %", "1 pack of 1000 mL", "needed 640 mL, to keep 100 mL, there 0 mL; nobody has counted what is there", "17.50 EUR", "17.50 EUR"}}}
}

func extremeShopping() Shopping {
	s := sampleShopping()
	long := strings.Repeat("Ammoniumchloridlösung ", 12)
	s.For, s.Open, s.Studio = strings.Repeat(long, 4), long, long
	for range 40 {
		s.Rows = append(s.Rows, ShoppingRow{long, long, long, strings.Repeat(long, 3), strings.Repeat("9", 40), strings.Repeat("9", 60)})
	}
	return s
}

func TestQuoteSaysWhatWasKept(t *testing.T) {
	c, err := drawQuote(nil, sampleQuote())
	pages := pagesOf(t, c, err)
	if len(pages) != 1 {
		t.Fatalf("%d pages", len(pages))
	}
	all := pages[0].all()
	for _, want := range []string{"Quote 12", "2 March 2026", "holds until 1 April 2026", "A. Buyer Street 1 Town", "149.82", "12.50", "78.33", "Net 240.65", "Tax, 21 % of it 50.54", "Total, EUR 291.19", "Dust with a dry cloth", draftWords, "Studio Verdigris", invented, "page 1 of 1"} {
		if !strings.Contains(all, want) {
			t.Errorf("the quote does not say %q: %s", want, all)
		}
	}
	c, err = drawQuote(nil, extremeQuote())
	if n := len(pagesOf(t, c, err)); n < 2 {
		t.Errorf("a long quote takes %d page", n)
	}
	for name, change := range map[string]func(*Quote){"no lines": func(q *Quote) { q.Lines = nil }, "number 0": func(q *Quote) { q.Number = 0 }, "no paper": func(q *Quote) { q.Paper = "A5" }} {
		q := sampleQuote()
		change(&q)
		if _, err := drawQuote(nil, q); studio.ProblemIn(err) == nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestShoppingListSaysWhatToBuy(t *testing.T) {
	c, err := drawShopping(nil, sampleShopping())
	all := pagesOf(t, c, err)[0].all()
	for _, want := range []string{"Salt", "2 packs of 500 g, table, no iodine", "there 900 g", "3.60 EUR", "1.80 EUR each", "Together 21.10 EUR", "No price yet: Copper nitrate."} {
		if !strings.Contains(all, want) {
			t.Errorf("the list does not say %q: %s", want, all)
		}
	}
	if _, err := drawShopping(nil, Shopping{Date: sampleDay}); studio.ProblemIn(err) == nil {
		t.Errorf("an empty list: %v", err)
	}
}

func TestSignalWordIsTheGravest(t *testing.T) {
	for want, codes := range map[string][]string{danger: {"H302", "H314", "H400"}, warning: {"H302", "H319"}, "": {"H411", "EUH031"}} {
		for range 3 {
			if got := signalOf(codes); got != want {
				t.Errorf("%v give %q, want %q", codes, got, want)
			}
			slices.Reverse(codes)
		}
	}
}
