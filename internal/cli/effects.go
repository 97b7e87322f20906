package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

type effectsVerb struct {
	Table        string   `arg:"" placeholder:"DATA.csv" help:"Table with one row a swatch (or a face)."`
	Response     string   `required:"" placeholder:"COLUMN" help:"What was measured."`
	Factors      []string `placeholder:"A,B" help:"Columns that were changed on purpose; those of numbers count as amounts, the others as kinds."`
	Kinds        []string `placeholder:"A,B" help:"Columns to take as kinds although they hold numbers."`
	Block        []string `placeholder:"B" help:"Columns that name the batch a row was made in (chamber run, day): their differences are set aside."`
	Random       []string `placeholder:"R" help:"Columns whose groups (run, swatch) stand for all such groups: their scatter is estimated (REML), and errors and degrees of freedom follow from it. Write run/zone for zones numbered anew in each run."`
	Interactions bool     `help:"Ask too whether the effect of one factor depends on another."`
	Squares      bool     `help:"Ask too whether effects of amounts bend."`
	Terms        []string `placeholder:"A,A:B,A^2" help:"Spell the model out instead of --factors, --interactions and --squares."`
	Order        string   `placeholder:"COLUMN" help:"Column with the order or time in which the rows were made, to look for drift. A column named order, seq or run_order is taken if not said."`
	Sums         int      `default:"2" enum:"1,2,3" help:"Type of the sums of squares: 1 in order, 2 each after all that do not contain it, 3 each after all others."`
	Contrasts    string   `default:"treatment" enum:"treatment,sum" help:"Compare kinds with the first of them (treatment) or with their mean (sum)."`
	Conf         float64  `default:"0.95" placeholder:"SHARE" help:"Confidence of the intervals."`
	See          float64  `placeholder:"D" help:"Say too how many swatches each level needs for a difference of D to be seen."`
	JSON         bool     `name:"json" help:"Answer in JSON."`
}

// Help is shown below the verb's usage.
func (effectsVerb) Help() string {
	return `Says what causes what: the effect of each factor with its interval, and what these swatches can't tell. ` + sheetHelp + `

Without replicates, when nothing is left to judge chance by, effects are judged by Lenth's rule (1989).

` + exits
}

// Run fits the model.
func (v effectsVerb) Run(t *term) error {
	s, err := openSheet(t, v.Table)
	if err != nil {
		return err
	}
	f, err := v.find(s)
	if err != nil {
		return statProblem(outside(err), s.name)
	}
	if v.JSON {
		return t.asJSON(f)
	}
	f.tell(t)
	return nil
}

// statProblem turns what the statistics say the numbers can't carry into a Problem.
func statProblem(err error, name string) error {
	for _, kind := range []error{stat.ErrTooFew, stat.ErrNoSpread, stat.ErrNotFinite, stat.ErrUnequal, stat.ErrModel, stat.ErrNoReplicate, stat.ErrNoFit} {
		if errors.Is(err, kind) && studio.ProblemIn(err) == nil {
			return studio.Problemf(studio.Invalid, "table", "%s can't answer that: %s", name, strings.TrimPrefix(err.Error(), stat.ErrModel.Error()+": "))
		}
	}
	return err
}

