package learn

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// acting is one factor's effect at each setting of another, on one response.
type acting struct {
	n, a, b int // product, the factor that acts, the one on which it depends
	to      int // level of a that is told against its first
	at      []contrast
	seen    []bool
}

// act reads a response for one direction of a product; false when some setting of b has
// no answer.
func (t *trial) act(f responseFit, n, a, b int) (acting, bool) {
	x := acting{n: n, a: a, b: b}
	var all []map[int]contrast
	for level := range t.factors[b].levels {
		all = append(all, t.simple(f, n, a, b, level))
	}
	most := -1.0
	for to := 1; to < len(t.factors[a].levels); to++ {
		if t.factors[a].Kind.Numeric() && to < len(t.factors[a].levels)-1 {
			continue
		}
		low, high, whole := math.Inf(1), math.Inf(-1), true
		for _, e := range all {
			c, ok := e[to]
			whole = whole && ok
			low, high = min(low, c.value), max(high, c.value)
		}
		if whole && high-low > most {
			most, x.to = high-low, to
		}
	}
	if most < 0 {
		return x, false
	}
	for _, e := range all {
		c := e[x.to]
		low, high := c.interval(t.family)
		x.at, x.seen = append(x.at, c), append(x.seen, low > 0 || high < 0)
	}
	return x, true
}

// only counts the settings with an effect, and those without.
func (x acting) only() (with, without int) {
	for _, s := range x.seen {
		if s {
			with++
		} else {
			without++
		}
	}
	return with, without
}

// strongest is the setting at which the effect is largest among those seen, else of all.
func (x acting) strongest() int {
	best := 0
	for j, c := range x.at {
		if x.seen[j] && !x.seen[best] || x.seen[j] == x.seen[best] && math.Abs(c.value) > math.Abs(x.at[best].value) {
			best = j
		}
	}
	return best
}

// pairClaims says of every pair that was seen what one does at the settings of the other.
func (t *trial) pairClaims() []Claim {
	var out []Claim
	for n := range t.pairs {
		for _, aspect := range []Aspect{OfColour, OfCoverage, OfTexture, OfPooling} {
			if c, ok := t.pairClaim(n, aspect); ok {
				out = append(out, c)
			}
		}
	}
	return out
}

func (t *trial) pairClaim(n int, aspect Aspect) (Claim, bool) {
	p := t.pairs[n]
	// of what was seen, the largest is what the eye sees; of the two directions, the one
	// in which one setting takes the effect away
	var lead *responseFit
	var how acting
	var strength, most float64
	for i := range t.fits {
		f := &t.fits[i]
		if f.aspect != aspect || !f.pair(n).shown {
			continue
		}
		strength = max(strength, f.pair(n).size)
		best, found := acting{}, false
		for _, d := range []couple{{p.a, p.b}, {p.b, p.a}} {
			x, ok := t.act(*f, n, d.a, d.b)
			if !ok {
				continue
			}
			if !found || t.rankActing(x) > t.rankActing(best) {
				best, found = x, true
			}
		}
		if size := math.Abs(best.width()); found && size > most {
			lead, how, most = f, best, size
		}
	}
	if lead == nil {
		return Claim{}, false
	}
	a, b := t.factors[how.a], t.factors[how.b]
	at := how.strongest()
	c := Claim{Factor: a.Name, With: b.Name, From: a.label(0), To: a.label(how.to), Aspect: aspect, Standing: Shown, strength: strength}
	var froms, tos, ses [channels]float64
	df := math.Inf(1)
	known := 0
	for _, f := range t.fits {
		if f.aspect != aspect || !f.pair(n).shown && aspect != OfColour {
			continue
		}
		x, ok := t.act(f, n, how.a, how.b)
		if !ok {
			continue
		}
		if i := slices.Index(channelNames[:], f.name); i >= 0 {
			start := t.cell(f, how.a, 0, how.b, at)
			e := t.simple(f, n, how.a, how.b, at)[how.to]
			froms[i], tos[i], ses[i], df = start, start+e.value, e.se, min(df, e.df)
			known++
		}
		if !f.pair(n).shown {
			continue
		}
		for j := range b.levels {
			// the same levels for every channel, not those in which each differs most
			e, ok := t.simple(f, n, how.a, how.b, j)[how.to]
			if !ok {
				e = x.at[j]
			}
			if f.name == lead.name && j == at {
				c.Lead = len(c.Changes)
			}
			ch := t.change(f, e, t.cell(f, how.a, 0, how.b, j))
			ch.Name += " " + where(b.Factor, b.Levels[b.levels[j]])
			c.Changes = append(c.Changes, ch)
		}
	}
	if aspect == OfColour {
		c.FromLook, c.ToLook = lab(froms), lab(tos)
		c.DE = colour.Difference(c.FromLook, c.ToLook)
		if known == channels && df > 0 {
			c.Low, c.High, c.Most = t.shake(c.FromLook, c.ToLook, ses, df)
		}
	}
	c.Swatches, c.Photos = t.behindPair(how, at)
	c.Words = t.pairWords(*lead, how, p)
	return c, true
}

