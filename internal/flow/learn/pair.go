package learn

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
)

// couple is two factors of which the effect of one may depend on the other, by their
// places among the trial's factors.
type couple struct{ a, b int }

// product is a pair that the set can tell, or several that change together as one.
type product struct {
	couple
	mates []couple // pairs that can't be told from it
}

// pairFit is how one product came out for one response.
type pairFit struct {
	product int
	p       float64
	size    float64 // in standard errors
	shown   bool
	effect  contrast // without repeats only
}

// leastLeft is how many swatches must be left to judge chance by, besides what is asked.
const leastLeft = 3

// columnsOf returns factor k as columns of numbers for the rows at, each less its mean or
// less what it is at one level (pin 0 or more).
func (t *trial) columnsOf(k int, at []int, pin int) [][]float64 {
	f := t.factors[k]
	var out [][]float64
	add := func(value func(level int) float64) {
		c, mean := make([]float64, len(at)), 0.0
		for j, i := range at {
			c[j] = value(f.at[i])
			mean += c[j] / float64(len(at))
		}
		if pin >= 0 {
			mean = value(pin)
		}
		for j := range c {
			c[j] -= mean
		}
		out = append(out, c)
	}
	if t.line && f.Kind.Numeric() {
		scale := f.x(len(f.levels)-1) - f.x(0)
		add(func(l int) float64 { return (f.x(l) - f.x(0)) / scale })
		return out
	}
	for l := 1; l < len(f.levels); l++ {
		add(func(level int) float64 {
			if level == l {
				return 1
			}
			return 0
		})
	}
	return out
}

// withPairs adds products to a model. They are centred, so that the effect of a factor
// stays its mean over the other's settings; with a factor pinned to a level, it is that
// at the level.
func (t *trial) withPairs(m *stat.Model, at []int, products []int, factor, pin int) {
	for _, n := range products {
		p := t.pairs[n]
		of := func(k int) [][]float64 {
			if k == factor {
				return t.columnsOf(k, at, pin)
			}
			return t.columnsOf(k, at, -1)
		}
		for i, x := range of(p.a) {
			for j, y := range of(p.b) {
				c := stat.Column{Name: productName(n, i, j)}
				for r := range x {
					c.Numbers = append(c.Numbers, x[r]*y[r])
				}
				m.Columns, m.Terms = append(m.Columns, c), append(m.Terms, stat.Term{c.Name})
			}
		}
	}
}

func productName(n, i, j int) string { return fmt.Sprintf("p%d.%d.%d", n, i, j) }

// pairUp finds which products the set can tell. Those that always change together are
// named together; those that change with a factor are kept as its blur; those tangled
// with several are left alone, and the factors they blur are marked.
func (t *trial) pairUp() {
	t.blur, t.muddled = map[int][]couple{}, map[int]bool{}
	var all []int
	for a := range t.factors {
		for b := a + 1; b < len(t.factors); b++ {
			if t.factors[a].apart && t.factors[b].apart {
				all = append(all, len(t.pairs))
				t.pairs = append(t.pairs, product{couple: couple{a, b}})
			}
		}
	}
	if len(all) == 0 || len(t.rows) < 4 {
		t.pairs = nil
		return
	}
	at := make([]int, len(t.rows))
	for i := range at {
		at[i] = i
	}
	m := t.model(responses[0], at, -1, 0)
	t.withPairs(&m, at, all, -1, 0)
	fit, err := stat.FitLinear(m)
	if err != nil {
		t.pairs = nil
		return
	}
	productOf := func(column string) int {
		var n, i, j int
		if _, err := fmt.Sscanf(column, "p%d.%d.%d", &n, &i, &j); err != nil {
			return -1
		}
		return n
	}
	out, into := map[int]bool{}, map[int]int{} // not to be told; told as part of another
	for _, x := range fit.Aliases {
		n := productOf(x.Name)
		if n < 0 {
			continue // two factors changed together: that is warned of elsewhere
		}
		out[n] = true
		var of []string
		for _, w := range x.Of {
			if w.Name != "intercept" && math.Abs(w.Weight) > 1e-6 {
				of = append(of, w.Name)
			}
		}
		single := len(of) == 1 && len(t.factors[t.pairs[n].a].levels) == 2 && len(t.factors[t.pairs[n].b].levels) == 2
		for _, name := range of {
			other, k := productOf(name), t.factorPlace(name)
			switch {
			case single && other >= 0:
				into[n] = other
			case single && k >= 0:
				t.blur[k] = append(t.blur[k], t.pairs[n].couple)
			case other >= 0:
				out[other] = true
			case k >= 0 && k != t.pairs[n].a && k != t.pairs[n].b:
				t.muddled[k] = true
			}
		}
	}
	kept := make([]product, 0, len(t.pairs))
	for n, p := range t.pairs {
		if out[n] {
			continue
		}
		for mate := range t.pairs {
			if o, ok := into[mate]; ok && o == n {
				p.mates = append(p.mates, t.pairs[mate].couple)
			}
		}
		kept = append(kept, p)
	}
	t.pairs = kept
}

