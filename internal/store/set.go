package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"

	"aerugo/internal/studio"
)

// A NewSwatch is a swatch to be made, with the treatments planned for it. Its
// number, its set and the swatch its treatments name are filled in when it is kept.
type NewSwatch struct {
	Swatch     studio.Swatch
	Treatments []studio.Treatment
}

const setColumns = `id, name, question, shape, factors, replicates, blanks, seed, metal_id, width_mm, height_mm, chamber_id,
	front_id, back_id, same_faces, made_at, invented, binned_at, class, room_id, design, piece_id`

func scanSet(r scanner) (x studio.Set, err error) {
	var factors []factorDoc
	var seed string
	err = r.Scan(&x.ID, &x.Name, &x.Question, &x.Shape, intoJSON{&factors}, &x.Replicates, &x.Blanks, &seed, intoRef{&x.MetalID},
		&x.WidthMM, &x.HeightMM, intoRef{&x.ChamberID}, intoRef{&x.FrontID}, intoRef{&x.BackID}, &x.SameFaces,
		intoTime{&x.Made}, &x.Invented, intoTime{&x.BinnedAt}, &x.Class, intoRef{&x.RoomID}, &x.Design, intoRef{&x.PieceID})
	if err != nil {
		return x, err
	}
	x.Factors = factorsOf(factors)
	if x.Seed, err = strconv.ParseUint(seed, 10, 64); err != nil {
		return x, fmt.Errorf("read seed of set %d: %w", x.ID, err)
	}
	return x, nil
}

// Sets returns the sets that are not in the bin, oldest first.
func (s *Store) Sets(ctx context.Context) ([]studio.Set, error) {
	out, err := list(ctx, s.read, scanSet, `SELECT `+setColumns+` FROM swatch_set WHERE binned_at IS NULL ORDER BY id`)
	return out, fault(err, "list sets")
}

// Set returns one set, also from the bin.
func (s *Store) Set(ctx context.Context, id int64) (studio.Set, error) {
	x, err := scanSet(s.read.QueryRowContext(ctx, `SELECT `+setColumns+` FROM swatch_set WHERE id = ?`, id))
	return x, found(err, "set", id)
}

// AddSet keeps a set with its swatches and what is planned for them, all or
// nothing, and returns them as kept, the swatches in the order given. Numbers
// come from a counter that never goes back. Zero Made times become now.
func (s *Store) AddSet(ctx context.Context, set studio.Set, pieces []NewSwatch) (studio.Set, []studio.Swatch, error) {
	if err := checkSet(set, pieces); err != nil {
		return studio.Set{}, nil, err
	}
	factors, err := asJSON(factorsToDoc(set.Factors))
	if err != nil {
		return studio.Set{}, nil, fmt.Errorf("write factors of set %s: %w", set.Name, err)
	}
	if set.Made.IsZero() {
		set.Made = s.now()
	}
	var swatches []studio.Swatch
	err = s.change(ctx, func(tx *sql.Tx) error {
		done, err := tx.ExecContext(ctx, `INSERT INTO swatch_set (name, question, shape, factors, replicates, blanks, seed, metal_id,
			width_mm, height_mm, chamber_id, front_id, back_id, same_faces, made_at, invented, class, room_id, design, piece_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			set.Name, set.Question, set.Shape, factors, set.Replicates, set.Blanks, strconv.FormatUint(set.Seed, 10), ref(set.MetalID),
			set.WidthMM, set.HeightMM, ref(set.ChamberID), ref(set.FrontID), ref(set.BackID), set.SameFaces, stamp(set.Made), set.Invented, set.Class, ref(set.RoomID), set.Design, ref(set.PieceID))
		if err != nil {
			return err
		}
		if set.ID, err = done.LastInsertId(); err != nil {
			return err
		}
		next, err := number(ctx, tx, `UPDATE counter SET next = next + ? WHERE name = 'swatch' RETURNING next`, len(pieces))
		if err != nil {
			return err
		}
		next -= int64(len(pieces))
		for i, p := range pieces {
			w := p.Swatch
			w.Number, w.SetID = next+int64(i), set.ID
			if w.Made.IsZero() {
				w.Made = set.Made
			}
			if _, err := tx.ExecContext(ctx, `INSERT INTO swatch (number, set_id, metal_id, width_mm, height_mm, blank, note, made_at, outside_mm2, inside_mm2) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				w.Number, w.SetID, ref(w.MetalID), w.WidthMM, w.HeightMM, w.Blank, w.Note, stamp(w.Made), w.OutsideMM2, w.InsideMM2); err != nil {
				return fmt.Errorf("swatch %d of %d: %w", i+1, len(pieces), err)
			}
			for _, t := range p.Treatments {
				t.Swatch = w.Number
				if _, err := insertTreatment(ctx, tx, t); err != nil {
					return err
				}
			}
		}
		swatches, err = list(ctx, tx, scanSwatch, selectSwatch+` WHERE w.set_id = ? ORDER BY w.number`, set.ID)
		return err
	})
	if err != nil {
		return studio.Set{}, nil, fault(err, "add set %s", set.Name)
	}
	set, err = s.Set(ctx, set.ID)
	return set, swatches, err
}

// SaveSetPlace keeps for whom a set is made and where, in place of what was said.
func (s *Store) SaveSetPlace(ctx context.Context, id int64, class studio.ClassOf, room int64) error {
	if err := class.Check(); err != nil {
		return err
	}
	err := s.change(ctx, func(tx *sql.Tx) error {
		if err := mustBeThere(ctx, tx, "room", room); err != nil {
			return err
		}
		return changeOne(ctx, tx, "set", id, `UPDATE swatch_set SET class = ?, room_id = ? WHERE id = ?`, class, ref(room), id)
	})
	return fault(err, "save place of set %d", id)
}

func checkSet(set studio.Set, pieces []NewSwatch) error {
	if err := set.Class.Check(); err != nil {
		return err
	}
	if err := checkName(set.Name, "set"); err != nil {
		return err
	}
	switch set.Shape {
	case studio.Ladder, studio.Grid, studio.Loose:
	default:
		return studio.Problemf(studio.Invalid, "shape", "%q is not a kind of set; choose ladder, grid or loose.", string(set.Shape))
	}
	if !set.Design.Known() {
		return studio.Problemf(studio.Invalid, "design", "%q is not a way to choose settings known here.", string(set.Design))
	}
	if len(pieces) == 0 {
		return studio.Problemf(studio.Invalid, "swatches", "A set needs at least one swatch.")
	}
	if len(pieces) > 1000 {
		return studio.Problemf(studio.Invalid, "swatches", "%d swatches are too many for one set; 1000 are the most.", len(pieces))
	}
	for _, p := range pieces {
		if !(p.Swatch.WidthMM > 0) || !(p.Swatch.HeightMM > 0) {
			return studio.Problemf(studio.Invalid, "size", "A swatch of %v × %v mm can't be cut; write its width and height in mm.", p.Swatch.WidthMM, p.Swatch.HeightMM)
		}
		for i, t := range p.Treatments {
			if err := checkTreatment(t); err != nil {
				return err
			}
			for _, u := range p.Treatments[:i] {
				if t.Layer == u.Layer && overlap(t.Faces, u.Faces) {
					return studio.Problemf(studio.Invalid, "faces", "Two treatments of one swatch share a face and a layer; give the later one the next layer.")
				}
			}
		}
	}
	return nil
}
