package web

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"aerugo/internal/flow/last"
	"aerugo/internal/language"
	"aerugo/internal/studio"
)

func (s *Server) lastRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /last", s.lastPage)
	s.on(mux, "GET /last.ics", s.lastCalendar)
	s.on(mux, "GET /last/sealing", s.sealing)
	s.on(mux, "POST /last/sealing", s.planSealing)
	s.on(mux, "GET /last/{id}", s.wearTest)
	s.on(mux, "POST /last/{id}/readings", s.wearReading)
	s.on(mux, "GET /swatches/{id}/last", s.lastOfSwatch)
	s.on(mux, "POST /swatches/{id}/last", s.startWear)
	s.on(mux, "GET /swatches/{id}/care", s.carePage)
	s.on(mux, "GET /swatches/{id}/care.pdf", s.carePDF)
}

// wearView is a test with all that is told of it.
type wearView struct {
	studio.WearTest
	Protocol last.Protocol
	Title    string
	Due      *last.Due
	Ended    bool
	Readings []readingView
	Before   *studio.Photo
	After    *studio.Photo
	Change   *last.Change
	Dark     string
	Curve    *last.Curve
	Chart    template.HTML
	Lead     string
}

type readingView struct {
	studio.WearReading
	Words string
	DE    string
}

// viewWear gathers what is told of a test.
func (s *Server) viewWear(ctx context.Context, t studio.WearTest, all []studio.WearReading) (wearView, error) {
	p, ok := last.ProtocolOf(t.Protocol, t.Version)
	if !ok {
		p = last.Protocol{Key: t.Protocol, Name: t.Protocol}
	}
	v := wearView{WearTest: t, Protocol: p, Title: fmt.Sprintf("%s: swatch %d, %s", p.Name, t.Face.Swatch, t.Face.Face)}
	if d, ok := last.DueOf(t, all, s.now()); ok {
		v.Due = &d
	}
	photo := func(id int64) (*studio.Photo, error) {
		if id == 0 {
			return nil, nil
		}
		ph, err := s.store.Photo(ctx, id)
		if p := studio.ProblemIn(err); p != nil {
			return nil, nil
		}
		return &ph, err
	}
	var darkBefore, darkAfter *studio.Photo
	var times []last.Time
	for _, r := range studio.StandingWear(all) {
		shown, err := photo(r.Photo)
		if err != nil {
			return v, err
		}
		dark, err := photo(r.ControlPhoto)
		if err != nil {
			return v, err
		}
		x := readingView{WearReading: r}
		switch r.Kind {
		case studio.WearEnded:
			v.Ended = true
			x.Words = "ended"
		case studio.WearBefore:
			x.Words = "as it was before"
			v.Before, darkBefore = shown, dark
		case studio.WearRead:
			if g, ok := p.Grade(r.Grade); ok {
				x.Words = g.Word + ": " + g.Means
				v.Lead = g.Word
			}
			if shown != nil {
				v.After, darkAfter = shown, dark
			}
			if v.Before != nil && shown != nil {
				if c, err := last.ChangeOf(v.Before.Measurement, shown.Measurement); err == nil {
					x.DE = number(c.DE, 1)
					times = append(times, last.Time{Months: last.Months(t.Start, r.At), Value: c.DE})
				}
			}
		}
		v.Readings = append(v.Readings, x)
	}
	if v.Before != nil && v.After != nil {
		if c, err := last.ChangeOf(v.Before.Measurement, v.After.Measurement); err == nil {
			v.Change = &c
			if darkBefore != nil && darkAfter != nil {
				if d, err := last.ChangeOf(darkBefore.Measurement, darkAfter.Measurement); err == nil {
					v.Dark = last.BeyondDark(v.Before.Measurement.Lab, c, d).Words
				}
			}
		}
	}
	if c, err := last.CurveOf(times, " ΔE00"); err == nil {
		v.Curve = &c
		v.Chart = wearChart(c, times)
	} else if !errors.Is(err, last.ErrShort) && studio.ProblemIn(err) == nil {
		return v, err
	}
	return v, nil
}

