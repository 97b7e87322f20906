package demo

import (
	"context"
	"fmt"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// saveDay keeps the bench day that is on: the two makers finish what runs and make
// what is left of that set.
func (b *bench) saveDay(ctx context.Context, s *store.Store, now time.Time) error {
	sets, err := s.Sets(ctx)
	if err != nil {
		return fmt.Errorf("look for the set that runs: %w", err)
	}
	swatches, err := s.Swatches(ctx)
	if err != nil {
		return fmt.Errorf("look for its swatches: %w", err)
	}
	of := map[int64]studio.Swatch{}
	for _, x := range swatches {
		of[x.Number] = x
	}
	there := []studio.Hours{{From: now.Add(-5 * time.Hour).Truncate(time.Hour).UTC(), Till: now.Add(10 * time.Hour).Truncate(time.Hour).UTC()}}
	a := benchday.Ask{Now: now, Wish: studio.BenchAsk{People: []studio.BenchPerson{{Name: maren, There: there}, {Name: odile, There: there}}}}
	for _, c := range b.chambers {
		a.Chambers = append(a.Chambers, benchday.Chamber{ID: c.ID, Name: c.Name, Places: c.Places})
	}
	for _, set := range sets {
		ts, err := s.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
		if err != nil {
			return fmt.Errorf("look for what runs of set %d: %w", set.ID, err)
		}
		var ids []int64
		for _, t := range ts {
			ids = append(ids, t.ID)
		}
		events, err := s.Events(ctx, ids)
		if err != nil {
			return fmt.Errorf("look for what happened to set %d: %w", set.ID, err)
		}
		var entries []run.Entry
		runs := false
		for _, t := range ts {
			r := run.Fold(t, events[t.ID])
			runs = runs || r.Status == run.Running
			if !t.Blank && (r.Status == run.Running || r.Status == run.Planned) {
				entries = append(entries, run.Entry{Treatment: t, Swatch: of[t.Swatch], Record: r})
			}
		}
		if !runs {
			continue
		}
		for _, e := range entries {
			a.Entries = append(a.Entries, e)
			a.Wish.Treatments = append(a.Wish.Treatments, e.Treatment.ID)
		}
	}
	if len(a.Entries) == 0 {
		return nil
	}
	a.Finish.Steps, a.Tidy.Steps = 1500, 1500 // the first good one: the studio opens at once
	sheet, err := benchday.Make(a)
	if err != nil {
		return fmt.Errorf("plan the bench day: %w", err)
	}
	if !sheet.Fits {
		return fmt.Errorf("plan the bench day: %v", sheet.Reasons)
	}
	day := studio.BenchDay{Name: now.Format("Monday 2 January"), Made: now.UTC(), By: maren}
	plan := studio.BenchPlan{Made: now.UTC(), By: maren, Ask: a.Wish, Starts: sheet.Starts, Finish: sheet.Finish, Bound: sheet.Bound, Openings: sheet.Openings()}
	if _, _, err := s.AddBenchDay(ctx, day, plan); err != nil {
		return fmt.Errorf("keep the bench day: %w", err)
	}
	return nil
}
