package web_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/flow/mat"
	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

// Two browns about 4.6 dE00 apart, as a rendered truth: the picture holds them as
// they are here.
var (
	brown = colour.Lab{L: 42, A: 12, B: 18}
	blue  = colour.Lab{L: 38, A: 10, B: 11}
	warm  = matShot{lamp: [3]float64{0.9, 0.9 * 0.95, 0.9 * 0.8}, card: true}
)

// ofPhotos returns a swatch's photographs that came with an upload.
func (s *stock) ofFace(t *testing.T, swatch int64, face studio.Face) []studio.Photo {
	t.Helper()
	all, err := s.store.PhotosOf(t.Context(), swatch)
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(all, func(p studio.Photo) bool { return p.Face != face })
}

// onePhoto returns the only photograph of a face.
func (s *stock) onePhoto(t *testing.T, swatch int64, face studio.Face) studio.Photo {
	t.Helper()
	all := s.ofFace(t, swatch, face)
	if len(all) != 1 {
		t.Fatalf("swatch %d %s has %d photographs, want one", swatch, face, len(all))
	}
	return all[0]
}

// One photograph of two labelled swatches becomes two entries on one file, each
// measured in its own place, and the page shown next gives their difference.
func TestTwoSwatchesInOnePhotograph(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	a, b := s.planned[0].Swatch, s.planned[1].Swatch
	data := drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Front, brown}, laid{b, studio.Back, blue})
	to := s.upload(t, "/photos", "photo", data, photoForm("pair", 0, "swatch", "")).to(t)
	left, right := s.onePhoto(t, a, studio.Front), s.onePhoto(t, b, studio.Back)
	if left.SHA256 != right.SHA256 || len(s.files(t)) != 1 || s.photos(t) != 2 {
		t.Fatalf("%d entries, the files %q", s.photos(t), s.files(t))
	}
	for _, c := range []struct {
		p     studio.Photo
		lab   colour.Lab
		place string
	}{{left, brown, "left"}, {right, blue, "right"}} {
		m := c.p.Measurement
		if m == nil || !m.Calibrated || !m.Marks.OnMat || m.Marks.Place != c.place {
			t.Fatalf("the %s swatch was read as %+v", c.place, m)
		}
		if de := colour.Difference(m.Lab, c.lab); de > 2.5 { // one unit each of coding and of the fitted light
			t.Errorf("%s: read %.1f for %.1f (%.1f dE00)", c.place, m.Lab, c.lab, de)
		}
		if c.p.Note != "by the window" {
			t.Errorf("%s: the note is %q", c.place, c.p.Note)
		}
	}
	if (left.Measurement.Marks.Corners[1].X > right.Measurement.Marks.Corners[0].X) || left.Measurement.Lab == right.Measurement.Lab {
		t.Errorf("both are read in one place: %v and %v", *left.Measurement.Marks.Corners, *right.Measurement.Marks.Corners)
	}
	if want := fmt.Sprintf("/compare?p=%d&p=%d", left.ID, right.ID); !strings.HasPrefix(to, want) {
		t.Fatalf("went to %s, want %s", to, want)
	}
	doc := s.see(t, to).doc(t)
	holdPage(t, to, doc)
	main := doc.one("main").words()
	for _, want := range []string{
		fmt.Sprintf("Filed to swatch %d, front, and to swatch %d, back. Both are measured.", a, b),
		fmt.Sprintf("%d front and %d back, in one photograph", a, b),
		fmt.Sprintf("Swatch %d, back, is ", b), "bluer", "darker", "off by 4 to 6 ΔE00",
	} {
		if !strings.Contains(doc.words(), want) {
			t.Errorf("%q is not on the page: %s", want, main)
		}
	}
	if strings.Contains(main, "together") || strings.Contains(main, "can't tell") {
		t.Errorf("what one photograph tells is doubted as if by two: %s", main)
	}
	var de, low, high float64
	words := doc.one("section.one .number").words()
	if _, err := fmt.Sscanf(words, "%f ΔE00, between %f and %f", &de, &low, &high); err != nil {
		t.Fatalf("%q: %v", words, err)
	}
	truth := colour.Difference(brown, blue)
	if !(low <= truth && truth <= high) || math.Abs(de-truth) > 1 || high-low > 4 {
		t.Errorf("%q, in truth %.2f", words, truth)
	}
	// each photograph's page says it too, from its own side
	for _, c := range []struct {
		p studio.Photo
		n int64
	}{{left, b}, {right, a}} {
		doc := s.see(t, fmt.Sprintf("/photos/%d", c.p.ID)).doc(t)
		holdPage(t, "photo", doc)
		if words := doc.one("section.one").words(); !strings.Contains(words, fmt.Sprintf("In one photograph with swatch %d", c.n)) || !strings.Contains(words, "ΔE00, between") {
			t.Errorf("photograph %d says %q", c.p.ID, words)
		}
		if doc.one("details#second") != nil {
			t.Error("it asks for a second swatch though both are filed")
		}
	}
	// and the wall joins them
	links := s.see(t, "/swatches").doc(t).all(fmt.Sprintf(`a[href="/compare?p=%d&p=%d"]`, left.ID, right.ID))
	if len(links) != 1 || !strings.Contains(links[0].words(), fmt.Sprintf("in one photograph with %d back", b)) {
		t.Errorf("%d links on the wall", len(links))
	}
	// sent again, whole, nothing is kept twice
	s.upload(t, "/photos", "photo", data, photoForm("pair", 0, "swatch", "")).to(t)
	s.upload(t, "/photos", "photo", data, photoForm("pair, anew", 0, "swatch", "")).to(t)
	if s.photos(t) != 2 || len(s.files(t)) != 1 {
		t.Errorf("sent again there are %d entries, files %q", s.photos(t), s.files(t))
	}
	if all, err := s.store.Measurements(t.Context(), left.ID); err != nil || len(all) != 1 {
		t.Errorf("sent again it was read %d times (%v)", len(all), err)
	}
	// measured again by its marks it stays in its place
	s.post(t, "/remeasure", url.Values{"all": {"1"}}).to(t)
	deadline := time.Now().Add(patience)
	for {
		again := s.onePhoto(t, b, studio.Back)
		if again.Measurement.ID != right.Measurement.ID {
			if d := colour.Difference(again.Measurement.Lab, right.Measurement.Lab); d > 0.01 || again.Measurement.Marks.Place != "right" {
				t.Errorf("read again it is %.2f dE00 away, in place %q", d, again.Measurement.Marks.Place)
			}
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("it was not measured again")
		}
		time.Sleep(20 * time.Millisecond)
	}
	// filed the wrong way round, they change places, and back again
	for round, want := range []colour.Lab{blue, brown} {
		s.post(t, fmt.Sprintf("/photos/%d/swap", right.ID), url.Values{}).to(t)
		if p := s.onePhoto(t, a, studio.Front); colour.Difference(p.Measurement.Lab, want) > 2.5 || p.Measurement.Marks.Place != [2]string{"right", "left"}[round] {
			t.Errorf("round %d: swatch %d reads %.1f in place %q", round, a, p.Measurement.Lab, p.Measurement.Marks.Place)
		}
	}
	if one := s.onePhoto(t, b, studio.Back); colour.Difference(one.Measurement.Lab, right.Measurement.Lab) > 0.01 {
		t.Errorf("changed over twice, the other reads %.2f, was %.2f", one.Measurement.Lab, right.Measurement.Lab)
	}
	// one of them in the bin: the other stays whole, and is alone
	s.post(t, "/bin", url.Values{"kind": {"photo"}, "id": {id(left.ID)}}).to(t)
	if r := s.post(t, fmt.Sprintf("/photos/%d/swap", right.ID), url.Values{}); r.code != 409 || !strings.Contains(r.problem(), "Mark each where it lies") {
		t.Errorf("alone it changes places: status %d, %q", r.code, r.problem())
	}
	if words := s.see(t, fmt.Sprintf("/photos/%d", right.ID)).doc(t).one("main").words(); strings.Contains(words, "In one photograph") {
		t.Error("the one in the bin is still shown beside it")
	}
	if code, kind, _ := get(t, fmt.Sprintf("%s/photos/%d/face.jpg", s.url, right.ID)); code != 200 || kind != "image/jpeg" {
		t.Errorf("its picture: status %d, %s", code, kind)
	}
}

