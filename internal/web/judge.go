package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

func (s *Server) judgeRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /photos/{id}/reference", s.keepReference)
	s.on(mux, "GET /photos/{id}/paint", s.paintPhoto)
	s.on(mux, "POST /photos/{id}/paint", s.learnFromPaint)
	s.on(mux, "GET /photos/{id}/salt", s.saltPhoto)
	s.on(mux, "POST /photos/{id}/salt", s.countSalt)
	s.on(mux, "POST /photos/{id}/weighed", s.weighSalt)
	s.on(mux, "POST /photos/{id}/loading", s.useLoading)
	s.on(mux, "GET /sets/{id}/bare", s.setBare)
	s.on(mux, "POST /sets/{id}/bare", s.judgeSet)
	s.on(mux, "POST /sets/{id}/again", s.setAgain)
}

// referenceName names a kept bare reference.
func referenceName(b studio.BareReference) string {
	return fmt.Sprintf("the bare reference kept of %s", b.Of)
}

// choiceOf offers a kept reference as bare metal.
func choiceOf(b studio.BareReference, why string) bareChoice {
	return bareChoice{Key: fmt.Sprintf("reference-%d", b.ID), Label: why + referenceName(b), lab: b.Lab, reference: b.ID, spread: b.SpreadDE}
}

// takeBare has a photograph judged by chosen bare metal.
func takeBare(marks *studio.Marks, b bareChoice) {
	lab := b.lab
	marks.BareLab, marks.BareOf, marks.Reference, marks.BareSpread = &lab, b.Label, b.reference, b.spread
}

// keptBares lists the kept references that a photograph of a swatch can be judged by:
// first the one its set uses, then those of its metal, the newest first. last says
// that the set was told to do without, so that they come after all others.
func (s *Server) keptBares(ctx context.Context, swatch studio.Swatch) (out []bareChoice, last bool, err error) {
	if swatch.MetalID == 0 {
		return nil, false, nil
	}
	refs, err := s.store.BareReferences(ctx, swatch.MetalID)
	if err != nil || len(refs) == 0 {
		return nil, false, err
	}
	judge, err := s.store.SetJudge(ctx, swatch.SetID)
	if err != nil {
		return nil, false, err
	}
	for _, b := range refs {
		if b.ID == judge.Reference {
			out = slices.Insert(out, 0, choiceOf(b, "this set's: "))
		} else {
			out = append(out, choiceOf(b, ""))
		}
	}
	return out, judge.ID != 0 && judge.Reference == 0, nil
}

// fixReference keeps with the set which reference it was first judged by, so that
// all its photographs are judged by the same.
func (s *Server) fixReference(ctx context.Context, m studio.Measurement) error {
	if m.Marks.Reference == 0 {
		return nil
	}
	photo, err := s.store.Photo(ctx, m.Photo)
	if err != nil {
		return err
	}
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return err
	}
	judge, err := s.store.SetJudge(ctx, swatch.SetID)
	if err != nil || judge.ID != 0 {
		return err // it was said already, also if it was said to be none
	}
	_, err = s.store.AddSetJudge(ctx, studio.SetJudge{Set: swatch.SetID, Reference: m.Marks.Reference, Painting: judge.Painting})
	return err
}

// rule returns the rule trained from examples that a photograph is judged by: its
// own, trained again under these marks, else its set's; nil for the plain rule.
// note says why examples that are there were not used.
func (s *Server) rule(ctx context.Context, photo studio.Photo, img *picture.Image, marks studio.Marks, round surround) (rule *studio.TrainedRule, note string, err error) {
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return nil, "", err
	}
	own, ok, err := s.store.PaintingOf(ctx, photo.ID)
	if err != nil {
		return nil, "", err
	}
	if ok && len(own.Strokes) > 0 {
		learned, err := s.learn(ctx, photo, swatch, img, marks, round, own.Strokes)
		if p := studio.ProblemIn(err); p != nil {
			return nil, "The painted examples were not used. " + p.Text, nil
		}
		return &learned, "", err
	}
	judge, err := s.store.SetJudge(ctx, swatch.SetID)
	if err != nil || judge.Painting == 0 {
		return nil, "", err
	}
	painting, err := s.store.Painting(ctx, judge.Painting)
	if err != nil || len(painting.Strokes) == 0 {
		return nil, "", err
	}
	return &painting.Rule, "", nil
}

