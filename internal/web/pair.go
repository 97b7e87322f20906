package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/studio"
)

func (s *Server) pairRoutes(mux *http.ServeMux) {
	s.on(mux, "POST /photos/{id}/second", s.fileSecond)
	s.on(mux, "POST /photos/{id}/swap", s.swapPlaces)
}

// sides are the places of a mat for two swatches, in its order.
var sides = [2]string{"left", "right"}

// whose says which face lies somewhere; a zero swatch: nobody knows yet.
type whose struct {
	Swatch int64       `json:"swatch"`
	Face   studio.Face `json:"face"`
}

func (w whose) known() bool { return w.Swatch != 0 }

// filing is where a photograph goes: the face in each of its places.
type filing struct {
	faces [2]whose
	two   bool   // two swatches are seen on the mat
	asks  string // the place whose face nobody knows yet; empty for none
	why   string // why not, in a sentence
}

// arrived is what became of a photograph: an entry for each swatch in it that is
// known, and what is still asked.
type arrived struct {
	photos    []studio.Photo
	asks, why string
}

// secondKey is the key of the second entry that comes with one upload.
func secondKey(client string) string { return client + "+2" }

// seenIn reports whether a swatch lies in a place of the mat: its corners or its
// label were seen, or a shadow on it.
func seenIn(look scene.Scene, i int) bool {
	if _, labelled := look.Label(i); labelled {
		return true
	}
	return i < len(look.Swatches) && (look.Swatches[i].Problem == nil || look.Swatches[i].Problem.Field == "photo")
}

// file decides whose faces a picture shows, from what the person typed and the
// labels in it. What was typed counts more than a label. With no face known it is
// a *studio.Problem.
func (s *Server) file(ctx context.Context, img *picture.Image, look scene.Scene, typed [2]whose) (filing, error) {
	if look.Mat == nil || len(look.Mat.Layout.Swatches) < 2 {
		out := filing{faces: typed}
		if typed[0].known() {
			return out, nil
		}
		label, ok := look.Label(0)
		got := whose{label.Number, label.Face}
		if !ok {
			got.Swatch, got.Face, ok = scene.AnyLabel(img)
		}
		if !ok {
			return out, studio.Problemf(studio.Invalid, "swatch", "Write the number on the swatch's label: none could be read in the picture.")
		}
		if out.faces[0] = got; got.Swatch == typed[1].Swatch {
			out.faces[1] = whose{}
		}
		there, err := s.thereIs(ctx, got.Swatch)
		if err == nil && !there {
			err = noSuchLabel(got.Swatch)
		}
		return out, err
	}
	var out filing
	var seen [2]bool
	var labels [2]whose
	var stranger error // a label that names no swatch of this studio
	for i := range labels {
		seen[i] = seenIn(look, i)
		l, ok := look.Label(i)
		if !ok {
			continue
		}
		there, err := s.thereIs(ctx, l.Number)
		if err != nil {
			return out, err
		}
		if there {
			labels[i] = whose{l.Number, l.Face}
		} else if stranger == nil {
			stranger = noSuchLabel(l.Number)
		}
	}
	out.two = seen[0] && seen[1]
	for k, w := range typed {
		if w.known() {
			out.faces[placeFor(w, k, seen, labels, out.faces)] = w
		}
	}
	for i, l := range labels {
		if !out.faces[i].known() && l.known() && l.Swatch != out.faces[1-i].Swatch {
			out.faces[i] = l
		}
	}
	for i, w := range out.faces {
		if w.known() || !seen[i] {
			continue
		}
		out.asks, out.why = sides[i], fmt.Sprintf("The %s swatch's label can't be read.", sides[i])
		if labels[i].known() {
			out.why = fmt.Sprintf("Both labels say swatch %d, and one swatch can't lie in two places.", labels[i].Swatch)
		} else if l, ok := look.Label(i); ok {
			out.why = fmt.Sprintf("The %s label says %d, but there is no such swatch in this studio.", sides[i], l.Number)
		}
	}
	if !out.faces[0].known() && !out.faces[1].known() {
		if stranger != nil {
			return out, stranger
		}
		return out, studio.Problemf(studio.Invalid, "swatch", "Write the number on the left swatch's label: neither of the two could be read in the picture.")
	}
	return out, nil
}

