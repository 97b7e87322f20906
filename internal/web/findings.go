package web

import (
	"context"
	"html/template"
	"net/http"
	"slices"

	"aerugo/internal/flow/learn"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) findingRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /findings", s.findings)
	s.on(mux, "GET /findings/{id}", s.finding)
}

// findingsPage says in one sentence what each set shows.
type findingsPage struct {
	Frame
	Sets []setSentence
}

type setSentence struct {
	ID       int64
	Name     string
	Invented bool
	Sentence string
}

// points gathers the measured faces of a set.
func (s *Server) points(ctx context.Context, set studio.Set) ([]learn.Point, error) {
	ts, err := s.store.Treatments(ctx, store.TreatmentFilter{Set: set.ID})
	if err != nil {
		return nil, err
	}
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
	looks = slices.DeleteFunc(looks, func(l studio.Look) bool { return !ours[l.Swatch] })
	return learn.Points(set, ts, looks), nil
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
		points, err := s.points(ctx, set)
		if err != nil {
			return err
		}
		line := setSentence{ID: set.ID, Name: set.Name, Invented: set.Invented, Sentence: "Not measured yet."}
		if len(points) > 0 {
			line.Sentence = learn.Find(set, points).Title
		}
		p.Sets = append(p.Sets, line)
	}
	slices.Reverse(p.Sets)
	s.show(w, http.StatusOK, "findings", p)
	return nil
}

// findingPage shows what one set says: a sentence, the charts behind it, the
// numbers behind those.
type findingPage struct {
	Frame
	Set         studio.Set
	Face        string
	FaceChoices []orderChoice
	Title       string
	Notes       []string
	Sentences   []string
	Charts      []template.HTML
	Table       learn.Table
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
	p := findingPage{Frame: s.frame(r, set.Name, "findings"), Set: set, Face: r.FormValue("face"),
		FaceChoices: []orderChoice{{"", "as treated"}, {"front", "front only"}, {"back", "back only"}}}
	points, err := s.points(ctx, set)
	if err != nil {
		return err
	}
	if p.Face != "" {
		points = slices.DeleteFunc(points, func(x learn.Point) bool { return string(x.Face) != p.Face })
	}
	if len(points) > 0 {
		f := learn.Find(set, points)
		p.Title, p.Notes, p.Table = f.Title, f.Notes, f.Table
		for _, e := range f.Effects {
			if e.Sentence != "" && e.Sentence != f.Title && len(p.Sentences) < 12 {
				p.Sentences = append(p.Sentences, e.Sentence)
			}
		}
		for _, series := range f.Series {
			if svg := seriesChart(series, placed(set, series.Factor, points)); svg != "" {
				p.Charts = append(p.Charts, svg)
			}
		}
	}
	s.show(w, http.StatusOK, "finding", p)
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