// learn trains a rule from strokes on a decoded photograph.
func (s *Server) learn(ctx context.Context, photo studio.Photo, swatch studio.Swatch, img *picture.Image, marks studio.Marks, round surround, strokes []studio.Stroke) (studio.TrainedRule, error) {
	var ref *studio.BareReference
	if marks.Reference != 0 {
		b, err := s.store.BareReference(ctx, marks.Reference)
		if err == nil {
			ref = &b
		} else if studio.ProblemIn(err) == nil {
			return studio.TrainedRule{}, err
		}
	}
	rule, err := measure.Learn(img, marks, measure.Size{WidthMM: swatch.WidthMM, HeightMM: swatch.HeightMM}, round.under, strokes, ref) // painted on the size entered
	rule.Of = photoName(photo)
	return rule, err
}

// photoName names a photograph in a sentence.
func photoName(p studio.Photo) string {
	return fmt.Sprintf("swatch %d %s, %s", p.Swatch, p.Face, localTime(p.Taken))
}

// withPhoto decodes a stored photograph, in its turn, and hands it to use with
// what lies round the face.
func (s *Server) withPhoto(ctx context.Context, photo studio.Photo, marks studio.Marks, use func(img *picture.Image, round surround) error) error {
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, photo.ID)
	if err != nil {
		return err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return err
	}
	look, err := s.sceneOf(ctx, img, marks)
	if err != nil {
		return err
	}
	round, err := s.surround(ctx, photo, img, marks, look)
	if err != nil {
		return err
	}
	return use(img, round)
}

// keepReference is POST /photos/{id}/reference: the bare spot of a photograph, or
// the whole face, becomes what its metal looks like bare.
func (s *Server) keepReference(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return err
	}
	if photo.Measurement == nil {
		return studio.Problemf(studio.Conflict, "", "Mark the face and the grey card first; then it can be kept as the bare reference.")
	}
	if swatch.MetalID == 0 {
		return studio.Problemf(studio.Conflict, "", "Swatch %d has no metal on the shelf, so there is nothing to keep a bare reference of.", swatch.Number)
	}
	metal, err := s.store.Metal(ctx, swatch.MetalID)
	if err != nil {
		return err
	}
	marks := photo.Measurement.Marks
	var ref studio.BareReference
	err = s.withPhoto(ctx, photo, marks, func(img *picture.Image, round surround) (err error) {
		ref, err = measure.BareReading(img, marks, round.size, round.under, r.FormValue("whole") != "")
		return err
	})
	if err != nil {
		return err
	}
	ref.Metal, ref.Photo, ref.Of = metal.ID, photo.ID, photoName(photo)
	if marks.Setup != 0 {
		ref.Corrected = "kept camera and lamp"
	}
	if _, err := s.store.AddBareReference(ctx, ref); err != nil {
		return err
	}
	s.live.changed()
	judge, err := s.store.SetJudge(ctx, swatch.SetID)
	if err != nil {
		return err
	}
	said := fmt.Sprintf("Kept as what %s looks like bare. Photographs of it that show no bare metal are judged by it from now on.", metal.Name)
	if judge.Reference != 0 {
		said = fmt.Sprintf("Kept as what %s looks like bare. This set stays with the reference it began with, so that its swatches can be compared; to change it, choose here.", metal.Name)
	}
	return backSaying(w, r, fmt.Sprintf("/sets/%d/bare", swatch.SetID), said)
}

