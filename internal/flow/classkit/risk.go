package classkit

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/flow/plan"
	"aerugo/internal/science/matter"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

// Draft says what every risk assessment from here is.
const Draft = "DRAFT for the responsible person to complete and sign under local rules. Not legal advice."

// A Hazard is one row of a risk assessment. Key tells it from others, so that what the
// responsible person wrote to it is found again; WhoHow and Now are the draft's until
// they write their own. More, By, Till and Done are theirs.
type Hazard struct {
	Key      string
	Hazard   string
	WhoHow   string
	Now      string
	More     string
	By       string
	Till     string
	Done     string
	Own      bool // a line of their own
	Source   string
	Standing string
}

// A Substance is what is known of one thing the recipes use, by the fields that forms
// for hazardous substances ask for. Fields that nobody but the responsible person can
// answer are empty.
type Substance struct {
	Key    string
	Name   string
	Fields []Field
}

// A Field is one entry: a word, what it says ("" to be filled in), and what it rests on.
type Field struct{ Word, Text, From string }

// A Risk is the draft of a risk assessment in five steps.
type Risk struct {
	Activity   []Field
	Stop       string // what must never meet, when something would
	People     []Hazard
	Hazards    []Hazard
	Substances []Substance
	Room       []Field
	Review     []Field
}

// RiskOf drafts the risk assessment of a class. Every substance that a recipe uses is in
// it, and no other; what must never meet is said and does not keep it from being drawn
// up, since that is what it is for. What the responsible person wrote is kept. A class
// that can't be is a *studio.Problem.
func RiskOf(a Ask) (Risk, error) {
	if err := a.check(); err != nil {
		return Risk{}, err
	}
	r := Risk{}
	if p := Stop(a); p != nil {
		r.Stop = p.Text
	}
	var names []string
	for _, l := range a.Lessons {
		names = append(names, l.Name)
	}
	c := a.Class
	r.Activity = []Field{
		{"Activity", c.Name, ""},
		{"What is done", strings.Join(names, "; "), ""},
		{"Place", a.place(), ""},
		{"When and how long", fmt.Sprintf("%s, %d min", c.Starts.Format("2 January 2006, 15:04"), c.Minutes), ""},
		{"How often", "", ""},
		{"People", fmt.Sprintf("%s, %d students and the teacher", capital(c.Who.Words()), c.Heads), ""},
		{"Others who may be near", "", ""},
		{"Assessed by", "", ""},
	}
	r.People = a.people()
	r.Hazards = a.hazards()
	for _, u := range a.things() {
		if isThing(u.key) {
			continue
		}
		r.Substances = append(r.Substances, a.substance(u))
	}
	r.Room = a.here().room()
	r.Review = []Field{
		{"Is this adequate?", "", ""}, {"What is still to do", "", ""}, {"Signed by the responsible person", "", ""}, {"Date", "", ""}, {"Review on", "", ""},
		{"Review sooner", "After an incident, a near miss or a complaint; when a recipe, a strength, the room or the people change.", practice},
	}
	r.People = a.written(r.People)
	r.Hazards = a.written(r.Hazards)
	for _, k := range c.Risks {
		if k.Hazard != "" {
			r.Hazards = append(r.Hazards, Hazard{Key: k.Key, Hazard: k.Hazard, WhoHow: k.WhoHow, Now: k.Now, More: k.More, By: k.By, Till: k.Till, Done: k.DoneWhen, Own: true, Standing: "written by the responsible person"})
		}
	}
	return r, nil
}

// written puts in what the responsible person wrote.
func (a Ask) written(rows []Hazard) []Hazard {
	for i := range rows {
		h := &rows[i]
		for _, k := range a.Class.Risks {
			if k.Key != h.Key || k.Hazard != "" {
				continue
			}
			if k.WhoHow != "" {
				h.WhoHow = k.WhoHow
			}
			if k.Now != "" {
				h.Now = k.Now
			}
			h.More, h.By, h.Till, h.Done = k.More, k.By, k.Till, k.DoneWhen
		}
	}
	return rows
}

