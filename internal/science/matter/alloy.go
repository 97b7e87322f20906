package matter

import (
	"regexp"
	"slices"
	"strings"
	"sync"
)

// A Metal is one copper alloy by its UNS number.
//
// Family is "copper", "brass", "bronze" or "nickel silver" by composition, not
// by the name it is sold under. ZincMax is the largest mass fraction of zinc
// the composition allows, computed from it; 0 where it names none.
type Metal struct {
	UNS            string
	Name           string
	Family         string
	Composition    string // percent by mass
	DensityGPerCM3 float64
	ZincMax        float64
	Note           string
	Source         string
	Standing       string
}

// alloyTable is the table of alloys, read once.
var alloyTable = sync.OnceValue(func() []Metal {
	var as []Metal
	for _, r := range table("alloys.tsv") {
		as = append(as, Metal{
			UNS: r["uns"], Name: r["name"], Family: r["family"], Composition: r["composition_wt_percent"],
			DensityGPerCM3: r.number("density_g_cm3"), ZincMax: r.number("zinc_max"), Note: r["note"],
			Source: r["source"], Standing: r["standing"],
		})
	}
	return as
})

// Alloys returns the alloys in the order of their UNS numbers.
func Alloys() []Metal { return slices.Clone(alloyTable()) }

// Alloy returns the alloy of a UNS number ("C26000"), case ignored.
func Alloy(uns string) (Metal, bool) {
	uns = strings.ToUpper(strings.TrimSpace(uns))
	for _, a := range alloyTable() {
		if a.UNS == uns {
			return a, true
		}
	}
	return Metal{}, false
}

// crackingZinc is the mass fraction of zinc above which formed brass is prone
// to season cracking in ammonia. From memory, after ASTM B858 and ISO 6957.
const crackingZinc = 0.15

// A piece is what words say about the metal that is worked on.
type piece struct {
	name     string
	zincMax  float64
	known    bool
	relieved bool // said to be annealed or stress-relieved
}

// cracks reports whether formed metal of this kind may crack in ammonia.
func (m piece) cracks() bool { return !m.relieved && m.zincMax > crackingZinc }

var (
	unsWord  = regexp.MustCompile(`c\d{5}`)
	softWord = regexp.MustCompile(`\b(annealed|stress[- ]relieved)\b`)
	hardWord = regexp.MustCompile(`\b(not|never|un|before)\b`)
)

// readMetal finds the zinc in a UNS number or in words. Words that could mean
// several alloys are read as the one richest in zinc.
func readMetal(words string) piece {
	w := strings.ToLower(strings.TrimSpace(words))
	m := piece{name: strings.TrimSpace(words), relieved: softWord.MatchString(w) && !hardWord.MatchString(w)}
	if w == "" {
		m.name = "a metal that is not named"
	}
	if a, ok := Alloy(unsWord.FindString(w)); ok {
		m.zincMax, m.known = a.ZincMax, true
		return m
	}
	for _, a := range alloyTable() {
		if a.name() != "" && strings.Contains(w, a.name()) {
			m.zincMax, m.known = max(m.zincMax, a.ZincMax), true
		}
	}
	if m.known {
		return m
	}
	switch {
	case unsWord.MatchString(w), strings.Contains(w, "manganese"), strings.Contains(w, "aluminium"), strings.Contains(w, "aluminum"):
		// another alloy than those in the table; manganese bronze is rich in zinc
	case strings.Contains(w, "brass"):
		m.zincMax, m.known = richest("brass"), true
	case strings.Contains(w, "nickel silver"):
		m.zincMax, m.known = richest("nickel silver"), true
	case strings.Contains(w, "bronze"):
		m.zincMax, m.known = richest("bronze"), true
	case strings.Contains(w, "copper"):
		m.known = true
	}
	if !m.known {
		m.zincMax = richest("brass")
	}
	return m
}

// name returns the words of the alloy's name that tell it from others.
func (a Metal) name() string {
	n, _, _ := strings.Cut(strings.ToLower(a.Name), " (")
	n, _, _ = strings.Cut(n, ",")
	fields := strings.FieldsFunc(n, func(r rune) bool { return r == ' ' })
	fields = slices.DeleteFunc(fields, func(f string) bool { return strings.ContainsAny(f, "0123456789") })
	return strings.Join(fields, " ")
}

// richest returns the most zinc any alloy of a family may hold.
func richest(family string) float64 {
	var z float64
	for _, a := range alloyTable() {
		if a.Family == family {
			z = max(z, a.ZincMax)
		}
	}
	return z
}
