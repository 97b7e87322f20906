package store

import (
	"testing"
	"time"

	"aerugo/internal/studio"
)

func TestWearTestsComeBackAsKept(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, true)
	faces := facesOf(b)
	data := []byte("a photograph")
	photo, _, err := s.AddPhoto(ctx, studio.Photo{Swatch: faces[0].Swatch, Face: studio.Front, Moment: studio.Finished, Taken: noon, Format: "JPEG", Width: 4, Height: 3}, data)
	if err != nil {
		t.Fatal(err)
	}
	ask := studio.WearTest{Client: "a", Face: faces[0], Protocol: "light", Version: 1, Sealer: "wax", Conditions: "south window", Site: "C2", Control: faces[1], Start: noon.Add(-90 * 24 * time.Hour), By: "Ana"}
	x := must[studio.WearTest](t)(s.AddWearTest(ctx, ask))
	if x.ID == 0 || x.Control != faces[1] || !x.Recorded.Equal(noon) {
		t.Errorf("kept as %+v", x)
	}
	same(t, "test", must[studio.WearTest](t)(s.WearTest(ctx, x.ID)), x)
	same(t, "sent twice", must[studio.WearTest](t)(s.AddWearTest(ctx, ask)), x)
	other := ask
	other.Protocol = "tape"
	wantProblem(t, errorOf(s.AddWearTest(ctx, other)), studio.Conflict, "another test")

	reading := func(client string, kind studio.WearKind) studio.WearReading {
		return studio.WearReading{Test: x.ID, Client: client, Kind: kind, At: noon.Add(-time.Hour), By: "Ana"}
	}
	before := reading("r1", studio.WearBefore)
	before.Photo = photo.ID
	before = must[studio.WearReading](t)(s.AddWearReading(ctx, before))
	found := reading("r2", studio.WearRead)
	found.Grade, found.Count, found.Note = "slight", 10, "a line"
	found = must[studio.WearReading](t)(s.AddWearReading(ctx, found))
	voided := reading("r3", studio.WearVoided)
	voided.Voids = found.ID
	voided = must[studio.WearReading](t)(s.AddWearReading(ctx, voided))
	all := must[map[int64][]studio.WearReading](t)(s.WearReadings(ctx, x.ID))[x.ID]
	same(t, "readings", all, []studio.WearReading{before, found, voided})
	same(t, "standing", studio.StandingWear(all), []studio.WearReading{before})
	if _, err := s.write.Exec(`UPDATE wear_reading SET grade = 'same'`); err == nil {
		t.Error("a reading was changed")
	}
	if _, err := s.write.Exec(`UPDATE wear_test SET sealer = 'oil'`); err == nil {
		t.Error("a test was changed")
	}
	early, stranger, blind := reading("z", studio.WearRead), reading("z", studio.WearBefore), reading("z", studio.WearRead)
	early.Grade, early.At = "same", x.Start.Add(-time.Hour)
	stranger.Photo = 99
	blind.Grade, blind.Photo = "same", photo.ID
	blind.ControlPhoto = photo.ID // it shows the other face
	nobody := reading("z", studio.WearVoided)
	nobody.Voids = 99
	for says, bad := range map[string]studio.WearReading{"nothing was found before": early, "does not show": stranger, "Photograph": blind, "Choose the words": reading("z", studio.WearRead), "without its key": reading("", studio.WearEnded), "can be kept": reading("z", "seen")} {
		wantProblem(t, errorOf(s.AddWearReading(ctx, bad)), studio.Invalid, says)
	}
	wantProblem(t, errorOf(s.AddWearReading(ctx, nobody)), studio.Conflict, "none of this test")
	for says, change := range map[string]func(*studio.WearTest){
		"front or the back": func(t *studio.WearTest) { t.Face.Face = "rim" },
		"none, wax":         func(t *studio.WearTest) { t.Sealer = "honey" },
		"ISO 9223":          func(t *studio.WearTest) { t.Site = "C9" },
		"its own":           func(t *studio.WearTest) { t.Control = t.Face },
		"in the future":     func(t *studio.WearTest) { t.Start = noon.Add(time.Hour) },
		"Choose what":       func(t *studio.WearTest) { t.Protocol = "" },
	} {
		bad := ask
		bad.Client = "b"
		change(&bad)
		wantProblem(t, errorOf(s.AddWearTest(ctx, bad)), studio.Invalid, says)
	}
	lost := ask
	lost.Client, lost.Control = "b", studio.FaceOf{Swatch: 99, Face: studio.Front}
	wantProblem(t, errorOf(s.AddWearTest(ctx, lost)), studio.NotFound, "99")
	wantProblem(t, errorOf(s.WearTest(ctx, 99)), studio.NotFound, "99")
	if n := len(must[[]studio.WearTest](t)(s.WearTests(ctx))); n != 1 {
		t.Errorf("%d tests are kept, want 1", n)
	}
}

// A photograph that is thrown away for good leaves the reading it was taken for.
func TestAReadingOutlivesItsPhotograph(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, true)
	face := facesOf(b)[0]
	photo, _, err := s.AddPhoto(ctx, studio.Photo{Swatch: face.Swatch, Face: face.Face, Moment: studio.Finished, Taken: noon, Format: "JPEG", Width: 4, Height: 3}, []byte("x"))
	if err != nil {
		t.Fatal(err)
	}
	x := must[studio.WearTest](t)(s.AddWearTest(ctx, studio.WearTest{Client: "a", Face: face, Protocol: "tape", Version: 1, Sealer: "none", Start: noon}))
	must[studio.WearReading](t)(s.AddWearReading(ctx, studio.WearReading{Test: x.ID, Client: "r", Kind: studio.WearRead, At: noon, Grade: "5B", Photo: photo.ID}))
	if _, err := s.write.Exec(`DELETE FROM photo WHERE id = ?`, photo.ID); err != nil {
		t.Fatal(err)
	}
	got := must[map[int64][]studio.WearReading](t)(s.WearReadings(ctx, 0))[x.ID]
	if len(got) != 1 || got[0].Photo != 0 || got[0].Grade != "5B" {
		t.Errorf("left is %+v", got)
	}
}
