package matter

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Prudent Practices 1995 and Lab Manager list what to store apart; the rest of
// this table is common practice, no source.
func TestShelfKeepsBottlesApart(t *testing.T) {
	for _, c := range []struct {
		uses []Use
		id   string // "" for bottles that may stand together
	}{
		{these("ammonia water", "bleach"), "X01"},
		{these("vinegar", "liver of sulfur"), "X03"},
		{these("hydrogen peroxide", "acetone"), "X06"},
		{these("copper nitrate", "rags"), "X18"},
		{these("ammonia water", "iodine"), "X08"},
		{these("lacquer", "torch"), "X29"},
		{these("copper sulfate", "food or drink"), "S01"},
		{these("salt", "food or drink"), ""},
		{these("salt", "vinegar", "water", "detergent"), ""},
		{these("copper sulfate", "ammonium chloride", "salt"), ""},
		{these("steel wool", "vinegar"), ""},
		{these("water", "sulfuric acid"), ""},
		{these("nitric acid"), ""},
		{these("linseed or tung oil"), ""},
	} {
		got := MeetOnShelf(c.uses)
		if c.id == "" {
			for _, k := range got {
				if k.ID != "unknown" {
					t.Errorf("%v are kept apart: %v", c.uses, k)
				}
			}
			continue
		}
		i := slices.IndexFunc(got, func(k Clash) bool { return k.ID == c.id })
		if i < 0 || !strings.HasPrefix(got[i].Do, "store apart") {
			t.Errorf("%v: want %s, got %v", c.uses, c.id, got)
		}
	}
	if got := MeetOnShelf(these("mystery bottle")); levelOf(got, "unknown") != Care {
		t.Errorf("a bottle nobody knows passes: %v", got)
	}
}

// Gas and sparks cross a room; the rows and their reasons are in clashes.tsv.
func TestRoomHoldsWhatCrossesIt(t *testing.T) {
	for _, c := range []struct {
		uses  []Use
		metal string
		id    string
		level string
	}{
		{these("ammonia water", "bleach"), "copper", "X01", Stop},
		{these("lacquer", "torch"), "copper", "X29", Stop},
		{these("nitric acid", "acetone"), "copper", "X15", Stop},
		{these("liver of sulfur", "vinegar"), "copper", "X03", Care},
		{these("copper nitrate", "ammonia gas"), "copper", "X09", Care},
		{these("sodium thiosulfate", "vinegar"), "copper", "X04", Care},
		{these("hydrogen peroxide", "copper sulfate"), "copper", "X07", ""},
		{these("nitric acid"), "copper", "X16", Hood},
		{these("ammonia gas"), "brass", "X22", Product},
		{these("salt", "vinegar"), "copper", "X03", ""},
	} {
		if got := levelOf(MeetInRoom(c.uses, c.metal), c.id); got != c.level {
			t.Errorf("%v: %s has level %q, want %q", c.uses, c.id, got, c.level)
		}
	}
}

// Ages, hood and what a teacher keeps to themselves: common practice, no source,
// but for LHAMA (chronic hazards, grade 6 and under).
func TestClassIsHeldToWhoIsThere(t *testing.T) {
	grown, teens, kids := Class{YoungestAge: 18, Hood: true}, Class{YoungestAge: 14, Outdoors: true}, Class{YoungestAge: 8, Outdoors: true}
	closed := Class{YoungestAge: 30}
	for _, c := range []struct {
		name  string
		uses  []Use
		who   Class
		id    string
		level string
	}{
		{"thiosulfate and tartar without a hood", these("sodium thiosulfate", "cream of tartar"), closed, "X04", Stop},
		{"the same under a hood", these("sodium thiosulfate", "cream of tartar"), grown, "X04", Hood},
		{"ammonia without a hood", []Use{a("ammonia", 5)}, closed, "C06", Stop},
		{"ammonia with one", []Use{a("ammonia", 5)}, grown, "C06", ""},
		{"sulfide without a hood", these("liver of sulfur"), closed, "C06", Stop},
		{"strong ammonia, grown up", []Use{a("ammonia", 20)}, grown, "C05", Care},
		{"5 % ammonia, grown up", []Use{a("ammonia", 5)}, grown, "C05", ""},
		{"4 % ammonia, teens outdoors", []Use{a("ammonia", 4)}, teens, "C04", ""},
		{"10 % ammonia, teens outdoors", []Use{a("ammonia", 10)}, teens, "C04", Stop},
		{"ammonia of unknown strength, teens", []Use{a("ammonia", 0)}, teens, "C04", Stop},
		{"4 % ammonia, teens under a hood", []Use{a("ammonia", 4)}, Class{YoungestAge: 14, Hood: true}, "C04", Stop},
		{"sulfide, teens", these("liver of sulfur"), teens, "C04", Care},
		{"4 % ammonia, children", []Use{a("ammonia", 4)}, kids, "C03", Stop},
		{"0.5 % ammonia, children", []Use{a("ammonia", 0.5)}, kids, "C03", ""},
		{"ammonium carbonate, children", these("ammonium carbonate"), kids, "C03", Stop},
		{"lacquer, children", these("lacquer"), kids, "C03", Stop},
		{"copper sulfate, children", these("copper sulfate"), kids, "C03", Stop},
		{"salt and vinegar, children", these("salt", "vinegar"), kids, "C03", ""},
		{"copper nitrate, grown up", these("copper nitrate"), grown, "C02", Care},
		{"copper nitrate, children", these("copper nitrate"), kids, "C02", Stop},
		{"bleach", these("bleach"), grown, "C01", Stop},
		{"age not given", these("salt"), Class{Hood: true}, "C00", Care},
	} {
		got := MeetInClass(c.uses, "copper", c.who)
		if l := levelOf(got, c.id); l != c.level {
			t.Errorf("%s: %s has level %q, want %q; all: %v", c.name, c.id, l, c.level, got)
		}
	}
}

