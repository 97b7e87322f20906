package taste

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// Settings are the levels of a set's factors that each face received.
type Settings map[studio.FaceOf][]studio.Setting

// SettingsOf returns what each face of a set received, from its treatments' first
// layers.
func SettingsOf(treatments []studio.Treatment) Settings {
	out := Settings{}
	for _, t := range treatments {
		if t.Layer != 1 || t.Blank || len(t.Settings) == 0 {
			continue
		}
		for _, f := range studio.BothFaces {
			if t.Faces == studio.OnBoth || string(t.Faces) == string(f) {
				out[studio.FaceOf{Swatch: t.Swatch, Face: f}] = t.Settings
			}
		}
	}
	return out
}

// A Claim says in one sentence what a factor of a set does to how swatches are liked.
type Claim struct {
	Factor string
	Words  string
	Sure   bool
	Why    string // why it can't be told
	// Swatches are those behind it.
	Swatches []int64
}

// A unit is what one claim counts once: the faces of one swatch that were made alike.
type unit struct {
	swatch int64
	levels map[string]studio.Level
	y      float64
	n      float64
}

func (s Settings) units(faces []studio.FaceOf, value func(studio.FaceOf) (float64, bool)) []unit {
	var out []unit
	at := map[string]int{}
	for _, f := range faces {
		set, there := s[f]
		v, ok := value(f)
		if !there || !ok {
			continue
		}
		u := unit{swatch: f.Swatch, levels: map[string]studio.Level{}}
		key := fmt.Sprint(f.Swatch)
		for _, x := range set {
			u.levels[x.Factor] = x.Level
			key += "\x00" + x.Level.Label
		}
		i, known := at[key]
		if !known {
			i = len(out)
			at[key] = i
			out = append(out, u)
		}
		out[i].y += v
		out[i].n++
	}
	for i := range out {
		out[i].y /= out[i].n
	}
	return out
}

// varied returns the factors of which the units have more than one level, with their
// labels in the set's order.
func varied(set studio.Set, units []unit) (factors []studio.Factor, labels map[string][]string) {
	labels = map[string][]string{}
	for _, f := range set.Factors {
		var there []string
		for _, l := range f.Levels {
			if slices.ContainsFunc(units, func(u unit) bool { x, ok := u.levels[f.Name]; return ok && x.Label == l.Label }) {
				there = append(there, l.Label)
			}
		}
		if len(there) > 1 {
			factors = append(factors, f)
			labels[f.Name] = there
		}
	}
	return factors, labels
}

// model returns the linear model of all factors; numeric ones are taken as straight
// lines where they have three levels or more.
func model(factors []studio.Factor, labels map[string][]string, units []unit) stat.Model {
	m := stat.Model{Conf: Confidence}
	for _, u := range units {
		m.Response = append(m.Response, u.y)
	}
	for _, f := range factors {
		c := stat.Column{Name: f.Name}
		line := straight(f, labels[f.Name])
		for _, u := range units {
			if line {
				c.Numbers = append(c.Numbers, u.levels[f.Name].Number)
			} else {
				c.Labels = append(c.Labels, u.levels[f.Name].Label)
			}
		}
		if !line {
			c.Levels = labels[f.Name]
		}
		m.Columns = append(m.Columns, c)
		m.Terms = append(m.Terms, stat.Term{f.Name})
	}
	return m
}

// straight says whether a factor is taken as a straight line: its levels are numbers,
// not hand amounts, and there are three or more.
func straight(f studio.Factor, labels []string) bool {
	var numbers []float64
	for _, l := range f.Levels {
		if slices.Contains(labels, l.Label) && !slices.Contains(numbers, l.Number) {
			numbers = append(numbers, l.Number)
		}
	}
	return f.Kind.Numeric() && len(numbers) > 2 && len(numbers) == len(labels) && slices.IsSorted(numbers)
}

