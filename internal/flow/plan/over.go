package plan

import (
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Below is a treatment that is on a swatch already, and how far it got.
type Below struct {
	Treatment studio.Treatment
	Begun     bool
	Ended     bool // finished, or given up with what it left
}

// Over plans a recipe over what is on some faces of a swatch: a treatment of
// the next layer, with its steps frozen like those of [Lay].
//
// below is every treatment the swatch has had. Over dry, all of those on these
// faces must have ended; over wet, they must have begun. The error is a
// *studio.Problem, of kind Unsafe when two things must never meet.
func Over(sw studio.Swatch, faces studio.Faces, below []Below, v studio.Version, state studio.LayState,
	sup []studio.Supply, hands []studio.HandAmount, metal studio.Metal) (studio.Treatment, []matter.Clash, error) {
	none := studio.Treatment{}
	if err := v.Check(); err != nil {
		return none, nil, err
	}
	if sw.Blank {
		return none, nil, studio.Problemf(studio.Conflict, "swatch", "Swatch %d is a blank, kept bare as its set's reference; choose another.", sw.Number)
	}
	if faces != studio.OnFront && faces != studio.OnBack && faces != studio.OnBoth {
		return none, nil, studio.Problemf(studio.Invalid, "faces", "Say whether it goes on the front, the back or both.")
	}
	if state != studio.OverDry && state != studio.OverWet {
		return none, nil, studio.Problemf(studio.Invalid, "over", "Say whether the patina below is dry or still wet when this one goes over it.")
	}
	layer, all := 0, []studio.Treatment{}
	for _, b := range below {
		if b.Treatment.Swatch != sw.Number {
			return none, nil, studio.Problemf(studio.Invalid, "swatch", "The patina below is on swatch %d, not on %d.", b.Treatment.Swatch, sw.Number)
		}
		all = append(all, b.Treatment)
		if !meetFaces(faces, b.Treatment.Faces) {
			continue
		}
		layer = max(layer, b.Treatment.Layer)
		switch {
		case !b.Begun:
			return none, nil, studio.Problemf(studio.Conflict, "swatch", "The treatment below on swatch %d has not been started; start it first.", sw.Number)
		case state == studio.OverDry && !b.Ended:
			return none, nil, studio.Problemf(studio.Conflict, "over", "The treatment below on swatch %d is still running, so it is not dry; finish it first, or choose 'still wet'.", sw.Number)
		}
	}
	if layer == 0 {
		return none, nil, studio.Problemf(studio.Conflict, "swatch", "There is nothing on that face of swatch %d to lay it over.", sw.Number)
	}
	var notes noteList
	steps, err := bench{sup: sup, hands: hands}.freeze("recipe", v.Steps, &notes)
	if err != nil {
		return none, nil, err
	}
	t := studio.Treatment{
		Swatch: sw.Number, SetID: sw.SetID, Faces: faces, Layer: layer + 1, Over: state,
		VersionID: v.ID, Steps: steps, Replicate: 1,
	}
	for _, b := range below {
		if meetFaces(faces, b.Treatment.Faces) && b.Treatment.Layer == layer {
			t.Order, t.Replicate = b.Treatment.Order, b.Treatment.Replicate
		}
	}
	clashes, problem := SafetyOf(append(all, t), sup, metal)
	if problem != nil {
		return none, clashes, problem
	}
	return t, clashes, nil
}

func meetFaces(a, b studio.Faces) bool {
	return a == studio.OnBoth || b == studio.OnBoth || a == b
}