// placeFor chooses the place of the mat for the k-th face that was typed: where
// the label says the same, else where none could be read, else its own side.
func placeFor(w whose, k int, seen [2]bool, labels, taken [2]whose) int {
	order := []int{k, 1 - k}
	for _, fits := range []func(i int) bool{
		func(i int) bool { return labels[i].Swatch == w.Swatch },
		func(i int) bool { return seen[i] && !labels[i].known() },
		func(i int) bool { return seen[i] },
		func(int) bool { return true },
	} {
		for _, i := range order {
			if !taken[i].known() && fits(i) {
				return i
			}
		}
	}
	return k
}

func (s *Server) thereIs(ctx context.Context, swatch int64) (bool, error) {
	_, err := s.store.Swatch(ctx, swatch)
	if err != nil && studio.ProblemIn(err) == nil {
		return false, err
	}
	return err == nil, nil
}

func noSuchLabel(number int64) error {
	return studio.Problemf(studio.Invalid, "swatch", "The label in the picture says %d, but there is no such swatch in this studio. Write the right number.", number)
}

// asksFor is the place of the swatch beside a photograph's own that is filed
// nowhere yet; empty when all are.
func asksFor(p studio.Photo, others []studio.Photo) string {
	if p.Measurement == nil || p.Measurement.Marks.Place == "" || len(others) > 0 {
		return ""
	}
	return otherSide(p.Measurement.Marks.Place)
}

func otherSide(side string) string {
	if side == sides[0] {
		return sides[1]
	}
	return sides[0]
}

// mostOffers is how many swatches are offered for one tap.
const mostOffers = 3

// offers lists the faces that likely lie beside a photograph's own: the same
// face of the nearest numbers of its set.
func (s *Server) offers(ctx context.Context, p studio.Photo) ([]whose, error) {
	x, err := s.store.Swatch(ctx, p.Swatch)
	if err != nil {
		return nil, err
	}
	mates, err := s.store.SwatchesOf(ctx, x.SetID)
	if err != nil {
		return nil, err
	}
	var out []whose
	for _, m := range mates {
		if m.Number != p.Swatch {
			out = append(out, whose{m.Number, p.Face})
		}
	}
	far := func(w whose) int64 { // the next number before the one before
		if d := w.Swatch - p.Swatch; d > 0 {
			return 2*d - 1
		} else {
			return -2 * d
		}
	}
	slices.SortFunc(out, func(a, b whose) int { return int(far(a) - far(b)) })
	return out[:min(len(out), mostOffers)], nil
}

// fileSecond is POST /photos/{id}/second: which face lies beside a photograph's
// own. It becomes an entry of its own that shares the file, measured if it lies on
// the mat.
func (s *Server) fileSecond(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	photo, err := s.photoIn(r)
	if err != nil {
		return err
	}
	f := readForm(r)
	if number, face, ok := strings.Cut(f.Val("pick"), "-"); ok {
		f.set("second", number)
		f.set("secondface", face)
	}
	second := whose{f.whole("second", "swatch's number", 0), studio.Face(f.Val("secondface"))}
	if f.ok() {
		if err := s.checkSecond(ctx, f, "second", photo.Swatch, second); err != nil {
			return err
		}
	}
	if f.ok() && !slices.Contains(faceWords, string(second.Face)) {
		f.say("second", "Say which face of it is seen.")
	}
	var kept studio.Photo
	if f.ok() {
		kept, err = s.keepSecond(ctx, photo, second)
		if err := f.blame(err, "second"); err != nil {
			return err
		}
	}
	if !f.ok() {
		if wantsJSON(r) {
			writeJSON(w, http.StatusUnprocessableEntity, f.refusal())
			return nil
		}
		p, err := s.fillPhoto(r, photo, f)
		if err != nil {
			return err
		}
		s.show(w, http.StatusUnprocessableEntity, "photo", p)
		return nil
	}
	s.live.changed()
	if wantsJSON(r) {
		a, err := s.answerOf(ctx, photo)
		if err != nil {
			return err
		}
		writeJSON(w, http.StatusOK, a)
		return nil
	}
	return backSaying(w, r, fmt.Sprintf("/photos/%d", photo.ID), fmt.Sprintf("Filed to swatch %d, %s, too.", kept.Swatch, kept.Face))
}

// checkSecond says in the form why a swatch can't be the one beside another.
func (s *Server) checkSecond(ctx context.Context, f *form, field string, first int64, second whose) error {
	there, err := s.thereIs(ctx, second.Swatch)
	switch {
	case err != nil:
		return err
	case !second.known():
		f.say(field, "Write the number on the other swatch's label.")
	case !there:
		f.say(field, "There is no swatch %d in this studio. Look at its label again.", second.Swatch)
	case second.Swatch == first:
		f.say(field, "Swatch %d can't lie in two places at once. Write the other swatch's number.", first)
	}
	return nil
}

