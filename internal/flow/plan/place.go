package plan

import (
	"slices"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Place is where a set is made and for whom, as far as safety goes. Room is
// empty when nobody said where.
type Place struct {
	Class studio.ClassOf
	Room  string
	open  bool // a hood that blows outside, or the open air
	out   bool
}

// PlaceOf returns where a set is made. A room that is not among rooms counts as
// not said.
func PlaceOf(set studio.Set, rooms []studio.Room) Place {
	p := Place{Class: set.Class}
	for _, r := range rooms {
		if set.RoomID != 0 && r.ID == set.RoomID {
			p.Room, p.out, p.open = r.Name, r.Outdoors, r.Hood || r.Outdoors
		}
	}
	return p
}

// Words says where and for whom in one line, "" when nothing was said.
func (p Place) Words() string {
	where := p.Room
	switch {
	case where == "":
	case p.out:
		where += ", outdoors"
	case p.open:
		where += ", under its hood"
	}
	switch {
	case p.Class == studio.NoClass:
		return where
	case where == "":
		return "For " + p.Class.Words()
	}
	return where + ", for " + p.Class.Words()
}

// Allow is [SafetyOf] for treatments of one swatch made in this place. A pair
// that needs a hood is stopped where there is neither a hood nor the open air,
// and where nobody said. For a class, what people of that age must not handle is
// stopped too. It guards every print and every start of a set.
func (p Place) Allow(treatments []studio.Treatment, sup []studio.Supply, metal studio.Metal) ([]matter.Clash, *studio.Problem) {
	clashes, _ := pieceSafety(treatments, sup, metal)
	for i, c := range clashes {
		if c.Level != matter.Hood || p.open {
			continue
		}
		why := "it is done outdoors or under a hood, and nobody has said where this is done; "
		if p.Room != "" {
			why = p.Room + " has neither a hood nor the open air; "
		}
		clashes[i].Level, clashes[i].Do = matter.Stop, why+c.Do
		clashes[i].Instead = "Go outdoors or under a hood, and say so under 'Where it is done'. " + c.Instead
	}
	if p.Class != studio.NoClass {
		who := matter.Class{YoungestAge: p.Class.YoungestAge(), Hood: p.open && !p.out, Outdoors: p.out}
		for _, c := range matter.MeetInClass(UsesOf(treatments, sup), MetalWords(metal), who) {
			if c.B == "" && c.ID != "unknown" { // the pairs are known already
				clashes = mergeClashes(clashes, []matter.Clash{c})
			}
		}
	}
	slices.SortStableFunc(clashes, func(a, b matter.Clash) int { return severity(a) - severity(b) })
	return clashes, refuse(clashes)
}

func severity(c matter.Clash) int {
	return slices.Index([]string{matter.Stop, matter.Hood, matter.Care, matter.Product}, c.Level)
}

// AllowSet is [Place.Allow] for all treatments of a set; those with the same
// steps are looked at once.
func (p Place) AllowSet(treatments []studio.Treatment, sup []studio.Supply, metal studio.Metal) ([]matter.Clash, *studio.Problem) {
	bySwatch := map[int64][]studio.Treatment{}
	var order []int64
	for _, t := range treatments {
		if bySwatch[t.Swatch] == nil {
			order = append(order, t.Swatch)
		}
		bySwatch[t.Swatch] = append(bySwatch[t.Swatch], t)
	}
	var all []matter.Clash
	var seen [][]studio.Treatment
	for _, n := range order {
		ts := bySwatch[n]
		if slices.ContainsFunc(seen, func(other []studio.Treatment) bool { return alike(ts, other) }) {
			continue
		}
		seen = append(seen, ts)
		clashes, _ := p.Allow(ts, sup, metal)
		all = mergeClashes(all, clashes)
	}
	slices.SortStableFunc(all, func(a, b matter.Clash) int { return severity(a) - severity(b) })
	return all, refuse(all)
}

// alike reports whether two swatches get what is the same to safety.
func alike(a, b []studio.Treatment) bool {
	return slices.EqualFunc(a, b, func(x, y studio.Treatment) bool {
		return x.Faces == y.Faces && x.Layer == y.Layer && slices.EqualFunc(x.Steps, y.Steps, func(s, t studio.Step) bool {
			return s.Kind == t.Kind && s.SupplyID == t.SupplyID && s.Material == t.Material && s.Strength == t.Strength && slices.Equal(s.Also, t.Also) && s.Tool == t.Tool && s.Place == t.Place
		})
	})
}

// A Work is a treatment of the day with the room it is done in, 0 when nobody
// said: then it may be any room.
type Work struct {
	Treatment studio.Treatment
	Room      int64
}

// Day returns what of the day's work must not share a room, or only with care,
// worst first, and a Problem of kind Unsafe when some of it must be stopped.
// Work whose room nobody said is taken to be in every room.
func Day(works []Work, sup []studio.Supply) ([]matter.Clash, *studio.Problem) {
	rooms := []int64{0}
	for _, w := range works {
		if !slices.Contains(rooms, w.Room) {
			rooms = append(rooms, w.Room)
		}
	}
	var all []matter.Clash
	for _, room := range rooms {
		var uses []matter.Use
		known := map[matter.Use]bool{}
		for _, w := range works {
			if w.Room != room && w.Room != 0 {
				continue
			}
			for _, u := range UsesOf([]studio.Treatment{w.Treatment}, sup) {
				u.Step, u.RinsedBefore = 1, false
				if !known[u] {
					known[u] = true
					uses = append(uses, u)
				}
			}
		}
		for _, c := range matter.MeetInRoom(uses, "") {
			if c.StepA != 0 && c.StepB != 0 { // the metal and the air are each piece's own matter
				all = mergeClashes(all, []matter.Clash{c})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b matter.Clash) int { return severity(a) - severity(b) })
	if p := refuse(all); p != nil {
		p.Text = "Not in one room on one day. " + p.Text
		return all, p
	}
	return all, nil
}
