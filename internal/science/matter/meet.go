package matter

import (
	"fmt"
	"slices"
)

// Meet returns every clash between the uses themselves, worst first, as if they
// were mixed: steps, rinses, the metal and the air are left out.
func Meet(uses []Use) []Clash {
	parties, found := partiesOf(uses)
	return all(parties, found, func(rule, party, party, *Clash) bool { return true })
}

// MeetOnShelf returns which of the supplies must not stand together, worst
// first: a bottle can leak, breathe or fall. What matters only on the metal or
// over a torch is left out. Food keeps apart from all that can hurt.
func MeetOnShelf(supplies []Use) []Clash {
	parties, found := partiesOf(supplies)
	for _, food := range parties {
		if !slices.Contains(food.groups, "FOD") {
			continue
		}
		for _, u := range supplies {
			if s, ok := Lookup(u.Key); ok && len(s.worst(u.WtPercent).HCodes) > 0 {
				found = append(found, Clash{
					ID: "S01", A: food.name, B: s.Name, StepA: food.step, StepB: u.Step, Level: Stop,
					What: "a supply that can hurt may be eaten or drunk", Do: "store apart: no food or drink where supplies stand",
					Instead: "Keep food in another room, and never a supply in a bottle for food.", Standing: "common practice, no source",
				})
			}
		}
	}
	return all(parties, found, func(r rule, _, _ party, c *Clash) bool {
		c.Do = "store apart: on different shelves, each in a tray, never one above the other; " + c.Do
		return r.apart
	})
}

// MeetInRoom returns what must not go on in one room on one day, worst first:
// uses are those of all treatments of the day, on whatever pieces, and metal is
// as for [Clashes]. Steps and rinses do not count. Gases and sparks cross a
// room; what only reaches across a bench is lowered to a caution, and what must
// touch is left out. It comes beside [Clashes] for each piece, not in its place.
func MeetInRoom(uses []Use, metal string) []Clash {
	parties, found := partiesOf(uses)
	if len(parties) > 0 {
		parties = append(parties, ambient(metal)...)
	}
	return all(parties, found, func(r rule, _, _ party, c *Clash) bool {
		switch r.room {
		case reachNever:
			return true
		case reachBench:
			if r.Level != Stop && r.Level != Hood {
				return false
			}
			c.Level = Care
			c.Do = "separate benches, tools, gloves and cloths, never the same piece; " + c.Do
			return true
		}
		return false
	})
}

// A Class is who stands in the room. YoungestAge is 0 when nobody said; Hood is
// one that blows outside.
type Class struct {
	YoungestAge int
	Hood        bool
	Outdoors    bool
}

// The ages at which the rules change. Common practice, no source, but for the
// chronic hazards: US law bars art material with such a label from grade 6 and
// under (LHAMA, 16 CFR 1500.14(b)(8), wording from memory).
const (
	handsOn = 12
	adult   = 18
)

// MeetInClass returns what must not be taught this way, worst first: the clashes
// of one piece, where a pair that needs a hood is stopped without one and out of
// doors is as good, and what people of that age should not handle. An age that
// nobody gave counts as grown up, with a caution.
func MeetInClass(uses []Use, metal string, who Class) []Clash {
	open := who.Hood || who.Outdoors
	found := Clashes(uses, metal)
	for i := range found {
		if found[i].Level == Hood && !open {
			found[i].Level = Stop
			found[i].Do = "there is neither a hood nor the open air, so not in this room; " + found[i].Do
		}
	}
	if who.YoungestAge <= 0 {
		found = append(found, Clash{
			ID: "C00", A: "the class", What: "the age of the youngest is not given", Level: Care, Do: "ask for it",
			Instead: "Until then plan as for children under 12.", Standing: practice,
		})
	}
	for _, u := range uses {
		if s, ok := Lookup(u.Key); ok {
			found = append(found, who.handles(u, s)...)
		}
	}
	return worstFirst(found)
}

// practice marks a rule of the trade that nothing published backs.
const practice = "common practice, no source"

