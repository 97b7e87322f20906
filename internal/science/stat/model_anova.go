package stat

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// AnovaRow is one line of an analysis of variance.
type AnovaRow struct {
	Term string // "residuals" is the last, and has no F
	DF   int
	SS   float64 // sum of squares
	MS   float64 // SS over DF
	F, P float64 // NaN where there is nothing to compare with
}

// Anova returns the analysis of variance by sums of squares of type 1 (in the order
// of the terms), 2 (each term after all that do not contain it) or 3 (each term after
// all others, categorical factors against the mean of their levels). Source: Searle
// 1971; it meets R 4.2.2 on unbalanced two-way data to 9 digits (model_test.go).
func (f *LinearFit) Anova(kind int) ([]AnovaRow, error) {
	var ss []float64
	var df []int
	switch kind {
	case 1:
		ss, df = f.sequential()
	case 2:
		ss, df = f.secondKind()
	case 3:
		var err error
		if ss, df, err = f.thirdKind(); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("%w: sums of squares are of type 1, 2 or 3, not %d", ErrModel, kind)
	}
	var out []AnovaRow
	for k, t := range f.design.terms {
		out = append(out, f.anovaRow(t.String(), df[k], ss[k]))
	}
	last := AnovaRow{Term: "residuals", DF: f.DF, SS: f.RSS, MS: math.NaN(), F: math.NaN(), P: math.NaN()}
	if f.DF > 0 {
		last.MS = f.RSS / float64(f.DF)
	}
	return append(out, last), nil
}

func (f *LinearFit) anovaRow(term string, df int, ss float64) AnovaRow {
	r := AnovaRow{Term: term, DF: df, SS: ss, MS: math.NaN(), F: math.NaN(), P: math.NaN()}
	if df > 0 {
		r.MS = ss / float64(df)
	}
	if df > 0 && f.DF > 0 {
		r.F = r.MS / (f.RSS / float64(f.DF))
		r.P = upperF(r.F, float64(df), float64(f.DF))
	}
	return r
}

func (f *LinearFit) sequential() (ss []float64, df []int) {
	ss, df = make([]float64, len(f.design.terms)), make([]int, len(f.design.terms))
	sums := make([]exact, len(ss))
	for k, j := range f.qr.kept {
		if t := f.design.places[j].term; t >= 0 {
			e := f.qr.effects[0][k]
			sums[t] = sums[t].add(e.mul(e))
			df[t]++
		}
	}
	for t, s := range sums {
		ss[t] = s.float()
	}
	return ss, df
}

// triangle returns the columns of the triangle that use picks, and the effects that
// belong to it: a small least squares problem with the sums of squares of the whole.
func (f *LinearFit) triangle(use func(term int) bool) (columns [][]exact, n int) {
	n = len(f.qr.kept)
	take := func(j int, r []exact) {
		if use(f.design.places[j].term) {
			c := make([]exact, n)
			copy(c, r)
			columns = append(columns, c)
		}
	}
	for k, j := range f.qr.kept {
		take(j, f.qr.r[k])
	}
	for i, j := range f.qr.dropped {
		take(j, f.qr.rest[i])
	}
	return columns, n
}

// explained returns the rank and the sum of squares that the picked terms explain.
func (f *LinearFit) explained(use func(term int) bool) (rank int, ss exact) {
	columns, n := f.triangle(use)
	q := factorise(columns, [][]exact{append([]exact(nil), f.qr.effects[0][:n]...)}, n)
	return len(q.kept), squares(q.effects[0][:len(q.kept)])
}

func (f *LinearFit) secondKind() (ss []float64, df []int) {
	for k, t := range f.design.terms {
		without := func(term int) bool {
			return term < 0 || term != k && !t.within(f.design.terms[term])
		}
		r0, s0 := f.explained(without)
		r1, s1 := f.explained(func(term int) bool { return term == k || without(term) })
		ss, df = append(ss, max(0, s1.sub(s0).float())), append(df, r1-r0)
	}
	return ss, df
}

