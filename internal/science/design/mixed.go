package design

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/science/stat"
)

// Mixed is an effect that these runs can't tell, or can hardly tell, from
// others. Share is the largest correlation the two can have, 1 when they can't be
// told apart at all; With holds the others in falling order of it.
type Mixed struct {
	Effect string
	With   []string
	Share  float64
	Words  string
}

// PartlyFrom is the correlation from which on two effects count as partly mixed
// up: at 0.3 one effect's interval is widened by five hundredths, and a tenth of
// the other's size leaks into it (common practice, no source).
const PartlyFrom = 0.3

// whollyFrom leaves room for rounding.
const whollyFrom = 1 - 1e-9

// effect is a term's columns in a plan, less their mean, made orthonormal.
type effect struct {
	words   string
	basis   [][]float64
	lost    bool // its columns are less than the term has: some can't be told at all
	inModel bool
	group   bool
}

// Confounded says which effects the plan mixes up: those of the model and of all
// single factors, with each other, with all interactions of two, with squares,
// and with the blocks. Whole confounding comes first.
func (p Plan) Confounded() ([]Mixed, error) {
	effects, err := p.effects()
	if err != nil {
		return nil, err
	}
	var whole, part []Mixed
	told := map[string]bool{}
	for i, a := range effects {
		if !a.inModel || a.group {
			continue
		}
		type other struct {
			words   string
			share   float64
			inModel bool
		}
		var others []other
		for j, b := range effects {
			// A pair inside the model is told once.
			if i == j || j < i && b.inModel && !b.group {
				continue
			}
			if r := correlation(a.basis, b.basis); r >= PartlyFrom {
				others = append(others, other{b.words, r, b.inModel})
			}
		}
		slices.SortStableFunc(others, func(x, y other) int {
			return int(math.Round(1e6*y.share) - math.Round(1e6*x.share))
		})
		for _, of := range []bool{true, false} {
			m := Mixed{Effect: a.words}
			for _, o := range others {
				if (o.share >= whollyFrom) == of {
					if of && o.inModel {
						told[a.words], told[o.words] = true, true
					}
					m.With = append(m.With, o.words)
					m.Share = max(m.Share, min(o.share, 1))
				}
			}
			if m.With == nil {
				continue
			}
			if of {
				m.Words = fmt.Sprintf("can't tell %s from %s", m.Effect, strings.Join(m.With, ", nor from "))
				whole = append(whole, m)
				continue
			}
			m.Words = fmt.Sprintf("%s is partly mixed up (up to %.2f) with %s", m.Effect, m.Share, strings.Join(m.With[:min(4, len(m.With))], ", "))
			if more := len(m.With) - 4; more > 0 {
				m.Words += fmt.Sprintf(" and %d more", more)
			}
			part = append(part, m)
		}
	}
	for i, a := range effects {
		if told[a.words] || a.group || !a.inModel {
			continue
		}
		if a.lost {
			whole = append(whole, Mixed{a.words, nil, 1, fmt.Sprintf("can't tell all of %s: some of its settings never stand apart in these runs", a.words)})
			continue
		}
		var rest [][]float64
		for j, b := range effects {
			if j != i && b.inModel {
				rest = append(rest, b.basis...)
			}
		}
		if correlation(a.basis, orthonormal(rest)) >= whollyFrom {
			whole = append(whole, Mixed{a.words, nil, 1, fmt.Sprintf("can't tell %s from the other effects together", a.words)})
		}
	}
	return append(whole, part...), nil
}

// effects lists the model's, all single factors', interactions of two, squares
// and blocks.
func (p Plan) effects() ([]effect, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	model, err := newShape(p.Factors, p.Model)
	if err != nil {
		return nil, err
	}
	inModel := map[string]bool{}
	key := func(idx []int) string { return fmt.Sprint(idx) }
	for _, idx := range model.terms {
		inModel[key(idx)] = true
	}
	terms := slices.Clone(p.Model)
	for _, t := range Quadratic(p.Factors) {
		s, err := newShape(p.Factors, []stat.Term{t})
		if err != nil {
			return nil, err
		}
		if !inModel[key(s.terms[0])] {
			terms = append(terms, t)
		}
	}
	all, err := newShape(p.Factors, terms)
	if err != nil {
		return nil, err
	}
	var out []effect
	for i, idx := range all.terms {
		cols := columnsOf(p.Runs, func(run []float64) []float64 { return all.term(nil, idx, run) })
		b := orthonormal(cols)
		if len(b) == 0 && !inModel[key(idx)] {
			continue
		}
		// Single factors count as asked for: whoever varies one wants to know.
		out = append(out, effect{Words(terms[i]), b, len(b) < len(cols), inModel[key(idx)] || len(idx) == 1, false})
	}
	for _, g := range p.Groups {
		if g.Ratio > 0 || g.count() < 2 {
			continue
		}
		f := Factor{Levels: make([]string, g.count())}
		at := 0
		cols := columnsOf(p.Runs, func([]float64) []float64 { at++; return f.columns(nil, float64(g.Of[at-1])) })
		out = append(out, effect{g.Name, orthonormal(cols), false, true, true})
	}
	return out, nil
}

// columnsOf turns rows into columns less their mean.
func columnsOf(runs [][]float64, row func([]float64) []float64) [][]float64 {
	var cols [][]float64
	for _, run := range runs {
		r := row(run)
		if cols == nil {
			cols = make([][]float64, len(r))
		}
		for j, v := range r {
			cols[j] = append(cols[j], v)
		}
	}
	for _, c := range cols {
		m := 0.0
		for _, v := range c {
			m += v / float64(len(c))
		}
		for i := range c {
			c[i] -= m
		}
	}
	return cols
}

// orthonormal is a basis of what the columns span (modified Gram-Schmidt, twice).
func orthonormal(cols [][]float64) [][]float64 {
	var out [][]float64
	for _, c := range cols {
		v := slices.Clone(c)
		for range 2 {
			for _, q := range out {
				s := dot(q, v)
				for i := range v {
					v[i] -= s * q[i]
				}
			}
		}
		size, was := math.Sqrt(dot(v, v)), math.Sqrt(dot(c, c))
		if size <= 1e-9*math.Max(was, 1) {
			continue
		}
		for i := range v {
			v[i] /= size
		}
		out = append(out, v)
	}
	return out
}

// correlation is the largest canonical correlation of two orthonormal bases.
func correlation(a, b [][]float64) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 0
	}
	m := mat.NewDense(len(a), len(b), nil)
	for i, u := range a {
		for j, v := range b {
			m.Set(i, j, dot(u, v))
		}
	}
	if len(a) == 1 || len(b) == 1 {
		return mat.Norm(m, 2)
	}
	var svd mat.SVD
	if !svd.Factorize(m, mat.SVDNone) {
		return 0
	}
	return svd.Values(nil)[0]
}
