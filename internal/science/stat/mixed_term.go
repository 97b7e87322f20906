package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// MixedTest is the F test of one term of a mixed model.
type MixedTest struct {
	Term     string
	F        float64
	DF       int     // of the term
	Residual float64 // degrees of freedom of the denominator, by Satterthwaite
	P        float64
}

// Tests returns the F test of each term after all others, with categorical factors
// taken against the mean of their levels (type 3) when the model's Coding is SumToZero,
// otherwise against their first levels. Source: Fai and Cornelius 1996.
func (f *MixedFit) Tests() []MixedTest {
	var out []MixedTest
	for t, term := range f.fixed.design.terms {
		var of []int
		for k, j := range f.fixed.qr.kept {
			if f.fixed.design.places[j].term == t {
				of = append(of, k)
			}
		}
		if m, ok := f.test(of); ok {
			m.Term = term.String()
			out = append(out, m)
		}
	}
	return out
}

// Joint is the F test that the named coefficients are all nothing.
func (f *MixedFit) Joint(names []string) (MixedTest, error) {
	of, err := f.fixed.placesOf(names)
	if err != nil {
		return MixedTest{}, err
	}
	if f.roger != nil {
		return f.rogerTest(of, *f.roger)
	}
	m, ok := f.test(of)
	if !ok {
		return m, fmt.Errorf("%w: the coefficients can't be told apart", ErrNoFit)
	}
	return m, nil
}