func (f *LinearFit) thirdKind() (ss []float64, df []int, err error) {
	g := f
	if f.design.coding != SumToZero {
		m := f.model
		m.Coding = SumToZero
		if g, err = FitLinear(m); err != nil {
			return nil, nil, err
		}
	}
	rAll, sAll := len(g.qr.kept), squares(g.qr.effects[0][:len(g.qr.kept)])
	for k := range g.design.terms {
		r, s := g.explained(func(term int) bool { return term != k })
		ss, df = append(ss, max(0, sAll.sub(s).float())), append(df, rAll-r)
	}
	return ss, df, nil
}

// LackOfFit splits the residual sum of squares into pure error, from rows alike in
// every factor of the model, and what the model's shape misses.
type LackOfFit struct {
	LackDF, PureDF int
	LackSS, PureSS float64
	F, P           float64 // NaN without pure error or without lack to test
}

// LackOfFit compares the model with the mean of each group of alike rows. Source:
// NIST/SEMATECH e-Handbook, 4.4.4.6.
func (f *LinearFit) LackOfFit() LackOfFit {
	groups := map[string][]float64{}
	var order []string
	for i, y := range f.model.Response {
		k := f.setting(i)
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], y)
	}
	l := LackOfFit{F: math.NaN(), P: math.NaN()}
	for _, k := range order {
		_, s := meanAndSquares(groups[k])
		l.PureSS += s
		l.PureDF += len(groups[k]) - 1
	}
	l.LackDF, l.LackSS = f.DF-l.PureDF, max(0, f.RSS-l.PureSS)
	if l.LackDF > 0 && l.PureDF > 0 && l.PureSS > 0 {
		l.F = l.LackSS / float64(l.LackDF) / (l.PureSS / float64(l.PureDF))
		l.P = upperF(l.F, float64(l.LackDF), float64(l.PureDF))
	}
	return l
}

// setting is a word for what row i holds in the factors of the terms.
func (f *LinearFit) setting(i int) string {
	used := map[string]bool{}
	var b strings.Builder
	for _, t := range f.design.terms {
		for _, name := range t {
			if used[name] {
				continue
			}
			used[name] = true
			c := f.design.columns[f.design.at[name]]
			if c.Numbers != nil {
				b.WriteString(strconv.FormatFloat(c.Numbers[i], 'g', -1, 64))
			} else {
				b.WriteString(strconv.Quote(c.Labels[i]))
			}
			b.WriteByte(0)
		}
	}
	return b.String()
}

// Joint is the F test that the named coefficients are all nothing, after all others;
// Term is empty and SS is that of the coefficients together.
func (f *LinearFit) Joint(names []string) (AnovaRow, error) {
	out := AnovaRow{F: math.NaN(), P: math.NaN()}
	of, err := f.placesOf(names)
	if err != nil {
		return out, err
	}
	q := len(of)
	spread, b := mat.NewDense(q, q, nil), mat.NewVecDense(q, nil)
	for i, k := range of {
		b.SetVec(i, f.b[k].float())
		for j, l := range of {
			s := exact{}
			for c := max(k, l); c < len(f.inverse); c++ {
				s = s.add(f.inverse[c][k].mul(f.inverse[c][l]))
			}
			spread.Set(i, j, s.float())
		}
	}
	var solved mat.VecDense
	if solved.SolveVec(spread, b) != nil {
		return out, fmt.Errorf("%w: the coefficients can't be told apart", ErrNoFit)
	}
	out.DF, out.SS = q, mat.Dot(b, &solved)
	out.MS = out.SS / float64(q)
	if f.DF > 0 {
		out.F = out.MS / (f.Sigma * f.Sigma)
		out.P = upperF(out.F, float64(q), float64(f.DF))
	}
	return out, nil
}

// placesOf returns where the named coefficients stand.
func (f *LinearFit) placesOf(names []string) ([]int, error) {
	var of []int
	for _, name := range names {
		k := slices.IndexFunc(f.Coefficients, func(c Coefficient) bool { return c.Name == name })
		if k < 0 {
			return nil, fmt.Errorf("%w: it has no coefficient %q", ErrModel, name)
		}
		of = append(of, k)
	}
	if len(of) == 0 {
		return nil, fmt.Errorf("%w: no coefficient is named", ErrModel)
	}
	return of, nil
}
