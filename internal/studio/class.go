package studio

import (
	"strings"
	"time"
)

// A Class is a lesson that is planned, held and followed up. Recipes are what is
// taught in it, Parts its hours in order; Kit and Risks are what the teacher changed
// in, or added to, the lists that are reckoned from both.
type Class struct {
	ID      int64
	Name    string
	Aim     string // what the students can do when they leave
	Teacher string
	Starts  time.Time
	Minutes int // from the welcome to the last hand washed
	Heads   int // students, the teacher not counted
	Who     ClassOf
	Skill   string // what they can do already, in words
	RoomID  int64
	Where   ClassWhere
	Recipes []ClassRecipe
	Parts   []ClassPart
	Kit     []KitLine
	Risks   []RiskLine
	SetID   int64 // the set that holds the class's own swatches; 0 before it is laid
	AheadID int64 // the set that holds what is made ahead of it; 0 before it is laid
	DayID   int64 // the bench day on which that is made; 0 before it is planned

	// FollowsID is the class that this one goes on with, an evening or a week later;
	// 0 for a class by itself.
	FollowsID int64
	After     ClassAfter
	Made      time.Time
	Ended     time.Time // zero until someone said that it is over
	Invented  bool
	BinnedAt  time.Time
}

// ClassAfter is what was written down after a class. Fetched are the numbers of the
// swatches that were picked up, Done the keys of what else was ticked.
type ClassAfter struct {
	Incident  string // what went wrong or nearly did; empty: nothing was written
	Surprised string // what surprised the students, in their words
	Note      string
	Waste     []ClassWaste
	Fetched   []int64
	Done      []string
}

// ClassWaste is one kind of waste that a class left.
type ClassWaste struct {
	What  string
	MassG float64
}

// ClassWhere is where in a class the vapours go.
type ClassWhere string

// Where fumes and dips are done.
const (
	UnderHood ClassWhere = "hood"
	Outdoors  ClassWhere = "outdoors"
	OpenRoom  ClassWhere = "room" // neither: only what gives off nothing
)

// ClassWheres lists them in the order shown.
var ClassWheres = []ClassWhere{UnderHood, Outdoors, OpenRoom}

// ClassRecipe is one recipe that a class is taught. PerHead is how many swatches of it
// each student makes; with 0 the teacher shows it, Shown swatches of it in all.
type ClassRecipe struct {
	VersionID int64
	PerHead   int
	Shown     int
	MetalID   int64
}

// PartKind is what happens in a part of a class.
type PartKind string

// The kinds of part, in the order they usually come. Common practice, no source.
const (
	PartWelcome PartKind = "welcome"
	PartSafety  PartKind = "safety"
	PartTalk    PartKind = "talk"
	PartPrepare PartKind = "prepare" // abrade, degrease, water-break test
	PartNumber  PartKind = "number"  // stamp, hang, card
	PartMake    PartKind = "make"    // a recipe, by every student
	PartShow    PartKind = "show"    // a recipe, by the teacher
	PartBreak   PartKind = "break"
	PartFinish  PartKind = "finish" // seal, wax
	PartJudge   PartKind = "judge"
	PartClear   PartKind = "clear"
	PartOther   PartKind = "other"
)

// PartKinds lists the kinds in the order they usually come.
var PartKinds = []PartKind{PartWelcome, PartSafety, PartTalk, PartPrepare, PartNumber, PartMake, PartShow, PartBreak, PartFinish, PartJudge, PartClear, PartOther}

// A ClassPart is a stretch of a class. From and To say which steps of the recipe it
// holds, from step From up to but not To, counted from 0; both 0 hold none.
type ClassPart struct {
	Kind      PartKind
	Words     string
	Minutes   int
	VersionID int64 // the recipe's, when the part is one
	From, To  int
	Where     ClassWhere // empty: at the bench
}

// A KitLine is one thing that a class needs. Per says for whom Count is: a head, so
// many heads, or the class. Spare is the factor that is brought, 1 for none.
type KitLine struct {
	What  string
	Count float64
	Unit  string // "" for pieces, "g", "ml", "sheet"
	Per   int    // heads that share Count; 0 for one Count in the whole class
	Spare float64
	Own   bool // written by the teacher, not reckoned
	Left  bool // struck out by the teacher
}

// A RiskLine is what the responsible person wrote to one hazard of the draft; Key
// names the hazard there.
type RiskLine struct {
	Key      string
	Hazard   string // for a line of their own
	WhoHow   string
	Now      string
	More     string
	By       string
	Till     string
	DoneWhen string
}

// The most that a class may hold.
const (
	MaxHeads        = 60
	MaxClassMinutes = 12 * 60
	maxClassParts   = 60
	maxClassRecipes = 20
	maxClassLines   = 200
)

