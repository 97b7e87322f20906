package class

import (
	"fmt"

	"aerugo/internal/flow/plan"
	"aerugo/internal/studio"
)

// Size is how large the class's swatches are cut, in millimetres.
type Size struct{ WidthMM, HeightMM float64 }

// LayOwn lays out the swatches that the class makes itself: of each recipe one
// after the other for every student, so that dealt out in turn each student gets as
// many of each. What the teacher shows comes last.
func LayOwn(a Ask, hands []studio.HandAmount, size Size) (plan.Layout, error) {
	return a.lay(fmt.Sprintf("Made in: %s", a.Class.Name), hands, size, func(add func(i, n int, steps []studio.Step) error) error {
		for _, want := range []by{byStudents, byTeacher} {
			for i, r := range a.Recipes {
				if m := a.mode(i); m.who != want || m.who == byTeacher && m.why != "" {
					continue // what only a teacher may do is no swatch of the class's
				}
				n, _ := a.swatches(i)
				if err := add(i, n, r.Version.Steps); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// LayAhead lays out what is still to be made ahead of the class.
func LayAhead(a Ask, p Plan, hands []studio.HandAmount, size Size) (plan.Layout, error) {
	a.Class.Who = studio.NoClass // the teacher's own bench
	return a.lay(fmt.Sprintf("Ahead of: %s", a.Class.Name), hands, size, func(add func(i, n int, steps []studio.Step) error) error {
		for _, h := range p.Ahead {
			if err := add(h.Index, h.ToMake(), h.Steps); err != nil {
				return err
			}
		}
		return nil
	})
}

// lay puts swatches of several recipes into one set of loose swatches.
func (a Ask) lay(name string, hands []studio.HandAmount, size Size, each func(add func(i, n int, steps []studio.Step) error) error) (plan.Layout, error) {
	if p := Stop(a.Recipes, a.Supplies); p != nil {
		return plan.Layout{}, p
	}
	if len([]rune(name)) > 120 {
		name = string([]rune(name)[:119]) + "…"
	}
	var all plan.Layout
	add := func(i, n int, steps []studio.Step) error {
		if n < 1 {
			return nil
		}
		r := a.Recipes[i]
		ask := plan.Ask{Name: name, Shape: studio.Loose, Replicates: 1, WidthMM: size.WidthMM, HeightMM: size.HeightMM, Front: r.Version, FrontBelow: r.Below, SameFaces: true}
		if steps != nil {
			ask.Front.Steps = steps
		} else if len(r.Below) > 0 { // the base alone
			ask.Front, ask.FrontBelow = r.Below[len(r.Below)-1], r.Below[:len(r.Below)-1]
		}
		one, err := plan.Lay(ask, a.Supplies, hands, r.Metal)
		if err != nil {
			return err
		}
		if len(all.Pieces) == 0 {
			all.Set, all.Clashes = one.Set, one.Clashes
		}
		for k := range n {
			for _, p := range one.Pieces {
				copied := p
				copied.Treatments = nil
				for _, t := range p.Treatments {
					t.Steps = append([]studio.Step{}, t.Steps...)
					t.Order, t.Replicate = len(all.Pieces)+1, k+1
					copied.Treatments = append(copied.Treatments, t)
				}
				all.Pieces = append(all.Pieces, copied)
			}
		}
		return nil
	}
	if err := each(add); err != nil {
		return plan.Layout{}, err
	}
	if len(all.Pieces) == 0 {
		return plan.Layout{}, studio.Problemf(studio.Conflict, "", "There is nothing to lay: this class makes no swatches, or all are there already.")
	}
	if len(all.Pieces) > 1000 {
		return plan.Layout{}, studio.Problemf(studio.Invalid, "heads", "%d swatches are too many for one set; 1000 are the most. Let each make fewer.", len(all.Pieces))
	}
	all.Set.Question = fmt.Sprintf("For the class on %s", a.Class.Starts.Format("2 January 2006"))
	all.Set.RoomID, all.Set.Class = a.Class.RoomID, a.Class.Who
	return all, nil
}
