package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"aerugo/internal/flow/run"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// ownSwatch reads the swatch in the path, which must be the seat's.
func ownSwatch(r *http.Request, seat studio.Seat) (int64, error) {
	n, err := idIn(r, "number")
	if err == nil && !slices.Contains(seat.Swatches, n) {
		err = studio.Problemf(studio.NotFound, "", "Swatch %d is not one of yours. Yours are listed on your first page.", n)
	}
	return n, err
}

// seatSwatchPage is one swatch of a student.
type seatSwatchPage struct {
	Frame
	Number int64
	Stands string
	Steps  []seatStep
	Faces  []seatFace
	Hints  []string // words to choose from
	Usual  studio.Face
}

type seatStep struct {
	Faces string
	Lines []seatLine
}

type seatLine struct {
	Words, State string
	Done, Now    bool
}

// seatFace is one face with what the student said of it.
type seatFace struct {
	Face    studio.Face
	Photos  []studio.Photo
	Words   [3]string
	Covered string
	Note    string
	Said    bool
}

// wordHints are offered for a face; any other word can be written.
var wordHints = []string{"even", "mottled", "streaky", "grainy", "velvety", "glossy", "dry", "crystalline", "deep", "pale", "green", "blue", "turquoise", "brown", "black", "bare spots"}

func (s *Server) seatSwatch(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	n, err := ownSwatch(r, seat)
	if err != nil {
		return err
	}
	p, err := s.fillSeatSwatch(r, seat, class, n)
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "seat_swatch", p)
	return nil
}

func (s *Server) fillSeatSwatch(r *http.Request, seat studio.Seat, class studio.Class, n int64) (seatSwatchPage, error) {
	ctx := r.Context()
	p := seatSwatchPage{Frame: s.seatFrame(r, fmt.Sprintf("Swatch %d", n), seat), Number: n, Hints: wordHints, Usual: studio.Front}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
	if err != nil {
		return p, err
	}
	p.Stands = seatStanding(folds)
	for _, f := range folds {
		step := seatStep{Faces: facesWord(f.Treatment.Faces)}
		for i, x := range f.Treatment.Steps {
			st := f.Record.Steps[i]
			step.Lines = append(step.Lines, seatLine{Words: capital(run.Words(x)), State: string(st.State), Done: st.State == run.Done, Now: f.Record.Status == run.Running && i == f.Record.Current})
		}
		p.Steps = append(p.Steps, step)
	}
	photos, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return p, err
	}
	said, err := s.store.SeatWords(ctx, class.ID)
	if err != nil {
		return p, err
	}
	for _, face := range studio.BothFaces {
		v := seatFace{Face: face}
		for _, x := range photos {
			if x.Swatch == n && x.Face == face {
				v.Photos = append(v.Photos, x)
			}
		}
		for _, x := range said {
			if x.Seat == seat.ID && x.Face == (studio.FaceOf{Swatch: n, Face: face}) {
				v.take(x)
			}
		}
		p.Faces = append(p.Faces, v)
	}
	return p, nil
}

func (v *seatFace) take(x studio.SeatWords) {
	v.Said, v.Note, v.Covered, v.Words = true, x.Note, "", [3]string{}
	copy(v.Words[:], x.Words)
	if x.Covered != nil {
		v.Covered = number(*x.Covered*100, 0)
	}
}

// seatSays is POST /seat/swatches/{number}/words: three words, how much is covered, a
// note.
func (s *Server) seatSays(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	n, err := ownSwatch(r, seat)
	if err != nil {
		return err
	}
	f := readForm(r)
	at, err := s.when(f)
	if err != nil {
		return err
	}
	x := studio.SeatWords{Client: f.Val("client"), Class: class.ID, Seat: seat.ID, Face: studio.FaceOf{Swatch: n, Face: studio.Face(f.Val("face"))}, Note: f.Val("note"), At: at}
	for _, word := range f.values["word"] {
		if word = strings.TrimSpace(word); word != "" && !slices.Contains(x.Words, word) {
			x.Words = append(x.Words, word)
		}
	}
	if f.Val("covered") != "" {
		v := f.number("covered", "covered share", "%", 0) / 100
		x.Covered = &v
	}
	for field, text := range f.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	if _, err := s.store.AddSeatWords(r.Context(), x); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/seat/swatches/%d", n), "Kept. You can write it anew as often as you like; the newest counts.")
}

// seatPhotograph is POST /seat/photos: one photograph of one of the seat's faces, kept
// as every other, and once however often it is sent.
func (s *Server) seatPhotograph(w http.ResponseWriter, r *http.Request, seat studio.Seat, _ studio.Class) error {
	ctx := r.Context()
	r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
	f, data, err := receive(r)
	if err != nil {
		return err
	}
	n := f.whole("swatch", "swatch's number", 0)
	if !slices.Contains(seat.Swatches, n) {
		return studio.Problemf(studio.NotFound, "swatch", "Swatch %d is not one of yours. Yours are listed on your first page.", n)
	}
	folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
	if err != nil {
		return err
	}
	moment := studio.Finished
	for _, x := range folds {
		switch x.Record.Status {
		case run.Running:
			moment = studio.Underway
		case run.Planned:
			if moment == studio.Finished {
				moment = studio.Bare
			}
		}
	}
	kept, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return err
	}
	to := fmt.Sprintf("/seat/swatches/%d", n)
	const said = "The photograph is kept. The place it was taken at is not in it."
	if client := f.Val("client"); client != "" && slices.ContainsFunc(kept, func(x studio.Photo) bool { return x.Client == client && x.Swatch == n }) {
		return backSaying(w, r, to, said) // sent twice: it is not read a second time
	}
	// one of the class's photographs is read at a time, so that a core is left for the
	// pages of the others while a whole class sends
	select {
	case s.classSeat <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.classSeat }()
	clean := &form{values: map[string][]string{"client": {f.Val("client")}, "swatch": {f.Val("swatch")}, "face": {f.Val("face")}, "moment": {string(moment)}}, wrong: map[string]string{}}
	got, _, err := s.takePhoto(ctx, clean, data)
	if err != nil {
		return err
	}
	for field, text := range clean.wrong {
		return studio.Problemf(studio.Invalid, field, "%s", text)
	}
	for _, x := range got.photos {
		if slices.Contains(seat.Swatches, x.Swatch) {
			if err := s.store.AddSeatPhoto(ctx, seat.ID, x.ID); err != nil {
				return err
			}
		}
	}
	s.live.changed()
	return backSaying(w, r, to, said)
}

// seatPicture is GET /seat/photos/{id}/{made}: of the seat's own swatches, or of a face
// that the class chooses between.
func (s *Server) seatPicture(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	if !slices.Contains(seat.Swatches, photo.Swatch) {
		sittings, err := s.store.ClassSittings(r.Context(), class.ID)
		if err != nil {
			return err
		}
		chosen := slices.ContainsFunc(sittings, func(x studio.Sitting) bool {
			return x.Has(studio.FaceOf{Swatch: photo.Swatch, Face: photo.Face})
		})
		if made := r.PathValue("made"); !chosen || made != "face.jpg" && made != "thumb.jpg" {
			return studio.Problemf(studio.NotFound, "", "There is no such picture here.")
		}
	}
	return s.madePicture(w, r)
}
