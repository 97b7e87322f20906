package web

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/series"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) seriesRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /swatches/{id}/{face}/series", s.seriesPage)
	s.on(mux, "GET /swatches/{id}/{face}/series/{photo}", s.seriesPicture)
}

// seriesSide is the long side of an aligned portrait, in pixels, and mostSeries
// how many photographs one series takes; the newest count.
const (
	seriesSide = 480
	mostSeries = 24
)

// seriesView is a face through time, worked out and kept in memory.
type seriesView struct {
	done    chan struct{}
	told    atomic.Bool // a page says that it is being worked out
	problem error
	series  series.Series
	ids     []int64 // of Photos
	jpeg    map[int64][]byte
	took    time.Time
}

// seriesKept holds the series that were looked at last, by what they are made of.
type seriesKept struct {
	mu  sync.Mutex
	got map[string]*seriesView
}

// mostKept is how many series stay in memory; each takes some MB.
const mostKept = 6

// timePage is a face through time.
type timePage struct {
	Frame
	Number  int64
	Face    studio.Face
	Problem string
	Working bool
	Shots   []timeShot
	Left    []string // why photographs are left out
	First   string
	Rule    string
	Since   string // what the times count from
	Chart   template.HTML
	Growths []learn.Growth
}

// timeShot is one photograph of the strip.
type timeShot struct {
	N          int
	ID         int64
	Taken      time.Time
	After      string
	ThroughLid bool
	Lab        colour.Lab
	Name       string
	FirstKind  bool
	From       series.Range
	Changed    float64
	Coverage   *studio.Coverage
	PerHour    *series.Range
	ByCorners  bool
	Words      string
}

// ofSeries are the photographs of a face that a series is made of: measured ones
// with marked corners, and not of salt.
func (s *Server) ofSeries(ctx context.Context, number int64, face studio.Face) ([]studio.Photo, error) {
	photos, err := s.store.PhotosOf(ctx, number)
	if err != nil {
		return nil, err
	}
	photos = slices.DeleteFunc(photos, func(p studio.Photo) bool {
		return p.Face != face || p.Salted || p.Measurement == nil || p.Measurement.Marks.Corners == nil
	})
	if n := len(photos); n > mostSeries {
		photos = photos[n-mostSeries:]
	}
	return photos, nil
}

func (s *Server) faceIn(r *http.Request) (int64, studio.Face, error) {
	number, err := idIn(r, "id")
	if err != nil {
		return 0, "", err
	}
	face := studio.Face(r.PathValue("face"))
	if !slices.Contains(studio.BothFaces, face) {
		return 0, "", studio.Problemf(studio.NotFound, "", "A swatch has a front and a back, no %q.", r.PathValue("face"))
	}
	_, err = s.store.Swatch(r.Context(), number)
	return number, face, err
}

// seriesOf returns the series of these photographs, begun in the background if
// it is not there.
func (s *Server) seriesOf(photos []studio.Photo) *seriesView {
	var key strings.Builder
	for _, p := range photos {
		fmt.Fprintf(&key, "%d-%d-%d-%v ", p.ID, p.Measurement.ID, p.Taken.Unix(), p.ThroughLid)
	}
	s.through.mu.Lock()
	defer s.through.mu.Unlock()
	if v, ok := s.through.got[key.String()]; ok {
		v.took = s.now()
		return v
	}
	if s.through.got == nil {
		s.through.got = map[string]*seriesView{}
	}
	for len(s.through.got) >= mostKept {
		oldest := ""
		for k, v := range s.through.got {
			if oldest == "" || v.took.Before(s.through.got[oldest].took) {
				oldest = k
			}
		}
		delete(s.through.got, oldest)
	}
	v := &seriesView{done: make(chan struct{}), took: s.now()}
	s.through.got[key.String()] = v
	s.background.Go(func() {
		ctx, stop := context.WithCancel(context.Background())
		defer stop()
		defer func() {
			close(v.done)
			if v.told.Load() {
				s.live.changed() // the pages that wait look again
			}
		}()
		if v.problem = s.lay(ctx, photos, v); v.problem != nil && studio.ProblemIn(v.problem) == nil {
			s.log.Error("series not made", "photo", photos[0].ID, "err", v.problem)
			s.through.mu.Lock()
			delete(s.through.got, key.String()) // it may work the next time
			s.through.mu.Unlock()
		}
	})
	return v
}

