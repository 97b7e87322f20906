package last

import (
	"math"
	"time"
)

// A Grade is one of the words a finding can be said in, best first in a protocol.
// Value rises from 0 (worst) to 5 (nothing happened).
type Grade struct {
	Key   string
	Value int
	Word  string
	Means string // what is seen
}

// A Step is one thing the hands do. Count is how often (0: once), Wait how long it
// then takes by itself.
type Step struct {
	Do    string
	Count int
	Of    string // what is counted: "strokes"
	Wait  time.Duration
}

// A Protocol is a test done by hand, the same way each time. Readings are due after
// each of After from the start, then, when Again is not 0, every Again.
type Protocol struct {
	Key      string
	Version  int
	Name     string
	Asks     string   // the question it answers
	Did      string   // how a care sheet says what was done
	Standard string   // the published test it is done in the manner of; empty: common practice
	Manner   string   // how it stands to that
	Needs    []string // what has to be at hand
	Steps    []Step
	Look     string
	Grades   []Grade
	After    []time.Duration
	Again    time.Duration
	Dark     bool // a like face kept in the dark makes it worth more
	Site     bool // the place has a corrosivity class
	Hurts    bool // it leaves a mark: use a swatch, not the piece
	Upkeep   bool // it is no test, but looking after the piece
}

const (
	day  = 24 * time.Hour
	year = 365 * day
)

// ownScale says what the grades of a test are where no standard gives them.
const ownScale = "The words are this studio's own scale."

