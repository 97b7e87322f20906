package learn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strconv"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// claims puts the differences into sentences, the surest first, and into a table.
func (t *trial) claims() ([]Claim, Table) {
	table := Table{Columns: []string{"Factor", "From", "To", "What", "Difference", "Between", "ΔE00 of the looks", "Swatches", "Standing"}}
	out := t.pairClaims()
	pairs, depends := len(out), map[string]bool{}
	for _, c := range out {
		depends[c.Factor], depends[c.With] = true, true
		table.Rows = append(table.Rows, tableRows(c)...)
	}
	for k := range t.factors {
		all := t.claimsOf(k)
		var shown []Claim
		for _, c := range all {
			c, said := c.after(out[:pairs], len(t.factors[k].levels))
			if c.Standing == Shown && said {
				shown = append(shown, c)
			}
			table.Rows = append(table.Rows, tableRows(c)...)
		}
		if len(shown) == 0 && !depends[t.factors[k].Name] {
			shown = []Claim{t.nothing(k, all)}
		}
		out = append(out, shown...)
	}
	rank := map[Standing]int{Shown: 0, NoDifference: 1, CantTell: 2}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Standing != out[j].Standing {
			return rank[out[i].Standing] < rank[out[j].Standing]
		}
		return out[i].strength > out[j].strength
	})
	return out, table
}

// after puts a claim on one factor behind those on its pairs, of whose settings it is the
// mean; false when one of them says all of it.
func (c Claim) after(pairs []Claim, levels int) (Claim, bool) {
	for _, p := range pairs {
		if p.Aspect != c.Aspect || p.Factor != c.Factor && p.With != c.Factor {
			continue
		}
		if p.Factor == c.Factor && levels == 2 {
			return c, false
		}
		c.strength = min(c.strength, 0.99*p.strength)
	}
	return c, true
}

// claimsOf returns one claim for each pair of levels and aspect of the k-th factor.
func (t *trial) claimsOf(k int) []Claim {
	f := t.factors[k]
	pairs := map[pairKey]bool{}
	for _, r := range t.fits {
		for key := range r.contrasts {
			pairs[key] = pairs[key] || key.factor == k
		}
	}
	var keys []pairKey
	for key, ours := range pairs {
		if ours {
			keys = append(keys, key)
		}
	}
	slices.SortFunc(keys, func(a, b pairKey) int {
		if a.from != b.from {
			return a.from - b.from
		}
		return a.to - b.to
	})
	var out []Claim
	for _, key := range keys {
		for _, aspect := range []Aspect{OfColour, OfCoverage, OfTexture, OfPooling} {
			c := Claim{Factor: f.Name, From: f.label(key.from), To: f.label(key.to), Aspect: aspect, Standing: CantTell}
			if t.measure(&c, key) {
				c.Swatches, c.Photos = t.behind(key)
				c.Words = t.words(c, f)
				if c.Standing == Shown {
					c.Words += t.doubts(k, c.Aspect)
				}
				out = append(out, c)
			}
		}
	}
	return out
}

// doubts says what else a difference that was seen may be, and what it is a mean of.
func (t *trial) doubts(k int, aspect Aspect) (out string) {
	var with []string
	for _, f := range t.fits {
		for _, n := range f.shownPairs() {
			p := t.pairs[n]
			if f.aspect != aspect || p.a != k && p.b != k {
				continue
			}
			if other := t.factors[p.a+p.b-k].Name; !slices.Contains(with, other) {
				with = append(with, other)
			}
		}
	}
	if len(with) > 0 {
		out = fmt.Sprintf(" That is its mean over all settings of %s, on which it depends.", join(with))
	}
	if ps := t.blur[k]; len(ps) > 0 {
		out += fmt.Sprintf(" %s, or %s: this set can't tell which.", upper(t.factors[k].Name), t.pairNames(ps))
	}
	return out
}

// measure fills in the changes of one claim; false when nothing of the aspect is known.
func (t *trial) measure(c *Claim, key pairKey) bool {
	most, largest, lead := 0.0, 0.0, -1
	var from, to [channels]float64
	var se [channels]float64
	df := math.Inf(1)
	for _, r := range t.fits {
		d, ok := r.contrasts[key]
		if r.aspect != c.Aspect || !ok {
			continue
		}
		start := r.base[key.factor] + r.step(t, key.factor, key.from)
		if n := len(c.Changes); c.Aspect == OfColour {
			from[n], to[n], se[n], df = start, start+d.value, d.se, min(df, d.df)
		}
		ch := t.change(r, d, start)
		c.Changes = append(c.Changes, ch)
		if s := math.Abs(d.value) / d.se; s > most {
			most, c.strength = s, s
			c.Lead = len(c.Changes) - 1
		}
		if ch.Sure {
			c.Standing = Shown
			if c.Aspect == OfColour && math.Abs(ch.Value) > largest {
				largest, lead = math.Abs(ch.Value), len(c.Changes)-1
			}
		}
	}
	if len(c.Changes) == 0 {
		return false
	}
	if lead >= 0 {
		c.Lead = lead // of what is seen, the largest is what the eye sees
	}
	if c.Aspect == OfColour {
		if len(c.Changes) < channels {
			return false
		}
		c.FromLook, c.ToLook = lab(from), lab(to)
		c.DE = colour.Difference(c.FromLook, c.ToLook)
		c.Low, c.High, c.Most = t.shake(c.FromLook, c.ToLook, se, df)
		seen := from
		for i, ch := range c.Changes {
			if ch.Sure {
				seen[i] += ch.Value
			}
		}
		c.Direction = Direction(c.FromLook, lab(seen))
	}
	return true
}

