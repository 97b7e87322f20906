package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// maxPhoto is the largest photograph file that can be sent, in bytes.
const maxPhoto = 80 << 20

func (s *Server) photoRoutes(mux *http.ServeMux) {
	s.pairRoutes(mux)
	s.on(mux, "GET /photos/new", s.newPhoto)
	s.on(mux, "POST /photos", s.addPhoto)
	s.on(mux, "GET /photos/many", s.manyPhotos)
	s.on(mux, "POST /photos/many", s.addOneOfMany)
	s.on(mux, "POST /photos/many/there", s.manyThere)
	s.on(mux, "GET /photos/{id}", s.photo)
	s.on(mux, "GET /photos/{id}/mark", s.markPhoto)
	s.on(mux, "POST /photos/{id}/measure", s.measurePhoto)
	s.on(mux, "POST /photos/{id}/file", s.refilePhoto)
	s.on(mux, "GET /photos/{id}/original", s.originalPhoto)
	s.on(mux, "GET /photos/{id}/{made}", s.madePicture)
}

// photoNewPage asks for a photograph and where it belongs.
type photoNewPage struct {
	Frame
	*form
	Problem                           string
	Swatch, Face, Moment, Taken, Note string
	Swatch2, Face2                    string // of a second swatch in the picture
	Lid                               bool
	Faces                             []string
	Moments                           []string
	Light                             lights
}

var faceWords = []string{string(studio.Front), string(studio.Back)}

func momentWords() []string {
	var out []string
	for _, m := range studio.Moments {
		out = append(out, string(m))
	}
	return out
}

func (s *Server) newPhoto(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	p := photoNewPage{Frame: s.frame(r, "Photograph a face", "swatches"), form: f, Faces: faceWords, Moments: momentWords(),
		Swatch: f.Val("swatch"), Face: f.Val("face"), Swatch2: f.Val("swatch2"), Face2: f.Val("face2"), Moment: f.Val("moment")}
	if p.Face == "" {
		p.Face = string(studio.Front)
	}
	if p.Moment == "" {
		p.Moment = string(studio.Finished)
	}
	var err error
	if p.Light, err = s.newLights(r.Context(), f); err != nil {
		return err
	}
	s.show(w, http.StatusOK, "photo_new", p)
	return nil
}

// addPhoto is POST /photos. The file goes to the store whole or not at all; the
// same form sent twice keeps one photograph.
func (s *Server) addPhoto(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
	f, data, err := receive(r)
	if err != nil {
		return err
	}
	got, code, err := s.takePhoto(r.Context(), f, data)
	if err != nil {
		return err
	}
	if !f.ok() {
		if wantsJSON(r) {
			writeJSON(w, code, f.refusal())
			return nil
		}
		light, err := s.newLights(r.Context(), f)
		if err != nil {
			return err
		}
		s.show(w, code, "photo_new", photoNewPage{Light: light, Lid: f.Val("lid") != "", Frame: s.frame(r, "Photograph a face", "swatches"), form: f, Problem: f.Wrong(""), Faces: faceWords, Moments: momentWords(),
			Swatch: f.Val("swatch"), Face: f.Val("face"), Swatch2: f.Val("swatch2"), Face2: f.Val("face2"), Moment: f.Val("moment"), Taken: f.Val("taken"), Note: f.Val("note")})
		return nil
	}
	kept := got.photos[0]
	if len(got.photos) > 1 || got.asks != "" {
		return backSaying(w, r, got.page(), got.said())
	}
	if kept.Measurement != nil {
		return backSaying(w, r, fmt.Sprintf("/photos/%d", kept.ID), fmt.Sprintf("Filed to swatch %d, %s, and measured by the mat it lies on. Its corners can be corrected by hand.", kept.Swatch, kept.Face))
	}
	if kept.Salted {
		return back(w, r, fmt.Sprintf("/photos/%d/salt", kept.ID))
	}
	to := fmt.Sprintf("/photos/%d/mark", kept.ID)
	current, err := s.current(r.Context())
	if err != nil {
		return err
	}
	if setup, chosen := f.light(); f.values.Has("setup") && setup != current || chosen != "" {
		to += fmt.Sprintf("?setup=%d&target=%s", setup, chosen)
	}
	return back(w, r, to)
}

