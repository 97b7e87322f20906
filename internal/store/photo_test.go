package store

import (
	"bytes"
	"errors"
	"os"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// The digest of "abc" is that of FIPS 180-4 (NIST, SHA examples: SHA256.pdf).
func TestPhotoIsAFileNamedByItsBytes(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := shot(b.pieces[0].Number, studio.Front, studio.Bare, noon.Add(-time.Hour))
	p.Client, p.GPSRemoved, p.Note = "k1", true, "near the window"
	kept, existed, err := s.AddPhoto(ctx, p, []byte("abc"))
	if err != nil || existed {
		t.Fatal(existed, err)
	}
	p.ID, p.SHA256, p.Bytes, p.Added = kept.ID, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", 3, noon
	same(t, "photo", kept, p)
	data, err := os.ReadFile(s.path("photos", "ba", p.SHA256+".jpg"))
	if err != nil || string(data) != "abc" {
		t.Errorf("the file holds %q, %v", data, err)
	}
	if got := must[[]byte](t)(s.PhotoData(ctx, kept.ID)); string(got) != "abc" {
		t.Errorf("PhotoData is %q", got)
	}
	same(t, "photos of the swatch", must[[]studio.Photo](t)(s.PhotosOf(ctx, p.Swatch)), []studio.Photo{p})
	if left, _ := os.ReadDir(s.path("photos", ".arriving")); len(left) > 0 {
		t.Errorf("%d files are still arriving", len(left))
	}
}

func TestPhotoSentAgainIsKeptOnce(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	data := picture(500)
	p := shot(b.pieces[0].Number, studio.Front, studio.Bare, noon)
	p.Client = "k1"
	first, _, err := s.AddPhoto(ctx, p, data)
	if err != nil {
		t.Fatal(err)
	}
	again := func(change func(*studio.Photo), want int64, wantExisted bool) {
		t.Helper()
		q := p
		change(&q)
		got, existed, err := s.AddPhoto(ctx, q, data)
		if err != nil || existed != wantExisted || (want != 0 && got.ID != want) {
			t.Errorf("got photo %d, existed %v, %v; want %d, %v", got.ID, existed, err, want, wantExisted)
		}
	}
	again(func(*studio.Photo) {}, first.ID, true)
	again(func(q *studio.Photo) { q.Client = "k2" }, first.ID, true)                         // the same picture under another key
	again(func(q *studio.Photo) { q.Client = "" }, first.ID, true)                           // and under none
	again(func(q *studio.Photo) { q.Client, q.Face = "k3", studio.Back }, 0, false)          // the same picture of the other face
	again(func(q *studio.Photo) { q.Client, q.Swatch = "k4", b.pieces[1].Number }, 0, false) // or of another swatch
	if n := len(files(t, s)); n != 1 {
		t.Errorf("there are %d files, want 1", n)
	}
	_, _, err = s.AddPhoto(ctx, p, picture(500))
	wantProblem(t, err, studio.Conflict, "same key")

	// A retry leaves the bin alone; sending the picture anew takes it back out.
	if err := s.BinItem(ctx, "photo", first.ID); err != nil {
		t.Fatal(err)
	}
	again(func(*studio.Photo) {}, first.ID, true)
	if got := must[studio.Photo](t)(s.Photo(ctx, first.ID)); got.BinnedAt.IsZero() {
		t.Error("a retry took the photograph out of the bin")
	}
	again(func(q *studio.Photo) { q.Client = "k5" }, first.ID, true)
	if got := must[studio.Photo](t)(s.Photo(ctx, first.ID)); !got.BinnedAt.IsZero() {
		t.Error("the picture sent anew is still in the bin")
	}
}

func TestPhotosThatCannotBeAreRefused(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	good := shot(b.pieces[0].Number, studio.Front, studio.Bare, noon)
	for says, change := range map[string]func(*studio.Photo){
		"in the future":       func(p *studio.Photo) { p.Taken = noon.Add(3 * time.Minute) },
		"when the photograph": func(p *studio.Photo) { p.Taken = time.Time{} },
		"year 1904":           func(p *studio.Photo) { p.Taken = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC) },
		"front or the back":   func(p *studio.Photo) { p.Face = "edge" },
		"bare, under way":     func(p *studio.Photo) { p.Moment = "later" },
		"A GIF file can't":    func(p *studio.Photo) { p.Format = "GIF" },
		"not where a time":    func(p *studio.Photo) { p.TakenFrom = "guess" },
	} {
		p := good
		change(&p)
		_, _, err := s.AddPhoto(ctx, p, picture(10))
		wantProblem(t, err, studio.Invalid, says)
	}
	_, _, err := s.AddPhoto(ctx, good, nil)
	wantProblem(t, err, studio.Invalid, "0 bytes")
	good.Swatch = 99
	_, _, err = s.AddPhoto(ctx, good, picture(10))
	wantProblem(t, err, studio.NotFound, "no swatch 99")
	if left := files(t, s); len(left) > 0 {
		t.Errorf("refused photographs left %q", left)
	}
}

