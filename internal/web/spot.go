package web

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"sync"

	"aerugo/internal/flow/measure"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// spotSide is how wide a picture is shown to pick a spot on, in CSS pixels: it fits a
// phone, and a place in it needs no script. spotShare is the radius of a spot over that.
const (
	spotSide  = 288
	spotShare = 0.04
)

// references are pictures sent to pick a colour from. They are kept in memory only,
// the last few, until the program ends.
type references struct {
	mu  sync.Mutex
	got map[string]sentPicture
	ids []string
}

// sentPicture is one of them, small.
type sentPicture struct {
	face measure.Straight
	jpeg []byte
}

const mostReferences = 4

// spotPage shows a picture to pick a spot on.
type spotPage struct {
	Frame
	*form
	For     string // "find": the colour is looked for among the swatches
	Set     int64
	Face    string
	Photo   studio.Photo
	Ref     string
	Source  string
	Side    int
	Height  int
	Loose   bool
	Choices []studio.Photo
	Problem string
}

// spot is GET /next/spot: it shows a picture, or takes the place picked on it.
func (s *Server) spot(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	p := spotPage{Frame: s.frame(r, "Pick a colour", "plan"), form: f, For: f.Val("for"), Set: f.whole("set", "set", 0), Face: f.Val("face"), Side: spotSide, Height: spotSide}
	var face measure.Straight
	var from string
	switch {
	case f.Val("ref") != "":
		k, ok := s.references.get(f.Val("ref"))
		if !ok {
			return studio.Problemf(studio.NotFound, "ref", "That picture is not kept any more; send it again.")
		}
		face, p.Ref, p.Loose, from = k.face, f.Val("ref"), true, "a spot on a picture"
		p.Source = "/next/reference/" + url.PathEscape(p.Ref)
	case f.Val("photo") != "":
		photo, err := s.store.Photo(ctx, f.whole("photo", "photograph", 0))
		if err != nil {
			return err
		}
		if photo.Measurement == nil || photo.Salted {
			return studio.Problemf(studio.Conflict, "photo", "Photograph %d is not measured, so no colour can be picked on it; mark it first.", photo.ID)
		}
		if face, _, err = s.straight(ctx, photo); err != nil {
			return err
		}
		p.Photo, p.Loose = photo, !photo.Measurement.Calibrated
		from = fmt.Sprintf("a spot on swatch %d, %s", photo.Swatch, photo.Face)
		p.Source = fmt.Sprintf("/photos/%d/face.jpg", photo.ID)
	default:
		return s.chooseSpot(w, r, p)
	}
	box := boxOf(face)
	p.Height = max(1, spotSide*box.h/max(1, box.w))
	x, y, picked := p.place()
	if !picked {
		s.show(w, f.code(), "next_spot", p)
		return nil
	}
	lab, ok := box.at(face, x, y)
	if !ok {
		f.say("", "Nothing can be read there: it is glare, or outside the picture. Pick another spot.")
		s.show(w, f.code(), "next_spot", p)
		return nil
	}
	q := url.Values{"toward": {towardLab}, "from": {from}, "L": {number(lab.L, 1)}, "a": {number(lab.A, 1)}, "b": {number(lab.B, 1)}, "face": {p.Face}}
	if p.Set > 0 {
		q.Set("set", strconv.FormatInt(p.Set, 10))
	}
	if p.Loose {
		q.Set("loose", "1")
	}
	if p.For == "find" {
		http.Redirect(w, r, "/find?"+q.Encode(), http.StatusSeeOther)
		return nil
	}
	http.Redirect(w, r, "/next?"+q.Encode(), http.StatusSeeOther)
	return nil
}

// chooseSpot asks on which photograph of a swatch.
func (s *Server) chooseSpot(w http.ResponseWriter, r *http.Request, p spotPage) error {
	if text := p.Val("of"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			if n, _, err = studio.ReadCode(text); err != nil {
				p.say("of", "%q is no swatch number; a number such as 12 would be right.", text)
			}
		}
		if p.ok() {
			photos, err := s.store.PhotosOf(r.Context(), n)
			if err != nil {
				return err
			}
			for _, x := range photos {
				if x.Measurement != nil && !x.Salted {
					p.Choices = append(p.Choices, x)
				}
			}
			slices.Reverse(p.Choices) // the newest first
			if len(p.Choices) == 0 {
				p.say("of", "Swatch %d has no measured photograph; choose another.", n)
			}
		}
	}
	s.show(w, p.code(), "next_spot", p)
	return nil
}

