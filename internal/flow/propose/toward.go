package propose

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"aerugo/internal/science/colour"
	"aerugo/internal/science/guess"
	"aerugo/internal/studio"
)

// A Goal is what to come near, and what there is for it.
type Goal struct {
	Target colour.Lab
	Near   float64       // dE00 at which it is as good as reached; 0 for 3
	Batch  int           // swatches to make before looking again; 0 for 3
	Within time.Duration // the longest one treatment may take, all its steps; 0: any
	Stock  Stock         // what there is to make them from; nil: not asked
	Seed   uint64
}

// A Proposal is one swatch to make next. Times says how often, where more than one
// alike would tell most.
type Proposal struct {
	Look
	Times  int
	DE     float64 // to expect from the target, dE00
	Chance float64 // to come within Near
	Says   string  // what to expect, in words
	Why    string
}

// A Batch is what to do next. BestDE is the expected distance of what the best
// swatch truly is, Hands that of a repeat of something that hits the target. Stop,
// where it says anything, is why more trials are no use; Reach that the target can't
// be reached.
type Batch struct {
	Target    colour.Lab
	Near      float64
	Best      Tried
	BestDE    float64
	Hands     float64
	Stop      string
	Reach     string
	Proposals []Proposal
	Notes     []string
	LeftOut   string // what the shelf ruled out, where it was asked
}

// Search effort, and how many settings are asked what can be reached.
const (
	effort  = 500
	scouted = 120
)

// MostProposed is the greatest batch.
const MostProposed = 24

// Toward proposes swatches that come nearer to a look. The error is a *studio.Problem
// when no setting may be tried.
func (m *Model) Toward(g Goal) (Batch, error) {
	if g.Near <= 0 {
		g.Near = 3
	}
	b := Batch{Target: g.Target, Near: g.Near}
	batch, note := m.fits(g.Batch)
	if note != "" {
		b.Notes = append(b.Notes, note)
	}
	refused := map[string]int{}
	r := rand.New(rand.NewPCG(g.Seed, stream))
	loss := guess.Toward(g.Target)
	allowed := m.allowed(g.Within, refused)
	shelf := m.asks(g.Stock)
	left := batch
	for round := 0; round < 3 && left > 0; round++ {
		plan, err := m.model.Next(guess.Goal{Loss: loss, Target: []float64{g.Target.L, g.Target.A, g.Target.B}, Near: g.Near, Round: m.round,
			Allowed: func(at []float64) bool {
				return allowed(at) && (round == 0 || m.among(at, b.Proposals) < 0) && shelf.gives(at)
			},
			Compute: m.compute, Batch: left, Effort: effort}, r)
		if round > 0 && errors.Is(err, guess.ErrNothingAllowed) {
			break // there are no more settings
		}
		if err != nil {
			return b, shelf.nothing(m, err, refused)
		}
		if round == 0 {
			b.Best, b.BestDE, b.Hands = m.Tried[plan.Best], plan.BestLoss, plan.Spread
			if plan.Stop {
				b.Stop = fmt.Sprintf("You are within the spread of your own hands: a repeat of swatch %d differs as much as it differs from the target. More trials can't be told from luck.", b.Best.Swatch)
			}
		}
		for _, p := range plan.Proposals {
			if !shelf.take(m.rounded(p.At[:len(m.free)])) {
				continue // there is not enough for it beside the others
			}
			if err := m.propose(&b, p, g.Near); err != nil {
				return b, err
			}
		}
		left = batch
		for _, p := range b.Proposals {
			left -= p.Times
		}
		if b.Stop != "" {
			break // they are of no use anyway
		}
	}
	b.LeftOut = shelf.words()
	slices.SortStableFunc(b.Proposals, func(x, y Proposal) int {
		switch {
		case x.DE < y.DE:
			return -1
		case x.DE > y.DE:
			return 1
		}
		return 0
	})
	if reach := m.reach(g, b.Proposals, r); reach > g.Near && b.Stop == "" {
		for i := range b.Proposals {
			b.Proposals[i].Times = 1
		}
		b.Reach = fmt.Sprintf("Nothing in these settings is likely to come nearer than %.0f. Vary something else, or another metal.", reach)
	}
	return b, nil
}

// propose adds a proposal to the batch, or makes more of one that it hardly differs
// from: one tells what it is, two how far luck reaches.
func (m *Model) propose(b *Batch, p guess.Proposal, near float64) (err error) {
	at := p.At[:len(m.free)]
	m.round(at)
	if i := m.among(at, b.Proposals); i >= 0 {
		b.Proposals[i].Times = 2
		return nil
	}
	q := Proposal{Times: 1, DE: p.Loss, Chance: p.Chance}
	if q.Look, err = m.lookAt(at); err != nil {
		return err
	}
	q.Says = fmt.Sprintf("should lie about %s from the target (%s to be within %s)", number1(q.DE), chance(q.Chance), number(near))
	reason := "It may come nearer, and tells more than it promises."
	if p.Reason == guess.Exploit {
		reason = "It should come nearer than any so far."
	}
	q.Why = m.why(at, reason, q.Beyond)
	b.Proposals = append(b.Proposals, q)
	return nil
}