// lay straightens the photographs one after the other and lays them on each other.
func (s *Server) lay(ctx context.Context, photos []studio.Photo, v *seriesView) error {
	var shots []series.Shot
	var size measure.Size
	ids := map[string]int64{}
	for _, p := range photos {
		x := series.Shot{Name: fmt.Sprintf("Photograph %d, of %s,", p.ID, localTime(p.Taken)), Taken: p.Taken, ThroughLid: p.ThroughLid, Coverage: p.Measurement.Coverage}
		var err error
		var real measure.Size
		if x.Face, real, err = s.straight(ctx, p); err != nil && studio.ProblemIn(err) == nil {
			return err // a Problem leaves the face empty, and the series says so
		}
		if size == (measure.Size{}) {
			size = real
		}
		ids[x.Name] = p.ID
		shots = append(shots, x)
	}
	var err error
	if v.series, err = series.Run(shots, size); err != nil {
		return err
	}
	v.jpeg = map[int64][]byte{}
	for i, p := range v.series.Photos {
		id := ids[p.Name]
		v.ids = append(v.ids, id)
		if b := v.series.Portrait(i, seriesSide); b != nil {
			v.jpeg[id] = b
		}
	}
	v.series.Forget()
	return nil
}

// straight straightens a kept photograph by its newest marks.
func (s *Server) straight(ctx context.Context, p studio.Photo) (out measure.Straight, size measure.Size, err error) {
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return out, size, err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, p.ID)
	if err != nil {
		return out, size, err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return out, size, err
	}
	marks := p.Measurement.Marks
	look, err := s.sceneOf(ctx, img, marks)
	if err != nil {
		return out, size, err
	}
	round, err := s.surround(ctx, p, img, marks, look)
	if err != nil {
		return out, size, err
	}
	out, err = measure.Straighten(img, marks, round.size, series.Places, round.under)
	return out, round.size, err
}

// seriesWait is how long a page waits for its series before it says that it is
// being worked out.
const seriesWait = 4 * time.Second

func (v *seriesView) ready(ctx context.Context) bool {
	wait, stop := context.WithTimeout(ctx, seriesWait)
	defer stop()
	select {
	case <-v.done:
		return true
	case <-wait.Done():
		return false
	}
}

func (s *Server) seriesPage(w http.ResponseWriter, r *http.Request) error {
	number, face, err := s.faceIn(r)
	if err != nil {
		return err
	}
	p := timePage{Frame: s.frame(r, fmt.Sprintf("Swatch %d, %s, through time", number, face), "swatches"), Number: number, Face: face}
	photos, err := s.ofSeries(r.Context(), number, face)
	if err != nil {
		return err
	}
	if len(photos) < 2 {
		p.Problem = "It takes two photographs of this face or more, taken at different times and measured."
		s.show(w, http.StatusOK, "series", p)
		return nil
	}
	v := s.seriesOf(photos)
	if !v.ready(r.Context()) {
		v.told.Store(true)
		p.Working = true
		s.show(w, http.StatusOK, "series", p)
		return nil
	}
	if problem := studio.ProblemIn(v.problem); problem != nil {
		p.Problem = problem.Text
	} else if v.problem != nil {
		return v.problem
	} else {
		from, err := s.began(r.Context(), number, face)
		if err != nil {
			return err
		}
		p.fill(v, from)
	}
	s.show(w, http.StatusOK, "series", p)
	return nil
}

