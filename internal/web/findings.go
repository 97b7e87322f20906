package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"aerugo/internal/flow/learn"
	"aerugo/internal/studio"
)

func (s *Server) findingRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /findings", s.findings)
	s.on(mux, "GET /findings/{id}", s.finding)
}

// findingsPage says what each set shows, the strongest claims first.
type findingsPage struct {
	Frame
	Sets []setSentence
}

type setSentence struct {
	ID       int64
	Name     string
	Invented bool
	Sentence string // instead of claims
	Claims   []claimView
	More     int // claims left out
	Warned   int
	seen     bool
}

// mostSaid is how many claims of one set the overview shows.
const mostSaid = 3

// looksOf returns the looks of a set's swatches.
func (s *Server) looksOf(ctx context.Context, set studio.Set) ([]studio.Look, error) {
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return nil, err
	}
	swatches, err := s.store.SwatchesOf(ctx, set.ID)
	if err != nil {
		return nil, err
	}
	ours := map[int64]bool{}
	for _, x := range swatches {
		ours[x.Number] = true
	}
	return slices.DeleteFunc(looks, func(l studio.Look) bool { return !ours[l.Swatch] }), nil
}

// pointsOf returns the rows without their causes.
func pointsOf(rows []learn.Row) []learn.Point {
	var out []learn.Point
	for _, r := range rows {
		out = append(out, r.Point)
	}
	return out
}

func (s *Server) findings(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	sets, err := s.store.Sets(ctx)
	if err != nil {
		return err
	}
	p := findingsPage{Frame: s.frame(r, "Findings", "findings")}
	for _, set := range sets {
		if len(set.Factors) == 0 {
			continue
		}
		rows, err := s.rows(ctx, set, false)
		if err != nil {
			return err
		}
		line := setSentence{ID: set.ID, Name: set.Name, Invented: set.Invented, Sentence: "No face of it is measured yet."}
		if len(rows) > 0 {
			e := learn.Explain(set, rows)
			line.Claims, line.Warned = viewClaims(set.ID, e.Claims), len(e.Warnings)
			if line.Sentence = ""; len(e.Claims) == 0 {
				line.Sentence, _ = plainBound(learn.Find(set, pointsOf(rows)).Title)
			}
			if len(line.Claims) > mostSaid {
				line.More, line.Claims = len(line.Claims)-mostSaid, line.Claims[:mostSaid]
			}
			line.seen = len(e.Claims) > 0 && e.Claims[0].Standing == learn.Shown
		}
		p.Sets = append(p.Sets, line)
	}
	slices.Reverse(p.Sets)
	// what was seen first, then what was looked for, each with the newest first
	rank := func(x setSentence) int {
		switch {
		case x.seen:
			return 0
		case len(x.Claims) > 0:
			return 1
		}
		return 2
	}
	slices.SortStableFunc(p.Sets, func(a, b setSentence) int { return rank(a) - rank(b) })
	s.show(w, http.StatusOK, "findings", p)
	return nil
}

// findingPage shows what one set says: the claims, what to know before believing them,
// the charts behind them, the numbers behind those.
type findingPage struct {
	Frame
	*form
	Set         studio.Set
	Face        string
	FaceChoices []orderChoice
	Sentence    string // in place of claims
	Claims      []claimView
	Warnings    []learn.Caution
	Clocks      *learn.Clocks
	Salt        []claimView // how long the salt takes to dissolve
	SaltWhy     string
	Growths     []learn.Growth
	Stop        string
	Wanted      string
	AskStop     bool
	Notes       []string
	Charts      []template.HTML
	Numbers     learn.Table // the claims
	Table       learn.Table // the faces
	Diagnostics learn.Table
	Method      string
	Likings     *likings
}

func (s *Server) finding(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	set, err := s.store.Set(ctx, id)
	if err != nil {
		return err
	}
	p := findingPage{Frame: s.frame(r, set.Name, "findings"), form: readForm(r), Set: set, Face: r.FormValue("face"), Wanted: r.FormValue("want"),
		FaceChoices: []orderChoice{{"", "as treated"}, {"front", "front only"}, {"back", "back only"}}}
	rows, err := s.rows(ctx, set, true)
	if err != nil {
		return err
	}
	if p.Face != "" {
		rows = slices.DeleteFunc(rows, func(x learn.Row) bool { return string(x.Face) != p.Face })
	}
	status := http.StatusOK
	watched, err := s.watchedSalt(ctx, set)
	if err != nil {
		return err
	}
	if len(watched) > 0 {
		claims, why := learn.ExplainTimes(set, watched, "the salt to dissolve")
		p.Salt, p.SaltWhy = viewClaims(set.ID, claims), why
	}
	if points := pointsOf(rows); len(points) > 0 {
		f := learn.Find(set, points)
		e := learn.Explain(set, rows)
		p.Notes, p.Table = f.Notes, f.Table
		p.Claims, p.Warnings, p.Numbers, p.Diagnostics, p.Method = viewClaims(set.ID, e.Claims), e.Warnings, e.Table, e.Diagnostics, e.Method
		if len(p.Claims) == 0 {
			p.Sentence, _ = plainBound(f.Title)
		}
		if c, ok := learn.CompareClocks(set, rows); ok {
			p.Clocks = &c
		}
		for _, series := range f.Series {
			if svg := seriesChart(series, placed(set, series.Factor, points)); svg != "" {
				p.Charts = append(p.Charts, svg)
			}
		}
		if instants, ok := learn.Instants(set, points); ok {
			p.Growths, p.AskStop = learn.Grow(instants), true
			if p.Wanted != "" {
				look, n, err := s.wantedLook(ctx, p.Wanted)
				if err := p.blame(err, "want"); err != nil {
					return err
				}
				if !p.ok() {
					status = http.StatusUnprocessableEntity
				} else {
					stop, ok := learn.StopAt(instants, look, set.Seed)
					p.Stop = fmt.Sprintf("To look like swatch %d: %s", n, stop.Words)
					if !ok {
						p.Stop = "At least three times must be measured before the way between them can be read."
					}
				}
			}
		}
	}
	if p.Likings, err = s.likingsOf(ctx, set); err != nil {
		return err
	}
	s.show(w, status, "finding", p)
	return nil
}

// placed puts points where the levels of the named factor stand.
func placed(set studio.Set, factor string, points []learn.Point) []learn.Point {
	out := slices.Clone(points)
	for _, f := range set.Factors {
		if f.Name != factor {
			continue
		}
		for i := range out {
			for _, x := range out[i].Settings {
				if x.Factor != f.Name {
					continue
				}
				out[i].Level = x.Level.Label
				for n, l := range f.Levels {
					if l.Label == x.Level.Label {
						out[i].X = float64(n)
						if f.Kind.Numeric() {
							out[i].X = l.Number
						}
					}
				}
			}
		}
	}
	return out
}