// shake draws the difference of two fitted looks again and again (parametric bootstrap,
// with the correlation of what the models leave over and a t-like tail) and returns the
// interval of their ΔE00, mirrored at the estimate as differenceInterval does, and what
// it stays below.
func (t *trial) shake(from, to colour.Lab, se [channels]float64, df float64) (low, high, most float64) {
	var cov [channels][channels]float64
	for i := range cov {
		for j := range cov {
			cov[i][j] = se[i] * se[j] * correlation(t.fits[i], t.fits[j])
		}
	}
	s := spread{root: cholesky(cov), df: df}
	rng := rand.New(rand.NewPCG(t.set.Seed, bootStream))
	est := colour.Difference(from, to)
	got := make([]float64, draws)
	for i := range got {
		got[i] = colour.Difference(from, s.shake(to, widening(df, rng), rng))
	}
	sort.Float64s(got)
	tail := (1 - ExplainConfidence) / 2
	a, b := got[int(draws*tail)], got[draws-1-int(draws*tail)]
	return max(0, 2*est-b), max(0, 2*est-a), got[int(draws*ExplainConfidence)]
}

// cholesky returns the lower triangle of which v is the square; a pivot of nought
// leaves its column at nought.
func cholesky(v [channels][channels]float64) (root [channels][channels]float64) {
	for j := range channels {
		for i := j; i < channels; i++ {
			x := v[i][j]
			for k := range j {
				x -= root[i][k] * root[j][k]
			}
			switch {
			case i == j:
				root[j][j] = math.Sqrt(max(x, 0))
			case root[j][j] > 1e-9:
				root[i][j] = x / root[j][j]
			}
		}
	}
	return root
}

