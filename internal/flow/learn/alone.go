package learn

import (
	"math"

	"aerugo/internal/science/stat"
)

// alone is the yardstick of a response of which nothing was made twice: the smaller
// effects stand for chance.
type alone struct {
	effects int     // of which the yardstick is made
	judged  int     // of them said something of
	pse     float64 // pseudo standard error of one
}

// quantile returns how many pseudo standard errors all effects of the response stay
// below, when family differences of all responses are read at once.
func (a alone) quantile(family int) float64 {
	q, err := stat.LenthQuantile(a.effects, min(0.998, math.Pow(ExplainConfidence, float64(a.judged)/float64(family))))
	if err != nil {
		return math.Inf(1)
	}
	return q
}

// fewestAlone is from how many effects on the smaller ones tell what chance does; with
// fewer the margin is so wide that nothing is ever seen.
const fewestAlone = 6

// signs returns the factors and products of a set of two levels each as columns of -1
// and +1 that are at right angles to each other and to the shifts of blocks: first every
// factor, then the products kept, by number. False where the set is no such set, or some
// swatches were made alike.
func (t *trial) signs() (factors [][]float64, products map[int][]float64, ok bool) {
	if t.faces || len(t.factors) < 2 {
		return nil, nil, false
	}
	n := len(t.rows)
	seen := map[string]bool{}
	for i := range n {
		key := ""
		for _, f := range t.factors {
			key += levelName(f.at[i])
		}
		if seen[key] {
			return nil, nil, false
		}
		seen[key] = true
	}
	var all [][]float64
	fits := func(c []float64) bool {
		sum := 0.0
		for _, v := range c {
			sum += v
		}
		if sum != 0 {
			return false
		}
		for _, o := range all {
			dot := 0.0
			for i := range c {
				dot += c[i] * o[i]
			}
			if dot != 0 {
				return false
			}
		}
		for _, part := range t.random {
			in := map[string]float64{}
			for i, v := range c {
				in[blockOf(t.rows[i], part)] += v
			}
			for _, v := range in {
				if v != 0 {
					return false
				}
			}
		}
		return true
	}
	for _, f := range t.factors {
		if len(f.levels) != 2 {
			return nil, nil, false
		}
		c := make([]float64, n)
		for i := range c {
			c[i] = float64(2*f.at[i] - 1)
		}
		if !f.apart || !fits(c) {
			return nil, nil, false
		}
		factors, all = append(factors, c), append(all, c)
	}
	products = map[int][]float64{}
	for k, p := range t.pairs {
		c := make([]float64, n)
		for i := range c {
			c[i] = factors[p.a][i] * factors[p.b][i]
		}
		if fits(c) {
			products[k], all = c, append(all, c)
		}
	}
	return factors, products, len(all) >= fewestAlone
}

// judgeAlone judges a response by its smaller effects: its products where too few
// swatches are left for anything else, and its factors too where the set is a fraction.
// Source: Lenth 1989; Ye and Hamada 2000.
func (t *trial) judgeAlone(f *responseFit, plain bool) {
	if len(f.at) != len(t.rows) || len(f.pairs) > 0 {
		return
	}
	factors, products, ok := t.signs()
	if !ok {
		return
	}
	fraction := len(products) > 0 && len(t.rows) < 1<<len(factors)
	own := !plain || fraction
	effect := func(c []float64) float64 {
		sum := 0.0
		for j, i := range f.at {
			sum += c[j] * f.get(t.rows[i])
		}
		return 2 * sum / float64(len(c))
	}
	var all []float64
	for _, c := range factors {
		all = append(all, effect(c))
	}
	for k := range t.pairs {
		if c, ok := products[k]; ok {
			all = append(all, effect(c))
		}
	}
	l, err := stat.LenthMargins(all, ExplainConfidence)
	if err != nil || !(l.PSE > 0) {
		return
	}
	a := &alone{effects: len(all), judged: len(products), pse: l.PSE}
	if own {
		a.judged = len(all)
	}
	for k := range t.pairs {
		c, ok := products[k]
		if !ok {
			continue
		}
		e := effect(c)
		f.pairs = append(f.pairs, pairFit{product: k, p: 1, size: math.Abs(e) / l.PSE, effect: contrast{value: e, se: l.PSE, df: l.DF, alone: a}})
	}
	if own {
		f.contrasts = map[pairKey]contrast{}
		f.alone = a
		for k := range factors {
			f.contrasts[pairKey{k, 0, 1}] = contrast{value: all[k], se: l.PSE, df: l.DF, alone: a}
		}
	}
}