// photographPair sends a photograph of two swatches, and one of two of which only
// the left has a label; it returns the entries of the first and the one of the other.
func photographPair(t *testing.T, s *stock) (pair [2]int64, alone int64) {
	t.Helper()
	a, b := s.planned[2].Swatch, s.planned[3].Swatch
	s.upload(t, "/photos", "photo", drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Front, brown}, laid{b, studio.Back, blue}), photoForm("visit-pair", 0, "swatch", "")).to(t)
	s.upload(t, "/photos", "photo", drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Back, brown}, laid{0, "", blue}), photoForm("visit-alone", 0, "swatch", "")).to(t)
	for client, into := range map[string]*int64{"visit-pair": &pair[0], "visit-pair+2": &pair[1], "visit-alone": &alone} {
		*into = sentAs(t, s.bench, client)
	}
	return pair, alone
}

// Salt on two faces in one photograph: each is filed, none is measured as a colour.
func TestSaltOnTwoSwatchesInOnePhotograph(t *testing.T) {
	s := stocked(t)
	a, b := s.planned[0].Swatch, s.planned[1].Swatch
	data := drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Front, brown}, laid{b, studio.Front, blue})
	to := s.upload(t, "/photos", "photo", data, photoForm("salt", 0, "swatch", "", "moment", "salted")).to(t)
	left, right := s.onePhoto(t, a, studio.Front), s.onePhoto(t, b, studio.Front)
	if !left.Salted || !right.Salted || left.Measurement != nil || right.Measurement != nil || left.SHA256 != right.SHA256 {
		t.Errorf("kept as %+v and %+v", left, right)
	}
	if !strings.HasPrefix(to, fmt.Sprintf("/photos/%d/salt", left.ID)) {
		t.Errorf("went to %s", to)
	}
	var corners []studio.Point
	for _, p := range []studio.Photo{left, right} {
		g, there, err := s.store.GrainsOf(t.Context(), p.ID)
		if err != nil || !there || g.Marks.Corners == nil {
			t.Fatalf("swatch %d: grains %+v, %v, %v", p.Swatch, g, there, err)
		}
		corners = append(corners, g.Marks.Corners[0])
	}
	if corners[0].X+100 > corners[1].X {
		t.Errorf("both are counted in one place: %v", corners)
	}
	doc := s.see(t, fmt.Sprintf("/photos/%d", right.ID)).doc(t)
	holdPage(t, "salted", doc)
	if words := doc.one("section.one").words(); !strings.Contains(words, fmt.Sprintf("In one photograph with swatch %d", a)) || strings.Contains(words, "ΔE00") {
		t.Errorf("its page says %q", words)
	}
}

