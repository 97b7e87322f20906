package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/run"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// saltedMoment is the choice on a photograph's form that stands beside the
// moments: a face under way, with salt on it, to be counted and not coloured.
const saltedMoment = "salted"

// momentIn reads the choice.
func momentIn(text string) (m studio.Moment, salted bool) {
	if text == saltedMoment {
		return studio.Underway, true
	}
	return studio.Moment(text), false
}

// saltPage counts the grains of a salted face, and tells its loading.
type saltPage struct {
	markPage
	*form
	Swatch   studio.Swatch
	Grains   *studio.GrainReading
	Weighed  []studio.WeighedSalt
	Loading  *loadingView
	Material string
	Salt     string // what the material is called
	Step     string // the step whose amount a loading would be
	Stopper  string // why a loading can't be kept as what went on
	Area     string
}

// loadingView is a loading told from grains.
type loadingView struct {
	measure.Loading
	By        studio.WeighedSalt
	OtherSalt bool
	Kept      string // as-run amount of the step, once it is this
}

// countOf is a kept count as the measuring knows it.
func countOf(g studio.GrainReading) measure.GrainCount {
	return measure.GrainCount{Count: g.Count, Low: g.Low, High: g.High, CoveredShare: g.CoveredShare, ReadShare: g.ReadShare, PerCM2: g.PerCM2, PerCM2Read: g.PerCM2Read}
}

// referenceOf is a weighed face as the measuring knows it.
func referenceOf(w studio.WeighedSalt) measure.Reference {
	loading, sd := w.GramPerM2()
	return measure.Reference{GramPerM2: loading, SD: sd, Count: w.Count, CoveredShare: w.CoveredShare, PerCM2: w.PerCM2}
}

// sprinkled finds the step by which salt came onto a face: that of the latest
// treatment begun on it, else of the first planned.
func (s *Server) sprinkled(ctx context.Context, photo studio.Photo) (f folded, step int, found bool, err error) {
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: photo.Swatch})
	if err != nil {
		return f, 0, false, err
	}
	for _, x := range folds {
		if !x.Treatment.Faces.Has(photo.Face) {
			continue
		}
		for i, st := range x.Treatment.Steps {
			if st.Kind == studio.Sprinkle && st.Amount.Unit != studio.MLPerM2 && (!found || x.Record.Status != run.Planned) {
				f, step, found = x, i, true
				break
			}
		}
	}
	return f, step, found, nil
}

func (s *Server) fillSalt(r *http.Request, photo studio.Photo, f *form) (saltPage, error) {
	ctx := r.Context()
	p := saltPage{form: f}
	p.Frame, p.Photo = s.frame(r, fmt.Sprintf("Salt on swatch %d, %s", photo.Swatch, photo.Face), "swatches"), photo
	var err error
	if p.Swatch, err = s.store.Swatch(ctx, photo.Swatch); err != nil {
		return p, err
	}
	p.Area = number(p.Swatch.AreaM2()*1e4, 1)
	marks, found, err := s.lastMarks(ctx, photo)
	if err != nil {
		return p, err
	}
	g, ok, err := s.store.GrainsOf(ctx, photo.ID)
	if err != nil {
		return p, err
	}
	if ok {
		p.Grains, marks, found = &g, g.Marks, true
	}
	p.Before = found && !ok
	typed := f.Val("tlx") != ""
	if typed {
		marks, found = f.marks(nil), true
	}
	p.fill(marks, found)
	p.OnMat = marks.OnMat && (ok || typed)
	t, step, has, err := s.sprinkled(ctx, photo)
	if err != nil {
		return p, err
	}
	p.Material = "sodium-chloride"
	if has {
		st := t.Treatment.Steps[step]
		if st.Material != "" {
			p.Material = st.Material
		}
		p.Step = fmt.Sprintf("step %d, %s", step+1, run.Words(st))
		if t.Record.Status == run.Planned {
			p.Stopper = "The treatment of this face has not been started. Start it on Today, then this can be kept as what really went on."
		}
	} else {
		p.Stopper = "No sprinkling is planned on this face, so there is no step to keep the loading with."
	}
	p.Salt = substanceName(p.Material)
	if p.Weighed, err = s.store.WeighedSalts(ctx); err != nil || p.Grains == nil {
		return p, err
	}
	p.Loading, err = s.loading(ctx, photo, f.whole("by", "weighed face", 0))
	return p, err
}

