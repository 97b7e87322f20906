package stat

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// Warning is something a person should know before believing a fit.
type Warning struct {
	Kind WarningKind
	Text string // one sentence
	Rows []int  // rows it is about, from 0
}

// WarningKind names a warning for programs.
type WarningKind string

// The warnings.
const (
	Confounded   WarningKind = "confounded"   // effects that cannot be told apart
	Entangled    WarningKind = "entangled"    // effects that can hardly be told apart
	NoReplicate  WarningKind = "no replicate" // no two rows alike
	NothingLeft  WarningKind = "nothing left" // as many effects as rows
	Drift        WarningKind = "drift"        // the residuals move with the order
	Odd          WarningKind = "odd one"      // one row far from all the others' say
	Leaning      WarningKind = "leaning"      // one row alone carries an effect
	Misfit       WarningKind = "misfit"       // the shape misses what replicates show
	Extrapolated WarningKind = "outside"      // a question outside the rows
)

// sorted returns the indices of xs from the smallest up.
func sorted(xs []float64) []int {
	order := make([]int, len(xs))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return xs[order[a]] < xs[order[b]] })
	return order
}

// Warnings looks for what would mislead a reader of the fit. order holds when each
// row was made, as a rank or a time; nil when that is not known.
func (f *LinearFit) Warnings(order []float64) []Warning {
	var out []Warning
	add := func(kind WarningKind, rows []int, format string, args ...any) {
		out = append(out, Warning{kind, fmt.Sprintf(format, args...), rows})
	}
	for _, a := range f.Aliases {
		if len(a.Of) == 0 {
			add(Confounded, nil, "%s never changes in these rows, so nothing can be said about it.", a.Name)
			continue
		}
		var names []string
		for _, w := range a.Of {
			names = append(names, w.Name)
		}
		if len(names) == 1 && names[0] == "intercept" {
			add(Confounded, nil, "%s never changes in these rows, so nothing can be said about it.", a.Name)
			continue
		}
		names = slices.DeleteFunc(names, func(s string) bool { return s == "intercept" })
		add(Confounded, nil, "%s can't be told apart from %s: in these rows they always change together. What is said of one may be due to the other.", a.Name, list(names))
	}
	for _, c := range f.Confusions() {
		add(Confounded, nil, "%s can't be told apart from %s, if that matters: in these rows they change together.", c.Name, list(weightedNames(c.Of)))
	}
	for _, e := range f.entangled() {
		add(Entangled, nil, "%s can hardly be told apart from the other factors (its interval is %.0f times as wide as if it had been changed alone).", e.Name, e.Weight)
	}
	l := f.LackOfFit()
	switch {
	case f.DF == 0:
		add(NothingLeft, nil, "There are as many effects as rows, so nothing is left to judge chance by; repeat some rows, or ask for fewer effects.")
	case l.PureDF == 0:
		add(NoReplicate, nil, "No two rows have the same settings, so chance is judged only by what the model leaves over; repeat at least one row.")
	case l.P < 0.05:
		add(Misfit, nil, "Repeats agree with each other better than with this model (p = %.2g): a bend or an interaction is missing from it.", l.P)
	}
	if p, slope := f.drift(order); p < 0.05 {
		word := "up"
		if slope < 0 {
			word = "down"
		}
		add(Drift, nil, "The results drift %s in the order they were made (p = %.2g): something not in the model changed with time.", word, p)
	}
	if i, p := f.oddest(); p < 0.05 {
		add(Odd, []int{i}, "Row %d lies far from what all the others say (p = %.2g after counting every row): look at that swatch again before believing the rest.", i+1, p)
	}
	for i, h := range f.Leverage {
		if f.DF > 0 && h > 1-1e-9 {
			add(Leaning, []int{i}, "Row %d alone carries one of the effects; without it nothing could be said about that effect, and nothing checks it.", i+1)
		}
	}
	return out
}

