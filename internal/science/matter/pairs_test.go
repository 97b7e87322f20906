package matter

import (
	"fmt"
	"slices"
	"testing"
)

// a is a use by name and strength.
func a(key string, wtPercent float64) Use { return Use{Key: key, WtPercent: wtPercent} }

// these makes uses of names whose strength does not matter.
func these(names ...string) []Use {
	var us []Use
	for _, n := range names {
		us = append(us, Use{Key: n})
	}
	return us
}

// A namedPair is a row of testdata/incompat.csv as a person would name it: every
// one of as with every one of bs. No bs: with the metal (brass) or the air.
type namedPair struct {
	as, bs []Use
	level  string // as in the row, its part for these strengths
}

var acids = these("vinegar", "acetic acid", "citric acid pickle", "pickle", "sulfuric acid", "muriatic acid", "nitric acid")

var sulfides = these("liver of sulfur", "ammonium sulfide", "barium sulfide", "sodium sulfide")

var namedPairs = map[string][]namedPair{
	"X01": {{these("household ammonia", "ammonia gas", "ammonium chloride", "ammonium sulfate", "ammonium carbonate"), these("bleach", "pool chlorine"), Stop}},
	"X02": {{acids, these("bleach"), Stop}},
	"X03": {{acids, sulfides, Stop}},
	"X04": {{acids, these("sodium thiosulfate"), Hood}},
	"X05": {
		{[]Use{a("hydrogen peroxide", 12), a("hydrogen peroxide", 30), a("hydrogen peroxide", 0)}, these("vinegar", "acetic acid"), Stop},
		{[]Use{a("hydrogen peroxide", 3)}, []Use{a("vinegar", 5), a("vinegar", 0), a("acetic acid", 5)}, Care},
		{[]Use{a("hydrogen peroxide", 3)}, []Use{a("glacial acetic acid", 99)}, Stop},
	},
	"X06": {{[]Use{a("hydrogen peroxide", 3), a("hydrogen peroxide", 30)}, these("acetone"), Stop}},
	"X07": {{[]Use{a("hydrogen peroxide", 3)}, these("copper sulfate", "copper chloride", "copper nitrate", "verdigris", "malachite", "ferric chloride", "ferric nitrate", "ferrous sulfate"), Care}},
	"X08": {{these("ammonia water", "ammonia gas"), these("iodine", "bromine", "chlorine"), Stop}},
	"X09": {{these("ammonia water", "ammonia gas"), these("copper nitrate", "ferric nitrate", "potassium chlorate", "potassium permanganate"), Stop}},
	"X10": {{these("ammonia water", "ammonia gas"), these("silver nitrate"), Stop}},
	"X11": {{these("ammonia water", "ammonia gas"), these("mercuric chloride", "gold chloride"), Stop}},
	"X12": {{these("ammonia water", "ammonia gas"), acids, Care}},
	"X13": {{these("ammonium chloride", "ammonium sulfate"), these("sodium hydroxide", "lime", "washing soda"), Hood}},
	"X14": {{these("ammonium chloride", "ammonium sulfate", "ammonium carbonate"), these("potassium chlorate", "sodium nitrite"), Stop}},
	"X15": {{these("nitric acid"), these("alcohol", "isopropyl alcohol", "acetone", "wax", "rags and paper", "sawdust", "glacial acetic acid"), Stop}},
	"X16": {{these("nitric acid"), nil, Hood}},
	"X17": {{these("copper nitrate", "ferric nitrate"), these("torch"), Hood}},
	"X18": {{these("copper nitrate", "ferric nitrate", "potassium chlorate"), these("rags", "sawdust", "rags and paper", "wax"), Stop}},
	"X19": {{these("potassium permanganate"), these("hydrochloric acid", "glycerine", "alcohol"), Stop}},
	"X20": {{acids, these("potassium ferrocyanide", "cyanide"), Stop}},
	"X21": {{these("copper sulfate", "copper chloride", "copper nitrate", "verdigris"), these("acetylene"), Stop}},
	"X22": {{these("ammonia gas", "ammonia water"), nil, Product}},
	"X23": {{these("ammonia gas", "ammonia water"), these("aluminium, zinc or nickel-plated rack"), Product}},
	"X24": {{these("water", "distilled water"), []Use{a("sulfuric acid", 96), a("sulfuric acid", 0)}, Stop}},
	"X25": {{sulfides, these("copper nitrate", "ferric nitrate", "potassium chlorate"), Stop}},
	"X26": {{these("steel tweezers, wire or wool"), these("vinegar", "citric acid pickle", "pickle", "sulfuric acid", "muriatic acid"), Product}},
	"X27": {{these("food or drink"), nil, Stop}},
	"X28": {{these("linseed or tung oil"), nil, Care}},
	"X29": {{these("lacquer and lacquer thinner", "acetone"), these("torch or heat gun"), Stop}},
	"X30": {{these("selenium cold blackener"), append(slices.Clone(sulfides), these("vinegar", "pickle", "sodium thiosulfate")...), Stop}},
	"X31": {{[]Use{a("hydrogen peroxide", 30), a("hydrogen peroxide", 50), a("hydrogen peroxide", 0)}, these("alcohol", "wax", "rags", "sawdust"), Stop}},
	"X32": {{these("bleach"), these("acetone", "alcohol", "isopropyl alcohol"), Stop}},
	"X33": {{these("potassium chlorate"), append(append(slices.Clone(acids), sulfides...), these("sulfur", "metal powder", "alcohol", "wax", "sawdust", "rags")...), Stop}},
	"X34": {{these("bleach"), append(slices.Clone(sulfides), Use{Key: "sodium thiosulfate"}), Stop}},
}

