package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const placeColumns = `id, client, parent_id, name, kind, rows, columns, note, made_at, closed_at, invented`

func scanPlace(r scanner) (p studio.Place, err error) {
	return p, r.Scan(&p.ID, &p.Client, intoRef{&p.Parent}, &p.Name, &p.Kind, &p.Rows, &p.Columns, &p.Note, intoTime{&p.Made}, intoTime{&p.Closed}, &p.Invented)
}

const swatchMoveColumns = `id, client, swatch_number, place_id, cell_row, cell_column, due_on, at, recorded_at, by, note`

func scanSwatchMove(r scanner) (m studio.SwatchMove, err error) {
	return m, r.Scan(&m.ID, &m.Client, &m.Swatch, intoRef{&m.Place}, &m.Row, &m.Column, intoDay{&m.Due}, intoTime{&m.At}, intoTime{&m.Recorded}, &m.By, &m.Note)
}

const roundColumns = `id, client, place_id, by, begun_at, ended_at`

func scanRound(r scanner) (x studio.Round, err error) {
	return x, r.Scan(&x.ID, &x.Client, &x.Place, &x.By, intoTime{&x.Begun}, intoTime{&x.Ended})
}

const sightingColumns = `id, client, round_id, swatch_number, by, at`

func scanSighting(r scanner) (x studio.Sighting, err error) {
	return x, r.Scan(&x.ID, &x.Client, &x.Round, &x.Swatch, &x.By, intoTime{&x.At})
}

// Places returns every place, closed ones too, in the order they were made.
func (s *Store) Places(ctx context.Context) ([]studio.Place, error) {
	out, err := list(ctx, s.read, scanPlace, `SELECT `+placeColumns+` FROM place ORDER BY id`)
	return out, fault(err, "list places")
}

// Place returns one place, also a closed one.
func (s *Store) Place(ctx context.Context, id int64) (studio.Place, error) {
	p, err := scanPlace(s.read.QueryRowContext(ctx, `SELECT `+placeColumns+` FROM place WHERE id = ?`, id))
	return p, found(err, "place", id)
}