func (f *MixedFit) test(of []int) (MixedTest, bool) {
	q := len(of)
	if q == 0 {
		return MixedTest{}, false
	}
	block := mat.NewSymDense(q, nil)
	for a, i := range of {
		for b, j := range of {
			if b >= a {
				block.SetSym(a, b, (f.c.At(i, j)+f.c.At(j, i))/2)
			}
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(block, true) {
		return MixedTest{}, false
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	sum, e := 0.0, 0.0
	lone := math.NaN()
	for a := range q {
		l := make([]float64, len(f.Coefficients))
		b := 0.0
		for i, k := range of {
			l[k] = vectors.At(i, a)
			b += l[k] * f.Coefficients[k].Estimate
		}
		v, df := f.satterthwaite(l)
		sum += b * b / v
		lone = df
		if df > 2 {
			e += df / (df - 2)
		}
	}
	m := MixedTest{F: sum / float64(q), DF: q, Residual: lone}
	if q > 1 {
		m.Residual = math.NaN()
		if e > float64(q) {
			m.Residual = 2 * e / (e - float64(q))
		}
	}
	m.P = upperF(m.F, float64(q), m.Residual)
	return m, true
}

// NeedsRandom tests whether the random parts together improve on the plain linear
// model: the probability of so large a rise of the likelihood by chance, halved for
// each part because a variance cannot be below 0 (Self and Liang 1987, as an upper
// bound for several).
func (f *MixedFit) NeedsRandom(y []float64) float64 {
	v := make([]float64, len(f.v))
	v[len(v)-1] = f.fixed.Sigma * f.fixed.Sigma
	s, ok := f.rows.at(v, y, false)
	if !ok {
		return math.NaN()
	}
	parts := float64(len(f.v) - 1)
	return distuv.ChiSquared{K: parts}.Survival(max(0, s.minus2-f.Criterion)) / 2
}

// corrected is Kenward and Roger's covariance of the coefficients, with the derivatives of
// its inverse by each variance.
type corrected struct {
	by  []*mat.Dense
	cov *mat.Dense
}

func (f *MixedFit) correct() corrected {
	m, p := len(f.free), len(f.Coefficients)
	// each V_k turned by V^-1: vk = V_k V^-1 X, P_k = -X'V^-1 V_k V^-1 X
	vk, pk := make([]*mat.Dense, m), make([]*mat.Dense, m)
	for i, k := range f.free {
		vk[i], pk[i] = f.rows.share(k, f.vx), new(mat.Dense)
		pk[i].Mul(f.vx.T(), vk[i])
		pk[i].Scale(-1, pk[i])
	}
	sum := mat.NewDense(p, p, nil)
	for i := range m {
		solved := f.state.solve(vk[i])
		for j := range m {
			var q, pcp mat.Dense
			q.Mul(vk[j].T(), solved)
			pcp.Product(pk[i], f.c, pk[j])
			q.Sub(&q, &pcp)
			q.Scale(f.fish.At(i, j), &q)
			sum.Add(sum, &q)
		}
	}
	adjusted := new(mat.Dense)
	adjusted.Product(f.c, sum, f.c)
	adjusted.Scale(2, adjusted)
	adjusted.Add(f.c, adjusted)
	return corrected{pk, adjusted}
}

// ByKenwardRoger returns the fit with Kenward and Roger's correction in its coefficients,
// and in Joint: the errors allow for the variances being estimates. They keep
// their level better in small unbalanced sets. Source: Kenward and Roger 1997, with the
// expected information.
func (f *MixedFit) ByKenwardRoger() (*MixedFit, error) {
	out := *f
	of := f.correct()
	out.roger = &of
	out.Coefficients = nil
	for k, c := range f.Coefficients {
		t, err := f.rogerTest([]int{k}, of)
		if err != nil {
			return nil, err
		}
		out.Coefficients = append(out.Coefficients, coefficient(c.Name, c.Term, c.Estimate, math.Sqrt(of.cov.At(k, k)), t.Residual, f.conf))
	}
	return &out, nil
}

// TestsByKenwardRoger returns the tests of Tests with Kenward and Roger's correction.
func (f *MixedFit) TestsByKenwardRoger() ([]MixedTest, error) {
	of := f.correct()
	var out []MixedTest
	for t, term := range f.fixed.design.terms {
		var places []int
		for k, j := range f.fixed.qr.kept {
			if f.fixed.design.places[j].term == t {
				places = append(places, k)
			}
		}
		if len(places) == 0 {
			continue
		}
		test, err := f.rogerTest(places, of)
		if err != nil {
			return nil, err
		}
		test.Term = term.String()
		out = append(out, test)
	}
	return out, nil
}

// rogerTest tests that the coefficients of are all nothing.
func (f *MixedFit) rogerTest(of []int, by corrected) (MixedTest, error) {
	pk, adjusted := by.by, by.cov
	q, p := len(of), len(f.Coefficients)
	l := mat.NewDense(p, q, nil)
	b := mat.NewVecDense(q, nil)
	for a, k := range of {
		l.Set(k, a, 1)
		b.SetVec(a, f.Coefficients[k].Estimate)
	}
	var inner, inverse, theta, corrected mat.Dense
	inner.Product(l.T(), f.c, l)
	corrected.Product(l.T(), adjusted, l)
	var solved mat.VecDense
	if inverse.Inverse(&inner) != nil || solved.SolveVec(&corrected, b) != nil {
		return MixedTest{}, fmt.Errorf("%w: the effects can't be told apart", ErrNoFit)
	}
	theta.Product(l, &inverse, l.T())
	turned := make([]*mat.Dense, len(pk))
	for i := range pk {
		turned[i] = new(mat.Dense)
		turned[i].Product(&theta, f.c, pk[i], f.c)
	}
	a1, a2 := 0.0, 0.0
	for i := range pk {
		for j := range pk {
			var both mat.Dense
			both.Mul(turned[i], turned[j])
			a1 += f.fish.At(i, j) * mat.Trace(turned[i]) * mat.Trace(turned[j])
			a2 += f.fish.At(i, j) * mat.Trace(&both)
		}
	}
	if q == 1 { // what the formulas below come to
		t := MixedTest{DF: 1, Residual: min(2/a2, 1e6), F: b.AtVec(0) * solved.AtVec(0)}
		t.P = upperF(t.F, 1, t.Residual)
		return t, nil
	}
	n := float64(q)
	bb := (a1 + 6*a2) / (2 * n)
	g := ((n+1)*a1 - (n+4)*a2) / ((n + 2) * a2)
	below := 3*n + 2*(1-g)
	c1, c2, c3 := g/below, (n-g)/below, (n+2-g)/below
	e := 1 / (1 - a2/n)
	v := 2 / n * (1 + c1*bb) / ((1 - c2*bb) * (1 - c2*bb) * (1 - c3*bb))
	rho := v / (2 * e * e)
	df := 4 + (n+2)/(n*rho-1)
	t := MixedTest{DF: q, Residual: df, F: df / (e * (df - 2)) / n * mat.Dot(b, &solved)}
	t.P = upperF(t.F, n, df)
	return t, nil
}
