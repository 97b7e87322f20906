package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"aerugo/internal/studio"
)

// SeatTerms returns what a class promises its students; the usual terms where nothing
// else was said.
func (s *Store) SeatTerms(ctx context.Context, c studio.Class) (studio.SeatTerms, error) {
	t := studio.SeatTerms{Class: c.ID}
	err := s.read.QueryRowContext(ctx, `SELECT names, keep_days, link_days FROM class_terms WHERE class_id = ?`, c.ID).Scan(&t.Names, &t.KeepDays, &t.LinkDays)
	if errors.Is(err, sql.ErrNoRows) {
		return studio.UsualTerms(c), nil
	}
	t.Names = t.Names && c.Who == studio.ForAdults // said before the class was for children
	return t, fault(err, "read terms of class %d", c.ID)
}

// SaveSeatTerms keeps what a class promises its students.
func (s *Store) SaveSeatTerms(ctx context.Context, t studio.SeatTerms) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		c, err := scanClass(tx.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE id = ?`, t.Class))
		if err != nil {
			return found(err, "class", t.Class)
		}
		if err := t.Check(c); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO class_terms (class_id, names, keep_days, link_days) VALUES (?, ?, ?, ?)
			ON CONFLICT (class_id) DO UPDATE SET names = excluded.names, keep_days = excluded.keep_days, link_days = excluded.link_days`, t.Class, t.Names, t.KeepDays, t.LinkDays)
		return err
	})
	return fault(err, "keep terms of class %d", t.Class)
}

const seatColumns = `id, class_id, number, name, joined_at, hand_at, photos`

func scanSeat(r scanner) (x studio.Seat, err error) {
	return x, r.Scan(&x.ID, &x.Class, &x.Number, intoWords{&x.Name}, intoTime{&x.Joined}, intoTime{&x.Hand}, &x.Photos)
}

// withSwatches fills in which swatches each seat works on.
func withSwatches(ctx context.Context, q querier, seats []studio.Seat, where string, arg int64) error {
	type given struct{ seat, swatch int64 }
	all, err := list(ctx, q, func(r scanner) (g given, err error) { return g, r.Scan(&g.seat, &g.swatch) },
		`SELECT seat_id, swatch_number FROM seat_swatch WHERE `+where+` ORDER BY swatch_number`, arg)
	for i := range seats {
		for _, g := range all {
			if g.seat == seats[i].ID {
				seats[i].Swatches = append(seats[i].Swatches, g.swatch)
			}
		}
	}
	return err
}

// Seats returns the seats of a class that are taken or have swatches, by number.
func (s *Store) Seats(ctx context.Context, class int64) (out []studio.Seat, err error) {
	err = s.view(ctx, func(q querier) error {
		if out, err = list(ctx, q, scanSeat, `SELECT `+seatColumns+` FROM seat WHERE class_id = ? ORDER BY number`, class); err != nil {
			return err
		}
		return withSwatches(ctx, q, out, `seat_id IN (SELECT id FROM seat WHERE class_id = ?)`, class)
	})
	return out, fault(err, "list seats of class %d", class)
}

// oneSeat reads the seat that a condition picks.
func (s *Store) oneSeat(ctx context.Context, where string, args ...any) (x studio.Seat, err error) {
	err = s.view(ctx, func(q querier) error {
		if x, err = scanSeat(q.QueryRowContext(ctx, `SELECT `+seatColumns+` FROM seat WHERE `+where, args...)); err != nil {
			return err
		}
		one := []studio.Seat{x}
		err := withSwatches(ctx, q, one, `seat_id = ?`, x.ID)
		x = one[0]
		return err
	})
	return x, err
}

// Seat returns one seat.
func (s *Store) Seat(ctx context.Context, id int64) (studio.Seat, error) {
	x, err := s.oneSeat(ctx, `id = ?`, id)
	return x, found(err, "seat", id)
}

