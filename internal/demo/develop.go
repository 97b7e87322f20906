package demo

import (
	"context"
	"fmt"
	"sort"
	"sync"
	"time"

	"aerugo/internal/picture"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// Develop makes the example's photographs, keeps them in s and measures them,
// with so many workers at once; progress may be nil and is called after each
// photograph, one call at a time. What is there already is left as it is, so
// Develop may be stopped by ctx and called again. A studio without the example
// is left alone.
func Develop(ctx context.Context, s *store.Store, workers int, progress func(done, total int)) error {
	rolls, err := rollsOf(ctx, s)
	if err != nil {
		return err
	}
	total, done := 0, 0
	for _, r := range rolls {
		total += len(r.shots)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var (
		mu    sync.Mutex
		first error
		work  = make(chan roll)
		wait  sync.WaitGroup
	)
	tick := func() {
		mu.Lock()
		defer mu.Unlock()
		if done++; progress != nil {
			progress(done, total)
		}
	}
	for range max(1, workers) {
		wait.Go(func() {
			for r := range work {
				if err := r.develop(ctx, s, tick); err != nil {
					mu.Lock()
					if first == nil {
						first = err
					}
					mu.Unlock()
					stop()
				}
			}
		})
	}
feed:
	for _, r := range rolls {
		select {
		case work <- r:
		case <-ctx.Done():
			break feed
		}
	}
	close(work)
	wait.Wait()
	if first != nil {
		return first
	}
	return ctx.Err()
}

// rollsOf returns the photographs still in the story for the swatches in s.
func rollsOf(ctx context.Context, s *store.Store) ([]roll, error) {
	stamp, err := s.Setting(ctx, filledAt)
	if err != nil || stamp == "" {
		return nil, err
	}
	now, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return nil, fmt.Errorf("read setting %s: %w", filledAt, err)
	}
	b := newBench(now)
	b.number(now)
	chapters, err := story(b, now)
	if err != nil {
		return nil, fmt.Errorf("tell the example: %w", err)
	}
	sets, err := s.Sets(ctx)
	if err != nil {
		return nil, err
	}
	ofName := map[string]studio.Set{}
	for _, set := range sets {
		if set.Invented {
			ofName[set.Name] = set
		}
	}
	var rolls []roll
	for _, c := range chapters {
		set, ok := ofName[c.layout.Set.Name]
		if !ok {
			continue // taken out, or in the bin
		}
		swatches, err := s.SwatchesOf(ctx, set.ID)
		if err != nil {
			return nil, fmt.Errorf("swatches of set %d: %w", set.ID, err)
		}
		sort.Slice(swatches, func(i, j int) bool { return swatches[i].Number < swatches[j].Number })
		if len(swatches) != len(c.layout.Pieces) {
			continue // no longer as it was told
		}
		rolls = append(rolls, c.rolls(swatches)...)
	}
	return rolls, nil
}

// develop makes, keeps and measures the photographs of one face.
func (r roll) develop(ctx context.Context, s *store.Store, tick func()) error {
	kept, err := s.PhotosOf(ctx, r.swatch.Number)
	if err != nil {
		return fmt.Errorf("photos of swatch %d: %w", r.swatch.Number, err)
	}
	have := map[string]studio.Photo{}
	for _, p := range kept {
		have[p.Client] = p
	}
	var bare *studio.Measurement
	for i, shot := range r.shots {
		if err := ctx.Err(); err != nil {
			return err
		}
		m, err := shot.keep(ctx, s, r.moment[i], have, bare)
		if err != nil {
			return fmt.Errorf("make photograph %s: %w", shot.client(), err)
		}
		if bare == nil && r.moment[i] == studio.Bare {
			bare = m
		}
		tick()
	}
	return nil
}

// keep makes, keeps and measures one photograph unless that has been done, and
// returns its measurement.
func (s Shot) keep(ctx context.Context, st *store.Store, moment studio.Moment, have map[string]studio.Photo, bare *studio.Measurement) (*studio.Measurement, error) {
	photo, ok := have[s.client()]
	if ok && photo.Measurement != nil {
		return photo.Measurement, nil
	}
	var data []byte
	var err error
	if ok {
		data, err = st.PhotoData(ctx, photo.ID)
	} else {
		data = Render(s)
		photo, err = s.add(ctx, st, moment, data)
	}
	switch {
	case err != nil:
		if p := studio.ProblemIn(err); p != nil && p.Kind == studio.Conflict {
			return nil, nil // in the bin, drawn by an older version: left there
		}
		return nil, err
	case photo.Measurement != nil:
		return photo.Measurement, nil
	}
	m, err := s.measure(data, bare)
	if err != nil {
		return nil, err
	}
	m.Photo = photo.ID
	kept, err := st.AddMeasurement(ctx, m)
	if err != nil {
		return nil, err
	}
	return &kept, nil
}

// add keeps a photograph as one that was sent in is kept.
func (s Shot) add(ctx context.Context, st *store.Store, moment studio.Moment, data []byte) (studio.Photo, error) {
	info, err := picture.Inspect(data)
	if err != nil {
		return studio.Photo{}, err
	}
	photo, _, err := st.AddPhoto(ctx, studio.Photo{
		Swatch: s.Number, Face: s.Face, Moment: moment, Taken: s.Taken.UTC(), TakenFrom: "photo",
		Format: info.Format, Width: info.Width, Height: info.Height, Profile: info.Profile, Camera: info.Camera, Client: s.client(),
	}, data)
	return photo, err
}
