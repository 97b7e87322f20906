package learn

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// A Timed is when a change came on one face, as far as it was watched: after NotYet and
// by By, in hours; By is +Inf when it had not come at the last look ("not yet at 3 h").
type Timed struct {
	Swatch     int64
	Settings   []studio.Setting
	NotYet, By float64
}

// ExplainTimes says how much longer a change takes at one level of each factor than at
// the first or, of numbers, the lowest: ratios of times with intervals that hold
// together. Times are taken to scatter evenly by their logarithm, looks in between count
// for what they are. It returns a warning in place of claims when the looks say too
// little. what is what happens, such as "the salt to dissolve". Source: Tobin 1958, as
// in stat.FitCensored.
func ExplainTimes(set studio.Set, times []Timed, what string) (claims []Claim, why string) {
	var seen []stat.Seen
	var kept []Timed
	exact := 0
	for _, x := range times {
		known := x.By > max(x.NotYet, 0) && x.NotYet >= 0 && (x.NotYet > 0 || !math.IsInf(x.By, 1))
		for _, f := range set.Factors {
			_, ok := levelOf(f, x.Settings)
			known = known && ok
		}
		if !known {
			continue
		}
		low := math.Inf(-1)
		if x.NotYet > 0 {
			low = math.Log(x.NotYet)
		}
		if !math.IsInf(x.By, 1) {
			exact++
		}
		kept, seen = append(kept, x), append(seen, stat.Seen{Low: low, High: math.Log(x.By)})
	}
	m := stat.Model{Conf: ExplainConfidence}
	used := map[string]int{}
	for k, f := range set.Factors {
		has := map[int]bool{}
		c := stat.Column{Name: fmt.Sprintf("f%d", k)}
		for _, x := range kept {
			l, _ := levelOf(f, x.Settings)
			has[l] = true
			c.Labels = append(c.Labels, levelName(l))
		}
		var order []int
		for l := range f.Levels {
			if has[l] {
				order = append(order, l)
			}
		}
		if len(order) < 2 {
			continue
		}
		sort.SliceStable(order, func(i, j int) bool { return place(f, order[i]) < place(f, order[j]) })
		for _, l := range order {
			c.Levels = append(c.Levels, levelName(l))
		}
		m.Columns, m.Terms = append(m.Columns, c), append(m.Terms, stat.Term{c.Name})
		for _, l := range order[1:] {
			used[fmt.Sprintf("f%d=%s", k, levelName(l))] = k
		}
	}
	if len(m.Terms) == 0 || exact < len(used)+3 {
		return nil, fmt.Sprintf("Too few faces were watched for %s to say what it goes by: seen to on %d, needed on %d.", what, exact, len(used)+3)
	}
	fit, err := stat.FitCensored(m, seen)
	if err != nil {
		return nil, fmt.Sprintf("What was watched does not settle how long it takes for %s.", what)
	}
	for _, x := range fit.Coefficients {
		k, ok := used[x.Name]
		if !ok || math.IsNaN(x.SE) || x.SE <= 0 {
			continue
		}
		f := set.Factors[k]
		i := slices.IndexFunc(m.Columns, func(c stat.Column) bool { return x.Term == c.Name })
		if i < 0 {
			continue
		}
		// few faces: Student's quantile in place of the normal one keeps what is promised
		c := contrast{value: x.Estimate, se: x.SE, df: float64(len(kept) - len(used) - 1)}
		low, high := c.interval(len(used))
		ch := Change{Name: "times as long", Value: math.Exp(c.value), Low: math.Exp(low), High: math.Exp(high), Sure: low > 0 || high < 0}
		from, to := label(f, m.Columns[i].Levels[0]), label(f, x.Name[len(x.Term)+1:])
		cl := Claim{Factor: f.Name, From: from, To: to, Aspect: OfTime, Changes: []Change{ch}, Standing: CantTell, strength: math.Abs(c.value) / c.se}
		for _, r := range kept {
			if !slices.Contains(cl.Swatches, r.Swatch) {
				cl.Swatches = append(cl.Swatches, r.Swatch)
			}
		}
		subject := fmt.Sprintf("%s rather than %s", upper(to), from)
		if f.Kind.Numeric() {
			subject = fmt.Sprintf("%s from %s to %s", upper(f.Name), from, to)
		}
		if ch.Sure {
			cl.Standing = Shown
			cl.Words = fmt.Sprintf("%s: it takes %s times as long for %s, between %s and %s.", subject, signed(round2(ch.Value)), what, signed(round2(ch.Low)), signed(round2(ch.High)))
		} else {
			cl.Why = "the watched times scatter too much, or are too few"
			cl.Words = fmt.Sprintf("%s: can't tell whether it changes how long it takes for %s (%s to %s times as long).", subject, what, signed(round2(ch.Low)), signed(round2(ch.High)))
		}
		claims = append(claims, cl)
	}
	sort.SliceStable(claims, func(i, j int) bool { return claims[i].strength > claims[j].strength })
	return claims, ""
}

// OfTime is how long something takes.
const OfTime Aspect = "time"

func label(f studio.Factor, level string) string {
	for l := range f.Levels {
		if levelName(l) == level {
			return f.Levels[l].Label
		}
	}
	return ""
}

func round2(v float64) float64 { return math.Round(100*v) / 100 }
