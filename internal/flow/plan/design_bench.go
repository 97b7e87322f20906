package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"aerugo/internal/studio"
)

// A unit is one swatch to make: the run on it, or those on its front and back.
// A blank has none.
type unit struct {
	runs  []int // places in choice.runs
	block int   // from 0
}

// units turns a choice into swatches with their blocks; the blanks come last.
// blocks is how many there are.
func (a Ask) units(c choice, made [][]studio.Level) (units []unit, blocks int, err error) {
	switch {
	case c.pairs:
		for i := 0; i+1 < len(c.runs); i += 2 {
			u := unit{runs: []int{i, i + 1}}
			if c.blocks != nil {
				u.block = c.blocks[i]
			}
			units = append(units, slices.Repeat([]unit{u}, c.times)...)
		}
	case a.FacesApart:
		if units, err = a.pairUp(c); err != nil {
			return nil, 0, err
		}
	default:
		already := made
		if a.Design == studio.Chosen {
			already = nil // the search has built on them
		}
		for i := range c.runs {
			for range c.times {
				levels := levelsOf(c.factors, c.runs[i])
				if at := slices.IndexFunc(already, func(m []studio.Level) bool { return sameLevels(c.factors, m, levels) }); at >= 0 {
					already = append(slices.Clone(already[:at]), already[at+1:]...)
					continue
				}
				u := unit{runs: []int{i}}
				if c.blocks != nil {
					u.block = c.blocks[i]
				}
				units = append(units, u)
			}
		}
	}
	if len(units) == 0 {
		return nil, 0, studio.Problemf(studio.Invalid, "made", "All of these swatches are made already; count fewer of them, or ask for more.")
	}
	units = a.repeated(c, units)
	if len(units) > MaxSwatches {
		return nil, 0, tooMany()
	}
	blocks = 1
	switch {
	case c.blocks != nil:
		blocks = slices.Max(c.blocks) + 1
	case len(a.Shared) > 0:
		if blocks, err = a.splitUp(c, units); err != nil {
			return nil, 0, err
		}
	default:
		blocks = a.blocksFor(len(units))
		if blocks > len(units) {
			return nil, 0, studio.Problemf(studio.Invalid, "blocks", "%d swatches can't be made in %d fillings; make more swatches, or fewer fillings.", len(units), blocks)
		}
		deal(c, units, blocks, a.chance())
	}
	for _, b := range a.blanks(units, blocks) {
		units = append(units, unit{block: b})
	}
	if len(units) > MaxSwatches {
		return nil, 0, tooMany()
	}
	return units, blocks, nil
}

func tooMany() error {
	return studio.Problemf(studio.Invalid, "replicates", "That makes more than %d swatches; choose fewer levels, replicates or blanks.", MaxSwatches)
}

func sameLevels(factors []studio.Factor, a, b []studio.Level) bool {
	for i, f := range factors {
		if !sameLevel(f.Kind, a[i], b[i]) {
			return false
		}
	}
	return true
}

// repeated adds the swatches that are made once more: drawn among those whose
// settings nothing repeats, and then among all.
func (a Ask) repeated(c choice, units []unit) []unit {
	key := func(u unit) string {
		text := ""
		for _, r := range u.runs {
			text += fmt.Sprint(c.runs[r])
		}
		return text
	}
	count := map[string]int{}
	for _, u := range units {
		count[key(u)]++
	}
	order := a.chance().Perm(len(units))
	slices.SortStableFunc(order, func(x, y int) int {
		return min(count[key(units[x])], 2) - min(count[key(units[y])], 2)
	})
	for _, i := range order[:min(c.twice, len(order))] {
		units = append(units, units[i])
	}
	return units
}

// together groups places by what the named factors are set to, in the order
// they come.
func together(c choice, n int, runOf func(i int) int, held func(f int) bool) [][]int {
	var out [][]int
	at := map[string]int{}
	for i := range n {
		var key []int
		for f := range c.factors {
			if held(f) {
				key = append(key, c.runs[runOf(i)][f])
			}
		}
		k := fmt.Sprint(key)
		if _, ok := at[k]; !ok {
			at[k] = len(out)
			out = append(out, nil)
		}
		out[at[k]] = append(out[at[k]], i)
	}
	return out
}