// takePhoto keeps the photograph that came with a form. What the person can put
// right is said in the form, and code is the status of that answer.
func (s *Server) takePhoto(ctx context.Context, f *form, data []byte) (got arrived, code int, err error) {
	photo := studio.Photo{Client: f.Val("client"), Note: f.Val("note"), Added: s.now().UTC(), ThroughLid: f.Val("lid") != ""}
	typed := [2]whose{{f.whole("swatch", "swatch's number", 0), studio.Face(f.Val("face"))}, {f.whole("swatch2", "other swatch's number", 0), studio.Face(f.Val("face2"))}}
	photo.Moment, photo.Salted = momentIn(f.Val("moment"))
	if typed[0].known() { // else its label may be in the picture: keepPhoto looks
		there, err := s.thereIs(ctx, typed[0].Swatch)
		if err != nil {
			return got, 0, err
		}
		if !there {
			f.say("swatch", "There is no swatch %d in this studio. Look at its label again.", typed[0].Swatch)
		}
	}
	if typed[1].known() {
		if typed[1].Face == "" {
			typed[1].Face = studio.Front
		}
		if err := s.checkSecond(ctx, f, "swatch2", typed[0].Swatch, typed[1]); err != nil {
			return got, 0, err
		}
	}
	if !slices.Contains(faceWords, string(typed[0].Face)) || typed[1].known() && !slices.Contains(faceWords, string(typed[1].Face)) || !slices.Contains(momentWords(), string(photo.Moment)) {
		f.say("", "Say which face it is and what it shows.")
	}
	if photo.Client == "" {
		photo.Client = random(12)
	}
	if len(data) == 0 {
		f.say("photo", "Choose a photograph first. An empty file can't be kept.")
	}
	if !f.ok() {
		return got, http.StatusUnprocessableEntity, nil
	}
	setup, chosen := f.light()
	if !f.ok() {
		return got, http.StatusUnprocessableEntity, nil
	}
	got, err = s.keepPhoto(ctx, photo, typed, data, f.Val("taken"), studio.Marks{Setup: setup, Target: chosen})
	if err != nil {
		problem := studio.ProblemIn(err)
		if problem == nil {
			return got, 0, err
		}
		field := problem.Field
		if field != "taken" && field != "swatch" {
			field = "photo"
		}
		f.say(field, "%s", problem.Text)
		return got, status(problem.Kind), nil
	}
	s.live.changed()
	return got, http.StatusOK, nil
}

// receive reads a multipart form: fields into the form, the file into memory.
func receive(r *http.Request) (*form, []byte, error) {
	f := &form{values: map[string][]string{}, wrong: map[string]string{}}
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, nil, studio.Problemf(studio.Invalid, "photo", "The photograph did not arrive as a form: %v. Send it again from the page.", err)
	}
	var data []byte
	for n := 0; n < 40; n++ {
		part, err := parts.NextPart()
		if err != nil {
			if err.Error() == "EOF" {
				return f, data, nil
			}
			return nil, nil, brokenUpload(err)
		}
		if part.FormName() == "photo" {
			if data, err = readAll(part, maxPhoto); err != nil {
				return nil, nil, brokenUpload(err)
			}
			continue
		}
		b, err := readAll(part, 10000)
		if err != nil {
			return nil, nil, brokenUpload(err)
		}
		f.values.Add(part.FormName(), string(b))
	}
	return nil, nil, studio.Problemf(studio.Invalid, "", "The form has too many parts.")
}

