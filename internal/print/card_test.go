package print

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

func cardPages(t testing.TB, card Card) []readPage {
	t.Helper()
	c, err := drawCard(card)
	return pagesOf(t, c, err)
}

// plainText is a page's words, without the numbers of sources.
func plainText(p readPage) string {
	return strings.Join(strings.Fields(regexp.MustCompile(`\[\d+\]|\(from memory\)`).ReplaceAllString(p.all(), "")), " ")
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
	card.Evidence = nil
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
	if !strings.Contains(first, "Continued on page 2: notes to the steps.") || !strings.Contains(first, "page 1 of 2") {
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

func TestEveryCautionIsOnTheCard(t *testing.T) {
	for name, uses := range map[string][]matter.Use{
		"ammonia": ammonia(9.5), "strong ammonia": ammonia(28), "ammonia of unknown strength": ammonia(0),
		"copper sulfate": {{Key: "copper-sulfate", Step: 1, Form: "liquid"}},
		"unknown":        {{Key: "grandmother's powder", Step: 1, Form: "solid"}},
		"sulfide":        {{Key: "liver-of-sulfur", Step: 1, Form: "liquid"}},
	} {
		for _, metal := range []string{"copper C11000", "brass C26000, hard", ""} {
			card := sampleCard(t)
			card.Uses, card.Metal = uses, metal
			pages := cardPages(t, card)
			var all string
			for _, p := range pages {
				all += plainText(p) + " "
			}
			cautions := matter.Cautions(uses, metal)
			if len(cautions) == 0 {
				t.Fatalf("%s: no cautions to look for", name)
			}
			last := -1
			for i, c := range cautions {
				text, _, _ := strings.Cut(c.Text, " Gloves: ") // gloves and eyes have their own place
				at := strings.Index(all, strings.Join(strings.Fields(text), " "))
				if at < 0 {
					t.Errorf("%s on %q: the card does not say %q", name, metal, text)
					continue
				}
				if i < len(cautions)-1 {
					if at < last {
						t.Errorf("%s on %q: %q comes too early", name, metal, text)
					}
					last = at
				}
				if c.Source != "" && !strings.Contains(all, strings.Join(strings.Fields(c.Source), " ")) {
					t.Errorf("%s on %q: the source %q is missing", name, metal, c.Source)
				}
			}
			for i, p := range pages {
				if !strings.Contains(plainText(p), cautions[len(cautions)-1].Text) {
					t.Errorf("%s on %q: page %d does not defer to label and data sheet", name, metal, i+1)
				}
			}
			for _, u := range uses {
				if b, err := matter.At(u.Key, u.WtPercent); err == nil && len(b.Hazards) > 0 {
					for _, want := range []string{b.Gloves, b.Eyes} {
						if !strings.Contains(all, strings.TrimSuffix(want, ".")) {
							t.Errorf("%s on %q: the card does not say %q", name, metal, want)
						}
					}
				}
			}
		}
	}
}

// Acid on sulfide frees hydrogen sulfide, and ammonia over a copper nitrate
// patina can leave an explosive crust: Lab Manager, 'Incompatible chemical
// mixtures'; CRC Handbook of Chemistry and Physics, section 16-23, tables 1-2.
func TestCardForWhatMustNotMeetIsRefused(t *testing.T) {
	for _, uses := range [][]matter.Use{
		{{Key: "liver-of-sulfur", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 2, Form: "liquid"}},
		{{Key: "copper-nitrate", Step: 1, Form: "residue"}, {Key: "ammonia-water", WtPercent: 10, Step: 2, Form: "fume"}},
	} {
		card := sampleCard(t)
		card.Uses = uses
		var buf bytes.Buffer
		err := RecipeCard(&buf, card)
		p := studio.ProblemIn(err)
		if p == nil || p.Kind != studio.Unsafe || !strings.Contains(p.Text, "Rule:") {
			t.Errorf("%v: error is %v, want a refusal that names the rule", uses, err)
		}
		if buf.Len() > 0 {
			t.Errorf("%v: %d bytes were written", uses, buf.Len())
		}
	}
	card := sampleCard(t)
	card.Uses = []matter.Use{{Key: "sodium-chloride", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 1, Form: "liquid"}}
	if err := RecipeCard(&bytes.Buffer{}, card); err != nil {
		t.Errorf("salt and vinegar are refused: %v", err)
	}
}

// The text of a clash is the rule table's own: what comes first is what needs a
// hood, what only asks for care comes after the cautions.
func TestCardSaysWhatMeets(t *testing.T) {
	card := sampleCard(t)
	card.Uses = []matter.Use{
		{Key: "sodium-thiosulfate", Step: 1, Form: "liquid"}, {Key: "vinegar", WtPercent: 5, Step: 2, Form: "liquid"},
		{Key: "hydrogen-peroxide", WtPercent: 3, Step: 3, Form: "liquid"}, {Key: "copper-sulfate", Step: 4, Form: "liquid"},
	}
	clashes := matter.Clashes(card.Uses, card.Metal)
	all := ""
	for _, p := range cardPages(t, card) {
		all += plainText(p) + " "
	}
	caution, _, _ := strings.Cut(matter.Cautions(card.Uses, card.Metal)[0].Text, " Gloves: ")
	first := strings.Index(all, caution)
	levels := map[string]int{}
	for _, c := range clashes {
		levels[c.Level]++
		at := strings.Index(all, strings.TrimSuffix(sentence(c.What)[1:], "."))
		if at < 0 {
			t.Errorf("the card does not say %q", c.What)
		}
		if (c.Level == matter.Hood) != (at < first) {
			t.Errorf("%s (%s) stands at %d, the cautions at %d", c.ID, c.Level, at, first)
		}
	}
	if levels[matter.Hood] == 0 || levels[matter.Care] == 0 {
		t.Fatalf("the sample has the levels %v; it needs a hood and care", levels)
	}
}

func TestNoCautionIsLostOverleaf(t *testing.T) {
	for _, card := range []Card{extremeCard(t), longCard(t, 22, false)} {
		card.Uses = extremeCard(t).Uses
		card.Metal = "brass C26000, hard"
		all := ""
		pages := cardPages(t, card)
		for _, p := range pages {
			all += strings.ReplaceAll(p.all(), " ", "")
		}
		if len(pages) < 2 {
			t.Fatal("the sample stays on one page")
		}
		if !strings.Contains(all, "Cautions,continued") {
			t.Error("the cautions go on without a word")
		}
		s := safetyOf(card.Uses, card.Metal)
		want := s.boxed
		for _, g := range s.guards {
			want = append(want, g.lines...)
		}
		for i, source := range s.sources {
			want = append(want, remark{text: fmt.Sprintf("[%d] %s", i+1, source)})
		}
		for _, r := range want {
			if !strings.Contains(all, strings.ReplaceAll(clean(r.String()), " ", "")) {
				t.Errorf("lost: %q", r)
			}
		}
	}
}

func TestPictureKeepsItsColourAndLosesWhatTheCameraWrote(t *testing.T) {
	const secret = "GPS 52.5200N 13.4050E"
	file := samplePicture(t, 1800, 1200, color.RGBA{40, 130, 120, 255})
	comment := append([]byte{0xff, 0xd8, 0xff, 0xfe, 0, byte(len(secret) + 2)}, secret...) // ISO/IEC 10918-1, B.2.4.5: COM
	file = append(comment, file[2:]...)
	photos, err := readPhotos([]CardFace{{Swatch: 1, Face: studio.Front, JPEG: file}, {Swatch: 1, Face: studio.Back, JPEG: file}})
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range photos {
		if bytes.Contains(p.jpeg, []byte(secret)) {
			t.Error("what the camera wrote beside the picture is still there")
		}
		img, err := jpeg.Decode(bytes.NewReader(p.jpeg))
		if err != nil {
			t.Fatal(err)
		}
		b := img.Bounds()
		if b.Dx() != p.w || b.Dy() != p.h || max(p.w, p.h) > printPixels+maxCardFaces || math.Abs(float64(p.w)/float64(p.h)-1.5) > 0.01 {
			t.Errorf("picture %d is %v, said to be %d x %d", i, b, p.w, p.h)
		}
		was, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		for k := range 3 {
			if before, after := mean(was, k), mean(img, k); math.Abs(before-after) > 2 {
				t.Errorf("picture %d, channel %d: mean %.1f became %.1f of 255", i, k, before, after)
			}
		}
	}
	if photos[0].w == photos[1].w {
		t.Error("two pictures have one width: their order in the file is left to chance")
	}
}

// mean is the mean of one channel, 0 to 255.
func mean(img image.Image, channel int) float64 {
	b := img.Bounds()
	sum, n := 0.0, 0
	for y := b.Min.Y; y < b.Max.Y; y += 3 {
		for x := b.Min.X; x < b.Max.X; x += 3 {
			r, g, bl, _ := img.At(x, y).RGBA()
			sum += float64([3]uint32{r, g, bl}[channel]) / 257
			n++
		}
	}
	return sum / float64(n)
}

func TestBadPictureIsSaidToBeBad(t *testing.T) {
	good := samplePicture(t, 60, 40, color.RGBA{90, 90, 90, 255})
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"none":       {nil, "no photograph"},
		"noise":      {[]byte("GIF89a not a picture"), "the photograph can't be read"},
		"cut":        {good[:len(good)/2], "the photograph can't be read"},
		"huge":       {huge(good), "the photograph is too large"},
		"head alone": {good[:40], "the photograph can't be read"},
	} {
		card := sampleCard(t)
		card.Faces = []CardFace{{Swatch: 7, Face: studio.Back, JPEG: c.file, Measured: card.Faces[0].Measured}, {Swatch: 7, Face: studio.Front, JPEG: c.file}}
		p := cardPages(t, card)[0]
		if got := strings.Count(p.all(), c.want); got != 2 || p.images != 0 {
			t.Errorf("%s: said %d times %q with %d pictures: %s", name, got, c.want, p.images, p.all())
		}
	}
}

// huge says in a picture's head that it has 65500 x 65500 pixels (ISO/IEC
// 10918-1, B.2.2: SOF0 holds height and width).
func huge(file []byte) []byte {
	file = bytes.Clone(file)
	at := bytes.Index(file, []byte{0xff, 0xc0})
	copy(file[at+5:], []byte{0xff, 0xdc, 0xff, 0xdc})
	return file
}

func TestChipIsTheMeasuredColour(t *testing.T) {
	card := sampleCard(t)
	for lab, want := range map[colour.Lab][3]float64{
		{L: 0}:   {0, 0, 0},
		{L: 100}: {255, 255, 255},
		// CSS Color 4, sample values: lab(46.2775% -47.5621 48.5837) is green, #008000
		{L: 46.2775, A: -47.5621, B: 48.5837}: {0, 128, 0},
	} {
		card.Faces = []CardFace{{Swatch: 1, Face: studio.Front, JPEG: card.Faces[0].JPEG, Measured: sampleMeasurement(lab, "x", true)}}
		found := false
		for _, f := range cardPages(t, card)[0].fills {
			found = found || (math.Abs(f.r*255-want[0]) < 1.2 && math.Abs(f.g*255-want[1]) < 1.2 && math.Abs(f.b*255-want[2]) < 1.2)
		}
		if !found {
			t.Errorf("no chip of %v for %v", want, lab)
		}
	}
	card.Faces[0].Measured = sampleMeasurement(colour.Lab{L: 60, A: -120, B: 90}, "green", true)
	if all := cardPages(t, card)[0].all(); !strings.Contains(all, "stronger than shown") {
		t.Errorf("a colour beyond sRGB is not said to be: %s", all)
	}
}

func TestEvidenceCountsWhatItDoesNotName(t *testing.T) {
	card := extremeCard(t)
	text := card.evidence(style{size: 7.5}, 120)
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
		c, err := drawCard(card)
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
