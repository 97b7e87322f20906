package class

import (
	"fmt"

	"aerugo/internal/studio"
)

// PlanB is the class when it rains or the hood fails: only what gives off nothing.
// Its parts take the same minutes as those of the plan.
type PlanB struct {
	Needed bool // whether anything changes
	Parts  []Part
	Notes  []string
}

// planB puts what may be done in a closed room in place of what may not.
func (a Ask) planB(p Plan) PlanB {
	b := PlanB{}
	in := a
	in.Class.Where = studio.OpenRoom
	judged := false
	for _, x := range p.Parts {
		x.Running = nil
		i := a.index(x.VersionID)
		if i < 0 || x.From == x.To {
			in.say(&x) // no tub to look into
			b.Parts = append(b.Parts, x)
			continue
		}
		r := a.Recipes[i]
		if m := a.modeIn(i, studio.OpenRoom, x.From, x.To); m.who != byNobody {
			x.Where = ""
			b.Parts = append(b.Parts, x)
			continue
		} else {
			b.Needed = true
			b.Notes = append(b.Notes, fmt.Sprintf("%s at %s falls away. %s", x.Title, clock(x.Start), m.why))
		}
		swap := studio.ClassPart{Kind: studio.PartJudge, Words: "Judge pairs of swatches made ahead; write words", Minutes: x.Minutes}
		switch {
		case loads(r.Version.Steps, x.From, x.To):
			swap = studio.ClassPart{Kind: studio.PartOther, Words: "Photograph the wet layout, write the card; the teacher fumes the swatches another day", Minutes: x.Minutes}
		case judged:
			swap = studio.ClassPart{Kind: studio.PartFinish, Words: "Wax or seal half of a swatch made ahead", Minutes: x.Minutes}
		default:
			judged = true
		}
		y := Part{ClassPart: swap, Start: x.Start, End: x.End, Least: 0}
		in.say(&y)
		b.Parts = append(b.Parts, y)
	}
	if !b.Needed {
		b.Notes = append(b.Notes, "Nothing in this class gives off gas, so it can be held in any aired room.")
	}
	return b
}
