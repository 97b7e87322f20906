package class

import (
	"fmt"
	"slices"
	"time"

	"aerugo/internal/studio"
)

// A Plan is a class on the clock, with all that comes before and after it. Over is
// by how many minutes its parts are longer than the class (below 0: shorter), Advice
// what to do about it.
type Plan struct {
	Parts   []Part
	Minutes int // of the parts together
	Over    int
	Advice  []string
	Faults  []string // what in the order of the parts can't be
	Recipes []Doing
	Ahead   []Ahead
	Home    []Home
	PlanB   PlanB
}

// Who does a recipe in the class.
const (
	Students = "each student"
	Teacher  = "the teacher"
	Nobody   = "nobody"
)

// Doing is what becomes of one recipe in the class. Steps from From up to but not
// Next are done in it; Open is the dwell that still runs at the end, -1 for none.
type Doing struct {
	Index    int // among the recipes
	Name     string
	Who      string
	Why      string // why not by every student, or not at all
	Swatches int
	From     int
	Next     int
	Open     int
	Since    time.Time // when the open dwell began
	Finished bool
	Short    string // why it can't be finished in class: one sentence
}

// Words says in a sentence or two who does the recipe and how far it comes.
func (d Doing) Words() string {
	switch {
	case d.Who == Nobody:
		return fmt.Sprintf("Left out of the hours. %s", d.Why)
	case d.Who == Teacher && d.Finished:
		return fmt.Sprintf("Shown by the teacher and finished in class. %s", d.Why)
	case d.Who == Teacher:
		return fmt.Sprintf("Shown by the teacher. %s %s", d.Short, d.Why)
	case d.Finished:
		return fmt.Sprintf("Made by every student and finished in class; swatches in all: %d.", d.Swatches)
	}
	return fmt.Sprintf("Made by every student; swatches in all: %d. %s", d.Swatches, d.Short)
}

// Make plans the class with its own parts, or the usual ones where it has none. The
// error is a Problem of kind Unsafe when something must never meet in the room.
func Make(a Ask) (Plan, error) {
	if err := a.check(); err != nil {
		return Plan{}, err
	}
	if p := Stop(a.Recipes, a.Supplies); p != nil {
		return Plan{}, p
	}
	parts := slices.Clone(a.Class.Parts)
	if len(parts) == 0 {
		var err error
		if parts, err = Parts(a); err != nil {
			return Plan{}, err
		}
	}
	p := Plan{Parts: a.clocked(parts)}
	for _, x := range parts {
		p.Minutes += x.Minutes
	}
	p.Over = p.Minutes - a.Class.Minutes
	for i := range a.Recipes {
		d, c := a.doing(i, p.Parts)
		p.Recipes = append(p.Recipes, d)
		p.Faults = append(p.Faults, c.faults...)
		for _, w := range c.waits {
			a.running(p.Parts, i, w)
		}
		p.Ahead = append(p.Ahead, a.ahead(d)...)
		p.Home = append(p.Home, a.home(d))
	}
	if slices.ContainsFunc(parts, func(x studio.ClassPart) bool { return x.Kind == studio.PartFinish }) {
		p.Ahead = append(p.Ahead, a.aheadToFinish(p.Recipes)...)
	}
	p.Ahead = shareOut(p.Ahead)
	for i := range p.Parts {
		a.say(&p.Parts[i])
	}
	a.firstLooks(p)
	p.Advice = a.advice(p)
	p.PlanB = a.planB(p)
	return p, nil
}

