package published

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/matter"
)

// metalWords name the metal for package matter: brass where a recipe is for
// several, since that is the one that ammonia cracks.
func (r Recipe) metalWords() string {
	if strings.Contains(r.Metal, "brass") || len(r.Metals) == 0 {
		return "brass"
	}
	return r.Metals[0]
}

// MatterUses lists what a recipe brings together, for package matter: all that is
// stirred together in one step, what lies below or round the piece with it, and
// a torch where there is one. No rinse is counted.
func (r Recipe) MatterUses() []matter.Use {
	var out []matter.Use
	for _, s := range r.Liquid() {
		u := matter.Use{Key: s.Substance, WtPercent: s.WtPercent, Step: 1, Form: "liquid"}
		for _, i := range r.Ingredients {
			if i.Substance == s.Substance && i.WtPercent > 0 {
				u.WtPercent = i.WtPercent // the bottle is handled before it is let down
			}
		}
		out = append(out, u)
	}
	for _, i := range r.Ingredients {
		switch {
		case i.Role == Over:
			out = append(out, matter.Use{Key: i.Substance, WtPercent: i.WtPercent, Step: 1, Form: "fume"})
		case i.Role == Litter:
			out = append(out, matter.Use{Key: i.Substance, Step: 1, Form: "solid"})
		case i.Substance == "water":
			out = append(out, matter.Use{Key: "water", Step: 1, Form: "liquid"})
		}
	}
	if r.Heat == Torch {
		out = append(out, matter.Use{Key: "torch", Step: 2, Form: "fume"})
	}
	return out
}

// Clashes returns what in a recipe must not meet, or only with care, worst first.
func (r Recipe) Clashes() []matter.Clash { return matter.Clashes(r.MatterUses(), r.metalWords()) }

// Cautions returns what a careful teacher would say about a recipe, most
// important first; a substance that is not known here is named as such.
func (r Recipe) Cautions() []matter.Caution {
	cs := matter.Cautions(r.MatterUses(), r.metalWords())
	const practice = "common practice, no source"
	switch r.Heat {
	case Warm:
		cs = append([]matter.Caution{{Text: "Warm liquid gives off more of what is in it, and boiling water scalds: goggles, and outdoors or at an open window.", Standing: practice}}, cs...)
	case Boiling, Hot:
		cs = append([]matter.Caution{{Text: "Hot liquid: it spits and steams salts into the air. Goggles, long sleeves, a hood or the open air, never an open flame under a plastic vessel.", Standing: practice}}, cs...)
	case Torch:
		cs = append([]matter.Caution{{Text: "A torch over salts: what boils off goes into the lungs. The teacher alone, outdoors or under a hood.", Standing: practice}}, cs...)
	}
	return cs
}

// judge sets who may carry a recipe out, and why: what the file says, made stricter by
// what package matter stops, by substances that only a teacher handles or that
// are known only to be refused, and by what is not known.
func (r *Recipe) judge() {
	r.Use = r.FileUse
	why, given := []string{}, r.Why != ""
	if given {
		why = append(why, r.Why)
	}
	tighten := func(to Use, format string, args ...any) {
		text := fmt.Sprintf(format, args...)
		if to.Stricter(r.Use) {
			r.Use = to
		} else if given || to != r.Use || slices.Contains(why, text) {
			return // the file's own reason stands
		}
		why = append(why, text)
	}
	for _, u := range r.MatterUses() {
		sub, ok := matter.Lookup(u.Key)
		switch {
		case !ok:
			tighten(ByTeacher, "%s is not known here", u.Key)
		case sub.Use == "reference":
			tighten(ForRecord, "%s is known here only so that it can be refused", sub.Name)
		case sub.Use == "demo":
			tighten(ByTeacher, "only a teacher handles %s", sub.Name)
		}
	}
	for _, c := range r.Clashes() {
		if c.Level == matter.Stop {
			tighten(ByTeacher, "%s must not meet %s: %s", c.A, c.B, c.What)
		}
	}
	if len(why) == 0 {
		why = []string{map[Use]string{
			ForClass:  "mild enough to be shown to a class, under the cautions given here",
			ByTeacher: "judged so by whoever collected it; no further reason is given",
			ForRecord: "judged so by whoever collected it; no further reason is given",
		}[r.Use]}
	}
	r.Why = strings.Join(why, "; ")
}
