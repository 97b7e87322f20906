package learn

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/stat"
	"aerugo/internal/studio"

	"gonum.org/v1/gonum/stat/distuv"
)

// ExplainConfidence is that of the intervals of Explain, all of one set together: in
// nine sets of ten every one of them holds the truth.
const ExplainConfidence = 0.90

// A Row is one face with what may have caused its look besides what was varied. Numbers
// that nobody knows are NaN.
type Row struct {
	Point
	Mottle  float64 // difference of L* between places Texture.PairMM apart (root mean square)
	Edge    float64 // deposit near the edge over that of the middle; 1 is even
	Order   float64 // when it was made among the others, as a rank or a time
	Run     string  // which filling of a chamber; "" when not known
	Day     string  // on which day; "" when not known
	Chamber float64 // hours in the chamber
	Wet     float64 // hours since its salt had dissolved, until it came out
	PadAge  float64 // hours from the wetting of the pad until it went in
}

// Rows joins looks to what was varied, as Points does, with texture, pooling and the
// planned order. Runs, days and hours are the caller's to fill in.
func Rows(set studio.Set, treatments []studio.Treatment, looks []studio.Look) []Row {
	order := map[int64]int{}
	for _, t := range treatments {
		if t.SetID == set.ID && len(t.Settings) > 0 && order[t.Swatch] == 0 {
			order[t.Swatch] = t.Order
		}
	}
	of := map[int64]*studio.Measurement{}
	for _, l := range looks {
		of[l.Photo] = l.Measurement
	}
	var out []Row
	nan := math.NaN()
	for _, p := range Points(set, treatments, looks) {
		r := Row{Point: p, Mottle: nan, Edge: nan, Order: nan, Chamber: nan, Wet: nan, PadAge: nan}
		if m := of[p.Photo]; m != nil && m.Texture != nil {
			r.Mottle = stepL * math.Sqrt(m.Texture.Contrast)
		}
		if m := of[p.Photo]; m != nil && m.Pooling != nil && m.Pooling.EdgeRatio > 0 {
			r.Edge = m.Pooling.EdgeRatio
		}
		if n := order[p.Swatch]; n > 0 {
			r.Order = float64(n)
		}
		out = append(out, r)
	}
	return out
}

// stepL is the width in L* of one step of studio.Texture's contrast.
const stepL = 3.125

// Standing is how a claim stands.
type Standing string

// The standings. NoDifference is said only when every interval of the factor is short
// enough to rule out what a person would call another look.
const (
	Shown        Standing = "seen"
	CantTell     Standing = "can't tell"
	NoDifference Standing = "no difference bigger than"
)

// What a difference must be smaller than to be called none: a choice of ours. Two
// swatches nearer than ΔE00 5 pass for one recipe at arm's length; ten points of
// coverage are hardly seen.
const (
	noColour   = 5.0
	noCoverage = 0.10
)

// Aspect is what of a look a claim is about.
type Aspect string

// The aspects.
const (
	OfColour   Aspect = "colour"
	OfCoverage Aspect = "coverage"
	OfTexture  Aspect = "texture"
	OfPooling  Aspect = "pooling"
)

// A Claim is one sentence on one factor, with what is behind it.
//
// Changes are To less From: L*, a* and b* for the colour, a fraction for the coverage, L*
// for the texture and a ratio for the pooling (1 is no change). Their intervals hold
// together with all others of the explanation. Lead is the change that Words names. DE
// is the CIEDE2000 difference of the two fitted looks with its own bootstrap interval,
// and Most what it does not exceed with the confidence; both are 0 where the claim has
// no colour. Photos are faces to look at, From's first.
type Claim struct {
	Words            string
	Factor           string
	From, To         string
	Aspect           Aspect
	Changes          []Change
	Lead             int
	DE, Low, High    float64
	Most             float64
	Direction        string
	FromLook, ToLook colour.Lab
	Swatches         []int64
	Photos           []int64
	Standing         Standing
	Why              string  // why it can't be told
	strength         float64 // size over its error, to put the surest first
}

// An Explanation is what the factors of a set do to its swatches.
type Explanation struct {
	Claims      []Claim
	Warnings    []Caution
	Table       Table
	Diagnostics Table
	Method      string // one sentence
	Swatches    int
}

// A Caution is something to know before believing the claims; Kind is for programs.
type Caution struct {
	Kind     stat.WarningKind
	Text     string
	Swatches []int64
}

// PadWeaker warns that looks go with the age of the pad.
const PadWeaker stat.WarningKind = "pad weaker"

// LeftOut says that some looks are not counted, and why.
const LeftOut stat.WarningKind = "left out"

