package store

import (
	"context"
	"database/sql"
	"fmt"
	"regexp"
	"slices"

	"aerugo/internal/studio"
)

// EraseSeat takes a student out of everything: the seat with its name, its phone, and
// its links to swatches, words and photographs. In the record "seat 5" becomes
// "a student". The photographs go too, unless the student gave them to the studio. What
// was done to a swatch, and when, stays. Backups and archives made before are not
// reached.
func (s *Store) EraseSeat(ctx context.Context, id int64) error {
	x, err := s.Seat(ctx, id)
	if err != nil {
		return err
	}
	if err := s.removing(ctx, func(tx *sql.Tx) error { return eraseSeat(ctx, tx, x) }); err != nil {
		return fault(err, "erase seat %d", id)
	}
	// what was taken out is overwritten in the file (secure_delete); the log beside the database still holds the old pages; a reader may keep it from
	// being emptied now, then it is at the next opening or closing
	var busy, log, done int
	if err := s.write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &log, &done); err != nil {
		return fault(err, "erase seat %d", id)
	}
	return nil
}

// ofClass are the treatments whose records a seat of a class can be named in: those of
// the class's own swatches and of the seat's.
const ofClass = `(SELECT t.id FROM treatment t JOIN swatch w ON w.number = t.swatch_number
	WHERE w.set_id = (SELECT set_id FROM class WHERE id = ?1) OR w.number IN (SELECT swatch_number FROM seat_swatch WHERE seat_id = ?2))`

func eraseSeat(ctx context.Context, tx *sql.Tx, x studio.Seat) error {
	if err := eraseName(ctx, tx, x); err != nil {
		return fmt.Errorf("name in notes: %w", err)
	}
	if _, err := tx.ExecContext(ctx, `UPDATE event SET by = ?3 WHERE by = ?4 AND treatment_id IN `+ofClass, x.Class, x.ID, studio.AStudent, x.By()); err != nil {
		return fmt.Errorf("events: %w", err)
	}
	sittings, err := list(ctx, tx, scanID, `SELECT sitting_id FROM class_sitting WHERE class_id = ?`, x.Class)
	if err != nil {
		return err
	}
	for _, id := range sittings {
		// two erased students of one sitting stay two, or its agreement would change
		people, err := list(ctx, tx, func(r scanner) (n string, err error) { return n, r.Scan(&n) }, `SELECT DISTINCT who FROM choice WHERE sitting_id = ?`, id)
		if err != nil {
			return err
		}
		name := studio.AStudent
		for n := 2; slices.Contains(people, name); n++ {
			name = fmt.Sprintf("%s (%d)", studio.AStudent, n)
		}
		if _, err := tx.ExecContext(ctx, `UPDATE choice SET who = ? WHERE who = ? AND sitting_id = ?`, name, x.By(), id); err != nil {
			return fmt.Errorf("choices: %w", err)
		}
	}
	photos, err := list(ctx, tx, scanID, `SELECT photo_id FROM seat_photo WHERE seat_id = ?`, x.ID)
	if err != nil {
		return err
	}
	if x.Photos != studio.PhotosStay {
		if err := deletePhotos(ctx, tx, photos); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, `UPDATE seat_words SET note = '' WHERE seat_id = ?`, x.ID); err != nil {
		return fmt.Errorf("notes: %w", err)
	}
	_, err = tx.ExecContext(ctx, `DELETE FROM seat WHERE id = ?`, x.ID)
	return err
}

// eraseName takes the student's name out of the notes that the seat wrote.
func eraseName(ctx context.Context, tx *sql.Tx, x studio.Seat) error {
	if x.Name == "" {
		return nil
	}
	type note struct {
		id   int64
		text string
	}
	notes, err := list(ctx, tx, func(r scanner) (n note, err error) { return n, r.Scan(&n.id, &n.text) },
		`SELECT id, note FROM event WHERE by = ?3 AND note <> '' AND treatment_id IN `+ofClass, x.Class, x.ID, x.By())
	if err != nil {
		return err
	}
	for _, n := range notes {
		text := withoutName(n.text, x.Name)
		if text == n.text {
			continue
		}
		if _, err := tx.ExecContext(ctx, `UPDATE event SET by = ?, note = ? WHERE id = ?`, studio.AStudent, text, n.id); err != nil {
			return err
		}
	}
	return nil
}

// withoutName writes 'a student' for a name that stands as a word, however it is
// written.
func withoutName(text, name string) string {
	word := regexp.MustCompile(`(?i)(^|[^\pL\pN])` + regexp.QuoteMeta(name) + `($|[^\pL\pN])`)
	out := ""
	for {
		found := word.FindStringSubmatchIndex(text)
		if found == nil {
			return out + text
		}
		out += text[:found[3]] + studio.AStudent
		text = text[found[4]:]
	}
}

// EraseDueSeats erases the students of every class whose time is up by the store's
// clock, and returns how many they were.
func (s *Store) EraseDueSeats(ctx context.Context) (int, error) {
	classes, err := list(ctx, s.read, scanID, `SELECT DISTINCT class_id FROM seat ORDER BY class_id`)
	if err != nil {
		return 0, fault(err, "look for students to erase")
	}
	erased := 0
	for _, id := range classes {
		c, err := scanClass(s.read.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE id = ?`, id))
		if err != nil {
			return erased, found(err, "class", id)
		}
		t, err := s.SeatTerms(ctx, c)
		if err != nil {
			return erased, err
		}
		if s.now().Before(t.Erased(c)) {
			continue
		}
		seats, err := s.Seats(ctx, id)
		if err != nil {
			return erased, err
		}
		for _, x := range seats {
			if err := s.EraseSeat(ctx, x.ID); err != nil {
				return erased, err
			}
			erased++
		}
	}
	return erased, nil
}