// brokenUpload says that a photograph did not arrive; too large a one keeps its
// own error.
func brokenUpload(err error) error {
	if strings.Contains(err.Error(), "too large") {
		return studio.Problemf(studio.Invalid, "photo", "The file is larger than %d MB. Send an ordinary JPEG from the camera.", maxPhoto>>20)
	}
	return studio.Problemf(studio.Invalid, "photo", "The photograph did not arrive whole, so nothing was kept. Send it again.")
}

// keepPhoto inspects a photograph, takes its place out and stores it, once for
// each swatch in it whose face is known: as typed, else by its label. taken is
// what the person typed, empty for the photograph's own time; said is the setup
// and the colour target that they named.
func (s *Server) keepPhoto(ctx context.Context, p studio.Photo, typed [2]whose, data []byte, taken string, said studio.Marks) (got arrived, err error) {
	info, err := picture.Inspect(data)
	if err != nil {
		return got, err
	}
	clean, removed, err := picture.WithoutGPS(data)
	if err != nil {
		return got, err
	}
	// decoding now finds a damaged file before it is kept, and makes the pictures
	// the pages show
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return got, err
	}
	defer leave()
	img, err := picture.Decode(clean)
	if err != nil {
		return got, err
	}
	look, lookErr := scene.Look(img, scene.Want{Mat: true})
	where, err := s.file(ctx, img, look, typed)
	if err != nil {
		return got, err
	}
	got.asks, got.why = where.asks, where.why
	p.Format, p.Bytes, p.Width, p.Height, p.Profile, p.Camera, p.GPSRemoved = info.Format, int64(len(clean)), info.Width, info.Height, info.Profile, info.Camera, removed
	p.Taken, p.TakenFrom = p.Added, "arrival"
	if t := info.TakenIn(time.Local); !t.IsZero() {
		p.Taken, p.TakenFrom = t.UTC(), "photo"
		if t.After(s.now().Add(2 * time.Minute)) {
			return got, studio.Problemf(studio.Invalid, "taken", "The photograph says it was taken on %s, which is in the future. Set the camera's clock, or write when it was taken.", localTime(t))
		}
	}
	if taken != "" {
		t, err := localInput(taken)
		if err != nil {
			return got, studio.Problemf(studio.Invalid, "taken", "%q is not a time; choose a day and a time.", taken)
		}
		if t.After(s.now().Add(2 * time.Minute)) {
			return got, studio.Problemf(studio.Invalid, "taken", "%s is in the future; write when the photograph was taken.", localTime(t))
		}
		p.Taken, p.TakenFrom = t.UTC(), "entered"
	}
	var entries []studio.Photo
	var places []int
	for i, w := range where.faces {
		if !w.known() {
			continue
		}
		e := p
		e.Swatch, e.Face = w.Swatch, w.Face
		if len(entries) > 0 {
			e.Client = secondKey(p.Client)
		}
		entries, places = append(entries, e), append(places, i)
	}
	if got.photos, _, err = s.store.AddPhotos(ctx, entries, clean); err != nil {
		return got, err
	}
	preview := picture.Preview(img)
	for _, kept := range got.photos {
		if err := s.store.SavePreview(ctx, kept.ID, "preview", preview); err != nil {
			s.log.Warn("preview not kept", "photo", kept.ID, "err", err)
		}
	}
	if lookErr == nil {
		s.readOnMat(ctx, got.photos, places, img, look, said)
	} else if p.Salted {
		s.countOnMat(ctx, got.photos[0], img, look, places[0])
	}
	return got, nil
}

