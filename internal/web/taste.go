package web

import (
	"context"
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"aerugo/internal/flow/taste"
	"aerugo/internal/language"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

func (s *Server) tasteRoutes(mux *http.ServeMux) {
	s.on(mux, "GET /taste", s.sittings)
	s.on(mux, "POST /taste", s.newSitting)
	s.on(mux, "GET /taste/{id}", s.chooseBetween)
	s.on(mux, "GET /taste/{id}/ahead", s.pairsAhead)
	s.on(mux, "POST /taste/{id}/choices", s.choose)
	s.on(mux, "POST /taste/{id}/undo", s.unchoose)
	s.on(mux, "POST /taste/{id}/close", s.closeSitting)
	s.on(mux, "GET /taste/{id}/order", s.order)
	s.on(mux, "POST /swatches/{id}/score", s.score)
}

const usualQuestion = "Which of these two would you put on the lamp?"

// sittingsPage lists sittings, and starts one.
type sittingsPage struct {
	Frame
	*form
	Sittings []sittingView
	Sets     []studio.Set
	Usual    string
}

type sittingView struct {
	studio.Sitting
	About   string
	SetName string
	Choices int
	People  []string
	Lead    string
}

// Open reports whether people can still choose.
func (v sittingView) Open() bool { return v.Closed.IsZero() }

func (s *Server) sittings(w http.ResponseWriter, r *http.Request) error {
	f := readForm(r)
	if f.Val("question") == "" {
		f.set("question", usualQuestion)
		f.set("blind", "yes")
	}
	return s.showSittings(w, r, http.StatusOK, f)
}

func (s *Server) showSittings(w http.ResponseWriter, r *http.Request, code int, f *form) error {
	ctx := r.Context()
	p := sittingsPage{Frame: s.frame(r, "Which is liked better", "findings"), form: f, Usual: usualQuestion}
	all, err := s.store.Sittings(ctx)
	if err != nil {
		return err
	}
	if p.Sets, err = s.store.Sets(ctx); err != nil {
		return err
	}
	slices.Reverse(p.Sets)
	for _, x := range all {
		v, err := s.viewSitting(ctx, x, p.Sets)
		if err != nil {
			return err
		}
		p.Sittings = append(p.Sittings, v)
	}
	f.onTop("question", "set", "faces")
	s.show(w, code, "taste", p)
	return nil
}

// viewSitting says in a line how a sitting stands.
func (s *Server) viewSitting(ctx context.Context, x studio.Sitting, sets []studio.Set) (sittingView, error) {
	v := sittingView{Sitting: x, About: fmt.Sprintf("%d faces picked by hand", len(x.Faces))}
	if i := slices.IndexFunc(sets, func(a studio.Set) bool { return a.ID == x.Set }); i >= 0 {
		v.SetName = sets[i].Name
		v.About = fmt.Sprintf("%d faces of “%s”", len(x.Faces), sets[i].Name)
	}
	all, err := s.store.Choices(ctx, x.ID)
	if err != nil {
		return v, err
	}
	standing := studio.StandingChoices(all)
	if fit, err := taste.FitChoices(x.Faces, standing); err == nil {
		o := taste.OrderOf(fit, standing)
		v.Choices, v.People, v.Lead = o.Choices, o.People, o.Lead(taste.NamerOf(x.Faces))
	}
	return v, nil
}

// newSitting is POST /taste: it starts a sitting about a set or about numbers.
func (s *Server) newSitting(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	f := readForm(r)
	x := studio.Sitting{Question: f.Val("question"), Blind: f.Val("blind") != "", Measured: f.Val("show") == "colours", Seed: rand.Uint64(), By: s.who(r), From: studio.FromPicked}
	var err error
	if text := f.Val("numbers"); text != "" {
		x.Faces, err = facesIn(f.typed(text, language.FaceWords))
	} else if x.Set = f.whole("set", "set", 0); x.Set != 0 {
		x.Faces, x.From, err = s.facesOfSet(ctx, x.Set, f.Val("side"), x.Measured)
	} else {
		f.say("set", "Choose a set, or write the numbers of the swatches.")
	}
	if err := f.blame(err, "numbers", "set"); err != nil {
		return err
	}
	if f.ok() && x.From == studio.FromPicked {
		if err := f.blame(s.canBeShown(ctx, x), "numbers"); err != nil {
			return err
		}
	}
	if f.ok() {
		if x, err = s.store.AddSitting(ctx, x); err == nil {
			s.live.changed()
			return back(w, r, fmt.Sprintf("/taste/%d", x.ID))
		}
		p := studio.ProblemIn(err)
		if p != nil && p.Field == "faces" {
			p.Field = map[bool]string{true: "numbers", false: "set"}[x.From == studio.FromPicked]
		}
		if err := f.blame(err, "question", "numbers", "set"); err != nil {
			return err
		}
	}
	return s.showSittings(w, r, http.StatusUnprocessableEntity, f)
}

// facesIn reads faces written as "3, 5 back, 7": the front where nothing is said.
func facesIn(text string) ([]studio.FaceOf, error) {
	bad := func(part string) error {
		return studio.Problemf(studio.Invalid, "numbers", "%q is no face of a swatch; write numbers with commas between, like 3, 5, 7 back.", part)
	}
	var out []studio.FaceOf
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		words := strings.Fields(strings.ToLower(part))
		if len(words) == 0 {
			continue
		}
		face := studio.Front
		switch {
		case len(words) == 2 && (words[1] == "back" || words[1] == "front"):
			face = studio.Face(words[1])
		case len(words) != 1:
			return nil, bad(part)
		}
		n, err := strconv.ParseInt(words[0], 10, 64)
		if err != nil || n < 1 {
			return nil, bad(part)
		}
		out = append(out, studio.FaceOf{Swatch: n, Face: face})
	}
	return out, nil
}

