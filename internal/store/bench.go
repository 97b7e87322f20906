package store

import (
	"context"
	"database/sql"

	"aerugo/internal/studio"
)

const metalColumns = `id, name, alloy, temper, thickness_mm, gauge_words, lot, note, invented, binned_at`

func scanMetal(r scanner) (m studio.Metal, err error) {
	return m, r.Scan(&m.ID, &m.Name, &m.Alloy, &m.Temper, &m.ThicknessMM, &m.GaugeWords, &m.Lot, &m.Note, &m.Invented, intoTime{&m.BinnedAt})
}

// Metals returns the metals that are not in the bin, by name.
func (s *Store) Metals(ctx context.Context) ([]studio.Metal, error) {
	out, err := list(ctx, s.read, scanMetal, `SELECT `+metalColumns+` FROM metal WHERE binned_at IS NULL ORDER BY name, id`)
	return out, fault(err, "list metals")
}

// Metal returns one metal, also from the bin.
func (s *Store) Metal(ctx context.Context, id int64) (studio.Metal, error) {
	m, err := scanMetal(s.read.QueryRowContext(ctx, `SELECT `+metalColumns+` FROM metal WHERE id = ?`, id))
	return m, found(err, "metal", id)
}

// SaveMetal keeps m: as a new metal if its ID is 0, else over the one it names.
// Whether it is in the bin does not change.
func (s *Store) SaveMetal(ctx context.Context, m studio.Metal) (studio.Metal, error) {
	if err := m.Check(); err != nil {
		return studio.Metal{}, err
	}
	id, err := s.save(ctx, "metal", m.ID,
		`INSERT INTO metal (name, alloy, temper, thickness_mm, gauge_words, lot, note, invented) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
		`UPDATE metal SET name = ?, alloy = ?, temper = ?, thickness_mm = ?, gauge_words = ?, lot = ?, note = ?, invented = ? WHERE id = ?`,
		m.Name, m.Alloy, m.Temper, m.ThicknessMM, m.GaugeWords, m.Lot, m.Note, m.Invented)
	if err != nil {
		return studio.Metal{}, err
	}
	return s.Metal(ctx, id)
}

const supplyColumns = `id, name, material, strength, strength_unit, lot, opened_on, expires_on, note, invented, binned_at`

func scanSupply(r scanner) (x studio.Supply, err error) {
	return x, r.Scan(&x.ID, &x.Name, &x.Material, &x.Strength, &x.StrengthUnit, &x.Lot, intoDay{&x.Opened}, intoDay{&x.Expires},
		&x.Note, &x.Invented, intoTime{&x.BinnedAt})
}

// Supplies returns the supplies that are not in the bin, by name. Opened and
// Expires are midnight of that day in this machine's zone.
func (s *Store) Supplies(ctx context.Context) ([]studio.Supply, error) {
	out, err := list(ctx, s.read, scanSupply, `SELECT `+supplyColumns+` FROM supply WHERE binned_at IS NULL ORDER BY name, id`)
	return out, fault(err, "list supplies")
}

// Supply returns one supply, also from the bin.
func (s *Store) Supply(ctx context.Context, id int64) (studio.Supply, error) {
	x, err := scanSupply(s.read.QueryRowContext(ctx, `SELECT `+supplyColumns+` FROM supply WHERE id = ?`, id))
	return x, found(err, "supply", id)
}

// SaveSupply keeps x: as a new supply if its ID is 0, else over the one it
// names. Of Opened and Expires the day is kept, as their own zone shows it.
func (s *Store) SaveSupply(ctx context.Context, x studio.Supply) (studio.Supply, error) {
	if err := x.Check(); err != nil {
		return studio.Supply{}, err
	}
	id, err := s.save(ctx, "supply", x.ID,
		`INSERT INTO supply (name, material, strength, strength_unit, lot, opened_on, expires_on, note, invented) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		`UPDATE supply SET name = ?, material = ?, strength = ?, strength_unit = ?, lot = ?, opened_on = ?, expires_on = ?, note = ?, invented = ? WHERE id = ?`,
		x.Name, x.Material, x.Strength, x.StrengthUnit, x.Lot, day(x.Opened), day(x.Expires), x.Note, x.Invented)
	if err != nil {
		return studio.Supply{}, err
	}
	return s.Supply(ctx, id)
}

const chamberColumns = `id, name, volume_l, pad, pad_ml, gap_mm, tilt_deg, places, leak_per_h, open_loss, room_id, inner_length_mm, inner_width_mm, inner_height_mm, note, invented, binned_at`

func scanChamber(r scanner) (c studio.Chamber, err error) {
	return c, r.Scan(&c.ID, &c.Name, &c.VolumeL, &c.Pad, &c.PadML, &c.GapMM, &c.TiltDeg, &c.Places, &c.LeakPerH, &c.OpenLoss, intoRef{&c.RoomID}, &c.LengthMM, &c.WidthMM, &c.HeightMM, &c.Note, &c.Invented, intoTime{&c.BinnedAt})
}

