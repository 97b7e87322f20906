package store

import (
	"context"
	"database/sql"

	"aerugo/internal/studio"
)

const selectSwatch = `SELECT w.number, w.set_id, w.metal_id, w.width_mm, w.height_mm, w.blank, w.note, w.made_at, w.binned_at, w.outside_mm2, w.inside_mm2
	FROM swatch w JOIN swatch_set x ON x.id = w.set_id`

// listed says in SQL that neither the swatch w nor its set x is in the bin.
const listed = `w.binned_at IS NULL AND x.binned_at IS NULL`

func scanSwatch(r scanner) (w studio.Swatch, err error) {
	return w, r.Scan(&w.Number, &w.SetID, intoRef{&w.MetalID}, &w.WidthMM, &w.HeightMM, &w.Blank, &w.Note, intoTime{&w.Made}, intoTime{&w.BinnedAt}, &w.OutsideMM2, &w.InsideMM2)
}

// Swatches returns the swatches that are not in the bin, nor their sets, by number.
func (s *Store) Swatches(ctx context.Context) ([]studio.Swatch, error) {
	out, err := list(ctx, s.read, scanSwatch, selectSwatch+` WHERE `+listed+` ORDER BY w.number`)
	return out, fault(err, "list swatches")
}

// SwatchesOf returns the swatches of a set that are not in the bin, by number.
func (s *Store) SwatchesOf(ctx context.Context, setID int64) ([]studio.Swatch, error) {
	out, err := list(ctx, s.read, scanSwatch, selectSwatch+` WHERE w.set_id = ? AND w.binned_at IS NULL ORDER BY w.number`, setID)
	return out, fault(err, "list swatches of set %d", setID)
}

// Swatch returns one swatch, also from the bin.
func (s *Store) Swatch(ctx context.Context, number int64) (studio.Swatch, error) {
	w, err := scanSwatch(s.read.QueryRowContext(ctx, selectSwatch+` WHERE w.number = ?`, number))
	return w, found(err, "swatch", number)
}

// UpdateSwatchNote writes another note on a swatch.
func (s *Store) UpdateSwatchNote(ctx context.Context, number int64, note string) error {
	if len(note) > 4000 {
		return studio.Problemf(studio.Invalid, "note", "The note has %d characters; 4000 are the most.", len(note))
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "swatch", number, `UPDATE swatch SET note = ? WHERE number = ?`, note, number)
	})
	return fault(err, "note swatch %d", number)
}