// width is how far the effects at the settings lie apart.
func (x acting) width() float64 {
	if len(x.at) == 0 {
		return 0
	}
	low, high := x.at[0].value, x.at[0].value
	for _, c := range x.at {
		low, high = min(low, c.value), max(high, c.value)
	}
	return high - low
}

// rankActing says how plain a direction reads: best when one of its settings takes the
// effect away, then when something is done or left undone rather than dosed.
func (t *trial) rankActing(x acting) int {
	rank := 0
	if with, without := x.only(); with > 0 && without > 0 {
		rank += 4
	} else if with > 0 {
		rank += 2
	}
	if k := t.factors[x.a].Kind; k == studio.ByWetting || k == studio.ByBrushing {
		rank++
	}
	return rank
}

// cell is the mean of a response with two factors at one level each; where there is no
// such swatch, with the second alone.
func (t *trial) cell(f responseFit, a, la, b, lb int) float64 {
	var both, one, n, m float64
	for _, i := range f.at {
		if t.factors[b].at[i] != lb {
			continue
		}
		v := f.get(t.rows[i])
		one, m = one+v, m+1
		if t.factors[a].at[i] == la {
			both, n = both+v, n+1
		}
	}
	if n > 0 {
		return both / n
	}
	return one / m
}

// change puts a difference that starts at a mean on the scale that people read.
func (t *trial) change(f responseFit, d contrast, start float64) Change {
	low, high := d.interval(t.family)
	ch := Change{Name: f.name, Value: d.value, Low: low, High: high, Sure: low > 0 || high < 0}
	switch f.aspect {
	case OfCoverage:
		p := expit(start)
		ch.Value, ch.Low, ch.High = expit(start+d.value)-p, expit(start+low)-p, expit(start+high)-p
	case OfPooling:
		ch.Value, ch.Low, ch.High = math.Exp(d.value), math.Exp(low), math.Exp(high)
	}
	return ch
}

// behindPair returns the swatches at the two ends of the effect at its strongest, and
// faces that show it.
func (t *trial) behindPair(x acting, at int) (swatches, photos []int64) {
	a, b := t.factors[x.a], t.factors[x.b]
	for _, end := range []int{0, x.to} {
		shown := 0
		for _, r := range t.seen {
			la, _ := levelOf(a.Factor, r.Settings)
			lb, _ := levelOf(b.Factor, r.Settings)
			if slices.Index(a.levels, la) != end || slices.Index(b.levels, lb) != at {
				continue
			}
			if !slices.Contains(swatches, r.Swatch) {
				swatches = append(swatches, r.Swatch)
			}
			if shown < 3 && (r.Face == studio.Front || shown == 0) {
				photos = append(photos, r.Photo)
				shown++
			}
		}
	}
	return swatches, photos
}

// where names a setting of a factor as a circumstance: "with 60 g/m² of salt".
func where(f studio.Factor, l studio.Level) string {
	switch {
	case f.Kind == studio.ByWetting || f.Kind == studio.ByBrushing:
		return "when " + l.Label
	case !f.Kind.Numeric():
		return "with " + l.Label
	case strings.IndexAny(l.Label, "0123456789") == 0:
		return fmt.Sprintf("with %s of %s", l.Label, f.Name)
	}
	return fmt.Sprintf("with %s %s", l.Label, f.Name)
}

