// Package classkit draws up the papers of a class from its recipes: what must be there,
// what of it must be bought, a draft of the risk assessment, the handout and the
// teacher's sheet. What the teacher changed or added is kept in them.
//
//	Stop     what must never meet: kit, handout and teacher's sheet are refused with it
//	KitOf    the kit, with what the teacher changed
//	RiskOf   the draft of the risk assessment
//	HandoutOf, TeacherOf   the words of the two sheets
package classkit

import (
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/flow/cost"
	"aerugo/internal/flow/plan"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Lesson is one recipe of a class: its version, what it lies over (the version at the
// metal first), its metal, and how many swatches each student makes or the teacher shows.
type Lesson struct {
	Name    string
	Version studio.Version
	Below   []studio.Version
	Metal   studio.Metal
	PerHead int
	Shown   int
}

// layers are the versions in the order they are laid.
func (l Lesson) layers() []studio.Version {
	return append(slices.Clone(l.Below), l.Version)
}

// An Ask is what the papers of a class rest on. Room is nil when nobody said where the
// class is held. Sheets are the kept data sheets by supply. Ahead is how many swatches are
// made before the class, 0 when nobody knows. WidthMM and HeightMM are a swatch's.
type Ask struct {
	Class    studio.Class
	Lessons  []Lesson
	Supplies []studio.Supply
	Room     *studio.Room
	Sheets   map[int64]studio.DataSheet
	Ahead    int
	WidthMM  float64
	HeightMM float64
}

// Stop returns a Problem when something in the class must never meet, on one swatch or
// in the room that its recipes share; nil when nothing must.
func Stop(a Ask) *studio.Problem {
	var works []plan.Work
	for _, l := range a.Lessons {
		if _, p := plan.Safety(l.layers(), a.Supplies, l.Metal); p != nil {
			return studio.Problemf(p.Kind, p.Field, "%s: %s", l.Name, p.Text)
		}
		for _, v := range l.layers() {
			works = append(works, plan.Work{Treatment: studio.Treatment{Steps: v.Steps}, Room: 1})
		}
	}
	_, p := plan.Day(works, a.Supplies)
	return p
}

// check reports a Problem when no paper can be drawn up from a.
func (a Ask) check() error {
	if err := a.Class.Check(); err != nil {
		return err
	}
	for _, l := range a.Lessons {
		for _, v := range l.layers() {
			if err := v.Check(); err != nil {
				return err
			}
		}
		if l.PerHead < 0 || l.PerHead > 20 || l.Shown < 0 || l.Shown > 100 {
			return studio.Problemf(studio.Invalid, "recipes", "%s: a recipe is made 0 to 20 times by each student and shown on 0 to 100 swatches.", l.Name)
		}
	}
	return nil
}

// who is who stands in the room, as safety sees it.
func (a Ask) who() matter.Class {
	return matter.Class{YoungestAge: a.Class.Who.YoungestAge(), Hood: a.Class.Where == studio.UnderHood, Outdoors: a.Class.Where == studio.Outdoors}
}

// notHere says why a lesson is not done in this class, "" when it is. Only stops count;
// what the teacher alone may do is still done.
func (a Ask) notHere(l Lesson) string {
	for _, c := range matter.MeetInClass(plan.Uses([]studio.Version{l.Version}, a.Supplies), plan.MetalWords(l.Metal), a.who()) {
		if c.Level == matter.Stop {
			return fmt.Sprintf("%s: %s.", c.A, strings.TrimSuffix(c.What, "."))
		}
	}
	return ""
}

// here is the class without the lessons that are not done in it.
func (a Ask) here() Ask {
	a.Lessons = slices.DeleteFunc(slices.Clone(a.Lessons), func(l Lesson) bool { return a.notHere(l) != "" })
	return a
}

// teacherOnly reports whether only the teacher's hands do a lesson.
func (a Ask) teacherOnly(l Lesson) bool {
	if l.PerHead == 0 {
		return true
	}
	for _, c := range matter.MeetInClass(plan.Uses([]studio.Version{l.Version}, a.Supplies), plan.MetalWords(l.Metal), a.who()) {
		if c.ID == "C02" || c.ID == "C04" {
			return true
		}
	}
	return false
}

// made is how many swatches of a lesson the class makes.
func (a Ask) made(l Lesson) int { return l.PerHead*a.Class.Heads + l.Shown }

// A used is one thing the recipes of a class use, at one strength.
type used struct {
	key      string
	strength float64
	form     string
	supply   studio.Supply // the bottle, where the shelf has one
	lessons  []string
}

// name is what a person calls it.
func (u used) name() string {
	if s, ok := matter.Lookup(u.key); ok {
		return s.Name
	}
	if u.key == "" {
		return "something that no step names"
	}
	return u.key
}

// things lists what the recipes use, layers below included, in the order of first use.
// Heat and tools are in it too: kind says which is which.
func (a Ask) things() []used {
	var out []used
	for _, l := range a.Lessons {
		for _, v := range l.layers() {
			for _, u := range plan.Uses([]studio.Version{v}, a.Supplies) {
				key := u.Key
				if s, ok := matter.Lookup(key); ok {
					key = s.Key
				}
				i := slices.IndexFunc(out, func(x used) bool { return x.key == key && x.strength == u.WtPercent })
				if i < 0 {
					x := used{key: key, strength: u.WtPercent, form: u.Form}
					x.supply, _ = a.bottle(v, key)
					out = append(out, x)
					i = len(out) - 1
				}
				if out[i].form != u.Form && u.Form == "fume" {
					out[i].form = u.Form // what is breathed weighs more
				}
				if !slices.Contains(out[i].lessons, l.Name) {
					out[i].lessons = append(out[i].lessons, l.Name)
				}
			}
		}
	}
	return out
}

// bottle is the supply that a version takes a material from: the one a step names, else
// the first of that material.
func (a Ask) bottle(v studio.Version, key string) (studio.Supply, bool) {
	is := func(material string) bool {
		s, ok := matter.Lookup(material)
		return material == key || ok && s.Key == key
	}
	for _, step := range v.Steps {
		for _, s := range a.Supplies {
			if s.ID == step.SupplyID && s.ID != 0 && is(s.Material) {
				return s, true
			}
		}
	}
	for _, s := range a.Supplies {
		if is(s.Material) {
			return s, true
		}
	}
	return studio.Supply{}, false
}

// isThing reports whether a key names a tool, a torch or another thing, no substance.
func isThing(key string) bool {
	s, ok := matter.Lookup(key)
	return ok && s.Kind == "thing"
}

// does reports whether any lesson done in the class has a step of a kind.
func (a Ask) does(kind studio.StepKind) bool {
	for _, l := range a.Lessons {
		for _, s := range l.Version.Steps {
			if s.Kind == kind {
				return true
			}
		}
	}
	return false
}

// uses reports whether any recipe uses one of the keys.
func (a Ask) uses(keys ...string) bool {
	for _, u := range a.things() {
		if slices.Contains(keys, u.key) {
			return true
		}
	}
	return false
}

// ammonia reports whether anything gives off ammonia.
func (a Ask) ammonia() bool { return a.group("AMM") }

// group reports whether anything used belongs to a group of matter's.
func (a Ask) group(g matter.Group) bool {
	for _, u := range a.things() {
		if s, ok := matter.Lookup(u.key); ok && slices.Contains(s.Groups, g) {
			return true
		}
	}
	return false
}

// tubs is how many fume tubs the class has: one for four, 0 without fuming.
func (a Ask) tubs() int {
	if !a.does(studio.Fume) {
		return 0
	}
	return (a.Class.Heads + perTub - 1) / perTub
}

// perTub is how many students share a tub, and padML what goes into one, in mL: common
// practice, no source.
const (
	perTub = 4
	padML  = 60.0
)

// shelf is the supplies as cost reads them.
func (a Ask) shelf() cost.Shelf { return cost.Shelf{Supplies: a.Supplies} }

// practice marks what nothing published backs.
const practice = "common practice, no source"
