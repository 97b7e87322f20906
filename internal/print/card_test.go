package print

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func cardPages(t testing.TB, card Card) []readPage {
	t.Helper()
	c, err := drawCard(nil, card)
	return pagesOf(t, c, err)
}

func TestCardSaysWhatToDo(t *testing.T) {
	pages := cardPages(t, sampleCard(t))
	if len(pages) != 1 {
		t.Fatalf("%d pages", len(pages))
	}
	all := pages[0].all()
	for _, want := range []string{
		"Salt and fume, four hours", "version 3", "saved 14 February 2026", "On bare metal: copper C11000, annealed, 0.6 mm", "invented example",
		"Household ammonia (9.5 wt%), lot 12B in the tall box 4 h −10 min, +20 min",
		"salt light, 11 ± 4 g/m² (assumed) · 0.036 ± 0.013 oz/ft²", "sieve · front only", "Hold the sieve two hands above the plate.",
		"40 ± 8 mL/m² · 0.126 ± 0.025 fl oz/ft²", "2.5 mL · 1/2 tsp", "soft brass brush · both faces",
		"42 front greyish blue-green L* 54.2 a* −22.4 · b* −4.1 ± 4.3 over the face by grey card",
		"42 back brown L* 41.0 a* 18.1 · b* 24.9 ± 4.3 over the face not calibrated: no grey card",
		"Swatches made with this version: 42 front, greyish blue-green · 45 front, blue-green · 51 both faces, pale green.",
		"Studio Verdigris · printed 2 March 2026", "page 1 of 1",
		"Checked for: Teaching room, under its hood, for a class of adults",
		"two made alike differ by about 2.1 (1.5 to 3.6)", "Keep the fuming time within 10 min: 20 min off is about 3.0",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the card does not say %q:\n%s", want, all)
		}
	}
	if pages[0].images != 2 {
		t.Errorf("%d photographs, want 2", pages[0].images)
	}
}

func TestCardSaysWhatItLiesOver(t *testing.T) {
	card := sampleCard(t)
	card.Over, card.OverState, card.Invented = "Liver brown, version 2", studio.OverWet, false
	all := cardPages(t, card)[0].all()
	if !strings.Contains(all, "Over Liver brown, version 2, still wet, on copper C11000") {
		t.Errorf("the card says %s", all)
	}
	if strings.Contains(all, invented) {
		t.Error("a real recipe is called invented")
	}
	card.Evidence, card.Place = nil, ""
	if all := cardPages(t, card)[0].all(); !strings.Contains(all, "for no class") {
		t.Errorf("a card nobody said the place of says %s", all)
	}
	if all := cardPages(t, card)[0].all(); !strings.Contains(all, "No swatch has been made with this version yet.") {
		t.Errorf("a recipe without swatches says %s", all)
	}
}

// Factors: NIST SP 811 (2008), appendix B.8: 1 oz (avoirdupois)/ft² = 0.3051517
// kg/m²; 1 teaspoon = 4.928922 mL; 1 fluid ounce (US) = 29.57353 mL; 1 ft² =
// 0.09290304 m²; 1 oz = 28.34952 g.
func TestAmountsAreGivenInBothSystems(t *testing.T) {
	for _, c := range []struct {
		amount studio.Amount
		us     string
		value  float64
	}{
		{studio.Amount{Value: 25, Unit: studio.GramPerM2}, "0.0819 oz/ft²", 25 / 305.1517},
		{studio.Amount{Value: 305.1517, Unit: studio.GramPerM2}, "1 oz/ft²", 1},
		{studio.Amount{Value: 100, Unit: studio.MLPerM2}, "0.314 fl oz/ft²", 100 / 29.57353 * 0.09290304},
		{studio.Amount{Value: 4.93, Unit: studio.Millilitre}, "1 tsp", 1},
		{studio.Amount{Value: 12.5, Unit: studio.Millilitre}, "2 1/2 tsp", 2.5},
		{studio.Amount{Value: 59.147, Unit: studio.Millilitre}, "2 fl oz", 2},
		{studio.Amount{Value: 28.35, Unit: studio.Gram}, "1 oz", 1},
		{studio.Amount{Value: 50, SD: 10, Unit: studio.GramPerM2}, "0.164 ± 0.033 oz/ft²", 50 / 305.1517},
		{studio.Amount{Value: 50, SD: 0.001, Unit: studio.GramPerM2}, "0.164 ± 0.00000328 oz/ft²", 50 / 305.1517},
	} {
		if got := usAmount(c.amount); got != c.us {
			t.Errorf("%s is %q, want %q", c.amount, got, c.us)
		}
		got, err := matter.Convert(c.amount.Value, matter.Unit(c.amount.Unit), usUnit(c.amount))
		if err != nil || math.Abs(got.Value-c.value) > 0.02*c.value {
			t.Errorf("%s is %v, %v, want %v", c.amount, got.Value, err, c.value)
		}
	}
	if got := amountLine(studio.Amount{}); got != "" {
		t.Errorf("no amount is written %q", got)
	}
}