func (v effectsVerb) find(s *sheet) (*effectsFound, error) {
	at, err := s.find("response", v.Response)
	if err != nil {
		return nil, err
	}
	s, dropped := s.without(at)
	if len(s.rows) == 0 {
		return nil, studio.Problemf(studio.Invalid, "response", "no row of %s has a number in column %s", s.name, v.Response)
	}
	f := &effectsFound{Response: s.heads[at], Rows: len(s.rows), Terms: []termFound{}, Anova: []anovaFound{}, Means: []meanFound{}, Pairs: []pairFound{}, Warnings: []warningFound{}, Conf: v.Conf}
	if len(dropped) > 0 {
		f.Warnings = append(f.Warnings, warningFound{"left out", fmt.Sprintf("%d rows have nothing under %s and are left out.", len(dropped), f.Response), dropped})
	}
	m, err := v.model(s, at)
	if err != nil {
		return nil, err
	}
	fit, err := stat.FitLinear(m)
	if err != nil {
		return nil, err
	}
	f.Terms, f.Sigma, f.DF, f.R2 = termsOf(fit.Coefficients), maybe(fit.Sigma), fit.DF, maybe(fit.R2)
	rows, err := fit.Anova(v.Sums)
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		f.Anova = append(f.Anova, anovaFound{r.Term, float64(r.DF), nil, maybe(r.SS), maybe(r.MS), maybe(r.F), maybe(r.P)})
	}
	if l := fit.LackOfFit(); l.PureDF > 0 && l.LackDF > 0 {
		f.Lack = &lackFound{l.LackDF, l.PureDF, l.LackSS, l.PureSS, maybe(l.F), maybe(l.P)}
	}
	if err := v.means(f, fit, m); err != nil {
		return nil, err
	}
	order, err := v.order(s)
	if err != nil {
		return nil, err
	}
	for _, w := range fit.Warnings(order) {
		one := warningFound{Kind: string(w.Kind), Text: w.Text}
		for _, r := range w.Rows {
			one.Rows = append(one.Rows, r+1)
		}
		f.Warnings = append(f.Warnings, one)
	}
	if fit.DF == 0 {
		f.byLenth(fit, v.Conf)
	}
	if len(v.Random) > 0 {
		if err := v.mixed(s, m, f); err != nil {
			return nil, err
		}
	}
	if v.See != 0 {
		if f.Sigma == nil {
			return nil, studio.Problemf(studio.Invalid, "see", "--see needs the scatter of swatches made alike, and these rows leave nothing to judge it by; repeat some of them")
		}
		levels := 2
		for _, c := range m.Columns {
			if slices.Contains(v.Factors, c.Name) {
				levels = max(levels, distinct(c.Labels))
			}
		}
		if f.Needed, err = stat.SwatchesPerLevel(v.See, *f.Sigma, levels, 0.8, 0.05); err != nil {
			return nil, err
		}
		f.See = v.See
	}
	return f, nil
}

func distinct(labels []string) int {
	seen := map[string]bool{}
	for _, l := range labels {
		seen[l] = true
	}
	return len(seen)
}

