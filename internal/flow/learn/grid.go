package learn

import (
	"sort"
	"strconv"
	"strings"

	"aerugo/internal/studio"
)

// GridPlot reads a set that varies two or three things, every combination: the
// effect of each, averaged over the levels of the others.
//
// The spread is that of swatches made alike, over all combinations. Where some
// combination is not measured, an effect is averaged over those that are
// measured at both of its levels, and a note says so.
func GridPlot(set studio.Set, points []Point) Finding {
	used, leftOut, notes := split(set, points)
	f := Finding{LeftOut: leftOut, Table: table(points)}
	switch {
	case len(points) == 0:
		f.Title = "Nothing is measured yet in this set."
		return f
	case len(used) == 0:
		f.Title = "Can't tell anything from these swatches: none of the photographs has a grey patch."
		f.Notes = notes
		return f
	}
	g := newGrid(set.Factors, used)
	var lead []Effect
	partial := false
	for i, factor := range set.Factors {
		es, whole := g.effects(set.Seed, i)
		partial = partial || !whole
		f.Series = append(f.Series, series(factor, g.rungs(i), false)...)
		if len(es) > 0 {
			lead = append(lead, es[0])
			f.Effects = append(f.Effects, es...)
		}
	}
	if len(lead) == 0 {
		f.Title = "Can't tell from these swatches: no factor has two levels measured so far."
		f.Notes = notes
		return f
	}
	sort.SliceStable(lead, func(i, j int) bool {
		if lead[i].Sure != lead[j].Sure {
			return lead[i].Sure
		}
		return lead[i].DE > lead[j].DE
	})
	f.Title, f.Sure = lead[0].Sentence, lead[0].Sure
	sort.SliceStable(f.Effects, func(i, j int) bool {
		return f.Effects[i].Factor == lead[0].Factor && f.Effects[j].Factor != lead[0].Factor
	})
	f.Notes = append(f.Notes, notes...)
	for _, e := range lead[1:] {
		f.Notes = append(f.Notes, e.Sentence)
	}
	for _, e := range lead {
		for _, text := range aboutCoverage(e) {
			f.Notes = append(f.Notes, upper(e.Factor)+": "+strings.ToLower(text[:1])+text[1:])
		}
	}
	f.Notes = append(f.Notes, "Each effect is an average over the other things varied; one that turns round with another does not show here, so look at the combinations too.")
	if partial {
		f.Notes = append(f.Notes, "Some combinations are not measured yet; each effect uses only those measured at both of its levels.")
	}
	f.Notes = append(f.Notes, aboutPhotos(lead[0])...)
	return f
}

// A grid is the swatches sorted by combination of levels.
type grid struct {
	factors []studio.Factor
	cells   map[string]cell
	levels  map[string][]int
	keys    []string // in order
}

func newGrid(factors []studio.Factor, ps []Point) grid {
	g := grid{factors: factors, cells: map[string]cell{}, levels: map[string][]int{}}
	byKey := map[string][]Point{}
	for _, p := range ps {
		levels := make([]int, len(factors))
		known := true
		for i, f := range factors {
			l, ok := levelOf(f, p.Settings)
			levels[i], known = l, known && ok
		}
		if !known {
			continue
		}
		k := keyOf(levels)
		byKey[k] = append(byKey[k], p)
		g.levels[k] = levels
	}
	for k, group := range byKey {
		g.cells[k] = cell{label: k, units: units(group)}
		g.keys = append(g.keys, k)
	}
	sort.Slice(g.keys, func(i, j int) bool {
		a, b := g.levels[g.keys[i]], g.levels[g.keys[j]]
		for n := range a {
			if a[n] != b[n] {
				return a[n] < b[n]
			}
		}
		return false
	})
	return g
}

func keyOf(levels []int) string {
	var parts []string
	for _, l := range levels {
		parts = append(parts, strconv.Itoa(l))
	}
	return strings.Join(parts, "/")
}

// all returns every cell, in order.
func (g grid) all() []cell {
	var cells []cell
	for _, k := range g.keys {
		cells = append(cells, g.cells[k])
	}
	return cells
}

// rungs returns the cells by level of the i-th factor alone, in order of X.
func (g grid) rungs(i int) []rung {
	f := g.factors[i]
	at := map[int]int{}
	var rs []rung
	for _, k := range g.keys {
		l := g.levels[k][i]
		n, ok := at[l]
		if !ok {
			n = len(rs)
			at[l] = n
			rs = append(rs, rung{label: f.Levels[l].Label, x: place(f, l)})
		}
		rs[n].side.cells = append(rs[n].side.cells, g.cells[k])
	}
	sort.SliceStable(rs, func(a, b int) bool { return rs[a].x < rs[b].x })
	return rs
}

// sides returns the cells at two levels of the i-th factor whose other levels
// are measured at both, and whether that is all of them.
func (g grid) sides(i, low, high int) (from, to side, whole bool) {
	whole = true
	seen := 0
	for _, k := range g.keys {
		levels := append([]int{}, g.levels[k]...)
		if levels[i] != low {
			continue
		}
		levels[i] = high
		seen++
		if other, ok := g.cells[keyOf(levels)]; ok {
			from.cells, to.cells = append(from.cells, g.cells[k]), append(to.cells, other)
		} else {
			whole = false
		}
	}
	want := 1
	for j, f := range g.factors {
		if j != i {
			want *= len(f.Levels)
		}
	}
	return from, to, whole && seen == want
}

// effects returns the effects of the i-th factor, the one to speak of first.
func (g grid) effects(seed uint64, i int) (es []Effect, whole bool) {
	f := g.factors[i]
	var over []string
	for j, other := range g.factors {
		if j != i {
			over = append(over, other.Name)
		}
	}
	margin := g.rungs(i)
	level := func(c rung) int {
		for l := range f.Levels {
			if place(f, l) == c.x {
				return l
			}
		}
		return 0
	}
	whole = true
	looks := channels * len(g.factors)
	if !f.Kind.Numeric() {
		looks *= len(margin) * (len(margin) - 1) / 2
	}
	for a := range margin {
		for b := a + 1; b < len(margin); b++ {
			if f.Kind.Numeric() && (a != 0 || b != len(margin)-1) {
				continue
			}
			from, to, all := g.sides(i, level(margin[a]), level(margin[b]))
			whole = whole && all
			if len(from.cells) == 0 {
				continue
			}
			e := pooledEffect(seed, f.Name, g.all(), from, to, margin[a].label, margin[b].label, looks)
			e.AveragedOver = over
			e.sentence(f)
			es = append(es, e)
		}
	}
	sort.SliceStable(es, func(x, y int) bool {
		if es[x].Sure != es[y].Sure {
			return es[x].Sure
		}
		return es[x].DE > es[y].DE
	})
	return es, whole
}