func TestPhotoPutRightKeepsWhatItSaid(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	data := picture(99)
	p, _, err := s.AddPhoto(ctx, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon.Add(-time.Hour)), data)
	if err != nil {
		t.Fatal(err)
	}
	right := p
	right.Swatch, right.Face, right.Moment, right.Taken, right.TakenFrom, right.Note = b.pieces[1].Number, studio.Back, studio.Finished, noon, "entered", "mixed up"
	if err := s.UpdatePhoto(ctx, right); err != nil {
		t.Fatal(err)
	}
	same(t, "photo", must[studio.Photo](t)(s.Photo(ctx, p.ID)), right)
	var was changeDoc
	if err := s.read.QueryRow(`SELECT was FROM photo_change WHERE photo_id = ?`, p.ID).Scan(intoJSON{&was}); err != nil {
		t.Fatal(err)
	}
	same(t, "what it said", was, changeDoc{p.Swatch, "front", "bare", "2026-03-14T11:00:00.123Z", "photo", "", false, false})

	twin, _, err := s.AddPhoto(ctx, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon), data)
	if err != nil {
		t.Fatal(err)
	}
	twin.Swatch, twin.Face = right.Swatch, right.Face
	wantProblem(t, s.UpdatePhoto(ctx, twin), studio.Conflict, "very photograph")
	right.Swatch = 99
	wantProblem(t, s.UpdatePhoto(ctx, right), studio.NotFound, "no swatch 99")
	right.ID, right.Swatch = 99, 1
	wantProblem(t, s.UpdatePhoto(ctx, right), studio.NotFound, "no photograph 99")
}

func TestLostPhotoFileIsSaid(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	lost := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	spoilt := addPhoto(t, s, shot(b.pieces[0].Number, studio.Back, studio.Bare, noon))
	os.Remove(s.path("photos", photoPath(lost.SHA256, "JPEG")))
	os.WriteFile(s.path("photos", photoPath(spoilt.SHA256, "JPEG")), []byte("rot"), 0o644)
	_, err := s.PhotoData(ctx, lost.ID)
	wantProblem(t, err, studio.Machine, "missing")
	faults := must[[]string](t)(s.Check(ctx))
	if len(faults) != 2 {
		t.Errorf("Check says %q, want two faults", faults)
	}
}

func TestMadePicturesMayBeLost(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	_, err := s.Preview(ctx, p.ID, "thumb-3")
	wantProblem(t, err, studio.NotFound, "has not been made")
	if err := s.SavePreview(ctx, p.ID, "thumb-3", []byte("small")); err != nil {
		t.Fatal(err)
	}
	if got := must[[]byte](t)(s.Preview(ctx, p.ID, "thumb-3")); string(got) != "small" {
		t.Errorf("got %q", got)
	}
	os.RemoveAll(s.path("photos", ".made"))
	_, err = s.Preview(ctx, p.ID, "thumb-3")
	wantProblem(t, err, studio.NotFound, "has not been made")
	if err := s.SavePreview(ctx, p.ID, "thumb-3", []byte("small")); err != nil {
		t.Error(err)
	}
	wantProblem(t, s.SavePreview(ctx, p.ID, "../../x", []byte("small")), studio.NotFound, "no picture")
	wantProblem(t, s.SavePreview(ctx, 99, "thumb", []byte("small")), studio.NotFound, "no photograph 99")
}

func TestNewestMeasurementCounts(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := addPhoto(t, s, shot(b.pieces[0].Number, studio.Front, studio.Bare, noon))
	want := reading(p.ID)
	first := must[studio.Measurement](t)(s.AddMeasurement(ctx, want))
	want.ID, want.Made = first.ID, noon
	same(t, "measurement", first, want)
	plain := studio.Measurement{Photo: p.ID, Method: "mean 2", Made: noon.Add(time.Second)}
	second := must[studio.Measurement](t)(s.AddMeasurement(ctx, plain))
	plain.ID = second.ID
	same(t, "plain measurement", second, plain)
	same(t, "all, newest first", must[[]studio.Measurement](t)(s.Measurements(ctx, p.ID)), []studio.Measurement{second, first})
	if got := must[studio.Photo](t)(s.Photo(ctx, p.ID)); got.Measurement == nil || got.Measurement.ID != second.ID {
		t.Errorf("the photograph has measurement %+v", got.Measurement)
	}
	_, err := s.AddMeasurement(ctx, studio.Measurement{Photo: 99})
	wantProblem(t, err, studio.NotFound, "no photograph 99")
	if _, err := s.write.Exec(`UPDATE measurement SET method = 'x'`); err == nil {
		t.Error("a measurement could be changed")
	}
}