// place returns where the picture was tapped, or what was typed in per cent, as shares
// of its width and height.
func (p *spotPage) place() (x, y float64, ok bool) {
	at := func(name string, side int) float64 {
		return p.number(name, "place", "", -1) / float64(side)
	}
	if p.values.Has("spot.x") && (p.Val("spot.x") != "0" || p.Val("spot.y") != "0") { // a key press sends 0, 0
		x, y = at("spot.x", p.Side), at("spot.y", p.Height)
	} else if p.values.Has("across") {
		x, y = at("across", 100), at("down", 100)
	} else {
		return 0, 0, false
	}
	if p.ok() && !(x >= 0 && x <= 1 && y >= 0 && y <= 1) {
		p.say("", "That place lies outside the picture; write 0 to 100 %%.")
	}
	return x, y, p.ok()
}

// box is the part of a straightened face that is shown: that inside the band which is
// never read.
type box struct{ x, y, w, h int }

func boxOf(f measure.Straight) box {
	x0, y0, x1, y1 := f.W, f.H, 0, 0
	for y := range f.H {
		for x := range f.W {
			if f.Usable[y*f.W+x] {
				x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			}
		}
	}
	if x0 >= x1 {
		return box{0, 0, f.W, f.H}
	}
	return box{x0, y0, x1 - x0, y1 - y0}
}

// at returns the mean colour of a spot, its place given as shares; false where nothing
// can be read.
func (b box) at(f measure.Straight, x, y float64) (colour.Lab, bool) {
	cx, cy := float64(b.x)+x*float64(b.w), float64(b.y)+y*float64(b.h)
	reach := max(1, spotShare*float64(b.w))
	var sum colour.XYZ
	n := 0.0
	for v := range f.H {
		for u := range f.W {
			dx, dy := float64(u)+0.5-cx, float64(v)+0.5-cy
			if dx*dx+dy*dy <= reach*reach && f.Usable[v*f.W+u] {
				c := f.XYZ[v*f.W+u]
				sum.X, sum.Y, sum.Z, n = sum.X+c.X, sum.Y+c.Y, sum.Z+c.Z, n+1
			}
		}
	}
	if n == 0 {
		return colour.Lab{}, false
	}
	return colour.XYZ{X: sum.X / n, Y: sum.Y / n, Z: sum.Z / n}.Lab(colour.D50), true
}

// addReference is POST /next/reference: a picture to pick a colour from. It belongs to
// no swatch and is not kept on the disk.
func (s *Server) addReference(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
	f, data, err := receive(r)
	if err != nil {
		return err
	}
	k, err := s.readReference(r, data)
	if err := f.blame(err, "photo"); err != nil {
		return err
	}
	if !f.ok() {
		p := spotPage{Frame: s.frame(r, "Pick a colour", "plan"), form: f, Set: f.whole("set", "set", 0), Face: f.Val("face")}
		p.onTop("photo")
		s.show(w, http.StatusUnprocessableEntity, "next_spot", p)
		return nil
	}
	q := url.Values{"ref": {s.references.put(k)}, "set": {f.Val("set")}, "face": {f.Val("face")}, "for": {f.Val("for")}}
	return back(w, r, "/next/spot?"+q.Encode())
}

func (s *Server) readReference(r *http.Request, data []byte) (k sentPicture, err error) {
	if len(data) == 0 {
		return k, studio.Problemf(studio.Invalid, "photo", "Choose a picture to send.")
	}
	leave, err := s.takeSeat(r.Context())
	if err != nil {
		return k, err
	}
	defer leave()
	if _, err := picture.Inspect(data); err != nil {
		return k, renamed(err, "photo")
	}
	img, err := picture.Decode(data)
	if err != nil {
		return k, renamed(err, "photo")
	}
	size := measure.Size{WidthMM: float64(img.Width), HeightMM: float64(img.Height)}
	if k.face, err = measure.Straighten(img, studio.Marks{}, size, 2*spotSide, measure.Under{}); err != nil {
		return k, renamed(err, "photo")
	}
	k.jpeg = picture.Thumbnail(img, 2*max(spotSide, spotSide*img.Height/img.Width))
	return k, nil
}

// sentPicture is GET /next/reference/{id}: the picture itself.
func (s *Server) sentPicture(w http.ResponseWriter, r *http.Request) error {
	k, ok := s.references.get(r.PathValue("id"))
	if !ok {
		return studio.Problemf(studio.NotFound, "", "That picture is not kept any more; send it again.")
	}
	w.Header().Set("Content-Type", "image/jpeg")
	_, _ = w.Write(k.jpeg)
	return nil
}

func (x *references) put(k sentPicture) string {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.got == nil {
		x.got = map[string]sentPicture{}
	}
	for len(x.ids) >= mostReferences {
		delete(x.got, x.ids[0])
		x.ids = x.ids[1:]
	}
	id := strconv.FormatUint(rand.Uint64(), 36)
	x.got[id], x.ids = k, append(x.ids, id)
	return id
}

func (x *references) get(id string) (sentPicture, bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	k, ok := x.got[id]
	return k, ok
}
