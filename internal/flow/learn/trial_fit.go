package learn

import (
	"errors"
	"fmt"
	"math"

	"aerugo/internal/science/stat"

	"gonum.org/v1/gonum/stat/distuv"
)

// responseFit is the model of one response.
type responseFit struct {
	response
	at        []int // rows that have it
	linear    *stat.LinearFit
	mixed     *stat.MixedFit
	contrasts map[pairKey]contrast
	base      []float64 // mean of the response with each factor at its first measured level
	pairs     []pairFit
	alone     *alone // set when the factors are judged by their smaller effects
}

type pairKey struct{ factor, from, to int }

// contrast is one difference, on the response's own scale.
type contrast struct {
	value, se, df, p float64
	alone            *alone // judged by the smaller effects
}

// interval returns the two-sided interval when family of them are read at once.
func (c contrast) interval(family int) (low, high float64) {
	if c.alone != nil {
		q := c.alone.quantile(family)
		return c.value - q*c.se, c.value + q*c.se
	}
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

// fit fits every response that enough rows have, first without the pairs that depend on
// each other, then with those that were seen.
func (t *trial) fit() {
	t.pairUp()
	for _, r := range responses {
		var at []int
		for i, row := range t.rows {
			if v := r.get(row); !math.IsNaN(v) && !math.IsInf(v, 0) {
				at = append(at, i)
			}
		}
		f, ok := t.fitOne(r, at, nil)
		if ok {
			t.fitPairs(&f)
		}
		if f.linear != nil {
			t.judgeAlone(&f, ok && f.linear.DF >= leastLeft)
		}
		if f.alone != nil {
			f.setBase(t)
		}
		if ok || f.alone != nil {
			t.fits = append(t.fits, f)
			t.family += len(f.contrasts) + len(f.pairs)
		}
	}
	t.family = max(t.family, 1)
	each := 1 - math.Pow(ExplainConfidence, 1/float64(t.family))
	for i := range t.fits {
		f := &t.fits[i]
		for k := range f.pairs {
			p := &f.pairs[k]
			p.shown = p.p < each
			if p.effect.alone != nil {
				low, high := p.effect.interval(t.family)
				p.shown = low > 0 || high < 0
			}
		}
		if shown := f.shownPairs(); len(shown) > 0 && f.alone == nil {
			if g, ok := t.fitOne(f.response, f.at, shown); ok && len(g.contrasts) == len(f.contrasts) {
				g.pairs = f.pairs
				*f = g
			}
		}
	}
}

// fitOne fits one response, with the given products; false when nothing is left to judge
// chance by.
func (t *trial) fitOne(r response, at []int, products []int) (responseFit, bool) {
	f := responseFit{response: r, at: at, contrasts: map[pairKey]contrast{}}
	if len(at) < 3 {
		return f, false
	}
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
			t.withPairs(&m, at, products, -1, 0)
			linear, err := stat.FitLinear(m)
			if err != nil {
				return f, false
			}
			if f.linear == nil {
				f.linear = linear
			}
			if linear.DF < 1 || linear.RSS <= 1e-20*float64(len(at)) {
				return f, false
			}
			var mixed *stat.MixedFit
			if random := t.randoms(at); len(random) > 0 {
				if mixed, err = fitMixed(m, random); err != nil && !errors.Is(err, stat.ErrModel) {
					return f, false
				}
			}
			if f.mixed == nil {
				f.mixed = mixed
			}
			f.read(t, k, first, responseFit{linear: linear, mixed: mixed}.coefficients())
		}
	}
	f.setBase(t)
	return f, len(f.contrasts) > 0
}

// fitMixed fits a mixed model whose errors allow for the shifts being estimates, without
// which small sets with gaps name too much.
func fitMixed(m stat.Model, random []stat.Random) (*stat.MixedFit, error) {
	fit, err := stat.FitMixed(m, random)
	if err != nil {
		return nil, err
	}
	if by, err := fit.ByKenwardRoger(); err == nil {
		return by, nil
	}
	return fit, nil
}

// setBase fills in the means with each factor at its first level.
func (f *responseFit) setBase(t *trial) {
	var sum float64
	for _, i := range f.at {
		sum += f.get(t.rows[i])
	}
	mean := sum / float64(len(f.at))
	f.base = nil
	for k, fac := range t.factors {
		b := mean
		for _, i := range f.at {
			if c, ok := f.contrasts[pairKey{k, 0, fac.at[i]}]; ok && fac.at[i] > 0 {
				b -= c.value / float64(len(f.at))
			} else if !ok && fac.at[i] > 0 {
				b -= f.step(t, k, fac.at[i]) / float64(len(f.at))
			}
		}
		f.base = append(f.base, b)
	}
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
			f.contrasts[pairKey{k, 0, last}] = contrast{value: c.Estimate * d, se: c.SE * d, df: c.DF, p: c.P}
		}
		for l := first + 1; l <= last; l++ {
			if fac.Kind.Numeric() && l < last || c.Name != fmt.Sprintf("f%d=%s", k, levelName(l)) {
				continue
			}
			f.contrasts[pairKey{k, first, l}] = contrast{value: c.Estimate, se: c.SE, df: c.DF, p: c.P}
		}
	}
}