func correlation(a, b responseFit) float64 {
	x, y := a.linear.Residuals, b.linear.Residuals
	if len(x) != len(y) {
		return 0
	}
	var xy, xx, yy float64
	for i := range x {
		xy, xx, yy = xy+x[i]*y[i], xx+x[i]*x[i], yy+y[i]*y[i]
	}
	if xx == 0 || yy == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

// nothing sums up a factor of which no difference is seen.
func (t *trial) nothing(k int, all []Claim) Claim {
	f := t.factors[k]
	last := len(f.levels) - 1
	c := Claim{Factor: f.Name, From: f.label(0), To: f.label(last), Aspect: OfColour, Standing: CantTell}
	c.Swatches, c.Photos = t.behind(pairKey{k, 0, last})
	var worst, cover float64
	covered, coloured := false, false
	for _, x := range all {
		switch {
		case x.Aspect == OfColour:
			coloured = true
			if x.Most >= worst {
				words := c.Swatches
				worst, c = x.Most, x
				if len(x.Swatches) == 0 {
					c.Swatches = words
				}
			}
		case x.Aspect == OfCoverage:
			covered = true
			for _, ch := range x.Changes {
				cover = max(cover, math.Abs(ch.Low), math.Abs(ch.High))
			}
		}
	}
	c.Standing = CantTell
	name := f.Name
	switch {
	case !f.apart:
		c.Why = f.because
		c.Words = fmt.Sprintf("Can't tell from these swatches what %s does: %s.", name, f.because)
	case !coloured:
		c.Why = "nothing was made twice, so a difference can't be told from the hand's own spread"
		c.Words = fmt.Sprintf("Can't tell from these swatches what %s does: %s.", name, c.Why)
	case worst <= noColour && (!covered || cover <= noCoverage):
		c.Standing = NoDifference
		c.Words = fmt.Sprintf("%s makes no difference we can see: if there is one, it is smaller than ΔE00 %s", upper(name), one(worst))
		if covered {
			c.Words += fmt.Sprintf(" and %s points of coverage", one(100*cover))
		}
		c.Words += "."
	case worst <= noColour:
		c.Why = "the coverage of swatches made alike differs too much"
		c.Words = fmt.Sprintf("Can't tell from these swatches what %s does: its colour differs by less than ΔE00 %s, if at all, but the coverage may differ by as much as %s points of a hundred.", name, one(worst), whole(100*cover))
	default:
		c.Why = "swatches made alike differ too much, or are too few"
		c.Words = fmt.Sprintf("Can't tell from these swatches what %s does: it may do nothing, or as much as ΔE00 %s.", name, one(worst))
	}
	return c
}

// words writes one difference as a sentence.
func (t *trial) words(c Claim, f factorOf) string {
	subject := fmt.Sprintf("%s rather than %s", upper(c.To), c.From)
	if f.Kind.Numeric() {
		subject = fmt.Sprintf("%s from %s to %s", upper(f.Name), c.From, c.To)
	}
	ch := c.Changes[c.Lead]
	near, far := min(math.Abs(ch.Low), math.Abs(ch.High)), max(math.Abs(ch.Low), math.Abs(ch.High))
	switch c.Aspect {
	case OfCoverage:
		return fmt.Sprintf("%s covers %s of the face: %s points of a hundred, between %s and %s.", subject, moreLess(ch.Value), whole(100*math.Abs(ch.Value)), whole(100*near), whole(100*far))
	case OfTexture:
		return fmt.Sprintf("%s looks %s: the lightness of neighbouring places differs by %s %s, between %s and %s.", subject, map[bool]string{true: "more mottled", false: "smoother"}[ch.Value > 0], one(math.Abs(ch.Value)), moreLess(ch.Value), one(near), one(far))
	case OfPooling:
		v, lo, hi := ch.Value, ch.Low, ch.High
		if v < 1 {
			v, lo, hi = 1/v, 1/hi, 1/lo
			return fmt.Sprintf("%s gathers less at the edge: the middle has %s times as much for the same edge, between %s and %s.", subject, one(v), one(lo), one(hi))
		}
		return fmt.Sprintf("%s gathers more at the edge: %s times as much against the middle, between %s and %s.", subject, one(v), one(lo), one(hi))
	}
	return fmt.Sprintf("%s %s: %s %s %s, between %s and %s.", subject, verb(c), ch.Name, whole(math.Abs(ch.Value)), map[bool]string{true: "higher", false: "lower"}[ch.Value > 0], whole(near), whole(far))
}

func moreLess(v float64) string {
	if v > 0 {
		return "more"
	}
	return "less"
}

// verb says what a colour does: "adds blue and darkens".
func verb(c Claim) string {
	plain := map[string]string{
		"bluer": "adds blue", "yellower": "adds yellow", "greener": "adds green", "redder": "adds red",
		"darker": "darkens", "lighter": "lightens", "greyer": "makes it greyer", "more vivid": "makes it more vivid",
	}
	how := c.Direction
	if v, ok := plain[how]; ok {
		return v
	}
	if how == "" {
		return "makes it a little different"
	}
	return "makes it " + how
}

// whole writes v without decimals, or with one below 3.
func whole(v float64) string {
	if v < 3 {
		return one(v)
	}
	return strconv.FormatFloat(math.Round(v), 'f', 0, 64)
}

// behind returns the swatches at the two ends of a difference, and up to three
// photographs of each end that show it best: those nearest its mean.
func (t *trial) behind(key pairKey) (swatches []int64, photos []int64) {
	f := t.factors[key.factor]
	for _, end := range []int{key.from, key.to} {
		var at []Row
		var mean [channels]float64
		for _, r := range t.seen {
			l, _ := levelOf(f.Factor, r.Settings)
			if slices.Index(f.levels, l) != end {
				continue
			}
			at = append(at, r)
			for i, v := range values(r.Lab) {
				mean[i] += v
			}
			if !slices.Contains(swatches, r.Swatch) {
				swatches = append(swatches, r.Swatch)
			}
		}
		for i := range mean {
			mean[i] /= float64(max(1, len(at)))
		}
		sort.SliceStable(at, func(i, j int) bool {
			if a, b := at[i].Face == studio.Front, at[j].Face == studio.Front; a != b {
				return a
			}
			return colour.Difference(at[i].Lab, lab(mean)) < colour.Difference(at[j].Lab, lab(mean))
		})
		for _, r := range at[:min(3, len(at))] {
			photos = append(photos, r.Photo)
		}
	}
	return swatches, photos
}

// tableRows writes a claim's numbers.
func tableRows(c Claim) (out [][]string) {
	for i, ch := range c.Changes {
		v, lo, hi := one(ch.Value), one(ch.Low), one(ch.High)
		switch c.Aspect {
		case OfCoverage:
			v, lo, hi = one(100*ch.Value)+" points", one(100*ch.Low), one(100*ch.High)
		case OfPooling:
			v, lo, hi = "× "+signed(ch.Value), signed(ch.Low), signed(ch.High)
		}
		de := ""
		if c.Aspect == OfColour && i == 0 {
			de = fmt.Sprintf("%s (%s to %s)", one(c.DE), one(c.Low), one(c.High))
		}
		factor := c.Factor
		if c.With != "" {
			factor += " with " + c.With
		}
		standing := string(Shown)
		if !ch.Sure {
			standing = "not seen"
		}
		out = append(out, []string{factor, c.From, c.To, ch.Name, v, lo + " to " + hi, de, strconv.Itoa(len(c.Swatches)), standing})
	}
	return out
}