// facesOfSet returns the faces of a set that can be shown, without its blanks.
func (s *Server) facesOfSet(ctx context.Context, id int64, side string, measured bool) ([]studio.FaceOf, studio.SittingFrom, error) {
	set, err := s.store.Set(ctx, id)
	if err != nil {
		return nil, "", err
	}
	from := studio.FromSet
	if set.Class != "" {
		from = studio.FromClass
	}
	swatches, err := s.store.SwatchesOf(ctx, id)
	if err != nil {
		return nil, from, err
	}
	shows, err := s.showing(ctx, measured)
	if err != nil {
		return nil, from, err
	}
	var out []studio.FaceOf
	for _, x := range swatches {
		for _, face := range studio.BothFaces {
			f := studio.FaceOf{Swatch: x.Number, Face: face}
			if !x.Blank && (side == "both" || side == string(face) || side == "" && face == studio.Front) && shows.can(f) {
				out = append(out, f)
			}
		}
	}
	if len(out) < studio.FewestToChoose {
		what := "photographed"
		if measured {
			what = "measured"
		}
		return nil, from, studio.Problemf(studio.Invalid, "set", "Only %d such faces of “%s” are %s; three at least can be put in order.", len(out), set.Name, what)
	}
	return out, from, nil
}

// canBeShown reports a Problem for a face without a picture.
func (s *Server) canBeShown(ctx context.Context, x studio.Sitting) error {
	shows, err := s.showing(ctx, x.Measured)
	if err != nil {
		return err
	}
	for _, f := range x.Faces {
		if _, err := s.store.Swatch(ctx, f.Swatch); err != nil {
			if p := studio.ProblemIn(err); p != nil {
				return studio.Problemf(studio.Invalid, "numbers", "There is no swatch %d in this studio.", f.Swatch)
			}
			return err
		}
		if !shows.can(f) {
			return studio.Problemf(studio.Invalid, "numbers", "The %s of swatch %d is not %s yet, so it can't be shown.", f.Face, f.Swatch, map[bool]string{true: "measured", false: "photographed"}[x.Measured])
		}
	}
	return nil
}

// showing is what faces look like.
type showing struct {
	measured bool
	looks    map[faceKey]studio.Look
	newest   map[store.FaceKey]int64
}

func (s *Server) showing(ctx context.Context, measured bool) (showing, error) {
	v := showing{measured: measured}
	var err error
	if v.looks, err = s.looksByFace(ctx); err != nil {
		return v, err
	}
	v.newest, err = s.store.NewestPhotos(ctx)
	return v, err
}

func (v showing) can(f studio.FaceOf) bool {
	if v.measured {
		l, ok := v.looks[faceKey{f.Swatch, f.Face}]
		return ok && l.Measurement != nil
	}
	return v.photo(f) != 0
}

func (v showing) photo(f studio.FaceOf) int64 {
	if l, ok := v.looks[faceKey{f.Swatch, f.Face}]; ok {
		return l.Photo
	}
	return v.newest[store.FaceKey{Swatch: f.Swatch, Face: f.Face}]
}

// shownFace is one face as people see it while they choose.
type shownFace struct {
	Key    string        `json:"key"` // as the form sends it
	Name   string        `json:"name" say:"yes"`
	Src    string        `json:"src,omitempty"`
	Colour template.HTML `json:"colour,omitempty" say:"yes"`
}

func (v showing) face(f studio.FaceOf, name string) shownFace {
	out := shownFace{Key: faceText(f), Name: name}
	if l, ok := v.looks[faceKey{f.Swatch, f.Face}]; v.measured && ok && l.Measurement != nil {
		out.Colour = chipBig(l.Measurement.Lab)
		return out
	}
	if id := v.photo(f); id != 0 {
		out.Src = fmt.Sprintf("/photos/%d/face.jpg", id)
	}
	return out
}