// began is when the first treatment of a face began; zero if none has.
func (s *Server) began(ctx context.Context, number int64, face studio.Face) (first time.Time, err error) {
	v, err := s.treatments(ctx, store.TreatmentFilter{Swatch: number})
	for _, f := range v {
		if !f.Treatment.Faces.Has(face) {
			continue
		}
		for _, e := range f.Events {
			if e.Kind == studio.Began && (first.IsZero() || e.At.Before(first)) {
				first = e.At
			}
		}
	}
	return first, err
}

func (p *timePage) fill(v *seriesView, began time.Time) {
	p.Since = "the treatment began"
	if began.IsZero() {
		began, p.Since = v.series.Photos[0].Taken, "the first photograph"
	}
	for i, x := range v.series.Photos {
		if x.Problem != nil {
			p.Left = append(p.Left, x.Problem.Error())
			continue
		}
		t := timeShot{N: len(p.Shots), ID: v.ids[i], Taken: x.Taken, After: afterWords(x.Taken.Sub(began)), ThroughLid: x.ThroughLid, Lab: x.Lab, Name: colour.Name(x.Lab),
			FirstKind: x.First, From: x.FromFirst, Changed: x.Changed, Coverage: x.Coverage, PerHour: x.PerHour, ByCorners: x.Placed == "corners" && len(p.Shots) > 0}
		t.Words = t.After
		if t.ThroughLid {
			t.Words += ", through the lid"
		}
		t.Words += ": " + t.Name
		if !t.FirstKind {
			t.Words += fmt.Sprintf(", %s %% of the face changed", number(100*t.Changed, 0))
		}
		p.Shots = append(p.Shots, t)
	}
	p.First = v.series.Sentence(func(t time.Time) string { return localTime(t) + " (" + afterWords(t.Sub(began)) + ")" })
	p.Rule = v.series.Rule
	p.Chart = timeChart(p.Shots, began, p.Since)
	p.Growths = growthOf(p.Shots, began)
}

// leastGrowth is how many photographs of one kind a growth curve needs.
const leastGrowth = 6

// growthOf fits a growth curve to the photographs in the open or to those through the
// lid, whichever are more: the two can't be held against each other.
func growthOf(shots []timeShot, began time.Time) []learn.Growth {
	var open, lid []learn.Instant
	for _, x := range shots {
		at := learn.Instant{Hours: x.Taken.Sub(began).Hours(), Lab: x.Lab, Coloured: true, Coverage: math.NaN()}
		if x.Coverage != nil {
			at.Coverage = x.Coverage.Value
		}
		switch {
		case at.Hours < 0: // taken before the treatment
		case x.ThroughLid:
			lid = append(lid, at)
		default:
			open = append(open, at)
		}
	}
	if len(lid) > len(open) {
		open = lid
	}
	if len(open) < leastGrowth {
		return nil
	}
	return learn.Grow(open)
}

// afterWords writes a time since the start.
func afterWords(d time.Duration) string {
	word := "after"
	if d < 0 {
		d, word = -d, "before"
	}
	d = d.Round(time.Minute)
	switch days, h, m := int(d.Hours())/24, int(d.Hours())%24, int(d.Minutes())%60; {
	case d == 0:
		return "at the start"
	case days > 0:
		return fmt.Sprintf("%d d %d h %s", days, h, word)
	case h > 0:
		return fmt.Sprintf("%d h %d min %s", h, m, word)
	default:
		return fmt.Sprintf("%d min %s", m, word)
	}
}