// readOnMat reads the faces of a photograph whose mat was found, each in its
// place, without anyone marking them. A target or setup that was named and can't
// be used is left out for all, and the readings say so. What else does not work
// out is left to be marked by hand.
func (s *Server) readOnMat(ctx context.Context, photos []studio.Photo, places []int, img *picture.Image, look scene.Scene, said studio.Marks) {
	light := studio.Marks{OnMat: true, Setup: said.Setup}
	two := seenIn(look, 0) && seenIn(look, 1)
	var left []string
	if said.Target != "" && !photos[0].Salted {
		light.Target = said.Target
		again, err := s.sceneOf(ctx, img, light)
		switch problem := studio.ProblemIn(err); {
		case problem != nil:
			light.Target = ""
			left = append(left, "It was measured without the colour target. "+problem.Text)
		case err != nil:
			return
		default:
			look = again
		}
	}
	for k := range photos {
		p := &photos[k]
		if p.Salted {
			s.countOnMat(ctx, *p, img, look, places[k])
			continue
		}
		marks, _, ok := look.Face(places[k])
		if !ok || p.Measurement != nil {
			continue
		}
		marks.OnMat, marks.Setup, marks.Target = light.OnMat, light.Setup, light.Target
		if two {
			marks.Place = sides[places[k]]
		}
		s.measureOnMat(ctx, p, img, marks, look, left)
	}
}

// measureOnMat reads one face on the mat by its marks. left says what was left out.
func (s *Server) measureOnMat(ctx context.Context, p *studio.Photo, img *picture.Image, marks studio.Marks, look scene.Scene, left []string) {
	bares, err := s.bares(ctx, *p)
	if err != nil {
		return
	}
	if len(bares) > 0 && (marks.Grey != nil || marks.Setup != 0 || marks.Target != "") {
		takeBare(&marks, bares[0])
	}
	m, err := s.read(ctx, *p, img, marks, look)
	if problem := studio.ProblemIn(err); problem != nil && marks.Setup != 0 {
		marks.Setup = 0
		left = append(slices.Clone(left), "It was measured without the kept camera and lamp. "+problem.Text)
		m, err = s.read(ctx, *p, img, marks, look)
	}
	if err != nil {
		return
	}
	m.Warnings = append(slices.Clone(left), m.Warnings...)
	if m, err = s.store.AddMeasurement(ctx, m); err == nil {
		p.Measurement = &m
		if err := s.fixReference(ctx, m); err != nil {
			s.log.Warn("reference not kept with the set", "photo", p.ID, "err", err)
		}
	}
}

// localInput reads what a datetime-local field sends.
func localInput(text string) (time.Time, error) {
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(layout, text, time.Local); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a local time", text)
}

// photoPage shows one photograph and what was read from it.
type photoPage struct {
	Frame
	Photo     studio.Photo
	TakenFrom string
	Megabytes string
	Older     []studio.Measurement
	Beside    []oneView // the other faces in the same photograph
	Asks      string    // the place of the other swatch, where nobody has said whose it is
	Offers    []whose   // who it likely is
	Faces     []studio.Face
	Moments   []studio.Moment
	*form
	CanKeep         bool
	SetupName, Lamp string
}

func (s *Server) photoIn(r *http.Request) (studio.Photo, error) {
	id, err := idIn(r, "id")
	if err != nil {
		return studio.Photo{}, err
	}
	return s.store.Photo(r.Context(), id)
}

func (s *Server) photo(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	p, err := s.fillPhoto(r, photo, readForm(r))
	if err != nil {
		return err
	}
	s.show(w, http.StatusOK, "photo", p)
	return nil
}

func (s *Server) fillPhoto(r *http.Request, photo studio.Photo, f *form) (photoPage, error) {
	p := photoPage{Frame: s.frame(r, fmt.Sprintf("Swatch %d, %s", photo.Swatch, photo.Face), "swatches"), Photo: photo, form: f,
		Megabytes: number(float64(photo.Bytes)/1e6, 2), Faces: studio.BothFaces, Moments: studio.Moments,
		CanKeep: canKeep(photo), SetupName: f.Val("setupname"), Lamp: f.Val("lamp")}
	if p.SetupName == "" && f.ok() {
		p.SetupName = strings.TrimSpace(photo.Camera + ", " + localDay(photo.Taken))
		p.SetupName = strings.TrimPrefix(p.SetupName, ", ")
	}
	p.TakenFrom = map[string]string{"photo": "by the photograph's own clock", "entered": "as entered", "arrival": "the time it arrived here, as the file names none"}[photo.TakenFrom]
	all, err := s.store.Measurements(r.Context(), photo.ID)
	if err != nil {
		return p, err
	}
	for _, m := range all {
		if photo.Measurement == nil || m.ID != photo.Measurement.ID {
			p.Older = append(p.Older, m)
		}
	}
	slices.Reverse(p.Older)
	return p, s.fillBeside(r.Context(), &p)
}

