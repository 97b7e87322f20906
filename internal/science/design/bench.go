package design

import (
	"math/rand/v2"
	"slices"
)

// BenchAsk says what is made beside the plan's own runs. The first Made runs are
// made already.
type BenchAsk struct {
	Made    int
	Repeats int
	Blanks  int // of each block of the first kind, or of the whole
}

// UsualBench adds two repeats where the plan has fewer than two runs that repeat
// another, and one blank: a swatch that goes along without being treated
// (common practice, no source).
func (p Plan) UsualBench(made int) BenchAsk {
	return BenchAsk{Made: made, Repeats: max(0, min(2-p.twins(), len(p.Runs)-made)), Blanks: 1}
}

// Swatch is one thing to make: the Run it carries out, -1 for a blank, and the
// block of each kind it is made in.
type Swatch struct {
	Run    int
	Repeat bool
	Blocks []int
}

// Bench lists what is to be made in its order: blocks in random order, and
// swatches in random order within them. Repeats are drawn among the runs
// that do not repeat another, each in the block of its run; settings held in a
// block thus stay as they are.
func (p Plan) Bench(ask BenchAsk, rng *rand.Rand) ([]Swatch, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	todo := len(p.Runs) - ask.Made
	if ask.Made < 0 || todo < 0 || ask.Repeats < 0 || ask.Repeats > todo || ask.Blanks < 0 || ask.Blanks > MaxRuns {
		return nil, askf("%d runs made, %d repeats and %d blanks do not fit a plan of %d runs; repeats are at most the runs still to make", ask.Made, ask.Repeats, ask.Blanks, len(p.Runs))
	}
	blocksOf := func(run int) []int {
		out := make([]int, len(p.Groups))
		for g := range p.Groups {
			out[g] = p.Groups[g].Of[run]
		}
		return out
	}
	var out []Swatch
	for run := ask.Made; run < len(p.Runs); run++ {
		out = append(out, Swatch{run, false, blocksOf(run)})
	}
	order := rng.Perm(todo)
	// Runs that nothing repeats first.
	alone := func(at int) bool {
		n := 0
		for _, r := range p.Runs {
			if slices.Equal(r, p.Runs[ask.Made+at]) {
				n++
			}
		}
		return n == 1
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := alone(a), alone(b); {
		case x == y:
			return 0
		case x:
			return -1
		}
		return 1
	})
	for _, at := range order[:ask.Repeats] {
		out = append(out, Swatch{ask.Made + at, true, blocksOf(ask.Made + at)})
	}
	// A blank goes along in each block of the first kind that is still to make.
	seen := map[int]bool{}
	for run := ask.Made; run < len(p.Runs); run++ {
		block := 0
		if len(p.Groups) > 0 {
			block = p.Groups[0].Of[run]
		}
		if seen[block] {
			continue
		}
		seen[block] = true
		for range ask.Blanks {
			out = append(out, Swatch{-1, false, blocksOf(run)})
		}
	}
	if len(out) > 2*MaxRuns {
		return nil, askf("%d swatches are too many; take fewer repeats or blanks", len(out))
	}
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	// Blocks keep together, the first kind outermost, in random order of their own.
	var rank [][]int
	for _, g := range p.Groups {
		rank = append(rank, rng.Perm(g.count()))
	}
	slices.SortStableFunc(out, func(a, b Swatch) int {
		for g := range rank {
			if d := rank[g][a.Blocks[g]] - rank[g][b.Blocks[g]]; d != 0 {
				return d
			}
		}
		return 0
	})
	return out, nil
}