// SavePlace keeps a place: a new one when its ID is 0, once for each Client key, else
// in place of what was kept. A zero Made becomes now. A place does not come to stand
// inside itself, and its grid is not made smaller than what stands in it.
func (s *Store) SavePlace(ctx context.Context, p studio.Place) (studio.Place, error) {
	if p.ID != 0 {
		was, err := s.Place(ctx, p.ID)
		if err != nil {
			return p, err
		}
		p.Client, p.Made, p.Invented = was.Client, was.Made, was.Invented
	}
	if err := p.Check(); err != nil {
		return p, err
	}
	if p.Made.IsZero() {
		p.Made = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if p.ID == 0 {
			there, err := scanPlace(tx.QueryRowContext(ctx, `SELECT `+placeColumns+` FROM place WHERE client = ?`, p.Client))
			if err == nil {
				p = there
				return nil
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
		}
		if err := mayStand(ctx, tx, p); err != nil {
			return err
		}
		var err error
		if p.ID == 0 {
			p, err = scanPlace(tx.QueryRowContext(ctx, `INSERT INTO place (client, parent_id, name, kind, rows, columns, note, made_at, closed_at, invented)
				VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+placeColumns,
				p.Client, ref(p.Parent), p.Name, p.Kind, p.Rows, p.Columns, p.Note, stamp(p.Made), stamp(p.Closed), p.Invented))
			return err
		}
		return changeOne(ctx, tx, "place", p.ID, `UPDATE place SET parent_id = ?, name = ?, kind = ?, rows = ?, columns = ?, note = ?, closed_at = ? WHERE id = ?`,
			ref(p.Parent), p.Name, p.Kind, p.Rows, p.Columns, p.Note, stamp(p.Closed), p.ID)
	})
	if err != nil {
		return studio.Place{}, fault(err, "save place %s", p.Name)
	}
	return s.Place(ctx, p.ID)
}

// standing says in SQL which moves count: the newest of each swatch.
const standing = `id IN (SELECT max(id) FROM swatch_move GROUP BY swatch_number)`

// standsInItself reports a Problem when going up from p leads back to it.
func standsInItself(ctx context.Context, tx *sql.Tx, p studio.Place) error {
	for up, seen := p.Parent, map[int64]bool{}; up != 0; {
		if up == p.ID || seen[up] {
			return studio.Problemf(studio.Conflict, "parent", "%s would stand inside itself; choose another place for it.", p.Name)
		}
		seen[up] = true
		of, err := scanPlace(tx.QueryRowContext(ctx, `SELECT `+placeColumns+` FROM place WHERE id = ?`, up))
		if err != nil {
			return found(err, "place", up)
		}
		up = of.Parent
	}
	return nil
}

// mayStand reports a Problem when the place can't be as p says.
func mayStand(ctx context.Context, tx *sql.Tx, p studio.Place) error {
	if err := standsInItself(ctx, tx, p); err != nil {
		return err
	}
	if p.ID == 0 {
		return nil
	}
	n, err := number(ctx, tx, `SELECT count(*) FROM swatch_move m JOIN swatch w ON w.number = m.swatch_number JOIN swatch_set x ON x.id = w.set_id
		WHERE m.`+standing+` AND m.place_id = ?1 AND `+listed+` AND (?2 OR m.cell_row > ?3 OR m.cell_column > ?4)`, p.ID, !p.Closed.IsZero(), p.Rows, p.Columns)
	if err != nil {
		return err
	}
	if n > 0 && !p.Closed.IsZero() {
		return studio.Problemf(studio.Conflict, "closed", "There are still %d swatches in %s; put them elsewhere first.", n, p.Name)
	}
	if n > 0 {
		return studio.Problemf(studio.Conflict, "rows", "A grid of %d rows and %d columns leaves out %d swatches that stand in %s; move them first.", p.Rows, p.Columns, n, p.Name)
	}
	return nil
}

// AddSwatchMoves keeps where swatches were put, all or none, and returns them as kept.
// One whose Client key is there already is not kept a second time. Recorded is set to
// now.
func (s *Store) AddSwatchMoves(ctx context.Context, moves []studio.SwatchMove) ([]studio.SwatchMove, error) {
	out := make([]studio.SwatchMove, len(moves))
	now := s.now()
	err := s.change(ctx, func(tx *sql.Tx) error {
		for i, m := range moves {
			m.Recorded = now
			if err := m.Check(now); err != nil {
				return err
			}
			there, err := scanSwatchMove(tx.QueryRowContext(ctx, `SELECT `+swatchMoveColumns+` FROM swatch_move WHERE client = ?`, m.Client))
			if err == nil {
				if there.Swatch != m.Swatch || there.Place != m.Place {
					return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another move; reload the page and tap again.")
				}
				out[i] = there
				continue
			}
			if !errors.Is(err, sql.ErrNoRows) {
				return err
			}
			if err := mayMove(ctx, tx, m); err != nil {
				return err
			}
			if out[i], err = scanSwatchMove(tx.QueryRowContext(ctx, `INSERT INTO swatch_move (client, swatch_number, place_id, cell_row, cell_column, due_on, at, recorded_at, by, note)
				VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+swatchMoveColumns,
				m.Client, m.Swatch, ref(m.Place), m.Row, m.Column, day(m.Due), stamp(m.At), stamp(m.Recorded), m.By, m.Note)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, fault(err, "put swatches away")
	}
	return out, nil
}

// mayMove reports a Problem when the swatch can't be put there.
func mayMove(ctx context.Context, tx *sql.Tx, m studio.SwatchMove) error {
	if err := needs(ctx, tx, "swatch", m.Swatch); err != nil {
		return err
	}
	if m.Place == 0 {
		if m.Row != 0 || !m.Due.IsZero() {
			return studio.Problemf(studio.Invalid, "place", "A cell or a day needs a place; choose one.")
		}
		return nil
	}
	p, err := scanPlace(tx.QueryRowContext(ctx, `SELECT `+placeColumns+` FROM place WHERE id = ?`, m.Place))
	if err != nil {
		return found(err, "place", m.Place)
	}
	switch {
	case !p.Closed.IsZero():
		return studio.Problemf(studio.Conflict, "place", "%s is not in use any more; choose another place.", p.Name)
	case m.Row > p.Rows || m.Column > p.Columns:
		return studio.Problemf(studio.Invalid, "cell", "%s has no cell %s; it has %d rows and %d columns.", p.Name, studio.Cell(m.Row, m.Column), p.Rows, p.Columns)
	case !m.Due.IsZero() && p.Kind != studio.Lent:
		return studio.Problemf(studio.Invalid, "due", "Only what is lent has a day to be back; leave it empty for %s.", p.Name)
	}
	return nil
}

// WhereSwatches returns the move that counts of each swatch that is not in the bin and
// has a place.
func (s *Store) WhereSwatches(ctx context.Context) (map[int64]studio.SwatchMove, error) {
	all, err := list(ctx, s.read, scanSwatchMove, `SELECT `+swatchMoveColumns+` FROM swatch_move m WHERE m.`+standing+` AND m.place_id IS NOT NULL
		AND m.swatch_number IN (SELECT w.number FROM swatch w JOIN swatch_set x ON x.id = w.set_id WHERE `+listed+`)`)
	out := make(map[int64]studio.SwatchMove, len(all))
	for _, m := range all {
		out[m.Swatch] = m
	}
	return out, fault(err, "look where swatches are")
}

// MovesOf returns where a swatch was put, the newest first.
func (s *Store) MovesOf(ctx context.Context, swatch int64) ([]studio.SwatchMove, error) {
	out, err := list(ctx, s.read, scanSwatchMove, `SELECT `+swatchMoveColumns+` FROM swatch_move WHERE swatch_number = ? ORDER BY id DESC`, swatch)
	return out, fault(err, "list places of swatch %d", swatch)
}

// AddRound begins a round through a place, once for each Client key. A zero Begun
// becomes now.
func (s *Store) AddRound(ctx context.Context, x studio.Round) (studio.Round, error) {
	if err := x.Check(); err != nil {
		return x, err
	}
	if x.Begun.IsZero() {
		x.Begun = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanRound(tx.QueryRowContext(ctx, `SELECT `+roundColumns+` FROM place_round WHERE client = ?`, x.Client))
		if err == nil {
			x = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := needs(ctx, tx, "place", x.Place); err != nil {
			return err
		}
		x, err = scanRound(tx.QueryRowContext(ctx, `INSERT INTO place_round (client, place_id, by, begun_at, ended_at) VALUES (?, ?, ?, ?, NULL) RETURNING `+roundColumns,
			x.Client, x.Place, x.By, stamp(x.Begun)))
		return err
	})
	return x, fault(err, "begin a round through place %d", x.Place)
}

// EndRound says that a round is over. One that is over stays as it ended.
func (s *Store) EndRound(ctx context.Context, id int64) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "round", id, `UPDATE place_round SET ended_at = coalesce(ended_at, ?) WHERE id = ?`, stamp(s.now()), id)
	})
	return fault(err, "end round %d", id)
}