// pairUp puts two runs that share what a swatch shares, and differ otherwise, on
// the front and the back of one swatch: each with its neighbours in turn, so that
// every setting is as often on a front as on a back.
func (a Ask) pairUp(c choice) ([]unit, error) {
	held := func(f int) bool { return !perFace(c.factors[f], a.Front.Steps) || a.shares(f) }
	free := false
	for f := range c.factors {
		free = free || !held(f)
	}
	if !free {
		return nil, studio.Problemf(studio.Invalid, "faces", "Nothing that is varied can differ between the faces of one swatch: time in the chamber and what lies there are shared. Vary the amount, the liquid, wetting or brushing out too.")
	}
	var units []unit
	rng := a.chance()
	for _, group := range together(c, len(c.runs), func(i int) int { return i }, held) {
		// Settings that a plan makes several times, such as its middle, are paired
		// among others first.
		var kinds []int
		for _, r := range group {
			if !slices.ContainsFunc(kinds, func(k int) bool { return slices.Equal(c.runs[k], c.runs[r]) }) {
				kinds = append(kinds, r)
			}
		}
		if len(kinds) != len(group) || len(kinds) < 2 || len(kinds)*c.times%2 != 0 {
			return nil, studio.Problemf(studio.Invalid, "faces", "These settings can't be put on fronts and backs in pairs that share their time and differ otherwise; make an even number of each, or choose 'searched for'.")
		}
		n := len(kinds)
		rng.Shuffle(n, func(i, j int) { kinds[i], kinds[j] = kinds[j], kinds[i] })
		// Each round puts every kind on a front and on a back; the half round that an
		// odd number of times leaves pairs two and two.
		for round := range c.times / 2 {
			step := 1 + round%(n-1)
			for i, k := range kinds {
				units = append(units, unit{runs: []int{k, kinds[(i+step)%n]}})
			}
		}
		if c.times%2 == 1 {
			for i := 0; i < n; i += 2 {
				pair := []int{kinds[i], kinds[i+1]}
				if i/2%2 == 1 {
					slices.Reverse(pair)
				}
				units = append(units, unit{runs: pair})
			}
		}
	}
	return units, nil
}

// splitUp puts the units into fillings within each of which the shared factors
// stay the same, two for each setting where the swatches and the places allow.
func (a Ask) splitUp(c choice, units []unit) (int, error) {
	groups := together(c, len(units), func(i int) int { return units[i].runs[0] }, a.shares)
	if a.Blocks > 0 && a.Blocks < len(groups) {
		return 0, studio.Problemf(studio.Invalid, "blocks", "The swatches of a filling share %s, which has %d settings here, so the set takes at least %d fillings.", a.sharedWords(c), len(groups), len(groups))
	}
	blocks := 0
	rng := a.chance()
	for g, group := range groups {
		n := min(2, len(group))
		switch {
		case a.Blocks > 0:
			n = a.Blocks / len(groups)
			if g < a.Blocks%len(groups) {
				n++
			}
		case a.ByPlaces:
			n = max(n, (len(group)+a.Chamber.Places-1)/a.Chamber.Places)
			for len(group)+n*a.blanksOf(len(group)/n) > n*a.Chamber.Places {
				n++
			}
		}
		if n > len(group) {
			return 0, studio.Problemf(studio.Invalid, "blocks", "%d fillings are more than these swatches fill; take fewer.", max(a.Blocks, blocks+n))
		}
		// Replicates of one kind stand next to each other; dealt one by one they go
		// into different fillings.
		first := rng.IntN(n)
		for i, at := range group {
			units[at].block = blocks + (i+first)%n
		}
		blocks += n
	}
	return blocks, nil
}

func (a Ask) sharedWords(c choice) string {
	text := ""
	for i, f := range c.factors {
		if !a.shares(i) {
			continue
		}
		if text != "" {
			text += " and "
		}
		text += f.Name
	}
	return text
}

// smallBlock is how many swatches a block has before it gets a blank of its own
// (common practice, no source).
const smallBlock = 6

// blanksOf is how many blanks a block of so many swatches has as a rule.
func (a Ask) blanksOf(n int) int {
	if a.UsualBlanks && n >= smallBlock {
		return 1
	}
	return 0
}

// blocksFor is how many blocks so many treated swatches are made in.
func (a Ask) blocksFor(n int) int {
	switch {
	case a.Blocks > 0:
		return a.Blocks
	case !a.ByPlaces:
		return 1
	}
	for b := 1; b < n; b++ {
		blanks := a.Blanks
		if a.UsualBlanks {
			blanks = max(1, b*a.blanksOf(n/b))
		}
		if n+blanks <= b*a.Chamber.Places {
			return b
		}
	}
	return n
}