// place is where vapours go, in words.
func (a Ask) place() string {
	where := map[studio.ClassWhere]string{studio.UnderHood: "under a hood that blows outside", studio.Outdoors: "outdoors", studio.OpenRoom: "in a room with neither hood nor open air: nothing that gives off vapour"}[a.Class.Where]
	if a.Room == nil {
		return capital(where)
	}
	return fmt.Sprintf("%s, %s", a.Room.Name, where)
}

// people are who may be harmed and how: the second step.
func (a Ask) people() []Hazard {
	h := []Hazard{
		{Key: "who-students", Hazard: "Students new to the work", WhoHow: "They do not know yet what stings, splashes or burns, and stand close to each other.", Now: "Shown first, then done by pairs; the teacher sees all places.", Standing: practice},
		{Key: "who-teacher", Hazard: "The teacher", WhoHow: "Pours, dilutes and opens tubs: the most exposure, all day.", Now: "Pours under the hood or outdoors, goggles and gloves on, face away from the gap.", Standing: practice},
		{Key: "who-asthma", Hazard: "Asthma or other trouble with breathing", WhoHow: "Ammonia and acid vapour can bring on an attack at levels others hardly notice.", Now: "Asked before the class, in private; they watch from upwind or work with finished swatches.", Standing: "from memory"},
		{Key: "who-pregnant", Hazard: "New and expectant mothers", WhoHow: "Their assessment is their own and changes with time.", Now: "Asked in general, before the class, that whoever it concerns may say so in private; a personal assessment follows.", Source: "HSE HSG122, New and expectant mothers at work", Standing: "read in source"},
		{Key: "who-skin", Hazard: "Broken skin, eczema, contact lenses", WhoHow: "Salts and alkali get into cracks; a lens holds a splash against the eye.", Now: "Plasters and gloves; goggles over lenses, or no lenses on the day.", Standing: practice},
		{Key: "who-metal", Hazard: "Allergy to nickel, cobalt or copper", WhoHow: "A rash where metal or its green salts touch the skin.", Now: "Gloves; finished jewellery is left bare or sealed on the skin side.", Standing: practice},
		{Key: "who-cleaners", Hazard: "Cleaners and those who use the room next", WhoHow: "Green dust and forgotten bowls: nobody told them what these are.", Now: "Benches wiped wet, jars lidded and marked, nothing left fuming without a sign with name and number.", Standing: practice},
	}
	switch a.Class.Who {
	case studio.ForTeens:
		h = append(h, Hazard{Key: "who-young", Hazard: "People of 12 to 17 years", WhoHow: "They judge risk less well and must be watched more.", Now: "Ammonia of 5 % or less and outdoors only; the teacher does the sulfide; one adult for every four.", Standing: practice})
	case studio.ForYoung:
		h = append(h, Hazard{Key: "who-young", Hazard: "Children under 12", WhoHow: "Hands go to mouths and eyes.", Now: "Nothing that can burn skin or eyes, or harm over years; salt and vinegar; an adult beside each bench. Do not do this at home alone.", Source: "16 CFR 1500.14(b)(8), art materials for grade 6 and under", Standing: "wording from memory"})
	}
	return h
}

