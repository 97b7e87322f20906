package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

// paintPage is where a person paints what is bare and what is patina.
type paintPage struct {
	Frame
	*form
	Photo    studio.Photo
	Swatch   studio.Swatch
	Ready    bool // the photograph is measured, so its face can be shown straight
	Strokes  string
	Classes  []string
	Brushes  []brush
	Band     float64 // of the face along each edge, which the picture does not show
	WholeSet bool
	Rule     *studio.TrainedRule
}

// brush is a width of the brush; Share is its radius over the face's width.
type brush struct {
	Name  string
	Share float64
	Usual bool
}

var brushes = []brush{{"small", 0.012, false}, {"middle", 0.025, true}, {"large", 0.06, false}}

// strokeJSON is a stroke as the page's script writes it, in mm.
type strokeJSON struct {
	Class  string       `json:"class"`
	Radius float64      `json:"radius"`
	Points [][2]float64 `json:"points"`
}

func writeStrokes(strokes []studio.Stroke) string {
	out := []strokeJSON{}
	for _, s := range strokes {
		x := strokeJSON{Class: s.Class, Radius: s.RadiusMM, Points: [][2]float64{}}
		for _, p := range s.Points {
			x.Points = append(x.Points, [2]float64{p.X, p.Y})
		}
		out = append(out, x)
	}
	b, _ := json.Marshal(out) // strokes are finite numbers and words
	return string(b)
}

// readStrokes reads what the page's script wrote.
func readStrokes(text string) ([]studio.Stroke, error) {
	var in []strokeJSON
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	if err := json.Unmarshal([]byte(text), &in); err != nil {
		return nil, studio.Problemf(studio.Invalid, "strokes", "The strokes can't be read. Paint them again on the picture.")
	}
	var out []studio.Stroke
	for _, s := range in {
		x := studio.Stroke{Class: s.Class, RadiusMM: s.Radius}
		for _, p := range s.Points {
			x.Points = append(x.Points, studio.Point{X: p[0], Y: p[1]})
		}
		out = append(out, x)
	}
	return out, studio.CheckStrokes(out)
}

func (s *Server) fillPaint(r *http.Request, photo studio.Photo, f *form) (paintPage, error) {
	p := paintPage{Frame: s.frame(r, fmt.Sprintf("Show what is bare on swatch %d, %s", photo.Swatch, photo.Face), "swatches"), form: f, Photo: photo,
		Classes: studio.PaintClasses, Brushes: brushes, Strokes: "[]"}
	var err error
	if p.Swatch, err = s.store.Swatch(r.Context(), photo.Swatch); err != nil {
		return p, err
	}
	if p.Ready = photo.Measurement != nil && !photo.Salted; p.Ready {
		if photo.Measurement.Marks.Corners != nil {
			p.Band = measure.EdgeBand
		}
		p.Rule = photo.Measurement.Marks.Trained
	}
	return p, nil
}

func (s *Server) paintPhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillPaint(r, photo, readForm(r))
	if err != nil {
		return err
	}
	painting, ok, err := s.store.PaintingOf(r.Context(), photo.ID)
	if err != nil {
		return err
	}
	if ok {
		p.Strokes = writeStrokes(painting.Strokes)
		judge, err := s.store.SetJudge(r.Context(), p.Swatch.SetID)
		if err != nil {
			return err
		}
		p.WholeSet = judge.Painting == painting.ID
	}
	s.show(w, http.StatusOK, "photo_paint", p)
	return nil
}

// learnFromPaint is POST /photos/{id}/paint: the painted places train the rule
// that judges this photograph, or with wholeset every one of the set. Without
// strokes the plain rule is used again.
func (s *Server) learnFromPaint(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	if photo.Measurement == nil || photo.Salted {
		return studio.Problemf(studio.Conflict, "", "Mark and measure this photograph first; then show on it what is bare.")
	}
	wholeSet := f.Val("wholeset") != ""
	painting, swatch, err := s.learned(ctx, photo, f.Val("strokes"), wholeSet)
	if err := f.blame(err, "wholeset"); err != nil {
		return err
	}
	if !f.ok() {
		p, err := s.fillPaint(r, photo, f)
		if err != nil {
			return err
		}
		if strokes, err := readStrokes(f.Val("strokes")); err == nil {
			p.Strokes = writeStrokes(strokes)
		}
		p.WholeSet = wholeSet
		s.show(w, http.StatusUnprocessableEntity, "photo_paint", p)
		return nil
	}
	if painting, err = s.store.AddPainting(ctx, painting); err != nil {
		return err
	}
	before := photo.Measurement
	m, err := s.measure(ctx, photo, before.Marks)
	if err != nil {
		return err
	}
	if m, err = s.store.AddMeasurement(ctx, m); err != nil {
		return err
	}
	if wholeSet || len(painting.Strokes) == 0 {
		if err := s.useForSet(ctx, swatch.SetID, painting); err != nil {
			return err
		}
	}
	s.live.changed()
	said := "By your examples coverage is " + coverageWords(m) + "; before, it was " + coverageWords(*before) + ". The old reading stays below."
	if len(painting.Strokes) == 0 {
		said = "The plain rule judges this photograph again: coverage is " + coverageWords(m) + "."
	}
	if wholeSet && len(painting.Strokes) > 0 {
		n, err := s.measureSet(ctx, swatch.SetID)
		if p := studio.ProblemIn(err); p != nil {
			said += " " + p.Text
		} else if err != nil {
			return err
		} else {
			said += fmt.Sprintf(" The set's %d photographs are being measured again by them.", n)
		}
	}
	return backSaying(w, r, fmt.Sprintf("/photos/%d", photo.ID), said)
}

func coverageWords(m studio.Measurement) string {
	if m.Coverage == nil {
		return "not known"
	}
	return fmt.Sprintf("%s (%s to %s)", percent(m.Coverage.Value), percent(m.Coverage.Low), percent(m.Coverage.High))
}

func percent(v float64) string { return number(v*100, 0) + " %" }

// learned reads the strokes and trains the rule, without keeping anything.
func (s *Server) learned(ctx context.Context, photo studio.Photo, text string, wholeSet bool) (studio.Painting, studio.Swatch, error) {
	p := studio.Painting{Photo: photo.ID, Of: photoName(photo)}
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return p, swatch, err
	}
	if p.Strokes, err = readStrokes(text); err != nil || len(p.Strokes) == 0 {
		return p, swatch, err
	}
	marks := photo.Measurement.Marks
	err = s.withPhoto(ctx, photo, marks, func(img *picture.Image, round surround) (err error) {
		p.Rule, err = s.learn(ctx, photo, swatch, img, marks, round, p.Strokes)
		return err
	})
	if err == nil && wholeSet {
		err = forSet(p.Rule)
	}
	return p, swatch, err
}

// useForSet has a set judged by examples; by none, if they were all taken back
// and were this photograph's.
func (s *Server) useForSet(ctx context.Context, set int64, painting studio.Painting) error {
	judge, err := s.store.SetJudge(ctx, set)
	if err != nil {
		return err
	}
	next := studio.SetJudge{Set: set, Reference: judge.Reference, Painting: painting.ID}
	if len(painting.Strokes) == 0 {
		if judge.Painting == 0 {
			return nil
		}
		used, err := s.store.Painting(ctx, judge.Painting)
		if err != nil {
			return err
		}
		if used.Photo != painting.Photo {
			return nil // the set uses another photograph's
		}
		next.Painting = 0
	}
	_, err = s.store.AddSetJudge(ctx, next)
	return err
}
