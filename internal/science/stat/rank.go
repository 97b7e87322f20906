package stat

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Choice is the outcome of comparing A with B: how often A was chosen, how often B, and
// how often neither (ties).
type Choice struct {
	A, B             string
	WinA, WinB, Ties float64
}

// Ability is how often a thing wins, on the log odds scale.
type Ability struct {
	Name         string
	Estimate     float64 // against the reference
	SE           float64
	Low, High    float64
	PlainWins    float64 // ties count half
	Comparisons  float64
	WinsOverMean float64 // chance to be chosen over one of the mean ability, 0 to 1
	reference    bool
}

// Ranking is a Bradley-Terry model of choices, Davidson's where there are ties.
type Ranking struct {
	Abilities []Ability // best first
	Reference string    // whose ability is 0, or "mean" when the mean is
	Tie       float64   // Davidson's tie parameter, 0 without ties
	Deviance  float64   // against a free chance for every pair
	DF        int
	P         float64 // that one order explains the pairs (small: it does not); NaN when nothing is left
	LogLik    float64
}

// Difference returns the difference in ability of two things and its standard error.
type Difference struct {
	A, B         string
	Estimate, SE float64
	Low, High, P float64
}

// FitChoices ranks things from paired choices. reference is the thing whose ability is
// set to 0; "" sets the mean of all to 0. Conf 0 means 0.95. ErrNoFit says that no
// finite order exists: some thing won or lost everything, or two groups were never
// compared. Source: Bradley and Terry 1952; Davidson 1970. Checked against R's
// BradleyTerry2.
func FitChoices(choices []Choice, reference string, conf float64) (*Ranking, []Difference, error) {
	if conf == 0 {
		conf = 0.95
	}
	if _, err := critical(conf, 10); err != nil {
		return nil, nil, err
	}
	names, pairs, err := gather(choices)
	if err != nil {
		return nil, nil, err
	}
	if reference != "" && !slices.Contains(names, reference) {
		return nil, nil, fmt.Errorf("%w: %q was never compared", ErrModel, reference)
	}
	if err := connected(names, pairs); err != nil {
		return nil, nil, err
	}
	n := len(names)
	tied := false
	for _, p := range pairs {
		tied = tied || p.ties > 0
	}
	free := n - 1
	size := free
	if tied {
		size++
	}
	l := choiceLikelihood(pairs, free, tied)
	at, cov, err := l.climb(make([]float64, size))
	if err != nil {
		return nil, nil, err
	}
	ability := func(i int) float64 {
		if i < free {
			return at[i]
		}
		return 0
	}
	// the covariance of the sum of weights times abilities; the last is the fixed one
	variance := func(w []float64) float64 {
		v := 0.0
		for a := range free {
			for b := range free {
				v += w[a] * w[b] * cov.At(a, b)
			}
		}
		return max(0, v)
	}
	mean := 0.0
	for i := range n {
		mean += ability(i) / float64(n)
	}
	zero := mean
	r := &Ranking{Reference: "mean"}
	at0 := slices.Index(names, reference)
	if at0 >= 0 {
		zero, r.Reference = ability(at0), reference
	}
	z, _ := critical(conf, math.Inf(1))
	for i, name := range names {
		w := make([]float64, n)
		for k := range w {
			if at0 < 0 {
				w[k] = -1 / float64(n)
			} else if k == at0 {
				w[k] = -1
			}
		}
		w[i]++
		a := Ability{Name: name, Estimate: ability(i) - zero, SE: math.Sqrt(variance(w)), reference: i == at0, WinsOverMean: expit(ability(i) - mean)}
		a.Low, a.High = a.Estimate-z*a.SE, a.Estimate+z*a.SE
		for _, p := range pairs {
			if p.a == i {
				a.PlainWins += p.winA + p.ties/2
			} else if p.b == i {
				a.PlainWins += p.winB + p.ties/2
			} else {
				continue
			}
			a.Comparisons += p.winA + p.winB + p.ties
		}
		r.Abilities = append(r.Abilities, a)
	}
	var differences []Difference
	for i := range n {
		for j := i + 1; j < n; j++ {
			w := make([]float64, n)
			w[i], w[j] = 1, -1
			d := Difference{A: names[i], B: names[j], Estimate: ability(i) - ability(j), SE: math.Sqrt(variance(w))}
			d.Low, d.High, d.P = d.Estimate-z*d.SE, d.Estimate+z*d.SE, twoSided(d.Estimate/d.SE, math.Inf(1))
			differences = append(differences, d)
		}
	}
	sort.SliceStable(r.Abilities, func(a, b int) bool { return r.Abilities[a].Estimate > r.Abilities[b].Estimate })
	r.LogLik = l.value(at)
	most := 0.0
	for _, p := range pairs {
		all := p.winA + p.winB + p.ties
		for _, k := range []float64{p.winA, p.winB, p.ties} {
			if k > 0 {
				most += k * math.Log(k/all)
			}
		}
		r.DF++
		if tied {
			r.DF++
		}
	}
	r.Deviance = max(0, 2*(most-r.LogLik))
	r.DF -= size
	if tied {
		r.Tie = math.Exp(at[free])
	}
	r.P = upperChi(r.Deviance, r.DF)
	return r, differences, nil
}