func TestStrengthIsSaidOnce(t *testing.T) {
	for supply, want := range map[string]string{
		"household ammonia (9.5 wt%), lot 3": "",
		"ammonia (9.5 % by mass)":            "",
		"strong ammonia (19.5 wt%)":          "at 9.5 % by mass",
		"vinegar":                            "at 9.5 % by mass",
		"":                                   "at 9.5 % by mass",
	} {
		if got := (CardStep{Step: studio.Step{Strength: 9.5}, Supply: supply}).strength(); got != want {
			t.Errorf("%q: %q, want %q", supply, got, want)
		}
	}
}

// A page is what hangs over the bench: recipes of up to 20 steps stay on one.
func TestTwentyStepsStayOnOnePage(t *testing.T) {
	for _, paper := range Papers {
		for _, n := range []int{1, 5, 10, 15, 20} {
			card := longCard(t, n, false)
			card.Paper = paper
			pages := cardPages(t, card)
			if len(pages) != 1 {
				t.Errorf("%s: %d steps take %d pages", paper, n, len(pages))
			}
			if strings.Contains(pages[0].all(), "Continued") {
				t.Errorf("%s: %d steps on one page say that they go on", paper, n)
			}
		}
	}
}

func TestNotesMoveOutBeforeStepsDo(t *testing.T) {
	card := longCard(t, 25, true)
	pages := cardPages(t, card)
	if len(pages) != 2 {
		t.Fatalf("%d pages", len(pages))
	}
	first, second := pages[0].all(), pages[1].all()
	if !regexp.MustCompile(`Continued on page 2: (sources and )?notes to the steps\.`).MatchString(first) || !strings.Contains(first, "page 1 of 2") {
		t.Errorf("the first page does not say what is overleaf: %s", first)
	}
	if strings.Contains(first, "Watch the edges") || !strings.Contains(second, "1 degrease: Watch the edges") || !strings.Contains(second, "25 dry: Watch the edges") {
		t.Error("the notes are not overleaf")
	}
	if strings.Count(first, "note at the end") != 14 { // 13 odd steps and step 14
		t.Errorf("%d steps point to their note", strings.Count(first, "note at the end"))
	}
}

func TestLongRecipeSaysThatItGoesOn(t *testing.T) {
	card := longCard(t, 60, false)
	pages := cardPages(t, card)
	if len(pages) < 2 {
		t.Fatalf("%d pages", len(pages))
	}
	m := regexp.MustCompile(`Continued on page 2: steps (\d+) to 60`).FindStringSubmatch(pages[0].all())
	if m == nil {
		t.Fatalf("the first page does not say which steps are overleaf: %s", pages[0].all())
	}
	seen := map[string]bool{}
	for i, p := range pages {
		if i > 0 && !strings.Contains(p.all(), "A recipe of 60 steps, version 3, continued") {
			t.Errorf("page %d does not say what it is a page of", i+1)
		}
		for _, r := range p.texts {
			if r.x0 < cardMargin+1 && r.bold {
				seen[r.text] = true
			}
		}
	}
	for n := 1; n <= 60; n++ {
		if !seen[decimalless(n)] {
			t.Errorf("step %d is nowhere", n)
		}
	}
}