// keepSecond files a kept photograph to a second face too, and measures that.
func (s *Server) keepSecond(ctx context.Context, first studio.Photo, second whose) (studio.Photo, error) {
	leave, err := s.takeSeat(ctx)
	if err != nil {
		return studio.Photo{}, err
	}
	defer leave()
	data, err := s.store.PhotoData(ctx, first.ID)
	if err != nil {
		return studio.Photo{}, err
	}
	img, err := picture.Decode(data)
	if err != nil {
		return studio.Photo{}, err
	}
	p := first
	p.ID, p.Client, p.Added, p.Measurement = 0, random(12), s.now().UTC(), nil
	p.Swatch, p.Face = second.Swatch, second.Face
	kept, _, err := s.store.AddPhoto(ctx, p, data)
	if err != nil {
		return kept, err
	}
	look, lookErr := scene.Look(img, scene.Want{Mat: true})
	if lookErr != nil || kept.Measurement != nil {
		return kept, nil // it is marked by hand
	}
	var said studio.Marks
	if m := first.Measurement; m != nil {
		said.Setup, said.Target = m.Marks.Setup, m.Marks.Target
	} else if said.Setup, err = s.current(ctx); err != nil {
		return kept, err
	}
	all := []studio.Photo{kept}
	s.readOnMat(ctx, all, []int{besideOf(first, look)}, img, look, said)
	return all[0], nil
}

// swapPlaces is POST /photos/{id}/swap: the two faces of a photograph were filed
// the wrong way round. Each is read anew where the other was; the old readings stay.
func (s *Server) swapPlaces(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	a, err := s.photoIn(r)
	if err != nil {
		return err
	}
	others, err := s.store.SharedWith(ctx, a)
	if err != nil {
		return err
	}
	if len(others) != 1 || a.Salted || a.Measurement == nil || others[0].Measurement == nil {
		return studio.Problemf(studio.Conflict, "", "Only two swatches that are both measured in one photograph can change places. Mark each where it lies instead.")
	}
	b := others[0]
	of := func(own, other studio.Measurement) studio.Marks {
		m := own.Marks
		m.Corners, m.Place, m.Bare = other.Marks.Corners, other.Marks.Place, other.Marks.Bare
		return m
	}
	// both are read before either is kept
	first, err := s.measure(ctx, a, of(*a.Measurement, *b.Measurement))
	if err != nil {
		return err
	}
	second, err := s.measure(ctx, b, of(*b.Measurement, *a.Measurement))
	if err != nil {
		return err
	}
	for _, m := range []studio.Measurement{first, second} {
		if m, err = s.store.AddMeasurement(ctx, m); err != nil {
			return err
		}
		if err := s.fixReference(ctx, m); err != nil {
			return err
		}
	}
	s.live.changed()
	return backSaying(w, r, fmt.Sprintf("/photos/%d", a.ID), fmt.Sprintf("Swatches %d and %d have changed places, and both are measured anew.", a.Swatch, b.Swatch))
}

// besideOf is the place of the mat beside a photograph's own face.
func besideOf(p studio.Photo, look scene.Scene) int {
	if len(look.Swatches) < 2 {
		return 0
	}
	m := p.Measurement
	if m == nil || m.Marks.Corners == nil {
		if l, ok := look.Label(1); ok && l.Number == p.Swatch {
			return 0
		}
		return 1
	}
	at, best, away := middle(*m.Marks.Corners), 1, -1.0
	for i := range look.Swatches {
		page := look.Mat.Page(at)
		c := look.Mat.Layout.Swatches[i].Centre()
		if d := math.Hypot(page.X-c.X, page.Y-c.Y); d > away {
			best, away = i, d
		}
	}
	return best
}

func middle(q [4]studio.Point) (m studio.Point) {
	for _, p := range q {
		m.X += p.X / 4
		m.Y += p.Y / 4
	}
	return m
}

// within reports whether a point lies in a face's outline, whichever way round
// its corners go.
func within(q [4]studio.Point, p studio.Point) bool {
	left, right := false, false
	for i, a := range q {
		b := q[(i+1)%4]
		if (b.X-a.X)*(p.Y-a.Y)-(b.Y-a.Y)*(p.X-a.X) > 0 {
			left = true
		} else {
			right = true
		}
	}
	return left != right
}

