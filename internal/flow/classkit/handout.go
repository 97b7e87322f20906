package classkit

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"aerugo/internal/science/matter"
	"aerugo/internal/science/published"
	"aerugo/internal/studio"
)

// A Section is a heading of a sheet with what stands below it, in this order.
type Section struct {
	Head   string
	Lines  []string
	Ticks  []string
	Fields []Field
	Write  int // empty lines to write on
}

// A Handout is the words of what a student takes home.
type Handout struct {
	Used     []string
	Signs    []string // codes of the pictograms
	Safety   []string // four lines
	Steps    []Section
	Care     []string
	Leftover []string
	Read     []string
}

// home is on every handout.
const home = "Do not do this at home alone: no ammonia, no sulfide and no acid without a hood or the open air, goggles, and somebody who has done it before."

// HandoutOf writes the handout of a class. What must never meet is refused with a
// Problem.
func HandoutOf(a Ask) (Handout, error) {
	if err := a.check(); err != nil {
		return Handout{}, err
	}
	if p := Stop(a); p != nil {
		return Handout{}, p
	}
	var h Handout
	var hurting []matter.Band
	done := a.here()
	for _, u := range done.things() {
		if isThing(u.key) {
			continue
		}
		h.Used = append(h.Used, usedLine(u))
		b, err := matter.At(u.key, u.strength)
		if err != nil || len(b.HCodes) == 0 {
			continue
		}
		hurting = append(hurting, b)
		for _, sign := range b.Pictograms {
			if !slices.Contains(h.Signs, sign) {
				h.Signs = append(h.Signs, sign)
			}
		}
		h.read(b.Source)
	}
	slices.Sort(h.Signs)
	h.Safety = done.safetyLines(hurting)
	h.Steps = a.lessonSteps()
	for _, l := range a.Lessons {
		if p, ok := published.ByKey(l.Version.Source); ok && l.Version.Source != "" {
			if p.Page == "" {
				h.read(p.Source)
			} else {
				h.read(fmt.Sprintf("%s, page %s", p.Source, p.Page))
			}
		}
	}
	h.Care = []string{
		"Not for food or drink: the colour is made of copper salts, which are poisonous.",
		"Not on the skin side of jewellery: leave that bare or seal it.",
		"Let it dry for a day before it is touched or sealed. Dust it with a soft dry brush; no polish, no water left standing. It goes on changing slowly.",
		home,
	}
	h.Leftover = done.jars()
	h.Read = append(h.Read, "The label and the safety data sheet that came with each bottle: they come before anything said here.")
	return h, nil
}

func (h *Handout) read(source string) {
	source = capital(source)
	if source != "" && !slices.Contains(h.Read, source) {
		h.Read = append(h.Read, source)
	}
}

// usedLine names a substance with its strength in percent and in words.
func usedLine(u used) string {
	name := capital(u.name())
	b, err := matter.At(u.key, u.strength)
	switch {
	case err != nil:
		return name + ": not known here, read its data sheet."
	case u.strength > 0 && u.strength < 100 && !strings.EqualFold(b.Name, u.name()):
		return fmt.Sprintf("%s, %s %% by mass: %s.", name, number(u.strength), b.Name)
	case u.strength > 0 && u.strength < 100:
		return fmt.Sprintf("%s, %s %% by mass.", name, number(u.strength))
	case b.Assumed:
		return fmt.Sprintf("%s, strength not written; taken as %s.", name, b.Name)
	}
	return name + "."
}