// Round returns one round.
func (s *Store) Round(ctx context.Context, id int64) (studio.Round, error) {
	x, err := scanRound(s.read.QueryRowContext(ctx, `SELECT `+roundColumns+` FROM place_round WHERE id = ?`, id))
	return x, found(err, "round", id)
}

// Rounds returns every round, the newest first.
func (s *Store) Rounds(ctx context.Context) ([]studio.Round, error) {
	out, err := list(ctx, s.read, scanRound, `SELECT `+roundColumns+` FROM place_round ORDER BY id DESC`)
	return out, fault(err, "list rounds")
}

// AddSighting keeps that a swatch was seen in a round, once for each Client key. A
// zero At becomes now.
func (s *Store) AddSighting(ctx context.Context, x studio.Sighting) (studio.Sighting, error) {
	if err := x.Check(); err != nil {
		return x, err
	}
	if x.At.IsZero() {
		x.At = s.now()
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanSighting(tx.QueryRowContext(ctx, `SELECT `+sightingColumns+` FROM sighting WHERE client = ?`, x.Client))
		if err == nil {
			if there.Round != x.Round || there.Swatch != x.Swatch {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another swatch; reload the page and tap again.")
			}
			x = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		of, err := scanRound(tx.QueryRowContext(ctx, `SELECT `+roundColumns+` FROM place_round WHERE id = ?`, x.Round))
		if err != nil {
			return found(err, "round", x.Round)
		}
		if !of.Ended.IsZero() {
			return studio.Problemf(studio.Conflict, "round", "That round is over; begin another.")
		}
		if err := needs(ctx, tx, "swatch", x.Swatch); err != nil {
			return err
		}
		x, err = scanSighting(tx.QueryRowContext(ctx, `INSERT INTO sighting (client, round_id, swatch_number, by, at) VALUES (?, ?, ?, ?, ?) RETURNING `+sightingColumns,
			x.Client, x.Round, x.Swatch, x.By, stamp(x.At)))
		return err
	})
	return x, fault(err, "tick off swatch %d", x.Swatch)
}

