package store

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// lesson keeps a class of two adults over the swatches of the set of filled, which
// begins an hour before noon.
func lesson(t *testing.T, s *Store) (studio.Class, []studio.Swatch) {
	t.Helper()
	sets := must[[]studio.Set](t)(s.Sets(ctx))
	swatches := must[[]studio.Swatch](t)(s.SwatchesOf(ctx, sets[0].ID))
	c := must[studio.Class](t)(s.SaveClass(ctx, studio.Class{Name: "First blues", Starts: noon.Add(-time.Hour), Minutes: 180, Heads: 2, Who: studio.ForAdults, Where: studio.OpenRoom, SetID: sets[0].ID}))
	return c, swatches
}

func key(b byte) []byte { return bytes.Repeat([]byte{b}, 32) }

func TestASeatIsTakenOnce(t *testing.T) {
	s, _, _ := filled(t)
	c, _ := lesson(t, s)
	ana := must[studio.Seat](t)(s.TakeSeat(ctx, c, 1, "Ana", key(1)))
	_, err := s.TakeSeat(ctx, c, 1, "Ben", key(2))
	wantProblem(t, err, studio.Conflict, "taken already")
	_, err = s.TakeSeat(ctx, c, 5, "", key(2))
	wantProblem(t, err, studio.Invalid, "seats 1 to 4")
	same(t, "the seat by its phone", must[studio.Seat](t)(s.SeatByToken(ctx, key(1))), ana)

	// another phone takes the place of the first
	must[studio.Seat](t)(s.MoveSeat(ctx, ana.ID, key(3)))
	_, err = s.SeatByToken(ctx, key(1))
	wantProblem(t, err, studio.NotFound, "no seat")
	if got := must[studio.Seat](t)(s.SeatByToken(ctx, key(3))); got.ID != ana.ID {
		t.Errorf("the new phone sits at %v", got)
	}
	// a freed seat shuts its phone out and can be taken again
	if err := s.FreeSeat(ctx, ana.ID); err != nil {
		t.Fatal(err)
	}
	_, err = s.SeatByToken(ctx, key(3))
	wantProblem(t, err, studio.NotFound, "no seat")
	if again := must[studio.Seat](t)(s.TakeSeat(ctx, c, 1, "", key(4))); again.ID != ana.ID || again.Name != "" {
		t.Errorf("the freed seat is %v", again)
	}
}

func TestChildrenHaveNoNames(t *testing.T) {
	s, _, _ := filled(t)
	c, _ := lesson(t, s)
	c.Who = studio.ForTeens
	c = must[studio.Class](t)(s.SaveClass(ctx, c))
	_, err := s.TakeSeat(ctx, c, 1, "Ana", key(1))
	wantProblem(t, err, studio.Invalid, "No names are kept")
	wantProblem(t, s.SaveSeatTerms(ctx, studio.SeatTerms{Class: c.ID, Names: true, KeepDays: 60}), studio.Invalid, "adults only")
	must[studio.Seat](t)(s.TakeSeat(ctx, c, 1, "", key(1)))
}

func TestSwatchesGoToSeatsOnce(t *testing.T) {
	s, _, _ := filled(t)
	c, swatches := lesson(t, s)
	first := swatches[0].Number
	if err := s.GiveSwatches(ctx, c, map[int64]int{first: 1}, false); err != nil {
		t.Fatal(err)
	}
	wantProblem(t, s.GiveSwatches(ctx, c, map[int64]int{first: 2}, true), studio.Conflict, "belongs to seat 1")
	wantProblem(t, s.GiveSwatches(ctx, c, map[int64]int{9999: 2}, true), studio.Invalid, "none of this class's")
	if err := s.GiveSwatches(ctx, c, map[int64]int{first: 2}, false); err != nil {
		t.Fatal(err)
	}
	seats := must[[]studio.Seat](t)(s.Seats(ctx, c.ID))
	if len(seats) != 2 || len(seats[0].Swatches) != 0 || len(seats[1].Swatches) != 1 || seats[1].Swatches[0] != first {
		t.Errorf("seats = %v", seats)
	}
}

