package web

import (
	"math"
	"time"

	"aerugo/internal/flow/pool"
	"aerugo/internal/flow/run"
	"aerugo/internal/science/film"
	"aerugo/internal/studio"
)

// dryView says when a face will be dry.
type dryView struct {
	pool.Drying
	Text  string
	Ahead bool // the step has not begun
	Ask   bool // the room was not read
}

// dryOf looks at a treatment's Dry step: the one under way, else the next ahead
// of one that has begun. Nil when there is none, or nothing is known to be wet.
func (b wetBench) dryOf(f folded, x studio.Swatch, now time.Time) *dryView {
	if f.Record.Status != run.Running {
		return nil
	}
	for i := f.Record.Current; i < len(f.Treatment.Steps); i++ {
		if f.Treatment.Steps[i].Kind != studio.Dry {
			continue
		}
		d, ok := pool.Dry(b.job(f.Treatment, x, f.Record), i, b.room, now)
		if !ok {
			return nil
		}
		v := &dryView{Drying: d, Text: d.Words, Ahead: i != f.Record.Current, Ask: b.room.TempAssumed || b.room.RHAssumed}
		if v.Ahead && d.Outlook == film.Dries && !math.IsInf(d.Hours.Value, 1) && d.Hours.Value > 0 {
			v.Text = "Will take about " + aboutHours(d.Hours.Value) + " to dry (" + aboutHours(d.Hours.Low) + " to " + aboutHours(d.Hours.High) + ")."
		}
		return v
	}
	return nil
}

// aboutHours writes hours no finer than they are known.
func aboutHours(h float64) string {
	step := 5 * time.Minute
	switch {
	case math.IsInf(h, 1):
		return "never"
	case h >= 4:
		step = 30 * time.Minute
	case h >= 1:
		step = 15 * time.Minute
	}
	return studio.Span(max(time.Duration(h*float64(time.Hour)).Round(step), step))
}

// dryLines are what a task's card says of drying: of several swatches the
// slowest counts.
func (b wetBench) dryLines(t run.Task, folds []folded, by map[int64]studio.Swatch, now time.Time) []string {
	var slowest *dryView
	for _, m := range t.Members {
		for _, f := range folds {
			if f.Treatment.ID != m.Treatment {
				continue
			}
			if d := b.dryOf(f, by[m.Swatch], now); d != nil && !d.Ahead && (slowest == nil || d.Hours.Value > slowest.Hours.Value) {
				slowest = d
			}
		}
	}
	if slowest == nil {
		return nil
	}
	text := slowest.Text
	if slowest.Outlook != film.Dries {
		text = "▲ " + text
	}
	out := []string{text, "Room: " + slowest.Room.String()}
	if slowest.Ask {
		out = append(out, "Read the room and keep it under ‘Something was different’, and this follows.")
	}
	return out
}
