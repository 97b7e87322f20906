package taste

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/studio"
)

// A Pair is two faces as they are shown.
type Pair struct{ Left, Right studio.FaceOf }

// An Ask is what the next pairs are chosen from.
type Ask struct {
	Faces   []studio.FaceOf
	Choices []studio.Choice // of all people, without those taken back
	Who     string
	Shown   []Pair // to this person already, without an answer so far
	Waiting []Pair // on other people's screens now
	Rand    *rand.Rand
}

// Enough returns how many choices of one person are worth asking for before looking at
// the order: n log2 n, what sorting n things by comparing them takes, but not more than
// there are pairs, nor than 30, which is what people do in one go (common practice, no
// source).
func Enough(faces int) int {
	n := float64(faces)
	if faces < 2 {
		return 0
	}
	return min(faces*(faces-1)/2, int(math.Ceil(n*math.Log2(n))), 30)
}

// sharedEvery is how often a pair is asked that someone else has answered: agreement
// can only be read from pairs that two people saw.
const sharedEvery = 3

// Ahead returns the next count pairs to show to one person, none when there are fewer
// than two faces.
//
// The next pair is the one whose choice tells most about the order, given all choices
// so far: faces liked about alike and little known, above all those that may be the
// best. No face runs more than two showings ahead of the others, no pair comes back to a
// person before all others were shown, and each face stands left as often as right.
// Pairs on other people's screens count as shown. Later pairs suppose that the earlier
// are answered, so that a phone can go on without the network.
// Source: MacKay 1992 (what an answer tells).
func Ahead(a Ask, count int) []Pair {
	n := len(a.Faces)
	if n < 2 {
		return nil
	}
	p := planner{Ask: a, at: map[studio.FaceOf]int{}, mine: map[[2]int]int{}, others: map[[2]int]bool{}, shown: make([]int, n), lean: make([]int, n), mySide: map[[2]int]int{}}
	for i, f := range a.Faces {
		p.at[f] = i
	}
	fit, err := FitChoices(a.Faces, a.Choices)
	if err == nil {
		p.mean, p.cov, p.tie = fit.mean, mat.NewSymDense(n, nil), fit.tie
		p.cov.CopySym(fit.cov)
	} else { // nothing is known yet
		p.mean, p.cov = make([]float64, n), mat.NewSymDense(n, nil)
		for i := range n {
			p.cov.SetSym(i, i, 1)
		}
	}
	for _, c := range a.Choices {
		p.count(Pair{c.Left, c.Right}, c.Who == a.Who)
	}
	for _, w := range a.Waiting {
		p.count(w, false)
		p.suppose(w)
	}
	for _, w := range a.Shown {
		p.count(w, true)
		p.suppose(w)
	}
	var out []Pair
	for range count {
		x := p.next()
		p.count(x, true)
		p.suppose(x)
		out = append(out, x)
	}
	return out
}

type planner struct {
	Ask
	at     map[studio.FaceOf]int
	mean   []float64
	cov    *mat.SymDense
	tie    float64
	mine   map[[2]int]int  // how often this person saw a pair
	mySide map[[2]int]int  // +1 when the first stood left the last time
	others map[[2]int]bool // answered by someone else
	shown  []int           // how often a face was shown to anyone
	lean   []int           // how often it stood left less right
	asked  int             // pairs this person saw
}

// count notes that a pair is shown.
func (p *planner) count(x Pair, mine bool) {
	i, okA := p.at[x.Left]
	j, okB := p.at[x.Right]
	if !okA || !okB || i == j {
		return
	}
	key, side := [2]int{i, j}, 1
	if i > j {
		key, side = [2]int{j, i}, -1
	}
	if mine {
		p.mine[key]++
		p.mySide[key] = side
		p.asked++
	} else {
		p.others[key] = true
	}
	p.shown[i]++
	p.shown[j]++
	p.lean[i]++
	p.lean[j]--
}

// suppose takes a pair as answered: what it will tell is known, which way it falls is not.
func (p *planner) suppose(x Pair) {
	i, okA := p.at[x.Left]
	j, okB := p.at[x.Right]
	if !okA || !okB || i == j {
		return
	}
	n := len(p.mean)
	u := make([]float64, n)
	for k := range n {
		u[k] = p.cov.At(k, i) - p.cov.At(k, j)
	}
	v := u[i] - u[j]
	info := p.told(p.mean[i]-p.mean[j], v)
	p.cov.SymRankOne(p.cov, -info/(1+info*v), mat.NewVecDense(n, u))
}

// told is what a choice is expected to tell about a difference of mean d and variance
// v, by three points of Gauss and Hermite.
func (p *planner) told(d, v float64) float64 {
	s := math.Sqrt(3 * math.Max(0, v))
	return 2.0/3*telling(d, p.tie) + (telling(d-s, p.tie)+telling(d+s, p.tie))/6
}

// next returns the pair that tells most.
func (p *planner) next() Pair {
	n := len(p.mean)
	round := math.MaxInt
	for i := range n {
		for j := i + 1; j < n; j++ {
			round = min(round, p.mine[[2]int{i, j}])
		}
	}
	top, least := 0, math.MaxInt
	for i := range n {
		if p.mean[i] > p.mean[top] {
			top = i
		}
		least = min(least, p.shown[i])
	}
	contends := make([]float64, n) // the chance to be better than the best so far
	for i := range n {
		v := p.cov.At(i, i) + p.cov.At(top, top) - 2*p.cov.At(i, top)
		contends[i] = 0.5
		if i != top && v > 0 {
			contends[i] = 0.5 * math.Erfc((p.mean[top]-p.mean[i])/math.Sqrt(2*v))
		}
	}
	shared := len(p.others) > 0 && p.asked%sharedEvery == sharedEvery-1
	best, score := [2]int{0, 1}, math.Inf(-1)
	for slack := mostAhead; math.IsInf(score, -1); slack++ {
		for i := range n {
			for j := i + 1; j < n; j++ {
				key := [2]int{i, j}
				if p.mine[key] > round || max(p.shown[i], p.shown[j]) > least+slack {
					continue
				}
				v := p.cov.At(i, i) + p.cov.At(j, j) - 2*p.cov.At(i, j)
				gain := math.Log1p(v*p.told(p.mean[i]-p.mean[j], v)) * (topWeight + 4*contends[i]*contends[j])
				if shared && p.others[key] {
					gain *= 4
				}
				gain *= 1 + p.Rand.Float64()/20 // so that not everyone gets the same pair
				if gain > score {
					best, score = key, gain
				}
			}
		}
	}
	return p.place(best)
}

// topWeight is what a pair counts that can't be about the best, beside 1 for the best so
// far and one as good; a choice of ours: most people want to know the best.
const topWeight = 0.25

// mostAhead is how many more showings than the least shown a face may have.
const mostAhead = 2

// place says which of two stands left: not where it stood when this person saw the
// pair before, else the one that leans more to the right, else by the dice.
func (p *planner) place(key [2]int) Pair {
	i, j := key[0], key[1]
	swap := false
	switch {
	case p.mySide[key] != 0:
		swap = p.mySide[key] > 0
	case p.lean[i] != p.lean[j]:
		swap = p.lean[i] > p.lean[j]
	default:
		swap = p.Rand.IntN(2) == 0
	}
	if swap {
		i, j = j, i
	}
	return Pair{p.Faces[i], p.Faces[j]}
}