// markPage is where the face, the grey card and bare metal are shown.
type markPage struct {
	Frame
	Photo            studio.Photo
	Problem          string
	Before           bool
	UseGrey, UseBare bool
	OnMat            bool
	Light            lights
	GreyL            string
	BareFrom         string
	Bares            []bareChoice
	Fields           []markField
}

type markField struct {
	Name, Label string
	X, Y        int
}

// bareChoice is bare metal measured in another photograph.
type bareChoice struct {
	Key   string
	Label string
	lab   colour.Lab
	// of a kept reference: its number, and the spread that holds 95 % of it
	reference int64
	spread    float64
}

var markNames = []struct{ name, label string }{
	{"tl", "Top left corner"}, {"tr", "Top right corner"}, {"br", "Bottom right corner"}, {"bl", "Bottom left corner"},
	{"grey1", "Grey card, top left"}, {"grey2", "Grey card, bottom right"},
	{"bare1", "Bare metal, top left"}, {"bare2", "Bare metal, bottom right"},
}

// bares lists bare metal that coverage of this photograph can be judged
// against: calibrated readings of the set's blanks and of this face before.
func (s *Server) bares(ctx context.Context, photo studio.Photo) ([]bareChoice, error) {
	var out []bareChoice
	earlier, err := s.store.PhotosOf(ctx, photo.Swatch)
	if err != nil {
		return nil, err
	}
	for _, p := range earlier {
		if p.ID != photo.ID && p.Face == photo.Face && p.Moment == studio.Bare && p.Measurement != nil && p.Measurement.Calibrated {
			out = append(out, bareChoice{Key: fmt.Sprintf("photo-%d", p.ID), Label: "this face before it was treated, " + localTime(p.Taken), lab: p.Measurement.Lab})
		}
	}
	swatch, err := s.store.Swatch(ctx, photo.Swatch)
	if err != nil {
		return nil, err
	}
	kept, last, err := s.keptBares(ctx, swatch)
	if err != nil {
		return nil, err
	}
	if !last {
		out = slices.Concat(kept, out)
	}
	mates, err := s.store.SwatchesOf(ctx, swatch.SetID)
	if err != nil {
		return nil, err
	}
	for _, m := range mates {
		if !m.Blank || m.Number == photo.Swatch || m.MetalID != swatch.MetalID {
			continue
		}
		photos, err := s.store.PhotosOf(ctx, m.Number)
		if err != nil {
			return nil, err
		}
		for _, p := range photos {
			if p.Measurement != nil && p.Measurement.Calibrated {
				out = append(out, bareChoice{Key: fmt.Sprintf("photo-%d", p.ID), Label: fmt.Sprintf("the set's blank, swatch %d %s, %s", p.Swatch, p.Face, localTime(p.Taken)), lab: p.Measurement.Lab})
			}
		}
	}
	if last {
		out = append(out, kept...)
	}
	return out, nil
}