// wearViews gathers every test that keep allows, newest first.
func (s *Server) wearViews(ctx context.Context, keep func(studio.WearTest) bool) ([]wearView, error) {
	tests, err := s.store.WearTests(ctx)
	if err != nil {
		return nil, err
	}
	readings, err := s.store.WearReadings(ctx, 0)
	if err != nil {
		return nil, err
	}
	var out []wearView
	for _, t := range slices.Backward(tests) {
		if !keep(t) {
			continue
		}
		v, err := s.viewWear(ctx, t, readings[t.ID])
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// lastPage says what is due and what was found.
type lastPage struct {
	Frame
	Due    []wearView // it is time, or will be, soonest first
	Tests  []wearView
	Number string
}

func (s *Server) lastPage(w http.ResponseWriter, r *http.Request) error {
	p := lastPage{Frame: s.frame(r, "Does it last?", "findings")}
	var err error
	if p.Tests, err = s.wearViews(r.Context(), func(studio.WearTest) bool { return true }); err != nil {
		return err
	}
	for _, v := range p.Tests {
		if v.Due != nil {
			p.Due = append(p.Due, v)
		}
	}
	slices.SortStableFunc(p.Due, func(a, b wearView) int { return a.Due.At.Compare(b.Due.At) })
	s.show(w, http.StatusOK, "last", p)
	return nil
}

// lastCalendar is GET /last.ics: what is due, for a calendar.
func (s *Server) lastCalendar(w http.ResponseWriter, r *http.Request) error {
	tests, err := s.store.WearTests(r.Context())
	if err != nil {
		return err
	}
	readings, err := s.store.WearReadings(r.Context(), 0)
	if err != nil {
		return err
	}
	sendCalendar(w, "aerugo-due.ics", "What is due", s.now(), last.Calendar(last.DueList(tests, readings, s.now()), time.Local))
	return nil
}

// lastSwatchPage is one swatch's tests, and starts one.
type lastSwatchPage struct {
	Frame
	*form
	Swatch    studio.Swatch
	Tests     []wearView
	Protocols []last.Protocol
	Sealers   []string
	Sites     []last.Site
	Faces     []studio.Face
	Photos    []studio.Photo
}

func (s *Server) lastOfSwatch(w http.ResponseWriter, r *http.Request) error {
	return s.showLastOfSwatch(w, r, http.StatusOK, readForm(r))
}

func (s *Server) showLastOfSwatch(w http.ResponseWriter, r *http.Request, code int, f *form) error {
	number, err := idIn(r, "id")
	if err != nil {
		return err
	}
	p := lastSwatchPage{Frame: s.frame(r, fmt.Sprintf("Does swatch %d last?", number), "swatches"), form: f, Protocols: last.Protocols, Sealers: studio.Sealers, Sites: last.Sites, Faces: studio.BothFaces}
	if p.Swatch, err = s.store.Swatch(r.Context(), number); err != nil {
		return err
	}
	if p.Tests, err = s.wearViews(r.Context(), func(t studio.WearTest) bool { return t.Face.Swatch == number }); err != nil {
		return err
	}
	f.onTop("protocol", "face", "sealer", "conditions", "site", "control")
	s.show(w, code, "last_swatch", p)
	return nil
}

// startWear is POST /swatches/{id}/last: it begins a test.
func (s *Server) startWear(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	number, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if _, err := s.store.Swatch(ctx, number); err != nil {
		return err
	}
	f := readForm(r)
	at, err := s.when(f)
	if err := f.blame(err); err != nil {
		return err
	}
	p, ok := last.ProtocolOf(f.Val("protocol"), 0)
	if !ok {
		f.say("protocol", "Choose what the face is put through.")
	}
	t := studio.WearTest{Client: f.Val("client"), Face: studio.FaceOf{Swatch: number, Face: studio.Face(f.Val("face"))}, Protocol: p.Key, Version: p.Version,
		Sealer: f.Val("sealer"), Conditions: f.Val("conditions"), Start: at, By: s.who(r)}
	if p.Site {
		t.Site = f.Val("site")
	}
	if text := f.Val("control"); text != "" && p.Dark {
		faces, err := facesIn(f.typed(text, language.FaceWords))
		if err != nil || len(faces) != 1 {
			f.say("control", "%q is no face of a swatch; write one number, like 14 or 14 back.", text)
		} else {
			t.Control = faces[0]
		}
	}
	if f.ok() {
		t, err = s.store.AddWearTest(ctx, t)
		if err == nil {
			s.live.changed()
			return back(w, r, fmt.Sprintf("/last/%d", t.ID))
		}
		if pr := studio.ProblemIn(err); pr != nil && pr.Kind == studio.NotFound {
			f.say("control", "%s", pr.Text)
		} else if err := f.blame(err, "protocol", "face", "sealer", "conditions", "site", "control"); err != nil {
			return err
		}
	}
	return s.showLastOfSwatch(w, r, http.StatusUnprocessableEntity, f)
}

// wearPage is one test: what the hands do, and what was found.
type wearPage struct {
	Frame
	*form
	Test     wearView
	Site     string
	Photos   []studio.Photo // of the face, newest first
	Controls []studio.Photo
}

func (s *Server) wearTest(w http.ResponseWriter, r *http.Request) error {
	return s.showWear(w, r, http.StatusOK, readForm(r))
}

func (s *Server) showWear(w http.ResponseWriter, r *http.Request, code int, f *form) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	t, err := s.store.WearTest(ctx, id)
	if err != nil {
		return err
	}
	readings, err := s.store.WearReadings(ctx, id)
	if err != nil {
		return err
	}
	p := wearPage{form: f}
	if p.Test, err = s.viewWear(ctx, t, readings[id]); err != nil {
		return err
	}
	p.Frame = s.frame(r, p.Test.Title, "swatches")
	if site, ok := last.SiteOf(t.Site); ok {
		p.Site = fmt.Sprintf("%s, %s: such as %s", site.Class, site.Word, site.Like)
	}
	if p.Photos, err = s.wearPhotos(ctx, t.Face); err != nil {
		return err
	}
	if t.Control.Swatch != 0 {
		if p.Controls, err = s.wearPhotos(ctx, t.Control); err != nil {
			return err
		}
	}
	f.onTop("grade", "photo", "controlphoto", "count", "note")
	s.show(w, code, "last_test", p)
	return nil
}

// wearPhotos are the photographs of a face that a test can point to, newest first.
func (s *Server) wearPhotos(ctx context.Context, face studio.FaceOf) ([]studio.Photo, error) {
	all, err := s.store.PhotosOf(ctx, face.Swatch)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(p studio.Photo) bool { return p.Face != face.Face || p.Salted || p.ThroughLid })
	slices.SortStableFunc(all, func(a, b studio.Photo) int { return b.Taken.Compare(a.Taken) })
	return all, nil
}