func decimalless(n int) string { return strings.TrimSuffix(decimal(float64(n)), ".0") }

// Type for hands at work is 7.5 points or more; only the sources are smaller.
func TestTypeIsNotTooSmall(t *testing.T) {
	for _, card := range []Card{sampleCard(t), longCard(t, 25, true), extremeCard(t)} {
		// the lines of the sources, however they are broken, in either column
		small := map[string]bool{}
		s := safetyOf(card.Uses, card.Metal)
		st := style{size: 6.5}
		for i, text := range append(slices.Clone(s.sources), "Lines with no number and no 'from memory' are common practice.") {
			line := text
			if i < len(s.sources) {
				line = fmt.Sprintf("[%d] %s", i+1, text)
			}
			for _, page := range []float64{210, 215.9} {
				for _, w := range []float64{cardSide, page - 2*cardMargin - cardSide - cardGutter, page - 2*cardMargin} {
					for _, l := range st.wrap(line, w) {
						small[l] = true
					}
				}
			}
		}
		for _, p := range cardPages(t, card) {
			for _, r := range p.texts {
				if r.size < 7.5 && !small[r.text] {
					t.Errorf("%q is set in %v points", r.text, r.size)
				}
				if r.size < 6.5 {
					t.Errorf("%q is set in %v points", r.text, r.size)
				}
			}
		}
	}
}

func TestEvidenceCountsWhatItDoesNotName(t *testing.T) {
	card := extremeCard(t)
	text := card.evidence(&canvas{}, style{size: 7.5}, 120)
	m := regexp.MustCompile(` and (\d+) more\.$`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("evidence is %q", text)
	}
	named := strings.Count(text, " front") + strings.Count(text, " both faces")
	if decimalless(len(card.Evidence)-named) != m[1] {
		t.Errorf("%d of %d are named, and %s more", named, len(card.Evidence), m[1])
	}
}

func TestAnyCardStaysOnItsPages(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		card := Card{
			Date: sampleDay, Name: "n" + anyText(rt, "name"), Version: rapid.IntRange(1, 9999).Draw(rt, "version"), Studio: anyText(rt, "studio"),
			Metal: anyText(rt, "metal"), Over: anyText(rt, "over"), Paper: rapid.SampledFrom(Papers).Draw(rt, "paper"), Invented: rapid.Bool().Draw(rt, "invented"),
		}
		kinds := rapid.SampledFrom(studio.StepKinds)
		for range rapid.IntRange(1, 40).Draw(rt, "steps") {
			card.Steps = append(card.Steps, CardStep{
				Step: studio.Step{
					Kind: kinds.Draw(rt, "kind"), Tool: anyText(rt, "tool"), Note: anyText(rt, "note"), Place: anyText(rt, "place"),
					Duration: time.Duration(rapid.Int64Range(1, int64(50*24*time.Hour)).Draw(rt, "time")), Late: time.Duration(rapid.Int64Range(0, int64(50*24*time.Hour)).Draw(rt, "late")),
					Amount: studio.Amount{Value: rapid.Float64Range(0, 1e5).Draw(rt, "amount"), SD: rapid.Float64Range(0, 1e5).Draw(rt, "sd"), Unit: rapid.SampledFrom(studio.Units).Draw(rt, "unit")},
				},
				Supply: anyText(rt, "supply"), Chamber: anyText(rt, "chamber"),
			})
		}
		c, err := drawCard(nil, card)
		if err != nil {
			rt.Fatal(err)
		}
		for i, p := range pagesOf(t, c, err) {
			for _, fault := range p.faults() {
				rt.Errorf("page %d: %s", i+1, fault)
			}
		}
	})
}