// handles returns what speaks against this class handling a substance.
func (who Class) handles(u Use, s Substance) []Clash {
	var found []Clash
	band := s.worst(u.WtPercent)
	say := func(id, level, what, do, instead, source, standing string) {
		found = append(found, Clash{ID: id, A: s.Name, StepA: u.Step, What: what, Do: do, Instead: instead, Level: level, Source: source, Standing: standing})
	}
	young := who.YoungestAge > 0 && who.YoungestAge < handsOn
	minor := who.YoungestAge > 0 && who.YoungestAge < adult
	ammonia, sulfide := slices.Contains(band.Groups, "AMM"), slices.Contains(band.Groups, "SUL")
	if s.Use == "reference" {
		say("C01", Stop, "it does not belong in a class", "not in a class", "Show a finished swatch or choose another recipe.", "", practice)
	}
	if s.Use == "demo" {
		level := Care
		if young {
			level = Stop
		}
		say("C02", level, "only the teacher handles it", "the teacher alone, others at a distance", "Show a finished swatch.", "", practice)
	}
	switch {
	case young && (ammonia && band.BelowWtPercent > 1 || sulfide):
		say("C03", Stop, "no sulfide, and no ammonia above 1 %, for children under 12", "not with children under 12", "Salt and vinegar in damp litter colour copper too.", "", practice)
	case young && band.chronic():
		say("C03", Stop, "it can harm over years: not for grade 6 and under", "not with children under 12", "Salt and vinegar in damp litter colour copper too.", "LHAMA, 16 CFR 1500.14(b)(8); CPSC art-materials page", "read in source")
	case young && (band.danger() || band.dusty()):
		say("C03", Stop, "it can hurt skin, eyes or lungs: not for children under 12", "not with children under 12", "Salt and vinegar in damp litter colour copper too.", "", practice)
	case minor && !young && s.Key == "ammonia-water" && band.BelowWtPercent > 5:
		say("C04", Stop, "ammonia above 5 % is not for people under 18", "5 % or less, outdoors", "Dilute it before the class comes.", "", practice)
	case minor && !young && ammonia && !who.Outdoors:
		say("C04", Stop, "with people under 18, ammonia is for outdoors", "outdoors only", "Go outdoors, or show swatches fumed before.", "", practice)
	case minor && !young && sulfide:
		say("C04", Care, "with people under 18 the teacher does the sulfide", "the teacher dips, the class watches", "Show a finished swatch.", "", practice)
	case !minor && s.Key == "ammonia-water" && band.BelowWtPercent > 10:
		say("C05", Care, "ammonia above 10 % is more than a class needs", "keep class stock at 5 to 10 %, and cool", fmt.Sprintf("Dilute it before the class comes; this counts as %s.", band.Name), "", practice)
	}
	if (ammonia && band.BelowWtPercent > 1 || sulfide) && !who.Hood && !who.Outdoors {
		say("C06", Stop, "it gives off gas, and there is neither a hood nor the open air", "outdoors or under a hood", "Move outdoors, or show swatches made before.", "two tubs of 60 mL at 3 to 5 % lost whole in 100 m³ give 51 to 84 ppm", "computed")
	}
	return found
}

// worst is the band at a strength; an unknown or impossible one counts as the
// strongest sold, unless the substance has a usual strength.
func (s Substance) worst(wtPercent float64) Band {
	b, err := s.at(wtPercent)
	if err != nil {
		return s.Bands[len(s.Bands)-1]
	}
	return b
}

// chronic reports whether b can harm over years: cancer, genes, the unborn,
// asthma or an organ (H334, H34x, H35x, H36x, H37x).
func (b Band) chronic() bool {
	return slices.ContainsFunc(b.HCodes, func(h string) bool {
		return h == "H334" || len(h) > 3 && h[:2] == "H3" && h[2] >= '4' && h[2] <= '7'
	})
}

// dusty reports whether b hurts when it is breathed.
func (b Band) dusty() bool {
	return slices.ContainsFunc(b.HCodes, func(h string) bool { return slices.Contains([]string{"H330", "H331", "H332", "H335"}, h) })
}
