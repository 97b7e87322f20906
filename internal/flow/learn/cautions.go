package learn

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/stat"

	"gonum.org/v1/gonum/stat/distuv"
)

// alarm is how seldom a warning is to be given where nothing is wrong, over all numbers
// of a look together.
const alarm = 0.05

// check adds the warnings that the fitted models call for.
func (t *trial) check() {
	if len(t.fits) == 0 {
		t.warn(stat.NothingLeft, nil, "There are too few swatches for the factors varied: nothing is left to judge chance by. Make some of them again.")
		return
	}
	first := t.fits[0].linear
	for _, a := range first.Aliases {
		of := map[string]bool{}
		for _, w := range a.Of {
			if name := t.factorName(w.Name); name != "" {
				of[name] = true
			}
		}
		for _, other := range t.factors {
			if of[other.Name] && t.factorName(a.Name) != "" {
				t.warn(stat.Confounded, nil, "%s and %s changed together, so their effects can't be told apart. What is said of one may be due to the other.", upper(other.Name), t.factorName(a.Name))
				break
			}
		}
	}
	t.warnOfBlur()
	alone := slices.ContainsFunc(t.fits, func(f responseFit) bool { return f.alone != nil })
	if l := first.LackOfFit(); l.PureDF == 0 && alone {
		t.warn(stat.NoReplicate, nil, "With no repeats we judged by the smaller effects: what stands far out from them is named, and if most of what was varied matters, nothing will be. Make at least one setting twice.")
	} else if l.PureDF == 0 {
		t.warn(stat.NoReplicate, nil, "No two swatches were made alike, so chance is judged only by what is left over when every factor acts by itself. Make at least one setting twice.")
	} else if p, what := t.least(func(f responseFit) float64 { return f.linear.LackOfFit().P }); p < alarm {
		kind := "the effect of one factor depends on another"
		if t.line || len(t.factors) == 1 {
			kind = "the change is not a straight line"
		}
		t.warn(stat.Misfit, nil, "Swatches made alike agree better with each other than with these sentences (%s): it looks as if %s. Read the chart, and each combination by itself.", what, kind)
	}
	// the three below judge what swatches leave over, once the shifts of their block are off
	if p, what := t.trend(func(r Row) float64 { return r.PadAge }); p.p < alarm {
		t.warn(PadWeaker, nil, "Swatches that went in on an older pad have %s %s (p = %s): the pad got weaker, or something else aged with it.", what, higher(p.value), pText(p.p))
	} else if p, what := t.trend(func(r Row) float64 { return r.Order }); p.p < alarm {
		t.warn(stat.Drift, nil, "From the first swatch made to the last, %s drifts %s (p = %s): something that was not written down changed on the way.", what, map[bool]string{true: "up", false: "down"}[p.value > 0], pText(p.p))
	}
	t.odd()
}

// warnOfBlur names the factors that change together with two others, and those that take
// a part of many pairs.
func (t *trial) warnOfBlur() {
	var first string
	var more []string
	for k, f := range t.factors {
		switch ps := t.blur[k]; {
		case len(ps) > 0 && first == "":
			first = fmt.Sprintf("%s from %s", f.Name, t.pairNames(ps))
		case len(ps) > 0:
			more = append(more, f.Name)
		}
	}
	if first != "" {
		same := ""
		if len(more) > 0 {
			same = fmt.Sprintf(" The same goes for %s, each with pairs of its own.", join(more))
		}
		t.warn(stat.Confounded, nil, "So few combinations can't tell %s: what is said of the one may be due to the other.%s", first, same)
	}
	var mixed []string
	for k, f := range t.factors {
		if t.muddled[k] && len(t.blur[k]) == 0 {
			mixed = append(mixed, f.Name)
		}
	}
	if len(mixed) > 0 && first == "" {
		t.warn(stat.Entangled, nil, "If what one thing does depends on another, a part of it is counted here as the effect of a third (%s). Make a grid of those that matter before trusting them.", join(mixed))
	}
}

// least returns the smallest probability over all responses, corrected for their number.
func (t *trial) least(of func(responseFit) float64) (float64, string) {
	best, what := 1.0, ""
	for _, f := range t.fits {
		if p := of(f) * float64(len(t.fits)); p < best {
			best, what = p, f.name
		}
	}
	return best, what
}