// paired is what the server says became of one of many with two swatches in it.
type paired struct {
	became
	Second        *became
	Compare, Asks string
	Why           string
	Offers        []struct {
		Swatch int64
		Face   studio.Face
	}
}

func readPaired(t *testing.T, a answer) (p paired) {
	t.Helper()
	if err := json.Unmarshal(a.body, &p); err != nil {
		t.Fatalf("status %d: %s", a.code, a.body)
	}
	return p
}

// A place whose label can't be read is asked for; one tap on what is offered files
// it to its own swatch.
func TestALabelThatCannotBeReadIsAskedFor(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	a, b := s.planned[0].Swatch, s.planned[1].Swatch
	asJSON := []string{"Accept", "application/json"}
	for i, c := range []struct {
		name         string
		left, right  laid
		first, other int64
		asks, why    string
	}{
		{"the right one", laid{a, studio.Front, brown}, laid{0, "", blue}, a, b, "right", "right swatch's label can't be read"},
		{"the left one", laid{0, "", brown}, laid{b, studio.Front, blue}, b, a, "left", "left swatch's label can't be read"},
		{"another studio's", laid{a, studio.Front, blue}, laid{4711, studio.Front, brown}, a, b, "right", "right label says 4711"},
		{"the same twice", laid{a, studio.Front, brown}, laid{a, studio.Back, brown}, a, b, "right", "Both labels say swatch"},
	} {
		data := drawOnMat(t, mat.TwoSwatches, warm, c.left, c.right)
		key := fmt.Sprint("asked", i)
		got := readPaired(t, s.upload(t, "/photos/many", "photo", data, url.Values{"client": {key}}))
		if got.Swatch != c.first || !got.Measured || got.Second != nil || got.Asks != c.asks || !strings.Contains(got.Why, c.why) {
			t.Fatalf("%s: %+v", c.name, got)
		}
		if !slices.ContainsFunc(got.Offers, func(o struct {
			Swatch int64
			Face   studio.Face
		}) bool {
			return o.Swatch == c.other && o.Face == studio.Front
		}) || len(got.Offers) > 3 {
			t.Errorf("%s: offered are %+v, want among them %d", c.name, got.Offers, c.other)
		}
		// asked beforehand, and later on its page, it still asks
		var told struct{ There map[string]paired }
		if err := json.Unmarshal(s.post(t, "/photos/many/there", url.Values{"client": {key}}).body, &told); err != nil || told.There[key].Asks != c.asks {
			t.Errorf("%s: sent before, it is told as %+v, %v", c.name, told.There[key], err)
		}
		page := fmt.Sprintf("/photos/%d", got.Photo)
		doc := s.see(t, page).doc(t)
		holdPage(t, c.name, doc)
		if x := doc.one("details#second[open] summary"); x == nil || !strings.Contains(x.words(), "Which swatch lies on the "+c.asks) {
			t.Errorf("%s: its page does not ask", c.name)
		}
		// what can't be is refused and changes nothing
		before := s.photos(t)
		for says, form := range map[string]url.Values{
			"can't lie in two places": {"second": {id(c.first)}, "secondface": {"back"}},
			"no swatch 4711":          {"pick": {"4711-front"}},
			`"blue"`:                  {"second": {"blue"}, "secondface": {"front"}},
			"Write the number":        {"second": {""}, "secondface": {"front"}},
			"which face":              {"second": {id(c.other)}, "secondface": {"rim"}},
		} {
			a := s.post(t, page+"/second", form)
			if a.code != 422 || !strings.Contains(a.problem(), says) {
				t.Errorf("%s, %v: status %d, %q", c.name, form, a.code, a.problem())
			}
			if a := s.post(t, page+"/second", form, asJSON...); a.code != 422 || !strings.Contains(string(a.body), "problem") {
				t.Errorf("%s, %v in JSON: status %d, %s", c.name, form, a.code, a.body)
			}
		}
		if n := s.photos(t); n != before {
			t.Errorf("%s: refused, and %d entries became %d", c.name, before, n)
		}
		form := url.Values{"pick": {fmt.Sprintf("%d-front", c.other)}, "second": {""}, "secondface": {"front"}}
		done := readPaired(t, s.post(t, page+"/second", form, asJSON...))
		if done.Second == nil || done.Second.Swatch != c.other || !done.Second.Measured || done.Asks != "" || done.Compare == "" {
			t.Fatalf("%s: filed as %+v", c.name, done)
		}
		s.post(t, page+"/second", form).to(t) // tapped twice
		if n := s.photos(t); n != before+1 {
			t.Errorf("%s: %d entries, want one more than %d", c.name, n, before)
		}
		kept, err := s.store.Photo(t.Context(), done.Second.Photo)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]colour.Lab{"left": c.left.lab, "right": c.right.lab}[c.asks]
		if de := colour.Difference(kept.Measurement.Lab, want); de > 2.5 || kept.Measurement.Marks.Place != c.asks {
			t.Errorf("%s: the other was read %.1f for %.1f, in place %q", c.name, kept.Measurement.Lab, want, kept.Measurement.Marks.Place)
		}
	}
	a422 := s.post(t, "/photos/999/second", url.Values{"second": {"1"}})
	if a422.code != 404 {
		t.Errorf("beside no photograph: status %d", a422.code)
	}
}

