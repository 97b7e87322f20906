package stat

import (
	"fmt"
	"math"
	"slices"
	"sync"
)

// LinearFit is a linear model fitted by least squares.
type LinearFit struct {
	Coefficients []Coefficient // those that can be told; see Aliases for the others
	Aliases      []Alias       // columns that cannot be told from others
	Sigma        float64       // residual standard deviation; NaN when DF is 0
	DF           int           // residual degrees of freedom
	RSS, TSS     float64       // residual and total sums of squares (total about the mean unless NoIntercept)
	R2           float64
	F, FP        float64 // of the whole model against the mean, and its probability
	FDF          int     // its first degrees of freedom
	Fitted       []float64
	Residuals    []float64
	Leverage     []float64
	Studentised  []float64 // residual over its error without that row (externally studentised); NaN when not to be had
	Cook         []float64 // Cook's distance; NaN when not to be had

	model   Model
	design  *design
	qr      *factorised
	b       []exact
	inverse [][]exact // R^-1 by columns
	conf    float64
	ranges  sync.Map // studentised range by number of means, as far as asked for
}

// mostWork is the largest rows times columns squared taken on, some seconds of it.
const mostWork = 2e8

// FitLinear fits a linear model by Householder least squares in 31-digit
// arithmetic. Source: Golub and Van Loan 2013, 5.3; it meets the certified values
// of the NIST StRD linear sets to 13 digits or more (model_test.go).
func FitLinear(m Model) (*LinearFit, error) {
	n := len(m.Response)
	if err := need(1, m.Response); err != nil {
		return nil, err
	}
	conf, err := m.confidence()
	if err != nil {
		return nil, err
	}
	d, err := m.resolve()
	if err != nil {
		return nil, err
	}
	if len(d.places) == 0 {
		return nil, fmt.Errorf("%w: it has no terms", ErrModel)
	}
	if work := float64(n) * float64(len(d.places)) * float64(len(d.places)); work > mostWork {
		return nil, fmt.Errorf("%w: %d effects of %d rows are more than can be worked out here; ask for fewer", ErrModel, len(d.places), n)
	}
	f := &LinearFit{model: m, design: d, conf: conf}
	columns := d.matrix(n)
	for _, c := range append(slices.Clone(columns), exacts(m.Response)) {
		for _, x := range c {
			// squares of larger numbers pass what float64 holds
			if !(math.Abs(x.hi) < 1e140) {
				return nil, fmt.Errorf("%w: a number or a product of numbers is 1e140 or more", ErrNotFinite)
			}
		}
	}
	f.qr = factorise(columns, [][]exact{exacts(m.Response)}, n)
	if len(f.qr.kept) == 0 {
		return nil, ErrNoSpread
	}
	f.b = f.qr.solve(f.qr.effects[0])
	p := len(f.qr.kept)
	f.DF = n - p
	f.invert()
	f.diagnose(d)
	f.RSS = squares(f.qr.effects[0][p:]).float()
	f.Sigma = math.NaN()
	if f.DF > 0 {
		f.Sigma = math.Sqrt(f.RSS / float64(f.DF))
	}
	f.sums()
	f.Coefficients = f.coefficients()
	f.alias()
	f.residuals()
	return f, nil
}

func (f *LinearFit) invert() {
	p := len(f.qr.kept)
	f.inverse = make([][]exact, p)
	for j := range p {
		e := make([]exact, p)
		e[j] = exact{1, 0}
		f.inverse[j] = f.qr.solve(e)
	}
}

// diagnose fills the fitted values, the residuals and the leverage; the design's
// columns are made anew, since the turning overwrote them.
func (f *LinearFit) diagnose(d *design) {
	n, p := len(f.model.Response), len(f.qr.kept)
	columns := d.matrix(n)
	row := make([]exact, p)
	for i := range n {
		s := exact{}
		for k, j := range f.qr.kept {
			row[k] = columns[j][i]
			s = s.add(row[k].mul(f.b[k]))
		}
		f.Fitted = append(f.Fitted, s.float())
		f.Residuals = append(f.Residuals, exact{f.model.Response[i], 0}.sub(s).float())
		f.Leverage = append(f.Leverage, min(1, squares(f.qr.forward(row)).float()))
	}
}

