package demo

import (
	"context"
	"fmt"
	"time"

	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// filledAt is the setting that keeps when the example was filled in, so that
// its photographs can be made later, and again after a break, the same.
const filledAt = "demo.filled"

// Fill writes the example's records into s, all marked invented: metals,
// supplies, chambers, recipes with their versions, sets, swatches, treatments
// and what happened to them up to now. The photographs are made by [Develop].
//
// A studio that holds the example already is refused, and so is one that holds
// swatches of its own. The error is then a *studio.Problem.
func Fill(ctx context.Context, s *store.Store, now time.Time) error {
	swatches, err := s.Swatches(ctx)
	if err != nil {
		return fmt.Errorf("look for swatches: %w", err)
	}
	has, err := s.HasInvented(ctx)
	if err != nil {
		return fmt.Errorf("look for the example: %w", err)
	}
	if has {
		return studio.Problemf(studio.Conflict, "", "The example is in this studio already; take it out before filling it in again.")
	}
	if len(swatches) > 0 {
		return studio.Problemf(studio.Conflict, "", "This studio has %d swatches of its own, and the example would stand among them; open a new, empty folder to look around in.", len(swatches))
	}
	stamp := now.Truncate(time.Second).Format(time.RFC3339)
	if now, err = time.Parse(time.RFC3339, stamp); err != nil {
		return fmt.Errorf("read the time %s back: %w", stamp, err)
	}
	b := newBench(now)
	if err := b.save(ctx, s, now); err != nil {
		return err
	}
	if err := b.saveAir(ctx, s); err != nil {
		return err
	}
	chapters, err := story(b, now)
	if err != nil {
		return fmt.Errorf("tell the example: %w", err)
	}
	for _, c := range chapters {
		if err := c.save(ctx, s); err != nil {
			return fmt.Errorf("save set %s: %w", c.layout.Set.Name, err)
		}
	}
	if err := b.saveLog(ctx, s, now); err != nil {
		return err
	}
	if err := saveTaste(ctx, s, now); err != nil {
		return err
	}
	if err := b.saveDay(ctx, s, now); err != nil {
		return err
	}
	if err := b.savePiece(ctx, s, now); err != nil {
		return err
	}
	if err := b.saveClass(ctx, s, now); err != nil {
		return err
	}
	if err := savePlaces(ctx, s, now); err != nil {
		return err
	}
	return s.SaveSetting(ctx, filledAt, stamp)
}

// save writes the bench into s and takes the IDs it gives.
func (b *bench) save(ctx context.Context, s *store.Store, now time.Time) (err error) {
	for i := range b.metals {
		if b.metals[i], err = s.SaveMetal(ctx, b.metals[i]); err != nil {
			return fmt.Errorf("save metal %s: %w", b.metals[i].Name, err)
		}
	}
	for i := range b.supplies {
		if b.supplies[i], err = s.SaveSupply(ctx, b.supplies[i]); err != nil {
			return fmt.Errorf("save supply %s: %w", b.supplies[i].Name, err)
		}
	}
	for i := range b.chambers {
		if b.chambers[i], err = s.SaveChamber(ctx, b.chambers[i]); err != nil {
			return fmt.Errorf("save chamber %s: %w", b.chambers[i].Name, err)
		}
	}
	known := map[string]int64{}
	for _, w := range b.writings(now) {
		v := w.version
		if w.over >= 0 {
			v.OverID = b.versions[w.over].ID
		}
		if id, ok := known[w.name]; ok {
			v, err = s.AddVersion(ctx, id, v)
		} else {
			var r studio.Recipe
			r, err = s.AddRecipe(ctx, studio.Recipe{Name: w.name, Invented: true}, v)
			known[w.name], v = r.ID, r.Latest
		}
		if err != nil {
			return fmt.Errorf("save recipe %s: %w", w.name, err)
		}
		b.versions = append(b.versions, v)
	}
	return nil
}

// save writes the chapter's set, swatches, treatments and records into s.
func (c *chapter) save(ctx context.Context, s *store.Store) error {
	var pieces []store.NewSwatch
	for _, p := range c.layout.Pieces {
		pieces = append(pieces, store.NewSwatch{Swatch: p.Swatch, Treatments: p.Treatments})
	}
	set, swatches, err := s.AddSet(ctx, c.layout.Set, pieces)
	if err != nil {
		return err
	}
	kept, err := s.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return err
	}
	type which struct {
		swatch int64
		faces  studio.Faces
		layer  int
	}
	ids := map[which]int64{}
	for _, t := range kept {
		ids[which{t.Swatch, t.Faces, t.Layer}] = t.ID
	}
	for i := range c.layout.Pieces {
		c.layout.Pieces[i].Swatch = swatches[i]
		for j := range c.layout.Pieces[i].Treatments {
			t := &c.layout.Pieces[i].Treatments[j]
			t.Swatch, t.SetID = swatches[i].Number, set.ID
			if t.ID = ids[which{t.Swatch, t.Faces, t.Layer}]; t.ID == 0 {
				return fmt.Errorf("no treatment kept for swatch %d, %s, layer %d", t.Swatch, t.Faces, t.Layer)
			}
		}
	}
	taps, later := c.records()
	got, err := s.AddEvents(ctx, taps)
	if err != nil {
		return err
	}
	byKey := map[string]int64{}
	for _, e := range got {
		byKey[e.Client] = e.ID
	}
	var corrections []studio.Event
	for _, d := range later {
		if d.event.Corrects = byKey[d.corrects]; d.event.Corrects == 0 {
			return fmt.Errorf("nothing kept under %s to correct", d.corrects)
		}
		corrections = append(corrections, d.event)
	}
	if len(corrections) > 0 {
		_, err = s.AddEvents(ctx, corrections)
	}
	return err
}

// records returns the chapter's records in the order they happened, and apart
// from them the corrections, which need to know what they correct.
func (c *chapter) records() (taps []studio.Event, corrections []deed) {
	wrong := map[string]bool{}
	for _, d := range c.extra {
		d.event.Treatment = c.treatment(d.spot).ID
		if d.corrects != "" {
			corrections = append(corrections, d)
			wrong[d.corrects] = true
			continue
		}
		taps = append(taps, d.event)
	}
	for i, p := range c.layout.Pieces {
		by := maren
		if c.piece(i)%2 == 0 {
			by = odile
		}
		for j, t := range p.Treatments {
			if r, ok := c.runs[spot{i, j}]; ok {
				for _, e := range r.taps(c.piece(i), t, by) {
					if wrong[e.Client] {
						e.At = e.At.Add(tappedLate)
					}
					taps = append(taps, e)
				}
			}
		}
	}
	sortEvents(taps)
	return taps, corrections
}