// Protocols lists the tests in the order shown.
var Protocols = []Protocol{
	{
		Key: "tape", Version: 1, Name: "Tape", Asks: "Does the colour come off with sticky tape?",
		Did:      "Sticky tape pressed on and pulled off",
		Standard: "ASTM D3359",
		Manner:   "In the manner of ASTM D3359, method B, whose six classes it uses, but without cutting a lattice, and with the tape at hand. That standard is for paint on metal and must be bought from ASTM; this does not conform to it.",
		Needs:    []string{"clear sticky tape, the same roll each time", "a pencil's rubber end", "white paper"},
		Steps: []Step{
			{Do: "Photograph the face, dry."},
			{Do: "Press about 75 mm of tape on the middle and rub it down with the rubber.", Count: 10, Of: "rubs"},
			{Do: "Leave it on.", Wait: 90 * time.Second},
			{Do: "Pull it off back upon itself in one smooth go. Stick it on white paper."},
			{Do: "Photograph the face again."},
		},
		Look:   "How much of the area under the tape is gone, on the face and on the paper.",
		Grades: tapeGrades, After: []time.Duration{0}, Hurts: true,
	},
	{
		Key: "rub", Version: 1, Name: "Rubbing, dry", Asks: "Does it come off on clothes and hands?",
		Did:      "Rubbed with dry white cotton",
		Standard: "ISO 105-X12",
		Manner:   "In the manner of ISO 105-X12 (rubbing, made for textiles) and of the double rubs counted in ASTM D4752 (made for primers, with a solvent). Both must be bought; this conforms to neither. " + ownScale,
		Needs:    []string{"clean white cotton over a fingertip", "a 500 g weight, or a steady hand", "gloves"},
		Steps: []Step{
			{Do: "Photograph the face, dry."},
			{Do: "Rub forth and back over the same 10 cm, as if drying a plate.", Count: 10, Of: "double rubs"},
			{Do: "Look at the cotton on white paper by daylight."},
			{Do: "Photograph the face again."},
		},
		Look:   "Colour on the cotton; bright metal on high spots.",
		Grades: clothGrades, After: []time.Duration{0}, Hurts: true,
	},
	{
		Key: "rub-damp", Version: 1, Name: "Rubbing, damp", Asks: "Does it come off on a damp cloth?",
		Did:      "Rubbed with damp white cotton",
		Standard: "ISO 105-X12",
		Manner:   "In the manner of ISO 105-X12, wet (made for textiles; must be bought); this does not conform to it. " + ownScale,
		Needs:    []string{"white cotton wetted with distilled water and wrung out", "gloves"},
		Steps: []Step{
			{Do: "Photograph the face, dry."},
			{Do: "Rub forth and back over the same 10 cm.", Count: 10, Of: "double rubs"},
			{Do: "Let cotton and face dry.", Wait: 15 * time.Minute},
			{Do: "Photograph the face again."},
		},
		Look:   "Colour on the cotton; a paler track on the face.",
		Grades: clothGrades, After: []time.Duration{0}, Hurts: true,
	},
	{
		Key: "touch", Version: 1, Name: "Handling", Asks: "Do fingers mark it?",
		Did:    "Touched with a damp thumb and left for a day",
		Manner: "Common practice, no source. ISO 105-E04 and ISO 3160-2 use made-up sweat; this does not. " + ownScale,
		Needs:  []string{"your thumb, damp"},
		Steps: []Step{
			{Do: "Photograph the face."},
			{Do: "Press the same place with a damp thumb. Wash the hand afterwards.", Count: 20, Of: "touches"},
			{Do: "Leave it until tomorrow, then look and photograph it.", Wait: day},
		},
		Look:   "Prints, shine, a darker or paler spot where the thumb was.",
		Grades: markGrades, After: []time.Duration{day}, Hurts: true,
	},
	{
		Key: "damp", Version: 1, Name: "Damp box", Asks: "Does it bloom or creep in damp air?",
		Did:    "Kept for two days in a closed box over a wet sponge",
		Manner: "Common practice, no source. Sealed humidity chambers such as those of ISO 6270-2 hold a set warmth; a box on a shelf does not. " + ownScale,
		Needs:  []string{"a box with a lid", "a sponge wetted with distilled water", "something to keep the swatch off the sponge"},
		Steps: []Step{
			{Do: "Photograph the face, dry."},
			{Do: "Stand it in the box above the wet sponge. Close the lid.", Wait: 48 * time.Hour},
			{Do: "Take it out, let it dry in the room, then look and photograph it.", Wait: time.Hour},
		},
		Look:   "White or green bloom, spots that grew, haze under lacquer. Bloom means that salt was left in it.",
		Grades: markGrades, After: []time.Duration{48 * time.Hour},
	},
	{
		Key: "light", Version: 1, Name: "Light in a window", Asks: "Does daylight change it?",
		Did:      "Hung in a window with one half covered",
		Standard: "ASTM D4303",
		Manner:   "In the manner of ASTM D4303 and ISO 105-B02, behind window glass and with no measured dose. The greys are those of ISO 105-A02. All must be bought; this does not conform to them. A strip of blue wool cloth hung beside it tells how much light there was.",
		Needs:    []string{"a sunny window", "foil over one half", "a like swatch in a dark drawer"},
		Steps: []Step{
			{Do: "Photograph the face and the one for the drawer."},
			{Do: "Cover one half with foil. Hang it behind the glass, facing out."},
			{Do: "Put the other one in a dark, dry drawer."},
			{Do: "When it is time, take off the foil, photograph both, and put them back."},
		},
		Look:   "A line where the foil ended. Copper chlorides are known to change in light.",
		Grades: changeGrades, After: []time.Duration{7 * day, 30 * day, 90 * day, 180 * day, year}, Again: year, Dark: true,
	},
	{
		Key: "outdoors", Version: 1, Name: "Outdoors", Asks: "What do weather and town do to it?",
		Did:      "Kept outdoors",
		Standard: "ISO 9223",
		Manner:   "The place is told by the classes of ISO 9223, which are for bare metal in its first year and must be bought; this does not conform to any weathering standard. The class of a place is a guess unless it was measured. " + ownScale,
		Needs:    []string{"a place open to sky and rain", "two screws of plastic or copper, no steel", "a like swatch in a dark drawer"},
		Steps: []Step{
			{Do: "Photograph the face and the one for the drawer."},
			{Do: "Hang it facing the midday sun, about 45° to the sky, so that no run-off drips on anything."},
			{Do: "When it is time, let it dry, photograph it without cleaning it, and hang it back."},
		},
		Look:   "Streaks, dull or bare places, new green in the hollows.",
		Grades: changeGrades, After: []time.Duration{30 * day, 90 * day, 180 * day, year}, Again: year, Dark: true, Site: true,
	},
	{
		Key: "lived", Version: 1, Name: "Lived with", Asks: "What does a room do to it in months?",
		Did:    "Kept in a room and used",
		Manner: "Common practice, no source. " + ownScale,
		Needs:  []string{"where it will live", "a like swatch in a dark drawer"},
		Steps: []Step{
			{Do: "Photograph the face and the one for the drawer."},
			{Do: "Put it where such a piece would stand or be used."},
			{Do: "When it is time, dust it with a dry brush and photograph it."},
		},
		Look:   "Places where hands, sun or a heater reach it.",
		Grades: changeGrades, After: []time.Duration{30 * day, 180 * day, year}, Again: year, Dark: true,
	},
	{
		Key: "rewax", Version: 1, Name: "Wax again", Asks: "When was it last waxed?",
		Did:    "Waxed again",
		Manner: "Common practice, no source: wax twice, buff cold; outdoors again each year.",
		Needs:  []string{"the same wax", "a soft cloth"},
		Steps: []Step{
			{Do: "Dust it with a dry brush. Let it be dry and at room warmth."},
			{Do: "Put on very little wax, thin as breath. Leave it to set.", Wait: 20 * time.Minute},
			{Do: "Buff it cold with a soft cloth."},
		},
		Look:   "Pale or dull places where the wax has gone.",
		Grades: waxGrades, After: []time.Duration{year}, Again: year, Upkeep: true,
	},
}

