package cli

import (
	"errors"
	"fmt"
	"math/bits"
	"slices"
	"strings"
	"text/tabwriter"

	"aerugo/internal/science/design"
)

// designed is what design reports.
type designed struct {
	Plan       string            `json:"plan"`
	Seed       uint64            `json:"seed"`
	Criterion  string            `json:"criterion,omitempty"`
	Model      []string          `json:"model"`
	Runs       []map[string]any  `json:"runs"`
	Order      []designMade      `json:"order"`
	Swatches   int               `json:"swatches"`
	Efficiency *designEfficiency `json:"efficiency"`
	Resolution int               `json:"resolution,omitempty"`
	Generators []string          `json:"generators,omitempty"`
	Confounded []string          `json:"confounding"`
	Mixed      []designMixed     `json:"mixed"`
	CannotTell []string          `json:"cannot_tell"`
	Sees       []designSees      `json:"sees"`
	PerLevel   *int              `json:"swatches_per_level_to_see"`
	See        float64           `json:"see_de00"`
	Spread     float64           `json:"spread_de00"`
	Search     *designSearch     `json:"search,omitempty"`
	Assumed    []assumed         `json:"assumed"`

	factors []string
	kinds   []string // of blocks
}

type designMade struct {
	Order  int            `json:"order"`
	What   string         `json:"what"` // run, repeat or blank
	Run    int            `json:"run,omitempty"`
	Blocks map[string]int `json:"blocks,omitempty"`
}

type designEfficiency struct {
	D float64 `json:"D"`
	A float64 `json:"A"`
	G float64 `json:"G"`
	I float64 `json:"I"`
}

type designMixed struct {
	Effect string   `json:"effect"`
	With   []string `json:"with"`
	Share  float64  `json:"share"`
}

type designSees struct {
	Factor string  `json:"factor"`
	From   string  `json:"from"`
	To     string  `json:"to"`
	Least  float64 `json:"least_de00"`
	DF     int     `json:"df"`
}

type designSearch struct {
	Starts int     `json:"starts"`
	Hits   int     `json:"hits"`
	Score  float64 `json:"score"`
}

// build makes the plan that was asked for. What it is called and, for a
// fraction, its generators and resolution go into f.
func (a *asked) build(f *designed) (design.Plan, error) {
	if a.plan == "" {
		a.plan = "optimal"
	}
	f.Plan = a.plan
	rng := a.generator()
	searched := a.plan == "optimal"
	switch {
	case !searched && a.blocks:
		return design.Plan{}, badDesign("blocks go with the plan \"optimal\"; a composite plan has its own two with the star \"blocked\", a fraction its two halves with foldover")
	case !searched && len(a.Fixed) > 0:
		return design.Plan{}, badDesign("runs that are made already go with the plan \"optimal\"")
	case a.foldover && a.plan != "fraction":
		return design.Plan{}, badDesign("foldover goes with the plan \"fraction\"")
	case a.centre >= 0 && a.plan != "box-behnken" && a.plan != "composite":
		return design.Plan{}, badDesign("centre runs go with the plans \"box-behnken\" and \"composite\"; a searched plan repeats what serves best")
	}
	if !searched {
		for _, fac := range a.Factors {
			if fac.HeldIn != "" {
				return design.Plan{}, badDesign("%s stays the same within each %s, which only the plan \"optimal\" heeds", fac.Name, fac.HeldIn)
			}
		}
	}
	switch a.plan {
	case "optimal":
		found, err := design.Optimal(a.Search, rng)
		if err != nil {
			return design.Plan{}, err
		}
		f.Criterion = []string{"D", "I", "A"}[a.Criterion]
		f.Search = &designSearch{found.Starts, found.Hits, round4(found.Score)}
		return found.Plan, nil
	case "every":
		return design.Factorial(a.Factors)
	case "fraction":
		p := 0
		if a.Runs > 0 {
			if bits.OnesCount(uint(a.Runs)) != 1 || a.Runs > 1<<min(len(a.Factors), 20) {
				return design.Plan{}, badDesign("a fraction of %d factors has 4, 8, 16 ... up to %d runs, not %d", len(a.Factors), 1<<min(len(a.Factors), 7), a.Runs)
			}
			p = len(a.Factors) - bits.TrailingZeros(uint(a.Runs))
		}
		fr, err := design.Fractional(ends(a.Factors), p)
		if err != nil {
			return design.Plan{}, err
		}
		f.Generators = fr.Generators
		if a.foldover {
			fr = fr.Foldover(0)
		}
		f.Resolution = fr.Resolution()
		return fr.Plan, nil
	case "screening":
		if a.Runs == 0 {
			if a.Runs = 12; len(a.Factors) > 11 {
				a.Runs = 20
			}
		}
		return design.PlackettBurman(ends(a.Factors), a.Runs)
	case "box-behnken":
		return design.BoxBehnken(a.Factors, a.centre)
	case "composite":
		ask := design.CompositeAsk{Star: a.star, Within: true, CentreCorner: 3}
		if len(a.Factors) >= 5 {
			ask.P = 1
		}
		if a.centre >= 0 {
			ask.CentreCorner = a.centre
		}
		if a.star == design.Blocked {
			ask.CentreStar = ask.CentreCorner
		}
		return design.Composite(a.Factors, ask)
	case "latin":
		return design.LatinPlan(a.Factors)
	case "L9":
		return design.L9(a.Factors)
	case "L18":
		return design.L18(a.Factors)
	case "filling":
		return design.SpaceFilling(a.Factors, a.Runs, a.Forbidden, rng)
	}
	return design.Plan{}, badDesign("the plan %q is none; write optimal, every, fraction, screening, box-behnken, composite, latin, L9, L18 or filling", a.plan)
}

