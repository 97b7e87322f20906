package print

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/studio"
)

func benchPages(t testing.TB, s Sheet) []readPage {
	t.Helper()
	c, err := drawBench(nil, s)
	return pagesOf(t, c, err)
}

func TestBenchSheetFollowsTheOrderOfWork(t *testing.T) {
	s := sampleSheet(7)
	var got, want []string
	for _, p := range benchPages(t, s) {
		for _, r := range p.texts {
			if r.size == 30 {
				got = append(got, r.text)
			}
		}
	}
	for i, row := range s.Run.Rows {
		if row.Order != i+1 {
			t.Fatalf("row %d has the place %d", i, row.Order)
		}
		want = append(want, strconv.FormatInt(row.Number, 10))
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the sheet goes %v, the order of work is %v", got, want)
	}
}

func TestBenchSheetSaysWhatIsPlanned(t *testing.T) {
	s := sampleSheet(3)
	all := ""
	for _, p := range benchPages(t, s) {
		all += p.all() + " "
	}
	for _, row := range s.Run.Rows {
		for _, want := range append([]string{fmt.Sprintf("%d %s %s place %d in the order", row.Number, row.FacesWord, row.Settings, row.Order)}, row.Codes...) {
			if !strings.Contains(all, want) {
				t.Errorf("the sheet does not say %q", want)
			}
		}
	}
	for _, want := range []string{
		"4 Wet with water, spray bottle 20 s 40 ± 8 mL/m²", "6 Fume with ammonia water 9.5 % 2 h −10 min, +20 min",
		"5 Sprinkle with salt, sieve, on front light, 11 ± 4 g/m² (assumed)", "Kept bare, for reference: 90, 91.", "notes on the set",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the sheet does not say %q", want)
		}
	}
}

func TestEveryBenchPageHasItsHead(t *testing.T) {
	for _, s := range []Sheet{sampleSheet(6), extremeSheet(t)} {
		pages := benchPages(t, s)
		if len(pages) < 2 {
			t.Fatalf("%d pages", len(pages))
		}
		for i, p := range pages {
			if p.w < p.h {
				t.Errorf("page %d stands upright", i+1)
			}
			all := p.all()
			for _, want := range []string{
				fmt.Sprintf("page %d of %d", i+1, len(pages)), "When a chamber is opened: " + strings.TrimSpace(s.Run.Caution),
				"began ended amount used room °C, % notes", invented,
			} {
				if !strings.Contains(all, want) {
					t.Errorf("page %d does not say %q: %s", i+1, want, all[:min(len(all), 600)])
				}
			}
			if p.texts[0].text != pages[0].texts[0].text {
				t.Errorf("page %d is headed %q", i+1, p.texts[0].text)
			}
		}
	}
}

// At arm's length 9 points are read without effort; what is done and when is larger.
func TestBenchSheetIsReadAtArmsLength(t *testing.T) {
	for _, p := range benchPages(t, sampleSheet(4)) {
		for _, r := range p.texts {
			if r.size < 9 {
				t.Errorf("%q is set in %v points", r.text, r.size)
			}
		}
	}
}

func TestLongTreatmentGoesOnOverleaf(t *testing.T) {
	s := extremeSheet(t)
	pages := benchPages(t, s)
	seen := map[string]bool{}
	long := strconv.FormatInt(s.Run.Rows[0].Number, 10)
	continued := 0
	for _, p := range pages {
		all := p.all()
		if strings.Contains(all, "continued from the page before") {
			continued++
		}
		if !strings.Contains(all, long) {
			continue
		}
		for _, r := range p.texts {
			if r.size == benchDo.size && r.bold {
				seen[r.text] = true
			}
		}
	}
	if continued == 0 {
		t.Error("no page says that it continues a treatment")
	}
	for n := range s.Run.Rows[0].Steps {
		if !seen[strconv.Itoa(n+1)] {
			t.Errorf("step %d is nowhere", n+1)
		}
	}
	last := pages[len(pages)-1].all()
	if !strings.Contains(last, "1299.") {
		t.Error("the last bare swatch is missing")
	}
}

func TestSheetWithoutFumeHasNoCaution(t *testing.T) {
	s := sampleSheet(2)
	s.Run.Caution, s.Invented = "", false
	for _, p := range benchPages(t, s) {
		if all := p.all(); strings.Contains(all, "chamber is opened") || strings.Contains(all, invented) {
			t.Errorf("a plain sheet says %s", all)
		}
	}
}

func TestStepWordsArePartedWhole(t *testing.T) {
	for i, s := range sampleSheet(1).Run.Rows[0].Steps {
		do, rest := stepWords(s)
		if do != capital(string(s.Kind)) {
			t.Errorf("step %d is called %q", i+1, do)
		}
		for _, twice := range []string{s.Time, s.Amount, s.Tolerance} {
			if twice != "" && strings.Contains(rest, twice) {
				t.Errorf("step %d says %q twice", i+1, twice)
			}
		}
		for _, word := range strings.Fields(strings.NewReplacer("(", " ", ")", " ", ",", " ").Replace(s.Words)) {
			if !strings.Contains(do+rest+s.Time+s.Tolerance+s.Amount, word) {
				t.Errorf("step %d lost %q", i+1, word)
			}
		}
	}
	// words made otherwise are kept whole
	step := sampleSheet(1).Run.Rows[0].Steps[5]
	step.Words = "Close the lid for 4 h"
	if _, rest := stepWords(step); rest != step.Words {
		t.Errorf("words became %q", rest)
	}
}

func TestAnyBenchSheetStaysOnItsPages(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := sampleSheet(rapid.IntRange(1, 5).Draw(rt, "treatments"))
		s.Paper = rapid.SampledFrom(Papers).Draw(rt, "paper")
		s.Studio = anyText(rt, "studio")
		s.Run.Title, s.Run.Question = anyText(rt, "title"), anyText(rt, "question")
		for i := range s.Run.Rows {
			row := &s.Run.Rows[i]
			row.Number = rapid.Int64Range(1, 1<<62).Draw(rt, "number")
			row.Codes = []string{studio.Code(row.Number, studio.Front)}
			row.Settings = anyText(rt, "settings")
			row.Steps = row.Steps[:rapid.IntRange(0, len(row.Steps)).Draw(rt, "steps")]
			for j := range row.Steps {
				row.Steps[j].Words += ", " + anyText(rt, "words")
				row.Steps[j].Amount = anyText(rt, "amount")
			}
		}
		c, err := drawBench(nil, s)
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