// lastMarks returns marks made earlier on a picture of the same size, by which
// a camera on a fixed stand needs no marking again: this photograph's own, else
// the newest of the same swatch's set.
func (s *Server) lastMarks(ctx context.Context, photo studio.Photo) (studio.Marks, bool, error) {
	if photo.Measurement != nil {
		return photo.Measurement.Marks, true, nil
	}
	looks, err := s.store.Looks(ctx)
	if err != nil {
		return studio.Marks{}, false, err
	}
	var best *studio.Measurement
	for _, l := range looks {
		m := l.Measurement
		if m == nil || m.Marks.Corners == nil || (best != nil && m.Made.Before(best.Made)) {
			continue
		}
		p, err := s.store.Photo(ctx, l.Photo)
		if err != nil {
			return studio.Marks{}, false, err
		}
		if p.Width == photo.Width && p.Height == photo.Height && p.Camera == photo.Camera {
			best = m
		}
	}
	if best == nil {
		return studio.Marks{}, false, nil
	}
	return best.Marks, true, nil
}

func (s *Server) markPhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	p := markPage{Frame: s.frame(r, fmt.Sprintf("Mark swatch %d, %s", photo.Swatch, photo.Face), "swatches"), Photo: photo, GreyL: number(measure.GreyCardL, 1)}
	if p.Bares, err = s.bares(r.Context(), photo); err != nil {
		return err
	}
	marks, found, err := s.lastMarks(r.Context(), photo)
	if err != nil {
		return err
	}
	p.Before = found && photo.Measurement == nil
	f := readForm(r)
	setup, chosen := f.light()
	if photo.Measurement != nil {
		setup, chosen = marks.Setup, marks.Target
	} else if _, said := f.values["setup"]; !said {
		if setup, err = s.current(r.Context()); err != nil {
			return err
		}
	}
	if p.Light, err = s.lights(r.Context(), setup, chosen); err != nil {
		return err
	}
	p.fill(marks, found)
	if len(p.Bares) > 0 && !p.UseBare {
		p.BareFrom = p.Bares[0].Key
	}
	s.show(w, http.StatusOK, "photo_mark", p)
	return nil
}

// fill puts marks into the fields; without any, places to drag from.
func (p *markPage) fill(m studio.Marks, found bool) {
	w, h := float64(p.Photo.Width), float64(p.Photo.Height)
	at := map[string][2]float64{
		"tl": {w * .2, h * .2}, "tr": {w * .8, h * .2}, "br": {w * .8, h * .8}, "bl": {w * .2, h * .8},
		"grey1": {w * .04, h * .4}, "grey2": {w * .12, h * .55}, "bare1": {w * .45, h * .25}, "bare2": {w * .55, h * .32},
	}
	if found {
		if m.Corners != nil {
			for i, name := range []string{"tl", "tr", "br", "bl"} {
				at[name] = [2]float64{m.Corners[i].X, m.Corners[i].Y}
			}
		}
		if m.Grey != nil {
			p.UseGrey = true
			at["grey1"], at["grey2"] = [2]float64{m.Grey.X, m.Grey.Y}, [2]float64{m.Grey.X + m.Grey.W, m.Grey.Y + m.Grey.H}
		}
		if m.Bare != nil {
			p.UseBare = true
			at["bare1"], at["bare2"] = [2]float64{m.Bare.X, m.Bare.Y}, [2]float64{m.Bare.X + m.Bare.W, m.Bare.Y + m.Bare.H}
		}
		p.OnMat = m.OnMat && (p.Photo.Measurement != nil || p.Problem != "")
		if m.GreyL > 0 {
			p.GreyL = number(m.GreyL, 1)
		}
	}
	for _, n := range markNames {
		p.Fields = append(p.Fields, markField{n.name, n.label, int(math.Round(at[n.name][0])), int(math.Round(at[n.name][1]))})
	}
}