// model builds the model that the options ask for.
func (v effectsVerb) model(s *sheet, response int) (stat.Model, error) {
	m := stat.Model{Conf: v.Conf}
	if v.Contrasts == "sum" {
		m.Coding = stat.SumToZero
	}
	var err error
	if m.Response, err = s.numbers(response); err != nil {
		return m, err
	}
	add := func(option, name string, kind bool) (string, error) {
		i, err := s.find(option, name)
		if err != nil {
			return "", err
		}
		name = s.heads[i]
		if i == response {
			return "", studio.Problemf(studio.Invalid, option, "%s is the response, so it can't be a factor too", name)
		}
		if slices.ContainsFunc(m.Columns, func(c stat.Column) bool { return c.Name == name }) {
			return name, nil
		}
		c := stat.Column{Name: name}
		for r, row := range s.rows {
			if row[i] == "" {
				return "", studio.Problemf(studio.Invalid, option, "row %d of %s has nothing in column %s", r+1, s.name, name)
			}
		}
		if kind || slices.Contains(v.Kinds, name) || !s.numeric(i) {
			c.Labels = s.column(i)
			if n := distinct(c.Labels); n > 100 {
				return "", studio.Problemf(studio.Invalid, option, "column %s has %d different kinds, more than the 100 that can be compared; row %q is not a number", name, n, firstText(s, i))
			}
		} else if c.Numbers, err = s.numbers(i); err != nil {
			return "", err
		}
		m.Columns = append(m.Columns, c)
		return name, nil
	}
	for _, b := range v.Block {
		name, err := add("block", b, true)
		if err != nil {
			return m, err
		}
		m.Terms = append(m.Terms, stat.Term{name})
	}
	if len(v.Terms) > 0 {
		for _, text := range v.Terms {
			var one stat.Term
			for _, part := range strings.Split(text, ":") {
				part, power := strings.TrimSpace(part), 1
				if base, p, ok := strings.Cut(part, "^"); ok {
					if _, err := fmt.Sscanf(p, "%d", &power); err != nil || power < 1 || power > 20 {
						return m, studio.Problemf(studio.Invalid, "terms", "%q in --terms has no power from 1 to 20; write it like time^2", part)
					}
					part = base
				}
				name, err := add("terms", part, false)
				if err != nil {
					return m, err
				}
				for range power {
					one = append(one, name)
				}
			}
			m.Terms = append(m.Terms, one)
		}
		return m, nil
	}
	if len(v.Factors) == 0 {
		return m, studio.Problemf(studio.Invalid, "factors", "--factors is missing: say which columns were changed on purpose; %s has %s", s.name, strings.Join(s.heads, ", "))
	}
	var names []string
	for _, f := range v.Factors {
		name, err := add("factors", f, false)
		if err != nil {
			return m, err
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	order := 1
	if v.Interactions {
		order = min(2, len(names))
	}
	terms := stat.Cross(names, order)
	m.Terms = append(m.Terms, terms[:len(names)]...)
	if v.Squares {
		for _, c := range m.Columns {
			if c.Numbers != nil {
				m.Terms = append(m.Terms, stat.Term{c.Name, c.Name})
			}
		}
	}
	m.Terms = append(m.Terms, terms[len(names):]...)
	return m, nil
}

func firstText(s *sheet, i int) string {
	for _, row := range s.rows {
		if _, ok := s.number(row[i]); !ok {
			return row[i]
		}
	}
	return s.rows[0][i]
}

func (v effectsVerb) order(s *sheet) ([]float64, error) {
	if v.Order != "" {
		i, err := s.find("order", v.Order)
		if err != nil {
			return nil, err
		}
		return s.numbers(i)
	}
	for i, h := range s.heads {
		if slices.Contains([]string{"order", "seq", "run_order"}, strings.ToLower(h)) && s.numeric(i) {
			return s.numbers(i)
		}
	}
	return nil, nil
}

func (v effectsVerb) means(f *effectsFound, fit *stat.LinearFit, m stat.Model) error {
	for _, c := range m.Columns {
		if c.Numbers != nil || slices.Contains(v.Block, c.Name) || distinct(c.Labels) > 40 {
			continue
		}
		means, pairs, err := fit.Means(c.Name)
		if err != nil {
			return err
		}
		for _, a := range means {
			f.Means = append(f.Means, meanFound{c.Name, a.Level, a.Estimate, maybe(a.SE), maybe(a.Low), maybe(a.High)})
		}
		for _, p := range pairs {
			f.Pairs = append(f.Pairs, pairFound{c.Name, p.A, p.B, p.Difference, maybe(p.SE), maybe(p.P), maybe(p.Low), maybe(p.High)})
		}
	}
	return nil
}

// byLenth judges the terms of a saturated model, when all are measured alike.
func (f *effectsFound) byLenth(fit *stat.LinearFit, conf float64) {
	var effects []float64
	for _, c := range fit.Coefficients {
		if c.Name != "intercept" {
			effects = append(effects, c.Estimate)
		}
	}
	if !fit.Alike() {
		return
	}
	l, err := stat.LenthMargins(effects, conf)
	if err != nil {
		return
	}
	f.Lenth = &lenthFound{l.PSE, l.ME, l.SME}
}

// mixed puts the estimates of a model with random groups in the place of the plain ones.
func (v effectsVerb) mixed(s *sheet, m stat.Model, f *effectsFound) error {
	var random []stat.Random
	for _, r := range v.Random {
		var labels []string
		for _, name := range strings.Split(r, "/") {
			i, err := s.find("random", strings.TrimSpace(name))
			if err != nil {
				return err
			}
			if labels == nil {
				labels = s.column(i)
			} else {
				labels = stat.Nested(labels, s.column(i))
			}
		}
		random = append(random, stat.Random{Name: r, Labels: labels})
	}
	if v.Sums == 3 {
		m.Coding = stat.SumToZero
	}
	fit, err := stat.FitMixed(m, random)
	if err != nil {
		return err
	}
	f.Terms, f.Anova, f.Means, f.Pairs, f.R2 = termsOf(fit.Coefficients), []anovaFound{}, []meanFound{}, []pairFound{}, nil
	for _, a := range fit.Tests() {
		f.Anova = append(f.Anova, anovaFound{a.Term, float64(a.DF), maybe(a.Residual), nil, nil, maybe(a.F), maybe(a.P)})
	}
	for _, r := range fit.Variances {
		f.Scatter = append(f.Scatter, scatterFound{r.Name, r.SD, r.Share})
		if r.Name == "residual" {
			f.Sigma = maybe(r.SD)
		} else if r.AtNil {
			f.Warnings = append(f.Warnings, warningFound{"no scatter", fmt.Sprintf("The groups of %s differ no more than chance has it; their scatter is taken as none.", r.Name), nil})
		}
	}
	return nil
}