// blanks are the blocks that the blanks go into.
func (a Ask) blanks(units []unit, blocks int) []int {
	size := make([]int, blocks)
	for _, u := range units {
		size[u.block]++
	}
	var out []int
	if !a.UsualBlanks {
		order := a.chance().Perm(blocks)
		for i := range a.Blanks {
			out = append(out, order[i%blocks])
		}
		return out
	}
	for b, n := range size {
		out = append(out, slices.Repeat([]int{b}, a.blanksOf(n))...)
	}
	if len(out) == 0 {
		out = append(out, slices.Index(size, slices.Max(size)))
	}
	return out
}

// deal puts the units into blocks of nearly the same size so that what is
// varied, and pairs of it, are as alike in all blocks as an exchange of swatches
// two by two can make them.
func deal(c choice, units []unit, blocks int, rng *rand.Rand) {
	if blocks < 2 {
		for i := range units {
			units[i].block = 0
		}
		return
	}
	n := len(units)
	rows := make([][]float64, n)
	for i, u := range units {
		for _, r := range u.runs {
			for j, v := range features(c.factors, c.runs[r]) {
				if len(rows[i]) <= j {
					rows[i] = append(rows[i], 0)
				}
				rows[i][j] += v
			}
		}
	}
	for j := range rows[0] {
		mean := 0.0
		for i := range rows {
			mean += rows[i][j] / float64(n)
		}
		for i := range rows {
			rows[i][j] -= mean
		}
	}
	var best []int
	least := math.Inf(1)
	for range 10 {
		of := make([]int, n)
		for i, at := range rng.Perm(n) {
			of[at] = i * blocks / n
		}
		if cost := exchange(rows, of, blocks); cost < least-1e-9 {
			least, best = cost, slices.Clone(of)
		}
	}
	for i := range units {
		units[i].block = best[i]
	}
}

// exchange changes two units of different blocks as long as that evens the sums
// of the rows out, and returns the squares of the sums that are left.
func exchange(rows [][]float64, of []int, blocks int) float64 {
	sums := make([][]float64, blocks)
	for b := range sums {
		sums[b] = make([]float64, len(rows[0]))
	}
	for i, row := range rows {
		for j, v := range row {
			sums[of[i]][j] += v
		}
	}
	for better := true; better; {
		better = false
		for i := range rows {
			for k := range i {
				x, y := sums[of[i]], sums[of[k]]
				if of[i] == of[k] {
					continue
				}
				change := 0.0
				for j, v := range rows[i] {
					d := rows[k][j] - v
					change += 2*d*(x[j]-y[j]) + 2*d*d
				}
				if change < -1e-9 {
					for j, v := range rows[i] {
						d := rows[k][j] - v
						x[j] += d
						y[j] -= d
					}
					of[i], of[k] = of[k], of[i]
					better = true
				}
			}
		}
	}
	cost := 0.0
	for _, s := range sums {
		for _, v := range s {
			cost += v * v
		}
	}
	return cost
}

// pairWeight is how much a pair's unevenness counts beside a single thing's.
const pairWeight = 0.5

// features are the columns that blocks are evened out by: each factor, its bend
// where it has three levels or more, and pairs.
func features(factors []studio.Factor, run []int) []float64 {
	var single [][]float64
	for i, f := range factors {
		if !f.Kind.Numeric() {
			var cols []float64
			for l := range f.Levels[:len(f.Levels)-1] {
				v := 0.0
				switch run[i] {
				case l:
					v = 1
				case len(f.Levels) - 1:
					v = -1
				}
				cols = append(cols, v)
			}
			single = append(single, cols)
			continue
		}
		low, high := ends(f)
		v := (2*f.Levels[run[i]].Number - low.Number - high.Number) / (high.Number - low.Number)
		single = append(single, []float64{v})
	}
	var out []float64
	for i, cols := range single {
		out = append(out, cols...)
		if len(cols) == 1 && factors[i].Kind.Numeric() && len(factors[i].Levels) > 2 {
			out = append(out, pairWeight*cols[0]*cols[0])
		}
		for _, other := range single[:i] {
			for _, a := range cols {
				for _, b := range other {
					out = append(out, pairWeight*a*b)
				}
			}
		}
	}
	return out
}

// laidOrder is the order the units are made in: blocks in random order, and
// random order within each. One block keeps the order that every set had before
// there were blocks.
func laidOrder(units []unit, blocks int, seed uint64) (order []int, rank []int) {
	rank = make([]int, blocks)
	if blocks == 1 {
		return randomOrder(len(units), seed), rank
	}
	for place, b := range randomOrder(blocks, seed) {
		rank[b] = place
	}
	for place := range blocks {
		b := slices.Index(rank, place)
		var in []int
		for i, u := range units {
			if u.block == b {
				in = append(in, i)
			}
		}
		for _, i := range orderWithin(len(in), seed, b) {
			order = append(order, in[i])
		}
	}
	return order, rank
}
