package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"time"

	"aerugo/internal/studio"
)

const sittingColumns = `id, question, source, set_id, blind, measured, seed, by, made_at, closed_at`

func scanSitting(r scanner) (x studio.Sitting, err error) {
	var seed string
	if err = r.Scan(&x.ID, &x.Question, &x.From, intoRef{&x.Set}, &x.Blind, &x.Measured, &seed, &x.By, intoTime{&x.Made}, intoTime{&x.Closed}); err != nil {
		return x, err
	}
	if x.Seed, err = strconv.ParseUint(seed, 10, 64); err != nil {
		return x, fmt.Errorf("read seed of sitting %d: %w", x.ID, err)
	}
	return x, nil
}

// sittingFaces leaves out the faces of swatches in the bin; what was chosen about them
// stays.
const sittingFaces = `SELECT f.sitting_id, f.swatch_number, f.face FROM sitting_face f
	JOIN swatch w ON w.number = f.swatch_number JOIN swatch_set x ON x.id = w.set_id WHERE ` + listed

type sittingFace struct {
	sitting int64
	face    studio.FaceOf
}

func scanSittingFace(r scanner) (f sittingFace, err error) {
	return f, r.Scan(&f.sitting, &f.face.Swatch, &f.face.Face)
}

// AddSitting keeps a new sitting. A zero Made becomes now.
func (s *Store) AddSitting(ctx context.Context, x studio.Sitting) (studio.Sitting, error) {
	if err := x.Check(); err != nil {
		return x, err
	}
	if x.Made.IsZero() {
		x.Made = s.now()
	}
	faces := x.Faces
	err := s.change(ctx, func(tx *sql.Tx) (err error) {
		if err := mustBeThere(ctx, tx, "set", x.Set); err != nil {
			return err
		}
		if x, err = scanSitting(tx.QueryRowContext(ctx, `INSERT INTO sitting (question, source, set_id, blind, measured, seed, by, made_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+sittingColumns,
			x.Question, x.From, ref(x.Set), x.Blind, x.Measured, strconv.FormatUint(x.Seed, 10), x.By, stamp(x.Made))); err != nil {
			return err
		}
		for _, f := range faces {
			if _, err := number(ctx, tx, `SELECT number FROM swatch WHERE number = ?`, f.Swatch); errors.Is(err, sql.ErrNoRows) {
				return missing("swatch", f.Swatch)
			} else if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO sitting_face (sitting_id, swatch_number, face) VALUES (?, ?, ?)`, x.ID, f.Swatch, f.Face); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return studio.Sitting{}, fault(err, "add sitting")
	}
	x.Faces = faces
	return x, nil
}

// CloseSitting ends a sitting at a time, or opens it again with the zero time.
func (s *Store) CloseSitting(ctx context.Context, id int64, at time.Time) error {
	err := s.change(ctx, func(tx *sql.Tx) error {
		return changeOne(ctx, tx, "sitting", id, `UPDATE sitting SET closed_at = ? WHERE id = ?`, stamp(at), id)
	})
	return fault(err, "close or open sitting %d", id)
}

// Sitting returns one sitting. Faces of swatches in the bin are left out.
func (s *Store) Sitting(ctx context.Context, id int64) (x studio.Sitting, err error) {
	err = s.view(ctx, func(q querier) error {
		if x, err = scanSitting(q.QueryRowContext(ctx, `SELECT `+sittingColumns+` FROM sitting WHERE id = ?`, id)); err != nil {
			return err
		}
		faces, err := list(ctx, q, scanSittingFace, sittingFaces+` AND f.sitting_id = ? ORDER BY f.id`, id)
		for _, f := range faces {
			x.Faces = append(x.Faces, f.face)
		}
		return err
	})
	return x, found(err, "sitting", id)
}

// Sittings returns every sitting, newest first. Faces of swatches in the bin are left
// out.
func (s *Store) Sittings(ctx context.Context) (out []studio.Sitting, err error) {
	err = s.view(ctx, func(q querier) error {
		if out, err = list(ctx, q, scanSitting, `SELECT `+sittingColumns+` FROM sitting ORDER BY id DESC`); err != nil {
			return err
		}
		faces, err := list(ctx, q, scanSittingFace, sittingFaces+` ORDER BY f.id`)
		of := map[int64][]studio.FaceOf{}
		for _, f := range faces {
			of[f.sitting] = append(of[f.sitting], f.face)
		}
		for i := range out {
			out[i].Faces = of[out[i].ID]
		}
		return err
	})
	return out, fault(err, "list sittings")
}

const choiceColumns = `id, sitting_id, client, who, left_swatch, left_face, right_swatch, right_face, chosen, undoes, took_ms, at, recorded_at`

func scanChoice(r scanner) (c studio.Choice, err error) {
	var ms int64
	err = r.Scan(&c.ID, &c.Sitting, &c.Client, &c.Who, &c.Left.Swatch, &c.Left.Face, &c.Right.Swatch, &c.Right.Face, &c.Chosen, intoRef{&c.Undoes},
		&ms, intoTime{&c.At}, intoTime{&c.Recorded})
	c.Took = time.Duration(ms) * time.Millisecond
	return c, err
}

// AddChoice keeps a choice and returns it as kept. One whose Client key is there
// already is not kept a second time: the one that is there comes back. Recorded is set
// to now. Choices that were made before the sitting was closed are kept when they
// arrive later, as a phone without the network sends them.
func (s *Store) AddChoice(ctx context.Context, c studio.Choice) (studio.Choice, error) {
	c.Recorded = s.now()
	if err := c.Check(c.Recorded); err != nil {
		return c, err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		there, err := scanChoice(tx.QueryRowContext(ctx, `SELECT `+choiceColumns+` FROM choice WHERE client = ?`, c.Client))
		if err == nil {
			if there.Sitting != c.Sitting || there.Who != c.Who || there.Chosen != c.Chosen || there.Left != c.Left || there.Right != c.Right {
				return studio.Problemf(studio.Conflict, "client", "That tap's key was used for another choice; reload the page and tap again.")
			}
			c = there
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := mayChoose(ctx, tx, c); err != nil {
			return err
		}
		c, err = scanChoice(tx.QueryRowContext(ctx, `INSERT INTO choice (sitting_id, client, who, left_swatch, left_face, right_swatch, right_face, chosen, undoes, took_ms, at, recorded_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+choiceColumns,
			c.Sitting, c.Client, c.Who, c.Left.Swatch, c.Left.Face, c.Right.Swatch, c.Right.Face, c.Chosen, ref(c.Undoes), c.Took.Milliseconds(), stamp(c.At), stamp(c.Recorded)))
		return err
	})
	if err != nil {
		return studio.Choice{}, fault(err, "add a choice to sitting %d", c.Sitting)
	}
	return c, nil
}

// mayChoose reports a Problem when c does not belong to its sitting.
func mayChoose(ctx context.Context, tx *sql.Tx, c studio.Choice) error {
	x, err := scanSitting(tx.QueryRowContext(ctx, `SELECT `+sittingColumns+` FROM sitting WHERE id = ?`, c.Sitting))
	if err != nil {
		return found(err, "sitting", c.Sitting)
	}
	if !x.Closed.IsZero() && c.At.After(x.Closed) {
		return studio.Problemf(studio.Conflict, "", "This sitting was closed, so the choice is not kept. Open it again to go on choosing.")
	}
	for _, f := range []studio.FaceOf{c.Left, c.Right} {
		n, err := number(ctx, tx, `SELECT count(*) FROM sitting_face WHERE sitting_id = ? AND swatch_number = ? AND face = ?`, c.Sitting, f.Swatch, f.Face)
		if err != nil {
			return err
		}
		if n == 0 {
			return studio.Problemf(studio.Invalid, "left", "The %s of swatch %d is not among the faces of this sitting; reload the page and choose again.", f.Face, f.Swatch)
		}
	}
	if c.Undoes == 0 {
		return nil
	}
	of, err := scanChoice(tx.QueryRowContext(ctx, `SELECT `+choiceColumns+` FROM choice WHERE id = ?`, c.Undoes))
	if errors.Is(err, sql.ErrNoRows) || err == nil && (of.Sitting != c.Sitting || of.Who != c.Who || of.Chosen == studio.Undone) {
		return studio.Problemf(studio.Conflict, "of", "That choice is none that %s made here; reload the page.", c.Who)
	}
	return err
}

// ChoiceByClient returns the choice that came with a key; the Problem is of kind
// NotFound if there is none.
func (s *Store) ChoiceByClient(ctx context.Context, client string) (studio.Choice, error) {
	c, err := scanChoice(s.read.QueryRowContext(ctx, `SELECT `+choiceColumns+` FROM choice WHERE client = ?`, client))
	if errors.Is(err, sql.ErrNoRows) {
		return c, studio.Problemf(studio.NotFound, "of", "That choice is not here (yet), so it can't be taken back.")
	}
	return c, fault(err, "look for a choice")
}

// Choices returns every choice of a sitting, those taken back too, in the order they
// were kept.
func (s *Store) Choices(ctx context.Context, sitting int64) ([]studio.Choice, error) {
	out, err := list(ctx, s.read, scanChoice, `SELECT `+choiceColumns+` FROM choice WHERE sitting_id = ? ORDER BY id`, sitting)
	return out, fault(err, "list choices of sitting %d", sitting)
}
