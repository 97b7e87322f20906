package archive

import (
	"strings"
	"testing"

	"aerugo/internal/science/colour"
	"aerugo/internal/store"
	"aerugo/internal/studio"
)

// Two swatches in one photograph are two entries and one file, and come back so,
// each with its own reading.
func TestOnePhotographOfTwoFacesTravels(t *testing.T) {
	s := fresh(t)
	metal, err := s.SaveMetal(ctx, studio.Metal{Name: "Brass", Alloy: "C26000", ThicknessMM: 0.8})
	ok(t, err)
	piece := store.NewSwatch{Swatch: studio.Swatch{MetalID: metal.ID, WidthMM: 50, HeightMM: 50}}
	_, swatches, err := s.AddSet(ctx, studio.Set{Name: "Two", Shape: studio.Loose}, []store.NewSwatch{piece, piece})
	ok(t, err)
	var entries []studio.Photo
	for i, x := range swatches {
		entries = append(entries, studio.Photo{Swatch: x.Number, Face: studio.Front, Moment: studio.Finished, Taken: noon, Format: "JPEG", Width: 40, Height: 30, Client: []string{"k", "k+2"}[i]})
	}
	kept, _, err := s.AddPhotos(ctx, entries, []byte("one picture of two"))
	ok(t, err)
	places := []string{"left", "right"}
	for i, p := range kept {
		_, err := s.AddMeasurement(ctx, studio.Measurement{Photo: p.ID, Method: "m", Name: "brown", Lab: colour.Lab{L: float64(40 + i)}, Marks: studio.Marks{Place: places[i], OnMat: true}})
		ok(t, err)
	}
	packed := export(t, s)
	names, _ := contents(t, packed)
	files := 0
	for _, n := range names {
		if strings.HasPrefix(n, "photos/") {
			files++
		}
	}
	other := openAt(t, t.TempDir(), noon)
	report, err := take(other, packed)
	ok(t, err)
	if files != 1 || report.Photos != 2 || report.Measurements != 2 {
		t.Errorf("%d files; taken in: %+v", files, report)
	}
	for i, p := range kept {
		got, err := other.Photo(ctx, p.ID)
		ok(t, err)
		if m := got.Measurement; m == nil || m.Marks.Place != places[i] || m.Lab.L != float64(40+i) || got.Swatch != swatches[i].Number {
			t.Errorf("%s came back as %+v", places[i], got)
		}
		if beside, err := other.SharedWith(ctx, got); err != nil || len(beside) != 1 || beside[0].ID != kept[1-i].ID {
			t.Errorf("beside the %s one: %+v, %v", places[i], beside, err)
		}
		if data, err := other.PhotoData(ctx, p.ID); err != nil || string(data) != "one picture of two" {
			t.Errorf("%s: %q, %v", places[i], data, err)
		}
	}
	if faults, err := other.Check(ctx); err != nil || len(faults) > 0 {
		t.Errorf("not sound: %q, %v", faults, err)
	}
}
