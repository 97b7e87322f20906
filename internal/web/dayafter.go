package web

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/studio"
)

// afterPage is a bench day, planned against what was done.
type afterPage struct {
	Frame
	Day      studio.BenchDay
	Plans    []studio.BenchPlan
	Report   benchday.Report
	Rows     []afterRow
	Swatches []afterSwatch
	Learnt   []afterLearnt
	Gone     bool // nothing of it is left
}

type afterRow struct {
	benchday.Row
	Planned, Done, Late string
}

type afterSwatch struct {
	Swatch int64
	Took   time.Duration
}

type afterLearnt struct {
	Kind              studio.StepKind
	Median, Low, High string
	N                 int
	Enough            bool
}

// dayAfter is GET /day/{id}/after.
func (s *Server) dayAfter(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	day, err := s.store.BenchDay(ctx, id)
	if err != nil {
		return err
	}
	p := afterPage{Frame: s.frame(r, day.Name+", afterwards", "today"), Day: day}
	if p.Plans, err = s.store.BenchPlans(ctx, id); err != nil {
		return err
	}
	if len(p.Plans) == 0 {
		return fmt.Errorf("bench day %d has no plan", id)
	}
	ask, err := s.dayAsk(ctx, p.Plans[len(p.Plans)-1].Ask, nil)
	if err != nil {
		return err
	}
	if p.Gone = len(ask.Wish.Treatments) == 0; p.Gone {
		s.show(w, http.StatusOK, "day_after", p)
		return nil
	}
	if p.Report, err = benchday.After(ask, p.Plans[0].Starts); err != nil {
		return err
	}
	now := ask.Now
	for _, x := range p.Report.Rows {
		row := afterRow{Row: x, Planned: "–", Done: "–"}
		if !x.PlannedAt.IsZero() {
			row.Planned = dayClock(x.PlannedEnd, now)
		}
		if !x.DoneEnd.IsZero() {
			row.Done = dayClock(x.DoneEnd, now)
			switch {
			case x.PlannedAt.IsZero():
			case x.Late >= time.Minute:
				row.Late = studio.Span(x.Late.Round(time.Minute)) + " later"
			case x.Late <= -time.Minute:
				row.Late = studio.Span((-x.Late).Round(time.Minute)) + " sooner"
			default:
				row.Late = "as planned"
			}
		}
		p.Rows = append(p.Rows, row)
	}
	for n, d := range p.Report.HandsOn {
		p.Swatches = append(p.Swatches, afterSwatch{n, d})
	}
	slices.SortFunc(p.Swatches, func(a, b afterSwatch) int { return int(a.Swatch - b.Swatch) })
	for _, k := range studio.StepKinds {
		if l, ok := p.Report.Learnt[k]; ok {
			all := ask.Learnt[k]
			p.Learnt = append(p.Learnt, afterLearnt{Kind: k, Median: number(l.Median, 1), Low: number(l.Low, 1), High: number(l.High, 1), N: l.N, Enough: all.N >= benchday.LearntFrom})
		}
	}
	s.show(w, http.StatusOK, "day_after", p)
	return nil
}
