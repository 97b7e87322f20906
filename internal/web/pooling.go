package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"aerugo/internal/flow/pool"
	"aerugo/internal/flow/run"
	"aerugo/internal/science"
	"aerugo/internal/science/film"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// poolingPage says why the deposit of a face lies where it lies.
type poolingPage struct {
	Frame
	*form
	Swatch  studio.Swatch
	Face    studio.Face
	Photo   *studio.Photo // the newest with a pooling; nil when there is none
	Verdict pool.Verdict
	Lay     *pool.Lay
	Lows    []orderChoice
	Photos  []studio.Photo // with a pooling, in order of time
	Turns   []orderChoice
	Draws   []orderChoice
	Before  *studio.Photo
	After   *studio.Photo
	Turned  *film.Turned
	Answer  string
	Dried   bool // one of the two shows the face dry
	StayP   string
	FollowP string
}

// chance writes a probability as far as it means anything.
func chance(p float64) string {
	if p < 0.001 {
		return "under 0.001"
	}
	return number(p, 3)
}

var (
	lowSides = []orderChoice{{"", "nobody looked"}, {"level", "none: it lay level"}, {"0", "the right"}, {"90", "the top"}, {"180", "the left"}, {"270", "the bottom"}}
	turns    = []orderChoice{{"180", "half round"}, {"90", "a quarter, anticlockwise"}, {"-90", "a quarter, clockwise"}}
	draws    = []orderChoice{{"0", "the same way up"}, {"180", "upside down"}, {"90", "a quarter turned, anticlockwise"}, {"-90", "a quarter turned, clockwise"}}
)

// poolSide is what a swatch's page says of a face's pooling.
type poolSide struct {
	pool.Verdict
	Face studio.Face
}

// pooledIn reports whether a pooling was read from a photograph of a treated face.
func pooledIn(p studio.Photo) bool {
	return p.Measurement != nil && p.Measurement.Pooling != nil && p.Moment != studio.Bare
}

// pooled is the newest photograph of those with a pooling.
func pooled(photos []studio.Photo) *studio.Photo {
	for i := len(photos) - 1; i >= 0; i-- {
		if pooledIn(photos[i]) {
			return &photos[i]
		}
	}
	return nil
}

// shown puts a photograph's pooling beside what is known of how the face lay.
func shown(p studio.Photo, x studio.Swatch, lay *pool.Lay) pool.Shown {
	s := pool.Shown{Pooling: *p.Measurement.Pooling, WidthMM: x.WidthMM, HeightMM: x.HeightMM, Lay: lay}
	if c := p.Measurement.Coverage; c != nil {
		s.Covered = c.Value
	}
	return s
}

// poolOn reads the pooling of the newest photograph of a face; nil without one.
func poolOn(photos []studio.Photo, x studio.Swatch, face studio.Face) *poolSide {
	p := pooled(photos)
	if p == nil {
		return nil
	}
	return &poolSide{pool.Read(shown(*p, x, nil)), face}
}

// layOn returns what was put on a face by the newest treatment that has begun.
func (s *Server) layOn(ctx context.Context, x studio.Swatch, face studio.Face) (*pool.Lay, error) {
	b, err := s.wetBench(ctx)
	if err != nil {
		return nil, err
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: x.Number})
	if err != nil {
		return nil, err
	}
	for _, f := range slices.Backward(folds) {
		if !f.Treatment.Faces.Has(face) || f.Record.Status == run.Planned {
			continue
		}
		for _, l := range pool.Lays(b.job(f.Treatment, x, f.Record)) {
			if l.Faces.Has(face) && l.Unknown == "" {
				return &l, nil
			}
		}
	}
	return nil, nil
}

// pooling is GET /swatches/{id}/{face}/pooling: the cause that the newest
// photograph fits, and the test of turning the piece.
func (s *Server) pooling(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	number, err := idIn(r, "id")
	if err != nil {
		return err
	}
	p := poolingPage{form: f, Face: studio.Face(r.PathValue("face")), Lows: lowSides, Turns: turns, Draws: draws}
	if !slices.Contains(studio.BothFaces, p.Face) {
		return studio.Problemf(studio.NotFound, "", "A swatch has a front and a back, no %q.", r.PathValue("face"))
	}
	if p.Swatch, err = s.store.Swatch(ctx, number); err != nil {
		return err
	}
	p.Frame = s.frame(r, fmt.Sprintf("Swatch %d, %s: where it gathered", number, p.Face), "swatches")
	photos, err := s.store.PhotosOf(ctx, number)
	if err != nil {
		return err
	}
	slices.SortStableFunc(photos, func(a, b studio.Photo) int { return a.Taken.Compare(b.Taken) })
	for _, x := range photos {
		if x.Face == p.Face && pooledIn(x) {
			p.Photos = append(p.Photos, x)
		}
	}
	if p.Lay, err = s.layOn(ctx, p.Swatch, p.Face); err != nil {
		return err
	}
	if p.Photo = pooled(p.Photos); p.Photo != nil {
		x := shown(*p.Photo, p.Swatch, p.Lay)
		switch low := f.Val("low"); low {
		case "":
		case "level":
			x.Level = true
		default:
			deg := f.number("low", "low side", "degrees", 0)
			x.LowDeg = &deg
		}
		p.Verdict = pool.Read(x)
	}
	code := http.StatusOK
	if f.Val("before") != "" || f.Val("after") != "" {
		if err := f.blame(p.turn(), "before", "after", "drawn"); err != nil {
			return err
		}
	}
	if !f.ok() {
		if len(p.Photos) < 2 {
			f.onTop() // the form is not there
		} else {
			f.onTop("before", "after", "drawn", "low")
		}
		code = http.StatusUnprocessableEntity
	}
	s.show(w, code, "pooling", p)
	return nil
}

// turn reads the test of turning the piece from the photographs chosen.
func (p *poolingPage) turn() error {
	pick := func(field string) *studio.Photo {
		for i := range p.Photos {
			if strconv.FormatInt(p.Photos[i].ID, 10) == p.Val(field) {
				return &p.Photos[i]
			}
		}
		p.say(field, "Choose a photograph of this face that was measured.")
		return nil
	}
	p.Before, p.After = pick("before"), pick("after")
	turned, drawn := p.number("turned", "turn", "degrees", 180), p.number("drawn", "turn of the picture", "degrees", 0)
	if !p.ok() {
		return nil
	}
	got, err := pool.Turned(pool.Turn{Before: p.Before.Measurement, After: p.After.Measurement, WidthMM: p.Swatch.WidthMM, HeightMM: p.Swatch.HeightMM, TurnedDeg: turned, DrawnDeg: drawn})
	var out *science.RangeError
	if errors.As(err, &out) {
		p.say("", "The %s can't be %v %s; choose from the lists.", out.What, out.Got, out.Unit)
		return nil
	}
	if err != nil {
		return err
	}
	p.Turned, p.Answer = &got, turnWords[got.Says]
	p.StayP, p.FollowP = chance(got.StayP), chance(got.FollowP)
	p.Dried = p.Before.Moment == studio.Finished || p.After.Moment == studio.Finished
	return nil
}

var turnWords = map[string]string{film.GravityRuledOut: "Not the tilt: the pool turned with the piece", film.GravityIs: "The tilt: the pool ran to the low side again", film.CantTell: "Can't tell from these two photographs"}