// trend looks for a response that goes with a number the plan did not set.
func (t *trial) trend(get func(Row) float64) (best contrast, what string) {
	best.p = 1
	for _, f := range t.fits {
		m := t.model(f.response, f.at, -1, 0)
		c := stat.Column{Name: "with"}
		for _, i := range f.at {
			c.Numbers = append(c.Numbers, get(t.rows[i]))
		}
		for _, v := range c.Numbers {
			if math.IsNaN(v) {
				return best, what
			}
		}
		m.Columns, m.Terms = append(m.Columns, c), append(m.Terms, stat.Term{"with"})
		fit, err := stat.FitLinear(m)
		if err != nil || fit.DF < 2 {
			continue
		}
		cs := fit.Coefficients
		if random := t.randoms(f.at); len(random) > 0 {
			mixed, err := fitMixed(m, random)
			if err != nil {
				continue
			}
			cs = mixed.Coefficients
		}
		for _, x := range cs {
			if p := x.P * float64(len(t.fits)); x.Name == "with" && p < best.p {
				best, what = contrast{value: x.Estimate, se: x.SE, df: x.DF, p: p}, f.name
			}
		}
	}
	return best, what
}

// odd names the swatch that lies farthest from what all others say, if it is farther
// than the farthest of so many should be. Source: Cook and Weisberg 1982.
func (t *trial) odd() {
	best, row, what := 1.0, -1, ""
	for _, f := range t.fits {
		if f.linear.DF < 3 {
			continue
		}
		tail := distuv.StudentsT{Sigma: 1, Nu: float64(f.linear.DF - 1)}
		for i, s := range f.linear.Studentised {
			if math.IsNaN(s) {
				continue
			}
			if p := 2 * tail.Survival(math.Abs(s)) * float64(len(f.linear.Studentised)*len(t.fits)); p < best {
				best, row, what = p, f.at[i], f.name
			}
		}
	}
	if best < alarm {
		n := t.rows[row].Swatch
		t.warn(stat.Odd, []int64{n}, "Swatch %d lies far from what all the others say (%s): look at it and its photograph again before believing the rest.", n, what)
	}
}

// factorName turns a column of the model back into the person's word.
func (t *trial) factorName(column string) string {
	if k := t.factorPlace(column); k >= 0 {
		return t.factors[k].Name
	}
	return ""
}

func higher(v float64) string {
	if v > 0 {
		return "higher"
	}
	return "lower"
}

func pText(p float64) string {
	if p < 0.001 {
		return "under 0.001"
	}
	return signed(math.Round(1000*p) / 1000)
}

// diagnostics says of each response how it was read and how well.
func (t *trial) diagnostics() Table {
	out := Table{Columns: []string{"What", "Rows", "Left to judge chance", "Swatches made alike differ by (SD)", "Explained", "Shared shifts", "Misfit p", "Farthest swatch"}}
	for _, f := range t.fits {
		scale := map[Aspect]string{OfCoverage: " (logit)", OfPooling: " (log)"}[f.aspect]
		shared := "none"
		sd := f.linear.Sigma
		if f.alone != nil { // an effect is the difference of two halves
			sd = f.alone.pse * math.Sqrt(float64(len(f.at))) / 2
		}
		if f.mixed != nil {
			var parts []string
			for _, v := range f.mixed.Variances {
				if v.Name == "residual" {
					sd = v.SD
					continue
				}
				parts = append(parts, fmt.Sprintf("%s: SD %s", v.Name, signed(v.SD)))
			}
			shared = strings.Join(parts, ", ")
		}
		misfit := "not known"
		if p := f.linear.LackOfFit().P; !math.IsNaN(p) {
			misfit = pText(p)
		}
		far, most := "", 0.0
		for i, s := range f.linear.Studentised {
			if math.Abs(s) > most {
				most, far = math.Abs(s), fmt.Sprintf("%d (%s of its SD)", t.rows[f.at[i]].Swatch, one(s))
			}
		}
		out.Rows = append(out.Rows, []string{f.name + scale, fmt.Sprint(len(f.at)), fmt.Sprint(f.linear.DF), signed(sd) + scale, percent(f.linear.R2), shared, misfit, far})
	}
	return out
}

// method says in one sentence what was done.
func (t *trial) method() string {
	how := "least squares"
	for _, f := range t.fits {
		if f.alone != nil {
			how = "differences of means, judged by the smaller of them (Lenth)"
			break
		}
		if f.mixed != nil {
			how = "a mixed model (REML) with shifts shared by each " + join(t.random)
			break
		}
	}
	line := ""
	if t.line {
		line = " Numbers are taken as straight lines, as too few swatches were made for more."
	}
	if len(t.pairs) > 0 {
		pairs, lenth := 0, false
		for _, f := range t.fits {
			pairs = max(pairs, len(f.pairs))
			lenth = lenth || f.alone == nil && len(f.pairs) > 0 && f.pairs[0].effect.alone != nil
		}
		if pairs > 0 {
			line += fmt.Sprintf(" Whether one thing depends on another was looked at for %s.", count(pairs, "pair"))
		}
		if lenth {
			line += " With no repeats, that was judged by the smaller effects (Lenth)."
		}
	}
	return fmt.Sprintf("Read by %s, all factors at once; %s intervals that hold together for all %d differences looked at (Šidák).%s", how, percent(ExplainConfidence), t.family, line)
}
