package plan

import (
	"fmt"
	"slices"

	"aerugo/internal/science/design"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// What swatches share, as science/design's groups call it.
const (
	inFilling = "filling"
	inSwatch  = "swatch"
)

// search finds the settings that answer one model best, around what is ruled out
// and on top of what is made already.
func (a Ask) search(c choice, made [][]studio.Level, bad func([]studio.Level) refusal) (choice, error) {
	fs := a.asDesign(c.factors, false)
	split := false
	for i := range fs {
		switch {
		case a.shares(i):
			fs[i].HeldIn, split = inFilling, true
		case a.FacesApart && !perFace(c.factors[i], a.Front.Steps):
			fs[i].HeldIn = inSwatch
		}
	}
	terms := a.modelOf(fs)
	least := columns(fs, terms)
	blocks := a.blocksFor(a.Swatches)
	if split && blocks < 2 {
		// Two fillings of each setting, so that a filling does not pass for it.
		blocks = 2
		for i, f := range c.factors {
			if a.shares(i) {
				blocks = max(blocks, 2*len(f.Levels))
			}
		}
	}
	faces := 1
	if a.FacesApart {
		faces = 2
	}
	if blocks > 1 && !split {
		least += blocks - 1
	}
	if len(made) > 0 && !split {
		least++
	}
	n, twice, times, problem := a.shareOut((least - len(made) + faces - 1) / faces)
	if problem != nil {
		return choice{}, problem
	}
	if least > len(made)+n*faces {
		return choice{}, studio.Problemf(studio.Invalid, "swatches", "So few swatches can't tell so much apart: this takes at least %d of them. Make more, or ask for less: fewer levels, single things instead of pairs, fewer days.", (least-len(made)+faces-1)/faces*max(times, 1))
	}
	if blocks > n {
		return choice{}, studio.Problemf(studio.Invalid, "blocks", "%d settings can't be made in %d fillings; make more swatches, or fewer fillings.", n, blocks)
	}
	s := design.Search{Factors: fs, Runs: len(made) + n*faces, Starts: a.starts,
		Forbidden: a.forbids(c.factors, fs, bad)}
	for _, t := range terms {
		s.Model = append(s.Model, stat.Term(t))
	}
	if a.Model == Bends {
		s.Criterion = design.I
	}
	for _, m := range made {
		s.Fixed = append(s.Fixed, codesOf(c.factors, fs, m))
	}
	s.Groups = a.searchGroups(fs, s.Fixed, n, faces, blocks, split)
	found, err := design.Optimal(s, a.chance())
	if err != nil {
		return choice{}, asProblem("design", err)
	}
	var runs [][]studio.Level
	for _, run := range found.Runs[len(made):] {
		runs = append(runs, a.levelsAt(c.factors, fs, run))
	}
	if faces == 2 {
		a.tellFacesApart(fs, found.Runs[len(made):], runs)
	}
	c = c.taken(runs)
	c.twice, c.times, c.pairs = twice, times, faces == 2
	if blocks > 1 {
		for i := range runs {
			c.blocks = append(c.blocks, i/faces*blocks/n)
		}
	}
	return c, nil
}

// searchGroups are the groups of all runs, those made already first: fillings
// and, with two faces, swatches.
func (a Ask) searchGroups(fs []design.Factor, fixed [][]float64, n, faces, blocks int, split bool) []design.Group {
	var groups []design.Group
	if blocks > 1 || len(fixed) > 0 || split {
		g := design.Group{Name: inFilling}
		// What is made already was made in fillings of its own: one, or one for each
		// setting that its swatches shared.
		own := map[string]int{}
		for _, run := range fixed {
			var key []float64
			for i, f := range fs {
				if f.HeldIn == inFilling {
					key = append(key, run[i])
				}
			}
			k := fmt.Sprint(key)
			if _, ok := own[k]; !ok {
				own[k] = len(own)
			}
			g.Of = append(g.Of, own[k])
		}
		for i := range n * faces {
			g.Of = append(g.Of, len(own)+i/faces*max(blocks, 1)/n)
		}
		if split {
			g.Ratio = 1
		}
		if slices.Max(g.Of) > 0 {
			groups = append(groups, g)
		}
	}
	if faces == 2 {
		g := design.Group{Name: inSwatch, Ratio: 1}
		for i := range fixed {
			g.Of = append(g.Of, i)
		}
		for i := range n * faces {
			g.Of = append(g.Of, len(fixed)+i/2)
		}
		groups = append(groups, g)
	}
	return groups
}

// tellFacesApart changes backs between swatches that share all else, so that no
// swatch has two faces alike where that can be helped.
func (a Ask) tellFacesApart(fs []design.Factor, codes [][]float64, runs [][]studio.Level) {
	for i := 0; i+1 < len(codes); i += 2 {
		if !slices.Equal(codes[i], codes[i+1]) {
			continue
		}
		for j := 0; j+1 < len(codes); j += 2 {
			same := j != i
			for f := range fs {
				same = same && (fs[f].HeldIn == "" || codes[i][f] == codes[j][f])
			}
			if same && !slices.Equal(codes[i], codes[j+1]) && !slices.Equal(codes[j], codes[i+1]) {
				codes[i+1], codes[j+1] = codes[j+1], codes[i+1]
				runs[i+1], runs[j+1] = runs[j+1], runs[i+1]
				break
			}
		}
	}
}
