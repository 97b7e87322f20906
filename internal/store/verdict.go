package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const verdictColumns = `id, client, swatch_number, outcome, why, by, at, recorded_at`

func scanVerdict(r scanner) (v studio.Verdict, err error) {
	return v, r.Scan(&v.ID, &v.Client, &v.Swatch, &v.Outcome, &v.Why, &v.By, intoTime{&v.At}, intoTime{&v.Recorded})
}

// AddVerdict keeps a verdict on a piece beside those given before and returns it as
// kept. One whose Client key is there already is not kept a second time: the one that
// is there comes back. A swatch that is no piece of a batch gets none. Recorded is set
// to now.
func (s *Store) AddVerdict(ctx context.Context, v studio.Verdict) (studio.Verdict, error) {
	v.Recorded = s.now()
	if err := v.Check(v.Recorded); err != nil {
		return v, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanVerdict(tx.QueryRowContext(ctx, `SELECT `+verdictColumns+` FROM verdict WHERE client = ?`, v.Client))
		if err == nil {
			if there.Swatch != v.Swatch || there.Outcome != v.Outcome || there.Why != v.Why || there.By != v.By {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another verdict; reload the page and tap again.")
			}
			v = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		batch, err := number(ctx, tx, `SELECT coalesce(x.piece_id, 0) FROM swatch w JOIN swatch_set x ON x.id = w.set_id WHERE w.number = ?`, v.Swatch)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return missing("swatch", v.Swatch)
		case err != nil:
			return err
		case batch == 0:
			return studio.Problemf(studio.Conflict, "swatch", "Swatch %d is no piece of a batch; verdicts are given on pieces.", v.Swatch)
		}
		v, err = scanVerdict(tx.QueryRowContext(ctx, `INSERT INTO verdict (client, swatch_number, outcome, why, by, at, recorded_at)
			VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING `+verdictColumns, v.Client, v.Swatch, v.Outcome, v.Why, v.By, stamp(v.At), stamp(v.Recorded)))
		return err
	})
	if err != nil {
		return studio.Verdict{}, fault(err, "judge piece %d", v.Swatch)
	}
	return v, nil
}

// Verdicts returns every verdict on the pieces of a set that are not in the bin,
// older ones on the same piece too, in the order they were kept.
func (s *Store) Verdicts(ctx context.Context, set int64) ([]studio.Verdict, error) {
	out, err := list(ctx, s.read, scanVerdict, `SELECT `+verdictColumns+` FROM verdict
		WHERE swatch_number IN (SELECT number FROM swatch WHERE set_id = ? AND binned_at IS NULL) ORDER BY id`, set)
	return out, fault(err, "list verdicts of set %d", set)
}