// doing is what becomes of recipe i.
func (a Ask) doing(i int, parts []Part) (Doing, course) {
	r := a.Recipes[i]
	m := a.mode(i)
	d := Doing{Index: i, Name: r.Name, Why: m.why, Open: -1, Who: [...]string{Students, Teacher, Nobody}[m.who]}
	if m.who == byNobody {
		d.Short = fmt.Sprintf("%s is not made in this class.", r.Name)
		return d, course{}
	}
	d.Swatches, _ = a.swatches(i)
	c := a.follow(i, parts)
	d.From, d.Next, d.Open, d.Since = c.from, c.next, c.open, c.since
	d.Finished = c.next == len(r.Version.Steps) && c.open < 0
	hours := time.Duration(a.Class.Minutes) * time.Minute
	switch {
	case d.Finished:
	case d.Open >= 0 && r.Version.Steps[d.Open].Duration > hours:
		s := r.Version.Steps[d.Open]
		d.Short = fmt.Sprintf("%s takes %s; the class has %s.", gerund(s.Kind), studio.Span(s.Duration), studio.Span(hours))
	case d.Open >= 0:
		s := r.Version.Steps[d.Open]
		d.Short = fmt.Sprintf("%s takes %s; after it begins at %s the class has %s left.", gerund(s.Kind), studio.Span(s.Duration), clock(d.Since), studio.Span(max(0, a.Class.Starts.Add(hours).Sub(d.Since))))
	default:
		d.Short = fmt.Sprintf("No part of the class holds these steps: %s.", listed(r.Version.Steps[d.Next:]))
	}
	return d, c
}

// running writes a wait on the parts that it runs through.
func (a Ask) running(parts []Part, i int, w wait) {
	s := a.Recipes[i].Version.Steps[w.step]
	for k := range parts {
		if parts[k].Start.Before(w.till) && !parts[k].End.Before(w.from) && !parts[k].Start.Before(w.from) {
			till := clock(w.till)
			if w.till.YearDay() != parts[k].Start.YearDay() {
				till = w.till.Format("Monday 15:04")
			}
			parts[k].Running = append(parts[k].Running, fmt.Sprintf("%s: %s until %s", a.Recipes[i].Name, s.Kind, till))
		}
	}
}

// titles name the parts that are no recipe's.
var titles = map[studio.PartKind]string{
	studio.PartWelcome: "Welcome", studio.PartSafety: "Safety", studio.PartTalk: "Why it colours", studio.PartPrepare: "Clean the metal",
	studio.PartNumber: "Number and card", studio.PartBreak: "Break", studio.PartFinish: "Finish", studio.PartJudge: "Judge",
	studio.PartClear: "Clear up", studio.PartOther: "Bench time",
}

// does says what teacher and students do in a part. Common practice, no source.
var does = map[studio.PartKind][2]string{
	studio.PartWelcome: {"Greets, hands finished swatches round, asks about asthma, skin and pregnancy in private.", "Look, touch only what is sealed, ask."},
	studio.PartSafety:  {"Shows eyewash, ways out, glove sizes, the waste jar; says what gives off gas and where that is done.", "Try on gloves and goggles; find the eyewash."},
	studio.PartTalk:    {"Explains what salt, water, air and time do to the metal, on two finished swatches.", "Guess first which of two was wetted."},
	studio.PartPrepare: {"Shows one swatch, then checks that water runs over each without a break.", "Abrade and degrease; hold by the edges afterwards."},
	studio.PartNumber:  {"Hands out numbers; checks that each card is filled.", "Stamp the number, hang the swatch, write the card."},
	studio.PartBreak:   {"Stays with whatever is working; keeps an eye on the clock.", "Wash hands; eat and drink away from the bench."},
	studio.PartFinish:  {"Shows a thin coat on one half, the other half left bare.", "Seal half of a swatch made ahead; compare."},
	studio.PartJudge:   {"Lays out pairs without saying what was done.", "Choose, write three words, then hear what was done."},
	studio.PartClear:   {"Takes the waste jar, locks supplies away, says who fetches what.", "Rinse tools, wipe places, wash hands, take the card."},
	studio.PartOther:   {"Goes from place to place.", "Try once more what was shown."},
}

