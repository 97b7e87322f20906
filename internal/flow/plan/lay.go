package plan

import (
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// Lay lays out a set: every combination of the factors' levels, Replicates
// times, and the blanks, in the random order that Seed gives for ever.
//
// Each treatment carries its own copy of the steps with its levels put in, hand
// words resolved to numbers and supplies resolved to material and strength, so
// that nothing changed later changes what was planned. The error is a
// *studio.Problem; its Kind is Unsafe when two things must never meet.
func Lay(ask Ask, sup []studio.Supply, hands []studio.HandAmount, metal studio.Metal) (Layout, error) {
	if err := ask.check(metal); err != nil {
		return Layout{}, err
	}
	factors, err := settle(ask.Factors, ask.Front.Steps, sup, hands)
	if err != nil {
		return Layout{}, err
	}
	total := ask.Replicates
	for _, f := range factors {
		total *= len(f.Levels)
		if total > MaxSwatches {
			break // the product may not run over
		}
	}
	if total += ask.Blanks; total > MaxSwatches {
		return Layout{}, studio.Problemf(studio.Invalid, "replicates", "That makes more than %d swatches; choose fewer levels, replicates or blanks.", MaxSwatches)
	}

	lay := Layout{Set: ask.set(factors, metal)}
	bench := bench{sup: sup, hands: hands, chamber: ask.Chamber.ID}
	var notes noteList
	frontFaces := studio.OnFront
	if ask.SameFaces {
		frontFaces = studio.OnBoth
	}
	below, err := bench.layers("front", frontFaces, ask.FrontBelow, &notes)
	if err != nil {
		return Layout{}, err
	}
	var back []studio.Treatment
	if ask.Back != nil {
		back, err = bench.layers("back", studio.OnBack, append(append([]studio.Version{}, ask.BackBelow...), *ask.Back), &notes)
		if err != nil {
			return Layout{}, err
		}
	}

	var kinds [][]studio.Treatment // one per combination
	for _, combo := range combinations(factors) {
		steps, settings, err := bench.settled(ask.Front.Steps, factors, combo, &notes)
		if err != nil {
			return Layout{}, err
		}
		top := studio.Treatment{
			Faces: frontFaces, Layer: len(below) + 1, Over: ask.Front.Over,
			VersionID: ask.Front.ID, Steps: steps, Settings: settings,
		}
		if top.Layer == 1 {
			top.Over = ""
		}
		kind := append(append(append([]studio.Treatment{}, below...), top), back...)
		kinds = append(kinds, kind)
	}
	for _, kind := range kinds {
		clashes, problem := pieceSafety(kind, sup, metal)
		if problem != nil {
			return Layout{}, problem
		}
		lay.Clashes = mergeClashes(lay.Clashes, clashes)
	}

	treated := len(kinds) * ask.Replicates
	for place, i := range randomOrder(total, ask.Seed) {
		piece := Piece{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: ask.WidthMM, HeightMM: ask.HeightMM, Blank: i >= treated}}
		if !piece.Swatch.Blank {
			for _, t := range kinds[i/ask.Replicates] {
				t.Steps = append([]studio.Step{}, t.Steps...)
				t.Settings = append([]studio.Setting{}, t.Settings...)
				t.Order, t.Replicate = place+1, i%ask.Replicates+1
				piece.Treatments = append(piece.Treatments, t)
			}
		}
		lay.Pieces = append(lay.Pieces, piece)
	}
	lay.Notes = append(ask.honest(factors, kinds, sup, hands), notes.texts...)
	return lay, nil
}

// set returns the record of the set itself.
func (a Ask) set(factors []studio.Factor, metal studio.Metal) studio.Set {
	s := studio.Set{
		Name: a.Name, Question: a.Question, Shape: a.Shape, Factors: factors,
		Replicates: a.Replicates, Blanks: a.Blanks, Seed: a.Seed, MetalID: metal.ID,
		WidthMM: a.WidthMM, HeightMM: a.HeightMM, ChamberID: a.Chamber.ID,
		FrontID: a.Front.ID, SameFaces: a.SameFaces,
	}
	if a.Back != nil {
		s.BackID = a.Back.ID
	}
	return s
}

// layers returns the treatments of versions carried out as written, the one at
// the metal first.
func (b bench) layers(field string, faces studio.Faces, versions []studio.Version, notes *noteList) ([]studio.Treatment, error) {
	var ts []studio.Treatment
	for i, v := range versions {
		steps, err := b.freeze(field, v.Steps, notes)
		if err != nil {
			return nil, err
		}
		t := studio.Treatment{Faces: faces, Layer: i + 1, VersionID: v.ID, Steps: steps}
		if i > 0 {
			t.Over = v.Over
		}
		ts = append(ts, t)
	}
	return ts, nil
}

// mergeClashes adds those of more that are not yet in all.
func mergeClashes(all, more []matter.Clash) []matter.Clash {
	for _, c := range more {
		known := false
		for _, a := range all {
			known = known || a == c
		}
		if !known {
			all = append(all, c)
		}
	}
	return all
}

// noteList keeps notes in the order they came, each once.
type noteList struct{ texts []string }

func (n *noteList) add(text string) {
	for _, t := range n.texts {
		if t == text {
			return
		}
	}
	n.texts = append(n.texts, text)
}
