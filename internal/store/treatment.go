package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"aerugo/internal/studio"
)

// A TreatmentFilter chooses treatments; a field that is 0 does not narrow.
type TreatmentFilter struct {
	Set    int64 // id
	Swatch int64 // number
}

const selectTreatment = `SELECT t.id, t.swatch_number, w.set_id, t.faces, t.layer, t.over_state, t.version_id, t.steps, t.settings,
	t.run_order, t.replicate, t.blank, t.block FROM treatment t JOIN swatch w ON w.number = t.swatch_number JOIN swatch_set x ON x.id = w.set_id`

func scanTreatment(r scanner) (t studio.Treatment, err error) {
	var steps []stepDoc
	var settings []settingDoc
	err = r.Scan(&t.ID, &t.Swatch, &t.SetID, &t.Faces, &t.Layer, &t.Over, intoRef{&t.VersionID}, intoJSON{&steps}, intoJSON{&settings},
		&t.Order, &t.Replicate, &t.Blank, &t.Block)
	t.Steps, t.Settings = stepsOf(steps), settingsOf(settings)
	return t, err
}

// Treatments returns the chosen treatments in the order they were planned.
// Those of swatches in the bin are left out, unless the swatch is named; those
// of a set in the bin, unless the set or a swatch is named.
func (s *Store) Treatments(ctx context.Context, f TreatmentFilter) ([]studio.Treatment, error) {
	out, err := list(ctx, s.read, scanTreatment, selectTreatment+` WHERE (?1 = 0 OR w.set_id = ?1) AND (?2 = 0 OR t.swatch_number = ?2)
		AND (?2 <> 0 OR w.binned_at IS NULL) AND (?1 <> 0 OR ?2 <> 0 OR x.binned_at IS NULL) ORDER BY t.id`, f.Set, f.Swatch)
	return out, fault(err, "list treatments")
}

// Treatment returns one treatment.
func (s *Store) Treatment(ctx context.Context, id int64) (studio.Treatment, error) {
	t, err := scanTreatment(s.read.QueryRowContext(ctx, selectTreatment+` WHERE t.id = ?`, id))
	return t, found(err, "treatment", id)
}

// AddTreatment plans another treatment of a swatch that is there. A Layer of 0
// becomes the next one above what is on those faces.
func (s *Store) AddTreatment(ctx context.Context, t studio.Treatment) (studio.Treatment, error) {
	next := t.Layer == 0
	if next {
		t.Layer = 1
	}
	if err := checkTreatment(t); err != nil {
		return studio.Treatment{}, err
	}
	var id int64
	err := s.change(ctx, func(tx *sql.Tx) error {
		if _, err := number(ctx, tx, `SELECT number FROM swatch WHERE number = ?`, t.Swatch); errors.Is(err, sql.ErrNoRows) {
			return missing("swatch", t.Swatch)
		} else if err != nil {
			return err
		}
		there, err := list(ctx, tx, scanTreatment, selectTreatment+` WHERE t.swatch_number = ?`, t.Swatch)
		if err != nil {
			return err
		}
		for _, u := range there {
			if !overlap(t.Faces, u.Faces) {
				continue
			}
			if next {
				t.Layer = max(t.Layer, u.Layer+1)
			} else if t.Layer == u.Layer {
				return studio.Problemf(studio.Conflict, "layer", "Layer %d is on that face of swatch %d already; reload the page and plan the next one.", t.Layer, t.Swatch)
			}
		}
		id, err = insertTreatment(ctx, tx, t)
		return err
	})
	if err != nil {
		return studio.Treatment{}, fault(err, "add a treatment to swatch %d", t.Swatch)
	}
	return s.Treatment(ctx, id)
}

func insertTreatment(ctx context.Context, tx *sql.Tx, t studio.Treatment) (int64, error) {
	steps, err := asJSON(stepsToDoc(t.Steps))
	if err != nil {
		return 0, fmt.Errorf("write steps: %w", err)
	}
	settings, err := asJSON(settingsToDoc(t.Settings))
	if err != nil {
		return 0, fmt.Errorf("write settings: %w", err)
	}
	done, err := tx.ExecContext(ctx, `INSERT INTO treatment (swatch_number, faces, layer, over_state, version_id, steps, settings, run_order, replicate, blank, block)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, t.Swatch, t.Faces, t.Layer, t.Over, ref(t.VersionID), steps, settings, t.Order, t.Replicate, t.Blank, t.Block)
	if err != nil {
		return 0, fmt.Errorf("treatment of swatch %d: %w", t.Swatch, err)
	}
	return done.LastInsertId()
}

func checkTreatment(t studio.Treatment) error {
	switch t.Faces {
	case studio.OnFront, studio.OnBack, studio.OnBoth:
	default:
		return studio.Problemf(studio.Invalid, "faces", "Say whether it goes on the front, the back or both.")
	}
	if t.Layer < 1 || t.Layer > 50 {
		return studio.Problemf(studio.Invalid, "layer", "There can't be a layer %d; layers count from 1.", t.Layer)
	}
	switch t.Over {
	case "", studio.OverDry, studio.OverWet:
	default:
		return studio.Problemf(studio.Invalid, "over", "Say whether the patina below is dry or still wet when this one goes over it.")
	}
	for i, step := range t.Steps {
		if err := step.Check(i + 1); err != nil {
			return err
		}
	}
	return nil
}

// overlap reports whether two treatments touch a common face.
func overlap(a, b studio.Faces) bool {
	return a == studio.OnBoth || b == studio.OnBoth || a == b
}
