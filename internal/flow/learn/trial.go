package learn

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A trial is a set being explained.
type trial struct {
	set      studio.Set
	seen     []Row // as given, faces apart
	rows     []Row
	factors  []factorOf
	random   []string         // names of the random parts: "run", "day", "swatch"
	faces    bool             // front and back are told apart by a fixed shift
	line     bool             // numeric factors are taken as lines
	free     int              // degrees of freedom without random parts
	pairs    []product        // that the set can tell
	blur     map[int][]couple // by factor, the pairs that change with it
	muddled  map[int]bool     // factors that take a part of several pairs
	fits     []responseFit
	family   int
	cautions []Caution
}

// factorOf is a factor with the levels that were measured, in order.
type factorOf struct {
	studio.Factor
	levels  []int
	at      []int  // which of levels each row has
	apart   bool   // can be told from the runs
	because string // else why not
}

// x returns where the i-th measured level stands for a line: by its logarithm when the
// levels span more than a factor of eight, as the charts do.
func (f factorOf) x(i int) float64 {
	lo, hi := f.Levels[f.levels[0]].Number, f.Levels[f.levels[len(f.levels)-1]].Number
	if lo > 0 && hi/lo > 8 {
		return math.Log(f.Levels[f.levels[i]].Number)
	}
	return f.Levels[f.levels[i]].Number
}

func (f factorOf) label(i int) string { return f.Levels[f.levels[i]].Label }

func newTrial(set studio.Set, rows []Row) *trial {
	t := &trial{set: set}
	var points []Point
	for _, r := range rows {
		points = append(points, r.Point)
	}
	used, _, notes := split(set, points)
	for _, n := range notes {
		t.warn(LeftOut, nil, "%s", n)
	}
	type key struct {
		photo, swatch int64
		face          studio.Face
	}
	counted := map[key]bool{}
	for _, p := range used {
		counted[key{p.Photo, p.Swatch, p.Face}] = true
	}
	for _, r := range rows {
		known := counted[key{r.Photo, r.Swatch, r.Face}]
		for _, f := range set.Factors {
			_, ok := levelOf(f, r.Settings)
			known = known && ok
		}
		if known {
			t.rows = append(t.rows, r)
		}
	}
	t.seen = slices.Clone(t.rows)
	t.join()
	for _, f := range set.Factors {
		t.addFactor(f)
	}
	n, p := t.swatches(), 1
	for _, f := range t.factors {
		p += len(f.levels) - 1
	}
	if n-p < 3 {
		lines := 1
		for _, f := range t.factors {
			if f.Kind.Numeric() {
				lines++
			} else {
				lines += len(f.levels) - 1
			}
		}
		if lines < p {
			t.line, p = true, lines
		}
	}
	t.free = n - p
	t.blocks()
	return t
}

// join makes one row of the faces of a swatch, where every swatch has the same faces:
// nothing is then known of a factor from the faces of one swatch, and their mean is
// exact. Where some are missing the faces stay, nested in their swatch.
func (t *trial) join() {
	faces := map[int64]map[studio.Face][]Row{}
	var order []int64
	for _, r := range t.rows {
		if faces[r.Swatch] == nil {
			faces[r.Swatch] = map[studio.Face][]Row{}
			order = append(order, r.Swatch)
		}
		faces[r.Swatch][r.Face] = append(faces[r.Swatch][r.Face], r)
	}
	both, one := 0, map[studio.Face]int{}
	for _, n := range order {
		if len(faces[n]) == 2 {
			both++
			continue
		}
		for f := range faces[n] {
			one[f]++
		}
	}
	singles := len(one) // kinds of faces that stand alone
	even := both == len(order) || both == 0 && singles < 2
	var out []Row
	for _, n := range order {
		var whole []Row
		for _, f := range []studio.Face{studio.Front, studio.Back} {
			if rs := faces[n][f]; len(rs) > 0 {
				whole = append(whole, meanRow(rs))
			}
		}
		if even {
			out = append(out, meanRow(whole))
		} else {
			out = append(out, whole...)
		}
	}
	t.rows, t.faces = out, !even
}