// erasable is a class with a student who did everything a student can do.
func erasable(t *testing.T) (s *Store, c studio.Class, seat studio.Seat, treatment, own, given int64) {
	t.Helper()
	s, _, _ = filled(t)
	c, swatches := lesson(t, s)
	const name = "Rosalindzebra"
	seat = must[studio.Seat](t)(s.TakeSeat(ctx, c, 1, name, key(1)))
	other := must[studio.Seat](t)(s.TakeSeat(ctx, c, 2, "", key(2)))
	if err := s.GiveSwatches(ctx, c, map[int64]int{swatches[0].Number: 1}, false); err != nil {
		t.Fatal(err)
	}
	ts := must[[]studio.Treatment](t)(s.Treatments(ctx, TreatmentFilter{Set: c.SetID}))
	treatment = ts[0].ID
	for _, e := range []studio.Event{
		{Treatment: treatment, Client: "seat-a", Kind: studio.Noted, At: noon, By: seat.By(), Note: "rosalindzebra spilt, Rosalindzebras did not"},
		{Treatment: treatment, Client: "seat-b", Kind: studio.Noted, At: noon, By: other.By(), Note: "hers"},
	} {
		must[[]studio.Event](t)(s.AddEvents(ctx, []studio.Event{e}))
	}
	must[studio.SeatWords](t)(s.AddSeatWords(ctx, studio.SeatWords{Client: "w", Class: c.ID, Seat: seat.ID, Face: studio.FaceOf{Swatch: swatches[0].Number, Face: studio.Front}, Words: []string{"sea", "rough"}, Note: "I am " + name, At: noon}))
	for i, data := range [][]byte{[]byte("her own photograph"), []byte("hers too, and the other's")} {
		p, _, err := s.AddPhoto(ctx, studio.Photo{Swatch: swatches[0].Number, Face: studio.Front, Moment: studio.Finished, Taken: noon, Format: "JPEG", Width: 40, Height: 30, Client: string(rune('p' + i))}, data)
		if err != nil {
			t.Fatal(err)
		}
		by := seat.ID
		if i == 1 {
			by, given = other.ID, p.ID
		} else {
			own = p.ID
		}
		if err := s.AddSeatPhoto(ctx, by, p.ID); err != nil {
			t.Fatal(err)
		}
	}
	x := studio.Sitting{Question: "Which?", From: studio.FromPicked, Seed: 1, By: "laptop"}
	for _, w := range swatches[:3] {
		x.Faces = append(x.Faces, studio.FaceOf{Swatch: w.Number, Face: studio.Front})
	}
	x = must[studio.Sitting](t)(s.AddSitting(ctx, x))
	if err := s.AddClassSitting(ctx, c.ID, x.ID); err != nil {
		t.Fatal(err)
	}
	for _, by := range []studio.Seat{seat, other} {
		must[studio.Choice](t)(s.AddChoice(ctx, studio.Choice{Sitting: x.ID, Client: "c" + by.By(), Who: by.By(), Left: x.Faces[0], Right: x.Faces[1], Chosen: studio.ChoseLeft, At: noon}))
	}
	return s, c, seat, treatment, own, given
}

func TestErasingAStudentLeavesNothingOfThem(t *testing.T) {
	s, c, seat, treatment, own, others := erasable(t)
	before := must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{treatment}))[treatment]
	if err := s.EraseSeat(ctx, seat.ID); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"studio.db", "studio.db-wal"} {
		data, err := os.ReadFile(s.path(name))
		if err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		for _, word := range []string{"Rosalindzebra spilt", "rosalindzebra spilt", "I am Rosalindzebra"} {
			if bytes.Contains(data, []byte(word)) {
				t.Errorf("%s still holds %q", name, word)
			}
		}
		// the note's other word is another one, and stays; the name by itself does not
		if n := bytes.Count(bytes.ToLower(data), []byte("rosalindzebra")) - bytes.Count(data, []byte("Rosalindzebras")); n != 0 {
			t.Errorf("%s still holds the name %d times", name, n)
		}
	}
	after := must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{treatment}))[treatment]
	if len(after) != len(before) {
		t.Fatalf("%d records became %d", len(before), len(after))
	}
	for i, e := range after {
		was := before[i]
		if was.By == "seat 1" {
			if e.By != studio.AStudent || e.Note != "a student spilt, Rosalindzebras did not" {
				t.Errorf("the record says %q: %q", e.By, e.Note)
			}
			was.By, was.Note = e.By, e.Note
		}
		same(t, "a record", e, was)
	}
	sittings := must[[]studio.Sitting](t)(s.ClassSittings(ctx, c.ID))
	choices := must[[]studio.Choice](t)(s.Choices(ctx, sittings[0].ID))
	if choices[0].Who != studio.AStudent || choices[1].Who != "seat 2" {
		t.Errorf("chosen by %q and %q", choices[0].Who, choices[1].Who)
	}
	said := must[[]studio.SeatWords](t)(s.SeatWords(ctx, c.ID))
	if len(said) != 1 || said[0].Seat != 0 || said[0].Note != "" || strings.Join(said[0].Words, " ") != "sea rough" {
		t.Errorf("words = %+v", said)
	}
	_, err := s.SeatByToken(ctx, key(1))
	wantProblem(t, err, studio.NotFound, "no seat")
	_, err = s.Photo(ctx, own)
	wantProblem(t, err, studio.NotFound, "no photograph")
	must[studio.Photo](t)(s.Photo(ctx, others))
	_, err = s.Seat(ctx, seat.ID)
	wantProblem(t, err, studio.NotFound, "no seat")

	// what others did is still never changed
	for _, q := range []string{`UPDATE event SET by = 'x'`, `UPDATE event SET note = 'x'`, `UPDATE event SET by = 'a student' WHERE by = 'a student'`, `UPDATE event SET step = 9`, `UPDATE choice SET who = 'x'`, `UPDATE choice SET chosen = 'right'`, `UPDATE seat_words SET words = '[]'`, `UPDATE seat_words SET note = 'x'`} {
		if _, err := s.write.Exec(q); err == nil {
			t.Errorf("%s was let through", q)
		}
	}
}