// safetyLines are the four lines of the box: what hurts, what to wear, where, and what to
// do when something went wrong.
func (a Ask) safetyLines(hurting []matter.Band) []string {
	var said []string
	for _, b := range hurting {
		var each []string
		for i, h := range b.Hazards {
			each = append(each, fmt.Sprintf("%s (%s)", h, b.HCodes[i]))
		}
		said = append(said, capital(b.Name)+": "+strings.Join(each, "; "))
	}
	first := "Nothing used here has a hazard code at this strength; it is no food all the same."
	if len(said) > 0 {
		first = strings.Join(said, ". ") + "."
	}
	where := "Small amounts, bowls away from the edge, nothing warmed."
	switch {
	case a.ammonia() && a.Class.Where == studio.Outdoors:
		where = "Only the teacher opens a tub, outdoors, face away from the gap, the others upwind."
	case a.ammonia():
		where = "Only the teacher opens a tub, under the hood, face away from the gap, the others back."
	case a.group("SUL"):
		where = "No vinegar or other acid near the sulfide; rinse between; air or hood on."
	}
	return []string{first,
		"Goggles, gloves and apron on before a bottle is opened; no food or drink; hands washed before the break.",
		where,
		"Sting, cough or headache: say so, and out into fresh air. Eyes or skin: rinse for 15 minutes, lenses out, see a doctor.",
	}
}

// lessonSteps are the steps of the lessons with their times. Those that all of them begin
// with stand once, before the lessons: cleaning is the same for every swatch.
func (a Ask) lessonSteps() []Section {
	var out []Section
	alike := a.alike()
	if len(alike) > 0 {
		first := Section{Head: "First, every swatch alike"}
		for i, text := range alike {
			first.Lines = append(first.Lines, fmt.Sprintf("%d. %s", i+1, text))
		}
		out = append(out, first)
	}
	for _, l := range a.Lessons {
		out = append(out, a.oneLesson(l, len(alike)))
	}
	return out
}

// alike are the first steps that all lessons done here share; none when they are fewer
// than two, or a lesson would be left without a step of its own.
func (a Ask) alike() []string {
	var common []string
	lessons := 0
	for _, l := range a.Lessons {
		if a.notHere(l) != "" {
			continue
		}
		var own []string
		for _, step := range l.Version.Steps[:max(len(l.Version.Steps)-1, 0)] {
			own = append(own, a.stepLine(step))
		}
		if lessons++; lessons == 1 {
			common = own
			continue
		}
		n := 0
		for n < min(len(common), len(own)) && common[n] == own[n] {
			n++
		}
		common = common[:n]
	}
	if lessons < 2 || len(common) < 2 {
		return nil
	}
	return common
}

// oneLesson are the steps of one lesson; the first skip of them were said before.
func (a Ask) oneLesson(l Lesson, skip int) Section {
	s := Section{Head: fmt.Sprintf("%s, version %d", l.Name, l.Version.Number)}
	if why := a.notHere(l); why != "" {
		s.Lines = []string{fmt.Sprintf("Shown on finished swatches only. %s", capital(why))}
		return s
	}
	if a.teacherOnly(l) {
		s.Lines = append(s.Lines, "The teacher does this; the class watches.")
	}
	for i, step := range l.Version.Steps {
		if i >= skip {
			s.Lines = append(s.Lines, fmt.Sprintf("%d. %s", i+1, a.stepLine(step)))
		}
	}
	return s
}

// stepLine says a step in one line: what, with what, how much, how long, where.
func (a Ask) stepLine(s studio.Step) string {
	what := capital(string(s.Kind))
	with := a.thingOf(s)
	if s.Tool != "" {
		if with != "" {
			with += ", " + s.Tool
		} else {
			with = s.Tool
		}
	}
	if with != "" {
		what = fmt.Sprintf("%s: %s", what, with)
	}
	if !s.Amount.IsZero() {
		what += ", " + s.Amount.String()
	}
	if s.Duration > 0 {
		what += ", " + studio.Span(s.Duration)
	}
	if s.Place != "" {
		what += ", " + s.Place
	}
	return what + "."
}