// SeatByToken returns the seat that a phone's token leads to; the Problem is of kind
// NotFound if there is none.
func (s *Store) SeatByToken(ctx context.Context, tokenHash []byte) (studio.Seat, error) {
	x, err := s.oneSeat(ctx, `id = (SELECT seat_id FROM seat_key WHERE token_hash = ?)`, tokenHash)
	if errors.Is(err, sql.ErrNoRows) {
		return x, studio.Problemf(studio.NotFound, "", "This phone has no seat in a class.")
	}
	return x, fault(err, "look for a seat")
}

// seatRow makes sure that the seat of a number is there and returns its id.
func seatRow(ctx context.Context, tx *sql.Tx, class int64, n int) (int64, error) {
	if _, err := tx.ExecContext(ctx, `INSERT INTO seat (class_id, number, photos) VALUES (?, ?, 'gone') ON CONFLICT DO NOTHING`, class, n); err != nil {
		return 0, err
	}
	return number(ctx, tx, `SELECT id FROM seat WHERE class_id = ? AND number = ?`, class, n)
}

// TakeSeat lets a phone sit down at a free seat. Only the hash of its token is kept
// (16 bytes or more). The class is c as it was read.
func (s *Store) TakeSeat(ctx context.Context, c studio.Class, n int, name string, tokenHash []byte) (studio.Seat, error) {
	if err := studio.CheckSeat(c, n); err != nil {
		return studio.Seat{}, err
	}
	t, err := s.SeatTerms(ctx, c)
	if err != nil {
		return studio.Seat{}, err
	}
	if err := studio.CheckSeatName(name, t); err != nil {
		return studio.Seat{}, err
	}
	var id int64
	err = s.change(ctx, func(tx *sql.Tx) (err error) {
		if id, err = seatRow(ctx, tx, c.ID, n); err != nil {
			return err
		}
		done, err := tx.ExecContext(ctx, `UPDATE seat SET name = ?, joined_at = ? WHERE id = ? AND joined_at IS NULL`, words(name), stamp(s.now()), id)
		if err != nil {
			return err
		}
		if k, err := done.RowsAffected(); err != nil {
			return err
		} else if k == 0 {
			return studio.Problemf(studio.Conflict, "number", "Seat %d is taken already; choose another one. If it is yours, ask your teacher for a code for this phone.", n)
		}
		return giveKey(ctx, tx, id, tokenHash, s.now())
	})
	if err != nil {
		return studio.Seat{}, fault(err, "take seat %d of class %d", n, c.ID)
	}
	return s.Seat(ctx, id)
}

// giveKey makes a phone the only one of its seat.
func giveKey(ctx context.Context, tx *sql.Tx, seat int64, tokenHash []byte, now time.Time) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM seat_key WHERE seat_id = ?`, seat); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO seat_key (seat_id, token_hash, made_at) VALUES (?, ?, ?)`, seat, tokenHash, stamp(now))
	return err
}

// MoveSeat lets another phone sit at a seat in place of the one that did.
func (s *Store) MoveSeat(ctx context.Context, id int64, tokenHash []byte) (studio.Seat, error) {
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := changeOne(ctx, tx, "seat", id, `UPDATE seat SET joined_at = coalesce(joined_at, ?) WHERE id = ?`, stamp(s.now()), id); err != nil {
			return err
		}
		return giveKey(ctx, tx, id, tokenHash, s.now())
	})
	if err != nil {
		return studio.Seat{}, fault(err, "move seat %d", id)
	}
	return s.Seat(ctx, id)
}

// FreeSeat shuts a seat's phone out and forgets the name, so that somebody can sit
// there again. Swatches and what was done stay with the seat.
func (s *Store) FreeSeat(ctx context.Context, id int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := changeOne(ctx, tx, "seat", id, `UPDATE seat SET joined_at = NULL, name = NULL, hand_at = NULL WHERE id = ?`, id); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `DELETE FROM seat_key WHERE seat_id = ?`, id)
		return err
	})
	return fault(err, "free seat %d", id)
}

