package matter

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// classRecipes are the recipes of testdata/recipes.csv that are marked for a
// class, by their number, with what they are made of as the row's text has it.
var classRecipes = map[string]struct {
	metal string
	uses  []Use
}{
	"R04": {"bronze", these("vinegar", "sawdust")},
	"R14": {"brass", these("ammonium chloride", "copper sulfate", "water")},
	"R15": {"brass", these("copper sulfate", "water")},
	"R16": {"copper", []Use{a("salt", 0), a("ammonia water", 10), a("ammonium chloride", 0), a("vinegar", 6)}},
	"R27": {"bronze", these("ammonium chloride", "vinegar")},
	"R28": {"bronze", []Use{a("ammonium chloride", 0), a("salt", 0), a("ammonia water", 10), a("vinegar", 5)}},
	"R30": {"copper", []Use{a("ammonia water", 5), a("salt", 0), a("vinegar", 5)}},
	"R31": {"copper", []Use{a("ammonia water", 5), a("salt", 0), a("granular litter", 0)}},
	"R32": {"brass", []Use{a("ammonia water", 5)}},
	"R33": {"copper", these("vinegar")},
	"R34": {"copper", these("vinegar", "detergent")},
	"R38": {"copper", these("copper sulfate", "ammonium chloride", "water")},
	"R50": {"copper", []Use{a("liver of sulfur", 0), a("ammonia water", 10), a("water", 0)}},
	"R51": {"brass", these("liver of sulfur", "water")},
	"R68": {"copper", these("verdigris", "copper sulfate", "alum", "water")},
}

// The milder notes that class recipes do give. They are alarms that a careful
// teacher would give too, not false ones: ammonia stirred into vinegar heats and
// fogs (X12, GisChem), and brass may crack in ammonia (X22, ASTM B858).
var trueNotes = map[string][]string{
	"R16": {"X12"}, "R28": {"X12"}, "R30": {"X12"}, "R32": {"X22"},
}

// Each class recipe passes; what it is told beside is listed.
func TestClassRecipesPass(t *testing.T) {
	marked := 0
	for _, row := range published(t, "recipes.csv") {
		if row["class_use"] != "yes" {
			continue
		}
		marked++
		r, ok := classRecipes[row["id"]]
		if !ok {
			t.Errorf("%s is marked for a class and not tried here", row["id"])
			continue
		}
		cs := Clashes(r.uses, r.metal)
		var notes []string
		for _, c := range cs {
			if c.Level == Stop || c.Level == Hood || c.ID == "unknown" {
				t.Errorf("%s is refused: %v", row["id"], c)
			}
			if !slices.Contains(notes, c.ID) {
				notes = append(notes, c.ID)
			}
		}
		if !slices.Equal(notes, trueNotes[row["id"]]) {
			t.Errorf("%s is told %v, want %v", row["id"], notes, trueNotes[row["id"]])
		}
	}
	if marked != len(classRecipes) {
		t.Errorf("%d recipes are marked for a class, %d tried", marked, len(classRecipes))
	}
}

// A class recipe, in any order, step by step or mixed, at any usual strength,
// with harmless things beside, is never refused: no false alarm is known.
func TestBenignRecipesRaiseNoFalseAlarm(t *testing.T) {
	var keys []string
	for id := range classRecipes {
		keys = append(keys, id)
	}
	slices.Sort(keys)
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.SampledFrom(keys).Draw(t, "recipe")
		r := classRecipes[id]
		uses := slices.Clone(r.uses)
		for _, k := range rapid.SliceOfN(rapid.SampledFrom([]string{"water", "distilled water", "detergent", "salt", "granular litter", "wax", "cream of tartar", "alum"}), 0, 4).Draw(t, "beside") {
			// cream of tartar is an acid: over a sulfide it is a true alarm
			if k == "cream of tartar" && slices.ContainsFunc(r.uses, func(u Use) bool { return u.Key == "liver of sulfur" }) {
				continue
			}
			uses = append(uses, Use{Key: k})
		}
		for i := range uses {
			uses[i].Step = rapid.IntRange(0, 5).Draw(t, "step")
			uses[i].RinsedBefore = rapid.Bool().Draw(t, "rinsed")
			if uses[i].Key == "ammonia water" {
				uses[i].WtPercent = rapid.Float64Range(0.5, 30).Draw(t, "ammonia")
			}
			if uses[i].Key == "vinegar" {
				uses[i].WtPercent = rapid.Float64Range(3, 10).Draw(t, "vinegar")
			}
		}
		uses = rapid.Permutation(uses).Draw(t, "order")
		metal := rapid.SampledFrom([]string{"copper", "bronze", "C22000", "brass", ""}).Draw(t, "metal")
		if bad := ids(Clashes(uses, metal), Hood); len(bad) > 0 {
			t.Fatalf("%s on %q is refused: %v", id, metal, bad)
		}
		for _, c := range Clashes(uses, metal) {
			if !slices.Contains([]string{"X12", "X22"}, c.ID) {
				t.Fatalf("%s on %q: %v is new; is it true?", id, metal, c)
			}
		}
	})
}

// The recipes that the table marks as records only for their danger are stopped
// or need a hood: nitrate in ammonia, chlorate, permanganate with acid,
// ferrocyanide with acid, mercury, lead, arsenic (as poisons they are refused in
// a class).
func TestDangerousRecipesAreRefusedInClass(t *testing.T) {
	who := Class{YoungestAge: 30, Hood: true}
	want := map[string][]Use{
		"R58": these("potassium chlorate", "copper sulfate"), "R59": these("potassium permanganate", "ferrous sulfate", "hydrochloric acid"),
		"R60": these("copper sulfate", "potassium permanganate"), "R67": these("copper nitrate", "ammonia water"),
		"R80": these("sodium thiosulfate", "lead acetate"), "R82": these("arsenic", "muriatic acid", "liver of sulfur"),
		"R83": these("ammonium persulfate", "sodium hydroxide", "mercuric chloride"), "R84": these("antimony trichloride"),
		"R85": these("potassium chlorate", "nickel salts"), "R86": these("potassium ferrocyanide", "hydrochloric acid"),
		"R87": these("chromic acid", "hydrochloric acid", "potassium permanganate"), "R88": these("arsenic", "washing soda"),
	}
	tried := 0
	for _, row := range published(t, "recipes.csv") {
		uses, ok := want[row["id"]]
		if !ok {
			continue
		}
		tried++
		if row["class_use"] != "reference" {
			t.Errorf("%s is marked %q", row["id"], row["class_use"])
		}
		if bad := ids(MeetInClass(uses, "brass", who), Stop); len(bad) == 0 {
			t.Errorf("%s passes in a class", row["id"])
		}
	}
	if tried != len(want) {
		t.Errorf("%d of %d recipes are in the table", tried, len(want))
	}
}