// thingOf names what a step puts on, with its strength.
func (a Ask) thingOf(s studio.Step) string {
	name, strength := "", s.Strength
	if sub, ok := matter.Lookup(s.Material); ok {
		name = sub.Name
	} else {
		name = s.Material
	}
	for _, sup := range a.Supplies {
		if sup.ID == s.SupplyID && s.SupplyID != 0 {
			name = sup.Name
			if strength == 0 {
				strength = sup.WtPercent()
			}
		}
	}
	if name != "" && strength > 0 && strength < 100 && !strings.Contains(name, "%") {
		name = fmt.Sprintf("%s %s %%", name, number(strength))
	}
	for _, p := range s.Also {
		also := p.Material
		if sub, ok := matter.Lookup(p.Material); ok {
			also = sub.Name
		}
		if p.Strength > 0 {
			also = fmt.Sprintf("%s %s %%", also, number(p.Strength))
		}
		name += " + " + also
	}
	return name
}

// jars say how to get rid of what is left.
func (a Ask) jars() []string {
	out := []string{"Rinse water with copper in it: into the jar marked copper waste. Nothing goes down the drain; thinning it is no answer."}
	if a.ammonia() {
		out = append(out, "Ammonia with copper: a jar of its own, lid on loosely, outdoors; no acid and no bleach near it.")
	}
	if a.group("SUL") {
		out = append(out, "Sulfide: a jar of its own, never with acid.")
	}
	if a.solvent() {
		out = append(out, "Rags with wax, oil or solvent: damp and spread out, or under water in a metal bin.")
	}
	return append(out, "Full jars go to the collector that takes household or studio chemicals where you live.")
}

// A Timed is a part of the class with its clock time, as the plan has it.
type Timed struct {
	Start    time.Time
	Minutes  int
	Title    string
	Teacher  string
	Students string
}

// A Lead is what the teacher's sheet rests on besides the class: its parts in time, what
// the evidence says, and what is done when it rains or there is no hood.
type Lead struct {
	Parts   []Timed
	Known   []string // findings and evidence, one sentence each
	PlanB   []string
	AheadBy []string // what is made ahead
}

// TeacherOf writes the teacher's sheet. What must never meet is refused with a Problem.
func TeacherOf(a Ask, lead Lead) ([]Section, error) {
	kit, err := KitOf(a) // refuses what must be refused
	if err != nil {
		return nil, err
	}
	c, done := a.Class, a.here()
	or := func(text, otherwise string) string {
		if strings.TrimSpace(text) == "" {
			return otherwise
		}
		return text
	}
	out := []Section{{Head: "Aim and class", Fields: []Field{
		{"Aim", or(c.Aim, ""), ""},
		{"Who", fmt.Sprintf("%d students: %s", c.Heads, c.Who.Words()), ""},
		{"What they can do already", or(c.Skill, ""), ""},
		{"Where", a.place(), ""},
	}}}
	var materials []string
	for _, l := range kit {
		if !l.Left && (l.Group == groupMetal || l.Group == groupMatter || l.Group == groupOwn) {
			materials = append(materials, l.Text())
		}
	}
	out = append(out, Section{Head: "Materials", Lines: []string{"The whole list is the kit. Of it, what is used up:"}, Ticks: materials})
	timed := Section{Head: "Timed steps"}
	for _, p := range lead.Parts {
		text := p.Title
		for _, more := range []string{p.Teacher, p.Students} {
			if more != "" {
				text += " " + more
			}
		}
		timed.Fields = append(timed.Fields, Field{fmt.Sprintf("%s, %d min", p.Start.Format("15:04"), p.Minutes), text, ""})
	}
	if len(timed.Fields) == 0 {
		timed.Lines = []string{"The class has no parts yet. Plan it, and they stand here with their times."}
	}
	out = append(out, timed)
	out = append(out, a.lessonSteps()...)
	out = append(out, Section{Head: "Points to show", Ticks: done.points()})
	if len(lead.AheadBy) > 0 {
		out = append(out, Section{Head: "Made ahead", Ticks: lead.AheadBy})
	}
	ask := Section{Head: "Questions, with answers", Fields: done.questions()}
	out = append(out, ask)
	if len(lead.Known) > 0 {
		out = append(out, Section{Head: "What our own swatches say", Lines: lead.Known})
	}
	out = append(out,
		Section{Head: "Checks as you go", Ticks: done.checks()},
		Section{Head: "Plan B: rain, or no hood", Lines: planB(lead.PlanB)},
		Section{Head: "Clear up", Ticks: []string{"Tubs closed, opened by the teacher alone; liquids into their jars, grams written down.", "Benches wiped wet; rags as their label says.", "Every swatch numbered, with an owner and a day to fetch it.", "Gloves off, hands washed, goggles wiped; nobody leaves with green on the hands."}},
		Section{Head: "Assessment, pass or not yet", Ticks: []string{"Names two hazards of the day.", "Passes the water-break test: water stays a whole film on the clean metal.", "Fills in the card without help.", "Keeps the times within 10 %.", "Predicts one change, makes it, and checks."}},
		Section{Head: "What surprised them", Write: 3},
	)
	return out, nil
}

