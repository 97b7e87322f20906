package plan

import (
	"fmt"

	"aerugo/internal/studio"
)

// A Way makes the treatments of one swatch from levels that are chosen one by one,
// instead of in every combination.
type Way struct {
	ask         Ask
	factors     []studio.Factor
	bench       bench
	below, back []studio.Treatment
	notes       noteList
}

// NewWay checks what is the same on every swatch. The factors need no levels.
func NewWay(a Ask, factors []studio.Factor, sup []studio.Supply, hands []studio.HandAmount, metal studio.Metal) (*Way, error) {
	bare := a
	bare.Shape, bare.Factors = studio.Loose, nil // any number of factors may be proposed together
	if err := bare.check(metal); err != nil {
		return nil, err
	}
	w := &Way{ask: a, bench: bench{sup: sup, hands: hands, chamber: a.Chamber.ID}}
	for i, f := range factors {
		if f.Step < 0 || f.Step >= len(a.Front.Steps) {
			return nil, studio.Problemf(studio.Invalid, factorField(i, "step"), "The recipe has no step %d; choose one from 1 to %d.", f.Step+1, len(a.Front.Steps))
		}
		at, problem := target(f, a.Front.Steps)
		if problem != nil {
			return nil, problem
		}
		f.Step = at
		w.factors = append(w.factors, f)
	}
	var err error
	if w.below, err = w.bench.layers("front", w.faces(), a.FrontBelow, &w.notes); err != nil {
		return nil, err
	}
	if a.Back != nil {
		w.back, err = w.bench.layers("back", studio.OnBack, append(append([]studio.Version{}, a.BackBelow...), *a.Back), &w.notes)
	}
	return w, err
}

func (w *Way) faces() studio.Faces {
	if w.ask.SameFaces {
		return studio.OnBoth
	}
	return studio.OnFront
}

// Treatments returns what is done to one swatch, the varied treatment at the place
// top. There is a level for each factor; a level that can't be had is a Problem.
func (w *Way) Treatments(levels []studio.Level) (all []studio.Treatment, top int, err error) {
	if len(levels) != len(w.factors) {
		return nil, 0, fmt.Errorf("make treatments: %d levels for %d factors", len(levels), len(w.factors))
	}
	factors, combo := make([]studio.Factor, len(levels)), make([]int, len(levels))
	for i, f := range w.factors {
		if problem := checkLevel(f, &levels[i], w.ask.Front.Steps[f.Step], w.bench.sup, w.bench.hands); problem != nil {
			problem.Field = factorField(i, "levels")
			return nil, 0, problem
		}
		f.Levels = levels[i : i+1]
		factors[i] = f
	}
	steps, settings, err := w.bench.settled(w.ask.Front.Steps, factors, combo, &w.notes)
	if err != nil {
		return nil, 0, err
	}
	t := studio.Treatment{Faces: w.faces(), Layer: len(w.below) + 1, Over: w.ask.Front.Over, VersionID: w.ask.Front.ID, Steps: steps, Settings: settings}
	if t.Layer == 1 {
		t.Over = ""
	}
	return append(append(append([]studio.Treatment{}, w.below...), t), w.back...), len(w.below), nil
}

// LayProposed lays out swatches whose settings were chosen one by one, as [Lay] lays
// out every combination. A combination names a level of each factor; one that is
// there twice is made twice, as replicates. A factor may have a single level.
func LayProposed(a Ask, factors []studio.Factor, combos [][]int, sup []studio.Supply, hands []studio.HandAmount, metal studio.Metal) (Layout, error) {
	total := len(combos)*a.Replicates + a.Blanks
	if len(combos) == 0 || len(combos) > MaxSwatches || total > MaxSwatches {
		return Layout{}, studio.Problemf(studio.Invalid, "replicates", "A set holds 1 to %d swatches; choose fewer settings, replicates or blanks.", MaxSwatches)
	}
	a.Shape = studio.Grid
	if len(factors) == 1 {
		a.Shape = studio.Ladder
	}
	a.Factors = factors
	way, err := NewWay(a, factors, sup, hands, metal)
	if err != nil {
		return Layout{}, err
	}
	var kinds [][]studio.Treatment
	copies := map[string]int{}
	var first []int // how many of the same setting came before
	for _, combo := range combos {
		if len(combo) != len(factors) {
			return Layout{}, fmt.Errorf("lay out proposals: %d levels for %d factors", len(combo), len(factors))
		}
		var levels []studio.Level
		for i, l := range combo {
			if l < 0 || l >= len(factors[i].Levels) {
				return Layout{}, fmt.Errorf("lay out proposals: %s has no level %d", factors[i].Name, l)
			}
			levels = append(levels, factors[i].Levels[l])
		}
		kind, _, err := way.Treatments(levels)
		if err != nil {
			return Layout{}, err
		}
		kinds = append(kinds, kind)
		first = append(first, copies[fmt.Sprint(combo)])
		copies[fmt.Sprint(combo)]++
	}
	lay := Layout{Set: a.set(way.factors, metal)}
	lay.Set.Design = studio.Proposed
	for _, kind := range kinds {
		clashes, problem := pieceSafety(kind, sup, metal)
		if problem != nil {
			return Layout{}, problem
		}
		lay.Clashes = mergeClashes(lay.Clashes, clashes)
	}
	treated := len(kinds) * a.Replicates
	for place, i := range randomOrder(total, a.Seed) {
		piece := Piece{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: a.WidthMM, HeightMM: a.HeightMM, Blank: i >= treated}}
		if !piece.Swatch.Blank {
			k := i / a.Replicates
			for _, t := range kinds[k] {
				t.Steps = append([]studio.Step{}, t.Steps...)
				t.Settings = append([]studio.Setting{}, t.Settings...)
				t.Order, t.Replicate = place+1, first[k]*a.Replicates+i%a.Replicates+1
				piece.Treatments = append(piece.Treatments, t)
			}
		}
		lay.Pieces = append(lay.Pieces, piece)
	}
	var notes noteList
	if a.Blanks == 0 {
		notes.add("No blank: how much of a face is covered is judged by the blanks of the earlier sets.")
	}
	a.aboutBack(&notes)
	a.aboutChamber(kinds, &notes)
	lay.Notes = append(notes.texts, way.notes.texts...)
	return lay, nil
}
