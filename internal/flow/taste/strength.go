package taste

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"aerugo/internal/studio"
)

// Confidence is that of every interval of this package.
const Confidence = 0.90

// z is the two-sided 10 % point of the normal distribution (tables).
const z = 1.6448536269514722

// ErrNothing says that there is no choice, or fewer than two faces, to read.
var ErrNothing = errors.New("nothing was chosen yet")

// A Fit is how strongly each face is liked, on the log odds scale, with mean 0.
type Fit struct {
	Faces []studio.FaceOf
	mean  []float64
	cov   *mat.SymDense
	tie   float64 // Davidson's tie parameter, 0 without ties
	at    map[studio.FaceOf]int
}

// duel is how often a was chosen over b, b over a, and neither.
type duel struct {
	a, b          int
	winA, winB, t float64
}

// spreads are the spreads of strength among the faces that are thought possible, each
// as likely as the next: from 'hardly told apart' to 'the best is chosen over the
// middling one 19 times in 20'.
var spreads = []float64{0.25, 0.5, 1, 1.5, 2, 3}

// FitChoices reads strengths from the choices of all people together; those taken back
// must be left out. Choices about other faces are ignored.
//
// The model is Bradley and Terry's with Davidson's ties. The strengths are taken to be
// drawn from one normal distribution whose spread is not known, so that a face which
// won all of its few choices is not thought unbeatable; the likelihood alone has no
// answer there. The posterior is Laplace's approximation, averaged over the spreads.
// Source: Bradley and Terry 1952; Davidson 1970; Tierney and Kadane 1986.
func FitChoices(faces []studio.FaceOf, choices []studio.Choice) (*Fit, error) {
	f := &Fit{Faces: faces, at: map[studio.FaceOf]int{}}
	for i, x := range faces {
		f.at[x] = i
	}
	duels := f.duels(choices)
	if len(faces) < 2 || len(duels) == 0 {
		return nil, ErrNothing
	}
	n := len(faces)
	ties := 0.0
	for _, d := range duels {
		ties += d.t
	}
	p := n
	if ties > 0 {
		p++ // the logarithm of the tie parameter comes last
	}
	type one struct {
		x   []float64
		cov *mat.SymDense
		ev  float64
	}
	var all []one
	best := math.Inf(-1)
	start := make([]float64, p)
	for _, s := range spreads {
		x, cov, ev, ok := climb(duels, start, n, s)
		if !ok {
			continue
		}
		start = x
		all = append(all, one{x, cov, ev})
		best = math.Max(best, ev)
	}
	if len(all) == 0 {
		return nil, errors.New("no strengths explain the choices")
	}
	f.mean, f.cov = make([]float64, n), mat.NewSymDense(n, nil)
	total, eta := 0.0, 0.0
	for i := range all {
		all[i].ev = math.Exp(all[i].ev - best)
		total += all[i].ev
	}
	for _, o := range all {
		w := o.ev / total
		for i, c := range centred(o.x[:n]) {
			f.mean[i] += w * c
		}
		if p > n {
			eta += w * o.x[n]
		}
	}
	for _, o := range all {
		w := o.ev / total
		c := centred(o.x[:n])
		for i := range n {
			for j := i; j < n; j++ {
				f.cov.SetSym(i, j, f.cov.At(i, j)+w*(o.cov.At(i, j)+(c[i]-f.mean[i])*(c[j]-f.mean[j])))
			}
		}
	}
	if p > n {
		f.tie = math.Exp(eta)
	}
	return f, nil
}

func centred(x []float64) []float64 {
	m := 0.0
	for _, v := range x {
		m += v / float64(len(x))
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v - m
	}
	return out
}

func (f *Fit) duels(choices []studio.Choice) []duel {
	type key struct{ a, b int }
	sums := map[key]int{}
	var out []duel
	for _, c := range choices {
		a, okA := f.at[c.Left]
		b, okB := f.at[c.Right]
		if !okA || !okB || a == b {
			continue
		}
		winA, winB, t := 0.0, 0.0, 0.0
		switch c.Chosen {
		case studio.ChoseLeft:
			winA = 1
		case studio.ChoseRight:
			winB = 1
		case studio.CantChoose:
			t = 1
		default:
			continue
		}
		if a > b {
			a, b, winA, winB = b, a, winB, winA
		}
		i, there := sums[key{a, b}]
		if !there {
			i = len(out)
			sums[key{a, b}] = i
			out = append(out, duel{a: a, b: b})
		}
		out[i].winA += winA
		out[i].winB += winB
		out[i].t += t
	}
	return out
}

// odds returns the chances that a, b or neither is chosen when their strengths differ by d.
func odds(d, tie float64) (a, b, neither float64) {
	u, v := math.Exp(d/2), math.Exp(-d/2)
	s := u + v + tie
	return u / s, v / s, tie / s
}

// tieSpread is the spread of the logarithm of the tie parameter about 1/2 that is
// thought possible; a weak guess that only matters with very few ties.
const tieSpread = 2