func faceText(f studio.FaceOf) string { return fmt.Sprintf("%d-%s", f.Swatch, f.Face) }

// faceFrom reads what faceText wrote.
func faceFrom(text string) (studio.FaceOf, error) {
	n, face, _ := strings.Cut(text, "-")
	number, err := strconv.ParseInt(n, 10, 64)
	if err != nil || face != string(studio.Front) && face != string(studio.Back) {
		return studio.FaceOf{}, studio.Problemf(studio.Invalid, "left", "%q is no face of a swatch; reload the page and choose again.", text)
	}
	return studio.FaceOf{Swatch: number, Face: studio.Face(face)}, nil
}

// tasteWho is the cookie that keeps who last chose on this device.
const tasteWho = "aerugo_who"

// chooser returns who is choosing: as asked for, else as last on this device, else the
// device's own name; "" on the laptop before anyone said.
func (s *Server) chooser(r *http.Request) string {
	if who := strings.TrimSpace(r.FormValue("who")); who != "" {
		return who
	}
	if c, err := r.Cookie(tasteWho); err == nil {
		if who, err := url.QueryUnescape(c.Value); err == nil && studio.CheckWho(who) == nil {
			return who
		}
	}
	if d, ok := s.device(r); ok {
		return d.Name
	}
	return ""
}

func (s *Server) keepChooser(w http.ResponseWriter, who string) {
	http.SetCookie(w, &http.Cookie{Name: tasteWho, Value: url.QueryEscape(who), Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Expires: s.now().Add(12 * time.Hour)})
}

// score is POST /swatches/{id}/score: one of five words for one aspect of a face.
func (s *Server) score(w http.ResponseWriter, r *http.Request) error {
	number, err := idIn(r, "id")
	if err != nil {
		return err
	}
	f := readForm(r)
	if f.Val("score") == "who" { // also what the Enter key sends
		if err := studio.CheckWho(f.Val("who")); err != nil {
			return err
		}
		s.keepChooser(w, f.Val("who"))
		return back(w, r, fmt.Sprintf("/swatches/%d?%s#score-%s", number, url.Values{"score": {f.Val("face")}}.Encode(), url.PathEscape(f.Val("face"))))
	}
	of, value, _ := strings.Cut(f.Val("score"), ":")
	n, err := strconv.Atoi(value)
	if err != nil {
		return studio.Problemf(studio.Invalid, "score", "Tap one of the five words.")
	}
	at, err := s.when(f)
	if err != nil {
		return err
	}
	x := studio.Score{Client: f.Val("client"), Face: studio.FaceOf{Swatch: number, Face: studio.Face(f.Val("face"))}, Of: studio.ScoreOf(of), Value: n, Who: s.chooser(r), At: at}
	if x.Face.Face != studio.Front && x.Face.Face != studio.Back {
		return studio.Problemf(studio.Invalid, "face", "Say whether it is the front or the back.")
	}
	if x, err = s.store.AddScore(r.Context(), x); err != nil {
		return err
	}
	s.keepChooser(w, x.Who)
	s.live.changed()
	return back(w, r, fmt.Sprintf("/swatches/%d?score=%s#score-%s", number, x.Face.Face, x.Face.Face))
}

// scoreSide is the scoring of one face on its swatch's page.
type scoreSide struct {
	Swatch  int64
	Face    studio.Face
	Who     string
	Open    bool
	Aspects []scoreAspect
	Any     bool
}

type scoreAspect struct {
	Of    studio.ScoreOf
	Words [5]string
	Mine  int // 0: not scored by this person
	Tally string
}

// scoringOf fills in how a swatch's faces were scored, and by whom it would be now.
func (s *Server) scoringOf(r *http.Request, swatch int64, sides []sideView) error {
	all, err := s.store.ScoresOf(r.Context(), swatch)
	if err != nil {
		return err
	}
	who := s.chooser(r)
	newest := studio.NewestScores(all)
	for i := range sides {
		v := &scoreSide{Swatch: swatch, Face: sides[i].Face, Who: who, Open: r.FormValue("score") == string(sides[i].Face)}
		for _, of := range studio.ScoreAspects {
			a := scoreAspect{Of: of, Words: studio.ScoreWords}
			face := studio.FaceOf{Swatch: swatch, Face: sides[i].Face}
			for _, x := range newest {
				if x.Face == face && x.Of == of && x.Who == who {
					a.Mine = x.Value
				}
			}
			if t, ok := taste.TallyOf(all, face, of); ok {
				v.Any = true
				a.Tally = t.Words
				if t.People > 1 {
					a.Tally += fmt.Sprintf(" (%d people)", t.People)
				}
			}
			v.Aspects = append(v.Aspects, a)
		}
		sides[i].Score = v
	}
	return nil
}
