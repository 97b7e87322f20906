package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"slices"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
)

var strategies = []string{"model with physics", "model without", "one factor at a time", "Latin hypercube"}

// most is where a model's search is given up, and where the others' is.
const most, mostPlain = 60, 1000

// score is how many swatches each strategy took, by strategy and search.
type score struct {
	took   [][]int
	rarity []float64
	seeds  int // searches on each bench
}

// compare runs all strategies toward the same targets.
func compare(benches, seeds int) (*score, error) {
	assumed, err := tabulate(1, 0.1, 1)
	if err != nil {
		return nil, err
	}
	s := &score{took: make([][]int, len(strategies)), seeds: seeds}
	for b := range benches {
		r := rand.New(rand.NewPCG(uint64(b), 2026))
		hidden, err := draw(r)
		if err != nil {
			return nil, err
		}
		for i := range seeds {
			target, seed := hidden.target(r), uint64(1000*b+i)
			s.rarity = append(s.rarity, hidden.rarity(target, r))
			for k := range strategies {
				t := newTrial(hidden, target, seed)
				switch k {
				case 0:
					err = t.model(assumed, most, nil)
				case 1:
					err = t.model(nil, most, nil)
				case 2:
					t.oneFactor(mostPlain)
				case 3:
					t.latin(mostPlain)
				}
				if err != nil {
					return nil, err
				}
				took := len(t.rows)
				if !t.done {
					took++ // more than the most
				}
				s.took[k] = append(s.took[k], took)
			}
		}
	}
	return s, nil
}

// quantile returns the p quantile of counts, the middle of two at a half.
func quantile(counts []int, p float64) float64 {
	c := slices.Sorted(slices.Values(counts))
	if len(c) == 0 {
		return 0
	}
	at := p * float64(len(c)-1)
	i := int(at)
	if i+1 == len(c) {
		return float64(c[i])
	}
	return float64(c[i]) + (at-float64(i))*float64(c[i+1]-c[i])
}

func mean(counts []int) float64 {
	sum := 0
	for _, n := range counts {
		sum += n
	}
	return float64(sum) / float64(len(counts))
}

// byBench returns the median over the benches of the ratio of strategy k's median to
// that of the model with physics.
func (s *score) byBench(k int) float64 {
	var ratios []float64
	for from := 0; from < len(s.took[k]); from += s.seeds {
		ratios = append(ratios, quantile(s.took[k][from:from+s.seeds], 0.5)/quantile(s.took[0][from:from+s.seeds], 0.5))
	}
	slices.Sort(ratios)
	return (ratios[(len(ratios)-1)/2] + ratios[len(ratios)/2]) / 2
}

func (s *score) print(w io.Writer) {
	sorted := slices.Sorted(slices.Values(s.rarity))
	fmt.Fprintf(w, "%d searches; a setting by chance hits the target in %.1f %% (median; least %.2f %%, most %.1f %%)\n\n",
		len(s.rarity), 100*sorted[len(sorted)/2], 100*sorted[0], 100*sorted[len(sorted)-1])
	fmt.Fprintln(w, "| swatches to come within 3 dE00 | median | 90th of 100 | not within the most |\n| --- | --- | --- | --- |")
	for k, name := range strategies {
		limit, given := mostPlain, 0
		if k < 2 {
			limit = most
		}
		for _, n := range s.took[k] {
			if n > limit {
				given++
			}
		}
		fmt.Fprintf(w, "| %s | %.1f | %.1f | %d over %d |\n", name, quantile(s.took[k], 0.5), quantile(s.took[k], 0.9), given, limit)
	}
	fmt.Fprintln(w, "\n| by how rare the target is, medians | rarer half | other half |\n| --- | --- | --- |")
	for k, name := range strategies {
		var half [2][]int
		for i, r := range s.rarity {
			side := 0
			if r > sorted[len(sorted)/2] {
				side = 1
			}
			half[side] = append(half[side], s.took[k][i])
		}
		fmt.Fprintf(w, "| %s | %.1f | %.1f |\n", name, quantile(half[0], 0.5), quantile(half[1], 0.5))
	}
	fmt.Fprintln(w, "\n| swatches saved by the model with physics | ratio of medians | of 90ths | of means | median of the benches' ratios of medians |\n| --- | --- | --- | --- | --- |")
	for k, name := range strategies[1:] {
		ratio := func(of func([]int) float64) float64 { return of(s.took[k+1]) / of(s.took[0]) }
		fmt.Fprintf(w, "| against %s | %.1f | %.1f | %.1f | %.1f |\n", name,
			ratio(func(c []int) float64 { return quantile(c, 0.5) }), ratio(func(c []int) float64 { return quantile(c, 0.9) }), ratio(mean), s.byBench(k+1))
	}
}

// held is how often intervals of 90 % held a new swatch.
type held struct {
	swatches []int // that the model knew
	inside   []int
	of       []int
}

// calibrate asks models of 8, 16 and 32 swatches for new ones anywhere, on a day of
// their own. Half of the swatches a model knows lie anywhere, half near one another.
func calibrate(benches, seeds int) (*held, error) {
	assumed, err := tabulate(1, 0.1, 1)
	if err != nil {
		return nil, err
	}
	h := &held{swatches: []int{8, 16, 32}, inside: make([]int, 3), of: make([]int, 3)}
	factors := append(append([]guess.Factor{}, settings...), features...)
	for b := range benches {
		r := rand.New(rand.NewPCG(uint64(b), 2026))
		hidden, err := draw(r)
		if err != nil {
			return nil, err
		}
		for i := range seeds {
			for k, n := range h.swatches {
				t := newTrial(hidden, colour.Lab{L: 200}, uint64(1000*b+i))
				for _, at := range hypercube(n, t.r) {
					t.try(at)
				}
				m, err := guess.Fit(factors, t.with(assumed), guess.Options{RepeatSD: 1.5}, t.r)
				if err != nil {
					return nil, err
				}
				for range 20 {
					at := anySetting(t.r)
					out := hidden.make(at, hidden.newDay(t.r), t.r)
					more, _ := assumed.compute(at)
					p, err := m.At(append(at, more...), 0.9)
					if err != nil {
						return nil, err
					}
					for a := range out {
						h.of[k]++
						if p.Low[a] <= out[a] && out[a] <= p.High[a] {
							h.inside[k]++
						}
					}
				}
			}
		}
	}
	return h, nil
}

// share returns how many were inside, of all.
func (h *held) share() float64 {
	inside, of := 0, 0
	for k := range h.of {
		inside, of = inside+h.inside[k], of+h.of[k]
	}
	return float64(inside) / float64(of)
}

func (h *held) print(w io.Writer) {
	fmt.Fprintln(w, "| swatches known | L*, a*, b* of new ones inside their 90 % intervals |\n| --- | --- |")
	for k, n := range h.swatches {
		fmt.Fprintf(w, "| %d | %.1f %% of %d |\n", n, 100*float64(h.inside[k])/float64(h.of[k]), h.of[k])
	}
	fmt.Fprintf(w, "| all | %.1f %% |\n", 100*h.share())
}
