package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const scoreColumns = `id, client, swatch_number, face, aspect, value, who, at, recorded_at`

func scanScore(r scanner) (x studio.Score, err error) {
	return x, r.Scan(&x.ID, &x.Client, &x.Face.Swatch, &x.Face.Face, &x.Of, &x.Value, &x.Who, intoTime{&x.At}, intoTime{&x.Recorded})
}

// AddScore keeps a score beside those given before and returns it as kept. One whose
// Client key is there already is not kept a second time: the one that is there comes
// back. Recorded is set to now.
func (s *Store) AddScore(ctx context.Context, x studio.Score) (studio.Score, error) {
	x.Recorded = s.now()
	if err := x.Check(x.Recorded); err != nil {
		return x, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanScore(tx.QueryRowContext(ctx, `SELECT `+scoreColumns+` FROM score WHERE client = ?`, x.Client))
		if err == nil {
			if there.Face != x.Face || there.Of != x.Of || there.Value != x.Value || there.Who != x.Who {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another score; reload the page and tap again.")
			}
			x = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if _, err := number(ctx, tx, `SELECT number FROM swatch WHERE number = ?`, x.Face.Swatch); errors.Is(err, sql.ErrNoRows) {
			return missing("swatch", x.Face.Swatch)
		} else if err != nil {
			return err
		}
		x, err = scanScore(tx.QueryRowContext(ctx, `INSERT INTO score (client, swatch_number, face, aspect, value, who, at, recorded_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+scoreColumns, x.Client, x.Face.Swatch, x.Face.Face, x.Of, x.Value, x.Who, stamp(x.At), stamp(x.Recorded)))
		return err
	})
	if err != nil {
		return studio.Score{}, fault(err, "score swatch %d", x.Face.Swatch)
	}
	return x, nil
}

// ScoresOf returns every score of a swatch, older ones of the same person too, in the
// order they were kept.
func (s *Store) ScoresOf(ctx context.Context, swatch int64) ([]studio.Score, error) {
	out, err := list(ctx, s.read, scanScore, `SELECT `+scoreColumns+` FROM score WHERE swatch_number = ? ORDER BY id`, swatch)
	return out, fault(err, "list scores of swatch %d", swatch)
}

// ScoresOfSet returns every score of a set's swatches that are not in the bin, in the
// order they were kept.
func (s *Store) ScoresOfSet(ctx context.Context, set int64) ([]studio.Score, error) {
	out, err := list(ctx, s.read, scanScore, `SELECT `+scoreColumns+` FROM score
		WHERE swatch_number IN (SELECT number FROM swatch WHERE set_id = ? AND binned_at IS NULL) ORDER BY id`, set)
	return out, fault(err, "list scores of set %d", set)
}