// setBarePage says what counts as bare metal in a set, and lets it be changed.
type setBarePage struct {
	Frame
	Set        studio.Set
	Judge      studio.SetJudge
	Metals     []string
	References []referenceView
	Paintings  []paintingView
	Measured   int // photographs of the set that have a reading
	Otherwise  int // those whose reading was judged by something else
}

type referenceView struct {
	studio.BareReference
	Metal  string
	Chosen bool
}

type paintingView struct {
	studio.Painting
	Chosen bool
}

// setPhotos lists the measured photographs of a set.
func (s *Server) setPhotos(ctx context.Context, set int64) ([]studio.Photo, error) {
	swatches, err := s.store.SwatchesOf(ctx, set)
	if err != nil {
		return nil, err
	}
	var out []studio.Photo
	for _, x := range swatches {
		photos, err := s.store.PhotosOf(ctx, x.Number)
		if err != nil {
			return nil, err
		}
		for _, p := range photos {
			if p.Measurement != nil && !p.Salted {
				out = append(out, p)
			}
		}
	}
	return out, nil
}

func (s *Server) setBare(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	set, err := s.store.Set(ctx, id)
	if err != nil {
		return err
	}
	p := setBarePage{Frame: s.frame(r, "What counts as bare in "+set.Name, "plan"), Set: set}
	if p.Judge, err = s.store.SetJudge(ctx, id); err != nil {
		return err
	}
	swatches, err := s.store.SwatchesOf(ctx, id)
	if err != nil {
		return err
	}
	var metals []int64
	for _, x := range swatches {
		if x.MetalID != 0 && !slices.Contains(metals, x.MetalID) {
			metals = append(metals, x.MetalID)
		}
	}
	for _, m := range metals {
		metal, err := s.store.Metal(ctx, m)
		if err != nil {
			return err
		}
		p.Metals = append(p.Metals, metal.Name)
		refs, err := s.store.BareReferences(ctx, m)
		if err != nil {
			return err
		}
		for _, b := range refs {
			p.References = append(p.References, referenceView{b, metal.Name, b.ID == p.Judge.Reference})
		}
	}
	photos, err := s.setPhotos(ctx, id)
	if err != nil {
		return err
	}
	for _, x := range photos {
		painting, ok, err := s.store.PaintingOf(ctx, x.ID)
		if err != nil {
			return err
		}
		if ok && len(painting.Strokes) > 0 && painting.ID != p.Judge.Painting {
			p.Paintings = append(p.Paintings, paintingView{painting, false})
		}
		p.Measured++
		if m := x.Measurement.Marks; m.Bare == nil && p.Judge.Reference != 0 && m.Reference != p.Judge.Reference {
			p.Otherwise++
		}
	}
	if p.Judge.Painting != 0 {
		painting, err := s.store.Painting(ctx, p.Judge.Painting)
		if err != nil {
			return err
		}
		if len(painting.Strokes) > 0 {
			p.Paintings = append([]paintingView{{painting, true}}, p.Paintings...)
		}
	}
	s.show(w, http.StatusOK, "set_bare", p)
	return nil
}

// judgeSet is POST /sets/{id}/bare: which reference and examples a set uses.
func (s *Server) judgeSet(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if _, err := s.store.Set(ctx, id); err != nil {
		return err
	}
	f := readForm(r)
	judge := studio.SetJudge{Set: id, Reference: f.whole("reference", "reference", 0), Painting: f.whole("painting", "examples", 0)}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	if judge.Painting != 0 {
		painting, err := s.store.Painting(ctx, judge.Painting)
		if err != nil {
			return err
		}
		if err := forSet(painting.Rule); err != nil {
			return err
		}
	}
	if judge.Reference != 0 {
		if err := s.ofSet(ctx, id, judge.Reference); err != nil {
			return err
		}
	}
	if _, err := s.store.AddSetJudge(ctx, judge); err != nil {
		return err
	}
	s.live.changed()
	if f.Val("again") != "" {
		return s.setAgain(w, r)
	}
	return backSaying(w, r, fmt.Sprintf("/sets/%d/bare", id), "Kept. Readings made so far stay as they were until the set is measured again.")
}