// say fills in a part's words.
func (a Ask) say(p *Part) {
	i := a.index(p.VersionID)
	if i < 0 || p.Kind != studio.PartMake && p.Kind != studio.PartShow {
		p.Title, p.Teacher, p.Students = titles[p.Kind], does[p.Kind][0], does[p.Kind][1]
		return
	}
	r := a.Recipes[i]
	steps := r.Version.Steps[p.From:p.To]
	n, _ := a.swatches(i)
	switch {
	case loads(r.Version.Steps, p.From, p.To):
		p.Title = fmt.Sprintf("%s: begin to %s", r.Name, steps[0].Kind)
		p.Teacher = fmt.Sprintf("Puts the swatches in one by one (%d in all), closes up and starts the log.", n)
		p.Students = "Hand the swatch over by its wire; stand upwind."
	case p.Kind == studio.PartShow:
		p.Title = fmt.Sprintf("%s: shown", r.Name)
		p.Teacher = fmt.Sprintf("Shows: %s. Swatches in all: %d.", listed(steps), n)
		p.Students = "Watch from a distance; say what changes, and when."
	default:
		p.Title = r.Name
		p.Teacher = fmt.Sprintf("Shows it once (%d min), then goes from place to place.", demo)
		p.Students = fmt.Sprintf("Each makes %d: %s.", max(1, a.Class.Recipes[i].PerHead), listed(steps))
	}
}

// firstLook is after how many minutes a tub that stays closed longer than the class
// may show something. Common practice, no source: a first look at half an hour to an hour.
const firstLook = 30

// firstLooks lets the class see into one tub, when they judge, of what they won't see
// finished.
func (a Ask) firstLooks(p Plan) {
	k := slices.IndexFunc(p.Parts, func(x Part) bool { return x.Kind == studio.PartJudge })
	for _, d := range p.Recipes {
		if k < 0 || d.Open < 0 || a.Recipes[d.Index].Version.Steps[d.Open].Kind != studio.Fume {
			continue
		}
		if in := int(p.Parts[k].Start.Sub(d.Since).Minutes()); in >= firstLook {
			p.Parts[k].Teacher += " " + fmt.Sprintf("Opens one tub, where it stands, for a first look at %s after %d min.", d.Name, in)
		}
	}
}

// longestRecipe is the recipe whose parts take most of the hours, and how many minutes.
func (a Ask) longestRecipe(parts []Part) (name string, minutes int) {
	for _, r := range a.Recipes {
		n := 0
		for _, p := range parts {
			if p.VersionID == r.Version.ID {
				n += p.Minutes
			}
		}
		if n > minutes {
			name, minutes = r.Name, n
		}
	}
	return name, minutes
}

// advice says what to shorten, leave out or lengthen.
func (a Ask) advice(p Plan) []string {
	var out []string
	for _, x := range p.Parts {
		if x.Short() > 0 {
			out = append(out, fmt.Sprintf("%s at %s has %d min, but %d people need at least %d.", x.Title, clock(x.Start), x.Minutes, a.Class.Heads, x.Least))
		}
	}
	switch {
	case p.Over < 0:
		out = append(out, fmt.Sprintf("The parts take %d min and the class has %d: %d min are left. Make a part longer, or add one.", p.Minutes, a.Class.Minutes, -p.Over))
	case p.Over > 0:
		out = append(out, fmt.Sprintf("The parts take %d min and the class has %d: %d min too long.", p.Minutes, a.Class.Minutes, p.Over))
		left := p.Over
		order := make([]int, len(p.Parts))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(x, y int) int {
			return (p.Parts[y].Minutes - p.Parts[y].Least) - (p.Parts[x].Minutes - p.Parts[x].Least)
		})
		for _, i := range order {
			x := p.Parts[i]
			if cut := min(left, x.Minutes-x.Least); cut > 0 {
				out = append(out, fmt.Sprintf("Shorten %s from %d to %d min.", x.Title, x.Minutes, x.Minutes-cut))
				left -= cut
			}
		}
		if left > 0 {
			for _, k := range []studio.PartKind{studio.PartFinish, studio.PartOther, studio.PartTalk, studio.PartJudge} {
				if i := slices.IndexFunc(p.Parts, func(x Part) bool { return x.Kind == k }); i >= 0 {
					out = append(out, fmt.Sprintf("That is not enough: leave out %s, %d min.", p.Parts[i].Title, p.Parts[i].Minutes))
					return out
				}
			}
			if name, minutes := a.longestRecipe(p.Parts); minutes > 0 {
				out = append(out, fmt.Sprintf("That is not enough by %d min: take %s out (%d min), let each make fewer swatches, or plan two evenings.", left, name, minutes))
			} else {
				out = append(out, fmt.Sprintf("That is not enough by %d min: plan a longer class, or two evenings.", left))
			}
		}
	}
	return out
}