// loading tells a face's loading by a weighed face: the one asked for, else the
// newest of the same salt, else the newest. It is nil without any.
func (s *Server) loading(ctx context.Context, photo studio.Photo, by int64) (*loadingView, error) {
	g, ok, err := s.store.GrainsOf(ctx, photo.ID)
	if err != nil || !ok {
		return nil, err
	}
	weighed, err := s.store.WeighedSalts(ctx)
	if err != nil {
		return nil, err
	}
	t, step, has, err := s.sprinkled(ctx, photo)
	if err != nil {
		return nil, err
	}
	material := ""
	if has {
		material = t.Treatment.Steps[step].Material
	}
	pick := slices.IndexFunc(weighed, func(w studio.WeighedSalt) bool { return w.ID == by })
	if pick < 0 {
		pick = slices.IndexFunc(weighed, func(w studio.WeighedSalt) bool { return w.Material == material })
	}
	if pick < 0 {
		if len(weighed) == 0 {
			return nil, nil
		}
		pick = 0
	}
	v := &loadingView{By: weighed[pick], OtherSalt: material != "" && weighed[pick].Material != material}
	v.Loading, err = referenceOf(v.By).Loading(countOf(g))
	if studio.ProblemIn(err) != nil {
		return nil, nil
	}
	if has {
		if a := t.Record.Steps[step]; a.AmountNoted && a.Amount.Unit == studio.GramPerM2 && math.Abs(a.Amount.Value-v.Value) < 1e-9 {
			v.Kept = a.Amount.String()
		}
	}
	return v, err
}

func (s *Server) saltPhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillSalt(r, photo, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "photo_salt", p)
	return nil
}

// refuseSalt shows the page again with what was wrong.
func (s *Server) refuseSalt(w http.ResponseWriter, r *http.Request, photo studio.Photo, f *form) error {
	p, err := s.fillSalt(r, photo, f)
	if err != nil {
		return err
	}
	f.onTop("mass", "sd", "area")
	p.Problem = f.Wrong("")
	s.show(w, http.StatusUnprocessableEntity, "photo_salt", p)
	return nil
}

