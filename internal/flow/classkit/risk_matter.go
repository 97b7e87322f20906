package classkit

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/science/room"
)

// spread is the ppm of grams of ammonia in still air.
func spread(grams, volumeM3 float64) (float64, error) {
	c, err := room.Room{VolumeM3: volumeM3, Mixing: 1, Temp: 20}.Run(room.AmmoniaMolarMass, []room.Release{{Grams: grams}})
	if err != nil {
		return 0, err
	}
	peak, _ := c.Peak()
	return float64(peak), nil
}

// routes are the ways a hazard code says a substance gets in (the statements of
// Regulation (EC) 1272/2008, annex III).
var routes = []struct {
	way   string
	codes []string
}{
	{"breathed in", []string{"H330", "H331", "H332", "H334", "H335", "H336", "EUH071"}},
	{"skin", []string{"H310", "H311", "H312", "H314", "H315", "H317", "EUH066"}},
	{"eyes", []string{"H314", "H318", "H319"}},
	{"swallowed", []string{"H300", "H301", "H302", "H304"}},
}

// substance fills in what the tables know of u.
func (a Ask) substance(u used) Substance {
	x := Substance{Key: u.key, Name: capital(u.name())}
	if u.strength > 0 && u.strength < 100 {
		x.Name = fmt.Sprintf("%s, %s %%", x.Name, number(u.strength))
	}
	put := func(word, text, from string) {
		if text == "" {
			from = ""
		}
		x.Fields = append(x.Fields, Field{word, text, from})
	}
	sub, known := matter.Lookup(u.key)
	band, err := matter.At(u.key, u.strength)
	if !known || err != nil {
		if known && err != nil {
			band = sub.Bands[len(sub.Bands)-1]
		} else {
			sub, band = matter.Substance{}, matter.Band{}
		}
	}
	from := joinedFrom(band.Source, band.Standing)
	put("Used in", strings.Join(u.lessons, "; "), "the recipes")
	put("Supplier", "", "")
	put("CAS", sub.CAS, "the table of substances here")
	put("Amount in the class", a.amountOf(u.key), "the kit")
	put("Form", map[string]string{"liquid": "liquid", "solid": "solid", "fume": "vapour over a liquid", "residue": "left dry on the metal from an earlier layer"}[u.form], "the recipes")
	if sheet, ok := a.Sheets[u.supply.ID]; ok && u.supply.ID != 0 {
		put("Data sheet", fmt.Sprintf("Kept here since %s.", sheet.Added.Format("2 January 2006")), "the shelf")
	} else {
		put("Data sheet", "None is kept here: get it from the maker.", "")
	}
	put("Date of that sheet", "", "")
	switch {
	case !known:
		put("Hazards and codes", "Not known here: copy them from its data sheet.", "")
	case len(band.HCodes) == 0:
		put("Hazards and codes", "No hazard code at this strength.", from)
	default:
		var said []string
		for i, code := range band.HCodes {
			said = append(said, code+": "+band.Hazards[i])
		}
		text := strings.Join(said, "; ")
		if band.Assumed {
			text = fmt.Sprintf("%s (its strength is not known: %s is taken)", text, band.Name)
		}
		put("Hazards and codes", text, from)
		put("Pictograms", strings.Join(band.Pictograms, ", "), from)
	}
	put("Exposure limits", limits(sub.Limits), "as printed by the agency named; check the year")
	var ways []string
	for _, r := range routes {
		if slices.ContainsFunc(band.HCodes, func(c string) bool { return slices.Contains(r.codes, c) }) {
			ways = append(ways, r.way)
		}
	}
	put("Way in", strings.Join(ways, ", "), "from the hazard codes")
	put("Less hazardous one?", less(u.key, band), practice)
	put("Controls, in order", "Leave it out or show a finished swatch; a weaker one; hood or outdoors; few hands and small amounts; then goggles, gloves and apron.", practice)
	put("Ventilation", vent(band), practice)
	for _, m := range band.Measures() {
		if m.Text == "" {
			continue
		}
		switch m.What {
		case "gloves":
			put("Gloves", m.Text, joinedFrom(m.Source, m.Standing))
		case "eyes":
			put("Eyes", m.Text, joinedFrom(m.Source, m.Standing))
		case "first aid":
			put("First aid", m.Text, joinedFrom(m.Source, m.Standing))
		case "disposal":
			put("Waste", m.Text, joinedFrom(m.Source, m.Standing))
		}
	}
	put("Standard of gloves and goggles", "", "")
	fire := sub.Flammable
	put("Fire", fire, joinedFrom(sub.Source, sub.Standing))
	put("Spill", spill(band), practice)
	put("Storage", sub.Storage, joinedFrom(sub.Source, sub.Standing))
	put("Training", "Shown at the start of the class: what its label says, where the eyewash is, what to do at a splash.", practice)
	put("Monitoring", monitor(band), practice)
	return x
}