// RenameSeat keeps another name, or none, for who sits at a seat.
func (s *Store) RenameSeat(ctx context.Context, id int64, name string, t studio.SeatTerms) error {
	if err := studio.CheckSeatName(name, t); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "seat", id, `UPDATE seat SET name = ? WHERE id = ?`, words(name), id)
	})
	return fault(err, "rename seat %d", id)
}

// RaiseHand puts a seat's hand up or down. One that is up stays up since the first time.
func (s *Store) RaiseHand(ctx context.Context, id int64, up bool) error {
	at := time.Time{}
	if up {
		at = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "seat", id, `UPDATE seat SET hand_at = CASE WHEN ?1 IS NULL THEN NULL ELSE coalesce(hand_at, ?1) END WHERE id = ?2`, stamp(at), id)
	})
	return fault(err, "raise or lower the hand of seat %d", id)
}

// SetSeatPhotos keeps what becomes of a student's photographs in the end.
func (s *Store) SetSeatPhotos(ctx context.Context, id int64, to studio.SeatPhotos) error {
	if to != studio.PhotosStay && to != studio.PhotosGo {
		return studio.Problemf(studio.Invalid, "photos", "Say whether your photographs stay with the studio or go.")
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "seat", id, `UPDATE seat SET photos = ? WHERE id = ?`, to, id)
	})
	return fault(err, "keep what becomes of the photographs of seat %d", id)
}

// GiveSwatches hands swatches to seats of a class, all or none. With onlyFree, a swatch
// that another seat has is refused; else it changes hands. Seat 0 takes it back.
func (s *Store) GiveSwatches(ctx context.Context, c studio.Class, to map[int64]int, onlyFree bool) error {
	for _, n := range to {
		if n == 0 {
			continue
		}
		if err := studio.CheckSeat(c, n); err != nil {
			return err
		}
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		for swatch, n := range to {
			set, err := number(ctx, tx, `SELECT coalesce(set_id, 0) FROM swatch WHERE number = ? AND binned_at IS NULL`, swatch)
			if errors.Is(err, sql.ErrNoRows) || err == nil && (set != c.SetID || set == 0) {
				return studio.Problemf(studio.Invalid, "swatch", "Swatch %d is none of this class's swatches; look at its stamp again.", swatch)
			}
			if err != nil {
				return err
			}
			var other int
			err = tx.QueryRowContext(ctx, `SELECT s.number FROM seat_swatch w JOIN seat s ON s.id = w.seat_id WHERE w.swatch_number = ?`, swatch).Scan(&other)
			if err != nil && !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			if err == nil && onlyFree && other != n {
				return studio.Problemf(studio.Conflict, "swatch", "Swatch %d belongs to seat %d; ask your teacher if that is wrong.", swatch, other)
			}
			if _, err := tx.ExecContext(ctx, `DELETE FROM seat_swatch WHERE swatch_number = ?`, swatch); err != nil {
				return err
			}
			if n == 0 {
				continue
			}
			seat, err := seatRow(ctx, tx, c.ID, n)
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO seat_swatch (seat_id, swatch_number) VALUES (?, ?)`, seat, swatch); err != nil {
				return err
			}
		}
		return nil
	})
	return fault(err, "hand out swatches of class %d", c.ID)
}

// AddSeatPhoto keeps which seat took a photograph.
func (s *Store) AddSeatPhoto(ctx context.Context, seat, photo int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO seat_photo (seat_id, photo_id) VALUES (?, ?) ON CONFLICT DO NOTHING`, seat, photo)
		return err
	})
	return fault(err, "keep photograph %d of seat %d", photo, seat)
}