// A younger or worse aired class never gets away with more, and a class with
// less than single pieces do.
func TestClassIsNeverLaxer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		uses := rapid.SliceOfN(anyUse(), 1, 5).Draw(t, "uses")
		who := Class{rapid.IntRange(1, 40).Draw(t, "age"), rapid.Bool().Draw(t, "hood"), rapid.Bool().Draw(t, "outdoors")}
		worst := func(cs []Clash) int {
			if len(cs) == 0 {
				return len(levels)
			}
			return rank(cs[0])
		}
		here := worst(MeetInClass(uses, "brass", who))
		if alone := worst(Clashes(uses, "brass")); alone < here {
			t.Fatalf("level %d in a class, %d without", here, alone)
		}
		closed := who
		closed.Hood, closed.Outdoors = false, false
		if w := worst(MeetInClass(uses, "brass", closed)); w > here {
			t.Fatalf("level %d indoors, %d outdoors", w, here)
		}
		younger := who
		younger.YoungestAge = rapid.IntRange(1, who.YoungestAge).Draw(t, "younger")
		if w := worst(MeetInClass(uses, "brass", younger)); w > here {
			t.Fatalf("level %d at %d, %d at %d", w, younger.YoungestAge, here, who.YoungestAge)
		}
		// a room and a shelf never find what mixing does not, but for food
		mixed := Clashes(uses, "brass")
		for _, c := range append(MeetInRoom(bare(uses), "brass"), MeetOnShelf(uses)...) {
			if c.ID == "S01" {
				continue
			}
			if levelOf(Clashes(bare(uses), "brass"), c.ID) == "" {
				t.Fatalf("%v is not a clash when mixed: %v", c, mixed)
			}
		}
	})
}

func bare(uses []Use) []Use {
	out := slices.Clone(uses)
	for i := range out {
		out[i].RinsedBefore = false
	}
	return out
}

// Each of the 83 substances, at each strength, tells how to stay safe with it or
// sends the reader to the sheet, and says what that rests on.
func TestEverySubstanceHasItsMeasures(t *testing.T) {
	if n := len(Substances()); n != 83 {
		t.Errorf("%d substances, want 83", n)
	}
	for _, s := range Substances() {
		for _, b := range s.Bands {
			ms := b.Measures()
			if len(ms) != 4 {
				t.Fatalf("%s has %d measures", b.Name, len(ms))
			}
			for _, m := range ms {
				if len(m.Text) < 4 || m.What == "" {
					t.Errorf("%s: %s is %q", b.Name, m.What, m.Text)
				}
				if !slices.Contains(standings, m.Standing) || m.Standing == "read in source" && m.Source == "" {
					t.Errorf("%s: %s rests on %q, %q", b.Name, m.What, m.Standing, m.Source)
				}
			}
			// burns to skin or eyes ask for goggles (rule of the table)
			if slices.Contains(b.HCodes, "H314") && s.Kind == "supply" && !strings.Contains(b.Eyes, "goggles") {
				t.Errorf("%s burns and asks for %q", b.Name, b.Eyes)
			}
		}
	}
}