// tapeGrades are the classes of ASTM D3359 method B by the share of the area that
// came off: read in copies of the standard (D3359-09) and its tables.
var tapeGrades = []Grade{
	{"5B", 5, "Nothing", "none of the area came off"},
	{"4B", 4, "A few flakes", "less than 5 % of the area came off"},
	{"3B", 3, "Some", "5 to 15 % came off"},
	{"2B", 2, "A good part", "15 to 35 % came off"},
	{"1B", 1, "About half", "35 to 65 % came off"},
	{"0B", 0, "Most of it", "more than 65 % came off"},
}

var clothGrades = []Grade{
	{"clean", 5, "Clean cotton", "nothing on the cotton"},
	{"trace", 4, "A trace", "seen only on white paper"},
	{"tint", 3, "A tint", "plainly seen; the face looks the same"},
	{"smear", 2, "A smear", "a patch of colour; the face is paler"},
	{"metal", 1, "Metal shows", "bright metal where it was rubbed"},
}

var markGrades = []Grade{
	{"same", 5, "The same", "no mark from any side"},
	{"slant", 4, "Seen at a slant", "a mark only against the light"},
	{"faint", 3, "A faint mark", "seen when looked for"},
	{"plain", 2, "A plain mark", "seen at once"},
	{"spoilt", 1, "Spoilt", "bloom, flakes or bare metal"},
}

var changeGrades = []Grade{
	{"same", 5, "The same", "cannot be told from before"},
	{"slight", 4, "A slight change", "seen side by side"},
	{"clear", 3, "A clear change", "another shade of the same colour"},
	{"strong", 2, "A strong change", "another colour in places"},
	{"lost", 1, "Lost", "the colour is gone in places"},
}

var waxGrades = []Grade{
	{"sound", 5, "Still sound", "the wax still shone; waxed again"},
	{"dull", 3, "Dull", "dull places; waxed again"},
	{"gone", 1, "Gone", "bare or green places; waxed again"},
}

// ProtocolOf returns the protocol of a key and version, and false when there is
// none. Version 0 is the newest.
func ProtocolOf(key string, version int) (Protocol, bool) {
	for _, p := range Protocols {
		if p.Key == key && (version == 0 || p.Version == version) {
			return p, true
		}
	}
	return Protocol{}, false
}

// Grade returns the grade with a key.
func (p Protocol) Grade(key string) (Grade, bool) {
	for _, g := range p.Grades {
		if g.Key == key {
			return g, true
		}
	}
	return Grade{}, false
}

// TapeClass returns the class of ASTM D3359 method B for the share of the area that
// came off, 0 to 1; false for a share that cannot be. Source: ASTM D3359-09, figure 1.
func TapeClass(lost float64) (Grade, bool) {
	if !(lost >= 0 && lost <= 1) {
		return Grade{}, false
	}
	switch {
	case lost == 0:
		return tapeGrades[0], true
	case lost < 0.05:
		return tapeGrades[1], true
	case lost <= 0.15:
		return tapeGrades[2], true
	case lost <= 0.35:
		return tapeGrades[3], true
	case lost <= 0.65:
		return tapeGrades[4], true
	}
	return tapeGrades[5], true
}

// greyScale are the CIELAB differences between the greys of ISO 105-A02, 9 steps.
var greyScale = []struct {
	step string
	de   float64
}{{"5", 0}, {"4-5", 0.8}, {"4", 1.7}, {"3-4", 2.5}, {"3", 3.4}, {"2-3", 4.8}, {"2", 6.8}, {"1-2", 9.6}, {"1", 13.6}}

// GreyStep returns the step of the grey scale of ISO 105-A02 whose two greys differ
// most nearly as much as a change of colour, given as a CIELAB difference (not
// dE00), 0 or more; "5" is no change. Source: ISO 105-A02, clause 2.4.
func GreyStep(labDifference float64) string {
	best, at := math.Inf(1), "1"
	for _, g := range greyScale {
		if d := math.Abs(g.de - labDifference); d < best {
			best, at = d, g.step
		}
	}
	return at
}

// A Site is a corrosivity class of ISO 9223: how deep bare copper is eaten in the
// first year, in micrometres.
type Site struct {
	Class     string
	Word      string
	Like      string
	Low, High float64
}

// Sites lists the classes, mildest first. Source: ISO 9223:2012, from memory.
var Sites = []Site{
	{"C1", "very low", "a dry, heated room", 0, 0.1},
	{"C2", "low", "an unheated room; open country that is dry or cold", 0.1, 0.6},
	{"C3", "medium", "a town; the coast where there is little salt", 0.6, 1.3},
	{"C4", "high", "a dirty town; near the sea", 1.3, 2.8},
	{"C5", "very high", "industry; the sea front", 2.8, 5.6},
	{"CX", "extreme", "spray of warm seas; heavy industry", 5.6, 10},
}

// SiteOf returns a class by its name.
func SiteOf(class string) (Site, bool) {
	for _, s := range Sites {
		if s.Class == class {
			return s, true
		}
	}
	return Site{}, false
}
