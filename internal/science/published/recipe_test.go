package published

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"aerugo/internal/science/matter"
)

func TestEveryRowIsImported(t *testing.T) {
	rows, err := ReadRows(recipesCSV)
	if err != nil {
		t.Fatal(err)
	}
	all := All()
	if len(rows) != 75 || len(all) != len(rows) {
		t.Fatalf("%d rows, %d recipes; the compiled table has 75", len(rows), len(all))
	}
	names := map[string]bool{}
	for i, r := range all {
		if r.Key != rows[i]["id"] {
			t.Fatalf("recipe %d is %s, row %s", i, r.Key, rows[i]["id"])
		}
		if r.Name == "" || names[r.Name] || r.Look == "" || r.Heat == "" || len(r.Steps) == 0 || len(r.Metals) == 0 || r.Source == "" || r.Standing == "" || r.Why == "" {
			t.Errorf("%s lacks something, or its name is there twice: %+v", r.Key, r)
		}
		names[r.Name] = true
		if !slices.Contains([]string{Cold, Warm, Hot, Boiling, Torch}, r.Heat) {
			t.Errorf("%s: heat %q", r.Key, r.Heat)
		}
		for _, c := range r.Colours {
			if c != "turquoise" && !slices.Contains(ColourWords, c) {
				t.Errorf("%s: colour %q can't be searched for", r.Key, c)
			}
		}
		// R38 and R39 are listed without a look; R69 is made by heat alone
		if len(r.Colours) == 0 && r.Key != "R38" && r.Key != "R39" {
			t.Errorf("%s has no colour", r.Key)
		}
		if len(r.Ingredients) == 0 && r.Key != "R69" {
			t.Errorf("%s has nothing in it", r.Key)
		}
		if strings.Contains(rows[i]["temperature"], "boiling") && r.Heat != Boiling && !strings.Contains(rows[i]["temperature"], "to boiling") {
			t.Errorf("%s is worked at %q, here %s", r.Key, rows[i]["temperature"], r.Heat)
		}
	}
}

// grams is one entry of the compiled column: "copper nitrate 40.0".
var grams = regexp.MustCompile(`^(.*?)\s*([0-9.]+)$`)

// The grams on a litre or kilogram that the table was compiled with, by other
// hands, come out of the original amounts here.
func TestAmountsGiveTheCompiledGrams(t *testing.T) {
	rows, err := ReadRows(recipesCSV)
	if err != nil {
		t.Fatal(err)
	}
	// names of the column that say more, or something else, than the substance
	called := map[string]string{
		"spirits of hartshorn (dilute ammonia)": "ammonia-water",
		"ammonia 0.880 (mL/L)":                  "ammonia-water", "ammonia 0.90 (mL/L)": "ammonia-water", "ammonia (mL/L)": "ammonia-water",
		"salt (1 tsp ~6 g)": "sodium-chloride", "ammonium acetate: from spirit of ammonia": "ammonia-water", "ammonium acetate or chloride": "ammonium-acetate",
		"mountain green (basic copper carbonate) pigment": "copper-carbonate", "potassium sulfide (liver of sulfur)": "liver-of-sulfur", "copper carbonate (wet paste)": "copper-carbonate",
	}
	checked := 0
	for _, row := range rows {
		r, _ := ByKey(row["id"])
		for _, entry := range strings.Split(row["composition_g_per_L"], "; ") {
			m := grams.FindStringSubmatch(entry)
			if m == nil || strings.HasPrefix(entry, "(if apothecaries") {
				continue // the other reading of R54's drachm is told in its note
			}
			key := called[m[1]]
			if key == "" {
				s, ok := matter.Lookup(m[1])
				if !ok {
					t.Errorf("%s: %q is not known", r.Key, m[1])
					continue
				}
				key = s.Key
			}
			want, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			got := math.NaN()
			for _, i := range r.Ingredients {
				if low, high, unit, _ := r.ratio(i); i.Substance == key && unit != "" {
					got = (low + high) / 2
				}
			}
			// the column has three or four figures
			if !(math.Abs(got-want) <= 0.0005*want+0.5*math.Pow(10, -float64(len(m[2])-1-strings.Index(m[2]+".", ".")))) {
				t.Errorf("%s: %v on a litre or kilogram of %s, the table has %v", r.Key, got, m[1], want)
			}
			checked++
		}
	}
	if checked < 120 {
		t.Errorf("only %d amounts checked", checked)
	}
}