func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func weightedNames(ws []Weighted) (out []string) {
	for _, w := range ws {
		out = append(out, w.Name)
	}
	return out
}

// Confusions says which products of two continuous factors of the model, that are
// not in it themselves, would shift each of its effects fully if they mattered (the
// alias matrix of Box and Wilson 1951). It is how a fraction of a factorial confounds. A
// table too large to be looked through within seconds gives none.
func (f *LinearFit) Confusions() []Alias {
	var factors []string
	for _, t := range f.design.terms {
		if len(t) == 1 && f.design.columns[f.design.at[t[0]]].Numbers != nil {
			factors = append(factors, t[0])
		}
	}
	n := len(f.model.Response)
	if w := float64(len(f.design.places)); float64(len(factors)*len(factors)/2)*float64(n)*w*w > mostWork {
		return nil // so large a table is not looked through for this
	}
	of := map[string][]Weighted{}
	for _, t := range Cross(factors, 2)[len(factors):] {
		if slices.ContainsFunc(f.design.terms, func(u Term) bool { return t.within(u) }) {
			continue
		}
		// centred, so that a product is not taken for the sum of its factors
		a, b := centred(f.design.columns[f.design.at[t[0]]].Numbers), centred(f.design.columns[f.design.at[t[1]]].Numbers)
		product := make([]exact, n)
		for i := range product {
			product[i] = exact{a[i] * b[i], 0}
		}
		size := length(product).hi
		columns := append(f.design.matrix(n), product)
		q := factorise(columns, nil, n)
		if size == 0 || len(q.dropped) == 0 || q.dropped[len(q.dropped)-1] != len(columns)-1 {
			continue
		}
		z := make([]exact, len(q.kept))
		copy(z, q.rest[len(q.rest)-1])
		for k, w := range q.solve(z) {
			name := f.design.places[q.kept[k]].name
			share := math.Abs(w.float()) * length(f.centredColumn(q.kept[k])).hi / size
			if name != "intercept" && share > 0.1 {
				of[name] = append(of[name], Weighted{t.String(), w.float()})
			}
		}
	}
	var out []Alias
	for _, p := range f.design.places {
		if ws := of[p.name]; len(ws) > 0 {
			out = append(out, Alias{p.name, ws})
		}
	}
	return out
}

func centred(xs []float64) []float64 {
	mean, _ := meanAndSquares(xs)
	out := make([]float64, len(xs))
	for i, x := range xs {
		out[i] = x - mean
	}
	return out
}

func (f *LinearFit) centredColumn(j int) []exact {
	c := f.design.matrix(len(f.model.Response))[j]
	xs := make([]float64, len(c))
	for i, x := range c {
		xs[i] = x.float()
	}
	return exacts(centred(xs))
}

// entangled returns the single continuous factors whose interval is stretched
// fivefold or more by the other columns, with the stretch (the root of the variance
// inflation factor; Marquardt 1970). Powers and products are entangled by nature.
func (f *LinearFit) entangled() []Weighted {
	var out []Weighted
	for k, j := range f.qr.kept {
		at := f.design.places[j]
		if at.term < 0 || len(f.design.terms[at.term]) > 1 {
			continue
		}
		if slices.ContainsFunc(f.design.terms, func(u Term) bool {
			return len(u) > 1 && f.design.terms[at.term].within(u)
		}) {
			continue
		}
		se := exact{}
		for c := k; c < len(f.qr.kept); c++ {
			se = se.add(f.inverse[c][k].mul(f.inverse[c][k]))
		}
		stretch := se.sqrt().float() * length(f.centredColumn(j)).hi
		if stretch > 5 {
			out = append(out, Weighted{at.name, stretch})
		}
	}
	return out
}