// ofSet reports a Problem when a reference is of another metal than the set's.
func (s *Server) ofSet(ctx context.Context, set, reference int64) error {
	b, err := s.store.BareReference(ctx, reference)
	if err != nil {
		return err
	}
	swatches, err := s.store.SwatchesOf(ctx, set)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(swatches, func(x studio.Swatch) bool { return x.MetalID == b.Metal }) {
		return studio.Problemf(studio.Invalid, "reference", "That bare reference is of another metal than this set's swatches; choose one of theirs.")
	}
	return nil
}

// forSet reports a Problem when a rule can't judge other photographs.
func forSet(rule studio.TrainedRule) error {
	if !rule.Calibrated {
		return studio.Problemf(studio.Conflict, "wholeset", "These examples were painted on a photograph without a grey card, so they hold for that one only. Mark the grey card there and paint again to use them for the whole set.")
	}
	return nil
}

// setAgain is POST /sets/{id}/again: every measured photograph of the set is read
// once more by what the set now uses; the old readings stay.
func (s *Server) setAgain(w http.ResponseWriter, r *http.Request) error {
	id, err := idIn(r, "id")
	if err != nil {
		return err
	}
	if _, err := s.store.Set(r.Context(), id); err != nil {
		return err
	}
	n, err := s.measureSet(r.Context(), id)
	if err != nil {
		return err
	}
	if n == 0 {
		return backSaying(w, r, fmt.Sprintf("/sets/%d/bare", id), "Kept. No photograph of this set is measured yet.")
	}
	return backSaying(w, r, fmt.Sprintf("/sets/%d/bare", id), fmt.Sprintf("%d photographs are being measured again. You can go on working; the old readings stay.", n))
}

// measureSet begins to measure a set's photographs again and returns how many.
func (s *Server) measureSet(ctx context.Context, set int64) (int, error) {
	photos, err := s.setPhotos(ctx, set)
	if err != nil || len(photos) == 0 {
		return 0, err
	}
	for i := range photos {
		if err := s.rejudge(ctx, &photos[i]); err != nil {
			return 0, err
		}
	}
	work, stop := context.WithCancel(context.Background())
	if !s.beginWork("Measuring the set again", len(photos), stop) {
		stop()
		return 0, studio.Problemf(studio.Conflict, "", "What the set uses is kept, but other long work is under way; when it is done, press 'Measure the set again'.")
	}
	s.background.Go(func() { s.measureAgain(work, stop, photos) })
	return len(photos), nil
}

// rejudge puts the set's reference of the swatch's metal into the marks by which a
// photograph is about to be measured again, unless bare metal is marked in it; where
// the set does without, its blank or the face before takes a reference's place.
func (s *Server) rejudge(ctx context.Context, p *studio.Photo) error {
	m := *p.Measurement
	p.Measurement = &m
	if m.Marks.Bare != nil {
		return nil
	}
	swatch, err := s.store.Swatch(ctx, p.Swatch)
	if err != nil {
		return err
	}
	judge, err := s.store.SetJudge(ctx, swatch.SetID)
	if err != nil || judge.ID == 0 {
		return err
	}
	if judge.Reference == 0 {
		if m.Marks.Reference == 0 {
			return nil
		}
		m.Marks.BareLab, m.Marks.BareOf, m.Marks.Reference, m.Marks.BareSpread = nil, "", 0, 0
		bares, err := s.bares(ctx, *p)
		if len(bares) > 0 && bares[0].reference == 0 {
			takeBare(&m.Marks, bares[0])
		}
		return err
	}
	b, err := s.store.BareReference(ctx, judge.Reference)
	if err == nil && b.Metal == swatch.MetalID {
		takeBare(&m.Marks, choiceOf(b, "this set's: "))
	}
	return err
}