// measurePhoto is POST /photos/{id}/measure.
func (s *Server) measurePhoto(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	if photo.Salted {
		return studio.Problemf(studio.Conflict, "", "This photograph shows salt on the face, whose colour would mislead: count its grains instead, or say that it shows something else.")
	}
	f := readForm(r)
	bares, err := s.bares(ctx, photo)
	if err != nil {
		return err
	}
	marks := f.marks(bares)
	if photo.Measurement != nil {
		marks.Place = photo.Measurement.Marks.Place
	}
	if f.ok() {
		m, err := s.measure(ctx, photo, marks)
		if err == nil {
			m, err = s.store.AddMeasurement(ctx, m)
		}
		if err == nil {
			err = s.fixReference(ctx, m)
		}
		if err := f.blame(err); err != nil {
			return err
		}
	}
	if !f.ok() {
		p := markPage{Frame: s.frame(r, fmt.Sprintf("Mark swatch %d, %s", photo.Swatch, photo.Face), "swatches"), Photo: photo, Bares: bares, BareFrom: f.Val("barefrom"), GreyL: f.Val("greyl")}
		for _, text := range f.wrong {
			p.Problem = text
		}
		if p.Light, err = s.lights(ctx, marks.Setup, marks.Target); err != nil {
			return err
		}
		p.fill(marks, true)
		p.UseGrey, p.UseBare = f.Val("usegrey") != "", f.Val("usebare") != ""
		s.show(w, http.StatusUnprocessableEntity, "photo_mark", p)
		return nil
	}
	s.live.changed()
	return back(w, r, fmt.Sprintf("/photos/%d", photo.ID))
}

// marks reads the marks of the form.
func (f *form) marks(bares []bareChoice) studio.Marks {
	pt := func(name string) studio.Point {
		return studio.Point{X: f.number(name+"x", "place across", "pixels", 0), Y: f.number(name+"y", "place down", "pixels", 0)}
	}
	m := studio.Marks{Corners: &[4]studio.Point{pt("tl"), pt("tr"), pt("br"), pt("bl")}}
	rect := func(name string) *studio.Rect {
		a, b := pt(name+"1"), pt(name+"2")
		return &studio.Rect{X: min(a.X, b.X), Y: min(a.Y, b.Y), W: math.Abs(b.X - a.X), H: math.Abs(b.Y - a.Y)}
	}
	if f.Val("usegrey") != "" {
		m.Grey = rect("grey")
		m.GreyL = f.number("greyl", "grey card's L*", "", measure.GreyCardL)
	}
	if f.Val("usebare") != "" {
		m.Bare = rect("bare")
	}
	m.OnMat = f.Val("onmat") != ""
	m.Setup, m.Target = f.light()
	if key := f.Val("barefrom"); key != "" && m.Bare == nil {
		for _, b := range bares {
			if b.Key == key {
				takeBare(&m, b)
			}
		}
	}
	return m
}

// measure reads a stored photograph with marks.
func (s *Server) measure(ctx context.Context, photo studio.Photo, marks studio.Marks) (studio.Measurement, error) {
	if marks.Grey == nil && marks.Target == "" && marks.Setup == 0 {
		// bare metal of another photograph means nothing without a grey in both
		marks.BareLab, marks.BareOf, marks.Reference, marks.BareSpread = nil, "", 0, 0
	}
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return studio.Measurement{}, err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, photo.ID)
	if err != nil {
		return studio.Measurement{}, err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return studio.Measurement{}, err
	}
	look, err := s.sceneOf(ctx, img, marks)
	if err != nil {
		return studio.Measurement{}, err
	}
	return s.read(ctx, photo, img, marks, look)
}

// read measures a decoded photograph under what is known of its light.
func (s *Server) read(ctx context.Context, photo studio.Photo, img *picture.Image, marks studio.Marks, look scene.Scene) (studio.Measurement, error) {
	round, err := s.surround(ctx, photo, img, marks, look)
	if err != nil {
		return studio.Measurement{}, err
	}
	var note string
	if marks.Trained, note, err = s.rule(ctx, photo, img, marks, round); err != nil {
		return studio.Measurement{}, err
	}
	if note != "" {
		round.notes = append(slices.Clone(round.notes), note)
	}
	m, err := measure.MeasureUnder(img, marks, round.size, round.under)
	if err != nil {
		return m, err
	}
	m.ScaleOf = round.scaleOf
	m.Warnings = append(m.Warnings, round.notes...)
	m.Photo, m.Made = photo.ID, s.now().UTC()
	m.Warnings = append(slices.Clone(img.Info.Warnings), m.Warnings...)
	return m, nil
}

