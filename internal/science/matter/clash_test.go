package matter

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// levelOf returns the level of a clash by its ID, "" when there is none.
func levelOf(cs []Clash, id string) string {
	for _, c := range cs {
		if c.ID == id {
			return c.Level
		}
	}
	return ""
}

func both(a, b Use) []Use { return []Use{a, b} }

// The pairs a careful teacher stops, from the never-meet table in
// testdata/incompat.csv and its sources: X03 and X06 Lab Manager, X05 Lab
// Manager and a cleaning note, X09 CRC Handbook 16-23.
func TestNamedPairsClash(t *testing.T) {
	for _, c := range []struct {
		name  string
		uses  []Use
		id    string
		level string
	}{
		{"liver of sulfur with vinegar", both(Use{Key: "liver of sulfur"}, Use{Key: "vinegar"}), "X03", Stop},
		{"liver of sulfur then vinegar", both(Use{Key: "liver-of-sulfur", Step: 1}, Use{Key: "vinegar", Step: 2}), "X03", Stop},
		{"copper nitrate, ammonia fume", both(Use{Key: "copper nitrate", Form: "residue", Step: 1}, Use{Key: "ammonia", WtPercent: 10, Form: "fume", Step: 2}), "X09", Stop},
		{"ammonia, then copper nitrate over it", both(Use{Key: "ammonia gas", Step: 1}, Use{Key: "copper nitrate", Step: 4}), "X09", Stop},
		{"peroxide 3 % with vinegar", both(Use{Key: "hydrogen peroxide", WtPercent: 3}, Use{Key: "vinegar"}), "X05", Care},
		{"peroxide 3 % with table vinegar", both(Use{Key: "hydrogen peroxide", WtPercent: 3}, Use{Key: "vinegar", WtPercent: 5}), "X05", Care},
		{"peroxide 12 % with vinegar", both(Use{Key: "hydrogen peroxide", WtPercent: 12}, Use{Key: "vinegar", WtPercent: 5}), "X05", Stop},
		{"peroxide of unknown strength with vinegar", both(Use{Key: "hydrogen peroxide"}, Use{Key: "vinegar", WtPercent: 5}), "X05", Stop},
		{"peroxide 3 % with glacial acid", both(Use{Key: "hydrogen peroxide", WtPercent: 3}, Use{Key: "glacial acetic acid", WtPercent: 99}), "X05", Stop},
		{"acetone wipe then peroxide", both(Use{Key: "acetone", Step: 1}, Use{Key: "hydrogen peroxide", WtPercent: 3, Step: 2}), "X06", Stop},
		{"ammonia with bleach", both(Use{Key: "household ammonia", WtPercent: 4}, Use{Key: "bleach"}), "X01", Stop},
		{"bleach with citric pickle", both(Use{Key: "bleach"}, Use{Key: "citric acid pickle"}), "X02", Stop},
		{"strong peroxide with rags", both(Use{Key: "hydrogen peroxide", WtPercent: 30}, Use{Key: "rags"}), "X31", Stop},
		{"weak peroxide with rags", both(Use{Key: "hydrogen peroxide", WtPercent: 3}, Use{Key: "rags"}), "X31", ""},
		{"water on concentrated sulfuric acid", both(Use{Key: "sulfuric acid", WtPercent: 96}, Use{Key: "water"}), "X24", Stop},
		{"water with dilute sulfuric acid", both(Use{Key: "sulfuric acid", WtPercent: 10}, Use{Key: "water"}), "X24", ""},
		{"nitrate with sawdust", both(Use{Key: "ferric nitrate"}, Use{Key: "sawdust"}), "X18", Stop},
		{"salt with vinegar", both(Use{Key: "salt"}, Use{Key: "vinegar"}), "", ""},
		{"salt, vinegar and water", []Use{{Key: "salt"}, {Key: "vinegar", WtPercent: 5}, {Key: "distilled water"}}, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Clashes(c.uses, "copper")
			if c.id == "" {
				if len(got) != 0 {
					t.Fatalf("got %v, want no clash", got)
				}
				return
			}
			if l := levelOf(got, c.id); l != c.level {
				t.Errorf("%s has level %q, want %q; all: %v", c.id, l, c.level, got)
			}
		})
	}
}