// Check reports a Problem when c cannot be kept.
func (c Class) Check() error {
	if err := checkName(c.Name, "name"); err != nil {
		return err
	}
	if c.Heads < 1 || c.Heads > MaxHeads {
		return Problemf(Invalid, "heads", "A class of %d can't be planned; write 1 to %d students.", c.Heads, MaxHeads)
	}
	if c.Minutes < 15 || c.Minutes > MaxClassMinutes {
		return Problemf(Invalid, "minutes", "A class can't last %s; write a time from 15 min to 12 h. A course of several days is a class for each day.", Span(time.Duration(c.Minutes)*time.Minute))
	}
	if c.Starts.IsZero() {
		return Problemf(Invalid, "starts", "Write the day and the hour when the class begins.")
	}
	if c.Who == NoClass {
		return Problemf(Invalid, "who", "Say who comes: adults, 12 to 17 years old, or children under 12.")
	}
	if err := c.Who.Check(); err != nil {
		return err
	}
	switch c.Where {
	case UnderHood, Outdoors, OpenRoom:
	default:
		return Problemf(Invalid, "where", "Say where the vapours go: under a hood, outdoors, or neither.")
	}
	for _, t := range []struct{ text, field string }{{c.Aim, "aim"}, {c.Teacher, "teacher"}, {c.Skill, "skill"}} {
		if len(t.text) > 2000 {
			return Problemf(Invalid, t.field, "That is too long: %d letters; 2000 are the most.", len(t.text))
		}
	}
	if len(c.Recipes) > maxClassRecipes || len(c.Parts) > maxClassParts || len(c.Kit) > maxClassLines || len(c.Risks) > maxClassLines {
		return Problemf(Invalid, "parts", "That is more than one class can hold: %d recipes, %d parts and %d lines are the most.", maxClassRecipes, maxClassParts, maxClassLines)
	}
	for _, r := range c.Recipes {
		if r.VersionID == 0 || r.PerHead < 0 || r.PerHead > 20 || r.Shown < 0 || r.Shown > 100 || r.PerHead+r.Shown == 0 {
			return Problemf(Invalid, "recipes", "A recipe of a class is made by each student 1 to 20 times, or shown on 1 to 100 swatches.")
		}
	}
	for i, p := range c.Parts {
		if err := p.check(i + 1); err != nil {
			return err
		}
	}
	if c.FollowsID != 0 && c.FollowsID == c.ID {
		return Problemf(Invalid, "follows", "A class can't go on with itself; choose the one before it.")
	}
	if err := c.After.check(); err != nil {
		return err
	}
	for _, k := range c.Kit {
		if strings.TrimSpace(k.What) == "" || len(k.What) > 200 || !(k.Count >= 0 && k.Count <= 1e6) || k.Per < 0 || k.Per > MaxHeads || !(k.Spare >= 1 && k.Spare <= 5) {
			return Problemf(Invalid, "kit", "The kit's line %q needs a name, a number from 0 and a spare factor from 1 to 5.", k.What)
		}
	}
	for _, r := range c.Risks {
		if r.Key == "" || len(r.Hazard)+len(r.WhoHow)+len(r.Now)+len(r.More)+len(r.By)+len(r.Till)+len(r.DoneWhen) > 8000 {
			return Problemf(Invalid, "risks", "A line of the risk assessment is too long, or names no hazard.")
		}
	}
	return nil
}

func (a ClassAfter) check() error {
	for _, t := range []struct{ text, field string }{{a.Incident, "incident"}, {a.Surprised, "surprised"}, {a.Note, "note"}} {
		if len(t.text) > 4000 {
			return Problemf(Invalid, t.field, "That is too long: %d letters; 4000 are the most.", len(t.text))
		}
	}
	if len(a.Waste) > maxClassLines || len(a.Fetched) > 2000 || len(a.Done) > maxClassLines {
		return Problemf(Invalid, "waste", "That is more than one class can hold: %d kinds of waste are the most.", maxClassLines)
	}
	for _, w := range a.Waste {
		if strings.TrimSpace(w.What) == "" || len(w.What) > 200 || !(w.MassG >= 0 && w.MassG <= 1e6) {
			return Problemf(Invalid, "waste", "Waste %q of %v g can't be kept; write what it is and a mass from 0 to 1 000 000 g.", w.What, w.MassG)
		}
	}
	return nil
}

// check reports a Problem when p cannot be kept; n is its number, from 1.
func (p ClassPart) check(n int) error {
	known := false
	for _, k := range PartKinds {
		known = known || k == p.Kind
	}
	switch {
	case !known:
		return Problemf(Invalid, "parts", "Part %d: %q is not a part known here; choose one from the list.", n, string(p.Kind))
	case p.Minutes < 0 || p.Minutes > MaxClassMinutes:
		return Problemf(Invalid, "parts", "Part %d can't take %d min.", n, p.Minutes)
	case len(p.Words) > 500:
		return Problemf(Invalid, "parts", "Part %d: write at most 500 letters.", n)
	case p.From < 0 || p.To < p.From || p.To > 60:
		return Problemf(Invalid, "parts", "Part %d holds steps %d to %d, which can't be.", n, p.From+1, p.To)
	case p.VersionID == 0 && (p.Kind == PartMake || p.Kind == PartShow):
		return Problemf(Invalid, "parts", "Part %d: choose the recipe that is made.", n)
	}
	return nil
}