func TestAmountsReadAsTheSourceWritesThem(t *testing.T) {
	for _, x := range []struct{ key, name, original, metric, per string }{
		{"R14", "copper sulfate", "1/2 lb", "226.8 g", "119.8 g per litre of boiling water"},
		{"R14", "boiling water", "2 quarts (US)", "1893 mL", ""},
		{"R27", "vinegar", "1 quart (imperial)", "1137 mL", ""},
		{"R57", "potassium oxalate", "1/3 oz (avoirdupois)", "9.45 g", "39.94 g per litre of vinegar"},
		{"R08", "copper nitrate", "16 grains", "1.037 g", "35.06 g per litre of water"},
		{"R60", "potassium permanganate", "6 to 7 parts by weight", "", "12 to 14 g per kg of water"},
		{"R53", "polysulfide or ammonium sulfide", "2 to 10 g", "2 to 10 g", "20 to 100 g per litre of water"},
		{"R05", "salt", "1 teaspoon (US)", "6 g", "12 g per litre of wine vinegar"},
		{"R16", "salt", "37 parts by weight", "", "7.4 g per kg of strong wine vinegar"},
		{"R01", "copper nitrate", "40 g", "40 g", "40 g per litre in all"},
		{"R04", "vinegar", "", "", ""},
	} {
		r, _ := ByKey(x.key)
		at := slices.IndexFunc(r.Ingredients, func(i Ingredient) bool { return i.Name == x.name })
		if at < 0 {
			t.Fatalf("%s has no %s", x.key, x.name)
		}
		i := r.Ingredients[at]
		if i.Original() != x.original || i.Metric() != x.metric || r.PerBase(i) != x.per {
			t.Errorf("%s, %s: %q, %q, %q", x.key, x.name, i.Original(), i.Metric(), r.PerBase(i))
		}
	}
	for _, r := range All() {
		if _, ok := standings[r.Standing]; !ok {
			t.Errorf("%s: standing %q has no words", r.Key, r.Standing)
		}
	}
}

// What is printed comes back to the source's amount within its rounding.
func TestPrintedMetricComesBack(t *testing.T) {
	checked := 0
	for _, r := range All() {
		for _, i := range r.Ingredients {
			text := i.Metric()
			if text == "" || i.MassG > 0 {
				continue
			}
			number, _, _ := strings.Cut(text, " ")
			v, err := strconv.ParseFloat(number, 64)
			if err != nil {
				t.Fatalf("%s: %q", r.Key, text)
			}
			back, err := Original(v, i.Unit)
			if err != nil || math.Abs(back-i.Amount) > 0.0006*i.Amount {
				t.Errorf("%s: %s is printed %s, which is %v", r.Key, i.Original(), text, back)
			}
			checked++
		}
	}
	if checked < 80 {
		t.Errorf("only %d amounts printed in metric", checked)
	}
}

func TestUseIsNeverLooserThanTheFile(t *testing.T) {
	count := map[Use]int{}
	for _, r := range All() {
		count[r.FileUse]++
		if r.FileUse.Stricter(r.Use) {
			t.Errorf("%s: the file says %s, here %s", r.Key, r.FileUse, r.Use)
		}
		for _, c := range r.Clashes() {
			if c.Level == matter.Stop && r.Use == ForClass {
				t.Errorf("%s is for a class and stopped: %v", r.Key, c)
			}
		}
	}
	if count[ForClass] != 15 || count[ByTeacher] != 32 || count[ForRecord] != 28 {
		t.Errorf("the file's uses are %v; it has 15 yes, 32 demo, 28 reference", count)
	}
	// no class recipe of the file is stopped by package matter (its own test says so too)
	for _, key := range []string{"R04", "R14", "R15", "R16", "R27", "R28", "R30", "R31", "R32", "R33", "R34", "R38", "R50", "R51", "R68"} {
		if r, _ := ByKey(key); r.Use != ForClass {
			t.Errorf("%s is %s: %s", key, r.Use, r.Why)
		}
	}
}

// The stops that the compiled notes name are found from the ingredients: nitrate
// with ammonia, mercury with ammonium, acid on sulfide, chlorate, permanganate
// with hydrochloric acid, acid on ferrocyanide.
func TestNamedDangersAreFound(t *testing.T) {
	for key, id := range map[string]string{"R67": "X09", "R01": "X09", "R82": "X03", "R59": "X19", "R86": "X20", "R37": "X17", "R44": "X05", "R71": "X04", "R62": ""} {
		r, _ := ByKey(key)
		if id != "" && !slices.ContainsFunc(r.Clashes(), func(c matter.Clash) bool { return c.ID == id }) {
			t.Errorf("%s does not show %s: %v", key, id, r.Clashes())
		}
	}
}

// Every substance of every recipe is told with its hazards, or named as unknown.
func TestNoHazardGoesUnsaid(t *testing.T) {
	strange := map[string]bool{}
	for _, r := range All() {
		text := ""
		for _, c := range r.Cautions() {
			text += "\n" + strings.ToLower(c.Text)
		}
		for _, i := range r.Ingredients {
			for _, key := range []string{i.Substance, i.Or} {
				if key == "" {
					continue
				}
				s, ok := matter.Lookup(key)
				if !ok {
					strange[key] = true
					if !strings.Contains(text, strings.ToLower(key)) {
						t.Errorf("%s: nobody says that %s is not known", r.Key, key)
					}
					continue
				}
				harms := slices.ContainsFunc(s.Bands, func(b matter.Band) bool { return len(b.Hazards) > 0 })
				said := slices.ContainsFunc(s.Bands, func(b matter.Band) bool {
					return strings.Contains(text, strings.ToLower(b.Name)+": ") || len(b.Hazards) == 0
				})
				if harms && !said {
					t.Errorf("%s: nothing is said of %s", r.Key, s.Name)
				}
			}
		}
	}
	if len(strange) != 1 || !strange["cuprous chloride"] {
		t.Errorf("substances not known: %v", strange)
	}
}

