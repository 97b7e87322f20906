package demo

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// saveTaste keeps a small sitting: the two makers chose between the fronts of the set
// that varies salt and wetting, a day ago. Both like what was wetted; Odile likes much
// salt too.
func saveTaste(ctx context.Context, s *store.Store, now time.Time) error {
	sets, err := s.Sets(ctx)
	if err != nil {
		return fmt.Errorf("look for a set to choose from: %w", err)
	}
	for _, set := range sets {
		wets := false
		for _, f := range set.Factors {
			wets = wets || f.Kind == studio.ByWetting
		}
		if !wets {
			continue
		}
		ts, err := s.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
		if err != nil {
			return fmt.Errorf("look for the faces of set %d: %w", set.ID, err)
		}
		x := studio.Sitting{Question: "Which of these two would you put on the lamp?", From: studio.FromSet, Set: set.ID, Blind: true, Seed: 8, By: maren, Made: now.Add(-26 * time.Hour)}
		wetted, heavy := map[studio.FaceOf]float64{}, map[studio.FaceOf]float64{}
		for _, t := range ts {
			if t.Blank || t.Layer != 1 || len(t.Settings) == 0 || !t.Faces.Has(studio.Front) {
				continue
			}
			f := studio.FaceOf{Swatch: t.Swatch, Face: studio.Front}
			x.Faces = append(x.Faces, f)
			for _, l := range t.Settings {
				if l.Level.Yes {
					wetted[f] = 1
				}
				if l.Level.Label == studio.Heavy {
					heavy[f] = 1
				}
			}
		}
		if x, err = s.AddSitting(ctx, x); err != nil {
			return fmt.Errorf("save the sitting: %w", err)
		}
		return choices(ctx, s, x, wetted, heavy)
	}
	return nil
}

// choices keeps what the makers chose: each face is met about equally often.
func choices(ctx context.Context, s *store.Store, x studio.Sitting, wetted, heavy map[studio.FaceOf]float64) error {
	rng := rand.New(rand.NewPCG(x.Seed, 1))
	at := x.Made.Add(time.Minute)
	for k, who := range []string{maren, odile} {
		likes := map[studio.FaceOf]float64{}
		for _, f := range x.Faces {
			likes[f] = 1.8*wetted[f] + float64(k)*1.2*heavy[f] + 0.5*rng.NormFloat64()
		}
		for round := range 4 {
			order := rng.Perm(len(x.Faces))
			for i := 0; i+1 < len(order); i += 2 {
				c := studio.Choice{Sitting: x.ID, Client: fmt.Sprintf("invented-choice-%d-%d-%d", k, round, i), Who: who, Left: x.Faces[order[i]], Right: x.Faces[order[i+1]], Chosen: studio.ChoseRight,
					Took: time.Duration(1500+rng.IntN(4000)) * time.Millisecond, At: at}
				if d := likes[c.Left] - likes[c.Right]; math.Abs(d) < 0.15 {
					c.Chosen = studio.CantChoose
				} else if rng.Float64() < 1/(1+math.Exp(-d)) {
					c.Chosen = studio.ChoseLeft
				}
				if _, err := s.AddChoice(ctx, c); err != nil {
					return fmt.Errorf("save a choice: %w", err)
				}
				at = at.Add(c.Took + 2*time.Second)
			}
		}
	}
	return nil
}
