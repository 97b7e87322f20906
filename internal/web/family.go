package web

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"strconv"

	"aerugo/internal/flow/plan"
	"aerugo/internal/flow/propose"
	"aerugo/internal/studio"
)

// familyChoice is a recipe on a metal, of which swatches were measured.
type familyChoice struct {
	Set      int64 // the newest of its sets, or the one that was chosen
	Label    string
	measured int
}

// families lists the recipes on their metals whose sets varied something, the newest
// first, and which of them a set belongs to.
func (s *Server) families(ctx context.Context, chosen int64) (out []familyChoice, set studio.Set, err error) {
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return nil, set, err
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, set, err
	}
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return nil, set, err
	}
	measured := map[int64]bool{}
	for _, l := range looks {
		if l.Measurement != nil && l.Moment == studio.Finished && l.Measurement.Calibrated {
			measured[l.Swatch] = true
		}
	}
	count := map[int64]int{}
	for _, x := range swatches {
		if measured[x.Number] && !x.Blank {
			count[x.SetID]++
		}
	}
	slices.Reverse(sets)
	var heads []studio.Set
	for _, x := range sets {
		if !propose.Alike(x, x) {
			continue
		}
		head := slices.IndexFunc(heads, func(y studio.Set) bool { return propose.Alike(x, y) })
		if head < 0 {
			n := 0
			for _, y := range sets {
				if propose.Alike(x, y) {
					n += count[y.ID]
				}
			}
			label, err := s.familyName(ctx, x)
			if err != nil {
				return nil, set, err
			}
			head, heads = len(heads), append(heads, x)
			out = append(out, familyChoice{x.ID, fmt.Sprintf("%s (%d measured)", label, n), n})
		}
		if x.ID == chosen {
			set = x
			out[head].Set = x.ID
		}
	}
	if set.ID == 0 && chosen == 0 { // those of which most is known
		best := -1
		for i, x := range heads {
			if out[i].measured > best {
				best, set = out[i].measured, x
			}
		}
	}
	return slices.DeleteFunc(out, func(c familyChoice) bool { return c.measured == 0 && c.Set != set.ID }), set, nil
}

func (s *Server) familyName(ctx context.Context, set studio.Set) (string, error) {
	link, err := s.recipeLink(ctx, set.FrontID)
	if err != nil {
		return "", err
	}
	metal, err := s.metalOf(ctx, set.MetalID)
	if err != nil {
		return "", err
	}
	return link.Name + ", on " + metal.Name, nil
}

// gathered is a family with what it was gathered from.
type gathered struct {
	*propose.Family
	set   studio.Set
	bench propose.Bench
	key   string // changes when anything does that a prediction rests on
}

// gather reads the measured swatches of the family that a set belongs to, to be made
// on in a place.
func (s *Server) gather(ctx context.Context, set studio.Set, face studio.Face, place placeForm) (g gathered, err error) {
	g.set = set
	b := &g.bench
	if b.Front, err = s.store.Version(ctx, set.FrontID); err != nil {
		return g, err
	}
	if b.FrontBelow, err = s.below(ctx, b.Front); err != nil {
		return g, err
	}
	if set.BackID != 0 && !set.SameFaces {
		v, err := s.store.Version(ctx, set.BackID)
		if err != nil {
			return g, err
		}
		b.Back = &v
		if b.BackBelow, err = s.below(ctx, v); err != nil {
			return g, err
		}
	}
	if b.Metal, err = s.metalOf(ctx, set.MetalID); err != nil {
		return g, err
	}
	if b.Hands, err = s.store.HandAmounts(ctx); err != nil {
		return g, err
	}
	f, err := s.fuming(ctx)
	if err != nil {
		return g, err
	}
	b.Supplies = f.supplies
	for _, c := range f.chambers {
		x, _, err := s.bench(ctx, f, c)
		if err != nil {
			return g, err
		}
		b.Chambers = append(b.Chambers, x)
		if c.ID == set.ChamberID {
			b.Chamber = c
		}
	}
	where := set
	where.RoomID, where.Class = place.Room, place.Class
	b.Place, b.Now = plan.PlaceOf(where, place.Rooms), s.now()
	b.WidthMM, b.HeightMM, b.SameFaces = set.WidthMM, set.HeightMM, set.SameFaces
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return g, err
	}
	h := fnv.New64a()
	fmt.Fprint(h, b.Front.ID, b.Metal, b.Supplies, b.Hands, b.Place, localDay(b.Now), set.ID, set.ChamberID, face)
	for _, c := range b.Chambers {
		fmt.Fprint(h, c.Chamber, c.K, len(c.Log))
	}
	var sources []propose.Source
	for _, x := range sets {
		if !propose.Alike(set, x) {
			continue
		}
		rows, err := s.rows(ctx, x, false)
		if err != nil {
			return g, err
		}
		for _, r := range rows {
			fmt.Fprint(h, x.ID, r.Swatch, r.Photo, r.Face, r.Lab, r.Calibrated, r.Settings, r.Run, r.Day, r.Chamber)
			if r.Coverage != nil {
				fmt.Fprint(h, r.Coverage.Value)
			}
		}
		sources = append(sources, propose.Source{Set: x, Rows: rows})
	}
	g.key = strconv.FormatUint(h.Sum64(), 36)
	g.Family, err = propose.Gather(*b, face, sources)
	return g, err
}

// ask is what flow/plan needs to lay proposals of this family out.
func (g gathered) ask(name, question string, replicates, blanks int, seed uint64) plan.Ask {
	return plan.Ask{Name: name, Question: question, Replicates: replicates, Blanks: blanks, Seed: seed, WidthMM: g.set.WidthMM, HeightMM: g.set.HeightMM,
		Chamber: g.bench.Chamber, Front: g.bench.Front, FrontBelow: g.bench.FrontBelow, Back: g.bench.Back, BackBelow: g.bench.BackBelow, SameFaces: g.set.SameFaces}
}

// modelSeed is the one number that all predictions start from, so that the same
// swatches give the same answer on every day.
const modelSeed = 1

// modelOf returns the model of a family, kept until anything changes that it rests on.
func (s *Server) modelOf(g gathered) *thought {
	return s.think("model "+g.key, func() (any, error) { return g.Fit(modelSeed) })
}

// asked runs a question to a family's model, off the request when it takes long. Key
// tells questions apart. False: it is still being worked out.
func asked[T any](ctx context.Context, s *Server, g gathered, key string, ask func(*propose.Model) (T, error)) (out T, ok bool, err error) {
	t := s.think("answer "+g.key+" "+key, func() (any, error) {
		m := s.modelOf(g)
		<-m.done
		if m.err != nil {
			return nil, m.err
		}
		return ask(m.value.(*propose.Model))
	})
	if !t.ready(ctx) {
		return out, false, nil
	}
	if t.err != nil {
		return out, true, t.err
	}
	return t.value.(T), true, nil
}

// basis is what a model says of itself.
type basis struct {
	Swatches int
	Missed   float64
	Repeat   float64
	Assumed  bool
	Physics  []string
	Notes    []string
}

func basisOf(m *propose.Model) basis {
	return basis{len(m.Tried), m.Missed, m.Repeat, m.RepeatAssumed, m.Physics, m.Notes}
}