func TestBatchesKeepTheProportions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(All()).Draw(t, "recipe")
		amount := rapid.Float64Range(1, 1e5).Draw(t, "amount")
		ws, err := r.Batch(amount)
		can, why := r.CanMix()
		if !can {
			if err == nil || why == "" {
				t.Fatalf("%s can't be mixed, yet is", r.Key)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		liquid := 0.0
		for _, w := range ws {
			if w.Role == Base || w.Role == Final {
				liquid += w.Low
			}
			if low, _, unit, _ := r.ratio(w.Ingredient); unit != "" && math.Abs(w.Low-low*amount/1000) > 1e-9*w.Low {
				t.Fatalf("%s: %v of %s in %v, want %v on a thousand", r.Key, w.Low, w.Name, amount, low)
			}
		}
		if math.Abs(liquid-amount) > 1e-9*amount {
			t.Fatalf("%s: %v of liquid, want %v", r.Key, liquid, amount)
		}
	})
	if r, _ := ByKey("R14"); true {
		for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1), 2e5} {
			if _, err := r.Batch(bad); err == nil {
				t.Errorf("a batch of %v is mixed", bad)
			}
		}
	}
}

// Strengths of what the notes put a figure on: R62 is 'caustic 13 %', as weighed
// in 100 of water with 5 of carbonate beside (12.5 %).
func TestStrengthsAreAsTheNotesSay(t *testing.T) {
	r, _ := ByKey("R62")
	for _, s := range r.Liquid() {
		if s.Substance == "sodium-hydroxide" && math.Abs(s.WtPercent-13) > 1 {
			t.Errorf("caustic of %v %%", s.WtPercent)
		}
	}
	total := 0
	for _, r := range All() {
		sum := 0.0
		for _, s := range r.Liquid() {
			if s.WtPercent < 0 || s.WtPercent > 100 || math.IsNaN(s.WtPercent) {
				t.Errorf("%s: %s of %v %%", r.Key, s.Substance, s.WtPercent)
			}
			sum += s.WtPercent
			if s.WtPercent > 0 {
				total++
			}
		}
		if r.Key != "R22" && r.Key != "R53" && sum > 100 { // those two name one of two
			t.Errorf("%s: the liquid is %v %% full", r.Key, sum)
		}
	}
	if total < 100 {
		t.Errorf("only %d strengths are told", total)
	}
}

func FuzzReadRows(f *testing.F) {
	f.Add(recipesCSV)
	f.Add(strings.Join(columns, ",") + "\nR1,copper,green,,,,,,,somewhere,,,yes,\n")
	f.Add("a,b\n1,2\n")
	f.Add("\"")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := ReadRows(text)
		if err != nil {
			return
		}
		for _, r := range rows {
			if r["id"] == "" || r["source"] == "" || uses[r["class_use"]] == "" {
				t.Fatalf("a row without id, source or use is let in: %v", r)
			}
		}
	})
}

func FuzzReadSteps(f *testing.F) {
	f.Add("3x(wet/brush/2?/a coat; dry//30); rinse")
	f.Add("wet; 2x(dry//5)")
	f.Add("9x(9x(a))")
	f.Fuzz(func(t *testing.T, text string) {
		steps, err := ReadSteps(text)
		if err != nil {
			return
		}
		for _, s := range steps {
			if s.Kind == "" || s.Minutes < 0 || s.Minutes > 86400 || math.IsNaN(s.Minutes) {
				t.Fatalf("%q gives %+v", text, s)
			}
		}
	})
}

func TestStepsAreReadAsWritten(t *testing.T) {
	got, err := ReadSteps("2x(wet/brush/2?/thin; dry//30); brush_out/soft brush")
	if err != nil {
		t.Fatal(err)
	}
	want := []Step{{Kind: "wet", Tool: "brush", Note: "thin", Minutes: 2, Taken: true}, {Kind: "dry", Minutes: 30},
		{Kind: "wet", Tool: "brush", Note: "thin", Minutes: 2, Taken: true, Again: true}, {Kind: "dry", Minutes: 30, Again: true}, {Kind: "brush out", Tool: "soft brush"}}
	if !slices.Equal(got, want) {
		t.Errorf("got %+v", got)
	}
	for _, bad := range []string{"wet/a/b/c/d", "wet//soon", "wet//-1", "3x(wet", "wet;;dry", "/brush"} {
		if s, err := ReadSteps(bad); err == nil {
			t.Errorf("%q is read as %+v", bad, s)
		}
	}
}
