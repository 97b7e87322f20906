package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"

	"aerugo/internal/flow/benchday"
	"aerugo/internal/flow/run"
	"aerugo/internal/print"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// dayPDF is GET /day/{id}/countdown.pdf: what is left of a day, to hang up.
func (s *Server) dayPDF(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	v, err := s.readDayView(ctx, id, "")
	if err != nil {
		return err
	}
	p := print.Countdown{Paper: paper(r), Date: s.now().Local(), Studio: s.studioName(), Name: v.Day.Name, Done: v.Done}
	if p.Clashes, p.Invented, err = s.dayMayPrint(ctx, v.Ask); err != nil {
		return err
	}
	p.Moments, p.Caution = moments(v)
	return s.sendPDF(w, fmt.Sprintf("countdown-day-%d.pdf", id), func(w io.Writer) error { return print.CountdownSheet(w, p) })
}

// dayMayPrint asks for each set of a day, and for each swatch that is to begin,
// whether it may be printed, and returns what must be minded.
func (s *Server) dayMayPrint(ctx context.Context, a benchday.Ask) (all []matter.Clash, invented bool, err error) {
	supplies, err := s.store.Supplies(ctx)
	if err != nil {
		return nil, false, err
	}
	seen := map[int64]bool{0: true}
	for _, e := range a.Entries {
		if e.Record.Status == run.Planned {
			if err := s.safeToBegin(ctx, e, supplies); err != nil {
				return nil, false, err
			}
		}
		if seen[e.Treatment.SetID] {
			continue
		}
		seen[e.Treatment.SetID] = true
		set, err := s.store.Set(ctx, e.Treatment.SetID)
		if err != nil {
			return nil, false, err
		}
		_, clashes, err := s.mayPrint(ctx, set)
		if err != nil {
			return nil, false, err
		}
		invented = invented || set.Invented
		for _, c := range clashes {
			if !slices.ContainsFunc(all, func(x matter.Clash) bool { return x.ID == c.ID && x.A == c.A && x.B == c.B }) {
				all = append(all, c)
			}
		}
	}
	return all, invented, s.mayShareRoom(ctx, nil, a.Entries, supplies)
}

// moments is what is left of a day for its paper, with what to mind when a lid
// goes up.
func moments(v dayView) (out []print.Moment, caution string) {
	for _, a := range v.Acts {
		if a.Done {
			continue
		}
		m := print.Moment{At: a.Start.Local(), What: a.Title, Does: a.Under(), Who: a.Who, Miss: a.Miss}
		if !a.Latest.IsZero() {
			m.Latest = a.Latest.Local()
		}
		if len(m.Does) > 0 {
			m.What, _, _ = strings.Cut(a.Title, ": "+strings.Join(m.Does, ", "))
		}
		if len(v.People) < 2 {
			m.Who = ""
		}
		out = append(out, m)
		for _, part := range a.Parts {
			if text := opens(v.Ask, part); a.Opening && text != "" && !strings.Contains(caution, text) {
				caution = strings.TrimSpace(caution + " " + text)
			}
		}
	}
	return out, caution
}

// opens is what to mind when the lid over a part's swatch goes up.
func opens(a benchday.Ask, part benchday.Part) string {
	for _, e := range a.Entries {
		if e.Treatment.ID != part.Treatment {
			continue
		}
		for _, i := range []int{part.Step, part.Step - 1} { // a flip lies between two stays
			if i >= 0 && e.Treatment.Steps[i].Kind == studio.Fume {
				return run.OpeningCaution(e.Treatment.Steps[i].Material)
			}
		}
	}
	return ""
}