// drift tests the order as one more continuous factor.
func (f *LinearFit) drift(order []float64) (p, slope float64) {
	if len(order) != len(f.model.Response) || f.DF < 2 {
		return 1, 0
	}
	m := f.model
	const name = "\x00order"
	m.Columns = append(slices.Clone(m.Columns), Column{Name: name, Numbers: order})
	m.Terms = append(slices.Clone(m.Terms), Term{name})
	g, err := FitLinear(m)
	if err != nil {
		return 1, 0
	}
	for _, c := range g.Coefficients {
		if c.Name == name && c.P < 1 {
			return c.P, c.Estimate
		}
	}
	return 1, 0
}

// oddest returns the row with the largest studentised residual and its probability
// after Bonferroni. Source: Cook and Weisberg 1982.
func (f *LinearFit) oddest() (row int, p float64) {
	most := 0.0
	for i, s := range f.Studentised {
		if math.Abs(s) > most {
			row, most = i, math.Abs(s)
		}
	}
	if f.DF < 2 || most == 0 {
		return 0, 1
	}
	return row, min(1, float64(len(f.Studentised))*twoSided(most, float64(f.DF-1)))
}

// Setting is what a prediction is asked for: a number for each continuous column and
// a label for each categorical one.
type Setting struct {
	Numbers map[string]float64
	Labels  map[string]string
}

// Prediction is the model's answer at a setting.
type Prediction struct {
	Estimate, SE float64 // of the mean there
	Low, High    float64 // interval of the mean
	NewLow       float64 // interval of one new row
	NewHigh      float64
	Warnings     []Warning
}

// Predict answers at a setting that the rows can tell, and warns when a continuous
// column lies outside what was tried, or the combination does.
func (f *LinearFit) Predict(s Setting) (Prediction, error) {
	var p Prediction
	levels := map[int]int{}
	for j, c := range f.design.columns {
		if c.Numbers != nil {
			v, ok := s.Numbers[c.Name]
			if !ok && f.uses(c.Name) {
				return p, fmt.Errorf("%w: the setting has no number for %q", ErrModel, c.Name)
			}
			if err := need(0, []float64{v}); err != nil {
				return p, err
			}
			if lo, hi := slices.Min(c.Numbers), slices.Max(c.Numbers); ok && f.uses(c.Name) && (v < lo || v > hi) {
				p.Warnings = append(p.Warnings, Warning{Extrapolated, fmt.Sprintf("%s = %g lies outside what was tried (%g to %g): the answer there is a guess.", c.Name, v, lo, hi), nil})
			}
			continue
		}
		levels[j] = -1
		if label, ok := s.Labels[c.Name]; ok {
			if levels[j] = slices.Index(c.Levels, label); levels[j] < 0 {
				return p, fmt.Errorf("%w: %q was never tried as %q", ErrModel, label, c.Name)
			}
		}
	}
	row := f.design.row(func(j int) float64 { return s.Numbers[f.design.columns[j].Name] }, func(j int) int { return levels[j] })
	var ok bool
	if p.Estimate, p.SE, ok = f.combine(row); !ok {
		return p, fmt.Errorf("%w: these rows cannot tell that setting", ErrModel)
	}
	p.Low, p.High, p.NewLow, p.NewHigh = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	if f.DF > 0 {
		p.Low, p.High, _ = interval(p.Estimate, p.SE, float64(f.DF), f.conf)
		p.NewLow, p.NewHigh, _ = interval(p.Estimate, math.Hypot(p.SE, f.Sigma), float64(f.DF), f.conf)
		if len(p.Warnings) == 0 && p.SE > f.Sigma*math.Sqrt(slices.Max(f.Leverage))*(1+1e-9) {
			p.Warnings = append(p.Warnings, Warning{Extrapolated, "This combination lies further out than any row: the answer there is a guess.", nil})
		}
	}
	return p, nil
}

func (f *LinearFit) uses(name string) bool {
	return slices.ContainsFunc(f.design.terms, func(t Term) bool { return slices.Contains(t, name) })
}
