package batch

import (
	"fmt"
	"math"
	"slices"
)

// A Circumstance is one thing about the making of each piece, in the order made:
// Words such as a lot or a person, "" where not known, or Numbers such as the age of
// the pad, not a number where not known.
type Circumstance struct {
	Name    string
	Unit    string
	Words   []string
	Numbers []float64
}

// A Coincidence is something that changed where a drift began. Steady says that it
// grew or fell all through the batch, so that it can't be told from the order.
type Coincidence struct {
	Name   string
	Steady bool
	Words  string
}

// told is how well a circumstance must tell the pieces before from those after to be
// named, as a share of both; 0.5 is chance.
const told = 0.85

// Meanwhile says which circumstances changed where a drift began, from being the
// first piece after it. It is never proof: what changed together can't be told apart.
func Meanwhile(from int, all []Circumstance) (out []Coincidence) {
	for _, c := range all {
		if c.Words != nil {
			if x, ok := wordsChanged(from, c); ok {
				out = append(out, x)
			}
			continue
		}
		if x, ok := numbersChanged(from, c); ok {
			out = append(out, x)
		}
	}
	return out
}

// wordsChanged asks of each piece whether the others with the same word are mostly on
// its side of the split.
func wordsChanged(from int, c Circumstance) (Coincidence, bool) {
	side := func(i int) int {
		if i < from {
			return 0
		}
		return 1
	}
	count := map[string]*[2]float64{}
	var total [2]float64
	for i, w := range c.Words {
		if w == "" {
			continue
		}
		if count[w] == nil {
			count[w] = &[2]float64{}
		}
		count[w][side(i)]++
		total[side(i)]++
	}
	if len(count) < 2 || total[0] == 0 || total[1] == 0 {
		return Coincidence{}, false
	}
	var right [2]float64
	for i, w := range c.Words {
		if w == "" {
			continue
		}
		s := side(i)
		mine, other := (count[w][s]-1)/total[s], count[w][1-s]/total[1-s]
		switch {
		case mine > other:
			right[s]++
		case mine == other:
			right[s] += 0.5
		}
	}
	if (right[0]/total[0]+right[1]/total[1])/2 < told {
		return Coincidence{}, false
	}
	most := func(s int) string {
		best := ""
		for _, w := range c.Words {
			if w != "" && (best == "" || count[w][s] > count[best][s]) {
				best = w
			}
		}
		return best
	}
	return Coincidence{Name: c.Name, Words: fmt.Sprintf("%s: mostly %s before, %s after.", c.Name, most(0), most(1))}, true
}

func numbersChanged(from int, c Circumstance) (Coincidence, bool) {
	var xs []float64
	at := 0
	for i, v := range c.Numbers {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if i < from {
			at++
		}
		xs = append(xs, v)
	}
	n := len(xs)
	if at < 2 || n-at < 2 {
		return Coincidence{}, false
	}
	steps := make([]float64, 0, n)
	up, down := 0, 0
	for i := 1; i < n; i++ {
		if i != at {
			steps = append(steps, math.Abs(xs[i]-xs[i-1]))
		}
		if xs[i] >= xs[i-1] {
			up++
		}
		if xs[i] <= xs[i-1] {
			down++
		}
	}
	near := min(5, at, n-at)
	before, after := median(xs[at-near:at]), median(xs[at:at+near])
	moved := math.Abs(after - before)
	whole := fmt.Sprintf("%s: about %s before, %s after.", c.Name, value(median(xs[:at]), c.Unit), value(median(xs[at:]), c.Unit))
	// a value that only ever grows parts the pieces at every place; it must leap here
	if moved > 0 && moved > 3*median(steps)*float64(near) && parted(xs, at) >= told {
		return Coincidence{Name: c.Name, Words: whole}, true
	}
	if (up == n-1 || down == n-1) && xs[0] != xs[n-1] {
		return Coincidence{Name: c.Name, Steady: true, Words: fmt.Sprintf("%s went from %s to %s all through the batch, so it can't be told from the order of making.", c.Name, value(xs[0], c.Unit), value(xs[n-1], c.Unit))}, true
	}
	return Coincidence{}, false
}

// parted is how well a threshold tells the values before from those after, as the
// mean share on the right side.
func parted(xs []float64, at int) float64 {
	best := 0.0
	for _, t := range xs {
		var low [2]float64
		for i, x := range xs {
			if x <= t {
				if i < at {
					low[0] += 1 / float64(at)
				} else {
					low[1] += 1 / float64(len(xs)-at)
				}
			}
		}
		best = max(best, (1+math.Abs(low[0]-low[1]))/2)
	}
	return best
}

func median(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(xs))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