// meanRow returns one row for several of one swatch; what is not known of some is taken
// from the others.
func meanRow(rs []Row) Row {
	out := rs[0]
	mean := func(get func(Row) float64) float64 {
		sum, n := 0.0, 0.0
		for _, r := range rs {
			if v := get(r); !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		return sum / n // NaN when none is known
	}
	out.Lab = colour.Lab{L: mean(responses[0].get), A: mean(responses[1].get), B: mean(responses[2].get)}
	cover := mean(func(r Row) float64 {
		if r.Coverage == nil {
			return math.NaN()
		}
		return r.Coverage.Value
	})
	out.Coverage = nil
	if !math.IsNaN(cover) {
		out.Coverage = &studio.Coverage{Value: cover}
	}
	out.Mottle = mean(func(r Row) float64 { return r.Mottle })
	out.Edge = mean(func(r Row) float64 { return r.Edge })
	out.Chamber = mean(func(r Row) float64 { return r.Chamber })
	out.Wet = mean(func(r Row) float64 { return r.Wet })
	out.PadAge = mean(func(r Row) float64 { return r.PadAge })
	out.Order = mean(func(r Row) float64 { return r.Order })
	return out
}

func (t *trial) addFactor(f studio.Factor) {
	g := factorOf{Factor: f, apart: true}
	has := map[int]bool{}
	for _, r := range t.rows {
		l, _ := levelOf(f, r.Settings)
		has[l] = true
	}
	for l := range f.Levels {
		if has[l] {
			g.levels = append(g.levels, l)
		}
	}
	sort.SliceStable(g.levels, func(i, j int) bool { return place(f, g.levels[i]) < place(f, g.levels[j]) })
	if len(g.levels) < 2 {
		if len(g.levels) == 1 {
			t.warn(stat.Confounded, nil, "Only %s is measured so far of %s, so nothing can be said about it.", g.label(0), f.Name)
		}
		return
	}
	for _, r := range t.rows {
		l, _ := levelOf(f, r.Settings)
		g.at = append(g.at, slices.Index(g.levels, l))
	}
	t.factors = append(t.factors, g)
}

func (t *trial) warn(kind stat.WarningKind, swatches []int64, format string, args ...any) {
	t.cautions = append(t.cautions, Caution{kind, fmt.Sprintf(format, args...), swatches})
}

func (t *trial) swatches() int {
	seen := map[int64]bool{}
	for _, r := range t.rows {
		seen[r.Swatch] = true
	}
	return len(seen)
}

// blocks decides which shifts that several rows share are in the model.
func (t *trial) blocks() {
	if t.faces {
		t.random = append(t.random, "swatch")
	}
	runs, days := t.groups("run"), t.groups("day")
	n := t.swatches()
	usable := func(k int) bool { return k >= 2 && k < n }
	for _, part := range []string{"run", "day"} {
		k := map[string]int{"run": runs, "day": days}[part]
		if !usable(k) || part == "day" && slices.Contains(t.random, "run") && days >= runs {
			continue
		}
		whole := true
		for i := range t.factors {
			f := &t.factors[i]
			if k <= len(f.levels) && t.between(*f, part) {
				whole = false
				if f.apart {
					f.apart = false
					f.because = fmt.Sprintf("each of its settings had its own %s, so what is seen may be due to either", blockWord(part))
					t.warn(stat.Confounded, nil, "%s can't be told apart from the %s: each setting was made in another one. Make some settings together in one %s.", upper(f.Name), blockWord(part), blockWord(part))
				}
			}
		}
		if whole {
			t.random = append(t.random, part)
		}
	}
}

func blockWord(part string) string {
	if part == "run" {
		return "filling of the chamber"
	}
	return "day"
}

func blockOf(r Row, part string) string {
	switch part {
	case "run":
		return r.Run
	case "day":
		return r.Day
	}
	return fmt.Sprint(r.Swatch)
}

// groups counts the blocks, 0 when some row's is not known.
func (t *trial) groups(part string) int {
	seen := map[string]bool{}
	for _, r := range t.rows {
		b := blockOf(r, part)
		if b == "" {
			return 0
		}
		seen[b] = true
	}
	return len(seen)
}

// between says whether every block holds one level of f only.
func (t *trial) between(f factorOf, part string) bool {
	level := map[string]int{}
	for i, r := range t.rows {
		b := blockOf(r, part)
		if l, ok := level[b]; ok && l != f.at[i] {
			return false
		}
		level[b] = f.at[i]
	}
	return true
}