// ends gives continuous factors without settings just their two ends.
func ends(fs []design.Factor) []design.Factor {
	out := slices.Clone(fs)
	for i, f := range out {
		if !f.Category() && len(f.Settings) == 0 {
			out[i].Settings = []float64{f.Low, f.High}
		}
	}
	return out
}

// answer makes the plan and says what it is worth.
func (a asked) answer() (designed, error) {
	f := designed{Seed: a.seed, See: a.question.Difference, Spread: a.question.Spread, Runs: []map[string]any{}, Order: []designMade{}, Confounded: []string{}, Mixed: []designMixed{}, Sees: []designSees{}}
	p, err := a.build(&f)
	if err != nil {
		return f, err
	}
	if f.Plan != "optimal" && a.modelled {
		p.Model = a.Model
	}
	if f.Plan != "optimal" && a.Forbidden != nil {
		if n := len(slices.DeleteFunc(slices.Clone(p.Runs), func(r []float64) bool { return !a.Forbidden(r) })); n > 0 {
			return f, badDesign("%d of the %d runs of the plan %q are forbidden; the plan \"optimal\" goes round them", n, len(p.Runs), f.Plan)
		}
	}
	if f.Plan != "optimal" && f.Plan != "filling" && a.Runs > 0 && a.Runs != len(p.Runs) && !a.foldover {
		return f, badDesign("the plan %q has %d runs for these factors, not %d; leave runs out, or take the plan \"optimal\"", f.Plan, len(p.Runs), a.Runs)
	}
	for _, t := range p.Model {
		f.Model = append(f.Model, design.Words(t))
	}
	for _, fac := range p.Factors {
		f.factors = append(f.factors, fac.Name)
	}
	for _, g := range p.Groups {
		f.kinds = append(f.kinds, g.Name)
	}
	for i, run := range p.Runs {
		m := map[string]any{"run": i + 1}
		for j, fac := range p.Factors {
			if fac.Category() {
				m[fac.Name] = fac.Says(run[j])
			} else {
				m[fac.Name] = fac.Value(run[j])
			}
		}
		if i < len(a.Fixed) {
			m["made"] = true
		}
		if len(p.Groups) > 0 {
			in := map[string]int{}
			for _, g := range p.Groups {
				in[g.Name] = g.Of[i] + 1
			}
			m["blocks"] = in
		}
		f.Runs = append(f.Runs, m)
	}
	bench := p.UsualBench(len(a.Fixed))
	if a.repeats != nil {
		bench.Repeats = *a.repeats
	}
	if a.blanks != nil {
		bench.Blanks = *a.blanks
	}
	order, err := p.Bench(bench, a.generator())
	if err != nil {
		return f, err
	}
	for i, s := range order {
		m := designMade{Order: i + 1, What: "run", Run: s.Run + 1}
		switch {
		case s.Run < 0:
			m.What = "blank"
		case s.Repeat:
			m.What = "repeat"
		}
		if len(p.Groups) > 0 {
			m.Blocks = map[string]int{}
			for g, kind := range f.kinds {
				m.Blocks[kind] = s.Blocks[g] + 1
			}
		}
		f.Order = append(f.Order, m)
	}
	f.Swatches = len(f.Order)
	switch e, err := p.Efficiency(a.Forbidden); {
	case err == nil:
		f.Efficiency = &designEfficiency{round6(e.D), round6(e.A), round6(e.G), round6(e.I)}
	case !errors.Is(err, design.ErrSingular):
		return f, err
	}
	mixed, err := p.Confounded()
	if err != nil {
		return f, err
	}
	for _, m := range mixed {
		if m.With == nil {
			m.With = []string{}
		}
		f.Confounded = append(f.Confounded, m.Words)
		f.Mixed = append(f.Mixed, designMixed{m.Effect, m.With, round4(m.Share)})
	}
	if f.CannotTell, err = p.Blind(a.question); err != nil {
		return f, err
	}
	if f.Efficiency != nil {
		sees, err := p.Sees(a.question)
		if err != nil {
			return f, err
		}
		for _, s := range sees {
			f.Sees = append(f.Sees, designSees{s.Factor, s.From, s.To, round4(s.Least), s.DF})
		}
	}
	// More than can be made is no answer, and no reason to refuse the plan.
	if n, err := design.SwatchesToSee(a.question, 2); err == nil {
		f.PerLevel = &n
	}
	f.Assumed = a.assumed
	if a.repeats == nil && bench.Repeats > 0 || a.blanks == nil {
		f.Assumed = append(f.Assumed, assumed{"repeats and blanks", fmt.Sprintf("%d and %d", count(f.Order, "repeat"), count(f.Order, "blank")), "common practice, no source; repeats and blanks in the spec change it"})
	}
	return f, nil
}