// The form takes both numbers by hand, on the mat and off it.
func TestBothSwatchesTypedByHand(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	a, b := s.planned[0].Swatch, s.planned[1].Swatch
	bare := drawOnMat(t, mat.TwoSwatches, warm, laid{0, "", brown}, laid{0, "", blue})
	// nobody knows either: refused at the field, and nothing is kept
	r := s.upload(t, "/photos", "photo", bare, photoForm("none", 0, "swatch", ""))
	if r.code != 422 || !strings.Contains(r.problem(), "neither of the two") || s.photos(t) != 0 {
		t.Errorf("without any label: status %d, %q, %d kept", r.code, r.problem(), s.photos(t))
	}
	for says, form := range map[string]url.Values{
		"can't lie in two places": photoForm("x", a, "swatch2", id(a), "face2", "back"),
		"no swatch 4711":          photoForm("x", a, "swatch2", "4711", "face2", "back"),
		`"blue"`:                  photoForm("x", a, "swatch2", "blue", "face2", "back"),
		"which face":              photoForm("x", a, "swatch2", id(b), "face2", "rim"),
	} {
		r := s.upload(t, "/photos", "photo", bare, form)
		if r.code != 422 || !strings.Contains(r.problem(), says) {
			t.Errorf("%s: status %d, %q", says, r.code, r.problem())
		}
		if x := r.doc(t).one("input[name=swatch2]"); x.attr["value"] != form.Get("swatch2") {
			t.Errorf("%s: typed %q, came back %q", says, form.Get("swatch2"), x.attr["value"])
		}
	}
	s.upload(t, "/photos", "photo", bare, photoForm("typed", a, "swatch2", id(b), "face2", "back")).to(t)
	left, right := s.onePhoto(t, a, studio.Front), s.onePhoto(t, b, studio.Back)
	for p, want := range map[*studio.Photo]colour.Lab{&left: brown, &right: blue} {
		if p.Measurement == nil || colour.Difference(p.Measurement.Lab, want) > 2.5 {
			t.Errorf("swatch %d was read as %+v, want %.1f", p.Swatch, p.Measurement, want)
		}
	}
	// a number that a label bears goes where the label lies, whatever was typed first
	c, d := s.planned[2].Swatch, s.planned[3].Swatch
	s.upload(t, "/photos", "photo", drawOnMat(t, mat.TwoSwatches, warm, laid{0, "", brown}, laid{c, studio.Front, blue}), photoForm("crossed", c, "swatch2", id(d), "face2", "front")).to(t)
	if p := s.onePhoto(t, c, studio.Front); p.Measurement == nil || p.Measurement.Marks.Place != "right" {
		t.Errorf("labelled on the right, it is read as %+v", p.Measurement)
	}
	if p := s.onePhoto(t, d, studio.Front); p.Measurement == nil || p.Measurement.Marks.Place != "left" {
		t.Errorf("the other is read as %+v", p.Measurement)
	}
	// without a mat both are filed and wait to be marked; marked on the same part,
	// they give no difference
	to := s.upload(t, "/photos", "photo", offTheMat(t), photoForm("off the mat", s.blank, "swatch2", id(a), "face2", "back")).to(t)
	if !strings.HasPrefix(to, fmt.Sprintf("/photos/%d", s.onePhoto(t, s.blank, studio.Front).ID)) {
		t.Errorf("went to %s", to)
	}
	first, second := s.onePhoto(t, s.blank, studio.Front), s.onePhoto(t, a, studio.Back)
	at := func(x0 int) url.Values {
		f := url.Values{}
		for i, n := range []string{"tl", "tr", "br", "bl"} {
			f.Set(n+"x", fmt.Sprint(x0+[]int{0, 100, 100, 0}[i]))
			f.Set(n+"y", fmt.Sprint([]int{40, 40, 140, 140}[i]))
		}
		return f
	}
	says := func() string {
		return s.see(t, fmt.Sprintf("/compare?p=%d&p=%d", first.ID, second.ID)).doc(t).one("section.one").words()
	}
	if got := says(); !strings.Contains(got, "not measured in it yet") {
		t.Errorf("unmeasured it says %q", got)
	}
	s.post(t, fmt.Sprintf("/photos/%d/measure", first.ID), at(20)).to(t)
	s.post(t, fmt.Sprintf("/photos/%d/measure", second.ID), at(30)).to(t)
	if got := says(); !strings.Contains(got, "same part of the photograph") {
		t.Errorf("on one part it says %q", got)
	}
	s.post(t, fmt.Sprintf("/photos/%d/measure", second.ID), at(180)).to(t)
	if got := says(); !strings.Contains(got, "ΔE00, between") || !strings.Contains(got, "no difference could be given at all") {
		t.Errorf("apart, without a card, it says %q", got)
	}
	withCard := at(180)
	withCard.Set("usegrey", "1")
	withCard.Set("greyl", "49.5")
	for n, v := range map[string]string{"grey1x": "5", "grey1y": "150", "grey2x": "60", "grey2y": "200"} {
		withCard.Set(n, v)
	}
	s.post(t, fmt.Sprintf("/photos/%d/measure", second.ID), withCard).to(t)
	if got := says(); !strings.Contains(got, "set right in different ways") {
		t.Errorf("with the card for one only it says %q", got)
	}
}