// Every row of testdata/incompat.csv, X01 to X34, fires for every pair a person
// would name by it, at the row's level and whichever comes first, and cites what
// the row cites or says that it is from memory.
func TestEveryPublishedPairFires(t *testing.T) {
	rows := published(t, "incompat.csv")
	if len(rows) != len(namedPairs) || len(rows) != 34 {
		t.Fatalf("%d rows, %d of them named here, want 34", len(rows), len(namedPairs))
	}
	for _, row := range rows {
		id, fired := row["id"], 0
		for _, p := range namedPairs[id] {
			for _, x := range p.as {
				if p.bs == nil {
					fired++
					if got := levelOf(Clashes([]Use{x}, "brass"), id); got != p.level {
						t.Errorf("%s: %s on brass has level %q, want %s", id, x.Key, got, p.level)
					}
				}
				for _, y := range p.bs {
					if named(x) == named(y) {
						continue
					}
					fired++
					for _, uses := range [][]Use{{x, y}, {y, x}} {
						if got := levelOf(Clashes(uses, "copper"), id); got != p.level {
							t.Errorf("%s: %v has level %q, want %s", id, uses, got, p.level)
						}
						if got := levelOf(Meet(uses), id); got != p.level {
							t.Errorf("%s: mixed, %v has level %q, want %s", id, uses, got, p.level)
						}
					}
				}
			}
		}
		if fired == 0 {
			t.Errorf("%s (%s with %s) is named by nothing", id, row["group_a"], row["group_b"])
		}
		i := slices.IndexFunc(Pairs(), func(p Pair) bool { return p.ID == id })
		if row["seen"] == "seen" && Pairs()[i].Source == "" {
			t.Errorf("%s has a source in print, and none here", id)
		}
	}
}

func named(u Use) string { s, _ := Lookup(u.Key); return s.Key }

// ids lists the clashes of a level or worse, for messages.
func ids(cs []Clash, level string) (out []string) {
	for _, c := range cs {
		if rank(c) <= slices.Index(levels, level) {
			out = append(out, fmt.Sprintf("%s %s/%s", c.ID, c.A, c.B))
		}
	}
	return out
}
