package web

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/run"
	"aerugo/internal/language"
	"aerugo/internal/print"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// seatCardPage is what a student takes home: each swatch, what was done to it, what they
// said of it, their photographs.
type seatCardPage struct {
	Frame
	Sits     studio.Seat
	Class    studio.Class
	Swatches []seatCardSwatch
	Pictures string // where the photographs lie: "/seat/photos/" or "photos/"
	Till     time.Time
	Paper    bool // a file by itself, with no page round it
}

type seatCardSwatch struct {
	Number int64
	Metal  string
	Layers []seatCardLayer
	Faces  []seatCardFace
}

type seatCardLayer struct {
	Recipe string // empty: steps of their own
	Faces  string
	Lines  []string
}

type seatCardFace struct {
	Face    studio.Face
	Photos  []seatCardPhoto
	Words   string
	Covered string
	Note    string
}

type seatCardPhoto struct{ Src, Alt string }

// fillSeatCard gathers a seat's card; photo names where one of its pictures lies.
func (s *Server) fillSeatCard(ctx context.Context, seat studio.Seat, class studio.Class, photo func(studio.Photo, int) string) (seatCardPage, error) {
	p := seatCardPage{Sits: seat, Class: class}
	photos, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return p, err
	}
	said, err := s.store.SeatWords(ctx, class.ID)
	if err != nil {
		return p, err
	}
	terms, err := s.store.SeatTerms(ctx, class)
	if err != nil {
		return p, err
	}
	p.Till = terms.LinkTill(class)
	for _, n := range seat.Swatches {
		w, err := s.store.Swatch(ctx, n)
		if err != nil {
			return p, err
		}
		card := seatCardSwatch{Number: n}
		if w.MetalID != 0 {
			metal, err := s.store.Metal(ctx, w.MetalID)
			if err != nil {
				return p, err
			}
			card.Metal = metal.Name
		}
		folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: n})
		if err != nil {
			return p, err
		}
		for _, f := range folds {
			layer := seatCardLayer{Faces: facesWord(f.Treatment.Faces)}
			if f.Treatment.VersionID != 0 {
				link, err := s.recipeLink(ctx, f.Treatment.VersionID)
				if err != nil {
					return p, err
				}
				layer.Recipe = link.Name
			}
			for _, l := range run.AsRun(f.Treatment, f.Record) {
				text := l.Planned
				if l.Confirmed && l.Difference != "" {
					text = fmt.Sprintf("%s (really: %s)", text, l.Run)
				} else if !l.Confirmed {
					text = fmt.Sprintf("%s (not confirmed)", text)
				}
				layer.Lines = append(layer.Lines, capital(text))
			}
			card.Layers = append(card.Layers, layer)
		}
		for _, face := range studio.BothFaces {
			v := seatFace{Face: face}
			for _, x := range said {
				if x.Seat == seat.ID && x.Face == (studio.FaceOf{Swatch: n, Face: face}) {
					v.take(x)
				}
			}
			c := seatCardFace{Face: face, Covered: v.Covered, Note: v.Note}
			c.Words = strings.Join(slices.DeleteFunc(v.Words[:], func(w string) bool { return w == "" }), ", ")
			for i, x := range photos {
				if x.Swatch == n && x.Face == face {
					c.Photos = append(c.Photos, seatCardPhoto{photo(x, i), fmt.Sprintf("Swatch %d, %s", n, face)})
				}
			}
			if c.Words != "" || c.Covered != "" || c.Note != "" || len(c.Photos) > 0 {
				card.Faces = append(card.Faces, c)
			}
		}
		p.Swatches = append(p.Swatches, card)
	}
	return p, nil
}

func (s *Server) seatCard(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	p, err := s.fillSeatCard(r.Context(), seat, class, func(x studio.Photo, _ int) string { return fmt.Sprintf("/seat/photos/%d/face.jpg", x.ID) })
	if err != nil {
		return err
	}
	p.Frame = s.seatFrame(r, "My card", seat)
	p.Room = "seatcard"
	s.show(w, http.StatusOK, "seat_card", p)
	return nil
}

// seatCardPDF is GET /seat/card.pdf.
func (s *Server) seatCardPDF(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	card, err := s.printedCard(r, printedIn(w), seat, class)
	if err != nil {
		return err
	}
	return s.sendPDF(w, fmt.Sprintf("seat-%d.pdf", seat.Number), func(out io.Writer) error { return print.StudentCard(out, card) })
}

// printedCard is a seat's card for paper. What stands beside a student's own words is said
// here, in l: the paper can't tell them apart.
func (s *Server) printedCard(r *http.Request, l *language.Language, seat studio.Seat, class studio.Class) (print.Student, error) {
	ctx := r.Context()
	own := map[string]studio.Photo{}
	p, err := s.fillSeatCard(ctx, seat, class, func(x studio.Photo, i int) string {
		own[strconv.Itoa(i)] = x
		return strconv.Itoa(i)
	})
	if err != nil {
		return print.Student{}, err
	}
	card := print.Student{ClassPaper: print.ClassPaper{Paper: paper(r), Date: s.now(), Studio: class.Teacher, Title: class.Name, Under: []string{localTime(class.Starts)}, Invented: class.Invented}, Seat: seat.Said(),
		Care: []string{"Nothing patinated touches food or bare skin for long.", "Do not fume with ammonia at home without a hood or outdoors."}}
	for _, x := range p.Swatches {
		v := print.StudentSwatch{Number: x.Number}
		for i, layer := range x.Layers {
			name := cmp.Or(layer.Recipe, l.Say("Steps")) + ", " + l.Say(layer.Faces)
			if i == 0 {
				v.Recipe = name
			} else {
				v.Steps = append(v.Steps, name+":")
			}
			v.Steps = append(v.Steps, layer.Lines...)
		}
		for _, f := range x.Faces {
			said := f.Words
			if f.Covered != "" {
				said = strings.TrimPrefix(said+", "+l.Say(f.Covered+" % covered, by eye"), ", ")
			}
			if said != "" {
				v.Words = append(v.Words, fmt.Sprintf("%v: %s", l.Any(f.Face), said))
			}
			if f.Note != "" {
				v.Words = append(v.Words, f.Note)
			}
			if len(f.Photos) == 0 {
				continue
			}
			photo := own[f.Photos[len(f.Photos)-1].Src] // the newest
			jpeg, err := s.made(ctx, photo, "face")
			if err != nil {
				return card, err
			}
			v.Faces = append(v.Faces, print.CardFace{Swatch: x.Number, Face: f.Face, JPEG: jpeg, Measured: photo.Measurement})
		}
		card.Swatches = append(card.Swatches, v)
	}
	return card, nil
}

