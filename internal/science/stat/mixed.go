package stat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Random is a random intercept: rows with the same label share a shift drawn from one
// normal distribution. A factor nested in another has labels that name both.
type Random struct {
	Name   string
	Labels []string
}

// Nested joins labels to those of a factor nested in another.
func Nested(outer, inner []string) []string {
	out := make([]string, len(outer))
	for i := range out {
		out[i] = outer[i] + " / " + inner[i]
	}
	return out
}

// Variance is one source of scatter of a mixed model.
type Variance struct {
	Name  string // "residual" is the last
	SD    float64
	Share float64 // of the variance of one row
	AtNil bool    // the data show none of it: held at 0
}

// MixedFit is a linear model with random intercepts, fitted by REML.
type MixedFit struct {
	Coefficients []Coefficient // DF by Satterthwaite
	Aliases      []Alias
	Variances    []Variance
	Criterion    float64 // -2 times the restricted log likelihood

	fixed *LinearFit
	rows  *groups
	v     []float64  // variances, the residual last
	c     *mat.Dense // covariance of the coefficients
	info  *mat.Dense // inverse of the observed information of v
	free  []int      // of v, those not held at 0
	by    []*mat.Dense
	conf  float64
	state *state     // at v
	roger *corrected // set by ByKenwardRoger
	vx    *mat.Dense // V^-1 X
	turn  *mat.Dense // from the columns at right angles to the coefficients
	fish  *mat.Dense // inverse of the expected information of v
}

// FitMixed fits a linear model with random intercepts, nested or crossed, by
// restricted maximum likelihood, up to 2000 rows. Degrees of freedom are
// Satterthwaite's from the observed information. Source: Patterson and Thompson 1971;
// Giesbrecht and Burns 1985. It meets R's lme4 and lmerTest on the oats and the
// furnace to 6 digits (mixed_test.go).
func FitMixed(m Model, random []Random) (*MixedFit, error) {
	fixed, err := FitLinear(m)
	if err != nil {
		return nil, err
	}
	n, p := len(m.Response), len(fixed.qr.kept)
	if n > 2000 {
		return nil, fmt.Errorf("%w: %d rows are more than the 2000 that a mixed model takes here", ErrModel, n)
	}
	if fixed.DF < 1 {
		return nil, ErrNoReplicate
	}
	f := &MixedFit{fixed: fixed, Aliases: fixed.Aliases, conf: fixed.conf}
	for _, r := range random {
		if len(r.Labels) != n {
			return nil, fmt.Errorf("random %q: %w", r.Name, ErrUnequal)
		}
		if k := distinct(r.Labels); k < 2 || k == n {
			return nil, fmt.Errorf("%w: %q has %d groups for %d rows; a random part needs two or more, some with several rows", ErrModel, r.Name, k, n)
		}
	}
	if fixed.RSS <= 0 {
		return nil, ErrNoSpread
	}
	// The columns are taken at right angles and the response less its plain fit: the
	// answer is the same, and large means and powers cost no digits.
	columns := fixed.design.matrix(n)
	x, row := mat.NewDense(n, p, nil), make([]exact, p)
	for i := range n {
		for k, j := range fixed.qr.kept {
			row[k] = columns[j][i]
		}
		for k, v := range fixed.qr.forward(row) {
			x.Set(i, k, v.float())
		}
	}
	f.turn = mat.NewDense(p, p, nil)
	for j, c := range fixed.inverse {
		for i, v := range c {
			f.turn.Set(i, j, v.float())
		}
	}
	f.rows = newGroups(x, random)
	for j, c := range fixed.qr.r {
		f.rows.log += 2 * math.Log(math.Abs(c[j].float()))
	}
	// start with the scatter shared out evenly
	f.v = make([]float64, len(random)+1)
	for i := range f.v {
		f.v[i] = fixed.RSS / float64(fixed.DF) / float64(len(f.v))
	}
	if err := f.climb(fixed.Residuals); err != nil {
		return nil, err
	}
	f.report(random)
	return f, nil
}

func distinct(labels []string) int {
	seen := map[string]bool{}
	for _, l := range labels {
		seen[l] = true
	}
	return len(seen)
}