// hazards are those of the work and of what the recipes give off: the first and third
// steps. Each comes with a reason in what the class does.
func (a Ask) hazards() []Hazard {
	var h []Hazard
	add := func(when bool, x Hazard) {
		if when {
			if x.Standing == "" {
				x.Standing = practice
			}
			h = append(h, x)
		}
	}
	liquids := slices.ContainsFunc(a.things(), func(u used) bool { return u.hurts() && u.form != "residue" })
	add(liquids, Hazard{Key: "splash", Hazard: "Splashes when something is poured, dipped or sprayed", WhoHow: "Students and teacher: eyes and skin.", Now: "Goggles and gloves before a bottle is opened; small amounts; eyewash within ten seconds; the teacher pours."})
	add(a.ammonia(), Hazard{Key: "ammonia", Hazard: "Ammonia at the lid of a tub", WhoHow: "Whoever opens it: the gap holds far more than the room does. Eyes, nose and lungs.", Now: "Opened by the teacher, outdoors or under a hood; far edge first, face away, step back two minutes; smell is no meter.", Source: "McCann, ventilation overview", Standing: "read in source"})
	add(a.group("SUL"), Hazard{Key: "sulfide", Hazard: "Hydrogen sulfide from liver of sulfur, if acid reaches it", WhoHow: "All in the room: lungs. The nose stops smelling it when there is much.", Now: "No vinegar, pickle or citric acid on that bench; weak bath; rinse between; under a hood or outdoors.", Source: "Lab Manager, incompatible chemical mixtures; NIOSH, Documentation for IDLH concentrations: hydrogen sulfide", Standing: "read in source"})
	add(a.does(studio.Heat), Hazard{Key: "torch", Hazard: "Hot torch and hot metal", WhoHow: "Teacher and bystanders: burns, fire, fume.", Now: "The teacher alone; nothing that burns within 3 m; extinguisher and fire blanket; metal marked hot; never over a patina of nitrate."})
	add(a.does(studio.Abrade), Hazard{Key: "dust", Hazard: "Dust of metal and of patina", WhoHow: "Whoever abrades: lungs and eyes.", Now: "Abrade wet; no dry scraping of green crust; wipe benches wet."})
	add(a.does(studio.BrushOut), Hazard{Key: "powder", Hazard: "Loose powder when a swatch is brushed out", WhoHow: "Whoever brushes: lungs and eyes.", Now: "Over a wet tray, outdoors or under the hood; gloves; no blowing."})
	add(a.does(studio.Pickle), Hazard{Key: "pickle", Hazard: "Warm pickle", WhoHow: "Whoever dips: splashes, steam.", Now: "Plastic or copper tongs, lid on, never boiling; acid into water."})
	add(a.solvent(), Hazard{Key: "fire", Hazard: "Solvent, wax or oil that can catch fire", WhoHow: "All: burns. Rags with drying oil heat by themselves.", Now: "No flame in the room; small bottles, lids on; rags spread out or under water in a metal bin."})
	add(true, Hazard{Key: "edges", Hazard: "Sharp edges and corners of sheet", WhoHow: "Students: cuts, which salts then get into.", Now: "Blanks deburred before the class; corners rounded; plasters."})
	add(true, Hazard{Key: "stamping", Hazard: "Hammers and stamps for the numbers", WhoHow: "Students: fingers; noise.", Now: "On a block, one at a time, goggles on; ear plugs where many hammer."})
	add(true, Hazard{Key: "glass", Hazard: "Glass bowls and bottles", WhoHow: "All: cuts, and what was in them.", Now: "Plastic where it will do; broken glass is the teacher's."})
	add(true, Hazard{Key: "slips", Hazard: "Wet floor, bags and cables", WhoHow: "All: falls, with something in the hand.", Now: "Spills wiped at once; bags under the table; closed shoes."})
	add(true, Hazard{Key: "food", Hazard: "Food and drink at the bench", WhoHow: "All: copper salts are poisonous if swallowed.", Now: "None in the room; hands washed before the break; no food vessels used, and no patina on what food touches.", Source: "US FDA Food Code 4-101.14, copper and food below pH 6", Standing: "read in source"})
	add(true, Hazard{Key: "alone", Hazard: "Somebody alone with it", WhoHow: "Whoever stays behind, or goes on at home.", Now: "Nobody works alone during class or clearing up. Do not do this at home alone."})
	add(true, Hazard{Key: "waste", Hazard: "Copper in rinse water and leftovers", WhoHow: "Water life, and whoever empties the wrong jar.", Now: "All first rinses into the jar marked copper waste; jars kept apart as the sheets say; nothing down the drain.", Source: "40 CFR 433.15, copper 2.07 mg/L monthly mean", Standing: "read in source"})
	for _, l := range a.Lessons {
		for _, c := range matter.MeetInClass(plan.Uses(l.layers(), a.Supplies), plan.MetalWords(l.Metal), a.who()) {
			if c.Level == matter.Product {
				continue
			}
			key := "meet-" + c.ID + "-" + normal(c.A+"-"+c.B)
			if slices.ContainsFunc(h, func(x Hazard) bool { return x.Key == key }) {
				continue
			}
			what := c.A
			if c.B != "" {
				what = c.A + " and " + c.B
			}
			standing := c.Standing
			if c.Source != "" && standing == "" {
				standing = "read in source"
			}
			add(true, Hazard{Key: key, Hazard: capital(what) + ": " + c.What, WhoHow: "Whoever does it and who stands near.", Now: sentence(c.Do), Source: c.Source, Standing: standing})
		}
	}
	return h
}

