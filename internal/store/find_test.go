package store

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"aerugo/internal/studio"
)

// What is found in short is what the whole records say.
func TestShortLooksAgreeWithWholeOnes(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	for i, moment := range []studio.Moment{studio.Finished, studio.Bare, studio.Finished} {
		p := addPhoto(t, s, shot(b.pieces[i%2].Number, studio.Front, moment, noon.Add(time.Duration(-i)*time.Minute)))
		for range 2 {
			m := reading(p.ID)
			m.Lab.L += float64(i)
			if i == 1 {
				m.Coverage = nil
			}
			must[studio.Measurement](t)(s.AddMeasurement(ctx, m))
		}
	}
	short := must[[]FaceLook](t)(s.FaceLooks(ctx))
	whole := must[[]studio.Look](t)(s.Looks(ctx))
	if len(short) != len(whole) || len(short) != 2 {
		t.Fatalf("%d looks in short, %d whole", len(short), len(whole))
	}
	for i, l := range whole {
		want := FaceLook{Swatch: l.Swatch, Face: l.Face, Photo: l.Photo, Lab: l.Measurement.Lab, Name: l.Measurement.Name, Coverage: -1, Glare: l.Measurement.GlareShare}
		if l.Measurement.Coverage != nil {
			want.Coverage = l.Measurement.Coverage.Value
		}
		same(t, "look in short", short[i], want)
	}
}

func TestWrittenTellsRecipeMetalSuppliesAndNote(t *testing.T) {
	s := fresh(t)
	b := furnish(t, s, false)
	if err := s.UpdateSwatchNote(ctx, b.pieces[0].Number, "a drop ran"); err != nil {
		t.Fatal(err)
	}
	all := must[[]Words](t)(s.Written(ctx))
	if len(all) != 3 {
		t.Fatalf("%d swatches are written of", len(all))
	}
	w := all[0]
	for field, has := range map[string]string{w.SetName: b.set.Name, w.Metal: "C26000", w.Note: "a drop ran", w.Recipes: "Salt and fume", w.Materials: "sodium-chloride", w.Supplies: "Table salt", w.Settings: "fuming 2 h"} {
		if !strings.Contains(field, has) {
			t.Errorf("%q does not tell %q: %+v", field, has, w)
		}
	}
	if w.Swatch != b.pieces[0].Number || w.Set != b.set.ID {
		t.Errorf("it is written of %d of set %d", w.Swatch, w.Set)
	}
	if blank := all[2]; blank.Recipes != "" || blank.Metal == "" {
		t.Errorf("of the blank it says %+v", blank)
	}
}

// BenchmarkFindIn2000 reads what finding needs from a studio of 2000 swatches.
func BenchmarkFindIn2000(b *testing.B) {
	s := fresh(b)
	x := furnish(b, s, false)
	for round := range 20 {
		var pieces []NewSwatch
		for range 100 {
			pieces = append(pieces, NewSwatch{Swatch: studio.Swatch{MetalID: x.metal.ID, WidthMM: 50, HeightMM: 70}, Treatments: []studio.Treatment{{Faces: studio.OnBoth, Layer: 1, VersionID: x.recipe.Latest.ID, Steps: steps(x.salt.ID, x.chamber.ID), Order: 1, Replicate: 1}}})
		}
		set := x.set
		set.ID, set.Name = 0, fmt.Sprint("Set ", round)
		if _, _, err := s.AddSet(ctx, set, pieces); err != nil {
			b.Fatal(err)
		}
	}
	if _, err := s.write.Exec(`INSERT INTO photo (swatch_number, face, moment, taken_at, taken_from, sha256, format, size_bytes, width_px, height_px, profile, camera, gps_removed, client, added_at, note)
		SELECT w.number, f.face, 'finished', '2026-03-14T12:00:00.000Z', 'photo', printf('%064x', w.number * 2 + (f.face = 'back')), 'JPEG', 1, 1, 1, '', '', 0, 'c' || w.number || f.face, '2026-03-14T12:00:00.000Z', '' FROM swatch w, (SELECT 'front' AS face UNION SELECT 'back') f`); err != nil {
		b.Fatal(err)
	}
	if _, err := s.write.Exec(`INSERT INTO measurement (photo_id, method, made_at, marks, calibrated, lab_l, lab_a, lab_b, spread_lab, colour_name, palette, glare, detail, warnings)
		SELECT id, 'm', '2026-03-14T12:00:00.000Z', '{}', 1, 50, -20, 0, 3, 'green', '[]', 0, '{}', '[]' FROM photo`); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := s.Written(ctx); err != nil {
			b.Fatal(err)
		}
		if looks, err := s.FaceLooks(ctx); err != nil || len(looks) < 4000 {
			b.Fatal(len(looks), err)
		}
	}
}