// together compares two faces of one photograph. same is false when they are not
// of one; why says why they are, and yet give no such difference.
func together(a, b studio.Photo) (d scene.Apart, same bool, why string) {
	if a.SHA256 == "" || a.SHA256 != b.SHA256 || a.ID == b.ID {
		return d, false, ""
	}
	m, n := a.Measurement, b.Measurement
	if m == nil || n == nil {
		p := a
		if m != nil {
			p = b
		}
		return d, true, fmt.Sprintf("Swatch %d, %s, is not measured in it yet.", p.Swatch, p.Face)
	}
	if m.Marks.Corners == nil || n.Marks.Corners == nil || within(*m.Marks.Corners, middle(*n.Marks.Corners)) || within(*n.Marks.Corners, middle(*m.Marks.Corners)) {
		return d, true, "The same part of the photograph is marked for both. Mark each swatch where it lies."
	}
	if !sameLight(m.Marks, n.Marks) {
		return d, true, "The two were set right in different ways. Mark both again with the same grey card, target, and camera and lamp."
	}
	return scene.Between(*m, *n), true, ""
}

// sameLight reports whether two readings of one photograph were corrected alike:
// only then do the correction's errors cancel.
func sameLight(a, b studio.Marks) bool {
	grey := a.Grey == b.Grey || a.Grey != nil && b.Grey != nil && a.GreyL == b.GreyL
	return grey && a.OnMat == b.OnMat && a.Target == b.Target && a.Setup == b.Setup
}

// oneView is the difference of two faces of one photograph, in words.
type oneView struct {
	A, B     studio.Photo
	OK       bool
	Why      string
	DE       scene.Apart
	Half     float64 // half of the interval's width
	Told     bool    // the interval does not reach nought
	Words    string
	Parts    []partView
	Separate string // what two photographs would leave open
	Compare  string // the page with both
}

type partView struct{ Name, By, Word string }

func oneOf(a, b studio.Photo) (v oneView, same bool) {
	v = oneView{A: a, B: b, Compare: fmt.Sprintf("/compare?p=%d&p=%d", a.ID, b.ID)}
	v.DE, same, v.Why = together(a, b)
	if !same || v.Why != "" {
		return v, same
	}
	v.OK, v.Half, v.Told = true, v.DE.High-v.DE.DE00, v.DE.Low > 0
	names := fmt.Sprintf("swatch %d, %s", a.Swatch, a.Face)
	switch how := learn.Direction(a.Measurement.Lab, b.Measurement.Lab); {
	case !v.Told:
		v.Words = "Even in one photograph these two can't be told apart."
	case how == "":
		v.Words = fmt.Sprintf("Swatch %d, %s, differs a little from %s, in no clear direction.", b.Swatch, b.Face, names)
	default:
		v.Words = fmt.Sprintf("Swatch %d, %s, is %s than %s.", b.Swatch, b.Face, how, names)
	}
	for _, x := range []struct {
		name     string
		by       float64
		up, down string
	}{{"L*", v.DE.L, "lighter", "darker"}, {"a*", v.DE.A, "redder", "greener"}, {"b*", v.DE.B, "yellower", "bluer"}} {
		p := partView{x.name, number(x.by, 1), "the same"}
		if math.Abs(x.by) >= 0.05 {
			p.Word = x.down
			if x.by > 0 {
				p.By, p.Word = "+"+p.By, x.up
			}
		}
		v.Parts = append(v.Parts, p)
	}
	v.Separate = fmt.Sprintf("From two separate photographs with a grey card it could be off by %s to %s ΔE00.", number(learn.PhotoLow, 0), number(learn.PhotoHigh, 0))
	if !a.Measurement.Calibrated || !b.Measurement.Calibrated {
		v.Separate = "From two separate photographs without a grey card no difference could be given at all."
	}
	return v, true
}

// adviceView says that two faces are better photographed together.
type adviceView struct {
	A, B    studio.Photo
	Half    float64 // by which their difference would then be sure, in dE00
	Link    string
	Already bool // they are in one photograph; Link shows it
}