// offTheMat draws two fields of 100 px, at 20 and at 180, on grey.
func offTheMat(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	draw.Draw(img, img.Rect, image.NewUniform(color.Gray{118}), image.Point{}, draw.Src)
	draw.Draw(img, image.Rect(20, 40, 120, 140), image.NewUniform(color.RGBA{130, 90, 60, 255}), image.Point{}, draw.Src)
	draw.Draw(img, image.Rect(180, 40, 280, 140), image.NewUniform(color.RGBA{100, 80, 70, 255}), image.Point{}, draw.Src)
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Two photographs that can't tell two faces apart lead to one that can.
func TestFacesTooCloseAreSentToOnePhotograph(t *testing.T) {
	t.Parallel()
	s := stocked(t)
	a, b := s.planned[0].Swatch, s.planned[1].Swatch
	s.upload(t, "/photos", "photo", onTheMat(t, a, studio.Front, brown), photoForm("a", 0, "swatch", "")).to(t)
	s.upload(t, "/photos", "photo", onTheMat(t, b, studio.Front, blue), photoForm("b", 0, "swatch", "")).to(t)
	first, second := s.onePhoto(t, a, studio.Front), s.onePhoto(t, b, studio.Front)
	compare := fmt.Sprintf("/compare?p=%d&p=%d", first.ID, second.ID)
	doc := s.see(t, compare).doc(t)
	holdPage(t, compare, doc)
	main := doc.one("main").words()
	if !strings.Contains(main, fmt.Sprintf("Photograph %d front and %d front together", a, b)) || strings.Contains(main, "in one photograph") {
		t.Errorf("the advice is missing: %s", main)
	}
	link := doc.one("section.one a.main").attr["href"]
	form := s.see(t, link).doc(t)
	if form.one("input[name=swatch]").attr["value"] != id(a) || form.one("input[name=swatch2]").attr["value"] != id(b) {
		t.Errorf("%s leads to a form without their numbers", link)
	}
	// front and back of one swatch can't lie in one photograph
	s.upload(t, "/photos", "photo", onTheMat(t, a, studio.Back, brown), photoForm("c", 0, "swatch", "")).to(t)
	back := s.onePhoto(t, a, studio.Back)
	if main := s.see(t, fmt.Sprintf("/compare?p=%d&p=%d", first.ID, back.ID)).doc(t).one("main").words(); strings.Contains(main, "together") {
		t.Errorf("one swatch is to lie there twice: %s", main)
	}
	// several are listed once, under one heading
	c := s.planned[2].Swatch
	s.upload(t, "/photos", "photo", onTheMat(t, c, studio.Front, brown), photoForm("e", 0, "swatch", "")).to(t)
	three := fmt.Sprintf("%s&p=%d", compare, s.onePhoto(t, c, studio.Front).ID)
	doc = s.see(t, three).doc(t)
	holdPage(t, three, doc)
	if all := doc.all("section.one"); len(all) != 1 || len(all[0].all("li a")) != 3 || !strings.Contains(all[0].words(), fmt.Sprintf("%d front and %d front: to about ±", b, c)) {
		t.Errorf("of three faces it says, in %d parts, %q", len(all), doc.one("main").words())
	}
	// once that photograph is there, the page leads to it
	s.upload(t, "/photos", "photo", drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Front, brown}, laid{b, studio.Front, blue}), photoForm("d", 0, "swatch", "")).to(t)
	doc = s.see(t, compare).doc(t)
	if words := doc.one("section.one").words(); !strings.Contains(words, "in one photograph already") {
		t.Errorf("it says %q", words)
	}
	if words := s.see(t, doc.one("section.one a.main").attr["href"]).doc(t).one("section.one").words(); !strings.Contains(words, "ΔE00, between") {
		t.Errorf("the link leads to %q", words)
	}
}