// factorPlace is the place of the factor that a column of the model is of, or -1.
func (t *trial) factorPlace(column string) int {
	return slices.IndexFunc(t.everyFactor(), func(c string) bool { return column == c || strings.HasPrefix(column, c+"=") })
}

func (t *trial) everyFactor() (columns []string) {
	for k := range t.factors {
		columns = append(columns, fmt.Sprintf("f%d", k))
	}
	return columns
}

func (t *trial) everyPair() []int {
	out := make([]int, len(t.pairs))
	for i := range out {
		out[i] = i
	}
	return out
}

// solved is a model with the shifts of blocks in it, if there are any.
type solved struct {
	coefficients []stat.Coefficient
	aliases      []stat.Alias
	joint        func(names []string) (f, p float64, err error)
}

func (t *trial) solve(m stat.Model, at []int) (solved, bool) {
	if random := t.randoms(at); len(random) > 0 {
		fit, err := fitMixed(m, random)
		if err != nil {
			return solved{}, false
		}
		return solved{fit.Coefficients, fit.Aliases, func(names []string) (float64, float64, error) {
			test, err := fit.Joint(names)
			return test.F, test.P, err
		}}, true
	}
	fit, err := stat.FitLinear(m)
	if err != nil {
		return solved{}, false
	}
	return solved{fit.Coefficients, fit.Aliases, func(names []string) (float64, float64, error) {
		test, err := fit.Joint(names)
		return test.F, test.P, err
	}}, true
}

// fitPairs tests every product of one response, all of them in the model at once.
func (t *trial) fitPairs(f *responseFit) {
	f.pairs = nil
	if len(t.pairs) == 0 {
		return
	}
	m := t.model(f.response, f.at, -1, 0)
	before := len(m.Columns)
	t.withPairs(&m, f.at, t.everyPair(), -1, 0)
	got, ok := t.solve(m, f.at)
	swatches := map[int64]bool{}
	for _, i := range f.at {
		swatches[t.rows[i].Swatch] = true
	}
	if !ok || len(swatches)-len(got.coefficients) < leastLeft || slices.ContainsFunc(got.aliases, func(a stat.Alias) bool { return a.Name[0] == 'p' }) {
		return
	}
	for n := range t.pairs {
		var names []string
		for _, c := range m.Columns[before:] {
			var k, i, j int
			if _, err := fmt.Sscanf(c.Name, "p%d.%d.%d", &k, &i, &j); err == nil && k == n {
				names = append(names, c.Name)
			}
		}
		x := pairFit{product: n, p: 1}
		if size, p, err := got.joint(names); err == nil && p >= 0 {
			x.p, x.size = p, math.Sqrt(size)
		}
		f.pairs = append(f.pairs, x)
	}
}

// shownPairs are the products of a response that were seen.
func (f responseFit) shownPairs() (out []int) {
	for _, p := range f.pairs {
		if p.shown {
			out = append(out, p.product)
		}
	}
	return out
}

// simple returns the effect of factor a's levels against its first, by level, with
// factor b at one of its levels. n is their product.
func (t *trial) simple(f responseFit, n, a, b, level int) map[int]contrast {
	out := map[int]contrast{}
	if f.alone != nil {
		main := f.contrasts[pairKey{a, 0, 1}]
		both := f.pair(n).effect.value
		if level == 0 {
			both = -both
		}
		// the two are at right angles, so their errors add as squares
		out[1] = contrast{value: main.value + both, se: math.Sqrt2 * main.se, df: main.df, alone: f.alone}
		return out
	}
	m := t.model(f.response, f.at, -1, 0)
	products := f.shownPairs()
	if !slices.Contains(products, n) {
		products = append(products, n)
	}
	t.withPairs(&m, f.at, products, b, level)
	got, ok := t.solve(m, f.at)
	if !ok {
		return out
	}
	fac := t.factors[a]
	last := len(fac.levels) - 1
	for _, c := range got.coefficients {
		if math.IsNaN(c.SE) || c.SE <= 0 || !(c.DF > 0) {
			continue
		}
		if c.Name == fmt.Sprintf("f%d", a) {
			d := fac.x(last) - fac.x(0)
			out[last] = contrast{value: c.Estimate * d, se: c.SE * d, df: c.DF, p: c.P}
		}
		for l := 1; l <= last; l++ {
			if c.Name == fmt.Sprintf("f%d=%s", a, levelName(l)) {
				out[l] = contrast{value: c.Estimate, se: c.SE, df: c.DF, p: c.P}
			}
		}
	}
	return out
}

func (f responseFit) pair(n int) pairFit {
	for _, p := range f.pairs {
		if p.product == n {
			return p
		}
	}
	return pairFit{product: n, p: 1}
}
