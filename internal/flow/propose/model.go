package propose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// assumedRepeat is how far repeats lie from their mean in each of L*, a* and b* where
// too few were made to tell: common practice, no source.
const assumedRepeat = 1.5

// stream is the second half of every seed here.
const stream = 0x70726f706f7365

// A Model predicts the looks of a family. It is safe for use by several at once.
//
// Missed is how far off a swatch was on the mean when it was predicted from the
// others, in dE00; Repeat how far repeats lie from their mean, RepeatAssumed whether
// that is a default. Physics names what was reckoned of the chamber and used.
type Model struct {
	*Family
	Missed        float64
	Repeat        float64
	RepeatAssumed bool
	Physics       []string
	make          *maker
	model         *guess.Model
	cover         *guess.Model // logit of the coverage; nil where it was not measured
	which         []int
	total         float64 // spread of all looks
	seed          uint64
}

// Fit learns from a family; the same seed gives the same model. It takes from
// milliseconds to a few seconds, with the cube of the number of swatches.
func (f *Family) Fit(seed uint64) (*Model, error) {
	m := &Model{Family: f, make: newMaker(f), seed: seed}
	physics, which := m.make.physicsAxes()
	m.which = which
	var factors []guess.Factor
	for _, a := range f.free {
		factors = append(factors, a.Factor)
	}
	for _, p := range physics {
		factors = append(factors, p)
		m.Physics = append(m.Physics, p.Name)
	}
	var rows, covered []guess.Row
	var mean colour.Lab
	n := float64(len(f.Tried))
	for _, t := range f.Tried {
		at, _ := m.whole(t.at)
		rows = append(rows, guess.Row{At: at, Block: t.block, Out: []float64{t.Lab.L, t.Lab.A, t.Lab.B}})
		if t.Coverage != nil {
			covered = append(covered, guess.Row{At: at, Block: t.block, Out: []float64{logit(*t.Coverage)}})
		}
		mean.L, mean.A, mean.B = mean.L+t.Lab.L/n, mean.A+t.Lab.A/n, mean.B+t.Lab.B/n
	}
	for _, t := range f.Tried {
		m.total += (square(t.Lab.L-mean.L) + square(t.Lab.A-mean.A) + square(t.Lab.B-mean.B)) / (n - 1)
	}
	m.total = math.Sqrt(m.total)
	df := 0
	if m.Repeat, df = f.repeats(); df < 3 || m.Repeat <= 0 {
		m.Repeat, m.RepeatAssumed = assumedRepeat, true
	}
	r := rand.New(rand.NewPCG(seed, stream))
	var err error
	if m.model, err = guess.Fit(factors, rows, guess.Options{RepeatSD: m.Repeat}, r); err != nil {
		return nil, fmt.Errorf("learn from %d swatches: %w", len(rows), err)
	}
	if len(covered) >= fewest && len(covered) == len(rows) {
		if m.cover, err = guess.Fit(factors, covered, guess.Options{Starts: 1}, r); err != nil {
			m.cover = nil // all covered alike, say
		}
	}
	for i, l := range m.model.LeaveOneOut() {
		m.Missed += colour.Difference(colour.Lab{L: l.Mean[0], A: l.Mean[1], B: l.Mean[2]}, f.Tried[i].Lab) / n
	}
	return m, nil
}

// whole adds what is reckoned to a point of the free factors.
func (m *Model) whole(at []float64) ([]float64, bool) {
	out := slices.Clone(at)
	if len(m.which) == 0 {
		return out, true
	}
	p := m.make.look(at).physics
	for _, i := range m.which {
		if p == nil {
			return nil, false
		}
		out = append(out, p[i])
	}
	return out, true
}

// Coverage is near nothing or all at the ends; a share of this much is told from them.
const leastShare = 0.01

func logit(share float64) float64 {
	share = min(1-leastShare, max(leastShare, share))
	return math.Log(share / (1 - share))
}

func expit(v float64) float64 { return 1 / (1 + math.Exp(-v)) }

// A Share is a fraction with its 90 % interval.
type Share struct{ Value, Low, High float64 }

// A Look is what to expect of one swatch made with some settings.
//
// Low and High hold L*, a* and b* of one new swatch, each by itself, nine times in
// ten. Could are looks at the ends of what is likely, to draw beside Mean. Beyond
// says where it goes past what was tried, CantTell why it is no prediction at all.
// Near are swatches that were made most like it.
type Look struct {
	Levels    []studio.Level
	Words     string
	Mean      colour.Lab
	Low, High colour.Lab
	Could     []colour.Lab
	Spread    float64 // how far one new swatch may lie from Mean, in dE00: half of them are nearer
	Coverage  *Share
	Beyond    []string
	CantTell  string
	Stop      string // why it must not or can't be made now; empty: it can
	Near      []Tried
}