// joinedFrom says what something rests on.
func joinedFrom(source, standing string) string {
	if source == "" {
		return standing
	}
	if standing == "" {
		return source
	}
	return fmt.Sprintf("%s (%s)", source, standing)
}

// limits writes limits with their agency and year.
func limits(all []matter.Limit) string {
	var out []string
	for _, l := range all {
		text := fmt.Sprintf("%s, %s: %s %s", l.Agency, l.Kind, number(l.Value), l.Unit)
		if l.Year > 0 {
			text = fmt.Sprintf("%s, %s: %s %s (%d)", l.Agency, l.Kind, number(l.Value), l.Unit, l.Year)
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

func has(b matter.Band, g matter.Group) bool { return slices.Contains(b.Groups, g) }

func less(key string, b matter.Band) string {
	switch {
	case key == "ammonia-water" && b.BelowWtPercent > 5:
		return "Household ammonia below 5 % colours too, only slower."
	case has(b, "AMM"):
		return "Swatches fumed before the class show the colour with no ammonia in the room."
	case has(b, "SUL"):
		return "Heat colour browns copper with no sulfide; finished swatches show the black."
	case has(b, "NIT"):
		return "Copper sulfate or chloride recipes give greens with no nitrate."
	case len(b.HCodes) == 0:
		return "None needed by its codes."
	}
	return ""
}

func vent(b matter.Band) string {
	switch {
	case has(b, "AMM"), has(b, "SUL"), has(b, "SOL"), has(b, "KET"), has(b, "ALC"):
		return "Outdoors, or a hood that blows outside."
	case len(b.HCodes) == 0:
		return "That of the room."
	}
	return "Windows open; no dust, no spray towards people."
}

func spill(b matter.Band) string {
	switch {
	case has(b, "SUL"):
		return "Pad and much water; no acid near it; into its own jar."
	case has(b, "AMM"):
		return "All back; air; pad; then water. Neutralise in the open with weak citric acid, never in a closed jar."
	case has(b, "ACD"):
		return "Baking soda until it stops foaming, then wipe; into the copper waste when copper is in it."
	}
	return "Wipe wet; what holds copper goes into the copper waste."
}

func monitor(b matter.Band) string {
	switch {
	case has(b, "AMM"):
		return "Detector tubes of 5 to 70 ppm at head height when tubs are opened. Smell is not a meter. Health checks: as local rules ask."
	case has(b, "SUL"):
		return "A detector for hydrogen sulfide where much is used. Smell is not a meter. Health checks: as local rules ask."
	}
	return "None usual; as local rules ask."
}

// amountOf is the kit's amount of a material.
func (a Ask) amountOf(key string) string {
	for _, l := range a.matter() {
		if l.Material == key && l.Count > 0 {
			l.reckon(a.Class.Heads)
			return fmt.Sprintf("%s %s", number(l.Need), l.Unit)
		}
	}
	return ""
}

// normal makes a key of words.
func normal(text string) string {
	return strings.Trim(strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	}), "-"), "-")
}

// capital begins text with a capital.
func capital(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// sentence ends text with a full stop and begins it with a capital.
func sentence(text string) string {
	text = capital(strings.TrimSpace(text))
	if text == "" || strings.HasSuffix(text, ".") || strings.HasSuffix(text, "!") {
		return text
	}
	return text + "."
}