// timeChart draws the share of the face that changed against time.
func timeChart(shots []timeShot, began time.Time, since string) template.HTML {
	if len(shots) < 2 {
		return ""
	}
	hours := func(t timeShot) float64 { return t.Taken.Sub(began).Hours() }
	a, b := hours(shots[0]), hours(shots[len(shots)-1])
	if b-a < 0.01 {
		return ""
	}
	c := &chart{x0: 70, x1: chartWidth - 24, y0: chartHeight - 52, y1: 36, lo: 0, hi: 100}
	ticks := niceTicks(a, b, 5)
	a, b = math.Min(a, ticks[0]), math.Max(b, ticks[len(ticks)-1])
	c.xs = func(x float64) float64 { return c.x0 + (c.x1-c.x0)*(x-a)/(b-a) }
	var words []string
	for _, t := range shots {
		words = append(words, t.Words)
	}
	title := "Share of the face that changed, against time"
	fmt.Fprintf(&c.b, `<svg viewBox="0 0 %d %d" role="img" aria-label="%s" font-family="'Source Sans 3', sans-serif" font-size="17"><title>%s</title><desc>%s</desc>`,
		chartWidth, chartHeight, title, title, template.HTMLEscapeString(strings.Join(words, "; ")))
	c.text(8, 20, "start", "Changed, % of the face", true)
	for v := 0.0; v <= 100; v += 25 {
		fmt.Fprintf(&c.b, `<line x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f" stroke="#000" stroke-opacity=".25"/>`, c.x0, c.x1, c.y(v), c.y(v))
		c.text(c.x0-8, c.y(v)+6, "end", number(v, 0), false)
	}
	for _, t := range ticks {
		c.text(c.xs(t), c.y0+22, "middle", number(t, 1), false)
	}
	c.text((c.x0+c.x1)/2, chartHeight-8, "middle", "Hours since "+since, true)
	for _, lid := range []bool{false, true} {
		var path []string
		for _, t := range shots {
			if t.ThroughLid == lid {
				path = append(path, fmt.Sprintf("%.1f,%.1f", c.xs(hours(t)), c.y(100*t.Changed)))
			}
		}
		dash := ""
		if lid {
			dash = ` stroke-dasharray="6 4"`
		}
		fmt.Fprintf(&c.b, `<polyline points="%s" fill="none" stroke="#000" stroke-width="1.5"%s/>`, strings.Join(path, " "), dash)
	}
	for _, t := range shots {
		fill, _ := colour.ToScreen(t.Lab)
		x, y := c.xs(hours(t)), c.y(100*t.Changed)
		if t.ThroughLid {
			fmt.Fprintf(&c.b, `<circle cx="%.1f" cy="%.1f" r="8" fill="%s" stroke="#000" stroke-width="1.5"/>`, x, y, fill)
		} else {
			fmt.Fprintf(&c.b, `<rect x="%.1f" y="%.1f" width="15" height="15" fill="%s" stroke="#000" stroke-width="1.5"/>`, x-7.5, y-7.5, fill)
		}
	}
	c.b.WriteString(`</svg>`)
	return template.HTML(c.b.String())
}

// seriesPicture is GET /swatches/{id}/{face}/series/{photo}: an aligned portrait.
func (s *Server) seriesPicture(w http.ResponseWriter, r *http.Request) error {
	number, face, err := s.faceIn(r)
	if err != nil {
		return err
	}
	name, ok := strings.CutSuffix(r.PathValue("photo"), ".jpg")
	id, err := strconv.ParseInt(name, 10, 64)
	if !ok || err != nil {
		return studio.Problemf(studio.NotFound, "", "There is no such picture.")
	}
	photos, err := s.ofSeries(r.Context(), number, face)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(photos, func(p studio.Photo) bool { return p.ID == id }) || len(photos) < 2 {
		return studio.Problemf(studio.NotFound, "", "Photograph %d is none of this series.", id)
	}
	v := s.seriesOf(photos)
	select {
	case <-v.done:
	case <-r.Context().Done():
		return r.Context().Err()
	}
	if v.problem != nil {
		return v.problem
	}
	b := v.jpeg[id]
	if b == nil {
		return studio.Problemf(studio.NotFound, "", "Photograph %d could not be laid on the others.", id)
	}
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(b)
	return nil
}