func TestGivenPhotographsStay(t *testing.T) {
	s, _, seat, _, own, _ := erasable(t)
	if err := s.SetSeatPhotos(ctx, seat.ID, studio.PhotosStay); err != nil {
		t.Fatal(err)
	}
	if err := s.EraseSeat(ctx, seat.ID); err != nil {
		t.Fatal(err)
	}
	must[studio.Photo](t)(s.Photo(ctx, own))
}

func TestStudentsAreErasedWhenTheirTimeIsUp(t *testing.T) {
	s, c, _, _, _, _ := erasable(t)
	terms := must[studio.SeatTerms](t)(s.SeatTerms(ctx, c))
	same(t, "the usual terms", terms, studio.SeatTerms{Class: c.ID, Names: true, KeepDays: 60, LinkDays: 14})
	s.now = func() time.Time { return terms.Erased(c).Add(-time.Second) }
	if n := must[int](t)(s.EraseDueSeats(ctx)); n != 0 {
		t.Errorf("%d were erased too early", n)
	}
	s.now = func() time.Time { return terms.Erased(c) }
	if n := must[int](t)(s.EraseDueSeats(ctx)); n != 2 {
		t.Errorf("%d were erased, want 2", n)
	}
	if seats := must[[]studio.Seat](t)(s.Seats(ctx, c.ID)); len(seats) != 0 {
		t.Errorf("seats = %v", seats)
	}
	x := must[[]studio.Sitting](t)(s.ClassSittings(ctx, c.ID))[0]
	choices := must[[]studio.Choice](t)(s.Choices(ctx, x.ID))
	if choices[0].Who != "a student" || choices[1].Who != "a student (2)" {
		t.Errorf("two students became %q and %q", choices[0].Who, choices[1].Who)
	}
}

func TestWordsAreKeptOnce(t *testing.T) {
	s, c, seat, _, _, _ := erasable(t)
	w := studio.SeatWords{Client: "w", Class: c.ID, Seat: seat.ID, Face: studio.FaceOf{Face: studio.Front}, Words: []string{"other"}, At: noon}
	w.Face.Swatch = must[[]studio.SeatWords](t)(s.SeatWords(ctx, c.ID))[0].Face.Swatch
	if got := must[studio.SeatWords](t)(s.AddSeatWords(ctx, w)); got.Words[0] != "sea" {
		t.Errorf("words sent twice became %v", got.Words)
	}
	w.Face.Face = studio.Back
	_, err := s.AddSeatWords(ctx, w)
	wantProblem(t, err, studio.Conflict, "another face")
}

// A class that is gone for good takes its students with it, and a studio opened after
// their time is up erases them before anything is read.
func TestStudentsGoWithTheirClass(t *testing.T) {
	s, c, _, treatment, own, _ := erasable(t)
	if err := s.BinItem(ctx, "class", c.ID); err != nil {
		t.Fatal(err)
	}
	s.now = func() time.Time { return noon.AddDate(0, 0, 31) }
	must[int](t)(s.PurgeBin(ctx))
	for _, e := range must[map[int64][]studio.Event](t)(s.Events(ctx, []int64{treatment}))[treatment] {
		if strings.HasPrefix(e.By, "seat ") {
			t.Errorf("the record still names %s", e.By)
		}
	}
	_, err := s.Photo(ctx, own)
	wantProblem(t, err, studio.NotFound, "no photograph")
}

func TestOpeningErasesWhatIsDue(t *testing.T) {
	s, c, _, _, _, _ := erasable(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again := must[*Store](t)(Open(ctx, s.Dir(), Options{Now: func() time.Time { return noon.AddDate(0, 0, 61) }}))
	defer again.Close()
	if seats := must[[]studio.Seat](t)(again.Seats(ctx, c.ID)); len(seats) != 0 {
		t.Errorf("seats = %v", seats)
	}
}