// climb finds the variances by scoring steps, halved until the likelihood rises; a
// variance that would turn negative is held at 0 as long as the likelihood falls away
// from there.
func (f *MixedFit) climb(y []float64) error {
	q := len(f.v)
	for round := 0; ; round++ {
		if round == 300 {
			return fmt.Errorf("%w: the variances did not settle", ErrNoFit)
		}
		s, ok := f.rows.at(f.v, y, true)
		if !ok {
			return fmt.Errorf("%w: the variances have no likelihood", ErrNoFit)
		}
		f.free = f.free[:0]
		for k := range q {
			if f.v[k] > 0 || s.gradient[k] > 0 {
				f.free = append(f.free, k)
			}
		}
		step, ok := newton(s.observed, s.gradient, f.free)
		if !ok || rise(step, s.gradient, f.free) <= 0 {
			if step, ok = newton(s.expected, s.gradient, f.free); !ok {
				return fmt.Errorf("%w: the rows do not tell the sources of scatter apart", ErrNoFit)
			}
		}
		next, t := make([]float64, q), 1.0
		moved := 0.0
		for ; t > 1e-10; t /= 2 {
			copy(next, f.v)
			moved = 0
			for i, k := range f.free {
				next[k] = max(0, f.v[k]+t*step[i])
				moved = max(moved, math.Abs(next[k]-f.v[k])/(f.v[k]+1e-8*total(f.v)))
			}
			if g, ok := f.rows.at(next, y, false); ok && g.minus2 <= s.minus2+1e-11*math.Abs(s.minus2) {
				break
			}
		}
		if t > 1e-10 {
			f.v = next
		}
		if moved < 1e-10 || t <= 1e-10 {
			break
		}
	}
	s, ok := f.rows.at(f.v, y, true)
	if !ok {
		return fmt.Errorf("%w: the variances have no likelihood", ErrNoFit)
	}
	f.free = f.free[:0]
	for k := range q {
		if f.v[k] > 1e-9*total(f.v) {
			f.free = append(f.free, k)
		} else {
			f.v[k] = 0
		}
	}
	var back, r, turned mat.Dense
	p := len(f.fixed.qr.kept)
	back.Product(f.turn, s.c, f.turn.T())
	r = *mat.NewDense(p, p, nil)
	for j, c := range f.fixed.qr.r {
		for i, v := range c {
			r.Set(i, j, v.float())
		}
	}
	f.vx, f.c, f.Criterion, f.state = new(mat.Dense), &back, s.minus2, s
	f.vx.Mul(s.vx, &r)
	turned.Mul(f.turn, mat.NewVecDense(p, s.gamma))
	inverse := func(of [][]float64) (*mat.Dense, error) {
		small, out := mat.NewDense(len(f.free), len(f.free), nil), new(mat.Dense)
		for i, k := range f.free {
			for j, l := range f.free {
				small.Set(i, j, of[k][l])
			}
		}
		if err := out.Inverse(small); err != nil {
			return nil, fmt.Errorf("%w: the rows do not tell the sources of scatter apart", ErrNoFit)
		}
		return out, nil
	}
	var err error
	if f.info, err = inverse(s.observed); err != nil {
		return err
	}
	if f.fish, err = inverse(s.expected); err != nil {
		return err
	}
	// dC/dv_k = C X'V^-1 V_k V^-1 X C
	var vxc mat.Dense
	vxc.Mul(f.vx, f.c)
	for _, k := range f.free {
		var half, d mat.Dense
		half = *f.rows.share(k, &vxc)
		d.Mul(vxc.T(), &half)
		f.by = append(f.by, mat.DenseCopyOf(&d))
	}
	for k, b := range f.fixed.b {
		f.Coefficients = append(f.Coefficients, Coefficient{Estimate: b.float() + turned.At(k, 0), SE: math.Sqrt(f.c.At(k, k))})
	}
	return nil
}

func total(xs []float64) (sum float64) {
	for _, x := range xs {
		sum += x
	}
	return sum
}

func newton(h [][]float64, g []float64, free []int) ([]float64, bool) {
	m := len(free)
	if m == 0 {
		return nil, true
	}
	a, b := mat.NewDense(m, m, nil), mat.NewVecDense(m, nil)
	for i, k := range free {
		b.SetVec(i, g[k])
		for j, l := range free {
			a.Set(i, j, h[k][l])
		}
	}
	var x mat.VecDense
	if x.SolveVec(a, b) != nil {
		return nil, false
	}
	return x.RawVector().Data, true
}

func rise(step, g []float64, free []int) (sum float64) {
	for i, k := range free {
		sum += step[i] * g[k]
	}
	return sum
}

// satterthwaite returns the variance of a contrast of the coefficients and its
// degrees of freedom.
func (f *MixedFit) satterthwaite(l []float64) (variance, df float64) {
	w := mat.NewVecDense(len(l), l)
	variance = mat.Inner(w, f.c, w)
	g := mat.NewVecDense(len(f.free), nil)
	for k, d := range f.by {
		g.SetVec(k, mat.Inner(w, d, w))
	}
	return variance, 2 * variance * variance / mat.Inner(g, f.info, g)
}

func (f *MixedFit) report(random []Random) {
	for k := range f.Coefficients {
		c := &f.Coefficients[k]
		l := make([]float64, len(f.Coefficients))
		l[k] = 1
		at := f.fixed.Coefficients[k]
		_, df := f.satterthwaite(l)
		*c = coefficient(at.Name, at.Term, c.Estimate, c.SE, df, f.conf)
	}
	all := total(f.v)
	for k, v := range f.v {
		name := "residual"
		if k < len(random) {
			name = random[k].Name
		}
		f.Variances = append(f.Variances, Variance{name, math.Sqrt(v), v / all, v == 0})
	}
}
