package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const wearTestColumns = `id, client, swatch_number, face, protocol, version, sealer, conditions, site, control_swatch, control_face, start_at, by, recorded_at`

func scanWearTest(r scanner) (t studio.WearTest, err error) {
	err = r.Scan(&t.ID, &t.Client, &t.Face.Swatch, &t.Face.Face, &t.Protocol, &t.Version, &t.Sealer, &t.Conditions, &t.Site,
		intoRef{&t.Control.Swatch}, &t.Control.Face, intoTime{&t.Start}, &t.By, intoTime{&t.Recorded})
	if t.Control.Swatch == 0 {
		t.Control.Face = ""
	}
	return t, err
}

const wearReadingColumns = `id, test_id, client, kind, at, recorded_at, by, grade, count, photo_id, control_photo_id, voids, note`

func scanWearReading(r scanner) (x studio.WearReading, err error) {
	return x, r.Scan(&x.ID, &x.Test, &x.Client, &x.Kind, intoTime{&x.At}, intoTime{&x.Recorded}, &x.By, &x.Grade, &x.Count,
		intoRef{&x.Photo}, intoRef{&x.ControlPhoto}, intoRef{&x.Voids}, &x.Note)
}

// AddWearTest keeps a test and returns it as kept. One whose Client key is there
// already is not kept a second time: the one that is there comes back. Recorded is set
// to now.
func (s *Store) AddWearTest(ctx context.Context, t studio.WearTest) (studio.WearTest, error) {
	t.Recorded = s.now()
	if err := t.Check(t.Recorded); err != nil {
		return t, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanWearTest(tx.QueryRowContext(ctx, `SELECT `+wearTestColumns+` FROM wear_test WHERE client = ?`, t.Client))
		if err == nil {
			if there.Face != t.Face || there.Protocol != t.Protocol {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another test; reload the page and start it again.")
			}
			t = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		for _, number := range []int64{t.Face.Swatch, t.Control.Swatch} {
			if err := mustBeThere(ctx, tx, "swatch", number); err != nil {
				return err
			}
		}
		t, err = scanWearTest(tx.QueryRowContext(ctx, `INSERT INTO wear_test (client, swatch_number, face, protocol, version, sealer, conditions, site, control_swatch, control_face, start_at, by, recorded_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+wearTestColumns,
			t.Client, t.Face.Swatch, t.Face.Face, t.Protocol, t.Version, t.Sealer, t.Conditions, t.Site, ref(t.Control.Swatch), t.Control.Face, stamp(t.Start), t.By, stamp(t.Recorded)))
		return err
	})
	if err != nil {
		return studio.WearTest{}, fault(err, "test swatch %d", t.Face.Swatch)
	}
	return t, nil
}

// AddWearReading keeps what was found and returns it as kept, once for each Client
// key. Recorded is set to now.
func (s *Store) AddWearReading(ctx context.Context, x studio.WearReading) (studio.WearReading, error) {
	x.Recorded = s.now()
	if err := x.Check(x.Recorded); err != nil {
		return x, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanWearReading(tx.QueryRowContext(ctx, `SELECT `+wearReadingColumns+` FROM wear_reading WHERE client = ?`, x.Client))
		if err == nil {
			if there.Test != x.Test || there.Kind != x.Kind || there.Grade != x.Grade || there.Voids != x.Voids {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another reading; reload the page and tap again.")
			}
			x = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		t, err := scanWearTest(tx.QueryRowContext(ctx, `SELECT `+wearTestColumns+` FROM wear_test WHERE id = ?`, x.Test))
		if err != nil {
			return found(err, "test", x.Test)
		}
		if err := mayRead(ctx, tx, t, x); err != nil {
			return err
		}
		x, err = scanWearReading(tx.QueryRowContext(ctx, `INSERT INTO wear_reading (test_id, client, kind, at, recorded_at, by, grade, count, photo_id, control_photo_id, voids, note)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+wearReadingColumns,
			x.Test, x.Client, x.Kind, stamp(x.At), stamp(x.Recorded), x.By, x.Grade, x.Count, ref(x.Photo), ref(x.ControlPhoto), ref(x.Voids), x.Note))
		return err
	})
	if err != nil {
		return studio.WearReading{}, fault(err, "add a reading to test %d", x.Test)
	}
	return x, nil
}

// mayRead reports a Problem when x does not belong to its test: a photograph of
// another face, a reading before the start, or a voided one of another test.
func mayRead(ctx context.Context, tx *sql.Tx, t studio.WearTest, x studio.WearReading) error {
	for _, p := range []struct {
		field string
		id    int64
		of    studio.FaceOf
	}{{"photo", x.Photo, t.Face}, {"controlphoto", x.ControlPhoto, t.Control}} {
		if p.id == 0 {
			continue
		}
		n, err := number(ctx, tx, `SELECT count(*) FROM photo WHERE id = ? AND swatch_number = ? AND face = ?`, p.id, p.of.Swatch, p.of.Face)
		if err != nil {
			return err
		}
		if n == 0 {
			return studio.Problemf(studio.Invalid, p.field, "Photograph %d does not show the face this test is about; choose another.", p.id)
		}
	}
	if x.Kind == studio.WearRead && x.At.Before(t.Start) {
		return studio.Problemf(studio.Invalid, "at", "The test began %s, so nothing was found before; check the time.", t.Start.UTC().Format("2006-01-02 15:04 MST"))
	}
	if x.Voids == 0 {
		return nil
	}
	of, err := scanWearReading(tx.QueryRowContext(ctx, `SELECT `+wearReadingColumns+` FROM wear_reading WHERE id = ?`, x.Voids))
	if errors.Is(err, sql.ErrNoRows) || err == nil && (of.Test != x.Test || of.Kind == studio.WearVoided) {
		return studio.Problemf(studio.Conflict, "voids", "That reading is none of this test; reload the page.")
	}
	return err
}

// WearTest returns one test.
func (s *Store) WearTest(ctx context.Context, id int64) (studio.WearTest, error) {
	t, err := scanWearTest(s.read.QueryRowContext(ctx, `SELECT `+wearTestColumns+` FROM wear_test WHERE id = ?`, id))
	return t, found(err, "test", id)
}

// WearTests returns the tests of swatches that are not in the bin, oldest first.
func (s *Store) WearTests(ctx context.Context) ([]studio.WearTest, error) {
	out, err := list(ctx, s.read, scanWearTest, `SELECT `+wearTestColumns+` FROM wear_test WHERE swatch_number IN
		(SELECT w.number FROM swatch w JOIN swatch_set x ON x.id = w.set_id WHERE `+listed+`) ORDER BY id`)
	return out, fault(err, "list tests")
}

// WearReadings returns every reading by the id of its test, voided ones too, in the
// order they were kept. Test 0 is all tests.
func (s *Store) WearReadings(ctx context.Context, test int64) (map[int64][]studio.WearReading, error) {
	all, err := list(ctx, s.read, scanWearReading, `SELECT `+wearReadingColumns+` FROM wear_reading WHERE ?1 = 0 OR test_id = ?1 ORDER BY id`, test)
	if err != nil {
		return nil, fault(err, "list readings of test %d", test)
	}
	out := map[int64][]studio.WearReading{}
	for _, x := range all {
		out[x.Test] = append(out[x.Test], x)
	}
	return out, nil
}
