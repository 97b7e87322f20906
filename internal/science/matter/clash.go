package matter

import (
	"fmt"
	"slices"
	"strings"
	"sync"
)

// The levels of a clash, worst first.
const (
	Stop    = "stop"    // blocks the plan
	Hood    = "hood"    // outdoors or under a hood only
	Care    = "caution" // printed on the card
	Product = "product" // harms the piece, not the person
)

// levels ranks the levels, worst first.
var levels = []string{Stop, Hood, Care, Product}

// A Use is one substance in one step of a recipe or of a stack of layers.
//
// Key is a key or name of a substance; WtPercent its strength by mass, 0 when
// unknown. Steps count upwards from the metal through every layer; uses of the
// same step are mixed. Form is "liquid", "fume", "solid" or "residue" (what an
// earlier patina left). RinsedBefore says that the piece was rinsed well just
// before this use.
type Use struct {
	Key          string
	WtPercent    float64
	Step         int
	Form         string
	RinsedBefore bool
}

// A Clash is two things of a recipe that should not meet.
//
// ID is the row of the never-meet table ("X09"), or "unknown" when A is not
// known here. A and B are plain names, StepA and StepB where they are used (0
// for the metal and the air). Level is [Stop], [Hood], [Care] or [Product].
// Instead is a safer way.
type Clash struct {
	ID       string
	A, B     string
	StepA    int
	StepB    int
	What     string
	Do       string
	Instead  string
	Level    string
	Source   string
	Standing string
}

// String returns the clash as a sentence for the bench.
func (c Clash) String() string {
	if c.B == "" {
		return fmt.Sprintf("%s: %s. %s", c.A, c.What, c.Instead)
	}
	return fmt.Sprintf("%s with %s: %s. Rule: %s. %s", c.A, c.B, c.What, c.Do, c.Instead)
}

// A Pair is one row of the never-meet table, in words.
type Pair struct {
	ID       string
	A, B     string
	What     string
	Do       string
	Instead  string
	Level    string
	Source   string
	Standing string
}

// A rule is a Pair with the group codes that set it off.
type rule struct {
	Pair
	a, b   []Group
	clears bool   // a thorough rinse between two steps lowers or lifts it
	room   string // reachNever, reachBench or reachMix
	apart  bool   // the two bottles stand on different shelves
}

// How far a rule reaches beyond two things on one piece.
const (
	reachNever = "never" // the two never share a room on one day
	reachBench = "bench" // benches apart are enough
	reachMix   = "mix"   // only where the two touch
)

// rules is the never-meet table, read once.
var rules = sync.OnceValue(func() []rule {
	var all []rule
	for _, r := range table("clashes.tsv") {
		if !slices.Contains(levels, r["level"]) {
			panic(fmt.Errorf("clash %s: level %q", r["id"], r["level"]))
		}
		if !slices.Contains([]string{reachNever, reachBench, reachMix}, r["room"]) {
			panic(fmt.Errorf("clash %s: room %q", r["id"], r["room"]))
		}
		all = append(all, rule{
			Pair: Pair{
				ID: r["id"], A: r["group_a"], B: r["group_b"], What: r["what"], Do: r["do"], Instead: r["instead"],
				Level: r["level"], Source: r["source"], Standing: r["standing"],
			},
			a: groups(r["a"]), b: groups(r["b"]), clears: r["rinse"] == "clears", room: r["room"], apart: r["shelf"] == "apart",
		})
	}
	return all
})

// Pairs returns the never-meet table for a wall sheet.
func Pairs() []Pair {
	var ps []Pair
	for _, r := range rules() {
		ps = append(ps, r.Pair)
	}
	return ps
}

// grid is the group by group table.
var grid = sync.OnceValue(func() map[[2]Group]string {
	g := make(map[[2]Group]string)
	for _, r := range table("matrix.tsv") {
		for column, cell := range r {
			if column != "group" {
				g[[2]Group{Group(r["group"]), Group(column)}] = cell
			}
		}
	}
	return g
})

// Meets returns what the group by group table says of two groups: a row of the
// never-meet table ("X03"), "heat", "O2" (gas evolved), "ok", "use" (this is
// the patina), or "" when nothing is listed.
func Meets(a, b Group) string { return grid()[[2]Group{a, b}] }

// A party is one side of a meeting: a use, the metal or the air.
type party struct {
	key, name string
	step      int
	groups    []Group
	sure      []Group // those it has at every strength
	doubt     string  // what had to be assumed of its strength
	mild      bool    // the assumption is a usual strength, not the strongest
}

// always is the step of what is there all the time; no rinse removes it.
const always = 0

// Clashes returns every clash between the uses, and of the uses with the metal
// and the air, worst first. Order of the uses does not matter.
//
// metal is a UNS number ("C26000") or words ("brass, annealed"); an empty or
// unknown one is taken as possibly rich in zinc. A strength that is unknown or
// impossible counts as the worst that is sold. A thorough rinse between two
// steps lowers a stop that rinsing can clear to a caution and lifts the milder
// ones. A key that is not in the table, the empty one included, gives a Clash
// with ID "unknown", never silence.
func Clashes(uses []Use, metal string) []Clash {
	parties, found := partiesOf(uses)
	if len(parties) > 0 {
		parties = append(parties, ambient(metal)...)
	}
	return all(parties, found, func(r rule, p, q party, c *Clash) bool {
		if !r.clears || !rinsedBetween(uses, p.step, q.step) {
			return true
		}
		if r.Level != Stop {
			return false
		}
		c.Level = Care
		c.Do = "rinsed between: keep it so, and rinse well; " + c.Do
		return true
	})
}