// CausesOf says which settings of a set are preferred. What is compared are swatches,
// not choices: the same swatch chosen again and again is one swatch that is liked, not
// proof that its setting is. A claim is sure when the swatches of its settings differ
// by more than those alike scatter, all factors judged together (Holm 1979).
func CausesOf(set studio.Set, f *Fit, choices []studio.Choice, settings Settings) []Claim {
	units := settings.units(f.Faces, func(x studio.FaceOf) (float64, bool) { s, _ := f.Strength(x); return s, !math.IsNaN(s) })
	factors, labels := varied(set, units)
	if len(factors) == 0 {
		return nil
	}
	ps, why := judge(model(factors, labels, units), factors)
	var out []Claim
	for i, factor := range factors {
		c := Claim{Factor: factor.Name, Swatches: swatchesOf(units), Why: why}
		more, less, high, low := ends(factor, labels[factor.Name], units)
		won, of := met(choices, settings, factor.Name, high, low)
		c.Sure = why == "" && ps[i] < 1-Confidence
		switch {
		case c.Sure && of > 0:
			c.Words = fmt.Sprintf("%s: %s is preferred to %s, %d of the %d times they met.", capital(factor.Name), more, less, won, of)
		case c.Sure:
			c.Words = fmt.Sprintf("%s: swatches with %s are liked better than those with %s.", capital(factor.Name), more, less)
		default:
			c.Words = fmt.Sprintf("%s: can’t tell which is preferred", capital(factor.Name))
			if of > 0 {
				c.Words += fmt.Sprintf("; %s was chosen over %s %d of the %d times they met", more, less, won, of)
			}
			c.Words += "."
			if c.Why == "" {
				c.Why = "Swatches made alike differ about as much in how they are liked."
			}
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b Claim) int { return cmp.Compare(weight(b), weight(a)) })
	return out
}

func weight(c Claim) int {
	if c.Sure {
		return 1
	}
	return 0
}

// judge returns the chance of each factor's effect by luck, raised for all factors
// together, or why it can't be judged.
func judge(m stat.Model, factors []studio.Factor) ([]float64, string) {
	const alone = "No two swatches were made alike, or too few, so what chance does is not known."
	fit, err := stat.FitLinear(m)
	if err != nil || fit.DF < 1 {
		return nil, alone
	}
	if len(fit.Aliases) > 0 {
		return nil, "Two settings always went together, so their effects can’t be told apart."
	}
	rows, err := fit.Anova(2)
	if err != nil {
		return nil, alone
	}
	ps := make([]float64, len(factors))
	for i, f := range factors {
		ps[i] = 1
		for _, r := range rows {
			if r.Term == f.Name && !math.IsNaN(r.P) {
				ps[i] = r.P
			}
		}
	}
	return stat.Holm(ps), ""
}

// ends returns the two ends of a factor that are liked most unlike, in words and as
// labels: of a straight line its two sides, else the best level and the worst.
func ends(f studio.Factor, labels []string, units []unit) (more, less string, high, low []string) {
	mean := map[string]float64{}
	n := map[string]float64{}
	for _, u := range units {
		l := u.levels[f.Name].Label
		mean[l] += u.y
		n[l]++
	}
	for l := range mean {
		mean[l] /= n[l]
	}
	if straight(f, labels) {
		half := len(labels) / 2
		a, b := labels[:half], labels[len(labels)-half:]
		sum := func(ls []string) (s float64) {
			for _, l := range ls {
				s += mean[l] / float64(len(ls))
			}
			return s
		}
		if sum(b) >= sum(a) {
			return fmt.Sprintf("more (%s)", strings.Join(b, ", ")), fmt.Sprintf("less (%s)", strings.Join(a, ", ")), b, a
		}
		return fmt.Sprintf("less (%s)", strings.Join(a, ", ")), fmt.Sprintf("more (%s)", strings.Join(b, ", ")), a, b
	}
	sorted := slices.Clone(labels)
	slices.SortStableFunc(sorted, func(a, b string) int { return cmp.Compare(mean[b], mean[a]) })
	best, worst := sorted[0], sorted[len(sorted)-1]
	return best, worst, []string{best}, []string{worst}
}

// met counts how often a face of the high labels was chosen over one of the low, and how
// often two such stood side by side and one was chosen.
func met(choices []studio.Choice, settings Settings, factor string, high, low []string) (won, of int) {
	side := func(f studio.FaceOf) int {
		for _, s := range settings[f] {
			if s.Factor != factor {
				continue
			}
			if slices.Contains(high, s.Level.Label) {
				return 1
			}
			if slices.Contains(low, s.Level.Label) {
				return -1
			}
		}
		return 0
	}
	for _, c := range choices {
		l, r := side(c.Left), side(c.Right)
		if l*r != -1 || c.Chosen != studio.ChoseLeft && c.Chosen != studio.ChoseRight {
			continue
		}
		of++
		if (l == 1) == (c.Chosen == studio.ChoseLeft) {
			won++
		}
	}
	return won, of
}

func swatchesOf(units []unit) []int64 {
	var out []int64
	for _, u := range units {
		if !slices.Contains(out, u.swatch) {
			out = append(out, u.swatch)
		}
	}
	slices.Sort(out)
	return out
}

func capital(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