type pairCount struct {
	a, b             int
	winA, winB, ties float64
}

func gather(choices []Choice) ([]string, []pairCount, error) {
	seen := map[string]bool{}
	var names []string
	for i, c := range choices {
		if c.A == c.B || c.A == "" || c.B == "" {
			return nil, nil, fmt.Errorf("%w: comparison %d sets %q against %q", ErrModel, i+1, c.A, c.B)
		}
		for _, k := range []float64{c.WinA, c.WinB, c.Ties} {
			if !(k >= 0) || math.IsInf(k, 0) {
				return nil, nil, fmt.Errorf("%w: comparison %d counts %v", ErrNotFinite, i+1, k)
			}
		}
		for _, name := range []string{c.A, c.B} {
			if !seen[name] {
				seen[name] = true
				names = append(names, name)
			}
		}
	}
	sort.Strings(names)
	index := map[string]int{}
	for i, name := range names {
		index[name] = i
	}
	merged := map[[2]int]*pairCount{}
	var order [][2]int
	for _, c := range choices {
		a, b := index[c.A], index[c.B]
		if a > b {
			a, b, c.WinA, c.WinB = b, a, c.WinB, c.WinA
		}
		if c.WinA+c.WinB+c.Ties == 0 {
			continue
		}
		k := [2]int{a, b}
		if merged[k] == nil {
			merged[k] = &pairCount{a: a, b: b}
			order = append(order, k)
		}
		merged[k].winA += c.WinA
		merged[k].winB += c.WinB
		merged[k].ties += c.Ties
	}
	if len(order) == 0 {
		return nil, nil, ErrTooFew
	}
	var pairs []pairCount
	for _, k := range order {
		pairs = append(pairs, *merged[k])
	}
	return names, pairs, nil
}

// connected checks Ford's condition (1957): in every split into two groups each has
// won something from the other.
func connected(names []string, pairs []pairCount) error {
	reach := func(forward bool) []bool {
		got := make([]bool, len(names))
		got[0] = true
		queue := []int{0}
		for len(queue) > 0 {
			at := queue[0]
			queue = queue[1:]
			for _, p := range pairs {
				aBeats, bBeats := p.winA+p.ties > 0, p.winB+p.ties > 0
				if !forward {
					aBeats, bBeats = bBeats, aBeats
				}
				if p.a == at && aBeats && !got[p.b] {
					got[p.b] = true
					queue = append(queue, p.b)
				}
				if p.b == at && bBeats && !got[p.a] {
					got[p.a] = true
					queue = append(queue, p.a)
				}
			}
		}
		return got
	}
	down, up := reach(true), reach(false)
	var stray []string
	for i, name := range names {
		if !down[i] || !up[i] {
			stray = append(stray, name)
		}
	}
	if len(stray) > 0 {
		return fmt.Errorf("%w: %s and %s can't be put on one scale, because one side won every comparison or there was none; compare them again", ErrNoFit, names[0], list(stray))
	}
	return nil
}

func choiceLikelihood(pairs []pairCount, free int, tied bool) likelihood {
	ability := func(p []float64, i int) float64 {
		if i < free {
			return p[i]
		}
		return 0
	}
	// chances of a win of a, of b and of a tie
	chances := func(p []float64, c pairCount) (a, b, tie float64) {
		d := ability(p, c.a) - ability(p, c.b)
		if !tied {
			return expit(d), expit(-d), 0
		}
		ea, eb, et := d/2, -d/2, p[free]
		top := max(ea, eb, et)
		a, b, tie = math.Exp(ea-top), math.Exp(eb-top), math.Exp(et-top)
		sum := a + b + tie
		return a / sum, b / sum, tie / sum
	}
	return likelihood{
		value: func(p []float64) float64 {
			sum := 0.0
			for _, c := range pairs {
				a, b, tie := chances(p, c)
				for _, k := range [][2]float64{{c.winA, a}, {c.winB, b}, {c.ties, tie}} {
					if k[0] > 0 {
						sum += k[0] * math.Log(k[1])
					}
				}
			}
			return sum
		},
		gradient: func(p, g []float64) {
			clear(g)
			for _, c := range pairs {
				a, b, tie := chances(p, c)
				n := c.winA + c.winB + c.ties
				d := c.winA - n*a
				if tied {
					d = (c.winA - c.winB - n*(a-b)) / 2
					g[free] += c.ties - n*tie
				}
				if c.a < free {
					g[c.a] += d
				}
				if c.b < free {
					g[c.b] -= d
				}
			}
		},
	}
}
