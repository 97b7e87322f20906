package store

import (
	"context"
	"database/sql"
	"errors"

	"aerugo/internal/studio"
)

const eventColumns = `id, treatment_id, client, kind, step, at, recorded_at, by, corrects, amount, room_c, room_rh, note`

func scanEvent(r scanner) (e studio.Event, err error) {
	var amount *amountDoc
	err = r.Scan(&e.ID, &e.Treatment, &e.Client, &e.Kind, &e.Step, intoTime{&e.At}, intoTime{&e.Recorded}, &e.By, intoRef{&e.Corrects},
		intoJSON{&amount}, &e.TempC, &e.RH, &e.Note)
	if amount != nil {
		a := amount.amount()
		e.Amount = &a
	}
	return e, err
}

// AddEvents keeps what happened, all of it or nothing, and returns it as kept,
// in the same order. An event whose Client key is there already is not kept a
// second time: the one that is there comes back. Recorded is set to now.
// Records are only ever added, also to swatches in the bin.
func (s *Store) AddEvents(ctx context.Context, events []studio.Event) ([]studio.Event, error) {
	now := s.now()
	for _, e := range events {
		if err := e.Check(now); err != nil {
			return nil, err
		}
	}
	kept := make([]studio.Event, len(events))
	err := s.change(ctx, func(tx *sql.Tx) error {
		for i, e := range events {
			e.Recorded = now
			var err error
			if kept[i], err = addEvent(ctx, tx, e); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, fault(err, "add %d events", len(events))
	}
	return kept, nil
}

func addEvent(ctx context.Context, tx *sql.Tx, e studio.Event) (studio.Event, error) {
	there, err := scanEvent(tx.QueryRowContext(ctx, `SELECT `+eventColumns+` FROM event WHERE client = ?`, e.Client))
	if err == nil {
		if there.Treatment != e.Treatment || there.Kind != e.Kind || there.Step != e.Step {
			return e, studio.Problemf(studio.Conflict, "client", "That tap's key was used for another record; reload the page and tap again.")
		}
		return there, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return e, err
	}
	if _, err := number(ctx, tx, `SELECT id FROM treatment WHERE id = ?`, e.Treatment); errors.Is(err, sql.ErrNoRows) {
		return e, missing("treatment", e.Treatment)
	} else if err != nil {
		return e, err
	}
	if e.Corrects != 0 {
		of, err := number(ctx, tx, `SELECT treatment_id FROM event WHERE id = ?`, e.Corrects)
		if errors.Is(err, sql.ErrNoRows) || (err == nil && of != e.Treatment) {
			return e, studio.Problemf(studio.Conflict, "corrects", "Record %d is not one of this treatment's; choose the record to correct again.", e.Corrects)
		}
		if err != nil {
			return e, err
		}
	}
	var amount any
	if e.Amount != nil {
		if amount, err = asJSON(amountDoc{e.Amount.Value, e.Amount.SD, string(e.Amount.Unit), e.Amount.Hand, e.Amount.Assumed}); err != nil {
			return e, err
		}
	}
	return scanEvent(tx.QueryRowContext(ctx, `INSERT INTO event (treatment_id, client, kind, step, at, recorded_at, by, corrects, amount, room_c, room_rh, note)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING `+eventColumns,
		e.Treatment, e.Client, e.Kind, e.Step, stamp(e.At), stamp(e.Recorded), e.By, ref(e.Corrects), amount, e.TempC, e.RH, e.Note))
}

// Events returns what happened to the treatments of these ids, each in order of
// time.
func (s *Store) Events(ctx context.Context, treatmentIDs []int64) (map[int64][]studio.Event, error) {
	out := make(map[int64][]studio.Event, len(treatmentIDs))
	if len(treatmentIDs) == 0 {
		return out, nil
	}
	ids, err := asJSON(treatmentIDs)
	if err != nil {
		return nil, err
	}
	events, err := list(ctx, s.read, scanEvent, `SELECT `+eventColumns+` FROM event
		WHERE treatment_id IN (SELECT value FROM json_each(?)) ORDER BY treatment_id, at, id`, ids)
	if err != nil {
		return nil, fault(err, "list events of %d treatments", len(treatmentIDs))
	}
	for _, e := range events {
		out[e.Treatment] = append(out[e.Treatment], e)
	}
	return out, nil
}