// hurts reports whether anything is known to be hazardous about u, or nothing is known.
func (u used) hurts() bool {
	b, err := matter.At(u.key, u.strength)
	return err != nil || len(b.HCodes) > 0
}

func (a Ask) solvent() bool {
	for _, g := range []matter.Group{"SOL", "KET", "ALC", "OIL", "WAX"} {
		if a.group(g) {
			return true
		}
	}
	return false
}

// room says what the room's air makes of the tubs: all their ammonia at once, into clean
// still air, which is the worst that can be.
func (a Ask) room() []Field {
	tubs := a.tubs()
	if tubs == 0 || !a.ammonia() {
		return nil
	}
	volume, said := 100.0, "a room of 100 m³, since nobody said how large it is"
	if a.Room != nil && a.Room.VolumeM3 > 0 && !a.Room.Outdoors {
		volume, said = a.Room.VolumeM3, fmt.Sprintf("the %s m³ of %s", number(a.Room.VolumeM3), a.Room.Name)
	}
	strength, assumed := 0.0, ""
	for _, l := range a.Lessons {
		for _, s := range l.Version.Steps {
			if s.Kind != studio.Fume {
				continue
			}
			w := s.Strength
			if sup, ok := a.bottle(l.Version, "ammonia-water"); ok && w == 0 {
				w = sup.WtPercent()
			}
			strength = max(strength, w)
		}
	}
	if strength == 0 {
		strength, assumed = 28, ", taken as 28 % since its strength stands nowhere"
	}
	ppm, grams, err := LostWhole(tubs, strength/100, volume)
	if err != nil {
		return []Field{{"Air of the room", "It can't be reckoned for this strength or room: " + err.Error() + ".", ""}}
	}
	f := []Field{
		{"If all tubs were lost at once", fmt.Sprintf("%d tubs of %s mL hold %s g of ammonia at %s %%%s. Spread evenly in %s that would be about %.0f ppm.", tubs, number(padML), number(grams), number(strength), assumed, said, ppm), "computed: ideal gas at 20 °C, no air changed"},
	}
	if s, ok := matter.Lookup("ammonia-gas"); ok {
		for _, l := range s.Limits {
			if l.Unit == "ppm" && (l.Kind == "15 min" || l.Kind == "immediately dangerous") && strings.Contains(l.Agency, "NIOSH") {
				text := fmt.Sprintf("%s ppm: this would be below it.", number(l.Value))
				if ppm > l.Value {
					text = fmt.Sprintf("%s ppm: this would be above it.", number(l.Value))
				}
				f = append(f, Field{fmt.Sprintf("%s, %s", l.Agency, l.Kind), text, l.Source + "; " + l.Standing})
			}
		}
	}
	f = append(f, Field{"Ventilation", "Open tubs outdoors or under a hood, one at a time. See the room's own page for its air hour by hour.", practice})
	return f
}

// LostWhole returns the ammonia in parts a million when tubs of 60 mL of ammonia water of
// a strength (mass fraction, 0 to 0.30) are lost whole into still, evenly mixed air of a
// volume in m³ at 20 °C, and its grams: mass by [solution.AmmoniaDensity], as an ideal
// gas. Outside these it is a science.RangeError.
func LostWhole(tubs int, strength, volumeM3 float64) (ppm, grams float64, err error) {
	rho, err := solution.AmmoniaDensity(strength, 20)
	if err != nil {
		return 0, 0, err
	}
	grams = float64(tubs) * padML * float64(rho) / 1000 * strength
	p, err := spread(grams, volumeM3)
	return p, grams, err
}
