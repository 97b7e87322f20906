package matter

import (
	"slices"
	"strings"
	"sync"
)

// A Caution is one short line for a card, a bench screen or a handout.
type Caution struct {
	Text     string
	Source   string
	Standing string
}

// cautionTable is the lines in the order they are shown, read once.
var cautionTable = sync.OnceValue(func() []row { return table("cautions.tsv") })

// dangerCodes are the hazard codes whose label carries the word "danger".
// From memory, after Regulation (EC) 1272/2008, Annex I.
var dangerCodes = []string{
	"H220", "H225", "H270", "H271", "H300", "H301", "H304", "H310", "H311", "H314", "H318",
	"H330", "H331", "H334", "H350", "H360", "H360D", "H372",
}

// Cautions returns what a careful teacher would say about the uses on the
// metal, most important first: fuming with ammonia, what each substance does,
// first aid, leftovers. The last line always defers to the label, the safety
// data sheet, local rules and licensed practice. What must not meet is said by
// [Clashes].
func Cautions(uses []Use, metal string) []Caution {
	in := inUse(uses)
	m := readMetal(metal)
	var cs []Caution
	for _, r := range cautionTable() {
		show, names := false, ""
		switch when := r["when"]; when {
		case "ALWAYS":
			show = true
		case "UNKNOWN":
			names = strings.Join(in.unknown, ", ")
			show = names != ""
		case "TOX":
			names = strings.Join(in.groups["TOX"], ", ")
			show = names != ""
		case "AMM0":
			show = in.weakless
		case "ZN15":
			show = in.has("AMM") && m.known && m.cracks()
		case "ZN?":
			show = in.has("AMM") && !m.known && m.cracks()
		case "NIT":
			show = in.has("NIT") && (in.has("AMM") || in.has("AMS"))
		case "CUS": // the ammonia line speaks of copper waste already
			show = in.has("CUS") && !in.has("AMM")
		case "SUBSTANCES":
			cs = append(cs, in.lines()...)
		default:
			show = in.has(Group(when))
		}
		if show {
			cs = append(cs, Caution{
				Text: strings.ReplaceAll(r["text"], "{names}", names), Source: r["source"], Standing: r["standing"],
			})
		}
	}
	return cs
}

// A census is what a list of uses holds, each substance once at its worst.
type census struct {
	bands    []Band
	groups   map[Group][]string // names of the substances in each group
	unknown  []string
	weakless bool // some ammonia water has no strength written
}

func (c census) has(g Group) bool { return len(c.groups[g]) > 0 }

// inUse counts what a list of uses holds.
func inUse(uses []Use) census {
	c := census{groups: make(map[Group][]string)}
	for _, u := range uses {
		s, ok := Lookup(u.Key)
		if !ok {
			if n := unknown(u).A; !slices.Contains(c.unknown, n) {
				c.unknown = append(c.unknown, n)
			}
			continue
		}
		b, err := s.at(u.WtPercent)
		if err != nil { // an impossible strength is taken as the strongest
			b = s.Bands[len(s.Bands)-1]
			b.Assumed = true
		}
		if s.Key == "ammonia-water" && b.Assumed {
			c.weakless = true
		}
		c.add(s.Name, b)
	}
	return c
}

// add counts a band, keeping the stronger when the substance is there already.
func (c *census) add(name string, b Band) {
	for _, g := range b.Groups {
		if !slices.Contains(c.groups[g], name) {
			c.groups[g] = append(c.groups[g], name)
		}
	}
	for i, old := range c.bands {
		if old.Key == b.Key {
			if b.FromWtPercent > old.FromWtPercent {
				c.bands[i] = b
			}
			return
		}
	}
	c.bands = append(c.bands, b)
}

// lines returns one line for each hazardous substance, the dangerous first.
func (c census) lines() []Caution {
	bands := slices.Clone(c.bands)
	slices.SortFunc(bands, func(a, b Band) int {
		if a.danger() != b.danger() {
			if a.danger() {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Key, b.Key)
	})
	var cs []Caution
	for _, b := range bands {
		if len(b.Hazards) == 0 {
			continue
		}
		text := capital(b.Name) + ": " + strings.Join(b.Hazards, "; ") + "."
		if b.Gloves != "" {
			text += " Gloves: " + b.Gloves + "."
		}
		if b.Eyes != "" {
			text += " Eyes: " + b.Eyes + "."
		}
		cs = append(cs, Caution{Text: text, Source: b.Source, Standing: b.Standing})
	}
	return cs
}

// danger reports whether the label of b carries the word "danger".
func (b Band) danger() bool {
	return slices.ContainsFunc(b.HCodes, func(h string) bool { return slices.Contains(dangerCodes, h) })
}

// capital returns s with its first letter raised; names here start in ASCII.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