func TestLookPrefersFinishedThenNewest(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	one, two := b.pieces[0].Number, b.pieces[1].Number
	at := func(h int) time.Time { return noon.Add(time.Duration(h-24) * time.Hour) }
	measured := func(p studio.Photo) studio.Photo {
		kept := addPhoto(t, s, p)
		must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(kept.ID)))
		return kept
	}
	measured(shot(one, studio.Front, studio.Bare, at(9)))
	old := measured(shot(one, studio.Front, studio.Finished, at(2)))
	best := measured(shot(one, studio.Front, studio.Finished, at(3)))
	measured(shot(one, studio.Front, studio.Underway, at(10)))
	newest := addPhoto(t, s, shot(one, studio.Front, studio.Finished, at(11))) // not measured
	under := measured(shot(one, studio.Back, studio.Underway, at(1)))
	measured(shot(one, studio.Back, studio.Bare, at(5)))
	measured(shot(two, studio.Front, studio.Finished, at(5)))
	if err := s.BinItem(ctx, "swatch", two); err != nil {
		t.Fatal(err)
	}
	ids := func() (out []int64) {
		for _, l := range must[[]studio.Look](t)(s.Looks(ctx)) {
			if l.Measurement == nil || l.Measurement.Photo != l.Photo {
				t.Errorf("look %+v has not its own measurement", l)
			}
			out = append(out, l.Photo)
		}
		return out
	}
	same(t, "looks", ids(), []int64{best.ID, under.ID})
	if err := s.BinItem(ctx, "photo", best.ID); err != nil {
		t.Fatal(err)
	}
	same(t, "looks without the best", ids(), []int64{old.ID, under.ID})

	same(t, "times", must[map[FaceKey]time.Time](t)(s.PhotoTimes(ctx)), map[FaceKey]time.Time{{one, studio.Front}: at(11), {one, studio.Back}: at(5)})
	if got := must[map[FaceKey]int64](t)(s.NewestPhotos(ctx)); got[FaceKey{one, studio.Front}] != newest.ID || len(got) != 2 {
		t.Errorf("newest photos are %v", got)
	}
}

func TestCopiesAreWholeWhereLinksFail(t *testing.T) {
	s := fresh(t)
	from, to := s.path("from"), s.path("sub", "to")
	data := picture(3 << 20)
	os.WriteFile(from, data, 0o644)
	if err := putFile(s.path("photos", ".arriving"), to, bytes.NewReader(data)); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(to); !bytes.Equal(got, data) {
		t.Error("the file put is not the one given")
	}
	err := putFile(s.path("photos", ".arriving"), s.path("sub", "half"), &failing{data: data[:1000]})
	if err == nil || exists(s.path("sub", "half")) {
		t.Errorf("a file cut short was put in place (%v)", err)
	}
	if left, _ := os.ReadDir(s.path("photos", ".arriving")); len(left) > 0 {
		t.Error("the half file is still there")
	}
}

// failing gives some bytes, then fails.
type failing struct{ data []byte }

func (f *failing) Read(p []byte) (int, error) {
	if len(f.data) == 0 {
		return 0, errors.New("the line went dead")
	}
	n := copy(p, f.data)
	f.data = f.data[n:]
	return n, nil
}

func TestPhotoThroughTheLidIsKeptSo(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	p := shot(b.pieces[0].Number, studio.Front, studio.Underway, noon)
	p.ThroughLid = true
	kept := addPhoto(t, s, p)
	if got := must[studio.Photo](t)(s.Photo(ctx, kept.ID)); !got.ThroughLid {
		t.Error("the lid is forgotten")
	}
	kept.ThroughLid = false
	if err := s.UpdatePhoto(ctx, kept); err != nil {
		t.Fatal(err)
	}
	if got := must[studio.Photo](t)(s.Photo(ctx, kept.ID)); got.ThroughLid {
		t.Error("the lid could not be put right")
	}
	var was changeDoc
	if err := s.read.QueryRow(`SELECT was FROM photo_change WHERE photo_id = ?`, kept.ID).Scan(intoJSON{&was}); err != nil {
		t.Fatal(err)
	}
	if !was.ThroughLid {
		t.Error("what was said before is not kept beside it")
	}
}
