package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

// pair keeps one photograph of two faces.
func pair(t testing.TB, s *Store, first, second int64, key string) [2]studio.Photo {
	t.Helper()
	a, b := shot(first, studio.Front, studio.Finished, noon.Add(-time.Hour)), shot(second, studio.Back, studio.Finished, noon.Add(-time.Hour))
	a.Client, b.Client = key, key+"+2"
	kept, existed, err := s.AddPhotos(ctx, []studio.Photo{a, b}, picture(900))
	if err != nil || len(kept) != 2 || existed[0] || existed[1] {
		t.Fatal(kept, existed, err)
	}
	return [2]studio.Photo(kept)
}

func TestOnePhotographOfTwoFacesIsOneFile(t *testing.T) {
	s := fresh(t)
	furnish(t, s, false)
	two := pair(t, s, 1, 2, "k")
	if two[0].ID == two[1].ID || two[0].SHA256 != two[1].SHA256 || two[1].Swatch != 2 || two[1].Face != studio.Back {
		t.Errorf("kept as %+v", two)
	}
	if n := len(files(t, s)); n != 1 {
		t.Errorf("%d files, want one", n)
	}
	if n := must[Counts](t)(s.Seen(ctx)).Photos; n != 2 {
		t.Errorf("%d entries are counted, want 2", n)
	}
	first, second := reading(two[0].ID), reading(two[1].ID)
	first.Marks.Place, second.Marks.Place, second.Lab.L = "left", "right", 30
	must[studio.Measurement](t)(s.AddMeasurement(ctx, first))
	must[studio.Measurement](t)(s.AddMeasurement(ctx, second))
	for i, want := range []studio.Measurement{first, second} {
		if m := must[studio.Photo](t)(s.Photo(ctx, two[i].ID)).Measurement; m == nil || m.Lab != want.Lab || m.Marks.Place != want.Marks.Place {
			t.Errorf("photograph %d has the reading %+v", two[i].ID, m)
		}
	}
	alone := addPhoto(t, s, shot(3, studio.Front, studio.Bare, noon))
	same(t, "together", must[map[int64][]int64](t)(s.Together(ctx)), map[int64][]int64{two[0].ID: {two[1].ID}, two[1].ID: {two[0].ID}})
	others := must[[]studio.Photo](t)(s.SharedWith(ctx, two[1]))
	if len(others) != 1 || others[0].ID != two[0].ID || others[0].Measurement == nil {
		t.Errorf("the other is %+v", others)
	}
	if others := must[[]studio.Photo](t)(s.SharedWith(ctx, alone)); len(others) != 0 {
		t.Errorf("alone, it has %+v", others)
	}
	wantSound(t, s)
}

func TestPairIsKeptWholeOrNotAtAll(t *testing.T) {
	s := fresh(t)
	furnish(t, s, false)
	data := picture(900)
	a, b := shot(1, studio.Front, studio.Finished, noon), shot(99, studio.Front, studio.Finished, noon)
	a.Client, b.Client = "k", "k+2"
	_, _, err := s.AddPhotos(ctx, []studio.Photo{a, b}, data)
	wantProblem(t, err, studio.NotFound, "no swatch 99")
	b.Swatch, b.Face = 2, "edge"
	_, _, err = s.AddPhotos(ctx, []studio.Photo{a, b}, data)
	wantProblem(t, err, studio.Invalid, "front or the back")
	taken := addPhoto(t, s, func() studio.Photo { p := shot(3, studio.Front, studio.Bare, noon); p.Client = "k+2"; return p }())
	b.Face = studio.Front
	_, _, err = s.AddPhotos(ctx, []studio.Photo{a, b}, data) // the second's key names another picture
	wantProblem(t, err, studio.Conflict, "same key")
	if n := must[Counts](t)(s.Seen(ctx)).Photos; n != 1 || len(files(t, s)) != 1 {
		t.Errorf("%d entries and the files %q, want only photograph %d", n, files(t, s), taken.ID)
	}
	// the one that was kept before is found, and the other joins it
	b.Client = "k+3"
	one, _, err := s.AddPhoto(ctx, a, data)
	if err != nil {
		t.Fatal(err)
	}
	kept, existed, err := s.AddPhotos(ctx, []studio.Photo{a, b}, data)
	if err != nil || !existed[0] || existed[1] || kept[0].ID != one.ID {
		t.Errorf("%+v, %v, %v", kept, existed, err)
	}
	again, existed, err := s.AddPhotos(ctx, []studio.Photo{a, b}, data)
	if err != nil || !existed[0] || !existed[1] || again[1].ID != kept[1].ID || len(files(t, s)) != 2 {
		t.Errorf("sent again: %+v, %v, %v", again, existed, err)
	}
}

// The bin, a purge and a backup know that two entries name one file.
func TestOneOfAPairGoesAndTheFileStays(t *testing.T) {
	c := &clock{noon}
	s := mustOpen(t, t.TempDir(), c)
	furnish(t, s, false)
	two := pair(t, s, 1, 2, "k")
	must[studio.Measurement](t)(s.AddMeasurement(ctx, reading(two[0].ID)))
	if err := s.BinItem(ctx, "photo", two[0].ID); err != nil {
		t.Fatal(err)
	}
	if others := must[[]studio.Photo](t)(s.SharedWith(ctx, two[1])); len(others) != 0 {
		t.Errorf("in the bin, and still beside it: %+v", others)
	}
	same(t, "together", must[map[int64][]int64](t)(s.Together(ctx)), map[int64][]int64{})
	c.t = c.t.AddDate(0, 0, 31)
	if n := must[int](t)(s.PurgeBin(ctx)); n != 1 {
		t.Errorf("%d things went, want one", n)
	}
	must[[]byte](t)(s.PhotoData(ctx, two[1].ID))
	wantSound(t, s)
	old := mustOpen(t, must[string](t)(s.Backup(ctx, "")), nil)
	must[[]byte](t)(old.PhotoData(ctx, two[1].ID))
	wantSound(t, old)
	if err := s.BinItem(ctx, "photo", two[1].ID); err != nil {
		t.Fatal(err)
	}
	c.t = c.t.AddDate(0, 0, 31)
	must[int](t)(s.PurgeBin(ctx))
	if left := files(t, s); len(left) != 0 {
		t.Errorf("with both gone there are %q", left)
	}
}