// pairWords writes what one factor does at each setting of the other.
func (t *trial) pairWords(f responseFit, x acting, p product) string {
	a, b := t.factors[x.a], t.factors[x.b]
	subject := upper(a.Name)
	switch {
	case a.Kind == studio.ByWetting || a.Kind == studio.ByBrushing:
	case a.Kind.Numeric():
		subject = fmt.Sprintf("%s from %s to %s", upper(a.Name), a.label(0), a.label(x.to))
	default:
		subject = fmt.Sprintf("%s rather than %s", upper(a.label(x.to)), a.label(0))
	}
	var with, without, amounts, none []string
	largest, least, ups := x.strongest(), -1, 0
	for j := range b.levels {
		place := where(b.Factor, b.Levels[b.levels[j]])
		ch := t.change(f, x.at[j], t.cell(f, x.a, 0, x.b, j))
		if !x.seen[j] {
			without = append(without, place)
			none = append(none, fmt.Sprintf("%s (%s at most)", place, atMost(f.aspect, ch)))
			continue
		}
		if x.at[j].value > 0 {
			ups++
		}
		if least < 0 || math.Abs(x.at[j].value) < math.Abs(x.at[least].value) {
			least = j
		}
		with, amounts = append(with, place), append(amounts, fmt.Sprintf("%s %s", amount(f.aspect, ch), place))
	}
	quiet := ""
	if len(none) > 0 {
		quiet = "no difference we can see " + strings.Join(none, " or ")
	}
	top := t.change(f, x.at[largest], t.cell(f, x.a, 0, x.b, largest))
	var said string
	switch {
	case len(with) == 0:
		var all []string
		for j := range b.levels {
			ch := t.change(f, x.at[j], t.cell(f, x.a, 0, x.b, j))
			all = append(all, fmt.Sprintf("%s %s", amount(f.aspect, ch), where(b.Factor, b.Levels[b.levels[j]])))
		}
		said = fmt.Sprintf("What %s does depends on %s: %s. That these differ is seen, neither by itself.", a.Name, b.Name, join(all))
	case ups > 0 && ups < len(with):
		said = fmt.Sprintf("%s does the opposite as %s changes: %s.", subject, b.Name, strings.Join(slices.DeleteFunc(append(amounts, quiet), func(s string) bool { return s == "" }), "; "))
	case len(without) > 0 && len(with) == 1:
		said = fmt.Sprintf("%s matters only %s: %s there, %s; %s.", subject, with[0], amount(f.aspect, top), span(f.aspect, top), quiet)
	case len(without) > 0:
		said = fmt.Sprintf("%s matters only %s: %s; %s.", subject, join(with), join(amounts), quiet)
	default:
		said = fmt.Sprintf("%s does more %s: %s there, %s, against %s %s.", subject, where(b.Factor, b.Levels[b.levels[largest]]), amount(f.aspect, top), span(f.aspect, top),
			amount(f.aspect, t.change(f, x.at[least], t.cell(f, x.a, 0, x.b, least))), where(b.Factor, b.Levels[b.levels[least]]))
	}
	if len(p.mates) > 0 {
		said += " Or it is " + t.pairNames(p.mates) + ": this set can't tell which."
	}
	return said
}

// pairNames writes pairs as "salt together with time, or wetting together with gap".
func (t *trial) pairNames(ps []couple) string {
	const most = 3
	var out []string
	for _, p := range ps[:min(most, len(ps))] {
		out = append(out, fmt.Sprintf("%s together with %s", t.factors[p.a].Name, t.factors[p.b].Name))
	}
	if n := len(ps) - most; n > 0 {
		out = append(out, fmt.Sprintf("one of %d other pairs", n))
	}
	return strings.Join(out, ", or ")
}

// amount writes a change that was read: "b* 11 lower".
func amount(aspect Aspect, ch Change) string {
	switch aspect {
	case OfCoverage:
		return fmt.Sprintf("%s points of a hundred %s covered", whole(100*math.Abs(ch.Value)), moreLess(ch.Value))
	case OfTexture:
		return fmt.Sprintf("neighbouring places differ by %s %s", one(math.Abs(ch.Value)), moreLess(ch.Value))
	case OfPooling:
		return fmt.Sprintf("%s times as much at the edge", one(ch.Value))
	}
	return fmt.Sprintf("%s %s %s", ch.Name, whole(math.Abs(ch.Value)), higher(ch.Value))
}

func span(aspect Aspect, ch Change) string {
	low, high := min(math.Abs(ch.Low), math.Abs(ch.High)), max(math.Abs(ch.Low), math.Abs(ch.High))
	switch aspect {
	case OfCoverage:
		return fmt.Sprintf("between %s and %s", whole(100*low), whole(100*high))
	case OfTexture, OfPooling:
		return fmt.Sprintf("between %s and %s", one(low), one(high))
	}
	return fmt.Sprintf("between %s and %s", whole(low), whole(high))
}

func atMost(aspect Aspect, ch Change) string {
	most := max(math.Abs(ch.Low), math.Abs(ch.High))
	switch aspect {
	case OfCoverage:
		return whole(100*most) + " points"
	case OfPooling:
		return fmt.Sprintf("%s times", one(max(ch.High, 1/ch.Low)))
	}
	return whole(most)
}