// SeatPhotos returns the photographs that a seat took, in the order they came.
func (s *Store) SeatPhotos(ctx context.Context, seat int64) ([]studio.Photo, error) {
	ids, err := list(ctx, s.read, scanID, `SELECT p.photo_id FROM seat_photo p JOIN photo f ON f.id = p.photo_id WHERE p.seat_id = ? AND f.binned_at IS NULL ORDER BY p.photo_id`, seat)
	if err != nil {
		return nil, fault(err, "list photographs of seat %d", seat)
	}
	var out []studio.Photo
	for _, id := range ids {
		p, err := s.Photo(ctx, id)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

const seatWordsColumns = `id, client, class_id, seat_id, swatch_number, face, words, covered, note, at, recorded_at`

func scanSeatWords(r scanner) (w studio.SeatWords, err error) {
	return w, r.Scan(&w.ID, &w.Client, &w.Class, intoRef{&w.Seat}, &w.Face.Swatch, &w.Face.Face, intoJSON{&w.Words}, &w.Covered, &w.Note, intoTime{&w.At}, intoTime{&w.Recorded})
}

// AddSeatWords keeps what a student says of a face. What comes with a key that is there
// already is not kept a second time: what is there comes back. Recorded is set to now.
func (s *Store) AddSeatWords(ctx context.Context, w studio.SeatWords) (studio.SeatWords, error) {
	w.Recorded = s.now()
	if err := w.Check(w.Recorded); err != nil {
		return w, err
	}
	if w.Words == nil {
		w.Words = []string{}
	}
	text, err := asJSON(w.Words)
	if err != nil {
		return w, err
	}
	err = s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanSeatWords(tx.QueryRowContext(ctx, `SELECT `+seatWordsColumns+` FROM seat_words WHERE client = ?`, w.Client))
		if err == nil {
			if there.Seat != w.Seat || there.Face != w.Face {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another face; reload the page and write again.")
			}
			w = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		w, err = scanSeatWords(tx.QueryRowContext(ctx, `INSERT INTO seat_words (client, class_id, seat_id, swatch_number, face, words, covered, note, at, recorded_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+seatWordsColumns,
			w.Client, w.Class, ref(w.Seat), w.Face.Swatch, w.Face.Face, text, w.Covered, w.Note, stamp(w.At), stamp(w.Recorded)))
		return err
	})
	return w, fault(err, "keep words of seat %d", w.Seat)
}

// SeatWords returns everything students of a class said of faces, in the order kept.
func (s *Store) SeatWords(ctx context.Context, class int64) ([]studio.SeatWords, error) {
	out, err := list(ctx, s.read, scanSeatWords, `SELECT `+seatWordsColumns+` FROM seat_words WHERE class_id = ? ORDER BY id`, class)
	return out, fault(err, "list words of class %d", class)
}

// AddClassSitting makes a sitting one of a class's.
func (s *Store) AddClassSitting(ctx context.Context, class, sitting int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO class_sitting (class_id, sitting_id) VALUES (?, ?)`, class, sitting)
		return err
	})
	return fault(err, "add sitting %d to class %d", sitting, class)
}

// ClassSittings returns the sittings of a class, the newest first.
func (s *Store) ClassSittings(ctx context.Context, class int64) ([]studio.Sitting, error) {
	ids, err := list(ctx, s.read, scanID, `SELECT sitting_id FROM class_sitting WHERE class_id = ? ORDER BY id DESC`, class)
	if err != nil {
		return nil, fault(err, "list sittings of class %d", class)
	}
	var out []studio.Sitting
	for _, id := range ids {
		x, err := s.Sitting(ctx, id)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

func scanDoor(r scanner) (d studio.Door, err error) {
	return d, r.Scan(&d.Class, &d.Code, intoTime{&d.Opened}, intoTime{&d.Closes})
}

// OpenDoor keeps the way into a class.
func (s *Store) OpenDoor(ctx context.Context, d studio.Door) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO class_door (class_id, code, opened_at, closes_at) VALUES (?, ?, ?, ?)
			ON CONFLICT (class_id) DO UPDATE SET code = excluded.code, opened_at = excluded.opened_at, closes_at = excluded.closes_at`,
			d.Class, d.Code, stamp(d.Opened), stamp(d.Closes))
		return err
	})
	return fault(err, "open the door of class %d", d.Class)
}

// CloseDoor shuts the way into a class; who is in stays in.
func (s *Store) CloseDoor(ctx context.Context, class int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM class_door WHERE class_id = ?`, class)
		return err
	})
	return fault(err, "close the door of class %d", class)
}