// climb finds the most likely strengths for one spread by Newton's method, with their
// covariance and the logarithm of the evidence.
func climb(duels []duel, start []float64, n int, spread float64) (x []float64, cov *mat.SymDense, evidence float64, ok bool) {
	p := len(start)
	x = append([]float64(nil), start...)
	g, h := make([]float64, p), mat.NewSymDense(p, nil)
	var chol mat.Cholesky
	value := slope(duels, x, n, spread, g, h)
	for range 100 {
		if !chol.Factorize(h) {
			return nil, nil, 0, false
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, mat.NewVecDense(p, g)); err != nil {
			return nil, nil, 0, false
		}
		size, next := 1.0, make([]float64, p)
		var v float64
		for ; size > 1e-9; size /= 2 {
			for i := range x {
				next[i] = x[i] + size*step.AtVec(i)
			}
			if v = slope(duels, next, n, spread, nil, nil); v >= value-1e-12 {
				break
			}
		}
		x = next
		value = slope(duels, x, n, spread, g, h)
		if mat.Norm(&step, math.Inf(1))*size < 1e-8 {
			break
		}
	}
	if !chol.Factorize(h) {
		return nil, nil, 0, false
	}
	inv := mat.NewSymDense(p, nil)
	if err := chol.InverseTo(inv); err != nil {
		return nil, nil, 0, false
	}
	// strengths count against their mean: what all share is no liking
	cov = mat.NewSymDense(n, nil)
	row, all := make([]float64, n), 0.0
	for i := range n {
		for j := range n {
			row[i] += inv.At(i, j) / float64(n)
		}
		all += row[i] / float64(n)
	}
	for i := range n {
		for j := i; j < n; j++ {
			cov.SetSym(i, j, inv.At(i, j)-row[i]-row[j]+all)
		}
	}
	return x, cov, value - chol.LogDet()/2, true
}

// slope returns the logarithm of likelihood times prior, and with g and h its
// derivatives, h negated.
func slope(duels []duel, x []float64, n int, spread float64, g []float64, h *mat.SymDense) float64 {
	tie, v := 0.0, -float64(n)*math.Log(spread)
	if g != nil {
		h.Zero()
	}
	for i := range n {
		v -= x[i] * x[i] / (2 * spread * spread)
		if g != nil {
			g[i] = -x[i] / (spread * spread)
			h.SetSym(i, i, 1/(spread*spread))
		}
	}
	if len(x) > n {
		tie = math.Exp(x[n])
		e := x[n] - math.Log(0.5)
		v -= e * e / (2 * tieSpread * tieSpread)
		if g != nil {
			g[n] = -e / (tieSpread * tieSpread)
			h.SetSym(n, n, 1.0/(tieSpread*tieSpread))
		}
	}
	for _, d := range duels {
		pa, pb, pt := odds(x[d.a]-x[d.b], tie)
		if d.winA > 0 {
			v += d.winA * math.Log(pa)
		}
		if d.winB > 0 {
			v += d.winB * math.Log(pb)
		}
		if d.t > 0 {
			v += d.t * math.Log(pt)
		}
		if g == nil {
			continue
		}
		m := d.winA + d.winB + d.t
		s := (d.winA-d.winB)/2 - m*(pa-pb)/2
		g[d.a] += s
		g[d.b] -= s
		info := m * ((pa+pb)/4 - (pa-pb)*(pa-pb)/4)
		h.SetSym(d.a, d.a, h.At(d.a, d.a)+info)
		h.SetSym(d.b, d.b, h.At(d.b, d.b)+info)
		h.SetSym(d.a, d.b, h.At(d.a, d.b)-info)
		if len(x) > n {
			g[n] += d.t - m*pt
			h.SetSym(n, n, h.At(n, n)+m*pt*(1-pt))
			cross := -m * pt * (pa - pb) / 2
			h.SetSym(d.a, n, h.At(d.a, n)+cross)
			h.SetSym(d.b, n, h.At(d.b, n)-cross)
		}
	}
	return v
}

// Strength returns how strongly a face is liked against the mean of all, in log odds,
// and its standard error; NaN for a face that is not among them.
func (f *Fit) Strength(x studio.FaceOf) (strength, se float64) {
	i, ok := f.at[x]
	if !ok {
		return math.NaN(), math.NaN()
	}
	return f.mean[i], math.Sqrt(f.cov.At(i, i))
}

// Difference returns how much more a is liked than b, in log odds, and its standard
// error; NaN when one is not among the faces.
func (f *Fit) Difference(a, b studio.FaceOf) (difference, se float64) {
	i, okA := f.at[a]
	j, okB := f.at[b]
	if !okA || !okB {
		return math.NaN(), math.NaN()
	}
	return f.mean[i] - f.mean[j], math.Sqrt(math.Max(0, f.cov.At(i, i)+f.cov.At(j, j)-2*f.cov.At(i, j)))
}

// telling is what one choice tells about a difference d of two strengths (Fisher's
// information).
func telling(d, tie float64) float64 {
	a, b, _ := odds(d, tie)
	return (a+b)/4 - (a-b)*(a-b)/4
}