// Recipes in print, and what their class of danger asks for. Sources: Henley's
// Twentieth Century Formulas (1907 ff.), Payne 1914, Cyclopedia of Useful Arts,
// Manufacturer and Builder 8 (1893) and 11 (1869), GSA 0503002S, and for the
// explosive class of copper ammine nitrate CRC Handbook 16-23.
func TestPublishedRecipes(t *testing.T) {
	for _, c := range []struct {
		name string
		keys []string
		stop string // ID of a stop it must have, "" if it must have none
		also string // ID of a milder clash it must have
	}{
		{"Henley p.585: salt, ammonia, ammonium chloride in vinegar", []string{"salt", "ammonia", "ammonium chloride", "vinegar"}, "", "X12"},
		{"Cyclopedia of Useful Arts: ammonium chloride in vinegar", []string{"sal ammoniac", "vinegar"}, "", ""},
		{"Payne 1914: ammonium chloride and copper sulfate", []string{"ammonium chloride", "copper sulfate"}, "", ""},
		{"Payne 1914 no. 4: liver of sulfur with a little ammonia", []string{"liver of sulfur", "ammonia"}, "", ""},
		{"GSA: vinegar in damp sawdust", []string{"vinegar", "sawdust"}, "", ""},
		{"bench forum: ammonia and salt in litter", []string{"ammonia", "salt", "granular litter"}, "", ""},
		{"Scott 2002 B1: verdigris, copper sulfate, alum", []string{"verdigris", "copper sulfate", "alum"}, "", ""},
		{"Manufacturer and Builder 8 (1893): copper nitrate in ammonia", []string{"copper nitrate", "ammonia"}, "X09", ""},
		{"Henley vol.1: permanganate with hydrochloric acid", []string{"permanganate", "ferrous sulfate", "muriatic acid"}, "X19", ""},
		{"Henley vol.2: ferrocyanide with a little hydrochloric acid", []string{"potassium ferrocyanide", "hydrochloric acid"}, "X20", ""},
		{"Henley p.128: copper sulfate, thiosulfate, cream of tartar", []string{"copper sulfate", "sodium thiosulfate", "cream of tartar"}, "", "X04"},
		{"popular page: vinegar, 3 % peroxide, salt", []string{"vinegar", "peroxide3", "salt"}, "", "X05"},
	} {
		var uses []Use
		for _, k := range c.keys {
			u := Use{Key: k}
			if k == "peroxide3" {
				u = Use{Key: "peroxide", WtPercent: 3}
			}
			uses = append(uses, u)
		}
		cs := Clashes(uses, "copper")
		var stops []string
		for _, k := range cs {
			if k.Level == Stop {
				stops = append(stops, k.ID)
			}
		}
		if c.stop == "" && len(stops) > 0 || c.stop != "" && !slices.Contains(stops, c.stop) {
			t.Errorf("%s: stops %v, want %q", c.name, stops, c.stop)
		}
		if c.also != "" && levelOf(cs, c.also) == "" {
			t.Errorf("%s: %s is missing from %v", c.name, c.also, cs)
		}
	}
}

// Rule of X09 in testdata/incompat.csv: rinse a nitrate patina well before fuming.
func TestRinseBetweenStepsLowersStop(t *testing.T) {
	base := Use{Key: "copper nitrate", Step: 1}
	fume := Use{Key: "ammonia water", WtPercent: 5, Step: 5, Form: "fume"}
	if got := levelOf(Clashes(both(base, fume), "copper"), "X09"); got != Stop {
		t.Errorf("not rinsed: level %q, want stop", got)
	}
	rinsed := fume
	rinsed.RinsedBefore = true
	if got := levelOf(Clashes(both(base, rinsed), "copper"), "X09"); got != Care {
		t.Errorf("rinsed before the fume: level %q, want caution", got)
	}
	between := []Use{base, {Key: "water", Step: 3, RinsedBefore: true}, fume}
	if got := levelOf(Clashes(between, "copper"), "X09"); got != Care {
		t.Errorf("rinsed in a step between: level %q, want caution", got)
	}
	early := base
	early.RinsedBefore = true
	if got := levelOf(Clashes(both(early, fume), "copper"), "X09"); got != Stop {
		t.Errorf("rinsed before the nitrate only: level %q, want stop", got)
	}
	mixed := rinsed
	mixed.Step = base.Step
	if got := levelOf(Clashes(both(base, mixed), "copper"), "X09"); got != Stop {
		t.Errorf("mixed in one step: level %q, want stop", got)
	}
	// X01: never in one room, so no rinse helps.
	bleach := Use{Key: "bleach", Step: 6, RinsedBefore: true}
	if got := levelOf(Clashes(both(fume, bleach), "copper"), "X01"); got != Stop {
		t.Errorf("ammonia, rinse, bleach: level %q, want stop", got)
	}
}