// Sightings returns what was seen in a round, in order.
func (s *Store) Sightings(ctx context.Context, round int64) ([]studio.Sighting, error) {
	out, err := list(ctx, s.read, scanSighting, `SELECT `+sightingColumns+` FROM sighting WHERE round_id = ? ORDER BY id`, round)
	return out, fault(err, "list what round %d saw", round)
}

// usesPlace is what a person keeps in an invented place, in SQL: swatches, or a place
// of their own.
const usesPlace = `EXISTS (SELECT 1 FROM swatch_move WHERE place_id = place.id) OR EXISTS (SELECT 1 FROM place inner_place WHERE inner_place.parent_id = place.id AND NOT inner_place.invented)`

// checkPlaces holds what an archive says of places to the rules of what is entered.
func checkPlaces(ctx context.Context, tx *sql.Tx) error {
	if err := each(ctx, tx, scanPlace, `SELECT `+placeColumns+` FROM place`, func(p studio.Place) error {
		if err := p.Check(); err != nil {
			return unusable("The place %d can't be used: %v", p.ID, err)
		}
		if err := standsInItself(ctx, tx, p); err != nil {
			return unusable("The place %d can't be used: %v", p.ID, err)
		}
		return nil
	}); err != nil {
		return err
	}
	if err := each(ctx, tx, scanSwatchMove, `SELECT `+swatchMoveColumns+` FROM swatch_move`, func(m studio.SwatchMove) error {
		if err := m.Check(m.Recorded); err != nil {
			return unusable("The move %d of a swatch can't be used: %v", m.ID, err)
		}
		return nil
	}); err != nil {
		return err
	}
	if err := each(ctx, tx, scanRound, `SELECT `+roundColumns+` FROM place_round`, func(x studio.Round) error {
		if err := x.Check(); err != nil {
			return unusable("The round %d can't be used: %v", x.ID, err)
		}
		return nil
	}); err != nil {
		return err
	}
	return each(ctx, tx, scanSighting, `SELECT `+sightingColumns+` FROM sighting`, func(x studio.Sighting) error {
		if err := x.Check(); err != nil {
			return unusable("The sighting %d can't be used: %v", x.ID, err)
		}
		return nil
	})
}