// countSalt is POST /photos/{id}/salt: the grains inside the marked corners.
func (s *Server) countSalt(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	marks := f.marks(nil)
	if f.ok() {
		err = s.withPhoto(ctx, photo, marks, func(img *picture.Image, round surround) error {
			return s.countGrains(ctx, photo, img, marks, round)
		})
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.refuseSalt(w, r, photo, f)
	}
	if !photo.Salted {
		photo.Salted, photo.Moment = true, studio.Underway
		if err := s.store.UpdatePhoto(ctx, photo); err != nil {
			return err
		}
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/photos/%d/salt", photo.ID))
}

// countGrains counts the grains on a decoded photograph and keeps the count.
func (s *Server) countGrains(ctx context.Context, photo studio.Photo, img *picture.Image, marks studio.Marks, round surround) error {
	g, err := measure.Grains(img, marks, round.size, round.under)
	if err != nil {
		return err
	}
	_, err = s.store.AddGrains(ctx, studio.GrainReading{Photo: photo.ID, Method: measure.Version, Made: s.now().UTC(), Marks: marks, Count: g.Count, Low: g.Low, High: g.High,
		CoveredShare: g.CoveredShare, ReadShare: g.ReadShare, PerCM2: g.PerCM2, PerCM2Read: g.PerCM2Read, TypicalMM: g.TypicalMM, Clumped: g.Clumped, ShineShare: g.ShineShare,
		Rule: g.Rule, Warnings: g.Warnings})
	return err
}

// weighSalt is POST /photos/{id}/weighed: the salt of this face was weighed.
func (s *Server) weighSalt(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	g, ok, err := s.store.GrainsOf(ctx, photo.ID)
	if err != nil {
		return err
	}
	if !ok {
		return studio.Problemf(studio.Conflict, "", "Count the grains of this photograph first.")
	}
	for _, need := range []struct{ name, what string }{{"mass", "what the salt weighed, in grams"}, {"area", "the area it lay on, in cm²"}} {
		if f.Val(need.name) == "" {
			f.say(need.name, "Write %s.", need.what)
		}
	}
	x := studio.WeighedSalt{Photo: photo.ID, Of: photoName(photo), Material: f.Val("material"), Made: s.now().UTC(), MassG: f.number("mass", "weight", "g", 0), SDG: f.number("sd", "spread", "g", 0),
		AreaCM2: f.number("area", "area", "cm²", 0), Count: g.Count, CoveredShare: g.CoveredShare, PerCM2: g.PerCM2}
	if x.Material == "" {
		x.Material = "sodium-chloride"
	}
	if f.ok() {
		err := x.Check()
		if err == nil { // enough grains, too
			loading, sd := x.GramPerM2()
			_, err = countOf(g).Weighed(loading, sd)
		}
		if err == nil {
			_, err = s.store.AddWeighedSalt(ctx, x)
		}
		if err := f.blame(err, "mass", "sd", "area"); err != nil {
			return err
		}
	}
	if !f.ok() {
		return s.refuseSalt(w, r, photo, f)
	}
	s.live.changed()
	loading, _ := x.GramPerM2()
	return backSaying(w, r, fmt.Sprintf("/photos/%d/salt", photo.ID), fmt.Sprintf("Kept: %s g/m² lay on this face. Other photographs of the same salt are told by it.", number(loading, 1)))
}

// useLoading is POST /photos/{id}/loading: the loading told from the grains is
// recorded as what really went on.
func (s *Server) useLoading(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	v, err := s.loading(ctx, photo, f.whole("by", "weighed face", 0))
	if err != nil {
		return err
	}
	if v == nil {
		return studio.Problemf(studio.Conflict, "", "There is no loading to keep: count the grains, and weigh one face of the same salt.")
	}
	t, step, has, err := s.sprinkled(ctx, photo)
	if err != nil {
		return err
	}
	if !has || t.Record.Status == run.Planned {
		return studio.Problemf(studio.Conflict, "", "This face has no sprinkling under way to keep the loading with; start its treatment on Today first.")
	}
	amount := v.Amount
	tap := run.Tap{Kind: studio.Changed, Step: step, At: s.now().UTC(), By: s.who(r), Client: f.Val("client"), Amount: &amount,
		Note: fmt.Sprintf("From grains counted in a photograph (%s): %s g/m², 95 %% from %s to %s.", photoName(photo), number(v.Value, 1), number(v.Low, 1), number(v.High, 1))}
	events, err := run.Confirm(run.Entry{Treatment: t.Treatment, Record: t.Record}, tap)
	if err != nil {
		return err
	}
	if _, err := s.store.AddEvents(ctx, events); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/swatches/%d", photo.Swatch), fmt.Sprintf("Kept as what really went on: %s.", amount))
}

// saltView is the salt counted on a face, for the swatch's page.
type saltView struct {
	Photo   studio.Photo
	Grains  *studio.GrainReading
	Loading *loadingView
}

// saltOn returns the newest salted photograph of a face, nil without any.
func (s *Server) saltOn(ctx context.Context, photos []studio.Photo) (*saltView, error) {
	for _, p := range slices.Backward(photos) {
		if !p.Salted {
			continue
		}
		v := &saltView{Photo: p}
		g, ok, err := s.store.GrainsOf(ctx, p.ID)
		if err != nil || !ok {
			return v, err
		}
		v.Grains = &g
		v.Loading, err = s.loading(ctx, p, 0)
		return v, err
	}
	return nil, nil
}

// countOnMat counts the grains of a salted face in its place on a mat that was found, without
// anyone marking it. What does not work out is left to be marked by hand.
func (s *Server) countOnMat(ctx context.Context, photo studio.Photo, img *picture.Image, look scene.Scene, place int) {
	marks, _, ok := look.Face(place)
	if !ok {
		return
	}
	marks.OnMat = true
	if _, there, err := s.store.GrainsOf(ctx, photo.ID); err != nil || there {
		return
	}
	round, err := s.surround(ctx, photo, img, marks, look)
	if err == nil {
		err = s.countGrains(ctx, photo, img, marks, round)
	}
	if err != nil && studio.ProblemIn(err) == nil {
		s.log.Warn("grains not counted", "photo", photo.ID, "err", err)
	}
}
