package propose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// A Question asks what a factor does, or which of two does more. A and B are places
// among the family's factors, B −1 for none. FromA and ToA are levels of A as places
// in its list; both 0: the first to the last.
type Question struct {
	A, B       int
	FromA, ToA int
	Batch      int // 0 for 3
	Within     time.Duration
	Stock      Stock // what there is to make them from; nil: not asked
	Seed       uint64
}

// An Effect is how far moving a factor moves the look, on average over the other
// factors: the distance in CIELAB with its 90 % interval, now and once the proposed
// swatches are made.
type Effect struct {
	Factor, From, To         string
	Size, Low, High          float64
	LowAfter, HighAfter      float64
	Words, Before, Afterward string
	Known                    bool
}

// An Answer is what is known, and what would tell. Settled says that no more is
// needed, and what the answer is.
type Answer struct {
	Effects   []Effect
	Settled   string
	Proposals []Proposal
	Notes     []string
	LeftOut   string // what the shelf ruled out, where it was asked
}

// small is the difference that a person would not call another look: a choice of ours.
const small = 5.0

// Settle proposes the swatches that tell most about a question.
func (m *Model) Settle(q Question) (Answer, error) {
	var a Answer
	batch, note := m.fits(q.Batch)
	if note != "" {
		a.Notes = append(a.Notes, note)
	}
	asked := []int{q.A}
	shelf := m.asks(q.Stock)
	if q.B >= 0 {
		if q.B == q.A {
			return a, studio.Problemf(studio.Invalid, "b", "Choose two different things to compare.")
		}
		asked = append(asked, q.B)
	}
	for n, factor := range asked {
		share := batch
		if len(asked) == 2 { // the second gets what the first leaves
			share = (batch + 1 - n) / 2
		}
		if err := m.ask(&a, factor, q, max(1, share), n == 0, shelf); err != nil {
			return a, err
		}
	}
	a.settle()
	a.LeftOut = shelf.words()
	if a.Settled != "" {
		a.Proposals, a.LeftOut = nil, ""
	} else if len(a.Proposals) > batch {
		a.Proposals = a.Proposals[:batch]
	}
	return a, nil
}

// ask adds what is known of one factor.
func (m *Model) ask(a *Answer, factor int, q Question, batch int, first bool, shelf *atHand) error {
	if factor < 0 || factor >= len(m.Factors) {
		return studio.Problemf(studio.Invalid, "a", "Choose what to ask about.")
	}
	i := slices.IndexFunc(m.free, func(x axis) bool { return x.factor == factor })
	if i < 0 {
		return studio.Problemf(studio.Invalid, "a", "Only one %s was made, so nothing can be said of it.", m.Factors[factor].Name)
	}
	x := m.Factors[factor]
	from, to := 0, len(x.Levels)-1
	if first && q.FromA != q.ToA {
		from, to = q.FromA, q.ToA
	}
	if from < 0 || to < 0 || from >= len(x.Levels) || to >= len(x.Levels) {
		return studio.Problemf(studio.Invalid, "a", "%s was not made with such a level.", capital(x.Name))
	}
	value := func(l int) float64 {
		if m.free[i].Levels != nil {
			return float64(l)
		}
		return x.Levels[l].Number
	}
	refused := map[string]int{}
	r := rand.New(rand.NewPCG(q.Seed, stream+uint64(factor)))
	got, err := m.model.Ask(guess.Question{Factor: i, From: value(from), To: value(to), Round: m.round, Allowed: m.allowed(q.Within, refused), Offered: shelf.offered(), Compute: m.compute, Batch: batch, Effort: effort}, r)
	if err != nil {
		return m.nothing(err, refused)
	}
	e := Effect{Factor: x.Name, From: x.Levels[from].Label, To: x.Levels[to].Label}
	size := 0.0
	for _, d := range got.Now.Mean {
		size += d * d
	}
	e.Size = math.Sqrt(size)
	now, after, wide := 0.0, 0.0, 1.0
	for c, d := range got.Now.Mean {
		part := 1.0 / float64(len(got.Now.Mean))
		if size > 0 {
			part = d * d / size
		}
		now, after = now+part*square(got.Now.SD[c]), after+part*square(got.After[c])
		if got.Now.SD[c] > 0 {
			wide = (got.Now.High[c] - d) / got.Now.SD[c]
		}
	}
	now, after = wide*math.Sqrt(now), wide*math.Sqrt(after)
	e.Low, e.High = max(0, e.Size-now), e.Size+now
	e.LowAfter, e.HighAfter = max(0, e.Size-after), e.Size+after
	e.Known = e.Low > 0 || e.High < small
	e.Words = fmt.Sprintf("From %s to %s, %s changes the look by about %.0f (%.0f to %.0f).", e.From, e.To, x.Name, e.Size, e.Low, e.High)
	if e.Low == 0 {
		e.Words = fmt.Sprintf("From %s to %s, %s changes the look by at most about %.0f; perhaps not at all.", e.From, e.To, x.Name, e.High)
	}
	e.Before, e.Afterward = fmt.Sprintf("known to within %.1f either way", now), fmt.Sprintf("to within about %.1f with these swatches", after)
	var runs [][]float64
	for _, at := range got.Runs {
		if at = m.rounded(at[:len(m.free)]); shelf.take(at) {
			runs = append(runs, at)
		}
	}
	if len(runs) < len(got.Runs) || len(runs) == 0 { // what was reckoned rests on swatches that can't be made
		e.LowAfter, e.HighAfter, e.Afterward = e.Low, e.High, "closer with these swatches, but by how much is not reckoned"
		if len(runs) == 0 {
			e.Afterward = "no closer without more on the shelf"
		}
	}
	a.Effects = append(a.Effects, e)
	for _, at := range runs {
		if j := m.among(at, a.Proposals); j >= 0 {
			a.Proposals[j].Times = min(2, a.Proposals[j].Times+1)
			continue
		}
		p := Proposal{Times: 1}
		if p.Look, err = m.lookAt(at); err != nil {
			return err
		}
		p.Says = fmt.Sprintf("tells what %s does", x.Name)
		p.Why = m.why(at, "", p.Beyond)
		a.Proposals = append(a.Proposals, p)
	}
	return nil
}

// settle says whether the question is answered.
func (a *Answer) settle() {
	switch e := a.Effects; {
	case len(e) == 1 && e[0].High < small:
		a.Settled = fmt.Sprintf("Settled: %s makes no difference bigger than %.0f, which hardly anybody would call another look.", e[0].Factor, small)
	case len(e) == 1 && e[0].Low > 0 && e[0].High-e[0].Low < small:
		a.Settled = fmt.Sprintf("Settled: %s changes the look by %.0f to %.0f. More swatches would hardly tell it closer.", e[0].Factor, e[0].Low, e[0].High)
	case len(e) == 2 && e[0].High < small && e[1].High < small:
		a.Settled = "Settled: neither makes a difference that a person would call another look."
	case len(e) == 2 && e[0].Low > e[1].High:
		a.Settled = fmt.Sprintf("Settled: %s matters more than %s.", e[0].Factor, e[1].Factor)
	case len(e) == 2 && e[1].Low > e[0].High:
		a.Settled = fmt.Sprintf("Settled: %s matters more than %s.", e[1].Factor, e[0].Factor)
	}
}