// Chambers returns the chambers that are not in the bin, by name.
func (s *Store) Chambers(ctx context.Context) ([]studio.Chamber, error) {
	out, err := list(ctx, s.read, scanChamber, `SELECT `+chamberColumns+` FROM chamber WHERE binned_at IS NULL ORDER BY name, id`)
	return out, fault(err, "list chambers")
}

// Chamber returns one chamber, also from the bin.
func (s *Store) Chamber(ctx context.Context, id int64) (studio.Chamber, error) {
	c, err := scanChamber(s.read.QueryRowContext(ctx, `SELECT `+chamberColumns+` FROM chamber WHERE id = ?`, id))
	return c, found(err, "chamber", id)
}

// SaveChamber keeps c: as a new chamber if its ID is 0, else over the one it names.
func (s *Store) SaveChamber(ctx context.Context, c studio.Chamber) (studio.Chamber, error) {
	if err := c.Check(); err != nil {
		return studio.Chamber{}, err
	}
	id, err := s.save(ctx, "chamber", c.ID,
		`INSERT INTO chamber (name, volume_l, pad, pad_ml, gap_mm, tilt_deg, places, leak_per_h, open_loss, room_id, inner_length_mm, inner_width_mm, inner_height_mm, note, invented) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		`UPDATE chamber SET name = ?, volume_l = ?, pad = ?, pad_ml = ?, gap_mm = ?, tilt_deg = ?, places = ?, leak_per_h = ?, open_loss = ?, room_id = ?, inner_length_mm = ?, inner_width_mm = ?, inner_height_mm = ?, note = ?, invented = ? WHERE id = ?`,
		c.Name, c.VolumeL, c.Pad, c.PadML, c.GapMM, c.TiltDeg, c.Places, c.LeakPerH, c.OpenLoss, ref(c.RoomID), c.LengthMM, c.WidthMM, c.HeightMM, c.Note, c.Invented)
	if err != nil {
		return studio.Chamber{}, err
	}
	return s.Chamber(ctx, id)
}

// save inserts a row if id is 0, else updates the one with that id, and returns its id.
func (s *Store) save(ctx context.Context, what string, id int64, insert, update string, values ...any) (int64, error) {
	err := s.change(ctx, func(tx *sql.Tx) error {
		if id == 0 {
			done, err := tx.ExecContext(ctx, insert, values...)
			if err != nil {
				return err
			}
			id, err = done.LastInsertId()
			return err
		}
		return changeOne(ctx, tx, what, id, update, append(values, id)...)
	})
	return id, fault(err, "save %s %d", what, id)
}

// changeOne runs a statement that must touch exactly the row of that id.
func changeOne(ctx context.Context, tx *sql.Tx, what string, id int64, query string, args ...any) error {
	done, err := tx.ExecContext(ctx, query, args...)
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil {
		return err
	} else if n == 0 {
		return missing(what, id)
	}
	return nil
}

const handColumns = `id, word, material, mean, sd, unit, weighings`

func scanHand(r scanner) (h studio.HandAmount, err error) {
	return h, r.Scan(&h.ID, &h.Word, &h.Material, &h.Mean, &h.SD, &h.Unit, &h.N)
}

// HandAmounts returns what the hand words weigh, by material and then from
// light to heavy. A new studio holds assumed ones (common practice, no source).
func (s *Store) HandAmounts(ctx context.Context) ([]studio.HandAmount, error) {
	out, err := list(ctx, s.read, scanHand, `SELECT `+handColumns+` FROM hand_amount
		ORDER BY material, CASE word WHEN 'light' THEN 0 WHEN 'medium' THEN 1 ELSE 2 END`)
	return out, fault(err, "list hand amounts")
}

// SaveHandAmount keeps h in place of what its word meant with its material.
func (s *Store) SaveHandAmount(ctx context.Context, h studio.HandAmount) error {
	if err := checkHand(h); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO hand_amount (word, material, mean, sd, unit, weighings) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (word, material) DO UPDATE SET mean = excluded.mean, sd = excluded.sd, unit = excluded.unit, weighings = excluded.weighings`,
			h.Word, h.Material, h.Mean, h.SD, h.Unit, h.N)
		return err
	})
	return fault(err, "save hand amount %s of %s", h.Word, h.Material)
}

func checkHand(h studio.HandAmount) error {
	known := false
	for _, w := range studio.HandWords {
		known = known || w == h.Word
	}
	if !known {
		return studio.Problemf(studio.Invalid, "word", "%q is not a hand word; write light, medium or heavy.", h.Word)
	}
	if !(h.Mean > 0) {
		return studio.Problemf(studio.Invalid, "mean", "%q can't weigh %v; write a number above 0.", h.Word, h.Mean)
	}
	if h.N < 0 {
		return studio.Problemf(studio.Invalid, "weighings", "There can't be %d weighings.", h.N)
	}
	return studio.Amount{Value: h.Mean, SD: h.SD, Unit: h.Unit, Hand: h.Word}.Check("mean")
}