func (s *Server) refilePhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	photo.Swatch, photo.Face = f.whole("swatch", "swatch's number", photo.Swatch), studio.Face(f.Val("face"))
	photo.Moment, photo.Salted = momentIn(f.Val("moment"))
	photo.ThroughLid = f.Val("lid") != ""
	if !f.ok() || !slices.Contains(faceWords, string(photo.Face)) || !slices.Contains(momentWords(), string(photo.Moment)) {
		return studio.Problemf(studio.Invalid, "swatch", "Write the swatch's number with digits, and say which face it is and what it shows.")
	}
	if _, err := s.store.Swatch(r.Context(), photo.Swatch); err != nil {
		return err
	}
	if err := s.store.UpdatePhoto(r.Context(), photo); err != nil {
		return err
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/photos/%d", photo.ID), "It is filed there.")
}

func (s *Server) originalPhoto(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	data, err := s.store.PhotoData(r.Context(), photo.ID)
	if err != nil {
		return err
	}
	kind := map[string]string{"JPEG": "image/jpeg", "PNG": "image/png", "WebP": "image/webp", "HEIC": "image/heic"}[photo.Format]
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="swatch-%d-%s-%d.%s"`, photo.Swatch, photo.Face, photo.ID, strings.ToLower(photo.Format)))
	_, _ = w.Write(data)
	return nil
}

// madePicture serves pictures made from a photograph: the preview for marking,
// the straightened face with its colours as measured, and a small one for the wall.
func (s *Server) madePicture(w http.ResponseWriter, r *http.Request) error {
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	kind, ok := strings.CutSuffix(r.PathValue("made"), ".jpg")
	if !ok || !slices.Contains([]string{"preview", "face", "thumb"}, kind) {
		return studio.Problemf(studio.NotFound, "", "There is no such picture.")
	}
	b, err := s.made(r.Context(), photo, kind)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, no-cache")
	tag := `"` + photo.SHA256[:16] + "-" + madeKey(photo, kind) + `"`
	w.Header().Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	_, _ = w.Write(b)
	return nil
}

// madeKey names a made picture; a new measurement makes a new one.
func madeKey(photo studio.Photo, kind string) string {
	if kind == "preview" || photo.Measurement == nil {
		return kind
	}
	return kind + "-" + strconv.FormatInt(photo.Measurement.ID, 10)
}

// made returns a picture made from the photograph, from the folder's stock if
// it is there.
func (s *Server) made(ctx context.Context, photo studio.Photo, kind string) ([]byte, error) {
	key := madeKey(photo, kind)
	if b, err := s.store.Preview(ctx, photo.ID, key); err == nil {
		return b, nil
	}
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, photo.ID)
	if err != nil {
		return nil, err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return nil, err
	}
	side := map[string]int{"preview": picture.PreviewSide, "face": 720, "thumb": 240}[kind]
	var b []byte
	if kind != "preview" && photo.Measurement != nil && photo.Measurement.Marks.Corners != nil {
		look, err := s.sceneOf(ctx, img, photo.Measurement.Marks)
		if err != nil {
			return nil, err
		}
		round, err := s.surround(ctx, photo, img, photo.Measurement.Marks, look)
		if err != nil {
			return nil, err
		}
		b, err = measure.Portrait(img, photo.Measurement.Marks, round.size, side, round.under)
		if err != nil {
			return nil, err
		}
	} else {
		b = picture.Thumbnail(img, side)
	}
	if err := s.store.SavePreview(ctx, photo.ID, key, b); err != nil {
		s.log.Warn("made picture not kept", "photo", photo.ID, "err", err)
	}
	return b, nil
}
