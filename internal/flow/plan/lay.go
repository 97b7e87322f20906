package plan

import (
	"fmt"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// Lay lays out a set: the settings that the design asks for (every combination,
// when none is named), replicates and blanks, in the random order that Seed gives
// for ever, block by block.
//
// Each treatment carries its own copy of the steps with its levels put in, hand
// words resolved to numbers and supplies resolved to material and strength, so
// that nothing changed later changes what was planned. The error is a
// *studio.Problem; its Kind is Unsafe when two things must never meet. Where the
// design can work around that, it does, and Notes say so.
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
		if ask.Design != studio.Full {
			break
		}
		total *= len(f.Levels)
		if total > MaxSwatches {
			break // the product may not run over
		}
	}
	if total += ask.Blanks; total > MaxSwatches && len(ask.Never)+len(ask.Made) == 0 {
		return Layout{}, tooMany()
	}
	var notes noteList
	l, err := ask.layer(sup, hands, metal, &notes)
	if err != nil {
		return Layout{}, err
	}
	made, uncounted := ask.countable(factors)
	c, err := ask.choose(factors, made, l.unsafe(factors))
	if err != nil {
		return Layout{}, err
	}
	units, blocks, err := ask.units(c, made)
	if err != nil {
		return Layout{}, err
	}

	lay := Layout{Set: ask.set(c.factors, metal)}
	lay.Set.Replicates, lay.Set.Blanks = c.times, 0
	kinds := map[string][]studio.Treatment{} // of one swatch, by its runs
	var inOrder [][]studio.Treatment
	for _, u := range units {
		key := fmt.Sprint(u.runs)
		if len(u.runs) == 0 || kinds[key] != nil {
			continue
		}
		kind, err := l.kind(c.factors, c.runs, u.runs, &notes)
		if err != nil {
			return Layout{}, err
		}
		clashes, problem := pieceSafety(kind, sup, metal)
		if problem != nil {
			return Layout{}, problem
		}
		lay.Clashes = mergeClashes(lay.Clashes, clashes)
		kinds[key] = kind
		inOrder = append(inOrder, kind)
	}

	replicate := make([]int, len(units)) // counted in the units' order, by what is done
	count := map[string]int{}
	for i, u := range units {
		key := ""
		for _, r := range u.runs {
			key += fmt.Sprint(c.runs[r])
		}
		count[key]++
		replicate[i] = count[key]
	}
	order, rank := laidOrder(units, blocks, ask.Seed)
	for place, i := range order {
		u := units[i]
		piece := Piece{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: ask.WidthMM, HeightMM: ask.HeightMM, Blank: len(u.runs) == 0}}
		if blocks > 1 {
			piece.Block = rank[u.block] + 1
		}
		if piece.Swatch.Blank {
			lay.Set.Blanks++
		}
		for _, t := range kinds[fmt.Sprint(u.runs)] {
			t.Steps = append([]studio.Step{}, t.Steps...)
			t.Settings = append([]studio.Setting{}, t.Settings...)
			t.Order, t.Replicate, t.Block = place+1, replicate[i], piece.Block
			piece.Treatments = append(piece.Treatments, t)
		}
		lay.Pieces = append(lay.Pieces, piece)
	}
	lay.Notes = append(ask.honest(c, lay, sup, hands), notes.texts...)
	lay.Notes = append(lay.Notes, l.leftOut()...)
	lay.Notes = append(lay.Notes, ask.aboutMade(c, made, uncounted)...)
	return lay, nil
}

// set returns the record of the set itself.
func (a Ask) set(factors []studio.Factor, metal studio.Metal) studio.Set {
	s := studio.Set{
		Name: a.Name, Question: a.Question, Shape: a.Shape, Design: a.Design, Factors: factors,
		Replicates: a.Replicates, Blanks: a.Blanks, Seed: a.Seed, MetalID: metal.ID,
		WidthMM: a.WidthMM, HeightMM: a.HeightMM, ChamberID: a.Chamber.ID,
		FrontID: a.Front.ID, SameFaces: a.SameFaces,
	}
	switch {
	case a.Back != nil:
		s.BackID = a.Back.ID
	case a.FacesApart:
		s.BackID = a.Front.ID
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
