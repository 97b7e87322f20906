package web

import (
	"context"
	"fmt"
	"net/http"

	"aerugo/internal/studio"
)

// takeSeat waits until fewer than two photographs are held in memory as pixels,
// which can be some hundred megabytes each, and takes one of the two places, so
// that forty sent at once can't exhaust the machine. leave gives it up.
func (s *Server) takeSeat(ctx context.Context) (leave func(), err error) {
	select {
	case s.seats <- struct{}{}:
		return func() { <-s.seats }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// manyPage sends a whole card of photographs.
type manyPage struct {
	Frame
	Faces, Moments []string
	Most           int64 // bytes of one photograph with its form
	Light          lights
}

func (s *Server) manyPhotos(w http.ResponseWriter, r *http.Request) error {
	light, err := s.newLights(r.Context(), readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "photo_many", manyPage{Light: light, Frame: s.frame(r, "Many photographs at once", "swatches"), Faces: faceWords, Moments: momentWords(), Most: maxPhoto - 10000})
	return nil
}

// manyAnswer says what became of one of many photographs.
type manyAnswer struct {
	Photo    int64       `json:"photo"`
	Swatch   int64       `json:"swatch"`
	Face     studio.Face `json:"face"`
	Measured bool        `json:"measured"`
	Drifted  bool        `json:"drifted"` // from the kept camera and lamp
	Salted   bool        `json:"salted"`
	Go       string      `json:"go"` // the page where one goes on with it

	// of two swatches in one photograph
	Second  *manyAnswer `json:"second,omitempty"`
	Compare string      `json:"compare,omitempty"` // the page with their difference
	Asks    string      `json:"asks,omitempty"`    // the place whose swatch nobody knows yet
	Why     string      `json:"why,omitempty" say:"yes"`
	Offers  []whose     `json:"offers,omitempty"` // who it likely is
}

// answerOf says what became of a photograph, and of the swatch beside its own.
func (s *Server) answerOf(ctx context.Context, p studio.Photo) (manyAnswer, error) {
	a := answerFor(p)
	others, err := s.store.SharedWith(ctx, p)
	if err != nil {
		return a, err
	}
	if len(others) > 0 {
		second := answerFor(others[0])
		a.Second = &second
		if v, _ := oneOf(p, others[0]); v.OK {
			a.Compare = v.Compare
		}
	}
	err = s.asking(ctx, &a, p, asksFor(p, others))
	return a, err
}

// asking puts the question whose swatch lies in a place into an answer.
func (s *Server) asking(ctx context.Context, a *manyAnswer, p studio.Photo, side string) (err error) {
	if a.Asks = side; side != "" {
		a.Offers, err = s.offers(ctx, p)
	}
	return err
}

func answerFor(p studio.Photo) manyAnswer {
	a := manyAnswer{Photo: p.ID, Swatch: p.Swatch, Face: p.Face, Measured: p.Measurement != nil, Go: fmt.Sprintf("/photos/%d", p.ID)}
	if a.Salted = p.Salted; a.Salted {
		a.Go += "/salt"
	} else if !a.Measured {
		a.Go += "/mark"
	} else if c := p.Measurement.Correction; c != nil {
		a.Drifted = len(c.Drift) > 0
	}
	return a
}

// addOneOfMany is POST /photos/many: it keeps one photograph as POST /photos
// does, and always answers in JSON. Without a swatch's number the label in the
// picture says whose it is.
func (s *Server) addOneOfMany(w http.ResponseWriter, r *http.Request) error {
	r.Header.Set("Accept", "application/json") // so that refusals come in it too
	r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
	f, data, err := receive(r)
	if err != nil {
		return err
	}
	if f.Val("face") == "" && f.Val("swatch") == "" {
		f.set("face", string(studio.Front)) // the label says which
	}
	if f.Val("moment") == "" {
		f.set("moment", string(studio.Finished))
	}
	there, err := s.sentBefore(r.Context(), []string{f.Val("client")})
	if err != nil {
		return err
	}
	kept, ok := there[f.Val("client")]
	var got arrived
	if !ok {
		var code int
		if got, code, err = s.takePhoto(r.Context(), f, data); err != nil {
			return err
		}
		if !f.ok() {
			writeJSON(w, code, f.refusal())
			return nil
		}
		kept = got.photos[0]
	}
	if !kept.BinnedAt.IsZero() {
		return studio.Problemf(studio.Conflict, "photo", "This photograph is in the bin, as one of swatch %d. Take it back from there, on the page Studio.", kept.Swatch)
	}
	a, err := s.answerOf(r.Context(), kept)
	if err == nil && got.asks != "" && a.Second == nil {
		a.Why = got.why
		err = s.asking(r.Context(), &a, kept, got.asks)
	}
	if err != nil {
		return err
	}
	writeJSON(w, http.StatusOK, a)
	return nil
}

// manyThere is POST /photos/many/there: which of the files, named by their keys,
// are kept already, so that a batch that broke off is not sent again.
func (s *Server) manyThere(w http.ResponseWriter, r *http.Request) error {
	there, err := s.sentBefore(r.Context(), readForm(r).values["client"])
	if err != nil {
		return err
	}
	out := map[string]manyAnswer{}
	for key, p := range there {
		if out[key], err = s.answerOf(r.Context(), p); err != nil {
			return err
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"there": out})
	return nil
}

// sentBefore returns the photographs, by their key, that came with one of keys
// and are not in the bin.
func (s *Server) sentBefore(ctx context.Context, keys []string) (map[string]studio.Photo, error) {
	asked := map[string]bool{}
	for _, k := range keys {
		asked[k] = k != ""
	}
	swatches, err := s.store.Swatches(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]studio.Photo{}
	for _, x := range swatches {
		photos, err := s.store.PhotosOf(ctx, x.Number)
		if err != nil {
			return nil, err
		}
		for _, p := range photos {
			if asked[p.Client] {
				out[p.Client] = p
			}
		}
	}
	return out, nil
}