// Look predicts the swatch with these levels, one for each of the family's factors.
func (m *Model) Look(levels []studio.Level) (Look, error) {
	at, err := m.point(levels)
	if err != nil {
		return Look{}, err
	}
	return m.lookAt(at)
}

func (m *Model) lookAt(at []float64) (Look, error) {
	l := Look{Levels: m.levels(at)}
	l.Words = m.InWords(l.Levels)
	full, ok := m.whole(at)
	if !ok {
		l.CantTell = "What the chamber does to it can't be reckoned, so nothing can be said."
		return l, nil
	}
	p, err := m.model.At(full, 0.9)
	if err != nil {
		return l, fmt.Errorf("predict %s: %w", l.Words, err)
	}
	l.Mean, l.Low, l.High = bounded(p.Mean), bounded(p.Low), bounded(p.High)
	draws, err := m.model.Draw(full, true, rand.New(rand.NewPCG(m.seed, stream)))
	if err != nil {
		return l, fmt.Errorf("predict %s: %w", l.Words, err)
	}
	var far []float64
	for _, d := range draws {
		far = append(far, colour.Difference(bounded(d), l.Mean))
	}
	slices.Sort(far)
	l.Spread = far[len(far)/2]
	l.Could = ends(p.Mean, draws)
	if m.cover != nil {
		if c, err := m.cover.At(full, 0.9); err == nil {
			l.Coverage = &Share{expit(c.Mean[0]), expit(c.Low[0]), expit(c.High[0])}
		}
	}
	l.Beyond, l.Near, l.Stop = m.beyond(at), m.nearest(at, 3), m.make.look(at).stop
	total := 0.0
	for _, sd := range p.SwatchSD {
		total += sd * sd
	}
	if math.Sqrt(total) > 0.95*m.total && m.total > 2*m.Repeat {
		l.CantTell = "These swatches can't tell: it could be nearly any look that was made so far."
	}
	return l, nil
}

func bounded(y []float64) colour.Lab {
	return colour.Lab{L: min(100, max(0, y[0])), A: y[1], B: y[2]}
}

// ends returns looks at the border of what holds nine of ten draws, along the two
// ways in which the look is least sure.
func ends(mean []float64, draws [][]float64) []colour.Lab {
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range i + 1 {
			s := 0.0
			for _, d := range draws {
				s += (d[i] - mean[i]) * (d[j] - mean[j]) / float64(len(draws))
			}
			cov.SetSym(i, j, s)
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(cov, true) {
		return nil
	}
	var v mat.Dense
	eigen.VectorsTo(&v)
	var out []colour.Lab
	for _, axis := range []int{2, 1} {
		var along []float64
		for _, d := range draws {
			s := 0.0
			for i := range 3 {
				s += (d[i] - mean[i]) * v.At(i, axis)
			}
			along = append(along, s)
		}
		slices.Sort(along)
		for _, at := range []float64{along[len(along)/20], along[len(along)-1-len(along)/20]} {
			y := slices.Clone(mean)
			for i := range 3 {
				y[i] += at * v.At(i, axis)
			}
			out = append(out, bounded(y))
		}
	}
	return out
}

// beyond says where a setting goes past what was tried.
func (m *Model) beyond(at []float64) []string {
	var out []string
	known := false
	for _, t := range m.Tried {
		known = known || m.sameKinds(t.at, at)
	}
	levels := m.levels(at)
	if !known {
		out = append(out, fmt.Sprintf("No swatch was made%s.", m.tail(levels)))
	}
	for i, a := range m.free {
		if a.Levels != nil {
			continue
		}
		x := m.Factors[a.factor]
		least, most := x.Levels[0], x.Levels[len(x.Levels)-1]
		switch {
		case at[i] > most.Number*1.02+1e-9:
			out = append(out, fmt.Sprintf("No swatch was %s.", m.more(a, most, true)))
		case at[i] < least.Number*0.98-1e-9:
			out = append(out, fmt.Sprintf("No swatch was %s.", m.more(a, least, false)))
		}
	}
	return out
}

// nearest returns the n swatches whose settings are most like a point.
func (m *Model) nearest(at []float64, n int) []Tried {
	far := func(t Tried) float64 {
		sum := 0.0
		for i, a := range m.free {
			switch {
			case a.Levels != nil:
				if t.at[i] != at[i] {
					sum++
				}
			case a.Log:
				sum += square(math.Log(t.at[i]/at[i]) / math.Log(a.High/a.Low))
			default:
				sum += square((t.at[i] - at[i]) / (a.High - a.Low))
			}
		}
		return sum
	}
	all := slices.Clone(m.Tried)
	slices.SortStableFunc(all, func(a, b Tried) int {
		switch d, e := far(a), far(b); {
		case d < e:
			return -1
		case d > e:
			return 1
		}
		return 0
	})
	return all[:min(n, len(all))]
}