// Door returns the way into a class, empty where it is shut.
func (s *Store) Door(ctx context.Context, class int64) (studio.Door, error) {
	d, err := scanDoor(s.read.QueryRowContext(ctx, `SELECT class_id, code, opened_at, closes_at FROM class_door WHERE class_id = ?`, class))
	if errors.Is(err, sql.ErrNoRows) {
		return studio.Door{Class: class}, nil
	}
	return d, fault(err, "read the door of class %d", class)
}

// DoorByCode returns the door with that code, and false when there is none.
func (s *Store) DoorByCode(ctx context.Context, code string) (studio.Door, bool, error) {
	d, err := scanDoor(s.read.QueryRowContext(ctx, `SELECT class_id, code, opened_at, closes_at FROM class_door WHERE code = ?`, code))
	if errors.Is(err, sql.ErrNoRows) {
		return d, false, nil
	}
	return d, err == nil, fault(err, "look for a door")
}

// checkSeats holds the seats of an archive to the same rules as those taken here.
func checkSeats(ctx context.Context, q querier) error {
	seats, err := list(ctx, q, scanSeat, `SELECT `+seatColumns+` FROM seat`)
	if err != nil {
		return err
	}
	for _, x := range seats {
		c, err := scanClass(q.QueryRowContext(ctx, `SELECT `+classColumns+` FROM class WHERE id = ?`, x.Class))
		if err != nil {
			return err
		}
		if x.Number > studio.MaxSeats {
			return unusable("Seat %d is more than a class has.", x.Number)
		}
		if err := studio.CheckSeatName(x.Name, studio.SeatTerms{Names: c.Who == studio.ForAdults}); err != nil {
			return unusable("Seat %d of class %d: %s", x.Number, x.Class, studio.ProblemIn(err).Text)
		}
	}
	return each(ctx, q, scanSeatWords, `SELECT `+seatWordsColumns+` FROM seat_words`, func(w studio.SeatWords) error {
		if p := studio.ProblemIn(w.Check(w.Recorded)); p != nil {
			return unusable("Words of seat %d: %s", w.Seat, p.Text)
		}
		return nil
	})
}

// SeatNews returns for each seat of a class a text that changes when something did that
// the seat's pages show.
func (s *Store) SeatNews(ctx context.Context, class int64) (map[int64]string, error) {
	type news struct {
		seat int64
		text string
	}
	all, err := list(ctx, s.read, func(r scanner) (n news, err error) { return n, r.Scan(&n.seat, &n.text) }, `
		SELECT s.id, coalesce(s.hand_at, '') || '/' || coalesce(s.name, '') || '/' || s.photos
			|| '/' || coalesce((SELECT max(e.id) FROM seat_swatch g JOIN treatment t ON t.swatch_number = g.swatch_number JOIN event e ON e.treatment_id = t.id WHERE g.seat_id = s.id), 0)
			|| '/' || coalesce((SELECT group_concat(swatch_number) FROM seat_swatch WHERE seat_id = s.id), '')
			|| '/' || (SELECT count(*) FROM seat_photo WHERE seat_id = s.id) || '/' || (SELECT count(*) FROM seat_words WHERE seat_id = s.id)
			|| '/' || coalesce((SELECT group_concat(c.sitting_id || coalesce(x.closed_at, '')) FROM class_sitting c JOIN sitting x ON x.id = c.sitting_id WHERE c.class_id = s.class_id), '')
		FROM seat s WHERE s.class_id = ?`, class)
	out := make(map[int64]string, len(all))
	for _, n := range all {
		out[n.seat] = n.text
	}
	return out, fault(err, "look for news of class %d", class)
}