// testdata/incompat.csv lists the pairs; each severity there must be what the
// program says of at least one pair of substances a person can name.
func TestEveryPublishedPairIsReachable(t *testing.T) {
	seen := make(map[string][]string)
	var uses []Use
	for _, s := range Substances() {
		for _, b := range s.Bands {
			u := Use{Key: s.Name, WtPercent: (b.FromWtPercent + b.BelowWtPercent) / 2}
			uses = append(uses, u)
		}
	}
	note := func(cs []Clash) {
		for _, c := range cs {
			if !slices.Contains(seen[c.ID], c.Level) {
				seen[c.ID] = append(seen[c.ID], c.Level)
			}
		}
	}
	for i, a := range uses {
		note(Clashes([]Use{a}, "brass"))
		for _, b := range uses[i+1:] {
			note(Clashes(both(a, b), "brass"))
		}
	}
	pairs := published(t, "incompat.csv")
	for _, p := range pairs {
		for _, level := range strings.FieldsFunc(p["severity"], func(r rune) bool { return r == ' ' || r == ',' || r == '/' }) {
			if slices.Contains(levels, level) && !slices.Contains(seen[p["id"]], level) {
				t.Errorf("%s: no two substances give level %s; seen %v", p["id"], level, seen[p["id"]])
			}
		}
	}
	for _, p := range Pairs() {
		if len(seen[p.ID]) == 0 {
			t.Errorf("%s is never reached", p.ID)
		}
	}
	if len(pairs) != 34 {
		t.Errorf("%d published pairs, want 34", len(pairs))
	}
}

func TestEveryStopOffersAnotherWay(t *testing.T) {
	for _, p := range Pairs() {
		if p.Level == Stop && len(p.Instead) < 10 {
			t.Errorf("%s stops without a safer way: %q", p.ID, p.Instead)
		}
		if p.What == "" || p.Do == "" {
			t.Errorf("%s lacks what happens or what to do", p.ID)
		}
	}
}

// The group by group table and the table of pairs are two views of one thing.
func TestGroupTableAgreesWithPairs(t *testing.T) {
	member := map[Group][]Group{"KET": {"KET"}, "ORG": {"ORG", "ALC", "WAX", "RAG"}, "PER": {"PER", "PES", "PEX"}}
	words := map[string]string{"heat": "heats up", "O2": "oxygen"}
	cells := 0
	for pair, cell := range grid() {
		if Meets(pair[0], pair[1]) != Meets(pair[1], pair[0]) {
			t.Errorf("%v is %q one way and %q the other", pair, Meets(pair[0], pair[1]), Meets(pair[1], pair[0]))
		}
		if cell == "" || cell == "ok" || cell == "use" {
			continue
		}
		cells++
		as, bs := append(member[pair[0]], pair[0]), append(member[pair[1]], pair[1])
		found := false
		for _, r := range rules() {
			hit := overlap(r.a, as) && overlap(r.b, bs) || overlap(r.a, bs) && overlap(r.b, as)
			// Copper and iron nitrates carry a copper or iron group as well, which is where X07 bites.
			if pair[0] == "NIT" && pair[1] == "PER" || pair[0] == "PER" && pair[1] == "NIT" {
				hit = r.ID == "X07"
			}
			if hit && (r.ID == cell || words[cell] != "" && strings.Contains(r.What, words[cell])) {
				found = true
			}
		}
		if !found {
			t.Errorf("%v says %s, but no rule does", pair, cell)
		}
	}
	if cells < 40 {
		t.Errorf("only %d cells carry a clash", cells)
	}
}

// Every group named by a rule is carried by some substance, the air or the metal.
func TestRulesNameGroupsThatExist(t *testing.T) {
	have := map[Group]bool{"AIR": true, "MET": true, "ZN15": true}
	for _, s := range Substances() {
		for _, b := range s.Bands {
			for _, g := range b.Groups {
				have[g] = true
			}
		}
	}
	for _, r := range rules() {
		for _, g := range append(slices.Clone(r.a), r.b...) {
			if !have[g] {
				t.Errorf("%s names %s, which nothing carries", r.ID, g)
			}
		}
	}
}

func TestUnknownIsNeverApproved(t *testing.T) {
	for _, key := range []string{"", "  ", "patina potion no. 9", "vinegarr"} {
		cs := Clashes([]Use{{Key: key}, {Key: "salt"}}, "copper")
		i := slices.IndexFunc(cs, func(c Clash) bool { return c.ID == "unknown" })
		if i < 0 {
			t.Fatalf("%q passed in silence", key)
		}
		if cs[i].Level != Care || cs[i].What != "unknown substance: read its safety data sheet" {
			t.Errorf("%q gives %+v", key, cs[i])
		}
	}
}