// Explain reads all factors of a set at once. Each is judged with the others held
// equal, in a linear model by least squares, or by a mixed model where runs or days of
// the chamber, or faces of one swatch, shift several rows together. Coverage is read on
// the logit scale, pooling on the logarithm of its ratio. A numeric factor is judged
// between its lowest and highest level without assuming a line, unless too few swatches
// were made for that. Intervals are Šidák's for all differences together.
//
// Source: Šidák 1967; mixed models as in stat.FitMixed. The rates at which it is wrong
// are measured in explain_test.go.
func Explain(set studio.Set, rows []Row) Explanation {
	t := newTrial(set, rows)
	out := Explanation{Swatches: t.swatches(), Warnings: t.cautions}
	if len(t.factors) == 0 || len(t.rows) == 0 {
		return out
	}
	t.fit()
	out.Claims, out.Table = t.claims()
	t.check()
	out.Warnings, out.Diagnostics, out.Method = t.cautions, t.diagnostics(), t.method()
	return out
}

// A response is one number read off every row, on the scale where its scatter is even.
type response struct {
	name   string
	aspect Aspect
	get    func(Row) float64 // NaN when not known
}

var responses = []response{
	{"L*", OfColour, func(r Row) float64 { return r.Lab.L }},
	{"a*", OfColour, func(r Row) float64 { return r.Lab.A }},
	{"b*", OfColour, func(r Row) float64 { return r.Lab.B }},
	{"coverage", OfCoverage, func(r Row) float64 {
		if r.Coverage == nil {
			return math.NaN()
		}
		return logit(r.Coverage.Value)
	}},
	{"mottling", OfTexture, func(r Row) float64 { return r.Mottle }},
	{"edge over middle", OfPooling, func(r Row) float64 { return math.Log(r.Edge) }},
}

// coverPlaces is how many independent places a share of a face is taken to be counted
// from, so that none and all have a logit.
const coverPlaces = 100

func logit(share float64) float64 {
	v := (min(max(share, 0), 1)*(coverPlaces-1) + 0.5) / coverPlaces
	return math.Log(v / (1 - v))
}

func expit(v float64) float64 {
	p := 1 / (1 + math.Exp(-v))
	return min(max((p*coverPlaces-0.5)/(coverPlaces-1), 0), 1)
}