// TestAPairInTheBrowser sends a mat of two, one label missing, among many; a tap
// files the other, and the page with their difference is one more tap away.
func TestAPairInTheBrowser(t *testing.T) {
	t.Parallel()
	for _, width := range []int{1280, 390} {
		t.Run(fmt.Sprintf("%dpx", width), func(t *testing.T) {
			t.Parallel()
			s := stocked(t)
			a, b := s.planned[0].Swatch, s.planned[1].Swatch
			tb := open(t, s.url, "pair", width)
			tb.visit("/photos/many")
			tb.give(false, []string{"IMG_0001.jpg"}, [][]byte{drawOnMat(t, mat.TwoSwatches, warm, laid{a, studio.Front, brown}, laid{0, "", blue})})
			tb.wait("the question", `document.querySelector('.many').innerText.includes('Which swatch lies on the right?')`)
			tb.noSideways()
			tb.shot("asked")
			if bad := tb.violations(); len(bad) > 0 {
				t.Errorf("accessibility, asked: %v", bad)
			}
			tb.press(fmt.Sprintf("Swatch %d, front", b))
			tb.wait("the other", fmt.Sprintf(`document.querySelector('.many').innerText.includes('And swatch %d, front. Measured.')`, b))
			tb.noSideways()
			tb.shot("filed")
			tb.visit(js[string](tb, `[...document.querySelectorAll('.many a')].find(a => a.innerText === 'How they differ').getAttribute('href')`))
			tb.wait("the difference", `document.querySelector('section.one').innerText.includes('in one photograph')`)
			tb.shot("compared")
			if bad := tb.violations(); len(bad) > 0 {
				t.Errorf("accessibility, compared: %v", bad)
			}
			tb.visit(fmt.Sprintf("/photos/%d", s.onePhoto(t, a, studio.Front).ID))
			tb.shot("photo")
			if bad := tb.violations(); len(bad) > 0 {
				t.Errorf("accessibility, photograph: %v", bad)
			}
			// the form for one, with its second number opened
			tb.visit("/photos/new")
			js[bool](tb, `(document.querySelector('main details').open = true)`)
			tb.attach("photo", "IMG_2.jpg", drawOnMat(t, mat.TwoSwatches, warm, laid{0, "", blue}, laid{0, "", brown}))
			tb.fill("swatch", id(s.planned[2].Swatch))
			tb.fill("swatch2", id(s.planned[3].Swatch))
			tb.shot("form")
			tb.pressThrough("Keep it")
			if at := js[string](tb, `location.pathname`); at != "/compare" {
				t.Errorf("it leads to %s", at)
			}
			tb.visit("/swatches")
			tb.shot("wall")
		})
	}
}