// ASTM B858 and ISO 6957 (from memory): above 15 % zinc, formed, in ammonia.
func TestBrassCracksInAmmonia(t *testing.T) {
	fume := []Use{{Key: "ammonia water", WtPercent: 10}}
	for metal, want := range map[string]string{
		"C26000": Product, "c26000, spun": Product, "brass": Product, "yellow brass": Product, "architectural bronze": Product,
		"nickel silver": Product, "C23000": Product, "manganese bronze": Product, "": Product, "unobtainium": Product,
		"not annealed brass": Product, "unannealed brass": Product,
		"C11000": "", "copper": "", "C22000": "", "commercial bronze": "", "silicon bronze": "", "bronze": "",
		"C26000, annealed": "", "brass, stress-relieved": "",
	} {
		if got := levelOf(Clashes(fume, metal), "X22"); got != want {
			t.Errorf("%q: level %q, want %q", metal, got, want)
		}
	}
	if got := levelOf(Clashes([]Use{{Key: "vinegar"}}, "C26000"), "X22"); got != "" {
		t.Errorf("vinegar on brass gives X22 %q", got)
	}
}

// anyUse draws a use of a named or unknown substance.
func anyUse() *rapid.Generator[Use] {
	names := []string{"no such thing"}
	for _, s := range Substances() {
		names = append(names, s.Key)
	}
	return rapid.Custom(func(t *rapid.T) Use {
		return Use{
			Key:          rapid.SampledFrom(names).Draw(t, "key"),
			WtPercent:    rapid.SampledFrom([]float64{0, 1, 3, 5, 12, 30, 60, 100, 250, -1}).Draw(t, "wt"),
			Step:         rapid.IntRange(0, 4).Draw(t, "step"),
			RinsedBefore: rapid.Bool().Draw(t, "rinsed"),
		}
	})
}

func TestClashesDoNotDependOnOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		uses := rapid.SliceOfN(anyUse(), 2, 6).Draw(t, "uses")
		metal := rapid.SampledFrom([]string{"", "C26000", "copper"}).Draw(t, "metal")
		want := Clashes(uses, metal)
		turned := slices.Clone(uses)
		slices.Reverse(turned)
		if d := cmp.Diff(want, Clashes(turned, metal)); d != "" {
			t.Fatalf("reversed uses differ: %s", d)
		}
	})
}

// Adding a substance, or taking a rinse away, never makes a recipe look safer.
func TestMoreNeverLooksSafer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		uses := rapid.SliceOfN(anyUse(), 1, 5).Draw(t, "uses")
		more := append(slices.Clone(uses), anyUse().Draw(t, "one more"))
		more[len(more)-1].RinsedBefore = false
		bare := slices.Clone(uses)
		for i := range bare {
			bare[i].RinsedBefore = false
		}
		for _, c := range Clashes(uses, "brass") {
			for what, other := range map[string][]Clash{"one more": Clashes(more, "brass"), "no rinse": Clashes(bare, "brass")} {
				i := slices.IndexFunc(other, func(o Clash) bool { return o.ID == c.ID && o.A == c.A && o.B == c.B })
				if i < 0 || rank(other[i]) > rank(c) {
					t.Fatalf("%s: %v is lost or milder in %v", what, c, other)
				}
			}
		}
	})
}

func FuzzClashes(f *testing.F) {
	f.Add("ammonia water", 10.0, 1, "copper nitrate", 0.0, 2, true, "C26000")
	f.Add("", -1.0, -5, "\xff", 1e300, 1<<40, false, "brass\x00c99999 (")
	f.Fuzz(func(t *testing.T, a string, wa float64, sa int, b string, wb float64, sb int, rinsed bool, metal string) {
		uses := []Use{{Key: a, WtPercent: wa, Step: sa}, {Key: b, WtPercent: wb, Step: sb, RinsedBefore: rinsed}}
		cs := Clashes(uses, metal)
		for _, u := range uses {
			_, known := Lookup(u.Key)
			if !known && levelOf(cs, "unknown") != Care {
				t.Fatalf("%q passed in silence", u.Key)
			}
		}
		if got := Cautions(uses, metal); len(got) == 0 || !strings.Contains(got[len(got)-1].Text, "safety data sheet") {
			t.Fatalf("cautions do not end by deferring: %v", got)
		}
	})
}

func BenchmarkClashes(b *testing.B) {
	uses := []Use{
		{Key: "detergent", Step: 1}, {Key: "citric acid", Step: 2}, {Key: "salt", Step: 3}, {Key: "vinegar", WtPercent: 5, Step: 3},
		{Key: "ammonia water", WtPercent: 10, Step: 4}, {Key: "copper nitrate", Step: 5}, {Key: "wax", Step: 6},
	}
	for b.Loop() {
		Clashes(uses, "C26000")
	}
}