// advise returns advice for two faces of separate photographs that these can't
// tell apart; ok is false when there is none to give.
func (s *Server) advise(ctx context.Context, a, b studio.Photo) (v adviceView, ok bool, err error) {
	if a.Swatch == b.Swatch || a.Measurement == nil || b.Measurement == nil || a.Moment != studio.Finished || b.Moment != studio.Finished {
		return v, false, nil // a swatch's two faces never lie in one photograph, nor what has changed since
	}
	v = adviceView{A: a, B: b}
	m, n := *a.Measurement, *b.Measurement
	m.Calibrated, n.Calibrated, m.Correction, n.Correction = true, true, nil, nil // by the grey card alone
	d := scene.Between(m, n)
	v.Half = d.High - d.DE00
	v.Link = fmt.Sprintf("/photos/new?swatch=%d&face=%s&swatch2=%d&face2=%s", a.Swatch, a.Face, b.Swatch, b.Face)
	ofA, err := s.store.PhotosOf(ctx, a.Swatch)
	if err != nil {
		return v, false, err
	}
	ofB, err := s.store.PhotosOf(ctx, b.Swatch)
	if err != nil {
		return v, false, err
	}
	for _, x := range ofA {
		for _, y := range ofB {
			if x.Face != a.Face || y.Face != b.Face || x.Moment != studio.Finished || y.Moment != studio.Finished || x.Salted {
				continue
			}
			if _, same, why := together(x, y); same && why == "" {
				v.Already, v.Link = true, fmt.Sprintf("/compare?p=%d&p=%d", x.ID, y.ID)
			}
		}
	}
	return v, true, nil
}

// page is where one goes on with a photograph of two swatches.
func (a arrived) page() string {
	if len(a.photos) > 1 {
		if v, _ := oneOf(a.photos[0], a.photos[1]); v.OK {
			return v.Compare
		}
	}
	if a.asks != "" {
		return fmt.Sprintf("/photos/%d?asks=%s", a.photos[0].ID, a.asks)
	}
	p := a.photos[0]
	for _, x := range a.photos {
		if x.Measurement == nil {
			p = x
			break
		}
	}
	if p.Salted {
		return fmt.Sprintf("/photos/%d/salt", p.ID)
	}
	return fmt.Sprintf("/photos/%d", p.ID)
}

// said is what became of them, in a sentence or two.
func (a arrived) said() string {
	var names []string
	done := 0
	for _, p := range a.photos {
		names = append(names, fmt.Sprintf("swatch %d, %s", p.Swatch, p.Face))
		if p.Measurement != nil {
			done++
		}
	}
	out := "Filed to " + strings.Join(names, ", and to ") + "."
	if len(names) > 1 && !a.photos[0].Salted {
		out += " " + [3]string{"Neither is measured yet.", "One of them is measured; mark the other.", "Both are measured."}[done]
	}
	if a.asks != "" {
		out += " " + a.why + " Say below whose it is."
	}
	return out
}

// fillBeside says what else lies in a photograph.
func (s *Server) fillBeside(ctx context.Context, p *photoPage) error {
	others, err := s.store.SharedWith(ctx, p.Photo)
	if err != nil {
		return err
	}
	for _, x := range others {
		v, _ := oneOf(p.Photo, x)
		p.Beside = append(p.Beside, v)
	}
	p.Asks = asksFor(p.Photo, others)
	if side := p.form.Val("asks"); p.Asks == "" && len(others) == 0 && (side == sides[0] || side == sides[1]) {
		p.Asks = side // the upload could not tell
	}
	if len(others) == 0 {
		p.Offers, err = s.offers(ctx, p.Photo)
	}
	return err
}

// fillPair puts what one photograph of both says in the place of what two say,
// and advises to take one where two can't tell the faces apart.
func (s *Server) fillPair(ctx context.Context, p *comparePage, v *pairView, a, b studio.Photo, separate learn.Pair) error {
	if one, same := oneOf(a, b); same {
		v.One = true
		p.Ones = append(p.Ones, one)
		switch {
		case one.OK:
			v.Delta, v.Words = fmt.Sprintf("%s (%s to %s)", number(one.DE.DE00, 1), number(one.DE.Low, 1), number(one.DE.High, 1)), one.Words
		case one.Why != "":
			v.Words = one.Why
		}
		return nil
	}
	if separate.OK && !separate.Same {
		return nil
	}
	advice, ok, err := s.advise(ctx, a, b)
	if ok {
		p.Advice = append(p.Advice, advice)
	}
	return err
}

// besideTile is a face on the wall that lies in the same photograph as another.
type besideTile struct {
	Swatch int64
	Face   studio.Face
	Photo  int64
}

// findBeside marks the tiles whose photographs show another tile's face too.
func (s *Server) findBeside(ctx context.Context, tiles []wallTile) error {
	shared, err := s.store.Together(ctx)
	if err != nil || len(shared) == 0 {
		return err
	}
	of := map[int64]besideTile{}
	for _, t := range tiles {
		if t.Photo != 0 {
			of[t.Photo] = besideTile{t.Swatch, t.Face, t.Photo}
		}
	}
	for i := range tiles {
		for _, other := range shared[tiles[i].Photo] {
			if b, ok := of[other]; ok {
				tiles[i].Beside = append(tiles[i].Beside, b)
			}
		}
	}
	return nil
}