func (s *Server) seatZip(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	return s.sendSeatZip(w, r, seat, class)
}

// What seat.json holds.
type (
	seatDoc struct {
		Class    string          `json:"class"`
		Day      string          `json:"day"`
		Seat     int             `json:"seat"`
		Name     string          `json:"name,omitempty"`
		Swatches []seatDocSwatch `json:"swatches"`
	}
	seatDocSwatch struct {
		Number int64          `json:"number"`
		Metal  string         `json:"metal,omitempty"`
		Layers []seatDocLayer `json:"layers"`
		Faces  []seatDocFace  `json:"faces"`
		Taps   []seatDocTap   `json:"taps"`
	}
	seatDocLayer struct {
		Recipe string   `json:"recipe"`
		Faces  string   `json:"faces" say:"yes"`
		Steps  []string `json:"steps" say:"yes"`
	}
	seatDocFace struct {
		Face    string   `json:"face"`
		Words   string   `json:"words,omitempty"`
		Covered string   `json:"covered_percent,omitempty"`
		Note    string   `json:"note,omitempty"`
		Photos  []string `json:"photos,omitempty"`
	}
	seatDocTap struct {
		What string `json:"what"`
		Step int    `json:"step"`
		At   string `json:"at"`
		By   string `json:"by" say:"yes"`
		Note string `json:"note,omitempty"`
	}
)

// sendSeatZip sends everything of one seat as a file: the card, readable without the
// program and without a network, the same as JSON, and the photographs.
func (s *Server) sendSeatZip(w http.ResponseWriter, r *http.Request, seat studio.Seat, class studio.Class) error {
	ctx := r.Context()
	names := map[int64]string{}
	p, err := s.fillSeatCard(ctx, seat, class, func(x studio.Photo, i int) string {
		names[x.ID] = fmt.Sprintf("photos/swatch-%d-%s-%d.%s", x.Swatch, x.Face, i+1, strings.ToLower(strings.Replace(x.Format, "JPEG", "jpg", 1)))
		return names[x.ID]
	})
	if err != nil {
		return err
	}
	p.Paper = true
	p.Now = s.now()
	l := spokenTo(w)
	card, err := s.tongues.render(l, "seat_card", "paper", p)
	if err != nil {
		return err
	}
	doc := seatDoc{Class: class.Name, Day: class.Starts.Local().Format("2006-01-02"), Seat: seat.Number, Name: seat.Name}
	for _, x := range p.Swatches {
		d := seatDocSwatch{Number: x.Number, Metal: x.Metal}
		for _, layer := range x.Layers {
			d.Layers = append(d.Layers, seatDocLayer{layer.Recipe, layer.Faces, layer.Lines})
		}
		for _, f := range x.Faces {
			v := seatDocFace{Face: string(f.Face), Words: f.Words, Covered: f.Covered, Note: f.Note}
			for _, q := range f.Photos {
				v.Photos = append(v.Photos, q.Src)
			}
			d.Faces = append(d.Faces, v)
		}
		folds, err := s.treatments(ctx, store.TreatmentFilter{Swatch: x.Number})
		if err != nil {
			return err
		}
		for _, f := range folds {
			for _, e := range f.Events {
				by := e.By
				if by != seat.By() {
					by = "someone else" // whoever helped is not this student's to take home
				}
				note := e.Note
				if by != seat.By() {
					note = ""
				}
				d.Taps = append(d.Taps, seatDocTap{string(e.Kind), e.Step + 1, e.At.UTC().Format(time.RFC3339), by, note})
			}
		}
		doc.Swatches = append(doc.Swatches, d)
	}
	text, err := asJSONFile(said(l, doc))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	put := func(name string, data []byte) error {
		f, err := z.Create(name)
		if err == nil {
			_, err = f.Write(data)
		}
		return err
	}
	if err := put("card.html", card); err != nil {
		return err
	}
	if err := put("seat.json", text); err != nil {
		return err
	}
	sheet, err := s.printedCard(r, printedIn(w), seat, class)
	if err != nil {
		return err
	}
	var paper bytes.Buffer
	if err := print.StudentCard(print.In(printedIn(w), &paper), sheet); err != nil {
		return err
	}
	if err := put("card.pdf", paper.Bytes()); err != nil {
		return err
	}
	photos, err := s.store.SeatPhotos(ctx, seat.ID)
	if err != nil {
		return err
	}
	for _, x := range photos {
		if names[x.ID] == "" {
			continue // of a swatch that went to another seat
		}
		data, err := s.store.PhotoData(ctx, x.ID)
		if err != nil {
			return err
		}
		if err := put(names[x.ID], data); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="seat-%d-%s.zip"`, seat.Number, doc.Day))
	_, _ = w.Write(buf.Bytes())
	return nil
}