// partiesOf makes parties of the uses that are known, and clashes of the others.
func partiesOf(uses []Use) (parties []party, strange []Clash) {
	for _, u := range uses {
		if p, ok := partyOf(u); ok {
			parties = append(parties, p)
		} else {
			strange = append(strange, unknown(u))
		}
	}
	return parties, strange
}

// A weigher says whether a rule holds between two parties in the case at hand;
// it may lower the level of the clash and say why.
type weigher func(r rule, p, q party, c *Clash) bool

// all adds to found every clash between two different parties, worst first.
func all(parties []party, found []Clash, weigh weigher) []Clash {
	for i, p := range parties {
		for _, q := range parties[i+1:] {
			if p.key != q.key {
				found = append(found, meet(p, q, weigh)...)
			}
		}
	}
	return worstFirst(found)
}

// partyOf makes a party of a use, and reports false for an unknown substance.
func partyOf(u Use) (party, bool) {
	s, ok := Lookup(u.Key)
	if !ok {
		return party{}, false
	}
	p := party{key: s.Key, name: s.Name, step: u.Step, sure: s.Groups}
	if u.Form == "fume" || u.Form == "residue" {
		p.name += " (" + u.Form + ")"
	}
	b, err := s.at(u.WtPercent)
	switch {
	case err == nil && (!b.Assumed || s.AssumedWtPercent > 0):
		p.groups = b.Groups
		if b.Assumed {
			p.doubt = fmt.Sprintf("strength of %s not given, taken as %v %%", s.Name, s.AssumedWtPercent)
			p.mild = true
		}
	default:
		for _, b := range s.Bands {
			p.groups = append(p.groups, b.Groups...)
		}
		if len(s.Bands) > 1 {
			p.doubt = fmt.Sprintf("strength of %s not known, taken as the strongest", s.Name)
		}
	}
	return p, true
}

// ambient returns the parties that are always there: the air and the metal.
func ambient(metal string) []party {
	m := readMetal(metal)
	p := party{key: "metal", name: m.name, step: always, groups: []Group{"MET"}}
	if m.cracks() {
		p.groups = append(p.groups, "ZN15")
	}
	return []party{{key: "air", name: "air", step: always, groups: []Group{"AIR"}}, p}
}

// unknown is the clash of a use that is not in the table.
func unknown(u Use) Clash {
	name := strings.TrimSpace(u.Key)
	if name == "" {
		name = "a substance without a name"
	}
	return Clash{
		ID: "unknown", A: name, StepA: u.Step, What: ErrUnknown.Error(), Level: Care,
		Do:      "treat it as able to hurt until the sheet is read",
		Instead: "Choose the supply from the list, or keep it apart from everything else.", Standing: "common practice, no source",
	}
}

// rinsedBetween reports whether the piece was rinsed well between two steps.
func rinsedBetween(uses []Use, a, b int) bool {
	lo, hi := min(a, b), max(a, b)
	for _, u := range uses {
		if u.RinsedBefore && lo < u.Step && u.Step <= hi {
			return true
		}
	}
	return false
}

// meet returns what the rules say of two parties, the worst row of each ID.
func meet(p, q party, weigh weigher) []Clash {
	if q.key < p.key {
		p, q = q, p
	}
	byID := make(map[string]Clash)
	for _, r := range rules() {
		a, b := p, q
		if !overlap(r.a, a.groups) || !overlap(r.b, b.groups) {
			a, b = q, p
			if !overlap(r.a, a.groups) || !overlap(r.b, b.groups) {
				continue
			}
		}
		c := Clash{
			ID: r.ID, A: a.name, B: b.name, StepA: a.step, StepB: b.step, What: r.What, Do: r.Do,
			Instead: r.Instead, Level: r.Level, Source: r.Source, Standing: r.Standing,
		}
		c.Do += a.caveat(r.a) + b.caveat(r.b)
		if !weigh(r, p, q, &c) {
			continue
		}
		if old, seen := byID[r.ID]; !seen || rank(c) < rank(old) {
			byID[r.ID] = c
		}
	}
	var cs []Clash
	for _, c := range byID {
		cs = append(cs, c)
	}
	return cs
}

// caveat returns what was assumed of a strength, if the rule hangs on it: it
// asks for groups that only some strengths have, or the assumption was a mild one.
func (p party) caveat(want []Group) string {
	if p.doubt == "" || !p.mild && overlap(want, p.sure) {
		return ""
	}
	return " (" + p.doubt + ")"
}

// overlap reports whether any wanted group is there.
func overlap(want, have []Group) bool {
	for _, g := range want {
		if slices.Contains(have, g) {
			return true
		}
	}
	return false
}

// rank is 0 for the worst level.
func rank(c Clash) int { return slices.Index(levels, c.Level) }

// worstFirst sorts clashes by level, then by ID, names and steps, and keeps one
// of those that say the same of the same two things.
func worstFirst(cs []Clash) []Clash {
	slices.SortFunc(cs, func(a, b Clash) int {
		if d := rank(a) - rank(b); d != 0 {
			return d
		}
		if d := strings.Compare(a.ID+"\x00"+a.A+"\x00"+a.B, b.ID+"\x00"+b.A+"\x00"+b.B); d != 0 {
			return d
		}
		if d := a.StepA - b.StepA; d != 0 {
			return d
		}
		if d := a.StepB - b.StepB; d != 0 {
			return d
		}
		return strings.Compare(a.Do, b.Do)
	})
	seen := make(map[[3]string]bool)
	return slices.DeleteFunc(cs, func(c Clash) bool {
		k := [3]string{c.ID, c.A, c.B}
		if seen[k] {
			return true
		}
		seen[k] = true
		return false
	})
}