// why joins a reason to what was not tried there, unless Beyond says that already.
func (m *Model) why(at []float64, reason string, beyond []string) string {
	if len(beyond) > 0 {
		return reason
	}
	return strings.TrimSpace(reason + " " + capital(m.gap(at)) + ".")
}

// hardly is how far two settings may lie apart and hardly differ: an eighth by ratio,
// a twentieth of the range where there is a nought. A choice of ours.
const (
	hardlyRatio = 0.12
	hardlyRange = 0.05
)

// among returns which proposal a point hardly differs from, -1 for none.
func (m *Model) among(at []float64, proposals []Proposal) int {
	return slices.IndexFunc(proposals, func(p Proposal) bool {
		other, err := m.point(p.Levels)
		if err != nil || !m.sameKinds(at, other) {
			return false
		}
		for i, a := range m.free {
			switch {
			case a.Levels != nil:
			case a.Log && math.Abs(math.Log(at[i]/other[i])) > hardlyRatio, !a.Log && math.Abs(at[i]-other[i]) > hardlyRange*(a.High-a.Low):
				return false
			}
		}
		return true
	})
}

func number1(v float64) string { return fmt.Sprintf("%.1f", v) }

// fits cuts a batch to the chamber's places.
func (m *Model) fits(want int) (batch int, note string) {
	if want < 1 {
		want = 3
	}
	batch = min(want, MostProposed)
	if p := m.bench.Chamber.Places; m.bench.Chamber.ID != 0 && p > 0 && p < batch {
		return p, fmt.Sprintf("%s holds %d, so no more are proposed at once.", m.bench.Chamber.Name, p)
	}
	return batch, ""
}

// round puts a point, in place, to the nearest that hands can make.
func (m *Model) round(at []float64) {
	for i, a := range m.free {
		at[i] = a.round(at[i])
	}
}

// rounded is a point put to the nearest that hands can make.
func (m *Model) rounded(at []float64) []float64 {
	at = slices.Clone(at)
	m.round(at)
	return at
}

// allowed returns what may be tried, and counts why settings are refused.
func (m *Model) allowed(within time.Duration, refused map[string]int) func(at []float64) bool {
	return func(at []float64) bool {
		x := m.make.look(at)
		why := x.stop
		if why == "" && within > 0 && x.total > within {
			why = fmt.Sprintf("Every setting takes longer than %s, all steps together.", studio.Span(within))
		}
		if why != "" {
			refused[why]++
		}
		return why == ""
	}
}

// compute returns what is reckoned of a rounded point.
func (m *Model) compute(at []float64) ([]float64, bool) {
	full, ok := m.whole(at)
	if !ok {
		return nil, false
	}
	return full[len(at):], true
}

// nothing says why nothing is proposed.
func (m *Model) nothing(err error, refused map[string]int) error {
	if !errors.Is(err, guess.ErrNothingAllowed) {
		return fmt.Errorf("choose swatches: %w", err)
	}
	most, why := 0, "No setting can be reckoned."
	for w, n := range refused {
		if n > most || n == most && w < why {
			most, why = n, w
		}
	}
	return studio.Problemf(studio.Conflict, "", "Nothing may be tried. %s", why)
}

// reach returns the least distance that some setting has one chance in ten to come
// within, of what it truly gives.
func (m *Model) reach(g Goal, proposals []Proposal, r *rand.Rand) float64 {
	allowed := m.allowed(g.Within, map[string]int{})
	var points [][]float64
	for _, t := range m.Tried {
		points = append(points, t.at)
	}
	for _, p := range proposals {
		if at, err := m.point(p.Levels); err == nil {
			points = append(points, at)
		}
	}
	for range scouted {
		var at []float64
		for _, a := range m.free {
			switch {
			case a.Levels != nil:
				at = append(at, float64(r.IntN(len(a.Levels))))
			case a.Log:
				at = append(at, a.Low*math.Pow(a.High/a.Low, r.Float64()))
			default:
				at = append(at, a.Low+r.Float64()*(a.High-a.Low))
			}
		}
		m.round(at)
		if allowed(at) {
			points = append(points, at)
		}
	}
	best := math.Inf(1)
	for _, at := range points {
		full, ok := m.whole(at)
		if !ok {
			continue
		}
		draws, err := m.model.Draw(full, false, rand.New(rand.NewPCG(m.seed, stream)))
		if err != nil {
			continue
		}
		var far []float64
		for _, d := range draws {
			far = append(far, colour.Difference(bounded(d), g.Target))
		}
		slices.Sort(far)
		best = min(best, far[len(far)/10])
	}
	return best
}

// Between returns the mean of several looks, and how far the farthest lies from it.
func Between(looks []colour.Lab) (mean colour.Lab, apart float64) {
	n := float64(len(looks))
	for _, l := range looks {
		mean.L, mean.A, mean.B = mean.L+l.L/n, mean.A+l.A/n, mean.B+l.B/n
	}
	for _, l := range looks {
		apart = max(apart, colour.Difference(l, mean))
	}
	return mean, apart
}
