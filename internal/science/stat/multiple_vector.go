package stat

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// VectorTest is the test of one term on several responses at once, such as L*, a*, b*.
type VectorTest struct {
	Term       string
	Criterion  string // "Pillai", "Wilks", "Hotelling-Lawley" or "Roy"
	Statistic  float64
	F          float64 // approximate unless the term has one degree of freedom
	NumDF      float64
	DenDF      float64
	P          float64
	DF         int // of the term
	ResidualDF int
}

// Criteria are the names of the four tests of VectorTests.
var Criteria = []string{"Pillai", "Wilks", "Hotelling-Lawley", "Roy"}

// VectorTests tests the terms of m, in their order, on the responses together; m's
// Response is not read. Source: Seber 1984; checked against R's summary.manova.
func VectorTests(m Model, responses [][]float64) ([]VectorTest, error) {
	if len(responses) == 0 {
		return nil, ErrTooFew
	}
	n, q := len(responses[0]), len(responses)
	var ys [][]exact
	for _, y := range responses {
		if len(y) != n {
			return nil, ErrUnequal
		}
		if err := need(2, y); err != nil {
			return nil, err
		}
		ys = append(ys, exacts(y))
	}
	m.Response = responses[0]
	d, err := m.resolve()
	if err != nil {
		return nil, err
	}
	f := factorise(d.matrix(n), ys, n)
	p := len(f.kept)
	if n-p < q {
		return nil, fmt.Errorf("%w: %d residual degrees of freedom for %d responses", ErrNoReplicate, n-p, q)
	}
	within := f.products(p, n)
	var chol mat.Cholesky
	if !chol.Factorize(within) || chol.Cond() > 1e14 {
		return nil, ErrNoSpread
	}
	var out []VectorTest
	for t, term := range d.terms {
		from, to := -1, -1
		for k, j := range f.kept {
			if d.places[j].term == t {
				if from < 0 {
					from = k
				}
				to = k + 1
			}
		}
		if from < 0 {
			continue
		}
		// the eigenvalues of within^-1 between, through the Cholesky root
		var l mat.TriDense
		chol.LTo(&l)
		var half, whole mat.Dense
		if half.Solve(&l, f.products(from, to)) != nil || whole.Solve(&l, half.T()) != nil {
			return nil, ErrNoSpread
		}
		sym := mat.NewSymDense(q, nil)
		for a := range q {
			for b := a; b < q; b++ {
				sym.SetSym(a, b, (whole.At(a, b)+whole.At(b, a))/2)
			}
		}
		var eigen mat.EigenSym
		if !eigen.Factorize(sym, false) {
			return nil, ErrNoSpread
		}
		roots := eigen.Values(nil)
		for k := range roots {
			roots[k] = max(0, roots[k])
		}
		for _, c := range Criteria {
			out = append(out, vectorTest(c, term.String(), roots, to-from, n-p))
		}
	}
	return out, nil
}

// products returns the sums of squares and products of the responses over effects
// from to to.
func (f *factorised) products(from, to int) *mat.SymDense {
	q := len(f.effects)
	s := mat.NewSymDense(q, nil)
	for a := range q {
		for b := a; b < q; b++ {
			sum := exact{}
			for k := from; k < to; k++ {
				sum = sum.add(f.effects[a][k].mul(f.effects[b][k]))
			}
			s.SetSym(a, b, sum.float())
		}
	}
	return s
}

func vectorTest(criterion, term string, roots []float64, df, residual int) VectorTest {
	p, q, v := float64(len(roots)), float64(df), float64(residual)
	s := min(p, q)
	m, n := (math.Abs(p-q)-1)/2, (v-p-1)/2
	t := VectorTest{Term: term, Criterion: criterion, DF: df, ResidualDF: residual}
	switch criterion {
	case "Pillai":
		for _, r := range roots {
			t.Statistic += r / (1 + r)
		}
		t.NumDF, t.DenDF = s*(2*m+s+1), s*(2*n+s+1)
		t.F = (2*n + s + 1) / (2*m + s + 1) * t.Statistic / (s - t.Statistic)
	case "Wilks":
		t.Statistic = 1
		for _, r := range roots {
			t.Statistic /= 1 + r
		}
		r, u := v-(p-q+1)/2, (p*q-2)/4
		root := 1.0
		if p*p+q*q-5 > 0 {
			root = math.Sqrt((p*p*q*q - 4) / (p*p + q*q - 5))
		}
		t.NumDF, t.DenDF = p*q, r*root-2*u
		l := math.Pow(t.Statistic, 1/root)
		t.F = (1 - l) / l * t.DenDF / t.NumDF
	case "Hotelling-Lawley":
		for _, r := range roots {
			t.Statistic += r
		}
		t.NumDF, t.DenDF = s*(2*m+s+1), 2*(s*n+1)
		t.F = t.DenDF * t.Statistic / (s * s * (2*m + s + 1))
	default:
		t.Statistic = slices.Max(roots)
		top := max(p, q)
		t.NumDF, t.DenDF = top, v-top+q
		t.F = t.Statistic * t.DenDF / t.NumDF
	}
	t.P = upperF(t.F, t.NumDF, t.DenDF)
	return t
}