// wearReading is POST /last/{id}/readings: one thing found, taken back, or the end.
func (s *Server) wearReading(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	at, err := s.when(f)
	if err := f.blame(err); err != nil {
		return err
	}
	t, err := s.store.WearTest(r.Context(), id)
	if err != nil {
		return err
	}
	x := studio.WearReading{Test: id, Client: f.Val("client"), Kind: studio.WearKind(f.Val("kind")), At: at, By: s.who(r), Note: f.Val("note"), Voids: f.whole("voids", "reading", 0)}
	if x.Kind == studio.WearRead || x.Kind == studio.WearBefore {
		x.Photo, x.ControlPhoto = f.whole("photo", "photograph", 0), f.whole("controlphoto", "photograph", 0)
	}
	if x.Kind == studio.WearRead {
		x.Count = int(min(f.whole("count", "count", 0), math.MaxInt32))
		x.Grade = f.Val("grade")
		if p, ok := last.ProtocolOf(t.Protocol, t.Version); ok && x.Grade != "" {
			if _, ok := p.Grade(x.Grade); !ok {
				f.say("grade", "%q is none of this test's words; tap one of them.", x.Grade)
			}
		}
	}
	if f.ok() {
		if _, err = s.store.AddWearReading(r.Context(), x); err == nil {
			s.live.changed()
			return backSaying(w, r, fmt.Sprintf("/last/%d", id), map[studio.WearKind]string{studio.WearRead: "Kept.", studio.WearBefore: "Kept as what it was like before.", studio.WearEnded: "The test has ended; nothing more is asked.", studio.WearVoided: "Taken back; the record keeps both."}[x.Kind])
		}
		if err := f.blame(err, "grade", "photo", "controlphoto", "count", "note"); err != nil {
			return err
		}
	}
	return s.showWear(w, r, http.StatusUnprocessableEntity, f)
}

// wearChart draws a test over months: each reading, and the line with its interval.
func wearChart(c last.Curve, times []last.Time) template.HTML {
	const width, height, left, bottom, top, right = 560.0, 220.0, 46.0, 36.0, 12.0, 12.0
	high := 1.0
	for _, t := range times {
		high = math.Max(high, t.Value)
	}
	for _, p := range c.At {
		high = math.Max(high, math.Min(p.High, 40))
	}
	high = math.Ceil(high*1.08/2) * 2
	x := func(m float64) float64 { return left + m/c.Months*(width-left-right) }
	y := func(v float64) float64 {
		return height - bottom - math.Min(math.Max(v, 0), high)/high*(height-top-bottom)
	}
	var b, band, line strings.Builder
	for i, p := range c.At {
		fmt.Fprintf(&band, "%.1f,%.1f ", x(p.Months), y(p.High))
		fmt.Fprintf(&line, "%s%.1f,%.1f ", map[bool]string{true: "M", false: "L"}[i == 0], x(p.Months), y(p.Value))
	}
	for _, p := range slices.Backward(c.At) {
		fmt.Fprintf(&band, "%.1f,%.1f ", x(p.Months), y(p.Low))
	}
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`, width, height, template.HTMLEscapeString("How far the colour had moved, by months. "+c.Words))
	fmt.Fprintf(&b, `<polygon points="%s" fill="currentColor" fill-opacity="0.14"/><path d="%s" fill="none" stroke="currentColor" stroke-width="2"/>`, band.String(), line.String())
	for _, v := range []float64{0, high / 2, high} {
		fmt.Fprintf(&b, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="currentColor" stroke-opacity="0.25"/><text x="%.1f" y="%.1f" font-size="13" text-anchor="end" fill="currentColor">%s</text>`, left, y(v), width-right, y(v), left-6, y(v)+4, number(v, 0))
	}
	for _, t := range times {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="5" fill="currentColor"/>`, x(t.Months), y(t.Value))
	}
	fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="13" fill="currentColor">start</text><text x="%.1f" y="%.1f" font-size="13" text-anchor="end" fill="currentColor">%s months</text></svg>`, left, height-12, width-right, height-12, number(c.Months, 1))
	return template.HTML(b.String())
}