// A trial is a set being explained.
type trial struct {
	set      studio.Set
	seen     []Row // as given, faces apart
	rows     []Row
	factors  []factorOf
	random   []string // names of the random parts: "run", "day", "swatch"
	faces    bool     // front and back are told apart by a fixed shift
	line     bool     // numeric factors are taken as lines
	free     int      // degrees of freedom without random parts
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

// responseFit is the model of one response.
type responseFit struct {
	response
	at        []int // rows that have it
	linear    *stat.LinearFit
	mixed     *stat.MixedFit
	contrasts map[pairKey]contrast
	base      []float64 // mean of the response with each factor at its first measured level
}

type pairKey struct{ factor, from, to int }

// contrast is one difference, on the response's own scale.
type contrast struct {
	value, se, df, p float64
}

// interval returns the two-sided interval when family of them are read at once.
func (c contrast) interval(family int) (low, high float64) {
	each := math.Pow(ExplainConfidence, 1/float64(family))
	q := distuv.StudentsT{Sigma: 1, Nu: c.df}.Quantile(0.5 + each/2)
	return c.value - q*c.se, c.value + q*c.se
}

// model writes the rows of one response as a linear model; first is the level that
// stands first of one factor, the others begin with their lowest.
func (t *trial) model(r response, at []int, factor, first int) stat.Model {
	m := stat.Model{Conf: ExplainConfidence}
	for _, i := range at {
		m.Response = append(m.Response, r.get(t.rows[i]))
	}
	for k, f := range t.factors {
		c := stat.Column{Name: fmt.Sprintf("f%d", k)}
		if t.line && f.Kind.Numeric() {
			for _, i := range at {
				c.Numbers = append(c.Numbers, f.x(f.at[i]))
			}
		} else {
			has := map[int]bool{}
			for _, i := range at {
				c.Labels = append(c.Labels, levelName(f.at[i]))
				has[f.at[i]] = true
			}
			start := 0
			if k == factor {
				start = first
			}
			for j := range f.levels {
				if l := (start + j) % len(f.levels); has[l] {
					c.Levels = append(c.Levels, levelName(l))
				}
			}
			if len(c.Levels) < 2 {
				continue
			}
		}
		m.Columns, m.Terms = append(m.Columns, c), append(m.Terms, stat.Term{c.Name})
	}
	if t.faces {
		c := stat.Column{Name: "face"}
		has := map[string]bool{}
		for _, i := range at {
			c.Labels = append(c.Labels, string(t.rows[i].Face))
			has[string(t.rows[i].Face)] = true
		}
		if len(has) == 2 {
			m.Columns, m.Terms = append(m.Columns, c), append(m.Terms, stat.Term{"face"})
		}
	}
	return m
}

func levelName(l int) string { return fmt.Sprintf("l%d", l) }

// randoms returns the random parts for the rows of a response; those that no longer
// group anything are left out.
func (t *trial) randoms(at []int) []stat.Random {
	var out []stat.Random
	for _, part := range t.random {
		r := stat.Random{Name: part}
		seen := map[string]bool{}
		for _, i := range at {
			b := blockOf(t.rows[i], part)
			r.Labels = append(r.Labels, b)
			seen[b] = true
		}
		if len(seen) >= 2 && len(seen) < len(at) {
			out = append(out, r)
		}
	}
	return out
}

// fit fits every response that enough rows have.
func (t *trial) fit() {
	for _, r := range responses {
		var at []int
		for i, row := range t.rows {
			if v := r.get(row); !math.IsNaN(v) && !math.IsInf(v, 0) {
				at = append(at, i)
			}
		}
		if f, ok := t.fitOne(r, at); ok {
			t.fits = append(t.fits, f)
			t.family += len(f.contrasts)
		}
	}
	t.family = max(t.family, 1)
}

func (t *trial) fitOne(r response, at []int) (responseFit, bool) {
	f := responseFit{response: r, at: at, contrasts: map[pairKey]contrast{}}
	if len(at) < 3 {
		return f, false
	}
	var sum float64
	for k, fac := range t.factors {
		last := len(fac.levels) - 1
		firsts := last // every level but the last stands first once
		if fac.Kind.Numeric() {
			firsts = 1
		}
		for first := range firsts {
			if k > 0 && first == 0 {
				// the fit of the first factor holds all other factors' first levels too
				f.read(t, k, first, f.coefficients())
				continue
			}
			m := t.model(r, at, k, first)
			linear, err := stat.FitLinear(m)
			if err != nil || linear.DF < 1 || linear.RSS <= 1e-20*float64(len(at)) {
				return f, false
			}
			var mixed *stat.MixedFit
			if random := t.randoms(at); len(random) > 0 {
				if mixed, err = stat.FitMixed(m, random); err != nil && !errors.Is(err, stat.ErrModel) {
					return f, false
				}
			}
			if f.linear == nil {
				f.linear, f.mixed = linear, mixed
			}
			f.read(t, k, first, responseFit{linear: linear, mixed: mixed}.coefficients())
		}
	}
	for _, i := range at {
		sum += r.get(t.rows[i])
	}
	mean := sum / float64(len(at))
	for k, fac := range t.factors {
		b := mean
		for _, i := range at {
			if c, ok := f.contrasts[pairKey{k, 0, fac.at[i]}]; ok && fac.at[i] > 0 {
				b -= c.value / float64(len(at))
			} else if !ok && fac.at[i] > 0 {
				b -= f.step(t, k, fac.at[i]) / float64(len(at))
			}
		}
		f.base = append(f.base, b)
	}
	return f, len(f.contrasts) > 0
}

func (f responseFit) coefficients() []stat.Coefficient {
	if f.mixed != nil {
		return f.mixed.Coefficients
	}
	return f.linear.Coefficients
}

// step returns the shift of level l against the first level of a numeric factor.
func (f responseFit) step(t *trial, k, l int) float64 {
	for _, c := range f.coefficients() {
		switch {
		case c.Name == fmt.Sprintf("f%d=%s", k, levelName(l)):
			return c.Estimate
		case c.Name == fmt.Sprintf("f%d", k):
			return c.Estimate * (t.factors[k].x(l) - t.factors[k].x(0))
		}
	}
	return 0
}

// read takes the differences from the level that stands first out of the coefficients.
func (f *responseFit) read(t *trial, k, first int, cs []stat.Coefficient) {
	fac := t.factors[k]
	if !fac.apart {
		return
	}
	last := len(fac.levels) - 1
	for _, c := range cs {
		if math.IsNaN(c.SE) || c.SE <= 0 || !(c.DF > 0) {
			continue
		}
		if c.Name == fmt.Sprintf("f%d", k) {
			d := fac.x(last) - fac.x(0)
			f.contrasts[pairKey{k, 0, last}] = contrast{c.Estimate * d, c.SE * d, c.DF, c.P}
		}
		for l := first + 1; l <= last; l++ {
			if fac.Kind.Numeric() && l < last || c.Name != fmt.Sprintf("f%d=%s", k, levelName(l)) {
				continue
			}
			f.contrasts[pairKey{k, first, l}] = contrast{c.Estimate, c.SE, c.DF, c.P}
		}
	}
}