func planB(lines []string) []string {
	if len(lines) > 0 {
		return lines
	}
	return []string{"Nothing that gives off vapour: no tub is loaded or opened, and no sulfide is mixed.", "Instead: clean, number and lay out the swatches without ammonia, judge and wax those made ahead, and write down what each would do."}
}

// points are what the teacher shows, by what is done.
func (a Ask) points() []string {
	var out []string
	add := func(when bool, text string) {
		if when {
			out = append(out, text)
		}
	}
	add(true, "Where the eyewash, the first-aid kit and the way out are; what the signs on the bottles mean.")
	add(a.does(studio.Abrade), "One direction, even pressure, then no finger on the face: a fingerprint before is a fingerprint after.")
	add(a.does(studio.Wet), "Mist, not flood: a drop that runs leaves a streak.")
	add(a.does(studio.Sprinkle), "Salt from two hands above, a little and even; dry grains colour only where damp reaches them.")
	add(a.does(studio.Fume), "Loading a tub: the dish first, the rack, the swatches, the lid; then nobody opens it.")
	add(a.group("SUL"), "Dip, lift, rinse, look: stop one shade early.")
	add(a.does(studio.Seal), "Wax thin, twice, buffed cold; it makes the colour darker.")
	return out
}

// questions come with their answers from the chemistry of what is done. They are common
// practice or as the source named says.
func (a Ask) questions() []Field {
	var out []Field
	add := func(when bool, q, answer, from string) {
		if when {
			out = append(out, Field{q, answer, from})
		}
	}
	salt := a.uses("sodium-chloride", "ammonium-chloride", "calcium-chloride")
	add(salt && a.ammonia(), "Why does the wet half go bluer?", "Salt must dissolve before it works. On the wet half it has, so chloride reaches the copper from the first minute; on the dry half it must first draw water from damp air.", practice)
	add(a.ammonia(), "Why does ammonia colour copper at all?", "It dissolves in the water film on the metal, takes up copper as a blue complex, and as it leaves again, blue and green salts stay behind.", practice)
	add(a.ammonia(), "Is the smell a measure?", "No. It is smelt from 5 to 53 ppm, by source, and the nose tires. A detector tube is.", "NIOSH/OSHA guideline, ammonia; NRC, AEGLs vol. 6")
	add(a.group("SUL"), "Why must no vinegar come near the sulfide?", "Acid turns it into hydrogen sulfide, a poisonous gas.", "Lab Manager, incompatible chemical mixtures")
	add(a.uses("vinegar", "acetic-acid"), "What does vinegar do?", "Its acid dissolves a little copper, which dries to blue-green copper acetate.", practice)
	add(true, "How do we know that the change did it?", "Two swatches alike but for one thing, and a third that says how far two alike differ.", practice)
	add(true, "When is it dry enough to judge?", "When it no longer changes: wet looks deeper and darker. Compare it dry.", practice)
	return out
}

// checks are looked at while the class goes on.
func (a Ask) checks() []string {
	out := []string{"Goggles and gloves on all, before the first bottle.", "Water-break test passed before anything goes on."}
	if a.does(studio.Fume) {
		out = append(out, "Each tub has its number, its swatches written down and its time of closing.")
	}
	return append(out, "Each swatch has its number and each student their card.")
}