func count(order []designMade, what string) int {
	n := 0
	for _, m := range order {
		if m.What == what {
			n++
		}
	}
	return n
}

// tell writes the answer for people: what to make, then what it can't tell.
func (f designed) tell(t *term) {
	t.printf("%d swatches, in this order (seed %d): runs %d, repeats %d, blanks %d.\n\n", f.Swatches, f.Seed, count(f.Order, "run"), count(f.Order, "repeat"), count(f.Order, "blank"))
	tw := tabwriter.NewWriter(t.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(tw, "make\t%s\n", strings.Join(slices.Concat(f.kinds, []string{"run"}, f.factors), "\t"))
	for _, m := range f.Order {
		cells := []string{fmt.Sprint(m.Order)}
		for _, k := range f.kinds {
			cells = append(cells, fmt.Sprint(m.Blocks[k]))
		}
		if m.What == "blank" {
			cells = append(cells, "blank: goes along untreated")
		} else {
			name := fmt.Sprint(m.Run)
			if m.What == "repeat" {
				name += " again"
			}
			cells = append(cells, name)
			for _, fac := range f.factors {
				if v, ok := f.Runs[m.Run-1][fac].(float64); ok {
					cells = append(cells, fmt.Sprintf("%.4g", v))
				} else {
					cells = append(cells, fmt.Sprint(f.Runs[m.Run-1][fac]))
				}
			}
		}
		fmt.Fprintln(tw, strings.Join(cells, "\t"))
	}
	// A failed write is remembered by the answer.
	_ = tw.Flush()
	t.printf("\nWhat it can't tell:\n")
	for i, s := range f.Confounded {
		if i == mostMixed {
			t.printf("- and %d more that are mixed up (--json lists them)\n", len(f.Confounded)-i)
			break
		}
		t.printf("- It %s.\n", itSays(s))
	}
	for _, s := range f.CannotTell {
		t.printf("- %s\n", s)
	}
	if len(f.Sees) > 0 {
		t.printf("\nWhat it shows, 4 times in 5, when swatches made alike differ by %g ΔE00:\n", f.Spread)
		for _, s := range f.Sees {
			t.printf("- %s: a difference of %.2g ΔE00 between %s and %s\n", s.Factor, s.Least, s.From, s.To)
		}
	}
	if f.PerLevel != nil {
		t.printf("\nTo see %g ΔE00 between two levels takes %d swatches of each.\n", f.See, *f.PerLevel)
	}
	if e := f.Efficiency; e != nil {
		t.printf("For %s: D %.4f, A %.4f, G %.4f, I %.4f (NIST/SEMATECH e-Handbook).\n", strings.Join(f.Model, ", "), e.D, e.A, e.G, e.I)
	}
	if f.Resolution > 0 {
		t.printf("Resolution %d, generators %s.\n", f.Resolution, strings.Join(f.Generators, " "))
	}
	for _, a := range f.Assumed {
		t.printf("Assumed: %s %s (%s).\n", a.What, a.Value, a.Source)
	}
}

// mostMixed is how many confoundings are told to people.
const mostMixed = 12

// itSays makes a sentence that begins with It of what is mixed up.
func itSays(s string) string {
	if strings.HasPrefix(s, "can't tell") {
		return s
	}
	return "can hardly tell some apart: " + s
}