func (f *LinearFit) sums() {
	e := f.qr.effects[0]
	from := 0
	if !f.design.bare && f.qr.kept[0] == 0 {
		from = 1
	}
	p := len(f.qr.kept)
	model := squares(e[from:p])
	f.TSS = model.add(squares(e[p:])).float()
	if f.TSS > 0 {
		f.R2 = model.div(exact{f.TSS, 0}).float()
	}
	f.FDF = p - from
	f.F = math.NaN()
	if f.FDF > 0 && f.DF > 0 {
		f.F = model.float() / float64(f.FDF) / (f.RSS / float64(f.DF))
	}
	f.FP = upperF(f.F, float64(f.FDF), float64(f.DF))
}

func (f *LinearFit) coefficients() []Coefficient {
	p := len(f.qr.kept)
	var out []Coefficient
	for k, j := range f.qr.kept {
		at := f.design.places[j]
		s := exact{}
		for c := k; c < p; c++ {
			s = s.add(f.inverse[c][k].mul(f.inverse[c][k]))
		}
		term := "intercept"
		if at.term >= 0 {
			term = f.design.terms[at.term].String()
		}
		out = append(out, coefficient(at.name, term, f.b[k].float(), f.Sigma*s.sqrt().float(), float64(f.DF), f.conf))
	}
	return out
}

func coefficient(name, term string, estimate, se, df, conf float64) Coefficient {
	c := Coefficient{Name: name, Term: term, Estimate: estimate, SE: se, DF: df, T: estimate / se, P: math.NaN(), Low: math.NaN(), High: math.NaN()}
	if df > 0 && se >= 0 {
		c.P = twoSided(c.T, df)
		c.Low, c.High, _ = interval(estimate, se, df, conf)
	}
	if df <= 0 {
		c.T = math.NaN()
	}
	return c
}

func (f *LinearFit) alias() {
	for i, j := range f.qr.dropped {
		rest := f.qr.rest[i]
		z := make([]exact, len(f.qr.kept))
		copy(z, rest)
		a := Alias{Name: f.design.places[j].name}
		for k, w := range f.qr.solve(z) {
			if v := w.float(); math.Abs(v) > 1e-9 {
				a.Of = append(a.Of, Weighted{f.design.places[f.qr.kept[k]].name, v})
			}
		}
		f.Aliases = append(f.Aliases, a)
	}
}

func (f *LinearFit) residuals() {
	p := float64(len(f.qr.kept))
	for i, r := range f.Residuals {
		h := f.Leverage[i]
		s, c := math.NaN(), math.NaN()
		if f.DF > 0 && f.RSS > 0 && h < 1-1e-10 {
			inner := r / (f.Sigma * math.Sqrt(1-h))
			c = inner * inner * h / (1 - h) / p
			if f.DF > 1 {
				if left := (float64(f.DF) - inner*inner) / float64(f.DF-1); left > 0 {
					s = inner / math.Sqrt(left)
				}
			}
		}
		f.Studentised, f.Cook = append(f.Studentised, s), append(f.Cook, c)
	}
}

// combine returns the estimate and standard error of the sum of coefficients with
// the weights of a row of the design; ok is false when it cannot be told because a
// column that was set aside has a say in it.
func (f *LinearFit) combine(row []exact) (estimate, se float64, ok bool) {
	l := make([]exact, len(f.qr.kept))
	s, size := exact{}, 1.0
	for k, j := range f.qr.kept {
		l[k] = row[j]
		s = s.add(row[j].mul(f.b[k]))
		size = max(size, math.Abs(row[j].hi))
	}
	for i, j := range f.qr.dropped {
		z := make([]exact, len(f.qr.kept))
		copy(z, f.qr.rest[i])
		should := exact{}
		for k, w := range f.qr.solve(z) {
			should = should.add(w.mul(l[k]))
		}
		if math.Abs(should.sub(row[j]).float()) > 1e-8*size {
			return math.NaN(), math.NaN(), false
		}
	}
	return s.float(), f.Sigma * math.Sqrt(squares(f.qr.forward(l)).float()), true
}
